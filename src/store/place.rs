//! Where files for the user are put: written beside their place, flushed, and only then given their name.
//!
//! A file is never half there: until it has its name it is called `NAME.part-N`, which no command takes for a
//! ledger, and which is taken away again unless the program is killed. A name that is in use stays with the
//! file that has it, unless replacing was asked for. Every file that the store or the command line writes for
//! a person goes through here; what is in it is none of this module's business.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::error::Class;
use super::looks;

/// What is between the name of a file and the number of the process that writes it.
const PART: &str = ".part-";
/// The longest name that gets an ending; longer ones are replaced while they are written.
const NAME_MAX: usize = 200;
/// What SQLite gives its own meaning beside a file.
const SIBLINGS: [&str; 3] = ["-journal", "-wal", "-shm"];

/// Whether a file may be put in the place of another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Over {
    /// Only where there is none.
    Nothing,
    /// In place of whatever file has the name.
    Whatever,
}

impl Over {
    /// As `--force` says.
    #[must_use]
    pub const fn forced(force: bool) -> Self {
        if force { Self::Whatever } else { Self::Nothing }
    }
}

/// Why a file could not be put where it was wanted. Nothing was left there unless it says so.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PlaceError {
    /// Something has the name already.
    #[error("'{}' is there already and was left as it is", file.display())]
    Exists {
        /// The file.
        file: PathBuf,
    },
    /// The name is that of a folder.
    #[error("'{}' is a folder", file.display())]
    Folder {
        /// The folder.
        file: PathBuf,
    },
    /// The name is that of a device or a pipe.
    #[error("'{}' is no file but a device or a pipe", file.display())]
    Device {
        /// The device.
        file: PathBuf,
    },
    /// The name is one that SQLite gives a meaning.
    #[error("'{}' has an ending that belongs to SQLite", file.display())]
    Reserved {
        /// The file.
        file: PathBuf,
    },
    /// A journal stands beside the place and would be taken for that of the new ledger.
    #[error("'{}' would be taken for a part of the new file", sibling.display())]
    Sibling {
        /// The file beside the place.
        sibling: PathBuf,
    },
    /// The folder is not there.
    #[error("the folder '{}' is not there", folder.display())]
    FolderMissing {
        /// The file that was wanted.
        file: PathBuf,
        /// The folder.
        folder: PathBuf,
    },
    /// The folder takes no file.
    #[error("no file can be made in the folder '{}'", folder.display())]
    Denied {
        /// The file that was wanted.
        file: PathBuf,
        /// The folder.
        folder: PathBuf,
        /// The cause.
        source: io::Error,
    },
    /// No room on the disk.
    #[error("the disk has no room for '{}'", file.display())]
    Full {
        /// The file.
        file: PathBuf,
    },
    /// The system failed otherwise.
    #[error("'{}' could not be written", file.display())]
    Failed {
        /// The file.
        file: PathBuf,
        /// The cause.
        source: io::Error,
    },
    /// The file is there, but its folder was not flushed.
    #[error("'{}' is written, but a power cut now could take it away again", file.display())]
    Unflushed {
        /// The file.
        file: PathBuf,
        /// The cause.
        source: io::Error,
    },
}

impl PlaceError {
    /// The class it belongs to.
    #[must_use]
    pub const fn class(&self) -> Class {
        match self {
            Self::Full { .. } | Self::Failed { .. } | Self::Unflushed { .. } => Class::System,
            _ => Class::Refused,
        }
    }

    /// What else there is to know, a line each.
    #[must_use]
    pub fn causes(&self) -> Vec<String> {
        let cause = std::error::Error::source(self).map(ToString::to_string);
        let left = match self {
            Self::Exists { .. } | Self::Unflushed { .. } => None,
            _ => Some("nothing was left there".to_owned()),
        };
        cause.into_iter().chain(left).collect()
    }

    fn from_io(file: &Path, source: io::Error) -> Self {
        let folder = folder_of(file).to_owned();
        let file = file.to_owned();
        match source.kind() {
            io::ErrorKind::AlreadyExists => Self::Exists { file },
            io::ErrorKind::NotFound if !folder.is_dir() => Self::FolderMissing { file, folder },
            io::ErrorKind::NotFound
            | io::ErrorKind::PermissionDenied
            | io::ErrorKind::ReadOnlyFilesystem => Self::Denied {
                file,
                folder,
                source,
            },
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::Full { file },
            _ => Self::Failed { file, source },
        }
    }
}

