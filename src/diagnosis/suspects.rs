//! The diagnosis of batches: every seedling's chance of being off-type, its sources and its verdict.
//!
//! The one way in for whoever asks: facts, today and a choice of batches in, [`Suspects`] out.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::records::assumptions::{ASSUMPTIONS, Assumption, Assumptions};
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, TallyRow, Thing};
use crate::stats::elimination::TooManyCells;

use super::DiagnosisError;
use super::answer::{
    BatchAnswer, EvidenceNote, SeedlingAnswer, Source, SourceShare, Suspects, Verdict,
};
use super::batch::BatchModel;
use super::belief::{Beliefs, in_two_threads, too_large};
use super::context::{Basis, Context};
use super::evidence::Member;
use super::kept::Kept;
use super::kin::Asked;
use super::posterior::Rules;
use super::reason::{newest_by_trait, reason_for, seen};
use super::related::related_batches;
use super::remarks::{doubts, remarks};
use super::sensitivity::Suppositions;
use super::series::Scale;
use super::set_aside::{SetAside, least_useful};
use super::sources::Stock;
use super::split::Split;
use super::together::{Together, WeightsKept};
use super::unscored::known_unscored;
use super::verdict::{Judge, Judged};
use super::weighed::Weighed;
use super::weights::PlantWeights;
use super::word::{Word, visibility};

/// The diagnosis of some batches, or of all, as on a day: what was seen later is left out.
///
/// # Errors
/// [`DiagnosisError`] where a stored text cannot be read or the exact answer needs too large a table.
pub fn suspects(
    facts: &Facts,
    today: Day,
    batches: Option<&[i64]>,
) -> Result<Suspects, DiagnosisError> {
    told(facts, today, batches, &WeightsKept::none(), |found, _| {
        found
    })
}

/// The diagnosis of some batches, or of all, as on a day, and then whatever is to be made of it while several seedlings of a
/// batch can still be asked about together.
///
/// # Errors
/// As [`suspects`].
pub fn suspects_then<R>(
    facts: &Facts,
    today: Day,
    batches: Option<&[i64]>,
    then: impl FnOnce(Suspects, &Together<'_, '_>) -> R,
) -> Result<R, DiagnosisError> {
    told(facts, today, batches, &WeightsKept::all(), then)
}

fn told<R>(
    facts: &Facts,
    today: Day,
    batches: Option<&[i64]>,
    kept: &WeightsKept,
    then: impl FnOnce(Suspects, &Together<'_, '_>) -> R,
) -> Result<R, DiagnosisError> {
    let seen = facts.seen_until(today);
    let with_later = |mut found: Suspects, together: &Together<'_, '_>| {
        if seen.is_some() {
            for batch in &mut found.batches {
                let later = later_readings(facts, batch.batch_id, today);
                batch.notes.extend(later);
            }
        }
        then(found, together)
    };
    suspects_of(
        seen.as_ref().unwrap_or(facts),
        today,
        batches,
        kept,
        with_later,
    )
}

fn suspects_of<R>(
    facts: &Facts,
    today: Day,
    batches: Option<&[i64]>,
    kept: &WeightsKept,
    then: impl FnOnce(Suspects, &Together<'_, '_>) -> R,
) -> Result<R, DiagnosisError> {
    let basis = Basis::of(facts)?;
    let context = basis.context()?;
    let rules = Rules::default();
    let wanted = |row: &&BatchRow| batches.is_none_or(|ids| ids.contains(&row.id));
    let rows: Vec<&BatchRow> = facts.batch.iter().filter(wanted).collect();
    let (models, asked_count) = models_of(&context, &rows, batches.is_some());
    let net = Beliefs::new(&context, &models, &rules, &Asked::default());
    let asked = &models[..asked_count];
    let desk = Desk {
        context: &context,
        rules: &rules,
        net: &net,
        models: &models,
        suppositions: Suppositions::new(context.looks),
        asked: asked.len(),
        kept,
        today,
    };
    let mut answers = desk.answer(asked);
    for (model, answer) in asked.iter().zip(&mut answers) {
        if let Some(in_part) = desk.answer_in_part(&basis, model, answer)? {
            *answer = in_part;
        }
    }
    let found = Suspects {
        today,
        batches: answers,
        changed_beliefs: changed_beliefs(context.beliefs),
    };
    Ok(then(found, &Together::new(&desk)))
}

/// How large a table an answer would have needed, where that was too large.
fn declined_size(answer: &BatchAnswer) -> Option<TooManyCells> {
    answer.notes.iter().find_map(|note| match note {
        EvidenceNote::TooLarge { needed, limit, .. } => Some(TooManyCells {
            needed: *needed,
            limit: *limit,
        }),
        _ => None,
    })
}

