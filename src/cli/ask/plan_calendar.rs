//! `plan calendar`: when to sow and to cross so that seed is ripe in time.

use std::str::FromStr;

use clap::Args;

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
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=8))]
    generations: u32,
    /// A species; again for several. Without it those of the ledger, or the five cultivated ones
    #[arg(long, value_name = "SPECIES")]
    species: Vec<String>,
    /// How long from sowing until seed is up: 8-14, 2w
    #[arg(long, value_name = "DAYS")]
    to_up: Option<Stretch>,
    /// How long from sowing until the first flower
    #[arg(long, value_name = "DAYS")]
    to_flower: Option<Stretch>,
    /// How long from pollination until the seed is ripe
    #[arg(long, value_name = "DAYS")]
    to_ripe: Option<Stretch>,
    /// How long seed is cleaned and dried
    #[arg(long, value_name = "DAYS")]
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
        let (fewest, most) = numbers.split_once('-').unwrap_or((numbers, numbers));
        let read = |number: &str| number.trim().parse::<i64>().ok().map(|n| n * times);
        let form = || "write days, 60, or the fewest and the most, 55-65".to_owned();
        let (fewest, most) = read(fewest).zip(read(most)).ok_or_else(form)?;
        match fewest <= most && (0..=LONGEST).contains(&fewest) && most <= LONGEST {
            true => Ok(Self { fewest, most }),
            false => Err(format!(
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
        if let (Some(up), Some(flower)) = (typed.up, typed.flower)
            && (flower.fewest < up.fewest || flower.most < up.most)
        {
            return Err(Failure::usage(
                "no plant flowers before it is up: --to-flower counts from sowing, too",
            )
            .try_flag("--to-flower", "60-90"));
        }
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
        let n = self.generations;
        let days = |pace: &Pace| match goal {
            Goal::RipeSeed(day) => back_from(day, pace, n),
            Goal::Sow(day) => on_from(day, pace, n),
        };
        let today = |pace: &Pace| on_from(on, pace, n);
        Ok(world.answer(&CalendarAnswer::new(goal, on, paces, &days, &today)))
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
