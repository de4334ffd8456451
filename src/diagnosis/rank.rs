//! Which plants to keep: candidates put in order by the goals set, how sure that order is, and what their seed will throw.
//!
//! Everything rests on what is known of each plant's genotype; a look is worth something only by what it tells of that.
//! Called by `rank`. What a goal is worth (`goal.carried`, weights) is the grower's to change; nothing is culled here.

mod field;

use std::collections::{BTreeSet, HashSet};

use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{GoalKind, GoalRow, PlantRow, Thing};

use super::answer::{EvidenceNote, Verdict};
use super::candidates::candidates;
use super::context::{Basis, Context};
use super::genotypes::GenotypeError;
use super::grades::Graded;
use super::measured::Measured;
use super::set_aside::least_useful;
use super::suspects::suspects;
use field::Field;

/// Why nothing is ranked.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RankError {
    /// A genotype is not told.
    #[error(transparent)]
    Genotype(#[from] GenotypeError),
    /// No goal is set.
    #[error("no goal is set, so nothing makes one plant better than another")]
    NoGoals,
    /// A goal on a trait that no gene model explains.
    #[error("the trait {0} has no gene model in use, so no genotype tells who shows it")]
    NoModel(String),
}

/// A goal as the ranking sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct Aim {
    /// The trait's code.
    pub of: String,
    /// The class; nothing for the grades of a graded trait.
    pub class: Option<String>,
    /// How much it matters.
    pub kind: GoalKind,
    /// The weight of a want; 0 otherwise.
    pub weight: f64,
    /// Whether of grades or measures the lower ones are wanted.
    pub less: bool,
    /// The unit of the measure that tells it; nothing where none does.
    pub unit: Option<String>,
    mark: Mark,
}

/// By what a goal is told.
#[derive(Debug, Clone, PartialEq)]
enum Mark {
    /// A class: the trait as a place among those ranked by, and the class as a place among the trait's.
    Look(usize, usize),
    /// The grades of a trait.
    Grades(Box<Graded>),
    /// A measure of the plants.
    Measure(Box<Measured>),
}

/// What a candidate has of one goal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Merit {
    /// P(it shows the look in the end).
    pub shows: f64,
    /// P(it shows it, or its selfed seed can).
    pub carries: f64,
    /// Of grades and measures: the plant's mean grade or its newest number, where it has any. Then the other two are how far
    /// up the scale it stands on the side that is wanted, from 0 to 1.
    pub grade: Option<f64>,
    /// P(it is what it is kept as, and shows it), and the same of what it shows or can give.
    true_to_it: [f64; 2],
    /// How far the share of the scale may be off; 0 of looks.
    error: f64,
}

/// A candidate in its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranked {
    /// The plant's number.
    pub plant: i64,
    /// Its code or place.
    pub label: String,
    /// Its place from 1; plants that are level share one.
    pub place: usize,
    /// What it is expected to be worth, from 0 to 1; an off-type is worth nothing.
    pub index: f64,
    /// What it is expected to be worth if it is what it is kept as: the index over the chance that it is.
    pub if_true: f64,
    /// Whether it is to be culled: then it stands behind all that are not.
    pub is_cull: bool,
    /// P(it is worth no less than each in a later place).
    pub holds: f64,
    /// P(it is worth no less than any other).
    pub best: f64,
    /// P(it shows or carries every must, and shows nothing to be avoided).
    pub fit: f64,
    /// Goal by goal, in the order of [`Ranking::aims`].
    pub merits: Vec<Merit>,
    /// The expected share of its selfed seedlings that show every must.
    pub seed_shows: f64,
    /// The expected share of its selfed seedlings that show or carry every must.
    pub seed_carries: f64,
    /// P(it is not of its label), where it came from a tray.
    pub p_off: Option<f64>,
    /// Another candidate in an earlier place that is better by some goal and worse by none: the first such.
    pub beaten_by: Option<String>,
}

/// Candidates in order.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranking {
    /// The goals: musts, wants, what is to be avoided.
    pub aims: Vec<Aim>,
    /// The candidates, the best first.
    pub ranked: Vec<Ranked>,
    /// Plants of which nothing explains what is recorded.
    pub unexplained: Vec<String>,
    /// Traits that are left out of what is known of the plants, since with them the sums would be too large.
    pub left_out: Vec<EvidenceNote>,
    /// Goals that are left out, since with them the sums would be too large, and the cells that these would need.
    pub goals_left_out: Vec<(Aim, u128)>,
    /// Graded traits of which the plants were graded by tasters who cannot be set against each other.
    pub apart: Vec<String>,
    /// Measures by which the plants are compared at different ages.
    pub ages_apart: Vec<String>,
}

/// Ranks plants by the goals of a ledger, whatever is to be done with them.
///
/// # Errors
/// [`RankError`] where no goal is set, a goal's trait has no gene model, or the exact answer needs too large a table.
pub fn rank(facts: &Facts, plants: &[i64]) -> Result<Ranking, RankError> {
    rank_culls_last(facts, plants, &HashSet::new())
}

/// The same as on a day, those that are to be culled behind the others, however good they are.
///
/// # Errors
/// As [`rank`].
pub fn rank_as_judged(facts: &Facts, today: Day, plants: &[i64]) -> Result<Ranking, RankError> {
    rank_culls_last(facts, plants, &culls(facts, today, plants)?)
}

