//! The chain of changes: the rows of `change`, and the hash that binds each to all before it.
//!
//! The hash is taken over the stored text itself, each field preceded by its length, so that no
//! re-serialisation and no shifting of text between fields can go unseen.

use rusqlite::{Connection, OptionalExtension, Row};
use sha2::{Digest, Sha256};

use super::fault::Fault;
use super::hex;

/// One row of `change`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Link {
    /// Its number in the chain, from 1.
    pub(super) seq: i64,
    /// The entry it belongs to, from 1.
    pub(super) txn: i64,
    /// When, in UTC.
    pub(super) at_utc: String,
    /// The clock's offset from UTC.
    pub(super) utc_offset: String,
    /// What was typed.
    pub(super) command: String,
    /// The kind of entry.
    pub(super) kind: String,
    /// The table, or `counter`.
    pub(super) entity: String,
    /// The row's number; 0 for counters.
    pub(super) entity_id: i64,
    /// The row before; nothing where it is new.
    pub(super) before: Option<String>,
    /// The row after; nothing where it goes.
    pub(super) after: Option<String>,
    /// SHA-256 of this and, through the previous hash, of all before.
    pub(super) hash: String,
}

/// The end of the chain.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Head {
    /// Number of its last row; 0 where there is none.
    pub(super) seq: i64,
    /// Number of its last entry; 0 where there is none.
    pub(super) txn: i64,
    /// Its last hash.
    pub(super) hash: String,
}

const COLUMNS: &str = "seq, txn, at_utc, utc_offset, command, kind, entity, entity_id, \
                       \"before\", \"after\", hash";

/// The beginning of the chain of a ledger.
pub(super) fn origin(ledger_id: &str) -> Head {
    let mut hasher = Sha256::new();
    feed(&mut hasher, Some(b"locule ledger"));
    feed(&mut hasher, Some(ledger_id.as_bytes()));
    Head {
        seq: 0,
        txn: 0,
        hash: hex(&hasher.finalize()),
    }
}

fn feed(hasher: &mut Sha256, field: Option<&[u8]>) {
    match field {
        None => hasher.update([0]),
        Some(bytes) => {
            hasher.update([1]);
            hasher.update((bytes.len() as u64).to_le_bytes());
            hasher.update(bytes);
        }
    }
}

impl Link {
    /// The hash it must have after one of the hash `previous`.
    pub(super) fn hash_after(&self, previous: &str) -> String {
        let mut hasher = Sha256::new();
        feed(&mut hasher, Some(previous.as_bytes()));
        feed(&mut hasher, Some(&self.seq.to_le_bytes()));
        feed(&mut hasher, Some(&self.txn.to_le_bytes()));
        for text in [
            &self.at_utc,
            &self.utc_offset,
            &self.command,
            &self.kind,
            &self.entity,
        ] {
            feed(&mut hasher, Some(text.as_bytes()));
        }
        feed(&mut hasher, Some(&self.entity_id.to_le_bytes()));
        feed(&mut hasher, self.before.as_ref().map(String::as_bytes));
        feed(&mut hasher, self.after.as_ref().map(String::as_bytes));
        hex(&hasher.finalize())
    }

    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            seq: row.get(0)?,
            txn: row.get(1)?,
            at_utc: row.get(2)?,
            utc_offset: row.get(3)?,
            command: row.get(4)?,
            kind: row.get(5)?,
            entity: row.get(6)?,
            entity_id: row.get(7)?,
            before: row.get(8)?,
            after: row.get(9)?,
            hash: row.get(10)?,
        })
    }
}

/// The end of the chain as it stands.
pub(super) fn head(connection: &Connection, ledger_id: &str) -> Result<Head, Fault> {
    let last = connection
        .prepare_cached("SELECT seq, txn, hash FROM change ORDER BY seq DESC LIMIT 1")?
        .query_row([], |row| {
            Ok(Head {
                seq: row.get(0)?,
                txn: row.get(1)?,
                hash: row.get(2)?,
            })
        })
        .optional()?;
    Ok(last.unwrap_or_else(|| origin(ledger_id)))
}

/// The hash of the change of a number.
pub(super) fn hash_at(connection: &Connection, seq: i64) -> Result<Option<String>, Fault> {
    Ok(connection
        .prepare_cached("SELECT hash FROM change WHERE seq = ?1")?
        .query_row([seq], |row| row.get(0))
        .optional()?)
}

/// Writes one row of the chain.
pub(super) fn append(connection: &Connection, link: &Link) -> Result<(), Fault> {
    let sql = format!(
        "INSERT INTO change ({COLUMNS}) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)"
    );
    connection.prepare_cached(&sql)?.execute(rusqlite::params![
        link.seq,
        link.txn,
        link.at_utc,
        link.utc_offset,
        link.command,
        link.kind,
        link.entity,
        link.entity_id,
        link.before,
        link.after,
        link.hash
    ])?;
    Ok(())
}

/// The rows of the chain after a number, in order, each handed to `take`.
pub(super) fn each_after(
    connection: &Connection,
    seq: i64,
    mut take: impl FnMut(Link) -> Result<(), Fault>,
) -> Result<(), Fault> {
    let sql = format!("SELECT {COLUMNS} FROM change WHERE seq > ?1 ORDER BY seq");
    let mut statement = connection.prepare_cached(&sql)?;
    let mut rows = statement.query([seq])?;
    while let Some(row) = rows.next()? {
        take(Link::read(row)?)?;
    }
    Ok(())
}

/// The rows of the chain from the last one back to that after a number, each handed to `take`.
pub(super) fn each_before_end(
    connection: &Connection,
    seq: i64,
    mut take: impl FnMut(Link) -> Result<(), Fault>,
) -> Result<(), Fault> {
    let sql = format!("SELECT {COLUMNS} FROM change WHERE seq > ?1 ORDER BY seq DESC");
    let mut statement = connection.prepare_cached(&sql)?;
    let mut rows = statement.query([seq])?;
    while let Some(row) = rows.next()? {
        take(Link::read(row)?)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn link() -> Link {
        Link {
            seq: 1,
            txn: 1,
            at_utc: "2026-03-01T12:00:00Z".to_owned(),
            utc_offset: "+00:00".to_owned(),
            command: "note NL a".to_owned(),
            kind: "record".to_owned(),
            entity: "remark".to_owned(),
            entity_id: 1,
            before: None,
            after: Some("{}".to_owned()),
            hash: String::new(),
        }
    }

    #[test]
    fn every_field_and_every_boundary_counts() {
        let plain = link().hash_after("p");
        let alter: [fn(&mut Link); 11] = [
            |l| l.seq = 2,
            |l| l.txn = 2,
            |l| l.at_utc.push(' '),
            |l| l.utc_offset.push(' '),
            |l| l.command.push(' '),
            |l| l.kind.push(' '),
            |l| l.entity_id = 2,
            |l| l.before = Some(String::new()),
            |l| l.after = None,
            |l| l.after = Some("{ }".to_owned()),
            |l| {
                l.command = "note NL ".to_owned();
                l.kind = "arecord".to_owned();
            },
        ];
        for change in alter {
            let mut other = link();
            change(&mut other);
            assert_ne!(other.hash_after("p"), plain);
        }
        assert_ne!(link().hash_after("q"), plain);
    }
}
