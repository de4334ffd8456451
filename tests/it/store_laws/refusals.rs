//! What is refused, in words, and leaves everything as it was.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use locule::store::{
    Class, EntryKind, EntryNote, Export, Identity, Imported, Ledger, Notice, Request, StoreError,
    import_new,
};

use super::seasons::{begun, export, note, play, season, state};

/// Whether an error is the right one.
type Right = fn(&StoreError) -> bool;

fn foreign(path: &Path, pragma: &str) {
    let connection = rusqlite::Connection::open(path).unwrap();
    connection
        .execute_batch(&format!("CREATE TABLE t (a); {pragma}"))
        .unwrap();
}

/// Every file of a folder with its content.
fn listing(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap())
        .map(|entry| {
            let content = fs::read(entry.path()).unwrap_or_default();
            (entry.file_name().to_string_lossy().into_owned(), content)
        })
        .collect()
}

#[test]
fn what_is_no_ledger_is_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::write(at("empty"), b"").unwrap();
    fs::write(at("zeros"), [0; 8192]).unwrap();
    fs::write(
        at("text"),
        "a shopping list, long enough for a header ".repeat(9),
    )
    .unwrap();
    fs::create_dir(at("folder")).unwrap();
    foreign(&at("other"), "PRAGMA application_id = 7");
    foreign(&at("unmarked"), "");
    foreign(
        &at("newer"),
        "PRAGMA application_id = 0x4c4f4355; PRAGMA user_version = 99",
    );
    foreign(&at("unversioned"), "PRAGMA application_id = 0x4c4f4355");
    drop(season(&at("beside")));
    fs::write(at("beside-wal"), b"x").unwrap();
    drop(season(&at("shared")));
    fs::write(at("shared-shm"), b"").unwrap();
    drop(season(&at("wal-mode")));
    let connection = rusqlite::Connection::open(at("wal-mode")).unwrap();
    connection
        .execute_batch("PRAGMA journal_mode = WAL")
        .unwrap();
    drop(connection);
    let before = listing(folder.path());
    let expected: [(&str, Right, Class); 13] = [
        (
            "empty",
            |e| matches!(e, StoreError::Empty { .. }),
            Class::Damaged,
        ),
        (
            "zeros",
            |e| matches!(e, StoreError::Empty { .. }),
            Class::Damaged,
        ),
        (
            "text",
            |e| matches!(e, StoreError::NotADatabase { .. }),
            Class::Damaged,
        ),
        (
            "folder",
            |e| matches!(e, StoreError::NotADatabase { .. }),
            Class::Damaged,
        ),
        (
            "other",
            |e| matches!(e, StoreError::Foreign { found: 7, .. }),
            Class::Damaged,
        ),
        (
            "unmarked",
            |e| matches!(e, StoreError::Foreign { .. }),
            Class::Damaged,
        ),
        (
            "newer",
            |e| {
                matches!(
                    e,
                    StoreError::Newer {
                        found: 99,
                        known: 3,
                        ..
                    }
                )
            },
            Class::Damaged,
        ),
        (
            "unversioned",
            |e| matches!(e, StoreError::Damaged { .. }),
            Class::Damaged,
        ),
        (
            "beside",
            |e| matches!(e, StoreError::Sibling { .. }),
            Class::Damaged,
        ),
        (
            "shared",
            |e| matches!(e, StoreError::Sibling { .. }),
            Class::Damaged,
        ),
        (
            "wal-mode",
            |e| matches!(e, StoreError::Damaged { .. }),
            Class::Damaged,
        ),
        (
            "missing",
            |e| matches!(e, StoreError::Missing { .. }),
            Class::Refused,
        ),
        (
            "no/folder",
            |e| matches!(e, StoreError::FolderMissing { .. }),
            Class::Refused,
        ),
    ];
    for (name, right, class) in expected {
        for open in [Ledger::open_to_ask, Ledger::open_to_write] {
            let error = open(&at(name), &state()).expect_err(name);
            assert!(right(&error), "{name}: {error:?}");
            assert_eq!(error.class(), class, "{name}");
            let named = error.to_string().contains(name.split('/').next().unwrap());
            assert!(named, "{name} is not named: {error}");
        }
    }
    assert_eq!(listing(folder.path()), before);
}

