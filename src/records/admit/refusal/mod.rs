//! Why the gate turns an entry away: the value, the record it meets, and the remedy.
//!
//! Small enums by subject; each message stands alone and each has a command to type. Made by the gate's
//! files, put before the user by the command line.

mod adopting;
mod doubt;
mod genes;
mod identity;
mod look;
mod remedy;

pub use adopting::Adopting;
pub use doubt::{Excess, Order};
pub use genes::GeneRefusal;
pub(super) use identity::UNKNOWN_DAY;
pub use identity::{Identity, Wanted};
pub use look::LookRefusal;
pub use remedy::Remedy;

use crate::records::assumptions::AssumeError;
use crate::records::genes::UnreadableRow;
use crate::records::text::TextError;

/// What sort of refusal it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Impossible in form or identity: never recorded.
    Impossible,
    /// Merely implausible: recorded when `--even-so` is given.
    Implausible,
    /// A name the ledger doesn't know.
    Unknown,
    /// Words that could mean several things.
    Ambiguous,
    /// Words that go against each other, whatever the ledger holds.
    Contrary,
}

/// Why an entry is turned away.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// A text that cannot be kept.
    #[error(transparent)]
    Text(#[from] TextError),
    /// A name unknown, taken, or of another kind of thing.
    #[error(transparent)]
    Identity(#[from] Identity),
    /// A seedling that is not kept as what it probably is.
    #[error(transparent)]
    Adopting(#[from] Adopting),
    /// Days in an order that cannot be.
    #[error(transparent)]
    Order(#[from] Order),
    /// Counts that do not add up.
    #[error(transparent)]
    Excess(#[from] Excess),
    /// Class words and looks.
    #[error(transparent)]
    Look(#[from] LookRefusal),
    /// Loci, genotypes, traits and their models.
    #[error(transparent)]
    Gene(#[from] GeneRefusal),
    /// A starting belief.
    #[error(transparent)]
    Assume(#[from] AssumeError),
}

impl From<UnreadableRow> for Refusal {
    fn from(row: UnreadableRow) -> Self {
        GeneRefusal::from(row).into()
    }
}

impl Refusal {
    /// What sort of refusal it is.
    #[must_use]
    pub const fn kind(&self) -> Kind {
        match self {
            Self::Text(_) | Self::Adopting(_) => Kind::Impossible,
            Self::Identity(refusal) => refusal.kind(),
            Self::Order(Order::Backwards { .. }) => Kind::Impossible,
            Self::Order(_) => Kind::Implausible,
            Self::Excess(refusal) => refusal.kind(),
            Self::Look(refusal) => refusal.kind(),
            Self::Gene(refusal) => refusal.kind(),
            Self::Assume(AssumeError::UnknownKey(_)) => Kind::Unknown,
            Self::Assume(_) => Kind::Impossible,
        }
    }

    /// What to type next.
    #[must_use]
    pub fn remedy(&self) -> Remedy {
        match self {
            Self::Text(error) => remedy_of_text(error),
            Self::Identity(refusal) => refusal.remedy(),
            Self::Adopting(refusal) => refusal.remedy(),
            Self::Order(refusal) => refusal.remedy(),
            Self::Excess(refusal) => refusal.remedy(),
            Self::Look(refusal) => refusal.remedy(),
            Self::Gene(refusal) => refusal.remedy(),
            Self::Assume(refusal) => Remedy::Command(refusal.hint()),
        }
    }
}

/// Names that may be left out altogether.
const OPTIONAL: [&str; 4] = ["name", "species", "organ", "source"];

fn remedy_of_text(error: &TextError) -> Remedy {
    match error {
        TextError::Empty(what) if OPTIONAL.contains(what) => Remedy::WithoutBlanks,
        TextError::Empty(_) => Remedy::Help,
        TextError::TooLong { what: "remark", .. } => {
            Remedy::Advice("split it into several remarks".to_owned())
        }
        TextError::TooLong { .. } => Remedy::Advice(
            "shorten it; what is longer fits a remark: locule note CODE TEXT".to_owned(),
        ),
        TextError::Form { .. } => Remedy::Help,
        TextError::Unshowable { .. } => Remedy::Plain,
    }
}
