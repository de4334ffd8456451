//! The command line: arguments in, one answer out, an exit status.
//!
//! Each command has its own file with its arguments and its `run`; [`world::World`] is what a run
//! gets from the world (ledger path, today, flags), [`failure::Failure`] how it fails, and [`door`] the
//! only place that writes to standard output and standard error. Only `main.rs` calls this room.

pub mod args;
pub mod ask;
pub mod consequences;
pub mod demo;
pub mod door;
pub mod exit;
pub mod failure;
pub mod place_failure;
pub mod places;
pub mod record;
mod remarks;
pub mod remedy;
mod store_failure;
pub mod story;
pub mod world;

use std::process::ExitCode;

use exit::{Exit, Outcome};

/// Runs the program on its own arguments and environment.
#[must_use]
pub fn main() -> ExitCode {
    door::announce_bugs();
    let status = std::panic::catch_unwind(run).unwrap_or(Exit::Bug);
    ExitCode::from(status.code())
}

fn run() -> Exit {
    let typed: Vec<_> = std::env::args_os().collect();
    let outcome = match args::read(typed.clone()) {
        Ok(args) => carry_out(args, &typed),
        Err(outcome) => outcome,
    };
    door::tell(&outcome)
}

fn carry_out(args: args::Args, typed: &[std::ffi::OsString]) -> Outcome {
    let json = args.everywhere.json;
    let typed = remedy::Typed::of(typed);
    let world = world::World::begin(args.everywhere, &typed, world::Fixed::by_environment());
    let world = match world {
        Ok(world) => world,
        Err(failure) => return failure.outcome(&typed),
    };
    let outcome = match args.command.run(&world) {
        Ok(outcome) => Outcome { json, ..outcome },
        Err(failure) => failure.outcome(&typed),
    };
    outcome.after(&world.remarks(&typed))
}
