//! Walking along the chromosomes with the strands a seedling carries.
//!
//! At each locus the state is which rules are still open and, on a chromosome with several loci, how each
//! meiosis of the little pedigree stands there: which of a plant's two strands it hands on. Between
//! neighbours each meiosis crosses over by itself with the recombination of that step; states are added
//! where they agree. A locus alone, and linked loci over many generations, are worked out plant by plant
//! instead ([`super::haplotypes`]). This is the chain of inheritance vectors of Lander and Green 1987 (Proceedings of the
//! National Academy of Sciences 84:2363-2367, from memory). The work grows with the loci and the open
//! rules, and doubles with each meiosis; whole genotypes are never listed.

use std::collections::BTreeMap;

use super::descent::{Line, Sex};
use super::expect::{Breeding, ExpectError};
use super::genotype::Diploid;
use super::haplotypes::{self, seedlings};
use super::linkage::Chromosome;
use super::locus::LocusIx;
use super::rule::GeneModel;
use super::segregation::AtLocus;
use super::selection::{Selection, pollen};
use super::sweep::{Open, narrow, open_rules, pending_at};
use super::weight::Weight;

/// The most memory that states are held in, in megabytes; a state is a set of open rules, and each stand of the
/// meioses or pair of haplotypes in it.
pub const MOST_MEGABYTES: f64 = 128.0;

/// Sums of weights by the rules left open.
type Sums<W> = BTreeMap<Open, W>;

/// The weights of the sets of open rules that seedlings end in, see [`Fate`]; `None` where whole numbers do not
/// suffice.
pub(super) fn walk_strands<W: Weight>(
    breeding: &Breeding<'_>,
    models: &[&GeneModel],
) -> Result<Option<Sums<W>>, ExpectError> {
    let cytoplasm = breeding.mother.cytoplasm;
    let mut opening: Open = models.iter().map(|m| m.rules_for(cytoplasm)).collect();
    opening.push(LIVES);
    let mut sums: Option<Sums<W>> = Some([(opening, W::ONE)].into());
    let chromosomes = &breeding.arrangement.chromosomes;
    for (at, chromosome) in chromosomes.iter().enumerate() {
        let Some(before) = sums else { return Ok(None) };
        let ahead = chromosomes[at + 1..].iter().flat_map(|c| &c.loci).copied();
        let ahead: Vec<LocusIx> = ahead.collect();
        sums = match is_block(breeding, chromosome)? {
            true => pass_block(breeding, models, chromosome, &ahead, before)?,
            false => pass_linked(breeding, models, chromosome, &ahead, before)?,
        };
        if let Some(sums) = &mut sums {
            W::reduce(&mut sums.values_mut().collect::<Vec<_>>());
        }
    }
    Ok(sums)
}

/// The entry of a seedling that lives, behind the open rules of the models; one that is dead has 0 throughout.
const LIVES: u64 = u64::MAX;

/// What becomes of seedlings: which rules their genotypes leave open, and whether they live. The dead are carried on,
/// all in one state, so that it is known how many there are.
struct Fate<'a> {
    models: &'a [&'a GeneModel],
    selection: &'a [Selection],
    line: Line,
}

