//! `plan line` in the real program: what it says first, what it rests on, and what it refuses.

use crate::support::{Bench, flat};

#[test]
fn the_answer_begins_with_seasons_seeds_and_the_chance() {
    let bench = Bench::new();
    let said = flat(&bench.ok("plan line --mother A/A --father a/a --class green"));
    assert!(
        said.starts_with(
            "In 2 seasons, with 12 seeds or so in all: 95.8 % that you then have a line that breeds true for green."
        ),
        "{said}"
    );
    for part in [
        "start: A/A x a/a",
        "plants are at their word",
        "each step that can fail has its even share of the 95.0 %",
        "one that shows green",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let plant =
        flat(&bench.ok("plan line --plant 'A/a Pun1/pun1 pAMT/pAMT' --class green/not-hot"));
    assert!(plant.starts_with("In 1 season,"), "{plant}");
    assert!(plant.contains("selfed once"), "{plant}");
    assert!(
        plant.contains("that of the plant itself is not counted"),
        "{plant}"
    );
}

/// Seed of the label that comes up is 0.8 x 0.9 of crossed seed: an F1 takes 2 seeds (1 - 0.28^2 is 92 %), and what the
/// F2 has left to do is the root of the confidence.
#[test]
fn crossed_seed_is_reckoned_with_off_types_and_selfed_seed_is_not() {
    let bench = Bench::new();
    let line = "plan line --mother A/A --father a/a --class green --germination 0.8 --off-share 0.1 --confidence 0.81";
    let found = bench.json(line);
    let steps = found["schemes"][0]["generations"].as_array().unwrap();
    assert_eq!(steps[0]["seeds"], 2.0);
    // 1 - (1 - 0.8/4)^11 = 0.914, of 10 seeds 0.893.
    assert_eq!(steps[1]["seeds"], 11.0);
    let wanted = (1.0 - 0.28_f64.powi(2)) * (1.0 - 0.8_f64.powi(11));
    let p = found["probability"].as_f64().unwrap();
    assert!((p - wanted).abs() < 1e-12, "{p} {wanted}");
}

/// (1 - exp(-t L))/t for L of 0.6 and 0.3 Morgans; without an end 1/t.
#[test]
fn what_comes_along_is_said_backcross_by_backcross() {
    let bench = Bench::new();
    let line = "plan line --mother A/A --father a/a --recurrent mother --class green";
    let drag = |flags: &str| {
        let found = bench.json(&format!("{line}{flags}"));
        let after = found["after_backcrosses"].as_array().unwrap().clone();
        let third = after[2]["drag"][0].clone();
        assert_eq!(third["locus"], "A");
        assert_eq!(after[2]["recurrent_share"], 0.9375);
        (third["cm"].clone(), third["end_known"].clone())
    };
    let arm = |l: f64| 100.0 * (1.0 - (-3.0 * l).exp()) / 3.0;
    let near = |found: &serde_json::Value, wanted: f64| {
        assert!(
            (found.as_f64().unwrap() - wanted).abs() < 1e-9,
            "{found} {wanted}"
        );
    };
    let (cm, known) = drag(" --arm 30,60cM");
    near(&cm[0], arm(0.3));
    near(&cm[1], arm(0.6));
    assert_eq!(known, serde_json::json!([true, true]));
    let (cm, _) = drag(" --arm A=0.3M");
    near(&cm[1], arm(0.3));
    let (cm, known) = drag("");
    near(&cm[0], 100.0 / 3.0);
    assert_eq!(known, serde_json::json!([false, false]));
    bench.ok("init");
    bench.ok("locus set A --chromosome 10 --at 30");
    let (cm, known) = drag("");
    near(&cm[0], arm(0.3));
    near(&cm[1], 100.0 / 3.0);
    assert_eq!(known, serde_json::json!([true, false]));
}

/// A genotype is told by its dominant alleles: A/A cannot be seen among A/_, so it takes as much as the look does.
#[test]
fn a_genotype_is_told_by_what_shows_of_it() {
    let bench = Bench::new();
    let look = bench.json("plan line --mother A/A --father a/a --class purple");
    let genotype = bench.json("plan line --mother A/A --father a/a --genotype A/A");
    assert_eq!(look["schemes"][0]["seeds"], genotype["schemes"][0]["seeds"]);
    let said =
        flat(&bench.ok("plan line --mother 'A/A B/B' --father 'a/a b/b' --genotype 'A/A b/b'"));
    assert!(said.contains("all that show A/_ b/b"), "{said}");
    assert!(said.contains("whose seedlings all show A/_ b/b"), "{said}");
    assert!(
        said.contains("more dominant of a plant's alleles shows"),
        "{said}"
    );
}

#[test]
fn a_line_is_planned_from_the_ledger() {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add NL 'Night Lantern' --species chinense --genotype A/A",
        "parent add CW 'Chalk Wren' --species annuum --genotype a/a",
        "parent add HY 'Half Yard' --plant --genotype A/a",
        "cross CW NL --on 2025-07-01",
        "sow X1 --seeds 20 --on 2025-12-01",
        "up T1 16 --on 2026-01-05",
    ] {
        bench.ok(line);
    }
    let of_cross = bench.json("plan line X1 --class green --off-share 0");
    assert_eq!(of_cross["germination"]["from"], "cross");
    assert_eq!(of_cross["germination"]["up"], 16);
    assert_eq!(of_cross["schemes"][0]["generations"][1]["generation"], "F2");
    let back = flat(&bench.ok("plan line X1 --class purple --recurrent mother"));
    assert!(
        back.contains("crossed back to: CW; donor parent: NL"),
        "{back}"
    );
    let of_plant = bench.json("plan line HY --class green");
    assert_eq!(of_plant["is_crossed"], false);
    assert_eq!(of_plant["seasons"], 1);
}

