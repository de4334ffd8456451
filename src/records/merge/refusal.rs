//! Why another ledger's records are not brought in, in words.

use super::outlook::{Clash, Contradiction, Unfit};
use crate::records::rows::Thing;

/// Codes, records and statements that a message names at most.
const SHOWN: usize = 8;

/// Why nothing was brought in.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MergeRefusal {
    /// Codes that name something else here.
    #[error("{} here already: {}", mean(clashes), listed(clashes.iter().map(|clash| clash.code.as_str())))]
    Clashes {
        /// Those codes.
        clashes: Vec<Clash>,
        /// A prefix under which none does.
        free: Option<String>,
    },
    /// Codes that are none with the prefix.
    #[error("with the prefix {} no code any more: {}", become_word(codes), listed(codes.iter().map(|unfit| unfit.there.as_str())))]
    Unfit {
        /// Those codes.
        codes: Vec<Unfit>,
        /// A prefix under which all are codes, and none names something here.
        free: Option<String>,
    },
    /// What the ledgers contradict each other in.
    #[error("the two ledgers contradict each other in {}", listed(contradictions.iter().map(|it| it.what.as_str())))]
    Contradictions {
        /// Each with both statements.
        contradictions: Vec<Contradiction>,
    },
    /// Records that would not agree once they stand together.
    #[error("together their records would not agree")]
    Discords {
        /// Each in words.
        leaves: Vec<String>,
    },
}

impl MergeRefusal {
    /// What else there is to know, a line each.
    #[must_use]
    pub fn causes(&self) -> Vec<String> {
        match self {
            Self::Clashes { clashes, .. } => {
                let traits =
                    |clash: &&Clash| (clash.there, clash.here) == (Thing::Trait, Thing::Trait);
                let other = clashes.iter().find(traits).map(|clash| {
                    format!(
                        "the trait {} means something else there: other classes, rules, organ or stage",
                        clash.code
                    )
                });
                let remedy = "with --prefix every code that comes gets a prefix".to_owned();
                other.into_iter().chain([remedy]).collect()
            }
            Self::Unfit { codes, .. } => {
                let first = codes.first().map(|unfit| unfit.why.to_string());
                first.into_iter().collect()
            }
            Self::Contradictions { contradictions } => contradictions
                .iter()
                .take(SHOWN)
                .flat_map(|it| {
                    [
                        format!("here:  {}", it.here),
                        format!("there: {}", it.there),
                    ]
                })
                .collect(),
            Self::Discords { leaves } => leaves.iter().take(SHOWN).cloned().collect(),
        }
    }
}

fn mean(clashes: &[Clash]) -> String {
    match clashes.len() {
        1 => "a code of theirs names something".to_owned(),
        n => format!("{n} codes of theirs name something"),
    }
}

fn become_word(codes: &[Unfit]) -> String {
    match codes.len() {
        1 => "a code is".to_owned(),
        n => format!("{n} codes are"),
    }
}

fn listed<'a>(words: impl Iterator<Item = &'a str>) -> String {
    let words: Vec<&str> = words.collect();
    let mut said = words[..words.len().min(SHOWN)].join(", ");
    if words.len() > SHOWN {
        said.push_str(&format!(" and {} more", words.len() - SHOWN));
    }
    said
}
