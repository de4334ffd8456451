//! What more care would have bought: off-types expected per 100 seedlings as crosses were made, and had they been made
//! otherwise.
//!
//! Covering has a chance of its own. Wiping has none: it takes from each donor the chance that the unwiped tool gave it
//! and leaves everything else as likely as it was, so that it never makes a batch worse. Called by the fit, with its
//! figures.

use crate::records::assumptions::Assumptions;
use crate::records::rows::BatchRow;

use super::context::Context;
use super::mishaps_batches::{Told, mean_share};
use super::sources::{Candidate, Share, Technique};

/// Off-types expected per 100 seedlings of the crosses that were weighed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OffTypes {
    /// As they were made.
    pub now: f64,
    /// Had every flower been emasculated and covered.
    pub covered: f64,
    /// Had every tool been wiped before every flower.
    pub wiped: f64,
    /// Both.
    pub both: f64,
    /// Crosses whose flowers were not emasculated and covered, in batches.
    pub not_covered: usize,
    /// Batches for which a tool came unwiped from another plant.
    pub not_wiped: usize,
}

/// Off-types expected with some beliefs; nothing where no cross was weighed.
#[must_use]
pub fn off_types(context: &Context<'_>, told: &[Told], beliefs: &Assumptions) -> Option<OffTypes> {
    let crosses: Vec<(&Told, &BatchRow)> = told
        .iter()
        .filter(|one| one.tool.is_some())
        .filter_map(|one| Some((one, context.index.facts.batch.get(one.batch_id)?)))
        .collect();
    let seedlings: f64 = crosses.iter().map(|(one, _)| one.seedlings as f64).sum();
    if seedlings <= 0.0 {
        return None;
    }
    let covered = as_if_covered(beliefs);
    let mean = |beliefs: &Assumptions, wiped: bool| {
        let of = |(one, row): &(&Told, &BatchRow)| {
            let made = context.sources.candidates(row, beliefs);
            let share = if wiped {
                let wiped = context.sources.candidates(row, &as_if_wiped(beliefs));
                off_share_with_less(&made, &wiped)
            } else {
                off_share(&made)
            };
            one.seedlings as f64 * share
        };
        100.0 * crosses.iter().map(of).sum::<f64>() / seedlings
    };
    let unwiped = |(_, row): &&(&Told, &BatchRow)| {
        let made = context.sources.candidates(row, beliefs);
        let wiped = context.sources.candidates(row, &as_if_wiped(beliefs));
        let loses = |one: &Candidate| left_of(one, &wiped) < 1.0;
        made.iter().any(loses)
    };
    Some(OffTypes {
        now: mean(beliefs, false),
        covered: mean(&covered, false),
        wiped: mean(beliefs, true),
        both: mean(&covered, true),
        not_covered: crosses
            .iter()
            .filter(|(one, _)| one.technique != Technique::Covered)
            .count(),
        not_wiped: crosses.iter().filter(unwiped).count(),
    })
}

/// Beliefs by which every cross is one whose flowers were emasculated and covered.
fn as_if_covered(beliefs: &Assumptions) -> Assumptions {
    Assumptions {
        none_not_emasculated: beliefs.none_covered,
        none_emasculated: beliefs.none_covered,
        self_not_emasculated: beliefs.self_covered,
        self_emasculated: beliefs.self_covered,
        mixed_not_emasculated: beliefs.mixed_covered,
        mixed_emasculated: beliefs.mixed_covered,
        ..beliefs.clone()
    }
}

/// Beliefs by which a plant handled before with the same tool counts as one otherwise handled that day.
fn as_if_wiped(beliefs: &Assumptions) -> Assumptions {
    Assumptions {
        donor_same_tool: beliefs.donor_same_tool.min(beliefs.donor_same_day),
        ..beliefs.clone()
    }
}

/// The share of off-types expected in a batch.
fn off_share(candidates: &[Candidate]) -> f64 {
    let of = |candidate: &Candidate| candidate.prior * mean_share(candidate);
    candidates.iter().map(of).sum()
}

/// How much of a partial source's weight is left where others are believed, as a share; all of any other source.
fn left_of(made: &Candidate, less: &[Candidate]) -> f64 {
    if !matches!(made.share, Share::Beta(_, _)) || made.weight <= 0.0 {
        return 1.0;
    }
    let left = less.iter().find(|one| one.source == made.source);
    left.map_or(0.0, |one| one.weight / made.weight)
}

/// The share of off-types expected where partial sources have lost a part of their weight: each keeps that part of its
/// chance, what is lost falls to no source at all, and the others strike as often as before.
fn off_share_with_less(made: &[Candidate], less: &[Candidate]) -> f64 {
    let of = |one: &Candidate| one.prior * left_of(one, less) * mean_share(one);
    made.iter().map(of).sum()
}
