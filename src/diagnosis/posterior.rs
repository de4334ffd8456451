//! The posterior of one batch: sources, and for each group of seedlings what it is likely to be.
//!
//! P(batch | source, plants, pace) = integral over the share phi of prod_i [(1 - phi) a_i + phi b_i], by Gauss-Jacobi
//! quadrature with (n + 3)/2 nodes, which is exact for the polynomial of degree n and for its mean share (degree
//! n + 1); everything in logs.

pub mod all_off;

use std::collections::HashMap;
use std::sync::{Arc, Mutex};

use crate::stats::logs::log_sum_exp;
use crate::stats::quadrature::{Rule, gauss_jacobi_beta};

use super::batch::{BatchModel, Group};
use super::chances::Chances;
use super::membership::{Membership, Sums};
use super::terms::{Owner, Term, Terms};
use super::totals::{OfSeeds, key_of};
use super::weights::PlantWeights;

/// A term at one pace is passed over when all such terms together weigh under this share of the total.
const NEGLIGIBLE: f64 = 1e-13;

/// A likelihood above this, in plain numbers, has lost no digits to numbers that are too small.
const PLAIN_ENOUGH: f64 = 1e-200;

/// A chance below this cannot be divided by; relative to the group's largest it is nothing.
const SMALLEST: f64 = 1e-300;

/// Quadrature rules, worked out once for all batches.
#[derive(Debug, Default)]
pub struct Rules {
    nodes: Mutex<HashMap<(usize, u64, u64), Arc<Shares>>>,
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
    rules: &'a Rules,
}

/// A term at one pace worked out.
struct Weighed {
    /// Log of the likelihood.
    ln: f64,
    means: Means,
}

/// Means over the posterior of the share of off-types phi.
#[derive(Debug)]
pub(super) struct Means {
    /// Of (1 - phi) / f, for each group.
    pub(super) on: Vec<f64>,
    /// Of phi / f.
    pub(super) off: Vec<f64>,
    /// Of phi.
    pub(super) share: f64,
}

/// Which terms are worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Which {
    /// All of them, to be kept for other batches.
    All,
    /// Those that weigh something beside the others.
    Weighty,
}

impl<'a> Weigher<'a> {
    /// A weigher of one batch.
    #[must_use]
    pub const fn new(model: &'a BatchModel, rules: &'a Rules) -> Self {
        Self { model, rules }
    }

