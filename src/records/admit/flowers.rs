//! `cross`, `self`, `set`, `parent in-flower`: what happens at the flower.

use super::desk::{Desk, some};
use super::refusal::{Excess, Identity, Order, Refusal, UNKNOWN_DAY};
use super::{Notice, Subject, find, seedlings};
use crate::records::code::fold;
use crate::records::count::Count;
use crate::records::day::Day;
use crate::records::descent::{NoPollen, no_pollen};
use crate::records::entry::{InFlower, NewPollination, PodSet, PollinationDay};
use crate::records::facts::Facts;
use crate::records::near::nearest;
use crate::records::rows::{CrossRow, InFlowerRow, PollinationRow, Thing};
use crate::records::species::{Crossing, species_of, species_of_seedlings};
use crate::records::text::{self, NAME_MAX};

pub(super) fn in_flower(desk: &mut Desk, entry: &InFlower) -> Result<Subject, Refusal> {
    desk.not_future(entry.from)?;
    if let Some(until) = entry.until {
        desk.not_future(until)?;
        if until < entry.from {
            return Err(Order::Backwards {
                from: entry.from,
                until,
            }
            .into());
        }
    }
    let plant_id = find::plant(desk, &entry.plant, entry.from)?;
    seedlings::check_alive(desk, plant_id, "in flower", entry.from)?;
    seedlings::check_old_enough(desk, plant_id, "in flower", entry.from)?;
    let (from_day, until_day) = (entry.from, entry.until);
    let row = desk.insert(|id| InFlowerRow {
        id,
        plant_id,
        from_day,
        until_day,
    });
    Ok(Subject::InFlower { in_flower: row })
}

pub(super) fn pollinate(desk: &mut Desk, entry: &NewPollination) -> Result<Subject, Refusal> {
    if let Some(day) = entry.day {
        desk.not_future(day)?;
    }
    let flowers = entry
        .flowers
        .map(|count| some(count, "flowers", &entry.mother))
        .transpose()?;
    let tool = text::check("tool", &entry.tool, NAME_MAX)?;
    let (mother, father) = find_parents(desk, entry)?;
    check_father(desk, father)?;
    tell_near_tool(desk, &tool);
    tell_same_pair(desk, entry, (mother, father));
    let cross_id = find_cross(desk, entry, mother, father)?;
    let earlier = desk
        .facts
        .pollination
        .iter()
        .filter(|row| row.cross_id == cross_id)
        .count();
    let crossing = crossing_of(desk, mother, father);
    if crossing.crossability.is_hard() {
        desk.tell(Notice::HardCross(crossing));
    }
    let pollination = desk.insert(|id| PollinationRow {
        id,
        cross_id,
        day: entry.day,
        flowers,
        tool,
        wiped: entry.wiped,
        emasculated: entry.emasculated,
        covered: entry.covered,
        pods: None,
        dropped: None,
    });
    Ok(Subject::Pollination {
        pollination,
        number: earlier + 1,
    })
}

/// Says where a tool that was never named is spelt nearly as one that was: two names share no pollen.
fn tell_near_tool(desk: &mut Desk, tool: &str) {
    let facts = desk.facts;
    let known = || facts.pollination.iter().map(|row| row.tool.as_str());
    if tool.is_empty() || known().any(|known| fold(known) == fold(tool)) {
        return;
    }
    if let Some(near) = nearest(tool, known().filter(|known| !known.is_empty()))
        .into_iter()
        .next()
    {
        let tool = tool.to_owned();
        desk.tell(Notice::NearTool { tool, near });
    }
}

/// Says where the same pair was crossed before and no code says as what this is meant, or a cross was pollinated on the same
/// day already.
fn tell_same_pair(desk: &mut Desk, entry: &NewPollination, parents: (i64, i64)) {
    let facts = desk.facts;
    let typed = entry.code.as_ref();
    let typed = typed.map(|code| facts.code_named(code.as_str()).map(|row| row.thing_id));
    let on_day = |cross: i64| {
        let mut rows = facts.pollination.iter().filter(|row| row.cross_id == cross);
        entry.day.is_some() && rows.any(|row| row.day == entry.day)
    };
    let is_meant = |cross: i64| match typed {
        None => true,
        Some(named) => named == Some(cross) && on_day(cross),
    };
    let same = facts.cross.iter();
    let found = same
        .filter(|row| (row.mother_id, row.father_id) == parents && is_meant(row.id))
        .max_by_key(|row| (on_day(row.id), row.id));
    let Some(cross) = found else { return };
    let day = entry.day.filter(|_| on_day(cross.id));
    let code = facts.code_of(Thing::Cross, cross.id).unwrap_or_default();
    let cross = code.to_owned();
    desk.tell(Notice::SamePair { cross, day });
}

