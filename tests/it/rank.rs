//! Which plants to keep: what each is worth, how sure the order is, what the seed will throw, and the words for it.
//!
//! Statements are trusted wholly here, so that every number is a fraction worked out by hand.

use serde_json::Value;

use crate::support::{Bench, close, flat};

/// A ledger with two genes that part one time in ten, and statements that are certain.
fn begun(plants: &[(&str, &str)], goals: &[&str]) -> Bench {
    let bench = Bench::new();
    for line in [
        "init",
        "assume trust.stated 1 trust.proven 1",
        "trait add felt --classes felted,bald --rule 'Q/_ => felted' --rule 'else => bald'",
        "trait add sheen --classes satin,matt --rule 'J/_ => satin' --rule 'else => matt'",
        "locus set Q --recombines J=0.1",
    ] {
        bench.ok(line);
    }
    for (code, genotype) in plants {
        bench.ok(&format!(
            "parent add {code} --plant --genotype '{genotype}'"
        ));
    }
    for goal in goals {
        bench.ok(&format!("goal add {goal}"));
    }
    bench
}

fn plant<'v>(answer: &'v Value, code: &str) -> &'v Value {
    let mut plants = answer["plants"].as_array().unwrap().iter();
    plants.find(|one| one["plant"] == code).unwrap()
}

fn order(answer: &Value) -> Vec<&str> {
    let plants = answer["plants"].as_array().unwrap().iter();
    plants.map(|one| one["plant"].as_str().unwrap()).collect()
}

/// F2 of two linked genes: the double dominant class is (2 + (1 - r)^2)/4 in coupling and (2 + r^2)/4 in repulsion
/// (textbook; Immer 1930, Genetics 15:81-98), with r = 0.1.
#[test]
fn what_the_seed_will_throw_depends_on_the_phase() {
    let plants = [
        ("RP", "Q|q j|J"),
        ("NO", "q/q j/j"),
        ("CO", "Q|q J|j"),
        ("HO", "Q/Q J/J"),
    ];
    let bench = begun(&plants, &["felted --must", "satin --must"]);
    let answer = bench.json("rank RP NO CO HO");
    assert_eq!(order(&answer), ["HO", "CO", "RP", "NO"]);
    for (code, place, index, seed, carries) in [
        ("HO", 1, 100.0, 1.0, 1.0),
        ("CO", 1, 100.0, 0.7025, 0.7025),
        ("RP", 1, 100.0, 0.5025, 0.5025),
        ("NO", 4, 0.0, 0.0, 0.0),
    ] {
        let one = plant(&answer, code);
        assert_eq!(one["place"], place, "{code}");
        close(&one["index"], index);
        close(&one["seed_shows"], seed);
        close(&one["seed_carries"], carries);
        close(&one["p_holds"], 1.0);
    }
    assert_eq!(plant(&answer, "NO")["beaten_by"], "HO");
    assert_eq!(plant(&answer, "RP")["beaten_by"], Value::Null);
}

/// Strands of three loci, Q and J one time in ten apart, Z on its own: what a plant's seed shows and carries by going through
/// every way in which two gametes can be made.
fn by_hand(strands: [[bool; 3]; 2]) -> [f64; 2] {
    let mut gametes = Vec::new();
    for way in 0..8_usize {
        let first = way & 1;
        let second = first ^ (way >> 1 & 1);
        let third = second ^ (way >> 2 & 1);
        let p = 0.5 * if first == second { 0.9 } else { 0.1 } * 0.5;
        gametes.push((
            [strands[first][0], strands[second][1], strands[third][2]],
            p,
        ));
    }
    let mut shares = [0.0, 0.0];
    for (egg, p) in &gametes {
        for (pollen, q) in &gametes {
            let has = |at: usize| egg[at] || pollen[at];
            let lacks = |at: usize| !egg[at] || !pollen[at];
            // Felted by one Q at least; matt and even only without any J and Z.
            let shows = has(0) && !has(1) && !has(2);
            let carries = has(0) && lacks(1) && lacks(2);
            shares[0] += if shows { p * q } else { 0.0 };
            shares[1] += if carries { p * q } else { 0.0 };
        }
    }
    shares
}

