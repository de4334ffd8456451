//! `trait add --dominant`: a gene in growers' words, with symbols of its own.
//!
//! Gives the gene a symbol that no locus has, and spells the words out as classes and rules, which the gate of traits
//! then judges like any others. What genes are known already is told by the caller.

use crate::genetics::allele::case_twin;
use crate::genetics::{LocusBook, TraitError};
use crate::records::entry::{NewTrait, OneGene};

/// Most characters of a trait's code that go into the symbol, so that a number fits behind.
const LONGEST_STEM: usize = 16;

/// The symbol where the code has no letter with a capital.
const NAMELESS: &str = "G";

/// A gene with symbols of its own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Invented {
    /// The symbol of the locus, and of its dominant allele.
    pub symbol: String,
    /// The symbol of its recessive allele.
    pub recessive: String,
    /// The looks.
    pub words: OneGene,
}

/// Looks without a word cannot stand in a rule.
pub(super) fn check(words: &OneGene) -> Result<(), TraitError> {
    let said = [
        Some(&words.dominant),
        Some(&words.recessive),
        words.between.as_ref(),
    ];
    match said
        .into_iter()
        .flatten()
        .find(|word| word.trim().is_empty())
    {
        None => Ok(()),
        Some(word) => Err(TraitError::ClassName {
            class: word.clone(),
            why: "it has no letter",
        }),
    }
}

/// Finds symbols for the gene of a trait: the trait's code with a capital, `Hair` and `hair`, and a number where
/// another locus has them in any case; `held` are loci that only the trait itself reads so far.
pub(super) fn invent(code: &str, words: &OneGene, book: &LocusBook, held: &[String]) -> Invented {
    let letters: String = code.chars().filter(|c| c.is_alphanumeric()).collect();
    let stem: String = letters.to_lowercase().chars().take(LONGEST_STEM).collect();
    let stem = match case_twin(&stem) {
        Some(raised) if raised.starts_with(char::is_uppercase) => raised,
        _ => NAMELESS.to_owned(),
    };
    let numbered = (2..).map(|number| format!("{stem}{number}"));
    let is_free = |symbol: &String| match book.near(symbol) {
        None => true,
        Some(ix) => {
            let locus = book.get(ix);
            let own = Some(&locus.alleles) == pair(symbol).as_ref();
            own && locus.symbol == *symbol && held.contains(symbol)
        }
    };
    let symbol = std::iter::once(stem.clone())
        .chain(numbered)
        .find(is_free)
        .expect("numbers do not end");
    Invented {
        recessive: symbol.to_lowercase(),
        symbol,
        words: words.clone(),
    }
}

fn pair(symbol: &str) -> Option<Vec<String>> {
    Some(vec![symbol.to_owned(), case_twin(symbol)?])
}

impl Invented {
    /// The trait with the words spelled out as classes and rules.
    pub(super) fn spell_out(&self, entry: &NewTrait) -> NewTrait {
        let (symbol, twin) = (&self.symbol, &self.recessive);
        let OneGene {
            dominant,
            recessive,
            between,
        } = &self.words;
        let rule = |pattern: String, class: &String| format!("{pattern} => {class}");
        let last = rule("else".to_owned(), recessive);
        let (classes, rules) = match between {
            None => (
                vec![dominant.clone(), recessive.clone()],
                vec![rule(format!("{symbol}/_"), dominant), last],
            ),
            Some(between) => (
                vec![dominant.clone(), between.clone(), recessive.clone()],
                vec![
                    rule(format!("{symbol}/{symbol}"), dominant),
                    rule(format!("{symbol}/{twin}"), between),
                    last,
                ],
            ),
        };
        NewTrait {
            classes,
            rules,
            one_gene: None,
            ..entry.clone()
        }
    }
}
