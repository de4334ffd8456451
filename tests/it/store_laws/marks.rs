//! What this computer knows of a ledger, against what the file has become.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use locule::records::change::RowChange;
use locule::records::rows::{SettingRow, Table};
use locule::store::{Class, EntryKind, Ledger, Odds, Part, Standing, State, StoreError};

use super::seasons::{export, note, season, state};

/// A ledger in a folder of its own, and two computers that know it or do not.
struct Desk {
    folder: tempfile::TempDir,
    here: State,
    elsewhere: State,
}

impl Desk {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let desk = Self {
            here: state(),
            elsewhere: State::at(folder.path().join("elsewhere")),
            folder,
        };
        drop(season(&desk.path()));
        desk
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("ledger.db")
    }

    fn bytes(&self) -> Vec<u8> {
        fs::read(self.path()).unwrap()
    }

    fn put(&self, bytes: &[u8]) {
        fs::write(self.path(), bytes).unwrap();
    }

    fn ask(&self) -> Ledger {
        Ledger::open_to_ask(&self.path(), &self.here).unwrap()
    }

    fn refused(&self) -> Odds {
        let before = self.bytes();
        let refused = Ledger::open_to_write(&self.path(), &self.here).unwrap_err();
        assert_eq!(refused.class(), Class::Damaged);
        assert_eq!(self.bytes(), before);
        match refused {
            StoreError::AtOdds { odds, .. } => odds,
            other => panic!("{other}"),
        }
    }
}

/// Records one more setting.
fn record(path: &Path, state: &State, key: &str) -> i64 {
    let mut ledger = Ledger::open_to_write(path, state).unwrap();
    set(&mut ledger, key).unwrap()
}

fn set(ledger: &mut Ledger, key: &str) -> Result<i64, StoreError> {
    let facts = ledger.facts()?;
    let row = SettingRow {
        id: facts.next_id(Table::Setting),
        key: key.to_owned(),
        value: "1".to_owned(),
    };
    let note = note(&format!("assume {key} 1"), EntryKind::Record);
    ledger.record(&note, &[RowChange::insert(row)], &BTreeMap::new())
}

#[test]
fn what_was_written_here_is_known_byte_for_byte() {
    let desk = Desk::new();
    assert_eq!(desk.ask().standing(), &Standing::AsWritten);
    record(&desk.path(), &desk.here, "keep");
    assert_eq!(desk.ask().standing(), &Standing::AsWritten);
    let elsewhere = Ledger::open_to_ask(&desk.path(), &desk.elsewhere).unwrap();
    assert_eq!(elsewhere.standing(), &Standing::New);
    drop(elsewhere);
    let elsewhere = Ledger::open_to_ask(&desk.path(), &desk.elsewhere).unwrap();
    assert_eq!(elsewhere.standing(), &Standing::AsWritten);
}

#[test]
fn what_has_grown_or_was_rewritten_elsewhere_is_taken_up() {
    let desk = Desk::new();
    let known = desk.ask().last_entry();
    record(&desk.path(), &desk.elsewhere, "keep");
    let grown = desk.ask();
    assert!(
        matches!(grown.standing(), Standing::Grown { known: end } if end.entry == known),
        "{:?}",
        grown.standing()
    );
    assert!(grown.notices().is_empty());
    drop(grown);
    assert_eq!(desk.ask().standing(), &Standing::AsWritten);
    let other = rusqlite::Connection::open(desk.path()).unwrap();
    other.execute_batch("VACUUM").unwrap();
    drop(other);
    assert_eq!(desk.ask().standing(), &Standing::Same);
    record(&desk.path(), &desk.here, "cull");
}

