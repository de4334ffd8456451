//! Everything that can be verified about a ledger, gathered into findings.
//!
//! SQLite's own checks do not see a changed record; the chain sees a changed history, and the history
//! played again sees a changed table.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use rusqlite::Connection;

use super::chain;
use super::error::NamedEntry;
use super::fault::Fault;
use super::ledger::{self, Ledger};
use super::mark::Content;
use super::replay::Replay;
use super::{payload, references, schema};
use crate::records::coherence::discords;
use crate::records::facts::Facts;
use crate::records::naming::name_at;
use crate::records::rows::{Row, Rows, Table};
use crate::records::value::Value;

/// Which part of the ledger something is wrong with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// The file as SQLite sees it, or how it stands to what this computer knows.
    File,
    /// The history, from which everything else can be made anew.
    History,
    /// The records and counters, which follow from the history.
    Records,
}

/// Something that is not as it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// Which part of the ledger it is in.
    pub part: Part,
    /// Where: a record, a change of the history, or the file.
    pub place: String,
    /// What is wrong there.
    pub what: String,
    /// The row, where it is one.
    row: Option<(Table, i64)>,
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.place, self.what)
    }
}

/// Findings beyond this many are not listed.
const FINDINGS_MAX: usize = 1_000;

/// How much is verified.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Depth {
    /// That everything is as it was written.
    Damage,
    /// That the records agree as well, which only a fault of this program can spoil.
    Everything,
}

#[derive(Default)]
struct Findings(Vec<Finding>);

impl Findings {
    fn add(&mut self, part: Part, place: impl Into<String>, what: impl Into<String>) {
        self.push(part, place.into(), what.into(), None);
    }

    /// A finding about a row; it gets its name when all is gathered.
    fn add_row(&mut self, row: (Table, i64), what: impl Into<String>) {
        let place = format!("{} {}", row.0.name(), row.1);
        self.push(Part::Records, place, what.into(), Some(row));
    }

    fn push(&mut self, part: Part, place: String, what: String, row: Option<(Table, i64)>) {
        if self.0.len() < FINDINGS_MAX {
            self.0.push(Finding {
                part,
                place,
                what,
                row,
            });
        }
    }

    /// A part of the check that could not be carried out is a finding too.
    fn unless(&mut self, part: Part, place: &str, outcome: Result<(), Fault>) {
        if let Err(fault) = outcome {
            self.add(part, place, what_of(fault));
        }
    }

    /// Names every row in a grower's words, with the entry that wrote it last.
    fn name_rows(&mut self, connection: &Connection, replay: &Replay) {
        let facts = replay.facts();
        let mut entries: BTreeMap<(Table, i64), NamedEntry> = BTreeMap::new();
        let rows: BTreeSet<_> = self.0.iter().filter_map(|finding| finding.row).collect();
        // What cannot be read of the history is a finding of its own.
        let _ = chain::each_after(connection, 0, |link| {
            let row = Table::named(&link.entity).map(|table| (table, link.entity_id));
            if let Some(row) = row.filter(|row| rows.contains(row)) {
                let (entry, command) = (link.txn, link.command);
                entries.insert(row, NamedEntry { entry, command });
            }
            Ok(())
        });
        for finding in &mut self.0 {
            let Some(row) = finding.row else { continue };
            let name = name_at(&facts, row.0, row.1);
            if name != finding.place {
                finding.place = format!("{name} ({})", finding.place);
            }
            if let Some(entry) = entries.get(&row) {
                finding.place += &format!(", last written by entry {entry}");
            }
        }
    }
}

fn what_of(fault: Fault) -> String {
    match fault {
        Fault::Sql(error) => error.to_string(),
        Fault::Damage(what) | Fault::Rule(what) => what,
        Fault::Stale => "it changed while it was read".to_owned(),
        Fault::Stated(error) => error.to_string(),
    }
}

