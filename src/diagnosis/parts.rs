//! Joint marginals of sets of variables, put together from those that no factor ties to each other.
//!
//! Where a set falls into parts that are independent of each other, its table is a product and need never be asked for
//! as a whole; rows of it are made as they are wanted. Called where a batch's plants are weighed.

use std::collections::{BTreeMap, HashMap};

use crate::stats::elimination::{Factor, TooManyCells, marginal};
use crate::stats::junction::marginals;

use super::belief::{CELLS_LIMIT, in_logs_if_nothing};
use super::graph::Graph;

/// The joint marginal of a set of variables, normalised, as a product over independent parts.
pub(super) struct Joint {
    /// How many states each variable of the set has, in the order asked.
    sizes: Vec<usize>,
    parts: Vec<Part>,
}

/// Variables of a set that are tied to each other.
struct Part {
    /// Their places in the set, ascending.
    places: Vec<usize>,
    values: Vec<f64>,
}

/// A part seen from rows: for the states of the first variables and those of the others, where in its table they stand.
type Offsets<'j> = (&'j [f64], Vec<usize>, Vec<usize>);

impl Joint {
    /// The joint marginals of sets of variables.
    ///
    /// # Errors
    /// [`TooManyCells`] where the table of a part would be too large.
    pub(super) fn of(
        graph: &Graph<'_, '_>,
        sets: &[Vec<usize>],
    ) -> Result<Vec<Self>, TooManyCells> {
        let ties = Ties::of(&graph.factors);
        let split: Vec<Vec<Vec<usize>>> = sets.iter().map(|set| ties.split(set)).collect();
        let vars = |(set, places): (&Vec<usize>, &Vec<usize>)| -> Vec<usize> {
            places.iter().map(|place| set[*place]).collect()
        };
        let of_set = |(set, own): (&Vec<usize>, &Vec<Vec<usize>>)| -> Vec<Vec<usize>> {
            own.iter().map(|places| vars((set, places))).collect()
        };
        let asked: Vec<Vec<usize>> = sets.iter().zip(&split).flat_map(of_set).collect();
        let mut found = answers(graph, &asked)?.into_iter();
        let joint = |(set, own): (&Vec<usize>, Vec<Vec<usize>>)| {
            let part = |places| Part {
                places,
                values: found.next().expect("every part was asked"),
            };
            Self {
                sizes: set.iter().map(|var| ties.sizes[var]).collect(),
                parts: own.into_iter().map(part).collect(),
            }
        };
        Ok(sets.iter().zip(split).map(joint).collect())
    }

    /// The whole table, the last variable running fastest.
    ///
    /// # Errors
    /// [`TooManyCells`] where that is too large.
    pub(super) fn table(mut self) -> Result<Vec<f64>, TooManyCells> {
        if let [_] = self.parts[..] {
            return Ok(self.parts.remove(0).values);
        }
        within(self.states(0..self.sizes.len()))?;
        Ok(self.rows(0).next().unwrap_or_default())
    }

    /// How many states the variables at some places have together.
    pub(super) fn states(&self, places: std::ops::Range<usize>) -> u128 {
        let sizes = self.sizes[places].iter();
        sizes.fold(1, |states: u128, size| states.saturating_mul(*size as u128))
    }

    /// The table row by row: one for each state of so many first variables.
    pub(super) fn rows(&self, first: usize) -> impl Iterator<Item = Vec<f64>> + '_ {
        let (heads, tails) = self.sizes.split_at(first);
        let offsets = |part: &Part| -> [Vec<usize>; 2] {
            let strides = part.strides(&self.sizes);
            let (of_heads, of_tails) = strides.split_at(first);
            [places(heads, of_heads), places(tails, of_tails)]
        };
        let parts = self.parts.iter().map(move |part| {
            let [of_heads, of_tails] = offsets(part);
            (part.values.as_slice(), of_heads, of_tails)
        });
        let parts: Vec<Offsets<'_>> = parts.collect();
        let count: usize = heads.iter().product();
        let width: usize = tails.iter().product();
        (0..count).map(move |head| {
            let mut row = vec![1.0; width];
            for (values, of_heads, of_tails) in &parts {
                let own = &values[of_heads[head]..];
                let cells = row.iter_mut().zip(of_tails);
                cells.for_each(|(p, at)| *p *= own[*at]);
            }
            row
        })
    }
}

