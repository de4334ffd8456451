//! Whether a plant still splits, in words and JSON.

use serde::Serialize;

use super::numbers::{percent, several};
use super::text::{listed, shown, wrapped};
use super::{Answer, Page};

/// Whether a plant still splits for one trait.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StableTrait {
    /// The trait's code; nothing for bare counts.
    #[serde(rename = "trait")]
    pub of: Option<String>,
    /// What more offspring are taken to look like.
    pub class: String,
    /// Offspring looked at, by class.
    pub offspring: Vec<ClassSeen>,
    /// The trays they stand in.
    pub trays: Vec<String>,
    /// The chance that it splits before its offspring were looked at.
    pub p_splits_before: Option<f64>,
    /// The chance that it splits now; nothing where nothing explains what was seen.
    pub p_splits: Option<f64>,
    /// How many more, all alike, until it is stable with 95 %; nothing where no number would do.
    pub more_for_95: Option<u64>,
    /// The same for 99 %.
    pub more_for_99: Option<u64>,
}

/// How many offspring showed a class.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ClassSeen {
    /// The class.
    pub class: String,
    /// How many.
    pub count: u64,
}

/// The answer of `stable`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StableAnswer {
    /// The plant; nothing for bare counts.
    pub plant: Option<String>,
    /// How the offspring were made: `self` or `testcross`.
    pub test: &'static str,
    /// Trait by trait.
    pub traits: Vec<StableTrait>,
}

impl StableAnswer {
    fn said_of(&self, one: &StableTrait) -> String {
        let plant = self.plant.as_deref().map_or("it".to_owned(), shown);
        let n: u64 = one.offspring.iter().map(|seen| seen.count).sum();
        let kind = match self.test {
            "testcross" => "testcross seedling",
            _ => "seedling of its own seed",
        };
        let kinds = kind.replacen("seedling", "seedlings", 1);
        let seen: Vec<String> = one
            .offspring
            .iter()
            .filter(|seen| seen.count > 0)
            .map(|seen| format!("{} {}", seen.count, shown(&seen.class)))
            .collect();
        let trays = if one.trays.is_empty() {
            String::new()
        } else {
            format!(" ({})", one.trays.join(", "))
        };
        let looked = match n {
            0 => format!("no {kind} was scored yet"),
            n => format!(
                "{}{trays}: {}",
                several(n, kind, &kinds),
                listed(&seen, "and")
            ),
        };
        let Some(p) = one.p_splits else {
            return format!(
                "{looked}. Nothing that {plant} can be gives that: look again, or it is not what the ledger says."
            );
        };
        let before = one
            .p_splits_before
            .filter(|_| n > 0)
            .map_or_else(String::new, |before| {
                format!(", {} before they were looked at", percent(before))
            });
        format!(
            "{looked}. The chance that {plant} still splits: {}{before}. {}",
            percent(p),
            self.more(one)
        )
    }

    fn more(&self, one: &StableTrait) -> String {
        let class = shown(&one.class);
        match (one.more_for_95, one.more_for_99) {
            (_, Some(0)) => "Stable, with 99 % and more.".to_owned(),
            (Some(0), Some(n)) => {
                format!("Stable with 95 %; for 99 % look at {n} more, all {class}.")
            }
            (Some(few), Some(many)) => format!(
                "To call it stable with 95 % look at {few} more, all {class}; with 99 % at {many}."
            ),
            (Some(0), None) => {
                "Stable with 95 %; 99 % is out of reach by looking at more.".to_owned()
            }
            (Some(few), None) => format!(
                "To call it stable with 95 % look at {few} more, all {class}; 99 % is out of reach."
            ),
            (None, _) => "It is not stable; looking at more will not change that.".to_owned(),
        }
    }
}

impl Answer for StableAnswer {
    fn words(&self, page: Page) -> String {
        let mut lines: Vec<String> = Vec::new();
        for one in &self.traits {
            let said = self.said_of(one);
            let head: Vec<String> = [
                self.plant.as_deref().map(shown),
                one.of.as_deref().map(shown),
            ]
            .into_iter()
            .flatten()
            .collect();
            let text = if head.is_empty() {
                said
            } else {
                format!("{}: {said}", head.join(", "))
            };
            let mut letters = text.chars();
            let first: String = letters
                .next()
                .into_iter()
                .flat_map(char::to_uppercase)
                .collect();
            let text = if head.is_empty() {
                first + letters.as_str()
            } else {
                text
            };
            lines.push(wrapped(&text, page.width, "  "));
        }
        if self.plant.is_none() {
            return lines.join("\n");
        }
        lines.push(wrapped(
            "Every seedling counted is taken to be its own offspring; 'locule suspects' asks that.",
            page.width,
            "",
        ));
        lines.join("\n")
    }
}
