//! The terms of a batch's likelihood: which two kinds of seed are mixed, in what share, at what weight.
//!
//! Kinds of seed are distributions over profiles and few; evidence is computed once per pair of them, and a
//! plant's genotype is only a weight. Called by the posterior; knows no readings.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};
use std::sync::Arc;

use super::batch::BatchModel;
use super::frame::{KnownSeeds, SeedIx};
use super::recipe::{Recipe, Role};
use super::sources::{Seed, Share};
use super::weights::{PlantWeights, Thirds};

/// A term of a batch's likelihood.
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
    /// For a mixture of sources: which one.
    pub mixture: Option<usize>,
}

impl Term {
    /// Its weight, whoever it comes from.
    #[must_use]
    pub fn mass(&self) -> f64 {
        self.weights.iter().map(|(_, weight)| weight).sum()
    }
}

/// Off-type seed drawn one by one from the partial sources.
#[derive(Debug, Clone)]
pub(super) struct Mixture {
    /// Which candidate brings which kind of seed with what chance.
    pub(super) parts: Vec<(usize, SeedIx, f64)>,
    /// The distribution over profiles of them all.
    whole: Vec<f64>,
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
pub(super) struct Quick(u64);

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

pub(super) type QuickMap<K, V> = HashMap<K, V, BuildHasherDefault<Quick>>;

/// Which seeds are mixed and in what kind of share, by number; one more than its number, nothing where there is none.
type TermKey = (usize, usize, usize);

/// A pair of parental genotypes that can be, its weight, and the seed of the label.
struct Held {
    pair: usize,
    weight: f64,
    on: SeedIx,
}

/// Candidates that make their seed the same way and bring it in the same kind of share.
struct Pool {
    owner: usize,
    weight: f64,
    recipe: Recipe,
    share: Share,
    thirds: Arc<Thirds>,
}

/// To which term each pair and each state of the third plants come, for candidates of one recipe and share.
struct Grid {
    recipe: Recipe,
    share: Share,
    /// The pair running slowest.
    terms: Vec<usize>,
    /// The terms that occur, each once.
    distinct: Vec<usize>,
}

/// Collects a batch's terms.
pub struct Terms<'a> {
    model: &'a BatchModel,
    known: &'a KnownSeeds,
    list: Vec<Term>,
    places: QuickMap<TermKey, usize>,
    betas: Vec<(f64, f64)>,
    pub(super) mixtures: Vec<Mixture>,
}

impl<'a> Terms<'a> {
    /// The terms of all pairs of parental genotypes: candidates' priors times their third plants' weights, times the
    /// pair's own weight.
    #[must_use]
    pub fn of(model: &'a BatchModel, owner: Owner, pairs: &[f64], plants: &PlantWeights) -> Self {
        let known = model.frame().seeds();
        let mut terms = Self {
            model,
            known,
            list: Vec::new(),
            places: QuickMap::default(),
            betas: Vec::new(),
            mixtures: Vec::new(),
        };
        let pairs = pairs.iter().enumerate();
        let held: Vec<Held> = pairs
            .filter(|(_, weight)| **weight > 0.0)
            .map(|(pair, weight)| {
                let (mother, father) = model.pair(pair);
                let on = known.of_pair(mother, father, model.mother_cytoplasm());
                let weight = *weight;
                Held { pair, weight, on }
            })
            .collect();
        terms.add_pools(owner, &held, plants);
        terms.add_mixed(owner, &held, plants);
        terms.list.retain(|term| !term.weights.is_empty());
        terms
    }

    /// The terms collected.
    #[must_use]
    pub fn list(&self) -> &[Term] {
        &self.list
    }

    /// How many kinds of seed there are, mixtures counted last.
    pub(super) fn seed_count(&self) -> usize {
        self.known.len() + self.mixtures.len()
    }

    /// A kind of seed.
    pub(super) fn seed(&self, at: SeedIx) -> &[f64] {
        match at.checked_sub(self.known.len()) {
            None => self.known.get(at),
            Some(mixture) => &self.mixtures[mixture].whole,
        }
    }

    /// Whether a kind of seed is one of this batch's own mixtures.
    pub(super) const fn is_mixture(&self, at: SeedIx) -> bool {
        at >= self.known.len()
    }

    /// Which kinds of seed stand in some term, alone or in a mixture.
    pub(super) fn seeds_used(&self) -> Vec<bool> {
        let mut used = vec![false; self.seed_count()];
        for term in &self.list {
            for seed in [term.on, term.off].into_iter().flatten() {
                used[seed] = true;
            }
        }
        let parts = self.mixtures.iter().flat_map(|mixture| &mixture.parts);
        parts.for_each(|(_, seed, _)| used[*seed] = true);
        used
    }

