//! What a cross gains by its first 0, 1, 2... seedlings.
//!
//! The chance that one of them is true, and what the best true one is worth by the goals; called by the pick.

use std::collections::HashMap;

use super::chance::{Chance, chance_of_one_true};
use super::order::{LEAST_MERIT, Order, merit};
use super::{Ask, Field};
use crate::diagnosis::together::OfBatch;

/// Some seedlings of a cross by tray: the place in its answer and how many.
type Chosen = Vec<Vec<(usize, i64)>>;

/// What a true seedling of a cross is worth when places are shared.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Worth {
    /// Each its own merit by the goals.
    Own,
    /// All the same.
    Even(f64),
}

/// For the first 0, 1, 2... of an order, those kept before among them.
pub(super) struct Table {
    /// The chance that one is true; nothing where there is none, or the trays do not tell.
    pub(super) chances: Vec<Option<Chance>>,
    /// What the best true one is worth on average, 0 where none is.
    pub(super) worths: Vec<f64>,
}

/// Some of the seedlings, and how much more each of them is worth than the next worse.
struct Level {
    more: f64,
    of: Chosen,
}

impl Table {
    /// Of one cross.
    ///
    /// With m_1 > m_2 > ... the merits among the first n, to the hundredth that is shown, the best true one is worth
    /// `sum over k of (m_k - m_(k+1)) P(one of those worth at least m_k is true)` on average, the last m being 0:
    /// summation by parts of the mean of a maximum, exact. Where all are worth the same that is it times the chance that
    /// one is true.
    pub(super) fn of(field: &Field, order: &Order, worth: Worth, ask: &Ask<'_>) -> Self {
        let first: Vec<Vec<Level>> = (0..=order.taken.len())
            .map(|n| levels(field, order, n, worth))
            .collect();
        let told = Told::of(field, first.iter().flatten().map(|level| &level.of), ask);
        let all = |levels: &Vec<Level>| told.chance(&levels.last()?.of);
        let of_best = |levels: &Vec<Level>| {
            let each = levels.iter();
            let each = each.map(|level| Some(level.more * told.chance(&level.of)?.p));
            each.sum::<Option<f64>>().unwrap_or(0.0)
        };
        Self {
            chances: first.iter().map(all).collect(),
            worths: first.iter().map(of_best).collect(),
        }
    }
}

/// The first so many and those kept before, the better ones first: each level holds the ones before it. None where there is
/// no seedling.
fn levels(field: &Field, order: &Order, first: usize, worth: Worth) -> Vec<Level> {
    let shown = |stand: usize| match worth {
        Worth::Own => ((100.0 * merit(&field.stands[stand])).round() / 100.0).max(LEAST_MERIT),
        Worth::Even(worth) => worth,
    };
    let mut merits: Vec<f64> = order.stands(first).map(shown).collect();
    merits.sort_by(|one, other| other.total_cmp(one));
    merits.dedup();
    let next = merits.iter().skip(1).copied().chain([0.0]);
    let level = |(own, next): (&f64, f64)| Level {
        more: own - next,
        of: by_tray(field, order.stands(first).filter(|at| shown(*at) >= *own)),
    };
    merits.iter().zip(next).map(level).collect()
}

fn by_tray(field: &Field, stands: impl Iterator<Item = usize>) -> Chosen {
    let mut chosen = vec![Vec::new(); field.trays.len()];
    for stand in stands {
        let stand = &field.stands[stand];
        let own: &mut Vec<(usize, i64)> = &mut chosen[stand.tray];
        match own.iter_mut().find(|(at, _)| *at == stand.at) {
            Some((_, count)) => *count += 1,
            None => own.push((stand.at, 1)),
        }
    }
    chosen
}

/// What the trays say of some choices, each tray asked once.
struct Told<'c> {
    places: HashMap<&'c Chosen, usize>,
    trays: Vec<Option<Vec<OfBatch>>>,
}

impl<'c> Told<'c> {
    fn of(field: &Field, choices: impl Iterator<Item = &'c Chosen>, ask: &Ask<'_>) -> Self {
        let mut places = HashMap::new();
        let mut each: Vec<&Chosen> = Vec::new();
        for choice in choices {
            places.entry(choice).or_insert_with(|| {
                each.push(choice);
                each.len() - 1
            });
        }
        let of_tray = |(tray, batch): (usize, &i64)| {
            let own: Vec<_> = each.iter().map(|choice| choice[tray].clone()).collect();
            let any = own.iter().any(|choice| !choice.is_empty());
            any.then(|| ask(*batch, &own)).flatten()
        };
        let trays = field.trays.iter().enumerate().map(of_tray).collect();
        Self { places, trays }
    }

    fn chance(&self, choice: &Chosen) -> Option<Chance> {
        let at = self.places[choice];
        let chosen = choice.iter().zip(&self.trays);
        let chosen = chosen.filter(|(own, _)| !own.is_empty());
        let parts: Option<Vec<&OfBatch>> = chosen
            .map(|(_, told)| told.as_ref().map(|told| &told[at]))
            .collect();
        chance_of_one_true(&parts?)
    }
}
