//! Logarithms of sums, factorials, gammas and probabilities, and the normal distribution function.
//!
//! Likelihoods of whole trays lie far below the smallest double, so every room above adds and
//! multiplies in logs through this file. It holds no tests on data; those stand in
//! [`counts`](super::counts) and [`multinomial`](super::multinomial).

use std::f64::consts::{PI, TAU};

/// `ln(sum exp(x))`, without overflow or underflow. An empty slice, or one of nothing but minus
/// infinities, is the logarithm of zero: minus infinity.
pub fn log_sum_exp(terms: &[f64]) -> f64 {
    let largest = terms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if largest.is_infinite() {
        return largest;
    }
    let sum: f64 = terms.iter().map(|x| (x - largest).exp()).sum();
    largest + sum.ln()
}

/// Above this the asymptotic series of [`stirling_error`] is exact to double precision.
const SERIES_FROM: f64 = 16.0;

/// Stirling's error `ln Γ(x + 1) - [(x + 1/2) ln x - x + ln(2π)/2]` for `x > 0`.
///
/// From 16 upward the series `1/(12x) - 1/(360x³) + 1/(1260x⁵) - 1/(1680x⁷) + 1/(1188x⁹)`, whose next
/// term is below 1e-16. Source: NIST Digital Library of Mathematical Functions, 5.11.1.
fn stirling_error(x: f64) -> f64 {
    if x < SERIES_FROM {
        return ln_gamma(x + 1.0) - (x + 0.5) * x.ln() + x - 0.5 * TAU.ln();
    }
    let y = 1.0 / (x * x);
    (1.0 / 12.0 - y * (1.0 / 360.0 - y * (1.0 / 1260.0 - y * (1.0 / 1680.0 - y / 1188.0)))) / x
}

/// `ln Γ(x)` for `x > 0`.
///
/// Stirling's series from 16 upward; below, the recurrence `Γ(x + 1) = x Γ(x)` carries the argument
/// there (NIST Digital Library of Mathematical Functions, 5.5.1 and 5.11.1). Absolute error about
/// 1e-14 for small arguments, relative error about 1e-15 for large ones.
pub fn ln_gamma(x: f64) -> f64 {
    let (mut argument, mut product) = (x, 1.0);
    while argument < SERIES_FROM {
        product *= argument;
        argument += 1.0;
    }
    let head = (argument - 0.5) * argument.ln() - argument + 0.5 * TAU.ln();
    head + stirling_error(argument) - product.ln()
}

/// `ln n!`: the logarithm of the exact integer up to 20, `ln Γ(n + 1)` above.
pub fn ln_factorial(n: u64) -> f64 {
    match n {
        0..=20 => ((1..=n).product::<u64>() as f64).ln(),
        _ => ln_gamma(n as f64 + 1.0),
    }
}

/// `ln B(a, b) = ln Γ(a) + ln Γ(b) - ln Γ(a + b)` for `a, b > 0`.
///
/// Each gamma is written by Stirling's formula, whose large parts then cancel on paper rather than in
/// the last digits.
pub fn ln_beta(a: f64, b: f64) -> f64 {
    let (small, large, sum) = (a.min(b), a.max(b), a + b);
    let powers = small * (small / sum).ln() + large * (-small / sum).ln_1p();
    let errors = stirling_error(small) + stirling_error(large) - stirling_error(sum);
    0.5 * (TAU * sum / (a * b)).ln() + powers + errors
}

/// The deviance part `x ln(x/mean) + mean - x >= 0`, without cancellation near `x = mean`.
///
/// With `v = (x - mean)/(x + mean)`, `ln(x/mean) = 2 artanh(v)`; near the mean the series of
/// artanh is used. Source: Loader 2000, "Fast and accurate computation of binomial probabilities".
pub fn deviance(x: f64, mean: f64) -> f64 {
    deviance_of(x, mean, x - mean)
}

/// [`deviance`] with the difference `x - mean` given apart, where the caller knows more of its digits.
fn deviance_of(x: f64, mean: f64, difference: f64) -> f64 {
    if x == 0.0 {
        return mean;
    }
    let v = difference / (x + mean);
    if v.abs() >= 0.1 {
        return x * (x / mean).ln() - difference;
    }
    // x ln(x/mean) + mean - x = (x - mean) v + 2x (v³/3 + v⁵/5 + ...)
    let (mut sum, mut power) = (difference * v, 2.0 * x * v);
    for odd in (3..).step_by(2) {
        power *= v * v;
        let next = sum + power / f64::from(odd);
        if next == sum {
            break;
        }
        sum = next;
    }
    sum
}

