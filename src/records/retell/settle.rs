//! Gives the rows of an entry told again their numbers: those they had, where they are the same rows.
//!
//! The gate numbers new rows as if they were new. Here each gets the number of the row it is: a seedling by
//! its place, any other among the rows that the entry made: first by its content, then by what it refers to, then by
//! its turn. What is left is looked for among rows that an amendment made, and gets numbers that nothing ever had.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use crate::records::change::RowChange;
use crate::records::facts::Facts;
use crate::records::references::{of, renumbered};
use crate::records::rows::{PlantKind, Row, Table};

/// A seedling's place: batch, cell, letter.
pub(super) type Spot = (i64, i64, String);

/// Days on which rows were newly numbered, by table: rows of one day count in the order of their numbers.
#[derive(Debug, Default)]
pub(super) struct Fresh(BTreeSet<(Table, String)>);

/// Tables whose rows of one day count in the order of their numbers.
const IN_TURN: [Table; 4] = [Table::Statement, Table::Reading, Table::Tally, Table::Fate];

/// The seedlings of a ledger by their places.
pub(super) fn spots(facts: &Facts) -> HashMap<Spot, i64> {
    let spot = |row: &crate::records::rows::PlantRow| {
        Some(((row.batch_id?, row.cell?, row.part.clone()), row.id))
    };
    facts.plant.iter().filter_map(spot).collect()
}

/// What numbers are given by.
pub(super) struct Desk<'a> {
    pub(super) present: &'a Facts,
    /// The ledger before the entry.
    pub(super) facts: &'a Facts,
    pub(super) spots: &'a HashMap<Spot, i64>,
    pub(super) fresh: &'a mut BTreeMap<String, i64>,
    pub(super) given: &'a mut Fresh,
    /// The rows that entries made when they were recorded: each entry finds its own again.
    pub(super) claimed: &'a BTreeSet<(Table, i64)>,
}

/// The numbers of new rows, by those the gate gave them.
type Numbers = HashMap<(Table, i64), i64>;

