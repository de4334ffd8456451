//! Ledgers of an older version: upgraded before anything is written to them, and asked on an upgraded copy until then.
//!
//! An upgrade is one transaction: the new tables and the version, then every check there is, the history played
//! again among them. What does not pass is rolled back and the old file stays as it was. Entries of older versions
//! are never rewritten: version 2 only adds tables, so the rows that version 1 wrote down read as they stand.

use std::fs::{self, File};
use std::path::{Path, PathBuf};

use rusqlite::Connection;

use super::check;
use super::copies::{self, Occasion};
use super::error::StoreError;
use super::fault::Fault;
use super::ledger::{self, Ledger};
use super::schema::{self, VERSION};
use super::settings::{self, Purpose};
use super::state::{State, key};

/// Where in the state folder the copies lie that are asked.
const ROOM: &str = "asked";

/// Opens the ledger of a resolved path, of this version or an older one; whoever calls has its lock.
pub(super) fn open(path: &Path, purpose: Purpose, state: &State) -> Result<Ledger, StoreError> {
    match (Ledger::open(path, purpose), purpose) {
        (Err(StoreError::Older { found, .. }), Purpose::Write) => {
            in_place(path, found, state)?;
            Ledger::open(path, purpose)
        }
        (Err(StoreError::Older { .. }), Purpose::Ask) => on_copy(path, state),
        (opened, _) => opened,
    }
}

/// Upgrades the file itself, after a copy of it was kept.
fn in_place(path: &Path, found: u32, state: &State) -> Result<(), StoreError> {
    let copy = copies::before(state, path, Occasion::Upgrade)?;
    raise(path, expect_sound).map_err(|fault| refused(path, found, fault))?;
    sweep(path, state);
    state.note(format!(
        "note: {} was upgraded from ledger version {found} to {VERSION}; a copy of it as it was lies at {}",
        path.display(),
        copy.display()
    ));
    Ok(())
}

/// Asks an upgraded copy and leaves the file as it is.
fn on_copy(path: &Path, state: &State) -> Result<Ledger, StoreError> {
    let copy = AskedCopy::of(path, state)?;
    raise(&copy.0, |_| Ok(())).map_err(|fault| fault.at(path))?;
    let ledger = Ledger::open(&copy.0, Purpose::Ask)?;
    Ok(ledger.in_place_of(path, copy))
}

fn refused(path: &Path, found: u32, fault: Fault) -> StoreError {
    match fault {
        Fault::Damage(what) | Fault::Rule(what) => StoreError::NotUpgraded {
            file: path.to_owned(),
            found,
            known: VERSION,
            what,
        },
        other => other.at(path),
    }
}

/// Brings a file to the newest version in one transaction, which `judge` may still refuse.
fn raise(path: &Path, judge: fn(&Connection) -> Result<(), Fault>) -> Result<(), Fault> {
    let mut connection = settings::connect(path, Purpose::Write)?;
    let moment = connection.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
    let found: u32 =
        moment.query_row("SELECT user_version FROM pragma_user_version", [], |row| {
            row.get(0)
        })?;
    expect_fingerprint(&moment, found)?;
    schema::upgrade(&moment, found)?;
    expect_fingerprint(&moment, VERSION)?;
    judge(&moment)?;
    Ok(moment.commit()?)
}

fn expect_fingerprint(connection: &Connection, version: u32) -> Result<(), Fault> {
    let found = schema::fingerprint(connection)?;
    if schema::wanted_fingerprint(version) == Some(found.as_str()) {
        return Ok(());
    }
    let what = "its tables are not those that this program makes";
    Err(Fault::Damage(what.to_owned()))
}

fn expect_sound(connection: &Connection) -> Result<(), Fault> {
    let id = ledger::stated_id(connection)?;
    match check::findings_in(connection, &id).first() {
        None => Ok(()),
        Some(finding) => Err(Fault::Damage(finding.to_string())),
    }
}

/// A copy that is asked in the ledger's place, gone when nobody asks any more.
#[derive(Debug)]
pub(super) struct AskedCopy(PathBuf);

impl AskedCopy {
    /// In the state folder, or among the system's temporary files where that cannot be written.
    fn of(path: &Path, state: &State) -> Result<Self, StoreError> {
        let room = state.room(ROOM);
        let made = room.ok().and_then(|room| Self::in_folder(path, &room).ok());
        match made {
            Some(copy) => Ok(copy),
            None => Self::in_folder(path, &std::env::temp_dir())
                .map_err(|error| StoreError::from_io(path, "copying it aside", error)),
        }
    }

    fn in_folder(path: &Path, folder: &Path) -> std::io::Result<Self> {
        for number in 0_u32.. {
            let name = format!("{}-{}-{number}.db", key(path), std::process::id());
            let copy = folder.join(name);
            match File::create_new(&copy) {
                Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {}
                Err(error) => return Err(error),
                Ok(mut file) => {
                    let copy = Self(copy);
                    std::io::copy(&mut File::open(path)?, &mut file)?;
                    return Ok(copy);
                }
            }
        }
        unreachable!("a process does not open a ledger four thousand million times at once")
    }
}

impl Drop for AskedCopy {
    fn drop(&mut self) {
        let _ = fs::remove_file(&self.0);
    }
}

/// Takes away copies that a killed process left; whoever calls has the lock alone, so nobody asks them.
fn sweep(path: &Path, state: &State) {
    let Ok(files) = fs::read_dir(state.folder().join(ROOM)) else {
        return;
    };
    let of_it = format!("{}-", key(path));
    for file in files.flatten() {
        if file.file_name().to_string_lossy().starts_with(&of_it) {
            // One that stays takes some room and nothing else.
            let _ = fs::remove_file(file.path());
        }
    }
}
