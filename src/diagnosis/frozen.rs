//! The count before the pulling, in the place of those made after it.
//!
//! Takes out of the facts what was counted of a trait after seedlings had been pulled for their looks, wherever the same
//! place was counted before. Made for counting alone: what seedlings are rests on everything. Called where counts are held
//! against a ratio or a model.

use std::collections::{BTreeMap, HashSet};

use super::index::Index;
use super::pulling::{cell_of, is_for_looks, placed};
use crate::records::change::RowChange;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{FateRow, Row, TallyRow};
use crate::records::tray::Tray;

/// The facts to count by.
#[derive(Debug, Clone, Default)]
pub struct Frozen {
    /// The facts without what was counted too late; nothing where all may stay.
    pub facts: Option<Facts>,
    /// For each tray of which something is left out: since when, and how many seedlings that counted.
    pub trays: BTreeMap<i64, LeftOut>,
}

/// What was counted after seedlings had been pulled for their looks, and is left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LeftOut {
    /// The first day of the pulling.
    pub pulled: Day,
    /// How many seedlings the newest of what is left out counted.
    pub counted: u64,
}

/// The facts by which seedlings are counted in a trait, or in several at once: of each place the count before the first
/// pulling for looks, where there is one.
#[must_use]
pub fn counted_before_pulling(facts: &Facts, traits: &[i64]) -> Frozen {
    let index = Index::with_runts(facts);
    let mut frozen = Frozen::default();
    let mut out: Vec<RowChange> = Vec::new();
    for batch in &facts.batch {
        let fates = index.fates_of(batch.id).iter().copied();
        let pulled: Vec<&FateRow> = fates
            .filter(|fate| {
                let mut traits = traits.iter();
                traits.any(|of| is_for_looks(&index, fate, *of))
            })
            .collect();
        let Some(tray) = Tray::of(facts, batch.id).filter(|_| !pulled.is_empty()) else {
            continue;
        };
        let place = Places {
            facts,
            index: &index,
            tray,
            pulled,
            traits,
        };
        let (rows, counted) = place.too_late();
        if let Some(pulled) = place.pulled.iter().map(|fate| fate.day).min()
            && !rows.is_empty()
        {
            out.extend(rows);
            frozen.trays.insert(batch.id, LeftOut { pulled, counted });
        }
    }
    if !out.is_empty() {
        let mut counted = facts.clone();
        out.iter().for_each(|change| counted.apply(change));
        frozen.facts = Some(counted);
    }
    frozen
}

/// A tray with its pullings.
struct Places<'a> {
    facts: &'a Facts,
    index: &'a Index<'a>,
    tray: Tray<'a>,
    pulled: Vec<&'a FateRow>,
    traits: &'a [i64],
}

impl<'a> Places<'a> {
    /// The rows that are left out, and how many seedlings the newest of them counted.
    fn too_late(&self) -> (Vec<RowChange>, u64) {
        let mut cells: Vec<Option<i64>> = self.tallies().map(|tally| tally.cell).collect();
        cells.sort_unstable();
        cells.dedup();
        let (mut rows, mut newest) = (Vec::new(), BTreeMap::<Day, i64>::new());
        for cell in cells {
            let Some(first) = self.first_pulled(cell) else {
                continue;
            };
            let here = || self.tallies().filter(|tally| tally.cell == cell);
            let earlier = here().any(|tally| tally.day < first);
            let is_late = |tally: &&TallyRow| {
                let on_the_day = || {
                    let before = placed(self.index, tally).before;
                    earlier || self.pulled.iter().any(|fate| before.contains(&fate.id))
                };
                tally.day > first || tally.day == first && on_the_day()
            };
            if here().all(|tally| is_late(&tally)) {
                continue;
            }
            for tally in here().filter(is_late) {
                *newest.entry(tally.day).or_default() += self.tray.tally_total(tally);
                rows.push(RowChange::delete(Row::from(tally.clone())));
            }
            rows.extend(self.tallies_of_others(cell, first));
            rows.extend(self.readings_beside(cell, first, &mut newest));
        }
        let counted = newest.values().next_back().copied().unwrap_or(0);
        (rows, counted.unsigned_abs())
    }

    /// Tallies that count all of the traits.
    fn tallies(&self) -> impl Iterator<Item = &'a TallyRow> {
        let counts = |tally: &&TallyRow| {
            let looks = self.index.looks_of(tally.id);
            let classes = || looks.iter().flat_map(|(_, classes)| classes.iter());
            let is_read = |of: &i64| classes().any(|class| class.trait_id == Some(*of));
            self.traits.iter().all(is_read)
        };
        self.index
            .tallies_of(self.tray.batch.id)
            .iter()
            .copied()
            .filter(counts)
    }

    /// Tallies of a place that count other traits alone after the pulling: as the newest they would stand in the place of the
    /// one before it.
    fn tallies_of_others(&self, cell: Option<i64>, first: Day) -> Vec<RowChange> {
        let own: HashSet<i64> = self.tallies().map(|tally| tally.id).collect();
        let all = self.index.tallies_of(self.tray.batch.id).iter();
        let others = all.filter(|tally| tally.cell == cell && tally.day > first);
        others
            .filter(|tally| !own.contains(&tally.id))
            .map(|tally| RowChange::delete(Row::from((*tally).clone())))
            .collect()
    }

    /// The first day on which seedlings of a place were pulled for their looks that had no reading of their own by then.
    fn first_pulled(&self, cell: Option<i64>) -> Option<Day> {
        let here = |fate: &&&FateRow| {
            let own = cell_of(self.index, fate);
            cell.is_none() || own.is_none() || own == cell
        };
        let days = self.pulled.iter().filter(here).map(|fate| fate.day);
        days.min()
    }

    /// Readings of single seedlings of a place that would set its tally aside, where none was made before the pulling and
    /// not all that were pulled are among them.
    fn readings_beside(
        &self,
        cell: Option<i64>,
        first: Day,
        newest: &mut BTreeMap<Day, i64>,
    ) -> Vec<RowChange> {
        let plants = self.index.seedlings_of(self.tray.batch.id).iter();
        let here: HashSet<i64> = plants
            .filter(|plant| cell.is_none() || plant.cell == cell)
            .map(|plant| plant.id)
            .collect();
        let readings: Vec<_> = (self.facts.reading.iter())
            .filter(|row| here.contains(&row.plant_id))
            .collect();
        let missed = |fate: &&FateRow| {
            let read = |plant: i64| readings.iter().any(|row| row.plant_id == plant);
            fate.plant_id.is_none_or(|plant| !read(plant))
        };
        if readings.iter().any(|row| row.day <= first) || !self.pulled.iter().any(missed) {
            return Vec::new();
        }
        let plants: HashSet<i64> = readings.iter().map(|row| row.plant_id).collect();
        if let Some(day) = readings.iter().map(|row| row.day).max() {
            *newest.entry(day).or_default() += i64::try_from(plants.len()).unwrap_or(0);
        }
        let rows = readings.into_iter();
        rows.map(|row| RowChange::delete(Row::from(row.clone())))
            .collect()
    }
}
