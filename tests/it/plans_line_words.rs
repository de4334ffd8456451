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
