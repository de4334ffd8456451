//! How many trials to begin, where only some of them take place and not everything is known.
//!
//! Seeds are begun and plants take place, with a chance that is known or only known from counts; what a trial may turn
//! out as may be one of several things that hold for all trials together. The fewest that reach every want are then
//! searched for ([`Search`]). Knows neither seeds nor plants; the planning of sowings asks.

use super::logs::ln_beta;
use super::missing::Missing;
use super::power::TrialsNeeded;
use super::quadrature::gauss_jacobi_beta;
use super::reach::{Outcome, TooManyStates};
use super::search::{MOST_DIRECT, Search, TooLarge, Weighed};

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

    /// Values of the probability, each with its weight, by which means over it are taken.
    #[must_use]
    pub fn nodes(self, n: usize) -> Vec<(f64, f64)> {
        match self {
            Self::Known(p) => vec![(1.0, p)],
            Self::Counted { a, b } => {
                let rule = gauss_jacobi_beta(n, a, b);
                let weights = rule.ln_weights.iter().map(|ln| ln.exp());
                weights.zip(rule.nodes.iter().copied()).collect()
            }
        }
    }

    /// The weights of the numbers that take place of `n`, from the first that is not negligible on, those above `most` left
    /// out.
    ///
    /// By the ratio of neighbours, `w(u + 1)/w(u)` = `(n - u)/(u + 1)` times `p/(1 - p)`, or
    /// `(a + u)/(b + n - u - 1)` for the beta-binomial, outward from the largest; where some are left out the largest is
    /// worked out by itself.
    pub(super) fn spread(self, n: usize, most: usize) -> (usize, Vec<f64>) {
        let up = |u: usize| {
            let (x, left) = (u as f64, (n - u) as f64);
            match self {
                Self::Known(p) => left * p / ((x + 1.0) * (1.0 - p)),
                Self::Counted { a, b } => left * (a + x) / ((x + 1.0) * (b + left - 1.0)),
            }
        };
        if self == Self::Known(1.0) {
            return (n, vec![1.0]);
        }
        // The ratio falls through 1 at most once where the weights have one top; else the top is at an end.
        let most = most.min(n);
        let middle = top(n, &up).min(most);
        let mut above = vec![1.0];
        for u in middle..most {
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
        let scale = match most < n {
            true => self.ln_weight(middle, n).exp(),
            false => 1.0 / below.iter().sum::<f64>(),
        };
        below.iter_mut().for_each(|w| *w *= scale);
        (from, below)
    }

    /// `ln P(u of n take place)`.
    fn ln_weight(self, u: usize, n: usize) -> f64 {
        let (x, left) = (u as f64, (n - u) as f64);
        let ways = -((n + 1) as f64).ln() - ln_beta(x + 1.0, left + 1.0);
        ways + match self {
            Self::Known(p) => x * p.ln() + left * (-p).ln_1p(),
            Self::Counted { a, b } => ln_beta(a + x, b + left) - ln_beta(a, b),
        }
    }
}

/// Weights smaller than this part of the largest change no digit.
const NEGLIGIBLE: f64 = 1e-24;

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

/// What is to be reached of some wants, whichever of some cases is so.
///
/// # Errors
/// [`TooManyStates`].
pub fn search(begun: Begun, wants: &[u64], cases: &[Case]) -> Result<Search, TooManyStates> {
    // Trials that take place with a known chance are as well taken into the outcomes.
    let (taken, by) = match begun {
        Begun::Known(g) => (Begun::Known(1.0), g),
        counted => (counted, 1.0),
    };
    let part = |case: &Case| {
        Ok(Weighed {
            weight: case.weight,
            missing: Missing::to_all(wants, &case.thinned(by))?,
        })
    };
    let parts: Result<Vec<Weighed>, TooManyStates> = cases.iter().map(part).collect();
    Ok(Search::new(taken, parts?))
}

