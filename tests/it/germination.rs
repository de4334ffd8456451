//! `germination` in the real program: the series of `germination.json` typed as counts, groups, windows, refusals.

use crate::support::{Bench, close, flat, record};

/// Two lines, both directions, the lots A and B of `germination.json` sown of them on 1 February.
fn lots() -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-03-01");
    for line in [
        "init",
        "parent add NL --species annuum --genotype A/A",
        "parent add CW --species annuum --genotype a/a",
        "cross CW NL --flowers 3 --on 2025-07-01",
        "cross NL CW --flowers 3 --on 2025-07-01",
        "harvest X1 --pods 2 --seeds 120 --on 2025-09-01",
        "harvest X2 --pods 2 --seeds 120 --on 2025-09-01",
        "sow X1 --seeds 50 --on 2026-02-01",
        "sow X2 --seeds 50 --on 2026-02-01",
    ] {
        bench.ok(line);
    }
    let a = [
        (5, 0),
        (6, 3),
        (7, 10),
        (8, 19),
        (9, 27),
        (10, 33),
        (12, 38),
        (14, 41),
        (18, 42),
        (21, 42),
    ];
    let b = [
        (6, 0),
        (7, 1),
        (8, 5),
        (9, 11),
        (10, 19),
        (12, 26),
        (14, 31),
        (18, 35),
        (21, 37),
    ];
    count(&bench, "T1", &a);
    count(&bench, "T2", &b);
    bench
}

/// Types counts by days after 1 February.
fn count(bench: &Bench, tray: &str, counts: &[(u32, u32)]) {
    for (day, up) in counts {
        bench.ok(&format!("up {tray} {up} --on 2026-02-{:02}", day + 1));
    }
}

/// `germination.json`, lot A and "A vs B": exact fractions as decimals, SciPy 1.17 for the tests.
#[test]
fn typed_counts_give_the_published_indices() {
    let bench = lots();
    let found = bench.json("germination X1 X2");
    let a = &found["groups"][0];
    assert_eq!(
        (&a["group"], &a["up"], &a["sown"]),
        (&"X1".into(), &42.into(), &50.into())
    );
    close(&a["wilson"][0], 0.714_857_839_369_65);
    close(&a["clopper_pearson"][1], 0.928_299_232_816_714);
    let timing = &a["timing"];
    close(&timing["median_days"], 8.25);
    close(&timing["median_days_coolbear"], 8.3125);
    close(&timing["median_days_of_sown"], 8.75);
    close(&timing["mean_days"], 391.0 / 42.0);
    close(&timing["mean_se"], 0.393_749_207_160_450_6);
    close(&timing["speed"], 4.800_396_825_396_826);
    assert_eq!(timing["median_between"], serde_json::json!([8.0, 9.0]));
    let pair = &found["comparisons"][0];
    close(&pair["p_fisher"], 0.326_228_992_172_818);
    close(&pair["log_rank"]["chi2"], 7.272_557_068_087_381);
    close(&pair["log_rank"]["p"], 0.007_001_605_428_710_82);
    close(&pair["difference_between"][1], 0.255_693_029_295_198_2);
    assert_eq!(pair["reciprocal"], true);
    // B was not counted on the fifth day.
    assert_eq!(pair["timing_decides"], "interval-log-rank");
    bench.ok("up T2 0 --on 2026-02-06");
    let pair = &bench.json("germination X1 X2")["comparisons"][0];
    assert_eq!(pair["timing_decides"], "log-rank");
    close(&pair["p_timing"], 0.007_001_605_428_710_82);
}

