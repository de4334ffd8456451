//! `adopt`: a seedling kept as what it probably is.
//!
//! What it may be is worked out by the diagnosis and recorded with the command, so that the entry says by itself what was
//! believed on that day and is told again without asking anew.

use clap::Args;

use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::remedy::joined;
use crate::cli::world::{World, unquoted};
use crate::diagnosis::parentage::{ParentOdds, parentage};
use crate::records::admit::plant_meant;
use crate::records::code::Code;
use crate::records::day::Day;
use crate::records::entry::{Adoption, Entry};
use crate::records::facts::Facts;
use crate::records::parentage::{Odd, Parentage};
use crate::records::target::Target;
use crate::report::adopted::AdoptedAnswer;

/// Shown under the help.
pub const EXAMPLES: &str = "Examples (its likeliest parents; those you believe in):\n  locule adopt T1-03 NT \"Night Twin\"\n  locule adopt T1-03 NT --as self\n  locule adopt T1-03 NT --as CW/NL\n\n'locule why T1-03' shows what it may be; 'locule parent add NT --from T1-03' keeps it as labelled.";

/// Keep a seedling as what it probably is
///
/// Its pedigree then says its likely parents, that it is an accident and how sure that was. What is known of genotypes
/// goes on weighing it in its tray, with everything it may be.
#[derive(Debug, Args)]
pub struct AdoptArgs {
    /// The seedling: T1-03
    seedling: Target,
    /// A code for it, as it will stand on tags; without one it is called by its place
    code: Option<Code>,
    /// Its name: "Night Twin"
    name: Option<String>,
    /// The parents you believe in, where not the likeliest: self; the plant whose pollen it was (NL); the cross whose
    /// seed it was (X4); mother/father (CW/NL); unknown-pollen; unknown-seed
    #[arg(long = "as", value_name = "PARENTS")]
    chosen: Option<Parentage>,
    /// What it may be, with chances (CW/NL=0.82,CW/CW=0.1); worked out from everything recorded where not said
    #[arg(long, value_name = "PARENTS=P", value_delimiter = ',')]
    odds: Vec<Odd>,
}

impl AdoptArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self, world: &World) -> Result<Entry, Failure> {
        Ok(Entry::Adoption(Adoption {
            seedling: self.seedling,
            code: self.code,
            name: self.name,
            chosen: self.chosen,
            odds: self.odds,
            day: world.day()?,
        }))
    }

    /// Works out what the seedling may be, and records it.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be written or the gate refuses the entry.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let Entry::Adoption(mut entry) = self.entry(world)? else {
            unreachable!("an adoption was made")
        };
        let mut command = world.command.clone();
        if entry.odds.is_empty() {
            let (_, facts) = world.ask()?;
            entry.odds = worked_out(&facts, &facts, entry.day, &entry.seedling)?;
            if let Some(words) = unquoted(&command) {
                command = joined(&with_odds(words, &entry.odds));
            }
        }
        let recorded = world.record_as(&Entry::Adoption(entry), &command)?;
        let answer = AdoptedAnswer::new(recorded.entry, &recorded.facts, &recorded.admitted);
        let outcome = world.answer(&answer).kept(recorded.entry);
        if !world.json {
            for note in &answer.recorded.notes {
                world.remark(format!("note: {note}"));
            }
        }
        Ok(outcome)
    }
}

/// Parents less likely than this are left out.
const LEAST: f64 = 0.0005;

/// What a seedling may be by what was known `then`, in the names that plants have `now`; nothing where the diagnosis says
/// nothing of it.
///
/// # Errors
/// [`Failure`] where a stored text cannot be read.
pub fn worked_out(
    then: &Facts,
    now: &Facts,
    day: Day,
    seedling: &Target,
) -> Result<Vec<Odd>, Failure> {
    let Ok(plant) = plant_meant(now, seedling, day) else {
        return Ok(Vec::new());
    };
    let known = parentage(then, day, plant)?;
    let odd = |one: &ParentOdds| {
        let target = |id: i64| now.label_of_plant(id).parse::<Target>().ok();
        let of = match (one.mother, one.father) {
            (Some(mother), Some(father)) => Parentage::Pair(target(mother)?, Some(target(father)?)),
            (Some(mother), None) => Parentage::Pair(target(mother)?, None),
            (None, _) => Parentage::UnknownSeed,
        };
        let chance = format!("{:.4}", one.p);
        Some(Odd { of, chance })
    };
    Ok(known
        .iter()
        .filter(|one| one.p >= LEAST)
        .filter_map(odd)
        .collect())
}

/// The words with what the seedling may be.
#[must_use]
pub fn with_odds(mut words: Vec<String>, odds: &[Odd]) -> Vec<String> {
    if odds.is_empty() {
        return words;
    }
    let said: Vec<String> = odds.iter().map(ToString::to_string).collect();
    let at = words.iter().position(|word| word == "--");
    let at = at.unwrap_or(words.len());
    words.splice(at..at, ["--odds".to_owned(), said.join(",")]);
    words
}