/// `ln(e^-mean mean^x / Γ(x + 1))`, the logarithm of a Poisson probability, for real `x >= 0`.
///
/// From 16 upward in Loader's saddle-point form `-deviance - stirling error - ln(2πx)/2`, which keeps
/// full precision where `x ln mean - mean - ln x!` would cancel (Loader 2000, as above).
pub fn ln_poisson(x: f64, mean: f64) -> f64 {
    ln_poisson_of(x, mean, x - mean)
}

fn ln_poisson_of(x: f64, mean: f64, difference: f64) -> f64 {
    if x == 0.0 {
        -mean
    } else if mean == 0.0 {
        f64::NEG_INFINITY
    } else {
        -deviance_of(x, mean, difference) - stirling_error(x) - 0.5 * (TAU * x).ln()
    }
}

/// `ln[C(n, k) p^k (1 - p)^(n - k)]` for `0 <= k <= n`, `0 < p < 1`.
///
/// As two Poisson probabilities over that of their total. Both counts miss their means by the same
/// amount, which is taken from the rarer side so that a small `p` loses no digits.
pub fn ln_binomial(k: u64, n: u64, p: f64) -> f64 {
    let (hits, misses, all) = (k as f64, (n - k) as f64, n as f64);
    let surplus = if p <= 0.5 {
        hits - all * p
    } else {
        all * (1.0 - p) - misses
    };
    ln_poisson_of(hits, all * p, surplus) + ln_poisson_of(misses, all * (1.0 - p), -surplus)
        - ln_poisson(all, all)
}

/// `erfc(√y)`, the complementary error function of a square root, for `y >= 0`.
///
/// Taking the square keeps the digits that a root and a square would round away. Below 2 one less the
/// series `erf(√y) = 2√(y/π) e^-y sum (2y)^k/(1·3···(2k + 1))`, above it the continued fraction of
/// `Γ(1/2, y)/√π`. Source: NIST Digital Library of Mathematical Functions, 7.6.2 and 8.9.2.
pub(super) fn erfc_of_root(y: f64) -> f64 {
    if y < 2.0 {
        1.0 - erf_series(y)
    } else {
        (y / PI).sqrt() * (-y).exp() * erfc_fraction(y)
    }
}

fn erf_series(y: f64) -> f64 {
    let (mut sum, mut term) = (0.0, 1.0);
    for k in 1.. {
        sum += term;
        term *= 2.0 * y / f64::from(2 * k + 1);
        if sum + term == sum {
            break;
        }
    }
    2.0 * (y / PI).sqrt() * (-y).exp() * sum
}

/// `e^y y^(-1/2) Γ(1/2, y) = 1/(y + 1/2 - (1·1/2)/(y + 5/2 - (2·3/2)/(y + 9/2 - ...)))`, from the
/// inside out; 60 levels are exact to double precision from `y = 2` on.
fn erfc_fraction(y: f64) -> f64 {
    let mut denominator = y + 120.5;
    for level in (1..=60).rev() {
        let level = f64::from(level);
        denominator = y + 2.0 * level - 1.5 - level * (level - 0.5) / denominator;
    }
    1.0 / denominator
}

/// The standard normal distribution function, `erfc(-x/√2)/2`: relatively accurate in both tails.
pub fn normal_cdf(x: f64) -> f64 {
    let tail = 0.5 * erfc_of_root(0.5 * x * x);
    if x < 0.0 { tail } else { 1.0 - tail }
}

/// A running sum that carries what each addition rounds away (Neumaier 1974).
#[derive(Debug, Clone, Copy, Default)]
pub struct CompensatedSum {
    sum: f64,
    lost: f64,
}

impl CompensatedSum {
    /// Adds one term.
    pub fn add(&mut self, term: f64) {
        let next = self.sum + term;
        self.lost += if self.sum.abs() >= term.abs() {
            (self.sum - next) + term
        } else {
            (term - next) + self.sum
        };
        self.sum = next;
    }

    /// The sum so far.
    pub fn total(self) -> f64 {
        self.sum + self.lost
    }
}

