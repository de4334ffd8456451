//! What an entry is judged at: the facts, the numbers given so far, the changes made so far.
//!
//! A [`Desk`] lives for one entry. Row numbers and automatic codes are given here and nowhere else, so
//! none is given twice.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use super::refusal::{Identity, Kind, Order, Refusal};
use super::{Admitted, Bench, Notice, Subject};
use crate::records::change::RowChange;
use crate::records::code::{Code, fold};
use crate::records::count::Count;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{CodeRow, PlantRow, Record, Row, SettingRow, Thing};

/// Where a seedling stands: batch, cell, letter.
pub(super) type Place = (i64, i64, String);

/// The working place of one entry.
pub(super) struct Desk<'f> {
    pub(super) facts: &'f Facts,
    pub(super) bench: Bench,
    changes: Vec<RowChange>,
    counters: BTreeMap<String, i64>,
    notices: Vec<Notice>,
    /// Keys of codes given by this entry.
    given: BTreeSet<String>,
    /// Seedlings first mentioned in this entry.
    pub(super) fresh: HashMap<Place, i64>,
}

impl<'f> Desk<'f> {
    pub(super) fn new(facts: &'f Facts, bench: Bench) -> Self {
        Self {
            facts,
            bench,
            changes: Vec::new(),
            counters: BTreeMap::new(),
            notices: Vec::new(),
            given: BTreeSet::new(),
            fresh: HashMap::new(),
        }
    }

    pub(super) fn close(self, subject: Subject) -> Admitted {
        let Self {
            changes,
            counters,
            notices,
            ..
        } = self;
        Admitted {
            changes,
            counters,
            notices,
            subject,
        }
    }

    /// The next number of a series, never given again.
    pub(super) fn number(&mut self, series: &str) -> i64 {
        let next = self.counters.get(series).copied();
        let number = next.unwrap_or_else(|| self.facts.next_number(series));
        self.counters.insert(series.to_owned(), number + 1);
        number
    }

    /// Enters a new row, made from its number; gives the number.
    pub(super) fn insert<R: Record + Into<Row>>(&mut self, make: impl FnOnce(i64) -> R) -> i64 {
        let id = self.number(R::TABLE.name());
        self.changes.push(RowChange::insert(make(id)));
        id
    }

    /// The trait of a reading that this entry has entered.
    pub(super) fn trait_read(&self, reading: i64) -> Option<i64> {
        let mut rows = self
            .changes
            .iter()
            .filter_map(|change| change.after.as_ref());
        rows.find_map(|row| match row {
            Row::Reading(row) if row.id == reading => row.trait_id,
            _ => None,
        })
    }

    /// Puts a row in the place of another of its number; says nothing where both are equal.
    pub(super) fn update<R: Record + Into<Row> + PartialEq>(&mut self, before: &R, after: R) {
        if *before != after {
            self.changes.push(RowChange::update(before.clone(), after));
        }
    }

    /// Takes a row away.
    pub(super) fn delete<R: Record + Into<Row>>(&mut self, row: &R) {
        self.changes.push(RowChange::delete(row.clone()));
    }

    /// Keeps a setting, or takes it back where no value is given; says nothing where it is so already.
    pub(super) fn set(&mut self, key: &str, value: Option<String>) {
        let before = self.facts.setting.iter().find(|row| row.key == key);
        match (value, before) {
            (None, None) => {}
            (None, Some(row)) => self.delete(row),
            (Some(value), Some(row)) => self.update(
                row,
                SettingRow {
                    value,
                    ..row.clone()
                },
            ),
            (Some(value), None) => {
                let key = key.to_owned();
                self.insert(|id| SettingRow { id, key, value });
            }
        }
    }

    /// Completes a row that this entry has made itself.
    pub(super) fn amend_fresh(&mut self, plant: i64, fill: impl FnOnce(&mut PlantRow)) {
        let made = self.changes.iter_mut().find(|change| {
            change.table == PlantRow::TABLE && change.id == plant && change.before.is_none()
        });
        if let Some(RowChange {
            after: Some(Row::Plant(row)),
            ..
        }) = made
        {
            fill(row);
        }
    }

    /// Whether anything changes so far.
    pub(super) fn is_blank(&self) -> bool {
        self.changes.is_empty()
    }

    pub(super) fn tell(&mut self, notice: Notice) {
        if !self.notices.contains(&notice) {
            self.notices.push(notice);
        }
    }

    /// Refuses the implausible, or lets it pass with a notice where it is to be recorded even so.
    pub(super) fn doubt(&mut self, refusal: impl Into<Refusal>) -> Result<(), Refusal> {
        let refusal = refusal.into();
        if self.bench.even_so && refusal.kind() == Kind::Implausible {
            self.tell(Notice::EvenSo(refusal.to_string()));
            return Ok(());
        }
        Err(refusal)
    }

    /// Doubts a day that has not come.
    pub(super) fn not_future(&mut self, day: Day) -> Result<(), Refusal> {
        let today = self.bench.today;
        if day > today {
            self.doubt(Order::Future { day, today })
        } else {
            Ok(())
        }
    }

    /// Refuses a code that is taken.
    pub(super) fn free(&self, code: &Code) -> Result<(), Refusal> {
        let Some(row) = self.facts.code_named(code.as_str()) else {
            return Ok(());
        };
        let holder = super::find::describe(self.facts, row.thing, row.thing_id);
        Err(Identity::Taken {
            code: row.typed.clone(),
            by: row.thing,
            holder,
        }
        .into())
    }

    /// Refuses a code that is taken, or that a cross or tray could be given by itself.
    pub(super) fn free_of_series(&self, code: &Code) -> Result<(), Refusal> {
        self.free(code)?;
        if code.is_automatic() {
            let code = code.to_string();
            return Err(Identity::Automatic { code }.into());
        }
        Ok(())
    }

    /// Gives a code to a thing.
    pub(super) fn name(&mut self, code: &Code, thing: Thing, thing_id: i64) {
        self.given.insert(code.key());
        let (key, typed) = (code.key(), code.as_str().to_owned());
        self.insert(|id| CodeRow {
            id,
            key,
            typed,
            thing,
            thing_id,
        });
    }

    /// The next free automatic code of a series: `X1`, `X2` and so on.
    pub(super) fn automatic(&mut self, series: &str) -> Code {
        loop {
            let typed = format!("{series}{}", self.number(series));
            let taken = self.given.contains(&fold(&typed));
            if !taken && self.facts.code_named(&typed).is_none() {
                return typed.parse().expect("a letter and a number are a code");
            }
        }
    }
}

/// Refuses a count of zero.
pub(super) fn some(count: Count, what: &'static str, of: impl ToString) -> Result<i64, Refusal> {
    match count.get() {
        0 => {
            let of = of.to_string();
            Err(Identity::Nothing { of, what }.into())
        }
        number => Ok(number),
    }
}
