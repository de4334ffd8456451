//! The one place where the ledger changes: an entry's rows, its counters and its links of the chain, in one
//! transaction that is read back before it is committed.

use std::collections::{BTreeMap, HashMap};

use rusqlite::{Connection, ErrorCode};

use super::chain::{self, Head, Link};
use super::error::StoreError;
use super::fault::Fault;
use super::history::{COUNTER, EntryKind, EntryNote};
use super::ledger::{self, Ledger};
use super::payload;
use super::settings::Purpose;
use crate::records::change::RowChange;
use crate::records::rows::{Row, Table};
use crate::records::value::Value;

impl Ledger {
    /// Records one entry and gives its number.
    ///
    /// `counters` holds the next number of every automatic series; those of tables follow from the rows.
    /// Counters only ever move on.
    ///
    /// # Errors
    /// [`StoreError`]; nothing was changed unless it is [`StoreError::Recorded`] or [`StoreError::Unknown`].
    pub fn record(
        &mut self,
        note: &EntryNote,
        changes: &[RowChange],
        counters: &BTreeMap<String, i64>,
    ) -> Result<i64, StoreError> {
        self.keep_copy_of_the_day();
        self.connection()
            .execute_batch("BEGIN IMMEDIATE")
            .map_err(|error| StoreError::from_sqlite(self.path(), error))?;
        match self.fill(note, changes, counters) {
            Ok(head) => self.commit(head),
            Err(fault) => {
                self.roll_back();
                Err(fault.at(self.path()))
            }
        }
    }

    /// Everything between BEGIN and COMMIT.
    fn fill(
        &self,
        note: &EntryNote,
        changes: &[RowChange],
        counters: &BTreeMap<String, i64>,
    ) -> Result<Head, Fault> {
        let connection = self.connection();
        self.expect_verified()?;
        if chain::head(connection, self.id())? != *self.head() {
            return Err(Fault::Stale);
        }
        admit_entry(note, changes, self.last_entry())?;
        let given = ledger::counters(connection)?;
        if matches!(note.kind, EntryKind::Init | EntryKind::Record) {
            refuse_used_numbers(changes, &given)?;
        }
        for change in changes {
            apply(connection, change)?;
        }
        let series = moved_series(&given, counters);
        let tables = moved_tables(&given, changes);
        for (name, (_, next)) in series.iter().chain(&tables) {
            ledger::set_counter(connection, name, *next)?;
        }
        let links = forge(self.head(), note, changes, &series);
        for link in &links {
            chain::append(connection, link)?;
        }
        read_back(connection, changes, self.head().seq, &links)?;
        let last = links.last().expect("an entry has at least one change");
        Ok(Head {
            seq: last.seq,
            txn: last.txn,
            hash: last.hash.clone(),
        })
    }

    fn roll_back(&self) {
        // Where SQLite has rolled back by itself there is nothing left to do.
        let _ = self.connection().execute_batch("ROLLBACK");
    }

    fn commit(&mut self, head: Head) -> Result<i64, StoreError> {
        let Err(error) = self.connection().execute_batch("COMMIT") else {
            let entry = head.txn;
            self.advance(head);
            self.mark_commit();
            return Ok(entry);
        };
        let untouched = matches!(
            error.sqlite_error_code(),
            Some(ErrorCode::DatabaseBusy | ErrorCode::ConstraintViolation)
        );
        if untouched {
            self.roll_back();
            return Err(StoreError::from_sqlite(self.path(), error));
        }
        Err(self.tell_outcome(&head, error))
    }

    /// A failed COMMIT may or may not have reached the disk: look afresh, then tell. Never try again.
    fn tell_outcome(&mut self, head: &Head, error: rusqlite::Error) -> StoreError {
        let file = self.path().to_owned();
        let cause = match StoreError::from_sqlite(&file, error) {
            StoreError::Full { .. } => "the disk is full".to_owned(),
            StoreError::Sqlite { source, .. } => source.to_string(),
            other => other.to_string(),
        };
        let entry = head.txn;
        match self
            .let_go()
            .map_err(|_| ())
            .and_then(|()| reached(&file, head))
        {
            Ok(true) => StoreError::Recorded { file, entry, cause },
            Ok(false) => StoreError::NotRecorded { file, cause },
            Err(()) => StoreError::Unknown { file, entry, cause },
        }
    }
}

/// Whether an entry that ends in `head` stands in the file.
fn reached(file: &std::path::Path, head: &Head) -> Result<bool, ()> {
    let ledger = Ledger::open(file, Purpose::Ask).map_err(|_| ())?;
    let mut found = false;
    chain::each_after(ledger.connection(), head.seq - 1, |link| {
        found |= link.seq == head.seq && link.hash == head.hash;
        Ok(())
    })
    .map_err(|_| ())?;
    Ok(found)
}

