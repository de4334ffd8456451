//! The loci of one linkage group as one: genotypes are unordered pairs of haplotypes, so the phase is part of them.
//!
//! A locus that nothing ties to another is a group of one, its haplotypes its alleles. Gametes follow the recombination
//! between neighbours, crossovers not hindering each other (Haldane 1919, Journal of Genetics 8:299-309). Which loci are
//! tied is decided next door; plants are not known here.

use crate::genetics::genotype::Diploid;
use crate::genetics::locus::{LocusBook, LocusIx};
use crate::genetics::recombination::joined;

/// Which group, and which of its loci: a batch may read only some.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct GroupKey {
    /// The first locus of the whole group.
    pub first: LocusIx,
    /// Its loci taken, as bits by their order.
    pub part: u64,
}

/// Which parent a gamete comes from, since the sexes may differ in recombination.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The mother.
    Egg,
    /// The father.
    Pollen,
}

/// Most generations of selfing followed; by then nothing is left to fix.
const MOST_SELFINGS: usize = 60;

/// Loci that are handed on together.
#[derive(Debug, Clone, PartialEq)]
pub struct LinkageGroup {
    /// Which group, and which of its loci.
    pub key: GroupKey,
    /// The loci, in their order along the chromosome.
    pub loci: Vec<LocusIx>,
    /// Number of alleles at each.
    pub alleles: Vec<usize>,
    /// Recombination between each and the next, in egg and in pollen.
    steps: Vec<[f64; 2]>,
    /// How many haplotypes: one allele at each locus.
    pub haplotypes: usize,
    /// By genotype its two haplotypes, the lower first.
    strands: Vec<[usize; 2]>,
    /// By locus and genotype the alleles there.
    pairs: Vec<Vec<Diploid>>,
}

impl LinkageGroup {
    /// Loci in their order, with what parts each from the next.
    #[must_use]
    pub fn new(
        key: GroupKey,
        loci: Vec<LocusIx>,
        alleles: Vec<usize>,
        steps: Vec<[f64; 2]>,
    ) -> Self {
        let haplotypes = alleles.iter().product();
        let strands: Vec<[usize; 2]> = (0..haplotypes)
            .flat_map(|one| (one..haplotypes).map(move |other| [one, other]))
            .collect();
        let mut group = Self {
            key,
            loci,
            alleles,
            steps,
            haplotypes,
            strands,
            pairs: Vec::new(),
        };
        let read: Vec<Vec<u8>> = (0..haplotypes).map(|h| group.alleles_of(h)).collect();
        let pair = |place: usize, [one, other]: &[usize; 2]| {
            Diploid::new(read[*one][place], read[*other][place])
        };
        group.pairs = (0..group.loci.len())
            .map(|place| group.strands.iter().map(|own| pair(place, own)).collect())
            .collect();
        group
    }

    /// How many genotypes.
    #[must_use]
    pub fn size(&self) -> usize {
        self.strands.len()
    }

    /// Whether it is a locus by itself.
    #[must_use]
    pub fn is_alone(&self) -> bool {
        self.loci.len() == 1
    }

    /// All its loci, as bits by their place.
    #[must_use]
    pub fn all(&self) -> u64 {
        (1 << self.loci.len()) - 1
    }

    /// The alleles of a genotype at the locus at a place.
    #[must_use]
    pub fn pair(&self, genotype: usize, place: usize) -> Diploid {
        self.pairs[place][genotype]
    }

    /// The alleles of every genotype at the locus at a place.
    #[must_use]
    pub fn pairs_at(&self, place: usize) -> &[Diploid] {
        &self.pairs[place]
    }

    /// The alleles of a genotype at each locus, whatever their phase.
    #[must_use]
    pub fn unphased(&self, genotype: usize) -> Vec<Diploid> {
        self.pairs.iter().map(|pairs| pairs[genotype]).collect()
    }

    /// The alleles on both strands of a genotype, locus by locus.
    #[must_use]
    pub fn strands(&self, genotype: usize) -> [Vec<u8>; 2] {
        self.strands[genotype].map(|haplotype| self.alleles_of(haplotype))
    }

