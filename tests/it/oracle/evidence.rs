//! Which records are evidence: per seedling or tally look its readings, and when it emerged.

use std::collections::BTreeMap;

use super::choices::{
    BATCH_TALLY_USES_CELL_DATES, EARLY_IS_A_FIRST_READING, EARLY_OPENS_DIM_WINDOW,
    SUPERSEDED_TALLIES_RULE_OUT_DIM,
};
use super::onset::DOUBTFUL_MISREAD;
use super::season::{Day, Event, Look, Season, Seedling, Seen, What};

/// One reading that tells something.
#[derive(Clone, Copy, Debug)]
pub struct Reading {
    pub day: Day,
    /// Its place in the order of recording, as tie-break on one day.
    pub order: usize,
    pub of: usize,
    pub class: usize,
    pub error: f64,
    pub firm: bool,
}

/// Whose readings these are.
#[derive(Clone, Debug, PartialEq)]
pub enum Who {
    Seedling(Seedling),
    /// A look of a tally, of a cell or of the whole batch.
    Tallied(Option<usize>, Look),
}

/// Seedlings with the same readings: one, or as many as a tally counted.
#[derive(Clone, Debug)]
pub struct Unit {
    pub who: Who,
    pub count: usize,
    pub living: bool,
    pub readings: Vec<Reading>,
    /// Dates of emergence with their probabilities.
    pub emerged: Vec<(Day, f64)>,
}

/// The evidence of a batch.
#[derive(Clone, Debug)]
pub struct Evidence {
    pub units: Vec<Unit>,
    /// Days of readings of each trait (the window in which others rule out dim light).
    pub looked: Vec<(usize, Day)>,
    /// Dates of emergence of a seedling that is not known more closely, as of the newest reading.
    pub emerged: Vec<(Day, f64)>,
    pub newest: Option<Day>,
}

/// Gathers a batch's evidence.
pub fn gather(season: &Season, batch: usize) -> Evidence {
    let mut units = seedling_units(season, batch);
    units.extend(tally_units(season, batch));
    let days = units.iter().flat_map(|u| u.readings.iter().map(|r| r.day));
    let newest = days.max();
    let mut looked: Vec<(usize, Day)> = units
        .iter()
        .flat_map(|u| u.readings.iter().map(|r| (r.of, r.day)))
        .collect();
    if EARLY_OPENS_DIM_WINDOW {
        looked.extend(scores(season, batch).map(|(e, _, t, _, _)| (t, e.day)));
    }
    let emerged = batch_emergence(season, batch, newest.unwrap_or(season.today));
    Evidence {
        units,
        looked,
        emerged,
        newest,
    }
}

/// Traits read in the batch, in order.
pub fn traits_read(evidence: &Evidence) -> Vec<usize> {
    let mut traits: Vec<usize> = evidence
        .units
        .iter()
        .flat_map(|u| u.readings.iter().map(|r| r.of))
        .collect();
    traits.sort_unstable();
    traits.dedup();
    traits
}

fn of_batch(season: &Season, batch: usize) -> impl Iterator<Item = (usize, &Event)> {
    let events = season.events.iter().enumerate();
    events.filter(move |(_, e)| e.batch == batch && e.day >= season.batches[batch].day)
}

fn scores(
    season: &Season,
    batch: usize,
) -> impl Iterator<Item = (&Event, Seedling, usize, Seen, usize)> {
    of_batch(season, batch).filter_map(|(order, e)| match e.what {
        What::Score(s, t, seen) => Some((e, s, t, seen, order)),
        _ => None,
    })
}

/// What was seen of one seedling per day and trait, with the place in the order of recording.
type OneSeedling = BTreeMap<(Day, usize), (Seen, usize)>;

