//! A second, independent diagnosis, kept as a permanent test oracle.
//!
//! Written from the described mathematics alone ("docs/method.md": genotypes, traits and readings, one batch
//! of seedlings, verdicts, what is known of each plant) and sharing no code with the program: own types, own
//! normal distribution, own sums. It is slow and literal on purpose. Off-type seedlings are summed subset by
//! subset in exact integers, plants by running through every joint genotype of every plant of the ledger;
//! there is no quadrature over the off-type share and no elimination. [`choices`] lists the places where the
//! description can be read in two ways.

pub mod answer;
pub mod beliefs;
pub mod choices;
pub mod commands;
pub mod enumeration;
pub mod evidence;
pub mod exact;
pub mod genes;
pub mod model;
pub mod onset;
pub mod posterior;
pub mod season;
pub mod sources;
pub mod together;
pub mod verdict;
pub mod visibility;
pub mod world;

pub mod sanity;
mod sanity_bench;
