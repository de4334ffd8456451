//! What becomes of every seedling of a cross, given how many places it gets.
//!
//! The order says who gets a place; the verdict then says what is done with it: kept, spared until its day, or left until it
//! is settled. Called by the pick.

use super::order::{Because, LARGER, NEAR, Order, Taken, merit, standing, unsettled};
use super::{Act, AsKept, Field, Line, Stand};
use crate::diagnosis::answer::Verdict;

/// Places that a cross gets.
#[derive(Debug, Clone, Copy)]
pub(super) struct Given {
    /// To keep seedlings in.
    pub(super) places: usize,
    /// In reserve.
    pub(super) reserve: usize,
}

/// What is done with every stand of a cross.
pub(super) fn lines(field: &Field, order: &Order, given: Given, per_cross: usize) -> Vec<Line> {
    let mut lines = Lines::default();
    for stand in &order.before {
        lines.add(*stand, 1, Act::Stays, Because::KeptBefore);
    }
    let placed = given.places + given.reserve;
    for (at, taken) in order.taken[..placed].iter().enumerate() {
        lines.place(field, *taken, at < given.places);
    }
    let lacks = order.open(per_cross) < order.missing(per_cross);
    let is_short = lacks || lines.list.iter().any(|line| line.holds > 0);
    let worst = worst_placed(field, order, given.places);
    for (at, stand) in field.stands.iter().enumerate() {
        let left = stand.count - lines.count_of(at);
        if left > 0 {
            let (act, because) = rest(stand, worst, is_short);
            lines.add(at, left, act, because);
        }
    }
    if given.places < order.missing(per_cross) {
        lines.tell_that_places_lack();
    }
    let placed: Vec<usize> = order.stands(placed).collect();
    lines.tell_alike(field, &placed);
    lines.list
}

/// The one of those with a place that is worth least.
fn worst_placed<'f>(field: &'f Field, order: &Order, places: usize) -> Option<&'f Stand> {
    let placed = order.stands(places).map(|at| &field.stands[at]);
    placed.min_by(|one, other| standing(one).total_cmp(&standing(other)))
}

/// What is done with those that have no place.
fn rest(stand: &Stand, worst: Option<&Stand>, is_short: bool) -> (Act, Because) {
    match (stand.kept, stand.verdict) {
        (Some(AsKept::Adopted), _) => (Act::Stays, Because::KeptBefore),
        (_, Verdict::Cull) => (Act::Pull, Because::OffType),
        (_, Verdict::Wait) => (Act::Spare, Because::MayTurn),
        (_, Verdict::Undecided) if is_short && worst.is_some() => (Act::Settle, Because::Unsettled),
        (_, Verdict::Keep | Verdict::Unproven | Verdict::Undecided) => (
            Act::Pull,
            worst.map_or(Because::NoPlace, |worst| why_not(stand, worst)),
        ),
    }
}

/// Why a stand has no place, beside the worst of those that have one.
fn why_not(stand: &Stand, worst: &Stand) -> Because {
    let level = |own: f64, other: f64| own >= other * (1.0 - NEAR);
    match () {
        () if stand.runt => Because::Small,
        () if !level(1.0 - stand.p_off, 1.0 - worst.p_off) => Because::LessLikely,
        () if !level(merit(stand), merit(worst)) => Because::WorthLess,
        () => Because::Enough,
    }
}

#[derive(Default)]
struct Lines {
    list: Vec<Line>,
}

impl Lines {
    fn add(&mut self, stand: usize, count: i64, act: Act, because: Because) {
        self.line(stand, act, because).count += count;
    }

    fn line(&mut self, stand: usize, act: Act, because: Because) -> &mut Line {
        let same = |line: &Line| line.stand == stand && line.act == act;
        let at = self.list.iter().position(same).unwrap_or_else(|| {
            self.list.push(Line {
                stand,
                count: 0,
                act,
                because,
                holds: 0,
                holds_in_reserve: 0,
            });
            self.list.len() - 1
        });
        &mut self.list[at]
    }

