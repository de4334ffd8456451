//! Carries an entry from the command line into the ledger: read the facts, ask the gate, write, answer.

use std::collections::BTreeMap;

use crate::cli::exit::{Exit, Outcome};
use crate::cli::failure::Failure;
use crate::cli::session::Session;
use crate::records::admit::{Admitted, Bench, Kind, Refusal, admit};
use crate::records::change::RowChange;
use crate::records::entry::Entry;
use crate::records::facts::Facts;
use crate::report::recorded::RecordedAnswer;
use crate::store::{Class, EntryKind, EntryNote, Identity, Ledger, StoreError};

/// Records an entry in the ledger and answers with what was recorded.
///
/// # Errors
/// [`Failure`] where the ledger cannot be written or the gate refuses the entry.
pub fn record(session: &Session, entry: &Entry) -> Result<Outcome, Failure> {
    let mut ledger = Ledger::open_to_write(&session.ledger)?;
    let facts = ledger.facts()?;
    write(session, &mut ledger, facts, entry, EntryKind::Record)
}

/// Makes the ledger and records its beginning.
///
/// # Errors
/// [`Failure`] where there is a ledger already or none can be made.
pub fn begin(session: &Session) -> Result<Outcome, Failure> {
    let ledger_id = session.fresh_id()?.iter().map(|byte| format!("{byte:02x}")).collect();
    let mut ledger = Ledger::create(&session.ledger, &Identity { ledger_id })?;
    let facts = ledger.facts()?;
    write(session, &mut ledger, facts, &Entry::Init, EntryKind::Init)
}

fn write(
    session: &Session,
    ledger: &mut Ledger,
    mut facts: Facts,
    entry: &Entry,
    kind: EntryKind,
) -> Result<Outcome, Failure> {
    let bench = Bench { today: session.today, even_so: session.even_so };
    let admitted = admit(&facts, entry, &bench)?;
    let number = ledger.record(&note(session, kind), &admitted.changes, &admitted.counters)?;
    bring_up(&mut facts, &admitted.changes, &admitted.counters);
    Ok(answer(session, &facts, &admitted, number))
}

fn note(session: &Session, kind: EntryKind) -> EntryNote {
    let minutes = session.stamp.utc_offset_minutes;
    let sign = if minutes < 0 { '-' } else { '+' };
    let (hours, minutes) = (minutes.abs() / 60, minutes.abs() % 60);
    EntryNote {
        at_utc: session.stamp.at_utc.clone(),
        utc_offset: format!("{sign}{hours:02}:{minutes:02}"),
        command: session.command.clone(),
        kind,
    }
}

fn bring_up(facts: &mut Facts, changes: &[RowChange], counters: &BTreeMap<String, i64>) {
    for change in changes {
        facts.apply(change);
    }
    for (series, next) in counters {
        facts.advance_counter(series, *next);
    }
}

fn answer(session: &Session, facts: &Facts, admitted: &Admitted, number: i64) -> Outcome {
    let answer = RecordedAnswer::new(facts, admitted, number);
    let mut outcome = session.answer(&answer).kept(number);
    if !session.json {
        for notice in &answer.notices {
            outcome = outcome.remarking(&format!("note: {notice}"));
        }
    }
    outcome
}

impl From<Refusal> for Failure {
    fn from(refusal: Refusal) -> Self {
        let words = refusal.to_string();
        let mut lines = words.lines();
        let mut failure = Self::refused(lines.next().unwrap_or_default());
        for line in lines {
            failure = failure.because(line);
        }
        if refusal.kind() == Kind::Implausible {
            failure = failure.because("--even-so records it all the same");
        }
        failure.try_typing(refusal.hint())
    }
}

impl From<StoreError> for Failure {
    fn from(error: StoreError) -> Self {
        let exit = match error.class() {
            Class::Refused => Exit::Refused,
            Class::Busy => Exit::Busy,
            Class::Damaged => Exit::Damaged,
            Class::System => Exit::System,
        };
        let mut failure = Self::new(exit, error.to_string());
        let mut cause = std::error::Error::source(&error);
        while let Some(error) = cause {
            failure = failure.because(error.to_string());
            cause = error.source();
        }
        failure
    }
}
