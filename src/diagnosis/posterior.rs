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
use super::context::Context;
use super::paces::Pace;
use super::terms::{Owner, PlantWeights, Term, Terms};

/// A term at one pace is passed over when all such terms together weigh under this share of the total.
const NEGLIGIBLE: f64 = 1e-13;

/// A chance below this cannot be divided by; relative to the group's largest it is nothing.
const SMALLEST: f64 = 1e-300;

/// Quadrature rules already made, by nodes and Beta parameters.
#[derive(Debug, Default)]
pub struct Rules(Mutex<HashMap<(usize, u64, u64), Arc<Rule>>>);

impl Rules {
    fn get(&self, nodes: usize, a: f64, b: f64) -> Arc<Rule> {
        let mut rules = self
            .0
            .lock()
            .expect("no thread panics while it makes a rule");
        let rule = rules.entry((nodes, a.to_bits(), b.to_bits()));
        rule.or_insert_with(|| Arc::new(gauss_jacobi_beta(nodes, a, b)))
            .clone()
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

/// How much of a batch is worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Detail {
    /// Only how likely it is, term by term; nothing is passed over.
    TotalsOnly,
    /// Only how likely it is in all; what cannot matter is passed over.
    Whole,
    /// Also what each group of seedlings is likely to be.
    WithMembers,
}

/// Weighs a batch.
pub struct Weigher<'a> {
    model: &'a BatchModel,
    groups: &'a [Group],
    context: &'a Context<'a>,
    rules: &'a Rules,
}

/// One term at one pace: the chances of each group, and its size.
pub(super) struct Case {
    /// The term, by its place in the list.
    pub(super) term: usize,
    pace: usize,
    /// Log of the term's weight over all candidates, times the pace's.
    pub(super) ln_weight: f64,
    ln_most: f64,
    /// P(readings | as labelled) of each group, each group scaled alike in all cases; empty where nothing is.
    pub(super) on: Vec<f64>,
    /// The same of the source's seed.
    pub(super) off: Vec<f64>,
}

/// A case worked out.
struct Weighed {
    /// Log of weight times likelihood.
    ln: f64,
    /// For each group: mean of (1 - phi) / f and of phi / f over the posterior of phi.
    on: Vec<f64>,
    off: Vec<f64>,
    mean_share: f64,
}

impl<'a> Weigher<'a> {
    /// A weigher of one batch.
    #[must_use]
    pub fn new(model: &'a BatchModel, context: &'a Context<'a>, rules: &'a Rules) -> Self {
        Self::of_groups(model, &model.groups, context, rules)
    }

    /// The same, the batch's groups being weighed otherwise than it has them.
    #[must_use]
    pub const fn of_groups(
        model: &'a BatchModel,
        groups: &'a [Group],
        context: &'a Context<'a>,
        rules: &'a Rules,
    ) -> Self {
        Self {
            model,
            groups,
            context,
            rules,
        }
    }

