//! `trait list` and `trait show`.

use super::thing::unknown;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::looks::gene_models;
use crate::genetics::traits::TraitSpec;
use crate::records::code::fold;
use crate::records::facts::Facts;
use crate::records::genes::{Loci, trait_spec};
use crate::records::near::nearest;
use crate::records::rows::Thing;
use crate::report::look::{LookAnswer, ModelLooks};
use crate::report::traits::{TraitLine, TraitList, TraitShow};

fn is_bench(facts: &Facts, code: &str) -> bool {
    facts
        .setting("bench-trait")
        .is_some_and(|bench| fold(bench) == fold(code))
}

/// Lists the traits.
///
/// # Errors
/// [`Failure`] where the ledger cannot be read.
pub fn list(world: &World) -> Result<Outcome, Failure> {
    let (_, facts) = world.ask()?;
    let mut traits = Vec::new();
    for row in &facts.trait_ {
        let spec = trait_spec(&facts, row.id)?;
        traits.extend(spec.map(|spec| TraitLine::new(&spec, is_bench(&facts, &spec.code))));
    }
    Ok(world.answer(&TraitList { traits }))
}

/// Shows one trait.
///
/// # Errors
/// [`Failure`] where the ledger cannot be read or has no such trait.
pub fn show(world: &World, code: &str, look: Option<&str>) -> Result<Outcome, Failure> {
    let (_, facts) = world.ask()?;
    match look {
        Some(look) => fitting_look(world, &facts, code, look),
        None => of(world, &facts, code),
    }
}

/// The genotypes that fit a look of a trait.
fn fitting_look(world: &World, facts: &Facts, code: &str, look: &str) -> Result<Outcome, Failure> {
    let (id, spec) = named(facts, code)?;
    let class = spec.class(look.trim()).ok_or_else(|| {
        let names = spec.class_names();
        let near = nearest(look, names.iter().map(String::as_str));
        let best = near.first().unwrap_or(&names[0]);
        Failure::refused(format!("{} has no class '{look}'", spec.code))
            .because(format!("its classes: {}", names.join(", ")))
            .try_typing(format!("locule trait show {} --look {best}", spec.code))
    })?;
    let book = Loci::of(facts)?.book;
    let models = gene_models(facts, id)?;
    let in_use = spec.model_in_use();
    let mut order: Vec<usize> = (0..models.len()).collect();
    order.sort_by_key(|at| Some(*at) != in_use);
    let later = (0..spec.classes.len()).filter(|at| spec.earlier(*at) == Some(class));
    Ok(world.answer(&LookAnswer {
        models: order
            .into_iter()
            .flat_map(|at| ModelLooks::of(&models[at], Some(at) == in_use, class, &book))
            .collect(),
        look: spec.classes[class].name.clone(),
        turns_to: later.map(|at| spec.classes[at].name.clone()).collect(),
        note: spec.note.clone(),
        of: spec.code,
    }))
}

/// The trait of a code, with its number.
fn named(facts: &Facts, code: &str) -> Result<(i64, TraitSpec), Failure> {
    let row = facts
        .code_named(code)
        .filter(|row| row.thing == Thing::Trait);
    let id = row.map_or(0, |row| row.thing_id);
    let spec = trait_spec(facts, id)?;
    let spec =
        spec.ok_or_else(|| unknown(facts, code, &[Thing::Trait]).try_typing("locule trait list"))?;
    Ok((id, spec))
}

/// One trait of facts that were read.
///
/// # Errors
/// [`Failure`] where there is no such trait.
pub fn of(world: &World, facts: &Facts, code: &str) -> Result<Outcome, Failure> {
    let (id, spec) = named(facts, code)?;
    let show = TraitShow::new(&spec, is_bench(facts, &spec.code));
    Ok(world.answer(&show.in_ledger(facts, id)))
}