#[test]
fn an_older_file_put_back_is_asked_but_not_written_until_it_is_accepted() {
    let desk = Desk::new();
    let (older, known) = (desk.bytes(), desk.ask().last_entry());
    for key in ["keep", "cull"] {
        record(&desk.path(), &desk.here, key);
    }
    desk.put(&older);
    let behind = |odds: &Odds| match odds {
        Odds::Behind { known: end, found } => (end.entry, found.entry) == (known + 2, known),
        _ => false,
    };
    for _ in 0..2 {
        let mut ledger = desk.ask();
        assert!(ledger.standing().odds().is_some_and(behind));
        assert_eq!(ledger.notices().len(), 1);
        ledger.facts().unwrap();
        assert_eq!(ledger.last_entry(), known);
        assert!(
            ledger.notices()[0]
                .to_string()
                .contains("is known here up to")
        );
    }
    assert!(behind(&desk.refused()));
    let checked = Ledger::open_to_check(&desk.path(), &desk.here).unwrap();
    let findings = checked.check();
    assert_eq!(findings.len(), 1, "{findings:?}");
    assert_eq!(findings[0].part, Part::File);
    drop(checked);
    let accepted = Ledger::accept(&desk.path(), &desk.here).unwrap();
    assert!(accepted.before.odds().is_some_and(behind));
    drop(accepted);
    assert_eq!(desk.bytes(), older);
    assert_eq!(desk.ask().standing(), &Standing::AsWritten);
    assert_eq!(record(&desk.path(), &desk.here, "other"), known + 1);
}

#[test]
fn a_file_that_went_another_way_is_told_from_an_older_one() {
    let desk = Desk::new();
    let older = desk.bytes();
    let known = record(&desk.path(), &desk.here, "keep");
    desk.put(&older);
    for key in ["cull", "other"] {
        record(&desk.path(), &desk.elsewhere, key);
    }
    let diverged = |odds: &Odds| match odds {
        Odds::Diverged { known: end, found } => (end.entry, found.entry) == (known, known + 1),
        _ => false,
    };
    assert!(desk.ask().standing().odds().is_some_and(diverged));
    assert!(diverged(&desk.refused()));
    drop(Ledger::accept(&desk.path(), &desk.here).unwrap());
    record(&desk.path(), &desk.here, "third");
}

#[test]
fn another_ledger_at_the_same_place_is_not_written_to() {
    let desk = Desk::new();
    let other = desk.folder.path().join("other.db");
    let identity = locule::store::Identity {
        ledger_id: "pot".to_owned(),
    };
    let mut made = Ledger::create(&other, &identity, &desk.elsewhere).unwrap();
    let row = SettingRow {
        id: 1,
        key: "dim".to_owned(),
        value: "0.02".to_owned(),
    };
    let init = note("init", EntryKind::Init);
    made.record(&init, &[RowChange::insert(row)], &BTreeMap::new())
        .unwrap();
    drop(made);
    fs::rename(&other, desk.path()).unwrap();
    assert!(matches!(desk.refused(), Odds::Other { .. }));
    assert_eq!(desk.ask().notices().len(), 1);
    drop(Ledger::accept(&desk.path(), &desk.here).unwrap());
    record(&desk.path(), &desk.here, "keep");
}

#[test]
fn a_ledger_that_was_moved_is_still_known() {
    let desk = Desk::new();
    let older = desk.bytes();
    record(&desk.path(), &desk.here, "keep");
    let moved = desk.folder.path().join("moved.db");
    fs::rename(desk.path(), &moved).unwrap();
    let ledger = Ledger::open_to_ask(&moved, &desk.here).unwrap();
    assert_eq!(ledger.standing(), &Standing::AsWritten);
    drop(ledger);
    let again = desk.folder.path().join("again.db");
    fs::remove_file(&moved).unwrap();
    fs::write(&again, older).unwrap();
    let refused = Ledger::open_to_write(&again, &desk.here).unwrap_err();
    assert!(matches!(refused, StoreError::AtOdds { .. }), "{refused}");
}

#[test]
fn a_mark_that_is_lost_or_torn_costs_one_verification() {
    let desk = Desk::new();
    let marks = desk.here.folder().join("marks");
    for torn in ["", "{", "{\"mark\":{},\"sum\":\"\"}"] {
        for mark in fs::read_dir(&marks).unwrap() {
            fs::write(mark.unwrap().path(), torn).unwrap();
        }
        assert_eq!(desk.ask().standing(), &Standing::New);
        assert_eq!(desk.ask().standing(), &Standing::AsWritten);
    }
    fs::remove_dir_all(&marks).unwrap();
    assert_eq!(desk.ask().standing(), &Standing::New);
    assert_eq!(desk.ask().standing(), &Standing::AsWritten);
}

