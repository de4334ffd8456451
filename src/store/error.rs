//! What can go wrong with a ledger file, in words a grower can act on.
//!
//! Every error names the file and the fault, says whether anything was changed and what to do
//! ([`StoreError::causes`]), and most know a command that helps ([`StoreError::hint`]). SQLite's own texts
//! never stand alone: they come as a cause at most. Exit codes are the caller's; [`Class`] is what
//! it maps.

use std::io;
use std::path::PathBuf;

use super::place::PlaceError;
use super::standing::Odds;
use crate::records::merge::MergeRefusal;

/// The four classes that a caller treats differently.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Class {
    /// The request can't be carried out; nothing was written.
    Refused,
    /// Another process is writing.
    Busy,
    /// The file is damaged, foreign or newer.
    Damaged,
    /// The system failed.
    System,
}

/// An entry named in a refusal: its number and what was typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamedEntry {
    /// Its number.
    pub entry: i64,
    /// What was typed.
    pub command: String,
}

impl std::fmt::Display for NamedEntry {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} ({})", self.entry, self.command)
    }
}

/// How many entries or records a message names.
pub(super) const SHOWN: usize = 5;

pub(super) fn list(entries: &[NamedEntry]) -> String {
    let mut words: Vec<String> = entries
        .iter()
        .take(SHOWN)
        .map(ToString::to_string)
        .collect();
    if entries.len() > SHOWN {
        words.push(format!("{} more", entries.len() - SHOWN));
    }
    words.join(", ")
}

