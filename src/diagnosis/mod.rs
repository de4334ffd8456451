//! What can have gone wrong with a batch of seedlings, and how sure that is.
//!
//! Pure: facts and "today" come in, numbers and reasons go out ([`answer`]); no clock, file, database or
//! terminal. [`suspects::suspects`] is the way in. Behind it: what counts as evidence ([`index`],
//! [`dates`], [`evidence`]), how
//! likely readings are ([`paces`],
//! [`series`]), which loci are handed on together ([`groups`]), what can have gone wrong ([`sources`]), one batch as a model ([`batch`],
//! [`terms`]) and its posterior ([`posterior`]), what is known of plants ([`plants`], [`belief`]), what the label
//! promises ([`word`]) and what it all means for the bench ([`verdict`]); whether that would stand if something were
//! otherwise ([`sensitivity`]), what to score next ([`telling_trait`]) and the whole argument for one seedling ([`why`]).
//! Which of the season's crosses a pot without a label is of: [`lost_label`].
//! What the ledger's own trays teach: when late classes show ([`late_colour`]) and how often something goes wrong
//! ([`mishaps`]). Which plants to keep by the goals set ([`rank`]), with
//! what grades say ([`grades`]).

pub mod answer;
pub mod apart;
mod argument;
pub mod batch;
mod batch_weights;
pub mod belief;
pub mod better_known;
pub mod candidates;
mod chances;
pub mod clash;
pub mod context;
pub mod control_pot;
pub mod counts;
pub mod dates;
pub mod donors;
pub mod evidence;
pub mod expectation;
mod family;
mod family_blocks;
mod family_origins;
mod family_summed;
pub mod frame;
pub mod frozen;
pub mod gene_models;
pub mod genotypes;
pub mod grades;
mod graph;
pub mod group;
pub mod groups;
pub mod index;
pub mod kept;
mod kept_offspring;
pub mod kin;
pub mod late_colour;
pub mod late_colour_batches;
pub mod late_colour_more;
pub mod late_colour_parents;
pub mod leaf_clock;
pub mod looks;
pub mod lost_label;
mod measured;
pub mod membership;
pub mod mishaps;
pub mod mishaps_batches;
mod mishaps_climb;
pub mod mishaps_spared;
mod odd_parents;
mod odd_readings;
pub mod open_parent;
pub mod paces;
pub mod parentage;
pub mod plants;
pub mod posterior;
pub mod pulling;
pub mod rank;
pub mod reason;
pub mod recipe;
mod related;
pub mod remarks;
mod runts;
mod said;
mod second_thoughts;
pub mod selfs_unseen;
pub mod sensitivity;
pub mod series;
pub mod set_aside;
pub mod sources;
pub mod space;
pub mod split;
pub mod stable;
pub mod suspects;
pub mod tail;
mod telling_table;
pub mod telling_trait;
pub mod terms;
pub mod together;
pub mod told;
mod totals;
pub mod two_point;
pub mod unscored;
pub mod verdict;
mod weighed;
mod weighing;
pub mod weights;
pub mod why;
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
}
