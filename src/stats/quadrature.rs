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
/// If `n` is 0, or `a` or `b` is not positive and finite.
pub fn gauss_jacobi_beta(n: usize, a: f64, b: f64) -> Rule {
    assert!(
        a > 0.0 && b > 0.0 && (a + b).is_finite(),
        "Beta({a}, {b}) is no distribution"
    );
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

#[cfg(test)]
#[expect(
    clippy::excessive_precision,
    reason = "reference digits as their source prints them"
)]
mod tests {
    use super::super::logs::ln_beta;
    use super::*;

    #[track_caller]
    fn close(ours: f64, theirs: f64, tolerance: f64) {
        assert!(
            (ours - theirs).abs() <= tolerance * theirs.abs(),
            "{ours:e}, reference {theirs:e}"
        );
    }

    /// SciPy 1.17.1, `roots_hermitenorm(9)`, weights divided by their sum.
    #[test]
    fn nine_normal_nodes_agree_with_scipy() {
        let rule = gauss_hermite_normal(9, 0.25);
        let nodes = [
            1.0232556637891326,
            2.07684797867783,
            3.20542900285647,
            4.512745863399783,
        ];
        let weights = [
            0.24409750289493948,
            0.04991640676521775,
            0.0027891413212317562,
            2.234584400774642e-05,
        ];
        assert!(rule.nodes[4].abs() < 1e-16);
        close(rule.ln_weights[4].exp(), 0.4063492063492066, 1e-14);
        for i in 0..4 {
            close(rule.nodes[5 + i], 0.25 * nodes[i], 1e-14);
            close(rule.nodes[3 - i], -0.25 * nodes[i], 1e-14);
            close(rule.ln_weights[5 + i].exp(), weights[i], 1e-13);
            close(rule.ln_weights[3 - i].exp(), weights[i], 1e-13);
        }
    }

    /// SciPy 1.17.1, `roots_jacobi(5, 18, 0)` moved to (0, 1), weights divided by their sum.
    #[test]
    fn five_beta_nodes_agree_with_scipy() {
        let rule = gauss_jacobi_beta(5, 1.0, 19.0);
        let nodes = [
            0.011154264908766642,
            0.058434136277312365,
            0.14228841593760277,
            0.2616191060261407,
            0.41936121970732054,
        ];
        let ln_weights = [
            -0.8123168491231757,
            -0.8605201846089341,
            -2.1042443297207,
            -4.501100056622561,
            -8.543405474653197,
        ];
        for i in 0..5 {
            close(rule.nodes[i], nodes[i], 1e-13);
            close(rule.ln_weights[i], ln_weights[i], 1e-12);
        }
    }

    /// Golub-Welsch in mpmath 1.4.1 at 40 digits (`eigsy`), 60 nodes of Beta(5/2, 119/2): SciPy's own
    /// weights lose the last ones, which are of order 1e-49.
    #[test]
    fn the_smallest_weights_keep_their_digits() {
        let rule = gauss_jacobi_beta(60, 2.5, 59.5);
        for (i, node, ln_weight) in [
            (0, 0.00068806581570088777459, -7.8995050889720906687),
            (30, 0.3023185274534115431, -16.950103308611374982),
            (59, 0.86844762277679450701, -112.57384675049346198),
        ] {
            close(rule.nodes[i], node, 1e-12);
            close(rule.ln_weights[i], ln_weight, 1e-13);
        }
    }

    /// The arcsine distribution, Beta(1/2, 1/2), has Chebyshev's nodes and equal weights (Abramowitz and
    /// Stegun 25.4.38).
    #[test]
    fn the_arcsine_rule_is_chebyshevs() {
        let n = 40;
        let rule = gauss_jacobi_beta(n, 0.5, 0.5);
        for (i, (node, ln_weight)) in rule.nodes.iter().zip(&rule.ln_weights).enumerate() {
            let angle = std::f64::consts::PI * (2 * i + 1) as f64 / (4 * n) as f64;
            close(*node, angle.sin().powi(2), 1e-12);
            close(ln_weight.exp(), 1.0 / n as f64, 1e-12);
        }
    }

    /// `E[x^j (1 - x)^m] = B(a + j, b + m)/B(a, b)`, exact while `j + m < 2n`.
    #[test]
    fn beta_moments_are_exact() {
        for (a, b) in [
            (1.0, 1.0),
            (1.0, 4.0),
            (1.0, 19.0),
            (0.5, 0.5),
            (0.5, 60.0),
            (47.3, 2.2),
            (60.0, 60.0),
        ] {
            for n in [1usize, 2, 9, 65, 501, 1100] {
                let rule = gauss_jacobi_beta(n, a, b);
                assert_eq!(rule.nodes.len(), n);
                let degree = 2 * n - 1;
                for (j, m) in [
                    (0, 0),
                    (1, 0),
                    (0, 1),
                    (degree, 0),
                    (0, degree),
                    (degree / 2, degree - degree / 2),
                ] {
                    let ln_terms: Vec<f64> = (rule.nodes.iter().zip(&rule.ln_weights))
                        .map(|(x, w)| w + j as f64 * x.ln() + m as f64 * (-x).ln_1p())
                        .collect();
                    let exact = ln_beta(a + j as f64, b + m as f64) - ln_beta(a, b);
                    let off = (log_sum_exp(&ln_terms) - exact).abs();
                    let allowed = if j + m > 1 { 4e-12 } else { 1e-12 };
                    assert!(
                        off < allowed,
                        "Beta({a}, {b}), {n} nodes, x^{j} (1-x)^{m}: off by {off:e}"
                    );
                }
            }
        }
    }

    /// `E[x^2] = sd^2`, `E[x^4] = 3 sd^4`, and E[exp(x)] = exp(sd^2/2) as nearly as 60 nodes go.
    #[test]
    fn normal_moments_are_exact() {
        for n in [3usize, 9, 60, 400] {
            let rule = gauss_hermite_normal(n, 0.25);
            let mean = |f: fn(f64) -> f64| -> f64 {
                rule.nodes
                    .iter()
                    .zip(&rule.ln_weights)
                    .map(|(&x, w)| f(x) * w.exp())
                    .sum()
            };
            close(mean(|x| x * x), 0.0625, 1e-12);
            close(mean(|x| x.powi(4)), 3.0 * 0.0625 * 0.0625, 1e-12);
            if n >= 9 {
                close(mean(f64::exp), (0.0625f64 / 2.0).exp(), 1e-12);
            }
        }
    }
}
