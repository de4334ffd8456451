//! Which known names a mistyped one may have meant.
//!
//! Plain comparison of spellings; the gate and the command line ask it when a name is unknown.

use super::code::fold;
use super::facts::Facts;
use super::rows::Thing;

/// The known names nearest to a typed one, best first, at most three; none that is far off.
#[must_use]
pub fn nearest<'a>(typed: &str, known: impl IntoIterator<Item = &'a str>) -> Vec<String> {
    let wanted: Vec<char> = fold(typed).chars().take(64).collect();
    let limit = (wanted.len() / 2).clamp(1, 3);
    let distance = |name: &str| steps(&wanted, &fold(name).chars().collect::<Vec<_>>());
    let mut close: Vec<(usize, u64, &str)> = known
        .into_iter()
        .map(|name| (distance(name), apart(typed, name), name))
        .filter(|(d, ..)| *d <= limit)
        .collect();
    close.sort_unstable();
    close.dedup();
    close
        .into_iter()
        .take(3)
        .map(|(.., name)| name.to_owned())
        .collect()
}

/// The codes of what a typed word may mean: those spelled nearly so, else those of plants that have the word in their name.
#[must_use]
pub fn meant(facts: &Facts, typed: &str, takes: impl Fn(Thing) -> bool) -> Vec<String> {
    let known = || facts.code.iter().filter(|row| takes(row.thing));
    let called = codes_called(facts, typed);
    let is_known = |code: &String| known().any(|row| row.typed == *code);
    let called: Vec<String> = called.into_iter().filter(is_known).take(3).collect();
    match called.is_empty() {
        true => nearest(typed, known().map(|row| row.typed.as_str())),
        false => called,
    }
}

/// The codes of the plants in whose name the words stand.
fn codes_called(facts: &Facts, typed: &str) -> Vec<String> {
    let words: Vec<String> = typed.split_whitespace().map(fold).collect();
    let has_all = |name: &str| {
        let own: Vec<String> = name.split_whitespace().map(fold).collect();
        words.iter().all(|word| own.contains(word))
    };
    let plants = facts
        .plant
        .iter()
        .filter(|row| !words.is_empty() && has_all(&row.name));
    plants
        .filter_map(|row| facts.code_of(Thing::Plant, row.id))
        .map(str::to_owned)
        .collect()
}

/// How far apart the numbers are that two names end in, which makes T5 nearer to T6 than T1 is; no matter where one ends
/// in none.
fn apart(one: &str, other: &str) -> u64 {
    match (ending(one), ending(other)) {
        (Some(one), Some(other)) => one.abs_diff(other),
        _ => u64::MAX,
    }
}

fn ending(name: &str) -> Option<u64> {
    let letters = name.trim_end_matches(|letter: char| letter.is_ascii_digit());
    name[letters.len()..].parse().ok()
}

/// How many insertions, deletions, replacements and swaps of neighbours lead from one to the other
/// (Damerau-Levenshtein distance, no piece edited twice).
fn steps(from: &[char], to: &[char]) -> usize {
    let mut older: Vec<usize> = Vec::new();
    let mut old: Vec<usize> = (0..=to.len()).collect();
    for (i, a) in from.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, b) in to.iter().enumerate() {
            let replaced = old[j] + usize::from(a != b);
            let mut best = replaced.min(old[j + 1] + 1).min(row[j] + 1);
            if i > 0 && j > 0 && *a == to[j - 1] && from[i - 1] == *b {
                best = best.min(older[j - 1] + 1);
            }
            row.push(best);
        }
        older = std::mem::replace(&mut old, row);
    }
    old[to.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_of_the_finger_are_found() {
        let known = ["NL", "CW", "foliage", "fruit"];
        assert_eq!(nearest("nk", known), ["NL"]);
        assert_eq!(nearest("foilage", known), ["foliage"]);
        assert!(nearest("zzzzzz", known).is_empty());
        assert_eq!(nearest("t6", ["T1", "T2", "T4", "T5"]), ["T5", "T4", "T2"]);
    }

    #[test]
    fn steps_are_counted() {
        let count = |a: &str, b: &str| {
            steps(
                &a.chars().collect::<Vec<_>>(),
                &b.chars().collect::<Vec<_>>(),
            )
        };
        assert_eq!(count("abcd", "abdc"), 1);
        assert_eq!(count("", "abc"), 3);
        assert_eq!(count("abc", ""), 3);
        assert_eq!(count("kitten", "sitting"), 3);
        assert_eq!(count("ca", "abc"), 3);
    }
}
