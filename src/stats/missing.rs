//! P(not everything is reached) after so many trials, by the cheapest of four exact ways.
//!
//! One want is a binomial tail; wants of kinds that exclude one another are sums over how many trials fall into some of
//! the kinds; successes among the first so many that pass are a sum over how many pass; all else is a walk from trial to
//! trial ([`Walk`]). Knows neither seeds nor plants; [`super::begun`] asks.

use super::logs::ln_binomial;
use super::reach::{Outcome, TooManyStates, Walk};
use super::tails::binomial_tails;

/// Terms smaller than this part of the largest change no digit.
const NEGLIGIBLE: f64 = 1e-22;

/// A chance of missing below this is none: no confidence that is asked for comes near it.
const NONE: f64 = 1e-18;

/// Most wants whose kinds are gone through in every selection.
const MOST_APART: usize = 8;

/// What is to be reached, and how likely it is missed.
#[derive(Debug, Clone)]
pub struct Missing {
    way: Way,
}

#[derive(Debug, Clone)]
enum Way {
    /// It is missed this often, however many trials there are.
    Always(f64),
    One {
        want: u64,
        p: f64,
    },
    Apart(Apart),
    First(First),
    Walk(Walk),
}

impl Missing {
    /// `wants` successes of each kind, by independent trials of these outcomes.
    ///
    /// # Errors
    /// [`TooManyStates`] where only a walk would tell, of too many states.
    pub fn to_all(wants: &[u64], outcomes: &[Outcome]) -> Result<Self, TooManyStates> {
        let chance = |want: usize| -> f64 {
            let hits = outcomes.iter().filter(|one| one.counts_for.contains(&want));
            hits.map(|one| one.p).sum::<f64>().min(1.0)
        };
        let open: Vec<usize> = (0..wants.len()).filter(|at| wants[*at] > 0).collect();
        let way = match open.as_slice() {
            [] => Way::Always(0.0),
            all if all.iter().any(|at| chance(*at) <= 0.0) => Way::Always(1.0),
            [one] => Way::One {
                want: wants[*one],
                p: chance(*one),
            },
            several => {
                let is_apart = outcomes.iter().all(|one| one.counts_for.len() < 2);
                match is_apart && several.len() <= MOST_APART {
                    true => {
                        let kinds: Vec<(u64, f64)> =
                            several.iter().map(|at| (wants[*at], chance(*at))).collect();
                        Way::Apart(Apart::new(&kinds))
                    }
                    false => Way::Walk(Walk::to_all(wants, outcomes)?),
                }
            }
        };
        Ok(Self { way })
    }

    /// More than `most` successes of one kind.
    #[must_use]
    pub fn more_than(most: u64, p: f64) -> Self {
        let way = match p > 0.0 {
            true => Way::One { want: most + 1, p },
            false => Way::Always(1.0),
        };
        Self { way }
    }

    /// `want` successes among the first `places` trials that pass: a trial passes with probability `pass`, and one that
    /// passes is a success with probability `success`.
    #[must_use]
    pub fn among_first(places: u64, want: u64, pass: f64, success: f64) -> Self {
        let way = match want {
            0 => Way::Always(0.0),
            _ if pass <= 0.0 || success <= 0.0 => Way::Always(1.0),
            _ => Way::First(First::new(places, want, pass, success)),
        };
        Self { way }
    }

    /// P(not everything is reached) after a number of trials.
    pub fn after(&mut self, trials: u64) -> f64 {
        match &mut self.way {
            Way::Always(miss) => *miss,
            Way::One { want, p } => binomial_tails(*want, trials, *p).1,
            Way::Apart(apart) => apart.after(trials),
            Way::First(first) => first.after(trials),
            Way::Walk(walk) => walk.miss(trials as usize),
        }
    }

    /// What stays missed however many trials there are.
    #[must_use]
    pub fn at_last(&self) -> f64 {
        match &self.way {
            Way::Always(miss) => *miss,
            Way::First(first) => first.full,
            Way::One { .. } | Way::Apart(_) | Way::Walk(_) => 0.0,
        }
    }

    /// Adds `weight` times P(missed), less what stays missed, after `from`, `from + 1` ... trials; tells whether more
    /// trials change nothing any more.
    pub fn add(&mut self, weight: f64, from: usize, sums: &mut [f64]) -> bool {
        let last = self.at_last();
        match &mut self.way {
            Way::Always(_) => true,
            Way::One { want, p } => add_one(*want, *p, weight, from, sums),
            _ => {
                for (at, sum) in sums.iter_mut().enumerate() {
                    let more = self.after((from + at) as u64) - last;
                    if more < NONE {
                        return true;
                    }
                    *sum += weight * more;
                }
                false
            }
        }
    }

    /// Additions that a further trial takes.
    #[must_use]
    pub fn work(&self) -> u64 {
        match &self.way {
            Way::Always(_) | Way::One { .. } => 1,
            Way::Apart(apart) => apart.work(),
            Way::First(first) => first.work(),
            Way::Walk(walk) => walk.work(),
        }
    }

