//! Why a verdict fell as it did: the reading that speaks loudest, and what the label had promised by then.
//!
//! Numbers and facts only; the sentence is made from them elsewhere.

use crate::records::day::Day;

use super::answer::{Reason, Seen, SourceShare, Verdict};
use super::batch::BatchModel;
use super::context::Context;
use super::evidence::{Member, Telling};
use super::looks::Onset;
use super::paces::{Pace, shown_by};
use super::verdict::Judged;
use super::word::{Shown, Word};

/// Looked at for "rare": a true seedling that still shows the earlier class.
const RARE: f64 = 0.01;

/// How many days ahead [`Reason::rare_from`] is sought.
const RARE_WITHIN: i64 = 120;

/// A reading as an answer shows it.
#[must_use]
pub fn seen(context: &Context<'_>, reading: &Telling) -> Seen {
    let trait_ = &context.looks.traits[reading.look];
    Seen {
        trait_code: trait_.code.clone(),
        class: trait_.classes[reading.class].name.clone(),
        sureness: reading.sureness(),
        day: reading.day,
    }
}

/// The newest reading of each trait.
#[must_use]
pub fn newest_by_trait(member: &Member) -> Vec<&Telling> {
    let mut newest: Vec<&Telling> = Vec::new();
    for reading in &member.readings {
        newest.retain(|older| older.look != reading.look);
        newest.push(reading);
    }
    newest
}

/// The reading that speaks loudest for the verdict, of the newest of each trait: for the label where it is kept, against it
/// for a suspect and for one that is not settled.
fn loudest<'m>(
    context: &Context<'_>,
    model: &BatchModel,
    word: &Word,
    member: &'m Member,
    judged: &Judged,
) -> &'m Telling {
    let kept = matches!(judged.verdict, Verdict::Keep | Verdict::Unproven);
    let against = judged.p_off > context.beliefs.keep || !kept;
    let weight = |reading: &Telling| {
        let at = trait_at(model, reading);
        let shown = Shown::on(context, model, reading.day, &member.emergence);
        let label = shown.class_chances(&word.label, at)[reading.class];
        let average = word.average.as_ref().unwrap_or(&word.label);
        let off = shown.class_chances(average, at)[reading.class];
        let ratio = (off + f64::MIN_POSITIVE).ln() - (label + f64::MIN_POSITIVE).ln();
        if against { ratio } else { -ratio }
    };
    let newest = newest_by_trait(member);
    let weighed = newest.iter().map(|reading| (*reading, weight(reading)));
    // Of two that say as much the one recorded last.
    weighed
        .max_by(|one, other| {
            one.1
                .total_cmp(&other.1)
                .then(one.0.order.cmp(&other.0.order))
        })
        .map_or_else(|| member.newest(), |(reading, _)| reading)
}

/// The place of a reading's trait among those read in its batch.
///
/// # Panics
/// Where the reading is of another batch: a bug of the caller.
#[must_use]
pub fn trait_at(model: &BatchModel, reading: &Telling) -> usize {
    let place = model
        .profiles
        .traits
        .iter()
        .position(|place| *place == reading.look);
    place.expect("a reading is of a trait that was read")
}

/// Why a verdict fell as it did.
#[must_use]
pub fn reason_for(
    context: &Context<'_>,
    model: &BatchModel,
    word: &Word,
    member: &Member,
    judged: &Judged,
    likeliest: Option<SourceShare>,
    today: Day,
) -> Reason {
    let turned_back = newest_by_trait(member).into_iter().find_map(|reading| {
        let before = turned_before(context, member, reading)?;
        Some((reading, before))
    });
    let (reading, turned) = match turned_back {
        Some((reading, before)) => (reading, Some(before)),
        None => (loudest(context, model, word, member, judged), None),
    };
    let at = trait_at(model, reading);
    let trait_ = &context.looks.traits[reading.look];
    let ends_in = &word.ends_in[at];
    let shown =
        Shown::on(context, model, reading.day, &member.emergence).class_chances(&word.label, at);
    let may_still_turn = may_turn(context, model, word, reading);
    let newest = newest_by_trait(member).into_iter();
    let may_yet_turn = newest.filter(|reading| may_turn(context, model, word, reading));
    let age = member
        .emergence
        .iter()
        .map(|(up, w)| w * reading.day.since(*up).max(0) as f64)
        .sum();
    let named = |p: &f64, class: usize| (trait_.classes[class].name.clone(), *p);
    Reason {
        loudest: seen(context, reading),
        age,
        label_ends_in_it: ends_in[reading.class],
        label_shows_it: shown[reading.class],
        label_ends_in: ends_in
            .iter()
            .enumerate()
            .filter(|(_, p)| **p > 0.0)
            .map(|(c, p)| named(p, c))
            .collect(),
        may_still_turn,
        rare_from: may_still_turn
            .then(|| rare_from(trait_.onset.as_ref(), member, today))
            .flatten(),
        times_as_likely_off: judged.times_as_likely_off,
        likeliest,
        turned_before: turned,
        newest_trait: context.looks.traits[member.newest().look].code.clone(),
        may_yet_turn: may_yet_turn
            .map(|reading| context.looks.traits[reading.look].code.clone())
            .collect(),
        unseen_for: today.since(member.newest().day),
    }
}

/// Whether the label can turn from the class of a reading into another that it ends in.
fn may_turn(context: &Context<'_>, model: &BatchModel, word: &Word, reading: &Telling) -> bool {
    let ends_in = word.ends_in[trait_at(model, reading)].iter().enumerate();
    let classes = &context.looks.traits[reading.look].classes;
    ends_in
        .into_iter()
        .any(|(end, p)| *p >= context.beliefs.allowed && classes[end].after == Some(reading.class))
}

/// The newest older reading of a class that shows only after the one read.
fn turned_before(context: &Context<'_>, member: &Member, reading: &Telling) -> Option<Seen> {
    let classes = &context.looks.traits[reading.look].classes;
    let turned = |older: &&Telling| {
        older.look == reading.look
            && !older.doubtful
            && (older.day, older.order) < (reading.day, reading.order)
            && classes[older.class].after == Some(reading.class)
    };
    let older = member.readings.iter().filter(turned);
    older
        .max_by_key(|older| (older.day, older.order))
        .map(|older| seen(context, older))
}

/// The first day on which a true seedling that has not turned is rare, at the usual pace.
fn rare_from(onset: Option<&Onset>, member: &Member, today: Day) -> Option<Day> {
    let onset = onset?;
    let start = member.emergence.first()?.0;
    let still = |day: Day| -> f64 {
        let late = |up: &Day| shown_by(onset, Pace::Shifted(0.0), day.since(*up).max(0));
        member
            .emergence
            .iter()
            .map(|(up, w)| w * (1.0 - late(up)))
            .sum()
    };
    let last = today.forward(RARE_WITHIN);
    (0..)
        .map(|ahead| start.forward(ahead))
        .take_while(|day| *day <= last)
        .find(|day| still(*day) < RARE)
}
