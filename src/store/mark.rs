//! The mark: what this computer last wrote or verified of a ledger, kept outside it, in the state folder.
//!
//! It tells in one reading of the file whether every byte is as it was, and, where not, whether the ledger
//! was put back in time or went another way. It is written after COMMIT by rename and never flushed: an older
//! or missing mark costs one full verification and nothing else, so failing to write one is no failure.
//! The file is read here with a handle of its own, and on some systems closing that lets go of
//! SQLite's locks: call it only while no transaction of this process is open.

use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use sha2::{Digest, Sha256};

use super::chain::Head;
use super::error::StoreError;
use super::hex;
use super::place;
use super::state::{State, key};

/// The folder of the marks within the state folder.
const ROOM: &str = "marks";

/// All that a file holds, in short.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Content {
    /// Its length in bytes.
    pub(super) length: u64,
    /// SHA-256 of its bytes.
    pub(super) sha256: String,
}

impl Content {
    /// Reads a file from beginning to end.
    pub(super) fn of(path: &Path) -> io::Result<Self> {
        let mut file = File::open(path)?;
        let mut hasher = Sha256::new();
        let mut piece = vec![0; 1 << 17];
        let mut length = 0;
        loop {
            match file.read(&mut piece)? {
                0 => break,
                read => {
                    hasher.update(&piece[..read]);
                    length += read as u64;
                }
            }
        }
        Ok(Self {
            length,
            sha256: hex(&hasher.finalize()),
        })
    }
}

/// What this computer knows of a ledger.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Mark {
    /// The ledger's id.
    pub(super) ledger: String,
    /// Where it lies.
    pub(super) path: String,
    /// How many changes its history had.
    pub(super) seq: i64,
    /// Its last entry.
    pub(super) entry: i64,
    /// The hash of its last change.
    pub(super) head: String,
    /// The length of the file.
    pub(super) length: u64,
    /// SHA-256 of the file.
    pub(super) sha256: String,
}

/// A mark as it is written: with a checksum of its own, so that a torn one reads as none.
#[derive(Serialize, Deserialize)]
struct Sheet {
    mark: Box<RawValue>,
    sum: String,
}

fn sum(text: &str) -> String {
    hex(&Sha256::digest(text.as_bytes()))
}

impl Mark {
    /// The mark of a ledger at a resolved path, as it stands.
    pub(super) fn new(id: &str, path: &Path, head: &Head, content: Content) -> Self {
        Self {
            ledger: id.to_owned(),
            path: path.to_string_lossy().into_owned(),
            seq: head.seq,
            entry: head.txn,
            head: head.hash.clone(),
            length: content.length,
            sha256: content.sha256,
        }
    }

    /// Whether a file of that content is the one marked, byte for byte.
    pub(super) fn fits(&self, content: &Content) -> bool {
        (self.length, &self.sha256) == (content.length, &content.sha256)
    }

    /// Whether it is of that place.
    pub(super) fn is_at(&self, path: &Path) -> bool {
        self.path == path.to_string_lossy()
    }

    fn to_sheet(&self) -> String {
        let text = serde_json::to_string(self).expect("texts and numbers can be written as JSON");
        format!("{{\"mark\":{text},\"sum\":\"{}\"}}\n", sum(&text))
    }

    fn from_sheet(text: &str) -> Option<Self> {
        let sheet: Sheet = serde_json::from_str(text).ok()?;
        let whole = sum(sheet.mark.get()) == sheet.sum;
        let mark = serde_json::from_str(sheet.mark.get()).ok();
        mark.filter(|_| whole)
    }

    fn read(file: &Path) -> Option<Self> {
        Self::from_sheet(&fs::read_to_string(file).ok()?)
    }
}

impl State {
    fn mark_file(&self, ledger: &Path) -> PathBuf {
        let name = format!("{}.json", key(ledger));
        self.folder().join(ROOM).join(name)
    }

    /// The mark of the ledger at a resolved path.
    pub(super) fn mark_of(&self, ledger: &Path) -> Option<Mark> {
        let mark = Mark::read(&self.mark_file(ledger))?;
        mark.is_at(ledger).then_some(mark)
    }

