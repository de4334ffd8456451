//! `suspects`, `sheet` and `ratio` on a small invented season.

use unicode_width::UnicodeWidthStr;

use crate::support::{Bench, flat};

/// A purple mother's cross whose seedlings must all be purple, one of them green long after; an F2 in two trays.
fn season() -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-05-12");
    for line in [
        "init",
        "parent add NL 'Night Lantern' --genotype A/A --proven",
        "parent add CW 'Chalk Window' --genotype a/a",
        "parent add H1 --plant --genotype A/a --proven",
        "cross CW NL --tool tweezers --on 2026-01-10",
        "self H1 --covered --on 2026-01-10",
        "sow X1 --seeds 12 --place tent --on 2026-03-01",
        "up T1 12 --on 2026-03-11",
        "score T1 1-11=purple 12=green --on 2026-05-05",
        "score T1-12 green --on 2026-05-10",
        "sow X2 --seeds 40 --on 2026-03-01",
        "up T2 40 --on 2026-03-11",
        "score T2 purple=30 green=10 --on 2026-04-15",
        "sow X2 --seeds 40 --on 2026-03-02",
        "up T3 40 --on 2026-03-12",
        "score T3 purple=26 green=14 --on 2026-04-15",
    ] {
        assert_eq!(
            bench.run(line).status,
            Some(0),
            "{line}: {}",
            bench.run(line).err
        );
    }
    bench
}

#[test]
fn suspects_names_the_seedling_and_whose_pollen_it_was() {
    let bench = season();
    let value = bench.json("suspects T1");
    let batch = &value["batches"][0];
    assert_eq!(
        (
            batch["tray"].as_str(),
            batch["cross"].as_str(),
            batch["n"].as_i64()
        ),
        (Some("T1"), Some("X1"), Some(12))
    );
    let sum: f64 = batch["sources"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|s| s["p"].as_f64().expect("a number"))
        .sum();
    assert!((sum - 1.0).abs() < 1e-9, "{sum}");
    let seedlings = batch["seedlings"].as_array().expect("a list");
    let off = seedlings
        .iter()
        .find(|one| one["seedling"] == "T1-12")
        .expect("the green one");
    assert_eq!(
        (off["verdict"].as_str(), off["reading"]["foliage"].as_str()),
        (Some("cull"), Some("green"))
    );
    let split: f64 = off["sources"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|s| s["p"].as_f64().expect("a number"))
        .sum();
    assert!((split - off["p_off"].as_f64().expect("a number")).abs() < 1e-9);
    let out = flat(&bench.ok("suspects T1"));
    assert!(
        out.contains("cull T1-12") && out.contains("Where the cull comes from: "),
        "{out}"
    );
    assert!(!out.contains("100 %"), "{out}");
}

#[test]
fn a_tally_gives_looks_with_counts() {
    let value = season().json("suspects T2");
    let looks = value["batches"][0]["seedlings"]
        .as_array()
        .expect("a list")
        .clone();
    assert_eq!(looks.len(), 2);
    let green = looks
        .iter()
        .find(|look| look["reading"]["foliage"] == "green")
        .expect("the green ones");
    assert_eq!(
        (
            green["seedling"].is_null(),
            green["cell"].is_null(),
            green["count"].as_i64()
        ),
        (true, true, Some(10))
    );
    assert_eq!(green["verdict"], "unproven");
}

#[test]
fn the_sheet_fits_the_paper_and_has_boxes() {
    let mut bench = season();
    let out = bench.wide(200).ok("sheet");
    assert!(out.lines().all(|line| line.width() <= 80), "{out}");
    assert!(out.contains("CULL\n  [ ] T1-12\n"), "{out}");
    let fingerprint = bench.json("history")["fingerprint"]
        .as_str()
        .expect("text")
        .to_owned();
    assert!(
        out.trim_end()
            .ends_with(&format!("ledger {fingerprint}, 2026-05-12, page 1 of 1")),
        "{out}"
    );
    let markdown = bench.ok("sheet --markdown T1");
    assert!(
        markdown.starts_with("# Cull and keep list, 2026-05-12\n")
            && markdown.contains("\n- [ ] T1-12: green 10 May"),
        "{markdown}"
    );
    assert_eq!(
        bench.json("sheet T1")["trays"][0]["groups"][0]["verdict"],
        "cull"
    );
}

#[test]
fn a_long_sheet_breaks_into_pages_of_60_lines() {
    let mut bench = season();
    bench.on("2026-05-13");
    for tray in 4..14 {
        for line in [
            "sow X1 --seeds 12 --on 2026-03-01".to_owned(),
            format!("score T{tray} 1-11=purple 12=green --on 2026-04-15"),
        ] {
            assert_eq!(bench.run(&line).status, Some(0), "{line}");
        }
    }
    let out = bench.ok("sheet");
    let lines: Vec<&str> = out.lines().collect();
    let heads: Vec<usize> = (0..lines.len())
        .filter(|at| lines[*at].starts_with("Cull and keep list"))
        .collect();
    assert!(heads.len() > 1);
    assert!(
        heads.iter().enumerate().all(|(page, at)| *at == page * 60),
        "{heads:?}"
    );
    assert!(lines[59].contains("page 1 of "), "{}", lines[59]);
}

