//! Saving seed instead of growing on: pot a few plants that show the early look, self each, and find what is wanted
//! among their seedlings the year after.
//!
//! What a plant's seed throws depends on what it carries, so every genotype that a passing plant may have is gone
//! through. Only for loci that are not linked: between linked ones it would depend on the phase, too. Asked by
//! `plan seeds`.

use crate::genetics::descent::Descent;
use crate::genetics::expect::{Breeding, ExpectError, Parent, breed, loci_read};
use crate::genetics::genotype::Diploid;
use crate::genetics::locus::{LocusBook, LocusIx};
use crate::genetics::rule::GeneModel;
use crate::genetics::segregation::AtLocus;
use crate::stats::crossing::crossing;
use crate::stats::logs::ln_binomial;
use crate::stats::tails::binomial_tails;

use super::f1_plants::times;
use super::seeds::Sowing;
use super::targets::share_of;

/// Most genotypes that are gone through.
const MOST_GENOTYPES: usize = 729;

/// Most plants of a kind wanted for which it is worked out, that an answer takes no longer than half a second.
const MOST_WANTED: u64 = 50;

/// Most plants that are selfed.
pub const MOST_PLANTS: u64 = 24;

/// Most seeds that are thought of, this year or of each plant the next.
const MOST_SEEDS: u64 = 4_096;

/// A kind of plant that passes, and what its selfed seed gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Family {
    /// The share of such plants among those that pass.
    pub share: f64,
    /// The share of its seedlings that are wanted.
    pub wanted: f64,
    /// The share of its seedlings that show the early look.
    pub pass: f64,
}

/// Seed saved this year, found the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NextYear {
    /// Seeds to sow this year.
    pub seeds: u64,
    /// Plants that pass to pot and self this year.
    pub plants: u64,
    /// Seeds to sow of each next year.
    pub seeds_each: u64,
    /// How many of those pass and are potted, on average.
    pub pots: f64,
    /// The chance that enough are found, at least.
    pub chance: f64,
}

/// The kinds of plants that show an early look, none where no seedling does; nothing where loci are linked, or there are
/// too many genotypes.
///
/// # Errors
/// [`ExpectError`].
pub fn families(
    breeding: &Breeding<'_>,
    models: &[&GeneModel],
    wanted: &[(usize, usize)],
    marker: &[(usize, usize)],
    book: &LocusBook,
) -> Result<Option<Vec<Family>>, ExpectError> {
    let loci = loci_read(models);
    let linked = |loci: &Vec<LocusIx>| loci.len() > 1;
    if breeding
        .arrangement
        .chromosomes
        .iter()
        .any(|one| linked(&one.loci))
    {
        return Ok(None);
    }
    let Some(plants) = every_plant(breeding, &loci, book)? else {
        return Ok(None);
    };
    let mut found: Vec<Family> = Vec::new();
    let descent = Descent::self_of_mother();
    for (plant, p) in plants {
        if !shows(models, marker, &plant) {
            continue;
        }
        let selfed = Breeding {
            mother: &plant,
            father: &plant,
            descent: &descent,
            ..*breeding
        };
        let shares = breed(&selfed, models)?;
        let (wanted, pass) = (share_of(&shares, wanted).p, share_of(&shares, marker).p);
        let alike = |known: &&mut Family| known.wanted == wanted && known.pass == pass;
        match found.iter_mut().find(alike) {
            Some(known) => known.share += p,
            None => found.push(Family {
                share: p,
                wanted,
                pass,
            }),
        }
    }
    let all: f64 = found.iter().map(|family| family.share).sum();
    found.iter_mut().for_each(|family| family.share /= all);
    Ok(Some(found))
}

/// Whether a plant shows the classes asked for.
fn shows(models: &[&GeneModel], asks: &[(usize, usize)], plant: &Parent) -> bool {
    asks.iter().all(|(model, class)| {
        let model = models[*model];
        let at = |locus: &LocusIx| plant.at(*locus).and_then(AtLocus::known);
        let genotype: Option<Vec<Diploid>> = model.loci().iter().map(at).collect();
        genotype.is_some_and(|pairs| model.class_of(&pairs, plant.cytoplasm) == *class)
    })
}

