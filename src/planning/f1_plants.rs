//! Seed of a few F1 plants that differ: what each may be, and what their seed together is.
//!
//! Parents that do not breed true give F1 plants that are not alike, and all seed of one plant has that plant. Which
//! of them shows what is not known here. Asked by `plan seeds`.

use std::collections::BTreeMap;

use crate::genetics::descent::Descent;
use crate::genetics::expect::{Breeding, ExpectError, Parent, breed};
use crate::genetics::linkage::Chromosome;
use crate::genetics::recombination::Recombination;
use crate::genetics::rule::GeneModel;
use crate::genetics::segregation::AtLocus;
use crate::stats::begun::Case;
use crate::stats::reach::Outcome;

use super::targets::{Target, outcomes};

/// By what the parents may be, with how likely that is: what an F1 plant's own seed is, one case for each kind of plant.
pub type CasesOfF1 = Vec<(f64, Vec<Case>)>;

/// What an F1 plant's own seed is, with how likely it is such a plant: one case each; nothing where there are more
/// than `most` to go through.
///
/// # Errors
/// [`ExpectError`].
pub fn kinds_of_f1(
    breeding: &Breeding<'_>,
    models: &[&GeneModel],
    targets: &[Target],
    most: usize,
) -> Result<Option<Vec<Case>>, ExpectError> {
    let Some(plants) = f1_plants(breeding, most) else {
        return Ok(None);
    };
    let descent = from_f1(breeding.descent);
    let recurrent = match goes_back_to_mother(breeding.descent) {
        true => breeding.mother,
        false => breeding.father,
    };
    let mut found: Vec<Case> = Vec::new();
    for (plant, weight) in &plants {
        let own = Breeding {
            mother: plant,
            father: recurrent,
            descent: &descent,
            ..*breeding
        };
        let outcomes = outcomes(&breed(&own, models)?, targets);
        match found.iter_mut().find(|known| known.outcomes == outcomes) {
            Some(known) => known.weight += weight,
            None => found.push(Case {
                weight: *weight,
                outcomes,
            }),
        }
    }
    Ok(Some(found))
}

/// The same descent seen from an F1 plant, as mother, and the parent gone back to.
fn from_f1(descent: &Descent) -> Descent {
    match descent {
        first if *first == Descent::first_cross() => Descent::Mother,
        Descent::Mother | Descent::Father => Descent::Father,
        Descent::Cross(one, other) => {
            Descent::Cross(Box::new(from_f1(one)), Box::new(from_f1(other)))
        }
        Descent::Selfed(plant) => Descent::Selfed(Box::new(from_f1(plant))),
        Descent::Doubled(plant) => Descent::Doubled(Box::new(from_f1(plant))),
    }
}

fn goes_back_to_mother(descent: &Descent) -> bool {
    match descent {
        first if *first == Descent::first_cross() => false,
        Descent::Mother => true,
        Descent::Father => false,
        Descent::Cross(one, other) => goes_back_to_mother(one) || goes_back_to_mother(other),
        Descent::Selfed(plant) | Descent::Doubled(plant) => goes_back_to_mother(plant),
    }
}

/// Every plant that an egg of the mother and a grain of the father make, its phase known.
fn f1_plants(breeding: &Breeding<'_>, most: usize) -> Option<Vec<(Parent, f64)>> {
    let mut found = vec![(
        Parent {
            cytoplasm: breeding.mother.cytoplasm,
            ..Parent::default()
        },
        1.0,
    )];
    for chromosome in &breeding.arrangement.chromosomes {
        let eggs = gametes(breeding.mother, chromosome, |r| r.female.value())?;
        let grains = gametes(breeding.father, chromosome, |r| r.male.value())?;
        if found.len() * eggs.len() * grains.len() > most {
            return None;
        }
        let mut more = Vec::new();
        for (plant, weight) in &found {
            for (egg, p) in &eggs {
                for (grain, q) in &grains {
                    let mut plant = plant.clone();
                    let strands = egg.iter().zip(grain);
                    for (locus, (one, other)) in chromosome.loci.iter().zip(strands) {
                        plant.loci.insert(*locus, AtLocus::Phased([*one, *other]));
                    }
                    more.push((plant, weight * p * q));
                }
            }
        }
        found = more;
    }
    Some(found)
}

/// The gametes of a plant along a chromosome, by the strand that each locus is of; nothing where a locus is not known.
fn gametes(
    plant: &Parent,
    chromosome: &Chromosome,
    rate: impl Fn(&Recombination) -> f64,
) -> Option<Vec<(Vec<u8>, f64)>> {
    let strands = |at: &AtLocus| match at {
        AtLocus::Phased(strands) => Some(*strands),
        at => at.known().map(|pair| [pair.a(), pair.b()]),
    };
    let mut found = vec![(Vec::new(), 0, 0.5), (Vec::new(), 1, 0.5)];
    for (place, locus) in chromosome.loci.iter().enumerate() {
        let strands = plant.at(*locus).and_then(strands)?;
        let r = match place.checked_sub(1) {
            Some(step) => rate(chromosome.steps.get(step)?),
            None => 0.0,
        };
        let mut next: BTreeMap<(Vec<u8>, usize), f64> = BTreeMap::new();
        for (alleles, strand, p) in found {
            for (to, q) in [(strand, 1.0 - r), (1 - strand, r)] {
                let with = [&alleles[..], &[strands[to]]].concat();
                *next.entry((with, to)).or_default() += p * q;
            }
        }
        let one = |((alleles, strand), p): ((Vec<u8>, usize), f64)| (alleles, strand, p);
        found = next.into_iter().map(one).collect();
    }
    let mut alike: BTreeMap<Vec<u8>, f64> = BTreeMap::new();
    for (alleles, _, p) in found.into_iter().filter(|(_, _, p)| *p > 0.0) {
        *alike.entry(alleles).or_default() += p;
    }
    Some(alike.into_iter().collect())
}

