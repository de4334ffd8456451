//! The progeny test held against exact fractions of `tests/data/progeny_test.json` (see `tests/data/README.md`).

use locule::genetics::progeny::{
    Candidate, Mistakes, ProgenyTest, Seen, chance_of_splitting, more_needed, one_gene, to_expose,
};
use serde_json::Value;

use crate::genetics_pedigree::fraction;

fn progeny(section: &str) -> Vec<Value> {
    let text = include_str!("../data/progeny_test.json");
    let all: Value = serde_json::from_str(text).expect("the file is JSON");
    all[section].as_array().expect("a list").clone()
}

fn test_of(row: &Value) -> ProgenyTest {
    match row["test"].as_str() {
        Some("self") => ProgenyTest::Selfed,
        Some("testcross") => ProgenyTest::Testcross,
        other => panic!("no such test: {other:?}"),
    }
}

fn close(found: f64, wanted: f64, what: &Value) {
    assert!(
        (found - wanted).abs() <= 1e-12 * wanted.max(1e-3),
        "{found} {wanted} {what}"
    );
}

#[test]
fn progeny_tests_in_exact_fractions() {
    let rows = progeny("rows");
    assert_eq!(rows.len(), 270);
    for row in &rows {
        let (n, k) = (row["n"].as_u64().unwrap(), row["k"].as_u64().unwrap());
        let seen = Seen {
            alike: n - k,
            unlike: k,
        };
        let mistakes = Mistakes {
            as_recessive: fraction(&row["e10"]),
            as_dominant: fraction(&row["e01"]),
        };
        let candidates = one_gene(fraction(&row["pi"]), test_of(row), seen, mistakes);
        let splitting = chance_of_splitting(&candidates, 0).expect("it can be");
        close(1.0 - splitting, fraction(&row["P_AA"]), row);
    }
}

#[test]
fn offspring_needed_to_be_sure() {
    let rows = progeny("n_needed");
    assert_eq!(rows.len(), 12);
    for row in &rows {
        let pure = match row["prior"].as_str() {
            Some("F2 dominant plant") => 1.0 / 3.0,
            Some("BC1 to AA") => 0.5,
            other => panic!("no such prior: {other:?}"),
        };
        let candidates = one_gene(pure, test_of(row), Seen::default(), Mistakes::default());
        let n = more_needed(&candidates, fraction(&row["posterior_at_least"]));
        assert_eq!(n, row["n"].as_u64(), "{row}");
        let splitting = chance_of_splitting(&candidates, n.unwrap()).unwrap();
        close(1.0 - splitting, fraction(&row["P_at_n"]), row);
    }
}

#[test]
fn two_genes_at_once() {
    let candidate = |prior, splits, alike| Candidate {
        prior,
        splits,
        seen: 0.0,
        alike,
    };
    let candidates = [
        candidate(1.0 / 9.0, false, 1.0),
        candidate(2.0 / 9.0, true, 0.5),
        candidate(2.0 / 9.0, true, 0.5),
        candidate(4.0 / 9.0, true, 0.25),
    ];
    let rows = progeny("two_locus");
    assert_eq!(rows.len(), 9);
    for row in &rows {
        let splitting = chance_of_splitting(&candidates, row["n"].as_u64().unwrap()).unwrap();
        close(1.0 - splitting, fraction(&row["P_AABB"]), row);
    }
}

#[test]
fn offspring_needed_to_expose_a_carrier() {
    let rows = progeny("detect_heterozygote");
    assert_eq!(rows.len(), 8);
    for row in &rows {
        let n = to_expose(test_of(row), fraction(&row["confidence"]));
        assert_eq!(Some(n), row["n"].as_u64(), "{row}");
    }
}

/// Fisher 1936, Annals of Science 1:115-137: judged on ten offspring, 0.3709 of the dominant F2 plants pass for
/// true-breeding, not 1/3.
#[test]
fn ten_offspring_pass_too_many() {
    let ten = Seen {
        alike: 10,
        unlike: 0,
    };
    let candidates = one_gene(1.0 / 3.0, ProgenyTest::Selfed, ten, Mistakes::default());
    let constant: f64 = candidates
        .iter()
        .map(|one| one.prior * one.seen.exp())
        .sum();
    let text = include_str!("../data/progeny_test.json");
    let all: Value = serde_json::from_str(text).expect("the file is JSON");
    let wanted = fraction(&all["fisher_corrected_f3"]["P_scored_constant"]);
    assert!((constant - wanted).abs() < 1e-12 && (constant - 0.3709).abs() < 5e-5);
}
