//! The answer of `expect`: classes, shares and the ratio, in words and in the JSON that scripts rely on.

use serde::Serialize;

use super::conditions::Conditions;
use super::numbers::{count, percent};
use super::table::Table;
use super::text::{listed, wrapped};
use super::{Answer, Page};
use crate::diagnosis::expectation::{Expectation, ExpectedClass};

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
    /// `final_p` as a fraction in lowest terms, where it is known exactly: `281/400`.
    pub fraction: Option<String>,
    /// Plants of it to expect among those asked for.
    pub expected: Option<f64>,
    /// P(at least one of it among those plants).
    pub at_least_one: Option<f64>,
    /// `p` if the loci on one chromosome without a known distance were never parted.
    pub p_if_tight: Option<f64>,
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
    /// Neighbouring loci read here and how often they are parted: `A and B at 0.12`.
    pub linked: Vec<String>,
    /// Parents whose linked alleles may lie either way: `the mother at A and B`.
    pub phase_open: Vec<String>,
    /// Loci on one chromosome without a known distance: `A and H`.
    pub distance_open: Vec<String>,
    /// Measured pairs that are not used, since other loci lie between.
    pub overruled: Vec<String>,
    /// The generation, where one was named.
    pub generation: Option<String>,
    /// Under which conditions it holds.
    #[serde(flatten)]
    pub conditions: Conditions,
    /// Of how many plants the counts are.
    pub plants: Option<u64>,
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
    /// Neighbouring loci read here and how often they are parted.
    pub linked: Vec<String>,
    /// Parents whose linked alleles may lie either way.
    pub phase_open: Vec<String>,
    /// Loci on one chromosome without a known distance.
    pub distance_open: Vec<String>,
    /// Measured pairs that are not used.
    pub overruled: Vec<String>,
    /// The generation, where one was named.
    pub generation: Option<String>,
    /// Under which conditions it is asked.
    pub conditions: Conditions,
    /// Of how many plants counts are asked for.
    pub plants: Option<u64>,
    /// The age asked about.
    pub age: Option<f64>,
}

impl ExpectAnswer {
    /// The answer from an expectation and the names of what was asked; `tight` is what loci without a known
    /// distance would give if they were never parted.
    #[must_use]
    pub fn new(asked: Asked, expectation: &Expectation, tight: Option<&Expectation>) -> Self {
        let line = |class: &ExpectedClass| {
            let names = class.classes.iter().zip(&asked.traits);
            let names: Vec<&str> = names
                .map(|(at, (_, classes))| classes[*at].as_str())
                .collect();
            let same = |other: &&ExpectedClass| other.classes == class.classes;
            let if_tight = tight.map(|tight| tight.classes.iter().find(same));
            // Never quite certain, unless the class is.
            let some = |n: u64| {
                let some = -(n as f64 * (-class.p).ln_1p()).exp_m1();
                if class.p < 1.0 {
                    some.min(1.0 - f64::EPSILON)
                } else {
                    1.0
                }
            };
            ClassLine {
                class: names.join("/"),
                p: class.p,
                parts: class.parts,
                final_p: class.final_p,
                fraction: class.fraction.map(|(n, d)| match d {
                    1 => n.to_string(),
                    _ => format!("{n}/{d}"),
                }),
                expected: asked.plants.map(|n| n as f64 * class.p),
                at_least_one: asked.plants.map(some),
                p_if_tight: if_tight.map(|other| other.map_or(0.0, |other| other.p)),
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
            phase_open: asked.phase_open,
            distance_open: asked.distance_open,
            overruled: asked.overruled,
            generation: asked.generation,
            conditions: asked.conditions,
            plants: asked.plants,
            age: asked.age,
        }
    }

    fn heading(&self) -> String {
        let pair = format!("{} x {}", self.mother, self.father);
        let pair = match &self.cross {
            Some(cross) => format!("{cross}: {pair}"),
            None => pair,
        };
        match &self.generation {
            Some(generation) => format!("{generation} of {pair}"),
            None => pair,
        }
    }

    fn table(&self, page: Page) -> String {
        let longest = |line: &ClassLine| line.fraction.as_ref().map_or(0, String::len);
        let has_fractions = self.ratio.is_none()
            && self.classes.iter().any(|line| line.fraction.is_some())
            && self
                .classes
                .iter()
                .all(|line| longest(line) <= LONGEST_FRACTION);
        let tight = self.classes.iter().any(|line| line.p_if_tight.is_some());
        let columns = [
            (true, "class"),
            (true, ">share"),
            (tight, ">if tightly linked"),
            (has_fractions, ">exactly"),
            (!has_fractions && self.ratio.is_some(), ">parts"),
            (self.age.is_some(), ">in the end"),
            (self.plants.is_some(), ">plants"),
            (self.plants.is_some(), ">at least one"),
        ];
        let headings: Vec<&str> = columns
            .iter()
            .filter(|(on, _)| *on)
            .map(|(_, h)| *h)
            .collect();
        let mut table = Table::new(&headings);
        for line in &self.classes {
            let parts = line.parts.map(|n| n.to_string()).unwrap_or_default();
            let cells = [
                line.class.clone(),
                exact_percent(line.p),
                line.p_if_tight.map(exact_percent).unwrap_or_default(),
                line.fraction.clone().unwrap_or_default(),
                parts,
                exact_percent(line.final_p),
                line.expected.map(count).unwrap_or_default(),
                line.at_least_one.map(percent).unwrap_or_default(),
            ];
            let shown = cells.into_iter().zip(columns).filter(|(_, (on, _))| *on);
            table.row(shown.map(|(cell, _)| cell).collect::<Vec<_>>());
        }
        table.text(page)
    }

    /// What the answer rests on where loci share a chromosome.
    fn lie(&self) -> Vec<String> {
        let mut said = Vec::new();
        if !self.linked.is_empty() {
            said.push(format!(
                "Parted per meiosis: {}.",
                listed(&self.linked, "and")
            ));
        }
        if !self.phase_open.is_empty() {
            said.push(format!(
                "The phase of {} is not stated: either way of lying counts as equally likely; write A|a B|b to state it.",
                listed(&self.phase_open, "and")
            ));
        }
        if !self.overruled.is_empty() {
            said.push(format!("Not used: {}.", listed(&self.overruled, "and")));
        }
        if !self.distance_open.is_empty() {
            let beside = match self.classes.iter().any(|line| line.p_if_tight.is_some()) {
                true => {
                    "The share takes them as independent, the column beside as never parted; --recombines states it."
                }
                false => {
                    "With the phase open too, never parted gives the same shares as independent."
                }
            };
            said.push(format!(
                "On one chromosome, at a distance that nobody has stated: {}. {beside}",
                listed(&self.distance_open, "and")
            ));
        }
        said.extend(self.conditions.said());
        said
    }
}

/// Longest exact fraction that is shown in the table, in characters.
const LONGEST_FRACTION: usize = 21;

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
            let open = listed(&self.not_stated, "and");
            format!(" Not stated: {open}; there the shares rest on the starting beliefs.")
        };
        let mut said = format!("{ratio}{}{open}", age.unwrap_or_default());
        for sentence in self.lie() {
            said.push_str(&format!(" {sentence}"));
        }
        if !self.ignored.is_empty() {
            said.push_str(&format!(
                "\n{} makes no difference here: {} does not read it.",
                listed(&self.ignored, "and"),
                listed(&self.traits, "or")
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
