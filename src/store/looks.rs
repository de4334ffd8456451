//! Looking at a ledger file before SQLite does: where it is, what stands beside it, what its header says.
//!
//! SQLite reads a cut-off last page as zeros without complaint, takes `file:` for a URI and rolls back any
//! journal it finds; so this is looked at first, with plain file access.

use std::fs::{self, File};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use super::error::StoreError;
use super::{place, schema};

const MAGIC: &[u8; 16] = b"SQLite format 3\0";

/// What is wrong with a ledger that SQLite keeps a write-ahead log of.
pub(super) const WRITE_AHEAD: &str = "another program has put it into write-ahead mode";

/// What stands beside a ledger.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Beside {
    /// Nothing that matters.
    Nothing,
    /// A rollback journal that is not blanked out: a write is going on, or was interrupted, or it is astray.
    Journal,
}

/// The absolute path of an existing ledger, links followed.
pub(super) fn resolve(path: &Path) -> Result<PathBuf, StoreError> {
    if place::is_leftover(path) {
        return Err(no_ledger(
            path,
            "left behind by a run that was killed while it wrote another file",
        ));
    }
    match fs::canonicalize(path) {
        Ok(path) => Ok(path),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Err(StoreError::Missing {
            file: resolve_new(path)?,
        }),
        Err(error) if error.kind() == io::ErrorKind::NotADirectory => {
            Err(StoreError::FolderMissing {
                folder: place::folder_of(path).to_owned(),
            })
        }
        Err(error) => Err(StoreError::from_io(path, "finding it", error)),
    }
}

/// The absolute path of a file that need not be there; its folder must be.
pub(super) fn resolve_new(path: &Path) -> Result<PathBuf, StoreError> {
    let Some(name) = path.file_name() else {
        return Err(StoreError::NotADatabase {
            file: path.to_owned(),
            what: "the name of a folder",
        });
    };
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    match fs::canonicalize(folder) {
        Ok(folder) => Ok(folder.join(name)),
        Err(error) if error.kind() == io::ErrorKind::PermissionDenied => {
            Err(StoreError::from_io(folder, "finding it", error))
        }
        Err(_) => Err(StoreError::FolderMissing {
            folder: folder.to_owned(),
        }),
    }
}

/// The absolute path of a file whose folder may be away; links are followed as far as there is something.
pub(super) fn resolve_away(path: &Path) -> PathBuf {
    let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let real = |folder: &Path| {
        let rest = path.strip_prefix(folder).ok()?;
        Some(fs::canonicalize(folder).ok()?.join(rest))
    };
    path.ancestors().find_map(real).unwrap_or(path)
}

/// The name of a file beside the ledger: its own name and an ending.
pub(super) fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

/// Looks at what stands beside the ledger; a write-ahead log stops here.
pub(super) fn look_beside(path: &Path) -> Result<Beside, StoreError> {
    for ending in ["-wal", "-shm"] {
        let sibling = beside(path, ending);
        if fs::symlink_metadata(&sibling).is_ok() {
            return Err(StoreError::Sibling { sibling });
        }
    }
    // SQLite follows any whose first byte is not zero (pager.c, hasHotJournal), even one that a power cut left as garbage.
    let mut start = [0; 1];
    let journal = File::open(beside(path, "-journal"))
        .and_then(|mut journal| journal.read_exact(&mut start))
        .is_ok_and(|()| start != [0]);
    Ok(if journal {
        Beside::Journal
    } else {
        Beside::Nothing
    })
}

/// How sync programs word the name of a copy that they could not merge.
const CONFLICT_WORDS: [&str; 3] = ["conflict", "konflikt", "conflit"];

/// The files in the ledger's folder that by their names are other states of it, in order of name.
pub(super) fn copies_beside(path: &Path) -> Vec<PathBuf> {
    let Some(name) = path.file_name().map(|name| name.to_string_lossy()) else {
        return Vec::new();
    };
    let entries = path.parent().and_then(|folder| fs::read_dir(folder).ok());
    let mut copies: Vec<PathBuf> = entries
        .into_iter()
        .flatten()
        .filter_map(Result::ok)
        .filter(|entry| is_copy_name(&name, &entry.file_name().to_string_lossy()))
        .map(|entry| entry.path())
        .collect();
    copies.sort();
    copies
}

