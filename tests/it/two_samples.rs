//! Two samples compared, against SciPy 1.17.1; the call that gave each value stands beside it.

use locule::stats::two_samples::{modified_z, rank_test, student_two_sided, welch};
use proptest::prelude::*;

const X: [f64; 12] = [
    42.0, 45.0, 39.0, 44.0, 47.0, 41.0, 43.0, 40.0, 46.0, 38.0, 44.5, 42.5,
];
const Y: [f64; 7] = [36.0, 39.5, 33.0, 34.0, 38.5, 37.0, 41.5];

#[track_caller]
fn close(ours: f64, theirs: f64) {
    assert!(
        (ours - theirs).abs() <= 1e-10 * theirs.abs(),
        "{ours:e}, reference {theirs:e}"
    );
}

/// `ttest_ind(x, y, equal_var=False)` and its `confidence_interval(0.95)`.
#[test]
fn welch_agrees_with_scipy() {
    let test = welch(&X, &Y, 0.95).unwrap();
    close(test.t, 4.001_195_646_785_55);
    close(test.df, 11.891_022_458_587_9);
    close(test.p, 0.001_789_120_984_420_137_6);
    close(test.interval.low, 2.545_304_858_996_076);
    close(test.interval.high, 8.645_171_331_480_114);
    assert_eq!(welch(&[3.0], &Y, 0.95), None);
    assert_eq!(welch(&[3.0, 3.0], &[4.0, 4.0], 0.95), None);
}

/// `2*t.sf(t, df)`.
#[test]
fn tails_of_students_t_agree_with_scipy() {
    close(student_two_sided(2.5, 3.7), 0.071_822_022_911_826_78);
    close(student_two_sided(-40.0, 1.3), 0.005_731_288_544_733_428);
    close(student_two_sided(8.0, 200.0), 9.879_200_909_330_596e-14);
    close(student_two_sided(0.0, 5.0), 1.0);
}

/// `mannwhitneyu(x, y, method='exact')`; the shift is the median of all differences, its interval every shift d that
/// `mannwhitneyu(x - d, y, method='exact')` keeps at 0.05.
#[test]
fn the_exact_rank_test_agrees_with_scipy() {
    let test = rank_test(&X, &Y).unwrap();
    assert!(test.exact);
    close(test.u, 77.0);
    close(test.p, 0.001_786_139_557_037_39);
    close(test.shift, 5.5);
    let interval = test.interval.unwrap();
    assert_eq!((interval.low, interval.high), (2.5, 9.0));
    let few = rank_test(&[10.0, 11.0, 12.0], &[1.0, 2.0, 3.0]).unwrap();
    close(few.u, 9.0);
    close(few.p, 0.1);
    close(few.least_p, 0.1);
    assert_eq!(few.interval, None, "three and three bound nothing at 95 %");
    let one: Vec<f64> = (0..30).map(|i| f64::from(i) * 1.01 + 0.37).collect();
    let other: Vec<f64> = (0..40).map(|i| f64::from(i) * 1.03 - 5.0).collect();
    let many = rank_test(&one, &other).unwrap();
    assert!(many.exact);
    close(many.u, 596.0);
    close(many.p, 0.967_087_714_348_697_6);
}

/// `mannwhitneyu(x, y, method='asymptotic', use_continuity=True)`.
#[test]
fn ties_and_many_numbers_go_by_the_normal_curve() {
    let ties = rank_test(
        &[5.0, 6.0, 6.0, 7.0, 8.0, 9.0, 9.0, 9.0],
        &[4.0, 5.0, 5.0, 6.0, 6.0, 7.0],
    )
    .unwrap();
    assert!(!ties.exact);
    close(ties.u, 39.5);
    close(ties.p, 0.047_902_096_115_497_436);
    let one: Vec<f64> = (0..60).map(|i| f64::from(i) * 1.01 + 0.3).collect();
    let other: Vec<f64> = (0..55).map(|i| f64::from(i) * 1.03).collect();
    let many = rank_test(&one, &other).unwrap();
    assert!(!many.exact);
    close(many.u, 1775.5);
    close(many.p, 0.484_010_355_790_634_45);
    let same = rank_test(&[2.0, 2.0], &[2.0, 2.0, 2.0]).unwrap();
    assert_eq!((same.p, same.shift), (1.0, 0.0));
}

/// By hand: of 40, 41, 42, 43, 12 the median is 41, the deviations 1, 0, 1, 2, 29, their median 1; 0.6745 times -29.
#[test]
fn a_runt_stands_far_out() {
    let scores = modified_z(&[40.0, 41.0, 42.0, 43.0, 12.0]);
    close(scores[4], -0.6745 * 29.0);
    assert!(scores[..4].iter().all(|z| z.abs() < 3.5));
    // More than half alike: by the mean deviation, 6 over 1.2533 times 6/7.
    let flat = modified_z(&[9.0, 9.0, 9.0, 9.0, 9.0, 9.0, 3.0]);
    close(flat[6], -7.0 / 1.2533);
    assert_eq!(modified_z(&[5.0, 5.0]), [0.0, 0.0]);
    assert!(modified_z(&[]).is_empty());
}

proptest! {
    #[test]
    fn turning_the_samples_round_turns_the_answer_round(
        one in prop::collection::vec(0.0f64..100.0, 2..9),
        other in prop::collection::vec(0.0f64..100.0, 2..9),
    ) {
        let (forth, back) = (rank_test(&one, &other).unwrap(), rank_test(&other, &one).unwrap());
        prop_assert!((forth.p - back.p).abs() < 1e-12);
        prop_assert!((forth.shift + back.shift).abs() < 1e-9);
        prop_assert!(forth.p >= forth.least_p - 1e-12);
        if let (Some(forth), Some(back)) = (welch(&one, &other, 0.95), welch(&other, &one, 0.95)) {
            prop_assert!((forth.t + back.t).abs() < 1e-9);
            prop_assert!((forth.interval.low + back.interval.high).abs() < 1e-9);
        }
    }
}
