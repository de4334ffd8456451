//! `score`: readings of single plants, tallies of a batch or cell.

use std::collections::BTreeMap;

use super::desk::Desk;
use super::looks::{Reader, Sight, enter_reading};
use super::refusal::{Excess, Identity, LookRefusal, Order, Refusal};
use super::{Notice, Subject, contradict, find, read_twice, seedlings};
use crate::records::cells::Spot;
use crate::records::count::Count;
use crate::records::day::Day;
use crate::records::entry::{Look, Score, ScoreWhat};
use crate::records::rows::{PlantKind, TallyClassRow, TallyLookRow, TallyRow, Thing};
use crate::records::target::Target;
use crate::records::tray::{Tray, gone};

/// How many seedlings are scored in each cell; 0 stands for the batch as a whole.
pub(super) type Scored = BTreeMap<i64, i64>;

pub(super) fn score(desk: &mut Desk, entry: &Score) -> Result<Subject, Refusal> {
    desk.not_future(entry.day)?;
    check_leaves(desk, entry)?;
    match &entry.what {
        ScoreWhat::Plant(look) => one_plant(desk, entry, look),
        ScoreWhat::Tally(looks) => tally(desk, entry, looks),
        ScoreWhat::Spots(spots) => many_plants(desk, entry, spots),
    }
}

/// Leaves above which an age in leaves is doubted, from common practice: seedlings are scored long before.
const LEAVES_MAX: i64 = 60;

fn check_leaves(desk: &mut Desk, entry: &Score) -> Result<(), Refusal> {
    match entry.leaves.map(Count::get) {
        Some(leaves) if leaves > LEAVES_MAX => desk.doubt(Excess::Leaves {
            place: entry.target.to_string(),
            leaves,
            most: LEAVES_MAX,
        }),
        Some(leaves) => check_rate(desk, entry, leaves),
        None => Ok(()),
    }
}

/// More than one leaf for each day since the sowing is doubted (design choice, from common practice: no pepper seedling is
/// that fast).
fn check_rate(desk: &mut Desk, entry: &Score, leaves: i64) -> Result<(), Refusal> {
    let named = desk.facts.code_named(entry.target.code().as_str());
    let batch = named
        .filter(|row| row.thing == Thing::Batch)
        .and_then(|row| desk.facts.batch.get(row.thing_id));
    let days = batch.map(|batch| entry.day.since(batch.day));
    match days.filter(|days| (0..leaves).contains(days)) {
        Some(days) => desk.doubt(Excess::LeavesTooSoon {
            place: entry.target.to_string(),
            leaves,
            days,
        }),
        None => Ok(()),
    }
}

/// Says which seedlings had more leaves when they were last counted.
fn tell_fewer_leaves(desk: &mut Desk, plants: &[i64], leaves: Option<Count>, day: Day) {
    let Some(leaves) = leaves.map(Count::get) else {
        return;
    };
    let facts = desk.facts;
    for plant in plants {
        let rows = facts.reading.iter();
        let counted = rows.filter(|row| row.plant_id == *plant && row.day < day);
        let newest = counted
            .filter_map(|row| Some((row.day, row.id, row.leaves?)))
            .max();
        if let Some((since, _, before)) = newest.filter(|(_, _, before)| *before > leaves) {
            desk.tell(Notice::FewerLeaves {
                place: find::label(facts, *plant),
                before,
                since,
            });
        }
    }
}

