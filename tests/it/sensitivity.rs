//! Whether a cull would stand if something were otherwise: held against ledgers in which it is otherwise.
//!
//! Every supposition of the answer is made true in a ledger of its own, by the commands a grower has, and the two must
//! agree. Only the tray asked about stands in these ledgers, so that nothing else says anything of its parents.

use serde_json::Value;

use crate::support::{Bench, flat};

const AGREE: f64 = 1e-9;

/// Nothing comes from outside the ledger, so that what is stated of a parent reaches no stranger.
const CLOSED: [&str; 3] = [
    "assume weight.unknown-pollen 0",
    "assume weight.unknown-seed 0",
    "assume whole-batch 0",
];

/// A tray of a green mother and a spotted father with some plain seedlings; the trait is late.
fn tray(father: &str, median: &str, before: &[&str]) -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-05-20");
    bench.ok("init");
    bench.ok(&format!(
        "trait add spots --classes spotted,plain --rule 'Q/_ => spotted' --rule 'else => plain' \
         --late 'spotted after plain' --median-days {median} --spread 0.35 --ceiling 0.9999"
    ));
    for line in before {
        bench.ok(line);
    }
    for line in [
        "parent add MO --genotype q/q",
        &format!("parent add FA {father}"),
        "cross MO FA --on 2026-01-10",
        "sow X1 --seeds 12 --on 2026-03-14",
        "up T1 12 --on 2026-03-28",
        "score T1 1-9=spotted 10-12=plain --on 2026-05-04",
    ] {
        bench.ok(line);
    }
    bench
}

fn seedling(bench: &Bench, name: &str) -> Value {
    let answer = bench.json("suspects T1");
    let list = answer["batches"][0]["seedlings"]
        .as_array()
        .unwrap()
        .clone();
    list.into_iter()
        .find(|one| one["seedling"] == name)
        .unwrap()
}

fn p_off(bench: &Bench) -> f64 {
    seedling(bench, "T1-12")["p_off"].as_f64().unwrap()
}

/// What the answer says would come of a supposition.
fn supposed(bench: &Bench, supposing: &str) -> f64 {
    let answer = bench.json("why T1-12");
    let trials = answer["if_otherwise"].as_array().unwrap();
    let found = trials.iter().find(|one| one["supposing"] == supposing);
    found.unwrap()["p_off"].as_f64().unwrap()
}

fn agree(said: f64, true_there: f64) {
    assert!((said - true_there).abs() < AGREE, "{said} {true_there}");
}

#[test]
fn half_and_twice_the_off_types_are_what_the_ledger_says_with_other_starting_beliefs() {
    let bench = tray("--genotype Q/Q", "12", &[]);
    // P(none) is 0.70 for an emasculated cross: 1 - 0.30 / 2 and 1 - 2 x 0.30.
    let fewer = tray("--genotype Q/Q", "12", &["assume none.emasculated 0.85"]);
    let more = tray("--genotype Q/Q", "12", &["assume none.emasculated 0.4"]);
    agree(supposed(&bench, "contamination-halved"), p_off(&fewer));
    agree(supposed(&bench, "contamination-doubled"), p_off(&more));
    assert!(p_off(&fewer) < p_off(&bench) && p_off(&bench) < p_off(&more));
    // Where they are common already P(none) is halved: from 0.10 to 0.05.
    let careless = tray("--genotype Q/Q", "12", &["assume none.emasculated 0.1"]);
    let worse = tray("--genotype Q/Q", "12", &["assume none.emasculated 0.05"]);
    agree(supposed(&careless, "contamination-doubled"), p_off(&worse));
}

#[test]
fn slower_colour_is_what_the_ledger_says_of_a_later_trait() {
    // 1.3 x 12 = 15.6 days.
    let (bench, slower) = (
        tray("--genotype Q/Q", "12", &[]),
        tray("--genotype Q/Q", "15.6", &[]),
    );
    agree(supposed(&bench, "slower-colour"), p_off(&slower));
    assert!(p_off(&slower) < p_off(&bench) - 0.001);
}

#[test]
fn a_statement_set_aside_is_what_the_ledger_says_without_it() {
    for father in [
        "--genotype Q/Q",
        "--genotype Q/_",
        "--genotype Q/Q --proven",
    ] {
        let bench = tray(father, "12", &CLOSED);
        let unstated = tray("", "12", &CLOSED);
        let answer = bench.json("why T1-12");
        let trials = answer["if_otherwise"].as_array().unwrap().clone();
        let of_father = trials.iter().find(|one| one["plant"] == "FA").unwrap();
        agree(of_father["p_off"].as_f64().unwrap(), p_off(&unstated));
        let of_mother = trials.iter().find(|one| one["plant"] == "MO").unwrap();
        assert_eq!(of_mother["stated"], "q/q");
        let stripped = answer["seedling"]["p_off"].as_f64().unwrap();
        assert!((of_mother["p_off"].as_f64().unwrap() - stripped).abs() > 1e-6);
    }
    // Nothing stated, nothing to set aside.
    let answer = tray("", "12", &CLOSED).json("why T1-12");
    let trials = answer["if_otherwise"].as_array().unwrap().clone();
    assert!(trials.iter().all(|one| one["plant"] != "FA"), "{trials:?}");
}

