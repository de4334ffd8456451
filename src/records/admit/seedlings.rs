//! Which seedling a place means, and a row for one that is mentioned for the first time.

use super::Notice;
use super::desk::Desk;
use super::refusal::{Excess, Identity, Order, Refusal};
use crate::records::cells::Spot;
use crate::records::day::Day;
use crate::records::descent::FLOWERING_DAYS;
use crate::records::rows::{PlantCytoplasm, PlantKind, PlantRow, Thing};
use crate::records::tray::{Tray, gone, went};

/// Refuses a cell beyond the tray.
pub(super) fn check_cell(tray: &Tray, cell: i64) -> Result<(), Refusal> {
    let cells = tray.batch.cells;
    if (1..=cells).contains(&cell) {
        return Ok(());
    }
    Err(Identity::NoSuchCell {
        tray: tray.label().to_owned(),
        cell,
        cells,
    }
    .into())
}

/// The place of a cell or seedling as messages name it.
pub(super) fn place(tray: &Tray, spot: &Spot) -> String {
    format!("{}-{spot}", tray.label())
}

/// The seedling that stands at a place on a day; a row is made for one not told apart before.
pub(super) fn at(desk: &mut Desk, tray: &Tray, spot: &Spot, day: Day) -> Result<i64, Refusal> {
    check_cell(tray, spot.cell)?;
    let key = (tray.batch.id, spot.cell, spot.part.clone());
    if let Some(id) = desk.fresh.get(&key) {
        return Ok(*id);
    }
    let known = tray.in_cell(spot.cell);
    if let Some(exact) = known.iter().find(|plant| plant.part == spot.part) {
        let left = if spot.part.is_empty() {
            last_left(desk, &known, day)
        } else {
            None
        };
        let is_gone = gone(desk.facts, exact.id, day).is_some();
        return Ok(if is_gone {
            left.unwrap_or(exact.id)
        } else {
            exact.id
        });
    }
    if spot.part.is_empty()
        && let Some(id) = unlettered(desk, tray, spot, &known, day)?
    {
        return Ok(id);
    }
    make(desk, tray, spot, day)
}

/// The only one of several that still stands.
fn last_left(desk: &Desk, known: &[&PlantRow], day: Day) -> Option<i64> {
    let mut standing = known
        .iter()
        .filter(|plant| gone(desk.facts, plant.id, day).is_none());
    match (standing.next(), standing.next()) {
        (Some(only), None) => Some(only.id),
        _ => None,
    }
}

/// What a cell's number alone means where its seedlings have letters or none was told apart.
fn unlettered(
    desk: &Desk,
    tray: &Tray,
    spot: &Spot,
    known: &[&PlantRow],
    day: Day,
) -> Result<Option<i64>, Refusal> {
    let alive = known
        .iter()
        .filter(|plant| gone(desk.facts, plant.id, day).is_none())
        .count();
    let alive = i64::try_from(alive).expect("seedlings of a cell can be counted");
    let counted = tray.cell_up_by(spot.cell, day).or_else(|| {
        tray.newest_tally(Some(spot.cell), day)
            .map(|tally| tray.tally_total(tally))
    });
    let left = counted.map_or(0, |count| count - tray.gone_by(Some(spot.cell), day));
    let standing = alive.max(left);
    if standing > 1 {
        let label = |plant: &&PlantRow| desk.facts.plant_label(plant);
        let known = known.iter().map(label).collect();
        return Err(Identity::SeveralInCell {
            place: place(tray, spot),
            standing,
            known,
        }
        .into());
    }
    Ok(last_left(desk, known, day).or_else(|| known.last().map(|plant| plant.id)))
}

