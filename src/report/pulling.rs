//! What pulling did to a count, in words and JSON: how a ratio is biased by it, or why it is not.
//!
//! Made for the answer of `ratio` on trays; knows nothing of tests.

use serde::Serialize;

use super::numbers::{p_value, several};
use super::text::listed;

/// Seedlings of one class that were pulled before they were counted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PulledClass {
    /// The class.
    pub class: String,
    /// How many.
    pub count: u64,
    /// Whether seedlings of it may yet turn into another.
    pub may_turn: bool,
}

/// The counts with those that were pulled.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WithPulled {
    /// Class by class.
    pub observed: Vec<u64>,
    /// The p that decides; nothing where a class cannot come.
    pub p: Option<f64>,
}

/// What pulling did to the counts of a tray.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PullingLine {
    /// Pulled for a class before they were counted.
    pub short: Vec<PulledClass>,
    /// Of those in `short`, how many were pulled although the count has no more of their class: it missed them.
    pub uncounted: u64,
    /// Pulled for their looks before they were counted, without a word on which.
    pub unsaid: u64,
    /// The first day of such a pulling.
    pub first: Option<String>,
    /// Thinned without regard to looks, before or after they were counted.
    pub blind: u64,
    /// Pulled for their looks after they were counted.
    pub counted_in: u64,
    /// Whether a count of the day of a pulling is taken as made before it.
    pub same_day: bool,
    /// The day of a pulling before which this was counted, where later counts are left out for it.
    pub counted_before: Option<String>,
    /// How many seedlings the newest count left out holds.
    pub left_out: u64,
    /// The counts with those that were pulled, where their class is known.
    pub with_pulled: Option<WithPulled>,
}

impl PullingLine {
    /// In sentences; the classes of the trait are named in their order.
    #[must_use]
    pub fn words(&self, names: &[&str]) -> Vec<String> {
        let mut said = Vec::new();
        if let Some(day) = &self.counted_before {
            said.push(format!(
                "This is the count from before seedlings were pulled for their looks, first on {day}. The later one, of {}, is left out, since it would be biased.",
                several(self.left_out, "seedling", "seedlings")
            ));
        }
        said.extend(self.biased(names));
        if self.counted_in > 0 && self.first.is_none() && self.counted_before.is_none() {
            said.push(match self.counted_in {
                1 => "1 seedling was pulled for its looks, but counted before: this is not biased by it."
                    .to_owned(),
                n => format!(
                    "{n} seedlings were pulled for their looks, but counted before: this is not biased by it."
                ),
            });
        }
        if self.same_day && self.counted_before.is_none() {
            said.push(
                "The count is of the day of a pulling and taken as made before it; if it was made after, it is biased."
                    .to_owned(),
            );
        }
        if self.blind > 0 {
            let thinned = several(self.blind, "seedling was", "seedlings were");
            said.push(format!(
                "{thinned} thinned without regard to looks, which does not bias the count."
            ));
        }
        said
    }

    /// How the ratio is biased.
    fn biased(&self, names: &[&str]) -> Vec<String> {
        let Some(first) = &self.first else {
            return Vec::new();
        };
        let known: u64 = self.short.iter().map(|one| one.count).sum();
        let before = known + self.unsaid - self.uncounted;
        let mut said = Vec::new();
        if before > 0 {
            said.push(format!(
                "{} pulled for {} looks before this count, first on {first}, so its ratio is biased.",
                several(before, "seedling was", "seedlings were"),
                if before == 1 { "its" } else { "their" }
            ));
        }
        if self.uncounted > 0 {
            said.push(format!(
                "{} pulled for a look than {} counted of it, so the count missed {} and its ratio is biased.",
                several(self.uncounted, "more was", "more were"),
                if self.uncounted == 1 { "was" } else { "were" },
                if self.uncounted == 1 { "it" } else { "them" }
            ));
        }
        if !self.short.is_empty() {
            let short = self.short.iter();
            let short: Vec<String> = short
                .map(|one| format!("{} {}", one.count, one.class))
                .collect();
            said.push(format!("It is short of {}.", listed(&short, "and")));
        }
        if self.unsaid > 0 {
            said.push(format!(
                "Of {} nobody said the look: any class may be short of so many.",
                self.unsaid
            ));
        }
        if let Some(with) = &self.with_pulled {
            let counts = names.iter().zip(&with.observed);
            let counts: Vec<String> = counts.map(|(name, n)| format!("{n} {name}")).collect();
            let p = with.p.map_or_else(
                || "a class that cannot come is among them".to_owned(),
                |p| format!("p = {}", p_value(p)),
            );
            said.push(format!(
                "With them it is {}, {p}: go by that.",
                listed(&counts, "and")
            ));
        }
        let turning = self.short.iter().filter(|one| one.may_turn);
        let turning: Vec<&str> = turning.map(|one| one.class.as_str()).collect();
        if !turning.is_empty() {
            said.push(format!(
                "Some of those pulled as {} might have turned yet.",
                listed(&turning, "or")
            ));
        }
        said
    }
}

/// What is said of the trays of a cross together, where the counts of some are biased.
#[must_use]
pub fn biased_together(biased: &[String], p_of_others: Option<f64>) -> Option<String> {
    if biased.is_empty() {
        return None;
    }
    let which = listed(biased, "and");
    let others = p_of_others.map_or_else(String::new, |p| {
        format!(" Without {which} p = {}.", p_value(p))
    });
    Some(format!(
        "The count of {which} is biased by pulling, and so is the sum; trays may differ for that alone.{others}"
    ))
}
