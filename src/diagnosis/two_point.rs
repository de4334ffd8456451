//! The recombination of two loci, estimated from counted classes.
//!
//! Joins what a cross would show at each recombination fraction to what was counted. The counts stand as they
//! are: the label at its word, nothing misread. `linkage` asks.

use crate::genetics::expect::{Classes, ExpectError};
use crate::genetics::recombination::haldane_distance;
use crate::genetics::two_point::{Lying, Phase, TwoPoint};
use crate::stats::counts::{GoodnessOfFit, goodness_of_fit};
use crate::stats::curve::{Curve, Estimate, Polynomial};
use crate::stats::tails::chi_square_upper;

/// Confidence of the intervals.
const CONFIDENCE: f64 = 0.95;

/// What counts say of the recombination of two loci.
#[derive(Debug, Clone, PartialEq)]
pub struct Linkage {
    /// The estimate: value, standard errors, interval.
    pub estimate: Estimate,
    /// log10 of the likelihood there over that of independence.
    pub lod: f64,
    /// Map distance in centimorgans (Haldane); nothing from one half up.
    pub distance: Option<f64>,
    /// The distances of the interval's ends.
    pub distances: [Option<f64>; 2],
    /// How the alleles lie in mother and father.
    pub phases: [Option<Phase>; 2],
    /// How many times likelier that is than the next best way; nothing where the phase was stated.
    pub times: Option<f64>,
    /// The counts beside what the estimate expects, and how well they fit.
    pub fit: GoodnessOfFit,
}

/// Why there is no estimate.
#[derive(Debug, Clone, PartialEq)]
pub enum NoEstimate {
    /// No expectation.
    Expect(ExpectError),
    /// Neither parent is known to be heterozygous at both loci, or the classes do not show it.
    Silent,
    /// Counted where none can come at any recombination: the classes.
    Impossible(Vec<Classes>),
}

/// The classes of a cross in order, as counts of them are given.
///
/// # Errors
/// [`NoEstimate::Expect`].
pub fn classes_of(question: &TwoPoint<'_>) -> Result<Vec<Classes>, NoEstimate> {
    let lyings = question.lyings();
    let shares = question.shares(&lyings[0]).map_err(NoEstimate::Expect)?;
    Ok(shares.into_iter().map(|(classes, _)| classes).collect())
}

/// The estimate from counts, one for each of [`classes_of`].
///
/// With the phase stated every fraction from 0 to 1 is tried, so that one above one half shows a phase stated
/// wrongly; with it open, from 0 to one half, in every way of lying, and the likeliest is taken.
///
/// # Errors
/// [`NoEstimate`].
pub fn estimate(question: &TwoPoint<'_>, counts: &[u64]) -> Result<Linkage, NoEstimate> {
    if !question.can_tell() {
        return Err(NoEstimate::Silent);
    }
    let lyings = question.lyings();
    let most = if lyings.len() > 1 { 0.5 } else { 1.0 };
    let mut found: Vec<(Estimate, Vec<Polynomial>, &Lying)> = Vec::new();
    for lying in &lyings {
        let shares = question.shares(lying).map_err(NoEstimate::Expect)?;
        let shares: Vec<Polynomial> = shares
            .iter()
            .map(|(_, points)| Polynomial::through(points))
            .collect();
        let best = Curve::new(counts, &shares).estimate([0.0, most], CONFIDENCE);
        found.extend(best.map(|best| (best, shares, lying)));
    }
    let height = |one: &(Estimate, Vec<Polynomial>, &Lying)| one.0.log_likelihood;
    found.sort_by(|a, b| height(b).total_cmp(&height(a)));
    let Some((best, shares, lying)) = found.first() else {
        return Err(NoEstimate::Impossible(impossible(
            question, &lyings, counts,
        )?));
    };
    let curve = Curve::new(counts, shares);
    if shares.iter().all(is_flat) {
        return Err(NoEstimate::Silent);
    }
    let probabilities: Vec<f64> = shares.iter().map(|s| s.at(best.value).max(0.0)).collect();
    Ok(Linkage {
        lod: (best.log_likelihood - curve.log_likelihood(0.5)) / std::f64::consts::LN_10,
        distance: haldane_distance(best.value),
        distances: [haldane_distance(best.low), haldane_distance(best.high)],
        phases: lying.phases,
        times: found
            .get(1)
            .map(|next| (best.log_likelihood - next.0.log_likelihood).exp()),
        fit: goodness_of_fit(counts, &probabilities, 1),
        estimate: *best,
    })
}

