//! What of a pot's looks counts for `lost-label`, and which look it asks for next.

use serde_json::Value;

use crate::support::{Bench, flat};

/// Three crosses of three parents; a seedling of the second is purple and smooth.
fn season() -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-05-20");
    for line in [
        "init",
        "parent add NL --genotype 'A/A h/h'",
        "parent add CW --genotype 'a/a h/h'",
        "parent add WH --genotype 'a/a H/H'",
        "cross WH NL --tool brush --wiped --on 2026-01-10",
        "cross CW WH --tool brush --on 2026-01-10",
        "cross CW NL --tool brush --wiped --on 2026-01-12",
        "sow X2 --seeds 10 --place sill --on 2026-03-14",
        "sow X1 --seeds 8 --place tent --on 2026-03-21",
        "sow X3 --seeds 8 --place tent --on 2026-03-28",
        "up T1 9 --on 2026-03-28",
        "up T2 8 --on 2026-04-04",
        "up T3 7 --on 2026-04-11",
        "score T1 1-8=green/hairy 9=purple/smooth --on 2026-05-05",
        "score T2 1-6=purple/hairy --on 2026-05-05",
        "score T1-09 purple/smooth",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    bench
}

fn chances(answer: &Value) -> Vec<f64> {
    let all = answer["candidates"].as_array().unwrap().iter();
    all.map(|one| one["p"].as_f64().unwrap()).collect()
}

#[test]
fn one_leaf_looked_at_twice_counts_once() {
    let bench = season();
    let both = bench.json("lost-label --looks green,foliage-grade:green");
    let finer = bench.json("lost-label --looks foliage-grade:green");
    assert_eq!(chances(&both), chances(&finer));
    assert_eq!(both["readings"].as_array().unwrap().len(), 1, "{both}");
    let further = bench.json("lost-label --looks green,hairy");
    assert_eq!(further["readings"].as_array().unwrap().len(), 2);
}

/// Foliage was read, so its grades are no second look; and a trait whose every class speaks for the same cross is none.
#[test]
fn the_look_asked_for_is_another_and_can_speak_for_either() {
    let bench = season();
    bench.run("adopt T1-09 CN");
    bench.run("score CN green");
    let answer = bench.json("lost-label T1-09");
    assert_eq!(answer["next"], Value::Null, "{answer}");
    let told = bench.json("lost-label --looks green");
    assert_eq!(told["next"]["trait"], "stem-hair", "{told}");
    let classes = told["next"]["classes"].as_array().unwrap().iter();
    let first: Vec<bool> = classes
        .map(|one| one["p_first"].as_f64().unwrap() >= 0.5)
        .collect();
    assert!(first.contains(&true) && first.contains(&false), "{told}");
}

/// A dwarf may be the true hybrid of a cross between species, so growth tells nothing of which cross it is.
#[test]
fn growth_says_nothing_where_a_cross_between_species_stands() {
    let mut bench = Bench::new();
    bench.on("2026-05-20");
    for line in [
        "init",
        "parent add CW --species annuum --genotype a/a",
        "parent add BA --species baccatum",
        "parent add NL --species annuum --genotype A/A",
        "cross CW BA --on 2025-06-01 --even-so",
        "cross CW NL --on 2025-06-01",
        "sow X1 --seeds 8 --on 2026-03-14",
        "sow X2 --seeds 8 --on 2026-03-14",
        "up T1 8 --on 2026-03-28",
        "up T2 8 --on 2026-03-28",
        "trait on wide-cross-dwarf",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    let refused = flat(&bench.fails("lost-label --looks wide-cross-dwarf:dwarf", 1));
    assert!(refused.contains("X1 is one between species"), "{refused}");
    let with = bench.json("lost-label --looks purple,wide-cross-dwarf:dwarf");
    let without = bench.json("lost-label --looks purple");
    assert_eq!(chances(&with), chances(&without));
    assert_eq!(with["growth_set_aside_for"], "X1");
    assert_eq!(without["growth_set_aside_for"], Value::Null);
    let said = flat(&bench.ok("lost-label --looks purple,wide-cross-dwarf:dwarf"));
    assert!(
        said.contains("How it grows is set aside: X1 is a cross between species"),
        "{said}"
    );
}
