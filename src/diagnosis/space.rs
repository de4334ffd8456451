//! The genotypes that matter for a batch: those at the loci that its traits read, and no others.
//!
//! A joint genotype is a number that counts through the loci's genotypes, the last locus running fastest.
//! What the eye can tell apart of them is a profile: the final class of each trait read.

use std::collections::HashMap;

use crate::genetics::genotype::Diploid;
use crate::genetics::locus::{LocusBook, LocusIx};
use crate::genetics::rule::Cytoplasm;

use super::looks::Looks;

/// Genotypes at a few independent loci.
#[derive(Debug, Clone, PartialEq)]
pub struct Space {
    /// The loci, ascending.
    pub loci: Vec<LocusIx>,
    /// Number of alleles at each.
    pub alleles: Vec<usize>,
    /// The genotypes at each.
    pub pairs: Vec<Vec<Diploid>>,
    /// How many joint genotypes.
    pub size: usize,
}

impl Space {
    /// The genotypes at `loci`.
    #[must_use]
    pub fn new(book: &LocusBook, loci: &[LocusIx]) -> Self {
        let alleles: Vec<usize> = loci.iter().map(|ix| book.get(*ix).alleles.len()).collect();
        let pairs: Vec<Vec<Diploid>> = alleles.iter().map(|k| Diploid::all(*k)).collect();
        let size = pairs.iter().map(Vec::len).product();
        Self {
            loci: loci.to_vec(),
            alleles,
            pairs,
            size,
        }
    }

    /// The genotypes of a joint genotype, locus by locus.
    #[must_use]
    pub fn genotype(&self, joint: usize) -> Vec<Diploid> {
        self.digits(joint)
            .iter()
            .zip(&self.pairs)
            .map(|(at, pairs)| pairs[*at])
            .collect()
    }

    /// The number of the genotype at each locus of a joint genotype.
    #[must_use]
    pub fn digits(&self, mut joint: usize) -> Vec<usize> {
        let mut digits = vec![0; self.pairs.len()];
        for (digit, pairs) in digits.iter_mut().zip(&self.pairs).rev() {
            *digit = joint % pairs.len();
            joint /= pairs.len();
        }
        digits
    }

    /// The joint distribution of independent loci.
    #[must_use]
    pub fn joint(&self, by_locus: &[Vec<f64>]) -> Vec<f64> {
        by_locus.iter().fold(vec![1.0], |joint, locus| {
            joint
                .iter()
                .flat_map(|p| locus.iter().map(move |q| p * q))
                .collect()
        })
    }

    /// The gametes of a joint genotype: for each locus the chance of each allele.
    #[must_use]
    pub fn gametes(&self, joint: usize) -> Vec<Vec<f64>> {
        self.genotype(joint)
            .iter()
            .zip(&self.alleles)
            .map(|(pair, k)| (0..*k).map(|allele| pair.gamete(small(allele))).collect())
            .collect()
    }

    /// The joint distribution of the offspring of two sets of gametes.
    #[must_use]
    pub fn offspring(&self, mother: &[Vec<f64>], father: &[Vec<f64>]) -> Vec<f64> {
        let by_locus: Vec<Vec<f64>> = mother
            .iter()
            .zip(father)
            .zip(&self.pairs)
            .map(|((m, f), pairs)| union(pairs, m, f))
            .collect();
        self.joint(&by_locus)
    }
}

/// The distribution of the pairs that two gamete distributions of one locus make.
#[must_use]
pub fn union(pairs: &[Diploid], mother: &[f64], father: &[f64]) -> Vec<f64> {
    pairs
        .iter()
        .map(|pair| {
            let (a, b) = (usize::from(pair.a()), usize::from(pair.b()));
            if a == b {
                mother[a] * father[a]
            } else {
                mother[a] * father[b] + mother[b] * father[a]
            }
        })
        .collect()
}

