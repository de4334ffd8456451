//! Which loci sit on one chromosome, in which order, and how often they are parted.
//!
//! The map holds places (chromosome, centimorgans) and measured recombination of pairs. Asked about some
//! loci it sorts them into chromosomes, each in its order with the recombination between neighbours; without
//! interference that is all there is to know. Loci on one chromosome without a distance stay open: the map
//! never makes one up. Plants are not known here; expectations and the estimate of linkage ask.

use std::collections::BTreeMap;

use thiserror::Error;

use super::fraction::rounded;
use super::locus::{LocusBook, LocusIx};
use super::notation::{Genotype, StatedLocus};
use super::recombination::{Rate, Recombination, joined};

/// Where a locus is.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// The chromosome's name.
    pub chromosome: String,
    /// Centimorgans from its end, where known.
    pub at: Option<f64>,
}

/// Places of loci and measured recombination of pairs.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LinkageMap {
    places: BTreeMap<LocusIx, Place>,
    measured: BTreeMap<(LocusIx, LocusIx), Recombination>,
}

/// What is known of two loci.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Relation {
    /// Independent, or nothing ties them together.
    Free,
    /// Parted as often as this.
    Linked(Recombination),
    /// On one chromosome, how far apart nobody has said.
    Open,
}

/// Some loci of one chromosome in their order.
#[derive(Clone, Debug, PartialEq)]
pub struct Chromosome {
    /// The loci.
    pub loci: Vec<LocusIx>,
    /// Recombination between each and the next; one fewer than there are loci.
    pub steps: Vec<Recombination>,
}

/// Loci sorted into chromosomes.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Arrangement {
    /// The chromosomes; independent of one another.
    pub chromosomes: Vec<Chromosome>,
    /// Pairs on one chromosome without a known distance.
    pub open: Vec<(LocusIx, LocusIx)>,
    /// Measured pairs that are not neighbours, where another locus between them decides: what was measured and
    /// what the steps between give.
    pub overruled: Vec<(LocusIx, LocusIx, Recombination, f64)>,
}

/// Why loci cannot be sorted.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum LinkageError {
    /// The outer two are parted more often than the steps between them allow.
    #[error(
        "{outer} at {r} cannot be: by way of {between} they are parted at most {most} of the time"
    )]
    TooFar {
        /// The two.
        outer: String,
        /// As measured.
        r: String,
        /// The locus between.
        between: String,
        /// The sum of the two steps.
        most: String,
    },
    /// Linked, but nothing says in which order.
    #[error("the order of {0} along their chromosome is not known")]
    Order(String),
    /// A measured linkage of loci on two chromosomes.
    #[error("{one} is on chromosome {on} and {other} on {off}: they recombine freely, not at {r}")]
    Apart {
        /// One locus.
        one: String,
        /// Its chromosome.
        on: String,
        /// The other locus.
        other: String,
        /// Its chromosome.
        off: String,
        /// As measured.
        r: String,
    },
    /// A phase between loci on two chromosomes.
    #[error(
        "{one} is on chromosome {on} and {other} on {off}: loci of two chromosomes have no phase"
    )]
    Phase {
        /// The locus that is phased alone on its chromosome.
        one: String,
        /// Its chromosome.
        on: String,
        /// A locus phased elsewhere.
        other: String,
        /// Its chromosome.
        off: String,
    },
}

impl LinkageMap {
    /// States where a locus is.
    pub fn place(&mut self, locus: LocusIx, place: Place) {
        self.places.insert(locus, place);
    }

    /// Where a locus is, where anybody has said.
    #[must_use]
    pub fn place_of(&self, locus: LocusIx) -> Option<&Place> {
        self.places.get(&locus)
    }

    /// States how often two loci are parted; this goes before what their places give.
    ///
    /// # Errors
    /// [`LinkageError::Apart`] where they are on different chromosomes and this is less than one half.
    pub fn measure(
        &mut self,
        one: LocusIx,
        other: LocusIx,
        r: Recombination,
        book: &LocusBook,
    ) -> Result<(), LinkageError> {
        let symbol = |locus| book.get(locus).symbol.clone();
        if let (Some(on), Some(off)) = (self.places.get(&one), self.places.get(&other))
            && on.chromosome != off.chromosome
            && !r.is_free()
        {
            return Err(LinkageError::Apart {
                one: symbol(one),
                on: on.chromosome.clone(),
                other: symbol(other),
                off: off.chromosome.clone(),
                r: r.to_string(),
            });
        }
        self.state(one, other, r);
        Ok(())
    }

    /// As [`LinkageMap::measure`], for what was let in before: a pair on two chromosomes is believed.
    pub fn state(&mut self, one: LocusIx, other: LocusIx, r: Recombination) {
        self.measured.insert((one.min(other), one.max(other)), r);
    }

