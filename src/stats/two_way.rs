//! Things judged by several judges, each with a bias of its own: what each thing is worth when the biases are taken out.
//!
//! The additive two-way model y = thing + judge + error for any table, whatever cells are empty or filled several times.
//! Judges are set against each other only through things that both have judged. Nothing here knows what is judged.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// One judgement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judgement {
    /// The thing, by its number from 0.
    pub thing: usize,
    /// The judge, by its number from 0.
    pub judge: usize,
    /// The value given.
    pub value: f64,
}

/// An effect with its standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effect {
    /// The estimate.
    pub value: f64,
    /// Its standard error; nothing where no degree of freedom is left.
    pub error: Option<f64>,
}

/// What the judgements say.
#[derive(Debug, Clone, PartialEq)]
pub struct TwoWay {
    /// Each thing as the judges of its part together would have judged it.
    pub things: Vec<Effect>,
    /// Each judge's bias against the mean of the judges of its part.
    pub judges: Vec<Effect>,
    /// The part of each judge: judges of different parts have no thing in common, even in steps.
    pub parts: Vec<usize>,
    /// Degrees of freedom left: judgements - things - judges + parts.
    pub df: usize,
    /// The spread of one judgement, at least that of rounding; nothing where no degree of freedom is left.
    pub spread: Option<f64>,
}

impl Effect {
    /// The interval that holds the truth with this probability, by Student's t; nothing without a standard error.
    ///
    /// value +- t(df, (1 + level) / 2) times the error (Student 1908, Biometrika 6:1-25).
    #[must_use]
    pub fn interval(&self, df: usize, level: f64) -> Option<[f64; 2]> {
        let by = self.error? * t_quantile(df, (1.0 + level) / 2.0)?;
        Some([self.value - by, self.value + by])
    }
}

/// The quantile of Student's t; nothing without a degree of freedom.
#[must_use]
pub fn t_quantile(df: usize, p: f64) -> Option<f64> {
    let of = StudentsT::new(0.0, 1.0, df as f64).ok()?;
    Some(of.inverse_cdf(p))
}

impl TwoWay {
    /// Fits judgements of this many things by this many judges, given in steps of `step`; nothing where some thing or judge
    /// has none.
    ///
    /// Least squares, the biases of each part summing to zero. Things are absorbed first: with D and E the counts by thing
    /// and by judge and N those by both, b solves (E - N' D^-1 N) b = judge sums less N' D^-1 thing sums, and the matrix has
    /// as many zero directions as there are parts; its inverse on the rest, C, gives Cov(b) = s^2 C and Cov(things) = s^2
    /// (D^-1 + D^-1 N C N' D^-1) (Searle 1971, Linear Models, chapter 7; from memory).
    ///
    /// Judgements that agree are not known more finely than the steps they are given in: s is at least step / sqrt 12, the
    /// spread of an even error of rounding (Sheppard's correction; from memory).
    #[must_use]
    pub fn fit(judgements: &[Judgement], things: usize, judges: usize, step: f64) -> Option<Self> {
        let mut counts = vec![vec![0.0; judges]; things];
        let (mut thing_sums, mut judge_sums) = (vec![0.0; things], vec![0.0; judges]);
        for one in judgements {
            *counts.get_mut(one.thing)?.get_mut(one.judge)? += 1.0;
            thing_sums[one.thing] += one.value;
            judge_sums[one.judge] += one.value;
        }
        let of_thing: Vec<f64> = counts.iter().map(|row| row.iter().sum()).collect();
        let of_judge: Vec<f64> = (0..judges)
            .map(|judge| counts.iter().map(|row| row[judge]).sum())
            .collect();
        if of_thing.iter().chain(&of_judge).any(|count| *count == 0.0) {
            return None;
        }
        let parts = parts_of(&counts, judges);
        let part_count = parts.iter().max().map_or(0, |last| last + 1);
        // The share of each thing's judgements that a judge gave.
        let shares: Vec<Vec<f64>> = (counts.iter().zip(&of_thing))
            .map(|(row, all)| row.iter().map(|count| count / all).collect())
            .collect();
        let mut matrix = vec![vec![0.0; judges]; judges];
        for (row, own) in counts.iter().zip(&shares) {
            for (one, count) in row.iter().enumerate().filter(|(_, count)| **count > 0.0) {
                matrix[one][one] += count;
                for (other, share) in own.iter().enumerate() {
                    matrix[one][other] -= count * share;
                }
            }
        }
        let inverse = inverse_beside(matrix, &parts)?;
        let right: Vec<f64> = (0..judges)
            .map(|judge| {
                let taken = (shares.iter().zip(&thing_sums)).map(|(own, sum)| own[judge] * sum);
                judge_sums[judge] - taken.sum::<f64>()
            })
            .collect();
        let biases: Vec<f64> = (inverse.iter())
            .map(|row| row.iter().zip(&right).map(|(c, r)| c * r).sum())
            .collect();
        let worths: Vec<f64> = (0..things)
            .map(|thing| {
                let bias: f64 = (shares[thing].iter().zip(&biases))
                    .map(|(share, bias)| share * bias)
                    .sum();
                thing_sums[thing] / of_thing[thing] - bias
            })
            .collect();
        let residual = |one: &Judgement| one.value - worths[one.thing] - biases[one.judge];
        let squares: f64 = judgements.iter().map(|one| residual(one).powi(2)).sum();
        let df = judgements.len() + part_count - things - judges;
        let variance = (df > 0).then(|| (squares / df as f64).max(step * step / 12.0));
        let error = |times: f64| variance.map(|variance| (variance * times.max(0.0)).sqrt());
        let by_thing = |thing: usize| {
            let own = &shares[thing];
            let spread: f64 = (inverse.iter().zip(own))
                .map(|(row, share)| share * row.iter().zip(own).map(|(c, s)| c * s).sum::<f64>())
                .sum();
            Effect {
                value: worths[thing],
                error: error(1.0 / of_thing[thing] + spread),
            }
        };
        let by_judge = |judge: usize| Effect {
            value: biases[judge],
            error: error(inverse[judge][judge]),
        };
        Some(Self {
            things: (0..things).map(by_thing).collect(),
            judges: (0..judges).map(by_judge).collect(),
            parts,
            df,
            spread: variance.map(f64::sqrt),
        })
    }
}

