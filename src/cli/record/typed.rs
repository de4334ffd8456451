//! Words typed after a command, read by their form alone: looks, counts, cells, seedlings.
//!
//! The order is forgiving (`9 purple 2 green`, `purple=9 green=2`); whether the classes, cells and trays
//! exist is for the gate. `score`, `parent add` and the four fates read their words here.

mod whom;

pub use whom::whom;

use crate::cli::failure::Failure;
use crate::records::admit::Remedy;
use crate::records::cells::{CellError, CellRange, Spot};
use crate::records::code::Code;
use crate::records::count::Count;
use crate::records::entry::{Look, ScoreWhat, Seen, SeenWhat};
use crate::records::target::Target;
use crate::records::text::shown;

/// One typed word by its form.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Word {
    Count(Count),
    Spots(Vec<Spot>),
    Look(Look),
    LookCount(Look, Count),
    SpotsLook(Vec<Spot>, Look),
}

/// A look as typed: `purple`, `maybe-green`, `purple/hairy`, `foliage:purple`, `early`.
///
/// # Errors
/// [`Failure`] where a piece of it is empty.
pub fn look(text: &str) -> Result<Look, Failure> {
    text.split('/').map(|piece| seen(piece, text)).collect()
}

/// Several looks of one plant, separated by commas: `purple,red`.
///
/// # Errors
/// [`Failure`] where a piece of it is empty.
pub fn looks_of_one(text: &str) -> Result<Look, Failure> {
    text.split([',', '/'])
        .map(|piece| seen(piece, text))
        .collect()
}

fn seen(piece: &str, whole: &str) -> Result<Seen, Failure> {
    let piece = piece.trim();
    let (doubtful, piece) = strip_maybe(piece);
    let (of, class) = match piece.split_once(':') {
        Some((of, class)) => (Some(of.trim().to_owned()), class.trim()),
        None => (None, piece),
    };
    let (still_doubtful, class) = strip_maybe(class);
    if class.is_empty() || of.as_ref().is_some_and(String::is_empty) {
        return Err(Failure::usage(format!("'{}' names no look", shown(whole)))
            .because("a look is a class, or classes of several traits joined by a slash"));
    }
    let what = match class.to_lowercase().as_str() {
        word @ ("early" | "dim") if doubtful || still_doubtful => {
            return Err(Failure::usage(format!(
                "'{}' says nothing more than '{word}'",
                shown(whole)
            ))
            .because(format!("'{word}' says already that nothing could be told"))
            .try_remedy(Remedy::Word {
                typed: format!("maybe-{word}"),
                by: word.to_owned(),
                otherwise: "locule score --help".to_owned(),
            }));
        }
        "early" => SeenWhat::Early,
        "dim" => SeenWhat::Dim,
        _ if doubtful || still_doubtful => SeenWhat::Maybe(class.to_owned()),
        _ => SeenWhat::Class(class.to_owned()),
    };
    Ok(Seen { of, what })
}

fn strip_maybe(text: &str) -> (bool, &str) {
    match text.get(..6) {
        Some(start) if start.eq_ignore_ascii_case("maybe-") => (true, &text[6..]),
        _ => (false, text),
    }
}

/// Seedlings of a tray as typed: `1-6,9`, `3a`.
fn spots(text: &str) -> Result<Vec<Spot>, Failure> {
    let mut found = Vec::new();
    for piece in text.split(',') {
        if let Ok(spot) = piece.trim().parse::<Spot>() {
            found.push(spot);
            continue;
        }
        let range: CellRange = piece
            .parse()
            .map_err(|error: CellError| Failure::usage(error.to_string()))?;
        let cells = range.cells().iter();
        found.extend(cells.map(|cell| Spot {
            cell: *cell,
            part: String::new(),
        }));
    }
    Ok(found)
}

fn starts_with_digit(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_digit())
}

fn is_number(text: &str) -> bool {
    let digits = text.strip_prefix('-').unwrap_or(text);
    !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit())
}

