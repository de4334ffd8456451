//! The diagnosis of batches: every seedling's chance of being off-type, its sources and its verdict.
//!
//! The one way in for whoever asks: facts, today and a choice of batches in, [`Suspects`] out.

use std::collections::{HashMap, HashSet};

use crate::genetics::locus::LocusIx;
use crate::records::assumptions::{ASSUMPTIONS, Assumption, Assumptions};
use crate::records::code::fold;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, Thing};

use super::DiagnosisError;
use super::answer::{
    BatchAnswer, EvidenceNote, Named, Reason, SeedlingAnswer, Seen, Source, SourceShare, Suspects,
    Verdict,
};
use super::batch::BatchModel;
use super::belief::{Beliefs, in_two_threads};
use super::context::{Context, LIGHT_DAYS};
use super::evidence::{Index, Member, Telling};
use super::looks::Looks;
use super::posterior::{Rules, Weigher};
use super::series::{Pace, shown_by};
use super::sources::{Stock, stock_of};
use super::terms::PlantWeights;
use super::unscored::known_unscored;
use super::verdict::{Judge, Judged};
use super::word::{Shown, Word, visibility};

/// Looked at for "rare": a true seedling that still shows the earlier class.
const RARE: f64 = 0.01;

/// A selfed pot is a control where its label ends in late classes with at least this probability.
const CONTROL: f64 = 0.95;

/// A stated genotype is doubted in words where another one is at least this probable (design choice).
const WORTH_DOUBTING: f64 = 0.6;

/// How many days ahead [`Reason::rare_from`] is sought.
const RARE_WITHIN: i64 = 120;

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
        let related = related_batches(&context, &models);
        models.extend(in_two_threads(&related, |row| {
            BatchModel::new(&context, row)
        }));
    }
    let net = Beliefs::new(&context, &models, &rules)?;
    let asked: Vec<&BatchModel> = models[..asked_count].iter().collect();
    let answers = in_two_threads(&asked, |model| {
        answer_batch(&context, &net, &rules, model, today)
    });
    Ok(Suspects {
        today,
        batches: answers.into_iter().collect::<Result<_, _>>()?,
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

/// The other batches that can say something about the plants of these: those of the same parents, of the parents'
/// other partners, and so on, and those that a named plant was kept from.
fn related_batches<'a>(context: &Context<'a>, models: &[BatchModel]) -> Vec<&'a BatchRow> {
    let facts = context.index.facts;
    let mut by_parent: HashMap<i64, Vec<&BatchRow>> = HashMap::new();
    for row in &facts.batch {
        let (mother, father) = context.sources.parents(stock_of(row));
        by_parent.entry(mother).or_default().push(row);
        by_parent.entry(father).or_default().push(row);
    }
    let mut known: HashSet<i64> = models.iter().map(|model| model.batch_id).collect();
    let mut plants: Vec<i64> = Vec::new();
    for model in models {
        plants.extend([model.mother, model.father]);
        plants.extend(
            model
                .candidates
                .iter()
                .flat_map(|candidate| model.third_plants(candidate.seed)),
        );
    }
    let mut met: HashSet<i64> = plants.iter().copied().collect();
    let mut related = Vec::new();
    while let Some(plant) = plants.pop() {
        let origin = facts
            .plant
            .get(plant)
            .and_then(|row| facts.batch.get(row.batch_id?));
        for row in by_parent
            .get(&plant)
            .into_iter()
            .flatten()
            .copied()
            .chain(origin)
        {
            if known.insert(row.id) {
                related.push(row);
                let (mother, father) = context.sources.parents(stock_of(row));
                plants.extend(
                    [mother, father]
                        .into_iter()
                        .filter(|parent| met.insert(*parent)),
                );
            }
        }
    }
    related
}

