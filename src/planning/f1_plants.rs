//! Seed of a few F1 plants that differ: what each may be, and how likely their seed together holds enough.
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
use crate::stats::begun::{Begun, Case};
use crate::stats::crossing::crossing;
use crate::stats::logs::ln_binomial;
use crate::stats::power::TrialsNeeded;

use super::seeds::Sowing;
use super::targets::{Target, outcomes};

/// Most seeds that are thought of.
const MOST_SEEDS: u64 = 1 << 17;

/// Most additions for one number of seeds.
const MOST_WORK: u64 = 4_000_000;

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

/// Seed shared evenly over a few F1 plants, each taken as it comes.
#[derive(Debug, Clone)]
pub struct OfPlants<'k> {
    /// By what the parents may be.
    pub kinds: &'k [KindsOfF1],
    /// How many F1 plants.
    pub plants: u64,
    /// How the seed does.
    pub sowing: Sowing,
}

/// Why no number of seeds is given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NotOfPlants {
    /// So likely none of the plants has any wanted seed.
    Hopeless(f64),
    /// The sums grow too long.
    TooLarge,
    /// No number of seeds that is looked at would do.
    NoNumber,
}

impl OfPlants<'_> {
    /// P(at least `want` wanted) of `seeds` seeds: of one plant the mixture over what it may be, of several the
    /// convolution; over what the parents may be and the germination the mean.
    #[must_use]
    pub fn chance(&self, seeds: u64, want: u64) -> f64 {
        let germination = self.sowing.germination.nodes(NODES);
        let (each, more) = (seeds / self.plants, seeds % self.plants);
        let mut reached = 0.0;
        for (v, g) in germination {
            for (w, kinds) in self.kinds {
                let of = |n: u64| -> Vec<f64> {
                    let most = want.min(n + 1);
                    let p = |share: f64| (g * self.sowing.true_share() * share).min(1.0);
                    let at = |j: u64| {
                        let of = kinds.iter().map(|(q, share)| q * exactly(j, n, p(*share)));
                        of.sum()
                    };
                    (0..most).map(at).collect()
                };
                let few = convolved(
                    &times(&of(each), self.plants - more, want),
                    &times(&of(each + 1), more, want),
                    want,
                );
                reached += v * w * (1.0 - few.iter().sum::<f64>());
            }
        }
        reached
    }

    /// The fewest seeds that reach a confidence.
    ///
    /// # Errors
    /// [`NotOfPlants`].
    pub fn fewest(&self, want: u64, confidence: f64) -> Result<TrialsNeeded, NotOfPlants> {
        let none = |kinds: &[(f64, f64)]| -> f64 {
            let of = kinds.iter().filter(|(_, share)| *share <= 0.0);
            of.map(|(q, _)| q).sum::<f64>().powf(self.plants as f64)
        };
        let hopeless: f64 = self.kinds.iter().map(|(w, kinds)| w * none(kinds)).sum();
        if hopeless > (1.0 - confidence) * (1.0 + 1e-12) {
            return Err(NotOfPlants::Hopeless(hopeless));
        }
        let nodes = match self.sowing.germination {
            Begun::Known(_) => 1,
            Begun::Counted { .. } => NODES as u64,
        };
        let rounds = 4 * u64::from(self.plants.ilog2() + 1);
        let kinds: u64 = self
            .kinds
            .iter()
            .map(|(_, kinds)| 1 + kinds.len() as u64)
            .sum();
        let work = (want * want / 2 * rounds * self.kinds.len() as u64 + 40 * want * kinds) * nodes;
        if work > MOST_WORK {
            return Err(NotOfPlants::TooLarge);
        }
        let allowed = (1.0 - confidence) * (1.0 + 1e-12);
        let is_enough = |n: u64| 1.0 - self.chance(n, want) <= allowed;
        let (mut short, mut n) = (0, want);
        while !is_enough(n) {
            if n >= MOST_SEEDS {
                return Err(NotOfPlants::NoNumber);
            }
            short = n;
            n = (2 * n).min(MOST_SEEDS);
        }
        let n = crossing(short, n, is_enough);
        Ok(TrialsNeeded {
            n,
            probability: self.chance(n, want),
        })
    }
}

/// Nodes by which a germination known from counts is averaged over.
const NODES: usize = 24;

fn exactly(j: u64, n: u64, p: f64) -> f64 {
    match p {
        _ if j > n => 0.0,
        _ if p <= 0.0 => f64::from(u8::from(j == 0)),
        _ if p >= 1.0 => f64::from(u8::from(j == n)),
        _ => ln_binomial(j, n, p).exp(),
    }
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
    /// none is. Exact enumeration over the F1 plants, each with its own share of seven seeds:
    /// of one `(1 - 4^-7)/2`, of more `1 - prod (1/2 + 4^-n/2)` over the seeds n of each.
    #[test]
    fn plants_that_differ_share_the_seed() {
        let kinds = [(1.0, vec![(0.5, 0.75), (0.5, 0.0)])];
        let sowing = Sowing {
            germination: Begun::Known(1.0),
            off_share: 0.0,
        };
        for (plants, shares, shown) in [
            (1, &[7][..], 0.500),
            (2, &[4, 3], 0.731),
            (3, &[3, 2, 2], 0.822),
            (5, &[2, 2, 1, 1, 1], 0.888),
        ] {
            let of = OfPlants {
                kinds: &kinds,
                plants,
                sowing,
            };
            let none = |n: &i32| 0.5 + 0.5 * 0.25_f64.powi(*n);
            let exact = 1.0 - shares.iter().map(none).product::<f64>();
            assert!((of.chance(7, 1) - exact).abs() < 1e-13, "{plants}");
            assert!((exact - shown).abs() < 6e-4, "{plants}: {exact}");
        }
        let one = OfPlants {
            kinds: &kinds,
            plants: 1,
            sowing,
        };
        assert_eq!(one.fewest(1, 0.95), Err(NotOfPlants::Hopeless(0.5)));
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