#[test]
fn what_the_seed_throws_is_what_going_through_all_gametes_gives() {
    let plants = [
        (
            "P1",
            "Q|q J|j Z/z",
            [[true, true, true], [false, false, false]],
        ),
        (
            "P2",
            "Q|q j|J Z/z",
            [[true, false, true], [false, true, false]],
        ),
        (
            "P3",
            "Q|q J|j z/z",
            [[true, true, false], [false, false, false]],
        ),
        (
            "P4",
            "Q/Q J/j Z/z",
            [[true, true, true], [true, false, false]],
        ),
        (
            "P5",
            "Q|q j|j Z/z",
            [[true, false, true], [false, false, false]],
        ),
        (
            "P6",
            "Q/Q j/j Z/Z",
            [[true, false, true], [true, false, true]],
        ),
    ];
    let bench = begun(&[], &["felted --must", "matt --must"]);
    bench.ok("trait add rim --classes wavy,even --rule 'Z/_ => wavy' --rule 'else => even'");
    bench.ok("goal add even --must");
    for (code, genotype, _) in plants {
        bench.ok(&format!(
            "parent add {code} --plant --genotype '{genotype}'"
        ));
    }
    let answer = bench.json("rank P1 P2 P3 P4 P5 P6");
    for (code, _, strands) in plants {
        let [shows, carries] = by_hand(strands);
        let one = plant(&answer, code);
        close(&one["seed_shows"], shows);
        close(&one["seed_carries"], carries);
    }
    let out = flat(&bench.ok("rank P1 P2"));
    assert!(out.contains("carry: that show it or can give it."), "{out}");
}

/// Of what was measured: 30, 40 and 50 mm stand at 0, 1/2 and 1 of the scale of those ranked; the worth is (1 + 2 x that)/3.
/// One that was not measured stands at 1/2 as expected, spread by 1/2, and is called neither better nor worse.
#[test]
fn what_was_measured_can_be_wanted_high_or_low() {
    let bench = begun(
        &[("P1", "Q/Q"), ("P2", "Q/Q"), ("P3", "Q/Q"), ("P4", "Q/Q")],
        &[],
    );
    let early = flat(&bench.fails("goal add height --want 2", 1));
    assert!(early.contains("no trait has a class 'height'"), "{early}");
    for line in ["P1 height=40mm", "P2 height=5cm", "P3 height=30mm"] {
        bench.ok(&format!("measure {line}"));
    }
    let must = flat(&bench.fails("goal add height --must", 1));
    assert!(
        must.contains("height comes in degrees") && must.contains("--want 1"),
        "{must}"
    );
    assert_eq!(
        bench.ok("goal add Height --want 2"),
        "height: more height is wanted, weight 2.\n"
    );
    let answer = bench.json("rank P1 P2 P3");
    assert_eq!(order(&answer), ["P2", "P1", "P3"]);
    for (code, index, number) in [
        ("P2", 100.0, 50.0),
        ("P1", 200.0 / 3.0, 40.0),
        ("P3", 100.0 / 3.0, 30.0),
    ] {
        close(&plant(&answer, code)["index"], index);
        close(&plant(&answer, code)["goals"][0]["measure"], number);
    }
    assert_eq!(answer["goals"][0]["unit"], "mm");
    assert_eq!(plant(&answer, "P3")["beaten_by"], "P2");
    assert_eq!(
        plant(&bench.json("rank P1 P2 P3 P4"), "P4")["beaten_by"],
        Value::Null
    );
    bench.ok("goal add height --want 2 --less");
    assert_eq!(order(&bench.json("rank P1 P2 P3")), ["P3", "P1", "P2"]);
    let out = flat(&bench.ok("rank P1 P2 P3"));
    assert!(out.contains("Under a measure: the newest number"), "{out}");
    // It is told by the measures, not by grades.
    let graded = flat(&bench.fails("grade P1 height=high", 1));
    assert!(
        graded.contains("height is measured, not graded"),
        "{graded}"
    );
    bench.fails("grades height", 1);
    assert!(
        bench
            .ok("trait show height")
            .contains("told by the newest measure")
    );
    bench.ok("goal remove height");
    bench.ok("undo");
    assert_eq!(bench.json("goal list")["goals"][0]["trait"], "height");
}

