//! How many trials to begin, where only some of them take place and not everything is known.
//!
//! Seeds are begun and plants take place, with a chance that is known or only known from counts; what a trial may turn
//! out as may be one of several things that hold for all trials together. The fewest that reach every want are found by
//! going on in growing steps, and bisection. Knows neither seeds nor plants; the planning of sowings asks.

use super::crossing::crossing;
use super::power::{TrialsNeeded, smallest_n};
use super::reach::{Outcome, TooManyStates, Walk};

/// Most additions that one search makes, by which an answer takes about half a second.
const MOST_WORK: u64 = 400_000_000;

/// A chance of missing equal to the allowed one but for rounding is allowed.
const ROUNDING: f64 = 1e-12;

/// How many of the trials that are begun take place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Begun {
    /// Each with this probability.
    Known(f64),
    /// Each with one probability that is itself Beta(a, b): the number is beta-binomial.
    Counted {
        /// First number, above 0.
        a: f64,
        /// Second number, above 0.
        b: f64,
    },
}

impl Begun {
    /// The mean probability.
    #[must_use]
    pub fn mean(self) -> f64 {
        match self {
            Self::Known(p) => p,
            Self::Counted { a, b } => a / (a + b),
        }
    }

    /// P(not everything is reached) with `n` trials begun: `sum_u P(u take place) miss(u)`.
    pub fn miss(self, n: usize, walk: &mut Walk) -> f64 {
        let (from, weights) = self.spread(n);
        let terms = weights.iter().enumerate();
        terms.map(|(at, w)| w * walk.miss(from + at)).sum()
    }

    /// The weights of the numbers that take place of `n`, from the first that is not negligible on.
    ///
    /// By the ratio of neighbours, `w(u + 1)/w(u)` = `(n - u)/(u + 1)` times `p/(1 - p)`, or
    /// `(a + u)/(b + n - u - 1)` for the beta-binomial, outward from the largest.
    fn spread(self, n: usize) -> (usize, Vec<f64>) {
        let up = |u: usize| {
            let (x, left) = (u as f64, (n - u) as f64);
            let odds = match self {
                Self::Known(p) => p / (1.0 - p),
                Self::Counted { a, b } => (a + x) / (b + left - 1.0),
            };
            left / (x + 1.0) * odds
        };
        if self == Self::Known(1.0) {
            return (n, vec![1.0]);
        }
        // The ratio falls through 1 at most once where the weights have one top; else the top is at an end.
        let middle = top(n, &up);
        let mut above = vec![1.0];
        for u in middle..n {
            let next = above[above.len() - 1] * up(u);
            if next < NEGLIGIBLE {
                break;
            }
            above.push(next);
        }
        let mut below = Vec::new();
        let mut last = 1.0;
        for u in (0..middle).rev() {
            last /= up(u);
            if last < NEGLIGIBLE {
                break;
            }
            below.push(last);
        }
        let from = middle - below.len();
        below.reverse();
        below.extend(above);
        let total: f64 = below.iter().sum();
        (from, below.iter().map(|w| w / total).collect())
    }
}

/// Weights smaller than this part of the largest change no digit.
const NEGLIGIBLE: f64 = 1e-30;

/// The number with the largest weight, given the ratio of each number's weight to the one before.
fn top(n: usize, up: &impl Fn(usize) -> f64) -> usize {
    if n == 0 {
        return 0;
    }
    // Weights that rise from the first and fall to the last have one top; those that rise at the last end there,
    // and those that fall at the first and rise at the last have a top at either end.
    let (rises, falls) = (up(0) > 1.0, up(n - 1) < 1.0);
    match (rises, falls) {
        (true, true) => {
            let (mut low, mut high) = (0, n - 1);
            while high - low > 1 {
                let middle = low + (high - low) / 2;
                if up(middle) > 1.0 {
                    low = middle
                } else {
                    high = middle
                }
            }
            high
        }
        (true, false) => n,
        (false, _) => 0,
    }
}

/// One of several things that may be so throughout, with its walk; the weights add up to 1.
#[derive(Debug, Clone)]
pub struct Weighed {
    /// How likely it is so.
    pub weight: f64,
    /// The walk where it is.
    pub walk: Walk,
}

/// P(not everything is reached) with `n` trials begun, whichever of several is so.
pub fn miss_of(begun: Begun, weighed: &mut [Weighed], n: usize) -> f64 {
    let one = |one: &mut Weighed| one.weight * begun.miss(n, &mut one.walk);
    weighed.iter_mut().map(one).sum()
}

/// Why the fewest trials are not worked out.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum TooLarge {
    /// Too many states.
    #[error(transparent)]
    States(#[from] TooManyStates),
    /// Too many additions before the number is found.
    #[error(
        "too large to work out: {trials} trials or more would be needed, and each takes {work} additions; up to {} million are made in all",
        MOST_WORK / 1_000_000
    )]
    Work {
        /// By so many trials the slowest want is reached on average, or with so many not all are.
        trials: u64,
        /// Additions that each takes.
        work: u64,
    },
}

