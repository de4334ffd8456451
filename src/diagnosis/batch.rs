//! One batch as a statistical model: its evidence, its candidate sources, and what each seed would look like.
//!
//! Seeds are described by distributions over profiles (what the eye can tell apart), which are few; the terms of a
//! batch's likelihood are made of them next door.

use std::collections::HashMap;

use crate::genetics::locus::LocusIx;
use crate::genetics::rule::Cytoplasm;
use crate::records::rows::BatchRow;

use super::answer::EvidenceNote;
use super::context::Context;
use super::evidence::BatchEvidence;
use super::group::Side;
use super::looks::Looks;
use super::paces::Paces;
use super::series::{Likelihood, Scale};
use super::sources::{Candidate, Seed, Stock, stock_of};
use super::space::{Gametes, Profiles, Space};

/// Seedlings whose readings are the same, so that their likelihood is computed once.
#[derive(Debug, Clone)]
pub struct Group {
    /// P(readings | profile, pace); all alike where the readings contradict each other.
    pub likelihood: Likelihood,
    /// Whether no profile at any pace can give these readings, so that they say nothing.
    pub contradictory: bool,
    /// How many seedlings.
    pub count: i64,
}

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

/// A batch ready to be weighed.
#[derive(Debug, Clone)]
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
    /// Gametes of each joint genotype, as a mother and as a father.
    gametes: Vec<[Gametes; 2]>,
    /// The gametes of the unknown: the allele shares.
    unknown: Gametes,
    mother_cytoplasm: Cytoplasm,
}

impl BatchModel {
    /// Makes a batch ready.
    #[must_use]
    pub fn new(context: &Context<'_>, batch: &BatchRow) -> Self {
        Self::with(context, batch, &[], &[], Profiles::new)
    }

    /// Makes a batch ready for what is known of plants kept from it: further loci matter, and genotypes that look
    /// alike are told apart.
    #[must_use]
    pub fn for_family(context: &Context<'_>, batch: &BatchRow, further: &[LocusIx]) -> Self {
        Self::with(context, batch, further, &[], Profiles::finest)
    }

    /// Makes a batch ready for looks that are yet to be taken: these traits matter too, though nobody has read them here.
    #[must_use]
    pub fn for_looks(context: &Context<'_>, batch: &BatchRow, traits: &[usize]) -> Self {
        Self::with(context, batch, &[], traits, Profiles::new)
    }

    fn with(
        context: &Context<'_>,
        batch: &BatchRow,
        further: &[LocusIx],
        further_traits: &[usize],
        profiles: impl Fn(&Looks, &Space, &[usize]) -> Profiles,
    ) -> Self {
        let stock = stock_of(batch);
        let (mother, father) = context.sources.parents(stock);
        let mut evidence = context.gather(batch, mother);
        evidence.traits.extend(further_traits);
        evidence.traits.sort_unstable();
        evidence.traits.dedup();
        let looks = context.looks;
        let mut loci = looks.loci_read(&evidence.traits);
        loci.extend(further);
        loci.sort_unstable();
        loci.dedup();
        let space = context.groups().space(&loci);
        let profiles = profiles(looks, &space, &evidence.traits);
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
                alone: proof.alone,
            }));
        let (groups, group_of) = group_members(context, &evidence, &profiles, &paces);
        let sides = [Side::Egg, Side::Pollen];
        let gametes = (0..space.size)
            .map(|joint| sides.map(|side| space.gametes(joint, side)))
            .collect();
        let units = space.units.iter();
        let unknown = units.map(|unit| context.plants.strangers(unit)).collect();
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

    /// The cytoplasm of the label's mother, and so of her seed.
    #[must_use]
    pub const fn mother_cytoplasm(&self) -> Cytoplasm {
        self.mother_cytoplasm
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

    /// Every plant that the label or a source names; some more than once.
    #[must_use]
    pub fn named_plants(&self) -> Vec<i64> {
        let thirds = |candidate: &Candidate| self.third_plants(candidate.seed);
        let mut named = vec![self.mother, self.father];
        named.extend(self.candidates.iter().flat_map(thirds));
        named
    }

    /// The profiles of seed of two plants of given joint genotypes.
    #[must_use]
    pub fn seed_of_pair(&self, mother: usize, father: usize, cytoplasm: Cytoplasm) -> Vec<f64> {
        let joint = self
            .space
            .offspring(&self.gametes[mother][0], &self.gametes[father][1]);
        self.profiles.project(&joint, cytoplasm)
    }

    /// The profiles of seed of the label's mother and unknown pollen.
    #[must_use]
    pub fn seed_of_unknown_pollen(&self, mother: usize) -> Vec<f64> {
        let eggs = &self.gametes[mother][0];
        let joint = self.space.offspring(eggs, &self.unknown);
        self.profiles.project(&joint, self.mother_cytoplasm)
    }

    /// The profiles of unknown seed.
    #[must_use]
    pub fn unknown_seed(&self) -> Vec<f64> {
        self.profiles
            .project(&self.unknown_plant(), Cytoplasm::Unknown)
    }

    /// How a candidate's seed is made.
    #[must_use]
    pub fn recipe(&self, context: &Context<'_>, seed: Seed) -> Recipe {
        let role = |plant: i64| {
            if plant == self.mother {
                Role::Mother
            } else if plant == self.father {
                Role::Father
            } else {
                let place = self
                    .third_plants(seed)
                    .iter()
                    .position(|third| *third == plant);
                Role::Third(
                    place.expect("a named plant is the mother, the father or a third plant"),
                )
            }
        };
        match seed {
            Seed::Labelled => Recipe::Plants(Role::Mother, Role::Father, self.mother_cytoplasm),
            Seed::SelfOfMother => Recipe::Plants(Role::Mother, Role::Mother, self.mother_cytoplasm),
            Seed::PollenOf(donor) => {
                Recipe::Plants(Role::Mother, role(donor), self.mother_cytoplasm)
            }
            Seed::OfCross { mother, father } => {
                Recipe::Plants(role(mother), role(father), context.plants.cytoplasm(mother))
            }
            Seed::UnknownPollen => Recipe::UnknownPollen,
            Seed::UnknownSeed => Recipe::UnknownSeed,
            Seed::OutsideCross => Recipe::OutsideCross,
            Seed::Mixed => Recipe::Mixed,
        }
    }

    /// The gametes of a stranger: independent alleles at the allele shares.
    #[must_use]
    pub fn strangers(&self) -> &[Vec<f64>] {
        &self.unknown
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
            &context.onset_tables,
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
    let scale = Scale::new(
        context.looks,
        profiles,
        paces,
        context.beliefs.doubtful,
        &context.onset_tables,
    );
    let mut places: HashMap<String, usize> = HashMap::new();
    let mut groups: Vec<Group> = Vec::new();
    let mut group_of = Vec::new();
    for member in &evidence.members {
        let seen: Vec<_> = member
            .readings
            .iter()
            .map(|r| (r.look, r.class, r.doubtful, r.taste, r.day))
            .collect();
        let key = format!("{seen:?}{:?}", member.emergence);
        let at = *places.entry(key).or_insert_with(|| {
            let weighed = scale.weigh(&member.readings, &member.emergence);
            groups.push(Group {
                contradictory: weighed.is_none(),
                likelihood: weighed.unwrap_or_else(|| scale.says_nothing()),
                count: 0,
            });
            groups.len() - 1
        });
        groups[at].count += member.count;
        group_of.push(at);
    }
    (groups, group_of)
}
