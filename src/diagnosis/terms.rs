//! The terms of a batch's likelihood: which two kinds of seed are mixed, in what share, at what weight.
//!
//! Kinds of seed are distributions over profiles and few; evidence is computed once per pair of them, and a
//! plant's genotype is only a weight. Called by the posterior; knows no readings.

use std::collections::HashMap;

use crate::genetics::rule::Cytoplasm;

use super::batch::{BatchModel, Recipe, Role};
use super::context::Context;
use super::sources::{Seed, Share};

/// A kind of seed, by its number.
pub type SeedIx = usize;

/// Distinct distributions over profiles.
#[derive(Debug, Clone, Default)]
pub struct Seeds {
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

    /// All of them.
    pub fn iter(&self) -> impl Iterator<Item = &[f64]> {
        self.list.iter().map(Vec::as_slice)
    }

    /// The distribution of a number.
    #[must_use]
    pub fn get(&self, at: SeedIx) -> &[f64] {
        &self.list[at]
    }
}

/// One candidate's part of a mixture: its place, and its share of the mixture's profiles.
pub type Part = (usize, Vec<f64>);

/// The terms of a batch: which two distributions of seed are mixed, in what share, at what weight.
#[derive(Debug, Clone)]
pub struct Term {
    /// The seed of the label; nothing where the whole batch is something else.
    pub on: Option<SeedIx>,
    /// The seed of the source; nothing where all is as labelled.
    pub off: Option<SeedIx>,
    /// The Beta distribution of the share, where the batch is mixed.
    pub beta: Option<(f64, f64)>,
    /// Weight of each candidate, or of each pair of parental genotypes, that comes to this term.
    pub weights: Vec<(usize, f64)>,
    /// For a mixture of sources: each candidate's part of the off-type seed.
    pub parts: Option<Vec<Part>>,
}

/// The weights of the plants that a batch's sources name.
#[derive(Debug, Clone)]
pub struct PlantWeights {
    /// Of each pair of mother's and father's joint genotypes.
    pub pairs: Vec<f64>,
    /// For each candidate: of its third plants' joint genotypes, given the pair; one row for all pairs, or one a pair.
    pub thirds: Vec<Vec<Vec<f64>>>,
    /// For each candidate: the same whatever the pair, for mixtures.
    pub thirds_alone: Vec<Vec<f64>>,
}

impl PlantWeights {
    fn thirds_of(&self, candidate: usize, pair: usize) -> &[f64] {
        let rows = &self.thirds[candidate];
        if rows.len() == 1 {
            &rows[0]
        } else {
            &rows[pair]
        }
    }
}

/// What the weights of a term are told apart by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Owner {
    /// The candidate source.
    Candidate,
    /// The pair of mother's and father's joint genotypes.
    Pair,
}

/// Collects a batch's terms.
pub struct Terms<'a> {
    model: &'a BatchModel,
    owner: Owner,
    /// The distributions of seed they mix.
    pub seeds: Seeds,
    list: Vec<Term>,
    places: HashMap<TermKey, usize>,
    recipes: Vec<Recipe>,
    /// Seeds of two plants already placed: by cytoplasm, mother and father.
    pairs: HashMap<(Cytoplasm, usize, usize), SeedIx>,
    by_mother: HashMap<usize, SeedIx>,
    /// Seeds of two third plants that do not depend on the pair, by candidate.
    by_thirds: HashMap<usize, Vec<(SeedIx, f64)>>,
    unknown: Option<SeedIx>,
    outside: Option<Vec<(SeedIx, f64)>>,
}

type TermKey = (
    Option<SeedIx>,
    Option<SeedIx>,
    Option<(u64, u64)>,
    Option<usize>,
);

