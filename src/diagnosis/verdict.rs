//! Cull, wait, keep, unproven or undecided: what the posterior of a seedling means for the bench.

use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

use crate::records::assumptions::Assumptions;
use crate::records::day::Day;

use super::answer::Verdict;
use super::batch::BatchModel;
use super::context::Context;
use super::evidence::Member;
use super::membership::Membership;
use super::series::{OneMore, Prepared, Scale};
use super::tail::{Tail, TailSum};
use super::word::Word;

/// How many days ahead the best day to look again is sought first.
const NEAR_DAYS: i64 = 14;

/// A day is early enough to look again when it settles nearly as much as the best one.
const NEARLY: f64 = 0.9;

/// By the one further reading that comes first, where there is one: its day and class.
type Tails = HashMap<Option<(Day, usize)>, Rc<Tail>>;

/// The same with the class of the one after it: weights as labelled and as off-type times the likelihood, summed up.
type Sums = HashMap<(Option<(Day, usize)>, usize), Rc<[TailSum; 2]>>;

/// Judges one seedling, or one seedling of a tallied look.
pub struct Judge<'a> {
    beliefs: &'a Assumptions,
    model: &'a BatchModel,
    word: &'a Word,
    scale: &'a Scale<'a>,
    member: &'a Member,
    prepared: Prepared,
    /// The trait that would be read again.
    look: usize,
    on: &'a [f64],
    off: &'a [f64],
    not_dim: Vec<f64>,
    today: Day,
    last_day: Day,
    tails: RefCell<Tails>,
    sums: RefCell<Sums>,
}

/// A verdict and the day to look again.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// P(off-type).
    pub p_off: f64,
    /// P(off-type) by candidate; they sum to it.
    pub sources: Vec<f64>,
    /// The verdict.
    pub verdict: Verdict,
    /// The day to look again, for a seedling to wait for.
    pub look_again: Option<Day>,
    /// How likely the readings are from the sources, as a multiple of how likely they are from the label.
    pub times_as_likely_off: f64,
}

impl Judged {
    /// A seedling whose readings contradict each other: nothing is known of it but what its batch says.
    #[must_use]
    pub fn contradictory(membership: &Membership) -> Self {
        let off = &membership.off_from;
        let total = membership.on.iter().sum::<f64>() + off.iter().sum::<f64>();
        let share = |p: &f64| if total > 0.0 { p / total } else { 0.0 };
        Self {
            p_off: share(&off.iter().sum()),
            sources: off.iter().map(share).collect(),
            verdict: Verdict::Undecided,
            look_again: None,
            times_as_likely_off: 1.0,
        }
    }
}

impl<'a> Judge<'a> {
    /// A judge of one member of a batch's evidence.
    #[must_use]
    pub fn new(
        context: &Context<'a>,
        model: &'a BatchModel,
        word: &'a Word,
        scale: &'a Scale<'a>,
        member: &'a Member,
        membership: &'a Membership,
        today: Day,
    ) -> Self {
        Self {
            beliefs: context.beliefs,
            model,
            word,
            scale,
            member,
            prepared: scale.prepare(&member.readings, &member.emergence),
            look: member.newest().look,
            on: &membership.on,
            off: &membership.off,
            not_dim: model.paces.weights_not_dim(),
            today,
            last_day: member
                .readings
                .iter()
                .map(|reading| reading.day)
                .max()
                .unwrap_or(today),
            tails: RefCell::default(),
            sums: RefCell::default(),
        }
    }

    /// The verdict.
    #[must_use]
    pub fn judge(&self, membership: &Membership) -> Judged {
        let likelihood = self.weigh(&[]);
        let both = [self.on, self.off].map(|weights| dot(weights, &likelihood));
        let total = both[0] + both[1];
        if total <= 0.0 {
            return Judged::contradictory(membership);
        }
        let off_from = membership.off_from_as_read.iter();
        let sources = off_from.map(|weight| weight / total).collect();
        let newest = self.member.newest();
        let settled = self.settle(&[], newest.class);
        let (verdict, look_again) = match settled {
            Some(verdict) => (verdict, None),
            None => self.look_ahead(),
        };
        Judged {
            p_off: p_off(both),
            sources,
            verdict,
            look_again,
            times_as_likely_off: self.times_as_likely_off(&likelihood),
        }
    }

