//! The records of another ledger brought into this one: what comes, what both have, what they cannot both say.
//!
//! Loci, alleles and traits that mean the same in both are taken as one; everything else gets fresh numbers and
//! comes with a row that says which ledger it came from and what it was called there. Settings and goals stay as they
//! are here. A [`Survey`] looks and changes nothing; [`Survey::settle`] gives the changes or refuses. How the other
//! ledger was read, and whether it was brought in before, is not known here. The store calls it.

mod codes;
mod goals;
mod loci;
mod outlook;
mod refusal;
mod settle;
mod traits;

use std::collections::BTreeMap;

pub use outlook::{Clash, Contradiction, Differing, NewName, Outlook, Unfit};
pub use refusal::MergeRefusal;

use super::change::RowChange;
use super::day::Day;
use super::facts::Facts;
use super::genes::read_number;
use super::rows::Table;

/// The other ledger as a whole.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Guest {
    /// Its id.
    pub ledger: String,
    /// The last hash of its history.
    pub head: String,
    /// How many entries its history has.
    pub entries: i64,
    /// The sum of its export.
    pub sum: String,
    /// The day it is brought in.
    pub day: Day,
}

/// What brings the other ledger's records in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Merge {
    /// The changes, in order.
    pub changes: Vec<RowChange>,
    /// The series that move, by name.
    pub counters: BTreeMap<String, i64>,
}

/// How the rows of the other ledger meet those of this one.
#[derive(Debug, Default)]
struct Meeting {
    /// Their row, and the row here that it is taken as.
    same: BTreeMap<(Table, i64), i64>,
    /// Where their alleles come to stand in a locus that both have.
    places: BTreeMap<i64, i64>,
    /// What rows of this ledger gain.
    gains: Vec<RowChange>,
    outlook: Outlook,
}

impl Meeting {
    fn take(&mut self, table: Table, theirs: i64, ours: i64) {
        self.same.insert((table, theirs), ours);
    }
}

/// Two ledgers looked at side by side.
#[derive(Debug)]
pub struct Survey<'f> {
    ours: &'f Facts,
    theirs: &'f Facts,
    prefix: &'f str,
    meeting: Meeting,
}

impl<'f> Survey<'f> {
    /// Looks at both; `prefix` is put before every code that comes, or is empty.
    #[must_use]
    pub fn new(ours: &'f Facts, theirs: &'f Facts, prefix: &'f str) -> Self {
        let mut meeting = Meeting::default();
        loci::meet(ours, theirs, &mut meeting);
        traits::meet(ours, theirs, &mut meeting);
        codes::meet(ours, theirs, prefix, &mut meeting);
        compare_settings(ours, theirs, &mut meeting.outlook.differing);
        goals::compare(ours, theirs, &mut meeting);
        let mut survey = Self {
            ours,
            theirs,
            prefix,
            meeting,
        };
        survey.count();
        survey
    }

    /// What was seen.
    #[must_use]
    pub const fn outlook(&self) -> &Outlook {
        &self.meeting.outlook
    }

    fn count(&mut self) {
        for table in Table::ALL.iter().copied().filter(|table| is_record(*table)) {
            let rows = self.theirs.all(table);
            let same = rows
                .iter()
                .filter(|row| self.meeting.same.contains_key(&(table, row.id())))
                .count();
            let outlook = &mut self.meeting.outlook;
            for (list, n) in [
                (&mut outlook.coming, rows.len() - same),
                (&mut outlook.same, same),
            ] {
                if n > 0 {
                    list.push((table, n));
                }
            }
        }
    }
}

/// Whether a table stays as it is here: another grower's beliefs and goals are not this one's.
fn stays(table: Table) -> bool {
    matches!(table, Table::Setting | Table::Goal)
}

/// Whether a table holds records that are brought in, as opposed to what stays and to notes of where records came from.
fn is_record(table: Table) -> bool {
    !stays(table) && !matches!(table, Table::ImportedLedger | Table::CameFrom)
}

/// Settings that are not the same stay as they are here.
fn compare_settings(ours: &Facts, theirs: &Facts, differing: &mut Vec<Differing>) {
    let keys = ours.setting.iter().chain(&theirs.setting);
    let mut keys: Vec<&str> = keys.map(|row| row.key.as_str()).collect();
    keys.sort_unstable();
    keys.dedup();
    for key in keys {
        let word = |facts: &Facts| facts.setting(key).unwrap_or("the default").to_owned();
        differ(differing, key, word(ours), word(theirs));
    }
}

/// Notes two statements that differ.
fn differ(differing: &mut Vec<Differing>, what: impl Into<String>, here: String, there: String) {
    if !same_number(&here, &there) {
        differing.push(Differing {
            what: what.into(),
            here,
            there,
        });
    }
}

/// Whether two texts are one number, or one text.
fn same_number(one: &str, other: &str) -> bool {
    let numbers = read_number(one).zip(read_number(other));
    one == other || numbers.is_some_and(|(one, other)| one.total_cmp(&other).is_eq())
}
