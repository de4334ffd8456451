//! `check-ledger` and `export`: the ledger itself.

use std::path::PathBuf;

use clap::Args;

use super::copies;
use crate::cli::exit::{Exit, Outcome};
use crate::cli::failure::Failure;
use crate::cli::place_failure::unplaced;
use crate::cli::places;
use crate::cli::world::World;
use crate::report::ledger::{CheckAnswer, FindingLine, Moved};
use crate::store::{Finding, Ledger, Odds, Over, Part, Standing, stands_for_a_ledger, write_file};

/// Verifies the ledger: the file, the chain of changes, and every record against it.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Build a new ledger in FILE from the history alone: of the same id, up to the first change that does
    /// not hold
    #[arg(long, value_name = "FILE")]
    rebuild: Option<PathBuf>,
    /// Write over a file that is there already
    #[arg(long, requires = "rebuild")]
    force: bool,
}

impl CheckArgs {
    /// Answers; ends with 4 where something was found.
    ///
    /// # Errors
    /// [`Failure`] where the file is no ledger that can be opened.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        places::expect_begun(&world.ledger)?;
        if let Some(file) = &self.rebuild {
            return copies::rebuild(world, file, self.force);
        }
        let opened = Ledger::open_to_check(&world.ledger, &world.state);
        let ledger = world.heed(opened.map_err(|error| world.unopened(error))?);
        world.point_out_copies(&ledger);
        let found = ledger.check();
        let way_out = way_out(&found, ledger.standing());
        let findings: Vec<FindingLine> = found
            .into_iter()
            .map(|finding| FindingLine {
                place: finding.place,
                what: finding.what,
            })
            .collect();
        let sound = findings.is_empty();
        let answer = CheckAnswer {
            ledger: ledger.path().display().to_string(),
            ledger_id: ledger.id().to_owned(),
            fingerprint: ledger.fingerprint(),
            entries: ledger.last_entry(),
            mark: mark_word(&ledger),
            sound,
            findings,
        };
        let exit = if sound { Exit::Done } else { Exit::Damaged };
        if let Some(command) = way_out {
            world.remark(format!("try: {command}"));
        }
        Ok(world.answer(&answer).ending(exit))
    }
}

/// What helps against what was found: where the history holds, everything can be made anew from it.
fn way_out(findings: &[Finding], standing: &Standing) -> Option<&'static str> {
    let damage = findings.len() > usize::from(standing.odds().is_some());
    let records = findings.iter().any(|finding| finding.part == Part::Records);
    let rest = findings.iter().any(|finding| finding.part != Part::Records);
    match (records, rest) {
        _ if !damage => None,
        (true, false) => Some("locule check-ledger --rebuild rebuilt.db"),
        _ => Some("locule restore"),
    }
}

/// How a ledger stands to its mark, in a word.
fn mark_word(ledger: &Ledger) -> &'static str {
    match ledger.standing() {
        standing if ledger.is_on_copy() && standing.odds().is_none() => "copy",
        Standing::New if !ledger.is_marked() => "none",
        Standing::AsWritten => "as-written",
        Standing::New => "new",
        Standing::Same => "same",
        Standing::Grown { .. } => "grown",
        Standing::AtOdds(Odds::Behind { .. }) => "behind",
        Standing::AtOdds(Odds::Diverged { .. }) => "diverged",
        Standing::AtOdds(Odds::Other { .. }) => "another-ledger",
    }
}

/// Writes the whole ledger, its history included, as lines of JSON.
#[derive(Debug, Args)]
pub struct ExportArgs {
    /// The file; without it, or with '-', standard output
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
    /// Write over a file that is there already
    #[arg(long, requires = "file")]
    force: bool,
}

impl ExportArgs {
    /// Exports.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read or the file cannot be written.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let ledger = world.open_to_ask()?;
        let mut text = Vec::new();
        ledger.export(&mut text)?;
        let file = self.file.as_ref().filter(|file| file.as_os_str() != "-");
        let Some(file) = file else {
            let text = String::from_utf8(text).expect("JSON is written as UTF-8");
            return Ok(Outcome {
                json: true,
                ..Outcome::said(text)
            });
        };
        let again = |file: &str| format!("locule export {file}");
        if stands_for_a_ledger(file) {
            let itself = file.canonicalize().is_ok_and(|file| file == ledger.path());
            let what = if itself {
                "the ledger itself"
            } else {
                "a ledger"
            };
            return Err(Failure::refused(format!("'{}' is {what}", file.display()))
                .because("an export never takes the place of one")
                .try_typing(again("season.jsonl")));
        }
        write_file(file, &text, Over::forced(self.force))
            .map_err(|error| unplaced(&error, again))?;
        let answer = Moved {
            done: "exported",
            file: file.display().to_string(),
            entries: ledger.last_entry(),
            fingerprint: ledger.fingerprint(),
        };
        Ok(world.answer(&answer).done())
    }
}
