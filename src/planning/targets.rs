//! What is wanted of a cross, as shares of its seed, and what makes a wish impossible.
//!
//! A target asks for classes of some of the models an expectation was formed for. Where parents and models come from
//! is not known here; the command `plan` forms them.

use crate::genetics::expect::{Breeding, ExpectError, Parent, Shares, breed, loci_read};
use crate::genetics::genotype::Diploid;
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

/// Every pair of plants that the parents may be: all seed of a cross has the same two, so what is not known of them
/// makes its seedlings alike. Nothing where there are too many.
#[must_use]
pub fn pairs(breeding: &Breeding<'_>) -> Option<Vec<Pair>> {
    let mothers = every_kind(breeding.mother)?;
    let fathers = match breeding.needs_father() {
        true => every_kind(breeding.father)?,
        false => vec![(breeding.father.clone(), 1.0)],
    };
    if mothers.len() * fathers.len() > MOST_PAIRS {
        return None;
    }
    let with = |(mother, p): &(Parent, f64)| {
        let pair = |(father, q): &(Parent, f64)| Pair {
            weight: p * q,
            mother: mother.clone(),
            father: father.clone(),
        };
        fathers.iter().map(pair).collect::<Vec<_>>()
    };
    Some(mothers.iter().flat_map(with).collect())
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
