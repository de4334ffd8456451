//! The reasons of a plan: which parent brings what, how the F1 looks, what lies on one chromosome, and what is not
//! settled of a parent with what would settle it.

use super::field::{Field, Mixture, Part, is_settled};
use super::stock::Flock;
use super::{Ranked, SETTLED, Scheme, WORTH_TRYING};
use crate::diagnosis::context::Context;
use crate::diagnosis::group::Side;
use crate::genetics::genotype::Diploid;
use crate::genetics::locus::LocusIx;
use crate::genetics::progeny::{ProgenyTest, to_expose};

/// Who brings a look: shows it, or can give it in its selfed seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum By {
    /// The mother; of a self the plant.
    Mother,
    /// The father.
    Father,
    /// Either.
    Both,
    /// The mother may, which is not settled.
    PerhapsMother,
    /// The father may.
    PerhapsFather,
    /// Neither by itself: it comes of both together.
    Together,
}

/// A look and who brings it.
#[derive(Debug, Clone, PartialEq)]
pub struct Bringing {
    /// The look, by its place among those asked.
    pub ask: usize,
    /// Who brings it.
    pub by: By,
    /// What is settled of mother and father at the loci of its trait.
    pub genotypes: [Vec<(LocusIx, Diploid)>; 2],
}

/// Looks whose loci lie on one chromosome.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Linked {
    /// The looks.
    pub asks: Vec<usize>,
    /// The loci, in their order.
    pub loci: Vec<LocusIx>,
    /// Whether one parent brings all of them; otherwise they have to be brought together.
    pub from_one: bool,
}

/// The reasons of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Why {
    /// Look by look.
    pub brings: Vec<Bringing>,
    /// Look by look the classes that F1 plants show; none of a self.
    pub hybrid: Vec<Vec<usize>>,
    /// What is linked.
    pub linked: Vec<Linked>,
}

/// What would settle a genotype.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Settle {
    /// The plant's own look, by its place among those asked.
    Look(usize),
    /// Seedlings of a cross with a plant that is recessive there.
    Testcross {
        /// That plant.
        tester: i64,
        /// How many seedlings would show a recessive allele.
        seedlings: u64,
    },
    /// Its selfed seedlings.
    Selfed {
        /// How many would show a recessive allele.
        seedlings: u64,
    },
    /// Which of its linked alleles lie together is all that is open; its seed would tell.
    Phase,
}

/// What is not settled of a parent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unsettled {
    /// The plant.
    pub plant: i64,
    /// At which loci.
    pub loci: Vec<LocusIx>,
    /// What would settle it.
    pub by: Settle,
}

/// F1 plants of a class less likely than this are not spoken of (design choice).
const WORTH_SAYING: f64 = 0.005;

impl Field {
    /// The reasons of a plan of two flocks.
    pub(super) fn why(&self, context: &Context<'_>, scheme: Scheme, pair: [&Flock; 2]) -> Why {
        let is_self = scheme == Scheme::Selfed;
        let brings: Vec<Bringing> = (0..self.asks.len())
            .map(|ask| self.bringing(context, ask, is_self, pair))
            .collect();
        let hybrid = |ask: usize| self.hybrid_classes(ask, pair);
        Why {
            hybrid: match is_self {
                true => Vec::new(),
                false => (0..self.asks.len()).map(hybrid).collect(),
            },
            linked: self.linked(context, &brings),
            brings,
        }
    }

    fn part_of(&self, ask: usize) -> usize {
        let part = self.parts.iter().position(|part| part.asks.contains(&ask));
        part.expect("every look is asked of one part")
    }

    /// How likely a plant can give a look in its selfed seed, being what a mixture says.
    pub(super) fn carries(&self, ask: usize, mixture: &Mixture, flock: &Flock) -> f64 {
        let (part, class) = (&self.parts[self.part_of(ask)], self.asks[ask].class);
        let can = |(genotype, _): &&(usize, f64)| {
            let shows = |child| part.class_of(ask, child, flock.is_sterile) == class;
            part.selfed(*genotype)
                .into_iter()
                .any(|(child, _)| shows(child))
        };
        mixture.iter().filter(can).map(|(_, p)| p).sum()
    }

    fn bringing(
        &self,
        context: &Context<'_>,
        ask: usize,
        is_self: bool,
        pair: [&Flock; 2],
    ) -> Bringing {
        let part = self.part_of(ask);
        let [mother, father] = pair.map(|flock| self.carries(ask, &flock.may_be[part], flock));
        let by = match (is_settled(mother), is_settled(father)) {
            (true, true) if !is_self => By::Both,
            (true, _) => By::Mother,
            (_, true) => By::Father,
            _ if mother.max(father) < WORTH_TRYING => By::Together,
            _ if mother >= father => By::PerhapsMother,
            _ => By::PerhapsFather,
        };
        let look = &context.looks.traits[self.asks[ask].look];
        let genotypes = pair.map(|flock| {
            let loci = look.model.loci().iter();
            let at = |locus: &LocusIx| {
                let pair = self.parts[part].settled_at(*locus, &flock.may_be[part])?;
                Some((*locus, pair))
            };
            loci.filter_map(at).collect()
        });
        Bringing { ask, by, genotypes }
    }

