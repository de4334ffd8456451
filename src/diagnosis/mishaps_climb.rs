//! The climb to the likeliest chances and shares of mishaps, one number after another, and how sharp the top is.
//!
//! Each P(none) has a concave height of its own, given the rest; each Beta is climbed in its mean and its firmness. Knows
//! only what batches say, in logs; the fit calls it.

use crate::records::assumptions::{Assumptions, find};
use crate::stats::logs::{digamma, ln_beta, log_sum_exp};
use crate::stats::optimum::{covariance, curvature, maximise};
use crate::stats::tails::NORMAL_95;

use super::mishaps::{Chance, FIRMNESS, Group, Grouping, KindShare, WORTH, none_key, share_keys};
use super::mishaps_batches::{KINDS, Kind, Told, ln_integral, ln_moments};
use super::sources::Technique;

/// A batch says nothing of mishaps where a mishap would change the chance of its readings by less than this share.
const BLIND: f64 = 1e-3;

/// Rounds of the climb, at most, and the gain at which it rests.
const MOST_ROUNDS: usize = 200;
const REST: f64 = 1e-8;

/// The numbers that are fitted, and what they are fitted to.
pub(super) struct Climb<'a> {
    told: &'a [Told],
    /// The group of each batch.
    group_of: Vec<usize>,
    names: Vec<(Option<Technique>, Option<String>)>,
    /// P(none) by default, and as it stands, of each group.
    defaults: Vec<f64>,
    none: Vec<f64>,
    /// The Beta of each kind by default, and as it stands.
    usual: [[f64; 2]; 3],
    betas: [[f64; 2]; 3],
    /// Log of each batch's integral of each kind at the Betas as they stand.
    partial: Vec<[f64; 3]>,
    /// How many seedlings batches have, each number once.
    sizes: Vec<usize>,
}

impl<'a> Climb<'a> {
    /// Begins at the starting beliefs.
    pub(super) fn new(told: &'a [Told], grouping: Grouping) -> Self {
        let mut names: Vec<(Option<Technique>, Option<String>)> = Vec::new();
        for one in told {
            let name = name(one, grouping);
            if !names.contains(&name) {
                names.push(name);
            }
        }
        names.sort();
        let place = |one: &Told| names.iter().position(|own| *own == name(one, grouping));
        let group_of: Vec<usize> = told.iter().filter_map(place).collect();
        let mean = |group: usize| {
            let own = group_of.iter().zip(told).filter(|(of, _)| **of == group);
            let values = own.map(|(_, one)| default_of(none_key(one.technique)));
            let values: Vec<f64> = values.collect();
            values.iter().sum::<f64>() / values.len() as f64
        };
        let defaults: Vec<f64> = (0..names.len()).map(mean).collect();
        let usual = KINDS.map(|kind| share_keys(kind).map(default_of));
        let mut sizes: Vec<usize> = told.iter().map(size).collect();
        sizes.sort_unstable();
        sizes.dedup();
        let mut climb = Self {
            told,
            group_of,
            none: defaults.clone(),
            names,
            defaults,
            usual,
            betas: usual,
            partial: vec![[f64::NEG_INFINITY; 3]; told.len()],
            sizes,
        };
        for kind in 0..KINDS.len() {
            climb.integrate(kind);
        }
        climb
    }

    /// Works out the integrals of a kind at its Beta as it stands.
    fn integrate(&mut self, kind: usize) {
        let lns = self.integrals(kind, self.betas[kind]);
        for (own, ln) in self.partial.iter_mut().zip(lns) {
            own[kind] = ln;
        }
    }

    fn integrals(&self, kind: usize, [a, b]: [f64; 2]) -> Vec<f64> {
        let tables: Vec<Vec<f64>> = self.sizes.iter().map(|n| ln_moments(*n, a, b)).collect();
        let one = |told: &Told| {
            let at = self.sizes.binary_search(&size(told));
            at.map_or(f64::NEG_INFINITY, |at| {
                ln_integral(&told.ln_partial[kind], &tables[at])
            })
        };
        self.told.iter().map(one).collect()
    }

    /// Moves one number after another to where the height is greatest, until that gains nothing.
    pub(super) fn rise(&mut self) {
        let mut height = self.height();
        for _ in 0..MOST_ROUNDS {
            for group in 0..self.none.len() {
                self.none[group] = self.best_none(group);
            }
            if !self.told.is_empty() {
                for kind in 0..KINDS.len() {
                    self.betas[kind] = self.best_beta(kind);
                    self.integrate(kind);
                }
            }
            let now = self.height();
            if now - height < REST {
                break;
            }
            height = now;
        }
    }

    /// The penalised log likelihood as things stand.
    fn height(&self) -> f64 {
        let batches: f64 = (0..self.told.len())
            .map(|at| self.ln_batch(at, self.none[self.group_of[at]], &self.partial[at]))
            .sum();
        let none: f64 = self
            .none
            .iter()
            .zip(&self.defaults)
            .map(|(p, d)| ln_worth(*p, *d))
            .sum();
        let shares: f64 = (0..KINDS.len())
            .map(|kind| ln_usual(self.betas[kind], self.usual[kind]))
            .sum();
        batches + none + shares
    }

