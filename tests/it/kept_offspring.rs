//! A plant kept from a tray whose own seed tells another story than the tray: every command says the same of it.

use serde_json::Value;

use crate::support::{Bench, flat};

/// Ten purple seedlings of a purple mother by a green father, alike whether selfed or not. One was kept, and all 24 of its
/// own seed are purple: it is A/A, which the label cannot give.
fn season() -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-05-20");
    for line in [
        "init",
        "parent add CW --genotype a/a",
        "parent add NL --genotype A/A",
        "parent add GG --genotype a/a",
        "cross GG NL --tool brush --wiped --on 2025-01-12",
        "cross NL CW --tool brush --on 2025-01-12",
        "sow X2 --seeds 12 --on 2025-03-14",
        "up T1 12 --on 2025-03-28",
        "score T1 1-10=purple --on 2025-05-10",
        "parent add K1 --from T1-01",
        "self K1 --on 2025-08-01",
        "sow X3 --seeds 24 --on 2026-03-14",
        "up T2 24 --on 2026-03-28",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    bench
}

fn remark(answer: &Value) -> Value {
    let remarks = answer["remarks"].as_array().unwrap().iter();
    let own = remarks.clone().find(|one| one["kind"] == "kept-say");
    own.cloned().unwrap_or(Value::Null)
}

#[test]
fn every_screen_says_the_same_of_a_kept_plant() {
    let bench = season();
    assert_eq!(
        remark(&bench.json("suspects T1")["batches"][0]),
        Value::Null
    );
    bench.ok("score T2 24 purple");
    bench.ok("goal add purple --must");
    let batch = &bench.json("suspects T1")["batches"][0];
    let said = remark(batch);
    let p = |at: usize| said["seedlings"][at]["p_off"].as_f64().unwrap();
    assert_eq!(said["seedlings"][0]["kept_as"], "K1", "{batch}");
    assert!(p(0) > 0.9 && p(1) > 0.5, "{said}");
    assert_eq!(
        said["seedlings"][0]["p_off_listed"], batch["seedlings"][0]["p_off"],
        "the list itself goes by the tray"
    );
    assert_eq!(
        said["seedlings"][1]["seedlings"].as_array().unwrap().len(),
        9
    );
    let ranked = bench.json("rank T1 K1")["plants"]
        .as_array()
        .unwrap()
        .clone();
    for (plant, at) in [("K1", 0), ("T1-02", 1)] {
        let own = ranked.iter().find(|one| one["plant"] == plant).unwrap();
        let p_off = own["p_off"].as_f64().unwrap();
        assert!((p_off - p(at)).abs() < 1e-9, "{plant}: {p_off}, {said}");
    }
    let words = "The list of T1 goes by T1 alone. What was kept from it and came of that says more: T1-01 (K1) off-type 94.2 %, not";
    for question in [
        "suspects T1",
        "suspects",
        "why T1-01",
        "why T1-05",
        "sheet T1",
    ] {
        let text = flat(&bench.ok(question));
        assert!(text.contains(words), "{question}: {text}");
    }
}

/// Kept as what everything recorded makes it: a self. No pollen of a green plant can have given it.
#[test]
fn it_is_adopted_by_everything_recorded() {
    let bench = season();
    bench.ok("score T2 24 purple");
    let p_off = remark(&bench.json("suspects T1")["batches"][0])["seedlings"][0]["p_off"]
        .as_f64()
        .unwrap();
    let run = bench.run("adopt K1 --json");
    assert_eq!(run.status, Some(0), "{}", run.err);
    let answer: Value = serde_json::from_str(&run.out).unwrap();
    let odds = answer["odds"].as_array().unwrap();
    let chance = |mother: &str, father: &str| {
        let own = odds
            .iter()
            .find(|one| one["mother"] == mother && one["father"] == father);
        own.map_or(0.0, |one| one["p"].as_f64().unwrap())
    };
    assert!(chance("NL", "NL") > 0.8, "{answer}");
    assert!(chance("NL", "GG") < 0.01, "{answer}");
    assert!(
        (chance("NL", "CW") - (1.0 - p_off)).abs() < 1e-4,
        "{answer}"
    );
}
