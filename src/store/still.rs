//! A ledger held still while its bytes are copied, and the verification of what was copied.
//!
//! Bytes are copied rather than rows, so that a copy is the ledger to the last byte. A read transaction keeps
//! other programs from writing meanwhile. Closing any handle on a file lets go of every lock that this process
//! has on it (POSIX record locks, which SQLite uses): so the plain handle is opened before the transaction
//! begins and closed after it has ended, and no other transaction may be open on the file in this process.

use std::fs::{self, File};
use std::io::{Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use rusqlite::Connection;
use sha2::{Digest, Sha256};

use super::chain::{self, Head};
use super::error::StoreError;
use super::fault::Fault;
use super::ledger::{self, Ledger};
use super::looks;
use super::place::Draft;
use super::settings::{self, Purpose};

/// How many bytes are copied at a time.
const CHUNK: usize = 1 << 16;

/// A ledger that no program writes to while this is held.
#[derive(Debug)]
pub(super) struct Still {
    path: PathBuf,
    id: String,
    head: Head,
    // The connection ends its transaction before the file is closed: fields go in this order.
    connection: Connection,
    file: File,
}

impl Still {
    /// Holds the ledger of a resolved path still. Whoever calls has its lock and no transaction open.
    pub(super) fn hold(path: &Path) -> Result<Self, StoreError> {
        looks::expect_file(path)?;
        let file =
            File::open(path).map_err(|error| StoreError::from_io(path, "opening it", error))?;
        Self::hold_open(path, file).map_err(|fault| fault.at(path))
    }

    fn hold_open(path: &Path, file: File) -> Result<Self, Fault> {
        let connection = settings::connect(path, Purpose::Ask)?;
        connection.execute_batch("BEGIN")?;
        let id = ledger::stated_id(&connection)?;
        let head = ledger::sound_head(&connection, &id)?;
        Ok(Self {
            path: path.to_owned(),
            id,
            head,
            connection,
            file,
        })
    }

    /// The ledger's id.
    pub(super) fn id(&self) -> &str {
        &self.id
    }

    /// The end of its chain.
    pub(super) const fn head(&self) -> &Head {
        &self.head
    }

    /// The transaction in which it is held still.
    pub(super) const fn connection(&self) -> &Connection {
        &self.connection
    }

    /// The day of its last entry, in UTC.
    pub(super) fn last_day(&self) -> Result<String, StoreError> {
        let sql = "SELECT substr(at_utc, 1, 10) FROM change ORDER BY seq DESC LIMIT 1";
        let day = self.connection.query_row(sql, [], |row| row.get(0));
        day.map_err(|error| StoreError::from_sqlite(&self.path, error))
    }

    /// The digest of its bytes.
    pub(super) fn digest(&mut self) -> Result<[u8; 32], StoreError> {
        self.each_chunk(|_| Ok(()))
    }

    /// Copies the bytes, brings them to the disk and reads them again from there; gives their digest.
    pub(super) fn copy_into(&mut self, draft: &mut Draft) -> Result<[u8; 32], StoreError> {
        let copied = self.each_chunk(|bytes| Ok(draft.write(bytes)?))?;
        draft.flush()?;
        keep_mode(&self.path, draft.path());
        if digest_of(draft.path())? == copied {
            Ok(copied)
        } else {
            Err(StoreError::Damaged {
                file: draft.place().to_owned(),
                what: "what was written did not read back the same".to_owned(),
            })
        }
    }

    fn each_chunk(
        &mut self,
        take: impl FnMut(&[u8]) -> Result<(), StoreError>,
    ) -> Result<[u8; 32], StoreError> {
        let start = self.file.seek(SeekFrom::Start(0));
        start.map_err(|error| StoreError::from_io(&self.path, "reading it", error))?;
        digest_each(&self.path, &mut self.file, take)
    }
}

/// The digest of a file's bytes.
pub(super) fn digest_of(path: &Path) -> Result<[u8; 32], StoreError> {
    let mut file =
        File::open(path).map_err(|error| StoreError::from_io(path, "opening it", error))?;
    digest_each(path, &mut file, |_| Ok(()))
}

/// Hands over a file piece by piece and gives the digest of all.
pub(super) fn digest_each(
    path: &Path,
    file: &mut File,
    mut take: impl FnMut(&[u8]) -> Result<(), StoreError>,
) -> Result<[u8; 32], StoreError> {
    let mut sum = Sha256::new();
    let mut bytes = vec![0; CHUNK];
    loop {
        let read = file.read(&mut bytes);
        match read.map_err(|error| StoreError::from_io(path, "reading it", error))? {
            0 => return Ok(sum.finalize().into()),
            length => {
                sum.update(&bytes[..length]);
                take(&bytes[..length])?;
            }
        }
    }
}

/// Gives a copy the permissions of what it copies, unless it could then not be written.
pub(super) fn keep_mode(from: &Path, to: &Path) {
    let mode = fs::metadata(from).map(|about| about.permissions());
    if let Ok(mode) = mode
        && !mode.readonly()
    {
        // A file system without permissions has none to give.
        let _ = fs::set_permissions(to, mode);
    }
}

/// What a ledger is that passed every check.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Sound {
    /// Its id.
    pub(super) id: String,
    /// The end of its chain.
    pub(super) head: Head,
}

