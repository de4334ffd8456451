//! Times until something happens, some of them not seen to the end: tests of two groups.
//!
//! Knows times and counts only. The log-rank test wants both groups looked at on the same days; the interval test asks
//! for nothing but the looks between which each event fell. The growing room calls both.

use super::logs::normal_cdf;
use super::tails::chi_square_upper;

/// Times at which something happened, and times after which nobody looked on.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Lifetimes {
    /// Time and number of the events.
    pub ends: Vec<(f64, u64)>,
    /// Time and number of those still without it when last seen; at risk up to and at that time.
    pub censored: Vec<(f64, u64)>,
}

impl Lifetimes {
    fn ended_at(&self, time: f64) -> f64 {
        let at = self.ends.iter().filter(|end| end.0 == time);
        at.map(|end| end.1).sum::<u64>() as f64
    }

    fn at_risk(&self, time: f64) -> f64 {
        let from = self.ends.iter().chain(&self.censored);
        from.filter(|one| one.0 >= time)
            .map(|one| one.1)
            .sum::<u64>() as f64
    }

    fn times(&self) -> Vec<f64> {
        let mut times: Vec<f64> = self.ends.iter().map(|end| end.0).collect();
        times.sort_by(f64::total_cmp);
        times.dedup();
        times
    }
}

/// A log-rank test of two groups.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogRank {
    /// Events in the first group.
    pub observed: f64,
    /// Events expected there if both were alike.
    pub expected: f64,
    /// The variance of their difference.
    pub variance: f64,
    /// `(observed - expected)^2 / variance`, one degree of freedom.
    pub chi2: f64,
    /// Its p.
    pub p: f64,
}

/// The log-rank test: at each time of an event, events in the first group against the share of those at risk it has,
/// `E = sum d n1/n`, `V = sum d (n1/n)(n2/n)(n - d)/(n - 1)`. Nothing where there is nothing to compare.
///
/// Source: Mantel 1966, Cancer Chemotherapy Reports 50:163-170; Peto and Peto 1972, Journal of the Royal Statistical
/// Society A 135:185-207.
#[must_use]
pub fn log_rank(one: &Lifetimes, other: &Lifetimes) -> Option<LogRank> {
    let mut times = one.times();
    times.extend(other.times());
    times.sort_by(f64::total_cmp);
    times.dedup();
    let (mut observed, mut expected, mut variance) = (0.0, 0.0, 0.0);
    for time in times {
        let (n1, n2) = (one.at_risk(time), other.at_risk(time));
        let (n, d) = (n1 + n2, one.ended_at(time) + other.ended_at(time));
        observed += one.ended_at(time);
        expected += d * n1 / n;
        if n > 1.0 {
            variance += d * (n1 / n) * (n2 / n) * (n - d) / (n - 1.0);
        }
    }
    (variance > 0.0).then(|| {
        let chi2 = (observed - expected).powi(2) / variance;
        LogRank {
            observed,
            expected,
            variance,
            chi2,
            p: chi_square_upper(chi2, 1),
        }
    })
}

/// So many to which it happened after one look and by another; `by` is infinite where it was never seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Censored {
    /// The last look at which it had not happened.
    pub after: f64,
    /// The first at which it had.
    pub by: f64,
    /// How many.
    pub n: u64,
}

/// The share to which it has not happened after each time, from censored intervals.
#[derive(Debug, Clone, PartialEq)]
pub struct IntervalCurve {
    /// Intervals `(from, to]` that can hold events, and their mass.
    cells: Vec<(f64, f64, f64)>,
}

/// Rounds of self-consistency at most; it settles long before on counts by day.
const ROUNDS: usize = 10_000;

/// Masses that move less than this have settled.
const SETTLED: f64 = 1e-11;