#[test]
fn measures_of_different_ages_are_ranked_with_a_warning() {
    let mut bench = begun(&[("P1", "Q/Q")], &[]);
    bench.on("2026-05-01");
    for line in [
        "sow P1 --seeds 4 --on 2026-03-01",
        "up T1 4 --on 2026-03-12",
        "measure T1-01 height=40mm --on 2026-04-20",
        "measure T1-02 height=50mm --on 2026-04-20",
        "goal add height --want 1",
    ] {
        bench.ok(line);
    }
    assert_eq!(
        bench.json("rank T1-01 T1-02")["ages_apart"],
        serde_json::json!([])
    );
    bench.ok("measure T1-02 height=60mm --on 2026-04-28");
    assert_eq!(
        bench.json("rank T1-01 T1-02")["ages_apart"],
        serde_json::json!(["height"])
    );
    let out = flat(&bench.ok("rank T1-01 T1-02"));
    assert!(
        out.contains("these were measured at different ages"),
        "{out}"
    );
}

/// A recessive must: a heterozygous plant carries it without showing it and throws it in a quarter of its seed; three
/// quarters of that seed show or carry it.
#[test]
fn a_recessive_look_is_carried_before_it_is_shown() {
    let plants = [("FF", "Q/Q"), ("FB", "Q/q"), ("BB", "q/q")];
    let bench = begun(&plants, &["bald --must"]);
    let answer = bench.json("rank FF FB BB");
    assert_eq!(order(&answer), ["BB", "FB", "FF"]);
    for (code, index, fit, shows, carries) in [
        ("BB", 100.0, 1.0, 1.0, 1.0),
        ("FB", 50.0, 1.0, 0.25, 0.75),
        ("FF", 0.0, 0.0, 0.0, 0.0),
    ] {
        let one = plant(&answer, code);
        close(&one["index"], index);
        close(&one["p_fit"], fit);
        close(&one["seed_shows"], shows);
        close(&one["seed_carries"], carries);
    }
    assert_eq!(plant(&answer, "FB")["beaten_by"], "BB");
    bench.ok("assume goal.carried 0.2");
    close(&plant(&bench.json("rank FB"), "FB")["index"], 20.0);
}

#[test]
fn wants_count_by_their_weights_and_what_is_avoided_ends_it() {
    let plants = [("AA", "Q/Q J/J"), ("AB", "Q/Q j/j"), ("BA", "q/q J/J")];
    let bench = begun(&plants, &["felted --want 3", "satin --want 1"]);
    let answer = bench.json("rank AA AB BA");
    for (code, index) in [("AA", 100.0), ("AB", 80.0), ("BA", 40.0)] {
        close(&plant(&answer, code)["index"], index);
    }
    // Neither of two that are each better by one goal beats the other.
    assert_eq!(plant(&answer, "BA")["beaten_by"], "AA");
    let two = bench.json("rank AB BA");
    assert_eq!(plant(&two, "BA")["beaten_by"], Value::Null);
    bench.ok("goal add satin --avoid");
    let answer = bench.json("rank AA AB BA");
    for (code, index) in [("AB", 100.0), ("AA", 0.0), ("BA", 0.0)] {
        close(&plant(&answer, code)["index"], index);
    }
}

