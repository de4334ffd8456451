//! Copies kept before what can't be undone: verified, or the step is refused.

use std::fs;

use locule::records::day::Day;
use locule::store::{Class, Ledger, Occasion, State, StoreError, automatic_copies, copy_before};

use super::seasons::season;

fn today() -> Day {
    "2026-03-01".parse().unwrap()
}

#[test]
fn before_an_upgrade_or_import_a_verified_copy_is_there_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = fs::canonicalize(folder.path()).unwrap().join("ledger.db");
    drop(season(&path));
    let state = State::at(folder.path().join("state")).on(today());
    let whole = fs::read(&path).unwrap();
    let copy = copy_before(&state, &path, Occasion::Upgrade).unwrap();
    assert_eq!(fs::read(&copy).unwrap(), whole);
    let again = copy_before(&state, &path, Occasion::Import).unwrap();
    assert_eq!(again, copy);
    // Other bytes of the same history, as an upgrade makes them, are another copy.
    rusqlite::Connection::open(&path)
        .unwrap()
        .execute_batch("VACUUM")
        .unwrap();
    let other = copy_before(&state, &path, Occasion::Upgrade).unwrap();
    assert_ne!(other, copy);
    assert_eq!(fs::read(&other).unwrap(), fs::read(&path).unwrap());
    let copies = automatic_copies(&state, &path);
    assert_eq!(copies.len(), 2);
    assert!(copies.iter().all(|copy| copy.day == "2026-03-01"));
    let entries = Ledger::open_to_ask(&path, &state).unwrap().last_entry();
    assert!(copies.iter().all(|copy| copy.entries == entries));
}

#[test]
fn without_a_day_the_copy_bears_that_of_the_last_entry() {
    let folder = tempfile::tempdir().unwrap();
    let path = fs::canonicalize(folder.path()).unwrap().join("ledger.db");
    drop(season(&path));
    let state = State::at(folder.path().join("state"));
    copy_before(&state, &path, Occasion::Import).unwrap();
    assert_eq!(automatic_copies(&state, &path)[0].day, "2026-03-01");
}

#[test]
fn a_copy_that_is_damaged_or_cannot_be_kept_stops_the_step() {
    let folder = tempfile::tempdir().unwrap();
    let path = fs::canonicalize(folder.path()).unwrap().join("ledger.db");
    drop(season(&path));
    let state = State::at(folder.path().join("state")).on(today());
    let refused = |state: &State| match copy_before(state, &path, Occasion::Import) {
        Err(error @ StoreError::NoCopy { .. }) => error,
        other => panic!("{other:?}"),
    };
    let whole = fs::read(&path).unwrap();
    let mut spoilt = whole.clone();
    let at = spoilt.windows(6).rposition(|w| w == b"record").unwrap();
    spoilt[at] ^= 1;
    fs::write(&path, &spoilt).unwrap();
    let said = refused(&state).to_string();
    assert!(said.contains("before an import a copy is kept"), "{said}");
    assert_eq!(automatic_copies(&state, &path), vec![]);
    assert_eq!(fs::read(&path).unwrap(), spoilt);
    fs::write(&path, &whole).unwrap();
    // A copy with the right bytes at first, spoilt since, is not taken for one.
    let kept = copy_before(&state, &path, Occasion::Import).unwrap();
    fs::write(&kept, &spoilt).unwrap();
    let fresh = copy_before(&state, &path, Occasion::Import).unwrap();
    assert_ne!(fresh, kept);
    assert_eq!(fs::read(fresh).unwrap(), whole);
    let blocked = State::at(folder.path().join("blocked")).on(today());
    fs::create_dir(blocked.folder()).unwrap();
    fs::write(blocked.folder().join("copies"), "in the way").unwrap();
    assert_eq!(refused(&blocked).class(), Class::System);
}
