//! `trait list` and `trait show`.

use super::thing::unknown;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::code::fold;
use crate::records::facts::Facts;
use crate::records::genes::trait_spec;
use crate::records::rows::Thing;
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
pub fn show(world: &World, code: &str) -> Result<Outcome, Failure> {
    let (_, facts) = world.ask()?;
    of(world, &facts, code)
}

/// One trait of facts that were read.
///
/// # Errors
/// [`Failure`] where there is no such trait.
pub fn of(world: &World, facts: &Facts, code: &str) -> Result<Outcome, Failure> {
    let row = facts
        .code_named(code)
        .filter(|row| row.thing == Thing::Trait);
    let id = row.map_or(0, |row| row.thing_id);
    let spec = trait_spec(facts, id)?;
    let spec =
        spec.ok_or_else(|| unknown(facts, code, &[Thing::Trait]).try_typing("locule trait list"))?;
    let show = TraitShow::new(&spec, is_bench(facts, &spec.code));
    Ok(world.answer(&show.come_from(facts, id)))
}
