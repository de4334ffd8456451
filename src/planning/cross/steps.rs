//! What goes before the last generation of a plan and after it: the seed of the F1, and the test of which plant breeds
//! true.
//!
//! Worked out for the plans that are shown. Names of plants are not known here.

use std::collections::{BTreeMap, HashMap};

use super::Plan;
use super::enough::{Spread, fewest, gathered, times};
use super::field::{Field, Part};
use super::seed::{Scheme, shares};
use super::stock::Flock;
use crate::diagnosis::group::Side;
use crate::stats::begun::Begun;
use crate::stats::power::TrialsNeeded;

/// Most seeds of each plant in a test.
const MOST_TESTED: u32 = 5_000;

/// A share nearer to 1 than this is all.
const ROUNDING: f64 = 1e-9;

/// How seed of a plan does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sprouting {
    /// How much of the seed of the F1 comes up.
    pub first: Begun,
    /// How much of that of the last generation.
    pub last: Begun,
    /// How much of seed crossed by hand is of the label.
    pub true_share: f64,
}

/// The test of which plants breed true, each by its selfed seed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Test {
    /// Plants of the last generation that look as wanted, on average.
    pub plants: f64,
    /// Seeds of each to sow.
    pub seeds_each: u64,
    /// Of those plants that split, the share that shows it.
    pub told: f64,
}

/// What goes before and after.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Steps {
    /// Seeds of the F1, so that one plant at least is up that leads to what is wanted; nothing of a plan without an F1
    /// before its last generation, or where no number is enough.
    pub hybrid: Option<TrialsNeeded>,
    /// The test; nothing where all that look as wanted are, or no test that is looked at tells.
    pub test: Option<Test>,
}

impl Field {
    /// What goes before and after a plan of two flocks.
    pub(super) fn steps(&self, plan: &Plan, pair: [&Flock; 2], confidence: f64) -> Steps {
        let (scheme, sprouting) = (plan.scheme, plan.sprouting);
        let leads = || {
            let spread = self.leading(scheme, pair);
            fewest(&spread, sprouting.first, sprouting.true_share, confidence)
        };
        let hybrid = (scheme.seasons() > 1).then(leads).flatten();
        let test = |need: TrialsNeeded| self.test(scheme, pair, need.n, sprouting, confidence);
        Steps {
            hybrid,
            test: plan.need.and_then(test),
        }
    }

    /// The share of F1 plants whose seed can be as wanted, over those parents of which any can.
    fn leading(&self, scheme: Scheme, [she, he]: [&Flock; 2]) -> Spread {
        let mut spread: Spread = vec![(1.0, 1.0)];
        for (part, mixtures) in self.parts.iter().zip(she.may_be.iter().zip(&he.may_be)) {
            let mut known = HashMap::new();
            let mut own = Spread::new();
            for (mother, p) in mixtures.0 {
                for (father, q) in mixtures.1 {
                    let hybrids = part.space.joint(&shares(part, *mother, *father)[1]);
                    let back = match scheme {
                        Scheme::BackToMother | Scheme::OntoMother => Some(*mother),
                        Scheme::BackToFather => Some(*father),
                        _ => None,
                    };
                    let born = hybrids
                        .iter()
                        .enumerate()
                        .filter(|(_, share)| **share > 0.0);
                    let leads = born.filter(|(hybrid, _)| {
                        *(known.entry((*hybrid, back)))
                            .or_insert_with(|| part.gives(scheme, *hybrid, back, she.is_sterile))
                    });
                    own.push((leads.map(|(_, share)| share).sum(), p * q));
                }
            }
            spread = times(&spread, &gathered(own));
        }
        spread.retain(|(share, _)| *share > 0.0);
        let all: f64 = spread.iter().map(|(_, weight)| weight).sum();
        spread.iter_mut().for_each(|(_, weight)| *weight /= all);
        spread
    }

