//! The factor graph of beliefs over plants: one variable a plant and locus.
//!
//! Grown from the plants of a question outward, so that only what is tied to them is multiplied; the sums are left to
//! the elimination.

use std::collections::HashMap;

use crate::genetics::locus::LocusIx;
use crate::stats::elimination::Factor;

use super::belief::{Beliefs, PairEvidence, plain};
use super::space::Space;

/// The part of the factor graph that a question touches, grown from its plants outward.
pub(super) struct Graph<'b, 'a> {
    beliefs: &'b Beliefs<'a>,
    vars: HashMap<(i64, LocusIx), usize>,
    queue: Vec<(i64, LocusIx)>,
    pub(super) factors: Vec<Factor>,
}

impl<'b, 'a> Graph<'b, 'a> {
    pub(super) fn new(beliefs: &'b Beliefs<'a>) -> Self {
        Self {
            beliefs,
            vars: HashMap::new(),
            queue: Vec::new(),
            factors: Vec::new(),
        }
    }

    pub(super) fn var(&mut self, plant: i64, locus: LocusIx) -> usize {
        let next = self.vars.len();
        *self.vars.entry((plant, locus)).or_insert_with(|| {
            self.queue.push((plant, locus));
            next
        })
    }

    /// Adds the factors of every variable reached, the batches of `left_out` excepted.
    pub(super) fn grow(&mut self, left_out: (i64, i64)) {
        let mut plants_done: Vec<i64> = Vec::new();
        let mut pairs_done: Vec<(i64, i64)> = vec![left_out];
        while let Some((plant, locus)) = self.queue.pop() {
            let first = self.beliefs.context.plants.first_factor(plant, locus);
            let kept = self.beliefs.kept.get(&plant);
            if kept.is_none_or(|(loci, _)| !loci.contains(&locus)) {
                let var = self.var(plant, locus);
                self.factors
                    .push(Factor::new(vec![var], vec![first.len()], first));
            }
            if !plants_done.contains(&plant) {
                plants_done.push(plant);
                self.add_own(plant);
            }
            let beliefs = self.beliefs;
            for (key, evidence) in &beliefs.pairs {
                let touches =
                    (key.0 == plant || key.1 == plant) && evidence.space.loci.contains(&locus);
                if touches && !pairs_done.contains(key) {
                    pairs_done.push(*key);
                    self.add_pair(*key, evidence);
                }
            }
        }
    }

    /// A plant's own looks and, for one kept from a batch, what its batch says of it.
    fn add_own(&mut self, plant: i64) {
        if let Some((loci, values)) = self.beliefs.kept.get(&plant) {
            let space = Space::new(&self.beliefs.context.looks.book, loci);
            self.add_factor(&[plant], &space, values.clone());
        }
        let looks = self.beliefs.context.looks;
        let cytoplasm = self.beliefs.context.plants.cytoplasm(plant);
        for reading in self.beliefs.context.plants.own_looks(plant) {
            let trait_ = &looks.traits[reading.look];
            let space = Space::new(&looks.book, trait_.model.loci());
            let doubtful = reading
                .doubtful
                .then_some(self.beliefs.context.beliefs.doubtful);
            let values = (0..space.size)
                .map(|joint| {
                    let shown = trait_.model.class_of(&space.genotype(joint), cytoplasm);
                    trait_.reading_chance(shown, reading.class, doubtful)
                })
                .collect();
            self.add_factor(&[plant], &space, values);
        }
    }

    fn add_pair(&mut self, key: (i64, i64), evidence: &PairEvidence) {
        let values = plain(&evidence.total);
        let plants = if key.0 == key.1 {
            vec![key.0]
        } else {
            vec![key.0, key.1]
        };
        self.add_factor(&plants, &evidence.space, values);
    }

    fn add_factor(&mut self, plants: &[i64], space: &Space, values: Vec<f64>) {
        let mut vars = Vec::new();
        let mut sizes = Vec::new();
        for plant in plants {
            for (locus, pairs) in space.loci.iter().zip(&space.pairs) {
                vars.push(self.var(*plant, *locus));
                sizes.push(pairs.len());
            }
        }
        self.factors.push(Factor::new(vars, sizes, values));
    }
}