/// Those of some plants whose verdict is to cull them, and which were not adopted as what they are.
fn culls(facts: &Facts, today: Day, plants: &[i64]) -> Result<HashSet<i64>, GenotypeError> {
    let rows: Vec<&PlantRow> = (plants.iter())
        .filter_map(|plant| facts.plant.get(*plant))
        .collect();
    let batches: BTreeSet<i64> = rows.iter().filter_map(|row| row.batch_id).collect();
    let batches: Vec<i64> = batches.into_iter().collect();
    let found = suspects(facts, today, Some(&batches))?;
    let judged = found.batches.iter().flat_map(|batch| &batch.seedlings);
    let culls = judged.filter(|one| one.verdict == Verdict::Cull && one.kept.is_none());
    let names: HashSet<&str> = culls.filter_map(|one| one.seedling.as_deref()).collect();
    let is_cull = |row: &&&PlantRow| names.contains(facts.place_label(row).as_str());
    Ok(rows.iter().filter(is_cull).map(|row| row.id).collect())
}

fn rank_culls_last(
    facts: &Facts,
    plants: &[i64],
    culls: &HashSet<i64>,
) -> Result<Ranking, RankError> {
    let basis = Basis::of(facts).map_err(GenotypeError::from)?;
    let context = &basis.context().map_err(GenotypeError::from)?;
    let (mut aims, traits) = aims(context, plants)?;
    let mut asked = traits.clone();
    let mut goals_left_out = Vec::new();
    let (known, left_out) = loop {
        let loci = context.looks.loci_read(&asked);
        let (size, error) = match candidates(context, plants, &loci) {
            Ok(found) => break found,
            Err(error) => match &error {
                GenotypeError::TooLarge { size, .. } => (*size, error),
                GenotypeError::Unreadable(_) => return Err(error.into()),
            },
        };
        let several = asked.len() > 1;
        let Some(look) = least_useful(context, &asked).filter(|_| several) else {
            return Err(error.into());
        };
        asked.retain(|other| *other != look);
        let is_of = |aim: &mut Aim| matches!(aim.mark, Mark::Look(at, _) if traits[at] == look);
        let gone = aims.extract_if(.., is_of);
        goals_left_out.extend(gone.map(|aim| (aim, size.needed)));
    };
    for aim in &mut aims {
        if let Mark::Look(at, _) = &mut aim.mark {
            let place = asked.iter().position(|own| *own == traits[*at]);
            *at = place.expect("goals on traits not asked for are left out");
        }
    }
    let loci = context.looks.loci_read(&asked);
    let field = Field::new(context, aims, (&asked, &loci), &known);
    Ok(Ranking {
        left_out,
        goals_left_out,
        ..field.order(facts, &known, culls)
    })
}

/// The goals, and the traits they are about as places among the ledger's.
fn aims(context: &Context<'_>, plants: &[i64]) -> Result<(Vec<Aim>, Vec<usize>), RankError> {
    let facts = context.index.facts;
    let mut rows: Vec<&GoalRow> = facts.goal.iter().collect();
    rows.sort_by_key(|goal| match goal.kind {
        GoalKind::Must => 0,
        GoalKind::Want => 1,
        GoalKind::Avoid => 2,
    });
    let (mut aims, mut traits): (Vec<Aim>, Vec<usize>) = (Vec::new(), Vec::new());
    for goal in rows {
        let code = facts.code_of(Thing::Trait, goal.trait_id);
        let code = code.unwrap_or_default().to_owned();
        let (class, mark) = mark(context, goal, (&code, plants), &mut traits)?;
        aims.push(Aim {
            unit: match &mark {
                Mark::Measure(measured) => Some(measured.unit.clone()),
                Mark::Look(..) | Mark::Grades(_) => None,
            },
            of: code,
            class,
            kind: goal.kind,
            weight: goal.weight.parse().unwrap_or(0.0),
            less: goal.less,
            mark,
        });
    }
    match aims.is_empty() {
        true => Err(RankError::NoGoals),
        false => Ok((aims, traits)),
    }
}

/// By what a goal is told, and the name of its class; the trait joins those ranked by.
fn mark(
    context: &Context<'_>,
    goal: &GoalRow,
    (code, plants): (&str, &[i64]),
    traits: &mut Vec<usize>,
) -> Result<(Option<String>, Mark), RankError> {
    let untold = || RankError::NoModel(code.to_owned());
    let Some(class) = goal.class_id else {
        if let Some(measured) = Measured::of(context.index.facts, goal.trait_id, plants) {
            return Ok((None, Mark::Measure(Box::new(measured))));
        }
        let graded = Graded::of(context.index.facts, goal.trait_id).ok_or_else(untold)?;
        return Ok((None, Mark::Grades(Box::new(graded))));
    };
    let (look, place) = context.looks.class_place(class).ok_or_else(untold)?;
    let at = traits.iter().position(|own| *own == look);
    let at = at.unwrap_or_else(|| {
        traits.push(look);
        traits.len() - 1
    });
    let class = &context.looks.traits[look].classes[place];
    Ok((Some(class.name.clone()), Mark::Look(at, place)))
}
