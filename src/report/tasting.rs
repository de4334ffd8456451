//! What to mind before anyone tastes a pod: said wherever tasting is asked for.

/// How to taste, and who should not (common practice, no source).
pub const CAUTION: &str = "Tasting: a crumb of the wall, the tip first, by adults, never alone, with milk at hand. Children and people with asthma or heart trouble keep away. No placenta of an unknown seedling of very hot parents.";

/// The same in short, behind a sentence that asks for a tasting.
pub const CRUMB: &str =
    "taste a crumb of the wall, tip first, adults only, never alone, milk ready";
