//! What a grower writes down, and the gate that every record passes.
//!
//! Rows are what the ledger keeps ([`rows`]); [`facts::Facts`] is all of them, read once; a
//! [`change::RowChange`] is the only way any of them alters. This room knows no file, clock or
//! terminal: "today" comes in as a parameter, and whoever applies the changes is not its concern.

pub mod about;
pub mod admit;
pub mod assumptions;
pub mod cells;
pub mod change;
pub mod code;
pub mod coherence;
pub mod count;
pub mod day;
pub mod descent;
pub mod entry;
pub mod facts;
pub mod genes;
pub mod measures;
pub mod merge;
pub mod naming;
pub mod near;
pub mod parentage;
pub mod pedigree;
pub mod references;
pub mod retell;
pub mod rows;
pub mod same_day;
pub mod scale;
pub mod species;
pub mod target;
pub mod taste;
pub mod text;
pub mod tray;
pub mod until;
pub mod value;
pub mod warmth;
