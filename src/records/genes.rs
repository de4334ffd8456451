//! The rows of loci and traits as the types of the genetics room, and back.
//!
//! Rows hold symbols, rules and numbers as text; this is the one place that turns them into a
//! [`LocusBook`] and [`TraitSpec`]s. The gate, the diagnosis and the expectations ask here.

use std::str::FromStr;

use super::code::fold;
use super::facts::Facts;
use super::rows::{AlleleRow, LocusRow, Thing, TraitClassRow, TraitModelRow, TraitRow};
use crate::genetics::{
    ClassSpec, LinkageMap, LocusBook, LocusError, LocusIx, ModelSpec, Onset, Place, Rate,
    Recombination, Stage, TraitSpec,
};

/// The setting that names the trait bare class words belong to first.
pub const BENCH_SETTING: &str = "bench-trait";

/// The ledger's loci as a book, with the row number of each in the book's order.
#[derive(Debug, Clone)]
pub struct Loci {
    /// The book.
    pub book: LocusBook,
    /// The row number of the locus at each index of the book.
    pub ids: Vec<i64>,
}

/// A row of a locus or trait that cannot be read: no command of this program writes it so.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{what} cannot be read: {why}")]
pub struct UnreadableRow {
    /// The record.
    pub what: String,
    /// What is wrong with it.
    pub why: String,
}

impl Loci {
    /// The loci of a ledger, in the order of their numbers, with the shares of their alleles.
    ///
    /// # Errors
    /// [`UnreadableRow`] where the rows hold a locus that no book admits, or a share that is no number.
    pub fn of(facts: &Facts) -> Result<Self, UnreadableRow> {
        let mut loci = Self {
            book: LocusBook::new(),
            ids: Vec::new(),
        };
        for locus in &facts.locus {
            loci.enter(locus, &alleles_of(facts, locus.id))?;
        }
        Ok(loci)
    }

