//! Brings an entry into the ledger and answers with what was recorded and what it now means.

use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::session::Session;
use crate::records::entry::Entry;
use crate::report::recorded::RecordedAnswer;

/// Records an entry and answers; what the grower should know beside it goes to standard error.
///
/// # Errors
/// [`Failure`] where the ledger cannot be written or the gate refuses the entry.
pub fn record(session: &Session, entry: &Entry) -> Result<Outcome, Failure> {
    let recorded = session.record(entry)?;
    let answer = RecordedAnswer::new(recorded.entry, &recorded.facts, &recorded.admitted);
    let mut outcome = session.answer(&answer).kept(recorded.entry);
    if !session.json {
        for note in &answer.notes {
            outcome = outcome.remarking(&format!("note: {note}"));
        }
    }
    Ok(outcome)
}
