//! The curve of a late class in plain characters, with the readings of one seedling on it.
//!
//! Days since emergence run to the right, the share that shows the late class by then upwards. Called by `why`.

use super::plot::{SCALE, columns, framed};
use crate::diagnosis::paces::{Pace, shown_by};
use crate::diagnosis::why::Curve;

/// Rows of the plot, from nothing to all.
const ROWS: usize = 4;

/// The plot's lines: curve as dots, readings by their number, where the curve is by then.
#[must_use]
pub fn picture(curve: &Curve, width: usize) -> Vec<String> {
    let columns = columns(width);
    let days = days_shown(curve);
    let column = |age: f64| {
        let at = (age / days as f64 * (columns - 1) as f64).round();
        (at as usize).min(columns - 1)
    };
    let row = |share: f64| (share * ROWS as f64).round() as usize;
    let mut plot = vec![vec![' '; columns]; ROWS + 1];
    let curve_row = |at: usize| {
        row(share_by(
            curve,
            at as f64 / (columns - 1) as f64 * days as f64,
        ))
    };
    (0..columns).for_each(|at| plot[curve_row(at)][at] = '.');
    for (number, reading) in curve.readings.iter().enumerate() {
        let mark = char::from_digit(number as u32 + 1, 36).unwrap_or('+');
        plot[row(reading.shown)][column(reading.age)] = mark;
    }
    let mut lines = framed(&plot);
    lines.push(axis(days, columns));
    lines
}

/// The axis in words: a number every ten days, or so many that they do not touch.
fn axis(days: i64, columns: usize) -> String {
    let mut step = 10;
    while days / step > 6 {
        step *= 2;
    }
    let mut line = " ".repeat(SCALE + 2);
    for day in (0..=days).step_by(step as usize) {
        let at = SCALE + 2 + (day as usize * (columns - 1)) / days.max(1) as usize;
        line.extend(std::iter::repeat_n(' ', at.saturating_sub(line.len())));
        line.push_str(&day.to_string());
    }
    line.push_str(" days");
    line
}

/// How many days the plot spans: past the last reading, and until nearly all have turned.
fn days_shown(curve: &Curve) -> i64 {
    let last = curve.readings.iter().map(|reading| reading.age);
    let last = last.fold(0.0, f64::max).ceil() as i64;
    let turned = (1..365).find(|age| share_by(curve, *age as f64) >= 0.995);
    (last + 2).max(turned.unwrap_or(30)).min(400)
}

/// The share of plants of a late class that shows it by an age, at the usual pace.
fn share_by(curve: &Curve, age: f64) -> f64 {
    let (below, above) = (age.floor(), age.ceil());
    let at =
        |age: f64| shown_by(&curve.onset, Pace::Shifted(0.0), age as i64) / curve.onset.ceiling;
    at(below) + (at(above) - at(below)) * (age - below)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnosis::answer::Seen;
    use crate::diagnosis::looks::Onset;
    use crate::diagnosis::why::Marked;
    use crate::records::rows::Sureness;

    fn curve(ages: &[f64]) -> Curve {
        let onset = Onset {
            median_days: 12.0,
            spread: 0.35,
            ceiling: 0.9999,
        };
        let mark = |age: &f64| Marked {
            seen: Seen {
                trait_code: "foliage".to_owned(),
                class: "green".to_owned(),
                sureness: Sureness::Firm,
                day: "2026-03-01".parse().expect("a date"),
            },
            age: *age,
            shown: shown_by(&onset, Pace::Shifted(0.0), *age as i64) / onset.ceiling,
        };
        Curve {
            trait_code: "foliage".to_owned(),
            late: vec!["purple".to_owned()],
            onset,
            readings: ages.iter().map(mark).collect(),
        }
    }

    #[test]
    fn the_median_lies_half_way_up_and_every_reading_is_marked() {
        let lines = picture(&curve(&[12.0, 40.0]), 80);
        assert_eq!(lines.len(), ROWS + 3);
        let half = lines.iter().find(|line| line.contains("50 %"));
        assert!(
            half.expect("a line for one half").contains('1'),
            "{lines:#?}"
        );
        assert!(lines[0].contains('2'), "{lines:#?}");
        assert!(
            lines.iter().all(|line| line.len() <= 80 && line.is_ascii()),
            "{lines:#?}"
        );
    }

    #[test]
    fn old_readings_and_narrow_pages_fit() {
        for width in [30, 40, 80, 200] {
            let lines = picture(&curve(&[0.0, 390.0, 9_000.0]), width);
            assert!(lines.iter().all(|line| line.len() <= 80), "{lines:#?}");
        }
    }
}
