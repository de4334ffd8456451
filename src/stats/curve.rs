//! One unknown from counts: maximum likelihood where every class's share is a polynomial of it.
//!
//! Given counts and polynomials; knows nothing of what the unknown is. The estimate of linkage calls it.

use super::tails::normal_quantile;

/// Steps of the grid on which the highest likelihood is looked for before it is refined.
const STEPS: usize = 512;

/// A polynomial, the constant first.
#[derive(Debug, Clone, PartialEq)]
pub struct Polynomial(Vec<f64>);

impl Polynomial {
    /// The polynomial of least degree through some points (Newton's divided differences, textbook).
    #[must_use]
    pub fn through(points: &[(f64, f64)]) -> Self {
        let mut differences: Vec<f64> = points.iter().map(|(_, y)| *y).collect();
        for order in 1..points.len() {
            for at in (order..points.len()).rev() {
                let width = points[at].0 - points[at - order].0;
                differences[at] = (differences[at] - differences[at - 1]) / width;
            }
        }
        let mut found = vec![0.0; points.len()];
        for at in (0..points.len()).rev() {
            // found = found * (x - x_at) + difference
            for power in (1..found.len()).rev() {
                found[power] = found[power - 1] - points[at].0 * found[power];
            }
            found[0] = differences[at] - points[at].0 * found[0];
        }
        Self(found)
    }

    /// Its value.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        self.0.iter().rev().fold(0.0, |sum, c| sum * x + c)
    }

    /// Its derivative.
    #[must_use]
    pub fn slope(&self) -> Self {
        let rest = self.0.iter().enumerate().skip(1);
        Self(rest.map(|(power, c)| c * power as f64).collect())
    }
}

/// A class: how many were counted and its share as the unknown varies.
#[derive(Debug, Clone)]
struct Class {
    count: f64,
    share: Polynomial,
    slope: Polynomial,
    bend: Polynomial,
}

/// Counts in classes whose shares depend on one unknown.
#[derive(Debug, Clone)]
pub struct Curve {
    classes: Vec<Class>,
    n: f64,
}

/// A maximum likelihood estimate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The value of highest likelihood.
    pub value: f64,
    /// Its standard error, 1/sqrt(I), by the expected information I = n sum p'^2/p (Fisher); nothing where the
    /// counts say nothing, and at the end of what is possible, where there is none (Wald's theory needs room on
    /// both sides).
    pub se: Option<f64>,
    /// The same by the observed information, sum O (p'^2/p^2 - p''/p).
    pub se_observed: Option<f64>,
    /// Lower end of the likelihood interval.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// The log likelihood there, without the multinomial coefficient.
    pub log_likelihood: f64,
}

impl Curve {
    /// Of counts and shares, class by class.
    ///
    /// # Panics
    /// If there are not as many counts as shares.
    #[must_use]
    pub fn new(counts: &[u64], shares: &[Polynomial]) -> Self {
        assert_eq!(counts.len(), shares.len(), "one share for each count");
        let class = |(count, share): (&u64, &Polynomial)| Class {
            count: *count as f64,
            share: share.clone(),
            slope: share.slope(),
            bend: share.slope().slope(),
        };
        Self {
            classes: counts.iter().zip(shares).map(class).collect(),
            n: counts.iter().map(|count| *count as f64).sum(),
        }
    }

    /// sum O ln p: the log likelihood without the multinomial coefficient.
    #[must_use]
    pub fn log_likelihood(&self, x: f64) -> f64 {
        let seen = self.classes.iter().filter(|class| class.count > 0.0);
        seen.map(|class| class.count * class.share.at(x).max(0.0).ln())
            .sum()
    }

    /// The derivative of the log likelihood.
    fn score(&self, x: f64) -> f64 {
        let seen = self.classes.iter().filter(|class| class.count > 0.0);
        seen.map(|class| class.count * class.slope.at(x) / class.share.at(x))
            .sum()
    }

    /// The value of highest likelihood within bounds, with the interval of all values whose likelihood is not
    /// significantly lower: 2(ln L(best) - ln L(x)) at most the square of the normal quantile (Wilks 1938, Annals of
    /// Mathematical Statistics 9:60-62). Nothing where the counts are impossible at every value.
    #[must_use]
    pub fn estimate(&self, bounds: [f64; 2], confidence: f64) -> Option<Estimate> {
        let [from, to] = bounds;
        let grid: Vec<f64> = (0..=STEPS)
            .map(|step| from + (to - from) * step as f64 / STEPS as f64)
            .collect();
        let value = self.peak(&grid)?;
        let log_likelihood = self.log_likelihood(value);
        let z = normal_quantile((1.0 - confidence) / 2.0);
        let least = log_likelihood - 0.5 * z * z;
        let inside = (from < value && value < to).then_some(value);
        Some(Estimate {
            value,
            se: inside.and_then(|x| self.error(self.expected_information(x))),
            se_observed: inside.and_then(|x| self.error(self.observed_information(x))),
            low: self.end(&grid, value, least),
            high: self.end(
                &grid.iter().rev().copied().collect::<Vec<_>>(),
                value,
                least,
            ),
            log_likelihood,
        })
    }

