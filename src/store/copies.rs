//! Copies of the ledger: those that are kept by themselves in the state folder, and those that a person asks for.
//!
//! Before an upgrade, before an import into a ledger that holds something and before the first write of a day a
//! copy goes to `copies/<ledger id>/<day>-<entry>-<fingerprint>.db`. The newest ten, the newest of each month and
//! the one with the most entries stay. This module decides when a copy is due and which may go; how bytes are
//! copied and files are put is known elsewhere.

use std::collections::BTreeSet;
use std::fmt;
use std::fs;
use std::path::{Path, PathBuf};

use super::chain::Head;
use super::error::StoreError;
use super::ledger::Ledger;
use super::looks;
use super::place::{self, Draft, Over};
use super::state::{self, Lock, Share, State};
use super::still::{self, Still};
use crate::records::day::Day;

/// How many of the newest copies are kept whatever their month.
const NEWEST: usize = 10;

/// Why a copy is made by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Occasion {
    /// The tables are about to get a newer version.
    Upgrade,
    /// Another ledger's records are about to come in.
    Import,
}

/// A copy in the state folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AutomaticCopy {
    /// The file.
    pub file: PathBuf,
    /// The day it was made.
    pub day: String,
    /// The ledger's last entry then.
    pub entries: i64,
    /// The ledger's fingerprint then.
    pub fingerprint: String,
    /// How many bytes it has.
    pub bytes: u64,
}

/// What the name of a copy says; in order of day, entry and fingerprint.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Name {
    day: String,
    entries: i64,
    fingerprint: String,
    /// Tells copies of one day and entry apart, from 1.
    number: u32,
}

impl Name {
    fn read(text: &str) -> Option<Self> {
        let stem = text.strip_suffix(".db")?;
        let (day, rest) = stem.split_at_checked(10)?;
        day.parse::<Day>().ok()?;
        let mut parts = rest.strip_prefix('-')?.splitn(3, '-');
        let entries = parts.next()?.parse().ok()?;
        let fingerprint = parts.next()?.to_owned();
        let number = parts.next().map_or(Some(1), |number| number.parse().ok())?;
        Some(Self {
            day: day.to_owned(),
            entries,
            fingerprint,
            number,
        })
    }
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            day,
            entries,
            fingerprint,
            number,
        } = self;
        write!(f, "{day}-{entries:08}-{fingerprint}")?;
        match number {
            1 => write!(f, ".db"),
            number => write!(f, "-{number}.db"),
        }
    }
}

/// Keeps a verified copy of the ledger of a resolved path before something that can't be undone happens to it.
/// Gives its file: a new one, or one that has the same bytes already.
///
/// Whoever calls has the ledger's lock, alone, and no transaction open on it.
///
/// # Errors
/// [`StoreError`]; then what was to happen must not.
pub fn before(state: &State, ledger: &Path, occasion: Occasion) -> Result<PathBuf, StoreError> {
    let kept = keep_verified(state, ledger);
    kept.map_err(|error| StoreError::NoCopy {
        file: ledger.to_owned(),
        before: match occasion {
            Occasion::Upgrade => "its tables get a newer version",
            Occasion::Import => "an import",
        },
        cause: said(&error),
    })
}

fn keep_verified(state: &State, ledger: &Path) -> Result<PathBuf, StoreError> {
    let mut still = Still::hold(ledger)?;
    let shelf = Shelf::of(state, still.id())?;
    let digest = still.digest()?;
    if let Some(file) = shelf.holding(still.head(), digest)? {
        still::verify(&file)?;
        return Ok(file);
    }
    shelf.add(state, ledger, &mut still, still::verify)
}

/// Keeps a copy of the ledger where none was made that day and something was recorded since the last one. Should
/// that fail, it is said and the write goes on: what the grower has in hand matters more than one more copy.
pub(super) fn of_the_day(state: &State, ledger: &Ledger) {
    let Some(today) = state.today().filter(|_| ledger.last_entry() > 1) else {
        return;
    };
    if let Err(error) = keep_of_the_day(state, ledger, &today.to_string()) {
        state.note(format!(
            "note: today's copy of the ledger could not be kept ({}); 'locule backup' keeps one beside the ledger",
            said(&error)
        ));
    }
}

fn keep_of_the_day(state: &State, ledger: &Ledger, today: &str) -> Result<(), StoreError> {
    let names = names_in(&folder_of(state, ledger.id()));
    let made_today = names.iter().any(|name| name.day == today);
    let fingerprint = ledger.fingerprint();
    let holds_all = names
        .iter()
        .any(|name| (name.entries, &name.fingerprint) == (ledger.last_entry(), &fingerprint));
    if made_today || holds_all {
        return Ok(());
    }
    let mut still = Still::hold(ledger.path())?;
    let shelf = Shelf::of(state, still.id())?;
    // The ledger was looked at on opening; the copy is compared with it byte by byte.
    shelf.add(state, ledger.path(), &mut still, |_| Ok(()))?;
    Ok(())
}

