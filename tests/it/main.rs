//! Every test that runs the program itself, in one binary.

mod cli_frame;
mod ratio;
mod support;
mod genetics_catalogue;
mod genetics_generations;
mod genetics_laws;
mod genetics_look;
mod genetics_notation;
mod genetics_reference;
mod genetics_rules;
mod house;
mod recording;
mod refusals;
mod stats_reference;
