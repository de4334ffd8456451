//! `plan which-mother`: which of two plants to take as mother.

use clap::Args;

use super::breeding::unexpected;
use super::stated::not_stated;
use super::thing::find;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::context::{Basis, Context};
use crate::planning::which_mother::{Direction, TraitReveals, directions};
use crate::records::facts::Facts;
use crate::records::rows::Thing;
use crate::records::species::Crossing;
use crate::report::plan_which_mother::{DirectionLine, MarkerLine, WhichMotherAnswer};

/// Which of two plants to take as mother: what the seedling markers then reveal of selfs and strays, and how readily it
/// sets
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  locule plan which-mother CW NL")]
pub struct WhichMotherArgs {
    /// One plant
    #[arg(value_name = "PLANT", allow_hyphen_values = true)]
    one: String,
    /// The other
    #[arg(value_name = "OTHER", allow_hyphen_values = true)]
    other: String,
}

impl WhichMotherArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where a code is unknown or names no plant, or both name the same.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let (_, facts) = world.ask()?;
        let (one, other) = (plant(&facts, &self.one)?, plant(&facts, &self.other)?);
        if one == other {
            return Err(Failure::refused(format!(
                "{} and {} are one plant; selfed, it is its own mother",
                self.one, self.other
            ))
            .try_typing(format!("locule show {}", self.one)));
        }
        let basis = Basis::of(&facts)?;
        let context = basis.context()?;
        let mut lines = Vec::new();
        let mut open: Vec<String> = Vec::new();
        let both = directions(&context, one, other).map_err(|error| unexpected(&error))?;
        for found in both {
            let more = open_at_markers(&context, &found).into_iter();
            let more: Vec<String> = more.filter(|one| !open.contains(one)).collect();
            open.extend(more);
            lines.push(line(&context, &found));
        }
        Ok(world.answer(&WhichMotherAnswer::new(lines, open)))
    }
}

fn plant(facts: &Facts, typed: &str) -> Result<i64, Failure> {
    let found = find(facts, typed)?;
    match found.thing {
        Thing::Plant => Ok(found.id),
        other => Err(Failure::refused(format!(
            "{} is a {other}, and a plant is meant",
            found.label
        ))
        .try_typing(format!("locule show {}", found.label))),
    }
}

/// What is not stated at loci of markers that reveal anything.
fn open_at_markers(context: &Context<'_>, found: &Direction) -> Vec<String> {
    let tells = |of: &&TraitReveals| of.revealed.all > 0.0;
    let places: Vec<usize> = found
        .traits
        .iter()
        .filter(tells)
        .map(|of| of.place)
        .collect();
    let loci = context.looks.loci_read(&places);
    not_stated(
        context,
        context.index.facts,
        &loci,
        (found.mother, found.father),
    )
}

fn line(context: &Context<'_>, found: &Direction) -> DirectionLine {
    let facts = context.index.facts;
    let crossing = Crossing::of_plants(facts, found.mother, found.father);
    let species = [&crossing.mother, &crossing.father].map(Clone::clone);
    let marker = |of: &TraitReveals| {
        let look = &context.looks.traits[of.place];
        MarkerLine {
            of: look.code.clone(),
            graded: of.is_graded,
            label_shows: of
                .allowed
                .iter()
                .map(|class| look.classes[*class].name.clone())
                .collect(),
            revealed: of.revealed.into(),
        }
    };
    DirectionLine {
        mother: facts.label_of_plant(found.mother),
        father: facts.label_of_plant(found.father),
        revealed: found.together.into(),
        traits: found.traits.iter().map(marker).collect(),
        crossability: crossing.crossability.to_string(),
        fertility: crossing.fertility.to_string(),
        kind: crossing.crossability,
        species: species
            .iter()
            .all(|name| !name.is_empty())
            .then_some(species),
        mother_without_pollen: found.is_mother_pollenless,
        father_without_pollen: found.is_father_pollenless,
    }
}
