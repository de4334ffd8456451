//! The history: which entries there are, of what kind, and which of them are undone.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::str::FromStr;

use super::chain::{self, Link};
use super::error::{NamedEntry, StoreError};
use super::fault::Fault;
use super::ledger::Ledger;
use super::payload;
use crate::records::change::RowChange;
use crate::records::rows::Table;

/// When something was typed; read from the clock by the caller.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stamp {
    /// In UTC, e.g. `2026-03-01T12:00:00Z`.
    pub at_utc: String,
    /// The clock's offset from UTC, e.g. `+01:00`.
    pub utc_offset: String,
}

/// What an entry is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EntryKind {
    /// The beginning of the ledger, with what is built in.
    Init,
    /// Something recorded.
    Record,
    /// Takes back the entry of that number.
    Undo(i64),
    /// Takes back the undo of that number.
    Redo(i64),
    /// Corrects the entry of that number.
    Amend(i64),
}

impl fmt::Display for EntryKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Init => f.write_str("init"),
            Self::Record => f.write_str("record"),
            Self::Undo(entry) => write!(f, "undo {entry}"),
            Self::Redo(entry) => write!(f, "redo {entry}"),
            Self::Amend(entry) => write!(f, "amend {entry}"),
        }
    }
}

impl FromStr for EntryKind {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let unknown = || format!("'{text}' is no kind of entry");
        let (word, number) = text.split_once(' ').unwrap_or((text, ""));
        let entry = || number.parse::<i64>().map_err(|_| unknown());
        let kind = match word {
            "init" => Self::Init,
            "record" => Self::Record,
            "undo" => Self::Undo(entry()?),
            "redo" => Self::Redo(entry()?),
            "amend" => Self::Amend(entry()?),
            _ => return Err(unknown()),
        };
        if kind.to_string() == text {
            Ok(kind)
        } else {
            Err(unknown())
        }
    }
}

/// What is written down about an entry besides its changes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EntryNote {
    /// When, in UTC.
    pub at_utc: String,
    /// The clock's offset from UTC.
    pub utc_offset: String,
    /// What was typed.
    pub command: String,
    /// What it is.
    pub kind: EntryKind,
}

/// One entry of the history.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HistoryEntry {
    /// Its number, from 1.
    pub entry: i64,
    /// When, in UTC.
    pub at_utc: String,
    /// The clock's offset from UTC.
    pub utc_offset: String,
    /// What was typed.
    pub command: String,
    /// What it is.
    pub kind: EntryKind,
    /// The entry it takes back, for an undo or a redo.
    pub reverts: Option<i64>,
    /// The entry that took it back, where it is not in force.
    pub undone_by: Option<i64>,
    /// The entries in force that correct it, oldest first.
    pub amended_by: Vec<i64>,
    /// How many rows it changed.
    pub changes: usize,
}

impl HistoryEntry {
    fn begin(link: Link) -> Result<Self, Fault> {
        let kind: EntryKind = link.kind.parse().map_err(Fault::Damage)?;
        Ok(Self {
            entry: link.txn,
            at_utc: link.at_utc,
            utc_offset: link.utc_offset,
            command: link.command,
            kind,
            reverts: match kind {
                EntryKind::Undo(entry) | EntryKind::Redo(entry) => Some(entry),
                EntryKind::Init | EntryKind::Record | EntryKind::Amend(_) => None,
            },
            undone_by: None,
            amended_by: Vec::new(),
            changes: 0,
        })
    }

    /// The entry as a refusal names it.
    pub(super) fn named(&self) -> NamedEntry {
        NamedEntry {
            entry: self.entry,
            command: self.command.clone(),
        }
    }

    /// Whether it was recorded by a person, or corrects what was, and stands.
    #[must_use]
    pub fn in_force(&self) -> bool {
        matches!(self.kind, EntryKind::Record | EntryKind::Amend(_)) && self.undone_by.is_none()
    }
}

/// Name under which the counters stand in the chain.
pub(super) const COUNTER: &str = "counter";

/// The change of a row that a link records; nothing for a link that moves counters.
pub(super) fn row_change(link: &Link) -> Result<Option<RowChange>, Fault> {
    if link.entity == COUNTER {
        return Ok(None);
    }
    let table = Table::named(&link.entity)
        .ok_or_else(|| Fault::Damage(format!("the history names a table '{}'", link.entity)))?;
    let row = |text: &Option<String>| {
        text.as_ref()
            .map(|text| payload::from_text(table, link.entity_id, text))
            .transpose()
    };
    Ok(Some(RowChange {
        table,
        id: link.entity_id,
        before: row(&link.before)?,
        after: row(&link.after)?,
    }))
}

impl Ledger {
    /// Every entry, oldest first.
    ///
    /// # Errors
    /// [`StoreError`] where the file cannot be read or contradicts itself.
    pub fn history(&self) -> Result<Vec<HistoryEntry>, StoreError> {
        self.entries().map_err(|fault| fault.at(self.path()))
    }

    /// The row changes of an entry, in the order in which they were made.
    ///
    /// # Errors
    /// [`StoreError`] where the file cannot be read or contradicts itself.
    pub fn changes_of(&self, entry: i64) -> Result<Vec<RowChange>, StoreError> {
        self.changes_where(|link| link.txn == entry)
            .map(|changes| changes.into_values().flatten().collect())
            .map_err(|fault| fault.at(self.path()))
    }

