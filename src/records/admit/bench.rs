//! `care`, `measure`, `note`, `photo`, `assume`: what else is written down at the bench.

use super::desk::{Desk, some};
use super::find::Wanted;
use super::refusal::{Excess, GeneRefusal, Identity, Refusal};
use super::{Notice, Subject, find};
use crate::records::assumptions::{self, AssumeError, Assumption, Assumptions};
use crate::records::code::fold;
use crate::records::day::Day;
use crate::records::entry::{Assume, Care, Measures, Note, Photos};
use crate::records::genes::read_number;
use crate::records::measures::{UNITS, converted, names_of, newest_of_each};
use crate::records::near::nearest;
use crate::records::rows::{CareRow, CareTargetRow, MeasureRow, PhotoRow, RemarkRow, Thing};
use crate::records::target::Target;
use crate::records::text::{self, NAME_MAX, NOTE_MAX, TextError, shown};
use crate::records::warmth::{SEED_COMES_UP, WARMTH, read_warmth};
use crate::stats::two_samples::median;

/// Longest unit, in characters.
const UNIT_MAX: usize = 24;

pub(super) fn care(desk: &mut Desk, entry: &Care) -> Result<Subject, Refusal> {
    desk.not_future(entry.day)?;
    let (kind, targets) = kind_first(desk, entry);
    let kind = text::require("kind of care", &kind, NAME_MAX)?.to_lowercase();
    let product = text::check("product", &entry.product, NAME_MAX)?;
    let is_warmth = kind == WARMTH;
    let dose = match is_warmth {
        true => warmth(desk, &entry.dose)?,
        false => text::check("dose", &entry.dose, NAME_MAX)?,
    };
    let note = text::check("remark", &entry.note, NOTE_MAX)?;
    let interval_days = entry
        .every
        .map(|days| some(days, "days", &kind))
        .transpose()?;
    let day = entry.day;
    let care = desk.insert(|id| CareRow {
        id,
        kind,
        product,
        dose,
        interval_days,
        day,
        note,
    });
    for target in &targets {
        let (thing, thing_id) = match is_warmth {
            true => tray(desk, target)?,
            false => find::any(desk, target, day)?,
        };
        desk.insert(|id| CareTargetRow {
            id,
            care_id: care,
            thing,
            thing_id,
        });
    }
    Ok(Subject::Care { care })
}

/// The warmth of the soil as it is kept; says what to mind the first time.
pub(super) fn warmth(desk: &mut Desk, typed: &str) -> Result<String, Refusal> {
    let Some((kept, celsius)) = read_warmth(typed) else {
        return Err(TextError::Form {
            what: "warmth",
            text: shown(typed),
            wanted: "the degrees of soil, 0 to 50 °C, such as 24, or 75F",
        }
        .into());
    };
    if !SEED_COMES_UP.contains(&celsius) {
        desk.doubt(Excess::Warmth {
            warmth: kept.clone(),
        })?;
    }
    if !desk.facts.care.iter().any(|care| care.kind == WARMTH) {
        desk.tell(Notice::FirstWarmth);
    }
    Ok(kept)
}

/// The tray whose soil is meant.
fn tray(desk: &Desk, target: &Target) -> Result<(Thing, i64), Refusal> {
    match target {
        Target::Code(code) | Target::Lot(code, _) => find::thing(desk.facts, code, Wanted::Tray),
        Target::Spot(..) => Err(Identity::OtherThing {
            typed: target.to_string(),
            is: Thing::Plant,
            wanted: Wanted::Tray,
        }
        .into()),
    }
}

/// The kind of care and what got it, also where they were typed the other way round: `care T1 feed`, where T1 is in the
/// ledger and feed is not.
fn kind_first(desk: &Desk, entry: &Care) -> (String, Vec<Target>) {
    let is_known = |target: &Target| desk.facts.code_named(target.code().as_str()).is_some();
    let named = entry.kind.parse::<Target>().ok().filter(is_known);
    let kind = entry.targets.iter().position(|target| !is_known(target));
    match (named, kind) {
        (Some(first), Some(at)) => {
            let mut targets = entry.targets.clone();
            let kind = targets.remove(at);
            targets.insert(0, first);
            (kind.to_string(), targets)
        }
        _ => (entry.kind.clone(), entry.targets.clone()),
    }
}

