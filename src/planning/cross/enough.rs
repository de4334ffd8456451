//! How many seeds are enough for one as wanted, when the share that is depends on what is not settled of the parents.
//!
//! Plain arithmetic over shares and how likely each is.

use crate::stats::begun::Begun;
use crate::stats::crossing::crossing;
use crate::stats::none_yet::NoneYet;
use crate::stats::power::{TrialsNeeded, smallest_n};

/// Shares of seed, each with how likely it is; together 1.
pub type Spread = Vec<(f64, f64)>;

/// Shares nearer than this are one.
const SAME: f64 = 1e-12;

/// More seeds than this are not thought of.
const MOST_SEEDS: u64 = 1 << 40;

/// The same where they are tried one by one.
const MOST_COUNTED: u64 = 1 << 17;

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

/// The fewest seeds with which one at least is as wanted: the smallest n with `sum w E(1 - (1 - g t s)^n) >= confidence`
/// over the shares s with weights w, g of the seed coming up and t of that being of the label. All seed of a cross has the
/// same parents, so the sum is over parents, and not of a mean share; where g is only known from counts the mean E is over
/// what it may be. Nothing where the shares above 0 do not have the confidence together, or no number up to 131,072 does
/// with g from counts.
///
/// # Panics
/// If a share, the germination or the confidence is not in [0, 1].
#[must_use]
pub fn fewest(
    spread: &Spread,
    germination: Begun,
    true_share: f64,
    confidence: f64,
) -> Option<TrialsNeeded> {
    match germination {
        Begun::Known(g) => fewest_known(spread, g * true_share, confidence),
        Begun::Counted { .. } => fewest_counted(spread, germination, true_share, confidence),
    }
}

fn fewest_known(spread: &Spread, thin: f64, confidence: f64) -> Option<TrialsNeeded> {
    if let [(share, _)] = spread.as_slice() {
        return smallest_n(1, share * thin, confidence);
    }
    let miss = |n: u64| -> f64 {
        let of = |(share, weight): &(f64, f64)| {
            let missed = n as f64 * (-share * thin).ln_1p();
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

fn fewest_counted(
    spread: &Spread,
    germination: Begun,
    true_share: f64,
    confidence: f64,
) -> Option<TrialsNeeded> {
    let allowed = (1.0 - confidence) * (1.0 + SAME);
    let hopeless: f64 = (spread.iter().filter(|(share, _)| *share <= 0.0))
        .map(|(_, weight)| weight)
        .sum();
    if hopeless > allowed {
        return None;
    }
    let each = spread.iter();
    let mut each: Vec<(f64, NoneYet)> = each
        .map(|(share, weight)| (*weight, NoneYet::of(germination, share * true_share)))
        .collect();
    for n in 0..=MOST_COUNTED {
        let miss: f64 = each
            .iter()
            .map(|(weight, none)| weight * none.chance())
            .sum();
        if miss <= allowed {
            return Some(TrialsNeeded {
                n,
                probability: 1.0 - miss,
            });
        }
        each.iter_mut().for_each(|(_, none)| none.go_on());
    }
    None
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
                let found =
                    fewest(spread, Begun::Known(germination), 1.0, confidence).map(|need| need.n);
                assert_eq!(
                    found,
                    one_by_one(spread, germination, confidence),
                    "{spread:?}"
                );
            }
        }
        assert_eq!(fewest(&vec![(0.0, 1.0)], Begun::Known(1.0), 1.0, 0.5), None);
        let counted = Begun::Counted { a: 2.0, b: 1.0 };
        assert_eq!(fewest(&vec![(0.0, 1.0)], counted, 1.0, 0.5), None);
    }

    /// `sum(betabinom.pmf(u, n, 42, 10)*binom.sf(0, u, 0.97/16))` over `u = 0..n`: the 61 seeds of `plan seeds`. A Beta with
    /// all its weight at one value is that value.
    #[test]
    fn counted_germination_is_beta_binomial() {
        let counted = Begun::Counted { a: 42.0, b: 10.0 };
        let found = fewest(&vec![(0.0625, 1.0)], counted, 0.97, 0.95).unwrap();
        assert_eq!(found.n, 61);
        assert!((found.probability - 0.9521720442552325).abs() < 1e-9);
        let spread = vec![(0.0, 0.04), (0.1, 0.3), (1.0, 0.66)];
        let sharp = Begun::Counted { a: 8e9, b: 2e9 };
        let [one, other] =
            [sharp, Begun::Known(0.8)].map(|g| fewest(&spread, g, 0.9, 0.9).unwrap());
        assert_eq!(one.n, other.n);
        assert!((one.probability - other.probability).abs() < 1e-7);
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
