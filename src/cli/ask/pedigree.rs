//! `pedigree`: where plants and seed come from.

use clap::Args;

use super::thing::{find, seed_parents};
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::descent::label_parents;
use crate::records::facts::Facts;
use crate::records::pedigree::{Kin, LineageError};
use crate::records::rows::Thing;
use crate::records::target::Target;
use crate::report::pedigree::PedigreeAnswer;

/// Where plants and seed come from: a tree, Purdy's notation (A/B//C is (A x B) x C), the generation, inbreeding and
/// the founders; of several also their kinship
#[derive(Debug, Args)]
pub struct PedigreeArgs {
    /// Parents, seedlings, crosses, lots or trays: NL, T1-03, X1, X1/1, T1
    #[arg(value_name = "CODE", required = true)]
    of: Vec<String>,
}

impl PedigreeArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read, a code is unknown or names a trait, or too many plants would
    /// have to be worked out.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let (_, facts) = world.ask()?;
        let mut asked: Vec<(String, Kin)> = Vec::new();
        for typed in &self.of {
            let one = kin_of(&facts, typed)?;
            if !asked.contains(&one) {
                asked.push(one);
            }
        }
        let answer = PedigreeAnswer::new(&facts, &asked).map_err(|error| match &error {
            LineageError::Ring(_) => Failure::refused(error.to_string())
                .because("the records clash: no plant can be its own ancestor")
                .try_typing("locule check-ledger"),
            LineageError::Descent(_) => Failure::refused(error.to_string())
                .try_typing(format!("locule pedigree {}", self.of[0])),
        })?;
        Ok(world.answer(&answer))
    }
}

/// What a typed code, place or lot means: a plant, or the seed of a mother and a father.
fn kin_of(facts: &Facts, typed: &str) -> Result<(String, Kin), Failure> {
    if let Some(cell) = unscored_cell(facts, typed) {
        return Ok(cell);
    }
    let found = find(facts, typed)?;
    let seed = match found.thing {
        Thing::Plant => return Ok((found.label, Kin::Plant(found.id))),
        Thing::Cross | Thing::Batch => seed_parents(facts, &found),
        Thing::Lot => facts.lot.get(found.id).and_then(|lot| match lot.plant_id {
            Some(plant) => Some((plant, plant)),
            None => facts
                .cross
                .get(lot.cross_id?)
                .map(|row| (row.mother_id, row.father_id)),
        }),
        Thing::Trait => None,
    };
    match seed {
        Some((mother, father)) => Ok((found.label, Kin::Seed(mother, father))),
        None => Err(Failure::refused(format!(
            "{} is a {}, and that has no pedigree",
            found.label, found.thing
        ))
        .try_typing(format!("locule show {}", found.label))),
    }
}

/// A cell of a tray of which nothing was recorded by itself: what stands there is of the tray's seed.
fn unscored_cell(facts: &Facts, typed: &str) -> Option<(String, Kin)> {
    let Ok(target @ Target::Spot(..)) = typed.parse::<Target>() else {
        return None;
    };
    let Target::Spot(code, spot) = &target else {
        return None;
    };
    let row = facts
        .code_named(code.as_str())
        .filter(|row| row.thing == Thing::Batch)?;
    let batch = facts.batch.get(row.thing_id)?;
    let known = facts
        .plant
        .iter()
        .any(|plant| plant.batch_id == Some(batch.id) && plant.cell == Some(spot.cell));
    if known || spot.cell > batch.cells {
        return None;
    }
    let (mother, father) = label_parents(facts, batch)?;
    Some((format!("{}-{spot}", row.typed), Kin::Seed(mother, father)))
}
