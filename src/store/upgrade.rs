//! Ledgers of an older version: upgraded before anything is written to them, and asked on an upgraded copy until then.
//!
//! An upgrade is one transaction: the new tables and the version, then every check there is, the history played
//! again among them. What does not pass is rolled back and the old file stays as it was. Entries of older versions
//! are never rewritten: later versions only add tables, so the rows that older ones wrote down read as they stand.

use std::fs::{self, File};
use std::path::{Path, PathBuf};

use rusqlite::Connection;

use super::check;
use super::copies::{self, Occasion};
use super::error::StoreError;
use super::fault::Fault;
use super::ledger::{self, Ledger};
use super::looks;
use super::schema::{self, VERSION};
use super::settings::{self, Purpose};
use super::state::{State, key};

/// Upgrades the file itself, after a copy of it was kept.
pub(super) fn in_place(path: &Path, state: &State) -> Result<(), StoreError> {
    let found = looks::version_of(path)?;
    let copy = copies::before(state, path, Occasion::Upgrade)?;
    raise(path, expect_sound).map_err(|fault| refused(path, found, fault))?;
    state.note(format!(
        "note: {} was upgraded from ledger version {found} to {VERSION}; a copy of it as it was lies at {}",
        path.display(),
        copy.display()
    ));
    Ok(())
}

/// Asks an upgraded copy and leaves the file as it is.
pub(super) fn on_copy(path: &Path) -> Result<Ledger, StoreError> {
    let copy = AskedCopy::of(path)
        .map_err(|error| StoreError::from_io(path, "copying it aside", error))?;
    raise(&copy.0, |_| Ok(())).map_err(|fault| fault.at(path))?;
    let ledger = Ledger::connect_newest(&copy.0, Purpose::Ask)?;
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

/// A copy among the system's temporary files that is asked in the ledger's place, gone when nobody asks any more.
#[derive(Debug)]
pub(super) struct AskedCopy(PathBuf);

impl AskedCopy {
    fn of(path: &Path) -> std::io::Result<Self> {
        let folder = std::env::temp_dir();
        for number in 0_u32.. {
            let name = format!("locule-{}-{}-{number}.db", key(path), std::process::id());
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

#[cfg(test)]
mod tests {
    use super::*;

    const OLD: &[u8] = include_bytes!("../../tests/fixtures/schema_1.db");

    #[test]
    fn what_does_not_pass_is_rolled_back_and_both_versions_are_named() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger.db");
        fs::write(&path, OLD).unwrap();
        let fault = raise(&path, |_| Err(Fault::Rule("a rule is broken".to_owned()))).unwrap_err();
        let said = refused(&path, 1, fault).to_string();
        assert!(
            said.ends_with(&format!(
                "has ledger version 1 and could not be upgraded to version {VERSION}: a rule is broken"
            )),
            "{said}"
        );
        assert_eq!(fs::read(&path).unwrap(), OLD);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
        raise(&path, expect_sound).unwrap();
        assert_eq!(looks::version_of(&path).unwrap(), VERSION);
    }
}
