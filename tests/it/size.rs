//! `size` in the real program: measures compared by direction, runts named with their caution, refusals.

use crate::support::{Bench, close, flat};

/// Both directions of a pair, sown on one day and measured on one: the samples of `two_samples.rs`.
fn seedlings() -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-03-01");
    for line in [
        "init",
        "parent add NL --species annuum",
        "parent add CW --species annuum",
        "parent add HB --species chinense",
        "cross CW NL --flowers 3 --on 2025-07-01",
        "cross NL CW --flowers 3 --on 2025-07-01",
        "cross CW HB --flowers 3 --on 2025-07-01",
        "sow X1 --seeds 14 --on 2026-01-20",
        "sow X2 --seeds 14 --on 2026-01-20",
        "sow X3 --seeds 14 --on 2026-01-20",
    ] {
        bench.ok(line);
    }
    let x = [
        "42", "45", "39", "44", "47", "41", "43", "40", "46", "38", "44.5", "42.5",
    ];
    let y = ["36", "39.5", "33", "34", "38.5", "37", "41.5"];
    measure(&bench, "T1", &x);
    measure(&bench, "T2", &y);
    bench
}

fn measure(bench: &Bench, tray: &str, heights: &[&str]) {
    for (at, height) in heights.iter().enumerate() {
        bench.ok(&format!(
            "measure {tray}-{:02} height={height}mm --on 2026-02-20",
            at + 1
        ));
    }
}

/// SciPy 1.17.1: `mannwhitneyu(x, y, method='exact')`, `ttest_ind(x, y, equal_var=False)`.
#[test]
fn two_directions_are_compared_by_ranks_where_there_are_few() {
    let bench = seedlings();
    let found = bench.json("size X1 X2");
    let pair = &found["comparisons"][0];
    assert_eq!(
        (&pair["decides"], &pair["reciprocal"]),
        (&"ranks".into(), &true.into())
    );
    close(&pair["p"], 0.001_786_139_557_037_39);
    close(&pair["welch"]["p"], 0.001_789_120_984_420_137_6);
    assert_eq!(pair["ranks"]["between"], serde_json::json!([2.5, 9.0]));
    assert_eq!(
        bench.ok("size X1 X2"),
        " height   measured      mean   spread   median      from to   days old\n\
         -----------------------------------------------------------------------\n \
         X1             12   42.7 mm      2.8     42.8     38 to 47         31\n \
         X2              7   37.1 mm     3.02       37   33 to 41.5         31\n\
         \n\
         X1 is larger than X2: X1 less X2 is 5.5 mm, between 2.5 and 9 mm (p = 0.0018,\n  rank test).\n\
         \n\
         The newest measure of 19 seedlings by 2026-03-01; days old count from sowing.\n"
    );
    let by = bench.json("size --by direction");
    assert_eq!(by["groups"][1]["group"], "NL x CW");
}

#[test]
fn means_are_compared_where_there_are_enough() {
    let bench = seedlings();
    for (at, height) in ["38", "36.5", "40", "35"].iter().enumerate() {
        bench.ok(&format!(
            "measure T2-{:02} height={height}mm --on 2026-02-20",
            at + 8
        ));
    }
    let pair = &bench.json("size X1 X2")["comparisons"][0];
    assert_eq!(pair["decides"], "welch");
    // SciPy 1.17.1: ttest_ind(x, y + [38, 36.5, 40, 35], equal_var=False)
    close(&pair["p"], 8.478_080_827_848_624e-5);
    assert!(flat(&bench.ok("size X1 X2")).contains("Welch's t"));
}

#[test]
fn a_runt_is_named_and_of_a_wide_cross_spared() {
    let bench = seedlings();
    bench.ok("measure T1-13 height=12mm --on 2026-02-20");
    let said = flat(&bench.ok("size T1"));
    assert!(
        said.contains("Far smaller than its tray: T1-13 (12 mm). Small is no proof of being off-type. The newest"),
        "{said}"
    );
    measure(&bench, "T3", &["30", "31", "29", "33", "32", "3"]);
    let found = bench.json("size X3");
    assert_eq!(
        (&found["seedlings"][5]["runt"], &found["wide_runts"][0]),
        (&true.into(), &"CW x HB".into())
    );
    let said = flat(&bench.ok("size X3"));
    assert!(
        said.contains(
            "CW x HB is between species: do not pull a runt of it for being weak. True hybrids of such crosses may look \
             dwarf or virus-sick (Manzur 2015; Yazawa 1989), and the vigorous ones may be the selfs."
        ),
        "{said}"
    );
    // Neither the reason nor a remark calls it weak: its measure does.
    let pulled = bench.run("cull T3-06 --on 2026-02-25");
    assert!(
        flat(&pulled.err).contains(
            "annuum x chinense is a cross between species: a weak or dwarf seedling may be the true hybrid"
        ),
        "{}",
        pulled.err
    );
    assert_eq!(bench.run("cull T3-05 --on 2026-02-25").err, "");
    let line = bench.json("size X3")["groups"][0].clone();
    assert_eq!(line["gone"], 2);
    assert!(
        flat(&bench.ok("size X3"))
            .contains("2 of those measured are gone since; their last size is counted in.")
    );
    assert_eq!(
        bench.json("size X3")["seedlings"][5]["runt"],
        false,
        "what is gone need not be spared"
    );
}

