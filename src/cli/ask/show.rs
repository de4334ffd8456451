//! `show`: everything recorded of one thing, now or after an entry.

use clap::Args;

use super::history::entry_number;
use super::thing::find;
use super::traits;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::about::facts_at;
use crate::records::rows::Thing;
use crate::report::show::ShowAnswer;

/// Everything recorded of a parent, seedling, cross, lot, tray, cell, trait or locus.
#[derive(Debug, Args)]
#[command(allow_negative_numbers = true)]
pub struct ShowArgs {
    /// Its code, place in its tray, lot, or symbol: NL, T1-03, X1/1, A
    #[arg(value_name = "CODE")]
    code: String,
    /// As it was after this entry of the history
    #[arg(long, value_name = "ENTRY", value_parser = entry_number)]
    at: Option<i64>,
}

impl ShowArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read, or did not know the code then.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let (ledger, mut facts) = world.ask()?;
        if let Some(entry) = self.at {
            if !(1..=ledger.last_entry()).contains(&entry) {
                return Err(Failure::refused(format!("there is no entry {entry}"))
                    .because(format!(
                        "the history has entries 1 to {}",
                        ledger.last_entry()
                    ))
                    .try_typing("locule history"));
            }
            facts = facts_at(&ledger.changes()?, entry);
        }
        let found = match find(&facts, &self.code) {
            Ok(found) => found,
            Err(unknown) => {
                let known = ShowAnswer::of_locus(&facts, &self.code, self.at)
                    .or_else(|| ShowAnswer::of_cell(&facts, &self.code, self.at));
                return known.map(|answer| world.answer(&answer)).ok_or(unknown);
            }
        };
        if found.thing == Thing::Trait {
            return traits::of(world, &facts, &found.label);
        }
        Ok(world.answer(&ShowAnswer::new(
            &facts,
            found.thing,
            found.id,
            found.label,
            self.at,
        )))
    }
}
