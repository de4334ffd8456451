//! How many plants tell two ratios apart by the exact test.
//!
//! With `n` plants the exact multinomial test of one ratio rejects some outcomes; the power is the probability of those
//! under the other. Both are added up outcome by outcome. Rejection goes by [`super::multinomial`]'s rule: the sum of
//! the probabilities of all outcomes no more probable than the one seen. Asked by `plan enough`.

use super::crossing::try_crossing;
use super::logs::{ln_binomial, ln_factorial};
use super::multinomial::TIE_SLACK;

/// What a test must do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Demand {
    /// It rejects a wrong ratio at least this often.
    pub power: f64,
    /// It rejects a right one at most this often.
    pub size: f64,
}

/// What the test does with a number of plants.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Performance {
    /// How often the first ratio is rejected where the second is true.
    pub power_against_first: f64,
    /// How often the second is rejected where the first is true.
    pub power_against_second: f64,
    /// How often the first is rejected although true.
    pub size_of_first: f64,
    /// How often the second is rejected although true.
    pub size_of_second: f64,
}

impl Performance {
    /// The smaller of the two powers.
    #[must_use]
    pub const fn power(&self) -> f64 {
        self.power_against_first.min(self.power_against_second)
    }
}

/// How many plants are enough.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EnoughPlants {
    /// From this number on the power holds, whichever of the two is true.
    pub n: u64,
    /// What the test does with that many.
    pub performance: Performance,
    /// The smallest number with which it holds at all; with some numbers above it may fail again, since counts jump.
    pub first: u64,
    /// Up to this number each was tried. It falls short of the whole run where the sums grow too long.
    pub tried: u64,
    /// Whether that is the whole run.
    pub is_whole_run: bool,
}

/// Why there is no answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NotEnough {
    /// The two give the same shares.
    #[error("both ratios say the same")]
    Same,
    /// More outcomes than are added up.
    #[error("more outcomes than are added up")]
    TooMany,
}

/// Most outcomes that are added up in one search, by which an answer takes well under half a second.
const MOST_OUTCOMES: f64 = 6e6;

/// The number of plants from which on the exact test tells two ratios apart, whichever is true.
///
/// Power jumps up and down with `n`, since the number of outcomes rejected is whole. A number that does is found by
/// doubling and bisection; from there downward every number is tried until a run of `run_length` fails, and upward until
/// such a run holds, or the sums grow too long: then the answer says how far it was tried.
///
/// # Errors
/// [`NotEnough`].
///
/// # Panics
/// If the two have different numbers of classes, or weigh nothing.
pub fn enough(one: &[f64], other: &[f64], demand: Demand) -> Result<EnoughPlants, NotEnough> {
    assert_eq!(one.len(), other.len(), "two ratios of the same classes");
    let mut search = Search {
        one: shares(one),
        other: shares(other),
        demand,
        added: 0.0,
    };
    let pairs = search.one.iter().zip(&search.other);
    if pairs.map(|(p, q)| (p - q).abs()).fold(0.0, f64::max) < 1e-12 {
        return Err(NotEnough::Same);
    }
    let crossing = search.find_crossing()?;
    let (mut first, mut before) = (crossing, crossing - 1);
    let half = (MOST_OUTCOMES + search.added) / 2.0;
    while before > 0 && before + search.run_length(crossing) > first && search.added < half {
        if search.holds(before)? {
            first = before;
        }
        before -= 1;
    }
    let (mut n, mut next) = (crossing, crossing + 1);
    while next < n + search.run_length(n) && search.can_add(next) {
        if !search.holds(next)? {
            n = next + 1;
        }
        next += 1;
    }
    // A number beyond all that were tried is none that is known to do.
    if n == next {
        return Err(NotEnough::TooMany);
    }
    Ok(EnoughPlants {
        n,
        performance: perform(one, other, n, demand.size),
        first,
        tried: next - 1,
        is_whole_run: next >= n + search.run_length(n),
    })
}

struct Search {
    one: Vec<f64>,
    other: Vec<f64>,
    demand: Demand,
    /// Outcomes added up so far.
    added: f64,
}

impl Search {
    /// Whether the sums for `n` plants can still be made.
    fn can_add(&self, n: u64) -> bool {
        self.added + outcomes(self.one.len(), n) <= MOST_OUTCOMES
    }

