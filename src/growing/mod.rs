//! What came of seed, flowers and seedlings: how many came up and when, how many flowers set, how tall they are.
//!
//! Counts and compares what the rows say, by tray, lot, cross, parent, direction and species; what a seedling is, and
//! whether it is what the label says, is the diagnosis's business. The command line asks, the reports tell.

pub mod expected_set;
pub mod germination;
pub mod grouping;
pub mod lots;
pub mod no_set;
pub mod same_days;
pub mod sets;
pub mod sizes;
pub mod trays;
pub mod window;
