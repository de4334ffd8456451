//! The plants that the parents of a cross may be, by everything recorded of them.

use super::genotype::failed;
use crate::cli::failure::Failure;
use crate::diagnosis::context::Context;
use crate::diagnosis::counts::plant_at_word;
use crate::diagnosis::genotypes::parents_believed;
use crate::genetics::expect::Parent;
use crate::genetics::locus::LocusIx;
use crate::genetics::segregation::AtLocus;

/// Mother and father of every genotype that they may have together, with its probability.
///
/// # Errors
/// [`Failure`] where nothing explains what is recorded of them, or the exact answer is too large.
pub fn believed(
    context: &Context<'_>,
    parents: (i64, i64),
    loci: &[LocusIx],
) -> Result<Vec<(Parent, Parent, f64)>, Failure> {
    let pairs = parents_believed(context, parents, loci).map_err(failed)?;
    if pairs.is_empty() {
        return Err(Failure::refused(
            "nothing that these parents can be explains what is recorded of them",
        )
        .try_typing("locule suspects"));
    }
    let word = [parents.0, parents.1].map(|plant| plant_at_word(context, plant, loci).cytoplasm);
    let plant = |genotype: &[AtLocus], cytoplasm| Parent {
        loci: loci.iter().copied().zip(genotype.iter().cloned()).collect(),
        cytoplasm,
    };
    Ok(pairs
        .iter()
        .map(|(mother, father, p)| (plant(mother, word[0]), plant(father, word[1]), *p))
        .collect())
}
