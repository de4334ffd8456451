//! Which traits can be tasted: those that have a class `hot`.
//!
//! A tasting errs otherwise than an eye does: a mild tip proves little, since the heat is made in the placenta, and a hot
//! one much. How often each errs is a starting belief. The gate and the diagnosis ask here.

use super::assumptions::Assumptions;
use super::code::fold;
use super::facts::Facts;
use super::genes::classes_of;
use super::rows::TasteMethod;

/// The class that a tasting finds.
pub const HOT: &str = "hot";

/// The place of the class that a tasting finds; nothing for a trait that cannot be tasted.
#[must_use]
pub fn hot_class(facts: &Facts, trait_id: i64) -> Option<usize> {
    let classes = classes_of(facts, trait_id);
    classes.iter().position(|class| fold(&class.name) == HOT)
}

/// How often a tasting is written down wrongly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TasteRates {
    tip: f64,
    wall: f64,
    placenta: f64,
    false_hot: f64,
}

impl TasteRates {
    /// Those of a ledger's starting beliefs.
    #[must_use]
    pub const fn of(beliefs: &Assumptions) -> Self {
        Self {
            tip: beliefs.taste_tip,
            wall: beliefs.taste_wall,
            placenta: beliefs.taste_placenta,
            false_hot: beliefs.taste_false_hot,
        }
    }

    /// P(a plant that is hot, or is not, is written down as something else).
    #[must_use]
    pub const fn wrong(&self, method: TasteMethod, is_hot: bool) -> f64 {
        match (is_hot, method) {
            (false, _) => self.false_hot,
            (true, TasteMethod::Tip) => self.tip,
            (true, TasteMethod::Wall) => self.wall,
            (true, TasteMethod::Placenta) => self.placenta,
        }
    }
}
