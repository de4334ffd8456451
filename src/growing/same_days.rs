//! What other flowers of the same days say of the weather: their pods against those that were to be expected of them.
//!
//! The ledger keeps no temperatures; that a week was bad shows in what should have set and did not. Few flowers, and
//! flowers of which little was to be expected, tell nothing. Called by [`no_set`](super::no_set).

use std::collections::BTreeMap;
use std::f64::consts::LN_2;

use super::expected_set::{Pair, Pairs};
use super::sets::{Flowers, sum};
use crate::stats::none::{log_times_at_part, none_of};
use crate::stats::two_by_two::Part;

/// Flowers so many days before or after had the same weather (design choice).
const DAYS: i64 = 7;

/// In bad weather flowers set not at all, or, as likely, so often, as a part of what is usual (design choice).
pub const BAD_WEATHER: f64 = 0.1;

/// How likely it is that a pair of which no pod is known elsewhere cannot set at all: two such pairs together can speak for
/// bad weather, one alone cannot (design choice).
const UNABLE: f64 = 0.1;

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
        if at_low.min(at_high) >= TELLING.ln() {
            Weather::Bad
        } else if at_low.max(at_high) <= -TELLING.ln() {
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

    /// With the flowers of one pair, by the lowest and the highest rate to expect of them.
    fn with(self, part: Part, rates: Option<[f64; 2]>, is_proven: bool) -> Self {
        let both = |one: Part| Part::new(one.k + part.k, one.n + part.n);
        let Some(rates) = rates else {
            return Self {
                unweighed: both(self.unweighed),
                ..self
            };
        };
        let expected = |at: usize| self.expected[at] + rates[at] * part.n as f64;
        let log_times = |at: usize| self.log_times[at] + log_times(part, rates[at], is_proven);
        Self {
            part: both(self.part),
            expected: [0, 1].map(expected),
            log_times: [0, 1].map(log_times),
            ..self
        }
    }
}

/// How much likelier, as a logarithm, some pods of a pair are in bad weather, by the rate to expect of it, and whether it
/// is known to set at all.
fn log_times(part: Part, rate: f64, is_proven: bool) -> f64 {
    let Part { k, n } = part;
    if k > 0 {
        return log_times_at_part(k, n, rate, BAD_WEATHER) - LN_2;
    }
    let none_if_bad = 0.5 + 0.5 * none_of(BAD_WEATHER * rate, n);
    if is_proven {
        return none_if_bad.ln() - n as f64 * (-rate).ln_1p();
    }
    let or_unable = |p: f64| UNABLE + (1.0 - UNABLE) * p;
    (or_unable(none_if_bad) / or_unable(none_of(rate, n))).ln()
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
    let mut others: BTreeMap<Pair, Part> = BTreeMap::new();
    for one in pairs.flowers.iter().filter(is_near) {
        if one.parents != pair && one.parents != back {
            let part = others.entry(one.parents).or_default();
            *part = Part::new(part.k + one.part.k, part.n + one.part.n);
        }
    }
    let start = [SameDays::none(); 2];
    others
        .into_iter()
        .fold(start, |[all, of_mother], (other, part)| {
            let rates = pairs.expected(other, elsewhen.clone());
            let is_proven = sum(elsewhen.clone().filter(|one| one.parents == other)).k > 0;
            let of_mother = match other.0 == pair.0 {
                true => of_mother.with(part, rates, is_proven),
                false => of_mother,
            };
            [all.with(part, rates, is_proven), of_mother]
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(k: u64, n: u64, rates: [f64; 2]) -> SameDays {
        SameDays::none().with(Part { k, n }, Some(rates), true)
    }

    /// (1 + 0.974^3)/2 / 0.74^3 = 2.37; 0.935^25 / 0.35^25 / 20 = 2.3e9.
    #[test]
    fn few_flowers_tell_nothing_and_many_tell_for_either() {
        assert_eq!(of(0, 3, [0.26, 0.84]).weather(), Weather::Open);
        assert!((of(0, 3, [0.26, 0.84]).log_times[0].exp() - 2.374_01).abs() < 1e-4);
        assert_eq!(of(1, 26, [0.65, 0.84]).weather(), Weather::Bad);
        assert_eq!(of(5, 7, [0.65, 0.84]).weather(), Weather::Good);
        // Two of 60 of a pair that sets 2 to 4 % are what was to be expected.
        let hard = of(2, 60, [0.022, 0.037]);
        assert!((hard.expected[0] - 1.32).abs() < 1e-12);
        assert!(hard.weather() != Weather::Bad);
        // No pod where hardly one was to be expected.
        assert_eq!(of(0, 60, [0.022, 0.037]).weather(), Weather::Open);
    }

    /// One pair that never set may be unable to: at most 1 / 0.1; of two such pairs it is hard to believe.
    #[test]
    fn one_pair_that_never_set_is_no_weather() {
        let none = Part { k: 0, n: 100 };
        let one = SameDays::none().with(none, Some([0.65, 0.84]), false);
        assert!(one.log_times[0].exp() < 10.0);
        assert_eq!(one.weather(), Weather::Open);
        let two = one.with(none, Some([0.65, 0.84]), false);
        assert_eq!(two.weather(), Weather::Bad);
        assert_eq!(of(0, 100, [0.65, 0.84]).weather(), Weather::Bad);
    }

    #[test]
    fn flowers_without_a_known_rate_weigh_nothing() {
        let found = of(0, 3, [0.26, 0.84]).with(Part { k: 0, n: 50 }, None, false);
        assert_eq!(found.unweighed.n, 50);
        assert_eq!(found.log_times, of(0, 3, [0.26, 0.84]).log_times);
    }
}
