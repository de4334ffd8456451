//! The ledger's traits, loci and gene models in the form the diagnosis reads them.
//!
//! Built once per question from the facts; every batch, belief and expectation takes its classes,
//! misreading, onset and rules from here.

use std::collections::HashMap;

use crate::genetics::locus::{LocusBook, LocusIx};
use crate::genetics::rule::GeneModel;
use crate::records::facts::Facts;
use crate::records::rows::{Thing, TraitRow};

use super::DiagnosisError;

/// When the late classes of a trait show: lognormal age, times a ceiling.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Onset {
    /// Median age in days.
    pub median_days: f64,
    /// Spread of the log of the age.
    pub spread: f64,
    /// Share that ever shows it.
    pub ceiling: f64,
}

/// One class of a trait.
#[derive(Debug, Clone, PartialEq)]
pub struct Class {
    /// Its number in its table.
    pub id: i64,
    /// Its name.
    pub name: String,
    /// The class shown before this one, for a late class.
    pub after: Option<usize>,
    /// P(a plant showing it is written down as another class).
    pub misread: f64,
}

/// One trait with the gene model in use.
#[derive(Debug, Clone)]
pub struct Look {
    /// Its number in its table.
    pub id: i64,
    /// Its code.
    pub code: String,
    /// The organ.
    pub organ: String,
    /// The stage.
    pub stage: String,
    /// Whether it is offered for scoring.
    pub switched_on: bool,
    /// Its classes, in order.
    pub classes: Vec<Class>,
    /// Its gene model in use.
    pub model: GeneModel,
    /// When its late classes show.
    pub onset: Option<Onset>,
}

impl Look {
    /// P(a firm or doubtful reading of `read` | the plant shows `shown`).
    ///
    /// Misreading is spread evenly over the other classes; `doubtful` replaces it for a doubtful reading.
    #[must_use]
    pub fn reading_chance(&self, shown: usize, read: usize, doubtful: Option<f64>) -> f64 {
        let wrong = doubtful.unwrap_or(self.classes[shown].misread);
        if shown == read {
            1.0 - wrong
        } else {
            wrong / (self.classes.len() - 1) as f64
        }
    }

    /// Whether this trait grades the same organ through the same loci more finely than `other`.
    #[must_use]
    pub fn is_finer_than(&self, other: &Self) -> bool {
        self.id != other.id
            && self.organ == other.organ
            && self.classes.len() > other.classes.len()
            && self
                .model
                .loci()
                .iter()
                .any(|locus| other.model.loci().contains(locus))
    }
}

/// All traits and loci.
#[derive(Debug, Clone)]
pub struct Looks {
    /// The loci and their alleles.
    pub book: LocusBook,
    /// The traits, by number.
    pub traits: Vec<Look>,
    by_id: HashMap<i64, usize>,
    class_places: HashMap<i64, (usize, usize)>,
}

impl Looks {
    /// The traits and loci of a ledger.
    ///
    /// # Errors
    /// [`DiagnosisError::Unreadable`] where a stored number or rule cannot be read.
    pub fn of(facts: &Facts) -> Result<Self, DiagnosisError> {
        let mut book = locus_book(facts)?;
        let mut looks = Self {
            book: LocusBook::new(),
            traits: Vec::new(),
            by_id: HashMap::new(),
            class_places: HashMap::new(),
        };
        let parts = TraitParts::of(facts);
        for row in &facts.trait_ {
            if let Some(look) = read_look(facts, row, &parts, &mut book)? {
                let place = looks.traits.len();
                looks.by_id.insert(row.id, place);
                for (at, class) in look.classes.iter().enumerate() {
                    looks.class_places.insert(class.id, (place, at));
                }
                looks.traits.push(look);
            }
        }
        looks.book = book;
        Ok(looks)
    }

    /// The place of a trait among [`Looks::traits`].
    #[must_use]
    pub fn place(&self, trait_id: i64) -> Option<usize> {
        self.by_id.get(&trait_id).copied()
    }

    /// The place of a class: trait and class.
    #[must_use]
    pub fn class_place(&self, class_id: i64) -> Option<(usize, usize)> {
        self.class_places.get(&class_id).copied()
    }

    /// The loci that some of these traits read, ascending, each once.
    #[must_use]
    pub fn loci_read(&self, traits: &[usize]) -> Vec<LocusIx> {
        let mut loci: Vec<LocusIx> = traits
            .iter()
            .flat_map(|at| self.traits[*at].model.loci().iter().copied())
            .collect();
        loci.sort_unstable();
        loci.dedup();
        loci
    }
}

/// Rows of classes, models, rules and onsets by the thing they belong to.
struct TraitParts<'a> {
    classes: HashMap<i64, Vec<&'a crate::records::rows::TraitClassRow>>,
    models: HashMap<i64, Vec<&'a crate::records::rows::TraitModelRow>>,
    rules: HashMap<i64, Vec<&'a crate::records::rows::TraitRuleRow>>,
    onsets: HashMap<i64, &'a crate::records::rows::OnsetRow>,
}

