//! Seed of one lot or of several, of parents that may be one plant or another.
//!
//! Each pair that the parents may be is one pair of real plants: what lives of its seed is one whole, and the answer is
//! the mean over the pairs, each as likely as it was before anything was sown. Only where something dies, is not bred
//! from or has weak pollen do pairs differ in how much of their seed is seen, so only at those loci are they told
//! apart. A lot is a part of the seed as it was set; the dead are taken out of all lots together. How a seedling comes
//! down is the walks' business; `expect`'s [`breed`](super::expect::breed) and `expect --selfed` call.

use std::collections::BTreeMap;

use super::descent::Descent;
use super::expect::{
    Breeding, Classes, ExpectError, Parent, Shares, name_classes, possible_classes,
};
use super::fraction::Fraction;
use super::genotype::Diploid;
use super::linkage::Chromosome;
use super::locus::LocusIx;
use super::rule::{Cytoplasm, GeneModel};
use super::segregation::AtLocus;
use super::selection::Selection;
use super::strands::walk_strands;
use super::weight::Weight;

/// A part of the seed set, and how it comes down from the parents.
#[derive(Clone, Copy, Debug)]
pub struct Lot<'a> {
    /// Its share of all seed, the dead included.
    pub part: Fraction,
    /// From the parents to it.
    pub descent: &'a Descent,
}

/// Most pairs that the parents may be at the loci under selection.
pub const MOST_PAIRS: usize = 20_000;

/// Most combinations of classes of which also those that cannot come are listed.
const MOST_LISTED: usize = 4_096;

/// Weights by the classes of seedlings that live.
type Living<W> = BTreeMap<Classes, W>;

