//! Traits: what the eye scores, and the gene models that explain it.
//!
//! A trait has classes at an organ and a stage; a class may be late, so that the plant shows an
//! earlier one first. One gene model is in use, others are rivals to be weighed against data. How
//! readings are taken and stored is not known here. The catalogue and the records room make
//! [`TraitSpec`]s; [`TraitSpec::check`] is the gate to working models.

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

use super::locus::LocusBook;
use super::rule::{GeneModel, RuleError};
use super::trait_check::check_spec;

/// The share of plants written down as another class, where nothing else is known. A design choice
/// without a published source.
pub const USUAL_MISREAD: f64 = 0.005;

/// When in a plant's life a trait is scored.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stage {
    /// On seedlings in the tray.
    Seedling,
    /// On the growing plant.
    Plant,
    /// On the flower.
    Flower,
    /// On the plant's own fruit.
    Fruit,
    /// By chemical analysis.
    Chemistry,
    /// After inoculation with a pathogen.
    Inoculation,
}

const STAGES: [(Stage, &str); 6] = [
    (Stage::Seedling, "seedling"),
    (Stage::Plant, "plant"),
    (Stage::Flower, "flower"),
    (Stage::Fruit, "fruit"),
    (Stage::Chemistry, "chemistry"),
    (Stage::Inoculation, "inoculation"),
];

/// How far a statement can be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Standing {
    /// The source's abstract, opening page or official text was read.
    Read,
    /// From memory, the source named; not checked against it.
    Memory,
    /// Doubtful.
    Unsure,
    /// Arithmetic from a stated model.
    Derived,
    /// What growers do; no published source.
    CommonPractice,
    /// A default of this program.
    DesignChoice,
    /// Entered by the user.
    Own,
}

const STANDINGS: [(Standing, &str); 7] = [
    (Standing::Read, "read"),
    (Standing::Memory, "memory"),
    (Standing::Unsure, "unsure"),
    (Standing::Derived, "derived"),
    (Standing::CommonPractice, "common practice"),
    (Standing::DesignChoice, "design choice"),
    (Standing::Own, "own"),
];

/// A word that is none of a fixed list.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("\"{}\" is not one of: {}", .word.escape_debug(), .known.join(", "))]
pub struct UnknownWord {
    /// The word as written.
    pub word: String,
    /// The words there are.
    pub known: Vec<&'static str>,
}

fn read_word<T: Copy>(table: &[(T, &'static str)], word: &str) -> Result<T, UnknownWord> {
    let wanted = word.trim().to_lowercase();
    let found = table
        .iter()
        .find(|(_, name)| *name == wanted)
        .map(|(value, _)| *value);
    let known = || table.iter().map(|(_, name)| *name).collect();
    found.ok_or_else(|| UnknownWord {
        word: word.into(),
        known: known(),
    })
}

fn word_of<T: PartialEq>(table: &[(T, &'static str)], value: &T) -> &'static str {
    let found = table.iter().find(|(there, _)| there == value);
    found.expect("the table names every variant").1
}

impl FromStr for Stage {
    type Err = UnknownWord;

    fn from_str(word: &str) -> Result<Self, Self::Err> {
        read_word(&STAGES, word)
    }
}

impl fmt::Display for Stage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(word_of(&STAGES, self))
    }
}

impl FromStr for Standing {
    type Err = UnknownWord;

    fn from_str(word: &str) -> Result<Self, Self::Err> {
        read_word(&STANDINGS, word)
    }
}

impl fmt::Display for Standing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(word_of(&STANDINGS, self))
    }
}

/// A class of a trait.
#[derive(Clone, Debug, PartialEq)]
pub struct ClassSpec {
    /// The word for it.
    pub name: String,
    /// For a late class, the class that the plant shows before.
    pub after: Option<String>,
    /// Share of plants of this class written down as another, if it differs from the trait's.
    pub misread: Option<f64>,
}

/// When late classes come: the age at onset is lognormal, times a ceiling.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Onset {
    /// Median age in days from emergence.
    pub median_days: f64,
    /// Standard deviation of the log of the age.
    pub spread: f64,
    /// The share of plants of a late class that ever shows it.
    pub ceiling: f64,
}

/// A gene model as it is written down.
#[derive(Clone, Debug, PartialEq)]
pub struct ModelSpec {
    /// Its name within the trait.
    pub name: String,
    /// Pattern (or `else`) and class, in order.
    pub rules: Vec<(String, String)>,
    /// Whether it is the model in use.
    pub in_use: bool,
    /// How far it can be trusted.
    pub standing: Standing,
    /// Where it comes from.
    pub source: String,
}

/// A trait as it is written down.
#[derive(Clone, Debug, PartialEq)]
pub struct TraitSpec {
    /// Its code.
    pub code: String,
    /// Its name in words.
    pub name: String,
    /// The organ that is looked at.
    pub organ: String,
    /// When it is scored.
    pub stage: Stage,
    /// Its classes in order.
    pub classes: Vec<ClassSpec>,
    /// Share of plants of a class written down as another.
    pub misread: f64,
    /// When late classes come; there if and only if a class is late.
    pub onset: Option<Onset>,
    /// The gene models, one of them in use.
    pub models: Vec<ModelSpec>,
    /// Whether it is offered for scoring.
    pub on: bool,
    /// What to know when scoring it.
    pub note: String,
}