fn seedling_units(season: &Season, batch: usize) -> Vec<Unit> {
    // The newest of a seedling's readings of one trait on one day counts.
    let mut newest: BTreeMap<Seedling, OneSeedling> = BTreeMap::new();
    for (e, s, t, seen, order) in scores(season, batch) {
        newest
            .entry(s)
            .or_default()
            .insert((e.day, t), (seen, order));
    }
    let unit = |(s, seen): (Seedling, OneSeedling)| {
        let readings: Vec<Reading> = seen
            .iter()
            .filter_map(|(&(day, t), &(seen, order))| telling(season, day, t, seen, order))
            .collect();
        let mut days = seen
            .iter()
            .filter(|(_, v)| EARLY_IS_A_FIRST_READING || v.0 != Seen::Early);
        let first = days.next().map(|(k, _)| k.0)?;
        (!readings.is_empty()).then(|| Unit {
            who: Who::Seedling(s),
            count: 1,
            living: !culled(season, batch, s),
            readings: in_order(readings),
            emerged: emergence(season, batch, Some(s.cell), first),
        })
    };
    newest.into_iter().filter_map(unit).collect()
}

fn telling(season: &Season, day: Day, of: usize, seen: Seen, order: usize) -> Option<Reading> {
    let (class, error, firm) = match seen {
        Seen::Firm(c) => (c, season.traits[of].misread, true),
        Seen::Doubtful(c) => (c, DOUBTFUL_MISREAD, false),
        Seen::Early => return None,
    };
    Some(Reading {
        day,
        order,
        of,
        class,
        error,
        firm,
    })
}

/// Oldest first; on one day in the order recorded.
fn in_order(mut readings: Vec<Reading>) -> Vec<Reading> {
    readings.sort_by_key(|r| (r.day, r.order));
    readings
}

fn culled(season: &Season, batch: usize, s: Seedling) -> bool {
    of_batch(season, batch).any(|(_, e)| matches!(e.what, What::Cull(gone) if gone == s))
}

fn tally_units(season: &Season, batch: usize) -> Vec<Unit> {
    let mut newest: BTreeMap<Option<usize>, (usize, &Event)> = BTreeMap::new();
    for (order, e) in of_batch(season, batch) {
        if let What::Tally(cell, _) = e.what {
            let held = newest.get(&cell);
            if held.is_none_or(|(_, old)| old.day <= e.day) {
                newest.insert(cell, (order, e));
            }
        }
    }
    let read: Vec<usize> = scores(season, batch).map(|s| s.1.cell).collect();
    let any_cell = !read.is_empty() || newest.keys().any(Option::is_some);
    let counts = |cell: &Option<usize>| match cell {
        None => !any_cell,
        Some(c) => !read.contains(c),
    };
    let held = newest.into_iter().filter(|(cell, _)| counts(cell));
    held.flat_map(|(cell, (order, e))| looks_of(season, batch, cell, order, e))
        .collect()
}

fn looks_of(
    season: &Season,
    batch: usize,
    cell: Option<usize>,
    order: usize,
    e: &Event,
) -> Vec<Unit> {
    let What::Tally(_, looks) = &e.what else {
        unreachable!("only tallies are kept");
    };
    let unit = |(look, count): &(Look, usize)| Unit {
        who: Who::Tallied(cell, look.clone()),
        count: *count,
        living: true,
        readings: in_look(season, e.day, order, look),
        emerged: match cell {
            None if BATCH_TALLY_USES_CELL_DATES => batch_emergence(season, batch, e.day),
            _ => emergence(season, batch, cell, e.day),
        },
    };
    looks.iter().filter(|(_, n)| *n > 0).map(unit).collect()
}

fn in_look(season: &Season, day: Day, order: usize, look: &Look) -> Vec<Reading> {
    let reading = |&(t, c): &(usize, usize)| telling(season, day, t, Seen::Firm(c), order);
    look.iter().filter_map(reading).collect()
}

/// The day a cell was first recorded as up.
fn cell_up(season: &Season, batch: usize, cell: usize) -> Option<Day> {
    let up = |what: &What| match what {
        What::UpCells(cells) => cells.contains(&cell),
        What::UpInCell(c, n) => *c == cell && *n > 0,
        _ => false,
    };
    of_batch(season, batch)
        .filter(|(_, e)| up(&e.what))
        .map(|(_, e)| e.day)
        .min()
}

