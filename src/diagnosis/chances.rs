//! How likely each group of a batch's seedlings is under each kind of seed at each pace, as numbers that are not
//! needlessly small.
//!
//! Worked out once a batch; the posterior mixes them. Knows nothing of sources or plants.

use crate::stats::quadrature::Rule;

use super::batch::{BatchModel, Group};
use super::terms::Terms;

/// P(readings of a group | seed, pace), each group's over its largest.
#[derive(Debug)]
pub(super) struct Chances {
    /// Seedlings of each group.
    pub(super) counts: Vec<i64>,
    /// What each group's chances were divided by; 1 where it says nothing.
    pub(super) most: Vec<f64>,
    /// By seed, pace and group, the group running fastest.
    values: Vec<f64>,
    paces: usize,
    /// Log of what all seedlings' chances were divided by.
    pub(super) ln_scale: f64,
    /// Whether a group is left out since no seed can give it.
    pub(super) is_silent: bool,
}

impl Chances {
    /// The chances of a batch's groups under the kinds of seed of its terms.
    pub(super) fn of(model: &BatchModel, terms: &Terms<'_>) -> Self {
        Self::of_groups(&model.groups, model.paces.len(), terms)
    }

    /// The same of any groups at so many paces.
    pub(super) fn of_groups(all: &[Group], paces: usize, terms: &Terms<'_>) -> Self {
        let groups = all.len();
        let mut values = vec![0.0; terms.seed_count() * paces * groups];
        for (seed, used) in terms.seeds_used().into_iter().enumerate() {
            let cells = seed * paces * groups..(seed + 1) * paces * groups;
            for (at, value) in values[cells].iter_mut().enumerate().filter(|_| used) {
                let (pace, group) = (at / groups, &all[at % groups]);
                *value = chance(group, terms.seed(seed), pace, paces);
            }
        }
        let mut most = vec![0.0_f64; groups];
        for row in values.chunks(groups.max(1)) {
            most.iter_mut()
                .zip(row)
                .for_each(|(most, f)| *most = most.max(*f));
        }
        // A group that no seed can give says nothing.
        let says = |most: f64| most > f64::MIN_POSITIVE;
        for row in values.chunks_mut(groups.max(1)) {
            row.iter_mut()
                .zip(&most)
                .for_each(|(f, most)| *f = if says(*most) { *f / most } else { 1.0 });
        }
        let scaled = all.iter().zip(&most);
        Self {
            is_silent: most.iter().any(|most| !says(*most)),
            counts: all.iter().map(|group| group.count).collect(),
            values,
            paces,
            ln_scale: scaled
                .filter(|(_, most)| says(**most))
                .map(|(group, most)| group.count as f64 * most.ln())
                .sum(),
            most: most
                .iter()
                .map(|most| if says(*most) { *most } else { 1.0 })
                .collect(),
        }
    }

    /// Those of one seed at one pace, group by group.
    pub(super) fn of_seed(&self, seed: usize, pace: usize) -> &[f64] {
        let groups = self.counts.len();
        let at = (seed * self.paces + pace) * groups;
        &self.values[at..at + groups]
    }

    /// The product over all seedlings of the mixture of two seeds, in plain numbers, which may be too small.
    pub(super) fn product(&self, share: f64, on: &[f64], off: &[f64]) -> f64 {
        self.counts
            .iter()
            .zip(on.iter().zip(off))
            .map(|(count, (on, off))| power((1.0 - share) * on + share * off, *count))
            .product()
    }

    /// The log of the same for one seed.
    pub(super) fn ln_of(&self, seed: &[f64]) -> f64 {
        let counts = self.counts.iter().zip(seed);
        counts.map(|(count, f)| ln_power(*f, *count)).sum()
    }

    /// The log of the product at each node of the share, its weight in it.
    pub(super) fn lns(&self, rule: &Rule, on: &[f64], off: &[f64]) -> Vec<f64> {
        let at = |(share, ln_weight): (&f64, &f64)| {
            let groups = self.counts.iter().zip(on.iter().zip(off));
            let lns =
                groups.map(|(count, (on, off))| ln_power((1.0 - share) * on + share * off, *count));
            ln_weight + lns.sum::<f64>()
        };
        rule.nodes.iter().zip(&rule.ln_weights).map(at).collect()
    }
}

fn chance(group: &Group, seed: &[f64], pace: usize, paces: usize) -> f64 {
    let values = &group.likelihood.values;
    let of = |(profile, p): (usize, &f64)| p * values[profile * paces + pace];
    seed.iter().enumerate().map(of).sum()
}

fn power(chance: f64, count: i64) -> f64 {
    match i32::try_from(count) {
        Ok(count) => chance.powi(count),
        Err(_) => 0.0,
    }
}

fn ln_power(chance: f64, count: i64) -> f64 {
    match count {
        0 => 0.0,
        _ => count as f64 * chance.ln(),
    }
}