fn one_plant(desk: &mut Desk, entry: &Score, look: &Look) -> Result<Subject, Refusal> {
    let facts = desk.facts;
    let plant = find::plant(desk, &entry.target, entry.day)?;
    let row = facts.plant.get(plant);
    let grown = row.is_some_and(|row| {
        row.kind != PlantKind::Seedling || facts.code_of(Thing::Plant, plant).is_some()
    });
    let reader = if grown {
        Reader::grown(facts, entry.of.as_ref())?
    } else {
        Reader::seedlings(facts, entry.of.as_ref())?
    };
    let sights = reader.read(look)?;
    let batch = match (&entry.target, row) {
        (Target::Spot(tray, _), _) => Some(find::tray(facts, tray)?),
        (_, Some(row)) => row.batch_id.and_then(|id| Tray::of(facts, id)),
        (_, None) => None,
    };
    if let Some(tray) = batch {
        check_plants(desk, &tray, &[plant], entry.day)?;
    }
    read_twice::tell(desk, &[(plant, &sights[..])], entry.day);
    tell_fewer_leaves(desk, &[plant], entry.leaves, entry.day);
    contradict::remark_on_stated(desk, plant, &sights);
    let leaves = entry.leaves.map(Count::get);
    Ok(Subject::Readings {
        readings: enter_reading(desk, plant, &sights, entry.day, leaves),
    })
}

fn many_plants(
    desk: &mut Desk,
    entry: &Score,
    spots: &[(Vec<Spot>, Look)],
) -> Result<Subject, Refusal> {
    let tray = match &entry.target {
        Target::Code(code) => find::tray(desk.facts, code)?,
        other => return Err(not_countable(other)),
    };
    let reader = Reader::seedlings(desk.facts, entry.of.as_ref())?;
    let looks: Vec<&Look> = spots.iter().map(|(_, look)| look).collect();
    let sights = reader.read_all(&looks)?;
    let mut plants: Vec<(i64, &[Sight])> = Vec::new();
    for ((spots, _), sights) in spots.iter().zip(&sights) {
        for spot in spots {
            let plant = seedlings::at(desk, &tray, spot, entry.day)?;
            if plants.iter().any(|(known, _)| *known == plant) {
                return Err(LookRefusal::SeedlingTwice(seedlings::place(&tray, spot)).into());
            }
            plants.push((plant, sights));
        }
    }
    let ids: Vec<i64> = plants.iter().map(|(plant, _)| *plant).collect();
    check_plants(desk, &tray, &ids, entry.day)?;
    read_twice::tell(desk, &plants, entry.day);
    tell_fewer_leaves(desk, &ids, entry.leaves, entry.day);
    let leaves = entry.leaves.map(Count::get);
    let enter =
        |(plant, sights): (i64, &[Sight])| enter_reading(desk, plant, sights, entry.day, leaves);
    Ok(Subject::Readings {
        readings: plants.into_iter().flat_map(enter).collect(),
    })
}

fn not_countable(target: &Target) -> Refusal {
    Identity::NotOnePlant {
        typed: target.to_string(),
        tray: None,
    }
    .into()
}

/// The cell of a plant, also of one first mentioned in this entry.
fn cell_of(desk: &Desk, plant: i64) -> Option<i64> {
    let fresh = desk
        .fresh
        .iter()
        .find(|(_, id)| **id == plant)
        .map(|((_, cell, _), _)| *cell);
    fresh.or_else(|| desk.facts.plant.get(plant).and_then(|row| row.cell))
}

/// The bench rules for readings of single seedlings of a tray.
pub(super) fn check_plants(
    desk: &mut Desk,
    tray: &Tray,
    plants: &[i64],
    day: Day,
) -> Result<(), Refusal> {
    for plant in plants {
        seedlings::check_alive(desk, *plant, "scored", day)?;
        if gone(desk.facts, *plant, day).is_some_and(|fate| fate.day < day) {
            let place = find::label(desk.facts, *plant);
            desk.tell(Notice::ReadWhenGone { place });
        }
    }
    if day < tray.batch.day {
        desk.tell(Notice::OutOfSums {
            place: tray.label().to_owned(),
        });
        return Ok(());
    }
    check_first_up(desk, tray, day)?;
    let cells: Vec<i64> = plants
        .iter()
        .filter_map(|plant| cell_of(desk, *plant))
        .collect();
    for cell in &cells {
        check_cell_up(desk, tray, *cell, "scored", day)?;
    }
    let before = scored(desk, tray, day);
    let known = tray.scored_by(day);
    let mut after = before.clone();
    after.remove(&0);
    for (plant, cell) in plants.iter().zip(&cells) {
        if !known.contains(plant) {
            let own = tray
                .in_cell(*cell)
                .iter()
                .filter(|row| known.contains(&row.id))
                .count();
            let tallied = if own == 0 {
                0
            } else {
                after.get(cell).copied().unwrap_or(0)
            };
            after.insert(*cell, tallied + 1);
        }
    }
    check_total(desk, tray, &before, &after, day)?;
    tell_overruled(desk, tray, &cells, true);
    Ok(())
}

