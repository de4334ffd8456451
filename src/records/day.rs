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
    #[error(
        "'{0}' is not a date; write 2026-03-01, 14 July 2025, today, yesterday, 3d (days ago), sun or 12mar"
    )]
    Unreadable(String),
    /// Numbers between slashes or full stops mean different days in different countries.
    #[error("'{typed}' {}", numbers(.readings, .between))]
    Numbers {
        /// What was typed.
        typed: String,
        /// What stands between the numbers, in words.
        between: &'static str,
        /// The days it can mean, in the form that is understood.
        readings: Vec<Day>,
    },
    /// No such day in the calendar.
    #[error("'{typed}' is not in the calendar: {why}")]
    NoSuchDay {
        /// What was typed.
        typed: String,
        /// What the calendar has.
        why: String,
        /// The last day of the month meant, if any.
        last: Option<Day>,
    },
    /// Outside the years the ledger keeps.
    #[error("'{0}' is outside the years 1900 to 2199")]
    OutOfRange(String),
}

fn numbers(readings: &[Day], between: &str) -> String {
    let form = "write the date as year-month-day, e.g. 2026-03-01";
    match readings {
        [one, other] => {
            format!("could be read two ways, {one} or {other}; write the date as year-month-day")
        }
        [one] => format!("is written with {between}; write the date as year-month-day: {one}"),
        _ => format!("is written with {between}; {form}"),
    }
}

