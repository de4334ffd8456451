//! `history`, `undo` and `redo`.

use chrono::{DateTime, FixedOffset};
use clap::Args;

use super::thing::find;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::session::Session;
use crate::records::about::entries_about;
use crate::report::history::{EntryLine, HistoryAnswer, Reverted};
use crate::store::{EntryKind, HistoryEntry, Ledger};

/// What was recorded, entry by entry, nothing left out.
#[derive(Debug, Args)]
pub struct HistoryArgs {
    /// Only what is about this parent, cross, tray, seedling, lot or trait
    #[arg(value_name = "CODE")]
    about: Option<String>,
    /// Only the newest so many entries
    #[arg(long, value_name = "N")]
    last: Option<usize>,
}

impl HistoryArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read or the code is unknown.
    pub fn run(self, session: &Session) -> Result<Outcome, Failure> {
        let (ledger, facts) = session.ask()?;
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
        Ok(session.answer(&HistoryAnswer {
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
    #[arg(value_name = "ENTRY")]
    entry: Option<i64>,
}

impl UndoArgs {
    /// Takes it back.
    ///
    /// # Errors
    /// [`Failure`] naming the later entries that build on it.
    pub fn run(self, session: &Session) -> Result<Outcome, Failure> {
        let mut ledger = session.open_to_write()?;
        let entry = ledger.undo(self.entry, &session.stamp)?;
        said(session, &ledger, entry)
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
    pub fn run(self, session: &Session) -> Result<Outcome, Failure> {
        let mut ledger = session.open_to_write()?;
        let entry = ledger.redo(&session.stamp)?;
        said(session, &ledger, entry)
    }
}

fn said(session: &Session, ledger: &Ledger, number: i64) -> Result<Outcome, Failure> {
    let entries = ledger.history()?;
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
    Ok(session.answer(&reverted).kept(number))
}
