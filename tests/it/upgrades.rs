//! Ledgers of the older schemas carried forward, and the exports of those days.
//!
//! `tests/fixtures/schema_1.db` and `schema_1.jsonl` were made by the program that wrote version 1, and those of
//! version 2 by the one that wrote that (`tests/fixtures/README.md`); no line of the program under test had a hand in
//! them.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use crate::support::{Bench, finish, flat};

const LEDGER: &[u8] = include_bytes!("../fixtures/schema_1.db");
const EXPORT: &str = include_str!("../fixtures/schema_1.jsonl");

/// The version that the program under test writes.
const NEWEST: u32 = 3;

/// A ledger of each version but the first, with its export and the tables that came with it.
const LATER: [(u32, &[u8], &str, &[&str]); 1] = [(
    2,
    include_bytes!("../fixtures/schema_2.db"),
    include_str!("../fixtures/schema_2.jsonl"),
    &["imported_ledger", "came_from"],
)];

fn old() -> Bench {
    let mut bench = Bench::new();
    bench.on("2025-06-21");
    fs::write(bench.ledger(), LEDGER).unwrap();
    bench
}

fn version(file: &Path) -> u32 {
    let bytes = fs::read(file).unwrap();
    u32::from_be_bytes(bytes[60..64].try_into().unwrap())
}

/// The record lines and the change lines of an export.
fn lines_of(export: &str) -> (Vec<&str>, Vec<&str>) {
    let of = |begin: &str| {
        export
            .lines()
            .filter(|line| line.starts_with(begin))
            .collect()
    };
    (of("{\"table\""), of("{\"change\""))
}

fn files_in(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let files = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap());
    files
        .map(|entry| {
            (
                entry.file_name().into_string().unwrap(),
                fs::read(entry.path()).unwrap(),
            )
        })
        .collect()
}

#[test]
fn the_fixture_has_a_row_in_every_table_of_its_version() {
    let header: serde_json::Value = serde_json::from_str(EXPORT.lines().next().unwrap()).unwrap();
    let rows = header["rows"].as_object().unwrap();
    assert_eq!(rows.len(), 30);
    assert!(
        rows.values().all(|rows| rows.as_i64() > Some(0)),
        "{rows:?}"
    );
    let kinds = |kind: &str| EXPORT.contains(&format!("\"kind\":\"{kind}"));
    assert!(kinds("undo") && kinds("redo"));
}

#[test]
fn asking_an_old_ledger_leaves_every_byte_and_every_file_as_it_was() {
    let bench = old();
    assert_eq!(version(&bench.ledger()), 1);
    let before = files_in(bench.folder());
    let said = bench.ok("suspects T1");
    assert!(said.contains("T1"), "{said}");
    assert!(bench.ok("show T1-01").contains("purple"));
    assert!(bench.ok("check-ledger").contains("All is well"));
    assert_eq!(
        bench.json("history")["entries"].as_array().unwrap().len(),
        38
    );
    let export = bench.ok("export");
    assert_eq!(lines_of(&export), lines_of(EXPORT));
    assert_eq!(files_in(bench.folder()), before);
    let aside = tempfile::tempdir().unwrap();
    let run = finish(bench.command(&["show", "OL"]).env("TMPDIR", aside.path()));
    assert_eq!((run.status, run.err.as_str()), (Some(0), ""));
    assert_eq!(fs::read_dir(aside.path()).unwrap().count(), 0);
}

#[test]
fn the_first_write_upgrades_and_says_where_the_copy_lies() {
    let bench = old();
    let run = bench.run("note OL 'still in bloom'");
    assert_eq!(run.status, Some(0), "{}", run.err);
    let err = flat(&run.err);
    assert!(
        err.contains(&format!(
            "was upgraded from ledger version 1 to {NEWEST}; a copy of it as it was lies at"
        )),
        "{err}"
    );
    let copy = err.rsplit(' ').next().unwrap();
    assert_eq!(fs::read(copy).unwrap(), LEDGER);
    assert_eq!(version(&bench.ledger()), NEWEST);
    bench.ok("note OL 'and sets pods'");
    assert!(bench.ok("check-ledger").contains("All is well"));
    let export = bench.ok("export");
    let ((records, changes), (old_records, old_changes)) = (lines_of(&export), lines_of(EXPORT));
    assert_eq!(changes[..old_changes.len()], old_changes);
    let newer: Vec<&&str> = records
        .iter()
        .filter(|line| !old_records.contains(*line))
        .collect();
    assert_eq!(records.len(), old_records.len() + 2);
    assert!(
        newer.iter().all(|line| line.contains("\"remark\"")),
        "{newer:?}"
    );
}

#[test]
fn undo_reaches_back_into_entries_of_the_old_version() {
    let bench = old();
    let run = bench.run("undo 32");
    assert_eq!(run.status, Some(0), "{}", run.err);
    assert!(!bench.ok("show T1").contains("leggy"));
    bench.ok("redo");
    assert_eq!(lines_of(&bench.ok("export")).0, lines_of(EXPORT).0);
    assert!(flat(&bench.fails("undo 3", 1)).contains("later entries"));
    assert!(bench.ok("check-ledger").contains("All is well"));
}

