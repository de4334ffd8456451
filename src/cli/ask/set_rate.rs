//! `set-rate`: how many flowers set, and what it proves where none did.

use clap::{Args, ValueEnum};

use super::thing::find;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::growing::sets::{SetBy, sets};
use crate::records::facts::Facts;
use crate::records::rows::Thing;
use crate::report::set_rate::SetRateAnswer;

/// Show how many flowers set, by direction, technique or week, and what it proves where none did
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  locule set-rate\n  locule set-rate X1\n  locule set-rate NL --by week\n  locule set-rate --by technique\n\nWhat became of flowers is recorded with: locule set X1 --pods 2 --dropped 1"
)]
pub struct SetRateArgs {
    /// Crosses, and parents as mother or father; without any, every pollination
    #[arg(value_name = "CROSS|PARENT")]
    of: Vec<String>,
    /// By what flowers are put together
    #[arg(long, value_name = "WHAT", value_enum, default_value_t = By::Direction)]
    by: By,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum By {
    /// Which of two plants was the mother
    Direction,
    /// How the flowers were treated
    Technique,
    /// The week of the pollination
    Week,
    /// The cross or self
    Cross,
    /// The mother
    Mother,
    /// The father
    Father,
    /// The species of mother and father
    Species,
}

impl From<By> for SetBy {
    fn from(by: By) -> Self {
        match by {
            By::Direction => Self::Direction,
            By::Technique => Self::Technique,
            By::Week => Self::Week,
            By::Cross => Self::Cross,
            By::Mother => Self::Mother,
            By::Father => Self::Father,
            By::Species => Self::Species,
        }
    }
}

impl SetRateArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read, a code is unknown or names no cross or parent, or nothing was
    /// pollinated.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let (_, facts) = world.ask()?;
        let crosses = crosses(&facts, &self.of)?;
        let found = sets(&facts, &crosses, self.by.into(), world.day()?);
        if found.total.pollinations == 0 {
            return Err(Failure::refused("nothing was pollinated yet")
                .try_typing("locule cross CW NL --flowers 3"));
        }
        Ok(world.answer(&SetRateAnswer::new(&found)))
    }
}

/// The crosses that are named, and those of parents that are; all where nothing is named.
fn crosses(facts: &Facts, of: &[String]) -> Result<Vec<i64>, Failure> {
    if of.is_empty() {
        return Ok(facts.cross.iter().map(|cross| cross.id).collect());
    }
    let mut found = Vec::new();
    for typed in of {
        let named = find(facts, typed)?;
        match named.thing {
            Thing::Cross => found.push(named.id),
            Thing::Plant => {
                let of_plant = facts
                    .cross
                    .iter()
                    .filter(|cross| [cross.mother_id, cross.father_id].contains(&named.id));
                let before = found.len();
                found.extend(of_plant.map(|cross| cross.id));
                if found.len() == before {
                    return Err(
                        Failure::refused(format!("{} was in no cross yet", named.label))
                            .try_typing(format!("locule cross {} NL", named.label)),
                    );
                }
            }
            Thing::Batch | Thing::Trait | Thing::Lot => {
                return Err(Failure::refused(format!(
                    "{} is a {}, not a cross or parent",
                    named.label, named.thing
                ))
                .try_typing("locule set-rate"));
            }
        }
    }
    Ok(found)
}
