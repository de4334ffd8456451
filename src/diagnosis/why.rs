//! The whole argument for one seedling: what each source predicts, what moved the answer, what would change it.
//!
//! The same sums as `suspects`, opened up: what was believed before its own readings, after each of them, and without
//! each other piece of evidence. Called by `why`; makes no words.

use crate::records::code::fold;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, FateKind, Sureness, Thing};
use crate::stats::elimination::TooManyCells;

use super::DiagnosisError;
use super::answer::{BatchAnswer, SeedlingAnswer, Seen, Source};
use super::argument::Argument;
use super::batch::BatchModel;
use super::belief::Beliefs;
use super::context::{Basis, Context};
use super::evidence::Member;
use super::kin::Asked;
use super::looks::Onset;
use super::posterior::Rules;
use super::reason::{newest_by_trait, seen};
use super::sensitivity::{Suppositions, Trial};
use super::set_aside::{SetAside, least_useful};
use super::suspects::{Desk, models_of};
use super::telling_trait::NextTraits;
use super::together::WeightsKept;

/// Whom the argument is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Whom {
    /// A seedling that was told apart.
    Seedling(i64),
    /// One of the seedlings of a batch that look like this.
    Look {
        /// The batch.
        batch: i64,
        /// In this cell, where one is meant.
        cell: Option<i64>,
        /// Classes that it shows, as typed.
        classes: Vec<String>,
    },
}

/// Why there is no argument.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WhyError {
    /// A stored text cannot be read.
    #[error(transparent)]
    Unreadable(#[from] DiagnosisError),
    /// The exact answer needs too large a table.
    #[error(transparent)]
    TooLarge(#[from] TooManyCells),
    /// The same, and nothing more can be left out.
    #[error("{size}")]
    Declined {
        /// How large.
        size: TooManyCells,
        /// The batch.
        tray: String,
        /// The traits read there, the one missed least first.
        traits: Vec<String>,
    },
    /// Not a seedling of any batch.
    #[error("it is no seedling of a tray")]
    NoSeedling,
    /// Nothing telling was read of it.
    #[error("nothing was read of it yet that tells anything")]
    NothingRead,
    /// Nothing in the batch looks like that.
    #[error("nothing there looks like that")]
    NoSuchLook {
        /// What was seen.
        seen: Vec<String>,
    },
    /// Several seedlings or looks are meant.
    #[error("several look like that")]
    Several {
        /// Them, by name, or by cell and look.
        named: Vec<String>,
    },
}

/// A reading on the curve of its late class.
#[derive(Debug, Clone, PartialEq)]
pub struct Marked {
    /// The reading.
    pub seen: Seen,
    /// Age in days, averaged over the days of emergence.
    pub age: f64,
    /// The share of plants of a late class that shows it by then, at the usual pace.
    pub shown: f64,
}

/// The curve of the late classes of a trait, with the readings of the seedling.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// The trait.
    pub trait_code: String,
    /// The late classes.
    pub late: Vec<String>,
    /// When they show.
    pub onset: Onset,
    /// The readings, by day.
    pub readings: Vec<Marked>,
}

/// One place where a seedling may come from.
#[derive(Debug, Clone, PartialEq)]
pub struct SourceLine {
    /// The source; `none` is the label.
    pub source: Source,
    /// P(source of the tray) before anything was seen.
    pub before: f64,
    /// P(source of the tray) given everything.
    pub now: f64,
    /// P(this seedling's readings | it comes from there, everything else recorded); nothing where it cannot.
    pub predicts: Option<f64>,
    /// P(this seedling comes from there), given everything.
    pub seedling: f64,
}

/// A step on the way to the answer.
#[derive(Debug, Clone, PartialEq)]
pub enum Step {
    /// Before anything of the tray was read.
    Before,
    /// After all other seedlings of the tray.
    Others {
        /// How many.
        count: i64,
    },
    /// After one of its own readings.
    Own(Seen),
}

