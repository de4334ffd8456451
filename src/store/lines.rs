//! The lines of an export: their shape, and how each is written and strictly read.
//!
//! A line is accepted only if writing it again gives the same bytes: one way to say a thing, so that two
//! exports of equal ledgers are equal.

use std::collections::BTreeMap;
use std::io::BufRead;

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use sha2::{Digest, Sha256};

use super::chain::Link;
use super::error::StoreError;
use super::hex;
use crate::records::rows::Table;

/// What the first line says it is.
pub(super) const FORMAT: &str = "locule ledger";
/// The version of the format.
pub(super) const FORMAT_VERSION: i64 = 3;

/// The tables that an export of a version counts.
pub(super) fn tables_of(version: i64) -> impl Iterator<Item = Table> {
    let tables = Table::ALL.iter().copied();
    tables.filter(move |table| version >= first_version_of(*table))
}

/// The first version that has a table.
const fn first_version_of(table: Table) -> i64 {
    match table {
        Table::ImportedLedger | Table::CameFrom => 2,
        Table::Adoption | Table::Goal | Table::Grade | Table::Tasting => 3,
        _ => 1,
    }
}

/// The longest line that is read, in bytes.
const LINE_MAX: u64 = 8_000_000;

/// The first line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Header {
    pub(super) format: String,
    pub(super) version: i64,
    pub(super) ledger: String,
    /// The beginning of the chain, which follows from the id.
    pub(super) origin: String,
    /// The end of the chain.
    pub(super) head: String,
    pub(super) entries: i64,
    pub(super) changes: i64,
    pub(super) rows: BTreeMap<String, i64>,
}

/// The line of a record.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RecordLine {
    pub(super) table: String,
    pub(super) id: i64,
    pub(super) row: Box<RawValue>,
}

/// The line of a change.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ChangeLine {
    change: i64,
    entry: i64,
    at_utc: String,
    utc_offset: String,
    command: String,
    kind: String,
    entity: String,
    entity_id: i64,
    before: Option<Box<RawValue>>,
    after: Option<Box<RawValue>>,
    hash: String,
}

/// The last line: SHA-256 of all bytes before it.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct LastLine {
    sha256: String,
}

/// One line of an export.
#[derive(Debug)]
pub(super) enum Line {
    /// The first.
    Header(Header),
    /// A record.
    Record(RecordLine),
    /// A change.
    Change(Link),
    /// The last.
    Last(String),
}

/// A text as it stands, as a part of a line; nothing where it is no JSON.
pub(super) fn raw(text: &str) -> Option<Box<RawValue>> {
    RawValue::from_string(text.to_owned()).ok()
}

fn text_of(line: &impl Serialize) -> String {
    let mut text = serde_json::to_string(line).expect("a line holds nothing but texts and numbers");
    text.push('\n');
    text
}

impl Line {
    /// The line as it is written, line feed included; nothing where a stored text is no JSON.
    pub(super) fn write(&self) -> Option<String> {
        Some(match self {
            Self::Header(header) => text_of(header),
            Self::Record(record) => text_of(record),
            Self::Change(link) => text_of(&change_line(link)?),
            Self::Last(sum) => text_of(&LastLine {
                sha256: sum.clone(),
            }),
        })
    }

    /// The line from its bytes, line feed included.
    fn read(bytes: &[u8]) -> Result<Self, String> {
        let text = std::str::from_utf8(bytes).map_err(|_| "it is not UTF-8".to_owned())?;
        let body = text.strip_suffix('\n').ok_or("it is cut off")?;
        let line = if body.starts_with("{\"format\"") {
            Self::Header(parse(body)?)
        } else if body.starts_with("{\"table\"") {
            Self::Record(parse(body)?)
        } else if body.starts_with("{\"change\"") {
            Self::Change(link_of(parse(body)?))
        } else if body.starts_with("{\"sha256\"") {
            Self::Last(parse::<LastLine>(body)?.sha256)
        } else {
            return Err("it is no line of an export".to_owned());
        };
        if line.write().as_deref() == Some(text) {
            Ok(line)
        } else {
            Err("it is not written as an export writes it".to_owned())
        }
    }
}

fn parse<T: DeserializeOwned>(body: &str) -> Result<T, String> {
    serde_json::from_str(body).map_err(|error| format!("it cannot be read ({error})"))
}

fn change_line(link: &Link) -> Option<ChangeLine> {
    let part = |text: &Option<String>| match text {
        None => Some(None),
        Some(text) => raw(text).map(Some),
    };
    Some(ChangeLine {
        change: link.seq,
        entry: link.txn,
        at_utc: link.at_utc.clone(),
        utc_offset: link.utc_offset.clone(),
        command: link.command.clone(),
        kind: link.kind.clone(),
        entity: link.entity.clone(),
        entity_id: link.entity_id,
        before: part(&link.before)?,
        after: part(&link.after)?,
        hash: link.hash.clone(),
    })
}

fn link_of(line: ChangeLine) -> Link {
    let text = |part: Option<Box<RawValue>>| part.map(|part| part.get().to_owned());
    Link {
        seq: line.change,
        txn: line.entry,
        at_utc: line.at_utc,
        utc_offset: line.utc_offset,
        command: line.command,
        kind: line.kind,
        entity: line.entity,
        entity_id: line.entity_id,
        before: text(line.before),
        after: text(line.after),
        hash: line.hash,
    }
}

/// Reads an export line by line, of bounded length, and keeps the sum of what was read.
pub(super) struct Lines<R> {
    reader: R,
    number: u64,
    sum: Sha256,
}

impl<R: BufRead> Lines<R> {
    pub(super) fn new(reader: R) -> Self {
        Self {
            reader,
            number: 0,
            sum: Sha256::new(),
        }
    }

    /// The number of the line read last.
    pub(super) const fn number(&self) -> u64 {
        self.number
    }

    /// The next line; nothing at the end.
    pub(super) fn next(&mut self) -> Result<Option<Line>, StoreError> {
        use std::io::Read;
        self.number += 1;
        let mut bytes = Vec::new();
        let read = (&mut self.reader)
            .take(LINE_MAX)
            .read_until(b'\n', &mut bytes);
        match read {
            Err(error) => return Err(self.wrong(format!("reading failed ({error})"))),
            Ok(0) => return Ok(None),
            Ok(length) if length as u64 == LINE_MAX => {
                return Err(self.wrong("it is too long".to_owned()));
            }
            Ok(_) => {}
        }
        let line = Line::read(&bytes).map_err(|what| self.wrong(what))?;
        if !matches!(line, Line::Last(_)) {
            self.sum.update(&bytes);
        }
        Ok(Some(line))
    }

    /// Sum of all lines but the last.
    pub(super) fn sum(&self) -> String {
        hex(&self.sum.clone().finalize())
    }

    /// A refusal of the line read last.
    pub(super) fn wrong(&self, what: String) -> StoreError {
        StoreError::ImportLine {
            line: self.number,
            what,
        }
    }
}
