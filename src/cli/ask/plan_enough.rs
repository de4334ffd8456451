//! `plan enough`: how many plants tell two ratios apart.

use clap::Args;

use super::plan_wishes::confidence;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::genetics::ratio::Ratio;
use crate::report::plan_enough::EnoughAnswer;
use crate::stats::exact_power::{Demand, NotEnough, enough};

/// How many plants tell two ratios apart by the exact test, whichever is true
#[derive(Debug, Args)]
#[command(
    after_help = "Examples (no ledger is needed):\n  locule plan enough 3:1 1:1\n  locule plan enough 9:7 3:1 --power 0.9 --size 0.01\n  locule plan enough 9:3:4 9:6:1\n  locule plan enough 1:0 3:1"
)]
pub struct EnoughArgs {
    /// One ratio: 3:1
    #[arg(value_name = "RATIO", allow_hyphen_values = true)]
    one: Ratio,
    /// The other, of the same classes in the same order: 1:1
    #[arg(value_name = "OTHER", allow_hyphen_values = true)]
    other: Ratio,
    /// How often the wrong one is to be ruled out
    #[arg(long, value_name = "CHANCE", default_value = "0.95", allow_hyphen_values = true, value_parser = confidence)]
    power: f64,
    /// How often the right one may be
    #[arg(long, value_name = "CHANCE", default_value = "0.05", allow_hyphen_values = true, value_parser = confidence)]
    size: f64,
}

impl EnoughArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ratios say the same, have different classes, or are too near to one another.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let parts = |ratio: &Ratio| ratio.parts().iter().map(|n| *n as f64).collect::<Vec<_>>();
        let (one, other) = (parts(&self.one), parts(&self.other));
        if one.len() != other.len() {
            return Err(Failure::usage(format!(
                "{} has {} classes and {} has {}",
                self.one,
                one.len(),
                self.other,
                other.len()
            ))
            .because("name the same classes in both, 0 for one that does not come: 9:7:0")
            .try_typing("locule plan enough 9:3:4 9:7:0"));
        }
        let demand = Demand {
            power: self.power,
            size: self.size,
        };
        let found = enough(&one, &other, demand).map_err(|error| self.refused(error))?;
        let ratios = [self.one.to_string(), self.other.to_string()];
        Ok(world.answer(&EnoughAnswer::new(ratios, demand, &found)))
    }

    fn refused(&self, error: NotEnough) -> Failure {
        match error {
            NotEnough::Same => Failure::refused(format!(
                "{} and {} are the same ratio; no number of plants tells them apart",
                self.one, self.other
            ))
            .try_typing("locule plan enough 3:1 1:1"),
            NotEnough::TooMany => self.too_many(),
        }
    }

    /// The sums over every outcome grow with the classes, and with the plants that near ratios take.
    fn too_many(&self) -> Failure {
        let classes = self.one.parts().len();
        let (one, other) = (&self.one, &self.other);
        let failure = Failure::refused(match classes {
            0..=MANY_CLASSES => format!(
                "{one} and {other} are so near to one another, for {classes} classes, that the exact sum is too long"
            ),
            _ => format!("with {classes} classes the exact sum is too long"),
        });
        let parts = |ratio: &Ratio| ratio.parts().iter().map(|n| *n as f64).collect::<Vec<_>>();
        let less = Demand {
            power: LESS_POWER,
            size: self.size,
        };
        let is_less_enough =
            self.power > LESS_POWER && enough(&parts(one), &parts(other), less).is_ok();
        match is_less_enough {
            true => failure
                .because("lump classes that both give alike, or ask for less")
                .try_flag("--power", LESS_POWER.to_string()),
            false if classes == 2 => failure
                .because(
                    "so near they take more plants than are counted; compare ratios further apart",
                )
                .try_typing("locule plan enough 9:7 3:1"),
            false => failure
                .because(
                    "lump classes that both give alike: 9:3:3:1 as 9:7, or as 3:1 gene by gene",
                )
                .try_typing("locule plan enough 9:7 3:1"),
        }
    }
}

/// With more classes than these it is their number that makes the sum long (design choice).
const MANY_CLASSES: usize = 4;

/// The power that is offered instead.
const LESS_POWER: f64 = 0.8;
