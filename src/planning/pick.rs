//! Which seedlings get the places: keep these, pull those, spare this one until a day.
//!
//! Takes what the diagnosis says of each seedling, with what the goals, the measures and the pots add, and chooses cross by
//! cross, one seedling after the other; then the chance that one of those chosen is true is worked out for all of them
//! together. Places are shared over crosses so that as many as possible have a true one, each counted by what it is worth by
//! the goals. Knows no words and records nothing; asked by `pick`.

mod chance;
mod lines;
mod order;
mod sharing;
mod table;

pub use chance::{Chance, Rests, chance_of_one_true};
pub use order::{Because, NEAR, Taken};

use crate::diagnosis::answer::{SeedlingAnswer, Verdict};
use crate::diagnosis::together::OfBatch;
use crate::records::day::Day;

use lines::{Given, lines};
use order::{Order, merit};
use sharing::{Sharing, enough_for_each, reserves};
use table::{Table, Worth};

/// A seedling, or the seedlings of one tallied look, that stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Stand {
    /// Its tray, by its place among those of the cross.
    pub tray: usize,
    /// Its place among the seedlings of the tray's answer.
    pub at: usize,
    /// The cell, where known.
    pub cell: Option<i64>,
    /// How many.
    pub count: i64,
    /// The verdict.
    pub verdict: Verdict,
    /// When to look again.
    pub look_again: Option<Day>,
    /// P(off-type).
    pub p_off: f64,
    /// What it is worth by the goals, from 0 to 1; nothing where goals do not count.
    pub merit: Option<f64>,
    /// How far its size lies from the middle of its tray, in robust standard deviations; nothing where size does not count.
    pub size: Option<f64>,
    /// Whether it is a runt of a tray in which size counts.
    pub runt: bool,
    /// What it was kept as before.
    pub kept: Option<AsKept>,
}

impl Stand {
    /// A seedling of the answer of a tray, at its place there, of which nothing else is known.
    #[must_use]
    pub const fn of(one: &SeedlingAnswer, tray: usize, at: usize) -> Self {
        Self {
            tray,
            at,
            cell: one.cell,
            count: one.count,
            verdict: one.verdict,
            look_again: one.look_again,
            p_off: one.p_off,
            merit: None,
            size: None,
            runt: false,
            kept: None,
        }
    }
}

/// As what a seedling was kept before anything is chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AsKept {
    /// As a parent, by its label.
    Label,
    /// As something else than its label.
    Adopted,
}

/// The seedlings of one cross.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// The numbers of its trays.
    pub trays: Vec<i64>,
    /// The mother.
    pub mother: i64,
    /// What stands.
    pub stands: Vec<Stand>,
}

/// How many are wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wanted {
    /// For each cross, at least 1.
    pub per_cross: usize,
    /// Places in all; nothing where every cross may have its number.
    pub places: Option<usize>,
    /// Of the places, those kept for seedlings that step in where one is lost.
    pub reserve: usize,
}

/// What is done with some seedlings of a stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Act {
    /// It was kept before and stays.
    Stays,
    /// It gets a place.
    Keep,
    /// It gets a place in reserve.
    Reserve,
    /// It stands until its day; a place is held for it where [`Line::holds`] says so.
    Spare,
    /// Nothing that is looked for again settles it, and it may be needed; a place is held for it where [`Line::holds`] says so.
    Settle,
    /// It is pulled.
    Pull,
}

/// Some seedlings of a stand and what is done with them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// The stand.
    pub stand: usize,
    /// How many of it.
    pub count: i64,
    /// What is done.
    pub act: Act,
    /// Why.
    pub because: Because,
    /// For a seedling that is spared, or left until it is settled, of how many a place is held.
    pub holds: i64,
    /// The same of places in reserve.
    pub holds_in_reserve: i64,
}

/// What is done with the seedlings of one cross.
#[derive(Debug, Clone, PartialEq)]
pub struct Picked {
    /// The places it gets, those in reserve left out.
    pub places: usize,
    /// How many it may have by the number for each cross, less those kept before.
    pub wanted: usize,
    /// Every stand, in one line or several.
    pub lines: Vec<Line>,
    /// The chance that one of those with a place, or kept before, is true; nothing where there is none.
    pub chance: Option<Chance>,
    /// How many of them are true on average.
    pub expected_true: f64,
    /// What the best true one of them is worth on average, 0 where none is true; nothing where goals do not count in it.
    pub best_worth: Option<f64>,
    /// How many more of it could have a place.
    pub more: usize,
    /// Whether places lack so that it gets none, though it has seedlings that could have one and none was kept before.
    pub goes_without: bool,
}