    /// The alleles of a haplotype, the last locus running fastest.
    fn alleles_of(&self, mut haplotype: usize) -> Vec<u8> {
        let mut found = vec![0; self.alleles.len()];
        for (allele, count) in found.iter_mut().zip(&self.alleles).rev() {
            *allele = u8::try_from(haplotype % count).expect("a locus has fewer than 256 alleles");
            haplotype /= count;
        }
        found
    }

    /// The number of the haplotype with these alleles.
    fn haplotype(&self, alleles: &[u8]) -> usize {
        let places = alleles.iter().zip(&self.alleles);
        places.fold(0, |at, (allele, count)| at * count + usize::from(*allele))
    }

    /// The number of the genotype of two haplotypes.
    fn genotype(&self, one: usize, other: usize) -> usize {
        let (low, high) = (one.min(other), one.max(other));
        low * self.haplotypes - low * (low + 1) / 2 + high
    }

    /// The gametes of a genotype: the chance of each haplotype.
    ///
    /// A gamete starts on either strand and changes over between two neighbours with their recombination.
    #[must_use]
    pub fn gametes(&self, genotype: usize, side: Side) -> Vec<f64> {
        if self.is_alone() {
            let pair = self.pairs[0][genotype];
            let alleles = 0..self.haplotypes;
            let small = |allele| u8::try_from(allele).expect("a locus has fewer than 256 alleles");
            return alleles.map(|allele| pair.gamete(small(allele))).collect();
        }
        let strands = self.strands(genotype);
        let mut ways = vec![[0.5, 0.5]];
        for (place, count) in self.alleles.iter().enumerate() {
            let r = match place {
                0 => 0.0,
                _ => self.steps[place - 1][side as usize],
            };
            let on = |[stay, turn]: [f64; 2], strand: usize, allele: usize| match usize::from(
                strands[strand][place],
            ) == allele
            {
                true => stay * (1.0 - r) + turn * r,
                false => 0.0,
            };
            ways = ways
                .iter()
                .flat_map(|[one, other]| {
                    (0..*count).map(move |a| [on([*one, *other], 0, a), on([*other, *one], 1, a)])
                })
                .collect();
        }
        ways.iter().map(|[one, other]| one + other).collect()
    }

    /// The gametes of an uncertain genotype.
    #[must_use]
    pub fn mean_gametes(&self, weights: &[f64], side: Side) -> Vec<f64> {
        let mut sums = vec![0.0; self.haplotypes];
        for (genotype, weight) in weights.iter().enumerate() {
            if *weight > 0.0 {
                let own = self.gametes(genotype, side);
                sums.iter_mut()
                    .zip(own)
                    .for_each(|(sum, p)| *sum += weight * p);
            }
        }
        sums
    }

    /// The distribution of the genotypes that two gamete distributions make.
    #[must_use]
    pub fn union(&self, egg: &[f64], pollen: &[f64]) -> Vec<f64> {
        let born = |[one, other]: &[usize; 2]| match one == other {
            true => egg[*one] * pollen[*one],
            false => egg[*one] * pollen[*other] + egg[*other] * pollen[*one],
        };
        self.strands.iter().map(born).collect()
    }

    /// The offspring of one selfed plant of a genotype.
    #[must_use]
    pub fn self_of(&self, genotype: usize) -> Vec<f64> {
        let [egg, pollen] = [Side::Egg, Side::Pollen].map(|side| self.gametes(genotype, side));
        self.union(&egg, &pollen)
    }

    /// The offspring of one selfed plant of uncertain genotype.
    #[must_use]
    pub fn selfed(&self, parent: &[f64]) -> Vec<f64> {
        let mut sums = vec![0.0; self.size()];
        for (genotype, weight) in parent.iter().enumerate() {
            if *weight > 0.0 {
                for (sum, p) in sums.iter_mut().zip(self.self_of(genotype)) {
                    *sum += weight * p;
                }
            }
        }
        sums
    }

    /// The genotypes after selfings that fixed this share of the heterozygous plants, half for either allele.
    ///
    /// Of linked loci it matters by how many selfings: n or n + 1, in the proportion that leaves 1 - `fixed` of the
    /// heterozygotes at each locus (each selfing halves them).
    #[must_use]
    pub fn selfed_since(&self, mut weights: Vec<f64>, fixed: f64) -> Vec<f64> {
        if fixed == 0.0 {
            return weights;
        }
        if self.is_alone() {
            return self.fixed_at_once(weights, fixed);
        }
        let (mut left, mut selfings) = (1.0, 0);
        while left / 2.0 >= 1.0 - fixed && selfings < MOST_SELFINGS {
            weights = self.selfed(&weights);
            left /= 2.0;
            selfings += 1;
        }
        let once_more = 2.0 * (1.0 - (1.0 - fixed) / left);
        let last = self.selfed(&weights);
        let mix = |(before, after): (&f64, &f64)| (1.0 - once_more) * before + once_more * after;
        weights.iter().zip(&last).map(mix).collect()
    }

