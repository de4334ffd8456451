//! `sow`: a batch of one cross, self or parent.

use clap::Args;

use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::code::Code;
use crate::records::count::Count;
use crate::records::entry::{Entry, Sowing};
use crate::records::target::Target;

/// Record a sowing: a batch of seeds of one cross, self or parent. A cross without a recorded lot can be
/// sown too; its stock is then unknown
#[derive(Debug, Args)]
pub struct SowArgs {
    /// The cross, or the parent whose packet is sown; X1/2 names the lot
    source: Target,
    /// How many seeds
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    seeds: Count,
    /// The tray's code; without it the next of T1, T2 and so on
    #[arg(long)]
    tray: Option<Code>,
    /// In how many cells or pots; without it one per seed
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    cells: Option<Count>,
    /// Where it stands: tent
    #[arg(long, default_value = "", hide_default_value = true)]
    place: String,
    /// The lot's number, where there are several
    #[arg(long, value_name = "N", value_parser = lot_number, allow_negative_numbers = true)]
    lot: Option<i64>,
    /// In what medium
    #[arg(long, default_value = "", hide_default_value = true)]
    medium: String,
    /// Under what light
    #[arg(long, default_value = "", hide_default_value = true)]
    light: String,
    /// How warm the soil is, in °C, or in °F with an F: 24, 75F. Seed in cold soil is waited for longer
    #[arg(long, value_name = "DEGREES", allow_hyphen_values = true)]
    warmth: Option<String>,
}

fn lot_number(text: &str) -> Result<i64, &'static str> {
    let number = text.parse().ok().filter(|number| *number > 0);
    number.ok_or("a lot is a number from 1 up, such as 2 for X1/2")
}

impl SowArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self, world: &World) -> Result<Entry, Failure> {
        if let (Target::Lot(_, named), Some(lot)) = (&self.source, self.lot)
            && *named != lot
        {
            let source = &self.source;
            return Err(
                Failure::usage(format!("{source} and --lot {lot} name two lots"))
                    .try_typing(format!("locule sow {source} --seeds {}", self.seeds)),
            );
        }
        Ok(Entry::Sowing(Sowing {
            source: self.source,
            lot: self.lot,
            seeds: self.seeds,
            tray: self.tray,
            cells: self.cells,
            place: self.place,
            medium: self.medium,
            light: self.light,
            warmth: self.warmth,
            day: world.day()?,
        }))
    }
}