#[test]
fn asking_leaves_file_and_folder_as_they_are() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.db");
    drop(season(&path));
    let before = listing(folder.path());
    let mut ledger = Ledger::open_to_ask(&path, &state()).unwrap();
    ledger.facts().unwrap();
    ledger.history().unwrap();
    assert_eq!(ledger.check(), vec![]);
    export(&ledger);
    assert_eq!(listing(folder.path()), before);
    let refused = ledger.undo(None, &super::seasons::stamp()).unwrap_err();
    assert!(matches!(refused, StoreError::ReadOnly { .. }), "{refused}");
    drop(ledger);
    assert_eq!(listing(folder.path()), before);
}

#[cfg(unix)]
#[test]
fn a_second_name_is_refused_and_a_link_is_followed() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.db");
    drop(season(&path));
    std::os::unix::fs::symlink(&path, folder.path().join("link")).unwrap();
    let linked = Ledger::open_to_ask(&folder.path().join("link"), &state()).unwrap();
    assert_eq!(linked.path(), path.canonicalize().unwrap());
    fs::hard_link(&path, folder.path().join("second")).unwrap();
    let refused = Ledger::open_to_ask(&path, &state()).unwrap_err();
    assert!(
        matches!(refused, StoreError::Links { links: 2, .. }),
        "{refused}"
    );
}

#[test]
fn a_name_that_looks_like_an_address_is_a_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("file:ledger.db?mode=memory");
    drop(season(&path));
    assert!(path.is_file());
    assert_eq!(
        Ledger::open_to_ask(&path, &state()).unwrap().check(),
        vec![]
    );
}

#[test]
fn a_ledger_that_is_being_written_is_busy_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.db");
    let mut ledger = season(&path);
    let entries = ledger.last_entry();
    let other = rusqlite::Connection::open(&path).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let facts = ledger.facts().unwrap();
    let parent = facts.plant.iter().next().unwrap().clone();
    let change = locule::records::change::RowChange::delete(parent);
    let refused = ledger
        .record(&note("x", EntryKind::Record), &[change], &BTreeMap::new())
        .unwrap_err();
    assert_eq!(refused.class(), Class::Busy, "{refused}");
    drop(other);
    ledger.facts().unwrap();
    assert_eq!(ledger.last_entry(), entries);
}

#[test]
fn an_interrupted_write_is_taken_back_before_anything_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.db");
    let expected = export(&season(&path));
    let crashed = folder.path().join("crashed.db");
    // A writer that has spilled changed pages into the file but not committed, copied with its journal.
    let writer = rusqlite::Connection::open(&path).unwrap();
    writer
        .execute_batch(
            "PRAGMA cache_size = 1; BEGIN; UPDATE plant SET name = 'half written'; \
             WITH RECURSIVE n(i) AS (SELECT 100 UNION ALL SELECT i + 1 FROM n WHERE i < 900) \
             INSERT INTO setting SELECT i, 'key' || i, hex(zeroblob(400)) FROM n;",
        )
        .unwrap();
    fs::copy(&path, &crashed).unwrap();
    fs::copy(
        folder.path().join("ledger.db-journal"),
        folder.path().join("crashed.db-journal"),
    )
    .unwrap();
    drop(writer);
    assert_ne!(fs::read(&crashed).unwrap(), fs::read(&path).unwrap());
    let ledger = Ledger::open_to_ask(&crashed, &state()).unwrap();
    assert_eq!(export(&ledger), expected);
    assert_eq!(ledger.check(), vec![]);
}

