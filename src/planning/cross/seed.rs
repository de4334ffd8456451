//! How much of the seed of two plants is as wanted, generation by generation.
//!
//! Linkage groups are handed on independently of one another, so shares multiply over parts of what is wanted that have
//! no group in common. F1 plants are taken as they come, and seed of many of them is mixed. Names of plants are not known
//! here.

use std::collections::HashMap;

use super::enough::{Spread, gathered, times};
use super::field::{Field, Part};
use super::stock::Flock;
use crate::diagnosis::group::{LinkageGroup, Side};

/// What is done with a mother and a father.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Scheme {
    /// One plant selfed.
    Selfed,
    /// The two crossed.
    First,
    /// The F1 selfed.
    Second,
    /// The F1 crossed with the mother's pollen.
    BackToMother,
    /// The F1 crossed with the father's pollen.
    BackToFather,
    /// The F1's pollen on the mother, who makes none.
    OntoMother,
}

/// How many schemes there are.
const SCHEMES: usize = 6;

impl Scheme {
    /// Whether the seed of its last generation is by another plant's pollen.
    #[must_use]
    pub const fn is_crossed(self) -> bool {
        !matches!(self, Self::Selfed | Self::Second)
    }

    /// Whether the mother herself bears the seed of its last generation, not an F1 plant.
    #[must_use]
    pub const fn is_borne_by_mother(self) -> bool {
        matches!(self, Self::Selfed | Self::First | Self::OntoMother)
    }

    /// How many generations of seed are sown for it, one a season.
    #[must_use]
    pub const fn seasons(self) -> u64 {
        match self {
            Self::Selfed | Self::First => 1,
            _ => 2,
        }
    }
}

/// A genotype or a mixture of some at one part, for a mother and a father.
type Key = (usize, bool, usize, usize);

/// Shares worked out so far.
pub(super) struct Shares<'f> {
    field: &'f Field,
    points: HashMap<Key, [f64; SCHEMES]>,
    mixed: HashMap<Key, Vec<Spread>>,
}

impl<'f> Shares<'f> {
    pub(super) fn new(field: &'f Field) -> Self {
        Self {
            field,
            points: HashMap::new(),
            mixed: HashMap::new(),
        }
    }

    /// The shares of seed as wanted, over what the two plants may be.
    pub(super) fn spread(&mut self, scheme: Scheme, mother: &Flock, father: &Flock) -> Spread {
        let mut spread: Spread = vec![(1.0, 1.0)];
        let pairs = mother.mixtures.iter().zip(&father.mixtures);
        for (part, (she, he)) in pairs.enumerate() {
            let key = (part, mother.is_sterile, *she, *he);
            if !self.mixed.contains_key(&key) {
                let made = self.of_mixtures(key);
                self.mixed.insert(key, made);
            }
            spread = times(&spread, &self.mixed[&key][scheme as usize]);
        }
        spread
    }

    fn of_mixtures(&mut self, (part, is_sterile, mother, father): Key) -> Vec<Spread> {
        let field = self.field;
        let mut found = vec![Spread::new(); SCHEMES];
        for (she, p) in field.mixture(mother) {
            for (he, q) in field.mixture(father) {
                let shares = self.of_genotypes((part, is_sterile, *she, *he));
                for (spread, share) in found.iter_mut().zip(shares).skip(1) {
                    spread.push((share, p * q));
                }
            }
            let selfed = self.of_genotypes((part, is_sterile, *she, *she))[0];
            found[0].push((selfed, *p));
        }
        found.into_iter().map(gathered).collect()
    }

    fn of_genotypes(&mut self, key: Key) -> [f64; SCHEMES] {
        let (part, is_sterile, mother, father) = key;
        let part = &self.field.parts[part];
        *(self.points.entry(key))
            .or_insert_with(|| shares(part, mother, father).map(|by| part.share(&by, is_sterile)))
    }
}

/// The genotypes of the seed of two plants, scheme by scheme and linkage group by linkage group.
pub(super) fn shares(part: &Part, mother: usize, father: usize) -> [Vec<Vec<f64>>; SCHEMES] {
    let digits = [mother, father].map(|joint| part.space.digits(joint));
    let mut found: [Vec<Vec<f64>>; SCHEMES] = Default::default();
    for (at, unit) in part.space.units.iter().enumerate() {
        let seed = seed_at(unit, digits[0][at], digits[1][at]);
        for (list, seed) in found.iter_mut().zip(seed) {
            list.push(seed);
        }
    }
    found
}

fn seed_at(unit: &LinkageGroup, mother: usize, father: usize) -> [Vec<f64>; SCHEMES] {
    let grains = |genotype: usize, side: Side| unit.gametes(genotype, side);
    let hybrid = unit.union(&grains(mother, Side::Egg), &grains(father, Side::Pollen));
    let eggs = unit.mean_gametes(&hybrid, Side::Egg);
    let pollen = unit.mean_gametes(&hybrid, Side::Pollen);
    [
        unit.self_of(mother),
        hybrid.clone(),
        unit.selfed(&hybrid),
        unit.union(&eggs, &grains(mother, Side::Pollen)),
        unit.union(&eggs, &grains(father, Side::Pollen)),
        unit.union(&grains(mother, Side::Egg), &pollen),
    ]
}
