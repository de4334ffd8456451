//! `history`, `undo` and `redo`.

use std::collections::BTreeMap;

use chrono::{DateTime, FixedOffset};
use clap::Args;

use super::thing::find;
use crate::cli::consequences::consequences;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::about::entries_about;
use crate::records::change::RowChange;
use crate::records::facts::Facts;
use crate::report::history::{EntryLine, HistoryAnswer, Reverted};
use crate::report::recorded::changed::{fields, said};
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
        let changes = ledger.changes()?;
        let mut about = None;
        if let Some(typed) = &self.about {
            let found = find(&facts, typed)?;
            let wanted = entries_about(&changes, found.thing, found.id);
            entries.retain(|entry| wanted.contains(&entry.entry));
            about = Some(found.label);
        }
        if let Some(last) = self.last {
            entries.drain(..entries.len().saturating_sub(last));
        }
        Ok(world.answer(&HistoryAnswer {
            about,
            entries: lines(&entries, &changes),
            fingerprint: ledger.fingerprint(),
        }))
    }
}

/// The entries shown, each with what it changed: the changes are gone through once, from the beginning.
fn lines(entries: &[HistoryEntry], changes: &BTreeMap<i64, Vec<RowChange>>) -> Vec<EntryLine> {
    let mut facts = Facts::default();
    let mut all = changes.iter().peekable();
    let mut found = Vec::with_capacity(entries.len());
    for entry in entries {
        while let Some((_, changes)) = all.next_if(|(number, _)| **number < entry.entry) {
            apply(&mut facts, changes);
        }
        let own = all.next_if(|(number, _)| **number == entry.entry);
        let own = own
            .map(|(_, changes)| changes.as_slice())
            .unwrap_or_default();
        let changed = match entry.kind {
            EntryKind::Init | EntryKind::Record => {
                apply(&mut facts, own);
                said(&facts, own)
            }
            EntryKind::Amend(_) => {
                let before = facts.clone();
                apply(&mut facts, own);
                Some(fields(&before, &facts, own).join("; "))
            }
            EntryKind::Undo(_) | EntryKind::Redo(_) => {
                apply(&mut facts, own);
                None
            }
        };
        found.push(EntryLine {
            changed,
            ..line(entry)
        });
    }
    found
}

fn apply(facts: &mut Facts, changes: &[RowChange]) {
    for change in changes {
        facts.apply(change);
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
            EntryKind::Amend(_) => "amend",
        },
        command: entry.command.clone(),
        changed: None,
        reverts: entry.reverts,
        amends: match entry.kind {
            EntryKind::Amend(amended) => Some(amended),
            _ => None,
        },
        undone_by: entry.undone_by,
        amended_by: entry.amended_by.clone(),
        changes: entry.changes,
    }
}

/// Day and time where it was typed; the stored text where that is no time.
pub fn on_the_wall(at_utc: &str, utc_offset: &str) -> String {
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
        let before = ledger.facts()?;
        let entry = ledger.undo(self.entry, &world.stamp)?;
        reverted(world, &mut ledger, &before, entry)
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
        let before = ledger.facts()?;
        let entry = ledger.redo(&world.stamp).map_err(|error| match error {
            StoreError::NothingToRedo { .. } => nothing_to_redo(&ledger, error),
            _ => error.into(),
        })?;
        reverted(world, &mut ledger, &before, entry)
    }
}

/// Why nothing can be redone: where something was recorded since the last undo, what to type again.
fn nothing_to_redo(ledger: &Ledger, error: StoreError) -> Failure {
    let entries = ledger.history().unwrap_or_default();
    // An undo that a redo took back is no entry to type again.
    let recorded = entries.iter().filter(|entry| entry.reverts.is_none());
    let undone = recorded.filter_map(|entry| Some((entry.undone_by?, entry)));
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
    Failure::refused(format!(
        "entry {} was undone, but entry {since} was recorded since, so it cannot be redone",
        entry.entry
    ))
    .because("type it again instead")
    .try_typing(format!("locule {}", typed_again(entry)))
}

/// The words of an entry that say the same when they are typed on a later day.
fn typed_again(entry: &HistoryEntry) -> String {
    let command = &entry.command;
    let day = on_the_wall(&entry.at_utc, &entry.utc_offset);
    // An amendment is read as on the day of the entry that it corrects, whatever day it is.
    let is_dated = matches!(entry.kind, EntryKind::Amend(_)) || command.contains("--on");
    match (day.split_once(' '), command.split_once(" -- ")) {
        (Some((day, _)), Some((words, text))) if !is_dated => {
            format!("{words} --on {day} -- {text}")
        }
        (Some((day, _)), None) if !is_dated => format!("{command} --on {day}"),
        _ => command.clone(),
    }
}

fn reverted(
    world: &World,
    ledger: &mut Ledger,
    before: &Facts,
    number: i64,
) -> Result<Outcome, Failure> {
    // By now it is recorded: a failure to read must not say otherwise.
    let file = ledger.path().to_owned();
    let unread = |error: StoreError| StoreError::Recorded {
        file: file.clone(),
        entry: number,
        cause: error.to_string(),
    };
    let after = ledger.facts().map_err(unread)?;
    let entries = ledger.history().map_err(unread)?;
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
        answers: consequences(world, before, &after),
    };
    Ok(world.answer(&reverted).kept(number))
}
