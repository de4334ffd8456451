//! `adopt`: a seedling kept as what it probably is.
//!
//! The entry brings the odds with it, worked out by whoever made it; here it is judged which parents they speak for and
//! whether these can be its parents. The row is a name for its pedigree and no evidence: what is known of genotypes keeps
//! weighing the seedling in its tray.

use super::desk::Desk;
use super::pedigree::own_ancestor;
use super::refusal::{Adopting, Identity, Refusal, Wanted};
use super::subject::ParentChance;
use super::{Notice, Subject, find, seedlings};
use crate::records::code::fold;
use crate::records::descent::{adoption_of, label_parents, ring_through};
use crate::records::entry::Adoption;
use crate::records::facts::Facts;
use crate::records::parentage::{Parentage, in_words};
use crate::records::rows::{AdoptionRow, PlantRow, Thing};
use crate::records::target::Target;
use crate::records::text::{self, NAME_MAX};
use crate::records::tray::Tray;

/// Mother and father, each where it is a plant of the ledger.
type Parents = (Option<i64>, Option<i64>);

/// Parents likelier than this are taken without being named.
const LIKELIER_THAN_NOT: f64 = 0.5;

/// How far each chance may be rounded up.
const ROUNDED: f64 = 0.00005;

/// Where the odds leave no more than this, parents that are not among them are as good as impossible.
const ALL_BUT: f64 = 0.02;

/// Parents named by the grower that are less likely than this are remarked on (design choice).
const HARDLY: f64 = 0.05;

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
    let odds = resolve_odds(desk, entry, label.0)?;
    let parents = choose(desk, entry, &odds, label)?;
    let known: Vec<i64> = [parents.0, parents.1].into_iter().flatten().collect();
    if let Some(ring) = ring_through(desk.facts, plant, &known) {
        return Err(own_ancestor(desk.facts, &ring));
    }
    let chance = chance_of(&odds, parents);
    remark(desk, entry, parents, chance.as_deref());
    if let Some(name) = name {
        let named = PlantRow {
            name,
            ..row.clone()
        };
        desk.update(row, named);
    }
    if let Some(code) = &entry.code
        && desk.facts.code_of(Thing::Plant, plant).is_none()
    {
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
    Ok(Subject::Adoption { adoption, odds })
}

/// Refuses what is no seedling, is adopted already or under another code, or of which nothing was read by then.
fn judge_seedling<'f>(
    desk: &mut Desk<'f>,
    entry: &Adoption,
    plant: i64,
) -> Result<&'f PlantRow, Refusal> {
    let facts = desk.facts;
    let seedling = entry.seedling.to_string();
    if let Some(adopted) = adoption_of(facts, plant) {
        let parents = named(facts, (adopted.mother_id, adopted.father_id));
        return Err(Adopting::Already { seedling, parents }.into());
    }
    let row = facts.plant.get(plant);
    if row.is_some_and(|row| row.batch_id.is_none()) {
        return Err(no_seedling(entry));
    }
    let own = facts.code_of(Thing::Plant, plant).map(str::to_owned);
    if let (Some(own), Some(code)) = (&own, &entry.code)
        && fold(own) != fold(code.as_str())
    {
        let own = own.clone();
        return Err(Adopting::OtherCode { seedling, own }.into());
    }
    let code = code_to_be(desk, entry, plant);
    let readings = facts.reading.iter();
    let readings = readings.filter(|row| row.plant_id == plant && row.class_id.is_some());
    match (row, readings.map(|row| row.day).min()) {
        (Some(row), Some(first)) if first <= entry.day => {
            seedlings::check_alive(desk, plant, "kept as a parent", entry.day)?;
            Ok(row)
        }
        (Some(_), Some(first)) => Err(Adopting::ReadLater {
            seedling,
            code,
            day: entry.day,
            first,
        }
        .into()),
        (row, _) => Err(match class_counted(facts, entry, row) {
            Some(class) => Adopting::OnlyCounted { seedling, class }.into(),
            None => Adopting::NothingRead { seedling, code }.into(),
        }),
    }
}

/// A class that was counted where a seedling stands, nobody having read it by itself.
fn class_counted(facts: &Facts, entry: &Adoption, row: Option<&PlantRow>) -> Option<String> {
    let (tray, cell) = match (&entry.seedling, row) {
        (Target::Spot(code, spot), _) => (find::tray(facts, code).ok()?, Some(spot.cell)),
        (_, row) => (Tray::of(facts, row?.batch_id?)?, row?.cell),
    };
    let of_cell = cell.and_then(|cell| tray.newest_tally(Some(cell), entry.day));
    let tally = of_cell.or_else(|| tray.newest_tally(None, entry.day))?;
    let look = facts
        .tally_look
        .iter()
        .find(|look| look.tally_id == tally.id)?;
    let mut classes = facts.tally_class.iter();
    let class = classes.find(|row| row.look_id == look.id)?.class_id?;
    Some(facts.trait_class.get(class)?.name.clone())
}

fn no_seedling(entry: &Adoption) -> Refusal {
    let typed = entry.seedling.to_string();
    Identity::NoSeedling { typed }.into()
}

/// The code that a seedling is to get, or a word for one; nothing where it has one.
fn code_to_be(desk: &Desk, entry: &Adoption, plant: i64) -> Option<String> {
    let typed = || {
        let code = entry.code.as_ref();
        code.map_or_else(|| "CODE".to_owned(), ToString::to_string)
    };
    let is_bare = desk.facts.code_of(Thing::Plant, plant).is_none();
    is_bare.then(typed)
}

