//! How often something goes wrong, learnt from the ledger's own batches.
//!
//! The chance that a batch is wholly as labelled, by technique or by tool, and the Beta distributions of the off-type
//! share, by penalised marginal likelihood: the sum of log P(batch), and the starting beliefs as if they rested on ten
//! further batches. Standard errors by the curvature at the top. Stores nothing; the command line calls it.

use std::collections::BTreeSet;

use crate::records::assumptions::Assumptions;
use crate::records::facts::Facts;

use super::DiagnosisError;
use super::answer::EvidenceNote;
use super::context::Basis;
use super::mishaps_batches::{Kind, LeftOut, Told, tell};
use super::mishaps_climb::Climb;
use super::mishaps_spared::{OffTypes, off_types};
use super::sources::Technique;

/// What the starting beliefs count for, in batches (design choice).
pub const WORTH: f64 = 10.0;

/// The sum of a Beta's two numbers stays between these (design choice).
pub const FIRMNESS: [f64; 2] = [2.0, 50.0];

/// By what batches are told apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Grouping {
    /// By how the flowers were treated.
    ByTechnique,
    /// By the tool and whether it was wiped; crosses only.
    ByTool,
}

/// A fitted probability and how sure it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chance {
    /// The probability.
    pub value: f64,
    /// Its standard error.
    pub se: f64,
    /// Bounds of its 95 % interval, symmetric in the log odds.
    pub interval: [f64; 2],
}

/// Batches of one technique or tool.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// The technique; nothing where batches are told apart by tool.
    pub technique: Option<Technique>,
    /// The tool, where batches are told apart by it.
    pub tool: Option<String>,
    /// How many batches.
    pub batches: usize,
    /// How many seedlings.
    pub seedlings: i64,
    /// P(none) as it is by default; of a tool, the mean over its batches.
    pub default: f64,
    /// P(none) as in use; likewise.
    pub in_use: f64,
    /// P(none) as fitted.
    pub none: Chance,
    /// How many of the batches are expected to be wholly as labelled.
    pub clean: f64,
}

/// The share of off-types that one kind of source brings.
#[derive(Debug, Clone, PartialEq)]
pub struct KindShare {
    /// The kind.
    pub kind: Kind,
    /// Beta(a, b) by default.
    pub default: [f64; 2],
    /// As in use.
    pub in_use: [f64; 2],
    /// As fitted.
    pub beta: [f64; 2],
    /// The mean share as fitted.
    pub mean: Chance,
    /// How many batches are expected to have it.
    pub batches: f64,
}

/// How many pollinations and lots the batches of crosses and selfs come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Origins {
    /// Batches that come from a pollination.
    pub batches: usize,
    /// Different pollinations.
    pub pollinations: usize,
    /// Different lots that were named.
    pub lots: usize,
}

impl Origins {
    fn of(told: &[Told]) -> Self {
        let different = |of: fn(&Told) -> &Vec<i64>| {
            let all: BTreeSet<i64> = told.iter().flat_map(|one| of(one).clone()).collect();
            all.len()
        };
        Self {
            batches: told
                .iter()
                .filter(|one| !one.pollinations.is_empty())
                .count(),
            pollinations: different(|one| &one.pollinations),
            lots: different(|one| &one.lots),
        }
    }
}

/// What the ledger's batches teach about mishaps.
#[derive(Debug, Clone, PartialEq)]
pub struct Mishaps {
    /// How batches were told apart.
    pub grouping: Grouping,
    /// How many batches it rests on.
    pub batches: usize,
    /// What they come from.
    pub origins: Origins,
    /// How many of these could not have shown a mishap.
    pub blind: usize,
    /// Batches left out.
    pub left_out: Vec<LeftOut>,
    /// Traits of batches that are weighed without them, since with them the sums would be too large.
    pub traits_left_out: Vec<EvidenceNote>,
    /// Techniques or tools.
    pub groups: Vec<Group>,
    /// Shares by kind.
    pub shares: Vec<KindShare>,
    /// Off-types expected per 100 seedlings of crosses; nothing where none was weighed, or by tool.
    pub off_types: Option<OffTypes>,
}