/// Emergence of a seedling first read on a day: its cell's own date, or the batch's counts.
fn emergence(season: &Season, batch: usize, cell: Option<usize>, first: Day) -> Vec<(Day, f64)> {
    match cell.and_then(|c| cell_up(season, batch, c)) {
        Some(day) => vec![(day, 1.0)],
        None => from_counts(season, batch, first).unwrap_or_else(|| usual(season, batch)),
    }
}

/// Emergence of a seedling of the batch that is not known more closely: counts, else the cells' own dates.
fn batch_emergence(season: &Season, batch: usize, newest: Day) -> Vec<(Day, f64)> {
    let cells: Vec<(Day, f64)> = (1..=season.batches[batch].seeds)
        .filter_map(|c| cell_up(season, batch, c))
        .filter(|&d| d <= newest)
        .map(|d| (d, 1.0))
        .collect();
    let own = (!cells.is_empty()).then(|| normalised(cells));
    from_counts(season, batch, newest)
        .or(own)
        .unwrap_or_else(|| usual(season, batch))
}

/// Each count's increase over all before it, at its date; dates after the first reading are left out.
fn from_counts(season: &Season, batch: usize, first: Day) -> Option<Vec<(Day, f64)>> {
    let mut counts: Vec<(Day, usize, usize)> = of_batch(season, batch)
        .filter_map(|(order, e)| match e.what {
            What::UpCount(n) => Some((e.day, order, n)),
            _ => None,
        })
        .collect();
    counts.sort_unstable();
    let mut highest = 0;
    let mut dates = Vec::new();
    for (day, _, n) in counts {
        if n > highest && day <= first {
            dates.push((day, (n - highest) as f64));
        }
        highest = highest.max(n);
    }
    (!dates.is_empty()).then(|| normalised(dates))
}

fn usual(season: &Season, batch: usize) -> Vec<(Day, f64)> {
    let mother = &season.parents[season.parents_of(batch).0];
    let days = if mother.species.as_deref() == Some("annuum") {
        10
    } else {
        14
    };
    vec![(season.batches[batch].day + days, 1.0)]
}

fn normalised(dates: Vec<(Day, f64)>) -> Vec<(Day, f64)> {
    let total: f64 = dates.iter().map(|d| d.1).sum();
    dates.into_iter().map(|(d, w)| (d, w / total)).collect()
}

/// Whether another batch in the same named place showed a late class near one of this batch's readings.
pub fn dim_ruled_out(season: &Season, all: &[Evidence], batch: usize) -> bool {
    let Some(place) = &season.batches[batch].place else {
        return false;
    };
    let near = |of: usize, day: Day| {
        all[batch]
            .looked
            .iter()
            .any(|&(t, d)| t == of && (d - day).abs() <= 7)
    };
    let shows = |r: &Reading| {
        let late = season.traits[r.of].late.as_ref();
        r.firm && late.is_some_and(|l| l.class == r.class) && near(r.of, r.day)
    };
    let mut others =
        (0..all.len()).filter(|&b| b != batch && season.batches[b].place.as_ref() == Some(place));
    others.any(|b| {
        let superseded = match SUPERSEDED_TALLIES_RULE_OUT_DIM {
            true => every_tally(season, b),
            false => Vec::new(),
        };
        let counted = all[b].units.iter().flat_map(|u| &u.readings);
        counted.chain(&superseded).any(shows)
    })
}

/// Every reading of every tally, superseded or not.
fn every_tally(season: &Season, batch: usize) -> Vec<Reading> {
    let mut readings = Vec::new();
    for (order, e) in of_batch(season, batch) {
        if let What::Tally(_, looks) = &e.what {
            let seen = looks.iter().filter(|l| l.1 > 0);
            readings.extend(seen.flat_map(|l| in_look(season, e.day, order, &l.0)));
        }
    }
    readings
}
