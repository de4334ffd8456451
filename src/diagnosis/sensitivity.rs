//! Whether a verdict would stand if something taken for granted were otherwise.
//!
//! One supposition at a time, all else as it is: off-types half or twice as common, late colour slower, the light
//! not proven by another tray, a parent not what is stated of it. Other batches keep what they say of the plants. Called by `suspects` for its culls and by `why`.

use super::answer::EvidenceNote;
use super::batch::{BatchModel, Group};
use super::belief::Beliefs;
use super::context::Context;
use super::looks::Looks;
use super::membership::Membership;
use super::paces::{OnsetTables, Paces};
use super::posterior::{Posterior, Rules, Weigher};
use super::series::Scale;
use super::sources::{Candidate, Share};
use super::verdict::{Judged, dot};
use super::weights::PlantWeights;

/// How many times as late a late class is supposed to show (design choice).
pub const SLOWER: f64 = 1.3;

/// What is supposed to be otherwise.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Supposing {
    /// Off-types are half as common: 1 - P(none) is halved.
    FewerOffTypes,
    /// They are twice as common; P(none) is halved where 1 - P(none) cannot be doubled without halving it more.
    MoreOffTypes {
        /// Whether P(none) was halved.
        clean_halved: bool,
    },
    /// Late classes show [`SLOWER`] times as late.
    SlowerColour,
    /// The one late colour that says that the light is good was misread.
    MisreadLight {
        /// The tray in which it was seen.
        tray: String,
    },
    /// What is stated of a parent is set aside.
    Unstated {
        /// The parent.
        plant: String,
        /// What is stated of it.
        stated: String,
    },
}

impl Supposing {
    /// The word scripts rely on.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::FewerOffTypes => "contamination-halved",
            Self::MoreOffTypes { .. } => "contamination-doubled",
            Self::SlowerColour => "slower-colour",
            Self::MisreadLight { .. } => "light-misread",
            Self::Unstated { .. } => "statement-set-aside",
        }
    }
}

/// What would come of a supposition.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    /// What is supposed.
    pub supposing: Supposing,
    /// P(off-type) then.
    pub p_off: f64,
    /// Whether it stays on the same side of the thresholds for culling and keeping.
    pub stands: bool,
}

/// What suppositions need that is the same for all batches.
#[derive(Debug)]
pub(super) struct Suppositions {
    slower: Looks,
    tables: OnsetTables,
}

/// A batch as it was weighed.
#[derive(Clone, Copy)]
pub(super) struct AsWeighed<'m> {
    pub(super) model: &'m BatchModel,
    pub(super) weights: &'m PlantWeights,
    pub(super) posterior: &'m Posterior,
}

impl Suppositions {
    pub(super) fn new(looks: &Looks) -> Self {
        Self {
            slower: looks.slower(SLOWER),
            tables: OnsetTables::default(),
        }
    }

    /// The trials of some groups of a batch's seedlings, group by group.
    pub(super) fn trials(
        &self,
        context: &Context<'_>,
        net: &Beliefs<'_>,
        rules: &Rules,
        batch: AsWeighed<'_>,
        asked: &[(usize, &Judged)],
    ) -> Vec<Vec<Trial>> {
        let mut found: Vec<Vec<Trial>> = vec![Vec::new(); asked.len()];
        let mut add = |at: usize, supposing: Supposing, p_off: f64| {
            let stands = same_side(context, asked[at].1.p_off, p_off);
            found[at].push(Trial {
                supposing,
                p_off,
                stands,
            });
        };
        if let Some(now) = contamination(batch.model) {
            let more = twice(now);
            let clean_halved = more < 2.0 * now;
            for (at, (_, judged)) in asked.iter().enumerate() {
                for (supposing, then) in [
                    (Supposing::FewerOffTypes, now / 2.0),
                    (Supposing::MoreOffTypes { clean_halved }, more),
                ] {
                    if let Some(p_off) = with_contamination(batch, judged, (now, then)) {
                        add(at, supposing, p_off);
                    }
                }
            }
        }
        if let Some(slower) = self.slowed(context, batch.model, asked) {
            let posterior = Weigher::new(&slower, rules).posterior(batch.weights);
            for (at, (group, _)) in asked.iter().enumerate() {
                add(
                    at,
                    Supposing::SlowerColour,
                    p_off(&posterior, &slower, *group),
                );
            }
        }
        if let Some((tray, doubted)) = doubted_light(context, batch.model) {
            let posterior = Weigher::new(&doubted, rules).posterior(batch.weights);
            for (at, (group, _)) in asked.iter().enumerate() {
                add(
                    at,
                    Supposing::MisreadLight { tray: tray.clone() },
                    p_off(&posterior, &doubted, *group),
                );
            }
        }
        for (supposing, weights) in unstated(context, net, batch) {
            let posterior = Weigher::new(batch.model, rules).posterior(&weights);
            for (at, (group, _)) in asked.iter().enumerate() {
                add(
                    at,
                    supposing.clone(),
                    p_off(&posterior, batch.model, *group),
                );
            }
        }
        found
    }

