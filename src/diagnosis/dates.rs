//! When the seedlings of a batch came up: from counts of the batch or its cells, else from the usual days.
//!
//! A day of emergence is a distribution, since a count only says that some came up since the one before.

use std::collections::{BTreeMap, HashMap};

use crate::records::day::Day;
use crate::records::rows::{BatchRow, EmergenceRow};

/// A distribution over the days of emergence.
pub type Emergence = Vec<(Day, f64)>;

/// When the seedlings of a batch came up, as far as counted.
#[derive(Debug)]
pub struct Dates {
    by_cell: HashMap<i64, Emergence>,
    batch: Emergence,
    fallback: Day,
    /// Whether nobody counted, so that the usual days serve.
    pub guessed: bool,
    /// How many came up, as far as counted.
    pub up: Option<i64>,
}

/// Weights of the days on which a cumulative count rose; a count that falls adds nothing.
fn rises(mut counts: Vec<(Day, i64, i64)>) -> Emergence {
    counts.sort_unstable_by_key(|(day, id, _)| (*day, *id));
    let mut emergence: Emergence = Vec::new();
    let mut most = 0;
    for (day, _, up) in counts {
        if up > most {
            emergence.push((day, (up - most) as f64));
            most = up;
        }
    }
    emergence
}

impl Dates {
    /// The dates of a batch from its counts.
    #[must_use]
    pub fn of(rows: &[&EmergenceRow], batch: &BatchRow, usual_days: i64) -> Self {
        let mut cells: HashMap<i64, Vec<(Day, i64, i64)>> = HashMap::new();
        let mut whole: Vec<(Day, i64, i64)> = Vec::new();
        for row in rows {
            match row.cell {
                Some(cell) => cells
                    .entry(cell)
                    .or_default()
                    .push((row.day, row.id, row.up)),
                None => whole.push((row.day, row.id, row.up)),
            }
        }
        let newest_of = |counts: &[(Day, i64, i64)]| {
            counts
                .iter()
                .max_by_key(|(day, id, _)| (*day, *id))
                .map(|(_, _, up)| *up)
        };
        let in_cells =
            (!cells.is_empty()).then(|| cells.values().filter_map(|c| newest_of(c)).sum::<i64>());
        let up = newest_of(&whole).into_iter().chain(in_cells).max();
        let by_cell: HashMap<i64, Emergence> = cells
            .into_iter()
            .map(|(cell, counts)| (cell, rises(counts)))
            .filter(|(_, e)| !e.is_empty())
            .collect();
        let mut emergence = rises(whole);
        if emergence.is_empty() {
            let mut days: BTreeMap<Day, f64> = BTreeMap::new();
            for (day, weight) in by_cell.values().flatten() {
                *days.entry(*day).or_default() += weight;
            }
            emergence = days.into_iter().collect();
        }
        let guessed = emergence.is_empty();
        Self {
            by_cell,
            batch: emergence,
            fallback: batch.day.forward(usual_days),
            guessed,
            up,
        }
    }

    /// The dates of a seedling in a cell whose first reading was on `first`.
    #[must_use]
    pub fn of_cell(&self, cell: Option<i64>, first: Day) -> Emergence {
        match cell.and_then(|cell| self.by_cell.get(&cell)) {
            // A cell's own dates stand even where a reading is older: its age is then 0.
            Some(own) if own.iter().all(|(day, _)| *day > first) => self.until(own, None),
            Some(own) => self.until(own, Some(first)),
            None => self.until(&self.batch, Some(first)),
        }
    }

    /// The dates of the batch, as far as a day can tell.
    #[must_use]
    pub fn of_batch(&self, newest: Option<Day>) -> Emergence {
        self.until(&self.batch, newest)
    }

    /// Leaves out the dates after a day; where none is left the usual days serve.
    fn until(&self, emergence: &Emergence, last: Option<Day>) -> Emergence {
        let kept: Vec<(Day, f64)> = emergence
            .iter()
            .copied()
            .filter(|(day, _)| last.is_none_or(|last| *day <= last))
            .collect();
        let total: f64 = kept.iter().map(|(_, weight)| weight).sum();
        if total > 0.0 {
            kept.into_iter()
                .map(|(day, weight)| (day, weight / total))
                .collect()
        } else {
            vec![(self.fallback, 1.0)]
        }
    }
}
