//! The ledger's traits, loci and gene models in the form the diagnosis reads them.
//!
//! Built once per question from the facts; every batch, belief and expectation takes its classes,
//! misreading, onset and rules from here.

use std::collections::HashMap;

use crate::genetics::linkage::LinkageMap;
use crate::genetics::locus::{LocusBook, LocusIx};
use crate::genetics::rule::GeneModel;
use crate::genetics::traits::TraitSpec;
use crate::records::assumptions::Assumptions;
use crate::records::facts::Facts;
use crate::records::genes::{Loci, UnreadableRow, classes_of, linkage_map, trait_spec};
use crate::records::rows::{TasteMethod, TraitClassRow};
use crate::records::taste::{TasteRates, hot_class};

use super::DiagnosisError;
use super::evidence::Telling;

pub use crate::genetics::traits::Onset;

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
    /// The class that a tasting finds, and how often tastings err; nothing for a trait that cannot be tasted.
    pub taste: Option<(usize, TasteRates)>,
}

impl Look {
    /// P(a firm or doubtful reading of `read` | the plant shows `shown`).
    ///
    /// Misreading is spread evenly over the other classes; `doubtful` replaces it for a doubtful reading.
    #[must_use]
    pub fn reading_chance(&self, shown: usize, read: usize, doubtful: Option<f64>) -> f64 {
        let wrong = doubtful.unwrap_or(self.classes[shown].misread);
        self.spread_wrong(shown, read, wrong)
    }

    /// P(a reading | the plant shows `shown`): of a tasting by how its method errs, of a doubtful one at least `doubtful`.
    #[must_use]
    pub fn telling_chance(&self, shown: usize, reading: &Telling, doubtful: f64) -> f64 {
        let unsure = reading.doubtful.then_some(doubtful);
        match (reading.taste, &self.taste) {
            (Some(method), Some((hot, rates))) => {
                let wrong = rates.wrong(method, shown == *hot);
                let wrong = wrong.max(unsure.unwrap_or(0.0));
                self.spread_wrong(shown, reading.class, wrong)
            }
            _ => self.reading_chance(shown, reading.class, unsure),
        }
    }

    fn spread_wrong(&self, shown: usize, read: usize, wrong: f64) -> f64 {
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
            && self.classes.len() > other.classes.len()
            && self.shows_the_same_as(other)
    }

    /// Whether both show of the same organ what a locus does that both read.
    #[must_use]
    pub fn shows_the_same_as(&self, other: &Self) -> bool {
        let mut loci = self.model.loci().iter();
        self.organ == other.organ && loci.any(|locus| other.model.loci().contains(locus))
    }
}

/// All traits and loci.
#[derive(Debug, Clone)]
pub struct Looks {
    /// The loci and their alleles.
    pub book: LocusBook,
    /// Where the loci are, and how often pairs of them are parted.
    pub linkage: LinkageMap,
    /// The traits, by number.
    pub traits: Vec<Look>,
    by_id: HashMap<i64, usize>,
    class_places: HashMap<i64, (usize, usize)>,
    /// Readings that were tastings, and of what.
    tastings: HashMap<i64, TasteMethod>,
}

impl Looks {
    /// The traits and loci of a ledger.
    ///
    /// # Errors
    /// [`DiagnosisError::Unreadable`] where a stored number or rule cannot be read.
    pub fn of(facts: &Facts) -> Result<Self, DiagnosisError> {
        let loci = Loci::of(facts)?;
        let mut looks = Self {
            linkage: linkage_map(facts, &loci)?,
            book: loci.book,
            traits: Vec::new(),
            by_id: HashMap::new(),
            class_places: HashMap::new(),
            tastings: (facts.tasting.iter())
                .map(|row| (row.reading_id, row.method))
                .collect(),
        };
        let rates = TasteRates::of(&Assumptions::of(facts));
        for row in &facts.trait_ {
            let spec = trait_spec(facts, row.id)?;
            let look = spec.map(|spec| read_look(facts, row.id, spec, &mut looks.book));
            let Some(mut look) = look.transpose()?.flatten() else {
                continue;
            };
            look.taste = hot_class(facts, row.id).map(|hot| (hot, rates));
            let place = looks.traits.len();
            looks.by_id.insert(row.id, place);
            for (at, class) in look.classes.iter().enumerate() {
                looks.class_places.insert(class.id, (place, at));
            }
            looks.traits.push(look);
        }
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

    /// What of the pod was tasted for a reading, where it was a tasting.
    #[must_use]
    pub fn tasted(&self, reading: i64) -> Option<TasteMethod> {
        self.tastings.get(&reading).copied()
    }

    /// The same, one trait being explained by another of its gene models.
    #[must_use]
    pub fn explained_by(&self, place: usize, model: GeneModel) -> Self {
        let mut looks = self.clone();
        looks.traits[place].model = model;
        looks
    }

    /// The symbols of some loci.
    #[must_use]
    pub fn symbols(&self, loci: &[LocusIx]) -> Vec<String> {
        let symbol = |locus: &LocusIx| self.book.get(*locus).symbol.clone();
        loci.iter().map(symbol).collect()
    }

    /// The same, every late class showing this many times as late.
    #[must_use]
    pub fn slower(&self, times: f64) -> Self {
        let mut looks = self.clone();
        for onset in looks
            .traits
            .iter_mut()
            .filter_map(|look| look.onset.as_mut())
        {
            onset.median_days *= times;
        }
        looks
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

impl From<UnreadableRow> for DiagnosisError {
    fn from(row: UnreadableRow) -> Self {
        let UnreadableRow { what, why } = row;
        Self::Unreadable { what, why }
    }
}

/// All gene models of a trait, in the order entered.
///
/// # Errors
/// [`DiagnosisError::Unreadable`] where a stored number or rule cannot be read.
pub fn gene_models(facts: &Facts, id: i64) -> Result<Vec<GeneModel>, DiagnosisError> {
    let Some(spec) = trait_spec(facts, id)? else {
        return Ok(Vec::new());
    };
    let mut book = Loci::of(facts)?.book;
    spec.check(&mut book)
        .map_err(|error| DiagnosisError::Unreadable {
            what: format!("rules of {}", spec.code),
            why: error.to_string(),
        })
}

/// A trait with its model in use; nothing where it has none.
fn read_look(
    facts: &Facts,
    id: i64,
    spec: TraitSpec,
    book: &mut LocusBook,
) -> Result<Option<Look>, DiagnosisError> {
    let Some(in_use) = spec.model_in_use() else {
        return Ok(None);
    };
    let in_use = &spec.models[in_use];
    let names = spec.class_names();
    let model = GeneModel::build(&in_use.name, &names, &in_use.rules, book).map_err(|error| {
        DiagnosisError::Unreadable {
            what: format!("rules of {}", spec.code),
            why: error.to_string(),
        }
    })?;
    let class = |(at, row): (usize, &TraitClassRow)| Class {
        id: row.id,
        name: row.name.clone(),
        after: spec.earlier(at),
        misread: spec.misread_of(at),
    };
    let rows = classes_of(facts, id);
    Ok(Some(Look {
        id,
        classes: rows.into_iter().enumerate().map(class).collect(),
        model,
        onset: spec.onset,
        taste: None,
        switched_on: spec.on,
        stage: spec.stage.to_string(),
        organ: spec.organ,
        code: spec.code,
    }))
}