/// Of `Q/_` at shares of one half a third is Q/Q and two thirds Q/q. With bald a must such a plant is worth 0 or one
/// half: 1/3 as expected. Two such are level and are not held against one another, whichever is listed first.
#[test]
fn an_order_that_is_not_sure_says_how_sure_it_is() {
    let plants = [("U1", "Q/_"), ("U2", "Q/_"), ("BB", "q/q")];
    let bench = begun(&plants, &["bald --must"]);
    let answer = bench.json("rank U1 U2 BB");
    assert_eq!(order(&answer), ["BB", "U1", "U2"]);
    let (first, second, last) = (
        plant(&answer, "BB"),
        plant(&answer, "U1"),
        plant(&answer, "U2"),
    );
    close(&first["p_best"], 1.0);
    for one in [second, last] {
        assert_eq!(one["place"], 2);
        close(&one["index"], 100.0 / 3.0);
        close(&one["p_fit"], 2.0 / 3.0);
        close(&one["p_best"], 0.0);
    }
    close(&second["p_holds"], 1.0);
    close(&last["p_holds"], 1.0);
    // Below them one of little worth: both hold against it alike, with 1/3 x 1 + 2/3 x P(it is worth no more than 0).
    bench.ok("parent add U3 --plant --genotype 'Q/_ J/j'");
    bench.ok("goal add satin --avoid");
    let answer = bench.json("rank U1 U2 U3");
    assert_eq!(
        plant(&answer, "U1")["p_holds"],
        plant(&answer, "U2")["p_holds"]
    );
}

/// Each carries two recessive looks with 2/3 x 2/3 = 4/9 and is worth nothing otherwise, the first of them a little more
/// than the others where it does: it is no worse than five others with 4/9 + 5/9 x (5/9)^5.
#[test]
fn a_loose_order_is_called_loose() {
    let plants = [
        ("U1", "Q/_ J/_ W/W"),
        ("U2", "Q/_ J/_ w/w"),
        ("U3", "Q/_ J/_ w/w"),
        ("U4", "Q/_ J/_ w/w"),
        ("U5", "Q/_ J/_ w/w"),
        ("U6", "Q/_ J/_ w/w"),
    ];
    let bench = begun(&[], &["bald --must", "matt --must"]);
    bench.ok("trait add rib --classes ribbed,plain --rule 'W/_ => ribbed' --rule 'else => plain'");
    bench.ok("goal add ribbed --want 0.2");
    for (code, genotype) in plants {
        bench.ok(&format!(
            "parent add {code} --plant --genotype '{genotype}'"
        ));
    }
    let answer = bench.json("rank U1 U2 U3 U4 U5 U6");
    let first = plant(&answer, "U1");
    assert_eq!(first["place"], 1);
    let wanted = 4.0 / 9.0 + 5.0 / 9.0 * (5.0_f64 / 9.0).powi(5);
    close(&first["p_best"], wanted);
    // The others are level, and none is held against another.
    for code in ["U2", "U3", "U4", "U5", "U6"] {
        assert_eq!(plant(&answer, code)["place"], 2);
        close(&plant(&answer, code)["p_holds"], 1.0);
    }
    let said = flat(&bench.ok("rank U1 U2 U3 U4 U5 U6"));
    assert!(
        said.contains("The order is loose: 47 % that no other is better."),
        "{said}"
    );
}