    fn fixed_at_once(&self, mut weights: Vec<f64>, fixed: f64) -> Vec<f64> {
        for (at, [one, other]) in self.strands.iter().enumerate() {
            if one == other {
                continue;
            }
            let gone = weights[at] * fixed;
            weights[at] -= gone;
            weights[self.genotype(*one, *one)] += gone / 2.0;
            weights[self.genotype(*other, *other)] += gone / 2.0;
        }
        weights
    }

    /// In how many phases the alleles of a genotype can lie: one, doubled by each heterozygous locus after the first.
    #[must_use]
    pub fn phases(&self, genotype: usize) -> usize {
        let mixed = self.unphased(genotype);
        let mixed = mixed.iter().filter(|pair| !pair.is_homozygous()).count();
        1 << mixed.saturating_sub(1)
    }

    /// The genotypes of independent loci, all phases alike likely.
    #[must_use]
    pub fn spread(&self, by_locus: &[Vec<f64>]) -> Vec<f64> {
        let of = |genotype: usize| -> f64 {
            let pairs = self.unphased(genotype);
            let places = pairs.iter().zip(by_locus).zip(&self.alleles);
            let p: f64 = places
                .map(|((pair, own), alleles)| own[pair.index(*alleles)])
                .product();
            p / self.phases(genotype) as f64
        };
        (0..self.size()).map(of).collect()
    }

    /// The haplotypes of independent loci.
    #[must_use]
    pub fn equilibrium(&self, shares: &[&[f64]]) -> Vec<f64> {
        shares.iter().fold(vec![1.0], |ways, own| {
            ways.iter()
                .flat_map(|p| own.iter().map(move |q| p * q))
                .collect()
        })
    }

    /// Some of its loci, those whose bits are set in `taken` by their place here; what parts them runs over those
    /// between (r = s + t - 2st).
    #[must_use]
    pub fn part(&self, taken: u64) -> Self {
        let places: Vec<usize> = (0..self.loci.len())
            .filter(|place| taken & (1 << place) != 0)
            .collect();
        let between = |pair: &[usize]| {
            [0, 1].map(|side| {
                let steps = &self.steps[pair[0]..pair[1]];
                steps.iter().fold(0.0, |r, step| joined(r, step[side]))
            })
        };
        let own: Vec<usize> = (0..64)
            .filter(|bit| self.key.part & (1 << bit) != 0)
            .collect();
        let key = GroupKey {
            first: self.key.first,
            part: places.iter().fold(0, |part, at| part | 1 << own[*at]),
        };
        Self::new(
            key,
            places.iter().map(|at| self.loci[*at]).collect(),
            places.iter().map(|at| self.alleles[*at]).collect(),
            places.windows(2).map(between).collect(),
        )
    }

    /// For each genotype the one of a part that it falls in.
    #[must_use]
    pub fn narrowing(&self, part: &Self) -> Vec<usize> {
        if self.key == part.key {
            return (0..self.size()).collect();
        }
        let place = |locus: &LocusIx| {
            let at = self.loci.iter().position(|own| own == locus);
            at.expect("a part holds no other loci")
        };
        let places: Vec<usize> = part.loci.iter().map(place).collect();
        let of_haplotype: Vec<usize> = (0..self.haplotypes)
            .map(|haplotype| {
                let alleles = self.alleles_of(haplotype);
                let taken: Vec<u8> = places.iter().map(|at| alleles[*at]).collect();
                part.haplotype(&taken)
            })
            .collect();
        self.strands
            .iter()
            .map(|[one, other]| part.genotype(of_haplotype[*one], of_haplotype[*other]))
            .collect()
    }

