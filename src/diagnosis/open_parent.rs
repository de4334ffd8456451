//! A parent of which an allele was left open (`A/_`) and that its seedlings show to be the open way.
//!
//! Taken at its word such a parent is a mixture, mostly of the usual case, so that what the rarer case gives looks
//! foreign. Changes no probability. Called by the remarks of `suspects`.

use super::answer::{EvidenceNote, SeedlingAnswer, Verdict};
use super::batch::BatchModel;
use super::context::Context;

/// A genotype is named from this probability on (design choice).
const WORTH_NAMING: f64 = 0.25;

/// A class that the label ends in less often than this looks foreign (design choice).
const FOREIGN: f64 = 0.05;

/// The parent whose open allele explains a class that looks foreign here; `joint` is what the parents are.
#[must_use]
pub fn open_parent<'j>(
    context: &Context<'_>,
    model: &BatchModel,
    seedlings: &[SeedlingAnswer],
    joint: impl FnOnce() -> &'j [f64],
) -> Option<EvidenceNote> {
    let foreign = |one: &&SeedlingAnswer| {
        one.verdict != Verdict::Keep && one.reason.label_ends_in_it < FOREIGN
    };
    let class = &seedlings.iter().find(foreign)?.reason.loudest.class;
    let open: Vec<Open> = open_alleles(context, model);
    if open.is_empty() {
        return None;
    }
    let joint = joint();
    let facts = context.index.facts;
    open.into_iter().find_map(|open| {
        let (likelier, p) = open.turns_out(context, model, joint)?;
        Some(EvidenceNote::OpenParent {
            plant: facts.plant_label(facts.plant.get(open.plant)?),
            stated: open.stated,
            likelier,
            p,
            class: class.clone(),
        })
    })
}

/// A parent's locus at which an allele was left open.
struct Open {
    plant: i64,
    is_mother: bool,
    /// The locus's place among those of the batch.
    place: usize,
    stated: String,
}

fn open_alleles(context: &Context<'_>, model: &BatchModel) -> Vec<Open> {
    let parents = [(model.mother, true), (model.father, false)];
    let of_parent = |(plant, is_mother): (i64, bool)| {
        let loci = model.space.loci.iter().enumerate();
        loci.filter_map(move |(place, locus)| {
            let stated = context.plants.stated(plant, *locus);
            let stated = stated.filter(|stated| stated.contains('_'))?;
            Some(Open {
                plant,
                is_mother,
                place,
                stated,
            })
        })
    };
    parents.into_iter().flat_map(of_parent).collect()
}

impl Open {
    /// The likeliest of those genotypes that its statement leaves open and that are the rarer ones there.
    fn turns_out(
        &self,
        context: &Context<'_>,
        model: &BatchModel,
        joint: &[f64],
    ) -> Option<(String, f64)> {
        let locus = model.space.loci[self.place];
        let pairs = context.plants.pairs(locus);
        let mut marginal = vec![0.0; pairs.len()];
        for (pair, p) in joint.iter().enumerate() {
            let (mother, father) = model.pair(pair);
            let genotype = if self.is_mother { mother } else { father };
            let own = model.space.genotype(genotype)[self.place];
            marginal[pairs.iter().position(|pair| *pair == own)?] += p;
        }
        let word = context.plants.at_word(self.plant, locus);
        let rarer = (0..pairs.len()).filter(|at| word[*at] > 0.0 && word[*at] < 0.5);
        let likeliest = rarer.max_by(|one, other| marginal[*one].total_cmp(&marginal[*other]))?;
        let p = marginal[likeliest];
        let written = || pairs[likeliest].written(context.looks.book.get(locus));
        (p >= WORTH_NAMING).then(|| (written(), p))
    }
}
