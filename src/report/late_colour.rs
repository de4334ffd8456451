//! When late colours show: what is in use and what the ledger's own trays teach, as JSON has it.
//!
//! The words stand next door.

use serde::Serialize;

use super::Page;
use super::remarks::remark;
use super::text::wrapped;
use crate::diagnosis::late_colour::{Estimate, OnsetFit, Part, TraitFit};
use crate::diagnosis::late_colour_batches::{TaughtBy, WhyNot};
use crate::diagnosis::late_colour_more::More;
use crate::diagnosis::late_colour_parents::DoubtedParent;
use crate::diagnosis::looks::Onset;

/// The three numbers of an onset.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OnsetNumbers {
    /// Median age in days.
    pub median_days: f64,
    /// Spread of its log.
    pub spread: f64,
    /// The share that ever shows it.
    pub ceiling: f64,
}

impl From<Onset> for OnsetNumbers {
    fn from(onset: Onset) -> Self {
        Self {
            median_days: onset.median_days,
            spread: onset.spread,
            ceiling: onset.ceiling,
        }
    }
}

/// A fitted number.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FittedNumber {
    /// The number.
    pub value: f64,
    /// Its standard error.
    pub se: f64,
    /// Standard error of its log; of its logit for a ceiling.
    pub se_scaled: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl From<Estimate> for FittedNumber {
    fn from(estimate: Estimate) -> Self {
        Self {
            value: estimate.value,
            se: estimate.se,
            se_scaled: estimate.se_scaled,
            low: estimate.interval[0],
            high: estimate.interval[1],
        }
    }
}

/// An onset as fitted; a number that is null was held as it is in use.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FittedOnset {
    /// Median age in days.
    pub median_days: Option<FittedNumber>,
    /// Spread of its log.
    pub spread: Option<FittedNumber>,
    /// The share that ever shows it.
    pub ceiling: Option<FittedNumber>,
    /// Log likelihood of the trays at it.
    pub ln_likelihood: f64,
    /// Log likelihood of the trays at what is in use.
    pub ln_likelihood_in_use: f64,
    /// Whether it is as sure as a fit should be before it is relied on.
    pub settled: bool,
}

impl From<&OnsetFit> for FittedOnset {
    fn from(fit: &OnsetFit) -> Self {
        Self {
            median_days: fit.median_days.map(FittedNumber::from),
            spread: fit.spread.map(FittedNumber::from),
            ceiling: fit.ceiling.map(FittedNumber::from),
            ln_likelihood: fit.ln_likelihood,
            ln_likelihood_in_use: fit.ln_before,
            settled: fit.is_settled(),
        }
    }
}

/// A tray that was read for the trait.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TrayLine {
    /// Its code.
    pub tray: String,
    /// What was sown.
    pub cross: String,
    /// Whether it is a control pot: selfed seed that must show the late class.
    pub control_pot: bool,
    /// Where it stands.
    pub place: String,
    /// Under what light.
    pub light: String,
    /// Seedlings read.
    pub seedlings: i64,
    /// Of them, those that show a late class.
    pub turned: i64,
    /// The chance that a seedling of the label ends in a late class.
    pub promise: f64,
    /// Whether the fit rests on it.
    pub used: bool,
    /// Why not: `not-promised`, `uncounted`, `unexplained` or `too-large`.
    pub left_out: Option<&'static str>,
    /// Readings that cannot all be right, in words.
    pub odd_readings: Vec<String>,
    /// Traits it is weighed without, in sentences.
    pub traits_left_out: Vec<String>,
    #[serde(skip)]
    pub(super) why: Option<WhyNot>,
}

impl From<&TaughtBy> for TrayLine {
    fn from(by: &TaughtBy) -> Self {
        Self {
            tray: by.tray.clone(),
            cross: by.cross.clone(),
            control_pot: by.selfed && by.left_out != Some(WhyNot::NotPromised),
            place: by.place.clone(),
            light: by.light.clone(),
            seedlings: by.seedlings,
            turned: by.turned,
            promise: by.promise,
            used: by.left_out.is_none(),
            left_out: by.left_out.map(|why| match why {
                WhyNot::NotPromised => "not-promised",
                WhyNot::Uncounted => "uncounted",
                WhyNot::Unexplained => "unexplained",
                WhyNot::TooLarge => "too-large",
            }),
            traits_left_out: by.traits_left_out.iter().filter_map(remark).collect(),
            odd_readings: by.odd.iter().filter_map(remark).collect(),
            why: by.left_out,
        }
    }
}

/// One place or light.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PartLine {
    /// The place or light; empty for trays of none.
    pub name: String,
    /// How many trays.
    pub trays: usize,
    /// How many seedlings.
    pub seedlings: i64,
    /// The fit; nothing where there is too little.
    pub fit: Option<FittedOnset>,
}

