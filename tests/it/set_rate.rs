//! `set-rate` in the real program: shares by direction, technique and week, and what none of so many proves.

use crate::support::{Bench, close, flat, record};

/// Two lines of annuum, one of chinense, one of baccatum, one of pubescens; flowers of June 2025.
fn flowers() -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-03-01");
    for line in [
        "init",
        "parent add NL --species annuum",
        "parent add CW --species annuum",
        "parent add HB --species chinense",
        "parent add BA --species baccatum",
        "parent add PU --species pubescens",
        "cross CW NL --flowers 3 --on 2025-06-01",
        "cross NL CW --flowers 4 --covered --on 2025-06-03",
        "set X1 --pods 2 --dropped 1",
        "set X2 --pods 3 --dropped 1",
    ] {
        bench.ok(line);
    }
    bench
}

#[test]
fn flowers_are_told_by_direction_technique_and_week() {
    let bench = flowers();
    assert_eq!(
        bench.ok("set-rate"),
        "5 of 7 flowers set, 71 % (36 to 92 %).\n\
         \n \
         direction   flowers   pods   share   95 % interval   not said\n\
         ---------------------------------------------------------------\n \
         CW x NL           3      2    67 %      21 to 94 %          0\n \
         NL x CW           4      3    75 %      30 to 95 %          0\n"
    );
    let found = bench.json("set-rate --by technique");
    // SciPy 1.17.1, binomtest(2, 3).proportion_ci(method='wilson') and method='exact'
    close(&found["groups"][0]["wilson"][0], 0.207_659_600_802_047_82);
    close(
        &found["groups"][0]["clopper_pearson"][1],
        0.991_596_241_340_387_4,
    );
    assert_eq!(found["groups"][0]["group"], "crosses, anthers out");
    assert_eq!(found["groups"][1]["group"], "crosses, anthers out, covered");
    // 1 June 2025 was a Sunday, 3 June a Tuesday.
    let weeks = bench.json("set-rate --by week");
    let names: Vec<_> = (0..2)
        .map(|at| weeks["groups"][at]["group"].clone())
        .collect();
    assert_eq!(names, ["week of 2025-05-26", "week of 2025-06-02"]);
    assert!(
        flat(&bench.ok("set-rate --by week")).contains("Set fails where nights stay above 30 °C")
    );
    assert_eq!(
        bench.json("set-rate --on 2025-06-02")["total"]["flowers"],
        3,
        "later pollinations are left out"
    );
}

/// (1 - 0.089)^4 = 0.6888 and (1 - 0.4)^4 = 0.1296 at the rates of Costa 2009; 33 and 6 flowers bring them under 5 %.
#[test]
fn none_of_a_few_proves_nothing_yet() {
    let bench = flowers();
    bench.ok("cross CW HB --flowers 4 --on 2025-06-05");
    bench.ok("set X3 --dropped 4 --pods 0");
    let zero = &bench.json("set-rate X3")["zero"][0];
    close(&zero["rates"]["chance_of_none"][0], 0.911f64.powi(4));
    close(&zero["rates"]["chance_of_none"][1], 0.1296);
    assert_eq!(zero["rates"]["enough_flowers"], serde_json::json!([33, 6]));
    assert_eq!(
        (&zero["advice"], &zero["more_flowers"]),
        (&"go-on".into(), &29.into())
    );
    assert_eq!(
        (
            &zero["same_mother"]["pods"],
            &zero["same_mother"]["flowers"]
        ),
        (&2.into(), &3.into())
    );
    let said = flat(&bench.ok("set-rate X3"));
    for wanted in [
        "Where none set, first the weather: were nights above 30 °C, or days of 24 °C with nights of 12 °C or colder \
         (AVRDC 06-667; Mercado 1997)? Then it says nothing of the cross.",
        "CW x HB: none of 4 flowers set. That proves nothing yet: try HB x CW, the other way, or go on, with up to 29 more \
         flowers.",
        // 7 x 0.65 and 7 x 0.84
        "Other pairs within a week set 5 of 7, where 4.6 to 5.9 were to be expected: the weather alone is not it.",
        "none of 4 happens with (1 - 0.089)^4 = 69 % at the least and (1 - 0.4)^4 = 13 % at the best; under 5 % it is \
         from 33 flowers on, at best from 6.",
        "The same mother set 2 of 3 other flowers within a week: the plant itself can set.",
        "The other way, HB x CW, is not tried yet.",
    ] {
        assert!(said.contains(wanted), "{wanted}\n{said}");
    }
}

