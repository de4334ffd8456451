//! Exact marginals of discrete variables whose joint weight is a product of factors.
//!
//! Variable elimination: the variables outside the question are summed out one by one, the one that makes
//! the smallest table first. Knows nothing of what a variable means; the beliefs over plants call it.

use std::collections::{BTreeMap, BTreeSet};

/// A non-negative function of a few discrete variables.
#[derive(Debug, Clone, PartialEq)]
pub struct Factor {
    /// The variables, each once.
    vars: Vec<usize>,
    /// How many states each has.
    sizes: Vec<usize>,
    /// The values, the last variable running fastest.
    values: Vec<f64>,
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

    /// The same factor scaled so that its largest value is 1; all zeros stay zeros.
    #[must_use]
    pub fn scaled(mut self) -> Self {
        let most = self.values.iter().copied().fold(0.0, f64::max);
        if most > 0.0 {
            self.values.iter_mut().for_each(|value| *value /= most);
        }
        self
    }

    /// The same function with its variables in another order, variables it lacks added as constant.
    fn spread(&self, vars: &[usize], sizes: &[usize]) -> Vec<f64> {
        let strides = self.strides_in(vars);
        let cells = sizes.iter().product();
        let mut values = Vec::with_capacity(cells);
        let mut state = vec![0usize; vars.len()];
        let mut at = 0usize;
        for _ in 0..cells {
            values.push(self.values[at]);
            for place in (0..vars.len()).rev() {
                state[place] += 1;
                at += strides[place];
                if state[place] < sizes[place] {
                    break;
                }
                at -= strides[place] * sizes[place];
                state[place] = 0;
            }
        }
        values
    }

    fn strides_in(&self, vars: &[usize]) -> Vec<usize> {
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
    let mut sizes: BTreeMap<usize, usize> = BTreeMap::new();
    for factor in factors {
        sizes.extend(
            factor
                .vars
                .iter()
                .copied()
                .zip(factor.sizes.iter().copied()),
        );
    }
    let mut pool: Vec<Factor> = relevant(factors, asked);
    let mut left: BTreeSet<usize> = pool.iter().flat_map(|f| f.vars.iter().copied()).collect();
    left.retain(|var| !asked.contains(var));
    while let Some(var) = cheapest(&pool, &left, &sizes) {
        left.remove(&var);
        let (touching, rest): (Vec<_>, Vec<_>) = pool
            .into_iter()
            .partition(|factor| factor.vars.contains(&var));
        pool = rest;
        let mut vars = scope(&touching);
        vars.retain(|other| *other != var);
        vars.push(var);
        let joint = multiply(&touching, &vars, &sizes, limit)?;
        pool.push(sum_out_last(joint).scaled());
    }
    let mut answer = multiply(&pool, asked, &sizes, limit)?;
    let total: f64 = answer.values.iter().sum();
    if total > 0.0 {
        answer.values.iter_mut().for_each(|value| *value /= total);
    }
    Ok(answer)
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

fn scope(factors: &[Factor]) -> Vec<usize> {
    let vars: BTreeSet<usize> = factors
        .iter()
        .flat_map(|f| f.vars.iter().copied())
        .collect();
    vars.into_iter().collect()
}

fn cells(vars: &[usize], sizes: &BTreeMap<usize, usize>) -> u128 {
    vars.iter()
        .map(|var| sizes[var] as u128)
        .fold(1, u128::saturating_mul)
}

/// The variable whose elimination makes the smallest table; ties by number.
fn cheapest(
    pool: &[Factor],
    left: &BTreeSet<usize>,
    sizes: &BTreeMap<usize, usize>,
) -> Option<usize> {
    left.iter().copied().min_by_key(|var| {
        let touched: BTreeSet<usize> = pool
            .iter()
            .filter(|factor| factor.vars.contains(var))
            .flat_map(|factor| factor.vars.iter().copied())
            .collect();
        cells(&touched.into_iter().collect::<Vec<_>>(), sizes)
    })
}

fn multiply(
    factors: &[Factor],
    vars: &[usize],
    sizes: &BTreeMap<usize, usize>,
    limit: u128,
) -> Result<Factor, TooManyCells> {
    let needed = cells(vars, sizes);
    if needed > limit {
        return Err(TooManyCells { needed, limit });
    }
    let own_sizes: Vec<usize> = vars.iter().map(|var| sizes[var]).collect();
    let mut values = vec![1.0; own_sizes.iter().product()];
    for factor in factors {
        for (value, other) in values.iter_mut().zip(factor.spread(vars, &own_sizes)) {
            *value *= other;
        }
    }
    Ok(Factor {
        vars: vars.to_vec(),
        sizes: own_sizes,
        values,
    })
}

fn sum_out_last(mut joint: Factor) -> Factor {
    joint.vars.pop();
    let size = joint
        .sizes
        .pop()
        .expect("a joint table has the variable to sum out");
    joint.values = joint
        .values
        .chunks(size)
        .map(|chunk| chunk.iter().sum())
        .collect();
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
