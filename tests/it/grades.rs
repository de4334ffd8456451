//! Grades by pod and taster: means with their intervals, tasters' biases, and grades as a goal.

use serde_json::Value;

use crate::support::{Bench, close, flat};

fn begun() -> Bench {
    let bench = Bench::new();
    bench.ok("init");
    for code in ["AA", "BB", "CC"] {
        bench.ok(&format!("parent add {code} --plant"));
    }
    bench
}

fn named<'v>(list: &'v Value, key: &str, name: &str) -> &'v Value {
    let mut all = list.as_array().unwrap().iter();
    all.find(|one| one[key] == name).unwrap()
}

#[test]
fn grades_are_recorded_by_pod_and_taster_and_shown_with_their_mean() {
    let bench = begun();
    assert_eq!(
        bench.ok("trait add heat --grades 0-5 --organ fruit"),
        "heat: a new graded trait, from the lowest up: 0, 1, 2, 3, 4, 5. Then: locule\n  grade T1-03 heat=5.\n"
    );
    assert_eq!(
        bench.ok("grade AA heat=4 --pod 2 --by Ann"),
        "AA: heat 4 on 1 March 2026, pod 2, by Ann.\n"
    );
    // Two grades 3 and 4 have the spread 1/sqrt 2; the mean's error is 1/2, and t(1, 0.975) = 12.706 (scipy.stats.t.ppf).
    assert_eq!(
        flat(&bench.ok("grade AA heat=3 --pod 3 --by Ann")),
        "AA: heat 3 on 1 March 2026, pod 3, by Ann. heat so far: 3.5 of 0 to 5 (95 %: 0.0 to 5.0), 2 grades."
    );
    let shown = flat(&bench.ok("show AA"));
    assert!(
        shown.contains("heat: 3.5 of 0 to 5 (95 %: 0.0 to 5.0), 2 grades: 4 by Ann 2026-03-01, pod 2; 3 by Ann 2026-03-01, pod 3"),
        "{shown}"
    );
    bench.ok("undo");
    let answer = bench.json("grades heat");
    let plant = named(&answer["plants"], "plant", "AA");
    assert_eq!(
        (&plant["grades"], &plant["interval"]),
        (&Value::from(1), &Value::Null)
    );
    bench.ok("redo");
    assert!(flat(&bench.ok("history AA")).contains("heat 4 on 1 March 2026"));
    assert!(bench.ok("check-ledger").contains("All is well"));
    let export = bench.ok("export");
    let other = Bench::new();
    std::fs::write(other.folder().join("x.jsonl"), &export).unwrap();
    other.ok("import x.jsonl");
    assert_eq!(other.ok("export"), export);
}

/// Ann grades AA 4, 5, BB 2, CC 3; Ben AA 3, BB 2, CC 1. numpy 2.4.6, linalg.lstsq of the indicator columns of plants and
/// tasters with one more row that sums the biases to 0; errors as in the unit test of the two-way model.
#[test]
fn a_tasters_bias_is_taken_out() {
    let bench = begun();
    bench.ok("trait add heat --grades 0-5");
    for line in [
        "AA heat=4 --pod 1 --by Ann",
        "AA heat=5 --pod 2 --by ann",
        "BB heat=2 --by Ann",
        "CC heat=3 --by Ann",
        "AA heat=3 --by Ben",
        "BB heat=2 --by Ben",
        "CC heat=1 --by Ben",
    ] {
        bench.ok(&format!("grade {line}"));
    }
    let answer = bench.json("grades heat");
    close(&named(&answer["tasters"], "taster", "Ann")["bias"], 0.6);
    close(&named(&answer["tasters"], "taster", "Ben")["bias"], -0.6);
    for (plant, mean, error) in [
        ("AA", 3.8, 0.432_049_379_893_857_3),
        ("BB", 2.0, 0.516_397_779_494_322_2),
        ("CC", 2.0, 0.516_397_779_494_322_2),
    ] {
        let found = named(&answer["plants"], "plant", plant);
        close(&found["mean"], mean);
        close(&found["error"], error);
    }
    assert_eq!(answer["df"], 3);
    let out = bench.ok("grades heat");
    assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
    let out = flat(&out);
    assert!(out.starts_with("heat: AA is graded highest, "), "{out}");
    assert!(
        out.contains("Ann grades ") && out.contains("higher than all together"),
        "{out}"
    );
    bench.ok("parent add DD --plant");
    bench.ok("grade DD heat=5 --by Cleo");
    let out = flat(&bench.ok("grades heat"));
    assert!(
        out.contains("Not all tasters can be set against each other"),
        "{out}"
    );
}