    /// Whether a number of trials can be asked about without those before it.
    #[must_use]
    pub fn is_direct(&self) -> bool {
        !matches!(self.way, Way::Walk(_))
    }
}

/// Smaller numbers are not multiplied on, since they soon have no digits.
const SMALL: f64 = 1e-290;

/// P(fewer than `want` of `u`) for a run of `u`, from the last back: with one trial fewer it is larger by P(the last of
/// those wanted comes with that trial) = `p P(X = want - 1)` of the trials before it.
fn add_one(want: u64, p: f64, weight: f64, from: usize, sums: &mut [f64]) -> bool {
    let Some(end) = sums.len().checked_sub(1) else {
        return false;
    };
    let last = (from + end) as u64;
    if p >= 1.0 {
        let short = (want as usize).saturating_sub(from).min(sums.len());
        sums[..short].iter_mut().for_each(|sum| *sum += weight);
        return last >= want;
    }
    let mut miss = binomial_tails(want, last, p).1;
    let is_done = miss < NONE;
    // P(X = want - 1) of `u - 1` trials, from the right end of where it matters.
    let mut exact = match last >= want {
        true => ln_binomial(want - 1, last - 1, p).exp(),
        false => 0.0,
    };
    for at in (0..=end).rev() {
        let u = (from + at) as u64;
        if u < want {
            sums[..=at].iter_mut().for_each(|sum| *sum += weight);
            break;
        }
        sums[at] += weight * miss;
        miss = (miss + p * exact).min(1.0);
        let failed = (u - want) as f64;
        exact = match exact > SMALL {
            _ if u == want => 0.0,
            true => exact * failed / ((u - 1) as f64 * (1.0 - p)),
            // Too small to keep its digits: taken up again where it can be.
            false => ln_binomial(want - 1, u - 2, p).exp(),
        };
    }
    is_done
}

/// Wants of kinds that exclude one another.
///
/// P(some want is missed) is the sum over selections S of the wants, with rising signs, of P(all of S are missed), which is
/// `sum_j P(j trials fall into S) P(all of S are missed | j)`, `j` being at most what misses all of S.
#[derive(Debug, Clone)]
struct Apart {
    selections: Vec<Selection>,
}

#[derive(Debug, Clone)]
struct Selection {
    /// Whether it is taken off.
    is_even: bool,
    /// How likely a trial falls into it.
    p: f64,
    /// P(all of it are missed), by how many trials fall into it.
    missed: Vec<f64>,
}

impl Apart {
    fn new(kinds: &[(u64, f64)]) -> Self {
        let mut selections: Vec<Selection> = Vec::new();
        for (want, p) in kinds {
            let alone = Selection {
                is_even: false,
                p: *p,
                missed: vec![1.0; *want as usize],
            };
            let with: Vec<Selection> = selections.iter().map(|one| one.with(&alone)).collect();
            selections.extend(with);
            selections.push(alone);
        }
        Self { selections }
    }

    fn after(&self, trials: u64) -> f64 {
        let signed = |one: &Selection| {
            let miss = one.after(trials);
            if one.is_even { -miss } else { miss }
        };
        let sum: f64 = self.selections.iter().map(signed).sum();
        sum.clamp(0.0, 1.0)
    }

    fn work(&self) -> u64 {
        let of = |one: &Selection| one.missed.len() as u64 + ANCHOR;
        self.selections.iter().map(of).sum()
    }
}

/// About so many additions take as long as one logarithm of a binomial.
const ANCHOR: u64 = 40;

impl Selection {
    /// With another kind: of `j` trials in both, `x` are of that kind.
    fn with(&self, kind: &Self) -> Self {
        let p = (self.p + kind.p).min(1.0);
        let share = (kind.p / p).min(1.0);
        let most = self.missed.len() + kind.missed.len() - 1;
        let missed = |j: usize| {
            let least = (j + 1).saturating_sub(self.missed.len());
            let top = j.min(kind.missed.len() - 1);
            let mut sum = 0.0;
            around(j as u64, share, least as u64, top as u64, |x, weight| {
                sum += weight * self.missed[j - x as usize];
            });
            sum
        };
        Self {
            is_even: !self.is_even,
            p,
            missed: (0..most).map(missed).collect(),
        }
    }

    fn after(&self, trials: u64) -> f64 {
        let mut sum = 0.0;
        let most = (self.missed.len() as u64 - 1).min(trials);
        around(trials, self.p, 0, most, |j, weight| {
            sum += weight * self.missed[j as usize];
        });
        sum
    }
}

