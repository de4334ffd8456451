//! Finding what a typed code, seedling or lot means, for commands that ask.

use crate::cli::failure::Failure;
use crate::records::admit::Remedy;
use crate::records::descent::label_parents;
use crate::records::facts::Facts;
use crate::records::near::meant;
use crate::records::rows::{BatchRow, Thing};
use crate::records::target::Target;

/// A thing of the ledger and what to call it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    /// Its kind.
    pub thing: Thing,
    /// Its number.
    pub id: i64,
    /// Its code, place or lot as an answer shows it.
    pub label: String,
}

/// The mother and father of the seed of a cross, or of what a tray was sown with; nothing for anything else.
#[must_use]
pub fn seed_parents(facts: &Facts, found: &Found) -> Option<(i64, i64)> {
    match found.thing {
        Thing::Cross => {
            let row = facts.cross.get(found.id)?;
            Some((row.mother_id, row.father_id))
        }
        Thing::Batch => label_parents(facts, facts.batch.get(found.id)?),
        Thing::Plant | Thing::Trait | Thing::Lot => None,
    }
}

/// The thing that a text names.
///
/// # Errors
/// [`Failure`] naming the nearest codes.
pub fn find(facts: &Facts, typed: &str) -> Result<Found, Failure> {
    let target: Target = typed
        .parse()
        .map_err(|error: crate::records::target::TargetError| {
            let failure = Failure::usage(error.to_string());
            match &meant(facts, typed, |thing| thing == Thing::Plant)[..] {
                [one] => failure
                    .because(format!("'{typed}' is {one}"))
                    .try_remedy(Remedy::Word {
                        typed: typed.to_owned(),
                        by: one.clone(),
                        otherwise: format!("locule show {one}"),
                    }),
                _ => failure.try_typing("locule list"),
            }
        })?;
    let row = facts.code_named(target.code().as_str());
    let row = row.ok_or_else(|| unknown(facts, target.code().as_str(), &[]))?;
    match &target {
        Target::Code(_) => Ok(Found {
            thing: row.thing,
            id: row.thing_id,
            label: row.typed.clone(),
        }),
        Target::Spot(_, spot) if row.thing == Thing::Batch => {
            let here = |plant: &&crate::records::rows::PlantRow| {
                plant.batch_id == Some(row.thing_id)
                    && plant.cell == Some(spot.cell)
                    && (plant.part == spot.part || spot.part.is_empty())
            };
            let plants: Vec<_> = facts.plant.iter().filter(here).collect();
            match plants.as_slice() {
                [] => Err(
                    Failure::refused(format!("nothing was recorded of {target} by itself"))
                        .try_typing(format!("locule show {}", row.typed)),
                ),
                [one] => Ok(Found {
                    thing: Thing::Plant,
                    id: one.id,
                    label: facts.plant_label(one),
                }),
                several => {
                    let names: Vec<String> =
                        several.iter().map(|one| facts.plant_label(one)).collect();
                    Err(Failure::refused(format!(
                        "{target} holds several seedlings: {}",
                        names.join(", ")
                    ))
                    .try_typing(format!("locule show {}", names[0])))
                }
            }
        }
        Target::Spot(..) => Err(Failure::refused(format!(
            "{} is no tray, so there is no {target}",
            row.typed
        ))
        .try_typing(format!("locule show {}", row.typed))),
        Target::Lot(_, number) => facts
            .lot
            .iter()
            .find(|lot| {
                let source = if row.thing == Thing::Cross {
                    lot.cross_id
                } else {
                    lot.plant_id
                };
                source == Some(row.thing_id) && lot.number == *number
            })
            .map(|lot| Found {
                thing: Thing::Lot,
                id: lot.id,
                label: format!("{}/{number}", row.typed),
            })
            .ok_or_else(|| {
                Failure::refused(format!("{} has no lot {number}", row.typed))
                    .try_typing(format!("locule show {}", row.typed))
            }),
    }
}

