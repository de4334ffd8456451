//! How much of the seed comes up, by the ledger's own counts.
//!
//! Counts of the cross itself go first, then those of seed of the same mother, of her species, of the whole ledger.
//! Sowings of which more may come, or may have come since they were last counted, are left out, and of one seed stock those
//! older ones that came up otherwise than the newer. Asked by `plan`.

use std::collections::BTreeMap;

use crate::growing::grouping::species_of;
use crate::growing::trays::TrayCount;
use crate::growing::window::Hope;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::BatchRow;
use crate::stats::begun::Begun;
use crate::stats::two_by_two::{Part, fisher_exact};

/// Fewest seeds sown that counts are taken from, before those of a wider circle are (design choice).
pub const ENOUGH_SEEDS: u64 = 12;

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

/// From the nearest to the widest.
const CIRCLES: [Circle; 4] = [
    Circle::Cross,
    Circle::Mother,
    Circle::Species,
    Circle::Ledger,
];

/// Counts of seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counts {
    /// Whose.
    pub circle: Circle,
    /// In how many sowings.
    pub sowings: usize,
    /// Seeds sown.
    pub sown: u64,
    /// Of those up.
    pub up: u64,
    /// Older sowings of the same seed that came up otherwise, and are left out.
    pub older: Older,
}

/// Older sowings that came up otherwise.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Older {
    /// How many sowings.
    pub sowings: usize,
    /// Seeds sown.
    pub sown: u64,
    /// Of those up.
    pub up: u64,
}

/// With a smaller p of Fisher's exact test older sowings came up otherwise than the newer (design choice).
const OTHERWISE: f64 = 0.05;

impl Counts {
    /// Every germination equally likely beforehand: Beta(1 + up, 1 + sown - up).
    #[must_use]
    pub fn begun(&self) -> Begun {
        from_counts(self.up, self.sown)
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

/// Which seed is sown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sown {
    /// That of the cross, or with nothing that of a parent's own pods: its mother bears it.
    Itself(Option<i64>),
    /// That of a later generation: her descendants bear it.
    Later,
}

/// Every sowing that was counted to its end.
#[derive(Debug, Clone)]
pub struct Counted(Vec<CountedSowing>);

#[derive(Debug, Clone)]
struct CountedSowing {
    cross: Option<i64>,
    mother: Option<i64>,
    species: Option<String>,
    on: Day,
    sown: u64,
    up: u64,
}

/// The counts nearest to some seed; see [`Counted::nearest`].
#[must_use]
pub fn counts_for(facts: &Facts, seed: Sown, mother: i64, today: Day) -> Option<Counts> {
    Counted::of(facts, today).nearest(facts, seed, mother)
}

impl Counted {
    /// Those sowings that were counted and of which no more is waited for.
    #[must_use]
    pub fn of(facts: &Facts, today: Day) -> Self {
        let sowing = |batch: &BatchRow| {
            let count = TrayCount::of(facts, batch, today, None)?;
            let mother = mother_of(facts, batch);
            (count.counted.is_some() && count.is_settled()).then(|| CountedSowing {
                cross: batch.cross_id,
                mother,
                species: mother.and_then(|mother| species_of(facts, mother)),
                on: count.sown_on,
                sown: count.sown,
                up: count.up,
            })
        };
        Self(facts.batch.iter().filter_map(sowing).collect())
    }

    /// The counts nearest to some seed that rest on [`ENOUGH_SEEDS`], else the widest there are; nothing where nobody
    /// counted anything to its end. Seed of a later generation is borne by another plant than the mother, so that at best
    /// counts of her species are near it.
    #[must_use]
    pub fn nearest(&self, facts: &Facts, seed: Sown, mother: i64) -> Option<Counts> {
        let species = species_of(facts, mother);
        let (cross, circles): (_, &[Circle]) = match seed {
            Sown::Itself(cross) => (cross, &CIRCLES),
            Sown::Later => (None, &CIRCLES[2..]),
        };
        let mut widest = None;
        for circle in circles.iter().copied() {
            let belongs = |sowing: &&CountedSowing| match circle {
                Circle::Cross => cross.is_some() && sowing.cross == cross,
                Circle::Mother => sowing.mother == Some(mother),
                Circle::Species => species.is_some() && sowing.species == species,
                Circle::Ledger => true,
            };
            let counts = added_up(circle, self.0.iter().filter(belongs));
            if counts.sown >= ENOUGH_SEEDS {
                return Some(counts);
            }
            if counts.sown > 0 {
                widest = Some(counts);
            }
        }
        widest
    }
}

fn mother_of(facts: &Facts, batch: &BatchRow) -> Option<i64> {
    match batch.cross_id {
        Some(cross) => facts.cross.get(cross).map(|row| row.mother_id),
        None => batch.plant_id,
    }
}

/// Sowings taken together: of one seed stock the newest, back to the first that came up otherwise than those after it
/// together.
fn added_up<'s>(circle: Circle, sowings: impl Iterator<Item = &'s CountedSowing>) -> Counts {
    let mut by_day: BTreeMap<Day, Older> = BTreeMap::new();
    for one in sowings {
        by_day.entry(one.on).or_default().add(1, one.sown, one.up);
    }
    let (mut newer, mut older) = (Older::default(), Older::default());
    for (_, one) in by_day.into_iter().rev() {
        let is_otherwise = is_one_stock(circle)
            && newer.sown > 0
            && fisher_exact(newer.part(), one.part()) < OTHERWISE;
        match is_otherwise || older.sowings > 0 {
            true => older.add(one.sowings, one.sown, one.up),
            false => newer.add(one.sowings, one.sown, one.up),
        }
    }
    Counts {
        circle,
        sowings: newer.sowings,
        sown: newer.sown,
        up: newer.up,
        older,
    }
}

/// Whether all seed of a circle is of one plant's pods, so that age alone sets sowings apart; those of several differ
/// anyhow.
const fn is_one_stock(circle: Circle) -> bool {
    matches!(circle, Circle::Cross | Circle::Mother)
}

impl Older {
    fn add(&mut self, sowings: usize, sown: u64, up: u64) {
        self.sowings += sowings;
        self.sown += sown;
        self.up += up;
    }

    fn part(self) -> Part {
        Part::new(self.up, self.sown)
    }
}

/// Trays of a cross whose wait is over but that nobody counted near its end: what came of them is not known.
#[must_use]
pub fn counted_early(facts: &Facts, cross: i64, today: Day) -> Vec<String> {
    let of_it = facts.batch.iter();
    let of_it = of_it.filter(|batch| batch.cross_id == Some(cross));
    let counts = of_it.filter_map(|batch| TrayCount::of(facts, batch, today, None));
    let early =
        counts.filter(|count| count.counted.is_some() && count.outlook.hope == Hope::CountedEarly);
    early.map(|count| count.tray).collect()
}
