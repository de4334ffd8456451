//! Opening a ledger that others may share: under its lock, judged by its mark before anything is read or written.
//!
//! A file whose every byte is as the mark says is taken as verified. Any other is verified in full first: what is
//! damaged is not opened at all, and what contradicts the mark is opened for questions only, with a notice.

use std::path::{Path, PathBuf};

use super::accept;
use super::error::StoreError;
use super::fault::Fault;
use super::journal::{self, Scratch};
use super::ledger::Ledger;
use super::looks;
use super::mark::{Content, Mark};
use super::notice::Notice;
use super::settings::Purpose;
use super::standing::{self, Odds, Standing};
use super::state::{Lock, Share, State};
use super::upgrade;

/// What a ledger is opened for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Aim {
    /// Questions.
    Ask,
    /// A change.
    Write,
    /// To be checked, whatever its content.
    Check,
    /// To be taken as it stands, if it is whole.
    Accept,
}

impl Aim {
    /// Whether nobody else may be at the ledger meanwhile.
    pub(super) const fn alone(self) -> bool {
        matches!(self, Self::Write | Self::Accept)
    }

    /// How SQLite opens the file.
    pub(super) const fn purpose(self) -> Purpose {
        match self {
            Self::Write => Purpose::Write,
            Self::Ask | Self::Check | Self::Accept => Purpose::Ask,
        }
    }
}

/// What keeps an open ledger apart from other processes, and where goes what is learned about it.
#[derive(Debug)]
pub(super) struct Guard {
    pub(super) state: State,
    /// Whether the ledger was opened to be written to.
    pub(super) writes: bool,
    /// SQLite's number for the content as it was verified; others who write change it.
    pub(super) version: i64,
    /// Keeps other processes away; none where the state folder cannot be written.
    pub(super) _lock: Option<Lock>,
}

impl Ledger {
    /// Opens a ledger for questions only; the file and its folder stay byte for byte as they are.
    ///
    /// # Errors
    /// [`StoreError`] saying what stands there instead of a whole ledger of ours.
    pub fn open_to_ask(path: &Path, state: &State) -> Result<Self, StoreError> {
        open(path, state, Aim::Ask).map(|(ledger, ..)| ledger)
    }

    /// Opens a ledger to be checked: as [`Ledger::open_to_ask`], but without verifying its content.
    ///
    /// # Errors
    /// [`StoreError`]; [`StoreError::BeyondCheck`] where no check can say more than that it is damaged.
    pub fn open_to_check(path: &Path, state: &State) -> Result<Self, StoreError> {
        let opened = open(path, state, Aim::Check).map(|(ledger, ..)| ledger);
        opened.map_err(|error| match error {
            StoreError::Damaged { file, what } => StoreError::BeyondCheck { file, what },
            StoreError::Sqlite { file, source } => StoreError::BeyondCheck {
                file,
                what: source.to_string(),
            },
            other => other,
        })
    }

    /// Opens a ledger for recording.
    ///
    /// # Errors
    /// [`StoreError`] saying what stands there instead of a whole, writable ledger of ours;
    /// [`StoreError::AtOdds`] where it contradicts what this computer knows of it.
    pub fn open_to_write(path: &Path, state: &State) -> Result<Self, StoreError> {
        open(path, state, Aim::Write).map(|(ledger, ..)| ledger)
    }

    /// Writes down what this computer knows of the ledger, if it was verified and that can be written.
    ///
    /// `content` was read after the content was first looked at, while no transaction was open.
    pub(super) fn mark(&self, content: Content) {
        let Some(guard) = self.guard() else { return };
        let is_the_truth = self.standing().odds().is_none() && !self.is_on_copy();
        if is_the_truth && self.expect_verified().is_ok() {
            let mark = Mark::new(self.id(), self.path(), self.head(), content);
            // Without it, the next to open verifies in full.
            let _ = guard.state.keep_mark(self.path(), &mark);
        }
    }

    /// Whether this computer has a mark of the ledger as it is.
    #[must_use]
    pub fn is_marked(&self) -> bool {
        let mark = self
            .guard()
            .and_then(|guard| guard.state.mark_of(self.path()));
        mark.is_some_and(|mark| mark.head == self.head().hash)
    }

    /// As [`Ledger::mark`], after a COMMIT.
    pub(super) fn mark_commit(&self) {
        if self.guard().is_some()
            && let Ok(content) = Content::of(self.path())
        {
            self.mark(content);
        }
    }
}

/// Marks a ledger that was just put at a place. What was known of the place before gives way to it; where that was
/// more or something else, a note says so.
pub(super) fn mark_as_it_is(
    path: &Path,
    state: &State,
    known: Option<&Mark>,
) -> Result<(), StoreError> {
    let content = content_of(path)?;
    let ledger = Ledger::open(path, Purpose::Ask)?;
    let standing = standing::judge(ledger.connection(), ledger.id(), ledger.head(), known);
    if let Some(odds) = standing.map_err(|fault| fault.at(path))?.odds() {
        state.note(format!(
            "note: {}: {odds}; from now on it is taken as it stands",
            path.display()
        ));
    }
    let mark = Mark::new(ledger.id(), path, ledger.head(), content);
    state.keep_mark(path, &mark)
}

