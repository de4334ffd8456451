//! The copy of a ledger that a person asks for: verified before it has its name, and never in place of one that
//! holds more.

use std::path::{Path, PathBuf};

use rusqlite::OptionalExtension;

use super::error::StoreError;
use super::fault::Fault;
use super::ledger::Ledger;
use super::looks;
use super::place::{Draft, Over, PlaceError};
use super::still::{self, Still};
use crate::records::day::Day;

/// A copy that was made, or was there already.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BackedUp {
    /// The copy.
    pub file: PathBuf,
    /// Its last entry.
    pub entries: i64,
    /// Its fingerprint.
    pub fingerprint: String,
    /// How many bytes it has.
    pub bytes: u64,
    /// Whether it was made now; else a file with these very bytes was there.
    pub is_new: bool,
}

impl Ledger {
    /// Writes a verified copy of the ledger.
    ///
    /// # Errors
    /// [`StoreError`]; [`StoreError::BiggerCopy`] where it would take the place of one that holds more,
    /// [`StoreError::OtherLedger`] of one of another ledger. Then nothing was changed.
    pub fn backup(&self, place: &Path, over: Over) -> Result<BackedUp, StoreError> {
        guard(self.path(), place, over)?;
        let mut still = Still::hold(self.path())?;
        let mut draft = Draft::of_ledger(place, over)?;
        still.copy_into(&mut draft)?;
        let sound = still::verify(draft.path()).map_err(|error| as_copied(error, place))?;
        if (sound.id.as_str(), &sound.head) != (still.id(), still.head()) {
            return Err(StoreError::Moved {
                file: self.path().to_owned(),
            });
        }
        draft.put()?;
        self.copy_at(place.to_owned(), true)
    }

    /// As [`Ledger::backup`], beside the ledger, under a name with the day in it; where a file of such a name has
    /// these very bytes, that is the copy.
    ///
    /// # Errors
    /// As [`Ledger::backup`].
    pub fn backup_beside(&self, day: Day) -> Result<BackedUp, StoreError> {
        let mut number = 1;
        loop {
            let place = self
                .path()
                .with_file_name(copy_name(self.path(), day, number));
            if std::fs::symlink_metadata(&place).is_err() {
                return self.backup(&place, Over::Nothing);
            }
            let same = Still::hold(self.path())?.digest()?;
            if still::digest_of(&place).is_ok_and(|digest| digest == same) {
                return self.copy_at(place, false);
            }
            number += 1;
        }
    }

    fn copy_at(&self, file: PathBuf, is_new: bool) -> Result<BackedUp, StoreError> {
        let about = std::fs::metadata(&file);
        let about = about.map_err(|error| StoreError::from_io(&file, "looking at it", error))?;
        Ok(BackedUp {
            file,
            entries: self.last_entry(),
            fingerprint: self.fingerprint(),
            bytes: about.len(),
            is_new,
        })
    }
}

/// `season-2026-03-01.db`, `season-2026-03-01-2.db`...
#[must_use]
pub fn copy_name(ledger: &Path, day: Day, number: u32) -> String {
    let stem = ledger.file_stem().unwrap_or_default().to_string_lossy();
    let ending = ledger.extension().map_or_else(
        || "db".into(),
        |ending| ending.to_string_lossy().into_owned(),
    );
    match number {
        1 => format!("{stem}-{day}.{ending}"),
        number => format!("{stem}-{day}-{number}.{ending}"),
    }
}

/// The damage of a copy is named by the place it was for.
fn as_copied(error: StoreError, place: &Path) -> StoreError {
    match error {
        StoreError::Damaged { what, .. } => StoreError::Damaged {
            file: place.to_owned(),
            what: format!("the copy did not pass its check ({what})"),
        },
        other => other,
    }
}

/// Refuses a place at which a copy or a new ledger would take more away than it brings: the ledger itself, another
/// ledger, or a copy of the same that holds what the ledger does not.
pub(super) fn guard(ledger: &Path, place: &Path, over: Over) -> Result<(), StoreError> {
    let Ok(there) = std::fs::canonicalize(place) else {
        return Ok(());
    };
    if there == ledger {
        return Err(StoreError::Itself {
            file: ledger.to_owned(),
        });
    }
    if over == Over::Nothing {
        return Ok(());
    }
    if looks::look_beside(&there)? == looks::Beside::Journal {
        return Err(PlaceError::Sibling {
            sibling: looks::beside(&there, "-journal"),
        }
        .into());
    }
    let Ok(old) = Still::hold(&there) else {
        return Ok(());
    };
    let ours = Still::hold(ledger)?;
    if ours.id() != old.id() {
        return Err(StoreError::OtherLedger {
            file: there.clone(),
            other: ledger.to_owned(),
        });
    }
    let contains = contains(&ours, &old).map_err(|fault| fault.at(ledger))?;
    if contains {
        return Ok(());
    }
    Err(StoreError::BiggerCopy {
        file: there.clone(),
        entries: old.head().txn,
        ledger: ledger.to_owned(),
        own: ours.head().txn,
    })
}

/// Whether one history holds the end of another.
fn contains(ours: &Still, old: &Still) -> Result<bool, Fault> {
    let end = old.head();
    let hash: Option<String> = ours
        .connection()
        .query_row("SELECT hash FROM change WHERE seq = ?1", [end.seq], |row| {
            row.get(0)
        })
        .optional()?;
    Ok(end.seq == 0 || hash.as_ref() == Some(&end.hash))
}
