//! Two samples of numbers: Welch's t, the rank test of Mann and Whitney, the shift between them; outliers of one.
//!
//! Given numbers and nothing of what they measure. The growing room decides which test it goes by.

use statrs::function::beta::beta_reg;

use super::intervals::Interval;
use super::logs::normal_cdf;
use super::tails::normal_quantile;

/// Mean of a sample that is not empty.
#[must_use]
pub fn mean(sample: &[f64]) -> f64 {
    sample.iter().sum::<f64>() / sample.len() as f64
}

/// Variance about the mean, `sum (x - mean)^2 / (n - 1)`; of a single number 0.
#[must_use]
pub fn variance(sample: &[f64]) -> f64 {
    let centre = mean(sample);
    let squares: f64 = sample.iter().map(|x| (x - centre).powi(2)).sum();
    squares / (sample.len().max(2) - 1) as f64
}

/// Median of a sample that is not empty.
#[must_use]
pub fn median(sample: &[f64]) -> f64 {
    let sorted = sorted(sample);
    let half = sorted.len() / 2;
    if sorted.len() % 2 == 1 {
        sorted[half]
    } else {
        0.5 * (sorted[half - 1] + sorted[half])
    }
}

fn sorted(sample: &[f64]) -> Vec<f64> {
    let mut sorted = sample.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted
}

/// Welch's test of two means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Welch {
    /// First mean less second.
    pub difference: f64,
    /// Its standard error.
    pub se: f64,
    /// Difference over standard error.
    pub t: f64,
    /// Degrees of freedom by Satterthwaite.
    pub df: f64,
    /// Its two-sided p.
    pub p: f64,
    /// The interval of the difference.
    pub interval: Interval,
}

/// Welch's t: `t = (m1 - m2) / sqrt(v1/n1 + v2/n2)` on
/// `df = (v1/n1 + v2/n2)^2 / ((v1/n1)^2/(n1 - 1) + (v2/n2)^2/(n2 - 1))`. Nothing with fewer than two numbers on a side,
/// or no spread at all.
///
/// Source: Welch 1947, Biometrika 34:28-35; Satterthwaite 1946, Biometrics Bulletin 2:110-114.
#[must_use]
pub fn welch(one: &[f64], other: &[f64], confidence: f64) -> Option<Welch> {
    if one.len() < 2 || other.len() < 2 {
        return None;
    }
    let part = |sample: &[f64]| variance(sample) / sample.len() as f64;
    let (a, b) = (part(one), part(other));
    if a + b <= 0.0 {
        return None;
    }
    let spare = |sample: &[f64]| (sample.len() - 1) as f64;
    let df = (a + b).powi(2) / (a * a / spare(one) + b * b / spare(other));
    let (difference, se) = (mean(one) - mean(other), (a + b).sqrt());
    let t = difference / se;
    let reach = student_quantile(1.0 - confidence, df) * se;
    Some(Welch {
        difference,
        se,
        t,
        df,
        p: student_two_sided(t, df),
        interval: Interval {
            low: difference - reach,
            high: difference + reach,
        },
    })
}

/// `P(|T| >= |t|)` of Student's t with `df` degrees of freedom: `I(df/(df + t^2); df/2, 1/2)`.
///
/// Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.1.
#[must_use]
pub fn student_two_sided(t: f64, df: f64) -> f64 {
    if t == 0.0 {
        return 1.0;
    }
    beta_reg(0.5 * df, 0.5, df / (df + t * t))
}

/// The t beyond which on either side lies `p`: bisection to neighbouring doubles.
fn student_quantile(p: f64, df: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    while student_two_sided(high, df) > p {
        high *= 2.0;
    }
    loop {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            return middle;
        }
        if student_two_sided(middle, df) > p {
            low = middle;
        } else {
            high = middle;
        }
    }
}

/// The rank test of Mann and Whitney.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RankTest {
    /// Pairs in which the first sample's number is the larger, ties as one half.
    pub u: f64,
    /// Its two-sided p.
    pub p: f64,
    /// Whether p is exact; else by the normal approximation, ties and continuity reckoned with.
    pub exact: bool,
    /// The smallest p that samples of these sizes can have.
    pub least_p: f64,
    /// How much the first is shifted against the second: the median of all differences.
    pub shift: f64,
    /// Its 95 % interval; nothing where so few numbers bound it on no side.
    pub interval: Option<Interval>,
}

/// Samples up to this size have the exact distribution of U, where no two numbers tie.
const EXACT_UP_TO: usize = 50;

