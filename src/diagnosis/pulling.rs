//! Seedlings pulled before or after they were counted: what that does to a count.
//!
//! Whoever is pulled for its looks, and was not counted before, is missing from its class. So the count before the pulling is
//! frozen and stands in the place of later ones; where there is none, this says how many of which class are missing. Chosen
//! without regard to looks they are missing from all classes alike, which biases nothing. What counts are held against is
//! not known here. The counts of trays ask.

use super::context::Context;
use super::evidence::{Member, Telling};
use super::index::Index;
use crate::records::day::Day;
use crate::records::rows::{BatchRow, FateKind, FateRow, TallyRow};
use crate::records::tray::Tray;

/// What the pulling of seedlings does to the counts of a tray in one trait.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Pulling {
    /// Pulled for a class of the trait before they were counted: the class, as a place among the trait's, and how many.
    pub short: Vec<(usize, u64)>,
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

/// Whether a tally was made before seedlings of its day were pulled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum MadeOn {
    /// The numbers show that it was.
    Before,
    /// They show neither.
    Unsure,
    /// They show that it was not.
    After,
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
    for fate in context.index.fates_of(batch.id) {
        let of_trait = classes_of(context.index, fate, trait_id);
        if !is_pulled(fate) || of_trait.is_none() {
            continue;
        }
        let (missed, unsure) = is_missed(&tray, context.index, fate, trait_id, read);
        let count = fate.count.unsigned_abs();
        found.same_day |= unsure && !fate.blind;
        match (fate.blind, missed) {
            (true, _) => found.blind += count,
            (false, false) => found.counted_in += count,
            (false, true) => {
                found.first = Some(found.first.map_or(fate.day, |day| day.min(fate.day)));
                let class = of_trait
                    .flatten()
                    .and_then(|class| looks.class_place(class));
                match class {
                    Some((_, class)) => add(&mut found.short, class, count),
                    None => found.unsaid += count,
                }
            }
        }
    }
    found
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

/// Whether what was counted lacks seedlings that were pulled, and whether only an assumption says that it does not.
fn is_missed(
    tray: &Tray<'_>,
    index: &Index<'_>,
    fate: &FateRow,
    trait_id: i64,
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
            let made = tally.map_or(MadeOn::Unsure, |tally| {
                made_on(tray, index, tally, trait_id)
            });
            missed |= made == MadeOn::After;
            unsure |= made == MadeOn::Unsure;
        }
    }
    (missed || !any, unsure)
}

/// Whether a tally was made before the seedlings of its place were pulled that were pulled on its day.
///
/// After, where more of a look were pulled than it counts, or where it counts just those that stood then; before, where it
/// counts more than that.
pub(super) fn made_on(
    tray: &Tray<'_>,
    index: &Index<'_>,
    tally: &TallyRow,
    trait_id: i64,
) -> MadeOn {
    let of_day: Vec<&FateRow> = (index.fates_of(tally.batch_id).iter().copied())
        .filter(|fate| is_pulled(fate) && fate.day == tally.day)
        .filter(|fate| tally.cell.is_none() || cell_of(index, fate) == tally.cell)
        .collect();
    let pulled_as = |class: i64| -> i64 {
        let own = of_day
            .iter()
            .filter(|fate| classes_of(index, fate, trait_id) == Some(Some(class)));
        own.map(|fate| fate.count).sum()
    };
    let looks = index.looks_of(tally.id);
    let counted_as = |class: i64| -> i64 {
        let own = looks
            .iter()
            .filter(|(_, classes)| classes.iter().any(|one| one.class_id == Some(class)));
        own.map(|(look, _)| look.count).sum()
    };
    let mut said = of_day
        .iter()
        .filter_map(|fate| classes_of(index, fate, trait_id).flatten());
    if said.any(|class| pulled_as(class) > counted_as(class)) {
        return MadeOn::After;
    }
    let up = match tally.cell {
        None => tray.up_by(tally.day),
        Some(cell) => tray.cell_up_by(cell, tally.day),
    };
    let stood = up.map(|up| up - tray.gone_by(tally.cell, tally.day));
    match stood.map(|stood| tray.tally_total(tally).cmp(&stood)) {
        Some(std::cmp::Ordering::Greater) => MadeOn::Before,
        Some(std::cmp::Ordering::Equal) => MadeOn::After,
        _ => MadeOn::Unsure,
    }
}

pub(super) fn cell_of(index: &Index<'_>, fate: &FateRow) -> Option<i64> {
    let of_plant = |plant| index.facts.plant.get(plant)?.cell;
    fate.cell.or_else(|| fate.plant_id.and_then(of_plant))
}
