//! Genotypes, gametes and what offspring look like in the end, by running through every gamete.
//!
//! A plant's genotype is an index into the list of all joint genotypes of the carried loci. Where some of these are
//! linked, genotypes are ordered: of each pair the first allele is on the strand from the mother, the second on that from
//! the father. Else the order says nothing, and every pair stands once.

use super::season::{Season, Slot, Step, Trait};

/// The pair of alleles at each carried locus.
pub type Genotype = Vec<(u8, u8)>;

/// A haploid grain or egg with its probability.
pub type Grain = (Vec<u8>, f64);

/// The carried loci of a season and every joint genotype over them.
pub struct Genes<'a> {
    pub season: &'a Season,
    /// Carried loci, as indices into the season's loci.
    pub loci: Vec<usize>,
    pub all: Vec<Genotype>,
    /// Whether genotypes are ordered.
    pub ordered: bool,
}

/// Which gametes: the sexes may differ in recombination.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sex {
    Female,
    Male,
}

impl<'a> Genes<'a> {
    /// Carries every locus that any of the given traits reads.
    pub fn new(season: &'a Season, traits: &[usize]) -> Genes<'a> {
        let rules = traits.iter().flat_map(|&t| &season.traits[t].rules);
        let mut loci: Vec<usize> = rules.flat_map(|r| r.pattern.iter().map(|p| p.0)).collect();
        loci.sort_unstable();
        loci.dedup();
        let carried = |locus: usize| loci.contains(&locus);
        let ordered = (season.chromosome.iter()).filter(|s| carried(s.from) || carried(s.to));
        let ordered = ordered.count() > 0 && loci.len() > 1;
        let mut all = vec![Genotype::new()];
        for &locus in &loci {
            let alleles = season.loci[locus].alleles.len();
            let pairs = if ordered {
                in_order(alleles)
            } else {
                pairs(alleles)
            };
            all = all
                .iter()
                .flat_map(|g| pairs.iter().map(|&p| extended(g, p)))
                .collect();
        }
        Genes {
            season,
            loci,
            all,
            ordered,
        }
    }

    /// A plant's gametes: every way of taking either strand at each locus. Along a chromosome the first locus takes
    /// either with probability one half, and each further one stays on the strand of the one before or changes over.
    pub fn gametes(&self, genotype: usize, sex: Sex) -> Vec<Grain> {
        let pairs = &self.all[genotype];
        let mut order: Vec<usize> = (0..self.loci.len()).collect();
        let along = |at: &usize| {
            self.season
                .chromosome
                .iter()
                .position(|s| s.to == self.loci[*at])
        };
        // The first locus of the chromosome is the end of no step; the others come in the order of the steps.
        order.sort_by_key(|at| along(at).map_or(0, |step| step + 1));
        let mut grains = Vec::new();
        for taken in 0..1_usize << self.loci.len() {
            let strand = |at: usize| taken >> at & 1;
            let mut p = 1.0;
            for (nth, &at) in order.iter().enumerate() {
                let before = order[..nth].iter().rev().find_map(|&other| {
                    let r = self.parted(self.loci[other], self.loci[at], sex)?;
                    Some((other, r))
                });
                p *= match before {
                    None => 0.5,
                    Some((other, r)) if strand(other) == strand(at) => 1.0 - r,
                    Some((_, r)) => r,
                };
            }
            let allele = |(at, pair): (usize, &(u8, u8))| [pair.0, pair.1][strand(at)];
            grains.push((pairs.iter().enumerate().map(allele).collect(), p));
        }
        grains
    }

    /// How often two loci are parted, the first before the second along the chromosome: an odd number of crossovers on
    /// the way.
    fn parted(&self, from: usize, to: usize, sex: Sex) -> Option<f64> {
        let chromosome = &self.season.chromosome;
        let first = chromosome.iter().position(|s| s.from == from)?;
        let last = chromosome.iter().position(|s| s.to == to)?;
        let steps = chromosome.get(first..=last)?;
        let odd = |odd: f64, step: &Step| {
            let r = step.r[sex as usize];
            odd * (1.0 - r) + (1.0 - odd) * r
        };
        Some(steps.iter().fold(0.0, odd))
    }

    /// The genotype that an egg and a grain make.
    pub fn child(&self, egg: &[u8], grain: &[u8]) -> Genotype {
        let pair = |(&x, &y): (&u8, &u8)| match self.ordered {
            true => (x, y),
            false => (x.min(y), x.max(y)),
        };
        egg.iter().zip(grain).map(pair).collect()
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
                let child = self.child(egg, grain);
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

/// All ordered pairs of `k` alleles.
fn in_order(k: usize) -> Vec<(u8, u8)> {
    let k = u8::try_from(k).expect("a locus has few alleles");
    (0..k).flat_map(|x| (0..k).map(move |y| (x, y))).collect()
}

/// How a genotype lies against the pairs stated with their phase: how many of these are mixed and as stated, and whether
/// their alleles lie together as stated (which strand is the mother's is not asked).
pub fn lies(genes: &Genes, stated: &[(usize, [Slot; 2])], genotype: &Genotype) -> (i32, bool) {
    let mut first_on_first = Vec::new();
    for (locus, slots) in stated {
        let at = genes.loci.iter().position(|own| own == locus);
        let (Some(at), [Some(one), Some(other)]) = (at, slots) else {
            continue;
        };
        if one != other && matches(*slots, genotype[at]) {
            first_on_first.push(genotype[at].0 == *one);
        }
    }
    let count = i32::try_from(first_on_first.len()).expect("few loci");
    first_on_first.dedup();
    (count, first_on_first.len() < 2)
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