    /// The terms of a batch by pair, all pairs being as likely; the same for all batches of the same sources that were
    /// read for the same traits.
    #[must_use]
    pub fn pair_terms(&self, plants: &PlantWeights) -> Terms<'a> {
        let even = vec![1.0; self.model.pair_count()];
        Terms::of(self.model, Owner::Pair, &even, plants)
    }

    /// Log of P(batch | mother, father) for each pair of their joint genotypes, up to a constant, from the terms of this
    /// batch or of one of the same sources and traits.
    #[must_use]
    pub fn pair_table(&self, terms: &Terms<'_>) -> Vec<f64> {
        self.ln_by_pair(terms, Which::All)
    }

    /// P(genotypes of mother and father | everything), for each pair, given the weights of the plants from everything
    /// but this batch; zeros where nothing can be.
    #[must_use]
    pub fn pair_posterior(&self, plants: &PlantWeights) -> Vec<f64> {
        let terms = self.weighty_terms(Owner::Pair, plants);
        plain_shares(&self.ln_by_pair(&terms, Which::Weighty))
    }

    /// Log of the weight of each pair times the likelihood of the batch given it.
    fn ln_by_pair(&self, terms: &Terms<'_>, which: Which) -> Vec<f64> {
        let chances = Chances::of(self.model, terms);
        let lns = self.totals(terms, &chances, which);
        let most = lns.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let mut sums = vec![0.0; self.model.pair_count()];
        for (term, ln) in terms
            .list()
            .iter()
            .zip(&lns)
            .filter(|(_, ln)| ln.is_finite())
        {
            let plain = (ln - most).exp();
            let weights = term.weights.iter();
            weights.for_each(|(pair, weight)| sums[*pair] += weight * plain);
        }
        let ln_of = |(pair, sum): (usize, &f64)| match *sum > PLAIN_ENOUGH {
            true => most + sum.ln(),
            false => ln_of_pair(terms, &lns, pair),
        };
        sums.iter().enumerate().map(ln_of).collect()
    }

    /// The terms of the pairs of parental genotypes that weigh something.
    ///
    /// No likelihood is larger than that of every seedling being what its readings fit best. Once the pairs left cannot
    /// weigh anything even so, beside the likeliest pair alone, they are left out.
    fn weighty_terms(&self, owner: Owner, plants: &PlantWeights) -> Terms<'a> {
        let mut order: Vec<usize> = (0..plants.pairs.len()).collect();
        order.sort_unstable_by(|one, other| plants.pairs[*one].total_cmp(&plants.pairs[*other]));
        let likeliest = order.last().copied().unwrap_or_default();
        let mut kept = vec![0.0; plants.pairs.len()];
        kept[likeliest] = plants.pairs[likeliest];
        let terms = Terms::of(self.model, owner, &kept, plants);
        let chances = Chances::of(self.model, &terms);
        let (_, total) = self.joint(&terms, &chances);
        if chances.is_silent || !total.is_finite() {
            return Terms::of(self.model, owner, &plants.pairs, plants);
        }
        let negligible = (NEGLIGIBLE.ln() + total - self.ln_bound()).exp();
        let mut left = 0.0;
        let weighs = |pair: &usize| {
            left += plants.pairs[*pair];
            *pair != likeliest && left > negligible
        };
        let others: Vec<usize> = order.into_iter().filter(weighs).collect();
        if others.is_empty() {
            return terms;
        }
        others
            .into_iter()
            .for_each(|pair| kept[pair] = plants.pairs[pair]);
        Terms::of(self.model, owner, &kept, plants)
    }

    /// Log of a likelihood that the batch's readings have under no seeds at all.
    fn ln_bound(&self) -> f64 {
        let groups = self.model.groups.iter().map(|group| {
            let values = group.likelihood.values.iter();
            let most = values.copied().fold(0.0, f64::max);
            group.count as f64 * most.ln()
        });
        groups.sum()
    }

    /// The terms of the batch by candidate, given the weights of its plants; they do not depend on readings.
    #[must_use]
    pub fn terms(&self, plants: &PlantWeights) -> Terms<'a> {
        Terms::of(self.model, Owner::Candidate, &plants.pairs, plants)
    }

    /// Log of P(readings), the batch's groups being weighed as given here and not as it has them; minus infinity where
    /// no seed can give one of them.
    #[must_use]
    pub fn ln_likelihood_of(&self, groups: &[Group], terms: &Terms<'_>) -> f64 {
        let paces = &self.model.paces.ln_weights;
        let chances = Chances::of_groups(groups, paces.len(), terms);
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
        self.summed_up(plants, false)
    }

    /// The same with what each source says of each profile and pace.
    #[must_use]
    pub fn posterior_by_cell(&self, plants: &PlantWeights) -> Posterior {
        self.summed_up(plants, true)
    }

    fn summed_up(&self, plants: &PlantWeights, by_cell: bool) -> Posterior {
        let terms = self.weighty_terms(Owner::Candidate, plants);
        let chances = Chances::of(self.model, &terms);
        let floor = self.floor(&terms);
        let mut sums = Sums::new(self.model, &terms, &chances, by_cell);
        for (term, ln_mass) in self.worth_summing(&terms, &chances) {
            let paces = self.model.paces.ln_weights.iter().enumerate();
            let cases = paces.filter_map(|(pace, ln_pace)| {
                let weighed = self.weigh(term, pace, &chances);
                let ln = ln_mass + ln_pace + weighed.ln;
                (ln >= floor).then(|| (pace, ln.exp(), weighed.means))
            });
            sums.add(term, &cases.collect::<Vec<_>>());
        }
        sums.into_posterior()
    }

    /// For each term the log of its mass and likelihood together, and the log of their sum.
    fn joint(&self, terms: &Terms<'_>, chances: &Chances) -> (Vec<f64>, f64) {
        let totals = self.totals(terms, chances, Which::Weighty);
        let own = terms.list().iter().zip(&totals);
        let lns: Vec<f64> = own.map(|(term, ln)| term.mass().ln() + ln).collect();
        let total = log_sum_exp(&lns);
        (lns, total)
    }

    /// Log of the share of all below which a term at a pace is left out.
    fn floor(&self, terms: &Terms<'_>) -> f64 {
        (NEGLIGIBLE / (terms.list().len() * self.model.paces.len()).max(1) as f64).ln()
    }

    /// The terms that are not left out, each with the log of its mass as a share of what all weigh together.
    fn worth_summing<'t>(
        &self,
        terms: &'t Terms<'_>,
        chances: &Chances,
    ) -> impl Iterator<Item = (&'t Term, f64)> {
        let (lns, total) = self.joint(terms, chances);
        let floor = self.floor(terms);
        let worth = move |ln: &f64| *ln >= total + floor && *ln != f64::NEG_INFINITY;
        let weighed = terms.list().iter().zip(lns);
        let kept = weighed.filter(move |(_, ln)| worth(ln));
        kept.map(move |(term, _)| (term, term.mass().ln() - total))
    }

    /// For each term the log of its likelihood, averaged over paces; minus infinity for those left out.
    ///
    /// No seedling is likelier than under its likeliest seed, so no term than all of them under theirs: once what is
    /// left cannot weigh anything even so, it is left out.
    fn totals(&self, terms: &Terms<'_>, chances: &Chances, which: Which) -> Vec<f64> {
        let list = terms.list();
        let kept = &self.model.frame().totals;
        let known = match chances.is_silent {
            false => kept.of_evidence(self.model),
            true => OfSeeds::default(),
        };
        let masses: Vec<f64> = list.iter().map(|term| term.mass().ln()).collect();
        let mut order: Vec<usize> = (0..list.len()).collect();
        let mixtures = match which {
            Which::All => kept.mixtures(terms),
            Which::Weighty => {
                order.sort_unstable_by(|one, other| masses[*other].total_cmp(&masses[*one]));
                vec![None; terms.mixtures.len()]
            }
        };
        let floor = (NEGLIGIBLE / list.len().max(1) as f64).ln();
        let mut lns = vec![f64::NEG_INFINITY; list.len()];
        let mut most = f64::NEG_INFINITY;
        let mut known = known.lock().expect("no thread panics while it weighs");
        for at in order {
            if which == Which::Weighty && masses[at] + chances.ln_scale < most + floor {
                break;
            }
            let average = || self.ln_average(&list[at], chances);
            lns[at] = match key_of(terms, &mixtures, &list[at]) {
                Some(key) => *known.entry(key).or_insert_with(average),
                None => average(),
            };
            most = most.max(masses[at] + lns[at]);
        }
        lns
    }

    /// Log of the likelihood of a term, averaged over paces.
    fn ln_average(&self, term: &Term, chances: &Chances) -> f64 {
        let paces = self.model.paces.ln_weights.iter().enumerate();
        let lns = paces.map(|(pace, ln)| ln + self.ln_likelihood(term, pace, chances));
        log_sum_exp(&lns.collect::<Vec<_>>())
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
        let inverse = |seed: Option<usize>| {
            let chances = seed.map_or(&[][..], |seed| chances.of_seed(seed, pace));
            let over = |f: &f64| if *f > SMALLEST { 1.0 / f } else { 0.0 };
            chances.iter().map(over).collect::<Vec<f64>>()
        };
        let nothing = || vec![0.0; chances.counts.len()];
        match (term.beta, term.on, term.off) {
            (Some(beta), Some(on), Some(off)) => {
                let (on, off) = (chances.of_seed(on, pace), chances.of_seed(off, pace));
                self.integrate(beta, on, off, chances)
            }
            (_, on, off) => {
                let of_label = on.is_some();
                Weighed {
                    ln: self.ln_likelihood(term, pace, chances),
                    means: Means {
                        on: if of_label { inverse(on) } else { nothing() },
                        off: if of_label { nothing() } else { inverse(off) },
                        share: if of_label { 0.0 } else { 1.0 },
                    },
                }
            }
        }
    }

    /// The integral over the share, and the means over its posterior.
    fn integrate(&self, beta: (f64, f64), on: &[f64], off: &[f64], chances: &Chances) -> Weighed {
        let shares = self.shares(beta);
        let (ln, by_node) = posterior_of_share(&shares, on, off, chances);
        let mut means = Means {
            on: vec![0.0; on.len()],
            off: vec![0.0; on.len()],
            share: 0.0,
        };
        for (share, p) in shares.rule.nodes.iter().zip(&by_node) {
            if *p == 0.0 {
                continue;
            }
            means.share += p * share;
            for g in 0..on.len() {
                let f = (1.0 - share) * on[g] + share * off[g];
                if f > SMALLEST {
                    let over = p / f;
                    means.on[g] += over * (1.0 - share);
                    means.off[g] += over * share;
                }
            }
        }
        let ln = ln + chances.ln_scale;
        Weighed { ln, means }
    }
}

