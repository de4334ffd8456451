//! Leaves as a clock: how many days after coming up a seedling has so many leaves, by the ledger's own records.
//!
//! A straight line of age on leaves by least squares, through the readings that state leaves on seedlings whose coming
//! up was counted. It dates only seedlings of which nobody counted when they came up; where the ledger has too few such
//! pairs there is no clock. Made once per question; the evidence calls it.

use std::collections::{BTreeMap, BTreeSet};

use crate::records::day::Day;
use crate::records::rows::{BatchRow, ReadingRow};

use super::dates::{Dates, Emergence};
use super::evidence::Member;
use super::index::Index;

/// Fewest pairs of age and leaves that make a clock, and fewest numbers of leaves among them (design choice).
const FEWEST_PAIRS: usize = 8;
const FEWEST_COUNTS: usize = 3;

/// A clock is never surer than this, in days: ages are whole days.
const SUREST: f64 = 1.0;

/// How far the days of emergence are followed, in standard deviations.
const REACH: f64 = 4.0;

/// What the clock made of a batch.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Dated {
    /// How many seedlings it dated.
    pub count: i64,
    /// Seedlings of which the leaves fit no day from the sowing to their first reading.
    pub unfit: Vec<String>,
}

/// Age in days as a straight line of the number of leaves.
#[derive(Debug, Clone, PartialEq)]
pub struct LeafClock {
    /// How many pairs it rests on.
    pub pairs: usize,
    /// The fewest leaves among them.
    pub fewest: i64,
    /// The most.
    pub most: i64,
    mean_leaves: f64,
    mean_age: f64,
    /// Days a leaf.
    pub slope: f64,
    /// Sum of squared distances of the leaves from their mean.
    spread_of_leaves: f64,
    /// Standard deviation of ages about the line.
    pub deviation: f64,
}

impl LeafClock {
    /// The clock of a ledger, where it has enough to go by.
    #[must_use]
    pub fn of(index: &Index<'_>) -> Option<Self> {
        if index.facts.reading.iter().all(|row| row.leaves.is_none()) {
            return None;
        }
        let pairs: Vec<(f64, f64)> = index
            .facts
            .batch
            .iter()
            .flat_map(|batch| pairs_of(index, batch))
            .collect();
        Self::through(&pairs)
    }

    /// The line through pairs of leaves and age; ordinary least squares (textbook: Draper & Smith, Applied Regression
    /// Analysis, chapter 1).
    #[must_use]
    pub fn through(pairs: &[(f64, f64)]) -> Option<Self> {
        let counts: BTreeSet<i64> = pairs.iter().map(|(leaves, _)| *leaves as i64).collect();
        if pairs.len() < FEWEST_PAIRS || counts.len() < FEWEST_COUNTS {
            return None;
        }
        let n = pairs.len() as f64;
        let mean = |of: fn(&(f64, f64)) -> f64| pairs.iter().map(of).sum::<f64>() / n;
        let (mean_leaves, mean_age) = (mean(|pair| pair.0), mean(|pair| pair.1));
        let sum = |of: &dyn Fn(f64, f64) -> f64| -> f64 {
            let off = |(leaves, age): &(f64, f64)| of(leaves - mean_leaves, age - mean_age);
            pairs.iter().map(off).sum()
        };
        let spread_of_leaves = sum(&|x, _| x * x);
        let slope = sum(&|x, y| x * y) / spread_of_leaves;
        let left = sum(&|x, y| (y - slope * x).powi(2));
        let clock = Self {
            pairs: pairs.len(),
            fewest: *counts.first().expect("there are counts"),
            most: *counts.last().expect("there are counts"),
            mean_leaves,
            mean_age,
            slope,
            spread_of_leaves,
            deviation: (left / (n - 2.0)).sqrt().max(SUREST),
        };
        (slope > 0.0).then_some(clock)
    }

    /// The age of a seedling with so many leaves, and the standard deviation of a single one about it.
    #[must_use]
    pub fn age(&self, leaves: i64) -> (f64, f64) {
        let off = leaves as f64 - self.mean_leaves;
        let unsure = 1.0 + 1.0 / self.pairs as f64 + off * off / self.spread_of_leaves;
        (
            self.mean_age + self.slope * off,
            self.deviation * unsure.sqrt(),
        )
    }

