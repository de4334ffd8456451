//! What is typed of linkage, and what cannot be computed, in words.
//!
//! Called by `expect` and `linkage`.

use std::str::FromStr;

use crate::cli::failure::Failure;
use crate::genetics::expect::{ExpectError, Parent, open_phases};
use crate::genetics::fraction::rounded;
use crate::genetics::linkage::{Arrangement, LinkageError, LinkageMap};
use crate::genetics::locus::{LocusBook, LocusIx};
use crate::genetics::recombination::Recombination;
use crate::records::admit::Remedy;
use crate::records::near::nearest;
use crate::report::text::{listed, shown};

/// A recombination fraction as typed with `--recombines`: two loci and the fraction.
#[derive(Debug, Clone, PartialEq)]
pub struct Recombines {
    /// The symbols of the loci.
    pub loci: [String; 2],
    /// How often they are parted.
    pub r: Recombination,
}

impl FromStr for Recombines {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let form = || {
            "write two loci and a fraction, A,B=0.12, or one for mothers and one for fathers, A,B=0.1:0.3"
                .to_owned()
        };
        let (pair, r) = text.split_once('=').ok_or_else(form)?;
        let (one, other) = pair.split_once(',').ok_or_else(form)?;
        let loci = [one.trim().to_owned(), other.trim().to_owned()];
        let r = Recombination::parse(r).map_err(|error| error.to_string())?;
        if loci.iter().any(String::is_empty) || loci[0] == loci[1] {
            return Err(form());
        }
        Ok(Self { loci, r })
    }
}

/// The locus of a symbol typed with a flag.
///
/// # Errors
/// [`Failure`] naming the nearest.
pub fn locus_typed(flag: &'static str, symbol: &str, book: &LocusBook) -> Result<LocusIx, Failure> {
    book.find(symbol).ok_or_else(|| {
        let known = book.iter().map(|(_, locus)| locus.symbol.as_str());
        let near = nearest(symbol, known);
        let failure = Failure::refused(format!("{flag}: there is no locus '{}'", shown(symbol)));
        let failure = match near.is_empty() {
            true => failure,
            false => failure.because(format!("the nearest: {}", near.join(", "))),
        };
        failure.try_remedy(Remedy::Without(flag))
    })
}

/// Adds what was typed to a map; it goes before what is recorded.
///
/// # Errors
/// [`Failure`] where a locus is not known or the two are on different chromosomes.
pub fn add_typed(
    map: &mut LinkageMap,
    typed: &[Recombines],
    book: &LocusBook,
) -> Result<(), Failure> {
    for Recombines { loci, r } in typed {
        let one = locus_typed("--recombines", &loci[0], book)?;
        let other = locus_typed("--recombines", &loci[1], book)?;
        map.measure(one, other, *r, book)
            .map_err(|error| unsorted(&error))?;
    }
    Ok(())
}

/// Loci that cannot be sorted into chromosomes.
pub fn unsorted(error: &LinkageError) -> Failure {
    let failure = Failure::refused(error.to_string());
    match error {
        LinkageError::TooFar { .. } => failure
            .because("loci in a row are never parted more often than their steps add up to")
            .try_remedy(Remedy::Without("--recombines")),
        LinkageError::Order(_) => failure
            .because("name the recombination of each with its neighbour, or their places in centimorgans")
            .try_typing("locule locus set A --chromosome 10 --at 33"),
        LinkageError::Apart { .. } => failure.try_remedy(Remedy::Without("--recombines")),
        LinkageError::Phase { one, .. } => failure
            .because(format!(
                "write {one} with a slash; the bar says which alleles came together on one chromosome"
            ))
            .try_typing("locule expect --mother 'A/a Pun1/pun1' --father 'a/a Pun1/pun1'"),
    }
}

/// An expectation that cannot be formed.
pub fn unexpected(error: &ExpectError) -> Failure {
    let failure = Failure::refused(error.to_string());
    match error {
        ExpectError::Linkage(error) => unsorted(error),
        ExpectError::TooLarge { .. } => failure
            .because("ask about fewer traits or loci at once, or an earlier generation")
            .try_typing("locule expect --help"),
        ExpectError::TooManyPairs { .. } => failure
            .because("state the parents' genotypes at those loci, or fewer conditions")
            .try_typing("locule expect --help"),
        ExpectError::NoneLive => failure.try_remedy(Remedy::Without("--lethal")),
        ExpectError::LocusMissing(_) => failure.try_typing("locule expect --help"),
    }
}

/// How the loci of a question lie, in words for its answer.
#[derive(Debug, Default)]
pub struct Lie {
    /// Neighbours and their recombination: `A and B at 0.12`.
    pub linked: Vec<String>,
    /// Parents whose phase is not known: `the mother at A and B`.
    pub phase_open: Vec<String>,
    /// Pairs on one chromosome without a distance: `A and H`.
    pub distance_open: Vec<String>,
    /// Measured pairs that the steps between them overrule.
    pub overruled: Vec<String>,
}

impl Lie {
    /// Of some loci, and of the parents by name.
    #[must_use]
    pub fn of(arrangement: &Arrangement, parents: &[(&str, &Parent)], book: &LocusBook) -> Self {
        let symbol = |locus: &LocusIx| book.get(*locus).symbol.clone();
        let pair =
            |one: &LocusIx, other: &LocusIx| format!("{} and {}", symbol(one), symbol(other));
        let mut lie = Self::default();
        for chromosome in &arrangement.chromosomes {
            let pairs = chromosome.loci.windows(2).zip(&chromosome.steps);
            let line = |(loci, r): (&[LocusIx], &Recombination)| {
                format!("{} at {r}", pair(&loci[0], &loci[1]))
            };
            lie.linked.extend(pairs.map(line));
        }
        for (who, plant) in parents {
            for loci in open_phases(plant, arrangement) {
                let symbols: Vec<String> = loci.iter().map(symbol).collect();
                lie.phase_open
                    .push(format!("{who} at {}", listed(&symbols, "and")));
            }
        }
        let open = arrangement.open.iter();
        lie.distance_open = open.map(|(one, other)| pair(one, other)).collect();
        let overruled = arrangement.overruled.iter();
        let line = |(one, other, r, between): &(LocusIx, LocusIx, Recombination, f64)| {
            let between = rounded(*between);
            format!(
                "{} at {r} (the steps between give {between})",
                pair(one, other)
            )
        };
        lie.overruled = overruled.map(line).collect();
        lie
    }
}
