//! What became of pollinated flowers: pods, drops and those nobody spoke of, by direction, technique, week and others.
//!
//! Counts and no more; what none of a pair proves stands in [`no_set`](super::no_set). `set-rate` asks.

use super::grouping::{pair_label, species_label, species_pair};
use super::no_set::{Zero, zeros};
use crate::diagnosis::sources::Technique;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{CrossRow, PollinationRow, Thing};
use crate::stats::two_by_two::Part;

/// By what flowers are put together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SetBy {
    /// Which of two plants was the mother.
    Direction,
    /// How the flowers were treated.
    Technique,
    /// The week of the pollination.
    Week,
    /// The cross or self.
    Cross,
    /// The mother.
    Mother,
    /// The father.
    Father,
    /// The species of both.
    Species,
}

impl SetBy {
    /// The word it is typed by.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Direction => "direction",
            Self::Technique => "technique",
            Self::Week => "week",
            Self::Cross => "cross",
            Self::Mother => "mother",
            Self::Father => "father",
            Self::Species => "species",
        }
    }
}

/// The key of a group, in the order in which groups stand.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Key {
    /// By a name.
    Name(String),
    /// By how the flowers were treated.
    Technique(Technique),
    /// By a week, its Monday; nothing where the day is not known.
    Week(Option<Day>),
}

/// The flowers of one pollination.
#[derive(Debug, Clone)]
pub struct Flowers {
    /// The cross.
    pub cross_id: i64,
    /// Its code.
    pub cross: String,
    /// Mother and father.
    pub parents: (i64, i64),
    /// The day, where known.
    pub day: Option<Day>,
    /// How they were treated.
    pub technique: Technique,
    /// Pods of flowers whose end is known.
    pub part: Part,
    /// Flowers of whose end nobody spoke; nothing where the number of flowers is not recorded.
    pub open: Option<u64>,
}

/// Flowers put together.
#[derive(Debug, Clone, PartialEq)]
pub struct SetGroup {
    /// What they have in common.
    pub key: Key,
    /// Pollinations.
    pub pollinations: u64,
    /// Pods of flowers whose end is known.
    pub part: Part,
    /// Flowers of whose end nobody spoke.
    pub open: u64,
}

/// The answer.
#[derive(Debug, Clone)]
pub struct Sets {
    /// By what flowers were put together.
    pub by: SetBy,
    /// All asked about.
    pub total: SetGroup,
    /// The groups.
    pub groups: Vec<SetGroup>,
    /// Directions of which none set.
    pub zero: Vec<Zero>,
    /// Pollinations of whose flowers nobody spoke at all, with pods harvested of their cross.
    pub silent: Vec<(Flowers, u64)>,
}

fn flowers_of(facts: &Facts, cross: &CrossRow, row: &PollinationRow) -> Flowers {
    let whole = |count: Option<i64>| count.map_or(0, |n| u64::try_from(n).unwrap_or(0));
    let (pods, dropped) = (whole(row.pods), whole(row.dropped));
    let selfed = cross.mother_id == cross.father_id;
    Flowers {
        cross_id: cross.id,
        cross: facts
            .code_of(Thing::Cross, cross.id)
            .unwrap_or_default()
            .to_owned(),
        parents: (cross.mother_id, cross.father_id),
        day: row.day,
        technique: match (selfed, row.emasculated, row.covered) {
            (true, _, true) => Technique::SelfCovered,
            (true, _, false) => Technique::SelfOpen,
            (false, false, _) => Technique::NotEmasculated,
            (false, true, false) => Technique::Emasculated,
            (false, true, true) => Technique::Covered,
        },
        part: Part::new(pods, pods + dropped),
        open: row
            .flowers
            .map(|flowers| whole(Some(flowers)).saturating_sub(pods + dropped)),
    }
}

/// The Monday of a day's week.
fn monday(day: Day) -> Day {
    let some_monday = Day::new(2024, 1, 1).expect("1 January 2024 was a Monday");
    day.back(day.since(some_monday).rem_euclid(7))
}