#[test]
fn an_export_edited_in_any_line_is_refused_naming_the_line() {
    let folder = tempfile::tempdir().unwrap();
    let text = export(&season(&folder.path().join("ledger.db")));
    let lines: Vec<&str> = text.lines().collect();
    let target = folder.path().join("import.db");
    let refused_at = |edited: &str| match Export::read(edited.as_bytes()) {
        Err(StoreError::ImportLine { line, .. }) => line as usize,
        other => panic!("{other:?}"),
    };
    for at in 0..lines.len() {
        let with = |line: &str| {
            let mut edited: Vec<&str> = lines.clone();
            edited[at] = line;
            edited.join("\n") + "\n"
        };
        let digit = lines[at].rfind(|c: char| c.is_ascii_digit()).unwrap();
        let swapped = if lines[at].as_bytes()[digit] == b'1' {
            "2"
        } else {
            "1"
        };
        let mut digit_edit = lines[at].to_owned();
        digit_edit.replace_range(digit..=digit, swapped);
        let edits = [
            digit_edit,
            format!("{} ", lines[at]),
            lines[at].replacen(':', ": ", 1),
            lines[at].replacen('"', "'", 1),
            lines[at][..lines[at].len() / 2].to_owned(),
            format!("{}\r", lines[at]),
            String::new(),
        ];
        for edit in edits {
            assert_eq!(refused_at(&with(&edit)), at + 1, "{edit:?}");
        }
        let cut = lines[..at].join("\n") + if at == 0 { "" } else { "\n" };
        assert_eq!(refused_at(&cut), at + 1);
        let mut without: Vec<&str> = lines.clone();
        without.remove(at);
        let line = refused_at(&(without.join("\n") + "\n"));
        assert_eq!(line, at + 1, "without {:?}", lines[at]);
    }
    for (from, to) in [
        ("\"ledger\":\"tray\"", "\"ledger\":\"pot\""),
        ("\"plant\":4", "\"plant\":5"),
    ] {
        assert!(lines[0].contains(from), "{}", lines[0]);
        assert_eq!(refused_at(&text.replacen(from, to, 1)), 1);
    }
    assert_eq!(refused_at(&(text.clone() + "\n")), lines.len() + 1);
    assert_eq!(
        listing(folder.path()).keys().collect::<Vec<_>>(),
        ["ledger.db"]
    );
    import_new(&target, &state(), &Export::read(text.as_bytes()).unwrap()).unwrap();
    let refused =
        import_new(&target, &state(), &Export::read(text.as_bytes()).unwrap()).unwrap_err();
    assert!(
        refused.to_string().contains("is there already"),
        "{refused}"
    );
}

/// Brings an export into the ledger of a path.
fn import(path: &Path, text: &str) -> Result<Imported, StoreError> {
    let how = Request {
        prefix: String::new(),
        day: "2026-03-01".parse().unwrap(),
        note: EntryNote {
            at_utc: "2026-03-01T12:00:00Z".to_owned(),
            utc_offset: "+00:00".to_owned(),
            command: "import season.jsonl".to_owned(),
            kind: EntryKind::Record,
        },
    };
    let export = Export::read(text.as_bytes())?;
    Ledger::open_to_write(path, &state())?.import(&export, &how, &state())
}

#[test]
fn an_import_only_replaces_a_ledger_that_holds_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let (path, target) = (
        folder.path().join("ledger.db"),
        folder.path().join("other.db"),
    );
    let source = season(&path);
    let text = export(&source);
    drop(source);
    assert_eq!(import(&path, &text).unwrap(), Imported::Unchanged);
    let identity = Identity {
        ledger_id: "pot".to_owned(),
    };
    drop(Ledger::create(&target, &identity, &state()).unwrap());
    assert_eq!(import(&target, &text).unwrap(), Imported::Replaced);
    assert_eq!(
        export(&Ledger::open_to_ask(&target, &state()).unwrap()),
        text
    );
    fs::remove_file(&target).unwrap();
    drop(begun(&target));
    assert_eq!(import(&target, &text).unwrap(), Imported::Replaced);
    let mut grown = Ledger::open_to_write(&target, &state()).unwrap();
    play(&mut grown, 0, 9);
    drop(grown);
    let before = listing(folder.path());
    let refused = import(&target, &text).unwrap_err();
    assert!(
        matches!(&refused, StoreError::OtherState { what, .. } if what.contains("earlier")),
        "{refused}"
    );
    assert_eq!(listing(folder.path()), before);
}

#[cfg(unix)]
fn allow(path: &Path, mode: u32) {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
}

