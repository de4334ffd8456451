//! `accept`: the ledger as it stands becomes what this computer knows of it.

use clap::Args;

use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::places;
use crate::cli::world::World;
use crate::report::accept::{AcceptAnswer, Ending, EntryWords};
use crate::store::{Accepted, End, Ledger, NamedEntry, Odds, Standing};

/// Takes the ledger as it stands for the truth, although this computer knows it otherwise.
///
/// An older file put back, or one that went another way on another computer, is opened for questions only. After
/// accept it can be recorded in again, and what this computer knew beyond it is gone; the answer lists that.
/// Nothing is recorded in the ledger itself.
#[derive(Debug, Args)]
pub struct AcceptArgs {}

impl AcceptArgs {
    /// Accepts.
    ///
    /// # Errors
    /// [`Failure`] where the ledger is not whole, or the state folder cannot be written.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        places::expect_begun(&world.ledger)?;
        let Accepted {
            ledger,
            before,
            tails,
        } = Ledger::accept(&world.ledger, &world.state).map_err(|error| world.unopened(error))?;
        let ledger = world.heed(ledger);
        let (known, was) = match &before {
            Standing::AtOdds(Odds::Behind { known, .. }) => (Some(known), "behind"),
            Standing::AtOdds(Odds::Diverged { known, .. }) => (Some(known), "diverged"),
            Standing::AtOdds(Odds::Other { .. }) => (None, "another-ledger"),
            Standing::New => (None, "new"),
            Standing::AsWritten | Standing::Same | Standing::Grown { .. } => (None, "as-known"),
        };
        let words = |entries: &[NamedEntry]| entries.iter().map(in_words).collect();
        let answer = AcceptAnswer {
            ledger: ledger.path().display().to_string(),
            ledger_id: ledger.id().to_owned(),
            entries: ledger.last_entry(),
            fingerprint: ledger.fingerprint(),
            was,
            known: known.map(ending),
            lost: tails.as_ref().map(|tails| words(&tails.lost)),
            new: tails.as_ref().map(|tails| words(&tails.new)),
            copy: tails.map(|tails| tails.copy.display().to_string()),
        };
        Ok(world.answer(&answer).done())
    }
}

fn ending(end: &End) -> Ending {
    Ending {
        entry: end.entry,
        fingerprint: end.fingerprint.clone(),
    }
}

fn in_words(entry: &NamedEntry) -> EntryWords {
    EntryWords {
        entry: entry.entry,
        command: entry.command.clone(),
    }
}
