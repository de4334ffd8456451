//! What stands in a ledger, read past the program by plain SQL, and whether the program calls it sound.

use std::collections::HashSet;
use std::path::Path;

use rusqlite::{Connection, OpenFlags};

use super::stage::{Run, Stage};

/// An entry of the history: what was typed, and the last hash of its changes, which stands for all before it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Entry {
    /// What was typed.
    pub command: String,
    /// The hash of its last change.
    pub hash: String,
}

/// What a state of the stage is found to be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Found {
    /// No ledger.
    Nothing,
    /// A sound ledger with these entries.
    Sound(Vec<Entry>),
    /// Not sound, or not to be opened, with the program's words.
    Damaged(String),
}

impl Found {
    /// The entries; none where there is no ledger.
    pub fn entries(&self) -> &[Entry] {
        match self {
            Self::Sound(entries) => entries,
            Self::Nothing | Self::Damaged(_) => &[],
        }
    }
}

/// Lets the real program check the ledger of the stage, then reads it.
pub fn look(stage: &Stage) -> Found {
    if !stage.ledger().exists() {
        return Found::Nothing;
    }
    let check = stage.run("check-ledger");
    if !check.ok() {
        return Found::Damaged(check.words());
    }
    match entries(&stage.ledger()) {
        Ok(entries) => Found::Sound(entries),
        Err(error) => Found::Damaged(error.to_string()),
    }
}

fn read_only(path: &Path) -> rusqlite::Result<Connection> {
    Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY)
}

/// The entries in order.
pub fn entries(path: &Path) -> rusqlite::Result<Vec<Entry>> {
    let connection = read_only(path)?;
    let mut statement = connection.prepare(
        "SELECT command, hash FROM change WHERE seq IN (SELECT max(seq) FROM change GROUP BY txn) ORDER BY seq",
    )?;
    let rows = statement.query_map([], |row| {
        Ok(Entry {
            command: row.get(0)?,
            hash: row.get(1)?,
        })
    })?;
    rows.collect()
}

/// Everything in every table, as text.
pub fn everything(path: &Path) -> rusqlite::Result<Vec<String>> {
    let connection = read_only(path)?;
    let mut names =
        connection.prepare("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")?;
    let names: Vec<String> = names
        .query_map([], |row| row.get(0))?
        .collect::<Result<_, _>>()?;
    let mut lines = Vec::new();
    for name in names {
        let mut statement = connection.prepare(&format!("SELECT * FROM \"{name}\""))?;
        let width = statement.column_count();
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let values: Vec<rusqlite::types::Value> =
                (0..width).map(|at| row.get(at)).collect::<Result<_, _>>()?;
            lines.push(format!("{name} {values:?}"));
        }
    }
    Ok(lines)
}

/// Where the words and the status of a run do not agree with whether its entry is there, what kind of fault that is.
///
/// `mute` where it could not say anything.
pub fn belied(run: &Run, there: bool, mute: bool) -> Option<&'static str> {
    const DENIALS: [&str; 4] = [
        "nothing was recorded",
        "nothing was changed",
        "nothing was left",
        "no ledger at",
    ];
    const AFFIRMATIONS: [&str; 2] = ["is recorded", "was recorded"];
    let err = run.err.split_whitespace().collect::<Vec<_>>().join(" ");
    let says = |phrases: &[&str]| phrases.iter().any(|phrase| err.contains(phrase));
    let denies = says(&DENIALS);
    let affirms = says(&AFFIRMATIONS) && !denies && !err.contains("is unknown");
    let status = run.status?;
    if status > 5 {
        return Some("status");
    }
    if !there {
        return (status == 5 && affirms).then_some("false recorded");
    }
    if denies || (1..=4).contains(&status) {
        return Some("false nothing changed");
    }
    let silent = status == 5 && !affirms && !err.contains("is unknown") && !mute;
    silent.then_some("silent")
}

/// One column of a table, as text.
pub fn column(path: &Path, table: &str, column: &str) -> rusqlite::Result<Vec<String>> {
    let connection = read_only(path)?;
    let mut statement = connection.prepare(&format!("SELECT {column} FROM \"{table}\""))?;
    let rows = statement.query_map([], |row| row.get(0))?;
    rows.collect()
}

/// Every text in every table but the history.
pub fn everything_typed(path: &Path) -> rusqlite::Result<HashSet<String>> {
    let connection = read_only(path)?;
    let mut columns = connection.prepare(
        "SELECT t.name, c.name FROM sqlite_schema t, pragma_table_info(t.name) c \
         WHERE t.type = 'table' AND c.type = 'TEXT' AND t.name <> 'change'",
    )?;
    let columns: Vec<(String, String)> = columns
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<Result<_, _>>()?;
    let mut texts = HashSet::new();
    for (table, column) in columns {
        let mut statement = connection.prepare(&format!(
            "SELECT \"{column}\" FROM \"{table}\" WHERE \"{column}\" IS NOT NULL"
        ))?;
        let rows = statement.query_map([], |row| row.get::<_, String>(0))?;
        for row in rows {
            texts.insert(row?);
        }
    }
    Ok(texts)
}
