//! How many trials are needed for enough successes.
//!
//! Plain binomial arithmetic; the planning of sowings turns its own chances into `p` before it asks.

use super::crossing::crossing;
use super::tails::binomial_tails;

/// A number of trials and what it gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrialsNeeded {
    /// The number of trials.
    pub n: u64,
    /// `P(at least k successes)` in `n` trials.
    pub probability: f64,
}

/// More trials than this are not looked for.
const MOST_TRIALS: u64 = 1 << 50;

/// A chance of failing equal to the allowed one but for rounding is allowed.
const ROUNDING: f64 = 1e-12;

/// The fewest trials `n` with `P(at least k successes) >= confidence`, each with probability `p`.
///
/// `P(at least k of n)` rises with `n`, so the answer is bracketed by doubling and found by bisection.
/// `None` if no number up to 2^50 is enough: `p = 0`, or a confidence of 1 with `p < 1`.
/// The quantity tabulated by Sedcole 1977, Crop Science 17:667-668.
///
/// # Panics
/// If `p` or `confidence` is not in `[0, 1]`.
pub fn smallest_n(k: u64, p: f64, confidence: f64) -> Option<TrialsNeeded> {
    assert!((0.0..=1.0).contains(&p), "probability {p} is not in [0, 1]");
    assert!(
        (0.0..=1.0).contains(&confidence),
        "confidence {confidence} is not in [0, 1]"
    );
    let allowed = (1.0 - confidence) * (1.0 + ROUNDING);
    let enough = |n: u64| binomial_tails(k, n, p).1 <= allowed;
    let (mut short, mut n) = (k.saturating_sub(1), k);
    while !enough(n) {
        if p == 0.0 || confidence == 1.0 || n > MOST_TRIALS {
            return None;
        }
        short = n;
        n *= 2;
    }
    let n = crossing(short, n, enough);
    Some(TrialsNeeded {
        n,
        probability: binomial_tails(k, n, p).0,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exact_tie_is_enough() {
        // One success of two fair trials: 3/4 exactly.
        assert_eq!(smallest_n(1, 0.5, 0.75).map(|t| t.n), Some(2));
        assert_eq!(smallest_n(1, 0.5, 0.7500001).map(|t| t.n), Some(3));
    }

    #[test]
    fn certainty_and_impossibility() {
        assert_eq!(
            smallest_n(0, 0.3, 0.99),
            Some(TrialsNeeded {
                n: 0,
                probability: 1.0
            })
        );
        assert_eq!(
            smallest_n(4, 1.0, 1.0),
            Some(TrialsNeeded {
                n: 4,
                probability: 1.0
            })
        );
        assert_eq!(smallest_n(1, 0.0, 0.5), None);
        assert_eq!(smallest_n(1, 0.9, 1.0), None);
    }

    /// One success needs `ln(1 - confidence)/ln(1 - p)` trials; mpmath 1.4.1 gives 2995732272.05... for
    /// `log(0.05)/log(1 - 1e-9)`.
    #[test]
    fn rare_classes_need_billions() {
        assert_eq!(smallest_n(1, 1e-9, 0.95).map(|t| t.n), Some(2_995_732_273));
    }
}
