//! How likely a seedling's readings are, given what it ends as and the pace of its batch.
//!
//! The readings of a trait split the ages at which a late class can have appeared; each interval has its share and its
//! product of reading chances. Called for evidence and for looks that are yet to come.

use std::sync::Arc;

use crate::records::day::Day;

use super::dates::Emergence;
use super::evidence::Telling;
use super::looks::{Look, Looks};
use super::paces::{OnsetTable, OnsetTables, Paces};
use super::space::Profiles;
use super::tail::{Tail, TailPart};

/// A table of likelihoods: profile by pace, up to a common factor.
#[derive(Debug, Clone, PartialEq)]
pub struct Likelihood {
    /// Value of profile `f` at pace `s` stands at `f * paces + s`.
    pub values: Vec<f64>,
}

/// Everything needed to weigh readings of one batch.
#[derive(Debug, Clone)]
pub struct Scale<'a> {
    looks: &'a Looks,
    pub(super) profiles: &'a Profiles,
    pub(super) paces: &'a Paces,
    doubtful: f64,
    pub(super) onsets: Vec<Option<Arc<OnsetTable>>>,
}

impl<'a> Scale<'a> {
    /// A scale for the traits of some profiles.
    #[must_use]
    pub fn new(
        looks: &'a Looks,
        profiles: &'a Profiles,
        paces: &'a Paces,
        doubtful: f64,
        tables: &OnsetTables,
    ) -> Self {
        let onsets = profiles
            .traits
            .iter()
            .map(|place| {
                looks.traits[*place]
                    .onset
                    .map(|onset| tables.get(onset, paces))
            })
            .collect();
        Self {
            looks,
            profiles,
            paces,
            doubtful,
            onsets,
        }
    }

    /// The trait at a place among those read.
    #[must_use]
    pub fn look(&self, at: usize) -> &'a Look {
        &self.looks.traits[self.profiles.traits[at]]
    }

    fn place_of(&self, look: usize) -> usize {
        let place = self.profiles.traits.iter().position(|place| *place == look);
        place.expect("a further reading is of a trait that was read")
    }

    /// P(readings | profile, pace), averaged over the days of emergence; nothing where no profile at any pace can
    /// give these readings.
    #[must_use]
    pub fn weigh(&self, readings: &[Telling], emergence: &Emergence) -> Option<Likelihood> {
        self.weigh_in_full(readings, emergence)
            .map(|(likelihood, _)| likelihood)
    }

    /// The same with the log of the factor taken out of it, for comparisons between onsets.
    #[must_use]
    pub fn weigh_in_full(
        &self,
        readings: &[Telling],
        emergence: &Emergence,
    ) -> Option<(Likelihood, f64)> {
        let prepared = self.prepare(readings, emergence);
        let ln_scale = prepared.ln_scale;
        ln_scale
            .is_finite()
            .then(|| (prepared.weigh(self, emergence, None), ln_scale))
    }

    /// The likelihood of readings that say nothing.
    #[must_use]
    pub fn says_nothing(&self) -> Likelihood {
        Likelihood {
            values: vec![1.0; self.profiles.len() * self.paces.len()],
        }
    }

    /// Readings made ready to be weighed, alone or with one more.
    #[must_use]
    pub fn prepare(&self, readings: &[Telling], emergence: &Emergence) -> Prepared {
        let series = (0..self.profiles.traits.len())
            .map(|at| self.series(at, readings))
            .collect();
        let mut prepared = Prepared {
            series,
            ln_scale: 0.0,
        };
        prepared.ln_scale = prepared.most(self, emergence);
        prepared
    }

    /// The readings of one trait, by day.
    fn series(&self, trait_at: usize, readings: &[Telling]) -> Series {
        let place = self.profiles.traits[trait_at];
        let mut own: Vec<&Telling> = readings
            .iter()
            .filter(|reading| reading.look == place)
            .collect();
        own.sort_by_key(|reading| (reading.day, reading.order));
        let look = &self.looks.traits[place];
        Series {
            trait_at,
            days: own.iter().map(|reading| reading.day).collect(),
            by_class: (0..look.classes.len())
                .map(|class| self.class_series(look, class, &own))
                .collect(),
        }
    }

    fn class_series(&self, look: &Look, class: usize, own: &[&Telling]) -> ClassSeries {
        let ln = |shown: usize, reading: &Telling| {
            look.telling_chance(shown, reading, self.doubtful).ln()
        };
        let late = look.classes[class].after.filter(|_| look.onset.is_some());
        match late {
            None => ClassSeries::constant(own.iter().map(|reading| ln(class, reading)).sum()),
            Some(earlier) => ClassSeries::late(
                (0..=own.len())
                    .map(|onset| {
                        own.iter()
                            .enumerate()
                            .map(|(at, reading)| {
                                ln(if at >= onset { class } else { earlier }, reading)
                            })
                            .sum()
                    })
                    .collect(),
            ),
        }
    }
}

