//! What an entry of the history changed, in words, made from the rows it changed.
//!
//! A recording is said as it was answered when it was made; of an amendment each field is named with what it
//! was and what it became.

use std::collections::BTreeSet;

use super::say;
use crate::records::about::belongs_to;
use crate::records::admit::{Subject, TraitDone};
use crate::records::assumptions;
use crate::records::change::RowChange;
use crate::records::facts::Facts;
use crate::records::rows::{Row, Table, Thing};
use crate::records::species::pair_of_key;
use crate::records::value::Value;
use crate::report::goals::{goal_of, goal_words};
use crate::report::merge::{counted, ledger_words};

/// What an entry says, from the facts just after it; nothing where its rows are none that an entry makes.
#[must_use]
pub fn said(facts: &Facts, changes: &[RowChange]) -> Option<String> {
    if let Some(brought) = brought(changes) {
        return Some(brought);
    }
    let said = say(facts, &subject(facts, changes)?);
    Some(match said.code {
        Some(code) => format!("{code}: {}", said.words),
        None => said.words,
    })
}

/// What an entry has written on the tag, from the facts just after it.
#[must_use]
pub fn tag(facts: &Facts, changes: &[RowChange]) -> Option<String> {
    say(facts, &subject(facts, changes)?).tag
}

/// What came with another ledger: `the ledger 1f2e3d4c (10 entries) was brought in under B.: 2 plants, 1 cross`.
fn brought(changes: &[RowChange]) -> Option<String> {
    let ledger = rows(changes).find_map(|(new, row)| match row {
        Row::ImportedLedger(row) if new => Some(row),
        _ => None,
    })?;
    let came = rows(changes).filter(|(new, _)| *new);
    let came: Vec<Table> = came.map(|(_, row)| row.table()).collect();
    let counted = counted(|table| came.iter().filter(|one| **one == table).count());
    let under = match ledger.prefix.as_str() {
        "" => String::new(),
        prefix => format!(", every code with {prefix} before it"),
    };
    let of = ledger_words(&ledger.ledger, ledger.entries);
    Some(match counted.as_str() {
        "" => format!("{of} was brought in"),
        counted => format!("{of} was brought in: {counted}{under}"),
    })
}

/// What the answer to an entry was about, by the rows it changed.
fn subject(facts: &Facts, changes: &[RowChange]) -> Option<Subject> {
    let of_genes = || genes(facts, changes);
    begun(facts, changes)
        .or_else(|| goal(changes))
        .or_else(|| plant(changes))
        .or_else(|| seed(facts, changes))
        .or_else(|| bench(changes))
        .or_else(of_genes)
}

fn rows<'c>(changes: &'c [RowChange]) -> impl Iterator<Item = (bool, &'c Row)> {
    let row = |change: &'c RowChange| Some((change.before.is_none(), change.after.as_ref()?));
    changes.iter().filter_map(row)
}

fn begun(facts: &Facts, changes: &[RowChange]) -> Option<Subject> {
    let built_in = |row: &Row| matches!(row, Row::Trait(row) if row.built_in);
    let is_new = |(new, row): (bool, &Row)| new && built_in(row);
    rows(changes).any(is_new).then(|| Subject::Ledger {
        traits: facts.trait_.len(),
        loci: facts.locus.len(),
    })
}

/// A goal that was set, set otherwise, or given up.
fn goal(changes: &[RowChange]) -> Option<Subject> {
    let row = |row: &Option<Row>| match row {
        Some(Row::Goal(row)) => Some(row.clone()),
        _ => None,
    };
    changes.iter().find_map(|change| {
        let (before, after) = (row(&change.before), row(&change.after));
        match (before, after) {
            (before, Some(goal)) => Some(Subject::Goal {
                goal: goal.id,
                before,
            }),
            (Some(goal), None) => Some(Subject::GoalGone { goal }),
            (None, None) => None,
        }
    })
}

