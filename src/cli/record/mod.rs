//! Commands that record: one file per kind, with the arguments and the entry they make.
//!
//! Nothing is judged here beyond the form of words; [`book`] brings an entry through the gate into the
//! ledger and answers with what was recorded.

pub mod adopt;
pub mod amend;
pub mod assume;
pub mod book;
pub mod care;
pub mod cross;
pub mod fate;
pub mod goal;
pub mod grade;
pub mod locus;
pub mod parent;
pub mod photo;
mod renamed;
pub mod score;
pub mod seed;
pub mod sow;
pub mod species;
pub mod traits;
pub mod typed;
pub mod up;

use clap::Subcommand;

use super::exit::Outcome;
use super::failure::Failure;
use super::world::World;
use crate::records::entry::Entry;
use crate::records::rows::FateKind;

/// A command that records.
#[derive(Debug, Subcommand)]
pub enum Record {
    /// Record parents, and when they were in flower
    #[command(display_order = 2)]
    Parent(parent::ParentArgs),
    /// Record what is known of a locus
    #[command(display_order = 21)]
    Locus(locus::LocusArgs),
    /// Record traits and gene models, switch them on and off
    #[command(display_order = 20)]
    Trait(traits::TraitArgs),
    /// Record what is bred for: looks that a plant must have, is wanted to have, or is not to have
    #[command(display_order = 20)]
    Goal(goal::GoalArgs),
    /// Record a pollination, mother first
    #[command(display_order = 3)]
    Cross(cross::CrossArgs),
    /// Record a pollination of a plant by itself
    #[command(name = "self", display_order = 4)]
    Selfing(cross::SelfArgs),
    /// Record what became of the flowers
    #[command(display_order = 5)]
    Set(seed::SetArgs),
    /// Record a harvest of a cross
    #[command(display_order = 6)]
    Harvest(seed::HarvestArgs),
    /// Record seed that came from elsewhere
    #[command(display_order = 7)]
    Packet(seed::PacketArgs),
    /// Record a sowing
    #[command(display_order = 8)]
    Sow(sow::SowArgs),
    /// Record how many are up
    #[command(display_order = 9)]
    Up(up::UpArgs),
    /// Record what seedlings or parents look like
    #[command(display_order = 10)]
    Score(score::ScoreArgs),
    /// Record grades of a plant: how hot, how sweet, by pod and taster
    #[command(display_order = 10)]
    Grade(grade::GradeArgs),
    /// Record seedlings pulled as not wanted
    #[command(
        display_order = 11,
        after_help = "Examples (the second names seedlings by their cells, the third two of the look green, the last any three):\n  locule cull T1-02 T1-03\n  locule cull T1 1-6,9 --why \"still green\"\n  locule cull T1 green 2\n  locule cull T1 3"
    )]
    Cull(fate::FateArgs),
    /// Record seedlings pulled to give the others room
    #[command(display_order = 12)]
    Thin(fate::ThinArgs),
    /// Record seedlings that died
    #[command(
        display_order = 13,
        after_help = "Examples (the second names seedlings by their cells, the last any two):\n  locule died T1-04\n  locule died T1 1-6,9\n  locule died T1 2"
    )]
    Died(fate::FateArgs),
    /// Record seedlings moved on to pots of their own
    #[command(
        display_order = 14,
        after_help = "Examples (the second names seedlings by their cells, the last all of the look purple):\n  locule pot-up T1-04 T1-05\n  locule pot-up T1 1-6,9\n  locule pot-up T1 purple"
    )]
    PotUp(fate::FateArgs),
    /// Record a seedling that is kept as what it probably is, not as labelled
    #[command(display_order = 14, after_help = adopt::EXAMPLES)]
    Adopt(adopt::AdoptArgs),
    /// Record a treatment
    #[command(display_order = 15)]
    Care(care::CareArgs),
    /// Record measures of a plant
    #[command(display_order = 16)]
    Measure(care::MeasureArgs),
    /// Record a remark
    #[command(display_order = 17)]
    Note(care::NoteArgs),
    /// Record pictures
    #[command(display_order = 18)]
    Photo(photo::PhotoArgs),
    /// Show or change the starting beliefs
    #[command(display_order = 19)]
    Assume(assume::AssumeArgs),
    /// Show how hard species are to cross, or say so
    #[command(display_order = 19)]
    Species(species::SpeciesArgs),
    /// Correct an older entry, and show what that changes in today's answers
    #[command(display_order = 28, after_help = amend::EXAMPLES)]
    Amend(amend::AmendArgs),
}

impl Record {
    /// Carries the command out.
    ///
    /// # Errors
    /// [`Failure`] in words, with its exit status.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        match self {
            Self::Amend(args) => args.run(world),
            Self::Adopt(args) => args.run(world),
            Self::Assume(args) => args.run(world),
            Self::Species(args) => args.run(world),
            Self::Trait(args) => args.run(world),
            Self::Goal(args) => args.run(world),
            other => {
                let entry = other.entry(world)?;
                book::record(world, &entry.expect("these commands only record"))
            }
        }
    }

    /// The entry of what was typed; nothing where it only asks, or corrects another.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self, world: &World) -> Result<Option<Entry>, Failure> {
        match self {
            Self::Amend(_) => return Ok(None),
            Self::Assume(args) => return args.entry(),
            Self::Species(args) => return Ok(args.entry()),
            Self::Trait(args) => return args.entry(),
            Self::Adopt(args) => args.entry(world),
            Self::Goal(args) => return args.entry(),
            Self::Parent(args) => args.entry(world),
            Self::Locus(args) => args.entry(),
            Self::Cross(args) => args.entry(world),
            Self::Selfing(args) => args.entry(world),
            Self::Set(args) => args.entry(world),
            Self::Harvest(args) => args.entry(world),
            Self::Packet(args) => args.entry(world),
            Self::Sow(args) => args.entry(world),
            Self::Up(args) => args.entry(world),
            Self::Score(args) => args.entry(world),
            Self::Grade(args) => args.entry(world),
            Self::Cull(args) => args.entry(world, FateKind::Culled),
            Self::Thin(args) => args.entry(world),
            Self::Died(args) => args.entry(world, FateKind::Died),
            Self::PotUp(args) => args.entry(world, FateKind::PottedUp),
            Self::Care(args) => args.entry(world),
            Self::Measure(args) => args.entry(world),
            Self::Note(args) => args.entry(world),
            Self::Photo(args) => args.entry(world),
        }
        .map(Some)
    }
}
