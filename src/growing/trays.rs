//! What came up in one tray: the counts by day, what stands now, when nothing more is to be hoped for.
//!
//! Reads the rows up to a day and judges nothing. Two counts that differ are kept apart: up so far, which never falls,
//! and standing now, which is less those pulled or dead.

use std::collections::{BTreeMap, HashSet};

use super::grouping::{pair_label, species_pair, stock_label};
use super::lots::{SownLot, sown_lots};
use super::window::{Hope, Outlook, Seen, Warmth, outlook};
use crate::records::day::Day;
use crate::records::descent::label_parents;
use crate::records::facts::Facts;
use crate::records::rows::BatchRow;
use crate::records::tray::Tray;
use crate::records::warmth::{SoilWarmth, warmth_of};
use crate::stats::arrivals::Arrivals;
use crate::stats::two_by_two::Part;

/// How one tray came up.
#[derive(Debug, Clone)]
pub struct TrayCount {
    /// The batch.
    pub batch_id: i64,
    /// Its code.
    pub tray: String,
    /// The cross or parent sown.
    pub of: String,
    /// Mother and father, where the ledger knows them: `CW x NL`.
    pub pair: Option<String>,
    /// The plants themselves.
    pub parents: Option<(i64, i64)>,
    /// Their species.
    pub species: [Option<String>; 2],
    /// The day of sowing.
    pub sown_on: Day,
    /// Seeds sown.
    pub sown: u64,
    /// How many came up so far, pulled and dead ones included.
    pub up: u64,
    /// Whether more were counted than were sown; then all sown count as up.
    pub more_than_sown: bool,
    /// How many have a reading of their own or stand in a tally.
    pub seen: u64,
    /// The day of the last count; nothing where nobody counted.
    pub counted: Option<Day>,
    /// The last day on which anybody saw how many were up: that of a count, or the day by which all of them were scored.
    pub last_seen: Option<Day>,
    /// How many stand now.
    pub standing: u64,
    /// The counts by days after sowing.
    pub arrivals: Arrivals,
    /// The lots it was sown from.
    pub lots: Vec<SownLot>,
    /// How warm the soil is by what was recorded.
    pub recorded_warmth: Option<SoilWarmth>,
    /// What is to be hoped of those not up.
    pub outlook: Outlook,
}

impl TrayCount {
    /// How a tray came up by a day; in soil as warm as given, else as recorded.
    #[must_use]
    pub fn of(facts: &Facts, batch: &BatchRow, on: Day, warmth: Option<Warmth>) -> Option<Self> {
        let tray = Tray::of(facts, batch.id)?;
        let sown = whole(batch.seeds);
        let seen = seen_by(facts, &tray, on);
        let mut counts = counts_by(facts, &tray, on);
        let counted = counts.last_key_value().map(|(day, _)| *day);
        // What was scored without having been counted came up all the same.
        if let (Some((_, up)), Some(day)) = (counts.last_key_value(), newest_look(facts, &tray, on))
            && seen > *up
        {
            counts.insert(day.max(counted.unwrap_or(day)), seen);
        }
        let highest = counts.values().copied().max().unwrap_or(0);
        let up = highest.min(sown);
        let by_age: Vec<(f64, u64)> = counts
            .iter()
            .map(|(day, up)| (day.since(batch.day) as f64, (*up).min(sown)))
            .collect();
        let scored = (seen > 0 && seen >= up).then(|| all_scored(facts, &tray, on));
        let last_seen = counted.max(scored.flatten());
        let parents = label_parents(facts, batch);
        let species = parents.map_or([None, None], |pair| species_pair(facts, pair));
        let seen_of_sown = Seen {
            up,
            sown,
            last: last_seen,
        };
        let standing = tray.standing_by(None, on);
        let recorded_warmth = warmth_of(facts, batch, on);
        let recorded = recorded_warmth.and_then(|soil| Warmth::new(soil.celsius).ok());
        let warmth = warmth.or(recorded);
        Some(Self {
            batch_id: batch.id,
            tray: tray.label().to_owned(),
            of: stock_label(facts, batch),
            pair: parents.map(|pair| pair_label(facts, pair)),
            parents,
            sown_on: batch.day,
            sown,
            up,
            more_than_sown: highest > sown,
            seen,
            counted,
            last_seen,
            standing: if counted.is_some() || seen > 0 {
                whole(standing)
            } else {
                0
            },
            arrivals: Arrivals::of(sown, &by_age),
            lots: sown_lots(facts, batch),
            outlook: outlook(facts, &species, batch.day, on, seen_of_sown, warmth),
            recorded_warmth,
            species,
        })
    }