fn word(text: &str) -> Result<Word, Failure> {
    if let Some((left, right)) = text.split_once('=') {
        return if starts_with_digit(left) {
            Ok(Word::SpotsLook(spots(left)?, look(right)?))
        } else {
            Ok(Word::LookCount(look(left)?, count(right)?))
        };
    }
    if is_number(text) {
        Ok(Word::Count(count(text)?))
    } else if starts_with_digit(text) {
        Ok(Word::Spots(spots(text)?))
    } else {
        Ok(Word::Look(look(text)?))
    }
}

/// A count as typed.
///
/// # Errors
/// [`Failure`] naming the text.
pub fn count(text: &str) -> Result<Count, Failure> {
    text.parse::<Count>()
        .map_err(|error| Failure::usage(error.to_string()))
}

/// Typed words without trailing commas and without `and`; `maybe green` is one word.
fn words(typed: &[String]) -> Result<Vec<Word>, Failure> {
    joined_maybe(typed).iter().map(|text| word(text)).collect()
}

fn joined_maybe(typed: &[String]) -> Vec<String> {
    let mut joined: Vec<String> = Vec::new();
    for text in typed {
        let text = text.trim().trim_end_matches(',');
        if text.is_empty() || text.eq_ignore_ascii_case("and") {
            continue;
        }
        match joined.last_mut() {
            Some(before) if ends_in_maybe(before) && !starts_with_digit(text) => {
                before.push('-');
                before.push_str(text);
            }
            _ => joined.push(text.to_owned()),
        }
    }
    joined
}

fn ends_in_maybe(text: &str) -> bool {
    let last = text.rsplit(['=', ':', '/']).next().unwrap_or(text);
    last.eq_ignore_ascii_case("maybe")
}

/// What was scored in a tray or cell, or of a plant, by the form of the words.
///
/// # Errors
/// [`Failure`] where the words make no tally, no list of seedlings and no look.
pub fn score(target: &Target, typed: &[String]) -> Result<ScoreWhat, Failure> {
    check_no_fate(target, typed)?;
    score_words(typed).map_err(|failure| {
        let tray = target.code();
        match target {
            Target::Spot(..) => failure.or_try(format!("locule score {target} green")),
            _ => match several_looks(typed) {
                Some(look) => failure.or_try(format!("locule score {tray} {look}")),
                None => failure.or_try(format!("locule score {tray} purple=9 green=2")),
            },
        }
    })
}

/// Several looks of one plant as they are joined: `hot/pendant`; nothing where other words stand among them.
fn several_looks(typed: &[String]) -> Option<String> {
    let words = joined_maybe(typed);
    let is_look = |text: &String| matches!(word(text), Ok(Word::Look(_)));
    (words.len() > 1 && words.iter().all(is_look)).then(|| words.join("/"))
}

/// Refuses a fate among the looks: `8=dead`, `2 dead`, `dead=2`.
fn check_no_fate(target: &Target, typed: &[String]) -> Result<(), Failure> {
    for (at, word) in typed.iter().enumerate() {
        let (left, right) = word.split_once('=').unwrap_or(("", word));
        let (whom, fate) = match (fate_of(right), fate_of(left)) {
            (Some(fate), _) => (left, fate),
            (_, Some(fate)) => (right, fate),
            _ => continue,
        };
        let is_cell = whom == left && is_number(whom);
        let before = at.checked_sub(1).and_then(|before| typed.get(before));
        let is_place = |word: &&String| starts_with_digit(word) && !word.contains('=');
        let whom = match whom {
            "" => before.filter(is_place).map_or("", String::as_str),
            named => named,
        };
        let command = match is_cell {
            true => format!("locule {fate} {target}-{whom}"),
            false => format!("locule {fate} {target} {whom}"),
        };
        return Err(Failure::usage(format!("'{}' is no look", shown(word)))
            .because("what became of seedlings is recorded by itself; their readings stay evidence")
            .try_typing(command.trim_end()));
    }
    Ok(())
}

/// The command that records what a word says became of a seedling.
fn fate_of(word: &str) -> Option<&'static str> {
    match word.trim().to_lowercase().as_str() {
        "dead" | "died" | "gone" => Some("died"),
        "culled" | "pulled" => Some("cull"),
        "thinned" => Some("thin"),
        "potted" | "potted-up" => Some("pot-up"),
        _ => None,
    }
}

