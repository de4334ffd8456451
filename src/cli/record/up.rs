//! `up`: how many are up so far, or which.

use clap::Args;

use super::typed;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::cells::CellRange;
use crate::records::entry::{Entry, UpCount, UpWhat};
use crate::records::target::Target;
use crate::records::text::shown;

/// Record how many are up so far in a tray (`up T1 7`) or a cell (`up T1-02 3`), or in which cells
/// (`up T1 --cells 1-5,9`)
#[derive(Debug, Args)]
#[command(
    after_help = "Examples (so many of a tray, which of its cells, so many in one cell; counts are all so far):\n  locule up T1 7\n  locule up T1 --cells 1-5,9\n  locule up T1-02 3"
)]
pub struct UpArgs {
    /// The tray or cell, and how many are up
    #[arg(required = true, num_args = 1..=2, allow_negative_numbers = true, value_names = ["TRAY", "COUNT"])]
    words: Vec<String>,
    /// The cells that are up: 1-5,9
    #[arg(long)]
    cells: Option<CellRange>,
}

impl UpArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self, world: &World) -> Result<Entry, Failure> {
        let (target, rest) = typed::target_first(&self.words)?;
        let what = what(&target, rest.first().map(String::as_str), self.cells)?;
        Ok(Entry::Up(UpCount {
            batch: target.code().clone(),
            what,
            day: world.day()?,
        }))
    }
}

fn what(target: &Target, word: Option<&str>, cells: Option<CellRange>) -> Result<UpWhat, Failure> {
    match (target, word, cells) {
        (Target::Code(_), None, Some(cells)) => Ok(UpWhat::Cells(cells)),
        (Target::Code(_), Some(word), None)
            if word.contains([',', '-']) && !word.starts_with('-') =>
        {
            let cells = word.parse::<CellRange>();
            cells.map(UpWhat::Cells).map_err(|error| {
                Failure::usage(error.to_string())
                    .try_typing(format!("locule up {} --cells 1-5,9", target.code()))
            })
        }
        (Target::Code(tray), Some(word), None) => typed::count(word)
            .map(UpWhat::Batch)
            .map_err(|failure| failure.or_try(format!("locule up {tray} 7"))),
        (Target::Spot(_, spot), word, None) if spot.part.is_empty() => {
            let count = typed::count(word.unwrap_or("1"))
                .map_err(|failure| failure.or_try(format!("locule up {target} 3")))?;
            Ok(UpWhat::Cell(spot.cell, count))
        }
        _ => Err(unreadable(target, word)),
    }
}

fn unreadable(target: &Target, word: Option<&str>) -> Failure {
    let typed = shown(&format!("{target} {}", word.unwrap_or_default()));
    let code = target.code();
    Failure::usage(format!(
        "'{}' does not say how many are up, or where",
        typed.trim()
    ))
    .try_typing(format!("locule up {code} 7"))
    .try_typing(format!("locule up {code} --cells 1-5,9"))
    .try_typing(format!("locule up {code}-02 3"))
}
