//! Which rows a row refers to: what an undo must not pull from under later entries.
//!
//! Foreign keys guard the same references in the file, all but those of codes, remarks, pictures and
//! treatments, which may name a thing of several kinds. What rows say of each other in words is looked at
//! by trying: the records as they would then be are asked whether they agree.

use std::collections::BTreeSet;

use crate::records::change::RowChange;
use crate::records::coherence::{Discord, discords};
use crate::records::facts::Facts;
use crate::records::rows::{Row, Table};
use crate::records::value::Value;

/// Table and column that refer, table referred to.
const REFERENCES: &[(Table, &str, Table)] = &[
    (Table::Allele, "locus_id", Table::Locus),
    (Table::Recombination, "locus_a", Table::Locus),
    (Table::Recombination, "locus_b", Table::Locus),
    (Table::TraitClass, "trait_id", Table::Trait),
    (Table::TraitModel, "trait_id", Table::Trait),
    (Table::TraitRule, "model_id", Table::TraitModel),
    (Table::Onset, "trait_id", Table::Trait),
    (Table::Plant, "batch_id", Table::Batch),
    (Table::Plant, "mother_id", Table::Plant),
    (Table::Plant, "father_id", Table::Plant),
    (Table::Statement, "plant_id", Table::Plant),
    (Table::InFlower, "plant_id", Table::Plant),
    (Table::Cross, "mother_id", Table::Plant),
    (Table::Cross, "father_id", Table::Plant),
    (Table::Pollination, "cross_id", Table::Cross),
    (Table::Lot, "cross_id", Table::Cross),
    (Table::Lot, "plant_id", Table::Plant),
    (Table::Batch, "cross_id", Table::Cross),
    (Table::Batch, "plant_id", Table::Plant),
    (Table::BatchSeed, "batch_id", Table::Batch),
    (Table::BatchSeed, "lot_id", Table::Lot),
    (Table::Emergence, "batch_id", Table::Batch),
    (Table::Reading, "plant_id", Table::Plant),
    (Table::Reading, "trait_id", Table::Trait),
    (Table::Reading, "class_id", Table::TraitClass),
    (Table::Tally, "batch_id", Table::Batch),
    (Table::TallyLook, "tally_id", Table::Tally),
    (Table::TallyClass, "look_id", Table::TallyLook),
    (Table::TallyClass, "trait_id", Table::Trait),
    (Table::TallyClass, "class_id", Table::TraitClass),
    (Table::Fate, "batch_id", Table::Batch),
    (Table::Fate, "plant_id", Table::Plant),
    (Table::FateClass, "fate_id", Table::Fate),
    (Table::FateClass, "trait_id", Table::Trait),
    (Table::FateClass, "class_id", Table::TraitClass),
    (Table::CareTarget, "care_id", Table::Care),
    (Table::Measure, "plant_id", Table::Plant),
];

/// The rows that a row refers to.
pub(super) fn of(row: &Row) -> Vec<(Table, i64)> {
    let table = row.table();
    let values = row.values();
    let field = |name: &str| {
        let at = table.columns().iter().position(|column| *column == name)?;
        values.get(at)
    };
    let number = |name: &str| match field(name) {
        Some(Value::Int(id)) => Some(*id),
        _ => None,
    };
    let mut found: Vec<(Table, i64)> = REFERENCES
        .iter()
        .filter(|(from, _, _)| *from == table)
        .filter_map(|(_, column, to)| number(column).map(|id| (*to, id)))
        .collect();
    if let (Some(Value::Text(thing)), Some(id)) = (field("thing"), number("thing_id")) {
        found.extend(Table::named(thing).map(|table| (table, id)));
    }
    found
}

/// What no longer agrees once these changes are made, and did before.
pub(super) fn new_discords(facts: &Facts, changes: &[RowChange]) -> Vec<Discord> {
    let mut then = facts.clone();
    for change in changes {
        then.apply(change);
    }
    let mut found = discords(&then);
    if !found.is_empty() {
        let old = discords(facts);
        found.retain(|discord| !old.contains(discord));
    }
    found
}

/// Whether any of the changes touches a row that takes part in a discord.
pub(super) fn meets(discord: &Discord, changes: &[RowChange]) -> bool {
    let mut rows = changes.iter().map(|change| (change.table, change.id));
    rows.any(|row| discord.rows.contains(&row))
}

/// Whether later changes touch the rows of an entry, or refer to rows that it made.
pub(super) fn builds_on(later: &[RowChange], own: &[RowChange]) -> bool {
    let touched: BTreeSet<(Table, i64)> =
        own.iter().map(|change| (change.table, change.id)).collect();
    let made: BTreeSet<(Table, i64)> = own
        .iter()
        .filter(|change| change.before.is_none())
        .map(|change| (change.table, change.id))
        .collect();
    later.iter().any(|change| {
        let refers = |row: &Row| of(row).iter().any(|to| made.contains(to));
        touched.contains(&(change.table, change.id)) || change.after.as_ref().is_some_and(refers)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::rows::{RemarkRow, Thing};
    use crate::store::{schema, settings};

    #[test]
    fn references_are_the_foreign_keys_of_the_schema() {
        let mut connection = rusqlite::Connection::open_in_memory().unwrap();
        settings::settle(&mut connection).unwrap();
        schema::upgrade(&connection, 0).unwrap();
        let mut keys: Vec<(String, String, String)> = connection
            .prepare(
                "SELECT t.name, k.\"from\", k.\"table\" FROM pragma_table_list AS t, \
                 pragma_foreign_key_list(t.name) AS k",
            )
            .unwrap()
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        let mut listed: Vec<(String, String, String)> = REFERENCES
            .iter()
            .map(|(from, column, to)| {
                (
                    from.name().to_owned(),
                    (*column).to_owned(),
                    to.name().to_owned(),
                )
            })
            .collect();
        keys.sort();
        listed.sort();
        assert_eq!(listed, keys);
    }

    #[test]
    fn every_kind_of_thing_is_a_table() {
        for thing in Thing::ALL {
            let remark = RemarkRow {
                id: 1,
                thing: *thing,
                thing_id: 9,
                text: "leggy".to_owned(),
                day: "2026-03-01".parse().unwrap(),
            };
            let found = of(&Row::from(remark));
            assert_eq!(found.len(), 1, "{thing}");
            assert_eq!((found[0].0.name(), found[0].1), (thing.word(), 9));
        }
    }
}
