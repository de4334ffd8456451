//! What keeps genotypes and pollen from having their share: death, a grower's choice, weak pollen.
//!
//! A list of [`Selection`]s goes with a descent; the walks down the generations ask it. Why a genotype dies or is
//! chosen is not known here.

use super::fraction::Fraction;
use super::genotype::Diploid;
use super::locus::LocusIx;

/// Something that takes genotypes or pollen out of the reckoning.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Selection {
    /// The genotype does not live, in any generation.
    Dies(LocusIx, Diploid),
    /// Plants of the genotype live, but none of them is bred from.
    Dropped(LocusIx, Diploid),
    /// How well pollen with each allele fertilises beside pollen of the same plant with the others.
    Pollen(LocusIx, Vec<Fraction>),
}

impl Selection {
    /// The locus it is about.
    #[must_use]
    pub const fn locus(&self) -> LocusIx {
        match self {
            Self::Dies(locus, _) | Self::Dropped(locus, _) | Self::Pollen(locus, _) => *locus,
        }
    }

    /// The loci that some are about, where a test holds and they are not among those known already.
    #[must_use]
    pub fn further_loci(
        selection: &[Self],
        known: &[LocusIx],
        holds: impl Fn(LocusIx) -> bool,
    ) -> Vec<LocusIx> {
        let about = selection.iter().map(Self::locus);
        let mut further: Vec<LocusIx> = about
            .filter(|locus| !known.contains(locus) && holds(*locus))
            .collect();
        further.sort_unstable();
        further.dedup();
        further
    }
}

/// Whether a genotype at a locus does not live.
pub(super) fn dies(selection: &[Selection], locus: LocusIx, pair: Diploid) -> bool {
    selection.contains(&Selection::Dies(locus, pair))
}

/// Whether plants of a genotype at a locus are not bred from.
pub(super) fn is_dropped(selection: &[Selection], locus: LocusIx, pair: Diploid) -> bool {
    selection.contains(&Selection::Dropped(locus, pair))
}

/// How well pollen with each allele of a locus fertilises, where it is not all alike.
pub(super) fn pollen(selection: &[Selection], locus: LocusIx) -> Option<&[Fraction]> {
    selection.iter().find_map(|one| match one {
        Selection::Pollen(at, by_allele) if *at == locus => Some(&by_allele[..]),
        _ => None,
    })
}
