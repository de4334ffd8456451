//! How many more plants would tell two ratios apart?
//!
//! Each plant shifts the weight between the two by its class's log-likelihood ratio (Wald 1947, Sequential
//! Analysis, from memory); the distribution of the sum over plants is exact where it can be added up in
//! reasonable time, and normal beyond. Knows ratios as weights only. Asked where rival ratios or gene models
//! were weighed.

use super::logs::ln_binomial;
use super::tails::{binomial_tails, normal_quantile};

/// What the number of plants must reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    /// The true one of the two must weigh at least this share of the two together.
    pub weight: f64,
    /// It must do so with at least this chance, whichever of the two is true.
    pub chance: f64,
}

/// How many more plants tell two ratios apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MorePlants {
    /// How many more.
    pub more: u64,
    /// The smaller of the two chances with that many; nothing where it was not added up.
    pub chance: Option<f64>,
}

/// Most terms added up before the normal approximation takes over.
const MOST_TERMS: u64 = 3_000_000;

/// Sums of logs that miss what is needed by less have reached it.
const ROUNDING: f64 = 1e-9;

/// The fewest further plants after which the true one of two ratios weighs at least `wanted.weight` of the
/// two together with a chance of at least `wanted.chance`, whichever is true; `odds` are the weights of the
/// first over the second as they stand. 0 where one of the two outweighs the other so far already; `None`
/// where the two give the same shares.
///
/// With `l_i = ln(p_i/q_i)`, `n` plants with counts `x` leave the log odds `ln odds + sum x_i l_i`; needed are
/// `P(ln odds + sum x_i l_i >= T | p) >= chance` and `P(ln odds + sum x_i l_i <= -T | q) >= chance`,
/// `T = ln(weight/(1 - weight))`. Exact: `n` rises from 1, and the multinomial is added up class by class,
/// the last two classes as one binomial tail. Beyond three million terms the sum is taken as normal with
/// `n` times the mean and variance of `l`: `n mu - z sigma sqrt(n) = T - ln odds` solved for `n`, a class that
/// only one of the two gives being waited for instead, `1 - (1 - p)^n >= chance`.
///
/// # Panics
/// If the two have different numbers of classes, or a weight is negative.
#[must_use]
pub fn more_to_tell(one: &[f64], other: &[f64], odds: f64, wanted: Wanted) -> Option<MorePlants> {
    assert_eq!(one.len(), other.len(), "two ratios of the same classes");
    let needed = (wanted.weight / (1.0 - wanted.weight)).ln();
    let ahead = odds.ln();
    if ahead.abs() + ROUNDING >= needed {
        return Some(MorePlants {
            more: 0,
            chance: Some(1.0),
        });
    }
    let (for_one, for_other) = (Steps::new(one, other), Steps::new(other, one));
    if for_one.is_level() {
        return None;
    }
    let needs = [(&for_one, needed - ahead), (&for_other, needed + ahead)];
    let mut terms = 0_u64;
    for n in 1.. {
        terms = terms.saturating_add(for_one.terms(n).saturating_add(for_other.terms(n)));
        if terms > MOST_TERMS {
            break;
        }
        let reached = |(steps, need): &(&Steps, f64)| steps.reach(n, *need);
        let chance = needs.iter().map(reached).fold(1.0, f64::min);
        if chance >= wanted.chance {
            return Some(MorePlants {
                more: n,
                chance: Some(chance),
            });
        }
    }
    let plants = |(steps, need): &(&Steps, f64)| steps.about(*need, wanted.chance);
    let more = needs.iter().map(plants).fold(0.0, f64::max);
    Some(MorePlants {
        more: more.ceil() as u64,
        chance: None,
    })
}

/// What one more plant adds to the log odds of a ratio over its rival, if the ratio is true.
#[derive(Debug, Clone, PartialEq)]
struct Steps {
    /// Of each class that the rival can give: the log of the likelihood ratio and the probability, classes of
    /// one log together.
    steps: Vec<(f64, f64)>,
    /// The probability of a class that the rival cannot give.
    proof: f64,
}

impl Steps {
    fn new(truth: &[f64], rival: &[f64]) -> Self {
        let (all, rival_all): (f64, f64) = (truth.iter().sum(), rival.iter().sum());
        let mut found = Self {
            steps: Vec::new(),
            proof: 0.0,
        };
        for (p, q) in truth.iter().zip(rival) {
            let (p, q) = (p / all, q / rival_all);
            if p <= 0.0 {
                continue;
            }
            if q <= 0.0 {
                found.proof += p;
                continue;
            }
            let log = (p / q).ln();
            let alike = found
                .steps
                .iter_mut()
                .find(|(known, _)| (known - log).abs() < 1e-12);
            match alike {
                Some((_, sum)) => *sum += p,
                None => found.steps.push((log, p)),
            }
        }
        found
    }

    fn is_level(&self) -> bool {
        self.proof == 0.0 && self.steps.iter().all(|(log, _)| log.abs() < 1e-12)
    }

    /// How many terms [`Steps::reach`] adds up, roughly: the ways to spread `n` plants over all classes but
    /// two, each with a tail of about the square root of `n` terms.
    fn terms(&self, n: u64) -> u64 {
        let free = self.steps.len().saturating_sub(2) as u64;
        let ways = (1..=free).fold(1_u64, |ways, i| ways.saturating_mul(n + i) / i);
        ways.saturating_mul(n.isqrt() + 1)
    }

    /// P(`n` plants add at least `need`).
    fn reach(&self, n: u64, need: f64) -> f64 {
        let without = (1.0 - self.proof).powf(n as f64);
        if without == 0.0 {
            return 1.0;
        }
        1.0 - without * (1.0 - at_least(&self.steps, n, need - ROUNDING))
    }

    /// How many plants add at least `need` with a chance, by the normal approximation.
    fn about(&self, need: f64, chance: f64) -> f64 {
        if self.proof > 0.0 {
            return (1.0 - chance).ln() / (-self.proof).ln_1p();
        }
        let mean: f64 = self.steps.iter().map(|(log, p)| log * p).sum();
        let square: f64 = self
            .steps
            .iter()
            .map(|(log, p)| (log - mean).powi(2) * p)
            .sum();
        let pull = normal_quantile(chance) * square.sqrt();
        let root = (pull + (pull * pull + 4.0 * mean * need).sqrt()) / (2.0 * mean);
        root * root
    }
}

/// P(the logs of `n` plants, each of these classes by their probabilities, add up to at least `need`).
fn at_least(steps: &[(f64, f64)], n: u64, need: f64) -> f64 {
    let all: f64 = steps.iter().map(|(_, p)| p).sum();
    match steps {
        [] => f64::from(u8::from(need <= 0.0)),
        [(log, _)] => f64::from(u8::from(n as f64 * log >= need)),
        [(first, p), (second, _)] => {
            // The sum rises by first - second with every plant moved to the first class.
            let (rise, share) = (first - second, p / all);
            let turn = (need - n as f64 * second) / rise;
            if rise > 0.0 {
                binomial_tails(count(turn.ceil(), n), n, share).0
            } else {
                binomial_tails(count(turn.floor() + 1.0, n), n, share).1
            }
        }
        [(log, p), rest @ ..] => {
            let share = p / all;
            let here = |x: u64| {
                ln_binomial(x, n, share).exp() * at_least(rest, n - x, need - x as f64 * log)
            };
            (0..=n).map(here).sum()
        }
    }
}

/// A number of plants, held to 0 and one more than there are.
fn count(number: f64, n: u64) -> u64 {
    number.clamp(0.0, n as f64 + 1.0) as u64
}
