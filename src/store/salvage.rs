//! What can still be read of a history, damaged or not: from its beginning up to a break, and from its end back
//! to it.
//!
//! Nothing is judged here but readability. Restoring compares two histories by it, rebuilding plays one again.

use std::path::Path;

use rusqlite::Connection;

use super::chain::{self, Link};
use super::error::NamedEntry;
use super::fault::Fault;
use super::ledger;
use super::looks;
use super::settings::{self, Purpose};

/// A history as far as it can be read.
#[derive(Debug, Default)]
pub(super) struct Readable {
    /// The id that the file states.
    pub(super) id: Option<String>,
    /// The changes from the first on, up to the end or to the first that can't be read.
    pub(super) front: Vec<Link>,
    /// Whether something could not be read.
    pub(super) is_broken: bool,
    /// The changes after the break that can be read, from the last one back.
    pub(super) back: Vec<Link>,
}

impl Readable {
    /// Reads what a file of a resolved path lets be read, without writing to it. Whoever calls has its lock.
    pub(super) fn of(path: &Path) -> Self {
        let broken = Self {
            is_broken: true,
            ..Self::default()
        };
        let Ok(connection) = settings::connect(path, Purpose::Ask) else {
            return broken;
        };
        let mut found = Self {
            id: ledger::stated_id(&connection).ok(),
            ..Self::default()
        };
        found.is_broken = found.read_front(&connection).is_err();
        if found.is_broken {
            // It ends where nothing more can be read.
            let _ = found.read_back(&connection);
            found.back.reverse();
        }
        found
    }

    /// As [`Readable::of`], of a private copy, which may be written to.
    pub(super) fn of_copy(copy: &Path) -> Self {
        if looks::is_write_ahead(copy) {
            // Where that fails nothing can be read.
            let _ = looks::leave_write_ahead(copy);
        }
        Self::of(copy)
    }

    fn read_front(&mut self, connection: &Connection) -> Result<(), Fault> {
        chain::each_after(connection, 0, |link| {
            self.front.push(link);
            Ok(())
        })
    }

    fn read_back(&mut self, connection: &Connection) -> Result<(), Fault> {
        let last = self.front.last().map_or(0, |link| link.seq);
        chain::each_before_end(connection, last, |link| {
            self.back.push(link);
            Ok(())
        })
    }

    /// All changes that can be read, in order.
    pub(super) fn links(&self) -> impl Iterator<Item = &Link> {
        self.front.iter().chain(&self.back)
    }
}

/// The entries that changes belong to, in order, each once.
pub(super) fn entries_of<'a>(links: impl Iterator<Item = &'a Link>) -> Vec<NamedEntry> {
    let mut entries: Vec<NamedEntry> = Vec::new();
    for link in links {
        if entries.last().is_none_or(|last| last.entry != link.txn) {
            entries.push(NamedEntry {
                entry: link.txn,
                command: link.command.clone(),
            });
        }
    }
    entries
}
