//! What is known of a pot without a label: its looks, how old it is, where it stands.

use std::f64::consts::TAU;

use crate::records::assumptions::Assumptions;
use crate::records::code::fold;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{CrossRow, Sureness, Thing};
use crate::records::species::{Crossing, dwarf_trait};

use super::{LostLabelError, Pot, StatedAge};
use crate::diagnosis::context::Context;
use crate::diagnosis::dates::Emergence;
use crate::diagnosis::evidence::{Telling, keep_finer, telling_readings};
use crate::diagnosis::index::Index;
use crate::diagnosis::leaf_clock::LeafClock;
use crate::diagnosis::looks::Looks;
use crate::diagnosis::sources::stock_of;

/// A day of emergence that nobody counted is uncertain by this many days more (design choice).
const GUESS: f64 = 4.0;

/// A tray whose days of emergence are all further than this from the stated age, in deviations, is not of that age
/// (design choice).
const FAR: f64 = 3.0;

/// An age in days with its standard deviation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Age {
    /// Days.
    pub days: f64,
    /// Standard deviation.
    pub deviation: f64,
}

impl Age {
    /// How far one that came up on a day, which may be a guess, is from this age in deviations, and the deviation.
    fn off(self, on: Day, came_up: Day, guessed: bool) -> (f64, f64) {
        let more = if guessed { GUESS } else { 0.0 };
        let deviation = self.deviation.hypot(more);
        (
            (on.since(came_up) as f64 - self.days) / deviation,
            deviation,
        )
    }

    /// Log of the normal density of having come up on a day.
    fn ln_density(self, on: Day, came_up: Day, guessed: bool) -> f64 {
        let (z, deviation) = self.off(on, came_up, guessed);
        -0.5 * z * z - deviation.ln() - 0.5 * TAU.ln()
    }
}

/// What is known of the pot.
#[derive(Debug, Clone)]
pub(super) struct Known {
    pub(super) readings: Vec<Telling>,
    pub(super) day: Day,
    pub(super) age: Option<Age>,
    pub(super) place: String,
    /// The traits it was read for, ascending.
    pub(super) traits: Vec<usize>,
    /// The trait of growth, where it says nothing here.
    growth: Option<usize>,
    /// Where looks of growth were left out: a cross between species.
    pub(super) growth_of: Option<String>,
}

impl Known {
    /// The days of emergence that fit the pot, with the log of the density of its age.
    pub(super) fn dated(&self, emergence: &Emergence, guessed: bool) -> (Emergence, f64) {
        let first = self.readings.iter().map(|reading| reading.day).min();
        let first = first.unwrap_or(self.day);
        let fits = emergence.iter().filter(|(up, p)| *up <= first && *p > 0.0);
        let lns: Vec<(Day, f64)> = fits
            .map(|(up, p)| {
                let ln_age = self
                    .age
                    .map_or(0.0, |age| age.ln_density(self.day, *up, guessed));
                (*up, p.ln() + ln_age)
            })
            .collect();
        let most = lns
            .iter()
            .map(|(_, ln)| *ln)
            .fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = lns.iter().map(|(_, ln)| (ln - most).exp()).sum();
        let days = lns.iter();
        let days = days
            .map(|(up, ln)| (*up, (ln - most).exp() / total))
            .collect();
        (days, most + total.ln())
    }

    /// Whether a trait is of growth and says nothing here.
    pub(super) fn is_growth(&self, look: usize) -> bool {
        self.growth == Some(look)
    }

    /// Whether one that came up on some days can be of the pot's age, as far as that is known.
    pub(super) fn may_be_of_age(&self, emergence: &Emergence, guessed: bool) -> bool {
        let near = |age: Age, up: Day| age.off(self.day, up, guessed).0.abs() <= FAR;
        let mut days = emergence.iter().filter(|(_, p)| *p > 0.0);
        self.age
            .is_none_or(|age| days.any(|(up, _)| near(age, *up)))
    }
}

