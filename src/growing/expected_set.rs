//! How often flowers of a pair of plants are to be expected to set: the published rates of their species, and the ledger's
//! own flowers of such pairs.
//!
//! Why they did not set is not known here. Called by [`no_set`](super::no_set) and [`same_days`](super::same_days).

use std::collections::HashMap;

use super::grouping::species_pair;
use super::sets::{Flowers, sum};
use crate::genetics::set_rates::{SetRates, self_rates, set_rates};
use crate::genetics::species::Crossability;
use crate::records::facts::Facts;
use crate::records::species::Crossing;
use crate::stats::two_by_two::Part;

/// The ledger's own flowers are reckoned with from so many on (design choice).
const OWN_FROM: u64 = 5;

/// Mother and father.
pub(super) type Pair = (i64, i64);

/// What is known of a pair before any of its flowers is looked at.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Kind {
    pub(super) species: [Option<String>; 2],
    pub(super) crossability: Crossability,
    pub(super) rates: Option<SetRates>,
    is_self: bool,
}

impl Kind {
    fn of(facts: &Facts, pair: Pair) -> Self {
        let species = species_pair(facts, pair);
        let [mother, father] = species
            .each_ref()
            .map(|one| one.as_deref().unwrap_or_default());
        let crossability = Crossing::of(facts, mother, father).crossability;
        let is_self = pair.0 == pair.1;
        let rates = match is_self {
            true => self_rates(mother),
            false => set_rates(crossability, mother, father),
        };
        Self {
            crossability,
            rates,
            is_self,
            species,
        }
    }

    /// Whether both are selfs, or both crosses, of the same species, mother first; one that is not known is like none.
    fn is_like(&self, other: &Self) -> bool {
        self.species.iter().all(Option::is_some)
            && (self.is_self, &self.species) == (other.is_self, &other.species)
    }
}

/// The ledger's own flowers of pairs like one, without its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Own {
    /// Their pods.
    pub part: Part,
    /// Flowers left out, being of directions of which none set: whether those can is itself in question.
    pub left_out: u64,
}

impl Own {
    /// The rate they speak for: the mean of Beta(1 + k, 1 + n - k), Bayes' rule from the uniform prior.
    #[must_use]
    pub fn rate(&self) -> f64 {
        mean_rate(self.part)
    }
}

fn mean_rate(part: Part) -> f64 {
    (part.k as f64 + 1.0) / (part.n as f64 + 2.0)
}

/// All flowers, each pair with what is known of it.
pub(super) struct Pairs<'f> {
    pub(super) facts: &'f Facts,
    pub(super) flowers: &'f [Flowers],
    kinds: HashMap<Pair, Kind>,
}

impl<'f> Pairs<'f> {
    pub(super) fn new(facts: &'f Facts, flowers: &'f [Flowers]) -> Self {
        let mut kinds = HashMap::new();
        for (mother, father) in flowers.iter().map(|one| one.parents) {
            for pair in [(mother, father), (father, mother)] {
                kinds.entry(pair).or_insert_with(|| Kind::of(facts, pair));
            }
        }
        Self {
            facts,
            flowers,
            kinds,
        }
    }

    /// What is known of a pair with flowers, or of the same two the other way round.
    pub(super) fn kind(&self, pair: Pair) -> &Kind {
        self.kinds
            .get(&pair)
            .expect("every pair with flowers is known, both ways round")
    }

    /// The flowers of a pair.
    pub(super) fn of(&self, pair: Pair) -> impl Iterator<Item = &'f Flowers> + use<'f> {
        self.flowers.iter().filter(move |one| one.parents == pair)
    }

    /// Some flowers of pairs like one, where they are enough: without its own, and without directions of which none set.
    pub(super) fn own<'a>(
        &self,
        pair: Pair,
        flowers: impl Iterator<Item = &'a Flowers>,
    ) -> Option<Own> {
        let kind = self.kind(pair);
        let mut parts: HashMap<Pair, Part> = HashMap::new();
        for one in flowers {
            if one.parents != pair && self.kind(one.parents).is_like(kind) {
                let part = parts.entry(one.parents).or_insert(Part { k: 0, n: 0 });
                *part = Part::new(part.k + one.part.k, part.n + one.part.n);
            }
        }
        let (mut part, mut left_out) = (Part { k: 0, n: 0 }, 0);
        for one in parts.into_values() {
            match one.k {
                0 => left_out += one.n,
                _ => part = Part::new(part.k + one.k, part.n + one.n),
            }
        }
        (part.n >= OWN_FROM).then_some(Own { part, left_out })
    }

    /// The lowest and the highest rate to expect of a pair by some flowers: those of the pair itself, where they are
    /// enough; else as published, held down by those of pairs like it.
    pub(super) fn expected(
        &self,
        pair: Pair,
        flowers: impl Iterator<Item = &'f Flowers> + Clone,
    ) -> Option<[f64; 2]> {
        let itself = sum(flowers.clone().filter(|one| one.parents == pair));
        if itself.n >= OWN_FROM {
            return Some([mean_rate(itself); 2]);
        }
        let rates = self.kind(pair).rates?;
        Some([lowest(rates, self.own(pair, flowers)), rates.high])
    }
}

/// The lowest rate there is to reckon with.
pub(super) fn lowest(rates: SetRates, own: Option<Own>) -> f64 {
    own.map_or(rates.low, |own| rates.low.min(own.rate()))
}
