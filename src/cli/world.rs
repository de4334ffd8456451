//! What a run gets from the world: the ledger's path, what today is, the shared flags.
//!
//! The environment and the clock are read here once and nowhere else.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::path::PathBuf;

use sha2::{Digest, Sha256};

use super::args::Everywhere;
use super::exit::Outcome;
use super::failure::Failure;
use super::places;
use super::remarks;
use super::remedy::{Typed, joined};
use super::story::Book;
use crate::records::admit::Identity::Taken;
use crate::records::admit::{Admitted, Bench, Refusal, Remedy, admit};
use crate::records::change::RowChange;
use crate::records::code::fold;
use crate::records::day::Day;
use crate::records::entry::Entry;
use crate::records::facts::Facts;
use crate::records::rows::Row;
use crate::report::text::wrapped;
use crate::report::{Answer, Page};
use crate::store::{
    EntryKind, EntryNote, Identity, Ledger, Stamp, State, StoreError, automatic_copies,
};

/// What a recording gave.
#[derive(Debug)]
pub struct Recorded {
    /// The entry's number in the history.
    pub entry: i64,
    /// What the gate let through.
    pub admitted: Admitted,
    /// The ledger as it is now.
    pub facts: Facts,
}

/// What makes a run repeatable: the day, and the seed of a new ledger's id, where they are fixed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Fixed {
    /// What today is: `LOCULE_TODAY`.
    pub today: Option<String>,
    /// What the id of a new ledger is made of: `LOCULE_SEED`.
    pub seed: Option<String>,
    /// Where this computer keeps what it knows of ledgers: `LOCULE_STATE`.
    pub state: Option<PathBuf>,
}

impl Fixed {
    /// As the environment fixes them.
    #[must_use]
    pub fn by_environment() -> Self {
        Self {
            today: variable("LOCULE_TODAY"),
            seed: variable("LOCULE_SEED"),
            state: path_variable("LOCULE_STATE"),
        }
    }
}

/// What a run gets from the world.
#[derive(Debug, Clone)]
pub struct World {
    /// Today.
    pub today: Day,
    /// The time of an entry made by this run.
    pub stamp: Stamp,
    /// The day typed with `--on`.
    on: Option<String>,
    /// Whether the implausible is to be recorded.
    pub even_so: bool,
    /// Whether the answer is to be JSON.
    pub json: bool,
    /// The ledger.
    pub ledger: PathBuf,
    /// What this computer keeps about ledgers.
    pub state: State,
    /// How wide words may run.
    pub page: Page,
    /// The command as typed, for the history.
    pub command: String,
    /// Path and checksum of pictures that are on record, which are not read again.
    pub pictures: BTreeMap<String, String>,
    /// What the id of a new ledger is made of; without it chance.
    seed: Option<String>,
    /// What is to be said beside the answer.
    remarks: RefCell<Vec<String>>,
}

impl World {
    /// Reads the environment, and the clock where no day is fixed.
    ///
    /// # Errors
    /// [`Failure`] where the day fixed is no day, or there is no place for a ledger.
    pub fn begin(everywhere: Everywhere, typed: &Typed, fixed: Fixed) -> Result<Self, Failure> {
        let (today, stamp) = read_clock(fixed.today)?;
        Ok(Self {
            today,
            stamp,
            on: everywhere.on,
            even_so: everywhere.even_so,
            json: everywhere.json,
            ledger: places::ledger(stated_ledger(everywhere.ledger))?,
            state: State::at(places::state(fixed.state)?).on(today),
            page: Page {
                width: page_width(),
            },
            command: typed.text(),
            pictures: BTreeMap::new(),
            seed: fixed.seed,
            remarks: RefCell::default(),
        })
    }

    /// The world of an earlier day, for words that were typed then.
    #[must_use]
    pub fn as_on(
        &self,
        today: Day,
        everywhere: &Everywhere,
        pictures: BTreeMap<String, String>,
    ) -> Self {
        Self {
            today,
            on: everywhere.on.clone(),
            even_so: everywhere.even_so,
            pictures,
            ..self.clone()
        }
    }

    /// The day typed with `--on`, as typed.
    #[must_use]
    pub fn on_typed(&self) -> Option<&str> {
        self.on.as_deref()
    }

    /// The day it happened: `--on`, else today.
    ///
    /// # Errors
    /// [`Failure`] where `--on` is no day.
    pub fn day(&self) -> Result<Day, Failure> {
        match &self.on {
            None => Ok(self.today),
            Some(text) => self.read_day("--on", text),
        }
    }

