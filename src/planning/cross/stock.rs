//! The parents that can be crossed: who lives, what each may be, and which are alike in all that matters here.
//!
//! What a plant may be comes from everything recorded of it. A linkage group of which one genotype is settled is taken as
//! that; the rest is weighed. Parents are taken as known independently of one another.

use super::field::{Field, Mixture, is_settled};
use super::impossible::NoCross;
use crate::diagnosis::candidates::{Candidate, candidates};
use crate::diagnosis::context::Context;
use crate::genetics::rule::Cytoplasm;
use crate::records::day::Day;
use crate::records::descent::{carries_restorer, makes_no_pollen};
use crate::records::facts::Facts;
use crate::records::rows::{PlantKind, Thing};
use crate::records::species::species_of;
use crate::records::tray::gone;

/// Joint genotypes less likely than this are left out where parts have to be weighed together.
const NEGLIGIBLE: f64 = 1e-6;

/// Parents alike in all that matters here.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Flock {
    /// The plants, in the ledger's order.
    pub(super) plants: Vec<i64>,
    /// The species by its bare word; empty where it is not known.
    pub(super) species: String,
    /// Whether the cytoplasm is sterile.
    pub(super) is_sterile: bool,
    /// Whether it makes pollen.
    pub(super) sheds: bool,
    /// Whether it carries a restorer of pollen.
    pub(super) restores: bool,
    /// What it may be, with the probability: by part the number of a mixture.
    pub(super) kinds: Vec<(f64, Vec<usize>)>,
    /// By part what it may be there.
    pub(super) may_be: Vec<Mixture>,
    /// Linkage groups of which no genotype is settled, by their place among all.
    pub(super) open: Vec<usize>,
}

/// All parents.
pub(super) struct Crowd {
    pub(super) flocks: Vec<Flock>,
    pub(super) unexplained: Vec<i64>,
    pub(super) gone: Vec<i64>,
}

/// The living parents of a ledger, those alike together.
///
/// # Errors
/// [`NoCross`] where there is none, or the exact answer is too large.
pub(super) fn flocks(
    context: &Context<'_>,
    field: &mut Field,
    today: Day,
) -> Result<Crowd, NoCross> {
    let facts = context.index.facts;
    let (dead, living) = parents(facts, today);
    if living.is_empty() {
        return Err(NoCross::NoParents);
    }
    let mut crowd = Crowd {
        flocks: Vec::new(),
        unexplained: Vec::new(),
        gone: dead,
    };
    for known in candidates(context, &living, &field.whole.loci.clone())? {
        let Some(flock) = flock_of(facts, field, &known) else {
            crowd.unexplained.push(known.plant);
            continue;
        };
        let is_alike = |other: &&mut Flock| {
            let plants = other.plants.clone();
            **other
                == Flock {
                    plants,
                    ..flock.clone()
                }
        };
        match crowd.flocks.iter_mut().find(is_alike) {
            Some(alike) => alike.plants.extend(&flock.plants),
            None => crowd.flocks.push(flock),
        }
    }
    match crowd.flocks.is_empty() {
        true => Err(NoCross::NoParents),
        false => Ok(crowd),
    }
}

/// Plants with a code of their own: those gone by a day, and those that live.
fn parents(facts: &Facts, today: Day) -> (Vec<i64>, Vec<i64>) {
    let is_parent = |id: &i64| !facts.codes_of(Thing::Plant, *id).is_empty();
    let rows = facts.plant.iter();
    let plants = rows.filter(|row| row.kind != PlantKind::Ancestor);
    (plants.map(|row| row.id).filter(is_parent))
        .partition(|plant| gone(facts, *plant, today).is_some())
}

/// A flock of one plant; nothing where no genotype explains what is recorded.
fn flock_of(facts: &Facts, field: &mut Field, known: &Candidate) -> Option<Flock> {
    let (joint, open) = settled(field, &known.joint)?;
    let may_be = field.by_parts(&joint);
    let kinds = field.kinds(&joint, &may_be);
    Some(Flock {
        plants: vec![known.plant],
        species: species_of(facts, known.plant),
        is_sterile: known.cytoplasm == Cytoplasm::Sterile,
        sheds: !makes_no_pollen(facts, known.plant),
        restores: carries_restorer(facts, known.plant),
        kinds,
        may_be,
        open,
    })
}