impl Part {
    /// How far each variable of the set moves a place in this part's table; 0 for those of other parts.
    fn strides(&self, sizes: &[usize]) -> Vec<usize> {
        let mut strides = vec![0; sizes.len()];
        let mut stride = 1;
        for place in self.places.iter().rev() {
            strides[*place] = stride;
            stride *= sizes[*place];
        }
        strides
    }
}

/// Where the states of variables stand in a table with these strides, the last running fastest.
fn places(sizes: &[usize], strides: &[usize]) -> Vec<usize> {
    let start = vec![0];
    sizes
        .iter()
        .zip(strides)
        .fold(start, |places, (size, stride)| {
            let states = |place: &usize| {
                let place = *place;
                (0..*size).map(move |state| place + state * stride)
            };
            places.iter().flat_map(states).collect()
        })
}

/// Which variables are tied to each other, directly or through others.
struct Ties {
    sizes: HashMap<usize, usize>,
    /// For each variable one that stands for all tied to it.
    of: HashMap<usize, usize>,
}

impl Ties {
    fn of(factors: &[Factor]) -> Self {
        let mut ties = Self {
            sizes: HashMap::new(),
            of: HashMap::new(),
        };
        for factor in factors {
            ties.sizes.extend(
                factor
                    .vars()
                    .iter()
                    .copied()
                    .zip(factor.sizes().iter().copied()),
            );
            let Some(first) = factor.vars().first() else {
                continue;
            };
            for var in factor.vars() {
                let (one, other) = (ties.root(*first), ties.root(*var));
                ties.of.insert(other, one);
            }
        }
        ties
    }

    fn root(&self, mut var: usize) -> usize {
        while let Some(above) = self.of.get(&var).filter(|above| **above != var) {
            var = *above;
        }
        var
    }

    /// The places of a set's variables, those of one part together.
    fn split(&self, set: &[usize]) -> Vec<Vec<usize>> {
        let mut parts: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (place, var) in set.iter().enumerate() {
            parts.entry(self.root(*var)).or_default().push(place);
        }
        parts.into_values().collect()
    }
}

/// Whether a table of so many cells may be made.
///
/// # Errors
/// [`TooManyCells`] where it may not.
pub(super) const fn within(needed: u128) -> Result<(), TooManyCells> {
    let limit = CELLS_LIMIT;
    match needed > limit {
        true => Err(TooManyCells { needed, limit }),
        false => Ok(()),
    }
}

/// The joint weights of sets of variables: all at once, or set by set where that would need too large a table.
fn answers(graph: &Graph<'_, '_>, sets: &[Vec<usize>]) -> Result<Vec<Vec<f64>>, TooManyCells> {
    let each = |answer: &Factor, asked: &Vec<usize>| in_logs_if_nothing(graph, answer, asked);
    if let Ok(answers) = marginals(&graph.factors, sets, &graph.ranks(), CELLS_LIMIT) {
        let all = answers.iter().zip(sets);
        return all.map(|(answer, asked)| each(answer, asked)).collect();
    }
    let one = |asked: &Vec<usize>| each(&marginal(&graph.factors, asked, CELLS_LIMIT)?, asked);
    sets.iter().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_those_of_the_product() {
        let joint = Joint {
            sizes: vec![2, 3, 2],
            parts: vec![
                Part {
                    places: vec![0, 2],
                    values: vec![0.1, 0.2, 0.3, 0.4],
                },
                Part {
                    places: vec![1],
                    values: vec![0.5, 0.3, 0.2],
                },
            ],
        };
        let rows: Vec<Vec<f64>> = joint.rows(1).collect();
        // By hand: P(x, z) P(y), x the row, y then z along it.
        let by_hand = [
            [0.05, 0.1, 0.03, 0.06, 0.02, 0.04],
            [0.15, 0.2, 0.09, 0.12, 0.06, 0.08],
        ];
        for (row, expected) in rows.iter().zip(by_hand) {
            for (p, q) in row.iter().zip(expected) {
                assert!((p - q).abs() < 1e-15, "{row:?}");
            }
        }
        let whole = joint.table().expect("twelve cells");
        assert_eq!(whole, rows.concat());
    }

    #[test]
    fn variables_that_no_factor_ties_stand_apart() {
        let pair = |a, b| Factor::new(vec![a, b], vec![2, 2], vec![1.0; 4]);
        let ties = Ties::of(&[pair(0, 1), pair(3, 2), pair(4, 2)]);
        assert_eq!(ties.split(&[4, 0, 3, 1]), [vec![1, 3], vec![0, 2]]);
    }
}
