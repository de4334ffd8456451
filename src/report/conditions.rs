//! Under which conditions an expectation holds: what dies, what is bred from, whose seed it is, what is misread.

use serde::Serialize;

use super::numbers::percent;
use super::text::listed;
use crate::genetics::fraction::rounded;

/// The conditions of an expectation.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Conditions {
    /// The genotypes that do not live.
    pub lethal: Vec<String>,
    /// The genotypes that alone were bred from.
    pub kept: Vec<String>,
    /// Alleles whose pollen is weak, and how often it fertilises beside other pollen.
    pub weak_pollen: Vec<WeakAllele>,
    /// The share of the seed that the mother set with her own pollen.
    pub selfed: Option<f64>,
    /// What is misread.
    pub misread: Vec<MisreadLine>,
    /// Whether the look is that of the plants that bear the seed.
    pub maternal: bool,
    /// What those plants are: `F1 plants`.
    pub borne_by: Option<String>,
}

/// An allele whose pollen is weak.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WeakAllele {
    /// Its symbol.
    pub allele: String,
    /// How often it fertilises for once that other pollen of the plant does.
    pub share: f64,
}

/// A class that is sometimes taken for another.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MisreadLine {
    /// The class that is there.
    pub shown: String,
    /// The class written down.
    pub written: String,
    /// How often.
    pub share: f64,
}

impl Conditions {
    /// A sentence for each.
    #[must_use]
    pub fn said(&self) -> Vec<String> {
        let mut said = Vec::new();
        if !self.lethal.is_empty() {
            let dead = listed(&self.lethal, "and");
            said.push(format!(
                "Shares are of the plants that live, without {dead}."
            ));
        }
        if !self.kept.is_empty() {
            let kept = listed(&self.kept, "and");
            said.push(format!(
                "Only {kept} was bred from, in every generation on the way."
            ));
        }
        for WeakAllele { allele, share } in &self.weak_pollen {
            said.push(match share {
                0.0 => format!("Pollen with {allele} never fertilises."),
                _ => format!(
                    "Pollen with {allele} fertilises {} times for once that the plant's other pollen does.",
                    rounded(*share)
                ),
            });
        }
        if let Some(selfed) = self.selfed {
            said.push(format!(
                "{} of the seed is the mother's own, by her own pollen.",
                percent(selfed)
            ));
        }
        if !self.misread.is_empty() {
            let line =
                |m: &MisreadLine| format!("{} of {} as {}", percent(m.share), m.shown, m.written);
            let lines: Vec<String> = self.misread.iter().map(line).collect();
            said.push(format!(
                "Shares are of what is written down: {}.",
                listed(&lines, "and")
            ));
        }
        if let Some(borne_by) = &self.borne_by {
            said.push(format!(
                "The look is that of the mother plant, as in pods and seed coats: this seed is borne by {borne_by}."
            ));
        }
        said
    }
}
