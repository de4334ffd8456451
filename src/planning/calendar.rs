//! When to sow and to cross so that seed is ripe in time, and when seed is ripe that is sown now.
//!
//! A generation is four stretches of days: from sowing until seed is up, until the plant flowers, from pollination until
//! the seed is ripe, and until it is cleaned and dry. Each is a span from its fewest to its most days, by practice, as
//! typed, or of the grower's own records. Working back, the day by which a thing is safely done is that for the most
//! days of all that follows, the last that may still do that for the fewest. Asked by `plan calendar`.

use crate::genetics::ripening::ripe_from;
use crate::growing::grouping::species_of;
use crate::growing::trays::TrayCount;
use crate::records::assumptions::Assumptions;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{LotRow, PlantRow};

/// Where a span comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SpanFrom {
    /// What growers commonly find; no published source.
    Practice,
    /// The usual days to emergence of the starting beliefs, three quarters to one and a half times.
    Beliefs,
    /// It was typed.
    Typed,
    /// So many of the grower's own records.
    Own(usize),
    /// The sum of other spans.
    Sum,
}

/// A stretch of days, from the fewest to the most.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    /// The fewest days.
    pub fewest: i64,
    /// The most.
    pub most: i64,
    /// Where they come from.
    pub from: SpanFrom,
}

impl Span {
    const fn practice(fewest: i64, most: i64) -> Self {
        Self {
            fewest,
            most,
            from: SpanFrom::Practice,
        }
    }

    /// This and then another.
    #[must_use]
    pub const fn then(self, other: Self) -> Self {
        Self {
            fewest: self.fewest + other.fewest,
            most: self.most + other.most,
            from: SpanFrom::Sum,
        }
    }

    /// The span of own numbers; nothing of fewer than [`ENOUGH`].
    #[must_use]
    pub fn own(days: &[i64]) -> Option<Self> {
        (days.len() >= ENOUGH).then_some(Self {
            fewest: *days.iter().min()?,
            most: *days.iter().max()?,
            from: SpanFrom::Own(days.len()),
        })
    }
}

/// Fewest own records that are taken before those of practice (design choice): two say little of how far apart they
/// may be.
pub const ENOUGH: usize = 3;

/// How long the stretches of a generation take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pace {
    /// From sowing until seed is up.
    pub up: Span,
    /// From sowing until the first flower.
    pub flower: Span,
    /// From pollination until the seed is ripe.
    pub ripe: Span,
    /// From the ripe pod until seed is cleaned and dry.
    pub dry: Span,
}

/// Days from emergence to the first flower, then from pollination to ripe seed, by species. Common practice, no source;
/// of *annuum* the second are a design choice beside the common "about two months", and seed of one bell was of steady
/// weight from 8 weeks (Ruiz and Parera 2017, Rev. FCA UNCUYO 49(2):67-77, read).
const PRACTICE: [(&str, Span, Span); 5] = [
    ("annuum", Span::practice(50, 80), Span::practice(55, 65)),
    ("chinense", Span::practice(65, 100), Span::practice(60, 80)),
    (
        "frutescens",
        Span::practice(70, 110),
        Span::practice(60, 80),
    ),
    ("baccatum", Span::practice(65, 100), Span::practice(60, 80)),
    (
        "pubescens",
        Span::practice(75, 120),
        Span::practice(75, 100),
    ),
];

/// The same of wild species.
const WILD: (Span, Span) = (Span::practice(70, 130), Span::practice(50, 90));

/// Days of cleaning and drying: common practice, no source.
const DRYING: Span = Span::practice(7, 14);

/// How long things take as typed, where they were.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct TypedPace {
    /// From sowing until seed is up.
    pub up: Option<Span>,
    /// From sowing until the first flower.
    pub flower: Option<Span>,
    /// From pollination until the seed is ripe.
    pub ripe: Option<Span>,
    /// Until it is cleaned and dry.
    pub dry: Option<Span>,
}

/// The grower's own numbers of a species, in days.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct OwnDays {
    /// Tray by tray until half of what came up was.
    pub up: Vec<i64>,
    /// Plant by plant from sowing to the first pollination that it had a part in.
    pub flower: Vec<i64>,
    /// Harvest by harvest from the pollination; those without seed, and of pods picked young, left out.
    pub ripe: Vec<i64>,
}

