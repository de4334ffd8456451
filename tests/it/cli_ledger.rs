//! The commands that keep the ledger itself: `init`, `history`, `undo`, `redo`, `show`, `check-ledger`,
//! `export`, `import`.

use std::fs;

use crate::support::{Bench, flat};

fn begun() -> Bench {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add NL 'Night Lantern' --genotype A/A",
        "parent add CW --genotype a/a",
        "cross CW NL --on 2026-01-02",
        "sow X1 --seeds 4 --on 2026-02-01",
        "score T1-01 green --on 2026-02-20",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    bench
}

fn commands(history: &serde_json::Value) -> Vec<&str> {
    let entries = history["entries"].as_array().expect("a list");
    entries
        .iter()
        .map(|entry| entry["command"].as_str().expect("a command"))
        .collect()
}

#[test]
fn without_a_ledger_every_command_says_how_to_make_one() {
    let bench = Bench::new();
    for line in [
        "history",
        "show NL",
        "suspects",
        "sheet",
        "check-ledger",
        "export",
        "undo",
        "redo",
        "assume",
        "trait list",
        "expect X1",
        "ratio T1",
    ] {
        let err = bench.fails(line, 1);
        assert!(
            err.contains("there is no ledger at") && err.ends_with("try: locule init\n"),
            "{line}: {err}"
        );
    }
    assert!(!bench.ledger().exists());
}

#[test]
fn a_ledger_is_made_once() {
    let bench = Bench::new();
    assert!(flat(&bench.ok("init")).contains("built-in traits"));
    let before = fs::read(bench.ledger()).expect("it is there");
    assert!(bench.fails("init", 1).contains("is there already"));
    assert_eq!(fs::read(bench.ledger()).expect("it is there"), before);
}

#[test]
fn a_remedy_is_never_the_command_just_refused() {
    let bench = begun();
    fs::write(bench.folder().join("text.db"), "not a ledger at all").expect("it can be written");
    fs::write(bench.folder().join("empty.db"), "").expect("it can be written");
    let whole = fs::read(bench.ledger()).expect("it is there");
    fs::write(bench.folder().join("cut.db"), &whole[..whole.len() - 4096])
        .expect("it can be written");
    for (line, status, wanted) in [
        ("init", 1, "try: locule --ledger season.db init"),
        (
            "--ledger text.db history",
            4,
            "try: locule --ledger other.db init",
        ),
        (
            "--ledger text.db init",
            1,
            "try: locule --ledger season.db init",
        ),
        (
            "--ledger empty.db history",
            4,
            "try: locule --ledger empty.db restore",
        ),
        (
            "--ledger cut.db check-ledger",
            4,
            "try: locule --ledger cut.db restore",
        ),
        (
            "--ledger ledger.db show NX",
            1,
            "try: locule --ledger ledger.db show N",
        ),
        (
            "--ledger other.db history",
            1,
            "try: locule --ledger other.db init",
        ),
    ] {
        let run = bench.run(line);
        let err = flat(&run.err);
        assert!(
            run.status == Some(status) && err.contains(wanted),
            "{line}: {:?} {err} {}",
            run.status,
            run.out
        );
    }
}

#[test]
fn the_folder_of_a_new_ledger_is_made_or_blamed() {
    let bench = begun();
    bench.ok("--ledger new/deep/season.db init");
    assert!(bench.folder().join("new/deep/season.db").exists());
    let err = flat(&bench.fails("export nowhere/season.jsonl", 1));
    assert!(
        err.contains("the folder 'nowhere' is not there")
            && err.contains("try: locule export season.jsonl"),
        "{err}"
    );
}

#[cfg(target_os = "linux")]
#[test]
fn a_folder_that_takes_no_file_is_blamed() {
    let bench = begun();
    let err = flat(&bench.run("--ledger /proc/x.db init").err);
    assert!(
        err.contains("no file can be made in the folder '/proc'")
            && err.contains("try: locule --ledger season.db init"),
        "{err}"
    );
}

