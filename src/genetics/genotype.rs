//! The two alleles that a plant has at one locus.
//!
//! Knows alleles only by their index at the locus. Segregation, gene models and the beliefs of the
//! diagnosis room count over these pairs in one fixed order.

use super::locus::Locus;

/// An unordered pair of allele indices at one locus, the smaller (more dominant) first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Diploid {
    a: u8,
    b: u8,
}

impl Diploid {
    /// The pair of two alleles, in either order.
    #[must_use]
    pub fn new(one: u8, other: u8) -> Self {
        Self {
            a: one.min(other),
            b: one.max(other),
        }
    }

    /// The allele with the smaller index.
    #[must_use]
    pub fn a(self) -> u8 {
        self.a
    }

    /// The allele with the larger index.
    #[must_use]
    pub fn b(self) -> u8 {
        self.b
    }

    /// All k(k + 1)/2 genotypes at a locus with `alleles` alleles, in their fixed order: for two alleles
    /// `A/A`, `A/a`, `a/a`.
    #[must_use]
    pub fn all(alleles: usize) -> Vec<Self> {
        let k = alleles as u8;
        (0..k)
            .flat_map(|a| (a..k).map(move |b| Self { a, b }))
            .collect()
    }

    /// The place of this genotype in [`Diploid::all`].
    #[must_use]
    pub fn index(self, alleles: usize) -> usize {
        let (a, b) = (usize::from(self.a), usize::from(self.b));
        a * alleles - a * (a + 1) / 2 + b
    }

    /// Whether both alleles are the same.
    #[must_use]
    pub fn is_homozygous(self) -> bool {
        self.a == self.b
    }

    /// Whether it carries the allele.
    #[must_use]
    pub fn carries(self, allele: u8) -> bool {
        self.a == allele || self.b == allele
    }

    /// The probability that a gamete carries the allele: 0, 1/2 or 1 (Mendel's first law).
    #[must_use]
    pub fn gamete(self, allele: u8) -> f64 {
        f64::from(self.copies(allele)) / 2.0
    }

    /// How many copies of the allele it has: 0, 1 or 2.
    #[must_use]
    pub fn copies(self, allele: u8) -> u8 {
        u8::from(self.a == allele) + u8::from(self.b == allele)
    }

    /// The pair in allele symbols, dominant first: `A/a`.
    #[must_use]
    pub fn written(self, locus: &Locus) -> String {
        let symbol = |i: u8| &locus.alleles[usize::from(i)];
        format!("{}/{}", symbol(self.a), symbol(self.b))
    }
}

#[cfg(test)]
mod tests {
    use super::super::locus::LocusBook;
    use super::*;

    #[test]
    fn order_and_index_agree() {
        for k in 1..=20 {
            let all = Diploid::all(k);
            assert_eq!(all.len(), k * (k + 1) / 2);
            for (i, pair) in all.iter().enumerate() {
                assert_eq!(pair.index(k), i);
            }
        }
    }

    #[test]
    fn gametes_are_halves() {
        let het = Diploid::new(1, 0);
        assert_eq!(het, Diploid::new(0, 1));
        assert_eq!(
            [het.gamete(0), het.gamete(1), het.gamete(2)],
            [0.5, 0.5, 0.0]
        );
        assert_eq!(Diploid::new(2, 2).gamete(2), 1.0);
    }

    #[test]
    fn is_written_dominant_first() {
        let mut book = LocusBook::new();
        let pun1 = book.declare("Pun1", &["Pun1", "pun1"]).unwrap();
        assert_eq!(Diploid::new(1, 0).written(book.get(pun1)), "Pun1/pun1");
    }
}