    fn hybrid_classes(&self, ask: usize, [mother, father]: [&Flock; 2]) -> Vec<usize> {
        let place = self.part_of(ask);
        let part = &self.parts[place];
        let mut chances: Vec<f64> = Vec::new();
        for (she, p) in &mother.may_be[place] {
            let eggs = part.space.gametes(*she, Side::Egg);
            for (he, q) in &father.may_be[place] {
                let seed = part
                    .space
                    .offspring(&eggs, &part.space.gametes(*he, Side::Pollen));
                for (genotype, share) in seed.iter().enumerate().filter(|(_, s)| **s > 0.0) {
                    let class = part.class_of(ask, genotype, mother.is_sterile);
                    chances.resize(chances.len().max(class + 1), 0.0);
                    chances[class] += p * q * share;
                }
            }
        }
        let classes = 0..chances.len();
        classes
            .filter(|class| chances[*class] >= WORTH_SAYING)
            .collect()
    }

    fn linked(&self, context: &Context<'_>, brings: &[Bringing]) -> Vec<Linked> {
        let mut found = Vec::new();
        for part in &self.parts {
            for unit in part.space.units.iter().filter(|unit| !unit.is_alone()) {
                let reads = |ask: &&usize| {
                    let model = &context.looks.traits[self.asks[**ask].look].model;
                    model.loci().iter().any(|locus| unit.loci.contains(locus))
                };
                let asks: Vec<usize> = part.asks.iter().filter(reads).copied().collect();
                if asks.len() < 2 {
                    continue;
                }
                let by = |ask: &usize| brings[*ask].by;
                let from_one = [By::Mother, By::Father].iter().any(|parent| {
                    let from = |ask: &usize| [*parent, By::Both].contains(&by(ask));
                    asks.iter().all(from)
                });
                found.push(Linked {
                    asks,
                    loci: unit.loci.clone(),
                    from_one,
                });
            }
        }
        found
    }

    /// What is not settled of the parents of some plans, where that moves the share of seed as wanted.
    pub(super) fn unsettled(
        &self,
        context: &Context<'_>,
        plans: &[Ranked],
        flocks: &[Flock],
        confidence: f64,
    ) -> Vec<Unsettled> {
        let mut found: Vec<Unsettled> = Vec::new();
        let mut seen: Vec<usize> = Vec::new();
        let is_moved = |one: &&Ranked| one.plan.share.most - one.plan.share.least > 1e-9;
        for at in plans.iter().filter(is_moved).flat_map(|one| one.pair) {
            if seen.contains(&at) {
                continue;
            }
            seen.push(at);
            for (place, unit) in &flocks[at].open {
                let loci = &self.parts[*place].space.units[*unit].loci;
                let by = self.settling(context, (*place, loci), &flocks[at], flocks, confidence);
                for plant in &flocks[at].plants {
                    let known = found
                        .iter_mut()
                        .find(|one| one.plant == *plant && one.by == by);
                    match known {
                        Some(known) => known.loci.extend(loci),
                        None => found.push(Unsettled {
                            plant: *plant,
                            loci: loci.clone(),
                            by,
                        }),
                    }
                }
            }
        }
        found
    }

    /// What would settle a linkage group of a plant: its own look where that is not known for sure, else its seed.
    fn settling(
        &self,
        context: &Context<'_>,
        (place, loci): (usize, &[LocusIx]),
        flock: &Flock,
        flocks: &[Flock],
        confidence: f64,
    ) -> Settle {
        let (part, may_be) = (&self.parts[place], &flock.may_be[place]);
        let unseen = part.asks.iter().find(|ask| {
            let model = &context.looks.traits[self.asks[**ask].look].model;
            let reads = model.loci().iter().any(|locus| loci.contains(locus));
            reads && !self.is_look_settled(**ask, part, may_be, flock)
        });
        if let Some(ask) = unseen {
            return Settle::Look(*ask);
        }
        let open = |locus: &&LocusIx| part.settled_at(**locus, may_be).is_none();
        let Some(locus) = loci.iter().find(open) else {
            return Settle::Phase;
        };
        let last = context.looks.book.get(*locus).alleles.len() - 1;
        let is_tester = |other: &&Flock| {
            let pair = part.settled_at(*locus, &other.may_be[place]);
            let is_last = |pair: Diploid| pair.is_homozygous() && usize::from(pair.a()) == last;
            pair.is_some_and(is_last) && (flock.sheds || other.sheds)
        };
        match flocks.iter().find(is_tester) {
            Some(tester) => Settle::Testcross {
                tester: tester.plants[0],
                seedlings: to_expose(ProgenyTest::Testcross, confidence),
            },
            None => Settle::Selfed {
                seedlings: to_expose(ProgenyTest::Selfed, confidence),
            },
        }
    }

    fn is_look_settled(&self, ask: usize, part: &Part, may_be: &Mixture, flock: &Flock) -> bool {
        let mut chances: Vec<f64> = Vec::new();
        for (genotype, p) in may_be {
            let class = part.class_of(ask, *genotype, flock.is_sterile);
            chances.resize(chances.len().max(class + 1), 0.0);
            chances[class] += p;
        }
        chances.into_iter().any(|p| p >= SETTLED)
    }
}

impl Part {
    /// The settled genotype of a plant at a locus.
    fn settled_at(&self, locus: LocusIx, may_be: &Mixture) -> Option<Diploid> {
        let place = self.space.loci.iter().position(|own| *own == locus)?;
        let mut chances: Vec<(Diploid, f64)> = Vec::new();
        for (genotype, p) in may_be {
            let pair = self.space.genotype(*genotype)[place];
            match chances.iter_mut().find(|(known, _)| *known == pair) {
                Some((_, sum)) => *sum += p,
                None => chances.push((pair, *p)),
            }
        }
        let settled = chances.into_iter().find(|(_, p)| is_settled(*p));
        settled.map(|(pair, _)| pair)
    }
}
