//! `germination`: how seed came up, by tray, lot, cross, parent, direction, species or year.

use clap::{Args, ValueEnum};

use super::thing::{batches_by_parent, find};
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::growing::germination::{Asked, germination};
use crate::growing::grouping::Grouping;
use crate::growing::window::Warmth;
use crate::records::facts::Facts;
use crate::records::rows::Thing;
use crate::records::text::shown;
use crate::records::warmth::read_warmth;
use crate::report::germination::GerminationAnswer;

/// Show how seed came up: how many, how fast, what is not dead yet, groups compared
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  locule germination T1\n  locule germination X1 X2\n  locule germination --by direction\n  locule germination NL --by lot\n  locule germination T1 --warmth 21"
)]
pub struct GerminationArgs {
    /// Trays, crosses and parents; a parent of which itself nothing was sown stands for its crosses; without any, everything sown
    #[arg(value_name = "TRAY|CROSS|PARENT")]
    of: Vec<String>,
    /// By what trays are put together; without it crosses and parents by themselves, trays by themselves
    #[arg(long, value_name = "WHAT", value_enum)]
    by: Option<By>,
    /// How warm the soil was, in °C (24) or °F (75F): cold soil takes longer before seed is called dead
    #[arg(long, value_name = "DEGREES", allow_hyphen_values = true)]
    warmth: Option<String>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum By {
    /// Each tray by itself
    Tray,
    /// The lot of seed sown
    Lot,
    /// The cross, self or parent sown
    Cross,
    /// The mother
    Mother,
    /// The father
    Father,
    /// Which of two plants was the mother
    Direction,
    /// The species of mother and father
    Species,
    /// The year of sowing
    Year,
    /// How many years old the seed was when sown
    Age,
}

impl From<By> for Grouping {
    fn from(by: By) -> Self {
        match by {
            By::Tray => Self::Tray,
            By::Lot => Self::Lot,
            By::Cross => Self::Cross,
            By::Mother => Self::Mother,
            By::Father => Self::Father,
            By::Direction => Self::Direction,
            By::Species => Self::Species,
            By::Year => Self::Year,
            By::Age => Self::Age,
        }
    }
}

impl GerminationArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read, a code is unknown, nothing was sown, or the warmth is one at which
    /// pepper seed does not come up.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let warmth = self.warmth.as_deref().map(warmth_of).transpose()?;
        let (_, facts) = world.ask()?;
        let rows = batches_by_parent(&facts, &self.of)?;
        if rows.is_empty() {
            return Err(
                Failure::refused("nothing was sown yet").try_typing("locule sow X1 --seeds 12")
            );
        }
        let by = match self.by {
            Some(by) => by.into(),
            None => usual(&facts, &self.of)?,
        };
        let on = world.day()?;
        let asked = Asked { by, on, warmth };
        let found = germination(&facts, &rows, asked);
        if found.trays.is_empty() && found.uncounted.is_empty() {
            return Err(Failure::refused(format!("nothing of it was sown by {on}"))
                .try_flag("--on", "today"));
        }
        Ok(world.answer(&GerminationAnswer::new(&found)))
    }
}

/// Trays that are named, and those of a single cross or parent, stand by themselves; everything there is, and several
/// crosses and parents, each together.
fn usual(facts: &Facts, of: &[String]) -> Result<Grouping, Failure> {
    Ok(if of.len() == 1 || names_tray(facts, of)? {
        Grouping::Tray
    } else {
        Grouping::Cross
    })
}

/// Whether one of the codes typed is that of a tray.
///
/// # Errors
/// [`Failure`] where a code is unknown.
pub fn names_tray(facts: &Facts, of: &[String]) -> Result<bool, Failure> {
    for typed in of {
        if find(facts, typed)?.thing == Thing::Batch {
            return Ok(true);
        }
    }
    Ok(false)
}

fn warmth_of(typed: &str) -> Result<Warmth, Failure> {
    let of_soil = read_warmth(typed).map(|(_, celsius)| celsius);
    let number = || typed.trim().parse().ok().filter(|n: &f64| n.is_finite());
    let Some(celsius) = of_soil.or_else(number) else {
        return Err(Failure::usage(format!(
            "--warmth {} is no warmth; write degrees Celsius, 24, or Fahrenheit, 75F",
            shown(typed)
        ))
        .try_flag("--warmth", "25"));
    };
    Warmth::new(celsius).map_err(|celsius| {
        let why = if celsius < 15.0 {
            "at 10 °C 1 in 100 came up at all, from 15 °C on 70 (Harrington and Minges 1954)"
        } else {
            "at 40 °C none came up, at 35 °C 70 in 100 (Harrington and Minges 1954)"
        };
        Failure::usage(format!(
            "a warmth of {celsius} °C is outside 15 to 35 °C, where pepper seed comes up"
        ))
        .because(why)
        .try_flag("--warmth", "25")
    })
}
