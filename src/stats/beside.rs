//! The exact joint marginals of a few variables together with each of many sets of others.
//!
//! One tree of tables for all sets would hold the common variables in every table. Instead the sets are halved again and
//! again: what only the other half asks about is summed out once for all of a half, so that the common variables meet only
//! what stands next to them, until one set is left. Knows nothing of what a variable means; the weights of the plants of
//! a batch call it.

use std::collections::{BTreeMap, BTreeSet};

use super::elimination::{Factor, Neighbours, TooManyCells, multiply, relevant, sum_out_first};

/// From this many cells on another order is sought too.
const WORTH_A_SECOND_PLAN: u128 = 200_000;

/// What is summed out, step by step, before the sets of one half are asked about.
struct Plan {
    /// Each variable with the others in its table.
    steps: Vec<(usize, Vec<usize>)>,
    /// The halves; nothing where one set is left.
    halves: Option<Box<[Plan; 2]>>,
    largest: u128,
    cells: u128,
}

/// The joint marginals of `common` with each of `sets`, each normalised to sum 1, the variables in the order given.
///
/// Variables are summed out by the smallest table first, or those of the highest of `ranks` first, one rank a variable:
/// whichever makes fewer cells in all. Every variable must stand in some factor, none of a set be a common one. Where all
/// weights vanish an answer is all zeros.
///
/// # Errors
/// [`TooManyCells`] where a table on the way would have more than `limit` cells; nothing was computed then.
pub fn marginals_beside(
    factors: &[Factor],
    common: &[usize],
    sets: &[Vec<usize>],
    ranks: &[usize],
    limit: u128,
) -> Result<Vec<Factor>, TooManyCells> {
    let asked: Vec<usize> = common
        .iter()
        .chain(sets.iter().flatten())
        .copied()
        .collect();
    let pool = relevant(factors, &asked);
    let neighbours = Neighbours::of(&pool);
    let sizes = neighbours.sizes.clone();
    let mut plan = Plan::of(neighbours.clone(), common, sets, None);
    if plan.cells > WORTH_A_SECOND_PLAN {
        let ranked = Plan::of(neighbours, common, sets, Some(ranks));
        if ranked.cells < plan.cells {
            plan = ranked;
        }
    }
    if plan.largest > limit {
        let needed = plan.largest;
        return Err(TooManyCells { needed, limit });
    }
    let mut answers = Vec::with_capacity(sets.len());
    answer(&plan, pool, (common, sets), (&sizes, limit), &mut answers)?;
    Ok(answers)
}

impl Plan {
    fn of(
        mut neighbours: Neighbours,
        common: &[usize],
        sets: &[Vec<usize>],
        ranks: Option<&[usize]>,
    ) -> Self {
        let kept: BTreeSet<usize> = common
            .iter()
            .chain(sets.iter().flatten())
            .copied()
            .collect();
        let mut plan = Self {
            steps: Vec::new(),
            halves: None,
            largest: 0,
            cells: 0,
        };
        while let Some((var, others, cells)) = neighbours.next(&kept, ranks) {
            plan.steps.push((var, others));
            plan.count(cells, cells);
        }
        if sets.len() > 1 {
            let (first, second) = sets.split_at(sets.len() / 2);
            let first = Self::of(neighbours.clone(), common, first, ranks);
            let second = Self::of(neighbours, common, second, ranks);
            for half in [&first, &second] {
                plan.count(half.largest, half.cells);
            }
            plan.halves = Some(Box::new([first, second]));
        } else {
            let sizes = kept.iter().map(|var| neighbours.sizes[var] as u128);
            let cells = sizes.fold(1, u128::saturating_mul);
            plan.count(cells, cells);
        }
        plan
    }

    fn count(&mut self, largest: u128, cells: u128) {
        self.largest = self.largest.max(largest);
        self.cells = self.cells.saturating_add(cells);
    }
}

