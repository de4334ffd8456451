//! What is bred for: set, listed, set otherwise, given up, and what that means for the rest of the ledger.

use crate::support::{Bench, flat};

fn begun() -> Bench {
    let bench = Bench::new();
    bench.ok("init");
    bench
}

#[test]
fn goals_are_set_listed_and_given_up() {
    let bench = begun();
    assert_eq!(
        bench.ok("goal list"),
        "No goals yet. Set one: locule goal add purple --must\n"
    );
    assert_eq!(
        bench.ok("goal add Purple --must"),
        "foliage: purple is a must.\n"
    );
    assert_eq!(
        bench.ok("goal add pungency:not-hot --want 3"),
        "pungency: not-hot is wanted, weight 3.\n"
    );
    assert_eq!(
        bench.ok("goal add hairy --avoid"),
        "stem-hair: hairy is to be avoided.\n"
    );
    assert_eq!(
        bench.ok("goal add not-hot --want 2.5"),
        "pungency: not-hot is wanted, weight 2.5 (was wanted, weight 3).\n"
    );
    let goals = bench.json("goal list");
    assert_eq!(
        goals["goals"],
        serde_json::json!([
            {"trait": "foliage", "class": "purple", "kind": "must", "weight": null, "less": false},
            {"trait": "pungency", "class": "not-hot", "kind": "want", "weight": 2.5, "less": false},
            {"trait": "stem-hair", "class": "hairy", "kind": "avoid", "weight": null, "less": false},
        ])
    );
    assert!(flat(&bench.ok("trait show foliage")).contains("Goal: purple is a must."));
    assert_eq!(
        bench.ok("goal remove hairy"),
        "stem-hair: hairy is no goal any more (was to be avoided).\n"
    );
    assert_eq!(
        bench.json("goal list")["goals"].as_array().unwrap().len(),
        2
    );
    bench.ok("undo");
    assert_eq!(
        bench.json("goal list")["goals"].as_array().unwrap().len(),
        3
    );
    let changed = bench.json("history");
    let changed: Vec<_> = changed["entries"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|entry| entry["changed"].as_str().map(str::to_owned))
        .collect();
    assert_eq!(changed[1], "foliage: purple is a must.");
    assert!(
        changed.contains(&"stem-hair: hairy is no goal any more (was to be avoided).".to_owned())
    );
    assert!(bench.ok("check-ledger").contains("All is well"));
}

#[test]
fn what_cannot_be_a_goal_is_refused_with_the_remedy() {
    let bench = begun();
    for (line, status, words) in [
        ("goal add purple", 2, &["--must"][..]),
        (
            "goal add purple --must --avoid",
            2,
            &["cannot be used with"],
        ),
        ("goal add purple --want 0", 1, &["a weight above 0"]),
        (
            "goal add purple --want heavy",
            1,
            &["a weight above 0", "try: locule goal add purple --want 3"],
        ),
        (
            "goal add mauve --must",
            1,
            &["no trait has a class 'mauve'"],
        ),
        (
            "goal add early --must",
            1,
            &["says that nothing could be seen"],
        ),
        (
            "goal add purple,hairy --must",
            2,
            &["names several looks", "try: locule goal add purple --must"],
        ),
        (
            "goal remove purple",
            1,
            &["purple is no goal", "try: locule goal list"],
        ),
    ] {
        let err = flat(&bench.fails(line, status));
        for word in words {
            assert!(err.contains(word), "{line}: {err}");
        }
    }
    bench.ok("goal add purple --must");
    assert!(flat(&bench.fails("goal add purple --must", 1)).contains("already"));
}

#[test]
fn the_goal_that_was_given_up_by_mistake_comes_back_by_an_amendment() {
    let bench = begun();
    for line in [
        "goal add purple --must",
        "goal add hairy --want 2",
        "goal remove hairy",
        "amend 4 goal remove purple",
    ] {
        bench.ok(line);
    }
    let goals = bench.json("goal list");
    assert_eq!(goals["goals"].as_array().unwrap().len(), 1);
    assert_eq!(goals["goals"][0]["class"], "hairy");
    assert!(bench.ok("check-ledger").contains("All is well"));
    bench.ok("undo");
    assert_eq!(bench.json("goal list")["goals"][0]["class"], "purple");
}

