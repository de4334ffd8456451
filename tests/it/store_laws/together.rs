//! Several processes at one ledger: each open ledger stands for one.

use std::path::Path;
use std::thread;

use locule::records::change::RowChange;
use locule::records::rows::{SettingRow, Table};
use locule::store::{Class, EntryKind, Ledger, State};

use super::seasons::{begun, note, state};

const WRITERS: i64 = 3;
const EACH: i64 = 12;

/// Records until it is accepted; another writer may come in between at any time.
fn insist(path: &Path, state: &State, key: &str) {
    loop {
        let attempt = Ledger::open_to_write(path, state).and_then(|mut ledger| {
            let facts = ledger.facts()?;
            let row = SettingRow {
                id: facts.next_id(Table::Setting),
                key: key.to_owned(),
                value: "x".repeat(3000),
            };
            let note = note(key, EntryKind::Record);
            ledger.record(&note, &[RowChange::insert(row)], facts.counters())
        });
        match attempt {
            Ok(_) => return,
            Err(error) => assert_eq!(error.class(), Class::Busy, "{error}"),
        }
    }
}

/// Asks over and over while others write; every answer is one of a whole ledger.
fn ask(path: &Path, state: &State) {
    loop {
        let attempt = Ledger::open_to_ask(path, state).and_then(|mut ledger| {
            let facts = ledger.facts()?;
            assert_eq!(facts.setting.len() as i64, ledger.last_entry());
            Ok(ledger.last_entry())
        });
        match attempt {
            Ok(entries) if entries > WRITERS * EACH => return,
            Ok(_) => {}
            Err(error) => assert_eq!(error.class(), Class::Busy, "{error}"),
        }
    }
}

#[test]
fn writers_and_askers_at_once_lose_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.db");
    drop(begun(&path));
    let state = state();
    thread::scope(|scope| {
        for writer in 0..WRITERS {
            let (path, state) = (&path, &state);
            scope.spawn(move || {
                for at in 0..EACH {
                    insist(path, state, &format!("key {writer} {at}"));
                }
            });
        }
        scope.spawn(|| ask(&path, &state));
    });
    let mut ledger = Ledger::open_to_ask(&path, &state).unwrap();
    assert_eq!(ledger.last_entry(), WRITERS * EACH + 1);
    assert_eq!(
        ledger.facts().unwrap().setting.len() as i64,
        WRITERS * EACH + 1
    );
    assert_eq!(ledger.check(), vec![]);
}
