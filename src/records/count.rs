//! Counts: how many seeds, flowers, pods, seedlings.
//!
//! A [`Count`] is a whole number that a bench can hold; whether it makes sense beside what was recorded
//! before is the gate's business.

use std::fmt;
use std::str::FromStr;

use super::text::shown;

/// The largest count.
pub const COUNT_MAX: i64 = 100_000;

/// A count from 0 to [`COUNT_MAX`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Count(i64);

/// Why a text is no count.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CountError {
    /// Below zero.
    #[error("'{0}' is below zero; a count is 0 or more")]
    Negative(String),
    /// Above [`COUNT_MAX`].
    #[error("'{0}' is more than {COUNT_MAX}, the largest count a ledger keeps")]
    TooLarge(String),
    /// Not a whole number.
    #[error("'{0}' is no count; write a whole number such as 12")]
    Unreadable(String),
}

impl Count {
    /// A count from a number.
    ///
    /// # Errors
    /// [`CountError`] outside 0 to [`COUNT_MAX`].
    pub fn new(number: i64) -> Result<Self, CountError> {
        match number {
            0..=COUNT_MAX => Ok(Self(number)),
            ..0 => Err(CountError::Negative(number.to_string())),
            _ => Err(CountError::TooLarge(number.to_string())),
        }
    }

    /// The number.
    #[must_use]
    pub const fn get(self) -> i64 {
        self.0
    }
}

impl FromStr for Count {
    type Err = CountError;

    fn from_str(text: &str) -> Result<Self, CountError> {
        let typed = text.trim();
        let digits = typed.strip_prefix('-').unwrap_or(typed);
        if digits.is_empty() || !digits.bytes().all(|b| b.is_ascii_digit()) {
            return Err(CountError::Unreadable(shown(text)));
        }
        match typed.parse::<i64>() {
            Ok(number) => Self::new(number),
            Err(_) if digits.len() < typed.len() => Err(CountError::Negative(shown(text))),
            Err(_) => Err(CountError::TooLarge(shown(text))),
        }
    }
}

impl fmt::Display for Count {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_are_checked() {
        let read = |text: &str| text.parse::<Count>();
        assert_eq!(read("12").unwrap().get(), 12);
        assert_eq!(read("100000").unwrap().get(), COUNT_MAX);
        assert!(matches!(read("-1"), Err(CountError::Negative(_))));
        assert!(matches!(
            read("-99999999999999999999"),
            Err(CountError::Negative(_))
        ));
        assert!(matches!(read("100001"), Err(CountError::TooLarge(_))));
        assert!(matches!(
            read("99999999999999999999"),
            Err(CountError::TooLarge(_))
        ));
        for bad in ["", "-", "3.5", "1e3", "twelve", "+3", "0x3"] {
            assert!(matches!(read(bad), Err(CountError::Unreadable(_))), "{bad}");
        }
    }
}
