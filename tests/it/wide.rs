//! Crosses between species: how hard they are, what that does to the sums, and what is said before anything is pulled.

use serde_json::Value;

use crate::support::{Bench, flat, record};

/// A ledger in which two plants of these species were crossed and twelve seeds sown; no plant else was about.
fn sown(mother: &str, father: &str, before: &[&str]) -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-06-01");
    bench.ok("init");
    for line in before {
        bench.ok(line);
    }
    for line in [
        &format!("parent add MO --genotype a/a {mother}"),
        &format!("parent add FA --genotype A/A {father}"),
        "cross MO FA --on 2026-01-10",
        "sow X1 --seeds 12 --on 2026-03-01",
    ] {
        // A hard cross is recorded with a warning.
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    bench
}

fn species(of: &str) -> String {
    format!("--species '{of}'")
}

fn p_of(list: &Value, source: &str) -> f64 {
    let mut shares = list.as_array().unwrap().iter();
    let found = shares.find(|share| share["source"] == source);
    found.unwrap()["p"].as_f64().unwrap()
}

/// The sources of a tray of which nothing was read: what is believed beforehand.
fn before_reading(bench: &Bench) -> Value {
    bench.json("suspects T1")["batches"][0]["sources"].clone()
}

fn near(got: f64, expected: f64) {
    assert!((got - expected).abs() < 1e-12, "{got} {expected}");
}

#[test]
fn a_tray_of_selfs_is_likelier_the_harder_the_cross() {
    // No donor: half of the whole-tray error of 0.01 is left to all-self.
    for (mother, father, times) in [
        ("annuum", "annuum", 1.0),
        ("annuum", "chinense", 1.0),
        ("annuum", "frutescens", 1.0),
        ("frutescens", "annuum", 4.0),
        ("chinense", "baccatum", 4.0),
        ("annuum", "baccatum", 7.0),
        ("annuum", "pubescens", 70.0),
        ("annuum", "galapagoense", 1.0),
    ] {
        let bench = sown(&species(mother), &species(father), &[]);
        let sources = before_reading(&bench);
        let total = 0.995 + 0.005 * times;
        near(p_of(&sources, "all-self"), 0.005 * times / total);
        near(p_of(&sources, "swapped"), 0.005 / total);
        near(p_of(&sources, "none"), 0.99 * 0.7 / total);
    }
}

#[test]
fn a_species_that_is_not_stated_changes_nothing_at_all() {
    let same = before_reading(&sown(&species("baccatum"), &species("baccatum"), &[]));
    for (mother, father) in [
        ("", ""),
        ("--species annuum", ""),
        ("", "--species baccatum"),
    ] {
        assert_eq!(before_reading(&sown(mother, father, &[])), same);
    }
}

#[test]
fn a_grower_says_how_a_pair_goes_and_what_that_is_worth() {
    let (annuum, baccatum) = (species("Capsicum annuum"), species("baccatum"));
    let own = [
        "species annuum baccatum hard --fertility partial",
        "assume wide.hard 3",
    ];
    let bench = sown(&annuum, &baccatum, &own);
    let total = 0.995 + 0.005 * 3.0;
    near(p_of(&before_reading(&bench), "all-self"), 0.015 / total);
    let pair = bench.json("species annuum baccatum")["pairs"][0].clone();
    assert_eq!(pair["crossing"], "hard");
    assert_eq!(pair["crossing_in_print"], "very-hard");
    assert_eq!(
        (&pair["fertility"], &pair["all_self_times"]),
        (&"partial".into(), &3.0.into())
    );
    assert_eq!(
        (&pair["standing"], &pair["code"]),
        (&"your own".into(), &"NG".into())
    );
    // The other direction is another pair.
    let other = bench.json("species baccatum annuum")["pairs"][0].clone();
    assert_eq!(
        (&other["crossing"], &other["standing"]),
        (&"very-hard".into(), &"design choice".into())
    );
    let said = bench.run("species annuum baccatum default");
    assert_eq!(
        flat(&said.out),
        "annuum x baccatum: the crossing is very-hard, as in print; the hybrid's fertility unknown, as in print. \
         A whole tray of selfs counts 7 times as likely as within a species."
    );
    near(p_of(&before_reading(&bench), "all-self"), 0.035 / 1.03);
    bench.ok("undo");
    near(p_of(&before_reading(&bench), "all-self"), 0.015 / total);
    assert!(
        flat(&bench.ok("history"))
            .contains("annuum x baccatum: the crossing is hard (in print very-hard)")
    );
}

