//! Which seedlings of a look stand in a tray or cell, and how many of it are left.
//!
//! By their own readings first, else by the newest tally; what was removed since is taken off. The fates ask here.

use super::desk::Desk;
use super::looks::Sight;
use crate::records::entry::Fates;
use crate::records::rows::{FateRow, PlantRow, ReadingRow, Sureness, TallyRow};
use crate::records::tray::{Tray, gone};

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
            Self::Unnamed(Some(cell), _) => format!("{}-{cell:02}", tray.label()),
        }
    }
}

/// Where seedlings of a look stand: by their own readings, else by their cell's newest tally, else by
/// the batch's.
pub(super) fn standing_of_look(
    desk: &Desk,
    tray: &Tray,
    cell: Option<i64>,
    sights: &[Sight],
    entry: &Fates,
) -> Vec<Stand> {
    let read = tray.ever_scored();
    let here: Vec<&PlantRow> = tray
        .seedlings()
        .into_iter()
        .filter(|plant| read.contains(&plant.id))
        .collect();
    let of_cell = |at: Option<i64>| cell.is_none() || at == cell;
    let mut stands: Vec<Stand> = here
        .iter()
        .filter(|plant| of_cell(plant.cell) && shows(desk, plant.id, sights, entry))
        .map(|plant| Stand::Seedling(plant.id))
        .collect();
    for at in tray.tallied_cells() {
        let is_followed = here.iter().any(|plant| plant.cell == Some(at));
        if of_cell(Some(at)) && !is_followed {
            stands.extend(tallied(desk, tray, Some(at), sights, entry));
        }
    }
    if here.is_empty() && cell.is_none() && tray.tallied_cells().is_empty() {
        stands.extend(tallied(desk, tray, None, sights, entry));
    }
    stands
}

/// Whether the newest readings of a seedling that stands are those of the look.
fn shows(desk: &Desk, plant: i64, sights: &[Sight], entry: &Fates) -> bool {
    let facts = desk.facts;
    if gone(facts, plant, entry.day).is_some() {
        return false;
    }
    let newest = |of: i64| {
        let rows = facts.reading.iter().filter(|row: &&ReadingRow| {
            row.plant_id == plant && row.trait_id == Some(of) && row.day <= entry.day
        });
        rows.max_by_key(|row| (row.day, row.id))
            .map(|row| (row.class_id, row.sureness))
    };
    sights.iter().all(|sight| {
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
fn tallied(
    desk: &Desk,
    tray: &Tray,
    cell: Option<i64>,
    sights: &[Sight],
    entry: &Fates,
) -> Option<Stand> {
    let tally = tray.newest_tally(cell, entry.day)?;
    let counted = counted_in(desk, tally, sights);
    let removed = removed_since(desk, tray, tally, sights, entry);
    let left = (counted - removed).min(tray.standing_by(cell, entry.day));
    (left > 0).then_some(Stand::Unnamed(cell, left))
}

/// How many of a look can be left of a place where none is known by its own reading or tally; nothing where the
/// look's traits were never scored there. In a cell of a batch that was tallied as a whole, the batch's.
pub(super) fn left_of_look(
    desk: &Desk,
    tray: &Tray,
    cell: Option<i64>,
    sights: &[Sight],
    entry: &Fates,
) -> Option<i64> {
    let facts = desk.facts;
    let is_meant = |of: Option<i64>| sights.iter().any(|sight| of == Some(sight.of));
    let here = |plant: &PlantRow| cell.is_none() || plant.cell == cell;
    let read = tray.seedlings().into_iter().filter(|plant| here(plant));
    let is_read = read.into_iter().any(|plant| {
        facts
            .reading
            .iter()
            .any(|row| row.plant_id == plant.id && is_meant(row.trait_id) && row.day <= entry.day)
    });
    let tallies_it = |tally: &TallyRow| {
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
    };
    if is_read || tray.newest_tally(cell, entry.day).is_some_and(tallies_it) {
        return Some(0);
    }
    let whole = tray
        .newest_tally(None, entry.day)
        .filter(|tally| tallies_it(tally))?;
    let is_finer = !tray.ever_scored().is_empty() || !tray.tallied_cells().is_empty();
    let left = || counted_in(desk, whole, sights) - removed_since(desk, tray, whole, sights, entry);
    (!is_finer).then(|| left().max(0))
}

fn counted_in(desk: &Desk, tally: &TallyRow, sights: &[Sight]) -> i64 {
    let facts = desk.facts;
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
        .filter(|look| sights.iter().all(|sight| has(look.id, sight)))
        .map(|look| look.count)
        .sum()
}

/// How many of a look were removed from a place on the day of its tally or later; a count is taken to
/// be made before the pulling.
fn removed_since(
    desk: &Desk,
    tray: &Tray,
    tally: &TallyRow,
    sights: &[Sight],
    entry: &Fates,
) -> i64 {
    let has = |fate: &FateRow, sight: &Sight| {
        desk.facts.fate_class.iter().any(|class| {
            class.fate_id == fate.id
                && class.trait_id == sight.of
                && Some(class.class_id) == sight.class
        })
    };
    let fates = tray.fates().into_iter().filter(|fate| {
        fate.kind.is_gone()
            && (tally.cell.is_none() || fate.cell == tally.cell)
            && fate.plant_id.is_none()
            && (tally.day..=entry.day).contains(&fate.day)
            && sights.iter().all(|sight| has(fate, sight))
    });
    fates.map(|fate| fate.count).sum()
}
