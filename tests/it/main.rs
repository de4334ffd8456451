//! The integration tests of locule, one module for each area.

mod genetics_catalogue;
mod genetics_generations;
mod genetics_laws;
mod genetics_look;
mod genetics_notation;
mod genetics_reference;
mod genetics_rules;
mod house;
mod stats_laws;
mod stats_reference;
