//! `adopt`: a seedling kept as what it probably is.
//!
//! The entry brings the odds with it, worked out by whoever made it; here it is judged which parents they speak for and
//! whether these can be its parents. The row is a name for its pedigree and no evidence: what is known of genotypes keeps
//! weighing the seedling in its tray.

use super::desk::Desk;
use super::pedigree::own_ancestor;
use super::refusal::{Identity, Refusal, Wanted};
use super::{Notice, Subject, find, seedlings};
use crate::records::descent::{label_parents, ring_through};
use crate::records::entry::Adoption;
use crate::records::facts::Facts;
use crate::records::parentage::Parentage;
use crate::records::rows::{AdoptionRow, PlantRow, Thing};
use crate::records::target::Target;
use crate::records::text::{self, NAME_MAX};

/// Mother and father, each where it is a plant of the ledger.
type Parents = (Option<i64>, Option<i64>);

pub(super) fn adopt(desk: &mut Desk, entry: &Adoption) -> Result<Subject, Refusal> {
    desk.not_future(entry.day)?;
    if let Some(code) = &entry.code {
        desk.free_of_series(code)?;
    }
    let name = entry.name.as_ref();
    let name = name.map(|name| text::require("name", name, NAME_MAX));
    let name = name.transpose()?;
    let plant = find::plant(desk, &entry.seedling, entry.day)?;
    let row = judge_seedling(desk, entry, plant)?;
    let batch = row.batch_id.and_then(|id| desk.facts.batch.get(id));
    let label = batch.and_then(|batch| label_parents(desk.facts, batch));
    let Some(label) = label else {
        return Err(no_seedling(entry));
    };
    let (parents, chance) = choose(desk, entry, label)?;
    let known: Vec<i64> = [parents.0, parents.1].into_iter().flatten().collect();
    if let Some(ring) = ring_through(desk.facts, plant, &known) {
        return Err(own_ancestor(desk.facts, &ring));
    }
    warn_of_crosses(desk, entry, parents);
    if let Some(name) = name {
        let named = PlantRow {
            name,
            ..row.clone()
        };
        desk.update(row, named);
    }
    if let Some(code) = &entry.code {
        desk.name(code, Thing::Plant, plant);
    }
    let adoption = desk.insert(|id| AdoptionRow {
        id,
        plant_id: plant,
        mother_id: parents.0,
        father_id: parents.1,
        chance,
        day: entry.day,
    });
    Ok(Subject::Adoption { adoption })
}

/// Refuses what is no seedling, is kept already, or of which nothing was read.
fn judge_seedling<'f>(
    desk: &mut Desk<'f>,
    entry: &Adoption,
    plant: i64,
) -> Result<&'f PlantRow, Refusal> {
    let facts = desk.facts;
    let seedling = entry.seedling.to_string();
    let adopted = facts.adoption.iter().find(|row| row.plant_id == plant);
    if let Some(adopted) = adopted {
        let parents = parents_words(facts, (adopted.mother_id, adopted.father_id));
        return Err(Identity::AdoptedAlready { seedling, parents }.into());
    }
    let is_seedling = facts
        .plant
        .get(plant)
        .is_none_or(|row| row.batch_id.is_some());
    if !is_seedling {
        return Err(no_seedling(entry));
    }
    if let Some(code) = facts.code_of(Thing::Plant, plant) {
        let code = code.to_owned();
        return Err(Identity::NamedAlready { seedling, code }.into());
    }
    let mut readings = facts.reading.iter();
    let is_read = readings.any(|row| row.plant_id == plant && row.class_id.is_some());
    match facts.plant.get(plant).filter(|_| is_read) {
        Some(row) => {
            seedlings::check_alive(desk, plant, "kept as a parent", entry.day)?;
            Ok(row)
        }
        None => Err(Identity::NothingAgainst {
            seedling,
            code: code_words(entry),
        }
        .into()),
    }
}

fn no_seedling(entry: &Adoption) -> Refusal {
    let typed = entry.seedling.to_string();
    Identity::NoSeedling { typed }.into()
}

