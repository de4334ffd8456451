//! What the marker can see: the probability that an off-type seedling would show a class the label does not allow.

use super::model::Model;
use super::onset::shown_by;
use super::season::{Day, Trait};
use super::sources::Source;
use super::world::World;

/// Looks of seedlings as labelled and per source, plants at their word.
#[derive(Clone, Debug)]
pub struct AtTheirWord {
    pub label: Vec<f64>,
    /// Source, prior weight, looks; all sources but `none`.
    pub sources: Vec<(Source, f64, Vec<f64>)>,
}

/// Works out the looks of label and sources with every plant's statement at its word.
pub fn at_their_word(world: &World, batch: usize) -> AtTheirWord {
    let model = &world.batches[batch];
    let terms = model.terms(&model.product_weights(&world.beliefs.word, true), false);
    let mut label = vec![0.0; model.looks.len()];
    let mut sources: Vec<(Source, f64, Vec<f64>)> = model
        .candidates
        .sources
        .iter()
        .map(|(s, p)| (s.clone(), *p, vec![0.0; model.looks.len()]))
        .collect();
    for term in &terms {
        let (source, prior, looks) = &mut sources[term.source];
        let (from, to) = if *source == Source::None {
            (&term.label, &mut label)
        } else {
            (&term.brood, looks)
        };
        to.iter_mut()
            .zip(from)
            .for_each(|(t, f)| *t += term.weight / *prior * f);
    }
    sources.retain(|s| s.0 != Source::None);
    AtTheirWord { label, sources }
}

impl AtTheirWord {
    /// The sources' looks averaged by prior weight.
    pub fn averaged(&self) -> Vec<f64> {
        let total: f64 = self.sources.iter().map(|s| s.1).sum();
        (0..self.label.len())
            .map(|l| self.sources.iter().map(|s| s.1 * s.2[l]).sum::<f64>() / total)
            .collect()
    }
}

/// Per source the probability of showing itself, and their average by prior weight.
pub fn visibility(
    model: &Model,
    word: &AtTheirWord,
    traits: &[Trait],
) -> (Vec<(Source, f64)>, f64) {
    let allowed: Vec<Vec<bool>> = (0..model.traits.len())
        .map(|t| allowed(model, &word.label, traits, t))
        .collect();
    let hidden = |look: &[usize], day: Day| -> f64 {
        let of_trait = |t: usize| {
            let shows = shown_classes(&traits[model.traits[t]], look[t], age(model, day));
            shows
                .iter()
                .zip(&allowed[t])
                .filter(|s| *s.1)
                .map(|s| s.0)
                .sum::<f64>()
        };
        (0..look.len()).map(of_trait).product()
    };
    let revealed = |looks: &[f64]| -> f64 {
        let on = |&(day, w): &(Day, f64)| {
            w * looks
                .iter()
                .zip(&model.looks)
                .map(|(p, l)| p * (1.0 - hidden(l, day)))
                .sum::<f64>()
        };
        model.evidence.emerged.iter().map(on).sum()
    };
    let visible: Vec<(Source, f64)> = word
        .sources
        .iter()
        .map(|(s, _, l)| (s.clone(), revealed(l)))
        .collect();
    let total: f64 = word.sources.iter().map(|s| s.1).sum();
    let average = word
        .sources
        .iter()
        .zip(&visible)
        .map(|(s, v)| s.1 * v.1)
        .sum::<f64>()
        / total;
    (visible, average)
}

fn age(model: &Model, emerged: Day) -> i64 {
    (model
        .evidence
        .newest
        .expect("asked of a batch with readings")
        - emerged)
        .max(0)
}

/// Which classes of a trait the label shows with at least 0.05 at the age of the newest reading.
fn allowed(model: &Model, label: &[f64], traits: &[Trait], t: usize) -> Vec<bool> {
    let of = &traits[model.traits[t]];
    let mut shows = vec![0.0; of.classes.len()];
    for &(day, w) in &model.evidence.emerged {
        for (p, look) in label.iter().zip(&model.looks) {
            let now = shown_classes(of, look[t], age(model, day));
            shows.iter_mut().zip(now).for_each(|(s, n)| *s += w * p * n);
        }
    }
    shows.iter().map(|&s| s >= 0.05).collect()
}

/// The distribution of the class shown at an age by a seedling of a final class, without a batch shift.
fn shown_classes(t: &Trait, end: usize, age: i64) -> Vec<f64> {
    let mut shows = vec![0.0; t.classes.len()];
    match t.late.as_ref().filter(|l| l.class == end) {
        None => shows[end] = 1.0,
        Some(late) => {
            let p = shown_by(t, age, Some(0.0));
            shows[end] = p;
            shows[late.after] += 1.0 - p;
        }
    }
    shows
}
