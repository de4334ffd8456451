//! The top of a smooth function of a few numbers, how sharp it is, and where a curve falls below a height.
//!
//! For likelihoods of two or three parameters that have no formula for their maximum; knows nothing of what it
//! climbs. The fits of the diagnosis call it.

/// Reflection, expansion, contraction and shrinkage.
const MOVES: [f64; 4] = [1.0, 2.0, 0.5, 0.5];

/// Most values asked for by the simplex.
const MOST_STEPS: usize = 2_000;

/// The simplex rests when its values differ by less than this, and its corners by less than this share of a first step.
const REST: f64 = 1e-7;
const NEAR: f64 = 0.05;

/// Newton steps after the simplex, at most, and the gain after which another would be idle.
const POLISHING: usize = 6;
const SPENT: f64 = 1e-10;

/// The highest point found.
#[derive(Debug, Clone, PartialEq)]
pub struct Maximum {
    /// Where.
    pub at: Vec<f64>,
    /// How high.
    pub value: f64,
}

/// Climbs `f` from `start` with first steps of `steps`; where `f` is not finite is out of bounds.
///
/// The downhill simplex of Nelder & Mead 1965, The Computer Journal 7:308-313 (turned upside down), then Newton's
/// steps with numerical derivatives as long as they lead upward.
pub fn maximise(f: &dyn Fn(&[f64]) -> f64, start: &[f64], steps: &[f64]) -> Maximum {
    let mut top = simplex(f, start, steps);
    for _ in 0..POLISHING {
        match newton_step(f, &top, steps) {
            Some(better) if better.value > top.value => {
                let gain = better.value - top.value;
                top = better;
                if gain < SPENT {
                    break;
                }
            }
            _ => break,
        }
    }
    top
}

fn simplex(f: &dyn Fn(&[f64]) -> f64, start: &[f64], steps: &[f64]) -> Maximum {
    let height = |at: &[f64]| {
        let value = f(at);
        if value.is_nan() {
            f64::NEG_INFINITY
        } else {
            value
        }
    };
    let corner = |at: Vec<f64>| {
        let value = height(&at);
        Maximum { at, value }
    };
    let mut corners = vec![corner(start.to_vec())];
    for (axis, step) in steps.iter().enumerate() {
        let mut at = start.to_vec();
        at[axis] += step;
        corners.push(corner(at));
    }
    let [reflect, expand, contract, shrink] = MOVES;
    for _ in 0..MOST_STEPS {
        corners.sort_by(|one, other| other.value.total_cmp(&one.value));
        let (best, worst) = (corners[0].clone(), corners[corners.len() - 1].clone());
        let near = |other: &Maximum| {
            let off = other.at.iter().zip(&best.at).zip(steps);
            off.into_iter()
                .all(|((x, y), step)| (x - y).abs() <= NEAR * step)
        };
        if best.value - worst.value < REST && corners.iter().all(near) {
            break;
        }
        let middle = middle_of(&corners[..corners.len() - 1]);
        let along = |by: f64| -> Vec<f64> {
            let line = middle.iter().zip(&worst.at);
            line.map(|(m, w)| m + by * (m - w)).collect()
        };
        let reflected = corner(along(reflect));
        let next_worst = corners[corners.len() - 2].value;
        let last = corners.len() - 1;
        if reflected.value > best.value {
            let expanded = corner(along(expand));
            corners[last] = if expanded.value > reflected.value {
                expanded
            } else {
                reflected
            };
        } else if reflected.value > next_worst {
            corners[last] = reflected;
        } else {
            let side = if reflected.value > worst.value {
                contract
            } else {
                -contract
            };
            let contracted = corner(along(side));
            if contracted.value > worst.value.max(reflected.value) {
                corners[last] = contracted;
            } else {
                for other in &mut corners[1..] {
                    let line = best.at.iter().zip(&other.at);
                    *other = corner(line.map(|(b, o)| b + shrink * (o - b)).collect());
                }
            }
        }
    }
    corners.sort_by(|one, other| other.value.total_cmp(&one.value));
    corners.swap_remove(0)
}

fn middle_of(corners: &[Maximum]) -> Vec<f64> {
    let n = corners.len() as f64;
    let axes = 0..corners[0].at.len();
    axes.map(|axis| corners.iter().map(|one| one.at[axis]).sum::<f64>() / n)
        .collect()
}

/// One step of Newton's method from a point, where the function bends downward there.
fn newton_step(f: &dyn Fn(&[f64]) -> f64, from: &Maximum, steps: &[f64]) -> Option<Maximum> {
    let small: Vec<f64> = steps.iter().map(|step| 0.01 * step).collect();
    let spread = covariance(&curvature(f, &from.at, &small))?;
    let slope: Vec<f64> = (0..steps.len())
        .map(|axis| {
            // A finer step than the curvature's: the slope decides where the top is.
            let h = 1e-3 * steps[axis];
            let moved = |by: f64| f(&shifted(&from.at, &[(axis, by)]));
            (moved(h) - moved(-h)) / (2.0 * h)
        })
        .collect();
    let at: Vec<f64> = from
        .at
        .iter()
        .zip(&spread)
        .map(|(x, row)| x + row.iter().zip(&slope).map(|(v, g)| v * g).sum::<f64>())
        .collect();
    let value = f(&at);
    value.is_finite().then_some(Maximum { at, value })
}

fn shifted(at: &[f64], by: &[(usize, f64)]) -> Vec<f64> {
    let mut moved = at.to_vec();
    for (axis, step) in by {
        moved[*axis] += step;
    }
    moved
}

