//! A ledger that is open: made, opened for asking or for writing, and read.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::path::{Path, PathBuf};

use rusqlite::{Connection, OptionalExtension};

use super::chain::{self, Head};
use super::copies;
use super::error::StoreError;
use super::fault::Fault;
use super::journal::Scratch;
use super::looks::{self, Beside};
use super::mark::Mark;
use super::notice::Notice;
use super::opening::Guard;
use super::place::{Draft, Over, PlaceError};
use super::settings::{self, Purpose};
use super::standing::{End, Standing};
use super::state::{Share, State};
use super::upgrade::{self, AskedCopy};
use super::{payload, schema};
use crate::records::facts::Facts;
use crate::records::rows::{Rows, Table};

/// What tells one ledger from another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Identity {
    /// The ledger's id, fixed for its life and printed in exports.
    pub ledger_id: String,
}

/// A ledger file that is open.
#[derive(Debug)]
pub struct Ledger {
    path: PathBuf,
    connection: Connection,
    id: String,
    head: Head,
    standing: Standing,
    notices: Vec<Notice>,
    /// None where the file is looked at again or built beside its place.
    guard: Option<Guard>,
    /// The copy that is asked in the file's place.
    scratch: Option<Scratch>,
    /// The upgraded copy that is asked in the place of an older ledger.
    asked: Option<AskedCopy>,
}

impl Ledger {
    /// Makes a new ledger without entries. The file must not be there yet.
    ///
    /// One that is there but without a single entry is what an interrupted `init` leaves; it is opened
    /// and can be begun.
    ///
    /// # Errors
    /// [`StoreError`]; then no file was left behind.
    pub fn create(path: &Path, identity: &Identity, state: &State) -> Result<Self, StoreError> {
        let path = looks::resolve_new(path)?;
        if fs::symlink_metadata(&path).is_ok() {
            return unbegun(&path, state);
        }
        let lock = state.lock(&path, Share::Nobody)?;
        let mut ledger = Self::make_and_put(&path, identity)?;
        if let Some(known) = state.mark_of(&path) {
            state.note(gone_from(&path, &known, state));
        }
        let version = ledger.data_version().map_err(|fault| fault.at(&path))?;
        ledger.guard_with(Guard {
            state: state.clone(),
            writes: true,
            version,
            _lock: lock,
        });
        Ok(ledger)
    }

    /// Makes the ledger beside its place, so that a killed program leaves nothing there that is no ledger.
    fn make_and_put(path: &Path, identity: &Identity) -> Result<Self, StoreError> {
        let not_put = |error| match error {
            PlaceError::Denied { source, .. } => StoreError::from_io(path, "making it", source),
            PlaceError::Full { file } => StoreError::Full { file },
            other => other.into(),
        };
        let draft = Draft::of_ledger(path, Over::Nothing).map_err(not_put)?;
        build(draft.path(), identity).map_err(|fault| fault.at(path))?;
        draft.put().map_err(not_put)?;
        Self::open(path, Purpose::Write)
    }

    /// As [`Ledger::create`], for a place that nobody else knows of: without a lock.
    pub(super) fn make(path: &Path, identity: &Identity) -> Result<Self, StoreError> {
        looks::look_beside(path)?;
        File::create_new(path).map_err(|error| StoreError::from_io(path, "making it", error))?;
        let made = build(path, identity).map_err(|fault| fault.at(path));
        made.and_then(|()| Self::open(path, Purpose::Write))
            .inspect_err(|_| {
                let _ = fs::remove_file(path);
            })
    }

    /// The files beside the ledger whose names are those of conflict copies or second copies of it.
    #[must_use]
    pub fn copies_beside(&self) -> Vec<PathBuf> {
        looks::copies_beside(&self.path)
    }

    /// Opens the ledger of a resolved path; whoever calls has its lock, or needs none. One of an older version is
    /// asked on an upgraded copy, and not written to.
    pub(super) fn open(path: &Path, purpose: Purpose) -> Result<Self, StoreError> {
        look(path)?;
        Self::connect(path, purpose)
    }

    /// As [`Ledger::open`], where the file was looked at before.
    pub(super) fn connect(path: &Path, purpose: Purpose) -> Result<Self, StoreError> {
        match (expect_newest(path), purpose) {
            (Ok(()), _) => Self::connect_newest(path, purpose),
            (Err(StoreError::Older { .. }), Purpose::Ask) => upgrade::on_copy(path),
            (Err(error), _) => Err(error),
        }
    }

