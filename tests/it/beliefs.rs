//! `genotype` in the real program: the progeny test, what told it, seedlings by place, records that clash.

use serde_json::Value;

use crate::support::{Bench, flat};

fn bench(lines: &[&str]) -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-05-20");
    for line in lines {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    bench
}

/// P(genotype) of a plant at a locus.
fn chance(bench: &Bench, plant: &str, locus: &str, genotype: &str) -> f64 {
    of(&bench.json(&format!("genotype {plant}")), locus, genotype)
}

fn of(answer: &Value, locus: &str, genotype: &str) -> f64 {
    let named = |list: &Value, key: &str, name: &str| -> Value {
        let own = list.as_array().unwrap().iter().find(|one| one[key] == name);
        own.unwrap_or_else(|| panic!("{name} in {list}")).clone()
    };
    let told = named(&answer["loci"], "locus", locus);
    named(&told["genotypes"], "genotype", genotype)["p"]
        .as_f64()
        .unwrap()
}

/// Every second row of `tests/data/progeny_test.json` without scoring errors, and those of F2 plants scored with 1 % of
/// errors: with nothing gone astray and a proven tester the chance of being pure is pi/(pi + (1 - pi) g^n), or what
/// Bayes' rule makes of it with errors. P(Q/Q | Q/_) of a plant out of a random-mating stand is p/(2 - p).
#[test]
fn the_progeny_test_is_bayes_rule() {
    let data: Value = serde_json::from_str(include_str!("../data/progeny_test.json")).unwrap();
    let rows = data["rows"].as_array().unwrap();
    for (pi, pure, error) in [
        ("1/3", 1.0 / 3.0, "0"),
        ("1/2", 0.5, "0"),
        ("3/5", 0.6, "0"),
        ("1/3", 1.0 / 3.0, "1/100"),
    ] {
        let misread = if error == "0" { 0.0 } else { 0.01 };
        let bench = bench(&[
            "init",
            "assume none.covered 1",
            "assume none.self-covered 1",
            "assume whole-batch 0",
            "assume trust.proven 1",
            &format!(
                "trait add felt --classes felted,bald --rule 'Q/_ => felted' --rule 'else => bald' --misread {misread}"
            ),
            &format!("locus set Q --share Q={}", 2.0 * pure / (1.0 + pure)),
            "parent add TT --genotype q/q --proven",
        ]);
        let chosen: Vec<&Value> = rows
            .iter()
            .filter(|row| row["pi"] == pi && row["e10"] == error && row["e01"] == error)
            .collect();
        assert!(chosen.len() >= 8, "{pi} {error}: {} rows", chosen.len());
        for (at, row) in chosen.iter().enumerate() {
            let (n, k) = (row["n"].as_u64().unwrap(), row["k"].as_u64().unwrap());
            let cross = match row["test"].as_str().unwrap() {
                "testcross" => format!("cross K{at} TT"),
                _ => format!("self K{at}"),
            };
            let mut lines = vec![
                format!("parent add K{at} --plant --genotype Q/_ --proven"),
                format!("{cross} --code C{at} --covered --on 2025-12-01"),
            ];
            if n > 0 {
                lines.push(format!(
                    "sow C{at} --seeds {n} --tray S{at} --on 2026-03-01"
                ));
                lines.push(format!("up S{at} {n} --on 2026-03-12"));
                lines.push(format!(
                    "score S{at} {} felted {k} bald --on 2026-04-12",
                    n - k
                ));
            }
            for line in lines {
                let run = bench.run(&line);
                assert_eq!(run.status, Some(0), "{line}: {}", run.err);
            }
        }
        let all = bench.json("genotype --all");
        for (at, row) in chosen.iter().enumerate() {
            let code = format!("K{at}");
            let plants = all["plants"].as_array().unwrap();
            let answer = plants
                .iter()
                .find(|one| one["plant"] == code.as_str())
                .unwrap();
            let (got, wanted) = (of(answer, "Q", "Q/Q"), row["decimal"].as_f64().unwrap());
            assert!((got - wanted).abs() < 1e-9, "{row}: {got}");
        }
    }
}

