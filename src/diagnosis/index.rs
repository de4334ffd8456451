//! The rows of the ledger by the thing they belong to, so that each batch is looked up once.
//!
//! Sorted once per question; what counts as evidence is decided next door.

use std::collections::HashMap;

use crate::records::facts::Facts;
use crate::records::rows::{
    EmergenceRow, FateRow, PlantRow, ReadingRow, TallyClassRow, TallyLookRow, TallyRow,
};

use super::runts::Runts;

/// The rows of the ledger by the thing they belong to, so that each batch is looked up once.
#[derive(Debug)]
pub struct Index<'a> {
    /// The facts.
    pub facts: &'a Facts,
    seedlings: HashMap<i64, Vec<&'a PlantRow>>,
    readings: HashMap<i64, Vec<&'a ReadingRow>>,
    /// Readings from after a plant was recorded as gone, with what had become of it.
    when_gone: HashMap<i64, Vec<(&'a ReadingRow, &'a FateRow)>>,
    /// Which looks are of the growth of seedlings of crosses between species, and so no evidence.
    pub(super) runts: Runts,
    /// Readings of such looks, by the plant.
    of_runts: HashMap<i64, Vec<&'a ReadingRow>>,
    tallies: HashMap<i64, Vec<&'a TallyRow>>,
    tally_looks: HashMap<i64, Vec<&'a TallyLookRow>>,
    tally_classes: HashMap<i64, Vec<&'a TallyClassRow>>,
    emergences: HashMap<i64, Vec<&'a EmergenceRow>>,
    fates: HashMap<i64, Vec<&'a FateRow>>,
    pub(super) fate_classes: HashMap<i64, Vec<(i64, i64)>>,
}

fn by<'a, R, K: std::hash::Hash + Eq>(
    rows: impl IntoIterator<Item = &'a R>,
    key: impl Fn(&R) -> K,
) -> HashMap<K, Vec<&'a R>> {
    let mut map: HashMap<K, Vec<&'a R>> = HashMap::new();
    for row in rows {
        map.entry(key(row)).or_default().push(row);
    }
    map
}

fn of<R>(map: &HashMap<i64, Vec<R>>, id: i64) -> &[R] {
    map.get(&id).map_or(&[], Vec::as_slice)
}

/// How each plant went that did, by the first record of it.
fn first_gone(facts: &Facts) -> HashMap<i64, &FateRow> {
    let mut first: HashMap<i64, &FateRow> = HashMap::new();
    for row in facts.fate.iter().filter(|row| row.kind.is_gone()) {
        let Some(plant) = row.plant_id else {
            continue;
        };
        let slot = first.entry(plant).or_insert(row);
        if (row.day, row.id) < (slot.day, slot.id) {
            *slot = row;
        }
    }
    first
}

impl<'a> Index<'a> {
    /// Sorts the facts as evidence of what seedlings are: looks of growth stay out in crosses between species.
    #[must_use]
    pub fn new(facts: &'a Facts) -> Self {
        Self::sorted(facts, Runts::of(facts))
    }

    /// Sorts the facts, looks of growth in crosses between species like any other.
    #[must_use]
    pub fn with_runts(facts: &'a Facts) -> Self {
        Self::sorted(facts, Runts::default())
    }

    fn sorted(facts: &'a Facts, runts: Runts) -> Self {
        let mut fate_classes: HashMap<i64, Vec<(i64, i64)>> = HashMap::new();
        for row in &facts.fate_class {
            fate_classes
                .entry(row.fate_id)
                .or_default()
                .push((row.trait_id, row.class_id));
        }
        let mut tally_looks = by(&facts.tally_look, |row| row.tally_id);
        for looks in tally_looks.values_mut() {
            looks.sort_by_key(|look| look.ord);
        }
        let mut when_gone: HashMap<i64, Vec<(&ReadingRow, &FateRow)>> = HashMap::new();
        let mut readings = by(&facts.reading, |row| row.plant_id);
        let of_runts = runts.take_readings(facts, &mut readings);
        for (plant, fate) in first_gone(facts) {
            let Some(rows) = readings.get_mut(&plant) else {
                continue;
            };
            let late: Vec<_> = rows.extract_if(.., |row| row.day > fate.day).collect();
            if !late.is_empty() {
                when_gone.insert(plant, late.into_iter().map(|row| (row, fate)).collect());
            }
        }
        let tally_classes = by(&facts.tally_class, |row| row.look_id);
        let mut tallies = by(&facts.tally, |row| row.batch_id);
        runts.drop_tallies(&mut tallies, &tally_looks, &tally_classes);
        Self {
            facts,
            when_gone,
            seedlings: by(facts.plant.iter().filter(|p| p.batch_id.is_some()), |p| {
                p.batch_id.unwrap_or_default()
            }),
            readings,
            tallies,
            tally_looks,
            tally_classes,
            runts,
            of_runts,
            emergences: by(&facts.emergence, |row| row.batch_id),
            fates: by(&facts.fate, |row| row.batch_id),
            fate_classes,
        }
    }

    /// The readings of a plant from after it was recorded as gone; they are not among the others.
    #[must_use]
    pub fn readings_when_gone(&self, plant_id: i64) -> &[(&'a ReadingRow, &'a FateRow)] {
        of(&self.when_gone, plant_id)
    }

    /// The readings of a plant's growth that are no evidence, since it is of a cross between species.
    #[must_use]
    pub fn readings_of_runt(&self, plant_id: i64) -> &[&'a ReadingRow] {
        of(&self.of_runts, plant_id)
    }

    /// The readings of a plant up to the day it went.
    #[must_use]
    pub fn readings_of(&self, plant_id: i64) -> &[&'a ReadingRow] {
        of(&self.readings, plant_id)
    }

    /// The seedlings of a batch that were mentioned.
    #[must_use]
    pub fn seedlings_of(&self, batch_id: i64) -> &[&'a PlantRow] {
        of(&self.seedlings, batch_id)
    }

    /// The tallies of a batch or its cells.
    #[must_use]
    pub fn tallies_of(&self, batch_id: i64) -> &[&'a TallyRow] {
        of(&self.tallies, batch_id)
    }

    /// The looks of a tally with their classes.
    #[must_use]
    pub fn looks_of(&self, tally_id: i64) -> Vec<(&'a TallyLookRow, &[&'a TallyClassRow])> {
        of(&self.tally_looks, tally_id)
            .iter()
            .map(|look| (*look, of(&self.tally_classes, look.id)))
            .collect()
    }

    /// What became of the seedlings of a batch.
    #[must_use]
    pub fn fates_of(&self, batch_id: i64) -> &[&'a FateRow] {
        of(&self.fates, batch_id)
    }

    /// The emergence counts of a batch and its cells.
    #[must_use]
    pub fn emergences_of(&self, batch_id: i64) -> &[&'a EmergenceRow] {
        of(&self.emergences, batch_id)
    }
}
