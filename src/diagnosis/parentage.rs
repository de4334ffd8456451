//! The parents that a seedling may have: what is said of its sources, told by mother and father.
//!
//! By the list of its tray or, where plants kept from that tray say more, by everything recorded. Two sources that come to the same parents are one. Called where a seedling is adopted; takes nothing back into the
//! diagnosis, for the answer is made of evidence that counts there already.

use crate::records::day::Day;
use crate::records::descent::label_parents;
use crate::records::facts::Facts;
use crate::records::rows::Thing;

use super::DiagnosisError;
use super::answer::{Named, Source, SourceShare};
use super::kept_offspring::off_by_everything;
use super::suspects::suspects;

/// Parents that a seedling may have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ParentOdds {
    /// The mother, where she is a plant of the ledger.
    pub mother: Option<i64>,
    /// The father, likewise.
    pub father: Option<i64>,
    /// Their probability.
    pub p: f64,
}

/// The parents that a seedling may have, the likeliest first, as on a day; none where the diagnosis says nothing of it:
/// it was not read, stands no more, or its tray is too large to weigh.
///
/// # Errors
/// [`DiagnosisError`] where a stored text cannot be read.
pub fn parentage(facts: &Facts, today: Day, plant: i64) -> Result<Vec<ParentOdds>, DiagnosisError> {
    let row = facts.plant.get(plant);
    let batch = row.and_then(|row| facts.batch.get(row.batch_id?));
    let place = row.and_then(|row| facts.seedling_label(row));
    let Some((batch, label)) = batch.and_then(|batch| Some((batch, label_parents(facts, batch)?)))
    else {
        return Ok(Vec::new());
    };
    let found = suspects(facts, today, Some(&[batch.id]))?;
    let seedlings = found.batches.iter().flat_map(|answer| &answer.seedlings);
    let Some(own) = seedlings.into_iter().find(|one| one.seedling == place) else {
        return Ok(Vec::new());
    };
    Ok(match off_by_everything(facts, today, plant)? {
        Some((p_off, sources)) => by_parents(facts, label, p_off, &sources),
        None => by_parents(facts, label, own.p_off, &own.sources.list()),
    })
}

fn by_parents(
    facts: &Facts,
    label: (i64, i64),
    p_off: f64,
    sources: &[SourceShare],
) -> Vec<ParentOdds> {
    let mut odds = vec![ParentOdds {
        mother: Some(label.0),
        father: Some(label.1),
        p: 1.0 - p_off,
    }];
    for share in sources {
        let (mother, father) = parents(facts, label, &share.source);
        let same = |one: &&mut ParentOdds| (one.mother, one.father) == (mother, father);
        match odds.iter_mut().find(same) {
            Some(known) => known.p += share.p,
            None => odds.push(ParentOdds {
                mother,
                father,
                p: share.p,
            }),
        }
    }
    odds.sort_by(|one, other| other.p.total_cmp(&one.p));
    odds
}

/// Mother and father of the seed that a source brings.
fn parents(facts: &Facts, label: (i64, i64), source: &Source) -> (Option<i64>, Option<i64>) {
    let mother = Some(label.0);
    match source {
        Source::None | Source::Mixed => (mother, Some(label.1)),
        Source::SelfPollen | Source::AllSelf => (mother, mother),
        Source::Pollen(donor) | Source::AllPollen(donor) => (mother, Some(donor.id)),
        Source::UnknownPollen => (mother, None),
        Source::StraySeed(stock) | Source::Swapped(Some(stock)) => stock_parents(facts, stock),
        Source::UnknownSeed | Source::Swapped(None) => (None, None),
    }
}

/// The parents of what was sown beside it: of a cross, or a plant's own seed.
fn stock_parents(facts: &Facts, stock: &Named) -> (Option<i64>, Option<i64>) {
    let code = facts.code_named(&stock.code);
    let cross = code.filter(|code| code.thing == Thing::Cross);
    match cross.and_then(|code| facts.cross.get(code.thing_id)) {
        Some(cross) => (Some(cross.mother_id), Some(cross.father_id)),
        None => (Some(stock.id), Some(stock.id)),
    }
}