    /// The terms of all candidates but mixtures.
    fn add_pools(&mut self, owner: Owner, held: &[Held], plants: &PlantWeights) {
        let mut grids: Vec<Grid> = Vec::new();
        let mut sums: Vec<f64> = Vec::new();
        for pool in pools(self.model, self.known, owner, plants) {
            let is_same = |grid: &Grid| grid.recipe == pool.recipe && grid.share == pool.share;
            let at = grids.iter().position(is_same).unwrap_or_else(|| {
                grids.push(self.grid(&pool, held));
                grids.len() - 1
            });
            match owner {
                Owner::Candidate => {
                    sums.resize(self.list.len(), 0.0);
                    self.add_in_all(&pool, &grids[at], held, &mut sums);
                }
                Owner::Pair => self.add_by_pair(&pool, &grids[at], held),
            }
        }
    }

    /// Adds a candidate's weight to each term, over all pairs; `sums` are zeros, and are left so.
    fn add_in_all(&mut self, pool: &Pool, grid: &Grid, held: &[Held], sums: &mut [f64]) {
        for (one, places) in held.iter().zip(grid.terms.chunks(pool.thirds.width())) {
            for (weight, place) in pool.thirds.row(one.pair).iter().zip(places) {
                sums[*place] += one.weight * weight;
            }
        }
        for place in &grid.distinct {
            if sums[*place] > 0.0 {
                let weight = pool.weight * sums[*place];
                self.list[*place].weights.push((pool.owner, weight));
                sums[*place] = 0.0;
            }
        }
    }

    /// Adds a pool's weight to each term, pair by pair.
    fn add_by_pair(&mut self, pool: &Pool, grid: &Grid, held: &[Held]) {
        for (one, places) in held.iter().zip(grid.terms.chunks(pool.thirds.width())) {
            let row = pool.thirds.row(one.pair).iter().zip(places);
            for (weight, place) in row.filter(|(weight, _)| **weight > 0.0) {
                let weights = &mut self.list[*place].weights;
                let weight = pool.weight * one.weight * weight;
                match weights.last_mut() {
                    Some((own, sum)) if *own == one.pair => *sum += weight,
                    _ => weights.push((one.pair, weight)),
                }
            }
        }
    }

    fn grid(&mut self, pool: &Pool, held: &[Held]) -> Grid {
        let (recipe, share) = (pool.recipe, pool.share);
        let mut terms = Vec::with_capacity(held.len() * pool.thirds.width());
        for one in held {
            for code in 0..pool.thirds.width() {
                let off = || self.seed_of(recipe, one.pair, code);
                let (on, off, beta) = match share {
                    Share::Nothing => (Some(one.on), None, None),
                    Share::Beta(a, b) => (Some(one.on), Some(off()), Some((a, b))),
                    Share::Everything => (None, Some(off()), None),
                };
                terms.push(self.place((on, off), beta, None));
            }
        }
        let mut distinct = terms.clone();
        distinct.sort_unstable();
        distinct.dedup();
        Grid {
            recipe,
            share,
            terms,
            distinct,
        }
    }

    /// The place of a term, which is made where it is new.
    fn place(
        &mut self,
        (on, off): (Option<SeedIx>, Option<SeedIx>),
        beta: Option<(f64, f64)>,
        mixture: Option<usize>,
    ) -> usize {
        let number = |seed: Option<SeedIx>| seed.map_or(0, |seed| seed + 1);
        let kind = beta.map_or(0, |beta| self.kind_of(beta) + 1);
        *self
            .places
            .entry((number(on), number(off), kind))
            .or_insert_with(|| {
                self.list.push(Term {
                    on,
                    off,
                    beta,
                    weights: Vec::new(),
                    mixture,
                });
                self.list.len() - 1
            })
    }

    /// The number of a Beta distribution of the share.
    fn kind_of(&mut self, beta: (f64, f64)) -> usize {
        let known = self.betas.iter().position(|own| *own == beta);
        known.unwrap_or_else(|| {
            self.betas.push(beta);
            self.betas.len() - 1
        })
    }

    /// The seed of a recipe at a pair and a state of its third plants.
    fn seed_of(&self, recipe: Recipe, pair: usize, code: usize) -> SeedIx {
        let (mother, father) = self.model.pair(pair);
        let genotype = |role: Role| match role {
            Role::Mother => mother,
            Role::Father => father,
            Role::Third(_) => code,
        };
        match recipe {
            // Of two third plants the kinds of seed are weighed already.
            Recipe::Plants(Role::Third(of), Role::Third(by), _) if of != by => code,
            Recipe::Plants(of, by, cytoplasm) => {
                self.known.of_pair(genotype(of), genotype(by), cytoplasm)
            }
            Recipe::UnknownPollen => {
                let own = self.model.mother_cytoplasm();
                self.known.of_unknown_pollen(mother, own)
            }
            Recipe::UnknownSeed | Recipe::Mixed => self.known.unknown_seed,
            Recipe::OutsideCross => self.known.outside_cross[code].0,
        }
    }

