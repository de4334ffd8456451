//! Random seasons with undo and redo in between.

use locule::store::{EntryKind, Export, Ledger, Over, StoreError, import_new, rebuild, restore};
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
        import_new(&copy, &state(), &Export::read(text.as_bytes()).unwrap()).unwrap();
        let mut again = Ledger::open_to_write(&copy, &state()).unwrap();
        prop_assert_eq!(export(&again), text);
        prop_assert_eq!(again.facts().unwrap(), ledger.facts().unwrap());
        prop_assert_eq!(again.history().unwrap(), ledger.history().unwrap());
    }

    #[test]
    fn a_copy_put_back_is_the_ledger_as_it_was(
        steps in prop::collection::vec(any::<(u8, u8)>(), 1..20),
        later in prop::collection::vec(any::<(u8, u8)>(), 0..10),
    ) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger.db");
        let mut ledger = begun(&path);
        for (kind, salt) in steps {
            play(&mut ledger, kind, salt);
        }
        let (text, bytes) = (export(&ledger), std::fs::read(&path).unwrap());
        let copy = folder.path().join("copy.db");
        let made = ledger.backup(&copy, Over::Nothing).unwrap();
        prop_assert_eq!((made.entries, made.bytes), (ledger.last_entry(), bytes.len() as u64));
        prop_assert_eq!(&std::fs::read(&copy).unwrap(), &bytes);
        let mut then = Vec::new();
        for (kind, salt) in later {
            if play(&mut ledger, kind, salt) {
                then.push(ledger.last_entry());
            }
        }
        drop(ledger);
        let grown = std::fs::read(&path).unwrap();
        let outcome = restore(&path, &copy, false, &state());
        if then.is_empty() {
            prop_assert!(!outcome.unwrap().is_changed);
        } else {
            let refused = outcome.unwrap_err();
            prop_assert!(matches!(
                &refused,
                StoreError::WouldLose { present_only, copy_only, .. }
                    if copy_only.is_empty()
                        && present_only.iter().map(|named| named.entry).eq(then.iter().copied())
            ), "{:?}", refused);
            prop_assert_eq!(&std::fs::read(&path).unwrap(), &grown);
            let restored = restore(&path, &copy, true, &state()).unwrap();
            let aside = restored.aside.unwrap().join("ledger.db");
            prop_assert_eq!(std::fs::read(aside).unwrap(), grown);
        }
        let again = Ledger::open_to_ask(&path, &state()).unwrap();
        prop_assert_eq!(export(&again), text);
        prop_assert_eq!(again.check(), vec![]);
    }

    #[test]
    fn a_ledger_built_from_its_history_is_the_same_ledger(
        steps in prop::collection::vec(any::<(u8, u8)>(), 1..20),
    ) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger.db");
        let mut ledger = begun(&path);
        for (kind, salt) in steps {
            play(&mut ledger, kind, salt);
        }
        let text = export(&ledger);
        drop(ledger);
        let built = folder.path().join("built.db");
        let rebuilt = rebuild(&path, &built, Over::Nothing, &state()).unwrap();
        prop_assert_eq!((rebuilt.broken, rebuilt.lost), (None, vec![]));
        prop_assert_eq!(export(&Ledger::open_to_ask(&built, &state()).unwrap()), text);
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