/// Days after sowing before which no seedling can be up. Germination of a bell pepper on paper began at
/// 3.0 days at 25 degrees (a conference paper of Florida); a seedling above ground comes later.
const FIRST_DAYS: i64 = 3;

/// Doubts what is recorded of a seedling named by its place that is not up: before the first of its tray, or in a cell of
/// which none is among those up.
pub(super) fn check_up(
    desk: &mut Desk,
    target: &Target,
    act: &'static str,
    day: Day,
) -> Result<(), Refusal> {
    let Target::Spot(tray, spot) = target else {
        return Ok(());
    };
    let tray = find::tray(desk.facts, tray)?;
    let label = tray.label();
    if let Some(since) = tray.first_up().filter(|since| day < *since) {
        return desk.doubt(Order::Before {
            effect: format!("{} {act}", tray.place(Some(spot.cell))),
            day,
            cause: format!("the first of {label} was up"),
            since,
            of: label.to_owned(),
        });
    }
    check_cell_up(desk, &tray, spot.cell, act, day)
}

/// Doubts a score before the first seedling was counted as up, or, where nobody counted, before one can be
/// up; says at the first score that the count is missing.
fn check_first_up(desk: &mut Desk, tray: &Tray, day: Day) -> Result<(), Refusal> {
    let Some(first) = tray.first_up() else {
        return check_uncounted(desk, tray, day);
    };
    let Some(since) = Some(first).filter(|since| day < *since) else {
        return Ok(());
    };
    let of = tray.label().to_owned();
    let (effect, cause) = (format!("{of} scored"), format!("the first of {of} was up"));
    desk.doubt(Order::Before {
        effect,
        day,
        cause,
        since,
        of,
    })
}

fn check_uncounted(desk: &mut Desk, tray: &Tray, day: Day) -> Result<(), Refusal> {
    let tray_label = tray.label().to_owned();
    let days = day.since(tray.batch.day);
    if days < FIRST_DAYS {
        desk.doubt(Order::TooSoon {
            effect: format!("{tray_label} scored"),
            day,
            days,
            cause: format!("{tray_label} was sown"),
            of: tray_label.clone(),
            why: "no seedling is up so soon",
        })?;
    }
    let is_first =
        !has_readings(tray, None) && tray.tallied_cells().is_empty() && !tray.has_batch_tally();
    if is_first {
        desk.tell(Notice::NobodyUp { tray: tray_label });
    }
    Ok(())
}

/// Doubts what is recorded of a cell that is not among those up, where the cells were counted one by one.
pub(super) fn check_cell_up(
    desk: &mut Desk,
    tray: &Tray,
    cell: i64,
    act: &'static str,
    day: Day,
) -> Result<(), Refusal> {
    let (Some(cells), Some(up)) = (tray.cells_up_by(day), tray.up_by(day)) else {
        return Ok(());
    };
    if up > cells || tray.cell_up_by(cell, day).unwrap_or(0) > 0 {
        return Ok(());
    }
    let seedling = tray.place(Some(cell));
    desk.doubt(Excess::NotUp {
        seedling,
        act,
        up,
        day,
    })
}