    /// A genotype as its two strands: `A-B/a-b`; of one locus `A/a`.
    #[must_use]
    pub fn written(&self, genotype: usize, book: &LocusBook) -> String {
        if self.is_alone() {
            return self.pair(genotype, 0).written(book.get(self.loci[0]));
        }
        let strand = |alleles: &Vec<u8>| {
            let symbols = self.loci.iter().zip(alleles);
            let symbols = symbols.map(|(l, at)| book.get(*l).alleles[usize::from(*at)].as_str());
            symbols.collect::<Vec<_>>().join("-")
        };
        self.strands(genotype).each_ref().map(strand).join("/")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn group(steps: &[[f64; 2]]) -> LinkageGroup {
        let loci: Vec<LocusIx> = (0..=steps.len()).map(LocusIx).collect();
        let key = GroupKey {
            first: LocusIx(0),
            part: (1 << loci.len()) - 1,
        };
        let alleles = vec![2; loci.len()];
        LinkageGroup::new(key, loci, alleles, steps.to_vec())
    }

    fn close(got: &[f64], wanted: &[f64]) {
        let far = got.iter().zip(wanted).map(|(a, b)| (a - b).abs());
        assert!(
            got.len() == wanted.len() && far.fold(0.0, f64::max) < 1e-15,
            "{got:?} {wanted:?}"
        );
    }

    /// Textbook: parental gametes (1 - r)/2 each, recombinant ones r/2 each.
    #[test]
    fn gametes_of_coupling_and_repulsion() {
        let pair = group(&[[0.1, 0.3]]);
        let coupling = pair.genotype(0, 3);
        close(
            &pair.gametes(coupling, Side::Egg),
            &[0.45, 0.05, 0.05, 0.45],
        );
        close(
            &pair.gametes(coupling, Side::Pollen),
            &[0.35, 0.15, 0.15, 0.35],
        );
        let repulsion = pair.genotype(1, 2);
        close(
            &pair.gametes(repulsion, Side::Egg),
            &[0.05, 0.45, 0.45, 0.05],
        );
        assert_eq!(pair.unphased(coupling), pair.unphased(repulsion));
        assert_eq!(
            (pair.size(), pair.phases(coupling), pair.phases(0)),
            (10, 2, 1)
        );
    }

    /// Taking loci out of a group and making gametes can be done in either order.
    #[test]
    fn a_part_is_handed_on_as_it_is_within_the_whole() {
        let whole = group(&[[0.1, 0.02], [0.2, 0.4]]);
        for taken in 1..8 {
            let part = whole.part(taken);
            let map = whole.narrowing(&part);
            for (genotype, to) in map.iter().enumerate() {
                for side in [Side::Egg, Side::Pollen] {
                    let mut sums = vec![0.0; part.haplotypes];
                    for (haplotype, p) in whole.gametes(genotype, side).iter().enumerate() {
                        let alleles = whole.alleles_of(haplotype);
                        let own: Vec<u8> = (0..3)
                            .filter(|at| taken & (1 << at) != 0)
                            .map(|at| alleles[at])
                            .collect();
                        sums[part.haplotype(&own)] += p;
                    }
                    close(&part.gametes(*to, side), &sums);
                }
            }
        }
    }

    /// At each locus by itself selfings of linked loci fix what selfings of that locus fix.
    #[test]
    fn selfings_fix_each_locus_as_they_fix_it_alone() {
        let pair = group(&[[0.1, 0.3]]);
        for fixed in [0.3, 0.5, 0.8, 0.95, 1.0] {
            let mut born = vec![0.0; 10];
            born[pair.genotype(0, 3)] = 0.75;
            born[pair.genotype(1, 3)] = 0.25;
            let since = pair.selfed_since(born, fixed);
            let mixed: f64 = (0..10)
                .filter(|at| !pair.pair(*at, 0).is_homozygous())
                .map(|at| since[at])
                .sum();
            assert!((mixed - (1.0 - fixed)).abs() < 1e-12, "{fixed}: {mixed}");
            assert!((since.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn is_written_strand_by_strand() {
        let mut book = LocusBook::new();
        book.declare("A", &["A", "a"]).unwrap();
        book.declare("H", &["H", "h"]).unwrap();
        let pair = group(&[[0.1, 0.1]]);
        assert_eq!(pair.written(pair.genotype(3, 0), &book), "A-H/a-h");
        assert_eq!(pair.written(pair.genotype(1, 2), &book), "A-h/a-H");
    }
}
