//! `suspects`: which seedlings look like contaminants, why, and whose pollen it was.

use clap::Args;

use super::thing::batches;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::answer::Suspects;
use crate::diagnosis::suspects::suspects;
use crate::records::facts::Facts;
use crate::report::suspects::SuspectsAnswer;

/// Which seedlings look like contaminants, why, and whose pollen it was. With --on DATE it is judged as
/// on that day: what was seen or counted later is left out
#[derive(Debug, Args)]
pub struct SuspectsArgs {
    /// Trays and crosses; without any, everything sown
    #[arg(value_name = "TRAY|CROSS")]
    of: Vec<String>,
}

impl SuspectsArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read or a code is unknown.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let (_, facts) = world.ask()?;
        Ok(world.answer(&SuspectsAnswer(&diagnose(world, &facts, &self.of)?)))
    }
}

/// The diagnosis of the batches that trays and crosses name, in the order named.
///
/// # Errors
/// [`Failure`] where a code is unknown, or the diagnosis declines.
pub fn diagnose(world: &World, facts: &Facts, of: &[String]) -> Result<Suspects, Failure> {
    let ids: Vec<i64> = batches(facts, of)?.iter().map(|batch| batch.id).collect();
    let mut found = suspects(facts, world.day()?, Some(&ids))?;
    found
        .batches
        .sort_by_key(|batch| ids.iter().position(|id| *id == batch.batch_id));
    Ok(found)
}
