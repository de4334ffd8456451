//! The exact multinomial test: how probable are outcomes no more probable than the one seen?
//!
//! Knows counts and weights only. [`counts`](super::counts) decides when its answer is the one that
//! counts. Enumerating every outcome is hopeless (60 plants in 8 classes have 870 million), so the
//! classes are split in two halves: for each number of plants in the first half, both halves' outcomes
//! are listed, sorted by probability, and paired by one sweep over running sums.

use std::num::NonZeroUsize;
use std::thread;

use super::logs::{CompensatedSum, ln_poisson};

/// Outcomes up to this factor, less one, more probable than the observed one count as ties.
pub const TIE_SLACK: f64 = 1e-7;

/// The most half-outcomes the test will list.
pub const HALF_OUTCOME_LIMIT: u128 = 30_000_000;

/// With fewer half-outcomes than this, starting threads costs more than it saves.
const WORTH_THREADS: u128 = 20_000;

/// Subtotals are left out if together they hold less than this share (`e^-32`) of the observed
/// outcome's own probability, which is itself part of p.
const LN_NEGLIGIBLE: f64 = -32.0;

/// A p this near to 1 is 1 but for rounding: if any outcome is left out, so is the most probable one,
/// and in a table small enough to list that one is far more probable than this.
const CERTAIN_WITHIN: f64 = 1e-12;

/// Why an exact test was not done: the number of half-outcomes it would have to list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HalfOutcomes {
    /// Half-outcomes needed (`u128::MAX` if even their number is beyond counting).
    pub needed: u128,
    /// Half-outcomes allowed.
    pub limit: u128,
}

/// The answer of the exact test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ExactTest {
    /// The p-value.
    P(f64),
    /// Too many outcomes: declined.
    Declined(HalfOutcomes),
}

/// The exact multinomial p-value of `observed` counts against positive `weights`.
///
/// `p = sum of P(x) over all x with P(x) <= P(observed) (1 + 1e-7)`, where
/// `P(x) = n! prod p_i^x_i / x_i!` and `p_i` is the weight's share. With two classes this is the exact
/// two-sided binomial test by probability. Source of the definition: Read and Cressie 1988,
/// "Goodness-of-Fit Statistics for Discrete Multivariate Data"; the slack for ties is the one of R's
/// `binom.test`.
///
/// Relative error below 1e-9 down to the smallest double.
///
/// # Panics
/// If the slices differ in length or a weight is not positive and finite.
pub fn exact_test(observed: &[u64], weights: &[f64]) -> ExactTest {
    assert_eq!(observed.len(), weights.len(), "one weight for each class");
    assert!(
        weights.iter().all(|w| *w > 0.0 && w.is_finite()),
        "weights are positive"
    );
    if observed.len() < 2 || observed.iter().sum::<u64>() == 0 {
        return ExactTest::P(1.0);
    }
    let table = Table::new(observed, weights);
    let subtotals = table.telling_subtotals();
    let needed = subtotals
        .iter()
        .fold(0u128, |sum, &s| sum.saturating_add(table.half_outcomes(s)));
    if needed > HALF_OUTCOME_LIMIT {
        return ExactTest::Declined(HalfOutcomes {
            needed,
            limit: HALF_OUTCOME_LIMIT,
        });
    }
    let mut sum = CompensatedSum::default();
    for part in table.sweep(&subtotals, needed) {
        sum.add(part);
    }
    let p = (sum.total().ln() + table.ln_most - table.ln_total).exp();
    ExactTest::P(if p > 1.0 - CERTAIN_WITHIN { 1.0 } else { p })
}

/// One half of the classes: for each class, `ln_terms[x]` for every count `x`.
///
/// The terms are logarithms of Poisson probabilities with the expected counts as means: divided by the
/// Poisson probability of the total they give the multinomial, and they stay near zero where the
/// mass is.
struct Half {
    ln_terms: Vec<Vec<f64>>,
    mean: f64,
}

/// A table of counts, cut in two halves.
struct Table {
    n: u64,
    halves: [Half; 2],
    /// Logarithm of the Poisson probability of the total.
    ln_total: f64,
    /// Unscaled logarithm of the observed outcome's probability, and of the largest one that counts.
    ln_observed: f64,
    ln_most: f64,
}

