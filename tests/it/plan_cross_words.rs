//! Which two parents to cross, in the real program: the number first, the reasons, and what cannot be refused.

use serde_json::Value;

use crate::plan_cross::{PARENTS, bench_of};
use crate::support::{Bench, flat, record};

/// A plant of unknown origin that is purple is A/A with 1/3: no number of seeds makes green sure, and 5 of a testcross
/// or 11 selfed show which it is (the smallest n with 2^-n and (3/4)^n below 0.05).
#[test]
fn what_is_not_settled_is_weighed_and_named() {
    let bench = Bench::new();
    bench.ok("init");
    record(
        &bench,
        "parent add DT 'Dusk Thimble' --plant --genotype A/_",
    );
    record(&bench, "parent add NL 'Night Lantern' --genotype A/A");
    let found = bench.json("plan cross --want green");
    let plan = &found["plans"][0];
    assert_eq!(
        (&plan["scheme"], &plan["seeds"]),
        (&"self".into(), &Value::Null)
    );
    // Trusted with 0.99, so that A/a is 0.66 and a/a the hundredth that is left.
    let hope = plan["hope"].as_f64().unwrap();
    assert!((hope - (0.66 + 0.01)).abs() < 1e-9, "{hope}");
    assert_eq!(found["unsettled"][0]["settle"], "self");
    assert_eq!(found["unsettled"][0]["seedlings"], 11);
    let said = flat(&bench.ok("plan cross --want green"));
    assert!(
        said.starts_with(
            "No plan is sure enough yet: of DT selfed it is 67 % that any seed can be green."
        ),
        "{said}"
    );
    // With 60 % asked for, the sum over both that it may be decides: 0.66 (1 - (3/4)^n) + 0.01 >= 0.6, n = 8.
    let sure = bench.json("plan cross --want green --confidence 0.6");
    assert_eq!(sure["plans"][0]["seeds"], 8);
    record(&bench, "parent add CW 'Chalk Wren' --genotype 'a/a Up/Up'");
    record(&bench, "parent add RB 'River Bell' --genotype 'A/A up/up'");
    record(
        &bench,
        "parent add BP 'Bent Pipe' --plant --genotype 'A/_ Up/Up'",
    );
    let tested = bench.json("plan cross --want green,erect --top 20");
    let of_bp = |one: &&Value| one["plant"] == "BP";
    let line = tested["unsettled"]
        .as_array()
        .unwrap()
        .iter()
        .find(of_bp)
        .cloned();
    assert_eq!(
        line,
        Some(serde_json::json!({
            "plant": "BP", "loci": ["A"], "settle": "testcross", "seedlings": 5, "command": "locule cross CW BP"
        }))
    );
}

#[test]
fn parents_that_have_it_need_no_cross() {
    let bench = bench_of(&PARENTS);
    let said = flat(&bench.ok("plan cross --want purple,not-hot"));
    assert!(
        said.starts_with("No cross is needed: P5 is purple and not-hot already."),
        "{said}"
    );
    let found = bench.json("plan cross --want green,not-hot,pendant --fixed");
    assert_eq!(found["have"], serde_json::json!(["P2"]));
}

/// ln(0.05)/ln(7/8) = 22.4.
#[test]
fn the_answer_begins_with_the_number_and_gives_its_reasons() {
    let bench = bench_of(&[
        ("NL", [[1, 1], [1, 1], [1, 1], [1, 1]]),
        ("CW", [[0, 0], [0, 0], [1, 1], [0, 0]]),
        ("NK", [[1, 1], [1, 1], [1, 1], [1, 1]]),
    ]);
    record(&bench, "cross CW NL --on 2025-07-01");
    let said = flat(&bench.ok("plan cross --want 'purple, not-hot, erect' --off-share 0"));
    for part in [
        "Sow 23 seeds of the BC1 of CW x NL to CW: 95.4 % that at least one is purple, not-hot and erect; 2 seasons. \
         CW brings not-hot (pun1/pun1 pAMT/pAMT) and erect (up/up); NL brings purple (A/A). \
         Every F1 plant is purple, hot and pendant; of the BC1 1 in 8 is as wanted. X1 is that cross already.",
        "NK would do in the place of NL.",
        "which is better: locule plan which-mother CW NL",
        "comes up: every seed",
    ] {
        assert!(said.contains(part), "{part}\n{said}");
    }
    let found = bench.json("plan cross --want purple,not-hot,erect");
    assert_eq!(found["plans"][0]["made_as"], serde_json::json!(["X1"]));
    let poor = bench.json("plan cross --want purple,not-hot,erect --germination 0.5 --off-share 0");
    // ln(0.05)/ln(15/16) = 46.4
    assert_eq!(poor["plans"][0]["seeds"], 47);
    let one = bench.json("plan cross --want mid --off-share 0");
    assert_eq!(
        (
            &one["plans"][0]["scheme"],
            &one["plans"][0]["seeds"],
            &one["plans"][0]["probability"]
        ),
        (&"F1".into(), &1.into(), &1.0.into())
    );
}

