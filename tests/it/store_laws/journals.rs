//! A rollback journal beside a ledger: of an interrupted write, of another time, of another program at work.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use locule::records::change::RowChange;
use locule::records::rows::{SettingRow, Table};
use locule::store::{Class, EntryKind, Ledger, Notice, State, StoreError};

use super::seasons::{export, note, season, state};

/// Changes every page that a later setting changes too, and spills all of it into the file.
const SPILL: &str = "PRAGMA cache_size = 1; BEGIN; \
    DROP TRIGGER change_is_not_altered; UPDATE change SET command = command || 'x'; \
    UPDATE setting SET key = 'x' || key; UPDATE counter SET next = next + 1; \
    UPDATE plant SET name = 'half written'; \
    WITH RECURSIVE n(i) AS (SELECT 100 UNION ALL SELECT i + 1 FROM n WHERE i < 900) \
    INSERT INTO setting SELECT i, 'key' || i, hex(zeroblob(400)) FROM n;";

fn journal(path: &Path) -> PathBuf {
    PathBuf::from(format!("{}-journal", path.display()))
}

/// The file in the middle of another program's write, and its journal; the file is then as before.
fn interrupted(path: &Path) -> (Vec<u8>, Vec<u8>) {
    let before = fs::read(path).unwrap();
    let writer = rusqlite::Connection::open(path).unwrap();
    writer.execute_batch(SPILL).unwrap();
    let pair = (fs::read(path).unwrap(), fs::read(journal(path)).unwrap());
    drop(writer);
    assert_ne!(pair.0, before);
    assert_eq!(fs::read(path).unwrap(), before);
    pair
}

fn record(path: &Path, state: &State, key: &str) -> i64 {
    let mut ledger = Ledger::open_to_write(path, state).unwrap();
    let facts = ledger.facts().unwrap();
    let row = SettingRow {
        id: facts.next_id(Table::Setting),
        key: key.to_owned(),
        value: "1".to_owned(),
    };
    let note = note(&format!("assume {key} 1"), EntryKind::Record);
    ledger
        .record(&note, &[RowChange::insert(row)], &BTreeMap::new())
        .unwrap()
}

fn asides(state: &State) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for room in fs::read_dir(state.folder().join("aside"))
        .into_iter()
        .flatten()
    {
        for folder in fs::read_dir(room.unwrap().path()).unwrap() {
            found.push(folder.unwrap().path());
        }
    }
    found.sort();
    found
}

#[test]
fn an_interrupted_write_is_taken_back_and_copied_aside_first() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.db");
    let expected = export(&season(&path));
    let (file, follow) = interrupted(&path);
    for open in [Ledger::open_to_ask, Ledger::open_to_write] {
        fs::write(&path, &file).unwrap();
        fs::write(journal(&path), &follow).unwrap();
        let ledger = open(&path, &state()).unwrap();
        assert_eq!(export(&ledger), expected);
        assert!(ledger.notices().is_empty(), "{:?}", ledger.notices());
        assert!(!journal(&path).exists());
    }
    let [aside] = &asides(&state())[..] else {
        panic!("{:?}", asides(&state()))
    };
    assert_eq!(fs::read(aside.join("ledger.db")).unwrap(), file);
    assert_eq!(fs::read(aside.join("ledger.db-journal")).unwrap(), follow);
    let scratch = fs::read_dir(state().folder().join("scratch")).unwrap();
    assert_eq!(scratch.count(), 0);
}