fn score_words(typed: &[String]) -> Result<ScoreWhat, Failure> {
    let words = words(typed)?;
    let mut tally: Vec<(Count, Look)> = Vec::new();
    let mut plants: Vec<(Vec<Spot>, Look)> = Vec::new();
    let mut rest = &words[..];
    while !rest.is_empty() {
        let used = match rest {
            [Word::LookCount(look, count), ..] => {
                tally.push((*count, look.clone()));
                1
            }
            [Word::SpotsLook(spots, look), ..] => {
                plants.push((spots.clone(), look.clone()));
                1
            }
            [Word::Count(count), Word::Look(look), ..]
            | [Word::Look(look), Word::Count(count), ..] => {
                tally.push((*count, look.clone()));
                2
            }
            [Word::Spots(spots), Word::Look(look), ..] => {
                plants.push((spots.clone(), look.clone()));
                2
            }
            [Word::Look(look)] if words.len() == 1 => return Ok(ScoreWhat::Plant(look.clone())),
            _ => return Err(unreadable_score(typed, words.len() - rest.len())),
        };
        rest = &rest[used..];
    }
    match (tally.is_empty(), plants.is_empty()) {
        (false, true) => Ok(ScoreWhat::Tally(tally)),
        (true, false) => Ok(ScoreWhat::Spots(plants)),
        (true, true) => Err(unreadable_score(typed, 0)),
        (false, false) => Err(unreadable_score(typed, 0)
            .because("counts and single seedlings are scored in two commands")),
    }
}

/// Words that are no score, from the one on that could not be read.
fn unreadable_score(typed: &[String], read: usize) -> Failure {
    let words = joined_maybe(typed);
    let from_there = match words.get(read..) {
        Some([]) | None => words.join(" "),
        Some(rest) => rest
            .iter()
            .take(2)
            .map(String::as_str)
            .collect::<Vec<_>>()
            .join(" "),
    };
    Failure::usage(format!("'{}' is no score", shown(&from_there)))
        .because("write a tally (purple=9 green=2), seedlings with their looks (1-6=purple 7=green), or one look of one plant (green)")
}

/// A code, a place in a tray or a lot as typed.
///
/// # Errors
/// [`Failure`] naming the text.
pub fn target(text: &str) -> Result<Target, Failure> {
    text.parse::<Target>()
        .map_err(|error| Failure::usage(error.to_string()))
}

/// The target and the other words, whichever came first.
///
/// # Errors
/// [`Failure`] where there is no word that could be a target.
pub fn target_first(typed: &[String]) -> Result<(Target, Vec<String>), Failure> {
    if let Some(command) = seedlings_apart(typed) {
        let words = shown(&typed.join(" "));
        return Err(Failure::usage(format!("'{words}' joins seedling and look"))
            .because("write the tray first, then each cell with its look")
            .try_typing(command));
    }
    read_target_first(typed).map_err(|failure| failure.try_remedy(Remedy::Help))
}

/// What `T2-10=green T2-11=purple` means: `locule score T2 10=green 11=purple`.
fn seedlings_apart(typed: &[String]) -> Option<String> {
    let mut tray: Option<Code> = None;
    let mut pieces = Vec::new();
    for word in typed {
        let (place, look) = word.split_once('=')?;
        let Ok(Target::Spot(code, spot)) = place.parse() else {
            return None;
        };
        if *tray.get_or_insert(code.clone()) != code {
            return None;
        }
        pieces.push(format!("{}{}={look}", spot.cell, spot.part));
    }
    tray.map(|tray| format!("locule score {tray} {}", pieces.join(" ")))
}

fn read_target_first(typed: &[String]) -> Result<(Target, Vec<String>), Failure> {
    let counts_first =
        |word: &String| word.starts_with(|c: char| c.is_ascii_digit()) || word.contains('=');
    match typed {
        [rest @ .., last] if typed.first().is_some_and(counts_first) => {
            Ok((target(last)?, rest.to_vec()))
        }
        [first, rest @ ..] => Ok((target(first)?, rest.to_vec())),
        [] => Err(Failure::usage("nothing is named")),
    }
}

