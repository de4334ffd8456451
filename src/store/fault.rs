//! From the failures of the system and of SQLite to the store's own words.
//!
//! SQLite's raw texts are poor ("disk I/O error" for a full disk), so the file and its folder are asked as well.

use std::io;
use std::path::Path;

use rusqlite::ErrorCode;

use super::error::StoreError;
use super::looks;
use crate::records::value::MisfitError;

impl StoreError {
    /// The error for a file operation that failed.
    pub(super) fn from_io(file: &Path, what: &'static str, source: io::Error) -> Self {
        let file = file.to_owned();
        match source.kind() {
            io::ErrorKind::NotFound => Self::Missing { file },
            io::ErrorKind::AlreadyExists => Self::Exists { file },
            io::ErrorKind::PermissionDenied => Self::Permission { file },
            io::ErrorKind::ReadOnlyFilesystem => Self::ReadOnly { file },
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::Full { file },
            _ => Self::Io { file, what, source },
        }
    }

    /// The error for a statement that SQLite refused.
    pub(super) fn from_sqlite(file: &Path, source: rusqlite::Error) -> Self {
        use rusqlite::ffi;
        let owned = file.to_owned();
        let Some(failure) = source.sqlite_error().copied() else {
            return Self::Damaged {
                file: owned,
                what: source.to_string(),
            };
        };
        match (failure.code, failure.extended_code) {
            (ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked, _) => Self::Busy { file: owned },
            (ErrorCode::DiskFull, _) => Self::Full { file: owned },
            (_, ffi::SQLITE_READONLY_DBMOVED) => Self::Moved { file: owned },
            (_, ffi::SQLITE_READONLY_ROLLBACK | ffi::SQLITE_READONLY_RECOVERY) => {
                Self::InterruptedWrite { file: owned }
            }
            (ErrorCode::ReadOnly, _) => Self::ReadOnly { file: owned },
            (ErrorCode::NotADatabase, _) => Self::NotADatabase {
                file: owned,
                what: "SQLite cannot read it",
            },
            (ErrorCode::DatabaseCorrupt, _) => Self::Damaged {
                file: owned,
                what: source.to_string(),
            },
            (ErrorCode::PermissionDenied, _) => Self::Permission { file: owned },
            (ErrorCode::CannotOpen, _) => cannot_open(file),
            (ErrorCode::ConstraintViolation | ErrorCode::TooBig, _) => Self::Rule {
                file: owned,
                what: format!("a record would break a rule of its table ({source})"),
            },
            (ErrorCode::OperationInterrupted, _) => Self::Damaged {
                file: owned,
                what: "a question to it did not come to an end".to_owned(),
            },
            (ErrorCode::SystemIoFailure, _) if !file.exists() => gone(file),
            (ErrorCode::SystemIoFailure, _) if disk_is_full(file) => Self::Full { file: owned },
            _ => Self::Sqlite {
                file: owned,
                source,
            },
        }
    }
}

/// A file that is no longer there, or its folder that is not.
fn gone(file: &Path) -> StoreError {
    let folder = file.parent().unwrap_or(Path::new("/"));
    if folder.is_dir() {
        return StoreError::Moved {
            file: file.to_owned(),
        };
    }
    StoreError::FolderMissing {
        folder: folder.to_owned(),
    }
}

/// SQLite's "unable to open" says nothing; the folder and the file do.
fn cannot_open(file: &Path) -> StoreError {
    if !file.exists() {
        return gone(file);
    }
    match std::fs::File::open(file) {
        Err(error) => StoreError::from_io(file, "opening it", error),
        Ok(_) => StoreError::ReadOnly {
            file: file.to_owned(),
        },
    }
}

/// Whether a small file beside the ledger meets a full disk: SQLite calls that an input or output error.
fn disk_is_full(file: &Path) -> bool {
    let probe = looks::beside(file, ".space");
    let written = std::fs::File::create_new(&probe).and_then(|mut handle| {
        let outcome = io::Write::write_all(&mut handle, &[1; 65_536]);
        std::fs::remove_file(&probe)?;
        outcome
    });
    matches!(written, Err(error) if matches!(error.kind(),
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded))
}

/// A failure inside the store that does not yet know which file it speaks of.
#[derive(Debug)]
pub(super) enum Fault {
    /// From SQLite.
    Sql(rusqlite::Error),
    /// The content contradicts itself.
    Damage(String),
    /// The rows changed since they were read.
    Stale,
    /// A record breaks a rule.
    Rule(String),
    /// Already in words.
    Stated(StoreError),
}

impl Fault {
    /// In words, for a file.
    pub(super) fn at(self, file: &Path) -> StoreError {
        let owned = file.to_owned();
        match self {
            Self::Sql(error) => StoreError::from_sqlite(file, error),
            Self::Damage(what) => StoreError::Damaged { file: owned, what },
            Self::Stale => StoreError::Stale { file: owned },
            Self::Rule(what) => StoreError::Rule { file: owned, what },
            Self::Stated(error) => error,
        }
    }
}

impl From<rusqlite::Error> for Fault {
    fn from(error: rusqlite::Error) -> Self {
        Self::Sql(error)
    }
}

impl From<MisfitError> for Fault {
    fn from(error: MisfitError) -> Self {
        Self::Damage(error.to_string())
    }
}

impl From<StoreError> for Fault {
    fn from(error: StoreError) -> Self {
        Self::Stated(error)
    }
}
