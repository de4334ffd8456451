//! Everything that can be verified about a ledger, gathered into findings.
//!
//! SQLite's own checks do not see a changed record; the chain sees a changed history, and the history
//! played again sees a changed table.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use rusqlite::Connection;

use super::chain;
use super::fault::Fault;
use super::ledger::{self, Ledger};
use super::replay::Replay;
use super::{payload, references, schema};
use crate::records::coherence::discords;
use crate::records::facts::Facts;
use crate::records::rows::{Row, Rows, Table};

/// Something that is not as it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// Where: a record, a change of the history, or the file.
    pub place: String,
    /// What is wrong there.
    pub what: String,
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.place, self.what)
    }
}

/// Findings beyond this many are not listed.
const FINDINGS_MAX: usize = 1_000;

#[derive(Default)]
struct Findings(Vec<Finding>);

impl Findings {
    fn add(&mut self, place: impl Into<String>, what: impl Into<String>) {
        if self.0.len() < FINDINGS_MAX {
            self.0.push(Finding {
                place: place.into(),
                what: what.into(),
            });
        }
    }

    /// A part of the check that could not be carried out is a finding too.
    fn unless(&mut self, place: &str, outcome: Result<(), Fault>) {
        if let Err(fault) = outcome {
            let what = match fault {
                Fault::Sql(error) => error.to_string(),
                Fault::Damage(what) | Fault::Rule(what) => what,
                Fault::Stale => "it changed while it was read".to_owned(),
                Fault::Stated(error) => error.to_string(),
            };
            self.add(place, what);
        }
    }
}

impl Ledger {
    /// Verifies everything: SQLite's checks, the schema, the chain, and the tables record by record against
    /// the history. Nothing found means all is well.
    #[must_use]
    pub fn check(&self) -> Vec<Finding> {
        let mut findings = Findings::default();
        let outcome = self.check_moment(&mut findings);
        findings.unless("the file", outcome);
        findings.0
    }

    fn check_moment(&self, findings: &mut Findings) -> Result<(), Fault> {
        let moment = self.connection().unchecked_transaction()?;
        check_all(&moment, self.id(), findings);
        Ok(moment.finish()?)
    }
}

/// What is wrong in a file of the newest version, inside the caller's transaction.
pub(super) fn findings_in(connection: &Connection, id: &str) -> Vec<Finding> {
    let mut findings = Findings::default();
    check_all(connection, id, &mut findings);
    findings.0
}

fn check_all(moment: &Connection, id: &str, findings: &mut Findings) {
    let outcome = check_sqlite(moment, findings);
    findings.unless("the file", outcome);
    let outcome = check_schema(moment, id, findings);
    findings.unless("the file", outcome);
    let mut replay = Replay::new(id);
    let outcome = chain::each_after(moment, 0, |link| {
        let place = format!("change {} (entry {}: {})", link.seq, link.txn, link.command);
        for what in replay.step(link) {
            findings.add(&place, what);
        }
        Ok(())
    });
    findings.unless("the history", outcome);
    for table in Table::ALL {
        let outcome = compare(moment, *table, &replay, findings);
        findings.unless(table.name(), outcome);
    }
    let outcome = check_agreement(moment, findings);
    findings.unless("the records", outcome);
    let outcome = check_counters(moment, &replay, findings);
    findings.unless("the counters", outcome);
}

fn check_sqlite(connection: &Connection, findings: &mut Findings) -> Result<(), Fault> {
    let mut statement = connection.prepare("PRAGMA integrity_check(100)")?;
    let lines = statement.query_map([], |row| row.get::<_, String>(0))?;
    for line in lines {
        let line = line?;
        if line != "ok" {
            findings.add("the file", line);
        }
    }
    let mut statement = connection.prepare(
        "SELECT \"table\", rowid, parent FROM pragma_foreign_key_check ORDER BY \"table\", rowid",
    )?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let (table, id): (String, Option<i64>) = (row.get(0)?, row.get(1)?);
        let parent: String = row.get(2)?;
        findings.add(
            format!("{table} {}", id.unwrap_or(0)),
            format!("it refers to a {parent} that is not there"),
        );
    }
    Ok(())
}

fn check_schema(connection: &Connection, id: &str, findings: &mut Findings) -> Result<(), Fault> {
    if schema::wanted_fingerprint(schema::VERSION) != Some(&schema::fingerprint(connection)?) {
        findings.add(
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
        findings.add("the file", "its id is not the only thing said about it");
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
        let place = format!("{} {id}", table.name());
        missing.remove(&id);
        match (row, replay.rows.get(&(table, id))) {
            (Err(fault), _) => findings.unless(&place, Err(fault)),
            (Ok(_), None) => findings.add(place, "the history does not know it"),
            (Ok(row), Some(wanted)) => {
                if payload::to_text(&row) != *wanted {
                    findings.add(&place, "it is not what the history says");
                }
                refer(&row, &place, replay, findings);
            }
        }
        Ok(())
    })?;
    for id in missing {
        let place = format!("{} {id}", table.name());
        findings.add(place, "the history has it and the table has not");
    }
    Ok(())
}

/// References to things of several kinds, which no foreign key guards.
fn refer(row: &Row, place: &str, replay: &Replay, findings: &mut Findings) {
    if !row.table().columns().contains(&"thing") {
        return;
    }
    for (table, id) in references::of(row) {
        if !replay.rows.contains_key(&(table, id)) {
            findings.add(
                place,
                format!("it belongs to {} {id}, which is not there", table.name()),
            );
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
        let (table, id) = discord.row;
        findings.add(format!("{} {id}", table.name()), discord.what);
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
            findings.add(
                format!("counter {name}"),
                format!(
                    "it stands at {} where the history says {}",
                    words(stands),
                    words(wanted)
                ),
            );
        }
    }
    Ok(())
}
