//! `linkage` held against published counts and reference values, typed as a grower would.

use serde_json::Value;

use crate::support::{Bench, flat};

fn data(section: &str) -> Vec<Value> {
    let text = include_str!("../data/recombination.json");
    let all: Value = serde_json::from_str(text).unwrap();
    all[section].as_array().unwrap().clone()
}

fn typed(counts: &Value) -> String {
    let counts = counts.as_array().unwrap().iter().map(Value::to_string);
    counts.collect::<Vec<_>>().join(" ")
}

/// Numbers, fractions, and decimals kept as text.
fn number(value: &Value) -> f64 {
    let text = match value {
        Value::String(text) => text.clone(),
        other => other.to_string(),
    };
    match text.split_once('/') {
        Some((n, d)) => n.parse::<f64>().unwrap() / d.parse::<f64>().unwrap(),
        None => text.parse().unwrap(),
    }
}

fn assert_near(found: &Value, wanted: f64, what: &str) {
    let found = found.as_f64().unwrap();
    let slack = 1e-10 * wanted.abs().max(1.0);
    assert!(
        (found - wanted).abs() < slack,
        "{what}: {found}, not {wanted}"
    );
}

/// Fisher's maximum likelihood with its standard errors and LOD, on every F2 of the reference values.
#[test]
fn f2_counts() {
    let bench = Bench::new();
    let rows = data("f2");
    assert_eq!(rows.len(), 12);
    for row in rows {
        let what = row["id"].as_str().unwrap();
        let phase = row["phase"].as_str().unwrap();
        let line = format!(
            "linkage {} --from f2 --phase {phase}",
            typed(&row["counts"])
        );
        let answer = bench.json(&line);
        let pair = &answer["pairs"][0];
        assert_near(&pair["r"], number(&row["r_equal_sexes"]), what);
        assert_eq!(answer["n"], row["n"], "{what}");
        for (key, wanted) in [
            ("se", &row["se_r"]),
            ("se_observed", &row["se_r_observed_information"]),
            ("lod", &row["LOD_vs_independence"]),
        ] {
            if wanted.is_null() {
                // An estimate on the boundary has no standard error.
                assert!(key == "lod" || pair[key].is_null(), "{what}: {key}");
            } else {
                assert_near(&pair[key], number(wanted), &format!("{what}, {key}"));
            }
        }
        if let Value::Array(fitted) = &row["fitted"] {
            for (class, wanted) in pair["fit"]["classes"]
                .as_array()
                .unwrap()
                .iter()
                .zip(fitted)
            {
                let slack = (class["expected"].as_f64().unwrap() - number(wanted)).abs();
                assert!(slack < 1e-7, "{what}: {class}");
            }
            assert_near(&pair["fit"]["chi2"], number(&row["fit_chi2"]), what);
            assert_eq!(pair["fit"]["df"], row["fit_df"], "{what}");
        }
    }
}

#[test]
fn testcross_counts() {
    let bench = Bench::new();
    let rows = data("testcross");
    assert_eq!(rows.len(), 6);
    for row in rows {
        let what = row["id"].as_str().unwrap();
        let counts = row["counts"].as_array().unwrap();
        let n = |at: usize| counts[at].as_u64().unwrap();
        // Some list both parental classes first.
        let (phase, order) = match row["parental"].as_u64().unwrap() {
            parental if parental == n(0) + n(3) => ("coupling", [0, 1, 2, 3]),
            parental if parental == n(1) + n(2) => ("repulsion", [0, 1, 2, 3]),
            _ => ("coupling", [0, 2, 3, 1]),
        };
        let counts = order.map(|at| n(at).to_string()).join(" ");
        let line = format!("linkage {counts} --from testcross --phase {phase}");
        let answer = bench.json(&line);
        let pair = &answer["pairs"][0];
        assert_near(&pair["r"], number(&row["r"]), what);
        assert_near(&pair["lod"], number(&row["LOD"]), what);
        assert_near(&pair["cm"], number(&row["haldane_cM"]), what);
        if number(&row["se"]) > 0.0 {
            assert_near(&pair["se"], number(&row["se"]), what);
        }
        // The likelihood interval lies near Wilson's.
        let wilson = row["wilson95"].as_array().unwrap();
        for (end, wanted) in [("low", &wilson[0]), ("high", &wilson[1])] {
            let found = pair["interval"][end].as_f64().unwrap();
            assert!(
                (found - number(wanted)).abs() < 0.08,
                "{what}: {end} {found}"
            );
        }
    }
}

