//! The whole argument for one seedling: what each source predicts, what moved the answer, what would change it.
//!
//! The same sums as `suspects`, opened up: what was believed before its own readings, after each of them, and without
//! each other piece of evidence. Called by `why`; makes no words.

use crate::records::assumptions::Assumptions;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, Sureness, Thing};
use crate::stats::elimination::TooManyCells;

use super::DiagnosisError;
use super::answer::{BatchAnswer, SeedlingAnswer, Seen, Source};
use super::batch::BatchModel;
use super::belief::Beliefs;
use super::context::Context;
use super::evidence::{Member, Telling};
use super::index::Index;
use super::kin::Asked;
use super::looks::{Looks, Onset};
use super::paces::{Pace, Paces, shown_by};
use super::posterior::{Membership, Rules, Weigher};
use super::reason::{newest_by_trait, seen};
use super::sensitivity::{Suppositions, Trial, p_off, regrouped};
use super::series::Scale;
use super::sources::Share;
use super::suspects::{Desk, Weighed, answer_member, models_of};
use super::telling_trait::NextTraits;
use super::verdict::{Judged, dot};

/// More other trays than this are left out all together, not one by one.
const ONE_BY_ONE: usize = 12;

/// Days from today to one more look at what was read already, where no day is named (design choice).
const A_WEEK: i64 = 7;

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
    /// Whether it stands no more.
    pub is_gone: bool,
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
    let beliefs = Assumptions::of(facts);
    let looks = Looks::of(facts)?;
    let index = Index::new(facts);
    let context = Context::new(&looks, &index, &beliefs)?;
    let rules = Rules::default();
    let (models, _) = models_of(&context, &[row], true);
    let net = Beliefs::new(&context, &models, &rules, &Asked::default());
    let desk = Desk {
        context: &context,
        rules: &rules,
        net: &net,
        models: &models,
        suppositions: Suppositions::new(&looks),
        today,
    };
    let model = &models[0];
    let member = find_member(&context, model, whom)?;
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
    let words = |member: &Member| -> Vec<String> {
        let newest = newest_by_trait(member).into_iter();
        newest
            .map(|reading| class_word(&seen(context, reading)))
            .collect()
    };
    let shows = |member: &Member| {
        let words = words(member);
        classes
            .iter()
            .all(|typed| words.iter().any(|word| is_meant(typed, word)))
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

fn class_word(seen: &Seen) -> String {
    match seen.sureness {
        Sureness::Doubtful => format!("maybe-{}", seen.class),
        _ => seen.class.clone(),
    }
}

/// Whether a class as typed is meant by the word for what was seen.
fn is_meant(typed: &str, word: &str) -> bool {
    let typed = typed.rsplit(':').next().unwrap_or(typed).to_lowercase();
    let word = word.to_lowercase();
    typed == word || word.strip_prefix("maybe-") == Some(&typed)
}

/// A seedling by its place, a tallied look as it is typed: `T1-02 green`.
fn name_of(context: &Context<'_>, model: &BatchModel, member: &Member, words: &[String]) -> String {
    let facts = context.index.facts;
    let plant = member.plant.and_then(|id| facts.plant.get(id));
    if let Some(row) = plant {
        return facts
            .seedling_label(row)
            .unwrap_or_else(|| facts.plant_label(row));
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

/// The argument being made.
struct Argument<'w, 'a> {
    desk: &'w Desk<'w, 'a>,
    model: &'w BatchModel,
    member: &'w Member,
    at: usize,
    group: usize,
    batch: Weighed,
    scale: Scale<'w>,
}

impl<'w, 'a> Argument<'w, 'a> {
    fn new(desk: &'w Desk<'w, 'a>, model: &'w BatchModel, at: usize) -> Result<Self, WhyError> {
        Ok(Self {
            desk,
            model,
            member: &model.evidence.members[at],
            at,
            group: model.group_of[at],
            batch: desk.weigh(model)?,
            scale: Scale::new(
                desk.context.looks,
                &model.profiles,
                &model.paces,
                desk.context.beliefs.doubtful,
                &desk.context.onset_tables,
            ),
        })
    }

    fn membership(&self) -> &Membership {
        &self.batch.posterior.memberships[self.group]
    }

    fn whole(&self) -> Result<Why, WhyError> {
        let (desk, context) = (self.desk, self.desk.context);
        let batch = desk.answer_weighed(self.model, &self.batch);
        let judged = desk.judge(
            self.model,
            &self.batch,
            &self.scale,
            (self.member, self.group),
        );
        let word = &self.batch.word;
        let one = answer_member(context, self.model, word, self.member, &judged, desk.today);
        let trials = desk.trials(self.model, &self.batch, &[(self.group, &judged)]);
        let search = desk.search(self.model);
        let next = search.map_or_else(NextTraits::default, |search| {
            let again_on = one.look_again.unwrap_or(desk.today.forward(A_WEEK));
            search.every_trait(self.at, &one.sources, again_on)
        });
        Ok(Why {
            today: desk.today,
            is_gone: self.member.living == 0,
            is_tallied: self.member.plant.is_none(),
            thresholds: (context.beliefs.cull, context.beliefs.keep),
            curve: self.curve(&one.reason.loudest),
            sources: self.sources(&judged),
            steps: self.steps(),
            without: self.without(judged.p_off)?,
            trials: trials.into_iter().next().unwrap_or_default(),
            next,
            batch,
            one,
        })
    }

    fn age(&self, day: Day) -> f64 {
        let emergence = self.member.emergence.iter();
        emergence
            .map(|(up, w)| w * day.since(*up).max(0) as f64)
            .sum()
    }

    /// The curve of the trait that speaks loudest, or of another late one that was read.
    fn curve(&self, loudest: &Seen) -> Option<Curve> {
        let looks = &self.desk.context.looks.traits;
        let read = self.member.readings.iter().map(|reading| reading.look);
        let late = read.filter(|look| looks[*look].onset.is_some());
        let look = late.max_by_key(|look| looks[*look].code == loudest.trait_code)?;
        let onset = looks[look].onset?;
        let classes = looks[look].classes.iter();
        let mark = |reading: &Telling| {
            let by = |up: &Day| {
                shown_by(&onset, Pace::Shifted(0.0), reading.day.since(*up).max(0)) / onset.ceiling
            };
            Marked {
                seen: seen(self.desk.context, reading),
                age: self.age(reading.day),
                shown: self.member.emergence.iter().map(|(up, w)| w * by(up)).sum(),
            }
        };
        let own = self
            .member
            .readings
            .iter()
            .filter(|reading| reading.look == look);
        Some(Curve {
            trait_code: looks[look].code.clone(),
            late: classes
                .filter(|class| class.after.is_some())
                .map(|class| class.name.clone())
                .collect(),
            onset,
            readings: own.map(mark).collect(),
        })
    }

    /// Where it may come from: what the membership says, by candidate.
    fn sources(&self, judged: &Judged) -> Vec<SourceLine> {
        let prepared = self
            .scale
            .prepare(&self.member.readings, &self.member.emergence);
        let likelihood = &self.model.groups[self.group].likelihood.values;
        let membership = self.membership();
        let predicts = |cells: &[f64]| {
            let total: f64 = cells.iter().sum();
            let mean = || dot(cells, likelihood) / total * prepared.ln_scale().exp();
            (total > 0.0 && prepared.ln_scale().is_finite()).then(mean)
        };
        let candidates = self.model.candidates.iter().enumerate();
        let line = |(at, candidate): (usize, &super::sources::Candidate)| {
            let (cells, seedling) = match candidate.share {
                Share::Nothing => (&membership.on, 1.0 - judged.p_off),
                _ => (&membership.off[at], judged.sources[at]),
            };
            SourceLine {
                source: candidate.source.clone(),
                before: candidate.prior,
                now: self.batch.posterior.sources[at],
                predicts: predicts(cells),
                seedling,
            }
        };
        candidates.map(line).collect()
    }

    /// P(off-type) before anything, after all others, and after each of its own readings.
    fn steps(&self) -> Vec<(Step, f64)> {
        let mean = |share: Share| match share {
            Share::Nothing => 0.0,
            Share::Beta(a, b) => a / (a + b),
            Share::Everything => 1.0,
        };
        let candidates = self.model.candidates.iter();
        let before: f64 = candidates.map(|one| one.prior * mean(one.share)).sum();
        let membership = self.membership();
        let off = membership.off_in_all();
        let p_off = |likelihood: &[f64]| {
            let (on, off) = (dot(&membership.on, likelihood), dot(&off, likelihood));
            if on + off > 0.0 {
                off / (on + off)
            } else {
                0.0
            }
        };
        let mut steps = vec![(Step::Before, before)];
        let others = self.model.evidence_count() - 1;
        if others > 0 {
            let nothing = self.scale.says_nothing();
            steps.push((Step::Others { count: others }, p_off(&nothing.values)));
        }
        let readings = &self.member.readings;
        for upto in 1..=readings.len() {
            let weighed = self.scale.weigh(&readings[..upto], &self.member.emergence);
            if let Some(likelihood) = weighed {
                let own = seen(self.desk.context, &readings[upto - 1]);
                steps.push((Step::Own(own), p_off(&likelihood.values)));
            }
        }
        steps
    }

    /// P(off-type) without each other piece of evidence that moves it.
    fn without(&self, now: f64) -> Result<Vec<(Without, f64)>, WhyError> {
        let mut found = self.without_trays()?;
        found.extend(self.without_light());
        found.retain(|(_, p)| (p - now).abs() >= 0.0005);
        found.sort_by(|one, other| {
            let moved = |p: f64| (p - now).abs();
            moved(other.1).total_cmp(&moved(one.1))
        });
        Ok(found)
    }

    fn without_trays(&self) -> Result<Vec<(Without, f64)>, WhyError> {
        let others = &self.desk.models[1..];
        let mut found = Vec::new();
        let p_with = |kept: &[BatchModel]| -> Result<f64, WhyError> {
            let (context, rules) = (self.desk.context, self.desk.rules);
            let net = Beliefs::new(context, kept, rules, &Asked::default());
            let weights = net.weights(self.model)?;
            let posterior = Weigher::new(self.model, context, rules).posterior(&weights);
            Ok(p_off(&posterior, self.model, self.group))
        };
        if others.len() > 1 {
            let alone = p_with(std::slice::from_ref(self.model))?;
            found.push((Without::OtherTrays(others.len()), alone));
        }
        if others.len() <= ONE_BY_ONE {
            for other in others {
                let kept = self.desk.models.iter();
                let kept = kept.filter(|model| model.batch_id != other.batch_id);
                let p = p_with(&kept.cloned().collect::<Vec<_>>())?;
                let facts = self.desk.context.index.facts;
                let code = facts.code_of(Thing::Batch, other.batch_id);
                found.push((Without::Tray(code.unwrap_or_default().to_owned()), p));
            }
        }
        Ok(found)
    }

    /// P(off-type) if the light were known to be good, or not known to be.
    fn without_light(&self) -> Option<(Without, f64)> {
        let context = self.desk.context;
        let looks = &context.looks.traits;
        let mut read = self.member.readings.iter();
        read.find(|reading| looks[reading.look].onset.is_some())?;
        let is_doubted = self.model.paces.paces.contains(&Pace::Dim);
        let mut changed = self.model.clone();
        changed.paces = Paces::of(context.beliefs, true, !is_doubted);
        if changed.paces == self.model.paces {
            return None;
        }
        let scale = Scale::new(
            context.looks,
            &self.model.profiles,
            &changed.paces,
            context.beliefs.doubtful,
            &context.onset_tables,
        );
        let groups = regrouped(self.model, &scale);
        changed.groups = groups;
        let weigher = Weigher::new(&changed, context, self.desk.rules);
        let posterior = weigher.posterior(&self.batch.weights);
        let what = if is_doubted {
            Without::LightDoubt
        } else {
            Without::LightProof
        };
        Some((what, p_off(&posterior, &changed, self.group)))
    }
}