/// The first scheme is the one with the fewest of what was asked for, and the answer says which that is.
#[test]
fn the_order_of_schemes_is_asked_for_and_said() {
    let bench = Bench::new();
    let line = "plan line --mother A/A --father a/a --class purple";
    let order = |flags: &str| -> Vec<(u64, f64)> {
        let found = bench.json(&format!("{line}{flags}"));
        let all = found["schemes"].as_array().unwrap().clone();
        let told = |one: &serde_json::Value| {
            (
                one["seasons"].as_u64().unwrap(),
                one["seeds"].as_f64().unwrap(),
            )
        };
        all.iter().map(told).collect()
    };
    let (quick, small) = (order(""), order(" --fewest plants"));
    assert!(quick.is_sorted(), "{quick:?}");
    assert!(small.is_sorted_by(|a, b| a.1 <= b.1), "{small:?}");
    assert!(quick[0].0 < small[0].0 && quick[0].1 > small[0].1);
    assert_eq!(order(" --fewest seasons"), quick);
    let said = flat(&bench.ok(line));
    assert!(
        said.contains(
            "first stands what takes the fewest seasons, then the fewest plants; --fewest plants"
        ),
        "{said}"
    );
    let said = flat(&bench.ok(&format!("{line} --fewest plants")));
    assert!(said.starts_with("In 6 seasons,"), "{said}");
    assert!(
        said.contains("first stands what takes the fewest plants"),
        "{said}"
    );
}

#[test]
fn what_breeds_true_already_is_not_planned_for() {
    let bench = Bench::new();
    for (line, said) in [
        (
            "plan line --plant A/A --class purple",
            "Nothing to plan: A/A breeds true for purple already.",
        ),
        (
            "plan line --plant 'a/a B/b' --class green",
            "breeds true for green already.",
        ),
        (
            "plan line --mother A/A --father A/A --class purple",
            "Nothing to plan: all seed of A/A x A/A breeds true for purple already.",
        ),
    ] {
        let found = flat(&bench.ok(line));
        assert!(found.contains(said), "{line}: {found}");
        let found = bench.json(line);
        assert_eq!(
            (&found["already"], &found["seeds"]),
            (&1.0.into(), &0.0.into())
        );
        assert_eq!(found["schemes"], serde_json::json!([]), "{line}");
    }
    let open = bench.json("plan line --plant A/a --class purple");
    assert_eq!(open["already"], serde_json::Value::Null);
}