impl Ledger {
    /// Verifies everything: how the file stands to what this computer knows, SQLite's checks, the schema, the
    /// chain, and the tables record by record against the history. Nothing found means all is well.
    #[must_use]
    pub fn check(&self) -> Vec<Finding> {
        let content = self.guard().and_then(|_| Content::of(self.path()).ok());
        let mut findings = self.find(Depth::Everything);
        if let Some(content) = content.filter(|_| findings.0.is_empty()) {
            self.mark(content);
        }
        if let Some(odds) = self.standing().odds() {
            findings.add(Part::File, "the file", odds.to_string());
        }
        findings.0
    }

    /// As [`Ledger::check`], without what no damage can bring about; what is found first is told.
    pub(super) fn verify(&self) -> Result<(), Fault> {
        match self.find(Depth::Damage).0.first() {
            None => Ok(()),
            Some(finding) => Err(Fault::Damage(finding.to_string())),
        }
    }

    fn find(&self, depth: Depth) -> Findings {
        let mut findings = Findings::default();
        let outcome = self.check_moment(&mut findings, depth);
        findings.unless(Part::File, "the file", outcome);
        findings
    }

    fn check_moment(&self, findings: &mut Findings, depth: Depth) -> Result<(), Fault> {
        let moment = self.connection().unchecked_transaction()?;
        check_all(&moment, self.id(), depth, findings);
        Ok(moment.finish()?)
    }
}

/// What is wrong in a file of the newest version, inside the caller's transaction.
pub(super) fn findings_in(connection: &Connection, id: &str) -> Vec<Finding> {
    let mut findings = Findings::default();
    check_all(connection, id, Depth::Everything, &mut findings);
    findings.0
}

fn check_all(moment: &Connection, id: &str, depth: Depth, findings: &mut Findings) {
    let outcome = check_sqlite(moment, findings);
    findings.unless(Part::File, "the file", outcome);
    let outcome = check_schema(moment, id, findings);
    findings.unless(Part::File, "the file", outcome);
    let mut replay = Replay::new(id);
    let outcome = chain::each_after(moment, 0, |link| {
        let (seq, txn) = (link.seq, link.txn);
        let mut wrong = replay.step(link).into_iter().peekable();
        if wrong.peek().is_some() {
            let place = format!("change {seq} (entry {txn}: {})", replay.command());
            wrong.for_each(|what| findings.add(Part::History, &place, what));
        }
        Ok(())
    });
    findings.unless(Part::History, "the history", outcome);
    for table in Table::ALL {
        let outcome = compare(moment, *table, &replay, findings);
        findings.unless(Part::Records, table.name(), outcome);
    }
    if depth == Depth::Everything {
        let outcome = check_agreement(moment, findings);
        findings.unless(Part::Records, "the records", outcome);
    }
    let outcome = check_counters(moment, &replay, findings);
    findings.unless(Part::Records, "the counters", outcome);
    if findings.0.iter().any(|finding| finding.row.is_some()) {
        findings.name_rows(moment, &replay);
    }
}

fn check_sqlite(connection: &Connection, findings: &mut Findings) -> Result<(), Fault> {
    let mut statement = connection.prepare("PRAGMA integrity_check(100)")?;
    let lines = statement.query_map([], |row| row.get::<_, String>(0))?;
    for line in lines {
        let line = line?;
        if line != "ok" {
            let line: Vec<&str> = line.split_whitespace().collect();
            findings.add(Part::File, "the file", line.join(" "));
        }
    }
    let mut statement = connection.prepare(
        "SELECT \"table\", rowid, parent FROM pragma_foreign_key_check ORDER BY \"table\", rowid",
    )?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let (table, id): (String, Option<i64>) = (row.get(0)?, row.get(1)?);
        let parent: String = row.get(2)?;
        let what = format!("it refers to a {parent} that is not there");
        match (Table::named(&table), id) {
            (Some(table), Some(id)) => findings.add_row((table, id), what),
            _ => findings.add(Part::File, table, what),
        }
    }
    Ok(())
}