pub(super) fn measure(desk: &mut Desk, entry: &Measures) -> Result<Subject, Refusal> {
    desk.not_future(entry.day)?;
    let (plant_id, day) = (find::plant(desk, &entry.target, entry.day)?, entry.day);
    super::seedlings::check_alive(desk, plant_id, "measured", day)?;
    super::score::check_up(desk, &entry.target, "measured", day)?;
    let mut measures = Vec::new();
    for measured in &entry.measures {
        let name = check_name(&measured.name)?;
        let unit = check_unit(&measured.unit)?;
        let number = measured.number.trim().to_owned();
        let wanted = match read_number(&number) {
            None => Some("a plain number"),
            Some(value) if value < 0.0 && !is_of_warmth(&unit) => Some("a number from 0 up"),
            Some(_) => None,
        };
        if let Some(wanted) = wanted {
            let (what, typed) = (name, shown(&measured.number));
            return Err(GeneRefusal::Number {
                what,
                typed,
                wanted,
                remedy: Box::new(super::Remedy::Help),
            }
            .into());
        }
        doubt_measure(desk, [&name, &number, &unit]);
        doubt_beside(desk, (plant_id, day), [&name, &number, &unit]);
        measures.push(desk.insert(|id| MeasureRow {
            id,
            plant_id,
            name,
            number,
            unit,
            day,
        }));
    }
    if measures.is_empty() {
        return Err(nothing("measures", &entry.target));
    }
    Ok(Subject::Measures { measures })
}

fn nothing(what: &'static str, of: &Target) -> Refusal {
    let of = of.to_string();
    Identity::Nothing { of, what }.into()
}

/// Names of measures that are no slip of another, however near (common ones, from memory).
const USUAL_NAMES: [&str; 10] = [
    "height", "width", "weight", "length", "leaves", "girth", "breadth", "pods", "flowers", "nodes",
];

/// No pepper gets to so many metres or kilogrammes (design choice).
const LARGEST: f64 = 10.0;

/// Says what looks like a slip: a unit that nothing goes into, a new name beside a known one, a size no plant has.
fn doubt_measure(desk: &mut Desk, [name, number, unit]: [&str; 3]) {
    let rows: Vec<&MeasureRow> = desk.facts.measure.iter().collect();
    let is_new_unit = !rows.iter().any(|row| row.unit == unit);
    if is_new_unit && !UNITS.contains(&unit) && !is_of_warmth(unit) && unit != "%" {
        let unit = unit.to_owned();
        desk.tell(Notice::OddUnit { unit });
    }
    let known = names_of(&rows);
    let is_known = |of: &str| fold(of) == fold(name);
    if !known.iter().any(|of| is_known(of)) && !USUAL_NAMES.iter().any(|of| is_known(of)) {
        let near = nearest(name, known.iter().map(String::as_str));
        if let Some(near) = near.into_iter().next() {
            let typed = name.to_owned();
            desk.tell(Notice::NearMeasure { typed, near });
        }
    }
    let value = read_number(number);
    let measure = || format!("{name} {number} {unit}").trim_end().to_owned();
    if value == Some(0.0) && !is_of_warmth(unit) {
        let measure = measure();
        desk.tell(Notice::NothingMeasured { measure });
    }
    let mut with_unit = rows.iter().rev().filter(|row| !row.unit.is_empty());
    if unit.is_empty()
        && let Some(other) = with_unit.find(|row| is_known(&row.name))
    {
        let (name, unit) = (name.to_owned(), other.unit.clone());
        desk.tell(Notice::NoUnit { name, unit });
    }
    let in_large = |large: &str| value.and_then(|value| converted(value, unit, large));
    if in_large("m")
        .or_else(|| in_large("kg"))
        .is_some_and(|size| size > LARGEST)
    {
        let measure = measure();
        desk.tell(Notice::LargeMeasure { measure });
    }
}

