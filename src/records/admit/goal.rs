//! `goal`: the looks that are bred for, and those that are not wanted.

use super::desk::Desk;
use super::looks::Reader;
use super::refusal::{GeneRefusal, LookRefusal, Refusal};
use super::{Remedy, Subject, grade};
use crate::records::code::{Code, fold};
use crate::records::entry::{NewGoal, Seen, SeenWhat};
use crate::records::facts::Facts;
use crate::records::genes::read_number;
use crate::records::measures::names_of;
use crate::records::rows::{GoalKind, GoalRow, MeasureRow, Sureness, Thing, TraitClassRow};
use crate::records::scale::is_graded;
use crate::records::text::shown;

/// The largest weight.
const WEIGHT_MAX: f64 = 1000.0;

pub(super) fn add(desk: &mut Desk, entry: &NewGoal) -> Result<Subject, Refusal> {
    let meant = meant_or_measured(desk, &entry.look)?;
    check_form(desk.facts, meant, entry)?;
    let (trait_id, class_id) = meant;
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
        less: entry.less,
    };
    check_together(desk.facts, meant, entry.kind)?;
    let held = held(desk.facts, meant);
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
    let meant = meant(desk, entry)?;
    let Some(held) = held(desk.facts, meant).cloned() else {
        let class = meant.1.and_then(|class| desk.facts.trait_class.get(class));
        let code = || desk.facts.code_of(Thing::Trait, meant.0).unwrap_or("?");
        let word = class.map_or_else(|| code().to_owned(), |class| class.name.clone());
        return Err(GeneRefusal::NoGoal(word).into());
    };
    desk.delete(&held);
    Ok(Subject::GoalGone { goal: held })
}

/// A trait and its class, or the grades of a graded trait as a whole.
type Meant = (i64, Option<i64>);

fn held(facts: &Facts, (trait_id, class_id): Meant) -> Option<&GoalRow> {
    let mut goals = facts.goal.iter();
    goals.find(|row| (row.trait_id, row.class_id) == (trait_id, class_id))
}

/// Grades can only be wanted, and only of grades can less be wanted.
fn check_form(facts: &Facts, (of, class): Meant, entry: &NewGoal) -> Result<(), GeneRefusal> {
    match class.and_then(|class| facts.trait_class.get(class)) {
        None if entry.kind != GoalKind::Want => {
            let typed = match &entry.look.what {
                SeenWhat::Class(word) => shown(word),
                _ => String::new(),
            };
            let code = facts.code_of(Thing::Trait, of).map_or(typed, str::to_owned);
            Err(GeneRefusal::OnlyWanted(code))
        }
        Some(class) if entry.less => Err(GeneRefusal::NotLess(class.name.clone())),
        _ => Ok(()),
    }
}

/// A plant shows one look of a trait: two of them cannot both be musts, and not each of them be avoided.
fn check_together(facts: &Facts, (of, class): Meant, kind: GoalKind) -> Result<(), GeneRefusal> {
    let Some(class) = class else {
        return Ok(());
    };
    let others = facts.goal.iter().filter(|row| row.trait_id == of);
    let others = others.filter(|row| row.kind == kind && row.class_id != Some(class));
    let others: Vec<i64> = others.filter_map(|row| row.class_id).collect();
    let is_avoided = |row: &TraitClassRow| row.id == class || others.contains(&row.id);
    let mut classes = facts.trait_class.iter().filter(|row| row.trait_id == of);
    let clashes = match kind {
        GoalKind::Must => !others.is_empty(),
        GoalKind::Avoid => classes.all(is_avoided),
        GoalKind::Want => false,
    };
    let Some(earlier) = others.last().filter(|_| clashes) else {
        return Ok(());
    };
    let name = |class: i64| {
        let row = facts.trait_class.get(class);
        row.map_or_else(String::new, |row| row.name.clone())
    };
    Err(GeneRefusal::GoalsClash {
        of: facts.code_of(Thing::Trait, of).unwrap_or("?").to_owned(),
        look: name(class),
        earlier: name(*earlier),
        kind,
    })
}

/// What a word means: a graded trait by its code, else a look that is plainly seen.
fn meant(desk: &Desk, seen: &Seen) -> Result<Meant, Refusal> {
    if let (None, SeenWhat::Class(word)) = (&seen.of, &seen.what) {
        let code = desk.facts.code_named(word);
        let code = code.filter(|code| code.thing == Thing::Trait);
        if let Some(of) = code.filter(|code| is_graded(desk.facts, code.thing_id)) {
            return Ok((of.thing_id, None));
        }
    }
    let reader = Reader::grown(desk.facts, None)?;
    let sights = reader.read(&vec![seen.clone()])?;
    let sight = sights[0];
    match (sight.class, sight.sureness) {
        (Some(class), Sureness::Firm) => Ok((sight.of, Some(class))),
        (Some(class), Sureness::Doubtful) => {
            let class = desk.facts.trait_class.get(class);
            let name = class.map_or_else(String::new, |class| class.name.clone());
            Err(LookRefusal::InDoubt(name).into())
        }
        _ => Err(LookRefusal::NoClass(reader.word(&sight)).into()),
    }
}

/// What a word means; where it is no look and no trait, but something that was measured, a trait of that name, from low to
/// high, which is told by the measures.
fn meant_or_measured(desk: &mut Desk, seen: &Seen) -> Result<Meant, Refusal> {
    let unknown = match meant(desk, seen) {
        Ok(meant) => return Ok(meant),
        Err(refusal) => refusal,
    };
    let (None, SeenWhat::Class(word)) = (&seen.of, &seen.what) else {
        return Err(unknown);
    };
    let rows: Vec<&MeasureRow> = desk.facts.measure.iter().collect();
    let mut names = names_of(&rows).into_iter();
    let name = names.find(|name| fold(name) == fold(word));
    let Some(code) = name.and_then(|name| name.parse::<Code>().ok()) else {
        return Err(
            match grade::is_of_heat(word) && word.parse::<Code>().is_ok() {
                true => GeneRefusal::NoScaleYet(shown(word)).into(),
                false => unknown,
            },
        );
    };
    let trait_id = grade::add_scale(desk, &code, &["low", "high"].map(str::to_owned))?;
    Ok((trait_id, None))
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
