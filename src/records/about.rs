//! What a record belongs to, and which entries of the history are about a thing.
//!
//! Follows the references between rows downwards: a tray's history holds its counts, its seedlings and
//! their readings; a plant's holds its crosses, but not what became of their trays.

use std::collections::{BTreeMap, BTreeSet, HashSet};

use super::change::RowChange;
use super::facts::Facts;
use super::rows::{Row, Table, Thing};

/// The table in which a thing has its row.
#[must_use]
pub const fn table_of(thing: Thing) -> Table {
    match thing {
        Thing::Plant => Table::Plant,
        Thing::Cross => Table::Cross,
        Thing::Batch => Table::Batch,
        Thing::Trait => Table::Trait,
        Thing::Lot => Table::Lot,
    }
}

/// The rows that a row belongs to.
#[must_use]
pub fn belongs_to(row: &Row) -> Vec<(Table, i64)> {
    let some = |table: Table, id: Option<i64>| id.map(|id| (table, id));
    let (one, other) = match row {
        Row::Setting(_)
        | Row::Locus(_)
        | Row::Recombination(_)
        | Row::Trait(_)
        | Row::Care(_)
        | Row::ImportedLedger(_) => (None, None),
        Row::Code(row) => (some(table_of(row.thing), Some(row.thing_id)), None),
        Row::Allele(row) => (some(Table::Locus, Some(row.locus_id)), None),
        Row::TraitClass(row) => (some(Table::Trait, Some(row.trait_id)), None),
        Row::TraitModel(row) => (some(Table::Trait, Some(row.trait_id)), None),
        Row::TraitRule(row) => (some(Table::TraitModel, Some(row.model_id)), None),
        Row::Onset(row) => (some(Table::Trait, Some(row.trait_id)), None),
        Row::Plant(row) => (some(Table::Batch, row.batch_id), None),
        Row::Statement(row) => (some(Table::Plant, Some(row.plant_id)), None),
        Row::Adoption(row) => (some(Table::Plant, Some(row.plant_id)), None),
        Row::InFlower(row) => (some(Table::Plant, Some(row.plant_id)), None),
        Row::Cross(row) => (
            some(Table::Plant, Some(row.mother_id)),
            some(Table::Plant, Some(row.father_id)),
        ),
        Row::Pollination(row) => (some(Table::Cross, Some(row.cross_id)), None),
        Row::Lot(row) => (
            some(Table::Cross, row.cross_id),
            some(Table::Plant, row.plant_id),
        ),
        Row::Batch(row) => (
            some(Table::Cross, row.cross_id),
            some(Table::Plant, row.plant_id),
        ),
        Row::BatchSeed(row) => (
            some(Table::Batch, Some(row.batch_id)),
            some(Table::Lot, Some(row.lot_id)),
        ),
        Row::Emergence(row) => (some(Table::Batch, Some(row.batch_id)), None),
        Row::Reading(row) => (some(Table::Plant, Some(row.plant_id)), None),
        Row::Tally(row) => (some(Table::Batch, Some(row.batch_id)), None),
        Row::TallyLook(row) => (some(Table::Tally, Some(row.tally_id)), None),
        Row::TallyClass(row) => (some(Table::TallyLook, Some(row.look_id)), None),
        Row::Fate(row) => (
            some(Table::Batch, Some(row.batch_id)),
            some(Table::Plant, row.plant_id),
        ),
        Row::FateClass(row) => (some(Table::Fate, Some(row.fate_id)), None),
        Row::CareTarget(row) => (
            some(table_of(row.thing), Some(row.thing_id)),
            some(Table::Care, Some(row.care_id)),
        ),
        Row::Measure(row) => (some(Table::Plant, Some(row.plant_id)), None),
        Row::Remark(row) => (some(table_of(row.thing), Some(row.thing_id)), None),
        Row::Photo(row) => (some(table_of(row.thing), Some(row.thing_id)), None),
        Row::Goal(row) => (some(Table::Trait, Some(row.trait_id)), None),
        Row::Tasting(row) => (some(Table::Reading, Some(row.reading_id)), None),
        Row::Grade(row) => (some(Table::Plant, Some(row.plant_id)), None),
        Row::CameFrom(row) => (
            Table::named(&row.entity).map(|table| (table, row.entity_id)),
            None,
        ),
    };
    one.into_iter().chain(other).collect()
}

/// The thing that a row belongs to, followed downwards one row at a time.
#[derive(Debug)]
struct Family {
    of: (Table, i64),
    members: HashSet<(Table, i64)>,
}

impl Family {
    fn new(thing: Thing, id: i64) -> Self {
        let of = (table_of(thing), id);
        Self {
            of,
            members: HashSet::from([of]),
        }
    }

    /// Whether a row is about the thing; one that has no history of its own also brings what hangs on it.
    fn takes(&mut self, row: &Row) -> bool {
        let place = (row.table(), row.id());
        let belongs = belongs_to(row)
            .iter()
            .any(|above| self.members.contains(above));
        let own_history = matches!(
            row.table(),
            Table::Cross | Table::Lot | Table::Batch | Table::Plant | Table::Trait
        );
        let seedling_of_it = self.of.0 == Table::Batch && row.table() == Table::Plant;
        if belongs && (!own_history || seedling_of_it) {
            self.members.insert(place);
        }
        belongs || place == self.of
    }
}

