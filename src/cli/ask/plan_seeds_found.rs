//! `plan seeds` worked out: the number of seeds, and what is said beside it.

use crate::cli::failure::Failure;
use crate::planning::f1_plants::{KindsOfF1, mixed};
use crate::planning::next_year::{MOST_PLANTS, next_year};
use crate::planning::seeds::{
    ByTray, NoPlan, Sowing, TwoStages, by_tray, stages_by_tray, two_stages,
};
use crate::report::plan_beside::{ByTrayLine, F1Line};
use crate::report::plan_known::known_lines;
use crate::report::plan_seeds::{RowLine, SeedsAnswer, StagesLine};
use crate::report::plan_sowing::{GerminationLine, OffLine};
use crate::stats::begun::{Case, search};

use super::plan_seeds::{Question, SeedsArgs, Stage};
use super::plan_sowing::Seed;

impl SeedsArgs {
    /// The answer to a question.
    ///
    /// # Errors
    /// [`Failure`] where no number would do, or it is too large.
    pub(super) fn plan(&self, question: &Question, seed: &Seed) -> Result<SeedsAnswer, Failure> {
        let wants: Vec<u64> = question.targets.iter().map(|target| target.want).collect();
        let sowing = seed.sowing();
        let bred = question.bred.as_ref();
        let mut answer = SeedsAnswer {
            seeds: None,
            probability: None,
            confidence: self.confidence,
            in_store: seed.in_store,
            sown: bred.map(|bred| bred.sown.clone()),
            targets: question.targets.clone(),
            germination: GerminationLine::new(sowing.germination.mean(), seed.germination_from)
                .leaving_out(&seed.counted_early),
            off_share: OffLine::new(sowing.off_share, seed.off_from),
            believed: self.believed,
            not_stated: bred.map_or_else(Vec::new, |bred| bred.not_stated.clone()),
            better_known: bred.map_or_else(Vec::new, |bred| known_lines(&bred.better_known)),
            phase_open: bred.map_or_else(Vec::new, |bred| bred.phase_open.clone()),
            distance_open: bred.map_or_else(Vec::new, |bred| bred.distance_open.clone()),
            table: Vec::new(),
            stages: None,
            next_year: None,
            by_everything: None,
            by_tray: None,
            f1_plants: None,
        };
        match &question.stage {
            _ if self.f1_plants.is_some() && question.f1.is_some() => {
                self.of_f1_plants(&mut answer, question, &sowing)?;
            }
            None => {
                let (found, rows) = sowing
                    .plan(&wants, &question.cases, self.confidence)
                    .map_err(|error| self.no_plan(error, question, &sowing))?;
                answer.seeds = Some(found.n);
                answer.probability = Some(found.probability);
                answer.table = rows.into_iter().map(RowLine::from).collect();
            }
            Some(stage) => self.stage(&mut answer, question, stage, &sowing)?,
        }
        answer.by_tray = answer
            .seeds
            .and_then(|seeds| self.by_tray(question, seed, &wants, seeds));
        if answer.f1_plants.is_none() {
            answer.f1_plants = question.f1.as_ref().map(|kinds| F1Line {
                plants: None,
                probability_with_one: answer
                    .seeds
                    .filter(|_| question.stage.is_none())
                    .and_then(|seeds| of_one_plant(kinds, &sowing, &wants, seeds)),
            });
        }
        Ok(answer)
    }

