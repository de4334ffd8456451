//! `species`: what the grower says of a pair of species, mother first.

use super::Subject;
use super::desk::Desk;
use super::refusal::{Identity, Refusal};
use crate::genetics::species::{
    CROSSABILITY_WORDS, Crossability, FERTILITY_WORDS, HybridFertility,
};
use crate::records::entry::SpeciesSaid;
use crate::records::species::{BETWEEN, PairSetting, bare};
use crate::records::text::{self, NAME_MAX, TextError, shown};

/// The word that takes what is in print again.
const DEFAULT: &str = "default";

pub(super) fn pair(desk: &mut Desk, entry: &SpeciesSaid) -> Result<Subject, Refusal> {
    let (mother, father) = (one(&entry.mother)?, one(&entry.father)?);
    let crossing = entry.crossing.as_deref().map(crossing).transpose()?;
    let fertility = entry.fertility.as_deref().map(fertility).transpose()?;
    let is_default = |set: &Option<Option<String>>| matches!(set, Some(None));
    // What is in print is taken again of the pair as a whole.
    let fertility = fertility.or_else(|| is_default(&crossing).then_some(None));
    for (of, value) in [
        (PairSetting::Crossing, crossing),
        (PairSetting::Fertility, fertility),
    ] {
        if let Some(value) = value {
            desk.set(&of.key(&mother, &father), value);
        }
    }
    if desk.is_blank() {
        return Err(Identity::Unchanged.into());
    }
    Ok(Subject::SpeciesPair { mother, father })
}

/// A species by its bare word.
fn one(typed: &str) -> Result<String, TextError> {
    let word = bare(&text::require("species", typed, NAME_MAX)?);
    if word.is_empty() || word.contains(BETWEEN) {
        let wanted = "one species, such as annuum";
        return Err(form("species", typed, wanted));
    }
    Ok(word)
}

fn crossing(typed: &str) -> Result<Option<String>, TextError> {
    if typed.trim().eq_ignore_ascii_case(DEFAULT) {
        return Ok(None);
    }
    let read = typed.parse::<Crossability>();
    let read = read.map_err(|_| form("crossing", typed, CROSSABILITY_WORDS))?;
    Ok(Some(read.to_string()))
}

fn fertility(typed: &str) -> Result<Option<String>, TextError> {
    if typed.trim().eq_ignore_ascii_case(DEFAULT) {
        return Ok(None);
    }
    let read = typed.parse::<HybridFertility>();
    let read = read.map_err(|_| form("fertility", typed, FERTILITY_WORDS))?;
    Ok(Some(read.to_string()))
}

fn form(what: &'static str, typed: &str, wanted: &'static str) -> TextError {
    let text = shown(typed);
    TextError::Form { what, text, wanted }
}