/// Verifies a copy from a handle of its own: its header, SQLite's checks and the chain, and every record where it
/// has the version that this program writes. A journal beside it is refused, since it would have to be written to.
pub(super) fn verify(path: &Path) -> Result<Sound, StoreError> {
    looks::look_at(path)?;
    if looks::look_beside(path)? == looks::Beside::Journal {
        return Err(StoreError::Damaged {
            file: path.to_owned(),
            what: "a write to it was interrupted and has not been taken back".to_owned(),
        });
    }
    let connection = settings::connect(path, Purpose::Ask).map_err(|fault| fault.at(path))?;
    let sound = verify_chain(&connection).map_err(|fault| fault.at(path))?;
    if looks::version_of(path)? != super::schema::VERSION {
        return Ok(sound);
    }
    match Ledger::open(path, Purpose::Ask)?.check().first() {
        None => Ok(sound),
        Some(finding) => Err(StoreError::Damaged {
            file: path.to_owned(),
            what: finding.to_string(),
        }),
    }
}

/// SQLite's own check, and every hash of the chain: what holds for a ledger of any version.
fn verify_chain(connection: &Connection) -> Result<Sound, Fault> {
    let said: String = connection.query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))?;
    if said != "ok" {
        return Err(Fault::Damage(said));
    }
    let id = ledger::stated_id(connection)?;
    let mut head = chain::origin(&id);
    chain::each_after(connection, 0, |link| {
        if link.seq != head.seq + 1 || link.hash != link.hash_after(&head.hash) {
            return Err(Fault::Damage(format!(
                "change {} of its history does not fit what came before",
                link.seq
            )));
        }
        head = Head {
            seq: link.seq,
            txn: link.txn,
            hash: link.hash,
        };
        Ok(())
    })?;
    Ok(Sound { id, head })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::place::Over;
    use crate::store::{Identity, Ledger};

    fn ledger(folder: &Path) -> PathBuf {
        let path = folder.join("ledger.db");
        let identity = Identity {
            ledger_id: "tray".to_owned(),
        };
        drop(Ledger::make(&path, &identity).unwrap());
        path
    }

    #[test]
    fn while_a_ledger_is_held_still_nobody_writes_to_it_and_afterwards_anyone_may() {
        let folder = tempfile::tempdir().unwrap();
        let path = ledger(folder.path());
        let other = Connection::open(&path).unwrap();
        other.busy_timeout(std::time::Duration::ZERO).unwrap();
        let write = || other.execute_batch("INSERT INTO counter VALUES ('x', 1)");
        let mut still = Still::hold(&path).unwrap();
        let mut draft = Draft::of_ledger(&folder.path().join("copy.db"), Over::Nothing).unwrap();
        still.copy_into(&mut draft).unwrap();
        assert!(write().is_err());
        drop(still);
        assert!(write().is_ok());
        assert_eq!(verify(draft.path()).unwrap().id, "tray");
    }

    #[test]
    fn a_copy_that_lost_a_bit_does_not_pass() {
        let folder = tempfile::tempdir().unwrap();
        let path = ledger(folder.path());
        let mut bytes = fs::read(&path).unwrap();
        let at = bytes.windows(4).position(|w| w == b"tray").unwrap();
        bytes[at] ^= 0x80;
        fs::write(&path, bytes).unwrap();
        assert_eq!(
            verify(&path).unwrap_err().class(),
            crate::store::Class::Damaged
        );
    }
}
