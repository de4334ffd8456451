//! Which parents of trays that teach an onset the ledger itself disbelieves.
//!
//! A tray of which half stays green may be of a slow colour or of a parent that splits. The fit takes the parents at
//! what is stated and seen of them alone; here they are asked by everything recorded, at the onset in use, so that
//! the answer can say where both stories stand. Called by the fit; changes none of its weights.

use std::collections::BTreeMap;

use crate::genetics::locus::LocusIx;
use crate::records::rows::{BatchRow, Thing};

use super::batch::BatchModel;
use super::belief::{Beliefs, in_two_threads, too_large};
use super::context::Context;
use super::kin::Asked;
use super::late_colour_batches::{Lesson, PROMISED, promise};
use super::posterior::Rules;

/// A parent of trays that teach which may not be what it is taken for.
#[derive(Debug, Clone, PartialEq)]
pub struct DoubtedParent {
    /// Its code or place.
    pub plant: String,
    /// What is stated of it at the trait's loci, or empty.
    pub stated: String,
    /// P(it is as stated, or as its own label promises), by everything recorded.
    pub p: f64,
    /// The trays of it that teach.
    pub trays: Vec<String>,
}

/// The parents of trays that teach of which everything recorded, these trays included, believes the word less than
/// [`PROMISED`], where a tray then no longer promises the late class; the most doubtful first.
#[must_use]
pub fn doubted_parents(
    context: &Context<'_>,
    rules: &Rules,
    lessons: &[Lesson<'_>],
    of: usize,
) -> Vec<DoubtedParent> {
    if lessons.is_empty() {
        return Vec::new();
    }
    let rows: Vec<&BatchRow> = context.index.facts.batch.iter().collect();
    let models = in_two_threads(&rows, |row| BatchModel::new(context, row));
    let net = Beliefs::new(context, &models, rules, &Asked::default());
    let loci = context.looks.traits[of].model.loci();
    let mut believed: BTreeMap<i64, f64> = BTreeMap::new();
    let mut trays: BTreeMap<i64, Vec<String>> = BTreeMap::new();
    for model in lessons.iter().map(Lesson::model) {
        if !is_doubted(context, &net, model, of) {
            continue;
        }
        let code = context.index.facts.code_of(Thing::Batch, model.batch_id);
        for plant in [model.mother, model.father] {
            let own = believed.entry(plant);
            let p = *own.or_insert_with(|| as_taken(context, &net, plant, loci));
            let named = trays.entry(plant).or_default();
            let code = code.unwrap_or_default().to_owned();
            if p < PROMISED && !named.contains(&code) {
                named.push(code);
            }
        }
    }
    let doubted = believed.into_iter().filter(|(_, p)| *p < PROMISED);
    let mut found: Vec<DoubtedParent> = doubted
        .map(|(plant, p)| DoubtedParent {
            plant: context.index.facts.label_of_plant(plant),
            stated: context.plants.stated_at(plant, loci),
            p,
            trays: trays.remove(&plant).unwrap_or_default(),
        })
        .collect();
    found.sort_by(|one, other| one.p.total_cmp(&other.p));
    found
}

/// Whether by everything recorded a tray promises the late class of a trait no more.
fn is_doubted(context: &Context<'_>, net: &Beliefs<'_>, model: &BatchModel, of: usize) -> bool {
    if too_large(model).is_some() {
        return false;
    }
    let parents = (model.mother, model.father);
    let pairs = net.joint_of_pair(parents, &model.space.loci);
    pairs.is_ok_and(|pairs| promise(context, model, of, &pairs) < PROMISED)
}

/// P(a plant has a genotype at some loci that it can have at its word), by everything recorded; certain where that is too
/// large to work out.
fn as_taken(context: &Context<'_>, net: &Beliefs<'_>, plant: i64, loci: &[LocusIx]) -> f64 {
    let space = context.groups().space(loci);
    let words: Vec<Vec<f64>> = loci
        .iter()
        .map(|locus| context.plants.at_word(plant, *locus))
        .collect();
    let fits = |joint: usize| {
        let mut places = words.iter().enumerate();
        places.all(|(place, word)| word[space.digit_at(joint, place)] > 0.0)
    };
    net.joint_of(plant, loci).map_or(1.0, |joint| {
        let fitting = joint.iter().enumerate().filter(|(at, _)| fits(*at));
        fitting.map(|(_, p)| p).sum()
    })
}
