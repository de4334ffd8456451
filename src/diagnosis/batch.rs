//! One batch as a statistical model: its evidence, its candidate sources, and what each seed would look like.
//!
//! Seeds are described by distributions over profiles (what the eye can tell apart), which are few; the terms of a
//! batch's likelihood are made of them next door.

use std::collections::HashMap;
use std::sync::Arc;

use crate::genetics::locus::LocusIx;
use crate::genetics::rule::Cytoplasm;
use crate::records::day::Day;
use crate::records::rows::{BatchRow, TasteMethod};

use super::answer::EvidenceNote;
use super::context::Context;
use super::evidence::BatchEvidence;
use super::frame::Frame;
use super::paces::Paces;
use super::recipe::{Recipe, Story, Words};
use super::series::{Likelihood, Scale};
use super::set_aside::set_aside;
use super::sources::{Candidate, Stock, stock_of};
use super::space::{Profiles, Space};
use super::word::Word;

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
    pub candidates: Arc<[Candidate]>,
    /// How the seed of each candidate is made.
    recipes: Arc<[Recipe]>,
    /// For each candidate the plants that it names besides mother and father.
    thirds: Arc<[Vec<i64>]>,
    /// What its label promises, worked out once for batches of one story.
    words: Arc<Words>,
    /// The genotypes that matter.
    pub space: Arc<Space>,
    /// What the eye can tell apart.
    pub profiles: Arc<Profiles>,
    /// How fast the batch may colour.
    pub paces: Paces,
    /// Seedlings by likelihood.
    pub groups: Vec<Group>,
    /// The group of each member of the evidence.
    pub group_of: Vec<usize>,
    /// What it shares with other batches read for the same traits.
    frame: Arc<Frame>,
    mother_cytoplasm: Cytoplasm,
}

impl BatchModel {
    /// Makes a batch ready.
    #[must_use]
    pub fn new(context: &Context<'_>, batch: &BatchRow) -> Self {
        let frame = |traits: &[usize]| context.frame(traits);
        Self::with(context, batch, gathered(context, batch), frame)
    }

    /// Makes a batch ready for what is known of plants kept from it: further loci matter, and genotypes that look
    /// alike are told apart.
    #[must_use]
    pub fn for_family(context: &Context<'_>, batch: &BatchRow, further: &[LocusIx]) -> Self {
        Self::finest(context, batch, gathered(context, batch), further)
    }

    /// The same at some loci alone: readings of traits that read others are left aside, not the seedlings read.
    pub(super) fn at_loci(
        context: &Context<'_>,
        batch: &BatchRow,
        mut evidence: BatchEvidence,
        loci: &[LocusIx],
    ) -> Self {
        let is_here = |look: usize| {
            let read = context.looks.traits[look].model.loci();
            read.iter().all(|locus| loci.contains(locus))
        };
        evidence.traits.retain(|look| is_here(*look));
        for member in &mut evidence.members {
            member.readings.retain(|reading| is_here(reading.look));
        }
        Self::finest(context, batch, evidence, loci)
    }

    fn finest(
        context: &Context<'_>,
        batch: &BatchRow,
        evidence: BatchEvidence,
        further: &[LocusIx],
    ) -> Self {
        let frame = |traits: &[usize]| {
            let mut loci = context.looks.loci_read(traits);
            loci.extend(further);
            loci.sort_unstable();
            loci.dedup();
            let space = context.groups().space(&loci);
            let profiles = Profiles::finest(context.looks, &space, traits);
            Arc::new(Frame::new(context, space, profiles))
        };
        Self::with(context, batch, evidence, frame)
    }

    /// Makes a batch ready for looks that are yet to be taken: these traits matter too, though nobody has read them here.
    #[must_use]
    pub fn for_looks(context: &Context<'_>, batch: &BatchRow, traits: &[usize]) -> Self {
        let frame = |traits: &[usize]| context.frame(traits);
        let mut evidence = gathered(context, batch);
        evidence.traits.extend(traits);
        evidence.traits.sort_unstable();
        evidence.traits.dedup();
        Self::with(context, batch, evidence, frame)
    }

    fn with(
        context: &Context<'_>,
        batch: &BatchRow,
        mut evidence: BatchEvidence,
        frame: impl FnOnce(&[usize]) -> Arc<Frame>,
    ) -> Self {
        let stock = stock_of(batch);
        let (mother, father) = context.sources.parents(stock);
        let frame = frame(&evidence.traits);
        let any_late = evidence
            .traits
            .iter()
            .any(|place| context.looks.traits[*place].onset.is_some());
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
        let (groups, group_of) = group_members(context, &evidence, &frame.profiles, &paces);
        let story = context.story(batch);
        Self {
            batch_id: batch.id,
            stock,
            mother,
            father,
            candidates: story.candidates,
            recipes: story.recipes,
            thirds: story.thirds,
            words: story.words,
            evidence,
            space: Arc::clone(&frame.space),
            profiles: Arc::clone(&frame.profiles),
            paces,
            groups,
            group_of,
            frame,
            mother_cytoplasm: context.plants.cytoplasm(mother),
        }
    }

