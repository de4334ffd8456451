//! Undo and redo: an entry's rows swapped, as a new entry; and amendments, entries that correct others.
//!
//! Undo knows no command. It takes back the newest entry that stands, or a given one that no later entry
//! builds on; redo takes back the last undo until something new is recorded.

use std::collections::{BTreeMap, BTreeSet};

use super::error::{NamedEntry, StoreError};
use super::fault::Fault;
use super::history::{EntryKind, EntryNote, HistoryEntry, Stamp, place};
use super::ledger::Ledger;
use super::references;
use crate::records::change::RowChange;
use crate::records::coherence::Discord;
use crate::records::rows::{CodeRow, Row, Table};

impl Ledger {
    /// Takes back the newest entry that stands, or the given one; gives the number of the new entry.
    ///
    /// # Errors
    /// [`StoreError`] where there is nothing to take back, or later entries touch or need its rows.
    pub fn undo(&mut self, entry: Option<i64>, stamp: &Stamp) -> Result<i64, StoreError> {
        let file = self.path().to_owned();
        let command = entry.map_or_else(|| "undo".to_owned(), |entry| format!("undo {entry}"));
        let (undone, changes) = self.plan_undo(entry).map_err(|fault| fault.at(&file))?;
        self.revert(EntryKind::Undo(undone), command, changes, stamp)
    }

    /// Whether an entry could be taken back as things are.
    #[must_use]
    pub fn can_undo(&mut self, entry: i64) -> bool {
        self.plan_undo(Some(entry)).is_ok()
    }

    /// Corrects an entry by changes worked out beforehand; gives the number of the new entry.
    ///
    /// # Errors
    /// As [`Ledger::record`].
    pub fn amend(
        &mut self,
        entry: i64,
        command: String,
        changes: &[RowChange],
        counters: &BTreeMap<String, i64>,
        stamp: &Stamp,
    ) -> Result<i64, StoreError> {
        let note = EntryNote {
            at_utc: stamp.at_utc.clone(),
            utc_offset: stamp.utc_offset.clone(),
            command,
            kind: EntryKind::Amend(entry),
        };
        self.record(&note, changes, counters)
    }

    /// Takes back the last undo; gives the number of the new entry.
    ///
    /// # Errors
    /// [`StoreError`] where there is none, or something was recorded after it.
    pub fn redo(&mut self, stamp: &Stamp) -> Result<i64, StoreError> {
        let file = self.path().to_owned();
        let (undo, changes) = self.plan_redo().map_err(|fault| fault.at(&file))?;
        self.revert(EntryKind::Redo(undo), "redo".to_owned(), changes, stamp)
    }

    fn revert(
        &mut self,
        kind: EntryKind,
        command: String,
        changes: Vec<RowChange>,
        stamp: &Stamp,
    ) -> Result<i64, StoreError> {
        let note = EntryNote {
            at_utc: stamp.at_utc.clone(),
            utc_offset: stamp.utc_offset.clone(),
            command,
            kind,
        };
        self.record(&note, &changes, &BTreeMap::new())
    }

    fn plan_undo(&mut self, entry: Option<i64>) -> Result<(i64, Vec<RowChange>), Fault> {
        let facts = self.read_facts()?;
        let entries = self.entries()?;
        let chosen = match entry {
            Some(entry) => self.undoable(&entries, entry)?,
            None => entries.iter().rev().find(|entry| entry.in_force()),
        };
        let chosen = chosen.ok_or_else(|| StoreError::NothingToUndo {
            file: self.path().to_owned(),
        })?;
        let later: BTreeSet<i64> = entries
            .iter()
            .filter(|entry| entry.entry > chosen.entry && entry.in_force())
            .map(|entry| entry.entry)
            .collect();
        let mut changes =
            self.changes_where(|link| link.txn == chosen.entry || later.contains(&link.txn))?;
        let own = changes.remove(&chosen.entry).unwrap_or_default();
        let reversed = reverse(&own);
        let discords = references::new_discords(&facts, &reversed);
        let amended = amendments_on(&entries, chosen);
        let stands = |entry: i64, changes: &[RowChange], below: &[RowChange]| {
            amended.contains(&entry)
                || references::builds_on(changes, below)
                || discords
                    .iter()
                    .any(|discord| references::meets(discord, changes))
        };
        self.refuse_built_upon(chosen, own, &changes, stands, &entries)?;
        self.refuse_taken_codes(&reversed, &entries)?;
        self.refuse_discord(format!("undo {}", chosen.entry), &discords)?;
        Ok((chosen.entry, reversed))
    }