#[test]
fn words_and_species_are_checked_and_the_table_fits_the_page() {
    let bench = sown("", "", &[]);
    let err = flat(&bench.fails("species annuum baccatum harder", 1));
    assert!(
        err.contains("the crossing 'harder' is not one of usual, hard, very-hard, not-expected"),
        "{err}"
    );
    let err = flat(&bench.fails("species annuum baccatum --fertility much", 1));
    assert!(
        err.contains("is not one of high, partial, variable and unknown"),
        "{err}"
    );
    bench.fails("species annuum baccatum default", 1);
    bench.fails("species annuum", 2);
    let out = bench.ok("species");
    assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
    let table = bench.json("species")["pairs"].as_array().unwrap().len();
    // Twenty ordered pairs of the cultivated five, and pubescens x eximium.
    assert_eq!(table, 21);
    assert!(flat(&out).contains("IBPGR 1983"), "{out}");
    bench.ok("species eximium pubescens usual");
    assert_eq!(bench.json("species")["pairs"].as_array().unwrap().len(), 22);
}

#[test]
fn a_hard_cross_is_warned_of_and_recorded() {
    let bench = sown(
        &species("annuum"),
        &species("baccatum"),
        &["parent add WI --species pubescens"],
    );
    let run = bench.run("cross MO FA");
    assert_eq!(run.status, Some(0));
    assert!(
        flat(&run.err).contains(
            "annuum x baccatum is very hard to cross: few seeds, if any; what comes up may well be selfs of the mother, \
             and a weak seedling the true hybrid"
        ),
        "{}",
        run.err
    );
    let run = bench.run("cross MO WI");
    assert!(
        flat(&run.err).contains(
            "annuum x pubescens is not expected to give seedlings without embryo culture"
        ),
        "{}",
        run.err
    );
    let usual = sown(&species("annuum"), &species("chinense"), &[]);
    assert!(!usual.run("cross MO FA").err.contains("hard"));
}

/// What `suspects` says of the tray, but for its remarks.
fn sums(bench: &Bench) -> Value {
    let mut answer = bench.json("suspects T1")["batches"][0].clone();
    for said in ["notes", "remarks"] {
        answer.as_object_mut().unwrap().remove(said);
    }
    answer
}

/// A tray of twelve purple seedlings of two species, and what was read of their growth.
fn runts(father: &str, growth: &[&str]) -> Bench {
    let bench = sown(&species("annuum"), &species(father), &[]);
    for line in [
        "up T1 12 --on 2026-03-12",
        "score T1 1-12=purple --on 2026-05-01",
        "trait on wide-cross-dwarf",
    ] {
        record(&bench, line);
    }
    for line in growth {
        record(&bench, line);
    }
    bench
}

const DWARFS: [&str; 2] = [
    "score T1 1-2=wide-cross-dwarf:dwarf 3-12=wide-cross-dwarf:normal --on 2026-05-01",
    "score T1 1-2=wide-cross-dwarf:dwarf --on 2026-05-08",
];

#[test]
fn a_runt_of_a_wide_cross_is_not_pulled_for_being_one() {
    let words = "What was read for wide-cross-dwarf of T1-01";
    let why = "is kept and stays out of the sums: in a cross between species a dwarf may be the true hybrid.";
    for father in ["chinense", "baccatum"] {
        let (bench, without) = (runts(father, &DWARFS), runts(father, &[]));
        assert_eq!(sums(&bench), sums(&without), "{father}");
        assert_ne!(sums(&bench)["seedlings"][0]["verdict"], "cull");
        for question in ["suspects T1", "sheet T1", "why T1-01", "why T1-12"] {
            let said = flat(&bench.ok(question));
            assert!(
                said.contains(words) && said.contains(why),
                "{question}: {said}"
            );
            assert!(!flat(&without.ok(question)).contains(words));
        }
        // What was read is kept, warns whoever pulls, and is there to be counted.
        assert!(flat(&bench.ok("show T1-01")).contains("2026-05-08: dwarf"));
        assert!(record(&bench, "cull T1-01").contains("may be the true hybrid"));
        assert!(flat(&bench.ok("ratio T1 --trait wide-cross-dwarf")).contains("dwarf"));
    }
    let remarks = runts("chinense", &DWARFS).json("suspects T1")["batches"][0]["remarks"].clone();
    let mut remarks = remarks.as_array().unwrap().iter();
    let left_out = remarks.find(|one| one["kind"] == "runts-left-out").unwrap();
    assert_eq!(left_out["whose"].as_array().unwrap().len(), 12);
    // Within a species it is a reading like any other.
    let (bench, without) = (runts("annuum", &DWARFS), runts("annuum", &[]));
    assert_ne!(sums(&bench), sums(&without));
    assert!(!flat(&bench.ok("suspects T1")).contains(words));
}

