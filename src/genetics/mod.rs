//! Loci, genotypes, gene models and what a cross is expected to give.
//!
//! This room turns what breeders write (`A/a Pun1/pun1`, `A/_ => purple`) into types, and works out
//! what seedlings a pair of parents can have and in which shares. It knows nothing of plants with
//! names, of days, readings or sowings; the rooms of records and diagnosis build on it.
//!
//! Loci of one chromosome come down together: a [`LinkageMap`] sorts loci into chromosomes, and [`breed`]
//! walks along them from two plants through any [`Descent`].

pub mod allele;
pub mod beliefs_apart;
pub mod catalogue;
mod catalogue_loci;
mod catalogue_traits;
pub mod descent;
pub mod drag;
pub mod expect;
pub mod fitting;
pub mod fraction;
pub mod generation;
pub mod genotype;
mod haplotypes;
pub mod interactions;
pub mod kinship;
pub mod linkage;
pub mod locus;
pub mod lots;
pub mod mixing;
pub mod notation;
mod notation_error;
pub mod pointer;
pub mod progeny;
pub mod purdy;
mod purdy_error;
mod purdy_reader;
pub mod ratio;
pub mod ratio_models;
pub mod recombination;
pub mod ripening;
pub mod rule;
mod rule_error;
pub mod segregation;
pub mod selection;
pub mod set_rates;
pub mod species;
mod strands;
mod sweep;
mod trait_check;
pub mod traits;
pub mod two_point;
mod weight;

pub use catalogue::{BENCH_TRAIT, CatalogueLocus};
pub use descent::{Descent, Generation, Recurrent};
pub use expect::{Breeding, ExactExpectation, ExpectError, Parent, Shares, breed};
pub use fraction::Fraction;
pub use genotype::Diploid;
pub use linkage::{Arrangement, LinkageError, LinkageMap, Place};
pub use locus::{Locus, LocusBook, LocusError, LocusIx};
pub use notation::{Genotype, NotationError, NotationFault, StatedLocus};
pub use ratio::{Ratio, RatioError, whole_number_ratio};
pub use recombination::{Rate, Recombination};
pub use rule::{Cytoplasm, GeneModel, Pattern, Rule, RuleError, parse_rule};
pub use segregation::AtLocus;
pub use selection::Selection;
pub use traits::{ClassSpec, ModelSpec, Onset, Stage, Standing, TraitError, TraitSpec, parse_late};
