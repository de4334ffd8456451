//! `sheet`: the cull and keep list, to print.

use clap::Args;

use super::suspects::diagnose;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::report::sheet::{Sheet, Style};

/// The cull and keep list, to print: 80 columns by 60 lines a page. With --on DATE it is judged as
/// on that day: what was seen or counted later is left out
#[derive(Debug, Args)]
pub struct SheetArgs {
    /// Trays and crosses; without any, everything sown
    #[arg(value_name = "TRAY|CROSS")]
    of: Vec<String>,
    /// Write it as Markdown
    #[arg(long)]
    markdown: bool,
}

impl SheetArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read or a code is unknown.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let (ledger, facts) = world.ask()?;
        let found = diagnose(world, &facts, &self.of)?;
        let style = if self.markdown {
            Style::Markdown
        } else {
            Style::Plain
        };
        Ok(world.answer(&Sheet::new(&found, ledger.fingerprint(), style)))
    }
}