/// Every genotype that the seedlings may have, with its probability: loci that are not linked go their own ways.
fn every_plant(
    breeding: &Breeding<'_>,
    loci: &[LocusIx],
    book: &LocusBook,
) -> Result<Option<Vec<(Parent, f64)>>, ExpectError> {
    let start = Parent {
        cytoplasm: breeding.mother.cytoplasm,
        ..Parent::default()
    };
    let mut plants = vec![(start, 1.0)];
    for locus in loci {
        let Some(at) = genotypes_at(breeding, *locus, book)? else {
            return Ok(None);
        };
        let with = |(plant, p): &(Parent, f64)| {
            let more = at.iter().map(|(pair, q)| {
                let mut plant = plant.clone();
                plant.loci.insert(*locus, AtLocus::Known(*pair));
                (plant, p * q)
            });
            more.collect::<Vec<_>>()
        };
        plants = plants.iter().flat_map(with).collect();
        if plants.len() > MOST_GENOTYPES {
            return Ok(None);
        }
    }
    Ok(Some(plants))
}

/// The genotypes that the seedlings may have at one locus.
fn genotypes_at(
    breeding: &Breeding<'_>,
    locus: LocusIx,
    book: &LocusBook,
) -> Result<Option<Vec<(Diploid, f64)>>, ExpectError> {
    let known = book.get(locus);
    let pairs = Diploid::all(known.alleles.len());
    let classes: Vec<String> = pairs.iter().map(|pair| pair.written(known)).collect();
    let rules: Vec<(&String, &String)> = classes.iter().map(|text| (text, text)).collect();
    let Ok(model) = GeneModel::build("genotypes", &classes, &rules, &mut book.clone()) else {
        return Ok(None);
    };
    let shares = breed(breeding, &[&model])?;
    let came = shares.classes.iter().filter(|(_, p)| *p > 0.0);
    Ok(Some(
        came.map(|(classes, p)| (pairs[classes[0]], *p)).collect(),
    ))
}

/// What the parents may be: how likely, how many of the seedlings pass, and what those are.
#[derive(Debug, Clone, PartialEq)]
pub struct Passing {
    /// How likely the parents are so.
    pub weight: f64,
    /// The share of true seedlings that pass.
    pub pass: f64,
    /// What those that pass are.
    pub families: Vec<Family>,
}

/// The cheapest plan in plants potted over both years, by how many are selfed; nothing where none reaches the
/// confidence.
///
/// Seeds this year: the fewest with which so many pass with the square root of the confidence. Seeds of each next year:
/// the fewest so that both together, plants there and enough found, have the confidence. Off-types pass and are potted as
/// often as true seedlings. Where fewer pass than are wanted for selfing, nothing is counted as found.
#[must_use]
pub fn next_year(
    cases: &[Passing],
    sowing: &Sowing,
    want: u64,
    most_plants: u64,
    confidence: f64,
) -> Option<NextYear> {
    if want > MOST_WANTED {
        return None;
    }
    let off = sowing.off_share;
    let years = sowing.germination.nodes(NODES);
    let cases: Vec<(f64, f64, &Passing, Vec<Family>)> = years
        .iter()
        .flat_map(|(v, come)| {
            let with = |one| (*v, *come, one, potted(one, off));
            cases.iter().map(with)
        })
        .map(|(v, come, one, families): (f64, f64, &Passing, _)| {
            (v * one.weight, come, one, families)
        })
        .collect();
    let there = |plants: u64, seeds: u64, come: f64, one: &Passing| {
        binomial_tails(plants, seeds, (come * one.pass).min(1.0)).0
    };
    let plans = (1..=most_plants.min(MOST_PLANTS)).filter_map(|plants| {
        let come_up = |seeds: u64| -> f64 {
            let of = |(weight, come, one, _): &(f64, f64, &Passing, _)| {
                weight * there(plants, seeds, *come, one)
            };
            cases.iter().map(of).sum()
        };
        let seeds = fewest(|n| come_up(n) >= confidence.sqrt())?;
        let found = |n: u64| -> f64 {
            let of = |(weight, come, one, families): &(f64, f64, &Passing, Vec<Family>)| {
                let found = found_chance(families, *come, plants, n, want);
                weight * there(plants, seeds, *come, one) * found
            };
            cases.iter().map(of).sum()
        };
        let seeds_each = fewest(|n| found(n) >= confidence)?;
        let passing: f64 = cases
            .iter()
            .map(|(weight, come, _, families)| {
                let share: f64 = families.iter().map(|kind| kind.share * kind.pass).sum();
                weight * come * share
            })
            .sum();
        Some(NextYear {
            seeds,
            plants,
            seeds_each,
            pots: (plants * seeds_each) as f64 * passing,
            chance: found(seeds_each),
        })
    });
    plans.min_by(|a, b| {
        let grown = |plan: &NextYear| plan.plants as f64 + plan.pots;
        grown(a).total_cmp(&grown(b))
    })
}

