//! The statistics room against published counts and reference values; `tests/data/README.md` names
//! where each file comes from.

use locule::stats::counts::{Decides, goodness_of_fit};
use locule::stats::heterogeneity::{Partition, Tested, heterogeneity};
use locule::stats::intervals::{Interval, clopper_pearson, wilson};
use locule::stats::multinomial::{ExactTest, exact_test};
use locule::stats::power::smallest_n;
use locule::stats::tails::{binomial_tails, chi_square_upper};
use serde_json::Value;

const TOLERANCE: f64 = 1e-9;

/// 1997/906/904/32 against 9:3:3:1: full enumeration in 80-bit long double by a C program written for
/// this check (terms under e^-50 of the observed one left out).
const CARVER_P: f64 = 2.330_380_700_086_179_6e-83;

fn number(value: &Value) -> f64 {
    match value {
        Value::String(digits) => digits.parse().expect("a decimal number"),
        other => other.as_f64().expect("a number"),
    }
}

fn fraction(text: &str) -> f64 {
    match text.split_once('/') {
        Some((top, bottom)) => top.parse::<f64>().unwrap() / bottom.parse::<f64>().unwrap(),
        None => text.parse().unwrap(),
    }
}

fn counts(value: &Value) -> Vec<u64> {
    value
        .as_array()
        .unwrap()
        .iter()
        .map(|x| x.as_u64().unwrap())
        .collect()
}

fn weights(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(number).collect()
}

#[track_caller]
fn close(what: &str, ours: f64, theirs: f64, relative: f64) {
    let bound = relative * theirs.abs();
    assert!(
        (ours - theirs).abs() <= bound,
        "{what}: {ours:e}, reference {theirs:e}"
    );
}

fn rows(text: &str) -> Vec<Value> {
    serde_json::from_str(text).expect("a list of checks")
}

#[test]
fn every_published_table_has_its_reference_statistics() {
    let rows = rows(include_str!("../data/reference_tests.json"));
    assert_eq!(rows.len(), 75);
    for row in rows {
        let id = row["id"].as_str().unwrap();
        let observed = counts(&row["observed"]);
        let fit = goodness_of_fit(&observed, &weights(&row["ratio"]), 0);
        assert_eq!(
            (fit.n, fit.df as u64),
            (row["n"].as_u64().unwrap(), row["df"].as_u64().unwrap()),
            "{id}"
        );
        for (class, expected) in fit.classes.iter().zip(row["expected"].as_array().unwrap()) {
            close(
                id,
                class.expected,
                fraction(expected.as_str().unwrap()),
                1e-14,
            );
        }
        close(
            id,
            fit.chi2.unwrap(),
            fraction(row["chi2"]["exact"].as_str().unwrap()),
            TOLERANCE,
        );
        close(
            id,
            fit.p_chi2.unwrap(),
            number(&row["chi2"]["p_mp"]),
            TOLERANCE,
        );
        close(id, fit.g.unwrap(), number(&row["g"]["mp"]), TOLERANCE);
        close(id, fit.p_g.unwrap(), number(&row["g"]["p_mp"]), TOLERANCE);
        assert_eq!(
            fit.yates.is_some(),
            !row["yates"].is_null(),
            "{id}: Yates is for two classes"
        );
        if let Some(yates) = fit.yates {
            close(
                id,
                yates,
                fraction(row["yates"]["exact"].as_str().unwrap()),
                TOLERANCE,
            );
            close(
                id,
                fit.p_yates.unwrap(),
                number(&row["yates"]["p_mp"]),
                TOLERANCE,
            );
        }
        let small = fit.classes.iter().any(|c| c.expected < 5.0);
        assert_eq!(fit.decides == Decides::Exact, small, "{id}");
        assert_eq!(fit.p, if small { fit.p_exact } else { fit.p_chi2 }, "{id}");
    }
}

#[test]
fn every_enumerable_table_has_its_exact_p() {
    // Nine, twenty-seven and eight classes of hundreds of plants are too many to list.
    let too_many = [
        "mendel_dihybrid_9class",
        "mendel_trihybrid_27class",
        "mendel_trihybrid_8class",
    ];
    let mut compared = 0;
    for row in rows(include_str!("../data/reference_tests.json")) {
        let id = row["id"].as_str().unwrap();
        match exact_test(&counts(&row["observed"]), &weights(&row["ratio"])) {
            ExactTest::P(p) => {
                let reference = match id {
                    "carver_maize" => CARVER_P,
                    // P(observed) alone is e^-1596; no double is that small.
                    "sweetpea_coupling_6952" => 0.0,
                    _ => number(&row["exact_multinomial"]["p_prob"]),
                };
                close(id, p, reference, TOLERANCE);
                compared += 1;
            }
            ExactTest::Declined(size) => {
                assert!(too_many.contains(&id), "{id} declined: {size:?}");
                assert!(size.needed > size.limit);
            }
        }
    }
    assert_eq!(compared, 72);
}

