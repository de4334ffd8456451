//! Which known names a mistyped one may have meant.

use crate::records::code::fold;
use crate::records::facts::Facts;
use crate::records::rows::Thing;

/// The known names nearest to a typed one, best first, at most three; none that is far off.
#[must_use]
pub fn nearest<'a>(typed: &str, known: impl IntoIterator<Item = &'a str>) -> Vec<&'a str> {
    let wanted: Vec<char> = fold(typed).chars().collect();
    let limit = (wanted.len() / 2).clamp(1, 3);
    let mut scored: Vec<(usize, &str)> = known
        .into_iter()
        .map(|name| {
            (
                steps(&wanted, &fold(name).chars().collect::<Vec<_>>()),
                name,
            )
        })
        .filter(|(steps, _)| *steps <= limit)
        .collect();
    scored.sort();
    scored.dedup();
    scored.into_iter().take(3).map(|(_, name)| name).collect()
}

/// The codes of the ledger nearest to a typed one, of the kinds wanted (all where empty).
#[must_use]
pub fn nearest_codes<'a>(typed: &str, facts: &'a Facts, kinds: &[Thing]) -> Vec<&'a str> {
    let known = facts
        .code
        .iter()
        .filter(|row| kinds.is_empty() || kinds.contains(&row.thing))
        .map(|row| row.typed.as_str());
    nearest(typed, known)
}

/// Single-character insertions, deletions, replacements and swaps of neighbours between two names
/// (restricted Damerau-Levenshtein distance).
fn steps(a: &[char], b: &[char]) -> usize {
    let mut rows = vec![vec![0usize; b.len() + 1]; a.len() + 1];
    for (i, row) in rows.iter_mut().enumerate() {
        row[0] = i;
    }
    for (j, cell) in rows[0].iter_mut().enumerate() {
        *cell = j;
    }
    for i in 1..=a.len() {
        for j in 1..=b.len() {
            let replace = rows[i - 1][j - 1] + usize::from(a[i - 1] != b[j - 1]);
            let mut best = replace.min(rows[i - 1][j] + 1).min(rows[i][j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                best = best.min(rows[i - 2][j - 2] + 1);
            }
            rows[i][j] = best;
        }
    }
    rows[a.len()][b.len()]
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
    }

    #[test]
    fn a_swap_of_neighbours_is_one_step() {
        let letters = |text: &str| text.chars().collect::<Vec<_>>();
        assert_eq!(steps(&letters("abcd"), &letters("abdc")), 1);
        assert_eq!(steps(&letters(""), &letters("abc")), 3);
        assert_eq!(steps(&letters("kitten"), &letters("sitting")), 3);
    }
}
