//! Observed class counts against an expected ratio: chi-square, Yates, G, and which p decides.
//!
//! Knows classes by position only. The answer is a struct of full-precision numbers; what to call the
//! classes and how to say it is for the rooms above.

use super::logs::deviance;
use super::multinomial::{ExactTest, HalfOutcomes, exact_test};
use super::tails::chi_square_upper;

/// An expected count below this makes the exact test decide (Cochran 1954, Biometrics 10:417-451,
/// names 5 as the usual rule).
pub const LEAST_EXPECTED: f64 = 5.0;

/// One class: how many were counted and how many the ratio expects.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClassCount {
    /// Plants counted.
    pub observed: u64,
    /// Plants expected, `n` times the weight's share.
    pub expected: f64,
}

/// Which test's p-value is the answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Decides {
    /// Pearson's chi-square: every expected count is large enough, or the exact test was declined.
    Chi2,
    /// The exact multinomial test: some expected count is below 5, or no degree of freedom is left.
    Exact,
    /// A class that cannot occur was counted: no p-value is needed.
    Impossible,
}

/// Everything the tests say about one table of counts.
#[derive(Debug, Clone, PartialEq)]
pub struct GoodnessOfFit {
    /// Plants counted in all.
    pub n: u64,
    /// The classes in the order given, those with nothing expected included.
    pub classes: Vec<ClassCount>,
    /// Pearson's chi-square; `None` if impossible or nothing was counted.
    pub chi2: Option<f64>,
    /// Classes with something expected, less 1, less the parameters fitted.
    pub df: usize,
    /// Upper tail of chi-square; `None` without degrees of freedom.
    pub p_chi2: Option<f64>,
    /// Yates' corrected value, for two classes only.
    pub yates: Option<f64>,
    /// Upper tail of Yates' value.
    pub p_yates: Option<f64>,
    /// The G statistic.
    pub g: Option<f64>,
    /// Upper tail of G.
    pub p_g: Option<f64>,
    /// The exact multinomial p-value of the ratio as it stands (parameters fitted are taken at their
    /// values); `None` if impossible or declined.
    pub p_exact: Option<f64>,
    /// Which p decides.
    pub decides: Decides,
    /// The deciding p; `None` if impossible, or if the test that decides has none.
    pub p: Option<f64>,
    /// Set if the exact test was declined for its size.
    pub exact_declined: Option<HalfOutcomes>,
}

/// Tests `observed` counts against a ratio given as `weights`, some of which may be 0.
///
/// A class with weight 0 that was not seen is left out of every statistic; one that was seen makes the
/// table impossible. `params_fitted` counts parameters of the ratio estimated from these same counts.
///
/// # Panics
/// If the slices differ in length, a weight is negative or not finite, or all weights are 0.
pub fn goodness_of_fit(observed: &[u64], weights: &[f64], params_fitted: usize) -> GoodnessOfFit {
    let classes = expected_counts(observed, weights);
    let n = observed.iter().sum();
    let open: Vec<usize> = (0..weights.len()).filter(|&i| weights[i] > 0.0).collect();
    let mut fit = GoodnessOfFit {
        n,
        df: open.len().saturating_sub(1 + params_fitted),
        chi2: None,
        p_chi2: None,
        yates: None,
        p_yates: None,
        g: None,
        p_g: None,
        p_exact: None,
        decides: Decides::Impossible,
        p: None,
        exact_declined: None,
        classes,
    };
    if fit
        .classes
        .iter()
        .zip(weights)
        .all(|(c, &w)| w > 0.0 || c.observed == 0)
    {
        fit.fill_statistics();
        fit.fill_exact(
            &open.iter().map(|&i| observed[i]).collect::<Vec<_>>(),
            &open.iter().map(|&i| weights[i]).collect::<Vec<_>>(),
        );
        fit.decide();
    }
    fit
}

impl GoodnessOfFit {
    fn fill_statistics(&mut self) {
        if self.n == 0 {
            return;
        }
        let tail = |value: f64| (self.df > 0).then(|| chi_square_upper(value, self.df));
        let (chi2, g) = (pearson(&self.classes), g_statistic(&self.classes));
        let yates = yates(&self.classes);
        (self.p_chi2, self.p_g, self.p_yates) = (tail(chi2), tail(g), yates.and_then(tail));
        (self.chi2, self.g, self.yates) = (Some(chi2), Some(g), yates);
    }

    fn fill_exact(&mut self, observed: &[u64], weights: &[f64]) {
        match exact_test(observed, weights) {
            ExactTest::P(p) => self.p_exact = Some(p),
            ExactTest::Declined(size) => self.exact_declined = Some(size),
        }
    }

    fn decide(&mut self) {
        let small = expecting(&self.classes).any(|c| c.expected < LEAST_EXPECTED);
        let exact = self.p_exact.is_some() && (small || self.p_chi2.is_none());
        (self.decides, self.p) = if exact {
            (Decides::Exact, self.p_exact)
        } else {
            (Decides::Chi2, self.p_chi2)
        };
    }
}

/// The counts beside what the ratio expects of their total.
///
/// # Panics
/// As [`goodness_of_fit`].
pub fn expected_counts(observed: &[u64], weights: &[f64]) -> Vec<ClassCount> {
    assert_eq!(observed.len(), weights.len(), "one weight for each class");
    assert!(
        weights.iter().all(|w| *w >= 0.0 && w.is_finite()),
        "weights are not negative"
    );
    let n = observed.iter().sum::<u64>() as f64;
    let all: f64 = weights.iter().sum();
    assert!(all > 0.0, "some class has a weight");
    let class = |(&observed, &weight): (&u64, &f64)| ClassCount {
        observed,
        expected: n * weight / all,
    };
    observed.iter().zip(weights).map(class).collect()
}

