//! Crosses between species: how hard they are, what that does to the sums, and what is said before anything is pulled.

use serde_json::Value;

use crate::support::{Bench, flat};

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
        ("annuum", "chinense", 2.0),
        ("annuum", "frutescens", 2.0),
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
