//! `genotype`: what is known of the genotype of plants, and what told it.

use clap::Args;

use super::thing::find;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::genotypes::{GenotypeError, TooLargeCause, genotype_of, genotypes_of_all};
use crate::records::rows::Thing;
use crate::report::adopted::Accident;
use crate::report::genotype::{AllGenotypes, GenotypeAnswer};
use crate::report::remarks::weighed_as_one;
use crate::report::text::{listed, shown};

/// How likely each genotype of a plant is by everything recorded of it, its parents and its offspring, and which
/// records told it
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  locule genotype NL\n  locule genotype T1-03\n  locule genotype --all"
)]
pub struct GenotypeArgs {
    /// The plant: NL, or a seedling's place
    #[arg(value_name = "PLANT", required_unless_present = "all")]
    plant: Option<String>,
    /// Every plant that has a code, instead of one
    #[arg(long)]
    all: bool,
}

impl GenotypeArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read, a code is unknown or names no plant, or the exact answer is too
    /// large.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        if let (Some(plant), true) = (&self.plant, self.all) {
            return Err(Failure::usage(format!(
                "either one plant or all of them: {plant}, or --all"
            ))
            .try_typing(format!("locule genotype {plant}"))
            .try_typing("locule genotype --all"));
        }
        let (_, facts) = world.ask()?;
        let Some(typed) = self.plant else {
            let found = genotypes_of_all(&facts).map_err(failed)?;
            return Ok(world.answer(&AllGenotypes(found)));
        };
        let found = find(&facts, &typed)?;
        if found.thing != Thing::Plant {
            return Err(Failure::refused(format!(
                "{} is a {}, and one plant is meant",
                found.label, found.thing
            ))
            .try_typing(format!("locule expect {}", found.label)));
        }
        let belief = genotype_of(&facts, found.id).map_err(failed)?;
        let accident = Accident::of(&facts, found.id);
        Ok(world.answer(&GenotypeAnswer { belief, accident }))
    }
}

/// Why nothing is said of a plant, as a failure.
pub fn failed(error: GenotypeError) -> Failure {
    match error {
        GenotypeError::Unreadable(error) => error.into(),
        GenotypeError::TooLarge {
            size,
            cause,
            linked,
        } => {
            let (why, typed) = match cause {
                TooLargeCause::Tray { tray, traits } => (
                    format!(
                        "too many loci were read at once in {}, by {}",
                        shown(&tray),
                        listed(&traits, "and")
                    ),
                    format!("locule trait off {}", traits[0]),
                ),
                TooLargeCause::Pedigree => (
                    "the plants are tied to each other in too many ways".to_owned(),
                    "locule genotype --all".to_owned(),
                ),
            };
            let failure = Failure::refused(format!("{size}: {why}"));
            let failure = match weighed_as_one(&linked) {
                Some(why) => failure.because(why),
                None => failure,
            };
            failure.try_typing(typed)
        }
    }
}
