//! Two proportions: Fisher's exact test, an interval for their difference; several: whether they agree.
//!
//! Given only so many of so many. Germination, sets and whoever compares two trays call it.

use super::intervals::{Interval, wilson};
use super::logs::ln_factorial;
use super::multinomial::TIE_SLACK;
use super::tails::chi_square_upper;

/// A p this near to 1 is 1 but for rounding.
const CERTAIN_WITHIN: f64 = 1e-12;

/// `k` of `n`.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Part {
    /// How many did.
    pub k: u64,
    /// Of how many.
    pub n: u64,
}

impl Part {
    /// `k` of `n`.
    ///
    /// # Panics
    /// If `k > n`.
    #[must_use]
    pub fn new(k: u64, n: u64) -> Self {
        assert!(k <= n, "{k} of {n}");
        Self { k, n }
    }

    /// The share; 0 of none.
    #[must_use]
    pub fn share(self) -> f64 {
        if self.n == 0 {
            0.0
        } else {
            self.k as f64 / self.n as f64
        }
    }
}

/// The two-sided p of Fisher's exact test: margins held, the sum of the probabilities of all tables no more probable
/// than the one seen, relative slack 1e-7.
///
/// Source: Fisher 1934, Statistical Methods for Research Workers, 5th edition, section 21.02; two-sided by probability
/// as SciPy's `fisher_exact`.
#[must_use]
pub fn fisher_exact(one: Part, other: Part) -> f64 {
    let (n, k) = (one.n + other.n, one.k + other.k);
    let (least, most) = (k.saturating_sub(other.n), k.min(one.n));
    let ln_choose = |n: u64, k: u64| ln_factorial(n) - ln_factorial(k) - ln_factorial(n - k);
    let ln_p = |x: u64| ln_choose(one.n, x) + ln_choose(other.n, k - x) - ln_choose(n, k);
    let seen = ln_p(one.k) + TIE_SLACK.ln_1p();
    let tables = (least..=most).map(ln_p).filter(|p| *p <= seen);
    let p: f64 = tables.map(f64::exp).sum();
    if p > 1.0 - CERTAIN_WITHIN { 1.0 } else { p }
}

/// The interval of Newcombe for the difference of two shares, first less second, from both Wilson intervals:
/// `d - sqrt((p1 - l1)^2 + (u2 - p2)^2)` to `d + sqrt((u1 - p1)^2 + (p2 - l2)^2)`.
///
/// Source: Newcombe 1998, Statistics in Medicine 17:873-890, method 10.
#[must_use]
pub fn difference(one: Part, other: Part, confidence: f64) -> Interval {
    let (p1, p2) = (one.share(), other.share());
    let (w1, w2) = (
        wilson(one.k, one.n, confidence),
        wilson(other.k, other.n, confidence),
    );
    Interval {
        low: p1 - p2 - (p1 - w1.low).hypot(w2.high - p2),
        high: p1 - p2 + (w1.high - p1).hypot(p2 - w2.low),
    }
}

/// Whether several shares agree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agreement {
    /// Chi-square of the table.
    pub chi2: f64,
    /// Degrees of freedom: one less than there are shares.
    pub df: usize,
    /// Its p.
    pub p: f64,
}

/// Pearson's chi-square of several shares against their pooled one, `sum (k_i - n_i P)^2 / (n_i P (1 - P))`. Nothing
/// where there are fewer than two, or all or none did.
///
/// Source: Pearson 1900; textbook.
#[must_use]
pub fn agreement(parts: &[Part]) -> Option<Agreement> {
    let parts: Vec<&Part> = parts.iter().filter(|part| part.n > 0).collect();
    let (k, n) = parts
        .iter()
        .fold((0, 0), |(k, n), part| (k + part.k, n + part.n));
    if parts.len() < 2 || k == 0 || k == n {
        return None;
    }
    let pooled = k as f64 / n as f64;
    let term = |part: &&Part| {
        let expected = part.n as f64 * pooled;
        (part.k as f64 - expected).powi(2) / (expected * (1.0 - pooled))
    };
    let chi2: f64 = parts.iter().map(term).sum();
    let df = parts.len() - 1;
    Some(Agreement {
        chi2,
        df,
        p: chi_square_upper(chi2, df),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_in_common_to_compare_is_no_evidence() {
        assert_eq!(fisher_exact(Part::new(0, 0), Part::new(3, 5)), 1.0);
        assert_eq!(fisher_exact(Part::new(0, 5), Part::new(0, 9)), 1.0);
        assert_eq!(agreement(&[Part::new(3, 3), Part::new(2, 2)]), None);
        assert_eq!(agreement(&[Part::new(3, 5), Part::new(0, 0)]), None);
    }

    /// By hand: (8 - 6)^2/(12 * 1/2 * 1/2) twice is 4/3 + 4/3.
    #[test]
    fn two_shares_agree_or_not() {
        let found = agreement(&[Part::new(8, 12), Part::new(4, 12)]).unwrap();
        assert!((found.chi2 - 8.0 / 3.0).abs() < 1e-12, "{found:?}");
        assert_eq!(found.df, 1);
    }
}