/// For one final class: the product of the chances of the readings, its largest value taken out as a log.
#[derive(Debug, Clone)]
struct ClassSeries {
    /// Log of what was taken out.
    ln: f64,
    /// One value for each interval in which the onset can fall; nothing for a class that shows from the start.
    by_onset: Option<Vec<f64>>,
}

impl ClassSeries {
    const fn constant(ln: f64) -> Self {
        Self { ln, by_onset: None }
    }

    fn late(lns: Vec<f64>) -> Self {
        let ln = lns.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let plain = |value: &f64| {
            if ln.is_finite() {
                (value - ln).exp()
            } else {
                0.0
            }
        };
        Self {
            ln,
            by_onset: Some(lns.iter().map(plain).collect()),
        }
    }
}

/// The readings of one trait.
#[derive(Debug, Clone)]
struct Series {
    trait_at: usize,
    days: Vec<Day>,
    by_class: Vec<ClassSeries>,
}

/// One more firm reading to weigh with those there are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OneMore {
    /// The trait, as a place among the ledger's.
    pub look: usize,
    /// The class.
    pub class: usize,
    /// The day.
    pub day: Day,
}

/// Readings made ready to be weighed.
#[derive(Debug, Clone)]
pub struct Prepared {
    series: Vec<Series>,
    ln_scale: f64,
}

impl Prepared {
    /// Log of the factor taken out of every likelihood of these readings.
    #[must_use]
    pub const fn ln_scale(&self) -> f64 {
        self.ln_scale
    }

    /// Log of the largest likelihood over profiles and paces.
    fn most(&self, scale: &Scale<'_>, emergence: &Emergence) -> f64 {
        let paces = scale.paces.len();
        let plain = self.plain(scale, emergence, None);
        let ln = |(at, value): (usize, &f64)| self.ln_of(scale, at / paces, None) + value.ln();
        plain
            .iter()
            .enumerate()
            .map(ln)
            .fold(f64::NEG_INFINITY, f64::max)
    }

    /// Log of the factors taken out of the series of a profile.
    fn ln_of(&self, scale: &Scale<'_>, profile: usize, extended: Option<&Series>) -> f64 {
        let classes = &scale.profiles.classes[profile];
        self.series
            .iter()
            .map(|series| chosen(series, extended).by_class[classes[series.trait_at]].ln)
            .sum()
    }

    /// The likelihood by profile and pace, those factors left out.
    fn plain(
        &self,
        scale: &Scale<'_>,
        emergence: &Emergence,
        extended: Option<&Series>,
    ) -> Vec<f64> {
        let paces = scale.paces.len();
        let mut values = vec![0.0; scale.profiles.len() * paces];
        for (came_up, weight) in emergence {
            let tables: Vec<Vec<f64>> = self
                .series
                .iter()
                .map(|series| chosen(series, extended).by_class_and_pace(scale, *came_up))
                .collect();
            for (profile, classes) in scale.profiles.classes.iter().enumerate() {
                for pace in 0..paces {
                    let product: f64 = classes
                        .iter()
                        .zip(&tables)
                        .map(|(class, table)| table[class * paces + pace])
                        .product();
                    values[profile * paces + pace] += weight * product;
                }
            }
        }
        values
    }

    /// P(readings and the further ones | profile, pace), averaged over the days of emergence; the further ones
    /// are firm and of one trait. The factor taken out is that of the readings alone.
    #[must_use]
    pub fn weigh(
        &self,
        scale: &Scale<'_>,
        emergence: &Emergence,
        more: Option<(&[OneMore], &[Telling])>,
    ) -> Likelihood {
        let extended = more.map(|(more, readings)| extend(scale, more, readings));
        let paces = scale.paces.len();
        let mut values = self.plain(scale, emergence, extended.as_ref());
        for (profile, own) in values.chunks_mut(paces).enumerate() {
            let factor = (self.ln_of(scale, profile, extended.as_ref()) - self.ln_scale).exp();
            own.iter_mut().for_each(|value| *value *= factor);
        }
        Likelihood { values }
    }

