//! How to share places over crosses.
//!
//! A cross has a target: so many plants of a kind among those that get a place. Places are shared so that the weighted
//! sum of the chances to reach them is as large as it can be, exactly, by dynamic programming (Bellman 1957, Dynamic
//! Programming, from memory): going to the place that helps most, one by one, is wrong wherever more than one plant is
//! wanted. Asked by `plan space`.

use crate::stats::logs::ln_binomial;

/// A cross that wants places.
#[derive(Debug, Clone, PartialEq)]
pub struct Wish {
    /// The chance that a plant which gets a place is one of those wanted: one for each thing that the parents may be, with
    /// how likely that is.
    pub cases: Vec<(f64, f64)>,
    /// How many are wanted, at least 1.
    pub want: u64,
    /// How much the target counts, above 0.
    pub weight: f64,
}

/// Most places that are shared.
pub const MOST_PLACES: usize = 5_000;

/// Most wishes.
pub const MOST_WISHES: usize = 200;

/// How places are shared.
#[derive(Debug, Clone, PartialEq)]
pub struct Sharing {
    /// Places for each wish.
    pub places: Vec<usize>,
    /// The chance of each to reach its target.
    pub chances: Vec<f64>,
    /// The weighted sum of the chances.
    pub worth: f64,
}

impl Sharing {
    fn of(wishes: &[Wish], places: Vec<usize>, chances: Vec<f64>) -> Self {
        let worth = wishes.iter().zip(&chances);
        Self {
            worth: worth.map(|(wish, p)| wish.weight * p).sum(),
            places,
            chances,
        }
    }
}

/// What one place more or less would change.
#[derive(Debug, Clone, PartialEq)]
pub struct OneMore {
    /// The sharing with one more.
    pub sharing: Sharing,
    /// By how much the weighted sum of the chances rises.
    pub gain: f64,
}

/// The best sharing of so many places, and of one more. Of sharings that are equally good the one that uses fewer
/// places, on earlier wishes, is taken; places that help nobody are left.
///
/// Work: wishes x places^2 / 2 additions at most; places that add nothing to a chance are not tried.
#[must_use]
pub fn share(wishes: &[Wish], places: usize) -> (Sharing, OneMore) {
    let tables: Vec<Vec<f64>> = wishes
        .iter()
        .map(|wish| chances(wish, places + 1))
        .collect();
    let worths: Vec<Vec<f64>> = (wishes.iter().zip(&tables))
        .map(|(wish, table)| table.iter().map(|p| wish.weight * p).collect())
        .collect();
    // Fewer than wanted are of no use.
    let least: Vec<usize> = wishes.iter().map(|wish| wish.want as usize).collect();
    let choices = choose(&worths, &least, places + 1);
    let now = told(wishes, &tables, &choices, places);
    let sharing = told(wishes, &tables, &choices, places + 1);
    let gain = (sharing.worth - now.worth).max(0.0);
    (now, OneMore { sharing, gain })
}

/// Sharings by worth: each taker has its own worth with 0, 1, 2... places.
#[derive(Debug, Clone)]
pub struct ByWorth {
    choices: Vec<Vec<usize>>,
}

impl ByWorth {
    /// Of up to so many places, none of the takers having more than its last.
    #[must_use]
    pub fn of(worths: &[Vec<f64>], most: usize) -> Self {
        Self {
            choices: choose(worths, &vec![1; worths.len()], most),
        }
    }

    /// The sharing of so many places with the largest sum of worths. Of sharings that are equally good the one with fewer
    /// places on earlier takers is taken.
    #[must_use]
    pub fn given(&self, places: usize) -> Vec<usize> {
        given(&self.choices, places)
    }
}

/// The sharing as evenly as can be, earlier wishes first.
#[must_use]
pub fn share_evenly(wishes: &[Wish], places: usize) -> Sharing {
    let each = places / wishes.len().max(1);
    let more = places % wishes.len().max(1);
    let given: Vec<usize> = (0..wishes.len())
        .map(|at| each + usize::from(at < more))
        .collect();
    let chances: Vec<f64> = wishes
        .iter()
        .zip(&given)
        .map(|(wish, given)| chances(wish, *given)[*given])
        .collect();
    Sharing::of(wishes, given, chances)
}

