//! Which batches can teach when a late class shows, and how likely their readings are at any onset.
//!
//! A batch teaches where its label promises the late class of every seedling; it is weighed whole, what can have gone
//! wrong with it included. The plants' genotypes are taken from what is stated and seen of the plants themselves, never
//! from batches, so that nothing here hangs on the onset that is being learnt. The fit calls it.

use std::collections::HashMap;

use crate::records::code::fold;
use crate::records::rows::{BatchRow, Thing};

use super::answer::EvidenceNote;
use super::batch::{BatchModel, Group};
use super::belief::{Beliefs, in_two_threads, too_large};
use super::context::Context;
use super::evidence::Member;
use super::looks::{Looks, Onset};
use super::odd_readings::odd_readings;
use super::paces::OnsetTables;
use super::posterior::{Rules, Weigher};
use super::series::Scale;
use super::set_aside::notes_of;
use super::terms::Terms;
use super::weights::PlantWeights;
use super::word::{ends_in, label_at_word};

/// A label promises a late class where a seedling of it ends in one with at least this probability (design choice).
pub const PROMISED: f64 = 0.95;

/// At their word the parents promise it to every seedling, rounding aside: a parent stated `A/_` may split.
const ALL_OF_IT: f64 = 1.0 - 1e-9;

/// Why a batch teaches nothing about an onset.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WhyNot {
    /// Its label does not promise the late class.
    NotPromised,
    /// Nobody counted when it came up, so that ages are a guess.
    Uncounted,
    /// Nothing explains its readings.
    Unexplained,
    /// It is too large to be weighed exactly.
    TooLarge,
}

/// One batch that was read for a trait.
#[derive(Debug, Clone, PartialEq)]
pub struct TaughtBy {
    /// Its number.
    pub batch_id: i64,
    /// Its code.
    pub tray: String,
    /// What was sown.
    pub cross: String,
    /// Whether it is selfed seed, and so a control pot.
    pub selfed: bool,
    /// Where it stands.
    pub place: String,
    /// Under what light.
    pub light: String,
    /// P(a seedling of the label ends in a late class).
    pub promise: f64,
    /// Seedlings read.
    pub seedlings: i64,
    /// Of them, those whose newest reading is of a late class.
    pub turned: i64,
    /// Why it is left out.
    pub left_out: Option<WhyNot>,
    /// What has to be said of its readings.
    pub odd: Vec<EvidenceNote>,
    /// Traits it is weighed without, since with them the sums would be too large.
    pub traits_left_out: Vec<EvidenceNote>,
}

/// A batch that teaches, ready to be weighed at any onset.
pub struct Lesson<'a> {
    /// Its place among all that were read.
    pub at: usize,
    model: &'a BatchModel,
    terms: Terms<'a>,
    /// For each group of seedlings one that stands for all, and how many they are.
    members: Vec<(&'a Member, i64)>,
}

/// The models of the batches that were read for a trait.
#[must_use]
pub fn models_read(context: &Context<'_>, of: usize) -> Vec<BatchModel> {
    let rows: Vec<&BatchRow> = context.index.facts.batch.iter().collect();
    let models = in_two_threads(&rows, |row| BatchModel::new(context, row));
    models
        .into_iter()
        .filter(|model| {
            model.profiles.traits.contains(&of) || model.evidence.set_aside.contains(&of)
        })
        .map(|mut model| {
            let steps = pace_steps(model.evidence_count(), context.beliefs.batch_spread);
            model.paces = model.paces.laid_out(context.beliefs.batch_spread, steps);
            model
        })
        .collect()
}

/// How many steps of the pace to lay out either side: the more seedlings, the more exactly a batch tells its own pace, and
/// the finer the steps have to be.
fn pace_steps(seedlings: i64, pace_spread: f64) -> usize {
    const LEAST_SPREAD: f64 = 0.2;
    let told = 1.1 * LEAST_SPREAD / (seedlings.max(1) as f64).sqrt();
    let step = (1.5 * told / pace_spread).clamp(0.05, 0.4);
    (5.0 / step).ceil() as usize
}

