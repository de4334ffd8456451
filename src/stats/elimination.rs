//! Exact marginals of discrete variables whose joint weight is a product of factors.
//!
//! Variable elimination: the variables outside the question are summed out one by one, the one that makes
//! the smallest table first. Knows nothing of what a variable means; the beliefs over plants call it, and the
//! marginals of all variables at once stand next door.

use std::collections::{BTreeMap, BTreeSet};

/// A non-negative function of a few discrete variables.
#[derive(Debug, Clone, PartialEq)]
pub struct Factor {
    /// The variables, each once.
    pub(super) vars: Vec<usize>,
    /// How many states each has.
    pub(super) sizes: Vec<usize>,
    /// The values, the last variable running fastest.
    pub(super) values: Vec<f64>,
}

/// A question whose exact answer needs a larger table than allowed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the exact answer needs a table of {needed} cells; {limit} are allowed")]
pub struct TooManyCells {
    /// Cells needed.
    pub needed: u128,
    /// Cells allowed.
    pub limit: u128,
}

impl Factor {
    /// A factor over `vars` with `sizes` states each; `values` in row-major order.
    ///
    /// # Panics
    /// Where the lengths do not agree or a variable stands twice: a bug of the caller.
    #[must_use]
    pub fn new(vars: Vec<usize>, sizes: Vec<usize>, values: Vec<f64>) -> Self {
        assert_eq!(vars.len(), sizes.len(), "one size a variable");
        assert_eq!(
            values.len(),
            sizes.iter().product::<usize>(),
            "one value a cell"
        );
        assert_eq!(
            vars.iter().collect::<BTreeSet<_>>().len(),
            vars.len(),
            "each variable once"
        );
        Self {
            vars,
            sizes,
            values,
        }
    }

    /// The variables.
    #[must_use]
    pub fn vars(&self) -> &[usize] {
        &self.vars
    }

    /// The values in row-major order of [`Factor::vars`].
    #[must_use]
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// A factor over the same variables with other values.
    ///
    /// # Panics
    /// Where there are more or fewer values than cells: a bug of the caller.
    #[must_use]
    pub fn with_values(&self, values: Vec<f64>) -> Self {
        Self::new(self.vars.clone(), self.sizes.clone(), values)
    }

    /// The same factor scaled so that its largest value is 1; all zeros stay zeros.
    #[must_use]
    pub fn scaled(mut self) -> Self {
        let most = self.values.iter().copied().fold(0.0, f64::max);
        if most > 0.0 {
            self.values.iter_mut().for_each(|value| *value /= most);
        }
        self
    }

    /// Takes this factor into a table over `vars`; where it divides, nothing over nothing is nothing.
    pub(super) fn take_into(&self, values: &mut [f64], vars: &[usize], sizes: &[usize], by: By) {
        let mut walk = Walk::new(sizes, &self.strides_in(vars));
        for row in values.chunks_mut(walk.inner) {
            let own = &self.values[walk.at..];
            match (by, walk.stride) {
                (By::Product, 0) => row.iter_mut().for_each(|value| *value *= own[0]),
                (By::Product, 1) => {
                    row.iter_mut().zip(own).for_each(|(value, f)| *value *= f);
                }
                (By::Product, stride) => {
                    let own = own.iter().step_by(stride);
                    row.iter_mut().zip(own).for_each(|(value, f)| *value *= f);
                }
                (By::Quotient, stride) => row.iter_mut().enumerate().for_each(|(at, value)| {
                    let f = own[at * stride];
                    *value = if f > 0.0 { *value / f } else { 0.0 };
                }),
                (By::Sum, stride) => row.iter_mut().enumerate().for_each(|(at, value)| {
                    *value += own[at * stride];
                }),
            }
            walk.step();
        }
    }

    /// The sums of this factor over all variables but `vars`.
    pub(super) fn summed_to(&self, vars: &[usize], sizes: &[usize]) -> Self {
        let mut target = Self {
            vars: vars.to_vec(),
            sizes: sizes.to_vec(),
            values: vec![0.0; sizes.iter().product()],
        };
        let mut walk = Walk::new(&self.sizes, &target.strides_in(&self.vars));
        for row in self.values.chunks(walk.inner) {
            let sums = &mut target.values[walk.at..];
            match walk.stride {
                0 => sums[0] += row.iter().sum::<f64>(),
                1 => sums
                    .iter_mut()
                    .zip(row)
                    .for_each(|(sum, value)| *sum += value),
                stride => {
                    let sums = sums.iter_mut().step_by(stride);
                    sums.zip(row).for_each(|(sum, value)| *sum += value);
                }
            }
            walk.step();
        }
        target
    }

