//! Ratios of small whole numbers, such as 9:3:3:1.
//!
//! Reading, writing and finding them; what they are a ratio of is not known here. Expectations are
//! written as ratios where they can be, and tests on counts read them.

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

use super::segregation::gcd;

/// The most parts that a printed ratio has in all.
pub const MOST_PARTS: u64 = 256;

/// The largest single part that is read.
const LARGEST_PART: u64 = 1_000_000_000;

/// Two or more whole numbers that are not all 0.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Ratio {
    parts: Vec<u64>,
}

/// Why a text is no ratio.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum RatioError {
    /// Fewer than two parts.
    #[error("a ratio has at least two parts; write it as 3:1")]
    TooShort,
    /// Nothing but zeros.
    #[error("every part of the ratio is 0; at least one class must be expected")]
    AllZero,
    /// A part below 0.
    #[error("{0} is negative; the parts of a ratio are whole numbers from 0 up")]
    Negative(String),
    /// A part that is no whole number.
    #[error("\"{}\" is no whole number; write the ratio as 9:3:3:1", .0.escape_debug())]
    NotWhole(String),
    /// A part beyond reason.
    #[error("{0} is too large for a part of a ratio (at most {LARGEST_PART})")]
    TooLarge(String),
}

impl Ratio {
    /// A ratio of the parts as they are; they are not reduced.
    ///
    /// # Errors
    /// [`RatioError`]: fewer than two parts, all 0, or one too large.
    pub fn new(parts: Vec<u64>) -> Result<Self, RatioError> {
        if parts.len() < 2 {
            return Err(RatioError::TooShort);
        }
        if let Some(large) = parts.iter().find(|n| **n > LARGEST_PART) {
            return Err(RatioError::TooLarge(large.to_string()));
        }
        if parts.iter().all(|n| *n == 0) {
            return Err(RatioError::AllZero);
        }
        Ok(Self { parts })
    }

    /// The parts in order.
    #[must_use]
    pub fn parts(&self) -> &[u64] {
        &self.parts
    }

    /// Where a text that is no ratio goes wrong, in characters from the start counted from 0: at the first part that is
    /// no whole number, else at the end.
    #[must_use]
    pub fn fault_place(text: &str) -> usize {
        let mut at = 0;
        for part in text.split(':') {
            if read_part(part).is_err() {
                let lead = part
                    .chars()
                    .take_while(|c| c.is_whitespace() || c.is_ascii_digit());
                return at + lead.count();
            }
            at += part.chars().count() + 1;
        }
        at.saturating_sub(1)
    }

    /// The sum of the parts.
    #[must_use]
    pub fn total(&self) -> u64 {
        self.parts.iter().sum()
    }

    /// Each part over the sum.
    #[must_use]
    pub fn probabilities(&self) -> Vec<f64> {
        let total = self.total() as f64;
        self.parts.iter().map(|n| *n as f64 / total).collect()
    }
}

impl fmt::Display for Ratio {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let parts: Vec<String> = self.parts.iter().map(u64::to_string).collect();
        f.write_str(&parts.join(":"))
    }
}

impl FromStr for Ratio {
    type Err = RatioError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let parts: Result<Vec<u64>, RatioError> = text.split(':').map(read_part).collect();
        Self::new(parts?)
    }
}

fn read_part(text: &str) -> Result<u64, RatioError> {
    let text = text.trim();
    let is_number = |digits: &str| !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
    match text.strip_prefix('-') {
        Some(digits) if is_number(digits) => Err(RatioError::Negative(text.into())),
        None if is_number(text) => text.parse().map_err(|_| RatioError::TooLarge(text.into())),
        _ => Err(RatioError::NotWhole(text.into())),
    }
}

/// The numbers divided by their greatest common divisor, zeros kept, if the sum is then at most
/// `most_parts`; `None` otherwise, or if all are 0.
#[must_use]
pub fn whole_number_ratio(numbers: &[u128], most_parts: u64) -> Option<Vec<u64>> {
    let common = numbers.iter().fold(0, |g, n| gcd(g, *n));
    if common == 0 {
        return None;
    }
    let sum = numbers
        .iter()
        .try_fold(0_u128, |sum, n| sum.checked_add(n / common))?;
    let small = sum <= u128::from(most_parts);
    small.then(|| numbers.iter().map(|n| (n / common) as u64).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn ratios_are_read() {
        let read = |s: &str| s.parse::<Ratio>();
        assert_eq!(read("9:3:3:1").unwrap().parts(), [9, 3, 3, 1]);
        assert_eq!(read(" 3 : 1 ").unwrap().to_string(), "3:1");
        assert_eq!(read("1:0").unwrap().probabilities(), [1.0, 0.0]);
        assert_eq!(read("3"), Err(RatioError::TooShort));
        assert_eq!(read("0:0"), Err(RatioError::AllZero));
        assert_eq!(read("3:-1"), Err(RatioError::Negative("-1".into())));
        assert_eq!(read("3:1.5"), Err(RatioError::NotWhole("1.5".into())));
        assert_eq!(read("3:"), Err(RatioError::NotWhole(String::new())));
        assert_eq!(read("3:+1"), Err(RatioError::NotWhole("+1".into())));
        assert!(matches!(
            read("1:99999999999999999999999"),
            Err(RatioError::TooLarge(_))
        ));
        assert!(matches!(read("1:1000000001"), Err(RatioError::TooLarge(_))));
    }

    #[test]
    fn whole_numbers_are_reduced() {
        assert_eq!(
            whole_number_ratio(&[144, 48, 48, 16], 256),
            Some(vec![9, 3, 3, 1])
        );
        assert_eq!(whole_number_ratio(&[4, 0, 4], 256), Some(vec![1, 0, 1]));
        assert_eq!(whole_number_ratio(&[0, 0], 256), None);
        assert_eq!(whole_number_ratio(&[256, 1], 256), None);
        assert_eq!(whole_number_ratio(&[255, 1], 256), Some(vec![255, 1]));
        assert_eq!(whole_number_ratio(&[u128::MAX, u128::MAX - 1], 256), None);
    }

    proptest! {
        #[test]
        fn display_reads_back(parts in prop::collection::vec(0..=LARGEST_PART, 2..9)) {
            prop_assume!(parts.iter().any(|n| *n > 0));
            let ratio = Ratio::new(parts).unwrap();
            prop_assert_eq!(ratio.to_string().parse::<Ratio>().unwrap(), ratio);
        }
    }
}