    /// The batch with slower late classes; nothing where none of those asked about was read for one.
    fn slowed(
        &self,
        context: &Context<'_>,
        model: &BatchModel,
        asked: &[(usize, &Judged)],
    ) -> Option<BatchModel> {
        let members = model.evidence.members.iter().zip(&model.group_of);
        let mut read = members
            .filter(|(_, group)| asked.iter().any(|(own, _)| own == *group))
            .flat_map(|(member, _)| &member.readings);
        read.find(|reading| self.slower.traits[reading.look].onset.is_some())?;
        let scale = Scale::new(
            &self.slower,
            &model.profiles,
            &model.paces,
            context.beliefs.doubtful,
            &self.tables,
        );
        let mut slowed = model.clone();
        slowed.groups = regrouped(model, &scale);
        Some(slowed)
    }
}

/// A batch whose light is good only because of one reading beside it, with the light doubted again; and the tray in
/// which that was seen.
fn doubted_light(context: &Context<'_>, model: &BatchModel) -> Option<(String, BatchModel)> {
    let tray = model.evidence.notes.iter().find_map(|note| match note {
        EvidenceNote::LightProven {
            tray, alone: true, ..
        } => Some(tray.clone()),
        _ => None,
    })?;
    Some((tray, relit(context, model, true)?))
}

/// A batch whose light is doubted, or is not; nothing where it is so already.
pub(super) fn relit(
    context: &Context<'_>,
    model: &BatchModel,
    dim_possible: bool,
) -> Option<BatchModel> {
    let looks = &context.looks.traits;
    let mut traits = model.evidence.traits.iter();
    let any_late = traits.any(|place| looks[*place].onset.is_some());
    let paces = Paces::of(context.beliefs, any_late, dim_possible);
    if paces == model.paces {
        return None;
    }
    let scale = Scale::new(
        context.looks,
        &model.profiles,
        &paces,
        context.beliefs.doubtful,
        &context.onset_tables,
    );
    let groups = regrouped(model, &scale);
    let mut relit = model.clone();
    (relit.groups, relit.paces) = (groups, paces);
    Some(relit)
}

/// The groups of a batch, weighed on another scale.
pub(super) fn regrouped(model: &BatchModel, scale: &Scale<'_>) -> Vec<Group> {
    let regroup = |(at, group): (usize, &Group)| {
        let place = model.group_of.iter().position(|own| *own == at);
        let member = &model.evidence.members[place.expect("every group has a member")];
        let weighed = scale.weigh(&member.readings, &member.emergence);
        Group {
            contradictory: weighed.is_none(),
            likelihood: weighed.unwrap_or_else(|| scale.says_nothing()),
            count: group.count,
        }
    };
    model.groups.iter().enumerate().map(regroup).collect()
}

/// P(off-type) of a group's seedlings.
pub(super) fn p_off(posterior: &Posterior, model: &BatchModel, group: usize) -> f64 {
    let likelihood = &model.groups[group].likelihood.values;
    p_off_of(&posterior.memberships[group], likelihood)
}

/// P(off-type) of a seedling of a membership with readings of a likelihood.
pub(super) fn p_off_of(membership: &Membership, likelihood: &[f64]) -> f64 {
    let on = dot(&membership.on, likelihood);
    let off = dot(&membership.off, likelihood);
    if on + off > 0.0 {
        off / (on + off)
    } else {
        0.0
    }
}

/// Whether two chances fall on the same side of both thresholds.
fn same_side(context: &Context<'_>, one: f64, other: f64) -> bool {
    let sides = |p: f64| (p >= context.beliefs.cull, p <= context.beliefs.keep);
    sides(one) == sides(other)
}

fn twice(contamination: f64) -> f64 {
    (2.0 * contamination).min((1.0 + contamination) / 2.0)
}

/// The sum of some numbers of the candidates with a kind of share.
fn sum_over(
    candidates: &[Candidate],
    share: fn(&Share) -> bool,
    values: &dyn Fn(usize) -> f64,
) -> f64 {
    let chosen = candidates.iter().enumerate();
    let chosen = chosen.filter(|(_, candidate)| share(&candidate.share));
    chosen.map(|(at, _)| values(at)).sum()
}

fn is_none(share: &Share) -> bool {
    *share == Share::Nothing
}

const fn is_partial(share: &Share) -> bool {
    matches!(share, Share::Beta(..))
}

fn is_whole(share: &Share) -> bool {
    *share == Share::Everything
}

