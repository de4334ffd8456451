//! Where a yes or no that changes but once changes: the search by halving that numbers of seeds, plants and trials share.
//!
//! Knows nothing of what is asked. Called by the searches for the fewest that are enough, each of which brackets the answer
//! in its own way.

use std::convert::Infallible;

/// The first number that is enough, between one that is not and one that is; halving, so that `log2(enough - short)`
/// numbers are asked. More is never less.
#[must_use]
pub fn crossing(short: u64, enough: u64, mut is_enough: impl FnMut(u64) -> bool) -> u64 {
    let asked = |n| Ok::<bool, Infallible>(is_enough(n));
    let Ok(found) = try_crossing(short, enough, asked);
    found
}

/// The same where asking may fail.
///
/// # Errors
/// The first failure.
pub fn try_crossing<E>(
    mut short: u64,
    mut enough: u64,
    mut is_enough: impl FnMut(u64) -> Result<bool, E>,
) -> Result<u64, E> {
    while enough > short + 1 {
        let middle = short + (enough - short) / 2;
        if is_enough(middle)? {
            enough = middle;
        } else {
            short = middle;
        }
    }
    Ok(enough)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_that_is_enough_is_found_by_few_questions() {
        for first in [1, 2, 3, 500, 999, 1000] {
            let mut asked = 0;
            let found = crossing(0, 1000, |n| {
                asked += 1;
                n >= first
            });
            assert_eq!(found, first);
            assert!(asked <= 10, "{asked}");
        }
        // Nothing lies between.
        assert_eq!(crossing(6, 7, |_| unreachable!()), 7);
        assert_eq!(crossing(0, 0, |_| unreachable!()), 0);
    }

    #[test]
    fn what_cannot_be_asked_ends_it() {
        let found = try_crossing(0, 8, |n| if n == 4 { Err("no") } else { Ok(true) });
        assert_eq!(found, Err("no"));
    }
}
