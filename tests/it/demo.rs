//! The demo: its season tells what it is said to tell, the same on any day and wherever it is played.

use serde_json::Value;

use crate::kinds::statements as say;
use crate::kinds::view::View;
use crate::support::{Bench, finish};

/// The day of the season, as `demo/season.sh` fixes it.
const TODAY: &str = "2025-06-14";

/// Plays the season into the bench's ledger and gives every tray's answer.
fn play(bench: &Bench) -> Vec<View> {
    let folder = bench.folder().display().to_string();
    bench.ok(&format!("demo '{folder}'"));
    let answer = bench.json(&format!("suspects --on {TODAY}"));
    answer["batches"]
        .as_array()
        .expect("batches are a list")
        .iter()
        .map(View::read)
        .collect()
}

fn tray<'v>(views: &'v [View], code: &str) -> &'v View {
    views
        .iter()
        .find(|view| view.tray == code)
        .unwrap_or_else(|| panic!("no tray {code}"))
}

#[test]
fn each_tray_says_what_it_teaches() {
    let bench = Bench::new();
    let views = play(&bench);
    let of = |code| tray(&views, code);
    let told = [
        say::failed_emasculation_says_self(of("T1")),
        say::stray_pollen_names_the_donor(of("T2"), "WH", &["green", "hairy"]),
        say::clean_tray_proves_nothing(of("T3")),
        say::swapped_labels_name_each_other(of("T4"), of("T5"), ("X4", "X5")),
        say::segregation_culls_nothing(of("T7")),
        say::late_colour_is_waited_for(of("T8"), TODAY),
        say::dim_shelf_culls_nothing(of("T9"), of("P1")),
    ];
    for held in told {
        held.unwrap_or_else(|how| panic!("{how}"));
    }
}

#[test]
fn verdicts_of_the_demo_fall_where_its_story_says() {
    let bench = Bench::new();
    let views = play(&bench);
    let verdicts = |code: &str| {
        let view = tray(&views, code);
        ["cull", "wait", "keep", "unproven", "undecided"].map(|verdict| view.with_verdict(verdict))
    };
    // cull, wait, keep, unproven, undecided: the greens of a purple father's cross go; purple ones with hair where
    // the mother has none stay, proven; a purple mother's prove nothing; swapped ones are all off; late ones wait.
    assert_eq!(verdicts("T1"), [7, 0, 5, 0, 0]);
    assert_eq!(verdicts("T2"), [2, 0, 9, 0, 0]);
    assert_eq!(verdicts("T3"), [0, 0, 0, 9, 0]);
    assert_eq!((verdicts("T4")[0], verdicts("T5")[0]), (8, 8));
    assert_eq!(verdicts("T6"), [0, 0, 7, 0, 0]);
    assert_eq!(verdicts("T7"), [0, 0, 0, 36, 0]);
    assert_eq!(verdicts("T8"), [0, 2, 9, 0, 0]);
    assert_eq!((verdicts("T9")[0], verdicts("P1")[0]), (0, 0));
}

#[test]
fn the_hybrids_own_seed_segregates_three_to_one() {
    let bench = Bench::new();
    let f2 = tray(&play(&bench), "T7").clone();
    let count = |class| f2.looking(&[class]).map(|one| one.count).sum::<i64>();
    let ratio = bench.json(&format!(
        "ratio {} {} --to 3:1",
        count("purple"),
        count("green")
    ));
    assert!(ratio["p"].as_f64().expect("a p value") > 0.05, "{ratio}");
    let label = bench.json("expect X7");
    assert_eq!(label["ratio"], "3:1", "{label}");
}

#[test]
fn the_season_is_as_rich_as_it_is_said_to_be() {
    let bench = Bench::new();
    play(&bench);
    let suspects = bench.json(&format!("suspects --on {TODAY}"));
    let trays = suspects["batches"].as_array().expect("a list");
    assert!(trays.len() >= 10, "{} trays", trays.len());
    let pair = |tray: &Value| (tray["mother"].to_string(), tray["father"].to_string());
    let mut pairs: Vec<_> = trays
        .iter()
        .map(pair)
        .filter(|(mother, father)| mother != father)
        .collect();
    pairs.sort();
    pairs.dedup();
    assert!(pairs.len() >= 8, "{pairs:?}");
    let both_ways = pairs
        .iter()
        .filter(|(mother, father)| pairs.contains(&(father.clone(), mother.clone())));
    assert!(both_ways.count() >= 4, "{pairs:?}");
}

