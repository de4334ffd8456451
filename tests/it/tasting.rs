//! Tastings: what a mild tip and a hot one prove, by Bayes' rule; how they are recorded; the cautions.

use serde_json::Value;

use crate::support::{Bench, flat};

/// A plant of unknown origin, H/H 1/4, H/h 1/2, h/h 1/4 beforehand.
fn begun() -> Bench {
    let bench = Bench::new();
    for line in [
        "init",
        "trait add bite --classes hot,mild --rule 'H/_ => hot' --rule 'else => mild' --stage fruit --organ fruit",
        "parent add P1 --plant",
    ] {
        bench.ok(line);
    }
    bench
}

fn p_mild(bench: &Bench, plant: &str) -> f64 {
    let belief = bench.json(&format!("genotype {plant}"));
    let loci = belief["loci"].as_array().unwrap();
    let at_h = loci.iter().find(|locus| locus["locus"] == "H").unwrap();
    let all = at_h["genotypes"].as_array().unwrap();
    let found = all.iter().find(|one| one["genotype"] == "h/h");
    found.map_or(0.0, |one| one["p"].as_f64().unwrap())
}

/// P(h/h | reading) = 1/4 P(reading | mild) / (1/4 P(reading | mild) + 3/4 P(reading | hot)): Bayes' rule with the
/// starting beliefs of section 8 of docs/method.md, which are design choices.
#[test]
fn a_mild_tip_proves_little_and_a_hot_one_much() {
    for (look, of_mild, of_hot) in [
        ("mild --tasted tip", 0.99, 0.30),
        ("mild --tasted wall", 0.99, 0.10),
        ("mild --tasted placenta", 0.99, 0.01),
        ("hot --tasted tip", 0.01, 0.70),
        ("hot --tasted placenta", 0.01, 0.99),
        // A doubtful tasting errs as often as a doubtful look, or as its method where that errs more.
        ("maybe-mild --tasted placenta", 0.90, 0.10),
        ("maybe-mild --tasted tip", 0.90, 0.30),
        // A look that was no tasting: the trait's own misreading.
        ("mild", 0.995, 0.005),
    ] {
        let bench = begun();
        bench.ok(&format!("score P1 --trait bite {look}"));
        let wanted = 0.25 * of_mild / (0.25 * of_mild + 0.75 * of_hot);
        let found = p_mild(&bench, "P1");
        assert!(
            (found - wanted).abs() < 1e-9,
            "{look}: {found}, not {wanted}"
        );
    }
    let bench = begun();
    bench.ok("assume taste.tip 0.5");
    bench.ok("score P1 mild --tasted tip");
    let wanted = 0.25 * 0.99 / (0.25 * 0.99 + 0.75 * 0.5);
    assert!((p_mild(&bench, "P1") - wanted).abs() < 1e-9);
}

/// A second mild tip of the same plant tells nothing new; another method does, and so does heat.
#[test]
fn what_one_method_found_of_a_plant_counts_once() {
    let bench = begun();
    let posterior = |of_mild: f64, of_hot: f64| 0.25 * of_mild / (0.25 * of_mild + 0.75 * of_hot);
    for day in ["01", "10", "20"] {
        bench.ok(&format!("score P1 mild --tasted tip --on 2026-02-{day}"));
        assert!((p_mild(&bench, "P1") - posterior(0.99, 0.30)).abs() < 1e-9);
    }
    bench.ok("score P1 mild --tasted wall --on 2026-02-21");
    let both = posterior(0.99 * 0.99, 0.30 * 0.10);
    assert!((p_mild(&bench, "P1") - both).abs() < 1e-9);
    bench.ok("score P1 bite:hot --tasted tip --on 2026-02-22");
    let hot = posterior(0.99 * 0.99 * 0.01, 0.30 * 0.10 * 0.70);
    assert!((p_mild(&bench, "P1") - hot).abs() < 1e-9);
    // A tasting in doubt gives way to a firm one.
    let bench = begun();
    bench.ok("score P1 mild --tasted placenta --on 2026-02-01");
    bench.ok("score P1 maybe-mild --tasted placenta --on 2026-02-20");
    assert!((p_mild(&bench, "P1") - posterior(0.99, 0.01)).abs() < 1e-9);
}