/// The fewest trials so that everything is reached, for each of some confidences.
///
/// # Errors
/// [`TooManyStates`].
pub fn fewest(
    begun: Begun,
    wants: &[u64],
    cases: &[Case],
    confidences: &[f64],
) -> Result<Vec<Result<Option<TrialsNeeded>, TooLarge>>, TooManyStates> {
    let mut search = search(begun, wants, cases)?;
    let likely = on_average(begun, wants, cases);
    let each = confidences.iter();
    Ok(each.map(|one| search.fewest(*one, likely)).collect())
}

/// The trials by which the slowest want is reached on average, of the likeliest case in which every want can be.
fn on_average(begun: Begun, wants: &[u64], cases: &[Case]) -> u64 {
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
    trials.fold(1.0, f64::max).min(MOST_DIRECT as f64) as u64
}

#[cfg(test)]
mod tests {
    use super::super::tails::binomial_tails;
    use super::*;

    fn outcome(p: f64, counts_for: &[usize]) -> Outcome {
        Outcome {
            p,
            counts_for: counts_for.to_vec(),
        }
    }

    fn one(begun: Begun, want: u64, p: f64) -> Search {
        let missing = Missing::to_all(&[want], &[outcome(p, &[0])]).unwrap();
        let alone = Weighed {
            weight: 1.0,
            missing,
        };
        Search::new(begun, vec![alone])
    }

    #[test]
    fn trials_begun_but_not_had_thin_the_rest() {
        let mut search = one(Begun::Known(0.8), 2, 0.25);
        for n in [1, 7, 60, 900] {
            let miss = binomial_tails(2, n, 0.8 * 0.25).1;
            let found = search.miss(n);
            assert!((found - miss).abs() < 1e-13, "{n}: {found} {miss}");
        }
    }

    /// A Beta with all its weight at one value is that value; a uniform one makes every number equally likely.
    #[test]
    fn counted_chances_are_beta_binomial() {
        let flat = Begun::Counted { a: 1.0, b: 1.0 }.spread(9, 9);
        assert!(flat.0 == 0 && flat.1.iter().all(|w| (w - 0.1).abs() < 1e-14));
        let valley = Begun::Counted { a: 0.5, b: 0.5 }.spread(40, 40);
        assert_eq!((valley.0, valley.1.len()), (0, 41));
        assert!((valley.1[0] - valley.1[40]).abs() < 1e-12 && valley.1[0] > valley.1[20]);
        // Where some are left out the others weigh what they did.
        let counts = Begun::Counted { a: 3.0, b: 14.0 };
        let (whole, part) = (counts.spread(900, 900), counts.spread(900, 60));
        assert_eq!((whole.0, part.0, part.1.len()), (0, 0, 61));
        let pairs = whole.1.iter().zip(&part.1);
        assert!(
            pairs
                .clone()
                .all(|(one, other)| (one - other).abs() < 1e-11 * one)
        );
        let mut sharp = one(Begun::Counted { a: 8e9, b: 2e9 }, 2, 0.25);
        let near = sharp.miss(60) - one(Begun::Known(0.8), 2, 0.25).miss(60);
        assert!(near.abs() < 1e-8, "{near}");
    }

    #[test]
    fn few_places_can_make_it_impossible() {
        // Two places: both must be successes, 1/16; no number of trials gives more.
        let first = |places: u64| {
            let alone = Weighed {
                weight: 1.0,
                missing: Missing::among_first(places, 2, 0.5, 0.25),
            };
            Search::new(Begun::Known(1.0), vec![alone])
        };
        let mut two = first(2);
        assert!((two.miss(200) - 15.0 / 16.0).abs() < 1e-12);
        assert_eq!(two.fewest(0.5, 1), Ok(None));
        // Places for all: as if there were no places.
        assert!((first(60).miss(60) - binomial_tails(2, 60, 0.125).1).abs() < 1e-14);
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
