//! Walking along the chromosomes with the strands a seedling carries.
//!
//! At each locus the state is which rules are still open and, on a chromosome with several loci, how each
//! meiosis of the little pedigree stands there: which of a plant's two strands it hands on. Between
//! neighbours each meiosis crosses over by itself with the recombination of that step; states are added
//! where they agree. This is the chain of inheritance vectors of Lander and Green 1987 (Proceedings of the
//! National Academy of Sciences 84:2363-2367, from memory). The work grows with the loci and the open
//! rules, and doubles with each meiosis; whole genotypes are never listed.

use std::collections::BTreeMap;

use super::descent::{Kin, Line, Sex};
use super::expect::{Breeding, ExpectError};
use super::genotype::Diploid;
use super::linkage::Chromosome;
use super::locus::LocusIx;
use super::rule::GeneModel;
use super::segregation::AtLocus;
use super::sweep::{Open, narrow, open_rules, pending_at};
use super::weight::Weight;

/// The most states held at once; a state is a set of open rules and the stand of the meioses.
pub const MOST_CELLS: usize = 1 << 21;

/// Sums of weights by the rules left open.
type Sums<W> = BTreeMap<Open, W>;

/// The weights of the sets of open rules that seedlings end in; `None` where whole numbers do not suffice.
pub(super) fn walk_strands<W: Weight>(
    breeding: &Breeding<'_>,
    models: &[&GeneModel],
) -> Result<Option<Sums<W>>, ExpectError> {
    let cytoplasm = breeding.mother.cytoplasm;
    let opening: Open = models.iter().map(|m| m.rules_for(cytoplasm)).collect();
    let mut sums: Option<Sums<W>> = Some([(opening, W::ONE)].into());
    let chromosomes = &breeding.arrangement.chromosomes;
    for (at, chromosome) in chromosomes.iter().enumerate() {
        let Some(before) = sums else { return Ok(None) };
        let ahead = chromosomes[at + 1..].iter().flat_map(|c| &c.loci).copied();
        let ahead: Vec<LocusIx> = ahead.collect();
        sums = match chromosome.loci[..] {
            [alone] => pass_alone(breeding, models, alone, &ahead, before)?,
            _ => pass_linked(breeding, models, chromosome, &ahead, before)?,
        };
        if let Some(sums) = &mut sums {
            W::reduce(&mut sums.values_mut().collect::<Vec<_>>());
        }
    }
    Ok(sums)
}

fn add<K: Ord, W: Weight>(sums: &mut BTreeMap<K, W>, key: K, weight: W) -> Option<()> {
    let sum = sums.entry(key).or_default();
    *sum = sum.plus(weight)?;
    Some(())
}

/// A locus alone on its chromosome: the seedling's genotypes there, whatever the meioses.
fn pass_alone<W: Weight>(
    breeding: &Breeding<'_>,
    models: &[&GeneModel],
    locus: LocusIx,
    ahead: &[LocusIx],
    before: Sums<W>,
) -> Result<Option<Sums<W>>, ExpectError> {
    let Some(outcomes) = genotypes_at::<W>(breeding, locus)? else {
        return Ok(None);
    };
    let pending = pending_at(models, ahead);
    let steps = outcomes.iter();
    let steps: Vec<(Open, W)> = steps
        .map(|(pair, weight)| (open_rules(models, &[locus], &[*pair]), *weight))
        .collect();
    let mut sums = Sums::new();
    for (open, value) in before {
        for (step, weight) in &steps {
            let carried = value.times(*weight);
            let added = carried.and_then(|w| add(&mut sums, narrow(&open, step, &pending), w));
            if added.is_none() {
                return Ok(None);
            }
        }
        check_size(sums.len(), 1)?;
    }
    Ok(Some(sums))
}

/// The genotypes of the seedling at one locus with their weights, those that die left out.
pub(super) fn genotypes_at<W: Weight>(
    breeding: &Breeding<'_>,
    locus: LocusIx,
) -> Result<Option<Vec<(Diploid, W)>>, ExpectError> {
    let Some(founders) = founders_at::<W>(breeding, locus)? else {
        return Ok(None);
    };
    let line = Line::of(breeding.descent, [false, false]);
    let mut found: BTreeMap<Diploid, W> = BTreeMap::new();
    for (alleles, weight) in founders {
        let Some(outcomes) = descend::<W>(breeding, &line, locus, alleles) else {
            return Ok(None);
        };
        for (pair, share) in outcomes {
            let carried = share.times(weight);
            if carried.and_then(|w| add(&mut found, pair, w)).is_none() {
                return Ok(None);
            }
        }
    }
    let mut found: Vec<(Diploid, W)> = found.into_iter().collect();
    W::reduce(&mut found.iter_mut().map(|(_, w)| w).collect::<Vec<_>>());
    Ok(Some(found))
}

