//! `locus set`: alleles, place, shares and measured recombination.

use super::Subject;
use super::desk::Desk;
use super::init::enter_locus;
use super::refusal::{GeneRefusal, Refusal, Remedy};
use crate::genetics::allele::{case_twin, check_symbol, dominant_first};
use crate::genetics::{Genotype, LocusError};
use crate::records::entry::LocusFacts;
use crate::records::facts::Facts;
use crate::records::genes::{Loci, alleles_of, locus_named, models_of, read_number, trait_spec};
use crate::records::near::nearest;
use crate::records::rows::{AlleleRow, LocusRow, RecombinationRow, Thing};
use crate::records::text::{self, shown};

/// Longest name of a chromosome, in characters.
const CHROMOSOME_MAX: usize = 24;

/// The ledger's loci; what the ledger holds went through this gate.
pub(super) fn loci_of(facts: &Facts) -> Result<Loci, Refusal> {
    Ok(Loci::of(facts)?)
}

pub(super) fn set(desk: &mut Desk, entry: &LocusFacts) -> Result<Subject, Refusal> {
    check_symbol(&entry.symbol).map_err(|fault| {
        let message = format!("'{}' cannot be a locus: {fault}", shown(&entry.symbol));
        unfit(&entry.symbol, message)
    })?;
    let known = locus_named(desk.facts, &entry.symbol).cloned();
    let alleles = match (&known, &entry.alleles) {
        (None, stated) => Some(new_alleles(desk.facts, &entry.symbol, stated.as_deref())?),
        (Some(locus), Some(stated)) => {
            check_further(desk.facts, locus, stated)?;
            Some(stated.clone())
        }
        (Some(_), None) => None,
    };
    let symbols = alleles.clone().unwrap_or_else(|| {
        let rows = known
            .iter()
            .flat_map(|locus| alleles_of(desk.facts, locus.id));
        rows.map(|row| row.symbol.clone()).collect()
    });
    check_shares(desk.facts, entry, &symbols)?;
    if let Some(known) = &known {
        check_place(desk.facts, entry, known)?;
    }
    let (new, locus) = enter(desk, entry, known.as_ref(), &symbols)?;
    for (other, r) in &entry.recombines {
        recombine(desk, locus, entry, other, r)?;
    }
    if desk.is_blank() && said_nothing(entry) {
        return Err(GeneRefusal::NothingSaid(entry.symbol.clone()).into());
    }
    Ok(Subject::Locus { locus, new })
}

fn said_nothing(entry: &LocusFacts) -> bool {
    entry.alleles.is_none()
        && entry.chromosome.is_none()
        && entry.at.is_none()
        && entry.shares.is_empty()
        && entry.recombines.is_empty()
}

/// The alleles of a locus met for the first time, checked against all others.
fn new_alleles(
    facts: &Facts,
    symbol: &str,
    stated: Option<&[String]>,
) -> Result<Vec<String>, Refusal> {
    let alleles = match stated {
        Some(stated) => stated.to_vec(),
        None => {
            let twin = case_twin(symbol)
                .ok_or_else(|| unfit(symbol, format!("locus {symbol} needs its alleles named")))?;
            dominant_first(symbol.to_owned(), twin).to_vec()
        }
    };
    let mut loci = loci_of(facts)?;
    let entered = loci.book.declare(symbol, &alleles);
    entered.map_err(|error| unfit(symbol, error.to_string()))?;
    Ok(alleles)
}

/// Lets alleles be added, anywhere in the order, and lets those of an unused locus be listed anew.
fn check_further(facts: &Facts, locus: &LocusRow, stated: &[String]) -> Result<(), Refusal> {
    let mut loci = loci_of(facts)?;
    let ix = loci.book.find(&locus.symbol).expect("the locus is a row");
    let old = loci.book.get(ix).alleles.clone();
    let user = user_of(facts, &locus.symbol)?;
    let redeclared = loci.book.redeclare(ix, stated);
    redeclared.map_err(|error| unfit(&locus.symbol, error.to_string()))?;
    let kept: Vec<&String> = stated
        .iter()
        .filter(|symbol| old.contains(symbol))
        .collect();
    let in_order = kept.into_iter().eq(old.iter());
    if let Some(by) = user
        && !in_order
    {
        let (locus, old) = (locus.symbol.clone(), old.join(","));
        return Err(GeneRefusal::AllelesUsed { locus, by, old }.into());
    }
    check_models(facts, &mut loci)
}