    fn ln_batch(&self, at: usize, none: f64, partial: &[f64; 3]) -> f64 {
        let told = &self.told[at];
        let [one, two, three] = partial.map(|ln| ln + (1.0 - none).ln());
        log_sum_exp(&[told.ln_none + none.ln(), one, two, three, told.ln_whole])
    }

    /// The best P(none) of a group, all else as it stands: where the slope is 0, by halving; the height is concave in it.
    fn best_none(&self, group: usize) -> f64 {
        let own: Vec<[f64; 3]> = (0..self.told.len())
            .filter(|at| self.group_of[*at] == group)
            .map(|at| self.three(at))
            .collect();
        let default = self.defaults[group];
        let slope = |p: f64| {
            let of = |[none, partial, whole]: &[f64; 3]| {
                (none - partial) / (p * none + (1.0 - p) * partial + whole)
            };
            own.iter().map(of).sum::<f64>() + WORTH * (default / p - (1.0 - default) / (1.0 - p))
        };
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if slope(middle) > 0.0 {
                low = middle;
            } else {
                high = middle;
            }
        }
        0.5 * (low + high)
    }

    /// What a batch says with nothing, something and everything wrong, up to a factor.
    fn three(&self, at: usize) -> [f64; 3] {
        let told = &self.told[at];
        let partial = log_sum_exp(&self.partial[at]);
        let most = told.ln_none.max(partial).max(told.ln_whole);
        [told.ln_none, partial, told.ln_whole].map(|ln| (ln - most).exp())
    }

    /// The best Beta of a kind, all else as it stands.
    fn best_beta(&self, kind: usize) -> [f64; 2] {
        let height = |at: &[f64]| self.height_of_kind(kind, beta_of(at));
        let start = scaled(self.betas[kind]);
        let top = maximise(&height, &start, &[0.3, 0.3]);
        let stays = self.height_of_kind(kind, self.betas[kind]);
        if top.value > stays {
            beta_of(&top.at)
        } else {
            self.betas[kind]
        }
    }

    fn height_of_kind(&self, kind: usize, beta: [f64; 2]) -> f64 {
        let integrals = self.integrals(kind, beta);
        let batch = |(at, ln): (usize, &f64)| {
            let mut partial = self.partial[at];
            partial[kind] = *ln;
            self.ln_batch(at, self.none[self.group_of[at]], &partial)
        };
        let sum: f64 = integrals.iter().enumerate().map(batch).sum();
        sum + ln_usual(beta, self.usual[kind])
    }

    /// Standard errors of the log odds of each group's P(none), then of each kind's mean share, its firmness held.
    pub(super) fn standard_errors(&self) -> Vec<f64> {
        let groups = self.none.len();
        let means = self.betas.map(|[a, b]| ln_odds(a / (a + b)));
        let sums = self.betas.map(|[a, b]| a + b);
        let at: Vec<f64> = self.none.iter().map(|p| ln_odds(*p)).chain(means).collect();
        let height = |at: &[f64]| {
            let none: Vec<f64> = at[..groups].iter().map(|x| chance_of(*x)).collect();
            let betas: Vec<[f64; 2]> = (0..KINDS.len())
                .map(|kind| {
                    let mean = chance_of(at[groups + kind]);
                    [mean * sums[kind], (1.0 - mean) * sums[kind]]
                })
                .collect();
            self.height_at(&none, &betas)
        };
        let steps = vec![0.02; at.len()];
        let spread = covariance(&curvature(&height, &at, &steps));
        let error = |at: usize| {
            spread
                .as_ref()
                .map_or(f64::INFINITY, |spread| spread[at][at].sqrt())
        };
        (0..at.len()).map(error).collect()
    }

    fn height_at(&self, none: &[f64], betas: &[[f64; 2]]) -> f64 {
        let integrals: Vec<Vec<f64>> = betas
            .iter()
            .enumerate()
            .map(|(kind, beta)| {
                if *beta == self.betas[kind] {
                    self.partial.iter().map(|own| own[kind]).collect()
                } else {
                    self.integrals(kind, *beta)
                }
            })
            .collect();
        let batch = |at: usize| {
            let partial = [integrals[0][at], integrals[1][at], integrals[2][at]];
            self.ln_batch(at, none[self.group_of[at]], &partial)
        };
        let batches: f64 = (0..self.told.len()).map(batch).sum();
        let worth = none
            .iter()
            .zip(&self.defaults)
            .map(|(p, d)| ln_worth(*p, *d));
        let usual = betas.iter().zip(&self.usual).map(|(b, u)| ln_usual(*b, *u));
        batches + worth.sum::<f64>() + usual.sum::<f64>()
    }

    /// P(each kind of partial source | batch), then P(none | batch), as things stand.
    fn posterior(&self, at: usize) -> [f64; 4] {
        let none = self.none[self.group_of[at]];
        let all = self.ln_batch(at, none, &self.partial[at]);
        let [one, two, three] = self.partial[at].map(|ln| (ln + (1.0 - none).ln() - all).exp());
        [
            one,
            two,
            three,
            (self.told[at].ln_none + none.ln() - all).exp(),
        ]
    }

    /// Techniques or tools as fitted.
    pub(super) fn describe_groups(&self, beliefs: &Assumptions, errors: &[f64]) -> Vec<Group> {
        let describe = |(group, name): (usize, &(Option<Technique>, Option<String>))| {
            let own: Vec<usize> = (0..self.told.len())
                .filter(|at| self.group_of[*at] == group)
                .collect();
            let in_use = |at: &usize| beliefs.get(none_key(self.told[*at].technique));
            let in_use: f64 = own.iter().filter_map(in_use).sum::<f64>() / own.len() as f64;
            Group {
                technique: name.0,
                tool: name.1.clone(),
                batches: own.len(),
                seedlings: own.iter().map(|at| self.told[*at].seedlings).sum(),
                default: self.defaults[group],
                in_use,
                none: chance(self.none[group], errors[group]),
                clean: own.iter().map(|at| self.posterior(*at)[3]).sum(),
            }
        };
        self.names.iter().enumerate().map(describe).collect()
    }

    /// Shares as fitted.
    pub(super) fn describe_shares(&self, beliefs: &Assumptions, errors: &[f64]) -> Vec<KindShare> {
        let describe = |(at, kind): (usize, &Kind)| {
            let [a, b] = self.betas[at];
            let in_use = share_keys(*kind).map(|key| beliefs.get(key).unwrap_or_default());
            let expected = (0..self.told.len()).map(|batch| self.posterior(batch)[at]);
            KindShare {
                kind: *kind,
                default: self.usual[at],
                in_use,
                beta: [a, b],
                mean: chance(a / (a + b), errors[self.none.len() + at]),
                batches: expected.sum(),
            }
        };
        KINDS.iter().enumerate().map(describe).collect()
    }

    /// Batches whose readings are as likely with a mishap as without.
    pub(super) fn count_blind(&self) -> usize {
        let blind = |at: &usize| {
            let partial = log_sum_exp(&self.partial[*at]);
            (partial - self.told[*at].ln_none).abs() < BLIND
        };
        (0..self.told.len()).filter(blind).count()
    }
}

