//! How likely kinds of evidence are under kinds of seed, kept from batch to batch.
//!
//! Batches whose seedlings read alike in the same numbers have the same likelihoods, whoever their parents are: a clean
//! tray is like any other. Called by the posterior; knows no plants.

use std::collections::HashMap;
use std::sync::{Arc, Mutex};

use super::batch::BatchModel;
use super::terms::{QuickMap, Term, Terms};

/// Which seeds are mixed, by number, and the Beta distribution of the share.
pub(super) type Mixed = (usize, usize, u64, u64);

/// The log likelihood of one kind of evidence under each pair of seeds met so far.
pub(super) type OfSeeds = Arc<Mutex<QuickMap<Mixed, f64>>>;

/// Kinds of evidence that are kept; later ones are worked out each time.
const MOST_KINDS: usize = 512;

/// Mixtures of sources that are kept; later ones are worked out each time.
const MOST_MIXTURES: usize = 4096;

/// Likelihoods by kind of evidence, of batches read for the same traits.
#[derive(Debug, Default)]
pub(super) struct Totals {
    mixtures: Mutex<HashMap<Vec<u64>, usize>>,
    kinds: Mutex<HashMap<Vec<u64>, OfSeeds>>,
}

impl Totals {
    /// What is kept for the evidence of a batch: the readings' likelihoods with their numbers, and the paces.
    pub(super) fn of_evidence(&self, model: &BatchModel) -> OfSeeds {
        let groups = model.groups.iter().flat_map(|group| {
            let values = group.likelihood.values.iter().map(|value| value.to_bits());
            values.chain([group.count.unsigned_abs()])
        });
        let paces = model.paces.ln_weights.iter().map(|ln| ln.to_bits());
        let key: Vec<u64> = groups.chain(paces).collect();
        let mut kinds = self
            .kinds
            .lock()
            .expect("no thread panics while it looks up a kind of evidence");
        let full = kinds.len() >= MOST_KINDS;
        match kinds.get(&key) {
            Some(known) => known.clone(),
            None if full => OfSeeds::default(),
            None => kinds.entry(key).or_default().clone(),
        }
    }

    /// For each mixture of a batch a number, the same for the same seed in every batch; nothing for one too many.
    pub(super) fn mixtures(&self, terms: &Terms<'_>) -> Vec<Option<usize>> {
        let mut known = self
            .mixtures
            .lock()
            .expect("no thread panics while it numbers mixtures");
        let first = terms.seed_count() - terms.mixtures.len();
        let number = |at: usize| {
            let key: Vec<u64> = terms.seed(at).iter().map(|p| p.to_bits()).collect();
            let next = known.len();
            let full = next >= MOST_MIXTURES;
            match known.get(&key) {
                Some(number) => Some(*number),
                None if full => None,
                None => Some(*known.entry(key).or_insert(next)),
            }
        };
        (first..terms.seed_count()).map(number).collect()
    }
}

/// What a term's likelihood is kept under; nothing where it is not kept.
pub(super) fn key_of(terms: &Terms<'_>, mixtures: &[Option<usize>], term: &Term) -> Option<Mixed> {
    let known = terms.seed_count() - mixtures.len();
    let number = |seed: Option<usize>| match seed {
        None => Some(0),
        Some(seed) if terms.is_mixture(seed) => Some(known + 1 + mixtures[seed - known]?),
        Some(seed) => Some(seed + 1),
    };
    let (a, b) = term
        .beta
        .map_or((0, 0), |(a, b)| (a.to_bits(), b.to_bits()));
    Some((number(term.on)?, number(term.off)?, a, b))
}