/// What uses a locus: a stated genotype, or a rule of a trait.
fn user_of(facts: &Facts, symbol: &str) -> Result<Option<String>, Refusal> {
    let mut loci = loci_of(facts)?;
    let ix = loci.book.find(symbol).expect("the locus is a row");
    for statement in &facts.statement {
        let read = Genotype::parse(&statement.genotype, &mut loci.book);
        if read.is_ok_and(|genotype| genotype.at(ix).is_some()) {
            let plant = super::find::label(facts, statement.plant_id);
            return Ok(Some(format!("the genotype of {plant}")));
        }
    }
    for row in &facts.trait_ {
        let Some(spec) = trait_spec(facts, row.id)? else {
            continue;
        };
        let Ok(models) = spec.check(&mut loci.book) else {
            continue;
        };
        if models.iter().any(|model| model.loci().contains(&ix)) {
            return Ok(Some(format!("the trait {}", spec.code)));
        }
    }
    Ok(None)
}

/// Every model must still give every genotype a class.
fn check_models(facts: &Facts, loci: &mut Loci) -> Result<(), Refusal> {
    for row in &facts.trait_ {
        let Some(spec) = trait_spec(facts, row.id)? else {
            continue;
        };
        if models_of(facts, row.id).is_empty() {
            continue;
        }
        spec.check(&mut loci.book).map_err(|error| {
            let of = facts
                .code_of(Thing::Trait, row.id)
                .unwrap_or("?")
                .to_owned();
            let hint = format!("locule show {of}");
            GeneRefusal::Trait {
                of,
                message: error.to_string(),
                hint,
            }
        })?;
    }
    Ok(())
}

/// Checks the shares typed together with those stated before.
fn check_shares(facts: &Facts, entry: &LocusFacts, symbols: &[String]) -> Result<(), Refusal> {
    let locus = &entry.symbol;
    for (allele, typed) in &entry.shares {
        if !symbols.contains(allele) {
            let message = format!(
                "locus {locus} has no allele '{}'; it has {}",
                shown(allele),
                symbols.join(", ")
            );
            return Err(unfit(locus, message));
        }
        let what = format!("the share of {allele}");
        let instead = ("--share", format!("{allele}=0.5"));
        in_range(what, typed, "a share from 0 to 1", instead, |share| {
            (0.0..=1.0).contains(&share)
        })?;
    }
    let mut loci = loci_of(facts)?;
    let known = loci.book.find(locus);
    let entered = match known {
        Some(ix) => loci.book.redeclare(ix, symbols).map(|()| ix),
        None => loci.book.declare(locus, symbols),
    };
    let row = locus_named(facts, locus);
    let before = row.map_or_else(Vec::new, |row| alleles_of(facts, row.id));
    let stated = |symbol: &String| {
        let old = before.iter().find(|row| row.symbol == *symbol);
        typed_share(entry, symbol).or_else(|| old?.share.clone())
    };
    let shares = symbols.iter().map(stated);
    let shares = shares.map(|share| share.as_deref().and_then(read_number));
    entered
        .and_then(|ix| loci.book.set_shares(ix, shares.collect()))
        .map_err(|error| match error {
            LocusError::ShareSum { .. } => GeneRefusal::Shares {
                locus: locus.clone(),
                message: error.to_string(),
                alleles: symbols.to_vec(),
            }
            .into(),
            other => unfit(locus, other.to_string()),
        })
}

/// A locus that cannot stand as typed, with a line to type in its place.
fn unfit(symbol: &str, message: String) -> Refusal {
    let alleles = case_twin(symbol).filter(|_| check_symbol(symbol).is_ok());
    let hint = match alleles.map(|twin| dominant_first(symbol.to_owned(), twin)) {
        Some([first, second]) => format!("locule locus set {symbol} --alleles {first},{second}"),
        None => "locule locus set SYMBOL --alleles DOMINANT,RECESSIVE".to_owned(),
    };
    GeneRefusal::Locus { message, hint }.into()
}