#[test]
fn a_count_of_runts_does_not_take_the_place_of_a_count_of_colours() {
    let bench = |then: &[&str]| {
        let bench = sown(&species("annuum"), &species("chinense"), &[]);
        for line in [
            &[
                "up T1 12 --on 2026-03-12",
                "score T1 10 purple 2 green --on 2026-05-01",
            ],
            then,
        ]
        .concat()
        {
            record(&bench, line);
        }
        bench
    };
    let counted = bench(&[
        "trait on wide-cross-dwarf",
        "score T1 3 wide-cross-dwarf:dwarf 9 wide-cross-dwarf:normal --on 2026-05-08",
    ]);
    assert_eq!(sums(&counted), sums(&bench(&[])));
    let said = flat(&counted.ok("suspects T1"));
    assert!(
        said.contains("What was read for wide-cross-dwarf is kept and stays out of the sums"),
        "{said}"
    );
}

#[test]
fn a_plant_bred_within_a_species_is_of_that_species() {
    let mut bench = Bench::new();
    bench.on("2026-06-01");
    for line in [
        "init",
        "parent add AN --genotype a/a --species annuum",
        "parent add AP --genotype A/A --species 'Capsicum annuum'",
        "parent add BB --genotype A/A --species baccatum",
        "parent add NO --genotype A/A",
        "cross AN AP --on 2025-05-01",
        "sow X1 --seeds 12 --on 2025-12-01",
        "up T1 12 --on 2025-12-10",
        "parent add K1 --from T1-01 --on 2026-03-01",
        "cross AN BB --on 2025-05-01",
        "sow X2 --seeds 12 --on 2025-12-01",
        "up T2 12 --on 2025-12-10",
        "cross AN NO --on 2025-05-01",
        "sow X3 --seeds 12 --on 2025-12-01",
        "up T3 12 --on 2025-12-10",
    ] {
        record(&bench, line);
    }
    let words = "annuum x baccatum is very hard to cross";
    // A seedling that this entry mentions first is bred as well.
    for line in [
        "cross K1 BB --on 2026-04-01",
        "cross T1-02 BB --on 2026-04-01",
    ] {
        let said = record(&bench, line);
        assert!(said.contains(words), "{line}: {said}");
    }
    // Two species, or one that is not stated, make none.
    for line in ["cross T2-01 AN", "cross T3-01 BB", "cross K1 AN"] {
        let said = record(&bench, &format!("{line} --on 2026-04-01"));
        assert!(!said.contains("cross:"), "{line}: {said}");
    }
    record(&bench, "self K1 --on 2026-04-02");
    let tray = |sown: &str, tray: &str| {
        record(&bench, sown);
        bench.json(&format!("suspects {tray}"))["batches"][0].clone()
    };
    let remark = |answer: &Value| {
        let remarks = answer["remarks"].as_array().unwrap().clone();
        remarks.into_iter().find(|one| one["kind"] == "wide-cross")
    };
    let bred = remark(&tray("sow X4 --seeds 6 --on 2026-05-20", "T4")).unwrap();
    assert_eq!(
        (
            &bred["mother"],
            &bred["father"],
            &bred["crossing"],
            &bred["all_self_times"]
        ),
        (
            &"annuum".into(),
            &"baccatum".into(),
            &"very-hard".into(),
            &7.0.into()
        )
    );
    assert_eq!(
        remark(&tray("sow X6 --seeds 6 --on 2026-05-21", "T5")),
        None
    );
}