fn plant(changes: &[RowChange]) -> Option<Subject> {
    let new_loci = rows(changes).filter_map(|(new, row)| match row {
        Row::Locus(locus) if new => Some(locus.symbol.clone()),
        _ => None,
    });
    let new_loci: Vec<String> = new_loci.collect();
    let adopted = rows(changes).find_map(|(_, row)| match row {
        Row::Adoption(row) => Some(Subject::Adoption {
            adoption: row.id,
            odds: Vec::new(),
        }),
        _ => None,
    });
    let plant = rows(changes).find_map(|(new, row)| match row {
        Row::Code(code) if new && code.thing == Thing::Plant => Some(Subject::Parent {
            plant: code.thing_id,
            new_loci: new_loci.clone(),
        }),
        Row::InFlower(row) => Some(Subject::InFlower { in_flower: row.id }),
        _ => None,
    });
    adopted.or(plant)
}

fn seed(facts: &Facts, changes: &[RowChange]) -> Option<Subject> {
    rows(changes).find_map(|(new, row)| match row {
        Row::Pollination(row) if new => {
            let before = facts.pollination.iter();
            let before = before.filter(|one| one.cross_id == row.cross_id && one.id <= row.id);
            Some(Subject::Pollination {
                pollination: row.id,
                number: before.count(),
            })
        }
        Row::Pollination(row) => Some(Subject::PodSet {
            pollination: row.id,
        }),
        Row::Lot(row) => Some(Subject::Lot { lot: row.id }),
        Row::Batch(row) => Some(Subject::Sowing { batch: row.id }),
        _ => None,
    })
}

fn bench(changes: &[RowChange]) -> Option<Subject> {
    let all = |pick: fn(&Row) -> Option<i64>| -> Vec<i64> {
        rows(changes).filter_map(|(_, row)| pick(row)).collect()
    };
    let cell = |row: &Row| match row {
        Row::Emergence(row) => row.cell,
        _ => None,
    };
    let id = |table: Table| {
        let of = move |(_, row): (bool, &Row)| (row.table() == table).then(|| row.id());
        rows(changes).filter_map(of).collect::<Vec<i64>>()
    };
    rows(changes).find_map(|(_, row)| match row {
        Row::Fate(row) => Some(Subject::Fate {
            batch: row.batch_id,
            kind: row.kind,
            fates: id(Table::Fate),
            day: row.day,
        }),
        Row::Emergence(row) => Some(Subject::Up {
            batch: row.batch_id,
            cells: all(cell),
            day: row.day,
        }),
        Row::Tally(row) => Some(Subject::Tally { tally: row.id }),
        Row::Reading(_) => Some(Subject::Readings {
            readings: id(Table::Reading),
        }),
        Row::Grade(_) => Some(Subject::Grades {
            grades: id(Table::Grade),
        }),
        Row::Care(row) => Some(Subject::Care { care: row.id }),
        Row::Measure(_) => Some(Subject::Measures {
            measures: id(Table::Measure),
        }),
        Row::Remark(row) => Some(Subject::Remark { remark: row.id }),
        Row::Photo(_) => Some(Subject::Photos {
            photos: id(Table::Photo),
        }),
        _ => None,
    })
}