#[test]
fn two_directions_are_told_apart_in_words() {
    let bench = lots();
    bench.ok("up T2 0 --on 2026-02-06");
    bench.ok("cull T1 1-4 --why weak --on 2026-02-27");
    let said = bench.ok("germination --by direction");
    assert!(
        said.lines().all(|line| line.chars().count() <= 80),
        "{said}"
    );
    assert!(
        said.starts_with(
            "           sown   up   share   95 % interval   half by     mean   stand\n"
        ),
        "{said}"
    );
    assert!(
        said.contains(" CW x NL     50   42    84 %      71 to 92 %     8.2 d    9.3 d      38\n"),
        "{said}"
    );
    let said = flat(&said);
    for wanted in [
        "How many had come up of CW x NL and NL x CW by day 21 is no proven difference: 84 % against 74 % (p = 0.326, \
         Fisher's exact test; the difference lies between -6 and +26 points). It is early: more may come of T1 and T2.",
        "CW x NL came sooner, or more of it by any day: half of what came was up by day 8.2, of NL x CW by day 9.9 (p \
         = 0.0070, log-rank test).",
        "If both are as labelled they carry the same genes but for the cytoplasm",
        "T1: 8 seeds not up, and not dead yet: at 25 to 28 °C wait until 1 March (28 days after sowing).",
        "Beside what certified seed must bring: CW x NL and NL x CW pass 55 % and may yet pass 80 %.",
    ] {
        assert!(said.contains(wanted), "{wanted}\n{said}");
    }
}

#[test]
fn one_tray_is_told_in_a_sentence_and_a_curve() {
    let bench = lots();
    bench.ok("died T1 2 --on 2026-02-25");
    let said = bench.ok("germination T1");
    assert!(
        flat(&said).starts_with(
            "T1 (X1, CW x NL, sown 2026-02-01): 42 of 50 up so far, 84 % (71 to 92 %). 40 standing now. Half of those \
             that came were up by day 8.2; mean 9.3 days. 100 % |"
        ),
        "{said}"
    );
    assert!(
        flat(&said).contains("the mean lies between 8.0 and 9.3 days"),
        "{said}"
    );
    let earlier = bench.json("germination T1 --on 2026-02-08");
    assert_eq!(earlier["groups"][0]["up"], 10, "later counts are left out");
    assert_eq!(earlier["trays"][0]["standing"], 10);
}

#[test]
fn species_and_warmth_set_the_day_up_to_which_seed_is_not_dead() {
    let bench = lots();
    for line in [
        "parent add HB --species chinense",
        "cross CW HB --flowers 4 --on 2025-07-01",
        "sow X3 --seeds 12 --on 2026-02-01",
        "up T3 2 --on 2026-02-25",
    ] {
        bench.ok(line);
    }
    let tray = |line: &str| bench.json(line)["trays"][0].clone();
    let wide = tray("germination T3");
    assert_eq!(
        (&wide["outlook"], &wide["window"], &wide["not_dead_until"]),
        (
            &"not-dead-yet".into(),
            &"other".into(),
            &"2026-03-15".into()
        )
    );
    assert_eq!(wide["slow"], true);
    let said = flat(&bench.ok("germination T3"));
    for wanted in [
        "T3: 10 seeds not up, and not dead yet: at 25 to 28 °C wait until 15 March (42 days after sowing).",
        "- chinense: light, or one night at 15 °C a week after soaking; one accession gave none in the dark at a \
         constant 30 °C until it had one of them [Environ. Control Biol. 22:25; read]",
        "- gibberellic acid (GA3), 100 or 1,000 ppm",
        "Beside what certified seed must bring: T3 may yet pass 55 % and may yet pass 80 %.",
    ] {
        assert!(said.contains(wanted), "{wanted}\n{said}");
    }
    // 28 days times 12.5/8.16, the days to emergence at 20 and 26.5 °C of Harrington and Minges 1954.
    let cool = tray("germination T1 --warmth 20");
    assert_eq!(
        (&cool["window_days"], &cool["not_dead_until"]),
        (&43.into(), &"2026-03-16".into())
    );
    bench.ok("assume not-dead.annuum 20");
    let own = tray("germination T1");
    assert_eq!(
        (&own["outlook"], &own["not_dead_until"]),
        (&"past-hope".into(), &"2026-02-21".into())
    );
    let cold = flat(&bench.fails("germination T1 --warmth 10", 2));
    assert!(
        cold.contains("a warmth of 10 °C is outside 15 to 35 °C") && cold.contains("1 in 100"),
        "{cold}"
    );
    assert_eq!(
        bench.ok("germination T1 --warmth 68F"),
        bench.ok("germination T1 --warmth '20 C'")
    );
    let none = flat(&bench.fails("germination T1 --warmth nan", 2));
    assert!(
        none.contains("--warmth nan is no warmth") && !none.contains("40 °C"),
        "{none}"
    );
}

