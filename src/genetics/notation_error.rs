//! What can be wrong with a written genotype, in words and with a pointer to the character.
//!
//! Made by the parser of genotypes and of rule patterns; the command line shows it.

use std::fmt;

use thiserror::Error;

use super::allele::SymbolFault;
use super::pointer::pointed;

/// What is wrong with a piece of a genotype.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum NotationFault {
    /// No locus at all.
    #[error("no locus is named")]
    Empty,
    /// A piece without `/` or `|`.
    #[error("a slash is missing: one allele or two?")]
    MissingSlash,
    /// A piece with more than one separator.
    #[error("a locus has two alleles, and this names more")]
    TooManyAlleles,
    /// Nothing stands on one side of the slash.
    #[error("an allele is missing beside the slash")]
    MissingAllele,
    /// `_/_`: it says nothing and belongs to no locus.
    #[error("both alleles are unknown, so it does not say which locus is meant")]
    NoAllele,
    /// An allele symbol that cannot be spelled so.
    #[error("{0}")]
    Symbol(SymbolFault),
    /// An allele that a known locus does not have.
    #[error("unknown allele {} of locus {locus} (it has {})", .allele.escape_debug(), .known.join(", "))]
    UnknownAllele {
        /// The allele as written.
        allele: String,
        /// The locus it was written at.
        locus: String,
        /// The alleles that the locus has.
        known: Vec<String>,
    },
    /// The two alleles belong to two loci.
    #[error("alleles of two loci are mixed: {} and {}", .0[0], .0[1])]
    MixedLoci(Box<[AlleleOf; 2]>),
    /// A locus is stated twice.
    #[error("locus {locus} is stated twice")]
    LocusTwice {
        /// The locus.
        locus: String,
    },
    /// A new locus whose second allele cannot be guessed.
    #[error(
        "{allele} is of no known locus, and without letters its partner allele cannot be guessed"
    )]
    NoTwin {
        /// The allele as written.
        allele: String,
    },
    /// `A|a` where nothing asks which parent an allele came from.
    #[error("a rule does not ask which parent an allele came from")]
    Phased,
}

/// An allele and the locus it belongs to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AlleleOf {
    /// The allele's symbol.
    pub allele: String,
    /// The locus's symbol.
    pub locus: String,
}

impl fmt::Display for AlleleOf {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} is of locus {}", self.allele, self.locus)
    }
}

/// A genotype, or a pattern of a rule, that cannot be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotationError {
    /// Where it went wrong: characters from the start of the text, counted from 0.
    pub at: usize,
    /// The piece between spaces that is meant.
    pub piece: String,
    /// What is wrong with it.
    pub fault: NotationFault,
}

impl NotationError {
    /// What to write instead.
    #[must_use]
    pub fn hint(&self) -> String {
        match &self.fault {
            NotationFault::Empty => "write two alleles per locus: A/a Pun1/pun1".into(),
            NotationFault::MissingSlash => self.slash_hint(),
            NotationFault::TooManyAlleles => "put a space between loci: A/a Pun1/pun1".into(),
            NotationFault::MissingAllele => "write _ for an allele that is not known: A/_".into(),
            NotationFault::NoAllele => "leave the locus out; what is not named is unknown".into(),
            NotationFault::Symbol(SymbolFault::Illegal(',' | ';', _)) => {
                "separate loci by spaces: A/a Pun1/pun1".into()
            }
            NotationFault::Symbol(_) => "give the allele a plain symbol, such as a or pun1".into(),
            NotationFault::UnknownAllele {
                allele,
                locus,
                known,
            } => unknown_allele_hint(allele, locus, known),
            NotationFault::MixedLoci(pair) => {
                format!(
                    "state them apart: {}/_ {}/_",
                    pair[0].allele, pair[1].allele
                )
            }
            NotationFault::LocusTwice { .. } => "state each locus once".into(),
            NotationFault::NoTwin { allele } => {
                format!(
                    "name both alleles, or first: locule locus set SYMBOL --alleles {allele},OTHER"
                )
            }
            NotationFault::Phased => "write a slash: A/a".into(),
        }
    }

    /// Two lines: the text, and under it a caret at the character that is meant. Control characters
    /// are shown as the replacement character.
    #[must_use]
    pub fn pointed(&self, text: &str) -> String {
        pointed(text, self.at)
    }

    fn slash_hint(&self) -> String {
        let mut signs = self.piece.chars();
        match (signs.next(), signs.next(), signs.next()) {
            (Some(one), Some(two), None) if one.is_alphabetic() && two.is_alphabetic() => {
                format!("write {one}/{two}")
            }
            _ => "write both alleles, A/a, or A/_ where the second is not known".into(),
        }
    }
}

impl fmt::Display for NotationError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.fault {
            NotationFault::Empty => self.fault.fmt(f),
            _ => write!(f, "\"{}\": {}", self.piece.escape_debug(), self.fault),
        }
    }
}

impl std::error::Error for NotationError {}

fn unknown_allele_hint(allele: &str, locus: &str, known: &[String]) -> String {
    let alike = known
        .iter()
        .find(|k| super::allele::same_but_for_case(k, allele));
    match alike {
        Some(_) if allele == locus && known.len() > 2 => format!(
            "write two of the alleles of {locus}, such as {}/{}; symbols are case-sensitive",
            known[0],
            known[known.len() - 1]
        ),
        Some(meant) => format!("allele symbols are case-sensitive: did you mean {meant}?"),
        None => {
            let listed = known.join(",");
            format!(
                "if it is a further allele: locule locus set {locus} --alleles {listed},{allele}"
            )
        }
    }
}