    fn enter(&mut self, locus: &LocusRow, rows: &[&AlleleRow]) -> Result<(), UnreadableRow> {
        let what = || format!("locus {}", locus.symbol);
        let unfit = |error: LocusError| UnreadableRow {
            what: what(),
            why: error.to_string(),
        };
        let symbols: Vec<&str> = rows.iter().map(|allele| allele.symbol.as_str()).collect();
        let ix = self.book.declare(&locus.symbol, &symbols).map_err(unfit)?;
        let share = |row: &&AlleleRow| {
            let text = row.share.as_deref();
            let what = || format!("the share of {} at {}", row.symbol, what());
            text.map(|text| stored_number(text, what)).transpose()
        };
        let shares = rows.iter().map(share).collect::<Result<_, _>>()?;
        self.book.set_shares(ix, shares).map_err(unfit)?;
        self.ids.push(locus.id);
        Ok(())
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

/// The pairs of loci that are recorded as linked: with a measured recombination below one half, or both
/// placed on one chromosome.
#[must_use]
pub fn linked_pairs(facts: &Facts) -> Vec<(&str, &str)> {
    let symbol = |id: i64| facts.locus.get(id).map(|row| row.symbol.as_str());
    let free = |r: &str| read_number(r).is_some_and(|r| r >= 0.5);
    let measured = facts.recombination.iter();
    let measured = measured.filter(|row| !free(&row.r));
    let measured = measured.filter_map(|row| symbol(row.locus_a).zip(symbol(row.locus_b)));
    let is_placed = |row: &&LocusRow| row.chromosome.is_some() && row.at_cm.is_some();
    let placed: Vec<&LocusRow> = facts.locus.iter().filter(is_placed).collect();
    let mut pairs: Vec<(&str, &str)> = measured.collect();
    for (at, one) in placed.iter().enumerate() {
        let same = |other: &&&LocusRow| other.chromosome == one.chromosome;
        let others = placed[at + 1..].iter().filter(same);
        pairs.extend(others.map(|other| (one.symbol.as_str(), other.symbol.as_str())));
    }
    pairs.sort_unstable();
    pairs.dedup();
    pairs
}

/// The places of the loci and the measured recombination of pairs.
///
/// # Errors
/// [`UnreadableRow`] where a position or fraction is no number that the gate would have let in.
pub fn linkage_map(facts: &Facts, loci: &Loci) -> Result<LinkageMap, UnreadableRow> {
    let mut map = LinkageMap::default();
    let ix = |id: i64| loci.ids.iter().position(|known| *known == id).map(LocusIx);
    for row in &facts.locus {
        let (Some(locus), Some(chromosome)) = (ix(row.id), &row.chromosome) else {
            continue;
        };
        let what = || format!("the position of {}", row.symbol);
        let at = row.at_cm.as_deref();
        let place = Place {
            chromosome: chromosome.clone(),
            at: at.map(|at| stored_number(at, what)).transpose()?,
        };
        map.place(locus, place);
    }
    for row in &facts.recombination {
        let (Some(one), Some(other)) = (ix(row.locus_a), ix(row.locus_b)) else {
            continue;
        };
        let rate = Rate::parse(&row.r).ok();
        let rate = rate.or_else(|| read_number(&row.r).map(Rate::of));
        let rate = rate.ok_or_else(|| UnreadableRow {
            what: format!(
                "the recombination of {} and {}",
                loci.book.get(one).symbol,
                loci.book.get(other).symbol
            ),
            why: format!("'{}' is no number", row.r),
        })?;
        map.state(one, other, Recombination::both(rate));
    }
    Ok(map)
}

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

/// A number as it is kept.
fn stored_number(text: &str, what: impl Fn() -> String) -> Result<f64, UnreadableRow> {
    read_number(text).ok_or_else(|| UnreadableRow {
        what: what(),
        why: format!("'{text}' is no number"),
    })
}

/// A trait as it is written down; nothing where the rows hold no such trait.
///
/// # Errors
/// [`UnreadableRow`] where a text is no number or no word of the genetics room, or a late class names a
/// class that the trait does not have.
pub fn trait_spec(facts: &Facts, trait_id: i64) -> Result<Option<TraitSpec>, UnreadableRow> {
    let code = facts.code_of(Thing::Trait, trait_id);
    let (Some(row), Some(code)) = (facts.trait_.get(trait_id), code) else {
        return Ok(None);
    };
    let models = models_of(facts, trait_id);
    let models = models.iter().map(|model| model_spec(facts, code, model));
    Ok(Some(TraitSpec {
        code: code.to_owned(),
        name: row.name.clone(),
        organ: row.organ.clone(),
        stage: stored_word(&row.stage, || format!("the stage of {code}"))?,
        classes: class_specs(facts, trait_id, code)?,
        misread: stored_number(&row.misread, || format!("the misreading of {code}"))?,
        onset: onset_of(facts, trait_id, code)?,
        models: models.collect::<Result<_, _>>()?,
        on: row.switched_on,
        note: row.note.clone(),
    }))
}

fn stored_word<T: FromStr>(word: &str, what: impl Fn() -> String) -> Result<T, UnreadableRow> {
    word.parse().map_err(|_| UnreadableRow {
        what: what(),
        why: format!("'{word}' is no word for it"),
    })
}

/// The classes of a trait, in order.
#[must_use]
pub fn classes_of(facts: &Facts, trait_id: i64) -> Vec<&TraitClassRow> {
    let mut rows: Vec<_> = facts
        .trait_class
        .iter()
        .filter(|c| c.trait_id == trait_id)
        .collect();
    rows.sort_by_key(|class| class.ord);
    rows
}

fn class_specs(facts: &Facts, trait_id: i64, of: &str) -> Result<Vec<ClassSpec>, UnreadableRow> {
    let rows = classes_of(facts, trait_id);
    let own_spelling = |word: &String| {
        let wanted = fold(word);
        let found = rows.iter().find(|class| fold(&class.name) == wanted);
        found
            .map(|class| class.name.clone())
            .ok_or_else(|| UnreadableRow {
                what: format!("the late classes of {of}"),
                why: format!("it has no class '{word}'"),
            })
    };
    let spec = |row: &&TraitClassRow| {
        let what = || format!("the misreading of {of}:{}", row.name);
        let misread = row.misread.as_deref();
        Ok(ClassSpec {
            name: row.name.clone(),
            after: row.after_class.as_ref().map(own_spelling).transpose()?,
            misread: misread.map(|text| stored_number(text, what)).transpose()?,
        })
    };
    rows.iter().map(spec).collect()
}

fn onset_of(facts: &Facts, trait_id: i64, of: &str) -> Result<Option<Onset>, UnreadableRow> {
    let Some(row) = facts.onset.iter().find(|row| row.trait_id == trait_id) else {
        return Ok(None);
    };
    Ok(Some(Onset {
        median_days: stored_number(&row.median_days, || format!("the median days of {of}"))?,
        spread: stored_number(&row.spread, || format!("the spread of {of}"))?,
        ceiling: stored_number(&row.ceiling, || format!("the ceiling of {of}"))?,
    }))
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

fn model_spec(facts: &Facts, of: &str, model: &TraitModelRow) -> Result<ModelSpec, UnreadableRow> {
    let mut rules: Vec<_> = facts
        .trait_rule
        .iter()
        .filter(|r| r.model_id == model.id)
        .collect();
    rules.sort_by_key(|rule| rule.ord);
    let what = || format!("the standing of model {} of {of}", model.name);
    Ok(ModelSpec {
        name: model.name.clone(),
        rules: rules
            .iter()
            .map(|rule| (rule.pattern.clone(), rule.class.clone()))
            .collect(),
        in_use: model.in_use,
        standing: stored_word(&model.standing, what)?,
        source: model.source.clone(),
    })
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