    /// The row changes of every entry, by entry, in the order in which they were made.
    ///
    /// # Errors
    /// [`StoreError`] where the file cannot be read or contradicts itself.
    pub fn changes(&self) -> Result<BTreeMap<i64, Vec<RowChange>>, StoreError> {
        self.changes_where(|_| true)
            .map_err(|fault| fault.at(self.path()))
    }

    /// The row changes of any of the given rows, by entry, oldest first.
    ///
    /// # Errors
    /// [`StoreError`] where the file cannot be read or contradicts itself.
    pub fn changes_touching(
        &self,
        rows: &[(Table, i64)],
    ) -> Result<BTreeMap<i64, Vec<RowChange>>, StoreError> {
        let wanted: BTreeSet<(&str, i64)> =
            rows.iter().map(|(table, id)| (table.name(), *id)).collect();
        self.changes_where(|link| wanted.contains(&(link.entity.as_str(), link.entity_id)))
            .map_err(|fault| fault.at(self.path()))
    }

    /// The numbers that entries took of automatic series (`X`, `T`, the lots of a cross), by entry.
    ///
    /// # Errors
    /// [`StoreError`] where the file cannot be read or contradicts itself.
    pub fn series_taken(&self) -> Result<BTreeMap<i64, BTreeMap<String, i64>>, StoreError> {
        let mut taken = BTreeMap::new();
        let outcome = chain::each_after(self.connection(), 0, |link| {
            if link.entity == COUNTER {
                let text = link.before.as_deref().unwrap_or_default();
                let numbers = serde_json::from_str(text)
                    .map_err(|_| Fault::Damage("its counters cannot be read".to_owned()))?;
                taken.insert(link.txn, numbers);
            }
            Ok(())
        });
        outcome
            .map(|()| taken)
            .map_err(|fault| fault.at(self.path()))
    }

    /// The row changes of the links that `wanted` picks, by entry.
    pub(super) fn changes_where(
        &self,
        wanted: impl Fn(&Link) -> bool,
    ) -> Result<BTreeMap<i64, Vec<RowChange>>, Fault> {
        let mut changes: BTreeMap<i64, Vec<RowChange>> = BTreeMap::new();
        chain::each_after(self.connection(), 0, |link| {
            if wanted(&link)
                && let Some(change) = row_change(&link)?
            {
                changes.entry(link.txn).or_default().push(change);
            }
            Ok(())
        })?;
        Ok(changes)
    }

    /// The last entry and what was typed.
    pub(super) fn last_named(&self) -> Result<NamedEntry, StoreError> {
        let mut last = NamedEntry {
            entry: 0,
            command: String::new(),
        };
        let read = chain::each_after(self.connection(), self.head_seq() - 1, |link| {
            (last.entry, last.command) = (link.txn, link.command);
            Ok(())
        });
        read.map(|()| last).map_err(|fault| fault.at(self.path()))
    }

    pub(super) fn entries(&self) -> Result<Vec<HistoryEntry>, Fault> {
        let mut entries: Vec<HistoryEntry> = Vec::new();
        chain::each_after(self.connection(), 0, |link| {
            let counts = usize::from(link.entity != COUNTER);
            if entries.last().is_none_or(|last| last.entry != link.txn) {
                entries.push(HistoryEntry::begin(link)?);
            }
            let last = entries
                .last_mut()
                .expect("one was pushed if there was none");
            last.changes += counts;
            Ok(())
        })?;
        mark_undone(&mut entries);
        mark_amended(&mut entries);
        Ok(entries)
    }
}

fn mark_undone(entries: &mut [HistoryEntry]) {
    for at in 0..entries.len() {
        let (by, kind) = (entries[at].entry, entries[at].kind);
        let Some(reverted) = entries[at].reverts.and_then(|entry| place(entries, entry)) else {
            continue;
        };
        entries[reverted].undone_by = Some(by);
        if let (EntryKind::Redo(_), Some(original)) = (kind, entries[reverted].reverts)
            && let Some(original) = place(entries, original)
        {
            entries[original].undone_by = None;
        }
    }
}

fn mark_amended(entries: &mut [HistoryEntry]) {
    for at in 0..entries.len() {
        let (by, kind) = (entries[at].entry, entries[at].kind);
        if let EntryKind::Amend(amended) = kind
            && entries[at].undone_by.is_none()
            && let Some(amended) = place(entries, amended)
        {
            entries[amended].amended_by.push(by);
        }
    }
}

/// Where an entry of a number stands.
pub(super) fn place(entries: &[HistoryEntry], entry: i64) -> Option<usize> {
    entries.binary_search_by_key(&entry, |e| e.entry).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_read_back_and_nothing_else_does() {
        for kind in [
            EntryKind::Init,
            EntryKind::Record,
            EntryKind::Undo(7),
            EntryKind::Redo(8),
            EntryKind::Amend(9),
        ] {
            assert_eq!(kind.to_string().parse::<EntryKind>(), Ok(kind));
        }
        for bad in [
            "", "undo", "undo x", "undo  7", "undo +7", "record 1", "init ",
        ] {
            assert!(bad.parse::<EntryKind>().is_err(), "{bad:?}");
        }
    }
}
