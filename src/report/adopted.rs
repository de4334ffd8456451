//! In words, what a seedling was kept as that is not what its label says.

use serde::Serialize;

use super::numbers::percent;
use super::text::listed;
use crate::records::admit::Subject;
use crate::records::descent::{adoption_of, label_parents};
use crate::records::facts::Facts;
use crate::records::parentage::{Odd, Parentage};
use crate::records::rows::{AdoptionRow, Thing};
use crate::records::target::Target;

/// What a seedling was kept as that is not what its label says.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Accident {
    /// Its likely mother; nothing where she is not of the ledger.
    pub mother: Option<String>,
    /// Its likely father; the mother again for a self.
    pub father: Option<String>,
    /// How likely these parents were when it was kept; nothing where that was not worked out.
    pub chance: Option<f64>,
    /// The day it was kept.
    pub on: String,
    /// The cross or packet on its label.
    pub label: String,
}

impl Accident {
    /// Of a plant; nothing where it was kept as labelled, or is no seedling.
    #[must_use]
    pub fn of(facts: &Facts, plant: i64) -> Option<Self> {
        let row = adoption_of(facts, plant)?;
        let label = |id: Option<i64>| id.map(|id| facts.label_of_plant(id));
        Some(Self {
            mother: label(row.mother_id),
            father: label(row.father_id),
            chance: chance_of(row),
            on: row.day.to_string(),
            label: label_of(facts, plant),
        })
    }

    /// `CW x NL, an accident, 82 % sure when adopted on 2026-04-01`
    #[must_use]
    pub fn words(&self) -> String {
        let parents = parents(self.mother.as_deref(), self.father.as_deref());
        format!("{parents}, {} when adopted on {}", self.sureness(), self.on)
    }

    /// `an accident, 82 % sure`
    #[must_use]
    pub fn sureness(&self) -> String {
        sureness(self.chance)
    }
}

fn chance_of(row: &AdoptionRow) -> Option<f64> {
    row.chance.as_ref().and_then(|text| text.parse().ok())
}

fn sureness(chance: Option<f64>) -> String {
    match chance {
        Some(p) => format!("an accident, {} sure", percent(p)),
        None => "an accident, how sure not worked out".to_owned(),
    }
}

/// What stands on the label of a seedling: `X1 (CW x PB)`.
fn label_of(facts: &Facts, plant: i64) -> String {
    let row = facts.plant.get(plant);
    let Some(batch) = row.and_then(|row| facts.batch.get(row.batch_id?)) else {
        return String::new();
    };
    let pair = label_parents(facts, batch).unzip();
    let label = |id: Option<i64>| id.map(|id| facts.label_of_plant(id));
    let (mother, father) = (label(pair.0), label(pair.1));
    let parents = parents(mother.as_deref(), father.as_deref());
    match batch
        .cross_id
        .and_then(|id| facts.code_of(Thing::Cross, id))
    {
        Some(code) => format!("{code} ({parents})"),
        None => parents,
    }
}

/// `CW x NL`, `CW selfed`, `CW x unknown pollen`, `seed from elsewhere`.
#[must_use]
pub fn parents(mother: Option<&str>, father: Option<&str>) -> String {
    match (mother, father) {
        (Some(mother), Some(father)) if mother == father => format!("{mother} selfed"),
        (Some(mother), Some(father)) => format!("{mother} x {father}"),
        (Some(mother), None) => format!("{mother} x unknown pollen"),
        (None, _) => "seed from elsewhere".to_owned(),
    }
}

/// What a seedling is kept as, with how sure that was: `CW x NL (an accident, 82 % sure)`.
#[must_use]
pub fn adopted_as(facts: &Facts, row: &AdoptionRow) -> String {
    let label = |id: Option<i64>| id.map(|id| facts.label_of_plant(id));
    let (mother, father) = (label(row.mother_id), label(row.father_id));
    let parents = parents(mother.as_deref(), father.as_deref());
    format!("{parents} ({})", sureness(chance_of(row)))
}

/// The other parents that a seedling just adopted may have, in words; nothing where none were worked out.
#[must_use]
pub fn other_parents(facts: &Facts, subject: &Subject, odds: &[Odd]) -> Option<String> {
    let Subject::Adoption { adoption } = subject else {
        return None;
    };
    let row = facts.adoption.get(*adoption)?;
    let label = |id: Option<i64>| id.map_or_else(|| "_".to_owned(), |id| facts.label_of_plant(id));
    let own = match row.mother_id {
        None => "unknown-seed".to_owned(),
        mother => format!("{}/{}", label(mother), label(row.father_id)),
    };
    let others = odds.iter().filter(|odd| odd.of.to_string() != own);
    let said: Vec<String> = others
        .map(|odd| format!("{} {}", in_words(&odd.of), percent(odd.p())))
        .collect();
    (!said.is_empty()).then(|| format!("it may also be {}.", listed(&said, "or")))
}

fn in_words(of: &Parentage) -> String {
    let plain = |target: &Target| target.to_string();
    match of {
        Parentage::Pair(mother, father) => {
            parents(Some(&plain(mother)), father.as_ref().map(plain).as_deref())
        }
        Parentage::UnknownSeed => parents(None, None),
        other => other.to_string(),
    }
}