/// Goes through P(X = x) of the binomial for `x` from `least` to `most`, largest first, leaving out what is negligible
/// beside it.
fn around(n: u64, p: f64, least: u64, most: u64, mut at: impl FnMut(u64, f64)) {
    if least > most || least > n {
        return;
    }
    let most = most.min(n);
    if p <= 0.0 || p >= 1.0 {
        let only = if p <= 0.0 { 0 } else { n };
        if (least..=most).contains(&only) {
            at(only, 1.0);
        }
        return;
    }
    let top = ((n as f64 * p) as u64).clamp(least, most);
    let largest = ln_binomial(top, n, p).exp();
    if largest <= 0.0 {
        return;
    }
    let odds = p / (1.0 - p);
    at(top, largest);
    let mut weight = largest;
    for x in top + 1..=most {
        weight *= odds * (n - x + 1) as f64 / x as f64;
        if weight < NEGLIGIBLE * largest {
            break;
        }
        at(x, weight);
    }
    weight = largest;
    for x in (least..top).rev() {
        weight *= (x + 1) as f64 / (odds * (n - x) as f64);
        if weight < NEGLIGIBLE * largest {
            break;
        }
        at(x, weight);
    }
}

/// Successes among the first so many that pass.
#[derive(Debug, Clone)]
struct First {
    places: u64,
    pass: f64,
    /// P(missed) by how many pass, up to as many as there are places.
    missed: Vec<f64>,
    /// The same with every place taken.
    full: f64,
}

impl First {
    fn new(places: u64, want: u64, pass: f64, success: f64) -> Self {
        let mut missed = vec![0.0; places as usize + 1];
        add_one(want, success, 1.0, 0, &mut missed);
        Self {
            places,
            pass,
            full: binomial_tails(want, places, success).1,
            missed,
        }
    }

    /// The numbers that may pass lie within some twelve deviations of the mean, and each takes a division.
    fn work(&self) -> u64 {
        let near = 24.0 * (self.places as f64).sqrt();
        3 * self.places.min(near as u64) + ANCHOR
    }

    /// `sum_y P(y pass) P(missed | y places taken)`; more than there are places count as so many.
    fn after(&self, trials: u64) -> f64 {
        let mut more = 0.0;
        around(trials, self.pass, 0, self.places, |y, weight| {
            more += weight * (self.missed[y as usize] - self.full);
        });
        (self.full + more).min(1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn outcome(p: f64, counts_for: &[usize]) -> Outcome {
        Outcome {
            p,
            counts_for: counts_for.to_vec(),
        }
    }

    /// The walk from trial to trial is another way to the same number.
    #[test]
    fn kinds_apart_agree_with_the_walk() {
        let outcomes = [outcome(0.3, &[0]), outcome(0.05, &[1]), outcome(0.2, &[2])];
        for wants in [[3, 1, 2], [1, 4, 7], [20, 2, 1]] {
            let mut walk = Walk::to_all(&wants, &outcomes).unwrap();
            let mut apart = Missing::to_all(&wants, &outcomes).unwrap();
            for n in [0, 1, 5, 12, 40, 150, 400] {
                let (ours, theirs) = (apart.after(n), walk.miss(n as usize));
                assert!(
                    (ours - theirs).abs() < 1e-13,
                    "{wants:?} {n}: {ours} {theirs}"
                );
            }
        }
        // Two kinds that leave no rest.
        let all = [outcome(0.25, &[0]), outcome(0.75, &[1])];
        let mut apart = Missing::to_all(&[2, 3], &all).unwrap();
        let mut walk = Walk::to_all(&[2, 3], &all).unwrap();
        assert!((apart.after(18) - walk.miss(18)).abs() < 1e-14);
    }

    #[test]
    fn a_run_of_one_want_is_its_tails() {
        for (want, p) in [(1, 0.25), (3, 0.0625), (400, 0.5), (2, 1.0), (5, 0.999_999)] {
            let mut run = vec![0.0; 2_000];
            add_one(want, p, 1.0, 0, &mut run);
            for (u, miss) in run.iter().enumerate() {
                let tail = binomial_tails(want, u as u64, p).1;
                assert!((miss - tail).abs() < 1e-12, "{want} {p} {u}: {miss} {tail}");
            }
            let mut later = vec![0.0; 30];
            add_one(want, p, 0.5, 380, &mut later);
            assert!((later[7] - 0.5 * run[387]).abs() < 1e-12);
        }
    }

    /// Every trial one by one: it passes or not, and counts while there are places.
    #[test]
    fn the_first_that_pass_agree_with_every_number_that_passes() {
        let mut few = Missing::among_first(6, 2, 0.4, 0.3);
        let by_hand = |n: u64| -> f64 {
            let of = |y: u64| {
                let passes = ln_binomial(y, n, 0.4).exp();
                passes * binomial_tails(2, y.min(6), 0.3).1
            };
            (0..=n).map(of).sum()
        };
        for n in [0, 1, 4, 9, 25, 60] {
            assert!((few.after(n) - by_hand(n)).abs() < 1e-13, "{n}");
        }
        assert!((few.at_last() - binomial_tails(2, 6, 0.3).1).abs() < 1e-15);
        assert_eq!(Missing::among_first(6, 0, 0.4, 0.3).after(0), 0.0);
        assert_eq!(Missing::among_first(6, 1, 0.0, 0.3).at_last(), 1.0);
    }
}
