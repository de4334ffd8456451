//! The order in which a cross gives its seedlings places.
//!
//! One seedling after the other by the chance that it is true and what it is worth, whatever its verdict, each with the
//! reason that decided; knows nothing of how many places there are. Called by the pick.

use std::collections::HashMap;

use super::{AsKept, Field, Stand};
use crate::diagnosis::answer::Verdict;

/// Worths within this share of the best are level (design choice): no bench can tell them apart.
pub const NEAR: f64 = 0.02;

/// What a merit of nothing still counts, so that the likelier of two such goes first.
pub(super) const LEAST_MERIT: f64 = 1e-3;

/// What a runt counts of a seedling that is none (design choice): it may lag for good, and room is short.
const OF_A_RUNT: f64 = 0.5;

/// Sizes further apart than this, in robust standard deviations, are different (design choice).
pub(super) const LARGER: f64 = 0.5;

/// Why a seedling is kept, spared or pulled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Because {
    /// It was kept before.
    KeptBefore,
    /// It is the only one left that can be.
    OnlyOne,
    /// No other is as likely the cross.
    Likeliest,
    /// Others are as likely the cross, but worth less by the goals.
    Goals,
    /// Others are as good, but runts.
    NotSmall,
    /// Others are as good, but a later look may yet speak against them.
    Settled,
    /// Others are as good, but stand in a tray of which more are taken.
    OtherTray,
    /// Others are as good, but stand in a cell of which more are taken.
    OtherCell,
    /// Others are as good, but smaller.
    Larger,
    /// So many others, which are pulled, are as good; any of them would do.
    Alike(i64),
    /// Others are as good, and all of them are kept.
    AllAlike,
    /// A look later is likely to settle it.
    MayTurn,
    /// Nothing that is looked for again settles it.
    Unsettled,
    /// It is almost surely off-type.
    OffType,
    /// Those kept are likelier the cross.
    LessLikely,
    /// Those kept are worth more by the goals.
    WorthLess,
    /// It is a runt.
    Small,
    /// As good as those kept, but they are enough.
    Enough,
    /// There is no place for another of its cross.
    NoPlace,
}

/// One seedling of a stand that was taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Taken {
    /// The stand.
    pub stand: usize,
    /// Why.
    pub because: Because,
}

/// The order of a cross.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Order {
    /// Those kept before by their label: they take no place.
    pub(super) before: Vec<usize>,
    /// The others, the first to get a place first.
    pub(super) taken: Vec<Taken>,
}

/// Who may be taken next.
struct Choosing<'f> {
    field: &'f Field,
    left: Vec<i64>,
    of_tray: HashMap<usize, i64>,
    of_cell: HashMap<(usize, i64), i64>,
}

impl Order {
    /// The first so many of a cross.
    pub(super) fn of(field: &Field, most: usize) -> Self {
        let by_label =
            |stand: &Stand| stand.kept == Some(AsKept::Label) && stand.verdict != Verdict::Cull;
        let places = 0..field.stands.len();
        let before: Vec<usize> = places.filter(|at| by_label(&field.stands[*at])).collect();
        let mut choosing = Choosing::new(field, &before);
        let mut taken = Vec::new();
        while taken.len() < most {
            let Some(next) = choosing.next() else { break };
            choosing.take(next.stand);
            taken.push(next);
        }
        Self { before, taken }
    }

    /// How many more than those kept before a cross may have.
    pub(super) fn missing(&self, per_cross: usize) -> usize {
        per_cross.saturating_sub(self.before.len())
    }

    /// How many of those it has seedlings for.
    pub(super) fn open(&self, per_cross: usize) -> usize {
        self.missing(per_cross).min(self.taken.len())
    }

    /// How many could have a place if there were places enough.
    pub(super) fn may_have(&self, field: &Field) -> usize {
        let free = field.stands.iter().filter(|stand| is_free(stand));
        let count = free.map(|stand| usize::try_from(stand.count).unwrap_or(0));
        count.sum()
    }

    /// How many of those kept before and the first so many are true on average.
    pub(super) fn expected_true(&self, field: &Field, first: usize) -> f64 {
        let chosen = self.stands(first);
        chosen.map(|stand| 1.0 - field.stands[stand].p_off).sum()
    }

    /// Those kept before and the first so many.
    pub(super) fn stands(&self, first: usize) -> impl Iterator<Item = usize> {
        let taken = self.taken[..first].iter().map(|taken| taken.stand);
        self.before.iter().copied().chain(taken)
    }
}

/// What a stand is worth by the goals, were it true.
pub(super) fn merit(stand: &Stand) -> f64 {
    stand.merit.map_or(1.0, |merit| merit.max(LEAST_MERIT))
}

/// P(true) times the merit by the goals.
pub(super) fn worth(stand: &Stand) -> f64 {
    (1.0 - stand.p_off) * merit(stand)
}

