//! The seed a tray was sown with: how old it was, and how long it ripened.
//!
//! Reads lots; what age does to seed is said by the report, with its source.

use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, LotRow};
use crate::records::tray::stock;

/// A lot that a tray was sown from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SownLot {
    /// Its name: `X1/2`.
    pub lot: String,
    /// Days from harvest, or from when a packet came in, to the sowing.
    pub age_days: i64,
    /// Whether it is a packet: then the seed is at least so old.
    pub packet: bool,
    /// Days from pollination to harvest, where recorded or plain.
    pub ripened_days: Option<i64>,
}

/// The lots that a tray was sown from.
#[must_use]
pub fn sown_lots(facts: &Facts, batch: &BatchRow) -> Vec<SownLot> {
    let draws = facts.batch_seed.iter();
    let lots = draws
        .filter(|draw| draw.batch_id == batch.id)
        .filter_map(|draw| facts.lot.get(draw.lot_id));
    lots.map(|lot| {
        let pollinated = lot
            .pollinated
            .or_else(|| only_pollination(facts, lot.cross_id?));
        SownLot {
            lot: facts.lot_label(lot.id),
            age_days: batch.day.since(lot.day),
            packet: lot.cross_id.is_none(),
            ripened_days: pollinated.map(|day| lot.day.since(day)),
        }
    })
    .collect()
}

/// How many seeds of a cross are in store: what is left of its lots, none where no flower of it is recorded to have set;
/// nothing where a lot was not counted, or no more is recorded.
#[must_use]
pub fn in_store(facts: &Facts, cross: i64) -> Option<u64> {
    let lots = facts.lot.iter().filter(|lot| lot.cross_id == Some(cross));
    let lots: Vec<&LotRow> = lots.collect();
    if lots.is_empty() {
        let rows = facts.pollination.iter();
        let mut pods = rows.filter(|row| row.cross_id == cross).map(|row| row.pods);
        return pods.all(|pods| pods == Some(0)).then_some(0);
    }
    let left = lots.iter().map(|lot| Some(stock(facts, lot.id)?.max(0)));
    left.sum::<Option<i64>>()
        .and_then(|left| u64::try_from(left).ok())
}

/// The same with the seeds that are sown already: so many plants of it there can be.
#[must_use]
pub fn in_store_or_sown(facts: &Facts, cross: i64) -> Option<u64> {
    let trays = facts
        .batch
        .iter()
        .filter(|batch| batch.cross_id == Some(cross));
    let sown: i64 = trays.map(|batch| batch.seeds).sum();
    Some(in_store(facts, cross)? + u64::try_from(sown).ok()?)
}

/// The day of a cross's pollination, where it has but one.
fn only_pollination(facts: &Facts, cross: i64) -> Option<crate::records::day::Day> {
    let mut rows = facts.pollination.iter().filter(|row| row.cross_id == cross);
    let first = rows.next()?;
    rows.next().is_none().then_some(first.day).flatten()
}
