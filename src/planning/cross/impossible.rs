//! Why no cross can give what is wanted: which trait, and which alleles no parent has.
//!
//! Each look is tried by itself with the same parents; what cannot come even so lacks an allele, and what can comes from
//! parents too many for one cross.

use super::field::{Field, loci_of};
use super::stock::{Flock, flocks};
use super::{Ask, Planner, Question, WORTH_TRYING};
use crate::diagnosis::DiagnosisError;
use crate::diagnosis::context::Context;
use crate::diagnosis::genotypes::GenotypeError;
use crate::genetics::genotype::Diploid;
use crate::genetics::locus::LocusIx;

/// A look that no parent can give.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lack {
    /// The look, by its place among those asked.
    pub ask: usize,
    /// The loci that make it impossible, each with the alleles that it would take and no parent has; where only several
    /// together do, all loci of the trait without alleles.
    pub alleles: Vec<(LocusIx, Vec<u8>)>,
}

/// Why there is no plan.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NoCross {
    /// The exact answer is too large, or a stored text cannot be read.
    #[error(transparent)]
    Genotype(#[from] GenotypeError),
    /// More genotypes than are gone through.
    #[error(
        "the genes of these traits make {size} genotypes together; up to {most} are gone through"
    )]
    TooManyGenotypes {
        /// How many.
        size: usize,
        /// How many are gone through.
        most: usize,
    },
    /// There is no parent.
    #[error("there is no parent to cross")]
    NoParents,
    /// No genotype shows these looks together.
    #[error("no genotype shows it")]
    NeverTogether(Vec<usize>),
    /// No genotype that shows these looks breeds true.
    #[error("no genotype that shows it breeds true")]
    NeverTrue(Vec<usize>),
    /// No parent can give some of the looks.
    #[error("no parent can give it")]
    Lacking(Vec<Lack>),
    /// Each look can come, but not all of them of two parents: by look the plants that carry it.
    #[error("no two parents can give it")]
    Apart(Vec<(usize, Vec<i64>)>),
}

impl From<DiagnosisError> for NoCross {
    fn from(error: DiagnosisError) -> Self {
        Self::Genotype(error.into())
    }
}

/// Why no plan came of it.
pub(super) fn why(context: &Context<'_>, question: &Question, all: &[Flock]) -> NoCross {
    let (mut lacks, mut carriers) = (Vec::new(), Vec::new());
    for at in 0..question.asks.len() {
        match alone(context, question, at) {
            Ok(Alone::Carried(by)) => carriers.push((at, by)),
            Ok(Alone::Lacking(alleles)) => lacks.push(Lack { ask: at, alleles }),
            Err(error) => return error,
        }
    }
    match (lacks.is_empty(), all.is_empty()) {
        (_, true) => NoCross::NoParents,
        (false, _) => NoCross::Lacking(lacks),
        (true, _) => NoCross::Apart(carriers),
    }
}

/// What becomes of one look asked for by itself.
enum Alone {
    Carried(Vec<i64>),
    Lacking(Vec<(LocusIx, Vec<u8>)>),
}

fn alone(context: &Context<'_>, question: &Question, at: usize) -> Result<Alone, NoCross> {
    let ask = question.asks[at];
    let sub = Question {
        asks: vec![ask],
        ..question.clone()
    };
    let loci = loci_of(context, &sub.asks);
    let context = &Context::asking(context.looks, context.index, context.beliefs, &loci)?;
    let mut field = Field::new(context, &sub.asks, sub.fixed)?;
    let crowd = flocks(context, &mut field, sub.today)?;
    let facts = context.index.facts;
    if Planner::new(facts, &field, &crowd.flocks, &sub)
        .all()
        .is_empty()
    {
        return Ok(Alone::Lacking(lacking(&field, ask, &crowd.flocks)));
    }
    let carries = |flock: &&Flock| field.carries(0, &flock.may_be[0], flock) >= WORTH_TRYING;
    let by = crowd.flocks.iter().filter(carries);
    Ok(Alone::Carried(
        by.flat_map(|flock| flock.plants.clone()).collect(),
    ))
}

/// The loci at which alleles that no parent has would make a look possible, all other loci as they are.
fn lacking(field: &Field, ask: Ask, flocks: &[Flock]) -> Vec<(LocusIx, Vec<u8>)> {
    let part = &field.parts[0];
    let loci = &part.space.loci;
    let there: Vec<Vec<bool>> = (0..loci.len())
        .map(|place| alleles_there(field, place, flocks))
        .collect();
    let is_there = |place: usize, pair: Diploid| {
        [pair.a(), pair.b()]
            .iter()
            .all(|allele| there[place][usize::from(*allele)])
    };
    let mut found: Vec<(LocusIx, Vec<u8>)> = Vec::new();
    for genotype in 0..part.space.size {
        let shows = |sterile| part.class_of(0, genotype, sterile) == ask.class;
        let is_wanted = |sterile| part.is_wanted(genotype, sterile);
        if ![false, true].into_iter().any(|s| shows(s) && is_wanted(s)) {
            continue;
        }
        let pairs = part.space.genotype(genotype);
        let lacks = (0..loci.len()).filter(|place| !is_there(*place, pairs[*place]));
        let [place] = lacks.collect::<Vec<_>>()[..] else {
            continue;
        };
        let pair = pairs[place];
        let missing = [pair.a(), pair.b()];
        let missing = missing.iter().filter(|a| !there[place][usize::from(**a)]);
        let known = found.iter().position(|(locus, _)| *locus == loci[place]);
        let known = known.unwrap_or_else(|| {
            found.push((loci[place], Vec::new()));
            found.len() - 1
        });
        found[known].1.extend(missing);
    }
    for (_, alleles) in &mut found {
        alleles.sort_unstable();
        alleles.dedup();
    }
    match found.is_empty() {
        true => loci.iter().map(|locus| (*locus, Vec::new())).collect(),
        false => found,
    }
}

/// Which alleles of the locus at a place some parent may have.
fn alleles_there(field: &Field, place: usize, flocks: &[Flock]) -> Vec<bool> {
    let space = &field.parts[0].space;
    let pairs = space.pairs_at(place);
    let alleles = pairs.iter().map(|pair| usize::from(pair.b()) + 1).max();
    let mut there = vec![false; alleles.unwrap_or(0)];
    for (allele, is) in there.iter_mut().enumerate() {
        let has = |(genotype, _): &&(usize, f64)| {
            let pair = space.genotype(*genotype)[place];
            [pair.a(), pair.b()].contains(&u8::try_from(allele).unwrap_or(u8::MAX))
        };
        *is = flocks.iter().any(|flock| {
            let chance: f64 = flock.may_be[0].iter().filter(has).map(|(_, p)| p).sum();
            chance >= WORTH_TRYING
        });
    }
    there
}
