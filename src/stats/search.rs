//! The search for the fewest trials to begin, whichever of several things is so throughout.
//!
//! By growing steps, lines and halving, where that many sums can be made; it says so where they cannot. Knows neither seeds
//! nor plants; the planning of sowings asks.

use super::begun::Begun;
use super::crossing::crossing;
use super::missing::Missing;
use super::power::TrialsNeeded;
use super::reach::TooManyStates;

/// Most additions that one search makes, by which an answer takes about half a second.
const MOST_WORK: u64 = 250_000_000;

/// A chance of missing equal to the allowed one but for rounding is allowed.
const ROUNDING: f64 = 1e-12;

/// One of several things that may be so throughout; the weights add up to 1.
#[derive(Debug, Clone)]
pub struct Weighed {
    /// How likely it is so.
    pub weight: f64,
    /// How likely something is missed where it is.
    pub missing: Missing,
}

/// Trials to begin, whichever of several things is so throughout.
#[derive(Debug, Clone)]
pub struct Search {
    begun: Begun,
    parts: Vec<Weighed>,
    /// P(missed) after 0, 1, 2... trials that took place, less what stays missed however many there are.
    table: Vec<f64>,
    /// What stays missed.
    at_last: f64,
    /// Whether the table goes on to where nothing more changes.
    is_whole: bool,
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
        /// So many trials are not enough.
        trials: u64,
        /// Additions that each takes.
        work: u64,
    },
}

impl Search {
    /// Of things that may be so; the trials take place as `begun` says.
    #[must_use]
    pub fn new(begun: Begun, parts: Vec<Weighed>) -> Self {
        let last = |one: &Weighed| one.weight * one.missing.at_last();
        Self {
            at_last: parts.iter().map(last).sum(),
            begun,
            parts,
            table: Vec::new(),
            is_whole: false,
        }
    }

    /// P(not everything is reached) however many trials are begun.
    #[must_use]
    pub const fn at_last(&self) -> f64 {
        self.at_last
    }

    /// P(not everything is reached) with `n` trials begun: `sum_u P(u take place) P(missed | u)`.
    pub fn miss(&mut self, n: u64) -> f64 {
        if self.begun == Begun::Known(1.0) {
            let of = |one: &mut Weighed| one.weight * one.missing.after(n);
            return self.parts.iter_mut().map(of).sum();
        }
        self.fill(n as usize);
        let most = self.table.len() - 1;
        let (from, weights) = self.begun.spread(n as usize, most);
        let terms = weights.iter().zip(self.table.iter().skip(from));
        self.at_last + terms.map(|(w, miss)| w * miss).sum::<f64>()
    }

    /// The same where it can be told by no more additions than are made in one search.
    pub fn miss_if_told(&mut self, n: u64) -> Option<f64> {
        let (work, most) = self.bounds();
        (n <= most && (self.begun == Begun::Known(1.0) || work.saturating_mul(n) <= MOST_WORK))
            .then(|| self.miss(n))
    }

    /// Carries the table on to a number of trials, or to where nothing more changes.
    fn fill(&mut self, n: usize) {
        while !self.is_whole && self.table.len() <= n {
            let from = self.table.len();
            let more = (from / 2 + 64).min(n + 1 - from);
            let mut sums = vec![0.0; more];
            self.is_whole = true;
            for one in &mut self.parts {
                let is_done = one.missing.add(one.weight, from, &mut sums);
                self.is_whole &= is_done;
            }
            self.table.extend(sums);
        }
    }

    /// Additions that a further trial takes, and most trials for which they are made.
    fn bounds(&self) -> (u64, u64) {
        let work: u64 = self.parts.iter().map(|one| one.missing.work()).sum();
        let is_direct = self.parts.iter().all(|one| one.missing.is_direct());
        match self.begun == Begun::Known(1.0) && is_direct {
            // Each number is asked about by itself.
            true => (work, MOST_DIRECT),
            false => (work, (MOST_WORK / work.max(1)).min(MOST_TRIALS)),
        }
    }

    /// The fewest trials to begin so that everything is reached with a confidence, looked for from `likely` on; nothing
    /// where no number that is looked at would do: up to 131,072 where trials are gone through one by one.
    ///
    /// # Errors
    /// [`TooLarge::Work`] where that would take more than 250 million additions.
    pub fn fewest(
        &mut self,
        confidence: f64,
        likely: u64,
    ) -> Result<Option<TrialsNeeded>, TooLarge> {
        let allowed = (1.0 - confidence) * (1.0 + ROUNDING);
        if self.at_last > allowed {
            return Ok(None);
        }
        let (work, most) = self.bounds();
        let too_large = |trials: u64| TooLarge::Work { trials, work };
        if likely > most && most < MOST_TRIALS {
            return Err(too_large(likely));
        }
        let (mut short, mut n) = (None, likely.min(most));
        while self.miss(n) > allowed {
            short = Some(n);
            if n >= most {
                return match most < MOST_TRIALS {
                    true => Err(too_large(n)),
                    false => Ok(None),
                };
            }
            n = (n + n / 4 + 1).min(most);
        }
        // The fewest lies above what falls short, or at 0.
        let short = match short {
            Some(short) => short,
            None if self.miss(0) <= allowed => {
                n = 0;
                0
            }
            None => 0,
        };
        let n = self.first_enough(short, n, allowed);
        Ok(Some(TrialsNeeded {
            n,
            probability: 1.0 - self.miss(n),
        }))
    }

    /// The first number that is enough, between one that is not and one that is. The logarithm of the chance of missing
    /// falls nearly along a line, so that a number a little to either side of where that meets the allowed one narrows it
    /// far more than halving does.
    fn first_enough(&mut self, mut short: u64, mut enough: u64, allowed: f64) -> u64 {
        let ln = |miss: f64| miss.max(f64::MIN_POSITIVE).ln();
        let mut ends = [self.miss(short), self.miss(enough)].map(ln);
        for _ in 0..LINES {
            let width = enough - short;
            let part = (ends[0] - ln(allowed)) / (ends[0] - ends[1]);
            if width < FEW || !(0.0..=1.0).contains(&part) {
                break;
            }
            let meets = short + (width as f64 * part) as u64;
            for n in [meets.saturating_sub(width / 32), meets + width / 32 + 1] {
                if n <= short || n >= enough {
                    continue;
                }
                let miss = self.miss(n);
                match miss <= allowed {
                    true => (enough, ends[1]) = (n, ln(miss)),
                    false => (short, ends[0]) = (n, ln(miss)),
                }
            }
        }
        crossing(short, enough, |n| self.miss(n) <= allowed)
    }
}

/// So many times a line is drawn.
const LINES: usize = 3;

/// Numbers few enough to be halved.
const FEW: u64 = 16;

/// Most trials that are gone through one by one.
const MOST_TRIALS: u64 = 1 << 17;

/// Most trials where each number can be asked about by itself.
pub(super) const MOST_DIRECT: u64 = 1 << 50;
