//! What can have gone wrong with a batch of seedlings, and how sure that is.
//!
//! Pure: facts and "today" come in, numbers and reasons go out ([`answer`]); no clock, file, database or
//! terminal. [`suspects::suspects`] is the way in. Behind it: what counts as evidence ([`evidence`]), how
//! likely readings are ([`series`]), what can have gone wrong ([`sources`]), one batch as a model ([`batch`],
//! [`terms`]) and its posterior ([`posterior`]), what is known of plants ([`plants`], [`belief`]), what the label
//! promises ([`word`]) and what it all means for the bench ([`verdict`]).

pub mod answer;
pub mod batch;
pub mod belief;
pub mod context;
pub mod counts;
pub mod evidence;
pub mod expectation;
pub mod looks;
pub mod plants;
pub mod posterior;
pub mod series;
pub mod sources;
pub mod space;
pub mod suspects;
pub mod terms;
pub mod unscored;
pub mod verdict;
pub mod word;

/// Why a question has no answer.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DiagnosisError {
    /// A stored text cannot be read: the ledger was altered by something else.
    #[error("{what} cannot be read: {why}")]
    Unreadable {
        /// The record.
        what: String,
        /// What is wrong with it.
        why: String,
    },
    /// The exact answer needs too large a table.
    #[error(
        "the exact answer needs a table of {needed} cells and {limit} are allowed; ask about fewer traits at once \
         (switch one off with 'trait off CODE')"
    )]
    TooLarge {
        /// Cells needed.
        needed: u128,
        /// Cells allowed.
        limit: u128,
    },
}