/// Something left out, all else as it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Without {
    /// What another tray says of the plants.
    Tray(String),
    /// What all other trays say of them.
    OtherTrays(usize),
    /// The proof that the light is good.
    LightProof,
    /// The chance that the light is bad, as if a control pot had coloured.
    LightDoubt,
}

/// The whole argument.
#[derive(Debug, Clone, PartialEq)]
pub struct Why {
    /// The day asked about.
    pub today: Day,
    /// What is said of the whole batch.
    pub batch: BatchAnswer,
    /// What is said of the seedling, or of one of those that look alike.
    pub one: SeedlingAnswer,
    /// Whether it stands no more; the answer's count is then of those that stood.
    pub is_gone: bool,
    /// What became of it.
    pub fate: Option<FateKind>,
    /// Its look class by class, as it is typed.
    pub typed: Vec<String>,
    /// Whether it is one of several of a tallied look.
    pub is_tallied: bool,
    /// The thresholds for culling and keeping.
    pub thresholds: (f64, f64),
    /// The curve of the late class it was read for.
    pub curve: Option<Curve>,
    /// Where it may come from, the label first.
    pub sources: Vec<SourceLine>,
    /// How P(off-type) went, step by step.
    pub steps: Vec<(Step, f64)>,
    /// P(off-type) without each other piece of evidence.
    pub without: Vec<(Without, f64)>,
    /// What would come of it if something were otherwise.
    pub trials: Vec<Trial>,
    /// What could be scored next.
    pub next: NextTraits,
}

/// The whole argument for one seedling, as on a day: what was seen later is left out.
///
/// # Errors
/// [`WhyError`] where there is none.
pub fn why(facts: &Facts, today: Day, whom: &Whom) -> Result<Why, WhyError> {
    let seen = facts.seen_until(today);
    let facts = seen.as_ref().unwrap_or(facts);
    let row = batch_of(facts, whom).ok_or(WhyError::NoSeedling)?;
    let basis = Basis::of(facts)?;
    let mut aside = SetAside::default();
    let mut first = None;
    // Ends, since one trait more is set aside each time.
    loop {
        let context = basis.context()?.without(aside.clone());
        let (models, _) = models_of(&context, &[row], true);
        let size = match argue(&context, &models, today, whom) {
            Err(WhyError::TooLarge(size)) => size,
            Err(WhyError::NothingRead) if first.is_some() => {
                return Err(first.expect("it was just looked at"));
            }
            Ok(mut why) => {
                aside.tell(&context, &mut why.batch);
                return Ok(why);
            }
            Err(other) => return Err(other),
        };
        let refused = declined(&context, &models[0], size);
        let others: Vec<&BatchModel> = models.iter().collect();
        if !aside.add(&context, &others, size) {
            return Err(first.unwrap_or(refused));
        }
        first.get_or_insert(refused);
    }
}

/// Why there is no argument, a table being too large.
fn declined(context: &Context<'_>, model: &BatchModel, size: TooManyCells) -> WhyError {
    let mut left = model.evidence.traits.clone();
    let mut traits = Vec::new();
    while let Some(look) = least_useful(context, &left) {
        left.retain(|other| *other != look);
        traits.push(look);
    }
    let tray = context.index.facts.code_of(Thing::Batch, model.batch_id);
    WhyError::Declined {
        size,
        tray: tray.unwrap_or_default().to_owned(),
        traits: (traits
            .iter()
            .map(|at| context.looks.traits[*at].code.clone()))
        .collect(),
    }
}

/// The argument with what a question does not set aside.
fn argue(
    context: &Context<'_>,
    models: &[BatchModel],
    today: Day,
    whom: &Whom,
) -> Result<Why, WhyError> {
    let rules = Rules::default();
    let net = Beliefs::new(context, models, &rules, &Asked::default());
    let desk = Desk {
        context,
        rules: &rules,
        net: &net,
        models,
        suppositions: Suppositions::new(context.looks),
        asked: 1,
        kept: &WeightsKept::none(),
        today,
    };
    let model = &models[0];
    let member = find_member(context, model, whom)?;
    Argument::new(&desk, model, member)?.whole()
}

