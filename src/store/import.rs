//! The import: an export read strictly, judged line by line, built beside and put in place.
//!
//! The history in the export is played again; its records must be exactly what the history leads to. Nothing
//! is put in place that does not pass every check.

use std::collections::BTreeMap;
use std::io::BufRead;
use std::path::Path;

use super::chain::{self, Link};
use super::error::StoreError;
use super::fault::Fault;
use super::ledger::{Identity, Ledger};
use super::lines::{FORMAT, FORMAT_VERSION, Header, Line, Lines, RecordLine, tables_of};
use super::looks;
use super::merge::{Merged, Request};
use super::opening::mark_as_it_is;
use super::place::{Draft, Over};
use super::rebuild;
use super::replay::Replay;
use super::state::State;
use crate::records::facts::Facts;
use crate::records::rows::Rows;

/// What an import did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Imported {
    /// A ledger that held nothing but its beginning was replaced.
    Replaced,
    /// The ledger is the one exported, at the same entry; nothing was changed.
    Unchanged,
    /// The records were brought in beside those that were there.
    Merged(Box<Merged>),
}

/// Reproduces the ledger of an export in a new file.
///
/// # Errors
/// [`StoreError`]; then nothing was left behind.
pub fn import_new(path: &Path, state: &State, export: &Export) -> Result<(), StoreError> {
    let path = looks::resolve_new(path)?;
    let known = state.mark_of(&path);
    export.build_beside(&path, Over::Nothing)?.put()?;
    // Without a mark, the next to open verifies in full.
    let _ = mark_as_it_is(&path, state, known.as_ref());
    Ok(())
}

impl Ledger {
    /// Brings an export in: in place of a ledger that holds nothing but its beginning, else beside the
    /// records that are there.
    ///
    /// # Errors
    /// [`StoreError`] where the export is of this ledger in another state, was brought in before, or does not
    /// go together with the records here; then nothing was changed.
    pub fn import(
        self,
        export: &Export,
        how: &Request,
        state: &State,
    ) -> Result<Imported, StoreError> {
        if self.id() == export.header.ledger && self.head() == &export.replay.head {
            return Ok(Imported::Unchanged);
        }
        if self.holds_records() {
            return self
                .merge(export, how, state)
                .map(|merged| Imported::Merged(Box::new(merged)));
        }
        let path = self.path().to_owned();
        let built = export.build_beside(&path, Over::Whatever)?;
        replace(self, built)?;
        let _ = mark_as_it_is(&path, state, None);
        Ok(Imported::Replaced)
    }

    /// Whether more than the beginning stands in it.
    #[must_use]
    pub const fn holds_records(&self) -> bool {
        self.last_entry() > 1
    }
}

/// Puts the new file in the place of a ledger that no other process may write to meanwhile.
fn replace(mut ledger: Ledger, built: Draft) -> Result<(), StoreError> {
    let path = ledger.path().to_owned();
    let hold = |ledger: &Ledger| -> Result<(), Fault> {
        ledger.connection().execute_batch("BEGIN IMMEDIATE")?;
        if chain::head(ledger.connection(), ledger.id())? != *ledger.head() {
            return Err(Fault::Stale);
        }
        Ok(())
    };
    hold(&ledger).map_err(|fault| fault.at(&path))?;
    if cfg!(windows) {
        // A file that is open cannot be replaced there.
        ledger.let_go().map_err(|fault| fault.at(&path))?;
    }
    built.put()?;
    Ok(())
}

/// An export that was read and found whole.
#[derive(Debug)]
pub struct Export {
    header: Header,
    replay: Replay,
    links: Vec<Link>,
    sum: String,
}

impl Export {
    /// Reads an export, line by line.
    ///
    /// # Errors
    /// [`StoreError::ImportLine`] naming the line that is cut, edited or unreadable.
    pub fn read(reader: impl BufRead) -> Result<Self, StoreError> {
        let mut lines = Lines::new(reader);
        let header = match lines.next()? {
            Some(Line::Header(header)) => header,
            _ => return Err(lines.wrong("it is not the first line of an export".to_owned())),
        };
        judge_first(&header).map_err(|what| lines.wrong(what))?;
        let mut export = Self {
            replay: Replay::new(&header.ledger),
            header,
            links: Vec::new(),
            sum: String::new(),
        };
        let mut records: Vec<(u64, RecordLine)> = Vec::new();
        let sum = loop {
            match lines.next()? {
                Some(Line::Record(record)) if export.links.is_empty() => {
                    records.push((lines.number(), record));
                }
                Some(Line::Change(link)) => export.take(link).map_err(|what| lines.wrong(what))?,
                Some(Line::Last(sum)) => break sum,
                Some(_) => return Err(lines.wrong("it does not belong here".to_owned())),
                None => return Err(lines.wrong("the export ends before its last line".to_owned())),
            }
        };
        if export.ends_early() {
            return Err(lines.wrong("changes are missing before it".to_owned()));
        }
        export.judge_records(&records, lines.number())?;
        export.judge_header(&records)?;
        if sum != lines.sum() {
            return Err(lines.wrong("it is not the sum of the lines before it".to_owned()));
        }
        export.sum = sum;
        match lines.next() {
            Ok(None) => Ok(export),
            _ => Err(lines.wrong("something follows the last line".to_owned())),
        }
    }