/// The seeds of the headline are those of the rows added up, and those of the list of ways.
#[test]
fn one_number_is_said_of_all_seeds() {
    let bench = Bench::new();
    for line in [
        "plan line --mother A/A --father a/a --class purple --confidence 0.9",
        "plan line --mother A/A --father a/a --class purple --germination 0.71 --fewest plants",
        "plan line --mother a/a --father A/A --class purple --recurrent mother --confidence 0.9",
        "plan line --mother A/A --father a/a --class green --recurrent mother --germination 0.9",
    ] {
        let said = bench.ok(line);
        let number = |text: &str| -> u64 {
            let digits = text.rsplit(' ').next().unwrap();
            digits.parse().unwrap_or_else(|_| panic!("{text}: {said}"))
        };
        let first = flat(&said);
        let headline = first.split(", with ").nth(1).unwrap();
        let headline = number(headline.split(" seeds").next().unwrap());
        let cells = |row: &str| -> Vec<String> {
            let cells = row.trim().split("  ").map(str::trim);
            cells
                .filter(|cell| !cell.is_empty())
                .map(str::to_owned)
                .collect()
        };
        let table = said.split("\n\n").nth(1).unwrap();
        let rows: u64 = table
            .lines()
            .skip(2)
            .map(|row| number(&cells(row)[2]))
            .sum();
        assert_eq!(headline, rows, "{said}");
        let ways = said.split("\n\n").nth(3).unwrap();
        assert_eq!(
            number(&cells(ways.lines().nth(2).unwrap())[3]),
            rows,
            "{said}"
        );
    }
}

#[test]
fn a_parent_to_go_back_to_may_be_named_by_its_code() {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add NL 'Night Lantern' --genotype A/A",
        "parent add CW 'Chalk Wren' --genotype a/a",
        "parent add RB 'River Bell' --genotype a/a",
        "cross CW NL --on 2025-07-01",
    ] {
        bench.ok(line);
    }
    for (code, side, class) in [("nl", "father", "green"), ("CW", "mother", "purple")] {
        let line = format!("plan line X1 --class {class} --recurrent");
        let [coded, sided] = [code, side].map(|to| bench.ok(&format!("{line} {to}")));
        assert_eq!(coded, sided);
    }
    let refused = flat(&bench.fails("plan line X1 --class purple --recurrent RB", 2));
    assert!(
        refused.contains("--recurrent RB: it is mother or father, or CW or NL"),
        "{refused}"
    );
}

