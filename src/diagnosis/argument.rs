//! The argument for one seedling, made: the posterior of its batch opened up, and weighed again without each piece of
//! evidence.
//!
//! Called by [`super::why`], which knows whom it is about.

use crate::records::code::fold;
use crate::records::day::Day;
use crate::records::genes::BENCH_SETTING;
use crate::records::rows::{FateKind, FateRow, Thing};

use super::answer::Seen;
use super::batch::BatchModel;
use super::belief::Beliefs;
use super::evidence::{Member, Telling};
use super::kin::Asked;
use super::membership::Membership;
use super::mishaps_batches::mean_share;
use super::paces::{Pace, shown_by};
use super::posterior::Weigher;
use super::reason::{newest_by_trait, seen};
use super::second_thoughts::A_WEEK;
use super::sensitivity::{p_off, p_off_of, relit};
use super::series::Scale;
use super::sources::{Candidate, Share};
use super::suspects::{Desk, answer_member};
use super::telling_trait::{NextTraits, is_for_seedlings};
use super::verdict::{Judged, dot};
use super::weighed::Weighed;
use super::why::{Curve, Marked, SourceLine, Step, Why, WhyError, Without, class_word};

/// More other trays than this are left out all together, not one by one.
const ONE_BY_ONE: usize = 12;

/// The argument being made.
pub(super) struct Argument<'w, 'a> {
    desk: &'w Desk<'w, 'a>,
    model: &'w BatchModel,
    member: &'w Member,
    at: usize,
    group: usize,
    batch: Weighed,
    scale: Scale<'w>,
}

impl<'w, 'a> Argument<'w, 'a> {
    pub(super) fn new(
        desk: &'w Desk<'w, 'a>,
        model: &'w BatchModel,
        at: usize,
    ) -> Result<Self, WhyError> {
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

    pub(super) fn whole(&self) -> Result<Why, WhyError> {
        let (desk, context) = (self.desk, self.desk.context);
        let batch = desk.answer_weighed(self.model, &self.batch);
        let judged = desk.judge(
            self.model,
            &self.batch,
            &self.scale,
            (self.member, self.group),
        );
        let word = &self.batch.word;
        let mut one = answer_member(context, self.model, word, self.member, &judged, desk.today);
        let is_gone = self.member.living == 0;
        if is_gone {
            (one.count, one.look_again) = (self.member.count, None);
        }
        let trials = desk.trials(self.model, &self.batch, &[(self.group, &judged)]);
        let search = desk.search(self.model);
        let next = search.map_or_else(NextTraits::default, |search| {
            let again_on = one.look_again.unwrap_or(desk.today.forward(A_WEEK));
            search.every_trait(self.at, &one.sources.list(), again_on)
        });
        Ok(Why {
            today: desk.today,
            is_gone,
            fate: is_gone.then(|| self.fate()).flatten(),
            typed: newest_by_trait(self.member)
                .into_iter()
                .map(|reading| self.typed(reading))
                .collect(),
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

    /// What became of it last.
    fn fate(&self) -> Option<FateKind> {
        let context = self.desk.context;
        let classes =
            |reading: &Telling| context.looks.traits[reading.look].classes[reading.class].id;
        let own: Vec<i64> = self.member.readings.iter().map(classes).collect();
        let is_of = |fate: &&&FateRow| match self.member.plant {
            Some(plant) => fate.plant_id == Some(plant),
            None => {
                let named = context.index.fate_classes.get(&fate.id);
                named.is_none_or(|named| named.iter().all(|(_, class)| own.contains(class)))
            }
        };
        let fates = context.index.fates_of(self.model.batch_id).iter();
        let fates = fates.filter(|fate| fate.kind.is_gone()).filter(is_of);
        fates
            .max_by_key(|fate| (fate.day, fate.id))
            .map(|fate| fate.kind)
    }

    /// A class as it is typed, the trait before it where the word alone may be another's.
    fn typed(&self, reading: &Telling) -> String {
        let context = self.desk.context;
        let looks = &context.looks.traits;
        let own = &looks[reading.look];
        let seen = seen(context, reading);
        let word = class_word(&seen);
        let facts = context.index.facts;
        let is_bench = facts
            .setting(BENCH_SETTING)
            .is_some_and(|bench| fold(bench) == fold(&own.code));
        let is_shared = looks.iter().any(|other| {
            other.code != own.code
                && other.switched_on
                && is_for_seedlings(other)
                && other
                    .classes
                    .iter()
                    .any(|class| fold(&class.name) == fold(&seen.class))
        });
        if is_shared && !is_bench {
            format!("{}:{word}", own.code)
        } else {
            word
        }
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
        let predicts = |(as_read, before): (f64, f64)| {
            let mean = || as_read / before * prepared.ln_scale().exp();
            (before > 0.0 && prepared.ln_scale().is_finite()).then(mean)
        };
        let candidates = self.model.candidates.iter().enumerate();
        let line = |(at, candidate): (usize, &Candidate)| {
            let (weights, seedling) = match candidate.share {
                Share::Nothing => {
                    let on = &membership.on;
                    ((dot(on, likelihood), on.iter().sum()), 1.0 - judged.p_off)
                }
                _ => {
                    let before = membership.off_from[at];
                    (
                        (membership.off_from_as_read[at], before),
                        judged.sources[at],
                    )
                }
            };
            SourceLine {
                source: candidate.source.clone(),
                before: candidate.prior,
                now: self.batch.posterior.sources[at],
                predicts: predicts(weights),
                seedling,
            }
        };
        candidates.map(line).collect()
    }

    /// P(off-type) before anything, after all others, and after each of its own readings.
    fn steps(&self) -> Vec<(Step, f64)> {
        let candidates = self.model.candidates.iter();
        let before: f64 = candidates.map(|one| one.prior * mean_share(one)).sum();
        let membership = self.membership();
        let mut steps = vec![(Step::Before, before)];
        let others = self.model.evidence_count() - 1;
        if others > 0 {
            let nothing = self.scale.says_nothing();
            steps.push((
                Step::Others { count: others },
                p_off_of(membership, &nothing.values),
            ));
        }
        let readings = &self.member.readings;
        for upto in 1..=readings.len() {
            let weighed = self.scale.weigh(&readings[..upto], &self.member.emergence);
            if let Some(likelihood) = weighed {
                let own = seen(self.desk.context, &readings[upto - 1]);
                steps.push((Step::Own(own), p_off_of(membership, &likelihood.values)));
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
            let posterior = Weigher::new(self.model, rules).posterior(&weights);
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
        let changed = relit(context, self.model, !is_doubted)?;
        let weigher = Weigher::new(&changed, self.desk.rules);
        let posterior = weigher.posterior(&self.batch.weights);
        let what = if is_doubted {
            Without::LightDoubt
        } else {
            Without::LightProof
        };
        Some((what, p_off(&posterior, &changed, self.group)))
    }
}
