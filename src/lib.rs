//! `locule`: a breeding ledger for hand-made pepper crosses.
//!
//! The library holds the rooms of the house, from the ground up: plain mathematics ([`stats`]),
//! genetics ([`genetics`]), what a grower writes down ([`records`]), what can have gone wrong with a
//! tray ([`diagnosis`]), what came of seed, flowers and seedlings ([`growing`]), what to sow and keep room for
//! ([`planning`]), how the ledger is kept ([`store`]), how answers are put into words ([`report`]) and the command line
//! ([`cli`]). Data flows one way; a room only knows the rooms below.

pub mod cli;
pub mod diagnosis;
pub mod genetics;
pub mod growing;
pub mod planning;
pub mod records;
pub mod report;
pub mod stats;
pub mod store;
