//! Laws of the statistics room that hold whatever the counts, against exact integer arithmetic where
//! there is an oracle.

use locule::stats::counts::goodness_of_fit;
use locule::stats::heterogeneity::{heterogeneity, holm};
use locule::stats::intervals::{clopper_pearson, wilson};
use locule::stats::multinomial::{ExactTest, exact_test};
use locule::stats::power::smallest_n;
use locule::stats::tails::{binomial_tails, chi_square_upper};
use num_bigint::BigUint;
use num_rational::Ratio;
use num_traits::ToPrimitive;
use proptest::prelude::*;

fn as_weights(weights: &[u64]) -> Vec<f64> {
    weights.iter().map(|&w| w as f64).collect()
}

/// Every way to spread `left` over `classes`.
fn outcomes(left: u64, classes: usize) -> Vec<Vec<u64>> {
    if classes == 1 {
        return vec![vec![left]];
    }
    let mut all = Vec::new();
    for first in 0..=left {
        for mut rest in outcomes(left - first, classes - 1) {
            rest.insert(0, first);
            all.push(rest);
        }
    }
    all
}

fn factorial(n: u64) -> BigUint {
    (1..=n).product()
}

/// `P(x)` times the n-th power of the weights' sum: a whole number.
fn whole_probability(x: &[u64], weights: &[u64]) -> BigUint {
    let ways = factorial(x.iter().sum()) / x.iter().map(|&k| factorial(k)).product::<BigUint>();
    x.iter().zip(weights).fold(ways, |product, (&k, &w)| {
        product * BigUint::from(w).pow(k as u32)
    })
}

/// The definition, in whole numbers: `sum of P(x) with P(x) <= P(observed) (1 + 1e-7)`.
fn exact_p_by_enumeration(observed: &[u64], weights: &[u64]) -> f64 {
    let n: u64 = observed.iter().sum();
    let most = whole_probability(observed, weights) * 10_000_001u32;
    let counted: BigUint = outcomes(n, observed.len())
        .iter()
        .map(|x| whole_probability(x, weights))
        .filter(|p| p * 10_000_000u32 <= most)
        .sum();
    let all = BigUint::from(weights.iter().sum::<u64>()).pow(n as u32);
    Ratio::new(counted, all)
        .to_f64()
        .expect("a fraction is a number")
}

fn table(
    classes: std::ops::Range<usize>,
    most: u64,
) -> impl Strategy<Value = (Vec<u64>, Vec<u64>)> {
    let weight = prop_oneof![1u64..=3, 1u64..=27];
    prop::collection::vec((0..=most, weight), classes).prop_map(|pairs| pairs.into_iter().unzip())
}

fn near(ours: f64, theirs: f64) -> bool {
    (ours - theirs).abs() <= 1e-12 * theirs.abs()
}

