//! `cross` and `self`: one pollination.

use clap::Args;

use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::code::Code;
use crate::records::count::Count;
use crate::records::entry::{Entry, NewPollination};
use crate::records::target::Target;

/// Record one pollination, mother first; anthers taken out unless said. The same --code again is a further
/// pollination of that cross. `--on unknown` for one long past
#[derive(Debug, Args)]
pub struct CrossArgs {
    /// The mother, whose flower it was
    mother: Target,
    /// The father, whose pollen it was
    father: Target,
    #[command(flatten)]
    how: How,
    /// The anthers were left in
    #[arg(long)]
    not_emasculated: bool,
}

/// Record one pollination of a plant by itself, anthers left in; flags as of `cross`
#[derive(Debug, Args)]
pub struct SelfArgs {
    /// The plant
    plant: Target,
    #[command(flatten)]
    how: How,
    /// The anthers were taken out, and the flower was pollinated from another of the plant
    #[arg(long, conflicts_with = "not_emasculated")]
    emasculated: bool,
    /// The anthers were left in (as is usual)
    #[arg(long)]
    not_emasculated: bool,
}

#[derive(Debug, Args)]
struct How {
    /// The code of the cross; without it the next of X1, X2 and so on
    #[arg(long)]
    code: Option<Code>,
    /// How many flowers
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    flowers: Option<Count>,
    /// The tool: tweezers
    #[arg(long, default_value = "", hide_default_value = true)]
    tool: String,
    /// The tool was cleaned before
    #[arg(long)]
    wiped: bool,
    /// The flower was covered
    #[arg(long)]
    covered: bool,
}

impl CrossArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self, world: &World) -> Result<Entry, Failure> {
        entry(
            world,
            self.mother,
            Some(self.father),
            self.how,
            !self.not_emasculated,
        )
    }
}

impl SelfArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self, world: &World) -> Result<Entry, Failure> {
        entry(world, self.plant, None, self.how, self.emasculated)
    }
}

fn entry(
    world: &World,
    mother: Target,
    father: Option<Target>,
    how: How,
    emasculated: bool,
) -> Result<Entry, Failure> {
    Ok(Entry::Pollination(NewPollination {
        mother,
        father,
        code: how.code,
        flowers: how.flowers,
        tool: how.tool,
        wiped: how.wiped,
        emasculated,
        covered: how.covered,
        day: world.day_or_unknown()?,
    }))
}
