//! Undo, redo and amend: random commands against a plain model in memory.

use super::ledger_model;
use super::run::{Batch, Plan, Threat};

/// The threat.
pub const THREAT: Threat = Threat {
    name: "amend",
    short: Plan {
        batches: 4,
        rounds: 1250,
    },
    long: Plan {
        batches: 100,
        rounds: 10_000,
    },
    play,
};

fn play(batch: &mut Batch) {
    let seed = batch.chance.next();
    match ledger_model::run(batch.rounds, seed) {
        Ok(met) => {
            batch.count("rounds", met.steps);
            batch.count("amended", met.amended);
            batch.count("undone", met.undone);
            batch.count("redone", met.redone);
            batch.count("refused, as foreseen", met.refused);
        }
        Err(words) => batch.fault("mismatch", words),
    }
}
