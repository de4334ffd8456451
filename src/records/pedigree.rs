//! The descent of plants and seed as the ledger has it, ready for names of generations, kinship and Purdy's notation.
//!
//! A [`Lineage`] holds what was asked about and every ancestor on record, parents before offspring. It reads rows
//! and starting beliefs and no looks; `pedigree` asks, and the report puts it into words.

use std::collections::HashMap;

use super::assumptions::Assumptions;
use super::descent::{fixed_since, likely_parents};
use super::facts::Facts;
use super::rows::{PlantKind, PlantRow};
use crate::genetics::generation::{Generation, ParentFixed, Step, generations};
use crate::genetics::kinship::{Descent, DescentError, Kinship, Member};
use crate::genetics::purdy::Pedigree;

/// What a pedigree is asked of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kin {
    /// A plant by its number.
    Plant(i64),
    /// The seed of a mother and a father; of one plant selfed where both are the same.
    Seed(i64, i64),
    /// The parent of a plant that is not of the ledger.
    Stranger(i64),
}

/// One plant, or the seed asked about, among its ancestors.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Relative {
    /// What it is.
    pub kin: Kin,
    /// Mother and father as places in the lineage.
    pub parents: Option<(usize, usize)>,
    /// Its kind; seed counts as seedlings, a stranger as a single plant.
    pub kind: PlantKind,
}

impl Relative {
    /// Whether names of generations begin with it: a line or packet whatever it came from, and whatever has no
    /// parents on record.
    #[must_use]
    pub const fn is_parent(&self) -> bool {
        self.parents.is_none() || matches!(self.kind, PlantKind::Line | PlantKind::Packet)
    }

    /// Whether it breeds true, by its kind: a line is taken to, of others nobody knows, and the offspring of a
    /// cross does not.
    #[must_use]
    pub const fn fixed(&self) -> ParentFixed {
        match self.kind {
            PlantKind::Line => ParentFixed::Yes,
            _ if self.parents.is_some() => ParentFixed::No,
            _ => ParentFixed::Unknown,
        }
    }
}

/// Why a lineage cannot be followed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LineageError {
    /// A plant that descends from itself.
    #[error("plant number {0} is recorded as its own ancestor")]
    Ring(i64),
    /// Too many plants at once.
    #[error(transparent)]
    Descent(#[from] DescentError),
}

/// Plants and seed with all their ancestors, parents first.
#[derive(Debug, Clone, PartialEq)]
pub struct Lineage {
    relatives: Vec<Relative>,
    descent: Descent,
    /// The places of what was asked about, in the order asked.
    pub asked: Vec<usize>,
}

/// The most names that are written out in Purdy's notation.
pub const MOST_NAMES: u64 = 64;

impl Lineage {
    /// Follows the descent of plants and seed back to their founders.
    ///
    /// # Errors
    /// [`LineageError::Ring`] where a plant descends from itself, or [`LineageError::Descent`] where a starting
    /// belief is no probability.
    pub fn of(facts: &Facts, beliefs: &Assumptions, asked: &[Kin]) -> Result<Self, LineageError> {
        let mut lineage = Self {
            relatives: Vec::new(),
            descent: Descent::default(),
            asked: Vec::new(),
        };
        let mut places: HashMap<Kin, usize> = HashMap::new();
        for kin in asked {
            if matches!(kin, Kin::Seed(..)) {
                // Two seeds of one cross are sibs, not one plant.
                places.remove(kin);
            }
            lineage.follow(facts, beliefs, *kin, &mut places)?;
            lineage.asked.push(places[kin]);
        }
        Ok(lineage)
    }

    /// Enters a plant after its ancestors.
    fn follow(
        &mut self,
        facts: &Facts,
        beliefs: &Assumptions,
        start: Kin,
        places: &mut HashMap<Kin, usize>,
    ) -> Result<(), LineageError> {
        // Plants on the way up; one that is met again below itself is in a ring.
        let mut way = vec![start];
        while let Some(kin) = way.last().copied() {
            let parents = parents_of_kin(facts, kin);
            let above = parents.into_iter().flat_map(|(m, f)| [m, f]);
            let missing = above
                .into_iter()
                .find(|parent| !places.contains_key(parent));
            match missing {
                Some(parent) if way.contains(&parent) => {
                    let (Kin::Plant(id) | Kin::Seed(id, _) | Kin::Stranger(id)) = parent;
                    return Err(LineageError::Ring(id));
                }
                Some(parent) => way.push(parent),
                None => {
                    way.pop();
                    if !places.contains_key(&kin) {
                        let place = self.enter(facts, beliefs, kin, parents, places)?;
                        places.insert(kin, place);
                    }
                }
            }
        }
        Ok(())
    }