    fn relation(&self, one: LocusIx, other: LocusIx) -> Relation {
        if let Some(r) = self.measured.get(&(one.min(other), one.max(other))) {
            return if r.is_free() {
                Relation::Free
            } else {
                Relation::Linked(*r)
            };
        }
        match (self.places.get(&one), self.places.get(&other)) {
            (Some(here), Some(there)) if here.chromosome == there.chromosome => {
                match (here.at, there.at) {
                    (Some(at), Some(to)) => {
                        Relation::Linked(Recombination::both(Rate::haldane((at - to).abs())))
                    }
                    _ => Relation::Open,
                }
            }
            _ => Relation::Free,
        }
    }

    /// Sorts loci into chromosomes. Loci on one chromosome without a known distance are taken as independent,
    /// or, where `tight`, as never parted.
    ///
    /// # Errors
    /// [`LinkageError`] where the order cannot be told or the fractions contradict each other.
    pub fn arrange(
        &self,
        loci: &[LocusIx],
        tight: bool,
        book: &LocusBook,
    ) -> Result<Arrangement, LinkageError> {
        let mut found = Arrangement::default();
        for group in self.groups(loci) {
            let loci = self.order(group, book)?;
            let pairs = loci.windows(2);
            let steps = pairs.map(|pair| self.linked(pair[0], pair[1]));
            let steps = steps.map(|r| r.expect("neighbours in an order have a known distance"));
            let chromosome = Chromosome {
                steps: steps.collect(),
                loci,
            };
            self.check_steps(&chromosome, book, &mut found)?;
            found.chromosomes.push(chromosome);
        }
        let pairs = (0..loci.len()).flat_map(|i| (i + 1..loci.len()).map(move |j| (i, j)));
        let pairs = pairs.map(|(i, j)| (loci[i], loci[j]));
        found.open = pairs
            .filter(|(a, b)| self.relation(*a, *b) == Relation::Open)
            .filter(|(a, b)| !found.chromosomes.iter().any(|c| c.holds(*a) && c.holds(*b)))
            .collect();
        if tight {
            found.tie_open();
        }
        Ok(found)
    }

    fn linked(&self, one: LocusIx, other: LocusIx) -> Option<Recombination> {
        match self.relation(one, other) {
            Relation::Linked(r) => Some(r),
            Relation::Free | Relation::Open => None,
        }
    }

    /// Loci tied together by known distances, in the order in which they were named; a locus that nothing ties stands
    /// alone.
    #[must_use]
    pub fn groups(&self, loci: &[LocusIx]) -> Vec<Vec<LocusIx>> {
        let mut groups: Vec<Vec<LocusIx>> = Vec::new();
        for locus in loci {
            let ties =
                |group: &Vec<LocusIx>| group.iter().any(|g| self.linked(*g, *locus).is_some());
            let Some(first) = groups.iter().position(ties) else {
                groups.push(vec![*locus]);
                continue;
            };
            groups[first].push(*locus);
            for later in (first + 1..groups.len()).rev() {
                if ties(&groups[later]) {
                    let more = groups.remove(later);
                    groups[first].extend(more);
                }
            }
        }
        groups
    }

    /// The order along the chromosome: by place where all have one; else by a chain of measured neighbours, or,
    /// where every pair is known, outwards from the pair that is furthest apart.
    fn order(&self, group: Vec<LocusIx>, book: &LocusBook) -> Result<Vec<LocusIx>, LinkageError> {
        let place = |locus: &LocusIx| self.places.get(locus).and_then(|place| place.at);
        let chain = |loci: &[LocusIx]| loci.windows(2).all(|p| self.linked(p[0], p[1]).is_some());
        if group.iter().all(|locus| place(locus).is_some()) {
            let mut sorted = group.clone();
            let at = |locus: &LocusIx| place(locus).expect("every locus has a place");
            sorted.sort_by(|a, b| at(a).total_cmp(&at(b)));
            if chain(&sorted) {
                return Ok(sorted);
            }
        }
        if group.len() < 3 {
            return Ok(group);
        }
        let sorted = self.chained(&group).or_else(|| self.outwards(&group));
        sorted.ok_or_else(|| {
            let symbols: Vec<&str> = group.iter().map(|l| book.get(*l).symbol.as_str()).collect();
            LinkageError::Order(symbols.join(", "))
        })
    }

