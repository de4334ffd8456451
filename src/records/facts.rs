//! All that the ledger holds, in memory: what the gate judges by and every question is answered from.
//!
//! [`Facts`] is filled once per command and kept in step by [`Facts::apply`]; it does not know where the
//! rows came from.

use std::collections::{BTreeMap, HashMap};

use super::cells::Spot;
use super::change::RowChange;
use super::code::fold;
use super::rows::{CodeRow, PlantRow, Record, Row, Rows, Sureness, Table, Thing};

/// The rows of one table, by number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shelf<R> {
    rows: Vec<R>,
}

impl<R> Default for Shelf<R> {
    fn default() -> Self {
        Self { rows: Vec::new() }
    }
}

impl<R: Record> Shelf<R> {
    /// The row of a number.
    #[must_use]
    pub fn get(&self, id: i64) -> Option<&R> {
        self.place(id).ok().map(|at| &self.rows[at])
    }

    /// The rows, by number.
    pub fn iter(&self) -> std::slice::Iter<'_, R> {
        self.rows.iter()
    }

    /// How many rows.
    #[must_use]
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Puts a row in its place, replacing one of the same number.
    pub fn put(&mut self, row: R) {
        match self.place(row.id()) {
            Ok(at) => self.rows[at] = row,
            Err(at) => self.rows.insert(at, row),
        }
    }

    /// Takes a row away, giving it back.
    pub fn take(&mut self, id: i64) -> Option<R> {
        self.place(id).ok().map(|at| self.rows.remove(at))
    }

    fn place(&self, id: i64) -> Result<usize, usize> {
        match self.rows.last() {
            Some(last) if last.id() < id => Err(self.rows.len()),
            _ => self.rows.binary_search_by_key(&id, Record::id),
        }
    }
}

impl<'a, R: Record> IntoIterator for &'a Shelf<R> {
    type Item = &'a R;
    type IntoIter = std::slice::Iter<'a, R>;
    fn into_iter(self) -> Self::IntoIter {
        self.rows.iter()
    }
}

/// All that the ledger holds.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Facts {
    rows: Rows,
    /// Next number to give, by table name or by the name of an automatic series (`X`, `T`, `lot:cross:3`).
    counters: BTreeMap<String, i64>,
    by_key: HashMap<String, i64>,
    by_thing: HashMap<(Thing, i64), Vec<i64>>,
    /// The seedlings told apart in each batch, by number.
    by_batch: HashMap<i64, Vec<i64>>,
}

impl std::ops::Deref for Facts {
    type Target = Rows;
    fn deref(&self) -> &Rows {
        &self.rows
    }
}

impl Facts {
    /// Facts from rows and counters as they are kept.
    #[must_use]
    pub fn new(rows: Rows, counters: BTreeMap<String, i64>) -> Self {
        let mut facts = Self {
            rows: Rows::default(),
            counters,
            ..Self::default()
        };
        for code in &rows.code {
            facts.index_code(code);
        }
        for plant in &rows.plant {
            facts.index_seedling(plant);
        }
        facts.rows = rows;
        facts
    }

    /// Brings the facts up to date with a change that was made.
    pub fn apply(&mut self, change: &RowChange) {
        if let Some(Row::Code(code)) = &change.before {
            self.by_key.remove(&code.key);
            if let Some(ids) = self.by_thing.get_mut(&(code.thing, code.thing_id)) {
                ids.retain(|id| *id != code.id);
            }
        }
        if let Some(Row::Plant(plant)) = &change.before {
            self.forget_seedling(plant);
        }
        match &change.after {
            Some(row) => {
                match row {
                    Row::Code(code) => self.index_code(code),
                    Row::Plant(plant) => self.index_seedling(plant),
                    _ => {}
                }
                self.rows.put(row.clone());
            }
            None => {
                self.rows.take(change.table, change.id);
            }
        }
    }

    fn index_code(&mut self, code: &CodeRow) {
        self.by_key.insert(code.key.clone(), code.id);
        let ids = self
            .by_thing
            .entry((code.thing, code.thing_id))
            .or_default();
        ids.push(code.id);
        ids.sort_unstable();
    }

    fn index_seedling(&mut self, plant: &PlantRow) {
        let Some(batch) = plant.batch_id else { return };
        let ids = self.by_batch.entry(batch).or_default();
        if let Err(at) = ids.binary_search(&plant.id) {
            ids.insert(at, plant.id);
        }
    }

    fn forget_seedling(&mut self, plant: &PlantRow) {
        let Some(batch) = plant.batch_id else { return };
        let Some(ids) = self.by_batch.get_mut(&batch) else {
            return;
        };
        ids.retain(|id| *id != plant.id);
        if ids.is_empty() {
            self.by_batch.remove(&batch);
        }
    }

