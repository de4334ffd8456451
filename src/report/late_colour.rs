//! When late colours show: what is in use, what the ledger's own trays teach, in words, tables and JSON.

use serde::Serialize;

use super::numbers::{p_value, percent, several};
use super::table::Table;
use super::text::{listed, shown, wrapped};
use super::{Answer, Page};
use crate::diagnosis::late_colour::{Estimate, OnsetFit, Part, TraitFit};
use crate::diagnosis::late_colour_batches::{TaughtBy, WhyNot};
use crate::diagnosis::late_colour_more::More;
use crate::diagnosis::looks::Onset;
use crate::stats::tails::normal_quantile;

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
    #[serde(skip)]
    why: Option<WhyNot>,
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
    telling: Telling,
}

/// What a control pot is.
const CONTROL_POT: &str = "A control pot is selfed seed of a plant that must show the late colour, sown beside the \
    trays it speaks for: 'locule packet NL --seeds 12', then 'locule sow NL --seeds 12 --place tent'. Count what comes \
    up every day or two, and score it a few times while it turns. It settles two things: how fast the colour comes \
    with you, and whether a tray that stays green stands too dark (then the pot stays green too).";

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

    fn fit_words(&self, one: &LateTrait, page: Page) -> Vec<String> {
        let mut parts = vec![wrapped(&one.headline(), page.width, "")];
        if let Some(fit) = &one.fit {
            parts.push(one.numbers(fit, page));
            parts.push(wrapped(&one.meaning(fit), page.width, ""));
            if one.ceiling_wanted && fit.ceiling.is_none() {
                let text = "These trays cannot tell the share that ever turns: that takes old seedlings, some of \
                    which stayed as they were. It was held.";
                parts.push(wrapped(text, page.width, ""));
            }
        }
        if !one.parts.is_empty() {
            parts.push(one.parts_table(page));
            let difference = one.difference.map(DifferenceLine::words);
            parts.extend(difference.map(|text| wrapped(&text, page.width, "")));
        }
        if !one.trays.is_empty() {
            parts.push(one.tray_table(page));
        }
        if let Some(text) = one.more_words() {
            parts.push(wrapped(&text, page.width, ""));
        }
        if one.fit.is_some() && self.stored.is_none() {
            let text = format!(
                "Nothing was recorded. To take it into use: locule late-colour fit --trait {} --store",
                one.of
            );
            parts.push(wrapped(&text, page.width, "  "));
        }
        parts
    }

    fn in_use_words(&self, one: &LateTrait, page: Page) -> String {
        let mut text = format!("{}: {}.", one.of, one.in_use.words(&one.late));
        text.push_str(&match (&one.fit, one.used().count()) {
            _ if !one.switched_on => " The trait is switched off.".to_owned(),
            (Some(fit), trays) => {
                let median = fit.median_days.map_or(one.in_use.median_days, |m| m.value);
                let sure = if fit.settled {
                    "locule late-colour fit shows it"
                } else {
                    "still unsure; locule late-colour fit shows what it takes"
                };
                format!(
                    " Your own {} would say {median:.1} days ({sure}).",
                    trays_word(trays)
                )
            }
            (None, _) => format!(" Too little to learn from: {}", one.too_little()),
        });
        wrapped(&text, page.width, "  ")
    }
}

fn trays_word(trays: usize) -> String {
    several(trays as u64, "tray", "trays")
}

fn days(days: f64) -> String {
    let text = short(days);
    let unit = if text == "1" { "day" } else { "days" };
    format!("{text} {unit}")
}

/// Up to three digits that matter.
fn short(value: f64) -> String {
    let rounded = format!("{value:.2e}").parse::<f64>().unwrap_or(value);
    rounded.to_string()
}

impl OnsetNumbers {
    fn words(&self, late: &[String]) -> String {
        format!(
            "half of the {} seedlings show it by {} after coming up, spread of the log {}, {} ever",
            listed(
                &late.iter().map(|class| shown(class)).collect::<Vec<_>>(),
                "or"
            ),
            days(self.median_days),
            self.spread,
            share_ever(self.ceiling)
        )
    }