    pub(super) fn strides_in(&self, vars: &[usize]) -> Vec<usize> {
        let mut own = vec![1usize; self.vars.len()];
        for place in (0..self.vars.len().saturating_sub(1)).rev() {
            own[place] = own[place + 1] * self.sizes[place + 1];
        }
        vars.iter()
            .map(|var| {
                self.vars
                    .iter()
                    .position(|own_var| own_var == var)
                    .map_or(0, |at| own[at])
            })
            .collect()
    }
}

/// What a factor does to a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum By {
    /// Multiplies it.
    Product,
    /// Divides it.
    Quotient,
    /// Is added to it.
    Sum,
}

/// Runs through the states of variables, the last fastest, a row at a time, and keeps the place in a table with strides
/// of its own. Neighbouring variables over which that place moves evenly are one, so that rows are long.
struct Walk {
    sizes: Vec<usize>,
    strides: Vec<usize>,
    state: Vec<usize>,
    at: usize,
    /// The length of a row.
    inner: usize,
    /// How far the place moves along a row.
    stride: usize,
}

impl Walk {
    fn new(sizes: &[usize], strides: &[usize]) -> Self {
        let mut merged: Vec<(usize, usize)> = Vec::new();
        for (size, stride) in sizes.iter().copied().zip(strides.iter().copied()) {
            match merged.last_mut() {
                _ if size == 1 => {}
                Some((run, outer)) if *outer == stride * size => {
                    *run *= size;
                    *outer = stride;
                }
                _ => merged.push((size, stride)),
            }
        }
        let (inner, stride) = merged.pop().unwrap_or((1, 0));
        let (sizes, strides): (Vec<usize>, Vec<usize>) = merged.into_iter().unzip();
        Self {
            state: vec![0; sizes.len()],
            sizes,
            strides,
            at: 0,
            inner,
            stride,
        }
    }

    /// On to the next row.
    fn step(&mut self) {
        for place in (0..self.sizes.len()).rev() {
            self.state[place] += 1;
            self.at += self.strides[place];
            if self.state[place] < self.sizes[place] {
                break;
            }
            self.at -= self.strides[place] * self.sizes[place];
            self.state[place] = 0;
        }
    }
}

/// Which variables stand in one factor with which others; grows as variables are summed out.
#[derive(Clone)]
pub(super) struct Neighbours {
    of: BTreeMap<usize, BTreeSet<usize>>,
    costs: BTreeMap<usize, u128>,
    pub(super) sizes: BTreeMap<usize, usize>,
}

impl Neighbours {
    pub(super) fn of(factors: &[Factor]) -> Self {
        let mut found = Self {
            of: BTreeMap::new(),
            costs: BTreeMap::new(),
            sizes: BTreeMap::new(),
        };
        for factor in factors {
            let own = factor.vars.iter().copied();
            found
                .sizes
                .extend(own.clone().zip(factor.sizes.iter().copied()));
            for var in own.clone() {
                let others = own.clone().filter(|other| *other != var);
                found.of.entry(var).or_default().extend(others);
            }
        }
        found
    }

    /// The cells of the table that summing a variable out makes first.
    fn cost(&self, var: usize) -> u128 {
        let others = self.of[&var].iter().chain([&var]);
        others
            .map(|other| self.sizes[other] as u128)
            .fold(1, u128::saturating_mul)
    }

