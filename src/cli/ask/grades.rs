//! `grades`: what the grades of a trait say of each plant.

use clap::Args;

use super::thing::unknown;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::grades::Graded;
use crate::records::rows::Thing;
use crate::records::scale::is_measured;
use crate::report::grades::GradesAnswer;

/// The mean grade of every plant with its interval, and how much higher or lower each taster grades
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  locule grades heat")]
pub struct GradesArgs {
    /// The graded trait: heat
    #[arg(value_name = "TRAIT")]
    of: String,
}

impl GradesArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read or has no such graded trait.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let (_, facts) = world.ask()?;
        let code = facts.code_named(&self.of);
        let code = code.filter(|row| row.thing == Thing::Trait);
        let code = code.ok_or_else(|| unknown(&facts, &self.of, &[Thing::Trait]))?;
        let graded = Graded::of(&facts, code.thing_id).ok_or_else(|| {
            Failure::refused(format!("{} is scored by its looks, not graded", code.typed))
                .try_typing(format!("locule trait show {}", code.typed))
        })?;
        if is_measured(&facts, code.thing_id) {
            let of = &code.typed;
            return Err(Failure::refused(format!("{of} is measured, not graded"))
                .try_typing(format!("locule size --of {of}")));
        }
        Ok(world.answer(&GradesAnswer::new(&facts, &graded)))
    }
}