const MONTHS: [&str; 12] = [
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
            .ok_or_else(|| no_such_day(typed, year, month))
    }

    /// Reads what a person types: an ISO date, `today`, `yesterday`, `3d`, `sun`, `12mar`, `14 July 2025`,
    /// `14jul25`.
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
        if let Some((mark, between)) = mark_between(&typed) {
            return Err(DayError::Numbers {
                typed: text.to_owned(),
                between,
                readings: read_numbers(&typed, mark, today),
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
        let read = match read_named_month(&typed) {
            Some((day, month, year)) => of_named_month(text, day, month, year, today),
            None => typed.parse(),
        };
        read.map_err(|error| match error {
            DayError::Unreadable(_) => DayError::Unreadable(text.to_owned()),
            other => other,
        })
    }

    /// Reads a day that is to come as [`Day::read`], but that a day and month without a year is the first one from
    /// today on.
    ///
    /// # Errors
    /// [`DayError`] naming the text.
    pub fn read_ahead(text: &str, today: Self) -> Result<Self, DayError> {
        let Some((day, month, None)) = read_named_month(&text.trim().to_lowercase()) else {
            return Self::read(text, today);
        };
        let day = u32::try_from(day).unwrap_or(u32::MAX);
        let years = today.year()..=today.year() + 4;
        let mut days = years.filter_map(|year| Self::new(year, month, day).ok());
        days.find(|found| *found >= today)
            .ok_or_else(|| no_such_day(text.to_owned(), today.year(), month))
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
        format!("{} {}", self.0.day(), MONTHS[self.0.month0() as usize])
    }
}

impl Day {
    /// As a grower says it on a day: `24 June`, of another year `24 June 2025`.
    #[must_use]
    pub fn spoken_on(self, today: Self) -> String {
        if self.year() == today.year() {
            return self.spoken();
        }
        format!("{} {}", self.spoken(), self.year())
    }
}

/// Why the calendar has no such day, with the last day of the month where that is a month.
fn no_such_day(typed: String, year: i32, month: u32) -> DayError {
    let last = (28..=31)
        .rev()
        .find_map(|day| NaiveDate::from_ymd_opt(year, month, day));
    let why = match last {
        Some(last) => format!(
            "{} {year} has {} days",
            MONTHS[last.month0() as usize],
            last.day()
        ),
        None => "the months run from 1 to 12".to_owned(),
    };
    DayError::NoSuchDay {
        typed,
        why,
        last: last.map(Day),
    }
}

/// What stands between the numbers of a date that is written with slashes, or of numbers and full stops alone.
fn mark_between(text: &str) -> Option<(char, &'static str)> {
    let only_numbers = || {
        text.bytes()
            .all(|b| b.is_ascii_digit() || b == b'.' || b == b' ')
    };
    match () {
        () if text.contains('/') => Some(('/', "slashes")),
        () if text.contains('.') && only_numbers() => Some(('.', "full stops")),
        () => None,
    }
}

/// The days that a date of numbers can mean: day first, then month first; year first where it says so.
fn read_numbers(text: &str, mark: char, today: Day) -> Vec<Day> {
    let numbers: Option<Vec<i64>> = text
        .trim_end_matches(mark)
        .split(mark)
        .map(|piece| plain_number(piece.trim()))
        .collect();
    let readings = match numbers.unwrap_or_default()[..] {
        [year, month, day] if year > 99 => vec![(year, month, day)],
        [first, second, year] => vec![(year, second, first), (year, first, second)],
        [first, second] => {
            let year = i64::from(today.year());
            vec![(year, second, first), (year, first, second)]
        }
        _ => Vec::new(),
    };
    let mut days: Vec<Day> = readings
        .into_iter()
        .filter_map(|(year, month, day)| {
            let year = if year < 100 { year + 2000 } else { year };
            Day::new(
                i32::try_from(year).ok()?,
                u32::try_from(month).ok()?,
                u32::try_from(day).ok()?,
            )
            .ok()
        })
        .collect();
    days.dedup();
    days
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

/// The runs of letters and of digits in a text; nothing where it holds anything else but blanks, commas and
/// full stops between them.
fn runs(text: &str) -> Option<Vec<String>> {
    let mut runs: Vec<String> = Vec::new();
    let mut before = ' ';
    for c in text.chars() {
        let is_run = c.is_ascii_alphanumeric();
        if !is_run && !matches!(c, ' ' | ',' | '.') {
            return None;
        }
        let goes_on =
            before.is_ascii_alphanumeric() && before.is_ascii_digit() == c.is_ascii_digit();
        match runs.last_mut() {
            Some(run) if is_run && goes_on => run.push(c),
            _ if is_run => runs.push(c.to_string()),
            _ => {}
        }
        before = c;
    }
    Some(runs)
}

/// `12mar`, `mar12`, `14 july 2025`, `july 14, 2025`, `14jul25` as day, month and year.
fn read_named_month(text: &str) -> Option<(i64, u32, Option<i64>)> {
    let runs = runs(text)?;
    let (first, second, year) = match &runs[..] {
        [first, second] => (first, second, None),
        [first, second, year] => (first, second, Some(year)),
        _ => return None,
    };
    let (day, name) = if first.starts_with(|c: char| c.is_ascii_digit()) {
        (first, second)
    } else {
        (second, first)
    };
    let is_name = |month: &str| name.len() >= 3 && month.to_lowercase().starts_with(&name[..]);
    let month = MONTHS.iter().position(|month| is_name(month))?;
    let year = match year {
        None => None,
        Some(year) if matches!(year.len(), 2 | 4) => Some(plain_number(year)?),
        Some(_) => return None,
    };
    let month = u32::try_from(month).expect("twelve months") + 1;
    Some((plain_number(day)?, month, year))
}

/// A day of a named month: of the year said, or the last one not after today unless only a date up to 31 days
/// ahead is nearer.
fn of_named_month(
    text: &str,
    day: i64,
    month: u32,
    year: Option<i64>,
    today: Day,
) -> Result<Day, DayError> {
    let day = u32::try_from(day).unwrap_or(u32::MAX);
    if let Some(year) = year {
        let year = if year < 100 { year + 2000 } else { year };
        let year = i32::try_from(year).unwrap_or(i32::MAX);
        return Day::new(year, month, day).map_err(|error| match error {
            DayError::NoSuchDay { why, last, .. } => DayError::NoSuchDay {
                typed: text.to_owned(),
                why,
                last,
            },
            other => other,
        });
    }
    let limit = today.forward(31);
    let years = (today.year() - 4..=today.year() + 1).rev();
    let mut days = years.filter_map(|year| Day::new(year, month, day).ok());
    days.find(|found| *found <= limit)
        .ok_or_else(|| no_such_day(text.to_owned(), today.year(), month))
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
            read("2026-02-30").unwrap_err().to_string(),
            "'2026-02-30' is not in the calendar: February 2026 has 28 days"
        );
        assert_eq!(
            read("2026-13-01").unwrap_err().to_string(),
            "'2026-13-01' is not in the calendar: the months run from 1 to 12"
        );
        for long in [
            "14 July 2025",
            "14jul2025",
            "14jul25",
            "July 14, 2025",
            "14. july 2025",
        ] {
            assert_eq!(read(long).unwrap().to_string(), "2025-07-14", "{long}");
        }
        assert!(matches!(read("14jul202"), Err(DayError::Unreadable(_))));
        assert!(matches!(
            read("30 February 2024"),
            Err(DayError::NoSuchDay { .. })
        ));
        let readings = |text: &str| match read(text) {
            Err(DayError::Numbers { readings, .. }) => {
                readings.iter().map(ToString::to_string).collect::<Vec<_>>()
            }
            other => panic!("{text}: {other:?}"),
        };
        assert_eq!(readings("01/03/2026"), ["2026-03-01", "2026-01-03"]);
        assert_eq!(readings("25/03/26"), ["2026-03-25"]);
        assert_eq!(readings("2026/3/5"), ["2026-03-05"]);
        assert_eq!(readings("4/4"), ["2026-04-04"]);
        assert_eq!(readings("10.7.2025"), ["2025-07-10", "2025-10-07"]);
        assert_eq!(readings("25. 3."), ["2026-03-25"]);
        assert!(readings("a/b").is_empty());
        assert!(matches!(read("1/3/2026"), Err(DayError::Numbers { .. })));
        assert!(matches!(read("26-3-5"), Err(DayError::Unreadable(_))));
        assert!(matches!(read("31feb"), Err(DayError::NoSuchDay { .. })));
        assert!(matches!(read("0001-01-01"), Err(DayError::OutOfRange(_))));
        assert!(matches!(read(""), Err(DayError::Unreadable(_))));
    }

    #[test]
    fn a_day_to_come_is_the_next_one() {
        let today = day("2026-11-02");
        let read = |text: &str| Day::read_ahead(text, today).map(|d| d.to_string());
        assert_eq!(read("1nov").unwrap(), "2027-11-01");
        assert_eq!(read("2nov").unwrap(), "2026-11-02");
        assert_eq!(read("29feb").unwrap(), "2028-02-29");
        assert_eq!(read("2026-01-01").unwrap(), "2026-01-01");
        assert_eq!(read("1 Nov 2026").unwrap(), "2026-11-01");
        assert!(matches!(read("31jun"), Err(DayError::NoSuchDay { .. })));
        assert!(matches!(read("1/11"), Err(DayError::Numbers { .. })));
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