impl IntervalCurve {
    /// The distribution of highest likelihood: only intervals from a left end to the next right end hold mass, found by
    /// self-consistency, `p_j = sum_i n_i p_j a_ij / (N sum_k p_k a_ik)`.
    ///
    /// Source: Turnbull 1976, Journal of the Royal Statistical Society B 38:290-295.
    #[must_use]
    pub fn of(sample: &[Censored]) -> Self {
        let cells = innermost(sample);
        let total: u64 = sample.iter().map(|one| one.n).sum();
        let mut mass = vec![1.0 / cells.len().max(1) as f64; cells.len()];
        let holds = |one: &Censored, cell: &(f64, f64)| cell.0 >= one.after && cell.1 <= one.by;
        let inside = |one: &Censored| -> (f64, Vec<usize>) {
            let within = (0..cells.len()).filter(|at| holds(one, &cells[*at]));
            (one.n as f64, within.collect())
        };
        let sample: Vec<(f64, Vec<usize>)> = sample.iter().map(inside).collect();
        for _ in 0..ROUNDS {
            let mut next = vec![0.0; cells.len()];
            for (n, inside) in &sample {
                let all: f64 = inside.iter().map(|at| mass[*at]).sum();
                for at in inside {
                    next[*at] += n * mass[*at] / (all * total as f64);
                }
            }
            let moved = next.iter().zip(&mass).map(|(a, b)| (a - b).abs());
            let most = moved.fold(0.0, f64::max);
            mass = next;
            if most < SETTLED {
                break;
            }
        }
        let with_mass = |(cell, mass): (&(f64, f64), f64)| (cell.0, cell.1, mass);
        Self {
            cells: cells.iter().zip(mass).map(with_mass).collect(),
        }
    }

    /// The share to which it has not happened by a time.
    #[must_use]
    pub fn left_after(&self, time: f64) -> f64 {
        let later = self.cells.iter().filter(|cell| cell.0 >= time);
        later.map(|cell| cell.2).sum::<f64>().min(1.0)
    }
}

/// The intervals from a left end to the next right end, no other end between: the only ones that can hold mass.
fn innermost(sample: &[Censored]) -> Vec<(f64, f64)> {
    // An interval is open below and closed above, so at one time right ends come first.
    let ends = sample
        .iter()
        .flat_map(|one| [(one.by, false), (one.after, true)]);
    let mut ends: Vec<(f64, bool)> = ends.collect();
    ends.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    ends.dedup();
    let pairs = ends.windows(2);
    pairs
        .filter(|pair| pair[0].1 && !pair[1].1)
        .map(|pair| (pair[0].0, pair[1].0))
        .collect()
}

/// A test of two groups whose events are known only between looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IntervalTest {
    /// The sum of the first group's scores; above 0 where it is the earlier one.
    pub score: f64,
    /// Its variance over all ways of dealing the scores out.
    pub variance: f64,
    /// `score / sqrt(variance)`.
    pub z: f64,
    /// Its two-sided p.
    pub p: f64,
}

/// The log-rank test for interval-censored times: the score of proportional hazards at no difference, for each interval
/// `[S(a) ln S(a) - S(b) ln S(b)] / [S(a) - S(b)]` with S of both groups together, and its variance by permutation,
/// `n1 n2 / (N (N - 1)) sum (c - mean c)^2`. Nothing where there is nothing to compare.
///
/// Source: Finkelstein 1986, Biometrics 42:845-854; the permutation form: Fay 1996, Biometrics 52:811-822 (both from
/// memory; checked by numerical differentiation).
#[must_use]
pub fn interval_log_rank(one: &[Censored], other: &[Censored]) -> Option<IntervalTest> {
    let all: Vec<Censored> = one.iter().chain(other).copied().collect();
    let curve = IntervalCurve::of(&all);
    let score_of = |interval: &Censored| {
        let (from, to) = (
            curve.left_after(interval.after),
            curve.left_after(interval.by),
        );
        let part = |share: f64| if share > 0.0 { share * share.ln() } else { 0.0 };
        (part(from) - part(to)) / (from - to)
    };
    let count = |group: &[Censored]| group.iter().map(|one| one.n).sum::<u64>() as f64;
    let sum =
        |group: &[Censored]| -> f64 { group.iter().map(|one| one.n as f64 * score_of(one)).sum() };
    let (n1, n2) = (count(one), count(other));
    let mean = sum(&all) / (n1 + n2);
    let squares: f64 = all
        .iter()
        .map(|one| one.n as f64 * (score_of(one) - mean).powi(2))
        .sum();
    let variance = n1 * n2 / ((n1 + n2) * (n1 + n2 - 1.0)) * squares;
    (variance > 1e-12).then(|| {
        let score = sum(one) - n1 * mean;
        let z = score / variance.sqrt();
        IntervalTest {
            score,
            variance,
            z,
            p: 2.0 * normal_cdf(-z.abs()),
        }
    })
}
