//! What has to be said beside the verdicts: swapped labels, a control pot, dim light, a parent that may not be what is
//! stated.
//!
//! Each remark is found from the batch's own answer and the ledger's records; none changes a probability.

use crate::genetics::locus::LocusIx;
use crate::records::day::Day;
use crate::records::rows::{BatchRow, Thing};

use super::answer::{EvidenceNote, Named, SeedlingAnswer, Source, Verdict};
use super::batch::BatchModel;
use super::clash::{Explanation, of_seedlings};
use super::context::{Context, LIGHT_DAYS};
use super::evidence::Member;
use super::open_parent::open_parent;
use super::paces::{Pace, shown_by};
use super::posterior::{Posterior, Rules, Weigher};
use super::reason::trait_at;
use super::weights::PlantWeights;
use super::word::Word;

/// A stated genotype is doubted in words where another one is at least this probable (design choice).
const WORTH_DOUBTING: f64 = 0.6;

/// A clash with a statement is named where the statement is wrong with at least this probability (design choice).
const WORTH_NAMING: f64 = 0.05;

/// A selfed pot is a control where its label ends in late classes with at least this probability.
const CONTROL: f64 = 0.95;

/// Everything that has to be said beside the verdicts of a batch, what comes first first.
#[must_use]
pub fn remarks(
    context: &Context<'_>,
    rules: &Rules,
    model: &BatchModel,
    weights: &PlantWeights,
    posterior: &Posterior,
    seedlings: &[SeedlingAnswer],
) -> Vec<EvidenceNote> {
    let mut notes = Vec::new();
    if model.evidence.members.is_empty() {
        notes.push(EvidenceNote::NothingReads);
    }
    notes.extend(wide_cross(context, model));
    notes.extend(swapped_labels(model, &posterior.sources));
    if seedlings
        .iter()
        .any(|one| one.reason.may_still_turn && one.verdict != Verdict::Keep)
    {
        notes.extend(control_pot(context, model));
    }
    match bad_fit(context, rules, model, weights, seedlings) {
        Some(doubt) => notes.push(doubt),
        None => notes.extend(clash(context, rules, model, weights)),
    }
    notes.extend(open_parent(context, rules, model, weights, seedlings));
    notes.extend(likely_dim(posterior));
    notes.extend(coloured_early(context, model));
    notes.extend(contradictory(model));
    notes.extend(taken_as_independent(context, model));
    notes
}

/// Labels that are more likely swapped than not.
fn swapped_labels(model: &BatchModel, sources: &[f64]) -> Option<EvidenceNote> {
    let likeliest = model
        .candidates
        .iter()
        .zip(sources)
        .filter(|(_, p)| **p > 0.5)
        .map(|(c, p)| (&c.source, *p));
    likeliest
        .filter_map(|(source, p)| match source {
            Source::Swapped(other) => Some(EvidenceNote::LabelsSwapped {
                other: other.as_ref().map(|named| named.code.to_string()),
                p,
            }),
            _ => None,
        })
        .next()
}

/// A selfed pot in the same place that has to show a late colour, is old enough to, was read about when this batch was,
/// and still has not.
fn control_pot(context: &Context<'_>, model: &BatchModel) -> Option<EvidenceNote> {
    let facts = context.index.facts;
    let own = facts.batch.get(model.batch_id)?;
    let newest = model.evidence.newest?;
    let lags = |row: &&&BatchRow| {
        row.id != own.id
            && context
                .pot_lag(row.id, || lag_of(context, row))
                .is_some_and(|day| newest.since(day).abs() <= LIGHT_DAYS)
    };
    context
        .pots_at(&own.place)
        .iter()
        .find(lags)
        .map(|row| EvidenceNote::ControlPotNotTurned {
            tray: facts
                .code_of(Thing::Batch, row.id)
                .unwrap_or_default()
                .to_owned(),
            place: own.place.trim().to_owned(),
        })
}

/// The day of a pot's newest reading, where all its seedlings must show a late colour in the end, half of them should by
/// then at the usual pace, and none does.
fn lag_of(context: &Context<'_>, row: &BatchRow) -> Option<Day> {
    let pot = BatchModel::new(context, row);
    let word = Word::of(context, &pot);
    let lags = |member: &Member| {
        let reading = member.newest();
        let trait_ = &context.looks.traits[reading.look];
        let ends_in = &word.ends_in[trait_at(&pot, reading)];
        let later = ends_in
            .iter()
            .zip(&trait_.classes)
            .filter(|(_, class)| class.after == Some(reading.class));
        let late: f64 = later.map(|(p, _)| p).sum();
        let shown: f64 = trait_.onset.as_ref().map_or(0.0, |onset| {
            let by = |up: &Day| shown_by(onset, Pace::Shifted(0.0), reading.day.since(*up).max(0));
            member
                .emergence
                .iter()
                .map(|(up, weight)| weight * by(up))
                .sum()
        });
        late >= CONTROL && shown >= 0.5
    };
    let members = &pot.evidence.members;
    (!members.is_empty() && members.iter().all(lags))
        .then_some(pot.evidence.newest)
        .flatten()
}

/// A late colour read at an age at which hardly any seedling shows it: the counts of emergence are too late.
fn coloured_early(context: &Context<'_>, model: &BatchModel) -> Option<EvidenceNote> {
    const HARDLY: f64 = 0.001;
    let mut found: Option<(String, i64)> = None;
    for member in &model.evidence.members {
        for reading in &member.readings {
            let trait_ = &context.looks.traits[reading.look];
            let class = &trait_.classes[reading.class];
            let (Some(onset), Some(_)) = (trait_.onset.as_ref(), class.after) else {
                continue;
            };
            let by = |up: &Day| shown_by(onset, Pace::Shifted(0.0), reading.day.since(*up).max(0));
            let shown: f64 = member
                .emergence
                .iter()
                .map(|(up, weight)| weight * by(up))
                .sum();
            if shown < HARDLY {
                found.get_or_insert((class.name.clone(), 0)).1 += member.count;
            }
        }
    }
    found.map(|(class, count)| EvidenceNote::ColouredEarly { class, count })
}