    /// P(readings and the further ones | profile, pace).
    fn weigh(&self, more: &[OneMore]) -> Vec<f64> {
        let more = (!more.is_empty()).then_some((more, self.member.readings.as_slice()));
        self.prepared
            .weigh(self.scale, &self.member.emergence, more)
            .values
    }

    /// The weights of the readings and the further ones, as labelled and as off-type. Further readings later than all
    /// recorded ones, as they nearly always are, take the short way over a [`Tail`].
    fn weights(&self, more: &[OneMore]) -> [f64; 2] {
        let mut later: Vec<OneMore> = more.to_vec();
        later.sort_by_key(|one| one.day);
        if later.first().is_some_and(|first| first.day > self.last_day) {
            let (last, before) = later.split_last().expect("at least one further reading");
            if before.len() < 2 && before.iter().all(|one| one.day < last.day) {
                let sums = self.sums(before.first().copied(), last.class);
                return [0, 1].map(|at| sums[at].on(self.scale, last.day));
            }
        }
        let likelihood = self.weigh(more);
        [self.on, self.off].map(|weights| dot(weights, &likelihood))
    }

    fn sums(&self, before: Option<OneMore>, class: usize) -> Rc<[TailSum; 2]> {
        let key = (before.map(|one| (one.day, one.class)), class);
        if let Some(sums) = self.sums.borrow().get(&key) {
            return Rc::clone(sums);
        }
        let tail = self.tail(before);
        let both = [self.on, self.off].map(|weights| tail.summed(self.scale, class, weights));
        let sums = Rc::new(both);
        self.sums.borrow_mut().insert(key, Rc::clone(&sums));
        sums
    }

    fn tail(&self, before: Option<OneMore>) -> Rc<Tail> {
        let key = before.map(|one| (one.day, one.class));
        if let Some(tail) = self.tails.borrow().get(&key) {
            return Rc::clone(tail);
        }
        let further = before.as_slice();
        let more = (!further.is_empty()).then_some((further, self.member.readings.as_slice()));
        let tail = Rc::new(
            self.prepared
                .tail(self.scale, &self.member.emergence, self.look, more),
        );
        self.tails.borrow_mut().insert(key, Rc::clone(&tail));
        tail
    }

    fn one_more(&self, day: Day, class: usize) -> OneMore {
        OneMore {
            look: self.look,
            class,
            day,
        }
    }

