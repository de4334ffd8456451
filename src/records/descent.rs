//! Who a plant comes from, as recorded: mother, father, cytoplasm.
//!
//! Follows the rows and asks no readings; what the seedlings say of it is the diagnosis's business.

use super::facts::Facts;
use super::rows::{BatchRow, PlantCytoplasm, PlantRow};

/// The mother and father of a batch by its label; a packet counts as a self of its parent.
#[must_use]
pub fn label_parents(facts: &Facts, batch: &BatchRow) -> Option<(i64, i64)> {
    if let Some(plant) = batch.plant_id {
        return Some((plant, plant));
    }
    facts
        .cross
        .get(batch.cross_id?)
        .map(|cross| (cross.mother_id, cross.father_id))
}

/// The mother of a plant, where recorded.
#[must_use]
pub fn mother_of(facts: &Facts, plant: &PlantRow) -> Option<i64> {
    let batch = plant.batch_id.and_then(|id| facts.batch.get(id));
    match batch {
        Some(batch) => label_parents(facts, batch).map(|(mother, _)| mother),
        None => plant.mother_id,
    }
}

/// The cytoplasm of a plant: its own where stated, else that of its mother's line.
#[must_use]
pub fn cytoplasm_of(facts: &Facts, plant_id: i64) -> PlantCytoplasm {
    let mut next = Some(plant_id);
    // A plant is never its own ancestor, so the walk is no longer than the ledger.
    for _ in 0..=facts.plant.len() {
        let Some(plant) = next.and_then(|id| facts.plant.get(id)) else {
            break;
        };
        if plant.cytoplasm != PlantCytoplasm::Unknown {
            return plant.cytoplasm;
        }
        next = mother_of(facts, plant);
    }
    PlantCytoplasm::Unknown
}