fn answer_batch(
    context: &Context<'_>,
    net: &Beliefs<'_>,
    rules: &Rules,
    model: &BatchModel,
    today: Day,
) -> Result<BatchAnswer, DiagnosisError> {
    let facts = context.index.facts;
    let weights = net.weights(model)?;
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
            Judge::new(context, model, &word, &scale, member, membership, today).judge(membership)
        });
        seedlings.push(answer_member(context, model, &word, member, judged, today));
    }
    let mut notes = model.evidence.notes.clone();
    if model.evidence.members.is_empty() {
        notes.push(EvidenceNote::NothingReads);
    }
    notes.extend(later_readings(model, today));
    notes.extend(wide_cross(context, model));
    notes.extend(swapped_labels(model, &posterior.sources));
    if seedlings
        .iter()
        .any(|one| one.reason.may_still_turn && one.verdict != Verdict::Keep)
    {
        notes.extend(control_pot(context, model));
    }
    notes.extend(bad_fit(context, rules, model, &weights, &seedlings));
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
    let plant = |id: i64| {
        facts
            .plant
            .get(id)
            .map_or_else(String::new, |row| facts.plant_label(row))
    };
    let row = facts.batch.get(model.batch_id);
    Ok(BatchAnswer {
        batch_id: model.batch_id,
        tray: facts
            .code_of(Thing::Batch, model.batch_id)
            .unwrap_or_default()
            .to_owned(),
        cross: context.sources.name_stock(model.stock).code,
        packet: matches!(model.stock, Stock::Packet(_)),
        label: (plant(model.mother), plant(model.father)),
        sown: row.map_or(today, |row| row.day),
        n: model.evidence.n,
        unscored: model.evidence.unscored,
        known_unscored: known_unscored(facts, model.batch_id, &model.evidence),
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
    })
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
        .sum()
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

fn seen(context: &Context<'_>, reading: &Telling) -> Seen {
    let trait_ = &context.looks.traits[reading.look];
    Seen {
        trait_code: trait_.code.clone(),
        class: trait_.classes[reading.class].name.clone(),
        sureness: reading.sureness(),
        day: reading.day,
    }
}

fn newest_by_trait(member: &Member) -> Vec<&Telling> {
    let mut newest: Vec<&Telling> = Vec::new();
    for reading in &member.readings {
        newest.retain(|older| older.look != reading.look);
        newest.push(reading);
    }
    newest
}

/// The reading that speaks loudest for the verdict, of the newest of each trait: against the label for a suspect, for
/// it otherwise.
fn loudest<'m>(
    context: &Context<'_>,
    model: &BatchModel,
    word: &Word,
    member: &'m Member,
    judged: &Judged,
) -> &'m Telling {
    let against = judged.p_off > context.beliefs.keep;
    let weight = |reading: &Telling| {
        let at = trait_at(model, reading);
        let shown = Shown::on(context, model, reading.day, &member.emergence);
        let label = shown.class_chances(&word.label, at)[reading.class];
        let average = word.average.as_ref().unwrap_or(&word.label);
        let off = shown.class_chances(average, at)[reading.class];
        let ratio = (off + f64::MIN_POSITIVE).ln() - (label + f64::MIN_POSITIVE).ln();
        if against { ratio } else { -ratio }
    };
    let newest = newest_by_trait(member);
    let weighed = newest.iter().map(|reading| (*reading, weight(reading)));
    // Of two that say as much the one recorded last.
    weighed
        .max_by(|one, other| {
            one.1
                .total_cmp(&other.1)
                .then(one.0.order.cmp(&other.0.order))
        })
        .map_or_else(|| member.newest(), |(reading, _)| reading)
}

fn trait_at(model: &BatchModel, reading: &Telling) -> usize {
    let place = model
        .profiles
        .traits
        .iter()
        .position(|place| *place == reading.look);
    place.expect("a reading is of a trait that was read")
}

fn reason_for(
    context: &Context<'_>,
    model: &BatchModel,
    word: &Word,
    member: &Member,
    judged: &Judged,
    likeliest: Option<SourceShare>,
    today: Day,
) -> Reason {
    let reading = loudest(context, model, word, member, judged);
    let at = trait_at(model, reading);
    let trait_ = &context.looks.traits[reading.look];
    let ends_in = &word.ends_in[at];
    let shown =
        Shown::on(context, model, reading.day, &member.emergence).class_chances(&word.label, at);
    let may_still_turn = ends_in.iter().enumerate().any(|(end, p)| {
        *p >= context.beliefs.allowed && trait_.classes[end].after == Some(reading.class)
    });
    let age = member
        .emergence
        .iter()
        .map(|(up, w)| w * reading.day.since(*up).max(0) as f64)
        .sum();
    let named = |p: &f64, class: usize| (trait_.classes[class].name.clone(), *p);
    let next = &context.looks.traits[member.newest().look];
    Reason {
        loudest: seen(context, reading),
        age,
        label_ends_in_it: ends_in[reading.class],
        label_shows_it: shown[reading.class],
        label_ends_in: ends_in
            .iter()
            .enumerate()
            .filter(|(_, p)| **p > 0.0)
            .map(|(c, p)| named(p, c))
            .collect(),
        may_still_turn,
        rare_from: may_still_turn
            .then(|| rare_from(trait_.onset.as_ref(), member, today))
            .flatten(),
        times_as_likely_off: judged.times_as_likely_off,
        likeliest,
        next_look: judged
            .next_look
            .iter()
            .enumerate()
            .map(|(c, p)| (next.classes[c].name.clone(), *p))
            .collect(),
    }
}