    /// Whether the power is reached with `n` plants.
    fn holds(&mut self, n: u64) -> Result<bool, NotEnough> {
        if !self.can_add(n) {
            return Err(NotEnough::TooMany);
        }
        self.added += outcomes(self.one.len(), n);
        let found = perform(&self.one, &self.other, n, self.demand.size);
        Ok(found.power() >= self.demand.power)
    }

    /// A number that holds next to one that does not.
    fn find_crossing(&mut self) -> Result<u64, NotEnough> {
        let (mut fails, mut holds) = (0, 1);
        while !self.holds(holds)? {
            fails = holds;
            holds *= 2;
        }
        try_crossing(fails, holds, |n| self.holds(n))
    }

    /// How many numbers in a row settle it: a sixteenth of `n`, four times what the rarest class takes to come once,
    /// or twenty, whichever is most (design choice).
    fn run_length(&self, n: u64) -> u64 {
        let all = self.one.iter().chain(&self.other);
        let rarest = all.copied().filter(|p| *p > 0.0).fold(1.0, f64::min);
        (n / 16).max((4.0 / rarest) as u64).max(20)
    }
}

/// What the exact test at a size does with `n` plants.
#[must_use]
pub fn perform(one: &[f64], other: &[f64], n: u64, size: f64) -> Performance {
    let mut outcomes = match (&shares(one)[..], &shares(other)[..]) {
        ([p, _], [q, _]) => of_two(*p, *q, n),
        (one, other) => of_many(one, other, n),
    };
    let (size_of_first, power_against_first) = rejected(&mut outcomes, size);
    for (by_one, by_other) in &mut outcomes {
        std::mem::swap(by_one, by_other);
    }
    let (size_of_second, power_against_second) = rejected(&mut outcomes, size);
    Performance {
        power_against_first,
        power_against_second,
        size_of_first,
        size_of_second,
    }
}

fn shares(weights: &[f64]) -> Vec<f64> {
    let all: f64 = weights.iter().sum();
    assert!(all > 0.0, "a ratio weighs something");
    weights.iter().map(|w| w / all).collect()
}

/// About how many outcomes both tests of `n` plants add up.
fn outcomes(classes: usize, n: u64) -> f64 {
    let n = n as f64;
    match classes {
        2 => 2.0 * (20.0 * n.sqrt() + 20.0).min(n + 1.0),
        _ => {
            2.0 * (1..classes)
                .map(|i| (n + i as f64) / i as f64)
                .product::<f64>()
        }
    }
}

/// How often a ratio is rejected if it is true, and if the other is: of outcomes with their probabilities by both.
fn rejected(outcomes: &mut [(f64, f64)], size: f64) -> (f64, f64) {
    outcomes.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let (mut found, mut at) = ((0.0, 0.0), 0);
    let mut all_at_truth = 0.0;
    while at < outcomes.len() {
        // Outcomes as probable as this one, but for rounding, stand or fall together.
        let limit = outcomes[at].0 * (1.0 + TIE_SLACK);
        let end = at + outcomes[at..].partition_point(|(p, _)| *p <= limit);
        let tied: f64 = outcomes[at..end].iter().map(|(p, _)| p).sum();
        if found.0 + tied > size * (1.0 + TIE_SLACK) {
            break;
        }
        found.0 += tied;
        all_at_truth += outcomes[at..end].iter().map(|(_, q)| q).sum::<f64>();
        at = end;
    }
    found.1 = all_at_truth.min(1.0);
    found
}

/// Every number of the first of two classes that either ratio makes at all likely, with its probability by each; what
/// is left out counts as rejected.
fn of_two(p: f64, q: f64, n: u64) -> Vec<(f64, f64)> {
    let spread = |share: f64| {
        let (mean, sd) = (n as f64 * share, (n as f64 * share * (1.0 - share)).sqrt());
        let low = (mean - 10.0 * sd - 10.0).max(0.0) as u64;
        let high = ((mean + 10.0 * sd + 10.0) as u64).min(n);
        (low, high)
    };
    let ((a, b), (c, d)) = (spread(p), spread(q));
    let mut numbers: Vec<u64> = (a..=b).collect();
    numbers.extend((c..=d).filter(|x| !(a..=b).contains(x)));
    let of = |x: u64, share: f64| chance_of(x, n, share);
    numbers.into_iter().map(|x| (of(x, p), of(x, q))).collect()
}