fn genes(facts: &Facts, changes: &[RowChange]) -> Option<Subject> {
    let done = |of: i64, done: TraitDone| {
        Some(Subject::Trait {
            of,
            done,
            new_loci: Vec::new(),
        })
    };
    let of_trait = rows(changes).find_map(|(new, row)| match row {
        Row::Trait(row) if new => done(row.id, TraitDone::Added),
        Row::Trait(row) if row.switched_on => done(row.id, TraitDone::SwitchedOn),
        Row::Trait(row) => done(row.id, TraitDone::SwitchedOff),
        Row::TraitModel(row) if new => done(row.trait_id, TraitDone::ModelAdded),
        Row::TraitModel(row) => done(row.trait_id, TraitDone::ModelChosen),
        Row::Onset(row) if !new => done(row.trait_id, TraitDone::LateSet),
        _ => None,
    });
    let setting = || {
        let mut changed: Vec<Subject> = changes
            .iter()
            .filter_map(|change| setting(facts, change))
            .collect();
        let of_pair = |subject: &Subject| matches!(subject, Subject::SpeciesPair { .. });
        if changed.len() < 2 || changed.iter().any(of_pair) {
            return changed.pop();
        }
        let belief = |subject| match subject {
            Subject::Assumption { key, before } => Some((key, before)),
            _ => None,
        };
        let changed = changed.into_iter().filter_map(belief).collect();
        Some(Subject::Assumptions { changed })
    };
    let locus = || {
        rows(changes).find_map(|(new, row)| {
            let (locus, new) = match row {
                Row::Locus(row) => (row.id, new),
                Row::Allele(row) => (row.locus_id, false),
                Row::Recombination(row) => (row.locus_a, false),
                _ => return None,
            };
            Some(Subject::Locus { locus, new })
        })
    };
    of_trait.or_else(setting).or_else(locus)
}

fn setting(facts: &Facts, change: &RowChange) -> Option<Subject> {
    let key = |row: &Option<Row>| match row {
        Some(Row::Setting(row)) => Some((row.key.clone(), row.value.clone())),
        _ => None,
    };
    let (before, after) = (key(&change.before), key(&change.after));
    let name = &after.as_ref().or(before.as_ref())?.0;
    if let Some(known) = assumptions::find(name) {
        return Some(Subject::Assumption {
            key: known.key,
            before: before.map(|(_, value)| value),
        });
    }
    if let Some((mother, father)) = pair_of_key(name) {
        return Some(Subject::SpeciesPair { mother, father });
    }
    let bench = facts.code_named(&after?.1)?;
    (bench.thing == Thing::Trait).then_some(Subject::Trait {
        of: bench.thing_id,
        done: TraitDone::MadeBench,
        new_loci: Vec::new(),
    })
}

/// Field by field what an amendment changed: `X1/1: seeds 31 -> 13`.
#[must_use]
pub fn fields(before: &Facts, after: &Facts, changes: &[RowChange]) -> Vec<String> {
    let mut found: Vec<(String, Vec<String>)> = Vec::new();
    for change in together(changes) {
        let (label, words) = match (&change.before, &change.after) {
            (Some(old), Some(new)) => (label(after, new), altered(before, after, old, new)),
            (None, Some(new)) => (label(after, new), came_or_went(after, new, "added")),
            (Some(old), None) => (label(before, old), came_or_went(before, old, "gone")),
            (None, None) => continue,
        };
        match found.iter_mut().find(|(known, _)| *known == label) {
            Some((_, known)) => known.extend(words),
            None => found.push((label, words)),
        }
    }
    let line = |(label, words): (String, Vec<String>)| {
        (!words.is_empty()).then(|| match label.as_str() {
            "" => words.join(", "),
            label => format!("{label}: {}", words.join(", ")),
        })
    };
    found.into_iter().filter_map(line).collect()
}

/// The changes with a row that goes and comes back as one.
fn together(changes: &[RowChange]) -> Vec<RowChange> {
    let mut found: Vec<RowChange> = Vec::new();
    for change in changes {
        let same = |known: &&mut RowChange| known.table == change.table && known.id == change.id;
        match found.iter_mut().find(same) {
            Some(known) => known.after = change.after.clone(),
            None => found.push(change.clone()),
        }
    }
    found
}