#[test]
fn species_are_known_by_their_names_however_they_are_written() {
    let wide = |mother: &str, father: &str, before: &[&str]| {
        let bench = sown(&species(mother), &species(father), before);
        flat(&bench.ok("suspects T1")).contains("between species")
    };
    for (mother, father, expected) in [
        ("Capsicum annuum var. glabriusculum", "annuum", false),
        ("C.annuum", "Capsicum annuum", false),
        ("annuum", "C.baccatum", true),
        (
            "annuum var. glabriusculum",
            "c. baccatum var. pendulum",
            true,
        ),
        ("annuum", "galapagoense", true),
        ("annuum", "moonfruit", false),
    ] {
        assert_eq!(wide(mother, father, &[]), expected, "{mother} x {father}");
    }
    // What the grower has said something of is known.
    assert!(wide(
        "annuum",
        "moonfruit",
        &["species annuum moonfruit hard"]
    ));
    // What was typed below the species stands where it was typed.
    let bench = sown(&species("Capsicum annuum var. glabriusculum"), "", &[]);
    assert!(flat(&bench.ok("show MO")).contains("Capsicum annuum var. glabriusculum"));
}

#[test]
fn the_cross_the_other_way_round_is_named_where_it_is_there_and_not_where_it_is_vain() {
    let bench = |father: &str, then: &[&str]| {
        let mut bench = Bench::new();
        bench.on("2026-06-01");
        let father = format!("parent add FA --genotype a/a {father}");
        let first = [
            "init",
            "parent add MO --genotype A/A --species annuum",
            &father,
            "cross MO FA --on 2026-01-10",
            "sow X1 --seeds 12 --on 2026-03-01",
            "up T1 12 --on 2026-03-12",
            "score T1 1-12=purple --on 2026-05-01",
        ];
        for line in [&first[..], then].concat() {
            record(&bench, line);
        }
        flat(&bench.ok("suspects T1"))
    };
    let tells = "FA x MO is purple, a self of FA green.";
    for (father, then, words) in [
        ("", &[][..], "make the cross the other way round:"),
        (
            "--species annuum",
            &[],
            "make the cross the other way round:",
        ),
        (
            "--species chinense",
            &[],
            "make the cross the other way round (between species, takes as a rule):",
        ),
        (
            "--species frutescens",
            &[],
            "make the cross the other way round (a hard cross: few seeds):",
        ),
        (
            "--species baccatum",
            &[],
            "make the cross the other way round (a very hard cross: few seeds, if any):",
        ),
        (
            "",
            &["cross FA MO --on 2026-01-11"],
            "sow the cross the other way round, X2:",
        ),
        (
            "--species pubescens",
            &[
                "cross FA MO --on 2026-01-11",
                "sow X2 --seeds 4 --on 2026-03-02",
            ],
            "look at the cross the other way round, X2 in T2:",
        ),
    ] {
        let said = bench(father, then);
        assert!(
            said.contains(&format!("{words} {tells}")),
            "{father} {then:?}: {said}"
        );
    }
    assert!(!bench("--species pubescens", &[]).contains("other way round"));
}

#[test]
fn what_is_said_of_a_species_with_itself_is_no_word_on_wide_crosses() {
    let bench = sown(
        &species("annuum"),
        &species("annuum"),
        &["species annuum annuum hard"],
    );
    assert_eq!(record(&bench, "self MO --on 2026-01-12"), "");
    let said = record(&bench, "cross MO FA --on 2026-01-13");
    assert!(
        said.contains("crosses within annuum are hard by what you said: few seeds")
            && !said.contains("hybrid"),
        "{said}"
    );
    near(p_of(&before_reading(&bench), "all-self"), 0.02 / 1.015);
    let said = flat(&bench.ok("suspects T1"));
    assert!(
        said.contains(
            "Crosses within annuum are hard by what you said: a whole tray of selfs counts 4 times as likely as where they \
             take readily"
        ) && !said.contains("between species"),
        "{said}"
    );
    let told = flat(&bench.run("species annuum annuum very-hard").out);
    assert!(
        told.contains("7 times as likely as where crosses take readily"),
        "{told}"
    );
}