#[test]
fn a_year_ago_stands_beside() {
    let bench = lots();
    bench.ok("sow X1 --seeds 20 --on 2025-10-01");
    bench.ok("up T3 19 --on 2025-10-25");
    // On 1 March the newer tray is not dead yet, and nothing is said of a difference.
    let early = &bench.json("germination X1 --by cross")["groups"][0]["last_year"]["p"];
    assert!(early.is_null(), "{early}");
    assert!(flat(&bench.ok("germination T1")).contains(
        "X1 in 2025: 19 of 20 up, 95 %; in 2026 42 of 50, 84 %: not to be compared while more may come."
    ));
    let mut bench = bench;
    bench.on("2026-03-05");
    let found = bench.json("germination X1 --by cross");
    let last = &found["groups"][0]["last_year"];
    assert_eq!(
        (&last["year"], &last["before"]["up"], &last["now"]["up"]),
        (&2026.into(), &19.into(), &42.into())
    );
    // SciPy 1.17.1, fisher_exact([[42, 8], [19, 1]]).pvalue
    close(&last["p"], 0.429_625_997_214_997_2);
    assert!(flat(&bench.ok("germination T1")).contains(
        "X1 in 2025: 19 of 20 up, 95 %; in 2026 42 of 50, 84 %: no proven difference (p = 0.430)."
    ));
    let by_year = bench.json("germination X1 --by year");
    assert_eq!(by_year["groups"][0]["group"], "2025");
}

#[test]
fn lots_old_green_and_fresh_are_named() {
    let bench = lots();
    for line in [
        "packet NL --seeds 40 --on 2021-06-01",
        "sow NL --seeds 10 --on 2026-02-01",
        "up T3 2 --on 2026-02-20",
        "cross CW NL --code G1 --on 2026-01-01",
        "harvest G1 --seeds 20 --on 2026-01-31",
        "sow G1 --seeds 10 --on 2026-02-01",
        "up T4 1 --on 2026-02-20",
    ] {
        // A second cross of one pair is recorded with a note.
        record(&bench, line);
    }
    let old = flat(&bench.ok("germination T3"));
    assert!(
        old.contains("NL/1 was at least 4.7 years old when sown in T3: seed is best up to 4 years, then slower before it is dead."),
        "{old}"
    );
    let green = flat(&bench.ok("germination T4"));
    for wanted in [
        "G1/1 was 1 day old when sown in T4: it may sleep still",
        "G1/1 was picked 30 days after pollination: seed of green fruit at 30 days did not come up",
    ] {
        assert!(green.contains(wanted), "{wanted}\n{green}");
    }
    assert_eq!(
        bench.json("germination T3")["trays"][0]["lots"][0]["age_days"],
        1706
    );
    let lots = bench.json("germination --by lot");
    assert_eq!(lots["groups"][2]["group"], "NL/1");
    let ages = bench.json("germination --by age");
    let ages = ages["groups"].as_array().unwrap();
    let ages: Vec<_> = ages
        .iter()
        .map(|group| (&group["group"], &group["sown"]))
        .collect();
    assert_eq!(
        ages,
        [
            (&"0 to 1 years old".into(), &110.into()),
            (&"4 to 5 years old".into(), &10.into())
        ]
    );
}

#[test]
fn what_nobody_counted_is_said_and_left_out() {
    let bench = lots();
    bench.ok("sow X1 --seeds 12 --on 2026-01-10");
    bench.run("score T3 9 green --on 2026-02-25");
    let found = bench.json("germination X1");
    assert_eq!(found["groups"].as_array().unwrap().len(), 1);
    assert_eq!(
        (
            &found["uncounted"][0]["tray"],
            &found["uncounted"][0]["up"],
            &found["uncounted"][0]["scored"]
        ),
        (&"T3".into(), &serde_json::Value::Null, &9.into())
    );
    assert!(flat(&bench.ok("germination T3")).contains(
        "T3: nobody counted what came up of 12 seeds. 9 were scored. 'locule up T3 9 --on DAY' says it."
    ));
    // More scored than counted: those came up too.
    bench.ok("up T3 7 --on 2026-01-25");
    assert_eq!(bench.json("germination T3")["groups"][0]["up"], 9);
    bench.run("up T3 14 --even-so --on 2026-02-26");
    let forced = bench.json("germination T3");
    assert_eq!(
        (
            &forced["groups"][0]["up"],
            &forced["trays"][0]["more_than_sown"]
        ),
        (&12.into(), &true.into())
    );
    bench.run("up T2 3 --even-so --on 2026-01-20");
    assert_eq!(
        bench.json("germination T2")["groups"][0]["timing"]["curve"][0]["days"],
        6.0,
        "a count before sowing is left out"
    );
}

