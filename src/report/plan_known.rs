//! Parents of which the ledger knows more than is stated, in words and JSON.
//!
//! Part of the answers of `plan seeds` and `plan space`.

use serde::Serialize;

use super::numbers::percent;
use super::text::{listed, shown};
use crate::diagnosis::better_known::BetterKnown;

/// A parent's locus of which more is known than is stated.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct KnownLine {
    /// The plant.
    pub plant: String,
    /// The locus.
    pub locus: String,
    /// Its likeliest genotype there.
    pub genotype: String,
    /// How likely that is.
    pub p: f64,
}

/// What is known more, as lines.
#[must_use]
pub fn known_lines(known: &[BetterKnown]) -> Vec<KnownLine> {
    let line = |one: &BetterKnown| KnownLine {
        plant: one.plant.clone(),
        locus: one.locus.clone(),
        genotype: one.genotype.clone(),
        p: one.p,
    };
    known.iter().map(line).collect()
}

impl KnownLine {
    /// `DW is A/a with 97.6 %`.
    #[must_use]
    pub fn said(&self) -> String {
        let (plant, genotype) = (shown(&self.plant), shown(&self.genotype));
        format!("{plant} is {genotype} with {}", percent(self.p))
    }
}

/// What stands below the answer where parents were taken at their word though more is known of them.
pub(super) fn more_is_known(known: &[KnownLine]) -> Option<String> {
    let said: Vec<String> = known.iter().map(KnownLine::said).collect();
    (!said.is_empty()).then(|| {
        format!(
            "The ledger knows more than is stated: {}. Plan by it with --believed.",
            listed(&said, "and")
        )
    })
}

/// What the parents were taken for, where that is everything recorded.
pub(super) const BY_EVERYTHING: &str =
    "the parents: what they may be by everything recorded, for all seed together";