    /// The terms of the batch by candidate, given the weights of its plants; they do not depend on the groups.
    #[must_use]
    pub fn terms(&self, plants: &PlantWeights) -> Terms<'a> {
        let mut terms = Terms::new(self.model, self.context, Owner::Candidate);
        for (pair, weight) in plants.pairs.iter().enumerate() {
            terms.add_pair(pair, *weight, plants);
        }
        terms
    }

    /// Log of P(readings), given the terms, with the factors left in that the groups were scaled by here.
    #[must_use]
    pub fn ln_likelihood(&self, terms: &Terms<'_>) -> f64 {
        let scales = self.group_scales(terms);
        let scaled_by = |(group, scale): (&Group, &f64)| group.count as f64 * scale.ln();
        let ln_scale: f64 = self.groups.iter().zip(&scales).map(scaled_by).sum();
        if !ln_scale.is_finite() {
            return f64::NEG_INFINITY;
        }
        let weighed = self.weigh(terms, Detail::Whole);
        let lns: Vec<f64> = weighed.iter().map(|(_, w)| w.ln).collect();
        log_sum_exp(&lns) - ln_scale
    }

    /// Log of P(batch | mother, father) for each pair of their joint genotypes, up to a constant.
    #[must_use]
    pub fn pair_table(&self, plants: &PlantWeights) -> Vec<f64> {
        let mut terms = Terms::new(self.model, self.context, Owner::Pair);
        for pair in 0..self.model.pair_count() {
            terms.add_pair(pair, 1.0, plants);
        }
        let mut lns: Vec<Vec<f64>> = vec![Vec::new(); self.model.pair_count()];
        for (case, weighed) in self.weigh(&terms, Detail::TotalsOnly) {
            let term = &terms.list()[case.term];
            let mass: f64 = term.weights.iter().map(|(_, w)| w).sum();
            for (pair, weight) in &term.weights {
                lns[*pair].push(weighed.ln + (weight / mass).ln());
            }
        }
        lns.iter().map(|lns| log_sum_exp(lns)).collect()
    }

    /// The posterior, given the weights of the plants from everything but this batch.
    #[must_use]
    pub fn posterior(&self, plants: &PlantWeights) -> Posterior {
        let terms = self.terms(plants);
        let weighed = self.weigh(&terms, Detail::WithMembers);
        let total = log_sum_exp(&weighed.iter().map(|(_, w)| w.ln).collect::<Vec<_>>());
        let cells = self.model.profiles.len() * self.model.paces.len();
        let count = self.model.candidates.len();
        let mut answer = Posterior {
            sources: vec![0.0; count],
            memberships: vec![Membership::new(cells, count); self.groups.len()],
            off_unscored: 0.0,
            dim: 0.0,
        };
        for (case, weighed) in &weighed {
            let p = (weighed.ln - total).exp();
            self.add_case(&terms, case, weighed, p, &mut answer);
        }
        answer
    }

    fn add_case(
        &self,
        terms: &Terms<'_>,
        case: &Case,
        weighed: &Weighed,
        p: f64,
        answer: &mut Posterior,
    ) {
        let term = &terms.list()[case.term];
        let mass: f64 = term.weights.iter().map(|(_, w)| w).sum();
        answer.off_unscored += p * weighed.mean_share;
        if self.model.paces.paces[case.pace] == Pace::Dim {
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
                    case.pace,
                    p * weighed.on[group],
                );
            }
            let off = p * weighed.off[group];
            match (&term.parts, term.off) {
                (Some(parts), _) => {
                    for (candidate, part) in parts {
                        self.add_seed(&mut membership.off[*candidate], part, case.pace, off);
                    }
                }
                (None, Some(seed)) => {
                    for (candidate, weight) in &term.weights {
                        let seed = terms.seeds.get(seed);
                        self.add_seed(
                            &mut membership.off[*candidate],
                            seed,
                            case.pace,
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

    /// Works out every term at every pace; where members are asked for, only those that can matter.
    fn weigh(&self, terms: &Terms<'_>, detail: Detail) -> Vec<(Case, Weighed)> {
        let mut cases = self.cases(terms);
        cases.sort_by(|one, other| other.ln_most.total_cmp(&one.ln_most));
        let floor = (NEGLIGIBLE / cases.len().max(1) as f64).ln();
        let mut best = f64::NEG_INFINITY;
        let mut weighed: Vec<(Case, Weighed)> = Vec::new();
        for case in cases {
            let negligible = detail != Detail::TotalsOnly && case.ln_most < best + floor;
            if negligible || case.ln_most == f64::NEG_INFINITY {
                break;
            }
            let result = self.weigh_case(&terms.list()[case.term], &case, detail);
            best = best.max(result.ln);
            weighed.push((case, result));
        }
        weighed
    }

    /// Every term at every pace.
    pub(super) fn cases(&self, terms: &Terms<'_>) -> Vec<Case> {
        let scales = self.group_scales(terms);
        let mut cases = Vec::new();
        for (at, term) in terms.list().iter().enumerate() {
            let mass: f64 = term.weights.iter().map(|(_, w)| w).sum();
            for (pace, ln_pace) in self.model.paces.ln_weights.iter().enumerate() {
                let chances = |seed: Option<usize>| -> Vec<f64> {
                    seed.map_or_else(Vec::new, |seed| {
                        self.chances(terms.seeds.get(seed), pace, &scales)
                    })
                };
                let (on, off) = (chances(term.on), chances(term.off));
                let ln_weight = mass.ln() + ln_pace;
                let most: f64 = self
                    .model
                    .groups
                    .iter()
                    .enumerate()
                    .map(|(group, own)| {
                        let of = |list: &[f64]| list.get(group).copied().unwrap_or(0.0);
                        own.count as f64 * of(&on).max(of(&off)).ln()
                    })
                    .sum();
                cases.push(Case {
                    term: at,
                    pace,
                    ln_weight,
                    ln_most: ln_weight + most,
                    on,
                    off,
                });
            }
        }
        cases
    }

    /// For each group one over its largest chance under any seed at any pace, so that no chance is needlessly small; 0
    /// for a group that no seed can give, which then says nothing.
    fn group_scales(&self, terms: &Terms<'_>) -> Vec<f64> {
        let alone = vec![1.0; self.groups.len()];
        let mut most = vec![0.0_f64; alone.len()];
        for seed in terms.seeds.iter() {
            for pace in 0..self.model.paces.len() {
                let chances = self.chances(seed, pace, &alone);
                most.iter_mut()
                    .zip(chances)
                    .for_each(|(most, f)| *most = most.max(f));
            }
        }
        most.iter()
            .map(|most| {
                if *most > f64::MIN_POSITIVE {
                    1.0 / most
                } else {
                    0.0
                }
            })
            .collect()
    }

    /// P(readings | seed, pace) of each group, times its scale.
    fn chances(&self, seed: &[f64], pace: usize, scales: &[f64]) -> Vec<f64> {
        let paces = self.model.paces.len();
        let of = |(group, scale): (&Group, &f64)| {
            let chance =
                |(profile, p): (usize, &f64)| p * group.likelihood.values[profile * paces + pace];
            if *scale == 0.0 {
                return 1.0;
            }
            scale * seed.iter().enumerate().map(chance).sum::<f64>()
        };
        self.groups.iter().zip(scales).map(of).collect()
    }

    fn weigh_case(&self, term: &Term, case: &Case, detail: Detail) -> Weighed {
        let groups = &self.groups;
        let product = |chances: &[f64]| -> f64 {
            groups
                .iter()
                .zip(chances)
                .map(|(group, f)| group.count as f64 * f.ln())
                .sum()
        };
        let inverse = |chances: &[f64]| {
            chances
                .iter()
                .map(|f| if *f > SMALLEST { 1.0 / f } else { 0.0 })
                .collect()
        };
        match (term.beta, term.on) {
            (None, Some(_)) => Weighed {
                ln: case.ln_weight + product(&case.on),
                on: inverse(&case.on),
                off: vec![0.0; groups.len()],
                mean_share: 0.0,
            },
            (None, None) => Weighed {
                ln: case.ln_weight + product(&case.off),
                on: vec![0.0; groups.len()],
                off: inverse(&case.off),
                mean_share: 1.0,
            },
            (Some((a, b)), _) => self.integrate(case, a, b, detail),
        }
    }

    /// The integral over the share, and the means over its posterior.
    fn integrate(&self, case: &Case, a: f64, b: f64, detail: Detail) -> Weighed {
        let groups = &self.groups;
        let n = usize::try_from(self.model.evidence_count()).unwrap_or(0);
        let rule = self.rules.get((n + 3) / 2, a, b);
        let lns: Vec<f64> = rule
            .nodes
            .iter()
            .zip(&rule.ln_weights)
            .map(|(share, ln_weight)| {
                let product: f64 = (0..groups.len())
                    .map(|g| {
                        groups[g].count as f64
                            * ((1.0 - share) * case.on[g] + share * case.off[g]).ln()
                    })
                    .sum();
                ln_weight + product
            })
            .collect();
        let ln = log_sum_exp(&lns);
        let mut weighed = Weighed {
            ln: case.ln_weight + ln,
            on: vec![0.0; groups.len()],
            off: vec![0.0; groups.len()],
            mean_share: 0.0,
        };
        if detail != Detail::WithMembers || ln == f64::NEG_INFINITY {
            return weighed;
        }
        for (share, ln_node) in rule.nodes.iter().zip(&lns) {
            let p = (ln_node - ln).exp();
            if p == 0.0 {
                continue;
            }
            weighed.mean_share += p * share;
            for g in 0..groups.len() {
                let f = (1.0 - share) * case.on[g] + share * case.off[g];
                if f > SMALLEST {
                    weighed.on[g] += p * (1.0 - share) / f;
                    weighed.off[g] += p * share / f;
                }
            }
        }
        weighed
    }
}
