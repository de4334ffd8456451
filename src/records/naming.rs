//! What a row is called in a grower's words: the kind of record, and the parent, cross, tray or seedling it is of.
//!
//! A number in a table tells a grower nothing. Where rows are damaged, some of what a name is made of may be
//! missing; the name then ends with the number of what cannot be named.

use super::about::belongs_to;
use super::facts::Facts;
use super::rows::{Row, Table, Thing};

/// The name of a row: `reading of T1-03`, `pollination of X1`, `setting dim`.
#[must_use]
pub fn name_of(facts: &Facts, row: &Row) -> String {
    let kind = row.table().name().replace('_', " ");
    let own = match row {
        Row::Setting(row) => Some(row.key.clone()),
        Row::Code(row) => Some(row.typed.clone()),
        Row::Locus(row) => Some(row.symbol.clone()),
        _ => thing_of(row.table()).and_then(|thing| label(facts, thing, row.id())),
    };
    match (own, belongs_to(row).first()) {
        (Some(own), _) => format!("{kind} {own}"),
        (None, Some((table, id))) => format!("{kind} of {}", name_at(facts, *table, *id)),
        (None, None) => format!("{kind} {}", row.id()),
    }
}

/// The name of the row of a number; by its number alone where it is not there.
#[must_use]
pub fn name_at(facts: &Facts, table: Table, id: i64) -> String {
    let row = facts.find(table, id);
    let kind = || format!("{} {id}", table.name().replace('_', " "));
    row.map_or_else(kind, |row| name_of(facts, &row))
}

const fn thing_of(table: Table) -> Option<Thing> {
    match table {
        Table::Plant => Some(Thing::Plant),
        Table::Cross => Some(Thing::Cross),
        Table::Batch => Some(Thing::Batch),
        Table::Trait => Some(Thing::Trait),
        Table::Lot => Some(Thing::Lot),
        _ => None,
    }
}

/// The code of a thing, the place of a seedling, the number of a lot within its cross or packet.
fn label(facts: &Facts, thing: Thing, id: i64) -> Option<String> {
    if let Some(code) = facts.code_of(thing, id) {
        return Some(code.to_owned());
    }
    match thing {
        Thing::Plant => facts.plant.get(id).map(|plant| facts.plant_label(plant)),
        Thing::Lot => {
            let lot = facts.lot.get(id)?;
            let cross = lot.cross_id.and_then(|id| facts.code_of(Thing::Cross, id));
            let plant = lot.plant_id.and_then(|id| facts.code_of(Thing::Plant, id));
            cross.or(plant).map(|of| format!("{of}/{}", lot.number))
        }
        Thing::Cross | Thing::Batch | Thing::Trait => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::rows::{BatchRow, CodeRow, PlantCytoplasm, PlantKind, PlantRow, Rows};
    use std::collections::BTreeMap;

    #[test]
    fn rows_are_named_by_what_a_grower_calls_them() {
        let day: crate::records::day::Day = "2026-03-01".parse().unwrap();
        let mut rows = Rows::default();
        rows.put(Row::from(CodeRow {
            id: 1,
            key: "t1".to_owned(),
            typed: "T1".to_owned(),
            thing: Thing::Batch,
            thing_id: 4,
        }));
        rows.put(Row::from(BatchRow {
            id: 4,
            cross_id: Some(9),
            plant_id: None,
            day,
            seeds: 6,
            cells: 6,
            place: String::new(),
            medium: String::new(),
            light: String::new(),
        }));
        rows.put(Row::from(PlantRow {
            id: 7,
            kind: PlantKind::Seedling,
            name: String::new(),
            species: String::new(),
            cytoplasm: PlantCytoplasm::Unknown,
            batch_id: Some(4),
            cell: Some(3),
            part: String::new(),
            mother_id: None,
            father_id: None,
            entered: day,
        }));
        let facts = Facts::new(rows, BTreeMap::new());
        for (table, id, wanted) in [
            (Table::Code, 1, "code T1"),
            (Table::Batch, 4, "batch T1"),
            (Table::Plant, 7, "plant T1-03"),
            (Table::Plant, 8, "plant 8"),
            (Table::Cross, 9, "cross 9"),
        ] {
            assert_eq!(name_at(&facts, table, id), wanted);
        }
        let tally = crate::records::rows::TallyRow {
            id: 2,
            batch_id: 4,
            cell: None,
            day,
        };
        assert_eq!(name_of(&facts, &Row::from(tally)), "tally of batch T1");
    }
}