/// By hand: 30 and 10 of 40 are 3:1 exactly, 26 and 14 give 4^2/30 + 4^2/10 = 2.1333; the pooled 56 and 24 of
/// 80 give 4^2/60 + 4^2/20 = 1.0667; the rest, 1.0667, is heterogeneity with one degree of freedom.
#[test]
fn trays_are_tested_together() {
    let bench = season();
    let value = bench.json("ratio X2 --to 3:1");
    let near = |found: &serde_json::Value, wanted: f64| {
        let found = found.as_f64().unwrap_or(f64::NAN);
        assert!((found - wanted).abs() < 1e-9, "{found} is not {wanted}");
    };
    near(&value["batches"][0]["chi2"], 0.0);
    near(&value["batches"][1]["chi2"], 32.0 / 15.0);
    near(&value["heterogeneity"]["chi2"], 16.0 / 15.0);
    assert_eq!(
        (
            value["batches"][1]["tray"].as_str(),
            value["heterogeneity"]["df"].as_u64()
        ),
        (Some("T3"), Some(1))
    );
    near(&value["crosses"][0]["pooled"]["chi2"], 16.0 / 15.0);
    let out = flat(&bench.ok("ratio X2 --to 3:1"));
    assert!(out.contains("the trays agree with each other"), "{out}");
    let two = bench.json("ratio X1 X2");
    assert!(two["heterogeneity"].is_null());
    assert_eq!(two["crosses"].as_array().map(Vec::len), Some(2));
}

/// Without --to the label's ratio at the ages of the readings: 35 days is late enough for all but a few.
#[test]
fn the_label_gives_the_ratio_of_its_trays() {
    let value = season().json("ratio T2");
    let batch = &value["batches"][0];
    assert_eq!(batch["ratio"], "3:1");
    let purple = batch["classes"][0]["expected"].as_f64().expect("a number");
    assert!((29.8..30.0).contains(&purple), "{purple}");
    assert_eq!(batch["classes"][0]["class"], "purple");
}

