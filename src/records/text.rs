//! Free text at the door: names, labels, remarks.
//!
//! Text that could steer a terminal or turn the reading direction never gets in, and error messages
//! show it harmlessly.

use super::code::{is_bidi, show_character};

/// Longest name, label or short description, in characters.
pub const NAME_MAX: usize = 100;
/// Longest remark, in characters.
pub const NOTE_MAX: usize = 4_000;
/// How much of an offending text a message repeats, in characters.
const SHOWN_MAX: usize = 60;

/// Why a text is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TextError {
    /// Nothing but blanks.
    #[error("the {0} is empty; write something or leave it out")]
    Empty(&'static str),
    /// Too long.
    #[error("the {what} '{start}' has {length} characters; it may have {most}")]
    TooLong {
        /// What it is: a name, a remark.
        what: &'static str,
        /// How it begins.
        start: String,
        /// How many characters it has.
        length: usize,
        /// How many it may have.
        most: usize,
    },
    /// Not of the form it must have.
    #[error("the {what} '{text}' is not {wanted}")]
    Form {
        /// What it is: a unit.
        what: &'static str,
        /// The text, made harmless.
        text: String,
        /// What it must be.
        wanted: &'static str,
    },
    /// A character that has no shape of its own.
    #[error("the {what} '{text}' holds {character}, which cannot be shown; leave it out")]
    Unshowable {
        /// What it is: a name, a remark.
        what: &'static str,
        /// The text, made harmless.
        text: String,
        /// The character's number.
        character: String,
    },
}

/// Whether a character must not stand in any text of the ledger.
#[must_use]
pub fn is_unshowable(c: char) -> bool {
    c.is_control() || is_bidi(c) || matches!(c, '\u{2028}' | '\u{2029}')
}

/// A typed text as a message may repeat it: control and direction characters replaced, the end cut.
#[must_use]
pub fn shown(text: &str) -> String {
    let harmless = |c| {
        if is_unshowable(c) {
            char::REPLACEMENT_CHARACTER
        } else {
            c
        }
    };
    let mut start: String = text.chars().take(SHOWN_MAX).map(harmless).collect();
    if text.chars().nth(SHOWN_MAX).is_some() {
        start.push('…');
    }
    start
}

/// Checks a text that may be empty and gives it back without blanks at its ends.
///
/// # Errors
/// [`TextError`] where it is too long or holds what cannot be shown.
pub fn check(what: &'static str, text: &str, most: usize) -> Result<String, TextError> {
    let trimmed = text.trim();
    if let Some(c) = trimmed.chars().find(|c| is_unshowable(*c)) {
        let (text, character) = (shown(trimmed), show_character(c));
        return Err(TextError::Unshowable {
            what,
            text,
            character,
        });
    }
    let length = trimmed.chars().count();
    if length > most {
        let start = trimmed.chars().take(20).chain(['…']).collect();
        return Err(TextError::TooLong {
            what,
            start,
            length,
            most,
        });
    }
    Ok(trimmed.to_owned())
}

/// Checks a text that must say something.
///
/// # Errors
/// [`TextError`] where it is blank, too long or holds what cannot be shown.
pub fn require(what: &'static str, text: &str, most: usize) -> Result<String, TextError> {
    let checked = check(what, text, most)?;
    if checked.is_empty() {
        Err(TextError::Empty(what))
    } else {
        Ok(checked)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_are_checked_at_the_door() {
        assert_eq!(
            require("name", "  Night Lantern ", NAME_MAX).unwrap(),
            "Night Lantern"
        );
        assert_eq!(
            require("name", " \u{3000}", NAME_MAX),
            Err(TextError::Empty("name"))
        );
        assert_eq!(check("name", "", NAME_MAX).unwrap(), "");
        assert!(check("name", &"n".repeat(100), NAME_MAX).is_ok());
        let long = check("name", &"n".repeat(101), NAME_MAX).unwrap_err();
        assert!(matches!(
            long,
            TextError::TooLong {
                length: 101,
                most: 100,
                ..
            }
        ));
        for bad in [
            "a\u{1b}[31m",
            "a\u{202e}b",
            "a\u{2028}b",
            "a\nb",
            "a\u{0}b",
            "a\u{9b}b",
        ] {
            let error = check("remark", bad, NOTE_MAX).unwrap_err();
            assert!(matches!(error, TextError::Unshowable { .. }), "{bad:?}");
            assert!(!error.to_string().chars().any(is_unshowable), "{bad:?}");
        }
    }
}
