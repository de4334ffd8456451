//! The genotypes that what is wanted depends on, sorted into parts that are handed on independently of one another.
//!
//! A part holds the traits asked for that have a linkage group in common, directly or by way of another. Plants are not
//! known here but by what they may be.

use std::collections::BTreeMap;

use super::impossible::NoCross;
use super::stock::Flock;
use super::{Ask, SETTLED};
use crate::diagnosis::context::Context;
use crate::diagnosis::group::GroupKey;
use crate::diagnosis::space::{Profiles, Space};
use crate::genetics::locus::LocusIx;
use crate::genetics::rule::Cytoplasm;

/// Most genotypes at the loci of one part.
const MOST_GENOTYPES: usize = 3_000;

/// What a plant may be at one part: genotypes and their probabilities.
pub(super) type Mixture = Vec<(usize, f64)>;

/// Traits that have a linkage group in common.
pub(super) struct Part {
    /// The asks, by their place.
    pub(super) asks: Vec<usize>,
    /// The genotypes.
    pub(super) space: Space,
    /// What they look like.
    pub(super) profiles: Profiles,
    /// Whether each looks as wanted, in normal cytoplasm and in sterile.
    shown: [Vec<bool>; 2],
    /// Whether each is as wanted: where it is to breed true not all that look so.
    wanted: [Vec<bool>; 2],
}

/// All that what is wanted depends on.
pub(super) struct Field {
    pub(super) asks: Vec<Ask>,
    pub(super) parts: Vec<Part>,
    /// What plants may be at a part, each mixture once.
    mixtures: Vec<Mixture>,
    by_bits: BTreeMap<Vec<(usize, u64)>, usize>,
}

/// The loci that some looks depend on.
pub(super) fn loci_of(context: &Context<'_>, asks: &[Ask]) -> Vec<LocusIx> {
    let places: Vec<usize> = asks.iter().map(|ask| ask.look).collect();
    context.looks.loci_read(&places)
}

pub(super) const fn cytoplasm(is_sterile: bool) -> Cytoplasm {
    match is_sterile {
        true => Cytoplasm::Sterile,
        false => Cytoplasm::Normal,
    }
}

impl Field {
    /// Of some looks; `fixed` where only plants are wanted whose selfed seed is as wanted too.
    ///
    /// # Errors
    /// [`NoCross`] where no genotype is as wanted, or there are too many.
    pub(super) fn new(context: &Context<'_>, asks: &[Ask], fixed: bool) -> Result<Self, NoCross> {
        let mut parts = Vec::new();
        for of in sorted(context, asks) {
            let own: Vec<Ask> = of.iter().map(|at| asks[*at]).collect();
            let space = context.groups().space(&loci_of(context, &own));
            if space.size > MOST_GENOTYPES {
                return Err(NoCross::TooManyGenotypes {
                    size: space.size,
                    most: MOST_GENOTYPES,
                });
            }
            let places: Vec<usize> = own.iter().map(|ask| ask.look).collect();
            let profiles = Profiles::new(context.looks, &space, &places);
            let shown = [false, true].map(|sterile| shown(&space, &profiles, &own, sterile));
            let wanted = shown.clone().map(|shown| match fixed {
                true => breeding_true(&space, &shown),
                false => shown,
            });
            if !shown[0].iter().chain(&shown[1]).any(|is| *is) {
                return Err(NoCross::NeverTogether(of));
            }
            if !wanted[0].iter().chain(&wanted[1]).any(|is| *is) {
                return Err(NoCross::NeverTrue(of));
            }
            parts.push(Part {
                asks: of,
                space,
                profiles,
                shown,
                wanted,
            });
        }
        Ok(Self {
            asks: asks.to_vec(),
            parts,
            mixtures: Vec::new(),
            by_bits: BTreeMap::new(),
        })
    }

    /// The number of a mixture, which is added where it is not there.
    pub(super) fn number(&mut self, mixture: &Mixture) -> usize {
        let bits = mixture.iter().map(|(at, p)| (*at, p.to_bits())).collect();
        let mixtures = &mut self.mixtures;
        *self.by_bits.entry(bits).or_insert_with(|| {
            mixtures.push(mixture.clone());
            mixtures.len() - 1
        })
    }