#[test]
fn many_without_a_pod_turn_the_cross_round_and_then_stop_it() {
    let bench = flowers();
    bench.ok("cross CW HB --flowers 40 --on 2025-06-05");
    bench.ok("set X3 --dropped 40 --pods 0");
    assert_eq!(bench.json("set-rate X3")["zero"][0]["advice"], "other-way");
    assert!(flat(&bench.ok("set-rate X3")).contains(
        "CW x HB: none of 40 flowers set. That is more than bad luck, if the weather was right: try HB x CW, the \
         other way."
    ));
    bench.ok("cross HB CW --flowers 40 --on 2025-06-06");
    bench.ok("set X4 --dropped 40 --pods 0");
    let found = bench.json("set-rate X3 X4");
    assert_eq!(
        (&found["zero"][0]["advice"], &found["zero"][1]["advice"]),
        (&"stop".into(), &"stop".into())
    );
    assert!(flat(&bench.ok("set-rate X3")).contains(
        "if the weather was right, and the other way failed too: stop, or take other parents."
    ));
}

#[test]
fn a_week_in_which_nothing_set_is_the_weathers() {
    let bench = flowers();
    for line in [
        "self NL --flowers 12 --on 2025-08-01",
        "cross CW NL --code X1 --flowers 4 --on 2025-08-03",
        "set X3 --pods 0 --dropped 12",
        "set X1 --pods 0 --dropped 4 --pollinated 2025-08-03",
    ] {
        bench.ok(line);
    }
    let said = flat(&bench.ok("set-rate X3"));
    // (1 - 0.26)^12 = 0.027, under 5 %, and yet nothing is said against the plant: 4 x 0.65 and 4 x 0.84 pods were to be
    // expected of a pair that set in June, and (1 + 0.935^4)/2 / 0.35^4 = 58.8.
    assert!(
        said.contains(
            "NL selfed: none of 12 flowers set. That is more than bad luck, but other pairs set far too little within a \
             week as well: not before the weather is ruled out is it the cross's. Other pairs within a week set none of 4, \
             where 2.6 to 3.4 were to be expected: that speaks for the weather."
        ),
        "{said}"
    );
    let days = &bench.json("set-rate X3")["zero"][0]["same_weather"];
    close(
        &days["log_times_likelier_in_bad_weather"][0],
        ((1.0 + 0.935f64.powi(4)) / 2.0 / 0.35f64.powi(4)).ln(),
    );
    close(
        &bench.json("set-rate X3")["zero"][0]["rates"]["chance_of_none"][0],
        0.74f64.powi(12),
    );
}

