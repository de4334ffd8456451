//! Records that clash, and how likely each explanation of it is.
//!
//! A clash is a record that cannot be so if the others are taken at their word: a plant's look against its stated
//! genotype, a statement against the parents', seedlings against both parents. Nothing is overridden: every
//! probability here comes from all records together. Called by `genotype` and by the remarks of `suspects`.

use crate::genetics::genotype::Diploid;
use crate::records::rows::Thing;
use crate::stats::elimination::TooManyCells;

use super::batch::BatchModel;
use super::belief::{Beliefs, too_large};
use super::context::Context;
use super::dates::Emergence;
use super::evidence::{Member, Telling};
use super::posterior::{Rules, Weigher};
use super::reason::newest_by_trait;
use super::sensitivity::relit;
use super::sources::Seed;
use super::told::{ClassCount, counts};
use super::weighed::Weighed;
use super::weights::PlantWeights;
use super::word::{Word, may_show};
use crate::records::descent::{adoption_of, fixed_since, likely_parents};

/// What explains a clash.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Explanation {
    /// What was stated of a plant is wrong.
    WrongStatement {
        /// The plant.
        plant: String,
        /// What was stated.
        stated: String,
    },
    /// The look was misread.
    Misread,
    /// Some seedlings, or all, are not of this cross.
    OffType,
    /// The light was too dim for a late class to show.
    Dim,
}

/// The records that clash.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Clashing {
    /// A plant shows what its stated genotype cannot.
    Look {
        /// The class.
        class: String,
        /// The statement.
        stated: String,
    },
    /// Parents, both as stated, cannot have an offspring of this statement.
    Descent {
        /// The statement.
        stated: String,
        /// The parents.
        parents: (String, String),
    },
    /// Seedlings show what their parents as stated cannot give.
    Seedlings {
        /// The tray.
        tray: String,
        /// The parents.
        parents: (String, String),
        /// What was seen that cannot be.
        seen: Vec<ClassCount>,
    },
}

/// A clash with its explanations, the likeliest first. They do not exclude each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Clash {
    /// The records.
    pub records: Clashing,
    /// The explanations with their probabilities, given everything recorded.
    pub explanations: Vec<(Explanation, f64)>,
}

impl Clash {
    fn new(records: Clashing, mut explanations: Vec<(Explanation, f64)>) -> Self {
        explanations.sort_by(|one, other| other.1.total_cmp(&one.1));
        Self {
            records,
            explanations,
        }
    }
}

/// A dim tray less likely than this is no explanation worth naming (design choice).
const WORTH_NAMING: f64 = 0.01;

/// The clashes in which a plant has a part.
///
/// # Errors
/// [`TooManyCells`] where the exact answer needs too large a table.
pub(super) fn clashes_of(
    context: &Context<'_>,
    rules: &Rules,
    models: &[BatchModel],
    beliefs: &Beliefs<'_>,
    plant: i64,
) -> Result<Vec<Clash>, TooManyCells> {
    let as_seedling = models
        .iter()
        .flat_map(|model| &model.evidence.members)
        .find(|member| member.plant == Some(plant));
    let mut found = of_looks(context, beliefs, plant, as_seedling)?;
    found.extend(of_descent(context, beliefs, plant)?);
    let own = models
        .iter()
        .filter(|model| model.mother == plant || model.father == plant);
    for model in own.filter(|model| !model.space.loci.is_empty() && too_large(model).is_none()) {
        if impossible(context, model, &model.word(context)).is_empty() {
            continue;
        }
        let batch = Weighed::new(context, rules, model, beliefs.weights(model)?);
        found.extend(of_seedlings(context, rules, model, &batch, 0.0));
    }
    Ok(found)
}

/// P(what is stated of a plant is wrong somewhere at these loci).
fn wrong_statement(
    context: &Context<'_>,
    beliefs: &Beliefs<'_>,
    plant: i64,
    loci: &[crate::genetics::locus::LocusIx],
) -> Result<f64, TooManyCells> {
    let joint = beliefs.joint_of(plant, loci)?;
    let space = context.groups().space(loci);
    let wrong = joint
        .iter()
        .enumerate()
        .filter(|(at, _)| !context.plants.fits(plant, loci, &space.genotype(*at)));
    Ok(wrong.map(|(_, p)| p).sum())
}