#[test]
fn a_count_after_pulling_gives_way_to_the_one_before() {
    let bench = season();
    for line in [
        "cull T2 green --on 2026-04-16",
        "score T2 purple=30 --on 2026-04-18",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    assert_eq!(
        bench.json("ratio T2")["batches"][0]["classes"][1]["observed"],
        10
    );
}

/// On the day they come up no seedling is expected to be purple, yet a label that ends in purple allows it.
#[test]
fn readings_too_young_to_expect_a_class_raise_no_alarm() {
    let bench = season();
    for line in [
        "sow X1 --seeds 10 --on 2026-04-01",
        "up T4 10 --on 2026-04-10",
        "score T4 purple=2 green=8 --on 2026-04-10",
        "sow X2 --seeds 12 --on 2026-04-01",
        "up T5 12 --on 2026-04-10",
        "score T5 purple=9 green=3 --on 2026-04-10",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let out = flat(&bench.ok("ratio T4"));
    assert!(
        out.contains("Too young to expect purple yet") && !out.contains("Impossible"),
        "{out}"
    );
    let young = bench.json("ratio T5")["batches"][0].clone();
    assert_eq!(young["too_young"], serde_json::json!(["purple"]));
    assert_eq!(young["classes"][0]["expected"], 9.0);
    assert_eq!(young["decides"], "exact");
    let given = bench.json("ratio T5 --to 3:1")["batches"][0].clone();
    assert_eq!(given["too_young"], serde_json::json!([]));
}

/// All of a true cross purple sooner than the belief has it: the time is wrong, not the label.
#[test]
fn colour_that_comes_soon_says_nothing_against_the_label() {
    let bench = season();
    for line in [
        "sow X1 --seeds 24 --on 2026-04-03",
        "up T4 10 --on 2026-04-13",
        "up T4 20 --on 2026-04-16",
        "score T4 1-20=purple --on 2026-04-20",
        "sow X1 --seeds 24 --on 2026-04-03",
        "up T5 20 --on 2026-04-13",
        "score T5 1-8=purple 9-20=green --on 2026-05-10",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let out = flat(&bench.ok("ratio T4"));
    assert!(
        out.contains("Only what the label ends in was seen. What does not fit is the time")
            && !out.contains("do not fit the label"),
        "{out}"
    );
    let tray = bench.json("ratio T4")["batches"][0].clone();
    assert_eq!(tray["sooner"]["classes"][0]["expected"], 20.0, "{tray}");
    assert!(tray["p"].as_f64().is_some_and(|p| p < 1e-9), "{tray}");
    let out = flat(&bench.ok("ratio T5"));
    assert!(out.contains("do not fit the label"), "{out}");
    assert_eq!(
        bench.json("ratio T5")["batches"][0]["sooner"],
        serde_json::Value::Null
    );
}

/// Late colour lowers what is expected, and the heading says so; a ratio typed along is tested bare.
#[test]
fn what_is_expected_at_an_age_is_not_the_bare_ratio() {
    let bench = season();
    for line in [
        "sow X2 --seeds 40 --on 2026-04-01",
        "up T4 34 --on 2026-04-11",
        "score T4 purple=25 green=8 --on 2026-04-29",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let aged = bench.ok("ratio T4");
    assert!(
        aged.starts_with("T4 (X2), foliage against 3:1 at the age of the readings\n"),
        "{aged}"
    );
    let bare = bench.ok("ratio T4 --to 3:1");
    assert!(bare.starts_with("T4 (X2), foliage against 3:1\n"), "{bare}");
    assert_eq!(bench.json("ratio T4")["batches"][0]["at_an_age"], true);
    assert_eq!(bench.json("ratio T2")["batches"][0]["at_an_age"], false);
}

#[test]
fn mild_tips_in_a_ratio_are_remarked_on() {
    let mut bench = season();
    bench.on("2026-08-20");
    for line in [
        "parent add HT --plant --genotype Pun1/pun1",
        "self HT --covered --on 2026-01-10",
        "sow X3 --seeds 4 --on 2026-03-01",
        "up T4 4 --on 2026-03-11",
        "score T4-01 not-hot --tasted tip",
        "score T4-02 hot --tasted tip",
        "score T4-03 not-hot --tasted placenta",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let out = flat(&bench.ok("ratio T4"));
    assert!(
        out.contains("1 of those without heat rests on a taste of the tip or wall"),
        "{out}"
    );
    assert_eq!(bench.json("ratio T4")["batches"][0]["tasted_mild"], 1);
}

#[test]
fn the_reason_stands_once_under_the_rows_it_is_about() {
    let out = season().ok("suspects T2");
    assert_eq!(out.matches("X2 may look so").count(), 0, "{out}");
    assert_eq!(out.matches("H1 selfed may look so").count(), 1, "{out}");
    assert!(
        out.lines().all(|line| line.width() <= 80)
            && out.contains("\nunproven: nothing speaks against it"),
        "{out}"
    );
    assert!(
        !out.contains("\ncull: ") && out.contains("How likely each story is: "),
        "{out}"
    );
}

#[test]
fn readings_after_the_day_asked_about_are_announced() {
    let bench = season();
    for command in ["suspects T2 --on 2026-04-01", "sheet T2 --on 2026-04-01"] {
        let out = flat(&bench.ok(command));
        assert!(
            out.contains("40 readings after 1 April are left out."),
            "{out}"
        );
    }
    assert!(!bench.ok("suspects T2").contains("left out"));
    assert!(bench.ok("suspects --help").contains("as on that day"));
}

#[test]
fn seedlings_not_scored_are_named_where_their_cell_is_known() {
    let bench = season();
    for line in [
        "sow X1 --seeds 12 --cells 12 --on 2026-03-01",
        "up T4 --cells 1-5 --on 2026-03-11",
        "score T4 1-2=purple 3=early --on 2026-05-05",
        "up T4 7 --on 2026-05-06",
        "assume dim 0.05",
    ] {
        assert_eq!(
            bench.run(line).status,
            Some(0),
            "{line}: {}",
            bench.run(line).err
        );
    }
    let out = bench.ok("sheet T4");
    assert!(
        out.contains("  NOT SCORED\n  [ ] T4-03   [ ] T4-04   [ ] T4-05\n")
            && out.contains("\n  2 more not scored yet.\n"),
        "{out}"
    );
    assert!(
        out.contains("\n  starting beliefs changed: dim 0.05\n"),
        "{out}"
    );
    let value = bench.json("suspects T4");
    assert_eq!(
        (
            &value["batches"][0]["not_scored"],
            &value["batches"][0]["unscored"]
        ),
        (
            &serde_json::json!(["T4-03", "T4-04", "T4-05"]),
            &serde_json::json!(5)
        )
    );
    assert_eq!(value["changed_beliefs"], serde_json::json!({"dim": 0.05}));
}

#[test]
fn many_boxes_are_a_number_and_nothing_scored_tells_no_story() {
    let bench = season();
    assert!(
        bench
            .ok("sheet T2")
            .contains("  30 x [ ] purple 15 Apr in T2\n")
    );
    assert_eq!(
        bench.run("sow X1 --seeds 12 --on 2026-03-01").status,
        Some(0)
    );
    let out = bench.ok("suspects T4");
    assert!(
        out.contains("Nothing has been scored here yet") && !out.contains("story"),
        "{out}"
    );
}