#[test]
fn a_cull_that_would_fall_says_so_on_the_list_and_the_sheet() {
    let bench = tray("--genotype Q/Q", "12", &["assume verdict.cull 0.9"]);
    let cull = seedling(&bench, "T1-12");
    assert_eq!(cull["verdict"], "cull");
    let fallen: Vec<&Value> = cull["if_otherwise"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|one| one["stands"] == false)
        .collect();
    assert!(!fallen.is_empty(), "{cull}");
    for one in &fallen {
        assert!(one["p_off"].as_f64().unwrap() < 0.9, "{one}");
    }
    let stands = cull["if_otherwise"].as_array().unwrap().iter();
    for one in stands.filter(|one| one["stands"] == true) {
        assert!(one["p_off"].as_f64().unwrap() >= 0.9, "{one}");
    }
    for command in ["suspects T1", "sheet T1", "sheet T1 --markdown"] {
        assert!(
            flat(&bench.ok(command)).contains("No cull if "),
            "{command}"
        );
    }
    let listed = bench.json("sheet T1")["trays"][0]["groups"][0]["lines"][0]["unless"].clone();
    assert!(
        listed.as_str().unwrap().starts_with("No cull if "),
        "{listed}"
    );
    // A seedling that is kept is not tried: nothing is done to it.
    assert_eq!(
        seedling(&bench, "T1-01")["if_otherwise"],
        serde_json::json!([])
    );
    // Sure enough, nothing is said.
    let sure = tray(
        "--genotype Q/Q --proven",
        "12",
        &["assume verdict.cull 0.3"],
    );
    assert!(!flat(&sure.ok("suspects T1")).contains("No cull if "));
}

/// A tray of which nobody has coloured, beside one whose parents it does not share.
fn dark_shelf(place_of_other: &str, late: &[&str]) -> Bench {
    let bench = tray("--genotype Q/Q", "12", &CLOSED);
    let sow = format!("sow X2 --seeds 6 --tray B --place {place_of_other} --on 2026-03-15");
    for line in [
        "parent add M2 --genotype q/q",
        "parent add F2 --genotype Q/Q",
        "cross M2 F2 --on 2026-01-10",
        "sow X1 --seeds 12 --tray C --place shelf --on 2026-03-14",
        sow.as_str(),
        "up C 12 --on 2026-03-28",
        "up B 6 --on 2026-03-28",
        "score C 1-12=plain --on 2026-05-04",
    ] {
        bench.ok(line);
    }
    for line in late {
        bench.ok(line);
    }
    bench
}

#[test]
fn a_single_late_colour_beside_a_tray_is_tried_as_misread_and_two_are_not() {
    let one = "score B 1=spotted 2-6=early --on 2026-05-04";
    let bench = dark_shelf("shelf", &[one]);
    let elsewhere = dark_shelf("window", &[one]);
    let answer = bench.json("suspects C");
    let batch = &answer["batches"][0];
    let said = |of: &Value| {
        let list = of["batches"][0]["seedlings"].as_array().unwrap().clone();
        list[0].clone()
    };
    let cull = said(&answer);
    assert_eq!(cull["verdict"], "cull", "{batch}");
    let trials = cull["if_otherwise"].as_array().unwrap();
    let trial = trials
        .iter()
        .find(|one| one["supposing"] == "light-misread");
    let trial = trial.unwrap();
    assert_eq!(trial["tray"], "B");
    let there = said(&elsewhere.json("suspects C"));
    agree(
        trial["p_off"].as_f64().unwrap(),
        there["p_off"].as_f64().unwrap(),
    );
    let words = flat(&bench.ok("suspects C"));
    assert!(words.contains("That is one reading, and all that says so: look at it once more."));
    let two = dark_shelf("shelf", &["score B 1-2=spotted 3-6=early --on 2026-05-04"]);
    let cull = said(&two.json("suspects C"));
    let mut trials = cull["if_otherwise"].as_array().unwrap().iter();
    assert!(trials.all(|one| one["supposing"] != "light-misread"));
    let words = flat(&two.ok("suspects C"));
    assert!(words.contains("coloured there"), "{words}");
    assert!(!words.contains("all that says so"), "{words}");
}