#[test]
fn trays_that_differ_among_themselves_are_named() {
    let bench = lots();
    bench.ok("sow X1 --seeds 50 --on 2026-02-01");
    bench.ok("up T3 20 --on 2026-02-20");
    let found = bench.json("germination X1 --by cross");
    // SciPy 1.17.1, chi2_contingency([[42, 8], [20, 30]], correction=False)
    close(
        &found["groups"][0]["agreement"]["chi2"],
        20.543_293_718_166_38,
    );
    assert!(
        flat(&bench.ok("germination X1 --by cross"))
            .contains("The trays of X1 differ more than chance has it (p = 5.8e-6)")
    );
}

/// Ten days after its sowing a tray is judged neither by what is still to come nor against one that is at its end.
#[test]
fn a_tray_that_is_not_at_its_end_is_not_judged() {
    let bench = lots();
    bench.ok("sow X2 --seeds 24 --on 2026-02-19");
    bench.ok("up T3 3 --on 2026-03-01");
    let pair = bench.json("germination T1 T3")["comparisons"][0].clone();
    // T1 had 33 of 50 up on day 10; SciPy 1.17.1, fisher_exact([[33, 17], [3, 21]]).pvalue
    assert_eq!(
        (&pair["by_day"], &pair["unsettled"]),
        (&10.0.into(), &serde_json::json!(["T1", "T3"]))
    );
    close(&pair["p_fisher"], 1.539_140_456_079_496_5e-5);
    assert_eq!(pair["shares"], serde_json::json!([0.66, 0.125]));
    let said = flat(&bench.ok("germination T1 T3"));
    for wanted in [
        "By day 10 more had come up of T1 than of T3: 66 % against 12 %",
        "It is early: more may come of T1 and T3.",
        "T3 may yet pass 55 % and may yet pass 80 %.",
    ] {
        assert!(said.contains(wanted), "{wanted}\n{said}");
    }
    // Counted on no day of the same age: nothing to compare.
    bench.ok("sow X2 --seeds 24 --on 2026-02-16");
    bench.ok("up T4 3 --on 2026-03-01");
    let pair = bench.json("germination T3 T4")["comparisons"][0].clone();
    assert!(
        pair["p_fisher"].is_null() && pair["shares"].is_null(),
        "{pair}"
    );
    let said = flat(&bench.ok("germination T3 T4"));
    assert!(
        said.contains(
            "How many came up of T3 and T4 cannot be compared yet: more may come of T3 and T4, and they were not all \
             counted on the same day after sowing."
        ),
        "{said}"
    );
}

/// A window of 28 days has its last quarter from day 21 on.
#[test]
fn an_early_last_count_is_not_the_end() {
    let mut bench = lots();
    bench.ok("sow X1 --seeds 20 --on 2026-02-01");
    bench.ok("up T3 2 --on 2026-02-09");
    bench.on("2026-04-10");
    let found = bench.json("germination T3");
    let tray = &found["trays"][0];
    assert_eq!(
        (&tray["outlook"], &tray["last_seen_days"], &tray["slow"]),
        (&"counted-early".into(), &8.into(), &false.into())
    );
    assert_eq!(found["groups"][0]["minima"][0]["verdict"], "not-yet");
    let said = flat(&bench.ok("germination T3"));
    assert!(
        said.contains(
            "T3: last counted on day 8 of the 28 that seed is waited for, 18 of 20 not up then: count again, with \
             'locule up T3 N'."
        ) && !said.contains("is over"),
        "{said}"
    );
    bench.ok("up T3 2 --on 2026-02-23");
    let tray = bench.json("germination T3")["trays"][0].clone();
    assert_eq!(tray["outlook"], "past-hope");
    // All that came up scored late says as much as a count.
    bench.ok("sow X1 --seeds 20 --on 2026-02-01");
    bench.ok("up T4 2 --on 2026-02-09");
    bench.ok("score T4-01 green --on 2026-03-20");
    assert_eq!(
        bench.json("germination T4")["trays"][0]["outlook"],
        "counted-early"
    );
    bench.ok("score T4-02 green --on 2026-03-20");
    assert_eq!(
        bench.json("germination T4")["trays"][0]["outlook"],
        "past-hope"
    );
}

