//! What can be wrong with the rules of a gene model.
//!
//! Every error names the rule by its text, or the genotype that the rules forget.

use thiserror::Error;

use super::notation::NotationError;

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
    /// The pattern that could not be read and what is wrong with it, for a pointer and a hint.
    #[must_use]
    pub fn notation(&self) -> Option<(&str, &NotationError)> {
        match self {
            Self::Pattern { pattern, error, .. } => Some((pattern, error)),
            _ => None,
        }
    }
}
