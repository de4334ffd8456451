//! `cull`, `thin`, `died`, `pot-up`: what became of seedlings.

use clap::Args;

use super::typed;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::code::Code;
use crate::records::entry::{Entry, Fates};
use crate::records::rows::FateKind;

/// Record what became of seedlings; their readings stay evidence.
///
/// Seedlings: `T1-02 T1-03`, or `T1 1-6,9`. Those read so in a tray, a cell or some cells: `T1 green 2`, `T1-02
/// green`, `T1 7-8 green`. Seedlings with the look they have as they go: `T1 7-8=green`. A bare number is a
/// count: `T1 3`.
#[derive(Debug, Args)]
pub struct FateArgs {
    /// The seedlings
    #[arg(
        required = true,
        allow_negative_numbers = true,
        value_name = "SEEDLINGS"
    )]
    words: Vec<String>,
    /// The trait that the class words belong to
    #[arg(long = "trait", value_name = "TRAIT")]
    of: Option<Code>,
    /// Why
    #[arg(
        long,
        value_name = "TEXT",
        default_value = "",
        hide_default_value = true
    )]
    why: String,
}

/// Record seedlings pulled to give the others room; words as of `cull`
#[derive(Debug, Args)]
#[command(
    after_help = "Examples (the first and last name seedlings, the second any three, the third two of a cell; the last says how they look):\n  locule thin T1-02 T1-03\n  locule thin T1 3 --blind\n  locule thin T1-02 2\n  locule thin T1 1-6,9=green"
)]
pub struct ThinArgs {
    #[command(flatten)]
    fate: FateArgs,
    /// They were chosen without regard to their looks
    #[arg(long)]
    blind: bool,
}

impl FateArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self, world: &World, kind: FateKind) -> Result<Entry, Failure> {
        self.make(world, kind, false)
    }

    fn make(self, world: &World, kind: FateKind, blind: bool) -> Result<Entry, Failure> {
        let whom = typed::whom(kind.command(), &self.words)?;
        let day = world.day()?;
        Ok(Entry::Fate(Fates {
            kind,
            whom,
            of: self.of,
            blind,
            why: self.why,
            day,
        }))
    }
}

impl ThinArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self, world: &World) -> Result<Entry, Failure> {
        self.fate.make(world, FateKind::Thinned, self.blind)
    }
}
