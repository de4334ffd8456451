//! Which seedlings get the places: keep these, pull those, spare this one until a day.
//!
//! Takes what the diagnosis says of each seedling, with what the goals, the measures and the pots add, and chooses cross by
//! cross, one seedling after the other; then the chance that one of those chosen is true is worked out for all of them
//! together. Places are shared over crosses so that as many as possible have a true one. Knows no words and records nothing;
//! asked by `pick`.

mod chance;
mod order;

pub use chance::{Chance, Rests, chance_of_one_true};
pub use order::{Because, NEAR, Taken};

use crate::diagnosis::answer::{SeedlingAnswer, Verdict};
use crate::diagnosis::together::OfBatch;
use crate::records::day::Day;

use super::space::share_by_worth;
use order::Order;

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
    /// Nothing that is looked for again settles it, and it may be needed.
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
    /// For a seedling that is spared, of how many a place is held.
    pub holds: i64,
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
    /// How many crosses have a true one on average, of those with any seedling to choose.
    pub crosses_true: f64,
}

/// What a batch says of choices among its seedlings.
pub type Ask<'a> = dyn Fn(i64, &[Vec<(usize, i64)>]) -> Option<Vec<OfBatch>> + 'a;

/// Chooses.
///
/// The worth of a seedling is P(true) times its merit by the goals. A cross takes one after the other: of those within
/// [`NEAR`] of the best, runts left out, one of a tray and then of a cell of which fewest are taken, then the largest,
/// then the best. Places go where they raise the sum over crosses of P(one of those chosen is true) most, exactly.
#[must_use]
pub fn pick(fields: &[Field], wanted: Wanted, ask: &Ask<'_>) -> Pick {
    let orders: Vec<Order> = fields
        .iter()
        .map(|field| Order::of(field, wanted.per_cross + wanted.reserve))
        .collect();
    let chances: Vec<Vec<Option<Chance>>> = (fields.iter().zip(&orders))
        .map(|(field, order)| chances_of_first(field, order, ask))
        .collect();
    let slots: Vec<usize> = orders
        .iter()
        .map(|order| order.open(wanted.per_cross))
        .collect();
    let for_keeping = wanted.places.map(|all| all.saturating_sub(wanted.reserve));
    let places = match for_keeping {
        None => slots.clone(),
        Some(all) => share(fields, &chances, &slots, all),
    };
    let taken: usize = places.iter().sum();
    let reserve = wanted
        .places
        .map_or(wanted.reserve, |all| wanted.reserve.min(all));
    let extra = reserves(&chances, &places, reserve);
    let picked = |at: usize| {
        let order = &orders[at];
        Picked {
            places: places[at],
            wanted: order.missing(wanted.per_cross),
            lines: order.lines(&fields[at], (places[at], extra[at]), wanted.per_cross),
            chance: chances[at][places[at]],
            expected_true: order.expected_true(&fields[at], places[at]),
        }
    };
    let crosses: Vec<Picked> = (0..fields.len()).map(picked).collect();
    Pick {
        crosses_true: crosses.iter().filter_map(|one| Some(one.chance?.p)).sum(),
        crosses,
        places_left: for_keeping.map(|all| all - taken),
        reserve_left: reserve - extra.iter().sum::<usize>(),
    }
}

/// For the first 0, 1, 2... of an order, those kept before among them, the chance that one is true.
fn chances_of_first(field: &Field, order: &Order, ask: &Ask<'_>) -> Vec<Option<Chance>> {
    let first: Vec<Vec<Vec<(usize, i64)>>> = (0..=order.taken.len())
        .map(|n| order.by_tray(field, n))
        .collect();
    let told: Vec<Option<Vec<OfBatch>>> = (field.trays.iter().enumerate())
        .map(|(tray, batch)| {
            let choices: Vec<_> = first.iter().map(|choice| choice[tray].clone()).collect();
            let any = choices.iter().any(|choice| !choice.is_empty());
            any.then(|| ask(*batch, &choices)).flatten()
        })
        .collect();
    let chance = |(n, choice): (usize, &Vec<Vec<(usize, i64)>>)| {
        let chosen = choice.iter().zip(&told).filter(|(own, _)| !own.is_empty());
        let parts: Option<Vec<&OfBatch>> = chosen
            .map(|(_, told)| told.as_ref().map(|told| &told[n]))
            .collect();
        chance_of_one_true(&parts?)
    };
    first.iter().enumerate().map(chance).collect()
}

/// Shares places over crosses; what helps no cross goes to those that lack most, crosses of a mother that has none yet first.
fn share(
    fields: &[Field],
    chances: &[Vec<Option<Chance>>],
    slots: &[usize],
    places: usize,
) -> Vec<usize> {
    let before = |at: usize| {
        let earlier = fields[..at].iter();
        earlier
            .filter(|other| other.mother == fields[at].mother)
            .count()
    };
    // Of equally good sharings the one that leaves earlier takers fewer is taken.
    let mut takers: Vec<usize> = (0..fields.len()).rev().collect();
    takers.sort_by_key(|at| std::cmp::Reverse(before(*at)));
    let worths: Vec<Vec<f64>> = takers
        .iter()
        .map(|at| {
            let first = &chances[*at][..=slots[*at]];
            first
                .iter()
                .map(|one| one.map_or(0.0, |one| one.p))
                .collect()
        })
        .collect();
    let most = places.min(slots.iter().sum());
    let shared = share_by_worth(&worths, most);
    let mut given = vec![0; fields.len()];
    for (at, own) in takers.iter().zip(shared) {
        given[*at] = own;
    }
    let mut left = most - given.iter().sum::<usize>();
    while left > 0 {
        let lacking = takers.iter().rev().filter(|at| given[**at] < slots[**at]);
        let at = *lacking
            .min_by_key(|at| given[**at])
            .expect("there are no more places than slots");
        given[at] += 1;
        left -= 1;
    }
    given
}

/// Places in reserve: one by one to the cross that gains most by its next seedling.
fn reserves(chances: &[Vec<Option<Chance>>], places: &[usize], reserve: usize) -> Vec<usize> {
    let mut given = vec![0; places.len()];
    let p = |at: usize, n: usize| chances[at][n].map_or(0.0, |chance| chance.p);
    for _ in 0..reserve {
        let next = (0..places.len()).filter(|at| chances[*at].len() > places[*at] + given[*at] + 1);
        let gain = |at: usize| {
            let n = places[at] + given[at];
            p(at, n + 1) - p(at, n)
        };
        let best = next.reduce(|best, at| if gain(at) > gain(best) { at } else { best });
        let Some(at) = best else { break };
        given[at] += 1;
    }
    given
}

#[cfg(test)]
mod tests;
