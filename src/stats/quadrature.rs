//! Gauss rules for averaging over a normal or a beta distribution.
//!
//! A rule with `n` nodes averages polynomials up to degree `2n - 1` exactly. Weights are kept as
//! logarithms, because likelihoods can make the smallest of them the one that matters. The diagnosis
//! averages over a batch's speed (normal) and its share of off-types (beta).

use super::logs::log_sum_exp;

/// Nodes in rising order and the logarithms of their weights; the weights sum to one.
#[derive(Debug, Clone, PartialEq)]
pub struct Rule {
    /// Where to evaluate.
    pub nodes: Vec<f64>,
    /// Logarithm of each node's weight.
    pub ln_weights: Vec<f64>,
}

/// The `n`-node Gauss-Hermite rule for the normal distribution with mean 0 and standard deviation `sd`.
///
/// Probabilists' Hermite polynomials: recurrence coefficients `a_k = 0`, `b_k = √k`.
/// Source: NIST Digital Library of Mathematical Functions, 18.9.1 and 3.5(v).
///
/// # Panics
/// If `n` is 0.
pub fn gauss_hermite_normal(n: usize, sd: f64) -> Rule {
    let off = (1..n).map(|k| (k as f64).sqrt()).collect();
    let mut rule = gauss_rule(&vec![0.0; n], off);
    for node in &mut rule.nodes {
        *node *= sd;
    }
    rule
}

/// The `n`-node Gauss-Jacobi rule for the Beta(`a`, `b`) distribution on (0, 1), `a, b > 0`.
///
/// Jacobi polynomials with `α = b - 1`, `β = a - 1`, moved from (-1, 1) to (0, 1).
/// Source: NIST Digital Library of Mathematical Functions, 18.9.2 and 3.5(v).
///
/// # Panics
/// If `n` is 0.
pub fn gauss_jacobi_beta(n: usize, a: f64, b: f64) -> Rule {
    // In terms of s = a + b: α + β = s - 2, so 2k + α + β = 2k + s - 2.
    let s = a + b;
    let diagonal = |k: usize| {
        let m = 2.0 * k as f64 + s;
        if k == 0 {
            a / s
        } else {
            0.5 + 0.5 * (a - b) * (s - 2.0) / ((m - 2.0) * m)
        }
    };
    let off = |k: usize| {
        let (j, m) = (k as f64, 2.0 * k as f64 + s - 2.0);
        // For k = 1 the factor (k + α + β) cancels (2k + α + β - 1); both vanish at a = b = 1/2.
        let square = if k == 1 {
            a * b / (s * s * (s + 1.0))
        } else {
            j * (j + b - 1.0) * (j + a - 1.0) * (j + s - 2.0) / (m * m * (m + 1.0) * (m - 1.0))
        };
        square.sqrt()
    };
    let diagonals: Vec<f64> = (0..n).map(diagonal).collect();
    gauss_rule(&diagonals, (1..n).map(off).collect())
}

/// The Gauss rule of the polynomials with these recurrence coefficients (Golub and Welsch 1969).
///
/// The nodes are the eigenvalues of the Jacobi matrix, sharpened by one Newton step; each weight is
/// `1/sum p_k(x)²` over the orthonormal polynomials, which is relatively accurate however small it is.
fn gauss_rule(diagonal: &[f64], off: Vec<f64>) -> Rule {
    assert!(!diagonal.is_empty(), "a rule has at least one node");
    let mut nodes = symmetric_eigenvalues(diagonal.to_vec(), off.clone());
    nodes.sort_by(f64::total_cmp);
    let recurrence = Recurrence {
        diagonal,
        inverse_off: off.iter().map(|b| 1.0 / b).collect(),
        off,
    };
    for node in &mut nodes {
        *node -= recurrence.at(*node).newton_step;
    }
    let mut ln_weights: Vec<f64> = nodes.iter().map(|&x| -recurrence.at(x).ln_sum).collect();
    let total = log_sum_exp(&ln_weights);
    for weight in &mut ln_weights {
        *weight -= total;
    }
    Rule { nodes, ln_weights }
}

