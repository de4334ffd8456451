//! A batch that plants were kept from, everything but its parents and those plants summed out at once.
//!
//! The sum over the source, the share of off-types and the pace is done here, where each is a plain loop, instead of in
//! the elimination, where they would be variables of one wide table. Called by the family next door; what a question asks
//! is not known here.

use super::family::{Maker, NamedFactor, kind_of, nodes_of};
use super::graph::Node;
use super::terms::Term;

/// Largest table over parents and plants kept that the rest is summed out into at once.
const SUMMED_CELLS: usize = 50_000;

/// The same where a single plant was kept, which the other seedlings reach by its parents alone.
const SUMMED_CELLS_OF_ONE: usize = 2_000_000;

/// Most multiplications that this may take.
const SUMMED_WORK: usize = 100_000_000;

impl Maker<'_> {
    /// Parents and plants kept, all else summed out, of a single plant but whether it is as labelled; nothing where that
    /// would be large.
    pub(super) fn summed_factor(&self, kept: &[i64]) -> Option<NamedFactor> {
        match kept {
            [plant] => self.summed_of_one(*plant),
            _ => self.summed_of_all(kept),
        }
    }

    /// One plant kept: its origin, its parents and its genotypes. However many other seedlings were read, each for what,
    /// they meet it in these alone.
    fn summed_of_one(&self, plant: i64) -> Option<NamedFactor> {
        let (size, pairs) = (self.model.space.size, self.model.pair_count());
        if 2 * size * pairs > SUMMED_CELLS_OF_ONE {
            return None;
        }
        let by_term = self.ln_with_shares();
        let all = by_term.iter().flatten().flatten();
        let most = all.map(|(ln, _)| *ln).fold(f64::NEG_INFINITY, f64::max);
        let mut values = vec![0.0; 2 * pairs * size];
        for (at, (term, by_pace)) in self.terms.list().iter().zip(&by_term).enumerate() {
            for (origin, row) in self.rows_by_origin(at, by_pace, most).iter().enumerate() {
                for (pair, weight) in &term.weights {
                    let from = (origin * pairs + pair) * size;
                    row.iter().for_each(|(g, p)| values[from + g] += weight * p);
                }
            }
        }
        let (parents, parent_sizes) = self.parent_nodes();
        let (own, own_sizes) = self.genotype_nodes(plant);
        let names = [vec![Node::Origin(plant)], parents, own].concat();
        let sizes = [vec![2], parent_sizes, own_sizes].concat();
        Some((names, sizes, of_largest_one(values)))
    }

    /// By term, pace and node of the share of off-types: the log of the weight of the seedlings not kept, and the share.
    fn ln_with_shares(&self) -> Vec<Vec<Vec<(f64, f64)>>> {
        let by_term = self.ln_by_term().into_iter().zip(self.terms.list());
        let of_term = |(by_pace, term): (Vec<Vec<f64>>, &Term)| {
            let nodes = nodes_of(kind_of(term), self.members.count);
            let of_pace = |(seen, ln_pace): (Vec<f64>, &f64)| {
                let nodes = nodes.iter().zip(seen);
                nodes
                    .map(|((share, ln_node), seen)| (ln_pace + ln_node + seen, *share))
                    .collect()
            };
            let paces = by_pace.into_iter().zip(&self.model.paces.ln_weights);
            paces.map(of_pace).collect()
        };
        by_term.map(of_term).collect()
    }

    /// The genotypes of the one plant kept as labelled and as off-type seed of a term, all seedlings and paces in; those
    /// that cannot be are left out.
    fn rows_by_origin(
        &self,
        term: usize,
        by_pace: &[Vec<(f64, f64)>],
        most: f64,
    ) -> [Vec<(usize, f64)>; 2] {
        let mut sums = [(); 2].map(|()| vec![0.0; self.model.space.size]);
        for (pace, lns) in by_pace.iter().enumerate() {
            let rows = self.seen_by_origin(term, 0, pace);
            for (ln, share) in lns {
                let weight = (ln - most).exp();
                let by_origin = [weight * (1.0 - share), weight * share];
                for ((sum, row), weight) in sums.iter_mut().zip(&rows).zip(by_origin) {
                    sum.iter_mut()
                        .zip(row)
                        .for_each(|(sum, p)| *sum += weight * p);
                }
            }
        }
        sums.map(|row| {
            row.into_iter()
                .enumerate()
                .filter(|(_, p)| *p > 0.0)
                .collect()
        })
    }

    /// Several plants kept: their parents and their genotypes.
    fn summed_of_all(&self, kept: &[i64]) -> Option<NamedFactor> {
        let (size, pairs, paces) = (
            self.model.space.size,
            self.model.pair_count(),
            self.model.paces.len(),
        );
        let power = u32::try_from(kept.len()).ok()?;
        let row = size
            .checked_pow(power)
            .filter(|row| row * pairs <= SUMMED_CELLS)?;
        let states = self.sources() * self.slots.nodes() * paces * pairs;
        if states.saturating_mul(row) > SUMMED_WORK {
            return None;
        }
        let (_, _, alone) = self.source_factor();
        let mut values = vec![0.0; pairs * row];
        for (pair, slots) in self.slots.terms.iter().enumerate() {
            for (source, state) in slots.iter().enumerate() {
                let Some((term, _)) = state else {
                    continue;
                };
                for pace in 0..paces {
                    let plants: Vec<[Vec<f64>; 2]> = (0..kept.len())
                        .map(|at| self.seen_by_origin(*term, at, pace))
                        .collect();
                    let sums = &mut values[pair * row..(pair + 1) * row];
                    for (node, (share, _)) in self.slots.shares[source].iter().enumerate() {
                        let at = ((source * self.slots.nodes() + node) * paces + pace) * pairs;
                        let weight = alone[at + pair];
                        if weight > 0.0 {
                            add_product(sums, weight, *share, &plants);
                        }
                    }
                }
            }
        }
        let (mut names, mut sizes) = self.parent_nodes();
        for plant in kept {
            let (own, own_sizes) = self.genotype_nodes(*plant);
            names.extend(own);
            sizes.extend(own_sizes);
        }
        Some((names, sizes, of_largest_one(values)))
    }
}

/// Values, none less than 0, the largest made 1.
fn of_largest_one(mut values: Vec<f64>) -> Vec<f64> {
    let most = values.iter().copied().fold(0.0, f64::max);
    if most > 0.0 {
        values.iter_mut().for_each(|value| *value /= most);
    }
    values
}

/// Adds the product of what is seen of independent plants, each as labelled or off-type, the last running fastest.
fn add_product(sums: &mut [f64], weight: f64, share: f64, plants: &[[Vec<f64>; 2]]) {
    let mut product = vec![weight];
    for [on, off] in plants {
        let own: Vec<f64> = on
            .iter()
            .zip(off)
            .map(|(on, off)| (1.0 - share) * on + share * off)
            .collect();
        product = product
            .iter()
            .flat_map(|p| own.iter().map(move |q| p * q))
            .collect();
    }
    sums.iter_mut().zip(product).for_each(|(sum, p)| *sum += p);
}