    /// A day typed with a flag.
    ///
    /// # Errors
    /// [`Failure`] where it is no day.
    pub fn read_day(&self, flag: &'static str, text: &str) -> Result<Day, Failure> {
        Day::read(text, self.today).map_err(|error| Failure::of_day(flag, &error))
    }

    /// As [`World::day`], nothing where `--on unknown` was typed.
    ///
    /// # Errors
    /// [`Failure`] where `--on` is neither a day nor `unknown`.
    pub fn day_or_unknown(&self) -> Result<Option<Day>, Failure> {
        match &self.on {
            Some(text) if text.trim().eq_ignore_ascii_case("unknown") => Ok(None),
            _ => self.day().map(Some).map_err(|failure| {
                failure.because("a pollination long past also takes --on unknown")
            }),
        }
    }

    /// Puts an answer into words, or JSON where that was asked for.
    #[must_use]
    pub fn answer(&self, answer: &impl Answer) -> Outcome {
        if self.json {
            Outcome::said(answer.json())
        } else {
            Outcome::said(answer.words(self.page))
        }
    }

    /// Opens the ledger for a question.
    ///
    /// # Errors
    /// [`Failure`] saying what stands there instead of a ledger.
    pub fn open_to_ask(&self) -> Result<Ledger, Failure> {
        places::expect_begun(&self.ledger)?;
        let opened = Ledger::open_to_ask(&self.ledger, &self.state);
        Ok(self.heed(opened.map_err(|error| self.unopened(error))?))
    }

    /// Opens the ledger for a change.
    ///
    /// # Errors
    /// [`Failure`] saying what stands there instead of a ledger that can be written.
    pub fn open_to_write(&self) -> Result<Ledger, Failure> {
        places::expect_begun(&self.ledger)?;
        let opened = Ledger::open_to_write(&self.ledger, &self.state);
        let ledger = self.heed(opened.map_err(|error| self.unopened(error))?);
        self.point_out_copies(&ledger);
        Ok(ledger)
    }

    /// Why the ledger could not be opened; where it cannot be used at all, with the newest copy that is kept of it.
    #[must_use]
    pub fn unopened(&self, error: StoreError) -> Failure {
        let is_lost = matches!(
            error,
            StoreError::Missing { .. }
                | StoreError::FolderMissing { .. }
                | StoreError::Empty { .. }
                | StoreError::NotADatabase { .. }
                | StoreError::Foreign { .. }
                | StoreError::Truncated { .. }
                | StoreError::JournalUnfit { .. }
                | StoreError::BeyondCheck { .. }
        );
        // A disk that is not there comes back; a copy put in its place would lie in its way.
        let is_away = matches!(error, StoreError::FolderMissing { .. });
        let failure = Failure::from(error);
        if !is_lost {
            return failure;
        }
        match automatic_copies(&self.state, &self.ledger).last() {
            Some(copy) if is_away => failure
                .only_try(Remedy::Again)
                .try_typing(remarks::restore(Some(&copy.file))),
            Some(copy) => failure.try_first(remarks::restore(Some(&copy.file))),
            None => failure,
        }
    }

    /// Takes up what is to be said about a ledger that was opened.
    pub fn heed(&self, ledger: Ledger) -> Ledger {
        for notice in ledger.notices() {
            self.remark(remarks::of_notice(notice));
        }
        ledger
    }

    /// Points out files beside the ledger that by their names are other states of it.
    pub fn point_out_copies(&self, ledger: &Ledger) {
        for copy in ledger.copies_beside() {
            self.remark(remarks::of_copy(&copy));
        }
    }

    /// Adds something to be said on standard error beside the answer, once.
    pub fn remark(&self, remark: String) {
        let mut remarks = self.remarks.borrow_mut();
        if !remarks.contains(&remark) {
            remarks.push(remark);
        }
    }

    /// What is to be said on standard error beside the answer, wrapped; commands to try name the ledger typed.
    #[must_use]
    pub fn remarks(&self, typed: &Typed) -> String {
        let mut remarks = self.remarks.borrow().clone();
        remarks.extend(self.state.take_notes());
        let lines = remarks.iter().flat_map(|remark| remark.lines());
        let wrap = |line: &str| match line.strip_prefix("try: ") {
            Some(command) => format!("try: {}\n", typed.on_ledger(command)),
            None => wrapped(line, self.page.width, "  ") + "\n",
        };
        lines.map(wrap).collect()
    }

