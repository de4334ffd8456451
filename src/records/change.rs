//! A change of one row: what it was before, what it is after.
//!
//! Everything that alters the ledger, undo included, is a list of these; they are made by the gate and
//! applied by whoever keeps the rows.

use super::rows::{Row, Table};

/// A change of one row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowChange {
    /// The table.
    pub table: Table,
    /// The row's number.
    pub id: i64,
    /// The row as it was; nothing where it is new.
    pub before: Option<Row>,
    /// The row as it becomes; nothing where it goes.
    pub after: Option<Row>,
}

impl RowChange {
    /// A new row.
    #[must_use]
    pub fn insert(row: impl Into<Row>) -> Self {
        let row = row.into();
        Self {
            table: row.table(),
            id: row.id(),
            before: None,
            after: Some(row),
        }
    }

    /// A row that becomes another of the same number and table.
    #[must_use]
    pub fn update(before: impl Into<Row>, after: impl Into<Row>) -> Self {
        let (before, after) = (before.into(), after.into());
        debug_assert_eq!((before.table(), before.id()), (after.table(), after.id()));
        Self {
            table: after.table(),
            id: after.id(),
            before: Some(before),
            after: Some(after),
        }
    }

    /// A row that goes.
    #[must_use]
    pub fn delete(row: impl Into<Row>) -> Self {
        let row = row.into();
        Self {
            table: row.table(),
            id: row.id(),
            before: Some(row),
            after: None,
        }
    }

    /// The change that takes this one back.
    #[must_use]
    pub fn reversed(&self) -> Self {
        Self {
            table: self.table,
            id: self.id,
            before: self.after.clone(),
            after: self.before.clone(),
        }
    }
}