/// A measure so many times the usual one of its tray is remarked on (common practice, no source); small ones are for
/// `size`, which knows runts.
const FAR_OFF: f64 = 5.0;

/// Other seedlings that have to be measured before one is set beside them (design choice).
const BESIDE_FROM: usize = 3;

/// Measures so many days apart are set beside each other (design choice).
const BESIDE_DAYS: i64 = 7;

/// Says what is far off the other seedlings of the tray, as a slip in number or unit is.
fn doubt_beside(desk: &mut Desk, (plant, day): (i64, Day), [name, number, unit]: [&str; 3]) {
    let facts = desk.facts;
    let known = || facts.plant.get(plant).and_then(|row| row.batch_id);
    let tray = super::seedlings::batch_of_fresh(desk, plant).or_else(known);
    let Some((value, tray)) = read_number(number).zip(tray) else {
        return;
    };
    let is_beside = |row: &&MeasureRow| {
        let other = facts.plant.get(row.plant_id);
        row.plant_id != plant
            && fold(&row.name) == fold(name)
            && row.day.since(day).abs() <= BESIDE_DAYS
            && other.is_some_and(|other| other.batch_id == Some(tray))
    };
    let rows: Vec<&MeasureRow> = facts.measure.iter().filter(is_beside).collect();
    let rows = newest_of_each(&rows);
    let sizes = rows
        .iter()
        .filter_map(|row| converted(read_number(&row.number)?, &row.unit, unit));
    let sizes: Vec<f64> = sizes.collect();
    if sizes.len() < BESIDE_FROM {
        return;
    }
    let usual = median(&sizes);
    if value > usual * FAR_OFF {
        let gap = if unit.is_empty() { "" } else { " " };
        desk.tell(Notice::FarOff {
            measure: format!("{name} {number}{gap}{unit}"),
            others: sizes.len(),
            usual: format!("{}{gap}{unit}", (usual * 10.0).round() / 10.0),
        });
    }
}

/// The name of a measure: it begins with a letter.
fn check_name(typed: &str) -> Result<String, TextError> {
    let name = text::require("measure's name", typed, NAME_MAX)?;
    if name.starts_with(char::is_alphabetic) {
        return Ok(name);
    }
    Err(TextError::Form {
        what: "measure's name",
        text: shown(typed),
        wanted: "a word that begins with a letter, such as height",
    })
}

/// A unit: letters, `%`, a degree sign, a slash between letters.
fn check_unit(typed: &str) -> Result<String, TextError> {
    let unit = text::check("unit", typed, UNIT_MAX)?;
    let fits = |c: char| c.is_alphabetic() || matches!(c, '%' | '°' | '/' | '²' | '³');
    if unit.chars().all(fits) {
        return Ok(unit);
    }
    Err(TextError::Form {
        what: "unit",
        text: shown(typed),
        wanted: "a unit of letters, such as mm, % or °C",
    })
}

/// Whether a unit is one of temperature, whose numbers may lie below zero.
fn is_of_warmth(unit: &str) -> bool {
    unit.starts_with('°') || matches!(unit, "C" | "F")
}

pub(super) fn note(desk: &mut Desk, entry: &Note) -> Result<Subject, Refusal> {
    desk.not_future(entry.day)?;
    let text = text::require("remark", &entry.text, NOTE_MAX)?;
    let (thing, thing_id) = find::any(desk, &entry.target, entry.day)?;
    let day = entry.day;
    Ok(Subject::Remark {
        remark: desk.insert(|id| RemarkRow {
            id,
            thing,
            thing_id,
            text,
            day,
        }),
    })
}

