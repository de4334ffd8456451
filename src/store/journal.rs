//! A rollback journal beside a ledger: an interrupted write to be taken back, or a stray file that would take
//! the ledger back in time.
//!
//! SQLite plays back whatever journal it finds. So both files are first copied aside, and the outcome is tried on
//! a copy and judged by the mark; only where it fits is SQLite let at the ledger itself.

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Instant;

use super::error::{NamedEntry, StoreError};
use super::fault::Fault;
use super::ledger::{self, Ledger};
use super::looks::{self, Beside};
use super::mark::{Content, Mark};
use super::notice::Notice;
use super::opening::Aim;
use super::place;
use super::settings::{self, Purpose};
use super::standing;
use super::state::{Lock, PATIENCE, PAUSE, Share, State, key};

/// How many pairs of a ledger and its journal are kept of each ledger.
const ASIDE_KEPT: usize = 5;
/// The names of a ledger and its journal in the state folder.
const LEDGER: &str = "ledger.db";
const JOURNAL: &str = "ledger.db-journal";

/// A ledger with nothing beside it that SQLite would follow.
#[derive(Debug)]
pub(super) struct Settled {
    /// The lock that was held, or one that keeps everybody out.
    pub(super) lock: Option<Lock>,
    /// What is to be said about it.
    pub(super) notices: Vec<Notice>,
    /// The copy to be asked in the ledger's place, where that could not be put in order.
    pub(super) scratch: Option<Scratch>,
}

/// Looks at the ledger until it stands still: an interrupted write is taken back, a stray journal set aside.
pub(super) fn settle(
    path: &Path,
    state: &State,
    lock: Option<Lock>,
    aim: Aim,
) -> Result<Settled, StoreError> {
    let mut settled = Settled {
        lock,
        notices: Vec::new(),
        scratch: None,
    };
    let (begun, mut alone, mut looked) = (Instant::now(), aim.alone(), false);
    loop {
        match (looks::look_beside(path)?, looks::look_at(path)) {
            (Beside::Nothing, Ok(())) => return Ok(settled),
            (Beside::Nothing, Err(StoreError::Truncated { .. })) if !looked => looked = true,
            (Beside::Journal, Ok(()) | Err(StoreError::Truncated { .. })) => {
                if !alone {
                    // No lock can be turned into another in one step.
                    settled.lock = None;
                    settled.lock = state.lock(path, Share::Nobody)?;
                    alone = true;
                } else if is_hot(path)? {
                    settled.recover(path, state, aim)?;
                    if settled.scratch.is_some() {
                        return Ok(settled);
                    }
                } else if begun.elapsed() > PATIENCE {
                    return Err(StoreError::Busy {
                        file: path.to_owned(),
                    });
                } else {
                    thread::sleep(PAUSE);
                }
            }
            (_, Err(error)) => return Err(error),
        }
    }
}

/// Whether SQLite would follow the journal. It does not while another process is writing, and a connection that
/// only reads says so instead of following it.
fn is_hot(path: &Path) -> Result<bool, StoreError> {
    let looked = settings::connect(path, Purpose::Ask).and_then(|connection| {
        connection.query_row("SELECT count(*) FROM sqlite_schema", [], |_| Ok(()))?;
        Ok(())
    });
    match looked.map_err(|fault| fault.at(path)) {
        Ok(()) => Ok(false),
        Err(StoreError::InterruptedWrite { .. }) => Ok(true),
        Err(error) => Err(error),
    }
}

impl Settled {
    /// Tries on copies what following the journal leads to, and follows it or sets it aside.
    fn recover(&mut self, path: &Path, state: &State, aim: Aim) -> Result<(), StoreError> {
        let aside = put_aside(path, state)?;
        let mark = state.mark_of(path);
        let back = Trial::of(&aside, path, state, mark.as_ref(), Follow::Journal)?;
        let as_it_is = Trial::of(&aside, path, state, mark.as_ref(), Follow::Nothing)?;
        let (done, trial) = match (&back.outcome, &as_it_is.outcome) {
            (Ok(then), Ok(now)) if now.entry > then.entry + 1 => (drop_journal(path), as_it_is),
            (Err(_), Ok(_)) => (drop_journal(path), as_it_is),
            (Ok(then), now) => {
                let whole = now.as_ref().ok().filter(|now| now.entry > then.entry);
                self.notices.extend(whole.map(|entry| Notice::TakenBack {
                    file: path.to_owned(),
                    entry: entry.clone(),
                }));
                let done = ledger::settle_journal(path).map_err(|fault| fault.at(path));
                (done, back)
            }
            (Err(why), Err(_)) => {
                return Err(StoreError::JournalUnfit {
                    file: path.to_owned(),
                    aside,
                    why: why.clone(),
                });
            }
        };
        match done {
            Ok(()) => {
                if trial.follow == Follow::Nothing {
                    self.notices.push(Notice::JournalSetAside {
                        journal: looks::beside(path, "-journal"),
                        aside,
                    });
                }
                Ok(())
            }
            Err(
                StoreError::ReadOnly { file }
                | StoreError::Permission { file }
                | StoreError::InterruptedWrite { file },
            ) => {
                if aim == Aim::Write {
                    return Err(StoreError::InterruptedWrite { file });
                }
                self.notices.push(Notice::OnCopy { file });
                self.scratch = Some(trial.scratch);
                Ok(())
            }
            Err(error) => Err(error),
        }
    }
}

/// Takes the journal away from beside the ledger; a copy of it lies aside.
fn drop_journal(path: &Path) -> Result<(), StoreError> {
    let journal = looks::beside(path, "-journal");
    fs::remove_file(&journal)
        .map_err(|error| StoreError::from_io(path, "taking its journal away", error))?;
    if let Some(folder) = path.parent() {
        // Without it a power cut brings the journal back, and it is judged anew.
        let _ = place::flush_folder(folder);
    }
    Ok(())
}

