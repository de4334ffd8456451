//! `sow`: a batch, and the lots its seeds are drawn from.

use super::desk::{Desk, some};
use super::find::{self, Wanted};
use super::refusal::{Excess, Identity, Order, Refusal};
use super::seed::first_pollinated;
use super::{Notice, Subject, bench, seedlings};
use crate::records::cells::CELLS_MAX;
use crate::records::day::Day;
use crate::records::entry::Sowing;
use crate::records::rows::{BatchRow, BatchSeedRow, CareRow, CareTargetRow, LotRow, Thing};
use crate::records::target::Target;
use crate::records::text::{self, NAME_MAX};
use crate::records::tray::stock;
use crate::records::warmth::WARMTH;

/// Seeds drawn from one lot.
type Draw = (i64, i64);

pub(super) fn sow(desk: &mut Desk, entry: &Sowing) -> Result<Subject, Refusal> {
    desk.not_future(entry.day)?;
    let seeds = some(entry.seeds, "seeds", &entry.source)?;
    let cells = check_cells(desk, entry, seeds)?;
    let place = text::check("place", &entry.place, NAME_MAX)?;
    let medium = text::check("medium", &entry.medium, NAME_MAX)?;
    let light = text::check("light", &entry.light, NAME_MAX)?;
    let warmth = entry.warmth.as_deref();
    let warmth = warmth.map(|typed| bench::warmth(desk, typed)).transpose()?;
    if let Some(code) = &entry.tray {
        desk.free(code)?;
    }
    let (thing, source) = source(desk, entry)?;
    check_cause(desk, entry, thing, source)?;
    let draws = draw(desk, entry, thing, source, seeds)?;
    if thing == Thing::Cross && draws.is_empty() {
        tell_nothing_set(desk, source);
    }
    let code = entry.tray.clone().unwrap_or_else(|| desk.automatic("T"));
    let batch = desk.insert(|id| BatchRow {
        id,
        cross_id: (thing == Thing::Cross).then_some(source),
        plant_id: (thing == Thing::Plant).then_some(source),
        day: entry.day,
        seeds,
        cells,
        place,
        medium,
        light,
    });
    desk.name(&code, Thing::Batch, batch);
    for (lot_id, seeds) in draws {
        desk.insert(|id| BatchSeedRow {
            id,
            batch_id: batch,
            lot_id,
            seeds,
        });
    }
    if let Some(dose) = warmth {
        stands_at(desk, batch, dose, entry.day);
    }
    Ok(Subject::Sowing { batch })
}

/// Records how warm the soil of a tray is.
fn stands_at(desk: &mut Desk, batch: i64, dose: String, day: Day) {
    let care_id = desk.insert(|id| CareRow {
        id,
        kind: WARMTH.to_owned(),
        product: String::new(),
        dose,
        interval_days: None,
        day,
        note: String::new(),
    });
    desk.insert(|id| CareTargetRow {
        id,
        care_id,
        thing: Thing::Batch,
        thing_id: batch,
    });
}

fn check_cells(desk: &mut Desk, entry: &Sowing, seeds: i64) -> Result<i64, Refusal> {
    let cells = entry
        .cells
        .map(|cells| some(cells, "cells", &entry.source))
        .transpose()?
        .unwrap_or(seeds);
    if cells > CELLS_MAX {
        return Err(Identity::TooManyCells {
            cells,
            most: CELLS_MAX,
        }
        .into());
    }
    if cells > seeds {
        desk.doubt(Excess::Cells { cells, seeds })?;
    }
    Ok(cells)
}

fn source(desk: &mut Desk, entry: &Sowing) -> Result<(Thing, i64), Refusal> {
    match &entry.source {
        Target::Code(code) | Target::Lot(code, _) => find::thing(desk.facts, code, Wanted::Seed),
        Target::Spot(..) => {
            find::plant(desk, &entry.source, entry.day).map(|plant| (Thing::Plant, plant))
        }
    }
}

/// Doubts a sowing before the pollination of the cross, or before the mother of the seed was sown.
fn check_cause(desk: &mut Desk, entry: &Sowing, thing: Thing, source: i64) -> Result<(), Refusal> {
    if thing == Thing::Plant {
        return seedlings::check_sown(desk, source, "sown from", entry.day);
    }
    let since = first_pollinated(desk, source);
    let Some(since) = since.filter(|since| entry.day < *since) else {
        return Ok(());
    };
    let label = desk
        .facts
        .code_of(Thing::Cross, source)
        .unwrap_or("?")
        .to_owned();
    let (effect, cause) = (format!("{label} sown"), format!("{label} was pollinated"));
    desk.doubt(Order::Before {
        effect,
        day: entry.day,
        cause,
        since,
        of: label,
    })
}