    /// The seedlings told apart in a batch, by number.
    pub fn seedlings_of(&self, batch: i64) -> impl Iterator<Item = &PlantRow> {
        let ids = self.by_batch.get(&batch).into_iter().flatten();
        ids.filter_map(|id| self.rows.plant.get(*id))
    }

    /// Next number of a table or series.
    #[must_use]
    pub fn next_number(&self, series: &str) -> i64 {
        self.counters.get(series).copied().unwrap_or(1)
    }

    /// Next row number of a table.
    #[must_use]
    pub fn next_id(&self, table: Table) -> i64 {
        self.next_number(table.name())
    }

    /// The counters, by series.
    #[must_use]
    pub const fn counters(&self) -> &BTreeMap<String, i64> {
        &self.counters
    }

    /// The same facts with other counters: those that an entry is to be told again by.
    pub fn count_by(&mut self, counters: BTreeMap<String, i64>) {
        self.counters = counters;
    }

    /// Moves a counter on; it never goes back.
    pub fn advance_counter(&mut self, series: &str, next: i64) {
        let counter = self.counters.entry(series.to_owned()).or_insert(1);
        *counter = (*counter).max(next);
    }

    /// The code row that a typed text means, case forgiven.
    #[must_use]
    pub fn code_named(&self, typed: &str) -> Option<&CodeRow> {
        self.by_key
            .get(&fold(typed))
            .and_then(|id| self.rows.code.get(*id))
    }

    /// The main code of a thing, as typed.
    #[must_use]
    pub fn code_of(&self, thing: Thing, id: i64) -> Option<&str> {
        let ids = self.by_thing.get(&(thing, id))?;
        ids.first()
            .and_then(|id| self.rows.code.get(*id))
            .map(|code| code.typed.as_str())
    }

    /// Every code of a thing, the main one first.
    #[must_use]
    pub fn codes_of(&self, thing: Thing, id: i64) -> Vec<&str> {
        self.by_thing
            .get(&(thing, id))
            .into_iter()
            .flatten()
            .filter_map(|id| self.rows.code.get(*id))
            .map(|code| code.typed.as_str())
            .collect()
    }

    /// The name of a plant as an answer shows it: its code, or its place in its batch.
    #[must_use]
    pub fn plant_label(&self, plant: &PlantRow) -> String {
        if let Some(code) = self.code_of(Thing::Plant, plant.id) {
            return code.to_owned();
        }
        self.seedling_label(plant).unwrap_or_else(|| {
            if plant.name.is_empty() {
                format!("plant {}", plant.id)
            } else {
                plant.name.clone()
            }
        })
    }

    /// The same by its number; nothing where there is no such plant.
    #[must_use]
    pub fn label_of_plant(&self, id: i64) -> String {
        let row = self.plant.get(id);
        row.map_or_else(String::new, |row| self.plant_label(row))
    }

    /// The place of a seedling: `T1-03a`; nothing for a plant of no batch.
    #[must_use]
    pub fn seedling_label(&self, plant: &PlantRow) -> Option<String> {
        let batch = self.code_of(Thing::Batch, plant.batch_id?)?;
        let spot = Spot {
            cell: plant.cell?,
            part: plant.part.clone(),
        };
        Some(format!("{batch}-{spot}"))
    }

    /// The name of a plant where its place goes before its code: of a seedling where it stands or stood, else as
    /// [`Self::plant_label`].
    #[must_use]
    pub fn place_label(&self, plant: &PlantRow) -> String {
        let place = self.seedling_label(plant);
        place.unwrap_or_else(|| self.plant_label(plant))
    }

    /// A reading of a class as it is spoken of: `purple`, `maybe green`, `early`.
    #[must_use]
    pub fn spoken_class(&self, class: Option<i64>, sureness: Sureness) -> String {
        let class = class.and_then(|id| self.trait_class.get(id));
        match (class, sureness) {
            (Some(class), Sureness::Doubtful) => format!("maybe {}", class.name),
            (Some(class), _) => class.name.clone(),
            (None, sureness) => sureness.word().to_owned(),
        }
    }

    /// The name of a lot as an answer shows it: `X1/2`.
    #[must_use]
    pub fn lot_label(&self, lot_id: i64) -> String {
        let Some(lot) = self.rows.lot.get(lot_id) else {
            return format!("lot {lot_id}");
        };
        let cross = lot.cross_id.and_then(|id| self.code_of(Thing::Cross, id));
        let plant = lot.plant_id.and_then(|id| self.rows.plant.get(id));
        let of = cross.map(str::to_owned);
        let of = of.or_else(|| plant.map(|plant| self.plant_label(plant)));
        format!("{}/{}", of.unwrap_or_default(), lot.number)
    }

    /// A setting's text, where it was changed.
    #[must_use]
    pub fn setting(&self, key: &str) -> Option<&str> {
        self.rows
            .setting
            .iter()
            .find(|row| row.key == key)
            .map(|row| row.value.as_str())
    }
}
