//! What has to be said beside the verdicts: swapped labels, a control pot, dim light, a parent that may not be what is
//! stated.
//!
//! Each remark is found from the batch's own answer and the ledger's records; none changes a probability.

use crate::genetics::locus::LocusIx;
use crate::records::day::Day;
use crate::records::species::{Crossing, all_self_times};

use super::answer::{Doubt, EvidenceNote, Named, SeedlingAnswer, Source, Verdict};
use super::batch::BatchModel;
use super::clash::of_seedlings;
use super::context::Context;
use super::control_pot::{control_pots, has_read_pot};
use super::donors::SownLater;
use super::odd_parents::odd_parents;
use super::open_parent::open_parent;
use super::paces::{Pace, shown_by};
use super::posterior::{Posterior, Rules};
use super::selfs_unseen::selfs_unseen;
use super::weighed::Weighed;

/// A stated genotype is doubted in words where another one is at least this probable (design choice).
const WORTH_DOUBTING: f64 = 0.6;

/// A clash with a statement is named where the statement is wrong with at least this probability (design choice).
const WORTH_NAMING: f64 = 0.05;

/// A seedling is explained by nothing where the label ends in its class less often than this.
const FOREIGN: f64 = 0.05;

/// Everything that has to be said beside the verdicts of a batch, what comes first first.
#[must_use]
pub(super) fn remarks(
    context: &Context<'_>,
    rules: &Rules,
    model: &BatchModel,
    batch: &Weighed,
    seedlings: &[SeedlingAnswer],
) -> Vec<EvidenceNote> {
    let posterior = &batch.posterior;
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
        notes.extend(control_pots(context, model));
    }
    match bad_fit(context, rules, model, batch, seedlings) {
        Some(doubt) => notes.push(doubt),
        None => notes.extend(clash(context, rules, model, batch)),
    }
    notes.extend(open_parent(context, model, seedlings, || {
        batch.parents(rules, model)
    }));
    notes.extend(likely_dim(posterior));
    notes.extend(coloured_early(context, model));
    notes.extend(contradictory(model));
    notes.extend(
        selfs_unseen(context, model, seedlings).map(|one| EvidenceNote::SelfsUnseen(Box::new(one))),
    );
    notes.extend(too_young_donors(context, model));
    notes.extend(odd_parents(context, model));
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

/// Loci read here that stand on one chromosome, how far apart nobody has stated, where that matters: a plant that may have
/// two alleles at both of them hands these on together more often than not.
fn taken_as_independent(context: &Context<'_>, model: &BatchModel) -> Option<EvidenceNote> {
    let read = &model.space.loci;
    let of_plant = |plant: &i64| {
        let open = read
            .iter()
            .filter(|locus| may_split(context, *plant, **locus));
        let open: Vec<LocusIx> = open.copied().collect();
        context.groups().taken_as_independent(context.looks, &open)
    };
    let open: Vec<LocusIx> = model.named_plants().iter().flat_map(of_plant).collect();
    let tied = read.iter().copied().filter(|locus| open.contains(locus));
    let loci = context.looks.symbols(&tied.collect::<Vec<_>>());
    (!loci.is_empty()).then_some(EvidenceNote::TakenAsIndependent { loci })
}

/// Whether a plant, at its word, may have two different alleles at a locus.
fn may_split(context: &Context<'_>, plant: i64, locus: LocusIx) -> bool {
    let pairs = context.plants.pairs(locus);
    let word = context.plants.at_word(plant, locus);
    let mut open = pairs.iter().zip(&word).filter(|(_, p)| **p > 0.0);
    open.any(|(pair, _)| !pair.is_homozygous())
}

/// A cross between species: a weak seedling may be the true one. Or one within a species that goes hard all the same.
fn wide_cross(context: &Context<'_>, model: &BatchModel) -> Option<EvidenceNote> {
    let crossing = Crossing::of_plants(context.index.facts, model.mother, model.father);
    let mut sources = model.candidates.iter();
    let times = match sources.any(|one| one.source == Source::AllSelf) {
        true => all_self_times(crossing.crossability, context.beliefs),
        false => 1.0,
    };
    (crossing.is_wide() || times != 1.0).then_some(EvidenceNote::WideCross {
        all_self_times: times,
        mother: crossing.mother,
        father: crossing.father,
        crossability: crossing.crossability,
    })
}

/// Plants that were about by the records, but too young to give pollen.
fn too_young_donors(context: &Context<'_>, model: &BatchModel) -> Vec<EvidenceNote> {
    let facts = context.index.facts;
    let Some(batch) = facts.batch.get(model.batch_id) else {
        return Vec::new();
    };
    let young = context.sources.sown_later(batch, context.beliefs);
    let note = |one: SownLater| EvidenceNote::DonorSownLater {
        plant: facts.label_of_plant(one.plant),
        sown: one.sown,
        crossed: one.crossed,
    };
    young.into_iter().map(note).collect()
}

