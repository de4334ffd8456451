//! What became of pollinated flowers: pods, drops and those nobody spoke of, by direction, technique, week and others.
//!
//! Where none of a pair set, it says what that proves: the exact chance of it at published rates, what else was in
//! flower then, how the other direction did. Whether it was hot or cold is not in the ledger; the report asks.

use super::grouping::{pair_label, species_label, species_pair};
use crate::diagnosis::sources::Technique;
use crate::genetics::set_rates::{SetRates, set_rates};
use crate::genetics::species::Crossability;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{CrossRow, PollinationRow, Thing};
use crate::records::species::Crossing;
use crate::stats::two_by_two::Part;

/// Flowers so many days before or after had the same weather (design choice).
const SAME_WEATHER_DAYS: i64 = 7;

/// Under this chance, none of so many flowers is more than bad luck.
pub const SURPRISE: f64 = 0.05;

/// By what flowers are put together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SetBy {
    /// Which of two plants was the mother.
    Direction,
    /// How the flowers were treated.
    Technique,
    /// The week of the pollination.
    Week,
    /// The cross or self.
    Cross,
    /// The mother.
    Mother,
    /// The father.
    Father,
    /// The species of both.
    Species,
}

impl SetBy {
    /// The word it is typed by.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Direction => "direction",
            Self::Technique => "technique",
            Self::Week => "week",
            Self::Cross => "cross",
            Self::Mother => "mother",
            Self::Father => "father",
            Self::Species => "species",
        }
    }
}

/// The key of a group, in the order in which groups stand.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Key {
    /// By a name.
    Name(String),
    /// By how the flowers were treated.
    Technique(Technique),
    /// By a week, its Monday; nothing where the day is not known.
    Week(Option<Day>),
}

/// The flowers of one pollination.
#[derive(Debug, Clone)]
pub struct Flowers {
    /// The cross.
    pub cross_id: i64,
    /// Its code.
    pub cross: String,
    /// Mother and father.
    pub parents: (i64, i64),
    /// The day, where known.
    pub day: Option<Day>,
    /// How they were treated.
    pub technique: Technique,
    /// Pods of flowers whose end is known.
    pub part: Part,
    /// Flowers of whose end nobody spoke; nothing where the number of flowers is not recorded.
    pub open: Option<u64>,
}

/// Flowers put together.
#[derive(Debug, Clone, PartialEq)]
pub struct SetGroup {
    /// What they have in common.
    pub key: Key,
    /// Pollinations.
    pub pollinations: u64,
    /// Pods of flowers whose end is known.
    pub part: Part,
    /// Flowers of whose end nobody spoke.
    pub open: u64,
}

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

