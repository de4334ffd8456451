//! How often two loci are parted: recombination fractions, exact where they are typed as fractions.
//!
//! A fraction typed as a decimal or as `3/25` is kept as whole numbers, so that shares stay exact; one
//! worked out from a map distance is irrational and kept as a number. Which loci it belongs to is not known
//! here; the linkage map and the estimate of linkage ask.

use std::fmt;

use thiserror::Error;

use super::fraction::{MOST_DIGITS, rounded, whole};
use super::segregation::gcd;

/// A recombination fraction of one sex.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    value: f64,
    whole: Option<(u128, u128)>,
}

/// Why a text is no recombination fraction.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum RateError {
    /// No number, or one with more digits than are read.
    #[error("\"{}\" is no fraction: write 0.12, 12% or 3/25, with at most {MOST_DIGITS} digits", .0.escape_debug())]
    Unreadable(String),
    /// Below 0 or above one half.
    #[error("{0} is no recombination fraction; it lies from 0 (never parted) to 0.5 (independent)")]
    Outside(String),
}

impl Rate {
    /// Free recombination: one half.
    pub const FREE: Self = Self {
        value: 0.5,
        whole: Some((1, 2)),
    };

    /// Never parted.
    pub const NONE: Self = Self {
        value: 0.0,
        whole: Some((0, 1)),
    };

    /// Reads a fraction from 0 to one half: `0.12` or `3/25`.
    ///
    /// # Errors
    /// [`RateError`].
    pub fn parse(text: &str) -> Result<Self, RateError> {
        let text = text.trim();
        let (n, d) = whole(text).ok_or_else(|| RateError::Unreadable(text.to_owned()))?;
        if text.starts_with('-') || d == 0 || 2 * n > d {
            return Err(RateError::Outside(text.to_owned()));
        }
        let common = gcd(n, d);
        Ok(Self {
            value: n as f64 / d as f64,
            whole: Some((n / common, d / common)),
        })
    }

    /// Of a map distance in centimorgans: r = (1 - exp(-2d/100))/2, no interference (Haldane 1919, Journal of
    /// Genetics 8:299-309).
    #[must_use]
    pub fn haldane(centimorgans: f64) -> Self {
        if centimorgans == 0.0 {
            return Self::NONE;
        }
        Self::of(-0.5 * (-centimorgans / 50.0).exp_m1())
    }

    /// Any number from 0 to 1, as an estimate tries it.
    #[must_use]
    pub fn of(value: f64) -> Self {
        Self { value, whole: None }
    }

    /// The number.
    #[must_use]
    pub fn value(self) -> f64 {
        self.value
    }

    /// Numerator and denominator, where it was typed and not worked out.
    #[must_use]
    pub fn whole(self) -> Option<(u128, u128)> {
        self.whole
    }

    /// Whether the loci are independent: one half to the last bit.
    #[must_use]
    pub fn is_free(self) -> bool {
        self.value == 0.5
    }
}

/// The map distance of a recombination fraction in centimorgans, d = -50 ln(1 - 2r) (Haldane 1919); nothing from
/// one half up.
#[must_use]
pub fn haldane_distance(r: f64) -> Option<f64> {
    (r < 0.5).then(|| -50.0 * (-2.0 * r).ln_1p() + 0.0)
}

/// The recombination fraction of the outer two of three loci in a row without interference:
/// r = s + t - 2st (Haldane 1919; Trow's formula).
#[must_use]
pub fn joined(s: f64, t: f64) -> f64 {
    s + t - 2.0 * s * t
}

/// Recombination between two loci, in egg and in pollen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Recombination {
    /// In the plant that is the mother.
    pub female: Rate,
    /// In the plant that is the father.
    pub male: Rate,
}

impl Recombination {
    /// The same in both sexes, which is what is usually measured.
    #[must_use]
    pub fn both(rate: Rate) -> Self {
        Self {
            female: rate,
            male: rate,
        }
    }

    /// Reads `0.12`, or `0.1:0.3` for mothers and fathers apart.
    ///
    /// # Errors
    /// [`RateError`].
    pub fn parse(text: &str) -> Result<Self, RateError> {
        match text.split_once(':') {
            Some((female, male)) => Ok(Self {
                female: Rate::parse(female)?,
                male: Rate::parse(male)?,
            }),
            None => Rate::parse(text).map(Self::both),
        }
    }

    /// Whether the loci are independent in both sexes.
    #[must_use]
    pub fn is_free(self) -> bool {
        self.female.is_free() && self.male.is_free()
    }

    /// The mean of the sexes.
    #[must_use]
    pub fn mean(self) -> f64 {
        0.5 * (self.female.value + self.male.value)
    }
}

impl fmt::Display for Recombination {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let shown = |rate: Rate| rounded(rate.value);
        match self.female == self.male {
            true => write!(f, "{}", shown(self.female)),
            false => write!(
                f,
                "{} (mothers) and {} (fathers)",
                shown(self.female),
                shown(self.male)
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn typed_fractions_stay_whole() {
        let whole = |text| Rate::parse(text).unwrap().whole().unwrap();
        assert_eq!(whole("0.12"), (3, 25));
        assert_eq!(whole("3/25"), (3, 25));
        assert_eq!(whole(".5"), (1, 2));
        assert_eq!(whole("0"), (0, 1));
        for bad in ["0.6", "-0.1", "1/0", "2/3"] {
            assert!(
                matches!(Rate::parse(bad), Err(RateError::Outside(_))),
                "{bad}"
            );
        }
        for bad in ["", "x", "1e-3", "0.1234567891", "0,1"] {
            let found = Rate::parse(bad);
            assert!(matches!(found, Err(RateError::Unreadable(_))), "{bad}");
        }
    }

    /// Distances add up and come back (Haldane 1919).
    #[test]
    fn haldane_there_and_back() {
        for d in [0.0, 0.1, 5.0, 33.3, 120.0] {
            let back = haldane_distance(Rate::haldane(d).value()).unwrap();
            assert!((back - d).abs() < 1e-11, "{d}: {back}");
        }
        assert_eq!(haldane_distance(0.5), None);
        let (one, other) = (Rate::haldane(10.0).value(), Rate::haldane(25.0).value());
        assert!((joined(one, other) - Rate::haldane(35.0).value()).abs() < 1e-15);
    }
}
