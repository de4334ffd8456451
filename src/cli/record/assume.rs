//! `assume`: starting beliefs and thresholds, shown or changed.

use clap::Args;

use super::book;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::entry::{Assume, Entry};
use crate::report::assumptions::AssumptionsAnswer;

/// Show the starting beliefs and thresholds, or change one
#[derive(Debug, Args)]
pub struct AssumeArgs {
    /// The key, as in the list: dim
    key: Option<String>,
    /// The value; `default` takes the default again
    #[arg(requires = "key", allow_negative_numbers = true)]
    value: Option<String>,
}

impl AssumeArgs {
    /// Shows or records.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read or written, or the gate refuses the value.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        match self.entry() {
            Some(entry) => book::record(world, &entry),
            None => {
                let (_, facts) = world.ask()?;
                let answer = AssumptionsAnswer::new(&facts, self.key.as_deref());
                let answer = answer.map_err(crate::records::admit::Refusal::from)?;
                Ok(world.answer(&answer))
            }
        }
    }

    /// The entry of what was typed; nothing where it only asks.
    #[must_use]
    pub fn entry(&self) -> Option<Entry> {
        let (key, value) = self.key.clone().zip(self.value.as_ref())?;
        let value = (!value.eq_ignore_ascii_case("default")).then(|| value.clone());
        Some(Entry::Assume(Assume { key, value }))
    }
}