/// Everything that the seedling may be, each pair of parents once.
fn resolve_odds(
    desk: &mut Desk,
    entry: &Adoption,
    mother: i64,
) -> Result<Vec<ParentChance>, Refusal> {
    let seedling = || entry.seedling.to_string();
    let mut odds: Vec<ParentChance> = Vec::new();
    for odd in &entry.odds {
        let (mother, father) = resolve(desk, entry, mother, &odd.of)?;
        if odds.iter().any(|one| of(one) == (mother, father)) {
            let parents = named(desk.facts, (mother, father));
            let seedling = seedling();
            return Err(Adopting::TwiceInOdds { parents, seedling }.into());
        }
        odds.push(ParentChance {
            mother,
            father,
            chance: odd.chance.clone(),
        });
    }
    let sum: f64 = odds.iter().map(p).sum();
    if sum > 1.0 + ROUNDED * odds.len() as f64 + 1e-9 {
        return Err(Adopting::OddsAboveOne {
            sum: format!("{sum:.3}"),
            seedling: seedling(),
        }
        .into());
    }
    Ok(odds)
}

fn of(odd: &ParentChance) -> Parents {
    (odd.mother, odd.father)
}

fn p(odd: &ParentChance) -> f64 {
    odd.chance.parse().unwrap_or(0.0)
}

/// The parents that the grower named, else those that are likelier than not. Its label's are none that a seedling is
/// adopted as having.
fn choose(
    desk: &mut Desk,
    entry: &Adoption,
    odds: &[ParentChance],
    label: (i64, i64),
) -> Result<Parents, Refusal> {
    let labelled = (Some(label.0), Some(label.1));
    let own = odds.iter().find(|odd| of(odd) == labelled);
    let (facts, seedling) = (desk.facts, entry.seedling.to_string());
    if let Some(typed) = &entry.chosen {
        let chosen = resolve(desk, entry, label.0, typed)?;
        if chosen != labelled {
            return Ok(chosen);
        }
        let plant = find::plant(desk, &entry.seedling, entry.day)?;
        return Err(Adopting::Label {
            typed: typed.to_string(),
            chance: chance_of(odds, labelled),
            code: code_to_be(desk, entry, plant),
            seedling,
        }
        .into());
    }
    let plant = find::plant(desk, &entry.seedling, entry.day)?;
    let code = code_to_be(desk, entry, plant);
    if let Some(own) = own.filter(|own| p(own) > LIKELIER_THAN_NOT) {
        return Err(Adopting::MostLikelyLabel {
            label: named(facts, labelled),
            chance: own.chance.clone(),
            code,
            seedling,
        }
        .into());
    }
    let mut sorted: Vec<&ParentChance> = odds.iter().collect();
    sorted.sort_by(|one, other| p(other).total_cmp(&p(one)));
    let mut others = sorted.iter().filter(|odd| of(odd) != labelled);
    let Some(best) = others.next() else {
        return Err(Adopting::NoOdds { seedling, code }.into());
    };
    let rivals = sorted.iter().filter(|odd| of(odd) != of(best));
    let is_tied = rivals.map(|odd| p(odd)).any(|rival| rival >= p(best));
    if p(best) < LIKELIER_THAN_NOT || is_tied {
        let words = |odd: &&ParentChance| (named(facts, of(odd)), odd.chance.clone());
        return Err(Adopting::Untold {
            odds: sorted.iter().map(words).collect(),
            likeliest: typed(facts, of(best)),
            code,
            seedling,
        }
        .into());
    }
    Ok(of(best))
}

/// How likely parents are by the odds; nothing where the odds leave that open.
fn chance_of(odds: &[ParentChance], parents: Parents) -> Option<String> {
    let odd = odds.iter().find(|odd| of(odd) == parents);
    let left = 1.0 - odds.iter().map(p).sum::<f64>();
    let none = || (!odds.is_empty() && left <= ALL_BUT).then(|| "0".to_owned());
    odd.map(|odd| odd.chance.clone()).or_else(none)
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

/// Says where the same cross was made on purpose, and where the records speak against what the grower believes.
fn remark(desk: &mut Desk, entry: &Adoption, parents: Parents, chance: Option<&str>) {
    let facts = desk.facts;
    let seedling = entry.seedling.to_string();
    let p = chance.and_then(|chance| chance.parse::<f64>().ok());
    if entry.chosen.is_some()
        && let Some(chance) = chance
        && p.is_some_and(|p| p < HARDLY)
    {
        desk.tell(Notice::AgainstRecords {
            seedling: seedling.clone(),
            parents: named(facts, parents),
            chance: chance.to_owned(),
        });
    }
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
            seedling,
            parents: named(facts, parents),
            crosses,
        });
    }
}

/// Parents as messages name them.
pub(super) fn named(facts: &Facts, (mother, father): Parents) -> String {
    let label = |id: Option<i64>| id.map(|id| find::label(facts, id));
    in_words(label(mother).as_deref(), label(father).as_deref())
}

/// Parents as they are typed: `CW/NL`, `CW/_`, `unknown-seed`.
fn typed(facts: &Facts, (mother, father): Parents) -> String {
    let label = |id: i64| find::label(facts, id);
    match mother {
        None => "unknown-seed".to_owned(),
        Some(mother) => {
            let father = father.map_or_else(|| "_".to_owned(), label);
            format!("{}/{father}", label(mother))
        }
    }
}