/// A failure in one line, its causes included.
fn said(error: &StoreError) -> String {
    let cause = std::error::Error::source(error).map(ToString::to_string);
    let words = error.to_string();
    match cause {
        Some(cause) if !words.contains(&cause) => format!("{words}: {cause}"),
        _ => words,
    }
}

/// The folder of a ledger's copies, to be added to by nobody else.
struct Shelf {
    folder: PathBuf,
    _lock: Option<Lock>,
}

impl Shelf {
    fn of(state: &State, id: &str) -> Result<Self, StoreError> {
        let name = folder_name(id);
        let lock = state.lock(&Path::new("copies").join(&name), Share::Nobody)?;
        let folder = state.room("copies")?.join(name);
        fs::create_dir_all(&folder)
            .map_err(|error| StoreError::from_io(&folder, "making it", error))?;
        Ok(Self {
            folder,
            _lock: lock,
        })
    }

    /// The copy that has these very bytes.
    fn holding(&self, head: &Head, digest: [u8; 32]) -> Result<Option<PathBuf>, StoreError> {
        for name in names_in(&self.folder) {
            let file = self.folder.join(name.to_string());
            if name.entries == head.txn
                && name.fingerprint == head.hash[..8]
                && still::digest_of(&file)? == digest
            {
                return Ok(Some(file));
            }
        }
        Ok(None)
    }

    /// Adds a copy, verified before it gets its name, then lets old ones go.
    fn add<T>(
        &self,
        state: &State,
        ledger: &Path,
        still: &mut Still,
        verify: impl FnOnce(&Path) -> Result<T, StoreError>,
    ) -> Result<PathBuf, StoreError> {
        self.sweep();
        let file = self.folder.join(self.new_name(state, still)?.to_string());
        let mut draft = Draft::of_ledger(&file, Over::Nothing)?;
        still.copy_into(&mut draft)?;
        verify(draft.path())?;
        draft.put()?;
        self.remember(ledger)?;
        self.rotate(&file)?;
        Ok(file)
    }

    fn new_name(&self, state: &State, still: &Still) -> Result<Name, StoreError> {
        let day = match state.today() {
            Some(today) => today.to_string(),
            None => still.last_day()?,
        };
        let mut name = Name {
            day,
            entries: still.head().txn,
            fingerprint: still.head().hash[..8].to_owned(),
            number: 1,
        };
        while self.folder.join(name.to_string()).exists() {
            name.number += 1;
        }
        Ok(name)
    }

    /// Takes away what killed runs left; nobody else is writing here.
    fn sweep(&self) {
        for file in files_in(&self.folder) {
            if place::is_leftover(&file) {
                let _ = fs::remove_file(file);
            }
        }
    }

    /// Notes which file this is a ledger of, so that its copies are found when it can't be read.
    fn remember(&self, ledger: &Path) -> Result<(), StoreError> {
        let note = self.folder.join(format!("{}.of", state::key(ledger)));
        if note.exists() {
            return Ok(());
        }
        let words = format!("{}\n", ledger.display());
        Ok(place::write_file(&note, words.as_bytes(), Over::Whatever)?)
    }

    fn rotate(&self, made: &Path) -> Result<(), StoreError> {
        let names = names_in(&self.folder);
        for name in may_go(&names) {
            let file = self.folder.join(name.to_string());
            if file != made {
                fs::remove_file(&file)
                    .map_err(|error| StoreError::from_io(&file, "taking it away", error))?;
            }
        }
        Ok(())
    }
}

/// Which copies may go, of names in order: all but the newest ten, the newest of each month and the one with the
/// most entries.
fn may_go(names: &[Name]) -> Vec<&Name> {
    let month = |name: &Name| name.day[..7].to_owned();
    let most = names.iter().max_by_key(|name| name.entries);
    let mut months = BTreeSet::new();
    let mut newest_first: Vec<(usize, &Name)> = names.iter().rev().enumerate().collect();
    newest_first.retain(|(at, name)| {
        let first_of_month = months.insert(month(name));
        *at >= NEWEST && !first_of_month && Some(*name) != most
    });
    newest_first.into_iter().map(|(_, name)| name).collect()
}

/// The name of the folder of a ledger's copies: its id, unless that can't be a plain name.
fn folder_name(id: &str) -> String {
    let plain = (1..=64).contains(&id.len()) && id.bytes().all(|b| b.is_ascii_alphanumeric());
    if plain {
        id.to_owned()
    } else {
        format!("x-{}", state::key(Path::new(id)))
    }
}

pub(super) fn folder_of(state: &State, id: &str) -> PathBuf {
    state.folder().join("copies").join(folder_name(id))
}

fn files_in(folder: &Path) -> impl Iterator<Item = PathBuf> {
    let entries = fs::read_dir(folder).into_iter().flatten();
    entries.filter_map(Result::ok).map(|entry| entry.path())
}

/// The names of the copies in a folder, in order.
fn names_in(folder: &Path) -> Vec<Name> {
    let name_of = |file: PathBuf| Name::read(file.file_name()?.to_str()?);
    let mut names: Vec<Name> = files_in(folder).filter_map(name_of).collect();
    names.sort();
    names
}

