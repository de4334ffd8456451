//! What makes it impossible that a line breeds true for what is wanted, and which genes must come from the donor.
//!
//! A line has one allele at every gene, so each choice of one allele a gene is looked at. Asked by `plan line`.

use super::kinds::{Order, Strand, Strands, Wish};
use crate::genetics::locus::LocusIx;

/// Why no line can be as wanted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Hindered {
    /// Only plants with two different alleles show it, at these loci.
    NeverTrue(Vec<LocusIx>),
    /// The plants that the scheme starts with lack an allele, at these loci.
    Lacking(Vec<LocusIx>),
}

/// What keeps a line from being as wanted: `there` are the alleles that the plants have by locus, `all` those that there
/// are at all. Nothing where a line can be.
#[must_use]
pub fn hindered(
    order: &Order,
    wish: &Wish<'_>,
    there: &[Vec<u8>],
    all: &[Vec<u8>],
) -> Option<Hindered> {
    let shows = |plant: &Strands| wish.is_met(&wish.look(order, plant));
    let comes = |alleles: &[Vec<u8>]| {
        every_strand(alleles)
            .into_iter()
            .any(|strand| shows(&[strand.clone(), strand]))
    };
    if comes(there) {
        return None;
    }
    let places = 0..order.loci.len();
    let named = |of: Vec<usize>| -> Vec<LocusIx> {
        let places: Vec<usize> = match of.is_empty() {
            true => places.clone().collect(),
            false => of,
        };
        places.into_iter().map(|at| order.loci[at]).collect()
    };
    if !comes(all) {
        let split = |at: &usize| {
            every_strand(all).into_iter().any(|strand| {
                all[*at].iter().any(|allele| {
                    let mut other = strand.clone();
                    other[*at] = *allele;
                    shows(&super::kinds::paired(strand.clone(), other))
                })
            })
        };
        return Some(Hindered::NeverTrue(named(
            places.clone().filter(split).collect(),
        )));
    }
    let opened = |at: &usize| {
        let mut alleles = there.to_vec();
        alleles[*at].clone_from(&all[*at]);
        comes(&alleles)
    };
    Some(Hindered::Lacking(named(
        places.clone().filter(opened).collect(),
    )))
}

/// The loci at which a line must have the donor's allele: with that of the parent gone back to it would not be as
/// wanted.
#[must_use]
pub fn brought_in(
    order: &Order,
    wish: &Wish<'_>,
    recurrent: &Strand,
    donor: &Strand,
) -> Vec<LocusIx> {
    let needed = |at: &usize| {
        let mut strand = donor.clone();
        strand[*at] = recurrent[*at];
        recurrent[*at] != donor[*at] && !wish.is_met(&wish.look(order, &[strand.clone(), strand]))
    };
    let places = (0..order.loci.len()).filter(needed);
    places.map(|at| order.loci[at]).collect()
}

fn every_strand(alleles: &[Vec<u8>]) -> Vec<Strand> {
    let mut found = vec![Strand::new()];
    for at in alleles {
        let with = |strand: &Strand| {
            let more = at.iter().map(|allele| [&strand[..], &[*allele]].concat());
            more.collect::<Vec<_>>()
        };
        found = found.iter().flat_map(with).collect();
    }
    found
}
