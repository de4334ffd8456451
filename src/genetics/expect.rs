//! What a cross is expected to give, in classes of one or several traits.
//!
//! Offspring genotypes are the mother's gametes times the father's; loci are independent (Mendel's
//! second law), and only loci that a model in question reads are carried. Stated genotypes give exact
//! whole numbers over a common denominator, believed ones give probabilities. Ages, misreadings and
//! plants' names are not known here; `expect`, `ratio` and the diagnosis ask.

use std::collections::BTreeMap;

use thiserror::Error;

use super::genotype::Diploid;
use super::locus::LocusIx;
use super::notation::{Genotype, StatedLocus};
use super::ratio::{Ratio, whole_number_ratio};
use super::rule::{Cytoplasm, GeneModel};
use super::segregation::{AtLocus, Segregation, cross_believed, cross_known, gcd, self_believed};
use super::sweep::{Group, Outcome, every_genotype, walk};

/// A parent: what is known or believed of it at each locus, and its cytoplasm.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Parent {
    /// Per locus the genotype or the belief.
    pub loci: BTreeMap<LocusIx, AtLocus>,
    /// The cytoplasm, which a mother hands on.
    pub cytoplasm: Cytoplasm,
}

impl Parent {
    /// A parent taken at its word: what the genotype states is so, and what it leaves open is filled
    /// from `prior` (every genotype at a locus with its probability), kept to what fits the
    /// statement. Of `loci` every one is filled.
    pub fn stated(
        genotype: &Genotype,
        loci: &[LocusIx],
        prior: impl Fn(LocusIx) -> Vec<(Diploid, f64)>,
    ) -> Self {
        let fill = |locus: &LocusIx| (*locus, at_its_word(genotype.at(*locus), prior(*locus)));
        Self {
            loci: loci.iter().map(fill).collect(),
            cytoplasm: Cytoplasm::Unknown,
        }
    }

    /// What is known at a locus.
    #[must_use]
    pub fn at(&self, locus: LocusIx) -> Option<&AtLocus> {
        self.loci.get(&locus)
    }

    fn known(&self, locus: LocusIx) -> Option<Diploid> {
        match self.at(locus)? {
            AtLocus::Known(pair) => Some(*pair),
            AtLocus::Weighted(_) => None,
        }
    }
}

fn at_its_word(stated: Option<&StatedLocus>, prior: Vec<(Diploid, f64)>) -> AtLocus {
    if let Some(pair) = stated.and_then(StatedLocus::diploid) {
        return AtLocus::Known(pair);
    }
    let fits = |pair: Diploid| stated.is_none_or(|s| s.matches(pair));
    let mut left: Vec<(Diploid, f64)> = prior.into_iter().filter(|(pair, _)| fits(*pair)).collect();
    let total: f64 = left.iter().map(|(_, p)| p).sum();
    let count = left.len() as f64;
    for (_, p) in &mut left {
        *p = if total > 0.0 { *p / total } else { 1.0 / count };
    }
    AtLocus::Weighted(left)
}

/// Genotype probabilities of a founder from allele shares and the inbreeding coefficient F:
/// p_i^2 + F p_i (1 - p_i) for homozygotes and 2 p_i p_j (1 - F) for the others (Wright's
/// coefficient in the textbook form, from memory; with F = 0 Hardy-Weinberg). In the order of
/// [`Diploid::all`].
#[must_use]
pub fn founder_genotypes(shares: &[f64], inbreeding: f64) -> Vec<(Diploid, f64)> {
    let share = |allele: u8| shares[usize::from(allele)];
    let weigh = |pair: Diploid| {
        let (p, q) = (share(pair.a()), share(pair.b()));
        if pair.is_homozygous() {
            p * p + inbreeding * p * (1.0 - p)
        } else {
            2.0 * p * q * (1.0 - inbreeding)
        }
    };
    Diploid::all(shares.len())
        .into_iter()
        .map(|pair| (pair, weigh(pair)))
        .collect()
}

/// Combinations of classes, one class per trait.
pub type Classes = Vec<usize>;

