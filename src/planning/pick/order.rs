//! The order in which a cross gives its seedlings places, and what becomes of each given how many it gets.
//!
//! One seedling after the other, each with the reason that decided; called by the pick.

use std::collections::HashMap;

use super::{Act, AsKept, Field, Line, Stand};
use crate::diagnosis::answer::Verdict;

/// Worths within this share of the best are level (design choice): no bench can tell them apart.
pub const NEAR: f64 = 0.02;

/// What a merit of nothing still counts, so that the likelier of two such goes first.
const LEAST_MERIT: f64 = 1e-3;

/// Sizes further apart than this, in robust standard deviations, are different (design choice).
const LARGER: f64 = 0.5;

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
    /// The others left are runts.
    NotSmall,
    /// Others are as good, but stand in a tray of which more are taken.
    OtherTray,
    /// Others are as good, but stand in a cell of which more are taken.
    OtherCell,
    /// Others are as good, but smaller.
    Larger,
    /// So many are as good; any of them would do.
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
    before: Vec<usize>,
    /// The others, the first to get a place first; those that may be kept, then those to wait for.
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
        tell_alike_of_all(&mut taken);
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

    /// Those kept before and the first so many, by tray: the place in its answer and how many.
    pub(super) fn by_tray(&self, field: &Field, first: usize) -> Vec<Vec<(usize, i64)>> {
        let mut chosen = vec![Vec::new(); field.trays.len()];
        for stand in self.stands(first) {
            let stand = &field.stands[stand];
            let own: &mut Vec<(usize, i64)> = &mut chosen[stand.tray];
            match own.iter_mut().find(|(at, _)| *at == stand.at) {
                Some((_, count)) => *count += 1,
                None => own.push((stand.at, 1)),
            }
        }
        chosen
    }

    /// How many of them are true on average.
    pub(super) fn expected_true(&self, field: &Field, first: usize) -> f64 {
        let chosen = self.stands(first);
        chosen.map(|stand| 1.0 - field.stands[stand].p_off).sum()
    }

    fn stands(&self, first: usize) -> impl Iterator<Item = usize> {
        let taken = self.taken[..first].iter().map(|taken| taken.stand);
        self.before.iter().copied().chain(taken)
    }

    /// What is done with every stand, so many having a place and the next ones a place in reserve.
    pub(super) fn lines(
        &self,
        field: &Field,
        (places, reserve): (usize, usize),
        per_cross: usize,
    ) -> Vec<Line> {
        let mut lines = Lines::default();
        for stand in &self.before {
            lines.add(*stand, Act::Stays, Because::KeptBefore);
        }
        for (at, taken) in self.taken[..places + reserve].iter().enumerate() {
            let is_waiting = field.stands[taken.stand].verdict == Verdict::Wait;
            match (is_waiting, at < places) {
                (true, _) => lines.hold(taken.stand),
                (false, true) => lines.add(taken.stand, Act::Keep, taken.because),
                (false, false) => lines.add(taken.stand, Act::Reserve, taken.because),
            }
        }
        let lacks = self.open(per_cross) < self.missing(per_cross);
        let is_short = lacks || lines.list.iter().any(|line| line.holds > 0);
        let worst = self.worst_kept(field, places);
        for (at, stand) in field.stands.iter().enumerate() {
            let left = stand.count - lines.count_of(at);
            if left > 0 {
                let (act, because) = rest(stand, worst, is_short);
                lines.add_many(at, left, act, because);
            }
        }
        if places < self.missing(per_cross) {
            lines.tell_that_places_lack();
        }
        lines.tell_where_all_are_kept();
        lines.list
    }

    /// The one of those with a place that is worth least.
    fn worst_kept<'f>(&self, field: &'f Field, places: usize) -> Option<&'f Stand> {
        let kept = self.stands(places).map(|at| &field.stands[at]);
        kept.min_by(|one, other| worth(one).total_cmp(&worth(other)))
    }
}

/// Of several taken from among the same that are alike, each is told how many are left beside them all.
fn tell_alike_of_all(taken: &mut [Taken]) {
    for at in (1..taken.len()).rev() {
        if let (Because::Alike(before), Because::Alike(now)) =
            (taken[at - 1].because, taken[at].because)
            && (now == before || now == before - 1)
        {
            taken[at - 1].because = Because::Alike(now);
        }
    }
}

/// What is done with those that have no place.
fn rest(stand: &Stand, worst: Option<&Stand>, is_short: bool) -> (Act, Because) {
    let level = |own: f64, other: f64| own >= other * (1.0 - NEAR);
    match (stand.kept, stand.verdict) {
        (Some(AsKept::Adopted), _) => (Act::Stays, Because::KeptBefore),
        (_, Verdict::Cull) => (Act::Pull, Because::OffType),
        (_, Verdict::Wait) => (Act::Spare, Because::MayTurn),
        (_, Verdict::Undecided) if is_short => (Act::Settle, Because::Unsettled),
        (_, Verdict::Undecided) => (Act::Pull, Because::LessLikely),
        (_, Verdict::Keep | Verdict::Unproven) => {
            let because = match worst {
                None => Because::NoPlace,
                Some(_) if stand.runt => Because::Small,
                Some(worst) if !level(1.0 - stand.p_off, 1.0 - worst.p_off) => Because::LessLikely,
                Some(worst) if !level(merit(stand), merit(worst)) => Because::WorthLess,
                Some(_) => Because::Enough,
            };
            (Act::Pull, because)
        }
    }
}

