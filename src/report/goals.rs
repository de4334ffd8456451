//! The answer of `goal list`, and a goal in words.

use serde::Serialize;

use super::table::Table as Columns;
use super::text::wrapped;
use super::{Answer, Page};
use crate::records::facts::Facts;
use crate::records::rows::{GoalKind, GoalRow, Thing};

/// One goal.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GoalLine {
    /// The trait.
    #[serde(rename = "trait")]
    pub of: String,
    /// The class; nothing for the grades of a graded trait as a whole.
    pub class: Option<String>,
    /// How much it matters: must, want or avoid.
    pub kind: &'static str,
    /// The weight of a want.
    pub weight: Option<f64>,
    /// Whether of grades the lower ones are wanted.
    pub less: bool,
}

/// The goals of a ledger.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GoalsAnswer {
    /// The goals: musts, then wants, then what is to be avoided.
    pub goals: Vec<GoalLine>,
}

impl GoalLine {
    /// Of a goal.
    #[must_use]
    pub fn new(facts: &Facts, goal: &GoalRow) -> Self {
        let class = goal.class_id.and_then(|id| facts.trait_class.get(id));
        Self {
            of: facts
                .code_of(Thing::Trait, goal.trait_id)
                .unwrap_or_default()
                .to_owned(),
            class: class.map(|class| class.name.clone()),
            kind: goal.kind.word(),
            weight: goal.weight.parse().ok(),
            less: goal.less,
        }
    }
}

impl GoalsAnswer {
    /// The goals of a ledger.
    #[must_use]
    pub fn new(facts: &Facts) -> Self {
        let mut rows: Vec<&GoalRow> = facts.goal.iter().collect();
        rows.sort_by_key(|goal| match goal.kind {
            GoalKind::Must => 0,
            GoalKind::Want => 1,
            GoalKind::Avoid => 2,
        });
        Self {
            goals: rows
                .into_iter()
                .map(|goal| GoalLine::new(facts, goal))
                .collect(),
        }
    }
}

impl Answer for GoalsAnswer {
    fn words(&self, page: Page) -> String {
        if self.goals.is_empty() {
            return wrapped(
                "No goals yet. Set one: locule goal add purple --must",
                page.width,
                "  ",
            );
        }
        let mut table = Columns::new(&["look", "trait", "how", "weight"]);
        for line in &self.goals {
            let weight = line.weight.map_or_else(String::new, |w| w.to_string());
            let grades = if line.less {
                "less of it"
            } else {
                "more of it"
            };
            let look = line.class.as_deref().unwrap_or(grades);
            table.row([look, &line.of, line.kind, &weight]);
        }
        table.text(page)
    }
}

/// How much a goal matters, as an answer says it: `a must`, `wanted, weight 3`, `to be avoided`.
#[must_use]
pub fn goal_words(goal: &GoalRow) -> String {
    match goal.kind {
        GoalKind::Must => "a must".to_owned(),
        GoalKind::Want => format!("wanted, weight {}", goal.weight),
        GoalKind::Avoid => "to be avoided".to_owned(),
    }
}

/// What a goal is of, as an answer says it: `purple`, `more heat`, `less heat`.
#[must_use]
pub fn goal_of(facts: &Facts, goal: &GoalRow) -> String {
    let of = facts.code_of(Thing::Trait, goal.trait_id).unwrap_or("?");
    match goal.class_id.and_then(|id| facts.trait_class.get(id)) {
        Some(class) => class.name.clone(),
        None if goal.less => format!("less {of}"),
        None => format!("more {of}"),
    }
}