/// Down the little pedigree, plant by plant, from the four alleles of the parents.
fn descend<W: Weight>(
    breeding: &Breeding<'_>,
    line: &Line,
    locus: LocusIx,
    alleles: [u8; 4],
) -> Option<BTreeMap<Diploid, W>> {
    let mut known: Vec<BTreeMap<Diploid, W>> = Vec::with_capacity(line.kin.len());
    let gametes = |plant: &BTreeMap<Diploid, W>| {
        let mut gametes: BTreeMap<u8, W> = BTreeMap::new();
        for (pair, weight) in plant {
            add(&mut gametes, pair.a(), *weight)?;
            add(&mut gametes, pair.b(), *weight)?;
        }
        Some(gametes)
    };
    for kin in &line.kin {
        let mut here = BTreeMap::new();
        match kin {
            Kin::Parent(parent) => {
                let pair = Diploid::new(alleles[2 * parent], alleles[2 * parent + 1]);
                here.insert(pair, W::ONE);
            }
            Kin::Child {
                from: [one, other], ..
            } if one == other => {
                for (pair, weight) in &known[*one] {
                    for from_egg in [pair.a(), pair.b()] {
                        for from_pollen in [pair.a(), pair.b()] {
                            add(&mut here, Diploid::new(from_egg, from_pollen), *weight)?;
                        }
                    }
                }
            }
            Kin::Child { from, .. } => {
                let pollen = gametes(&known[from[1]])?;
                for (egg, weight) in gametes(&known[from[0]])? {
                    for (grain, other) in &pollen {
                        add(&mut here, Diploid::new(egg, *grain), weight.times(*other)?)?;
                    }
                }
            }
            Kin::Doubled { from, .. } => {
                for (allele, weight) in gametes(&known[*from])? {
                    add(&mut here, Diploid::new(allele, allele), weight)?;
                }
            }
        }
        if !matches!(kin, Kin::Parent(_)) {
            here.retain(|pair, _| !breeding.dies(locus, *pair));
        }
        W::reduce(&mut here.values_mut().collect::<Vec<_>>());
        known.push(here);
    }
    known.pop()
}

/// The alleles on the four strands of mother and father, with weights.
type Founders<W> = Vec<([u8; 4], W)>;

/// The alleles on the strands of mother and father at a locus, in every order they can lie.
fn founders_at<W: Weight>(
    breeding: &Breeding<'_>,
    locus: LocusIx,
) -> Result<Option<Founders<W>>, ExpectError> {
    let at = |parent: &super::expect::Parent| {
        let at = parent.at(locus).ok_or(ExpectError::LocusMissing(locus))?;
        Ok::<_, ExpectError>(W::strands(at))
    };
    let (Some(mothers), Some(fathers)) = (at(breeding.mother)?, at(breeding.father)?) else {
        return Ok(None);
    };
    let fathers = if breeding.needs_father() {
        fathers
    } else {
        vec![([0, 0], W::ONE)]
    };
    let mut found = Vec::with_capacity(mothers.len() * fathers.len());
    for (mother, weight) in &mothers {
        for (father, other) in &fathers {
            let Some(weight) = weight.times(*other) else {
                return Ok(None);
            };
            found.push(([mother[0], mother[1], father[0], father[1]], weight));
        }
    }
    Ok(Some(found))
}

/// Per genotype of the seedling, the weight for every stand of the meioses.
type Emission<W> = BTreeMap<Diploid, Vec<W>>;

