//! Files altered behind the program's back: each alteration is refused on opening, or found by the check.

use std::path::{Path, PathBuf};

use locule::records::rows::Table;
use locule::store::{Class, Ledger, StoreError};

use super::seasons::{season, state};

struct Case {
    folder: tempfile::TempDir,
    bytes: Vec<u8>,
}

impl Case {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger.db");
        drop(season(&path));
        let bytes = std::fs::read(&path).unwrap();
        Self { folder, bytes }
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("altered.db")
    }

    fn write(&self, bytes: &[u8]) -> PathBuf {
        std::fs::write(self.path(), bytes).unwrap();
        self.path()
    }
}

/// Whether an alteration is seen: the file does not open, or the check finds something.
fn seen(path: &Path) -> bool {
    match Ledger::open_to_ask(path, &state()) {
        Err(error) => {
            assert_eq!(error.class(), Class::Damaged, "{error}");
            true
        }
        Ok(ledger) => !ledger.check().is_empty(),
    }
}

#[test]
fn every_length_that_is_cut_off_is_refused() {
    let case = Case::new();
    let whole = case.bytes.len();
    let odd = (0..whole).step_by(997);
    let pages = (0..whole).step_by(4096);
    let around = pages.flat_map(|at| [at.saturating_sub(1), at, at + 1]);
    for length in odd.chain(around).chain(0..130).chain([whole - 1]) {
        let path = case.write(&case.bytes[..length]);
        let error = Ledger::open_to_ask(&path, &state()).expect_err("a cut file is no ledger");
        match length {
            0 => assert!(
                matches!(error, StoreError::Empty { .. }),
                "{length}: {error}"
            ),
            _ => assert!(
                matches!(error, StoreError::Truncated { .. }),
                "{length}: {error}"
            ),
        }
        assert_eq!(std::fs::read(&path).unwrap(), &case.bytes[..length]);
        assert!(Ledger::open_to_write(&path, &state()).is_err());
    }
    let mut longer = case.bytes.clone();
    longer.extend([0; 4096]);
    assert!(seen(&case.write(&longer)));
}

#[test]
fn a_flipped_bit_in_any_record_is_found() {
    let case = Case::new();
    // Texts that stand in records and in the history, and the settings' numbers around them.
    let needles: [&[u8]; 6] = [
        b"renamed",
        b"line one",
        b"0.02",
        b"P1",
        b"2026-03-01",
        b"play",
    ];
    let mut flips = 0;
    for needle in needles {
        let places: Vec<usize> = case
            .bytes
            .windows(needle.len())
            .enumerate()
            .filter(|(_, window)| *window == needle)
            .map(|(at, _)| at)
            .collect();
        assert!(!places.is_empty(), "{needle:?} stands nowhere");
        for at in places {
            for bit in [0, 2, 6] {
                let mut bytes = case.bytes.clone();
                bytes[at + needle.len() / 2] ^= 1 << bit;
                let path = case.write(&bytes);
                let free = is_free_space(&case, at);
                assert!(free || seen(&path), "bit {bit} of byte {at} ({needle:?})");
                flips += usize::from(!free);
            }
        }
    }
    assert!(flips > 60, "only {flips} flips were tried");
}

/// Whether overwriting some bytes changes nothing that SQLite reads: remains of rows that were moved.
fn is_free_space(case: &Case, at: usize) -> bool {
    let mut bytes = case.bytes.clone();
    bytes[at..at + 2].copy_from_slice(b"##");
    let path = case.write(&bytes);
    let dump = |path: &Path| -> Option<Vec<Vec<rusqlite::types::Value>>> {
        let connection = rusqlite::Connection::open(path).ok()?;
        let mut rows = Vec::new();
        let names = Table::ALL.iter().map(|table| table.name());
        for name in names.chain(["meta", "counter", "change", "sqlite_schema"]) {
            let mut statement = connection
                .prepare(&format!("SELECT * FROM \"{name}\""))
                .ok()?;
            let width = statement.column_count();
            let found = statement
                .query_map([], |row| (0..width).map(|at| row.get(at)).collect())
                .ok()?;
            for row in found {
                rows.push(row.ok()?);
            }
        }
        Some(rows)
    };
    let after = dump(&path);
    after.is_some() && after == dump(&case.folder.path().join("ledger.db")) && !seen(&path)
}

