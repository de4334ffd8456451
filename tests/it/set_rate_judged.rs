//! `set-rate` in the real program, where none set: what it is held against, and which way is named.

use crate::support::{Bench, flat};

/// Plants of several species; notes of hard crosses are not looked at.
fn bench(lines: &[&str]) -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-05-20");
    let plants = [
        ("AA", "annuum"),
        ("AB", "annuum"),
        ("AC", "annuum"),
        ("PU", "pubescens"),
        ("HB", "chinense"),
        ("HC", "chinense"),
        ("FR", "frutescens"),
        ("BA", "baccatum"),
    ];
    bench.ok("init");
    for (code, species) in plants {
        bench.ok(&format!("parent add {code} --species {species}"));
    }
    for line in lines {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    bench
}

/// The first sentences of a direction.
fn first(said: &str, pair: &str) -> String {
    let at = said.find(&format!("{pair}: none")).expect("it set nothing");
    said[at..].to_owned()
}

#[test]
fn flowers_whose_end_is_open_are_no_way_untried() {
    let bench = bench(&[
        "cross FR AA --flowers 40 --on 2025-10-01",
        "set X1 --pods 0 --dropped 40",
        "cross AA FR --flowers 10 --on 2025-11-01",
    ]);
    let said = flat(&bench.ok("set-rate X1"));
    for wanted in [
        "That is more than bad luck, if the weather was right: see what became of the 10 flowers of AA x FR.",
        "The other way, AA x FR, has 10 flowers pollinated, and nobody has said what became of them. It is the easier way \
         by species.",
    ] {
        assert!(said.contains(wanted), "{wanted}\n{said}");
    }
    assert!(!said.contains("not tried"), "{said}");
    let way = &bench.json("set-rate X1")["zero"][0]["other_way"];
    assert_eq!((&way["open"], &way["untried"]), (&10.into(), &false.into()));
    bench.ok("set X2 --pods 0 --dropped 3");
    assert!(
        flat(&bench.ok("set-rate X1"))
            .contains("The other way, AA x FR, set none of 3; of 7 more flowers nobody has said.")
    );
}

/// Of 3 selfed flowers 3 x 0.26 pods are to be expected at the least: that none set is likely in any weather.
#[test]
fn few_flowers_and_hopeless_ones_say_nothing_of_the_weather() {
    let few = bench(&[
        "cross BA HB --flowers 2 --on 2025-09-01",
        "set X1 --pods 0 --dropped 2",
        "self AA --flowers 3 --on 2025-09-02",
        "set X2 --pods 0 --dropped 3",
    ]);
    let said = flat(&few.ok("set-rate X1"));
    assert!(
        said.contains(
            "Other pairs within a week set none of 3, where 0.8 to 2.5 were to be expected: too little to tell the weather \
             by."
        ),
        "{said}"
    );
    // One pod of 60 is what baccatum gives; of pubescens as father none is expected, and none is weighed.
    let hopeless = bench(&[
        "cross AA AB --flowers 20 --on 2025-06-20",
        "set X1 --pods 0 --dropped 20",
        "cross AA BA --flowers 60 --on 2025-06-21",
        "set X2 --pods 1 --dropped 59",
        "cross AA PU --flowers 30 --on 2025-06-21",
        "set X3 --pods 0 --dropped 30",
    ]);
    let said = flat(&hopeless.ok("set-rate X1"));
    assert!(
        said.contains(
            "Other pairs within a week set 1 of 60, where 1.3 to 2.2 were to be expected: too little to tell the weather \
             by. 30 more flowers are not weighed, for nobody knows how often such pairs set."
        ),
        "{said}"
    );
}

/// One of 26 within a species is no sign of good weather.
#[test]
fn far_fewer_than_were_to_be_expected_speak_for_the_weather() {
    let bench = bench(&[
        "cross AA HB --flowers 40 --on 2025-06-01",
        "set X1 --pods 0 --dropped 40",
        "cross AA AB --flowers 26 --on 2025-06-02",
        "set X2 --pods 1 --dropped 25",
    ]);
    let said = flat(&bench.ok("set-rate X1"));
    for wanted in [
        "Other pairs within a week set 1 of 26, where 17 to 22 were to be expected: that speaks for the weather.",
        "That is more than bad luck, but other pairs set far too little within a week as well",
    ] {
        assert!(said.contains(wanted), "{wanted}\n{said}");
    }
}

