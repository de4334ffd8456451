//! The answers of `trait list` and `trait show`.

use serde::Serialize;

use super::goals::{goal_of, goal_words};
use super::show_things::came_from;
use super::table::Table as Columns;
use super::tasting::CAUTION;
use super::text::{columns, listed, wrapped};
use super::{Answer, Page};
use crate::genetics::traits::{ModelSpec, TraitSpec};
use crate::records::facts::Facts;
use crate::records::rows::Table;
use crate::records::scale::is_measured;
use crate::records::taste::HOT;

/// One trait in the list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TraitLine {
    /// Its code.
    pub code: String,
    /// What it is.
    pub name: String,
    /// The organ.
    pub organ: String,
    /// The stage.
    pub stage: String,
    /// The classes.
    pub classes: Vec<String>,
    /// Whether it is offered for scoring.
    pub on: bool,
    /// Whether bare class words belong to it.
    pub bench: bool,
}

/// The traits of a ledger.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TraitList {
    /// The traits.
    pub traits: Vec<TraitLine>,
}

impl TraitLine {
    /// Of a trait; `bench` says whether bare class words belong to it.
    #[must_use]
    pub fn new(spec: &TraitSpec, bench: bool) -> Self {
        Self {
            code: spec.code.clone(),
            name: spec.name.clone(),
            organ: spec.organ.clone(),
            stage: spec.stage.to_string(),
            classes: spec.class_names(),
            on: spec.on,
            bench,
        }
    }
}

impl Answer for TraitList {
    fn words(&self, page: Page) -> String {
        let mut table = Columns::new(&["trait", "stage", "offered", "classes", "what it is"]);
        for line in &self.traits {
            let offered = match (line.on, line.bench) {
                (_, true) => "bench",
                (true, false) => "yes",
                (false, false) => "no",
            };
            table.row([
                &line.code,
                &line.stage,
                offered,
                &line.classes.join(", "),
                &line.name,
            ]);
        }
        let classes = self.traits.iter().flat_map(|line| &line.classes);
        if let Some(longest) = classes.max_by_key(|class| columns(class)) {
            table.keep_whole(3, &format!("{longest},"));
        }
        table.text(page)
    }
}

/// A gene model of a trait.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ModelLine {
    /// Its name.
    pub name: String,
    /// Whether it is the one in use.
    pub in_use: bool,
    /// The rules, in order.
    pub rules: Vec<String>,
    /// How far it can be trusted.
    pub standing: String,
    /// Where it comes from.
    pub source: String,
}

/// A class of a trait.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClassLine {
    /// Its name.
    pub class: String,
    /// The class shown before it, for a late one.
    pub after: Option<String>,
    /// P(a plant showing it is written down as another class).
    pub misread: f64,
}

/// When late classes show.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OnsetLine {
    /// Median age in days.
    pub median_days: f64,
    /// Spread of the log of the age.
    pub spread: f64,
    /// Share that ever shows it.
    pub ceiling: f64,
}

/// One trait with everything about it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TraitShow {
    /// What the list says of it.
    #[serde(flatten)]
    pub line: TraitLine,
    /// Its classes.
    pub class_details: Vec<ClassLine>,
    /// When late classes show.
    pub onset: Option<OnsetLine>,
    /// Its gene models.
    pub models: Vec<ModelLine>,
    /// What to know when scoring it.
    pub note: String,
    /// Which of its looks are bred for or avoided: `purple is a must`.
    pub goals: Vec<String>,
    /// The ledgers that it came from.
    pub from: Vec<String>,
    /// Whether it is told by what is measured of plants.
    pub measured: bool,
}

impl TraitShow {
    /// Of a trait.
    #[must_use]
    pub fn new(spec: &TraitSpec, bench: bool) -> Self {
        let class = |at: usize| ClassLine {
            class: spec.classes[at].name.clone(),
            after: spec.classes[at].after.clone(),
            misread: spec.misread_of(at),
        };
        Self {
            line: TraitLine::new(spec, bench),
            class_details: (0..spec.classes.len()).map(class).collect(),
            onset: spec.onset.map(|onset| OnsetLine {
                median_days: onset.median_days,
                spread: onset.spread,
                ceiling: onset.ceiling,
            }),
            models: spec.models.iter().map(model).collect(),
            note: spec.note.clone(),
            goals: Vec::new(),
            from: Vec::new(),
            measured: false,
        }
    }