#[test]
fn every_single_class_has_its_binomial_p_and_intervals() {
    let pair = |value: &Value| Interval {
        low: number(&value[0]),
        high: number(&value[1]),
    };
    let mut compared = 0;
    for row in rows(include_str!("../data/reference_tests.json")) {
        for class in row["binomial"].as_array().unwrap() {
            let what = format!("{} {}", row["id"], class["cls"]);
            let (x, n) = (class["x"].as_u64().unwrap(), class["n"].as_u64().unwrap());
            let p0 = fraction(class["p0"].as_str().unwrap());
            let ExactTest::P(p) = exact_test(&[x, n - x], &[p0, 1.0 - p0]) else {
                panic!("{what}: two classes are never too many")
            };
            close(&what, p, number(&class["p_two_sided_mp"]), TOLERANCE);
            for (ours, theirs) in [
                (wilson(x, n, 0.95), pair(&class["wilson95_mp"])),
                (clopper_pearson(x, n, 0.95), pair(&class["clopper95_mp"])),
            ] {
                close(&what, ours.low, theirs.low, TOLERANCE);
                close(&what, ours.high, theirs.high, TOLERANCE);
            }
            compared += 1;
        }
    }
    assert_eq!(compared, 174);
}

fn same_tested(what: &str, ours: Tested, theirs: &Value) {
    close(what, ours.value, number(&theirs["value"]), TOLERANCE);
    assert_eq!(ours.df as u64, theirs["df"].as_u64().unwrap(), "{what}");
    close(what, ours.p.unwrap(), number(&theirs["p"]), TOLERANCE);
}

fn same_partition(what: &str, ours: &Partition, theirs: &Value) {
    let individual = theirs["individual"].as_array().unwrap();
    assert_eq!(ours.individual.len(), individual.len(), "{what}");
    for (tray, value) in ours.individual.iter().zip(individual) {
        close(what, tray.value, number(value), TOLERANCE);
    }
    same_tested(what, ours.total, &theirs["total"]);
    same_tested(what, ours.pooled, &theirs["pooled"]);
    same_tested(what, ours.heterogeneity, &theirs["heterogeneity"]);
}

#[test]
fn replicated_families_are_taken_apart_as_in_the_reference() {
    let rows = rows(include_str!("../data/heterogeneity.json"));
    assert_eq!(rows.len(), 3);
    for row in rows {
        let id = row["id"].as_str().unwrap();
        let families: Vec<Vec<u64>> = row["families"]
            .as_array()
            .unwrap()
            .iter()
            .map(counts)
            .collect();
        let ours = heterogeneity(&families, &weights(&row["ratio"])).unwrap();
        assert_eq!(ours.pooled_counts, counts(&row["pooled"]), "{id}");
        same_partition(id, &ours.chi2, &row["chi2"]);
        same_partition(id, &ours.g, &row["G"]);
    }
}

#[test]
fn critical_values_have_their_tail_probabilities() {
    let mut reader = csv::Reader::from_reader(include_str!("../data/chi2_critical.csv").as_bytes());
    let mut compared = 0;
    for row in reader.records() {
        let row = row.unwrap();
        let upper = chi_square_upper(row[2].parse().unwrap(), row[0].parse().unwrap());
        close(
            &format!("df {} at {}", &row[0], &row[1]),
            upper,
            row[1].parse().unwrap(),
            TOLERANCE,
        );
        compared += 1;
    }
    assert_eq!(compared, 150);
}

#[test]
fn plants_needed_are_those_of_exact_binomial_sums() {
    let mut reader = csv::Reader::from_reader(include_str!("../data/plants_needed.csv").as_bytes());
    let mut compared = 0;
    for row in reader.records() {
        let row = row.unwrap();
        let (confidence, q, r) = (
            fraction(&row[0]),
            fraction(&row[1]),
            row[2].parse().unwrap(),
        );
        let what = format!("{r} of {q} at {confidence}");
        let needed = smallest_n(r, q, confidence).unwrap();
        assert_eq!(needed.n, row[3].parse::<u64>().unwrap(), "{what}");
        close(
            &what,
            needed.probability,
            row[4].parse().unwrap(),
            TOLERANCE,
        );
        close(
            &what,
            binomial_tails(r, needed.n - 1, q).0,
            row[5].parse().unwrap(),
            TOLERANCE,
        );
        compared += 1;
    }
    assert_eq!(compared, 720);
}