    /// As [`Ledger::connect`], where the version is known to be the newest.
    pub(super) fn connect_newest(path: &Path, purpose: Purpose) -> Result<Self, StoreError> {
        let connection = settings::connect(path, purpose).map_err(|fault| fault.at(path))?;
        match inspect(&connection, purpose) {
            Ok((id, head)) => Ok(Self {
                path: path.to_owned(),
                connection,
                id,
                head,
                standing: Standing::New,
                notices: Vec::new(),
                guard: None,
                scratch: None,
                asked: None,
            }),
            Err(fault) => Err(fault.at(path)),
        }
    }

    pub(super) fn guard_with(&mut self, guard: Guard) {
        self.guard = Some(guard);
    }

    pub(super) const fn guard(&self) -> Option<&Guard> {
        self.guard.as_ref()
    }

    pub(super) fn stand(&mut self, standing: Standing, notices: Vec<Notice>) {
        self.standing = standing;
        self.notices = notices;
    }

    /// Says where the ledger lies, and keeps the copy that is asked in its place, if there is one.
    pub(super) fn lies_at(&mut self, path: PathBuf, scratch: Option<Scratch>) {
        self.path = path;
        self.scratch = scratch;
    }

    /// Whether a copy is asked in the ledger's place.
    #[must_use]
    pub const fn is_on_copy(&self) -> bool {
        self.scratch.is_some() || self.asked.is_some()
    }

    /// What is to be said beside any answer from this ledger.
    #[must_use]
    pub fn notices(&self) -> &[Notice] {
        &self.notices
    }

    /// Has said what became of a journal beside it, where no answer will.
    fn note_recovery(&self, state: &State) {
        for notice in &self.notices {
            if !matches!(notice, Notice::AtOdds { .. }) {
                state.note(format!("note: {notice}"));
            }
        }
    }

    /// How it stood to what this computer knew of it, when it was opened.
    #[must_use]
    pub const fn standing(&self) -> &Standing {
        &self.standing
    }

    /// SQLite's number for the content: it changes when another connection writes.
    pub(super) fn data_version(&self) -> Result<i64, Fault> {
        Ok(self
            .connection
            .query_row("PRAGMA data_version", [], |row| row.get(0))?)
    }

    /// The content must still be the one that was verified on opening.
    pub(super) fn expect_verified(&self) -> Result<(), Fault> {
        match &self.guard {
            Some(guard) if self.data_version()? != guard.version => Err(Fault::Stale),
            _ => Ok(()),
        }
    }

    /// The same, known by the path of the older ledger it is a copy of.
    pub(super) fn in_place_of(mut self, path: &Path, copy: AskedCopy) -> Self {
        self.path = path.to_owned();
        self.asked = Some(copy);
        self
    }

    /// Everything the ledger holds, one query per table, as of one moment.
    ///
    /// What is recorded next must rest on these facts: it is refused if another process records in between.
    ///
    /// # Errors
    /// [`StoreError`] where the file cannot be read or holds what no record can be.
    pub fn facts(&mut self) -> Result<Facts, StoreError> {
        let read = self.read_facts();
        read.map_err(|fault| fault.at(&self.path))
    }

    /// As [`Ledger::facts`]; takes note of what other processes have recorded since.
    pub(super) fn read_facts(&mut self) -> Result<Facts, Fault> {
        self.expect_verified()?;
        let moment = self.connection.transaction()?;
        let mut rows = Rows::default();
        for table in Table::ALL {
            payload::visit_rows(&moment, *table, |_, row| {
                rows.put(row?);
                Ok(())
            })?;
        }
        let counters = counters(&moment)?;
        self.head = chain::head(&moment, &self.id)?;
        moment.finish()?;
        self.expect_verified()?;
        Ok(Facts::new(rows, counters))
    }

    /// The ledger's id.
    #[must_use]
    pub fn id(&self) -> &str {
        &self.id
    }

    /// The absolute path of the file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The first eight hexadecimal digits of the last hash: they change with every entry.
    #[must_use]
    pub fn fingerprint(&self) -> String {
        self.head.hash[..8].to_owned()
    }

    /// How many row changes the history holds.
    #[must_use]
    pub const fn head_seq(&self) -> i64 {
        self.head.seq
    }

    /// The number of the last entry; 0 in a ledger that was not begun.
    #[must_use]
    pub const fn last_entry(&self) -> i64 {
        self.head.txn
    }

    /// Keeps a copy of the ledger as it is, where one is due before it is written to.
    pub(super) fn keep_copy_of_the_day(&self) {
        if let Some(guard) = self.guard.as_ref().filter(|guard| guard.writes) {
            copies::of_the_day(&guard.state, self);
        }
    }

    pub(super) const fn connection(&self) -> &Connection {
        &self.connection
    }

    pub(super) const fn head(&self) -> &Head {
        &self.head
    }

