//! The frame of the command line: help, wrong usage, exit statuses, streams.

use crate::support::{Bench, Run, finish};

#[test]
fn help_and_version_go_to_standard_output() {
    let bench = Bench::new();
    let help = bench.ok("--help");
    assert!(help.contains("Usage: locule"), "{help}");
    assert_eq!(
        bench.ok("--version"),
        format!("locule {}\n", env!("CARGO_PKG_VERSION"))
    );
}

#[test]
fn verbs_forgive_case() {
    let bench = Bench::new();
    assert_eq!(
        bench.ok("RATIO 3 1 --to 3:1"),
        bench.ok("ratio 3 1 --to 3:1")
    );
    assert_eq!(
        bench.ok("--on yesterday Ratio 3 1 --to 3:1"),
        bench.ok("ratio 3 1 --to 3:1")
    );
}

#[test]
fn a_wrong_command_line_ends_with_2_and_a_command_to_try() {
    let bench = Bench::new();
    for line in ["", "raio 3 1", "ratio", "ratio 3 1 --too 3:1", "--ledger"] {
        let err = bench.fails(line, 2);
        assert!(
            err.lines()
                .last()
                .is_some_and(|last| last.starts_with("try: locule")),
            "{line}: {err}"
        );
    }
    assert!(
        bench
            .fails("ratio 3 1 --too 3:1", 2)
            .ends_with("try: locule ratio --help\n")
    );
}

#[test]
fn the_bare_program_and_bare_verbs_print_their_help() {
    let bench = Bench::new();
    assert!(bench.fails("", 2).contains("Commands:\n  init "));
    assert!(bench.fails("parent", 2).contains("in-flower"));
    let help = bench.ok("help score");
    assert!(help.contains("locule score T1 purple=9 green=2"), "{help}");
    assert!(
        !help.contains("[env:") && !help.contains("summary with"),
        "{help}"
    );
    for verb in ["cull", "thin", "died", "pot-up", "up"] {
        let help = bench.ok(&format!("{verb} --help"));
        assert!(
            help.matches(&format!("\n  locule {verb} ")).count() >= 3,
            "{help}"
        );
    }
    let usage = bench.fails("ratio 3 1 --too 3:1", 2);
    assert!(!usage.contains("--ledger <FILE>"), "{usage}");
}

#[test]
fn a_bad_day_in_the_environment_is_named() {
    let bench = Bench::new();
    let run = finish(
        bench
            .command(&["ratio", "3", "1"])
            .env("LOCULE_TODAY", "1/3/2026"),
    );
    let err = "error: the environment variable LOCULE_TODAY is no date: '1/3/2026'\n  it takes the year-month-day form\ntry: LOCULE_TODAY=2026-03-01 locule history\n";
    assert_eq!(
        run,
        Run {
            status: Some(2),
            out: String::new(),
            err: err.to_owned()
        }
    );
}

#[test]
fn control_characters_never_reach_the_terminal() {
    let bench = Bench::new();
    for words in [
        ["ratio", "3\u{1b}[31m"],
        ["ra\u{1b}]0;x\u{7}", "3"],
        ["ratio", "3\u{202e}"],
    ] {
        let run = bench.run_words(&words);
        assert_eq!((run.status, run.out.as_str()), (Some(2), ""));
        let strange = |c: char| c != '\n' && (c.is_control() || c == '\u{202e}');
        assert!(!run.err.contains(strange), "{:?}", run.err);
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_closed_pipe_is_quiet_and_a_full_disk_is_not() {
    use std::fs::OpenOptions;
    use std::process::Stdio;

    let bench = Bench::new();
    let (reader, writer) = std::io::pipe().expect("a pipe can be made");
    drop(reader);
    let run = finish(
        bench
            .command(&["ratio", "3", "1", "--to", "3:1"])
            .stdout(writer),
    );
    assert_eq!(
        run,
        Run {
            status: Some(0),
            out: String::new(),
            err: String::new()
        }
    );

    let full = OpenOptions::new()
        .write(true)
        .open("/dev/full")
        .expect("Linux has /dev/full");
    let run = finish(
        bench
            .command(&["ratio", "3", "1", "--to", "3:1"])
            .stdout(Stdio::from(full)),
    );
    assert_eq!((run.status, run.out.as_str()), (Some(5), ""));
    assert!(run.err.contains("nothing was recorded"), "{}", run.err);
}