/// Two lines, an F1 plant kept, an F2 plant of it kept.
fn season() -> Bench {
    bench(&[
        "init",
        "parent add NL 'Night Lantern' --genotype A/A",
        "parent add CW 'Chalk Wren' --genotype a/a",
        "cross NL CW --on 2024-06-01",
        "sow X1 --seeds 4 --on 2025-01-01",
        "up T1 4 --on 2025-01-12",
        "parent add H1 --from T1-01",
        "self H1 --covered --on 2025-05-01",
        "sow X2 --seeds 20 --on 2025-08-01",
        "up T2 20 --on 2025-08-12",
        "score T2 3=purple 4=green 5=purple --on 2025-10-01",
        "parent add H2 --from T2-03",
        "cross H2 CW --covered --on 2025-12-01",
        "sow X3 --seeds 7 --on 2026-02-01",
        "up T3 7 --on 2026-02-12",
    ])
}

#[test]
fn seven_purple_of_seven_by_a_green_plant_say_that_it_is_pure() {
    let bench = season();
    let before = chance(&bench, "H2", "A", "A/A");
    bench.run("score T3 7 purple --on 2026-04-12");
    let answer = bench.json("genotype H2");
    let now = of(&answer, "A", "A/A");
    assert!(before < 0.45 && now > 0.95, "{before} {now}");
    let first = &answer["evidence"][0];
    assert_eq!(first["what"], "7 purple of 7 by a green plant, CW (T3)");
    let record = &first["record"];
    assert_eq!(
        (&record["kind"], &record["tray"], &record["plants"][0]),
        (&"offspring".into(), &"T3".into(), &"CW".into())
    );
    assert_eq!(
        (&record["counts"][0]["class"], &record["counts"][0]["count"]),
        (&"purple".into(), &7.into())
    );
    assert_eq!(
        (&first["locus"], &first["genotype"]),
        (&"A".into(), &"A/A".into())
    );
    assert!((first["without"].as_f64().unwrap() - before).abs() < 1e-9);
    assert!((first["with"].as_f64().unwrap() - now).abs() < 1e-12);
    let moved: Vec<f64> = answer["evidence"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["moved"].as_f64().unwrap())
        .collect();
    assert!(moved.is_sorted_by(|one, other| one >= other), "{moved:?}");
    let said = flat(&bench.ok("genotype H2"));
    assert!(
        said.contains("- 7 purple of 7 by a green plant, CW (T3): A/A from"),
        "{said}"
    );
    // By its place it is the same plant; its offspring speak for its parent too.
    assert_eq!(bench.json("genotype T2-03")["loci"], answer["loci"]);
}

/// Green offspring by a green plant make a purple F2 plant A/a, and so its self-fertile parent too.
#[test]
fn a_kept_plant_and_its_parent_inform_each_other() {
    let bench = season();
    let parent = chance(&bench, "H1", "A", "A/a");
    bench.run("score T3 4 purple 3 green --on 2026-04-12");
    assert!(chance(&bench, "H2", "A", "A/a") > 0.95);
    assert!(chance(&bench, "H1", "A", "A/a") > parent);
    // Seedlings that nobody kept are told by their place: the green one, and a purple one.
    assert!(chance(&bench, "T2-04", "A", "a/a") > 0.9);
    let purple = chance(&bench, "T2-05", "A", "A/A");
    assert!((purple - 1.0 / 3.0).abs() < 0.05, "{purple}");
}

#[test]
fn all_plants_are_told_as_one_by_one() {
    let bench = season();
    let all = bench.json("genotype --all");
    let plants = all["plants"].as_array().unwrap();
    assert_eq!(plants.len(), 4);
    for one in plants {
        let code = one["plant"].as_str().unwrap();
        for genotype in ["A/A", "A/a", "a/a"] {
            let alone = chance(&bench, code, "A", genotype);
            assert!(
                (alone - of(one, "A", genotype)).abs() < 1e-10,
                "{code} {genotype}"
            );
        }
    }
    let said = bench.ok("genotype --all");
    assert_eq!(
        said.lines().filter(|line| !line.starts_with(' ')).count(),
        4,
        "{said}"
    );
}