fn chance_of(x: u64, n: u64, share: f64) -> f64 {
    match share {
        _ if share <= 0.0 => f64::from(u8::from(x == 0)),
        _ if share >= 1.0 => f64::from(u8::from(x == n)),
        _ => ln_binomial(x, n, share).exp(),
    }
}

/// Every outcome of three or more classes with its probability by both ratios.
fn of_many(tested: &[f64], truth: &[f64], n: u64) -> Vec<(f64, f64)> {
    let logs = |shares: &[f64]| shares.iter().map(|p| p.ln()).collect::<Vec<f64>>();
    let (p, q) = (logs(tested), logs(truth));
    let factorials: Vec<f64> = (0..=n).map(ln_factorial).collect();
    let mut found = Vec::new();
    let start = factorials[n as usize];
    spread_over(&p, &q, n, &factorials, (start, start), &mut found);
    found
}

/// Spreads `left` plants over the classes that are left.
fn spread_over(
    p: &[f64],
    q: &[f64],
    left: u64,
    factorials: &[f64],
    so_far: (f64, f64),
    found: &mut Vec<(f64, f64)>,
) {
    let with = |x: u64, ln: f64| if x == 0 { 0.0 } else { x as f64 * ln };
    let add = |x: u64| {
        let fall = factorials[x as usize];
        (
            so_far.0 + with(x, p[0]) - fall,
            so_far.1 + with(x, q[0]) - fall,
        )
    };
    if p.len() == 1 {
        let (a, b) = add(left);
        found.push((a.exp(), b.exp()));
        return;
    }
    for x in 0..=left {
        spread_over(&p[1..], &q[1..], left - x, factorials, add(x), found);
    }
}

#[cfg(test)]
mod tests {
    use super::super::multinomial::{ExactTest, exact_test};
    use super::*;

    /// The rejected outcomes are those that the exact test, asked one by one, gives a p of at most the size.
    #[test]
    fn rejection_is_that_of_the_exact_test() {
        let (one, other) = ([9.0, 3.0, 4.0], [9.0, 6.0, 1.0]);
        let n = 12;
        let found = perform(&one, &other, n, 0.05);
        let (mut size, mut power) = (0.0, 0.0);
        for a in 0..=n {
            for b in 0..=n - a {
                let counts = [a, b, n - a - b];
                let ExactTest::P(p) = exact_test(&counts, &one) else {
                    panic!("{counts:?}")
                };
                if p <= 0.05 {
                    let chance = |shares: [f64; 3]| {
                        let each = counts.iter().zip(shares);
                        let ln: f64 = each
                            .map(|(x, s)| *x as f64 * (s / 16.0).ln() - ln_factorial(*x))
                            .sum();
                        (ln + ln_factorial(n)).exp()
                    };
                    size += chance(one);
                    power += chance(other);
                }
            }
        }
        assert!((found.size_of_first - size).abs() < 1e-13);
        assert!((found.power_against_first - power).abs() < 1e-13);
    }

    #[test]
    fn two_classes_go_the_same_way_as_many() {
        let two = rejected(&mut of_two(0.75, 0.5, 44), 0.05);
        let many = rejected(&mut of_many(&[0.75, 0.25, 0.0], &[0.5, 0.5, 0.0], 44), 0.05);
        assert!((two.0 - many.0).abs() < 1e-13 && (two.1 - many.1).abs() < 1e-13);
    }

    #[test]
    fn a_class_that_only_one_gives_decides() {
        let demand = Demand {
            power: 0.95,
            size: 0.05,
        };
        let found = enough(&[1.0, 0.0], &[3.0, 1.0], demand).unwrap();
        // One recessive rules the first out: 1 - 0.75^n >= 0.95 from 11 on; none in n rules the second out
        // where its p is at most 0.05.
        assert!(
            found.n >= 11 && found.performance.power() >= 0.95,
            "{found:?}"
        );
        assert_eq!(
            enough(&[3.0, 1.0], &[6.0, 2.0], demand),
            Err(NotEnough::Same)
        );
    }
}