/// The pick.
#[derive(Debug, Clone, PartialEq)]
pub struct Pick {
    /// Cross by cross, in the order given.
    pub crosses: Vec<Picked>,
    /// Places that are left, where places were counted.
    pub places_left: Option<usize>,
    /// Places in reserve that are left.
    pub reserve_left: usize,
    /// How many crosses have a true one on average.
    pub crosses_true: f64,
    /// Where a cross goes without: how many places in all, those in reserve among them, would give each one.
    pub enough_for_each: Option<usize>,
    /// Whether goals counted in any cross, and so between crosses.
    pub by_goals: bool,
}

/// What a batch says of choices among its seedlings.
pub type Ask<'a> = dyn Fn(i64, &[Vec<(usize, i64)>]) -> Option<Vec<OfBatch>> + 'a;

/// Chooses.
///
/// The worth of a seedling is P(true) times its merit by the goals, a runt counting half. A cross takes one after the other
/// of all that are not to be culled: of those within [`NEAR`] of the best the settled ones, of these one of a tray and then
/// of a cell of which fewest are taken, then the largest, then the best. Places go where they raise most the sum over crosses
/// of what the best true one of those chosen is worth on average, exactly; without goals, of P(one of those chosen is
/// true).
#[must_use]
pub fn pick(fields: &[Field], wanted: Wanted, ask: &Ask<'_>) -> Pick {
    let orders: Vec<Order> = fields
        .iter()
        .map(|field| Order::of(field, wanted.per_cross + wanted.reserve))
        .collect();
    let worths = worths(fields, &orders);
    let tables: Vec<Table> = (fields.iter().zip(&orders).zip(&worths))
        .map(|((field, order), worth)| Table::of(field, order, *worth, ask))
        .collect();
    let open = orders.iter().map(|order| order.open(wanted.per_cross));
    let slots: Vec<usize> = open.collect();
    let for_keeping = wanted.places.map(|all| all.saturating_sub(wanted.reserve));
    let places = match for_keeping {
        None => slots.clone(),
        Some(all) => Sharing::of(fields, &tables, &slots, all).given(all),
    };
    let reserve = wanted
        .places
        .map_or(wanted.reserve, |all| wanted.reserve.min(all));
    let extra = reserves(&tables, &places, reserve);
    let kept: Vec<usize> = orders.iter().map(|order| order.before.len()).collect();
    let picked = |at: usize| {
        let (field, order) = (&fields[at], &orders[at]);
        let given = Given {
            places: places[at],
            reserve: extra[at],
        };
        Picked {
            places: places[at],
            wanted: order.missing(wanted.per_cross),
            lines: lines(field, order, given, wanted.per_cross),
            chance: tables[at].chances[places[at]],
            expected_true: order.expected_true(field, places[at]),
            best_worth: (worths[at] == Worth::Own).then(|| tables[at].worths[places[at]]),
            more: order.may_have(field) - places[at] - extra[at],
            goes_without: slots[at] > 0 && places[at] + extra[at] + kept[at] == 0,
        }
    };
    let crosses: Vec<Picked> = (0..fields.len()).map(picked).collect();
    let goes_without = crosses.iter().any(|one| one.goes_without);
    let enough = for_keeping.filter(|_| goes_without).and_then(|all| {
        let more = enough_for_each((fields, &tables, &slots), &kept, all);
        more.map(|more| more + reserve)
    });
    Pick {
        crosses_true: crosses.iter().filter_map(|one| Some(one.chance?.p)).sum(),
        crosses,
        places_left: for_keeping.map(|all| all - places.iter().sum::<usize>()),
        reserve_left: reserve - extra.iter().sum::<usize>(),
        enough_for_each: enough,
        by_goals: worths.contains(&Worth::Own),
    }
}

/// What a true seedling of each cross is worth: by the goals, where they count in it; in a cross some of whose seedlings were
/// only counted what the first of the others are worth on average, so that it is set neither before nor behind them.
fn worths(fields: &[Field], orders: &[Order]) -> Vec<Worth> {
    let counts = |field: &Field| {
        let mut stands = field.stands.iter();
        !field.stands.is_empty() && stands.all(|stand| stand.merit.is_some())
    };
    let first = |order: &Order| order.taken.first().map(|taken| taken.stand);
    let of_others: Vec<f64> = (fields.iter().zip(orders))
        .filter(|(field, _)| counts(field))
        .filter_map(|(field, order)| Some(merit(&field.stands[first(order)?])))
        .collect();
    let even = match of_others.len() {
        0 => 1.0,
        n => of_others.iter().sum::<f64>() / n as f64,
    };
    let worth = |field: &Field| match counts(field) {
        true => Worth::Own,
        false => Worth::Even(even),
    };
    fields.iter().map(worth).collect()
}

#[cfg(test)]
mod tests;
