//! What `pick` says over several crosses: who goes without a place, what is left, what is to be scored and settled, and by
//! what places were shared.

use serde_json::{Value, json};

use crate::support::{Bench, flat};

/// Four crosses: one of a tray and a pot, one in doubtful light, one of two looks, one with a single likely seedling.
fn four_crosses() -> Bench {
    let mut bench = Bench::new();
    for line in [
        "init",
        "trait add felt --classes felted,bald --rule 'Q/Q => felted' --rule 'else => bald'",
        "parent add NL 'Night Lantern' --genotype 'A/A Q/q'",
        "parent add CW --genotype 'a/a Q/q'",
        "parent add RB --plant --genotype A/a",
        "parent add GG --genotype 'a/a Q/q'",
        "cross CW NL --flowers 3",
        "cross NL CW --flowers 3",
        "cross CW RB --flowers 3",
        "cross GG NL --flowers 3",
    ] {
        bench.on("2026-01-02").ok(line);
    }
    bench.on("2026-04-01");
    for cross in 1..=4 {
        bench.ok(&format!("sow X{cross} --seeds 12 --on 2026-02-02"));
        bench.ok(&format!("up T{cross} --cells 1-12 --on 2026-02-12"));
    }
    bench.ok("sow X1 --seeds 9 --cells 3 --tray P1 --on 2026-02-02");
    bench.ok("up P1 9 --on 2026-02-14");
    for line in [
        "score T1 1-3=purple 4-8=green 9-10=maybe-green",
        "score P1-01 3 purple",
        "score T2 1-6=maybe-green 7=green 8-9=early",
        "score T3 1-5=purple 6-12=green",
        "score T4 1=purple 2-4=green",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    bench.on("2026-04-02");
    bench
}

fn crosses(told: &Value) -> &Vec<Value> {
    told["crosses"].as_array().unwrap()
}

fn says(bench: &Bench, line: &str, words: &[&str]) {
    let said = flat(&bench.ok(line));
    for words in words {
        assert!(said.contains(words), "{line}: {words}: {said}");
    }
}

#[test]
fn a_cross_that_goes_without_is_named_with_what_is_lost() {
    let bench = four_crosses();
    says(
        &bench,
        "pick --places 2",
        &[
            "Of 4 crosses 1.95 have a true one on average.",
            "X2 and X4 get no place, so 7 likely true seedlings of X2 and 1 likely true seedling of X4 would be lost: \
             --places 4 has one for every cross.",
            "X2, NL x CW, in T2 It gets no place: none is left for it.",
            "It gets 1 place of 2 wanted: no more places are left.",
            "4 others are as good: any will do.",
            "one whose mother has none before it comes first",
        ],
    );
    let told = bench.json("pick --places 2");
    assert_eq!(told["places_for_each"], 4);
    let without = crosses(&told).iter().map(|cross| &cross["goes_without"]);
    assert_eq!(
        without.collect::<Vec<_>>(),
        [&json!(false), &json!(true), &json!(false), &json!(true)]
    );
    let enough = bench.json("pick --places 4");
    assert!(crosses(&enough).iter().all(|cross| cross["places"] == 1));
    assert_eq!(enough["places_for_each"], Value::Null);
    assert!(!flat(&bench.ok("pick --places 4")).contains("no place"));
}

#[test]
fn places_left_are_left_since_each_cross_has_its_number() {
    let bench = four_crosses();
    says(
        &bench,
        "pick --places 40",
        &["32 places are left: each cross has the 2 asked for; --per-cross 3 uses more."],
    );
    says(
        &bench,
        "pick X4 --per-cross 6 --places 40 --reserve 3",
        &[
            "33 places are left: each cross has the 6 asked for, or all that it can have.",
            "3 places in reserve are left: no cross has another seedling to step in.",
            "It gets 4 places of 6 wanted: it has no other seedling to choose.",
        ],
    );
    assert_eq!(
        bench.json("pick X4 --places 40 --reserve 3")["reserve_left"],
        1
    );
}

/// What was not scored is told tray by tray; those that nothing settles with one sentence for all.
#[test]
fn what_is_to_be_scored_and_settled_is_put_together() {
    let bench = four_crosses();
    says(
        &bench,
        "pick",
        &[
            "SCORE FIRST [ ] T1-11 [ ] T1-12 [ ] 6 seedlings in P1 Nothing is known",
            "[ ] T4-02 green 1 Apr; off-type 90.9 %. None better is left, so a place is held for it.",
            "[ ] T4-03 [ ] T4-04 green 1 Apr; off-type 90.9 %. Its cross is short of better ones, so leave it for now.",
            "They all stand in P1-01 and can be lost together; the likeliest elsewhere is T1-01, off-type 13 %.",
        ],
    );
    let told = bench.json("pick");
    assert_eq!(
        crosses(&told)[0]["unscored_in"],
        json!([
            {"tray": "T1", "seedlings": ["T1-11", "T1-12"], "count": 2},
            {"tray": "P1", "seedlings": [], "count": 6},
        ])
    );
    let held = &crosses(&told)[3]["settle"];
    assert_eq!(
        (&held[0]["holds"], &held[1]["holds"]),
        (&json!(1), &json!(0))
    );
    let markdown = bench.ok("pick X1 --markdown");
    assert!(
        markdown.contains("- [ ] T1-11\n- [ ] T1-12\n- [ ] 6 seedlings in P1\n"),
        "{markdown}"
    );
}

#[test]
fn what_cannot_be_chosen_yet_is_told_from_what_cannot_be_kept() {
    let mut bench = four_crosses();
    bench.ok("cross GG CW --flowers 3 --on 2026-01-02");
    bench.ok("sow X5 --seeds 6 --tray T5 --on 2026-02-02");
    bench.ok("up T5 --cells 1-6 --on 2026-02-12");
    says(
        &bench,
        "pick X5",
        &[
            "Keep 0 seedlings, score 6 first.",
            "None can be chosen yet: score its seedlings first.",
        ],
    );
    bench
        .on("2026-06-20")
        .ok("cross GG RB --code X6 --on 2026-01-02");
    bench.ok("sow X6 --seeds 1 --tray T6 --on 2026-06-01");
    bench.ok("died T6 1 --on 2026-06-10");
    says(&bench, "pick X6", &["Nothing of it stands to be chosen."]);
}

/// Both directions of a cross, in one of which a seedling is felted.
fn both_directions() -> Bench {
    let mut bench = Bench::new();
    for line in [
        "init",
        "trait add felt --classes felted,bald --rule 'Q/Q => felted' --rule 'else => bald'",
        "parent add NL 'Night Lantern' --genotype 'A/A Q/q'",
        "parent add CW --genotype 'a/a Q/q'",
        "cross CW NL --flowers 3",
        "cross NL CW --flowers 3",
    ] {
        bench.on("2026-01-02").ok(line);
    }
    bench.on("2026-04-01");
    for line in [
        "sow X1 --seeds 6 --on 2026-02-02",
        "up T1 --cells 1-6 --on 2026-02-12",
        "sow X2 --seeds 6 --on 2026-02-02",
        "up T2 --cells 1-6 --on 2026-02-12",
        "score T1 1-3=purple",
        "score T2 1-3=purple",
        "score T1 1-3=bald",
        "score T2 1=felted 2-3=bald",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    bench
}

/// A place goes where a true seedling is likelier, until goals make one of the other cross worth more.
#[test]
fn goals_share_places_between_crosses() {
    let bench = both_directions();
    let places = |told: &Value| -> Vec<u64> {
        let each = crosses(told).iter();
        let each = each.map(|cross| cross["places"].as_u64().unwrap());
        each.collect()
    };
    assert_eq!(places(&bench.json("pick --places 1")), [1, 0]);
    says(
        &bench,
        "pick --places 1",
        &["Places go where they add most to the chance that each cross has a true one."],
    );
    bench.ok("goal add felted --must");
    let told = bench.json("pick --places 1");
    assert_eq!(places(&told), [0, 1]);
    says(
        &bench,
        "pick --places 1",
        &[
            "Places go where they add most to what the best true one of each cross is worth by your goals.",
            "Its best true one is worth 87 of 100 by your goals, on average.",
        ],
    );
    let (cross, line) = (&crosses(&told)[1], &crosses(&told)[1]["keep"][0]);
    let number = |value: &Value| value.as_f64().unwrap();
    let worth = number(&line["goals"]).round() * (1.0 - number(&line["p_off"]));
    assert!(
        (number(&cross["goals_of_best"]) - worth).abs() < 1e-9,
        "{cross}"
    );
    assert_eq!(told["goals_share_places"], true);
    bench.ok("sow X1 --seeds 9 --cells 3 --tray P1 --on 2026-02-02");
    bench.ok("up P1 9 --on 2026-02-14");
    bench.ok("score P1-01 3 purple");
    assert_eq!(
        crosses(&bench.json("pick --places 1"))[0]["goals_of_best"],
        Value::Null
    );
    says(
        &bench,
        "pick --places 1",
        &[
            "Goals do not count in X1: seedlings that were only counted cannot be ranked.",
            "is worth by your goals: as much as in the others on average where they do not count.",
        ],
    );
}

#[test]
fn what_is_to_be_tried_keeps_the_rest_of_the_command() {
    let bench = four_crosses();
    assert_eq!(
        bench.fails("pick X1 X2 --per-cross 3 --places 2 --reserve 3", 2),
        "error: 3 are to be kept in reserve, but there are 2 places, so nothing could be\n  kept\n\
         try: locule pick X1 X2 --per-cross 3 --places 2 --reserve 1\n"
    );
    assert_eq!(
        bench.fails("pick T1-09 --per-cross 3", 1),
        "error: T1-09 is a seedling of T1, and nothing of its own seed was sown yet\n\
         try: locule pick T1 --per-cross 3\n"
    );
}

/// Every name of the JSON answer, however deep, readings left out.
fn names(value: &Value, found: &mut std::collections::BTreeSet<String>) {
    match value {
        Value::Object(fields) => {
            for (name, value) in fields {
                found.insert(name.clone());
                if name != "reading" {
                    names(value, found);
                }
            }
        }
        Value::Array(list) => list.iter().for_each(|value| names(value, found)),
        _ => {}
    }
}

#[test]
fn every_name_of_its_json_is_explained() {
    let bench = four_crosses();
    let mut found = Default::default();
    names(&bench.json("pick"), &mut found);
    let page = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/pick.md");
    let page = std::fs::read_to_string(page).unwrap();
    assert!(found.len() > 40, "{found:?}");
    for name in found {
        assert!(page.contains(&format!("`{name}`")), "{name}");
    }
}

#[test]
fn it_fits_the_page_and_uses_a_wide_one() {
    let mut bench = four_crosses();
    let widest = |said: &str| said.lines().map(|line| line.chars().count()).max().unwrap();
    for line in [
        "pick",
        "pick --places 2",
        "pick --places 3 --reserve 2",
        "pick --paper",
    ] {
        assert!(widest(&bench.ok(line)) <= 80, "{line}");
    }
    let narrow = bench.ok("pick");
    let wide = bench.wide(120).ok("pick");
    assert!((81..=120).contains(&widest(&wide)));
    assert!(wide.lines().count() < narrow.lines().count());
    assert!(widest(&bench.ok("pick --paper")) <= 80);
}
