//! The diagnosis of batches: every seedling's chance of being off-type, its sources and its verdict.
//!
//! The one way in for whoever asks: facts, today and a choice of batches in, [`Suspects`] out.

use std::collections::HashMap;

use crate::records::assumptions::{ASSUMPTIONS, Assumption, Assumptions};
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, Thing};
use crate::stats::elimination::TooManyCells;

use super::DiagnosisError;
use super::answer::{
    BatchAnswer, EvidenceNote, SeedlingAnswer, Source, SourceShare, Suspects, Verdict,
};
use super::batch::BatchModel;
use super::belief::{Beliefs, in_two_threads, too_large};
use super::context::Context;
use super::evidence::Member;
use super::index::Index;
use super::kin::Asked;
use super::looks::Looks;
use super::posterior::{Rules, Weigher};
use super::reason::{newest_by_trait, reason_for, seen};
use super::related::related_batches;
use super::remarks::remarks;
use super::sources::Stock;
use super::unscored::known_unscored;
use super::verdict::{Judge, Judged};
use super::word::{Word, visibility};

/// The diagnosis of some batches, or of all.
///
/// # Errors
/// [`DiagnosisError`] where a stored text cannot be read or the exact answer needs too large a table.
pub fn suspects(
    facts: &Facts,
    today: Day,
    batches: Option<&[i64]>,
) -> Result<Suspects, DiagnosisError> {
    let beliefs = Assumptions::of(facts);
    let looks = Looks::of(facts)?;
    let index = Index::new(facts);
    let context = Context::new(&looks, &index, &beliefs)?;
    let rules = Rules::default();
    let wanted = |row: &&BatchRow| batches.is_none_or(|ids| ids.contains(&row.id));
    let rows: Vec<&BatchRow> = facts.batch.iter().filter(wanted).collect();
    let mut models = in_two_threads(&rows, |row| BatchModel::new(&context, row));
    let asked_count = models.len();
    if batches.is_some() {
        let known = models.iter().map(|model| model.batch_id).collect();
        let named = models.iter().flat_map(BatchModel::named_plants);
        let related = related_batches(&context, named.collect::<Vec<_>>(), known);
        models.extend(in_two_threads(&related, |row| {
            BatchModel::new(&context, row)
        }));
    }
    let net = Beliefs::new(&context, &models, &rules, &Asked::default());
    let asked: Vec<&BatchModel> = models[..asked_count].iter().collect();
    let answers = in_two_threads(&asked, |model| {
        answer_batch(&context, &net, &rules, model, today)
    });
    Ok(Suspects {
        today,
        batches: answers,
        changed_beliefs: changed_beliefs(&beliefs),
    })
}

fn changed_beliefs(beliefs: &Assumptions) -> Vec<(&'static str, f64)> {
    let value = |known: &Assumption| Some((known.key, beliefs.get(known.key)?));
    ASSUMPTIONS
        .iter()
        .filter_map(|known| value(known).filter(|(_, value)| *value != known.default))
        .collect()
}

fn answer_batch(
    context: &Context<'_>,
    net: &Beliefs<'_>,
    rules: &Rules,
    model: &BatchModel,
    today: Day,
) -> BatchAnswer {
    let weights = match (too_large(model), net) {
        (Some(declined), _) => Err(declined),
        (None, net) => net.weights(model),
    };
    let weights = match weights {
        Ok(weights) => weights,
        Err(declined) => return decline(context, model, declined, today),
    };
    let posterior = Weigher::new(model, context, rules).posterior(&weights);
    let word = Word::of(context, model);
    let (visible, mean_visible) = visibility(context, model, &word);
    let scale = model.scale(context);
    let mut judged: HashMap<usize, Judged> = HashMap::new();
    let mut seedlings: Vec<SeedlingAnswer> = Vec::new();
    for (member, group) in model.evidence.members.iter().zip(&model.group_of) {
        if member.living == 0 {
            continue;
        }
        let judged = judged.entry(*group).or_insert_with(|| {
            let membership = &posterior.memberships[*group];
            if model.groups[*group].contradictory {
                return Judged::contradictory(membership);
            }
            Judge::new(context, model, &word, &scale, member, membership, today).judge(membership)
        });
        seedlings.push(answer_member(context, model, &word, member, judged, today));
    }
    let mut notes = model.evidence.notes.clone();
    notes.extend(later_readings(model, today));
    notes.extend(remarks(
        context, rules, model, &weights, &posterior, &seedlings,
    ));
    notes.extend(net.left_out(model));
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
        true_lost_by_culling: sum_over(&seedlings, |one| one.verdict == Verdict::Cull, |p| 1.0 - p),
        off_left_by_keeping: sum_over(&seedlings, |one| one.verdict != Verdict::Cull, |p| p),
        p_off_unscored: posterior.off_unscored,
        seedlings,
        notes,
        ..heading(context, model, today)
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
    notes.push(EvidenceNote::TooLarge { needed, limit });
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
    let plant = |id: i64| {
        facts
            .plant
            .get(id)
            .map_or_else(String::new, |row| facts.plant_label(row))
    };
    BatchAnswer {
        batch_id: model.batch_id,
        tray: facts
            .code_of(Thing::Batch, model.batch_id)
            .unwrap_or_default()
            .to_owned(),
        cross: context.sources.name_stock(model.stock).code,
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

fn answer_member(
    context: &Context<'_>,
    model: &BatchModel,
    word: &Word,
    member: &Member,
    judged: &Judged,
    today: Day,
) -> SeedlingAnswer {
    let facts = context.index.facts;
    let plant = member.plant.and_then(|id| facts.plant.get(id));
    let mut sources: Vec<SourceShare> = model
        .candidates
        .iter()
        .zip(&judged.sources)
        .filter(|(candidate, _)| {
            candidate.source != Source::None && candidate.source != Source::Mixed
        })
        .map(|(candidate, p)| SourceShare {
            source: candidate.source.clone(),
            p: *p,
        })
        .collect();
    sources.sort_by(|one, other| other.p.total_cmp(&one.p));
    let likeliest = sources.first().filter(|share| share.p > 0.0).cloned();
    SeedlingAnswer {
        seedling: plant.map(|row| {
            facts
                .seedling_label(row)
                .unwrap_or_else(|| facts.plant_label(row))
        }),
        cell: member.cell,
        readings: newest_by_trait(member)
            .iter()
            .map(|reading| seen(context, reading))
            .collect(),
        count: member.living,
        p_off: judged.p_off,
        verdict: judged.verdict,
        look_again: judged.look_again,
        reason: reason_for(context, model, word, member, judged, likeliest, today),
        sources,
    }
}

/// Readings of living seedlings from after the day asked about.
fn later_readings(model: &BatchModel, today: Day) -> Option<EvidenceNote> {
    let later = |member: &Member| {
        let readings = member.readings.iter();
        readings.filter(|reading| reading.day > today).count() as i64 * member.living
    };
    let count = model.evidence.members.iter().map(later).sum();
    (count > 0).then_some(EvidenceNote::LaterReadings {
        count,
        asked: today,
    })
}
