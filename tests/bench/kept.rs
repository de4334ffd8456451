//! An invented ledger as a file, for commands to be timed on.

use std::path::Path;

use locule::records::change::RowChange;
use locule::records::facts::Facts;
use locule::records::rows::Table;
use locule::store::{EntryKind, EntryNote, Identity, Ledger, State};

/// Writes facts to a new ledger, as one entry.
pub fn keep(facts: &Facts, path: &Path) {
    let identity = Identity {
        ledger_id: "invented".to_owned(),
    };
    let state = State::at(path.with_extension("state"));
    let mut ledger = Ledger::create(path, &identity, &state).expect("a place for a new ledger");
    let note = EntryNote {
        at_utc: "2026-06-20T12:00:00Z".to_owned(),
        utc_offset: "+00:00".to_owned(),
        command: "init".to_owned(),
        kind: EntryKind::Init,
    };
    let rows = Table::ALL.iter().flat_map(|table| facts.all(*table));
    let changes: Vec<RowChange> = rows.map(RowChange::insert).collect();
    ledger
        .record(&note, &changes, facts.counters())
        .expect("the invented ledger is sound");
}
