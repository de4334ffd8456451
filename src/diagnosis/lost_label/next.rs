//! Which look would tell the likeliest two crosses of a pot apart.
//!
//! For each trait the joint distribution of "the first or the second" and the class that would be read, by everything
//! recorded and everything seen of the pot; from that the bits that the look is expected to tell.

use crate::records::day::Day;
use crate::stats::information::mutual_information;

use super::units::{Unit, Units};
use super::{HARDLY_READ, NextLook};

/// Fewer bits than this are not worth a look (design choice).
const WORTH_A_LOOK: f64 = 0.05;

/// One more look at a trait that the pot was read for is taken so many days later (design choice).
const LATER: i64 = 7;

/// A trait of another stage than seedlings is looked at so many days later (design choice).
const GROWN: i64 = 150;

/// The look that tells most about which of two it is: one at the seedling where one is worth it, else a later one.
pub(super) fn next_look(
    units: &Units<'_>,
    shares: (f64, f64),
    (first, second): (&Unit, &Unit),
) -> Option<NextLook> {
    let traits = 0..units.bench.context.looks.traits.len();
    let weighed = traits.filter_map(|look| weigh(units, look, shares, (first, second)));
    let worth: Vec<NextLook> = weighed.filter(|one| one.bits >= WORTH_A_LOOK).collect();
    let now = worth.iter().filter(|one| one.on.is_some());
    let now = now.max_by(|one, other| one.bits.total_cmp(&other.bits));
    let later = worth
        .iter()
        .max_by(|one, other| one.bits.total_cmp(&other.bits));
    now.or(later).cloned()
}

/// What a trait would tell; nothing where it is switched off or too large to weigh, the pot was read for the same,
/// nothing is known of the parents there, or every class speaks for the same one.
fn weigh(
    units: &Units<'_>,
    look: usize,
    (p, q): (f64, f64),
    (first, second): (&Unit, &Unit),
) -> Option<NextLook> {
    let known = units.bench.known;
    let trait_ = &units.bench.context.looks.traits[look];
    let again = known.traits.contains(&look);
    if !trait_.switched_on || (again && trait_.onset.is_none()) {
        return None;
    }
    if known.is_growth(look) || (!again && is_read_otherwise(units, look)) {
        return None;
    }
    let is_young = trait_.stage == "seedling";
    let day: Day = match (is_young, again) {
        (true, false) => known.day,
        (true, true) => known.day.forward(LATER),
        (false, _) => known.day.forward(GROWN),
    };
    let mut traits = known.traits.clone();
    traits.push(look);
    traits.sort_unstable();
    traits.dedup();
    if !is_told(units, look, (first, second)) {
        return None;
    }
    let chances = |unit: &Unit| {
        let stand = units.bench.stand_of(unit, &traits)?;
        Some(units.bench.class_chances(unit, &stand, (look, day)))
    };
    let (one, other) = (chances(first)?, chances(second)?);
    let total = p + q;
    let joint: Vec<Vec<f64>> = [(one, p), (other, q)]
        .into_iter()
        .map(|(row, weight)| row.iter().map(|chance| chance * weight / total).collect())
        .collect();
    let says = (0..trait_.classes.len()).map(|class| {
        let read = joint[0][class] + joint[1][class];
        let first = if read > 0.0 {
            joint[0][class] / read
        } else {
            0.0
        };
        (trait_.classes[class].name.clone(), read, first)
    });
    let says: Vec<(String, f64, f64)> = says.collect();
    let speaks_for = |is_first: bool| {
        let mut likely = says.iter().filter(|(_, read, _)| *read >= HARDLY_READ);
        likely.any(|(_, _, first)| (*first >= 0.5) == is_first)
    };
    if !(speaks_for(true) && speaks_for(false)) {
        return None;
    }
    Some(NextLook {
        trait_code: trait_.code.clone(),
        stage: trait_.stage.clone(),
        on: is_young.then_some(day),
        bits: mutual_information(&joint),
        says,
    })
}

/// Whether the pot was read for a trait that shows the same of the same organ.
fn is_read_otherwise(units: &Units<'_>, look: usize) -> bool {
    let traits = &units.bench.context.looks.traits;
    let mut read = units.bench.known.traits.iter().map(|at| &traits[*at]);
    read.any(|read| read.shows_the_same_as(&traits[look]))
}

/// Whether anything recorded of a parent of either speaks of a locus that a trait reads.
fn is_told(units: &Units<'_>, look: usize, (first, second): (&Unit, &Unit)) -> bool {
    let bench = &units.bench;
    let loci = bench.context.looks.traits[look].model.loci();
    let parents = [first, second].map(|unit| bench.context.sources.parents(unit.stock));
    let mut plants = parents.iter().flat_map(|(mother, father)| [mother, father]);
    plants.any(|plant| loci.iter().any(|locus| bench.net.speaks(*plant, *locus)))
}
