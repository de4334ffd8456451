//! What it proves where none of a pair's flowers set: the exact chance of it at the rates to be expected, what else was in
//! flower then, how the other direction did.
//!
//! Whether it was hot or cold is not in the ledger; the report asks. Called by [`sets`](super::sets).

use super::expected_set::{Own, Pair, Pairs, lowest};
use super::grouping::{pair_label, species_label};
use super::same_days::{SameDays, same_days};
use super::sets::{Flowers, sum};
use crate::genetics::set_rates::SetRates;
use crate::genetics::species::Crossability;
use crate::records::facts::Facts;
use crate::records::species::species_behind;
use crate::stats::none::{enough_for, none_of};
use crate::stats::two_by_two::Part;

/// Under this chance, none of so many flowers is more than bad luck.
pub const SURPRISE: f64 = 0.05;

/// More further flowers than this are not advised: nobody makes so many (design choice).
const MOST_MORE: u64 = 40;

/// What to do where none set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Advice {
    /// None of so many is no surprise yet, and a few more flowers would tell.
    GoOn,
    /// The other direction set pods, or is open where this one failed or would take too many flowers.
    OtherWay,
    /// Both directions failed beyond bad luck, or would take too many flowers.
    Stop,
    /// Seed of such a pair is not expected, whatever the number.
    NotExpected,
    /// Nothing to reckon with: the species are not recorded, or nobody published a rate.
    NoRate,
}

/// The same two plants the other way round.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct OtherWay {
    /// Pods of flowers whose end is known.
    pub part: Part,
    /// Flowers of whose end nobody spoke.
    pub open: u64,
    /// Whether flowers were pollinated of which neither the number nor the end is recorded.
    pub is_uncounted: bool,
}

impl OtherWay {
    fn of<'f>(flowers: impl Iterator<Item = &'f Flowers>) -> Self {
        flowers.fold(Self::default(), |way, one| Self {
            part: Part::new(way.part.k + one.part.k, way.part.n + one.part.n),
            open: way.open + one.open.unwrap_or(0),
            is_uncounted: way.is_uncounted || one.open.is_none() && one.part.n == 0,
        })
    }

    /// Whether some of its flowers have an end yet to be told.
    #[must_use]
    pub const fn is_waiting(&self) -> bool {
        self.open > 0 || self.is_uncounted
    }

    /// Whether it was never pollinated.
    #[must_use]
    pub const fn is_untried(&self) -> bool {
        self.part.n == 0 && !self.is_waiting()
    }
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
    /// The ledger's other flowers of such pairs, where they are enough.
    pub own: Option<Own>,
    /// Parents that descend from several species, and from which.
    pub hybrids: Vec<(String, Vec<String>)>,
    /// The other way round.
    pub other_way: OtherWay,
    /// The same mother's other flowers within the days of the same weather.
    pub same_mother: SameDays,
    /// All other flowers within them.
    pub same_weather: SameDays,
    /// Whether a day of pollination is known, so that other flowers can be set beside.
    pub dated: bool,
    /// What to do.
    pub advice: Advice,
    /// How many more flowers without a pod would be more than bad luck at the lowest rate; none where these are already.
    pub more: Option<u64>,
}

/// The directions asked about of which none set, in the order of the ledger.
pub(super) fn zeros(facts: &Facts, all: &[Flowers], asked: &[&Flowers]) -> Vec<Zero> {
    let mut failed: Vec<Pair> = Vec::new();
    for pair in asked.iter().map(|flowers| flowers.parents) {
        let part = sum(all.iter().filter(|flowers| flowers.parents == pair));
        if part.n > 0 && part.k == 0 && !failed.contains(&pair) {
            failed.push(pair);
        }
    }
    if failed.is_empty() {
        return Vec::new();
    }
    let pairs = Pairs::new(facts, all);
    failed.into_iter().map(|pair| zero(&pairs, pair)).collect()
}

fn zero(pairs: &Pairs, pair: Pair) -> Zero {
    let (facts, back) = (pairs.facts, (pair.1, pair.0));
    let kind = pairs.kind(pair);
    let question = Question::of(pairs, pair);
    let ends = kind.rates.map(|rates| [rates.low, rates.high]);
    let [same_weather, same_mother] = same_days(pairs, pair);
    let first = pairs.of(pair).next();
    Zero {
        pair: pair_label(facts, pair),
        back: pair_label(facts, back),
        cross: first.map_or_else(String::new, |one| one.cross.clone()),
        flowers: question.n,
        species: species_label(&kind.species),
        crossability: kind.crossability,
        crossability_back: pairs.kind(back).crossability,
        rates: kind.rates,
        chances: ends.map(|ends| ends.map(|rate| none_of(rate, question.n))),
        enough: ends.map(|ends| ends.map(|rate| enough_for(rate, SURPRISE))),
        own: pairs.own(pair, pairs.flowers.iter()),
        hybrids: hybrids(facts, pair),
        other_way: question.back.map(|back| back.way).unwrap_or_default(),
        same_mother,
        same_weather,
        dated: pairs.of(pair).any(|one| one.day.is_some()),
        advice: question.advice(),
        more: question.more(),
    }
}