/// How hard the cross is; a plant's own pollen is none.
fn crossing_of(desk: &Desk, mother: i64, father: i64) -> Crossing {
    let species = |plant| {
        let batch = seedlings::batch_of_fresh(desk, plant);
        match batch.and_then(|id| desk.facts.batch.get(id)) {
            Some(batch) => species_of_seedlings(desk.facts, batch),
            None => species_of(desk.facts, plant),
        }
    };
    if mother == father {
        return Crossing::selfed(species(mother));
    }
    Crossing::of(desk.facts, &species(mother), &species(father))
}

fn find_parents(desk: &mut Desk, entry: &NewPollination) -> Result<(i64, i64), Refusal> {
    let day = entry.day.unwrap_or(desk.bench.today);
    let mother = find::plant(desk, &entry.mother, day)?;
    let father = match &entry.father {
        Some(father) => find::plant(desk, father, day)?,
        None => mother,
    };
    if entry.father.is_some() && mother == father {
        desk.doubt(Identity::SelfNamed {
            plant: entry.mother.to_string(),
        })?;
    }
    if let Some(day) = entry.day {
        seedlings::check_alive(desk, mother, "pollinated", day)?;
        if father != mother {
            seedlings::check_alive(desk, father, "used as a father", day)?;
            seedlings::check_old_enough(desk, father, "used as a father", day)?;
        }
        seedlings::check_old_enough(desk, mother, "pollinated", day)?;
    }
    Ok((mother, father))
}

/// Doubts a father that makes no pollen by what is recorded of it.
fn check_father(desk: &mut Desk, father: i64) -> Result<(), Refusal> {
    let why = match no_pollen(desk.facts, father) {
        None => return Ok(()),
        Some(NoPollen::Cytoplasm) => {
            "its cytoplasm is sterile, and no restorer (Rf) is stated".to_owned()
        }
        Some(NoPollen::Recessive(allele)) => format!("it is stated to be {allele}/{allele}"),
    };
    desk.doubt(Excess::NoPollen {
        father: find::label(desk.facts, father),
        why,
    })
}

/// The cross of the code typed, or a new one.
fn find_cross(
    desk: &mut Desk,
    entry: &NewPollination,
    mother_id: i64,
    father_id: i64,
) -> Result<i64, Refusal> {
    let facts = desk.facts;
    if let Some(code) = &entry.code {
        let known = facts
            .code_named(code.as_str())
            .filter(|row| row.thing == Thing::Cross);
        if let Some(cross) = known.and_then(|row| facts.cross.get(row.thing_id)) {
            if (cross.mother_id, cross.father_id) == (mother_id, father_id) {
                return Ok(cross.id);
            }
            let (cross, parents) = (code.to_string(), find::parents(facts, cross));
            return Err(Identity::OtherParents { cross, parents }.into());
        }
        desk.free(code)?;
    }
    let code = entry.code.clone().unwrap_or_else(|| desk.automatic("X"));
    let cross = desk.insert(|id| CrossRow {
        id,
        mother_id,
        father_id,
    });
    desk.name(&code, Thing::Cross, cross);
    Ok(cross)
}

pub(super) fn set(desk: &mut Desk, entry: &PodSet) -> Result<Subject, Refusal> {
    desk.not_future(entry.day)?;
    let cross = find::cross(desk.facts, &entry.cross)?;
    let before = one_pollination(
        desk.facts,
        cross,
        entry.pollinated,
        entry.nth.map(Count::get),
    )?;
    let label = desk
        .facts
        .code_of(Thing::Cross, cross.id)
        .unwrap_or("?")
        .to_owned();
    if let Some(since) = before.day.filter(|since| entry.day < *since) {
        let effect = format!("{label} set pods");
        let (cause, of) = (format!("{label} was pollinated"), label.clone());
        desk.doubt(Order::Before {
            effect,
            day: entry.day,
            cause,
            since,
            of,
        })?;
    }
    let after = PollinationRow {
        pods: entry.pods.map(Count::get).or(before.pods),
        dropped: entry.dropped.map(Count::get).or(before.dropped),
        ..before.clone()
    };
    check_outcome(desk, &label, &after)?;
    if *before == after && entry.pods.is_none() && entry.dropped.is_none() {
        return Err(Identity::Nothing {
            of: label,
            what: "pods and drops",
        }
        .into());
    }
    tell_fewer(desk, &label, before, &after);
    desk.update(before, after);
    Ok(Subject::PodSet {
        pollination: before.id,
    })
}

