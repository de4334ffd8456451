//! `trait add --grades` and `grade`: traits on ordered grades, and the grades that plants are given.

use super::desk::Desk;
use super::find::{self, Wanted, thing};
use super::refusal::{GeneRefusal, Identity, Refusal};
use super::subject::{Notice, Subject, TraitDone};
use super::{score, traits};
use crate::genetics::Stage;
use crate::records::code::{Code, fold};
use crate::records::count::Count;
use crate::records::entry::{Grades, NewGradedTrait};
use crate::records::facts::Facts;
use crate::records::rows::{GradeRow, Thing, TraitClassRow, TraitRow};
use crate::records::scale::{Scale, is_graded, is_measured, read_grades};
use crate::records::target::Target;
use crate::records::taste::hot_class;
use crate::records::text::{self, NAME_MAX, shown};

pub(super) fn add(desk: &mut Desk, entry: &NewGradedTrait) -> Result<Subject, Refusal> {
    let words = |what: &'static str, typed: &Option<String>| match typed {
        Some(typed) => text::require(what, typed, NAME_MAX),
        None => Ok(String::new()),
    };
    let (name, organ) = (words("name", &entry.name)?, words("organ", &entry.organ)?);
    let names = read_grades(&entry.grades).map_err(|error| GeneRefusal::Trait {
        of: entry.code.to_string(),
        message: error.to_string(),
        hint: format!("locule trait add {} --grades 0-5", entry.code),
    })?;
    desk.free_of_series(&entry.code)?;
    let trait_id = enter(desk, &entry.code, [name, organ], &names);
    Ok(traits::done(trait_id, TraitDone::Added))
}

/// A trait of a code with these grades and nothing else said of it; gives its number.
pub(super) fn add_scale(desk: &mut Desk, code: &Code, grades: &[String]) -> Result<i64, Refusal> {
    desk.free_of_series(code)?;
    Ok(enter(desk, code, [(); 2].map(|()| String::new()), grades))
}

fn enter(desk: &mut Desk, code: &Code, [name, organ]: [String; 2], grades: &[String]) -> i64 {
    let trait_id = desk.insert(|id| TraitRow {
        id,
        name,
        organ,
        stage: Stage::Fruit.to_string(),
        misread: "0".to_owned(),
        switched_on: false,
        built_in: false,
        note: String::new(),
    });
    desk.name(code, Thing::Trait, trait_id);
    for (ord, name) in (0..).zip(grades.iter().cloned()) {
        desk.insert(|id| TraitClassRow {
            id,
            trait_id,
            ord,
            name,
            after_class: None,
            misread: None,
        });
    }
    trait_id
}

pub(super) fn grade(desk: &mut Desk, entry: &Grades) -> Result<Subject, Refusal> {
    desk.not_future(entry.day)?;
    let (plant_id, day) = (find::plant(desk, &entry.target, entry.day)?, entry.day);
    super::seedlings::check_alive(desk, plant_id, "graded", day)?;
    let taster = text::check("taster", &entry.taster, NAME_MAX)?;
    let of = entry.target.to_string();
    let pod = entry.pod.map(Count::get);
    if pod == Some(0) {
        return Err(GeneRefusal::NoPod.into());
    }
    score::check_up(desk, &entry.target, "graded", day)?;
    let (mut grades, mut graded) = (Vec::new(), Vec::new());
    for (word, typed) in &entry.grades {
        let scale = scale_named(desk.facts, word)?;
        if graded.contains(&scale.of) {
            return Err(GeneRefusal::TwoGrades(scale.code).into());
        }
        graded.push(scale.of);
        let step = scale.named(typed).ok_or_else(|| GeneRefusal::NoGrade {
            of: scale.code.clone(),
            typed: shown(typed),
            known: scale.names().into_iter().map(str::to_owned).collect(),
        })?;
        let (trait_id, class_id, taster) = (scale.of, step.class, taster.clone());
        let row = |id| GradeRow {
            id,
            plant_id,
            trait_id,
            class_id,
            pod,
            taster: taster.clone(),
            day,
        };
        tell_corrected(desk, &scale, &row(0));
        tell_untasted(desk, &scale, &entry.target, plant_id);
        grades.push(desk.insert(row));
    }
    if grades.is_empty() {
        return Err(Identity::Nothing { of, what: "grades" }.into());
    }
    Ok(Subject::Grades { grades })
}

/// Whether a word means how hot something is.
pub(super) fn is_of_heat(word: &str) -> bool {
    ["heat", "hotness"].contains(&fold(word).as_str())
}

/// Says of a plant graded for heat that a grade is no look, where the ledger asks for hot or not and nobody said it of this one.
fn tell_untasted(desk: &mut Desk, scale: &Scale, target: &Target, plant_id: i64) {
    let facts = desk.facts;
    let tasted = |row: &&TraitRow| row.switched_on && hot_class(facts, row.id).is_some();
    let Some(of) = facts.trait_.iter().find(tasted) else {
        return;
    };
    let is_of_it = |class: Option<i64>| {
        let class = class.and_then(|class| facts.trait_class.get(class));
        class.is_some_and(|class| class.trait_id == of.id)
    };
    let mut known = facts.reading.iter().filter(|row| row.plant_id == plant_id);
    let matters = facts.goal.iter().any(|goal| goal.trait_id == of.id)
        || facts.reading.iter().any(|row| is_of_it(row.class_id));
    if !matters || !is_of_heat(&scale.code) || known.any(|row| is_of_it(row.class_id)) {
        return;
    }
    let place = target.to_string();
    desk.tell(Notice::NotTasted { place });
}

/// Says that another grade by the same taster of the same pod and day no longer counts.
fn tell_corrected(desk: &mut Desk, scale: &Scale, now: &GradeRow) {
    let taster = now.taster.to_lowercase();
    let same = |row: &&GradeRow| {
        (row.plant_id, row.trait_id, row.pod, row.day)
            == (now.plant_id, now.trait_id, now.pod, now.day)
            && row.taster.to_lowercase() == taster
    };
    let newest = desk.facts.grade.iter().rfind(same);
    let Some(before) = newest.filter(|row| row.class_id != now.class_id) else {
        return;
    };
    let name = |class: i64| {
        let step = scale.step(class);
        format!("{} {}", scale.code, step.map_or("?", |step| &step.name))
    };
    let (before, after) = (name(before.class_id), name(now.class_id));
    let place = find::label(desk.facts, now.plant_id);
    desk.tell(Notice::GradedTwice {
        place,
        day: now.day,
        before,
        now: after,
    });
}

/// The grades of the trait that a word names.
fn scale_named(facts: &Facts, word: &str) -> Result<Scale, Refusal> {
    let code: Code = word.parse().map_err(|_| Identity::Unknown {
        wanted: Wanted::Graded,
        typed: shown(word),
        nearest: Vec::new(),
    })?;
    let (_, id) = thing(facts, &code, Wanted::Graded)?;
    let of = || facts.code_of(Thing::Trait, id).unwrap_or("?").to_owned();
    if is_measured(facts, id) {
        return Err(GeneRefusal::Measured(of()).into());
    }
    Ok(Scale::of(facts, id).ok_or_else(|| GeneRefusal::NotGraded(of()))?)
}

/// Refuses a trait on grades where one that is scored is meant.
pub(super) fn refuse_graded(facts: &Facts, trait_id: i64) -> Result<(), GeneRefusal> {
    if !is_graded(facts, trait_id) {
        return Ok(());
    }
    let of = facts.code_of(Thing::Trait, trait_id).unwrap_or("?");
    Err(GeneRefusal::Graded(of.to_owned()))
}
