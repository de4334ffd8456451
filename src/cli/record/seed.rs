//! `set`, `harvest`, `packet`: from flower to seed.

use clap::{Args, ValueEnum};

use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::code::Code;
use crate::records::count::Count;
use crate::records::entry::{Claim, Entry, Harvest, Packet, PodSet, PollinationDay};
use crate::records::target::Target;

/// Record what became of the flowers of a pollination, in all so far
#[derive(Debug, Args)]
pub struct SetArgs {
    /// The cross
    cross: Code,
    /// How many became pods, in all so far
    #[arg(
        long,
        value_name = "N",
        allow_negative_numbers = true,
        required_unless_present = "dropped"
    )]
    pods: Option<Count>,
    /// How many dropped, in all so far
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    dropped: Option<Count>,
    /// The day of the pollination meant, where there were several
    #[arg(long, value_name = "DATE")]
    pollinated: Option<String>,
    /// Which one of that day, where there were several: 1, 2 and so on in the order recorded
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    nth: Option<Count>,
}

/// Record a harvest: one lot of seed (X1/1, X1/2 and so on); pods are kept apart by harvesting them apart
#[derive(Debug, Args)]
pub struct HarvestArgs {
    /// The cross
    cross: Code,
    /// How many pods
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    pods: Option<Count>,
    /// How many seeds
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    seeds: Option<Count>,
    /// The seeds are estimated, not counted
    #[arg(long, requires = "seeds")]
    about: bool,
    /// The day of the pollination they came from
    #[arg(long, value_name = "DATE")]
    pollinated: Option<String>,
    /// Where they are kept: "jar 4"
    #[arg(long, default_value = "", hide_default_value = true)]
    kept: String,
}

/// Record seed that came from elsewhere; it is sown by its parent's code
#[derive(Debug, Args)]
pub struct PacketArgs {
    /// The parent it is seed of
    plant: Target,
    /// How many seeds
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    seeds: Option<Count>,
    /// What stands on it
    #[arg(long, default_value = "", hide_default_value = true)]
    label: String,
    /// Who gave it, by an alias
    #[arg(long, default_value = "", hide_default_value = true)]
    giver: String,
    /// What the giver says it is
    #[arg(long, value_enum, ignore_case = true)]
    claim: Option<ClaimWord>,
    /// Where it is kept
    #[arg(long, default_value = "", hide_default_value = true)]
    kept: String,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum ClaimWord {
    /// Seed of a line
    Line,
    /// Seed of a hybrid's selfing
    #[value(name = "F2")]
    F2,
    /// Open pollinated
    Open,
}

/// The day of a pollination as typed: a day, or `unknown`.
fn pollination_day(text: Option<String>, world: &World) -> Result<Option<PollinationDay>, Failure> {
    let read = |text: String| -> Result<PollinationDay, Failure> {
        if text.trim().eq_ignore_ascii_case("unknown") {
            return Ok(PollinationDay::Unknown);
        }
        world
            .read_day("--pollinated", &text)
            .map(PollinationDay::On)
    };
    text.map(read).transpose()
}

impl SetArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self, world: &World) -> Result<Entry, Failure> {
        Ok(Entry::PodSet(PodSet {
            cross: self.cross,
            pods: self.pods,
            dropped: self.dropped,
            pollinated: pollination_day(self.pollinated, world)?,
            nth: self.nth,
            day: world.day()?,
        }))
    }
}

impl HarvestArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self, world: &World) -> Result<Entry, Failure> {
        Ok(Entry::Harvest(Harvest {
            cross: self.cross,
            pods: self.pods,
            seeds: self.seeds,
            about: self.about,
            pollinated: pollination_day(self.pollinated, world)?,
            kept: self.kept,
            day: world.day()?,
        }))
    }
}

impl PacketArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self, world: &World) -> Result<Entry, Failure> {
        let claim = self.claim.map(|word| match word {
            ClaimWord::Line => Claim::Line,
            ClaimWord::F2 => Claim::F2,
            ClaimWord::Open => Claim::Open,
        });
        Ok(Entry::Packet(Packet {
            plant: self.plant,
            seeds: self.seeds,
            label: self.label,
            giver: self.giver,
            claim,
            kept: self.kept,
            day: world.day()?,
        }))
    }
}
