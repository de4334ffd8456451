//! The kinds of plants that a breeding scheme goes through, strand by strand, and what each gives.
//!
//! From the plants that a scheme starts with every kind is found that selfing, and crossing back, leads to, with the
//! share of its offspring that is of each kind, exact along the chromosomes (no interference). Numbers of plants are
//! not known here; the legs of a scheme ask.

use std::collections::{BTreeMap, BTreeSet};

use crate::genetics::expect::Parent;
use crate::genetics::genotype::Diploid;
use crate::genetics::linkage::Arrangement;
use crate::genetics::locus::LocusIx;
use crate::genetics::rule::{Cytoplasm, GeneModel};
use crate::genetics::segregation::AtLocus;

/// Most kinds of plants that are gone through: all that two parents give who differ at five loci are 528.
pub const MOST_KINDS: usize = 600;

/// The alleles on a strand, locus by locus.
pub type Strand = Vec<u8>;

/// A plant's two strands, the smaller first: which came from the mother is no matter.
pub type Strands = [Strand; 2];

/// Kinds by their numbers with how likely each is.
pub type Mixture = Vec<(usize, f64)>;

/// More kinds of plants than are gone through.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the scheme goes through more than {MOST_KINDS} kinds of plants")]
pub struct TooManyKinds;

/// How loci lie: their order, and how often each is parted from the one before, in eggs and in pollen.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// The loci, chromosome after chromosome.
    pub loci: Vec<LocusIx>,
    parted: Vec<[f64; 2]>,
}

/// Parted as often as not: the first locus of a chromosome from the last of the one before.
const FREE: [f64; 2] = [0.5; 2];

impl Order {
    /// As an arrangement has them.
    #[must_use]
    pub fn of(arrangement: &Arrangement) -> Self {
        let mut order = Self {
            loci: Vec::new(),
            parted: Vec::new(),
        };
        for chromosome in &arrangement.chromosomes {
            order.loci.extend(&chromosome.loci);
            order.parted.push(FREE);
            let steps = chromosome.steps.iter();
            let steps = steps.map(|r| [r.female.value(), r.male.value()]);
            order.parted.extend(steps);
        }
        order
    }

    /// The strands that a plant's eggs (0) or pollen (1) carry, with their shares.
    #[must_use]
    pub fn gametes(&self, plant: &Strands, sex: usize) -> BTreeMap<Strand, f64> {
        let mut open: BTreeMap<(Strand, usize), f64> =
            [((Strand::new(), 0), 0.5), ((Strand::new(), 1), 0.5)].into();
        for (at, parted) in self.parted.iter().enumerate() {
            let mut next = BTreeMap::new();
            for ((strand, side), p) in open {
                for (to, alleles) in plant.iter().enumerate() {
                    let turn = if to == side {
                        1.0 - parted[sex]
                    } else {
                        parted[sex]
                    };
                    if turn > 0.0 {
                        let mut strand = strand.clone();
                        strand.push(alleles[at]);
                        *next.entry((strand, to)).or_insert(0.0) += p * turn;
                    }
                }
            }
            open = next;
        }
        let mut found = BTreeMap::new();
        for ((strand, _), p) in open {
            *found.entry(strand).or_insert(0.0) += p;
        }
        found
    }

    /// The offspring of a mother and a father, with their shares.
    #[must_use]
    pub fn offspring(&self, mother: &Strands, father: &Strands) -> BTreeMap<Strands, f64> {
        let (eggs, pollen) = (self.gametes(mother, 0), self.gametes(father, 1));
        let mut found = BTreeMap::new();
        for (egg, p) in &eggs {
            for (grain, q) in &pollen {
                *found
                    .entry(paired(egg.clone(), grain.clone()))
                    .or_insert(0.0) += p * q;
            }
        }
        found
    }
}

/// Two strands as a plant.
#[must_use]
pub fn paired(one: Strand, other: Strand) -> Strands {
    if one <= other {
        [one, other]
    } else {
        [other, one]
    }
}

