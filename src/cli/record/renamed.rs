//! A code corrected by `amend`: which entries were typed with the old one, and stay as typed.

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
    use super::names;

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