#[test]
fn one_common_count_tells_nothing_of_when() {
    let mut bench = lots();
    bench.ok("sow X1 --seeds 20 --on 2026-02-01");
    bench.ok("sow X2 --seeds 20 --on 2026-02-01");
    bench.on("2026-03-10");
    bench.ok("up T3 19 --on 2026-03-04");
    bench.ok("up T4 5 --on 2026-03-04");
    let pair = bench.json("germination T3 T4")["comparisons"][0].clone();
    assert_eq!(pair["at_one_count"], true);
    assert!(pair["p_timing"].is_null(), "{pair}");
    let said = bench.ok("germination T3 T4");
    assert!(said.contains("31 d or less"), "{said}");
    let said = flat(&said);
    assert!(
        said.contains(
            "When they came up cannot be compared: all of it was first counted on one day."
        ) && said.contains("More came up of T3 than of T4: 95 % against 25 %"),
        "{said}"
    );
}

#[test]
fn a_seedling_points_to_its_tray() {
    let bench = lots();
    bench.ok("score T1-01 green --on 2026-03-01");
    for question in ["germination", "size"] {
        assert_eq!(
            bench.fails(&format!("{question} T1-01"), 1),
            format!(
                "error: T1-01 is a seedling of T1, and nothing of its own seed was sown yet\ntry: locule {question} T1\n"
            )
        );
    }
}

#[test]
fn nothing_sown_or_unknown_is_refused() {
    let bench = Bench::new();
    bench.ok("init");
    assert_eq!(
        bench.fails("germination", 1),
        "error: nothing was sown yet\ntry: locule sow X1 --seeds 12\n"
    );
    let bench = lots();
    assert!(
        bench
            .fails("germination T9", 1)
            .contains("'T9' is not in the ledger")
    );
    assert!(
        bench
            .fails("germination T1 --on 2026-01-05", 1)
            .contains("nothing of it was sown by 2026-01-05")
    );
    assert!(bench.fails("germination --by moon", 2).contains("moon"));
}

#[test]
fn many_groups_are_told_shortly() {
    let mut bench = Bench::new();
    bench.on("2026-03-20");
    bench.ok("init");
    for plant in ["A1", "B1", "C1", "D1", "E1"] {
        bench.ok(&format!("parent add {plant} --species annuum"));
    }
    let plants = ["A1", "B1", "C1", "D1", "E1"];
    let pairs = plants
        .iter()
        .flat_map(|one| plants.iter().map(move |other| (one, other)));
    for (at, (one, other)) in pairs.filter(|(one, other)| one != other).enumerate() {
        bench.ok(&format!("cross {one} {other} --on 2025-07-01"));
        bench.ok(&format!("sow X{} --seeds 12 --on 2026-03-01", at + 1));
        // Of A1 x B1 all came up, of B1 x A1 none; of the others half.
        let up = match at {
            0 => 12,
            4 => 0,
            _ => 6,
        };
        bench.ok(&format!("up T{} {up} --on 2026-03-12", at + 1));
    }
    let found = bench.json("germination");
    assert_eq!(
        found["comparisons"].as_array().unwrap().len(),
        10,
        "each pair its two directions"
    );
    let said = flat(&bench.ok("germination"));
    assert!(
        said.contains("By day 11 more had come up of X1 than of X5: 100 % against 0 %"),
        "{said}"
    );
    assert!(
        said.contains("between the two directions of 9 pairs (by Holm): X2 and X9; "),
        "{said}"
    );
    assert!(
        said.contains("Curves are drawn of up to four: name them."),
        "{said}"
    );
    assert!(
        said.contains("X1 passes 55 % and may pass 80 %; X2, X3, X4, X5, X6, "),
        "{said}"
    );
}