/// The lowest rate to reckon with, the ledger's own flowers counted in.
fn low_of(pairs: &Pairs, pair: Pair) -> Option<f64> {
    let own = pairs.own(pair, pairs.flowers.iter());
    pairs.kind(pair).rates.map(|rates| lowest(rates, own))
}

/// Which parents of a pair descend from several species.
fn hybrids(facts: &Facts, (mother, father): Pair) -> Vec<(String, Vec<String>)> {
    let mut plants = vec![mother, father];
    plants.dedup();
    let of = |plant: i64| (facts.label_of_plant(plant), species_behind(facts, plant));
    let all = plants.into_iter().map(of);
    all.filter(|(_, species)| species.len() > 1).collect()
}

/// What the advice rests on where none of `n` flowers set.
#[derive(Debug, Clone, Copy)]
struct Question {
    n: u64,
    crossability: Crossability,
    /// The lowest rate to reckon with.
    low: Option<f64>,
    /// The other way round; nothing of a self.
    back: Option<Back>,
}

/// The other way round, and the lowest rate to reckon with there.
#[derive(Debug, Clone, Copy)]
struct Back {
    way: OtherWay,
    crossability: Crossability,
    low: Option<f64>,
}

/// How many more flowers than `n` would be beyond bad luck at a rate; nothing where these are.
fn more_than(n: u64, low: f64) -> Option<u64> {
    (none_of(low, n) >= SURPRISE).then(|| enough_for(low, SURPRISE) - n)
}

impl Question {
    fn of(pairs: &Pairs, pair: Pair) -> Self {
        let turned = (pair.1, pair.0);
        let back = || Back {
            way: OtherWay::of(pairs.of(turned)),
            crossability: pairs.kind(turned).crossability,
            low: low_of(pairs, turned),
        };
        Self {
            n: sum(pairs.of(pair)).n,
            crossability: pairs.kind(pair).crossability,
            low: low_of(pairs, pair),
            back: (turned != pair).then(back),
        }
    }

    fn more(&self) -> Option<u64> {
        more_than(self.n, self.low?)
    }

    fn advice(&self) -> Advice {
        if self.low.is_none() {
            return match self.crossability {
                Crossability::NotExpected => Advice::NotExpected,
                _ => Advice::NoRate,
            };
        }
        let is_few = |more| more <= MOST_MORE;
        match (self.more(), self.back) {
            (_, Some(back)) if back.way.part.k > 0 => Advice::OtherWay,
            (Some(more), _) if is_few(more) => Advice::GoOn,
            (_, Some(back)) if back.is_open() => Advice::OtherWay,
            _ => Advice::Stop,
        }
    }
}

impl Back {
    /// Whether it may be tried, or go on: not failed beyond bad luck, nor without end.
    fn is_open(&self) -> bool {
        if self.crossability == Crossability::NotExpected {
            return false;
        }
        let Some(low) = self.low else { return true };
        let is_begun = self.way.part.n > 0 && !self.way.is_waiting();
        match more_than(self.way.part.n, low) {
            None => false,
            Some(more) => !is_begun || more <= MOST_MORE,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(n: u64, low: f64, back: Option<(u64, u64, Option<f64>)>) -> Advice {
        let back = back.map(|(k, n, low)| Back {
            way: OtherWay {
                part: Part { k, n },
                ..OtherWay::default()
            },
            crossability: Crossability::Usual,
            low,
        });
        let question = Question {
            n,
            crossability: Crossability::Usual,
            low: Some(low),
            back,
        };
        question.advice()
    }

    /// 33 flowers at 8.9 %, 19 at 14.6 %: the other way is judged by its own rate.
    #[test]
    fn each_direction_is_judged_by_its_own_rate() {
        let usual = |n: u64| asked(40, 0.089, Some((0, n, Some(0.146))));
        assert_eq!(usual(18), Advice::OtherWay);
        assert_eq!(usual(19), Advice::Stop);
        assert_eq!(
            asked(40, 0.089, Some((0, 99, None))),
            Advice::OtherWay,
            "nobody has published the other way"
        );
    }

    /// At 2.2 % it takes 135 flowers: 129 more than 6, 40 more than 95.
    #[test]
    fn what_takes_too_many_flowers_is_turned_round_or_stopped() {
        let hard = |n: u64, back: u64| asked(n, 0.022, Some((0, back, Some(0.022))));
        assert_eq!(enough_for(0.022, SURPRISE), 135);
        assert_eq!(hard(6, 0), Advice::OtherWay);
        assert_eq!(hard(6, 6), Advice::Stop, "neither way can be told");
        assert_eq!(hard(95, 0), Advice::GoOn);
        assert_eq!(hard(6, 95), Advice::OtherWay);
        assert_eq!(asked(1, 0.01, None), Advice::Stop, "a self");
    }

    #[test]
    fn a_way_that_works_goes_first() {
        assert_eq!(
            asked(20, 0.089, Some((1, 6, Some(0.146)))),
            Advice::OtherWay
        );
        assert_eq!(asked(20, 0.089, None), Advice::GoOn);
    }
}