/// The pace of a species: as typed, else by own records, else by practice.
#[must_use]
pub fn pace(species: &str, beliefs: &Assumptions, own: &OwnDays, typed: &TypedPace) -> Pace {
    let practice = PRACTICE.iter().find(|(word, ..)| *word == species);
    let (growing, ripe) = practice.map_or(WILD, |(_, growing, ripe)| (*growing, *ripe));
    let usual = match species {
        "annuum" => beliefs.days_annuum,
        _ => beliefs.days_other,
    };
    let believed = Span {
        fewest: (0.75 * usual).round() as i64,
        most: (1.5 * usual).round() as i64,
        from: SpanFrom::Beliefs,
    };
    let up = typed.up.or_else(|| Span::own(&own.up)).unwrap_or(believed);
    let flower = typed.flower.or_else(|| Span::own(&own.flower));
    Pace {
        up,
        flower: flower.unwrap_or_else(|| up.then(growing)),
        ripe: typed.ripe.or_else(|| Span::own(&own.ripe)).unwrap_or(ripe),
        dry: typed.dry.unwrap_or(DRYING),
    }
}

/// Longest that own records are apart, in days: beyond it the plant was kept over, or a date is wrong (design choice).
const LONGEST: i64 = 400;

/// A grower's own numbers of a species, up to a day.
#[must_use]
pub fn own_days(facts: &Facts, species: &str, on: Day) -> OwnDays {
    let is_of = |plant: i64| species_of(facts, plant).as_deref() == Some(species);
    let within = |days: &i64| (1..=LONGEST).contains(days);
    let trays = facts.batch.iter().filter(|batch| {
        let mother = match batch.cross_id {
            Some(cross) => facts.cross.get(cross).map(|row| row.mother_id),
            None => batch.plant_id,
        };
        batch.day <= on && mother.is_some_and(is_of)
    });
    let up = trays.filter_map(|batch| {
        let count = TrayCount::of(facts, batch, on, None)?;
        count.counted?;
        Some(count.arrivals.median_coolbear()?.round() as i64)
    });
    let plants = facts.plant.iter().filter(|plant| is_of(plant.id));
    let flower = plants.filter_map(|plant| {
        let sown = facts.batch.get(plant.batch_id?)?.day;
        Some(first_pollination(facts, plant, on)?.since(sown))
    });
    let harvests = facts.lot.iter().filter(|lot| lot.day <= on);
    let ripe = harvests.filter_map(|lot| {
        let mother = facts.cross.get(lot.cross_id?)?.mother_id;
        let from = pollinated(facts, lot)?;
        let days = lot.day.since(from);
        let is_ripe = lot.seeds != Some(0) && days >= ripe_from(species);
        (is_of(mother) && is_ripe).then_some(days)
    });
    OwnDays {
        up: up.filter(within).collect(),
        flower: flower.filter(within).collect(),
        ripe: ripe.filter(within).collect(),
    }
}

/// The first day on which a plant gave or took pollen.
fn first_pollination(facts: &Facts, plant: &PlantRow, on: Day) -> Option<Day> {
    let days = facts.pollination.iter().filter_map(|row| {
        let cross = facts.cross.get(row.cross_id)?;
        let has_part = cross.mother_id == plant.id || cross.father_id == plant.id;
        row.day.filter(|day| has_part && *day <= on)
    });
    days.min()
}

/// The pollination that a harvest came from: as said, else the only one of its cross.
fn pollinated(facts: &Facts, lot: &LotRow) -> Option<Day> {
    if lot.pollinated.is_some() {
        return lot.pollinated;
    }
    let rows = facts.pollination.iter();
    let mut of_it = rows.filter(|row| Some(row.cross_id) == lot.cross_id);
    match (of_it.next(), of_it.next()) {
        (Some(only), None) => only.day,
        _ => None,
    }
}

/// Two days: working back the safe one and the last that may do; working on the earliest and the latest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Between {
    /// The earlier.
    pub from: Day,
    /// The later.
    pub until: Day,
}

impl Between {
    /// A single day.
    #[must_use]
    pub const fn on(day: Day) -> Self {
        Self {
            from: day,
            until: day,
        }
    }

