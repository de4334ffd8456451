//! A batch that plants were kept from, its loci in blocks that only a few plants tie together.
//!
//! What is read of a plant or two and of no other seedling of their batch, such as the heat of their pods, says something
//! of the batch by one thing alone: whether these plants are as labelled, and if not, what kind of seed they are. So
//! such loci need not stand in one table with those that the batch was read for; they hang on the origins of the plants.
//! Exact, like the one table. Called by the beliefs over plants; the batch as one block is worked out next door.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::genetics::locus::LocusIx;
use crate::records::rows::BatchRow;
use crate::stats::elimination::TooManyCells;

use super::batch::BatchModel;
use super::belief::{Beliefs, too_large};
use super::context::Context;
use super::evidence::BatchEvidence;
use super::family::Family;
use super::family_origins::Tied;
use super::recipe::{Recipe, Story};
use super::sources::{Candidate, Seed};
use super::terms::{Owner, Terms};
use super::weights::PlantWeights;

/// Most plants whose origins tie the blocks of one batch together.
const MOST_APART: usize = 3;

/// The loci of a batch in blocks, first those that its seedlings were read for, and the plants that tie them.
struct Blocks {
    loci: Vec<Vec<LocusIx>>,
    /// The plants kept, and those that alone were read at a further block.
    apart: Vec<i64>,
}

/// Loci that stand in one block, and who was read there.
struct Together {
    loci: Vec<LocusIx>,
    /// Plants read one by one.
    readers: BTreeSet<i64>,
    /// Whether they belong to the first block.
    is_core: bool,
}

impl Blocks {
    /// Nothing where the loci make a single block.
    fn of(
        context: &Context<'_>,
        evidence: &BatchEvidence,
        thirds: &[Vec<i64>],
        (loci, kept): (&[LocusIx], &[i64]),
    ) -> Option<Self> {
        let mut all = together(context, evidence, thirds, loci);
        let apart = |all: &[Together]| -> BTreeSet<i64> {
            let side = all.iter().filter(|one| !one.is_core);
            let readers = side.flat_map(|one| one.readers.iter().copied());
            readers.chain(kept.iter().copied()).collect()
        };
        let most_read = |all: &mut Vec<Together>| {
            let side = all.iter_mut().filter(|one| !one.is_core);
            if let Some(most) = side.max_by_key(|one| one.readers.len()) {
                most.is_core = true;
            }
        };
        while apart(&all).len() > MOST_APART && all.iter().any(|one| !one.is_core) {
            most_read(&mut all);
        }
        if all.iter().all(|one| !one.is_core) {
            most_read(&mut all);
        }
        let core = all.iter().filter(|one| one.is_core);
        let mut core: Vec<LocusIx> = core.flat_map(|one| one.loci.clone()).collect();
        core.sort_unstable();
        let side = all.iter().filter(|one| !one.is_core);
        let mut blocks = vec![core];
        blocks.extend(side.map(|one| one.loci.clone()));
        let apart = apart(&all).into_iter().collect();
        (blocks.len() > 1).then_some(Self {
            loci: blocks,
            apart,
        })
    }
}

/// Loci that are linked, or that some trait read here or of a plant named reads together.
fn together(
    context: &Context<'_>,
    evidence: &BatchEvidence,
    thirds: &[Vec<i64>],
    loci: &[LocusIx],
) -> Vec<Together> {
    let traits = &context.looks.traits;
    let mut block: Vec<usize> = (0..loci.len()).collect();
    let mut join = |one: &[LocusIx]| {
        let places = loci.iter().enumerate();
        let places = places.filter(|(_, locus)| one.contains(locus));
        let own: Vec<usize> = places.map(|(at, _)| block[at]).collect();
        for other in block.iter_mut().filter(|other| own.contains(other)) {
            *other = own[0];
        }
    };
    for unit in &context.groups().space(loci).units {
        join(&unit.loci);
    }
    let named = thirds.iter().flatten();
    let looks = named.flat_map(|plant| context.plants.own_looks(*plant));
    let looks = looks.map(|reading| reading.look);
    for look in evidence.traits.iter().copied().chain(looks) {
        join(traits[look].model.loci());
    }
    let mut firsts = block.clone();
    firsts.sort_unstable();
    firsts.dedup();
    let of = |first: &usize| {
        let own = loci.iter().zip(&block).filter(|(_, one)| *one == first);
        let loci: Vec<LocusIx> = own.map(|(locus, _)| *locus).collect();
        let is_here = |look: usize| {
            let mut read = traits[look].model.loci().iter();
            read.any(|locus| loci.contains(locus))
        };
        let is_tied = |look: &usize| {
            let of = &traits[*look];
            of.onset.is_some() || of.model.reads_cytoplasm()
        };
        let read = evidence.members.iter().filter(|member| {
            let mut readings = member.readings.iter();
            readings.any(|reading| is_here(reading.look))
        });
        let mut here = evidence.traits.iter().filter(|look| is_here(**look));
        Together {
            readers: read.clone().filter_map(|member| member.plant).collect(),
            is_core: here.any(is_tied) || read.clone().any(|member| member.plant.is_none()),
            loci,
        }
    };
    firsts.iter().map(of).collect()
}

