//! What a cross says of the recombination of two loci: the shares of its classes as the fraction varies.
//!
//! Any cross and any gene models will do, epistasis included: the share of every class is a polynomial of the
//! recombination fraction, found from the expectation at a few fractions. Counts and statistics are not known
//! here; the estimate of linkage joins them.

use super::descent::Descent;
use super::expect::{Breeding, Classes, ExpectError, Parent, breed, loci_read};
use super::linkage::{Arrangement, Chromosome};
use super::locus::LocusIx;
use super::recombination::{Rate, Recombination};
use super::rule::GeneModel;
use super::segregation::AtLocus;

/// Points through which a share's polynomial is laid; a cross or self has degree 2 at most, one with two double
/// heterozygotes likewise.
const POINTS: u32 = 5;

/// How the alleles of two loci lie in a plant that is heterozygous at both.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phase {
    /// The two dominant alleles came together.
    Coupling,
    /// Each dominant allele came with the other's recessive.
    Repulsion,
}

impl Phase {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Coupling, Self::Repulsion];

    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Coupling => "coupling",
            Self::Repulsion => "repulsion",
        }
    }
}

/// A cross whose seedlings were counted in classes of some traits, and the two loci asked about.
#[derive(Clone, Copy, Debug)]
pub struct TwoPoint<'a> {
    /// The mother.
    pub mother: &'a Parent,
    /// The father.
    pub father: &'a Parent,
    /// From them to the seedlings.
    pub descent: &'a Descent,
    /// The models of the traits.
    pub models: &'a [&'a GeneModel],
    /// The two loci.
    pub pair: [LocusIx; 2],
}

/// One way the alleles can lie in the parents; nothing for a parent that is not heterozygous at both loci.
#[derive(Clone, Debug, PartialEq)]
pub struct Lying {
    mother: Parent,
    father: Parent,
    /// The mother's phase and the father's.
    pub phases: [Option<Phase>; 2],
}

/// What a class's share is at each fraction tried.
pub type Points = Vec<(f64, f64)>;

impl TwoPoint<'_> {
    /// Every way the alleles can lie, given what is stated of the phase.
    #[must_use]
    pub fn lyings(&self) -> Vec<Lying> {
        let mothers = self.phased(self.mother);
        let uses_father = *self.descent != Descent::self_of_mother();
        let fathers = if uses_father {
            self.phased(self.father)
        } else {
            vec![(None, self.father.clone())]
        };
        let pairs = mothers
            .iter()
            .flat_map(|mother| fathers.iter().map(move |father| (mother, father)));
        pairs
            .map(|((one, mother), (other, father))| Lying {
                mother: mother.clone(),
                father: father.clone(),
                phases: [*one, *other],
            })
            .collect()
    }

    /// Whether a parent is known to be heterozygous at both loci; without one nothing can be learnt.
    #[must_use]
    pub fn can_tell(&self) -> bool {
        let tells = |lying: &Lying| lying.phases.iter().any(Option::is_some);
        self.lyings().iter().any(tells)
    }

    fn phased(&self, plant: &Parent) -> Vec<(Option<Phase>, Parent)> {
        let at = |i: usize| plant.at(self.pair[i]);
        let pair = |i: usize| {
            at(i)
                .and_then(AtLocus::known)
                .filter(|p| !p.is_homozygous())
        };
        let (Some(one), Some(other)) = (pair(0), pair(1)) else {
            return vec![(None, plant.clone())];
        };
        if let (Some(AtLocus::Phased([a, b])), Some(AtLocus::Phased([c, d]))) = (at(0), at(1)) {
            let phase = if (a < b) == (c < d) {
                Phase::Coupling
            } else {
                Phase::Repulsion
            };
            return vec![(Some(phase), plant.clone())];
        }
        let lay = |phase: Phase| {
            let mut plant = plant.clone();
            let second = match phase {
                Phase::Coupling => [other.a(), other.b()],
                Phase::Repulsion => [other.b(), other.a()],
            };
            plant
                .loci
                .insert(self.pair[0], AtLocus::Phased([one.a(), one.b()]));
            plant.loci.insert(self.pair[1], AtLocus::Phased(second));
            (Some(phase), plant)
        };
        Phase::ALL.map(lay).to_vec()
    }

    /// The share of every class at some recombination fractions from 0 to 1, for one way of lying. Loci beyond the
    /// two are taken as independent.
    ///
    /// # Errors
    /// [`ExpectError`].
    pub fn shares(&self, lying: &Lying) -> Result<Vec<(Classes, Points)>, ExpectError> {
        let mut found: Vec<(Classes, Points)> = Vec::new();
        for point in 0..POINTS {
            let r = f64::from(point) / f64::from(POINTS - 1);
            let breeding = Breeding {
                mother: &lying.mother,
                father: &lying.father,
                descent: self.descent,
                arrangement: &self.arrangement(r),
                selection: &[],
            };
            for (classes, p) in breed(&breeding, self.models)?.classes {
                match found.iter_mut().find(|(known, _)| *known == classes) {
                    Some((_, points)) => points.push((r, p)),
                    None => found.push((classes, vec![(r, p)])),
                }
            }
        }
        Ok(found)
    }

    fn arrangement(&self, r: f64) -> Arrangement {
        let pair = Chromosome {
            loci: self.pair.to_vec(),
            steps: vec![Recombination::both(Rate::of(r))],
        };
        let others = loci_read(self.models).into_iter();
        let alone = others
            .filter(|locus| !self.pair.contains(locus))
            .map(|locus| Chromosome {
                loci: vec![locus],
                steps: Vec::new(),
            });
        Arrangement {
            chromosomes: std::iter::once(pair).chain(alone).collect(),
            ..Arrangement::default()
        }
    }
}
