//! Parents of which more is known than is stated: what their looks and their seedlings tell beyond the word.
//!
//! Plans take parents at their word; where that leaves something open and the records tell more, this says what, so that
//! the answer can name it. Changes no probability. Called by `plan seeds` and `plan space`.

use super::context::Context;
use super::genotypes::parents_believed;
use crate::genetics::locus::LocusIx;
use crate::genetics::segregation::AtLocus;

/// How much of the probability must lie elsewhere than by the word before it is said (design choice).
const WORTH_SAYING: f64 = 0.1;

/// A parent's locus of which more is known than is stated.
#[derive(Debug, Clone, PartialEq)]
pub struct BetterKnown {
    /// The plant as an answer names it.
    pub plant: String,
    /// The locus.
    pub locus: String,
    /// Its likeliest genotype there.
    pub genotype: String,
    /// How likely that is, by everything recorded.
    pub p: f64,
}

/// The loci of two parents that their word leaves open and of which everything recorded tells more. What cannot be
/// worked out is not said.
#[must_use]
pub fn better_known(
    context: &Context<'_>,
    parents: (i64, i64),
    loci: &[LocusIx],
) -> Vec<BetterKnown> {
    let mut plants = vec![parents.0, parents.1];
    plants.dedup();
    let each = plants.iter().flat_map(|plant| {
        let of = |locus: &LocusIx| at_locus(context, *plant, *locus);
        loci.iter().filter_map(of).collect::<Vec<_>>()
    });
    each.collect()
}

fn at_locus(context: &Context<'_>, plant: i64, locus: LocusIx) -> Option<BetterKnown> {
    let word = context.plants.at_word(plant, locus);
    if word.iter().filter(|p| **p > 0.0).count() < 2 {
        return None;
    }
    let pairs = context.plants.pairs(locus);
    let mut believed = vec![0.0; pairs.len()];
    for (genotype, _, p) in parents_believed(context, (plant, plant), &[locus]).ok()? {
        let known = genotype.first().and_then(AtLocus::known)?;
        believed[pairs.iter().position(|pair| *pair == known)?] += p;
    }
    // The total variation distance of the two.
    let moved: f64 = believed
        .iter()
        .zip(&word)
        .map(|(now, word)| (now - word).max(0.0))
        .sum();
    let (at, p) = (believed.iter().enumerate()).max_by(|one, other| one.1.total_cmp(other.1))?;
    let of = context.looks.book.get(locus);
    (moved >= WORTH_SAYING).then(|| BetterKnown {
        plant: context.index.facts.label_of_plant(plant),
        locus: of.symbol.clone(),
        genotype: pairs[at].written(of),
        p: *p,
    })
}