fn name(one: &Told, grouping: Grouping) -> (Option<Technique>, Option<String>) {
    match grouping {
        Grouping::ByTechnique => (Some(one.technique), None),
        Grouping::ByTool => (None, one.tool.clone()),
    }
}

fn size(told: &Told) -> usize {
    usize::try_from(told.seedlings).unwrap_or(0)
}

/// Log of what ten batches at the default would say of P(none), up to a constant: highest at the default.
fn ln_worth(p: f64, default: f64) -> f64 {
    let times = |n: f64, p: f64| if n > 0.0 { n * p.ln() } else { 0.0 };
    WORTH * (times(default, p) + times(1.0 - default, 1.0 - p))
}

/// Log of what the shares of ten batches with off-types would say of a Beta, these being as usual, in the mean: ten
/// times the negative cross-entropy; highest at the usual Beta.
fn ln_usual([a, b]: [f64; 2], [c, d]: [f64; 2]) -> f64 {
    let mean_ln = digamma(c) - digamma(c + d);
    let mean_ln_rest = digamma(d) - digamma(c + d);
    WORTH * ((a - 1.0) * mean_ln + (b - 1.0) * mean_ln_rest - ln_beta(a, b))
}

fn ln_odds(p: f64) -> f64 {
    (p / (1.0 - p)).ln()
}

fn chance_of(ln_odds: f64) -> f64 {
    1.0 / (1.0 + (-ln_odds).exp())
}

/// A Beta as log odds of its mean and log of its sum.
fn scaled([a, b]: [f64; 2]) -> [f64; 2] {
    [(a / b).ln(), (a + b).ln()]
}

/// The Beta back from that, its sum within bounds.
fn beta_of(at: &[f64]) -> [f64; 2] {
    let sum = at[1].exp().clamp(FIRMNESS[0], FIRMNESS[1]);
    let mean = chance_of(at[0]);
    [sum * mean, sum * (1.0 - mean)]
}

fn chance(value: f64, error: f64) -> Chance {
    let at = ln_odds(value);
    Chance {
        value,
        se: value * (1.0 - value) * error,
        interval: [
            chance_of(at - NORMAL_95 * error),
            chance_of(at + NORMAL_95 * error),
        ],
    }
}

fn default_of(key: &str) -> f64 {
    find(key).map_or(0.5, |known| known.default)
}