/// Looks that the plant's statement cannot give: its own, each of the class it ends in, and those it had as a seedling,
/// at their age.
fn of_looks(
    context: &Context<'_>,
    beliefs: &Beliefs<'_>,
    plant: i64,
    as_seedling: Option<&Member>,
) -> Result<Vec<Clash>, TooManyCells> {
    let cytoplasm = context.plants.cytoplasm(plant);
    let own = context.plants.own_looks(plant).into_iter();
    let mut readings: Vec<(Telling, Option<&Emergence>)> = own.map(|one| (one, None)).collect();
    if let Some(member) = as_seedling {
        let mut seen = newest_by_trait(member);
        seen.sort_by_key(|reading| reading.look);
        let seen = seen.into_iter().cloned();
        readings.extend(seen.map(|one| (one, Some(&member.emergence))));
    }
    let mut found = Vec::new();
    for (reading, emergence) in readings {
        let look = &context.looks.traits[reading.look];
        let loci = look.model.loci();
        let space = context.groups().space(loci);
        let shows = |at: usize| {
            let last = look.model.class_of(&space.genotype(at), cytoplasm);
            match emergence {
                Some(up) => may_show(context, (reading.look, last), &reading, up),
                None => last == reading.class,
            }
        };
        let fits = |at: usize| context.plants.fits(plant, loci, &space.genotype(at));
        if (0..space.size).any(|at| fits(at) && shows(at)) {
            continue;
        }
        let joint = beliefs.joint_of(plant, loci)?;
        let misread: f64 = (0..space.size)
            .filter(|at| !shows(*at))
            .map(|at| joint[at])
            .sum();
        let stated = context.plants.stated_at(plant, loci);
        let wrong = wrong_statement(context, beliefs, plant, loci)?;
        found.push(Clash::new(
            Clashing::Look {
                class: look.classes[reading.class].name.clone(),
                stated: stated.clone(),
            },
            vec![
                (
                    Explanation::WrongStatement {
                        plant: context.index.facts.label_of_plant(plant),
                        stated,
                    },
                    wrong,
                ),
                (Explanation::Misread, misread),
            ],
        ));
    }
    Ok(found)
}

/// A statement that the parents, as stated, cannot give.
fn of_descent(
    context: &Context<'_>,
    beliefs: &Beliefs<'_>,
    plant: i64,
) -> Result<Vec<Clash>, TooManyCells> {
    let facts = context.index.facts;
    let Some(row) = facts.plant.get(plant) else {
        return Ok(Vec::new());
    };
    let is_adopted = adoption_of(facts, plant).is_some();
    let (mother, father) = likely_parents(facts, row);
    let mut found = Vec::new();
    for locus in context.plants.stated_loci(plant) {
        let alone = context.groups().alone(locus);
        let Some(born) = context.plants.promised(row, &alone) else {
            break;
        };
        // A line of a pedigree was selfed since: what its parents' seed is heterozygous for it may have fixed.
        let fixed = match row.batch_id {
            Some(_) => 0.0,
            None => fixed_since(facts, context.beliefs, row),
        };
        let given = alone.selfed_since(born, fixed);
        let pairs: Vec<Diploid> = context.plants.pairs(locus);
        let can = |(pair, p): (&Diploid, &f64)| {
            *p > 0.0 && context.plants.fits(plant, &[locus], &[*pair])
        };
        if pairs.iter().zip(&given).any(can) {
            continue;
        }
        let mut explanations = Vec::new();
        let mut named = vec![plant];
        named.extend([mother, father].into_iter().flatten());
        named.dedup();
        for id in named {
            if context.plants.stated(id, locus).is_some() {
                let what = Explanation::WrongStatement {
                    plant: context.index.facts.label_of_plant(id),
                    stated: context.plants.stated_at(id, &[locus]),
                };
                explanations.push((what, wrong_statement(context, beliefs, id, &[locus])?));
            }
        }
        if row.batch_id.is_some() && !is_adopted {
            let off = beliefs.off_chance(plant)?;
            explanations.extend(off.map(|p| (Explanation::OffType, p)));
        }
        let name = |parent: Option<i64>| {
            parent.map_or_else(
                || "an unknown plant".to_owned(),
                |id| facts.label_of_plant(id),
            )
        };
        let records = Clashing::Descent {
            stated: context.plants.stated_at(plant, &[locus]),
            parents: (name(mother), name(father)),
        };
        found.push(Clash::new(records, explanations));
    }
    Ok(found)
}

