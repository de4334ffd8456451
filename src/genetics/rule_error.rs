//! What can be wrong with the rules of a gene model.
//!
//! Every error names the rule by its text, or the genotype that the rules forget.

use thiserror::Error;

use super::notation::NotationError;
use super::pointer::pointed;

/// Why a gene model cannot be built from its rules.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum RuleError {
    /// No `=>` in the text of a rule.
    #[error("rule \"{}\" has no arrow; write it as 'A/_ => purple' or 'else => green'", .rule.escape_debug())]
    NoArrow {
        /// The text as written.
        rule: String,
    },
    /// Nothing before or after the arrow.
    #[error("rule \"{}\" lacks its {lacks}; write it as 'A/_ => purple' or 'else => green'", .rule.escape_debug())]
    Half {
        /// The text as written.
        rule: String,
        /// What is not there.
        lacks: &'static str,
    },
    /// The pattern is no genotype.
    #[error("rule \"{}\": {error}", .rule.escape_debug())]
    Pattern {
        /// The rule as text.
        rule: String,
        /// The pattern, which the error's place counts in.
        pattern: String,
        /// What is wrong with it.
        error: Box<NotationError>,
    },
    /// `cytoplasm:` is followed by something else than `normal` or `sterile`.
    #[error("rule \"{}\": cytoplasm is normal or sterile, not \"{}\"", .rule.escape_debug(), .word.escape_debug())]
    CytoplasmWord {
        /// The rule as text.
        rule: String,
        /// The word as written.
        word: String,
    },
    /// The pattern asks for the cytoplasm twice.
    #[error("rule \"{}\" asks for the cytoplasm twice", .rule.escape_debug())]
    CytoplasmTwice {
        /// The rule as text.
        rule: String,
    },
    /// A class that the trait does not have.
    #[error("rule \"{}\": no class \"{}\" (the classes are {})", .rule.escape_debug(), .class.escape_debug(), .classes.join(", "))]
    UnknownClass {
        /// The rule as text.
        rule: String,
        /// The class as written.
        class: String,
        /// The classes there are.
        classes: Vec<String>,
    },
    /// A rule behind `else`.
    #[error("rule \"{}\" stands after 'else', where nothing is left for it; put 'else' last", .rule.escape_debug())]
    AfterElse {
        /// The rule as text.
        rule: String,
    },
    /// A rule that no genotype reaches, because earlier rules take all that fit it.
    #[error("rule \"{}\" can never match: the rules before it take every genotype that fits; move it up or leave it out", .rule.escape_debug())]
    Shadowed {
        /// The rule as text.
        rule: String,
    },
    /// A genotype without a class.
    #[error("{genotype} has no class; add a rule for it, or 'else => ...'")]
    NoClass {
        /// The genotype.
        genotype: String,
    },
    /// A model without rules.
    #[error("a gene model needs at least one rule, such as 'A/_ => purple'")]
    NoRules,
    /// More rules than a model may have.
    #[error("{0} rules are too many for one gene model (at most 64)")]
    TooManyRules(usize),
}

impl RuleError {
    /// The text that could not be read with a caret under the character meant, where one character is.
    #[must_use]
    pub fn pointed(&self) -> Option<String> {
        let (text, at) = match self {
            Self::Pattern { pattern, error, .. } => return Some(error.pointed(pattern)),
            Self::NoArrow { rule } => (rule, arrow_place(rule)),
            Self::Half { rule, lacks } => (
                rule,
                match *lacks {
                    "class" => rule.chars().count(),
                    _ => place_of(rule, "=>"),
                },
            ),
            Self::CytoplasmWord { rule, word } => (rule, place_of(&rule.to_lowercase(), word)),
            Self::CytoplasmTwice { rule } => {
                let lower = rule.to_lowercase();
                let second = lower.rfind("cytoplasm:").unwrap_or(0);
                (rule, lower[..second].chars().count())
            }
            Self::UnknownClass { rule, class, .. } => {
                let start = rule.rfind(class.as_str()).unwrap_or(0);
                (rule, rule[..start].chars().count())
            }
            _ => return None,
        };
        Some(pointed(text, at))
    }
}

/// Where the arrow should stand: at what was written in its place, else at the end.
fn arrow_place(rule: &str) -> usize {
    let signs = ["->", "=", ">", ":", "\u{2192}"];
    let found = signs.iter().filter_map(|sign| rule.find(sign)).min();
    rule[..found.unwrap_or(rule.len())].chars().count()
}

fn place_of(text: &str, part: &str) -> usize {
    text.find(part)
        .map_or(0, |start| text[..start].chars().count())
}
