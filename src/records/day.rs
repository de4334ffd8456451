//! Days: the only kind of time a grower's record needs.
//!
//! [`Day`] is strict (`2026-03-01` and nothing else) and knows no clock; [`Day::read`] takes the
//! short forms that a person types and needs to be told what today is.

use std::fmt;
use std::str::FromStr;

use chrono::{Datelike, Days, NaiveDate, Weekday};

/// A calendar day between 1900 and 2199.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day(NaiveDate);

/// Why a text is no day.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DayError {
    /// Not written as a day.
    #[error("'{0}' is not a date; write 2026-03-01, today, yesterday, 3d (days ago), sun or 12mar")]
    Unreadable(String),
    /// Slashes mean different days in different countries.
    #[error("'{typed}' could be read two ways; write the date as year-month-day, e.g. {example}")]
    Slashes {
        /// What was typed.
        typed: String,
        /// A date in the form that is understood.
        example: String,
    },
    /// No such day in the calendar.
    #[error("'{0}' is not in the calendar")]
    NoSuchDay(String),
    /// Outside the years the ledger keeps.
    #[error("'{0}' is outside the years 1900 to 2199")]
    OutOfRange(String),
}

const MONTHS: [&str; 12] = [
    "jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec",
];

impl Day {
    /// The day of a year, month and day of the month.
    ///
    /// # Errors
    /// [`DayError`] where the calendar or the ledger's range has no such day.
    pub fn new(year: i32, month: u32, day: u32) -> Result<Self, DayError> {
        let typed = format!("{year:04}-{month:02}-{day:02}");
        if !(1900..=2199).contains(&year) {
            return Err(DayError::OutOfRange(typed));
        }
        NaiveDate::from_ymd_opt(year, month, day)
            .map(Self)
            .ok_or(DayError::NoSuchDay(typed))
    }

    /// Reads what a person types: an ISO date, `today`, `yesterday`, `3d`, `sun`, `12mar`.
    ///
    /// A weekday is the last one before today (today itself counts); a day and month without a year is the
    /// last one not after today, unless only a date up to 31 days ahead is nearer.
    ///
    /// # Errors
    /// [`DayError`] naming the text.
    pub fn read(text: &str, today: Self) -> Result<Self, DayError> {
        let typed = text.trim().to_lowercase();
        match typed.as_str() {
            "today" => return Ok(today),
            "yesterday" => return Ok(today.back(1)),
            _ => {}
        }
        if typed.contains('/') {
            return Err(DayError::Slashes {
                typed: text.to_owned(),
                example: today.to_string(),
            });
        }
        if let Some(ago) = typed.strip_suffix('d').and_then(plain_number) {
            if ago > 36_500 {
                return Err(DayError::OutOfRange(text.to_owned()));
            }
            return Ok(today.back(ago));
        }
        if let Some(weekday) = read_weekday(&typed) {
            let back =
                (today.0.weekday().num_days_from_monday() + 7 - weekday.num_days_from_monday()) % 7;
            return Ok(today.back(i64::from(back)));
        }
        if let Some(day) = read_day_month(&typed, today) {
            return day.ok_or_else(|| DayError::NoSuchDay(text.to_owned()));
        }
        typed.parse().map_err(|error| match error {
            DayError::Unreadable(_) => DayError::Unreadable(text.to_owned()),
            other => other,
        })
    }

    /// The day a number of days later; stays at the calendar's edge beyond it.
    #[must_use]
    pub fn forward(self, days: i64) -> Self {
        let magnitude = Days::new(days.unsigned_abs());
        let moved = if days >= 0 {
            self.0.checked_add_days(magnitude)
        } else {
            self.0.checked_sub_days(magnitude)
        };
        Self(moved.unwrap_or(self.0))
    }

    /// The day a number of days earlier.
    #[must_use]
    pub fn back(self, days: i64) -> Self {
        self.forward(-days)
    }

    /// Whole days from `earlier` to this day; negative where `earlier` is later.
    #[must_use]
    pub fn since(self, earlier: Self) -> i64 {
        (self.0 - earlier.0).num_days()
    }

    /// The year.
    #[must_use]
    pub fn year(self) -> i32 {
        self.0.year()
    }