proptest! {
    #[test]
    fn the_exact_p_is_that_of_whole_numbers((observed, weights) in table(1..6, 4)) {
        let ExactTest::P(p) = exact_test(&observed, &as_weights(&weights)) else { panic!("a small table") };
        let exact = exact_p_by_enumeration(&observed, &weights);
        prop_assert!(near(p, exact), "{} against {}", p, exact);
    }

    #[test]
    fn the_order_of_classes_changes_nothing((observed, weights) in table(2..6, 12), turn in 0usize..6) {
        let turned = |v: &[u64]| {
            let mut v = v.to_vec();
            let by = turn % v.len();
            v.rotate_left(by);
            v.swap(0, 1);
            v
        };
        let one = goodness_of_fit(&observed, &as_weights(&weights), 0);
        let other = goodness_of_fit(&turned(&observed), &as_weights(&turned(&weights)), 0);
        prop_assert_eq!(one.p_exact, other.p_exact);
        prop_assert_eq!((one.df, one.decides), (other.df, other.decides));
        for (a, b) in [(one.chi2, other.chi2), (one.g, other.g), (one.p, other.p), (one.yates, other.yates)] {
            prop_assert_eq!(a.is_some(), b.is_some());
            prop_assert!((a.unwrap_or(0.0) - b.unwrap_or(0.0)).abs() < 1e-9);
        }
    }

    #[test]
    fn the_scale_of_the_weights_changes_nothing((observed, weights) in table(2..5, 12), scale in 1e-3..1e3) {
        let scaled: Vec<f64> = weights.iter().map(|&w| w as f64 * scale).collect();
        let (one, other) = (goodness_of_fit(&observed, &as_weights(&weights), 0), goodness_of_fit(&observed, &scaled, 0));
        prop_assert!(near(one.p_exact.unwrap(), other.p_exact.unwrap()));
    }

    #[test]
    fn every_p_is_a_probability((observed, weights) in table(1..7, 40), zero in any::<bool>(), fitted in 0usize..3) {
        let mut weights = as_weights(&weights);
        if zero && weights.len() > 1 {
            weights[0] = 0.0;
        }
        let fit = goodness_of_fit(&observed, &weights, fitted);
        for p in [fit.p, fit.p_chi2, fit.p_g, fit.p_yates, fit.p_exact].into_iter().flatten() {
            prop_assert!((0.0..=1.0).contains(&p), "{:?}", fit);
        }
        for value in [fit.chi2, fit.g, fit.yates].into_iter().flatten() {
            prop_assert!(value >= 0.0 && value.is_finite(), "{:?}", fit);
        }
        let expected: f64 = fit.classes.iter().map(|c| c.expected).sum();
        prop_assert!((expected - fit.n as f64).abs() < 1e-9);
    }

    #[test]
    fn chi_square_tails_fall(chi2 in 0.0..200.0, more in 0.01..50.0, df in 1usize..60) {
        prop_assert!(chi_square_upper(chi2 + more, df) <= chi_square_upper(chi2, df));
        prop_assert!(chi_square_upper(chi2, df) <= chi_square_upper(chi2, df + 1) * (1.0 + 1e-12));
    }

    #[test]
    fn g_of_the_trays_adds_up(trays in prop::collection::vec([0u64..30, 0u64..30, 0u64..30], 1..6)) {
        let parts = heterogeneity(&trays, &[9.0, 3.0, 4.0]).unwrap();
        for part in [&parts.chi2, &parts.g] {
            let total: f64 = part.individual.iter().map(|t| t.value).sum();
            prop_assert!((part.pooled.value + part.heterogeneity.value - total).abs() < 1e-9);
            prop_assert_eq!(part.pooled.df + part.heterogeneity.df, part.total.df);
            prop_assert!(part.heterogeneity.value >= 0.0);
        }
        // G of heterogeneity is that of the contingency table, 2 sum O ln(O N/(row column)).
        let n: u64 = parts.pooled_counts.iter().sum();
        let mut contingency = 0.0;
        for tray in &trays {
            let row: u64 = tray.iter().sum();
            for (&count, &column) in tray.iter().zip(&parts.pooled_counts).filter(|(count, _)| **count > 0) {
                contingency += 2.0 * count as f64 * ((count * n) as f64 / (row * column) as f64).ln();
            }
        }
        prop_assert!((parts.g.heterogeneity.value - contingency).abs() < 1e-9);
    }

    #[test]
    fn holm_never_lowers_and_keeps_the_order(p in prop::collection::vec(0.0..=1.0, 0..8)) {
        let adjusted = holm(&p);
        for i in 0..p.len() {
            prop_assert!(adjusted[i] >= p[i] && adjusted[i] <= 1.0);
            for j in 0..p.len() {
                prop_assert!(p[i] > p[j] || adjusted[i] <= adjusted[j]);
            }
        }
    }

    #[test]
    fn intervals_hold_the_share_and_mirror(n in 1u64..3000, part in 0.0..=1.0, confidence in 0.5..0.999) {
        let k = (n as f64 * part) as u64;
        let share = k as f64 / n as f64;
        for interval in [wilson, clopper_pearson] {
            let (there, back) = (interval(k, n, confidence), interval(n - k, n, confidence));
            prop_assert!(0.0 <= there.low && there.low <= share && share <= there.high && there.high <= 1.0);
            prop_assert!((there.low - (1.0 - back.high)).abs() < 1e-12);
        }
    }

    #[test]
    fn one_plant_fewer_is_not_enough(k in 1u64..30, p in 0.001..0.999, confidence in 0.01..0.9999) {
        let needed = smallest_n(k, p, confidence).unwrap();
        prop_assert!(needed.n >= k && needed.probability >= confidence - 1e-9);
        prop_assert!(needed.n == k || binomial_tails(k, needed.n - 1, p).0 < confidence);
    }

    #[test]
    fn binomial_tails_are_those_of_whole_numbers(n in 1u64..40, k in 0u64..42, parts in 1u64..16) {
        let ways = |i: u64| factorial(n) / factorial(i) / factorial(n - i);
        let term = |i: u64| ways(i) * BigUint::from(parts).pow(i as u32) * BigUint::from(16 - parts).pow((n - i) as u32);
        let all = BigUint::from(16u32).pow(n as u32);
        let upper = Ratio::new((k..=n).map(term).sum::<BigUint>(), all.clone()).to_f64().expect("a fraction is a number");
        let lower = Ratio::new((0..k.min(n + 1)).map(term).sum::<BigUint>(), all).to_f64().expect("a fraction is a number");
        let ours = binomial_tails(k, n, parts as f64 / 16.0);
        let (smaller, exact) = if upper < lower { (ours.0, upper) } else { (ours.1, lower) };
        prop_assert!((ours.0 - upper).abs() < 1e-13 && (ours.1 - lower).abs() < 1e-13);
        prop_assert!((smaller - exact).abs() <= 1e-12 * exact.max(1e-3), "{:?} against {} {}", ours, upper, lower);
    }
}
