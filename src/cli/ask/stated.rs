//! What is stated of the parents asked about, and what is left open.
//!
//! Reads genotypes as typed; finds the parents of a cross. `expect` and `linkage` ask.

use crate::cli::failure::Failure;
use crate::diagnosis::context::Context;
use crate::genetics::locus::{LocusBook, LocusIx};
use crate::genetics::notation::{Genotype, NotationError, StatedLocus};
use crate::genetics::rule::{Cytoplasm, split_cytoplasm};
use crate::records::facts::Facts;

use super::thing::{find, seed_parents};

/// What two genotypes state at loci that are not read, each once.
pub fn ignored(book: &LocusBook, loci: &[LocusIx], genotypes: [&Genotype; 2]) -> Vec<String> {
    let stated = genotypes.into_iter().flat_map(|genotype| &genotype.loci);
    let mut found: Vec<String> = Vec::new();
    for at in stated.filter(|at| !loci.contains(&at.locus)) {
        let written = at.written(book);
        if !found.contains(&written) {
            found.push(written);
        }
    }
    found
}

/// The loci of which two genotypes leave something open, by parent.
pub fn open_loci(
    book: &LocusBook,
    loci: &[LocusIx],
    mother: &Genotype,
    father: &Genotype,
) -> Vec<String> {
    let open = |who: &'static str, genotype: &Genotype| {
        let open = loci.iter().filter(|locus| {
            genotype
                .at(**locus)
                .and_then(StatedLocus::diploid)
                .is_none()
        });
        open.map(|locus| format!("{who} at {}", book.get(*locus).symbol))
            .collect::<Vec<_>>()
    };
    [open("the mother", mother), open("the father", father)].concat()
}

/// The loci of which nothing is known for certain, by parent.
pub fn not_stated(
    context: &Context<'_>,
    facts: &Facts,
    loci: &[LocusIx],
    parents: (i64, i64),
) -> Vec<String> {
    let mut plants = vec![parents.0, parents.1];
    plants.dedup();
    let mut found = Vec::new();
    for plant in plants {
        let code = facts.label_of_plant(plant);
        for locus in loci {
            let sure = context
                .plants
                .at_word(plant, *locus)
                .iter()
                .filter(|p| **p > 0.0)
                .count()
                == 1;
            if !sure {
                found.push(format!(
                    "{code} at {}",
                    context.looks.book.get(*locus).symbol
                ));
            }
        }
    }
    found
}

/// The label and the parents of a cross, of a tray, or of a parent's packet.
///
/// # Errors
/// [`Failure`] where it names something else.
pub fn parents_of(facts: &Facts, typed: &str) -> Result<(String, (i64, i64)), Failure> {
    let found = find(facts, typed)?;
    seed_parents(facts, &found)
        .map(|parents| (found.label.clone(), parents))
        .ok_or_else(|| {
            Failure::refused(format!(
                "{} is a {}, not a cross or tray",
                found.label, found.thing
            ))
            .try_typing("locule expect X1")
        })
}

/// A genotype and the cytoplasm named with it, `Rf/rf cytoplasm:sterile`.
///
/// # Errors
/// [`Failure`] with a caret at the character meant.
pub fn read_genotype(
    flag: &str,
    text: &str,
    book: &mut LocusBook,
) -> Result<(Genotype, Cytoplasm), Failure> {
    let (cytoplasm, loci) = split_cytoplasm(text).map_err(|fault| {
        Failure::usage(format!("{flag}: {fault}"))
            .try_typing("locule expect --mother 'Rf/rf cytoplasm:sterile' --father Rf/rf --rule 'cytoplasm:normal => fertile' --rule 'Rf/_ => fertile' --rule 'else => sterile'")
    })?;
    let genotype =
        Genotype::parse(&loci, book).map_err(|error| bad_genotype(flag, text, &error))?;
    Ok((genotype, cytoplasm.unwrap_or_default()))
}

/// A genotype that cannot be read, with a caret at the character meant.
pub fn bad_genotype(place: &str, text: &str, error: &NotationError) -> Failure {
    let mut failure = Failure::usage(format!("{place}: {error}"));
    for line in error.pointed(text).lines() {
        failure = failure.because(line);
    }
    failure.because(error.hint()).try_typing(
        "locule expect --mother 'A/a Pun1/pun1' --father 'a/a Pun1/Pun1' --trait foliage",
    )
}
