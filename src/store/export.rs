//! The export: the whole ledger as text, one JSON object per line, equal for equal ledgers.
//!
//! A header, the records table by table, then the changes so that undo survives, then a line with the
//! SHA-256 of all before it. It carries no time of its own.

use std::collections::BTreeMap;
use std::io::{self, Write};

use rusqlite::Connection;
use sha2::{Digest, Sha256};

use super::chain::{self, Head};
use super::error::StoreError;
use super::fault::Fault;
use super::hex;
use super::ledger::Ledger;
use super::lines::{FORMAT, FORMAT_VERSION, Header, Line, RecordLine, raw};
use super::payload;
use crate::records::rows::Table;

impl Ledger {
    /// Writes the whole ledger as lines of JSON.
    ///
    /// # Errors
    /// [`StoreError`] where the ledger cannot be read or `out` cannot be written.
    pub fn export(&self, out: &mut impl Write) -> Result<(), StoreError> {
        self.export_moment(out)
            .map_err(|fault| fault.at(self.path()))
    }

    fn export_moment(&self, out: &mut impl Write) -> Result<(), Fault> {
        let moment = self.connection().unchecked_transaction()?;
        let mut sink = Sink {
            out,
            sum: Sha256::new(),
            failed: |error| StoreError::Io {
                file: self.path().to_owned(),
                what: "writing the export",
                source: error,
            },
        };
        let head = chain::head(&moment, self.id())?;
        sink.put(&Line::Header(header(&moment, self.id(), &head)?))?;
        for table in Table::ALL {
            payload::visit_rows(&moment, *table, |id, row| {
                sink.put(&Line::Record(RecordLine {
                    table: table.name().to_owned(),
                    id,
                    row: raw(&payload::to_text(&row?)).expect("a row is written as JSON"),
                }))
            })?;
        }
        chain::each_after(&moment, 0, |link| sink.put(&Line::Change(link)))?;
        let sum = hex(&sink.sum.clone().finalize());
        sink.put(&Line::Last(sum))?;
        sink.out.flush().map_err(&sink.failed)?;
        Ok(moment.finish()?)
    }
}

struct Sink<'a, W, F> {
    out: &'a mut W,
    sum: Sha256,
    failed: F,
}

impl<W: Write, F: Fn(io::Error) -> StoreError> Sink<'_, W, F> {
    fn put(&mut self, line: &Line) -> Result<(), Fault> {
        let text = line
            .write()
            .ok_or_else(|| Fault::Damage("the history holds a row that is no JSON".to_owned()))?;
        self.sum.update(text.as_bytes());
        self.out.write_all(text.as_bytes()).map_err(&self.failed)?;
        Ok(())
    }
}

fn header(connection: &Connection, ledger: &str, head: &Head) -> Result<Header, Fault> {
    let mut rows = BTreeMap::new();
    for table in Table::ALL {
        let count = connection.query_row(
            &format!("SELECT count(*) FROM \"{}\"", table.name()),
            [],
            |row| row.get(0),
        )?;
        rows.insert(table.name().to_owned(), count);
    }
    Ok(Header {
        format: FORMAT.to_owned(),
        version: FORMAT_VERSION,
        ledger: ledger.to_owned(),
        origin: chain::origin(ledger).hash,
        head: head.hash.clone(),
        entries: head.txn,
        changes: head.seq,
        rows,
    })
}