/// The gametes of an uncertain genotype at one locus.
#[must_use]
pub fn mean_gametes(pairs: &[Diploid], weights: &[f64], alleles: usize) -> Vec<f64> {
    (0..alleles)
        .map(|allele| {
            pairs
                .iter()
                .zip(weights)
                .map(|(pair, w)| w * pair.gamete(small(allele)))
                .sum()
        })
        .collect()
}

fn small(allele: usize) -> u8 {
    u8::try_from(allele).expect("a locus has fewer than 256 alleles")
}

/// The profiles of a batch's traits.
#[derive(Debug, Clone)]
pub struct Profiles {
    /// The traits, as places among the ledger's.
    pub traits: Vec<usize>,
    /// For each profile the final class of each trait.
    pub classes: Vec<Vec<usize>>,
    of_genotype: [Vec<usize>; 3],
    /// For each profile a joint genotype that has it.
    genotypes: Vec<usize>,
}

const fn cytoplasm_place(cytoplasm: Cytoplasm) -> usize {
    match cytoplasm {
        Cytoplasm::Normal => 0,
        Cytoplasm::Sterile => 1,
        Cytoplasm::Unknown => 2,
    }
}

impl Profiles {
    /// What the genotypes of a space look like in the end.
    #[must_use]
    pub fn new(looks: &Looks, space: &Space, traits: &[usize]) -> Self {
        Self::told_apart(looks, space, traits, |_| 0)
    }

    /// The same, genotypes that look alike told apart.
    #[must_use]
    pub fn finest(looks: &Looks, space: &Space, traits: &[usize]) -> Self {
        Self::told_apart(looks, space, traits, |joint| joint)
    }

    fn told_apart(
        looks: &Looks,
        space: &Space,
        traits: &[usize],
        by: impl Fn(usize) -> usize,
    ) -> Self {
        let mut places: HashMap<(usize, Vec<usize>), usize> = HashMap::new();
        let mut classes: Vec<Vec<usize>> = Vec::new();
        let mut genotypes: Vec<usize> = Vec::new();
        let of_genotype =
            [Cytoplasm::Normal, Cytoplasm::Sterile, Cytoplasm::Unknown].map(|cytoplasm| {
                (0..space.size)
                    .map(|joint| {
                        let seen = final_classes(looks, space, traits, joint, cytoplasm);
                        *places.entry((by(joint), seen.clone())).or_insert_with(|| {
                            classes.push(seen);
                            genotypes.push(joint);
                            classes.len() - 1
                        })
                    })
                    .collect()
            });
        Self {
            traits: traits.to_vec(),
            classes,
            of_genotype,
            genotypes,
        }
    }

    /// A joint genotype of a profile; the only one where all are told apart.
    #[must_use]
    pub fn genotype_of(&self, profile: usize) -> usize {
        self.genotypes[profile]
    }

    /// How many there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.classes.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.classes.is_empty()
    }

    /// The distribution over profiles of a distribution over joint genotypes.
    #[must_use]
    pub fn project(&self, joint: &[f64], cytoplasm: Cytoplasm) -> Vec<f64> {
        let mut sums = vec![0.0; self.classes.len()];
        for (p, profile) in joint
            .iter()
            .zip(&self.of_genotype[cytoplasm_place(cytoplasm)])
        {
            sums[*profile] += p;
        }
        sums
    }
}

fn final_classes(
    looks: &Looks,
    space: &Space,
    traits: &[usize],
    joint: usize,
    cytoplasm: Cytoplasm,
) -> Vec<usize> {
    let genotype = space.genotype(joint);
    let at = |locus: &LocusIx| {
        let place = space.loci.iter().position(|own| own == locus);
        genotype[place.expect("a space holds every locus that its traits read")]
    };
    traits
        .iter()
        .map(|place| {
            let model = &looks.traits[*place].model;
            let pairs: Vec<Diploid> = model.loci().iter().map(at).collect();
            model.class_of(&pairs, cytoplasm)
        })
        .collect()
}
