//! The kinds of tray that a season teaches by: what each must say, and random seasons made of them.
//!
//! [`statements`] holds what a grower may rely on, kind by kind; the demo and the random seasons are held to
//! the same ones. [`bench`] records in memory through the gate, [`grow`] simulates trays whose truth is known,
//! [`season`] strings them into a season.

pub mod bench;
pub mod dice;
pub mod grow;
pub mod season;
pub mod statements;
pub mod view;
