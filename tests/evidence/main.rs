//! The evidence: whole seasons played with the truth known, and what the program says of them held against it.
//!
//! `cargo bench --bench evidence` plays 300 trays of the world that the program believes in and fails where a target is
//! missed by more than chance may do (the one that is known to be missed is held to what was found), or where `docs/evidence.md` says other than its results; `-- --write-docs` plays
//! every world at length and writes that page; `-- pods --show 3` shows one season of one world.

#![expect(clippy::print_stdout, reason = "a benchmark prints what it found")]

mod options;
#[path = "../shared/season_truth/mod.rs"]
mod season_truth;
mod show;

use std::fs;
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Instant;

use options::Options;
use season_truth::figures::{calibration, lost_in_all, misses};
use season_truth::results::Line;
use season_truth::run::run;
use season_truth::world::{World, own};
use season_truth::{page, results};

fn main() -> ExitCode {
    let options = match Options::read(std::env::args().skip(1)) {
        Ok(options) => options,
        Err(wrong) => {
            println!("{wrong}\n{}", options::USAGE);
            return ExitCode::from(2);
        }
    };
    match carry_out(&options) {
        Ok(()) => ExitCode::SUCCESS,
        Err(wrong) => {
            println!("{wrong}");
            ExitCode::FAILURE
        }
    }
}

fn carry_out(options: &Options) -> Result<(), String> {
    if options.page {
        return write(page::both(&results::read(&results::kept())?)?);
    }
    if let Some(number) = options.show {
        for world in &options.worlds {
            show::season(world, options.seed, number);
        }
        return Ok(());
    }
    let lines: Vec<Line> = options
        .worlds
        .iter()
        .map(|world| play(world, options))
        .collect();
    let kept = options.write_docs.then(results::kept);
    if let Some(path) = options.results.clone().or(kept) {
        let json = |line: &Line| serde_json::to_string(line).expect("names and numbers");
        let text: String = lines.iter().map(|line| json(line) + "\n").collect();
        write([(path, text)])?;
    }
    if options.write_docs {
        return write(page::both(&lines)?);
    }
    let believed = lines.iter().filter(|line| line.world == own().name);
    let missed: Vec<String> = believed.flat_map(|line| misses(&line.counts)).collect();
    if !missed.is_empty() {
        return Err(format!("missed: {}", missed.join("; ")));
    }
    page::agrees(&results::read(&results::kept())?)
}

fn write<const N: usize>(files: [(PathBuf, String); N]) -> Result<(), String> {
    for (path, text) in files {
        fs::write(&path, text).map_err(|error| format!("{}: {error}", path.display()))?;
    }
    Ok(())
}

fn play(world: &World, options: &Options) -> Line {
    let start = Instant::now();
    let counts = run(world, options.seed, options.seasons_of(world));
    let of = calibration(&counts.reliability);
    println!(
        "{}: {} trays in {:.1} s; calibration error {:.4} ({:.4} by chance), Brier score {:.4}; \
         true seedlings lost {:.2} of 1,000",
        world.name,
        counts.trays,
        start.elapsed().as_secs_f64(),
        of.error,
        of.by_chance,
        of.brier,
        1000.0 * lost_in_all(&counts).of_one,
    );
    Line {
        world: world.name.to_owned(),
        seed: options.seed,
        counts,
    }
}
