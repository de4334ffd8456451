//! The answer of `assume` without a value: starting beliefs and thresholds, each with its standing.

use serde::Serialize;

use super::table::Table;
use super::text::wrapped;
use super::{Answer, Page};
use crate::records::assumptions::{ASSUMPTIONS, AssumeError, Assumptions, find};
use crate::records::facts::Facts;
use crate::records::text::shown;

/// One starting belief or threshold.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AssumptionLine {
    /// Its key.
    pub key: &'static str,
    /// The value in force.
    pub value: f64,
    /// The default.
    pub default: f64,
    /// Whether the ledger holds another value than the default.
    pub changed: bool,
    /// How far the default can be trusted.
    pub standing: &'static str,
    /// What it means.
    pub meaning: &'static str,
}

/// The starting beliefs and thresholds in force.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AssumptionsAnswer {
    /// The list.
    pub assumptions: Vec<AssumptionLine>,
}

impl AssumptionsAnswer {
    /// All of them, or the one of a key.
    ///
    /// # Errors
    /// [`AssumeError`] where there is no such key.
    pub fn new(facts: &Facts, key: Option<&str>) -> Result<Self, AssumeError> {
        let unknown = |key: &str| AssumeError::UnknownKey(shown(key));
        let one = key
            .map(|key| find(key).ok_or_else(|| unknown(key)))
            .transpose()?;
        let values = Assumptions::of(facts);
        let wanted = ASSUMPTIONS
            .iter()
            .filter(|known| one.is_none_or(|one| one.key == known.key));
        let line = |known: &crate::records::assumptions::Assumption| AssumptionLine {
            key: known.key,
            value: values.get(known.key).unwrap_or(known.default),
            default: known.default,
            changed: facts.setting(known.key).is_some(),
            standing: known.standing.word(),
            meaning: known.meaning,
        };
        Ok(Self {
            assumptions: wanted.map(line).collect(),
        })
    }
}

/// The keys that a grower is likeliest to have an opinion on.
const OFTEN_CHANGED: [&str; 4] = ["dim", "doubtful", "trust.stated", "verdict.cull"];

impl AssumptionsAnswer {
    /// What a grower may want to change, a line each; nothing where a single key was asked for.
    fn summary(&self) -> Option<String> {
        let chosen = self
            .assumptions
            .iter()
            .filter(|line| OFTEN_CHANGED.contains(&line.key))
            .map(|line| format!("\n  {} {}: {}", line.key, line.value, line.meaning));
        (self.assumptions.len() > 1).then(|| {
            format!(
                "What you may want to change:{}\n\n",
                chosen.collect::<String>()
            )
        })
    }
}

impl Answer for AssumptionsAnswer {
    fn words(&self, page: Page) -> String {
        let mut table = Table::new(&["key", ">value", "what it means, and its standing"]);
        for line in &self.assumptions {
            let was = if line.changed {
                format!("; default {}", line.default)
            } else {
                String::new()
            };
            let meaning = format!("{} ({}{was})", line.meaning, line.standing);
            table.row([line.key.to_owned(), line.value.to_string(), meaning]);
        }
        let foot = wrapped(
            "Change one: locule assume KEY VALUE; back to its default: locule assume KEY default",
            page.width,
            "  ",
        );
        format!(
            "{}{}\n{foot}",
            self.summary().unwrap_or_default(),
            table.text(page)
        )
    }
}