fn code_words(entry: &Adoption) -> String {
    let code = entry.code.as_ref();
    code.map_or_else(|| "CODE".to_owned(), ToString::to_string)
}

/// The parents that the grower named, else the likeliest, with their probability where one was worked out. Its label's
/// are none that a seedling is adopted as having.
fn choose(
    desk: &mut Desk,
    entry: &Adoption,
    label: (i64, i64),
) -> Result<(Parents, Option<String>), Refusal> {
    let labelled = (Some(label.0), Some(label.1));
    let mut odds = Vec::new();
    for odd in &entry.odds {
        odds.push((resolve(desk, entry, label.0, &odd.of)?, odd));
    }
    let chosen = match &entry.chosen {
        Some(named) => Some(resolve(desk, entry, label.0, named)?),
        None => {
            let first = odds
                .iter()
                .reduce(|best, one| if one.1.p() > best.1.p() { one } else { best });
            first.map(|(parents, _)| *parents)
        }
    };
    let seedling = entry.seedling.to_string();
    match chosen {
        None => Err(Identity::NoParentage { seedling }.into()),
        Some(parents) if parents == labelled => Err(Identity::AsLabelled {
            seedling,
            label: parents_words(desk.facts, labelled),
            code: code_words(entry),
        }
        .into()),
        Some(parents) => {
            let odd = odds.iter().find(|(of, _)| *of == parents);
            Ok((parents, odd.map(|(_, odd)| odd.chance.clone())))
        }
    }
}

/// The plants that typed parents mean.
fn resolve(
    desk: &mut Desk,
    entry: &Adoption,
    mother: i64,
    typed: &Parentage,
) -> Result<Parents, Refusal> {
    let facts = desk.facts;
    let mut plant = |target: &Target| find::plant(desk, target, entry.day);
    Ok(match typed {
        Parentage::Selfed => (Some(mother), Some(mother)),
        Parentage::UnknownPollen => (Some(mother), None),
        Parentage::UnknownSeed => (None, None),
        Parentage::Pair(mother, None) => (Some(plant(mother)?), None),
        Parentage::Pair(mother, Some(father)) => (Some(plant(mother)?), Some(plant(father)?)),
        Parentage::Of(target) => match cross_of(facts, target) {
            Some(parents) => parents,
            None => (Some(mother), Some(plant(target)?)),
        },
    })
}

/// The parents of the cross that a code names.
fn cross_of(facts: &Facts, target: &Target) -> Option<Parents> {
    let Target::Code(code) = target else {
        return None;
    };
    let (_, id) = find::thing(facts, code, Wanted::Cross).ok()?;
    let cross = facts.cross.get(id)?;
    Some((Some(cross.mother_id), Some(cross.father_id)))
}

/// Says where the same cross was made on purpose.
fn warn_of_crosses(desk: &mut Desk, entry: &Adoption, parents: Parents) {
    let facts = desk.facts;
    let same = |mother: i64, father: i64| (Some(mother), Some(father)) == parents;
    let crosses: Vec<String> = facts
        .cross
        .iter()
        .filter(|cross| same(cross.mother_id, cross.father_id))
        .filter_map(|cross| facts.code_of(Thing::Cross, cross.id))
        .map(str::to_owned)
        .collect();
    if !crosses.is_empty() {
        desk.tell(Notice::StandsElsewhere {
            seedling: entry.seedling.to_string(),
            parents: parents_words(facts, parents),
            crosses,
        });
    }
}

/// `CW x NL`, `CW selfed`, `CW x unknown pollen`.
fn parents_words(facts: &Facts, parents: Parents) -> String {
    match parents {
        (Some(mother), Some(father)) if mother == father => {
            format!("{} selfed", find::label(facts, mother))
        }
        (Some(mother), Some(father)) => {
            format!(
                "{} x {}",
                find::label(facts, mother),
                find::label(facts, father)
            )
        }
        (Some(mother), None) => format!("{} x unknown pollen", find::label(facts, mother)),
        (None, _) => "seed from elsewhere".to_owned(),
    }
}