/// The classes in which something is expected.
fn expecting(classes: &[ClassCount]) -> impl Iterator<Item = &ClassCount> {
    classes.iter().filter(|c| c.expected > 0.0)
}

/// Pearson's chi-square, `sum (O - E)²/E` over classes with `E > 0`.
///
/// Source: Pearson 1900, Philosophical Magazine 50:157-175.
pub fn pearson(classes: &[ClassCount]) -> f64 {
    expecting(classes)
        .map(|c| (c.observed as f64 - c.expected).powi(2) / c.expected)
        .sum()
}

/// Yates' value `sum max(|O - E| - 1/2, 0)²/E`, if exactly two classes have something expected.
///
/// Source: Yates 1934, Supplement to the Journal of the Royal Statistical Society 1:217-235; the
/// correction never turns a deviation round.
pub fn yates(classes: &[ClassCount]) -> Option<f64> {
    let corrected = |c: &ClassCount| {
        ((c.observed as f64 - c.expected).abs() - 0.5)
            .max(0.0)
            .powi(2)
            / c.expected
    };
    (expecting(classes).count() == 2).then(|| expecting(classes).map(corrected).sum())
}

/// `G = 2 sum O ln(O/E)`, with `0 ln 0 = 0`.
///
/// Summed as `2 sum [O ln(O/E) + E - O]`: the same, since observed and expected have one total, and
/// every term is positive. Source: Sokal and Rohlf, Biometry, chapter 17.
pub fn g_statistic(classes: &[ClassCount]) -> f64 {
    2.0 * expecting(classes)
        .map(|c| deviance(c.observed as f64, c.expected))
        .sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unseen_class_of_weight_zero_is_left_out() {
        let (with, without) = (
            goodness_of_fit(&[30, 0, 10], &[3.0, 0.0, 1.0], 0),
            goodness_of_fit(&[30, 10], &[3.0, 1.0], 0),
        );
        assert_eq!(with.classes.len(), 3);
        assert_eq!(
            GoodnessOfFit {
                classes: Vec::new(),
                ..with
            },
            GoodnessOfFit {
                classes: Vec::new(),
                ..without
            }
        );
    }

    #[test]
    fn a_seen_class_of_weight_zero_is_impossible() {
        let fit = goodness_of_fit(&[30, 1, 10], &[3.0, 0.0, 1.0], 0);
        assert_eq!(
            (fit.decides, fit.p, fit.chi2, fit.g, fit.p_exact),
            (Decides::Impossible, None, None, None, None)
        );
    }

    #[test]
    fn one_possible_class_is_no_surprise() {
        let fit = goodness_of_fit(&[12, 0], &[1.0, 0.0], 0);
        assert_eq!((fit.df, fit.chi2, fit.p_chi2), (0, Some(0.0), None));
        assert_eq!((fit.decides, fit.p), (Decides::Exact, Some(1.0)));
    }

    #[test]
    fn nothing_counted_tests_nothing() {
        let fit = goodness_of_fit(&[0, 0], &[3.0, 1.0], 0);
        assert_eq!(
            (fit.n, fit.chi2, fit.g, fit.p_chi2, fit.yates),
            (0, None, None, None, None)
        );
        assert_eq!((fit.decides, fit.p), (Decides::Exact, Some(1.0)));
    }

    #[test]
    fn five_expected_is_enough_and_less_is_not() {
        assert_eq!(
            goodness_of_fit(&[14, 6], &[3.0, 1.0], 0).decides,
            Decides::Chi2
        );
        assert_eq!(
            goodness_of_fit(&[14, 5], &[3.0, 1.0], 0).decides,
            Decides::Exact
        );
    }

    #[test]
    fn a_table_too_large_to_list_falls_back_on_chi_square() {
        let fit = goodness_of_fit(
            &[100; 12],
            &[
                1000.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0,
            ],
            0,
        );
        assert_eq!(
            (fit.decides, fit.p, fit.p_exact),
            (Decides::Chi2, fit.p_chi2, None)
        );
        assert!(fit.exact_declined.is_some());
    }

    #[test]
    fn fitted_parameters_cost_degrees_of_freedom() {
        let fit = goodness_of_fit(&[40, 22, 24, 14], &[9.0, 3.0, 3.0, 1.0], 1);
        assert_eq!(
            (fit.df, fit.p_chi2),
            (2, fit.chi2.map(|x| chi_square_upper(x, 2)))
        );
        let spent = goodness_of_fit(&[40, 22], &[9.0, 3.0], 1);
        assert_eq!((spent.df, spent.p_chi2), (0, None));
    }

    /// Two plants where 0.375 were expected: the difference is more than a half; where 2.25 were, it is
    /// less, and the corrected value is 0 rather than negative turned positive.
    #[test]
    fn yates_never_overshoots() {
        assert_eq!(goodness_of_fit(&[7, 2], &[3.0, 1.0], 0).yates, Some(0.0));
        assert!(goodness_of_fit(&[4, 2], &[15.0, 1.0], 0).yates > Some(0.0));
        assert_eq!(goodness_of_fit(&[4, 2, 1], &[2.0, 1.0, 1.0], 0).yates, None);
    }
}
