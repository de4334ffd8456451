//! Which of several ratios do counts fit best?
//!
//! Each rival gets its exact p and, by Bayes' rule, its weight after the counts. Knows ratios as weights
//! only; what they are ratios of is for the rooms above.

use super::counts::{GoodnessOfFit, goodness_of_fit};
use super::logs::{ln_factorial, log_sum_exp};

/// One ratio beside its rivals.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    /// The tests of the counts against it.
    pub fit: GoodnessOfFit,
    /// Its share of belief after the counts; the shares of all rivals sum to 1.
    pub posterior: f64,
}

/// Weighs ratios, each with its belief before, against counts: the multinomial likelihood times the belief,
/// over the sum of all (Bayes' rule). Where no ratio can give the counts, all shares are 0.
///
/// # Panics
/// As [`goodness_of_fit`], for any ratio.
#[must_use]
pub fn weigh(observed: &[u64], rivals: &[(Vec<f64>, f64)]) -> Vec<Weighed> {
    let logs: Vec<f64> = rivals
        .iter()
        .map(|(weights, prior)| ln_multinomial(observed, weights) + prior.ln())
        .collect();
    let all = log_sum_exp(&logs);
    let share = |log: f64| {
        if all == f64::NEG_INFINITY {
            0.0
        } else {
            (log - all).exp()
        }
    };
    rivals
        .iter()
        .zip(&logs)
        .map(|((weights, _), log)| Weighed {
            fit: goodness_of_fit(observed, weights, 0),
            posterior: share(*log),
        })
        .collect()
}

/// Log of the multinomial probability of counts under weights: `ln n! + sum (x ln p - ln x!)`.
pub fn ln_multinomial(observed: &[u64], weights: &[f64]) -> f64 {
    let total: f64 = weights.iter().sum();
    let n = observed.iter().sum();
    let term = |(count, weight): (&u64, &f64)| match (*count, *weight) {
        (0, _) => 0.0,
        (count, weight) => count as f64 * (weight / total).ln() - ln_factorial(count),
    };
    ln_factorial(n) + observed.iter().zip(weights).map(term).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_follow_bayes_rule() {
        // 3 and 1: P = 4 (3/4)^3 (1/4) = 27/64 under 3:1, 4/16 under 1:1; shares 27/43 and 16/43 by hand.
        let weighed = weigh(&[3, 1], &[(vec![3.0, 1.0], 0.5), (vec![1.0, 1.0], 0.5)]);
        assert!((weighed[0].posterior - 27.0 / 43.0).abs() < 1e-12);
        assert!((weighed[1].posterior - 16.0 / 43.0).abs() < 1e-12);
    }

    #[test]
    fn an_impossible_rival_gets_nothing() {
        let weighed = weigh(&[3, 1], &[(vec![1.0, 0.0], 0.5), (vec![1.0, 1.0], 0.5)]);
        assert_eq!(weighed[0].posterior, 0.0);
        assert_eq!(weighed[1].posterior, 1.0);
        let none = weigh(&[3, 1], &[(vec![1.0, 0.0], 1.0)]);
        assert_eq!(none[0].posterior, 0.0);
    }
}
