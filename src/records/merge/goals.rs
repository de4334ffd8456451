//! Goals of both ledgers: they stay as they are here, and what differs is told.

use super::{Meeting, differ};
use crate::records::code::fold;
use crate::records::facts::Facts;
use crate::records::rows::{GoalRow, Thing};

/// Tells the goals that are set otherwise there.
pub(super) fn compare(ours: &Facts, theirs: &Facts, meeting: &mut Meeting) {
    for goal in &theirs.goal {
        let look = look(theirs, goal);
        let mut own = ours.goal.iter();
        let own = own.find(|own| fold(&self::look(ours, own)) == fold(&look));
        let here = own.map_or_else(|| "none".to_owned(), words);
        let what = format!("goal {look}");
        differ(&mut meeting.outlook.differing, what, here, words(goal));
    }
}

/// The look of a goal: `foliage:purple`.
fn look(facts: &Facts, goal: &GoalRow) -> String {
    let of = facts.code_of(Thing::Trait, goal.trait_id).unwrap_or("?");
    match goal.class_id.and_then(|id| facts.trait_class.get(id)) {
        Some(class) => format!("{of}:{}", class.name),
        None => of.to_owned(),
    }
}

fn words(goal: &GoalRow) -> String {
    let less = if goal.less { " of less" } else { "" };
    let words = format!("{} {}", goal.kind, goal.weight);
    format!("{}{less}", words.trim())
}
