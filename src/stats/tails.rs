//! Tail probabilities of the chi-square and the binomial distribution, and normal quantiles.
//!
//! Written for relative accuracy far out in the tails, where a p-value of 1e-300 must still have its
//! digits. Called by the tests on counts, the intervals and the numbers of plants needed.

use std::f64::consts::{SQRT_2, TAU};

use super::logs::{erfc_of_root, ln_binomial, ln_poisson, log_sum_exp, normal_cdf};

/// The two-sided 95 % point of the standard normal distribution: its 0.975 quantile.
pub const NORMAL_95: f64 = 1.959_963_984_540_054;

/// The standard normal quantile: the `x` with `normal_cdf(x) = p`, for `0 < p < 1`.
///
/// The inverse error function, then one Newton step on [`normal_cdf`].
pub fn normal_quantile(p: f64) -> f64 {
    let x = -SQRT_2 * statrs::function::erf::erfc_inv(2.0 * p);
    let density = (-0.5 * x * x).exp() / TAU.sqrt();
    x - (normal_cdf(x) - p) / density
}

/// `P(X >= chi2)` for a chi-square variable with `df` degrees of freedom, `df >= 1`.
///
/// With `x = chi2/2`, a finite sum of positive terms: for even df the Poisson sum
/// `sum_{k < df/2} e^-x x^k/k!`, for odd df `erfc(√x) + sum_{k=1}^{(df-1)/2} e^-x x^(k-1/2)/Γ(k+1/2)`.
/// Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 26.4.4 and 26.4.5.
pub fn chi_square_upper(chi2: f64, df: usize) -> f64 {
    if chi2 <= 0.0 {
        return 1.0;
    }
    let (x, half) = (0.5 * chi2, 0.5 * (df % 2) as f64);
    let ln_terms: Vec<f64> = (0..df / 2)
        .map(|k| ln_poisson(k as f64 + half, x))
        .collect();
    let sum = log_sum_exp(&ln_terms).exp();
    let upper = if df % 2 == 1 {
        erfc_of_root(x) + sum
    } else {
        sum
    };
    upper.min(1.0)
}

/// `P(at least k successes)` and `P(fewer)` in `n` trials with success probability `p`.
///
/// The tail beyond `k` on the far side of the mean is summed outward, largest term first, until
/// further terms change nothing; the other is one less.
///
/// # Panics
/// If `p` is not in `[0, 1]`.
pub fn binomial_tails(k: u64, n: u64, p: f64) -> (f64, f64) {
    assert!((0.0..=1.0).contains(&p), "probability {p} is not in [0, 1]");
    if k == 0 || (p == 1.0 && k <= n) {
        (1.0, 0.0)
    } else if k > n || p == 0.0 {
        (0.0, 1.0)
    } else if k as f64 >= (n as f64 + 1.0) * p {
        let upper = ln_binomial(k, n, p).exp() * falling_sum(k, n, p / (1.0 - p));
        (upper, 1.0 - upper)
    } else {
        let lower = ln_binomial(k - 1, n, p).exp() * falling_sum(n - (k - 1), n, (1.0 - p) / p);
        (1.0 - lower, lower)
    }
}

/// `P(at least k)/P(exactly k)` where `k` is beyond the mode, so that terms fall.
fn falling_sum(k: u64, n: u64, odds: f64) -> f64 {
    let (mut sum, mut term) = (0.0, 1.0);
    for i in k..=n {
        sum += term;
        term *= odds * (n - i) as f64 / (i + 1) as f64;
        if sum + term == sum {
            break;
        }
    }
    sum
}

#[cfg(test)]
#[expect(
    clippy::excessive_precision,
    reason = "reference digits as their source prints them"
)]
mod tests {
    use super::*;

    #[track_caller]
    fn close(ours: f64, theirs: f64) {
        assert!(
            (ours - theirs).abs() <= 1e-12 * theirs.abs(),
            "{ours:e}, reference {theirs:e}"
        );
    }

    /// mpmath 1.4.1, `gammainc(df/2, chi2/2, inf, regularized=True)` at 30 digits.
    #[test]
    fn chi_square_tails_agree_with_mpmath() {
        close(
            chi_square_upper(3000.0, 2000),
            2.204698611388996142152512e-43,
        );
        close(chi_square_upper(0.5, 200), 1.0);
        close(
            chi_square_upper(1000.0, 101),
            7.318800770587008134684981e-148,
        );
        close(chi_square_upper(1400.0, 1), 2.101014516264217495037899e-306);
        close(chi_square_upper(1000.0, 7), 1.20442677351901876218892e-211);
        assert_eq!(chi_square_upper(0.0, 3), 1.0);
    }

    /// mpmath 1.4.1, sums of `binomial(n, i)*p**i*(1 - p)**(n - i)` at 400 digits.
    #[test]
    fn binomial_tails_agree_with_mpmath() {
        close(
            binomial_tails(300, 1000, 0.5).1,
            3.766850723525807948258e-38,
        );
        close(
            binomial_tails(700, 1000, 0.5).0,
            8.832839003975068570202e-38,
        );
        close(
            binomial_tails(3, 100_000, 1e-9).0,
            1.666491679499223653169e-13,
        );
    }

    #[test]
    fn binomial_tails_add_to_one_and_end_where_they_must() {
        assert_eq!(binomial_tails(0, 10, 0.3), (1.0, 0.0));
        assert_eq!(binomial_tails(11, 10, 0.3), (0.0, 1.0));
        close(binomial_tails(10, 10, 0.5).0, 1.0 / 1024.0);
        close(binomial_tails(1, 10, 0.5).1, 1.0 / 1024.0);
        assert_eq!(binomial_tails(3, 10, 0.0), (0.0, 1.0));
        assert_eq!(binomial_tails(3, 10, 1.0), (1.0, 0.0));
    }

    /// mpmath 1.4.1, `sqrt(2)*erfinv(2p - 1)` and, for 1e-300, `findroot` on `log(ncdf(x))`.
    #[test]
    fn normal_quantiles_agree_with_mpmath() {
        for (p, theirs) in [
            (1e-300, -37.04709629936119923722296),
            (1e-20, -9.262340089798407573717386),
            (0.025, -1.959963984540054235524594),
            (0.975, 1.959963984540054235524594),
        ] {
            close(normal_quantile(p), theirs);
        }
        assert!(normal_quantile(0.5).abs() < 1e-15);
    }
}