/// The chance that a wish reaches its target with 0, 1, 2... places: `P(X >= want)` of the binomial, one place more
/// adding `chance P(X = want - 1)`.
fn chances(wish: &Wish, most: usize) -> Vec<f64> {
    let mut table = vec![0.0; most + 1];
    for (weight, chance) in wish.cases.iter().filter(|(_, chance)| *chance > 0.0) {
        let mut sum = 0.0;
        for (n, cell) in table.iter_mut().enumerate().skip(wish.want as usize) {
            sum += chance * exactly(wish.want - 1, n as u64 - 1, *chance);
            *cell += weight * sum.min(1.0);
        }
    }
    table
}

/// P(exactly `k` of `n`).
fn exactly(k: u64, n: u64, p: f64) -> f64 {
    match p < 1.0 {
        true => ln_binomial(k, n, p).exp(),
        false => f64::from(u8::from(k == n)),
    }
}

/// A gain smaller than this is none: rounding must not fill places that help nobody.
const NO_GAIN: f64 = 1e-12;

/// For each taker from the last to the first, how many places it takes of those left to it and the later ones: none, or from
/// its least on. Places that add nothing to its worth are not tried.
fn choose(worths: &[Vec<f64>], least: &[usize], most: usize) -> Vec<Vec<usize>> {
    // What the later takers make of 0, 1, 2... places, the most first: what is given goes up as what they have goes down.
    let mut later = vec![0.0; most + 1];
    let mut choices = vec![Vec::new(); worths.len()];
    for (at, own) in worths.iter().enumerate().rev() {
        let nothing = own.first().copied().unwrap_or(0.0);
        let useful = useful(own);
        let mut taken = vec![0; most + 1];
        let mut best = vec![0.0; most + 1];
        for left in 0..=most {
            let with_none = nothing + later[most - left];
            best[most - left] = with_none;
            let (from, to) = (least[at], left.min(useful));
            if from > to {
                continue;
            }
            let mine = &own[from..=to];
            let theirs = &later[most - left + from..=most - left + to];
            let largest = largest_sum(mine, theirs);
            if largest <= with_none + NO_GAIN {
                continue;
            }
            let mut sums = mine.iter().zip(theirs).map(|(one, other)| one + other);
            let first = sums.position(|sum| sum >= largest - NO_GAIN);
            let first = first.expect("the largest is among them");
            (best[most - left], taken[left]) = (mine[first] + theirs[first], from + first);
        }
        later = best;
        choices[at] = taken;
    }
    choices
}

/// With how many places a taker has all the worth that more would give it.
fn useful(own: &[f64]) -> usize {
    let full = own.last().copied().unwrap_or(0.0);
    let is_full = |worth: &f64| full - worth <= 0.1 * NO_GAIN;
    own.iter().position(is_full).unwrap_or(0)
}

/// How many sums are compared side by side.
const LANES: usize = 8;

/// The largest sum of neighbours in two rows, those of a few lanes side by side.
fn largest_sum(one: &[f64], other: &[f64]) -> f64 {
    let mut lanes = [f64::NEG_INFINITY; LANES];
    let (ones, others) = (one.chunks_exact(LANES), other.chunks_exact(LANES));
    let rest = ones.remainder().iter().zip(others.remainder());
    let rest = rest
        .map(|(one, other)| one + other)
        .fold(f64::NEG_INFINITY, f64::max);
    for (ones, others) in ones.zip(others) {
        for lane in 0..LANES {
            let sum = ones[lane] + others[lane];
            if sum > lanes[lane] {
                lanes[lane] = sum;
            }
        }
    }
    lanes.into_iter().fold(rest, f64::max)
}

