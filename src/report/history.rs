//! The answers of `history`, `undo` and `redo`.

use serde::Serialize;

use super::consequences::Consequences;
use super::table::Table;
use super::text::{shown, wrapped};
use super::{Answer, Page};

/// One entry of the history.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EntryLine {
    /// Its number.
    pub entry: i64,
    /// When, in UTC.
    pub at_utc: String,
    /// The offset of the clock on the wall.
    pub utc_offset: String,
    /// The day and time on the wall.
    pub at: String,
    /// What it is: `init`, `record`, `undo`, `redo` or `amend`.
    pub kind: &'static str,
    /// The command as typed.
    pub command: String,
    /// What it changed, in words.
    pub changed: Option<String>,
    /// The entry it takes back, for an undo or redo.
    pub reverts: Option<i64>,
    /// The entry that it corrects, for an amendment.
    pub amends: Option<i64>,
    /// The entry that took it back, where it is not in force.
    pub undone_by: Option<i64>,
    /// The entries in force that correct it, oldest first.
    pub amended_by: Vec<i64>,
    /// How many rows it changed.
    pub changes: usize,
}

/// The history, or the part of it that is about one thing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HistoryAnswer {
    /// What was asked about.
    pub about: Option<String>,
    /// The entries, oldest first.
    pub entries: Vec<EntryLine>,
    /// The fingerprint of the ledger.
    pub fingerprint: String,
}

impl Answer for HistoryAnswer {
    fn words(&self, page: Page) -> String {
        if self.entries.is_empty() {
            return "Nothing was recorded.".to_owned();
        }
        let mut table = Table::new(&[">entry", "when", "typed", "state"]);
        for line in &self.entries {
            let state = match (line.undone_by, line.reverts, line.amended_by.last()) {
                (Some(by), ..) => format!("undone by {by}"),
                (None, Some(of), _) => format!("takes back {of}"),
                (None, None, Some(by)) => format!("amended by {by}"),
                (None, None, None) => String::new(),
            };
            table.row([
                line.entry.to_string(),
                line.at.clone(),
                line.command.clone(),
                state,
            ]);
            if let Some(changed) = &line.changed {
                table.remark(changed);
            }
        }
        table.text(page)
    }
}

/// What `undo` or `redo` did.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reverted {
    /// The new entry.
    pub entry: i64,
    /// `undo` or `redo`.
    pub kind: &'static str,
    /// The entry it takes back.
    pub reverts: i64,
    /// The entry that is out of force, or in force again.
    pub concerns: i64,
    /// The command of that entry.
    pub command: String,
    /// What changes in today's answers.
    pub answers: Consequences,
}

impl Answer for Reverted {
    fn words(&self, page: Page) -> String {
        let command = shown(&self.command);
        let said = if self.kind == "undo" {
            format!(
                "Undone: entry {} ({command}). 'locule redo' brings it back.",
                self.concerns
            )
        } else {
            format!("Back in force: entry {} ({command}).", self.concerns)
        };
        let answers = self.answers.words(page.width);
        format!("{}\n{answers}", wrapped(&said, page.width, ""))
    }
}