/// The share typed for an allele; the last one where there are several.
fn typed_share(entry: &LocusFacts, symbol: &String) -> Option<String> {
    let found = entry
        .shares
        .iter()
        .rev()
        .find(|(allele, _)| allele == symbol);
    found.map(|(_, typed)| typed.trim().to_owned())
}

fn in_range(
    what: String,
    typed: &str,
    wanted: &'static str,
    instead: (&'static str, String),
    fits: impl Fn(f64) -> bool,
) -> Result<f64, Refusal> {
    let number = read_number(typed).filter(|number| fits(*number));
    number.ok_or_else(|| {
        GeneRefusal::Number {
            what,
            typed: shown(typed),
            wanted,
            remedy: Box::new(Remedy::Flags(vec![instead.clone()])),
        }
        .into()
    })
}

/// Enters a new locus, or what is new of a known one.
fn enter(
    desk: &mut Desk,
    entry: &LocusFacts,
    known: Option<&LocusRow>,
    symbols: &[String],
) -> Result<(bool, i64), Refusal> {
    let chromosome = entry.chromosome.as_deref();
    let chromosome = chromosome.map(|word| text::require("chromosome", word, CHROMOSOME_MAX));
    let chromosome = chromosome.transpose()?;
    let placed = chromosome.is_some() || known.is_some_and(|locus| locus.chromosome.is_some());
    if entry.at.is_some() && !placed {
        let message = format!(
            "a position of locus {} needs its chromosome too",
            entry.symbol
        );
        let hint = format!("locule locus set {} --chromosome 10 --at 33", entry.symbol);
        return Err(GeneRefusal::Locus { message, hint }.into());
    }
    if let Some(at) = &entry.at {
        let what = format!("the position of {}", entry.symbol);
        let instead = ("--at", "33".to_owned());
        in_range(what, at, "centimorgans from 0 to 1000", instead, |at| {
            (0.0..=1000.0).contains(&at)
        })?;
    }
    let share = |symbol: &String| typed_share(entry, symbol);
    let at_cm = entry.at.as_ref().map(|at| at.trim().to_owned());
    let Some(before) = known else {
        return Ok((
            true,
            enter_new(desk, entry, symbols, chromosome, at_cm, share),
        ));
    };
    let after = LocusRow {
        chromosome: chromosome.or_else(|| before.chromosome.clone()),
        at_cm: at_cm.or_else(|| before.at_cm.clone()),
        ..before.clone()
    };
    desk.update(before, after);
    list_alleles(desk, before.id, symbols, share);
    Ok((false, before.id))
}

fn enter_new(
    desk: &mut Desk,
    entry: &LocusFacts,
    symbols: &[String],
    chromosome: Option<String>,
    at_cm: Option<String>,
    share: impl Fn(&String) -> Option<String>,
) -> i64 {
    if at_cm.is_none() && entry.shares.is_empty() {
        return enter_locus(desk, &entry.symbol, symbols, chromosome);
    }
    let symbol = entry.symbol.clone();
    let locus_id = desk.insert(|id| LocusRow {
        id,
        symbol,
        chromosome,
        at_cm,
    });
    for (ord, symbol) in (0..).zip(symbols) {
        let (symbol, share) = (symbol.clone(), share(symbol));
        desk.insert(|id| AlleleRow {
            id,
            locus_id,
            symbol,
            ord,
            share,
        });
    }
    locus_id
}

/// Brings the allele rows of a locus in line with a list of symbols.
fn list_alleles(
    desk: &mut Desk,
    locus_id: i64,
    symbols: &[String],
    share: impl Fn(&String) -> Option<String>,
) {
    let rows = alleles_of(desk.facts, locus_id);
    for row in rows.iter().filter(|row| !symbols.contains(&row.symbol)) {
        desk.delete(*row);
    }
    for (ord, symbol) in (0..).zip(symbols) {
        match rows.iter().find(|row| row.symbol == *symbol) {
            Some(row) => {
                let share = share(symbol).or_else(|| row.share.clone());
                desk.update(
                    *row,
                    AlleleRow {
                        ord,
                        share,
                        ..(*row).clone()
                    },
                );
            }
            None => {
                let (symbol, share) = (symbol.clone(), share(symbol));
                desk.insert(|id| AlleleRow {
                    id,
                    locus_id,
                    symbol,
                    ord,
                    share,
                });
            }
        }
    }
}

/// Refuses a chromosome that parts a locus from one that it was measured to go with, unless that is taken back with it.
fn check_place(facts: &Facts, entry: &LocusFacts, known: &LocusRow) -> Result<(), Refusal> {
    let Some(on) = entry.chromosome.as_ref().map(|word| word.trim()) else {
        return Ok(());
    };
    for row in &facts.recombination {
        let other = match (row.locus_a == known.id, row.locus_b == known.id) {
            (true, _) => row.locus_b,
            (_, true) => row.locus_a,
            _ => continue,
        };
        let Some(other) = facts.locus.iter().find(|locus| locus.id == other) else {
            continue;
        };
        let restated = entry.recombines.iter().any(|(symbol, _)| {
            locus_named(facts, symbol).is_some_and(|locus| locus.id == other.id)
        });
        let Some(off) = other.chromosome.as_ref().filter(|off| *off != on) else {
            continue;
        };
        if restated || read_number(&row.r).is_none_or(|r| r >= 0.5) {
            continue;
        }
        let (symbol, other) = (&entry.symbol, &other.symbol);
        let message = format!(
            "{symbol} cannot be on chromosome {on}: {other} is on {off}, and the two were recorded to recombine at {}; loci of two chromosomes recombine freely",
            row.r
        );
        let hint = format!("locule locus set {symbol} --chromosome {on} --recombines {other}=0.5");
        return Err(GeneRefusal::Locus { message, hint }.into());
    }
    Ok(())
}

/// Refuses linkage of loci on different chromosomes.
fn check_together(
    desk: &Desk,
    entry: &LocusFacts,
    other: &LocusRow,
    r: f64,
) -> Result<(), Refusal> {
    let row = locus_named(desk.facts, &entry.symbol);
    let known = row.and_then(|row| row.chromosome.clone());
    let here = entry
        .chromosome
        .as_ref()
        .map(|c| c.trim().to_owned())
        .or(known);
    match (here, &other.chromosome) {
        (Some(on), Some(off)) if on != *off && r < 0.5 => {
            let message = format!(
                "{} is on chromosome {on} and {} on {off}: they recombine freely, not at {r}",
                entry.symbol, other.symbol
            );
            let hint = format!("locule locus set {} --chromosome {on}", other.symbol);
            Err(GeneRefusal::Locus { message, hint }.into())
        }
        _ => Ok(()),
    }
}

fn recombine(
    desk: &mut Desk,
    locus: i64,
    entry: &LocusFacts,
    other: &str,
    typed: &str,
) -> Result<(), Refusal> {
    let facts = desk.facts;
    let symbol = &entry.symbol;
    let Some(row) = locus_named(facts, other) else {
        let known = facts.locus.iter().map(|row| row.symbol.as_str());
        let (typed, nearest) = (shown(other), nearest(other, known));
        return Err(GeneRefusal::UnknownLocus { typed, nearest }.into());
    };
    if row.id == locus {
        let message = format!("locus {symbol} does not recombine with itself");
        let hint = format!("locule locus set {symbol} --recombines OTHER=0.12");
        return Err(GeneRefusal::Locus { message, hint }.into());
    }
    let what = format!("the recombination of {symbol} and {other}");
    let instead = ("--recombines", format!("{other}=0.12"));
    let fits = |r| (0.0..=0.5).contains(&r);
    let fraction = in_range(what, typed, "a fraction from 0 to 0.5", instead, fits)?;
    check_together(desk, entry, row, fraction)?;
    let (locus_a, locus_b) = (locus.min(row.id), locus.max(row.id));
    let r = typed.trim().to_owned();
    let known = facts.recombination.iter();
    match known
        .into_iter()
        .find(|row| (row.locus_a, row.locus_b) == (locus_a, locus_b))
    {
        Some(before) => desk.update(
            before,
            RecombinationRow {
                r,
                ..before.clone()
            },
        ),
        None => {
            desk.insert(|id| RecombinationRow {
                id,
                locus_a,
                locus_b,
                r,
            });
        }
    }
    Ok(())
}
