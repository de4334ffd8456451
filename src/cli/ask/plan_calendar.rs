//! `plan calendar`: when to sow and to cross so that seed is ripe in time.

use std::str::FromStr;

use clap::Args;

use super::plan_wishes::whole;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::genetics::species::{CULTIVATED, is_known};
use crate::growing::grouping::species_of;
use crate::planning::calendar::{
    OwnDays, Pace, Span, SpanFrom, TypedPace, back_from, on_from, own_days, pace,
};
use crate::records::assumptions::Assumptions;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::near::nearest;
use crate::records::species::bare;
use crate::report::numbers::several;
use crate::report::plan_calendar::{CalendarAnswer, Goal};
use crate::report::text::shown;

/// When to sow and to cross so that seed is ripe and dry on a day, or when it is if sown on one
#[derive(Debug, Args)]
#[command(
    after_help = "Examples (no ledger is needed; where there is one, your own numbers are taken):\n  locule plan calendar --ripe-seed 1nov\n  locule plan calendar --ripe-seed 2027-11-01 --generations 2 --species annuum\n  locule plan calendar --sow today\n  locule plan calendar --ripe-seed 1nov --species chinense --to-ripe 60-75 --to-flower 12-15w"
)]
pub struct CalendarArgs {
    /// The day on which seed is to be ripe and dry: 1nov, 2026-11-01
    #[arg(
        long,
        value_name = "DATE",
        required_unless_present = "sow",
        conflicts_with = "sow"
    )]
    ripe_seed: Option<String>,
    /// Instead, the day on which the parents are sown
    #[arg(long, value_name = "DATE")]
    sow: Option<String>,
    /// How many generations: 1 the parents and their cross, 2 its F2 as well
    #[arg(long, value_name = "N", default_value_t = 1, allow_negative_numbers = true, value_parser = |text: &str| whole(text, 1, 8))]
    generations: u64,
    /// A species; again for several. Without it those of the ledger, or the five cultivated ones
    #[arg(long, value_name = "SPECIES")]
    species: Vec<String>,
    /// How long from sowing until seed is up: 8-14, 2w
    #[arg(long, value_name = "DAYS", allow_hyphen_values = true)]
    to_up: Option<Stretch>,
    /// How long from sowing until the first flower
    #[arg(long, value_name = "DAYS", allow_hyphen_values = true)]
    to_flower: Option<Stretch>,
    /// How long from pollination until the seed is ripe
    #[arg(long, value_name = "DAYS", allow_hyphen_values = true)]
    to_ripe: Option<Stretch>,
    /// How long seed is cleaned and dried
    #[arg(long, value_name = "DAYS", allow_hyphen_values = true)]
    drying: Option<Stretch>,
}

/// A stretch of days as typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Stretch {
    fewest: i64,
    most: i64,
}

/// The longest stretch that is taken, in days.
const LONGEST: i64 = 730;

impl FromStr for Stretch {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let text = text.trim();
        let end = text.find(|c: char| c.is_alphabetic());
        let (numbers, unit) = text.split_at(end.unwrap_or(text.len()));
        let times = match unit.trim().to_lowercase().as_str() {
            "" | "d" | "day" | "days" => 1,
            "w" | "week" | "weeks" => 7,
            other => {
                return Err(format!(
                    "'{other}' is no unit of time here; write days, 60 or 55-65, or weeks, 8w or 8-10w"
                ));
            }
        };
        if numbers.starts_with('-') {
            return Err("no stretch is shorter than nothing".to_owned());
        }
        let (fewest, most) = numbers.split_once('-').unwrap_or((numbers, numbers));
        let read = |number: &str| number.trim().parse::<i64>().ok();
        let form = || "write days, 60, or the fewest and the most, 55-65".to_owned();
        let (fewest, most) = read(fewest).zip(read(most)).ok_or_else(form)?;
        let days = |n: i64| n.checked_mul(times).filter(|n| *n <= LONGEST);
        match days(fewest).zip(days(most)) {
            Some((fewest, most)) if fewest <= most => Ok(Self { fewest, most }),
            _ => Err(format!(
                "the fewest days come first, and none are more than {LONGEST}"
            )),
        }
    }
}

impl From<Stretch> for Span {
    fn from(typed: Stretch) -> Self {
        Self {
            fewest: typed.fewest,
            most: typed.most,
            from: SpanFrom::Typed,
        }
    }
}

