//! `late-colour`, `trait late`, `mishaps` and `assume` with several keys, as they are typed.

use crate::support::{Bench, flat};

/// A control pot with looks while it turns, and a cross of a green mother with one seedling that stays green.
fn season() -> Bench {
    let mut bench = Bench::new();
    for (day, line) in [
        ("2026-01-02", "init"),
        ("2026-01-02", "parent add NL --genotype A/A --proven"),
        ("2026-01-02", "parent add CW --genotype a/a"),
        ("2026-01-02", "parent add GR --genotype A/a"),
        ("2026-01-02", "cross CW NL --tool brush"),
        ("2026-02-02", "sow X1 --seeds 8 --place tent"),
        ("2026-02-02", "sow NL --seeds 8 --place sill"),
        ("2026-02-02", "sow GR --seeds 8"),
        ("2026-02-10", "up T1 --cells 1-8"),
        ("2026-02-10", "up T2 --cells 1-8"),
        ("2026-02-10", "up T3 --cells 1-8"),
        ("2026-02-17", "score T1 1=purple 2-8=green"),
        ("2026-02-17", "score T2 1-2=purple 3-8=green"),
        ("2026-02-20", "score T1 2-3=purple 4-8=green"),
        ("2026-02-20", "score T2 3-5=purple 6-8=green"),
        ("2026-02-25", "score T1 4-6=purple 7-8=green"),
        ("2026-02-25", "score T2 6-7=purple 8=green"),
        ("2026-03-08", "score T1 7=purple 8=green"),
        ("2026-03-08", "score T2 8=purple"),
        ("2026-03-08", "score T3 1-5=purple 6-8=green"),
    ] {
        bench.on(day).ok(line);
    }
    bench.on("2026-03-10");
    bench
}

#[test]
fn bare_late_colour_says_what_is_in_use_and_what_a_control_pot_is() {
    let out = flat(&season().ok("late-colour"));
    assert!(
        out.starts_with(
            "foliage: half of the purple seedlings show it by 12 days after coming up, spread of the log 0.35"
        ),
        "{out}"
    );
    assert!(out.contains("Your own 2 trays would say"), "{out}");
    assert!(
        out.contains("A control pot is selfed seed of a plant that must show"),
        "{out}"
    );
    let empty = {
        let bench = Bench::new();
        bench.ok("init");
        flat(&bench.ok("late-colour fit --trait foliage"))
    };
    assert!(
        empty.contains("too little to learn from: no tray was scored for it yet"),
        "{empty}"
    );
    assert!(empty.contains("What it takes: about"), "{empty}");
}

#[test]
fn a_fit_says_what_it_rests_on_and_records_nothing() {
    let bench = season();
    let before = bench.ok("export");
    let out = bench.ok("late-colour fit");
    assert!(flat(&out).contains("T2 NL 8 8 yes, a control pot"), "{out}");
    assert!(
        flat(&out).contains("no: its label promises purple of 75 % only"),
        "{out}"
    );
    let answer = bench.json("late-colour fit");
    let foliage = &answer["traits"][0];
    assert_eq!(foliage["trait"], "foliage");
    assert_eq!(foliage["trays"][2]["left_out"], "not-promised");
    let median = &foliage["fit"]["median_days"];
    let (low, value, high) = (
        median["low"].as_f64().unwrap(),
        median["value"].as_f64().unwrap(),
        median["high"].as_f64().unwrap(),
    );
    assert!(
        low < value && value < high && value > 7.0 && value < 14.0,
        "{median}"
    );
    assert_eq!(answer["stored"], serde_json::Value::Null);
    let parts = bench.json("late-colour fit --by-place");
    let names: Vec<&str> = parts["traits"][0]["parts"]
        .as_array()
        .unwrap()
        .iter()
        .map(|part| part["name"].as_str().unwrap())
        .collect();
    assert_eq!(names, ["tent", "sill"]);
    assert_eq!(bench.ok("export"), before);
}