#[test]
fn words_are_grades_too_and_what_is_none_is_refused() {
    let bench = begun();
    bench.ok("trait add bite --grades none,mild,sharp");
    bench.ok("grade AA bite=MILD");
    let out = flat(&bench.ok("grades bite"));
    assert!(
        out.contains(
            "AA is graded highest, 1.0 of 0 to 2 (none 0, mild 1, sharp 2); 1 grade of 1 plant."
        ),
        "{out}"
    );
    for (line, status, words) in [
        (
            "grade AA bite=hot",
            1,
            &[
                "bite has no grade 'hot'; it has none, mild, sharp",
                "try: locule grade AA bite=mild",
            ][..],
        ),
        (
            "grade AA foliage=purple",
            1,
            &["foliage is scored by its looks, not graded"],
        ),
        (
            "grade AA bitten=mild",
            1,
            &["there is no graded trait 'bitten'", "try: locule show bite"],
        ),
        (
            "grade AA zest=3",
            1,
            &["try: locule trait add zest --grades 0-5"],
        ),
        ("grade AA bite", 2, &["locule grade T1-03 heat=4"]),
        (
            "grade AA bite=mild --pod 0",
            1,
            &[
                "the pods of a plant are numbered from 1",
                "try: locule grade AA bite=mild --pod 1",
            ],
        ),
        (
            "goal add maybe-purple --must",
            1,
            &[
                "'maybe-purple' is a look in doubt, and a goal is a plain one",
                "try: locule goal add purple --must",
            ],
        ),
        ("grade ZZ bite=mild", 1, &["ZZ"]),
        ("score AA bite:mild", 1, &["bite is graded"]),
        ("trait on bite", 1, &["bite is graded"]),
        ("trait bench bite", 1, &["bite is graded"]),
        (
            "trait model add bite own --rule 'else => mild'",
            1,
            &["bite is graded"],
        ),
        ("trait add bite --grades 0-5", 1, &["bite"]),
        (
            "trait add zing --grades 5-0",
            1,
            &["neither a range", "try: "],
        ),
        ("trait add zing --grades 0-50", 1, &["2 to 21 grades"]),
        (
            "trait add zing --grades 0-5 --classes a,b",
            2,
            &["cannot be used with"],
        ),
        ("grades foliage", 1, &["scored by its looks"]),
        ("grades nothing", 1, &["not in the ledger"]),
        (
            "goal add bite --must",
            1,
            &[
                "more of it can be wanted",
                "try: locule goal add bite --want 1",
            ],
        ),
        (
            "goal add purple --want 1 --less",
            1,
            &["--less is of grades"],
        ),
        ("goal add purple --must --less", 1, &["--less is of grades"]),
    ] {
        let err = flat(&bench.fails(line, status));
        for word in words {
            assert!(err.contains(word), "{line}: {err}");
        }
    }
    assert!(flat(&bench.ok("trait show bite")).contains("graded"));
}

/// Two grades each of one taster that agree: each mean is off by 1/sqrt 24 of a step, the error of rounding. The worth is
/// (1 + 3 x share of the scale) / 4, the share by Student's t about the mean in 21 values, cut at the ends (SciPy 1.17.1:
/// `np.clip(3*m + 3*e*t.ppf((np.arange(21) + .5)/21, 2), 0, 3)`).
#[test]
fn grades_can_be_wanted_high_or_low() {
    let bench = begun();
    bench.ok("trait add heat --grades 0-4");
    for line in ["AA heat=4", "BB heat=1"] {
        bench.ok(&format!("grade {line} --pod 1 --by Ann"));
        bench.ok(&format!("grade {line} --pod 2 --by Ann"));
    }
    bench.ok("goal add heat --want 3");
    let answer = bench.json("rank AA BB");
    let index =
        |answer: &Value, plant: &str| named(&answer["plants"], "plant", plant)["index"].clone();
    close(&index(&answer, "AA"), 97.655_532_051_606_16);
    close(&index(&answer, "BB"), 43.75);
    let of = named(&answer["plants"], "plant", "BB");
    assert_eq!(of["beaten_by"], "AA");
    close(&of["goals"][0]["grade"], 1.0);
    bench.ok("goal add heat --want 3 --less");
    let answer = bench.json("rank AA BB");
    close(&index(&answer, "AA"), 27.344_467_948_393_85);
    close(&index(&answer, "BB"), 81.25);
    // One that nobody graded is taken as the others are spread: it may be better or worse.
    let answer = bench.json("rank AA BB CC");
    let ungraded = named(&answer["plants"], "plant", "CC");
    let holds = ungraded["p_best"].as_f64().unwrap();
    assert!(holds > 0.2 && holds < 0.8, "{holds}");
    // Nobody knows that it is worse, so it is not called beaten.
    assert_eq!(ungraded["beaten_by"], Value::Null);
    assert_eq!(named(&answer["plants"], "plant", "AA")["beaten_by"], "BB");
    let out = flat(&bench.ok("rank AA BB"));
    assert!(out.starts_with("Keep BB first: index 81 of 100."), "{out}");
}

