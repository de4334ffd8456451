//! The genotypes that matter for a batch: those at the loci that its traits read, and no others.
//!
//! A joint genotype is a number that counts through the genotypes of its linkage groups, the last group running fastest.
//! What the eye can tell apart of them is a profile: the final class of each trait read.

use std::collections::HashMap;
use std::sync::Arc;

use crate::genetics::genotype::Diploid;
use crate::genetics::locus::LocusIx;
use crate::genetics::rule::Cytoplasm;

use super::group::{LinkageGroup, Side};
use super::looks::Looks;

/// Genotypes at a few loci: those of independent groups of linked loci, mostly of one locus each.
#[derive(Debug, Clone, PartialEq)]
pub struct Space {
    /// The loci, in the order asked.
    pub loci: Vec<LocusIx>,
    /// The groups they make up, none with a locus that was not asked.
    pub units: Vec<Arc<LinkageGroup>>,
    /// For each locus its group and its place there.
    places: Vec<(usize, usize)>,
    /// How many joint genotypes.
    pub size: usize,
}

/// Gametes of a joint genotype: for each group the chance of each haplotype.
pub type Gametes = Vec<Vec<f64>>;

impl Space {
    /// The genotypes of groups that together hold just these loci.
    #[must_use]
    pub fn new(loci: &[LocusIx], units: Vec<Arc<LinkageGroup>>) -> Self {
        let place = |locus: &LocusIx| {
            let of_unit = |(at, unit): (usize, &Arc<LinkageGroup>)| {
                let place = unit.loci.iter().position(|own| own == locus);
                place.map(|place| (at, place))
            };
            let mut found = units.iter().enumerate().filter_map(of_unit);
            found.next().expect("every locus is in one of the groups")
        };
        Self {
            places: loci.iter().map(place).collect(),
            size: units.iter().map(|unit| unit.size()).product(),
            loci: loci.to_vec(),
            units,
        }
    }

    /// The genotypes of a joint genotype, locus by locus.
    #[must_use]
    pub fn genotype(&self, joint: usize) -> Vec<Diploid> {
        let digits = self.digits(joint);
        let pair = |(unit, place): &(usize, usize)| self.units[*unit].pair(digits[*unit], *place);
        self.places.iter().map(pair).collect()
    }

    /// The alleles of a joint genotype at each locus, those of one strand first; of unlinked loci in any order.
    #[must_use]
    pub fn strands(&self, joint: usize) -> Vec<[u8; 2]> {
        let digits = self.digits(joint);
        let units = self.units.iter().zip(&digits);
        let strands: Vec<[Vec<u8>; 2]> = units.map(|(unit, at)| unit.strands(*at)).collect();
        let of = |(unit, place): &(usize, usize)| {
            let [one, other] = &strands[*unit];
            [one[*place], other[*place]]
        };
        self.places.iter().map(of).collect()
    }

    /// Whether it holds a locus of a group.
    #[must_use]
    pub fn reads(&self, group: &LinkageGroup) -> bool {
        self.units
            .iter()
            .any(|unit| unit.key.first == group.key.first)
    }

    /// Whether the locus at a place is linked to another of them.
    #[must_use]
    pub fn is_linked(&self, place: usize) -> bool {
        !self.units[self.places[place].0].is_alone()
    }

    /// The alleles that a plant can have at the locus at a place.
    #[must_use]
    pub fn pairs_at(&self, place: usize) -> Vec<Diploid> {
        let (unit, own) = self.places[place];
        Diploid::all(self.units[unit].alleles[own])
    }

    /// The number of the alleles at the locus at a place, among those of a plant there.
    #[must_use]
    pub fn digit_at(&self, joint: usize, place: usize) -> usize {
        let (unit, own) = self.places[place];
        let pair = self.units[unit].pair(self.digits(joint)[unit], own);
        pair.index(self.units[unit].alleles[own])
    }

    /// The number of the genotype of each group of a joint genotype.
    #[must_use]
    pub fn digits(&self, mut joint: usize) -> Vec<usize> {
        let mut digits = vec![0; self.units.len()];
        for (digit, unit) in digits.iter_mut().zip(&self.units).rev() {
            *digit = joint % unit.size();
            joint /= unit.size();
        }
        digits
    }

    /// The joint distribution of independent groups.
    #[must_use]
    pub fn joint(&self, by_unit: &[Vec<f64>]) -> Vec<f64> {
        by_unit.iter().fold(vec![1.0], |joint, unit| {
            joint
                .iter()
                .flat_map(|p| unit.iter().map(move |q| p * q))
                .collect()
        })
    }

    /// The gametes of a joint genotype.
    #[must_use]
    pub fn gametes(&self, joint: usize, side: Side) -> Gametes {
        let digits = self.digits(joint);
        let units = self.units.iter().zip(&digits);
        units.map(|(unit, at)| unit.gametes(*at, side)).collect()
    }

    /// The joint distribution of the offspring of two sets of gametes.
    #[must_use]
    pub fn offspring(&self, mother: &[Vec<f64>], father: &[Vec<f64>]) -> Vec<f64> {
        let gametes = mother.iter().zip(father).zip(&self.units);
        let by_unit: Vec<Vec<f64>> = gametes.map(|((m, f), unit)| unit.union(m, f)).collect();
        self.joint(&by_unit)
    }

    /// For each joint genotype the one of a narrower space that it falls in.
    #[must_use]
    pub fn narrowing(&self, narrow: &Self) -> Vec<usize> {
        let of_unit = |part: &Arc<LinkageGroup>| {
            let mut wide = self.units.iter().enumerate();
            let found = wide.find(|(_, unit)| unit.key.first == part.key.first);
            let (at, unit) = found.expect("the wide space holds the narrow one's loci");
            (at, unit.narrowing(part))
        };
        let maps: Vec<(usize, Vec<usize>)> = narrow.units.iter().map(of_unit).collect();
        (0..self.size)
            .map(|joint| {
                let digits = self.digits(joint);
                let parts = maps.iter().zip(&narrow.units);
                parts.fold(0, |at, ((unit, map), part)| {
                    at * part.size() + map[digits[*unit]]
                })
            })
            .collect()
    }
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

/// Every cytoplasm, by its place.
pub(super) const CYTOPLASMS: [Cytoplasm; 3] =
    [Cytoplasm::Normal, Cytoplasm::Sterile, Cytoplasm::Unknown];

/// The place of a cytoplasm among all.
pub(super) const fn place_of(cytoplasm: Cytoplasm) -> usize {
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
        let of_genotype = CYTOPLASMS.map(|cytoplasm| {
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

    /// The final class of each trait that a joint genotype shows.
    #[must_use]
    pub fn classes_of(&self, joint: usize, cytoplasm: Cytoplasm) -> &[usize] {
        &self.classes[self.of_genotype[place_of(cytoplasm)][joint]]
    }

    /// A joint genotype of a profile; the only one where all are told apart.
    #[must_use]
    pub fn genotype_of(&self, profile: usize) -> usize {
        self.genotypes[profile]
    }

    /// Whether every genotype looks the same in two cytoplasms.
    pub(super) fn agree(&self, one: Cytoplasm, other: Cytoplasm) -> bool {
        self.of_genotype[place_of(one)] == self.of_genotype[place_of(other)]
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
        for (p, profile) in joint.iter().zip(&self.of_genotype[place_of(cytoplasm)]) {
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