/// How the alleles of a plant may lie on its two strands, each way as likely: which of two chromosomes' strands go
/// together is no matter.
///
/// # Panics
/// If a locus is not stated.
#[must_use]
pub fn every_way(plant: &Parent, chromosomes: &[&[LocusIx]]) -> Vec<(Strands, f64)> {
    let mut ways: Vec<[Strand; 2]> = vec![[Strand::new(), Strand::new()]];
    for loci in chromosomes {
        let mut is_first = true;
        for locus in *loci {
            let at = plant.at(*locus);
            let pair = at.and_then(AtLocus::known).expect("every locus is stated");
            let lies = match at {
                Some(AtLocus::Phased([one, other])) => vec![[*one, *other]],
                _ if pair.is_homozygous() || is_first => vec![[pair.a(), pair.b()]],
                _ => vec![[pair.a(), pair.b()], [pair.b(), pair.a()]],
            };
            is_first &= pair.is_homozygous();
            let with = |way: &[Strand; 2]| {
                let more = lies.iter().map(|[one, other]| {
                    [
                        [&way[0][..], &[*one]].concat(),
                        [&way[1][..], &[*other]].concat(),
                    ]
                });
                more.collect::<Vec<_>>()
            };
            ways = ways.iter().flat_map(with).collect();
        }
    }
    let each = 1.0 / ways.len() as f64;
    let ways = ways.into_iter();
    ways.map(|[one, other]| (paired(one, other), each))
        .collect()
}

/// The seed of a cross, either way that the parents' alleles may lie as likely seed by seed.
#[must_use]
pub fn crossed(order: &Order, strands: &[Vec<(Strands, f64)>; 2]) -> Vec<(Strands, f64)> {
    let mut found: Vec<(Strands, f64)> = Vec::new();
    for (mother, p) in &strands[0] {
        for (father, q) in &strands[1] {
            for (plant, share) in order.offspring(mother, father) {
                let share = p * q * share;
                match found.iter_mut().find(|(known, _)| *known == plant) {
                    Some((_, sum)) => *sum += share,
                    None => found.push((plant, share)),
                }
            }
        }
    }
    found
}

/// What is wanted: classes of some gene models.
#[derive(Debug, Clone)]
pub struct Wish<'a> {
    /// The models with the class asked of each.
    pub asks: Vec<(&'a GeneModel, usize)>,
    /// The cytoplasm that the scheme's mother hands on.
    pub cytoplasm: Cytoplasm,
}

impl Wish<'_> {
    /// What a plant shows, model by model.
    #[must_use]
    pub fn look(&self, order: &Order, plant: &Strands) -> Vec<usize> {
        let at = |locus: &LocusIx| {
            let known = order.loci.iter().position(|one| one == locus);
            let place = known.expect("every locus that a model reads is carried");
            Diploid::new(plant[0][place], plant[1][place])
        };
        let class = |(model, _): &(&GeneModel, usize)| {
            let pairs: Vec<Diploid> = model.loci().iter().map(at).collect();
            model.class_of(&pairs, self.cytoplasm)
        };
        self.asks.iter().map(class).collect()
    }

    /// Whether a look is as wanted.
    #[must_use]
    pub fn is_met(&self, look: &[usize]) -> bool {
        self.asks
            .iter()
            .zip(look)
            .all(|((_, class), shown)| class == shown)
    }
}

/// One kind of plant.
#[derive(Debug, Clone, PartialEq)]
pub struct Kind {
    /// What it shows.
    pub look: Vec<usize>,
    /// Whether it shows all that is wanted.
    pub shows: bool,
    /// Whether all of its selfed seed does, too.
    pub is_true: bool,
    /// The share of its selfed seed that shows it.
    pub throws_shown: f64,
    /// The share of its selfed seed that breeds true for it.
    pub throws_true: f64,
    /// The share of its seed by the donor that shows it; 0 where there is no donor.
    pub tested: f64,
    /// Its selfed seed.
    pub selfed: Mixture,
    /// Its seed by the parent gone back to; empty where there is none.
    pub back: Mixture,
}