impl<'a> Terms<'a> {
    /// No terms yet.
    #[must_use]
    pub fn new(model: &'a BatchModel, context: &Context<'_>, owner: Owner) -> Self {
        let recipes = model
            .candidates
            .iter()
            .map(|candidate| model.recipe(context, candidate.seed))
            .collect();
        Self {
            model,
            recipes,
            owner,
            seeds: Seeds::default(),
            list: Vec::new(),
            places: HashMap::new(),
            pairs: HashMap::new(),
            by_mother: HashMap::new(),
            by_thirds: HashMap::new(),
            unknown: None,
            outside: None,
        }
    }

    /// Adds the terms of one pair of parental genotypes: candidates' priors times their third plants' weights, times
    /// `weight`.
    pub fn add_pair(&mut self, pair: usize, weight: f64, plants: &PlantWeights) {
        if weight <= 0.0 {
            return;
        }
        let (mother, father) = self.model.pair(pair);
        let on = self.seed_of_pair(mother, father, self.model.mother_cytoplasm());
        for (at, candidate) in self.model.candidates.iter().enumerate() {
            let prior = weight * candidate.prior;
            let owner = if self.owner == Owner::Pair { pair } else { at };
            match candidate.share {
                Share::Nothing => self.add(Some(on), None, None, owner, prior, None),
                Share::Beta(a, b) if candidate.seed == Seed::Mixed => {
                    self.add_mixed(on, (a, b), owner, pair, prior, plants)
                }
                Share::Beta(a, b) => {
                    for (off, w) in self.seeds_of(at, pair, plants) {
                        self.add(Some(on), Some(off), Some((a, b)), owner, prior * w, None);
                    }
                }
                Share::Everything => {
                    for (off, w) in self.seeds_of(at, pair, plants) {
                        self.add(None, Some(off), None, owner, prior * w, None);
                    }
                }
            }
        }
    }

    /// The terms collected.
    #[must_use]
    pub fn list(&self) -> &[Term] {
        &self.list
    }

    fn add(
        &mut self,
        on: Option<SeedIx>,
        off: Option<SeedIx>,
        beta: Option<(f64, f64)>,
        owner: usize,
        weight: f64,
        mixture: Option<(usize, Vec<Part>)>,
    ) {
        let key = (
            on,
            off,
            beta.map(|(a, b)| (a.to_bits(), b.to_bits())),
            mixture.as_ref().map(|(pair, _)| *pair),
        );
        let at = *self.places.entry(key).or_insert_with(|| {
            let parts = mixture.map(|(_, parts)| parts);
            self.list.push(Term {
                on,
                off,
                beta,
                weights: Vec::new(),
                parts,
            });
            self.list.len() - 1
        });
        let weights = &mut self.list[at].weights;
        match weights.iter_mut().find(|(own, _)| *own == owner) {
            Some((_, sum)) => *sum += weight,
            None => weights.push((owner, weight)),
        }
    }

    fn seed_of_pair(&mut self, mother: usize, father: usize, cytoplasm: Cytoplasm) -> SeedIx {
        if let Some(at) = self.pairs.get(&(cytoplasm, mother, father)) {
            return *at;
        }
        let at = self
            .seeds
            .place(self.model.seed_of_pair(mother, father, cytoplasm));
        self.pairs.insert((cytoplasm, mother, father), at);
        at
    }

    /// The seed of a candidate given the pair, with the weight of each kind that its third plants can make it.
    fn seeds_of(
        &mut self,
        candidate: usize,
        pair: usize,
        plants: &PlantWeights,
    ) -> Vec<(SeedIx, f64)> {
        let (mother, _) = self.model.pair(pair);
        match self.recipes[candidate] {
            Recipe::Plants(of, by, cytoplasm) => {
                self.seeds_of_plants(candidate, pair, plants, (of, by), cytoplasm)
            }
            Recipe::UnknownPollen => {
                let known = self.by_mother.get(&mother).copied();
                let at = known
                    .unwrap_or_else(|| self.seeds.place(self.model.seed_of_unknown_pollen(mother)));
                self.by_mother.insert(mother, at);
                vec![(at, 1.0)]
            }
            Recipe::UnknownSeed => {
                let known = self.unknown;
                let at = known.unwrap_or_else(|| self.seeds.place(self.model.unknown_seed()));
                self.unknown = Some(at);
                vec![(at, 1.0)]
            }
            Recipe::OutsideCross => {
                let known = self.outside.take();
                let list = known.unwrap_or_else(|| self.outside_seeds());
                self.outside = Some(list.clone());
                list
            }
            Recipe::Mixed => Vec::new(),
        }
    }

