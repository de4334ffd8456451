//! `show`: everything recorded of one thing, now or after an entry.

use clap::Args;

use super::history::entry_number;
use super::thing::find;
use super::traits;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::session::Session;
use crate::records::about::facts_at;
use crate::records::rows::Thing;
use crate::report::show::ShowAnswer;

/// Everything recorded of a parent, seedling, cross, lot, tray or trait.
#[derive(Debug, Args)]
#[command(allow_negative_numbers = true)]
pub struct ShowArgs {
    /// Its code, place in its tray, or lot: NL, T1-03, X1/1
    #[arg(value_name = "CODE")]
    code: String,
    /// As it was after this entry of the history
    #[arg(long, value_name = "ENTRY", value_parser = entry_number)]
    at: Option<i64>,
}

impl ShowArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read, or did not know the code then.
    pub fn run(self, session: &Session) -> Result<Outcome, Failure> {
        let (ledger, mut facts) = session.ask()?;
        if let Some(entry) = self.at {
            if !(1..=ledger.last_entry()).contains(&entry) {
                return Err(Failure::refused(format!("there is no entry {entry}"))
                    .because(format!(
                        "the history has entries 1 to {}",
                        ledger.last_entry()
                    ))
                    .try_typing("locule history"));
            }
            facts = facts_at(&ledger.changes()?, entry);
        }
        let found = find(&facts, &self.code)?;
        if found.thing == Thing::Trait {
            return traits::of(session, &facts, &found.label);
        }
        Ok(session.answer(&ShowAnswer::new(
            &facts,
            found.thing,
            found.id,
            found.label,
            self.at,
        )))
    }
}