/// The fewest trials to begin so that everything is reached with a confidence; nothing where none of up to 131,072
/// trials would do.
///
/// The walk goes on from the number by which the slowest want is reached on average, in steps of an eighth, so that it
/// goes little beyond the number sought; then by bisection.
///
/// # Errors
/// [`TooLarge::Work`] where that would take more than 400 million additions, at once where that number does.
pub fn fewest_begun(
    begun: Begun,
    weighed: &mut [Weighed],
    confidence: f64,
    likely: usize,
) -> Result<Option<TrialsNeeded>, TooLarge> {
    let allowed = (1.0 - confidence) * (1.0 + ROUNDING);
    let work: u64 = weighed.iter().map(|one| one.walk.work()).sum();
    let affordable = (MOST_WORK / work.max(1)) as usize;
    let most = affordable.min(MOST_TRIALS);
    if likely > affordable {
        let trials = likely as u64;
        return Err(TooLarge::Work { trials, work });
    }
    let (mut short, mut n) = (None, likely.min(most));
    while miss_of(begun, weighed, n) > allowed {
        short = Some(n);
        if n >= most {
            return match most < MOST_TRIALS {
                true => Err(TooLarge::Work {
                    trials: n as u64,
                    work,
                }),
                false => Ok(None),
            };
        }
        n = (n + n / 8 + 1).min(most);
    }
    // The fewest lies above what falls short, or at 0.
    let short = match short {
        Some(short) => short,
        None if miss_of(begun, weighed, 0) <= allowed => {
            n = 0;
            0
        }
        None => 0,
    };
    let is_enough = |n: u64| miss_of(begun, weighed, n as usize) <= allowed;
    let n = crossing(short as u64, n as u64, is_enough) as usize;
    Ok(Some(TrialsNeeded {
        n: n as u64,
        probability: 1.0 - miss_of(begun, weighed, n),
    }))
}

/// Most trials that are looked for one by one.
const MOST_TRIALS: usize = 1 << 17;

/// What a trial may turn out as if one of several things is so throughout; the weights add up to 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// How likely it is so.
    pub weight: f64,
    /// The outcomes where it is.
    pub outcomes: Vec<Outcome>,
}

impl Case {
    /// Whether every want can be reached.
    #[must_use]
    pub fn can_reach(&self, wants: &[u64]) -> bool {
        let comes = |want: usize| {
            let mut outcomes = self.outcomes.iter();
            outcomes.any(|one| one.p > 0.0 && one.counts_for.contains(&want))
        };
        (0..wants.len()).all(comes)
    }

    fn thinned(&self, by: f64) -> Vec<Outcome> {
        let outcomes = self.outcomes.iter().map(|one| Outcome {
            p: by * one.p,
            ..one.clone()
        });
        outcomes.collect()
    }
}

/// The fewest trials so that everything is reached, for each of some confidences by one walk: of one want in one case by
/// [`smallest_n`], which has no upper bound to speak of, else by [`fewest_begun`].
///
/// # Errors
/// [`TooManyStates`].
pub fn fewest(
    begun: Begun,
    wants: &[u64],
    cases: &[Case],
    confidences: &[f64],
) -> Result<Vec<Result<Option<TrialsNeeded>, TooLarge>>, TooManyStates> {
    if let (Begun::Known(g), [want], [case]) = (begun, wants, cases) {
        let hits = case
            .outcomes
            .iter()
            .filter(|one| !one.counts_for.is_empty());
        let p: f64 = hits.map(|one| one.p).sum();
        let of = |confidence: &f64| Ok(smallest_n(*want, (g * p).min(1.0), *confidence));
        return Ok(confidences.iter().map(of).collect());
    }
    // Trials that take place with a known chance are as well taken into the outcomes.
    let (taken, by) = match begun {
        Begun::Known(g) => (Begun::Known(1.0), g),
        counted => (counted, 1.0),
    };
    let walk = |case: &Case| {
        Ok(Weighed {
            weight: case.weight,
            walk: Walk::to_all(wants, &case.thinned(by))?,
        })
    };
    let walks: Result<Vec<Weighed>, TooManyStates> = cases.iter().map(walk).collect();
    let mut weighed = walks?;
    let likely = on_average(begun, wants, cases);
    let each = confidences.iter();
    let of = |confidence: &f64| fewest_begun(taken, &mut weighed, *confidence, likely);
    Ok(each.map(of).collect())
}

