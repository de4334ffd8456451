//! `trait late`: when a trait shows its late classes.

use super::desk::Desk;
use super::find::{Wanted, thing};
use super::locus::loci_of;
use super::refusal::{GeneRefusal, Refusal};
use super::subject::{Subject, TraitDone};
use super::traits::{done, number};
use crate::genetics::{Standing, TraitError};
use crate::records::entry::LateColour;
use crate::records::genes::trait_spec;

/// Puts other ages in the place of those at which a trait shows its late classes.
pub(super) fn set_late(desk: &mut Desk, entry: &LateColour) -> Result<Subject, Refusal> {
    let (_, id) = thing(desk.facts, &entry.of, Wanted::Trait)?;
    let mut spec = trait_spec(desk.facts, id)?.expect("a code names a row that is there");
    let before = desk.facts.onset.iter().find(|row| row.trait_id == id);
    let (Some(onset), Some(before)) = (spec.onset.as_mut(), before) else {
        return Err(GeneRefusal::NotLate(spec.code).into());
    };
    let mut after = before.clone();
    let typed = [
        (
            "--median-days",
            &entry.median_days,
            &mut onset.median_days,
            &mut after.median_days,
        ),
        (
            "--spread",
            &entry.spread,
            &mut onset.spread,
            &mut after.spread,
        ),
        (
            "--ceiling",
            &entry.ceiling,
            &mut onset.ceiling,
            &mut after.ceiling,
        ),
    ];
    for (flag, typed, value, kept) in typed {
        if let Some(typed) = typed {
            *value = number(flag, typed)?;
            typed.trim().clone_into(kept);
        }
    }
    spec.check(&mut loci_of(desk.facts)?.book)
        .map_err(|error| refused_late(&spec.code, &error))?;
    if after != *before {
        after.standing = Standing::Own.to_string();
        desk.update(before, after);
    }
    Ok(done(id, TraitDone::LateSet))
}

fn refused_late(of: &str, error: &TraitError) -> Refusal {
    GeneRefusal::Trait {
        of: of.to_owned(),
        message: error.to_string(),
        hint: format!("locule trait late {of} --median-days 12 --spread 0.35 --ceiling 0.9999"),
    }
    .into()
}