/// The part of each judge, numbered as they come.
fn parts_of(counts: &[Vec<f64>], judges: usize) -> Vec<usize> {
    let mut part: Vec<usize> = (0..judges).collect();
    for row in counts {
        let met: Vec<usize> = (0..judges).filter(|judge| row[*judge] > 0.0).collect();
        let Some(least) = met.iter().map(|judge| part[*judge]).min() else {
            continue;
        };
        let joined: Vec<usize> = met.iter().map(|judge| part[*judge]).collect();
        for own in &mut part {
            if joined.contains(own) {
                *own = least;
            }
        }
    }
    let mut known: Vec<usize> = Vec::new();
    part.iter()
        .map(|own| {
            known.iter().position(|one| one == own).unwrap_or_else(|| {
                known.push(*own);
                known.len() - 1
            })
        })
        .collect()
}

/// The inverse of a symmetric matrix whose only zero directions are "all judges of a part alike", on the rest.
///
/// With J the projection onto those directions, (M + J)^-1 - J.
fn inverse_beside(mut matrix: Vec<Vec<f64>>, parts: &[usize]) -> Option<Vec<Vec<f64>>> {
    let size = |part: usize| parts.iter().filter(|own| **own == part).count() as f64;
    let alike = |one: usize, other: usize| match parts[one] == parts[other] {
        true => 1.0 / size(parts[one]),
        false => 0.0,
    };
    for (one, row) in matrix.iter_mut().enumerate() {
        for (other, cell) in row.iter_mut().enumerate() {
            *cell += alike(one, other);
        }
    }
    let mut inverse = inverted(matrix)?;
    for (one, row) in inverse.iter_mut().enumerate() {
        for (other, cell) in row.iter_mut().enumerate() {
            *cell -= alike(one, other);
        }
    }
    Some(inverse)
}

