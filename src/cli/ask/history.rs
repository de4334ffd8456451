//! `history`, `undo` and `redo`.

use chrono::{DateTime, FixedOffset};
use clap::Args;

use super::thing::find;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::about::entries_about;
use crate::report::history::{EntryLine, HistoryAnswer, Reverted};
use crate::store::{EntryKind, HistoryEntry, Ledger, StoreError};

/// What was recorded, entry by entry, nothing left out.
#[derive(Debug, Args)]
pub struct HistoryArgs {
    /// Only what is about this parent, cross, tray, seedling, lot or trait
    #[arg(value_name = "CODE")]
    about: Option<String>,
    /// Only the newest so many entries
    #[arg(long, value_name = "N", value_parser = how_many)]
    last: Option<usize>,
}

/// The number of an entry as typed.
///
/// # Errors
/// What an entry's number is.
pub fn entry_number(text: &str) -> Result<i64, &'static str> {
    text.parse()
        .map_err(|_| "an entry is a number from 'locule history'")
}

fn how_many(text: &str) -> Result<usize, &'static str> {
    text.parse()
        .map_err(|_| "write how many entries to show, such as 10")
}

impl HistoryArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read or the code is unknown.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let (ledger, facts) = world.ask()?;
        let mut entries = ledger.history()?;
        let mut about = None;
        if let Some(typed) = &self.about {
            let found = find(&facts, typed)?;
            let wanted = entries_about(&ledger.changes()?, found.thing, found.id);
            entries.retain(|entry| wanted.contains(&entry.entry));
            about = Some(found.label);
        }
        if let Some(last) = self.last {
            entries.drain(..entries.len().saturating_sub(last));
        }
        Ok(world.answer(&HistoryAnswer {
            about,
            entries: entries.iter().map(line).collect(),
            fingerprint: ledger.fingerprint(),
        }))
    }
}

fn line(entry: &HistoryEntry) -> EntryLine {
    EntryLine {
        entry: entry.entry,
        at_utc: entry.at_utc.clone(),
        utc_offset: entry.utc_offset.clone(),
        at: on_the_wall(&entry.at_utc, &entry.utc_offset),
        kind: match entry.kind {
            EntryKind::Init => "init",
            EntryKind::Record => "record",
            EntryKind::Undo(_) => "undo",
            EntryKind::Redo(_) => "redo",
        },
        command: entry.command.clone(),
        reverts: entry.reverts,
        undone_by: entry.undone_by,
        changes: entry.changes,
    }
}

/// Day and time where it was typed; the stored text where that is no time.
fn on_the_wall(at_utc: &str, utc_offset: &str) -> String {
    let offset: Option<FixedOffset> = utc_offset.parse().ok();
    let at = DateTime::parse_from_rfc3339(at_utc).ok();
    match at.zip(offset) {
        Some((at, offset)) => at
            .with_timezone(&offset)
            .format("%Y-%m-%d %H:%M")
            .to_string(),
        None => at_utc.to_owned(),
    }
}

/// Takes back the newest entry, or the one named; nothing leaves the history.
#[derive(Debug, Args)]
#[command(allow_negative_numbers = true)]
pub struct UndoArgs {
    /// The entry's number in 'locule history'
    #[arg(value_name = "ENTRY", value_parser = entry_number)]
    entry: Option<i64>,
}

impl UndoArgs {
    /// Takes it back.
    ///
    /// # Errors
    /// [`Failure`] naming the later entries that build on it.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let mut ledger = world.open_to_write()?;
        let entry = ledger.undo(self.entry, &world.stamp)?;
        said(world, &ledger, entry)
    }
}

/// Takes back the last undo.
#[derive(Debug, Args)]
pub struct RedoArgs {}

impl RedoArgs {
    /// Takes it back.
    ///
    /// # Errors
    /// [`Failure`] where there is nothing to redo, or a code is held by another thing by now.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let mut ledger = world.open_to_write()?;
        let entry = ledger.redo(&world.stamp).map_err(|error| match error {
            StoreError::NothingToRedo { .. } => nothing_to_redo(&ledger, error),
            _ => error.into(),
        })?;
        said(world, &ledger, entry)
    }
}

/// Why nothing can be redone: where something was recorded since the last undo, what to type again.
fn nothing_to_redo(ledger: &Ledger, error: StoreError) -> Failure {
    let entries = ledger.history().unwrap_or_default();
    let undone = entries.iter().filter_map(|entry| {
        let by = entry.undone_by?;
        Some((by, entry))
    });
    let Some((by, entry)) = undone.max_by_key(|(by, _)| *by) else {
        return error.into();
    };
    let since = entries
        .iter()
        .map(|entry| entry.entry)
        .filter(|since| *since > by);
    let Some(since) = since.min() else {
        return error.into();
    };
    let day = on_the_wall(&entry.at_utc, &entry.utc_offset);
    let on = match day.split_once(' ') {
        Some((day, _)) if !entry.command.contains("--on") => format!(" --on {day}"),
        _ => String::new(),
    };
    Failure::refused(format!(
        "entry {} was undone, but entry {since} was recorded since, so it cannot be redone",
        entry.entry
    ))
    .because("type it again instead")
    .try_typing(format!("locule {}{on}", entry.command))
}

fn said(world: &World, ledger: &Ledger, number: i64) -> Result<Outcome, Failure> {
    // By now it is recorded: a failure to read must not say otherwise.
    let entries = ledger.history().map_err(|error| StoreError::Recorded {
        file: ledger.path().to_owned(),
        entry: number,
        cause: error.to_string(),
    })?;
    let of = |number: i64| entries.iter().find(|entry| entry.entry == number);
    let reverts = of(number).and_then(|entry| entry.reverts).unwrap_or(number);
    let (kind, concerns) = match of(reverts).map(|entry| entry.kind) {
        Some(EntryKind::Undo(original)) => ("redo", original),
        _ => ("undo", reverts),
    };
    let command = of(concerns)
        .map(|entry| entry.command.clone())
        .unwrap_or_default();
    let reverted = Reverted {
        entry: number,
        kind,
        reverts,
        concerns,
        command,
    };
    Ok(world.answer(&reverted).kept(number))
}