/// A three-point testcross is two testcrosses of neighbours: crossovers in each interval, doubles in both.
#[test]
fn three_point_counts() {
    let row = &data("three_point")[0];
    let both = |key: &str| -> u64 {
        let counts = row["counts"][key].as_array().unwrap();
        counts.iter().map(|n| n.as_u64().unwrap()).sum()
    };
    let n = row["n"].as_u64().unwrap();
    let bench = Bench::new();
    for (key, interval) in [("r_C_Sh", "C_Sh_crossover"), ("r_Sh_Wx", "Sh_Wx_crossover")] {
        let crossed = both(interval) + both("double");
        let line = format!(
            "linkage {} 0 {crossed} 0 --from testcross --phase coupling",
            n - crossed
        );
        // Only the sum of each kind matters: all parental in one class, all recombinant in another.
        let found =
            bench.json(&line.replace(&format!(" 0 {crossed} 0"), &format!(" {crossed} 0 0")));
        assert_near(&found["pairs"][0]["r"], number(&row[key]), key);
    }
}

/// SciPy 1.17.1: optimize.minimize_scalar (bounded) for the estimate to about 1e-8, optimize.brentq for the ends of
/// the likelihood interval, of the class shares written out by hand.
#[test]
fn epistasis_and_other_looks() {
    let bench = Bench::new();
    let cases: [(&str, f64, f64, f64, f64); 5] = [
        (
            "284 21 21 55 --phase coupling",
            0.128_042_716,
            0.093_429_859_590_580_3,
            0.170_053_222_296_372_26,
            30.972_708_299_887_735,
        ),
        (
            "1997 906 904 32 --phase repulsion",
            0.188_976_99,
            0.158_353_729_416_302,
            0.220_704_648_306_844_7,
            83.707_361_921_588_51,
        ),
        (
            "250 30 60 60 --first 9:7 --phase coupling",
            0.157_632_80,
            0.110_037_068_181_650_67,
            0.216_383_315_944_492_5,
            15.020_290_469_476_31,
        ),
        (
            "20 2 42 9 7 22 --first 1:2:1 --phase coupling",
            0.185_633_03,
            0.117_503_350_803_791_58,
            0.273_479_361_156_224_07,
            7.652_207_340_939_075,
        ),
        (
            "230 70 16 4 --first 15:1 --phase repulsion",
            0.465_829_97,
            0.274_478_140_670_844_53,
            0.649_168_241_477_328_2,
            0.026_207_437_167_121_598,
        ),
    ];
    for (line, r, low, high, lod) in cases {
        let answer = bench.json(&format!("linkage {line}"));
        let pair = &answer["pairs"][0];
        assert!(
            (pair["r"].as_f64().unwrap() - r).abs() < 1e-7,
            "{line}: {pair}"
        );
        assert_near(&pair["interval"]["low"], low, line);
        assert_near(&pair["interval"]["high"], high, line);
        assert_near(&pair["lod"], lod, line);
    }
}

