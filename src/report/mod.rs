//! Answers put into words, tables and JSON.
//!
//! An [`Answer`] is a plain result struct that serialises to JSON by its field names and knows how to put
//! itself into words for a [`Page`]. Nothing here computes, reads the ledger or writes anywhere.

pub mod accept;
pub mod adopted;
pub mod amended;
pub mod assumptions;
pub mod conditions;
pub mod consequences;
pub mod copies;
pub mod expect;
pub mod gene_models;
pub mod genotype;
pub mod germination;
pub mod germination_compared;
pub mod germination_picture;
mod germination_seed_words;
mod germination_words;
pub mod goals;
pub mod grades;
pub mod history;
pub mod late_colour;
mod late_colour_words;
pub mod ledger;
pub mod linkage;
pub mod look;
pub mod lost_label;
pub mod meaning;
pub mod merge;
pub mod mishaps;
pub mod next_trait;
pub mod numbers;
pub mod onset_picture;
pub mod overview;
mod paper;
pub mod pedigree;
mod pedigree_words;
pub mod pick;
mod pick_commands;
mod pick_summary;
mod pick_words;
pub mod plan_beside;
pub mod plan_calendar;
pub mod plan_cross;
pub mod plan_cross_lines;
mod plan_cross_words;
pub mod plan_enough;
pub mod plan_known;
pub mod plan_line;
mod plan_line_words;
pub mod plan_seeds;
pub mod plan_sowing;
pub mod plan_space;
pub mod plan_which_mother;
mod plot;
pub mod pulling;
pub mod rank;
pub mod ratio;
pub mod ratio_trays;
pub mod reasons;
pub mod recorded;
mod remark_json;
pub mod remarks;
pub mod set_rate;
mod set_rate_words;
pub mod set_rate_zero;
pub mod sheet;
pub mod show;
mod show_things;
pub mod size;
pub mod species;
pub mod stable;
pub mod supposing;
pub mod suspects;
pub mod table;
pub mod tasting;
pub mod text;
pub mod traits;
pub mod why;
mod why_json;
pub mod why_unscored;

/// How wide words may run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Page {
    /// Columns.
    pub width: usize,
}

impl Default for Page {
    fn default() -> Self {
        Self { width: 80 }
    }
}

/// An answer to a question: JSON by its fields, words by [`Answer::words`].
pub trait Answer: serde::Serialize {
    /// The answer in plain words and tables.
    fn words(&self, page: Page) -> String;

    /// The answer as one JSON value on one line.
    fn json(&self) -> String {
        serde_json::to_string(self)
            .expect("answers hold only text, numbers, lists and named fields")
    }
}
