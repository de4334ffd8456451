//! later
use super::run::{Batch, Plan, Threat};
pub const THREAT: Threat = Threat { name: "damage", short: Plan { batches: 0, rounds: 0 }, long: Plan { batches: 0, rounds: 0 }, play };
fn play(_batch: &mut Batch) {}
