//! What a cross is expected to give, in classes of one or several traits.
//!
//! Two plants, the descent from them to the seedlings and the arrangement of the loci on their chromosomes
//! give the shares of the classes; only loci that a model in question reads are carried. Stated genotypes
//! and typed recombination fractions give exact whole numbers over a common denominator while 128 bits
//! hold them, all else gives probabilities. Ages, misreadings and plants' names are not known here;
//! `expect`, `ratio`, `linkage` and the diagnosis ask.

use std::collections::BTreeMap;

use thiserror::Error;

use super::descent::Descent;
use super::fraction::Fraction;
use super::genotype::Diploid;
use super::linkage::{Arrangement, Chromosome, LinkageError};
use super::locus::LocusIx;
use super::lots::{Lot, MOST_PAIRS, breed_lots};
use super::notation::{Genotype, StatedLocus};
use super::ratio::{Ratio, whole_number_ratio};
use super::rule::{Cytoplasm, GeneModel};
use super::segregation::{AtLocus, gcd};
use super::selection::{Selection, dies};
use super::strands::{MOST_MEGABYTES, steps_along};
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

    /// The parent as it can be, being alive: beliefs without the genotypes that die; nothing where none is left.
    #[must_use]
    pub fn living(&self, selection: &[Selection]) -> Option<Self> {
        let mut living = self.clone();
        for (locus, at) in &mut living.loci {
            let AtLocus::Weighted(weights) = at else {
                continue;
            };
            weights.retain(|(pair, p)| *p > 0.0 && !dies(selection, *locus, *pair));
            let total: f64 = weights.iter().map(|(_, p)| p).sum();
            if weights.is_empty() {
                return None;
            }
            for (_, p) in weights {
                *p /= total;
            }
        }
        Some(living)
    }

    /// What is known at a locus.
    #[must_use]
    pub fn at(&self, locus: LocusIx) -> Option<&AtLocus> {
        self.loci.get(&locus)
    }
}

/// The heterozygous loci of a plant that lie on one chromosome without all their phases known, by chromosome.
#[must_use]
pub fn open_phases(plant: &Parent, arrangement: &Arrangement) -> Vec<Vec<LocusIx>> {
    let open = |chromosome: &Chromosome| {
        let at = |locus: &LocusIx| plant.at(*locus);
        let is_het = |locus: &&LocusIx| {
            let known = at(locus).and_then(AtLocus::known);
            known.is_some_and(|pair| !pair.is_homozygous())
        };
        let het: Vec<LocusIx> = chromosome.loci.iter().filter(is_het).copied().collect();
        let unphased = |locus: &LocusIx| matches!(at(locus), Some(AtLocus::Known(_)));
        (het.len() > 1 && het.iter().any(unphased)).then_some(het)
    };
    arrangement.chromosomes.iter().filter_map(open).collect()
}

fn at_its_word(stated: Option<&StatedLocus>, prior: Vec<(Diploid, f64)>) -> AtLocus {
    if let Some(at) = stated
        && let (Some(one), Some(other)) = (at.first, at.second)
    {
        return if at.phased {
            AtLocus::Phased([one, other])
        } else {
            AtLocus::Known(Diploid::new(one, other))
        };
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
#[derive(Clone, Debug, PartialEq, Error)]
pub enum ExpectError {
    /// A parent says nothing of a locus that a model reads.
    #[error("a parent has neither a genotype nor a belief at locus number {}", .0.0)]
    LocusMissing(LocusIx),
    /// More states than are held at once.
    #[error(
        "this would need at least {cells:.0} states at once, about {} MB; up to {MOST_MEGABYTES} MB are held",
        .megabytes.ceil()
    )]
    TooLarge {
        /// How many.
        cells: f64,
        /// The memory that they take.
        megabytes: f64,
    },
    /// More pairs of parents than are worked out one by one.
    #[error(
        "at the loci that a condition is about the parents may be {pairs:.0} different pairs of plants; up to {MOST_PAIRS} are worked out one by one"
    )]
    TooManyPairs {
        /// How many.
        pairs: f64,
    },
    /// The loci cannot be sorted into chromosomes.
    #[error(transparent)]
    Linkage(#[from] LinkageError),
    /// Every seedling dies, or nothing was left to breed from.
    #[error("no seedling of this cross would live")]
    NoneLive,
}