/// What several sets of counts say together of the recombination of two loci.
#[derive(Debug, Clone, PartialEq)]
pub struct JointLinkage {
    /// The estimate from all of them.
    pub linkage: Linkage,
    /// Each by itself.
    pub each: Vec<Estimate>,
    /// 2(sum of ln L of each at its own best - ln L of all at the joint best).
    pub heterogeneity: f64,
    /// One less than there are sets.
    pub df: usize,
    /// The chance of sets of one recombination fraction differing so much (Wilks 1938).
    pub p: f64,
}

/// The estimate from several sets of counts of the same two loci, each with its phase stated: the likelihoods
/// multiplied (Fisher, Statistical Methods for Research Workers, on joining F2s in coupling and repulsion).
///
/// # Errors
/// [`NoEstimate`].
///
/// # Panics
/// If there are not as many sets of counts as questions.
pub fn estimate_jointly(
    questions: &[TwoPoint<'_>],
    sets: &[&[u64]],
) -> Result<JointLinkage, NoEstimate> {
    assert_eq!(questions.len(), sets.len(), "one question for each set");
    let all: u64 = sets.iter().copied().flatten().sum();
    let (mut each, mut counts, mut shares) = (Vec::new(), Vec::new(), Vec::new());
    let mut phases = [None, None];
    for (question, set) in questions.iter().zip(sets) {
        let own = estimate(question, set)?;
        let share_of_all = set.iter().sum::<u64>() as f64 / all as f64;
        let lying = &question.lyings()[0];
        for (_, points) in question.shares(lying).map_err(NoEstimate::Expect)? {
            let scaled: Vec<(f64, f64)> = points
                .into_iter()
                .map(|(r, p)| (r, p * share_of_all))
                .collect();
            shares.push(Polynomial::through(&scaled));
        }
        counts.extend_from_slice(set);
        each.push(own.estimate);
        phases = lying.phases;
    }
    let curve = Curve::new(&counts, &shares);
    let best = curve.estimate([0.0, 1.0], CONFIDENCE);
    let best = best.ok_or_else(|| NoEstimate::Impossible(Vec::new()))?;
    let probabilities: Vec<f64> = shares.iter().map(|s| s.at(best.value).max(0.0)).collect();
    // Each set's shares were scaled to its part of all plants, which adds a constant to its log likelihood.
    let constant: f64 = sets
        .iter()
        .map(|set| set.iter().sum::<u64>() as f64)
        .map(|n| {
            if n > 0.0 {
                n * (n / all as f64).ln()
            } else {
                0.0
            }
        })
        .sum();
    let apart: f64 = each.iter().map(|own| own.log_likelihood).sum();
    let heterogeneity = (2.0 * (apart + constant - best.log_likelihood)).max(0.0);
    let df = sets.len() - 1;
    Ok(JointLinkage {
        linkage: Linkage {
            lod: (best.log_likelihood - curve.log_likelihood(0.5)) / std::f64::consts::LN_10,
            distance: haldane_distance(best.value),
            distances: [haldane_distance(best.low), haldane_distance(best.high)],
            phases,
            times: None,
            fit: goodness_of_fit(&counts, &probabilities, sets.len()),
            estimate: best,
        },
        each,
        heterogeneity,
        df,
        p: chi_square_upper(heterogeneity, df),
    })
}

/// Whether a share is the same at every fraction.
fn is_flat(share: &Polynomial) -> bool {
    let first = share.at(0.0);
    [0.25, 0.5, 0.75, 1.0]
        .iter()
        .all(|r| (share.at(*r) - first).abs() < 1e-12)
}

/// The classes counted that cannot come at any fraction in any way of lying.
fn impossible(
    question: &TwoPoint<'_>,
    lyings: &[Lying],
    counts: &[u64],
) -> Result<Vec<Classes>, NoEstimate> {
    let mut never: Option<Vec<Classes>> = None;
    for lying in lyings {
        let shares = question.shares(lying).map_err(NoEstimate::Expect)?;
        let counted = shares.into_iter().zip(counts).filter(|(_, n)| **n > 0);
        let here: Vec<Classes> = counted
            .filter(|((_, points), _)| points.iter().all(|(_, p)| *p <= 0.0))
            .map(|((classes, _), _)| classes)
            .collect();
        never = Some(match never {
            Some(never) => never.into_iter().filter(|c| here.contains(c)).collect(),
            None => here,
        });
    }
    Ok(never.unwrap_or_default())
}
