//! What the label promises and what each source would bring, every plant taken at its word.
//!
//! The yardstick of visibility and of "proven": no beliefs learnt from batches, no misreading.

use super::batch::BatchModel;
use super::context::Context;
use super::dates::Emergence;
use super::evidence::Telling;
use super::looks::Look;
use super::paces::{Pace, shown_by};
use super::sources::{Seed, Share};
use super::verdict::dot;
use crate::genetics::rule::Cytoplasm;
use crate::records::day::Day;

/// The promises of a batch.
#[derive(Debug, Clone)]
pub struct Word {
    /// Profiles of the label's seed.
    pub label: Vec<f64>,
    /// Profiles of each candidate's seed.
    pub sources: Vec<Vec<f64>>,
    /// Profiles of the sources' seed, averaged by prior weight; nothing where nothing can go wrong.
    pub average: Option<Vec<f64>>,
    /// P(the label ends in a class), by trait read.
    pub ends_in: Vec<Vec<f64>>,
}

impl Word {
    /// Works out the promises of a batch.
    #[must_use]
    pub fn of(context: &Context<'_>, model: &BatchModel) -> Self {
        let label = label_at_word(context, model);
        let mut sources: Vec<Vec<f64>> = model
            .candidates
            .iter()
            .map(|candidate| source_at_word(context, model, candidate.seed, &label))
            .collect();
        let total: f64 = model
            .candidates
            .iter()
            .map(|candidate| candidate.weight)
            .sum();
        for at in 0..sources.len() {
            if model.candidates[at].seed == Seed::Mixed {
                let mut mixed = vec![0.0; label.len()];
                for (candidate, seed) in model.candidates.iter().zip(&sources) {
                    mixed
                        .iter_mut()
                        .zip(seed)
                        .for_each(|(sum, p)| *sum += candidate.weight / total * p);
                }
                sources[at] = mixed;
            }
        }
        let off: f64 = weighed(model).map(|(_, prior)| prior).sum();
        let average = (off > 0.0).then(|| {
            let mut sums = vec![0.0; label.len()];
            for (at, prior) in weighed(model) {
                sums.iter_mut()
                    .zip(&sources[at])
                    .for_each(|(sum, p)| *sum += prior / off * p);
            }
            sums
        });
        let ends_in = (0..model.profiles.traits.len())
            .map(|at| ends_in(context, model, &label, at))
            .collect();
        Self {
            label,
            sources,
            average,
            ends_in,
        }
    }
}

/// Profiles of the seed that the label promises.
pub(super) fn label_at_word(context: &Context<'_>, model: &BatchModel) -> Vec<f64> {
    let own = context.plants.cytoplasm(model.mother);
    seed_of_two(context, model, model.mother, model.father, own)
}

/// Candidates other than "none", with their priors.
fn weighed(model: &BatchModel) -> impl Iterator<Item = (usize, f64)> {
    let off = |share: Share| share != Share::Nothing;
    model
        .candidates
        .iter()
        .enumerate()
        .filter(move |(_, c)| off(c.share))
        .map(|(at, c)| (at, c.prior))
}

fn seed_of_two(
    context: &Context<'_>,
    model: &BatchModel,
    mother: i64,
    father: i64,
    cytoplasm: Cytoplasm,
) -> Vec<f64> {
    let units = model.space.units.iter();
    let by_unit: Vec<Vec<f64>> = units
        .map(|unit| context.plants.offspring_at_word(mother, father, unit))
        .collect();
    model
        .profiles
        .project(&model.space.joint(&by_unit), cytoplasm)
}

fn source_at_word(
    context: &Context<'_>,
    model: &BatchModel,
    seed: Seed,
    label: &[f64],
) -> Vec<f64> {
    let own = context.plants.cytoplasm(model.mother);
    match seed {
        Seed::Labelled | Seed::Mixed => label.to_vec(),
        Seed::SelfOfMother => seed_of_two(context, model, model.mother, model.mother, own),
        Seed::PollenOf(donor) => seed_of_two(context, model, model.mother, donor, own),
        Seed::OfCross { mother, father } => seed_of_two(
            context,
            model,
            mother,
            father,
            context.plants.cytoplasm(mother),
        ),
        Seed::UnknownPollen => {
            let units = model.space.units.iter();
            let eggs: Vec<Vec<f64>> = units
                .map(|unit| context.plants.eggs_at_word(model.mother, unit))
                .collect();
            model
                .profiles
                .project(&model.space.offspring(&eggs, model.strangers()), own)
        }
        Seed::UnknownSeed | Seed::OutsideCross => model
            .profiles
            .project(&model.unknown_plant(), Cytoplasm::Unknown),
    }
}

/// P(seed of a label ends in each class), for a trait read.
pub(super) fn ends_in(
    context: &Context<'_>,
    model: &BatchModel,
    label: &[f64],
    at: usize,
) -> Vec<f64> {
    let place = model.profiles.traits[at];
    let mut sums = vec![0.0; context.looks.traits[place].classes.len()];
    for (profile, p) in label.iter().enumerate() {
        sums[model.profiles.classes[profile][at]] += p;
    }
    sums
}

