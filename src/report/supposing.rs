//! What a verdict rests on, in words: what would come of it if something were otherwise.

use serde::Serialize;

use super::numbers::percent;
use super::text::listed;
use crate::diagnosis::answer::SeedlingAnswer;
use crate::diagnosis::sensitivity::{Supposing, Trial};

/// Most suppositions that are named beside a cull.
const MOST_NAMED: usize = 2;

/// A supposition with what would come of it, as JSON has it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TrialJson<'a> {
    supposing: &'static str,
    plant: Option<&'a str>,
    stated: Option<&'a str>,
    tray: Option<&'a str>,
    p_off: f64,
    stands: bool,
}

impl<'a> TrialJson<'a> {
    /// A trial as JSON has it.
    #[must_use]
    pub fn of(trial: &'a Trial) -> Self {
        let (plant, stated) = match &trial.supposing {
            Supposing::Unstated { plant, stated } => (Some(plant.as_str()), Some(stated.as_str())),
            _ => (None, None),
        };
        let tray = match &trial.supposing {
            Supposing::MisreadLight { tray } => Some(tray.as_str()),
            _ => None,
        };
        Self {
            supposing: trial.supposing.word(),
            plant,
            stated,
            tray,
            p_off: trial.p_off,
            stands: trial.stands,
        }
    }
}

/// A supposition, after "if".
#[must_use]
pub fn supposing_words(supposing: &Supposing) -> String {
    match supposing {
        Supposing::FewerOffTypes => "off-types were half as common".to_owned(),
        Supposing::MoreOffTypes {
            clean_halved: false,
        } => "off-types were twice as common".to_owned(),
        Supposing::MoreOffTypes { clean_halved: true } => {
            "clean trays were half as common".to_owned()
        }
        Supposing::SlowerColour => "colour came 30 % later".to_owned(),
        Supposing::MisreadLight { tray } => {
            format!("the one late colour in {tray} was misread")
        }
        Supposing::Unstated { plant, .. } => format!("nothing had been stated of {plant}"),
    }
}

/// What would make a cull stay, in a sentence; nothing where nothing would.
#[must_use]
pub fn unless_words(one: &SeedlingAnswer) -> Option<String> {
    let fallen: Vec<String> = one
        .trials
        .iter()
        .filter(|trial| !trial.stands)
        .map(|trial| supposing_words(&trial.supposing))
        .collect();
    match fallen.as_slice() {
        [] => None,
        few if few.len() <= MOST_NAMED => Some(format!("No cull if {}.", listed(few, "or"))),
        [first, others @ ..] => Some(format!(
            "No cull if {first}, or in {} other cases ('locule why' names them).",
            others.len()
        )),
    }
}

/// All trials in one sentence, for the long form; those that change the verdict with what would come of them.
#[must_use]
pub fn trials_words(trials: &[Trial]) -> Option<String> {
    let (stands, falls): (Vec<&Trial>, Vec<&Trial>) = trials.iter().partition(|one| one.stands);
    let stands: Vec<String> = stands
        .iter()
        .map(|one| supposing_words(&one.supposing))
        .collect();
    let fall = |one: &&Trial| {
        format!(
            "{} ({})",
            supposing_words(&one.supposing),
            percent(one.p_off)
        )
    };
    let falls: Vec<String> = falls.iter().map(fall).collect();
    match (stands.is_empty(), falls.is_empty()) {
        (true, true) => None,
        (false, true) => Some(format!("It stands even if {}.", listed(&stands, "or"))),
        (true, false) => Some(format!("It falls if {}.", listed(&falls, "or"))),
        (false, false) => Some(format!(
            "It falls if {}; it stands if {}.",
            listed(&falls, "or"),
            listed(&stands, "or")
        )),
    }
}