impl TraitSpec {
    /// Checks everything about the trait and builds its models, in order. Loci first met in a rule are
    /// entered in the book.
    ///
    /// # Errors
    /// [`TraitError`], which names the class, value or rule that is wrong. The book is then as before.
    pub fn check(&self, book: &mut LocusBook) -> Result<Vec<GeneModel>, TraitError> {
        check_spec(self)?;
        let before = book.len();
        let classes = self.class_names();
        let mut models = Vec::with_capacity(self.models.len());
        for spec in &self.models {
            match GeneModel::build(&spec.name, &classes, &spec.rules, book) {
                Ok(model) => models.push(model),
                Err(error) => {
                    book.truncate(before);
                    let (model, error) = (spec.name.clone(), Box::new(error));
                    return Err(TraitError::Model { model, error });
                }
            }
        }
        Ok(models)
    }

    /// The words for the classes, in order.
    #[must_use]
    pub fn class_names(&self) -> Vec<String> {
        self.classes
            .iter()
            .map(|class| class.name.clone())
            .collect()
    }

    /// The index of a class by its word, whatever the case.
    #[must_use]
    pub fn class(&self, word: &str) -> Option<usize> {
        let wanted = word.to_lowercase();
        self.classes
            .iter()
            .position(|class| class.name.to_lowercase() == wanted)
    }

    /// The index of the class that a late class shows before its onset.
    #[must_use]
    pub fn earlier(&self, class: usize) -> Option<usize> {
        self.class(self.classes[class].after.as_deref()?)
    }

    /// The share of plants of a class that is written down as another class.
    #[must_use]
    pub fn misread_of(&self, class: usize) -> f64 {
        self.classes[class].misread.unwrap_or(self.misread)
    }

    /// The place of the model in use among the models.
    #[must_use]
    pub fn model_in_use(&self) -> Option<usize> {
        self.models.iter().position(|model| model.in_use)
    }
}

/// Why a trait is not accepted.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum TraitError {
    /// A word that cannot name a class.
    #[error("\"{}\" cannot name a class: {why}", .class.escape_debug())]
    ClassName {
        /// The word as written.
        class: String,
        /// What is wrong with it.
        why: &'static str,
    },
    /// Two classes of one name.
    #[error("class {0} is named twice (upper and lower case count as the same)")]
    ClassTwice(String),
    /// Fewer than two classes.
    #[error("a trait needs at least two classes; this has {0}")]
    TooFewClasses(usize),
    /// A probability outside its range.
    #[error("{what} is {value}; it must lie {range}")]
    Value {
        /// What the number is.
        what: String,
        /// The number.
        value: f64,
        /// Where it may lie.
        range: &'static str,
    },
    /// The text for a late class cannot be read.
    #[error("\"{}\" does not say what comes late; write it as 'purple after green'", .0.escape_debug())]
    Late(String),
    /// A late class, or the one before it, is none of the classes.
    #[error("no class \"{}\" (the classes are {})", .class.escape_debug(), .classes.join(", "))]
    LateClass {
        /// The class as written.
        class: String,
        /// The classes there are.
        classes: Vec<String>,
    },
    /// Late classes that come after one another in a circle.
    #[error("{} shows after itself; one class must be there from the start", .0)]
    LateCircle(String),
    /// A late class without the ages at which it comes.
    #[error("{0} is late, but nothing says when it comes: give median days, spread and ceiling")]
    NoOnset(String),
    /// Ages at onset without a late class.
    #[error("an onset is given, but no class is late; name one: 'purple after green'")]
    IdleOnset,
    /// Not exactly one model in use.
    #[error("{0} gene models are in use; exactly one must be")]
    InUse(usize),
    /// Two models of one name.
    #[error("gene model {0} is named twice")]
    ModelTwice(String),
    /// A model whose rules do not work.
    #[error("gene model {model}: {error}")]
    Model {
        /// The model's name.
        model: String,
        /// What is wrong with its rules.
        error: Box<RuleError>,
    },
}

impl TraitError {
    /// The rule that could not be read with a caret under the character meant, where one character is.
    #[must_use]
    pub fn pointed(&self) -> Option<String> {
        match self {
            Self::Model { error, .. } => error.pointed(),
            _ => None,
        }
    }
}

/// Reads what comes late: `purple after green` gives `purple` and `green`.
///
/// # Errors
/// [`TraitError::Late`].
pub fn parse_late(text: &str) -> Result<(String, String), TraitError> {
    let words: Vec<&str> = text.split_whitespace().collect();
    match words[..] {
        [late, after, early] if after.eq_ignore_ascii_case("after") => {
            Ok((late.to_owned(), early.to_owned()))
        }
        _ => Err(TraitError::Late(text.to_owned())),
    }
}