/// The joint distribution with every settled group taken as certain, and the groups that are not; nothing of nothing.
fn settled(field: &Field, joint: &[f64]) -> Option<(Vec<f64>, Vec<usize>)> {
    let total: f64 = joint.iter().sum();
    if total.is_nan() || total <= 0.0 {
        return None;
    }
    let units = &field.whole.units;
    let mut chances: Vec<Vec<f64>> = units.iter().map(|unit| vec![0.0; unit.size()]).collect();
    let likely = |p: f64| p > 0.0;
    for (at, p) in joint.iter().enumerate().filter(|(_, p)| likely(**p)) {
        for (own, digit) in chances.iter_mut().zip(field.whole.digits(at)) {
            own[digit] += p / total;
        }
    }
    let sure: Vec<Option<usize>> = (chances.iter())
        .map(|own| own.iter().position(|p| is_settled(*p)))
        .collect();
    let fits = |at: usize| {
        let digits = field.whole.digits(at);
        (digits.iter().zip(&sure)).all(|(digit, sure)| sure.is_none_or(|sure| sure == *digit))
    };
    let kept: Vec<f64> = (joint.iter().enumerate())
        .map(|(at, p)| if likely(*p) && fits(at) { *p } else { 0.0 })
        .collect();
    let left: f64 = kept.iter().sum();
    let open = (0..units.len()).filter(|at| sure[*at].is_none()).collect();
    (left > 0.0).then(|| (kept.iter().map(|p| p / left).collect(), open))
}

impl Field {
    /// What a plant may be, part by part.
    fn by_parts(&self, joint: &[f64]) -> Vec<Mixture> {
        let of_part = |(part, narrow): (usize, &Vec<usize>)| {
            let mut sums = vec![0.0; self.parts[part].space.size];
            for (p, at) in joint.iter().zip(narrow) {
                sums[*at] += p;
            }
            let all = sums.into_iter().enumerate();
            all.filter(|(_, p)| *p > 0.0).collect()
        };
        self.at_parts.iter().enumerate().map(of_part).collect()
    }

    /// What a plant may be as mixtures: one of all parts where these are independent of one another, else one for each
    /// joint genotype.
    fn kinds(&mut self, joint: &[f64], may_be: &[Mixture]) -> Vec<(f64, Vec<usize>)> {
        if self.is_product(joint, may_be) {
            let kind = may_be.iter().map(|mixture| self.number(mixture.clone()));
            return vec![(1.0, kind.collect())];
        }
        let likely: Vec<(usize, f64)> = (joint.iter().copied().enumerate())
            .filter(|(_, p)| *p >= NEGLIGIBLE)
            .collect();
        let total: f64 = likely.iter().map(|(_, p)| p).sum();
        let mut kinds = Vec::with_capacity(likely.len());
        for (at, p) in likely {
            let places: Vec<usize> = self.at_parts.iter().map(|narrow| narrow[at]).collect();
            let own = places
                .into_iter()
                .map(|place| self.number(vec![(place, 1.0)]));
            kinds.push((p / total, own.collect()));
        }
        kinds
    }

    fn is_product(&self, joint: &[f64], may_be: &[Mixture]) -> bool {
        let mut chances: Vec<Vec<f64>> = Vec::new();
        for (part, mixture) in self.parts.iter().zip(may_be) {
            let mut own = vec![0.0; part.space.size];
            mixture.iter().for_each(|(at, p)| own[*at] = *p);
            chances.push(own);
        }
        joint.iter().enumerate().all(|(at, p)| {
            let parts = chances.iter().zip(&self.at_parts);
            let product: f64 = parts.map(|(own, narrow)| own[narrow[at]]).product();
            (p - product).abs() < NEGLIGIBLE
        })
    }
}
