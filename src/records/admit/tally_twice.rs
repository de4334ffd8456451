//! A tally beside the one before it: of the same day, which it replaces, or with fewer of a late colour, which does not go.
//!
//! Both are kept, the newer counts, and it is said. Called when a tally is recorded.

use std::collections::BTreeMap;

use super::Notice;
use super::desk::Desk;
use super::looks::Sight;
use crate::records::day::Day;
use crate::records::rows::{Sureness, TallyClassRow, TallyLookRow, TallyRow};
use crate::records::tray::Tray;

/// Says what does not go together with the newest tally of the same place by that day.
pub(super) fn tell(
    desk: &mut Desk,
    (tray, cell): (&Tray, Option<i64>),
    counted: &[(i64, Vec<Sight>)],
    day: Day,
) {
    let Some(before) = tray.newest_tally(cell, day) else {
        return;
    };
    if before.day == day {
        let (place, looks) = (tray.place(cell), in_words(desk, before));
        desk.tell(Notice::TalliedTwice { place, day, looks });
        return;
    }
    let gone = tray.gone_by(cell, day) - tray.gone_by(cell, before.day);
    let now = late_of(desk, counted_now(counted));
    for (class, had) in late_of(desk, counted_then(desk, before)) {
        let has = now.get(&class).copied().unwrap_or(0);
        let asked = counted.iter().any(|(_, sights)| reads(desk, sights, class));
        if asked && had - has > gone {
            let name = desk.facts.trait_class.get(class);
            let class = name.map_or_else(String::new, |row| row.name.clone());
            desk.tell(Notice::LateColourWent {
                place: tray.place(cell),
                class,
                had,
                since: before.day,
                has,
            });
        }
    }
}

/// How many of a tally look so: class, count.
type Counted = Vec<(Option<i64>, Sureness, i64)>;

fn counted_now(counted: &[(i64, Vec<Sight>)]) -> Counted {
    let of_look = |(count, sights): &(i64, Vec<Sight>)| {
        let count = *count;
        sights
            .iter()
            .map(move |sight| (sight.class, sight.sureness, count))
            .collect::<Vec<_>>()
    };
    counted.iter().flat_map(of_look).collect()
}

fn counted_then(desk: &Desk, tally: &TallyRow) -> Counted {
    let looks = desk.facts.tally_look.iter();
    let looks = looks.filter(|look| look.tally_id == tally.id);
    let of_look = |look: &TallyLookRow| {
        let (id, count) = (look.id, look.count);
        let classes = desk.facts.tally_class.iter();
        let classes = classes.filter(move |row| row.look_id == id);
        classes.map(move |row| (row.class_id, row.sureness, count))
    };
    looks.flat_map(of_look).collect()
}

/// The firm counts of late classes.
fn late_of(desk: &Desk, counted: Counted) -> BTreeMap<i64, i64> {
    let mut found = BTreeMap::new();
    for (class, sureness, count) in counted {
        let row = class.and_then(|id| desk.facts.trait_class.get(id));
        if let Some(row) = row.filter(|row| row.after_class.is_some() && sureness == Sureness::Firm)
        {
            *found.entry(row.id).or_insert(0) += count;
        }
    }
    found
}

/// Whether looks are about the trait of a class.
fn reads(desk: &Desk, sights: &[Sight], class: i64) -> bool {
    let of = desk.facts.trait_class.get(class).map(|row| row.trait_id);
    sights.iter().any(|sight| Some(sight.of) == of)
}

/// A tally as it is spoken of: `8 purple, 2 green`.
fn in_words(desk: &Desk, tally: &TallyRow) -> String {
    let facts = desk.facts;
    let class = |row: &TallyClassRow| facts.spoken_class(row.class_id, row.sureness);
    let of_look = |look: &TallyLookRow| {
        let classes = facts.tally_class.iter();
        let words = classes.filter(|row| row.look_id == look.id).map(class);
        format!("{} {}", look.count, words.collect::<Vec<_>>().join("/"))
    };
    let looks = facts.tally_look.iter();
    let looks = looks.filter(|look| look.tally_id == tally.id).map(of_look);
    looks.collect::<Vec<_>>().join(", ")
}
