//! Readings of a batch that cannot all be right: two classes of one seedling on one day, and looks from after it went.
//!
//! Changes nothing; what counts is decided by the evidence and the index. Here it is put together what has to be said.

use std::collections::BTreeMap;

use crate::records::day::Day;
use crate::records::rows::{BatchRow, FateKind, ReadingRow, Sureness};

use super::answer::EvidenceNote;
use super::index::Index;

/// What has to be said of the readings of a batch.
#[must_use]
pub fn odd_readings(index: &Index<'_>, batch: &BatchRow) -> Vec<EvidenceNote> {
    let mut notes = read_twice(index, batch);
    notes.extend(read_when_gone(index, batch));
    notes
}

fn class_of(index: &Index<'_>, row: &ReadingRow) -> String {
    let class = row.class_id.and_then(|id| index.facts.trait_class.get(id));
    class.map_or_else(|| row.sureness.to_string(), |class| class.name.clone())
}

/// Seedlings of which two firm classes of one trait were read on one day.
fn read_twice(index: &Index<'_>, batch: &BatchRow) -> Vec<EvidenceNote> {
    let mut found: BTreeMap<(Day, String, String), Vec<String>> = BTreeMap::new();
    for plant in index.seedlings_of(batch.id) {
        let rows = index.readings_of(plant.id);
        let firm = |row: &&&ReadingRow| row.sureness == Sureness::Firm && row.class_id.is_some();
        for row in rows.iter().filter(firm) {
            let newer = |other: &&&ReadingRow| {
                (other.day, other.trait_id) == (row.day, row.trait_id) && other.id > row.id
            };
            let last = rows.iter().filter(newer).max_by_key(|other| other.id);
            if let Some(last) = last.filter(|last| firm(last) && last.class_id != row.class_id) {
                let key = (row.day, class_of(index, row), class_of(index, last));
                found
                    .entry(key)
                    .or_default()
                    .push(index.facts.plant_label(plant));
            }
        }
    }
    let note = |((day, set_aside, counted), whose)| EvidenceNote::ReadTwice {
        whose,
        day,
        set_aside,
        counted,
    };
    found.into_iter().map(note).collect()
}

/// Seedlings that were read after they were recorded as gone.
fn read_when_gone(index: &Index<'_>, batch: &BatchRow) -> Vec<EvidenceNote> {
    let mut found: BTreeMap<(Day, String, Day, FateKind), Vec<String>> = BTreeMap::new();
    for plant in index.seedlings_of(batch.id) {
        for (row, fate) in index.readings_when_gone(plant.id) {
            let key = (row.day, class_of(index, row), fate.day, fate.kind);
            found
                .entry(key)
                .or_default()
                .push(index.facts.plant_label(plant));
        }
    }
    let note = |((day, class, since, fate), whose)| EvidenceNote::ReadWhenGone {
        whose,
        day,
        class,
        fate,
        since,
    };
    found.into_iter().map(note).collect()
}
