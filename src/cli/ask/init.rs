//! `init`: a new ledger.

use clap::Args;
use serde::Serialize;

use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::admit::Subject;
use crate::report::text::wrapped;
use crate::report::{Answer, Page};

/// Makes a new ledger with the built-in traits.
#[derive(Debug, Args)]
pub struct InitArgs {}

/// What was made.
#[derive(Debug, Serialize)]
struct Made {
    entry: i64,
    ledger: String,
    traits: usize,
    loci: usize,
}

impl Answer for Made {
    fn words(&self, page: Page) -> String {
        let made = format!(
            "New ledger {} with {} built-in traits and {} loci.",
            self.ledger, self.traits, self.loci
        );
        let next = "Next: locule parent add NL 'Night Lantern' --genotype A/A";
        format!("{}\n{next}", wrapped(&made, page.width, ""))
    }
}

impl InitArgs {
    /// Makes it.
    ///
    /// # Errors
    /// [`Failure`] where there is one already, or none can be made.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let recorded = world.begin_ledger()?;
        let (traits, loci) = match recorded.admitted.subject {
            Subject::Ledger { traits, loci } => (traits, loci),
            _ => (recorded.facts.trait_.len(), recorded.facts.locus.len()),
        };
        let ledger = world.ledger.display().to_string();
        let made = Made {
            entry: recorded.entry,
            ledger,
            traits,
            loci,
        };
        Ok(world.answer(&made).kept(recorded.entry))
    }
}
