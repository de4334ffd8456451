//! `expect`, of two genotypes without a ledger and of crosses in one.

use crate::support::{Bench, flat};

fn shares(value: &serde_json::Value) -> Vec<(String, f64)> {
    let classes = value["classes"].as_array().expect("a list of classes");
    let share = |class: &serde_json::Value| {
        let name = class["class"].as_str().expect("a name").to_owned();
        (name, class["p"].as_f64().expect("a number"))
    };
    classes.iter().map(share).collect()
}

/// Bateson and Punnett's complementary genes: 9 with both dominants, 7 without, by counting the 16 squares.
#[test]
fn two_genotypes_and_rules_need_no_ledger() {
    let bench = Bench::new();
    let line = "expect --mother 'A/a B/b' --father 'A/a B/b' --rule 'A/_ B/_ => purple' --rule 'else => white'";
    let value = bench.json(line);
    assert_eq!(value["ratio"], "9:7");
    assert_eq!(
        shares(&value),
        [("purple".to_owned(), 0.5625), ("white".to_owned(), 0.4375)]
    );
    assert_eq!(
        (
            value["classes"][0]["parts"].as_u64(),
            value["classes"][1]["parts"].as_u64()
        ),
        (Some(9), Some(7))
    );
    assert!(bench.ok(line).contains("Ratio 9:7"));
    assert!(!bench.ledger().exists());
}

#[test]
fn built_in_traits_join_their_classes() {
    let bench = Bench::new();
    let value =
        bench.json("expect --mother 'A/a' --father 'a/a' --trait foliage --trait unripe-purple");
    let names: Vec<String> = shares(&value).into_iter().map(|(name, _)| name).collect();
    assert!(
        names.iter().all(|name| name.split('/').count() == 2),
        "{names:?}"
    );
    let sum: f64 = shares(&value).iter().map(|(_, p)| p).sum();
    assert!((sum - 1.0).abs() < 1e-12);
}

/// At the median age, 12 days, half of the purple ones have turned (times the ceiling, 0.9999).
#[test]
fn age_delays_late_classes_and_leaves_the_ratio() {
    let value = Bench::new().json("expect --mother A/a --father A/a --age 12");
    assert_eq!(value["ratio"], "3:1");
    assert!((shares(&value)[0].1 - 0.75 * 0.5 * 0.9999).abs() < 1e-12);
    assert_eq!(value["classes"][0]["final_p"], 0.75);
}

#[test]
fn a_cross_is_taken_at_its_word() {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add NL --genotype A/A",
        "parent add CW",
        "cross NL CW",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let value = bench.json("expect x1");
    assert_eq!(
        (value["cross"].as_str(), value["ratio"].as_str()),
        (Some("X1"), Some("1"))
    );
    assert_eq!(value["not_stated"], serde_json::json!(["CW at A"]));
    let out = flat(&bench.ok("expect X1"));
    assert!(out.contains("All purple. Not stated: CW at A"), "{out}");
    let err = bench.fails("expect X2", 1);
    assert!(err.contains("'X2'") && err.contains("X1"), "{err}");
}

#[test]
fn what_cannot_be_read_is_pointed_at() {
    let bench = Bench::new();
    let err = bench.fails("expect --mother 'A/a B' --father 'A/a'", 2);
    assert!(err.contains("A/a B\n      ^\n"), "{err}");
    for (line, word) in [
        ("expect --mother A/a --father A/a --trait foliag", "foliage"),
        ("expect --mother A/a --father A/a --age -3", "-3"),
        (
            "expect --mother A/a --father A/a --rule 'A/_ purple'",
            "arrow",
        ),
        (
            "expect --mother A/a --father A/a --rule 'A/_ => purple'",
            "no class",
        ),
        ("expect --mother Q/q --father q/q", "--rule"),
    ] {
        let run = bench.run(line);
        assert!(
            matches!(run.status, Some(1 | 2)) && run.out.is_empty(),
            "{line}: {run:?}"
        );
        assert!(
            run.err.contains(word) && run.err.contains("\ntry: "),
            "{line}: {}",
            run.err
        );
    }
}

#[test]
fn a_locus_that_no_trait_reads_is_said_to_make_no_difference() {
    let bench = Bench::new();
    let line = "expect --mother 'A/a B/b' --father 'A/a B/b'";
    assert!(
        bench
            .ok(line)
            .contains("\nB/b makes no difference here: foliage does not read it.\n")
    );
    assert_eq!(bench.json(line)["ignored"], serde_json::json!(["B/b"]));
    assert!(
        !bench
            .ok("expect --mother A/a --father a/a")
            .contains("difference")
    );
}