pub(super) fn photo(desk: &mut Desk, entry: &Photos) -> Result<Subject, Refusal> {
    desk.not_future(entry.day)?;
    let (thing, thing_id) = find::any(desk, &entry.target, entry.day)?;
    let mut photos = Vec::new();
    for (path, sha256) in &entry.files {
        let path = text::require("path", path, NOTE_MAX)?;
        let (sha256, day) = (sha256.clone(), entry.day);
        photos.push(desk.insert(|id| PhotoRow {
            id,
            thing,
            thing_id,
            path,
            sha256,
            day,
        }));
    }
    if photos.is_empty() {
        return Err(nothing("pictures", &entry.target));
    }
    Ok(Subject::Photos { photos })
}

pub(super) fn assume(desk: &mut Desk, entry: &Assume) -> Result<Subject, Refusal> {
    let change = read_assume(entry)?;
    check_thresholds(desk, std::slice::from_ref(&change))?;
    let (key, before) = change_belief(desk, change)?;
    Ok(Subject::Assumption { key, before })
}

/// Several starting beliefs at once; of a key named twice the last word holds, and what is so already stays.
pub(super) fn assume_all(desk: &mut Desk, entries: &[Assume]) -> Result<Subject, Refusal> {
    let mut changes: Vec<(&'static Assumption, Option<String>)> = Vec::new();
    for entry in entries {
        let change = read_assume(entry)?;
        changes.retain(|(known, _)| known.key != change.0.key);
        changes.push(change);
    }
    check_thresholds(desk, &changes)?;
    let now = |key: &str| desk.facts.setting(key).map(str::to_owned);
    changes.retain(|(known, value)| *value != now(known.key));
    let changed: Result<Vec<_>, Refusal> = changes
        .into_iter()
        .map(|change| change_belief(desk, change))
        .collect();
    Ok(Subject::Assumptions { changed: changed? })
}

/// The key and the value that are meant.
fn read_assume(entry: &Assume) -> Result<(&'static Assumption, Option<String>), AssumeError> {
    let known = assumptions::find(&entry.key);
    let known = known.ok_or_else(|| AssumeError::UnknownKey(shown(&entry.key)))?;
    let value = entry.value.as_deref();
    let value = value.map(|typed| value_of(known, typed)).transpose()?;
    Ok((known, value))
}

/// Changes one starting belief; gives its key and the value as it was, where it had been changed.
fn change_belief(
    desk: &mut Desk,
    (known, value): (&'static Assumption, Option<String>),
) -> Result<(&'static str, Option<String>), Refusal> {
    let before = desk.facts.setting.iter().find(|row| row.key == known.key);
    if value.is_none() && before.is_none() {
        return Err(Identity::Unchanged.into());
    }
    desk.set(known.key, value);
    Ok((known.key, before.map(|row| row.value.clone())))
}

/// A value as it is kept: a plain number within the range of its key.
fn value_of(known: &Assumption, typed: &str) -> Result<String, AssumeError> {
    let value = assumptions::plain_value(known, typed);
    if read_number(&value).is_none() {
        let (key, wanted) = (known.key, known.range.words());
        return Err(AssumeError::BadValue {
            key,
            value: shown(typed),
            wanted,
        });
    }
    assumptions::read_value(known.key, &value)?;
    Ok(value)
}

/// Refuses thresholds by which one seedling would be both kept and culled.
fn check_thresholds(
    desk: &Desk,
    changes: &[(&'static Assumption, Option<String>)],
) -> Result<(), AssumeError> {
    let mut then = Assumptions::of(desk.facts);
    for (known, value) in changes {
        let number = value.as_deref().and_then(read_number);
        then = then.with(known.key, number.unwrap_or(known.default));
    }
    let on_verdicts = |(known, _): &(&'static Assumption, _)| known.key.starts_with("verdict.");
    if changes.iter().any(on_verdicts) && then.keep >= then.cull {
        let (keep, cull) = (then.keep.to_string(), then.cull.to_string());
        return Err(AssumeError::KeepAboveCull { keep, cull });
    }
    Ok(())
}