    /// Gives one more of a stand a place, or one in reserve: what is not settled keeps standing, and the place is held.
    fn place(&mut self, field: &Field, taken: Taken, is_for_keeping: bool) {
        let held = match field.stands[taken.stand].verdict {
            Verdict::Wait => Some((Act::Spare, Because::MayTurn)),
            Verdict::Undecided => Some((Act::Settle, Because::Unsettled)),
            Verdict::Keep | Verdict::Unproven | Verdict::Cull => None,
        };
        match (held, is_for_keeping) {
            (None, true) => self.add(taken.stand, 1, Act::Keep, taken.because),
            (None, false) => self.add(taken.stand, 1, Act::Reserve, taken.because),
            (Some((act, because)), _) => {
                let line = self.line(taken.stand, act, because);
                line.count += 1;
                line.holds += i64::from(is_for_keeping);
                line.holds_in_reserve += i64::from(!is_for_keeping);
            }
        }
    }

    /// Where a cross gets fewer places than were wanted it is not that enough are kept.
    fn tell_that_places_lack(&mut self) {
        let own = self.list.iter_mut();
        let enough = own.filter(|line| line.because == Because::Enough);
        enough.for_each(|line| line.because = Because::NoPlace);
    }

    /// Tells those that were taken as alike how many others would do in their stead, now that it is known who is pulled.
    fn tell_alike(&mut self, field: &Field, placed: &[usize]) {
        let pulled = self.list.iter().filter(|line| line.act == Act::Pull);
        let pulled: Vec<(usize, i64)> = pulled.map(|line| (line.stand, line.count)).collect();
        let stead = Stead { field, placed };
        let told = |line: &&mut Line| {
            matches!(line.because, Because::Alike(_)) || stead.is_last_alike(line)
        };
        for line in self.list.iter_mut().filter(told) {
            let of = |does: &dyn Fn(usize) -> bool| -> i64 {
                let those = pulled.iter().filter(|(stand, _)| does(*stand));
                those.map(|(_, count)| count).sum()
            };
            let tray = field.stands[line.stand].tray;
            let as_good = |stand: usize| stead.is_as_good(stand, line.stand);
            let beside = |stand: usize| as_good(stand) && field.stands[stand].tray == tray;
            let would_do = |stand: usize| as_good(stand) && stead.spreads(stand, line.stand);
            line.because = match (of(&would_do), of(&as_good), of(&beside)) {
                (0, 0, _) => Because::AllAlike,
                (0, _, 0) => Because::OtherTray,
                (0, _, _) => Because::OtherCell,
                (others, _, _) => Because::Alike(others),
            };
        }
    }

    fn count_of(&self, stand: usize) -> i64 {
        let own = self.list.iter().filter(|line| line.stand == stand);
        own.map(|line| line.count).sum()
    }
}

/// Who would do in the stead of one that has a place.
struct Stead<'f> {
    field: &'f Field,
    placed: &'f [usize],
}

impl Stead<'_> {
    /// Whether one is worth as much as another.
    fn is_as_good(&self, stand: usize, other: usize) -> bool {
        let [own, other] = [stand, other].map(|at| &self.field.stands[at]);
        let size = |stand: &Stand| stand.size.unwrap_or(0.0);
        standing(own) >= standing(other) * (1.0 - NEAR)
            && unsettled(own) <= unsettled(other)
            && size(own) >= size(other) - LARGER
    }

    /// Whether one was likelier than all that were left, but not than another that was taken before.
    fn is_last_alike(&self, line: &Line) -> bool {
        let as_good = |other: &usize| {
            *other != line.stand
                && self.is_as_good(*other, line.stand)
                && self.is_as_good(line.stand, *other)
        };
        line.because == Because::Likeliest && self.placed.iter().any(as_good)
    }

    /// Whether no tray and no cell would hold more of those with a place if one took another's.
    fn spreads(&self, stand: usize, other: usize) -> bool {
        let [own, other] = [stand, other].map(|at| &self.field.stands[at]);
        let cell = |stand: &Stand| (stand.tray, stand.cell);
        let placed = || self.placed.iter().map(|at| &self.field.stands[*at]);
        let in_tray = |of: &Stand| placed().filter(|one| one.tray == of.tray).count();
        let in_cell = |of: &Stand| placed().filter(|one| cell(one) == cell(of)).count();
        (own.tray == other.tray || in_tray(own) < in_tray(other))
            && (own.cell.is_none() || cell(own) == cell(other) || in_cell(own) < in_cell(other))
    }
}