/// What one of the parents' pairs gives: how likely it is so, and for each kind of F1 plant how likely it is and what share
/// of its seed is wanted.
pub type KindsOfF1 = (f64, Vec<(f64, f64)>);

/// Most mixtures of F1 plants that are told apart.
const MOST_MIXTURES: usize = 2_000;

/// Shares nearer to one another than this are the same.
const SAME_WITHIN: f64 = 1e-12;

/// The seed of so many F1 plants, each taken as it comes, as much of each and mixed: the mean of what theirs is, one case
/// for every mean. Nothing where there are too many.
#[must_use]
pub fn mixed(kinds: &[KindsOfF1], plants: u64) -> Option<Vec<Case>> {
    let mut found: BTreeMap<i64, f64> = BTreeMap::new();
    for (weight, kinds) in kinds {
        // Sums of the shares of so many plants, in steps that no digit falls between.
        let mut sums: BTreeMap<i64, f64> = BTreeMap::from([(0, *weight)]);
        for _ in 0..plants {
            let mut next: BTreeMap<i64, f64> = BTreeMap::new();
            for (sum, p) in &sums {
                for (q, share) in kinds {
                    let step = (share / SAME_WITHIN).round() as i64;
                    *next.entry(sum + step).or_default() += p * q;
                }
            }
            sums = next;
            if sums.len() > MOST_MIXTURES {
                return None;
            }
        }
        for (sum, p) in sums {
            *found.entry(sum).or_default() += p;
        }
    }
    let case = |(sum, weight): (i64, f64)| Case {
        weight,
        outcomes: vec![Outcome {
            p: (sum as f64 * SAME_WITHIN / plants as f64).min(1.0),
            counts_for: vec![0],
        }],
    };
    (found.len() <= MOST_MIXTURES).then(|| found.into_iter().map(case).collect())
}

/// The distribution of a sum of so many alike, up to fewer than `most`, by squaring.
pub(super) fn times(one: &[f64], count: u64, most: u64) -> Vec<f64> {
    let (mut all, mut power, mut left) = (vec![1.0], one.to_vec(), count);
    while left > 0 {
        if left % 2 == 1 {
            all = convolved(&all, &power, most);
        }
        left /= 2;
        if left > 0 {
            power = convolved(&power, &power, most);
        }
    }
    all
}

/// The distribution of a sum of two, up to fewer than `most`.
fn convolved(one: &[f64], other: &[f64], most: u64) -> Vec<f64> {
    let length = (one.len() + other.len()).saturating_sub(1);
    let mut sum = vec![0.0; length.min(most as usize)];
    for (i, p) in one.iter().enumerate() {
        for (cell, q) in sum.iter_mut().skip(i).zip(other) {
            *cell += p * q;
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Half the F1 plants of A/a by a/a are A/a, of whose selfed seed three in four are purple, the others a/a, of which
    /// none is. Exact enumeration over the F1 plants: of j of N that are A/a, seed of which is mixed, seven seeds have none
    /// with `(1 - 3j/4N)^7`; 50.0 % of one plant, 73.1 of two, 82.2 of three, 88.8 of five.
    #[test]
    fn plants_that_differ_share_the_seed() {
        let kinds = [(1.0, vec![(0.5, 0.75), (0.5, 0.0)])];
        for (plants, shown) in [(1, 0.500), (2, 0.731), (3, 0.822), (5, 0.888)] {
            let cases = mixed(&kinds, plants).unwrap();
            assert_eq!(cases.len() as u64, plants + 1);
            let none = |case: &Case| case.weight * (1.0 - case.outcomes[0].p).powi(7);
            let missed: f64 = cases.iter().map(none).sum();
            assert!((1.0 - missed - shown).abs() < 5e-4, "{plants}: {missed}");
        }
        // Too many mixtures are not gone through.
        let uneven: Vec<(f64, f64)> = (1..=30)
            .map(|n| (1.0 / 30.0, 1.0 / f64::from(n + 7)))
            .collect();
        assert_eq!(mixed(&[(1.0, uneven)], 9), None);
    }

    #[test]
    fn sums_by_squaring_are_sums_one_by_one() {
        let one = [0.2, 0.5, 0.3];
        let mut slow = vec![1.0];
        for count in 0..9 {
            let fast = times(&one, count, 7);
            assert!(
                fast.iter().zip(&slow).all(|(a, b)| (a - b).abs() < 1e-15),
                "{count}"
            );
            slow = convolved(&slow, &one, 7);
        }
    }
}