/// Two growers with the same grades: one trait, and the plants of both stand in it.
#[test]
fn grades_of_another_ledger_come_with_its_plants() {
    let theirs = begun();
    theirs.ok("trait add heat --grades 0-5");
    theirs.ok("grade AA heat=5 --by Ann");
    let mine = Bench::new();
    let run = crate::support::finish(mine.command(&["init"]).env("LOCULE_SEED", "2"));
    assert_eq!(run.status, Some(0));
    mine.ok("parent add AA --plant");
    mine.ok("trait add heat --grades 0-5");
    mine.ok("grade AA heat=2 --by Ann");
    std::fs::write(mine.folder().join("x.jsonl"), theirs.ok("export")).unwrap();
    let said = flat(&mine.ok("import x.jsonl --prefix B."));
    assert!(said.contains("1 grade"), "{said}");
    let answer = mine.json("grades heat");
    close(&named(&answer["plants"], "plant", "AA")["mean"], 2.0);
    close(&named(&answer["plants"], "plant", "B.AA")["mean"], 5.0);
    assert!(mine.ok("check-ledger").contains("All is well"));
}

/// Two tasters agree on both plants: the grades are known to the step, 1/sqrt 12, and with one degree of freedom the mean
/// of two is off by up to 12.706 / sqrt 24 (scipy.stats.t.ppf).
#[test]
fn grades_that_agree_are_not_certain() {
    let bench = begun();
    bench.ok("trait add heat --grades 0-9");
    for line in ["AA heat=4", "BB heat=5"] {
        bench.ok(&format!("grade {line} --by Ann"));
        bench.ok(&format!("grade {line} --by Bo"));
    }
    let answer = bench.json("grades heat");
    let of = named(&answer["plants"], "plant", "AA");
    let by = 12.706_204_736_174_694 / 24.0_f64.sqrt();
    close(&of["interval"][0], 4.0 - by);
    close(&of["interval"][1], 4.0 + by);
    bench.ok("goal add heat --want 1");
    let ranked = bench.json("rank AA BB");
    let best = ranked["plants"][0]["p_best"].as_f64().unwrap();
    assert!(best > 0.5 && best < 0.99, "{best}");
}

/// Cy graded CC and nobody else's plant: how high Cy grades nobody knows.
#[test]
fn plants_of_tasters_who_cannot_be_compared_are_ranked_with_that_doubt() {
    let bench = begun();
    bench.ok("trait add heat --grades 0-5");
    for line in [
        "AA heat=4 --by Ann",
        "AA heat=4 --by Bo",
        "BB heat=3 --by Ann",
        "BB heat=3 --by Bo",
        "CC heat=5 --by Cy",
    ] {
        bench.ok(&format!("grade {line}"));
    }
    bench.ok("goal add heat --want 1");
    let answer = bench.json("rank AA BB CC");
    assert_eq!(answer["tasters_apart"], serde_json::json!(["heat"]));
    let best = named(&answer["plants"], "plant", "CC")["p_best"]
        .as_f64()
        .unwrap();
    assert!(best < 0.9, "{best}");
    let said = flat(&bench.ok("rank AA BB CC"));
    assert!(
        said.contains(
            "heat: not all of these were graded by tasters who can be set against each other"
        ),
        "{said}"
    );
    // One plant graded by both sets them beside each other.
    bench.ok("grade CC heat=5 --by Ann");
    let joined = bench.json("rank AA BB CC");
    assert_eq!(joined["tasters_apart"], serde_json::json!([]));
    let sure = named(&joined["plants"], "plant", "CC")["p_best"]
        .as_f64()
        .unwrap();
    assert!(sure > best, "{sure} {best}");
    assert_eq!(
        bench.json("rank AA BB")["tasters_apart"],
        serde_json::json!([])
    );
}

