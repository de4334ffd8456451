//! What is wanted of a cross, as shares of its seed, and what makes a wish impossible.
//!
//! A target asks for classes of some of the models an expectation was formed for. Where parents and models come from
//! is not known here; the command `plan` forms them.

use crate::genetics::expect::{
    Breeding, ExpectError, Parent, Shares, breed, loci_read, open_phases,
};
use crate::genetics::genotype::Diploid;
use crate::genetics::linkage::Arrangement;
use crate::genetics::locus::{LocusBook, LocusIx};
use crate::genetics::rule::GeneModel;
use crate::genetics::segregation::{AtLocus, gcd};
use crate::stats::reach::Outcome;

/// Classes asked for: model and class, by place.
pub type Asks = Vec<(usize, usize)>;

/// Plants wanted of one kind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Target {
    /// What it is called: `green/hairy`.
    pub name: String,
    /// How many.
    pub want: u64,
    /// The classes it asks for.
    pub asks: Asks,
}

impl Target {
    fn fits(&self, classes: &[usize]) -> bool {
        self.asks
            .iter()
            .all(|(model, class)| classes[*model] == *class)
    }
}

/// A share of seed, exact where it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// The share.
    pub p: f64,
    /// Numerator and denominator in lowest terms.
    pub fraction: Option<(u128, u128)>,
}

/// The share of seed that fits all of some asks.
#[must_use]
pub fn share_of(shares: &Shares, asks: &[(usize, usize)]) -> Share {
    let fits = |classes: &[usize]| asks.iter().all(|(model, class)| classes[*model] == *class);
    let fraction = shares.exact.as_ref().map(|exact| {
        let hits = exact.classes.iter().filter(|(classes, _)| fits(classes));
        let n: u128 = hits.map(|(_, n)| n).sum();
        let common = gcd(n, exact.denominator);
        (n / common, exact.denominator / common)
    });
    let p = match fraction {
        Some((n, of)) => n as f64 / of as f64,
        None => {
            let hits = shares.classes.iter().filter(|(classes, _)| fits(classes));
            hits.map(|(_, p)| p).sum()
        }
    };
    Share { p, fraction }
}

/// The outcomes of one seed for some targets: a plant counts for every target that it fits. Each kind of plant once,
/// those that fit nothing left out.
#[must_use]
pub fn outcomes(shares: &Shares, targets: &[Target]) -> Vec<Outcome> {
    let mut found: Vec<Outcome> = Vec::new();
    for (classes, p) in &shares.classes {
        let fitted = targets
            .iter()
            .enumerate()
            .filter(|(_, one)| one.fits(classes));
        let counts_for: Vec<usize> = fitted.map(|(at, _)| at).collect();
        if counts_for.is_empty() || *p <= 0.0 {
            continue;
        }
        match found
            .iter_mut()
            .find(|known| known.counts_for == counts_for)
        {
            Some(known) => known.p += p,
            None => found.push(Outcome { p: *p, counts_for }),
        }
    }
    found
}

/// What the parents may be, with how likely that is.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// The probability; those of all pairs add up to 1.
    pub weight: f64,
    /// The mother.
    pub mother: Parent,
    /// The father.
    pub father: Parent,
}

/// Most pairs that are gone through.
pub const MOST_PAIRS: usize = 2_000;

/// Every pair of plants that the parents may be, genotype and phase: all seed of a cross has the same two, so what is not
/// known of them makes its seedlings alike. Nothing where there are too many.
#[must_use]
pub fn pairs(breeding: &Breeding<'_>) -> Option<Vec<Pair>> {
    let whole = Pair {
        weight: 1.0,
        mother: breeding.mother.clone(),
        father: breeding.father.clone(),
    };
    sorted_out(breeding, &[whole], every_kind).and_then(|all| phased(breeding, &all))
}

/// Some pairs with every way in which their linked alleles may lie, each way of a plant as likely as the others. A plant
/// that is both parents has one phase.
#[must_use]
pub fn phased(breeding: &Breeding<'_>, pairs: &[Pair]) -> Option<Vec<Pair>> {
    let arrangement = breeding.arrangement;
    sorted_out(breeding, pairs, |plant| every_phase(plant, arrangement))
}

/// Pairs of all plants that each parent may be.
fn sorted_out(
    breeding: &Breeding<'_>,
    pairs: &[Pair],
    every: impl Fn(&Parent) -> Option<Vec<(Parent, f64)>>,
) -> Option<Vec<Pair>> {
    let mut found = Vec::new();
    for pair in pairs {
        let mothers = every(&pair.mother)?;
        let fathers = match breeding.needs_father() {
            true => every(&pair.father)?,
            false => vec![(pair.father.clone(), 1.0)],
        };
        if found.len() + mothers.len() * fathers.len() > MOST_PAIRS {
            return None;
        }
        for (mother, p) in &mothers {
            found.extend(fathers.iter().map(|(father, q)| Pair {
                weight: pair.weight * p * q,
                mother: mother.clone(),
                father: father.clone(),
            }));
        }
    }
    Some(found)
}