/// The models of some batches, and behind them, where asked, those of the others that say something of their plants.
pub(super) fn models_of(
    context: &Context<'_>,
    rows: &[&BatchRow],
    with_related: bool,
) -> (Vec<BatchModel>, usize) {
    let mut models = in_two_threads(rows, |row| BatchModel::new(context, row));
    let asked = models.len();
    if with_related {
        let known = models.iter().map(|model| model.batch_id).collect();
        let named = models.iter().flat_map(BatchModel::named_plants);
        let related = related_batches(context, named.collect::<Vec<_>>(), known);
        models.extend(in_two_threads(&related, |row| {
            BatchModel::new(context, row)
        }));
    }
    (models, asked)
}

fn changed_beliefs(beliefs: &Assumptions) -> Vec<(&'static str, f64)> {
    let value = |known: &Assumption| Some((known.key, beliefs.get(known.key)?));
    ASSUMPTIONS
        .iter()
        .filter_map(|known| value(known).filter(|(_, value)| *value != known.default))
        .collect()
}

/// What every batch of a question is answered with.
pub(super) struct Desk<'d, 'a> {
    pub(super) context: &'d Context<'a>,
    pub(super) rules: &'d Rules,
    pub(super) net: &'d Beliefs<'a>,
    /// The batches asked about and those that say something of their plants.
    pub(super) models: &'d [BatchModel],
    pub(super) suppositions: Suppositions,
    /// How many batches are asked about.
    pub(super) asked: usize,
    pub(super) kept: &'d WeightsKept,
    pub(super) today: Day,
}

