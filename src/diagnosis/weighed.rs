//! A batch that was weighed, and what several of its answers ask again.
//!
//! Worked out once: what is known of its plants from everything else, its posterior, what its label promises, and, once
//! a remark asks, what its parents are. Called wherever a batch is answered.

use std::sync::{Arc, OnceLock};

use super::batch::BatchModel;
use super::context::Context;
use super::posterior::{Posterior, Rules, Weigher};
use super::weights::PlantWeights;
use super::word::Word;

/// A batch, weighed.
pub(super) struct Weighed {
    pub(super) weights: PlantWeights,
    pub(super) posterior: Posterior,
    pub(super) word: Arc<Word>,
    parents: OnceLock<Vec<f64>>,
}

impl Weighed {
    /// Weighs a batch, its plants having these weights from everything else.
    pub(super) fn new(
        context: &Context<'_>,
        rules: &Rules,
        model: &BatchModel,
        weights: PlantWeights,
    ) -> Self {
        Self {
            posterior: Weigher::new(model, rules).posterior(&weights),
            weights,
            word: model.word(context),
            parents: OnceLock::new(),
        }
    }

    /// P(genotypes of mother and father | everything), for each pair.
    pub(super) fn parents(&self, rules: &Rules, model: &BatchModel) -> &[f64] {
        self.parents
            .get_or_init(|| Weigher::new(model, rules).pair_posterior(&self.weights))
    }
}
