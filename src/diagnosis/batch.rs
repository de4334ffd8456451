//! One batch as a statistical model: its evidence, its candidate sources, and what each seed would look like.
//!
//! Seeds are described by distributions over profiles (what the eye can tell apart), which are few; evidence is
//! computed once per pair of such distributions, and a plant's genotype only weighs them.

use std::collections::HashMap;

use crate::genetics::rule::Cytoplasm;
use crate::records::rows::BatchRow;

use super::answer::EvidenceNote;
use super::context::Context;
use super::evidence::BatchEvidence;
use super::series::{Likelihood, Paces, Scale};
use super::sources::{Candidate, Seed, Share, Stock, stock_of};
use super::space::{Profiles, Space};

/// Seedlings whose readings are the same, so that their likelihood is computed once.
#[derive(Debug, Clone)]
pub struct Group {
    /// P(readings | profile, pace).
    pub likelihood: Likelihood,
    /// How many seedlings.
    pub count: i64,
}

/// A distribution over profiles, by its number.
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

    /// The distribution of a number.
    #[must_use]
    pub fn get(&self, at: SeedIx) -> &[f64] {
        &self.list[at]
    }
}

/// A batch ready to be weighed.
#[derive(Debug)]
pub struct BatchModel {
    /// The batch's number.
    pub batch_id: i64,
    /// What was sown.
    pub stock: Stock,
    /// The label's mother.
    pub mother: i64,
    /// The label's father; the mother again for a self.
    pub father: i64,
    /// What was seen.
    pub evidence: BatchEvidence,
    /// The candidate sources with their priors.
    pub candidates: Vec<Candidate>,
    /// The genotypes that matter.
    pub space: Space,
    /// What the eye can tell apart.
    pub profiles: Profiles,
    /// How fast the batch may colour.
    pub paces: Paces,
    /// Seedlings by likelihood.
    pub groups: Vec<Group>,
    /// The group of each member of the evidence.
    pub group_of: Vec<usize>,
    /// Gametes of each joint genotype, locus by locus.
    gametes: Vec<Vec<Vec<f64>>>,
    /// The gametes of the unknown: the allele shares.
    unknown: Vec<Vec<f64>>,
    mother_cytoplasm: Cytoplasm,
}

impl BatchModel {
    /// Makes a batch ready.
    #[must_use]
    pub fn new(context: &Context<'_>, batch: &BatchRow) -> Self {
        let stock = stock_of(batch);
        let (mother, father) = context.sources.parents(stock);
        let mut evidence = context.gather(batch, mother);
        let looks = context.looks;
        let loci = looks.loci_read(&evidence.traits);
        let space = Space::new(&looks.book, &loci);
        let profiles = Profiles::new(looks, &space, &evidence.traits);
        let any_late = evidence
            .traits
            .iter()
            .any(|place| looks.traits[*place].onset.is_some());
        let proof = context.light_proof(batch, &evidence);
        let paces = Paces::of(context.beliefs, any_late, proof.is_none());
        evidence
            .notes
            .extend(proof.map(|proof| EvidenceNote::LightProven {
                tray: proof.tray,
                place: batch.place.clone(),
                day: proof.day,
            }));
        let (groups, group_of) = group_members(context, &evidence, &profiles, &paces);
        let gametes = (0..space.size).map(|joint| space.gametes(joint)).collect();
        let unknown = loci
            .iter()
            .map(|locus| context.plants.allele_shares(*locus).to_vec())
            .collect();
        Self {
            batch_id: batch.id,
            stock,
            mother,
            father,
            candidates: context.sources.candidates(batch, context.beliefs),
            evidence,
            space,
            profiles,
            paces,
            groups,
            group_of,
            gametes,
            unknown,
            mother_cytoplasm: context.plants.cytoplasm(mother),
        }
    }

    /// Whether the batch is a self.
    #[must_use]
    pub const fn is_self(&self) -> bool {
        self.mother == self.father
    }

    /// The pairs of joint genotypes that mother and father can have: for a self both are one.
    #[must_use]
    pub fn pair_count(&self) -> usize {
        if self.is_self() {
            self.space.size
        } else {
            self.space.size * self.space.size
        }
    }