/// The digamma function, the slope of [`ln_gamma`], for `x > 0`.
///
/// Source: NIST Digital Library of Mathematical Functions, 5.2.2.
pub fn digamma(x: f64) -> f64 {
    statrs::function::gamma::digamma(x)
}

#[cfg(test)]
#[expect(
    clippy::excessive_precision,
    reason = "reference digits as their source prints them"
)]
mod tests {
    use super::*;

    #[track_caller]
    fn close(ours: f64, theirs: f64, relative: f64) {
        assert!(
            (ours - theirs).abs() <= relative * theirs.abs(),
            "{ours:e}, reference {theirs:e}"
        );
    }

    #[test]
    fn sums_of_logs_meet_the_empty_the_impossible_and_the_tiny() {
        assert_eq!(log_sum_exp(&[]), f64::NEG_INFINITY);
        assert_eq!(log_sum_exp(&[f64::NEG_INFINITY; 3]), f64::NEG_INFINITY);
        close(
            log_sum_exp(&[-1e4, -1e4, f64::NEG_INFINITY]),
            -1e4 + 2f64.ln(),
            1e-15,
        );
        close(log_sum_exp(&[800.0, 800.0]), 800.0 + 2f64.ln(), 1e-15);
    }

    /// mpmath 1.4.1, `loggamma(x)` at 30 digits.
    #[test]
    fn ln_gamma_agrees_with_mpmath() {
        for (x, theirs) in [
            (0.5, 0.5723649429247000870717137),
            (1.5, -0.1207822376352452223455184),
            (15.5, 26.53691449111561362395295),
            (16.0, 27.89927138384089156608944),
            (100.0, 359.134205369575398776044),
            (12345.678, 103959.9199055460609210806),
            (1e6, 12815504.56914761165997697),
        ] {
            assert!(
                (ln_gamma(x) - theirs).abs() <= 2e-15 * f64::max(theirs.abs(), 5.0),
                "{x}: {:e}",
                ln_gamma(x)
            );
        }
    }

    #[test]
    fn ln_factorials_are_those_of_the_integers() {
        assert_eq!((ln_factorial(0), ln_factorial(1)), (0.0, 0.0));
        for n in 1..400u64 {
            close(
                ln_factorial(n),
                ln_factorial(n - 1) + (n as f64).ln(),
                1e-14,
            );
        }
    }

    /// mpmath 1.4.1, `log(beta(a, b))` at 30 digits.
    #[test]
    fn ln_beta_agrees_with_mpmath() {
        close(ln_beta(1.0, 19.0), -2.944438979166440460009027, 1e-14);
        close(ln_beta(0.5, 60.0), -1.472724028963662278577, 1e-13);
    }

    /// mpmath 1.4.1, `ncdf(x)` at 30 digits.
    #[test]
    fn the_normal_distribution_is_accurate_in_both_tails() {
        for (x, theirs) in [
            (-37.5, 4.605353009581954843827969e-308),
            (-10.0, 7.619853024160526065973343e-24),
            (-5.0, 0.0000002866515718791939116737523),
            (-1.0, 0.1586552539314570514147675),
            (0.3, 0.617911422188952637306529),
            (6.0, 0.9999999990134123549623019),
        ] {
            close(normal_cdf(x), theirs, 1e-12);
        }
    }

    #[test]
    fn poisson_logs_join_where_the_formula_changes() {
        for mean in [0.01, 3.0, 15.9, 400.0] {
            for x in [0.0, 1.0, 15.0, 16.0, 17.0, 300.0] {
                let plain = x * f64::ln(mean) - mean - ln_gamma(x + 1.0);
                assert!(
                    (ln_poisson(x, mean) - plain).abs() < 1e-12 * plain.abs().max(1.0),
                    "{x} at {mean}"
                );
            }
        }
        assert_eq!(ln_poisson(0.0, 0.0), 0.0);
        assert_eq!(ln_poisson(1.0, 0.0), f64::NEG_INFINITY);
    }

    #[test]
    fn compensated_sums_keep_what_plain_sums_lose() {
        let mut sum = CompensatedSum::default();
        [1.0, 1e100, 1.0, -1e100]
            .into_iter()
            .for_each(|x| sum.add(x));
        assert_eq!(sum.total(), 2.0);
    }
}
