//! What is to be said beside an answer about the ledger it was given from.

use std::fmt;
use std::path::PathBuf;

use super::error::NamedEntry;
use super::standing::Odds;

/// Something that a person should know although the command goes on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Notice {
    /// The ledger contradicts what this computer knows of it: nothing is recorded in it.
    AtOdds {
        /// The file.
        file: PathBuf,
        /// How.
        odds: Odds,
        /// A copy that holds what is known, or most of it.
        copy: Option<PathBuf>,
    },
    /// A journal that does not belong to the ledger was taken away from beside it.
    JournalSetAside {
        /// The journal.
        journal: PathBuf,
        /// Where it lies now, with a copy of the ledger.
        aside: PathBuf,
    },
    /// An interrupted write was taken back that had reached the file as a whole.
    TakenBack {
        /// The file.
        file: PathBuf,
        /// What it had written.
        entry: NamedEntry,
    },
    /// The journal beside it could not be dealt with in its place; the answer comes from a copy.
    OnCopy {
        /// The file.
        file: PathBuf,
    },
}

impl fmt::Display for Notice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::AtOdds { file, odds, .. } => write!(f, "{}: {odds}", file.display()),
            Self::JournalSetAside { journal, aside } => write!(
                f,
                "{} did not belong to the ledger beside it, which stays as it was; it now lies in {}",
                journal.display(),
                aside.display()
            ),
            Self::TakenBack { file, entry } => write!(
                f,
                "{}: a write was interrupted and is taken back, so it is not recorded: entry {entry}",
                file.display()
            ),
            Self::OnCopy { file } => write!(
                f,
                "{}: a journal stands beside it and the folder is read-only; this answer comes from a copy that was put in order",
                file.display()
            ),
        }
    }
}