/// A plant with every way in which its linked alleles may lie. Where the phase of some loci of a chromosome is known the
/// others lie either way to them; where that of none is, the first is held, for which strand is which makes no odds.
fn every_phase(plant: &Parent, arrangement: &Arrangement) -> Option<Vec<(Parent, f64)>> {
    let mut found = vec![plant.clone()];
    for loci in open_phases(plant, arrangement) {
        let unphased = |locus: &&LocusIx| matches!(plant.at(**locus), Some(AtLocus::Known(_)));
        let open: Vec<LocusIx> = loci.iter().filter(unphased).copied().collect();
        let held = usize::from(open.len() == loci.len());
        if found.len() << (open.len() - held) > MOST_PAIRS {
            return None;
        }
        for (place, locus) in open.into_iter().enumerate() {
            let turns: &[bool] = if place < held {
                &[false]
            } else {
                &[false, true]
            };
            let each = |plant: &Parent| {
                let turned: Vec<Parent> = turns
                    .iter()
                    .map(|turn| lying(plant, locus, *turn))
                    .collect();
                turned
            };
            found = found.iter().flat_map(each).collect();
        }
    }
    let each = 1.0 / found.len() as f64;
    Some(found.into_iter().map(|plant| (plant, each)).collect())
}

/// A plant with its two alleles of a locus on its strands as they are written, or the other way round.
fn lying(plant: &Parent, locus: LocusIx, is_turned: bool) -> Parent {
    let mut plant = plant.clone();
    if let Some(pair) = plant.at(locus).and_then(AtLocus::known) {
        let strands = match is_turned {
            false => [pair.a(), pair.b()],
            true => [pair.b(), pair.a()],
        };
        plant.loci.insert(locus, AtLocus::Phased(strands));
    }
    plant
}

/// What all pairs left out together may weigh: no digit that is shown.
const NEGLIGIBLE: f64 = 1e-9;

/// The likeliest of some pairs, all but a billionth of them, their weights adding up to 1 again; nothing where they are
/// too many.
#[must_use]
pub fn likeliest(mut all: Vec<Pair>) -> Option<Vec<Pair>> {
    all.sort_by(|one, other| other.weight.total_cmp(&one.weight));
    let total: f64 = all.iter().map(|pair| pair.weight).sum();
    let mut left = total;
    let mut kept: Vec<Pair> = Vec::new();
    for pair in all {
        if left <= NEGLIGIBLE * total {
            break;
        }
        left -= pair.weight;
        kept.push(pair);
    }
    let sum: f64 = kept.iter().map(|pair| pair.weight).sum();
    for pair in &mut kept {
        pair.weight /= sum;
    }
    (kept.len() <= MOST_PAIRS).then_some(kept)
}

/// Every plant that one may be, locus by locus.
fn every_kind(plant: &Parent) -> Option<Vec<(Parent, f64)>> {
    let mut found = vec![(plant.clone(), 1.0)];
    for (locus, at) in &plant.loci {
        let AtLocus::Weighted(weights) = at else {
            continue;
        };
        let with = |(plant, p): &(Parent, f64)| {
            let each = weights.iter().filter(|(_, q)| *q > 0.0).map(|(pair, q)| {
                let mut plant = plant.clone();
                plant.loci.insert(*locus, AtLocus::Known(*pair));
                (plant, p * q)
            });
            each.collect::<Vec<_>>()
        };
        found = found.iter().flat_map(with).collect();
        if found.len() > MOST_PAIRS {
            return None;
        }
    }
    Some(found)
}

/// The loci that make a target impossible: each one alone, for were both parents open there it could come. Where only
/// several together do, all loci read.
///
/// # Errors
/// [`ExpectError`].
pub fn blamed(
    breeding: &Breeding<'_>,
    models: &[&GeneModel],
    target: &Target,
    book: &LocusBook,
) -> Result<Vec<LocusIx>, ExpectError> {
    let asked: Vec<&GeneModel> = target
        .asks
        .iter()
        .map(|(model, _)| models[*model])
        .collect();
    let asks: Asks = target
        .asks
        .iter()
        .map(|(_, class)| *class)
        .enumerate()
        .collect();
    let read = loci_read(&asked);
    let mut found = Vec::new();
    for locus in &read {
        let (mother, father) = (
            opened(breeding.mother, *locus, book),
            opened(breeding.father, *locus, book),
        );
        let freed = Breeding {
            mother: &mother,
            father: &father,
            ..*breeding
        };
        if share_of(&breed(&freed, &asked)?, &asks).p > 0.0 {
            found.push(*locus);
        }
    }
    Ok(if found.is_empty() { read } else { found })
}

/// A plant that may be anything at a locus.
fn opened(plant: &Parent, locus: LocusIx, book: &LocusBook) -> Parent {
    let pairs = Diploid::all(book.get(locus).alleles.len());
    let each = 1.0 / pairs.len() as f64;
    let mut plant = plant.clone();
    let weights = pairs.into_iter().map(|pair| (pair, each)).collect();
    plant.loci.insert(locus, AtLocus::Weighted(weights));
    plant
}
