//! Whole seasons whose truth is known, played against the program's own diagnosis.
//!
//! Parents, accidents, seedlings, colour and slips of the pen are drawn from the starting beliefs of `docs/method.md`,
//! or from others; what a grower would write down passes the gate as every command does; `suspects` is asked on every
//! day of looking, and what it says to pull is pulled. The benchmark `evidence` plays many of them and writes
//! `docs/evidence.md`; the integration tests play a few and hold that page against its results.

mod believed;
pub mod counts;
mod dice;
pub mod figures;
mod genes;
mod ledger;
pub mod page;
mod picture;
mod plan;
mod plants;
pub mod play;
pub mod results;
pub mod run;
mod tables;
pub mod tray;
mod trouble;
pub mod world;
