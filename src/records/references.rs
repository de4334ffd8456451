//! Which rows a row refers to, and a row with other numbers in their places.
//!
//! Foreign keys guard the same references in the file, all but those of codes, remarks, pictures and
//! treatments, which may name a thing of several kinds. Whoever takes rows away, or tells entries again
//! under other numbers, asks here.

use super::rows::{Row, Table};
use super::value::Value;

/// Table and column that refer, table referred to.
pub const REFERENCES: &[(Table, &str, Table)] = &[
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
    (Table::CameFrom, "imported_id", Table::ImportedLedger),
    (Table::Adoption, "plant_id", Table::Plant),
    (Table::Adoption, "mother_id", Table::Plant),
    (Table::Adoption, "father_id", Table::Plant),
    (Table::Goal, "trait_id", Table::Trait),
    (Table::Goal, "class_id", Table::TraitClass),
    (Table::Tasting, "reading_id", Table::Reading),
    (Table::Grade, "plant_id", Table::Plant),
    (Table::Grade, "trait_id", Table::Trait),
    (Table::Grade, "class_id", Table::TraitClass),
];

/// The rows that a row refers to.
#[must_use]
pub fn of(row: &Row) -> Vec<(Table, i64)> {
    places(row)
        .into_iter()
        .map(|(_, table, id)| (table, id))
        .collect()
}

/// The row under another number, and with other numbers where it refers to rows that got them.
#[must_use]
pub fn renumbered(row: &Row, id: i64, number: impl Fn(Table, i64) -> i64) -> Row {
    let mut values = row.values();
    for (at, table, old) in places(row) {
        values[at] = Value::Int(number(table, old));
    }
    Row::from_values(row.table(), id, &values).expect("only numbers of rows were exchanged")
}

/// Where in its values a row refers, to which row of which table.
fn places(row: &Row) -> Vec<(usize, Table, i64)> {
    let table = row.table();
    let values = row.values();
    let column = |name: &str| table.columns().iter().position(|column| *column == name);
    let number = |at: usize| match values.get(at) {
        Some(Value::Int(id)) => Some(*id),
        _ => None,
    };
    let mut found: Vec<(usize, Table, i64)> = REFERENCES
        .iter()
        .filter(|(from, _, _)| *from == table)
        .filter_map(|(_, name, to)| {
            let at = column(name)?;
            Some((at, *to, number(at)?))
        })
        .collect();
    if let (Some(kind), Some(at)) = (column("thing"), column("thing_id"))
        && let (Some(Value::Text(thing)), Some(id)) = (values.get(kind), number(at))
    {
        found.extend(Table::named(thing).map(|table| (at, table, id)));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::rows::{BatchSeedRow, RemarkRow, Thing};

    fn remark(thing: Thing, thing_id: i64) -> Row {
        Row::from(RemarkRow {
            id: 1,
            thing,
            thing_id,
            text: "leggy".to_owned(),
            day: "2026-03-01".parse().unwrap(),
        })
    }

    #[test]
    fn every_kind_of_thing_is_a_table() {
        for thing in Thing::ALL {
            let found = of(&remark(*thing, 9));
            assert_eq!(found.len(), 1, "{thing}");
            assert_eq!((found[0].0.name(), found[0].1), (thing.word(), 9));
        }
    }

    #[test]
    fn a_row_is_renumbered_with_all_it_refers_to() {
        let draw = Row::from(BatchSeedRow {
            id: 3,
            batch_id: 4,
            lot_id: 5,
            seeds: 12,
        });
        let tenfold = |table: Table, id: i64| if table == Table::Lot { id } else { id * 10 };
        let moved = renumbered(&draw, 30, tenfold);
        assert_eq!(moved.id(), 30);
        assert_eq!(of(&moved), [(Table::Batch, 40), (Table::Lot, 5)]);
        let moved = renumbered(&remark(Thing::Plant, 2), 1, tenfold);
        assert_eq!(moved, remark(Thing::Plant, 20));
    }
}
