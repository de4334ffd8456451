//! Which of the loci that matter in a ledger are tied together, and which only may be.
//!
//! A locus matters if a reading, a look or a statement speaks of it, or a question asks it. Loci that matter are tied
//! where their recombination is known, be it by way of a third; all others stand alone. Called by everything in this
//! room that makes genotypes; asks no plants.

use std::collections::HashMap;
use std::sync::Arc;

use crate::genetics::linkage::Chromosome;
use crate::genetics::locus::LocusIx;

use super::group::{GroupKey, LinkageGroup};
use super::index::Index;
use super::looks::Looks;
use super::space::Space;

/// Most genotypes of the loci of one group; where there are more, its loci are taken as independent, with a remark.
const MOST_GENOTYPES: usize = 10_000;

/// The loci of a ledger, sorted by what ties them.
#[derive(Debug)]
pub struct Groups {
    /// Every locus by itself.
    alone: Vec<Arc<LinkageGroup>>,
    /// Loci tied to others, by the first of their group.
    tied: HashMap<LocusIx, Arc<LinkageGroup>>,
    /// For a locus that is tied: the first of its group, and its place in it.
    places: HashMap<LocusIx, (LocusIx, usize)>,
}

impl Groups {
    /// Sorts the loci that matter: those read in a ledger, and `further`.
    #[must_use]
    pub fn new(
        looks: &Looks,
        index: &Index<'_>,
        further: impl IntoIterator<Item = LocusIx>,
    ) -> Self {
        let alone = (0..looks.book.len()).map(|at| {
            let alleles = looks.book.get(LocusIx(at)).alleles.len();
            let key = GroupKey {
                first: LocusIx(at),
                part: 1,
            };
            Arc::new(LinkageGroup::new(
                key,
                vec![LocusIx(at)],
                vec![alleles],
                Vec::new(),
            ))
        });
        let mut groups = Self {
            alone: alone.collect(),
            tied: HashMap::new(),
            places: HashMap::new(),
        };
        let all: Vec<LocusIx> = (0..looks.book.len()).map(LocusIx).collect();
        if looks.linkage.groups(&all).len() == all.len() {
            return groups;
        }
        let mut mattering = read_loci(looks, index);
        mattering.extend(further);
        mattering.sort_unstable();
        mattering.dedup();
        for loci in looks.linkage.groups(&mattering) {
            if loci.len() > 1 {
                groups.tie(looks, &loci);
            }
        }
        groups
    }

    /// Ties loci whose order is known.
    fn tie(&mut self, looks: &Looks, loci: &[LocusIx]) {
        let arranged = looks.linkage.arrange(loci, false, &looks.book).ok();
        let Some([chromosome]) = arranged.as_ref().map(|found| &found.chromosomes[..]) else {
            return;
        };
        let Chromosome { loci, steps } = chromosome;
        let alleles: Vec<usize> = loci
            .iter()
            .map(|l| looks.book.get(*l).alleles.len())
            .collect();
        let haplotypes = alleles.iter().fold(1_usize, |n, k| n.saturating_mul(*k));
        if haplotypes.saturating_mul(haplotypes + 1) / 2 > MOST_GENOTYPES {
            return;
        }
        let key = GroupKey {
            first: loci[0],
            part: (1 << loci.len()) - 1,
        };
        for (place, locus) in loci.iter().enumerate() {
            self.places.insert(*locus, (key.first, place));
        }
        let steps = steps
            .iter()
            .map(|r| [r.female.value(), r.male.value()])
            .collect();
        let group = LinkageGroup::new(key, loci.clone(), alleles, steps);
        self.tied.insert(key.first, Arc::new(group));
    }

    /// The group of a locus, all its loci.
    #[must_use]
    pub fn whole(&self, locus: LocusIx) -> &Arc<LinkageGroup> {
        match self.places.get(&locus) {
            Some((first, _)) => &self.tied[first],
            None => &self.alone[locus.0],
        }
    }

    /// A locus taken by itself.
    #[must_use]
    pub fn alone(&self, locus: LocusIx) -> Arc<LinkageGroup> {
        match self.places.get(&locus) {
            Some((_, place)) => Arc::new(self.whole(locus).part(1 << place)),
            None => Arc::clone(&self.alone[locus.0]),
        }
    }

    /// The loci of a list that are tied, each by itself and together.
    fn part_of(&self, whole: &Arc<LinkageGroup>, loci: &[LocusIx]) -> Arc<LinkageGroup> {
        let places = whole.loci.iter().enumerate();
        let taken = places
            .filter(|(_, locus)| loci.contains(locus))
            .fold(0, |taken, (place, _)| taken | 1 << place);
        match taken == whole.all() {
            true => Arc::clone(whole),
            false => Arc::new(whole.part(taken)),
        }
    }

    /// The genotypes at some loci.
    #[must_use]
    pub fn space(&self, loci: &[LocusIx]) -> Space {
        let mut units: Vec<Arc<LinkageGroup>> = Vec::new();
        for locus in loci {
            if !units.iter().any(|unit| unit.loci.contains(locus)) {
                units.push(self.part_of(self.whole(*locus), loci));
            }
        }
        Space::new(loci, units)
    }

    /// Some loci, and those tied to them.
    pub fn closed(&self, loci: impl IntoIterator<Item = LocusIx>) -> impl Iterator<Item = LocusIx> {
        loci.into_iter()
            .flat_map(|locus| self.whole(locus).loci.clone())
    }

    /// Groups of several loci.
    pub fn several(&self) -> impl Iterator<Item = &Arc<LinkageGroup>> {
        let mut groups: Vec<_> = self.tied.values().collect();
        groups.sort_by_key(|group| group.key);
        groups.into_iter()
    }

    /// Those of some loci that stand on one chromosome with another of them and are taken as independent all the same.
    #[must_use]
    pub fn taken_as_independent(&self, looks: &Looks, loci: &[LocusIx]) -> Vec<LocusIx> {
        let may_be_tied = |one: LocusIx, other: LocusIx| {
            let arranged = looks.linkage.arrange(&[one, other], false, &looks.book);
            arranged.is_ok_and(|found| !found.open.is_empty() || found.chromosomes.len() == 1)
        };
        let is_untied = |one: &LocusIx| {
            let mut others = loci.iter().filter(|other| *other != one);
            let apart = |other: LocusIx| self.whole(*one).key != self.whole(other).key;
            others.any(|other| apart(*other) && may_be_tied(*one, *other))
        };
        loci.iter().copied().filter(is_untied).collect()
    }
}

/// The loci that some reading, look or tally of a switched-on trait speaks of.
fn read_loci(looks: &Looks, index: &Index<'_>) -> Vec<LocusIx> {
    let mut read = vec![false; looks.traits.len()];
    let facts = index.facts;
    let readings = facts.reading.iter().map(|row| row.class_id);
    let tallied = facts.tally_class.iter().map(|row| row.class_id);
    for class in readings.chain(tallied).flatten() {
        if let Some((look, _)) = looks.class_place(class) {
            read[look] = looks.traits[look].switched_on;
        }
    }
    let places: Vec<usize> = (0..read.len()).filter(|at| read[*at]).collect();
    looks.loci_read(&places)
}
