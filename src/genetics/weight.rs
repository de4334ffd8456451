//! What shares are counted in: whole numbers while they last, probabilities otherwise.
//!
//! Every way a meiosis can turn out gets a weight; only their proportions matter, so whole numbers need no
//! denominator until the end. Whole numbers that outgrow 128 bits, or parents that are not known for
//! certain, end the exact count; the walk is then done again in probabilities.

use super::fraction::{Fraction, over_one};
use super::recombination::Rate;
use super::segregation::{AtLocus, gcd};

/// A weight: added and multiplied, `None` where it no longer fits.
pub(super) trait Weight: Copy + Default + PartialEq {
    /// One way.
    const ONE: Self;

    fn plus(self, other: Self) -> Option<Self>;

    fn times(self, other: Self) -> Option<Self>;

    /// The weights of two neighbouring loci staying together and of being parted.
    fn split(rate: Rate) -> Option<[Self; 2]>;

    /// Numbers in the proportion of some shares.
    fn shares(of: &[Fraction]) -> Option<Vec<Self>>;

    /// Numbers in the proportion of the reciprocals; 0 stays 0.
    fn reciprocals(of: &[Self]) -> Option<Vec<Self>>;

    /// The orders in which a plant's two alleles can lie on its two strands.
    fn strands(at: &AtLocus) -> Option<Vec<([u8; 2], Self)>>;

    /// Divides by what all have in common.
    fn reduce(values: &mut [&mut Self]);
}

impl Weight for u128 {
    const ONE: Self = 1;

    fn plus(self, other: Self) -> Option<Self> {
        self.checked_add(other)
    }

    fn times(self, other: Self) -> Option<Self> {
        self.checked_mul(other)
    }

    fn split(rate: Rate) -> Option<[Self; 2]> {
        let (parted, of) = rate.whole()?;
        Some([of - parted, parted])
    }

    fn shares(of: &[Fraction]) -> Option<Vec<Self>> {
        over_one(of).map(|(parts, _)| parts)
    }

    fn reciprocals(of: &[Self]) -> Option<Vec<Self>> {
        let some = || of.iter().copied().filter(|n| *n > 0);
        let whole = some().try_fold(1_u128, |whole, n| (whole / gcd(whole, n)).checked_mul(n))?;
        Some(
            of.iter()
                .map(|n| whole.checked_div(*n).unwrap_or(0))
                .collect(),
        )
    }

    fn strands(at: &AtLocus) -> Option<Vec<([u8; 2], Self)>> {
        match at {
            AtLocus::Known(pair) if pair.is_homozygous() => Some(vec![([pair.a(), pair.b()], 1)]),
            AtLocus::Known(pair) => {
                Some(vec![([pair.a(), pair.b()], 1), ([pair.b(), pair.a()], 1)])
            }
            AtLocus::Phased(pair) => Some(vec![(*pair, 1)]),
            AtLocus::Weighted(_) => None,
        }
    }

    fn reduce(values: &mut [&mut Self]) {
        let common = values.iter().fold(0, |common, n| gcd(common, **n));
        if common > 1 {
            for n in values {
                **n /= common;
            }
        }
    }
}

impl Weight for f64 {
    const ONE: Self = 1.0;

    fn plus(self, other: Self) -> Option<Self> {
        Some(self + other)
    }

    fn times(self, other: Self) -> Option<Self> {
        Some(self * other)
    }

    fn split(rate: Rate) -> Option<[Self; 2]> {
        Some([1.0 - rate.value(), rate.value()])
    }

    fn shares(of: &[Fraction]) -> Option<Vec<Self>> {
        Some(of.iter().map(|share| share.value()).collect())
    }

    fn reciprocals(of: &[Self]) -> Option<Vec<Self>> {
        let one = |p: &Self| if *p > 0.0 { 1.0 / *p } else { 0.0 };
        Some(of.iter().map(one).collect())
    }

    fn strands(at: &AtLocus) -> Option<Vec<([u8; 2], Self)>> {
        if let AtLocus::Phased(pair) = at {
            return Some(vec![(*pair, 1.0)]);
        }
        let orders = at.weights().into_iter().flat_map(|(pair, p)| {
            let (a, b) = (pair.a(), pair.b());
            if a == b {
                vec![([a, b], p)]
            } else {
                vec![([a, b], p / 2.0), ([b, a], p / 2.0)]
            }
        });
        Some(orders.filter(|(_, p)| *p > 0.0).collect())
    }

    /// Divides by the sum, so that long chains of small probabilities stay in range.
    fn reduce(values: &mut [&mut Self]) {
        let sum: f64 = values.iter().map(|p| **p).sum();
        if sum > 0.0 {
            for p in values {
                **p /= sum;
            }
        }
    }
}
