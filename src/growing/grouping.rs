//! By what trays, flowers and plants are put together: tray, lot, cross, parent, direction, species, year, age of seed.
//!
//! Names the groups as answers show them; knows nothing of what is counted in them.

use super::lots::sown_lots;
use crate::records::descent::label_parents;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, Thing};
use crate::records::species;

/// By what trays are put together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Grouping {
    /// Each by itself.
    Tray,
    /// The lot of seed they were sown from.
    Lot,
    /// The cross, self or parent sown.
    Cross,
    /// The mother.
    Mother,
    /// The father.
    Father,
    /// Which of two plants was the mother.
    Direction,
    /// The species of mother and father.
    Species,
    /// The year of sowing.
    Year,
    /// How many years old the seed was when sown.
    Age,
}

impl Grouping {
    /// The word it is typed by.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Tray => "tray",
            Self::Lot => "lot",
            Self::Cross => "cross",
            Self::Mother => "mother",
            Self::Father => "father",
            Self::Direction => "direction",
            Self::Species => "species",
            Self::Year => "year",
            Self::Age => "age",
        }
    }
}

/// What a tray was sown with: the code of its cross, or of the parent whose seed it is.
#[must_use]
pub fn stock_label(facts: &Facts, batch: &BatchRow) -> String {
    let cross = batch
        .cross_id
        .and_then(|id| facts.code_of(Thing::Cross, id));
    match (cross, batch.plant_id) {
        (Some(code), _) => code.to_owned(),
        (None, Some(plant)) => facts.label_of_plant(plant),
        (None, None) => String::new(),
    }
}

/// Two plants as mother and father: `CW x NL`, `NL selfed`.
#[must_use]
pub fn pair_label(facts: &Facts, (mother, father): (i64, i64)) -> String {
    let mother_label = facts.label_of_plant(mother);
    if mother == father {
        format!("{mother_label} selfed")
    } else {
        format!("{mother_label} x {}", facts.label_of_plant(father))
    }
}

/// The species of a plant, as stated or by its founders, where it is known.
#[must_use]
pub fn species_of(facts: &Facts, plant: i64) -> Option<String> {
    let known = species::species_of(facts, plant);
    (!known.is_empty()).then_some(known)
}

/// The species of mother and father, each where known.
#[must_use]
pub fn species_pair(facts: &Facts, (mother, father): (i64, i64)) -> [Option<String>; 2] {
    [species_of(facts, mother), species_of(facts, father)]
}

/// Two species as a group is named: `annuum`, `annuum x chinense`, `species not recorded`.
#[must_use]
pub fn species_label(pair: &[Option<String>; 2]) -> String {
    let word = |species: &Option<String>| species.clone().unwrap_or_else(|| "unknown".to_owned());
    match pair {
        [None, None] => "species not recorded".to_owned(),
        [one, other] if one == other => word(one),
        [one, other] => format!("{} x {}", word(one), word(other)),
    }
}

/// The group of a tray.
#[must_use]
pub fn group_of(facts: &Facts, batch: &BatchRow, by: Grouping) -> String {
    let parents = label_parents(facts, batch);
    let of_parents = |name: &dyn Fn((i64, i64)) -> String| {
        parents.map_or_else(|| stock_label(facts, batch), name)
    };
    match by {
        Grouping::Tray => facts
            .code_of(Thing::Batch, batch.id)
            .unwrap_or_default()
            .to_owned(),
        Grouping::Lot => lots_label(facts, batch),
        Grouping::Cross => stock_label(facts, batch),
        Grouping::Mother => of_parents(&|(mother, _)| facts.label_of_plant(mother)),
        Grouping::Father => of_parents(&|(_, father)| facts.label_of_plant(father)),
        Grouping::Direction => of_parents(&|pair| pair_label(facts, pair)),
        Grouping::Species => of_parents(&|pair| species_label(&species_pair(facts, pair))),
        Grouping::Year => batch.day.year().to_string(),
        Grouping::Age => age_label(facts, batch),
    }
}

/// The lots of a tray: `X1/1`, `X1/1 + X1/2`, `X1, no lot recorded`.
fn lots_label(facts: &Facts, batch: &BatchRow) -> String {
    let draws = facts.batch_seed.iter();
    let lots: Vec<String> = draws
        .filter(|draw| draw.batch_id == batch.id)
        .map(|draw| facts.lot_label(draw.lot_id))
        .collect();
    if lots.is_empty() {
        format!("{}, no lot recorded", stock_label(facts, batch))
    } else {
        lots.join(" + ")
    }
}

/// How old the seed of a tray was when sown, by its oldest lot: `0 to 1 years old`.
fn age_label(facts: &Facts, batch: &BatchRow) -> String {
    let ages = sown_lots(facts, batch).into_iter().map(|lot| lot.age_days);
    match ages.max() {
        None => "no lot recorded".to_owned(),
        Some(days) => {
            let years = days.max(0) / 365;
            format!("{years} to {} years old", years + 1)
        }
    }
}