fn check_schema(connection: &Connection, id: &str, findings: &mut Findings) -> Result<(), Fault> {
    if schema::wanted_fingerprint(schema::VERSION) != Some(&schema::fingerprint(connection)?) {
        findings.add(
            Part::File,
            "the file",
            "its tables are not those that this program makes",
        );
    }
    let (rows, ids): (i64, i64) = connection.query_row(
        "SELECT count(*), count(*) FILTER (WHERE key = 'ledger_id' AND value = ?1) FROM meta",
        [id],
        |row| Ok((row.get(0)?, row.get(1)?)),
    )?;
    if (rows, ids) != (1, 1) {
        let what = "its id is not the only thing said about it";
        findings.add(Part::File, "the file", what);
    }
    Ok(())
}

/// Compares one table with what the history leads to.
fn compare(
    connection: &Connection,
    table: Table,
    replay: &Replay,
    findings: &mut Findings,
) -> Result<(), Fault> {
    let mut missing: BTreeSet<i64> = replay
        .rows
        .range((table, i64::MIN)..=(table, i64::MAX))
        .map(|((_, id), _)| *id)
        .collect();
    payload::visit_rows(connection, table, |id, row| {
        missing.remove(&id);
        match (row, replay.rows.get(&(table, id))) {
            (Err(fault), _) => findings.add_row((table, id), what_of(fault)),
            (Ok(_), None) => findings.add_row((table, id), "the history does not know it"),
            (Ok(row), Some(wanted)) => {
                if payload::to_text(&row) != *wanted {
                    findings.add_row((table, id), difference(&row, wanted));
                }
                refer(&row, replay, findings);
            }
        }
        Ok(())
    })?;
    for id in missing {
        let what = "the history has it and the table has not";
        findings.add_row((table, id), what);
    }
    Ok(())
}

/// In which columns a row differs from what the history says.
fn difference(row: &Row, wanted: &str) -> String {
    let table = row.table();
    let Ok(wanted) = payload::from_text(table, row.id(), wanted) else {
        return "it is not what the history says".to_owned();
    };
    let said = |value: &Value| match value {
        Value::Null => "nothing".to_owned(),
        Value::Int(number) => number.to_string(),
        Value::Text(text) => format!("'{text}'"),
    };
    let (found, wanted) = (row.values(), wanted.values());
    let pairs = table.columns().iter().zip(found.iter().zip(&wanted));
    let differ = pairs.filter(|(_, (found, wanted))| found != wanted);
    let words: Vec<String> = differ
        .map(|(column, (found, wanted))| {
            let (found, wanted) = (said(found), said(wanted));
            format!("{column} is {found} where the history says {wanted}")
        })
        .collect();
    words.join("; ")
}

/// References to things of several kinds, which no foreign key guards.
fn refer(row: &Row, replay: &Replay, findings: &mut Findings) {
    if !row.table().columns().contains(&"thing") {
        return;
    }
    for (table, id) in references::of(row) {
        if !replay.rows.contains_key(&(table, id)) {
            let what = format!("it belongs to {} {id}, which is not there", table.name());
            findings.add_row((row.table(), row.id()), what);
        }
    }
}

/// What rows say of each other in words. Rows that cannot be read were named before.
fn check_agreement(connection: &Connection, findings: &mut Findings) -> Result<(), Fault> {
    let mut rows = Rows::default();
    for table in Table::ALL {
        payload::visit_rows(connection, *table, |_, row| {
            if let Ok(row) = row {
                rows.put(row);
            }
            Ok(())
        })?;
    }
    for discord in discords(&Facts::new(rows, BTreeMap::new())) {
        findings.add_row(discord.row, discord.what);
    }
    Ok(())
}

fn check_counters(
    connection: &Connection,
    replay: &Replay,
    findings: &mut Findings,
) -> Result<(), Fault> {
    let found = ledger::counters(connection)?;
    let names: BTreeSet<&String> = found.keys().chain(replay.counters.keys()).collect();
    for name in names {
        let (stands, wanted) = (found.get(name), replay.counters.get(name));
        if stands != wanted {
            let words = |next: Option<&i64>| next.map_or("nothing".to_owned(), i64::to_string);
            let (stands, wanted) = (words(stands), words(wanted));
            let what = format!("it stands at {stands} where the history says {wanted}");
            findings.add(Part::Records, format!("counter {name}"), what);
        }
    }
    Ok(())
}
