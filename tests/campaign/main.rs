//! The crash campaign: the real program killed, starved, cut off from power and lied to by its disk, a stated number
//! of times, each time asking what became of the records.
//!
//! `cargo bench --bench campaign` runs the short form; `-- --long --results FILE` the long one, which may be
//! stopped at any moment and goes on where it was; `-- kills` one threat alone. Every batch draws from a seed of its own, which is
//! printed with what it found: `-- kills --seed S --batch B` plays it again.

#![expect(clippy::print_stdout, reason = "a campaign prints what it found")]

mod amend;
mod calls;
mod chance;
mod clocks;
mod damage;
mod full;
mod judge;
mod kills;
#[path = "../shared/ledger_model.rs"]
mod ledger_model;
mod options;
mod page;
mod power;
mod results;
mod run;
mod scene;
mod stage;
mod text;
mod writers;

use std::process::ExitCode;

use options::Options;
use run::Threat;

/// Every threat, in the order of `docs/reliability.md`.
const THREATS: &[Threat] = &[
    kills::THREAT,
    calls::THREAT,
    power::THREAT,
    full::THREAT,
    damage::THREAT,
    writers::THREAT,
    amend::THREAT,
    text::THREAT,
    clocks::THREAT,
];

fn main() -> ExitCode {
    let options = match Options::read(std::env::args().skip(1)) {
        Ok(options) => options,
        Err(wrong) => {
            println!("{wrong}\n{}", options::USAGE);
            return ExitCode::from(2);
        }
    };
    match carry_out(&options) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(wrong) => {
            println!("{wrong}");
            ExitCode::FAILURE
        }
    }
}

/// Runs what was asked for; whether no fault was found.
fn carry_out(options: &Options) -> Result<bool, String> {
    if options.write_docs {
        page::write(&results::read(&options.results)?)?;
        return Ok(true);
    }
    let chosen: Vec<&Threat> = THREATS
        .iter()
        .filter(|threat| options.names.is_empty() || options.names.iter().any(|n| n == threat.name))
        .collect();
    let good = run::run(&chosen, options)?;
    if options.names.is_empty() {
        page::agrees()?;
    }
    Ok(good)
}