/// Copies ledger and journal together into the state folder, flushed; gives the folder.
fn put_aside(path: &Path, state: &State) -> Result<PathBuf, StoreError> {
    let room = state.room("aside")?.join(key(path));
    let mut there = folders(&room);
    if let Some(last) = there.last().filter(|last| holds(last, path)) {
        return Ok(last.clone());
    }
    let name = |folder: &PathBuf| folder.file_name()?.to_str()?.parse::<u32>().ok();
    let next = there.last().and_then(name).map_or(1, |last| last + 1);
    let folder = room.join(format!("{next:06}"));
    copy_pair(path, &folder, Follow::Journal).map_err(|error| uncopied(state, &folder, error))?;
    for folder in [&folder, &room] {
        // The copies themselves are flushed; without their names the ledger is none the worse.
        let _ = place::flush_folder(folder);
    }
    there.push(folder.clone());
    for old in there.iter().rev().skip(ASIDE_KEPT) {
        let _ = fs::remove_dir_all(old);
    }
    Ok(folder)
}

/// Why the state folder could not take a copy.
fn uncopied(state: &State, folder: &Path, error: std::io::Error) -> StoreError {
    match StoreError::from_io(folder, "copying the ledger", error) {
        StoreError::Full { file } => StoreError::Full { file },
        StoreError::Io { source, .. } => state.unusable(source),
        other => state.unusable(std::io::Error::other(other.to_string())),
    }
}

/// The folders in a folder, by name.
fn folders(room: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(room).into_iter().flatten();
    let mut found: Vec<PathBuf> = entries
        .filter_map(Result::ok)
        .map(|entry| entry.path())
        .collect();
    found.sort();
    found
}

/// Whether a folder holds the ledger and its journal as they are.
fn holds(folder: &Path, path: &Path) -> bool {
    let same = |one: &Path, other: &Path| match (Content::of(one), Content::of(other)) {
        (Ok(one), Ok(other)) => one == other,
        _ => false,
    };
    same(&folder.join(LEDGER), path)
        && same(&folder.join(JOURNAL), &looks::beside(path, "-journal"))
}

fn copy_pair(path: &Path, folder: &Path, follow: Follow) -> std::io::Result<()> {
    fs::create_dir_all(folder)?;
    let mut pair = vec![(path.to_owned(), folder.join(LEDGER))];
    if follow == Follow::Journal {
        pair.push((looks::beside(path, "-journal"), folder.join(JOURNAL)));
    }
    for (from, to) in pair {
        let mut copy = File::create(to)?;
        std::io::copy(&mut File::open(from)?, &mut copy)?;
        copy.sync_all()?;
    }
    Ok(())
}

/// What is tried on a copy.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Follow {
    /// SQLite finds the journal and follows it.
    Journal,
    /// There is no journal.
    Nothing,
}

/// A copy of a ledger in the state folder, gone again when it is dropped.
#[derive(Debug)]
pub(super) struct Scratch {
    folder: PathBuf,
}

impl Scratch {
    /// A copy of a ledger without what stands beside it.
    pub(super) fn of(path: &Path, state: &State) -> Result<Self, StoreError> {
        let name = format!("{}-{}", key(path), std::process::id());
        let scratch = Self {
            folder: state.room("scratch")?.join(name),
        };
        copy_pair(path, &scratch.folder, Follow::Nothing)
            .map_err(|error| uncopied(state, &scratch.folder, error))?;
        Ok(scratch)
    }

    /// The copy.
    pub(super) fn ledger(&self) -> PathBuf {
        self.folder.join(LEDGER)
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.folder);
    }
}

/// A copy of the ledger, and how it stands to the mark.
struct Trial {
    scratch: Scratch,
    follow: Follow,
    /// The last entry of a ledger that is whole and not at odds with the mark; else what is wrong with it.
    outcome: Result<NamedEntry, String>,
}

impl Trial {
    fn of(
        aside: &Path,
        path: &Path,
        state: &State,
        mark: Option<&Mark>,
        follow: Follow,
    ) -> Result<Self, StoreError> {
        let room = state.room("scratch")?;
        let folder = room.join(format!("{}-{follow:?}", key(path)).to_lowercase());
        // One that a killed process has left.
        let _ = fs::remove_dir_all(&folder);
        let scratch = Scratch { folder };
        copy_pair(&aside.join(LEDGER), &scratch.folder, follow)
            .map_err(|error| uncopied(state, &scratch.folder, error))?;
        let outcome = Ledger::open(&scratch.ledger(), Purpose::Ask)
            .and_then(|ledger| judge(&ledger, mark, state));
        let outcome = match outcome {
            Ok(outcome) => outcome,
            Err(StoreError::Damaged { what, .. }) => Err(what),
            Err(StoreError::Truncated { wanted, found, .. }) => {
                Err(format!("{found} bytes where its header says {wanted}"))
            }
            Err(error) => return Err(error),
        };
        Ok(Self {
            scratch,
            follow,
            outcome,
        })
    }
}

fn judge(
    ledger: &Ledger,
    mark: Option<&Mark>,
    state: &State,
) -> Result<Result<NamedEntry, String>, StoreError> {
    let at = |fault: Fault| fault.at(ledger.path());
    ledger.verify().map_err(at)?;
    let moved = state.mark_left_behind(ledger.id());
    let mark = mark.or(moved.as_ref());
    let standing = standing::judge(ledger.connection(), ledger.id(), ledger.head(), mark);
    match standing.map_err(at)?.odds() {
        Some(odds) => Ok(Err(odds.to_string())),
        None => ledger.last_named().map(Ok),
    }
}
