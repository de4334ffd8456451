//! Looks of growth in a cross between species: a dwarf may be the true hybrid, so what was read of it says nothing of its
//! label.
//!
//! The index leaves them out of all evidence by what is said here; the tray's answer names them. What is counted for its own
//! sake, a ratio, does not ask.

use std::collections::{HashMap, HashSet};

use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, ReadingRow, TallyClassRow, TallyLookRow, TallyRow};
use crate::records::species::{DWARF_TRAIT, dwarf_trait, is_wide_batch};

use super::answer::EvidenceNote;
use super::index::Index;

/// Which looks are no evidence: those of one trait in some batches.
#[derive(Debug, Default)]
pub struct Runts {
    of: Option<i64>,
    batches: HashSet<i64>,
}

impl Runts {
    /// Of a ledger: the dwarf trait in every batch of a cross between species.
    #[must_use]
    pub fn of(facts: &Facts) -> Self {
        let Some(of) = dwarf_trait(facts).filter(|of| is_read(facts, *of)) else {
            return Self::default();
        };
        let wide = facts.batch.iter().filter(|row| is_wide_batch(facts, row));
        Self {
            of: Some(of),
            batches: wide.map(|row| row.id).collect(),
        }
    }

    /// Whether a look of a trait in a batch is no evidence.
    #[must_use]
    pub fn keeps_out(&self, batch: i64, trait_id: Option<i64>) -> bool {
        trait_id.is_some() && trait_id == self.of && self.batches.contains(&batch)
    }

    /// Takes the readings that are no evidence from among the others.
    #[must_use]
    pub fn take_readings<'a>(
        &self,
        facts: &Facts,
        readings: &mut HashMap<i64, Vec<&'a ReadingRow>>,
    ) -> HashMap<i64, Vec<&'a ReadingRow>> {
        let mut taken = HashMap::new();
        if self.batches.is_empty() {
            return taken;
        }
        for (plant, rows) in readings.iter_mut() {
            let batch = facts.plant.get(*plant).and_then(|row| row.batch_id);
            let out = |row: &mut &ReadingRow| {
                batch.is_some_and(|batch| self.keeps_out(batch, row.trait_id))
            };
            let own: Vec<_> = rows.extract_if(.., out).collect();
            if !own.is_empty() {
                taken.insert(*plant, own);
            }
        }
        readings.retain(|_, rows| !rows.is_empty());
        taken
    }

    /// Drops the tallies that counted nothing else, which would stand in the place of older ones.
    pub fn drop_tallies(
        &self,
        tallies: &mut HashMap<i64, Vec<&TallyRow>>,
        looks: &HashMap<i64, Vec<&TallyLookRow>>,
        classes: &HashMap<i64, Vec<&TallyClassRow>>,
    ) {
        for batch in &self.batches {
            let Some(rows) = tallies.get_mut(batch) else {
                continue;
            };
            rows.retain(|tally| {
                let of_tally = looks.get(&tally.id).into_iter().flatten();
                let mut seen =
                    of_tally.flat_map(|look| classes.get(&look.id).into_iter().flatten());
                let is_other = |class: &&TallyClassRow| !self.keeps_out(*batch, class.trait_id);
                seen.clone().next().is_none() || seen.any(is_other)
            });
        }
    }
}

fn is_read(facts: &Facts, of: i64) -> bool {
    facts.reading.iter().any(|row| row.trait_id == Some(of))
        || facts.tally_class.iter().any(|row| row.trait_id == Some(of))
}

/// The seedlings of a batch of whose growth something was read that is no evidence.
#[must_use]
pub fn runts_left_out(index: &Index<'_>, batch: &BatchRow) -> Option<EvidenceNote> {
    let facts = index.facts;
    let read = |plant: &i64| !index.readings_of_runt(*plant).is_empty();
    let plants = index.seedlings_of(batch.id).iter();
    let mut rows: Vec<_> = plants.filter(|row| read(&row.id)).collect();
    rows.sort_by_key(|row| (row.cell, row.part.clone(), row.id));
    let name = |row: &&crate::records::rows::PlantRow| facts.place_label(row);
    let counted = facts.tally.iter().filter(|row| row.batch_id == batch.id);
    let in_tallies = counted
        .flat_map(|row| index.looks_of(row.id))
        .any(|(_, classes)| {
            let mut classes = classes.iter();
            classes.any(|class| index.runts.keeps_out(batch.id, class.trait_id))
        });
    let whose: Vec<String> = rows.iter().map(|row| name(row)).collect();
    (!whose.is_empty() || in_tallies).then(|| EvidenceNote::RuntsLeftOut {
        trait_code: DWARF_TRAIT.to_owned(),
        whose,
        in_tallies,
    })
}