/// The copies kept of a ledger by its id, oldest first.
pub(super) fn files_of(state: &State, id: &str) -> Vec<PathBuf> {
    let folder = folder_of(state, id);
    let file = |name: Name| folder.join(name.to_string());
    names_in(&folder).into_iter().map(file).collect()
}

/// The copies kept of a ledger, oldest first: of the one that stands there and of the one known to this computer at
/// its place; found by the place alone where it can't be read.
#[must_use]
pub fn automatic_copies(state: &State, ledger: &Path) -> Vec<AutomaticCopy> {
    let path = looks::resolve(ledger).or_else(|_| looks::resolve_new(ledger));
    let path = path.unwrap_or_else(|_| looks::resolve_away(ledger));
    let folders = match Still::hold(&path) {
        Ok(still) => {
            let known = state.mark_of(&path).map(|mark| mark.ledger);
            let known = known.filter(|id| id != still.id());
            let ids = known.iter().map(String::as_str).chain([still.id()]);
            ids.map(|id| folder_of(state, id)).collect()
        }
        Err(_) => remembered(state, &path),
    };
    let mut copies: Vec<(Name, PathBuf)> = folders
        .iter()
        .flat_map(|folder| {
            names_in(folder)
                .into_iter()
                .map(|name| (name, folder.clone()))
        })
        .collect();
    copies.sort();
    copies
        .into_iter()
        .map(|(name, folder)| {
            let file = folder.join(name.to_string());
            AutomaticCopy {
                bytes: fs::metadata(&file).map_or(0, |about| about.len()),
                file,
                day: name.day,
                entries: name.entries,
                fingerprint: name.fingerprint,
            }
        })
        .collect()
}

/// The ids of the ledgers that copies were made of at a resolved path.
pub(super) fn ids_known(state: &State, ledger: &Path) -> Vec<String> {
    let id_of = |folder: PathBuf| {
        let newest = names_in(&folder).pop()?;
        let still = Still::hold(&folder.join(newest.to_string())).ok()?;
        Some(still.id().to_owned())
    };
    remembered(state, ledger)
        .into_iter()
        .filter_map(id_of)
        .collect()
}

/// The folders of copies that were made of the file of a resolved path.
fn remembered(state: &State, ledger: &Path) -> Vec<PathBuf> {
    let note = format!("{}.of", state::key(ledger));
    files_in(&state.folder().join("copies"))
        .filter(|folder| folder.join(&note).exists())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn name(day: &str, entries: i64) -> Name {
        Name {
            day: day.to_owned(),
            entries,
            fingerprint: "38e9996b".to_owned(),
            number: 1,
        }
    }

    #[test]
    fn names_read_back_and_sort_by_day_and_entry() {
        let mut second = name("2026-03-01", 12);
        second.number = 2;
        assert_eq!(second.to_string(), "2026-03-01-00000012-38e9996b-2.db");
        for name in [name("2026-03-01", 12), second] {
            assert_eq!(Name::read(&name.to_string()), Some(name));
        }
        for other in [
            "2026-03-01.db",
            "2026-03-01-1-38e9996b.db.part-7",
            "1234.of",
        ] {
            assert_eq!(Name::read(other), None, "{other}");
        }
        let texts = ["2026-03-01", "2026-03-02"].map(|day| name(day, 99).to_string());
        assert!(texts[0] < texts[1] && texts[0] > name("2026-03-01", 98).to_string());
    }

    #[test]
    fn an_id_that_is_no_plain_name_does_not_lead_out_of_the_folder() {
        for id in ["../../etc", "", ".", "a/b", "ä", &"a".repeat(65)] {
            let folder = folder_name(id);
            assert!(folder.starts_with("x-") && !folder.contains('/'), "{id}");
        }
        assert_eq!(folder_name("00ff"), "00ff");
    }

    proptest! {
        /// The three promises of the rotation, each reckoned anew from the days and entries.
        #[test]
        fn what_goes_is_old_and_of_no_use(
            days in proptest::collection::btree_set((2024_i32..2027, 1_u32..13, 1_u32..28), 0..60),
            entries in proptest::collection::vec(1_i64..500, 60),
        ) {
            let mut names: Vec<Name> = days
                .iter()
                .zip(&entries)
                .map(|((y, m, d), entries)| name(&format!("{y}-{m:02}-{d:02}"), *entries))
                .collect();
            names.sort();
            let gone = may_go(&names);
            let kept: Vec<&Name> = names.iter().filter(|name| !gone.contains(name)).collect();
            let most = |names: &mut dyn Iterator<Item = i64>| names.max();
            prop_assert_eq!(
                most(&mut kept.iter().map(|n| n.entries)),
                most(&mut names.iter().map(|n| n.entries))
            );
            for (at, name) in names.iter().enumerate() {
                let is_newest = names.len() - at <= 10;
                let next = names.get(at + 1);
                let closes_month = next.is_none_or(|next| next.day[..7] != name.day[..7]);
                if is_newest || closes_month {
                    prop_assert!(kept.contains(&name), "{} went", name);
                }
            }
            let months: BTreeSet<&str> = names.iter().map(|name| &name.day[..7]).collect();
            prop_assert!(kept.len() <= 10 + months.len() + 1);
        }
    }
}
