//! Variable elimination in logs: slow, for weights so small that their products vanish as plain numbers.
//!
//! Called where the quick way finds that nothing can be, to tell "nothing explains it" from "too small a number". Knows
//! nothing of what a variable means.

use std::collections::BTreeMap;

use super::elimination::{By, Factor, TooManyCells, eliminate, joined};

/// The joint marginal of `asked` from factors whose values are logs, minus infinity for what cannot be; plain numbers
/// that sum to 1, all zeros where nothing can be. The sums are those of [`super::elimination::marginal`], each by
/// ln(sum of exp x) = m + ln(sum of exp(x - m)) with m the largest x.
///
/// # Errors
/// [`TooManyCells`] where a table on the way would have more than `limit` cells.
///
/// # Panics
/// Where an asked variable stands in no factor: a bug of the caller.
pub fn log_marginal(
    factors: &[Factor],
    asked: &[usize],
    limit: u128,
) -> Result<Vec<f64>, TooManyCells> {
    let lns = eliminate(factors, asked, limit, add, sum_out_first)?.values;
    let most = lns.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if most == f64::NEG_INFINITY {
        return Ok(vec![0.0; lns.len()]);
    }
    let plain: Vec<f64> = lns.iter().map(|ln| (ln - most).exp()).collect();
    let total: f64 = plain.iter().sum();
    Ok(plain.iter().map(|value| value / total).collect())
}

/// The sum of logs over `vars`, the last running fastest.
fn add(
    factors: &[Factor],
    vars: &[usize],
    sizes: &BTreeMap<usize, usize>,
    limit: u128,
) -> Result<Factor, TooManyCells> {
    joined((0.0, By::Sum), factors, vars, sizes, limit)
}

/// Sums the first variable out.
fn sum_out_first(joint: Factor) -> Factor {
    let row = joint.values.len() / joint.sizes[0];
    let sum = |at: usize| {
        let column = joint.values.iter().skip(at).step_by(row);
        let most = column.clone().copied().fold(f64::NEG_INFINITY, f64::max);
        if most == f64::NEG_INFINITY {
            return most;
        }
        most + column.map(|ln| (ln - most).exp()).sum::<f64>().ln()
    };
    let (vars, sizes) = (joint.vars[1..].to_vec(), joint.sizes[1..].to_vec());
    Factor::new(vars, sizes, (0..row).map(sum).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::elimination::marginal;

    fn logs(factor: &Factor) -> Factor {
        let values = factor.values.iter().map(|value| value.ln()).collect();
        Factor::new(factor.vars.clone(), factor.sizes.clone(), values)
    }

    #[test]
    fn logs_give_what_plain_numbers_give() {
        let plain = [
            Factor::new(vec![0], vec![2], vec![0.3, 0.7]),
            Factor::new(vec![1, 0], vec![3, 2], vec![0.9, 0.2, 0.1, 0.5, 0.0, 0.3]),
            Factor::new(vec![2, 1], vec![2, 3], vec![0.4, 0.1, 0.8, 0.6, 0.9, 0.2]),
        ];
        let in_logs: Vec<Factor> = plain.iter().map(logs).collect();
        for asked in [vec![0], vec![2, 0], vec![1]] {
            let quick = marginal(&plain, &asked, 100).unwrap();
            let slow = log_marginal(&in_logs, &asked, 100).unwrap();
            for (a, b) in quick.values().iter().zip(slow) {
                assert!((a - b).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn what_vanishes_as_a_plain_number_is_told_from_what_cannot_be() {
        let (tiny, never) = (-2000.0, f64::NEG_INFINITY);
        let one = Factor::new(vec![0], vec![3], vec![0.0, tiny, never]);
        let other = Factor::new(vec![0, 1], vec![3, 1], vec![never, 0.0, 0.0]);
        let answer = log_marginal(&[one.clone(), other], &[0], 100).unwrap();
        assert_eq!(answer, [0.0, 1.0, 0.0]);
        let none = Factor::new(vec![0], vec![3], vec![never, never, 0.0]);
        assert_eq!(log_marginal(&[one, none], &[0], 100).unwrap(), [0.0; 3]);
    }
}