/// The fewest seeds that are enough; more never find less.
fn fewest(enough: impl Fn(u64) -> bool) -> Option<u64> {
    if !enough(MOST_SEEDS) {
        return None;
    }
    Some(crossing(0, MOST_SEEDS, enough))
}

/// Nodes by which a germination known from counts is averaged over.
const NODES: usize = 12;

/// What the plants that are potted may be: those of the label, and off-types, which pass as often, throw as many that
/// pass, and none that is wanted.
fn potted(one: &Passing, off_share: f64) -> Vec<Family> {
    let of_label = one.families.iter().map(|family| Family {
        share: family.share * (1.0 - off_share),
        ..*family
    });
    let off = Family {
        share: off_share,
        wanted: 0.0,
        pass: one.families.iter().map(|kind| kind.share * kind.pass).sum(),
    };
    of_label.chain((off_share > 0.0).then_some(off)).collect()
}

/// P(at least `want` wanted seedlings among `n` seeds of each of so many plants): of one plant the mixture over what it
/// may be, of several the convolution.
fn found_chance(families: &[Family], come: f64, plants: u64, n: u64, want: u64) -> f64 {
    let most = want.min(n + 1) as usize;
    let of = |j: usize| -> f64 {
        let by = |one: &Family| one.share * chance_of(j as u64, n, come * one.wanted);
        families.iter().map(by).sum()
    };
    let one: Vec<f64> = (0..most).map(of).collect();
    1.0 - times(&one, plants, want).iter().sum::<f64>()
}

fn chance_of(j: u64, n: u64, p: f64) -> f64 {
    match p {
        _ if p <= 0.0 => f64::from(u8::from(j == 0)),
        _ if p >= 1.0 => f64::from(u8::from(j == n)),
        _ => ln_binomial(j, n, p).exp(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Plants with the recessive look of one gene carry another recessive twice, once or not at all as 1:2:1, and their
    /// seed then has all, a quarter or none of it: two plants, three seeds each,
    /// `1 - (1/4 + 1/2 (3/4)^3)^2`.
    #[test]
    fn carriers_are_weighed_by_what_they_carry() {
        let family = |share, wanted| Family {
            share,
            wanted,
            pass: 1.0,
        };
        let families = [family(0.25, 0.0), family(0.5, 0.25), family(0.25, 1.0)];
        let none: f64 = 0.25 + 0.5 * 0.75_f64.powi(3);
        let found = found_chance(&families, 1.0, 2, 3, 1);
        assert!((found - (1.0 - none * none)).abs() < 1e-14);
        // Two wanted of two plants: neither none nor exactly one.
        let one = 0.5 * 3.0 * 0.25 * 0.75_f64.powi(2);
        let two = found_chance(&families, 1.0, 2, 3, 2);
        assert!((two - (1.0 - none * none - 2.0 * none * one)).abs() < 1e-14);
    }
}