/// Seedlings that both parents, as stated, cannot give; nothing where each could be, or where no statement is wrong with
/// at least the chance that is worth naming.
#[must_use]
pub(super) fn of_seedlings(
    context: &Context<'_>,
    rules: &Rules,
    model: &BatchModel,
    batch: &Weighed,
    worth_naming: f64,
) -> Option<Clash> {
    let seen = impossible(context, model, &batch.word);
    if seen.is_empty() {
        return None;
    }
    let posterior = batch.parents(rules, model);
    let loci = &model.space.loci;
    let fits = |plant: i64, genotype: usize| {
        context
            .plants
            .fits(plant, loci, &model.space.genotype(genotype))
    };
    let chance = |keep: &dyn Fn(usize, usize) -> bool| -> f64 {
        let pairs = posterior.iter().enumerate().filter(|(at, _)| {
            let (mother, father) = model.pair(*at);
            keep(mother, father)
        });
        pairs.map(|(_, p)| p).sum()
    };
    let mut explanations = Vec::new();
    let mut parents = vec![(
        model.mother,
        chance(&|mother, _| !fits(model.mother, mother)),
    )];
    if !model.is_self() {
        parents.push((
            model.father,
            chance(&|_, father| !fits(model.father, father)),
        ));
    }
    for (plant, p) in parents {
        let stated = context.plants.stated_at(plant, loci);
        if !stated.is_empty() {
            let plant = context.index.facts.label_of_plant(plant);
            explanations.push((Explanation::WrongStatement { plant, stated }, p));
        }
    }
    let is_named = |(_, p): &(Explanation, f64)| *p >= worth_naming;
    if worth_naming > 0.0 && !explanations.iter().any(is_named) {
        return None;
    }
    let whole = &batch.posterior;
    if whole.dim >= WORTH_NAMING {
        explanations.push((Explanation::Dim, whole.dim));
    }
    let off = 1.0 - none_chance(model, &whole.sources);
    explanations.push((Explanation::OffType, off));
    let right =
        |mother: usize, father: usize| fits(model.mother, mother) && fits(model.father, father);
    let mut both = batch.weights.clone();
    for (at, weight) in both.pairs.iter_mut().enumerate() {
        let (mother, father) = model.pair(at);
        if !right(mother, father) {
            *weight = 0.0;
        }
    }
    let p_right = chance(&right);
    let misread = if p_right > 0.0 {
        p_right * clean_and_lit(context, rules, model, &both)
    } else {
        0.0
    };
    explanations.push((Explanation::Misread, misread));
    let records = Clashing::Seedlings {
        tray: context
            .index
            .facts
            .code_of(Thing::Batch, model.batch_id)
            .unwrap_or_default()
            .to_owned(),
        parents: (
            context.index.facts.label_of_plant(model.mother),
            context.index.facts.label_of_plant(model.father),
        ),
        seen,
    };
    Some(Clash::new(records, explanations))
}

/// P(every seedling is of the label, and the light was good), given the weights of the plants.
fn clean_and_lit(
    context: &Context<'_>,
    rules: &Rules,
    model: &BatchModel,
    weights: &PlantWeights,
) -> f64 {
    let as_it_is = Weigher::new(model, rules).posterior(weights);
    let lit = (as_it_is.dim > 0.0).then(|| relit(context, model, false));
    let clean = match lit.flatten() {
        Some(lit) => none_chance(&lit, &Weigher::new(&lit, rules).posterior(weights).sources),
        None => none_chance(model, &as_it_is.sources),
    };
    (1.0 - as_it_is.dim) * clean
}

fn none_chance(model: &BatchModel, sources: &[f64]) -> f64 {
    let own = model.candidates.iter().zip(sources);
    own.filter(|(candidate, _)| candidate.seed == Seed::Labelled)
        .map(|(_, p)| p)
        .sum()
}

/// What was seen last that the label neither ends in nor still shows at that age.
fn impossible(context: &Context<'_>, model: &BatchModel, word: &Word) -> Vec<ClassCount> {
    counts(context, model, |at, member, reading| {
        let look = reading.look;
        let can_be = word.ends_in[at]
            .iter()
            .enumerate()
            .any(|(end, p)| *p > 0.0 && may_show(context, (look, end), reading, &member.emergence));
        !can_be
    })
}
