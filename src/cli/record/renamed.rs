//! A code corrected by `amend`: which entries were typed with the old one, and stay as typed.

use std::collections::BTreeMap;

use crate::cli::remedy::joined;
use crate::cli::story::Book;
use crate::records::code::fold;
use crate::records::facts::Facts;
use crate::records::rows::{CodeRow, Thing};
use crate::report::amended::Renamed;
use crate::store::EntryKind;

/// The things that are called otherwise afterwards.
pub(super) fn renamed(book: &Book, before: &Facts, after: &Facts, amended: i64) -> Vec<Renamed> {
    let codes = before.code.iter();
    let pairs = codes.filter_map(|was| Some((was, after.code.get(was.id)?)));
    let other = pairs.filter(|(was, is)| was.typed != is.typed && names_the_same(was, is));
    other
        .map(|(was, is)| Renamed {
            was: was.typed.clone(),
            is: is.typed.clone(),
            typed_with: match was.key == is.key {
                true => Vec::new(),
                false => typed_with(book, &was.key, amended),
            },
            on_tags: was.thing != Thing::Trait,
        })
        .collect()
}

/// Words with the codes that things have by now, in the place of those they had when the words were typed.
pub(super) fn by_new_names(words: Vec<String>, names: &BTreeMap<String, String>) -> Vec<String> {
    let mut is_parents = false;
    let mut renamed = Vec::new();
    for word in &words {
        renamed.push(match word.split_once('=') {
            _ if is_parents => parents_by_new_names(word, names),
            Some((flag, said)) if PARENTS.contains(&flag) => {
                format!("{flag}={}", parents_by_new_names(said, names))
            }
            _ => by_new_name(word, names),
        });
        is_parents = PARENTS.contains(&word.as_str());
    }
    renamed
}

/// Flags whose value names mothers and fathers: `CW/NL=0.82,CW/CW=0.1`.
const PARENTS: [&str; 2] = ["--as", "--odds"];

fn parents_by_new_names(said: &str, names: &BTreeMap<String, String>) -> String {
    let sides = said.split_inclusive([',', '/', '=']);
    let renamed = sides.map(|side| {
        let name = side.trim_end_matches([',', '/', '=']);
        by_new_name(name, names) + &side[name.len()..]
    });
    renamed.collect()
}

/// A word that is a code, the value of a flag, or a cell or lot of it; any other stays as it is.
fn by_new_name(word: &str, names: &BTreeMap<String, String>) -> String {
    let at = match word.split_once('=') {
        Some((flag, _)) if word.starts_with("--") => flag.len() + 1,
        _ => 0,
    };
    let (flag, said) = word.split_at(at);
    let is_number = |rest: &str| {
        rest.get(1..)
            .is_some_and(|n| n.starts_with(|c: char| c.is_ascii_digit()))
    };
    let end = said
        .char_indices()
        .find(|(at, c)| matches!(c, '-' | '/') && is_number(&said[*at..]));
    let (code, rest) = said.split_at(end.map_or(said.len(), |(at, _)| at));
    match names.get(&fold(code)) {
        Some(new) => format!("{flag}{new}{rest}"),
        None => word.to_owned(),
    }
}

fn names_the_same(was: &CodeRow, is: &CodeRow) -> bool {
    (was.thing, was.thing_id) == (is.thing, is.thing_id)
}

/// The later entries in force with a code among their words.
fn typed_with(book: &Book, key: &str, amended: i64) -> Vec<i64> {
    let later = book.entries.iter().filter(|one| one.entry > amended);
    let recorded = later.filter(|one| one.kind == EntryKind::Record && one.in_force());
    let says = |words: Vec<String>| names(&fold(&joined(&words)), key);
    recorded
        .filter(|one| book.words(one).is_some_and(says))
        .map(|one| one.entry)
        .collect()
}

/// Whether a code stands in a line by itself, or before the number of a cell or lot.
fn names(line: &str, key: &str) -> bool {
    let is_word = |c: char| c.is_alphanumeric() || matches!(c, '.' | '_' | '-');
    line.split(|c: char| !is_word(c)).any(|word| {
        let cell = word.strip_prefix(key).and_then(|rest| {
            let number = rest.strip_prefix('-')?;
            Some(number.starts_with(|c: char| c.is_ascii_digit()))
        });
        word == key || cell == Some(true)
    })
}

#[cfg(test)]
mod tests {
    use super::{by_new_name, by_new_names, names};
    use std::collections::BTreeMap;

    #[test]
    fn a_word_is_given_its_new_code() {
        let names = BTreeMap::from([("rb".to_owned(), "RBL".to_owned())]);
        for (word, wanted) in [
            ("RB", "RBL"),
            ("rb-03", "RBL-03"),
            ("RB/2", "RBL/2"),
            ("--to=RB", "--to=RBL"),
            ("RB leggy", "RB leggy"),
            ("RB-x", "RB-x"),
        ] {
            assert_eq!(by_new_name(word, &names), wanted);
        }
    }

    #[test]
    fn parents_are_given_their_new_codes() {
        let names = BTreeMap::from([("rb".to_owned(), "RBL".to_owned())]);
        let put = |line: &str| {
            let words = line.split(' ').map(str::to_owned).collect();
            by_new_names(words, &names).join(" ")
        };
        assert_eq!(
            put("adopt T1-03 RB --odds NL/rb=0.8,RB-02/RB=0.1 --as=RB"),
            "adopt T1-03 RBL --odds NL/RBL=0.8,RBL-02/RBL=0.1 --as=RBL"
        );
        assert_eq!(put("note T1 --why NL/rb"), "note T1 --why NL/rb");
    }

    #[test]
    fn a_code_is_found_as_a_word_cell_or_lot() {
        for line in [
            "cross rb nl",
            "sow nl --father=rb",
            "cull rb-03",
            "sow rb/2",
        ] {
            assert!(names(line, "rb"), "{line}");
        }
        for line in ["cross rbl nl", "note nl arb", "show rb.2", "show rb-x"] {
            assert!(!names(line, "rb"), "{line}");
        }
    }
}
