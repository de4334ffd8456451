//! How a ledger file fails a command: the store's words, and a remedy that is not the command just refused.
//!
//! The store knows the file and says what is wrong; which command helps is known here.

use super::exit::Exit;
use super::failure::Failure;
use super::remarks::restore;
use super::world::quoted;
use crate::records::admit::Remedy;
use crate::store::{Class, StoreError};

/// A ledger's name for examples, beside whatever stands in the way.
const OTHER: &str = "season.db";

impl From<StoreError> for Failure {
    fn from(error: StoreError) -> Self {
        let exit = match error.class() {
            Class::Refused => Exit::Refused,
            Class::Busy => Exit::Busy,
            Class::Damaged => Exit::Damaged,
            Class::System => Exit::System,
        };
        let mut failure = Self::new(exit, error.to_string());
        for cause in error.causes() {
            failure = failure.because(cause);
        }
        remedied(failure, &error)
    }
}

fn remedied(failure: Failure, error: &StoreError) -> Failure {
    let hinted = |failure: Failure| match error.hint() {
        Some(command) => failure.try_typing(command),
        None => failure,
    };
    match error {
        StoreError::NotADatabase { .. }
        | StoreError::Foreign { .. }
        | StoreError::Empty { .. }
        | StoreError::Truncated { .. }
        | StoreError::Damaged { .. }
        | StoreError::Newer { .. }
        | StoreError::NotUpgraded { .. } => hinted(failure),
        StoreError::BeyondCheck { .. } => {
            hinted(failure.try_typing("locule check-ledger --rebuild rebuilt.db"))
        }
        StoreError::Missing { .. } | StoreError::FolderMissing { .. } => {
            failure.try_typing("locule init")
        }
        StoreError::Exists { .. } | StoreError::Permission { .. } => failure.try_elsewhere(OTHER),
        StoreError::Links { file, .. } => failure
            .try_typing(format!(
                "cp {} {OTHER}",
                quoted(&file.display().to_string())
            ))
            .try_elsewhere(OTHER),
        StoreError::ReadOnly { .. } => failure
            .try_typing(format!("locule backup {OTHER}"))
            .try_elsewhere(OTHER),
        StoreError::AtOdds { copy: None, .. } => failure.try_typing("locule accept"),
        StoreError::AtOdds { copy, .. } => failure
            .try_typing(restore(copy.as_deref()))
            .try_typing("locule accept"),
        StoreError::Place(_) => failure.try_elsewhere(OTHER),
        StoreError::AlreadyImported { entry, .. } => {
            failure.try_typing(format!("locule undo {}", entry.entry))
        }
        StoreError::Merge { .. } => failure.try_typing("locule import season.jsonl --dry-run"),
        StoreError::ImportLine { .. } => failure.try_typing("locule export season.jsonl"),
        StoreError::BuiltUpon { later, .. } => match later.last() {
            Some(last) => failure.try_typing(format!("locule undo {}", last.entry)),
            None => failure.try_typing("locule history"),
        },
        StoreError::CodeTaken { holder, .. } => {
            failure.try_typing(format!("locule undo {}", holder.entry))
        }
        StoreError::AlreadyUndone { .. } => failure.try_typing("locule redo"),
        StoreError::Busy { .. }
        | StoreError::Stale { .. }
        | StoreError::Full { .. }
        | StoreError::InterruptedWrite { .. }
        | StoreError::Sibling { .. }
        | StoreError::State { .. }
        | StoreError::NoCopy { .. }
        | StoreError::NotRecorded { .. } => failure.try_remedy(Remedy::Again),
        StoreError::Io { what, .. } if *what == "making it" => failure.try_elsewhere(OTHER),
        StoreError::Moved { .. } | StoreError::Io { .. } | StoreError::Sqlite { .. } => failure
            .try_typing("locule check-ledger")
            .try_elsewhere(OTHER),
        _ => hinted(failure),
    }
}
