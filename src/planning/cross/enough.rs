//! How many seeds are enough for one as wanted, when the share that is depends on what is not settled of the parents.
//!
//! Plain arithmetic over shares and how likely each is.

use crate::stats::crossing::crossing;
use crate::stats::power::{TrialsNeeded, smallest_n};

/// Shares of seed, each with how likely it is; together 1.
pub type Spread = Vec<(f64, f64)>;

/// Shares nearer than this are one.
const SAME: f64 = 1e-12;

/// More seeds than this are not thought of.
const MOST_SEEDS: u64 = 1 << 40;

/// A spread in a few numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// The least share that may be.
    pub least: f64,
    /// The mean.
    pub mean: f64,
    /// The most.
    pub most: f64,
    /// How likely the share is above 0.
    pub hope: f64,
}

/// The spread in a few numbers.
pub(super) fn seen(spread: &Spread) -> Seen {
    let shares = spread.iter().map(|(share, _)| *share);
    let hopeless: f64 = (spread.iter().filter(|(share, _)| *share <= 0.0))
        .map(|(_, weight)| weight)
        .sum();
    Seen {
        least: shares.clone().fold(1.0, f64::min),
        mean: spread.iter().map(|(share, weight)| share * weight).sum(),
        most: shares.fold(0.0, f64::max),
        hope: if hopeless == 0.0 { 1.0 } else { 1.0 - hopeless },
    }
}

/// The same shares added up, in order.
pub(super) fn gathered(mut spread: Spread) -> Spread {
    spread.sort_by(|one, other| one.0.total_cmp(&other.0));
    let mut found: Spread = Vec::new();
    for (share, weight) in spread {
        match found.last_mut() {
            Some(last) if share - last.0 <= SAME => last.1 += weight,
            _ => found.push((share, weight)),
        }
    }
    found
}

/// The spread of the product of two shares that do not depend on each other.
pub(super) fn times(one: &Spread, other: &Spread) -> Spread {
    let with = |(share, weight): &(f64, f64)| {
        let (share, weight) = (*share, *weight);
        other.iter().map(move |(s, w)| (share * s, weight * w))
    };
    gathered(one.iter().flat_map(with).collect())
}

/// The fewest seeds with which one at least is as wanted: the smallest n with `sum w (1 - (1 - g s)^n) >= confidence`
/// over the shares s with weights w, g of the seed coming up. All seed of a cross has the same parents, so the sum is
/// over parents, and not of a mean share. Nothing where the shares above 0 do not have the confidence together.
///
/// # Panics
/// If a share, the germination or the confidence is not in [0, 1].
#[must_use]
pub fn fewest(spread: &Spread, germination: f64, confidence: f64) -> Option<TrialsNeeded> {
    if let [(share, _)] = spread.as_slice() {
        return smallest_n(1, share * germination, confidence);
    }
    let miss = |n: u64| -> f64 {
        let of = |(share, weight): &(f64, f64)| {
            let missed = n as f64 * (-share * germination).ln_1p();
            weight * missed.exp()
        };
        spread.iter().map(of).sum()
    };
    let allowed = (1.0 - confidence) * (1.0 + SAME);
    let (mut short, mut n) = (0, 1);
    while miss(n) > allowed {
        if n > MOST_SEEDS {
            return None;
        }
        (short, n) = (n, 2 * n);
    }
    let n = crossing(short, n, |n| miss(n) <= allowed);
    Some(TrialsNeeded {
        n,
        probability: 1.0 - miss(n),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// P(none) summed over the cases for every n in turn.
    fn one_by_one(spread: &Spread, germination: f64, confidence: f64) -> Option<u64> {
        (1..5_000).find(|n| {
            let none = |(share, weight): &(f64, f64)| {
                (0..*n).fold(*weight, |left, _| left * (1.0 - share * germination))
            };
            let miss: f64 = spread.iter().map(none).sum();
            miss <= (1.0 - confidence) * (1.0 + 1e-9)
        })
    }

    #[test]
    fn the_fewest_are_those_of_counting_up() {
        let spreads: [Spread; 4] = [
            vec![(0.25, 1.0)],
            vec![(0.0625, 0.5), (0.25, 0.5)],
            vec![(0.0, 0.04), (0.1, 0.3), (1.0, 0.66)],
            vec![(0.0, 0.2), (0.75, 0.8)],
        ];
        for spread in &spreads {
            for (germination, confidence) in [(1.0, 0.95), (0.8, 0.95), (0.5, 0.5), (1.0, 0.99)] {
                let found = fewest(spread, germination, confidence).map(|need| need.n);
                assert_eq!(
                    found,
                    one_by_one(spread, germination, confidence),
                    "{spread:?}"
                );
            }
        }
        assert_eq!(fewest(&vec![(0.0, 1.0)], 1.0, 0.5), None);
    }

    #[test]
    fn shares_that_are_alike_are_added_up() {
        let halves = vec![(0.5, 0.25), (0.25, 0.5), (0.5, 0.25)];
        assert_eq!(gathered(halves.clone()), vec![(0.25, 0.5), (0.5, 0.5)]);
        let both = times(&gathered(halves), &vec![(0.0, 0.5), (1.0, 0.5)]);
        assert_eq!(both, vec![(0.0, 0.5), (0.25, 0.25), (0.5, 0.25)]);
        let seen = seen(&both);
        assert_eq!((seen.least, seen.most, seen.hope), (0.0, 0.5, 0.5));
        assert_eq!(seen.mean, 0.1875);
    }
}