/// The same, a runt counting less.
pub(super) fn standing(stand: &Stand) -> f64 {
    worth(stand) * if stand.runt { OF_A_RUNT } else { 1.0 }
}

/// Whether a stand can get a place: it is not almost surely off-type, and was not kept before.
fn is_free(stand: &Stand) -> bool {
    stand.kept.is_none() && stand.verdict != Verdict::Cull
}

/// How far a stand is from settled; of those as good the nearer one goes first.
pub(super) const fn unsettled(stand: &Stand) -> u8 {
    match stand.verdict {
        Verdict::Keep | Verdict::Unproven => 0,
        Verdict::Wait => 1,
        Verdict::Undecided | Verdict::Cull => 2,
    }
}

impl<'f> Choosing<'f> {
    fn new(field: &'f Field, before: &[usize]) -> Self {
        let free = |stand: &Stand| if is_free(stand) { stand.count } else { 0 };
        let mut choosing = Self {
            field,
            left: field.stands.iter().map(free).collect(),
            of_tray: HashMap::new(),
            of_cell: HashMap::new(),
        };
        before.iter().for_each(|stand| choosing.count_place(*stand));
        choosing
    }

    fn count_place(&mut self, stand: usize) {
        let stand = &self.field.stands[stand];
        *self.of_tray.entry(stand.tray).or_default() += 1;
        if let Some(cell) = stand.cell {
            *self.of_cell.entry((stand.tray, cell)).or_default() += 1;
        }
    }

    fn take(&mut self, stand: usize) {
        self.left[stand] -= 1;
        self.count_place(stand);
    }

    /// The next of all that are not almost surely off-type.
    fn next(&self) -> Option<Taken> {
        let pool: Vec<usize> = (0..self.left.len())
            .filter(|at| self.left[*at] > 0)
            .collect();
        self.best_of(&pool)
    }

    fn best_of(&self, pool: &[usize]) -> Option<Taken> {
        let stand = |at: usize| &self.field.stands[at];
        let most = pool
            .iter()
            .map(|at| standing(stand(*at)))
            .reduce(f64::max)?;
        let level = |at: &usize| standing(stand(*at)) >= most * (1.0 - NEAR);
        let level: Vec<usize> = pool.iter().copied().filter(level).collect();
        let settled = level.iter().map(|at| unsettled(stand(*at))).min()?;
        let near: Vec<usize> = (level.iter().copied())
            .filter(|at| unsettled(stand(*at)) == settled)
            .collect();
        let key = |at: usize| (self.taken_of_tray(at), self.taken_of_cell(at));
        let least = near.iter().map(|at| key(*at)).min()?;
        let spread: Vec<usize> = (near.iter().copied())
            .filter(|at| key(*at) == least)
            .collect();
        let size = |at: usize| stand(at).size.unwrap_or(0.0);
        let largest = spread.iter().map(|at| size(*at)).reduce(f64::max)?;
        let large = spread.iter().copied();
        let large = large.filter(|at| size(*at) >= largest - LARGER);
        let one = large.clone().reduce(|best, at| {
            let better = standing(stand(at)) > standing(stand(best)) + 1e-9;
            if better { at } else { best }
        })?;
        let alike: i64 = large.map(|at| self.left[at]).sum();
        let is_alone = |list: &[usize]| list.len() == 1 && self.left[one] == 1;
        let because = match () {
            () if is_alone(pool) => Because::OnlyOne,
            () if is_alone(&level) => self.why_first(one, pool),
            () if is_alone(&near) => Because::Settled,
            () if near.iter().any(|at| self.taken_of_tray(*at) > least.0) => Because::OtherTray,
            () if near.iter().any(|at| self.taken_of_cell(*at) > least.1) => Because::OtherCell,
            () if alike == 1 => Because::Larger,
            () => Because::Alike(alike - 1),
        };
        Some(Taken {
            stand: one,
            because,
        })
    }

    /// Why one is ahead of all others.
    fn why_first(&self, one: usize, pool: &[usize]) -> Because {
        let stand = |at: &usize| &self.field.stands[*at];
        let own = stand(&one);
        let others = || pool.iter().filter(|at| **at != one).map(stand);
        let as_good = |other: &Stand| worth(other) >= worth(own) * (1.0 - NEAR);
        let as_likely = |other: &Stand| 1.0 - other.p_off >= (1.0 - own.p_off) * (1.0 - NEAR);
        match () {
            () if others().any(as_good) => Because::NotSmall,
            () if others().any(as_likely) => Because::Goals,
            () => Because::Likeliest,
        }
    }

    fn taken_of_tray(&self, stand: usize) -> i64 {
        let tray = self.field.stands[stand].tray;
        self.of_tray.get(&tray).copied().unwrap_or(0)
    }

    fn taken_of_cell(&self, stand: usize) -> i64 {
        let stand = &self.field.stands[stand];
        let cell = stand.cell.map(|cell| (stand.tray, cell));
        cell.map_or(0, |cell| self.of_cell.get(&cell).copied().unwrap_or(0))
    }
}