/// The interval goes with the shares as they are named; what was last counted early is not early any more, and where all
/// came at once "more than half" is of those that came. SciPy 1.17.1's newcombe of 5/20 less 0/20: 0.04 to 0.47 (rounded).
#[test]
fn the_words_of_a_comparison_agree_with_its_numbers() {
    let mut bench = Bench::new();
    bench.on("2026-04-09");
    for line in [
        "init",
        "parent add PF --species annuum --genotype a/a",
        "parent add DM --species annuum --genotype A/A",
        "cross PF DM --on unknown",
        "sow X1 --seeds 20 --on 2026-04-03",
        "sow X1 --seeds 20 --on 2026-04-03 --even-so",
        "up T1 0",
        "up T2 5",
    ] {
        bench.ok(line);
    }
    let said = flat(&bench.ok("germination T1 T2"));
    for wanted in [
        "more had come up of T2 than of T1: 25 % against 0 %",
        "the difference lies between +4 and +47 points",
        "T2: more than half of those that came were up at the first count",
        "It is early: more may come of T1 and T2.",
    ] {
        assert!(said.contains(wanted), "{wanted}\n{said}");
    }
    bench.on("2026-06-20");
    let said = flat(&bench.ok("germination T1 T2"));
    assert!(!said.contains("It is early"), "{said}");
    assert!(
        said.contains(
            "Nobody counted T1 and T2 near the end of the wait: more may have come since."
        ),
        "{said}"
    );
}

/// Two lots of one mother that differ as the two directions do: that is not the mother's. And of several pairs the p is
/// adjusted and the interval is not, which is said.
#[test]
fn a_difference_between_lots_of_one_mother_is_not_called_hers() {
    let mut bench = lots();
    bench.on("2026-04-20");
    let hers = "such a difference is the mother's";
    let two = flat(&bench.ok("germination --by direction"));
    assert!(two.contains(hers) && !two.contains("not adjusted"), "{two}");
    for line in [
        "harvest X1 --pods 1 --seeds 60 --on 2025-09-10",
        "sow X1 --seeds 50 --lot 2 --on 2026-02-01",
        "up T3 4 --on 2026-02-10",
        "up T3 12 --on 2026-02-22",
    ] {
        bench.ok(line);
    }
    let said = flat(&bench.ok("germination --by lot"));
    assert!(!said.contains(hers), "{said}");
    assert!(
        said.contains("Seed of one and the same direction differs likewise here"),
        "{said}"
    );
    assert!(
        said.contains("the difference, by itself and not adjusted, lies between"),
        "{said}"
    );
    let by_cross = flat(&bench.ok("germination --by cross"));
    assert!(!by_cross.contains(hers), "{by_cross}");
}

#[test]
fn trays_that_nobody_counted_are_named_once_and_a_parent_stands_for_its_crosses() {
    let bench = lots();
    bench.ok("sow X1 --seeds 12 --on 2026-02-20");
    bench.ok("sow X2 --seeds 9 --on 2026-02-20 --even-so");
    let said = flat(&bench.ok("germination T1 T3 T4"));
    assert!(
        said.contains(
            "Nobody counted what came up of T3 (12 seeds, to wait for until 20 March) and T4 (9 seeds, to wait for until \
             20 March)."
        ),
        "{said}"
    );
    assert_eq!(said.matches("T4").count(), 1, "{said}");
    let trays = |line: &str| {
        let found = bench.json(line);
        let all = found["trays"].as_array().unwrap().iter();
        all.map(|tray| tray["tray"].as_str().unwrap().to_owned())
            .collect::<Vec<_>>()
    };
    assert_eq!(trays("germination CW"), ["T1", "T2"]);
    bench.ok("measure T1-03 height=40mm");
    assert!(bench.ok("size CW").contains("40"));
}

/// One group misses a minimum: the one that passes both is named beside it.
#[test]
fn a_group_that_passes_both_minima_is_named_beside_one_that_does_not() {
    let mut bench = lots();
    bench.on("2026-04-20");
    for line in [
        "sow X1 --seeds 60 --on 2026-03-01 --even-so",
        "up T3 59 --on 2026-03-20",
        "up T3 59 --on 2026-03-29",
    ] {
        bench.ok(line);
    }
    let said = flat(&bench.ok("germination T2 T3"));
    assert!(said.contains("T3 passes 55 % and passes 80 %"), "{said}");
}