#[test]
fn hard_crosses_stand_behind_and_say_so() {
    let bench = Bench::new();
    bench.ok("init");
    for line in [
        "parent add NL 'Night Lantern' --species annuum --genotype 'A/A Up/Up'",
        "parent add BB 'Bright Bell' --species baccatum --genotype 'a/a up/up'",
        "parent add CW 'Chalk Wren' --species annuum --plant --genotype 'a/a Up/up'",
    ] {
        record(&bench, line);
    }
    let found = bench.json("plan cross --want purple,erect");
    let told = |at: usize| {
        let plan = &found["plans"][at];
        ["mother", "father", "crossability", "fraction"].map(|key| plan[key].as_str().unwrap())
    };
    // F2 of NL x CW: 3/4 and 1/8. NL x BB back to BB: 1/4, fewer seeds, and behind all the same.
    assert_eq!(told(0), ["NL", "CW", "same-species", "3/32"]);
    assert_eq!(told(1), ["BB", "NL", "very-hard", "1/4"]);
    let said = flat(&bench.ok("plan cross --want purple,erect"));
    assert!(
        said.contains("BB x NL, baccatum by annuum: rarely a seed is to be expected"),
        "{said}"
    );
}

#[test]
fn plants_without_pollen_are_no_fathers_and_the_dead_no_parents() {
    let bench = Bench::new();
    bench.ok("init");
    for line in [
        "parent add MS 'Mute Sparrow' --genotype 'A/A ms3/ms3 Up/Up'",
        "parent add CW 'Chalk Wren' --genotype 'a/a Ms3/Ms3 up/up'",
        "cross MS CW --on 2025-07-01",
        "sow X1 --seeds 4 --on 2025-09-01",
        "up T1 4 --on 2025-09-20",
        "parent add H1 --from T1-02",
    ] {
        record(&bench, line);
    }
    let before = bench.json("plan cross --want purple,erect");
    let of_h1 = |found: &Value| {
        let plans = found["plans"].as_array().unwrap().clone();
        plans
            .iter()
            .any(|plan| plan["mother"] == "H1" || plan["father"] == "H1")
    };
    assert!(of_h1(&before), "{before}");
    record(&bench, "died T1-02 --on 2026-02-01");
    let found = bench.json("plan cross --want purple,erect --top 20");
    assert!(!of_h1(&found), "{found}");
    assert_eq!(found["gone"], serde_json::json!(["H1"]));
    for plan in found["plans"].as_array().unwrap() {
        assert_ne!(plan["father"], "MS", "{plan}");
        assert_eq!(plan["turned"], "no-pollen");
    }
    let said = flat(&bench.ok("plan cross --want deep,erect --top 20"));
    assert!(
        said.contains("CW x MS cannot be, for want of pollen."),
        "{said}"
    );
    // In sterile cytoplasm without a restorer the F1 makes no pollen either: it can only be crossed back.
    record(
        &bench,
        "parent add SC 'Silent Comet' --cytoplasm sterile --genotype 'A/A up/up Pun1/Pun1'",
    );
    record(
        &bench,
        "parent add OK 'Oak Kite' --plant --genotype 'a/a Up/up pun1/pun1 pAMT/pAMT'",
    );
    let found = bench.json("plan cross --want purple,erect,not-hot --top 100");
    let plans = found["plans"].as_array().unwrap();
    assert!(plans.iter().any(|plan| plan["mother"] == "SC"), "{found}");
    for plan in plans {
        let scheme = plan["scheme"].as_str().unwrap();
        assert!(
            plan["mother"] != "SC" || scheme == "F1" || scheme == "BC1-to-father",
            "{plan}"
        );
    }
}

