//! Commands that answer a question or keep the ledger itself.

pub mod expect;
pub mod ratio;
pub mod wanted;

use clap::Subcommand;

use super::exit::Outcome;
use super::failure::Failure;
use super::session::Session;

/// A command that asks, or that keeps the ledger itself.
#[derive(Debug, Subcommand)]
pub enum Ask {
    /// What should a cross give?
    Expect(expect::ExpectArgs),
    /// Do counts fit a ratio?
    Ratio(ratio::RatioArgs),
}

impl Ask {
    /// Carries the command out.
    ///
    /// # Errors
    /// [`Failure`] in words, with its exit status.
    pub fn run(self, session: &Session) -> Result<Outcome, Failure> {
        match self {
            Self::Expect(command) => command.run(session),
            Self::Ratio(command) => command.run(session),
        }
    }
}
