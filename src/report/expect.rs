//! The answer of `expect`: classes, shares and the ratio, in words and in the JSON that scripts rely on.

use serde::Serialize;

use super::numbers::percent;
use super::table::Table;
use super::text::wrapped;
use super::{Answer, Page};
use crate::diagnosis::expectation::Expectation;

/// One expected class.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClassLine {
    /// Its name; those of several traits joined with `/`.
    pub class: String,
    /// Its probability, at the age asked about where there is one.
    pub p: f64,
    /// Its part of the final ratio.
    pub parts: Option<u64>,
    /// P(a seedling ends in it).
    pub final_p: f64,
}

/// What a cross is expected to show.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ExpectAnswer {
    /// The cross, where one of the ledger was asked about.
    pub cross: Option<String>,
    /// The mother's genotype as stated.
    pub mother: String,
    /// The father's genotype as stated.
    pub father: String,
    /// The traits.
    pub traits: Vec<String>,
    /// The final ratio, where it is one of small whole numbers.
    pub ratio: Option<String>,
    /// What is not stated of a parent, so that its shares rest on starting beliefs: `CW at A`.
    pub not_stated: Vec<String>,
    /// What is stated at loci that no trait asked about reads: `B/b`.
    pub ignored: Vec<String>,
    /// Loci read here that are recorded as linked and still taken as independent: `A and B`.
    pub linked: Vec<String>,
    /// The age asked about, in days from emergence.
    pub age: Option<f64>,
    /// The classes.
    pub classes: Vec<ClassLine>,
}

/// What was asked, in words.
#[derive(Debug, Clone)]
pub struct Asked {
    /// The cross, where one of the ledger was asked about.
    pub cross: Option<String>,
    /// The mother's genotype as stated.
    pub mother: String,
    /// The father's genotype as stated.
    pub father: String,
    /// Each trait's name and classes.
    pub traits: Vec<(String, Vec<String>)>,
    /// What is not stated of a parent: `CW at A`.
    pub not_stated: Vec<String>,
    /// What is stated at loci that no trait asked about reads: `B/b`.
    pub ignored: Vec<String>,
    /// Loci read here that are recorded as linked: `A and B`.
    pub linked: Vec<String>,
    /// The age asked about.
    pub age: Option<f64>,
}

impl ExpectAnswer {
    /// The answer from an expectation and the names of what was asked.
    #[must_use]
    pub fn new(asked: Asked, expectation: &Expectation) -> Self {
        let line = |class: &crate::diagnosis::expectation::ExpectedClass| {
            let names = class.classes.iter().zip(&asked.traits);
            let names: Vec<&str> = names
                .map(|(at, (_, classes))| classes[*at].as_str())
                .collect();
            ClassLine {
                class: names.join("/"),
                p: class.p,
                parts: class.parts,
                final_p: class.final_p,
            }
        };
        Self {
            classes: expectation.classes.iter().map(line).collect(),
            ratio: expectation.ratio(),
            cross: asked.cross,
            mother: asked.mother,
            father: asked.father,
            traits: asked.traits.into_iter().map(|(name, _)| name).collect(),
            not_stated: asked.not_stated,
            ignored: asked.ignored,
            linked: asked.linked,
            age: asked.age,
        }
    }

    fn heading(&self) -> String {
        let pair = format!("{} x {}", self.mother, self.father);
        match &self.cross {
            Some(cross) => format!("{cross}: {pair}"),
            None => pair,
        }
    }

    fn table(&self, page: Page) -> String {
        let mut headings = vec!["class", ">share", ">parts"];
        if self.age.is_some() {
            headings.push(">in the end");
        }
        let mut table = Table::new(&headings);
        for line in &self.classes {
            let parts = line.parts.map(|n| n.to_string()).unwrap_or_default();
            let mut cells = vec![line.class.clone(), exact_percent(line.p), parts];
            if self.age.is_some() {
                cells.push(exact_percent(line.final_p));
            }
            table.row(cells);
        }
        table.text(page)
    }
}

/// A share with the digits that 256 parts need, where it is one of them.
fn exact_percent(p: f64) -> String {
    let hundredfold = 100.0 * p;
    let two = (hundredfold * 100.0).round() / 100.0;
    if p > 0.0 && p < 1.0 && two > 0.0 && two < 100.0 {
        format!("{two} %")
    } else {
        percent(p)
    }
}

impl Answer for ExpectAnswer {
    fn words(&self, page: Page) -> String {
        let ratio = match &self.ratio {
            Some(one) if !one.contains(':') => {
                let sure = self.classes.iter().find(|line| line.parts == Some(1));
                format!("All {}.", sure.map_or("alike", |line| line.class.as_str()))
            }
            Some(ratio) => format!("Ratio {ratio}, in the order of the table."),
            None => "No ratio of small whole numbers.".to_owned(),
        };
        let age = self.age.map(|age| {
            format!(
                " Shares are what shows {age} days after coming up; the ratio is the final one."
            )
        });
        let open = if self.not_stated.is_empty() {
            String::new()
        } else {
            let open = super::text::listed(&self.not_stated, "and");
            format!(" Not stated: {open}; there the shares rest on the starting beliefs.")
        };
        let mut said = format!("{ratio}{}{open}", age.unwrap_or_default());
        if !self.linked.is_empty() {
            let linked = self.linked.join("; ");
            said.push_str(&format!(
                " Recorded as linked: {linked}; loci are taken as independent here."
            ));
        }
        if !self.ignored.is_empty() {
            said.push_str(&format!(
                "\n{} makes no difference here: {} does not read it.",
                super::text::listed(&self.ignored, "and"),
                super::text::listed(&self.traits, "or")
            ));
        }
        let heading = format!("{}, {}", self.heading(), self.traits.join(" / "));
        format!(
            "{}\n\n{}\n\n{}",
            wrapped(&heading, page.width, "  "),
            self.table(page),
            wrapped(&said, page.width, "")
        )
    }
}
