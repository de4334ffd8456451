//! As what a seedling of a tray was adopted: whoever lists culls leaves it out.
//!
//! A label on the answer and no evidence; the chances are those of the tray. Called where an answer is put together.

use crate::records::descent::adoption_of;
use crate::records::facts::Facts;
use crate::records::rows::Thing;

/// As what a seedling was adopted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kept {
    /// Its code, where it has one.
    pub code: Option<String>,
    /// Its likely mother; nothing where she is not of the ledger.
    pub mother: Option<String>,
    /// Its likely father; the mother again for a self.
    pub father: Option<String>,
}

impl Kept {
    /// Of a plant; nothing where it was not adopted.
    #[must_use]
    pub fn of(facts: &Facts, plant: i64) -> Option<Self> {
        let row = adoption_of(facts, plant)?;
        let label = |id: Option<i64>| id.map(|id| facts.label_of_plant(id));
        Some(Self {
            code: facts.code_of(Thing::Plant, plant).map(str::to_owned),
            mother: label(row.mother_id),
            father: label(row.father_id),
        })
    }
}
