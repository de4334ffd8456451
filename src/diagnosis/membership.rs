//! What a batch's terms say of each group of its seedlings, summed up: as labelled or off-type, and from which source.
//!
//! A term that weighs something is handed in with its means over the share of off-types, pace by pace; candidates only
//! share out what was summed over paces. Called by the posterior; knows no quadrature.

use super::batch::BatchModel;
use super::chances::Chances;
use super::paces::Pace;
use super::posterior::{Means, Posterior};
use super::terms::{Term, Terms};

/// What the posterior says of one group of seedlings, its own readings left out unless said otherwise.
///
/// With `L` the likelihood of the readings, P(off) = sum(off L) / sum((on + off) L).
#[derive(Debug, Clone)]
pub struct Membership {
    /// Weight of being as labelled, by profile and pace.
    pub on: Vec<f64>,
    /// Weight of being off-type whatever the source, by profile and pace.
    pub off: Vec<f64>,
    /// Weight of being off-type, by candidate; a mixture's is shared out to what it draws.
    pub off_from: Vec<f64>,
    /// The same with the group's own readings: sum(off L) of the candidate.
    pub off_from_as_read: Vec<f64>,
    /// Weight of being off-type by candidate, profile and pace, where that was asked.
    pub cells_from: Vec<Vec<f64>>,
}

/// A term at one pace: its share of the posterior and the means over the share of off-types.
pub(super) type Case = (usize, f64, Means);

/// Sums up the cases of a batch.
pub(super) struct Sums<'s> {
    model: &'s BatchModel,
    terms: &'s Terms<'s>,
    chances: &'s Chances,
    answer: Posterior,
    /// For each mixture met: weight of being off-type, by group and pace.
    mixed: Vec<Vec<f64>>,
}

impl<'s> Sums<'s> {
    /// Nothing summed up so far; `by_cell` asks for [`Membership::cells_from`].
    pub(super) fn new(
        model: &'s BatchModel,
        terms: &'s Terms<'s>,
        chances: &'s Chances,
        by_cell: bool,
    ) -> Self {
        let cells = model.profiles.len() * model.paces.len();
        let count = model.candidates.len();
        let nothing = Membership {
            on: vec![0.0; cells],
            off: vec![0.0; cells],
            off_from: vec![0.0; count],
            off_from_as_read: vec![0.0; count],
            cells_from: vec![vec![0.0; cells]; if by_cell { count } else { 0 }],
        };
        Self {
            model,
            terms,
            chances,
            answer: Posterior {
                sources: vec![0.0; count],
                memberships: vec![nothing; model.groups.len()],
                off_unscored: 0.0,
                dim: 0.0,
            },
            mixed: vec![Vec::new(); terms.mixtures.len()],
        }
    }

    /// Adds a term with its cases.
    pub(super) fn add(&mut self, term: &Term, cases: &[Case]) {
        let groups = self.model.groups.len();
        let (mut weight, mut off) = (0.0, vec![0.0; groups]);
        let mut as_read = vec![0.0; groups];
        for (pace, p, means) in cases {
            weight += p;
            self.answer.off_unscored += p * means.share;
            if self.model.paces.paces[*pace] == Pace::Dim {
                self.answer.dim += p;
            }
            self.add_cells(term, (*pace, *p), means);
            let Some(seed) = term.off else {
                continue;
            };
            let chances = self.chances.of_seed(seed, *pace);
            for group in 0..groups {
                let own = p * means.off[group];
                off[group] += own;
                as_read[group] += own * chances[group] * self.chances.most[group];
            }
            if let Some(mixture) = term.mixture {
                self.add_mixed(mixture, *pace, *p, means);
            }
        }
        let mass = term.mass();
        for (candidate, own) in &term.weights {
            let share = own / mass;
            self.answer.sources[*candidate] += share * weight;
            if term.mixture.is_some() {
                continue;
            }
            for (group, membership) in self.answer.memberships.iter_mut().enumerate() {
                membership.off_from[*candidate] += share * off[group];
                membership.off_from_as_read[*candidate] += share * as_read[group];
            }
        }
    }

    /// Adds what a case says of each profile.
    fn add_cells(&mut self, term: &Term, (pace, p): (usize, f64), means: &Means) {
        let paces = self.model.paces.len();
        let add = |sums: &mut [f64], seed: usize, weight: f64| {
            for (profile, chance) in self.terms.seed(seed).iter().enumerate() {
                sums[profile * paces + pace] += weight * chance;
            }
        };
        let mass = term.mass();
        for (group, membership) in self.answer.memberships.iter_mut().enumerate() {
            if let Some(on) = term.on {
                add(&mut membership.on, on, p * means.on[group]);
            }
            if let Some(off) = term.off {
                let weight = p * means.off[group];
                add(&mut membership.off, off, weight);
                if membership.cells_from.is_empty() || term.mixture.is_some() {
                    continue;
                }
                for (candidate, own) in &term.weights {
                    let cells = &mut membership.cells_from[*candidate];
                    add(cells, off, weight * own / mass);
                }
            }
        }
    }

    fn add_mixed(&mut self, mixture: usize, pace: usize, p: f64, means: &Means) {
        let paces = self.model.paces.len();
        let sums = &mut self.mixed[mixture];
        sums.resize(self.model.groups.len() * paces, 0.0);
        for (group, off) in means.off.iter().enumerate() {
            sums[group * paces + pace] += p * off;
        }
    }

    /// Everything summed up, mixtures shared out to what they draw.
    pub(super) fn into_posterior(mut self) -> Posterior {
        let mixed = std::mem::take(&mut self.mixed);
        for (mixture, sums) in mixed.iter().enumerate() {
            for (group, by_pace) in sums.chunks(self.model.paces.len()).enumerate() {
                self.share_out(mixture, group, by_pace);
            }
        }
        self.answer
    }

    fn share_out(&mut self, mixture: usize, group: usize, by_pace: &[f64]) {
        let paces = self.model.paces.len();
        let total: f64 = by_pace.iter().sum();
        let as_read = |seed: usize| -> f64 {
            let chance = |pace: usize| self.chances.of_seed(seed, pace)[group];
            let paces = by_pace.iter().enumerate();
            let sum: f64 = paces.map(|(pace, weight)| weight * chance(pace)).sum();
            sum * self.chances.most[group]
        };
        let mut known: Vec<Option<f64>> = vec![None; self.terms.seed_count()];
        let membership = &mut self.answer.memberships[group];
        for (candidate, seed, chance) in &self.terms.mixtures[mixture].parts {
            let own = *known[*seed].get_or_insert_with(|| as_read(*seed));
            membership.off_from[*candidate] += chance * total;
            membership.off_from_as_read[*candidate] += chance * own;
            if membership.cells_from.is_empty() {
                continue;
            }
            let cells = &mut membership.cells_from[*candidate];
            for (profile, p) in self.terms.seed(*seed).iter().enumerate() {
                for (pace, weight) in by_pace.iter().enumerate() {
                    cells[profile * paces + pace] += weight * chance * p;
                }
            }
        }
    }
}