/// A purple seedling of a selfed A/a is A/A or A/a. By the chances that `genotype` gives of it: of A/A every seed is pure;
/// of A/a a quarter, and half pass a test of m seeds with (3/4)^m. Each plant that it may be is weighed for all its seed.
#[test]
fn a_seedling_is_planned_from_by_everything_recorded() {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add DW 'Dusk Wick' --plant --genotype A/a",
        "self DW --covered --on 2025-03-01",
        "sow X1 --seeds 8 --on 2025-06-01",
        "up T1 8 --on 2025-06-20",
        "score T1 1-6=purple 7-8=green --on 2025-12-01",
    ] {
        crate::support::record(&bench, line);
    }
    let refused = flat(&bench.fails("plan line T1-02 --class purple", 1));
    assert!(
        refused.contains("not stated is T1-02 at A") && refused.contains("--believed"),
        "{refused}"
    );
    let known = bench.json("genotype T1-02");
    let at_a = known["loci"].as_array().unwrap().iter();
    let at_a = at_a.clone().find(|one| one["locus"] == "A").unwrap();
    let chance = |genotype: &str| {
        let mut all = at_a["genotypes"].as_array().unwrap().iter();
        let one = all.find(|one| one["genotype"] == genotype);
        one.map_or(0.0, |one| one["p"].as_f64().unwrap())
    };
    let line = "plan line --plant T1-02 --believed --class purple --confidence 0.8 --germination 1";
    let found = bench.json(line);
    let best = &found["schemes"][0];
    let steps = best["generations"].as_array().unwrap();
    let n = steps[0]["seeds"].as_f64().unwrap();
    let m = steps[1]["seeds_each"].as_f64().unwrap();
    let passes = 0.25 + 0.5 * 0.75_f64.powf(m);
    let open = (1.0 - (1.0 - passes).powf(n)) * 0.25 / passes;
    let wanted = chance("A/A") + chance("A/a") * open;
    let p = best["probability"].as_f64().unwrap();
    assert!((p - wanted).abs() < 1e-6, "{p} {wanted}");
    let said = flat(&bench.ok(line));
    assert!(
        said.contains("the plant: all that it may be by everything recorded"),
        "{said}"
    );
    // With a low confidence the seedling itself is enough.
    let sure = bench.json("plan line T1-02 --believed --class purple --confidence 0.2");
    assert!((sure["already"].as_f64().unwrap() - chance("A/A")).abs() < 1e-6);
    let far = flat(&bench.fails(
        "plan line T1-02 --believed --class green --confidence 0.99",
        1,
    ));
    assert!(
        far.contains("likely that the plant can give such a line at all"),
        "{far}"
    );
    let of_tray = flat(&bench.ok("plan line T1 --class green"));
    assert!(
        of_tray.contains("seed is sown anew; what stands in T1 is not reckoned with"),
        "{of_tray}"
    );
    let of_cross = bench.json("plan line X1 --believed --class green --germination 1");
    assert_eq!(of_cross["believed"], 1.0);
    let typed = flat(&bench.fails("plan line --plant A/a --believed --class green", 2));
    assert!(
        typed.contains("--believed is of plants in the ledger"),
        "{typed}"
    );
}

/// A refusal names a command that leads on.
#[test]
fn a_refusal_says_what_would_help() {
    let bench = Bench::new();
    bench.ok("init");
    bench.ok("parent add NL 'Night Lantern' --genotype A/A");
    for (line, parts) in [
        (
            "plan line --plant A/A --class green",
            &[
                "A: the plant is A/A",
                "try: locule plan line --mother 'A/A' --father 'a/a' --class 'green'",
            ][..],
        ),
        (
            "plan line --mother A/A --father A/A --class green",
            &["try: locule plan line --mother A/A --class green --father a/a"],
        ),
        (
            "plan line --plant A/_ --class green",
            &[
                "not stated is the plant at A",
                "try: locule plan line --class green --plant A/a",
            ],
        ),
        (
            "plan line NL --class green",
            &[
                "A: NL is A/A",
                "try: locule plan cross --want green --fixed",
            ],
        ),
        (
            "plan line --mother A/A --father a/a --class green --recurrent father",
            &["--recurrent mother"],
        ),
    ] {
        let said = flat(&bench.fails(line, 1));
        for part in parts {
            assert!(said.contains(part), "{line}: {part}\n{said}");
        }
        assert!(
            !said.contains("the mother") || line.contains("--mother"),
            "{said}"
        );
    }
    let helped = bench.ok("plan line --mother 'A/A' --father 'a/a' --class 'green'");
    assert!(helped.starts_with("In 2 seasons"), "{helped}");
}