impl<'a> Desk<'_, 'a> {
    /// Weighs a batch.
    pub(super) fn weigh(&self, model: &BatchModel) -> Result<Weighed, TooManyCells> {
        if let Some(declined) = too_large(model) {
            return Err(declined);
        }
        let weights = self.net.weights(model)?;
        Ok(Weighed::new(self.context, self.rules, model, weights))
    }

    /// The weights of the plants that a batch names, from everything but it, as they were for its answer; nothing where it
    /// was too large to weigh.
    pub(super) fn weights(&self, model: &BatchModel) -> Option<Arc<PlantWeights>> {
        self.kept.of(model.batch_id)
    }

    /// Judges one member of a batch's evidence.
    pub(super) fn judge(
        &self,
        model: &BatchModel,
        batch: &Weighed,
        scale: &Scale<'_>,
        (member, group): (&Member, usize),
    ) -> Judged {
        let membership = &batch.posterior.memberships[group];
        if model.groups[group].contradictory {
            return Judged::contradictory(membership);
        }
        let word = &batch.word;
        Judge::new(
            self.context,
            model,
            word,
            scale,
            member,
            membership,
            self.today,
        )
        .judge(membership)
    }

    /// The answers for some batches: those of one pair of parents one after the other in one thread, since they share most
    /// of what is worked out, and its last digit hangs on who asks first.
    fn answer(&self, asked: &[BatchModel]) -> Vec<BatchAnswer> {
        let pair = |at: &usize| (asked[*at].mother, asked[*at].father);
        let mut order: Vec<usize> = (0..asked.len()).collect();
        order.sort_by_key(pair);
        let pairs: Vec<&[usize]> = order.chunk_by(|a, b| pair(a) == pair(b)).collect();
        let answer = |at: &usize| (*at, self.answer_batch(&asked[*at]));
        let answers = in_two_threads(&pairs, |own| own.iter().map(answer).collect::<Vec<_>>());
        let mut placed: Vec<(usize, BatchAnswer)> = answers.into_iter().flatten().collect();
        placed.sort_by_key(|(at, _)| *at);
        placed.into_iter().map(|(_, answer)| answer).collect()
    }

    pub(super) fn answer_batch(&self, model: &BatchModel) -> BatchAnswer {
        match self.weigh(model) {
            Ok(batch) => {
                let answer = self.answer_weighed(model, &batch);
                self.kept.keep(model.batch_id, batch.weights);
                answer
            }
            Err(declined) => decline(self.context, model, declined, self.today),
        }
    }

    /// The answer for a batch that proved too large to weigh, some traits set aside; nothing where that is no help, or
    /// not needed.
    fn answer_in_part(
        &self,
        basis: &Basis<'_>,
        model: &BatchModel,
        answer: &BatchAnswer,
    ) -> Result<Option<BatchAnswer>, DiagnosisError> {
        let mut aside = SetAside::default();
        let others = self.models.iter();
        let others = others.filter(|one| one.batch_id != model.batch_id);
        let all: Vec<&BatchModel> = std::iter::once(model).chain(others).collect();
        let row = self.context.index.facts.batch.get(model.batch_id);
        let (Some(size), Some(row)) = (declined_size(answer), row) else {
            return Ok(None);
        };
        let mut goes_on = aside.add(self.context, &all, size);
        // Ends, since one trait more is set aside each time.
        while goes_on {
            let context = basis.context()?.without(aside.clone());
            let (models, asked) = models_of(&context, &[row], true);
            let net = Beliefs::new(&context, &models, self.rules, &Asked::default());
            let desk = Desk {
                context: &context,
                rules: self.rules,
                net: &net,
                models: &models,
                suppositions: Suppositions::new(context.looks),
                asked,
                kept: &WeightsKept::none(),
                today: self.today,
            };
            let mut in_part = desk.answer_batch(&models[0]);
            aside.tell(&context, &mut in_part);
            let Some(size) = declined_size(&in_part) else {
                return Ok(Some(in_part));
            };
            goes_on = aside.add(&context, &models.iter().collect::<Vec<_>>(), size);
        }
        Ok(None)
    }

    /// The answer for a batch that was weighed.
    pub(super) fn answer_weighed(&self, model: &BatchModel, batch: &Weighed) -> BatchAnswer {
        let (context, today) = (self.context, self.today);
        let posterior = &batch.posterior;
        let (visible, mean_visible) = visibility(context, model, &batch.word);
        let scale = model.scale(context);
        let mut judged: BTreeMap<usize, Judged> = BTreeMap::new();
        let mut alike: BTreeMap<usize, SeedlingAnswer> = BTreeMap::new();
        let mut answered: Vec<(usize, usize)> = Vec::new();
        let mut seedlings: Vec<SeedlingAnswer> = Vec::new();
        let members = model.evidence.members.iter().zip(&model.group_of);
        for (at, (member, group)) in members.enumerate() {
            if member.living == 0 {
                continue;
            }
            let judged = judged
                .entry(*group)
                .or_insert_with(|| self.judge(model, batch, &scale, (member, *group)));
            let word = &batch.word;
            let first = alike
                .entry(*group)
                .or_insert_with(|| answer_member(context, model, word, member, judged, today));
            seedlings.push(SeedlingAnswer {
                seedling: name_member(context, member),
                cell: member.cell,
                count: member.living,
                kept: kept_as(context, member),
                ..first.clone()
            });
            answered.push((at, *group));
        }
        self.try_culls(model, batch, &judged, &answered, &mut seedlings);
        self.name_next_traits(model, &answered, &mut seedlings);
        let mut notes = model.evidence.notes.clone();
        notes.extend(remarks(context, self.rules, model, batch, &seedlings));
        notes.extend(self.net.left_out(model));
        notes.extend(self.kept_say(model, &answered, &seedlings));
        let doubts = doubts(context, self.rules, model, batch, &seedlings);
        let share = |list: &[f64]| -> Vec<SourceShare> {
            model
                .candidates
                .iter()
                .zip(list)
                .map(|(candidate, p)| SourceShare {
                    source: candidate.source.clone(),
                    p: *p,
                })
                .collect()
        };
        BatchAnswer {
            n: model.evidence.n,
            unscored: model.evidence.unscored,
            known_unscored: known_unscored(context.index.facts, model.batch_id, &model.evidence),
            visibility: mean_visible,
            sources: share(&posterior.sources),
            visible: share(&visible)
                .into_iter()
                .filter(|share| share.source != Source::None)
                .collect(),
            true_lost_by_culling: sum_over(
                &seedlings,
                |one| one.verdict == Verdict::Cull && one.kept.is_none(),
                |p| 1.0 - p,
            ),
            off_left_by_keeping: sum_over(
                &seedlings,
                |one| one.verdict != Verdict::Cull && one.kept.is_none(),
                |p| p,
            ),
            p_off_unscored: posterior.off_unscored,
            seedlings,
            doubts,
            notes,
            ..heading(context, model, today)
        }
    }
}