    /// The same batch with other sources in question.
    pub(super) fn suspecting(&mut self, story: Story) {
        self.candidates = story.candidates;
        self.recipes = story.recipes;
        self.thirds = story.thirds;
        self.words = story.words;
    }

    /// Whether another batch has the same parents, sources and traits, so that only its readings differ.
    pub(super) fn has_terms_of(&self, other: &Self) -> bool {
        let same_parents = (self.mother, self.father) == (other.mother, other.father);
        let same_sources = Arc::ptr_eq(&self.candidates, &other.candidates);
        same_parents && same_sources && Arc::ptr_eq(&self.frame, &other.frame)
    }

    /// What its label promises and each candidate source would bring.
    pub(super) fn word(&self, context: &Context<'_>) -> Arc<Word> {
        self.words.get(&self.frame, || Word::of(context, self))
    }

    /// What it shares with other batches read for the same traits.
    pub(super) fn frame(&self) -> &Frame {
        &self.frame
    }

    /// How the seed of each candidate is made.
    pub(super) fn recipes(&self) -> &[Recipe] {
        &self.recipes
    }

    /// For each candidate the plants that it names besides mother and father, each once.
    pub(super) fn thirds(&self) -> &[Vec<i64>] {
        &self.thirds
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
    pub fn pair(&self, at: usize) -> (usize, usize) {
        if self.is_self() {
            (at, at)
        } else {
            (at / self.space.size, at % self.space.size)
        }
    }

    /// Every plant that the label or a source names; some more than once.
    #[must_use]
    pub fn named_plants(&self) -> Vec<i64> {
        let mut named = vec![self.mother, self.father];
        named.extend(self.thirds.iter().flatten());
        named
    }

    /// The profiles of seed of two plants of given joint genotypes.
    #[must_use]
    pub fn seed_of_pair(&self, mother: usize, father: usize, cytoplasm: Cytoplasm) -> Vec<f64> {
        self.frame.seed_of_pair(mother, father, cytoplasm)
    }

    /// The gametes of a stranger: independent alleles at the allele shares.
    #[must_use]
    pub fn strangers(&self) -> &[Vec<f64>] {
        &self.frame.unknown
    }

    /// The profiles of seed from outside the ledger: of two independent grains.
    #[must_use]
    pub fn unknown_seed(&self) -> &[f64] {
        let seeds = self.frame.seeds();
        seeds.get(seeds.unknown_seed)
    }

    /// Joint genotypes of one unknown plant, Hardy-Weinberg at the allele shares.
    #[must_use]
    pub fn unknown_plant(&self) -> Vec<f64> {
        self.frame.unknown_plant()
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

/// What was seen in a batch, as far as one table of its parents can hold it.
pub(super) fn gathered(context: &Context<'_>, batch: &BatchRow) -> BatchEvidence {
    let (mother, _) = context.sources.parents(stock_of(batch));
    let mut evidence = context.gather(batch, mother);
    set_aside(context, batch.id, &mut evidence);
    evidence
}

/// What seedlings of one group have in common: readings in order, and the days on which they may have come up.
type Alike = (Vec<Read>, Vec<(Day, u64)>);

/// A reading as it is weighed: trait, class, whether doubtful, how it was tasted, day.
type Read = (usize, usize, bool, Option<TasteMethod>, Day);

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
    let mut places: HashMap<Alike, usize> = HashMap::new();
    let mut groups: Vec<Group> = Vec::new();
    let mut group_of = Vec::new();
    for member in &evidence.members {
        let seen = member.readings.iter();
        let seen = seen.map(|r| (r.look, r.class, r.doubtful, r.taste, r.day));
        let came_up = member.emergence.iter().map(|(day, p)| (*day, p.to_bits()));
        let key = (seen.collect(), came_up.collect());
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
    in_order(groups, &group_of)
}

/// The groups in an order that only their readings and numbers tell, so that the same evidence adds up to the same last
/// digit in every batch.
fn in_order(groups: Vec<Group>, group_of: &[usize]) -> (Vec<Group>, Vec<usize>) {
    let mut order: Vec<(usize, Group)> = groups.into_iter().enumerate().collect();
    order.sort_by_cached_key(|(_, group)| {
        let values = group.likelihood.values.iter();
        let values: Vec<u64> = values.map(|value| value.to_bits()).collect();
        (values, group.count)
    });
    let mut place = vec![0; order.len()];
    for (now, (before, _)) in order.iter().enumerate() {
        place[*before] = now;
    }
    let groups = order.into_iter().map(|(_, group)| group).collect();
    (groups, group_of.iter().map(|at| place[*at]).collect())
}