/// Class probabilities as whole numbers over a common denominator.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ExactExpectation {
    /// Class per trait and numerator, in the order of the classes, first trait first. Every combination
    /// that some genotype has is there, with 0 if this cross cannot give it.
    pub classes: Vec<(Classes, u128)>,
    /// The sum of the numerators, without common factor with all of them.
    pub denominator: u128,
}

impl ExactExpectation {
    /// The probabilities as decimal fractions, in the same order.
    #[must_use]
    pub fn probabilities(&self) -> Vec<(Classes, f64)> {
        let p = |n: u128| n as f64 / self.denominator as f64;
        self.classes
            .iter()
            .map(|(classes, n)| (classes.clone(), p(*n)))
            .collect()
    }

    /// The parts of the ratio in the same order, 0 included, if they sum to at most `most_parts`.
    #[must_use]
    pub fn parts(&self, most_parts: u64) -> Option<Vec<u64>> {
        let numerators: Vec<u128> = self.classes.iter().map(|(_, n)| *n).collect();
        whole_number_ratio(&numerators, most_parts)
    }

    /// The ratio of the classes that the cross can give, if it is one of small whole numbers and there
    /// are at least two.
    #[must_use]
    pub fn ratio(&self, most_parts: u64) -> Option<Ratio> {
        let parts = self.parts(most_parts)?;
        Ratio::new(parts.into_iter().filter(|n| *n > 0).collect()).ok()
    }
}

/// Why an expectation cannot be formed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum ExpectError {
    /// A parent says nothing of a locus that a model reads.
    #[error("a parent has neither a genotype nor a belief at locus number {}", .0.0)]
    LocusMissing(LocusIx),
}

/// The loci that some models read, each once, those of one model side by side.
#[must_use]
pub fn loci_read(models: &[&GeneModel]) -> Vec<LocusIx> {
    let mut loci = Vec::new();
    for locus in models.iter().flat_map(|m| m.loci()) {
        if !loci.contains(locus) {
            loci.push(*locus);
        }
    }
    loci
}

/// The exact expectation of a cross (or a self, with one plant twice) when both parents' genotypes
/// are known at every locus that the models read; `None` when one is not, or when the numbers outgrow
/// 128 bits (more than 63 loci that segregate on both sides).
#[must_use]
pub fn expect_exact(
    mother: &Parent,
    father: &Parent,
    models: &[&GeneModel],
) -> Option<ExactExpectation> {
    let groups: Option<Vec<Segregation<u128>>> = loci_read(models)
        .into_iter()
        .map(|locus| {
            Some(cross_known(
                locus,
                mother.known(locus)?,
                father.known(locus)?,
            ))
        })
        .collect();
    exact_classes(&groups?, models, mother.cytoplasm)
}

/// The expectation of a cross of two different plants whose genotypes are known or believed, each
/// locus and each plant on its own.
///
/// # Errors
/// [`ExpectError::LocusMissing`].
pub fn expect_mixture(
    mother: &Parent,
    father: &Parent,
    models: &[&GeneModel],
) -> Result<Vec<(Classes, f64)>, ExpectError> {
    let cross = |locus| Some(cross_believed(locus, mother.at(locus)?, father.at(locus)?));
    mixture(models, mother.cytoplasm, cross)
}

/// The expectation of a plant with its own pollen; unlike a cross of two plants, an uncertain genotype
/// is the same on both sides.
///
/// # Errors
/// [`ExpectError::LocusMissing`].
pub fn expect_selfed(
    plant: &Parent,
    models: &[&GeneModel],
) -> Result<Vec<(Classes, f64)>, ExpectError> {
    let selfed = |locus| Some(self_believed(locus, plant.at(locus)?));
    mixture(models, plant.cytoplasm, selfed)
}