fn tamper(case: &Case, sql: &str) -> PathBuf {
    let path = case.write(&case.bytes);
    let connection = rusqlite::Connection::open(&path).unwrap();
    connection
        .execute_batch(&format!("PRAGMA foreign_keys = OFF; {sql}"))
        .unwrap_or_else(|error| panic!("{sql}: {error}"));
    path
}

/// Drops the two triggers, alters the history, and puts them back exactly as they were.
fn alter_history(sql: &str) -> String {
    let script = include_str!("../../../src/store/schema_1.sql");
    let from = script.find("CREATE TRIGGER").unwrap();
    let to = from + script[from..].find("CREATE TABLE").unwrap();
    format!(
        "DROP TRIGGER change_is_not_altered; DROP TRIGGER change_is_not_deleted; {sql}; {}",
        &script[from..to]
    )
}

#[test]
fn every_change_by_other_programs_is_found() {
    let case = Case::new();
    assert!(!seen(&tamper(&case, "SELECT 1")));
    assert!(!seen(&tamper(&case, &alter_history("SELECT 1"))));
    let records = [
        "UPDATE plant SET name = 'other' WHERE id = 1",
        "DELETE FROM remark",
        "INSERT INTO setting VALUES (9, 'new', '1')",
        "UPDATE setting SET id = 7 WHERE id = 1",
        "UPDATE code SET thing_id = 99 WHERE id = 1",
        "UPDATE \"cross\" SET mother_id = 99 WHERE id = 1",
        "UPDATE counter SET next = 1 WHERE name = 'T'",
        "DELETE FROM counter WHERE name = 'plant'",
        "UPDATE meta SET value = 'other'",
        "INSERT INTO meta VALUES ('more', '1')",
    ];
    let schema = [
        "CREATE TRIGGER t AFTER INSERT ON plant BEGIN DELETE FROM remark; END",
        "CREATE VIEW v AS SELECT 1",
        "CREATE INDEX i ON plant (name)",
        "DROP TRIGGER change_is_not_altered",
        "ALTER TABLE plant ADD COLUMN more TEXT",
    ];
    for sql in records.iter().chain(&schema) {
        assert!(seen(&tamper(&case, sql)), "{sql}");
    }
    let history = [
        "UPDATE change SET command = 'other' WHERE seq = 3",
        "UPDATE change SET at_utc = '' WHERE seq = 3",
        "UPDATE change SET utc_offset = '' WHERE seq = 3",
        "UPDATE change SET kind = 'init' WHERE seq = 3",
        "UPDATE change SET entity_id = 77 WHERE seq = 3",
        "UPDATE change SET \"after\" = replace(\"after\", '0', '1') WHERE seq = 1",
        "UPDATE change SET \"before\" = '{}' WHERE seq = 1",
        "UPDATE change SET hash = replace(hash, substr(hash, 1, 1), 'f') WHERE seq = 2 AND hash NOT LIKE 'f%'; \
         UPDATE change SET hash = replace(hash, substr(hash, 1, 1), 'e') WHERE seq = 4",
        "UPDATE change SET txn = txn + 1 WHERE seq = 5",
        "DELETE FROM change WHERE seq = 4",
        "DELETE FROM change WHERE seq = (SELECT max(seq) FROM change)",
        "UPDATE change SET seq = seq + 1000 WHERE seq > 6",
    ];
    for sql in history {
        assert!(seen(&tamper(&case, &alter_history(sql))), "{sql}");
    }
}

#[test]
fn the_history_cannot_be_altered_by_plain_statements() {
    let case = Case::new();
    let connection = rusqlite::Connection::open(case.write(&case.bytes)).unwrap();
    for sql in ["UPDATE change SET command = ''", "DELETE FROM change"] {
        let error = connection.execute_batch(sql).unwrap_err().to_string();
        assert!(error.contains("history is never"), "{error}");
    }
}
