//! What other flowers of the same days say of the weather: their pods against those that were to be expected of them.
//!
//! The ledger keeps no temperatures; that a week was bad shows in what should have set and did not. Few flowers, and
//! flowers of which little was to be expected, tell nothing. Called by [`no_set`](super::no_set).

use super::expected_set::{Pair, Pairs};
use super::sets::Flowers;
use crate::stats::none::log_times_at_part;
use crate::stats::two_by_two::Part;

/// Flowers so many days before or after had the same weather (design choice).
const DAYS: i64 = 7;

/// In bad weather flowers set so often, as a part of what is usual (design choice).
pub const BAD_WEATHER: f64 = 0.1;

/// So many times likelier speaks for or against bad weather (design choice).
const TELLING: f64 = 20.0;

/// What the other flowers say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weather {
    /// They set far too little: it was the weather, or may have been.
    Bad,
    /// They set as usual, or nearly.
    Good,
    /// They are too few, or too little was to be expected of them.
    Open,
}

/// Other flowers of the same days.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SameDays {
    /// Pods of those of which it is known how often they set.
    pub part: Part,
    /// Pods that were to be expected of them, at the lowest and the highest rates.
    pub expected: [f64; 2],
    /// How many times likelier their pods are in bad weather, as a logarithm, at the lowest and the highest rates.
    pub log_times: [f64; 2],
    /// Pods of those of which nobody knows how often they set.
    pub unweighed: Part,
}

impl SameDays {
    /// What they say: weighed at the rates that say it least.
    #[must_use]
    pub fn weather(&self) -> Weather {
        let [at_low, at_high] = self.log_times;
        if at_low >= TELLING.ln() {
            Weather::Bad
        } else if at_high <= -TELLING.ln() {
            Weather::Good
        } else {
            Weather::Open
        }
    }

    fn none() -> Self {
        Self {
            part: Part { k: 0, n: 0 },
            expected: [0.0; 2],
            log_times: [0.0; 2],
            unweighed: Part { k: 0, n: 0 },
        }
    }

    /// With the flowers of one pollination, by the lowest and the highest rate to expect of them.
    fn with(self, part: Part, rates: Option<[f64; 2]>) -> Self {
        let both = |one: Part| Part::new(one.k + part.k, one.n + part.n);
        let Some(rates) = rates else {
            return Self {
                unweighed: both(self.unweighed),
                ..self
            };
        };
        let expected = |at: usize| self.expected[at] + rates[at] * part.n as f64;
        let log_times = |at: usize| {
            self.log_times[at] + log_times_at_part(part.k, part.n, rates[at], BAD_WEATHER)
        };
        Self {
            part: both(self.part),
            expected: [0, 1].map(expected),
            log_times: [0, 1].map(log_times),
            ..self
        }
    }
}

/// What other flowers did within the days of a pair's own: all of them, and those of its mother. The same two plants the
/// other way round are left out, for they are in question with it.
pub(super) fn same_days(pairs: &Pairs, pair: Pair) -> [SameDays; 2] {
    let days: Vec<_> = pairs.of(pair).filter_map(|one| one.day).collect();
    let is_near = |one: &&Flowers| {
        one.day
            .is_some_and(|day| days.iter().any(|own| own.since(day).abs() <= DAYS))
    };
    let elsewhen = pairs.flowers.iter().filter(|one| !is_near(one));
    let back = (pair.1, pair.0);
    let others = pairs.flowers.iter().filter(is_near);
    let others = others.filter(|one| one.parents != pair && one.parents != back);
    others.fold([SameDays::none(); 2], |[all, of_mother], one| {
        let rates = pairs.expected(one.parents, elsewhen.clone());
        let of_mother = match one.parents.0 == pair.0 {
            true => of_mother.with(one.part, rates),
            false => of_mother,
        };
        [all.with(one.part, rates), of_mother]
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(k: u64, n: u64, rates: [f64; 2]) -> SameDays {
        SameDays::none().with(Part { k, n }, Some(rates))
    }

    /// (1 - 0.026)^3 / (1 - 0.26)^3 = 2.28; 0.935^25 / 0.35^25 / 10 = 4.7e9.
    #[test]
    fn few_flowers_tell_nothing_and_many_tell_for_either() {
        assert_eq!(of(0, 3, [0.26, 0.84]).weather(), Weather::Open);
        assert_eq!(of(1, 26, [0.65, 0.84]).weather(), Weather::Bad);
        assert_eq!(of(5, 7, [0.65, 0.84]).weather(), Weather::Good);
        // Two of 60 of a pair that sets 2 to 4 % are what was to be expected.
        let hard = of(2, 60, [0.022, 0.037]);
        assert!((hard.expected[0] - 1.32).abs() < 1e-12);
        assert!(hard.weather() != Weather::Bad);
        // No pod where hardly one was to be expected.
        assert_eq!(of(0, 60, [0.022, 0.037]).weather(), Weather::Open);
    }

    #[test]
    fn flowers_without_a_known_rate_weigh_nothing() {
        let found = of(0, 3, [0.26, 0.84]).with(Part { k: 0, n: 50 }, None);
        assert_eq!(found.unweighed.n, 50);
        assert_eq!(found.log_times, of(0, 3, [0.26, 0.84]).log_times);
    }
}
