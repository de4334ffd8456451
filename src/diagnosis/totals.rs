//! How likely kinds of evidence are under kinds of seed, kept from batch to batch.
//!
//! Batches whose seedlings read alike in the same numbers have the same likelihoods, whoever their parents are: a clean
//! tray is like any other. Called by the posterior; knows no plants.

use std::collections::HashMap;
use std::sync::{Arc, Mutex};

use super::batch::BatchModel;
use super::terms::Seeds;

/// Which seeds are mixed, by number, and the Beta distribution of the share.
pub(super) type Mixture = (Option<u32>, Option<u32>, Option<(u64, u64)>);

/// The log likelihood of one kind of evidence under each mixture met so far.
pub(super) type OfMixtures = Arc<Mutex<HashMap<Mixture, f64>>>;

/// Kinds of evidence that are kept; later ones are worked out each time.
const MOST_KINDS: usize = 512;

/// Likelihoods by kind of evidence.
#[derive(Debug, Default)]
pub(super) struct Totals {
    seeds: Mutex<HashMap<Vec<u64>, u32>>,
    kinds: Mutex<HashMap<Vec<u64>, OfMixtures>>,
}

impl Totals {
    /// What is kept for the evidence of a batch: the readings' likelihoods with their numbers, and the paces.
    pub(super) fn signature(&self, model: &BatchModel) -> OfMixtures {
        let mut groups: Vec<Vec<u64>> = model
            .groups
            .iter()
            .map(|group| {
                let values = group.likelihood.values.iter().map(|value| value.to_bits());
                values.chain([group.count.unsigned_abs()]).collect()
            })
            .collect();
        groups.sort_unstable();
        let paces = model.paces.ln_weights.iter().map(|ln| ln.to_bits());
        let key: Vec<u64> = groups.into_iter().flatten().chain(paces).collect();
        let mut kinds = self
            .kinds
            .lock()
            .expect("no thread panics while it looks up a kind of evidence");
        let full = kinds.len() >= MOST_KINDS;
        match kinds.get(&key) {
            Some(known) => known.clone(),
            None if full => OfMixtures::default(),
            None => kinds.entry(key).or_default().clone(),
        }
    }

    /// A number for each seed, the same for the same seed in every batch.
    pub(super) fn numbers(&self, seeds: &Seeds) -> Vec<u32> {
        let mut known = self
            .seeds
            .lock()
            .expect("no thread panics while it numbers seeds");
        seeds
            .iter()
            .map(|seed| {
                let next = u32::try_from(known.len()).expect("fewer than 2^32 kinds of seed");
                let key: Vec<u64> = seed.iter().map(|p| p.to_bits()).collect();
                *known.entry(key).or_insert(next)
            })
            .collect()
    }
}