#[cfg(unix)]
#[test]
fn what_may_not_be_written_can_still_be_asked() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.db");
    let expected = export(&season(&path));
    allow(&path, 0o444);
    if fs::File::options().write(true).open(&path).is_ok() {
        // The system's administrator may write anything: permissions mean nothing here.
        return;
    }
    let refused = Ledger::open_to_write(&path, &state()).unwrap_err();
    assert!(matches!(refused, StoreError::ReadOnly { .. }), "{refused}");
    allow(&path, 0o644);
    allow(folder.path(), 0o555);
    assert_eq!(
        export(&Ledger::open_to_ask(&path, &state()).unwrap()),
        expected
    );
    let mut ledger = Ledger::open_to_write(&path, &state()).unwrap();
    let refused = ledger.undo(None, &super::seasons::stamp()).unwrap_err();
    assert!(matches!(refused, StoreError::ReadOnly { .. }), "{refused}");
    let new = folder.path().join("new.db");
    let refused =
        import_new(&new, &state(), &Export::read(expected.as_bytes()).unwrap()).unwrap_err();
    assert!(
        matches!(refused, StoreError::Permission { .. }),
        "{refused}"
    );
    allow(&path, 0o000);
    let refused = Ledger::open_to_ask(&path, &state()).unwrap_err();
    assert!(
        matches!(refused, StoreError::Permission { .. }),
        "{refused}"
    );
    allow(folder.path(), 0o755);
}

#[cfg(unix)]
#[test]
fn an_interrupted_write_in_a_read_only_folder_is_asked_on_a_copy() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.db");
    let expected = export(&season(&path));
    let writer = rusqlite::Connection::open(&path).unwrap();
    writer
        .execute_batch(
            "PRAGMA cache_size = 1; BEGIN; UPDATE plant SET name = 'half written'; \
             WITH RECURSIVE n(i) AS (SELECT 100 UNION ALL SELECT i + 1 FROM n WHERE i < 900) \
             INSERT INTO setting SELECT i, 'key' || i, hex(zeroblob(400)) FROM n;",
        )
        .unwrap();
    let crashed = folder.path().join("crashed");
    fs::create_dir(&crashed).unwrap();
    fs::copy(&path, crashed.join("ledger.db")).unwrap();
    fs::copy(
        folder.path().join("ledger.db-journal"),
        crashed.join("ledger.db-journal"),
    )
    .unwrap();
    drop(writer);
    allow(&crashed.join("ledger.db"), 0o444);
    allow(&crashed, 0o555);
    if fs::write(crashed.join("probe"), b"").is_ok() {
        // The system's administrator may write anything: permissions mean nothing here.
        return;
    }
    let before = listing(&crashed);
    let ledger = Ledger::open_to_ask(&crashed.join("ledger.db"), &state()).unwrap();
    assert_eq!(export(&ledger), expected);
    assert!(
        matches!(ledger.notices(), [Notice::OnCopy { .. }]),
        "{:?}",
        ledger.notices()
    );
    drop(ledger);
    let refused = Ledger::open_to_write(&crashed.join("ledger.db"), &state()).unwrap_err();
    assert!(
        matches!(refused, StoreError::InterruptedWrite { .. }),
        "{refused}"
    );
    assert_eq!(listing(&crashed), before);
    allow(&crashed, 0o755);
}

#[test]
fn a_folder_that_vanishes_while_it_is_in_use_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let bench = folder.path().join("bench");
    fs::create_dir(&bench).unwrap();
    let mut ledger = season(&bench.join("ledger.db"));
    fs::rename(&bench, folder.path().join("moved")).unwrap();
    let refused = ledger.undo(None, &super::seasons::stamp()).unwrap_err();
    assert!(
        matches!(
            refused,
            StoreError::FolderMissing { .. } | StoreError::Moved { .. }
        ),
        "{refused:?}"
    );
    drop(ledger);
    let moved = Ledger::open_to_ask(&folder.path().join("moved/ledger.db"), &state());
    assert_eq!(moved.unwrap().check(), vec![]);
}

#[test]
fn a_ledger_that_another_process_of_this_program_holds_is_busy() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.db");
    let held = season(&path);
    let state = state();
    let refused = std::thread::scope(|scope| {
        scope
            .spawn(|| Ledger::open_to_ask(&path, &state).unwrap_err())
            .join()
            .unwrap()
    });
    assert_eq!(refused.class(), Class::Busy, "{refused}");
    assert!(refused.causes().contains(&"nothing was changed".to_owned()));
    drop(held);
}
