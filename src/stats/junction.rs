//! The exact marginals of many variables at once, by two passes over a tree of tables.
//!
//! Summing variables out one by one leaves a tree: each step hands a table on to the step that sums out the first of
//! the variables left in it. A second pass the other way gives every step what all the others say (Lauritzen and
//! Spiegelhalter 1988, with the division of Jensen, Lauritzen and Olesen 1990). The size of every table is known before
//! the first is made. Knows nothing of what a variable means; the beliefs over plants call it.

use std::collections::{BTreeMap, BTreeSet};

use super::elimination::{By, Factor, Neighbours, TooManyCells, multiply, sum_out_first};

/// One step: the variable summed out, the table it stands in, and where what is left goes.
struct Step {
    /// The variables of its table, the one summed out first.
    vars: Vec<usize>,
    factors: Vec<Factor>,
    /// The steps that hand their tables to this one.
    below: Vec<usize>,
    up: Option<Factor>,
    down: Option<Factor>,
    /// The questions answered here.
    asked: Vec<usize>,
}

impl Step {
    fn rest(&self) -> &[usize] {
        &self.vars[1..]
    }
}

/// The joint marginals of each set of variables asked for, each normalised to sum 1, its variables in the order asked.
///
/// Variables are summed out by the smallest table first, or those of the highest of `ranks` first, one rank a variable:
/// whichever makes fewer cells in all. Every asked variable must stand in some factor, each set hold at least one. Where all
/// weights vanish an answer is all zeros, and so are those that a set asked for ties to it.
///
/// # Errors
/// [`TooManyCells`] where a table on the way would have more than `limit` cells; nothing was computed then.
///
/// # Panics
/// Where an asked variable stands in no factor: a bug of the caller.
pub fn marginals(
    factors: &[Factor],
    asked: &[Vec<usize>],
    ranks: &[usize],
    limit: u128,
) -> Result<Vec<Factor>, TooManyCells> {
    let mut all: Vec<Factor> = factors
        .iter()
        .filter(|f| !f.vars.is_empty())
        .cloned()
        .collect();
    let known = Neighbours::of(&all).sizes;
    for set in asked.iter().filter(|set| set.len() > 1) {
        let sizes: Vec<usize> = set.iter().map(|var| known[var]).collect();
        let cells = sizes.iter().product();
        all.push(Factor::new(set.clone(), sizes, vec![1.0; cells]));
    }
    let (mut steps, sizes) = plan(all, asked, ranks, limit)?;
    for at in 0..steps.len() {
        let table = table_of(&steps, at, &sizes, limit)?;
        steps[at].up = Some(sum_out_first(table).scaled());
    }
    let mut answers: Vec<Option<Factor>> = vec![None; asked.len()];
    for at in (0..steps.len()).rev() {
        let belief = belief_of(&steps, at, &sizes, limit)?;
        for below in steps[at].below.clone() {
            let rest = steps[below].rest().to_vec();
            let rest_sizes: Vec<usize> = rest.iter().map(|var| sizes[var]).collect();
            let mut down = belief.summed_to(&rest, &rest_sizes);
            if let Some(up) = &steps[below].up {
                up.take_into(&mut down.values, &rest, &rest_sizes, By::Quotient);
            }
            steps[below].down = Some(down.scaled());
        }
        steps[at].down = None;
        for place in &steps[at].asked {
            let set = &asked[*place];
            let own: Vec<usize> = set.iter().map(|var| sizes[var]).collect();
            answers[*place] = Some(normalised(belief.summed_to(set, &own)));
        }
    }
    Ok(answers
        .into_iter()
        .map(|answer| answer.expect("every asked variable stands in some factor"))
        .collect())
}

fn normalised(mut factor: Factor) -> Factor {
    let total: f64 = factor.values.iter().sum();
    if total > 0.0 {
        factor.values.iter_mut().for_each(|value| *value /= total);
    }
    factor
}

/// The variables in the order in which they are summed out, each with the others in its table.
struct Order {
    steps: Vec<(usize, Vec<usize>)>,
    largest: u128,
    cells: u128,
}

impl Order {
    fn of(mut neighbours: Neighbours, ranks: Option<&[usize]>) -> Self {
        let mut order = Self {
            steps: Vec::new(),
            largest: 0,
            cells: 0,
        };
        while let Some((var, others, cells)) = neighbours.next(&BTreeSet::new(), ranks) {
            order.steps.push((var, others));
            order.largest = order.largest.max(cells);
            order.cells = order.cells.saturating_add(cells);
        }
        order
    }
}