pub(super) fn content_of(path: &Path) -> Result<Content, StoreError> {
    Content::of(path).map_err(|error| StoreError::from_io(path, "reading it", error))
}

/// Opens a ledger; gives it with the mark by which it was judged and what the file holds.
pub(super) fn open(
    path: &Path,
    state: &State,
    aim: Aim,
) -> Result<(Ledger, Option<Mark>, Content), StoreError> {
    let path = looks::resolve(path)?;
    let share = if aim.alone() {
        Share::Nobody
    } else {
        Share::Askers
    };
    let lock = state.lock(&path, share)?;
    let settled = journal::settle(&path, state, lock, aim)?;
    let place = settled.scratch.as_ref().map(Scratch::ledger);
    let place = place.as_ref().unwrap_or(&path);
    if aim == Aim::Write && looks::is_older(place)? {
        // What is damaged or at odds stays as it is.
        let asked = Ledger::connect(place, Purpose::Ask)?;
        Known::of(&asked, place, state, aim)?.refuse_odds(&asked, state)?;
        drop(asked);
        upgrade::in_place(place, state)?;
    }
    let mut ledger = Ledger::connect(place, aim.purpose())?;
    let version = ledger.data_version().map_err(|fault| fault.at(&path))?;
    ledger.lies_at(path.clone(), settled.scratch);
    let known = Known::of(&ledger, place, state, aim)?;
    let mut notices = settled.notices;
    match aim {
        Aim::Write => known.refuse_odds(&ledger, state)?,
        Aim::Ask | Aim::Check => notices.extend(known.notice(&ledger, state)),
        Aim::Accept => {}
    }
    let Known {
        mark,
        content,
        standing,
    } = known;
    let is_at = |mark: &Mark| mark.is_at(&path);
    let is_known = standing == Standing::AsWritten && mark.as_ref().is_some_and(is_at);
    ledger.stand(standing, notices);
    ledger.guard_with(Guard {
        state: state.clone(),
        writes: aim == Aim::Write,
        version,
        _lock: settled.lock,
    });
    if matches!(aim, Aim::Ask | Aim::Write) && !is_known {
        ledger.mark(content.clone());
    }
    Ok((ledger, mark, content))
}

/// What is known of a ledger, and how it stands to that.
struct Known {
    mark: Option<Mark>,
    content: Content,
    standing: Standing,
}

impl Known {
    /// Of a ledger whose bytes lie at `place`: at its path, or in a copy that is asked.
    fn of(ledger: &Ledger, place: &Path, state: &State, aim: Aim) -> Result<Self, StoreError> {
        let content = content_of(place)?;
        let mark = state.mark_of(ledger.path());
        let mark = mark.or_else(|| state.mark_left_behind(ledger.id()));
        let standing = judge(ledger, mark.as_ref(), &content, aim)?;
        Ok(Self {
            mark,
            content,
            standing,
        })
    }

    /// What contradicts the mark, and the copy to restore.
    fn odds(&self, ledger: &Ledger, state: &State) -> Option<(Odds, Option<PathBuf>)> {
        let (odds, mark) = self.standing.odds().zip(self.mark.as_ref())?;
        Some((odds.clone(), accept::copy_to_restore(ledger, mark, state)))
    }

    fn notice(&self, ledger: &Ledger, state: &State) -> Option<Notice> {
        let (odds, copy) = self.odds(ledger, state)?;
        let file = ledger.path().to_owned();
        Some(Notice::AtOdds { file, odds, copy })
    }

    fn refuse_odds(&self, ledger: &Ledger, state: &State) -> Result<(), StoreError> {
        match self.odds(ledger, state) {
            None => Ok(()),
            Some((odds, copy)) => Err(StoreError::AtOdds {
                file: ledger.path().to_owned(),
                odds,
                copy,
            }),
        }
    }
}

/// How the ledger stands to its mark; one that is not byte for byte as marked is verified in full first.
fn judge(
    ledger: &Ledger,
    mark: Option<&Mark>,
    content: &Content,
    aim: Aim,
) -> Result<Standing, StoreError> {
    let as_written = |mark: &&Mark| mark.ledger == ledger.id() && mark.fits(content);
    if mark.filter(as_written).is_some() {
        return Ok(Standing::AsWritten);
    }
    let at = |fault: Fault| fault.at(ledger.path());
    if aim != Aim::Check {
        ledger.verify().map_err(at)?;
    }
    standing::judge(ledger.connection(), ledger.id(), ledger.head(), mark).map_err(at)
}