#[test]
fn a_fit_is_stored_as_one_entry_that_says_its_numbers() {
    let bench = season();
    let doubted = &bench.json("late-colour fit")["traits"][0]["doubted_parents"];
    assert_eq!(
        doubted,
        &serde_json::json!([]),
        "trays that all turn doubt nobody"
    );
    let err = flat(&bench.fails("late-colour fit --store", 1));
    assert!(err.contains("rests on too little to be relied on"), "{err}");
    assert!(
        err.contains("try: locule late-colour fit --store --even-so") && !err.contains("''"),
        "{err}"
    );
    let out = flat(&bench.ok("late-colour fit --store --even-so"));
    assert!(
        out.starts_with("Stored as entry 21: foliage: half of the purple seedlings"),
        "{out}"
    );
    let history = bench.json("history");
    let typed = history["entries"][20]["command"].as_str().unwrap();
    assert!(
        typed.starts_with("trait late foliage --median-days "),
        "{typed}"
    );
    let shown = bench.json("show foliage");
    let stored: f64 = typed.split(' ').nth(4).unwrap().parse().unwrap();
    assert_eq!(
        bench.json("late-colour")["traits"][0]["in_use"]["median_days"],
        stored,
        "{shown}"
    );
    let out = flat(&bench.ok("amend 21 --median-days 11"));
    assert!(out.contains("-> 11"), "{out}");
    bench.ok("undo");
    bench.ok("undo");
    assert_eq!(
        bench.json("late-colour")["traits"][0]["in_use"]["median_days"],
        12.0
    );
    assert!(bench.ok("check-ledger").contains("All is well"));
}

#[test]
fn a_late_colour_is_set_by_hand() {
    let bench = season();
    let out = flat(&bench.ok("trait late foliage --median-days 10.5 --spread 0.3"));
    assert_eq!(
        out.trim(),
        "foliage: half of the purple seedlings show it 10.5 days after coming up, spread of the log 0.3, 0.9999 ever."
    );
    for (line, said) in [
        ("trait late foliage --median-days 0", "above 0"),
        ("trait late foliage --spread -1", "above 0"),
        ("trait late foliage --ceiling 1.5", "ceiling"),
        ("trait late foliage --median-days ten", "'ten'"),
        (
            "trait late stem-hair --median-days 9",
            "no class that shows late",
        ),
        ("trait late foliage --median-days 10.5", "already"),
    ] {
        let err = flat(&bench.fails(line, 1));
        assert!(err.contains(said), "{line}: {err}");
    }
    assert!(
        bench
            .fails("trait late foliage", 2)
            .contains("--median-days")
    );
}

#[test]
fn typical_mistakes_are_named() {
    let bench = season();
    for (line, status, said) in [
        (
            "late-colour fit --trait stem-hair",
            1,
            "stem-hair has no class that shows late",
        ),
        ("late-colour fit --trait folage", 1, "folage"),
        ("late-colour --trait NL", 1, "NL"),
        ("late-colour fit --by-place --by-light", 2, "--by-light"),
        ("late-colour fit --by-place --store", 2, "--store"),
        ("mishaps --by tool --store", 2, "cannot be stored"),
        ("mishaps --by glove", 2, "technique"),
        (
            "assume dim 0.1 doubtful",
            2,
            "the key 'doubtful' has no value",
        ),
        ("assume dim 0.1 dimm 0.2", 1, "dimm"),
        (
            "assume verdict.keep 0.6 verdict.cull 0.5",
            1,
            "must lie below",
        ),
    ] {
        let err = flat(&bench.fails(line, status));
        assert!(err.contains(said), "{line}: {err}");
    }
    let empty = Bench::new();
    empty.ok("init");
    let err = flat(&empty.fails("mishaps --store", 1));
    assert!(
        err.contains("nothing to store: no tray with a telling reading yet"),
        "{err}"
    );
    let out = flat(&empty.ok("mishaps"));
    assert!(out.starts_with("Nothing to learn from yet"), "{out}");
    let err = flat(&empty.fails("late-colour fit --store", 1));
    assert!(err.contains("there is nothing to store"), "{err}");
    assert!(Bench::new().fails("mishaps", 1).contains("locule init"));
}

