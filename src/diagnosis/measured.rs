//! What the measures of a name say of each of some plants beside each other, for a goal that is told by them.
//!
//! The newest measure of each plant, put on a scale whose ends are the least and the most of the plants compared. That a
//! plant was measured when older than the others is said, not allowed for. Called by the ranking; what a high number is
//! worth is not known here.

use crate::records::code::fold;
use crate::records::facts::Facts;
use crate::records::measures::{SAME_AGE_DAYS, converted, newest_of_each, usual_unit};
use crate::records::rows::{MeasureRow, Thing};
use crate::records::scale::is_measured;

/// Plants by what was measured of them.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// The unit of the numbers, or empty.
    pub unit: String,
    /// Whether they were measured at ages too far apart to be set beside each other.
    pub mixes_ages: bool,
    values: Vec<(i64, f64)>,
}

impl Measured {
    /// Of some plants; nothing for a trait that is not told by a measure.
    #[must_use]
    pub fn of(facts: &Facts, trait_id: i64, plants: &[i64]) -> Option<Self> {
        if !is_measured(facts, trait_id) {
            return None;
        }
        let name = fold(facts.code_of(Thing::Trait, trait_id)?);
        let rows = facts.measure.iter();
        let rows = rows.filter(|row| fold(&row.name) == name && plants.contains(&row.plant_id));
        let newest = newest_of_each(&rows.collect::<Vec<_>>());
        let unit = usual_unit(&newest);
        let number = |row: &&MeasureRow| {
            let value = converted(row.number.parse().ok()?, &row.unit, &unit)?;
            Some((row.plant_id, value))
        };
        Some(Self {
            mixes_ages: mixes_ages(facts, &newest),
            values: newest.iter().filter_map(number).collect(),
            unit,
        })
    }

    /// The newest number of a plant.
    #[must_use]
    pub fn value(&self, plant: i64) -> Option<f64> {
        let mut own = self.values.iter().filter(|(one, _)| *one == plant);
        own.next().map(|(_, value)| *value)
    }

    /// How far up a plant stands from the least to the most of those compared, from 0 to 1, and how far that may be off:
    /// nothing where it was measured; else as the others are spread, and with fewer than two of these evenly (design choice).
    #[must_use]
    pub fn relative(&self, plant: i64) -> (f64, f64) {
        let values = || self.values.iter().map(|(_, value)| *value);
        let [low, high] = [
            values().fold(f64::INFINITY, f64::min),
            values().fold(f64::NEG_INFINITY, f64::max),
        ];
        let up = |value: f64| match high > low {
            true => (value - low) / (high - low),
            false => 0.5,
        };
        if let Some(value) = self.value(plant) {
            return (up(value), 0.0);
        }
        let n = self.values.len() as f64;
        if n < 2.0 {
            return (0.5, 1.0 / 12.0_f64.sqrt());
        }
        let mean = values().map(up).sum::<f64>() / n;
        let squares: f64 = values().map(|value| (up(value) - mean).powi(2)).sum();
        (mean, (squares / (n - 1.0)).sqrt())
    }
}

/// Whether seedlings were measured at different ages, from their sowing; of plants from no tray, on different days.
fn mixes_ages(facts: &Facts, rows: &[&MeasureRow]) -> bool {
    let age = |row: &&MeasureRow| {
        let batch = facts.plant.get(row.plant_id)?.batch_id?;
        Some(row.day.since(facts.batch.get(batch)?.day))
    };
    let apart = |days: Vec<i64>| match (days.iter().min(), days.iter().max()) {
        (Some(least), Some(most)) => (most - least) as f64 > SAME_AGE_DAYS,
        _ => false,
    };
    let (sown, others): (Vec<&MeasureRow>, Vec<_>) =
        rows.iter().partition(|row| age(row).is_some());
    let first = others.first().map(|row| row.day);
    let days = others.iter().filter_map(|row| Some(row.day.since(first?)));
    let mixed = !sown.is_empty() && !others.is_empty();
    mixed || apart(sown.iter().filter_map(age).collect()) || apart(days.collect())
}
