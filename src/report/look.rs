//! The answer of `trait show --look`: the genotypes that fit a look.

use serde::Serialize;

use super::numbers::several;
use super::text::{listed, wrapped};
use super::{Answer, Page};
use crate::genetics::fitting::{Fitting, fitting};
use crate::genetics::locus::LocusBook;
use crate::genetics::rule::{Cytoplasm, GeneModel};

/// Up to this many genotypes are written out one by one, for scripts.
const MOST_LISTED: u128 = 1_000;

/// The genotypes that fit under one model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ModelLooks {
    /// The model.
    pub model: String,
    /// Whether it is the one in use.
    pub in_use: bool,
    /// `normal` or `sterile`; nothing where the model does not ask for the cytoplasm.
    pub cytoplasm: Option<&'static str>,
    /// The genotypes in patterns, without overlap; empty where the model cannot give the look.
    pub patterns: Vec<String>,
    /// How many genotypes these are.
    pub count: u128,
    /// Each of them; nothing where they are more than a thousand.
    pub genotypes: Option<Vec<String>>,
}

/// The genotypes that fit a look.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LookAnswer {
    /// The trait.
    #[serde(rename = "trait")]
    pub of: String,
    /// The look.
    pub look: String,
    /// Model by model, the one in use first.
    pub models: Vec<ModelLooks>,
    /// Later looks that a plant may still turn to: then it shows this one for a while only.
    pub turns_to: Vec<String>,
    /// What to know when scoring it.
    pub note: String,
}

impl ModelLooks {
    /// What fits a class under a model.
    #[must_use]
    pub fn of(model: &GeneModel, in_use: bool, class: usize, book: &LocusBook) -> Vec<Self> {
        let cytoplasms: &[(Cytoplasm, Option<&'static str>)] = if model.reads_cytoplasm() {
            &[
                (Cytoplasm::Normal, Some("normal")),
                (Cytoplasm::Sterile, Some("sterile")),
            ]
        } else {
            &[(Cytoplasm::Unknown, None)]
        };
        let one = |(cytoplasm, word): &(Cytoplasm, Option<&'static str>)| {
            let found = fitting(model, class, *cytoplasm);
            let count = found.iter().map(Fitting::count).sum();
            let each = || {
                found
                    .iter()
                    .flat_map(|one| one.genotypes(model, book))
                    .collect()
            };
            Self {
                model: model.name().to_owned(),
                in_use,
                cytoplasm: *word,
                patterns: found.iter().map(|one| pattern(one, model, book)).collect(),
                count,
                genotypes: (count <= MOST_LISTED).then(each),
            }
        };
        cytoplasms.iter().map(one).collect()
    }

    fn words(&self) -> String {
        let in_use = if self.in_use { " (in use)" } else { "" };
        let where_ = self
            .cytoplasm
            .map_or_else(String::new, |word| format!(", {word} cytoplasm"));
        let fits = match self.patterns.as_slice() {
            [] => "no genotype gives it".to_owned(),
            patterns => {
                let genotypes = u64::try_from(self.count).unwrap_or(u64::MAX);
                let genotypes = several(genotypes, "genotype", "genotypes");
                format!("{}; {genotypes}", listed(patterns, "or"))
            }
        };
        format!("{}{in_use}{where_}: {fits}.", self.model)
    }
}

fn pattern(found: &Fitting, model: &GeneModel, book: &LocusBook) -> String {
    match found.written(model, book) {
        anything if anything.is_empty() => "any genotype".to_owned(),
        pattern => pattern,
    }
}

impl Answer for LookAnswer {
    fn words(&self, page: Page) -> String {
        let heading = format!("{}, {}: what fits, by gene model", self.of, self.look);
        let mut said = vec![heading];
        said.extend(self.models.iter().map(|line| format!("  {}", line.words())));
        if !self.turns_to.is_empty() {
            said.push(format!(
                "A young plant that will be {} shows {} too, until it turns.",
                listed(&self.turns_to, "or"),
                self.look
            ));
        }
        if !self.note.is_empty() {
            said.push(self.note.clone());
        }
        let lines: Vec<String> = said
            .iter()
            .map(|line| wrapped(line, page.width, "    "))
            .collect();
        lines.join("\n")
    }
}
