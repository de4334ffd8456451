//! Codes: the short names on tags and labels.
//!
//! One namespace serves parents, crosses, trays and traits; codes forgive case, so each has a
//! [`Code::key`] under which it is looked up and is kept as it was typed.

use std::fmt;
use std::str::FromStr;

use unicode_normalization::UnicodeNormalization;

/// Longest code, in characters.
pub const CODE_MAX: usize = 24;

/// A code: letters, digits, `.` and `_`, a hyphen only before a letter, beginning with a letter.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Code(String);

/// Why a text is no code.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CodeError {
    /// Nothing at all.
    #[error("an empty code; give it one to {CODE_MAX} letters, digits, '.' or '_'")]
    Empty,
    /// Too long.
    #[error("'{0}' has {1} characters; a code has at most {CODE_MAX}")]
    TooLong(String, usize),
    /// Starts with something other than a letter.
    #[error("'{0}' begins with {1}; a code begins with a letter")]
    Beginning(String, String),
    /// A character that a code cannot hold.
    #[error(
        "'{0}' holds {1}; a code has letters, digits, '.', '_' and a hyphen only before a letter"
    )]
    Character(String, String),
}

impl Code {
    /// The key under which codes are compared: NFC, lower case.
    #[must_use]
    pub fn key(&self) -> String {
        fold(&self.0)
    }

    /// Whether it has the form of the codes given to crosses and trays by themselves: `X12`, `T3`.
    #[must_use]
    pub fn is_automatic(&self) -> bool {
        let number = self.0.strip_prefix(['x', 'X', 't', 'T']);
        number.is_some_and(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit()))
    }

    /// As typed.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// Folds a name for comparison: NFC, lower case, NFC again.
#[must_use]
pub fn fold(text: &str) -> String {
    let lower: String = text.nfc().collect::<String>().to_lowercase();
    lower.nfc().collect()
}

/// A character as an error message may show it: itself, or its number where it has no shape.
#[must_use]
pub fn show_character(c: char) -> String {
    if c.is_control() || c == '\u{2028}' || c == '\u{2029}' || is_bidi(c) {
        format!("U+{:04X}", u32::from(c))
    } else if c == ' ' {
        "a space".to_owned()
    } else {
        format!("'{c}'")
    }
}

/// Whether a character silently changes the direction or joining of text around it.
#[must_use]
pub fn is_bidi(c: char) -> bool {
    matches!(c, '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2060}'..='\u{2069}'
        | '\u{061C}' | '\u{FEFF}')
}

impl FromStr for Code {
    type Err = CodeError;

    fn from_str(text: &str) -> Result<Self, CodeError> {
        let shown: String = text
            .chars()
            .take(60)
            .filter(|c| !c.is_control() && !is_bidi(*c))
            .collect();
        let mut characters = text.chars().peekable();
        let Some(first) = characters.peek().copied() else {
            return Err(CodeError::Empty);
        };
        let length = text.chars().count();
        if length > CODE_MAX {
            return Err(CodeError::TooLong(shown, length));
        }
        if !first.is_alphabetic() {
            return Err(CodeError::Beginning(shown, show_character(first)));
        }
        while let Some(c) = characters.next() {
            let allowed = c.is_alphanumeric()
                || unicode_normalization::char::is_combining_mark(c)
                || c == '.'
                || c == '_'
                || (c == '-' && characters.peek().is_some_and(|next| next.is_alphabetic()));
            if !allowed {
                return Err(CodeError::Character(shown, show_character(c)));
            }
        }
        Ok(Self(text.to_owned()))
    }
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_checked() {
        for good in ["NL", "X1", "fruit-attitude", "a.b_c", "É1"] {
            assert_eq!(good.parse::<Code>().unwrap().to_string(), good);
        }
        for bad in [
            "",
            "1X",
            "T1-3",
            "a b",
            "x-",
            "-x",
            "abcdefghijklmnopqrstuvwxy",
            "a/b",
            "a\u{7}b",
        ] {
            assert!(bad.parse::<Code>().is_err(), "{bad:?}");
        }
        let control = "a\u{7}b".parse::<Code>().unwrap_err().to_string();
        assert!(
            control.contains("U+0007") && !control.contains('\u{7}'),
            "{control}"
        );
    }

    #[test]
    fn keys_forgive_case_and_composition() {
        let composed: Code = "É1".parse().unwrap();
        let decomposed: Code = "e\u{301}1".parse().unwrap();
        assert_eq!(composed.key(), decomposed.key());
    }
}