    fn stage(
        &self,
        answer: &mut SeedsAnswer,
        question: &Question,
        stage: &Stage,
        sowing: &Sowing,
    ) -> Result<(), Failure> {
        let want = question.targets[0].want;
        let mut line = StagesLine {
            marker: stage.name.clone(),
            pass_share: stage.pass,
            pots_there: self.pots,
            pass: None,
            pots: None,
            pots_needed: None,
            chance_with_all_filled: None,
        };
        let most = self.pots.unwrap_or(MOST_PLANTS);
        let saved = stage.passing.as_ref();
        let saved =
            saved.and_then(|passing| next_year(passing, sowing, want, most, self.confidence));
        answer.next_year = saved.map(Into::into);
        match two_stages(sowing, &stage.markers, want, self.pots, self.confidence) {
            Ok(TwoStages { seeds, pass, pots }) => {
                answer.seeds = Some(seeds.n);
                answer.probability = Some(seeds.probability);
                (line.pass, line.pots) = (Some(pass), Some(pots));
            }
            Err(NoPlan::TooFewPots { needed, chance, .. }) => {
                line.pots_needed = needed;
                line.chance_with_all_filled = Some(chance);
            }
            Err(error) => return Err(self.no_plan(error, question, sowing)),
        }
        answer.stages = Some(line);
        Ok(())
    }

    /// What so many seeds do if off-types come tray by tray.
    fn by_tray(
        &self,
        question: &Question,
        seed: &Seed,
        wants: &[u64],
        seeds: u64,
    ) -> Option<ByTrayLine> {
        let trays = &seed.off_by_tray;
        if trays.is_empty() || self.f1_plants.is_some() {
            return None;
        }
        let (germination, asked) = (seed.sowing().germination, (seeds, self.confidence));
        let ByTray {
            probability,
            seeds,
            never,
        } = match &question.stage {
            None => by_tray(germination, wants, &question.cases, trays, asked),
            Some(stage) => {
                let what = (wants[0], self.pots);
                stages_by_tray(germination, &stage.markers, trays, what, asked)
            }
        }?;
        Some(ByTrayLine {
            probability,
            seeds,
            never,
        })
    }

    /// Of the F1 plants that were typed, as much seed of each and mixed.
    fn of_f1_plants(
        &self,
        answer: &mut SeedsAnswer,
        question: &Question,
        sowing: &Sowing,
    ) -> Result<(), Failure> {
        let plants = self.f1_plants.unwrap_or(1);
        let f1 = question.f1.as_ref().expect("asked where it is there");
        let kinds: Vec<KindsOfF1> = f1.iter().map(kinds_of).collect();
        let cases = mixed(&kinds, plants).ok_or_else(|| self.too_many_mixtures())?;
        let want = question.targets[0].want;
        let (found, rows) = sowing
            .plan(&[want], &cases, self.confidence)
            .map_err(|error| match error {
                NoPlan::Hopeless { chance } => self.hopeless_plants(chance, &kinds, question),
                error => self.no_plan(error, question, sowing),
            })?;
        answer.seeds = Some(found.n);
        answer.probability = Some(found.probability);
        answer.table = rows.into_iter().map(RowLine::from).collect();
        answer.f1_plants = Some(F1Line {
            plants: Some(plants),
            probability_with_one: None,
        });
        Ok(())
    }
}

/// The one target's share among the seed of each kind of F1 plant.
fn kinds_of((weight, kinds): &(f64, Vec<Case>)) -> KindsOfF1 {
    let kind = |case: &Case| {
        let share: f64 = case.outcomes.iter().map(|one| one.p).sum();
        (case.weight, share)
    };
    (*weight, kinds.iter().map(kind).collect())
}

/// The chance with all seed of one F1 plant, which is then the same for all of it.
fn of_one_plant(
    kinds: &[(f64, Vec<Case>)],
    sowing: &Sowing,
    wants: &[u64],
    seeds: u64,
) -> Option<f64> {
    let each = kinds.iter().flat_map(|(weight, kinds)| {
        kinds.iter().map(move |kind| Case {
            weight: weight * kind.weight,
            outcomes: kind.outcomes.clone(),
        })
    });
    let cases = sowing.thin(&each.collect::<Vec<_>>());
    let mut search = search(sowing.germination, wants, &cases).ok()?;
    Some(1.0 - search.miss_if_told(seeds)?)
}