#[test]
fn mishaps_are_told_and_stored_as_one_entry() {
    let bench = season();
    let answer = bench.json("mishaps");
    assert_eq!(answer["trays"], 3);
    assert_eq!(answer["none"][0]["key"], "none.emasculated");
    assert_eq!(answer["none"][1]["key"], "none.self-open");
    let off = &answer["off_types_per_100"];
    assert!(off["all_covered"].as_f64().unwrap() < off["now"].as_f64().unwrap());
    let out = flat(&bench.ok("mishaps"));
    assert!(out.contains("That is few: the starting beliefs"), "{out}");
    let tool = bench.json("mishaps --by tool");
    assert_eq!(tool["none"][0]["tool"], "brush, not wiped");
    let fitted = answer["none"][0]["fitted"]["value"].as_f64().unwrap();
    let out = flat(&bench.ok("mishaps --store"));
    assert!(
        out.starts_with("Stored as entry 21: none.emasculated"),
        "{out}"
    );
    let in_use = bench.json("mishaps")["none"][0]["in_use"].as_f64().unwrap();
    assert!((in_use - fitted).abs() < 1e-4);
    // Nothing has moved, so nothing is written.
    let err = flat(&bench.fails("mishaps --store", 1));
    assert!(
        err.contains("no figure has moved beyond its standard error"),
        "{err}"
    );
    assert_eq!(
        bench.json("history")["entries"].as_array().unwrap().len(),
        21
    );
    let history = bench.json("history");
    let typed = history["entries"][20]["command"].as_str().unwrap();
    assert!(typed.starts_with("assume none.emasculated 0."), "{typed}");
    bench.ok("undo");
    assert_eq!(bench.json("mishaps")["none"][0]["in_use"], 0.7);
}

#[test]
fn several_beliefs_are_one_entry() {
    let bench = season();
    let out = flat(&bench.ok("assume dim 0.05 doubtful 0.2"));
    assert_eq!(
        out.trim(),
        "dim 0.05 (was 0.02, the default), doubtful 0.2 (was 0.1, the default)."
    );
    let out = flat(&bench.ok("amend 21 assume dim 0.05 doubtful 0.3"));
    assert!(out.contains("0.2 -> 0.3"), "{out}");
    // The last word on a key holds, and a default is taken again.
    bench.ok("assume dim 0.07 dim default doubtful 0.3");
    let dim = bench.json("assume dim");
    assert_eq!(dim["assumptions"][0]["value"], 0.02);
    let err = flat(&bench.fails("assume dim default doubtful 0.3", 1));
    assert!(err.contains("already"), "{err}");
}