fn emission<W: Weight>(
    breeding: &Breeding<'_>,
    line: &Line,
    locus: LocusIx,
) -> Result<Option<Emission<W>>, ExpectError> {
    let Some(founders) = founders_at::<W>(breeding, locus)? else {
        return Ok(None);
    };
    let stands = 1_usize << line.meioses.len();
    let mut found: Emission<W> = BTreeMap::new();
    for stand in 0..stands {
        let strands = line.strands(stand);
        for (alleles, weight) in &founders {
            let pair = |of: &[u8; 2]| {
                Diploid::new(alleles[usize::from(of[0])], alleles[usize::from(of[1])])
            };
            let mut born = strands
                .iter()
                .enumerate()
                .filter(|(at, _)| !line.is_parent(*at));
            if born.any(|(_, of)| breeding.dies(locus, pair(of))) {
                continue;
            }
            let seedling = strands.last().expect("a descent ends in a seedling");
            let sums = found.entry(pair(seedling));
            let sums = sums.or_insert_with(|| vec![W::default(); stands]);
            let Some(sum) = sums[stand].plus(*weight) else {
                return Ok(None);
            };
            sums[stand] = sum;
        }
    }
    Ok(Some(found))
}

/// Several loci of one chromosome, one after the other.
fn pass_linked<W: Weight>(
    breeding: &Breeding<'_>,
    models: &[&GeneModel],
    chromosome: &Chromosome,
    ahead: &[LocusIx],
    before: Sums<W>,
) -> Result<Option<Sums<W>>, ExpectError> {
    let alike = [breeding.mother, breeding.father].map(|parent| {
        let same = |locus: &LocusIx| parent.at(*locus).is_some_and(AtLocus::is_homozygous);
        chromosome.loci.iter().all(same)
    });
    let line = Line::of(breeding.descent, alike);
    let meioses = u32::try_from(line.meioses.len()).unwrap_or(u32::MAX);
    let stands = 1_usize
        .checked_shl(meioses)
        .filter(|stands| *stands <= MOST_CELLS);
    let stands = stands.ok_or(ExpectError::TooLarge {
        cells: 2.0_f64.powi(line.meioses.len() as i32),
    })?;
    let mut states: BTreeMap<Open, Vec<W>> = before
        .into_iter()
        .map(|(open, value)| (open, vec![value; stands]))
        .collect();
    for (at, locus) in chromosome.loci.iter().enumerate() {
        if at > 0 {
            let crossed = states
                .values_mut()
                .try_for_each(|values| cross_over(values, &line, chromosome.steps[at - 1]));
            if crossed.is_none() {
                return Ok(None);
            }
        }
        let Some(emission) = emission::<W>(breeding, &line, *locus)? else {
            return Ok(None);
        };
        let behind = [&chromosome.loci[at + 1..], ahead].concat();
        let pending = pending_at(models, &behind);
        let mut next: BTreeMap<Open, Vec<W>> = BTreeMap::new();
        for (open, values) in &states {
            for (pair, weights) in &emission {
                let step = open_rules(models, &[*locus], &[*pair]);
                let key = narrow(open, &step, &pending);
                let sums = next
                    .entry(key)
                    .or_insert_with(|| vec![W::default(); stands]);
                for ((sum, value), weight) in sums.iter_mut().zip(values).zip(weights) {
                    let more = value.times(*weight).and_then(|more| sum.plus(more));
                    let Some(more) = more else { return Ok(None) };
                    *sum = more;
                }
            }
            check_size(next.len(), stands)?;
        }
        next.retain(|_, values| values.iter().any(|value| *value != W::default()));
        W::reduce(&mut next.values_mut().flatten().collect::<Vec<_>>());
        states = next;
    }
    let collapse = |(open, values): (Open, Vec<W>)| {
        let sum = values.into_iter().try_fold(W::default(), W::plus)?;
        Some((open, sum))
    };
    Ok(states.into_iter().map(collapse).collect())
}

/// One step along the chromosome: every meiosis by itself stays on its strand or changes over.
fn cross_over<W: Weight>(
    values: &mut [W],
    line: &Line,
    step: super::recombination::Recombination,
) -> Option<()> {
    for (meiosis, sex) in line.meioses.iter().enumerate() {
        let [stays, turns] = W::split(match sex {
            Sex::Female => step.female,
            Sex::Male => step.male,
        })?;
        let bit = 1 << meiosis;
        for stand in (0..values.len()).filter(|stand| stand & bit == 0) {
            let (one, other) = (values[stand], values[stand | bit]);
            values[stand] = one.times(stays)?.plus(other.times(turns)?)?;
            values[stand | bit] = other.times(stays)?.plus(one.times(turns)?)?;
        }
    }
    Some(())
}

fn check_size(states: usize, stands: usize) -> Result<(), ExpectError> {
    let cells = states as f64 * stands as f64;
    if cells > MOST_CELLS as f64 {
        return Err(ExpectError::TooLarge { cells });
    }
    Ok(())
}