/// The failure that a code unknown to the ledger is, with the nearest ones of the kinds wanted.
pub fn unknown(facts: &Facts, typed: &str, kinds: &[Thing]) -> Failure {
    let near = meant(facts, typed, |thing| {
        kinds.is_empty() || kinds.contains(&thing)
    });
    let failure = Failure::refused(format!("'{typed}' is not in the ledger"));
    match near.first() {
        Some(best) => failure
            .because(format!("the nearest: {}", near.join(", ")))
            .try_typing(format!("locule show {best}")),
        None => failure.try_typing("locule history"),
    }
}

/// The batches that trays and crosses name, each once, in the order named; all of them where nothing is named.
///
/// # Errors
/// [`Failure`] where a code is unknown or names neither, or a cross was never sown.
pub fn batches<'f>(facts: &'f Facts, typed: &[String]) -> Result<Vec<&'f BatchRow>, Failure> {
    if typed.is_empty() {
        return Ok(facts.batch.iter().collect());
    }
    let mut found: Vec<&BatchRow> = Vec::new();
    for text in typed {
        let named = find(facts, text)?;
        let of_it: Vec<&BatchRow> = match named.thing {
            Thing::Batch => facts.batch.get(named.id).into_iter().collect(),
            Thing::Cross => facts
                .batch
                .iter()
                .filter(|row| row.cross_id == Some(named.id))
                .collect(),
            Thing::Plant => facts
                .batch
                .iter()
                .filter(|row| row.plant_id == Some(named.id))
                .collect(),
            Thing::Trait | Thing::Lot => {
                return Err(Failure::refused(format!(
                    "{} is a {}, not a tray or cross",
                    named.label, named.thing
                ))
                .try_typing(format!("locule show {}", named.label)));
            }
        };
        if of_it.is_empty() {
            return Err(unsown(facts, text, &named));
        }
        for batch in of_it {
            if !found.iter().any(|known| known.id == batch.id) {
                found.push(batch);
            }
        }
    }
    Ok(found)
}

/// The batches of codes, as [`batches`]; a parent of which itself nothing was sown stands for its crosses.
///
/// # Errors
/// As [`batches`].
pub fn batches_by_parent<'f>(
    facts: &'f Facts,
    typed: &[String],
) -> Result<Vec<&'f BatchRow>, Failure> {
    if typed.is_empty() {
        return batches(facts, typed);
    }
    let mut found: Vec<&BatchRow> = Vec::new();
    for text in typed {
        let named = find(facts, text)?;
        let is_parent_of = |row: &&BatchRow| {
            let cross = row.cross_id.and_then(|id| facts.cross.get(id));
            cross.is_some_and(|cross| [cross.mother_id, cross.father_id].contains(&named.id))
        };
        let is_sown = facts.batch.iter().any(|row| row.plant_id == Some(named.id));
        let of_it: Vec<&BatchRow> = match named.thing == Thing::Plant && !is_sown {
            true => facts.batch.iter().filter(is_parent_of).collect(),
            false => Vec::new(),
        };
        let of_it = if of_it.is_empty() {
            batches(facts, std::slice::from_ref(text))?
        } else {
            of_it
        };
        for batch in of_it {
            if !found.iter().any(|known| known.id == batch.id) {
                found.push(batch);
            }
        }
    }
    Ok(found)
}

/// The failure that a plant or cross is of which nothing was sown; a seedling stands in a tray that may be meant.
fn unsown(facts: &Facts, typed: &str, named: &Found) -> Failure {
    let row = facts
        .plant
        .get(named.id)
        .filter(|_| named.thing == Thing::Plant);
    let tray = row.and_then(|row| facts.code_of(Thing::Batch, row.batch_id?));
    match tray {
        Some(tray) => Failure::refused(format!(
            "{} is a seedling of {tray}, and nothing of its own seed was sown yet",
            named.label
        ))
        .try_remedy(Remedy::Word {
            typed: typed.to_owned(),
            by: tray.to_owned(),
            otherwise: format!("locule show {tray}"),
        }),
        None => Failure::refused(format!("nothing of {} was sown yet", named.label))
            .try_typing(format!("locule sow {} --seeds 12", named.label)),
    }
}
