//! Goals in words.

use super::Said;
use crate::records::facts::Facts;
use crate::records::rows::{GoalRow, Thing};
use crate::report::goals::goal_words;

pub(super) fn goal(facts: &Facts, id: i64, before: Option<&GoalRow>) -> Said {
    let Some(row) = facts.goal.get(id) else {
        return Said::bare("a goal");
    };
    let was = before.map_or_else(String::new, |before| {
        format!(" (was {})", goal_words(before))
    });
    let code = facts.code_of(Thing::Trait, row.trait_id).unwrap_or("?");
    let class = class(facts, row);
    Said::of(code, format!("{class} is {}{was}.", goal_words(row)))
}

pub(super) fn gone(facts: &Facts, row: &GoalRow) -> Said {
    let code = facts.code_of(Thing::Trait, row.trait_id).unwrap_or("?");
    let class = class(facts, row);
    Said::of(
        code,
        format!("{class} is no goal any more (was {}).", goal_words(row)),
    )
}

fn class<'f>(facts: &'f Facts, row: &GoalRow) -> &'f str {
    let class = facts.trait_class.get(row.class_id);
    class.map_or("?", |class| class.name.as_str())
}