/// The batches that were read for a trait, and those of them that teach. `uncounted`: those count too of which nobody
/// counted what came up.
#[must_use]
pub fn lessons<'a>(
    context: &'a Context<'a>,
    models: &'a [BatchModel],
    rules: &'a Rules,
    of: usize,
    uncounted: bool,
) -> (Vec<TaughtBy>, Vec<Lesson<'a>>) {
    let net = Beliefs::new(context, &[], rules, &super::kin::Asked::default());
    let (mut all, mut teaching) = (Vec::new(), Vec::new());
    for model in models {
        let mut by = describe(context, model, of);
        let lesson = match too_large(model) {
            Some(_) => Err(WhyNot::TooLarge),
            None if model.evidence.set_aside.contains(&of) => Err(WhyNot::TooLarge),
            None => {
                let weights = weights_alone(&net, model);
                let at_word = promise_at_word(context, model, of);
                by.promise = promise(context, model, of, &weights.pairs).min(at_word);
                if at_word < ALL_OF_IT {
                    Err(WhyNot::NotPromised)
                } else {
                    lesson(context, rules, model, &weights, &by, uncounted, all.len())
                }
            }
        };
        match lesson {
            Ok(lesson) => teaching.push(lesson),
            Err(why) => by.left_out = Some(why),
        }
        all.push(by);
    }
    (all, teaching)
}

fn lesson<'a>(
    context: &'a Context<'a>,
    rules: &'a Rules,
    model: &'a BatchModel,
    weights: &PlantWeights,
    by: &TaughtBy,
    uncounted: bool,
    at: usize,
) -> Result<Lesson<'a>, WhyNot> {
    if by.promise < PROMISED {
        return Err(WhyNot::NotPromised);
    }
    if model.evidence.guessed && !uncounted {
        return Err(WhyNot::Uncounted);
    }
    let lesson = Lesson {
        at,
        model,
        terms: Weigher::new(model, rules).terms(weights),
        members: stand_ins(model),
    };
    let now = lesson.ln_likelihood(context, context.looks, &context.onset_tables, rules);
    if now.is_finite() {
        Ok(lesson)
    } else {
        Err(WhyNot::Unexplained)
    }
}

fn describe(context: &Context<'_>, model: &BatchModel, of: usize) -> TaughtBy {
    let facts = context.index.facts;
    let row = facts.batch.get(model.batch_id);
    let text = |of: fn(&BatchRow) -> &String| row.map_or_else(String::new, |row| tidy(of(row)));
    let classes = &context.looks.traits[of].classes;
    let (mut seedlings, mut turned) = (0, 0);
    for member in &model.evidence.members {
        if let Some(newest) = member.newest_of(of) {
            seedlings += member.count;
            if classes[newest.class].after.is_some() {
                turned += member.count;
            }
        }
    }
    let tray = facts.code_of(Thing::Batch, model.batch_id);
    TaughtBy {
        batch_id: model.batch_id,
        tray: tray.unwrap_or_default().to_owned(),
        cross: context.sources.name_stock(model.stock).code.to_string(),
        selfed: model.is_self(),
        place: text(|row| &row.place),
        light: text(|row| &row.light),
        promise: 0.0,
        seedlings,
        turned,
        left_out: None,
        odd: row.map_or_else(Vec::new, |row| odd_readings(context.index, row)),
        traits_left_out: notes_of(&model.evidence).collect(),
    }
}

fn tidy(text: &str) -> String {
    text.trim().to_owned()
}

/// The weights of the plants that a batch names by what is stated and seen of each of them alone.
fn weights_alone(net: &Beliefs<'_>, model: &BatchModel) -> PlantWeights {
    let mother = net.alone(model.mother, &model.space);
    let pairs = if model.is_self() {
        mother
    } else {
        let father = net.alone(model.father, &model.space);
        let row = |p: &f64| father.iter().map(|q| p * q).collect::<Vec<f64>>();
        mother.iter().flat_map(row).collect()
    };
    PlantWeights {
        pairs,
        ..net.local_weights(model)
    }
}