/// What is known of the pot.
///
/// # Errors
/// [`LostLabelError`] where nothing telling was seen of it, or its age cannot be read.
pub(super) fn known_of(
    facts: &Facts,
    looks: &Looks,
    day: Day,
    pot: &Pot,
) -> Result<Known, LostLabelError> {
    let index = Index::new(facts);
    let beliefs = Assumptions::of(facts);
    let (mut readings, age, place) = match pot {
        Pot::Unknown {
            classes,
            age,
            place,
        } => {
            let telling = |(order, (class, sureness)): (usize, &(i64, Sureness))| {
                let (look, class) = looks.class_place(*class)?;
                Some(Telling {
                    look,
                    class,
                    doubtful: *sureness == Sureness::Doubtful,
                    taste: None,
                    day,
                    order: order as i64,
                })
            };
            let readings = classes.iter().enumerate().filter_map(telling);
            let mut readings: Vec<Telling> = readings.collect();
            keep_finer(looks, &mut readings);
            let age = age.map(|age| stated(&index, &beliefs, age)).transpose()?;
            (readings, age, place.trim().to_owned())
        }
        Pot::Seedling(plant) => recorded(facts, looks, (&index, &beliefs), (*plant, day))?,
    };
    let wide = wide_cross(facts);
    let growth = wide.as_ref().and_then(|_| dwarf_trait(facts));
    let growth = growth.and_then(|id| looks.place(id));
    let seen = readings.len();
    readings.retain(|reading| Some(reading.look) != growth);
    let kept_out = |plant: &i64| !index.readings_of_runt(*plant).is_empty();
    let is_left_out = match pot {
        Pot::Seedling(plant) if kept_out(plant) => true,
        _ => readings.len() < seen,
    };
    let growth_of = wide.filter(|_| is_left_out);
    let mut traits: Vec<usize> = readings.iter().map(|reading| reading.look).collect();
    traits.sort_unstable();
    traits.dedup();
    if traits.is_empty() {
        return Err(growth_of.map_or(LostLabelError::NothingSeen, LostLabelError::OnlyGrowth));
    }
    Ok(Known {
        readings,
        day,
        age,
        place,
        traits,
        growth,
        growth_of,
    })
}

/// A cross between species that the pot may be of: how a seedling grows then says nothing of its cross.
fn wide_cross(facts: &Facts) -> Option<String> {
    let is_wide =
        |row: &&CrossRow| Crossing::of_plants(facts, row.mother_id, row.father_id).is_wide();
    let row = facts.cross.iter().find(is_wide)?;
    facts.code_of(Thing::Cross, row.id).map(str::to_owned)
}

fn stated(index: &Index<'_>, beliefs: &Assumptions, age: StatedAge) -> Result<Age, LostLabelError> {
    match age {
        StatedAge::Days(days) => Ok(Age {
            days: days as f64,
            deviation: beliefs.lost_age,
        }),
        StatedAge::Leaves(leaves) => {
            let clock = LeafClock::of(index).ok_or(LostLabelError::NoLeafClock)?;
            if !(clock.fewest..=clock.most).contains(&leaves) {
                return Err(LostLabelError::LeavesBeyond {
                    leaves,
                    fewest: clock.fewest,
                    most: clock.most,
                });
            }
            let (days, deviation) = clock.age(leaves);
            let deviation = deviation.max(beliefs.lost_age);
            Ok(Age { days, deviation })
        }
    }
}

/// The readings, age and place of a seedling of a tray.
fn recorded(
    facts: &Facts,
    looks: &Looks,
    (index, beliefs): (&Index<'_>, &Assumptions),
    (plant, day): (i64, Day),
) -> Result<(Vec<Telling>, Option<Age>, String), LostLabelError> {
    let row = facts.plant.get(plant);
    let batch = row.and_then(|row| facts.batch.get(row.batch_id?));
    let batch = batch.ok_or(LostLabelError::NoSeedling)?;
    let mut readings = telling_readings(looks, index.readings_of(plant));
    readings.retain(|reading| reading.day >= batch.day);
    let context = Context::new(looks, index, beliefs)?;
    let (mother, _) = context.sources.parents(stock_of(batch));
    let evidence = context.gather(batch, mother);
    let own = evidence
        .members
        .iter()
        .find(|member| member.plant == Some(plant));
    let age = own.map(|member| {
        let more = if evidence.guessed { GUESS } else { 0.0 };
        age_of(&member.emergence, day, beliefs.lost_age.hypot(more))
    });
    Ok((readings, age, batch.place.trim().to_owned()))
}

/// The age of a seedling by the days on which it may have come up, uncertain by so many days more.
fn age_of(emergence: &Emergence, on: Day, more: f64) -> Age {
    let age = |up: &Day| on.since(*up) as f64;
    let days: f64 = emergence.iter().map(|(up, p)| p * age(up)).sum();
    let square = |(up, p): &(Day, f64)| p * (age(up) - days).powi(2);
    let variance: f64 = emergence.iter().map(square).sum();
    Age {
        days,
        deviation: variance.sqrt().hypot(more),
    }
}

/// P(a pot that stands at one place is of a tray that stands at another), for so many places: it was not moved, or to any
/// of the others alike; of a tray whose place is not known, anywhere alike.
pub(super) fn place_chance(pot: &str, tray: &str, places: usize, moved: f64) -> f64 {
    let (pot, tray) = (fold(pot.trim()), fold(tray.trim()));
    let others = places.saturating_sub(1) as f64;
    match (pot.is_empty(), tray.is_empty()) {
        (true, _) => 1.0,
        (false, true) => 1.0 / places.max(1) as f64,
        _ if others == 0.0 => 1.0,
        _ if pot == tray => 1.0 - moved,
        _ => moved / others,
    }
}
