//! How warm the soil of a tray is: a care of the kind `warmth`, its dose the degrees.
//!
//! What is said of a tray holds until something else is said of it, or of the whole bench. The gate, the report and the
//! windows for seed that is not up ask here; what warmth does to seed is not known here.

use super::day::Day;
use super::facts::Facts;
use super::genes::read_number;
use super::rows::{BatchRow, CareRow, Thing};

/// The kind of care that says it.
pub const WARMTH: &str = "warmth";

/// The degrees Celsius that can be meant of soil (design choice).
const SOIL: std::ops::RangeInclusive<f64> = 0.0..=50.0;

/// The degrees Celsius in which pepper seed comes up: 1 in 100 did at 10, 70 at 15 and at 35, none at 40 (Harrington and
/// Minges 1954, as tabulated by Knott; read).
pub const SEED_COMES_UP: std::ops::RangeInclusive<f64> = 15.0..=35.0;

/// The warmth that a tray stands in, and the day from which that is recorded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SoilWarmth {
    /// Degrees Celsius.
    pub celsius: f64,
    /// The day.
    pub since: Day,
}

/// Degrees as they are kept, `24 °C`, and as a number in Celsius; nothing where they are none that soil has.
///
/// A number alone is in Celsius, one with an F in Fahrenheit: C = (F - 32) 5/9, kept to a tenth.
#[must_use]
pub fn read_warmth(typed: &str) -> Option<(String, f64)> {
    let text = typed.trim();
    let number = text.trim_end_matches(|c: char| c.is_alphabetic() || c == '°' || c == ' ');
    let unit = text[number.len()..].trim().trim_start_matches('°').trim();
    let value = read_number(&number.replacen(',', ".", 1))?;
    let celsius = match unit {
        "" | "C" | "c" => value,
        "F" | "f" => ((value - 32.0) * 50.0 / 9.0).round() / 10.0,
        _ => return None,
    };
    SOIL.contains(&celsius)
        .then(|| (format!("{celsius} °C"), celsius))
}

/// The newest warmth recorded by a day of a tray, or of the whole bench.
#[must_use]
pub fn warmth_of(facts: &Facts, batch: &BatchRow, on: Day) -> Option<SoilWarmth> {
    let is_of = |care: &&CareRow| {
        let mut targets = facts.care_target.iter();
        let of_all = !targets.clone().any(|target| target.care_id == care.id);
        of_all
            || targets.any(|target| {
                (target.care_id, target.thing, target.thing_id) == (care.id, Thing::Batch, batch.id)
            })
    };
    let said = facts.care.iter().filter(|care| care.kind == WARMTH);
    let said = said.filter(|care| care.day <= on).filter(is_of);
    let read = said.filter_map(|care| {
        let (_, celsius) = read_warmth(&care.dose)?;
        let since = care.day;
        Some(((care.day, care.id), SoilWarmth { celsius, since }))
    });
    read.max_by_key(|(order, _)| *order)
        .map(|(_, warmth)| warmth)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 75 °F is 23.89 °C: (75 - 32) 5/9.
    #[test]
    fn degrees_are_celsius_unless_said() {
        for (typed, kept) in [
            ("24", "24 °C"),
            ("24C", "24 °C"),
            (" 24.5 °C", "24.5 °C"),
            ("24,5", "24.5 °C"),
            ("75F", "23.9 °C"),
            ("75 °f", "23.9 °C"),
        ] {
            assert_eq!(read_warmth(typed).unwrap().0, kept, "{typed}");
        }
        for bad in ["", "warm", "24K", "75", "-3", "nan", "1e9", "24 C C"] {
            assert_eq!(read_warmth(bad), None, "{bad}");
        }
    }
}