    /// The likelihood as a function of one more firm reading of a trait, later than all the others: those recorded and
    /// the further ones.
    #[must_use]
    pub fn tail(
        &self,
        scale: &Scale<'_>,
        emergence: &Emergence,
        look: usize,
        more: Option<(&[OneMore], &[Telling])>,
    ) -> Tail {
        let trait_at = scale.place_of(look);
        let extended = more.map(|(more, readings)| extend(scale, more, readings));
        let series = extended.as_ref().unwrap_or(&self.series[trait_at]);
        let factors: Vec<f64> = (0..scale.profiles.len())
            .map(|profile| (self.ln_of(scale, profile, extended.as_ref()) - self.ln_scale).exp())
            .collect();
        let parts = emergence.iter().map(|(came_up, weight)| {
            let others: Vec<(usize, Vec<f64>)> = self
                .series
                .iter()
                .filter(|other| other.trait_at != trait_at)
                .map(|other| (other.trait_at, other.by_class_and_pace(scale, *came_up)))
                .collect();
            series.tail_part(scale, *came_up, *weight, &factors, &others)
        });
        Tail {
            trait_at,
            parts: parts.collect(),
        }
    }
}

/// A series, or the extended one of the same trait.
fn chosen<'s>(series: &'s Series, extended: Option<&'s Series>) -> &'s Series {
    extended
        .filter(|own| own.trait_at == series.trait_at)
        .unwrap_or(series)
}

/// The series of the trait that the further readings are of, with them in it; of two on one day the further one.
fn extend(scale: &Scale<'_>, more: &[OneMore], readings: &[Telling]) -> Series {
    let look = more.first().expect("at least one further reading").look;
    let kept = readings
        .iter()
        .filter(|old| old.look != look || more.iter().all(|one| one.day != old.day))
        .cloned();
    let further = more.iter().map(|one| Telling {
        look: one.look,
        class: one.class,
        doubtful: false,
        taste: None,
        day: one.day,
        order: i64::MAX,
    });
    scale.series(
        scale.place_of(look),
        &kept.chain(further).collect::<Vec<_>>(),
    )
}

impl Series {
    fn tail_part(
        &self,
        scale: &Scale<'_>,
        came_up: Day,
        weight: f64,
        factors: &[f64],
        others: &[(usize, Vec<f64>)],
    ) -> TailPart {
        let paces = scale.paces.len();
        let ages: Vec<i64> = self
            .days
            .iter()
            .map(|day| day.since(came_up).max(0))
            .collect();
        let onset = scale.onsets[self.trait_at].as_ref();
        let shown = |pace: usize, age: i64| {
            onset.map_or(0.0, |onset| onset.shown_by(scale.paces, pace, age))
        };
        let last_age = ages.last().copied();
        let shown_last: Vec<f64> = (0..paces)
            .map(|pace| last_age.map_or(0.0, |age| shown(pace, age)))
            .collect();
        let cells = scale.profiles.len() * paces;
        let (mut reached, mut open) = (vec![0.0; cells], vec![0.0; cells]);
        for (profile, classes) in scale.profiles.classes.iter().enumerate() {
            for pace in 0..paces {
                let other: f64 = others
                    .iter()
                    .map(|(at, table)| table[classes[*at] * paces + pace])
                    .product();
                let at = profile * paces + pace;
                let weight = weight * factors[profile] * other;
                match &self.by_class[classes[self.trait_at]].by_onset {
                    None => reached[at] = weight,
                    Some(values) => {
                        let (later, before) =
                            values.split_last().expect("one value for each interval");
                        let mut shown_before = 0.0;
                        for (value, age) in before.iter().zip(&ages) {
                            let now = shown(pace, *age);
                            reached[at] += weight * (now - shown_before) * value;
                            shown_before = now;
                        }
                        open[at] = weight * later;
                    }
                }
            }
        }
        TailPart {
            came_up,
            shown_last,
            reached,
            open,
        }
    }

    /// P(series | final class, pace) for one day of emergence: sum over the intervals in which the onset falls.
    fn by_class_and_pace(&self, scale: &Scale<'_>, came_up: Day) -> Vec<f64> {
        let paces = scale.paces.len();
        let ages: Vec<i64> = self
            .days
            .iter()
            .map(|day| day.since(came_up).max(0))
            .collect();
        let mut table = vec![0.0; self.by_class.len() * paces];
        for (class, series) in self.by_class.iter().enumerate() {
            for pace in 0..paces {
                table[class * paces + pace] = match &series.by_onset {
                    None => 1.0,
                    Some(values) => {
                        let onset = scale.onsets[self.trait_at]
                            .as_ref()
                            .expect("a late class has an onset");
                        sum_over_onset(
                            values,
                            ages.iter()
                                .map(|age| onset.shown_by(scale.paces, pace, *age)),
                        )
                    }
                };
            }
        }
        table
    }
}

/// sum over intervals j of [F(t_j) - F(t_{j-1})] values_j, the last interval being "later or never".
fn sum_over_onset(values: &[f64], shown: impl Iterator<Item = f64>) -> f64 {
    let mut before = 0.0;
    let mut sum = 0.0;
    for (value, now) in values.iter().zip(shown) {
        sum += (now - before) * value;
        before = now;
    }
    sum + (1.0 - before) * values.last().copied().unwrap_or(1.0)
}