fn admit_entry(note: &EntryNote, changes: &[RowChange], last: i64) -> Result<(), Fault> {
    let rule = |what: &str| Err(Fault::Rule(what.to_owned()));
    if changes.is_empty() {
        return rule("an entry without any change cannot be recorded");
    }
    if (note.kind == EntryKind::Init) != (last == 0) {
        return rule("a ledger begins with what is built in, once");
    }
    let texts = [&note.at_utc, &note.utc_offset, &note.command];
    if texts.iter().any(|text| text.contains('\0')) || changes.iter().any(holds_nul) {
        return rule("a text holds a NUL character, which no record can hold");
    }
    Ok(())
}

fn holds_nul(change: &RowChange) -> bool {
    let values = change.after.as_ref().map(Row::values).unwrap_or_default();
    values
        .iter()
        .any(|value| matches!(value, Value::Text(text) if text.contains('\0')))
}

/// A number that was given once is never given to another row.
fn refuse_used_numbers(changes: &[RowChange], given: &BTreeMap<String, i64>) -> Result<(), Fault> {
    for change in changes.iter().filter(|change| change.before.is_none()) {
        let next = given.get(change.table.name()).copied().unwrap_or(1);
        if change.id < next {
            return Err(Fault::Rule(format!(
                "{} {} was given before and is never given again",
                change.table.name(),
                change.id
            )));
        }
    }
    Ok(())
}

/// Makes one change, if what stands there is what it says.
fn apply(connection: &Connection, change: &RowChange) -> Result<(), Fault> {
    if payload::one_row(connection, change.table, change.id)? != change.before {
        return Err(Fault::Damage(format!(
            "{} {} is not what this change takes it to be",
            change.table.name(),
            change.id
        )));
    }
    match (&change.before, &change.after) {
        (None, Some(row)) => payload::insert(connection, row),
        (Some(_), Some(row)) => payload::update(connection, row),
        (Some(_), None) => payload::delete(connection, change.table, change.id),
        (None, None) => Err(Fault::Rule("a change changes nothing".to_owned())),
    }
}

/// Counters that move: name, next before, next after.
type Moves = BTreeMap<String, (i64, i64)>;

fn moved_series(given: &BTreeMap<String, i64>, wanted: &BTreeMap<String, i64>) -> Moves {
    wanted
        .iter()
        .filter(|(name, _)| Table::named(name).is_none())
        .map(|(name, next)| (name.clone(), (given.get(name).copied().unwrap_or(1), *next)))
        .filter(|(_, (before, after))| after > before)
        .collect()
}

fn moved_tables(given: &BTreeMap<String, i64>, changes: &[RowChange]) -> Moves {
    let mut moves = Moves::new();
    for change in changes {
        let name = change.table.name();
        let before = given.get(name).copied().unwrap_or(1);
        let next = moves.get(name).map_or(before, |(_, after)| *after);
        if change.id >= next {
            moves.insert(name.to_owned(), (before, change.id.saturating_add(1)));
        }
    }
    moves
}

/// The links that an entry adds to the chain: one for each change, and one for its series that move.
fn forge(head: &Head, note: &EntryNote, changes: &[RowChange], series: &Moves) -> Vec<Link> {
    let mut links: Vec<Link> = Vec::with_capacity(changes.len() + 1);
    let text = |row: &Option<Row>| row.as_ref().map(payload::to_text);
    let mut add = |entity: &str, entity_id, before, after| {
        let (seq, previous) = links.last().map_or((head.seq, head.hash.as_str()), |link| {
            (link.seq, &link.hash)
        });
        let mut link = Link {
            seq: seq + 1,
            txn: head.txn + 1,
            at_utc: note.at_utc.clone(),
            utc_offset: note.utc_offset.clone(),
            command: note.command.clone(),
            kind: note.kind.to_string(),
            entity: entity.to_owned(),
            entity_id,
            before,
            after,
            hash: String::new(),
        };
        link.hash = link.hash_after(previous);
        links.push(link);
    };
    for change in changes {
        add(
            change.table.name(),
            change.id,
            text(&change.before),
            text(&change.after),
        );
    }
    if !series.is_empty() {
        let (before, after) = counter_texts(series);
        add(COUNTER, 0, Some(before), Some(after));
    }
    links
}

fn counter_texts(series: &Moves) -> (String, String) {
    let text = |pick: fn(&(i64, i64)) -> i64| {
        let map: BTreeMap<&String, i64> = series
            .iter()
            .map(|(name, both)| (name, pick(both)))
            .collect();
        serde_json::to_string(&map).expect("names and whole numbers can be written as JSON")
    };
    (text(|both| both.0), text(|both| both.1))
}