    /// The terms of a mixture: each off-type seed drawn by the partial weights, third plants averaged seed by seed.
    fn add_mixed(&mut self, owner: Owner, held: &[Held], plants: &PlantWeights) {
        let mut candidates = self.model.candidates.iter().enumerate();
        let mixed = candidates.find(|(_, candidate)| candidate.seed == Seed::Mixed);
        let Some((at, candidate)) = mixed.filter(|(_, candidate)| candidate.prior > 0.0) else {
            return;
        };
        let Share::Beta(a, b) = candidate.share else {
            return;
        };
        let names_father = self.model.recipes().iter().any(|recipe| {
            matches!(recipe, Recipe::Plants(of, by, _) if [of, by].contains(&&Role::Father))
        });
        let mut made: QuickMap<(usize, usize), usize> = QuickMap::default();
        for one in held {
            let (mother, father) = self.model.pair(one.pair);
            let key = (mother, if names_father { father } else { 0 });
            let mixture = *made.entry(key).or_insert_with(|| {
                let mixture = self.mixture(one.pair, owner, plants);
                self.mixtures.push(mixture);
                self.mixtures.len() - 1
            });
            let off = self.known.len() + mixture;
            let place = self.place((Some(one.on), Some(off)), Some((a, b)), Some(mixture));
            let owner = match owner {
                Owner::Pair => one.pair,
                Owner::Candidate => at,
            };
            let weights = &mut self.list[place].weights;
            let weight = one.weight * candidate.prior;
            match weights.last_mut() {
                Some((own, sum)) if *own == owner => *sum += weight,
                _ => weights.push((owner, weight)),
            }
        }
    }

    /// The off-type seed of a mixture at one pair; who brings it only where that is asked.
    fn mixture(&self, pair: usize, owner: Owner, plants: &PlantWeights) -> Mixture {
        let candidates = &self.model.candidates;
        let total: f64 = candidates.iter().map(|candidate| candidate.weight).sum();
        let mut parts = Vec::new();
        let mut by_seed = vec![0.0; self.known.len()];
        let sharing = candidates.iter().zip(self.model.recipes()).enumerate();
        for (at, (candidate, recipe)) in sharing.filter(|(_, (one, _))| one.weight > 0.0) {
            let weights = plants.alone[at].iter().enumerate();
            for (code, weight) in weights.filter(|(_, weight)| **weight > 0.0) {
                let seed = self.seed_of(*recipe, pair, code);
                let chance = candidate.weight / total * weight;
                by_seed[seed] += chance;
                if owner == Owner::Candidate {
                    parts.push((at, seed, chance));
                }
            }
        }
        let mut whole = vec![0.0; self.model.profiles.len()];
        for (chance, seed) in by_seed.iter().zip(self.known.iter()) {
            if *chance > 0.0 {
                let sums = whole.iter_mut().zip(seed);
                sums.for_each(|(sum, p)| *sum += chance * p);
            }
        }
        Mixture { parts, whole }
    }
}

/// The candidates other than mixtures: one by one, or those alike together where nobody asks which it was.
fn pools(model: &BatchModel, known: &KnownSeeds, owner: Owner, plants: &PlantWeights) -> Vec<Pool> {
    let mut pools: Vec<Pool> = Vec::new();
    let named = model.candidates.iter().zip(model.recipes());
    for (at, (candidate, recipe)) in named.enumerate() {
        if candidate.seed == Seed::Mixed || candidate.prior <= 0.0 {
            continue;
        }
        let thirds = match recipe {
            Recipe::OutsideCross => {
                let chances = known.outside_cross.iter().map(|(_, p)| *p);
                Arc::new(Thirds::whatever_the_pair(chances.collect()))
            }
            _ => Arc::clone(&plants.thirds[at]),
        };
        let alike = |pool: &&mut Pool| pool.recipe == *recipe && pool.share == candidate.share;
        match pools.iter_mut().find(alike) {
            Some(pool) if owner == Owner::Pair => {
                let pooled = Arc::make_mut(&mut pool.thirds);
                pooled.add(&thirds, candidate.prior, model.pair_count());
            }
            _ => pools.push(Pool {
                owner: at,
                recipe: *recipe,
                share: candidate.share,
                weight: match owner {
                    Owner::Candidate => candidate.prior,
                    Owner::Pair => 1.0,
                },
                thirds: match owner {
                    Owner::Candidate => thirds,
                    Owner::Pair => {
                        let mut pooled = Thirds::nothing(thirds.width());
                        pooled.add(&thirds, candidate.prior, model.pair_count());
                        Arc::new(pooled)
                    }
                },
            }),
        }
    }
    pools
}