/// `NAME=TEXT` as typed.
///
/// # Errors
/// [`Failure`] where there is no `=`.
pub fn pair(text: &str, example: &str) -> Result<(String, String), Failure> {
    let halves = text
        .split_once('=')
        .map(|(left, right)| (left.trim(), right.trim()));
    match halves {
        Some((left, right)) if !left.is_empty() && !right.is_empty() => {
            Ok((left.to_owned(), right.to_owned()))
        }
        _ => Err(
            Failure::usage(format!("'{}' lacks its name or its value", shown(text)))
                .try_typing(example),
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn split(line: &str) -> Vec<String> {
        line.split_whitespace().map(str::to_owned).collect()
    }

    fn tally(line: &str) -> Vec<(i64, Look)> {
        match score_words(&split(line)).unwrap() {
            ScoreWhat::Tally(tally) => tally.into_iter().map(|(n, look)| (n.get(), look)).collect(),
            other => panic!("{line}: {other:?}"),
        }
    }

    #[test]
    fn a_tally_is_read_in_any_order() {
        let wanted = vec![(9, look("purple").unwrap()), (2, look("green").unwrap())];
        for line in [
            "purple=9 green=2",
            "9 purple 2 green",
            "purple 9 green 2",
            "9 purple, and 2 green",
        ] {
            assert_eq!(tally(line), wanted, "{line}");
        }
        assert_eq!(tally("purple/hairy=5")[0].1.len(), 2);
    }

    #[test]
    fn seedlings_are_read_by_their_places() {
        let ScoreWhat::Spots(spots) =
            score_words(&split("1-3,5a=purple 7=maybe-green 8=early")).unwrap()
        else {
            panic!("no seedlings")
        };
        assert_eq!(spots[0].0.len(), 4);
        assert_eq!(spots[0].0[3].to_string(), "05a");
        assert_eq!(spots[1].1[0].what, SeenWhat::Maybe("green".into()));
        assert_eq!(spots[2].1[0].what, SeenWhat::Early);
        let apart = score_words(&split("1=purple 7=maybe green, 8,9 maybe purple")).unwrap();
        assert!(
            matches!(&apart, ScoreWhat::Spots(list) if list[1].1[0].what == SeenWhat::Maybe("green".into()))
        );
        let beside = score_words(&split("1-3 purple 7,8 green")).unwrap();
        assert!(matches!(beside, ScoreWhat::Spots(list) if list[1].0.len() == 2));
    }

    #[test]
    fn looks_name_trait_and_doubt() {
        let read = look("foliage:Maybe-purple/stem-hair:hairy").unwrap();
        assert_eq!(read[0].of.as_deref(), Some("foliage"));
        assert_eq!(read[0].what, SeenWhat::Maybe("purple".into()));
        assert_eq!(look("maybe-foliage:purple").unwrap()[0], read[0]);
        assert_eq!(look("DIM").unwrap()[0].what, SeenWhat::Dim);
        assert_eq!(looks_of_one("purple, red").unwrap().len(), 2);
        for bad in ["", "purple/", "foliage:", ":purple", "maybe-"] {
            assert!(look(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn what_makes_no_score_is_refused() {
        for bad in [
            "",
            "9",
            "purple green",
            "purple=x",
            "9 purple 2",
            "purple=9 3=green",
            "=9",
            "1-=purple",
            "purple=-1",
        ] {
            assert!(score_words(&split(bad)).is_err(), "{bad}");
        }
    }

    #[test]
    fn the_target_may_come_last() {
        let (target, rest) = target_first(&split("9 purple 2 green T1")).unwrap();
        assert_eq!((target.to_string().as_str(), rest.len()), ("T1", 4));
        let (target, _) = target_first(&split("T1 purple=9")).unwrap();
        assert_eq!(target.to_string(), "T1");
        assert!(target_first(&[]).is_err());
    }
}
