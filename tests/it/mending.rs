//! Mending the past: `amend`, and what `amend`, `undo` and `redo` say they change in today's answers.

use crate::ledger_model;
use crate::support::{Bench, flat};

/// How many random commands the ordinary tests run; a campaign runs the same for longer.
const STEPS: u64 = 240;

#[test]
fn an_amended_ledger_is_one_that_was_typed_rightly() {
    let met = ledger_model::run(STEPS, 1).unwrap_or_else(|mismatch| panic!("{mismatch}"));
    // A run that met nothing would say nothing.
    assert!(met.steps >= STEPS && met.recorded > STEPS / 5, "{met:?}");
    assert!(met.amended > 10 && met.refused > 5, "{met:?}");
    assert!(met.undone > 10 && met.redone > 5, "{met:?}");
    assert!(met.untold + met.cut < met.amended, "{met:?}");
}

/// A season from cross to cull: entry numbers as in the history.
fn season() -> Bench {
    let mut bench = Bench::new();
    for (day, line) in [
        ("2025-12-10", "init"),
        ("2025-12-10", "parent add NL 'Night Lantern' --genotype A/A"),
        ("2025-12-10", "parent add CW --genotype a/a"),
        ("2025-12-10", "parent add NT --genotype A/A"),
        ("2025-12-10", "cross CW NL --flowers 3"),
        ("2025-12-28", "set X1 --pods 2"),
        ("2026-02-01", "harvest X1 --pods 2 --seeds 31"),
        ("2026-02-02", "sow X1 --seeds 12"),
        ("2026-02-12", "up T1 11"),
        ("2026-03-14", "score T1 9 purple 2 green"),
        ("2026-03-14", "cull T1 green"),
        ("2026-03-20", "note T1 'they stand well'"),
    ] {
        let run = bench.on(day).run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    bench.on("2026-04-01");
    bench
}

/// The record lines of an export: what the tables hold.
fn records(bench: &Bench) -> Vec<String> {
    let export = bench.ok("export");
    let lines = export.lines().filter(|line| line.starts_with("{\"table\""));
    lines.map(str::to_owned).collect()
}

/// A command that must be refused, with nothing changed.
fn refused(bench: &Bench, line: &str, status: i32) -> String {
    let before = bench.ok("export");
    let err = flat(&bench.fails(line, status));
    assert_eq!(bench.ok("export"), before, "{line}");
    err
}

#[test]
fn a_wrong_seed_count_is_corrected_and_can_be_taken_back() {
    let bench = season();
    let before = records(&bench);
    let out = bench.ok("amend 7 harvest X1 --pods 2 --seeds 13");
    assert_eq!(
        out,
        "Entry 7 amended: X1/1: seeds 31 -> 13. 'locule undo' takes that back.\n  \
         was: X1/1: 31 seeds of 2 pods. X1 has 31 seeds in store.\n  \
         now: X1/1: 13 seeds of 2 pods. X1 has 13 seeds in store.\n\
         Nothing in today's answers changes.\n"
    );
    assert!(bench.ok("show X1").contains("13 seeds"));
    assert!(bench.ok("show X1 --at 12").contains("31 seeds"));
    bench.ok("undo");
    assert_eq!(records(&bench), before);
    bench.ok("redo");
    assert!(bench.ok("show X1").contains("13 seeds"));
    assert!(bench.ok("check-ledger").contains("All is well"));
}

#[test]
fn flags_alone_are_put_in_the_place_of_those_there() {
    let bench = season();
    let answer = bench.json("amend 7 --seeds 13");
    assert_eq!(answer["command"], "harvest X1 --pods 2 --seeds 13");
    assert_eq!(answer["changed"][0], "X1/1: seeds 31 -> 13");
    assert_eq!(answer["amends"], 7);
    // An amended entry is amended again, from where it stands.
    let answer = bench.json("amend 7 --kept 'jar 4' --about");
    let command = "harvest X1 --pods 2 --seeds 13 --kept 'jar 4' --about";
    assert_eq!(answer["command"], command);
    let history = bench.json("history");
    let typed = &history["entries"][13]["command"];
    assert_eq!(*typed, format!("amend 7 {command}"));
    assert_eq!(
        history["entries"][6]["amended_by"],
        serde_json::json!([13, 14])
    );
    assert_eq!(history["entries"][13]["amends"], 7);
    let err = refused(&bench, "undo 13", 1);
    assert!(
        err.contains("later entries build on it: 14 (amend 7"),
        "{err}"
    );
    bench.ok("undo 14");
    bench.ok("undo 13");
    assert_eq!(
        bench.json("history")["entries"][6]["amended_by"],
        serde_json::json!([])
    );
}

#[test]
fn a_day_is_read_as_on_the_day_of_the_entry() {
    let bench = season();
    let out = bench.ok("amend 9 up T1 11 --on yesterday");
    assert!(out.contains("day 2026-02-12 -> 2026-02-11"), "{out}");
    let out = bench.ok("amend 9 --on 2026-02-10");
    assert!(out.contains("day 2026-02-11 -> 2026-02-10"), "{out}");
    let err = refused(&bench, "amend 9 --on 2026-02-20", 1);
    assert!(
        err.contains("entry 9 was typed on 2026-02-12, and what had not happened then"),
        "{err}"
    );
}

#[test]
fn a_wrong_parent_moves_the_label_and_nothing_that_hangs_on_it() {
    let bench = season();
    let out = flat(&bench.ok("amend 5 cross CW NT --flowers 4"));
    assert!(out.contains("X1: father NL -> NT, flowers 3 -> 4"), "{out}");
    assert!(
        out.contains("T1: label X1 (CW x NL) -> X1 (CW x NT)"),
        "{out}"
    );
    // What 'set' recorded later of the same pollination stands.
    assert!(flat(&bench.ok("show X1")).contains("2 pods"));
    // A self is a pollination too.
    let out = flat(&bench.ok("amend 5 self CW"));
    assert!(
        out.contains("X1: father NT -> CW, flowers 4 -> none"),
        "{out}"
    );
    assert!(bench.ok("check-ledger").contains("All is well"));
}

#[test]
fn a_misread_class_changes_the_verdicts_and_what_was_culled_by_it() {
    let bench = season();
    let answer = bench.json("amend 10 score T1 8 purple 3 green");
    assert_eq!(answer["later"][0]["entry"], 11);
    assert_eq!(
        answer["later"][0]["was"],
        "T1: 2 green culled; 9 of T1 still standing."
    );
    assert_eq!(
        answer["later"][0]["now"],
        "T1: 3 green culled; 8 of T1 still standing."
    );
    let tray = &answer["answers"]["trays"][0];
    assert_eq!(tray["tray"], "T1");
    let read = &tray["facts"][0];
    assert_eq!(
        (&read["what"], &read["before"], &read["after"]),
        (&"read".into(), &"9".into(), &"8".into())
    );
    let look = &tray["seedlings"][0];
    assert_eq!(
        (&look["seedling"], &look["before"]["count"]),
        (&"purple".into(), &9.into())
    );
    let (was, now) = (
        look["before"]["p_off"].as_f64(),
        look["after"]["p_off"].as_f64(),
    );
    assert!(now > was, "{look}");
    // Undo and redo say it by the same comparer.
    let back = bench.json("undo");
    let again = &back["answers"]["trays"][0]["facts"][0];
    assert_eq!(
        (&again["before"], &again["after"]),
        (&"8".into(), &"9".into())
    );
    let out = flat(&bench.ok("redo"));
    assert!(out.contains("In today's answers: T1: read 9 -> 8"), "{out}");
}

#[test]
fn a_verdict_that_turns_is_named() {
    let mut bench = Bench::new();
    for (day, line) in [
        ("2026-01-02", "init"),
        ("2026-01-02", "parent add NL --genotype A/A"),
        ("2026-01-02", "parent add CW --genotype a/a"),
        ("2026-01-02", "cross CW NL"),
        ("2026-02-02", "sow X1 --seeds 6"),
        ("2026-02-12", "up T1 6"),
        ("2026-03-30", "score T1 1-6=purple"),
    ] {
        let run = bench.on(day).run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    bench.on("2026-04-20");
    let out = flat(&bench.ok("amend 7 score T1 1-5=purple 6=green"));
    assert!(out.contains("T1-06: class purple -> green"), "{out}");
    assert!(out.contains("T1-06 keep -> wait, off"), "{out}");
    let out = flat(&bench.ok("undo"));
    assert!(out.contains("T1-06 wait -> keep, off"), "{out}");
    let out = flat(&bench.ok("undo 7"));
    assert!(out.contains("T1-01 to 06 no longer judged (keep)"), "{out}");
    let out = flat(&bench.ok("undo 6"));
    assert!(out.contains("T1: up 6 -> unknown"), "{out}");
    let out = flat(&bench.ok("undo 5"));
    assert!(out.contains("T1: no longer in the ledger"), "{out}");
}

#[test]
fn later_entries_that_contradict_it_are_named() {
    let bench = season();
    let err = refused(&bench, "amend 7 harvest X1 --pods 2 --seeds 10", 1);
    assert!(
        err.contains("entry 7 cannot be amended so, for later entries contradict it")
            && err.contains("entry 8 (sow X1 --seeds 12): 12 seeds to sow, but X1/1 has 10 left")
            && err.contains("nothing was changed")
            && err.contains("try: locule amend 7 harvest X1 --pods 2 --seeds 10 --even-so")
            && err.contains("try: locule undo 8"),
        "{err}"
    );
    let err = refused(&bench, "amend 9 up T1 10", 1);
    assert!(
        err.contains("entry 10 (score T1 9 purple 2 green): T1: 11 scored, but 10 up"),
        "{err}"
    );
    // The merely implausible is recorded even so, and said.
    let run = bench.run("amend 9 up T1 10 --even-so");
    assert_eq!(run.status, Some(0), "{}", run.err);
    assert!(
        flat(&run.err).contains("note: recorded even so: T1: 11 scored, but 10 up"),
        "{}",
        run.err
    );
    // It stands, and does not stand in the way of another amendment.
    bench.ok("amend 12 note T1 'they stood well'");
}

#[test]
fn what_is_impossible_is_refused_even_so() {
    let bench = season();
    bench.ok("parent add RB");
    for (line, why) in [
        // A code that a later entry gives to another thing, and one that an earlier entry gave.
        (
            "amend 4 parent add rb --even-so",
            "entry 13 (parent add RB): the code 'RB' that it gave would be taken",
        ),
        (
            "amend 3 parent add NL --even-so",
            "the code NL is taken by a plant: Night Lantern",
        ),
    ] {
        let err = refused(&bench, line, 1);
        assert!(
            err.contains(why) && !err.contains("--even-so records"),
            "{line}: {err}"
        );
    }
}

#[test]
fn a_code_typed_wrong_is_corrected_once_others_name_it() {
    let bench = season();
    let judged = bench.ok("suspects");
    let out = flat(&bench.ok("amend 3 parent add CWL --genotype a/a"));
    assert!(
        out.contains("CWL: code CW -> CWL.")
            && out.contains(
                "CW is called CWL from now on; entry 5 was typed with CW and stays as typed. \
                 A tag or label with CW on it still says CW."
            ),
        "{out}"
    );
    let out = flat(&bench.ok("amend 5 cross CWL NL --flowers 3 --code K1"));
    assert!(
        out.contains("entries 6, 7 and 8 were typed with X1 and stay as typed")
            && out.contains("Tag: K1 CWL x NL 2025-12-10"),
        "{out}"
    );
    let out = flat(&bench.ok("amend 8 --tray TNET"));
    assert!(
        out.contains("entries 9, 10, 11 and 12 were typed with T1"),
        "{out}"
    );
    let renamed = judged
        .replace("T1", "TNET")
        .replace("X1", "K1")
        .replace("CW ", "CWL ");
    assert_eq!(flat(&bench.ok("suspects")), flat(&renamed));
    let typed = bench.json("history");
    assert_eq!(typed["entries"][9]["command"], "score T1 9 purple 2 green");
    // What was typed before and after is understood, and old codes come back.
    bench.ok("note TNET-1 leggy");
    bench.ok("amend 10 score TNET 8 purple 3 green");
    bench.ok("undo");
    bench.ok("redo");
    bench.ok("amend 7 --seeds 30");
    bench.ok("amend 8 --tray T1");
    let out = flat(&bench.ok("amend 16 note T1-1 tall"));
    assert!(out.contains("Entry 16 amended"), "{out}");
    assert_eq!(bench.json("check-ledger")["sound"], true);
}

#[test]
fn two_parents_exchange_their_codes() {
    let bench = season();
    let before = records(&bench);
    bench.ok("amend 2 parent add NX 'Night Lantern' --genotype A/A");
    bench.ok("amend 3 parent add NL --genotype a/a");
    bench.ok("amend 2 parent add CW 'Night Lantern' --genotype A/A");
    let said = flat(&bench.ok("show X1"));
    assert!(said.contains("NL x CW"), "{said}");
    // Entry 5 was typed 'cross CW NL', and is told again as it was meant.
    bench.ok("amend 6 set X1 --pods 3");
    let said = flat(&bench.ok("show X1"));
    assert!(said.contains("NL x CW"), "{said}");
    for _ in 0..4 {
        bench.ok("undo");
    }
    assert_eq!(records(&bench), before);
}

#[test]
fn seed_comes_out_of_the_jar_it_came_from() {
    let bench = season();
    bench.ok("harvest X1 --seeds 40");
    // Which lot it is taken from is said on standard error.
    assert_eq!(bench.run("sow X1 --seeds 6").status, Some(0));
    let err = refused(&bench, "amend 7 harvest X1 --pods 2 --seeds 14", 1);
    assert!(
        err.contains("entry 14 (sow X1 --seeds 6): it drew on X1/1, and would now draw on X1/2"),
        "{err}"
    );
}

#[test]
fn what_cannot_be_amended_is_said() {
    let bench = season();
    bench.ok("amend 12 note T1 'they stood well'");
    bench.ok("undo 4");
    bench.ok("redo");
    bench.ok("undo 4");
    for (line, status, wanted, next) in [
        (
            "amend 99 note T1 x",
            1,
            "there is no entry 99",
            "locule history",
        ),
        (
            "amend 1 init",
            1,
            "is the beginning of the ledger",
            "locule history",
        ),
        (
            "amend 4 parent add RB",
            1,
            "entry 4 (parent add NT --genotype A/A) was undone by entry 16",
            "locule parent add NT --genotype A/A",
        ),
        (
            "amend 13 note T1 x",
            1,
            "is an amendment; amend the entry that it corrects",
            "locule amend 12 note T1 x",
        ),
        ("amend 14 note T1 x", 1, "is an undo", "locule redo"),
        ("amend 15 note T1 x", 1, "is a redo", "locule undo"),
        (
            "amend 12 up T1 4",
            1,
            "was made by 'note' and cannot become 'up'",
            "locule undo 12",
        ),
        (
            "amend 12 history",
            2,
            "'history' records nothing",
            "locule amend 12 note T1 'they stood well'",
        ),
        (
            "amend 12 assume",
            2,
            "'assume' records nothing",
            "locule amend 12 note T1 'they stood well'",
        ),
        (
            "amend 12 stood well",
            2,
            "'stood well' begins with no command",
            "locule amend 12 note T1 'they stood well'",
        ),
        (
            "amend 12",
            2,
            "say what entry 12",
            "locule amend 12 note T1 'they stood well'",
        ),
        (
            "amend 12 note T1 'they stood well'",
            1,
            "entry 12 says so already",
            "locule history",
        ),
        ("amend 9 up T1 x", 2, "'x'", ""),
        ("amend 9 up T9 4", 1, "the nearest known: T1", ""),
        ("amend 9 --cellz 4", 2, "--cellz", ""),
        ("amend twelve note T1 x", 2, "an entry is a number", ""),
    ] {
        let err = refused(&bench, line, status);
        assert!(err.contains(wanted) && err.contains(next), "{line}: {err}");
    }
}

#[test]
fn the_last_word_stands() {
    let bench = season();
    bench.ok("assume dim 0.05");
    bench.ok("assume dim 0.1");
    let err = refused(&bench, "amend 13 assume dim 0.07", 1);
    assert!(
        err.contains("later entries have the last word on what entry 13 says: 14 (assume dim 0.1)"),
        "{err}"
    );
    let out = flat(&bench.ok("amend 14 assume dim 0.2"));
    assert!(out.contains("dim 0.1 -> 0.2"), "{out}");
}

#[test]
fn an_undo_of_an_amended_entry_names_the_amendment() {
    let bench = season();
    bench.ok("amend 12 note T1 'they stood well'");
    let err = refused(&bench, "undo 12", 1);
    assert!(
        err.contains("later entries build on it: 13 (amend 12 note T1 'they stood well')")
            && err.contains("try: locule undo 13"),
        "{err}"
    );
    bench.ok("undo 13");
    bench.ok("undo 12");
}

#[test]
fn a_kind_that_one_command_makes_may_change() {
    let bench = season();
    let out = flat(&bench.ok("amend 11 died T1 green"));
    assert!(out.contains("T1: kind culled -> died."), "{out}");
}

#[test]
fn every_recording_command_can_be_amended() {
    let bench = Bench::new();
    std::fs::write(bench.folder().join("leaf.jpg"), "a picture").unwrap();
    std::fs::write(bench.folder().join("bud.jpg"), "another").unwrap();
    let lines = [
        ("init", ""),
        (
            "parent add NL --genotype A/A",
            "parent add NL 'Night Lantern' --genotype A/a",
        ),
        ("parent add CW", "parent add CW --species chinense"),
        (
            "species annuum baccatum hard",
            "species baccatum annuum usual --fertility high",
        ),
        ("parent in-flower NL", "parent in-flower CW"),
        ("locus set A --share A=0.3", "locus set A --share A=0.4"),
        (
            "trait add gloss --classes shiny,matt --rule 'Gl/_ => shiny' --rule 'else => matt'",
            "trait add gloss --classes shiny,dull --rule 'Gl/_ => shiny' --rule 'else => dull'",
        ),
        (
            "trait model add gloss other --rule 'else => shiny'",
            "trait model add gloss rival --rule 'else => shiny'",
        ),
        ("trait off stem-hair", "trait on yellow-bud"),
        ("cross CW NL --on 2026-01-01", "cross NL CW --on 2026-01-01"),
        (
            "self NL --on 2026-01-01",
            "self NL --flowers 2 --on 2026-01-01",
        ),
        ("set X1 --pods 2", "set X1 --pods 1 --dropped 1"),
        (
            "harvest X1 --seeds 20 --on 2026-01-31",
            "harvest X1 --seeds 21 --on 2026-01-31",
        ),
        ("packet NL --seeds 9", "packet CW --seeds 9"),
        (
            "sow X1 --seeds 8 --on 2026-02-01",
            "sow X1 --seeds 9 --place tent --on 2026-02-01",
        ),
        ("up T1 7", "up T1 8"),
        ("score T1-01 purple", "score T1-02 purple"),
        ("cull T1-03", "cull T1-04"),
        ("thin T1-05", "thin T1-05 --blind"),
        ("died T1-06", "died T1-06 --why damping"),
        ("pot-up T1-07", "pot-up T1-02"),
        ("care feed T1", "care gnats T1"),
        ("measure T1-02 height=42mm", "measure T1-02 height=24mm"),
        ("note T1 'stands well'", "note X1 'stands well'"),
        ("photo T1 leaf.jpg", "photo T1-02 bud.jpg"),
        ("assume dim 0.05", "assume dim 0.06"),
        (
            "assume doubtful 0.2 donor.window 4",
            "assume doubtful 0.25 donor.window 5",
        ),
        (
            "trait late foliage --median-days 11",
            "trait late foliage --median-days 10 --spread 0.3",
        ),
        ("trait bench gloss", "trait bench hypocotyl-colour"),
        (
            "score T1-08 foliage:purple",
            "score T1-08 foliage:maybe-purple",
        ),
        (
            "adopt T1-08 AD --as self",
            "adopt T1-08 AD --as unknown-pollen",
        ),
        (
            "goal add foliage:purple --must",
            "goal add foliage:purple --avoid",
        ),
        (
            "goal add stem-hair:hairy --want 2",
            "goal add stem-hair:hairy --want 3",
        ),
        (
            "trait add heat --grades 0-5",
            "trait add heat --grades 0-6 --organ fruit",
        ),
        (
            "grade T1-02 heat=3 --by Ann",
            "grade T1-02 heat=4 --by Ann --pod 2",
        ),
        ("goal add heat --want 2", "goal add heat --want 2 --less"),
        (
            "score CW not-hot --tasted tip",
            "score CW not-hot --tasted wall",
        ),
    ];
    for (at, (line, _)) in lines.iter().enumerate() {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{} {line}: {}", at + 1, run.err);
    }
    // A picture that is on record is not read again.
    std::fs::remove_file(bench.folder().join("leaf.jpg")).unwrap();
    for (at, (_, better)) in lines.iter().enumerate().skip(1).rev() {
        let amend = format!("amend {} {better}", at + 1);
        let before = records(&bench);
        let run = bench.run(&amend);
        assert_eq!(run.status, Some(0), "{amend}: {}", run.err);
        assert!(
            run.out.starts_with(&format!("Entry {} amended: ", at + 1)),
            "{}",
            run.out
        );
        assert_ne!(records(&bench), before, "{amend}");
        let sound = bench.ok("check-ledger");
        assert!(sound.contains("All is well"), "{amend}: {sound}");
    }
    let amendments = bench.json("history")["entries"].as_array().unwrap().len() - lines.len();
    assert_eq!(amendments, lines.len() - 1);
    for _ in 0..amendments {
        bench.ok("undo");
    }
    let undone = bench.json("history");
    let entries = undone["entries"].as_array().unwrap();
    assert!(
        entries
            .iter()
            .take(lines.len())
            .all(|entry| entry["amended_by"] == serde_json::json!([]))
    );
}

#[test]
fn history_says_what_each_entry_changed() {
    let mut bench = season();
    bench.ok("amend 7 --seeds 13");
    bench.ok("undo");
    bench.ok("amend 10 score T1 8 purple 3 green");
    let history = bench.json("history");
    let changed = |entry: usize| history["entries"][entry - 1]["changed"].as_str();
    assert_eq!(
        changed(7),
        Some("X1/1: 31 seeds of 2 pods. X1 has 31 seeds in store.")
    );
    assert_eq!(changed(13), Some("X1/1: seeds 31 -> 13"));
    assert_eq!(changed(14), None);
    assert_eq!(
        changed(15),
        Some("T1: purple 9 -> 8, green 2 -> 3, culled 2 -> 3")
    );
    let changed_by_all = history["entries"].as_array().unwrap();
    assert!(
        changed_by_all
            .iter()
            .all(|one| one["kind"] == "undo" || one["changed"].is_string())
    );
    for width in [80, 120] {
        let out = bench.wide(width).ok("history");
        assert!(
            out.lines().all(|line| line.chars().count() <= width),
            "{out}"
        );
        let out = flat(&out);
        assert!(out.contains("harvest X1 --pods 2 --seeds 31"), "{out}");
        assert!(
            out.contains("score T1 9 purple 2 green amended by 15"),
            "{out}"
        );
        assert!(out.contains("undo takes back 13"), "{out}");
    }
    let of_cross: Vec<i64> = bench.json("history X1/1")["entries"]
        .as_array()
        .unwrap()
        .iter()
        .map(|entry| entry["entry"].as_i64().unwrap())
        .collect();
    assert_eq!(of_cross, [7, 8, 13, 14]);
}
