//! A firm class of one trait of one plant and another look on the same day: both are kept, the newer counts, and it is said.

use std::collections::{BTreeMap, HashMap};

use super::desk::Desk;
use super::looks::Sight;
use super::{Notice, find};
use crate::records::day::Day;
use crate::records::rows::{ReadingRow, Sureness};

/// Says which plants were firmly read as another class on the same day, whatever they are read as now.
pub(super) fn tell(desk: &mut Desk, plants: &[(i64, &[Sight])], day: Day) {
    let facts = desk.facts;
    let named: HashMap<i64, &[Sight]> = plants.iter().copied().collect();
    let that_day = |row: &&ReadingRow| row.day == day && named.contains_key(&row.plant_id);
    let mut newest: BTreeMap<(i64, Option<i64>), &ReadingRow> = BTreeMap::new();
    for row in facts.reading.iter().filter(that_day) {
        newest.insert((row.plant_id, row.trait_id), row);
    }
    let is_firm = |row: &&ReadingRow| row.sureness == Sureness::Firm && row.class_id.is_some();
    let mut found: BTreeMap<(String, String), Vec<String>> = BTreeMap::new();
    for (plant, sights) in plants {
        for sight in *sights {
            let earlier = newest.get(&(*plant, Some(sight.of))).copied();
            let Some(earlier) = earlier.filter(is_firm) else {
                continue;
            };
            let before = facts.spoken_class(earlier.class_id, earlier.sureness);
            let now = facts.spoken_class(sight.class, sight.sureness);
            if before != now {
                let place = find::label(facts, *plant);
                found.entry((before, now)).or_default().push(place);
            }
        }
    }
    for ((before, now), places) in found {
        desk.tell(Notice::ReadTwice {
            places,
            day,
            before,
            now,
        });
    }
}
