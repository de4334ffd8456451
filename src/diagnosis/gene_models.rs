//! Which gene model of a trait fits the ledger's counts?
//!
//! Every model of a trait gets its weight after the counts of some trays, each tray by itself and all of them
//! together. The parents are taken at their word; where their word leaves a genotype open, every genotype counts
//! with its starting belief, and a parent of several crosses has one genotype in all of them. Pollen of others,
//! selfs and mix-ups are not considered here: `suspects` does. `ratio --models` asks.

use super::DiagnosisError;
use super::context::Context;
use super::counts::{Sighting, TrayCounts};
use super::weighing::Weighing;
use crate::genetics::expect::ExpectError;
use crate::genetics::rule::GeneModel;
use crate::stats::logs::log_sum_exp;

/// Why models cannot be weighed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ModelsError {
    /// A stored text cannot be read.
    #[error(transparent)]
    Diagnosis(#[from] DiagnosisError),
    /// A model has no expectation.
    #[error("model {model}: {error}")]
    Expect {
        /// The model.
        model: String,
        /// Why.
        error: Box<ExpectError>,
    },
    /// Too many genotypes of parents are open.
    #[error(
        "model {model} leaves {combinations} combinations of genotypes of {plants} open, more than {most}"
    )]
    TooMany {
        /// The model.
        model: String,
        /// How many combinations.
        combinations: String,
        /// The parents, by number.
        plants: String,
        /// How many are gone through at most.
        most: usize,
        /// A parent whose genotype is open.
        open: i64,
    },
}

/// A parent's genotype as a model needs it.
#[derive(Debug, Clone, PartialEq)]
pub struct ParentGenotype {
    /// The plant.
    pub plant: i64,
    /// The genotype at the loci that the model reads, in the likeliest genotypes of all parents together.
    pub genotype: String,
    /// How likely the parent has it, after the counts, if the model is true.
    pub p: f64,
    /// Whether the ledger leaves no other: stated, or given by its parents.
    pub settled: bool,
}

/// A tray under a model.
#[derive(Debug, Clone, PartialEq)]
pub struct TrayFit {
    /// The model's weight after this tray alone.
    pub posterior: f64,
    /// The counts beside what the model expects with the likeliest genotypes of the parents.
    pub counts: TrayCounts,
    /// The shares of the classes in the end, as they are written down, misreadings in.
    pub finals: Vec<f64>,
}

/// A model after the counts.
#[derive(Debug, Clone, PartialEq)]
pub struct ModelFit {
    /// Its name.
    pub name: String,
    /// Whether it is the model in use.
    pub in_use: bool,
    /// Its weight after all trays; the weights of all models sum to 1.
    pub posterior: f64,
    /// The parents of the trays.
    pub parents: Vec<ParentGenotype>,
    /// The trays, in the order given.
    pub trays: Vec<TrayFit>,
}

/// Weighs the gene models of a trait against what was seen of it in some trays, all models equally likely before.
///
/// A model's likelihood is `sum over parental genotypes g of P(g) prod over trays of Mult(counts | shares(g))`, the
/// shares being those of the ages of the readings in a batch of the usual pace, with misreadings; its weight is its
/// likelihood over the sum of all (Bayes' rule).
///
/// # Errors
/// [`ModelsError`] where a row cannot be read, a model has no expectation, or too many genotypes are open.
pub fn weigh_models(
    context: &Context<'_>,
    place: usize,
    models: &[GeneModel],
    seen: &[Sighting],
) -> Result<Vec<ModelFit>, ModelsError> {
    let mut weighed = Vec::new();
    for model in models {
        let looks = context.looks.explained_by(place, model.clone());
        let context = Context::new(&looks, context.index, context.beliefs)?;
        weighed.push(Weighing::new(&context, place, seen)?.weigh()?);
    }
    let share = |logs: Vec<f64>| -> Vec<f64> {
        let all = log_sum_exp(&logs);
        logs.iter().map(|log| (log - all).exp()).collect()
    };
    let together = share(weighed.iter().map(|one| one.together).collect());
    let alone: Vec<Vec<f64>> = (0..seen.len())
        .map(|tray| share(weighed.iter().map(|one| one.alone[tray]).collect()))
        .collect();
    let in_use = context.looks.traits[place].model.name();
    Ok(weighed
        .into_iter()
        .enumerate()
        .map(|(at, one)| ModelFit {
            name: models[at].name().to_owned(),
            in_use: models[at].name() == in_use,
            posterior: together[at],
            parents: one.parents,
            trays: one
                .trays
                .into_iter()
                .enumerate()
                .map(|(tray, (counts, finals))| TrayFit {
                    posterior: alone[tray][at],
                    counts,
                    finals,
                })
                .collect(),
        })
        .collect())
}