#[test]
fn the_sheet_and_the_lines_that_can_be_typed() {
    let bench = Bench::new();
    let shown = bench.ok("demo season");
    let (sheet, next) = shown
        .rsplit_once("\n\n")
        .expect("the lines stand apart from the sheet");
    assert!(
        sheet.starts_with("Cull and keep list") && sheet.contains("T2-05"),
        "{sheet}"
    );
    let lines: Vec<&str> = next.lines().skip(1).map(str::trim).collect();
    assert_eq!(lines.len(), 8, "{next}");
    let ledger = bench
        .folder()
        .join("season")
        .join("ledger.db")
        .canonicalize()
        .expect("it was made");
    for line in lines {
        let line = line
            .strip_prefix(env!("CARGO_BIN_EXE_locule"))
            .expect("each begins with the program");
        assert!(line.contains(&ledger.display().to_string()), "{line}");
        bench.ok(line.trim());
    }
}

#[test]
fn the_demo_is_the_same_on_any_day() {
    let mut bench = Bench::new();
    let sheet = |shown: String| {
        shown
            .rsplit_once("\n\n")
            .expect("lines stand apart")
            .0
            .to_owned()
    };
    let first = sheet(bench.ok("demo one"));
    let later = bench.on("2031-12-24");
    assert_eq!(first, sheet(later.ok("demo two")));
    assert_eq!(
        later.ok("--ledger one/ledger.db history"),
        later.ok("--ledger two/ledger.db history")
    );
}

#[test]
fn a_folder_that_holds_a_ledger_is_left_alone() {
    let bench = Bench::new();
    bench.ok("demo season");
    let before = std::fs::read(bench.folder().join("season/ledger.db")).expect("a ledger");
    let refused = bench.fails("demo season", 1);
    assert!(
        refused.starts_with("error: 'season/ledger.db' is there already\n"),
        "{refused}"
    );
    assert_eq!(
        std::fs::read(bench.folder().join("season/ledger.db")).expect("a ledger"),
        before
    );
    std::fs::write(bench.folder().join("file"), "").expect("a file can be written");
    assert!(bench.fails("demo file", 1).contains("'file'"));
}

#[test]
fn without_a_folder_the_demo_finds_a_new_place_each_time() {
    let bench = Bench::new();
    let place = || {
        let run = finish(
            bench
                .command(&["demo", "--json"])
                .env("TMPDIR", bench.folder()),
        );
        assert_eq!((run.status, run.err.as_str()), (Some(0), ""));
        let played: Value = serde_json::from_str(&run.out).expect("JSON");
        assert_eq!(played["next"].as_array().map(Vec::len), Some(8));
        assert!(
            played["sheet"]["trays"]
                .as_array()
                .is_some_and(|trays| trays.len() >= 10)
        );
        played["ledger"].as_str().expect("a path").to_owned()
    };
    let (one, other) = (place(), place());
    assert_ne!(one, other);
    assert!(std::path::Path::new(&one).is_file() && std::path::Path::new(&other).is_file());
}

#[cfg(unix)]
#[test]
fn a_shell_that_plays_the_script_gets_the_same_ledger() {
    let bench = Bench::new();
    let played = bench.ok("demo played");
    let program = std::path::Path::new(env!("CARGO_BIN_EXE_locule"));
    let path = format!(
        "{}:/usr/bin:/bin",
        program
            .parent()
            .expect("the program lies in a folder")
            .display()
    );
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/demo/season.sh");
    let mut shell = std::process::Command::new("/bin/sh");
    shell
        .arg(script)
        .env_clear()
        .env("PATH", path)
        .env("COLUMNS", "80")
        .current_dir(bench.folder());
    shell
        .env("LOCULE_LEDGER", "shell.db")
        .env("LOCULE_STATE", bench.folder().join("state"));
    let run = finish(&mut shell);
    assert_eq!((run.status, run.err.as_str()), (Some(0), ""));
    let sheet = played.rsplit_once("\n\n").expect("lines stand apart").0;
    assert!(
        run.out.trim_end().ends_with(sheet.trim_end()),
        "{}",
        run.out
    );
    let history = |ledger: &str| bench.ok(&format!("--ledger {ledger} history"));
    assert_eq!(history("shell.db"), history("played/ledger.db"));
}
