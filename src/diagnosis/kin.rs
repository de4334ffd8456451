//! Which plants can say something of their kin, and at which loci.
//!
//! A plant speaks at a locus if it was stated or looked at there, if a question asks it, or if offspring that speak
//! came from it. All others say nothing of anybody: among the seedlings of a batch they are absorbed in its likelihood
//! before any sum over genotypes is made. Who speaks at a locus speaks at all that are linked to it. Called by the
//! beliefs over plants.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use crate::genetics::locus::LocusIx;
use crate::records::descent::parents_of;

use super::batch::BatchModel;
use super::context::Context;

/// What a question wants to know: plants, and the loci at which.
#[derive(Debug, Clone, Default)]
pub struct Asked {
    /// The plants.
    pub plants: Vec<i64>,
    /// The loci.
    pub loci: Vec<LocusIx>,
}

/// Who speaks, and at which loci.
#[derive(Debug, Default)]
pub(super) struct Kin {
    plants: HashMap<i64, BTreeSet<LocusIx>>,
    batches: HashMap<i64, BTreeSet<LocusIx>>,
    /// Plants that speak, of known parents and no batch: mother and father.
    pub(super) bred: BTreeMap<i64, (i64, i64)>,
    /// For batches: the plants kept that speak.
    pub(super) kept: BTreeMap<i64, Vec<i64>>,
}

impl Kin {
    /// Looks who speaks, from the youngest plants upward until nothing is added.
    pub(super) fn of(context: &Context<'_>, models: &[BatchModel], asked: &Asked) -> Self {
        let facts = context.index.facts;
        let groups = context.groups();
        let mut kin = Self::default();
        for row in &facts.plant {
            let mut loci: BTreeSet<LocusIx> = context.plants.stated_loci(row.id).collect();
            for reading in context.plants.own_looks(row.id) {
                loci.extend(context.looks.traits[reading.look].model.loci());
            }
            if asked.plants.contains(&row.id) {
                loci.extend(&asked.loci);
            }
            kin.plants.insert(row.id, groups.closed(loci).collect());
        }
        let mut order: Vec<&BatchModel> = models.iter().collect();
        order.sort_by_key(|model| std::cmp::Reverse(model.batch_id));
        for model in &order {
            let read = model.space.loci.iter().copied();
            let aside = context.looks.loci_read(&model.evidence.set_aside);
            let read = groups.closed(read.chain(aside)).collect();
            kin.batches.insert(model.batch_id, read);
        }
        let bred: Vec<(i64, (i64, i64))> = facts
            .plant
            .iter()
            .rev()
            .filter(|row| row.batch_id.is_none())
            .filter_map(|row| Some((row.id, parents_of(facts, row)?)))
            .collect();
        loop {
            let mut grown = false;
            for (child, parents) in &bred {
                grown |= kin.pass_up(*child, *parents);
            }
            for model in &order {
                grown |= kin.pass_through(context, model);
            }
            if !grown {
                break;
            }
        }
        let speaks = |plant: &i64| kin.plants.get(plant).is_some_and(|loci| !loci.is_empty());
        kin.bred = bred
            .into_iter()
            .filter(|(child, _)| speaks(child))
            .collect();
        for model in order {
            let seedlings = context.index.seedlings_of(model.batch_id).iter();
            let kept: Vec<i64> = seedlings.map(|row| row.id).filter(speaks).collect();
            if !kept.is_empty() {
                kin.kept.insert(model.batch_id, kept);
            }
        }
        kin
    }

    fn pass_up(&mut self, child: i64, (mother, father): (i64, i64)) -> bool {
        let loci = self.plants.get(&child).cloned().unwrap_or_default();
        self.hear(mother, &loci) | self.hear(father, &loci)
    }

    fn pass_through(&mut self, context: &Context<'_>, model: &BatchModel) -> bool {
        let mut loci = self
            .batches
            .get(&model.batch_id)
            .cloned()
            .unwrap_or_default();
        let before = loci.len();
        for row in context.index.seedlings_of(model.batch_id) {
            loci.extend(self.plants.get(&row.id).into_iter().flatten());
        }
        let grown = loci.len() > before;
        let heard = self.hear(model.mother, &loci) | self.hear(model.father, &loci);
        self.batches.insert(model.batch_id, loci);
        grown | heard
    }

    fn hear(&mut self, plant: i64, loci: &BTreeSet<LocusIx>) -> bool {
        let own = self.plants.entry(plant).or_default();
        let before = own.len();
        own.extend(loci);
        own.len() > before
    }

    /// Whether a plant speaks at a locus.
    pub(super) fn asks(&self, plant: i64, locus: LocusIx) -> bool {
        self.plants
            .get(&plant)
            .is_some_and(|loci| loci.contains(&locus))
    }

    /// The loci at which a batch or the plants kept from it speak.
    pub(super) fn loci_of_batch(&self, batch: i64) -> Vec<LocusIx> {
        self.batches
            .get(&batch)
            .into_iter()
            .flatten()
            .copied()
            .collect()
    }
}