/// Coefficients of `x p_k = off[k] p_{k+1} + diagonal[k] p_k + off[k-1] p_{k-1}`, `p_0 = 1`.
struct Recurrence<'a> {
    diagonal: &'a [f64],
    off: Vec<f64>,
    inverse_off: Vec<f64>,
}

/// What one pass up the recurrence at a point gives.
struct AtPoint {
    /// `ln sum_{k < n} p_k(x)²`.
    ln_sum: f64,
    /// `p_n/p_n'`, from the Christoffel-Darboux sum, good near a zero of `p_n`.
    newton_step: f64,
}

impl Recurrence<'_> {
    fn at(&self, x: f64) -> AtPoint {
        const LARGE: f64 = 1e100;
        let last = self.diagonal.len() - 1;
        // `carried` is off[k-1] p_{k-1}.
        let (mut now, mut carried, mut sum, mut ln_scale) = (1.0, 0.0, 1.0, 0.0);
        for k in 0..last {
            let next = ((x - self.diagonal[k]) * now - carried) * self.inverse_off[k];
            carried = self.off[k] * now;
            now = next;
            sum += now * now;
            if now.abs() > LARGE {
                (now, carried) = (now / LARGE, carried / LARGE);
                sum /= LARGE * LARGE;
                ln_scale += 2.0 * LARGE.ln();
            }
        }
        let beyond = (x - self.diagonal[last]) * now - carried;
        AtPoint {
            ln_sum: sum.ln() + ln_scale,
            newton_step: beyond * now / sum,
        }
    }
}

/// Eigenvalues of a symmetric tridiagonal matrix by the implicit QL method, unordered.
///
/// Source: Dubrulle, Martin and Wilkinson 1968, Numerische Mathematik 12:377-383.
fn symmetric_eigenvalues(mut d: Vec<f64>, mut e: Vec<f64>) -> Vec<f64> {
    e.push(0.0);
    let largest = d
        .iter()
        .chain(&e)
        .fold(0.0, |most: f64, v| most.max(v.abs()));
    for low in 0..d.len() {
        loop {
            let high = first_negligible(&e, low, f64::EPSILON * largest);
            if high == low {
                break;
            }
            implicit_ql_sweep(&mut d, &mut e, low, high);
        }
    }
    d
}

/// The first row from `low` on that hangs together with the next by no more than `negligible`.
fn first_negligible(e: &[f64], low: usize, negligible: f64) -> usize {
    (low..e.len() - 1)
        .find(|&m| e[m].abs() <= negligible)
        .unwrap_or(e.len() - 1)
}

/// One sweep of plane rotations over rows `low..=high`, shifted by an eigenvalue of the leading 2 x 2.
fn implicit_ql_sweep(d: &mut [f64], e: &mut [f64], low: usize, high: usize) {
    let g = (d[low + 1] - d[low]) / (2.0 * e[low]);
    let r = g.hypot(1.0);
    let mut g = d[high] - d[low] + e[low] / (g + r.copysign(g));
    let (mut s, mut c, mut p) = (1.0, 1.0, 0.0);
    for i in (low..high).rev() {
        let (f, b) = (s * e[i], c * e[i]);
        let r = (f * f + g * g).sqrt();
        e[i + 1] = r;
        if r == 0.0 {
            d[i + 1] -= p;
            e[high] = 0.0;
            return;
        }
        (s, c) = (f / r, g / r);
        let shifted = d[i + 1] - p;
        let t = (d[i] - shifted) * s + 2.0 * c * b;
        p = s * t;
        d[i + 1] = shifted + p;
        g = c * t - b;
    }
    d[low] -= p;
    e[low] = g;
    e[high] = 0.0;
}