impl Table {
    /// Sorts the classes (so that their order cannot matter) and cuts them in two halves.
    fn new(observed: &[u64], weights: &[f64]) -> Self {
        let mut classes: Vec<(f64, u64)> = weights
            .iter()
            .copied()
            .zip(observed.iter().copied())
            .collect();
        classes.sort_by(|a, b| b.0.total_cmp(&a.0).then(b.1.cmp(&a.1)));
        let n: u64 = observed.iter().sum();
        let all: f64 = classes.iter().map(|c| c.0).sum();
        let mean = |weight: f64| n as f64 * (weight / all);
        let ln_observed = classes
            .iter()
            .map(|&(w, x)| ln_poisson(x as f64, mean(w)))
            .sum();
        let half = |part: &[(f64, u64)]| Half {
            ln_terms: part
                .iter()
                .map(|&(w, _)| (0..=n).map(|x| ln_poisson(x as f64, mean(w))).collect())
                .collect(),
            mean: part.iter().map(|&(w, _)| mean(w)).sum(),
        };
        let (first, second) = classes.split_at(classes.len() / 2);
        Table {
            n,
            halves: [half(first), half(second)],
            ln_total: ln_poisson(n as f64, n as f64),
            ln_observed,
            ln_most: ln_observed + TIE_SLACK.ln_1p(),
        }
    }

    /// The numbers of plants in the first half that can move p at all.
    fn telling_subtotals(&self) -> Vec<u64> {
        let floor = self.ln_observed + LN_NEGLIGIBLE - (self.n as f64 + 1.0).ln();
        let ln_mass = |s: u64| {
            ln_poisson(s as f64, self.halves[0].mean)
                + ln_poisson((self.n - s) as f64, self.halves[1].mean)
        };
        (0..=self.n).filter(|&s| ln_mass(s) >= floor).collect()
    }

    /// How many outcomes both halves have when the first holds `s` plants.
    fn half_outcomes(&self, s: u64) -> u128 {
        let count = |half: &Half, total: u64| compositions(total, half.ln_terms.len() as u64);
        count(&self.halves[0], s).saturating_add(count(&self.halves[1], self.n - s))
    }

    /// Each subtotal's share of p, divided by the largest probability that counts, in the order given.
    fn sweep(&self, subtotals: &[u64], needed: u128) -> Vec<f64> {
        let cores = thread::available_parallelism().map_or(1, NonZeroUsize::get);
        let workers = if needed < WORTH_THREADS {
            1
        } else {
            cores.min(subtotals.len()).max(1)
        };
        let mut parts = vec![0.0; subtotals.len()];
        // Every worker takes each workers-th subtotal: neighbours cost about the same.
        let work = |worker: usize| -> Vec<f64> {
            let mut lists = [Vec::new(), Vec::new()];
            subtotals
                .iter()
                .skip(worker)
                .step_by(workers)
                .map(|&s| self.pair_halves(s, &mut lists))
                .collect()
        };
        thread::scope(|scope| {
            let others: Vec<_> = (1..workers).map(|w| scope.spawn(move || work(w))).collect();
            let mut results = vec![work(0)];
            results.extend(
                others
                    .into_iter()
                    .map(|t| t.join().expect("a worker only does arithmetic")),
            );
            for (worker, result) in results.iter().enumerate() {
                for (slot, value) in parts.iter_mut().skip(worker).step_by(workers).zip(result) {
                    *slot = *value;
                }
            }
        });
        parts
    }

    /// Sum of `exp(first + second - ln_most)` over all pairs of half-outcomes that count, with `s`
    /// plants in the first half.
    fn pair_halves(&self, s: u64, lists: &mut [Vec<u64>; 2]) -> f64 {
        for ((half, list), total) in self
            .halves
            .iter()
            .zip(lists.iter_mut())
            .zip([s, self.n - s])
        {
            half.list_rising(total, list);
        }
        let (mut sum, mut below) = (CompensatedSum::default(), RunningSum::default());
        let mut second = lists[1].iter().map(|&bits| ln_of(bits)).peekable();
        for first in lists[0].iter().rev().map(|&bits| ln_of(bits)) {
            while let Some(next) = second.next_if(|b| first + b <= self.ln_most) {
                below.push(next);
            }
            if below.scaled > 0.0 {
                sum.add((first + below.ln_top - self.ln_most).exp() * below.scaled);
            }
        }
        sum.total()
    }
}

/// A sum of exponentials of rising exponents, held as `exp(ln_top) * scaled`, so that it neither
/// overflows nor underflows.
#[derive(Default)]
struct RunningSum {
    ln_top: f64,
    scaled: f64,
}

impl RunningSum {
    fn push(&mut self, ln_term: f64) {
        self.scaled = if self.scaled > 0.0 {
            1.0 + self.scaled * (self.ln_top - ln_term).exp()
        } else {
            1.0
        };
        self.ln_top = ln_term;
    }
}

/// Logarithms of probabilities are at most zero; the bits of their negatives sort like integers.
fn bits_of(ln_probability: f64) -> u64 {
    (-ln_probability).max(0.0).to_bits()
}