fn key_of(facts: &Facts, flowers: &Flowers, by: SetBy) -> Key {
    let (mother, father) = flowers.parents;
    match by {
        SetBy::Direction => Key::Name(pair_label(facts, flowers.parents)),
        SetBy::Technique => Key::Technique(flowers.technique),
        SetBy::Week => Key::Week(flowers.day.map(monday)),
        SetBy::Cross => Key::Name(flowers.cross.clone()),
        SetBy::Mother => Key::Name(facts.label_of_plant(mother)),
        SetBy::Father => Key::Name(facts.label_of_plant(father)),
        SetBy::Species => Key::Name(species_label(&species_pair(facts, flowers.parents))),
    }
}

fn add(group: &mut SetGroup, flowers: &Flowers) {
    group.pollinations += 1;
    group.part = Part::new(group.part.k + flowers.part.k, group.part.n + flowers.part.n);
    group.open += flowers.open.unwrap_or(0);
}

fn empty(key: Key) -> SetGroup {
    SetGroup {
        key,
        pollinations: 0,
        part: Part { k: 0, n: 0 },
        open: 0,
    }
}

/// What became of the flowers of some crosses, up to a day.
#[must_use]
pub fn sets(facts: &Facts, crosses: &[i64], by: SetBy, on: Day) -> Sets {
    let all = all_flowers(facts, on);
    let asked: Vec<&Flowers> = all
        .iter()
        .filter(|flowers| crosses.contains(&flowers.cross_id))
        .collect();
    let mut total = empty(Key::Name("all".to_owned()));
    let mut groups: Vec<SetGroup> = Vec::new();
    for flowers in &asked {
        add(&mut total, flowers);
        let key = key_of(facts, flowers, by);
        match groups.iter_mut().find(|group| group.key == key) {
            Some(group) => add(group, flowers),
            None => {
                let mut group = empty(key);
                add(&mut group, flowers);
                groups.push(group);
            }
        }
    }
    // Names stand in the order of the ledger; treatments and weeks in their own.
    if matches!(by, SetBy::Technique | SetBy::Week) {
        groups.sort_by(|a, b| a.key.cmp(&b.key));
    }
    let silent = asked.iter().filter(|flowers| flowers.part.n == 0);
    Sets {
        by,
        total,
        groups,
        zero: zeros(facts, &all, &asked),
        silent: silent
            .map(|flowers| ((*flowers).clone(), harvested(facts, flowers.cross_id)))
            .collect(),
    }
}

/// The flowers of every pollination up to a day; one long past without a day counts.
fn all_flowers(facts: &Facts, on: Day) -> Vec<Flowers> {
    let rows = facts.pollination.iter();
    rows.filter(|row| row.day.is_none_or(|day| day <= on))
        .filter_map(|row| Some(flowers_of(facts, facts.cross.get(row.cross_id)?, row)))
        .collect()
}

/// Pods harvested of a cross.
fn harvested(facts: &Facts, cross: i64) -> u64 {
    let lots = facts.lot.iter().filter(|lot| lot.cross_id == Some(cross));
    let pods: i64 = lots.filter_map(|lot| lot.pods).sum();
    u64::try_from(pods).unwrap_or(0)
}

pub(super) fn sum<'f>(flowers: impl Iterator<Item = &'f Flowers>) -> Part {
    let (k, n) = flowers.fold((0, 0), |(k, n), one| (k + one.part.k, n + one.part.n));
    Part::new(k, n)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weeks_begin_on_monday() {
        // 1 March 2026 is a Sunday.
        let day = |text: &str| text.parse::<Day>().unwrap();
        assert_eq!(monday(day("2026-03-01")), day("2026-02-23"));
        assert_eq!(monday(day("2026-03-02")), day("2026-03-02"));
        assert_eq!(monday(day("2019-12-31")), day("2019-12-30"));
    }
}