    /// Before a span: by the earlier day safely, by the later perhaps.
    #[must_use]
    pub fn before(self, span: Span) -> Self {
        Self {
            from: self.from.back(span.most),
            until: self.until.back(span.fewest),
        }
    }

    /// After a span.
    #[must_use]
    pub fn after(self, span: Span) -> Self {
        Self {
            from: self.from.forward(span.fewest),
            until: self.until.forward(span.most),
        }
    }
}

/// The days of one generation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GenerationDays {
    /// Sown.
    pub sow: Between,
    /// Up.
    pub up: Between,
    /// First flower, crossed or selfed.
    pub cross: Between,
    /// The pod ripe.
    pub ripe: Between,
    /// Seed dry.
    pub dry: Between,
}

impl GenerationDays {
    fn of(pace: &Pace, [sow, cross, ripe, dry]: [Between; 4]) -> Self {
        Self {
            sow,
            up: sow.after(pace.up),
            cross,
            ripe,
            dry,
        }
    }
}

/// The days of some generations in a row so that the last one's seed is dry on a day, the first one first. The days on
/// which seed is up are those of seed sown between the two days of sowing.
#[must_use]
pub fn back_from(day: Day, pace: &Pace, generations: u32) -> Vec<GenerationDays> {
    let mut dry = Between::on(day);
    let mut found = Vec::new();
    for _ in 0..generations {
        let ripe = dry.before(pace.dry);
        let cross = ripe.before(pace.ripe);
        let sow = cross.before(pace.flower);
        found.push(GenerationDays::of(pace, [sow, cross, ripe, dry]));
        dry = sow;
    }
    found.reverse();
    found
}

/// The days of some generations in a row, the first one sown on a day, each next one as soon as its seed is dry.
#[must_use]
pub fn on_from(day: Day, pace: &Pace, generations: u32) -> Vec<GenerationDays> {
    let mut sow = Between::on(day);
    let mut found = Vec::new();
    for _ in 0..generations {
        let cross = sow.after(pace.flower);
        let ripe = cross.after(pace.ripe);
        let dry = ripe.after(pace.dry);
        found.push(GenerationDays::of(pace, [sow, cross, ripe, dry]));
        sow = dry;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Day {
        text.parse().expect("a day")
    }

    /// Counted on a calendar by hand: 14 and 7 days before 1 November 2026 are 18 and 25 October; 65 and 55 before
    /// those 14 and 31 August; 95 and 58 before those 11 May and 4 July.
    #[test]
    fn days_are_counted_back_and_on() {
        let pace = pace(
            "annuum",
            &Assumptions::of(&Facts::default()),
            &OwnDays::default(),
            &TypedPace::default(),
        );
        assert_eq!((pace.flower.fewest, pace.flower.most), (58, 95));
        let found = back_from(day("2026-11-01"), &pace, 1)[0];
        let days = |between: Between| [between.from.to_string(), between.until.to_string()];
        assert_eq!(days(found.ripe), ["2026-10-18", "2026-10-25"]);
        assert_eq!(days(found.cross), ["2026-08-14", "2026-08-31"]);
        assert_eq!(days(found.sow), ["2026-05-11", "2026-07-04"]);
        let on = on_from(found.sow.from, &pace, 1)[0];
        assert_eq!(on.dry.until, day("2026-11-01"), "all slow is just in time");
        let late = on_from(found.sow.until, &pace, 1)[0];
        assert_eq!(late.dry.from, day("2026-11-01"), "all fast is just in time");
    }

    #[test]
    fn a_second_generation_is_sown_when_the_first_is_dry() {
        let pace = pace(
            "chinense",
            &Assumptions::of(&Facts::default()),
            &OwnDays::default(),
            &TypedPace::default(),
        );
        let back = back_from(day("2027-11-01"), &pace, 2);
        assert_eq!(back[0].dry, back[1].sow);
        let on = on_from(day("2026-02-01"), &pace, 2);
        assert_eq!(on[0].dry, on[1].sow);
    }

    #[test]
    fn few_records_of_ones_own_are_not_taken() {
        assert_eq!(Span::own(&[60, 62]), None);
        let own = Span::own(&[60, 71, 58]).expect("three are enough");
        assert_eq!((own.fewest, own.most, own.from), (58, 71, SpanFrom::Own(3)));
    }
}
