//! Seedlings pulled before or after they were counted: what that does to a count.
//!
//! Whoever is pulled for its looks, and was not counted before, is missing from its class. So the count before the pulling is
//! frozen and stands in the place of later ones; where there is none, this says how many of which class are missing. Chosen
//! without regard to looks they are missing from all classes alike, which biases nothing. What counts are held against is
//! not known here. The counts of trays ask.

use std::collections::BTreeMap;

use super::answer::EvidenceNote;
use super::context::Context;
use super::evidence::{Member, Telling};
use super::index::Index;
use super::looks::Looks;
use crate::records::day::Day;
use crate::records::rows::{BatchRow, FateKind, FateRow, TallyRow};
use crate::records::same_day::{Gone, Placed, SameDay};
use crate::records::tray::Tray;

/// What the pulling of seedlings does to the counts of a tray in one trait.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Pulling {
    /// Pulled for a class of the trait before they were counted: the class, as a place among the trait's, and how many.
    pub short: Vec<(usize, u64)>,
    /// Of those that are short, how many were pulled although the count has no more of their class: it missed them.
    pub uncounted: u64,
    /// Pulled for their looks before they were counted, without a word on which.
    pub unsaid: u64,
    /// The first day of such a pulling.
    pub first: Option<Day>,
    /// Thinned without regard to looks, before or after they were counted.
    pub blind: u64,
    /// Pulled for their looks after they were counted.
    pub counted_in: u64,
    /// Whether a count of the day of a pulling is taken as made before it, though its numbers do not show that.
    pub same_day: bool,
}

impl Pulling {
    /// Whether seedlings are missing from the count for their looks.
    #[must_use]
    pub fn biases(&self) -> bool {
        self.unsaid > 0 || !self.short.is_empty()
    }
}

/// What pulling does to what was counted in a trait.
pub(super) fn pulling(
    context: &Context<'_>,
    batch: &BatchRow,
    trait_id: i64,
    read: &[(&Member, &Telling)],
) -> Pulling {
    let facts = context.index.facts;
    let looks = context.looks;
    let Some(tray) = Tray::of(facts, batch.id) else {
        return Pulling::default();
    };
    let mut found = Pulling::default();
    let mut drawn: BTreeMap<(Option<i64>, usize), u64> = BTreeMap::new();
    for fate in context.index.fates_of(batch.id) {
        let of_trait = classes_of(context.index, fate, trait_id);
        if !is_pulled(fate) || of_trait.is_none() {
            continue;
        }
        if is_of_later(context.index, fate, read) {
            continue;
        }
        let (missed, unsure) = is_missed(&tray, context.index, fate, read);
        let count = fate.count.unsigned_abs();
        found.same_day |= unsure && !fate.blind;
        let class = of_trait.flatten();
        let class = class.and_then(|class| Some(looks.class_place(class)?.1));
        let over = match class {
            Some(class) if !missed => overdrawn((context.index, fate), class, read, &mut drawn),
            _ => 0,
        };
        match (fate.blind, missed) {
            (true, _) => found.blind += count,
            (false, false) => {
                found.counted_in += count - over;
                found.uncounted += over;
            }
            (false, true) if class.is_none() => found.unsaid += count,
            (false, true) => {}
        }
        let short = if missed { count } else { over };
        if short > 0 && !fate.blind {
            found.first = Some(found.first.map_or(fate.day, |day| day.min(fate.day)));
            if let Some(class) = class {
                add(&mut found.short, class, short);
            }
        }
    }
    found
}

