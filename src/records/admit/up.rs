//! `up`: how many are up so far, and where.

use super::desk::Desk;
use super::refusal::{Excess, Order, Refusal};
use super::score::scored;
use super::{Notice, Subject, find, seedlings};
use crate::records::cells::CellRange;
use crate::records::count::Count;
use crate::records::day::Day;
use crate::records::entry::{UpCount, UpWhat};
use crate::records::rows::EmergenceRow;
use crate::records::tray::Tray;

pub(super) fn count(desk: &mut Desk, entry: &UpCount) -> Result<Subject, Refusal> {
    desk.not_future(entry.day)?;
    let tray = find::tray(desk.facts, &entry.batch)?;
    check_sown(desk, &tray, "seedlings up", entry.day)?;
    let day = entry.day;
    let cells = match &entry.what {
        UpWhat::Batch(up) => whole(desk, &tray, *up, day)?,
        UpWhat::Cells(cells) => in_cells(desk, &tray, cells, day)?,
        UpWhat::Cell(cell, up) => in_cell(desk, &tray, *cell, *up, day)?,
    };
    Ok(Subject::Up {
        batch: tray.batch.id,
        cells,
        day,
    })
}

/// Doubts what happens in a tray before it was sown.
pub(super) fn check_sown(
    desk: &mut Desk,
    tray: &Tray,
    what: &str,
    day: Day,
) -> Result<(), Refusal> {
    let since = tray.batch.day;
    if day >= since {
        return Ok(());
    }
    let of = tray.label().to_owned();
    let (effect, cause) = (format!("{of}: {what}"), format!("{of} was sown"));
    desk.doubt(Order::Before {
        effect,
        day,
        cause,
        since,
        of,
    })
}

fn check_up(desk: &mut Desk, tray: &Tray, up: i64) -> Result<(), Refusal> {
    let sown = tray.batch.seeds;
    if up > sown {
        desk.doubt(Excess::Up {
            tray: tray.label().to_owned(),
            up,
            sown,
        })?;
    }
    Ok(())
}

/// Doubts fewer up than were scored by then, of the whole tray or of one cell.
fn check_scored(
    desk: &mut Desk,
    tray: &Tray,
    (cell, up): (Option<i64>, i64),
    day: Day,
) -> Result<(), Refusal> {
    let scored = scored(desk, tray, day);
    let (scored, before) = match cell {
        None => (scored.values().sum(), tray.up_by(day)),
        Some(cell) => (
            scored.get(&cell).copied().unwrap_or(0),
            tray.cell_up_by(cell, day),
        ),
    };
    let up = before.unwrap_or(0).max(up);
    if scored > up {
        let place = tray.place(cell);
        desk.doubt(Excess::Scored {
            place,
            scored,
            up,
            day,
        })?;
    }
    Ok(())
}

fn enter(desk: &mut Desk, tray: &Tray, cell: Option<i64>, up: i64, day: Day) {
    let batch_id = tray.batch.id;
    desk.insert(|id| EmergenceRow {
        id,
        batch_id,
        cell,
        day,
        up,
    });
}

fn whole(desk: &mut Desk, tray: &Tray, up: Count, day: Day) -> Result<Vec<i64>, Refusal> {
    let up = up.get();
    check_up(desk, tray, up)?;
    check_scored(desk, tray, (None, up), day)?;
    if let Some(before) = tray.up_by(day).filter(|before| up < *before) {
        desk.tell(Notice::FewerUp { before });
    }
    enter(desk, tray, None, up, day);
    Ok(Vec::new())
}

/// One up in each cell; a cell that was counted as up before keeps its day and count.
fn in_cells(
    desk: &mut Desk,
    tray: &Tray,
    cells: &CellRange,
    day: Day,
) -> Result<Vec<i64>, Refusal> {
    for cell in cells.cells() {
        seedlings::check_cell(tray, *cell)?;
    }
    let counted = |cell: &&i64| tray.cell_up_by(**cell, day).unwrap_or(0) == 0;
    let new: Vec<i64> = cells.cells().iter().filter(counted).copied().collect();
    let never_up = new
        .iter()
        .filter(|cell| tray.cell_up_ever(**cell) == 0)
        .count();
    let new_up = i64::try_from(never_up).expect("the cells of a tray can be counted");
    check_up(desk, tray, tray.cells_up_ever() + new_up)?;
    for cell in new {
        enter(desk, tray, Some(cell), 1, day);
    }
    Ok(cells.cells().to_vec())
}

fn in_cell(
    desk: &mut Desk,
    tray: &Tray,
    cell: i64,
    up: Count,
    day: Day,
) -> Result<Vec<i64>, Refusal> {
    seedlings::check_cell(tray, cell)?;
    let (up, before) = (up.get(), tray.cell_up_by(cell, day).unwrap_or(0));
    let ever = tray.cell_up_ever(cell);
    check_up(desk, tray, tray.cells_up_ever() - ever + up.max(ever))?;
    check_scored(desk, tray, (Some(cell), up), day)?;
    if up < before {
        desk.tell(Notice::FewerUp { before });
    }
    enter(desk, tray, Some(cell), up, day);
    Ok(vec![cell])
}
