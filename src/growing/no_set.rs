//! What it proves where none of a pair's flowers set: the exact chance of it at published rates, what else was in flower
//! then, how the other direction did.
//!
//! Whether it was hot or cold is not in the ledger; the report asks. Called by [`sets`](super::sets).

use super::grouping::{pair_label, species_label, species_pair};
use super::sets::{Flowers, sum};
use crate::genetics::set_rates::{SetRates, self_rates, set_rates};
use crate::genetics::species::Crossability;
use crate::records::facts::Facts;
use crate::records::species::{Crossing, species_behind};
use crate::stats::two_by_two::Part;

/// Flowers so many days before or after had the same weather (design choice).
const SAME_WEATHER_DAYS: i64 = 7;

/// Under this chance, none of so many flowers is more than bad luck.
pub const SURPRISE: f64 = 0.05;

/// The ledger's own flowers within a species are reckoned with from so many on (design choice).
const OWN_FROM: u64 = 5;

/// What to do where none set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Advice {
    /// None of so many is no surprise yet: so many more flowers would make it one.
    GoOn(u64),
    /// Even at the lowest rate it is more than bad luck, and the other direction is open.
    OtherWay,
    /// Both directions failed beyond bad luck.
    Stop,
    /// Seed of such a pair is not expected, whatever the number.
    NotExpected,
    /// Nothing to reckon with: the species are not recorded, or nobody published a rate.
    NoRate,
}

/// A direction of which none set.
#[derive(Debug, Clone)]
pub struct Zero {
    /// Mother and father.
    pub pair: String,
    /// The other way round.
    pub back: String,
    /// The code of one of its crosses.
    pub cross: String,
    /// Flowers whose end is known.
    pub flowers: u64,
    /// The species of mother and father, as a group is named.
    pub species: String,
    /// How readily they cross.
    pub crossability: Crossability,
    /// The same the other way round.
    pub crossability_back: Crossability,
    /// Rates to reckon with.
    pub rates: Option<SetRates>,
    /// `(1 - p)^n` at the lowest and the highest rate.
    pub chances: Option<[f64; 2]>,
    /// Flowers in all without a pod that would be more than bad luck at the lowest and the highest rate.
    pub enough: Option<[u64; 2]>,
    /// Pods of the ledger's other flowers within a species, where this is such a pair and they are enough.
    pub own: Option<Part>,
    /// Parents that descend from several species, and from which.
    pub hybrids: Vec<(String, Vec<String>)>,
    /// Pods of flowers the other way round.
    pub other_way: Part,
    /// Pods of the same mother's other flowers within the days of the same weather.
    pub same_mother: Part,
    /// Pods of all other flowers within them.
    pub same_weather: Part,
    /// Whether a day of pollination is known, so that other flowers can be set beside.
    pub dated: bool,
    /// What to do.
    pub advice: Advice,
}

/// The chance that none of `n` flowers sets where each does with `rate`: `(1 - rate)^n`.
#[must_use]
pub fn none_of(rate: f64, n: u64) -> f64 {
    (1.0 - rate).powf(n as f64)
}

/// The fewest flowers of which none setting has a chance under [`SURPRISE`] at a rate.
#[must_use]
pub fn enough_for(rate: f64) -> u64 {
    let flowers = (SURPRISE.ln() / (-rate).ln_1p()).floor() as u64;
    (flowers.saturating_sub(1)..)
        .find(|n| none_of(rate, *n) < SURPRISE)
        .expect("the chance falls below any bound")
}

/// The directions asked about of which none set, in the order of the ledger.
pub(super) fn zeros(facts: &Facts, all: &[Flowers], asked: &[&Flowers]) -> Vec<Zero> {
    let mut pairs: Vec<(i64, i64)> = Vec::new();
    for flowers in asked {
        if !pairs.contains(&flowers.parents) {
            pairs.push(flowers.parents);
        }
    }
    let none = |pair: &(i64, i64)| {
        let part = sum(all.iter().filter(|flowers| flowers.parents == *pair));
        part.n > 0 && part.k == 0
    };
    pairs
        .into_iter()
        .filter(none)
        .map(|pair| zero(facts, all, pair))
        .collect()
}

