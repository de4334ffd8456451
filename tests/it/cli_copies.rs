//! Copies of the ledger: `backup`, those kept by themselves, `restore`, `check-ledger --rebuild`.

use std::fs;
use std::path::{Path, PathBuf};

use crate::support::{Bench, flat};

/// A ledger of four entries.
fn begun() -> Bench {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add NL 'Night Lantern' --genotype A/A",
        "parent add CW --genotype a/a",
        "note NL 'first buds'",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    bench
}

fn bytes(path: &Path) -> Vec<u8> {
    fs::read(path).expect("it is there")
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).into_iter().flatten();
    let name = |entry: std::io::Result<fs::DirEntry>| entry.expect("a file").file_name();
    let mut names: Vec<String> = entries
        .map(|entry| name(entry).to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

/// The folder of the copies that were kept by themselves.
fn shelf(bench: &Bench) -> PathBuf {
    let copies = bench.state().join("copies");
    let ids = names(&copies);
    assert_eq!(ids.len(), 1, "{ids:?}");
    copies.join(&ids[0])
}

/// Those copies by name.
fn kept(bench: &Bench) -> Vec<String> {
    let mut names = names(&shelf(bench));
    names.retain(|name| !name.ends_with(".of"));
    names
}

/// What stood in the ledger's place and was set aside, newest last.
fn set_aside(bench: &Bench) -> Vec<PathBuf> {
    let room = bench.state().join("replaced");
    let mut found: Vec<PathBuf> = Vec::new();
    for key in names(&room) {
        let of_key = room.join(key);
        found.extend(names(&of_key).iter().map(|name| of_key.join(name)));
    }
    found
}

#[test]
fn a_backup_without_a_name_goes_beside_the_ledger_with_the_day() {
    let bench = begun();
    let said = flat(&bench.ok("backup"));
    let copy = bench.folder().join("ledger-2026-03-01.db");
    assert!(
        said.contains("ledger-2026-03-01.db: 4 entries, fingerprint ")
            && said.ends_with("The copy was checked in full."),
        "{said}"
    );
    assert_eq!(bytes(&copy), bytes(&bench.ledger()));
    assert!(flat(&bench.ok("backup")).contains("that very copy already"));
    bench.ok("note NL 'more buds'");
    let second = bench.json("backup");
    let file = second["file"].as_str().expect("a name");
    assert!(file.ends_with("/ledger-2026-03-01-2.db"), "{file}");
    assert_eq!(second["entries"], 5);
    assert_eq!(second["is_new"], true);
    assert_eq!(second["bytes"], bytes(&bench.ledger()).len() as u64);
    assert_eq!(
        names(bench.folder()),
        [
            "ledger-2026-03-01-2.db",
            "ledger-2026-03-01.db",
            "ledger.db"
        ]
    );
    let check = bench.ok("--ledger ledger-2026-03-01-2.db check-ledger");
    assert!(check.contains("All is well"), "{check}");
}

#[test]
fn a_backup_never_takes_the_place_of_a_copy_that_holds_more() {
    let bench = begun();
    bench.ok("backup old.db");
    let err = bench.fails("backup old.db", 1);
    assert!(
        err.contains("is there already") && err.ends_with("\ntry: locule backup old.db --force\n"),
        "{err}"
    );
    bench.ok("note NL 'more buds'");
    bench.ok("backup new.db");
    bench.ok("backup old.db --force");
    assert_eq!(
        bytes(&bench.folder().join("old.db")),
        bytes(&bench.ledger())
    );
    fs::write(bench.folder().join("text.db"), "no ledger").expect("it can be written");
    bench.ok("backup text.db --force");
    // The ledger goes back a step, and then another way.
    bench.ok("note NL 'a third time'");
    bench.ok("backup new.db --force");
    let bigger = bytes(&bench.folder().join("new.db"));
    fs::copy(bench.folder().join("old.db"), bench.ledger()).expect("it can be copied");
    fs::remove_dir_all(bench.state()).expect("the state can be lost");
    let err = flat(&bench.fails("backup new.db --force", 1));
    assert!(
        err.contains("holds more of this ledger: 6 entries, not all of them among the 5 of")
            && err.ends_with("try: locule backup ledger-2026-03-01.db"),
        "{err}"
    );
    bench.ok("note CW 'another way'");
    bench.ok("note CW 'and longer'");
    let err = bench.fails("backup new.db --force", 1);
    assert!(err.contains("holds more of this ledger"), "{err}");
    assert_eq!(bytes(&bench.folder().join("new.db")), bigger);
}

#[test]
fn places_that_no_copy_can_have_are_refused_with_one_that_can() {
    let bench = begun();
    fs::create_dir(bench.folder().join("stick")).expect("a folder can be made");
    let other = Bench::new();
    let theirs = other.folder().join("theirs.db");
    assert_eq!(
        other
            .command(&["init"])
            .env("LOCULE_LEDGER", &theirs)
            .env("LOCULE_SEED", "2")
            .stdout(std::process::Stdio::null())
            .status()
            .expect("it runs")
            .code(),
        Some(0)
    );
    let before = bytes(&theirs);
    let theirs_line = format!("backup {} --force", theirs.display());
    for (line, status, what, try_this) in [
        (
            "backup ledger.db --force",
            1,
            "is the ledger itself",
            "backup ledger-2026-03-01.db",
        ),
        (
            "backup ledger.db-journal",
            1,
            "an ending that belongs to SQLite",
            "backup season.jsonl",
        ),
        ("backup stick", 1, "is a folder", "ledger-2026-03-01.db"),
        (
            "backup no/such/copy.db",
            1,
            "the folder 'no/such' is not there",
            "backup copy.db",
        ),
        (
            theirs_line.as_str(),
            1,
            "is not the same ledger as",
            "backup ledger-2026-03-01.db",
        ),
    ] {
        let err = flat(&bench.fails(line, status));
        assert!(
            err.contains(what) && err.ends_with(try_this),
            "{line}: {err}"
        );
    }
    assert_eq!(bytes(&theirs), before);
    assert_eq!(names(bench.folder()), ["ledger.db", "stick"]);
}

#[cfg(target_os = "linux")]
#[test]
fn devices_and_folders_that_take_no_file_are_blamed() {
    let bench = begun();
    let err = flat(&bench.fails("backup /dev/full --force", 1));
    assert!(
        err.contains("no file but a device") && err.ends_with("try: locule backup full"),
        "{err}"
    );
    let err = flat(&bench.fails("export /dev/full --force", 1));
    assert!(err.contains("no file but a device"), "{err}");
    let err = flat(&bench.fails("backup /proc/copy.db", 1));
    assert!(
        err.contains("no file can be made in the folder '/proc'")
            && err.ends_with("try: locule backup copy.db"),
        "{err}"
    );
    assert_eq!(names(bench.folder()), ["ledger.db"]);
}

/// Runs a command line in a shell that lets files grow to 20 kB at most. The signal that then ends a program is ignored, so that it
/// meets the failure, or not.
#[cfg(target_os = "linux")]
fn run_cramped(bench: &Bench, ignored: bool, line: &str) -> (Option<i32>, String, String) {
    let trap = if ignored { "trap '' XFSZ" } else { ":" };
    let script = format!(
        "{trap}; ulimit -f 40; exec {} {line}",
        env!("CARGO_BIN_EXE_locule")
    );
    let program = bench.command::<&str>(&[]);
    let mut shell = std::process::Command::new("sh");
    shell.arg("-c").arg(script).current_dir(bench.folder());
    shell.env_clear();
    for (name, value) in program.get_envs() {
        if let Some(value) = value {
            shell.env(name, value);
        }
    }
    let output = shell.output().expect("the shell can be started");
    (
        output.status.code(),
        String::from_utf8(output.stdout).expect("UTF-8"),
        String::from_utf8(output.stderr).expect("UTF-8"),
    )
}

#[cfg(target_os = "linux")]
#[test]
fn without_room_nothing_half_written_is_left() {
    let bench = begun();
    bench.ok("backup copy.db");
    bench.ok("note NL 'more buds'");
    let copy = bytes(&bench.folder().join("copy.db"));
    let before = (names(bench.folder()), bytes(&bench.ledger()));
    for line in [
        "backup new.db",
        "backup copy.db --force",
        "backup",
        "export new.jsonl",
        "check-ledger --rebuild new.db",
        "restore copy.db --force",
    ] {
        let (status, out, err) = run_cramped(&bench, true, line);
        assert_eq!((status, out.as_str()), (Some(5), ""), "{line}: {err}");
        assert!(err.starts_with("error: "), "{line}: {err}");
        assert_eq!(
            (names(bench.folder()), bytes(&bench.ledger())),
            before,
            "{line}"
        );
        assert_eq!(bytes(&bench.folder().join("copy.db")), copy, "{line}");
    }
    assert!(set_aside(&bench).is_empty());
}

#[cfg(target_os = "linux")]
#[test]
fn a_run_that_is_killed_leaves_a_part_that_is_in_nobodys_way() {
    let bench = begun();
    bench.ok("backup copy.db");
    let copy = bytes(&bench.folder().join("copy.db"));
    bench.ok("note NL 'more buds'");
    let ledger = bytes(&bench.ledger());
    for (line, base) in [
        ("backup new.db", "new.db"),
        ("backup copy.db --force", "copy.db"),
        ("restore copy.db --force", "ledger.db"),
    ] {
        let (status, ..) = run_cramped(&bench, false, line);
        assert_eq!(status, None, "{line}: a signal ended it");
        let mut parts = names(bench.folder());
        parts.retain(|name| !["copy.db", "ledger.db"].contains(&name.as_str()));
        assert_eq!(parts.len(), 1, "{line}: {parts:?}");
        assert!(parts[0].starts_with(&format!("{base}.part-")), "{parts:?}");
        bench.fails(&format!("--ledger {} history", parts[0]), 4);
        fs::remove_file(bench.folder().join(&parts[0])).expect("it can be taken away");
        assert_eq!(bytes(&bench.ledger()), ledger, "{line}");
        assert_eq!(bytes(&bench.folder().join("copy.db")), copy, "{line}");
    }
    bench.ok("backup copy.db --force");
}

#[cfg(unix)]
#[test]
fn a_backup_follows_a_link_and_keeps_it() {
    let bench = begun();
    let (real, link) = (
        bench.folder().join("real.db"),
        bench.folder().join("link.db"),
    );
    fs::write(&real, "old").expect("it can be written");
    std::os::unix::fs::symlink(&real, &link).expect("a link can be made");
    bench.fails("backup link.db", 1);
    bench.ok("backup link.db --force");
    assert!(
        fs::symlink_metadata(&link)
            .expect("it is there")
            .is_symlink()
    );
    assert_eq!(bytes(&real), bytes(&bench.ledger()));
    let itself = bench.folder().join("itself.db");
    std::os::unix::fs::symlink(bench.ledger(), &itself).expect("a link can be made");
    let err = bench.fails("backup itself.db --force", 1);
    assert!(err.contains("is the ledger itself"), "{err}");
}

#[test]
fn what_a_killed_run_left_is_no_ledger_and_no_second_name() {
    let bench = begun();
    fs::copy(bench.ledger(), bench.folder().join("x.db.part-12")).expect("it can be copied");
    let err = flat(&bench.fails("--ledger x.db.part-12 history", 4));
    assert!(
        err.contains("left behind by a run that was killed"),
        "{err}"
    );
    #[cfg(unix)]
    {
        let second = bench.folder().join("ledger.db.part-12");
        fs::hard_link(bench.ledger(), &second).expect("a second name can be given");
        bench.ok("history");
        assert!(!second.exists());
        fs::hard_link(bench.ledger(), bench.folder().join("mine.db")).expect("a second name");
        assert!(bench.fails("history", 1).contains("2 names (hard links)"));
    }
}

#[test]
fn the_first_write_of_a_day_keeps_a_copy_first() {
    let mut bench = Bench::new();
    bench.ok("init");
    bench.ok("parent add NL");
    assert!(!bench.state().join("copies").exists());
    bench.ok("parent add CW");
    assert_eq!(kept(&bench).len(), 1);
    let first = kept(&bench)[0].clone();
    assert!(first.starts_with("2026-03-01-00000002-"), "{first}");
    bench.ok("parent add RB");
    bench.ok("undo");
    bench.ok("redo");
    assert_eq!(kept(&bench).len(), 1);
    let evening = bytes(&bench.ledger());
    bench.on("2026-03-02");
    for question in ["history", "suspects", "check-ledger", "backup --list"] {
        bench.ok(question);
    }
    bench.fails("parent add NL", 1);
    assert_eq!(
        kept(&bench).len(),
        1,
        "only what is recorded makes a copy due"
    );
    bench.ok("undo");
    let second = kept(&bench)[1].clone();
    assert!(second.starts_with("2026-03-02-00000006-"), "{second}");
    assert_eq!(bytes(&shelf(&bench).join(&second)), evening);
    // A clock set back: that day has none yet, but what was recorded since the last copy is new.
    bench.on("2016-03-02").ok("redo");
    assert!(kept(&bench)[0].starts_with("2016-03-02-00000007-"));
    // Nothing was recorded since the copy of another day: the same state is not kept twice.
    let listed = bench.json("backup --list");
    let copies = listed["copies"].as_array().expect("a list");
    assert_eq!(copies.len(), 3);
    assert_eq!(
        (&copies[1]["day"], &copies[1]["entries"]),
        (&"2026-03-01".into(), &2.into())
    );
    let listed = flat(&bench.ok("backup --list"));
    assert!(
        listed.contains("'locule restore --latest' puts the newest back"),
        "{listed}"
    );
}

#[test]
fn the_same_state_is_not_kept_twice() {
    let mut bench = begun();
    bench.on("2026-03-02").ok("note NL 'more buds'");
    assert_eq!(kept(&bench).len(), 2);
    // The file of before that note comes back; its state is among the copies.
    fs::copy(shelf(&bench).join(&kept(&bench)[1]), bench.ledger()).expect("it can be copied");
    fs::remove_dir_all(bench.state().join("marks")).ok();
    bench.on("2026-03-03").ok("note NL 'again'");
    assert_eq!(kept(&bench).len(), 2);
}

#[test]
fn copies_rotate_by_day_month_and_size() {
    let mut bench = begun();
    let mut expected = Vec::new();
    for (month, days) in [(4, 1..=12), (5, 1..=3), (6, 1..=12)] {
        for day in days {
            let today = format!("2026-{month:02}-{day:02}");
            bench.on(&today).ok("note NL 'a day'");
            expected.push(today);
        }
    }
    let days: Vec<String> = kept(&bench)
        .iter()
        .map(|name| name[..10].to_owned())
        .collect();
    let mut wanted = vec![
        "2026-03-01".to_owned(),
        "2026-04-12".to_owned(),
        "2026-05-03".to_owned(),
    ];
    wanted.extend_from_slice(&expected[expected.len() - 10..]);
    assert_eq!(days, wanted);
    assert!(
        names(&shelf(&bench))
            .iter()
            .all(|name| !name.contains("part"))
    );
}

#[test]
fn a_copy_that_cannot_be_kept_is_said_and_the_record_is_made() {
    let bench = Bench::new();
    bench.ok("init");
    bench.ok("parent add NL");
    fs::write(bench.state().join("copies"), "in the way").expect("it can be written");
    let run = bench.run("parent add CW");
    assert_eq!(run.status, Some(0), "{}", run.err);
    assert!(run.out.starts_with("CW"), "{}", run.out);
    let err = flat(&run.err);
    assert!(
        err.starts_with("note: today's copy of the ledger could not be kept (")
            && err.ends_with("'locule backup' keeps one beside the ledger"),
        "{err}"
    );
    assert_eq!(
        bench.json("history")["entries"].as_array().map(Vec::len),
        Some(3)
    );
}

#[test]
fn an_older_file_put_back_is_mended_by_a_copy_and_never_the_other_way_round() {
    let bench = begun();
    let old = bytes(&bench.ledger());
    fs::write(bench.folder().join("old.db"), &old).expect("it can be written");
    bench.ok("note NL 'more buds'");
    bench.ok("note NL 'open flowers'");
    bench.ok("backup copy.db");
    let (text, newest) = (bench.ok("export"), bytes(&bench.ledger()));
    let err = flat(&bench.fails("restore old.db", 1));
    assert!(
        err.contains("ledger.db holds entries that")
            && err.contains(
                "only in the ledger: 5 (note NL 'more buds'), 6 (note NL 'open flowers')"
            )
            && err.contains("nothing was changed")
            && err.ends_with("try: locule restore old.db --force"),
        "{err}"
    );
    assert_eq!(bytes(&bench.ledger()), newest);
    assert!(
        set_aside(&bench).is_empty(),
        "a refusal leaves nothing aside"
    );
    // A sync program puts the older file back.
    fs::write(bench.ledger(), &old).expect("it can be written");
    let said = flat(&bench.ok("restore copy.db"));
    assert!(
        said.contains("6 entries") && said.contains("What stood there before lies in"),
        "{said}"
    );
    assert_eq!(bench.ok("export"), text);
    assert_eq!(bytes(&set_aside(&bench)[0].join("ledger.db")), old);
    let again = flat(&bench.ok("restore copy.db"));
    assert!(again.contains("nothing was changed"), "{again}");
    assert_eq!(set_aside(&bench).len(), 1);
    bench.ok("note NL 'and on'");
    assert!(bench.ok("check-ledger").contains("All is well"));
}

#[test]
fn of_diverged_copies_both_tails_are_listed() {
    let bench = begun();
    let fork = bytes(&bench.ledger());
    bench.ok("note NL 'here'");
    bench.ok("backup here.db");
    fs::write(bench.folder().join("there.db"), &fork).expect("it can be written");
    bench.ok("--ledger there.db note CW 'there'");
    bench.ok("--ledger there.db note CW 'and there'");
    let err = flat(&bench.fails("restore there.db", 1));
    assert!(
        err.contains("only in the ledger: 5 (note NL here)")
            && err.contains("only in the copy: 5 (note CW there), 6 (note CW 'and there')"),
        "{err}"
    );
    let answer = bench.json("restore there.db --force");
    assert_eq!(answer["entries"], 6);
    assert_eq!(answer["dropped"][0]["entry"], 5);
    assert_eq!(answer["dropped"][0]["command"], "note NL here");
    let aside = answer["aside"].as_str().expect("a folder");
    assert_eq!(
        bytes(&Path::new(aside).join("ledger.db")),
        bytes(&bench.folder().join("here.db"))
    );
}

#[test]
fn a_copy_comes_back_whatever_stands_in_its_place() {
    let bench = begun();
    bench.ok("backup copy.db");
    let text = bench.ok("export");
    let whole = bytes(&bench.ledger());
    let damaged = |at: usize, bit: u8| {
        let mut bytes = whole.clone();
        bytes[at] ^= bit;
        bytes
    };
    let mut headless = whole.clone();
    headless[..4096].fill(0xff);
    let states: Vec<(&str, Option<Vec<u8>>)> = vec![
        ("missing", None),
        ("empty", Some(Vec::new())),
        ("zeros", Some(vec![0; 8192])),
        (
            "cut in a page",
            Some(whole[..whole.len() / 2 + 77].to_vec()),
        ),
        ("a page short", Some(whole[..whole.len() - 4096].to_vec())),
        ("a bit of the header", Some(damaged(3, 1))),
        ("a bit of the schema", Some(damaged(105, 4))),
        ("a bit of the last page", Some(damaged(whole.len() - 9, 4))),
    ];
    for (what, state) in states {
        match &state {
            Some(bytes) => fs::write(bench.ledger(), bytes).expect("it can be written"),
            None => fs::remove_file(bench.ledger()).expect("it can be taken away"),
        }
        let asides = set_aside(&bench).len();
        let run = bench.run("restore copy.db");
        assert_eq!(
            (run.status, run.err.as_str()),
            (Some(0), ""),
            "{what}: {}",
            run.out
        );
        assert_eq!(bench.ok("export"), text, "{what}");
        match state {
            None => assert_eq!(set_aside(&bench).len(), asides, "{what}"),
            Some(state) => assert_eq!(
                bytes(&set_aside(&bench)[asides].join("ledger.db")),
                state,
                "{what}"
            ),
        }
    }
    fs::write(bench.ledger(), &headless).expect("it can be written");
    assert_eq!(bench.run("restore copy.db").status, Some(0));
    assert_eq!(names(bench.folder()), ["copy.db", "ledger.db"]);
}

#[test]
fn a_journal_that_does_not_fit_goes_aside_with_the_file() {
    let bench = begun();
    bench.ok("backup copy.db");
    let text = bench.ok("export");
    let journal = bench.folder().join("ledger.db-journal");
    let mut stale = vec![0xd9, 0xd5, 0x05, 0xf9, 0x20, 0xa1, 0x63, 0xd7];
    stale.extend([0_u8; 504]);
    stale.extend([7_u8; 5000]);
    fs::write(&journal, &stale).expect("it can be written");
    let present = bytes(&bench.ledger());
    bench.ok("restore copy.db");
    assert!(!journal.exists());
    let aside = &set_aside(&bench)[0];
    assert_eq!(bytes(&aside.join("ledger.db-journal")), stale);
    assert_eq!(bytes(&aside.join("ledger.db")), present);
    assert_eq!(bench.ok("export"), text);
    fs::write(&journal, &stale).expect("it can be written");
    let err = flat(&bench.fails("--ledger other.db restore ledger.db", 4));
    assert!(err.contains("a write to it was interrupted"), "{err}");
    assert_eq!(bytes(&journal), stale, "a copy is never written to");
    assert!(!bench.folder().join("other.db").exists());
}

#[test]
fn what_is_no_sound_copy_is_refused_and_nothing_changes() {
    let bench = begun();
    bench.ok("backup copy.db");
    bench.ok("export season.jsonl");
    let whole = bytes(&bench.folder().join("copy.db"));
    let mut spoilt = whole.clone();
    let at = spoilt
        .windows(10)
        .rposition(|piece| piece == b"first buds")
        .expect("the note is in it");
    spoilt[at] = b'F';
    fs::write(bench.folder().join("spoilt.db"), spoilt).expect("it can be written");
    fs::write(bench.folder().join("cut.db"), &whole[..whole.len() - 1]).expect("it can be written");
    fs::write(bench.folder().join("empty.db"), "").expect("it can be written");
    fs::create_dir(bench.folder().join("stick")).expect("a folder can be made");
    let before = (bytes(&bench.ledger()), names(bench.folder()));
    for (file, status, what, try_this) in [
        ("spoilt.db", 4, "is damaged", "locule backup --list"),
        ("cut.db", 4, "cut off", "locule backup --list"),
        ("empty.db", 4, "is empty", "locule backup --list"),
        (
            "stick",
            4,
            "a folder, a pipe or a device",
            "locule backup --list",
        ),
        (
            "no.db",
            1,
            "there is no copy at 'no.db'",
            "locule backup --list",
        ),
        (
            "ledger.db",
            1,
            "is the ledger itself",
            "locule backup --list",
        ),
        (
            "season.jsonl",
            4,
            "an export is brought in as a new ledger",
            "locule --ledger new.db import season.jsonl",
        ),
    ] {
        for force in ["", " --force"] {
            let err = flat(&bench.fails(&format!("restore {file}{force}"), status));
            assert!(
                err.contains(what) && err.ends_with(&format!("try: {try_this}")),
                "{file}: {err}"
            );
        }
    }
    assert_eq!((bytes(&bench.ledger()), names(bench.folder())), before);
    assert!(set_aside(&bench).is_empty());
}

#[test]
fn another_ledger_and_what_never_was_one_give_way_only_to_force() {
    let bench = begun();
    bench.ok("backup copy.db");
    let other = bench.folder().join("other.db");
    let begun = bench
        .command(&["init"])
        .env("LOCULE_LEDGER", &other)
        .env("LOCULE_SEED", "2")
        .stdout(std::process::Stdio::null())
        .status()
        .expect("it runs");
    assert_eq!(begun.code(), Some(0));
    fs::write(bench.folder().join("photo.jpg"), [0xff_u8, 0xd8, 7, 7]).expect("it can be written");
    for (file, what) in [
        ("other.db", "is not the same ledger as"),
        ("photo.jpg", "is no ledger and was not replaced"),
    ] {
        let before = bytes(&bench.folder().join(file));
        let err = flat(&bench.fails(&format!("--ledger {file} restore copy.db"), 1));
        assert!(
            err.contains(what)
                && err.ends_with(&format!(
                    "try: locule --ledger {file} restore copy.db --force"
                )),
            "{err}"
        );
        assert_eq!(bytes(&bench.folder().join(file)), before);
        bench.ok(&format!("--ledger {file} restore copy.db --force"));
        assert_eq!(bytes(&bench.folder().join(file)), bytes(&bench.ledger()));
        let aside = set_aside(&bench)
            .into_iter()
            .map(|folder| folder.join(file));
        assert!(
            aside
                .into_iter()
                .any(|aside| aside.exists() && bytes(&aside) == before)
        );
    }
}

#[test]
fn without_a_backup_the_copies_kept_by_themselves_come_back() {
    let mut bench = begun();
    bench.on("2026-03-02").ok("note NL 'more buds'");
    let text = {
        let copy = shelf(&bench).join(&kept(&bench)[1]);
        let line = format!("--ledger '{}' export", copy.display());
        bench.ok(&line)
    };
    let err = flat(&bench.fails("restore --latest", 1));
    assert!(
        err.contains("only in the ledger: 5 (note NL 'more buds')"),
        "{err}"
    );
    fs::remove_file(bench.ledger()).expect("it can be taken away");
    let listed = bench.ok("restore");
    assert!(listed.contains("2026-03-02"), "{listed}");
    let run = bench.run("restore --latest");
    assert_eq!(run.status, Some(0), "{}", run.err);
    assert!(
        flat(&run.out).contains("knew entries up to 5"),
        "{}",
        run.out
    );
    assert_eq!(bench.ok("export"), text);
    // The newest one is spoilt: the next is taken, and that is said.
    let newest = shelf(&bench).join(&kept(&bench)[1]);
    let whole = bytes(&newest);
    fs::write(&newest, &whole[..whole.len() - 4096]).expect("it can be written");
    fs::write(bench.ledger(), "").expect("it can be written");
    let run = bench.run("restore --latest");
    assert_eq!(run.status, Some(0), "{}", run.err);
    assert!(
        flat(&run.err).starts_with("note: passed over, not sound: ")
            && flat(&run.out).contains("2 entries"),
        "{} {}",
        run.err,
        run.out
    );
    for name in kept(&bench) {
        fs::write(shelf(&bench).join(name), "").expect("it can be written");
    }
    fs::remove_file(bench.ledger()).expect("it can be taken away");
    let err = flat(&bench.fails("restore --latest", 1));
    assert!(
        err.contains("no sound copy of") && err.contains("is empty"),
        "{err}"
    );
    let fresh = Bench::new();
    assert!(fresh.fails("restore --latest", 1).contains("no sound copy"));
    assert!(flat(&fresh.ok("backup --list")).contains("No copy of"));
}

/// Alters the ledger behind the program's back, as no rule of the tables would let it.
fn meddle(bench: &Bench, sql: &str) {
    let connection = rusqlite::Connection::open(bench.ledger()).expect("it opens");
    connection
        .execute_batch(&format!("PRAGMA foreign_keys = OFF; {sql}"))
        .expect("it can be altered");
}

#[test]
fn spoilt_tables_are_built_anew_from_the_history() {
    let bench = begun();
    let text = bench.ok("export");
    meddle(
        &bench,
        "DELETE FROM remark; UPDATE plant SET name = 'Day Lantern'; UPDATE counter SET next = 1",
    );
    assert_eq!(bench.run("check-ledger").status, Some(4));
    let said = flat(&bench.ok("check-ledger --rebuild built.db"));
    assert!(
        said.contains("4 entries") && said.ends_with("no entry is missing."),
        "{said}"
    );
    assert_eq!(bench.ok("--ledger built.db export"), text);
    let err = bench.fails("check-ledger --rebuild built.db", 1);
    assert!(
        err.ends_with("try: locule check-ledger --rebuild built.db --force\n"),
        "{err}"
    );
    bench.ok("check-ledger --rebuild built.db --force");
    let err = bench.fails("check-ledger --rebuild ledger.db --force", 1);
    assert!(err.contains("is the ledger itself"), "{err}");
    bench.ok("restore built.db");
    assert_eq!(bench.ok("export"), text);
    assert!(bench.ok("check-ledger").contains("All is well"));
    assert_eq!(
        names(bench.folder()),
        ["built.db", "ledger.db"],
        "nothing else is left"
    );
}

#[test]
fn a_broken_history_is_built_up_to_the_break_and_the_rest_is_named() {
    let bench = begun();
    bench.ok("note CW 'open flowers'");
    let trigger: String = rusqlite::Connection::open(bench.ledger())
        .and_then(|connection| {
            connection.query_row(
                "SELECT group_concat('DROP TRIGGER ' || name, ';') FROM sqlite_schema WHERE type = 'trigger'",
                [],
                |row| row.get(0),
            )
        })
        .expect("there are triggers");
    meddle(
        &bench,
        &format!(
            "{trigger}; UPDATE change SET \"after\" = replace(\"after\", 'first', 'third') \
             WHERE command = 'note NL ''first buds'''"
        ),
    );
    let run = bench.run("check-ledger --rebuild built.db");
    assert_eq!((run.status, run.err.as_str()), (Some(4), ""), "{}", run.out);
    let said = flat(&run.out);
    assert!(
        said.contains("3 entries")
            && said.contains("The history breaks after entry 3: change ")
            && said.contains("its hash does not fit")
            && said.contains("4 (note NL 'first buds') and 5 (note CW 'open flowers')"),
        "{said}"
    );
    assert!(
        bench
            .ok("--ledger built.db check-ledger")
            .contains("3 entries")
    );
    let run = bench.run("check-ledger --rebuild built.db --force --json");
    let answer: serde_json::Value = serde_json::from_str(&run.out).expect("JSON");
    assert_eq!(answer["lost"][1]["entry"], 5);
    let err = flat(&bench.fails("restore built.db", 1));
    assert!(
        err.contains("4 (note NL 'first buds'), 5 (note CW 'open flowers')"),
        "{err}"
    );
    bench.ok("restore built.db --force");
    bench.ok("note NL 'first buds'");
    assert!(bench.ok("check-ledger").contains("All is well"));
}

#[test]
fn of_a_history_without_a_beginning_nothing_is_built() {
    let bench = begun();
    fs::write(bench.ledger(), vec![0x55; 8192]).expect("it can be written");
    let err = flat(&bench.fails("check-ledger --rebuild built.db", 4));
    assert!(
        err.contains("cannot be checked: nothing of its history can be read")
            && err.contains("nothing was written")
            && err.ends_with("try: locule backup --list"),
        "{err}"
    );
    assert_eq!(names(bench.folder()), ["ledger.db"]);
}