    /// Opens the ledger for a question and reads all of it.
    ///
    /// # Errors
    /// [`Failure`] saying what stands there instead of a ledger.
    pub fn ask(&self) -> Result<(Ledger, Facts), Failure> {
        let mut ledger = self.open_to_ask()?;
        let facts = ledger.facts()?;
        Ok((ledger, facts))
    }

    /// Opens the ledger, puts an entry before the gate and records what it lets through.
    ///
    /// # Errors
    /// [`Failure`] in the words of the gate or of the store; then nothing was recorded unless it says so.
    pub fn record(&self, entry: &Entry) -> Result<Recorded, Failure> {
        self.record_as(entry, &self.command)
    }

    /// The same, kept in the history under other words than those typed: a command that says by itself what was
    /// recorded.
    ///
    /// # Errors
    /// As [`World::record`].
    pub fn record_as(&self, entry: &Entry, command: &str) -> Result<Recorded, Failure> {
        let mut ledger = self.open_to_write()?;
        let facts = ledger.facts()?;
        self.put(&mut ledger, facts, entry, EntryKind::Record, command)
    }

    /// Makes a new ledger and records its beginning.
    ///
    /// # Errors
    /// [`Failure`] where there is one already or none can be made.
    pub fn begin_ledger(&self) -> Result<Recorded, Failure> {
        places::make_room(&self.ledger)?;
        let identity = Identity {
            ledger_id: fresh_id(self.seed.as_deref())?,
        };
        let mut ledger = Ledger::create(&self.ledger, &identity, &self.state)
            .map_err(|error| self.not_made(error))?;
        let facts = ledger.facts()?;
        self.put(
            &mut ledger,
            facts,
            &Entry::Init,
            EntryKind::Init,
            &self.command,
        )
    }

    /// A ledger that cannot be made is the fault of its folder, unless something stands in its place.
    fn not_made(&self, error: StoreError) -> Failure {
        let denied = matches!(
            error,
            StoreError::Missing { .. }
                | StoreError::Permission { .. }
                | StoreError::ReadOnly { .. }
        ) || matches!(
            &error,
            StoreError::Io {
                what: "making it",
                ..
            }
        );
        if !denied || self.ledger.exists() {
            return error.into();
        }
        let folder = self.ledger.parent().unwrap_or(&self.ledger).display();
        let failure = Failure::refused(format!("no file can be made in the folder '{folder}'"));
        let cause = std::error::Error::source(&error).map(ToString::to_string);
        failure
            .because(cause.unwrap_or_else(|| "this user may not write in it".to_owned()))
            .because("nothing was changed")
            .try_elsewhere("season.db")
    }

    fn put(
        &self,
        ledger: &mut Ledger,
        mut facts: Facts,
        entry: &Entry,
        kind: EntryKind,
        command: &str,
    ) -> Result<Recorded, Failure> {
        let bench = Bench {
            today: self.today,
            even_so: self.even_so,
        };
        let admitted =
            admit(&facts, entry, &bench).map_err(|refusal| explained(ledger, refusal))?;
        let note = EntryNote {
            at_utc: self.stamp.at_utc.clone(),
            utc_offset: self.stamp.utc_offset.clone(),
            command: command.to_owned(),
            kind,
        };
        let number = ledger.record(&note, &admitted.changes, &admitted.counters)?;
        for change in &admitted.changes {
            facts.apply(change);
        }
        for (series, next) in &admitted.counters {
            facts.advance_counter(series, *next);
        }
        Ok(Recorded {
            entry: number,
            admitted,
            facts,
        })
    }
}

/// A refusal in words; of a code that is taken with the entry that gave it, which can be taken back.
fn explained(ledger: &mut Ledger, refusal: Refusal) -> Failure {
    let taken = match &refusal {
        Refusal::Identity(Taken { code, .. }) => Some(fold(code)),
        _ => None,
    };
    let failure = Failure::from(refusal);
    let Some(key) = taken else { return failure };
    let gives = |change: &RowChange| {
        change.before.is_none() && matches!(&change.after, Some(Row::Code(row)) if row.key == key)
    };
    let Ok(changes) = ledger.changes() else {
        return failure;
    };
    let giver = changes
        .iter()
        .rfind(|(_, changes)| changes.iter().any(gives))
        .map(|(entry, _)| *entry);
    match giver.filter(|entry| *entry > 1) {
        Some(entry) if !ledger.can_undo(entry) => {
            let words = Book::read(ledger).ok().and_then(|book| {
                let words = book.words(book.entry(entry)?)?;
                Some((entry, words))
            });
            match words {
                Some((entry, words)) => failure
                    .because(format!(
                        "to correct what entry {entry} says, amend it by the words that it should have had"
                    ))
                    .try_typing(format!("locule amend {entry} {}", joined(&words))),
                None => failure,
            }
        }
        Some(entry) => failure
            .because(format!(
                "to correct what entry {entry} says, take it back and type it anew"
            ))
            .try_typing(format!("locule undo {entry}")),
        None => failure,
    }
}