/// What a row is of, as an answer names it.
fn label(facts: &Facts, row: &Row) -> String {
    match row {
        Row::Setting(_) => String::new(),
        Row::Code(row) => facts
            .code_of(row.thing, row.thing_id)
            .unwrap_or("")
            .to_owned(),
        Row::Locus(row) => row.symbol.clone(),
        Row::Plant(row) => facts.plant_label(row),
        Row::Lot(row) => facts.lot_label(row.id),
        Row::Cross(row) => facts.code_of(Thing::Cross, row.id).unwrap_or("").to_owned(),
        Row::Batch(row) => facts.code_of(Thing::Batch, row.id).unwrap_or("").to_owned(),
        Row::Trait(row) => facts.code_of(Thing::Trait, row.id).unwrap_or("").to_owned(),
        Row::Fate(row) if row.plant_id.is_some() => {
            let plant = row.plant_id.and_then(|id| facts.plant.get(id));
            plant.map_or_else(String::new, |plant| facts.plant_label(plant))
        }
        other => {
            let above = belongs_to(other).into_iter().next();
            let above = above.and_then(|(table, id)| facts.find(table, id));
            above.map_or_else(String::new, |above| label(facts, &above))
        }
    }
}

fn altered(before: &Facts, after: &Facts, old: &Row, new: &Row) -> Vec<String> {
    if let Row::Setting(row) = new {
        let value = |row: &Row| match row {
            Row::Setting(row) => row.value.clone(),
            _ => String::new(),
        };
        return vec![format!("{} {} -> {}", row.key, value(old), row.value)];
    }
    let columns = new.table().columns().iter();
    let pairs = columns.zip(old.values().into_iter().zip(new.values()));
    let differing: Vec<_> = pairs.filter(|(_, (old, new))| old != new).collect();
    let has = |name: &str| differing.iter().any(|(column, _)| **column == name);
    let mut words: Vec<String> = Vec::new();
    for (column, (old_value, new_value)) in &differing {
        let (was, is) = match **column {
            "key" => continue,
            // What kind of thing and which: told as one.
            "thing_id" if has("thing") => continue,
            "sha256" if has("path") => continue,
            // Numbers of rows that have no name; what they hold is told by itself.
            "tally_id" | "look_id" | "fate_id" | "care_id" | "model_id" => continue,
            // A seedling is entered by whichever entry names it first.
            "entered" if matches!(new, Row::Plant(row) if row.batch_id.is_some()) => continue,
            "thing" | "thing_id" => (owner(before, old), owner(after, new)),
            column => (
                value(before, column, old_value),
                value(after, column, new_value),
            ),
        };
        // Rows that got other numbers, or classes of one name: the same to a reader.
        if was != is {
            words.push(format!("{} {was} -> {is}", field(after, new, column)));
        }
    }
    words
}

/// What a code, remark or picture is of: for a code, the thing without that code.
fn owner(facts: &Facts, row: &Row) -> String {
    let seedling = match row {
        Row::Code(code) if code.thing == Thing::Plant => facts.plant.get(code.thing_id),
        _ => None,
    };
    let place = seedling.and_then(|plant| facts.seedling_label(plant));
    place.unwrap_or_else(|| label(facts, row))
}

/// What a field of a row is called.
fn field(facts: &Facts, row: &Row, column: &str) -> String {
    match (row, column) {
        (Row::TallyLook(row), "count") => look(facts, row.id),
        (Row::Fate(row), "count") => row.kind.word().to_owned(),
        (Row::BatchSeed(_), "seeds") => "drawn".to_owned(),
        (Row::Measure(row), "number") => row.name.clone(),
        (Row::Grade(_), "class_id") => "grade".to_owned(),
        (_, "typed") => "code".to_owned(),
        (_, "ord") => "place".to_owned(),
        (_, "thing" | "thing_id") => "of".to_owned(),
        (_, column) => spoken(column),
    }
}

