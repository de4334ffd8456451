//! How seed does and where that is known from, in words and JSON.
//!
//! Part of the answers of `plan seeds` and `plan line`.

use serde::Serialize;

use super::numbers::{percent, several};
use super::text::listed;
use crate::diagnosis::sources::Technique;
use crate::planning::germination::{Circle, Counts};
use crate::planning::off_share::OffShare;

/// Where the germination comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum GerminationFrom {
    /// Nobody said and nobody counted: every seed.
    Nothing,
    /// It was typed.
    Typed,
    /// Counts were typed: up and sown.
    TypedCounts(u64, u64),
    /// Counts of the ledger.
    Ledger(Counts),
}

/// Where the share of off-types comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OffFrom {
    /// Nobody said: none.
    Nothing,
    /// It was typed.
    Typed,
    /// The ledger's own mishaps.
    Ledger(OffShare),
}

/// How much of the seed comes up.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GerminationLine {
    /// The share, on average.
    pub mean: f64,
    /// `taken`, `stated`, or whose counts it is: `counts`, `cross`, `mother`, `species`, `ledger`.
    pub from: &'static str,
    /// Seeds counted as up.
    pub up: Option<u64>,
    /// Of so many sown.
    pub sown: Option<u64>,
    /// In so many sowings of the ledger.
    pub sowings: Option<usize>,
    /// Trays of the cross that are left out, being last counted too early to tell.
    pub counted_early: Vec<String>,
    /// Older sowings of the same seed that came up otherwise and are left out: seeds up.
    pub older_up: Option<u64>,
    /// Of so many sown.
    pub older_sown: Option<u64>,
}

impl GerminationLine {
    /// A mean and where it comes from.
    #[must_use]
    pub fn new(mean: f64, from: GerminationFrom) -> Self {
        let bare = |from| Self {
            mean,
            from,
            up: None,
            sown: None,
            sowings: None,
            counted_early: Vec::new(),
            older_up: None,
            older_sown: None,
        };
        match from {
            GerminationFrom::Nothing => bare("taken"),
            GerminationFrom::Typed => bare("stated"),
            GerminationFrom::TypedCounts(up, sown) => Self {
                up: Some(up),
                sown: Some(sown),
                ..bare("counts")
            },
            GerminationFrom::Ledger(counts) => Self {
                up: Some(counts.up),
                sown: Some(counts.sown),
                sowings: Some(counts.sowings),
                older_up: (counts.older.sowings > 0).then_some(counts.older.up),
                older_sown: (counts.older.sowings > 0).then_some(counts.older.sown),
                ..bare(match counts.circle {
                    Circle::Cross => "cross",
                    Circle::Mother => "mother",
                    Circle::Species => "species",
                    Circle::Ledger => "ledger",
                })
            },
        }
    }

    /// The same without the counts of trays that were last counted too early to tell.
    #[must_use]
    pub fn leaving_out(self, trays: &[String]) -> Self {
        Self {
            counted_early: trays.to_vec(),
            ..self
        }
    }

    /// What is to be said of older sowings that are left out.
    pub(super) fn aged(&self) -> Option<String> {
        let (up, sown) = self.older_up.zip(self.older_sown)?;
        Some(format!(
            "older sowings came up otherwise, {up} of {sown} together, and are left out: the newest are nearest to what is sown now"
        ))
    }

    /// What is to be said of the trays that are left out.
    pub(super) fn left_out(&self) -> Option<String> {
        let first = self.counted_early.first()?;
        Some(format!(
            "left out: {}, last counted long before the wait was over; count again, with 'locule up {first} N'",
            listed(&self.counted_early, "and")
        ))
    }

    pub(super) fn said(&self) -> String {
        self.with_counts("; how few those are is reckoned with")
    }

    /// The same for a plan that takes germination at its mean.
    pub(super) fn said_at_mean(&self) -> String {
        self.with_counts(&format!("; taken as {}", percent(self.mean)))
    }

    fn with_counts(&self, use_of_them: &str) -> String {
        let whose = match self.from {
            "taken" if !self.counted_early.is_empty() => {
                return "every seed, for nothing else is known. State it with --germination 0.8"
                    .to_owned();
            }
            "taken" => {
                return "every seed; nobody counted. State it with --germination 0.8".to_owned();
            }
            "stated" => return format!("{} of the seed, as stated", percent(self.mean)),
            "cross" => "of this cross",
            "mother" => "of this mother's seed",
            "species" => "of her species",
            "ledger" => "of all your seed",
            _ => "",
        };
        let (up, sown) = (self.up.unwrap_or(0), self.sown.unwrap_or(0));
        let sowings = self.sowings.map_or_else(String::new, |n| {
            format!(", {}", several(n as u64, "sowing", "sowings"))
        });
        let counted = format!("{up} of {sown} {whose}");
        format!("{}{sowings}{use_of_them}", counted.trim())
    }
}

/// How much of the seed is not of the label.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OffLine {
    /// The share, on average.
    pub share: f64,
    /// `taken`, `stated` or `mishaps`.
    pub from: &'static str,
    /// Trays of the ledger that it was fitted to.
    pub trays: Option<usize>,
    /// How the flowers were treated.
    pub technique: Option<&'static str>,
    /// The chance that the whole sowing is something else, which is in the average.
    pub all_off: Option<f64>,
}

impl OffLine {
    /// A share and where it comes from.
    #[must_use]
    pub fn new(share: f64, from: OffFrom) -> Self {
        let bare = |from| Self {
            share,
            from,
            trays: None,
            technique: None,
            all_off: None,
        };
        match from {
            OffFrom::Nothing => bare("taken"),
            OffFrom::Typed => bare("stated"),
            OffFrom::Ledger(found) => Self {
                trays: Some(found.trays),
                technique: Some(technique_word(found.technique)),
                all_off: Some(found.all_off),
                ..bare("mishaps")
            },
        }
    }

    /// That no number of seeds helps where the whole sowing is something else.
    pub(super) fn warned(&self) -> Option<String> {
        let all_off = self.all_off.filter(|p| *p >= WORTH_SAYING)?;
        Some(format!(
            "that is an average: {} of sowings are wholly something else, and then no number of seeds helps",
            percent(all_off)
        ))
    }

    pub(super) fn said(&self) -> String {
        match (self.from, self.trays, self.technique) {
            ("mishaps", Some(trays), Some(technique)) => {
                let rests = match trays {
                    0 => "the starting beliefs".to_owned(),
                    n => format!("'locule mishaps', {}", several(n as u64, "tray", "trays")),
                };
                format!(
                    "{} on average, of {technique}, by {rests}",
                    percent(self.share)
                )
            }
            ("stated", ..) => format!("{} of what comes up, as stated", percent(self.share)),
            _ => "none is counted in. State it with --off-share 0.03".to_owned(),
        }
    }
}

/// Rarer than this a sowing that is wholly something else is not spoken of (design choice).
const WORTH_SAYING: f64 = 0.005;

const fn technique_word(technique: Technique) -> &'static str {
    match technique {
        Technique::NotEmasculated => "flowers that kept their anthers",
        Technique::Emasculated => "emasculated flowers",
        Technique::Covered => "emasculated and covered flowers",
        Technique::SelfOpen => "open selfs",
        Technique::SelfCovered => "covered selfs",
    }
}
