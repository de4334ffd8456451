//! In words, what a seedling was kept as that is not what its label says.

use serde::Serialize;

use super::numbers::percent;
use super::recorded::RecordedAnswer;
use super::text::listed;
use super::{Answer, Page};
use crate::diagnosis::kept::Kept;
use crate::records::admit::{Admitted, ParentChance, Subject};
use crate::records::descent::{adoption_of, label_parents};
use crate::records::facts::Facts;
use crate::records::parentage::in_words;
use crate::records::rows::{AdoptionRow, Thing};

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
        let parents = in_words(self.mother.as_deref(), self.father.as_deref());
        format!("{parents}, {} when adopted on {}", self.sureness(), self.on)
    }

    /// `an accident, 82 % sure`
    #[must_use]
    pub fn sureness(&self) -> String {
        sureness(self.chance)
    }
}

/// Less likely than this is spoken against by the records.
const HARDLY: f64 = 0.001;

/// A chance that was worked out to four digits: what is nothing there is little.
#[must_use]
pub fn chance_words(p: f64) -> String {
    percent(p.max(f64::MIN_POSITIVE))
}

fn chance_of(row: &AdoptionRow) -> Option<f64> {
    row.chance.as_ref().and_then(|text| text.parse().ok())
}

fn sureness(chance: Option<f64>) -> String {
    match chance {
        Some(p) if p < HARDLY => format!(
            "an accident; the records speak against it ({})",
            chance_words(p)
        ),
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
    let parents = in_words(mother.as_deref(), father.as_deref());
    match batch
        .cross_id
        .and_then(|id| facts.code_of(Thing::Cross, id))
    {
        Some(code) => format!("{code} ({parents})"),
        None => parents,
    }
}

/// What a seedling is kept as, with how sure that was: `CW x NL (an accident, 82 % sure)`.
#[must_use]
pub fn adopted_as(facts: &Facts, row: &AdoptionRow) -> String {
    let label = |id: Option<i64>| id.map(|id| facts.label_of_plant(id));
    let (mother, father) = (label(row.mother_id), label(row.father_id));
    let parents = in_words(mother.as_deref(), father.as_deref());
    format!("{parents} ({})", sureness(chance_of(row)))
}

/// What a seedling of a tray is kept as, in a few words: `kept as NT, CW x NL, an accident`.
#[must_use]
pub fn kept_words(kept: &Kept) -> String {
    let parents = in_words(kept.mother.as_deref(), kept.father.as_deref());
    match &kept.code {
        Some(code) => format!("kept as {code}, {parents}, an accident"),
        None => format!("kept as {parents}, an accident"),
    }
}

/// What a seedling of a tray is kept as, as JSON has it.
#[derive(Serialize)]
pub(super) struct KeptJson<'a> {
    code: Option<&'a str>,
    mother: Option<&'a str>,
    father: Option<&'a str>,
}

impl<'a> KeptJson<'a> {
    pub(super) fn of(kept: &'a Kept) -> Self {
        Self {
            code: kept.code.as_deref(),
            mother: kept.mother.as_deref(),
            father: kept.father.as_deref(),
        }
    }
}

/// Parents that a seedling may have.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OddsLine {
    /// The mother; nothing where she is not of the ledger.
    pub mother: Option<String>,
    /// The father, likewise; the mother again for a self.
    pub father: Option<String>,
    /// Their probability.
    pub p: f64,
}

/// The answer of `adopt`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AdoptedAnswer {
    /// What was recorded.
    #[serde(flatten)]
    pub recorded: RecordedAnswer,
    /// As what it is kept.
    #[serde(flatten)]
    pub accident: Option<Accident>,
    /// Everything that it may be, the likeliest first.
    pub odds: Vec<OddsLine>,
}

impl AdoptedAnswer {
    /// The answer to an adoption, from the facts as they are afterwards.
    #[must_use]
    pub fn new(entry: i64, facts: &Facts, admitted: &Admitted) -> Self {
        let (adoption, odds) = match &admitted.subject {
            Subject::Adoption { adoption, odds } => {
                (facts.adoption.get(*adoption), odds.as_slice())
            }
            _ => (None, [].as_slice()),
        };
        let is_own = |odd: &ParentChance| {
            adoption.is_some_and(|row| (row.mother_id, row.father_id) == (odd.mother, odd.father))
        };
        let label = |id: Option<i64>| id.map(|id| facts.label_of_plant(id));
        let line = |odd: &ParentChance| OddsLine {
            mother: label(odd.mother),
            father: label(odd.father),
            p: odd.chance.parse().unwrap_or(0.0),
        };
        let others: Vec<OddsLine> = odds.iter().filter(|odd| !is_own(odd)).map(line).collect();
        let mut odds: Vec<OddsLine> = odds.iter().map(line).collect();
        odds.sort_by(|one, other| other.p.total_cmp(&one.p));
        Self {
            recorded: RecordedAnswer::new(entry, facts, admitted).meaning(other_parents(&others)),
            accident: adoption.and_then(|row| Accident::of(facts, row.plant_id)),
            odds,
        }
    }
}

impl Answer for AdoptedAnswer {
    fn words(&self, page: Page) -> String {
        self.recorded.words(page)
    }
}

/// The other parents that a seedling just adopted may have, in words; nothing where none were worked out.
fn other_parents(others: &[OddsLine]) -> Option<String> {
    let said: Vec<String> = others
        .iter()
        .map(|one| {
            let parents = in_words(one.mother.as_deref(), one.father.as_deref());
            format!("{parents} {}", chance_words(one.p))
        })
        .collect();
    (!said.is_empty()).then(|| format!("it may also be {}.", listed(&said, "or")))
}
