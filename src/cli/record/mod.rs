//! Commands that record: one file per kind, with the arguments and the entry they make.
//!
//! Nothing is judged here beyond the form of words; [`book`] brings an entry through the gate into the
//! ledger and answers with what was recorded.

pub mod assume;
pub mod book;
pub mod care;
pub mod cross;
pub mod fate;
pub mod locus;
pub mod parent;
pub mod photo;
pub mod score;
pub mod seed;
pub mod sow;
pub mod traits;
pub mod typed;
pub mod up;

use clap::Subcommand;

use super::exit::Outcome;
use super::failure::Failure;
use super::session::Session;
use crate::records::entry::Entry;
use crate::records::rows::FateKind;

/// A command that records.
#[derive(Debug, Subcommand)]
pub enum Record {
    /// Enter parents, and when they were in flower
    Parent(parent::ParentArgs),
    /// Say what is known of a locus
    Locus(locus::LocusArgs),
    /// Enter traits and gene models, switch them on and off
    Trait(traits::TraitArgs),
    /// Record a pollination, mother first
    Cross(cross::CrossArgs),
    /// Record a pollination of a plant by itself
    #[command(name = "self")]
    Selfing(cross::SelfArgs),
    /// Record what became of the flowers
    Set(seed::SetArgs),
    /// Record a harvest of a cross
    Harvest(seed::HarvestArgs),
    /// Record seed that came from elsewhere
    Packet(seed::PacketArgs),
    /// Record a sowing
    Sow(sow::SowArgs),
    /// Record how many are up
    Up(up::UpArgs),
    /// Record what seedlings or parents look like
    Score(score::ScoreArgs),
    /// Record seedlings pulled as not wanted
    Cull(fate::FateArgs),
    /// Record seedlings pulled to give the others room
    Thin(fate::ThinArgs),
    /// Record seedlings that died
    Died(fate::FateArgs),
    /// Record seedlings moved on to pots of their own
    PotUp(fate::FateArgs),
    /// Record a treatment
    Care(care::CareArgs),
    /// Record measures of a plant
    Measure(care::MeasureArgs),
    /// Record a remark
    Note(care::NoteArgs),
    /// Record pictures
    Photo(photo::PhotoArgs),
    /// Show or change the starting beliefs
    Assume(assume::AssumeArgs),
}

impl Record {
    /// Carries the command out.
    ///
    /// # Errors
    /// [`Failure`] in words, with its exit status.
    pub fn run(self, session: &Session) -> Result<Outcome, Failure> {
        let entry: Result<Entry, Failure> = match self {
            Self::Assume(args) => return args.run(session),
            Self::Trait(args) => return args.run(session),
            Self::Parent(args) => args.entry(session),
            Self::Locus(args) => args.entry(),
            Self::Cross(args) => args.entry(session),
            Self::Selfing(args) => args.entry(session),
            Self::Set(args) => args.entry(session),
            Self::Harvest(args) => args.entry(session),
            Self::Packet(args) => args.entry(session),
            Self::Sow(args) => args.entry(session),
            Self::Up(args) => args.entry(session),
            Self::Score(args) => args.entry(session),
            Self::Cull(args) => args.entry(session, FateKind::Culled),
            Self::Thin(args) => args.entry(session),
            Self::Died(args) => args.entry(session, FateKind::Died),
            Self::PotUp(args) => args.entry(session, FateKind::PottedUp),
            Self::Care(args) => args.entry(session),
            Self::Measure(args) => args.entry(session),
            Self::Note(args) => args.entry(session),
            Self::Photo(args) => args.entry(session),
        };
        book::record(session, &entry?)
    }
}