/// The steps in order, with their factors and questions.
fn plan(
    factors: Vec<Factor>,
    asked: &[Vec<usize>],
    ranks: &[usize],
    limit: u128,
) -> Result<(Vec<Step>, BTreeMap<usize, usize>), TooManyCells> {
    let neighbours = Neighbours::of(&factors);
    let sizes = neighbours.sizes.clone();
    let ranked = Order::of(neighbours.clone(), Some(ranks));
    let smallest = Order::of(neighbours, None);
    let order = if ranked.cells < smallest.cells {
        ranked
    } else {
        smallest
    };
    if order.largest > limit {
        let needed = order.largest;
        return Err(TooManyCells { needed, limit });
    }
    let mut steps: Vec<Step> = Vec::new();
    let mut place: BTreeMap<usize, usize> = BTreeMap::new();
    for (var, others) in order.steps {
        place.insert(var, steps.len());
        steps.push(Step {
            vars: [vec![var], others].concat(),
            factors: Vec::new(),
            below: Vec::new(),
            up: None,
            down: None,
            asked: Vec::new(),
        });
    }
    let first = |vars: &[usize]| vars.iter().map(|var| place[var]).min();
    for factor in factors {
        if let Some(at) = first(&factor.vars) {
            steps[at].factors.push(factor);
        }
    }
    for at in 0..steps.len() {
        if let Some(above) = first(steps[at].rest()) {
            steps[above].below.push(at);
        }
    }
    for (number, set) in asked.iter().enumerate() {
        if let Some(at) = first(set) {
            steps[at].asked.push(number);
        }
    }
    Ok((steps, sizes))
}

/// What a step's own factors and the steps below say.
fn table_of(
    steps: &[Step],
    at: usize,
    sizes: &BTreeMap<usize, usize>,
    limit: u128,
) -> Result<Factor, TooManyCells> {
    let step = &steps[at];
    let mut table = multiply(&step.factors, &step.vars, sizes, limit)?;
    for up in step
        .below
        .iter()
        .filter_map(|below| steps[*below].up.as_ref())
    {
        up.take_into(&mut table.values, &step.vars, &table.sizes, By::Product);
    }
    Ok(table)
}

/// The same times what all the others say.
fn belief_of(
    steps: &[Step],
    at: usize,
    sizes: &BTreeMap<usize, usize>,
    limit: u128,
) -> Result<Factor, TooManyCells> {
    let mut table = table_of(steps, at, sizes, limit)?;
    if let Some(down) = &steps[at].down {
        let own = table.sizes.clone();
        down.take_into(&mut table.values, &steps[at].vars, &own, By::Product);
    }
    Ok(table)
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
            marginals(&[wide], &[vec![0]], &[0; 3], 26),
            Err(TooManyCells {
                needed: 27,
                limit: 26
            })
        );
    }

    proptest! {
        /// Summing out one question at a time is checked against enumeration next door.
        #[test]
        fn all_at_once_equals_one_at_a_time(
            scopes in prop::collection::vec(prop::collection::btree_set(0usize..7, 1..4), 1..9),
            values in prop::collection::vec(0.0f64..1.0, 27 * 9),
            shuffle in 0usize..7,
        ) {
            let mut factors: Vec<Factor> = (0..7).map(|v| Factor::new(vec![v], vec![3], vec![0.2, 0.3, 0.5])).collect();
            for (at, scope) in scopes.iter().enumerate() {
                let vars: Vec<usize> = scope.iter().copied().collect();
                let cells = 3usize.pow(u32::try_from(vars.len()).unwrap());
                let own = values[at * 27..at * 27 + cells].iter().map(|v| if *v < 0.1 { 0.0 } else { *v }).collect();
                factors.push(Factor::new(vars, vec![3; scope.len()], own));
            }
            let mut asked: Vec<Vec<usize>> = (0..7).map(|var| vec![var]).collect();
            asked.push(vec![5, 2]);
            let ranks: Vec<usize> = (0..7).map(|var| var * shuffle % 7).collect();
            let alone: Vec<Factor> = asked.iter().map(|set| marginal(&factors, set, 1_000_000).unwrap()).collect();
            // Where some variable cannot be at all, those that a question ties to it vanish with it, or do not.
            prop_assume!(alone.iter().all(|one| one.values().iter().any(|p| *p > 0.0)));
            let together = marginals(&factors, &asked, &ranks, 1_000_000).unwrap();
            for ((set, all), one) in asked.iter().zip(&together).zip(&alone) {
                prop_assert_eq!(all.values().len(), one.values().len());
                for (a, b) in all.values().iter().zip(one.values()) {
                    prop_assert!((a - b).abs() < 1e-12, "{set:?}");
                }
            }
        }
    }
}
