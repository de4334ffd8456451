//! How a ledger stands to its mark: as it was, grown elsewhere, or at odds with what this computer knows.

use std::fmt;

use rusqlite::Connection;

use super::chain::{self, Head};
use super::fault::Fault;
use super::mark::Mark;

/// Where a history ends.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct End {
    /// Its last entry.
    pub entry: i64,
    /// Its fingerprint there.
    pub fingerprint: String,
}

impl End {
    fn of(head: &Head) -> Self {
        Self {
            entry: head.txn,
            fingerprint: fingerprint(&head.hash),
        }
    }

    /// The end that a mark knows.
    pub(super) fn known(mark: &Mark) -> Self {
        Self {
            entry: mark.entry,
            fingerprint: fingerprint(&mark.head),
        }
    }
}

/// The first eight digits of a hash or an id.
pub(super) fn fingerprint(hash: &str) -> String {
    hash.chars().take(8).collect()
}

impl fmt::Display for End {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "entry {} (fingerprint {})", self.entry, self.fingerprint)
    }
}

/// How a file contradicts what this computer knows of the ledger.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Odds {
    /// Its history ends before the last entry known.
    Behind {
        /// The end known.
        known: End,
        /// The end found.
        found: End,
    },
    /// Its history lacks the last entry known and has others instead.
    Diverged {
        /// The end known.
        known: End,
        /// The end found.
        found: End,
    },
    /// It is another ledger than the one known at its place.
    Other {
        /// The first digits of the id known.
        known: String,
        /// The first digits of the id found.
        found: String,
    },
}

impl fmt::Display for Odds {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Behind { known, found } => {
                write!(f, "it ends with {found}, but is known here up to {known}")
            }
            Self::Diverged { known, found } => write!(
                f,
                "it went another way: it ends with {found} and lacks {known}, which is known here"
            ),
            Self::Other { known, found } => write!(
                f,
                "it is another ledger (id {found}...) than the one known at this place (id {known}...)"
            ),
        }
    }
}

/// How a ledger stands to its mark.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Standing {
    /// The file is as this computer last wrote or verified it, byte for byte.
    AsWritten,
    /// This computer knows nothing of it.
    New,
    /// Its history is the one known; the file was written anew.
    Same,
    /// Its history holds the one known and has grown since.
    Grown {
        /// The end known.
        known: End,
    },
    /// It contradicts what is known.
    AtOdds(Odds),
}

impl Standing {
    /// How it contradicts what is known, if it does.
    #[must_use]
    pub const fn odds(&self) -> Option<&Odds> {
        match self {
            Self::AtOdds(odds) => Some(odds),
            _ => None,
        }
    }
}

/// Judges a ledger by its mark; whether the bytes are the same was looked at before.
pub(super) fn judge(
    connection: &Connection,
    id: &str,
    head: &Head,
    mark: Option<&Mark>,
) -> Result<Standing, Fault> {
    let Some(mark) = mark else {
        return Ok(Standing::New);
    };
    if mark.ledger != id {
        return Ok(Standing::AtOdds(Odds::Other {
            known: fingerprint(&mark.ledger),
            found: fingerprint(id),
        }));
    }
    let (known, found) = (End::known(mark), End::of(head));
    if mark.seq > head.seq {
        return Ok(Standing::AtOdds(Odds::Behind { known, found }));
    }
    let there = mark.seq == 0 || chain::hash_at(connection, mark.seq)?.as_ref() == Some(&mark.head);
    Ok(match there {
        false => Standing::AtOdds(Odds::Diverged { known, found }),
        true if mark.seq == head.seq => Standing::Same,
        true => Standing::Grown { known },
    })
}
