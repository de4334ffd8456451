//! `species`: how hard it is to cross two species, shown or changed.

use clap::Args;

use super::book;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::entry::{Entry, SpeciesSaid};
use crate::report::species::SpeciesAnswer;

/// Show how hard it is to cross two species, or say what you know of a pair
#[derive(Debug, Args)]
#[command(
    after_help = "Examples (mother first; the last takes what is in print again):\n  locule species\n  locule species annuum baccatum\n  locule species annuum baccatum hard --fertility partial\n  locule species annuum baccatum default"
)]
pub struct SpeciesArgs {
    /// The mother's species: annuum
    #[arg(requires = "father")]
    mother: Option<String>,
    /// The father's species: baccatum
    father: Option<String>,
    /// How the cross goes: usual, hard, very-hard, not-expected, same-species, unknown; or `default`
    #[arg(requires = "father")]
    crossing: Option<String>,
    /// How fertile the hybrid is: high, partial, variable, unknown; or `default`
    #[arg(long, requires = "father")]
    fertility: Option<String>,
}

impl SpeciesArgs {
    /// Shows or records.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read or written, or the gate refuses a word.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        if let Some(entry) = self.entry() {
            return book::record(world, &entry);
        }
        let (_, facts) = world.ask()?;
        let pair = self.mother.as_deref().zip(self.father.as_deref());
        Ok(world.answer(&SpeciesAnswer::new(&facts, pair)))
    }

    /// The entry of what was typed; nothing where it only asks.
    #[must_use]
    pub fn entry(&self) -> Option<Entry> {
        let (mother, father) = (self.mother.clone()?, self.father.clone()?);
        let (crossing, fertility) = (self.crossing.clone(), self.fertility.clone());
        (crossing.is_some() || fertility.is_some()).then_some(Entry::Species(SpeciesSaid {
            mother,
            father,
            crossing,
            fertility,
        }))
    }
}