/// The trials by which the slowest want is reached on average, of the likeliest case in which every want can be.
fn on_average(begun: Begun, wants: &[u64], cases: &[Case]) -> usize {
    let open = cases.iter().filter(|case| case.can_reach(wants));
    let likeliest = open.max_by(|one, other| one.weight.total_cmp(&other.weight));
    let Some(case) = likeliest else {
        return 1;
    };
    let trials = wants.iter().enumerate().map(|(at, want)| {
        let mut outcomes = case.outcomes.iter();
        let p: f64 = outcomes
            .by_ref()
            .filter(|one| one.counts_for.contains(&at))
            .map(|one| one.p)
            .sum();
        *want as f64 / (begun.mean() * p)
    });
    trials.fold(1.0, f64::max).min(MOST_TRIALS as f64) as usize
}

#[cfg(test)]
mod tests {
    use super::super::reach::Outcome;
    use super::super::tails::binomial_tails;
    use super::*;

    fn outcome(p: f64, counts_for: &[usize]) -> Outcome {
        Outcome {
            p,
            counts_for: counts_for.to_vec(),
        }
    }

    #[test]
    fn trials_begun_but_not_had_thin_the_rest() {
        let outcomes = [outcome(0.25, &[0])];
        let mut walk = Walk::to_all(&[2], &outcomes).unwrap();
        for n in [1, 7, 60] {
            let miss = binomial_tails(2, n, 0.8 * 0.25).1;
            let found = Begun::Known(0.8).miss(n as usize, &mut walk);
            assert!((found - miss).abs() < 1e-13, "{n}: {found} {miss}");
        }
    }

    /// A Beta with all its weight at one value is that value; a uniform one makes every number equally likely.
    #[test]
    fn counted_chances_are_beta_binomial() {
        let flat = Begun::Counted { a: 1.0, b: 1.0 }.spread(9);
        assert!(flat.0 == 0 && flat.1.iter().all(|w| (w - 0.1).abs() < 1e-14));
        let valley = Begun::Counted { a: 0.5, b: 0.5 }.spread(40);
        assert_eq!((valley.0, valley.1.len()), (0, 41));
        assert!((valley.1[0] - valley.1[40]).abs() < 1e-12 && valley.1[0] > valley.1[20]);
        let sharp = Begun::Counted { a: 8e9, b: 2e9 };
        let mut walk = Walk::to_all(&[2], &[outcome(0.25, &[0])]).unwrap();
        let near = sharp.miss(60, &mut walk) - Begun::Known(0.8).miss(60, &mut walk);
        assert!(near.abs() < 1e-8, "{near}");
    }

    #[test]
    fn few_places_can_make_it_impossible() {
        // Two places: both must be successes, 1/16; no number of trials gives more.
        let mut walk = Walk::among_first(2, 2, 0.5, 0.25).unwrap();
        assert!((walk.miss(200) - 15.0 / 16.0).abs() < 1e-12);
        let mut alone = [Weighed { weight: 1.0, walk }];
        let none = fewest_begun(Begun::Known(1.0), &mut alone, 0.5, 1);
        assert_eq!(none, Ok(None));
        // Places for all: as if there were no places.
        let mut wide = Walk::among_first(60, 2, 0.5, 0.25).unwrap();
        assert!((wide.miss(60) - binomial_tails(2, 60, 0.125).1).abs() < 1e-14);
    }

    #[test]
    fn nothing_wanted_needs_nothing() {
        let case = Case {
            weight: 1.0,
            outcomes: Vec::new(),
        };
        let none = fewest(Begun::Counted { a: 2.0, b: 1.0 }, &[0], &[case], &[0.9]).unwrap();
        assert_eq!(
            none[0],
            Ok(Some(TrialsNeeded {
                n: 0,
                probability: 1.0
            }))
        );
    }

    /// All trials share what is so: of two cases the chances are mixed, not the probabilities of one trial.
    #[test]
    fn cases_hold_for_all_trials_together() {
        let case = |weight, p| Case {
            weight,
            outcomes: vec![outcome(p, &[0])],
        };
        let cases = [case(0.5, 0.25), case(0.5, 0.5)];
        let found = fewest(Begun::Known(1.0), &[1], &cases, &[0.9]).unwrap()[0]
            .unwrap()
            .unwrap();
        // (3/4)^7 + (1/2)^7 = 0.1413 is under 0.2, (3/4)^6 + (1/2)^6 = 0.1936 too, (3/4)^5 + (1/2)^5 = 0.2686 is not.
        assert_eq!(found.n, 6);
        let misses = 0.5 * (0.75_f64.powi(6) + 0.5_f64.powi(6));
        assert!((found.probability - (1.0 - misses)).abs() < 1e-14);
        assert!(!case(0.5, 0.0).can_reach(&[1]) && cases[0].can_reach(&[1]));
        let hopeless = [case(0.5, 0.25), case(0.5, 0.0)];
        assert_eq!(
            fewest(Begun::Known(1.0), &[1], &hopeless, &[0.9]),
            Ok(vec![Ok(None)])
        );
    }
}