/// P(a seedling of the label ends in a late class of a trait), its parents' pairs of genotypes having these weights.
pub(super) fn promise(context: &Context<'_>, model: &BatchModel, of: usize, pairs: &[f64]) -> f64 {
    let place = model.profiles.traits.iter().position(|own| *own == of);
    let at = place.expect("only batches that were read for the trait are asked");
    let classes = &context.looks.traits[of].classes;
    let is_late = |profile: usize| classes[model.profiles.classes[profile][at]].after.is_some();
    let mut sum = 0.0;
    for (pair, weight) in pairs.iter().enumerate() {
        let (mother, father) = model.pair(pair);
        let seed = model.seed_of_pair(mother, father, model.mother_cytoplasm());
        let late = seed.iter().enumerate().filter(|(at, _)| is_late(*at));
        sum += weight * late.map(|(_, p)| p).sum::<f64>();
    }
    sum
}

/// The same, the parents taken at their word.
fn promise_at_word(context: &Context<'_>, model: &BatchModel, of: usize) -> f64 {
    let place = model.profiles.traits.iter().position(|own| *own == of);
    let at = place.expect("only batches that were read for the trait are asked");
    let classes = context.looks.traits[of].classes.iter();
    let ends_in = ends_in(context, model, &label_at_word(context, model), at);
    let late = classes
        .zip(ends_in)
        .filter(|(class, _)| class.after.is_some());
    late.map(|(_, p)| p).sum()
}

/// One member for each group whose readings do not contradict each other, with the group's number of seedlings.
fn stand_ins(model: &BatchModel) -> Vec<(&Member, i64)> {
    let mut first: HashMap<usize, &Member> = HashMap::new();
    for (member, group) in model.evidence.members.iter().zip(&model.group_of) {
        first.entry(*group).or_insert(member);
    }
    let groups = model.groups.iter().enumerate();
    groups
        .filter(|(_, group)| !group.contradictory)
        .map(|(at, group)| (first[&at], group.count))
        .collect()
}

impl Lesson<'_> {
    /// The batch that teaches.
    pub(super) const fn model(&self) -> &BatchModel {
        self.model
    }

    /// Log of P(batch) where traits show as `looks` has it.
    #[must_use]
    pub fn ln_likelihood(
        &self,
        context: &Context<'_>,
        looks: &Looks,
        tables: &OnsetTables,
        rules: &Rules,
    ) -> f64 {
        let (profiles, paces) = (&self.model.profiles, &self.model.paces);
        let scale = Scale::new(looks, profiles, paces, context.beliefs.doubtful, tables);
        let mut ln_scale = 0.0;
        let mut groups: Vec<Group> = Vec::with_capacity(self.members.len());
        for (member, count) in &self.members {
            let weighed = scale.weigh_in_full(&member.readings, &member.emergence);
            let Some((likelihood, ln)) = weighed else {
                return f64::NEG_INFINITY;
            };
            ln_scale += *count as f64 * ln;
            groups.push(Group {
                likelihood,
                contradictory: false,
                count: *count,
            });
        }
        let weigher = Weigher::new(self.model, rules);
        ln_scale + weigher.ln_likelihood_of(&groups, &self.terms)
    }
}

/// Log of P(all of some batches) at an onset of a trait.
#[must_use]
pub fn ln_likelihood(
    context: &Context<'_>,
    lessons: &[&Lesson<'_>],
    rules: &Rules,
    of: usize,
    onset: Onset,
) -> f64 {
    let mut looks = context.looks.clone();
    looks.traits[of].onset = Some(onset);
    let tables = OnsetTables::default();
    let one = |lesson: &&Lesson<'_>| lesson.ln_likelihood(context, &looks, &tables, rules);
    in_two_threads(lessons, one).iter().sum()
}

/// What a batch is told apart by: its place or its light, as first written.
#[must_use]
pub fn same_words(one: &str, other: &str) -> bool {
    fold(one) == fold(other)
}