/// Counts made from the model itself, two genes both needed for colour and the first of them linked at r = 0.1 in
/// coupling: theta = 0.81, so (2 + theta)/4 of A_ C_, and three quarters of that coloured. The estimate must come
/// back; the plain formula is far off.
#[test]
fn under_nine_to_seven_the_plain_formula_misleads() {
    let bench = Bench::new();
    let line = "linkage 84300 5700 35700 34300 --first 9:7 --phase coupling";
    let pair = &bench.json(line)["pairs"][0];
    assert_near(&pair["r"], 0.1, line);
    let plain = pair["plain_r"].as_f64().unwrap();
    assert!(plain > 0.2, "{plain}");
    let words = flat(&bench.ok(line));
    assert!(
        words.contains("Taken as 9:3:3:1 of two plain genes"),
        "{words}"
    );
}

/// The sweet peas of Bateson, Saunders & Punnett in coupling and in repulsion, and an invented testcross, joined as
/// Fisher does (Statistical Methods for Research Workers): likelihoods written out by hand and bisected (Python 3.11,
/// numerical derivatives, about 1e-8).
#[test]
fn sets_of_counts_together() {
    let bench = Bench::new();
    let near = |found: &Value, wanted: f64| {
        let found = found.as_f64().unwrap();
        assert!((found - wanted).abs() < 1e-6, "{found}, not {wanted}");
    };
    let two = "linkage 284 21 21 55 --phase coupling --with '226 95 97 1 repulsion'";
    let answer = bench.json(two);
    near(&answer["pairs"][0]["r"], 0.126_135_685);
    near(&answer["pairs"][0]["se"], 0.017_190_324);
    near(&answer["pairs"][0]["lod"], 41.642_493_5);
    near(&answer["together"]["heterogeneity"], 0.090_970_757);
    near(&answer["together"]["sets"][1]["r"], 0.110_395_706);
    assert_eq!(
        (&answer["n"], &answer["together"]["df"]),
        (&Value::from(800), &Value::from(1))
    );
    let words = flat(&bench.ok(two));
    assert!(words.contains("they agree"), "{words}");
    let three = bench.json(&format!("{two} --with '17 4 3 16 testcross coupling'"));
    near(&three["pairs"][0]["r"], 0.131_400_618);
    near(&three["pairs"][0]["se"], 0.016_633_071);
    near(&three["pairs"][0]["lod"], 45.477_234_9);
    near(&three["together"]["heterogeneity"], 0.784_993_06);
    let apart =
        bench.ok("linkage 284 21 21 55 --phase coupling --with '100 100 100 100 testcross'");
    assert!(flat(&apart).contains("do not agree"), "{apart}");
    for bad in [
        "--with '1 2 3'",
        "--with '1 2 3 four'",
        "--with '1 2 3 x4 repulsion'",
    ] {
        let err = bench.fails(&format!("linkage 284 21 21 55 --phase coupling {bad}"), 2);
        assert!(err.contains("\ntry: "), "{err}");
    }
    bench.fails("linkage 284 21 21 55 --with '226 95 97 1 repulsion'", 2);
}

/// Two genes of one trait: purple is (2 + theta)/4 of a 9:7, so theta = 4 x share - 2 and r = 1 - sqrt(theta) in
/// coupling, sqrt(theta) in repulsion.
#[test]
fn two_genes_of_one_trait() {
    let bench = Bench::new();
    for (counts, phase, r) in [
        ("281 119", "coupling", 0.1),
        ("201 199", "repulsion", 0.1),
        ("209 191", "repulsion", 0.3),
    ] {
        let line = format!("linkage {counts} --first 9:7 --pair A,B --phase {phase}");
        let answer = bench.json(&line);
        assert_near(&answer["pairs"][0]["r"], r, &line);
    }
    let answer = bench.json("linkage 319 81 --first 15:1 --pair A,B --phase coupling");
    assert_near(&answer["pairs"][0]["r"], 0.1, "15:1");
    // 40 of 100 purple are fewer than any linkage gives: the estimate lies at the end, and has no standard error.
    let end = bench.json("linkage 40 60 --first 9:7 --pair A,B --phase repulsion");
    assert_eq!(
        (
            end["pairs"][0]["r"].as_f64(),
            end["pairs"][0]["se"].is_null()
        ),
        (Some(0.0), true)
    );
}