fn batch_of<'f>(facts: &'f Facts, whom: &Whom) -> Option<&'f BatchRow> {
    let id = match whom {
        Whom::Seedling(plant) => facts.plant.get(*plant)?.batch_id?,
        Whom::Look { batch, .. } => *batch,
    };
    facts.batch.get(id)
}

/// The member that is meant.
fn find_member(context: &Context<'_>, model: &BatchModel, whom: &Whom) -> Result<usize, WhyError> {
    let members = &model.evidence.members;
    let (cell, classes) = match whom {
        Whom::Seedling(plant) => {
            let found = members
                .iter()
                .position(|member| member.plant == Some(*plant));
            return found.ok_or(WhyError::NothingRead);
        }
        Whom::Look { cell, classes, .. } => (*cell, classes),
    };
    let here = |member: &Member| cell.is_none_or(|cell| member.cell == Some(cell));
    let seen_of = |member: &Member| -> Vec<Seen> {
        let newest = newest_by_trait(member).into_iter();
        newest.map(|reading| seen(context, reading)).collect()
    };
    let words =
        |member: &Member| -> Vec<String> { seen_of(member).iter().map(class_word).collect() };
    let shows = |member: &Member| {
        let seen = seen_of(member);
        classes
            .iter()
            .all(|typed| seen.iter().any(|one| is_meant(typed, one)))
    };
    let in_place: Vec<usize> = (0..members.len())
        .filter(|at| here(&members[*at]))
        .collect();
    let fitting: Vec<usize> = in_place
        .iter()
        .copied()
        .filter(|at| shows(&members[*at]))
        .collect();
    let name = |at: &usize| name_of(context, model, &members[*at], &words(&members[*at]));
    match fitting.as_slice() {
        [only] => Ok(*only),
        [] if in_place.is_empty() => Err(WhyError::NothingRead),
        [] => {
            let mut seen: Vec<String> = in_place
                .iter()
                .map(|at| words(&members[*at]).join("/"))
                .collect();
            seen.sort();
            seen.dedup();
            Err(WhyError::NoSuchLook { seen })
        }
        several => Err(WhyError::Several {
            named: several.iter().map(name).collect(),
        }),
    }
}

/// A class as it is typed: `green`, `maybe-green`.
pub(super) fn class_word(seen: &Seen) -> String {
    match seen.sureness {
        Sureness::Doubtful => format!("maybe-{}", seen.class),
        _ => seen.class.clone(),
    }
}

/// Whether a class as typed, with its trait or without, is what was seen.
fn is_meant(typed: &str, seen: &Seen) -> bool {
    let (of, class) = match typed.rsplit_once(':') {
        Some((of, class)) => (Some(of.trim()), class.trim()),
        None => (None, typed),
    };
    of.is_none_or(|of| fold(of) == fold(&seen.trait_code))
        && [class_word(seen), seen.class.clone()]
            .iter()
            .any(|word| fold(word) == fold(class))
}

/// A seedling by its place, a tallied look as it is typed: `T1-02 green`.
fn name_of(context: &Context<'_>, model: &BatchModel, member: &Member, words: &[String]) -> String {
    let facts = context.index.facts;
    let plant = member.plant.and_then(|id| facts.plant.get(id));
    if let Some(row) = plant {
        return facts.place_label(row);
    }
    let tray = facts
        .code_of(Thing::Batch, model.batch_id)
        .unwrap_or_default();
    let look = words.join("/");
    match member.cell {
        Some(cell) => format!("{tray}-{cell:02} {look}"),
        None => format!("{tray} {look}"),
    }
}
