//! How much of the seed comes up, by the ledger's own counts.
//!
//! Counts of the cross itself go first, then those of seed of the same mother, of her species, of the whole ledger.
//! Sowings that may still come up are left out. Asked by `plan`.

use crate::records::code::fold;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::BatchRow;
use crate::records::tray::Tray;
use crate::stats::begun::Begun;

/// Fewest seeds sown that counts are taken from, before those of a wider circle are (design choice).
pub const ENOUGH_SEEDS: i64 = 12;

/// Days after which what has not come up is not waited for: of *annuum*, and of others (design choice).
pub const WINDOWS: [i64; 2] = [28, 42];

/// Whose counts they are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Circle {
    /// Those of the cross itself.
    Cross,
    /// Those of all seed of its mother.
    Mother,
    /// Those of all seed of mothers of her species.
    Species,
    /// Those of the whole ledger.
    Ledger,
}

/// Counts of seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counts {
    /// Whose.
    pub circle: Circle,
    /// In how many sowings.
    pub sowings: usize,
    /// Seeds sown.
    pub sown: i64,
    /// Of those up.
    pub up: i64,
}

impl Counts {
    /// Every germination equally likely beforehand: Beta(1 + up, 1 + sown - up).
    #[must_use]
    pub fn begun(&self) -> Begun {
        from_counts(self.up as u64, self.sown as u64)
    }
}

/// The posterior of a germination of which counts are known, from the uniform prior.
#[must_use]
pub fn from_counts(up: u64, sown: u64) -> Begun {
    Begun::Counted {
        a: 1.0 + up as f64,
        b: 1.0 + sown.saturating_sub(up) as f64,
    }
}

/// The counts nearest to a cross that rest on [`ENOUGH_SEEDS`], else the widest there are; nothing where nobody
/// counted anything.
#[must_use]
pub fn counts_for(facts: &Facts, cross: Option<i64>, mother: i64, today: Day) -> Option<Counts> {
    let species = species_of(facts, mother);
    let circles = [
        Circle::Cross,
        Circle::Mother,
        Circle::Species,
        Circle::Ledger,
    ];
    let mut widest = None;
    for circle in circles {
        let belongs = |batch: &BatchRow| match circle {
            Circle::Cross => cross.is_some() && batch.cross_id == cross,
            Circle::Mother => mother_of(facts, batch) == Some(mother),
            Circle::Species => {
                !species.is_empty()
                    && mother_of(facts, batch).is_some_and(|one| species_of(facts, one) == species)
            }
            Circle::Ledger => true,
        };
        let mut counts = Counts {
            circle,
            sowings: 0,
            sown: 0,
            up: 0,
        };
        for batch in facts.batch.iter().filter(|batch| belongs(batch)) {
            if let Some(up) = settled(facts, batch, today) {
                counts.sowings += 1;
                counts.sown += batch.seeds;
                counts.up += up.min(batch.seeds);
            }
        }
        if counts.sown >= ENOUGH_SEEDS {
            return Some(counts);
        }
        if counts.sown > 0 {
            widest = Some(counts);
        }
    }
    widest
}

/// How many of a sowing are up, where it was counted and no more are waited for.
fn settled(facts: &Facts, batch: &BatchRow, today: Day) -> Option<i64> {
    let tray = Tray::of(facts, batch.id)?;
    let up = tray.up_by(today)?;
    let species = mother_of(facts, batch).map(|mother| species_of(facts, mother));
    let [annuum, other] = WINDOWS;
    let window = match species.as_deref() {
        Some(species) if species == "annuum" || species.ends_with(" annuum") => annuum,
        _ => other,
    };
    let waited = today.since(batch.day);
    (up >= batch.seeds || waited >= window).then_some(up)
}

fn mother_of(facts: &Facts, batch: &BatchRow) -> Option<i64> {
    match batch.cross_id {
        Some(cross) => facts.cross.get(cross).map(|row| row.mother_id),
        None => batch.plant_id,
    }
}

fn species_of(facts: &Facts, plant: i64) -> String {
    let row = facts.plant.get(plant);
    row.map_or_else(String::new, |row| fold(row.species.trim()))
}