/// Says where no flower of a cross is recorded to have set.
fn tell_nothing_set(desk: &mut Desk, cross: i64) {
    let facts = desk.facts;
    let rows = facts.pollination.iter();
    let of_it = rows.filter(|row| row.cross_id == cross);
    let pods: Option<i64> = of_it.map(|row| row.pods).sum();
    if pods == Some(0) {
        let code = facts.code_of(Thing::Cross, cross).unwrap_or("?");
        let cross = code.to_owned();
        desk.tell(Notice::NothingSet { cross });
    }
}

/// From which lots the seeds come: the one named, the only one, the oldest with enough, or several.
fn draw(
    desk: &mut Desk,
    entry: &Sowing,
    thing: Thing,
    source: i64,
    seeds: i64,
) -> Result<Vec<Draw>, Refusal> {
    let facts = desk.facts;
    let mut all = find::lots(facts, thing, source);
    all.sort_by_key(|lot| (lot.day, lot.id));
    let named = match &entry.source {
        Target::Lot(_, number) => Some(*number),
        _ => entry.lot,
    };
    if let Some(number) = named {
        let lot = find::lot(facts, entry.source.code(), number)?;
        return draw_one(desk, entry, lot, seeds);
    }
    let on_time: Vec<&LotRow> = all
        .iter()
        .filter(|lot| lot.day <= entry.day)
        .copied()
        .collect();
    let lots = if on_time.is_empty() { all } else { on_time };
    let enough = |lot: &&&LotRow| stock(facts, lot.id).is_none_or(|left| left >= seeds);
    match (lots.iter().find(enough), &lots[..]) {
        (_, []) => Ok(Vec::new()),
        (Some(lot), lots) if lots.len() > 1 => {
            let others = lots.iter().filter(|other| other.id != lot.id);
            let others = others.map(|other| desk.facts.lot_label(other.id)).collect();
            let lot_name = desk.facts.lot_label(lot.id);
            desk.tell(Notice::LotTaken {
                lot: lot_name,
                others,
            });
            draw_one(desk, entry, lot, seeds)
        }
        (Some(lot), _) | (None, [lot]) => draw_one(desk, entry, lot, seeds),
        (None, lots) => draw_several(desk, lots, seeds),
    }
}

fn draw_one(
    desk: &mut Desk,
    entry: &Sowing,
    lot: &LotRow,
    seeds: i64,
) -> Result<Vec<Draw>, Refusal> {
    let label = desk.facts.lot_label(lot.id);
    if entry.day < lot.day {
        let got = if lot.cross_id.is_some() {
            "harvested"
        } else {
            "entered"
        };
        let (effect, cause) = (format!("{label} sown"), format!("{label} was {got}"));
        let of = label.split('/').next().unwrap_or(&label).to_owned();
        desk.doubt(Order::Before {
            effect,
            day: entry.day,
            cause,
            since: lot.day,
            of,
        })?;
    }
    if let (Some(left), Some(harvested)) = (stock(desk.facts, lot.id), lot.seeds)
        && seeds > left
    {
        desk.doubt(Excess::Sown {
            seeds,
            lot: label,
            left,
            harvested,
        })?;
    }
    Ok(vec![(lot.id, seeds)])
}

/// Draws on several lots, the oldest first; what is too much is laid to the last.
fn draw_several(desk: &mut Desk, lots: &[&LotRow], seeds: i64) -> Result<Vec<Draw>, Refusal> {
    let facts = desk.facts;
    let left_of = |lot: &LotRow| stock(facts, lot.id).unwrap_or(0).max(0);
    let left: i64 = lots.iter().map(|lot| left_of(lot)).sum();
    if seeds > left {
        let harvested = lots.iter().filter_map(|lot| lot.seeds).sum();
        let labels: Vec<String> = lots
            .iter()
            .map(|lot| desk.facts.lot_label(lot.id))
            .collect();
        desk.doubt(Excess::Sown {
            seeds,
            lot: labels.join(" and "),
            left,
            harvested,
        })?;
    }
    let mut wanted = seeds;
    let mut draws: Vec<Draw> = Vec::new();
    for lot in lots {
        let taken = left_of(lot).min(wanted);
        if taken > 0 {
            draws.push((lot.id, taken));
            wanted -= taken;
        }
    }
    match (draws.last_mut(), lots.last()) {
        (Some(last), _) => last.1 += wanted,
        (None, Some(lot)) => draws.push((lot.id, wanted)),
        (None, None) => {}
    }
    Ok(draws)
}