/// What the ledger's batches teach.
///
/// # Errors
/// [`DiagnosisError`] where a stored text cannot be read.
pub fn learn(facts: &Facts, grouping: Grouping) -> Result<Mishaps, DiagnosisError> {
    let basis = Basis::of(facts)?;
    let context = basis.context()?;
    let (mut told, without) = tell(&context);
    if grouping == Grouping::ByTool {
        told.retain(|one| one.tool.is_some());
    }
    let mut mishaps = fit(&told, context.beliefs, grouping);
    mishaps.left_out = without.batches;
    mishaps.traits_left_out = without.traits;
    if grouping == Grouping::ByTechnique {
        let fitted = mishaps.beliefs(context.beliefs);
        mishaps.off_types = off_types(&context, &told, &fitted);
    }
    Ok(mishaps)
}

/// The key of P(none) of a technique.
#[must_use]
pub const fn none_key(technique: Technique) -> &'static str {
    match technique {
        Technique::NotEmasculated => "none.not-emasculated",
        Technique::Emasculated => "none.emasculated",
        Technique::Covered => "none.covered",
        Technique::SelfOpen => "none.self-open",
        Technique::SelfCovered => "none.self-covered",
    }
}

/// The keys of the two numbers of a kind's share.
#[must_use]
pub const fn share_keys(kind: Kind) -> [&'static str; 2] {
    match kind {
        Kind::Selfed => ["share.self.a", "share.self.b"],
        Kind::Pollen => ["share.pollen.a", "share.pollen.b"],
        Kind::Seed => ["share.seed.a", "share.seed.b"],
    }
}

impl Mishaps {
    /// Every key that was fitted, with its value.
    #[must_use]
    pub fn fitted(&self) -> Vec<(&'static str, f64)> {
        let none = |group: &Group| Some((none_key(group.technique?), group.none.value));
        let mut all: Vec<(&'static str, f64)> = self.groups.iter().filter_map(none).collect();
        for share in &self.shares {
            all.extend(share_keys(share.kind).into_iter().zip(share.beta));
        }
        all
    }

    /// Whether figures were taken into use before, and none has moved from them beyond its standard error.
    #[must_use]
    pub fn has_settled(&self) -> bool {
        let mean = |[a, b]: [f64; 2]| a / (a + b);
        let taken = self
            .groups
            .iter()
            .any(|group| group.in_use != group.default)
            || self
                .shares
                .iter()
                .any(|share| share.in_use != share.default);
        let near = |chance: Chance, in_use: f64| (chance.value - in_use).abs() <= chance.se;
        taken
            && self
                .groups
                .iter()
                .all(|group| near(group.none, group.in_use))
            && self
                .shares
                .iter()
                .all(|share| near(share.mean, mean(share.in_use)))
    }

    /// Beliefs with the fitted values in the place of those they had.
    #[must_use]
    pub fn beliefs(&self, beliefs: &Assumptions) -> Assumptions {
        let fitted = self.fitted().into_iter();
        fitted.fold(beliefs.clone(), |all, (key, value)| all.with(key, value))
    }
}

/// The fit of what some batches say. Without any it is the starting beliefs.
#[must_use]
pub fn fit(told: &[Told], beliefs: &Assumptions, grouping: Grouping) -> Mishaps {
    let mut climb = Climb::new(told, grouping);
    climb.rise();
    let errors = climb.standard_errors();
    let groups = climb.describe_groups(beliefs, &errors);
    let shares = climb.describe_shares(beliefs, &errors);
    Mishaps {
        grouping,
        batches: told.len(),
        origins: Origins::of(told),
        blind: climb.count_blind(),
        left_out: Vec::new(),
        traits_left_out: Vec::new(),
        groups,
        shares,
        off_types: None,
    }
}