    /// The entry of a number, if it can be undone at all.
    fn undoable<'a>(
        &self,
        entries: &'a [HistoryEntry],
        entry: i64,
    ) -> Result<Option<&'a HistoryEntry>, StoreError> {
        let file = self.path().to_owned();
        let Some(at) = place(entries, entry) else {
            return Err(StoreError::NoSuchEntry { file, entry });
        };
        let found = &entries[at];
        let what = match found.kind {
            EntryKind::Init => "the beginning of the ledger",
            EntryKind::Undo(_) => "itself an undo (locule redo takes back the last one)",
            EntryKind::Redo(_) => "a redo (undo the entry that it brought back)",
            EntryKind::Record | EntryKind::Amend(_) => match found.undone_by {
                None => return Ok(Some(found)),
                Some(by) => {
                    let entry = found.named();
                    return Err(StoreError::AlreadyUndone { file, entry, by });
                }
            },
        };
        Err(StoreError::NotUndoable {
            file,
            entry: found.named(),
            what,
        })
    }

    fn refuse_built_upon(
        &self,
        chosen: &HistoryEntry,
        mut below: Vec<RowChange>,
        later: &BTreeMap<i64, Vec<RowChange>>,
        stands_on: impl Fn(i64, &[RowChange], &[RowChange]) -> bool,
        entries: &[HistoryEntry],
    ) -> Result<(), StoreError> {
        let mut found = Vec::new();
        for (entry, changes) in later {
            // What stands on one of them has to go first, too.
            if stands_on(*entry, changes, &below) {
                below.extend(changes.iter().cloned());
                found.push(*entry);
            }
        }
        let known = found.iter().filter_map(|entry| place(entries, *entry));
        let later: Vec<NamedEntry> = known.map(|at| entries[at].named()).collect();
        if later.is_empty() {
            return Ok(());
        }
        Err(StoreError::BuiltUpon {
            file: self.path().to_owned(),
            entry: chosen.named(),
            later,
        })
    }

    fn plan_redo(&mut self) -> Result<(i64, Vec<RowChange>), Fault> {
        let facts = self.read_facts()?;
        let entries = self.entries()?;
        let open = open_undos(&entries);
        let last = entries
            .iter()
            .rev()
            .find(|entry| matches!(entry.kind, EntryKind::Undo(_)) && entry.undone_by.is_none());
        let nothing = || StoreError::NothingToRedo {
            file: self.path().to_owned(),
        };
        // The last undo is looked at even where a recording has ended redo: to name who holds its code.
        let last = last.ok_or_else(nothing)?;
        let changes = reverse(
            &self
                .changes_where(|link| link.txn == last.entry)?
                .remove(&last.entry)
                .unwrap_or_default(),
        );
        self.refuse_taken_codes(&changes, &entries)?;
        if open.last() != Some(&last.entry) {
            return Err(nothing().into());
        }
        self.refuse_discord(
            "redo".to_owned(),
            &references::new_discords(&facts, &changes),
        )?;
        Ok((last.entry, changes))
    }

    /// What would no longer agree is refused even where no single later entry is to blame.
    fn refuse_discord(&self, command: String, discords: &[Discord]) -> Result<(), StoreError> {
        if discords.is_empty() {
            return Ok(());
        }
        Err(StoreError::Discord {
            file: self.path().to_owned(),
            command,
            leaves: discords.iter().map(ToString::to_string).collect(),
        })
    }

    /// A code that was free again may by now name another thing.
    fn refuse_taken_codes(
        &self,
        changes: &[RowChange],
        entries: &[HistoryEntry],
    ) -> Result<(), Fault> {
        let leaving: BTreeSet<i64> = changes
            .iter()
            .filter(|change| change.table == Table::Code && change.before.is_some())
            .map(|change| change.id)
            .collect();
        for change in changes {
            let Some(Row::Code(code)) = &change.after else {
                continue;
            };
            if let Some(holder) = self.holder(code)?
                && !leaving.contains(&holder.id)
            {
                return Err(self.code_taken(code, &holder, entries)?.into());
            }
        }
        Ok(())
    }

    /// The other row that has this code's key.
    fn holder(&self, code: &CodeRow) -> Result<Option<CodeRow>, Fault> {
        use rusqlite::OptionalExtension;
        let id: Option<i64> = self
            .connection()
            .prepare_cached("SELECT id FROM code WHERE key = ?1 AND id <> ?2")?
            .query_row(rusqlite::params![code.key, code.id], |row| row.get(0))
            .optional()?;
        let Some(id) = id else { return Ok(None) };
        let row = super::payload::one_row(self.connection(), Table::Code, id)?;
        Ok(row.and_then(|row| match row {
            Row::Code(code) => Some(code),
            _ => None,
        }))
    }

    fn code_taken(
        &self,
        code: &CodeRow,
        holder: &CodeRow,
        entries: &[HistoryEntry],
    ) -> Result<StoreError, Fault> {
        let given = self.changes_where(|link| {
            link.entity == Table::Code.name() && link.entity_id == holder.id
        })?;
        let entry = given
            .keys()
            .next_back()
            .and_then(|entry| place(entries, *entry))
            .map(|at| entries[at].named())
            .ok_or_else(|| Fault::Damage(format!("no entry gave the code '{}'", holder.typed)))?;
        Ok(StoreError::CodeTaken {
            file: self.path().to_owned(),
            code: code.typed.clone(),
            thing: holder.thing.word(),
            holder: entry,
        })
    }
}