fn zero(facts: &Facts, all: &[Flowers], pair: (i64, i64)) -> Zero {
    let back = (pair.1, pair.0);
    let own: Vec<&Flowers> = all.iter().filter(|one| one.parents == pair).collect();
    let n = sum(own.iter().copied()).n;
    let species = species_pair(facts, pair);
    let [mother, father] = species
        .each_ref()
        .map(|one| one.as_deref().unwrap_or_default());
    let of = |mother, father| Crossing::of(facts, mother, father).crossability;
    let (crossability, crossability_back) = (of(mother, father), of(father, mother));
    let selfed = back == pair;
    let rates = match selfed {
        true => self_rates(mother),
        false => set_rates(crossability, mother, father),
    };
    let rates_back = match selfed {
        true => rates,
        false => set_rates(crossability_back, father, mother),
    };
    let own_rate = match crossability {
        Crossability::SameSpecies => within_species(facts, all, pair),
        _ => None,
    };
    let other_way = if back == pair {
        Part { k: 0, n: 0 }
    } else {
        sum(all.iter().filter(|one| one.parents == back))
    };
    let near = |other: &&Flowers| {
        other.parents != pair
            && own.iter().any(|one| match one.day.zip(other.day) {
                Some((a, b)) => a.since(b).abs() <= SAME_WEATHER_DAYS,
                None => false,
            })
    };
    Zero {
        pair: pair_label(facts, pair),
        back: pair_label(facts, back),
        cross: own.first().map(|one| one.cross.clone()).unwrap_or_default(),
        flowers: n,
        species: species_label(&species),
        crossability,
        crossability_back,
        rates,
        chances: rates.map(|rates| [rates.low, rates.high].map(|rate| none_of(rate, n))),
        enough: rates.map(|rates| [rates.low, rates.high].map(enough_for)),
        own: own_rate,
        hybrids: hybrids(facts, pair),
        other_way,
        same_mother: sum(all
            .iter()
            .filter(near)
            .filter(|one| one.parents.0 == pair.0)),
        same_weather: sum(all.iter().filter(near)),
        dated: own.iter().any(|one| one.day.is_some()),
        advice: advise(
            crossability,
            [rates, rates_back].map(|rates| least(rates, own_rate)),
            n,
            other_way,
            selfed,
        ),
    }
}

/// Pods of the ledger's flowers within a species but for those of one pair, where they are enough.
fn within_species(facts: &Facts, all: &[Flowers], pair: (i64, i64)) -> Option<Part> {
    let is_within = |(mother, father): (i64, i64)| {
        Crossing::of_plants(facts, mother, father).is_within_species()
    };
    let others = all.iter().filter(|one| one.parents != pair);
    let part = sum(others.filter(|one| is_within(one.parents)));
    (part.n >= OWN_FROM).then_some(part)
}

/// The rate of the grower's own flowers: the mean of Beta(1 + k, 1 + n - k), Bayes' rule from the uniform prior.
#[must_use]
pub fn own_rate(part: Part) -> f64 {
    (part.k as f64 + 1.0) / (part.n as f64 + 2.0)
}

/// The lowest rate there is to reckon with.
fn least(rates: Option<SetRates>, own: Option<Part>) -> Option<f64> {
    let own = own.map_or(f64::INFINITY, own_rate);
    rates.map(|rates| rates.low.min(own))
}

/// Which parents of a pair descend from several species.
fn hybrids(facts: &Facts, (mother, father): (i64, i64)) -> Vec<(String, Vec<String>)> {
    let mut plants = vec![mother, father];
    plants.dedup();
    let of = |plant: i64| (facts.label_of_plant(plant), species_behind(facts, plant));
    let all = plants.into_iter().map(of);
    all.filter(|(_, species)| species.len() > 1).collect()
}

/// What to do where none of `n` flowers set, by the lowest rate of the pair and of the other way round.
fn advise(
    crossability: Crossability,
    [low, low_back]: [Option<f64>; 2],
    n: u64,
    other_way: Part,
    selfed: bool,
) -> Advice {
    let Some(low) = low else {
        return match crossability {
            Crossability::NotExpected => Advice::NotExpected,
            _ => Advice::NoRate,
        };
    };
    if none_of(low, n) >= SURPRISE {
        return Advice::GoOn(enough_for(low) - n);
    }
    let is_beyond_luck = |low| none_of(low, other_way.n) < SURPRISE;
    let other_failed = other_way.k == 0 && low_back.is_some_and(is_beyond_luck);
    if selfed || other_failed {
        Advice::Stop
    } else {
        Advice::OtherWay
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 0.911^32 = 0.0506 and 0.911^33 = 0.0461; 0.6^5 = 0.078 and 0.6^6 = 0.047; 0.25^2 = 0.0625.
    #[test]
    fn enough_flowers_are_counted_exactly() {
        assert_eq!(enough_for(0.089), 33);
        assert_eq!(enough_for(0.40), 6);
        assert_eq!(enough_for(0.75), 3);
        assert_eq!(enough_for(0.65), 3);
        assert!((none_of(0.4, 6) - 0.046_656).abs() < 1e-12);
    }

    /// 33 flowers at 8.9 %, 19 at 14.6 %: the other way is judged by its own rate.
    #[test]
    fn each_direction_is_judged_by_its_own_rate() {
        let back = |n: u64| Part { k: 0, n };
        let usual = |n: u64| {
            let lows = [Some(0.089), Some(0.146)];
            advise(Crossability::Usual, lows, 40, back(n), false)
        };
        assert_eq!(usual(18), Advice::OtherWay);
        assert_eq!(usual(19), Advice::Stop);
        let open = advise(
            Crossability::Usual,
            [Some(0.089), None],
            40,
            back(99),
            false,
        );
        assert_eq!(open, Advice::OtherWay, "nobody has published the other way");
    }
}