    /// Self each plant that looks as wanted: the fewest seeds of each with which, of those that split, the confidence
    /// shows it, `sum w (1 - g (1 - r))^n <= (1 - confidence) sum w`, r being the share of its selfed seed that looks as
    /// wanted.
    fn test(
        &self,
        scheme: Scheme,
        pair: [&Flock; 2],
        seeds: u64,
        sprouting: Sprouting,
        confidence: f64,
    ) -> Option<Test> {
        let spread = self.looking(scheme, pair);
        let splits = spread.iter().filter(|(alike, _)| *alike < 1.0 - ROUNDING);
        let splits: Vec<(f64, f64)> = splits.copied().collect();
        let all: f64 = splits.iter().map(|(_, weight)| weight).sum();
        if all <= ROUNDING {
            return None;
        }
        let g = sprouting.last.mean();
        let missed = |n: u32| -> f64 {
            let of = |(alike, weight): &(f64, f64)| {
                weight * (1.0 - g * (1.0 - alike)).powf(f64::from(n))
            };
            splits.iter().map(of).sum::<f64>() / all
        };
        let allowed = (1.0 - confidence) * (1.0 + ROUNDING);
        let n = (1..=MOST_TESTED).find(|n| missed(*n) <= allowed)?;
        let comes = match scheme.is_crossed() {
            true => g * sprouting.true_share,
            false => g,
        };
        let looks: f64 = spread.iter().map(|(_, weight)| weight).sum();
        Some(Test {
            plants: seeds as f64 * comes * looks,
            seeds_each: n.into(),
            told: 1.0 - missed(n),
        })
    }

    /// Of seed that looks as wanted the share of its own selfed seed that does, with how much of all seed it is.
    fn looking(&self, scheme: Scheme, [she, he]: [&Flock; 2]) -> Spread {
        let mut spread: Spread = vec![(1.0, 1.0)];
        for (part, mixtures) in self.parts.iter().zip(she.may_be.iter().zip(&he.may_be)) {
            let mut born: BTreeMap<usize, f64> = BTreeMap::new();
            for (mother, p) in mixtures.0 {
                for (father, q) in mixtures.1 {
                    if scheme == Scheme::Selfed && mother != father {
                        continue;
                    }
                    let weight = if scheme == Scheme::Selfed { *p } else { p * q };
                    let seed = part
                        .space
                        .joint(&shares(part, *mother, *father)[scheme as usize]);
                    let shown = seed.into_iter().enumerate().filter(|(genotype, share)| {
                        *share > 0.0 && part.is_shown(*genotype, she.is_sterile)
                    });
                    for (genotype, share) in shown {
                        *born.entry(genotype).or_insert(0.0) += weight * share;
                    }
                }
            }
            let alike = |genotype: usize| -> f64 {
                let seed = part.selfed(genotype).into_iter();
                let shown = seed.filter(|(child, _)| part.is_shown(*child, she.is_sterile));
                shown.map(|(_, share)| share).sum()
            };
            let own = born
                .into_iter()
                .map(|(genotype, weight)| (alike(genotype), weight));
            spread = times(&spread, &gathered(own.collect()));
        }
        spread
    }
}

impl Part {
    /// Whether an F1 plant's seed can be as wanted, by the parent gone back to where one is.
    fn gives(&self, scheme: Scheme, hybrid: usize, back: Option<usize>, is_sterile: bool) -> bool {
        let Some(back) = back else {
            let seed = self.selfed(hybrid);
            return seed
                .into_iter()
                .any(|(child, _)| self.is_wanted(child, is_sterile));
        };
        let (egg, pollen) = match scheme {
            Scheme::OntoMother => (back, hybrid),
            _ => (hybrid, back),
        };
        let digits = [egg, pollen].map(|joint| self.space.digits(joint));
        let units = self
            .space
            .units
            .iter()
            .zip(digits[0].iter().zip(&digits[1]));
        let by_unit: Vec<Vec<f64>> = units
            .map(|(unit, (egg, grain))| {
                unit.union(
                    &unit.gametes(*egg, Side::Egg),
                    &unit.gametes(*grain, Side::Pollen),
                )
            })
            .collect();
        self.share(&by_unit, is_sterile) > 0.0
    }
}