#[test]
fn an_export_of_the_old_version_is_imported() {
    let bench = Bench::new();
    fs::write(bench.folder().join("old.jsonl"), EXPORT).unwrap();
    let said = bench.ok("import old.jsonl");
    assert!(said.contains("38 entries, fingerprint 5206982b"), "{said}");
    assert_eq!(version(&bench.ledger()), NEWEST);
    assert_eq!(lines_of(&bench.ok("export")), lines_of(EXPORT));
    assert!(bench.ok("check-ledger").contains("All is well"));
    assert!(flat(&bench.ok("import old.jsonl")).contains("nothing was changed"));
    let next = NEWEST + 1;
    let future = EXPORT.replacen("\"version\":1", &format!("\"version\":{next}"), 1);
    fs::write(bench.folder().join("new.jsonl"), future).unwrap();
    let err = flat(&bench.fails("--ledger other.db import new.jsonl", 1));
    assert!(
        err.contains("line 1")
            && err.contains(&format!("version {next}"))
            && err.contains(&format!("1 to {NEWEST}")),
        "{err}"
    );
}

/// The fixture with one text of its tables altered behind the program's back.
fn meddled(bench: &Bench, sql: &str) {
    let connection = rusqlite::Connection::open(bench.ledger()).unwrap();
    connection.execute_batch(sql).unwrap();
}

#[test]
fn an_old_ledger_that_does_not_pass_its_checks_is_not_upgraded() {
    let bench = old();
    meddled(
        &bench,
        "UPDATE remark SET text = 'bud was wide open' WHERE id = 1",
    );
    let before = fs::read(bench.ledger()).unwrap();
    let err = flat(&bench.fails("note OL 'still in bloom'", 4));
    assert!(
        err.contains("is damaged") && err.contains("remark 1") && !err.contains("was upgraded"),
        "{err}"
    );
    assert!(err.contains("it was left as it is"), "{err}");
    assert_eq!(fs::read(bench.ledger()).unwrap(), before);
    let run = bench.run("check-ledger");
    assert_eq!(run.status, Some(4));
    assert!(run.out.contains("remark 1"), "{}", run.out);
}

#[test]
fn an_old_ledger_with_foreign_tables_is_refused_untouched() {
    let bench = old();
    meddled(&bench, "CREATE VIEW spy AS SELECT * FROM remark");
    let before = fs::read(bench.ledger()).unwrap();
    for line in ["note OL 'still in bloom'", "show OL", "check-ledger"] {
        let err = flat(&bench.fails(line, 4));
        assert!(err.contains("its tables are not those"), "{line}: {err}");
    }
    assert_eq!(fs::read(bench.ledger()).unwrap(), before);
}

#[test]
fn a_ledger_from_the_future_is_untouched_and_both_versions_are_named() {
    let bench = old();
    let mut bytes = LEDGER.to_vec();
    bytes[60..64].copy_from_slice(&(NEWEST + 1).to_be_bytes());
    fs::write(bench.ledger(), &bytes).unwrap();
    for line in ["note OL 'still in bloom'", "show OL", "import x.jsonl"] {
        fs::write(bench.folder().join("x.jsonl"), EXPORT).unwrap();
        let err = flat(&bench.fails(line, 4));
        assert!(
            err.contains(&format!("has ledger version {}", NEWEST + 1))
                && err.contains(&format!("versions up to {NEWEST}")),
            "{line}: {err}"
        );
    }
    assert_eq!(fs::read(bench.ledger()).unwrap(), bytes);
}

#[test]
fn without_room_for_the_copy_nothing_is_upgraded() {
    let bench = old();
    fs::create_dir_all(bench.state().join("locks")).unwrap();
    fs::write(
        bench.state().join("copies"),
        "a file where the copies would go",
    )
    .unwrap();
    let run = bench.run("note OL 'still in bloom'");
    assert_ne!(run.status, Some(0));
    assert!(
        flat(&run.err).contains("nothing was changed"),
        "{}",
        run.err
    );
    assert_eq!(fs::read(bench.ledger()).unwrap(), LEDGER);
}

#[test]
fn ledgers_of_every_later_version_are_carried_forward() {
    for (of, ledger, export, tables) in LATER {
        let header: serde_json::Value =
            serde_json::from_str(export.lines().next().unwrap()).unwrap();
        let rows = header["rows"].as_object().unwrap();
        assert!(rows.values().all(|rows| rows.as_i64() > Some(0)), "{of}");
        assert!(tables.iter().all(|table| rows.contains_key(*table)), "{of}");
        let mut bench = Bench::new();
        bench.on("2025-06-21");
        fs::write(bench.ledger(), ledger).unwrap();
        assert_eq!(version(&bench.ledger()), of);
        assert_eq!(lines_of(&bench.ok("export")), lines_of(export));
        assert_eq!(fs::read(bench.ledger()).unwrap(), ledger);
        let run = bench.run("note OL 'still in bloom'");
        let upgraded = format!("from ledger version {of} to {NEWEST}");
        assert!(flat(&run.err).contains(&upgraded), "{}", run.err);
        assert_eq!(version(&bench.ledger()), NEWEST);
        bench.ok("undo");
        assert_eq!(lines_of(&bench.ok("export")).0, lines_of(export).0);
        let whole = lines_of(export).1.len();
        assert_eq!(lines_of(&bench.ok("export")).1[..whole], lines_of(export).1);
        // An old entry can be taken back, and an export of those days read.
        bench.ok("undo 27");
        bench.ok("redo");
        assert!(bench.ok("check-ledger").contains("All is well"));
        let other = Bench::new();
        fs::write(other.folder().join("old.jsonl"), export).unwrap();
        other.ok("import old.jsonl");
        assert_eq!(version(&other.ledger()), NEWEST);
        assert_eq!(lines_of(&other.ok("export")), lines_of(export));
    }
}