    /// The variable to sum out next, which is not one of `kept`, and the others in its table: of those with the highest
    /// rank, where ranks are given, the one that makes the smallest table; ties by number.
    pub(super) fn next(
        &mut self,
        kept: &BTreeSet<usize>,
        ranks: Option<&[usize]>,
    ) -> Option<(usize, Vec<usize>, u128)> {
        let left: Vec<usize> = self.of.keys().copied().collect();
        let rank = |var: usize| ranks.map_or(0, |ranks| ranks[var]);
        let var = left
            .into_iter()
            .filter(|var| !kept.contains(var))
            .min_by_key(|var| {
                let cost = self.costs.get(var).copied();
                let cost = cost.unwrap_or_else(|| {
                    let cost = self.cost(*var);
                    self.costs.insert(*var, cost);
                    cost
                });
                (std::cmp::Reverse(rank(*var)), cost)
            })?;
        let cost = self.costs[&var];
        let others = self
            .of
            .remove(&var)
            .expect("the variable was found among these");
        for other in &others {
            let own = self
                .of
                .get_mut(other)
                .expect("neighbours are left as long as each other");
            own.remove(&var);
            own.extend(others.iter().filter(|one| *one != other));
            self.costs.remove(other);
        }
        Some((var, others.into_iter().collect(), cost))
    }
}

/// The joint marginal of `asked`, normalised to sum 1, its variables in the order asked.
///
/// Every asked variable must stand in some factor. Where all weights vanish the result is all zeros.
///
/// # Errors
/// [`TooManyCells`] where a table on the way would have more than `limit` cells.
///
/// # Panics
/// Where an asked variable stands in no factor: a bug of the caller.
pub fn marginal(factors: &[Factor], asked: &[usize], limit: u128) -> Result<Factor, TooManyCells> {
    let sum_out = |joint| sum_out_first(joint).scaled();
    let mut answer = eliminate(factors, asked, limit, multiply, sum_out)?;
    let total: f64 = answer.values.iter().sum();
    if total > 0.0 {
        answer.values.iter_mut().for_each(|value| *value /= total);
    }
    Ok(answer)
}

/// How factors become one table over the variables given, whose sizes are told, within a limit of cells.
type Join = fn(&[Factor], &[usize], &BTreeMap<usize, usize>, u128) -> Result<Factor, TooManyCells>;

/// Joins the factors that asked variables are tied to and sums all others out, the one that makes the smallest table
/// first; how values are joined and summed is the caller's.
pub(super) fn eliminate(
    factors: &[Factor],
    asked: &[usize],
    limit: u128,
    join: Join,
    sum_out: fn(Factor) -> Factor,
) -> Result<Factor, TooManyCells> {
    let mut pool = relevant(factors, asked);
    let mut neighbours = Neighbours::of(&pool);
    let kept: BTreeSet<usize> = asked.iter().copied().collect();
    while let Some((var, others, _)) = neighbours.next(&kept, None) {
        let (touching, rest): (Vec<_>, Vec<_>) = pool
            .into_iter()
            .partition(|factor| factor.vars.contains(&var));
        pool = rest;
        let vars = [vec![var], others].concat();
        pool.push(sum_out(join(&touching, &vars, &neighbours.sizes, limit)?));
    }
    join(&pool, asked, &neighbours.sizes, limit)
}

/// The factors that the asked variables are tied to, directly or through others.
fn relevant(factors: &[Factor], asked: &[usize]) -> Vec<Factor> {
    let mut reached: BTreeSet<usize> = asked.iter().copied().collect();
    let mut taken = vec![false; factors.len()];
    loop {
        let mut grown = false;
        for (factor, taken) in factors.iter().zip(&mut taken) {
            if !*taken && factor.vars.iter().any(|var| reached.contains(var)) {
                *taken = true;
                grown = true;
                reached.extend(factor.vars.iter().copied());
            }
        }
        if !grown {
            break;
        }
    }
    factors
        .iter()
        .zip(&taken)
        .filter(|(_, taken)| **taken)
        .map(|(f, _)| f.clone())
        .collect()
}

/// How many states each of some variables has.
///
/// # Errors
/// [`TooManyCells`] where a table over them would have more than `limit` cells.
fn sizes_within(
    vars: &[usize],
    sizes: &BTreeMap<usize, usize>,
    limit: u128,
) -> Result<Vec<usize>, TooManyCells> {
    let own: Vec<usize> = vars.iter().map(|var| sizes[var]).collect();
    let cells = own.iter().map(|size| *size as u128);
    let needed = cells.fold(1, u128::saturating_mul);
    match needed > limit {
        true => Err(TooManyCells { needed, limit }),
        false => Ok(own),
    }
}

/// The product of factors over `vars`, the last running fastest.
pub(super) fn multiply(
    factors: &[Factor],
    vars: &[usize],
    sizes: &BTreeMap<usize, usize>,
    limit: u128,
) -> Result<Factor, TooManyCells> {
    joined((1.0, By::Product), factors, vars, sizes, limit)
}

