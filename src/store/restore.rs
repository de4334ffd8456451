//! A copy put back in place of the ledger, whatever stands there: the present file goes aside first, with its
//! journal, and is refused to be replaced where it holds entries that the copy does not.

use std::fs::{self, File};
use std::path::{Path, PathBuf};

use super::chain::Link;
use super::error::{NamedEntry, StoreError};
use super::looks::{self, Beside};
use super::opening::mark_as_it_is;
use super::place::{self, Draft, Over, PlaceError};
use super::salvage::{Readable, entries_of};
use super::state::{self, Share, State};
use super::still::{self, Sound, Still};

/// What stands beside a ledger and belongs to it.
const SIBLINGS: [&str; 3] = ["-journal", "-wal", "-shm"];
/// What every ledger of ours holds somewhere, damaged or not.
const TELLTALE: &[u8] = b"ledger_id";

/// A ledger that was put back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Restored {
    /// The ledger.
    pub file: PathBuf,
    /// The copy.
    pub copy: PathBuf,
    /// Its last entry.
    pub entries: i64,
    /// Its fingerprint.
    pub fingerprint: String,
    /// Where the file that stood there lies now; nothing where there was none.
    pub aside: Option<PathBuf>,
    /// The entries that were in that file alone.
    pub present_only: Vec<NamedEntry>,
    /// Whether part of that file could not be read.
    pub is_part_unread: bool,
    /// Whether anything was changed; not where the ledger is that very copy.
    pub is_changed: bool,
    /// The last entry that this computer knew of the copy's ledger at this place.
    pub known: Option<i64>,
}

impl Restored {
    /// The entries that this computer knew of and that neither the copy nor [`Restored::present_only`] names.
    #[must_use]
    pub fn missing(&self) -> Vec<i64> {
        let known = self.known.unwrap_or(self.entries);
        let is_named = |entry: &i64| self.present_only.iter().any(|lost| lost.entry == *entry);
        (self.entries + 1..=known)
            .filter(|entry| !is_named(entry))
            .collect()
    }
}

/// Puts a copy back in place of the ledger. With `force` also where entries go out of the ledger by it, or where the
/// present file is of another ledger or none.
///
/// # Errors
/// [`StoreError`]; then the ledger was not changed.
pub fn restore(
    ledger: &Path,
    copy: &Path,
    force: bool,
    state: &State,
) -> Result<Restored, StoreError> {
    let path = looks::resolve(ledger).or_else(|_| looks::resolve_new(ledger))?;
    let _lock = state.lock(&path, Share::Nobody)?;
    let copy = looks::resolve(copy)?;
    if copy == path {
        return Err(StoreError::Itself { file: path });
    }
    if path.exists() {
        looks::expect_file(&path)?;
    }
    let (draft, sound) = bring_in(&copy, &path)?;
    let present = Present::look(&path, state)?;
    let known = state.mark_of(&path);
    let known_entry = known
        .as_ref()
        .filter(|mark| mark.ledger == sound.id)
        .map(|mark| mark.entry);
    if let Some(present) = &present
        && present.is_same_as(draft.path())?
    {
        return Ok(Restored {
            known: known_entry,
            ..restored(&path, &copy, &sound, None, false)
        });
    }
    let lost = match &present {
        Some(present) => present.judge(&path, &copy, draft.path(), &sound, force)?,
        None => Tails::default(),
    };
    let aside = present.map(Present::stay);
    if aside.is_some() {
        still::keep_mode(&path, draft.path());
    }
    take_siblings_away(&path)?;
    // A restore that is cut short must leave no mark that knows more than the copy holds.
    state.forget_mark(&path)?;
    if let Err(error) = draft.put() {
        if let (Some(mark), false) = (&known, matches!(error, PlaceError::Unflushed { .. })) {
            let _ = state.keep_mark(&path, mark);
        }
        return Err(error.into());
    }
    // By now the copy stands there: a failure to read must not say otherwise.
    let held = Still::hold(&path).map_err(|error| StoreError::Recorded {
        file: path.clone(),
        entry: sound.head.txn,
        cause: error.to_string(),
    })?;
    if held.head() != &sound.head {
        return Err(StoreError::Moved { file: path });
    }
    // What this computer knew of the place gives way; without a mark, the next to open verifies in full.
    let is_read = aside.is_some() && !lost.is_part_unread;
    let unseen = known.filter(|mark| {
        let is_named = lost
            .present_only
            .iter()
            .any(|lost| lost.entry == mark.entry);
        let is_seen = is_read && mark.ledger != sound.id;
        !is_named && !is_seen
    });
    // A copy that ends earlier is told by the entries it lacks.
    let unseen = unseen.filter(|mark| mark.ledger != sound.id || mark.seq <= sound.head.seq);
    let _ = mark_as_it_is(&path, state, unseen.as_ref());
    Ok(Restored {
        known: known_entry,
        present_only: lost.present_only,
        is_part_unread: lost.is_part_unread,
        ..restored(&path, &copy, &sound, aside, true)
    })
}