/// AA x AB, 6 of 20, speaks for 7/22; neither another species, nor a self, nor what itself set nothing is in it.
#[test]
fn ones_own_rate_is_that_of_pairs_like_it_that_set() {
    let bench = bench(&[
        "cross AA AB --flowers 20 --on 2025-05-01",
        "set X1 --pods 6 --dropped 14",
        "cross AA AC --flowers 3 --on 2025-07-01",
        "set X2 --pods 0 --dropped 3",
        "self PU --flowers 12 --on 2025-07-03",
        "set X3 --pods 0 --dropped 12",
        "cross HB HC --flowers 9 --on 2025-08-10",
        "set X4 --pods 0 --dropped 9",
        "self AA --flowers 8 --on 2025-08-11",
        "set X5 --pods 1 --dropped 7",
        "cross AB AC --flowers 4 --on 2025-08-12",
        "set X6 --pods 0 --dropped 4",
    ]);
    let zero = &bench.json("set-rate X2")["zero"][0];
    let own = &zero["rates"]["own"];
    assert_eq!(
        (&own["pods"], &own["flowers"], &own["left_out"]),
        (&6.into(), &20.into(), &4.into())
    );
    // (15/22)^8 = 0.0467 and (15/22)^7 = 0.0685
    assert_eq!(
        (&own["enough_flowers"], &zero["more_flowers"]),
        (&8.into(), &5.into())
    );
    assert!(flat(&bench.ok("set-rate X2")).contains(
        "Your own other crosses within annuum set 6 of 20 (4 flowers of pairs that set nothing left out), which speaks \
         for 32 %"
    ));
    assert!(bench.json("set-rate X4")["zero"][0]["rates"]["own"].is_null());
    // A self that never set is no witness of the weather by itself.
    assert!(
        flat(&bench.ok("set-rate X2")).contains(
            "Other pairs within a week set none of 12, where 3.1 to 10 were to be expected: too little to tell the \
             weather by."
        )
    );
}

#[test]
fn the_other_way_is_named_before_many_more_flowers() {
    let works = bench(&[
        "cross AA HB --flowers 20 --on 2025-06-01",
        "set X1 --pods 0 --dropped 20",
        "cross HB AA --flowers 6 --on 2025-06-02",
        "set X2 --pods 1 --dropped 5",
    ]);
    assert_eq!(works.json("set-rate X1")["zero"][0]["advice"], "other-way");
    let said = first(&flat(&works.ok("set-rate X1")), "AA x HB");
    assert!(
        said.starts_with(
            "AA x HB: none of 20 flowers set. That proves nothing yet, which would take 13 more flowers: go on with \
             HB x AA, which set 1 of 6."
        ),
        "{said}"
    );
    let hard = bench(&[
        "cross BA AA --flowers 6 --on 2025-06-01",
        "set X1 --pods 0 --dropped 6",
    ]);
    let said = first(&flat(&hard.ok("set-rate")), "BA x AA");
    assert!(
        said.starts_with(
            "BA x AA: none of 6 flowers set. That proves nothing, and it would take 129 more flowers, beyond any bench, to \
             prove something: try AA x BA, the other way."
        ),
        "{said}"
    );
    for line in [
        "cross AA BA --flowers 6 --on 2025-06-09",
        "set X2 --pods 0 --dropped 6",
    ] {
        assert_eq!(hard.run(line).status, Some(0), "{line}");
    }
    let found = hard.json("set-rate");
    for at in 0..2 {
        assert_eq!(
            (
                &found["zero"][at]["advice"],
                &found["zero"][at]["more_flowers"]
            ),
            (&"stop".into(), &129.into())
        );
    }
    assert!(
        flat(&hard.ok("set-rate"))
            .contains("nor is the other way any better: stop, or take other parents.")
    );
}

#[test]
fn tables_keep_numbers_whole_and_arguments_are_given_once() {
    let bench = bench(&[
        "cross AA HB --flowers 5 --covered --on 2025-06-01",
        "set X1 --pods 1 --dropped 4",
        "cross HB AA --flowers 5 --on 2025-06-02",
        "set X2 --pods 0 --dropped 5",
        "cross AB HB --flowers 9 --on 2025-06-20",
        "set X3 --pods 0 --dropped 9",
    ]);
    let techniques = bench.ok("set-rate --by technique");
    assert!(techniques.contains("3.6 to 62 %"), "{techniques}");
    assert!(
        techniques.lines().all(|line| line.chars().count() <= 80),
        "{techniques}"
    );
    assert_eq!(bench.ok("set-rate").matches("happens with").count(), 2);
    for by in ["week", "mother", "species", "technique"] {
        let said = flat(&bench.ok(&format!("set-rate --by {by}")));
        assert!(!said.contains("happens with"), "{said}");
        assert!(said.contains("AB x HB: none of 9 flowers set."), "{said}");
        assert!(said.contains("Why, for each: 'locule set-rate' without --by."));
        assert_eq!(said.matches("nights above 30").count(), 1, "{said}");
    }
}
