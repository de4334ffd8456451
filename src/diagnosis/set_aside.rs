//! Traits that are left out of the sums over a batch, since with them these would be too large.
//!
//! The least useful goes first: no trait of seedlings before one of grown plants, of two the one that reads more loci, the
//! bench trait last. Whoever answers says so; nothing is left out where the sums can be done. Called wherever a batch is
//! made ready, and by those who ask, when they are told that a table is too large.

use std::collections::BTreeMap;

use crate::records::genes::BENCH_SETTING;
use crate::records::rows::Thing;
use crate::stats::elimination::TooManyCells;

use super::answer::{BatchAnswer, EvidenceNote};
use super::batch::BatchModel;
use super::belief::PAIR_CELLS_LIMIT;
use super::context::Context;
use super::evidence::BatchEvidence;
use super::sources::stock_of;
use super::telling_trait::is_for_seedlings;

/// Which traits of which batches a question does without.
#[derive(Debug, Clone, Default)]
pub struct SetAside {
    /// By batch and trait, a place among the ledger's: the cells that were needed with it.
    of: BTreeMap<(i64, usize), u128>,
}

impl SetAside {
    /// Sets one more trait aside, after a question about the first of some batches proved too large: one of that batch
    /// itself, if it was read for several, else one of grown plants of the others. False where none is left.
    pub fn add(
        &mut self,
        context: &Context<'_>,
        models: &[&BatchModel],
        size: TooManyCells,
    ) -> bool {
        let (first, others) = match models.split_first() {
            Some(split) => split,
            None => return false,
        };
        let traits = &first.evidence.traits;
        let own = (traits.len() > 1).then(|| least_useful(context, traits));
        let own = own.flatten().map(|look| (first.batch_id, look));
        let grown = |look: &usize| !is_for_seedlings(&context.looks.traits[*look]);
        let grown_of = |model: &&BatchModel| {
            let traits = model.evidence.traits.iter().copied().filter(grown);
            let look = least_useful(context, &traits.collect::<Vec<_>>());
            look.map(|look| (model.batch_id, look))
        };
        let others = others.iter().filter_map(grown_of);
        let of_others = others.max_by_key(|(_, look)| loci_of(context, *look));
        let Some(next) = own.or(of_others) else {
            return false;
        };
        self.of.insert(next, size.needed);
        true
    }

    /// The traits set aside of a batch, with the cells that were needed.
    pub(super) fn of_batch(&self, batch: i64) -> impl Iterator<Item = (usize, u128)> + '_ {
        let own = self.of.range((batch, 0)..=(batch, usize::MAX));
        own.map(|((_, look), needed)| (*look, *needed))
    }

    /// Says in an answer what was set aside of other batches for its sake.
    pub(super) fn tell(&self, context: &Context<'_>, answer: &mut BatchAnswer) {
        for note in self.notes(context) {
            if !answer.notes.contains(&note) {
                answer.notes.insert(0, note);
            }
        }
    }

    /// What is to be said.
    pub(super) fn notes(&self, context: &Context<'_>) -> Vec<EvidenceNote> {
        let facts = context.index.facts;
        let note = |((batch, look), needed): (&(i64, usize), &u128)| {
            let row = facts.batch.get(*batch)?;
            let (mother, _) = context.sources.parents(stock_of(row));
            let seen = context.gather(row, mother);
            Some(note_of(context, (*batch, *look), *needed, &seen))
        };
        self.of.iter().filter_map(note).collect()
    }
}

fn loci_of(context: &Context<'_>, look: usize) -> usize {
    context.looks.traits[look].model.loci().len()
}

/// Of some traits the one that is missed least.
pub(super) fn least_useful(context: &Context<'_>, traits: &[usize]) -> Option<usize> {
    let facts = context.index.facts;
    let bench = facts.setting(BENCH_SETTING);
    let bench = bench.and_then(|code| facts.code_named(code));
    let bench = bench.filter(|row| row.thing == Thing::Trait);
    let is_bench =
        |look: usize| bench.is_some_and(|row| row.thing_id == context.looks.traits[look].id);
    traits.iter().copied().max_by_key(|look| {
        let is_grown = !is_for_seedlings(&context.looks.traits[*look]);
        (!is_bench(*look), is_grown, loci_of(context, *look), *look)
    })
}

/// Takes what is set aside of a batch out of its evidence, and says so; where its traits read too many loci for one
/// table of its parents, the least useful too.
pub(super) fn set_aside(context: &Context<'_>, batch: i64, evidence: &mut BatchEvidence) {
    set_aside_as_told(context, batch, evidence);
    while evidence.traits.len() > 1 {
        let needed = pair_cells(context, &evidence.traits);
        if needed <= PAIR_CELLS_LIMIT {
            break;
        }
        let Some(look) = least_useful(context, &evidence.traits) else {
            break;
        };
        evidence.set_aside.push(look);
        leave_out(context, (batch, look), needed, evidence);
    }
}

/// What is to be said of the traits that a batch is weighed without.
pub(super) fn notes_of(evidence: &BatchEvidence) -> impl Iterator<Item = EvidenceNote> + '_ {
    let is_of = |note: &&EvidenceNote| matches!(note, EvidenceNote::TraitLeftOut { .. });
    evidence.notes.iter().filter(is_of).cloned()
}

/// Takes out only what the question does without.
pub(super) fn set_aside_as_told(context: &Context<'_>, batch: i64, evidence: &mut BatchEvidence) {
    for (look, needed) in context.set_aside.of_batch(batch) {
        leave_out(context, (batch, look), needed, evidence);
    }
}

/// The cells of a table over two parents at the loci that some traits read.
fn pair_cells(context: &Context<'_>, traits: &[usize]) -> u128 {
    let loci = context.looks.loci_read(traits);
    let units = context.groups().space(&loci).units;
    let sizes = units.iter().map(|unit| unit.size() as u128);
    sizes.fold(1, u128::saturating_mul).saturating_pow(2)
}

fn leave_out(
    context: &Context<'_>,
    (batch, look): (i64, usize),
    needed: u128,
    evidence: &mut BatchEvidence,
) {
    let note = note_of(context, (batch, look), needed, evidence);
    evidence.notes.insert(0, note);
    evidence.traits.retain(|own| *own != look);
    for member in &mut evidence.members {
        member.readings.retain(|reading| reading.look != look);
    }
    let silent = evidence
        .members
        .extract_if(.., |member| member.readings.is_empty());
    let living: i64 = silent.map(|member| member.living).sum();
    evidence.n -= living;
    evidence.unscored += living;
}

/// Of which plants the readings are, by the names they are kept under; of a tally its tray.
fn note_of(
    context: &Context<'_>,
    (batch, look): (i64, usize),
    needed: u128,
    evidence: &BatchEvidence,
) -> EvidenceNote {
    let facts = context.index.facts;
    let read = evidence.members.iter().filter(|member| {
        let mut readings = member.readings.iter();
        readings.any(|reading| reading.look == look)
    });
    let tray = || {
        facts
            .code_of(Thing::Batch, batch)
            .unwrap_or_default()
            .to_owned()
    };
    let name = |plant: Option<i64>| plant.map_or_else(tray, |plant| facts.label_of_plant(plant));
    let mut whose: Vec<String> = read.map(|member| name(member.plant)).collect();
    whose.sort();
    whose.dedup();
    EvidenceNote::TraitLeftOut {
        trait_code: context.looks.traits[look].code.clone(),
        whose,
        needed,
    }
}