/// Whether a name is that of a conflict copy of a file, or of a numbered second copy.
fn is_copy_name(original: &str, name: &str) -> bool {
    let (stem, ending) = original.rsplit_once('.').unwrap_or((original, ""));
    let rest = name.strip_prefix(stem).filter(|_| name != original);
    let Some(rest) = rest.map(str::to_lowercase) else {
        return false;
    };
    let words_conflict = CONFLICT_WORDS.iter().any(|word| rest.contains(word));
    let inner = rest.strip_suffix(&ending.to_lowercase());
    let inner = inner.map(|inner| inner.trim_end_matches('.').trim());
    let number = inner.and_then(|inner| inner.strip_prefix('(')?.strip_suffix(')'));
    let numbered = number.is_some_and(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit()));
    words_conflict || numbered
}

/// Whether a file is, by its header, a ledger of ours.
#[must_use]
pub fn stands_for_a_ledger(file: &Path) -> bool {
    fs::canonicalize(file).is_ok_and(|file| look_at(&file).is_ok())
}

/// Looks at the file itself: whose it is, of which version, and whether it is whole.
pub(super) fn look_at(path: &Path) -> Result<(), StoreError> {
    expect_file(path)?;
    let file = File::open(path).map_err(|error| StoreError::from_io(path, "opening it", error))?;
    let about = file
        .metadata()
        .map_err(|error| StoreError::from_io(path, "looking at it", error))?;
    refuse_links(path, &about)?;
    let mut header = Vec::with_capacity(100);
    file.take(100)
        .read_to_end(&mut header)
        .map_err(|error| StoreError::from_io(path, "reading it", error))?;
    judge_header(path, &header, about.len())
}

/// A pipe is not even opened: nobody might ever write to it.
pub(super) fn expect_file(path: &Path) -> Result<(), StoreError> {
    let about = fs::metadata(path);
    let about = about.map_err(|error| StoreError::from_io(path, "looking at it", error))?;
    if about.is_file() {
        Ok(())
    } else {
        Err(no_ledger(path, "a folder, a pipe or a device"))
    }
}

#[cfg(unix)]
fn refuse_links(path: &Path, about: &fs::Metadata) -> Result<(), StoreError> {
    use std::os::unix::fs::MetadataExt;
    if about.nlink() < 2 {
        return Ok(());
    }
    place::drop_second_name(path);
    match fs::metadata(path).map_or(0, |about| about.nlink()) {
        0 | 1 => Ok(()),
        links => Err(StoreError::Links {
            file: path.to_owned(),
            links,
        }),
    }
}

#[cfg(not(unix))]
fn refuse_links(_path: &Path, _about: &fs::Metadata) -> Result<(), StoreError> {
    Ok(())
}

fn no_ledger(path: &Path, what: &'static str) -> StoreError {
    StoreError::NotADatabase {
        file: path.to_owned(),
        what,
    }
}

/// Judges the first 100 bytes (SQLite file format, section 1.3 "The Database Header").
fn judge_header(path: &Path, header: &[u8], length: u64) -> Result<(), StoreError> {
    let file = path.to_owned();
    if header.iter().all(|byte| *byte == 0) {
        return Err(StoreError::Empty { file });
    }
    let start = header.len().min(MAGIC.len());
    if header[..start] != MAGIC[..start] {
        return Err(no_ledger(path, "not an SQLite file"));
    }
    if header.len() < 100 {
        return Err(StoreError::Truncated {
            file,
            wanted: 100,
            found: length,
        });
    }
    let application = number(header, 68);
    if application != schema::APPLICATION_ID {
        return Err(StoreError::Foreign {
            file,
            found: application,
        });
    }
    judge_version(path, number(header, 60))?;
    if header[18..20] != [1, 1] {
        return Err(StoreError::Damaged {
            file,
            what: WRITE_AHEAD.to_owned(),
        });
    }
    judge_length(path, header, length)
}