    /// Up of sown.
    #[must_use]
    pub fn part(&self) -> Part {
        Part::new(self.up, self.sown)
    }

    /// Whether nothing more is waited for: all is up, or somebody counted near the end of the window, and it is over.
    #[must_use]
    pub const fn is_settled(&self) -> bool {
        matches!(self.outlook.hope, Hope::AllUp | Hope::PastHope)
    }
}

/// A count of the ledger, which is never below zero but by records forced in.
fn whole(count: i64) -> u64 {
    u64::try_from(count).unwrap_or(0)
}

/// How many were up by each day on which anybody counted; what is dated before the sowing is left out.
fn counts_by(facts: &Facts, tray: &Tray, on: Day) -> BTreeMap<Day, u64> {
    let rows = facts.emergence.iter();
    let days = rows
        .filter(|row| row.batch_id == tray.batch.id)
        .map(|row| row.day)
        .filter(|day| *day >= tray.batch.day && *day <= on);
    days.map(|day| (day, whole(tray.up_by(day).unwrap_or(0))))
        .collect()
}

/// How many seedlings were seen by a day: read one by one, or counted by their looks with those gone by then.
fn seen_by(facts: &Facts, tray: &Tray, on: Day) -> u64 {
    let here: HashSet<i64> = tray.seedlings().iter().map(|plant| plant.id).collect();
    let read = facts
        .reading
        .iter()
        .filter(|row| row.day <= on && here.contains(&row.plant_id));
    let read: HashSet<i64> = read.map(|row| row.plant_id).collect();
    let tallied = |cell: Option<i64>| {
        let tally = tray.newest_tally(cell, on);
        tally.map_or(0, |tally| {
            tray.tally_total(tally) + tray.gone_by(cell, tally.day)
        })
    };
    let in_cells: i64 = tray
        .tallied_cells()
        .into_iter()
        .map(|cell| tallied(Some(cell)))
        .sum();
    whole(tallied(None).max(in_cells)).max(read.len() as u64)
}

/// The day by which every seedling that was ever looked at had been: the newest of their first readings, or of the
/// tallies.
fn all_scored(facts: &Facts, tray: &Tray, on: Day) -> Option<Day> {
    let here: HashSet<i64> = tray.seedlings().iter().map(|plant| plant.id).collect();
    let mut first: BTreeMap<i64, Day> = BTreeMap::new();
    let read = facts.reading.iter();
    for row in read.filter(|row| row.day <= on && here.contains(&row.plant_id)) {
        let known = first.entry(row.plant_id).or_insert(row.day);
        *known = row.day.min(*known);
    }
    let tallied = facts.tally.iter();
    let tallied = tallied.filter(|row| row.batch_id == tray.batch.id && row.day <= on);
    first.into_values().chain(tallied.map(|row| row.day)).max()
}

/// The day of the newest reading or tally by a day.
fn newest_look(facts: &Facts, tray: &Tray, on: Day) -> Option<Day> {
    let here: HashSet<i64> = tray.seedlings().iter().map(|plant| plant.id).collect();
    let read = facts.reading.iter();
    let read = read
        .filter(|row| here.contains(&row.plant_id))
        .map(|row| row.day);
    let tallied = facts.tally.iter();
    let tallied = tallied
        .filter(|row| row.batch_id == tray.batch.id)
        .map(|row| row.day);
    read.chain(tallied)
        .filter(|day| *day <= on && *day >= tray.batch.day)
        .max()
}
