//! Plants whose pollen may have got onto the stigma of a cross: handled or in flower about then, and sown before.
//!
//! From the records of pollination and flowering alone; the candidate sources next door ask for them, and the remarks for
//! those that were sown too late.

use std::collections::BTreeMap;

use crate::records::assumptions::Assumptions;
use crate::records::code::fold;
use crate::records::day::Day;
use crate::records::rows::{BatchRow, PollinationRow};

use super::sources::{SourceBook, Stock, stock_of};

/// A plant that was about at a pollination by the records, but sown no earlier, so that it gave no pollen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SownLater {
    /// The plant.
    pub plant: i64,
    /// When it was sown.
    pub sown: Day,
    /// The day of the pollination, the last where there were several.
    pub crossed: Day,
}

impl SourceBook<'_> {
    /// Plants whose pollen may have come along, with their weights, by number.
    pub(super) fn donors(
        &self,
        stock: Stock,
        pollinations: &[&PollinationRow],
        beliefs: &Assumptions,
    ) -> Vec<(i64, f64)> {
        let (mother, father) = self.parents(stock);
        let sown_before = |plant, day| self.sown_later_than(plant, day).is_none();
        let weights = self.about_at(pollinations, beliefs, sown_before);
        weights
            .into_iter()
            .filter(|(plant, weight)| {
                *plant != mother && *plant != father && *weight > 0.0 && !self.is_pollenless(*plant)
            })
            .collect()
    }

    /// When a plant was sown that was no plant yet on a day.
    fn sown_later_than(&self, plant: i64, day: Day) -> Option<Day> {
        let sown = self.sown_on.get(&plant).copied();
        sown.filter(|sown| day <= *sown)
    }

    /// Plants that were about by the records, but sown no earlier than any day of the cross of a batch.
    #[must_use]
    pub fn sown_later(&self, batch: &BatchRow, beliefs: &Assumptions) -> Vec<SownLater> {
        if self.sown_on.is_empty() {
            return Vec::new();
        }
        let stock = stock_of(batch);
        let (mother, father) = self.parents(stock);
        let pollinations = self.pollinations_of(batch);
        let later = |plant, day| self.sown_later_than(plant, day).is_some();
        let kept_out = self.about_at(&pollinations, beliefs, later);
        let donors = self.donors(stock, &pollinations, beliefs);
        let crossed = pollinations.iter().filter_map(|row| row.day).max();
        let is_none = |plant: &i64| {
            let is_donor = donors.iter().any(|(donor, _)| donor == plant);
            *plant != mother && *plant != father && !is_donor
        };
        let of = |plant: i64| {
            Some(SownLater {
                plant,
                sown: *self.sown_on.get(&plant)?,
                crossed: crossed?,
            })
        };
        kept_out
            .into_keys()
            .filter(is_none)
            .filter_map(of)
            .collect()
    }

    /// Plants that were about at some pollinations, with their weights, of those that count on its day.
    fn about_at(
        &self,
        pollinations: &[&PollinationRow],
        beliefs: &Assumptions,
        counts: impl Fn(i64, Day) -> bool,
    ) -> BTreeMap<i64, f64> {
        let mut weights: BTreeMap<i64, f64> = BTreeMap::new();
        for row in pollinations {
            let Some(day) = row.day else {
                continue;
            };
            let mut raise = |plant: i64, weight: f64| {
                if counts(plant, day) {
                    let slot = weights.entry(plant).or_insert(0.0);
                    *slot = slot.max(weight);
                }
            };
            for plant in self.before_with_same_tool(day, row) {
                raise(plant, beliefs.donor_same_tool);
            }
            let window = beliefs.donor_window as i64;
            for (other, weight) in self.about(day, day, beliefs.donor_same_day) {
                raise(other, weight);
            }
            for (other, weight) in self.about(
                day.back(window),
                day.forward(window),
                beliefs.donor_near_day,
            ) {
                raise(other, weight);
            }
        }
        weights
    }

    /// Plants handled earlier that day with the same tool and no wipe between.
    fn before_with_same_tool(&self, day: Day, row: &PollinationRow) -> Vec<i64> {
        let tool = fold(row.tool.trim());
        if tool.is_empty() || row.wiped {
            return Vec::new();
        }
        let mut plants = Vec::new();
        let handled = self.by_day.get(&day).map_or(&[][..], Vec::as_slice);
        for earlier in handled
            .iter()
            .rev()
            .filter(|other| other.id < row.id && other.tool == tool)
        {
            plants.extend([earlier.mother, earlier.father]);
            if earlier.wiped {
                break;
            }
        }
        plants
    }

    /// Plants handled or in flower within some days.
    fn about(&self, from: Day, to: Day, weight: f64) -> Vec<(i64, f64)> {
        let handled = self
            .by_day
            .range(from..=to)
            .flat_map(|(_, list)| list.iter());
        let mut plants: Vec<i64> = handled.flat_map(|one| [one.mother, one.father]).collect();
        plants.extend(
            self.in_flower
                .iter()
                .filter(|row| row.from_day <= to && row.until_day.unwrap_or(row.from_day) >= from)
                .map(|row| row.plant_id),
        );
        plants.sort_unstable();
        plants.dedup();
        plants.into_iter().map(|plant| (plant, weight)).collect()
    }
}
