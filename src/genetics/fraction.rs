//! Shares as they are typed: whole numbers over a whole number, so that answers stay exact.
//!
//! Reads `0.12`, `12%` and `3/25` and knows nothing of what they are shares of. Recombination fractions, misreadings and
//! the shares of selfed seed are read here.

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

use super::segregation::gcd;

/// Most digits behind the point, and in each half of a fraction, that are read.
pub(super) const MOST_DIGITS: usize = 9;

/// A share from 0 to 1, in lowest terms.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fraction {
    part: u128,
    of: u128,
}

/// Why a text is no share.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum FractionError {
    /// No number, or one with more digits than are read.
    #[error("\"{}\" is no fraction: write 0.12, 12% or 3/25, with at most {MOST_DIGITS} digits", .0.escape_debug())]
    Unreadable(String),
    /// Below 0 or above 1.
    #[error("{0} is no share; it lies from 0 (none) to 1 (all), or from 0% to 100%")]
    Outside(String),
}

impl Fraction {
    /// All.
    pub const ONE: Self = Self { part: 1, of: 1 };

    /// Reads a share from 0 to 1: `0.12`, `12%` or `3/25`.
    ///
    /// # Errors
    /// [`FractionError`].
    pub fn parse(text: &str) -> Result<Self, FractionError> {
        let text = text.trim();
        let (part, of) = whole(text).ok_or_else(|| FractionError::Unreadable(text.to_owned()))?;
        if of == 0 || part > of || (text.starts_with('-') && part > 0) {
            return Err(FractionError::Outside(text.to_owned()));
        }
        let common = gcd(part, of);
        Ok(Self {
            part: part / common,
            of: of / common,
        })
    }

    /// Numerator and denominator in lowest terms.
    #[must_use]
    pub const fn whole(self) -> (u128, u128) {
        (self.part, self.of)
    }

    /// The number.
    #[must_use]
    pub fn value(self) -> f64 {
        self.part as f64 / self.of as f64
    }

    /// What it lacks to 1.
    #[must_use]
    pub const fn rest(self) -> Self {
        Self {
            part: self.of - self.part,
            of: self.of,
        }
    }
}

impl FromStr for Fraction {
    type Err = FractionError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Self::parse(text)
    }
}

impl fmt::Display for Fraction {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", rounded(self.value()))
    }
}

/// A share as it is shown: to four digits behind the point, and to two that count where it is smaller.
#[must_use]
pub fn rounded(share: f64) -> f64 {
    if share <= 0.0 {
        return 0.0;
    }
    let first = (-share.log10()).ceil().max(0.0) as i32;
    let scale = 10_f64.powi((first + 1).clamp(4, 18));
    (share * scale).round() / scale
}

/// Fractions as whole numbers over one denominator; nothing where 128 bits do not hold it.
#[must_use]
pub(super) fn over_one(fractions: &[Fraction]) -> Option<(Vec<u128>, u128)> {
    let lcm = |a: u128, b: u128| (a / gcd(a, b)).checked_mul(b);
    let of = fractions.iter().try_fold(1, |of, f| lcm(of, f.of))?;
    let parts = fractions.iter().map(|f| f.part.checked_mul(of / f.of));
    Some((parts.collect::<Option<_>>()?, of))
}

/// Numerator and denominator of `0.12`, `12%` or `3/25` as written; the sign is left to the caller.
pub(super) fn whole(text: &str) -> Option<(u128, u128)> {
    if let Some(percent) = text.strip_suffix('%') {
        let (part, of) = decimal(percent.trim_end())?;
        return Some((part, of * 100));
    }
    match text.split_once('/') {
        Some((n, d)) => Some((digits(n.trim_start_matches('-'))?, digits(d)?)),
        None => decimal(text),
    }
}

fn digits(text: &str) -> Option<u128> {
    let fits = (1..=MOST_DIGITS).contains(&text.len());
    let plain = text.bytes().all(|b| b.is_ascii_digit());
    (fits && plain).then(|| text.parse().ok()).flatten()
}

/// A plain decimal as numerator and power of ten.
fn decimal(text: &str) -> Option<(u128, u128)> {
    let text = text.trim_start_matches('-');
    if text == "." || text.is_empty() {
        return None;
    }
    let (before, behind) = text.split_once('.').unwrap_or((text, ""));
    let before = if before.is_empty() { "0" } else { before };
    let scale = 10_u128.pow(u32::try_from(behind.len()).ok().filter(|n| *n <= 9)?);
    let behind = if behind.is_empty() {
        0
    } else {
        digits(behind)?
    };
    Some((digits(before)? * scale + behind, scale))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_read_in_lowest_terms() {
        for (text, part, of) in [
            ("0.95", 19, 20),
            ("95%", 19, 20),
            ("12.5 %", 1, 8),
            ("6/8", 3, 4),
            ("1", 1, 1),
            ("0", 0, 1),
        ] {
            assert_eq!(Fraction::parse(text).unwrap().whole(), (part, of), "{text}");
        }
        for text in ["1.01", "-0.1", "101%", "95", "5/4", "1/0", "-1/2"] {
            let found = Fraction::parse(text);
            assert!(matches!(found, Err(FractionError::Outside(_))), "{text}");
        }
        for text in ["", "x", "1e-3", "0,5", "%", "1/2%"] {
            let found = Fraction::parse(text);
            assert!(matches!(found, Err(FractionError::Unreadable(_))), "{text}");
        }
        let thirds = ["1/3", "1/4"].map(|text| Fraction::parse(text).unwrap());
        for (text, shown) in [
            ("0.00001", "0.00001"),
            ("0.000000001", "0.000000001"),
            ("1/30000", "0.000033"),
            ("1/3", "0.3333"),
            ("1", "1"),
            ("0", "0"),
        ] {
            assert_eq!(Fraction::parse(text).unwrap().to_string(), shown);
        }
        assert_eq!(over_one(&thirds), Some((vec![4, 3], 12)));
    }
}
