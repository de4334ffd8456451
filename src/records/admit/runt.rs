//! Seedlings of a cross between species that are pulled for being weak: the runt may be the true hybrid.
//!
//! Nothing is refused and nothing kept out of the sums; the grower is told before the pot is in the bin.

use std::collections::HashSet;

use super::Notice;
use super::desk::Desk;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::measures::runts_by_measure;
use crate::records::rows::Thing;
use crate::records::species::Crossing;

/// Words for a seedling that grows badly, in reasons, remarks and classes.
const WEAK: [&str; 22] = [
    "weak",
    "weakly",
    "weakling",
    "weaklings",
    "dwarf",
    "dwarfs",
    "dwarfed",
    "runt",
    "runts",
    "runty",
    "stunted",
    "small",
    "tiny",
    "puny",
    "feeble",
    "sickly",
    "sick",
    "poor",
    "crippled",
    "spindly",
    "crinkled",
    "slow",
];

/// Whether a text speaks of a seedling that grows badly.
fn says_weak(text: &str) -> bool {
    let folded = text.to_lowercase();
    let mut words = folded.split(|c: char| !c.is_alphanumeric());
    words.any(|word| WEAK.contains(&word))
}

/// Whether anything recorded of these plants, or the reason given now, calls them weak, or a measure shows them to be far
/// smaller than their tray.
fn are_weak(facts: &Facts, (batch, day): (i64, Day), plants: &[i64], why: &str) -> bool {
    let named: HashSet<i64> = plants.iter().copied().collect();
    let remark = || {
        let mut remarks = facts.remark.iter();
        remarks.any(|row| {
            row.thing == Thing::Plant && named.contains(&row.thing_id) && says_weak(&row.text)
        })
    };
    let reading = || {
        let mut readings = facts
            .reading
            .iter()
            .filter(|row| named.contains(&row.plant_id));
        readings.any(|row| {
            let class = row.class_id.and_then(|id| facts.trait_class.get(id));
            class.is_some_and(|class| says_weak(&class.name))
        })
    };
    let measure = || {
        let runts = runts_by_measure(facts, batch, day);
        runts.iter().any(|plant| named.contains(plant))
    };
    says_weak(why) || remark() || reading() || measure()
}

/// Tells of the runt where seedlings of a cross between species are pulled as weak.
pub(super) fn caution(desk: &mut Desk, (batch, day): (i64, Day), plants: &[i64], why: &str) {
    let facts = desk.facts;
    let cross = facts.batch.get(batch).and_then(|row| row.cross_id);
    let Some(cross) = cross.and_then(|id| facts.cross.get(id)) else {
        return;
    };
    let crossing = Crossing::of_plants(facts, cross.mother_id, cross.father_id);
    if crossing.is_wide() && are_weak(facts, (batch, day), plants, why) {
        desk.tell(Notice::RuntPulled(crossing));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_weakness_are_words_and_not_parts_of_words() {
        assert!(says_weak("Weak, and late") && says_weak("a runt") && says_weak("dwarf"));
        assert!(!says_weak("still green") && !says_weak("smallpox?") && !says_weak(""));
    }
}