#[test]
fn a_trait_with_a_goal_is_not_defined_anew() {
    let bench = begun();
    bench.ok("trait add gloss --classes shiny,matt --rule 'Gl/_ => shiny' --rule 'else => matt'");
    bench.ok("goal add shiny --want 1");
    let again =
        "trait add gloss --classes bright,dull --rule 'Gl/_ => bright' --rule 'else => dull'";
    let err = flat(&bench.fails(again, 1));
    assert!(
        err.contains("shiny of gloss is a goal")
            && err.contains("try: locule goal remove gloss:shiny"),
        "{err}"
    );
    let err = flat(&bench.fails("undo 2", 1));
    assert!(err.contains("later entries build on it: 3"), "{err}");
    bench.ok("goal remove shiny");
    bench.ok(again);
    assert!(bench.ok("check-ledger").contains("All is well"));
}

#[test]
fn goals_survive_an_export_and_stay_as_they_are_when_another_ledger_comes() {
    let bench = begun();
    bench.ok("goal add purple --must");
    bench.ok("goal add hairy --want 2");
    let export = bench.ok("export");
    let other = Bench::new();
    std::fs::write(other.folder().join("theirs.jsonl"), &export).unwrap();
    other.ok("import theirs.jsonl");
    assert_eq!(other.ok("export"), export);
    let mine = Bench::new();
    let run = crate::support::finish(mine.command(&["init"]).env("LOCULE_SEED", "2"));
    assert_eq!(run.status, Some(0));
    mine.ok("parent add NL");
    mine.ok("goal add purple --want 4");
    std::fs::write(mine.folder().join("theirs.jsonl"), &export).unwrap();
    let said = flat(&mine.ok("import theirs.jsonl"));
    assert!(
        said.contains("goal foliage:purple: want 4 (must there)"),
        "{said}"
    );
    assert!(
        said.contains("goal stem-hair:hairy: none (want 2 there)"),
        "{said}"
    );
    let goals = mine.json("goal list");
    assert_eq!(goals["goals"].as_array().unwrap().len(), 1);
    assert_eq!(goals["goals"][0]["kind"], "want");
    assert!(mine.ok("check-ledger").contains("All is well"));
}

/// A plant shows one look of a trait.
#[test]
fn goals_that_no_plant_can_meet_together_are_refused() {
    let bench = begun();
    bench.ok("goal add purple --must");
    let two = flat(&bench.fails("goal add green --must", 1));
    assert!(
        two.contains("green of foliage cannot be a must, purple is a must already")
            && two.contains("try: locule goal remove foliage:purple"),
        "{two}"
    );
    // Beside a must the other look may be avoided or wanted.
    bench.ok("goal add green --avoid");
    let none = flat(&bench.fails("goal add purple --avoid", 1));
    assert!(
        none.contains("purple of foliage cannot be avoided, green is avoided already"),
        "{none}"
    );
    bench.ok("goal add green --want 2");
    bench.ok("goal add purple --avoid");
}

#[test]
fn a_goal_on_heat_asks_for_its_trait_first() {
    let bench = begun();
    let early = flat(&bench.fails("goal add heat --want 3", 1));
    assert!(
        early.contains("no trait is called 'heat' yet")
            && early.contains("try: locule trait add heat --grades 0-5"),
        "{early}"
    );
    let many = flat(&bench.fails("trait add heat5 --grades 0-500", 1));
    assert!(
        many.contains("a graded trait has 2 to 21 grades, not 501"),
        "{many}"
    );
    bench.ok("trait add heat --grades 0-5");
    bench.ok("goal add heat --want 3");
    let avoid = flat(&bench.fails("goal add heat --avoid", 1));
    assert!(avoid.contains("it is no must, and not avoided"), "{avoid}");
}