/// The whole batch lags, more likely for want of light than for its seed.
fn likely_dim(posterior: &Posterior) -> Option<EvidenceNote> {
    (posterior.dim > 0.5).then_some(EvidenceNote::LikelyDim { p: posterior.dim })
}

/// Readings that contradict each other and say nothing.
fn contradictory(model: &BatchModel) -> Option<EvidenceNote> {
    let count: i64 = model
        .groups
        .iter()
        .filter(|group| group.contradictory)
        .map(|group| group.count)
        .sum();
    (count > 0).then_some(EvidenceNote::Contradictory { count })
}

/// Loci read here that stand on one chromosome, how far apart nobody has stated.
fn taken_as_independent(context: &Context<'_>, model: &BatchModel) -> Option<EvidenceNote> {
    let loci = context
        .groups()
        .taken_as_independent(context.looks, &model.space.loci);
    let loci = context.looks.symbols(&loci);
    (!loci.is_empty()).then_some(EvidenceNote::TakenAsIndependent { loci })
}

/// A cross between species: a weak seedling may be the true one.
fn wide_cross(context: &Context<'_>, model: &BatchModel) -> Option<EvidenceNote> {
    let species = |id: i64| {
        context
            .index
            .facts
            .plant
            .get(id)
            .map(|row| row.species.trim().to_lowercase())
    };
    let (mother, father) = (species(model.mother)?, species(model.father)?);
    (!mother.is_empty() && !father.is_empty() && mother != father)
        .then_some(EvidenceNote::WideCross { mother, father })
}

/// Seedlings that the parents as stated cannot give, where a statement may well be wrong.
fn clash(
    context: &Context<'_>,
    rules: &Rules,
    model: &BatchModel,
    weights: &PlantWeights,
) -> Option<EvidenceNote> {
    let is_doubted = |(what, p): &(Explanation, f64)| {
        matches!(what, Explanation::WrongStatement { .. }) && *p >= WORTH_NAMING
    };
    of_seedlings(context, rules, model, weights)
        .filter(|clash| clash.explanations.iter().any(is_doubted))
        .map(EvidenceNote::Clash)
}

/// Where seedlings stay undecided or culls abound: whether a stated parent is more likely something else.
fn bad_fit(
    context: &Context<'_>,
    rules: &Rules,
    model: &BatchModel,
    weights: &PlantWeights,
    seedlings: &[SeedlingAnswer],
) -> Option<EvidenceNote> {
    if !seedlings
        .iter()
        .any(|one| matches!(one.verdict, Verdict::Undecided | Verdict::Cull))
    {
        return None;
    }
    let joint = Weigher::new(model, rules).pair_posterior(weights);
    let plants = if model.is_self() {
        vec![model.mother]
    } else {
        vec![model.mother, model.father]
    };
    let mut found: Option<EvidenceNote> = None;
    let mut best = WORTH_DOUBTING;
    for (which, plant) in plants.iter().enumerate() {
        for (at, locus) in model.space.loci.iter().enumerate() {
            let Some(stated) = context.plants.stated(*plant, *locus) else {
                continue;
            };
            let word = context.plants.at_word(*plant, *locus);
            let mut marginal = vec![0.0; model.space.pairs_at(at).len()];
            for (pair, p) in joint.iter().enumerate() {
                let genotype = if which == 0 {
                    model.pair(pair).0
                } else {
                    model.pair(pair).1
                };
                marginal[model.space.digit_at(genotype, at)] += p;
            }
            let against = marginal.iter().enumerate().filter(|(g, _)| word[*g] == 0.0);
            if let Some((g, p)) = against
                .max_by(|one, other| one.1.total_cmp(other.1))
                .filter(|(_, p)| **p > best)
            {
                best = *p;
                found = Some(EvidenceNote::LabelFitsBadly {
                    plant: name_plant(context, *plant).code.to_string(),
                    stated,
                    likelier: written(context, *locus, model, at, g),
                    would_show: would_show(context, model, *plant, at, g),
                    p: *p,
                });
            }
        }
    }
    found
}

fn name_plant(context: &Context<'_>, id: i64) -> Named {
    Named {
        id,
        code: context.index.facts.label_of_plant(id).into(),
    }
}

fn written(
    context: &Context<'_>,
    locus: LocusIx,
    model: &BatchModel,
    at: usize,
    genotype: usize,
) -> String {
    model.space.pairs_at(at)[genotype].written(context.looks.book.get(locus))
}

/// The class that a plant of a genotype shows in a trait read here, where what is stated of it would show another.
fn would_show(
    context: &Context<'_>,
    model: &BatchModel,
    plant: i64,
    at: usize,
    genotype: usize,
) -> Option<String> {
    let locus = model.space.loci[at];
    let cytoplasm = context.plants.cytoplasm(plant);
    let word = context.plants.at_word(plant, locus);
    let looks = model
        .profiles
        .traits
        .iter()
        .map(|place| &context.looks.traits[*place]);
    let mut alone = looks.filter(|look| look.model.loci() == [locus]);
    alone.find_map(|look| {
        let pairs = model.space.pairs_at(at);
        let class = |g: usize| look.model.class_of(&[pairs[g]], cytoplasm);
        let shown = class(genotype);
        let stated_shows_it = (0..word.len()).any(|g| word[g] > 0.0 && class(g) == shown);
        (!stated_shows_it).then(|| look.classes[shown].name.clone())
    })
}
