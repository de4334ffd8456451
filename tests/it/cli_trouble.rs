//! What stands in a ledger's way: odd files in its place, what vanished, and a state folder that cannot be used.
//! Asking leaves everything as it was, and every message is true and names what helps.

use std::fs;
use std::path::Path;

use crate::support::{Bench, Run, finish, flat, split};

/// A ledger of seven entries of two days; the copy of the second day holds four of them.
fn begun() -> Bench {
    let mut bench = Bench::new();
    for line in [
        "init",
        "parent add NL 'Night Lantern' --genotype A/A",
        "parent add CW --genotype a/a",
        "cross CW NL --on 2026-01-02",
    ] {
        bench.ok(line);
    }
    bench.on("2026-03-02");
    for line in ["note NL one", "note NL two", "note NL three"] {
        bench.ok(line);
    }
    bench
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .expect("a folder")
        .map(|entry| {
            entry
                .expect("a file")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    names.sort();
    names
}

fn tries(err: &str) -> Vec<&str> {
    err.lines()
        .filter_map(|line| line.strip_prefix("try: "))
        .collect()
}

/// Runs a command line with another state folder.
fn run_with_state(bench: &Bench, state: &Path, line: &str) -> Run {
    finish(bench.command(&split(line)).env("LOCULE_STATE", state))
}

fn write_ahead(file: &Path) {
    let mode: String = rusqlite::Connection::open(file)
        .expect("SQLite opens it")
        .query_row("PRAGMA journal_mode = WAL", [], |row| row.get(0))
        .expect("it answers");
    assert_eq!(mode, "wal");
}

#[test]
fn asking_a_file_in_write_ahead_mode_puts_nothing_beside_it() {
    let bench = begun();
    let foreign = bench.folder().join("foreign.db");
    rusqlite::Connection::open(&foreign)
        .and_then(|connection| connection.execute_batch("CREATE TABLE t (a)"))
        .expect("SQLite makes it");
    write_ahead(&foreign);
    write_ahead(&bench.ledger());
    let before = (
        names(bench.folder()),
        fs::read(bench.ledger()).expect("it is there"),
    );
    for line in [
        "history",
        "note NL x",
        "check-ledger",
        "accept",
        "backup copy.db",
        "--ledger foreign.db history",
        "--ledger foreign.db check-ledger --rebuild built.db",
    ] {
        assert!(!tries(&bench.fails(line, 4)).is_empty(), "{line}");
    }
    bench.ok("backup --list");
    bench.ok("restore");
    bench.ok("--ledger foreign.db restore");
    let after = (
        names(bench.folder()),
        fs::read(bench.ledger()).expect("it is there"),
    );
    assert_eq!(after, before);
}

#[test]
fn a_ledger_in_write_ahead_mode_is_built_anew_and_not_silently_replaced() {
    let bench = begun();
    write_ahead(&bench.ledger());
    let err = bench.fails("restore --latest", 1);
    assert!(
        flat(&err).contains("only in the ledger: 5 (note NL one)"),
        "{err}"
    );
    let err = bench.fails("check-ledger", 4);
    let build = "locule check-ledger --rebuild rebuilt.db";
    assert!(tries(&err).contains(&build), "{err}");
    let out = flat(&bench.ok("check-ledger --rebuild rebuilt.db"));
    assert!(
        out.contains("7 entries") && out.contains("no entry is missing"),
        "{out}"
    );
    bench.ok("restore rebuilt.db");
    assert!(bench.ok("show NL").contains("three"));
    assert_eq!(names(&bench.state().join("scratch")), Vec::<String>::new());
}

#[cfg(unix)]
#[test]
fn a_pipe_in_the_place_of_a_ledger_is_refused_at_once() {
    let bench = begun();
    let made = std::process::Command::new("mkfifo")
        .arg(bench.folder().join("pipe"))
        .status();
    assert!(made.expect("mkfifo is there").success());
    for (line, status) in [
        ("--ledger pipe history", 4),
        ("--ledger pipe note NL x", 4),
        ("--ledger pipe check-ledger", 4),
        ("--ledger pipe restore ledger.db", 4),
        ("restore pipe", 4),
        ("backup pipe --force", 1),
    ] {
        let err = bench.fails(line, status);
        assert!(err.contains("pipe"), "{line}: {err}");
    }
}

#[test]
fn init_leaves_a_journal_beside_a_ledger_to_the_care_of_opening() {
    let bench = begun();
    let whole = fs::read(bench.ledger()).expect("it is there");
    let journal = bench.folder().join("ledger.db-journal");
    // An interrupted write that had reached the journal and some pages of the file.
    let kept = {
        let connection = rusqlite::Connection::open(bench.ledger()).expect("it is there");
        connection
            .execute_batch("PRAGMA cache_size = 2; BEGIN IMMEDIATE; DELETE FROM allele; DELETE FROM trait_rule")
            .expect("it is deleted");
        let kept = fs::read(&journal).expect("it is there");
        connection
            .execute_batch("ROLLBACK")
            .expect("it is taken back");
        kept
    };
    fs::write(bench.ledger(), &whole).expect("it can be written");
    fs::write(&journal, &kept).expect("it can be written");
    let err = bench.fails("init", 1);
    assert!(err.contains("is there already"), "{err}");
    let room = bench.state().join("aside");
    let of_key = room.join(&names(&room)[0]);
    let pair = of_key.join(&names(&of_key)[0]);
    assert_eq!(
        fs::read(pair.join("ledger.db-journal")).expect("a copy"),
        kept
    );
    assert!(bench.ok("check-ledger").contains("All is well"));
    fs::remove_file(bench.ledger()).expect("it is there");
    fs::write(&journal, &kept).expect("it can be written");
    bench.fails("init", 1);
    assert_eq!(fs::read(&journal).expect("it is there"), kept);
    assert!(!bench.ledger().exists());
}

#[test]
fn what_was_known_beyond_the_copy_that_comes_back_is_said() {
    let bench = begun();
    bench.ok("export season.jsonl");
    let (whole, marks) = (
        fs::read(bench.ledger()).expect("it is there"),
        bench.state().join("marks"),
    );
    let mark = marks.join(&names(&marks)[0]);
    let known = fs::read(&mark).expect("it is there");
    for (what, state) in [("gone", None), ("half", Some(&whole[..whole.len() / 2]))] {
        match state {
            None => fs::remove_file(bench.ledger()).expect("it is there"),
            Some(half) => fs::write(bench.ledger(), half).expect("it can be written"),
        }
        fs::write(&mark, &known).expect("it can be written");
        let run = bench.run("restore --latest --force");
        assert_eq!((run.status, run.err.as_str()), (Some(0), ""), "{what}");
        let said = "This computer knew entries up to 7; 5 to 7 are not in this copy.";
        assert!(flat(&run.out).contains(said), "{what}: {}", run.out);
    }
    fs::remove_file(bench.ledger()).expect("it is there");
    fs::write(&mark, &known).expect("it can be written");
    let answer = bench.json("restore --latest");
    assert_eq!(answer["known"], 7);
    assert_eq!(answer["missing"], serde_json::json!([5, 6, 7]));
    assert!(bench.ok("check-ledger").contains("All is well"));
    bench.ok("note NL four");
    fs::remove_file(bench.ledger()).expect("it is there");
    let err = flat(&bench.run("import season.jsonl").err);
    assert!(
        err.contains("it went another way") || err.contains("known here up to"),
        "{err}"
    );
    bench.ok("show NL");
    fs::remove_file(bench.ledger()).expect("it is there");
    let run = bench.run("init");
    assert_eq!(run.status, Some(0));
    let err = flat(&run.err);
    assert!(
        err.contains("another ledger was known at") && err.contains("up to entry 7"),
        "{err}"
    );
    assert!(err.contains("its newest copy is "), "{err}");
}

#[test]
fn what_is_restored_knowingly_is_said_once() {
    let bench = begun();
    let run = bench.run("restore --latest --force");
    assert_eq!((run.status, run.err.as_str()), (Some(0), ""));
    assert!(
        flat(&run.out).contains("no longer in the ledger: 5 (note NL one)"),
        "{}",
        run.out
    );
}

#[test]
fn a_folder_that_is_away_is_waited_for_before_a_copy_takes_its_place() {
    let bench = Bench::new();
    let at = |line: &str| bench.run(&format!("--ledger disk/season.db {line}"));
    for line in ["init", "parent add NL", "note NL x"] {
        assert_eq!(at(line).status, Some(0), "{line}");
    }
    fs::rename(bench.folder().join("disk"), bench.folder().join("away")).expect("it can be moved");
    let run = at("note NL y");
    assert_eq!(run.status, Some(1));
    let [again, restore] = tries(&run.err)[..] else {
        panic!("{}", run.err)
    };
    assert_eq!(again, "locule --ledger disk/season.db note NL y");
    assert!(
        restore.starts_with("locule --ledger disk/season.db restore "),
        "{restore}"
    );
    let run = bench.run("--ledger ledger.db/season.db history");
    assert_eq!(run.status, Some(1), "{}", run.err);
    fs::write(bench.folder().join("notes.txt"), "seed box").expect("it can be written");
    let err = bench.fails("--ledger notes.txt/season.db history", 1);
    assert!(err.contains("the folder"), "{err}");
}

#[test]
fn of_another_ledger_in_its_place_the_copies_of_the_known_one_are_named() {
    let bench = begun();
    let run = finish(
        bench
            .command(&["--ledger", "other.db", "init"])
            .env("LOCULE_SEED", "2"),
    );
    assert_eq!(run.status, Some(0), "{}", run.err);
    bench.ok("--ledger other.db parent add RB");
    fs::copy(bench.folder().join("other.db"), bench.ledger()).expect("it can be copied");
    let err = bench.fails("note RB x", 4);
    let restore = split(tries(&err)[0]);
    assert!(
        restore[2].ends_with(".db") && Path::new(&restore[2]).exists(),
        "{restore:?}"
    );
    assert!(bench.run("restore").out.contains("2026-03-02"));
    let mut forced = restore[1..].to_vec();
    forced.push("--force".to_owned());
    assert_eq!(bench.run_words(&forced).status, Some(0));
    bench.ok("show NL");
}

#[test]
fn an_unusable_state_folder_is_told_truly() {
    let bench = begun();
    let taken = bench.folder().join("taken");
    fs::write(&taken, "a file").expect("it can be written");
    let run = run_with_state(&bench, &taken, "check-ledger");
    assert_eq!(run.status, Some(0), "{}", run.err);
    assert!(flat(&run.out).contains("could not make one"), "{}", run.out);
    let run = run_with_state(&bench, &taken, "note NL x");
    assert_eq!(run.status, Some(1));
    assert_eq!(tries(&run.err), ["locule note NL x"]);
    assert!(run.err.contains("LOCULE_STATE"), "{}", run.err);
}

#[cfg(unix)]
#[test]
fn a_second_name_is_answered_with_commands_that_help() {
    let bench = begun();
    fs::hard_link(bench.ledger(), bench.folder().join("second.db")).expect("a link");
    let err = bench.fails("note NL x", 1);
    let [copy, again] = tries(&err)[..] else {
        panic!("{err}")
    };
    let words = split(copy);
    let done = std::process::Command::new(&words[0])
        .args(&words[1..])
        .current_dir(bench.folder())
        .status();
    assert!(done.expect("cp is there").success());
    let words = split(again);
    assert_eq!(bench.run_words(&words[1..]).status, Some(0));
}

#[cfg(target_os = "linux")]
#[test]
fn an_answer_that_cannot_be_shown_does_not_deny_what_was_done() {
    let bench = begun();
    for line in [
        "backup copy.db",
        "restore --latest --force",
        "accept",
        "export season.jsonl",
    ] {
        let full = fs::File::options()
            .write(true)
            .open("/dev/full")
            .expect("Linux has it");
        let output = bench
            .command(&split(line))
            .stdout(full)
            .output()
            .expect("the program can be started");
        let err = String::from_utf8(output.stderr).expect("UTF-8");
        assert_eq!(output.status.code(), Some(5), "{line}");
        assert!(err.contains("is done all the same"), "{line}: {err}");
    }
}

#[test]
fn an_older_file_that_no_copy_goes_beyond_leads_to_ones_own_backup_or_accept() {
    let bench = begun();
    let copies = bench.state().join("copies");
    let shelf = copies.join(&names(&copies)[0]);
    let copy = names(&shelf)
        .into_iter()
        .rfind(|name| name.ends_with(".db"))
        .expect("the copy of the second day");
    bench.ok("backup own.db");
    let newest = fs::read(bench.ledger()).expect("it is there");
    fs::copy(shelf.join(copy), bench.ledger()).expect("it can be copied");
    let err = bench.fails("note NL four", 4);
    assert_eq!(tries(&err), ["locule accept"], "{err}");
    assert!(
        flat(&err).contains("no copy kept here holds what it lacks")
            && flat(&err).contains("'locule restore FILE'"),
        "{err}"
    );
    for line in ["restore", "backup --list"] {
        let said = flat(&bench.ok(line));
        assert!(
            said.contains("Entry 7, the last that this computer knew, is neither in the ledger")
                && said.contains("'locule accept'")
                && !said.contains("--latest"),
            "{line}: {said}"
        );
    }
    assert_eq!(bench.json("restore")["lost"], 7);
    let said = flat(&bench.ok("restore --latest"));
    assert!(
        said.contains("5 to 7 are not in this copy") && said.contains("'locule accept'"),
        "{said}"
    );
    let run = bench.run("check-ledger");
    assert_eq!(run.status, Some(4));
    assert!(!run.out.contains("--rebuild"), "{}", run.out);
    assert!(flat(&run.out).contains("'locule accept'"), "{}", run.out);
    assert_eq!(tries(&run.err), ["locule accept"], "{}", run.err);
    bench.ok("restore own.db");
    assert_eq!(fs::read(bench.ledger()).expect("it is there"), newest);
    let listed = bench.ok("restore");
    assert!(
        listed.contains("--latest") && !listed.contains("Entry 7"),
        "{listed}"
    );
}
