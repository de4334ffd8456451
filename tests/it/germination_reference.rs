//! Arrivals, shares and comparisons of lots against `germination.json`; `tests/data/README.md` says where it is from.

use locule::stats::arrivals::Arrivals;
use locule::stats::intervals::{clopper_pearson, wilson};
use locule::stats::survival::{Censored, IntervalCurve, interval_log_rank, log_rank};
use locule::stats::two_by_two::{Part, difference, fisher_exact};
use serde_json::Value;

fn checks() -> Value {
    serde_json::from_str(include_str!("../data/germination.json")).unwrap()
}

fn number(value: &Value) -> f64 {
    match value {
        Value::String(text) => match text.split_once('/') {
            Some((top, bottom)) => top.parse::<f64>().unwrap() / bottom.parse::<f64>().unwrap(),
            None => text.parse().unwrap(),
        },
        Value::Object(map) => number(map.get("decimal").unwrap_or_else(|| &map["value"])),
        other => other.as_f64().unwrap(),
    }
}

#[track_caller]
fn close(what: &str, ours: f64, theirs: f64) {
    let bound = 1e-10 * theirs.abs().max(1e-3);
    assert!(
        (ours - theirs).abs() <= bound,
        "{what}: {ours}, reference {theirs}"
    );
}

/// A series of `t` and `n` as cumulative counts.
fn arrivals(lot: &Value) -> Arrivals {
    let times = lot["t"].as_array().unwrap().iter().map(number);
    let up = lot["cumulative"].as_array().unwrap().iter();
    let counts: Vec<(f64, u64)> = times.zip(up.map(|n| n.as_u64().unwrap())).collect();
    Arrivals::of(lot["sown"].as_u64().unwrap(), &counts)
}

#[test]
fn every_index_of_every_series_agrees() {
    let checks = checks();
    let lots = checks["lots"].as_object().unwrap();
    assert_eq!(lots.len(), 5);
    let mut compared = 0;
    for (name, lot) in lots {
        let ours = arrivals(lot);
        let indices: [(&str, Option<f64>); 18] = [
            ("MGT", ours.mean()),
            ("MGR", ours.mean().map(f64::recip)),
            ("CVG", ours.mean().map(|mean| 100.0 / mean)),
            ("variance", ours.variance()),
            ("sd", ours.variance().map(f64::sqrt)),
            ("SE_MGT", ours.mean_se()),
            ("synchrony_Z", ours.synchrony()),
            ("CUG", ours.uniformity()),
            ("uncertainty_U_bits", ours.uncertainty()),
            ("T50_coolbear", ours.median_coolbear()),
            ("T50_farooq", ours.quantile(0.5)),
            ("T10", ours.quantile(0.1)),
            ("T25", ours.quantile(0.25)),
            ("T75", ours.quantile(0.75)),
            ("T90", ours.quantile(0.9)),
            ("T50_of_sown", ours.median_of_all()),
            ("speed_maguire_counts", ours.speed()),
            ("CVt_percent", cv(&ours)),
        ];
        for (index, ours) in indices {
            let theirs = lot.get(index).filter(|value| !value.is_null());
            match (ours, theirs) {
                (Some(ours), Some(theirs)) => {
                    compared += 1;
                    close(&format!("{name} {index}"), ours, number(theirs));
                }
                (None, None) => {}
                // A single seedling has no pair, and its spread is left out of the file.
                (ours, theirs) => panic!("{name} {index}: {ours:?}, reference {theirs:?}"),
            }
        }
        let (k, n) = (ours.arrived(), ours.total());
        close(
            name,
            100.0 * k as f64 / n as f64,
            number(&lot["germination_percent"]),
        );
        for (interval, key) in [
            (wilson(k, n, 0.95), "wilson95_percent"),
            (clopper_pearson(k, n, 0.95), "clopper95_percent"),
        ] {
            close(key, 100.0 * interval.low, number(&lot[key][0]));
            close(key, 100.0 * interval.high, number(&lot[key][1]));
        }
    }
    assert_eq!(compared, 3 * 18 + 11);
}

fn cv(arrivals: &Arrivals) -> Option<f64> {
    Some(100.0 * arrivals.variance()?.sqrt() / arrivals.mean()?)
}

/// A lot of a comparison from its cumulative shares, which the file gives as `KM_cumulative`.
fn from_shares(shares: &Value, sown: u64) -> Arrivals {
    let mut counts: Vec<(f64, u64)> = shares
        .as_object()
        .unwrap()
        .iter()
        .map(|(day, share)| {
            let up = number(share) * sown as f64;
            (day.parse().unwrap(), up.round() as u64)
        })
        .collect();
    counts.sort_by(|a, b| a.0.total_cmp(&b.0));
    Arrivals::of(sown, &counts)
}