#[test]
fn a_journal_of_another_time_is_set_aside_and_takes_nothing_back() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.db");
    drop(season(&path));
    let (_, stale) = interrupted(&path);
    for (at, key) in ["one", "two", "three"].into_iter().enumerate() {
        record(&path, &state(), key);
        let expected = export(&Ledger::open_to_ask(&path, &state()).unwrap());
        fs::write(journal(&path), &stale).unwrap();
        // Without a mark, more than one entry must be at stake for the journal to be the one that is wrong.
        let nowhere = State::at(folder.path().join(format!("state {at}")));
        let states = if at == 0 {
            vec![state()]
        } else {
            vec![state(), nowhere]
        };
        for state in states {
            fs::write(journal(&path), &stale).unwrap();
            let ledger = Ledger::open_to_ask(&path, &state).unwrap();
            assert_eq!(export(&ledger), expected);
            let [Notice::JournalSetAside { aside, .. }] = ledger.notices() else {
                panic!("{:?}", ledger.notices())
            };
            assert_eq!(fs::read(aside.join("ledger.db-journal")).unwrap(), stale);
            assert!(!journal(&path).exists());
        }
    }
}

#[test]
fn a_whole_entry_that_is_taken_back_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.db");
    let expected = export(&season(&path));
    let (_, follow) = interrupted(&path);
    let entry = record(&path, &State::at(folder.path().join("other")), "keep");
    fs::write(journal(&path), &follow).unwrap();
    let ledger = Ledger::open_to_ask(&path, &state()).unwrap();
    assert_eq!(export(&ledger), expected);
    let [Notice::TakenBack { entry: named, .. }] = ledger.notices() else {
        panic!("{:?}", ledger.notices())
    };
    assert_eq!(
        (named.entry, named.command.as_str()),
        (entry, "assume keep 1")
    );
}

#[test]
fn a_journal_that_leads_nowhere_is_not_followed() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.db");
    drop(season(&path));
    let (_, older) = interrupted(&path);
    record(&path, &state(), "keep");
    let (mut half, _) = interrupted(&path);
    half.truncate(half.len() / 4096 * 4096);
    fs::write(&path, &half).unwrap();
    for more in 0..7_u8 {
        let mut foreign = older[..older.len() / 2].to_vec();
        foreign.push(more);
        fs::write(journal(&path), &foreign).unwrap();
        for open in [
            Ledger::open_to_ask,
            Ledger::open_to_write,
            Ledger::open_to_check,
        ] {
            let refused = open(&path, &state()).unwrap_err();
            assert_eq!(refused.class(), Class::Damaged, "{refused}");
            let StoreError::JournalUnfit { aside, .. } = &refused else {
                panic!("{refused}")
            };
            assert!(
                refused
                    .causes()
                    .iter()
                    .any(|cause| cause.contains("copies of both lie in"))
            );
            assert_eq!(fs::read(aside.join("ledger.db")).unwrap(), half);
            assert_eq!(fs::read(&path).unwrap(), half);
            assert_eq!(fs::read(journal(&path)).unwrap(), foreign);
        }
    }
    assert_eq!(asides(&state()).len(), 5);
}

#[test]
fn a_journal_without_a_head_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.db");
    let expected = export(&season(&path));
    let (_, whole) = interrupted(&path);
    let mut blank = whole.clone();
    blank[..28].fill(0);
    for journal_bytes in [
        &whole[..3],
        &whole[..27],
        &whole[..511],
        &blank,
        b"",
        b"astray",
    ] {
        fs::write(journal(&path), journal_bytes).unwrap();
        let ledger = Ledger::open_to_ask(&path, &state()).unwrap();
        assert_eq!(export(&ledger), expected);
        assert!(ledger.notices().is_empty(), "{:?}", ledger.notices());
    }
}

#[test]
fn while_another_program_is_writing_its_journal_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.db");
    let expected = export(&season(&path));
    let writer = rusqlite::Connection::open(&path).unwrap();
    writer.execute_batch(SPILL).unwrap();
    let there = fs::read(journal(&path)).unwrap();
    let refused = Ledger::open_to_ask(&path, &state()).unwrap_err();
    assert_eq!(refused.class(), Class::Busy, "{refused}");
    assert_eq!(fs::read(journal(&path)).unwrap(), there);
    assert_eq!(asides(&state()).len(), 0);
    drop(writer);
    assert_eq!(
        export(&Ledger::open_to_ask(&path, &state()).unwrap()),
        expected
    );
}