#[test]
fn a_redo_that_came_too_late_says_what_to_type() {
    let bench = begun();
    bench.ok("undo");
    bench.ok("note NL 'first buds'");
    let err = flat(&bench.fails("redo", 1));
    assert!(
        err.contains("entry 6 was undone, but entry 8 was recorded since")
            && err.contains("try: locule score T1-01 green --on 2026-02-20"),
        "{err}"
    );
}

#[test]
fn asking_changes_nothing() {
    let bench = begun();
    let before = fs::read(bench.ledger()).expect("it is there");
    for line in [
        "history",
        "history T1",
        "show T1",
        "show T1 --at 3",
        "suspects",
        "sheet",
        "expect X1",
        "check-ledger",
        "export",
        "assume",
        "trait list",
        "trait show foliage",
    ] {
        bench.run(line);
    }
    assert_eq!(fs::read(bench.ledger()).expect("it is there"), before);
    let names: Vec<_> = fs::read_dir(bench.folder())
        .expect("a folder")
        .map(|entry| entry.expect("a file").file_name())
        .collect();
    assert_eq!(names, ["ledger.db"]);
}

#[test]
fn history_can_be_asked_of_one_thing() {
    let bench = begun();
    let all = bench.json("history");
    assert_eq!(all["entries"].as_array().map(Vec::len), Some(6));
    assert_eq!(all["entries"][0]["at"], "2026-03-01 12:00");
    let of_tray = bench.json("history t1");
    assert_eq!(
        commands(&of_tray),
        [
            "sow X1 --seeds 4 --on 2026-02-01",
            "score T1-01 green --on 2026-02-20"
        ]
    );
    assert_eq!(
        commands(&bench.json("history T1-1")),
        ["score T1-01 green --on 2026-02-20"]
    );
    assert!(bench.fails("history T9", 1).contains("the nearest: T1"));
}

#[test]
fn undo_and_redo_are_entries_of_their_own() {
    let bench = begun();
    let out = flat(&bench.ok("undo"));
    assert!(
        out.starts_with("Undone: entry 6 (score T1-01 green"),
        "{out}"
    );
    assert_eq!(bench.json("history")["entries"][5]["undone_by"], 7);
    let out = flat(&bench.ok("redo"));
    assert!(out.starts_with("Back in force: entry 6"), "{out}");
    let err = flat(&bench.fails("undo 2", 1));
    assert!(
        err.contains("entry 2") && err.contains("cross CW NL"),
        "{err}"
    );
    assert!(bench.fails("undo 99", 1).contains("99"));
    assert!(bench.fails("undo -1", 1).contains("-1"));
    assert!(bench.fails("undo one", 2).contains("'one'"));
    assert!(bench.ok("check-ledger").contains("All is well"));
}

#[test]
fn a_thing_is_shown_as_it_was() {
    let bench = begun();
    assert!(bench.ok("show T1").contains("T1-01: 2026-02-20: green"));
    assert!(!bench.ok("show T1 --at 5").contains("green"));
    assert!(
        bench
            .fails("show T1 --at 4", 1)
            .contains("'T1' is not in the ledger")
    );
    assert!(
        bench
            .fails("show T1 --at 400", 1)
            .contains("entries 1 to 6")
    );
    assert_eq!(bench.json("show NL")["records"][0]["name"], "Night Lantern");
    assert!(bench.ok("show foliage").contains("A/_ => purple"));
}

