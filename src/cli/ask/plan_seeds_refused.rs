//! Why `plan seeds` gives no number, and what to do.

use crate::cli::failure::Failure;
use crate::planning::f1_plants::KindsOfF1;
use crate::planning::seeds::{NoPlan, Sowing};
use crate::records::admit::Remedy;
use crate::report::numbers::{percent, several};
use crate::report::plan_known::{KnownLine, known_lines};
use crate::report::text::listed;
use crate::stats::begun::Begun;
use crate::stats::search::TooLarge;

use super::plan_bred::Bred;
use super::plan_seeds::{Question, SeedsArgs};

impl SeedsArgs {
    /// Where there is no number of seeds.
    pub(super) fn no_plan(&self, error: NoPlan, question: &Question, sowing: &Sowing) -> Failure {
        match error {
            NoPlan::Hopeless { chance } => self.hopeless(chance, question.bred.as_ref()),
            NoPlan::TooLarge(error) => too_large(error, question, sowing),
            NoPlan::NoNumber | NoPlan::TooFewPots { .. } => {
                let failure = Failure::refused(
                    "no number of seeds that is looked at would do, up to 131,072",
                );
                let failure = match sowing.germination {
                    Begun::Known(_) => failure,
                    Begun::Counted { .. } => failure.because("with a germination known from few counts it may be lower than any number of seeds makes up for; --germination 0.8 states it"),
                };
                failure.try_flag("--confidence", "0.9")
            }
        }
    }

    /// Refuses where what the parents may be makes it impossible too often.
    fn hopeless(&self, chance: f64, bred: Option<&Bred>) -> Failure {
        let failure = Failure::refused(format!(
            "no number of seeds gives {}: with {} the parents are such that none can be as wanted",
            percent(self.confidence),
            percent(chance)
        ));
        let Some(bred) = bred.filter(|_| !self.believed) else {
            return failure
                .because("that is by everything recorded of them; take other parents, or ask for a lower --confidence")
                .try_remedy(Remedy::Help);
        };
        let known = known_lines(&bred.better_known);
        let failure = match bred.phase_open.is_empty() {
            true => failure,
            false => failure.because(format!(
                "which alleles lie together is not stated of {}; write it with a bar, 'A|a B|b', where you know it",
                listed(&bred.phase_open, "and")
            )),
        };
        if bred.not_stated.is_empty() {
            return failure
                .because("or ask for a lower --confidence")
                .try_remedy(Remedy::Help);
        }
        let failure = failure.because(format!("not stated: {}", listed(&bred.not_stated, "and")));
        if !known.is_empty() {
            let known: Vec<String> = known.iter().map(KnownLine::said).collect();
            return failure
                .because(format!(
                    "but the ledger knows more: {}",
                    listed(&known, "and")
                ))
                .try_flag("--believed", "");
        }
        let Some(plant) = bred.open_plant().filter(|_| bred.is_of_ledger) else {
            return failure
                .because("state the genotype there, or ask for a lower --confidence")
                .try_remedy(Remedy::Help);
        };
        failure
            .because(format!(
                "nothing recorded tells more of it. State it, where you know it: 'locule amend ENTRY --genotype A/a', with the number of the entry that added {plant}; or ask for a lower --confidence"
            ))
            .try_typing(format!("locule history {plant}"))
    }

    /// Where none of the F1 plants has any seed that is wanted too often.
    pub(super) fn hopeless_plants(
        &self,
        chance: f64,
        kinds: &[KindsOfF1],
        question: &Question,
    ) -> Failure {
        let name = question.targets[0].name.as_deref().unwrap_or("as wanted");
        let failure = Failure::refused(format!(
            "no number of seeds of {} gives {}: with {} no seed of any can be {name}",
            self.f1_count(),
            percent(self.confidence),
            percent(chance)
        ));
        match enough_plants(kinds, self.confidence) {
            Some(enough) => failure.try_flag("--f1-plants", enough.to_string()),
            None => failure
                .because("no number of F1 plants helps; take other parents")
                .try_remedy(Remedy::Without("--f1-plants")),
        }
    }

    /// Where F1 plants may be mixed in too many ways.
    pub(super) fn too_many_mixtures(&self) -> Failure {
        Failure::refused(format!(
            "{} may be mixed in more ways than are gone through",
            self.f1_count()
        ))
        .because("ask for fewer genes at once, or leave the number of F1 plants out")
        .try_remedy(Remedy::Without("--f1-plants"))
    }

    fn f1_count(&self) -> String {
        several(self.f1_plants.unwrap_or(1), "F1 plant", "F1 plants")
    }
}

/// How many F1 plants are enough that with a confidence one has wanted seed at all.
fn enough_plants(kinds: &[KindsOfF1], confidence: f64) -> Option<u64> {
    let none = |(weight, kinds): &KindsOfF1, plants: f64| {
        let of = kinds.iter().filter(|(_, share)| *share <= 0.0);
        weight * of.map(|(q, _)| q).sum::<f64>().powf(plants)
    };
    let hopeless = |plants: u64| -> f64 { kinds.iter().map(|one| none(one, plants as f64)).sum() };
    // With exactly the confidence every seed would have to tell.
    (1..=1_000).find(|plants| hopeless(*plants) < 1.0 - confidence)
}

fn too_large(error: TooLarge, question: &Question, sowing: &Sowing) -> Failure {
    let failure = Failure::refused(match error {
        TooLarge::States(error) => error.to_string(),
        TooLarge::Work { trials, .. } => format!(
            "this is too large to work out exactly: it takes {trials} seeds or more, each with every count kept apart"
        ),
    });
    match (sowing.germination, question.targets.len()) {
        (Begun::Counted { .. }, 1) => failure
            .because("with a germination known from counts every number that may come up is gone through; state it as a number")
            .try_flag("--germination", format!("{:.2}", sowing.germination.mean().max(0.01))),
        (Begun::Counted { .. }, _) => failure
            .because("state --germination as a number, or ask for fewer of each kind, or for one kind at a time")
            .try_flag("--germination", format!("{:.2}", sowing.germination.mean().max(0.01))),
        (Begun::Known(_), _) => failure
            .because("every kind wanted multiplies the work by how many are wanted and one: ask for fewer of each, or for one kind at a time")
            .try_remedy(Remedy::Help),
    }
}