/// A row that came or went; parts of another row that did are not told by themselves.
fn came_or_went(facts: &Facts, row: &Row, how: &str) -> Vec<String> {
    let what = match row {
        Row::Plant(row) if row.batch_id.is_some() => return Vec::new(),
        Row::TallyClass(_) | Row::FateClass(_) | Row::TraitRule(_) | Row::Onset(_) => {
            return Vec::new();
        }
        Row::Setting(row) => format!("{} {}", row.key, row.value),
        Row::Code(row) => format!("code {}", row.typed),
        Row::Reading(row) => {
            let class = row.class_id.and_then(|id| facts.trait_class.get(id));
            let sight = class.map_or(row.sureness.word(), |class| class.name.as_str());
            format!("reading {sight}")
        }
        Row::Tasting(row) => format!("tasting of the {}", row.method),
        Row::TallyLook(row) => format!("{} {}", row.count, look(facts, row.id)),
        Row::Fate(row) if row.plant_id.is_none() => format!("{} {}", row.count, row.kind),
        Row::Fate(row) => row.kind.word().to_owned(),
        Row::Statement(row) => format!("genotype {}", row.genotype),
        Row::Allele(row) => format!("allele {}", row.symbol),
        Row::TraitClass(row) => format!("class {}", row.name),
        Row::TraitModel(row) => format!("model {}", row.name),
        Row::Measure(row) => format!("{} {}{}", row.name, row.number, row.unit),
        Row::Goal(row) => format!("{} as {}", goal_of(facts, row), goal_words(row)),
        Row::Grade(row) => {
            let grade = facts.trait_class.get(row.class_id);
            let of = facts.code_of(Thing::Trait, row.trait_id).unwrap_or("?");
            format!("{of} {}", grade.map_or("?", |grade| grade.name.as_str()))
        }
        Row::Tally(row) => format!("count of {}", row.day),
        Row::Emergence(row) => match row.cell {
            Some(cell) => format!("up in cell {cell}"),
            None => format!("count of {} up", row.up),
        },
        Row::BatchSeed(row) => {
            format!("{} drawn from {}", row.seeds, facts.lot_label(row.lot_id))
        }
        Row::Remark(row) => format!("remark '{}'", row.text),
        Row::Photo(row) => format!("picture {}", row.path),
        other => spoken(other.table().name()),
    };
    vec![format!("{what} {how}")]
}

/// The classes of a tallied look.
fn look(facts: &Facts, look_id: i64) -> String {
    let classes = facts
        .tally_class
        .iter()
        .filter(|row| row.look_id == look_id);
    let name = |id: i64| facts.trait_class.get(id).map(|class| class.name.as_str());
    let names: BTreeSet<&str> = classes
        .map(|row| row.class_id.and_then(name).unwrap_or(row.sureness.word()))
        .collect();
    names.into_iter().collect::<Vec<_>>().join("/")
}

/// A column or table in words.
fn spoken(name: &str) -> String {
    name.strip_suffix("_id").unwrap_or(name).replace('_', " ")
}

/// A value as an answer shows it: rows by their names, yes and no, what is missing by a word.
fn value(facts: &Facts, column: &str, value: &Value) -> String {
    let number = match value {
        Value::Null => return "none".to_owned(),
        Value::Text(text) if text.is_empty() => return "none".to_owned(),
        Value::Text(text) => return text.clone(),
        Value::Int(number) => *number,
    };
    let plant = || facts.plant.get(number).map(|row| facts.plant_label(row));
    let code = |thing| facts.code_of(thing, number).map(str::to_owned);
    let named = match column {
        "plant_id" | "mother_id" | "father_id" => plant(),
        "class_id" => facts.trait_class.get(number).map(|row| row.name.clone()),
        "trait_id" => code(Thing::Trait),
        "batch_id" => code(Thing::Batch),
        "cross_id" => code(Thing::Cross),
        "lot_id" => Some(facts.lot_label(number)),
        "about" | "wiped" | "emasculated" | "covered" | "proven" | "blind" | "switched_on"
        | "in_use" | "built_in" | "less" => Some(if number == 0 { "no" } else { "yes" }.to_owned()),
        _ => None,
    };
    named.unwrap_or_else(|| number.to_string())
}