    /// As a grower says it: `24 June` (the year left out).
    #[must_use]
    pub fn spoken(self) -> String {
        const NAMES: [&str; 12] = [
            "January",
            "February",
            "March",
            "April",
            "May",
            "June",
            "July",
            "August",
            "September",
            "October",
            "November",
            "December",
        ];
        format!("{} {}", self.0.day(), NAMES[self.0.month0() as usize])
    }
}

fn plain_number(text: &str) -> Option<i64> {
    let digits = !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    digits.then(|| text.parse().unwrap_or(i64::MAX))
}

fn read_weekday(text: &str) -> Option<Weekday> {
    let names = [
        ("monday", Weekday::Mon),
        ("tuesday", Weekday::Tue),
        ("wednesday", Weekday::Wed),
        ("thursday", Weekday::Thu),
        ("friday", Weekday::Fri),
        ("saturday", Weekday::Sat),
        ("sunday", Weekday::Sun),
    ];
    names
        .iter()
        .find(|(name, _)| text.len() >= 3 && name.starts_with(text))
        .map(|(_, weekday)| *weekday)
}

/// `12mar` or `mar12`; the inner nothing is a day that month never has.
fn read_day_month(text: &str, today: Day) -> Option<Option<Day>> {
    let split = text.find(|c: char| c.is_ascii_alphabetic())?;
    let (day, month) = if split == 0 {
        let end = text.find(|c: char| c.is_ascii_digit())?;
        (&text[end..], &text[..end])
    } else {
        text.split_at(split)
    };
    let month = MONTHS.iter().position(|name| *name == month)?;
    let month = u32::try_from(month).expect("twelve months") + 1;
    let day = u32::try_from(plain_number(day)?).ok()?;
    let near = |year: i32| Day::new(year, month, day).ok();
    let limit = today.forward(31);
    let candidates = [
        today.year() + 1,
        today.year(),
        today.year() - 1,
        today.year() - 2,
        today.year() - 3,
        today.year() - 4,
    ];
    Some(
        candidates
            .iter()
            .filter_map(|year| near(*year))
            .find(|found| *found <= limit),
    )
}

impl FromStr for Day {
    type Err = DayError;

    fn from_str(text: &str) -> Result<Self, DayError> {
        let bytes = text.as_bytes();
        let shaped = bytes.len() == 10
            && bytes.iter().enumerate().all(|(at, byte)| match at {
                4 | 7 => *byte == b'-',
                _ => byte.is_ascii_digit(),
            });
        if !shaped {
            return Err(DayError::Unreadable(text.to_owned()));
        }
        let number = |range: std::ops::Range<usize>| text[range].parse::<u32>().unwrap_or(0);
        let year = i32::try_from(number(0..4)).unwrap_or(0);
        Self::new(year, number(5..7), number(8..10))
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0.format("%Y-%m-%d").to_string())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Day {
        text.parse().unwrap()
    }

    #[test]
    fn short_forms_count_from_today() {
        let today = day("2026-03-18"); // a Wednesday
        let read = |text: &str| Day::read(text, today).map(|d| d.to_string());
        assert_eq!(read("today").unwrap(), "2026-03-18");
        assert_eq!(read("Yesterday").unwrap(), "2026-03-17");
        assert_eq!(read("3d").unwrap(), "2026-03-15");
        assert_eq!(read("sun").unwrap(), "2026-03-15");
        assert_eq!(read("wed").unwrap(), "2026-03-18");
        assert_eq!(read("12mar").unwrap(), "2026-03-12");
        assert_eq!(read("12dec").unwrap(), "2025-12-12");
        assert_eq!(read("29feb").unwrap(), "2024-02-29");
        assert_eq!(
            read("2026-02-30").unwrap_err(),
            DayError::NoSuchDay("2026-02-30".into())
        );
        assert!(matches!(read("1/3/2026"), Err(DayError::Slashes { .. })));
        assert!(matches!(read("26-3-5"), Err(DayError::Unreadable(_))));
        assert!(matches!(read("31feb"), Err(DayError::NoSuchDay(_))));
        assert!(matches!(read("0001-01-01"), Err(DayError::OutOfRange(_))));
        assert!(matches!(read(""), Err(DayError::Unreadable(_))));
    }

    proptest::proptest! {
        #[test]
        fn display_round_trips(offset in 0i64..109_000) {
            let day = day("1900-01-01").forward(offset);
            proptest::prop_assert_eq!(day.to_string().parse::<Day>().unwrap(), day);
            proptest::prop_assert_eq!(day.since(day.back(offset)), offset);
        }
    }
}
