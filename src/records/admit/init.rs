//! `init`: the built-in loci and traits become rows of a new ledger.

use super::desk::Desk;
use super::refusal::{Identity, Refusal};
use super::{Subject, traits};
use crate::genetics::{BENCH_TRAIT, LocusBook, catalogue};
use crate::records::genes::BENCH_SETTING;
use crate::records::rows::{AlleleRow, LocusRow, Table};

pub(super) fn begin(desk: &mut Desk) -> Result<Subject, Refusal> {
    if Table::ALL
        .iter()
        .any(|table| !desk.facts.all(*table).is_empty())
    {
        return Err(Identity::NotEmpty.into());
    }
    for locus in catalogue::loci() {
        let chromosome = locus.chromosome.map(|number| number.to_string());
        enter_locus(desk, locus.symbol, locus.alleles, chromosome);
    }
    let all = catalogue::traits();
    for spec in &all {
        let code = spec.code.parse().expect("the catalogue's codes are codes");
        traits::enter(desk, &code, spec, None);
    }
    desk.set(BENCH_SETTING, Some(BENCH_TRAIT.to_owned()));
    Ok(Subject::Ledger {
        traits: all.len(),
        loci: catalogue::loci().len(),
    })
}

/// Enters a locus and its alleles; gives its number.
pub(super) fn enter_locus<S: AsRef<str>>(
    desk: &mut Desk,
    symbol: &str,
    alleles: &[S],
    chromosome: Option<String>,
) -> i64 {
    let symbol = symbol.to_owned();
    let locus_id = desk.insert(|id| LocusRow {
        id,
        symbol,
        chromosome,
        at_cm: None,
    });
    for (ord, allele) in (0..).zip(alleles) {
        let symbol = allele.as_ref().to_owned();
        desk.insert(|id| AlleleRow {
            id,
            locus_id,
            symbol,
            ord,
            share: None,
        });
    }
    locus_id
}

/// Enters the loci that a genotype or rule met first; gives their symbols.
pub(super) fn enter_new_loci(desk: &mut Desk, book: &LocusBook, known: usize) -> Vec<String> {
    let mut symbols = Vec::new();
    for (_, locus) in book.since(known) {
        enter_locus(desk, &locus.symbol, &locus.alleles, None);
        symbols.push(locus.symbol.clone());
    }
    symbols
}
