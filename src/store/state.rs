//! The state folder: what this computer keeps about ledgers, outside any folder that is synced.
//!
//! A ledger is known here by its path. The folder is made when it is first needed; nothing in it is needed to
//! read a ledger, and losing it costs one full verification of each. The command line says where it lies.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use sha2::{Digest, Sha256};

use super::error::StoreError;
use super::hex;
use crate::records::day::Day;

/// How long a process waits for another to let go of a ledger.
pub(super) const PATIENCE: Duration = Duration::from_secs(5);
/// Between two tries.
pub(super) const PAUSE: Duration = Duration::from_millis(20);

/// Where this computer keeps what it knows of ledgers.
#[derive(Debug, Clone)]
pub struct State {
    folder: PathBuf,
    today: Option<Day>,
    notes: Arc<Mutex<Vec<String>>>,
}

/// Who may be at a ledger beside the holder of a lock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Share {
    /// Others that only ask.
    Askers,
    /// Nobody.
    Nobody,
}

/// A lock on a ledger, let go of when it is dropped.
#[derive(Debug)]
pub(super) struct Lock {
    _file: File,
}

impl State {
    /// The state kept in a folder, which need not be there yet.
    #[must_use]
    pub fn at(folder: impl Into<PathBuf>) -> Self {
        Self {
            folder: folder.into(),
            today: None,
            notes: Arc::default(),
        }
    }

    /// The same on a day. Without one no copy of the day is made before the first write.
    #[must_use]
    pub fn on(mut self, today: Day) -> Self {
        self.today = Some(today);
        self
    }

    /// What today is, where that was said.
    pub(super) const fn today(&self) -> Option<Day> {
        self.today
    }

    /// Takes note of something that did not stop what was asked for, but has to be said.
    pub(super) fn note(&self, words: String) {
        let mut notes = self.notes.lock().unwrap_or_else(PoisonError::into_inner);
        notes.push(words);
    }

    /// What was noted since the last time.
    #[must_use]
    pub fn take_notes(&self) -> Vec<String> {
        let mut notes = self.notes.lock().unwrap_or_else(PoisonError::into_inner);
        std::mem::take(&mut *notes)
    }

    /// The folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// A folder within, made where it is not there.
    pub(super) fn room(&self, name: &str) -> Result<PathBuf, StoreError> {
        let room = self.folder.join(name);
        fs::create_dir_all(&room).map_err(|source| StoreError::State {
            folder: self.folder.clone(),
            source,
        })?;
        Ok(room)
    }

    /// Takes the lock of a ledger, of a resolved path; waits for a while where another process has it.
    ///
    /// An asker in a state folder that cannot be written goes without.
    pub(super) fn lock(&self, ledger: &Path, share: Share) -> Result<Option<Lock>, StoreError> {
        let file = match (self.lock_file(ledger), share) {
            (Ok(file), _) => file,
            (Err(_), Share::Askers) => return Ok(None),
            (Err(error), Share::Nobody) => return Err(error),
        };
        let begun = Instant::now();
        loop {
            let tried = match share {
                Share::Askers => file.try_lock_shared(),
                Share::Nobody => file.try_lock(),
            };
            match tried {
                Ok(()) => return Ok(Some(Lock { _file: file })),
                Err(TryLockError::WouldBlock) if begun.elapsed() < PATIENCE => {
                    std::thread::sleep(PAUSE);
                }
                Err(TryLockError::WouldBlock) => {
                    return Err(StoreError::Busy {
                        file: ledger.to_owned(),
                    });
                }
                Err(TryLockError::Error(source)) => return Err(self.unusable(source)),
            }
        }
    }

    fn lock_file(&self, ledger: &Path) -> Result<File, StoreError> {
        let path = self.room("locks")?.join(format!("{}.lock", key(ledger)));
        OpenOptions::new()
            .create(true)
            .truncate(false)
            .read(true)
            .write(true)
            .open(path)
            .map_err(|source| self.unusable(source))
    }

    pub(super) fn unusable(&self, source: io::Error) -> StoreError {
        StoreError::State {
            folder: self.folder.clone(),
            source,
        }
    }
}

/// The name under which a ledger of a resolved path is known in the state folder.
pub(super) fn key(ledger: &Path) -> String {
    let digest = Sha256::digest(ledger.as_os_str().as_encoded_bytes());
    hex(&digest[..8])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lock_keeps_others_out_until_it_is_let_go() {
        let folder = tempfile::tempdir().unwrap();
        let state = State::at(folder.path().join("deep/state"));
        let ledger = Path::new("/bench/ledger.db");
        let first = state.lock(ledger, Share::Askers).unwrap();
        let second = state.lock(ledger, Share::Askers).unwrap();
        assert!(first.is_some() && second.is_some());
        drop((first, second));
        let alone = state.lock(ledger, Share::Nobody).unwrap();
        let other = state.lock(Path::new("/bench/other.db"), Share::Nobody);
        assert!(other.unwrap().is_some());
        let refused = state.lock(ledger, Share::Askers);
        assert!(matches!(refused, Err(StoreError::Busy { .. })));
        drop(alone);
        assert!(state.lock(ledger, Share::Nobody).unwrap().is_some());
    }

    #[test]
    fn where_no_folder_can_be_made_askers_go_without_and_writers_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        let taken = folder.path().join("state");
        fs::write(&taken, "a file").unwrap();
        let state = State::at(&taken);
        let ledger = Path::new("/bench/ledger.db");
        assert!(state.lock(ledger, Share::Askers).unwrap().is_none());
        let refused = state.lock(ledger, Share::Nobody);
        assert!(matches!(refused, Err(StoreError::State { .. })));
    }
}