/// How many are scored by a day: seedlings of their own, else the newest tally of a cell; the batch's
/// newest tally where there is neither.
pub(super) fn scored(desk: &Desk, tray: &Tray, day: Day) -> Scored {
    let mut scored = Scored::new();
    for cell in tray.tallied_cells() {
        if let Some(tally) = tray.newest_tally(Some(cell), day) {
            scored.insert(cell, tray.tally_total(tally));
        }
    }
    let mut own = Scored::new();
    for plant in tray.scored_by(day) {
        *own.entry(cell_of(desk, plant).unwrap_or(0)).or_default() += 1;
    }
    scored.extend(own);
    if scored.is_empty()
        && let Some(tally) = tray.newest_tally(None, day)
    {
        scored.insert(0, tray.tally_total(tally));
    }
    scored
}

/// Doubts more scored than up, or than sown where nothing was counted; only where this entry adds.
fn check_total(
    desk: &mut Desk,
    tray: &Tray,
    before: &Scored,
    after: &Scored,
    day: Day,
) -> Result<(), Refusal> {
    let (before, scored): (i64, i64) = (before.values().sum(), after.values().sum());
    if scored <= before {
        return Ok(());
    }
    check_count(
        desk,
        tray,
        tray.label().to_owned(),
        scored,
        tray.up_by(day),
        day,
    )
}

fn check_count(
    desk: &mut Desk,
    tray: &Tray,
    place: String,
    scored: i64,
    up: Option<i64>,
    day: Day,
) -> Result<(), Refusal> {
    let sown = tray.batch.seeds;
    match up {
        Some(up) if scored > up => desk.doubt(Excess::Scored {
            place,
            scored,
            up,
            day,
        }),
        None if scored > sown => desk.doubt(Excess::ScoredOfSown {
            place,
            scored,
            sown,
        }),
        _ => Ok(()),
    }
}

fn tally(desk: &mut Desk, entry: &Score, looks: &[(Count, Look)]) -> Result<Subject, Refusal> {
    let (tray, cell) = match &entry.target {
        Target::Code(code) => match find::thing(desk.facts, code, find::Wanted::Any)? {
            (Thing::Plant, _) => return Err(not_countable(&entry.target)),
            _ => (find::tray(desk.facts, code)?, None),
        },
        Target::Spot(code, spot) if spot.part.is_empty() => {
            let tray = find::tray(desk.facts, code)?;
            seedlings::check_cell(&tray, spot.cell)?;
            (tray, Some(spot.cell))
        }
        other => return Err(not_countable(other)),
    };
    let counted = read_tally(desk, entry, looks)?;
    let total = counted.iter().map(|(count, _)| count).sum();
    check_tally(desk, &tray, cell, total, entry.day)?;
    super::tally_twice::tell(desk, (&tray, cell), &counted, entry.day);
    let (batch_id, day) = (tray.batch.id, entry.day);
    let tally_id = desk.insert(|id| TallyRow {
        id,
        batch_id,
        cell,
        day,
    });
    for (ord, (count, sights)) in (0..).zip(counted) {
        let look_id = desk.insert(|id| TallyLookRow {
            id,
            tally_id,
            ord,
            count,
        });
        for Sight {
            of,
            class,
            sureness,
        } in sights
        {
            let (trait_id, class_id) = (Some(of), class);
            desk.insert(|id| TallyClassRow {
                id,
                look_id,
                trait_id,
                class_id,
                sureness,
            });
        }
    }
    Ok(Subject::Tally { tally: tally_id })
}