/// Whether SQLite would keep a write-ahead log of a file, and put files beside it even to read it.
pub(super) fn is_write_ahead(path: &Path) -> bool {
    let mut header = [0; 20];
    let read = File::open(path).and_then(|mut file| file.read_exact(&mut header));
    read.is_ok() && header.starts_with(MAGIC) && header[18..20] != [1, 1]
}

/// Takes a private copy out of write-ahead mode.
pub(super) fn leave_write_ahead(copy: &Path) -> io::Result<()> {
    let mut file = File::options().write(true).open(copy)?;
    file.seek(SeekFrom::Start(18))?;
    file.write_all(&[1, 1])
}

/// The version of the tables that a ledger's header names.
pub(super) fn version_of(path: &Path) -> Result<u32, StoreError> {
    let mut header = [0; 100];
    File::open(path)
        .and_then(|mut file| file.read_exact(&mut header))
        .map_err(|error| StoreError::from_io(path, "reading it", error))?;
    Ok(number(&header, 60))
}

/// Whether a ledger has tables of an older version.
pub(super) fn is_older(path: &Path) -> Result<bool, StoreError> {
    Ok((1..schema::VERSION).contains(&version_of(path)?))
}

fn judge_version(path: &Path, found: u32) -> Result<(), StoreError> {
    let (file, known) = (path.to_owned(), schema::VERSION);
    match found {
        0 => Err(StoreError::Damaged {
            file,
            what: "its version number is missing".to_owned(),
        }),
        found if found > known => Err(StoreError::Newer { file, found, known }),
        _ => Ok(()),
    }
}

fn judge_length(path: &Path, header: &[u8], length: u64) -> Result<(), StoreError> {
    let page = match u64::from(u16::from_be_bytes([header[16], header[17]])) {
        1 => 65_536,
        size => size,
    };
    if !page.is_power_of_two() || page < 512 {
        return Err(StoreError::Damaged {
            file: path.to_owned(),
            what: format!("its header names a page size of {page}"),
        });
    }
    let wanted = page * u64::from(number(header, 28));
    if wanted != length {
        return Err(StoreError::Truncated {
            file: path.to_owned(),
            wanted,
            found: length,
        });
    }
    Ok(())
}

fn number(header: &[u8], at: usize) -> u32 {
    let bytes = header[at..at + 4].try_into().expect("four bytes");
    u32::from_be_bytes(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_journal_is_one_whenever_sqlite_would_roll_it_back() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger.db");
        let journal = beside(&path, "-journal");
        let cases: [(&[u8], Beside); 4] = [
            (b"", Beside::Nothing),
            (&[0; 28], Beside::Nothing),
            (b"x", Beside::Journal),
            (
                &[0xd9, 0xd5, 0x05, 0xf9, 0x20, 0xa1, 0x63, 0xd7],
                Beside::Journal,
            ),
        ];
        for (bytes, wanted) in cases {
            fs::write(&journal, bytes).unwrap();
            assert_eq!(look_beside(&path).unwrap(), wanted, "{bytes:?}");
        }
    }

    /// Names as sync programs are seen to give them (common practice, no source).
    #[test]
    fn names_of_conflict_copies_are_known() {
        for name in [
            "ledger (conflicted copy 2026-03-01).db",
            "ledger (bench's conflicted copy).db",
            "ledger.sync-conflict-20260301-120000-ABCDEFG.db",
            "ledger-bench-conflict.db",
            "ledger_conflict-20260301-120000.db",
            "ledger (Case Conflict).db",
            "ledger.db (conflict)",
            "ledger (Konflikt).db",
            "ledger (1).db",
        ] {
            assert!(is_copy_name("ledger.db", name), "{name}");
        }
        for name in [
            "ledger.db",
            "ledger.db-journal",
            "ledger-2025.db",
            "ledger ().db",
            "ledger (old).db",
            "conflict.db",
            "ledger.jsonl",
        ] {
            assert!(!is_copy_name("ledger.db", name), "{name}");
        }
    }
}
