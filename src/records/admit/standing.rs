//! Where the seedlings of a look stand, and how many of it are left: by their own readings, else by tallies less what went.
//!
//! Judges nothing; `fate` asks when seedlings are named by their looks.

use super::desk::Desk;
use super::looks::Sight;
use crate::records::day::Day;
use crate::records::rows::{FateRow, PlantRow, ReadingRow, Sureness, TallyRow};
use crate::records::same_day::{Gone, Placed, SameDay};
use crate::records::tray::{Tray, gone};

/// Of which look it is asked, where and when, and what the entry has taken so far.
#[derive(Clone, Copy)]
pub(super) struct Ask<'a, 'f> {
    pub(super) desk: &'a Desk<'f>,
    pub(super) tray: &'a Tray<'f>,
    pub(super) sights: &'a [Sight],
    pub(super) day: Day,
    pub(super) taken: &'a [Pulled],
}

/// So many of a look that the entry takes from a batch or one of its cells.
pub(super) struct Pulled {
    pub(super) batch: i64,
    pub(super) cell: Option<i64>,
    pub(super) sights: Vec<Sight>,
    pub(super) count: i64,
}

/// Seedlings of a look that stand together: one that is told apart, or so many of a cell or batch.
pub(super) enum Stand {
    Seedling(i64),
    Unnamed(Option<i64>, i64),
}

impl Stand {
    pub(super) const fn size(&self) -> i64 {
        match self {
            Self::Seedling(_) => 1,
            Self::Unnamed(_, count) => *count,
        }
    }

    pub(super) fn words(&self, desk: &Desk, tray: &Tray) -> String {
        match self {
            Self::Seedling(plant) => {
                let row = desk.facts.plant.get(*plant);
                row.and_then(|row| desk.facts.seedling_label(row))
                    .unwrap_or_default()
            }
            Self::Unnamed(None, _) => tray.label().to_owned(),
            Self::Unnamed(cell @ Some(_), _) => tray.place(*cell),
        }
    }
}

/// Where seedlings of a look stand: by their own readings, else by their cell's newest tally, else by
/// the batch's.
pub(super) fn standing_of_look(ask: &Ask, cell: Option<i64>) -> Vec<Stand> {
    let tray = ask.tray;
    let read = tray.ever_scored();
    let here: Vec<&PlantRow> = tray
        .seedlings()
        .into_iter()
        .filter(|plant| read.contains(&plant.id))
        .collect();
    let of_cell = |at: Option<i64>| cell.is_none() || at == cell;
    let mut stands: Vec<Stand> = here
        .iter()
        .filter(|plant| of_cell(plant.cell) && shows(ask, plant.id))
        .map(|plant| Stand::Seedling(plant.id))
        .collect();
    for at in tray.tallied_cells() {
        let is_followed = here.iter().any(|plant| plant.cell == Some(at));
        if of_cell(Some(at)) && !is_followed {
            stands.extend(tallied(ask, Some(at)));
        }
    }
    if here.is_empty() && cell.is_none() && tray.tallied_cells().is_empty() {
        stands.extend(tallied(ask, None));
    }
    stands
}

/// The tally by which a cell's seedlings are counted now, none of them having a reading of its own; a reading of one would
/// take its place.
pub(super) fn counted_by<'f>(tray: &Tray<'f>, cell: i64, day: Day) -> Option<&'f TallyRow> {
    let read = tray.ever_scored();
    if tray
        .in_cell(cell)
        .iter()
        .any(|plant| read.contains(&plant.id))
    {
        return None;
    }
    let whole = || {
        let is_finer = !read.is_empty() || !tray.tallied_cells().is_empty();
        tray.newest_tally(None, day).filter(|_| !is_finer)
    };
    tray.newest_tally(Some(cell), day).or_else(whole)
}

/// How many of a look a tally leaves; nothing where it does not count the look's traits.
pub(super) fn left_of_tally(ask: &Ask, tally: &TallyRow) -> Option<i64> {
    let left = || counted_in(ask, tally) - removed_since(ask, tally);
    counts_traits(ask, tally).then(|| left().max(0))
}

/// Whether the newest readings of a seedling that stands are those of the look.
pub(super) fn shows(ask: &Ask, plant: i64) -> bool {
    let facts = ask.desk.facts;
    if gone(facts, plant, ask.day).is_some() {
        return false;
    }
    let newest = |of: i64| {
        let rows = facts.reading.iter().filter(|row: &&ReadingRow| {
            row.plant_id == plant && row.trait_id == Some(of) && row.day <= ask.day
        });
        rows.max_by_key(|row| (row.day, row.id))
            .map(|row| (row.class_id, row.sureness))
    };
    ask.sights.iter().all(|sight| {
        newest(sight.of).is_some_and(|(class, sureness)| {
            class == sight.class && is_like(sureness, sight.sureness)
        })
    })
}

/// A plain class word means doubtful readings of it too; `maybe-` means those alone.
fn is_like(read: Sureness, meant: Sureness) -> bool {
    meant != Sureness::Doubtful || read == Sureness::Doubtful
}

/// How many of a look the newest tally of a place leaves, less those removed since.
fn tallied(ask: &Ask, cell: Option<i64>) -> Option<Stand> {
    let tally = ask.tray.newest_tally(cell, ask.day)?;
    let left = counted_in(ask, tally) - removed_since(ask, tally);
    let left = left.min(ask.tray.standing_by(cell, ask.day));
    (left > 0).then_some(Stand::Unnamed(cell, left))
}

