//! Commands that record: one file each, with its arguments and its `run`.

use clap::Subcommand;

use super::exit::Outcome;
use super::failure::Failure;
use super::session::Session;

/// A command that records.
#[derive(Debug, Subcommand)]
pub enum Record {}

impl Record {
    /// Carries the command out.
    ///
    /// # Errors
    /// [`Failure`] in words, with its exit status.
    pub fn run(self, _session: &Session) -> Result<Outcome, Failure> {
        match self {}
    }
}
