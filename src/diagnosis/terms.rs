//! The terms of a batch's likelihood: which two kinds of seed are mixed, in what share, at what weight.
//!
//! Kinds of seed are distributions over profiles and few; evidence is computed once per pair of them, and a
//! plant's genotype is only a weight. Called by the posterior; knows no readings.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

use crate::genetics::rule::Cytoplasm;

use super::batch::{BatchModel, Recipe, Role};
use super::context::Context;
use super::sources::{Candidate, Seed, Share};

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

impl Term {
    /// Its weight, whoever it comes from.
    #[must_use]
    pub fn mass(&self) -> f64 {
        self.weights.iter().map(|(_, weight)| weight).sum()
    }
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

/// Hashes small numbers that are known not to be chosen against it.
#[derive(Debug, Default)]
struct Quick(u64);

impl Hasher for Quick {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        bytes
            .iter()
            .for_each(|byte| self.write_u64(u64::from(*byte)));
    }

    fn write_u64(&mut self, number: u64) {
        // Fibonacci hashing: 2^64 over the golden ratio (Knuth, The Art of Computer Programming 3, 6.4).
        self.0 = (self.0.rotate_left(5) ^ number).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    }

    fn write_usize(&mut self, number: usize) {
        self.write_u64(number as u64);
    }
}

type QuickMap<K, V> = HashMap<K, V, BuildHasherDefault<Quick>>;

/// Which seeds are mixed and in what kind of share, by number; one more than its number, nothing where there is none.
type TermKey = (usize, usize, usize);

/// Collects a batch's terms.
pub struct Terms<'a> {
    model: &'a BatchModel,
    owner: Owner,
    /// The distributions of seed they mix.
    pub seeds: Seeds,
    list: Vec<Term>,
    places: QuickMap<TermKey, usize>,
    betas: Vec<(f64, f64)>,
    recipes: Vec<Recipe>,
    /// Seeds of two plants already placed, mother's genotype running slowest, by cytoplasm.
    pairs: Vec<(Cytoplasm, Vec<Option<SeedIx>>)>,
    by_mother: HashMap<usize, SeedIx>,
    /// Seeds of two third plants that do not depend on the pair, by candidate.
    by_thirds: HashMap<usize, Vec<(SeedIx, f64)>>,
    unknown: Option<SeedIx>,
    outside: Option<Vec<(SeedIx, f64)>>,
}

impl<'a> Terms<'a> {
    /// The terms of all pairs of parental genotypes: candidates' priors times their third plants' weights, times the
    /// pair's own weight.
    #[must_use]
    pub fn of(
        model: &'a BatchModel,
        context: &Context<'_>,
        owner: Owner,
        pairs: &[f64],
        plants: &PlantWeights,
    ) -> Self {
        let recipe = |candidate: &Candidate| model.recipe(context, candidate.seed);
        let mut terms = Self {
            model,
            recipes: model.candidates.iter().map(recipe).collect(),
            owner,
            seeds: Seeds::default(),
            list: Vec::new(),
            places: QuickMap::default(),
            betas: Vec::new(),
            pairs: Vec::new(),
            by_mother: HashMap::new(),
            by_thirds: HashMap::new(),
            unknown: None,
            outside: None,
        };
        let held: Vec<(usize, f64, SeedIx)> = pairs
            .iter()
            .enumerate()
            .filter(|(_, weight)| **weight > 0.0)
            .map(|(pair, weight)| {
                let (mother, father) = model.pair(pair);
                let on = terms.seed_of_pair(mother, father, model.mother_cytoplasm());
                (pair, *weight, on)
            })
            .collect();
        match owner {
            // One owner after the other, so that a term's newest weight is its owner's.
            Owner::Candidate => {
                for candidate in 0..model.candidates.len() {
                    for (pair, weight, on) in &held {
                        terms.add_candidate(candidate, (*pair, *weight, *on), plants);
                    }
                }
            }
            Owner::Pair => {
                for pair in &held {
                    for candidate in 0..model.candidates.len() {
                        terms.add_candidate(candidate, *pair, plants);
                    }
                }
            }
        }
        terms.add_mixed(&held, plants);
        terms
    }

