//! Readings that cannot all be right: a firm class and another look of one plant on one day, and looks from after it went.
//!
//! Changes nothing; what counts is decided by the evidence and the index. Here it is put together what has to be said.

use std::collections::BTreeMap;

use crate::records::day::Day;
use crate::records::descent::label_parents;
use crate::records::rows::{BatchRow, FateKind, PlantRow, ReadingRow, Sureness, Thing};

use super::answer::EvidenceNote;
use super::index::Index;

/// What has to be said of the readings of a batch.
#[must_use]
pub fn odd_readings(index: &Index<'_>, batch: &BatchRow) -> Vec<EvidenceNote> {
    let facts = index.facts;
    odd_of(index, index.seedlings_of(batch.id), |row| {
        facts.place_label(row)
    })
}

/// What has to be said of the readings of a batch's parents by its label.
#[must_use]
pub fn odd_of_parents(index: &Index<'_>, batch: &BatchRow) -> Vec<EvidenceNote> {
    let parents = label_parents(index.facts, batch);
    let mut parents: Vec<i64> = parents.into_iter().flat_map(|(m, f)| [m, f]).collect();
    parents.dedup();
    parents
        .iter()
        .flat_map(|plant| odd_of_plant(index, *plant))
        .collect()
}

/// What has to be said of the readings of one plant.
#[must_use]
pub fn odd_of_plant(index: &Index<'_>, plant: i64) -> Vec<EvidenceNote> {
    let row: Vec<&PlantRow> = index.facts.plant.get(plant).into_iter().collect();
    odd_of(index, &row, |row| index.facts.plant_label(row))
}

fn odd_of(
    index: &Index<'_>,
    plants: &[&PlantRow],
    name: impl Fn(&PlantRow) -> String,
) -> Vec<EvidenceNote> {
    let mut notes = read_twice(index, plants, &name);
    notes.extend(read_when_gone(index, plants, &name));
    notes
}

fn look_of(index: &Index<'_>, row: &ReadingRow) -> String {
    index.facts.spoken_class(row.class_id, row.sureness)
}

fn trait_of(index: &Index<'_>, row: &ReadingRow) -> String {
    let code = row
        .trait_id
        .and_then(|id| index.facts.code_of(Thing::Trait, id));
    code.unwrap_or_default().to_owned()
}

/// Plants of which a firm class was read and then, on the same day, another look of the same trait.
fn read_twice(
    index: &Index<'_>,
    plants: &[&PlantRow],
    name: impl Fn(&PlantRow) -> String,
) -> Vec<EvidenceNote> {
    let mut found: BTreeMap<(Day, String, String, String), Vec<String>> = BTreeMap::new();
    for plant in plants {
        let rows = index.readings_of(plant.id);
        let firm = |row: &&&ReadingRow| row.sureness == Sureness::Firm && row.class_id.is_some();
        let mut keys: Vec<_> = rows
            .iter()
            .filter(firm)
            .filter_map(|row| {
                let newer = |other: &&&ReadingRow| {
                    (other.day, other.trait_id) == (row.day, row.trait_id) && other.id > row.id
                };
                let last = rows.iter().filter(newer).max_by_key(|other| other.id)?;
                if rows.iter().any(|other| looked_again(row, other)) {
                    return None;
                }
                let looks = (look_of(index, row), look_of(index, last));
                (looks.0 != looks.1).then(|| (row.day, trait_of(index, row), looks.0, looks.1))
            })
            .collect();
        keys.dedup();
        for key in keys {
            found.entry(key).or_default().push(name(plant));
        }
    }
    let note = |((day, trait_code, set_aside, counted), mut whose): (_, Vec<String>)| {
        whose.sort();
        EvidenceNote::ReadTwice {
            whose,
            day,
            trait_code,
            set_aside,
            counted,
        }
    };
    found.into_iter().map(note).collect()
}

/// Whether a firm class of the trait was seen on a later day, so that which of two looks of one day counts is no more in
/// question.
fn looked_again(row: &ReadingRow, other: &ReadingRow) -> bool {
    let is_later = other.trait_id == row.trait_id && other.day > row.day;
    is_later && other.sureness == Sureness::Firm && other.class_id.is_some()
}

/// Plants that were read after they were recorded as gone.
fn read_when_gone(
    index: &Index<'_>,
    plants: &[&PlantRow],
    name: impl Fn(&PlantRow) -> String,
) -> Vec<EvidenceNote> {
    let mut found: BTreeMap<(Day, String, String, Day, FateKind), Vec<String>> = BTreeMap::new();
    for plant in plants {
        for (row, fate) in index.readings_when_gone(plant.id) {
            let (code, look) = (trait_of(index, row), look_of(index, row));
            let key = (row.day, code, look, fate.day, fate.kind);
            found.entry(key).or_default().push(name(plant));
        }
    }
    let note = |((day, trait_code, class, since, fate), whose)| EvidenceNote::ReadWhenGone {
        whose,
        day,
        trait_code,
        class,
        fate,
        since,
    };
    found.into_iter().map(note).collect()
}