/// One block: the batch at its loci, and what is known of the plants that its sources name by themselves.
pub(super) struct Block {
    pub(super) model: BatchModel,
    pub(super) weights: PlantWeights,
}

impl Block {
    fn of(
        beliefs: &Beliefs<'_>,
        row: &BatchRow,
        evidence: &BatchEvidence,
        loci: &[LocusIx],
    ) -> Result<Self, TooManyCells> {
        let context = beliefs.known.context;
        let model = BatchModel::at_loci(context, row, evidence.clone(), loci);
        match too_large(&model) {
            Some(size) => Err(size),
            None => Ok(Self {
                weights: beliefs.local_weights(&model),
                model,
            }),
        }
    }

    /// The same batch, its candidates altered.
    pub(super) fn with(&self, altered: impl Fn(usize, &Candidate) -> Candidate) -> BatchModel {
        let mut model = self.model.clone();
        let candidates = model.candidates.iter().enumerate();
        model.suspecting(Story {
            candidates: candidates.map(|(at, own)| altered(at, own)).collect(),
            recipes: self.model.recipes().into(),
            thirds: self.model.thirds().into(),
            words: Arc::default(),
        });
        model
    }

    /// The same batch with nothing but a mixture in question, of some of its candidates.
    pub(super) fn only_mixed(&self, takes: impl Fn(usize) -> bool) -> BatchModel {
        self.with(|at, own| Candidate {
            prior: match own.seed == Seed::Mixed {
                true => own.prior,
                false => 0.0,
            },
            weight: if takes(at) { own.weight } else { 0.0 },
            ..own.clone()
        })
    }

    pub(super) fn terms<'m>(&self, model: &'m BatchModel) -> Terms<'m> {
        let even = vec![1.0; model.pair_count()];
        Terms::of(model, Owner::Pair, &even, &self.weights)
    }
}

/// The candidates sorted by the kind of seed they bring at the loci that few plants were read for.
pub(super) struct Kinds {
    /// By candidate; nothing for one that brings none.
    pub(super) of: Vec<Option<usize>>,
    /// A candidate of each kind.
    pub(super) first: Vec<usize>,
}

impl Kinds {
    pub(super) fn new(core: &BatchModel, side: &[Block]) -> Self {
        let mut kinds = Self {
            of: Vec::new(),
            first: Vec::new(),
        };
        let row = |block: &Block, at: usize| block.weights.thirds[at].row(0).to_vec();
        let mut known: Vec<(Recipe, Vec<Vec<f64>>)> = Vec::new();
        for (at, candidate) in core.candidates.iter().enumerate() {
            let brings = candidate.prior > 0.0 || candidate.weight > 0.0;
            if candidate.seed == Seed::Mixed || !brings {
                kinds.of.push(None);
                continue;
            }
            let rows = side.iter().map(|block| row(block, at));
            let own = (core.recipes()[at], rows.collect());
            let kind = known.iter().position(|other| *other == own);
            kinds.of.push(Some(kind.unwrap_or_else(|| {
                known.push(own);
                kinds.first.push(at);
                known.len() - 1
            })));
        }
        kinds
    }

    /// The share of each kind among the seed of a mixture.
    pub(super) fn mixed(&self, candidates: &[Candidate]) -> Vec<f64> {
        let mut shares = vec![0.0; self.first.len()];
        for (kind, candidate) in self.of.iter().zip(candidates) {
            if let Some(kind) = kind {
                shares[*kind] += candidate.weight;
            }
        }
        let total: f64 = shares.iter().sum();
        shares.iter_mut().for_each(|share| *share /= total);
        shares
    }
}

/// The batch and the plants kept from it as a factor for each block, over the origins of some plants: as labelled, or
/// seed of one of the kinds. Nothing where its loci make a single block.
pub(super) fn in_blocks(
    beliefs: &Beliefs<'_>,
    (row, evidence): (&BatchRow, &BatchEvidence),
    (kept, loci): (&[i64], &[LocusIx]),
) -> Option<Result<Family, TooManyCells>> {
    let context = beliefs.known.context;
    let thirds = context.story(row).thirds;
    let blocks = Blocks::of(context, evidence, &thirds, (loci, kept))?;
    let made = blocks
        .loci
        .iter()
        .map(|loci| Block::of(beliefs, row, evidence, loci));
    let made: Result<Vec<Block>, TooManyCells> = made.collect();
    let family = |made: Vec<Block>| {
        let tied = Tied::new(&made, &blocks.apart, kept);
        let factors = tied.factors(context, &made)?;
        let core = &made[0].model;
        Ok(Family {
            batch_id: core.batch_id,
            mother: core.mother,
            father: core.father,
            space: Arc::new(context.groups().space(loci)),
            kept: kept.to_vec(),
            factors: Ok(factors),
            is_whole: evidence.set_aside.is_empty(),
            summed: None,
        })
    };
    Some(made.and_then(family))
}
