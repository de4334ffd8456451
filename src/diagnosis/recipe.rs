//! How the seed of each candidate source of a batch is made: of which two plants, in whose cytoplasm.
//!
//! The same for all batches of a stock that were sown on one day, whatever was seen in them. Batches are made ready with
//! it; knows no genotypes.

use std::sync::{Arc, Mutex};

use crate::genetics::rule::Cytoplasm;

use super::frame::Frame;
use super::plants::Plants;
use super::sources::{Candidate, Seed};
use super::word::Word;

/// Which plant of a batch's story stands in a parent's place of a source's seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// The label's mother.
    Mother,
    /// The label's father.
    Father,
    /// One of the source's third plants, by its place.
    Third(usize),
}

/// How the seed of a candidate source is made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Recipe {
    /// Two plants of the ledger; the cytoplasm is the mother's.
    Plants(Role, Role, Cytoplasm),
    /// The label's mother, and grains at the allele shares.
    UnknownPollen,
    /// Two grains at the allele shares.
    UnknownSeed,
    /// Two plants of unknown genotype, the same for the whole batch.
    OutsideCross,
    /// Drawn seed by seed from the other partial sources.
    Mixed,
}

/// What may have become of the seed of a batch, by candidate.
#[derive(Debug, Clone)]
pub(super) struct Story {
    pub(super) candidates: Arc<[Candidate]>,
    pub(super) recipes: Arc<[Recipe]>,
    /// The plants named besides the label's mother and father, each once.
    pub(super) thirds: Arc<[Vec<i64>]>,
    /// What the label promises and each candidate would bring, of batches asked about.
    pub(super) words: Arc<Words>,
}

/// What the label of a story promises, by what was read; worked out once.
#[derive(Debug, Default)]
pub(super) struct Words(Mutex<Vec<(Arc<Frame>, Arc<Word>)>>);

impl Words {
    /// The promises for batches of one frame.
    pub(super) fn get(&self, frame: &Arc<Frame>, work_out: impl FnOnce() -> Word) -> Arc<Word> {
        let held = "no thread panics while it works out what a label promises";
        let mut words = self.0.lock().expect(held);
        let known = words.iter().find(|(own, _)| Arc::ptr_eq(own, frame));
        if let Some((_, word)) = known {
            return Arc::clone(word);
        }
        let made = Arc::new(work_out());
        words.push((Arc::clone(frame), Arc::clone(&made)));
        made
    }
}

impl Story {
    pub(super) fn new(
        plants: &Plants<'_>,
        (mother, father): (i64, i64),
        candidates: Vec<Candidate>,
    ) -> Self {
        let recipe = |one: &Candidate| recipe(plants, (mother, father), one.seed);
        let thirds = |one: &Candidate| third_plants((mother, father), one.seed);
        Self {
            recipes: candidates.iter().map(recipe).collect(),
            thirds: candidates.iter().map(thirds).collect(),
            candidates: candidates.into(),
            words: Arc::default(),
        }
    }
}

/// The plants that a source names besides mother and father, each once.
fn third_plants((mother, father): (i64, i64), seed: Seed) -> Vec<i64> {
    let named = match seed {
        Seed::PollenOf(donor) => vec![donor],
        Seed::OfCross { mother, father } => vec![mother, father],
        _ => Vec::new(),
    };
    let mut thirds: Vec<i64> = Vec::new();
    for plant in named {
        if plant != mother && plant != father && !thirds.contains(&plant) {
            thirds.push(plant);
        }
    }
    thirds
}

fn recipe(plants: &Plants<'_>, parents: (i64, i64), seed: Seed) -> Recipe {
    let own = plants.cytoplasm(parents.0);
    let role = |plant: i64| {
        if plant == parents.0 {
            return Role::Mother;
        }
        if plant == parents.1 {
            return Role::Father;
        }
        let thirds = third_plants(parents, seed);
        let place = thirds.iter().position(|third| *third == plant);
        Role::Third(place.expect("a named plant is the mother, the father or a third plant"))
    };
    match seed {
        Seed::Labelled => Recipe::Plants(Role::Mother, role(parents.1), own),
        Seed::SelfOfMother => Recipe::Plants(Role::Mother, Role::Mother, own),
        Seed::PollenOf(donor) => Recipe::Plants(Role::Mother, role(donor), own),
        Seed::OfCross { mother, father } => {
            Recipe::Plants(role(mother), role(father), plants.cytoplasm(mother))
        }
        Seed::UnknownPollen => Recipe::UnknownPollen,
        Seed::UnknownSeed => Recipe::UnknownSeed,
        Seed::OutsideCross => Recipe::OutsideCross,
        Seed::Mixed => Recipe::Mixed,
    }
}
