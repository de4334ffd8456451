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
use super::evidence::Member;
use super::paces::{Pace, shown_by};
use super::reason::trait_at;
use super::sources::stock_of;
use super::word::Word;

/// A selfed pot is a control where its label ends in late classes with at least this probability (design choice).
const CONTROL: f64 = 0.95;

/// A control pot has to be so old that this share has turned at the usual pace (design choice).
const OLD_ENOUGH: f64 = 0.5;

/// How a selfed pot stood at its newest reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PotLook {
    /// The day of it.
    pub newest: Day,
    /// P(its label ends in a class later than the one seen), of the seedling of which it is least.
    pub must_turn: f64,
    /// The share that should have turned by then at the usual pace, of the youngest.
    pub should_have: f64,
    /// Whether any shows a late class.
    pub any_turned: bool,
}

impl PotLook {
    fn lags(&self) -> bool {
        self.must_turn >= CONTROL && self.should_have >= OLD_ENOUGH
    }
}

/// How a pot stood; nothing where it was not read.
fn look_of(context: &Context<'_>, row: &BatchRow) -> Option<PotLook> {
    context.pot_look(row.id, || {
        let pot = BatchModel::new(context, row);
        let newest = pot.evidence.newest?;
        let word = Word::of(context, &pot);
        let mut look = PotLook {
            newest,
            must_turn: 1.0,
            should_have: 1.0,
            any_turned: false,
        };
        for member in &pot.evidence.members {
            let (must, should, turned) = stood(context, &pot, &word, member);
            look.must_turn = look.must_turn.min(must);
            look.should_have = look.should_have.min(should);
            look.any_turned |= turned;
        }
        Some(look)
    })
}

/// P(the label ends in a later class than this seedling shows), the share that should have turned, whether it has.
fn stood(
    context: &Context<'_>,
    pot: &BatchModel,
    word: &Word,
    member: &Member,
) -> (f64, f64, bool) {
    let reading = member.newest();
    let trait_ = &context.looks.traits[reading.look];
    let ends_in = &word.ends_in[trait_at(pot, reading)];
    let later = ends_in
        .iter()
        .zip(&trait_.classes)
        .filter(|(_, class)| class.after == Some(reading.class));
    let shown = trait_.onset.as_ref().map_or(0.0, |onset| {
        let by = |up: &Day| shown_by(onset, Pace::Shifted(0.0), reading.day.since(*up).max(0));
        let days = member.emergence.iter();
        days.map(|(up, weight)| weight * by(up)).sum()
    });
    let turned = trait_.classes[reading.class].after.is_some();
    (later.map(|(p, _)| p).sum(), shown, turned)
}

/// What has to be said of control pots where seedlings of a batch may still turn: the one that has not turned either, or
/// else why those of its parents are none.
#[must_use]
pub fn control_pots(context: &Context<'_>, model: &BatchModel) -> Vec<EvidenceNote> {
    let facts = context.index.facts;
    let (Some(own), Some(newest)) = (facts.batch.get(model.batch_id), model.evidence.newest) else {
        return Vec::new();
    };
    let code = |row: &BatchRow| {
        let code = facts.code_of(Thing::Batch, row.id);
        code.unwrap_or_default().to_owned()
    };
    let lagging = context.pots_at(&own.place).iter().find(|row| {
        let look = || look_of(context, row).filter(PotLook::lags);
        row.id != own.id && look().is_some_and(|look| is_about(newest, look.newest))
    });
    if let Some(row) = lagging {
        return vec![EvidenceNote::ControlPotNotTurned {
            tray: code(row),
            place: own.place.trim().to_owned(),
        }];
    }
    let parents = if model.is_self() {
        Vec::new()
    } else {
        vec![model.mother, model.father]
    };
    let mut notes = Vec::new();
    let own_pots = parents.iter();
    let mut pots: Vec<(i64, &BatchRow)> = own_pots
        .flat_map(|parent| context.pots_of(*parent).iter().map(|row| (*parent, *row)))
        .collect();
    if !model.is_self() {
        pots.extend(others_beside(context, own, &parents));
    }
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