#[test]
fn an_export_comes_back_byte_for_byte() {
    let bench = begun();
    bench.ok("undo");
    let text = bench.ok("export");
    assert!(
        flat(&bench.ok("export season.jsonl")).starts_with("Exported to season.jsonl: 7 entries")
    );
    let file = bench.folder().join("season.jsonl");
    assert_eq!(fs::read_to_string(&file).expect("it was written"), text);
    assert!(bench.fails("export season.jsonl", 1).contains("--force"));
    bench.ok("export season.jsonl --force");
    assert!(
        bench
            .fails("export ledger.db --force", 1)
            .contains("the ledger itself")
    );
    assert!(flat(&bench.ok("--ledger other.db import season.jsonl")).starts_with("Imported into"));
    assert_eq!(bench.ok("--ledger other.db export"), text);
    assert!(
        bench
            .ok("--ledger other.db check-ledger")
            .contains("All is well")
    );
    assert!(flat(&bench.ok("import season.jsonl")).contains("nothing was changed"));
    assert!(bench.ok("--ledger other.db redo").contains("Back in force"));
    let cut: Vec<&str> = text.lines().take(9).collect();
    fs::write(&file, cut.join("\n")).expect("it can be written");
    let err = bench.fails("--ledger third.db import season.jsonl", 1);
    assert!(err.contains("of the export"), "{err}");
    assert!(!bench.folder().join("third.db").exists());
}

#[test]
fn what_is_no_ledger_ends_with_4_and_stays_as_it_is() {
    let bench = begun();
    let whole = fs::read(bench.ledger()).expect("it is there");
    let foreign = bench.folder().join("foreign.db");
    rusqlite::Connection::open(&foreign)
        .expect("SQLite makes it")
        .execute_batch("CREATE TABLE t (a)")
        .expect("a table");
    fs::write(bench.folder().join("cut.db"), &whole[..whole.len() - 4096])
        .expect("it can be written");
    fs::write(bench.folder().join("text.db"), "not a ledger at all").expect("it can be written");
    fs::write(bench.folder().join("empty.db"), "").expect("it can be written");
    for name in ["foreign.db", "cut.db", "text.db", "empty.db"] {
        let before = fs::read(bench.folder().join(name)).expect("it is there");
        for verb in ["history", "parent add RB", "suspects", "undo"] {
            let err = bench.fails(&format!("--ledger {name} {verb}"), 4);
            assert!(
                err.contains(name) && err.contains("\ntry: locule"),
                "{name} {verb}: {err}"
            );
        }
        assert_eq!(
            fs::read(bench.folder().join(name)).expect("it is there"),
            before,
            "{name}"
        );
    }
}

#[test]
fn a_record_altered_from_outside_is_found() {
    let bench = begun();
    let connection = rusqlite::Connection::open(bench.ledger()).expect("it is there");
    connection
        .execute_batch("UPDATE plant SET name = 'Day Lantern' WHERE name = 'Night Lantern'")
        .expect("one row");
    drop(connection);
    let run = bench.run("check-ledger");
    let out = flat(&run.out);
    assert_eq!(run.status, Some(4));
    assert!(
        out.contains("Found: 1 fault")
            && out.contains(
                "plant NL (plant 1), last written by entry 2 (parent add NL 'Night Lantern' \
                 --genotype A/A): name is 'Day Lantern' where the history says 'Night Lantern'"
            ),
        "{out}"
    );
    assert_eq!(run.err, "try: locule check-ledger --rebuild rebuilt.db\n");
    for line in [
        "show NL",
        "sheet",
        "note NL 'first buds'",
        "export",
        "accept",
    ] {
        let err = flat(&bench.fails(line, 4));
        assert!(
            err.contains("is damaged: plant NL") && err.ends_with("try: locule check-ledger"),
            "{line}: {err}"
        );
    }
    let run = bench.run("check-ledger --json");
    let value: serde_json::Value = serde_json::from_str(&run.out).expect("JSON");
    assert_eq!(
        (run.status, value["sound"].as_bool()),
        (Some(4), Some(false))
    );
}

#[test]
fn while_another_process_writes_nothing_is_recorded_and_questions_are_answered() {
    let bench = begun();
    let other = rusqlite::Connection::open(bench.ledger()).expect("it is there");
    other
        .execute_batch("BEGIN IMMEDIATE")
        .expect("nobody else writes");
    let err = bench.fails("note NL 'first buds'", 3);
    assert!(err.contains("another process is writing"), "{err}");
    assert!(bench.ok("show NL").contains("Night Lantern"));
    other.execute_batch("ROLLBACK").expect("it was begun");
    bench.ok("note NL 'first buds'");
}