#[test]
fn trays_of_one_lot_are_told_apart_by_its_pollinations_and_counted_as_akin() {
    let mut bench = Bench::new();
    bench.on("2026-06-01");
    for line in [
        "init",
        "parent add CW --genotype a/a",
        "parent add NL --genotype A/A",
        "parent add WH --genotype a/a",
        "cross WH NL --tool brush --wiped --on 2026-01-10",
        "cross CW NL --code XA --tool brush --on 2026-01-10",
        "cross CW NL --code XA --tool tweezers --wiped --on 2026-01-20",
        "harvest XA --seeds 20 --pollinated 2026-01-10 --on 2026-03-20",
        "harvest XA --seeds 20 --pollinated 2026-01-20 --on 2026-03-20",
        "sow XA --lot 1 --seeds 6 --on 2026-03-21",
        "sow XA --lot 1 --seeds 6 --on 2026-03-21",
        "sow XA --lot 2 --seeds 6 --on 2026-03-21",
        "up T1 6 --on 2026-03-29",
        "up T2 6 --on 2026-03-29",
        "up T3 6 --on 2026-03-29",
        "score T1 6 purple --on 2026-05-20",
        "score T2 6 purple --on 2026-05-20",
        "score T3 6 purple --on 2026-05-20",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    let tools = bench.json("mishaps --by tool");
    let rows = tools["none"].as_array().unwrap();
    let row = |at: usize| (rows[at]["tool"].as_str().unwrap(), &rows[at]["trays"]);
    let mut named = [row(0), row(1)].map(|(tool, trays)| format!("{tool}: {trays}"));
    named.sort();
    assert_eq!(named, ["brush, not wiped: 2", "tweezers, wiped: 1"]);
    let answer = bench.json("mishaps");
    assert_eq!(
        (&answer["pollinations"], &answer["lots"]),
        (&2.into(), &2.into())
    );
    let out = flat(&bench.ok("mishaps"));
    assert!(
        out.contains("They come from 2 pollinations and 2 lots; each tray counts"),
        "{out}"
    );
    assert!(
        out.contains("What wiping would have bought rests on the starting weights of donors"),
        "{out}"
    );
}

#[test]
fn a_place_is_set_against_another_only_by_the_same_numbers() {
    let bench = season();
    let answer = bench.json("late-colour fit --by-place");
    let of = &answer["traits"][0];
    let free = |fit: &serde_json::Value| {
        ["median_days", "spread", "ceiling"].map(|number| fit[number].is_object())
    };
    let whole = free(&of["fit"]);
    let parts = of["parts"].as_array().unwrap();
    let same = parts.iter().all(|part| free(&part["fit"]) == whole);
    assert_eq!(of["difference"].is_object(), same, "{of}");
    // One seedling of a place says nothing of the spread there.
    bench.ok("sow NL --seeds 2 --place shed --on 2026-02-02");
    bench.ok("up T4 --cells 1-2 --on 2026-02-10");
    bench.ok("score T4 1=purple 2=green --on 2026-02-22");
    let answer = bench.json("late-colour fit --by-place");
    let of = &answer["traits"][0];
    let mut parts = of["parts"].as_array().unwrap().iter();
    let shed = parts.find(|part| part["name"] == "shed").unwrap();
    assert!(shed["fit"]["median_days"].is_object(), "{shed}");
    assert!(shed["fit"]["spread"].is_null(), "{shed}");
    assert!(of["difference"].is_null(), "{of}");
}

/// Trays of which half stays green may be slow or of a father that splits. The fit takes them for slow: it says so, and
/// stores nothing without a word.
#[test]
fn a_parent_that_everything_speaks_against_is_named() {
    let mut bench = Bench::new();
    bench.on("2026-05-20");
    let mut lines = vec![
        "init".to_owned(),
        "parent add CW --genotype a/a".to_owned(),
        "parent add NL --genotype A/A".to_owned(),
        "cross CW NL --on 2025-06-01".to_owned(),
    ];
    for tray in ["T1", "T2", "T3"] {
        lines.push("sow X1 --seeds 12 --on 2026-03-14".to_owned());
        lines.push(format!("up {tray} 12 --on 2026-03-24"));
        lines.push(format!("score {tray} 1=purple 2-12=green --on 2026-04-01"));
        lines.push(format!(
            "score {tray} 2-6=purple 7-12=green --on 2026-04-14"
        ));
        lines.push(format!("score {tray} 7-12=green --on 2026-05-18"));
    }
    for line in &lines {
        bench.ok(line);
    }
    let told = bench.json("late-colour fit --trait foliage");
    let doubted = &told["traits"][0]["doubted_parents"];
    assert_eq!(doubted[0]["plant"], "NL", "{told}");
    assert_eq!(doubted[0]["stated"], "A/A");
    assert!(
        doubted[0]["p_as_stated"].as_f64().unwrap() < 0.2,
        "{doubted}"
    );
    assert_eq!(
        (&doubted[0]["trays"], &doubted[1]),
        (
            &serde_json::json!(["T1", "T2", "T3"]),
            &serde_json::Value::Null
        )
    );
    let said = flat(&bench.ok("late-colour fit"));
    assert!(
        said.contains("Beware: NL may not be A/A") && !said.contains("To take it into use"),
        "{said}"
    );
    let refused = flat(&bench.fails("late-colour fit --trait foliage --store", 1));
    assert!(
        refused.contains("rests on NL, of which everything recorded speaks otherwise")
            && refused.contains("--even-so"),
        "{refused}"
    );
    bench.ok("late-colour fit --trait foliage --store --even-so");
}
