//! Brings an entry into the ledger and answers with what was recorded and what it now means.

use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::suspects::suspects;
use crate::records::admit::Subject;
use crate::records::entry::Entry;
use crate::records::facts::Facts;
use crate::report::meaning::meaning;
use crate::report::recorded::RecordedAnswer;

/// Records an entry and answers; what the grower should know beside it goes to standard error.
///
/// # Errors
/// [`Failure`] where the ledger cannot be written or the gate refuses the entry.
pub fn record(world: &World, entry: &Entry) -> Result<Outcome, Failure> {
    let recorded = world.record(entry)?;
    let answer = RecordedAnswer::new(recorded.entry, &recorded.facts, &recorded.admitted).meaning(
        meaning_of(world, &recorded.facts, &recorded.admitted.subject),
    );
    let outcome = world.answer(&answer).kept(recorded.entry);
    if !world.json {
        for note in &answer.notes {
            world.remark(format!("note: {note}"));
        }
    }
    Ok(outcome)
}

/// What the readings of the batch just scored now mean. Where the diagnosis declines, nothing: the record stands, and
/// `suspects` says why it declines.
fn meaning_of(world: &World, facts: &Facts, subject: &Subject) -> Option<String> {
    let batch = match subject {
        Subject::Tally { tally } => facts.tally.get(*tally)?.batch_id,
        Subject::Readings { readings } => {
            let plant = facts.reading.get(*readings.first()?)?.plant_id;
            facts.plant.get(plant)?.batch_id?
        }
        _ => return None,
    };
    let answer = suspects(facts, world.today, Some(&[batch])).ok()?;
    meaning(answer.batches.first()?)
}
