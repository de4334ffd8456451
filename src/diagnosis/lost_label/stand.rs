//! A tray with one more seedling in it that nobody read, and how likely a pot's age and looks are of that.
//!
//! What the one more would be is what the pot would be if it were of the tray: label and off-types, pace and plants by
//! everything recorded. Seed in the box is a tray sown on any day since it was ripe.

use crate::records::day::Day;
use crate::records::rows::{BatchRow, LotRow};

use super::SEASON_DAYS;
use super::pot::Known;
use super::units::{Unit, What};
use crate::diagnosis::batch::{BatchModel, Group};
use crate::diagnosis::belief::{Beliefs, too_large};
use crate::diagnosis::context::Context;
use crate::diagnosis::dates::{Dates, Emergence};
use crate::diagnosis::evidence::{Member, Telling};
use crate::diagnosis::membership::Membership;
use crate::diagnosis::posterior::{Rules, Weigher};
use crate::diagnosis::sources::Stock;
use crate::diagnosis::verdict::dot;

/// Days from the flower to the first seed able to germinate, in a study of fruits of known ages in Nigeria; the gate
/// doubts a harvest only well under that.
const RIPE: i64 = 28;

/// What trays are weighed with.
#[derive(Clone, Copy)]
pub(super) struct Bench<'u> {
    pub(super) context: &'u Context<'u>,
    pub(super) net: &'u Beliefs<'u>,
    pub(super) rules: &'u Rules,
    pub(super) known: &'u Known,
}

/// A tray, or what would be one if the seed of a cross were sown, with one more seedling in it.
pub(super) struct Stand {
    pub(super) model: BatchModel,
    pub(super) memberships: Vec<Membership>,
    /// The group of the one more seedling.
    pub(super) extra: usize,
    pub(super) emergence: Emergence,
    pub(super) guessed: bool,
}

impl<'u> Bench<'u> {
    /// A tray with one more seedling in it; nothing where it is too large to weigh.
    pub(super) fn stand_of_tray(&self, row: &BatchRow, traits: &[usize]) -> Option<Stand> {
        let model = BatchModel::for_looks(self.context, row, traits);
        let days = self.context.usual_days(model.mother);
        let counts = self.context.index.emergences_of(row.id);
        let emergence = Dates::of(counts, row, days).of_cell(None, self.known.day);
        let guessed = model.evidence.guessed;
        self.stand(model, emergence, guessed)
    }

    fn stand(&self, mut model: BatchModel, emergence: Emergence, guessed: bool) -> Option<Stand> {
        if too_large(&model).is_some() {
            return None;
        }
        let likelihood = model.scale(self.context).says_nothing();
        let extra = model.groups.len();
        model.groups.push(Group {
            likelihood,
            contradictory: false,
            count: 1,
        });
        let weights = self.net.weights(&model).ok()?;
        let posterior = Weigher::new(&model, self.rules).posterior(&weights);
        Some(Stand {
            model,
            memberships: posterior.memberships,
            extra,
            emergence,
            guessed,
        })
    }

    /// The seed of a cross in the box as if it had been sown on any day since.
    pub(super) fn stand_of_seed(&self, stock: Stock, traits: &[usize]) -> Option<Stand> {
        let (cross_id, plant_id) = match stock {
            Stock::Cross(id) => (Some(id), None),
            Stock::Packet(id) => (None, Some(id)),
        };
        let since = self.ripe_on(stock)?;
        let row = BatchRow {
            id: 0,
            cross_id,
            plant_id,
            day: since,
            seeds: 1,
            cells: 1,
            place: String::new(),
            medium: String::new(),
            light: String::new(),
        };
        let (mother, _) = self.context.sources.parents(stock);
        let first = since.forward(self.context.usual_days(mother));
        let days = self.known.day.since(first);
        if days < 0 {
            return None;
        }
        let emergence = (0..=days).map(|day| (first.forward(day), 1.0 / (days + 1) as f64));
        let model = BatchModel::for_looks(self.context, &row, traits);
        self.stand(model, emergence.collect(), false)
    }

    /// The first day on which seed of a cross could have been sown this season: the day of its first lot, else when that
    /// of its first pollination was ripe.
    fn ripe_on(&self, stock: Stock) -> Option<Day> {
        let facts = self.context.index.facts;
        let lots = self.lots(stock).into_iter().map(|lot| lot.day).min();
        let pollinated = || match stock {
            Stock::Cross(id) => {
                let own = facts.pollination.iter().filter(|row| row.cross_id == id);
                let first = own.filter_map(|row| row.day).min();
                first.map(|day| day.forward(RIPE))
            }
            Stock::Packet(_) => None,
        };
        let first = lots.or_else(pollinated)?;
        Some(first.max(self.known.day.back(SEASON_DAYS)))
    }

