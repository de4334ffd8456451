//! The posterior of one batch: sources, and for each group of seedlings what it is likely to be.
//!
//! P(batch | source, plants, pace) = integral over the share phi of prod_i [(1 - phi) a_i + phi b_i], by Gauss-Jacobi
//! quadrature with (n + 3)/2 nodes, which is exact for the polynomial of degree n and for its mean share (degree
//! n + 1); everything in logs.

use std::collections::HashMap;
use std::sync::{Arc, Mutex};

use crate::stats::logs::log_sum_exp;
use crate::stats::quadrature::{Rule, gauss_jacobi_beta};

use super::batch::{BatchModel, Group};
use super::chances::Chances;
use super::context::Context;
use super::paces::Pace;
use super::terms::{Owner, PlantWeights, Term, Terms};
use super::totals::Totals;

/// A term at one pace is passed over when all such terms together weigh under this share of the total.
const NEGLIGIBLE: f64 = 1e-13;

/// A likelihood above this, in plain numbers, has lost no digits to numbers that are too small.
const PLAIN_ENOUGH: f64 = 1e-200;

/// A chance below this cannot be divided by; relative to the group's largest it is nothing.
const SMALLEST: f64 = 1e-300;

/// What is worked out once for all batches: quadrature rules, and how likely kinds of evidence are.
#[derive(Debug, Default)]
pub struct Rules {
    nodes: Mutex<HashMap<(usize, u64, u64), Arc<Shares>>>,
    totals: Totals,
}

/// The nodes of the share of off-types with their weights.
#[derive(Debug)]
struct Shares {
    rule: Rule,
    weights: Vec<f64>,
}

impl Rules {
    fn shares(&self, nodes: usize, a: f64, b: f64) -> Arc<Shares> {
        let mut rules = self
            .nodes
            .lock()
            .expect("no thread panics while it makes a rule");
        let rule = rules.entry((nodes, a.to_bits(), b.to_bits()));
        let made = rule.or_insert_with(|| {
            let rule = gauss_jacobi_beta(nodes, a, b);
            let weights = rule.ln_weights.iter().map(|ln| ln.exp()).collect();
            Arc::new(Shares { rule, weights })
        });
        made.clone()
    }
}

/// What the posterior says of one group of seedlings: weights by profile and pace, its own readings left out.
///
/// With `L` the likelihood of the readings, P(off) = sum(off L) / sum((on + off) L).
#[derive(Debug, Clone)]
pub struct Membership {
    /// Weight of being as labelled.
    pub on: Vec<f64>,
    /// Weight of being off-type, by candidate; a mixture's is shared out to what it draws.
    pub off: Vec<Vec<f64>>,
}

impl Membership {
    fn new(cells: usize, candidates: usize) -> Self {
        Self {
            on: vec![0.0; cells],
            off: vec![vec![0.0; cells]; candidates],
        }
    }

    /// The weight of being off-type whatever the source.
    #[must_use]
    pub fn off_in_all(&self) -> Vec<f64> {
        let mut sums = vec![0.0; self.on.len()];
        for source in &self.off {
            sums.iter_mut().zip(source).for_each(|(sum, w)| *sum += w);
        }
        sums
    }
}

/// The posterior of a batch.
#[derive(Debug, Clone)]
pub struct Posterior {
    /// P(source | batch), by candidate.
    pub sources: Vec<f64>,
    /// By group of seedlings.
    pub memberships: Vec<Membership>,
    /// P(off-type) of a seedling without a telling reading.
    pub off_unscored: f64,
    /// P(the whole batch is dim | batch).
    pub dim: f64,
}

/// Weighs a batch.
pub struct Weigher<'a> {
    model: &'a BatchModel,
    context: &'a Context<'a>,
    rules: &'a Rules,
}

/// A term at one pace worked out.
struct Weighed {
    /// Log of the likelihood.
    ln: f64,
    /// For each group: mean of (1 - phi) / f and of phi / f over the posterior of phi.
    on: Vec<f64>,
    off: Vec<f64>,
    mean_share: f64,
}

impl<'a> Weigher<'a> {
    /// A weigher of one batch.
    #[must_use]
    pub const fn new(model: &'a BatchModel, context: &'a Context<'a>, rules: &'a Rules) -> Self {
        Self {
            model,
            context,
            rules,
        }
    }

    /// Log of P(batch | mother, father) for each pair of their joint genotypes, up to a constant.
    #[must_use]
    pub fn pair_table(&self, plants: &PlantWeights) -> Vec<f64> {
        let even = vec![1.0; self.model.pair_count()];
        let terms = Terms::of(self.model, self.context, Owner::Pair, &even, plants);
        let chances = Chances::of(self.model, &terms.seeds);
        let mut lns: Vec<Vec<f64>> = vec![Vec::new(); self.model.pair_count()];
        for (term, total) in terms.list().iter().zip(self.totals(&terms, &chances)) {
            for (pair, weight) in &term.weights {
                lns[*pair].push(total + weight.ln());
            }
        }
        lns.iter().map(|lns| log_sum_exp(lns)).collect()
    }