/// The id of a new ledger, in hexadecimal: fixed by `LOCULE_SEED`, else random.
fn fresh_id(seed: Option<&str>) -> Result<String, Failure> {
    let mut id = [0; 16];
    if let Some(seed) = seed {
        id.copy_from_slice(&Sha256::digest(seed.as_bytes())[..16]);
    } else {
        getrandom::fill(&mut id).map_err(|error| {
            Failure::system("no random number for the id of the ledger").because(error.to_string())
        })?;
    }
    Ok(id.iter().map(|byte| format!("{byte:02x}")).collect())
}

fn variable(name: &str) -> Option<String> {
    std::env::var(name).ok().filter(|value| !value.is_empty())
}

/// The ledger named with `--ledger`, else by `LOCULE_LEDGER`; an empty variable counts as unset.
fn stated_ledger(said: Option<PathBuf>) -> Option<PathBuf> {
    said.or_else(|| path_variable("LOCULE_LEDGER"))
}

fn path_variable(name: &str) -> Option<PathBuf> {
    let value = std::env::var_os(name).filter(|value| !value.is_empty());
    value.map(PathBuf::from)
}

fn read_clock(fixed: Option<String>) -> Result<(Day, Stamp), Failure> {
    if let Some(text) = fixed {
        let today: Day = text.parse().map_err(|_| {
            Failure::usage(format!(
                "the environment variable LOCULE_TODAY is no date: '{text}'"
            ))
            .because("it takes the year-month-day form")
            .try_typing("LOCULE_TODAY=2026-03-01 locule history")
        })?;
        let stamp = Stamp {
            at_utc: format!("{today}T12:00:00Z"),
            utc_offset: "+00:00".to_owned(),
        };
        return Ok((today, stamp));
    }
    let now = chrono::Local::now();
    let today = now.date_naive().to_string().parse().map_err(|_| {
        Failure::system(format!("this computer's clock says {}", now.date_naive()))
            .because("that is outside the years 1900 to 2199")
            .try_typing("LOCULE_TODAY=2026-03-01 locule history")
    })?;
    let stamp = Stamp {
        at_utc: now.to_utc().format("%Y-%m-%dT%H:%M:%SZ").to_string(),
        utc_offset: now.format("%:z").to_string(),
    };
    Ok((today, stamp))
}

/// `COLUMNS`, else the terminal's width, else 80; never so narrow that a table cannot be read.
pub(super) fn page_width() -> usize {
    let said = variable("COLUMNS").and_then(|text| text.parse::<usize>().ok());
    let width = said.or_else(|| comfy_table::Table::new().width().map(usize::from));
    width.unwrap_or(80).clamp(40, 500)
}

/// The words of a command line that was kept; nothing where it cannot have been written by [`quoted`].
pub(super) fn unquoted(line: &str) -> Option<Vec<String>> {
    let (mut words, mut word, mut open, mut within) = (Vec::new(), String::new(), false, false);
    let mut rest = line.chars();
    while let Some(c) = rest.next() {
        match c {
            '\'' => (within, open) = (!within, true),
            '\\' if !within => {
                word.push(rest.next()?);
                open = true;
            }
            ' ' if !within => {
                if open {
                    words.push(std::mem::take(&mut word));
                }
                open = false;
            }
            c => {
                word.push(c);
                open = true;
            }
        }
    }
    if open {
        words.push(word);
    }
    (!within).then_some(words)
}

/// A word as a shell takes it for one.
pub(super) fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "-_.,/=:+@%".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', "'\\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_command_is_kept_as_it_could_be_typed_again() {
        let typed = [
            "locule", "--ledger", "x.db", "note", "NL", "it's up", "--json",
        ];
        let typed: Vec<std::ffi::OsString> = typed.iter().map(Into::into).collect();
        assert_eq!(Typed::of(&typed).text(), "note NL 'it'\\''s up'");
    }

    #[test]
    fn a_kept_command_is_read_back_word_by_word() {
        let words = [
            "note",
            "NL",
            "it's \\ \"up\"",
            "",
            "--",
            "--json",
            "Ünter\n2",
        ];
        let line = words.map(quoted).join(" ");
        assert_eq!(unquoted(&line).unwrap(), words);
        assert_eq!(unquoted("note NL 'open"), None);
    }
}
