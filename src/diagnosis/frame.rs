//! What batches that were read for the same traits share: the genotypes that matter, what the eye can tell apart of
//! them, and every kind of seed that two plants can make.
//!
//! Made once a question for each set of traits. Kinds of seed are distributions over profiles; there are few, and the
//! likelihood of readings is computed for them and not for the plants. Knows no batch; batches are made ready with it.

use std::collections::HashMap;
use std::sync::{Arc, OnceLock};

use crate::genetics::rule::Cytoplasm;

use super::context::Context;
use super::group::Side;
use super::space::{CYTOPLASMS, Gametes, Profiles, Space, place_of};
use super::totals::Totals;

/// A kind of seed, by its number.
pub type SeedIx = usize;

/// Distinct distributions over profiles.
#[derive(Debug, Clone, Default)]
struct Seeds {
    list: Vec<Vec<f64>>,
    places: HashMap<Vec<u64>, SeedIx>,
}

impl Seeds {
    fn place(&mut self, profiles: Vec<f64>) -> SeedIx {
        let key: Vec<u64> = profiles.iter().map(|p| p.to_bits()).collect();
        *self.places.entry(key).or_insert_with(|| {
            self.list.push(profiles);
            self.list.len() - 1
        })
    }
}

/// Every kind of seed of two plants of which each has a genotype or is a stranger.
#[derive(Debug)]
pub(super) struct KnownSeeds {
    list: Vec<Vec<f64>>,
    size: usize,
    /// By the mother's cytoplasm, her genotype running slowest.
    of_pair: [Arc<Vec<SeedIx>>; 3],
    /// By the mother's cytoplasm and her genotype.
    unknown_pollen: [Vec<SeedIx>; 3],
    pub(super) unknown_seed: SeedIx,
    /// Seeds of two plants of unknown genotype, with their chances.
    pub(super) outside_cross: Vec<(SeedIx, f64)>,
}

impl KnownSeeds {
    fn new(frame: &Frame) -> Self {
        let mut seeds = Seeds::default();
        let size = frame.space.size;
        let mut of_pair: Vec<Arc<Vec<SeedIx>>> = Vec::with_capacity(3);
        let mut unknown_pollen = Vec::with_capacity(3);
        for cytoplasm in CYTOPLASMS {
            let alike = CYTOPLASMS.iter().zip(&of_pair);
            let mut alike = alike.filter(|(known, _)| frame.profiles.agree(**known, cytoplasm));
            let known = alike.next().map(|(_, table)| Arc::clone(table));
            of_pair.push(known.unwrap_or_else(|| {
                let pairs = (0..size).flat_map(|m| (0..size).map(move |f| (m, f)));
                let place = |(m, f)| seeds.place(frame.seed_of_pair(m, f, cytoplasm));
                Arc::new(pairs.map(place).collect())
            }));
            let place = |m| seeds.place(frame.seed_of_unknown_pollen(m, cytoplasm));
            unknown_pollen.push((0..size).map(place).collect());
        }
        let plant = frame.unknown_plant();
        let unknown = frame.profiles.project(&plant, Cytoplasm::Unknown);
        let unknown_seed = seeds.place(unknown);
        let both = plant.iter().flat_map(|p| plant.iter().map(move |q| p * q));
        let mut outside = vec![0.0; seeds.list.len()];
        for (seed, p) in of_pair[place_of(Cytoplasm::Unknown)].iter().zip(both) {
            outside[*seed] += p;
        }
        let possible = outside.into_iter().enumerate().filter(|(_, p)| *p > 0.0);
        Self {
            size,
            outside_cross: possible.collect(),
            of_pair: of_pair.try_into().expect("one table a cytoplasm"),
            unknown_pollen: unknown_pollen.try_into().expect("one row a cytoplasm"),
            unknown_seed,
            list: seeds.list,
        }
    }

    /// How many there are.
    pub(super) const fn len(&self) -> usize {
        self.list.len()
    }

    /// The distribution of a number.
    pub(super) fn get(&self, at: SeedIx) -> &[f64] {
        &self.list[at]
    }

    /// Their distributions.
    pub(super) fn iter(&self) -> impl Iterator<Item = &[f64]> {
        self.list.iter().map(Vec::as_slice)
    }

    /// The seed of two genotypes.
    pub(super) fn of_pair(&self, mother: usize, father: usize, cytoplasm: Cytoplasm) -> SeedIx {
        self.of_pair[place_of(cytoplasm)][mother * self.size + father]
    }

    /// The seed of a mother's genotype and unknown pollen.
    pub(super) fn of_unknown_pollen(&self, mother: usize, cytoplasm: Cytoplasm) -> SeedIx {
        self.unknown_pollen[place_of(cytoplasm)][mother]
    }

    /// The chances of two plants' joint genotypes, the mother's running slowest, as chances of the seeds they make.
    pub(super) fn of_plants(&self, joint: &[f64], cytoplasm: Cytoplasm) -> Vec<f64> {
        let mut sums = vec![0.0; self.len()];
        for (seed, p) in self.of_pair[place_of(cytoplasm)].iter().zip(joint) {
            sums[*seed] += p;
        }
        sums
    }
}

/// What batches read for the same traits share.
#[derive(Debug)]
pub struct Frame {
    pub(super) space: Arc<Space>,
    pub(super) profiles: Arc<Profiles>,
    /// Gametes of each joint genotype, as a mother and as a father.
    gametes: Vec<[Gametes; 2]>,
    /// The gametes of the unknown: the allele shares.
    pub(super) unknown: Gametes,
    seeds: OnceLock<KnownSeeds>,
    /// How likely kinds of readings are under these seeds.
    pub(super) totals: Totals,
}

impl Frame {
    pub(super) fn new(context: &Context<'_>, space: Space, profiles: Profiles) -> Self {
        let gametes = (0..space.size)
            .map(|joint| [Side::Egg, Side::Pollen].map(|side| space.gametes(joint, side)))
            .collect();
        let units = space.units.iter();
        Self {
            gametes,
            unknown: units.map(|unit| context.plants.strangers(unit)).collect(),
            space: Arc::new(space),
            profiles: Arc::new(profiles),
            seeds: OnceLock::new(),
            totals: Totals::default(),
        }
    }

    /// Every kind of seed of two plants.
    pub(super) fn seeds(&self) -> &KnownSeeds {
        self.seeds.get_or_init(|| KnownSeeds::new(self))
    }

    /// The profiles of seed of two plants of given joint genotypes.
    pub(super) fn seed_of_pair(
        &self,
        mother: usize,
        father: usize,
        cytoplasm: Cytoplasm,
    ) -> Vec<f64> {
        let (eggs, pollen) = (&self.gametes[mother][0], &self.gametes[father][1]);
        let joint = self.space.offspring(eggs, pollen);
        self.profiles.project(&joint, cytoplasm)
    }

    /// The profiles of seed of a mother and unknown pollen.
    fn seed_of_unknown_pollen(&self, mother: usize, cytoplasm: Cytoplasm) -> Vec<f64> {
        let joint = self
            .space
            .offspring(&self.gametes[mother][0], &self.unknown);
        self.profiles.project(&joint, cytoplasm)
    }

    /// Joint genotypes of one unknown plant, Hardy-Weinberg at the allele shares.
    pub(super) fn unknown_plant(&self) -> Vec<f64> {
        self.space.offspring(&self.unknown, &self.unknown)
    }
}
