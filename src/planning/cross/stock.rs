//! The parents that can be crossed: who lives, what each may be, and which are alike in all that matters here.
//!
//! What a plant may be comes from everything recorded of it. A linkage group of which one genotype is settled is taken as
//! that; the rest is weighed. Parents are taken as known independently of one another, and so are parts that have no
//! linkage group in common.

use super::field::{Field, Mixture, Part, is_settled};
use super::impossible::NoCross;
use crate::diagnosis::apart::known_apart;
use crate::diagnosis::context::Context;
use crate::genetics::locus::LocusIx;
use crate::records::day::Day;
use crate::records::descent::{carries_restorer, cytoplasm_of, makes_no_pollen};
use crate::records::facts::Facts;
use crate::records::rows::{PlantCytoplasm, PlantKind, Thing};
use crate::records::species::species_of;
use crate::records::tray::gone;

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
    /// By part what it may be there.
    pub(super) may_be: Vec<Mixture>,
    /// The same by the numbers of the mixtures.
    pub(super) mixtures: Vec<usize>,
    /// Linkage groups of which no genotype is settled: part, and place among its groups.
    pub(super) open: Vec<(usize, usize)>,
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
    let mut crowd = Crowd {
        flocks: Vec::new(),
        unexplained: Vec::new(),
        gone: dead,
    };
    let sets: Vec<Vec<LocusIx>> = (field.parts.iter())
        .map(|part| part.space.loci.clone())
        .collect();
    let known = known_apart(context, &living, &sets)?;
    for (at, plant) in living.iter().enumerate() {
        let joints: Vec<&[f64]> = known.iter().map(|of_part| of_part[at].as_slice()).collect();
        let Some(flock) = flock_of(facts, field, *plant, &joints) else {
            crowd.unexplained.push(*plant);
            continue;
        };
        let is_alike = |other: &&mut Flock| {
            let plants = flock.plants.clone();
            Flock {
                plants,
                ..(**other).clone()
            } == flock
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
fn flock_of(facts: &Facts, field: &mut Field, plant: i64, joints: &[&[f64]]) -> Option<Flock> {
    let (mut may_be, mut open) = (Vec::new(), Vec::new());
    for (place, joint) in joints.iter().enumerate() {
        let (mixture, unsettled) = field.parts[place].settled(joint)?;
        open.extend(unsettled.into_iter().map(|unit| (place, unit)));
        may_be.push(mixture);
    }
    Some(Flock {
        plants: vec![plant],
        species: species_of(facts, plant),
        is_sterile: cytoplasm_of(facts, plant) == PlantCytoplasm::Sterile,
        sheds: !makes_no_pollen(facts, plant),
        restores: carries_restorer(facts, plant),
        mixtures: may_be.iter().map(|one| field.number(one)).collect(),
        may_be,
        open,
    })
}

impl Part {
    /// What a plant may be with every settled group taken as certain, and the groups that are not settled; nothing
    /// where no genotype explains what is recorded.
    fn settled(&self, joint: &[f64]) -> Option<(Mixture, Vec<usize>)> {
        let total: f64 = joint.iter().sum();
        if total.is_nan() || total <= 0.0 {
            return None;
        }
        let can_be = joint.iter().enumerate().filter(|(_, p)| **p > 0.0);
        let all: Vec<(usize, f64, Vec<usize>)> = can_be
            .map(|(at, p)| (at, p / total, self.space.digits(at)))
            .collect();
        let units = &self.space.units;
        let mut chances: Vec<Vec<f64>> = units.iter().map(|unit| vec![0.0; unit.size()]).collect();
        for (_, p, digits) in &all {
            for (own, digit) in chances.iter_mut().zip(digits) {
                own[*digit] += p;
            }
        }
        let sure: Vec<Option<usize>> = (chances.iter())
            .map(|own| own.iter().position(|p| is_settled(*p)))
            .collect();
        let fits = |(_, _, digits): &&(usize, f64, Vec<usize>)| {
            let mut digits = digits.iter().zip(&sure);
            digits.all(|(digit, sure)| sure.is_none_or(|sure| sure == *digit))
        };
        let kept: Vec<(usize, f64)> = (all.iter().filter(fits))
            .map(|(at, p, _)| (*at, *p))
            .collect();
        let left: f64 = kept.iter().map(|(_, p)| p).sum();
        let open = (0..units.len()).filter(|at| sure[*at].is_none()).collect();
        let mixture = kept.into_iter().map(|(at, p)| (at, p / left)).collect();
        (left > 0.0).then_some((mixture, open))
    }
}