impl CalendarArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where a day cannot be read, a species is unknown, or it takes longer until the first flower than
    /// was typed until seed is up.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let on = world.day()?;
        let goal = match (&self.ripe_seed, &self.sow) {
            (Some(text), _) => Goal::RipeSeed(day_ahead("--ripe-seed", text, on)?),
            (None, Some(text)) => Goal::Sow(day_ahead("--sow", text, on)?),
            (None, None) => {
                return Err(
                    Failure::usage("by when, or from when?").try_flag("--ripe-seed", "1nov")
                );
            }
        };
        let facts = match world.ledger.exists() {
            true => Some(world.ask()?.1),
            false => None,
        };
        let typed = TypedPace {
            up: self.to_up.map(Into::into),
            flower: self.to_flower.map(Into::into),
            ripe: self.to_ripe.map(Into::into),
            dry: self.drying.map(Into::into),
        };
        self.check_spans()?;
        let beliefs = Assumptions::of(facts.as_ref().unwrap_or(&Facts::default()));
        let paces = self.species_asked(facts.as_ref())?.into_iter();
        let paces: Vec<(String, Pace)> = paces
            .map(|species| {
                let own = facts
                    .as_ref()
                    .map_or_else(OwnDays::default, |facts| own_days(facts, &species, on));
                let pace = pace(&species, &beliefs, &own, &typed);
                (species, pace)
            })
            .collect();
        for (species, pace) in &paces {
            self.check_flowering(species, pace)?;
        }
        let n = u32::try_from(self.generations).expect("at most eight");
        let days = |pace: &Pace| match goal {
            Goal::RipeSeed(day) => back_from(day, pace, n),
            Goal::Sow(day) => on_from(day, pace, n),
        };
        let today = |pace: &Pace| on_from(on, pace, n);
        let mut answer = CalendarAnswer::new(goal, on, paces, &days, &today);
        answer.same_day_this_year = self.same_day_this_year(goal, on);
        Ok(world.answer(&answer))
    }

    /// Where a day was named without its year and is taken as one of a later year, because it is past in this: that day.
    fn same_day_this_year(&self, goal: Goal, on: Day) -> Option<Day> {
        let (Goal::RipeSeed(day) | Goal::Sow(day)) = goal;
        let typed = self.ripe_seed.as_ref().or(self.sow.as_ref())?;
        let last = Day::read(typed, on).ok()?;
        (day.year() > on.year() && last < on && last.year() == on.year()).then_some(last)
    }

    /// Refuses stretches of no days at all; seed can be sown undried.
    fn check_spans(&self) -> Result<(), Failure> {
        let stretches = [
            (
                "--to-up",
                self.to_up,
                "no seed is up on the day it is sown",
                "8-15",
            ),
            (
                "--to-flower",
                self.to_flower,
                "no plant flowers on the day it is sown",
                "60-90",
            ),
            (
                "--to-ripe",
                self.to_ripe,
                "no pod is ripe on the day of its pollination",
                "55-65",
            ),
        ];
        for (flag, stretch, why, instead) in stretches {
            if stretch.is_some_and(|stretch| stretch.fewest == 0) {
                return Err(Failure::usage(format!("{flag}: {why}")).try_flag(flag, instead));
            }
        }
        Ok(())
    }

    /// Refuses plants that flower before they are up, where one of the two was typed.
    fn check_flowering(&self, species: &str, pace: &Pace) -> Result<(), Failure> {
        let (up, flower) = (pace.up, pace.flower);
        if flower.fewest > up.fewest && flower.most > up.most {
            return Ok(());
        }
        let (flag, instead) = match (self.to_flower, self.to_up) {
            (Some(_), _) => (
                "--to-flower",
                format!("{}-{}", up.fewest + 50, up.most + 80),
            ),
            (None, Some(_)) => ("--to-up", "8-15".to_owned()),
            (None, None) => return Ok(()),
        };
        Err(Failure::usage(format!(
            "no plant flowers before it is up: {species} is up {} after sowing and would flower {} after it",
            days(up),
            days(flower)
        ))
        .because("--to-flower counts from sowing, too")
        .try_flag(flag, instead))
    }

    /// The species as typed, else those of the ledger's plants, else the cultivated ones.
    fn species_asked(&self, facts: Option<&Facts>) -> Result<Vec<String>, Failure> {
        let there = facts.map_or_else(Vec::new, species_there);
        if self.species.is_empty() {
            return Ok(match there.is_empty() {
                true => CULTIVATED.map(str::to_owned).to_vec(),
                false => there,
            });
        }
        let mut found: Vec<String> = Vec::new();
        for typed in &self.species {
            let word = bare(typed);
            if !is_known(&word) && !there.contains(&word) {
                let near = nearest(&word, CULTIVATED.iter().copied());
                let best = near.first().map_or(CULTIVATED[0], String::as_str);
                return Err(Failure::refused(format!(
                    "--species: nothing is known of a species '{}'",
                    shown(typed)
                ))
                .because(format!("known are {} and wild ones", CULTIVATED.join(", ")))
                .try_flag("--species", best));
            }
            if !found.contains(&word) {
                found.push(word);
            }
        }
        Ok(found)
    }
}

/// `8 to 15 days`.
fn days(span: Span) -> String {
    match span.fewest == span.most {
        true => several(span.most.unsigned_abs(), "day", "days"),
        false => format!("{} to {} days", span.fewest, span.most),
    }
}

/// The species of the ledger's plants, each once.
fn species_there(facts: &Facts) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for plant in facts.plant.iter() {
        let species = species_of(facts, plant.id);
        found.extend(species.filter(|word| !word.is_empty() && !found.contains(word)));
    }
    found
}

fn day_ahead(flag: &'static str, text: &str, on: Day) -> Result<Day, Failure> {
    Day::read_ahead(text, on).map_err(|error| Failure::of_day(flag, &error))
}
