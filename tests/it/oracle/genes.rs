//! Genotypes, gametes and what offspring look like in the end, by running through every gamete.
//!
//! Loci are unlinked. A plant's genotype is an index into the list of all joint genotypes of the carried loci.

use super::season::{Season, Slot, Trait};

/// The unordered pair of alleles at each carried locus.
pub type Genotype = Vec<(u8, u8)>;

/// A haploid grain or egg with its probability.
pub type Grain = (Vec<u8>, f64);

/// The carried loci of a season and every joint genotype over them.
pub struct Genes<'a> {
    pub season: &'a Season,
    /// Carried loci, as indices into the season's loci.
    pub loci: Vec<usize>,
    pub all: Vec<Genotype>,
}

impl<'a> Genes<'a> {
    /// Carries every locus that any of the given traits reads.
    pub fn new(season: &'a Season, traits: &[usize]) -> Genes<'a> {
        let rules = traits.iter().flat_map(|&t| &season.traits[t].rules);
        let mut loci: Vec<usize> = rules.flat_map(|r| r.pattern.iter().map(|p| p.0)).collect();
        loci.sort_unstable();
        loci.dedup();
        let mut all = vec![Genotype::new()];
        for &locus in &loci {
            let pairs = pairs(season.loci[locus].alleles.len());
            all = all
                .iter()
                .flat_map(|g| pairs.iter().map(|&p| extended(g, p)))
                .collect();
        }
        Genes { season, loci, all }
    }

    /// A plant's gametes: each locus gives either of its two alleles with probability one half.
    pub fn gametes(&self, genotype: usize) -> Vec<Grain> {
        let mut grains = vec![(Vec::new(), 1.0)];
        for &(x, y) in &self.all[genotype] {
            grains = grains
                .iter()
                .flat_map(|g| [(x, 0.5), (y, 0.5)].map(|a| lengthened(g, a)))
                .collect();
        }
        grains
    }

    /// Grains drawn independently at the given allele shares per carried locus.
    pub fn pool(&self, shares: &[Vec<f64>]) -> Vec<Grain> {
        let mut grains = vec![(Vec::new(), 1.0)];
        for locus in shares {
            let alleles: Vec<(u8, f64)> = (0..).zip(locus.iter().copied()).collect();
            grains = grains
                .iter()
                .flat_map(|g| alleles.iter().map(|&a| lengthened(g, a)))
                .collect();
        }
        grains
    }

    /// The final class of each of the traits for a genotype.
    pub fn classes(&self, genotype: &Genotype, traits: &[usize]) -> Vec<usize> {
        traits
            .iter()
            .map(|&t| self.class(genotype, &self.season.traits[t]))
            .collect()
    }

    fn class(&self, genotype: &Genotype, t: &Trait) -> usize {
        let holds = |(locus, slots): &(usize, [Slot; 2])| {
            let at = self
                .loci
                .iter()
                .position(|l| l == locus)
                .expect("a rule's loci are carried");
            matches(*slots, genotype[at])
        };
        let rule = t.rules.iter().find(|r| r.pattern.iter().all(holds));
        rule.expect("the last rule is `else`").class
    }

    /// The distribution of final looks (by index into `looks`) of the offspring of two kinds of gametes.
    pub fn offspring(
        &self,
        eggs: &[Grain],
        grains: &[Grain],
        traits: &[usize],
        looks: &[Vec<usize>],
    ) -> Vec<f64> {
        let mut shares = vec![0.0; looks.len()];
        for (egg, p) in eggs {
            for (grain, q) in grains {
                let child = egg
                    .iter()
                    .zip(grain)
                    .map(|(&x, &y)| (x.min(y), x.max(y)))
                    .collect();
                let look = self.classes(&child, traits);
                let at = looks
                    .iter()
                    .position(|l| *l == look)
                    .expect("every look is listed");
                shares[at] += p * q;
            }
        }
        shares
    }
}

/// Whether a stated pair fits a genotype, whatever the order.
pub fn matches(slots: [Slot; 2], (x, y): (u8, u8)) -> bool {
    let fits = |s: Slot, a: u8| s.is_none_or(|s| s == a);
    (fits(slots[0], x) && fits(slots[1], y)) || (fits(slots[0], y) && fits(slots[1], x))
}

/// All unordered pairs of `k` alleles.
pub fn pairs(k: usize) -> Vec<(u8, u8)> {
    let k = u8::try_from(k).expect("a locus has few alleles");
    (0..k).flat_map(|x| (x..k).map(move |y| (x, y))).collect()
}

/// Every combination of final classes of the traits.
pub fn all_looks(season: &Season, traits: &[usize]) -> Vec<Vec<usize>> {
    let mut looks = vec![Vec::new()];
    for &t in traits {
        let classes = season.traits[t].classes.len();
        looks = looks
            .iter()
            .flat_map(|l: &Vec<usize>| (0..classes).map(move |c| [l.as_slice(), &[c]].concat()))
            .collect();
    }
    looks
}

fn extended(g: &Genotype, pair: (u8, u8)) -> Genotype {
    [g.as_slice(), &[pair]].concat()
}

fn lengthened((alleles, p): &Grain, (allele, q): (u8, f64)) -> Grain {
    ([alleles.as_slice(), &[allele]].concat(), p * q)
}