/// A pod is one thing: corrected on the day, averaged over days; two pods are two grades.
#[test]
fn grades_of_one_pod_by_one_taster_are_one() {
    let bench = begun();
    bench.ok("trait add heat --grades 0-5");
    bench.ok("grade AA heat=5 --pod 1 --by Bob");
    let said = flat(&bench.run("grade AA heat=4 --pod 1 --by bob").err);
    assert!(
        said.contains("AA was graded heat 5 on 1 March by the same taster already; both are kept, and heat 4, the newer, counts."),
        "{said}"
    );
    let of = |bench: &Bench| {
        let answer = bench.json("grades heat");
        let own = named(&answer["plants"], "plant", "AA").clone();
        (
            own["grades"].as_u64().unwrap(),
            own["mean"].as_f64().unwrap(),
        )
    };
    assert_eq!(of(&bench), (1, 4.0));
    bench.ok("grade AA heat=3 --pod 1 --by Bob --on 2026-02-20");
    assert_eq!(of(&bench), (1, 3.5));
    bench.ok("grade AA heat=5 --pod 1 --by Ann");
    let said = flat(&bench.ok("grades heat"));
    assert!(
        said.contains(
            "Of one pod only: AA. How much its other pods differ is not in the interval."
        ),
        "{said}"
    );
    bench.ok("grade AA heat=2 --pod 2 --by Bob");
    assert_eq!(of(&bench).0, 3);
    assert!(!bench.ok("grades heat").contains("Of one pod only"));
}

/// A tray counted by cells: what is not up is neither graded nor measured, as it is not scored.
#[test]
fn seedlings_that_are_not_up_are_not_graded() {
    let mut bench = Bench::new();
    bench.on("2026-08-20");
    for line in [
        "init",
        "parent add HT --species annuum",
        "self HT --on 2025-06-01",
        "sow X1 --seeds 20 --on 2026-03-01",
        "up T1 --cells 1-16 --on 2026-03-14",
        "trait add heat --grades 0-5",
    ] {
        bench.ok(line);
    }
    for (line, why) in [
        (
            "grade T1-18 heat=3",
            "T1-18 is graded, but it is not among the 16 up",
        ),
        (
            "measure T1-19 height=4mm",
            "T1-19 is measured, but it is not among the 16 up",
        ),
        (
            "grade T1-05 heat=3 --on 2026-03-02",
            "the first of T1 was up",
        ),
        (
            "grade T1-05 heat=4 heat=5",
            "heat is given two grades at once",
        ),
    ] {
        let said = flat(&bench.fails(line, 1));
        assert!(said.contains(why), "{line}: {said}");
    }
    bench.run("grade T1-18 heat=3 --even-so");
    // A grade says nothing of hot or not, which the genes explain: said where that is bred for or scored.
    let run = bench.run("grade T1-04 heat=4");
    assert!(!format!("{}{}", run.out, run.err).contains("--tasted"));
    bench.ok("goal add not-hot --want 1");
    let run = bench.run("grade T1-05 heat=4");
    let said = flat(&format!("{}{}", run.out, run.err));
    assert!(
        said.contains("'locule score T1-05 hot --tasted tip'"),
        "{said}"
    );
    bench.ok("score T1-05 hot --tasted tip");
    let run = bench.run("grade T1-05 heat=5 --pod 2");
    assert!(!format!("{}{}", run.out, run.err).contains("--tasted"));
    let wrong = flat(&bench.fails("score T1-05 hot --tasted leaf", 2));
    assert!(
        !wrong.contains("K1") && wrong.contains("--tasted tip"),
        "{wrong}"
    );
}

/// Means about nought are nought, without a sign: 0.2 + 0.1 - 0.3 would not be.
#[test]
fn nought_is_graded_without_a_sign() {
    let bench = begun();
    bench.ok("trait add heat --grades 0-5");
    for line in [
        "AA heat=0 --by Ann",
        "AA heat=0 --by Bo",
        "BB heat=1 --by Ann",
        "BB heat=2 --by Bo",
        "CC heat=4 --by Ann",
        "CC heat=3 --by Bo",
        "DD heat=0 --by Bo",
    ] {
        bench.run(&format!("grade {line}"));
    }
    for line in ["grades heat", "grades heat --json"] {
        let out = bench.ok(line);
        let signed = out.split(|c: char| c.is_whitespace() || ",:[]()".contains(c));
        let signed = signed.filter(|word| {
            word.starts_with("-0.0") && word.trim_matches(|c| "-0.".contains(c)).is_empty()
        });
        assert_eq!(signed.count(), 0, "{out}");
    }
}