fn make(desk: &mut Desk, tray: &Tray, spot: &Spot, day: Day) -> Result<i64, Refusal> {
    let batch_id = tray.batch.id;
    let of_batch = desk
        .fresh
        .keys()
        .filter(|(batch, ..)| *batch == batch_id)
        .count();
    let (seedlings, sown) = (tray.seedlings().len() + of_batch + 1, tray.batch.seeds);
    if usize::try_from(sown).is_ok_and(|sown| seedlings > sown) {
        let (tray, seedling) = (tray.label().to_owned(), place(tray, spot));
        desk.doubt(Excess::ToldApart {
            tray,
            seedling,
            seedlings,
            sown,
        })?;
    }
    if day < tray.batch.day {
        let (of, since) = (tray.label().to_owned(), tray.batch.day);
        let (effect, cause) = (
            format!("{} seen", place(tray, spot)),
            format!("{of} was sown"),
        );
        desk.doubt(Order::Before {
            effect,
            day,
            cause,
            since,
            of,
        })?;
    }
    let (cell, part) = (spot.cell, spot.part.clone());
    let id = desk.insert(|id| PlantRow {
        id,
        kind: PlantKind::Seedling,
        name: String::new(),
        species: String::new(),
        cytoplasm: PlantCytoplasm::Unknown,
        batch_id: Some(batch_id),
        cell: Some(cell),
        part: part.clone(),
        mother_id: None,
        father_id: None,
        entered: day,
    });
    desk.fresh.insert((batch_id, cell, part), id);
    Ok(id)
}

/// Doubts what is done to a plant before it was sown or after it went.
pub(super) fn check_alive(
    desk: &mut Desk,
    plant_id: i64,
    act: &'static str,
    day: Day,
) -> Result<(), Refusal> {
    let facts = desk.facts;
    let Some(row) = facts.plant.get(plant_id) else {
        return Ok(());
    };
    if let Some(fate) = gone(facts, plant_id, day) {
        let (plant, fate, since) = (facts.plant_label(row), went(fate.kind, 1), fate.day);
        desk.doubt(Order::Gone {
            plant,
            act,
            day,
            fate,
            since,
        })?;
    }
    check_sown(desk, plant_id, act, day)
}

/// Doubts what is done to a seedling, or with its seed, before it was sown itself.
pub(super) fn check_sown(
    desk: &mut Desk,
    plant_id: i64,
    act: &str,
    day: Day,
) -> Result<(), Refusal> {
    let facts = desk.facts;
    let Some(row) = facts.plant.get(plant_id) else {
        return Ok(());
    };
    let sown = row
        .batch_id
        .and_then(|id| facts.batch.get(id))
        .map(|batch| batch.day);
    let Some(since) = sown.filter(|sown| day < *sown) else {
        return Ok(());
    };
    let of = facts.plant_label(row);
    let (effect, cause) = (format!("{of} {act}"), format!("{of} was sown"));
    desk.doubt(Order::Before {
        effect,
        day,
        cause,
        since,
        of,
    })
}

/// When a seedling was sown, one first mentioned in this entry too; nothing for other plants.
fn sown_on(desk: &Desk, plant_id: i64) -> Option<Day> {
    let facts = desk.facts;
    let batch = match facts.plant.get(plant_id) {
        Some(row) => row.batch_id,
        None => batch_of_fresh(desk, plant_id),
    };
    facts.batch.get(batch?).map(|batch| batch.day)
}

/// The batch of a seedling that was first mentioned in this entry.
pub(super) fn batch_of_fresh(desk: &Desk, plant_id: i64) -> Option<i64> {
    let mut fresh = desk.fresh.iter();
    let found = fresh.find(|(_, id)| **id == plant_id);
    found.map(|((batch, ..), _)| *batch)
}

/// The code or place of a plant, one first mentioned in this entry too.
fn label(desk: &Desk, plant_id: i64) -> String {
    let mut fresh = desk.fresh.iter();
    match fresh.find(|(_, id)| **id == plant_id) {
        Some(((batch, cell, part), _)) => {
            let tray = desk.facts.code_of(Thing::Batch, *batch).unwrap_or_default();
            format!("{tray}-{cell:02}{part}")
        }
        None => super::find::label(desk.facts, plant_id),
    }
}

/// Doubts flowers of a plant on the day it was sown; says that one is too young to flower on a day after that.
pub(super) fn check_old_enough(
    desk: &mut Desk,
    plant_id: i64,
    act: &str,
    day: Day,
) -> Result<(), Refusal> {
    let Some(days) = sown_on(desk, plant_id).map(|sown| day.since(sown)) else {
        return Ok(());
    };
    let plant = label(desk, plant_id);
    if days == 0 {
        return desk.doubt(Order::TooSoon {
            effect: format!("{plant} {act}"),
            day,
            days,
            cause: format!("{plant} was sown"),
            of: plant,
            why: "a seed does not flower",
        });
    }
    if (1..FLOWERING_DAYS).contains(&days) {
        desk.tell(Notice::HardlyInFlower { plant, days });
    }
    Ok(())
}