/// The folder that a file is in, by its path.
pub(super) fn folder_of(file: &Path) -> &Path {
    match file.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Whether a name is that of a file that was being written when its writer was killed.
pub(super) fn is_leftover(file: &Path) -> bool {
    let name = file.file_name().unwrap_or_default().to_string_lossy();
    let number = name.rsplit_once(PART).map(|(_, number)| number);
    number.is_some_and(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit() || b == b'-'))
}

/// Writes a whole file for the user.
///
/// # Errors
/// [`PlaceError`]; then the place is as it was before, unless it is [`PlaceError::Unflushed`].
pub fn write_file(file: &Path, content: &[u8], over: Over) -> Result<(), PlaceError> {
    let mut draft = Draft::beside(file, over)?;
    draft.write(content)?;
    draft.put()
}

/// A file that is being written beside its place; gone again unless it is put there.
#[derive(Debug)]
pub(super) struct Draft {
    path: PathBuf,
    place: PathBuf,
    over: Over,
    file: Option<File>,
    is_ledger: bool,
    is_put: bool,
}

impl Draft {
    /// Begins a file for a place that is free, or may be taken.
    pub(super) fn beside(place: &Path, over: Over) -> Result<Self, PlaceError> {
        let place = judge(place, over)?;
        let (path, file) = unused(&place).map_err(|error| PlaceError::from_io(&place, error))?;
        Ok(Self {
            path,
            place,
            over,
            file: Some(file),
            is_ledger: false,
            is_put: false,
        })
    }

    /// As [`Draft::beside`], for a ledger, which must not get a journal of another that stands beside its place.
    pub(super) fn of_ledger(place: &Path, over: Over) -> Result<Self, PlaceError> {
        refuse_siblings(place)?;
        let mut draft = Self::beside(place, over)?;
        draft.is_ledger = true;
        Ok(draft)
    }

    /// As [`Draft::of_ledger`], with nothing there yet but the name, for a maker that wants to make the file itself.
    pub(super) fn unmade(place: &Path, over: Over) -> Result<Self, PlaceError> {
        let mut draft = Self::of_ledger(place, over)?;
        draft.file = None;
        fs::remove_file(&draft.path).map_err(|error| draft.failed(error))?;
        Ok(draft)
    }

    /// Where it is until it is put in place.
    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Where it belongs.
    pub(super) fn place(&self) -> &Path {
        &self.place
    }

    /// Adds to the file.
    pub(super) fn write(&mut self, bytes: &[u8]) -> Result<(), PlaceError> {
        let file = self.file.as_mut().expect("it is open until it is flushed");
        let written = file.write_all(bytes);
        written.map_err(|error| self.failed(error))
    }

    /// Brings what was written to the disk, and closes the file.
    pub(super) fn flush(&mut self) -> Result<(), PlaceError> {
        let flushed = match self.file.take() {
            Some(file) => file.sync_all(),
            None => OpenOptions::new()
                .write(true)
                .open(&self.path)
                .and_then(|file| file.sync_all()),
        };
        flushed.map_err(|error| self.failed(error))
    }

    /// Gives the file its name.
    pub(super) fn put(mut self) -> Result<(), PlaceError> {
        self.flush()?;
        if self.is_ledger {
            refuse_siblings(&self.place)?;
        }
        let named = match self.over {
            Over::Whatever => fs::rename(&self.path, &self.place),
            Over::Nothing => name_unless_taken(&self.path, &self.place),
        };
        named.map_err(|error| self.failed(error))?;
        self.is_put = true;
        flush_folder(folder_of(&self.place)).map_err(|source| PlaceError::Unflushed {
            file: self.place.clone(),
            source,
        })
    }

    fn failed(&self, error: io::Error) -> PlaceError {
        PlaceError::from_io(&self.place, error)
    }
}

impl Drop for Draft {
    fn drop(&mut self) {
        if !self.is_put {
            self.file = None;
            for part in [self.path.clone(), looks::beside(&self.path, "-journal")] {
                let _ = fs::remove_file(part);
            }
        }
    }
}

