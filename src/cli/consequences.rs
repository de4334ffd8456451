//! What mending the past changes in today's answers: the diagnosis is asked before and after.

use super::world::World;
use crate::diagnosis::suspects::suspects;
use crate::records::facts::Facts;
use crate::report::consequences::Consequences;

/// What differs in today's answers between two states of the ledger.
#[must_use]
pub fn consequences(world: &World, before: &Facts, after: &Facts) -> Consequences {
    let ask = |facts: &Facts| suspects(facts, world.today, None);
    match (ask(before), ask(after)) {
        (Ok(was), Ok(now)) => Consequences::between((before, &was), (after, &now)),
        (Err(error), _) | (_, Err(error)) => Consequences::unknown(error.to_string()),
    }
}
