//! Random seasons with undo and redo in between.

use locule::store::{EntryKind, Imported, Ledger, StoreError, import_new};
use proptest::prelude::*;

use super::seasons::{all_rows, begun, export, play, record_lines, stamp, state};

/// Undoes or redoes at random; a refusal must leave everything as it was.
fn meddle(ledger: &mut Ledger, choice: u8) {
    let before = export(ledger);
    let outcome = match choice % 4 {
        0 => ledger.redo(&stamp()),
        1 => ledger.undo(
            Some(i64::from(choice) % (ledger.last_entry() + 2)),
            &stamp(),
        ),
        _ => ledger.undo(None, &stamp()),
    };
    match outcome {
        Ok(entry) => assert_eq!(entry, ledger.last_entry()),
        Err(
            StoreError::NothingToUndo { .. }
            | StoreError::NothingToRedo { .. }
            | StoreError::NoSuchEntry { .. }
            | StoreError::AlreadyUndone { .. }
            | StoreError::NotUndoable { .. }
            | StoreError::BuiltUpon { .. }
            | StoreError::CodeTaken { .. },
        ) => assert_eq!(export(ledger), before),
        Err(other) => panic!("{other}"),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn any_season_stays_clean_and_travels(steps in prop::collection::vec(any::<(u8, u8, bool)>(), 1..40)) {
        let folder = tempfile::tempdir().unwrap();
        let mut ledger = begun(&folder.path().join("ledger.db"));
        for (kind, salt, back) in steps {
            if back && salt.is_multiple_of(3) {
                meddle(&mut ledger, kind);
            } else {
                play(&mut ledger, kind, salt);
            }
        }
        prop_assert_eq!(ledger.check(), vec![]);
        let text = export(&ledger);
        let copy = folder.path().join("copy.db");
        prop_assert_eq!(import_new(&copy, &state(), text.as_bytes()).unwrap(), Imported::Made);
        let mut again = Ledger::open_to_write(&copy, &state()).unwrap();
        prop_assert_eq!(export(&again), text);
        prop_assert_eq!(again.facts().unwrap(), ledger.facts().unwrap());
        prop_assert_eq!(again.history().unwrap(), ledger.history().unwrap());
    }

    #[test]
    fn undo_after_do_restores_every_table(
        start in prop::collection::vec(any::<(u8, u8)>(), 0..12),
        steps in prop::collection::vec(any::<(u8, u8)>(), 1..12),
    ) {
        let folder = tempfile::tempdir().unwrap();
        let mut ledger = begun(&folder.path().join("ledger.db"));
        for (kind, salt) in start {
            play(&mut ledger, kind, salt);
        }
        let mut states = Vec::new();
        for (kind, salt) in steps {
            let before = (all_rows(&mut ledger), record_lines(&ledger));
            if play(&mut ledger, kind, salt) {
                states.push(before);
            }
        }
        let end = all_rows(&mut ledger);
        let counters = ledger.facts().unwrap().counters().clone();
        for (rows, lines) in states.iter().rev() {
            ledger.undo(None, &stamp()).unwrap();
            prop_assert_eq!(&all_rows(&mut ledger), rows);
            prop_assert_eq!(&record_lines(&ledger), lines);
        }
        prop_assert_eq!(ledger.facts().unwrap().counters().clone(), counters);
        for _ in &states {
            ledger.redo(&stamp()).unwrap();
        }
        prop_assert_eq!(all_rows(&mut ledger), end);
        prop_assert_eq!(ledger.check(), vec![]);
    }

    #[test]
    fn history_tells_what_was_done(steps in prop::collection::vec(any::<(u8, u8)>(), 1..10)) {
        let folder = tempfile::tempdir().unwrap();
        let mut ledger = begun(&folder.path().join("ledger.db"));
        let mut facts = ledger.facts().unwrap();
        for (kind, salt) in steps {
            play(&mut ledger, kind, salt);
        }
        let history = ledger.history().unwrap();
        prop_assert_eq!(history[0].kind, EntryKind::Init);
        for entry in &history[1..] {
            let changes = ledger.changes_of(entry.entry).unwrap();
            prop_assert_eq!(changes.len(), entry.changes);
            for change in &changes {
                let touching = ledger.changes_touching(&[(change.table, change.id)]).unwrap();
                prop_assert!(touching[&entry.entry].contains(change));
                facts.apply(change);
            }
        }
        let now = ledger.facts().unwrap();
        prop_assert_eq!(&*facts, &*now);
    }
}
