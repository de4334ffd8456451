//! How much of a cross's seed will not be of the label, by the ledger's own mishaps.
//!
//! The starting beliefs as the ledger's trays have fitted them, for a sowing of that cross as its flowers were
//! treated. Asked by `plan`.

use crate::diagnosis::DiagnosisError;
use crate::diagnosis::context::Context;
use crate::diagnosis::mishaps::{Grouping, learn};
use crate::diagnosis::mishaps_batches::mean_share;
use crate::diagnosis::sources::{Share, Technique};
use crate::records::assumptions::Assumptions;
use crate::records::day::Day;
use crate::records::rows::BatchRow;
use crate::stats::quadrature::gauss_jacobi_beta;

/// The share of off-types expected, and what it rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OffShare {
    /// The share, on average.
    pub share: f64,
    /// The chance that the whole sowing is something else; it is in the average.
    pub all_off: f64,
    /// How the flowers were treated.
    pub technique: Technique,
    /// How many trays of the ledger the chances were fitted to.
    pub trays: usize,
}

/// The starting beliefs as the ledger's trays have fitted them.
#[derive(Debug, Clone)]
pub struct OffShares {
    beliefs: Assumptions,
    trays: usize,
}

impl OffShares {
    /// Fits them.
    ///
    /// # Errors
    /// [`DiagnosisError`] where a stored text cannot be read.
    pub fn learn(context: &Context<'_>) -> Result<Self, DiagnosisError> {
        let learnt = learn(context.index.facts, Grouping::ByTechnique)?;
        Ok(Self {
            beliefs: learnt.beliefs(context.beliefs),
            trays: learnt.batches,
        })
    }

    /// The mean share of off-types in a sowing of a cross: the sum over what can have gone wrong of its chance times
    /// the mean share that it brings.
    #[must_use]
    pub fn of(&self, context: &Context<'_>, cross: i64, today: Day) -> OffShare {
        let sowing = sowing_of(cross, today);
        let candidates = context.sources.candidates(&sowing, &self.beliefs);
        let whole = candidates
            .iter()
            .filter(|one| one.share == Share::Everything);
        OffShare {
            share: candidates
                .iter()
                .map(|one| one.prior * mean_share(one))
                .sum(),
            all_off: whole.map(|one| one.prior).sum(),
            technique: context.sources.technique(&sowing),
            trays: self.trays,
        }
    }

    /// The share of off-types tray by tray, which has the mean of [`Self::of`]: shares with how likely a sowing has them, by
    /// what can have gone wrong with it.
    #[must_use]
    pub fn by_tray(&self, context: &Context<'_>, cross: i64, today: Day) -> Vec<(f64, f64)> {
        let candidates = context
            .sources
            .candidates(&sowing_of(cross, today), &self.beliefs);
        let mut alike: Vec<(Share, f64)> = Vec::new();
        for one in &candidates {
            match alike.iter_mut().find(|(share, _)| *share == one.share) {
                Some((_, weight)) => *weight += one.prior,
                None => alike.push((one.share, one.prior)),
            }
        }
        let spread = |(share, weight): &(Share, f64)| match share {
            Share::Nothing => vec![(*weight, 0.0)],
            Share::Everything => vec![(*weight, 1.0)],
            Share::Beta(a, b) => {
                let rule = gauss_jacobi_beta(NODES, *a, *b);
                let weights = rule.ln_weights.iter().map(|ln| weight * ln.exp());
                weights.zip(rule.nodes.iter().copied()).collect()
            }
        };
        alike.iter().flat_map(spread).collect()
    }
}

/// Nodes by which a share with a distribution is averaged over.
const NODES: usize = 48;

/// A sowing of a cross today.
const fn sowing_of(cross: i64, today: Day) -> BatchRow {
    BatchRow {
        id: 0,
        cross_id: Some(cross),
        plant_id: None,
        day: today,
        seeds: 1,
        cells: 1,
        place: String::new(),
        medium: String::new(),
        light: String::new(),
    }
}