/// What is bred: two plants, the descent from them, and how the loci lie.
#[derive(Clone, Copy, Debug)]
pub struct Breeding<'a> {
    /// The plant named as mother; the only one where the descent names no father.
    pub mother: &'a Parent,
    /// The plant named as father.
    pub father: &'a Parent,
    /// From them to the seedlings.
    pub descent: &'a Descent,
    /// The loci that the models read, by chromosome.
    pub arrangement: &'a Arrangement,
    /// What keeps genotypes and pollen from having their share.
    pub selection: &'a [Selection],
}

impl Breeding<'_> {
    /// Whether the father has any part in it.
    #[must_use]
    pub fn needs_father(&self) -> bool {
        self.descent.names_father()
    }
}

/// Shares of the classes of seedlings.
#[derive(Clone, Debug, PartialEq)]
pub struct Shares {
    /// Class per trait and probability, in the order of the classes.
    pub classes: Vec<(Classes, f64)>,
    /// The same in whole numbers, where they are.
    pub exact: Option<ExactExpectation>,
}

/// The shares of the classes among the seedlings bred; see [`breed_lots`].
///
/// # Errors
/// [`ExpectError`].
pub fn breed(breeding: &Breeding<'_>, models: &[&GeneModel]) -> Result<Shares, ExpectError> {
    let lot = Lot {
        part: Fraction::ONE,
        descent: breeding.descent,
    };
    breed_lots(breeding, &[lot], models)
}

/// The steps that working a breeding out takes, its size without the open rules.
///
/// # Errors
/// [`ExpectError`] where a parent lacks a locus.
pub fn steps_of(breeding: &Breeding<'_>) -> Result<f64, ExpectError> {
    let chromosomes = breeding.arrangement.chromosomes.iter();
    chromosomes.map(|one| steps_along(breeding, one)).sum()
}

impl Shares {
    /// The mean of several, each with its weight; nothing of none. Only one that is alone stays in whole numbers.
    #[must_use]
    pub fn mean(weighed: &[(f64, Self)]) -> Option<Self> {
        if let [(_, only)] = weighed {
            return Some(only.clone());
        }
        let total: f64 = weighed.iter().map(|(weight, _)| weight).sum();
        let mut sums: BTreeMap<Classes, f64> = BTreeMap::new();
        for (weight, one) in weighed {
            for (classes, p) in &one.classes {
                *sums.entry(classes.clone()).or_default() += weight / total * p;
            }
        }
        (total > 0.0).then(|| Self {
            classes: sums.into_iter().collect(),
            exact: None,
        })
    }

    pub(super) fn exact(sums: BTreeMap<Classes, u128>, whole: u128) -> Self {
        let common = sums.values().fold(whole, |g, n| gcd(g, *n));
        let classes = sums.into_iter().map(|(classes, n)| (classes, n / common));
        let exact = ExactExpectation {
            classes: classes.collect(),
            denominator: whole / common,
        };
        Self {
            classes: exact.probabilities(),
            exact: Some(exact),
        }
    }
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

/// Loci each by itself: an arrangement without linkage.
#[must_use]
pub fn independent(loci: &[LocusIx]) -> Arrangement {
    let alone = |locus: &LocusIx| Chromosome {
        loci: vec![*locus],
        steps: Vec::new(),
    };
    Arrangement {
        chromosomes: loci.iter().map(alone).collect(),
        ..Arrangement::default()
    }
}

/// The combinations of classes that some genotype has, in order.
pub(super) fn possible_classes(models: &[&GeneModel], cytoplasm: Cytoplasm) -> Vec<Classes> {
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

/// The class of each model by the rules left open.
pub(super) fn name_classes(models: &[&GeneModel], open: &[u64]) -> Classes {
    models
        .iter()
        .zip(open)
        .map(|(model, open)| model.first_class(*open))
        .collect()
}
