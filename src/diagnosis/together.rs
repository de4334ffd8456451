//! Several seedlings of a batch asked about together, once the diagnosis is made.
//!
//! Names them as the answer lists them and hands the question on to the posterior of their batch. Called by whoever
//! chooses among seedlings; knows nothing of what is wanted of them.

use std::collections::HashMap;
use std::sync::{Arc, Mutex};

use crate::genetics::locus::LocusIx;

use super::batch::BatchModel;
use super::posterior::Weigher;
use super::posterior::all_off::{AllOff, Choice};
use super::suspects::Desk;
use super::weights::PlantWeights;

/// The diagnosis, ready to be asked about several seedlings at once.
pub struct Together<'d, 'a> {
    desk: &'d Desk<'d, 'a>,
}

/// What one batch says of a choice among its seedlings.
#[derive(Debug, Clone, PartialEq)]
pub struct OfBatch {
    /// The chance that all of them are off-type.
    pub all_off: AllOff,
    /// The loci at which its pairs of parental genotypes are told apart.
    pub loci: Vec<LocusIx>,
}

impl<'d, 'a> Together<'d, 'a> {
    pub(super) const fn new(desk: &'d Desk<'d, 'a>) -> Self {
        Self { desk }
    }

    /// For each choice the chance that all of its seedlings are off-type. A seedling is meant by its place among those of
    /// the batch's answer, with how many of its look; nothing for a batch that is not told or too large to weigh.
    #[must_use]
    pub fn all_off(&self, batch: i64, choices: &[Vec<(usize, i64)>]) -> Option<Vec<OfBatch>> {
        let model = self.desk.models[..self.desk.asked].iter();
        let model = model.into_iter().find(|model| model.batch_id == batch)?;
        let weighed = self.desk.weights(model)?;
        let groups = groups_listed(model);
        let by_group = |choice: &Vec<(usize, i64)>| -> Choice {
            let chosen = choice.iter();
            chosen.map(|(at, count)| (groups[*at], *count)).collect()
        };
        let choices: Vec<Choice> = choices.iter().map(by_group).collect();
        let told = Weigher::new(model, self.desk.rules).all_off(&weighed, &choices);
        let of_batch = |all_off: AllOff| OfBatch {
            all_off,
            loci: model.space.loci.clone(),
        };
        Some(told.into_iter().map(of_batch).collect())
    }
}

/// The group of each seedling or look that the answer of a batch lists, in its order.
fn groups_listed(model: &BatchModel) -> Vec<usize> {
    let members = model.evidence.members.iter().zip(&model.group_of);
    let living = members.filter(|(member, _)| member.living > 0);
    living.map(|(_, group)| *group).collect()
}

/// The weights of batches that were answered, for what is asked of them afterwards; kept only where something will be.
#[derive(Debug)]
pub(super) struct WeightsKept(Option<Mutex<HashMap<i64, Arc<PlantWeights>>>>);

impl WeightsKept {
    /// Nothing is asked afterwards.
    pub(super) const fn none() -> Self {
        Self(None)
    }

    pub(super) fn all() -> Self {
        Self(Some(Mutex::default()))
    }

    pub(super) fn keep(&self, batch: i64, weights: PlantWeights) {
        if let Some(kept) = &self.0 {
            let mut kept = kept
                .lock()
                .expect("no thread panics while it keeps weights");
            kept.insert(batch, Arc::new(weights));
        }
    }

    pub(super) fn of(&self, batch: i64) -> Option<Arc<PlantWeights>> {
        let kept = self.0.as_ref()?.lock();
        let kept = kept.expect("no thread panics while it keeps weights");
        kept.get(&batch).cloned()
    }
}