/// Seedlings that the parents as stated cannot give, where a statement may well be wrong.
fn clash(
    context: &Context<'_>,
    rules: &Rules,
    model: &BatchModel,
    batch: &Weighed,
) -> Option<EvidenceNote> {
    of_seedlings(context, rules, model, batch, WORTH_NAMING).map(EvidenceNote::Clash)
}

/// Where seedlings stay undecided or culls abound: whether a stated parent is more likely something else.
fn bad_fit(
    context: &Context<'_>,
    rules: &Rules,
    model: &BatchModel,
    batch: &Weighed,
    seedlings: &[SeedlingAnswer],
) -> Option<EvidenceNote> {
    let asks = |one: &SeedlingAnswer| {
        matches!(one.verdict, Verdict::Undecided | Verdict::Cull) || is_unexplained(one)
    };
    if !seedlings.iter().any(asks) {
        return None;
    }
    let worth = |one: &&Marginal| one.likelier().is_some_and(|(_, p)| p > WORTH_DOUBTING);
    let all = marginals(context, model, batch.parents(rules, model));
    let sure = |one: &Marginal| one.likelier().map_or(0.0, |(_, p)| p);
    let best = all.iter().filter(worth);
    let best = best.max_by(|one, other| sure(one).total_cmp(&sure(other)))?;
    let (likelier, p) = best.likelier()?;
    Some(EvidenceNote::LabelFitsBadly {
        plant: name_plant(context, best.plant).code.to_string(),
        stated: best.stated.clone(),
        likelier: written(context, model.space.loci[best.at], model, best.at, likelier),
        would_show: would_show(context, model, best.plant, best.at, likelier),
        p,
        has_pot: has_read_pot(context, best.plant),
    })
}

/// What is believed of a parent at a locus at which something is stated of it, its batch in.
struct Marginal {
    plant: i64,
    /// The locus's place among those of the batch.
    at: usize,
    stated: String,
    /// P(each genotype).
    chances: Vec<f64>,
    /// The same, the statement at its word.
    word: Vec<f64>,
}

impl Marginal {
    fn against(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        let genotypes = self.chances.iter().copied().enumerate();
        genotypes.filter(|(genotype, _)| self.word[*genotype] == 0.0)
    }

    /// The likeliest genotype that is not the one stated.
    fn likelier(&self) -> Option<(usize, f64)> {
        self.against()
            .max_by(|one, other| one.1.total_cmp(&other.1))
    }
}

fn marginals(context: &Context<'_>, model: &BatchModel, joint: &[f64]) -> Vec<Marginal> {
    let plants = if model.is_self() {
        vec![model.mother]
    } else {
        vec![model.mother, model.father]
    };
    let mut found = Vec::new();
    for (which, plant) in plants.iter().enumerate() {
        for (at, locus) in model.space.loci.iter().enumerate() {
            let Some(stated) = context.plants.stated(*plant, *locus) else {
                continue;
            };
            let mut chances = vec![0.0; model.space.pairs_at(at).len()];
            for (pair, p) in joint.iter().enumerate() {
                let genotype = if which == 0 {
                    model.pair(pair).0
                } else {
                    model.pair(pair).1
                };
                chances[model.space.digit_at(genotype, at)] += p;
            }
            found.push(Marginal {
                plant: *plant,
                at,
                stated,
                chances,
                word: context.plants.at_word(*plant, *locus),
            });
        }
    }
    found
}

/// Whether a seedling is in a class that the label hardly ends in, too old for it, and yet not off-type.
fn is_unexplained(one: &SeedlingAnswer) -> bool {
    let reason = &one.reason;
    let overdue = || {
        let rare = reason
            .rare_from
            .is_some_and(|day| day <= reason.loudest.day);
        rare || !reason.may_still_turn
    };
    reason.label_ends_in_it < FOREIGN
        && match one.verdict {
            Verdict::Undecided => true,
            Verdict::Unproven => overdue(),
            _ => false,
        }
}

/// Where a seedling is explained by nothing: how far each stated parent is doubted, the most doubtful first.
#[must_use]
pub(super) fn doubts(
    context: &Context<'_>,
    rules: &Rules,
    model: &BatchModel,
    batch: &Weighed,
    seedlings: &[SeedlingAnswer],
) -> Vec<Doubt> {
    if !seedlings.iter().any(is_unexplained) {
        return Vec::new();
    }
    let telling = |one: &Marginal| {
        let (likelier, _) = one.likelier()?;
        let class = would_show(context, model, one.plant, one.at, likelier)?;
        let locus = model.space.loci[one.at];
        Some((class, written(context, locus, model, one.at, likelier)))
    };
    let doubt = |one: &Marginal| Doubt {
        plant: name_plant(context, one.plant).code.to_string(),
        stated: one.stated.clone(),
        p: one.against().map(|(_, p)| p).sum(),
        would_show: telling(one),
        has_pot: has_read_pot(context, one.plant),
    };
    let all = marginals(context, model, batch.parents(rules, model));
    let mut doubts: Vec<Doubt> = all.iter().map(doubt).collect();
    doubts.sort_by(|one, other| other.p.total_cmp(&one.p));
    doubts
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