fn season() -> Bench {
    let mut bench = Bench::new();
    for (day, line) in [
        ("2026-01-02", "init"),
        ("2026-01-02", "parent add NL 'Night Lantern' --genotype A/A"),
        ("2026-01-02", "parent add CW --genotype a/a"),
        ("2026-01-02", "cross CW NL --flowers 3"),
        ("2026-02-02", "sow X1 --seeds 6"),
        ("2026-02-12", "up T1 --cells 1-6"),
        ("2026-03-28", "score T1 1-3=purple 4=green"),
        ("2026-03-29", "parent add K1 --from T1-02"),
        ("2026-03-29", "died T1-03"),
        ("2026-03-29", "goal add purple --must"),
    ] {
        let run = bench.on(day).run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    bench.on("2026-04-01");
    bench
}

#[test]
fn the_living_of_a_cross_are_ranked_by_what_is_known_of_their_genotypes() {
    let bench = season();
    let answer = bench.json("rank X1");
    // The dead one is left out, the kept one goes by its code.
    let mut names = order(&answer);
    names.sort_unstable();
    assert_eq!(names, ["K1", "T1-01", "T1-04"]);
    assert_eq!(
        answer["unranked"],
        serde_json::json!([{"tray": "T1", "seedlings": 2, "cells": "5-6"}])
    );
    for (code, of) in [("K1", "K1"), ("T1-01", "T1-01"), ("T1-04", "T1-04")] {
        let one = plant(&answer, code);
        let belief = bench.json(&format!("genotype {of}"));
        let at_a = belief["loci"].as_array().unwrap();
        let at_a = at_a.iter().find(|locus| locus["locus"] == "A").unwrap();
        let p = |wanted: &str| {
            let mut all = at_a["genotypes"].as_array().unwrap().iter();
            let found = all.find(|one| one["genotype"] == wanted);
            found.map_or(0.0, |one| one["p"].as_f64().unwrap())
        };
        // What is off-type counts for nothing, so the index is below the chance that it is purple.
        let index = one["index"].as_f64().unwrap() / 100.0;
        let on = 1.0 - one["p_off"].as_f64().unwrap();
        assert!(index <= (p("A/A") + p("A/a")).min(on) + 1e-9, "{code}");
        close(&one["index_if_true"], 100.0 * index / on);
        close(&one["seed_shows"], p("A/A") + 0.75 * p("A/a"));
    }
    let suspects = bench.json("suspects T1");
    let off = |code: &str| {
        let seedlings = suspects["batches"][0]["seedlings"].as_array().unwrap();
        let found = seedlings.iter().find(|one| one["seedling"] == code);
        found.unwrap()["p_off"].as_f64().unwrap()
    };
    close(&plant(&answer, "T1-04")["p_off"], off("T1-04"));
    close(&plant(&answer, "T1-01")["p_off"], off("T1-01"));
    let all = bench.json("rank");
    assert_eq!(all["plants"], answer["plants"]);
}

#[test]
fn the_answer_begins_with_what_to_keep_and_fits_the_page() {
    let bench = season();
    let out = bench.ok("rank T1");
    assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
    let out = flat(&out);
    assert!(
        out.starts_with("Keep T1-01 and K1 first, which are level: each 99.8 % to show"),
        "{out}"
    );
    assert!(
        out.contains("of its selfed seed will show every must"),
        "{out}"
    );
    assert!(
        out.contains("Beaten, being better by no goal and worse by some: T1-04 (by T1-01)."),
        "{out}"
    );
    assert!(
        out.contains(
            "Not ranked: 2 of T1 (cells 5-6) without a record of their own. Read them one by one: locule score \
             T1-05=purple"
        ),
        "{out}"
    );
    let out = flat(&bench.ok("rank K1 T1-01"));
    assert!(
        out.starts_with("Nothing tells these 2 apart by your goals yet"),
        "{out}"
    );
}

#[test]
fn what_cannot_be_ranked_is_refused_with_the_remedy() {
    let bench = season();
    bench.ok("goal remove purple");
    let err = flat(&bench.fails("rank X1", 1));
    assert!(
        err.contains("no goal is set") && err.contains("try: locule goal add purple --must"),
        "{err}"
    );
    bench.ok("goal add purple --must");
    bench.ok("sow X1 --seeds 4 --even-so");
    let err = flat(&bench.fails("rank T2", 1));
    assert!(
        err.contains("no single seedling is on record there"),
        "{err}"
    );
    let err = flat(&bench.fails("rank T9", 1));
    assert!(err.contains("'T9' is not in the ledger"), "{err}");
}

/// A tray of seedlings read for foliage, two of them tasted: their own readings are the best evidence there is of a goal on
/// heat, and nothing of it may be lost in a sum over the tray. What `suspects` makes of the tray, by sums of its own, is
/// the same.
#[test]
fn tasted_seedlings_of_a_whole_tray_are_ranked_by_their_tasting() {
    let mut bench = Bench::new();
    bench.on("2026-08-01");
    for line in [
        "init",
        "parent add CW",
        "parent add NL --looks purple",
        "cross CW NL --on 2026-01-05",
        "sow X1 --seeds 8 --on 2026-03-01",
        "up T1 --cells 1-8 --on 2026-03-15",
        "score T1 1-5=purple 6-8=green --on 2026-04-10",
        "score T1-01 pungency:not-hot --tasted tip",
        "score T1-02 pungency:hot --tasted tip",
        "goal add pungency:not-hot --want 3",
    ] {
        bench.ok(line);
    }
    let answer = bench.json("rank T1");
    assert_eq!(answer["left_out"], serde_json::json!([]), "{answer}");
    assert_eq!(order(&answer).len(), 8);
    let mild = |code: &str| {
        plant(&answer, code)["goals"][0]["p_shows"]
            .as_f64()
            .unwrap()
    };
    assert!(mild("T1-02") < 0.5 * mild("T1-03"), "{answer}");
    assert!(mild("T1-01") > 1.2 * mild("T1-03"), "{answer}");
    let batch = &bench.json("suspects T1")["batches"][0];
    for seedling in batch["seedlings"].as_array().unwrap() {
        let code = seedling["seedling"].as_str().unwrap();
        let p = seedling["p_off"].as_f64().unwrap();
        let own = plant(&answer, code)["p_off"].as_f64().unwrap();
        assert!((own - p).abs() < 1e-9, "{code}: {own} and {p}");
    }
    let alone = bench.json("rank T1-01 T1-02");
    for code in ["T1-01", "T1-02"] {
        let own = plant(&alone, code)["goals"][0]["p_shows"].as_f64().unwrap();
        assert!((own - mild(code)).abs() < 1e-9, "{code}");
    }
}

/// A tray of AA (a/a) x AB (A/A), nine purple and three green ones, some graded for heat: the hottest is a green one.
fn graded() -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-08-20");
    for line in [
        "init",
        "parent add AA --species annuum --genotype a/a",
        "parent add AB --species annuum --genotype A/A",
        "cross AA AB --on 2025-06-01",
        "sow X1 --seeds 12 --on 2026-03-01",
        "up T1 --cells 1-12 --on 2026-03-20",
        "score T1 1-9=purple 10-12=green --on 2026-06-01",
        "trait add heat --grades 0-5",
    ] {
        bench.ok(line);
    }
    for (plant, grade) in [("T1-01", 1), ("T1-02", 2), ("T1-03", 3), ("T1-10", 5)] {
        for pod in 1..=2 {
            bench.ok(&format!("grade {plant} heat={grade} --by Ann --pod {pod}"));
        }
    }
    bench
}

