//! What a grower writes down, and the gate that every record passes.
//!
//! Rows are what the ledger keeps ([`rows`]); [`facts::Facts`] is all of them, read once; a
//! [`change::RowChange`] is the only way any of them alters. This room knows no file, clock or
//! terminal: "today" comes in as a parameter, and whoever applies the changes is not its concern.

pub mod about;
pub mod assumptions;
pub mod cells;
pub mod change;
pub mod code;
pub mod day;
pub mod facts;
pub mod rows;
pub mod value;
