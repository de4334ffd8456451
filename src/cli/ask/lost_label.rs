//! `lost-label`: which of the season's crosses a pot without a label is of.

use clap::Args;

use super::thing::find;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::record::typed;
use crate::cli::world::World;
use crate::diagnosis::lost_label::{LostLabelError, Pot, StatedAge, lost_label};
use crate::records::admit::classes_seen;
use crate::records::facts::Facts;
use crate::records::rows::Thing;
use crate::report::lost_label::LostLabelAnswer;

/// Which of the season's crosses a pot without a label is of, from its looks, age and place. With --on DATE as on that
/// day
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  locule lost-label --looks purple,hairy\n  locule lost-label --looks maybe-green --age 30 --place tent\n  locule lost-label --looks purple --leaves 6\n  locule lost-label T9-01\n\nEvery seedling that stands without account may be it, seed in the box that was sown without a record, and one from\nelsewhere. Nothing is recorded."
)]
pub struct LostLabelArgs {
    /// A seedling of a tray whose label you do not trust: it goes by what was read of it
    #[arg(value_name = "SEEDLING", required_unless_present = "looks")]
    seedling: Option<String>,
    /// What it looks like: purple,hairy
    #[arg(long, value_name = "CLASSES", conflicts_with = "seedling")]
    looks: Option<String>,
    /// How many days ago it came up, about
    #[arg(
        long,
        value_name = "DAYS",
        conflicts_with = "seedling",
        value_parser = clap::value_parser!(i64).range(0..=3_650)
    )]
    age: Option<i64>,
    /// How many leaves it has, where the ledger knows your leaves by age
    #[arg(
        long,
        value_name = "N",
        conflicts_with_all = ["seedling", "age"],
        value_parser = clap::value_parser!(i64).range(0..=200)
    )]
    leaves: Option<i64>,
    /// Where it stands
    #[arg(
        long,
        value_name = "PLACE",
        conflicts_with = "seedling",
        default_value = "",
        hide_default_value = true
    )]
    place: String,
}

impl LostLabelArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read, a class or seedling is unknown, or nothing stands that it could be.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let (_, facts) = world.ask()?;
        let pot = self.pot(&facts)?;
        let found = lost_label(&facts, world.day()?, &pot).map_err(|error| self.failed(error))?;
        Ok(world.answer(&LostLabelAnswer(found)))
    }

    fn pot(&self, facts: &Facts) -> Result<Pot, Failure> {
        if let Some(typed) = &self.seedling {
            let found = find(facts, typed)?;
            return match found.thing {
                Thing::Plant => Ok(Pot::Seedling(found.id)),
                Thing::Batch => Err(Failure::refused(format!(
                    "{} is a whole tray, and one seedling is meant",
                    found.label
                ))
                .because(
                    "whether a whole tray is another cross, 'suspects' weighs as swapped labels",
                )
                .try_typing(format!("locule suspects {}", found.label))),
                _ => Err(Failure::refused(format!(
                    "{} is a {}, and a seedling is meant",
                    found.label, found.thing
                ))
                .try_typing("locule lost-label --looks purple")),
            };
        }
        let looks = typed::looks_of_one(self.looks.as_deref().unwrap_or_default())?;
        let age = match (self.age, self.leaves) {
            (Some(days), _) => Some(StatedAge::Days(days)),
            (None, leaves) => leaves.map(StatedAge::Leaves),
        };
        Ok(Pot::Unknown {
            classes: classes_seen(facts, &looks)?,
            age,
            place: self.place.clone(),
        })
    }

    fn failed(&self, error: LostLabelError) -> Failure {
        let seedling = self.seedling.as_deref();
        match error {
            LostLabelError::Unreadable(error) => error.into(),
            LostLabelError::NothingSeen => match seedling {
                Some(code) => Failure::refused(format!(
                    "nothing was read of {code} yet that tells anything"
                ))
                .try_typing(format!("locule score {code} green")),
                None => Failure::refused("nothing was seen of it that tells anything")
                    .try_typing("locule lost-label --looks purple"),
            },
            error @ LostLabelError::OnlyGrowth(_) => {
                let failure = Failure::refused(error.to_string());
                match seedling {
                    Some(code) => failure.try_typing(format!("locule score {code} green")),
                    None => failure.try_typing("locule lost-label --looks purple"),
                }
            }
            LostLabelError::NoSeedling => Failure::refused(format!(
                "{} is no seedling of a tray",
                seedling.unwrap_or_default()
            ))
            .try_typing(format!("locule pedigree {}", seedling.unwrap_or_default())),
            LostLabelError::NoLeafClock => Failure::refused(
                "the ledger knows too little of your leaves by age",
            )
            .because("it takes 8 readings with --leaves of seedlings whose coming up was counted")
            .try_typing(format!(
                "locule lost-label --looks {} --age 30",
                self.looks.as_deref().unwrap_or_default()
            )),
            LostLabelError::LeavesBeyond {
                leaves,
                fewest,
                most,
            } => Failure::refused(format!("{leaves} leaves are beyond what the ledger knows"))
                .because(format!(
                    "it knows the age of seedlings with {fewest} to {most} leaves"
                ))
                .try_typing(format!(
                    "locule lost-label --looks {} --age 30",
                    self.looks.as_deref().unwrap_or_default()
                )),
            LostLabelError::NothingFits => {
                Failure::refused("nothing that stands can look so at that age")
                    .because("a stranger could, but 'lost.stranger' is 0")
                    .try_typing("locule assume lost.stranger default")
            }
            LostLabelError::NothingStands => {
                Failure::refused("nothing that was sown within a year stands without account")
                    .try_typing("locule list trays")
            }
        }
    }
}
