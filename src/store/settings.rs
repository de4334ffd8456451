//! How a connection to the ledger is set up: every setting is made and read back.
//!
//! Journal mode and page size are properties of the file and are only looked at here; they are fixed when a
//! ledger is made.

use std::path::Path;

use rusqlite::config::DbConfig;
use rusqlite::limits::Limit;
use rusqlite::{Connection, OpenFlags};

use super::fault::Fault;
use super::looks;

/// What a connection is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Purpose {
    /// Reading only.
    Ask,
    /// Reading and writing.
    Write,
}

/// Oldest SQLite whose handling of damaged files and journals is relied on: 3.51.3.
const SQLITE_AT_LEAST: i32 = 3_051_003;

/// Longest text or row, in bytes; longest SQL text; deepest expression.
const LIMITS: &[(Limit, i32)] = &[
    (Limit::SQLITE_LIMIT_LENGTH, 4_000_000),
    (Limit::SQLITE_LIMIT_SQL_LENGTH, 50_000),
    (Limit::SQLITE_LIMIT_EXPR_DEPTH, 100),
    (Limit::SQLITE_LIMIT_ATTACHED, 0),
    (Limit::SQLITE_LIMIT_VARIABLE_NUMBER, 100),
    (Limit::SQLITE_LIMIT_LIKE_PATTERN_LENGTH, 200),
    (Limit::SQLITE_LIMIT_TRIGGER_DEPTH, 10),
];

const SWITCHES: &[(DbConfig, bool)] = &[
    (DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true),
    (DbConfig::SQLITE_DBCONFIG_TRUSTED_SCHEMA, false),
    (DbConfig::SQLITE_DBCONFIG_DQS_DML, false),
    (DbConfig::SQLITE_DBCONFIG_DQS_DDL, false),
    (DbConfig::SQLITE_DBCONFIG_ENABLE_FKEY, true),
    (DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, true),
    (DbConfig::SQLITE_DBCONFIG_ENABLE_VIEW, false),
    (DbConfig::SQLITE_DBCONFIG_WRITABLE_SCHEMA, false),
    (DbConfig::SQLITE_DBCONFIG_ENABLE_ATTACH_CREATE, false),
    (DbConfig::SQLITE_DBCONFIG_ENABLE_ATTACH_WRITE, false),
];

/// Name, text to set, number read back.
const PRAGMAS: &[(&str, &str, i64)] = &[
    ("foreign_keys", "ON", 1),
    ("cell_size_check", "ON", 1),
    ("recursive_triggers", "ON", 1),
    ("temp_store", "MEMORY", 2),
    ("mmap_size", "0", 0),
    ("busy_timeout", "5000", 5000),
    ("synchronous", "EXTRA", 3),
];

/// Instructions between two looks of the watch, and how many looks a connection may use up.
const WATCH_EVERY: i32 = 1_000_000;
const WATCH_AT_MOST: u64 = 20_000;

/// Opens an existing file of an absolute path; never makes one, never reads the path as a URI, and never opens one in
/// write-ahead mode: SQLite puts files beside it, even to read it.
///
/// The header is read with a handle of its own: call it only while no transaction of this process is open on the file.
pub(super) fn connect(path: &Path, purpose: Purpose) -> Result<Connection, Fault> {
    debug_assert!(path.is_absolute(), "the path was resolved first");
    if looks::is_write_ahead(path) {
        return Err(Fault::Damage(looks::WRITE_AHEAD.to_owned()));
    }
    let access = match purpose {
        Purpose::Ask => OpenFlags::SQLITE_OPEN_READ_ONLY,
        Purpose::Write => OpenFlags::SQLITE_OPEN_READ_WRITE,
    };
    let mut connection =
        Connection::open_with_flags(path, access | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
    settle(&mut connection)?;
    Ok(connection)
}

/// Makes every setting on a connection and reads it back.
pub(super) fn settle(connection: &mut Connection) -> Result<(), Fault> {
    if rusqlite::version_number() < SQLITE_AT_LEAST {
        return refused("the SQLite version");
    }
    for (switch, wanted) in SWITCHES {
        if connection.set_db_config(*switch, *wanted)? != *wanted {
            return refused("a switch");
        }
    }
    for (limit, wanted) in LIMITS {
        connection.set_limit(*limit, *wanted)?;
        if connection.limit(*limit)? != *wanted {
            return refused("a limit");
        }
    }
    watch(connection)?;
    for (name, text, wanted) in PRAGMAS {
        connection.execute_batch(&format!("PRAGMA {name} = {text}"))?;
        // Where memory mapping is compiled out the pragma answers nothing, which is as good as 0.
        let found: Option<i64> = optional_pragma(connection, name)?;
        if found.unwrap_or(0) != *wanted {
            return refused(name);
        }
    }
    connection.set_prepared_statement_cache_capacity(160);
    Ok(())
}

fn optional_pragma(connection: &Connection, name: &str) -> Result<Option<i64>, Fault> {
    use rusqlite::OptionalExtension;
    Ok(connection
        .query_row(&format!("PRAGMA {name}"), [], |row| row.get(0))
        .optional()?)
}

/// Stops a query that does not end, as a damaged or hostile file can provoke.
fn watch(connection: &mut Connection) -> Result<(), Fault> {
    let mut looks = 0_u64;
    connection.progress_handler(
        WATCH_EVERY,
        Some(move || {
            looks += 1;
            looks > WATCH_AT_MOST
        }),
    )?;
    Ok(())
}

fn refused(what: &str) -> Result<(), Fault> {
    Err(Fault::Rule(format!(
        "SQLite did not accept {what} as this program needs it"
    )))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_setting_holds_on_a_fresh_connection() {
        let mut connection = Connection::open_in_memory().unwrap();
        settle(&mut connection).unwrap();
        for (name, _, wanted) in PRAGMAS {
            let found = optional_pragma(&connection, name).unwrap().unwrap_or(0);
            assert_eq!(found, *wanted, "{name}");
        }
        assert!(connection.execute_batch("ATTACH 'x' AS x").is_err());
        assert!(
            connection
                .execute_batch("SELECT \"no such thing\"")
                .is_err()
        );
    }

    #[test]
    fn a_query_without_end_is_stopped() {
        let mut connection = Connection::open_in_memory().unwrap();
        settle(&mut connection).unwrap();
        let mut looks = 0;
        connection
            .progress_handler(
                1000,
                Some(move || {
                    looks += 1;
                    looks > 100
                }),
            )
            .unwrap();
        let endless = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT count(*) FROM n";
        let error = connection
            .query_row(endless, [], |row| row.get::<_, i64>(0))
            .unwrap_err();
        assert!(matches!(
            Fault::from(error).at(Path::new("/x")),
            super::super::StoreError::Damaged { .. }
        ));
    }
}
