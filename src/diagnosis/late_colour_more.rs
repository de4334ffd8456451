//! How many more control pots would settle when a late class shows, and when to look at them.
//!
//! By the expected information of a pot that is looked at three times; an approximation, said to be one. Knows no
//! batches; the fit calls it.

use std::f64::consts::TAU;

use crate::stats::logs::normal_cdf;
use crate::stats::tails::normal_quantile;

use super::looks::Onset;

/// The median is settled once its standard error is at most this share of it (design choice).
pub const MEDIAN_WITHIN: f64 = 0.15;

/// The same of the spread.
pub const SPREAD_WITHIN: f64 = 0.30;

/// Seedlings in the pot that is proposed.
pub const POT: i64 = 12;

/// By which shares of the seedlings the proposed pot is looked at.
const LOOKS: [f64; 3] = [0.25, 0.5, 0.8];

/// What would settle an onset.
#[derive(Debug, Clone, PartialEq)]
pub struct More {
    /// How many pots, about.
    pub pots: u64,
    /// How many seedlings in each.
    pub seedlings: i64,
    /// At which ages, in days from emergence, to look at them.
    pub ages: Vec<i64>,
}

/// What it takes until median and spread are settled, given the standard errors of their logs so far; nothing where
/// they are settled already.
#[must_use]
pub fn more(onset: &Onset, pace_spread: f64, known: [Option<f64>; 2]) -> Option<More> {
    let ages = ages_to_look(onset);
    let variances = pot_variances(onset, pace_spread, &ages);
    let wanted = [MEDIAN_WITHIN, SPREAD_WITHIN];
    let pots = (0..2).map(|at| {
        let have = known[at].map_or(0.0, |se| 1.0 / (se * se));
        ((1.0 / (wanted[at] * wanted[at]) - have) * variances[at]).max(0.0)
    });
    let pots = pots.fold(0.0, f64::max).ceil() as u64;
    (pots > 0).then_some(More {
        pots,
        seedlings: POT,
        ages,
    })
}

/// Whole days at which about a quarter, half and most of the seedlings show the class.
fn ages_to_look(onset: &Onset) -> Vec<i64> {
    let day = |p: &f64| (onset.median_days.ln() + onset.spread * normal_quantile(*p)).exp();
    let mut ages: Vec<i64> = Vec::new();
    for share in &LOOKS {
        let at = (day(share).round() as i64).max(1);
        ages.push(ages.last().map_or(at, |last| at.max(last + 1)));
    }
    ages
}

/// Variances of the logs of median and spread that one pot gives: within the pot by the inverse of the expected
/// information, and for the median the pace of the whole pot on top.
fn pot_variances(onset: &Onset, pace_spread: f64, ages: &[i64]) -> [f64; 2] {
    let mut by = vec![(0.0, 0.0, 0.0)];
    for age in ages {
        let z = ((*age as f64).ln() - onset.median_days.ln()) / onset.spread;
        let density = onset.ceiling * (-0.5 * z * z).exp() / TAU.sqrt();
        by.push((
            onset.ceiling * normal_cdf(z),
            -density / onset.spread,
            -density * z,
        ));
    }
    by.push((1.0, 0.0, 0.0));
    let (mut mm, mut ms, mut ss) = (0.0, 0.0, 0.0);
    for pair in by.windows(2) {
        let p = pair[1].0 - pair[0].0;
        if p > 0.0 {
            let (m, s) = (pair[1].1 - pair[0].1, pair[1].2 - pair[0].2);
            mm += POT as f64 * m * m / p;
            ms += POT as f64 * m * s / p;
            ss += POT as f64 * s * s / p;
        }
    }
    let whole = mm * ss - ms * ms;
    [ss / whole + pace_spread * pace_spread, mm / whole]
}

#[cfg(test)]
mod tests {
    use super::*;

    const FOLIAGE: Onset = Onset {
        median_days: 12.0,
        spread: 0.35,
        ceiling: 0.9999,
    };

    #[test]
    fn the_less_is_known_the_more_pots() {
        let none = more(&FOLIAGE, 0.25, [None, None]).expect("nothing is known");
        let some = more(&FOLIAGE, 0.25, [Some(0.2), Some(0.3)]).expect("not yet settled");
        assert!(none.pots > some.pots && some.pots > 0, "{none:?} {some:?}");
        assert_eq!(none.ages, [9, 12, 16]);
        assert_eq!(more(&FOLIAGE, 0.25, [Some(0.1), Some(0.2)]), None);
    }

    #[test]
    fn without_a_pace_of_its_own_a_pot_tells_more_of_the_median_and_as_much_of_the_spread() {
        let ages = ages_to_look(&FOLIAGE);
        let (with, without) = (
            pot_variances(&FOLIAGE, 0.25, &ages),
            pot_variances(&FOLIAGE, 0.0, &ages),
        );
        assert!((with[0] - without[0] - 0.0625).abs() < 1e-12);
        assert_eq!(with[1], without[1]);
        // With the age at onset itself seen, the variance of the log median would be spread^2/n.
        assert!(without[0] > 0.35 * 0.35 / 12.0, "{without:?}");
    }
}
