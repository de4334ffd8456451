//! The curve of how seed came up in plain characters: days after sowing to the right, the share up by then upwards.
//!
//! Up to four curves stand in one picture, each by its own sign. Called by `germination`.

use super::plot::{SCALE, columns, framed};
use crate::stats::arrivals::Arrivals;

/// The signs of the curves, in order.
pub const SIGNS: [char; 4] = ['o', 'x', '+', '*'];

/// The sign where curves meet.
const MEET: char = '#';

/// Rows of the plot, from nothing to all.
const ROWS: usize = 8;

/// The plot's lines; none where nothing was counted after the sowing.
#[must_use]
pub fn picture(curves: &[&Arrivals], width: usize) -> Vec<String> {
    let curves = &curves[..curves.len().min(SIGNS.len())];
    let last = curves.iter().filter_map(|curve| curve.last());
    let days = last.fold(0.0, f64::max);
    if days <= 0.0 {
        return Vec::new();
    }
    let columns = columns(width);
    let mut plot = vec![vec![' '; columns]; ROWS + 1];
    for (curve, sign) in curves.iter().zip(SIGNS) {
        let day = |at: usize| at as f64 / (columns - 1) as f64 * days;
        let last = curve.last().unwrap_or(0.0) + 1e-9;
        let share = |day: f64| curve.there_by(day) / curve.total().max(1) as f64;
        for at in (0..columns).take_while(|at| day(*at) <= last) {
            let cell = &mut plot[(share(day(at)) * ROWS as f64).round() as usize][at];
            *cell = if *cell == ' ' { sign } else { MEET };
        }
    }
    let mut lines = framed(&plot);
    lines.push(axis(days, columns));
    lines
}

/// The axis in words: as many numbers as do not touch.
fn axis(days: f64, columns: usize) -> String {
    let steps = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0];
    let fits = |step: &&f64| **step / days * columns as f64 >= 6.0;
    let step = steps.iter().find(fits).copied().unwrap_or(1000.0);
    let mut line = " ".repeat(SCALE + 2);
    let mut day = 0.0;
    while day <= days {
        let at = SCALE + 2 + (day / days * (columns - 1) as f64).round() as usize;
        while line.len() < at {
            line.push(' ');
        }
        line.push_str(&format!("{day:.0}"));
        day += step;
    }
    line.push_str(" days");
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_curve_rises_from_the_sowing_to_the_share_that_came() {
        let tray = Arrivals::of(12, &[(6.0, 0), (8.0, 6), (10.0, 12)]);
        let lines = picture(&[&tray], 80);
        assert_eq!(lines.len(), ROWS + 3);
        assert!(lines.iter().all(|line| line.len() <= 80), "{lines:#?}");
        assert!(lines[0].starts_with("  100 % |") && lines[0].ends_with('o'));
        assert!(lines[ROWS].starts_with("    0 % |oooo"));
        assert!(lines[ROWS + 2].ends_with("10 days"), "{}", lines[ROWS + 2]);
    }

    #[test]
    fn curves_that_meet_are_marked() {
        let tray = Arrivals::of(12, &[(8.0, 6)]);
        let lines = picture(&[&tray, &tray], 80);
        assert!(lines.iter().any(|line| line.contains('#')));
        assert!(picture(&[&Arrivals::of(3, &[])], 80).is_empty());
    }
}
