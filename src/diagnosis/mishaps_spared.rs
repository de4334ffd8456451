//! What more care would have bought: off-types expected per 100 seedlings as crosses were made, and had they been made
//! otherwise.
//!
//! Covering has a chance of its own. Wiping has none; weights are taken as rates at which mishaps strike on their own,
//! so that a batch which loses a part of its weight is clean with P(none) to the power of what is left. Called by the
//! fit, with its figures.

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
        weight_left(&made, &wiped) < 1.0
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

fn partial(candidates: &[Candidate]) -> impl Iterator<Item = &Candidate> {
    candidates
        .iter()
        .filter(|candidate| matches!(candidate.share, Share::Beta(_, _)))
}

/// The weight of all partial sources.
fn total_weight(candidates: &[Candidate]) -> f64 {
    let mut weighed = partial(candidates).filter(|candidate| candidate.weight > 0.0);
    let per_prior = weighed.next().map_or(0.0, |one| one.weight / one.prior);
    partial(candidates).map(|one| one.prior).sum::<f64>() * per_prior
}

/// How much of the weight of partial sources is left, as a share.
fn weight_left(made: &[Candidate], less: &[Candidate]) -> f64 {
    let (all, left) = (total_weight(made), total_weight(less));
    if all > 0.0 {
        // Sums in another order must not look like a loss.
        let left = left / all;
        if left > 1.0 - 1e-9 { 1.0 } else { left }
    } else {
        1.0
    }
}

/// The share of off-types expected where partial sources have lost a part of their weight: the chance that none strikes
/// grows by the power law of rates, the others strike as often as before.
fn off_share_with_less(made: &[Candidate], less: &[Candidate]) -> f64 {
    let left = weight_left(made, less);
    let clean = made.iter().filter(|one| one.share == Share::Nothing);
    let none: f64 = clean.map(|one| one.prior).sum();
    let struck: f64 = partial(made).map(|one| one.prior).sum();
    let rest = none + struck;
    if left >= 1.0 || rest <= 0.0 {
        return off_share(made);
    }
    let still = rest * (1.0 - (none / rest).powf(left));
    let among: f64 = partial(less).map(|one| one.prior).sum();
    let of = |one: &Candidate| match one.share {
        Share::Beta(_, _) => one.prior / among * still * mean_share(one),
        _ => one.prior * mean_share(one),
    };
    less.iter().map(of).sum()
}