    /// The genotypes of mother and father of a pair.
    #[must_use]
    pub const fn pair(&self, at: usize) -> (usize, usize) {
        if self.is_self() {
            (at, at)
        } else {
            (at / self.space.size, at % self.space.size)
        }
    }

    /// The plants that a source names besides mother and father, each once.
    #[must_use]
    pub fn third_plants(&self, seed: Seed) -> Vec<i64> {
        let named: Vec<i64> = match seed {
            Seed::PollenOf(donor) => vec![donor],
            Seed::OfCross { mother, father } => vec![mother, father],
            _ => Vec::new(),
        };
        let mut thirds: Vec<i64> = Vec::new();
        for plant in named {
            if plant != self.mother && plant != self.father && !thirds.contains(&plant) {
                thirds.push(plant);
            }
        }
        thirds
    }

    fn seed_of(&self, mother: &[Vec<f64>], father: &[Vec<f64>], cytoplasm: Cytoplasm) -> Vec<f64> {
        self.profiles
            .project(&self.space.offspring(mother, father), cytoplasm)
    }

    /// The profiles of seed of two plants of given joint genotypes.
    #[must_use]
    pub fn seed_of_pair(&self, mother: usize, father: usize, cytoplasm: Cytoplasm) -> Vec<f64> {
        self.seed_of(&self.gametes[mother], &self.gametes[father], cytoplasm)
    }

    /// The profiles of the seed that the label promises.
    #[must_use]
    pub fn labelled_seed(&self, pair: usize) -> Vec<f64> {
        let (mother, father) = self.pair(pair);
        self.seed_of_pair(mother, father, self.mother_cytoplasm)
    }

    /// The profiles of a source's seed, given mother, father and the source's third plants, each by joint genotype.
    /// [`Seed::Mixed`] and [`Seed::OutsideCross`] are mixtures of others and not asked here.
    #[must_use]
    pub fn source_seed(
        &self,
        context: &Context<'_>,
        seed: Seed,
        pair: usize,
        thirds: &[usize],
    ) -> Vec<f64> {
        let (mother, father) = self.pair(pair);
        match seed {
            Seed::SelfOfMother => self.seed_of_pair(mother, mother, self.mother_cytoplasm),
            Seed::PollenOf(donor) => {
                let donor = self.genotype_of(donor, seed, pair, thirds);
                self.seed_of_pair(mother, donor, self.mother_cytoplasm)
            }
            Seed::UnknownPollen => {
                self.seed_of(&self.gametes[mother], &self.unknown, self.mother_cytoplasm)
            }
            Seed::OfCross {
                mother: m,
                father: f,
            } => {
                let (own, other) = (
                    self.genotype_of(m, seed, pair, thirds),
                    self.genotype_of(f, seed, pair, thirds),
                );
                self.seed_of_pair(own, other, context.plants.cytoplasm(m))
            }
            Seed::UnknownSeed => self.seed_of(&self.unknown, &self.unknown, Cytoplasm::Unknown),
            Seed::Labelled | Seed::Mixed | Seed::OutsideCross => {
                self.seed_of_pair(mother, father, self.mother_cytoplasm)
            }
        }
    }

    fn genotype_of(&self, plant: i64, seed: Seed, pair: usize, thirds: &[usize]) -> usize {
        let (mother, father) = self.pair(pair);
        if plant == self.mother {
            mother
        } else if plant == self.father {
            father
        } else {
            let place = self
                .third_plants(seed)
                .iter()
                .position(|third| *third == plant);
            thirds[place.expect("a named plant is the mother, the father or a third plant")]
        }
    }

    /// Joint genotypes of one unknown plant, Hardy-Weinberg at the allele shares.
    #[must_use]
    pub fn unknown_plant(&self) -> Vec<f64> {
        self.space.offspring(&self.unknown, &self.unknown)
    }

    /// The scale that readings of this batch are weighed on.
    #[must_use]
    pub fn scale<'a>(&'a self, context: &Context<'a>) -> Scale<'a> {
        Scale::new(
            context.looks,
            &self.profiles,
            &self.paces,
            context.beliefs.doubtful,
        )
    }