#[test]
fn pairs_without_a_published_rate_are_not_reckoned() {
    let bench = flowers();
    for line in [
        "parent add QQ",
        "cross PU NL --flowers 5 --on unknown",
        "set X3 --pods 0 --dropped 5",
        "cross QQ NL --flowers 5 --on unknown",
        "set X4 --pods 0 --dropped 5",
        "cross NL BA --flowers 5 --on unknown",
        "set X5 --pods 0 --dropped 5",
    ] {
        // A hard cross is recorded with a caution.
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let found = bench.json("set-rate X3 X4 X5");
    let advice: Vec<_> = (0..3)
        .map(|at| found["zero"][at]["advice"].clone())
        .collect();
    assert_eq!(advice, ["not-expected", "no-rate", "other-way"]);
    assert_eq!(found["zero"][2]["crossability"], "very-hard");
    let said = flat(&bench.ok("set-rate X3 X4 X5"));
    for wanted in [
        "PU x NL: none of 5 flowers set. Seed of such a pair is not expected.",
        "pubescens x annuum: no viable F1, or by embryo culture only (IBPGR 1983)",
        "The species of QQ x NL are not all recorded",
        "Others found otherwise: in ornamental peppers one pair set half of its flowers",
    ] {
        assert!(said.contains(wanted), "{wanted}\n{said}");
    }
}

/// Six of twenty of one's own speak for 7/22: (15/22)^3 = 0.317 for none of three, where the published 0.65 gives
/// 0.35^3 = 0.043.
#[test]
fn ones_own_flowers_hold_a_published_rate_down() {
    let bench = flowers();
    let alone = |bench: &Bench| bench.json("set-rate X4")["zero"][0].clone();
    for line in [
        "parent add AC --species annuum",
        "parent add AD --species annuum",
    ] {
        bench.run(line);
    }
    bench.ok("cross AC AD --flowers 20 --on 2025-06-01");
    bench.ok("cross CW AC --flowers 3 --on 2025-06-02");
    bench.ok("set X4 --pods 0 --dropped 3");
    let zero = alone(&bench);
    assert_eq!(zero["advice"], "other-way");
    close(&zero["rates"]["chance_of_none"][0], 0.35f64.powi(3));
    assert!(flat(&bench.ok("set-rate X4")).contains("none of 3 happens with (1 - 0.65)^3 = 4.3 %"));
    bench.ok("set X3 --pods 1 --dropped 19");
    // With those of X1 and X2, 5 of 7, they are 6 of 27.
    let zero = alone(&bench);
    assert_eq!(
        (
            &zero["rates"]["own"]["pods"],
            &zero["rates"]["own"]["flowers"]
        ),
        (&6.into(), &27.into())
    );
    close(&zero["rates"]["own"]["rate"], 7.0 / 29.0);
    close(
        &zero["rates"]["own"]["chance_of_none"],
        (22.0f64 / 29.0).powi(3),
    );
    assert_eq!(zero["advice"], "go-on");
    assert!(
        flat(&bench.ok("set-rate X4")).contains(
            "Your own other crosses within annuum set 6 of 27, which speaks for 24 %: then none of 3 happens with 44 %, and \
             under 5 % it is from 11 flowers on."
        )
    );
}

#[test]
fn a_rate_is_cited_only_of_the_species_it_was_found_in() {
    let bench = flowers();
    for line in [
        "parent add EX --species eximium",
        "cross PU EX --flowers 5 --on 2025-06-01",
        "set X3 --pods 0 --dropped 5",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let zero = &bench.json("set-rate X3")["zero"][0];
    assert_eq!(
        (&zero["crossability"], &zero["advice"]),
        (&"usual".into(), &"no-rate".into())
    );
    assert!(zero["rates"].is_null());
    assert!(
        flat(&bench.ok("set-rate X3"))
            .contains("Nobody has published how often pubescens x eximium sets.")
    );
}

#[test]
fn a_plant_between_species_may_be_of_low_fertility() {
    let bench = flowers();
    for line in [
        "cross CW HB --on 2025-06-01",
        "sow X3 --seeds 5 --on 2025-09-01",
        "up T1 3 --on 2025-10-01",
        "parent add HY --from T1-02 --on 2025-11-01",
        "cross HY CW --flowers 5 --on 2026-02-01",
        "set X4 --pods 0 --dropped 5",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let zero = &bench.json("set-rate X4")["zero"][0];
    assert_eq!(
        zero["hybrids"],
        serde_json::json!([{"plant": "HY", "species": ["annuum", "chinense"]}])
    );
    let said = flat(&bench.ok("set-rate X4"));
    assert!(
        said.contains(
            "HY descends from annuum and chinense: a plant between species is often of low fertility itself, whatever it is \
             crossed with (IBPGR 1983)"
        ) && !said.contains("not all recorded"),
        "{said}"
    );
}

#[test]
fn flowers_of_which_nobody_spoke_come_with_the_command() {
    let bench = flowers();
    record(&bench, "cross CW NL --code X9 --flowers 3 --on 2025-06-09");
    assert_eq!(
        bench.ok("set-rate X9"),
        "Nobody has said yet what became of the flowers.\n\nX9 of 2025-06-09, 3 flowers: 'locule set X9 --pods 1 \
         --dropped 1' says what\n  became of them.\n"
    );
    bench.ok("harvest X9 --pods 2 --seeds 30 --on 2025-09-01");
    let said = flat(&bench.ok("set-rate X9"));
    assert!(
        said.contains("2 pods were harvested of 3 flowers: 'locule set X9 --pods 2 --dropped 1'"),
        "{said}"
    );
    assert_eq!(bench.json("set-rate NL")["silent"][0]["harvested"], 2);
}

#[test]
fn what_is_no_cross_is_refused() {
    let bench = flowers();
    assert!(
        bench
            .fails("set-rate X7", 1)
            .contains("'X7' is not in the ledger")
    );
    assert!(
        bench
            .fails("set-rate foliage", 1)
            .contains("foliage is a trait, not a cross or parent")
    );
    assert!(
        bench
            .fails("set-rate BA", 1)
            .contains("BA was in no cross yet")
    );
    let empty = Bench::new();
    empty.ok("init");
    assert!(
        empty
            .fails("set-rate", 1)
            .contains("nothing was pollinated yet")
    );
}

/// Two pollinations of one day are told apart by their number, and what the number means is listed.
#[test]
fn two_pollinations_of_a_day_are_told_apart() {
    let bench = flowers();
    bench.ok("cross CW NL --code X1 --flowers 5 --covered --on 2025-06-03");
    let again = record(
        &bench,
        "cross CW NL --code X1 --flowers 2 --tool brush --wiped --on 2025-06-03",
    );
    assert!(again.contains("X1 is the same pair"), "{again}");
    let said = flat(&bench.fails("set X1 --pods 1 --pollinated 2025-06-03", 1));
    assert!(
        said.contains("X1 was pollinated 2 times on 2025-06-03; say which with --nth 1: 5 flowers, covered 2: 2 flowers, by brush, wiped")
            && said.contains("try: locule set X1 --pods 1 --pollinated 2025-06-03 --nth 2"),
        "{said}"
    );
    let done = flat(&bench.ok("set X1 --pods 1 --pollinated 2025-06-03 --nth 2"));
    assert!(done.contains("of 2 flowers 1 pod set"), "{done}");
    let first = flat(&bench.ok("set X1 --pods 4 --nth 2"));
    assert!(
        first.contains("of 5 flowers 4 pods set"),
        "of all three the second: {first}"
    );
    let none = flat(&bench.fails("set X1 --pods 1 --pollinated 2025-06-03 --nth 3", 1));
    assert!(
        none.contains("2: 2 flowers, by brush, wiped, 1 pod"),
        "{none}"
    );
    assert_eq!(bench.json("set-rate X1")["total"]["pods"], 7);
    // The days of both pollinations are one: a harvest needs no number.
    bench.ok("harvest X1 --seeds 9 --pollinated 2025-06-03 --on 2025-08-01");
    let other = flat(&bench.fails(
        "harvest X2 --seeds 9 --pollinated 2025-06-01 --on 2025-08-01",
        1,
    ));
    assert!(
        other.contains(
            "X2 was not pollinated on 2025-06-01, but X1 was; recorded of X2: 2025-06-03"
        ),
        "{other}"
    );
}