    /// When a seedling came up, by the reading of its leaves that dates it most surely: normal, on whole days after the
    /// sowing and not after its first reading. Nothing where no reading states leaves.
    #[must_use]
    pub fn emergence(&self, readings: &[&ReadingRow], sown: Day, first: Day) -> Option<Emergence> {
        let dated = readings.iter().filter_map(|row| {
            let (age, deviation) = self.age(row.leaves?);
            Some((row.day, age, deviation))
        });
        let (day, age, deviation) = dated.min_by(|one, other| one.2.total_cmp(&other.2))?;
        let possible = (1..=first.since(sown)).map(|ahead| sown.forward(ahead));
        let weighed = possible.map(|up| (up, (day.since(up) as f64 - age) / deviation));
        let near = weighed.filter(|(_, z)| z.abs() <= REACH);
        let mut emergence: Emergence = near.map(|(up, z)| (up, (-0.5 * z * z).exp())).collect();
        let total: f64 = emergence.iter().map(|(_, weight)| weight).sum();
        emergence
            .iter_mut()
            .for_each(|(_, weight)| *weight /= total);
        (total > 0.0).then_some(emergence)
    }

    /// Dates the seedlings of a batch whose leaves were stated.
    pub fn date(&self, index: &Index<'_>, batch: &BatchRow, members: &mut [Member]) -> Dated {
        let mut dated = Dated::default();
        for member in members {
            let Some(plant) = member.plant else { continue };
            let looked = index.readings_of(plant).iter().copied();
            let rows: Vec<&ReadingRow> = looked.filter(|row| row.day > batch.day).collect();
            let Some(first) = rows.iter().map(|row| row.day).min() else {
                continue;
            };
            if let Some(emergence) = self.emergence(&rows, batch.day, first) {
                member.emergence = emergence;
                dated.count += member.count;
            } else if rows.iter().any(|row| row.leaves.is_some()) {
                let row = index.facts.plant.get(plant);
                dated
                    .unfit
                    .extend(row.map(|row| index.facts.plant_label(row)));
            }
        }
        dated
    }
}

/// The days of emergence of all members together.
#[must_use]
pub fn emergence_of_all(members: &[Member]) -> Emergence {
    let mut days: BTreeMap<Day, f64> = BTreeMap::new();
    let all: i64 = members.iter().map(|member| member.count).sum();
    for member in members {
        for (day, weight) in &member.emergence {
            *days.entry(*day).or_default() += weight * member.count as f64 / all as f64;
        }
    }
    days.into_iter().collect()
}

/// Leaves and age of the seedlings of a batch whose coming up was counted, once a seedling and day.
fn pairs_of(index: &Index<'_>, batch: &BatchRow) -> Vec<(f64, f64)> {
    // The usual days are never asked for: a batch without counts gives no pair.
    let dates = Dates::of(index.emergences_of(batch.id), batch, 0);
    if dates.guessed {
        return Vec::new();
    }
    let mut pairs = Vec::new();
    for plant in index.seedlings_of(batch.id) {
        let read = index.readings_of(plant.id).iter();
        let mut by_day: BTreeMap<Day, i64> = BTreeMap::new();
        for row in read {
            if let Some(leaves) = row.leaves.filter(|_| row.day > batch.day) {
                by_day.insert(row.day, leaves);
            }
        }
        for (day, leaves) in by_day {
            let emergence = dates.of_cell(plant.cell, day);
            let age = |(up, weight): &(Day, f64)| weight * day.since(*up).max(0) as f64;
            pairs.push((leaves as f64, emergence.iter().map(age).sum()));
        }
    }
    pairs
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Anscombe's first set, whose line is known to three digits: y = 3.00 + 0.500 x, residual standard deviation 1.237
    /// (Anscombe 1973, The American Statistician 27:17-21; digits from memory).
    const ANSCOMBE: [(f64, f64); 11] = [
        (10.0, 8.04),
        (8.0, 6.95),
        (13.0, 7.58),
        (9.0, 8.81),
        (11.0, 8.33),
        (14.0, 9.96),
        (6.0, 7.24),
        (4.0, 4.26),
        (12.0, 10.84),
        (7.0, 4.82),
        (5.0, 5.68),
    ];

    #[test]
    fn the_line_is_that_of_least_squares() {
        let clock = LeafClock::through(&ANSCOMBE).expect("eleven pairs");
        assert_eq!((clock.fewest, clock.most), (4, 14));
        assert!((clock.slope - 0.500).abs() < 5e-4, "{clock:?}");
        assert!((clock.age(0).0 - 3.00).abs() < 5e-3, "{clock:?}");
        assert!((clock.deviation - 1.237).abs() < 5e-4, "{clock:?}");
        // Far from the pairs a date is less sure.
        assert!(clock.age(0).1 > clock.age(9).1);
    }

    #[test]
    fn too_few_pairs_or_leaves_that_go_backwards_are_no_clock() {
        assert_eq!(LeafClock::through(&ANSCOMBE[..7]), None);
        assert_eq!(LeafClock::through(&[(2.0, 9.0); 20]), None);
        let backwards: Vec<(f64, f64)> = ANSCOMBE.iter().map(|(x, y)| (*x, -y)).collect();
        assert_eq!(LeafClock::through(&backwards), None);
    }
}