#[test]
fn a_green_plant_stated_pure_purple_is_a_clash() {
    let bench = bench(&["init", "parent add NL --genotype A/A --looks green"]);
    let answer = bench.json("genotype NL");
    let clash = &answer["clashes"][0];
    assert_eq!(clash["records"], "it was read green, and A/A is stated");
    let explanations = clash["explanations"].as_array().unwrap();
    let p = |name: &str| {
        let own = explanations.iter().find(|one| one["explanation"] == name);
        own.unwrap()["p"].as_f64().unwrap()
    };
    // Of statement 0.99 x misread 0.005 against a/a 0.005 x right 0.995 and A/a 0.005 x 0.005.
    let (right, green, other) = (0.99 * 0.005, 0.005 * 0.995, 0.005 * 0.005);
    let total = right + green + other;
    assert!((p("wrong-statement") - (green + other) / total).abs() < 1e-9);
    assert!((p("misread") - (right + other) / total).abs() < 1e-9);
    let said = flat(&bench.ok("genotype NL"));
    assert!(
        said.contains(
            "Clash: it was read green, and A/A is stated. Perhaps NL is not A/A (50 %) or it was read wrongly (50 %)."
        ),
        "{said}"
    );
}

#[test]
fn a_statement_that_the_parents_cannot_give_is_a_clash() {
    let bench = season();
    bench.run("parent add H3 --from T2-05 --genotype A/A");
    assert_eq!(
        bench.json("genotype H3")["clashes"],
        Value::Array(Vec::new())
    );
    bench.run("parent add H4 --from T1-02 --genotype a/a");
    let clash = &bench.json("genotype H4")["clashes"][0];
    assert_eq!(
        clash["records"],
        "a/a is stated, and NL x CW as stated cannot give that"
    );
    let named: Vec<&Value> = clash["explanations"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| &one["explanation"])
        .collect();
    assert_eq!(
        named
            .iter()
            .filter(|one| **one == "wrong-statement")
            .count(),
        3
    );
    assert!(named.contains(&&"off-type".into()));
}