/// The looks of a tally, each once, all of the same traits; looks counted as none are left out.
fn read_tally(
    desk: &Desk,
    entry: &Score,
    looks: &[(Count, Look)],
) -> Result<Vec<(i64, Vec<Sight>)>, Refusal> {
    let reader = Reader::seedlings(desk.facts, entry.of.as_ref())?;
    let typed: Vec<&Look> = looks.iter().map(|(_, look)| look).collect();
    let read = reader.read_all(&typed)?;
    let sorted = |sights: &Vec<Sight>| {
        let mut sights = sights.clone();
        sights.sort_unstable();
        sights
    };
    let traits =
        |sights: &Vec<Sight>| -> Vec<i64> { sorted(sights).iter().map(|sight| sight.of).collect() };
    for (at, sights) in read.iter().enumerate() {
        if read[..at]
            .iter()
            .any(|other| sorted(other) == sorted(sights))
        {
            return Err(LookRefusal::LookTwice(reader.words(sights)).into());
        }
        if traits(sights) != traits(&read[0]) {
            let named = |sights: &Vec<Sight>| {
                traits(sights)
                    .iter()
                    .map(|of| reader.code(*of))
                    .collect::<Vec<_>>()
                    .join(" and ")
            };
            let (first, second) = (named(&read[0]), named(sights));
            return Err(LookRefusal::UnlikeLooks { first, second }.into());
        }
    }
    let counts = looks.iter().map(|(count, _)| count.get());
    let counted: Vec<_> = counts.zip(read).filter(|(count, _)| *count > 0).collect();
    if counted.is_empty() {
        let (of, what) = (entry.target.to_string(), "scored");
        return Err(Identity::Nothing { of, what }.into());
    }
    Ok(counted)
}

fn check_tally(
    desk: &mut Desk,
    tray: &Tray,
    cell: Option<i64>,
    total: i64,
    day: Day,
) -> Result<(), Refusal> {
    let place = tray.place(cell);
    if day < tray.batch.day {
        super::up::check_sown(desk, tray, "seedlings scored", day)?;
        desk.tell(Notice::OutOfSums { place });
        return Ok(());
    }
    check_first_up(desk, tray, day)?;
    let Some(cell) = cell else {
        check_count(desk, tray, place, total, tray.up_by(day), day)?;
        tell_idle_batch(desk, tray);
        return Ok(());
    };
    check_cell_up(desk, tray, cell, "scored", day)?;
    if let Some(up) = tray.cell_up_by(cell, day).filter(|up| *up > 0) {
        check_count(desk, tray, place.clone(), total, Some(up), day)?;
    }
    let before = scored(desk, tray, day);
    let mut after = before.clone();
    after.remove(&0);
    after.insert(cell, total);
    check_total(desk, tray, &before, &after, day)?;
    let own = tray.scored_by(day);
    if tray
        .in_cell(cell)
        .iter()
        .any(|plant| own.contains(&plant.id))
    {
        desk.tell(Notice::TallyIdle {
            place,
            instead: "its seedlings' own readings".to_owned(),
        });
    }
    tell_overruled(desk, tray, &[cell], false);
    Ok(())
}

fn has_readings(tray: &Tray, cell: Option<i64>) -> bool {
    let own = tray.ever_scored();
    let here = |plant: &&&crate::records::rows::PlantRow| cell.is_none() || plant.cell == cell;
    tray.seedlings()
        .iter()
        .filter(here)
        .any(|plant| own.contains(&plant.id))
}

/// Says that a tally of the batch is no evidence where its cells have tallies or readings.
fn tell_idle_batch(desk: &mut Desk, tray: &Tray) {
    if has_readings(tray, None) || !tray.tallied_cells().is_empty() {
        let place = tray.label().to_owned();
        let instead = "the tallies and readings of its cells".to_owned();
        desk.tell(Notice::TallyIdle { place, instead });
    }
}

/// Says which earlier tallies are no evidence from now on, when the first finer look comes in.
fn tell_overruled(desk: &mut Desk, tray: &Tray, cells: &[i64], single: bool) {
    let tallied = tray.tallied_cells();
    let has_batch_tally = tray.has_batch_tally();
    if has_batch_tally && tallied.is_empty() && !has_readings(tray, None) {
        let place = tray.label().to_owned();
        let instead = "the tallies and readings of its cells".to_owned();
        desk.tell(Notice::TallyOverruled { place, instead });
    }
    for cell in cells.iter().filter(|cell| single && tallied.contains(cell)) {
        if !has_readings(tray, Some(*cell)) {
            let place = tray.place(Some(*cell));
            let instead = "its seedlings' own readings".to_owned();
            desk.tell(Notice::TallyOverruled { place, instead });
        }
    }
}