/// The matrix of second derivatives of `f` at a point, by central differences with these steps.
///
/// `[f(x + h) - 2 f(x) + f(x - h)]/h^2` on the diagonal, `[f(++) - f(+-) - f(-+) + f(--)]/(4 h k)` off it: Abramowitz &
/// Stegun, Handbook of Mathematical Functions, 25.3.23 and 25.3.26.
pub fn curvature(f: &dyn Fn(&[f64]) -> f64, at: &[f64], steps: &[f64]) -> Vec<Vec<f64>> {
    let n = at.len();
    let centre = f(at);
    let mut matrix = vec![vec![0.0; n]; n];
    for i in 0..n {
        let h = steps[i];
        let both = f(&shifted(at, &[(i, h)])) + f(&shifted(at, &[(i, -h)]));
        matrix[i][i] = (both - 2.0 * centre) / (h * h);
        for j in 0..i {
            let k = steps[j];
            let corner = |a: f64, b: f64| f(&shifted(at, &[(i, a * h), (j, b * k)]));
            let bend =
                corner(1.0, 1.0) - corner(1.0, -1.0) - corner(-1.0, 1.0) + corner(-1.0, -1.0);
            matrix[i][j] = bend / (4.0 * h * k);
            matrix[j][i] = matrix[i][j];
        }
    }
    matrix
}

/// The covariance that a log likelihood's curvature stands for: the inverse of its negative (observed information);
/// nothing where the likelihood has no proper top there.
pub fn covariance(curvature: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let root = cholesky(curvature)?;
    let n = root.len();
    let column = |axis: usize| -> Vec<f64> {
        let mut x = vec![0.0; n];
        for i in 0..n {
            let known: f64 = (0..i).map(|k| root[i][k] * x[k]).sum();
            x[i] = (f64::from(u8::from(i == axis)) - known) / root[i][i];
        }
        for i in (0..n).rev() {
            let known: f64 = (i + 1..n).map(|k| root[k][i] * x[k]).sum();
            x[i] = (x[i] - known) / root[i][i];
        }
        x
    };
    Some((0..n).map(column).collect())
}

/// The lower triangular root of the negative of a matrix, where that is positive definite.
fn cholesky(matrix: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let n = matrix.len();
    let mut root = vec![vec![0.0; n]; n];
    for i in 0..n {
        for j in 0..=i {
            let known: f64 = (0..j).map(|k| root[i][k] * root[j][k]).sum();
            let left = -matrix[i][j] - known;
            if i == j {
                if !left.is_finite() || left <= 0.0 {
                    return None;
                }
                root[i][i] = left.sqrt();
            } else {
                root[i][j] = left / root[j][j];
            }
        }
    }
    Some(root)
}

/// Where a curve that falls from `top` towards `end` crosses a height, by halving; `end` where it never does.
pub fn falls_below(curve: &dyn Fn(f64) -> f64, top: f64, end: f64, height: f64) -> f64 {
    let (mut above, mut below) = (top, end);
    if curve(end) >= height {
        return end;
    }
    for _ in 0..30 {
        let middle = 0.5 * (above + below);
        if curve(middle) >= height {
            above = middle;
        } else {
            below = middle;
        }
    }
    0.5 * (above + below)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rosenbrock's valley, its top at (1, 1) by construction (Rosenbrock 1960, The Computer Journal 3:175-184).
    fn valley(x: &[f64]) -> f64 {
        -100.0 * (x[1] - x[0] * x[0]).powi(2) - (1.0 - x[0]).powi(2)
    }

    #[test]
    fn the_top_of_a_crooked_valley_is_found() {
        let top = maximise(&valley, &[-1.2, 1.0], &[0.5, 0.5]);
        assert!((top.at[0] - 1.0).abs() < 1e-4 && (top.at[1] - 1.0).abs() < 1e-4);
        assert!(top.value > -1e-8);
    }

    #[test]
    fn bounds_are_where_the_function_has_no_value() {
        let f = |x: &[f64]| {
            if x[0] > 2.0 {
                f64::NEG_INFINITY
            } else {
                -(x[0] - 5.0).powi(2)
            }
        };
        let top = maximise(&f, &[0.0], &[0.5]);
        assert!(top.at[0] <= 2.0 && top.at[0] > 1.99, "{top:?}");
    }

    #[test]
    fn the_curvature_of_a_normal_density_gives_its_covariance_back() {
        // ln density with covariance [[2, 0.6], [0.6, 1]]: inverse [[1, -0.6], [-0.6, 2]] / 1.64.
        let f = |x: &[f64]| -0.5 * (x[0] * x[0] - 1.2 * x[0] * x[1] + 2.0 * x[1] * x[1]) / 1.64;
        let found = covariance(&curvature(&f, &[0.3, -0.2], &[1e-3, 1e-3])).expect("bends down");
        for (row, exact) in found.iter().zip([[2.0, 0.6], [0.6, 1.0]]) {
            for (value, exact) in row.iter().zip(exact) {
                assert!((value - exact).abs() < 1e-6, "{found:?}");
            }
        }
        assert_eq!(covariance(&[vec![1.0]]), None);
        assert_eq!(covariance(&[vec![-1.0, -2.0], vec![-2.0, -1.0]]), None);
    }

    #[test]
    fn a_falling_curve_is_met_at_its_height_or_at_the_end() {
        let curve = |x: f64| -x * x;
        assert!((falls_below(&curve, 0.0, 10.0, -4.0) - 2.0).abs() < 1e-8);
        assert!((falls_below(&curve, 0.0, -10.0, -4.0) + 2.0).abs() < 1e-8);
        assert_eq!(falls_below(&curve, 0.0, 1.0, -4.0), 1.0);
    }
}
