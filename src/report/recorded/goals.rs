//! Goals and grades in words.

use super::Said;
use super::plants::{dated, label};
use crate::diagnosis::grades::Graded;
use crate::records::facts::Facts;
use crate::records::rows::{GoalRow, Thing};
use crate::report::goals::{goal_of, goal_words};
use crate::report::grades::mean_words;

pub(super) fn goal(facts: &Facts, id: i64, before: Option<&GoalRow>) -> Said {
    let Some(row) = facts.goal.get(id) else {
        return Said::bare("a goal");
    };
    let was = before.map_or_else(String::new, |before| {
        format!(" (was {})", goal_words(before))
    });
    let code = facts.code_of(Thing::Trait, row.trait_id).unwrap_or("?");
    let class = goal_of(facts, row);
    Said::of(code, format!("{class} is {}{was}.", goal_words(row)))
}

pub(super) fn gone(facts: &Facts, row: &GoalRow) -> Said {
    let code = facts.code_of(Thing::Trait, row.trait_id).unwrap_or("?");
    let class = goal_of(facts, row);
    Said::of(
        code,
        format!("{class} is no goal any more (was {}).", goal_words(row)),
    )
}

pub(super) fn grades(facts: &Facts, ids: &[i64]) -> Said {
    let rows: Vec<_> = ids.iter().filter_map(|id| facts.grade.get(*id)).collect();
    let Some(first) = rows.first() else {
        return Said::bare("grades");
    };
    let code = |of: i64| facts.code_of(Thing::Trait, of).unwrap_or("?");
    let grade = |class: i64| {
        facts
            .trait_class
            .get(class)
            .map_or("?", |row| row.name.as_str())
    };
    let given: Vec<String> = (rows.iter())
        .map(|row| format!("{} {}", code(row.trait_id), grade(row.class_id)))
        .collect();
    let mut words = format!("{} on {}", given.join(", "), dated(first.day));
    if let Some(pod) = first.pod {
        words.push_str(&format!(", pod {pod}"));
    }
    if !first.taster.is_empty() {
        words.push_str(&format!(", by {}", first.taster));
    }
    words.push('.');
    for row in &rows {
        let graded = Graded::of(facts, row.trait_id);
        let own = graded
            .as_ref()
            .and_then(|all| Some((all, all.plant(row.plant_id)?)));
        if let Some((all, own)) = own.filter(|(_, own)| own.grades > 1) {
            let mean = mean_words(all, own);
            words.push_str(&format!(" {} so far: {mean}.", code(row.trait_id)));
        }
    }
    Said::of(label(facts, first.plant_id), words)
}
