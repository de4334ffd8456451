//! Intervals for a proportion: Wilson's and Clopper and Pearson's.
//!
//! Given only `k` of `n` and a confidence; germination and ratio answers call them.

use super::tails::{binomial_tails, normal_quantile};

/// The two ends of an interval for a proportion, both in `[0, 1]`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// The lower end.
    pub low: f64,
    /// The upper end.
    pub high: f64,
}

/// Nothing counted says nothing: the whole range.
const WHOLE: Interval = Interval {
    low: 0.0,
    high: 1.0,
};

/// Wilson's score interval for `k` successes of `n` at a two-sided `confidence` in (0, 1).
///
/// The two roots `P` of `(k/n - P)² = z² P (1 - P)/n`; each is taken in the form that does not cancel.
/// Source: Wilson 1927, Journal of the American Statistical Association 22:209-212.
///
/// # Panics
/// If `k > n`.
pub fn wilson(k: u64, n: u64, confidence: f64) -> Interval {
    assert!(k <= n, "{k} successes in {n} trials");
    if n == 0 {
        return WHOLE;
    }
    let z = -normal_quantile((1.0 - confidence) / 2.0);
    Interval {
        low: wilson_low(k, n, z),
        high: 1.0 - wilson_low(n - k, n, z),
    }
}

/// The smaller root, as the product of the roots over the larger.
fn wilson_low(k: u64, n: u64, z: f64) -> f64 {
    let (share, slack) = (k as f64 / n as f64, z * z / n as f64);
    let spread = (slack * (4.0 * share * (1.0 - share) + slack)).sqrt();
    2.0 * share * share / (2.0 * share + slack + spread)
}

/// Clopper and Pearson's exact interval for `k` of `n` at a two-sided `confidence` in (0, 1).
///
/// The proportions at which the observed tail, `k` or more and `k` or fewer, has probability
/// `(1 - confidence)/2`. Source: Clopper and Pearson 1934, Biometrika 26:404-413.
///
/// # Panics
/// If `k > n`.
pub fn clopper_pearson(k: u64, n: u64, confidence: f64) -> Interval {
    assert!(k <= n, "{k} successes in {n} trials");
    if n == 0 {
        return WHOLE;
    }
    let tail = (1.0 - confidence) / 2.0;
    Interval {
        low: clopper_low(k, n, tail),
        high: 1.0 - clopper_low(n - k, n, tail),
    }
}

/// The proportion at which `k` or more successes have probability `tail`: bisection to neighbouring
/// doubles.
fn clopper_low(k: u64, n: u64, tail: f64) -> f64 {
    if k == 0 {
        return 0.0;
    }
    let (mut low, mut high) = (0.0, 1.0);
    loop {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            return middle;
        }
        if binomial_tails(k, n, middle).0 < tail {
            low = middle;
        } else {
            high = middle;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_counted_leaves_the_whole_range() {
        assert_eq!(wilson(0, 0, 0.95), WHOLE);
        assert_eq!(clopper_pearson(0, 0, 0.95), WHOLE);
    }

    /// For `k = 0` the exact upper end is `1 - (tail)^(1/n)` (Clopper and Pearson 1934).
    #[test]
    fn none_of_n_has_the_closed_form() {
        for n in [1u64, 7, 100, 5000] {
            let interval = clopper_pearson(0, n, 0.95);
            let closed = 1.0 - 0.025f64.powf(1.0 / n as f64);
            assert!((interval.high - closed).abs() < 1e-13, "{n}");
            assert_eq!(interval.low, 0.0);
            assert_eq!(wilson(0, n, 0.95).low, 0.0);
            assert_eq!(wilson(n, n, 0.95).high, 1.0);
        }
    }

    #[test]
    fn more_confidence_is_a_wider_interval() {
        for interval in [wilson, clopper_pearson] {
            let (narrow, wide) = (interval(9, 12, 0.8), interval(9, 12, 0.99));
            assert!(
                wide.low < narrow.low
                    && narrow.low < 0.75
                    && 0.75 < narrow.high
                    && narrow.high < wide.high
            );
        }
    }
}