fn mixture(
    models: &[&GeneModel],
    cytoplasm: Cytoplasm,
    offspring: impl Fn(LocusIx) -> Option<Segregation<f64>>,
) -> Result<Vec<(Classes, f64)>, ExpectError> {
    let group = |locus| offspring(locus).ok_or(ExpectError::LocusMissing(locus));
    let groups: Vec<Segregation<f64>> = loci_read(models)
        .into_iter()
        .map(group)
        .collect::<Result<_, _>>()?;
    Ok(believed_classes(&groups, models, cytoplasm))
}

/// Class combinations of offspring that segregate in whole numbers, whatever the groups of loci;
/// `None` when the common denominator outgrows 128 bits.
#[must_use]
pub fn exact_classes(
    groups: &[Segregation<u128>],
    models: &[&GeneModel],
    cytoplasm: Cytoplasm,
) -> Option<ExactExpectation> {
    let whole = groups.iter().try_fold(1_u128, |product, group| {
        product.checked_mul(group.outcomes.iter().map(|(_, n)| n).sum())
    })?;
    let sums = add_up(
        groups,
        models,
        cytoplasm,
        1,
        |n, weight| n * weight,
        |m, n| m + n,
    );
    let common = sums.values().fold(whole, |g, n| gcd(g, *n));
    let classes = sums
        .into_iter()
        .map(|(classes, n)| (classes, n / common))
        .collect();
    Some(ExactExpectation {
        classes,
        denominator: whole / common,
    })
}

/// Class combinations of offspring that segregate with probabilities, whatever the groups of loci.
#[must_use]
pub fn believed_classes(
    groups: &[Segregation<f64>],
    models: &[&GeneModel],
    cytoplasm: Cytoplasm,
) -> Vec<(Classes, f64)> {
    let sums = add_up(
        groups,
        models,
        cytoplasm,
        1.0,
        |p, weight| p * weight,
        |p, q| p + q,
    );
    sums.into_iter().collect()
}

fn add_up<W: Copy + Default>(
    groups: &[Segregation<W>],
    models: &[&GeneModel],
    cytoplasm: Cytoplasm,
    one: W,
    times: impl Fn(W, W) -> W,
    plus: impl Fn(W, W) -> W,
) -> BTreeMap<Classes, W> {
    let borrowed: Vec<Group<'_, W>> = groups
        .iter()
        .map(|g| Group {
            loci: &g.loci,
            outcomes: &g.outcomes,
        })
        .collect();
    let extend = |value: &W, _: &Outcome, weight: &W| times(*value, *weight);
    let ends = walk(models, &borrowed, cytoplasm, one, extend, |one, other| {
        plus(*one, other)
    });
    let mut sums: BTreeMap<Classes, W> = possible_classes(models, cytoplasm)
        .into_iter()
        .map(|c| (c, W::default()))
        .collect();
    for (open, weight) in ends {
        let sum = sums.entry(name_classes(models, &open)).or_default();
        *sum = plus(*sum, weight);
    }
    sums
}

/// The combinations of classes that some genotype has, in order.
fn possible_classes(models: &[&GeneModel], cytoplasm: Cytoplasm) -> Vec<Classes> {
    let loci = loci_read(models);
    let count = |locus: &LocusIx| {
        let counts = |m: &&GeneModel| {
            let place = m.loci().iter().position(|l| l == locus)?;
            Some(m.allele_counts()[place])
        };
        models
            .iter()
            .find_map(counts)
            .expect("each locus was read off one of the models")
    };
    let all: Vec<Vec<(Outcome, ())>> = loci.iter().map(|l| every_genotype(count(l))).collect();
    let groups: Vec<Group<'_, ()>> = (loci.iter().zip(&all))
        .map(|(locus, outcomes)| Group {
            loci: std::slice::from_ref(locus),
            outcomes,
        })
        .collect();
    let ends = walk(models, &groups, cytoplasm, (), |(), _, ()| (), |(), ()| ());
    ends.into_keys()
        .map(|open| name_classes(models, &open))
        .collect()
}

fn name_classes(models: &[&GeneModel], open: &[u64]) -> Classes {
    models
        .iter()
        .zip(open)
        .map(|(model, open)| model.first_class(*open))
        .collect()
}