/// The place as it will be written, links followed where it is replaced.
fn judge(place: &Path, over: Over) -> Result<PathBuf, PlaceError> {
    let file = place.to_owned();
    let Some(name) = place.file_name().map(|name| name.to_string_lossy()) else {
        return Err(PlaceError::Folder { file });
    };
    if SIBLINGS.iter().any(|ending| name.ends_with(ending)) {
        return Err(PlaceError::Reserved { file });
    }
    match fs::metadata(place) {
        Err(_) => Ok(file),
        Ok(about) if about.is_dir() => Err(PlaceError::Folder { file }),
        Ok(about) if !about.is_file() => Err(PlaceError::Device { file }),
        Ok(_) if over == Over::Nothing => Err(PlaceError::Exists { file }),
        Ok(_) => fs::canonicalize(place).map_err(|error| PlaceError::from_io(place, error)),
    }
}

/// Refuses a place for a ledger beside which a journal stands.
fn refuse_siblings(place: &Path) -> Result<(), PlaceError> {
    for ending in SIBLINGS {
        let sibling = looks::beside(place, ending);
        if fs::symlink_metadata(&sibling).is_ok() {
            return Err(PlaceError::Sibling { sibling });
        }
    }
    Ok(())
}

/// A new file beside a place, of a name that nobody has; its path is from the root on.
fn unused(place: &Path) -> io::Result<(PathBuf, File)> {
    let name = place.file_name().unwrap_or_default();
    let base = std::path::absolute(if name.len() > NAME_MAX {
        place.with_file_name("locule")
    } else {
        place.to_owned()
    })?;
    let process = std::process::id();
    let mut at = 0;
    loop {
        let ending = match at {
            0 => format!("{PART}{process}"),
            at => format!("{PART}{process}-{at}"),
        };
        let path = looks::beside(&base, &ending);
        match File::create_new(&path) {
            Ok(file) => return Ok((path, file)),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists && at < 1000 => at += 1,
            Err(error) => return Err(error),
        }
    }
}

/// Gives a file a name unless something has it.
///
/// A second name by a hard link can't replace anything; where the file system has none, the name is first taken
/// by an empty file.
fn name_unless_taken(path: &Path, place: &Path) -> io::Result<()> {
    match fs::hard_link(path, place) {
        Ok(()) => {
            // Should the first name stay, it is one more name of the same, whole file.
            let _ = fs::remove_file(path);
            Ok(())
        }
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Err(error),
        Err(_) => {
            File::create_new(place)?;
            fs::rename(path, place).inspect_err(|_| {
                let _ = fs::remove_file(place);
            })
        }
    }
}

