//! The rows of loci and traits as the types of the genetics room, and back.
//!
//! Rows hold symbols, rules and numbers as text; this is the one place that turns them into a
//! [`LocusBook`] and [`TraitSpec`]s. The gate, the diagnosis and the expectations ask here.

use super::facts::Facts;
use super::rows::{AlleleRow, LocusRow, Thing, TraitModelRow, TraitRow};
use crate::genetics::traits::USUAL_MISREAD;
use crate::genetics::{
    ClassSpec, LocusBook, LocusError, LocusIx, ModelSpec, Onset, Stage, Standing, TraitSpec,
};

/// The ledger's loci as a book, with the row number of each in the book's order.
#[derive(Debug, Clone)]
pub struct Loci {
    /// The book.
    pub book: LocusBook,
    /// The row number of the locus at each index of the book.
    pub ids: Vec<i64>,
}

impl Loci {
    /// The loci of a ledger, in the order of their numbers.
    ///
    /// # Errors
    /// [`LocusError`] where the rows hold a locus that no book admits.
    pub fn of(facts: &Facts) -> Result<Self, LocusError> {
        let mut loci = Self {
            book: LocusBook::new(),
            ids: Vec::new(),
        };
        for locus in &facts.locus {
            let rows = alleles_of(facts, locus.id);
            let symbols: Vec<&str> = rows.iter().map(|allele| allele.symbol.as_str()).collect();
            let ix = loci.book.declare(&locus.symbol, &symbols)?;
            let share = rows.first().and_then(|allele| allele.share.as_deref());
            loci.book.set_share(ix, share.and_then(read_number))?;
            loci.ids.push(locus.id);
        }
        Ok(loci)
    }

    /// The row number of a locus of the book; nothing for one that the ledger does not hold yet.
    #[must_use]
    pub fn id(&self, ix: LocusIx) -> Option<i64> {
        self.ids.get(ix.0).copied()
    }
}

/// The alleles of a locus, in order.
#[must_use]
pub fn alleles_of(facts: &Facts, locus_id: i64) -> Vec<&AlleleRow> {
    let mut rows: Vec<_> = facts
        .allele
        .iter()
        .filter(|row| row.locus_id == locus_id)
        .collect();
    rows.sort_by_key(|row| row.ord);
    rows
}

/// The locus of a symbol, case-sensitive.
#[must_use]
pub fn locus_named<'f>(facts: &'f Facts, symbol: &str) -> Option<&'f LocusRow> {
    facts.locus.iter().find(|row| row.symbol == symbol)
}

/// Longest text of a number, in bytes.
const NUMBER_MAX: usize = 40;

/// A plain finite number, written in at most 40 characters.
#[must_use]
pub fn read_number(text: &str) -> Option<f64> {
    let text = text.trim();
    let plain = |b: u8| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+' | b'e' | b'E');
    if text.len() > NUMBER_MAX || !text.bytes().all(plain) {
        return None;
    }
    text.parse().ok().filter(|number: &f64| number.is_finite())
}

/// A trait as it is written down; nothing where the rows hold no such trait. Texts that are no numbers
/// or words of the genetics room count as not stated.
#[must_use]
pub fn trait_spec(facts: &Facts, trait_id: i64) -> Option<TraitSpec> {
    let row = facts.trait_.get(trait_id)?;
    Some(TraitSpec {
        code: facts.code_of(Thing::Trait, trait_id)?.to_owned(),
        name: row.name.clone(),
        organ: row.organ.clone(),
        stage: row.stage.parse().unwrap_or(Stage::Plant),
        classes: classes_of(facts, trait_id),
        misread: read_number(&row.misread).unwrap_or(USUAL_MISREAD),
        onset: onset_of(facts, trait_id),
        models: models_of(facts, trait_id)
            .iter()
            .map(|model| model_spec(facts, model))
            .collect(),
        on: row.switched_on,
        note: row.note.clone(),
    })
}

fn classes_of(facts: &Facts, trait_id: i64) -> Vec<ClassSpec> {
    let mut rows: Vec<_> = facts
        .trait_class
        .iter()
        .filter(|c| c.trait_id == trait_id)
        .collect();
    rows.sort_by_key(|class| class.ord);
    let spec = |row: &&super::rows::TraitClassRow| ClassSpec {
        name: row.name.clone(),
        after: row.after_class.clone(),
        misread: row.misread.as_deref().and_then(read_number),
    };
    rows.iter().map(spec).collect()
}

fn onset_of(facts: &Facts, trait_id: i64) -> Option<Onset> {
    let row = facts.onset.iter().find(|row| row.trait_id == trait_id)?;
    Some(Onset {
        median_days: read_number(&row.median_days)?,
        spread: read_number(&row.spread)?,
        ceiling: read_number(&row.ceiling)?,
    })
}

/// The gene models of a trait, by number.
#[must_use]
pub fn models_of(facts: &Facts, trait_id: i64) -> Vec<&TraitModelRow> {
    facts
        .trait_model
        .iter()
        .filter(|model| model.trait_id == trait_id)
        .collect()
}

fn model_spec(facts: &Facts, model: &TraitModelRow) -> ModelSpec {
    let mut rules: Vec<_> = facts
        .trait_rule
        .iter()
        .filter(|r| r.model_id == model.id)
        .collect();
    rules.sort_by_key(|rule| rule.ord);
    ModelSpec {
        name: model.name.clone(),
        rules: rules
            .iter()
            .map(|rule| (rule.pattern.clone(), rule.class.clone()))
            .collect(),
        in_use: model.in_use,
        standing: model.standing.parse().unwrap_or(Standing::Own),
        source: model.source.clone(),
    }
}

/// Whether a trait is scored on seedlings.
#[must_use]
pub fn is_seedling_trait(row: &TraitRow) -> bool {
    row.stage.parse() == Ok(Stage::Seedling)
}

/// How often a trait has been scored, tallies included.
#[must_use]
pub fn times_scored(facts: &Facts, trait_id: i64) -> i64 {
    let of_trait = |id: Option<i64>| id == Some(trait_id);
    let readings = facts
        .reading
        .iter()
        .filter(|row| of_trait(row.trait_id))
        .count();
    let tallied = facts
        .tally_class
        .iter()
        .filter(|row| of_trait(row.trait_id))
        .count();
    let removed = facts
        .fate_class
        .iter()
        .filter(|row| row.trait_id == trait_id)
        .count();
    i64::try_from(readings + tallied + removed).expect("a ledger's rows can be counted")
}