    pub(super) fn advance(&mut self, head: Head) {
        self.head = head;
    }

    /// Lets go of the file, so that it can be looked at afresh; nothing can be asked of it afterwards.
    pub(super) fn let_go(&mut self) -> Result<(), Fault> {
        self.connection = Connection::open_in_memory()?;
        Ok(())
    }
}

/// The counters by name.
pub(super) fn counters(connection: &Connection) -> Result<BTreeMap<String, i64>, Fault> {
    let mut statement =
        connection.prepare_cached("SELECT name, next FROM counter ORDER BY name")?;
    let pairs = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
    Ok(pairs.collect::<Result<_, _>>()?)
}

/// Sets a counter.
pub(super) fn set_counter(connection: &Connection, name: &str, next: i64) -> Result<(), Fault> {
    connection
        .prepare_cached(
            "INSERT INTO counter (name, next) VALUES (?1, ?2) \
             ON CONFLICT (name) DO UPDATE SET next = excluded.next",
        )?
        .execute(rusqlite::params![name, next])?;
    Ok(())
}

/// What was known of a place where a new ledger was just made.
fn gone_from(path: &Path, known: &Mark, state: &State) -> String {
    let end = End::known(known);
    let copy = copies::files_of(state, &known.ledger).pop();
    let copy = copy.map_or_else(String::new, |copy| {
        format!("; its newest copy is {}", copy.display())
    });
    format!(
        "note: another ledger was known at {}, up to {end}{copy}",
        path.display()
    )
}

/// Goes on where an interrupted `init` left a ledger without entries. It is asked first, so that whatever else
/// stands there is left as a question leaves it.
fn unbegun(path: &Path, state: &State) -> Result<Ledger, StoreError> {
    let file = path.to_owned();
    match Ledger::open_to_ask(path, state) {
        Ok(ledger) if ledger.last_entry() == 0 => {}
        Ok(ledger) => {
            ledger.note_recovery(state);
            return Err(StoreError::Exists { file });
        }
        Err(busy @ StoreError::Busy { .. }) => return Err(busy),
        Err(_) => return Err(StoreError::Exists { file }),
    }
    Ledger::open_to_write(path, state)
}

/// Fills a new file with the tables and the ledger's id, in one transaction.
fn build(path: &Path, identity: &Identity) -> Result<(), Fault> {
    let connection = settings::connect(path, Purpose::Write)?;
    connection.execute_batch("PRAGMA page_size = 4096; BEGIN IMMEDIATE")?;
    schema::upgrade(&connection, 0)?;
    connection.execute(
        "INSERT INTO meta (key, value) VALUES ('ledger_id', ?1)",
        [&identity.ledger_id],
    )?;
    connection.execute_batch("COMMIT")?;
    Ok(())
}

/// A file of an older version is upgraded first, by those who may.
fn expect_newest(path: &Path) -> Result<(), StoreError> {
    if looks::is_older(path)? {
        return Err(StoreError::Older {
            file: path.to_owned(),
            found: looks::version_of(path)?,
            known: schema::VERSION,
        });
    }
    Ok(())
}

/// Looks at the file until it stands still: a write that is going on or was interrupted is first let end.
fn look(path: &Path) -> Result<(), StoreError> {
    for _ in 0..2 {
        let beside = looks::look_beside(path)?;
        match (beside, looks::look_at(path)) {
            (Beside::Nothing, Ok(())) => return Ok(()),
            (Beside::Journal, Ok(()) | Err(StoreError::Truncated { .. })) => {
                settle_journal(path).map_err(|fault| fault.at(path))?;
            }
            (Beside::Nothing, Err(StoreError::Truncated { .. })) => {}
            (_, Err(error)) => return Err(error),
        }
    }
    looks::look_at(path)
}

/// Reading through a connection that may write makes SQLite take back an interrupted write; one that is going on
/// is left alone.
pub(super) fn settle_journal(path: &Path) -> Result<(), Fault> {
    let connection = settings::connect(path, Purpose::Write)?;
    connection.query_row("SELECT count(*) FROM sqlite_schema", [], |_| Ok(()))?;
    Ok(())
}