#[test]
fn numbers_below_nothing_are_refused_with_the_reason() {
    let bench = Bench::new();
    let plant = "plan line --plant A/a --class green";
    let back = "plan line --mother A/A --father a/a --class green --recurrent mother";
    for (line, part) in [
        (format!("{plant} --want -3"), "a whole number from 1 to 100"),
        (format!("{plant} --germination -0.3"), "-0.3 is no share"),
        (format!("{plant} --off-share -0.3"), "-0.3 is no share"),
        (format!("{plant} --confidence -1"), "-1 is no share"),
        (
            format!("{plant} --selfings -2"),
            "a whole number from 1 to 8",
        ),
        (
            format!("{back} --backcrosses -2"),
            "a whole number from 1 to 8",
        ),
        (format!("{back} --arm -60"), "an arm is above 0"),
        ("plan enough -3:1 1:1".to_owned(), "-3 is negative"),
        ("plan enough 3:1 -1:1".to_owned(), "-1 is negative"),
    ] {
        let said = flat(&bench.fails(&line, 2));
        assert!(said.contains(part), "{line}: {said}");
    }
}

#[test]
fn what_no_line_can_be_is_refused_with_the_locus() {
    let bench = Bench::new();
    let six = |big: bool| {
        let letters = ["B", "D", "E", "G", "H", "K"].map(|letter| {
            let letter = if big {
                letter.to_owned()
            } else {
                letter.to_lowercase()
            };
            format!("{letter}/{letter}")
        });
        letters.join(" ")
    };
    let too_many = format!(
        "plan line --mother '{}' --father '{}' --genotype '{}'",
        six(true),
        six(false),
        six(false)
    );
    for (line, status, parts) in [
        (
            "plan line --mother 'A/A B/b' --father A/A --class green",
            1,
            &[
                "no line from",
                "A makes it impossible",
                "A: the mother is A/A, the father A/A",
            ][..],
        ),
        (
            "plan line --mother A/A --father a/a --trait foliage-grade --class mid",
            1,
            &[
                "no line breeds true for mid: A makes it impossible",
                "two different alleles at A",
            ],
        ),
        (
            "plan line --plant A/a --genotype A/a",
            1,
            &["no line breeds true for A/a: A makes it impossible"],
        ),
        (
            "plan line --plant 'A/a b/b' --genotype 'a/a B/B'",
            1,
            &["B makes it impossible", "B: the plant is b/b"],
        ),
        (
            "plan line --mother A/_ --father a/a --class green",
            1,
            &["not stated is the mother at A"],
        ),
        (
            "plan line --mother A/a --father a/a --class green --recurrent mother",
            1,
            &["the mother splits at A"],
        ),
        (
            "plan line --mother A/A --father a/a --class green --recurrent father",
            1,
            &["the father breeds true for green already"],
        ),
        (
            "plan line --plant A/a --class green --recurrent mother",
            2,
            &["takes two parents"],
        ),
        (
            "plan line --mother A/A --father a/a --class green --class purple",
            2,
            &["no line is of two classes of one trait"],
        ),
        (
            "plan line --mother A/A --father a/a --class green=2",
            2,
            &["stands with --want"],
        ),
        (
            "plan line --mother A/A --father a/a",
            2,
            &["what is the line to breed true for?"],
        ),
        ("plan line --class green", 2, &["from what?"]),
        (
            "plan line --plant A/a --class green --confidence 1",
            2,
            &["it lies below 1"],
        ),
        (
            "plan line --plant A/a --class green --germination 0",
            2,
            &["0 is no chance"],
        ),
        (
            "plan line --mother A/A --father a/a --class green --recurrent mother --arm 60mm",
            2,
            &["'mm' is no unit"],
        ),
        (
            "plan line --mother A/A --father a/a --class green --recurrent mother --arm 0",
            2,
            &["above 0"],
        ),
        (
            "plan line --mother A/A --father a/a --class green --recurrent mother --arm Pun1=60",
            1,
            &["no gene that is brought in here"],
        ),
        (
            too_many.as_str(),
            1,
            &["more than 600 kinds of plants", "fewer genes at once"],
        ),
    ] {
        let said = flat(&bench.fails(line, status));
        for part in parts {
            assert!(said.contains(part), "{line}: {said}");
        }
    }
}