/// 1 - P(none), whole-batch errors apart; nothing where it is none or all.
fn contamination(model: &BatchModel) -> Option<f64> {
    let candidates = &model.candidates;
    let prior = |at: usize| candidates[at].prior;
    let as_labelled = sum_over(candidates, is_none, &prior);
    let in_part = sum_over(candidates, is_partial, &prior);
    (as_labelled > 0.0 && in_part > 0.0).then(|| in_part / (as_labelled + in_part))
}

/// P(off-type) if 1 - P(none) were changed, whole-batch errors staying as they are.
///
/// Every weight of the posterior is proportional to its source's prior, so nothing has to be weighed anew: `none` is
/// multiplied by (1 - c')/(1 - c), the partial sources by c'/c, the sum divided out.
fn with_contamination(
    batch: AsWeighed<'_>,
    judged: &Judged,
    (before, after): (f64, f64),
) -> Option<f64> {
    let candidates = &batch.model.candidates;
    let (of_none, of_part) = ((1.0 - after) / (1.0 - before), after / before);
    let now = |at: usize| batch.posterior.sources[at];
    let off = |at: usize| judged.sources[at];
    let total = of_none * sum_over(candidates, is_none, &now)
        + of_part * sum_over(candidates, is_partial, &now)
        + sum_over(candidates, is_whole, &now);
    let off =
        of_part * sum_over(candidates, is_partial, &off) + sum_over(candidates, is_whole, &off);
    (total > 0.0).then(|| (off / total).min(1.0))
}

/// For each parent of which something is stated at the loci read: the weights without that.
fn unstated(
    context: &Context<'_>,
    net: &Beliefs<'_>,
    batch: AsWeighed<'_>,
) -> Vec<(Supposing, PlantWeights)> {
    let model = batch.model;
    let parents = if model.is_self() {
        vec![model.mother]
    } else {
        vec![model.mother, model.father]
    };
    let facts = context.index.facts;
    let without = |plant: &i64| {
        let weights = unstated_weights(context, net, batch, *plant)?;
        let row = facts.plant.get(*plant)?;
        let supposing = Supposing::Unstated {
            plant: facts.plant_label(row),
            stated: context.plants.stated_at(*plant, &model.space.loci),
        };
        Some((supposing, weights))
    };
    parents.iter().filter_map(without).collect()
}

/// The weights of a batch's plants without what is stated of one parent.
///
/// A joint distribution is a product of factors of which the statement is one, or stands in one; so each pair of
/// parental genotypes is multiplied by what stands there without it over what stands there with it. Nothing where
/// nothing is stated, or where it is trusted so far that nothing else was weighed.
fn unstated_weights(
    context: &Context<'_>,
    net: &Beliefs<'_>,
    batch: AsWeighed<'_>,
    plant: i64,
) -> Option<PlantWeights> {
    let model = batch.model;
    let ratios = ratios_by_genotype(context, net, model, plant)?;
    let as_mother = plant == model.mother;
    let of_pair = |(at, weight): (usize, &f64)| {
        let (mother, father) = model.pair(at);
        weight * ratios[if as_mother { mother } else { father }]
    };
    let mut pairs: Vec<f64> = batch
        .weights
        .pairs
        .iter()
        .enumerate()
        .map(of_pair)
        .collect();
    let total: f64 = pairs.iter().sum();
    if total.is_nan() || total <= 0.0 {
        return None;
    }
    pairs.iter_mut().for_each(|weight| *weight /= total);
    Some(PlantWeights::new(pairs, batch.weights.thirds.clone()))
}

/// For each joint genotype of a batch's loci: what is known of a plant without its statement, over what is with it.
fn ratios_by_genotype(
    context: &Context<'_>,
    net: &Beliefs<'_>,
    model: &BatchModel,
    plant: i64,
) -> Option<Vec<f64>> {
    let plants = &context.plants;
    let row = context.index.facts.plant.get(plant)?;
    let is_kept = row.batch_id.is_some_and(|batch| net.is_family(batch));
    let mut stated = false;
    let mut ratios = vec![1.0; model.space.size];
    for (place, unit) in model.space.units.iter().enumerate() {
        let Some(likelihood) = plants.statement_factor(plant, unit) else {
            continue;
        };
        stated = true;
        let bred = is_kept || plants.bred_from(plant).is_some();
        let by_genotype: Vec<f64> = if bred {
            likelihood.iter().map(|with| 1.0 / with).collect()
        } else {
            let (without, with) = (
                plants.unstated(plant, unit),
                plants.group_factor(plant, unit),
            );
            let ratio = |(p, q): (&f64, &f64)| if *p == 0.0 { 0.0 } else { p / q };
            without.iter().zip(&with).map(ratio).collect()
        };
        if by_genotype.iter().any(|ratio| !ratio.is_finite()) {
            return None;
        }
        for (joint, ratio) in ratios.iter_mut().enumerate() {
            *ratio *= by_genotype[model.space.digits(joint)[place]];
        }
    }
    stated.then_some(ratios)
}