    /// Seedlings that are evidence.
    #[must_use]
    pub fn evidence_count(&self) -> i64 {
        self.groups.iter().map(|group| group.count).sum()
    }
}

fn group_members(
    context: &Context<'_>,
    evidence: &BatchEvidence,
    profiles: &Profiles,
    paces: &Paces,
) -> (Vec<Group>, Vec<usize>) {
    let scale = Scale::new(context.looks, profiles, paces, context.beliefs.doubtful);
    let mut places: HashMap<String, usize> = HashMap::new();
    let mut groups: Vec<Group> = Vec::new();
    let mut group_of = Vec::new();
    for member in &evidence.members {
        let seen: Vec<_> = member
            .readings
            .iter()
            .map(|r| (r.look, r.class, r.doubtful, r.day))
            .collect();
        let key = format!("{seen:?}{:?}", member.emergence);
        let at = *places.entry(key).or_insert_with(|| {
            groups.push(Group {
                likelihood: scale.weigh(&member.readings, &member.emergence),
                count: 0,
            });
            groups.len() - 1
        });
        groups[at].count += member.count;
        group_of.push(at);
    }
    (groups, group_of)
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
    context: &'a Context<'a>,
    owner: Owner,
    /// The distributions of seed they mix.
    pub seeds: Seeds,
    list: Vec<Term>,
    places: HashMap<TermKey, usize>,
    source_seeds: HashMap<(usize, usize, usize), SeedIx>,
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
    pub fn new(model: &'a BatchModel, context: &'a Context<'a>, owner: Owner) -> Self {
        Self {
            model,
            context,
            owner,
            seeds: Seeds::default(),
            list: Vec::new(),
            places: HashMap::new(),
            source_seeds: HashMap::new(),
        }
    }

    /// Adds the terms of one pair of parental genotypes: candidates' priors times their third plants' weights, times
    /// `weight`.
    pub fn add_pair(&mut self, pair: usize, weight: f64, plants: &PlantWeights) {
        if weight <= 0.0 {
            return;
        }
        let on = self.seeds.place(self.model.labelled_seed(pair));
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

    /// The seed of a candidate given the pair, with the weight of each genotype of its third plants.
    fn seeds_of(
        &mut self,
        candidate: usize,
        pair: usize,
        plants: &PlantWeights,
    ) -> Vec<(SeedIx, f64)> {
        let seed = self.model.candidates[candidate].seed;
        if seed == Seed::OutsideCross {
            return self.outside_seeds();
        }
        let size = self.model.space.size;
        let count = self.model.third_plants(seed).len();
        let mut sums: Vec<(SeedIx, f64)> = Vec::new();
        for (code, weight) in plants.thirds_of(candidate, pair).iter().enumerate() {
            if *weight <= 0.0 {
                continue;
            }
            let at = match self.source_seeds.get(&(candidate, pair, code)) {
                Some(at) => *at,
                None => {
                    let thirds = third_genotypes(code, count, size);
                    let at =
                        self.seeds
                            .place(self.model.source_seed(self.context, seed, pair, &thirds));
                    self.source_seeds.insert((candidate, pair, code), at);
                    at
                }
            };
            match sums.iter_mut().find(|(own, _)| *own == at) {
                Some((_, sum)) => *sum += weight,
                None => sums.push((at, *weight)),
            }
        }
        sums
    }

    fn outside_seeds(&mut self) -> Vec<(SeedIx, f64)> {
        let plant = self.model.unknown_plant();
        let mut sums: Vec<(SeedIx, f64)> = Vec::new();
        for (mother, p) in plant.iter().enumerate() {
            for (father, q) in plant.iter().enumerate() {
                let seed = self.model.seed_of_pair(mother, father, Cytoplasm::Unknown);
                let at = self.seeds.place(seed);
                match sums.iter_mut().find(|(own, _)| *own == at) {
                    Some((_, sum)) => *sum += p * q,
                    None => sums.push((at, p * q)),
                }
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

/// The genotypes of third plants from their joint number, the last running fastest.
fn third_genotypes(mut code: usize, count: usize, size: usize) -> Vec<usize> {
    let mut thirds = vec![0; count];
    for third in thirds.iter_mut().rev() {
        *third = code % size;
        code /= size;
    }
    thirds
}