    fn seeds_of_plants(
        &mut self,
        candidate: usize,
        pair: usize,
        plants: &PlantWeights,
        (of, by): (Role, Role),
        cytoplasm: Cytoplasm,
    ) -> Vec<(SeedIx, f64)> {
        let apart = matches!((of, by), (Role::Third(_), Role::Third(_)))
            && plants.thirds[candidate].len() == 1;
        if let Some(known) = self.by_thirds.get(&candidate).filter(|_| apart) {
            return known.clone();
        }
        let size = self.model.space.size;
        let (mother, father) = self.model.pair(pair);
        let row = plants.thirds_of(candidate, pair);
        // Of two third plants the last runs fastest.
        let thirds = |code: usize, place: usize| {
            if row.len() > size && place == 0 {
                code / size
            } else {
                code % size
            }
        };
        let genotype = |role: Role, code: usize| match role {
            Role::Mother => mother,
            Role::Father => father,
            Role::Third(place) => thirds(code, place),
        };
        let mut sums: Vec<(SeedIx, f64)> = Vec::new();
        for (code, weight) in row.iter().enumerate().filter(|(_, weight)| **weight > 0.0) {
            let at = self.seed_of_pair(genotype(of, code), genotype(by, code), cytoplasm);
            add_weight(&mut sums, at, *weight);
        }
        if apart {
            self.by_thirds.insert(candidate, sums.clone());
        }
        sums
    }

    fn outside_seeds(&mut self) -> Vec<(SeedIx, f64)> {
        let plant = self.model.unknown_plant();
        let mut sums: Vec<(SeedIx, f64)> = Vec::new();
        for (mother, p) in plant.iter().enumerate() {
            for (father, q) in plant.iter().enumerate() {
                let at = self.seed_of_pair(mother, father, Cytoplasm::Unknown);
                add_weight(&mut sums, at, p * q);
            }
        }
        sums
    }

    /// A mixture: each off-type seed drawn by the partial weights, third plants averaged seed by seed.
    fn add_mixed(
        &mut self,
        on: SeedIx,
        beta: (f64, f64),
        owner: usize,
        pair: usize,
        weight: f64,
        plants: &PlantWeights,
    ) {
        let alone = PlantWeights {
            pairs: Vec::new(),
            thirds: plants
                .thirds_alone
                .iter()
                .map(|row| vec![row.clone()])
                .collect(),
            thirds_alone: Vec::new(),
        };
        let total: f64 = self
            .model
            .candidates
            .iter()
            .map(|candidate| candidate.weight)
            .sum();
        let mut parts: Vec<Part> = Vec::new();
        let mut whole = vec![0.0; self.model.profiles.len()];
        for at in 0..self.model.candidates.len() {
            let share = self.model.candidates[at].weight / total;
            if share <= 0.0 {
                continue;
            }
            let mut part = vec![0.0; whole.len()];
            for (seed, w) in self.seeds_of(at, pair, &alone) {
                for (sum, p) in part.iter_mut().zip(self.seeds.get(seed)) {
                    *sum += share * w * p;
                }
            }
            whole.iter_mut().zip(&part).for_each(|(sum, p)| *sum += p);
            parts.push((at, part));
        }
        let off = self.seeds.place(whole);
        self.add(
            Some(on),
            Some(off),
            Some(beta),
            owner,
            weight,
            Some((pair, parts)),
        );
    }
}

fn add_weight(sums: &mut Vec<(SeedIx, f64)>, at: SeedIx, weight: f64) {
    match sums.iter_mut().find(|(own, _)| *own == at) {
        Some((_, sum)) => *sum += weight,
        None => sums.push((at, weight)),
    }
}