impl Desk<'_> {
    /// The changes with the numbers that their rows have.
    pub(super) fn settle(
        &mut self,
        made: &[(Table, i64)],
        changes: Vec<RowChange>,
    ) -> Vec<RowChange> {
        let mut numbers = Numbers::new();
        let mut free: BTreeSet<(Table, i64)> = made
            .iter()
            .copied()
            .filter(|(table, id)| self.facts.find(*table, *id).is_none())
            .collect();
        // Rows refer to rows of earlier tables, but for a code's.
        let order = Table::ALL.iter().filter(|table| **table != Table::Code);
        for table in order.chain(&[Table::Code]) {
            let new: Vec<Row> = changes
                .iter()
                .filter(|change| change.table == *table && change.before.is_none())
                .filter_map(|change| change.after.clone())
                .collect();
            if !new.is_empty() {
                self.number(*table, &new, &mut free, &mut numbers);
            }
        }
        changes
            .into_iter()
            .map(|change| moved(change, &numbers))
            .collect()
    }

    fn number(
        &mut self,
        table: Table,
        new: &[Row],
        free: &mut BTreeSet<(Table, i64)>,
        numbers: &mut Numbers,
    ) {
        let mut open: Vec<Row> = new.to_vec();
        let looks: [fn(&Row, &Row) -> bool; 3] = [
            |row, known| row.values() == known.values(),
            |row, known| of(row) == of(known) && is_ancestor(row) == is_ancestor(known),
            |row, known| is_ancestor(row) == is_ancestor(known),
        ];
        open.retain(|row| !self.take_spot(row, free, numbers));
        for alike in looks {
            open.retain(|row| {
                let here = at(row, row.id(), numbers);
                let is = |(_, id): &&(Table, i64)| {
                    let known = self.present.find(table, *id);
                    known.is_some_and(|known| alike(&here, &known))
                };
                let mut known = free.iter().filter(|(of, _)| *of == table);
                let found = known.find(is).copied().filter(|_| !is_seedling(&here));
                let Some(found) = found else { return true };
                if self.out_of_turn(&here, found.1) {
                    return true;
                }
                free.remove(&found);
                numbers.insert((table, row.id()), found.1);
                false
            });
        }
        for row in open {
            let number = self.any_number(&at(&row, row.id(), numbers), numbers);
            numbers.insert((table, row.id()), number);
        }
    }

    /// The number of a row that is none of those the entry made: of one that an amendment made, else a new one.
    fn any_number(&mut self, row: &Row, numbers: &Numbers) -> i64 {
        let table = row.table();
        let found = self.elsewhere(row, numbers);
        if let Some((_, id)) = found.filter(|found| !self.out_of_turn(row, found.1)) {
            return id;
        }
        if let Some(day) = day_of(row) {
            self.given.0.insert((table, day));
        }
        let next = self.fresh.entry(table.name().to_owned()).or_insert(1);
        *next += 1;
        *next - 1
    }

    /// A seedling is known by its place.
    fn take_spot(
        &self,
        row: &Row,
        free: &mut BTreeSet<(Table, i64)>,
        numbers: &mut Numbers,
    ) -> bool {
        let Row::Plant(plant) = at(row, row.id(), numbers) else {
            return false;
        };
        let (Some(batch), Some(cell)) = (plant.batch_id, plant.cell) else {
            return false;
        };
        let known = self.spots.get(&(batch, cell, plant.part.clone()));
        let Some(id) = known.filter(|id| self.facts.plant.get(**id).is_none()) else {
            return false;
        };
        free.remove(&(Table::Plant, *id));
        numbers.insert((Table::Plant, row.id()), *id);
        true
    }

    /// A row of the ledger with the same content that no entry told so far has made, and that no other will: two
    /// counts of one day may be alike. A locus or an ancestor goes to whichever entry names it first.
    fn elsewhere(&self, row: &Row, numbers: &Numbers) -> Option<(Table, i64)> {
        let table = row.table();
        let wanders = matches!(table, Table::Locus | Table::Allele) || is_ancestor(row);
        let taken = |id: i64| {
            (!wanders && self.claimed.contains(&(table, id)))
                || self.facts.find(table, id).is_some()
                || numbers
                    .iter()
                    .any(|((of, _), number)| *of == table && *number == id)
        };
        let values = row.values();
        let mut known = self.present.all(table).into_iter();
        let found = known.find(|known| known.values() == values && !taken(known.id()));
        found.map(|known| (table, known.id()))
    }

    /// Whether a row would come before one of its day that was told before it.
    fn out_of_turn(&self, row: &Row, number: i64) -> bool {
        let table = row.table();
        let Some(day) = day_of(row).filter(|_| IN_TURN.contains(&table)) else {
            return false;
        };
        let newest = || {
            let rows = self.facts.all(table).into_iter();
            let of_day = rows.filter(|known| day_of(known).as_ref() == Some(&day));
            of_day.map(|known| known.id()).max()
        };
        self.given.0.contains(&(table, day.clone())) && newest().is_some_and(|id| number < id)
    }
}

/// A row as it is once those it refers to have their numbers.
fn at(row: &Row, id: i64, numbers: &Numbers) -> Row {
    renumbered(row, id, |table, old| {
        numbers.get(&(table, old)).copied().unwrap_or(old)
    })
}

fn moved(change: RowChange, numbers: &Numbers) -> RowChange {
    let new = numbers.get(&(change.table, change.id)).copied();
    let id = match change.before {
        None => new.unwrap_or(change.id),
        Some(_) => change.id,
    };
    RowChange {
        table: change.table,
        id,
        before: change.before,
        after: change.after.map(|row| at(&row, id, numbers)),
    }
}

/// An ancestor is entered beside the plant whose pedigree names it, and is never that plant.
fn is_ancestor(row: &Row) -> bool {
    matches!(row, Row::Plant(plant) if plant.kind == PlantKind::Ancestor)
}

fn is_seedling(row: &Row) -> bool {
    matches!(row, Row::Plant(plant) if plant.batch_id.is_some())
}

/// The day of a row, as it is kept.
fn day_of(row: &Row) -> Option<String> {
    let at = row
        .table()
        .columns()
        .iter()
        .position(|column| *column == "day")?;
    match row.values().get(at) {
        Some(crate::records::value::Value::Text(day)) => Some(day.clone()),
        _ => None,
    }
}
