//! Logarithms of sums, factorials, gammas and probabilities, and the normal distribution function.
//!
//! Likelihoods of whole trays lie far below the smallest double, so every room above adds and
//! multiplies in logs through this file. It holds no tests on data; those stand in
//! [`counts`](super::counts) and [`multinomial`](super::multinomial).

use std::f64::consts::{FRAC_1_SQRT_2, TAU};

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

/// Stirling's series: `ln Γ(x + 1) - [(x + 1/2) ln x - x + ln(2π)/2]` for `x >= 16`.
///
/// `1/(12x) - 1/(360x³) + 1/(1260x⁵) - 1/(1680x⁷) + 1/(1188x⁹)`; the next term is below 1e-16.
/// Source: NIST Digital Library of Mathematical Functions, 5.11.1.
fn stirling_error(x: f64) -> f64 {
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
pub fn ln_beta(a: f64, b: f64) -> f64 {
    ln_gamma(a) + ln_gamma(b) - ln_gamma(a + b)
}

/// The deviance part `x ln(x/mean) + mean - x >= 0`, without cancellation near `x = mean`.
///
/// With `v = (x - mean)/(x + mean)`, `ln(x/mean) = 2 artanh(v)`; near the mean the series of
/// artanh is used. Source: Loader 2000, "Fast and accurate computation of binomial probabilities".
pub fn deviance(x: f64, mean: f64) -> f64 {
    if x == 0.0 {
        return mean;
    }
    let v = (x - mean) / (x + mean);
    if v.abs() >= 0.1 {
        return x * (x / mean).ln() + mean - x;
    }
    // x ln(x/mean) + mean - x = (x - mean) v + 2x (v³/3 + v⁵/5 + ...)
    let (mut sum, mut power) = ((x - mean) * v, 2.0 * x * v);
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
    if x == 0.0 {
        -mean
    } else if mean == 0.0 {
        f64::NEG_INFINITY
    } else if x < SERIES_FROM {
        x * mean.ln() - mean - ln_gamma(x + 1.0)
    } else {
        -deviance(x, mean) - stirling_error(x) - 0.5 * (TAU * x).ln()
    }
}

/// `ln[C(n, k) p^k (1 - p)^(n - k)]`, as two Poisson probabilities over that of their total.
///
/// `k` and `n` may be real, `0 <= k <= n`; `complement` is `1 - p`, given apart so that neither tail
/// loses digits.
pub fn ln_binomial(k: f64, n: f64, p: f64, complement: f64) -> f64 {
    ln_poisson(k, n * p) + ln_poisson(n - k, n * complement) - ln_poisson(n, n)
}

/// The standard normal distribution function, `erfc(-x/√2)/2`: relatively accurate in both tails.
pub fn normal_cdf(x: f64) -> f64 {
    0.5 * statrs::function::erf::erfc(-x * FRAC_1_SQRT_2)
}

/// The standard normal quantile: the `x` with `normal_cdf(x) = p`, for `0 < p < 1`.
///
/// The inverse error function, then one Newton step on [`normal_cdf`].
pub fn normal_quantile(p: f64) -> f64 {
    let x = -statrs::function::erf::erfc_inv(2.0 * p) / FRAC_1_SQRT_2;
    let density = (-0.5 * x * x).exp() / TAU.sqrt();
    x - (normal_cdf(x) - p) / density
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
