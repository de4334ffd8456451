//! The answer of `accept`: what is taken as it stands, and what that leaves behind.

use serde::Serialize;

use super::numbers::several;
use super::text::{shown, wrapped};
use super::{Answer, Page};

/// Where a history ends.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Ending {
    /// Its last entry.
    pub entry: i64,
    /// Its fingerprint there.
    pub fingerprint: String,
}

/// An entry by number and what was typed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct EntryWords {
    /// Its number.
    pub entry: i64,
    /// What was typed.
    pub command: String,
}

/// What `accept` did.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AcceptAnswer {
    /// The file.
    pub ledger: String,
    /// Its id.
    pub ledger_id: String,
    /// How many entries the history has.
    pub entries: i64,
    /// Its fingerprint.
    pub fingerprint: String,
    /// How it stood before: `behind`, `diverged`, `another-ledger`, `new`, `as-known`.
    pub was: &'static str,
    /// The end that was known before, where the file lacks it.
    pub known: Option<Ending>,
    /// Entries that a copy holds and the file does not, where there is such a copy.
    pub lost: Option<Vec<EntryWords>>,
    /// Entries that the file holds and the copy does not.
    pub new: Option<Vec<EntryWords>>,
    /// The copy.
    pub copy: Option<String>,
}

impl Answer for AcceptAnswer {
    fn words(&self, page: Page) -> String {
        let of = format!(
            "{}: {}, fingerprint {}.",
            shown(&self.ledger),
            several(self.entries.unsigned_abs(), "entry", "entries"),
            self.fingerprint
        );
        let mut said = vec![of, self.outcome()];
        said.extend(self.missing());
        if let Some(copy) = &self.copy {
            said.push(format!("Compared with the copy {}:", shown(copy)));
        }
        let lists = [("only there", &self.lost), ("only here", &self.new)];
        for (place, entries) in lists {
            for entry in entries.iter().flatten() {
                let command = shown(&entry.command);
                said.push(format!("  {place}: entry {} ({command})", entry.entry));
            }
        }
        let lines = said.iter().map(|line| wrapped(line, page.width, "  "));
        lines.collect::<Vec<_>>().join("\n")
    }
}

impl AcceptAnswer {
    fn outcome(&self) -> String {
        match self.was {
            "as-known" => "It is as this computer knows it; there was nothing to accept.",
            "new" => "It is whole; this computer knows it from now on.",
            _ => "It is whole, and is taken as it stands: it can be recorded in again.",
        }
        .to_owned()
    }

    /// What was known and is not in the file.
    fn missing(&self) -> Option<String> {
        let known = self.known.as_ref()?;
        let first = self.entries + 1;
        Some(match self.was {
            "behind" if first == known.entry => {
                format!("Entry {first} was known here and is not in this file.")
            }
            "behind" => format!(
                "Entries {first} to {} were known here and are not in this file.",
                known.entry
            ),
            _ => format!(
                "Entry {} with the fingerprint {} was known here and is not in this file.",
                known.entry, known.fingerprint
            ),
        })
    }
}