impl<'a> TraitParts<'a> {
    fn of(facts: &'a Facts) -> Self {
        let mut parts = Self {
            classes: HashMap::new(),
            models: HashMap::new(),
            rules: HashMap::new(),
            onsets: HashMap::new(),
        };
        for row in &facts.trait_class {
            parts.classes.entry(row.trait_id).or_default().push(row);
        }
        for row in &facts.trait_model {
            parts.models.entry(row.trait_id).or_default().push(row);
        }
        for row in &facts.trait_rule {
            parts.rules.entry(row.model_id).or_default().push(row);
        }
        for row in &facts.onset {
            parts.onsets.insert(row.trait_id, row);
        }
        for rows in parts.classes.values_mut() {
            rows.sort_by_key(|row| row.ord);
        }
        for rows in parts.rules.values_mut() {
            rows.sort_by_key(|row| row.ord);
        }
        parts
    }
}

/// The loci of a ledger with their alleles and shares.
///
/// # Errors
/// [`DiagnosisError::Unreadable`] where a stored locus cannot be read.
pub fn locus_book(facts: &Facts) -> Result<LocusBook, DiagnosisError> {
    let mut alleles: HashMap<i64, Vec<&crate::records::rows::AlleleRow>> = HashMap::new();
    for row in &facts.allele {
        alleles.entry(row.locus_id).or_default().push(row);
    }
    let mut book = LocusBook::new();
    for locus in &facts.locus {
        let mut rows = alleles.remove(&locus.id).unwrap_or_default();
        rows.sort_by_key(|row| row.ord);
        let symbols: Vec<&str> = rows.iter().map(|row| row.symbol.as_str()).collect();
        let unreadable = |why: String| DiagnosisError::Unreadable {
            what: format!("locus {}", locus.symbol),
            why,
        };
        let ix = book
            .declare(&locus.symbol, &symbols)
            .map_err(|error| unreadable(error.to_string()))?;
        if let Some(share) = rows.first().and_then(|row| row.share.as_deref()) {
            let share = number(share, || format!("share of {}", locus.symbol))?;
            book.set_share(ix, Some(share))
                .map_err(|error| unreadable(error.to_string()))?;
        }
    }
    Ok(book)
}

fn read_look(
    facts: &Facts,
    row: &TraitRow,
    parts: &TraitParts<'_>,
    book: &mut LocusBook,
) -> Result<Option<Look>, DiagnosisError> {
    let code = facts
        .code_of(Thing::Trait, row.id)
        .unwrap_or_default()
        .to_owned();
    let default = number(&row.misread, || format!("misreading of {code}"))?;
    let class_rows = parts.classes.get(&row.id).cloned().unwrap_or_default();
    let mut classes = Vec::new();
    for class in &class_rows {
        let misread = match &class.misread {
            Some(text) => number(text, || format!("misreading of {code}:{}", class.name))?,
            None => default,
        };
        let after = class.after_class.as_ref().and_then(|name| {
            class_rows
                .iter()
                .position(|other| other.name.eq_ignore_ascii_case(name))
        });
        classes.push(Class {
            id: class.id,
            name: class.name.clone(),
            after,
            misread,
        });
    }
    let models = parts.models.get(&row.id).map_or(&[][..], Vec::as_slice);
    let Some(model_row) = models.iter().find(|model| model.in_use) else {
        return Ok(None);
    };
    let rules: Vec<(String, String)> = parts
        .rules
        .get(&model_row.id)
        .into_iter()
        .flatten()
        .map(|rule| (rule.pattern.clone(), rule.class.clone()))
        .collect();
    let names: Vec<String> = classes.iter().map(|class| class.name.clone()).collect();
    let model = GeneModel::build(&model_row.name, &names, &rules, book).map_err(|error| {
        DiagnosisError::Unreadable {
            what: format!("rules of {code}"),
            why: error.to_string(),
        }
    })?;
    let onset = match parts.onsets.get(&row.id) {
        None => None,
        Some(onset) => Some(Onset {
            median_days: number(&onset.median_days, || format!("median days of {code}"))?,
            spread: number(&onset.spread, || format!("spread of {code}"))?,
            ceiling: number(&onset.ceiling, || format!("ceiling of {code}"))?,
        }),
    };
    Ok(Some(Look {
        id: row.id,
        code,
        organ: row.organ.clone(),
        stage: row.stage.clone(),
        switched_on: row.switched_on,
        classes,
        model,
        onset,
    }))
}

/// A stored number.
pub(super) fn number(text: &str, what: impl Fn() -> String) -> Result<f64, DiagnosisError> {
    text.trim().parse().map_err(|_| DiagnosisError::Unreadable {
        what: what(),
        why: format!("'{text}' is no number"),
    })
}
