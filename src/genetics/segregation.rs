//! What is known of a plant at one locus.
//!
//! A genotype with or without its phase, or a belief over genotypes. How they come down to offspring is the
//! walk along the chromosomes; this only says what it starts from.

use super::genotype::Diploid;

/// What is known of a plant at one locus.
#[derive(Clone, Debug, PartialEq)]
pub enum AtLocus {
    /// The genotype is stated.
    Known(Diploid),
    /// The genotype is stated with its phase: the mother's allele, then the father's.
    Phased([u8; 2]),
    /// Genotypes with their probabilities, which sum to 1.
    Weighted(Vec<(Diploid, f64)>),
}

impl AtLocus {
    /// The genotypes with their probabilities.
    #[must_use]
    pub fn weights(&self) -> Vec<(Diploid, f64)> {
        match self {
            Self::Weighted(weights) => weights.clone(),
            Self::Known(pair) => vec![(*pair, 1.0)],
            Self::Phased([one, other]) => vec![(Diploid::new(*one, *other), 1.0)],
        }
    }

    /// The genotype, where it is certain.
    #[must_use]
    pub fn known(&self) -> Option<Diploid> {
        match self {
            Self::Known(pair) => Some(*pair),
            Self::Phased([one, other]) => Some(Diploid::new(*one, *other)),
            Self::Weighted(_) => None,
        }
    }

    /// Whether both alleles are certainly the same.
    #[must_use]
    pub fn is_homozygous(&self) -> bool {
        self.known().is_some_and(Diploid::is_homozygous)
    }
}

/// The greatest common divisor, with gcd(0, n) = n (Euclid).
#[must_use]
pub fn gcd(a: u128, b: u128) -> u128 {
    if b == 0 { a } else { gcd(b, a % b) }
}