    /// The same, with the goals set for the trait of this number and the ledgers that it came from.
    #[must_use]
    pub fn in_ledger(mut self, facts: &Facts, id: i64) -> Self {
        let goals = facts.goal.iter().filter(|goal| goal.trait_id == id);
        self.goals = goals
            .map(|goal| format!("{} is {}", goal_of(facts, goal), goal_words(goal)))
            .collect();
        let notes = came_from(facts, Table::Trait, id).into_iter();
        self.from = notes.map(|line| line.known).collect();
        self.measured = is_measured(facts, id);
        if self.measured {
            self.line.stage.clear();
        }
        self
    }

    /// What it is, where and when it is looked at; what is not stated is left out.
    fn about(&self, offered: &str) -> String {
        let line = &self.line;
        let how = [&line.organ, &line.stage, offered];
        let how: Vec<&str> = how.into_iter().filter(|word| !word.is_empty()).collect();
        let parts = [line.name.clone(), how.join(", ")];
        let said = parts.into_iter().filter(|part| !part.is_empty());
        said.collect::<Vec<_>>().join("; ")
    }

    fn lateness(&self) -> Option<String> {
        let onset = self.onset.as_ref()?;
        let late: Vec<String> = self
            .class_details
            .iter()
            .filter_map(|class| Some(format!("{} after {}", class.class, class.after.as_ref()?)))
            .collect();
        Some(format!(
            "Late: {}; half of them by {} {} after coming up, spread of the log {}, {} ever.",
            listed(&late, "and"),
            short(onset.median_days),
            if onset.median_days == 1.0 {
                "day"
            } else {
                "days"
            },
            short(onset.spread),
            short(onset.ceiling)
        ))
    }
}

/// A number in its shortest form, a tiny one with its exponent.
fn short(number: f64) -> String {
    if number != 0.0 && number.abs() < 1e-6 {
        format!("{number:e}")
    } else {
        number.to_string()
    }
}

fn model(spec: &ModelSpec) -> ModelLine {
    ModelLine {
        name: spec.name.clone(),
        in_use: spec.in_use,
        rules: spec
            .rules
            .iter()
            .map(|(pattern, class)| format!("{pattern} => {class}"))
            .collect(),
        standing: spec.standing.to_string(),
        source: spec.source.clone(),
    }
}

impl Answer for TraitShow {
    fn words(&self, page: Page) -> String {
        let offered = match (self.line.bench, self.line.on) {
            _ if self.measured => "told by the newest measure of each plant",
            _ if self.models.is_empty() => "graded",
            (true, _) => "the bench trait",
            (false, true) => "offered for scoring",
            (false, false) => "switched off",
        };
        let mut said = vec![
            format!("{}: {}.", self.line.code, self.about(offered)),
            format!("Classes: {}.", self.line.classes.join(", ")),
        ];
        said.extend(self.lateness());
        let misread: Vec<String> = self
            .class_details
            .iter()
            .map(|class| format!("{} {}", class.class, short(class.misread)))
            .collect();
        if !self.models.is_empty() {
            said.push(format!("Misread: {}.", misread.join(", ")));
        }
        for model in &self.models {
            let state = if model.in_use { "in use" } else { "a rival" };
            let source = if model.source.is_empty() {
                String::new()
            } else {
                format!(": {}", model.source)
            };
            said.push(format!(
                "Gene model {} ({state}; {}{source}):",
                model.name, model.standing
            ));
            said.extend(model.rules.iter().map(|rule| format!("    {rule}")));
        }
        if !self.note.is_empty() {
            said.push(self.note.clone());
        }
        if self.line.classes.iter().any(|class| class == HOT) {
            said.push(CAUTION.to_owned());
        }
        said.extend(self.goals.iter().map(|goal| format!("Goal: {goal}.")));
        said.extend(self.from.iter().map(|from| format!("From {from}.")));
        said.iter()
            .map(|line| wrapped(&super::text::shown(line), page.width, "  "))
            .collect::<Vec<_>>()
            .join("\n")
    }
}
