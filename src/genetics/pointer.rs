//! A caret under the character that is meant, for text that cannot be read.
//!
//! Called by every error about notation: genotypes, rules, pedigrees, generations, ratios, counts.

use unicode_width::UnicodeWidthChar;

/// Two lines: the text, and under it a caret at a character counted from 0. Control characters are shown as the
/// replacement character.
#[must_use]
pub fn pointed(text: &str, at: usize) -> String {
    let shown: String = text.chars().map(harmless).collect();
    let before = shown.chars().take(at);
    let width: usize = before.map(|c| c.width().unwrap_or(0)).sum();
    format!("{shown}\n{}^", " ".repeat(width))
}

fn harmless(sign: char) -> char {
    match sign {
        '\t' => ' ',
        _ if sign.is_control() => char::REPLACEMENT_CHARACTER,
        _ => sign,
    }
}
