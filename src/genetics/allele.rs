//! How an allele symbol is spelled.
//!
//! The rules for the letters of a symbol, and the guess at the partner of an allele that was written
//! alone. Knows nothing of loci; the locus book and the genotype notation ask here.

use thiserror::Error;

/// The longest allele or locus symbol, in characters.
pub const LONGEST_SYMBOL: usize = 24;

/// Why a text is no allele or locus symbol.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum SymbolFault {
    /// There is nothing.
    #[error("an empty symbol")]
    Empty,
    /// A character that a symbol may not hold, and its place counted in characters from 0.
    #[error(
        "{} may not stand in an allele symbol (letters, digits, + - . ' and superscript digits may)",
        name_of(*.0)
    )]
    Illegal(char, usize),
    /// More than [`LONGEST_SYMBOL`] characters.
    #[error("a symbol of {0} characters is too long (at most {LONGEST_SYMBOL})")]
    TooLong(usize),
}

/// Checks the spelling of an allele or locus symbol.
///
/// # Errors
/// [`SymbolFault`], with the place of the first character that is not allowed.
pub fn check_symbol(symbol: &str) -> Result<(), SymbolFault> {
    if symbol.is_empty() {
        return Err(SymbolFault::Empty);
    }
    if let Some((place, sign)) = symbol.chars().enumerate().find(|(_, c)| !is_allowed(*c)) {
        return Err(SymbolFault::Illegal(sign, place));
    }
    match symbol.chars().count() {
        length if length > LONGEST_SYMBOL => Err(SymbolFault::TooLong(length)),
        _ => Ok(()),
    }
}

/// The partner that an allele written alone brings: `Q` brings `q`, `pun9` brings `Pun9`, `CaX`
/// brings `cax`. A symbol without letters has none.
#[must_use]
pub fn case_twin(symbol: &str) -> Option<String> {
    let lower = symbol.to_lowercase();
    if lower != symbol {
        return Some(lower);
    }
    let (place, first) = symbol.char_indices().find(|(_, c)| c.is_alphabetic())?;
    let raised: String = first.to_uppercase().collect();
    let rest = &symbol[place + first.len_utf8()..];
    let twin = format!("{}{raised}{rest}", &symbol[..place]);
    (twin != symbol).then_some(twin)
}

/// Two alleles of a new locus in their order: the one with more capitals first, then the one marked
/// `+` as the wild type, else as written.
#[must_use]
pub fn dominant_first(first: String, second: String) -> [String; 2] {
    let rank = |s: &str| {
        let capitals = s.chars().filter(|c| c.is_uppercase()).count();
        (capitals, s.contains('+'))
    };
    if rank(&second) > rank(&first) {
        [second, first]
    } else {
        [first, second]
    }
}

/// Whether two symbols differ in nothing but case.
#[must_use]
pub fn same_but_for_case(one: &str, other: &str) -> bool {
    one.to_lowercase() == other.to_lowercase()
}

fn is_allowed(sign: char) -> bool {
    sign.is_alphanumeric() || matches!(sign, '+' | '-' | '.' | '\'')
}

fn name_of(sign: char) -> String {
    if sign.is_control() {
        format!("the control character U+{:04X}", u32::from(sign))
    } else {
        format!("\"{sign}\"")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twins_follow_the_case() {
        let twin = |s| case_twin(s).unwrap();
        assert_eq!(twin("Q"), "q");
        assert_eq!(twin("q"), "Q");
        assert_eq!(twin("pun9"), "Pun9");
        assert_eq!(twin("CaKR1"), "cakr1");
        assert_eq!(twin("2x"), "2X");
        assert_eq!(case_twin("12"), None);
        assert_eq!(case_twin("+"), None);
    }

    #[test]
    fn capitals_then_wild_type_come_first() {
        let order = |a: &str, b: &str| dominant_first(a.into(), b.into());
        assert_eq!(order("q", "Q"), ["Q", "q"]);
        assert_eq!(order("pamt", "pAMT"), ["pAMT", "pamt"]);
        assert_eq!(order("vg", "vg+"), ["vg+", "vg"]);
        assert_eq!(order("x2", "x1"), ["x2", "x1"]);
    }

    #[test]
    fn spelling_is_checked() {
        assert_eq!(check_symbol("pun1²"), Ok(()));
        assert_eq!(check_symbol("bs+-.'5"), Ok(()));
        assert_eq!(check_symbol(""), Err(SymbolFault::Empty));
        assert_eq!(check_symbol("a_b"), Err(SymbolFault::Illegal('_', 1)));
        assert_eq!(
            check_symbol("ab\u{7}"),
            Err(SymbolFault::Illegal('\u{7}', 2))
        );
        assert_eq!(check_symbol(&"a".repeat(24)), Ok(()));
        assert_eq!(check_symbol(&"a".repeat(25)), Err(SymbolFault::TooLong(25)));
        let shown = SymbolFault::Illegal('\u{1b}', 0).to_string();
        assert!(shown.starts_with("the control character U+001B"), "{shown}");
    }
}