/// Says where fewer flowers have an end than before, or fewer dropped: counts are of all so far, and a drop cannot come
/// back. That a pod drops is nothing to say.
fn tell_fewer(desk: &mut Desk, cross: &str, before: &PollinationRow, after: &PollinationRow) {
    let ends = |row: &PollinationRow| [row.pods, row.dropped].map(|count| count.unwrap_or(0));
    let (before, now) = (ends(before), ends(after));
    if now[1] < before[1] || now.iter().sum::<i64>() < before.iter().sum() {
        let all: i64 = before.iter().chain(&now).sum();
        desk.tell(Notice::FewerSet {
            cross: cross.to_owned(),
            before,
            now,
            may_be_further: after.flowers.is_none_or(|flowers| all <= flowers),
        });
    }
}

fn check_outcome(desk: &mut Desk, cross: &str, after: &PollinationRow) -> Result<(), Refusal> {
    let (pods, dropped) = (after.pods.unwrap_or(0), after.dropped.unwrap_or(0));
    match after.flowers {
        Some(flowers) if pods + dropped > flowers => {
            let outcome = format!("{pods} pods and {dropped} dropped");
            desk.doubt(Excess::Flowers {
                cross: cross.to_owned(),
                outcome,
                flowers,
            })
        }
        _ => Ok(()),
    }
}

/// The pollination meant: the only one, that of the day asked for, or the so-manieth of these in the order recorded.
fn one_pollination<'f>(
    facts: &'f Facts,
    cross: &CrossRow,
    meant: Option<PollinationDay>,
    nth: Option<i64>,
) -> Result<&'f PollinationRow, Refusal> {
    let found = pollinations_on(facts, cross, meant)?;
    let chosen = match (nth, &found[..]) {
        (None, [only]) => Some(*only),
        (None, several)
            if meant.is_none() && several.iter().any(|row| row.day != several[0].day) =>
        {
            let (cross, known) = (label_of(facts, cross), days_of(several));
            return Err(Identity::NoSuchPollination {
                cross,
                day: None,
                known,
                others: Vec::new(),
            }
            .into());
        }
        (None, _) => None,
        (Some(nth), several) => usize::try_from(nth - 1)
            .ok()
            .and_then(|at| several.get(at).copied()),
    };
    chosen.ok_or_else(|| {
        let several = found.iter().map(|row| pollination_words(row)).collect();
        let (cross, day) = (
            label_of(facts, cross),
            meant.map(|meant| day_words(meant.day())),
        );
        Identity::WhichPollination {
            cross,
            day,
            several,
        }
        .into()
    })
}

/// The pollinations of a cross, of a day where one is asked for, in the order recorded; at least one.
pub(super) fn pollinations_on<'f>(
    facts: &'f Facts,
    cross: &CrossRow,
    meant: Option<PollinationDay>,
) -> Result<Vec<&'f PollinationRow>, Refusal> {
    let rows = facts.pollination.iter();
    let all: Vec<_> = rows.filter(|row| row.cross_id == cross.id).collect();
    let is_meant = |row: &&PollinationRow| meant.is_none_or(|meant| row.day == meant.day());
    let found: Vec<_> = all.iter().copied().filter(is_meant).collect();
    match meant {
        Some(meant) if found.is_empty() => {
            let others = facts.pollination.iter();
            let others = others.filter(|row| row.day.is_some() && row.day == meant.day());
            let mut others: Vec<String> = others
                .filter_map(|row| facts.code_of(Thing::Cross, row.cross_id))
                .map(str::to_owned)
                .collect();
            others.dedup();
            Err(Identity::NoSuchPollination {
                cross: label_of(facts, cross),
                day: Some(day_words(meant.day())),
                known: days_of(&all),
                others,
            }
            .into())
        }
        _ => Ok(found),
    }
}

fn label_of(facts: &Facts, cross: &CrossRow) -> String {
    let code = facts.code_of(Thing::Cross, cross.id);
    code.unwrap_or("?").to_owned()
}

fn day_words(day: Option<Day>) -> String {
    day.map_or_else(|| UNKNOWN_DAY.to_owned(), |day| day.to_string())
}

fn days_of(rows: &[&PollinationRow]) -> Vec<String> {
    rows.iter().map(|row| day_words(row.day)).collect()
}

/// A pollination by what tells it from another of its day: flowers, technique, what became of them.
fn pollination_words(row: &PollinationRow) -> String {
    let many = |n: Option<i64>, one: &str, several: &str| {
        n.map(|n| format!("{n} {}", if n == 1 { one } else { several }))
    };
    let said = |is: bool, word: &str| is.then(|| word.to_owned());
    let tool = (!row.tool.is_empty()).then(|| format!("by {}", row.tool));
    let words = [
        many(row.flowers, "flower", "flowers"),
        tool,
        said(row.wiped, "wiped"),
        said(!row.emasculated, "not emasculated"),
        said(row.covered, "covered"),
        many(row.pods, "pod", "pods"),
        many(row.dropped, "dropped", "dropped"),
    ];
    let words: Vec<String> = words.into_iter().flatten().collect();
    if words.is_empty() {
        return "flowers not counted".to_owned();
    }
    words.join(", ")
}