/// Of seedlings pulled for a class that tallies counted before: how many more went than they counted of it.
fn overdrawn(
    (index, fate): (&Index<'_>, &FateRow),
    class: usize,
    read: &[(&Member, &Telling)],
    drawn: &mut BTreeMap<(Option<i64>, usize), u64>,
) -> u64 {
    let cell = cell_of(index, fate);
    let tallied = read.iter().filter(|(member, _)| member.plant.is_none());
    let here: Vec<_> = tallied
        .filter(|(member, _)| member.cell.is_none() || cell.is_none() || member.cell == cell)
        .collect();
    let Some((first, _)) = here.first() else {
        return 0;
    };
    let counted: u64 = here
        .iter()
        .filter(|(_, reading)| reading.class == class)
        .map(|(member, _)| member.count.unsigned_abs())
        .sum();
    let place = first.cell.filter(|_| cell.is_some());
    let before = drawn.entry((place, class)).or_default();
    let over = (*before + fate.count.unsigned_abs()).saturating_sub(counted.max(*before));
    *before += fate.count.unsigned_abs();
    over
}

/// How many seedlings pulled for their looks in any of some traits are missing from what was counted.
pub(super) fn missing_for_looks(
    context: &Context<'_>,
    batch: &BatchRow,
    traits: &[i64],
    read: &[(&Member, &Telling)],
) -> u64 {
    let index = context.index;
    let Some(tray) = Tray::of(index.facts, batch.id) else {
        return 0;
    };
    let fates = index.fates_of(batch.id).iter().copied();
    let for_looks = fates.filter(|fate| {
        let mut traits = traits.iter();
        traits.any(|of| is_for_looks(index, fate, *of))
    });
    let missed = for_looks
        .filter(|fate| !is_of_later(index, fate, read) && is_missed(&tray, index, fate, read).0);
    missed.map(|fate| fate.count.unsigned_abs()).sum()
}

/// What the newest tally of a place does not know of: seedlings pulled for their looks before it, which an earlier one
/// counted or of which the look was said.
pub(super) fn pulled_before(
    index: &Index<'_>,
    looks: &Looks,
    tally: &TallyRow,
) -> Option<EvidenceNote> {
    let placed = placed(index, tally);
    let own = |plant: i64| !index.readings_of(plant).is_empty();
    let here = |fate: &&FateRow| {
        let covers = tally.cell.is_none() || cell_of(index, fate) == tally.cell;
        let is_chosen = is_pulled(fate) && !fate.blind && !fate.plant_id.is_some_and(own);
        covers && is_chosen && !went_after(fate, tally, &placed)
    };
    let earlier = (index.tallies_of(tally.batch_id).iter())
        .filter(|other| other.cell == tally.cell && (other.day, other.id) < (tally.day, tally.id))
        .map(|other| other.day)
        .max();
    let (mut of_look, mut unsaid) = (Vec::<(String, i64)>::new(), 0);
    for fate in index.fates_of(tally.batch_id).iter().copied().filter(here) {
        let said = index.fate_classes.get(&fate.id).into_iter().flatten();
        let name = |(_, class): &(i64, i64)| {
            let (look, class) = looks.class_place(*class)?;
            Some(looks.traits[look].classes[class].name.clone())
        };
        let words: Vec<String> = said.filter_map(name).collect();
        let words = words.join("/");
        match of_look.iter_mut().find(|(own, _)| *own == words) {
            _ if words.is_empty() => unsaid += fate.count,
            Some((_, sum)) => *sum += fate.count,
            None => of_look.push((words, fate.count)),
        }
    }
    if earlier.is_none() {
        unsaid = 0;
    }
    (unsaid > 0 || !of_look.is_empty()).then_some(EvidenceNote::PulledBefore {
        cell: tally.cell,
        day: tally.day,
        of_look,
        unsaid,
        earlier,
    })
}

fn add(short: &mut Vec<(usize, u64)>, class: usize, count: u64) {
    match short.iter_mut().find(|(own, _)| *own == class) {
        Some((_, sum)) => *sum += count,
        None => short.push((class, count)),
    }
}

/// Whether seedlings were pulled by the grower.
const fn is_pulled(fate: &FateRow) -> bool {
    matches!(fate.kind, FateKind::Culled | FateKind::Thinned)
}

/// Whether seedlings were pulled for their looks, as far as that speaks of a trait.
pub(super) fn is_for_looks(index: &Index<'_>, fate: &FateRow, trait_id: i64) -> bool {
    let blind = fate.kind == FateKind::Thinned && fate.blind;
    is_pulled(fate) && !blind && classes_of(index, fate, trait_id).is_some()
}

/// The class of a trait for which seedlings were pulled, or nothing said; no answer where other traits alone were.
fn classes_of(index: &Index<'_>, fate: &FateRow, trait_id: i64) -> Option<Option<i64>> {
    let said = index.fate_classes.get(&fate.id);
    let said = said.map_or(&[][..], Vec::as_slice);
    let own = said.iter().find(|(of, _)| *of == trait_id);
    match own {
        Some((_, class)) => Some(Some(*class)),
        None if said.is_empty() => Some(None),
        None => None,
    }
}

/// Whether seedlings that nobody had read went after the last of a tray that is read one by one was: no count holds them, and
/// none lacks them for their looks.
fn is_of_later(index: &Index<'_>, fate: &FateRow, read: &[(&Member, &Telling)]) -> bool {
    let singly = |(member, _): &(&Member, &Telling)| member.plant.is_some();
    let is_read = |plant: i64| read.iter().any(|(member, _)| member.plant == Some(plant));
    read.iter().all(singly)
        && fate.plant_id.is_some_and(|plant| !is_read(plant))
        && !index.fate_classes.contains_key(&fate.id)
        && read.iter().all(|(_, reading)| reading.day < fate.day)
}

/// Whether what was counted lacks seedlings that were pulled, and whether only an assumption says that it does not.
fn is_missed(
    tray: &Tray<'_>,
    index: &Index<'_>,
    fate: &FateRow,
    read: &[(&Member, &Telling)],
) -> (bool, bool) {
    let singly = |plant: i64| read.iter().any(|(member, _)| member.plant == Some(plant));
    if fate.plant_id.is_some_and(singly) {
        return (false, false);
    }
    let cell = cell_of(index, fate);
    let covers = |of: Option<i64>| of.is_none() || cell.is_none() || of == cell;
    let tallied = read
        .iter()
        .filter(|(member, _)| member.plant.is_none() && covers(member.cell));
    let (mut any, mut missed, mut unsure) = (false, false, false);
    for (member, reading) in tallied {
        any = true;
        missed |= fate.day < reading.day;
        if fate.day == reading.day {
            let tally = tray.newest_tally(member.cell, reading.day);
            let placed = tally.map_or_else(Placed::default, |tally| placed(index, tally));
            missed |= placed.before.contains(&fate.id);
            unsure |= placed.unsure;
        }
    }
    (missed || !any, unsure)
}

/// What of a tally's place went before it on its day.
pub(super) fn placed(index: &Index<'_>, tally: &TallyRow) -> Placed {
    let here = |fate: &&FateRow| {
        let covers = tally.cell.is_none() || cell_of(index, fate) == tally.cell;
        fate.kind.is_gone() && fate.day == tally.day && covers
    };
    let classes = |fate: &FateRow| {
        index
            .fate_classes
            .get(&fate.id)
            .cloned()
            .unwrap_or_default()
    };
    let fates = index.fates_of(tally.batch_id).iter().copied();
    let gone = fates.filter(here).map(|fate| Gone {
        id: fate.id,
        count: fate.count,
        classes: classes(fate),
    });
    let gone: Vec<Gone> = gone.collect();
    let tray = Tray::of(index.facts, tally.batch_id);
    let Some(tray) = tray.filter(|_| !gone.is_empty()) else {
        return Placed::default();
    };
    let counted = index
        .looks_of(tally.id)
        .into_iter()
        .flat_map(|(look, classes)| {
            let classes = classes.iter();
            classes.filter_map(|class| Some((class.trait_id?, class.class_id?, look.count)))
        });
    let same_day = SameDay {
        counted: counted.collect(),
        total: tray.tally_total(tally),
        gone,
        stood: tray.stood_on(tally.cell, tally.day),
    };
    same_day.placed()
}

/// Whether seedlings went after a tally was made, so that it counts them.
pub(super) fn went_after(fate: &FateRow, tally: &TallyRow, placed: &Placed) -> bool {
    fate.day > tally.day || fate.day == tally.day && !placed.before.contains(&fate.id)
}

pub(super) fn cell_of(index: &Index<'_>, fate: &FateRow) -> Option<i64> {
    let of_plant = |plant| index.facts.plant.get(plant)?.cell;
    fate.cell.or_else(|| fate.plant_id.and_then(of_plant))
}