#[test]
fn without_a_phase_the_likelier_is_taken() {
    let bench = Bench::new();
    let pair = &bench.json("linkage 226 95 97 1")["pairs"][0];
    assert_eq!(pair["phase"], "repulsion");
    assert_eq!(pair["phase_stated"], false);
    assert!(pair["phase_times"].as_f64().unwrap() > 100.0);
    let open = flat(&bench.ok("linkage 31 26 27 26 --from testcross"));
    assert!(open.contains("the counts do not tell it"), "{open}");
}

#[test]
fn a_model_of_ones_own() {
    let bench = Bench::new();
    let rules = "--first 'A/_ B/_ => purple' --first 'else => white'";
    let own = bench.json(&format!("linkage 250 30 60 60 {rules} --second 'C/_ => long' --second 'else => round' --pair B,C --phase coupling"));
    let named = bench.json("linkage 250 30 60 60 --first 9:7 --phase coupling");
    assert_eq!(own["pairs"][0]["r"], named["pairs"][0]["r"]);
    assert_eq!(own["pairs"][0]["loci"], serde_json::json!(["B", "C"]));
    assert_eq!(
        own["pairs"][0]["fit"]["classes"][1]["class"],
        "purple/round"
    );
}

#[test]
fn what_cannot_be_estimated_is_refused() {
    let bench = Bench::new();
    for (line, status, word) in [
        ("linkage 1 2 3", 2, "there are 4 classes"),
        ("linkage 1 2 3 x", 2, "'x' is no count"),
        ("linkage 1 2 3 4 --first 5:3", 2, "9:7"),
        ("linkage 1 2 3 4 --traits a,b", 2, "--traits"),
        ("linkage 1 2 3 4 --pair A", 2, "two loci"),
        ("linkage 1 2 3 4 --pair A,Q", 1, "'Q'"),
        ("linkage 1 2 3 4 --pair A,A", 1, "one locus"),
        (
            "linkage 5 5 1 1 --first 'A/_ => x' --first 'else => y' --second 'A/_ => u' --second 'else => v'",
            1,
            "one locus",
        ),
    ] {
        let err = bench.fails(line, status);
        assert!(
            err.contains(word) && err.contains("\ntry: "),
            "{line}: {err}"
        );
    }
}

/// Seedlings of a ledger: two looks in one tally, the phase known from the parents of the plant that was selfed.
#[test]
fn a_cross_of_the_ledger() {
    let mut bench = Bench::new();
    bench.on("2026-06-01");
    for line in [
        "init",
        "parent add NL --genotype 'A/A H/H'",
        "parent add CW --genotype 'a/a h/h'",
        "parent add HY --genotype 'A|a H|h'",
        "self HY --code S1 --on 2026-01-10",
        "sow S1 --seeds 381 --tray T1 --on 2026-03-01",
        "up T1 381 --on 2026-03-20",
        "score T1 284 purple/hairy 21 purple/smooth 21 green/hairy 55 green/smooth --on 2026-05-20",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {run:?}");
    }
    let answer = bench.json("linkage S1 --traits foliage,stem-hair");
    let pair = &answer["pairs"][0];
    assert_eq!(answer["n"], 381);
    assert_eq!(pair["loci"], serde_json::json!(["A", "H"]));
    assert_near(
        &pair["r"],
        0.128_042_714_495_368_33,
        "the sweet peas of Bateson, Saunders & Punnett",
    );
    assert_eq!(pair["phase_stated"], true);
    let same = bench.fails("linkage S1 --traits foliage,foliage-grade", 1);
    assert!(flat(&same).contains("read the same locus"), "{same}");
    let unread = bench.fails("linkage S1 --traits foliage,pungency", 1);
    assert!(unread.contains("was read for both"), "{unread}");
    bench.fails("linkage S1 --traits foliage,stem-hair --phase coupling", 2);
    bench.fails("linkage S1", 2);
}
