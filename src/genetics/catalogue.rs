//! The built-in pepper genes and traits.
//!
//! Every new ledger starts from these: loci with their alleles, and the traits that breeders of pepper
//! score, each with its gene models, its source and how far that can be trusted. Rival explanations of
//! one look are models of one trait. No distance between two loci is given, since none was found in
//! print. The data stand in two tables; this file turns them into types. Called when a ledger is made
//! and where a question needs no ledger.

use super::catalogue_loci::LOCI;
use super::catalogue_traits::TRAITS;
use super::linkage::{LinkageMap, Place};
use super::locus::LocusBook;
use super::traits::{ClassSpec, ModelSpec, Onset, Stage, Standing, TraitSpec, USUAL_MISREAD};

/// The code of the trait that a bare class word belongs to first.
pub const BENCH_TRAIT: &str = "foliage";

/// A locus of the catalogue.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CatalogueLocus {
    /// Its id, such as `capsicum:Pun1`.
    pub id: &'static str,
    /// Its symbol.
    pub symbol: &'static str,
    /// Its alleles, dominant first.
    pub alleles: &'static [&'static str],
    /// Its chromosome, where known.
    pub chromosome: Option<u8>,
    /// What it does.
    pub effect: &'static str,
    /// Where this comes from.
    pub source: &'static str,
    /// How far it can be trusted.
    pub standing: Standing,
}

/// Pattern and class of a rule.
pub(super) type RuleEntry = (&'static str, &'static str);

/// A gene model of the catalogue.
pub(super) struct ModelEntry {
    pub(super) name: &'static str,
    pub(super) rules: &'static [RuleEntry],
    pub(super) standing: Standing,
    pub(super) source: &'static str,
}

/// A trait of the catalogue; its first model is in use.
pub(super) struct TraitEntry {
    pub(super) code: &'static str,
    pub(super) name: &'static str,
    pub(super) organ: &'static str,
    pub(super) stage: Stage,
    pub(super) classes: &'static [&'static str],
    /// The class that all other classes show after, if they are late.
    pub(super) late_after: Option<&'static str>,
    pub(super) models: &'static [ModelEntry],
    pub(super) on: bool,
    pub(super) note: &'static str,
}

/// When purple comes to young leaves. No age is published: a design choice, to be replaced by a fit to
/// the grower's own trays.
pub const FOLIAGE_ONSET: Onset = Onset {
    median_days: 12.0,
    spread: 0.35,
    ceiling: 0.9999,
};

/// The loci of the catalogue.
#[must_use]
pub fn loci() -> &'static [CatalogueLocus] {
    LOCI
}

/// A book that holds the loci of the catalogue.
#[must_use]
pub fn book() -> LocusBook {
    let mut book = LocusBook::new();
    for locus in LOCI {
        let entered = book.declare(locus.symbol, locus.alleles);
        entered.expect("the symbols of the catalogue are well spelled and no two are the same");
    }
    book
}

/// The chromosomes of the catalogue's loci in a book that holds them; no distance is known of any.
#[must_use]
pub fn places(book: &LocusBook) -> LinkageMap {
    let mut map = LinkageMap::default();
    for entry in LOCI {
        let (Some(locus), Some(chromosome)) = (book.find(entry.symbol), entry.chromosome) else {
            continue;
        };
        let chromosome = chromosome.to_string();
        map.place(
            locus,
            Place {
                chromosome,
                at: None,
            },
        );
    }
    map
}

/// The traits of the catalogue, in order.
#[must_use]
pub fn traits() -> Vec<TraitSpec> {
    TRAITS.iter().map(spell_out).collect()
}

fn spell_out(entry: &TraitEntry) -> TraitSpec {
    let class = |name: &&str| ClassSpec {
        name: (*name).to_owned(),
        after: entry
            .late_after
            .filter(|early| early != name)
            .map(str::to_owned),
        misread: None,
    };
    let models = entry.models.iter().enumerate().map(|(i, model)| ModelSpec {
        name: model.name.to_owned(),
        rules: model
            .rules
            .iter()
            .map(|(p, c)| ((*p).to_owned(), (*c).to_owned()))
            .collect(),
        in_use: i == 0,
        standing: model.standing,
        source: model.source.to_owned(),
    });
    TraitSpec {
        code: entry.code.to_owned(),
        name: entry.name.to_owned(),
        organ: entry.organ.to_owned(),
        stage: entry.stage,
        classes: entry.classes.iter().map(class).collect(),
        misread: USUAL_MISREAD,
        onset: entry.late_after.map(|_| FOLIAGE_ONSET),
        models: models.collect(),
        on: entry.on,
        note: entry.note.to_owned(),
    }
}