    /// The age by which a share of those that ever turn have turned.
    fn age(&self, share: f64) -> f64 {
        (self.median_days.ln() + self.spread * normal_quantile(share)).exp()
    }
}

fn share_ever(ceiling: f64) -> String {
    format!("{} %", short(100.0 * ceiling)).replace("100 %", "all of them")
}

impl DifferenceLine {
    fn words(self) -> String {
        let p = p_value(self.p);
        if self.p < 0.05 {
            format!(
                "They differ by more than chance (p = {p}); one onset for all is then a compromise, \
                 and it is still the one that is stored."
            )
        } else {
            format!("They do not differ by more than chance can (p = {p}).")
        }
    }
}

impl LateTrait {
    fn used(&self) -> impl Iterator<Item = &TrayLine> {
        self.trays.iter().filter(|line| line.used)
    }

    fn class(&self) -> String {
        listed(
            &self
                .late
                .iter()
                .map(|class| shown(class))
                .collect::<Vec<_>>(),
            "or",
        )
    }

    fn headline(&self) -> String {
        let trays = self.used().count();
        let seedlings: i64 = self.used().map(|line| line.seedlings).sum();
        let on = format!(
            "{} with {}",
            trays_word(trays),
            several(seedlings.unsigned_abs(), "seedling", "seedlings")
        );
        let of = format!("{} ({})", self.of, self.class());
        match &self.fit {
            Some(fit) => {
                let median = fit.median_days.map_or(self.in_use.median_days, |m| m.value);
                let sure = if fit.settled {
                    ""
                } else {
                    " That is still unsure."
                };
                format!(
                    "{of}: in your own trays half have turned by day {median:.1} after coming up; in use is day {}. \
                     It rests on {on}.{sure}",
                    short(self.in_use.median_days)
                )
            }
            None => format!("{of}: too little to learn from: {}", self.too_little()),
        }
    }

    /// Why there is no fit.
    fn too_little(&self) -> String {
        let class = self.class();
        let (mut seedlings, mut turned, mut trays) = (0, 0, 0);
        for line in self.used() {
            trays += 1;
            seedlings += line.seedlings;
            turned += line.turned;
        }
        if !self.switched_on {
            return format!(
                "the trait is switched off, so its readings say nothing. 'locule trait on {}' counts them again.",
                self.of
            );
        }
        let told = match (self.trays.is_empty(), trays, turned) {
            (true, _, _) => "no tray was scored for it yet".to_owned(),
            (_, 0, _) => format!(
                "no tray can teach it: none promises {class} of every seedling, with its coming up counted"
            ),
            (_, _, 0) => format!("no seedling of the trays that promise {class} has turned yet"),
            _ if turned == seedlings => format!(
                "every seedling that was read had turned; looks while some are still on their way tell when {class} comes"
            ),
            _ => format!(
                "{} with {seedlings} seedlings are too little",
                trays_word(trays)
            ),
        };
        format!("{told}. What is in use stays.")
    }

    fn numbers(&self, fit: &FittedOnset, page: Page) -> String {
        let mut table = Table::new(&[
            "",
            ">in use",
            ">fitted",
            ">standard error",
            ">95 % interval",
        ]);
        let rows = [
            ("median, days", self.in_use.median_days, fit.median_days),
            ("spread of the log", self.in_use.spread, fit.spread),
            ("share that ever turns", self.in_use.ceiling, fit.ceiling),
        ];
        for (name, in_use, fitted) in rows {
            let cells = match fitted {
                Some(fitted) => [
                    short(fitted.value),
                    short(fitted.se),
                    format!("{} to {}", short(fitted.low), short(fitted.high)),
                ],
                None => ["held".to_owned(), String::new(), String::new()],
            };
            let [fitted, se, interval] = cells;
            table.row([name.to_owned(), in_use.to_string(), fitted, se, interval]);
        }
        table.text(page)
    }

