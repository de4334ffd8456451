//! What a grower sees when the ledger is not the one that this computer knows, and the ways out.

use std::fs;

use crate::support::{Bench, flat, split};

/// A ledger of eight entries of three days, and its bytes after the sixth.
fn put_back() -> (Bench, Vec<u8>) {
    let mut bench = Bench::new();
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
    let older = fs::read(bench.ledger()).expect("it is there");
    bench.on("2026-03-02").ok("note NL 'first buds'");
    bench.on("2026-03-03").ok("note NL 'first flower'");
    fs::write(bench.ledger(), &older).expect("it can be written");
    (bench, older)
}

fn tries(err: &str) -> Vec<&str> {
    err.lines()
        .filter_map(|line| line.strip_prefix("try: locule "))
        .collect()
}

#[test]
fn an_older_file_put_back_is_answered_from_with_a_warning() {
    let (bench, older) = put_back();
    let run = bench.run("show NL");
    let err = flat(&run.err);
    assert_eq!(run.status, Some(0));
    assert!(run.out.contains("Night Lantern"), "{}", run.out);
    assert!(
        err.starts_with("warning: ")
            && err.contains("it ends with entry 6 (fingerprint ")
            && err.contains("is known here up to entry 8 (fingerprint "),
        "{err}"
    );
    let [restore, "accept"] = tries(&run.err)[..] else {
        panic!("{err}")
    };
    assert!(restore.starts_with("restore "), "{restore}");
    let run = bench.run("show NL --json");
    assert!(serde_json::from_str::<serde_json::Value>(&run.out).is_ok());
    assert!(run.err.starts_with("warning: "), "{}", run.err);
    let err = bench.fails("note NL 'second flower'", 4);
    assert!(flat(&err).contains("nothing was changed"), "{err}");
    assert_eq!(tries(&err), [restore, "accept"]);
    let run = bench.run("check-ledger");
    assert_eq!(run.status, Some(4));
    assert!(
        flat(&run.out).contains("known here up to entry 8"),
        "{}",
        run.out
    );
    assert_eq!(tries(&run.err), [restore, "accept"]);
    assert_eq!(fs::read(bench.ledger()).expect("it is there"), older);
}

#[test]
fn what_is_lost_by_accepting_is_listed() {
    let (bench, older) = put_back();
    let out = flat(&bench.ok("accept"));
    assert!(
        out.contains("6 entries")
            && out.contains("Entries 7 to 8 were known here and are not in this file.")
            && out.contains("only there: entry 7 (note NL 'first buds')"),
        "{out}"
    );
    assert_eq!(fs::read(bench.ledger()).expect("it is there"), older);
    let out = flat(&bench.ok("accept"));
    assert!(out.contains("nothing to accept"), "{out}");
    let out = flat(&bench.ok("check-ledger"));
    assert!(
        out.contains("All is well") && out.contains("byte for byte"),
        "{out}"
    );
    bench.ok("note NL 'second flower'");
    assert_eq!(bench.json("accept")["was"], "as-known");
}

#[test]
fn the_copy_that_is_named_can_be_restored() {
    let (bench, _) = put_back();
    let err = bench.run("show NL").err;
    let words = split(tries(&err)[0]);
    assert_eq!(bench.run_words(&words).status, Some(0));
    assert!(bench.ok("show NL").contains("first buds"));
    bench.ok("note NL 'first flower'");
    assert!(bench.ok("check-ledger").contains("All is well"));
}

#[test]
fn a_ledger_that_is_gone_or_cut_names_the_copy_that_is_kept() {
    let (bench, older) = put_back();
    fs::remove_file(bench.ledger()).expect("it is there");
    let err = bench.fails("show NL", 1);
    let [restore, "init"] = tries(&err)[..] else {
        panic!("{err}")
    };
    assert!(restore.starts_with("restore "), "{restore}");
    fs::write(bench.ledger(), &older[..older.len() - 4096]).expect("it can be written");
    for line in ["show NL", "note NL x", "check-ledger", "accept"] {
        assert_eq!(tries(&bench.fails(line, 4))[0], restore, "{line}");
    }
    assert_eq!(bench.run_words(&split(restore)).status, Some(0));
    assert!(bench.ok("show NL").contains("first buds"));
}

#[test]
fn a_ledger_that_went_another_way_elsewhere_shows_both_tails() {
    let (mut bench, _) = put_back();
    let run = crate::support::finish(
        bench
            .command(&["note", "CW", "from the other bench"])
            .env("LOCULE_STATE", bench.folder().join("other")),
    );
    assert_eq!(run.status, Some(0), "{}", run.err);
    let run = crate::support::finish(
        bench
            .command(&["note", "CW", "once more"])
            .env("LOCULE_STATE", bench.folder().join("other")),
    );
    assert_eq!(run.status, Some(0), "{}", run.err);
    bench.on("2026-03-04");
    let err = flat(&bench.fails("note NL x", 4));
    assert!(err.contains("it went another way"), "{err}");
    let out = flat(&bench.ok("accept"));
    for said in [
        "only there: entry 7 (note NL 'first buds')",
        "only here: entry 7 (note CW 'from the other bench')",
        "only here: entry 8 (note CW 'once more')",
    ] {
        assert!(out.contains(said), "{said}: {out}");
    }
}
