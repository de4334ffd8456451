//! What stands beside a number of seeds: trays that go wrong as a whole, F1 plants that are not alike, parents of which
//! more is known, in words and JSON.
//!
//! Part of the answers of `plan seeds` and `plan space`.

use serde::Serialize;

use super::numbers::{percent, several};

/// The same by everything recorded of the parents.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EverythingLine {
    /// Seeds to sow; nothing where no number would do.
    pub seeds: Option<u64>,
    /// The chance that enough are wanted.
    pub probability: Option<f64>,
}

/// What the seeds do if off-types come tray by tray.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ByTrayLine {
    /// The chance with as many seeds as the answer says.
    pub probability: f64,
    /// Seeds that have the confidence even then; nothing where none has, or it is not worked out.
    pub seeds: Option<u64>,
    /// How often no number of seeds does.
    pub never: f64,
}

/// Off by less than this the chance tray by tray is not spoken of (design choice).
pub(super) const WORTH_SAYING: f64 = 0.005;

impl ByTrayLine {
    pub(super) fn said(&self, seeds: u64, confidence: f64, off_share: f64) -> String {
        let begin = format!(
            "That takes {} of every tray to be off-types. But mishaps strike one tray and spare the next: counting that, {} give {}",
            percent(off_share),
            seeds_word(seeds),
            percent(self.probability)
        );
        let apart = "Seed of another day, sown apart, helps more than more of the same";
        match self.seeds {
            Some(more) => format!(
                "{begin}, and {} would give {} even so. {apart}.",
                seeds_word(more),
                percent(confidence)
            ),
            None => format!(
                "{begin}, and no number worth sowing gives {}: in {} of sowings none does at all. {apart}.",
                percent(confidence),
                percent(self.never)
            ),
        }
    }
}

/// F1 plants that are not alike.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct F1Line {
    /// How many there are; nothing where the seed is of many, a seed or so of each.
    pub plants: Option<u64>,
    /// The chance if all the seed were of one.
    pub probability_with_one: Option<f64>,
}

impl F1Line {
    pub(super) fn said(&self) -> String {
        match (self.plants, self.probability_with_one) {
            (Some(1), _) => {
                "F1 plants are not alike: all seed is of one, taken as it comes".to_owned()
            }
            (Some(plants), _) => format!(
                "F1 plants are not alike: the seed is of {plants}, taken as they come, as much of each and mixed"
            ),
            (None, Some(p)) => format!(
                "F1 plants are not alike: the seed is taken as of many, a seed or so of each; all of one F1 plant it would be {}; --f1-plants 3 reckons with so many",
                percent(p)
            ),
            (None, None) => {
                "F1 plants are not alike: the seed is taken as of many, a seed or so of each"
                    .to_owned()
            }
        }
    }
}

pub(super) fn seeds_word(n: u64) -> String {
    several(n, "seed", "seeds")
}
