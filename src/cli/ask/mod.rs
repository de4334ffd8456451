//! Commands that answer a question or keep the ledger itself.

pub mod expect;
pub mod history;
pub mod init;
pub mod keep;
pub mod list;
pub mod ratio;
pub mod ratio_trays;
pub mod sheet;
pub mod show;
pub mod suspects;
pub mod thing;
pub mod traits;
pub mod wanted;

use clap::Subcommand;

use super::exit::Outcome;
use super::failure::Failure;
use super::session::Session;

/// A command that asks, or that keeps the ledger itself.
#[derive(Debug, Subcommand)]
pub enum Ask {
    /// Makes a new ledger with the built-in traits
    Init(init::InitArgs),
    /// What should a cross give?
    ///
    /// Of two genotypes (expect --mother "A/a B/b" --father "A/a B/b"), which needs no ledger, or of a
    /// cross in the ledger (expect X1).
    Expect(expect::ExpectArgs),
    /// Do counts fit a ratio?
    ///
    /// Bare counts (ratio 315 108 101 32 --to 9:3:3:1), which need no ledger, or trays and crosses of the
    /// ledger (ratio T1 T2), whose label then gives the ratio.
    Ratio(ratio::RatioArgs),
    /// Which seedlings look like contaminants, why, and whose pollen it was
    ///
    /// With --on DATE judged as on that day: what is still to wait for is reckoned from then, while every
    /// reading on record counts, later ones too.
    Suspects(suspects::SuspectsArgs),
    /// The cull and keep list, to print
    ///
    /// With --on DATE judged as on that day: what is still to wait for is reckoned from then, while every
    /// reading on record counts, later ones too.
    Sheet(sheet::SheetArgs),
    /// What was recorded, entry by entry
    History(history::HistoryArgs),
    /// What is in the ledger: parents, crosses, seed, trays, loci
    List(list::ListArgs),
    /// Everything recorded of one thing, now or after an entry
    Show(show::ShowArgs),
    /// Takes back the newest entry, or the one named
    Undo(history::UndoArgs),
    /// Takes back the last undo
    Redo(history::RedoArgs),
    /// Verifies the ledger: the file, its history, every record
    CheckLedger(keep::CheckArgs),
    /// Writes the whole ledger, its history included, as lines of JSON
    Export(keep::ExportArgs),
    /// Brings an export in, into a ledger that holds nothing yet
    Import(keep::ImportArgs),
}

impl Ask {
    /// Carries the command out.
    ///
    /// # Errors
    /// [`Failure`] in words, with its exit status.
    pub fn run(self, session: &Session) -> Result<Outcome, Failure> {
        match self {
            Self::Init(command) => command.run(session),
            Self::Expect(command) => command.run(session),
            Self::Ratio(command) => command.run(session),
            Self::Suspects(command) => command.run(session),
            Self::Sheet(command) => command.run(session),
            Self::History(command) => command.run(session),
            Self::List(command) => command.run(session),
            Self::Show(command) => command.run(session),
            Self::Undo(command) => command.run(session),
            Self::Redo(command) => command.run(session),
            Self::CheckLedger(command) => command.run(session),
            Self::Export(command) => command.run(session),
            Self::Import(command) => command.run(session),
        }
    }
}
