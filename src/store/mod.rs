//! The ledger file: made, opened, read, written, undone, checked, exported and imported.
//!
//! The promise: once an entry is recorded it survives a killed program and, on a disk that honours flush, a
//! power cut; the tables are a projection of an append-only, hash-chained list of changes, and nothing that
//! was ever recorded leaves that list. This room applies what it is given and refuses to know what a
//! cross or a tray is: the gate in [`crate::records`] decides what may be recorded. The command line calls
//! it. Stands on `records` alone.

mod accept;
mod apply;
mod backup;
mod chain;
mod check;
mod copies;
mod error;
mod export;
mod fault;
mod history;
mod import;
mod journal;
mod ledger;
mod lines;
mod looks;
mod mark;
mod merge;
mod notice;
mod opening;
mod payload;
mod place;
mod rebuild;
mod references;
mod remedy;
mod replay;
mod restore;
mod salvage;
mod schema;
mod settings;
mod standing;
mod state;
mod still;
mod undo;
mod upgrade;

pub use accept::{Accepted, Tails, Unkept, unkept};
pub use backup::{BackedUp, copy_name};
pub use check::{Finding, Part};
pub use copies::{AutomaticCopy, Occasion, automatic_copies, before as copy_before};
pub use error::{Class, NamedEntry, StoreError};
pub use history::{EntryKind, EntryNote, HistoryEntry, Stamp};
pub use import::{Export, Imported, import_new};
pub use ledger::{Identity, Ledger};
pub use looks::stands_for_a_ledger;
pub use merge::{Foresight, Merged, Request};
pub use notice::Notice;
pub use place::{Over, PlaceError, write_file};
pub use rebuild::{Rebuilt, rebuild};
pub use restore::{Restored, restore};
pub use standing::{End, Odds, Standing};
pub use state::State;

/// Bytes as lower-case hexadecimal.
fn hex(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    let digit = |nibble: u8| char::from(DIGITS[usize::from(nibble)]);
    bytes
        .iter()
        .flat_map(|byte| [digit(byte >> 4), digit(byte & 15)])
        .collect()
}