    /// The furthest mark of a ledger whose own place is empty by now: it was moved from there.
    pub(super) fn mark_left_behind(&self, id: &str) -> Option<Mark> {
        let folder = fs::read_dir(self.folder().join(ROOM)).ok()?;
        folder
            .filter_map(Result::ok)
            .filter_map(|entry| Mark::read(&entry.path()))
            .filter(|mark| mark.ledger == id && fs::symlink_metadata(&mark.path).is_err())
            .max_by_key(|mark| mark.seq)
    }

    /// Takes the mark of the ledger at a resolved path away, for good even if the power goes: the next to open
    /// verifies in full.
    pub(super) fn forget_mark(&self, ledger: &Path) -> Result<(), StoreError> {
        let file = self.mark_file(ledger);
        let gone =
            fs::remove_file(&file).and_then(|()| place::flush_folder(place::folder_of(&file)));
        match gone {
            Err(source) if source.kind() != io::ErrorKind::NotFound => Err(self.unusable(source)),
            _ => Ok(()),
        }
    }

    /// Writes the mark of the ledger at a resolved path.
    pub(super) fn keep_mark(&self, ledger: &Path, mark: &Mark) -> Result<(), StoreError> {
        self.room(ROOM)?;
        let file = self.mark_file(ledger);
        let beside = file.with_extension(format!("part-{}", std::process::id()));
        let written = File::create(&beside)
            .and_then(|mut part| part.write_all(mark.to_sheet().as_bytes()))
            .and_then(|()| fs::rename(&beside, &file));
        written.map_err(|source| {
            let _ = fs::remove_file(&beside);
            self.unusable(source)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(path: &Path, seq: i64) -> Mark {
        let head = Head {
            seq,
            txn: 2,
            hash: "ab".repeat(32),
        };
        let content = Content {
            length: 8192,
            sha256: "cd".repeat(32),
        };
        Mark::new("tray", path, &head, content)
    }

    /// The SHA-256 of `abc`: FIPS 180-4, example of the Secure Hash Standard.
    #[test]
    fn a_file_is_known_by_its_length_and_sum() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("abc");
        fs::write(&path, "abc").unwrap();
        let content = Content::of(&path).unwrap();
        assert_eq!(content.length, 3);
        assert_eq!(
            content.sha256,
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }

    #[test]
    fn a_torn_or_altered_mark_reads_as_none() {
        let folder = tempfile::tempdir().unwrap();
        let state = State::at(folder.path().join("state"));
        let ledger = folder.path().join("ledger.db");
        assert_eq!(state.mark_of(&ledger), None);
        let wanted = mark(&ledger, 7);
        state.keep_mark(&ledger, &wanted).unwrap();
        assert_eq!(state.mark_of(&ledger), Some(wanted.clone()));
        assert_eq!(state.mark_of(&folder.path().join("other.db")), None);
        let file = state.mark_file(&ledger);
        let sheet = fs::read_to_string(&file).unwrap();
        for length in 0..sheet.len() - 1 {
            fs::write(&file, &sheet[..length]).unwrap();
            assert_eq!(state.mark_of(&ledger), None, "{length} bytes");
        }
        fs::write(&file, sheet.replace("\"seq\":7", "\"seq\":8")).unwrap();
        assert_eq!(state.mark_of(&ledger), None);
        state.keep_mark(&ledger, &wanted).unwrap();
        assert_eq!(state.mark_of(&ledger), Some(wanted));
        assert_eq!(fs::read_dir(file.parent().unwrap()).unwrap().count(), 1);
    }

    #[test]
    fn a_moved_ledger_leaves_its_mark_behind() {
        let folder = tempfile::tempdir().unwrap();
        let state = State::at(folder.path().join("state"));
        let (here, gone) = (folder.path().join("here.db"), folder.path().join("gone.db"));
        fs::write(&here, "x").unwrap();
        state.keep_mark(&here, &mark(&here, 9)).unwrap();
        assert_eq!(state.mark_left_behind("tray"), None);
        let older = folder.path().join("older.db");
        state.keep_mark(&older, &mark(&older, 3)).unwrap();
        state.keep_mark(&gone, &mark(&gone, 7)).unwrap();
        assert_eq!(state.mark_left_behind("tray"), Some(mark(&gone, 7)));
        assert_eq!(state.mark_left_behind("pot"), None);
    }
}