/// Reads what was written and compares.
fn read_back(
    connection: &Connection,
    changes: &[RowChange],
    from: i64,
    links: &[Link],
) -> Result<(), Fault> {
    let mut last: HashMap<(Table, i64), &Option<Row>> = HashMap::new();
    for change in changes {
        last.insert((change.table, change.id), &change.after);
    }
    for ((table, id), wanted) in last {
        if payload::one_row(connection, table, id)? != *wanted {
            return Err(Fault::Damage(format!(
                "{} {id} did not read back as it was written",
                table.name()
            )));
        }
    }
    let mut found = Vec::with_capacity(links.len());
    chain::each_after(connection, from, |link| {
        found.push(link);
        Ok(())
    })?;
    if found == links {
        Ok(())
    } else {
        Err(Fault::Damage(
            "the history did not read back as it was written".to_owned(),
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::rows::{InFlowerRow, SettingRow};
    use crate::store::{Identity, Ledger};

    fn note(kind: EntryKind) -> EntryNote {
        EntryNote {
            at_utc: "2026-03-01T12:00:00Z".to_owned(),
            utc_offset: "+00:00".to_owned(),
            command: "assume dim 0.05".to_owned(),
            kind,
        }
    }

    fn setting(id: i64, value: &str) -> SettingRow {
        SettingRow {
            id,
            key: format!("key {id}"),
            value: value.to_owned(),
        }
    }

    fn begun(folder: &std::path::Path) -> Ledger {
        let identity = Identity {
            ledger_id: "tray".to_owned(),
        };
        let mut ledger = Ledger::make(&folder.join("ledger.db"), &identity).unwrap();
        record(
            &mut ledger,
            EntryKind::Init,
            RowChange::insert(setting(1, "a")),
        )
        .unwrap();
        ledger
    }

    fn record(ledger: &mut Ledger, kind: EntryKind, change: RowChange) -> Result<i64, StoreError> {
        ledger.record(&note(kind), &[change], &BTreeMap::new())
    }

    #[test]
    fn what_no_record_may_be_is_refused_and_nothing_changes() {
        let folder = tempfile::tempdir().unwrap();
        let mut ledger = begun(folder.path());
        let before = std::fs::read(ledger.path()).unwrap();
        let dangling = InFlowerRow {
            id: 1,
            plant_id: 7,
            from_day: "2026-03-01".parse().unwrap(),
            until_day: None,
        };
        let mut double = setting(2, "a");
        double.key = "key 1".to_owned();
        let refused = [
            RowChange::insert(dangling),
            RowChange::insert(double),
            RowChange::insert(setting(2, "a\0b")),
            RowChange::insert(setting(2, &"x".repeat(4001))),
            RowChange::insert(setting(0, "a")),
        ];
        for change in refused {
            let outcome = record(&mut ledger, EntryKind::Record, change.clone());
            assert!(
                matches!(outcome, Err(StoreError::Rule { .. })),
                "{change:?} {outcome:?}"
            );
        }
        let other = RowChange::update(setting(1, "not this"), setting(1, "b"));
        let outcome = record(&mut ledger, EntryKind::Record, other);
        assert!(matches!(outcome, Err(StoreError::Damaged { .. })));
        assert_eq!(std::fs::read(ledger.path()).unwrap(), before);
    }

    #[test]
    fn a_number_is_never_given_twice() {
        let folder = tempfile::tempdir().unwrap();
        let mut ledger = begun(folder.path());
        record(
            &mut ledger,
            EntryKind::Record,
            RowChange::insert(setting(5, "a")),
        )
        .unwrap();
        record(
            &mut ledger,
            EntryKind::Record,
            RowChange::delete(setting(5, "a")),
        )
        .unwrap();
        let again = record(
            &mut ledger,
            EntryKind::Record,
            RowChange::insert(setting(5, "b")),
        );
        assert!(matches!(again, Err(StoreError::Rule { .. })));
        assert_eq!(ledger.facts().unwrap().next_id(Table::Setting), 6);
    }

    #[test]
    fn after_a_failed_commit_the_truth_is_looked_up() {
        let folder = tempfile::tempdir().unwrap();
        let mut ledger = begun(folder.path());
        let file = ledger.path().to_owned();
        let failure = || {
            rusqlite::Error::SqliteFailure(
                rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_IOERR_FSYNC),
                None,
            )
        };
        let mut head = ledger.head().clone();
        let told = ledger.tell_outcome(&head, failure());
        assert!(
            matches!(told, StoreError::Recorded { entry: 1, .. }),
            "{told}"
        );
        head.hash = "0".repeat(64);
        let told = ledger.tell_outcome(&head, failure());
        assert!(matches!(told, StoreError::NotRecorded { .. }), "{told}");
        std::fs::remove_file(file).unwrap();
        let told = ledger.tell_outcome(&head, failure());
        assert!(
            matches!(told, StoreError::Unknown { entry: 1, .. }),
            "{told}"
        );
    }

    #[test]
    fn a_full_disk_changes_nothing_and_is_called_by_its_name() {
        let folder = tempfile::tempdir().unwrap();
        let mut ledger = begun(folder.path());
        let before = std::fs::read(ledger.path()).unwrap();
        // SQLite then answers as it does when the disk has no room for one more page.
        ledger
            .connection()
            .query_row("PRAGMA max_page_count = 1", [], |_| Ok(()))
            .unwrap();
        let changes: Vec<RowChange> = (2..200)
            .map(|id| RowChange::insert(setting(id, "a long enough value")))
            .collect();
        let full = ledger.record(&note(EntryKind::Record), &changes, &BTreeMap::new());
        assert!(matches!(full, Err(StoreError::Full { .. })), "{full:?}");
        assert_eq!(std::fs::read(ledger.path()).unwrap(), before);
    }
}
