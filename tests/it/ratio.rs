//! `ratio` on bare counts, against published counts and values computed elsewhere.

use crate::support::{Bench, flat};

fn near(value: &serde_json::Value, wanted: f64) {
    let found = value.as_f64().unwrap_or(f64::NAN);
    assert!(
        (found - wanted).abs() <= 1e-9 * wanted.abs().max(1.0),
        "{found} is not {wanted}"
    );
}

/// Mendel 1866, Versuche über Pflanzen-Hybriden: round/wrinkled by yellow/green, F2 of 556 seeds. The
/// chi-square is 196/417 by rational arithmetic; the p-values and G by mpmath to 35 digits, the exact p by
/// enumerating all 28,956,759 outcomes in quadruple precision.
#[test]
fn mendels_dihybrid_fits_9_3_3_1() {
    let value = Bench::new().json("ratio 315 108 101 32 --to 9:3:3:1");
    assert_eq!(value["n"], 556);
    assert_eq!(value["classes"][0]["observed"], 315);
    near(&value["classes"][0]["expected"], 312.75);
    assert_eq!(value["df"], 3);
    assert_eq!(value["decides"], "chi2");
    assert_eq!(value["p"], value["p_chi2"]);
    assert!(value["yates"].is_null() && value["p_yates"].is_null());
    near(&value["chi2"], 196.0 / 417.0);
    near(&value["p_chi2"], 0.925_425_895_103_615_6);
    near(&value["g"], 0.475_445_238_998_263_15);
    near(&value["p_g"], 0.924_251_903_974_526);
    near(&value["p_exact"], 0.938_222_024_615_459_4);
    near(
        &value["classes"][0]["wilson"]["low"],
        0.525_038_411_825_049_2,
    );
    near(
        &value["classes"][0]["clopper_pearson"]["high"],
        0.608_188_045_174_206_7,
    );
}

#[test]
fn the_words_say_which_test_decides() {
    let bench = Bench::new();
    let out = flat(&bench.ok("ratio 8 5 6 1 --to 9:3:3:1"));
    assert!(out.contains("The exact test decides"), "{out}");
    let out = flat(&bench.ok("ratio 315 108 101 32 --to 9:3:3:1"));
    assert!(out.contains("The chi-square decides: at least 5"), "{out}");
    assert!(
        out.contains("p = 0.925. The counts fit 9:3:3:1")
            && out.contains("The other tests: chi-square 0.4700"),
        "{out}"
    );
}

#[test]
fn a_class_that_cannot_come_is_impossible_not_a_large_chi_square() {
    let bench = Bench::new();
    let value = bench.json("ratio 9 2 --to 1:0");
    assert_eq!(value["decides"], "impossible");
    for absent in ["p", "chi2", "p_chi2", "g", "p_g", "p_exact"] {
        assert!(value[absent].is_null(), "{absent}: {value}");
    }
    assert!(flat(&bench.ok("ratio 9 2 --to 1:0")).contains("Impossible under 1:0"));
}

#[test]
fn without_a_ratio_the_usual_ones_are_weighed() {
    let value = Bench::new().json("ratio 88 30");
    let models = value["models"].as_array().expect("a list");
    assert_eq!(models[0]["ratio"], "3:1");
    let sum: f64 = models
        .iter()
        .map(|line| line["posterior"].as_f64().expect("a number"))
        .sum();
    assert!((sum - 1.0).abs() < 1e-12, "{sum}");
}

#[test]
fn what_is_no_count_or_ratio_is_refused() {
    let bench = Bench::new();
    for (line, word) in [
        ("ratio -5 3 --to 3:1", "'-5'"),
        ("ratio 5 3.5 --to 3:1", "'3.5'"),
        (
            "ratio 99999999999999999999 3 --to 3:1",
            "'99999999999999999999'",
        ),
        ("ratio 5 3 --to 3", "'3'"),
        ("ratio 5 3 --to 3:x", "'3:x'"),
        ("ratio 5 3 --to 0:0", "'0:0'"),
        ("ratio 5 3 --to 9:3:4", "2 counts"),
    ] {
        let err = bench.fails(line, 2);
        assert!(
            err.contains(word) && err.contains("\ntry: locule ratio"),
            "{line}: {err}"
        );
    }
    let err = bench.fails("ratio 1 2 3 4 5 6", 1);
    assert!(err.contains("6 classes"), "{err}");
}

#[test]
fn a_parent_of_whom_nothing_is_stated_is_named_beside_the_tests() {
    let mut bench = Bench::new();
    bench.on("2026-05-20");
    for line in [
        "init",
        "parent add MO --genotype a/a",
        "parent add FA",
        "cross MO FA --on 2026-01-10",
        "sow X1 --seeds 12 --on 2026-03-14",
        "up T1 12 --on 2026-03-28",
        "score T1 purple=12 --on 2026-05-10",
    ] {
        bench.ok(line);
    }
    let said = "Not stated: FA at A; there the shares expected rest on the starting beliefs";
    assert!(flat(&bench.ok("ratio X1")).contains(said));
    assert_eq!(bench.json("ratio T1")["not_stated"][0], "FA at A");
    let typed = bench.ok("ratio X1 --to 1:0");
    assert!(!typed.contains("Not stated"), "{typed}");
    bench.ok("parent add FB --genotype A/A");
    bench.ok("cross MO FB --on 2026-01-11");
    bench.ok("sow X2 --seeds 3 --on 2026-03-14");
    bench.ok("up T2 3 --on 2026-03-28");
    bench.ok("score T2 purple=3 --on 2026-05-10");
    assert!(!bench.ok("ratio X2").contains("Not stated"));
}

#[test]
fn no_plants_say_nothing_of_linkage() {
    let err = Bench::new().fails("linkage 0 0 0 0", 1);
    assert!(err.contains("no plant was counted"), "{err}");
}

#[test]
fn what_to_score_is_named_with_its_trait() {
    let mut bench = Bench::new();
    bench.on("2026-05-20");
    for line in [
        "init",
        "parent add CW",
        "self CW --on 2025-06-01",
        "sow X1 --seeds 8 --on 2026-03-14",
        "up T1 8 --on 2026-03-28",
        "trait on wide-cross-dwarf",
        "trait add habit --classes dwarf,tall --rule 'D/_ => tall' --rule 'else => dwarf'",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    let said = bench.fails("ratio T1 --trait wide-cross-dwarf", 1);
    let typed = said
        .lines()
        .find_map(|line| line.strip_prefix("try: locule "));
    bench.ok(typed.unwrap());
    assert!(
        bench
            .ok("ratio T1 --trait wide-cross-dwarf")
            .contains("dwarf")
    );
}
