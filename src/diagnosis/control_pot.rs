//! The control pot beside a batch: one that lags for want of light, and pots that look like one and are none.
//!
//! A control pot is selfed seed that must show the late colour, in the same named place, looked at about when the batch
//! was, and old enough. Changes no probability. Called by the remarks of `suspects`.

use crate::records::code::fold;
use crate::records::day::Day;
use crate::records::rows::{BatchRow, Thing};

use super::answer::{EvidenceNote, NoControl};
use super::batch::BatchModel;
use super::context::{Context, LIGHT_DAYS};
use super::evidence::{Member, Telling};
use super::paces::{Pace, shown_by};
use super::reason::trait_at;
use super::sources::stock_of;
use super::word::Word;

/// A selfed pot is a control where its label ends in late classes with at least this probability (design choice).
const CONTROL: f64 = 0.95;

/// A control pot has to be so old that this share has turned at the usual pace (design choice).
const OLD_ENOUGH: f64 = 0.5;

/// How a selfed pot stood at its newest readings for late traits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PotLook {
    /// The day of the newest.
    pub newest: Day,
    /// P(its label ends in a class later than the one seen), of the seedling of which it is least.
    pub must_turn: f64,
    /// The share that should have turned by then at the usual pace, of the youngest.
    pub should_have: f64,
    /// Whether any shows a late class.
    pub any_turned: bool,
    /// Whether another tray coloured at its place within days of its readings: then the light is not to blame.
    pub light_is_good: bool,
}

impl PotLook {
    fn lags(&self) -> bool {
        self.must_turn >= CONTROL && self.should_have >= OLD_ENOUGH
    }

    /// How it stood by this seedling and others.
    fn and(self, other: Self) -> Self {
        Self {
            newest: self.newest.max(other.newest),
            must_turn: self.must_turn.min(other.must_turn),
            should_have: self.should_have.min(other.should_have),
            any_turned: self.any_turned || other.any_turned,
            light_is_good: self.light_is_good || other.light_is_good,
        }
    }
}

/// The newest reading of a trait with a late class: what else was read of a seedling says nothing of its colour.
fn newest_late<'m>(context: &Context<'_>, member: &'m Member) -> Option<&'m Telling> {
    let looks = &context.looks.traits;
    let late = member.readings.iter();
    let late = late.filter(|reading| looks[reading.look].onset.is_some());
    late.max_by_key(|reading| (reading.day, reading.order))
}

/// How a pot stood; nothing where it was not read for a late trait.
fn look_of(context: &Context<'_>, row: &BatchRow) -> Option<PotLook> {
    context.pot_look(row.id, || {
        let pot = BatchModel::new(context, row);
        let word = pot.word(context);
        let members = pot.evidence.members.iter();
        let looks = members.filter_map(|member| {
            let reading = newest_late(context, member)?;
            Some(stood(context, &pot, &word, member, reading))
        });
        looks.reduce(PotLook::and)
    })
}

/// How one seedling of a pot stood at a reading.
fn stood(
    context: &Context<'_>,
    pot: &BatchModel,
    word: &Word,
    member: &Member,
    reading: &Telling,
) -> PotLook {
    let trait_ = &context.looks.traits[reading.look];
    let ends_in = &word.ends_in[trait_at(pot, reading)];
    let later = ends_in
        .iter()
        .zip(&trait_.classes)
        .filter(|(_, class)| class.after == Some(reading.class));
    let should_have = trait_.onset.as_ref().map_or(0.0, |onset| {
        let by = |up: &Day| shown_by(onset, Pace::Shifted(0.0), reading.day.since(*up).max(0));
        let days = member.emergence.iter();
        days.map(|(up, weight)| weight * by(up)).sum()
    });
    PotLook {
        newest: reading.day,
        must_turn: later.map(|(p, _)| p).sum(),
        should_have,
        any_turned: trait_.classes[reading.class].after.is_some(),
        light_is_good: light_is_proven(pot),
    }
}

/// Whether a late colour beside a batch ruled dimness out.
fn light_is_proven(model: &BatchModel) -> bool {
    let mut notes = model.evidence.notes.iter();
    notes.any(|note| matches!(note, EvidenceNote::LightProven { .. }))
}

/// Whether anything was read of a pot of a plant's own seed.
#[must_use]
pub fn has_read_pot(context: &Context<'_>, plant: i64) -> bool {
    let index = context.index;
    context.pots_of(plant).iter().any(|row| {
        let mut seedlings = index.seedlings_of(row.id).iter();
        !index.tallies_of(row.id).is_empty()
            || seedlings.any(|seedling| !index.readings_of(seedling.id).is_empty())
    })
}