/// The first day on which a true seedling that has not turned is rare, at the usual pace.
fn rare_from(onset: Option<&super::looks::Onset>, member: &Member, today: Day) -> Option<Day> {
    let onset = onset?;
    let start = member.emergence.first()?.0;
    let still = |day: Day| -> f64 {
        let late = |up: &Day| shown_by(onset, Pace::Shifted(0.0), day.since(*up).max(0));
        member
            .emergence
            .iter()
            .map(|(up, w)| w * (1.0 - late(up)))
            .sum()
    };
    let last = today.forward(RARE_WITHIN);
    (0..)
        .map(|ahead| start.forward(ahead))
        .take_while(|day| *day <= last)
        .find(|day| still(*day) < RARE)
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
                other: other.as_ref().map(|named| named.code.clone()),
                p,
            }),
            _ => None,
        })
        .next()
}

/// A selfed pot in the same place that has to show a late colour read here, read about when this batch was, and still
/// without it.
fn control_pot(context: &Context<'_>, model: &BatchModel) -> Option<EvidenceNote> {
    let facts = context.index.facts;
    let own = facts.batch.get(model.batch_id)?;
    let place = fold(own.place.trim());
    let newest = model.evidence.newest?;
    let near = |other: &&BatchRow| {
        let (mother, father) = context.sources.parents(stock_of(other));
        other.id != own.id
            && mother == father
            && !place.is_empty()
            && fold(other.place.trim()) == place
    };
    facts.batch.iter().filter(near).find_map(|row| {
        let pot = BatchModel::new(context, row);
        let word = Word::of(context, &pot);
        let not_turned = |member: &Member| {
            let reading = member.newest();
            let ends_in = &word.ends_in[trait_at(&pot, reading)];
            let classes = &context.looks.traits[reading.look].classes;
            let late: f64 = ends_in
                .iter()
                .zip(classes)
                .filter(|(_, c)| c.after == Some(reading.class))
                .map(|(p, _)| p)
                .sum();
            late >= CONTROL && newest.since(reading.day).abs() <= LIGHT_DAYS
        };
        let all = !pot.evidence.members.is_empty() && pot.evidence.members.iter().all(not_turned);
        all.then(|| EvidenceNote::ControlPotNotTurned {
            tray: facts
                .code_of(Thing::Batch, row.id)
                .unwrap_or_default()
                .to_owned(),
            place: own.place.trim().to_owned(),
        })
    })
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
    let table = Weigher::new(model, context, rules).pair_table(weights);
    let most = table.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let joint: Vec<f64> = table
        .iter()
        .zip(&weights.pairs)
        .map(|(ln, w)| w * (ln - most).exp())
        .collect();
    let total: f64 = joint.iter().sum();
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
            let mut marginal = vec![0.0; model.space.pairs[at].len()];
            for (pair, p) in joint.iter().enumerate() {
                let genotype = if which == 0 {
                    model.pair(pair).0
                } else {
                    model.pair(pair).1
                };
                marginal[model.space.digits(genotype)[at]] += p / total;
            }
            let against = marginal.iter().enumerate().filter(|(g, _)| word[*g] == 0.0);
            if let Some((g, p)) = against
                .max_by(|one, other| one.1.total_cmp(other.1))
                .filter(|(_, p)| **p > best)
            {
                best = *p;
                found = Some(EvidenceNote::LabelFitsBadly {
                    plant: name_plant(context, *plant).code,
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
        let class = |g: usize| look.model.class_of(&[model.space.pairs[at][g]], cytoplasm);
        let shown = class(genotype);
        let stated_shows_it = (0..word.len()).any(|g| word[g] > 0.0 && class(g) == shown);
        (!stated_shows_it).then(|| look.classes[shown].name.clone())
    })
}

fn name_plant(context: &Context<'_>, id: i64) -> Named {
    let facts = context.index.facts;
    Named {
        id,
        code: facts
            .plant
            .get(id)
            .map_or_else(String::new, |row| facts.plant_label(row)),
    }
}

fn written(
    context: &Context<'_>,
    locus: LocusIx,
    model: &BatchModel,
    at: usize,
    genotype: usize,
) -> String {
    model.space.pairs[at][genotype].written(context.looks.book.get(locus))
}