/// What is checked through SQLite on opening: writability, journal mode, the tables, the ledger's id.
fn inspect(connection: &Connection, purpose: Purpose) -> Result<(String, Head), Fault> {
    if purpose == Purpose::Write && connection.is_readonly("main")? {
        return Err(rusqlite::Error::SqliteFailure(
            rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_READONLY),
            None,
        )
        .into());
    }
    let damage = |what: &str| Fault::Damage(what.to_owned());
    let (version, mode): (u32, String) = connection.query_row(
        "SELECT (SELECT user_version FROM pragma_user_version), \
                (SELECT journal_mode FROM pragma_journal_mode)",
        [],
        |row| Ok((row.get(0)?, row.get(1)?)),
    )?;
    if mode != "delete" {
        return Err(damage("its journal mode was changed"));
    }
    if schema::wanted_fingerprint(version) != Some(schema::fingerprint(connection)?.as_str()) {
        return Err(damage("its tables are not those that this program makes"));
    }
    let id = stated_id(connection)?;
    let head = sound_head(connection, &id)?;
    Ok((id, head))
}

/// The ledger's id, as the file says it.
pub(super) fn stated_id(connection: &Connection) -> Result<String, Fault> {
    let id = connection
        .query_row(
            "SELECT value FROM meta WHERE key = 'ledger_id'",
            [],
            |row| row.get(0),
        )
        .optional()?;
    id.ok_or_else(|| Fault::Damage("its id is missing".to_owned()))
}

/// The end of the chain, if it can be one.
pub(super) fn sound_head(connection: &Connection, id: &str) -> Result<Head, Fault> {
    let head = chain::head(connection, id)?;
    if head.hash.len() != 64 || !head.hash.is_ascii() {
        return Err(Fault::Damage("its last entry has no hash".to_owned()));
    }
    Ok(head)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::change::RowChange;
    use crate::records::rows::SettingRow;
    use crate::store::{EntryKind, EntryNote};

    fn note(kind: EntryKind) -> EntryNote {
        EntryNote {
            at_utc: "2026-03-01T12:00:00Z".to_owned(),
            utc_offset: "+00:00".to_owned(),
            command: "assume dim 0.05".to_owned(),
            kind,
        }
    }

    fn setting(id: i64, key: &str) -> SettingRow {
        SettingRow {
            id,
            key: key.to_owned(),
            value: "0.05".to_owned(),
        }
    }

    fn begun(folder: &Path) -> Ledger {
        let identity = Identity {
            ledger_id: "tray".to_owned(),
        };
        let mut ledger = Ledger::make(&folder.join("ledger.db"), &identity).unwrap();
        let first = [RowChange::insert(setting(1, "dim"))];
        ledger
            .record(&note(EntryKind::Init), &first, &BTreeMap::new())
            .unwrap();
        ledger
    }

    #[test]
    fn what_was_recorded_is_read_by_the_next_to_open() {
        let folder = tempfile::tempdir().unwrap();
        let mut ledger = begun(folder.path());
        let counters = BTreeMap::from([("T".to_owned(), 4)]);
        let second = [RowChange::insert(setting(2, "keep"))];
        let entry = ledger.record(&note(EntryKind::Record), &second, &counters);
        assert_eq!(entry.unwrap(), 2);
        let mut again = Ledger::open(ledger.path(), Purpose::Ask).unwrap();
        let facts = again.facts().unwrap();
        assert_eq!(facts.setting.len(), 2);
        assert_eq!(
            (facts.next_number("T"), facts.next_id(Table::Setting)),
            (4, 3)
        );
        assert_eq!(again.fingerprint(), ledger.fingerprint());
        assert_eq!(
            (again.id(), again.head_seq(), again.last_entry()),
            ("tray", 3, 2)
        );
    }

    #[test]
    fn a_ledger_is_made_once_and_one_without_entries_is_begun_again() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger.db");
        let state = State::at(folder.path().join("state"));
        let create = |id: &str| {
            let identity = Identity {
                ledger_id: id.to_owned(),
            };
            Ledger::create(&path, &identity, &state)
        };
        drop(create("one").unwrap());
        assert_eq!(create("two").unwrap().id(), "one");
        fs::remove_file(&path).unwrap();
        drop(begun(folder.path()));
        let refused = create("two").unwrap_err();
        assert!(matches!(refused, StoreError::Exists { .. }));
    }

    #[test]
    fn facts_that_another_process_has_overtaken_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        let mut slow = begun(folder.path());
        let mut quick = Ledger::open(slow.path(), Purpose::Write).unwrap();
        let add = |id, key| [RowChange::insert(setting(id, key))];
        quick
            .record(&note(EntryKind::Record), &add(2, "keep"), &BTreeMap::new())
            .unwrap();
        let refused = slow.record(&note(EntryKind::Record), &add(2, "cull"), &BTreeMap::new());
        assert!(matches!(refused, Err(StoreError::Stale { .. })));
        slow.facts().unwrap();
        let entry = slow.record(&note(EntryKind::Record), &add(3, "cull"), &BTreeMap::new());
        assert_eq!(entry.unwrap(), 3);
    }
}
