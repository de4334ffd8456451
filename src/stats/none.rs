//! None of so many: how likely that is at a rate, how many make it more than bad luck, and what a count says between a
//! rate and a part of it.
//!
//! Plain binomials. What the trials are is not known here; the growing room asks of flowers.

/// The chance that none of `n` trials succeeds where each does with `rate`: `(1 - rate)^n`.
#[must_use]
pub fn none_of(rate: f64, n: u64) -> f64 {
    (1.0 - rate).powf(n as f64)
}

/// The fewest trials of which none succeeding has a chance under `bound` at a rate above 0.
#[must_use]
pub fn enough_for(rate: f64, bound: f64) -> u64 {
    let trials = (bound.ln() / (-rate).ln_1p()).floor() as u64;
    (trials.saturating_sub(1)..)
        .find(|n| none_of(rate, *n) < bound)
        .expect("the chance falls below any bound")
}

/// How much likelier `k` of `n` are, as a logarithm, where the rate is only `part` of what it was: from the two binomial
/// likelihoods, `k ln(part) + (n - k) ln((1 - part rate)/(1 - rate))`.
#[must_use]
pub fn log_times_at_part(k: u64, n: u64, rate: f64, part: f64) -> f64 {
    let failed = n.saturating_sub(k) as f64;
    k as f64 * part.ln() + failed * ((-part * rate).ln_1p() - (-rate).ln_1p())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 0.911^32 = 0.0506 and 0.911^33 = 0.0461; 0.6^5 = 0.078 and 0.6^6 = 0.047; 0.25^2 = 0.0625.
    #[test]
    fn enough_trials_are_counted_exactly() {
        assert_eq!(enough_for(0.089, 0.05), 33);
        assert_eq!(enough_for(0.40, 0.05), 6);
        assert_eq!(enough_for(0.75, 0.05), 3);
        assert_eq!(enough_for(0.65, 0.05), 3);
        assert!((none_of(0.4, 6) - 0.046_656).abs() < 1e-12);
    }

    /// SciPy 1.17.1: `binom.pmf(k, n, p / 10) / binom.pmf(k, n, p)`, for (k, n, p) = (0, 3, 0.26), (5, 7, 0.84) and
    /// (1, 26, 0.65).
    #[test]
    fn likelihoods_are_compared() {
        for (k, n, p, times) in [
            (0, 3, 0.26, 2.280_246_046_631),
            (5, 7, 0.84, 0.000_327_756_25),
            (1, 26, 0.65, 4_662_181_353.353_7),
        ] {
            let found = log_times_at_part(k, n, p, 0.1).exp();
            assert!((found / times - 1.0).abs() < 1e-9, "{k} of {n}: {found}");
        }
    }
}
