//! What a command is about, as typed: a code, a place in a tray, a lot.
//!
//! Reads `NL`, `T1-03a` and `X1/2` apart by their form alone; whether such a thing exists is for the gate
//! to say.

use std::fmt;
use std::str::FromStr;

use super::cells::{CellError, Spot};
use super::code::{Code, CodeError};
use super::text::shown;

/// What a command is about, as typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target {
    /// A parent, cross, tray or trait by its code.
    Code(Code),
    /// A place in a tray: `T1-03`.
    Spot(Code, Spot),
    /// A lot of seed: `X1/2`.
    Lot(Code, i64),
}

/// Why a text is no target.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TargetError {
    /// The code is no code.
    #[error(transparent)]
    Code(#[from] CodeError),
    /// The cell is no cell.
    #[error(transparent)]
    Cell(#[from] CellError),
    /// The lot is no number.
    #[error("'{0}' names no lot; write the cross or parent, a slash and the lot's number: X1/2")]
    Lot(String),
}

impl Target {
    /// The code it begins with.
    #[must_use]
    pub const fn code(&self) -> &Code {
        match self {
            Self::Code(code) | Self::Spot(code, _) | Self::Lot(code, _) => code,
        }
    }
}

impl FromStr for Target {
    type Err = TargetError;

    fn from_str(text: &str) -> Result<Self, TargetError> {
        if let Some((code, number)) = text.split_once('/') {
            let lot = number
                .parse::<i64>()
                .ok()
                .filter(|n| *n > 0 && !number.starts_with('+'));
            let lot = lot.ok_or_else(|| TargetError::Lot(shown(text)))?;
            return Ok(Self::Lot(code.parse()?, lot));
        }
        let cell = text.rmatch_indices('-').find(|(at, _)| {
            text[at + 1..]
                .bytes()
                .next()
                .is_some_and(|next| next.is_ascii_digit())
        });
        match cell {
            Some((at, _)) => Ok(Self::Spot(text[..at].parse()?, text[at + 1..].parse()?)),
            None => Ok(Self::Code(text.parse()?)),
        }
    }
}

impl fmt::Display for Target {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Code(code) => code.fmt(f),
            Self::Spot(code, spot) => write!(f, "{code}-{spot}"),
            Self::Lot(code, lot) => write!(f, "{code}/{lot}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn targets_are_told_apart() {
        let read = |text: &str| text.parse::<Target>();
        assert!(matches!(read("NL"), Ok(Target::Code(_))));
        assert!(matches!(read("fruit-attitude"), Ok(Target::Code(_))));
        assert!(matches!(
            read("T1-3"),
            Ok(Target::Spot(_, Spot { cell: 3, .. }))
        ));
        assert_eq!(read("tent-a-3b").unwrap().to_string(), "tent-a-03b");
        assert_eq!(read("X1/2"), Ok(Target::Lot("X1".parse().unwrap(), 2)));
        for bad in [
            "", "T1-0", "T1-3abc", "X1/", "X1/0", "X1/+1", "X1/a", "-3", "/1", "a\u{7}",
        ] {
            let error = read(bad).unwrap_err().to_string();
            assert!(!error.contains('\u{7}'), "{bad:?}");
        }
    }
}