#[test]
fn the_newest_measure_counts_in_the_unit_of_most() {
    let bench = seedlings();
    bench.ok("measure T2-01 height=5.2cm --on 2026-02-27");
    bench.run("measure T2-02 height=8 --on 2026-02-27");
    let found = bench.json("size T2");
    assert_eq!(
        (&found["unit"], &found["seedlings"][0]["value"]),
        (&"mm".into(), &52.0.into())
    );
    assert_eq!(found["other_unit"], serde_json::json!(["T2-02"]));
    assert_eq!(
        bench.json("size T2 --on 2026-02-21")["seedlings"][0]["value"],
        36.0
    );
    let older = bench.json("size X1 X2");
    assert_eq!(older["groups"][1]["age_days"], serde_json::json!([31, 38]));
    assert_eq!(
        (
            &older["groups"][0]["mixes_ages"],
            &older["groups"][1]["mixes_ages"]
        ),
        (&false.into(), &true.into())
    );
    assert!(flat(&bench.ok("size X1 X2")).contains(
        "Within X2 seedlings were measured more than 2 days of age apart: mean and spread are of age as much as of size."
    ));
    for at in 3..8 {
        bench.ok(&format!("measure T2-0{at} height=44mm --on 2026-02-27"));
    }
    assert!(flat(&bench.ok("size X1 X2")).contains(
        "X2 was measured 7 days older than X1, on average: age is in the difference. Measure both on one day, or ask \
         with --on."
    ));
}

#[test]
fn what_looks_like_a_slip_is_noted_and_kept() {
    let bench = seedlings();
    let note = |line: &str| {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
        flat(&run.err)
    };
    assert!(
        note("measure T1-01 height=5furlongs")
            .contains("'furlongs' is none of mm, cm, m, mg, g and kg")
    );
    // Meant as it was written: the second time nothing is said.
    assert_eq!(note("measure T1-02 height=6furlongs"), "");
    assert!(
        note("measure T1-01 heigth=45mm")
            .contains("'heigth' was not measured before, 'height' was: they are two measures")
    );
    assert_eq!(note("measure T1-01 weight=4g"), "");
    assert_eq!(note("measure T1-01 leaves=6 chill=-3°C"), "");
    assert!(
        note("measure T1-03 height=1e9mm").contains("height 1e9 mm: larger than a pepper gets")
    );
}

#[test]
fn too_few_are_not_called_alike() {
    let bench = seedlings();
    measure(&bench, "T3", &["30", "31"]);
    bench.ok("sow X2 --seeds 3 --on 2026-01-20");
    measure(&bench, "T4", &["40", "41"]);
    // Two and two: at best 2 of C(4, 2) = 6 orders.
    assert!(flat(&bench.ok("size T3 T4")).contains(
        "T3 and T4: too few to tell; even wholly apart so few would give p = 0.333 by ranks."
    ));
}

#[test]
fn several_measures_and_none_are_refused() {
    let bench = seedlings();
    bench.ok("measure T1-01 leaves=6 --on 2026-02-20");
    let several = bench.fails("size T1", 1);
    assert!(
        several.contains("several things were measured: height, leaves"),
        "{several}"
    );
    assert!(
        several.contains("try: locule size T1 --of height"),
        "{several}"
    );
    assert_eq!(bench.json("size T1 --of Leaves")["groups"][0]["n"], 1);
    assert!(
        bench
            .fails("size T1 --of girth", 1)
            .contains("'girth' was not measured; measured were: height, leaves")
    );
    assert!(
        bench
            .fails("size T3", 1)
            .contains("no seedling of it was measured by then")
    );
}

#[test]
fn measures_that_cannot_be_are_noted() {
    let bench = seedlings();
    let note = |line: &str| {
        let run = bench.run(line);
        flat(&format!("{}{}", run.out, run.err))
    };
    let nothing = note("measure T1-01 height=0mm");
    assert!(
        nothing.contains("height 0 mm: nothing that stands measures nought"),
        "{nothing}"
    );
    let bare = note("measure T1-02 height=41");
    assert!(
        bare.contains("height has no unit here, and was measured in mm"),
        "{bare}"
    );
    let said = flat(&bench.ok("size T1"));
    assert!(
        said.contains("Left out, being not measured in mm, nor in what goes into mm: T1-02."),
        "{said}"
    );
}