/// How many of a look can be left of a place where none is known by its own reading or tally; nothing where the
/// look's traits were never scored there. In a cell of a batch that was tallied as a whole, the batch's.
pub(super) fn left_of_look(ask: &Ask, cell: Option<i64>) -> Option<i64> {
    let (facts, tray) = (ask.desk.facts, ask.tray);
    let is_meant = |of: Option<i64>| ask.sights.iter().any(|sight| of == Some(sight.of));
    let here = |plant: &PlantRow| cell.is_none() || plant.cell == cell;
    let read = tray.seedlings().into_iter().filter(|plant| here(plant));
    let is_read = read.into_iter().any(|plant| {
        facts
            .reading
            .iter()
            .any(|row| row.plant_id == plant.id && is_meant(row.trait_id) && row.day <= ask.day)
    });
    let own = tray.newest_tally(cell, ask.day);
    if is_read || own.is_some_and(|tally| counts_traits(ask, tally)) {
        return Some(0);
    }
    let whole = tray.newest_tally(None, ask.day)?;
    let is_finer = !tray.ever_scored().is_empty() || !tray.tallied_cells().is_empty();
    left_of_tally(ask, whole).filter(|_| !is_finer)
}

/// Whether a tally counts any of the look's traits.
fn counts_traits(ask: &Ask, tally: &TallyRow) -> bool {
    let facts = ask.desk.facts;
    let is_meant = |of: Option<i64>| ask.sights.iter().any(|sight| of == Some(sight.of));
    let of_tally = |look: i64| {
        facts
            .tally_look
            .get(look)
            .is_some_and(|look| look.tally_id == tally.id)
    };
    facts
        .tally_class
        .iter()
        .any(|row| is_meant(row.trait_id) && of_tally(row.look_id))
}

fn counted_in(ask: &Ask, tally: &TallyRow) -> i64 {
    let facts = ask.desk.facts;
    let has = |look: i64, sight: &Sight| {
        facts.tally_class.iter().any(|class| {
            class.look_id == look
                && class.trait_id == Some(sight.of)
                && class.class_id == sight.class
                && is_like(class.sureness, sight.sureness)
        })
    };
    let looks = facts
        .tally_look
        .iter()
        .filter(|look| look.tally_id == tally.id);
    looks
        .filter(|look| ask.sights.iter().all(|sight| has(look.id, sight)))
        .map(|look| look.count)
        .sum()
}

/// How many of a look went from a place since its tally, those that this entry takes included.
fn removed_since(ask: &Ask, tally: &TallyRow) -> i64 {
    let Ask { desk, tray, .. } = ask;
    let before = placed(desk, tray, tally).before;
    let is_later = |fate: &&FateRow| {
        let of_day = fate.day == tally.day && !before.contains(&fate.id);
        of_day || fate.day > tally.day && fate.day <= ask.day
    };
    let has = |fate: &FateRow, sight: &Sight| {
        desk.facts.fate_class.iter().any(|class| {
            class.fate_id == fate.id
                && class.trait_id == sight.of
                && Some(class.class_id) == sight.class
        })
    };
    let fates = gone_from(tray, desk, tally.cell).into_iter();
    let fates = fates
        .filter(is_later)
        .filter(|fate| ask.sights.iter().all(|sight| has(fate, sight)));
    let is_here = |one: &&Pulled| {
        let of_look = |sight: &Sight| {
            one.sights
                .iter()
                .any(|own| (own.of, own.class) == (sight.of, sight.class))
        };
        one.batch == tray.batch.id
            && (tally.cell.is_none() || one.cell == tally.cell)
            && ask.sights.iter().all(of_look)
    };
    let taken = ask.taken.iter().filter(is_here).map(|one| one.count);
    fates.map(|fate| fate.count).chain(taken).sum()
}

/// What went from a batch or one of its cells.
fn gone_from<'f>(tray: &Tray<'f>, desk: &Desk<'f>, cell: Option<i64>) -> Vec<&'f FateRow> {
    let place = |fate: &FateRow| {
        let plant = fate.plant_id.and_then(|id| desk.facts.plant.get(id));
        plant.map_or(fate.cell, |plant| plant.cell)
    };
    let mut fates = tray.fates();
    fates.retain(|fate| fate.kind.is_gone() && (cell.is_none() || place(fate) == cell));
    fates
}

/// What of a tally's place went before it on its day.
fn placed(desk: &Desk, tray: &Tray, tally: &TallyRow) -> Placed {
    let facts = desk.facts;
    let mut of_day = gone_from(tray, desk, tally.cell);
    of_day.retain(|fate| fate.day == tally.day);
    if of_day.is_empty() {
        return Placed::default();
    }
    let classes = |fate: &FateRow| {
        let rows = facts.fate_class.iter().filter(|row| row.fate_id == fate.id);
        rows.map(|row| (row.trait_id, row.class_id)).collect()
    };
    let gone = of_day.iter().map(|fate| Gone {
        id: fate.id,
        count: fate.count,
        classes: classes(fate),
    });
    let looks = facts
        .tally_look
        .iter()
        .filter(|look| look.tally_id == tally.id);
    let counted = looks.flat_map(|look| {
        let rows = facts
            .tally_class
            .iter()
            .filter(|row| row.look_id == look.id);
        rows.filter_map(|row| Some((row.trait_id?, row.class_id?, look.count)))
    });
    let same_day = SameDay {
        counted: counted.collect(),
        total: tray.tally_total(tally),
        gone: gone.collect(),
        stood: tray.stood_on(tally.cell, tally.day),
    };
    same_day.placed()
}
