//! The integration tests of locule, one module for each area.

#![expect(
    clippy::unwrap_used,
    reason = "a test that meets an error should fail with it"
)]

mod adopted;
mod adopting;
mod argued;
mod bad_input;
mod bad_notation;
mod beliefs;
mod beliefs_random;
mod cautions;
mod clashes;
mod cli_answers;
mod cli_copies;
mod cli_expect;
mod cli_frame;
mod cli_ledger;
mod cli_list;
mod cli_marks;
mod cli_trouble;
mod demo;
mod diagnosis_laws;
mod diagnosis_oracle;
mod docs;
mod evidence;
mod expectation_rows;
mod gene_models;
mod genetics_catalogue;
mod genetics_generations;
mod genetics_late;
mod genetics_laws;
mod genetics_linkage;
mod genetics_look;
mod genetics_notation;
mod genetics_pedigree;
mod genetics_progeny;
mod genetics_reference;
mod genetics_rules;
mod germination;
mod germination_reference;
mod goals;
mod grades;
mod house;
mod kept_offspring;
mod kinds;
mod learning;
#[path = "../shared/ledger_model.rs"]
mod ledger_model;
mod linkage_reference;
mod linked;
mod lost_label;
mod lost_label_looks;
mod mending;
mod mending_beside;
mod merging;
mod oracle;
mod pedigree;
mod pick;
mod pick_chances;
mod plan_cross;
mod plan_cross_words;
mod plans;
mod plans_calendar;
mod plans_ledger;
mod plans_line;
mod plans_line_words;
mod plans_words;
mod random_ledger;
mod random_season;
mod rank;
mod ratio;
mod recording;
mod recording_rules;
mod refusals;
mod remarked;
#[path = "../shared/season_truth/mod.rs"]
mod season_truth;
mod seasons;
mod sensitivity;
mod separation;
mod set_rate;
mod size;
mod stable;
mod stats_laws;
mod stats_reference;
mod store_laws;
mod support;
mod tasting;
mod telling_traits;
mod thinning;
mod two_samples;
mod upgrades;
mod why;
mod wide;
