//! Loci, genotypes, gene models and what a cross is expected to give.
//!
//! This room turns what breeders write (`A/a Pun1/pun1`, `A/_ => purple`) into types, and works out
//! what seedlings a pair of parents can have and in which shares. It knows nothing of plants with
//! names, of days, readings or sowings; the rooms of records and diagnosis build on it.
//!
//! Loci are taken as independent. What segregates together enters as one [`Segregation`] group, so
//! that a group of several linked loci is one more way to make such a group and nothing else changes.

pub mod allele;
pub mod catalogue;
mod catalogue_loci;
mod catalogue_traits;
pub mod expect;
pub mod generation;
pub mod genotype;
pub mod kinship;
pub mod locus;
pub mod notation;
mod notation_error;
pub mod progeny;
pub mod purdy;
mod purdy_error;
mod purdy_reader;
pub mod ratio;
pub mod ratio_models;
pub mod rule;
mod rule_error;
pub mod segregation;
mod sweep;
mod trait_check;
pub mod traits;

pub use catalogue::{BENCH_TRAIT, CatalogueLocus};
pub use expect::{
    ExactExpectation, ExpectError, Parent, expect_exact, expect_mixture, expect_selfed,
};
pub use genotype::Diploid;
pub use locus::{Locus, LocusBook, LocusError, LocusIx};
pub use notation::{Genotype, NotationError, NotationFault, StatedLocus};
pub use ratio::{Ratio, RatioError, whole_number_ratio};
pub use rule::{Cytoplasm, GeneModel, Pattern, Rule, RuleError, parse_rule};
pub use segregation::{AtLocus, Segregation};
pub use traits::{ClassSpec, ModelSpec, Onset, Stage, Standing, TraitError, TraitSpec, parse_late};