/// Log of the integral over the share, and the part of each of its nodes; in logs where plain numbers are too small.
fn posterior_of_share(
    shares: &Shares,
    on: &[f64],
    off: &[f64],
    chances: &Chances,
) -> (f64, Vec<f64>) {
    let nodes = shares.rule.nodes.iter().zip(&shares.weights);
    let each = nodes.map(|(share, weight)| weight * chances.product(*share, on, off));
    let mut plain: Vec<f64> = each.collect();
    let total: f64 = plain.iter().sum();
    if total > PLAIN_ENOUGH {
        plain.iter_mut().for_each(|p| *p /= total);
        return (total.ln(), plain);
    }
    let lns = chances.lns(&shares.rule, on, off);
    let ln = log_sum_exp(&lns);
    let part = |own: &f64| {
        if ln.is_finite() {
            (own - ln).exp()
        } else {
            0.0
        }
    };
    (ln, lns.iter().map(part).collect())
}

/// Log of the sum over terms of the weight of one pair.
fn ln_of_pair(terms: &Terms<'_>, lns: &[f64], pair: usize) -> f64 {
    let terms = terms.list().iter().zip(lns);
    let own = terms.flat_map(|(term, ln)| {
        let weights = term.weights.iter().filter(|(own, _)| *own == pair);
        weights.map(move |(_, weight)| weight.ln() + ln)
    });
    log_sum_exp(&own.collect::<Vec<_>>())
}

/// Logs as shares of their sum; zeros where nothing can be.
fn plain_shares(lns: &[f64]) -> Vec<f64> {
    let total = log_sum_exp(lns);
    let share = |ln: &f64| {
        if total.is_finite() {
            (ln - total).exp()
        } else {
            0.0
        }
    };
    lns.iter().map(share).collect()
}