    /// What the numbers mean at the bench.
    fn meaning(&self, fit: &FittedOnset) -> String {
        let fitted = OnsetNumbers {
            median_days: fit.median_days.map_or(self.in_use.median_days, |m| m.value),
            spread: fit.spread.map_or(self.in_use.spread, |s| s.value),
            ceiling: fit.ceiling.map_or(self.in_use.ceiling, |c| c.value),
        };
        let day = |numbers: &OnsetNumbers| numbers.age(0.95).ceil();
        format!(
            "By these figures 19 in 20 true {} seedlings have turned by day {:.0}; by those in use by day {:.0}.",
            self.class(),
            day(&fitted),
            day(&self.in_use)
        )
    }

    fn parts_table(&self, page: Page) -> String {
        let mut table = Table::new(&[
            "where",
            ">trays",
            ">seedlings",
            ">median, days",
            ">95 % interval",
            ">spread",
        ]);
        for part in &self.parts {
            let name = if part.name.is_empty() {
                "not said".to_owned()
            } else {
                part.name.clone()
            };
            let median = part.fit.and_then(|fit| fit.median_days);
            let spread = part.fit.and_then(|fit| fit.spread);
            table.row([
                name,
                part.trays.to_string(),
                part.seedlings.to_string(),
                median.map_or_else(|| "too little".to_owned(), |m| short(m.value)),
                median.map_or_else(String::new, |m| {
                    format!("{} to {}", short(m.low), short(m.high))
                }),
                spread.map_or_else(String::new, |s| short(s.value)),
            ]);
        }
        table.text(page)
    }

    fn tray_table(&self, page: Page) -> String {
        let mut table = Table::new(&["tray", "of", ">read", ">turned", "used"]);
        for line in &self.trays {
            let used = match line.why {
                None if line.control_pot => "yes, a control pot".to_owned(),
                None => "yes".to_owned(),
                Some(WhyNot::NotPromised) => format!(
                    "no: its label promises {} of {} only",
                    self.class(),
                    percent(line.promise)
                ),
                Some(WhyNot::Uncounted) => format!(
                    "no: nobody counted what came up (locule up {} N --on DATE; or --uncounted)",
                    line.tray
                ),
                Some(WhyNot::Unexplained) => "no: nothing explains its readings".to_owned(),
                Some(WhyNot::TooLarge) => "no: it reads too many loci at once".to_owned(),
            };
            table.row([
                line.tray.clone(),
                line.cross.clone(),
                line.seedlings.to_string(),
                line.turned.to_string(),
                used,
            ]);
        }
        table.text(page)
    }

    fn more_words(&self) -> Option<String> {
        let more = self.more.as_ref().filter(|_| self.switched_on)?;
        let ages: Vec<String> = more.ages.iter().map(ToString::to_string).collect();
        let (pots, further) = (
            several(more.pots, "control pot", "control pots"),
            if self.fit.is_some() { " more" } else { "" },
        );
        let pots = pots.replacen(' ', &format!("{further} "), 1);
        Some(format!(
            "What it takes: about {pots} of {} seedlings, looked at {} days after coming up. Then the median is \
             known within 15 % and the spread within 30 %.",
            more.seedlings,
            listed(&ages, "and")
        ))
    }
}

impl Answer for LateColourAnswer {
    fn words(&self, page: Page) -> String {
        let mut parts: Vec<String> = Vec::new();
        if let Some(stored) = &self.stored {
            let text = format!(
                "Stored as entry {}: {} 'locule undo' takes that back.",
                stored.entry, stored.recorded
            );
            parts.push(wrapped(&text, page.width, "  "));
        }
        for one in &self.traits {
            match self.telling {
                Telling::InUse => parts.push(self.in_use_words(one, page)),
                Telling::Fit => parts.extend(self.fit_words(one, page)),
            }
        }
        if self.traits.is_empty() {
            let none = "No trait that is offered for scoring has a class that shows late.";
            parts.push(wrapped(none, page.width, ""));
        } else if self.telling == Telling::InUse {
            parts.push(wrapped(CONTROL_POT, page.width, ""));
        }
        parts.join("\n\n")
    }
}
