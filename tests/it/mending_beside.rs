//! `amend` beside what other ledgers brought in and beside ancestors that a pedigree names, and its words.

use std::fs;

use crate::support::{Bench, finish, flat};

/// A bench with a ledger of its own id, and entries on their days.
fn begun(seed: &str, lines: &[&str]) -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-04-01");
    let run = finish(bench.command(&["init"]).env("LOCULE_SEED", seed));
    assert_eq!(run.status, Some(0), "{}", run.err);
    play(&bench, lines);
    bench
}

fn play(bench: &Bench, lines: &[&str]) {
    for line in lines {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
}

/// A ledger with another one brought in under `B.` as its entry 6.
fn with_a_guest() -> Bench {
    let theirs = [
        "parent add RB --genotype A/A",
        "parent add CW --genotype 'a/a Gq/gq'",
        "cross CW RB --on 2026-01-02",
    ];
    let there = begun("there", &theirs);
    let ours = [
        "parent add NL --genotype A/A",
        "parent add CW --genotype a/a",
        "parent add ZZ",
        "locus set Hq --alleles Hq,hq",
    ];
    let here = begun("here", &ours);
    fs::write(here.folder().join("theirs.jsonl"), there.ok("export")).unwrap();
    play(&here, &["import theirs.jsonl --prefix B."]);
    here
}

/// A command that must be refused, with nothing changed.
fn refused(bench: &Bench, line: &str) -> String {
    let before = bench.ok("export");
    let err = flat(&bench.fails(line, 1));
    assert_eq!(bench.ok("export"), before, "{line}");
    err
}

#[test]
fn what_came_from_elsewhere_later_is_named_where_it_contradicts() {
    let here = with_a_guest();
    for (line, why) in [
        (
            "amend 4 parent add B.RB",
            "the code 'B.RB' that it gave would be taken",
        ),
        // A code is the same however it is typed.
        (
            "amend 4 parent add b.cw",
            "the code 'B.CW' that it gave would be taken",
        ),
        // A locus that came with that ledger would stand twice.
        (
            "amend 5 locus set Gq --alleles Gq,gq --chromosome 3",
            "the locus Gq would be there before it",
        ),
        (
            "amend 2 parent add NL --genotype 'A/A Gq/Gq'",
            "the locus Gq would be there before it",
        ),
    ] {
        let err = refused(&here, line);
        assert!(
            err.contains("later entries contradict it entry 6 (import theirs.jsonl --prefix B.): ")
                && err.contains(why)
                && err.ends_with("try: locule undo 6"),
            "{line}: {err}"
        );
    }
    let err = refused(&here, "amend 6 import theirs.jsonl --prefix C.");
    assert!(
        err.contains("it stands or goes as a whole") && err.ends_with("try: locule undo 6"),
        "{err}"
    );
    // With that ledger gone again the code is free.
    play(&here, &["undo 6", "amend 4 parent add B.RB"]);
    assert!(here.ok("check-ledger").contains("All is well"));
}

#[test]
fn history_says_what_another_ledger_brought() {
    let here = with_a_guest();
    let history = here.json("history");
    let changed = history["entries"][5]["changed"].as_str().unwrap();
    assert!(
        changed.starts_with("the ledger ")
            && changed.ends_with(
                " (4 entries) was brought in: 2 plants, 1 cross, 1 pollination, 1 locus, \
                 every code with B. before it"
            ),
        "{changed}"
    );
}

#[test]
fn a_plant_stays_the_plant_it_is_when_ancestors_come_beside_it() {
    let bench = begun(
        "here",
        &[
            "parent add NL",
            "parent add KK --pedigree NL/NL",
            "parent add LL --pedigree KK/NL",
            "note KK 'leaves curl'",
        ],
    );
    let answer = bench.json("amend 3 --pedigree QA/QB");
    assert_eq!(
        answer["changed"],
        serde_json::json!([
            "KK: mother NL -> QA, father NL -> QB",
            "QA: plant added",
            "QB: plant added"
        ])
    );
    assert_eq!(answer["later"], serde_json::json!([]));
    assert!(flat(&bench.ok("show KK")).contains("leaves curl"));
    let answer = bench.json("amend 3 parent add KK");
    assert_eq!(answer["later"], serde_json::json!([]));
    assert!(bench.ok("check-ledger").contains("All is well"));
}

#[test]
fn what_an_amendment_changed_is_said_by_the_names_of_the_bench() {
    let bench = begun(
        "here",
        &[
            "parent add CW --genotype a/a",
            "parent add NL --genotype A/A",
            "cross CW NL --on 2026-01-02",
            "self NL --on 2026-01-02",
            "harvest X1 --seeds 20 --on 2026-02-01",
            "sow X1 --seeds 6 --on 2026-02-01",
            "up T1 --cells 1-4 --on 2026-02-10",
            "measure T1-01 height=42mm",
            "parent add KP --from T1-02",
        ],
    );
    for (line, changed) in [
        ("amend 8 --cells 1-3", "T1: up in cell 4 gone"),
        (
            "amend 9 measure T1-01 height=24mm",
            "T1-01: height 42 -> 24",
        ),
        (
            "amend 10 parent add KP --from T1-03",
            "KP: of T1-02 -> T1-03",
        ),
    ] {
        let answer = bench.json(line);
        assert_eq!(answer["changed"], serde_json::json!([changed]), "{line}");
    }
    play(&bench, &["undo", "undo", "undo"]);
    let answer = bench.json("amend 7 sow X2 --seeds 6 --on 2026-02-01");
    let wanted = ["T1: 6 drawn from X1/1 gone, cross X1 -> X2"];
    assert_eq!(answer["changed"], serde_json::json!(wanted));
}

#[test]
fn what_can_no_longer_be_redone_is_typed_again_as_it_was_meant() {
    let mut bench = begun("here", &["parent add NL", "note NL 'leaves curl'"]);
    let again = |bench: &Bench| {
        let err = flat(&bench.fails("redo", 1));
        let at = err.find("try: ").expect("a command to type");
        err[at + "try: ".len()..].to_owned()
    };
    bench.on("2026-04-02");
    play(&bench, &["amend 3 note NL 'leaves roll'", "undo", "redo"]);
    play(&bench, &["parent add CW"]);
    // The undo that was taken back is nothing to be typed again.
    let err = flat(&bench.fails("redo", 1));
    assert!(err.contains("nothing to redo"), "{err}");
    // An amendment keeps the day of its entry, whenever it is typed.
    play(&bench, &["undo 4", "parent add NT"]);
    assert_eq!(again(&bench), "locule amend 3 note NL 'leaves roll'");
    play(&bench, &["undo 3", "parent add RB"]);
    assert_eq!(
        again(&bench),
        "locule note NL 'leaves curl' --on 2026-04-01"
    );
    // Words after '--' are text.
    play(
        &bench,
        &["note NL -- --dry leaves", "undo", "parent add FP"],
    );
    assert_eq!(
        again(&bench),
        "locule note NL --on 2026-04-02 -- --dry leaves"
    );
}

#[test]
fn an_amendment_takes_no_row_of_a_later_entry() {
    let bench = begun(
        "here",
        &[
            "parent add NL --genotype A/A --on 2026-01-01",
            "sow NL --seeds 6 --on 2026-01-02",
            "sow NL --seeds 6 --on 2026-01-02",
            "score T1 1-2=purple --on 2026-03-01",
            "score T2 3 purple 2 green --on 2026-03-01",
            "score T1 1=green --on 2026-03-02",
            "score T1 3=green --on 2026-03-02",
        ],
    );
    let records = |bench: &Bench| -> Vec<String> {
        let export = bench.ok("export");
        let lines = export.lines().filter(|line| line.starts_with("{\"table\""));
        lines.map(str::to_owned).collect()
    };
    let counts = |bench: &Bench| {
        let is_count = |line: &&String| line.starts_with("{\"table\":\"tally\",");
        records(bench).iter().filter(is_count).count()
    };
    let before = records(&bench);
    // A count, and a look, like those that a later entry made on the same day.
    let changed = bench.json("amend 5 score T2 1 purple --on 2026-03-01")["changed"].to_string();
    assert!(
        changed.contains("T2: count of 2026-03-01 gone, count of 2026-03-01 added")
            && !changed.contains("tally"),
        "{changed}"
    );
    assert_eq!(counts(&bench), 2);
    // The later count of a day has the last word.
    let shown = flat(&bench.ok("show T2"));
    assert!(
        shown.contains("counted 2026-03-01: 3 purple, 2 green"),
        "{shown}"
    );
    play(&bench, &["amend 7 score T1 3=green --on 2026-03-02"]);
    // Told again all of it comes out as it stands, so that older entries can still be amended.
    for line in [
        "amend 2 parent add NL 'Night Lantern' --genotype A/A --on 2026-01-01",
        "amend 3 --place tent",
        "amend 5 score T2 2 purple --on 2026-03-01",
    ] {
        play(&bench, &[line]);
        assert!(bench.ok("check-ledger").contains("All is well"), "{line}");
    }
    assert_eq!(counts(&bench), 2);
    play(&bench, &["undo", "undo", "undo", "undo", "undo"]);
    assert_eq!(records(&bench), before);
}