#[test]
fn what_later_texts_name_cannot_be_undone() {
    let bench = Bench::new();
    for line in [
        "init",
        "locus set J --alleles J,j,jx",
        "parent add P3 --genotype J/jx",
        "trait add hh --classes hairy,bald --rule 'J/_ => hairy' --rule 'else => bald'",
        "trait bench hh",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let err = flat(&bench.fails("undo 2", 1));
    for named in ["3 (parent add P3", "4 (trait add hh", "try: locule undo 4"] {
        assert!(err.contains(named), "{named}: {err}");
    }
    let err = flat(&bench.fails("undo 4", 1));
    assert!(err.contains("5 (trait bench hh)"), "{err}");
    assert!(bench.ok("check-ledger").contains("All is well"));
    for line in ["undo 5", "undo 4", "undo 3", "undo 2", "redo", "redo"] {
        bench.ok(line);
        assert!(bench.ok("check-ledger").contains("All is well"), "{line}");
        bench.ok("suspects");
    }
}

#[test]
fn a_setting_that_was_given_again_holds_the_earlier_one_back() {
    let bench = begun();
    for line in ["assume dim 0.1", "assume dim default", "assume dim 0.2"] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let err = flat(&bench.fails("undo 8", 1));
    assert!(err.contains("9 (assume dim 0.2)"), "{err}");
}

#[test]
fn no_typed_text_becomes_a_command_to_try() {
    let bench = begun();
    bench.ok("note NL 'see; with: locule undo 1'");
    let err = bench.fails("undo 2", 1);
    let tries: Vec<&str> = err.lines().filter(|l| l.starts_with("try: ")).collect();
    assert_eq!(tries, ["try: locule undo 7"], "{err}");
    assert!(err.contains("\n  nothing was changed\n"), "{err}");
}

#[test]
fn a_file_that_cannot_be_used_gets_a_command_that_helps() {
    let bench = begun();
    let whole = fs::read(bench.ledger()).expect("it is there");
    let at = |name: &str| bench.folder().join(name);
    fs::write(at("text.db"), "not a ledger at all").expect("it can be written");
    fs::write(at("cut.db"), &whole[..whole.len() - 4096]).expect("it can be written");
    rusqlite::Connection::open(at("odd.db"))
        .and_then(|odd| {
            odd.execute_batch(
                "PRAGMA application_id = 0x4c4f4355; PRAGMA user_version = 1; CREATE TABLE t (a)",
            )
        })
        .expect("SQLite makes it");
    for (file, verb, helps) in [
        ("text.db", "history", "locule --ledger other.db init"),
        ("text.db", "check-ledger", "locule --ledger other.db init"),
        ("odd.db", "history", "locule --ledger odd.db check-ledger"),
        ("odd.db", "check-ledger", "locule --ledger odd.db restore"),
        ("cut.db", "history", "locule --ledger cut.db restore"),
    ] {
        let err = bench.fails(&format!("--ledger {file} {verb}"), 4);
        assert!(
            err.ends_with(&format!("\ntry: {helps}\n")),
            "{file} {verb}: {err}"
        );
    }
}

#[test]
fn another_state_of_the_ledger_beside_it_is_pointed_out() {
    let bench = begun();
    let name = "ledger (conflicted copy 2026-03-01).db";
    fs::copy(bench.ledger(), bench.folder().join(name)).expect("it can be copied");
    let run = bench.run("check-ledger");
    assert_eq!(run.status, Some(0), "{}", run.err);
    assert!(run.out.contains("All is well"), "{}", run.out);
    let err = flat(&run.err);
    assert!(err.starts_with("note: ") && err.contains(name), "{err}");
    let run = bench.run("note NL 'first buds' --json");
    assert!(serde_json::from_str::<serde_json::Value>(&run.out).is_ok());
    assert_eq!(run.err.matches("note: ").count(), 1, "{}", run.err);
    assert_eq!(bench.run("show NL").err, "");
}
