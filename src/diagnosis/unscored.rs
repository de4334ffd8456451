//! Which living seedlings have no telling reading, as far as the ledger can name them.
//!
//! Seedlings looked at too early or in too dim a light are named, and cells counted as up that nobody has scored.
//! Those of a count without cells stay nameless. Only the diagnosis of a batch asks.

use std::collections::{BTreeMap, HashSet};

use crate::records::facts::Facts;
use crate::records::tray::Tray;

use super::evidence::{BatchEvidence, Member};

/// The places of the living seedlings without a telling reading, cell by cell; never more than there are.
#[must_use]
pub fn known_unscored(facts: &Facts, batch_id: i64, evidence: &BatchEvidence) -> Vec<String> {
    let nameless = |member: &Member| member.plant.is_none() && member.cell.is_none();
    let Some(tray) = Tray::of(facts, batch_id) else {
        return Vec::new();
    };
    if evidence.unscored == 0 || evidence.members.iter().any(nameless) {
        return Vec::new();
    }
    let mut found = mentioned(facts, &tray, evidence);
    for cell in cells_up(facts, &tray, evidence) {
        found.push((cell, tray.place(Some(cell))));
    }
    found.sort();
    let mut names: Vec<String> = found.into_iter().map(|(_, name)| name).collect();
    names.truncate(usize::try_from(evidence.unscored).unwrap_or(usize::MAX));
    names
}

/// The living seedlings that were told apart and not scored.
fn mentioned(facts: &Facts, tray: &Tray<'_>, evidence: &BatchEvidence) -> Vec<(i64, String)> {
    let scored = evidence.members.iter().filter_map(|member| member.plant);
    let gone = tray.fates().into_iter().filter(|fate| fate.kind.is_gone());
    let out: HashSet<i64> = scored
        .chain(gone.filter_map(|fate| fate.plant_id))
        .collect();
    tray.seedlings()
        .into_iter()
        .filter(|plant| !out.contains(&plant.id))
        .filter_map(|plant| Some((plant.cell?, facts.seedling_label(plant)?)))
        .collect()
}

/// The cells in which one seedling was counted as up, with nothing else on record of the cell.
fn cells_up(facts: &Facts, tray: &Tray<'_>, evidence: &BatchEvidence) -> Vec<i64> {
    let mut up: BTreeMap<i64, (crate::records::day::Day, i64, i64)> = BTreeMap::new();
    for row in facts
        .emergence
        .iter()
        .filter(|row| row.batch_id == tray.batch.id)
    {
        if let Some(cell) = row.cell {
            let count = (row.day, row.id, row.up);
            let newest = up.entry(cell).or_insert(count);
            *newest = count.max(*newest);
        }
    }
    let seedlings = tray.seedlings().into_iter().filter_map(|plant| plant.cell);
    let tallied = evidence.members.iter().filter_map(|member| member.cell);
    let pulled = tray.fates().into_iter().filter_map(|fate| fate.cell);
    let known: HashSet<i64> = seedlings.chain(tallied).chain(pulled).collect();
    up.into_iter()
        .filter(|(cell, (_, _, up))| *up == 1 && !known.contains(cell))
        .map(|(cell, _)| cell)
        .collect()
}
