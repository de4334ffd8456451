//! `size`: how large seedlings are by what was measured, groups compared, runts named.

use clap::{Args, ValueEnum};

use super::germination::names_tray;
use super::thing::batches_by_parent;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::growing::grouping::Grouping;
use crate::growing::sizes::{Asked, Nothing, sizes};
use crate::report::size::SizeAnswer;

/// Show how large seedlings are: crosses or directions compared, runts named
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  locule size T1\n  locule size X1 X2\n  locule size --by direction --of height\n\nSizes are recorded with: locule measure T1-03 height=42mm"
)]
pub struct SizeArgs {
    /// Trays, crosses and parents; a parent of which itself nothing was sown stands for its crosses; without any, everything sown
    #[arg(value_name = "TRAY|CROSS|PARENT")]
    of_what: Vec<String>,
    /// The measure, such as height; without it the only one there is
    #[arg(long, value_name = "MEASURE")]
    of: Option<String>,
    /// By what seedlings are put together; without it crosses and parents by themselves, trays by themselves
    #[arg(long, value_name = "WHAT", value_enum)]
    by: Option<By>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum By {
    /// Each tray by itself
    Tray,
    /// The cross, self or parent sown
    Cross,
    /// The mother
    Mother,
    /// The father
    Father,
    /// Which of two plants was the mother
    Direction,
    /// The species of mother and father
    Species,
}

impl From<By> for Grouping {
    fn from(by: By) -> Self {
        match by {
            By::Tray => Self::Tray,
            By::Cross => Self::Cross,
            By::Mother => Self::Mother,
            By::Father => Self::Father,
            By::Direction => Self::Direction,
            By::Species => Self::Species,
        }
    }
}

impl SizeArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read, a code is unknown, nothing was measured, or it is open which measure
    /// is meant.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let (_, facts) = world.ask()?;
        let rows = batches_by_parent(&facts, &self.of_what)?;
        let asked = Asked {
            by: match self.by {
                Some(by) => by.into(),
                None if names_tray(&facts, &self.of_what)? => Grouping::Tray,
                None => Grouping::Cross,
            },
            of: self.of,
            on: world.day()?,
        };
        let found = sizes(&facts, &rows, &asked).map_err(unmeasured)?;
        Ok(world.answer(&SizeAnswer::new(&found)))
    }
}

fn unmeasured(nothing: Nothing) -> Failure {
    match nothing {
        Nothing::Measured => Failure::refused("no seedling of it was measured by then")
            .try_typing("locule measure T1-03 height=42mm"),
        Nothing::OfThatName(name, known) => Failure::refused(format!(
            "'{name}' was not measured; measured were: {}",
            known.join(", ")
        ))
        .try_flag("--of", known[0].clone()),
        Nothing::Several(known) => Failure::refused(format!(
            "several things were measured: {}",
            known.join(", ")
        ))
        .try_flag("--of", known[0].clone()),
    }
}