/// Factors taken into a table over `vars`, one after the other; before the first every cell holds the value given.
pub(super) fn joined(
    (start, by): (f64, By),
    factors: &[Factor],
    vars: &[usize],
    sizes: &BTreeMap<usize, usize>,
    limit: u128,
) -> Result<Factor, TooManyCells> {
    let own_sizes = sizes_within(vars, sizes, limit)?;
    let mut values = vec![start; own_sizes.iter().product()];
    for factor in factors {
        factor.take_into(&mut values, vars, &own_sizes, by);
    }
    Ok(Factor {
        vars: vars.to_vec(),
        sizes: own_sizes,
        values,
    })
}

/// Sums the first variable out, whose states lie in long rows one after the other.
pub(super) fn sum_out_first(mut joint: Factor) -> Factor {
    joint.vars.remove(0);
    let size = joint.sizes.remove(0);
    let row = joint.values.len() / size;
    let (sums, others) = joint.values.split_at_mut(row);
    for other in others.chunks(row) {
        sums.iter_mut()
            .zip(other)
            .for_each(|(sum, value)| *sum += value);
    }
    joint.values.truncate(row);
    joint.values.shrink_to_fit();
    joint
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_chain_gives_the_forward_sums() {
        // P(x) = (0.3, 0.7); P(y|x) rows (0.9, 0.1), (0.2, 0.8): P(y=0) = 0.27 + 0.14 = 0.41.
        let prior = Factor::new(vec![0], vec![2], vec![0.3, 0.7]);
        let link = Factor::new(vec![0, 1], vec![2, 2], vec![0.9, 0.1, 0.2, 0.8]);
        let answer = marginal(&[prior, link], &[1], 100).unwrap();
        assert!((answer.values()[0] - 0.41).abs() < 1e-15);
    }

    #[test]
    fn a_table_over_the_limit_is_refused_with_its_size() {
        let wide = Factor::new(vec![0, 1, 2], vec![3, 3, 3], vec![1.0; 27]);
        assert_eq!(
            marginal(&[wide], &[0], 26),
            Err(TooManyCells {
                needed: 27,
                limit: 26
            })
        );
    }

    /// Sum over every combination of states, one by one.
    fn brute(factors: &[Factor], asked: &[usize], vars: usize) -> Vec<f64> {
        let mut sums = vec![0.0; 3usize.pow(u32::try_from(asked.len()).unwrap())];
        for code in 0..3usize.pow(u32::try_from(vars).unwrap()) {
            let state = |var: usize| code / 3usize.pow(u32::try_from(var).unwrap()) % 3;
            let weight: f64 = factors
                .iter()
                .map(|f| f.values[f.vars.iter().fold(0, |at, var| at * 3 + state(*var))])
                .product();
            sums[asked.iter().fold(0, |at, var| at * 3 + state(*var))] += weight;
        }
        let total: f64 = sums.iter().sum();
        sums.iter().map(|sum| sum / total).collect()
    }

    proptest! {
        #[test]
        fn elimination_equals_enumeration(
            scopes in prop::collection::vec(prop::collection::btree_set(0usize..6, 1..4), 1..8),
            values in prop::collection::vec(0.01f64..1.0, 27 * 8),
            seed in 0usize..1000,
        ) {
            let mut factors: Vec<Factor> = (0..6).map(|v| Factor::new(vec![v], vec![3], vec![0.2, 0.3, 0.5])).collect();
            for (at, scope) in scopes.iter().enumerate() {
                let vars: Vec<usize> = scope.iter().copied().collect();
                let cells = 3usize.pow(u32::try_from(vars.len()).unwrap());
                let sizes = vec![3; vars.len()];
                factors.push(Factor::new(vars, sizes, values[at * 27..at * 27 + cells].to_vec()));
            }
            let asked = [seed % 6, (seed / 6 + seed % 6 + 1) % 6];
            let asked = if asked[0] == asked[1] { vec![asked[0]] } else { asked.to_vec() };
            let quick = marginal(&factors, &asked, 1_000_000).unwrap();
            for (a, b) in quick.values().iter().zip(brute(&factors, &asked, 6)) {
                prop_assert!((a - b).abs() < 1e-12);
            }
        }
    }
}