/// What has to be said of control pots where seedlings of a batch may still turn: the one that has not turned either; one
/// that has not though the light is good, and so is odd itself; or else why those of its parents are none.
#[must_use]
pub fn control_pots(context: &Context<'_>, model: &BatchModel) -> Vec<EvidenceNote> {
    let facts = context.index.facts;
    let members = model.evidence.members.iter();
    let read = members.filter_map(|member| newest_late(context, member));
    let newest = read.map(|reading| reading.day).max();
    let (Some(own), Some(newest)) = (facts.batch.get(model.batch_id), newest) else {
        return Vec::new();
    };
    let code = |row: &BatchRow| {
        let code = facts.code_of(Thing::Batch, row.id);
        code.unwrap_or_default().to_owned()
    };
    let place = || own.place.trim().to_owned();
    let others = context.pots_at(&own.place).iter();
    let late = others.filter_map(|row| {
        let look = || look_of(context, row).filter(PotLook::lags);
        let look = (row.id != own.id).then(look).flatten()?;
        is_about(newest, look.newest).then_some((*row, look))
    });
    let (odd, lagging): (Vec<_>, Vec<_>) =
        late.partition(|(_, look)| look.light_is_good || light_is_proven(model));
    if let Some((row, _)) = lagging.first() {
        return vec![EvidenceNote::ControlPotNotTurned {
            tray: code(row),
            place: place(),
        }];
    }
    let note = |(row, _): &(&BatchRow, PotLook)| EvidenceNote::OddPot {
        tray: code(row),
        place: place(),
        plant: facts.label_of_plant(context.sources.parents(stock_of(row)).0),
    };
    let mut notes: Vec<EvidenceNote> = odd.iter().map(note).collect();
    let parents = if model.is_self() {
        Vec::new()
    } else {
        vec![model.mother, model.father]
    };
    let own_pots = parents.iter();
    let mut pots: Vec<(i64, &BatchRow)> = own_pots
        .flat_map(|parent| context.pots_of(*parent).iter().map(|row| (*parent, *row)))
        .collect();
    if !model.is_self() {
        pots.extend(others_beside(context, own, &parents));
    }
    pots.retain(|(_, row)| odd.iter().all(|(odd, _)| odd.id != row.id));
    for (parent, row) in pots {
        if let Some(why) = no_control(context, own, newest, row, parent) {
            notes.push(EvidenceNote::NoControl {
                pot: code(row),
                parent: facts.label_of_plant(parent),
                tray: code(own),
                why,
            });
        }
    }
    notes
}

/// Pots of other plants at a batch's place that have to turn, and could be taken for its control.
fn others_beside<'a>(
    context: &Context<'a>,
    own: &BatchRow,
    parents: &[i64],
) -> Vec<(i64, &'a BatchRow)> {
    let plant = |row: &'a BatchRow| (context.sources.parents(stock_of(row)).0, row);
    let pots = context.pots_at(&own.place).iter();
    let beside = pots.filter(|row| row.id != own.id).map(|row| plant(row));
    let must_turn = |row| look_of(context, row).is_some_and(|look| look.must_turn >= CONTROL);
    beside
        .filter(|(plant, row)| !parents.contains(plant) && must_turn(row))
        .collect()
}

fn is_about(one: Day, other: Day) -> bool {
    one.since(other).abs() <= LIGHT_DAYS
}

/// Why a pot of a parent's own seed that has not turned says nothing of a batch's light; nothing where it does.
fn no_control(
    context: &Context<'_>,
    own: &BatchRow,
    newest: Day,
    pot: &BatchRow,
    parent: i64,
) -> Option<NoControl> {
    let look = look_of(context, pot).filter(|look| !look.any_turned)?;
    let (place, here) = (pot.place.trim(), own.place.trim());
    let is_here = !here.is_empty() && fold(place) == fold(here);
    // One that never turns is taken for a control only where it stands beside the tray.
    if look.must_turn == 0.0 && !is_here {
        return None;
    }
    if look.must_turn < CONTROL {
        let loci = context.plants.stated_loci(parent).next();
        return Some(NoControl::NeedNotTurn {
            share: look.must_turn,
            stated: loci.map(|_| context.plants.all_stated(parent)),
        });
    }
    if !is_here {
        return Some(NoControl::OtherPlace {
            pot: place.to_owned(),
            tray: here.to_owned(),
        });
    }
    if !is_about(newest, look.newest) {
        let (pot, tray) = (look.newest, newest);
        return Some(NoControl::OtherDay { pot, tray });
    }
    Some(NoControl::TooYoung)
}