    fn enter(
        &mut self,
        facts: &Facts,
        beliefs: &Assumptions,
        kin: Kin,
        parents: Option<(Kin, Kin)>,
        places: &HashMap<Kin, usize>,
    ) -> Result<usize, LineageError> {
        let row = row_of(facts, kin);
        let parents = parents.map(|(mother, father)| (places[&mother], places[&father]));
        let kind = match kin {
            Kin::Stranger(_) => PlantKind::Single,
            _ => row.map_or(PlantKind::Seedling, |row| row.kind),
        };
        self.relatives.push(Relative { kin, parents, kind });
        let fixed = row.map_or(0.0, |row| fixed_since(facts, beliefs, row));
        Ok(self.descent.push(Member { parents, fixed })?)
    }

    /// Everyone in it, parents first.
    #[must_use]
    pub fn relatives(&self) -> &[Relative] {
        &self.relatives
    }

    /// The kinship of every two.
    ///
    /// # Errors
    /// [`DescentError::TooMany`] with the size.
    pub fn kinship(&self) -> Result<Kinship, DescentError> {
        self.descent.kinship()
    }

    /// The shares of the founders in one of them.
    #[must_use]
    pub fn founder_shares(&self, place: usize) -> Vec<(usize, f64)> {
        self.descent.founder_shares(place)
    }

    /// The generation of each.
    #[must_use]
    pub fn generations(&self) -> Vec<Generation> {
        let steps: Vec<Step> = self.relatives.iter().map(step).collect();
        generations(&steps)
    }

    /// The generation of the cross that a line or packet came out of.
    #[must_use]
    pub fn out_of(&self, place: usize) -> Option<Generation> {
        let relative = &self.relatives[place];
        let (mother, father) = relative.parents.filter(|_| relative.is_parent())?;
        let mut steps: Vec<Step> = self.relatives[..place].iter().map(step).collect();
        steps.push(Step::Offspring(mother, father));
        generations(&steps).pop()
    }

    /// One of them in Purdy's notation, back to lines, packets and founders, which stand by their `name`; a self is
    /// the plant selfed. Nothing for a founder, or where more than [`MOST_NAMES`] names would stand in it.
    #[must_use]
    pub fn purdy(&self, place: usize, name: impl Fn(usize) -> String) -> Option<Pedigree> {
        let parents = self.relatives[place].parents?;
        let mut names: Vec<u64> = Vec::with_capacity(place);
        for relative in &self.relatives[..place] {
            names.push(match relative.parents {
                Some((mother, father)) if !relative.is_parent() => {
                    sum_of(names[mother], names[father], mother == father)
                }
                _ => 1,
            });
        }
        let (mother, father) = parents;
        if sum_of(names[mother], names[father], mother == father) > MOST_NAMES {
            return None;
        }
        Some(self.written(parents, &name))
    }

    fn written(
        &self,
        (mother, father): (usize, usize),
        name: &impl Fn(usize) -> String,
    ) -> Pedigree {
        let side = |place: usize| match self.relatives[place].parents {
            Some(parents) if !self.relatives[place].is_parent() => self.written(parents, name),
            _ => Pedigree::named(name(place)),
        };
        if mother == father {
            side(mother)
        } else {
            Pedigree::cross(side(mother), side(father))
        }
    }
}

/// Names on two sides of a slash, or of a plant selfed.
const fn sum_of(mother: u64, father: u64, selfed: bool) -> u64 {
    if selfed {
        mother
    } else {
        mother.saturating_add(father)
    }
}

fn step(relative: &Relative) -> Step {
    match relative.parents {
        Some((mother, father)) if !relative.is_parent() => Step::Offspring(mother, father),
        _ => Step::Parent,
    }
}

fn row_of(facts: &Facts, kin: Kin) -> Option<&PlantRow> {
    match kin {
        Kin::Plant(id) => facts.plant.get(id),
        Kin::Seed(..) | Kin::Stranger(_) => None,
    }
}

/// The likely parents of a plant, an unknown one among them where only the other is known; those of seed.
fn parents_of_kin(facts: &Facts, kin: Kin) -> Option<(Kin, Kin)> {
    match kin {
        Kin::Plant(id) => match likely_parents(facts, facts.plant.get(id)?) {
            (None, None) => None,
            (mother, father) => {
                let place = |parent: Option<i64>| parent.map_or(Kin::Stranger(id), Kin::Plant);
                Some((place(mother), place(father)))
            }
        },
        Kin::Seed(mother, father) => Some((Kin::Plant(mother), Kin::Plant(father))),
        Kin::Stranger(_) => None,
    }
}
