//! What a run gets from the world: the ledger's path, what today is, the shared flags.
//!
//! The environment and the clock are read here once and nowhere else.

use std::ffi::OsString;
use std::path::PathBuf;

use sha2::{Digest, Sha256};

use super::args::Everywhere;
use super::exit::Outcome;
use super::failure::Failure;
use super::places;
use crate::records::day::Day;
use crate::report::{Answer, Page};

/// The time of an entry: the moment in UTC, and how far the clock on the wall is from it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stamp {
    /// `2026-03-01T12:00:00Z`.
    pub at_utc: String,
    /// Minutes that the wall clock is ahead of UTC.
    pub utc_offset_minutes: i32,
}

/// What a run gets from the world.
#[derive(Debug, Clone)]
pub struct Session {
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
    /// How wide words may run.
    pub page: Page,
    /// The command as typed, for the history.
    pub command: String,
}

impl Session {
    /// Reads the environment and the clock.
    ///
    /// # Errors
    /// [`Failure`] where `LOCULE_TODAY` is no day, or there is no place for a ledger.
    pub fn begin(everywhere: Everywhere, typed: &[OsString]) -> Result<Self, Failure> {
        let (today, stamp) = read_clock()?;
        Ok(Self {
            today,
            stamp,
            on: everywhere.on,
            even_so: everywhere.even_so,
            json: everywhere.json,
            ledger: places::ledger(everywhere.ledger)?,
            page: Page {
                width: page_width(),
            },
            command: command_text(typed),
        })
    }

    /// The day it happened: `--on`, else today.
    ///
    /// # Errors
    /// [`Failure`] where `--on` is no day.
    pub fn day(&self) -> Result<Day, Failure> {
        match &self.on {
            None => Ok(self.today),
            Some(text) => Ok(Day::read(text, self.today)?),
        }
    }

    /// As [`Session::day`], nothing where `--on unknown` was typed.
    ///
    /// # Errors
    /// [`Failure`] where `--on` is neither a day nor `unknown`.
    pub fn day_or_unknown(&self) -> Result<Option<Day>, Failure> {
        match &self.on {
            Some(text) if text.trim().eq_ignore_ascii_case("unknown") => Ok(None),
            _ => self.day().map(Some),
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

    /// Sixteen bytes for the id of a new ledger: fixed by `LOCULE_SEED`, else random.
    ///
    /// # Errors
    /// [`Failure`] where the system has no random numbers to give.
    pub fn fresh_id(&self) -> Result<[u8; 16], Failure> {
        let mut id = [0; 16];
        if let Some(seed) = variable("LOCULE_SEED") {
            id.copy_from_slice(&Sha256::digest(seed.as_bytes())[..16]);
        } else {
            getrandom::fill(&mut id).map_err(|error| {
                Failure::system("no random number for the id of the ledger")
                    .because(error.to_string())
            })?;
        }
        Ok(id)
    }
}

fn variable(name: &str) -> Option<String> {
    std::env::var(name).ok().filter(|value| !value.is_empty())
}

fn read_clock() -> Result<(Day, Stamp), Failure> {
    if let Some(text) = variable("LOCULE_TODAY") {
        let today: Day = text.parse().map_err(|_| {
            Failure::usage(format!(
                "the environment variable LOCULE_TODAY is no date: '{text}'"
            ))
            .because("it takes the year-month-day form")
            .try_typing("LOCULE_TODAY=2026-03-01 locule history")
        })?;
        let stamp = Stamp {
            at_utc: format!("{today}T12:00:00Z"),
            utc_offset_minutes: 0,
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
        utc_offset_minutes: now.offset().local_minus_utc() / 60,
    };
    Ok((today, stamp))
}

/// `COLUMNS`, else the terminal's width, else 80; never so narrow that a table cannot be read.
fn page_width() -> usize {
    let said = variable("COLUMNS").and_then(|text| text.parse::<usize>().ok());
    let width = said.or_else(|| comfy_table::Table::new().width().map(usize::from));
    width.unwrap_or(80).clamp(40, 500)
}

/// The command as a person could type it again: without the program, `--ledger` and `--json`.
fn command_text(typed: &[OsString]) -> String {
    let mut words = Vec::new();
    let mut rest = typed.iter().skip(1).map(|word| word.to_string_lossy());
    while let Some(word) = rest.next() {
        if word == "--ledger" {
            rest.next();
        } else if word != "--json" && !word.starts_with("--ledger=") {
            words.push(quoted(&word));
        }
    }
    words.join(" ")
}

fn quoted(word: &str) -> String {
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
        let typed: Vec<OsString> = typed.iter().map(OsString::from).collect();
        assert_eq!(command_text(&typed), "note NL 'it'\\''s up'");
    }
}