fn merit(stand: &Stand) -> f64 {
    stand.merit.map_or(1.0, |merit| merit.max(LEAST_MERIT))
}

/// P(true) times the merit by the goals.
fn worth(stand: &Stand) -> f64 {
    (1.0 - stand.p_off) * merit(stand)
}

#[derive(Default)]
struct Lines {
    list: Vec<Line>,
}

impl Lines {
    fn add(&mut self, stand: usize, act: Act, because: Because) {
        self.add_many(stand, 1, act, because);
    }

    fn add_many(&mut self, stand: usize, count: i64, act: Act, because: Because) {
        let same = |line: &&mut Line| line.stand == stand && line.act == act;
        match self.list.iter_mut().find(same) {
            Some(line) => line.count += count,
            None => self.list.push(Line {
                stand,
                count,
                act,
                because,
                holds: 0,
            }),
        }
    }

    /// Spares one more of a stand and holds a place for it.
    fn hold(&mut self, stand: usize) {
        self.add(stand, Act::Spare, Because::MayTurn);
        let mut lines = self.list.iter_mut();
        let own = lines.find(|line| line.stand == stand && line.act == Act::Spare);
        own.expect("it was just added").holds += 1;
    }

    /// Where a cross gets fewer places than were wanted it is not that enough are kept.
    fn tell_that_places_lack(&mut self) {
        let own = self.list.iter_mut();
        let enough = own.filter(|line| line.because == Because::Enough);
        enough.for_each(|line| line.because = Because::NoPlace);
    }

    /// Where none that is as good is pulled there is no choice among them.
    fn tell_where_all_are_kept(&mut self) {
        let mut lines = self.list.iter();
        let is_as_good = |line: &Line| matches!(line.because, Because::Enough | Because::NoPlace);
        if lines.any(|line| is_as_good(line) || line.act == Act::Reserve) {
            return;
        }
        let alike = |line: &&mut Line| matches!(line.because, Because::Alike(_));
        let kept = self.list.iter_mut().filter(alike);
        kept.for_each(|line| line.because = Because::AllAlike);
    }

    fn count_of(&self, stand: usize) -> i64 {
        let own = self.list.iter().filter(|line| line.stand == stand);
        own.map(|line| line.count).sum()
    }
}

impl<'f> Choosing<'f> {
    fn new(field: &'f Field, before: &[usize]) -> Self {
        let free = |stand: &Stand| if stand.kept.is_some() { 0 } else { stand.count };
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

    /// The next of those that may be kept, else of those to wait for.
    fn next(&self) -> Option<Taken> {
        let with = |verdicts: &[Verdict]| -> Vec<usize> {
            let places = 0..self.field.stands.len();
            let meant = |at: &usize| verdicts.contains(&self.field.stands[*at].verdict);
            places
                .filter(|at| self.left[*at] > 0)
                .filter(meant)
                .collect()
        };
        let pool = with(&[Verdict::Keep, Verdict::Unproven]);
        match pool.is_empty() {
            false => self.best_of(&pool),
            true => self.best_of(&with(&[Verdict::Wait])),
        }
    }

    fn best_of(&self, pool: &[usize]) -> Option<Taken> {
        let stand = |at: usize| &self.field.stands[at];
        let sound: Vec<usize> = pool.iter().copied().filter(|at| !stand(*at).runt).collect();
        let sound = if sound.is_empty() { pool } else { &sound };
        let worths = sound.iter().map(|at| worth(stand(*at)));
        let most = worths.reduce(f64::max)?;
        let near: Vec<usize> = (sound.iter().copied())
            .filter(|at| worth(stand(*at)) >= most * (1.0 - NEAR))
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
            let better = worth(stand(at)) > worth(stand(best)) + 1e-9;
            if better { at } else { best }
        })?;
        let alike: i64 = large.map(|at| self.left[at]).sum();
        let because = match () {
            () if pool.len() == 1 && self.left[one] == 1 => Because::OnlyOne,
            () if near.len() == 1 && self.left[one] == 1 => self.why_first(one, pool, sound),
            () if near.iter().any(|at| self.taken_of_tray(*at) > least.0) => Because::OtherTray,
            () if near.iter().any(|at| self.taken_of_cell(*at) > least.1) => Because::OtherCell,
            () if alike == 1 => Because::Larger,
            () => Because::Alike(alike),
        };
        Some(Taken {
            stand: one,
            because,
        })
    }

    /// Why one is ahead of all others.
    fn why_first(&self, one: usize, pool: &[usize], sound: &[usize]) -> Because {
        let stand = |at: usize| &self.field.stands[at];
        let others = sound.iter().copied().filter(|at| *at != one);
        let next = others.reduce(|best, at| {
            if worth(stand(at)) > worth(stand(best)) {
                at
            } else {
                best
            }
        });
        let Some(next) = next else {
            return if sound.len() < pool.len() {
                Because::NotSmall
            } else {
                Because::OnlyOne
            };
        };
        let as_likely = 1.0 - stand(next).p_off >= (1.0 - stand(one).p_off) * (1.0 - NEAR);
        if as_likely {
            Because::Goals
        } else {
            Because::Likeliest
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
