//! Which seedlings are meant by the words after `cull`, `thin`, `died` and `pot-up`, by their form alone.

use super::{Word, look, target, words};
use crate::cli::failure::Failure;
use crate::records::admit::Remedy;
use crate::records::cells::Spot;
use crate::records::code::Code;
use crate::records::entry::{FateWhom, Look};
use crate::records::target::Target;
use crate::records::text::shown;

/// Which seedlings are meant, by the form of the words after a verb.
///
/// # Errors
/// [`Failure`] where the words name none.
pub fn whom(verb: &str, typed: &[String]) -> Result<Vec<FateWhom>, Failure> {
    let mut found = Vec::new();
    let mut rest = typed;
    while let Some((first, after)) = rest.split_first() {
        if let Some((place, word)) = place_and_look(first) {
            let (code, spot) = place;
            found.push(FateWhom::Read(code, vec![spot], look(word)?));
            rest = after;
            continue;
        }
        let target = target(first).map_err(|failure| failure.try_remedy(Remedy::Help))?;
        let is_next = |word: &String| {
            matches!(word.parse(), Ok(Target::Spot(..))) || place_and_look(word).is_some()
        };
        let end = after.iter().position(is_next).unwrap_or(after.len());
        let those = whom_of(verb, &target, &after[..end]);
        found.extend(
            those.map_err(|failure| {
                failure.or_try(format!("locule {verb} {} 1-6,9", target.code()))
            })?,
        );
        rest = &after[end..];
    }
    Ok(found)
}

/// `T1-03=green` as a place and the word for a look.
fn place_and_look(word: &str) -> Option<((Code, Spot), &str)> {
    let (place, look) = word.trim_end_matches(',').split_once('=')?;
    match place.parse() {
        Ok(Target::Spot(code, spot)) => Some(((code, spot), look)),
        _ => None,
    }
}

/// Refuses a lone `01`: a count is never padded, and a seedling's number is written with its tray.
fn check_padding(verb: &str, target: &Target, typed: &[String]) -> Result<(), Failure> {
    let [number] = typed else { return Ok(()) };
    let count = number.trim_start_matches('0');
    let is_padded = number.len() > count.len()
        && !count.is_empty()
        && count.bytes().all(|b| b.is_ascii_digit());
    match target {
        Target::Code(tray) if is_padded => Err(Failure::usage(format!(
            "'{number}' could be the seedling {tray}-{number} or a count"
        ))
        .because("one seedling is written with its tray, a count without a leading 0")
        .try_typing(format!("locule {verb} {tray}-{number}"))
        .try_typing(format!("locule {verb} {tray} {count}"))),
        _ => Ok(()),
    }
}

fn whom_of(verb: &str, target: &Target, typed: &[String]) -> Result<Vec<FateWhom>, Failure> {
    check_padding(verb, target, typed)?;
    let words = words(typed)?;
    if words.is_empty() {
        return Ok(vec![FateWhom::Plant(target.clone())]);
    }
    let unreadable = || {
        let typed = shown(&typed.join(" "));
        Failure::usage(format!("'{typed}' names no seedlings of {target}"))
            .because("write seedlings, cells, a look, or a count")
            .try_typing(format!("locule {verb} {} 1-6,9", target.code()))
            .try_typing(format!("locule {verb} {target} green 2"))
    };
    let is_in_cells = |word: &Word| matches!(word, Word::Spots(_));
    if words.iter().any(is_in_cells) && words.iter().any(|word| matches!(word, Word::Look(_))) {
        return looks_in_cells(target, &words).ok_or_else(unreadable);
    }
    let mut found = Vec::new();
    let mut rest = &words[..];
    while !rest.is_empty() {
        let (whom, used) = match (target, rest) {
            (Target::Code(code), [Word::SpotsLook(spots, look), ..]) => {
                (FateWhom::Read(code.clone(), spots.clone(), look.clone()), 1)
            }
            (_, [Word::LookCount(look, count), ..]) => (
                FateWhom::Look(target.clone(), look.clone(), Some(*count)),
                1,
            ),
            (_, [Word::Count(count), Word::Look(look), ..])
            | (_, [Word::Look(look), Word::Count(count), ..]) => (
                FateWhom::Look(target.clone(), look.clone(), Some(*count)),
                2,
            ),
            (_, [Word::Look(look), ..]) => (FateWhom::Look(target.clone(), look.clone(), None), 1),
            (Target::Code(code), [Word::Spots(spots), ..]) => {
                (FateWhom::Spots(code.clone(), spots.clone()), 1)
            }
            (_, [Word::Count(count)]) => (FateWhom::Count(target.clone(), *count), 1),
            _ => return Err(unreadable()),
        };
        found.push(whom);
        rest = &rest[used..];
    }
    Ok(found)
}

/// Cells with a look each, `7-8 green 11 purple`: those among them that were read so. A look put first is of cells that
/// follow alone.
fn looks_in_cells(target: &Target, words: &[Word]) -> Option<Vec<FateWhom>> {
    let Target::Code(code) = target else {
        return None;
    };
    let those = |spots: &Vec<Spot>, look: &Look| {
        FateWhom::LookIn(code.clone(), spots.clone(), look.clone())
    };
    if let [Word::Look(look), Word::Spots(spots)] = words {
        return Some(vec![those(spots, look)]);
    }
    let pair = |pair: &[Word]| match pair {
        [Word::Spots(spots), Word::Look(look)] => Some(those(spots, look)),
        _ => None,
    };
    words.chunks(2).map(pair).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn split(line: &str) -> Vec<String> {
        line.split_whitespace().map(str::to_owned).collect()
    }

    #[test]
    fn those_removed_are_read() {
        let read = |line: &str| whom("cull", &split(line)).unwrap();
        assert_eq!(read("T1-02 T1-03").len(), 2);
        assert!(matches!(&read("T1 1-6,9")[0], FateWhom::Spots(_, spots) if spots.len() == 7));
        assert!(matches!(
            &read("T1-02 green")[0],
            FateWhom::Look(Target::Spot(..), _, None)
        ));
        for line in ["T1 green 2", "T1 2 green", "T1 green=2"] {
            assert!(
                matches!(&read(line)[0], FateWhom::Look(_, _, Some(n)) if n.get() == 2),
                "{line}"
            );
        }
        assert!(matches!(&read("T1 3")[0], FateWhom::Count(_, n) if n.get() == 3));
        assert!(matches!(&read("K1")[0], FateWhom::Plant(Target::Code(_))));
        for line in ["T1 7-8 green", "T1 green 7-8", "T1 7a,8 green"] {
            assert!(
                matches!(&read(line)[..], [FateWhom::LookIn(_, spots, _)] if spots.len() == 2),
                "{line}"
            );
        }
        assert_eq!(read("T1 7-8 green 9,10 purple").len(), 2);
        for line in ["T1 7-8=green", "T1-07=green"] {
            assert!(matches!(&read(line)[..], [FateWhom::Read(..)]), "{line}");
        }
        assert_eq!(read("T1-07=green T1-08=green T1-09 green T1-10").len(), 4);
        for line in ["T1 7-8 green 9,10", "T1 3 green 7-8", "T1 green 7-8 9,10"] {
            assert!(whom("cull", &split(line)).is_err(), "{line}");
        }
        assert!(whom("cull", &split("T1 3 4")).is_err());
        assert!(whom("cull", &split("T1-02 1-3")).is_err());
        assert!(whom("cull", &split("T1 03")).is_err());
    }
}
