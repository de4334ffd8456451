//! What was measured of plants: the newest of each, units that go into one another, seedlings far smaller than their tray.
//!
//! Small is no proof of anything; what follows of it is for those who ask. The gate warns of a runt that is pulled by it,
//! the growing room compares with it.

use super::code::fold;
use super::day::Day;
use super::facts::Facts;
use super::rows::MeasureRow;
use crate::stats::two_samples::modified_z;

/// An outlier by Iglewicz and Hoaglin 1993.
pub const OUTLIER: f64 = 3.5;

/// With fewer seedlings measured in a tray none is called a runt (design choice).
const TOLD_FROM: usize = 5;

/// Seedlings whose ages are further apart than this are not of one age (design choice).
pub const SAME_AGE_DAYS: f64 = 2.0;

/// The units that go into one another, and counts: none.
pub const UNITS: [&str; 7] = ["mm", "cm", "m", "mg", "g", "kg", ""];

/// A length in millimetres, or a mass in grams, of a unit.
fn scale_of(unit: &str) -> Option<(bool, f64)> {
    match unit {
        "mm" => Some((true, 1.0)),
        "cm" => Some((true, 10.0)),
        "m" => Some((true, 1000.0)),
        "mg" => Some((false, 0.001)),
        "g" => Some((false, 1.0)),
        "kg" => Some((false, 1000.0)),
        _ => None,
    }
}

/// A number of one unit in another; nothing where they do not measure the same.
#[must_use]
pub fn converted(value: f64, from: &str, to: &str) -> Option<f64> {
    if from == to {
        return Some(value);
    }
    match (scale_of(from)?, scale_of(to)?) {
        ((one, scale), (other, target)) if one == other => Some(value * scale / target),
        _ => None,
    }
}

/// The names of some measures, each once, as they were first written.
#[must_use]
pub fn names_of(rows: &[&MeasureRow]) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for row in rows {
        if !names.iter().any(|name| fold(name) == fold(&row.name)) {
            names.push(row.name.clone());
        }
    }
    names
}

/// The newest measure of each plant, in the order in which they were first measured.
#[must_use]
pub fn newest_of_each<'f>(rows: &[&'f MeasureRow]) -> Vec<&'f MeasureRow> {
    let mut newest: Vec<&MeasureRow> = Vec::new();
    for row in rows {
        match newest
            .iter_mut()
            .find(|known| known.plant_id == row.plant_id)
        {
            Some(known) if (known.day, known.id) < (row.day, row.id) => *known = row,
            Some(_) => {}
            None => newest.push(row),
        }
    }
    newest
}

/// The unit that most of them have, of several the one met first.
#[must_use]
pub fn usual_unit(rows: &[&MeasureRow]) -> String {
    let with = |unit: &str| rows.iter().filter(|row| row.unit == unit).count();
    let mut usual = "";
    for row in rows {
        if with(&row.unit) > with(usual) {
            usual = &row.unit;
        }
    }
    usual.to_owned()
}

/// The modified z-score of each of some seedlings of one tray, given by value and age in days, beside those measured at its
/// age; nothing where those are too few.
#[must_use]
pub fn scores(sizes: &[(f64, i64)]) -> Vec<Option<f64>> {
    let score = |(value, age): &(f64, i64)| {
        let beside = sizes
            .iter()
            .filter(|(_, other)| (age - other).abs() as f64 <= SAME_AGE_DAYS);
        let beside: Vec<f64> = beside.map(|(value, _)| *value).collect();
        let place = beside.iter().position(|other| other == value)?;
        (beside.len() >= TOLD_FROM).then(|| modified_z(&beside)[place])
    };
    sizes.iter().map(score).collect()
}

/// The seedlings of a tray that are far smaller than it by their newest measure of anything, up to a day.
#[must_use]
pub fn runts_by_measure(facts: &Facts, batch: i64, on: Day) -> Vec<i64> {
    let is_here = |row: &&MeasureRow| {
        let plant = facts.plant.get(row.plant_id);
        row.day <= on && plant.is_some_and(|plant| plant.batch_id == Some(batch))
    };
    let rows: Vec<&MeasureRow> = facts.measure.iter().filter(is_here).collect();
    let mut runts: Vec<i64> = Vec::new();
    for name in names_of(&rows) {
        let named = |row: &&MeasureRow| fold(&row.name) == fold(&name);
        let own: Vec<&MeasureRow> = rows.iter().copied().filter(named).collect();
        let newest = newest_of_each(&own);
        let unit = usual_unit(&newest);
        let sized = newest.iter().filter_map(|row| {
            let value = converted(row.number.parse().ok()?, &row.unit, &unit)?;
            Some((row.plant_id, (value, row.day.since(on))))
        });
        let (plants, sizes): (Vec<i64>, Vec<(f64, i64)>) = sized.unzip();
        let small = |score: &Option<f64>| score.is_some_and(|z| z <= -OUTLIER);
        let found = plants
            .into_iter()
            .zip(scores(&sizes))
            .filter(|(_, score)| small(score));
        runts.extend(found.map(|(plant, _)| plant));
    }
    runts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_of_one_kind_are_put_into_one_another() {
        assert_eq!(converted(4.2, "cm", "mm"), Some(42.0));
        assert_eq!(converted(500.0, "mg", "g"), Some(0.5));
        assert_eq!(converted(5.0, "", ""), Some(5.0));
        assert_eq!(converted(5.0, "g", "mm"), None);
        assert_eq!(converted(5.0, "", "mm"), None);
    }

    #[test]
    fn seedlings_are_set_beside_those_of_their_age() {
        let mut sizes = vec![(40.0, 20), (41.0, 20), (42.0, 21), (43.0, 22), (12.0, 20)];
        assert!(scores(&sizes)[4].is_some_and(|z| z < -OUTLIER));
        // Four of its age and one three days older are too few.
        sizes[3].1 = 23;
        assert_eq!(scores(&sizes)[4], None);
    }
}