/// The inverse of [`bits_of`].
fn ln_of(bits: u64) -> f64 {
    -f64::from_bits(bits)
}

impl Half {
    /// Lists the logarithms of all outcomes with `total` plants, most improbable last.
    fn list_rising(&self, total: u64, list: &mut Vec<u64>) {
        list.clear();
        list_outcomes(&self.ln_terms, total as usize, 0.0, list);
        list.sort_unstable_by(|a, b| b.cmp(a));
    }
}

/// Appends `so_far` plus the term of every way to spread `left` plants over the classes.
fn list_outcomes(ln_terms: &[Vec<f64>], left: usize, so_far: f64, list: &mut Vec<u64>) {
    match ln_terms {
        [] => {}
        [last] => list.push(bits_of(so_far + last[left])),
        [first, last] => {
            list.extend((0..=left).map(|x| bits_of(so_far + (first[x] + last[left - x]))))
        }
        [first, rest @ ..] => {
            for (x, term) in first.iter().enumerate().take(left + 1) {
                list_outcomes(rest, left - x, so_far + term, list);
            }
        }
    }
}

/// The ways to spread `total` plants over `classes`: `C(total + classes - 1, classes - 1)`, saturating.
fn compositions(total: u64, classes: u64) -> u128 {
    let mut ways = 1u128;
    for i in 1..classes {
        match ways.checked_mul(u128::from(total + i)) {
            Some(product) => ways = product / u128::from(i),
            None => return u128::MAX,
        }
    }
    ways
}

#[cfg(test)]
#[expect(
    clippy::excessive_precision,
    reason = "reference digits as their source prints them"
)]
mod tests {
    use super::*;

    #[track_caller]
    fn p_of(observed: &[u64], weights: &[f64]) -> f64 {
        match exact_test(observed, weights) {
            ExactTest::P(p) => p,
            ExactTest::Declined(size) => panic!("declined: {size:?}"),
        }
    }

    #[track_caller]
    fn close(ours: f64, theirs: f64) {
        assert!(
            (ours - theirs).abs() <= 1e-10 * theirs,
            "{ours:e}, reference {theirs:e}"
        );
    }

    #[test]
    fn two_extreme_outcomes_of_a_fair_coin() {
        close(p_of(&[1000, 0], &[1.0, 1.0]), 2f64.powi(-999));
        close(p_of(&[0, 10], &[1.0, 1.0]), 2f64.powi(-9));
        assert_eq!(p_of(&[5, 5], &[1.0, 1.0]), 1.0);
    }

    /// Full enumeration of the 869,648,208 outcomes in 80-bit long double, compensated, by a C program
    /// written for this check: 869,644,785 of them count.
    #[test]
    fn sixty_plants_in_eight_classes() {
        let p = p_of(
            &[24, 10, 7, 9, 2, 4, 3, 1],
            &[27.0, 9.0, 9.0, 9.0, 3.0, 3.0, 3.0, 1.0],
        );
        close(p, 0.963209906480175898);
    }

    /// To the last bit: equal classes are added in the order of their counts, not of their places.
    #[test]
    fn turning_equal_classes_round_leaves_every_bit() {
        for seed in 1..200u64 {
            let mut counts = [seed % 7, seed % 11 + 1, seed % 13, seed % 5];
            let p = p_of(&counts, &[1.0; 4]);
            for _ in 0..4 {
                counts.rotate_left(1);
                assert_eq!(p_of(&counts, &[1.0; 4]), p, "{counts:?}");
            }
        }
    }

    #[test]
    fn a_single_class_or_an_empty_table_is_certain() {
        assert_eq!(p_of(&[17], &[2.0]), 1.0);
        assert_eq!(p_of(&[0, 0, 0], &[1.0, 2.0, 1.0]), 1.0);
    }

    #[test]
    fn too_many_outcomes_are_counted_and_declined() {
        let declined = exact_test(&[50; 16], &[1.0; 16]);
        let ExactTest::Declined(size) = declined else {
            panic!("{declined:?}")
        };
        // C(808, 8) outcomes in each half, if no subtotal is left out.
        assert!(
            size.needed > HALF_OUTCOME_LIMIT && size.needed < 2 * compositions(800, 9),
            "{size:?}"
        );
        let huge = exact_test(&[100; 200], &[1.0; 200]);
        assert_eq!(
            huge,
            ExactTest::Declined(HalfOutcomes {
                needed: u128::MAX,
                limit: HALF_OUTCOME_LIMIT
            })
        );
    }

    #[test]
    fn compositions_are_binomial_coefficients() {
        assert_eq!(
            (compositions(60, 8), compositions(0, 5), compositions(9, 1)),
            (869_648_208, 1, 1)
        );
        assert_eq!(compositions(556, 4), 28_956_759);
    }
}
