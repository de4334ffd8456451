//! Two firm classes of one trait of one plant on one day: both are kept, the newer counts, and it is said.

use std::collections::{BTreeMap, HashMap};

use super::desk::Desk;
use super::looks::Sight;
use super::{Notice, find};
use crate::records::day::Day;
use crate::records::rows::{ReadingRow, Sureness};

/// Says which plants were read as another class on the same day.
pub(super) fn tell(desk: &mut Desk, plants: &[(i64, &[Sight])], day: Day) {
    let facts = desk.facts;
    let named: HashMap<i64, &[Sight]> = plants.iter().copied().collect();
    let that_day = |row: &&ReadingRow| {
        row.day == day && row.sureness == Sureness::Firm && named.contains_key(&row.plant_id)
    };
    let mut newest: BTreeMap<(i64, Option<i64>), &ReadingRow> = BTreeMap::new();
    for row in facts.reading.iter().filter(that_day) {
        newest.insert((row.plant_id, row.trait_id), row);
    }
    let name = |class: Option<i64>| {
        let class = class.and_then(|id| facts.trait_class.get(id));
        class.map_or_else(String::new, |class| class.name.clone())
    };
    let mut found: BTreeMap<(String, String), Vec<String>> = BTreeMap::new();
    for (plant, sights) in plants {
        for sight in sights
            .iter()
            .filter(|sight| sight.sureness == Sureness::Firm)
        {
            let earlier = newest.get(&(*plant, Some(sight.of)));
            if let Some(earlier) = earlier.filter(|row| row.class_id != sight.class) {
                let classes = (name(earlier.class_id), name(sight.class));
                let place = find::label(facts, *plant);
                found.entry(classes).or_default().push(place);
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
