//! From whom a seedling is said to come, as typed: `self`, `NL`, `X4`, `CW/NL`, `CW/_`.
//!
//! Reads the forms apart; which plants they mean, and whether these can be its parents, is for the gate to say.

use std::fmt;
use std::str::FromStr;

use super::target::{Target, TargetError};
use super::text::shown;

/// From whom a seedling is said to come, as typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Parentage {
    /// The mother on its label, selfed.
    Selfed,
    /// The mother on its label, and pollen of a plant that is not of the ledger.
    UnknownPollen,
    /// Seed of plants that are not of the ledger.
    UnknownSeed,
    /// The pollen of a plant on the mother of its label, or seed of another cross: whichever the code names.
    Of(Target),
    /// A mother and a father; without a father the pollen is unknown.
    Pair(Target, Option<Target>),
}

/// Why a text names no parents.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParentageError {
    /// A side that is no code.
    #[error(transparent)]
    Target(#[from] TargetError),
    /// A chance that is none.
    #[error("'{0}' is no chance; write the parents and a number from 0 to 1: CW/NL=0.8")]
    Chance(String),
}

/// Mother and father in words, each by its label where it is a plant of the ledger: `CW x NL`, `CW selfed`, `CW x unknown
/// pollen`, `seed from elsewhere`.
#[must_use]
pub fn in_words(mother: Option<&str>, father: Option<&str>) -> String {
    match (mother, father) {
        (Some(mother), Some(father)) if mother == father => format!("{mother} selfed"),
        (Some(mother), Some(father)) => format!("{mother} x {father}"),
        (Some(mother), None) => format!("{mother} x unknown pollen"),
        (None, _) => "seed from elsewhere".to_owned(),
    }
}

/// Stands for a parent that is not of the ledger.
const UNKNOWN: &str = "_";

impl FromStr for Parentage {
    type Err = ParentageError;

    fn from_str(text: &str) -> Result<Self, ParentageError> {
        let text = text.trim();
        let side = |text: &str| text.trim().parse::<Target>();
        Ok(match (text.to_lowercase().as_str(), text.split_once('/')) {
            ("self", _) => Self::Selfed,
            ("unknown-pollen", _) => Self::UnknownPollen,
            ("unknown-seed" | "_/_", _) => Self::UnknownSeed,
            (_, Some((mother, UNKNOWN))) => Self::Pair(side(mother)?, None),
            (_, Some((mother, father))) => Self::Pair(side(mother)?, Some(side(father)?)),
            (_, None) => Self::Of(side(text)?),
        })
    }
}

impl fmt::Display for Parentage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Selfed => f.write_str("self"),
            Self::UnknownPollen => f.write_str("unknown-pollen"),
            Self::UnknownSeed => f.write_str("unknown-seed"),
            Self::Of(target) => target.fmt(f),
            Self::Pair(mother, Some(father)) => write!(f, "{mother}/{father}"),
            Self::Pair(mother, None) => write!(f, "{mother}/{UNKNOWN}"),
        }
    }
}

/// Parents that a seedling may have, and how likely they are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Odd {
    /// The parents.
    pub of: Parentage,
    /// Their probability, as typed.
    pub chance: String,
}

impl Odd {
    /// The probability as a number.
    #[must_use]
    pub fn p(&self) -> f64 {
        self.chance.parse().unwrap_or(0.0)
    }
}

impl FromStr for Odd {
    type Err = ParentageError;

    fn from_str(text: &str) -> Result<Self, ParentageError> {
        let wrong = || ParentageError::Chance(shown(text));
        let (of, chance) = text.split_once('=').ok_or_else(wrong)?;
        let p: f64 = chance.trim().parse().map_err(|_| wrong())?;
        if !(0.0..=1.0).contains(&p) {
            return Err(wrong());
        }
        Ok(Self {
            of: of.parse()?,
            chance: chance.trim().to_owned(),
        })
    }
}

impl fmt::Display for Odd {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}={}", self.of, self.chance)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parents_are_read_back_as_written() {
        for text in [
            "self",
            "unknown-pollen",
            "unknown-seed",
            "NL",
            "X4",
            "T1-03",
            "CW/NL",
            "T1-03a/T2-01",
            "CW/_",
        ] {
            assert_eq!(text.parse::<Parentage>().unwrap().to_string(), text);
        }
        let read = |text: &str| text.parse::<Parentage>();
        assert_eq!(read(" SELF"), Ok(Parentage::Selfed));
        assert_eq!(read("_/_"), Ok(Parentage::UnknownSeed));
        for bad in ["", "_", "_/NL", "CW/", "/NL", "CW/NL/GF", "the wind"] {
            assert!(read(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_chance_lies_between_nothing_and_all() {
        let read = |text: &str| text.parse::<Odd>();
        assert_eq!(read("CW/NL=0.82").unwrap().to_string(), "CW/NL=0.82");
        assert!((read("self=1e-3").unwrap().p() - 0.001).abs() < 1e-15);
        for bad in [
            "CW/NL",
            "CW/NL=",
            "CW/NL=82",
            "CW/NL=-0.1",
            "CW/NL=nan",
            "=0.5",
        ] {
            assert!(read(bad).is_err(), "{bad}");
        }
    }
}