impl<'a> Fate<'a> {
    fn of(breeding: &Breeding<'a>, models: &'a [&'a GeneModel]) -> Self {
        Self {
            models,
            selection: breeding.selection,
            line: Line::of(breeding.descent, [false, false]),
        }
    }

    fn step(&self, loci: &[LocusIx], genotype: &[Diploid]) -> Open {
        let mut pairs = loci.iter().zip(genotype);
        let lives = pairs.all(|(locus, pair)| self.line.lives(*locus, *pair, self.selection));
        let mut step = open_rules(self.models, loci, genotype);
        step.push(if lives { LIVES } else { 0 });
        step
    }

    fn pending(&self, ahead: &[LocusIx]) -> Open {
        let mut pending = pending_at(self.models, ahead);
        pending.push(u64::MAX);
        pending
    }
}

/// The rules open after a step; none of the dead.
fn narrowed(open: &Open, step: &Open, pending: &Open) -> Open {
    let narrowed = narrow(open, step, pending);
    match narrowed.last() {
        Some(0) => vec![0; narrowed.len()],
        _ => narrowed,
    }
}

pub(super) fn add<K: Ord, W: Weight>(sums: &mut BTreeMap<K, W>, key: K, weight: W) -> Option<()> {
    let sum = sums.entry(key).or_default();
    *sum = sum.plus(weight)?;
    Some(())
}

/// A chromosome whose seedlings are worked out plant by plant, whatever the meioses.
fn pass_block<W: Weight>(
    breeding: &Breeding<'_>,
    models: &[&GeneModel],
    chromosome: &Chromosome,
    ahead: &[LocusIx],
    before: Sums<W>,
) -> Result<Option<Sums<W>>, ExpectError> {
    let Some(outcomes) = seedlings::<W>(breeding, chromosome)? else {
        return Ok(None);
    };
    let fate = Fate::of(breeding, models);
    let mut steps = Sums::<W>::new();
    for (genotype, weight) in outcomes {
        let step = fate.step(&chromosome.loci, &genotype);
        if add(&mut steps, step, weight).is_none() {
            return Ok(None);
        }
    }
    let pending = fate.pending(ahead);
    let mut sums = Sums::new();
    for (open, value) in before {
        for (step, weight) in &steps {
            let carried = value.times(*weight);
            let added = carried.and_then(|w| add(&mut sums, narrowed(&open, step, &pending), w));
            if added.is_none() {
                return Ok(None);
            }
        }
        check_size(sums.len(), 1.0, models)?;
    }
    Ok(Some(sums))
}

/// The alleles on the four strands of mother and father, with weights.
pub(super) type Founders<W> = Vec<([u8; 4], W)>;

/// The alleles on the strands of mother and father at a locus, in every order they can lie.
pub(super) fn founders_at<W: Weight>(
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
            if (strands.iter().enumerate())
                .any(|(at, of)| line.is_gone(at, locus, pair(of), breeding.selection))
            {
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

/// The little pedigree with the meioses that matter on a chromosome.
fn line_along(breeding: &Breeding<'_>, chromosome: &Chromosome) -> Line {
    let alike = [breeding.mother, breeding.father].map(|parent| {
        let same = |locus: &LocusIx| parent.at(*locus).is_some_and(AtLocus::is_homozygous);
        chromosome.loci.iter().all(same)
    });
    Line::of(breeding.descent, alike)
}

/// Whether a chromosome is cheaper to work out plant by plant than locus by locus; the first grows with the loci,
/// the second with the generations. Pollen that competes is only known plant by plant.
fn is_block(breeding: &Breeding<'_>, chromosome: &Chromosome) -> Result<bool, ExpectError> {
    let competes = |locus: &LocusIx| pollen(breeding.selection, *locus).is_some();
    let plants = haplotypes::cells(breeding, chromosome)?;
    let strands = 2.0_f64.powi(line_along(breeding, chromosome).meioses.len() as i32);
    let block =
        chromosome.loci.len() == 1 || chromosome.loci.iter().any(competes) || plants < strands;
    match block {
        true => refuse_beyond(plants, plants * haplotypes::BYTES)?,
        false => refuse_beyond(strands, strands * STAND_BYTES)?,
    }
    Ok(block)
}

/// The steps that a chromosome takes, in whichever way is taken: a weight looked at once.
pub(super) fn steps_along(
    breeding: &Breeding<'_>,
    chromosome: &Chromosome,
) -> Result<f64, ExpectError> {
    Ok(match is_block(breeding, chromosome)? {
        true => haplotypes::cells(breeding, chromosome)?,
        false => {
            let meioses = line_along(breeding, chromosome).meioses.len() as i32;
            let steps = chromosome.loci.len() as f64 * f64::from(1 + meioses);
            2.0_f64.powi(meioses) * steps
        }
    })
}

/// Several loci of one chromosome, one after the other.
fn pass_linked<W: Weight>(
    breeding: &Breeding<'_>,
    models: &[&GeneModel],
    chromosome: &Chromosome,
    ahead: &[LocusIx],
    before: Sums<W>,
) -> Result<Option<Sums<W>>, ExpectError> {
    let fate = Fate::of(breeding, models);
    let line = line_along(breeding, chromosome);
    let stands = 1_usize << line.meioses.len();
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
        let pending = fate.pending(&behind);
        let mut next: BTreeMap<Open, Vec<W>> = BTreeMap::new();
        for (open, values) in &states {
            for (pair, weights) in &emission {
                let key = narrowed(open, &fate.step(&[*locus], &[*pair]), &pending);
                let sums = next
                    .entry(key)
                    .or_insert_with(|| vec![W::default(); stands]);
                for ((sum, value), weight) in sums.iter_mut().zip(values).zip(weights) {
                    let more = value.times(*weight).and_then(|more| sum.plus(more));
                    let Some(more) = more else { return Ok(None) };
                    *sum = more;
                }
            }
            check_size(next.len(), stands as f64, models)?;
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

/// Refuses more sets of open rules, each with so many weights, than are held at once.
fn check_size(states: usize, weights: f64, models: &[&GeneModel]) -> Result<(), ExpectError> {
    let states = states as f64;
    let bytes = states * (KEY_BYTES + 8.0 * models.len() as f64 + WEIGHT_BYTES * weights);
    refuse_beyond(states * weights, bytes)
}

/// Refuses what does not fit the memory stated.
fn refuse_beyond(cells: f64, bytes: f64) -> Result<(), ExpectError> {
    let megabytes = bytes / 1e6;
    match megabytes > MOST_MEGABYTES {
        true => Err(ExpectError::TooLarge { cells, megabytes }),
        false => Ok(()),
    }
}

/// Bytes of a set of open rules in a sorted map, beside 8 for each model.
const KEY_BYTES: f64 = 96.0;

/// Bytes of a stand of the meioses: a weight before and after a locus and in each of its genotypes.
const STAND_BYTES: f64 = 96.0;

/// Bytes of a weight.
const WEIGHT_BYTES: f64 = 16.0;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::genetics::descent::{Descent, Generation, Recurrent};
    use crate::genetics::recombination::Recombination;
    use crate::genetics::{Arrangement, Genotype, LocusBook, Parent};

    fn lowest(sums: Sums<u128>) -> Sums<u128> {
        let whole = sums
            .values()
            .fold(0, |g, n| crate::genetics::segregation::gcd(g, *n));
        let some = sums.into_iter().filter(|(_, n)| *n > 0);
        some.map(|(open, n)| (open, n / whole)).collect()
    }

    /// Two ways to one answer: along the chromosome with the meioses, and plant by plant with the haplotypes.
    #[test]
    fn locus_by_locus_is_plant_by_plant() {
        let mut book = LocusBook::new();
        let classes: Vec<String> = ["all", "ends", "ac", "rest"].map(str::to_owned).into();
        let rules = [
            ("A/a B/b C/c", "all"),
            ("A/A c/c", "ends"),
            ("a/a C/_", "ac"),
            ("else", "rest"),
        ];
        let model = GeneModel::build("m", &classes, &rules, &mut book).unwrap();
        let loci = model.loci().to_vec();
        let chromosome = Chromosome {
            loci: loci.clone(),
            steps: ["1/10:1/4", "1/5"]
                .map(|r| Recombination::parse(r).unwrap())
                .into(),
        };
        let arrangement = Arrangement::default();
        let mut parent = |text: &str| {
            let genotype = Genotype::parse(text, &mut book).unwrap();
            Parent::stated(&genotype, &loci, |_| Vec::new())
        };
        let pairs = [
            ("A/A B/B C/C", "a/a b/b c/c"),
            ("A|a b|B C/c", "A/a B/b c/c"),
            ("A/a B/b C/c", "a/a b|B C/c"),
        ];
        let pairs = pairs.map(|(mother, father)| (parent(mother), parent(father)));
        let dead = Selection::Dies(loci[1], Diploid::new(1, 1));
        let dropped = Selection::Dropped(loci[0], Diploid::new(0, 0));
        let selections = [vec![], vec![dead.clone()], vec![dead, dropped]];
        for (mother, father) in &pairs {
            for name in ["F1", "F2", "F3", "BC1", "BC1F2", "BC2", "DH"] {
                let generation: Generation = name.parse().unwrap();
                for selection in &selections {
                    let descent: Descent = generation.descent(Recurrent::Father);
                    let breeding = Breeding {
                        mother,
                        father,
                        descent: &descent,
                        arrangement: &arrangement,
                        selection,
                    };
                    let start = || Sums::<u128>::from([(vec![u64::MAX, LIVES], 1)]);
                    let along = pass_linked(&breeding, &[&model], &chromosome, &[], start());
                    let down = pass_block(&breeding, &[&model], &chromosome, &[], start());
                    let [along, down] = [along, down].map(|sums| lowest(sums.unwrap().unwrap()));
                    assert_eq!(along, down, "{name} {selection:?}");
                }
            }
        }
    }
}