    /// The one chain that the known pairs make.
    fn chained(&self, group: &[LocusIx]) -> Option<Vec<LocusIx>> {
        let beside = |locus: LocusIx| -> Vec<LocusIx> {
            let others = group.iter().copied();
            others
                .filter(|other| *other != locus && self.linked(locus, *other).is_some())
                .collect()
        };
        let ends: Vec<LocusIx> = group
            .iter()
            .copied()
            .filter(|l| beside(*l).len() == 1)
            .collect();
        if ends.len() != 2 || group.iter().any(|l| beside(*l).len() > 2) {
            return None;
        }
        let mut chain = vec![ends[0]];
        while let Some(next) = beside(chain[chain.len() - 1])
            .into_iter()
            .find(|locus| !chain.contains(locus))
        {
            chain.push(next);
        }
        (chain.len() == group.len()).then_some(chain)
    }

    fn outwards(&self, group: &[LocusIx]) -> Option<Vec<LocusIx>> {
        let mut furthest: Option<(f64, LocusIx)> = None;
        for (at, one) in group.iter().enumerate() {
            for other in &group[at + 1..] {
                let r = self.linked(*one, *other)?.mean();
                if furthest.is_none_or(|(most, _)| r > most) {
                    furthest = Some((r, *one));
                }
            }
        }
        let (_, end) = furthest?;
        let from_end = |locus: &LocusIx| self.linked(end, *locus).map_or(0.0, Recombination::mean);
        let mut sorted = group.to_vec();
        sorted.sort_by(|a, b| {
            let ends = (*b == end).cmp(&(*a == end));
            ends.then(from_end(a).total_cmp(&from_end(b)))
        });
        Some(sorted)
    }

    /// Holds every measured pair that is not a pair of neighbours against the steps between.
    fn check_steps(
        &self,
        chromosome: &Chromosome,
        book: &LocusBook,
        found: &mut Arrangement,
    ) -> Result<(), LinkageError> {
        let symbol = |at: usize| book.get(chromosome.loci[at]).symbol.clone();
        for first in 0..chromosome.loci.len() {
            for last in first + 2..chromosome.loci.len() {
                let (one, other) = (chromosome.loci[first], chromosome.loci[last]);
                let Some(r) = self.measured.get(&(one.min(other), one.max(other))) else {
                    continue;
                };
                let steps = &chromosome.steps[first..last];
                let most: f64 = steps.iter().map(|r| r.mean()).sum();
                if r.mean() > most + 1e-12 {
                    return Err(LinkageError::TooFar {
                        outer: format!("{} and {}", symbol(first), symbol(last)),
                        r: r.to_string(),
                        between: symbol(first + 1),
                        most: rounded(most).to_string(),
                    });
                }
                let between = steps.iter().fold(0.0, |r, step| joined(r, step.mean()));
                if (r.mean() - between).abs() > 1e-9 {
                    found.overruled.push((one, other, *r, between));
                }
            }
        }
        Ok(())
    }

    /// Refuses a genotype whose phase can only be between chromosomes: a heterozygous locus written with a bar,
    /// alone on its chromosome, beside one written so on another.
    ///
    /// # Errors
    /// [`LinkageError::Phase`].
    pub fn check_phase(&self, genotype: &Genotype, book: &LocusBook) -> Result<(), LinkageError> {
        let is_phased = |at: &&StatedLocus| at.phased && at.first != at.second;
        let phased: Vec<(LocusIx, &str)> = genotype
            .loci
            .iter()
            .filter(is_phased)
            .filter_map(|at| Some((at.locus, self.places.get(&at.locus)?.chromosome.as_str())))
            .collect();
        for (locus, on) in &phased {
            let mut elsewhere = phased.iter().filter(|(_, off)| off != on);
            let alone = phased.iter().filter(|(_, off)| off == on).count() == 1;
            if let (true, Some((other, off))) = (alone, elsewhere.next()) {
                return Err(LinkageError::Phase {
                    one: book.get(*locus).symbol.clone(),
                    on: (*on).to_owned(),
                    other: book.get(*other).symbol.clone(),
                    off: (*off).to_owned(),
                });
            }
        }
        Ok(())
    }
}

impl Chromosome {
    /// Whether a locus is on it.
    #[must_use]
    pub fn holds(&self, locus: LocusIx) -> bool {
        self.loci.contains(&locus)
    }
}

impl Arrangement {
    /// Joins the chromosomes of open pairs end to end, never parted.
    fn tie_open(&mut self) {
        for (one, other) in &self.open {
            let find = |locus| self.chromosomes.iter().position(|c| c.holds(locus));
            let here = find(*one).expect("every locus is on some chromosome");
            let there = find(*other).expect("every locus is on some chromosome");
            if here == there {
                continue;
            }
            let (first, second) = (here.min(there), here.max(there));
            let more = self.chromosomes.remove(second);
            let joined = &mut self.chromosomes[first];
            joined.steps.push(Recombination::both(Rate::NONE));
            joined.steps.extend(more.steps);
            joined.loci.extend(more.loci);
        }
    }
}
