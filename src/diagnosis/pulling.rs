//! Seedlings pulled for their looks, which bias whatever is counted afterwards.
//!
//! Says whether a count was taken after such a pulling, and takes the count before it where there is one. What
//! the counts are held against is not known here. The counts of trays ask.

use super::context::Context;
use super::evidence::{Member, Telling};
use crate::records::change::RowChange;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, FateKind, FateRow, Row, TallyRow};

/// Whether seedlings were pulled for their looks that the counts do not hold: before the tally that counts, or without a
/// reading of their own where seedlings are read one by one.
pub(super) fn pulled_before(
    context: &Context<'_>,
    batch: &BatchRow,
    trait_id: i64,
    read: &[(&Member, &Telling)],
) -> bool {
    let facts = context.index.facts;
    let counted: Vec<i64> = read.iter().filter_map(|(member, _)| member.plant).collect();
    let first_tally = read
        .iter()
        .filter(|(member, _)| member.plant.is_none())
        .map(|(_, r)| r.day)
        .min();
    context.index.fates_of(batch.id).iter().any(|fate| {
        let classes: Vec<_> = facts
            .fate_class
            .iter()
            .filter(|row| row.fate_id == fate.id)
            .collect();
        let for_this = classes.is_empty() || classes.iter().any(|row| row.trait_id == trait_id);
        let missed = match (first_tally, fate.plant_id) {
            (Some(day), _) => fate.day < day,
            (None, Some(plant)) => !counted.contains(&plant),
            (None, None) => true,
        };
        for_looks(fate) && for_this && missed
    })
}

/// Whether a fate was chosen for looks.
const fn for_looks(fate: &FateRow) -> bool {
    match fate.kind {
        FateKind::Culled => true,
        FateKind::Thinned => !fate.blind,
        FateKind::Died | FateKind::PottedUp => false,
    }
}

/// The first day on which seedlings of a batch were pulled for their looks.
fn first_pulled(facts: &Facts, batch_id: i64) -> Option<Day> {
    let fates = facts
        .fate
        .iter()
        .filter(|fate| fate.batch_id == batch_id && for_looks(fate));
    fates.map(|fate| fate.day).min()
}

/// The facts without the tallies that were taken after seedlings had been pulled for their looks, where an
/// earlier one of the same place is there to count instead; nothing where no tally is left out.
#[must_use]
pub fn counted_before_pulling(facts: &Facts) -> Option<Facts> {
    let same_place =
        |one: &TallyRow, other: &TallyRow| (one.batch_id, one.cell) == (other.batch_id, other.cell);
    // A tally of the day of the pulling was taken before it, unless there is an earlier one.
    let late = |tally: &&TallyRow| {
        first_pulled(facts, tally.batch_id).is_some_and(|first| {
            let earlier = |other: &TallyRow| same_place(tally, other) && other.day < first;
            tally.day > first || tally.day == first && facts.tally.iter().any(earlier)
        })
    };
    let early = |tally: &TallyRow| {
        facts
            .tally
            .iter()
            .any(|other| same_place(tally, other) && !late(&other))
    };
    let out: Vec<TallyRow> = facts
        .tally
        .iter()
        .filter(late)
        .filter(|tally| early(tally))
        .cloned()
        .collect();
    if out.is_empty() {
        return None;
    }
    let mut facts = facts.clone();
    for row in out {
        facts.apply(&RowChange::delete(Row::from(row)));
    }
    Some(facts)
}