/// The answer for a batch that is too large to weigh exactly: everything but probabilities, and why.
fn decline(
    context: &Context<'_>,
    model: &BatchModel,
    declined: TooManyCells,
    today: Day,
) -> BatchAnswer {
    let TooManyCells { needed, limit } = declined;
    let mut notes = model.evidence.notes.clone();
    let units = model.space.units.iter().filter(|unit| !unit.is_alone());
    let several = model.evidence.traits.len() > 1;
    let least = least_useful(context, &model.evidence.traits).filter(|_| several);
    notes.push(EvidenceNote::TooLarge {
        least: least.map(|look| context.looks.traits[look].code.clone()),
        needed,
        limit,
        linked: units
            .map(|unit| context.looks.symbols(&unit.loci))
            .collect(),
    });
    BatchAnswer {
        n: model.evidence.n,
        unscored: model.evidence.unscored,
        known_unscored: known_unscored(context.index.facts, model.batch_id, &model.evidence),
        notes,
        ..heading(context, model, today)
    }
}

/// Which batch an answer is about, nothing answered yet.
fn heading(context: &Context<'_>, model: &BatchModel, today: Day) -> BatchAnswer {
    let facts = context.index.facts;
    let plant = |id: i64| facts.label_of_plant(id);
    BatchAnswer {
        batch_id: model.batch_id,
        tray: facts
            .code_of(Thing::Batch, model.batch_id)
            .unwrap_or_default()
            .to_owned(),
        cross: context.sources.name_stock(model.stock).code.to_string(),
        packet: matches!(model.stock, Stock::Packet(_)),
        label: (plant(model.mother), plant(model.father)),
        sown: facts.batch.get(model.batch_id).map_or(today, |row| row.day),
        n: 0,
        unscored: 0,
        known_unscored: Vec::new(),
        visibility: 0.0,
        sources: Vec::new(),
        visible: Vec::new(),
        seedlings: Vec::new(),
        true_lost_by_culling: 0.0,
        off_left_by_keeping: 0.0,
        p_off_unscored: 0.0,
        doubts: Vec::new(),
        notes: Vec::new(),
    }
}

fn sum_over(
    seedlings: &[SeedlingAnswer],
    chosen: impl Fn(&SeedlingAnswer) -> bool,
    value: impl Fn(f64) -> f64,
) -> f64 {
    seedlings
        .iter()
        .filter(|one| chosen(one))
        .map(|one| one.count as f64 * value(one.p_off))
        .fold(0.0, |sum, expected| sum + expected)
}

/// What a seedling is kept as, where it was adopted.
fn kept_as(context: &Context<'_>, member: &Member) -> Option<Kept> {
    Kept::of(context.index.facts, member.plant?)
}

/// The seedling's place, or what else it is called; nothing for a tallied look.
fn name_member(context: &Context<'_>, member: &Member) -> Option<String> {
    let facts = context.index.facts;
    let row = facts.plant.get(member.plant?)?;
    let place = facts.seedling_label(row);
    Some(place.unwrap_or_else(|| facts.plant_label(row)))
}

pub(super) fn answer_member(
    context: &Context<'_>,
    model: &BatchModel,
    word: &Word,
    member: &Member,
    judged: &Judged,
    today: Day,
) -> SeedlingAnswer {
    let sources = Split::new(&model.candidates, &judged.sources);
    let likeliest = sources.iter().next().filter(|share| share.p > 0.0);
    let likeliest = likeliest.map(|share| SourceShare {
        source: share.source.clone(),
        p: share.p,
    });
    SeedlingAnswer {
        seedling: name_member(context, member),
        cell: member.cell,
        readings: newest_by_trait(member)
            .iter()
            .map(|reading| seen(context, reading))
            .collect(),
        count: member.living,
        kept: kept_as(context, member),
        p_off: judged.p_off,
        verdict: judged.verdict,
        look_again: judged.look_again,
        reason: Arc::new(reason_for(
            context, model, word, member, judged, likeliest, today,
        )),
        sources,
        trials: Vec::new(),
        next_trait: None,
        settling: None,
    }
}

/// Readings of a batch from after the day asked about.
fn later_readings(facts: &Facts, batch: i64, today: Day) -> Option<EvidenceNote> {
    let of_batch = |plant: i64| {
        let row = facts.plant.get(plant);
        row.is_some_and(|row| row.batch_id == Some(batch))
    };
    let readings = facts.reading.iter().filter(|row| row.day > today);
    let single = readings.filter(|row| of_batch(row.plant_id)).count() as i64;
    let tallies = facts.tally.iter();
    let tallies = tallies.filter(|row| row.batch_id == batch && row.day > today);
    let counted = |tally: &TallyRow| -> i64 {
        let looks = facts
            .tally_look
            .iter()
            .filter(|look| look.tally_id == tally.id);
        looks.map(|look| look.count).sum()
    };
    let count = single + tallies.map(counted).sum::<i64>();
    (count > 0).then_some(EvidenceNote::LaterReadings {
        count,
        asked: today,
    })
}