/// The Mann-Whitney test, `U = #(x > y) + #(x = y)/2`, exact without ties and with up to 50 numbers on a side; else
/// normal with variance `n1 n2/12 [(N + 1) - sum (t^3 - t)/(N (N - 1))]` and a continuity correction of one half. The
/// shift is the estimate of Hodges and Lehmann with the interval that the test inverts to. Nothing without numbers on
/// both sides.
///
/// Source: Mann and Whitney 1947, Annals of Mathematical Statistics 18:50-60; Hodges and Lehmann 1963, the same
/// 34:598-611; Lehmann 1975, Nonparametrics (from memory).
#[must_use]
pub fn rank_test(one: &[f64], other: &[f64]) -> Option<RankTest> {
    if one.is_empty() || other.is_empty() {
        return None;
    }
    let mut differences: Vec<f64> = one
        .iter()
        .flat_map(|x| other.iter().map(move |y| x - y))
        .collect();
    differences.sort_by(f64::total_cmp);
    let above = differences.iter().filter(|d| **d > 0.0).count() as f64;
    let level = differences.iter().filter(|d| **d == 0.0).count() as f64;
    let u = above + 0.5 * level;
    let pairs = differences.len() as f64;
    let ties = tie_term(one, other);
    let exact = ties == 0.0 && one.len().max(other.len()) <= EXACT_UP_TO;
    let n = (one.len() + other.len()) as f64;
    let variance = if n > 1.0 {
        pairs / 12.0 * (n + 1.0 - ties / (n * (n - 1.0)))
    } else {
        0.0
    };
    let (p, beyond) = if exact {
        let chances = u_distribution(one.len(), other.len());
        let extreme = u.min(pairs - u) as usize;
        let tail: f64 = chances[..=extreme].iter().sum();
        ((2.0 * tail).min(1.0), bound_exact(&chances))
    } else {
        let reach = ((u - pairs / 2.0).abs() - 0.5).max(0.0);
        let p = if variance > 0.0 {
            (2.0 * normal_cdf(-reach / variance.sqrt())).min(1.0)
        } else {
            1.0
        };
        let z = -normal_quantile(0.025);
        let bound = (pairs / 2.0 - z * variance.sqrt()).floor();
        (p, if bound >= 1.0 { bound as usize } else { 0 })
    };
    Some(RankTest {
        u,
        p,
        exact,
        least_p: least_p(one.len(), other.len()),
        shift: median(&differences),
        interval: beyond.checked_sub(1).map(|at| Interval {
            low: differences[at],
            high: differences[differences.len() - 1 - at],
        }),
    })
}

/// `sum (t^3 - t)` over the groups of tied numbers of both samples.
fn tie_term(one: &[f64], other: &[f64]) -> f64 {
    let all = sorted(&[one, other].concat());
    let groups = all.chunk_by(|a, b| a == b);
    groups
        .map(|group| group.len() as f64)
        .map(|t| t * t * t - t)
        .sum()
}

/// The smallest two-sided p: both extremes of the `C(n1 + n2, n1)` orders.
fn least_p(n1: usize, n2: usize) -> f64 {
    let orders: f64 = (1..=n1).map(|i| (n2 + i) as f64 / i as f64).product();
    (2.0 / orders).min(1.0)
}

/// The probability of each U without ties and without a difference: the number of orders of `n1` and `n2` with that U,
/// `w(u; m, n) = w(u - n; m - 1, n) + w(u; m, n - 1)`, over all orders (Mann and Whitney 1947).
fn u_distribution(n1: usize, n2: usize) -> Vec<f64> {
    // As shares: the last in order is of the first sample with chance m/(m + n), and is then above all n of the second.
    let mut rows: Vec<Vec<f64>> = vec![vec![1.0]; n2 + 1];
    for m in 1..=n1 {
        let mut next: Vec<Vec<f64>> = vec![vec![1.0]];
        for n in 1..=n2 {
            let mut share = vec![0.0; m * n + 1];
            let (first, second) = (m as f64 / (m + n) as f64, n as f64 / (m + n) as f64);
            for (u, chance) in rows[n].iter().enumerate() {
                share[u + n] += first * chance;
            }
            for (u, chance) in next[n - 1].iter().enumerate() {
                share[u] += second * chance;
            }
            next.push(share);
        }
        rows = next;
    }
    rows.swap_remove(n2)
}

/// How many of the smallest differences lie outside the 95 % interval, the bound included: the largest c with
/// `P(U <= c - 1) <= 0.025`.
fn bound_exact(chances: &[f64]) -> usize {
    let mut below = 0.0;
    let within = chances.iter().take_while(|chance| {
        below += **chance;
        below <= 0.025
    });
    within.count()
}

/// How far each number lies from the median of its sample, by the modified z-score
/// `0.6745 (x - median) / MAD`, or `(x - median) / (1.2533 mean |x - median|)` where more than half are equal. All 0
/// where all are.
///
/// Source: Iglewicz and Hoaglin 1993, How to Detect and Handle Outliers; they call 3.5 and beyond an outlier (from
/// memory).
#[must_use]
pub fn modified_z(sample: &[f64]) -> Vec<f64> {
    if sample.is_empty() {
        return Vec::new();
    }
    let centre = median(sample);
    let off: Vec<f64> = sample.iter().map(|x| (x - centre).abs()).collect();
    let (mad, mean_off) = (median(&off), mean(&off));
    let scale = if mad > 0.0 {
        mad / 0.6745
    } else {
        1.2533 * mean_off
    };
    let score = |x: &f64| {
        if scale > 0.0 {
            (x - centre) / scale
        } else {
            0.0
        }
    };
    sample.iter().map(score).collect()
}
