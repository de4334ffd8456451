//! The answer of `show`: everything recorded of one thing, in a grower's words and as records.
//!
//! Made from the facts alone, those of today or of any day before; nothing is computed but counts.

use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

use super::show_things::{batch, came_from, cell, cross, locus, lot, plant, remarks};
use super::text::{columns, shown, wrapped};
use super::{Answer, Page};
use crate::records::about::{rows_about, table_of};
use crate::records::code::fold;
use crate::records::facts::Facts;
use crate::records::rows::{Row, Table, Thing};
use crate::records::target::Target;
use crate::records::value::Value;

/// A row of the ledger as JSON has it: its table, its number, its fields.
#[derive(Debug, Clone, PartialEq)]
struct RecordJson(Row);

impl Serialize for RecordJson {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let table = self.0.table();
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("table", table.name())?;
        map.serialize_entry("id", &self.0.id())?;
        for (column, value) in table.columns().iter().zip(self.0.values()) {
            match value {
                Value::Null => map.serialize_entry(column, &None::<i64>)?,
                Value::Int(number) => map.serialize_entry(column, &number)?,
                Value::Text(text) => map.serialize_entry(column, &text)?,
            }
        }
        map.end()
    }
}

/// One line of what is known.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Known {
    /// What it is: `name`, `genotype`, `reading`.
    pub what: &'static str,
    /// What is known.
    pub known: String,
}

/// Everything recorded of one thing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShowAnswer {
    /// Its code, place or lot.
    pub code: String,
    /// Its kind.
    pub kind: &'static str,
    /// The entry as of which it is shown; nothing for now.
    pub at_entry: Option<i64>,
    /// What is known, in words.
    pub known: Vec<Known>,
    records: Vec<RecordJson>,
}

impl ShowAnswer {
    /// Of a thing, from the facts as they are or were.
    #[must_use]
    pub fn new(facts: &Facts, thing: Thing, id: i64, code: String, at_entry: Option<i64>) -> Self {
        let mut known = match thing {
            Thing::Plant => facts.plant.get(id).map(|row| plant(facts, row)),
            Thing::Cross => facts.cross.get(id).map(|row| cross(facts, row)),
            Thing::Batch => facts.batch.get(id).map(|row| batch(facts, row)),
            Thing::Lot => facts.lot.get(id).map(|row| lot(facts, row)),
            Thing::Trait => None,
        }
        .unwrap_or_default();
        known.extend(remarks(facts, thing, id));
        known.extend(came_from(facts, table_of(thing), id));
        let records = rows_about(facts, thing, id)
            .into_iter()
            .map(RecordJson)
            .collect();
        Self {
            code,
            kind: thing.word(),
            at_entry,
            known,
            records,
        }
    }
}

impl ShowAnswer {
    /// Of the locus of a symbol; case decides where two differ in nothing else.
    #[must_use]
    pub fn of_locus(facts: &Facts, symbol: &str, at_entry: Option<i64>) -> Option<Self> {
        let mut rows = facts.locus.iter();
        let row = rows.find(|row| row.symbol == symbol).or_else(|| {
            facts
                .locus
                .iter()
                .find(|row| fold(&row.symbol) == fold(symbol))
        })?;
        let alleles = facts.allele.iter().filter(|a| a.locus_id == row.id);
        let own = std::iter::once(Row::from(row.clone()));
        let mut known = locus(facts, row);
        known.extend(came_from(facts, Table::Locus, row.id));
        Some(Self {
            code: row.symbol.clone(),
            kind: "locus",
            at_entry,
            known,
            records: own
                .chain(alleles.map(|allele| Row::from(allele.clone())))
                .map(RecordJson)
                .collect(),
        })
    }

    /// Of a cell in which no seedling was told apart, where something was recorded of it.
    #[must_use]
    pub fn of_cell(facts: &Facts, place: &str, at_entry: Option<i64>) -> Option<Self> {
        let Ok(Target::Spot(code, spot)) = place.parse() else {
            return None;
        };
        let row = facts
            .code_named(code.as_str())
            .filter(|row| row.thing == Thing::Batch && spot.part.is_empty())?;
        let batch = facts.batch.get(row.thing_id)?;
        let of_cell = |row: &Row| match row {
            Row::Emergence(up) => up.cell == Some(spot.cell),
            Row::Tally(tally) => tally.cell == Some(spot.cell),
            Row::Fate(fate) => fate.cell == Some(spot.cell),
            _ => false,
        };
        let records: Vec<RecordJson> = rows_about(facts, Thing::Batch, batch.id)
            .into_iter()
            .filter(of_cell)
            .map(RecordJson)
            .collect();
        (!records.is_empty()).then(|| Self {
            code: format!("{}-{spot}", row.typed),
            kind: "cell",
            at_entry,
            known: cell(facts, batch, spot.cell),
            records,
        })
    }
}

impl Answer for ShowAnswer {
    fn words(&self, page: Page) -> String {
        let at = self.at_entry.map_or_else(String::new, |entry| {
            format!(", as it was after entry {entry}")
        });
        let widest = self
            .known
            .iter()
            .map(|line| columns(line.what))
            .max()
            .unwrap_or(0);
        // The bench says tray where the records say batch.
        let kind = if self.kind == Thing::Batch.word() {
            "tray"
        } else {
            self.kind
        };
        let mut lines = vec![wrapped(
            &format!("{} ({kind}){at}", shown(&self.code)),
            page.width,
            "",
        )];
        let mut before = "";
        for line in &self.known {
            let what = if line.what == before { "" } else { line.what };
            before = line.what;
            let text = shown(&line.known);
            let hang = " ".repeat(widest + 2);
            let room = page.width.saturating_sub(widest + 4).max(20);
            let body = wrapped(&text, room, "").replace('\n', &format!("\n  {hang}"));
            lines.push(format!("  {what:widest$}  {body}"));
        }
        lines.join("\n")
    }
}