/// What `suspects` has for each seedling, also where only grades are wanted and no genotype is asked; a cull stands behind
/// all others, however hot.
#[test]
fn a_plant_to_be_culled_is_never_kept_first() {
    let bench = graded();
    for goal in ["heat --want 1", "not-hot --want 1"] {
        bench.ok(&format!("goal add {goal}"));
        let answer = bench.json("rank T1");
        let judged = &bench.json("suspects T1")["batches"][0]["seedlings"];
        for one in judged.as_array().unwrap() {
            let code = one["seedling"].as_str().unwrap();
            let ranked = plant(&answer, code);
            close(&ranked["p_off"], one["p_off"].as_f64().unwrap());
            assert_eq!(ranked["cull"], one["verdict"] == "cull", "{code}");
        }
        let mut last = order(&answer)[9..].to_vec();
        last.sort_unstable();
        assert_eq!(last, ["T1-10", "T1-11", "T1-12"]);
    }
    bench.ok("goal remove not-hot");
    let out = flat(&bench.ok("rank T1"));
    assert!(out.starts_with("Keep T1-03 first: index "), "{out}");
    assert!(
        out.contains("To be culled, being almost surely not of the label, and last for that: T1-10, T1-11 and T1-12"),
        "{out}"
    );
    let none = flat(&bench.ok("rank T1-10 T1-11"));
    assert!(none.starts_with("None of these is to be kept."), "{none}");
    // One that was adopted as what it is counts by what it is.
    bench.ok("adopt T1-10 K9");
    let adopted = bench.json("rank T1");
    assert_eq!(plant(&adopted, "K9")["cull"], false);
    assert_eq!(order(&adopted)[0], "K9");
}