/// The shares of the classes among the living seedlings of all lots together: for each pair that the parents may be
/// `sum_l part_l P_l(class, lives) / sum_l part_l P_l(lives)`, and the mean of that over the pairs that give any.
/// The descent of `breeding` is not looked at.
///
/// # Errors
/// [`ExpectError`].
pub fn breed_lots(
    breeding: &Breeding<'_>,
    lots: &[Lot<'_>],
    models: &[&GeneModel],
) -> Result<Shares, ExpectError> {
    let cytoplasm = breeding.mother.cytoplasm;
    if let Some(sums) = over_pairs::<u128>(breeding, lots, models)? {
        let mut all = sums.values();
        match all.try_fold(0_u128, |sum, n| sum.checked_add(*n)) {
            Some(0) => return Err(ExpectError::NoneLive),
            Some(whole) => return Ok(Shares::exact(listed(sums, models, cytoplasm), whole)),
            None => {}
        }
    }
    let sums = over_pairs::<f64>(breeding, lots, models)?;
    let sums = sums.expect("probabilities never outgrow their range");
    let total: f64 = sums.values().sum();
    if total <= 0.0 {
        return Err(ExpectError::NoneLive);
    }
    let classes = listed(sums, models, cytoplasm).into_iter();
    Ok(Shares {
        classes: classes.map(|(classes, p)| (classes, p / total)).collect(),
        exact: None,
    })
}

/// With the classes that cannot come, where all are not too many.
fn listed<W: Weight>(
    sums: Living<W>,
    models: &[&GeneModel],
    cytoplasm: Cytoplasm,
) -> BTreeMap<Classes, W> {
    let combinations: f64 = models.iter().map(|m| m.classes().len() as f64).product();
    let mut found = BTreeMap::new();
    if combinations <= MOST_LISTED as f64 {
        let possible = possible_classes(models, cytoplasm).into_iter();
        found.extend(possible.map(|classes| (classes, W::default())));
    }
    found.extend(sums);
    found
}

/// The mean over the pairs that the parents may be; `None` where whole numbers do not suffice.
fn over_pairs<W: Weight>(
    breeding: &Breeding<'_>,
    lots: &[Lot<'_>],
    models: &[&GeneModel],
) -> Result<Option<Living<W>>, ExpectError> {
    let Some(pairs) = pairs::<W>(breeding, lots)? else {
        return Ok(None);
    };
    let (mut each, mut weights) = (Vec::with_capacity(pairs.len()), Vec::new());
    for (mother, father, weight) in &pairs {
        let of_pair = Breeding {
            mother,
            father,
            ..*breeding
        };
        let Some(sums) = of_all_lots::<W>(&of_pair, lots, models)? else {
            return Ok(None);
        };
        each.push(sums);
        weights.push(*weight);
    }
    Ok(mean(&each, &weights))
}

/// The mean of several sums, each first brought to the same whole.
fn mean<W: Weight>(each: &[Living<W>], weights: &[W]) -> Option<Living<W>> {
    let whole = |sums: &Living<W>| sums.values().copied().try_fold(W::default(), W::plus);
    let wholes: Vec<W> = each.iter().map(whole).collect::<Option<_>>()?;
    mixed(each, weights, &wholes)
}

/// Several sums together, each as large a part as its weight says of the whole given.
fn mixed<W: Weight>(each: &[Living<W>], weights: &[W], wholes: &[W]) -> Option<Living<W>> {
    let mut all = Living::<W>::new();
    let over = W::reciprocals(wholes)?;
    for ((sums, weight), over) in each.iter().zip(weights).zip(over) {
        let scale = weight.times(over)?;
        for (classes, n) in sums {
            let sum = all.entry(classes.clone()).or_default();
            *sum = sum.plus(n.times(scale)?)?;
        }
    }
    W::reduce(&mut all.values_mut().collect::<Vec<_>>());
    Some(all)
}

/// The living of all lots of one pair of parents; nothing lives where one of the lots cannot be set.
fn of_all_lots<W: Weight>(
    breeding: &Breeding<'_>,
    lots: &[Lot<'_>],
    models: &[&GeneModel],
) -> Result<Option<Living<W>>, ExpectError> {
    let lots: Vec<&Lot<'_>> = lots.iter().filter(|lot| lot.part.value() > 0.0).collect();
    let (mut each, mut wholes) = (Vec::new(), Vec::new());
    for lot in &lots {
        let of_lot = Breeding {
            descent: lot.descent,
            ..*breeding
        };
        let walked = walk_strands::<W>(&of_lot, models)?;
        let Some((living, whole)) = walked.and_then(|sums| by_class(sums, models)) else {
            return Ok(None);
        };
        if whole == W::default() {
            return Ok(Some(Living::new()));
        }
        each.push(living);
        wholes.push(whole);
    }
    let parts: Vec<Fraction> = lots.iter().map(|lot| lot.part).collect();
    Ok(W::shares(&parts).and_then(|parts| mixed(&each, &parts, &wholes)))
}

/// The living by their classes, and the weight of all with the dead.
fn by_class<W: Weight>(
    sums: BTreeMap<Vec<u64>, W>,
    models: &[&GeneModel],
) -> Option<(Living<W>, W)> {
    let (mut living, mut whole) = (Living::<W>::new(), W::default());
    for (open, weight) in sums {
        whole = whole.plus(weight)?;
        if open.last() == Some(&0) {
            continue;
        }
        let sum = living.entry(name_classes(models, &open)).or_default();
        *sum = sum.plus(weight)?;
    }
    Some((living, whole))
}

/// Mother and father as they may be, with weights.
type Pairs<W> = Vec<(Parent, Parent, W)>;

/// Every pair of plants that the parents may be at the loci under selection, as far as it matters to what is seen of
/// their seed, with weights; `None` where whole numbers do not suffice.
fn pairs<W: Weight>(
    breeding: &Breeding<'_>,
    lots: &[Lot<'_>],
) -> Result<Option<Pairs<W>>, ExpectError> {
    let needs_father = lots.iter().any(|lot| lot.descent.names_father());
    let Some(mothers) = plants::<W>(breeding.mother, breeding)? else {
        return Ok(None);
    };
    let fathers = match needs_father {
        true => plants::<W>(breeding.father, breeding)?,
        false => Some(vec![(breeding.father.clone(), W::ONE)]),
    };
    let Some(fathers) = fathers else {
        return Ok(None);
    };
    check_pairs(mothers.len() as f64 * fathers.len() as f64)?;
    let mut found = Vec::with_capacity(mothers.len() * fathers.len());
    for (mother, weight) in &mothers {
        for (father, other) in &fathers {
            let Some(weight) = weight.times(*other) else {
                return Ok(None);
            };
            found.push((mother.clone(), father.clone(), weight));
        }
    }
    Ok(Some(found))
}

fn check_pairs(pairs: f64) -> Result<(), ExpectError> {
    match pairs > MOST_PAIRS as f64 {
        true => Err(ExpectError::TooManyPairs { pairs }),
        false => Ok(()),
    }
}

/// Every plant that a living parent may be at the loci under selection.
fn plants<W: Weight>(
    parent: &Parent,
    breeding: &Breeding<'_>,
) -> Result<Option<Vec<(Parent, W)>>, ExpectError> {
    let Some(living) = parent.living(breeding.selection) else {
        return Err(ExpectError::NoneLive);
    };
    let mut found = vec![(living.clone(), W::ONE)];
    for chromosome in &breeding.arrangement.chromosomes {
        let open = open_under_selection(&living, chromosome, breeding.selection);
        for locus in &open {
            let Some(ways) = ways::<W>(&living.loci[locus], open.len() > 1) else {
                return Ok(None);
            };
            check_pairs(found.len() as f64 * ways.len() as f64)?;
            let mut more = Vec::with_capacity(found.len() * ways.len());
            for (plant, weight) in &found {
                for (way, other) in &ways {
                    let mut plant = plant.clone();
                    plant.loci.insert(*locus, way.clone());
                    let Some(weight) = weight.times(*other) else {
                        return Ok(None);
                    };
                    more.push((plant, weight));
                }
            }
            found = more;
        }
    }
    Ok(Some(found))
}

/// The loci under selection on a chromosome at which a plant is not known to be homozygous.
fn open_under_selection(
    plant: &Parent,
    chromosome: &Chromosome,
    selection: &[Selection],
) -> Vec<LocusIx> {
    let is_open = |locus: &&LocusIx| {
        let is_selected = selection.iter().any(|one| one.locus() == **locus);
        is_selected && plant.at(**locus).is_some_and(|at| !at.is_homozygous())
    };
    chromosome.loci.iter().filter(is_open).copied().collect()
}

/// What a plant may be at a locus, its phase too where that matters: one locus alone lies either way as well.
fn ways<W: Weight>(at: &AtLocus, with_phase: bool) -> Option<Vec<(AtLocus, W)>> {
    if !with_phase && at.known().is_some() {
        return Some(vec![(at.clone(), W::ONE)]);
    }
    let mut found: Vec<(AtLocus, W)> = Vec::new();
    for (pair, weight) in W::strands(at)? {
        let way = match with_phase {
            true => AtLocus::Phased(pair),
            false => AtLocus::Known(Diploid::new(pair[0], pair[1])),
        };
        match found.iter_mut().find(|(known, _)| *known == way) {
            Some((_, sum)) => *sum = sum.plus(weight)?,
            None => found.push((way, weight)),
        }
    }
    Some(found)
}
