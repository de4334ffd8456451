//! Tail probabilities: chi-square, regularised incomplete beta and binomial.
//!
//! Written for relative accuracy far out in the tails, where a p-value of 1e-60 must still have its
//! digits. Called by the tests on counts, the intervals and the numbers of plants needed.

use super::logs::{ln_binomial, ln_poisson, log_sum_exp};

/// `P(X >= chi2)` for a chi-square variable with `df` degrees of freedom, `df >= 1`.
///
/// With `x = chi2/2`, a finite sum of positive terms: for even df the Poisson sum
/// `sum_{k < df/2} e^-x x^k/k!`, for odd df `erfc(√x) + sum_{k=1}^{(df-1)/2} e^-x x^(k-1/2)/Γ(k+1/2)`.
/// Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 26.4.4 and 26.4.5.
pub fn chi_square_upper(chi2: f64, df: usize) -> f64 {
    if chi2 <= 0.0 {
        return 1.0;
    }
    let (x, half) = (chi2 / 2.0, 0.5 * (df % 2) as f64);
    let ln_terms: Vec<f64> = (0..df / 2)
        .map(|k| ln_poisson(k as f64 + half, x))
        .collect();
    let sum = log_sum_exp(&ln_terms).exp();
    let upper = if df % 2 == 1 {
        statrs::function::erf::erfc(x.sqrt()) + sum
    } else {
        sum
    };
    upper.min(1.0)
}

/// Both tails of the regularised incomplete beta function: `I_x(a, b)` and `1 - I_x(a, b)`.
///
/// `a, b > 0`, `0 <= x <= 1`. The smaller tail comes from the continued fraction, the other by
/// subtraction from one. Source: NIST Digital Library of Mathematical Functions, 8.17.22, evaluated by
/// Lentz's method as modified by Thompson and Barnett 1986.
///
/// # Panics
/// If an argument is outside its range.
pub fn beta_tails(a: f64, b: f64, x: f64) -> (f64, f64) {
    assert!(
        a > 0.0 && b > 0.0 && (0.0..=1.0).contains(&x),
        "I_{x}({a}, {b}) is not defined"
    );
    if x <= 0.0 {
        (0.0, 1.0)
    } else if x >= 1.0 {
        (1.0, 0.0)
    } else if x <= (a + 1.0) / (a + b + 2.0) {
        let lower = beta_lower(a, b, x, 1.0 - x);
        (lower, 1.0 - lower)
    } else {
        let upper = beta_lower(b, a, 1.0 - x, x);
        (1.0 - upper, upper)
    }
}

/// `I_x(a, b)` where the continued fraction converges fast, `x <= (a + 1)/(a + b + 2)`.
fn beta_lower(a: f64, b: f64, x: f64, complement: f64) -> f64 {
    // x^a (1-x)^b / (a B(a, b)) = b/(a + b) * [binomial probability of a in a + b]
    let ln_front = ln_binomial(a, a + b, x, complement) + (b / (a + b)).ln();
    (ln_front.exp() * beta_fraction(a, b, x)).min(1.0)
}

/// The continued fraction of the incomplete beta function.
fn beta_fraction(a: f64, b: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let guard = |v: f64| if v.abs() < TINY { TINY } else { v };
    let mut d = 1.0 / guard(1.0 - (a + b) * x / (a + 1.0));
    let (mut c, mut h) = (1.0, d);
    let mut m = 1.0;
    loop {
        let twice = a + 2.0 * m;
        let even = m * (b - m) * x / ((twice - 1.0) * twice);
        let odd = -(a + m) * (a + b + m) * x / (twice * (twice + 1.0));
        let mut change = 1.0;
        for step in [even, odd] {
            d = 1.0 / guard(1.0 + step * d);
            c = guard(1.0 + step / c);
            change = c * d;
            h *= change;
        }
        if (change - 1.0).abs() < 1e-15 {
            return h;
        }
        m += 1.0;
    }
}

/// `P(at least k successes)` and `P(fewer)` in `n` trials with success probability `p`.
pub fn binomial_tails(k: u64, n: u64, p: f64) -> (f64, f64) {
    if k == 0 {
        (1.0, 0.0)
    } else if k > n {
        (0.0, 1.0)
    } else {
        beta_tails(k as f64, (n - k) as f64 + 1.0, p)
    }
}