/// Takes away the second name that a file still has when its writer was killed between naming it and unnaming
/// what it was written as.
#[cfg(unix)]
pub(super) fn drop_second_name(file: &Path) {
    use std::os::unix::fs::MetadataExt;
    let Ok(about) = fs::symlink_metadata(file) else {
        return;
    };
    let entries = fs::read_dir(folder_of(file));
    for entry in entries.into_iter().flatten().filter_map(Result::ok) {
        let is_same =
            |other: fs::Metadata| (other.dev(), other.ino()) == (about.dev(), about.ino());
        if is_leftover(&entry.path()) && entry.metadata().is_ok_and(is_same) {
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// Brings the names in a folder to the disk, where the system can.
#[cfg(unix)]
pub(super) fn flush_folder(folder: &Path) -> io::Result<()> {
    let Ok(folder) = File::open(folder) else {
        // A folder that may be written but not read cannot be opened.
        return Ok(());
    };
    match folder.sync_all() {
        Err(error)
            if matches!(
                error.kind(),
                io::ErrorKind::InvalidInput | io::ErrorKind::Unsupported
            ) =>
        {
            Ok(())
        }
        outcome => outcome,
    }
}

/// Elsewhere a folder cannot be opened as a file is.
#[cfg(not(unix))]
pub(super) fn flush_folder(_folder: &Path) -> io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_file_gets_its_name_when_it_is_whole_and_leaves_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("season.jsonl");
        let mut draft = Draft::beside(&file, Over::Nothing).unwrap();
        draft.write(b"one").unwrap();
        assert!(is_leftover(draft.path()) && !file.exists());
        assert_eq!(draft.path().parent(), file.parent());
        draft.put().unwrap();
        assert_eq!(names(folder.path()), ["season.jsonl"]);
        let refused = write_file(&file, b"two", Over::Nothing);
        assert!(matches!(refused, Err(PlaceError::Exists { .. })));
        assert_eq!(fs::read(&file).unwrap(), b"one");
        write_file(&file, b"two", Over::Whatever).unwrap();
        assert_eq!(fs::read(&file).unwrap(), b"two");
        assert_eq!(names(folder.path()), ["season.jsonl"]);
    }

    #[test]
    fn a_name_taken_meanwhile_stays_with_its_file() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("season.jsonl");
        let mut draft = Draft::beside(&file, Over::Nothing).unwrap();
        draft.write(b"one").unwrap();
        fs::write(&file, "another's").unwrap();
        assert!(matches!(draft.put(), Err(PlaceError::Exists { .. })));
        assert_eq!(fs::read(&file).unwrap(), b"another's");
        assert_eq!(names(folder.path()), ["season.jsonl"]);
    }

    #[test]
    fn a_draft_given_up_is_gone_and_leftovers_are_never_written_to() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.db");
        let leftover = looks::beside(&file, &format!("{PART}{}", std::process::id()));
        fs::write(&leftover, "left by a killed run").unwrap();
        drop(Draft::of_ledger(&file, Over::Nothing).unwrap());
        let unmade = Draft::unmade(&file, Over::Nothing).unwrap();
        assert!(!unmade.path().exists() && unmade.path() != leftover);
        fs::write(unmade.path(), "made").unwrap();
        unmade.put().unwrap();
        assert_eq!(fs::read(&file).unwrap(), b"made");
        assert_eq!(fs::read(&leftover).unwrap(), b"left by a killed run");
        assert_eq!(names(folder.path()).len(), 2);
    }

    #[test]
    fn places_that_are_no_place_for_a_file_are_told_apart() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::write(at("a.db-journal"), "a journal").unwrap();
        let refused = |file: &Path| Draft::of_ledger(file, Over::Whatever).unwrap_err();
        assert!(matches!(refused(folder.path()), PlaceError::Folder { .. }));
        assert!(matches!(refused(Path::new("/")), PlaceError::Folder { .. }));
        assert!(matches!(refused(&at("x-wal")), PlaceError::Reserved { .. }));
        assert!(matches!(refused(&at("a.db")), PlaceError::Sibling { .. }));
        assert!(matches!(
            refused(&at("no/such.db")),
            PlaceError::FolderMissing { .. }
        ));
        if cfg!(target_os = "linux") {
            let device = refused(Path::new("/dev/full"));
            assert!(matches!(device, PlaceError::Device { .. }));
            let denied = refused(Path::new("/proc/locule.db"));
            assert!(matches!(denied, PlaceError::Denied { .. }), "{denied:?}");
        }
    }

    #[test]
    fn names_of_leftovers_are_told_from_all_others() {
        for name in ["a.db.part-17", "a.jsonl.part-17-3", "locule.part-1"] {
            assert!(is_leftover(Path::new(name)), "{name}");
        }
        for name in ["a.db", "a.part-", "part-1", "a.part-x1", "a.part-1.db"] {
            assert!(!is_leftover(Path::new(name)), "{name}");
        }
    }

    #[cfg(unix)]
    #[test]
    fn a_link_is_followed_and_a_second_name_left_by_a_killed_run_is_dropped() {
        let folder = tempfile::tempdir().unwrap();
        let (file, link) = (folder.path().join("a.txt"), folder.path().join("link"));
        fs::write(&file, "one").unwrap();
        std::os::unix::fs::symlink(&file, &link).unwrap();
        write_file(&link, b"two", Over::Whatever).unwrap();
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::read(&file).unwrap(), b"two");
        fs::hard_link(&file, folder.path().join("a.txt.part-9")).unwrap();
        fs::hard_link(&file, folder.path().join("kept.txt")).unwrap();
        fs::write(folder.path().join("b.txt.part-9"), "another").unwrap();
        drop_second_name(&file);
        assert_eq!(
            names(folder.path()),
            ["a.txt", "b.txt.part-9", "kept.txt", "link"]
        );
    }
}