    /// Adds the terms of one candidate, other than a mixture, at one pair.
    fn add_candidate(
        &mut self,
        at: usize,
        (pair, weight, on): (usize, f64, SeedIx),
        plants: &PlantWeights,
    ) {
        let candidate = &self.model.candidates[at];
        let prior = weight * candidate.prior;
        if candidate.seed == Seed::Mixed || prior <= 0.0 {
            return;
        }
        let owner = if self.owner == Owner::Pair { pair } else { at };
        match candidate.share {
            Share::Nothing => self.add((Some(on), None), None, owner, prior),
            Share::Beta(a, b) => {
                for (off, w) in self.seeds_of(at, pair, plants) {
                    self.add((Some(on), Some(off)), Some((a, b)), owner, prior * w);
                }
            }
            Share::Everything => {
                for (off, w) in self.seeds_of(at, pair, plants) {
                    self.add((None, Some(off)), None, owner, prior * w);
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
        (on, off): (Option<SeedIx>, Option<SeedIx>),
        beta: Option<(f64, f64)>,
        owner: usize,
        weight: f64,
    ) {
        let number = |seed: Option<SeedIx>| seed.map_or(0, |seed| seed + 1);
        let kind = beta.map_or(0, |beta| self.kind_of(beta) + 1);
        let at = *self
            .places
            .entry((number(on), number(off), kind))
            .or_insert_with(|| {
                self.list.push(Term {
                    on,
                    off,
                    beta,
                    weights: Vec::new(),
                    parts: None,
                });
                self.list.len() - 1
            });
        let weights = &mut self.list[at].weights;
        match weights.last_mut() {
            Some((own, sum)) if *own == owner => *sum += weight,
            _ => weights.push((owner, weight)),
        }
    }

    /// The number of a Beta distribution of the share.
    fn kind_of(&mut self, beta: (f64, f64)) -> usize {
        let known = self.betas.iter().position(|own| *own == beta);
        known.unwrap_or_else(|| {
            self.betas.push(beta);
            self.betas.len() - 1
        })
    }

    fn seed_of_pair(&mut self, mother: usize, father: usize, cytoplasm: Cytoplasm) -> SeedIx {
        let size = self.model.space.size;
        let table = self.pairs.iter().position(|(own, _)| *own == cytoplasm);
        let table = table.unwrap_or_else(|| {
            self.pairs.push((cytoplasm, vec![None; size * size]));
            self.pairs.len() - 1
        });
        if let Some(at) = self.pairs[table].1[mother * size + father] {
            return at;
        }
        let seed = self.model.seed_of_pair(mother, father, cytoplasm);
        let at = self.seeds.place(seed);
        self.pairs[table].1[mother * size + father] = Some(at);
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

    /// The terms of a mixture: each off-type seed drawn by the partial weights, third plants averaged seed by seed.
    fn add_mixed(&mut self, held: &[(usize, f64, SeedIx)], plants: &PlantWeights) {
        let model = self.model;
        let mixture = |candidate: &Candidate| candidate.seed == Seed::Mixed;
        let Some(place) = model.candidates.iter().position(mixture) else {
            return;
        };
        let Share::Beta(a, b) = model.candidates[place].share else {
            return;
        };
        let prior = model.candidates[place].prior;
        if prior <= 0.0 {
            return;
        }
        let alone = PlantWeights {
            pairs: Vec::new(),
            thirds: plants
                .thirds_alone
                .iter()
                .map(|row| vec![row.clone()])
                .collect(),
            thirds_alone: Vec::new(),
        };
        let mut known: HashMap<(usize, usize), Vec<Option<Vec<f64>>>> = HashMap::new();
        for (pair, weight, on) in held {
            let (parts, whole) = self.parts_of(*pair, &alone, &mut known);
            let off = self.seeds.place(whole);
            let owner = if self.owner == Owner::Pair {
                *pair
            } else {
                place
            };
            self.list.push(Term {
                on: Some(*on),
                off: Some(off),
                beta: Some((a, b)),
                weights: vec![(owner, weight * prior)],
                parts: Some(parts),
            });
        }
    }

    /// Each candidate's part of the off-type seed of a mixture at one pair, and their sum; what depends on the mother
    /// alone is worked out once for each of her genotypes.
    fn parts_of(
        &mut self,
        pair: usize,
        alone: &PlantWeights,
        known: &mut HashMap<(usize, usize), Vec<Option<Vec<f64>>>>,
    ) -> (Vec<Part>, Vec<f64>) {
        let candidates = &self.model.candidates;
        let total: f64 = candidates.iter().map(|candidate| candidate.weight).sum();
        let (mother, father) = self.model.pair(pair);
        let mut parts: Vec<Part> = Vec::new();
        let mut whole = vec![0.0; self.model.profiles.len()];
        for (at, candidate) in candidates.iter().enumerate() {
            let share = candidate.weight / total;
            if share <= 0.0 {
                continue;
            }
            let names_father = matches!(
                self.recipes[at],
                Recipe::Plants(Role::Father, _, _) | Recipe::Plants(_, Role::Father, _)
            );
            let key = (mother, if names_father { father + 1 } else { 0 });
            let own = known
                .entry(key)
                .or_insert_with(|| vec![None; candidates.len()]);
            if own[at].is_none() {
                let mut part = vec![0.0; whole.len()];
                for (seed, w) in self.seeds_of(at, pair, alone) {
                    for (sum, p) in part.iter_mut().zip(self.seeds.get(seed)) {
                        *sum += share * w * p;
                    }
                }
                own[at] = Some(part);
            }
            let part = own[at].clone().expect("it was just worked out");
            whole.iter_mut().zip(&part).for_each(|(sum, p)| *sum += p);
            parts.push((at, part));
        }
        (parts, whole)
    }
}

fn add_weight(sums: &mut Vec<(SeedIx, f64)>, at: SeedIx, weight: f64) {
    match sums.iter_mut().find(|(own, _)| *own == at) {
        Some((_, sum)) => *sum += weight,
        None => sums.push((at, weight)),
    }
}