#[test]
fn seedlings_that_both_parents_cannot_give_are_a_clash_in_both_answers() {
    let bench = season();
    bench.run("score T1 1=green 2=green 3=green 4=purple --on 2025-01-20");
    let clash = &bench.json("genotype NL")["clashes"][0];
    // Green is what a purple seedling is at first, so nothing clashes before its time.
    assert_eq!(clash, &Value::Null);
    bench.run("score T1 1=green 2=green 3=green 4=purple --on 2025-06-12");
    assert_eq!(
        bench.json("genotype NL")["clashes"][0]["records"],
        "3 green in T1, and NL x CW as stated cannot give that"
    );
    for line in [
        "parent add BW --genotype a/a",
        "cross CW BW --code Y1 --on 2024-07-01",
        "sow Y1 --seeds 6 --tray U1 --on 2025-01-01",
        "up U1 6 --on 2025-01-12",
        "score U1 5 purple 1 green --on 2025-04-01",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    let clash = &bench.json("genotype BW")["clashes"][0];
    assert_eq!(
        clash["records"],
        "5 purple in U1, and CW x BW as stated cannot give that"
    );
    let sum: f64 = clash["explanations"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["p"].as_f64().unwrap())
        .sum();
    assert!(sum > 0.99, "one of them must hold: {clash}");
    let said = flat(&bench.ok("suspects U1"));
    assert!(
        said.contains("5 purple in U1, and CW x BW as stated cannot give that"),
        "{said}"
    );
}

#[test]
fn what_a_kept_plant_looked_like_as_a_seedling_stands_against_its_statement() {
    let bench = season();
    for (place, class, day, clashes) in [
        ("T2-07", "green", "2026-01-01", 1),
        ("T2-08", "purple", "2026-01-01", 0),
        ("T2-09", "green", "2025-08-16", 0),
    ] {
        bench.run(&format!("score {place} {class} --on {day}"));
        bench.run(&format!(
            "parent add K{} --from {place} --genotype A/A",
            &place[4..]
        ));
        let answer = bench.json(&format!("genotype K{}", &place[4..]));
        let found = answer["clashes"].as_array().unwrap();
        assert_eq!(found.len(), clashes, "{place}: {answer}");
        for clash in found {
            assert_eq!(clash["records"], "it was read green, and A/A is stated");
        }
    }
}

#[test]
fn green_seedlings_of_two_pure_purple_parents_clash_once_they_are_old() {
    for (day, clashes) in [("2025-05-16", 0), ("2025-10-01", 1)] {
        let bench = bench(&[
            "init",
            "parent add NL --genotype A/A --proven",
            "parent add PW --genotype A/A --proven",
            "cross NL PW --code X1 --covered --on 2025-02-01",
            "sow X1 --seeds 40 --cells 40 --tray T1 --on 2025-05-01",
            "up T1 40 --on 2025-05-12",
            &format!("score T1 1-20=green 21-40=purple --on {day}"),
        ]);
        let found = bench.json("genotype NL")["clashes"]
            .as_array()
            .unwrap()
            .len();
        assert_eq!(found, clashes, "{day}");
    }
}

/// Five loci at once are 59,049 pairs of genotypes. Where nothing else was read of a tray, it is missed and named.
#[test]
fn a_tray_too_large_to_weigh_is_missed_by_what_grew_in_it_and_named() {
    let bench = bench(&[
        "init",
        "parent add NL --genotype A/A",
        "parent add CW --genotype a/a",
        "parent add ZZ --genotype A/a",
        "trait add five --classes yes,no --rule 'J/_ K/_ M/_ N/_ O/_ => yes' --rule 'else => no'",
        "cross NL CW --code X1 --on 2025-02-01",
        "sow X1 --seeds 4 --tray T1 --on 2025-05-01",
        "up T1 4 --on 2025-05-12",
        "score T1 1=five:no 2=five:no 3=five:no 4=five:no --on 2025-08-01",
        "parent add KK --from T1-01 --on 2025-08-05",
        "self KK --code XK --covered --on 2025-08-20",
        "sow XK --seeds 4 --tray TK --on 2026-01-01",
        "up TK 4 --on 2026-01-12",
        "score TK 1=green 2=green --on 2026-04-01",
    ]);
    for line in [
        "genotype NL",
        "genotype KK",
        "genotype T1-02",
        "expect XK --believed",
    ] {
        let err = flat(&bench.fails(line, 1));
        assert!(err.contains("in T1, by five"), "{line}: {err}");
        assert!(err.contains("locule trait off five"), "{line}: {err}");
    }
    let said = flat(&bench.ok("suspects TK"));
    assert!(
        said.contains("T1 is too large to weigh and is left out"),
        "{said}"
    );
    let all = bench.json("genotype --all");
    for one in all["plants"].as_array().unwrap() {
        let at_a = one["loci"]
            .as_array()
            .unwrap()
            .iter()
            .find(|own| own["locus"] == "A");
        let is_declined = !at_a.unwrap()["declined"].is_null();
        assert_eq!(is_declined, one["plant"] != "ZZ", "{one}");
    }
    let said = flat(&bench.ok("genotype --all"));
    assert!(
        said.contains("A: not answered, the exact answer needs"),
        "{said}"
    );
    bench.ok("trait off five");
    bench.ok("genotype KK");
}

/// Where something else was read too, the trait that reads too many loci is left out, and said to be.
#[test]
fn a_trait_too_large_to_weigh_is_left_out_and_named() {
    let bench = bench(&[
        "init",
        "parent add NL --genotype A/A",
        "parent add CW --genotype a/a",
        "trait add five --classes yes,no --rule 'J/_ K/_ M/_ N/_ O/_ => yes' --rule 'else => no'",
        "cross NL CW --code X1 --on 2025-02-01",
        "sow X1 --seeds 4 --tray T1 --on 2025-05-01",
        "up T1 4 --on 2025-05-12",
        "score T1 1=green 2=purple 3=green 4=green --on 2025-08-01",
        "parent add KK --from T1-01 --on 2025-08-05",
    ]);
    let before = bench.json("suspects T1");
    let score = flat(&bench.ok("score T1 1=five:no 2=five:no 3=five:no --on 2025-08-01"));
    let said =
        "five of KK, T1-02 and T1-03 is left out: with it the sums would need 531 thousand cells.";
    assert!(score.contains(said), "{score}");
    for line in [
        "suspects T1",
        "sheet T1",
        "why T1-01",
        "genotype KK",
        "genotype NL",
        "mishaps",
        "late-colour fit --trait foliage",
        "rank T1",
    ] {
        if line.starts_with("rank") {
            bench.ok("goal add purple --must");
        }
        let answer = flat(&bench.ok(line));
        assert!(answer.contains(said), "{line}: {answer}");
    }
    let mut after = bench.json("suspects T1");
    let remark = &after["batches"][0]["remarks"][0];
    assert_eq!(remark["kind"], "trait-left-out");
    assert_eq!(remark["trait"], "five");
    assert_eq!(remark["whose"], serde_json::json!(["KK", "T1-02", "T1-03"]));
    assert_eq!(bench.json("genotype KK")["left_out"][0]["trait"], "five");
    let err = flat(&bench.fails("expect X1 --believed", 1));
    assert!(err.contains("in T1, by five"), "{err}");
    // All else is as without it.
    for list in ["notes", "remarks"] {
        after["batches"][0][list].as_array_mut().unwrap().remove(0);
    }
    assert_eq!(after["batches"], before["batches"]);
    bench.ok("sow X1 --seeds 4 --tray T2 --on 2025-05-01");
    bench.ok("up T2 4 --on 2025-05-12");
    let lost = flat(&bench.ok("lost-label --looks purple --on 2025-08-10"));
    assert!(lost.contains(said), "{lost}");
}

/// Seedlings read for foliage and hair, one of them kept and tasted: two loci more, which the tasting alone ties to them.
#[test]
fn a_tasting_of_one_plant_leaves_everything_else_answered() {
    let mut lines = vec![
        "init".to_owned(),
        "parent add GF --genotype 'a/a H/H' --on 2025-01-01".to_owned(),
        "parent add NP --genotype A/A --on 2025-01-01".to_owned(),
        "parent add GM --genotype 'a/a h/h' --on 2025-01-01".to_owned(),
        "parent add DW --genotype h/h --on 2025-01-01".to_owned(),
        "cross GF NP --code X1 --tool brush --on 2025-02-02".to_owned(),
        "cross GM DW --code X2 --tool brush --on 2025-02-02".to_owned(),
        "sow X1 --seeds 10 --tray T1 --on 2025-05-10".to_owned(),
        "sow X2 --seeds 2 --tray T2 --on 2025-05-10".to_owned(),
        "up T1 10 --on 2025-05-20".to_owned(),
        "up T2 2 --on 2025-05-20".to_owned(),
        "score T1 1-9=purple/hairy 10=green/smooth --on 2025-06-20".to_owned(),
        "score T2 1-2=green/smooth --on 2025-06-20".to_owned(),
        "parent add K1 --from T1-01 --on 2025-07-01".to_owned(),
        "goal add purple --must".to_owned(),
        "goal add not-hot --want 3".to_owned(),
        "goal add hairy --avoid".to_owned(),
    ];
    lines.extend(
        [
            "score K1 hot --tasted tip --on 2025-09-20",
            "score NP hot --on 2025-09-20",
        ]
        .map(str::to_owned),
    );
    let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
    let bench = bench(&lines);
    let answer = bench.json("suspects T1");
    assert_eq!(answer["batches"][0]["n"], 10);
    let seedlings = answer["batches"][0]["seedlings"].as_array().unwrap();
    assert_eq!(seedlings.len(), 10);
    assert!(seedlings[9]["p_off"].as_f64().unwrap() > 0.8, "{answer}");
    let sheet = bench.ok("sheet T1");
    assert!(sheet.contains("[ ] T1-10"), "{sheet}");
    bench.ok("why T1-01");
    let ranked = bench.json("rank T1");
    assert_eq!(ranked["plants"].as_array().unwrap().len(), 10);
    assert_eq!(ranked["left_out"], serde_json::json!([]));
    // Hot by the tip, from a hot parent: hotter than its sibs.
    let hot = |plant: &str| {
        let mut plants = ranked["plants"].as_array().unwrap().iter();
        let own = plants.find(|one| one["plant"] == plant).unwrap();
        1.0 - own["goals"][1]["p_shows"].as_f64().unwrap()
    };
    assert!(hot("K1") > hot("T1-02"), "{ranked}");
    let known = bench.json("genotype K1");
    assert_eq!(known["left_out"], serde_json::json!([]));
    let loci = known["loci"].as_array().unwrap().iter();
    assert!(loci.clone().all(|own| own["declined"].is_null()), "{known}");
}

/// Four of four up are tallied green: so is whichever is kept, as if it had been read by itself.
#[test]
fn a_plant_kept_from_a_tray_tallied_alike_is_one_of_the_tallied() {
    let told = |scores: &str| {
        let bench = bench(&[
            "init",
            "parent add HH --genotype A/a --plant",
            "self HH --code X6 --covered --on 2025-02-02",
            "sow X6 --seeds 4 --tray T6 --on 2025-05-01",
            "up T6 4 --on 2025-05-12",
            &format!("score T6 {scores} --on 2025-08-01"),
            "parent add KK --from T6-01 --on 2025-08-05",
        ]);
        chance(&bench, "KK", "A", "a/a")
    };
    let (tallied, one_by_one) = (told("4 green"), told("1=green 2=green 3=green 4=green"));
    // All four may also be purple ones in the dark.
    assert!(tallied > 0.4, "{tallied}");
    assert!(
        (tallied - one_by_one).abs() < 1e-9,
        "{tallied} {one_by_one}"
    );
}

/// With beliefs at their edges 1,100 felted of 1,100 weigh 2^-1100 where the parent is mixed, less than a number holds;
/// 600 bald of another 1,200 leave nothing but that.
#[test]
fn what_is_too_small_a_number_is_not_taken_for_impossible() {
    let bench = bench(&[
        "init",
        "assume none.covered 1",
        "assume whole-batch 0",
        "assume trust.proven 1",
        "trait add felt --classes felted,bald --rule 'Q/_ => felted' --rule 'else => bald'",
        "parent add P --plant",
        "parent add G1 --genotype q/q --proven",
        "parent add G2 --genotype q/q --proven",
        "cross P G1 --code X1 --covered --on 2025-02-01",
        "cross P G2 --code X2 --covered --on 2025-02-03",
        "sow X1 --seeds 1100 --cells 1 --tray T1 --on 2025-05-01",
        "up T1 1100 --on 2025-05-12",
        "score T1 1100 felt:felted --on 2025-08-01",
        "sow X2 --seeds 1200 --cells 1 --tray T2 --on 2025-06-01",
        "up T2 1200 --on 2025-06-12",
        "score T2 600 felt:felted 600 felt:bald --on 2025-08-01",
    ]);
    let total: f64 = ["Q/Q", "Q/q", "q/q"]
        .map(|one| chance(&bench, "P", "Q", one))
        .iter()
        .sum();
    assert!((total - 1.0).abs() < 1e-9, "{total}");
}

/// Among testcross seedlings purple comes with P(A/A) + P(A/a)/2 of their mother.
#[test]
fn an_expectation_can_be_asked_of_what_is_believed() {
    let bench = season();
    bench.run("score T3 7 purple --on 2026-04-12");
    let answer = bench.json("genotype H2");
    let (pure, mixed) = (of(&answer, "A", "A/A"), of(&answer, "A", "A/a"));
    let expected = bench.json("expect X3 --believed");
    let p = |answer: &Value| answer["classes"][0]["p"].as_f64().unwrap();
    // The father's green is nearly certain, not quite.
    assert!(
        (p(&expected) - (pure + mixed / 2.0)).abs() < 0.005,
        "{expected}"
    );
    assert!((p(&expected) - p(&bench.json("expect X3"))).abs() > 0.1);
    let said = flat(&bench.ok("expect X3 --believed"));
    assert!(said.contains("H2 as believed x CW as believed"), "{said}");
    bench.fails("expect --mother A/a --father a/a --believed", 2);
}

#[test]
fn what_is_no_plant_is_refused() {
    let bench = season();
    for (line, said) in [
        ("genotype X1", "X1 is a cross, and one plant is meant"),
        ("genotype ZZ", "'ZZ' is not in the ledger"),
    ] {
        let err = flat(&bench.fails(line, 1));
        assert!(err.contains(said), "{err}");
    }
    bench.fails("genotype", 2);
    bench.fails("genotype NL --all", 2);
}

#[test]
fn a_line_selfed_out_of_a_cross_may_be_pure() {
    let bench = bench(&[
        "init",
        "parent add NL --genotype A/A",
        "parent add CW --genotype a/a",
        "parent add PF --pedigree NL/CW --genotype A/A",
        "parent add PG --plant --pedigree NL/CW --genotype A/A",
    ]);
    assert_eq!(bench.json("genotype PF")["clashes"], serde_json::json!([]));
    // A single plant of the cross itself was not selfed since.
    assert_eq!(
        bench.json("genotype PG")["clashes"]
            .as_array()
            .unwrap()
            .len(),
        1
    );
}

/// Four kept F2 plants, two traits and a green tester: too much to leave records out of one by one, not to answer.
#[test]
fn what_is_known_stands_where_its_records_cannot_be_left_out_in_turn() {
    let mut lines: Vec<String> = [
        "init",
        "parent add NL --genotype 'A/A h/h'",
        "parent add CW --genotype 'a/a H/H'",
        "parent add GW --genotype 'a/a h/h'",
        "cross CW NL --on 2020-07-01",
        "sow X1 --seeds 4 --on 2021-03-01",
        "up T1 4 --on 2021-03-15",
        "score T1 1-4=purple --on 2021-05-15",
        "score T1 1-4=hairy --on 2021-05-15",
        "parent add F1 --from T1-01",
        "self F1 --on 2021-08-01",
        "sow X2 --seeds 16 --on 2022-03-01",
        "up T2 16 --on 2022-03-14",
        "score T2 1-12=purple 13-16=green --on 2022-05-14",
        "score T2 1-9=hairy 10-12=smooth 13-16=hairy --on 2022-05-14",
    ]
    .map(str::to_owned)
    .to_vec();
    for (kept, greens) in [(1, 0), (2, 5), (3, 5), (4, 0)] {
        let (cross, tray) = (kept + 2, kept + 2);
        lines.push(format!("parent add K{kept} --from T2-0{kept}"));
        lines.push(format!("cross GW K{kept} --on 2022-08-01"));
        lines.push(format!("sow X{cross} --seeds 10 --on 2023-03-0{kept}"));
        lines.push(format!("up T{tray} 10 --on 2023-03-15"));
        let looks = match greens {
            0 => "1-10=purple".to_owned(),
            _ => "1-5=purple 6-10=green".to_owned(),
        };
        lines.push(format!("score T{tray} {looks} --on 2023-06-15"));
    }
    let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
    let bench = bench(&lines);
    let answer = bench.json("genotype K1");
    assert!(of(&answer, "A", "A/A") > 0.95, "{answer}");
    let all = bench.json("genotype --all");
    let plants = all["plants"].as_array().unwrap();
    let same = plants.iter().find(|one| one["plant"] == "K1").unwrap();
    assert!((of(same, "A", "A/A") - of(&answer, "A", "A/A")).abs() < 1e-9);
    if answer["untold_cells"].is_number() {
        let said = flat(&bench.ok("genotype K1"));
        assert!(said.contains("is not worked out in full"), "{said}");
    }
}

/// By hand: P is A/A once in three times, else A/a; of what lives the first gives 1/2 A/A and the second 1/3, so 7/18,
/// whether P is taken at its word or by everything recorded.
#[test]
fn a_believed_parent_lives_and_counts_once() {
    let bench = Bench::new();
    for line in [
        "init",
        "assume trust.proven 1",
        "parent add P --plant --genotype A/_ --proven",
        "parent add Q --plant --genotype A/a --proven",
        "parent add R --plant --genotype a/a --proven",
        "trait add gt --classes pure,rest --rule 'A/A => pure' --rule 'else => rest'",
        "cross P Q --code X1",
        "cross R Q --code X2",
    ] {
        bench.ok(line);
    }
    for way in ["", "--believed"] {
        let found = bench.json(&format!("expect X1 --trait gt --lethal a/a {way}"));
        let p = found["classes"][0]["p"].as_f64().unwrap();
        assert!((p - 7.0 / 18.0).abs() < 1e-12, "{way}: {p}");
        let dead = bench.fails(&format!("expect X2 --trait gt --lethal a/a {way}"), 1);
        assert!(flat(&dead).contains("does not live"), "{dead}");
    }
}

/// Linked loci stay together; four of them have 136 genotypes, and two parents more pairs than are gone through.
#[test]
fn linked_loci_beyond_reach_are_declined() {
    let mut bench = Bench::new();
    bench.on("2026-06-01");
    for line in [
        "init",
        "parent add P --plant --on 2025-01-01",
        "parent add Q --plant --on 2025-01-01",
        "locus set N",
        "locus set M --recombines N=0.1",
        "locus set K --recombines M=0.1",
        "locus set J --recombines K=0.1",
        "trait add four --classes yes,no --rule 'J/_ K/_ M/_ N/_ => yes' --rule 'else => no'",
        "cross P Q --code X1 --on 2025-02-01",
        "sow X1 --seeds 4 --tray T1 --on 2025-05-01",
        "up T1 4 --on 2025-05-12",
        "score T1 1=four:no 2=four:yes --on 2025-08-01",
    ] {
        bench.ok(line);
    }
    let declined = bench.fails("expect X1 --believed --trait four --generation F8", 1);
    let said = flat(&declined);
    assert!(said.contains("needs a table of 18496 cells"), "{said}");
    assert!(
        said.contains("linked loci are weighed as one: N, M, K and J"),
        "{said}"
    );
    assert!(said.contains("try: locule trait off four"), "{said}");
}