    pub(super) fn mixture(&self, number: usize) -> &[(usize, f64)] {
        &self.mixtures[number]
    }

    /// How likely a plant is as wanted itself.
    pub(super) fn has_it(&self, flock: &Flock) -> f64 {
        let at = |(part, mixture): (&Part, &Mixture)| -> f64 {
            let is = |(genotype, _): &&(usize, f64)| part.is_wanted(*genotype, flock.is_sterile);
            mixture.iter().filter(is).map(|(_, p)| p).sum()
        };
        self.parts.iter().zip(&flock.may_be).map(at).product()
    }
}

impl Part {
    pub(super) fn is_wanted(&self, genotype: usize, is_sterile: bool) -> bool {
        self.wanted[usize::from(is_sterile)][genotype]
    }

    pub(super) fn is_shown(&self, genotype: usize, is_sterile: bool) -> bool {
        self.shown[usize::from(is_sterile)][genotype]
    }

    /// The share as wanted of seed with these genotypes, by linkage group.
    pub(super) fn share(&self, by_unit: &[Vec<f64>], is_sterile: bool) -> f64 {
        let seed = self.space.joint(by_unit);
        let each = seed.iter().zip(&self.wanted[usize::from(is_sterile)]);
        each.filter(|(_, is)| **is).map(|(p, _)| p).sum()
    }

    /// The class of an ask that a genotype shows.
    pub(super) fn class_of(&self, ask: usize, genotype: usize, is_sterile: bool) -> usize {
        let own = self.asks.iter().position(|at| *at == ask);
        let own = own.expect("asked of the part that holds it");
        self.profiles.classes_of(genotype, cytoplasm(is_sterile))[own]
    }

    /// The seed of a selfed plant: genotypes and their shares.
    pub(super) fn selfed(&self, genotype: usize) -> Vec<(usize, f64)> {
        selfed(&self.space, genotype)
    }
}

/// Whether the genotype is settled, by its probability.
pub(super) fn is_settled(p: f64) -> bool {
    p >= SETTLED
}

fn selfed(space: &Space, genotype: usize) -> Vec<(usize, f64)> {
    let digits = space.digits(genotype);
    let units = space.units.iter().zip(&digits);
    let by_unit: Vec<Vec<f64>> = units.map(|(unit, at)| unit.self_of(*at)).collect();
    let seed = space.joint(&by_unit).into_iter().enumerate();
    seed.filter(|(_, p)| *p > 0.0).collect()
}

fn shown(space: &Space, profiles: &Profiles, asks: &[Ask], is_sterile: bool) -> Vec<bool> {
    let fits = |genotype: usize| {
        let classes = profiles.classes_of(genotype, cytoplasm(is_sterile));
        asks.iter()
            .zip(classes)
            .all(|(ask, class)| ask.class == *class)
    };
    (0..space.size).map(fits).collect()
}

/// Of the genotypes shown, those all of whose selfed seed is shown too.
fn breeding_true(space: &Space, shown: &[bool]) -> Vec<bool> {
    let is = |genotype: usize| {
        shown[genotype]
            && selfed(space, genotype)
                .iter()
                .all(|(child, _)| shown[*child])
    };
    (0..space.size).map(is).collect()
}

/// The asks by their places, those together that have a linkage group in common.
fn sorted(context: &Context<'_>, asks: &[Ask]) -> Vec<Vec<usize>> {
    let mut found: Vec<(Vec<usize>, Vec<GroupKey>)> = Vec::new();
    for (at, ask) in asks.iter().enumerate() {
        let loci = loci_of(context, std::slice::from_ref(ask));
        let mut keys: Vec<GroupKey> = (loci.iter())
            .map(|locus| context.groups().whole(*locus).key)
            .collect();
        let mut own = vec![at];
        found.retain(|(others, theirs)| {
            let is_tied = theirs.iter().any(|key| keys.contains(key));
            if is_tied {
                own.extend(others);
                keys.extend(theirs);
            }
            !is_tied
        });
        own.sort_unstable();
        found.push((own, keys));
    }
    let mut parts: Vec<Vec<usize>> = found.into_iter().map(|(asks, _)| asks).collect();
    parts.sort();
    parts
}
