//! `goal`: the looks that are bred for, and those that are not wanted.

use super::desk::Desk;
use super::looks::Reader;
use super::refusal::{GeneRefusal, LookRefusal, Refusal};
use super::{Remedy, Subject};
use crate::records::entry::{NewGoal, Seen};
use crate::records::genes::read_number;
use crate::records::rows::{GoalKind, GoalRow};
use crate::records::text::shown;

/// The largest weight.
const WEIGHT_MAX: f64 = 1000.0;

pub(super) fn add(desk: &mut Desk, entry: &NewGoal) -> Result<Subject, Refusal> {
    let (trait_id, class_id) = look(desk, &entry.look)?;
    let weight = match entry.kind {
        GoalKind::Want => weight(entry.weight.as_deref().unwrap_or("1"))?,
        GoalKind::Must | GoalKind::Avoid => String::new(),
    };
    let row = |id: i64| GoalRow {
        id,
        kind: entry.kind,
        trait_id,
        class_id,
        weight,
    };
    let held = desk.facts.goal.iter().find(|row| row.class_id == class_id);
    let goal = match held {
        Some(held) => {
            desk.update(held, row(held.id));
            held.id
        }
        None => desk.insert(row),
    };
    let before = held.cloned();
    Ok(Subject::Goal { goal, before })
}

pub(super) fn remove(desk: &mut Desk, entry: &Seen) -> Result<Subject, Refusal> {
    let (_, class_id) = look(desk, entry)?;
    let held = desk.facts.goal.iter().find(|row| row.class_id == class_id);
    let Some(held) = held.cloned() else {
        let word = desk.facts.trait_class.get(class_id);
        let word = word.map_or_else(String::new, |class| class.name.clone());
        return Err(GeneRefusal::NoGoal(word).into());
    };
    desk.delete(&held);
    Ok(Subject::GoalGone { goal: held })
}

/// The trait and the class of a look that is plainly seen.
fn look(desk: &Desk, seen: &Seen) -> Result<(i64, i64), Refusal> {
    let reader = Reader::grown(desk.facts, None)?;
    let sights = reader.read(&vec![seen.clone()])?;
    let sight = sights[0];
    match (sight.class, sight.sureness) {
        (Some(class), crate::records::rows::Sureness::Firm) => Ok((sight.of, class)),
        _ => Err(LookRefusal::NoClass(reader.word(&sight)).into()),
    }
}

/// A weight as it is kept.
fn weight(typed: &str) -> Result<String, Refusal> {
    let fits = |weight: &f64| *weight > 0.0 && *weight <= WEIGHT_MAX;
    match read_number(typed).filter(fits) {
        Some(_) => Ok(typed.trim().to_owned()),
        None => Err(GeneRefusal::Number {
            what: "--want".to_owned(),
            typed: shown(typed),
            wanted: "a weight above 0, at most 1000",
            remedy: Box::new(Remedy::Flags(vec![("--want", "3".to_owned())])),
        }
        .into()),
    }
}