/// The only trait with such classes is meant, also of a seedling, whose own looks are others.
#[test]
fn a_tasting_names_its_trait_where_only_one_can_be_meant() {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add CW",
        "packet CW --seeds 5 --on 2025-12-01",
        "sow CW --seeds 5 --on 2026-01-01",
        "up T1 5 --on 2026-01-20",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    assert!(
        bench
            .ok("score T1-01 not-hot --tasted tip")
            .starts_with("T1-01: not-hot by the tip (pungency).")
    );
    bench.ok("score T1 2-3=hot --tasted tip");
    // With a second one that fits it is asked which.
    let added = bench.run(
        "trait add bite --classes hot,not-hot --rule 'H/_ => hot' --rule 'else => not-hot' --stage fruit --organ fruit",
    );
    assert_eq!(added.status, Some(0), "{}", added.err);
    let err = flat(&bench.fails("score T1-04 not-hot --tasted tip", 1));
    assert!(err.contains("pungency:not-hot"), "{err}");
}

/// A seedling is told by the same rates inside its tray.
#[test]
fn a_seedlings_own_pod_counts_by_how_it_was_tasted() {
    let p_off = |tasted: &str| -> f64 {
        let mut bench = begun();
        for (day, line) in [
            ("2026-01-02", "parent add HH --genotype H/H --proven"),
            ("2026-01-02", "parent add MM --genotype h/h --proven"),
            ("2026-01-03", "cross MM HH --not-emasculated"),
            ("2026-02-02", "sow X1 --seeds 4"),
            ("2026-02-12", "up T1 4"),
        ] {
            assert_eq!(bench.on(day).run(line).status, Some(0), "{line}");
        }
        bench.on("2026-08-01");
        bench.ok(&format!("score T1-01 bite:mild {tasted}"));
        let answer = bench.json("suspects T1");
        let seedling: &Value = &answer["batches"][0]["seedlings"][0];
        seedling["p_off"].as_f64().unwrap()
    };
    let [tip, wall, placenta] =
        ["tip", "wall", "placenta"].map(|method| p_off(&format!("--tasted {method}")));
    assert!(tip < wall && wall < placenta, "{tip} {wall} {placenta}");
}

#[test]
fn a_tasting_is_recorded_shown_amended_and_taken_back() {
    let bench = begun();
    assert_eq!(
        bench.ok("score P1 mild --tasted Tip"),
        "P1: mild by the tip (bite).\n"
    );
    assert!(
        flat(&bench.ok("show P1")).contains("mild, tasted at the tip"),
        "{}",
        bench.ok("show P1")
    );
    let tip = p_mild(&bench, "P1");
    let said = flat(&bench.ok("amend 4 score P1 mild --tasted placenta"));
    assert!(said.contains("method tip -> placenta"), "{said}");
    assert!(p_mild(&bench, "P1") > tip);
    bench.ok("undo");
    assert!((p_mild(&bench, "P1") - tip).abs() < 1e-12);
    bench.ok("amend 4 score P1 mild");
    assert!(!bench.ok("show P1").contains("tasted"));
    assert!(bench.ok("check-ledger").contains("All is well"));
}

#[test]
fn what_cannot_be_tasted_is_refused_and_the_cautions_stand_where_tasting_is_asked_for() {
    let bench = begun();
    bench.ok("parent add CW");
    bench.ok("packet CW --seeds 5");
    bench.ok("sow CW --seeds 5");
    for (line, status, words) in [
        (
            "score P1 purple --tasted tip",
            1,
            &["foliage has no class 'hot'"][..],
        ),
        (
            "score P1 mild --tasted seed",
            2,
            &[
                "'seed' is no part of a pod that is tasted",
                "tip, wall, placenta",
            ],
        ),
        (
            "score T1 2 bite:hot --tasted tip",
            1,
            &["--tasted is of single plants, and this is a tally"],
        ),
    ] {
        let err = flat(&bench.fails(line, status));
        for word in words {
            assert!(err.contains(word), "{line}: {err}");
        }
    }
    for line in [
        "score --help",
        "grade --help",
        "trait show pungency",
        "trait show bite",
    ] {
        let said = flat(&bench.ok(line));
        assert!(
            said.contains(
                "a crumb of the wall, the tip first, by adults, never alone, with milk at hand"
            ) && said.contains("No placenta of an unknown seedling of very hot parents"),
            "{line}: {said}"
        );
    }
}