#[test]
fn a_mark_that_cannot_be_written_stops_nothing() {
    let desk = Desk::new();
    let marks = desk.here.folder().join("marks");
    fs::remove_dir_all(&marks).unwrap();
    fs::write(&marks, "in the way").unwrap();
    record(&desk.path(), &desk.here, "keep");
    assert_eq!(desk.ask().standing(), &Standing::New);
    let refused = Ledger::accept(&desk.path(), &desk.here).unwrap_err();
    assert!(matches!(refused, StoreError::State { .. }), "{refused}");
    fs::remove_file(&marks).unwrap();
    let none = State::at(desk.path());
    let ledger = Ledger::open_to_ask(&desk.path(), &none).unwrap();
    assert_eq!(ledger.standing(), &Standing::New);
    drop(ledger);
    let refused = Ledger::open_to_write(&desk.path(), &none).unwrap_err();
    assert!(matches!(refused, StoreError::State { .. }), "{refused}");
}

#[test]
fn a_record_changed_by_another_program_is_never_shown() {
    let desk = Desk::new();
    let other = rusqlite::Connection::open(desk.path()).unwrap();
    other
        .execute_batch("UPDATE setting SET value = '0.03' WHERE key = 'dim'")
        .unwrap();
    drop(other);
    let changed = desk.bytes();
    for state in [&desk.here, &desk.elsewhere, &State::at(desk.path())] {
        let refused = Ledger::open_to_ask(&desk.path(), state).unwrap_err();
        let said = refused.to_string();
        assert_eq!(refused.class(), Class::Damaged, "{said}");
        assert!(
            said.contains("setting dim (setting 1), last written by entry 1")
                && said.contains("value is '0.03' where the history says '0.02'"),
            "{said}"
        );
        assert_eq!(refused.hint().as_deref(), Some("locule check-ledger"));
    }
    assert!(Ledger::open_to_write(&desk.path(), &desk.here).is_err());
    assert!(Ledger::accept(&desk.path(), &desk.here).is_err());
    let checked = Ledger::open_to_check(&desk.path(), &desk.here).unwrap();
    assert_eq!(checked.check()[0].part, Part::Records);
    assert_eq!(desk.bytes(), changed);
}

#[test]
fn what_another_program_writes_meanwhile_is_not_built_upon() {
    let desk = Desk::new();
    let mut ledger = Ledger::open_to_write(&desk.path(), &desk.here).unwrap();
    ledger.facts().unwrap();
    let other = rusqlite::Connection::open(desk.path()).unwrap();
    other
        .execute_batch("UPDATE setting SET value = '0.03' WHERE key = 'dim'")
        .unwrap();
    let before = export_rows(&desk.path());
    let refused = set(&mut ledger, "keep").unwrap_err();
    assert!(matches!(refused, StoreError::Stale { .. }), "{refused}");
    drop(ledger);
    assert_eq!(export_rows(&desk.path()), before);
}

/// The number of entries and settings that stand in the file.
fn export_rows(path: &Path) -> (i64, i64) {
    rusqlite::Connection::open(path)
        .unwrap()
        .query_row(
            "SELECT (SELECT max(txn) FROM change), (SELECT count(*) FROM setting)",
            [],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .unwrap()
}

#[test]
fn an_import_and_a_new_beginning_replace_what_was_known() {
    let desk = Desk::new();
    let text = export(&desk.ask());
    fs::remove_file(desk.path()).unwrap();
    let export = locule::store::Export::read(text.as_bytes()).unwrap();
    locule::store::import_new(&desk.path(), &desk.here, &export).unwrap();
    assert_eq!(desk.ask().standing(), &Standing::AsWritten);
    record(&desk.path(), &desk.here, "keep");
    fs::remove_file(desk.path()).unwrap();
    drop(season(&desk.path()));
    assert_eq!(desk.ask().standing(), &Standing::AsWritten);
}