/// The entries that are about a thing, given the changes of all entries.
#[must_use]
pub fn entries_about(
    changes: &BTreeMap<i64, Vec<RowChange>>,
    thing: Thing,
    id: i64,
) -> BTreeSet<i64> {
    let mut family = Family::new(thing, id);
    let mut found = BTreeSet::new();
    for (entry, changes) in changes {
        for change in changes {
            for row in change.before.iter().chain(&change.after) {
                if family.takes(row) {
                    found.insert(*entry);
                }
            }
        }
    }
    found
}

/// The rows that are about a thing, table by table in the ledger's order, the thing's own row first.
#[must_use]
pub fn rows_about(facts: &Facts, thing: Thing, id: i64) -> Vec<Row> {
    let mut family = Family::new(thing, id);
    let mut found: Vec<Row> = facts.find(table_of(thing), id).into_iter().collect();
    // Rows refer to rows of earlier tables only, but for a seedling's and a code's.
    let late = [Table::Code];
    let order = Table::ALL
        .iter()
        .filter(|table| !late.contains(table))
        .chain(&late);
    for table in order {
        let place = |row: &Row| (row.table(), row.id()) != (table_of(thing), id);
        found.extend(
            facts
                .all(*table)
                .into_iter()
                .filter(|row| family.takes(row) && place(row)),
        );
    }
    found
}

/// The ledger as it was after an entry.
#[must_use]
pub fn facts_at(changes: &BTreeMap<i64, Vec<RowChange>>, entry: i64) -> Facts {
    let mut facts = Facts::default();
    for change in changes.range(..=entry).flat_map(|(_, changes)| changes) {
        facts.apply(change);
    }
    facts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::day::Day;
    use crate::records::rows::{
        CodeRow, FateKind, FateRow, PlantCytoplasm, PlantKind, PlantRow, ReadingRow, Sureness,
    };

    fn day() -> Day {
        "2026-03-01".parse().unwrap()
    }

    fn plant(id: i64, batch_id: Option<i64>) -> PlantRow {
        let kind = if batch_id.is_some() {
            PlantKind::Seedling
        } else {
            PlantKind::Line
        };
        PlantRow {
            id,
            kind,
            name: String::new(),
            species: String::new(),
            cytoplasm: PlantCytoplasm::Unknown,
            batch_id,
            cell: batch_id,
            part: String::new(),
            mother_id: None,
            father_id: None,
            entered: day(),
        }
    }

    fn history() -> BTreeMap<i64, Vec<RowChange>> {
        let reading = ReadingRow {
            id: 1,
            plant_id: 7,
            trait_id: None,
            class_id: None,
            sureness: Sureness::Early,
            day: day(),
            leaves: None,
        };
        let fate = FateRow {
            id: 1,
            batch_id: 3,
            plant_id: Some(7),
            cell: None,
            count: 1,
            kind: FateKind::Died,
            blind: false,
            day: day(),
            why: String::new(),
        };
        let code = CodeRow {
            id: 1,
            key: "nl".into(),
            typed: "NL".into(),
            thing: Thing::Plant,
            thing_id: 1,
        };
        BTreeMap::from([
            (
                1,
                vec![RowChange::insert(plant(1, None)), RowChange::insert(code)],
            ),
            (2, vec![RowChange::insert(plant(7, Some(3)))]),
            (3, vec![RowChange::insert(reading.clone())]),
            (4, vec![RowChange::insert(fate)]),
            (5, vec![RowChange::delete(reading)]),
        ])
    }

    #[test]
    fn a_trays_history_holds_its_seedlings() {
        let about = |thing, id| {
            entries_about(&history(), thing, id)
                .into_iter()
                .collect::<Vec<_>>()
        };
        assert_eq!(about(Thing::Batch, 3), [2, 3, 4, 5]);
        assert_eq!(about(Thing::Plant, 7), [2, 3, 4, 5]);
        assert_eq!(about(Thing::Plant, 1), [1]);
        assert!(about(Thing::Cross, 1).is_empty());
    }

    #[test]
    fn the_ledger_is_seen_as_it_was() {
        let then = facts_at(&history(), 3);
        assert_eq!((then.reading.len(), then.fate.len()), (1, 0));
        let now = facts_at(&history(), 5);
        assert_eq!((now.reading.len(), now.fate.len()), (0, 1));
        let tables = |facts: &Facts| {
            rows_about(facts, Thing::Plant, 7)
                .iter()
                .map(Row::table)
                .collect::<Vec<_>>()
        };
        assert_eq!(tables(&then), [Table::Plant, Table::Reading]);
        assert_eq!(tables(&now), [Table::Plant, Table::Fate]);
        assert_eq!(rows_about(&now, Thing::Plant, 1).len(), 2);
    }
}