    fn days_ahead(&self) -> impl DoubleEndedIterator<Item = Day> + use<'_> {
        (1..=self.beliefs.horizon as i64).map(|ahead| self.today.forward(ahead))
    }

    /// Cull, keep or unproven where these readings settle it.
    fn settle(&self, more: &[OneMore], newest_class: usize) -> Option<Verdict> {
        let p_off = p_off(self.weights(more));
        if p_off >= self.beliefs.cull {
            return Some(Verdict::Cull);
        }
        if p_off > self.beliefs.keep
            || !self.fits_the_end(newest_class)
            || self.may_be_lifted(more, newest_class)
        {
            return None;
        }
        let proven = self.times_as_likely_off(&self.weigh(more)) <= self.beliefs.proof;
        Some(if proven {
            Verdict::Keep
        } else {
            Verdict::Unproven
        })
    }

    /// Whether the label ends in this class, or in one that shows after it.
    fn fits_the_end(&self, class: usize) -> bool {
        let place = self.trait_at();
        let ends_in = &self.word.ends_in[place];
        let trait_ = self.scale.look(place);
        ends_in.iter().enumerate().any(|(end, p)| {
            *p >= self.beliefs.allowed && (end == class || trait_.classes[end].after == Some(class))
        })
    }

    fn trait_at(&self) -> usize {
        let look = self.look;
        let traits = &self.model.profiles.traits;
        traits
            .iter()
            .position(|place| *place == look)
            .expect("a reading is of a trait that was read")
    }

    /// Whether the same class seen once more on some day ahead would lift P(off) over what is kept.
    fn may_be_lifted(&self, more: &[OneMore], class: usize) -> bool {
        let lifts = |weights: [f64; 2]| p_off(weights) > self.beliefs.keep;
        let is_last = more.len() < 2 && more.iter().all(|one| one.day > self.last_day);
        let last = more
            .iter()
            .map(|one| one.day)
            .max()
            .unwrap_or(self.last_day);
        // On days after all the others only the shares that show it by then differ.
        let later = is_last.then(|| self.sums(more.first().copied(), class));
        let mut with = more.to_vec();
        self.days_ahead()
            .rev()
            .filter(|day| more.iter().all(|one| one.day != *day))
            .any(|day| match later.as_ref().filter(|_| day > last) {
                Some(sums) => lifts([0, 1].map(|at| sums[at].on(self.scale, day))),
                None => {
                    with.push(self.one_more(day, class));
                    let weights = self.weights(&with);
                    with.pop();
                    lifts(weights)
                }
            })
    }

    /// How likely the readings are from the sources, averaged by prior weight, against from the label, plants at
    /// their word and the batch not dim.
    fn times_as_likely_off(&self, likelihood: &[f64]) -> f64 {
        let paces = self.model.paces.len();
        let chance = |seed: &[f64]| -> f64 {
            seed.iter()
                .enumerate()
                .map(|(f, p)| {
                    let own = &likelihood[f * paces..(f + 1) * paces];
                    p * self
                        .not_dim
                        .iter()
                        .zip(own)
                        .map(|(w, l)| w * l)
                        .sum::<f64>()
                })
                .sum()
        };
        let label = chance(&self.word.label);
        match &self.word.average {
            None => 0.0,
            Some(_) if label == 0.0 => f64::INFINITY,
            Some(average) => chance(average) / label,
        }
    }

    /// Wait with a date, or undecided.
    fn look_ahead(&self) -> (Verdict, Option<Day>) {
        let near: Vec<(Day, f64)> = self
            .days_ahead()
            .take(usize::try_from(NEAR_DAYS).expect("two weeks"))
            .map(|day| (day, self.settles_on(day)))
            .collect();
        let best = near.iter().map(|(_, q)| *q).fold(0.0, f64::max);
        let day = if best >= self.beliefs.settle {
            near.iter()
                .find(|(_, q)| *q >= NEARLY * best)
                .map(|(day, _)| *day)
        } else {
            let later = self.days_ahead().skip(near.len());
            later
                .into_iter()
                .find(|day| self.settles_on(*day) >= self.beliefs.settle)
        };
        match day {
            Some(day) => (Verdict::Wait, Some(day)),
            None => (Verdict::Undecided, None),
        }
    }

    /// P(each class of the newest trait is seen on a day | everything recorded).
    fn class_chances(&self, day: Day) -> Vec<f64> {
        let classes = self.scale.look(self.trait_at()).classes.len();
        let weights: Vec<f64> = (0..classes)
            .map(|class| {
                let [on, off] = self.weights(&[self.one_more(day, class)]);
                on + off
            })
            .collect();
        let total: f64 = weights.iter().sum();
        weights
            .iter()
            .map(|w| if total > 0.0 { w / total } else { 0.0 })
            .collect()
    }

    /// P(one more firm reading on a day ends in cull, keep or unproven).
    fn settles_on(&self, day: Day) -> f64 {
        self.class_chances(day)
            .iter()
            .enumerate()
            .filter(|(class, p)| {
                **p > 0.0 && self.settle(&[self.one_more(day, *class)], *class).is_some()
            })
            .map(|(_, p)| p)
            .sum()
    }
}

fn p_off([on, off]: [f64; 2]) -> f64 {
    if on + off > 0.0 {
        off / (on + off)
    } else {
        0.0
    }
}

/// The sum of products.
pub(super) fn dot(weights: &[f64], values: &[f64]) -> f64 {
    weights.iter().zip(values).map(|(w, v)| w * v).sum()
}