    /// The lots of a cross or packet.
    pub(super) fn lots(&self, stock: Stock) -> Vec<&'u LotRow> {
        let own = |lot: &&LotRow| match stock {
            Stock::Cross(id) => lot.cross_id == Some(id),
            Stock::Packet(id) => lot.plant_id == Some(id),
        };
        self.context.index.facts.lot.iter().filter(own).collect()
    }

    /// Log of P(age, looks) of one more seedling of a stand, and P(not as labelled) then.
    pub(super) fn weigh_extra(&self, stand: &Stand) -> (f64, f64) {
        let (days, ln_age) = self.known.dated(&stand.emergence, stand.guessed);
        let scale = stand.model.scale(self.context);
        let weighed = ln_age
            .is_finite()
            .then(|| scale.weigh_in_full(&self.known.readings, &days))
            .flatten();
        let Some((likelihood, ln_scale)) = weighed else {
            return (f64::NEG_INFINITY, 0.0);
        };
        let membership = &stand.memberships[stand.extra];
        let (on, off) = split(membership, &likelihood.values);
        let all: f64 = membership.on.iter().sum::<f64>() + membership.off.iter().sum::<f64>();
        (
            ((on + off) / all).ln() + ln_scale + ln_age,
            share(off, on + off),
        )
    }

    /// The same of a seedling that was read before, or of one of those of a tallied look.
    pub(super) fn weigh_member(&self, stand: &Stand, at: usize, member: &Member) -> (f64, f64) {
        let nothing = (f64::NEG_INFINITY, 0.0);
        let (days, ln_age) = self.known.dated(&member.emergence, stand.guessed);
        if !ln_age.is_finite() {
            return nothing;
        }
        let scale = stand.model.scale(self.context);
        let Some((own, ln_own)) = scale.weigh_in_full(&member.readings, &member.emergence) else {
            return self.weigh_extra(stand);
        };
        let mut readings: Vec<Telling> = member.readings.clone();
        let newest = readings
            .iter()
            .map(|reading| reading.order)
            .max()
            .unwrap_or(0);
        readings.extend(self.known.readings.iter().map(|reading| Telling {
            order: newest + 1 + reading.order,
            ..reading.clone()
        }));
        let Some((both, ln_both)) = scale.weigh_in_full(&readings, &days) else {
            return nothing;
        };
        let membership = &stand.memberships[stand.model.group_of[at]];
        let (on, off) = split(membership, &both.values);
        let (own_on, own_off) = split(membership, &own.values);
        let ln = ((on + off) / (own_on + own_off)).ln() + ln_both - ln_own + ln_age;
        (ln, share(off, on + off))
    }

    /// A unit's tray or seed, made ready for some traits.
    pub(super) fn stand_of(&self, unit: &Unit, traits: &[usize]) -> Option<Stand> {
        match unit.tray() {
            Some(tray) => {
                let row = self.context.index.facts.batch.get(tray)?;
                self.stand_of_tray(row, traits)
            }
            None => self.stand_of_seed(unit.stock, traits),
        }
    }

    /// P(a seedling of a unit's tray that is as labelled is read so on the day of a reading).
    pub(super) fn share_as_labelled(&self, unit: &Unit, reading: &Telling) -> f64 {
        let Some(stand) = self.stand_of(unit, &self.known.traits) else {
            return 0.0;
        };
        let (days, _) = self.known.dated(&stand.emergence, stand.guessed);
        let scale = stand.model.scale(self.context);
        let weighed = scale.weigh_in_full(std::slice::from_ref(reading), &days);
        let on = &stand.memberships[stand.extra].on;
        let all: f64 = on.iter().sum();
        weighed.map_or(0.0, |(likelihood, ln)| {
            share(dot(on, &likelihood.values), all) * ln.exp()
        })
    }

    /// P(each class of a trait is read on a day | a unit, everything seen of the pot).
    pub(super) fn class_chances(
        &self,
        unit: &Unit,
        stand: &Stand,
        (look, day): (usize, Day),
    ) -> Vec<f64> {
        let (membership, mut readings, emergence) = match unit.what {
            What::Seedling { member, .. } => {
                let own = &stand.model.evidence.members[member];
                let group = stand.model.group_of[member];
                (
                    &stand.memberships[group],
                    own.readings.clone(),
                    &own.emergence,
                )
            }
            _ => (
                &stand.memberships[stand.extra],
                Vec::new(),
                &stand.emergence,
            ),
        };
        readings.extend(self.known.readings.iter().cloned());
        let (days, _) = self.known.dated(emergence, stand.guessed);
        let scale = stand.model.scale(self.context);
        let classes = 0..self.context.looks.traits[look].classes.len();
        let one = |class: usize| {
            let further = Telling {
                look,
                class,
                doubtful: false,
                taste: None,
                day,
                order: i64::MAX,
            };
            let all: Vec<Telling> = readings.iter().cloned().chain([further]).collect();
            let weighed = scale.weigh_in_full(&all, &days);
            weighed.map_or(f64::NEG_INFINITY, |(likelihood, ln)| {
                let (on, off) = split(membership, &likelihood.values);
                (on + off).ln() + ln
            })
        };
        let lns: Vec<f64> = classes.map(one).collect();
        let most = lns.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let plain: Vec<f64> = lns.iter().map(|ln| (ln - most).exp()).collect();
        let total: f64 = plain.iter().sum();
        plain.iter().map(|p| share(*p, total)).collect()
    }
}

/// The weight of readings as labelled, and as an off-type.
fn split(membership: &Membership, likelihood: &[f64]) -> (f64, f64) {
    (
        dot(&membership.on, likelihood),
        dot(&membership.off, likelihood),
    )
}

pub(super) fn share(part: f64, whole: f64) -> f64 {
    if whole > 0.0 { part / whole } else { 0.0 }
}