/// What a scheme starts with.
#[derive(Debug, Clone, PartialEq)]
pub struct Start {
    /// The plants that may be the first, with how likely each is.
    pub first: Vec<(Strands, f64)>,
    /// The parent gone back to, and the donor.
    pub back: Option<[Strands; 2]>,
}

/// Every kind of plant that a scheme may come by.
#[derive(Debug, Clone, PartialEq)]
pub struct Kinds {
    /// The kinds.
    pub all: Vec<Kind>,
    /// Those that the scheme starts with.
    pub first: Mixture,
}

/// A share nearer to 1 than this is all.
const ROUNDING: f64 = 1e-9;

impl Kinds {
    /// Every kind that a start leads to.
    ///
    /// # Errors
    /// [`TooManyKinds`].
    pub fn of(start: &Start, order: &Order, wish: &Wish<'_>) -> Result<Self, TooManyKinds> {
        let mut pool = Pool::default();
        let mut first = Mixture::new();
        for (strands, p) in &start.first {
            first.push((pool.number(strands)?, *p));
        }
        let (mut selfed, mut back) = (Vec::new(), Vec::new());
        while selfed.len() < pool.strands.len() {
            let plant = pool.strands[selfed.len()].clone();
            selfed.push(pool.numbered(order.offspring(&plant, &plant))?);
            back.push(match &start.back {
                Some([recurrent, _]) => pool.numbered(order.offspring(&plant, recurrent))?,
                None => Mixture::new(),
            });
        }
        let looks: Vec<Vec<usize>> = pool
            .strands
            .iter()
            .map(|one| wish.look(order, one))
            .collect();
        let shows: Vec<bool> = looks.iter().map(|look| wish.is_met(look)).collect();
        let share = |of: &Mixture, has: &[bool]| -> f64 {
            let hits = of.iter().filter(|(kind, _)| has[*kind]);
            hits.map(|(_, p)| p).sum()
        };
        let throws: Vec<f64> = selfed.iter().map(|of| share(of, &shows)).collect();
        let is_true: Vec<bool> = (shows.iter().zip(&throws))
            .map(|(shows, throws)| *shows && *throws >= 1.0 - ROUNDING)
            .collect();
        let tested = |plant: &Strands| match &start.back {
            Some([_, donor]) => {
                let offspring = order.offspring(plant, donor).into_iter();
                let shown = offspring.filter(|(one, _)| wish.is_met(&wish.look(order, one)));
                shown.map(|(_, p)| p).sum()
            }
            None => 0.0,
        };
        let kind = |at: usize| Kind {
            look: looks[at].clone(),
            shows: shows[at],
            is_true: is_true[at],
            throws_shown: throws[at].min(1.0),
            throws_true: share(&selfed[at], &is_true).min(1.0),
            tested: tested(&pool.strands[at]),
            selfed: selfed[at].clone(),
            back: back[at].clone(),
        };
        Ok(Self {
            all: (0..pool.strands.len()).map(kind).collect(),
            first,
        })
    }

    /// The looks that some of these kinds have.
    #[must_use]
    pub fn looks(&self, of: impl Iterator<Item = usize>) -> BTreeSet<&[usize]> {
        of.map(|kind| self.all[kind].look.as_slice()).collect()
    }
}

/// Kinds as they are met.
#[derive(Default)]
struct Pool {
    strands: Vec<Strands>,
    numbers: BTreeMap<Strands, usize>,
}

impl Pool {
    fn number(&mut self, plant: &Strands) -> Result<usize, TooManyKinds> {
        if let Some(known) = self.numbers.get(plant) {
            return Ok(*known);
        }
        if self.strands.len() == MOST_KINDS {
            return Err(TooManyKinds);
        }
        self.strands.push(plant.clone());
        self.numbers.insert(plant.clone(), self.strands.len() - 1);
        Ok(self.strands.len() - 1)
    }

    fn numbered(&mut self, plants: BTreeMap<Strands, f64>) -> Result<Mixture, TooManyKinds> {
        let each = plants.into_iter();
        each.map(|(plant, p)| Ok((self.number(&plant)?, p)))
            .collect()
    }
}