/// A green mother that is mild and a purple, hot father: off-types are likelier in the second tray, and may be mild. That
/// is no reason to prefer them. By hand: the worth of a plant is the chance that it is true times its worth then.
#[test]
fn being_off_type_never_makes_a_plant_worth_more() {
    let mut bench = Bench::new();
    bench.on("2026-05-28");
    for line in [
        "init",
        "parent add PF --species annuum --genotype 'a/a pun1/pun1'",
        "parent add DM --species annuum --genotype A/A",
        "score DM hot",
        "score PF not-hot",
        "cross PF DM --on unknown",
        "sow X1 --seeds 14 --on 2026-04-03",
        "up T1 14 --on 2026-04-16",
        "sow X1 --seeds 14 --on 2026-04-03 --even-so",
        "up T2 14 --on 2026-04-16",
        "score T1 1-14=purple",
        "score T2 1-9=purple 10-14=green",
        "goal add purple --must",
        "goal add not-hot --want 2",
    ] {
        bench.ok(line);
    }
    let answer = bench.json("rank X1");
    let [sure, doubtful] = ["T1-01", "T2-01"].map(|code| plant(&answer, code));
    let number = |one: &Value, name: &str| one[name].as_f64().unwrap();
    assert!(number(doubtful, "p_off") > number(sure, "p_off"));
    assert!(number(sure, "index") > number(doubtful, "index"));
    assert!(order(&answer)[0].starts_with("T1"));
    for one in [sure, doubtful] {
        let by_hand = (1.0 - number(one, "p_off")) * number(one, "index_if_true");
        close(&one["index"], by_hand);
    }
    let places = |tray: &str| {
        let own = answer["plants"].as_array().unwrap().iter();
        let own = own.filter(|one| one["plant"].as_str().unwrap().starts_with(tray));
        own.map(|one| one["place"].as_i64().unwrap())
            .collect::<Vec<_>>()
    };
    assert!(places("T1").iter().all(|place| *place == 1), "{answer}");
    let out = bench.ok("rank");
    let torn = |line: &str| matches!(line.trim(), "%" | "99.9 %" | "0.1 %");
    assert!(!out.lines().any(torn), "{out}");
}

/// Six plants that surely show both musts and differ in what their selfed seed throws: of A/A Pun1/Pun1 all, of the others
/// 1/2 to 3/4, in steps that linkage makes.
#[test]
fn of_level_plants_the_whole_range_is_told_and_none_is_beaten() {
    let plants = [
        ("Z1", "Q/Q J/J"),
        ("Z2", "Q/Q J/j"),
        ("Z3", "Q|q j|J"),
        ("Z4", "q/q J/J"),
    ];
    let bench = begun(&plants, &["felted --must", "satin --must"]);
    let out = flat(&bench.ok("rank Z1 Z2 Z3 Z4"));
    assert!(
        out.starts_with(
            "Keep Z1, Z2 and Z3 first, which are level: each 100 % to show or carry every must, and 50 to 100 % of its \
             selfed seed"
        ),
        "{out}"
    );
    // Seedlings that came up a few days apart are a little more or less likely true, and level for all that.
    let mut bench = Bench::new();
    bench.on("2026-05-28");
    for line in [
        "init",
        "parent add RK --plant --genotype A/a",
        "self RK --on unknown",
        "sow X1 --seeds 9 --on 2026-04-03",
        "up T1 --cells 1-3 --on 2026-04-13",
        "up T1 9 --on 2026-04-16",
        "score T1 1-9=purple",
        "goal add purple --must",
        "goal add not-hot --want 2",
    ] {
        bench.ok(line);
    }
    let answer = bench.json("rank T1");
    for one in answer["plants"].as_array().unwrap() {
        assert_eq!(
            (one["place"].as_i64(), &one["beaten_by"]),
            (Some(1), &Value::Null)
        );
    }
}

/// A plant shows one look of a trait: of two that are wanted the larger weight is all that it can be given.
#[test]
fn opposite_wants_of_one_trait_leave_a_hundred_within_reach() {
    let bench = begun(
        &[("AA", "Q/Q"), ("BB", "q/q")],
        &["felted --want 3", "bald --want 1"],
    );
    let answer = bench.json("rank AA BB");
    close(&plant(&answer, "AA")["index"], 100.0);
    close(&plant(&answer, "BB")["index"], 50.0);
}