/// P(each class of a trait is shown | the class it ends in) on a day, at the usual pace.
fn shown_on(trait_: &Look, last: usize, day: Day, came_up: Day) -> Vec<f64> {
    let mut shown = vec![0.0; trait_.classes.len()];
    match (trait_.classes[last].after, trait_.onset) {
        (Some(earlier), Some(onset)) => {
            let late = shown_by(&onset, Pace::Shifted(0.0), day.since(came_up).max(0));
            shown[last] += late;
            shown[earlier] += 1.0 - late;
        }
        _ => shown[last] = 1.0,
    }
    shown
}

/// Whether a seedling that ends in a class may be read as `class` on a day, at the usual pace and in good light: it ends
/// in it, or still shows it with at least the chance from which on a class counts as allowed.
pub(super) fn may_show(
    context: &Context<'_>,
    (look, last): (usize, usize),
    reading: &Telling,
    emergence: &Emergence,
) -> bool {
    let trait_ = &context.looks.traits[look];
    let days = emergence.iter();
    let still: f64 = days
        .map(|(up, p)| p * shown_on(trait_, last, reading.day, *up)[reading.class])
        .sum();
    last == reading.class || still >= context.beliefs.allowed
}

/// What a batch's traits show at an age, at the usual pace and without misreading.
#[derive(Debug)]
pub struct Shown<'a> {
    context: &'a Context<'a>,
    model: &'a BatchModel,
    day: Day,
    emergence: &'a Emergence,
}

impl<'a> Shown<'a> {
    /// On a day, averaged over the days of emergence.
    #[must_use]
    pub const fn on(
        context: &'a Context<'a>,
        model: &'a BatchModel,
        day: Day,
        emergence: &'a Emergence,
    ) -> Self {
        Self {
            context,
            model,
            day,
            emergence,
        }
    }

    /// P(each class of one trait is shown | profile), for one day of emergence.
    fn classes(&self, profile: usize, at: usize, came_up: Day) -> Vec<f64> {
        let trait_ = &self.context.looks.traits[self.model.profiles.traits[at]];
        let last = self.model.profiles.classes[profile][at];
        shown_on(trait_, last, self.day, came_up)
    }

    /// P(each class of one trait is shown | seed).
    #[must_use]
    pub fn class_chances(&self, seed: &[f64], at: usize) -> Vec<f64> {
        let mut sums = vec![
            0.0;
            self.context.looks.traits[self.model.profiles.traits[at]]
                .classes
                .len()
        ];
        for (came_up, weight) in self.emergence {
            for (profile, p) in seed.iter().enumerate() {
                for (sum, shown) in sums.iter_mut().zip(self.classes(profile, at, *came_up)) {
                    *sum += weight * p * shown;
                }
            }
        }
        sums
    }

    /// P(a seedling that ends in a profile shows an allowed class in every trait), profile by profile.
    #[must_use]
    pub fn passes(&self, allowed: &[Vec<bool>]) -> Vec<f64> {
        let shows = |profile: usize, at: usize, came_up: Day| -> f64 {
            let shown = self.classes(profile, at, came_up);
            let shown = shown.iter().zip(&allowed[at]);
            shown.filter(|(_, ok)| **ok).map(|(p, _)| p).sum()
        };
        let of_profile = |profile: usize| {
            let days = self.emergence.iter().map(|(came_up, weight)| {
                let traits = 0..allowed.len();
                let each = traits.map(|at| shows(profile, at, *came_up));
                weight * each.product::<f64>()
            });
            days.sum()
        };
        (0..self.model.profiles.len()).map(of_profile).collect()
    }
}

/// For each candidate: P(an off-type seedling from it would show, at the batch's newest reading, a class that the label
/// does not allow); and their average by prior weight, "none" left out.
#[must_use]
pub fn visibility(context: &Context<'_>, model: &BatchModel, word: &Word) -> (Vec<f64>, f64) {
    let Some(day) = model.evidence.newest else {
        return (vec![0.0; model.candidates.len()], 0.0);
    };
    let shown = Shown::on(context, model, day, &model.evidence.emergence);
    let allowed: Vec<Vec<bool>> = (0..model.profiles.traits.len())
        .map(|at| {
            shown
                .class_chances(&word.label, at)
                .iter()
                .map(|p| *p >= context.beliefs.allowed)
                .collect()
        })
        .collect();
    let passes = shown.passes(&allowed);
    let by_source: Vec<f64> = word
        .sources
        .iter()
        .map(|seed| (1.0 - dot(seed, &passes)).clamp(0.0, 1.0))
        .collect();
    let off: f64 = weighed(model).map(|(_, prior)| prior).sum();
    let mean = weighed(model)
        .map(|(at, prior)| prior * by_source[at])
        .sum::<f64>();
    (by_source, if off > 0.0 { mean / off } else { 0.0 })
}