/// The changes that take these back, the last one first.
fn reverse(changes: &[RowChange]) -> Vec<RowChange> {
    changes.iter().rev().map(RowChange::reversed).collect()
}

/// The amendments in force that rest on an entry: those that correct it, or that correct the same entry later.
fn amendments_on(entries: &[HistoryEntry], chosen: &HistoryEntry) -> BTreeSet<i64> {
    let corrected = match chosen.kind {
        EntryKind::Amend(corrected) => corrected,
        _ => chosen.entry,
    };
    let amended = place(entries, corrected).map(|at| entries[at].amended_by.as_slice());
    let later = amended.unwrap_or_default().iter();
    later.copied().filter(|by| *by > chosen.entry).collect()
}

/// The undos that redo can still take back, the last one last.
fn open_undos(entries: &[HistoryEntry]) -> Vec<i64> {
    let mut open = Vec::new();
    for entry in entries {
        match entry.kind {
            EntryKind::Undo(_) => open.push(entry.entry),
            EntryKind::Redo(undo) => open.retain(|entry| *entry != undo),
            EntryKind::Init | EntryKind::Record | EntryKind::Amend(_) => open.clear(),
        }
    }
    open
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::rows::{PlantCytoplasm, PlantKind, PlantRow, RemarkRow, SettingRow, Thing};
    use crate::store::Identity;

    fn stamp() -> Stamp {
        Stamp {
            at_utc: "2026-03-01T12:00:00Z".to_owned(),
            utc_offset: "+00:00".to_owned(),
        }
    }

    fn record(ledger: &mut Ledger, command: &str, changes: &[RowChange]) -> i64 {
        let note = EntryNote {
            at_utc: stamp().at_utc,
            utc_offset: stamp().utc_offset,
            command: command.to_owned(),
            kind: if ledger.last_entry() == 0 {
                EntryKind::Init
            } else {
                EntryKind::Record
            },
        };
        ledger.record(&note, changes, &BTreeMap::new()).unwrap()
    }

    fn plant(id: i64) -> RowChange {
        RowChange::insert(PlantRow {
            id,
            kind: PlantKind::Line,
            name: String::new(),
            species: String::new(),
            cytoplasm: PlantCytoplasm::Unknown,
            batch_id: None,
            cell: None,
            part: String::new(),
            mother_id: None,
            father_id: None,
            entered: "2026-03-01".parse().unwrap(),
        })
    }

    fn code(id: i64, typed: &str, plant: i64) -> RowChange {
        RowChange::insert(CodeRow {
            id,
            key: typed.to_lowercase(),
            typed: typed.to_owned(),
            thing: Thing::Plant,
            thing_id: plant,
        })
    }

    fn remark(id: i64, plant: i64) -> RowChange {
        RowChange::insert(RemarkRow {
            id,
            thing: Thing::Plant,
            thing_id: plant,
            text: "leggy".to_owned(),
            day: "2026-03-01".parse().unwrap(),
        })
    }

    fn setting(id: i64, value: &str) -> SettingRow {
        SettingRow {
            id,
            key: "dim".to_owned(),
            value: value.to_owned(),
        }
    }

    fn begun(folder: &tempfile::TempDir) -> Ledger {
        let identity = Identity {
            ledger_id: "tray".to_owned(),
        };
        let mut ledger = Ledger::make(&folder.path().join("ledger.db"), &identity).unwrap();
        record(
            &mut ledger,
            "init",
            &[RowChange::insert(setting(1, "0.02"))],
        );
        ledger
    }

    #[test]
    fn undo_goes_back_step_by_step_and_redo_forth_again() {
        let folder = tempfile::tempdir().unwrap();
        let mut ledger = begun(&folder);
        let mut states = vec![ledger.facts().unwrap()];
        for (id, typed) in [(1, "NL"), (2, "CW")] {
            record(&mut ledger, typed, &[plant(id), code(id, typed, id)]);
            states.push(ledger.facts().unwrap());
        }
        for wanted in [1, 0] {
            ledger.undo(None, &stamp()).unwrap();
            let facts = ledger.facts().unwrap();
            assert_eq!(facts.plant, states[wanted].plant);
            assert_eq!(facts.code, states[wanted].code);
            assert_eq!(facts.next_id(Table::Plant), 3);
        }
        assert!(matches!(
            ledger.undo(None, &stamp()),
            Err(StoreError::NothingToUndo { .. })
        ));
        for wanted in [1, 2] {
            ledger.redo(&stamp()).unwrap();
            assert_eq!(ledger.facts().unwrap().plant, states[wanted].plant);
        }
        assert!(matches!(
            ledger.redo(&stamp()),
            Err(StoreError::NothingToRedo { .. })
        ));
        let history = ledger.history().unwrap();
        let kinds: Vec<String> = history.iter().map(|entry| entry.kind.to_string()).collect();
        assert_eq!(
            kinds,
            [
                "init", "record", "record", "undo 3", "undo 2", "redo 5", "redo 4"
            ]
        );
        let undone: Vec<_> = history.iter().map(|entry| entry.undone_by).collect();
        assert_eq!(undone, [None, None, None, Some(7), Some(6), None, None]);
    }

    #[test]
    fn a_new_recording_ends_redo_and_the_holder_of_a_code_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let mut ledger = begun(&folder);
        record(&mut ledger, "parent add NL", &[plant(1), code(1, "NL", 1)]);
        ledger.undo(None, &stamp()).unwrap();
        record(&mut ledger, "parent add CW", &[plant(2), code(2, "CW", 2)]);
        assert!(matches!(
            ledger.redo(&stamp()),
            Err(StoreError::NothingToRedo { .. })
        ));
        record(&mut ledger, "parent add nl", &[plant(3), code(3, "nl", 3)]);
        match ledger.redo(&stamp()) {
            Err(StoreError::CodeTaken { holder, code, .. }) => {
                assert_eq!(
                    (holder.entry, holder.command.as_str()),
                    (5, "parent add nl")
                );
                assert_eq!(code, "NL");
            }
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn an_entry_that_later_ones_build_on_is_refused_with_them() {
        let folder = tempfile::tempdir().unwrap();
        let mut ledger = begun(&folder);
        record(&mut ledger, "parent add NL", &[plant(1), code(1, "NL", 1)]);
        record(&mut ledger, "parent add CW", &[plant(2), code(2, "CW", 2)]);
        record(&mut ledger, "note NL leggy", &[remark(1, 1)]);
        match ledger.undo(Some(2), &stamp()) {
            Err(StoreError::BuiltUpon { later, entry, .. }) => {
                assert_eq!(entry.entry, 2);
                let later: Vec<_> = later.iter().map(|entry| entry.entry).collect();
                assert_eq!(later, [4]);
            }
            other => panic!("{other:?}"),
        }
        ledger.undo(Some(3), &stamp()).unwrap();
        assert!(matches!(
            ledger.undo(Some(3), &stamp()),
            Err(StoreError::AlreadyUndone { by: 5, .. })
        ));
        ledger.undo(Some(4), &stamp()).unwrap();
        ledger.undo(Some(2), &stamp()).unwrap();
        assert!(ledger.facts().unwrap().plant.is_empty());
        for (entry, kind) in [(1, "beginning"), (5, "undo")] {
            let refused = ledger.undo(Some(entry), &stamp()).unwrap_err();
            assert!(matches!(refused, StoreError::NotUndoable { what, .. } if what.contains(kind)));
        }
        assert!(matches!(
            ledger.undo(Some(99), &stamp()),
            Err(StoreError::NoSuchEntry { entry: 99, .. })
        ));
    }

    #[test]
    fn a_row_changed_again_later_holds_the_earlier_change() {
        let folder = tempfile::tempdir().unwrap();
        let mut ledger = begun(&folder);
        let step = |from, to| [RowChange::update(setting(1, from), setting(1, to))];
        record(&mut ledger, "assume dim 0.05", &step("0.02", "0.05"));
        record(&mut ledger, "assume dim 0.1", &step("0.05", "0.1"));
        assert!(matches!(
            ledger.undo(Some(2), &stamp()),
            Err(StoreError::BuiltUpon { .. })
        ));
        ledger.undo(None, &stamp()).unwrap();
        ledger.undo(Some(2), &stamp()).unwrap();
        assert_eq!(ledger.facts().unwrap().setting("dim"), Some("0.02"));
    }
}