    /// The id of its ledger.
    #[must_use]
    pub fn ledger(&self) -> &str {
        &self.header.ledger
    }

    /// How many entries its history has.
    #[must_use]
    pub const fn entries(&self) -> i64 {
        self.header.entries
    }

    /// The last hash of its history.
    #[must_use]
    pub fn head(&self) -> &str {
        &self.header.head
    }

    /// The sum of its lines.
    pub(super) fn sum(&self) -> &str {
        &self.sum
    }

    /// Whether its history went through an entry that ended in this hash.
    pub(super) fn went_through(&self, head: &str) -> bool {
        self.links.iter().any(|link| link.hash == head)
    }

    /// Everything its ledger holds.
    pub(super) fn facts(&self) -> Facts {
        let mut rows = Rows::default();
        for row in self.replay.typed_rows() {
            rows.put(row);
        }
        Facts::new(rows, self.replay.counters.clone())
    }

    fn take(&mut self, link: Link) -> Result<(), String> {
        self.links.push(link.clone());
        self.replay
            .step(link)
            .into_iter()
            .next()
            .map_or(Ok(()), Err)
    }

    /// Whether both the number of changes and the end of the chain are others than promised.
    fn ends_early(&self) -> bool {
        let (header, head) = (&self.header, &self.replay.head);
        header.changes != head.seq && header.head != head.hash
    }

    /// The records must be those that the history leads to, in order.
    fn judge_records(&self, records: &[(u64, RecordLine)], last: u64) -> Result<(), StoreError> {
        let wrong = |line: u64, what: String| Err(StoreError::ImportLine { line, what });
        let mut found = records.iter();
        let ends_at = records.last().map_or(2, |(line, _)| line + 1).min(last);
        for ((table, id), text) in &self.replay.rows {
            let name = table.name();
            let Some((line, record)) = found.next() else {
                return wrong(ends_at, format!("before it, {name} {id} is missing"));
            };
            if record.table != name || record.id != *id {
                return wrong(*line, format!("{name} {id} should stand here"));
            }
            if record.row.get() != text {
                return wrong(*line, format!("{name} {id} is not what its history says"));
            }
        }
        match found.next() {
            Some((line, record)) => wrong(
                *line,
                format!("the history knows no {} {}", record.table, record.id),
            ),
            None => Ok(()),
        }
    }

    fn judge_header(&self, records: &[(u64, RecordLine)]) -> Result<(), StoreError> {
        let mut rows: BTreeMap<String, i64> = tables_of(self.header.version)
            .map(|table| (table.name().to_owned(), 0))
            .collect();
        for (_, record) in records {
            *rows.entry(record.table.clone()).or_default() += 1;
        }
        let (header, head) = (&self.header, &self.replay.head);
        let stated = (&header.head, header.entries, header.changes, &header.rows);
        if stated == (&head.hash, head.txn, head.seq, &rows) {
            return Ok(());
        }
        Err(StoreError::ImportLine {
            line: 1,
            what: "it promises other numbers or another end than the lines that follow".to_owned(),
        })
    }

    /// Builds the ledger in a file of its own beside `path`, and checks it.
    pub(super) fn build_beside(&self, path: &Path, over: Over) -> Result<Draft, StoreError> {
        let draft = Draft::unmade(path, over)?;
        let identity = Identity {
            ledger_id: self.header.ledger.clone(),
        };
        let ledger = Ledger::make(draft.path(), &identity)?;
        let replay = &self.replay;
        rebuild::fill(&ledger, replay.typed_rows(), &self.links, &replay.counters)
            .map_err(|fault| fault.at(path))?;
        match ledger.check().first() {
            None => Ok(draft),
            Some(finding) => {
                Err(Fault::Rule(format!("the import did not pass its check ({finding})")).at(path))
            }
        }
    }
}

/// What the first line alone can tell.
fn judge_first(header: &Header) -> Result<(), String> {
    if header.format != FORMAT {
        return Err(format!(
            "it is of the format '{}', not '{FORMAT}'",
            header.format
        ));
    }
    if !(1..=FORMAT_VERSION).contains(&header.version) {
        return Err(format!(
            "it is of version {}, and this program knows versions 1 to {FORMAT_VERSION}",
            header.version
        ));
    }
    if header.origin != chain::origin(&header.ledger).hash {
        return Err("its origin does not follow from the id of its ledger".to_owned());
    }
    Ok(())
}
