//! A batch that one plant was kept from, its loci in blocks that only that plant ties together.
//!
//! What is read of a plant kept and of no other seedling of its batch, such as the heat of its pods, says something of
//! the batch by one thing alone: whether the plant is as labelled, and if not, what kind of seed it is. So such loci need
//! not stand in one table with those that the batch was read for; they hang on the origin of the plant. Exact, like the
//! one table. Called by the beliefs over plants; the batch as one block is worked out next door.

use std::sync::Arc;

use crate::genetics::locus::LocusIx;
use crate::records::rows::BatchRow;
use crate::stats::elimination::TooManyCells;

use super::batch::BatchModel;
use super::belief::{Beliefs, CELLS_LIMIT, too_large};
use super::context::Context;
use super::evidence::BatchEvidence;
use super::family::{Family, Maker, Members, NamedFactor, kind_of, nodes_of};
use super::graph::Node;
use super::recipe::{Recipe, Story};
use super::sources::{Candidate, Seed};
use super::space::Space;
use super::terms::{Owner, Terms};
use super::weights::PlantWeights;

/// The loci of a batch in blocks: first those that its seedlings were read for, then those that only the plant kept
/// was; nothing where they make a single block.
fn blocks(
    context: &Context<'_>,
    evidence: &BatchEvidence,
    thirds: &[Vec<i64>],
    (loci, kept): (&[LocusIx], i64),
) -> Option<Vec<Vec<LocusIx>>> {
    let traits = &context.looks.traits;
    let mut block: Vec<usize> = (0..loci.len()).collect();
    let mut join = |together: &[LocusIx]| {
        let places = loci.iter().enumerate();
        let places = places.filter(|(_, locus)| together.contains(locus));
        let own: Vec<usize> = places.map(|(at, _)| block[at]).collect();
        let Some(first) = own.first().copied() else {
            return;
        };
        let joined = block.iter_mut().filter(|other| own.contains(other));
        joined.for_each(|other| *other = first);
    };
    for unit in &context.groups().space(loci).units {
        join(&unit.loci);
    }
    let looked_at = thirds.iter().flatten();
    let looks = looked_at.flat_map(|plant| context.plants.own_looks(*plant));
    let looks = looks.map(|reading| reading.look);
    for look in evidence.traits.iter().copied().chain(looks) {
        join(traits[look].model.loci());
    }
    let of_others = evidence.members.iter();
    let of_others = of_others.filter(|member| member.plant != Some(kept));
    let of_others = of_others.flat_map(|member| &member.readings);
    let mut read: Vec<usize> = of_others.map(|reading| reading.look).collect();
    let is_tied = |look: &usize| {
        let of = &traits[*look];
        of.onset.is_some() || of.model.reads_cytoplasm()
    };
    read.extend(evidence.traits.iter().copied().filter(is_tied));
    let core = context.looks.loci_read(&read);
    join(&core);
    let place = loci.iter().position(|locus| core.contains(locus));
    let first = block[place?];
    let mut all = block.clone();
    all.sort_by_key(|own| (*own != first, *own));
    all.dedup();
    let of = |own: &usize| {
        let places = loci.iter().zip(&block);
        let places = places.filter(|(_, other)| *other == own);
        places.map(|(locus, _)| *locus).collect()
    };
    (all.len() > 1).then(|| all.iter().map(of).collect())
}

/// One block: the batch at its loci, and what is known of the plants that its sources name by themselves.
struct Block {
    model: BatchModel,
    weights: PlantWeights,
}

impl Block {
    fn of(beliefs: &Beliefs<'_>, row: &BatchRow, loci: &[LocusIx]) -> Result<Self, TooManyCells> {
        let model = BatchModel::at_loci(beliefs.known.context, row, loci);
        match too_large(&model) {
            Some(size) => Err(size),
            None => Ok(Self {
                weights: beliefs.local_weights(&model),
                model,
            }),
        }
    }