    fn peak(&self, grid: &[f64]) -> Option<f64> {
        let mut best = (f64::NEG_INFINITY, 0);
        for (at, x) in grid.iter().enumerate() {
            let here = self.log_likelihood(*x);
            // Of equals the first, unless rounding alone makes the difference.
            if here > best.0 + 1e-9 * here.abs().max(1e-3)
                || best.0 == f64::NEG_INFINITY && here.is_finite()
            {
                best = (here, at);
            }
        }
        if best.0 == f64::NEG_INFINITY {
            return None;
        }
        let at = best.1;
        let (mut low, mut high) = (
            grid[at.saturating_sub(1)],
            grid[(at + 1).min(grid.len() - 1)],
        );
        if at == 0 && self.score(low) <= 0.0 {
            return Some(low);
        }
        if at == grid.len() - 1 && self.score(high) >= 0.0 {
            return Some(high);
        }
        loop {
            let middle = 0.5 * (low + high);
            if middle <= low || middle >= high {
                return Some(middle);
            }
            if self.score(middle) > 0.0 {
                low = middle;
            } else {
                high = middle;
            }
        }
    }

    /// The outermost value, coming along the grid, from which the likelihood is high enough.
    fn end(&self, grid: &[f64], value: f64, least: f64) -> f64 {
        let enough = |x: f64| self.log_likelihood(x) >= least;
        let before = |x: f64| (x - grid[0]).abs() < (value - grid[0]).abs();
        let first = grid.iter().position(|x| enough(*x) || !before(*x));
        let at = first.unwrap_or(grid.len() - 1);
        let mut inside = if enough(grid[at]) { grid[at] } else { value };
        if at == 0 {
            return if enough(grid[0]) { grid[0] } else { inside };
        }
        let mut outside = grid[at - 1];
        for _ in 0..100 {
            let middle = 0.5 * (inside + outside);
            if enough(middle) {
                inside = middle;
            } else {
                outside = middle;
            }
        }
        inside
    }

    fn expected_information(&self, x: f64) -> f64 {
        let term = |class: &Class| {
            let (p, slope) = (class.share.at(x), class.slope.at(x));
            if p > 0.0 { slope * slope / p } else { 0.0 }
        };
        self.n * self.classes.iter().map(term).sum::<f64>()
    }

    fn observed_information(&self, x: f64) -> f64 {
        let term = |class: &Class| {
            let (p, slope) = (class.share.at(x), class.slope.at(x));
            class.count * (slope * slope / (p * p) - class.bend.at(x) / p)
        };
        let seen = self.classes.iter().filter(|class| class.count > 0.0);
        seen.map(term).sum()
    }

    fn error(&self, information: f64) -> Option<f64> {
        (information > 1e-9 * self.n && self.n > 0.0).then(|| 1.0 / information.sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_polynomial_goes_through_its_points() {
        let cubic = |x: f64| 1.0 - 2.0 * x + 0.5 * x * x * x;
        let points: Vec<(f64, f64)> = [0.0, 0.25, 0.5, 0.75, 1.0].map(|x| (x, cubic(x))).to_vec();
        let found = Polynomial::through(&points);
        for x in [0.1, 0.33, 0.9] {
            assert!((found.at(x) - cubic(x)).abs() < 1e-14);
            assert!((found.slope().at(x) - (1.5 * x * x - 2.0)).abs() < 1e-13);
        }
    }

    /// k of n: the estimate is k/n with standard error sqrt(k(n-k)/n^3), as every textbook has it.
    #[test]
    fn a_proportion() {
        let shares = [Polynomial(vec![0.0, 1.0]), Polynomial(vec![1.0, -1.0])];
        let found = Curve::new(&[7, 33], &shares)
            .estimate([0.0, 1.0], 0.95)
            .unwrap();
        assert!((found.value - 7.0 / 40.0).abs() < 1e-12);
        let se = (7.0 * 33.0 / 64_000.0_f64).sqrt();
        assert!((found.se.unwrap() - se).abs() < 1e-12);
        assert!(found.low < 0.1 && 0.29 < found.high);
        let none = Curve::new(&[0, 20], &shares)
            .estimate([0.0, 1.0], 0.95)
            .unwrap();
        assert_eq!((none.value, none.low, none.se), (0.0, 0.0, None));
        // (1 - p)^20 = exp(-z^2/2) at the upper end.
        let upper = 1.0 - (-0.5 * 1.959963984540054_f64.powi(2) / 20.0).exp();
        assert!((none.high - upper).abs() < 1e-12, "{}", none.high);
    }

    #[test]
    fn impossible_counts_have_no_estimate() {
        let shares = [Polynomial(vec![0.0]), Polynomial(vec![1.0])];
        assert_eq!(
            Curve::new(&[1, 2], &shares).estimate([0.0, 1.0], 0.95),
            None
        );
    }
}