fn given(choices: &[Vec<usize>], places: usize) -> Vec<usize> {
    let mut left = places;
    let mut given = Vec::with_capacity(choices.len());
    for taken in choices {
        given.push(taken[left]);
        left -= taken[left];
    }
    given
}

fn told(wishes: &[Wish], tables: &[Vec<f64>], choices: &[Vec<usize>], places: usize) -> Sharing {
    let given = given(choices, places);
    let chances: Vec<f64> = tables
        .iter()
        .zip(&given)
        .map(|(table, n)| table[*n])
        .collect();
    Sharing::of(wishes, given, chances)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::tails::binomial_tails;

    fn wish(chance: f64, want: u64, weight: f64) -> Wish {
        Wish {
            cases: vec![(1.0, chance)],
            want,
            weight,
        }
    }

    /// The worth of the best of all sharings, one by one.
    fn best_of_all(wishes: &[Wish], places: usize) -> f64 {
        match wishes {
            [] => 0.0,
            [first, rest @ ..] => (0..=places)
                .map(|given| {
                    let own = binomial_tails(first.want, given as u64, first.cases[0].1).0;
                    first.weight * own + best_of_all(rest, places - given)
                })
                .fold(0.0, f64::max),
        }
    }

    #[test]
    fn no_sharing_is_better() {
        let wishes = [
            wish(0.25, 1, 1.0),
            wish(0.5, 3, 2.0),
            wish(0.0625, 1, 3.0),
            wish(0.75, 4, 0.5),
        ];
        for places in 0..=20 {
            let (now, more) = share(&wishes, places);
            let best = best_of_all(&wishes, places);
            assert!(
                (now.worth - best).abs() < 1e-11,
                "{places}: {} {best}",
                now.worth
            );
            let next = best_of_all(&wishes, places + 1);
            assert!((more.gain - (next - best)).abs() < 1e-11, "{places}");
            assert!(now.places.iter().sum::<usize>() <= places);
        }
    }

    /// Worths that go on rising, that are full at once, that fall: against every sharing of three takers, one by one.
    #[test]
    fn takers_of_any_worth_get_the_best_sharing() {
        let rising: Vec<f64> = (0..40).map(|n| f64::from(n).sqrt()).collect();
        let late: Vec<f64> = (0..40).map(|n| if n < 17 { 0.0 } else { 4.5 }).collect();
        let at_once = [0.0, 2.0, 2.0, 2.0].to_vec();
        let worths = [rising, late, at_once];
        for places in [0, 1, 5, 16, 17, 18, 30, 39] {
            let given = ByWorth::of(&worths, places).given(places);
            let worth = |given: &[usize]| -> f64 {
                let each = worths.iter().zip(given);
                each.map(|(own, n)| own[(*n).min(own.len() - 1)]).sum()
            };
            let mut best = 0.0_f64;
            for one in 0..=places {
                for other in 0..=places - one {
                    best = best.max(worth(&[one, other, places - one - other]));
                }
            }
            assert!(given.iter().sum::<usize>() <= places);
            assert!((worth(&given) - best).abs() < 1e-11, "{places}: {given:?}");
        }
    }

    /// Three of three places help only together: no single place of the first wish helps at all.
    #[test]
    fn places_that_help_only_together_are_found() {
        let wishes = [wish(1.0, 3, 10.0), wish(0.1, 1, 1.0)];
        let (now, _) = share(&wishes, 3);
        assert_eq!(now.places, [3, 0]);
    }

    #[test]
    fn places_that_help_nobody_are_left() {
        let (now, more) = share(&[wish(1.0, 2, 1.0)], 10);
        assert_eq!((now.places, more.gain), (vec![2], 0.0));
        let unsure = Wish {
            cases: vec![(0.75, 0.5), (0.25, 0.0)],
            ..wish(0.0, 1, 1.0)
        };
        assert_eq!(share(&[unsure], 2).0.chances, [0.75 * 0.75]);
        assert_eq!(
            share_evenly(&[wish(1.0, 2, 1.0), wish(0.5, 1, 1.0)], 5).places,
            [3, 2]
        );
    }
}