#[test]
fn lots_compare_as_in_scipy_and_statsmodels() {
    let checks = checks();
    for (pair, of) in [
        ("A vs B", ["A", "B"]),
        ("A vs C", ["A", "C"]),
        ("C vs F_single_day", ["C", "F_single_day"]),
    ] {
        let row = &checks["comparisons"][pair];
        let parts: Vec<Part> = row["table"]
            .as_array()
            .unwrap()
            .iter()
            .map(|row| {
                let [up, not] = [&row[0], &row[1]].map(|n| n.as_u64().unwrap());
                Part::new(up, up + not)
            })
            .collect();
        close(
            pair,
            fisher_exact(parts[0], parts[1]),
            number(&row["fisher_two_sided"]["mp"]),
        );
        let between = difference(parts[0], parts[1], 0.95);
        close(pair, between.low, number(&row["difference_newcombe95"][0]));
        close(pair, between.high, number(&row["difference_newcombe95"][1]));
        let lots: Vec<Arrivals> = of
            .iter()
            .zip(&parts)
            .map(|(name, part)| from_shares(&row["KM_cumulative"][name], part.n))
            .collect();
        let test = log_rank(&lots[0].lifetimes(), &lots[1].lifetimes()).unwrap();
        let theirs = &row["logrank"];
        close(pair, test.observed, number(&theirs["observed"]));
        close(pair, test.expected, number(&theirs["expected_decimal"]));
        close(pair, test.variance, number(&theirs["variance_decimal"]));
        close(pair, test.chi2, number(&theirs["chi2"]));
        close(pair, test.p, number(&theirs["p"]));
    }
}

#[test]
fn small_tables_have_their_exact_p() {
    let checks = checks();
    let tables = checks["comparisons"]["small tables"].as_array().unwrap();
    assert_eq!(tables.len(), 5);
    for row in tables {
        let part = |at: usize| {
            let [k, not] = [0, 1].map(|column| row["table"][at][column].as_u64().unwrap());
            Part::new(k, k + not)
        };
        close(
            "table",
            fisher_exact(part(0), part(1)),
            number(&row["fisher_two_sided"]),
        );
    }
}

/// Eleven and ten times known between two looks. The distribution of highest likelihood by SciPy 1.17.1 (`minimize`,
/// BFGS then Nelder-Mead, over the masses of all elementary intervals), the scores by numerical differentiation of the
/// proportional-hazards likelihood at no difference, the variance from their definition.
#[test]
fn the_interval_test_agrees_with_numerical_differentiation() {
    let sample = |rows: &[(f64, f64, u64)]| -> Vec<Censored> {
        let one = |&(after, by, n): &(f64, f64, u64)| Censored { after, by, n };
        rows.iter().map(one).collect()
    };
    let end = f64::INFINITY;
    let one = sample(&[(5.0, 7.0, 2), (7.0, 9.0, 4), (9.0, 12.0, 3), (12.0, end, 3)]);
    let other = sample(&[
        (4.0, 8.0, 1),
        (8.0, 11.0, 3),
        (11.0, 15.0, 4),
        (15.0, end, 2),
    ]);
    let all: Vec<Censored> = one.iter().chain(&other).copied().collect();
    let curve = IntervalCurve::of(&all);
    for (day, left) in [
        (5.0, 1.0),
        (7.0, 1.0 - 0.136_363_63),
        (9.0, 0.545_454_54),
        (12.0, 0.272_727_27),
        (15.0, 0.181_818_18),
    ] {
        let ours = curve.left_after(day);
        assert!(
            (ours - left).abs() < 1e-6,
            "{day}: {ours}, reference {left}"
        );
    }
    let test = interval_log_rank(&one, &other).unwrap();
    for (ours, theirs) in [
        (test.score, 0.784_827_47),
        (test.variance, 4.253_585_66),
        (test.z, 0.380_536_75),
        (test.p, 0.703_547_02),
    ] {
        assert!((ours - theirs).abs() < 1e-6, "{test:?}, reference {theirs}");
    }
    let turned = interval_log_rank(&other, &one).unwrap();
    assert!((turned.z + test.z).abs() < 1e-9, "{turned:?}");
}

/// Where both groups were looked at on the same days the interval test and the log-rank test nearly agree.
#[test]
fn on_common_days_the_interval_test_is_near_the_log_rank_test() {
    let early = Arrivals::of(30, &[(6.0, 5), (8.0, 16), (10.0, 22), (14.0, 25)]);
    let late = Arrivals::of(30, &[(6.0, 1), (8.0, 6), (10.0, 15), (14.0, 23)]);
    let by_rank = log_rank(&early.lifetimes(), &late.lifetimes()).unwrap();
    let by_interval = interval_log_rank(&early.intervals(), &late.intervals()).unwrap();
    assert!(by_interval.z > 0.0);
    assert!(
        (by_interval.z - by_rank.chi2.sqrt()).abs() < 0.2,
        "{by_rank:?} {by_interval:?}"
    );
}

#[test]
fn alike_or_empty_lots_are_not_told_apart() {
    let none = Arrivals::of(10, &[(5.0, 0)]);
    assert_eq!(
        interval_log_rank(&none.intervals(), &none.intervals()),
        None
    );
    assert_eq!(log_rank(&none.lifetimes(), &none.lifetimes()), None);
    let tray = Arrivals::of(10, &[(5.0, 4), (7.0, 8)]);
    let same = interval_log_rank(&tray.intervals(), &tray.intervals()).unwrap();
    assert!(same.z.abs() < 1e-9 && same.p > 0.999_999, "{same:?}");
}
