//! Leaves as a clock where nobody counted what came up.

use crate::support::{Bench, flat};

/// A tray whose seedlings were counted and whose leaves were stated at three looks, and one that nobody counted.
fn season(counted: bool) -> Bench {
    let mut bench = Bench::new();
    let mut lines = vec![
        ("2026-01-02", "init"),
        ("2026-01-02", "parent add NL --genotype A/A --proven"),
        ("2026-01-02", "parent add CW --genotype a/a"),
        ("2026-01-02", "cross CW NL"),
        ("2026-02-02", "sow NL --seeds 6"),
        ("2026-02-02", "sow X1 --seeds 6"),
        ("2026-02-08", "up T1 --cells 1-6"),
        ("2026-02-12", "score T1 1-6=green --leaves 1"),
        ("2026-02-16", "score T1 1-6=green --leaves 2"),
        ("2026-02-20", "score T1 1-6=green --leaves 3"),
    ];
    if counted {
        // Twelve days before the look with three leaves, as in the other tray.
        lines.push(("2026-03-01", "up T2 --cells 1-6 --on 2026-02-17"));
    }
    for (day, line) in lines {
        bench.on(day).ok(line);
    }
    bench.on("2026-03-01");
    bench
}

fn off_chances(bench: &Bench) -> Vec<f64> {
    let answer = bench.json("suspects T2");
    let seedlings = answer["batches"][0]["seedlings"].as_array().unwrap();
    let of = |one: &serde_json::Value| one["p_off"].as_f64().unwrap();
    seedlings.iter().map(of).collect()
}

#[test]
fn leaves_date_a_seedling_that_nobody_counted() {
    let (dated, counted) = (season(false), season(true));
    for bench in [&dated, &counted] {
        let said = bench.run("score T2 1-5=purple 6=green --leaves 3");
        assert_eq!(said.status, Some(0), "{}", said.err);
    }
    let out = flat(&dated.ok("suspects T2"));
    assert!(
        out.contains(
            "Nobody counted what came up: 6 seedlings are dated by the leaves counted, as 18 records of leaves and age \
             in this ledger go."
        ),
        "{out}"
    );
    for (ours, theirs) in off_chances(&dated).iter().zip(off_chances(&counted)) {
        assert!((ours - theirs).abs() < 0.02, "{ours} {theirs}");
    }
    // Fewer leaves are a younger seedling: green says less.
    let young = season(false);
    young.run("score T2 1-5=purple 6=green --leaves 1");
    let last = |bench: &Bench| off_chances(bench)[5];
    assert!(
        last(&young) < 0.6 * last(&dated),
        "{} {}",
        last(&young),
        last(&dated)
    );
}

#[test]
fn without_enough_records_the_usual_days_serve() {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add NL --genotype A/A",
        "parent add CW --genotype a/a",
        "cross CW NL --on 2026-01-02",
        "sow X1 --seeds 6 --on 2026-02-02",
    ] {
        bench.ok(line);
    }
    bench.run("score T1 1-6=green --leaves 3");
    let out = flat(&bench.ok("suspects T1"));
    assert!(
        out.contains("Nobody counted what came up, so ages rest on the usual"),
        "{out}"
    );
    assert!(!out.contains("dated by the leaves"));
}

#[test]
fn leaves_that_fit_no_day_are_named_and_the_rest_counted_apart() {
    let bench = season(false);
    let fail = flat(&bench.fails("score T2-01 green --leaves 60", 1));
    assert!(
        fail.contains("T2-01: 60 leaves 27 days after the sowing; a seedling makes no leaf a day"),
        "{fail}"
    );
    assert!(fail.contains("--even-so records it all the same"), "{fail}");
    for line in [
        "score T2-01 green --leaves 60 --even-so",
        "score T2-02 purple --leaves 3",
        "score T2-03 purple",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let out = flat(&bench.ok("suspects T2"));
    for said in [
        "T2-01: these leaves fit no day since the sowing",
        "1 seedling is dated by the leaves counted",
        "The ages of the other 2 rest on the usual",
    ] {
        assert!(out.contains(said), "{said}: {out}");
    }
    assert!(!out.contains("so ages rest on the usual"), "{out}");
}
