//! Shares of looks as they are written down.
//!
//! A trait of which one class is sometimes taken for another changes the shares that are counted and not the genes;
//! whole numbers stay whole. Called by `expect`.

use std::collections::BTreeMap;

use super::expect::{Classes, Shares};
use super::fraction::{Fraction, over_one};

/// A misreading: of the plants in one class of a trait, the share that is written down as another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Misread {
    /// The trait's place among those asked about.
    pub of: usize,
    /// The class that is there.
    pub shown: usize,
    /// The class written down.
    pub written: usize,
    /// How often.
    pub share: Fraction,
}

impl Shares {
    /// The shares of what is written down, by the misreadings: `P(w) = sum P(class) P(w | class)`, where what is not
    /// misread is read as it is. Each trait is read by itself.
    #[must_use]
    pub fn as_written(&self, misread: &[Misread]) -> Self {
        let traits = self.classes.first().map_or(0, |(classes, _)| classes.len());
        (0..traits).fold(self.clone(), |shares, of| {
            let of_it: Vec<Misread> = misread.iter().copied().filter(|m| m.of == of).collect();
            if of_it.is_empty() {
                shares
            } else {
                shares.written_of(of, &of_it)
            }
        })
    }

    fn written_of(&self, of: usize, misread: &[Misread]) -> Self {
        let turned = |classes: &Classes, written: usize| {
            let mut turned = classes.clone();
            turned[of] = written;
            turned
        };
        let of_class = |classes: &Classes| {
            misread
                .iter()
                .filter(|m| m.shown == classes[of])
                .collect::<Vec<_>>()
        };
        let mut sums: BTreeMap<Classes, f64> = BTreeMap::new();
        for (classes, p) in &self.classes {
            let wrong = of_class(classes);
            let lost: f64 = wrong.iter().map(|m| m.share.value()).sum();
            *sums.entry(classes.clone()).or_default() += p * (1.0 - lost);
            for one in wrong {
                *sums.entry(turned(classes, one.written)).or_default() += p * one.share.value();
            }
        }
        let exact = self.exact.as_ref().and_then(|exact| {
            let shares: Vec<Fraction> = misread.iter().map(|m| m.share).collect();
            let (parts, of_all) = over_one(&shares)?;
            let mut sums: BTreeMap<Classes, u128> = BTreeMap::new();
            let mut add = |classes: Classes, n: u128, times: u128| {
                let sum = sums.entry(classes).or_default();
                *sum = sum.checked_add(n.checked_mul(times)?)?;
                Some(())
            };
            for (classes, n) in &exact.classes {
                let mut left = of_all;
                for (one, part) in misread.iter().zip(&parts) {
                    if one.shown == classes[of] {
                        left = left.checked_sub(*part)?;
                        add(turned(classes, one.written), *n, *part)?;
                    }
                }
                add(classes.clone(), *n, left)?;
            }
            Some((sums, exact.denominator.checked_mul(of_all)?))
        });
        Self::of(sums, exact)
    }

    fn of(sums: BTreeMap<Classes, f64>, exact: Option<(BTreeMap<Classes, u128>, u128)>) -> Self {
        match exact {
            Some((sums, whole)) => Self::exact(sums, whole),
            None => Self {
                classes: sums.into_iter().collect(),
                exact: None,
            },
        }
    }
}
