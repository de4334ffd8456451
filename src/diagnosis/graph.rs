//! The factor graph of beliefs over plants: one variable a plant and locus.
//!
//! Grown from the plants of a question outward, so that only what is tied to them is multiplied; the sums are left to
//! the elimination.

use std::collections::{BTreeMap, HashMap};

use crate::genetics::locus::LocusIx;
use crate::stats::elimination::Factor;

use super::context::Context;
use super::space::Space;

/// The batches of one pair of parents, as tables over the genotypes of both.
#[derive(Debug)]
pub(super) struct PairEvidence {
    pub(super) space: Space,
    /// By batch: log likelihood of each pair, finite or minus infinity, the largest 0.
    pub(super) tables: BTreeMap<i64, Vec<f64>>,
    /// Their sum.
    pub(super) total: Vec<f64>,
}

/// What is known of the plants of a ledger: the factors of the graph.
pub(super) struct Known<'a> {
    /// Statements, priors and own looks come from here.
    pub(super) context: &'a Context<'a>,
    /// Batches, by mother and father.
    pub(super) pairs: BTreeMap<(i64, i64), PairEvidence>,
    /// Plants kept from a batch: loci, and a factor over their joint genotypes.
    pub(super) kept: HashMap<i64, (Vec<LocusIx>, Vec<f64>)>,
}

/// The part of the factor graph that a question touches, grown from its plants outward.
pub(super) struct Graph<'b, 'a> {
    known: &'b Known<'a>,
    vars: HashMap<(i64, LocusIx), usize>,
    queue: Vec<(i64, LocusIx)>,
    pub(super) factors: Vec<Factor>,
}

impl<'b, 'a> Graph<'b, 'a> {
    pub(super) fn new(known: &'b Known<'a>) -> Self {
        Self {
            known,
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
            let first = self.known.context.plants.first_factor(plant, locus);
            let kept = self.known.kept.get(&plant);
            if kept.is_none_or(|(loci, _)| !loci.contains(&locus)) {
                let var = self.var(plant, locus);
                self.factors
                    .push(Factor::new(vec![var], vec![first.len()], first));
            }
            if !plants_done.contains(&plant) {
                plants_done.push(plant);
                self.add_own(plant);
            }
            let known = self.known;
            for (key, evidence) in &known.pairs {
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
        if let Some((loci, values)) = self.known.kept.get(&plant) {
            let space = Space::new(&self.known.context.looks.book, loci);
            self.add_factor(&[plant], &space, values.clone());
        }
        let looks = self.known.context.looks;
        let cytoplasm = self.known.context.plants.cytoplasm(plant);
        for reading in self.known.context.plants.own_looks(plant) {
            let trait_ = &looks.traits[reading.look];
            let space = Space::new(&looks.book, trait_.model.loci());
            let doubtful = reading
                .doubtful
                .then_some(self.known.context.beliefs.doubtful);
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

/// Logs as plain numbers, the largest 1.
pub(super) fn plain(lns: &[f64]) -> Vec<f64> {
    let most = lns.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    lns.iter()
        .map(|ln| {
            if most.is_finite() {
                (ln - most).exp()
            } else {
                0.0
            }
        })
        .collect()
}
