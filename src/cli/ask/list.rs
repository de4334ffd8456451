//! `list`: what is in the ledger.

use clap::{Args, ValueEnum};

use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::report::overview::{Kind, Overview};

/// What is in the ledger: parents, crosses, seed, trays and loci, a line for each
#[derive(Debug, Args)]
pub struct ListArgs {
    /// What to list; without it everything, in short
    #[arg(value_name = "WHAT", ignore_case = true)]
    what: Option<What>,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum What {
    Parents,
    Crosses,
    Seed,
    Trays,
    Loci,
}

impl ListArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let (_, facts) = world.ask()?;
        let kind = self.what.map(|what| match what {
            What::Parents => Kind::Parents,
            What::Crosses => Kind::Crosses,
            What::Seed => Kind::Seed,
            What::Trays => Kind::Trays,
            What::Loci => Kind::Loci,
        });
        Ok(world.answer(&Overview::new(&facts, kind)))
    }
}