    /// P(genotypes of mother and father | everything), for each pair, given the weights of the plants from everything
    /// but this batch; zeros where nothing can be.
    #[must_use]
    pub fn pair_posterior(&self, plants: &PlantWeights) -> Vec<f64> {
        let table = self.pair_table(plants);
        let most = table.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let joint: Vec<f64> = table
            .iter()
            .zip(&plants.pairs)
            .map(|(ln, weight)| weight * (ln - most).exp())
            .collect();
        let total: f64 = joint.iter().sum();
        let share = |p: &f64| if total > 0.0 { p / total } else { 0.0 };
        joint.iter().map(share).collect()
    }

    /// The terms of the batch by candidate, given the weights of its plants; they do not depend on readings.
    #[must_use]
    pub fn terms(&self, plants: &PlantWeights) -> Terms<'a> {
        let owner = Owner::Candidate;
        Terms::of(self.model, self.context, owner, &plants.pairs, plants)
    }

    /// Log of P(readings), the batch's groups being weighed as given here and not as it has them; minus infinity where
    /// no seed can give one of them.
    #[must_use]
    pub fn ln_likelihood_of(&self, groups: &[Group], terms: &Terms<'_>) -> f64 {
        let paces = &self.model.paces.ln_weights;
        let chances = Chances::of_groups(groups, paces.len(), &terms.seeds);
        if chances.is_silent {
            return f64::NEG_INFINITY;
        }
        let mut lns = Vec::with_capacity(terms.list().len() * paces.len());
        for term in terms.list() {
            let mass = term.mass();
            for (pace, ln_pace) in paces.iter().enumerate() {
                lns.push(mass.ln() + ln_pace + self.ln_likelihood(term, pace, &chances));
            }
        }
        log_sum_exp(&lns)
    }

    /// The posterior, given the weights of the plants from everything but this batch.
    #[must_use]
    pub fn posterior(&self, plants: &PlantWeights) -> Posterior {
        let terms = self.terms(plants);
        let chances = Chances::of(self.model, &terms.seeds);
        let lns: Vec<f64> = terms
            .list()
            .iter()
            .zip(self.totals(&terms, &chances))
            .map(|(term, total)| term.mass().ln() + total)
            .collect();
        let total = log_sum_exp(&lns);
        let cells = self.model.profiles.len() * self.model.paces.len();
        let count = self.model.candidates.len();
        let mut answer = Posterior {
            sources: vec![0.0; count],
            memberships: vec![Membership::new(cells, count); self.model.groups.len()],
            off_unscored: 0.0,
            dim: 0.0,
        };
        let floor = (NEGLIGIBLE / (lns.len() * self.model.paces.len()).max(1) as f64).ln();
        for (term, ln) in terms.list().iter().zip(&lns) {
            if *ln < total + floor || *ln == f64::NEG_INFINITY {
                continue;
            }
            let ln_mass = term.mass().ln() - total;
            for (pace, ln_pace) in self.model.paces.ln_weights.iter().enumerate() {
                let weighed = self.weigh(term, pace, &chances);
                let ln = ln_mass + ln_pace + weighed.ln;
                if ln >= floor {
                    self.add_case(&terms, term, pace, &weighed, ln.exp(), &mut answer);
                }
            }
        }
        answer
    }

    fn add_case(
        &self,
        terms: &Terms<'_>,
        term: &Term,
        pace: usize,
        weighed: &Weighed,
        p: f64,
        answer: &mut Posterior,
    ) {
        let mass = term.mass();
        answer.off_unscored += p * weighed.mean_share;
        if self.model.paces.paces[pace] == Pace::Dim {
            answer.dim += p;
        }
        for (candidate, weight) in &term.weights {
            answer.sources[*candidate] += p * weight / mass;
        }
        for (group, membership) in answer.memberships.iter_mut().enumerate() {
            if let Some(on) = term.on {
                self.add_seed(
                    &mut membership.on,
                    terms.seeds.get(on),
                    pace,
                    p * weighed.on[group],
                );
            }
            let off = p * weighed.off[group];
            match (&term.parts, term.off) {
                (Some(parts), _) => {
                    for (candidate, part) in parts {
                        self.add_seed(&mut membership.off[*candidate], part, pace, off);
                    }
                }
                (None, Some(seed)) => {
                    for (candidate, weight) in &term.weights {
                        let seed = terms.seeds.get(seed);
                        self.add_seed(
                            &mut membership.off[*candidate],
                            seed,
                            pace,
                            off * weight / mass,
                        );
                    }
                }
                (None, None) => {}
            }
        }
    }

    fn add_seed(&self, sums: &mut [f64], seed: &[f64], pace: usize, weight: f64) {
        let paces = self.model.paces.len();
        for (profile, p) in seed.iter().enumerate() {
            sums[profile * paces + pace] += weight * p;
        }
    }

    /// For each term the log of its likelihood, averaged over paces.
    fn totals(&self, terms: &Terms<'_>, chances: &Chances) -> Vec<f64> {
        let signature = self.rules.totals.signature(self.model);
        let seeds = self.rules.totals.numbers(&terms.seeds);
        let mut known = signature.lock().expect("no thread panics while it weighs");
        let paces = &self.model.paces.ln_weights;
        let mut lns = vec![0.0; paces.len()];
        let mut of_term = |term: &Term| {
            let number = |seed: Option<usize>| seed.map(|seed| seeds[seed]);
            let beta = term.beta.map(|(a, b)| (a.to_bits(), b.to_bits()));
            *known
                .entry((number(term.on), number(term.off), beta))
                .or_insert_with(|| {
                    for (pace, (ln, ln_pace)) in lns.iter_mut().zip(paces).enumerate() {
                        *ln = ln_pace + self.ln_likelihood(term, pace, chances);
                    }
                    log_sum_exp(&lns)
                })
        };
        let totals = terms.list().iter().map(&mut of_term).collect();
        drop(known);
        totals
    }

    /// The nodes of the share of a mixed batch.
    fn shares(&self, (a, b): (f64, f64)) -> Arc<Shares> {
        let n = usize::try_from(self.model.evidence_count()).unwrap_or(0);
        self.rules.shares((n + 3) / 2, a, b)
    }

    /// Log of P(batch | term, pace).
    fn ln_likelihood(&self, term: &Term, pace: usize, chances: &Chances) -> f64 {
        match (term.beta, term.on, term.off) {
            (Some(beta), Some(on), Some(off)) => {
                let shares = self.shares(beta);
                let (on, off) = (chances.of_seed(on, pace), chances.of_seed(off, pace));
                let plain: f64 = shares
                    .rule
                    .nodes
                    .iter()
                    .zip(&shares.weights)
                    .map(|(share, weight)| weight * chances.product(*share, on, off))
                    .sum();
                if plain > PLAIN_ENOUGH {
                    return plain.ln() + chances.ln_scale;
                }
                let lns = chances.lns(&shares.rule, on, off);
                log_sum_exp(&lns) + chances.ln_scale
            }
            (_, on, off) => {
                let seed = on.or(off).expect("a term has seed of one kind at least");
                chances.ln_of(chances.of_seed(seed, pace)) + chances.ln_scale
            }
        }
    }

    /// A term at one pace with the means over the posterior of the share.
    fn weigh(&self, term: &Term, pace: usize, chances: &Chances) -> Weighed {
        let groups = chances.counts.len();
        let inverse = |chances: &[f64]| {
            chances
                .iter()
                .map(|f| if *f > SMALLEST { 1.0 / f } else { 0.0 })
                .collect()
        };
        match (term.beta, term.on, term.off) {
            (Some(beta), Some(on), Some(off)) => {
                let (on, off) = (chances.of_seed(on, pace), chances.of_seed(off, pace));
                self.integrate(beta, on, off, chances)
            }
            (_, Some(on), _) => Weighed {
                ln: self.ln_likelihood(term, pace, chances),
                on: inverse(chances.of_seed(on, pace)),
                off: vec![0.0; groups],
                mean_share: 0.0,
            },
            (_, None, off) => Weighed {
                ln: self.ln_likelihood(term, pace, chances),
                on: vec![0.0; groups],
                off: off.map_or_else(Vec::new, |off| inverse(chances.of_seed(off, pace))),
                mean_share: 1.0,
            },
        }
    }

    /// The integral over the share, and the means over its posterior.
    fn integrate(&self, beta: (f64, f64), on: &[f64], off: &[f64], chances: &Chances) -> Weighed {
        let shares = self.shares(beta);
        let lns = chances.lns(&shares.rule, on, off);
        let ln = log_sum_exp(&lns);
        let mut weighed = Weighed {
            ln: ln + chances.ln_scale,
            on: vec![0.0; on.len()],
            off: vec![0.0; on.len()],
            mean_share: 0.0,
        };
        if ln == f64::NEG_INFINITY {
            return weighed;
        }
        for (share, ln_node) in shares.rule.nodes.iter().zip(&lns) {
            let p = (ln_node - ln).exp();
            if p == 0.0 {
                continue;
            }
            weighed.mean_share += p * share;
            for g in 0..on.len() {
                let f = (1.0 - share) * on[g] + share * off[g];
                if f > SMALLEST {
                    weighed.on[g] += p * (1.0 - share) / f;
                    weighed.off[g] += p * share / f;
                }
            }
        }
        weighed
    }
}