impl From<&Part> for PartLine {
    fn from(part: &Part) -> Self {
        Self {
            name: part.name.clone(),
            trays: part.batches,
            seedlings: part.seedlings,
            fit: part.fit.as_ref().map(FittedOnset::from),
        }
    }
}

/// Whether places or lights differ.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DifferenceLine {
    /// Twice the gain in log likelihood.
    pub chi2: f64,
    /// Degrees of freedom.
    pub df: usize,
    /// P(as much or more by chance).
    pub p: f64,
}

/// What it takes until the fit is settled.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MoreLine {
    /// How many more control pots, about.
    pub pots: u64,
    /// Seedlings in each.
    pub seedlings: i64,
    /// At which ages to look, in days from emergence.
    pub ages: Vec<i64>,
}

impl From<&More> for MoreLine {
    fn from(more: &More) -> Self {
        Self {
            pots: more.pots,
            seedlings: more.seedlings,
            ages: more.ages.clone(),
        }
    }
}

/// A parent which may not be what it is taken for.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DoubtedLine {
    /// Its code or place.
    pub plant: String,
    /// What is stated of it; nothing where it has a label only.
    pub stated: Option<String>,
    /// The chance that it is so, by everything recorded.
    pub p_as_stated: f64,
    /// The trays of it that the fit rests on.
    pub trays: Vec<String>,
}

impl From<&DoubtedParent> for DoubtedLine {
    fn from(one: &DoubtedParent) -> Self {
        Self {
            plant: one.plant.clone(),
            stated: (!one.stated.is_empty()).then(|| one.stated.clone()),
            p_as_stated: one.p,
            trays: one.trays.clone(),
        }
    }
}

/// One trait.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LateTrait {
    /// Its code.
    #[serde(rename = "trait")]
    pub of: String,
    /// Its late classes.
    pub late: Vec<String>,
    /// Whether it is offered for scoring.
    pub switched_on: bool,
    /// What is in use.
    pub in_use: OnsetNumbers,
    /// What the trays teach; nothing where they teach too little.
    pub fit: Option<FittedOnset>,
    /// Whether the share that ever turns was to be fitted.
    #[serde(skip)]
    pub ceiling_wanted: bool,
    /// The trays that were read for it.
    pub trays: Vec<TrayLine>,
    /// Places or lights apart, where asked.
    pub parts: Vec<PartLine>,
    /// Whether these differ.
    pub difference: Option<DifferenceLine>,
    /// What it takes until the fit is settled.
    pub more: Option<MoreLine>,
    /// Parents of the trays used which may not be what they are taken for.
    pub doubted_parents: Vec<DoubtedLine>,
}

impl From<&TraitFit> for LateTrait {
    fn from(fit: &TraitFit) -> Self {
        Self {
            of: fit.code.clone(),
            late: fit.late.clone(),
            switched_on: fit.switched_on,
            in_use: fit.before.into(),
            fit: fit.fit.as_ref().map(FittedOnset::from),
            ceiling_wanted: fit.ceiling_wanted,
            trays: fit.batches.iter().map(TrayLine::from).collect(),
            parts: fit.parts.iter().map(PartLine::from).collect(),
            difference: fit.difference.map(|d| DifferenceLine {
                chi2: d.chi2,
                df: d.df,
                p: d.p,
            }),
            more: fit.more.as_ref().map(MoreLine::from),
            doubted_parents: fit.doubted.iter().map(DoubtedLine::from).collect(),
        }
    }
}

/// What was stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Stored {
    /// The entry of the history.
    pub entry: i64,
    /// What was recorded, in words.
    pub recorded: String,
}

impl Stored {
    /// What was stored and how to take it back.
    pub(super) fn words(&self, page: Page) -> String {
        let text = format!(
            "Stored as entry {}: {} 'locule undo' takes that back.",
            self.entry, self.recorded
        );
        wrapped(&text, page.width, "  ")
    }
}

/// What the words are about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Telling {
    /// What is in use.
    InUse,
    /// What the trays teach.
    Fit,
}

/// The answer of `late-colour`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LateColourAnswer {
    /// Trait by trait.
    pub traits: Vec<LateTrait>,
    /// What was stored, where it was asked for.
    pub stored: Option<Stored>,
    #[serde(skip)]
    pub(super) telling: Telling,
}

impl LateColourAnswer {
    /// The answer.
    #[must_use]
    pub fn new(fits: &[TraitFit], telling: Telling, stored: Option<Stored>) -> Self {
        Self {
            traits: fits.iter().map(LateTrait::from).collect(),
            stored,
            telling,
        }
    }
}