#[test]
fn what_cannot_be_is_refused_with_the_reason() {
    let bench = bench_of(&[
        ("NL", [[1, 1], [1, 1], [1, 1], [1, 1]]),
        ("CW", [[0, 0], [0, 0], [1, 1], [1, 1]]),
        ("RB", [[0, 0], [1, 1], [1, 1], [0, 0]]),
    ]);
    for (line, status, parts) in [
        (
            "plan cross --want purple,gren",
            1,
            &["no trait has a class 'gren'", "the nearest: green"][..],
        ),
        (
            "plan cross --want purple,mild",
            1,
            &[
                "no trait has a class 'mild'",
                "pungency calls that not-hot",
                "try: locule plan cross --want purple,not-hot",
            ],
        ),
        (
            "plan cross --want 'purple not-hot'",
            1,
            &[
                "several looks are parted by ','",
                "try: locule plan cross --want purple,not-hot",
            ],
        ),
        (
            "plan cross --want purple,erekt",
            1,
            &["the nearest: erect", "fruit-attitude: pendant, erect"],
        ),
        (
            "plan cross --want purple,qqqqqq",
            1,
            &[
                "there are foliage: purple, green;",
                "pungency: hot, not-hot",
            ],
        ),
        (
            "plan cross --want purple --confidence -1",
            2,
            &["-1 is no share"],
        ),
        (
            "plan cross --want purple --top -1",
            2,
            &["a whole number from 1 to 100"],
        ),
        (
            "plan cross --fixed --want mid",
            1,
            &["try: locule plan cross --want mid"],
        ),
        (
            "plan cross --want purple,white",
            1,
            &["'white' is a class of several traits"],
        ),
        (
            "plan cross --want purple,green,erect",
            2,
            &[
                "no plant is both purple and green, two classes of foliage",
                "--want purple,erect",
            ],
        ),
        (
            "plan cross --want purple,hot,erect,cluster,smooth",
            2,
            &["5 traits are wanted at once, and up to 4 are planned for"],
        ),
        ("plan cross --want ,", 2, &["no look is named"]),
        ("plan cross", 2, &["--want"]),
        (
            "plan cross --want purple --confidence 1",
            2,
            &["it lies below 1"],
        ),
        (
            "plan cross --want purple --germination 0",
            2,
            &["0 is no chance"],
        ),
        (
            "plan cross --want green,deep",
            1,
            &[
                "no plant is green and deep at once",
                "foliage by A; foliage-grade by A",
            ],
        ),
        (
            "plan cross --want mid --fixed",
            1,
            &[
                "no plant that is mid breeds true",
                "try: locule plan cross --want mid",
            ],
        ),
        (
            "plan cross --want purple,not-hot,erect",
            1,
            &[
                "no single cross of the ledger's parents brings purple, not-hot and erect together",
                "purple comes from NL",
                "not-hot comes from CW",
                "erect comes from RB",
                "--want purple,not-hot",
            ],
        ),
    ] {
        let said = flat(&bench.fails(line, status));
        for part in parts {
            assert!(said.contains(part), "{line}: {part}\n{said}");
        }
    }
    let hot = bench_of(&[
        ("NL", [[1, 1], [1, 1], [1, 1], [1, 1]]),
        ("CW", [[0, 0], [1, 1], [1, 1], [1, 1]]),
    ]);
    let said = flat(&hot.fails("plan cross --want purple,not-hot,erect", 1));
    for part in [
        "no parent in the ledger can give not-hot or erect",
        "not-hot: Pun1 makes it impossible, for no parent carries pun1",
        "not-hot: pAMT makes it impossible, for no parent carries pamt",
        "erect: Up makes it impossible, for no parent carries up",
    ] {
        assert!(said.contains(part), "{part}\n{said}");
    }
    let empty = Bench::new();
    empty.ok("init");
    let said = flat(&empty.fails("plan cross --want purple", 1));
    assert!(
        said.contains("there is no living parent in the ledger to cross"),
        "{said}"
    );
}

/// What is taken of a seedling kept from a tray that was read is what `genotype` says of it; of a gene nobody looked for,
/// what its parents hand on: Up/up of Up/Up by up/up.
#[test]
fn kept_seedlings_are_taken_as_they_are_believed() {
    let bench = Bench::new();
    bench.ok("init");
    for line in [
        "parent add DT 'Dusk Thimble' --plant --genotype 'A/a Up/Up'",
        "parent add RB 'River Bell' --plant --genotype 'A/a up/up'",
        "cross DT RB --covered --tool brush --wiped --on 2025-07-01",
        "sow X1 --seeds 8 --on 2025-09-01",
        "up T1 8 --on 2025-09-12",
        "score T1 1-6=purple 7-8=green --on 2025-11-01",
        "parent add H1 --from T1-02",
    ] {
        record(&bench, line);
    }
    let known = bench.json("genotype H1");
    let loci = known["loci"].as_array().unwrap();
    let at_a = loci.iter().find(|one| one["locus"] == "A").unwrap();
    let chance = |genotype: &str| {
        let mut all = at_a["genotypes"].as_array().unwrap().iter();
        let one = all.find(|one| one["genotype"] == genotype);
        one.map_or(0.0, |one| one["p"].as_f64().unwrap())
    };
    let found = bench.json("plan cross --want green,erect --top 20");
    let mut plans = found["plans"].as_array().unwrap().iter();
    let own = plans.find(|plan| plan["scheme"] == "self" && plan["mother"] == "H1");
    let own = own.unwrap_or_else(|| panic!("{found}"));
    let hope = own["hope"].as_f64().unwrap();
    let said = chance("A/a") + chance("a/a");
    assert!((0.5..0.9).contains(&said), "{known}");
    assert!((hope - said).abs() < 1e-6, "{hope} of {said}");
}