/// The answer.
#[derive(Debug, Clone)]
pub struct Sets {
    /// By what flowers were put together.
    pub by: SetBy,
    /// All asked about.
    pub total: SetGroup,
    /// The groups.
    pub groups: Vec<SetGroup>,
    /// Directions of which none set.
    pub zero: Vec<Zero>,
    /// Pollinations of whose flowers nobody spoke at all, with pods harvested of their cross.
    pub silent: Vec<(Flowers, u64)>,
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

fn flowers_of(facts: &Facts, cross: &CrossRow, row: &PollinationRow) -> Flowers {
    let whole = |count: Option<i64>| count.map_or(0, |n| u64::try_from(n).unwrap_or(0));
    let (pods, dropped) = (whole(row.pods), whole(row.dropped));
    let selfed = cross.mother_id == cross.father_id;
    Flowers {
        cross_id: cross.id,
        cross: facts
            .code_of(Thing::Cross, cross.id)
            .unwrap_or_default()
            .to_owned(),
        parents: (cross.mother_id, cross.father_id),
        day: row.day,
        technique: match (selfed, row.emasculated, row.covered) {
            (true, _, true) => Technique::SelfCovered,
            (true, _, false) => Technique::SelfOpen,
            (false, false, _) => Technique::NotEmasculated,
            (false, true, false) => Technique::Emasculated,
            (false, true, true) => Technique::Covered,
        },
        part: Part::new(pods, pods + dropped),
        open: row
            .flowers
            .map(|flowers| whole(Some(flowers)).saturating_sub(pods + dropped)),
    }
}

/// The Monday of a day's week.
fn monday(day: Day) -> Day {
    let some_monday = Day::new(2024, 1, 1).expect("1 January 2024 was a Monday");
    day.back(day.since(some_monday).rem_euclid(7))
}

fn key_of(facts: &Facts, flowers: &Flowers, by: SetBy) -> Key {
    let (mother, father) = flowers.parents;
    match by {
        SetBy::Direction => Key::Name(pair_label(facts, flowers.parents)),
        SetBy::Technique => Key::Technique(flowers.technique),
        SetBy::Week => Key::Week(flowers.day.map(monday)),
        SetBy::Cross => Key::Name(flowers.cross.clone()),
        SetBy::Mother => Key::Name(facts.label_of_plant(mother)),
        SetBy::Father => Key::Name(facts.label_of_plant(father)),
        SetBy::Species => Key::Name(species_label(&species_pair(facts, flowers.parents))),
    }
}

fn add(group: &mut SetGroup, flowers: &Flowers) {
    group.pollinations += 1;
    group.part = Part::new(group.part.k + flowers.part.k, group.part.n + flowers.part.n);
    group.open += flowers.open.unwrap_or(0);
}

fn empty(key: Key) -> SetGroup {
    SetGroup {
        key,
        pollinations: 0,
        part: Part { k: 0, n: 0 },
        open: 0,
    }
}

/// What became of the flowers of some crosses, up to a day.
#[must_use]
pub fn sets(facts: &Facts, crosses: &[i64], by: SetBy, on: Day) -> Sets {
    let all = all_flowers(facts, on);
    let asked: Vec<&Flowers> = all
        .iter()
        .filter(|flowers| crosses.contains(&flowers.cross_id))
        .collect();
    let mut total = empty(Key::Name("all".to_owned()));
    let mut groups: Vec<SetGroup> = Vec::new();
    for flowers in &asked {
        add(&mut total, flowers);
        let key = key_of(facts, flowers, by);
        match groups.iter_mut().find(|group| group.key == key) {
            Some(group) => add(group, flowers),
            None => {
                let mut group = empty(key);
                add(&mut group, flowers);
                groups.push(group);
            }
        }
    }
    // Names stand in the order of the ledger; treatments and weeks in their own.
    if matches!(by, SetBy::Technique | SetBy::Week) {
        groups.sort_by(|a, b| a.key.cmp(&b.key));
    }
    let silent = asked.iter().filter(|flowers| flowers.part.n == 0);
    Sets {
        by,
        total,
        groups,
        zero: zeros(facts, &all, &asked),
        silent: silent
            .map(|flowers| ((*flowers).clone(), harvested(facts, flowers.cross_id)))
            .collect(),
    }
}

/// The flowers of every pollination up to a day; one long past without a day counts.
fn all_flowers(facts: &Facts, on: Day) -> Vec<Flowers> {
    let rows = facts.pollination.iter();
    rows.filter(|row| row.day.is_none_or(|day| day <= on))
        .filter_map(|row| Some(flowers_of(facts, facts.cross.get(row.cross_id)?, row)))
        .collect()
}

/// Pods harvested of a cross.
fn harvested(facts: &Facts, cross: i64) -> u64 {
    let lots = facts.lot.iter().filter(|lot| lot.cross_id == Some(cross));
    let pods: i64 = lots.filter_map(|lot| lot.pods).sum();
    u64::try_from(pods).unwrap_or(0)
}

fn sum<'f>(flowers: impl Iterator<Item = &'f Flowers>) -> Part {
    let (k, n) = flowers.fold((0, 0), |(k, n), one| (k + one.part.k, n + one.part.n));
    Part::new(k, n)
}

/// The directions asked about of which none set, in the order of the ledger.
fn zeros(facts: &Facts, all: &[Flowers], asked: &[&Flowers]) -> Vec<Zero> {
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
    let rates = set_rates(crossability, mother, father);
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
        other_way,
        same_mother: sum(all
            .iter()
            .filter(near)
            .filter(|one| one.parents.0 == pair.0)),
        same_weather: sum(all.iter().filter(near)),
        dated: own.iter().any(|one| one.day.is_some()),
        advice: advise(crossability, rates, n, other_way, pair.0 == pair.1),
    }
}

fn advise(
    crossability: Crossability,
    rates: Option<SetRates>,
    n: u64,
    other_way: Part,
    selfed: bool,
) -> Advice {
    let Some(rates) = rates else {
        return match crossability {
            Crossability::NotExpected => Advice::NotExpected,
            _ => Advice::NoRate,
        };
    };
    if none_of(rates.low, n) >= SURPRISE {
        return Advice::GoOn(enough_for(rates.low) - n);
    }
    let other_failed = other_way.k == 0 && none_of(rates.low, other_way.n) < SURPRISE;
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
        assert!((none_of(0.4, 6) - 0.046_656).abs() < 1e-12);
    }

    #[test]
    fn weeks_begin_on_monday() {
        // 1 March 2026 is a Sunday.
        let day = |text: &str| text.parse::<Day>().unwrap();
        assert_eq!(monday(day("2026-03-01")), day("2026-02-23"));
        assert_eq!(monday(day("2026-03-02")), day("2026-03-02"));
        assert_eq!(monday(day("2019-12-31")), day("2019-12-30"));
    }
}
