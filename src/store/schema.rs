//! The tables as SQLite keeps them, and the list of upgrades that leads to them.
//!
//! The list only ever grows: a version that was published is never edited. A file's schema must be
//! exactly what the upgrades produce for its version, which a fingerprint tells.

use rusqlite::Connection;
use sha2::{Digest, Sha256};

use super::fault::Fault;
use super::hex;

/// Marks the file as ours: `LOCU` in ASCII.
pub(super) const APPLICATION_ID: u32 = 0x4c4f_4355;

/// The version this program writes: the number of upgrades.
pub(super) const VERSION: u32 = 3;

/// One step from a version to the next.
struct Upgrade {
    sql: &'static str,
    /// Fingerprint of the schema after it.
    fingerprint: &'static str,
}

const UPGRADES: [Upgrade; VERSION as usize] = [
    Upgrade {
        sql: include_str!("schema_1.sql"),
        fingerprint: "e8b9d377a610441dd0f89d4c1c3e510ffc4922035f1ec03298ee217701ac710c",
    },
    Upgrade {
        sql: include_str!("schema_2.sql"),
        fingerprint: "9606d968dc872dcf5b3c885fc5f7740297838f06c28491a5bfd277674b1a235b",
    },
    Upgrade {
        sql: include_str!("schema_3.sql"),
        fingerprint: "515eacafc10a9f4c2748b86582a9ce1971a107e37a98f2844765088f38e4bf33",
    },
];

/// Brings a file from a version to the newest; runs inside the caller's transaction.
pub(super) fn upgrade(connection: &Connection, from: u32) -> Result<(), Fault> {
    for upgrade in UPGRADES.iter().skip(from as usize) {
        connection.execute_batch(upgrade.sql)?;
    }
    connection.execute_batch(&format!(
        "PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {VERSION}"
    ))?;
    Ok(())
}

/// The fingerprint that the schema of a version must have; nothing for an unknown version.
pub(super) fn wanted_fingerprint(version: u32) -> Option<&'static str> {
    let at = usize::try_from(version).ok()?.checked_sub(1)?;
    UPGRADES.get(at).map(|upgrade| upgrade.fingerprint)
}

/// SHA-256 over every object of the schema: kind, name and text, in order of kind and name.
pub(super) fn fingerprint(connection: &Connection) -> Result<String, Fault> {
    let mut statement = connection.prepare(
        "SELECT type, name, tbl_name, coalesce(sql, '') FROM sqlite_schema ORDER BY type, name",
    )?;
    let mut rows = statement.query([])?;
    let mut hasher = Sha256::new();
    while let Some(row) = rows.next()? {
        for column in 0..4 {
            let text: String = row.get(column)?;
            hasher.update((text.len() as u64).to_le_bytes());
            hasher.update(text.as_bytes());
        }
    }
    Ok(hex(&hasher.finalize()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::rows::Table;

    fn fresh() -> Connection {
        let mut connection = Connection::open_in_memory().unwrap();
        super::super::settings::settle(&mut connection).unwrap();
        upgrade(&connection, 0).unwrap();
        connection
    }

    #[test]
    fn the_fingerprint_is_what_the_upgrades_produce() {
        assert_eq!(
            fingerprint(&fresh()).unwrap(),
            UPGRADES[VERSION as usize - 1].fingerprint,
            "while version {VERSION} is unpublished, put the left value into UPGRADES"
        );
    }

    #[test]
    fn tables_and_columns_are_those_of_the_records() {
        let connection = fresh();
        for table in Table::ALL {
            let mut wanted = vec!["id"];
            wanted.extend(table.columns());
            let columns: Vec<String> = connection
                .prepare("SELECT name FROM pragma_table_xinfo(?1) ORDER BY cid")
                .unwrap()
                .query_map([table.name()], |row| row.get(0))
                .unwrap()
                .collect::<Result<_, _>>()
                .unwrap();
            assert_eq!(columns, wanted, "{}", table.name());
        }
        let (tables, loose): (i64, i64) = connection
            .query_row(
                "SELECT count(*), count(*) FILTER (WHERE NOT strict) FROM pragma_table_list \
                 WHERE schema = 'main' AND name NOT LIKE 'sqlite_%'",
                [],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )
            .unwrap();
        assert_eq!((tables as usize, loose), (Table::ALL.len() + 3, 0));
    }
}