fn restored(
    path: &Path,
    copy: &Path,
    sound: &Sound,
    aside: Option<PathBuf>,
    is_changed: bool,
) -> Restored {
    Restored {
        file: path.to_owned(),
        copy: copy.to_owned(),
        entries: sound.head.txn,
        fingerprint: sound.head.hash[..8].to_owned(),
        aside,
        present_only: Vec::new(),
        is_part_unread: false,
        is_changed,
        known: None,
    }
}

/// Copies the copy beside the ledger's place and verifies what arrived there.
fn bring_in(copy: &Path, path: &Path) -> Result<(Draft, Sound), StoreError> {
    looks::look_at(copy)?;
    if looks::look_beside(copy)? == Beside::Journal {
        return Err(StoreError::Damaged {
            file: copy.to_owned(),
            what: "a write to it was interrupted and has not been taken back".to_owned(),
        });
    }
    let mut draft = Draft::beside(path, Over::Whatever)?;
    Still::hold(copy)?.copy_into(&mut draft)?;
    match still::verify(draft.path()) {
        Ok(sound) => Ok((draft, sound)),
        Err(StoreError::Damaged { what, .. }) => Err(StoreError::Damaged {
            file: copy.to_owned(),
            what,
        }),
        Err(error) => Err(error),
    }
}

/// What stands in the ledger's place, set aside; gone from there again unless it is to stay.
struct Present {
    /// The folder with all of it.
    aside: PathBuf,
    /// The file in that folder.
    file: PathBuf,
    /// Whether SQLite's own files were beside it.
    has_siblings: bool,
    history: Readable,
    stays: bool,
}

impl Drop for Present {
    fn drop(&mut self) {
        if !self.stays {
            let _ = fs::remove_dir_all(&self.aside);
        }
    }
}

/// Which entries two histories do not share.
#[derive(Debug, Default)]
struct Tails {
    present_only: Vec<NamedEntry>,
    copy_only: Vec<NamedEntry>,
    is_part_unread: bool,
}

impl Present {
    /// Sets aside what stands there, and reads its history from a copy, without its journal: following that
    /// could take entries away that the file still shows.
    fn look(path: &Path, state: &State) -> Result<Option<Self>, StoreError> {
        if fs::symlink_metadata(path).is_err() {
            return Ok(None);
        }
        let set_aside = set_aside(path, state).map_err(|error| StoreError::NoCopy {
            file: path.to_owned(),
            before: "it is replaced",
            cause: error.to_string(),
        });
        let (aside, file) = set_aside?;
        let has_siblings = SIBLINGS
            .iter()
            .any(|ending| looks::beside(&file, ending).exists());
        let mut present = Self {
            aside,
            file,
            has_siblings,
            history: Readable::default(),
            stays: false,
        };
        present.read()?;
        Ok(Some(present))
    }

    fn read(&mut self) -> Result<(), StoreError> {
        let reading = looks::beside(&self.file, ".reading");
        fs::copy(&self.file, &reading)
            .map_err(|error| StoreError::from_io(&reading, "copying it", error))?;
        self.history = Readable::of_copy(&reading);
        fs::remove_file(&reading)
            .map_err(|error| StoreError::from_io(&reading, "taking it away", error))
    }

    /// Leaves it where it was set aside, and gives that folder.
    fn stay(mut self) -> PathBuf {
        self.stays = true;
        self.aside.clone()
    }

    /// Whether it is the copy, byte for byte, with nothing beside it.
    fn is_same_as(&self, draft: &Path) -> Result<bool, StoreError> {
        Ok(!self.has_siblings && still::digest_of(&self.file)? == still::digest_of(draft)?)
    }