/// Why the store refused or failed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// No such file.
    #[error("there is no ledger at {}", file.display())]
    Missing {
        /// The file.
        file: PathBuf,
    },
    /// Something is there already.
    #[error("{} is there already and was left as it is", file.display())]
    Exists {
        /// The file.
        file: PathBuf,
    },
    /// Its folder is not there.
    #[error("the folder {} is not there, so nothing was read or written", folder.display())]
    FolderMissing {
        /// The folder.
        folder: PathBuf,
    },
    /// The file was moved or replaced while in use.
    #[error("{} was moved, replaced or deleted while it was in use", file.display())]
    Moved {
        /// The file.
        file: PathBuf,
    },
    /// Not allowed by the system.
    #[error("{}: this user may not read or write it", file.display())]
    Permission {
        /// The file.
        file: PathBuf,
    },
    /// The file or its folder cannot be written.
    #[error("{} or its folder is read-only", file.display())]
    ReadOnly {
        /// The file.
        file: PathBuf,
    },
    /// An interrupted write has to be taken back, in a folder that cannot be written.
    #[error("{}: a write was interrupted and must be taken back first, but the file or its folder is read-only", file.display())]
    InterruptedWrite {
        /// The file.
        file: PathBuf,
    },
    /// Its journal leads to nothing that fits, and without it the file is not whole.
    #[error("{}: the journal beside it does not belong to it ({why})", file.display())]
    JournalUnfit {
        /// The file.
        file: PathBuf,
        /// Where copies of both lie.
        aside: PathBuf,
        /// What following it leads to.
        why: String,
    },
    /// It contradicts what this computer knows of it.
    #[error("{}: {odds}", file.display())]
    AtOdds {
        /// The file.
        file: PathBuf,
        /// How.
        odds: Odds,
        /// A copy that holds what is known, or most of it.
        copy: Option<PathBuf>,
    },
    /// The state folder cannot be used.
    #[error("the state folder {} cannot be used, so nothing was read or written", folder.display())]
    State {
        /// The folder.
        folder: PathBuf,
        /// The cause.
        source: io::Error,
    },
    /// Another process is writing.
    #[error("another process is writing to {}", file.display())]
    Busy {
        /// The file.
        file: PathBuf,
    },
    /// Another process has written since the facts were read.
    #[error("another process has recorded in {} since this command began", file.display())]
    Stale {
        /// The file.
        file: PathBuf,
    },
    /// No room on the disk.
    #[error("the disk that holds {} is full", file.display())]
    Full {
        /// The file.
        file: PathBuf,
    },
    /// Of no length, or nothing but zeros.
    #[error("{} is empty: a placeholder of a sync program, or an interrupted copy?", file.display())]
    Empty {
        /// The file.
        file: PathBuf,
    },
    /// Not an SQLite file.
    #[error("{} is no ledger: {what}", file.display())]
    NotADatabase {
        /// The file.
        file: PathBuf,
        /// What it is instead.
        what: &'static str,
    },
    /// Shorter or longer than its own header says.
    #[error("{} has {found} bytes where its header says {wanted}: cut off, or copied while it was written?", file.display())]
    Truncated {
        /// The file.
        file: PathBuf,
        /// Length by the header.
        wanted: u64,
        /// Length found.
        found: u64,
    },
    /// The content contradicts itself.
    #[error("{} is damaged: {what}", file.display())]
    Damaged {
        /// The file.
        file: PathBuf,
        /// What was found.
        what: String,
    },
    /// Damaged so that it cannot even be opened to be checked.
    #[error("{} is damaged and cannot be checked: {what}", file.display())]
    BeyondCheck {
        /// The file.
        file: PathBuf,
        /// What was found.
        what: String,
    },
    /// An SQLite file of another program.
    #[error("{} belongs to another program (application id {found:#010x})", file.display())]
    Foreign {
        /// The file.
        file: PathBuf,
        /// The application id found.
        found: u32,
    },
    /// Written by a newer version of this program.
    #[error("{} has ledger version {found}, and this program knows versions up to {known}", file.display())]
    Newer {
        /// The file.
        file: PathBuf,
        /// Its version.
        found: u32,
        /// The newest version known here.
        known: u32,
    },
    /// A write-ahead log stands beside it.
    #[error("{} stands beside the ledger: another program had it open in another mode", sibling.display())]
    Sibling {
        /// The file beside the ledger.
        sibling: PathBuf,
    },
    /// The file has more than one name.
    #[error("{} has {links} names (hard links), and a write under one could be lost under another", file.display())]
    Links {
        /// The file.
        file: PathBuf,
        /// How many names.
        links: u64,
    },
    /// A record breaks a rule of its table.
    #[error("{}: {what}", file.display())]
    Rule {
        /// The file.
        file: PathBuf,
        /// Which rule.
        what: String,
    },
    /// Nothing to undo.
    #[error("{}: there is nothing to undo", file.display())]
    NothingToUndo {
        /// The file.
        file: PathBuf,
    },
    /// No such entry.
    #[error("{}: there is no entry {entry}", file.display())]
    NoSuchEntry {
        /// The file.
        file: PathBuf,
        /// The number asked for.
        entry: i64,
    },
    /// The entry is undone already.
    #[error("{}: entry {entry} is undone already, by entry {by}", file.display())]
    AlreadyUndone {
        /// The file.
        file: PathBuf,
        /// The entry.
        entry: NamedEntry,
        /// The entry that undid it.
        by: i64,
    },
    /// The entry is the ledger's beginning, an undo or a redo.
    #[error("{}: entry {entry} is {what} and cannot be undone", file.display())]
    NotUndoable {
        /// The file.
        file: PathBuf,
        /// The entry.
        entry: NamedEntry,
        /// What it is.
        what: &'static str,
    },
    /// Later entries build on the entry.
    #[error("{}: entry {entry} cannot be undone while later entries build on it: {}", file.display(), list(later))]
    BuiltUpon {
        /// The file.
        file: PathBuf,
        /// The entry.
        entry: NamedEntry,
        /// The later entries, oldest first.
        later: Vec<NamedEntry>,
    },
    /// Records would no longer agree.
    #[error("{}: '{command}' would leave records that do not agree", file.display())]
    Discord {
        /// The file.
        file: PathBuf,
        /// What was asked for: `undo 3`, `redo`.
        command: String,
        /// The records, and what would be wrong with them.
        leaves: Vec<String>,
    },
    /// Nothing to redo.
    #[error("{}: there is nothing to redo: an undo is taken back only while nothing was recorded after it", file.display())]
    NothingToRedo {
        /// The file.
        file: PathBuf,
    },
    /// A code that would come back is held by another thing.
    #[error("{}: '{code}' now names another {thing}, recorded by entry {holder}", file.display())]
    CodeTaken {
        /// The file.
        file: PathBuf,
        /// The code.
        code: String,
        /// What kind of thing holds it.
        thing: &'static str,
        /// The entry that gave it.
        holder: NamedEntry,
    },
    /// An export that is cut, edited or not ours.
    #[error("line {line} of the export: {what}")]
    ImportLine {
        /// The line, from 1.
        line: u64,
        /// What is wrong with it.
        what: String,
    },
    /// The export is of this very ledger, at another entry.
    #[error("the export is this very ledger {what}")]
    OtherState {
        /// The ledger.
        file: PathBuf,
        /// How the two states stand to each other.
        what: &'static str,
    },
    /// The other ledger was brought in before.
    #[error("{}: entry {entry} brought that ledger in already; the export is {what}", file.display())]
    AlreadyImported {
        /// The ledger.
        file: PathBuf,
        /// The entry.
        entry: NamedEntry,
        /// How the export stands to what was brought in.
        what: &'static str,
    },
    /// Both ledgers hold records of a third, or the other holds records of this one.
    #[error("{}: the export holds records of the ledger {ledger}, and they are here already", file.display())]
    SharedRecords {
        /// The ledger.
        file: PathBuf,
        /// The id of the ledger they came from, shortened.
        ledger: String,
    },
    /// The records of the other ledger do not go together with those here.
    #[error("{refusal}")]
    Merge {
        /// The ledger.
        file: PathBuf,
        /// Why.
        refusal: MergeRefusal,
    },
    /// Written by an older version of this program.
    #[error("{} has ledger version {found}, and this program writes version {known}", file.display())]
    Older {
        /// The file.
        file: PathBuf,
        /// Its version.
        found: u32,
        /// The version that this program writes.
        known: u32,
    },
    /// An upgrade did not pass its checks.
    #[error("{} has ledger version {found} and could not be upgraded to version {known}: {what}", file.display())]
    NotUpgraded {
        /// The file.
        file: PathBuf,
        /// Its version.
        found: u32,
        /// The version it was to have.
        known: u32,
        /// What stood in the way.
        what: String,
    },
    /// The write failed, but the record is there.
    #[error("{}: the system reported a failure ({cause}), but entry {entry} was recorded", file.display())]
    Recorded {
        /// The file.
        file: PathBuf,
        /// The entry.
        entry: i64,
        /// What the system said.
        cause: String,
    },
    /// The write failed, and the record is not there.
    #[error("{}: the system failed ({cause}) and nothing was recorded", file.display())]
    NotRecorded {
        /// The file.
        file: PathBuf,
        /// What the system said.
        cause: String,
    },
    /// The write failed, and whether the record is there could not be seen.
    #[error("{}: the system failed ({cause}), and whether entry {entry} was recorded is unknown", file.display())]
    Unknown {
        /// The file.
        file: PathBuf,
        /// The entry.
        entry: i64,
        /// What the system said.
        cause: String,
    },
    /// A copy was to be put in the place of the ledger itself, or from it.
    #[error("{} is the ledger itself", file.display())]
    Itself {
        /// The ledger.
        file: PathBuf,
    },
    /// A copy of the same ledger holds more.
    #[error("{} holds more of this ledger: {entries} entries, not all of them among the {own} of {}", file.display(), ledger.display())]
    BiggerCopy {
        /// The copy.
        file: PathBuf,
        /// Its last entry.
        entries: i64,
        /// The ledger.
        ledger: PathBuf,
        /// The ledger's last entry.
        own: i64,
    },
    /// Another ledger stands where a copy was to go.
    #[error("{} is not the same ledger as {}", file.display(), other.display())]
    OtherLedger {
        /// What stands there.
        file: PathBuf,
        /// What was to go there.
        other: PathBuf,
    },
    /// What stands in the place of the ledger was never one.
    #[error("{} is no ledger and was not replaced", file.display())]
    NotReplaced {
        /// The file.
        file: PathBuf,
    },
    /// Entries would go out of the ledger.
    #[error("{} holds entries that {} does not", file.display(), copy.display())]
    WouldLose {
        /// The ledger.
        file: PathBuf,
        /// The copy.
        copy: PathBuf,
        /// The entries in the ledger alone.
        present_only: Vec<NamedEntry>,
        /// The entries in the copy alone.
        copy_only: Vec<NamedEntry>,
    },
    /// The copy that has to be there first could not be kept.
    #[error("{}: before {before} a copy is kept, and that failed ({cause})", file.display())]
    NoCopy {
        /// The ledger.
        file: PathBuf,
        /// Before what.
        before: &'static str,
        /// What failed.
        cause: String,
    },
    /// A file could not be put where it was wanted.
    #[error(transparent)]
    Place(#[from] PlaceError),
    /// The system failed otherwise.
    #[error("{}: {what} failed", file.display())]
    Io {
        /// The file.
        file: PathBuf,
        /// What was being done.
        what: &'static str,
        /// The cause.
        source: io::Error,
    },
    /// SQLite failed in a way that has no words of its own here.
    #[error("{}: SQLite failed", file.display())]
    Sqlite {
        /// The file.
        file: PathBuf,
        /// The cause.
        source: rusqlite::Error,
    },
}

impl StoreError {
    /// The class it belongs to.
    #[must_use]
    pub fn class(&self) -> Class {
        match self {
            Self::Place(place) => place.class(),
            Self::State { source, .. } if is_full(source) => Class::System,
            Self::Busy { .. } | Self::Stale { .. } => Class::Busy,
            Self::Empty { .. }
            | Self::NotADatabase { .. }
            | Self::Truncated { .. }
            | Self::Damaged { .. }
            | Self::BeyondCheck { .. }
            | Self::Foreign { .. }
            | Self::Newer { .. }
            | Self::JournalUnfit { .. }
            | Self::AtOdds { .. }
            | Self::NotUpgraded { .. }
            | Self::Sibling { .. } => Class::Damaged,
            Self::Full { .. }
            | Self::Moved { .. }
            | Self::NoCopy { .. }
            | Self::Recorded { .. }
            | Self::NotRecorded { .. }
            | Self::Unknown { .. }
            | Self::Io { .. }
            | Self::Sqlite { .. } => Class::System,
            _ => Class::Refused,
        }
    }
}

/// Whether the system says that the disk has no room.
pub(super) fn is_full(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded
    )
}