    /// The same batch, its candidates altered.
    fn with(&self, altered: impl Fn(usize, &Candidate) -> Candidate) -> BatchModel {
        let mut model = self.model.clone();
        let candidates = model.candidates.iter().enumerate();
        model.suspecting(Story {
            candidates: candidates.map(|(at, own)| altered(at, own)).collect(),
            recipes: self.model.recipes().into(),
            thirds: self.model.thirds().into(),
        });
        model
    }

    fn terms<'m>(&self, model: &'m BatchModel) -> Terms<'m> {
        let even = vec![1.0; model.pair_count()];
        Terms::of(model, Owner::Pair, &even, &self.weights)
    }
}

/// The candidates sorted by the kind of seed they bring at the loci that only the plant kept was read for.
struct Kinds {
    /// By candidate; nothing for one that brings none.
    of: Vec<Option<usize>>,
    /// A candidate of each kind.
    first: Vec<usize>,
}

impl Kinds {
    fn new(core: &BatchModel, side: &[Block]) -> Self {
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
    fn mixed(&self, candidates: &[Candidate]) -> Vec<f64> {
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

/// The batch and the one plant kept from it as a factor for each block, over the origin of the plant: as labelled, or
/// seed of one of the kinds; nothing where its loci make a single block.
pub(super) fn in_blocks(
    beliefs: &Beliefs<'_>,
    row: &BatchRow,
    (plant, loci): (i64, &[LocusIx]),
) -> Option<Result<Family, TooManyCells>> {
    let context = beliefs.known.context;
    let (mother, _) = context.sources.parents(super::sources::stock_of(row));
    let evidence = context.gather(row, mother);
    let blocks = blocks(
        context,
        &evidence,
        &context.story(row).thirds,
        (loci, plant),
    )?;
    let made: Result<Vec<Block>, TooManyCells> = blocks
        .iter()
        .map(|loci| Block::of(beliefs, row, loci))
        .collect();
    Some(made.and_then(|blocks| family(context, &blocks, plant, loci)))
}

fn family(
    context: &Context<'_>,
    blocks: &[Block],
    plant: i64,
    loci: &[LocusIx],
) -> Result<Family, TooManyCells> {
    let (core, side) = blocks.split_first().expect("there are two blocks or more");
    let kinds = Kinds::new(&core.model, side);
    for block in blocks {
        let pairs = block.model.pair_count() * block.model.space.size;
        let needed = (kinds.first.len() as u128 + 1) * pairs as u128;
        if needed > CELLS_LIMIT {
            let limit = CELLS_LIMIT;
            return Err(TooManyCells { needed, limit });
        }
    }
    let mut factors = vec![core_factor(context, core, &kinds, plant)];
    factors.extend(side.iter().map(|block| side_factor(block, &kinds, plant)));
    Ok(Family {
        batch_id: core.model.batch_id,
        mother: core.model.mother,
        father: core.model.father,
        space: Arc::new(context.groups().space(loci)),
        kept: vec![plant],
        factors: Ok(factors),
        summed: None,
    })
}

/// A table over the origin of the plant, its parents' genotypes and its own.
fn named(model: &BatchModel, origins: usize, plant: i64, values: Vec<f64>) -> NamedFactor {
    let (mut nodes, mut sizes) = (vec![Node::Origin(plant)], vec![origins]);
    let parents = [model.mother, model.father];
    let parents = parents
        .into_iter()
        .take(if model.is_self() { 1 } else { 2 });
    for own in parents.chain([plant]) {
        nodes.extend(units_of(own, &model.space));
        sizes.extend(model.space.units.iter().map(|unit| unit.size()));
    }
    (nodes, sizes, values)
}

fn units_of(plant: i64, space: &Space) -> impl Iterator<Item = Node> + '_ {
    let units = space.units.iter();
    units.map(move |unit| Node::Plant(plant, unit.key))
}

/// The batch at the loci that its seedlings were read for; source, share and pace are summed out.
fn core_factor(context: &Context<'_>, core: &Block, kinds: &Kinds, plant: i64) -> NamedFactor {
    let model = &core.model;
    let members = Members::of(context, model, &[plant]);
    let of_kind = |kind: usize| {
        core.with(|at, own| Candidate {
            prior: if kinds.of[at] == Some(kind) {
                own.prior
            } else {
                0.0
            },
            ..own.clone()
        })
    };
    let models: Vec<BatchModel> = (0..kinds.first.len()).map(of_kind).collect();
    let mut brought: Vec<Brought> = Vec::new();
    for (kind, of_kind) in models.iter().enumerate() {
        brought.extend(Brought::of(
            of_kind,
            core.terms(of_kind),
            &members,
            Some(kind),
        ));
    }
    let only_mixed = |weight: &dyn Fn(usize, &Candidate) -> f64| {
        core.with(|at, own| Candidate {
            prior: if own.seed == Seed::Mixed {
                own.prior
            } else {
                0.0
            },
            weight: weight(at, own),
            ..own.clone()
        })
    };
    let mixed = only_mixed(&|_, own| own.weight);
    brought.extend(Brought::of(&mixed, core.terms(&mixed), &members, None));
    let shares = kinds.mixed(&model.candidates);
    let parts = shares.iter().enumerate().map(|(kind, _)| {
        only_mixed(&|at, own| {
            if kinds.of[at] == Some(kind) {
                own.weight
            } else {
                0.0
            }
        })
    });
    let parts: Vec<BatchModel> = parts.collect();
    let parts = parts.iter().zip(&shares).enumerate();
    let parts = parts.filter(|(_, (_, share))| **share > 0.0);
    let parts: Vec<Part> = parts
        .map(|(kind, (of_part, share))| Part::of(of_part, core.terms(of_part), kind, *share))
        .collect();
    let most = brought
        .iter()
        .map(|one| one.ln)
        .fold(f64::NEG_INFINITY, f64::max);
    let (pairs, size) = (model.pair_count(), model.space.size);
    let mut values = vec![0.0; (kinds.first.len() + 1) * pairs * size];
    let mut add = |origin: usize, pair: usize, weight: f64, row: &[f64]| {
        let from = (origin * pairs + pair) * size;
        let own = values[from..from + size].iter_mut();
        own.zip(row).for_each(|(sum, p)| *sum += weight * p);
    };
    for one in &brought {
        let scale = (one.ln - most).exp();
        for (pair, weight) in &one.weights {
            add(0, *pair, weight * scale * one.on.0, &one.on.1);
            match one.kind {
                Some(kind) => add(kind + 1, *pair, weight * scale * one.off.0, &one.off.1),
                None => {
                    for part in &parts {
                        let row = &part.rows[*pair];
                        let row = seen_row(model, row, &one.seen);
                        let weight = weight * scale * one.off.0 * part.share;
                        add(part.kind + 1, *pair, weight, &row);
                    }
                }
            }
        }
    }
    named(model, kinds.first.len() + 1, plant, scaled(values))
}

/// One term at one pace: how the seedlings that were not kept weigh it, and what the plant kept then is.
struct Brought {
    /// The kind of seed beside the label's; nothing for a mixture.
    kind: Option<usize>,
    /// By pair of parental genotypes.
    weights: Vec<(usize, f64)>,
    /// Log of what is taken out of the two weights below.
    ln: f64,
    /// The weight of the plant being as labelled, and its genotypes then, its own readings in.
    on: (f64, Vec<f64>),
    /// The same of its being off-type.
    off: (f64, Vec<f64>),
    /// P(the plant's readings | profile).
    seen: Vec<f64>,
}

impl Brought {
    fn of(
        model: &BatchModel,
        terms: Terms<'_>,
        members: &Members,
        kind: Option<usize>,
    ) -> Vec<Self> {
        let maker = Maker::bare(model, &terms, members.clone());
        let by_term = maker.ln_by_term();
        let mut found = Vec::new();
        for (at, (term, by_pace)) in terms.list().iter().zip(&by_term).enumerate() {
            let nodes = nodes_of(kind_of(term), members.count);
            for (pace, lns) in by_pace.iter().enumerate() {
                let lns = lns
                    .iter()
                    .zip(&nodes)
                    .map(|(ln, (_, of_node))| ln + of_node);
                let lns: Vec<f64> = lns.collect();
                let most = lns.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                if most == f64::NEG_INFINITY {
                    continue;
                }
                let (mut on, mut off) = (0.0, 0.0);
                for (ln, (share, _)) in lns.iter().zip(&nodes) {
                    let weight = (ln - most).exp();
                    on += weight * (1.0 - share);
                    off += weight * share;
                }
                let [of_label, of_source] = maker.seen_by_origin(at, 0, pace);
                let profiles = 0..model.profiles.len();
                found.push(Self {
                    kind,
                    weights: term.weights.clone(),
                    ln: most + model.paces.ln_weights[pace],
                    on: (on, of_label),
                    off: (off, of_source),
                    seen: profiles.map(|at| maker.seen(0, at, pace)).collect(),
                });
            }
        }
        found
    }
}

/// One kind of seed in a mixture.
struct Part {
    kind: usize,
    /// Its share of the mixture.
    share: f64,
    /// By pair of parental genotypes: its distribution over profiles.
    rows: Vec<Vec<f64>>,
}

impl Part {
    fn of(model: &BatchModel, terms: Terms<'_>, kind: usize, share: f64) -> Self {
        let mut rows = vec![vec![0.0; model.profiles.len()]; model.pair_count()];
        for term in terms.list() {
            for (pair, _) in &term.weights {
                if let Some(seed) = term.off {
                    rows[*pair] = terms.seed(seed).to_vec();
                }
            }
        }
        Self { kind, share, rows }
    }
}

/// Genotypes of a plant kept, its readings in, by the profiles that its seed may have.
fn seen_row(model: &BatchModel, seed: &[f64], seen: &[f64]) -> Vec<f64> {
    let mut row = vec![0.0; model.space.size];
    for (profile, (p, seen)) in seed.iter().zip(seen).enumerate() {
        row[model.profiles.genotype_of(profile)] += p * seen;
    }
    row
}

/// The plant kept at loci that no other seedling was read for.
fn side_factor(block: &Block, kinds: &Kinds, plant: i64) -> NamedFactor {
    let model = &block.model;
    let (pairs, size) = (model.pair_count(), model.space.size);
    let members = model.evidence.members.iter().zip(&model.group_of);
    let mut own = members.filter(|(member, _)| member.plant == Some(plant));
    let group = own.next().map(|(_, group)| &model.groups[*group]);
    let seen = |profile: usize| {
        let paces = model.paces.len();
        group.map_or(1.0, |group| group.likelihood.values[profile * paces])
    };
    let seen: Vec<f64> = (0..model.profiles.len()).map(seen).collect();
    let mut values = Vec::with_capacity((kinds.first.len() + 1) * pairs * size);
    for pair in 0..pairs {
        let (mother, father) = model.pair(pair);
        let seed = model.seed_of_pair(mother, father, model.mother_cytoplasm());
        values.extend(seen_row(model, &seed, &seen));
    }
    for first in &kinds.first {
        let alone = block.with(|at, own| Candidate {
            prior: if at == *first { 1.0 } else { 0.0 },
            ..own.clone()
        });
        for seed in mean_seeds(&alone, &block.terms(&alone)) {
            values.extend(seen_row(model, &seed, &seen));
        }
    }
    named(model, kinds.first.len() + 1, plant, scaled(values))
}

/// By pair of parental genotypes: the mean seed that the one candidate there is brings beside the label's.
fn mean_seeds(model: &BatchModel, terms: &Terms<'_>) -> Vec<Vec<f64>> {
    let mut sums = vec![vec![0.0; model.profiles.len()]; model.pair_count()];
    for term in terms.list() {
        for (pair, weight) in &term.weights {
            for (sum, p) in sums[*pair]
                .iter_mut()
                .zip(term.off.iter().flat_map(|seed| terms.seed(*seed)))
            {
                *sum += weight * p;
            }
        }
    }
    sums
}

fn scaled(mut values: Vec<f64>) -> Vec<f64> {
    let most = values.iter().copied().fold(0.0, f64::max);
    if most > 0.0 {
        values.iter_mut().for_each(|value| *value /= most);
    }
    values
}