fn answer(
    plan: &Plan,
    mut pool: Vec<Factor>,
    (common, sets): (&[usize], &[Vec<usize>]),
    (sizes, limit): (&BTreeMap<usize, usize>, u128),
    answers: &mut Vec<Factor>,
) -> Result<(), TooManyCells> {
    for (var, others) in &plan.steps {
        let touching: Vec<Factor> = pool
            .extract_if(.., |factor| factor.vars.contains(var))
            .collect();
        let vars = [&[*var], others.as_slice()].concat();
        let rest = sum_out_first(multiply(&touching, &vars, sizes, limit)?);
        // What nothing asked about stands next to says nothing here, impossible or not.
        if !rest.vars.is_empty() {
            pool.push(rest.scaled());
        }
    }
    if let Some(halves) = &plan.halves {
        let (first, second) = sets.split_at(sets.len() / 2);
        let bounds = (sizes, limit);
        answer(&halves[0], pool.clone(), (common, first), bounds, answers)?;
        return answer(&halves[1], pool, (common, second), bounds, answers);
    }
    let set = sets.first().map_or(&[][..], Vec::as_slice);
    let mut joint = multiply(&pool, &[common, set].concat(), sizes, limit)?;
    let total: f64 = joint.values.iter().sum();
    if total > 0.0 {
        joint.values.iter_mut().for_each(|value| *value /= total);
    }
    answers.push(joint);
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::elimination::marginal;
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_table_over_the_limit_is_refused_with_its_size() {
        let wide = Factor::new(vec![0, 1, 2], vec![3, 3, 3], vec![1.0; 27]);
        assert_eq!(
            marginals_beside(&[wide], &[0], &[vec![1]], &[0; 3], 26),
            Err(TooManyCells {
                needed: 27,
                limit: 26
            })
        );
    }

    /// What is impossible apart from a set leaves the set's answer as it is.
    #[test]
    fn what_is_impossible_elsewhere_empties_no_other_answer() {
        let factors = [
            Factor::new(vec![0], vec![2], vec![0.0, 0.0]),
            Factor::new(vec![1], vec![2], vec![0.2, 0.6]),
        ];
        let sets = [vec![], vec![0]];
        let together = marginals_beside(&factors, &[1], &sets, &[0; 2], 100).unwrap();
        for (value, wanted) in together[0].values().iter().zip([0.25, 0.75]) {
            assert!((value - wanted).abs() < 1e-12, "{value}");
        }
        assert_eq!(together[1].values(), [0.0; 4]);
    }

    proptest! {
        /// Summing out one question at a time is checked against enumeration next door.
        #[test]
        fn with_each_set_equals_one_at_a_time(
            scopes in prop::collection::vec(prop::collection::btree_set(0usize..8, 1..4), 1..10),
            values in prop::collection::vec(0.0f64..1.0, 27 * 10),
            shuffle in 0usize..8,
        ) {
            let mut factors: Vec<Factor> = (0..8).map(|v| Factor::new(vec![v], vec![3], vec![0.2, 0.3, 0.5])).collect();
            for (at, scope) in scopes.iter().enumerate() {
                let vars: Vec<usize> = scope.iter().copied().collect();
                let cells = 3usize.pow(u32::try_from(vars.len()).unwrap());
                let own = values[at * 27..at * 27 + cells].iter().map(|v| if *v < 0.1 { 0.0 } else { *v }).collect();
                factors.push(Factor::new(vars, vec![3; scope.len()], own));
            }
            let common = [3, 1];
            let sets = [vec![], vec![0], vec![7, 2], vec![4], vec![5], vec![2, 6]];
            let ranks: Vec<usize> = (0..8).map(|var| var * shuffle % 8).collect();
            let together = marginals_beside(&factors, &common, &sets, &ranks, 1_000_000).unwrap();
            prop_assert_eq!(together.len(), sets.len());
            for (set, all) in sets.iter().zip(&together) {
                let asked = [&common, set.as_slice()].concat();
                let one = marginal(&factors, &asked, 1_000_000).unwrap();
                prop_assert_eq!(all.values().len(), one.values().len());
                for (a, b) in all.values().iter().zip(one.values()) {
                    prop_assert!((a - b).abs() < 1e-12, "{set:?}");
                }
            }
        }
    }
}