    /// What goes out of the ledger when the copy comes in; refused unless forced.
    fn judge(
        &self,
        path: &Path,
        copy: &Path,
        draft: &Path,
        sound: &Sound,
        force: bool,
    ) -> Result<Tails, StoreError> {
        let tails = Tails::of(&self.history, &Readable::of(draft));
        if force {
            return Ok(tails);
        }
        if self.history.id.is_none() && !self.was_a_ledger()? {
            return Err(StoreError::NotReplaced {
                file: path.to_owned(),
            });
        }
        if self.history.id.as_ref().is_some_and(|id| *id != sound.id) {
            return Err(StoreError::OtherLedger {
                file: path.to_owned(),
                other: copy.to_owned(),
            });
        }
        if tails.present_only.is_empty() {
            return Ok(tails);
        }
        Err(StoreError::WouldLose {
            file: path.to_owned(),
            copy: copy.to_owned(),
            present_only: tails.present_only,
            copy_only: tails.copy_only,
        })
    }

    /// Whether it is empty, or shows what every ledger holds.
    fn was_a_ledger(&self) -> Result<bool, StoreError> {
        let bytes = fs::read(&self.file)
            .map_err(|error| StoreError::from_io(&self.file, "reading it", error))?;
        let shows = |bytes: &[u8]| bytes.windows(TELLTALE.len()).any(|piece| piece == TELLTALE);
        Ok(bytes.iter().all(|byte| *byte == 0) || shows(&bytes))
    }
}

impl Tails {
    fn of(present: &Readable, copy: &Readable) -> Self {
        let lacking = |from: &Readable, other: &Readable| {
            let mut others: Vec<&Link> = other.links().collect();
            others.sort_by_key(|link| link.seq);
            let has = |link: &&Link| {
                let at = others.binary_search_by_key(&link.seq, |other| other.seq);
                at.is_ok_and(|at| is_same(link, others[at]))
            };
            entries_of(from.links().filter(|link| !has(link)))
        };
        Self {
            present_only: lacking(present, copy),
            copy_only: lacking(copy, present),
            is_part_unread: present.is_broken,
        }
    }
}

/// Whether two changes are one: by their hash, or by what they say. Damage to one spoils one of the two.
fn is_same(one: &Link, other: &Link) -> bool {
    let unhashed = |link: &Link| Link {
        hash: String::new(),
        ..link.clone()
    };
    one.hash == other.hash || unhashed(one) == unhashed(other)
}

/// Copies the file and what stands beside it into a folder of its own in the state folder, flushed. It stays there
/// until a person takes it away.
fn set_aside(path: &Path, state: &State) -> Result<(PathBuf, PathBuf), StoreError> {
    let room = state.room("replaced")?.join(state::key(path));
    let day = state
        .today()
        .map_or_else(String::new, |day| format!("{day}-"));
    let mut number = 1;
    let folder = loop {
        let folder = room.join(format!("{day}{number:04}"));
        if !folder.exists() {
            break folder;
        }
        number += 1;
    };
    let failed = |error| StoreError::from_io(&folder, "setting the ledger aside", error);
    fs::create_dir_all(&folder).map_err(failed)?;
    let name = path.file_name().expect("a resolved path ends in a name");
    let file = folder.join(name);
    let copied = copy_flushed(path, &file).and_then(|()| {
        for ending in SIBLINGS {
            let sibling = looks::beside(path, ending);
            if sibling.exists() {
                copy_flushed(&sibling, &looks::beside(&file, ending))?;
            }
        }
        [folder.as_path(), &room, state.folder()]
            .into_iter()
            .try_for_each(place::flush_folder)
    });
    copied.map_err(|error| {
        let _ = fs::remove_dir_all(&folder);
        failed(error)
    })?;
    Ok((folder, file))
}

fn copy_flushed(from: &Path, to: &Path) -> std::io::Result<()> {
    let mut copy = File::create_new(to)?;
    std::io::copy(&mut File::open(from)?, &mut copy)?;
    copy.sync_all()
}

/// Takes away what SQLite would take for a part of the file that comes in.
fn take_siblings_away(path: &Path) -> Result<(), StoreError> {
    for ending in SIBLINGS {
        let sibling = looks::beside(path, ending);
        if fs::symlink_metadata(&sibling).is_ok() {
            fs::remove_file(&sibling)
                .map_err(|error| StoreError::from_io(&sibling, "taking it away", error))?;
        }
    }
    place::flush_folder(place::folder_of(path))
        .map_err(|error| StoreError::from_io(path, "flushing its folder", error))
}
