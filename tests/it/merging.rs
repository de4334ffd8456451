//! Another ledger's records brought into one that holds records: the laws it keeps, and its words.
//!
//! The laws are held against the program's own recording: bringing a ledger in is the same, row by row, as typing
//! its commands with the new codes into the first one.

use std::fs;

use serde_json::Value;

use crate::oracle::season::{Season, Sown, iso};
use crate::random_season::random_season;
use crate::support::{Bench, Run, finish, flat};

/// A bench on a day, with a ledger whose id follows from a seed.
fn begun(today: &str, seed: &str) -> Bench {
    let mut bench = Bench::new();
    bench.on(today);
    let run = finish(bench.command(&["init"]).env("LOCULE_SEED", seed));
    assert_eq!(run.status, Some(0), "{}", run.err);
    bench
}

fn play(bench: &Bench, lines: &[&str]) {
    for line in lines {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
}

fn enter(bench: &Bench, season: &Season) {
    for line in season.commands().iter().skip(1) {
        let run = bench.run_words(line);
        assert_eq!(run.status, Some(0), "{line:?}: {}", run.err);
    }
}

/// Hands the ledger of one bench to another as `theirs.jsonl`.
fn hand_over(from: &Bench, to: &Bench) {
    fs::write(to.folder().join("theirs.jsonl"), from.ok("export")).unwrap();
}

/// The record lines of an export, without those that say where records came from.
fn records(bench: &Bench) -> Vec<String> {
    let export = bench.ok("export");
    let lines = export.lines().filter(|line| {
        line.starts_with("{\"table\"")
            && !line.starts_with("{\"table\":\"imported_ledger\"")
            && !line.starts_with("{\"table\":\"came_from\"")
    });
    lines.map(str::to_owned).collect()
}

/// The season under the codes that a prefix gives.
fn renamed(season: &Season, prefix: &str) -> Season {
    let mut season = season.clone();
    let rename = |code: &mut String| code.insert_str(0, prefix);
    season
        .parents
        .iter_mut()
        .for_each(|it| rename(&mut it.code));
    season
        .pollinations
        .iter_mut()
        .for_each(|it| rename(&mut it.cross));
    season.lots.iter_mut().for_each(|it| rename(&mut it.cross));
    for batch in &mut season.batches {
        rename(&mut batch.tray);
        if let Sown::Cross(code) = &mut batch.sown {
            rename(code);
        }
    }
    let own = season.traits.iter_mut().filter(|it| !it.built_in);
    own.for_each(|it| rename(&mut it.code));
    season
}

/// What `suspects` says, with the prefix taken off again.
fn suspects(bench: &Bench, prefix: &str) -> Value {
    let said = bench.run("suspects --json");
    assert_eq!(said.status, Some(0), "{}", said.err);
    let mut said: Value = serde_json::from_str(&said.out.replace(prefix, "")).unwrap();
    said["batches"].take()
}

#[test]
fn bringing_a_ledger_in_is_as_typing_its_commands_with_the_new_codes() {
    for (ours, theirs) in [(0, 2), (3, 1), (8, 6), (5, 12)] {
        let (ours, theirs) = (random_season(ours), random_season(theirs));
        let today = iso(ours.today.max(theirs.today));
        let (here, there) = (begun(&today, "here"), begun(&today, "there"));
        let both = begun(&today, "here");
        enter(&here, &ours);
        enter(&there, &theirs);
        enter(&both, &ours);
        enter(&both, &renamed(&theirs, "B."));
        hand_over(&there, &here);
        let before = records(&here);
        let said = here.ok("import theirs.jsonl --prefix B.");
        // Names are text and come as they are; the season makes them of the codes.
        let mut typed = records(&both);
        let plain = |line: &mut String| *line = line.replace("Invented B.", "Invented ");
        typed.iter_mut().for_each(plain);
        assert_eq!(records(&here), typed, "{said}");
        assert_eq!(suspects(&here, "-"), suspects(&both, "-"));
        assert!(here.ok("check-ledger").contains("All is well"));
        carry_on(&here, &before);
    }
}

/// The merged ledger travels, and undo and redo take all of it back and bring all of it again.
fn carry_on(here: &Bench, before: &[String]) {
    let merged = here.ok("export");
    fs::write(here.folder().join("merged.jsonl"), &merged).unwrap();
    here.ok("--ledger copy.db import merged.jsonl");
    assert_eq!(here.ok("--ledger copy.db export"), merged);
    let lines = |text: &str| -> Vec<String> {
        let records = text.lines().filter(|line| line.starts_with("{\"table\""));
        records.map(str::to_owned).collect()
    };
    here.ok("undo");
    assert_eq!(lines(&here.ok("export")), before);
    assert!(here.ok("check-ledger").contains("All is well"));
    here.ok("redo");
    assert_eq!(lines(&here.ok("export")), lines(&merged));
    assert!(here.ok("check-ledger").contains("All is well"));
}

#[test]
fn where_nothing_here_bears_on_them_their_trays_are_judged_as_at_home() {
    for seed in [1, 4, 7] {
        let theirs = random_season(seed);
        let today = iso(theirs.today);
        let (here, there) = (begun(&today, "here"), begun(&today, "there"));
        play(
            &here,
            &["care gnats --on 2025-01-01", "note foliage 'look at noon'"],
        );
        enter(&there, &theirs);
        hand_over(&there, &here);
        here.ok("import theirs.jsonl --prefix B.");
        assert_eq!(
            suspects(&here, "B."),
            suspects(&there, "B."),
            "season {seed}"
        );
    }
}

/// Two benches that have the same codes for other things; theirs holds a tray with two readings.
fn pair() -> (Bench, Bench) {
    let (here, there) = (begun("2026-06-01", "here"), begun("2026-06-01", "there"));
    let sowing = [
        "parent add NL 'Night Lantern' --genotype A/A --on 2026-01-01",
        "parent add CW --genotype a/a --on 2026-01-01",
        "cross CW NL --on 2026-01-02",
        "harvest X1 --seeds 20 --on 2026-02-20",
        "sow X1 --seeds 4 --on 2026-03-01",
        "up T1 4 --on 2026-03-12",
    ];
    play(&here, &sowing);
    play(&there, &sowing);
    play(&there, &["score T1 1=green 2=purple --on 2026-05-20"]);
    hand_over(&there, &here);
    (here, there)
}

#[test]
fn a_dry_run_shows_what_would_come_and_changes_nothing() {
    let (here, there) = pair();
    play(&here, &["assume dim 0.05"]);
    play(&there, &["trait off stem-hair"]);
    hand_over(&there, &here);
    let before = fs::read(here.ledger()).unwrap();
    let said = flat(&here.ok("import theirs.jsonl --dry-run"));
    for words in [
        "(9 entries) this would come; nothing was changed",
        "comes 4 plants, 1 cross, 1 pollination, 1 lot, 1 tray, 2 readings",
        "in both 22 traits, 24 loci",
        "stays stem-hair: on (off there), dim: 0.05 (the default there)",
        "clashes NL, CW, X1, T1",
        "Next: locule import theirs.jsonl --prefix B.",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    let said = flat(&here.ok("import theirs.jsonl --dry-run --prefix F."));
    assert!(
        said.contains("is called NL as F.NL, CW as F.CW, X1 as F.X1, T1 as F.T1"),
        "{said}"
    );
    let json = here.json("import theirs.jsonl --dry-run");
    assert_eq!(json["merged"], false);
    assert_eq!(json["clashes"].as_array().unwrap().len(), 4);
    assert_eq!(fs::read(here.ledger()).unwrap(), before);
}

#[test]
fn codes_that_clash_are_refused_and_the_prefix_that_helps_is_named() {
    let (here, _) = pair();
    let before = records(&here);
    let err = flat(&here.fails("import theirs.jsonl", 1));
    assert!(
        err.contains("4 codes of theirs name something here already: NL, CW, X1, T1")
            && err.contains("nothing was changed")
            && err.ends_with("try: locule import theirs.jsonl --prefix B."),
        "{err}"
    );
    let err = flat(&here.fails("import theirs.jsonl --prefix a_very_long_prefix_12345", 1));
    assert!(
        err.contains("no code any more: NL, CW, X1, T1")
            && err
                .contains("'a_very_long_prefix_12345NL' has 26 characters; a code has at most 24"),
        "{err}"
    );
    let err = flat(&here.fails("import theirs.jsonl --prefix 1.", 1));
    assert!(err.contains("a code begins with a letter"), "{err}");
    play(&here, &["parent add B.NL"]);
    let err = flat(&here.fails("import theirs.jsonl --prefix B.", 1));
    assert!(
        err.contains("a code of theirs names something here already: B.NL")
            && err.ends_with("--prefix C."),
        "{err}"
    );
    play(&here, &["undo"]);
    assert_eq!(records(&here), before);
}

#[test]
fn what_came_says_where_from_and_what_it_was_called() {
    let (here, there) = pair();
    let entry = here.json("import theirs.jsonl --prefix B.");
    assert_eq!(
        (&entry["merged"], &entry["entry"]),
        (&true.into(), &8.into())
    );
    let id = there.json("check-ledger")["ledger_id"].as_str().unwrap()[..8].to_owned();
    for (code, called) in [
        ("B.T1", "T1"),
        ("B.T1-1", "T1-01"),
        ("B.NL", "NL"),
        ("B.X1/1", "X1/1"),
    ] {
        let said = flat(&here.ok(&format!("show {code}")));
        let wanted = format!("the ledger {id} as of 8 entries, fingerprint ");
        assert!(
            said.contains(&wanted) && said.contains(&format!("2026-06-01; called {called} there")),
            "{code}: {said}"
        );
    }
    assert!(!here.ok("show T1").contains("called"));
    let history = here.json("history B.T1");
    let entries = history["entries"].as_array().unwrap();
    assert_eq!(entries.len(), 1);
    assert_eq!(entries[0]["command"], "import theirs.jsonl --prefix B.");
    // Numbers of lots and codes go on where they stood there.
    let said = here.ok("harvest B.X1 --seeds 5");
    assert!(said.contains("B.X1/2"), "{said}");
    let err = flat(&here.fails("undo 8", 1));
    assert!(
        err.contains("later entries build on it: 9 (harvest B.X1"),
        "{err}"
    );
}

#[test]
fn a_copy_as_it_was_is_kept_before() {
    let (here, _) = pair();
    let before = fs::read(here.ledger()).unwrap();
    here.ok("import theirs.jsonl --prefix B.");
    let mut files = vec![here.state().join("copies")];
    let mut kept = Vec::new();
    while let Some(folder) = files.pop() {
        for entry in fs::read_dir(folder).unwrap().map(|entry| entry.unwrap()) {
            if entry.path().is_dir() {
                files.push(entry.path());
            } else {
                kept.push(fs::read(entry.path()).unwrap());
            }
        }
    }
    assert!(kept.contains(&before), "{} copies", kept.len());
}

#[test]
fn a_ledger_is_brought_in_once() {
    let (here, there) = pair();
    here.ok("import theirs.jsonl --prefix B.");
    let refusal = |here: &Bench, state: &str| {
        let err = refused(&here.run("import theirs.jsonl --prefix C."));
        let wanted = format!(
            "entry 8 (import theirs.jsonl --prefix B.) brought that ledger in already; the export is {state}"
        );
        assert!(
            err.contains(&wanted) && err.ends_with("try: locule undo 8"),
            "{err}"
        );
    };
    refusal(&here, "the same state of it");
    play(&there, &["note T1 'a week on'"]);
    hand_over(&there, &here);
    refusal(&here, "a later state of it");
    let earlier = begun("2026-06-01", "there");
    play(
        &earlier,
        &["parent add NL 'Night Lantern' --genotype A/A --on 2026-01-01"],
    );
    hand_over(&earlier, &here);
    refusal(&here, "an earlier state of it");
    // Taken back it can come in another state; redone after that it would come twice.
    play(&here, &["undo 8"]);
    hand_over(&there, &here);
    play(&here, &["import theirs.jsonl --prefix C."]);
    assert!(flat(&here.ok("show C.T1")).contains("a week on"));
    assert_eq!(here.run("redo").status, Some(1));
}

#[test]
fn records_never_come_twice_by_way_of_a_third_ledger() {
    let (here, there) = pair();
    let third = begun("2026-06-01", "third");
    play(&third, &["parent add TH"]);
    hand_over(&there, &third);
    play(&third, &["import theirs.jsonl --prefix B."]);
    hand_over(&third, &here);
    let twice = flat(&here.ok("import theirs.jsonl --prefix T."));
    assert!(twice.contains("were brought in"), "{twice}");
    let said = flat(&here.ok("show T.B.T1"));
    assert!(
        said.contains("called B.T1 there") && said.contains("called T1 there"),
        "both ledgers are named: {said}"
    );
    hand_over(&there, &here);
    let err = refused(&here.run("import theirs.jsonl --prefix C."));
    assert!(err.contains("brought that ledger in already"), "{err}");
    hand_over(&here, &there);
    let err = refused(&there.run("import theirs.jsonl --prefix C."));
    assert!(
        err.contains("they are here already") && err.contains("they would stand twice"),
        "{err}"
    );
}

#[test]
fn the_export_of_this_very_ledger_changes_nothing() {
    let (here, _) = pair();
    let earlier = here.ok("export");
    fs::write(here.folder().join("own.jsonl"), &earlier).unwrap();
    let before = fs::read(here.ledger()).unwrap();
    let said = flat(&here.ok("import own.jsonl"));
    assert!(said.contains("nothing was changed"), "{said}");
    assert!(flat(&here.ok("import own.jsonl --dry-run")).contains("nothing was changed"));
    play(&here, &["note T1 'later'"]);
    let err = refused(&here.run("import own.jsonl"));
    assert!(
        err.contains(
            "this very ledger at an earlier entry, and everything in it is in the history here"
        ),
        "{err}"
    );
    fs::write(here.folder().join("later.jsonl"), here.ok("export")).unwrap();
    // As on another computer, which knows nothing of the later entry.
    fs::write(here.ledger(), before).unwrap();
    fs::remove_dir_all(here.state()).unwrap();
    let err = refused(&here.run("--ledger ledger.db import later.jsonl"));
    assert!(err.contains("this very ledger at a later entry"), "{err}");
}

#[test]
fn without_records_here_there_is_nothing_to_rename() {
    let (here, _) = pair();
    let err = refused(&here.run("--ledger new.db import theirs.jsonl --prefix B."));
    assert!(
        err.contains("holds no records")
            && err.ends_with("try: locule --ledger new.db import theirs.jsonl"),
        "{err}"
    );
    let said = flat(&here.ok("--ledger new.db import theirs.jsonl --dry-run"));
    assert!(
        said.contains("would be made") && !here.folder().join("new.db").exists(),
        "{said}"
    );
    here.ok("--ledger new.db init");
    let said = flat(&here.ok("--ledger new.db import theirs.jsonl --dry-run"));
    assert!(
        said.contains("nothing but its beginning and would become this one"),
        "{said}"
    );
    here.ok("--ledger new.db import theirs.jsonl");
    let id = |text: &str| text[..text.find("\"head\"").unwrap()].to_owned();
    let theirs = fs::read_to_string(here.folder().join("theirs.jsonl")).unwrap();
    assert_eq!(id(&here.ok("--ledger new.db export")), id(&theirs));
}

#[test]
fn without_a_prefix_their_numbers_are_not_given_again_here() {
    let (here, there) = (begun("2026-06-01", "here"), begun("2026-06-01", "there"));
    play(&here, &["parent add OL", "parent add GF"]);
    play(
        &there,
        &[
            "parent add NL",
            "parent add CW",
            "cross CW NL",
            "cross NL CW",
            "undo",
        ],
    );
    hand_over(&there, &here);
    here.ok("import theirs.jsonl");
    let said = here.ok("cross OL GF");
    assert!(
        said.starts_with("X3:"),
        "X2 was given there, and a tag may say so: {said}"
    );
}

fn refused(run: &Run) -> String {
    assert_eq!(run.status, Some(1), "{}{}", run.out, run.err);
    flat(&run.err)
}

/// The alleles of a locus in their order, with their shares.
fn alleles(bench: &Bench, locus: &str) -> Vec<String> {
    let shown = bench.json(&format!("show {locus}"));
    let rows = shown["records"].as_array().unwrap().iter();
    let mut rows: Vec<&Value> = rows.filter(|row| row["table"] == "allele").collect();
    rows.sort_by_key(|row| row["ord"].as_i64());
    let word = |row: &&Value| {
        let share = row["share"].as_str().unwrap_or_default();
        format!("{} {share}", row["symbol"].as_str().unwrap())
            .trim_end()
            .to_owned()
    };
    rows.iter().map(word).collect()
}

#[test]
fn what_both_say_of_a_locus_adds_up_or_is_refused_with_both_statements() {
    let (here, there) = pair();
    play(
        &here,
        &["locus set A --alleles A,q,a", "locus set J --alleles J,j"],
    );
    play(
        &there,
        &[
            "locus set A --alleles A,m,a --share A=0.4",
            "locus set K --alleles K,k --recombines A=0.1",
        ],
    );
    hand_over(&there, &here);
    let said = flat(&here.ok("import theirs.jsonl --prefix B."));
    assert!(
        said.contains("gains locus A: allele m, shares of its alleles") && said.contains("1 locus"),
        "{said}"
    );
    assert_eq!(alleles(&here, "A"), ["A 0.4", "q", "m", "a"]);
    play(&here, &["undo"]);
    assert_eq!(alleles(&here, "A"), ["A", "q", "a"]);
    play(&there, &["locus set J --alleles j,J"]);
    hand_over(&there, &here);
    let err = refused(&here.run("import theirs.jsonl --prefix B."));
    assert!(
        err.contains("contradict each other in locus J")
            && err.contains("here: J: J, j")
            && err.contains("there: J: j, J")
            && err.contains("nothing was changed"),
        "{err}"
    );
    let said = flat(&here.ok("import theirs.jsonl --dry-run --prefix B."));
    assert!(
        said.contains("contradicts locus J - here J: J, j; there J: j, J"),
        "{said}"
    );
}

#[test]
fn other_numbers_for_one_recombination_and_one_allele_at_two_loci_are_contradictions() {
    let (here, there) = pair();
    play(&here, &["locus set K --alleles K,k --recombines A=0.2"]);
    play(&there, &["locus set K --alleles K,k --recombines A=0.1"]);
    hand_over(&there, &here);
    let err = refused(&here.run("import theirs.jsonl --prefix B."));
    assert!(err.contains("the recombination of A and K"), "{err}");
    assert!(
        err.contains("recombine at 0.2") && err.contains("recombine at 0.1"),
        "{err}"
    );
    let (here, there) = pair();
    play(&here, &["locus set V --alleles V,v2"]);
    play(&there, &["locus set W --alleles W,v2"]);
    hand_over(&there, &here);
    let err = refused(&here.run("import theirs.jsonl --prefix B."));
    assert!(
        err.contains("an allele of locus W")
            && err.contains("V: V, v2")
            && err.contains("W: W, v2"),
        "{err}"
    );
}

#[test]
fn a_trait_of_one_code_and_another_meaning_comes_under_the_prefix_with_its_readings() {
    let (here, there) = pair();
    let edge = |rule: &str| {
        format!("trait add edge --classes wavy,flat --rule '{rule}' --rule 'else => flat'")
    };
    play(
        &here,
        &[
            "locus set E --alleles E,e",
            &edge("E/_ => wavy"),
            "score NL edge:wavy",
        ],
    );
    play(
        &there,
        &[
            "locus set E --alleles E,e",
            &edge("e/e => wavy"),
            "score NL edge:flat",
        ],
    );
    hand_over(&there, &here);
    let err = refused(&here.run("import theirs.jsonl"));
    assert!(
        err.contains("the trait edge means something else there"),
        "{err}"
    );
    here.ok("import theirs.jsonl --prefix B.");
    let theirs = flat(&here.ok("show B.edge"));
    assert!(
        theirs.contains("e/e => wavy") && theirs.contains("called edge there"),
        "{theirs}"
    );
    let reading = flat(&here.ok("show B.NL"));
    assert!(reading.contains("flat"), "{reading}");
    assert!(flat(&here.ok("show NL")).contains("wavy"));
    // The same meaning is taken as one, with the readings; a rival model known only there comes along.
    let (here, there) = pair();
    play(&here, &["locus set E --alleles E,e", &edge("E/_ => wavy")]);
    play(&there, &["locus set E --alleles E,e", &edge("E/_ => wavy")]);
    play(
        &there,
        &[
            "trait model add edge two --rule 'e/e => wavy' --rule 'else => flat'",
            "score NL edge:flat",
        ],
    );
    hand_over(&there, &here);
    let said = flat(&here.ok("import theirs.jsonl --prefix B."));
    assert!(
        said.contains("in both 23 traits, 25 loci")
            && said.contains("gains trait edge: rival model two"),
        "{said}"
    );
    let edge = flat(&here.ok("show edge"));
    assert!(edge.contains("two"), "{edge}");
    assert!(here.ok("check-ledger").contains("All is well"));
}