/// Gauss and Jordan's elimination with the largest pivot of each column.
fn inverted(mut matrix: Vec<Vec<f64>>) -> Option<Vec<Vec<f64>>> {
    let n = matrix.len();
    for (at, row) in matrix.iter_mut().enumerate() {
        row.extend((0..n).map(|column| if column == at { 1.0 } else { 0.0 }));
    }
    for column in 0..n {
        let size = |row: &usize| matrix[*row][column].abs();
        let pivot = (column..n).max_by(|one, other| size(one).total_cmp(&size(other)))?;
        matrix.swap(column, pivot);
        let lead = matrix[column][column];
        if lead.abs() < 1e-12 {
            return None;
        }
        matrix[column].iter_mut().for_each(|cell| *cell /= lead);
        let own = matrix[column].clone();
        for (_, row) in matrix
            .iter_mut()
            .enumerate()
            .filter(|(at, _)| *at != column)
        {
            let times = row[column];
            row.iter_mut()
                .zip(&own)
                .for_each(|(cell, by)| *cell -= times * by);
        }
    }
    Some(matrix.into_iter().map(|row| row[n..].to_vec()).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Six things and four judges, the last two of whom have nothing in common with the first two.
    const GIVEN: [(usize, usize, f64); 12] = [
        (0, 0, 4.0),
        (0, 1, 3.0),
        (0, 0, 5.0),
        (1, 0, 2.0),
        (1, 1, 2.0),
        (2, 1, 1.0),
        (2, 0, 3.0),
        (3, 1, 4.0),
        (4, 2, 5.0),
        (4, 2, 4.0),
        (5, 2, 1.0),
        (5, 3, 2.0),
    ];

    fn given(rows: &[(usize, usize, f64)]) -> Vec<Judgement> {
        let one = |(thing, judge, value): &(usize, usize, f64)| Judgement {
            thing: *thing,
            judge: *judge,
            value: *value,
        };
        rows.iter().map(one).collect()
    }

    fn close(found: impl Iterator<Item = f64>, wanted: &[f64]) {
        for (found, wanted) in found.zip(wanted) {
            assert!((found - wanted).abs() < 1e-9, "{found} {wanted}");
        }
    }

    /// numpy 2.4.6: linalg.lstsq of the indicator columns with one more row for each part that sums its biases to 0, and
    /// the root of the diagonal of s^2 A X'X A with A = linalg.inv(X'X + L'L), L being those rows.
    #[test]
    fn effects_and_errors_are_those_of_least_squares() {
        let fit = TwoWay::fit(&given(&GIVEN), 6, 4, 1.0).unwrap();
        assert_eq!((fit.df, &fit.parts[..]), (4, &[0, 0, 1, 1][..]));
        let values = |effects: &[Effect]| effects.iter().map(|one| one.value).collect::<Vec<_>>();
        let errors = |effects: &[Effect]| {
            let errors = effects.iter().map(|one| one.error.unwrap());
            errors.collect::<Vec<_>>()
        };
        close(
            values(&fit.things).into_iter(),
            &[3.8, 2.0, 2.0, 4.6, 5.0, 1.5],
        );
        close(values(&fit.judges).into_iter(), &[0.6, -0.6, -0.5, 0.5]);
        close(
            errors(&fit.things).into_iter(),
            &[
                0.428_660_704_987_056_1,
                0.512_347_538_297_98,
                0.512_347_538_297_98,
                0.777_013_513_396_002_7,
                0.724_568_837_309_472,
                0.512_347_538_297_98,
            ],
        );
        close(
            errors(&fit.judges).into_iter(),
            &[
                0.280_624_304_008_045_56,
                0.280_624_304_008_045_56,
                0.512_347_538_297_98,
                0.512_347_538_297_98,
            ],
        );
        assert!((fit.spread.unwrap() - 0.724_568_837_309_472).abs() < 1e-12);
    }

    #[test]
    fn one_judge_has_no_bias_and_things_are_worth_their_means() {
        let fit = TwoWay::fit(&given(&[(0, 0, 1.0), (0, 0, 3.0), (1, 0, 5.0)]), 2, 1, 1.0).unwrap();
        assert_eq!((fit.things[0].value, fit.things[1].value), (2.0, 5.0));
        assert!(fit.judges[0].value.abs() < 1e-12);
        assert_eq!(fit.df, 1);
        assert!((fit.spread.unwrap() - 2.0_f64.sqrt()).abs() < 1e-12);
        assert!((fit.things[0].error.unwrap() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn without_a_degree_of_freedom_there_is_no_error_and_no_interval() {
        let fit = TwoWay::fit(&given(&[(0, 0, 1.0), (1, 0, 3.0)]), 2, 1, 1.0).unwrap();
        assert_eq!((fit.df, fit.spread), (0, None));
        assert_eq!(fit.things[0].error, None);
        assert_eq!(fit.things[0].interval(0, 0.95), None);
        assert_eq!(TwoWay::fit(&given(&[(0, 0, 1.0)]), 2, 1, 1.0), None);
        assert_eq!(TwoWay::fit(&given(&[(0, 5, 1.0)]), 1, 1, 1.0), None);
    }

    /// Two judges who agree on two things: s is 1/sqrt 12, and each mean of two is off by s/sqrt 2.
    #[test]
    fn judgements_that_agree_are_known_to_the_step() {
        let agreed = given(&[(0, 0, 4.0), (0, 1, 4.0), (1, 0, 3.0), (1, 1, 3.0)]);
        let fit = TwoWay::fit(&agreed, 2, 2, 1.0).unwrap();
        assert!((fit.spread.unwrap() - 1.0 / 12.0_f64.sqrt()).abs() < 1e-12);
        assert!((fit.things[0].error.unwrap() - 1.0 / 24.0_f64.sqrt()).abs() < 1e-12);
        assert_eq!(TwoWay::fit(&agreed, 2, 2, 0.0).unwrap().spread, Some(0.0));
    }

    /// scipy.stats.t.ppf(0.975, df).
    #[test]
    fn quantiles_of_t_are_those_of_a_reference() {
        for (df, wanted) in [
            (1, 12.706_204_736_174_694),
            (2, 4.302_652_729_749_462),
            (4, 2.776_445_105_197_793_4),
            (30, 2.042_272_456_301_237_8),
        ] {
            let found = t_quantile(df, 0.975).unwrap();
            assert!((found - wanted).abs() < 1e-8, "{df}: {found}");
        }
        assert_eq!(t_quantile(0, 0.975), None);
    }
}
