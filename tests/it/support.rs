//! A hermetic place to run the program in: its own folder, an empty environment, a fixed day and width.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// A folder of its own in which the program runs.
pub struct Bench {
    folder: tempfile::TempDir,
    state: tempfile::TempDir,
    today: String,
    columns: usize,
}

/// What one run gave.
#[derive(Debug, PartialEq, Eq)]
pub struct Run {
    /// The exit status; nothing where a signal ended it.
    pub status: Option<i32>,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl Bench {
    /// An empty bench on 1 March 2026.
    pub fn new() -> Self {
        Self {
            folder: tempfile::tempdir().expect("a temporary folder can be made"),
            state: tempfile::tempdir().expect("a temporary folder can be made"),
            today: "2026-03-01".to_owned(),
            columns: 80,
        }
    }

    /// A bench on a day with a new ledger and some lines recorded, none of which is remarked on.
    pub fn with(today: &str, lines: &[&str]) -> Self {
        let mut bench = Self::new();
        bench.on(today);
        bench.ok("init");
        for line in lines {
            bench.ok(line);
        }
        bench
    }

    /// The same bench on another day.
    pub fn on(&mut self, today: &str) -> &mut Self {
        self.today = today.to_owned();
        self
    }

    /// The same bench with another width of the page.
    pub fn wide(&mut self, columns: usize) -> &mut Self {
        self.columns = columns;
        self
    }

    /// The bench's folder, which is also the current folder of every run.
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// Where the program keeps what it knows of the ledger.
    pub fn state(&self) -> &Path {
        self.state.path()
    }

    /// Where the ledger lies.
    pub fn ledger(&self) -> PathBuf {
        self.folder().join("ledger.db")
    }

    /// A command ready to run, for tests that want it otherwise than [`Bench::run`].
    pub fn command<S: AsRef<OsStr>>(&self, words: &[S]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_locule"));
        command
            .args(words)
            .current_dir(self.folder())
            .env_clear()
            .env("HOME", self.folder())
            .env("LOCULE_LEDGER", self.ledger())
            .env("LOCULE_STATE", self.state())
            .env("LOCULE_TODAY", &self.today)
            .env("LOCULE_SEED", "1")
            .env("COLUMNS", self.columns.to_string())
            .stdin(Stdio::null());
        command
    }

    /// Runs the program with these words.
    pub fn run_words<S: AsRef<OsStr>>(&self, words: &[S]) -> Run {
        finish(&mut self.command(words))
    }

    /// Runs a command line as a person types it; single and double quotes hold words together.
    pub fn run(&self, line: &str) -> Run {
        self.run_words(&split(line))
    }

    /// Runs a command line that must succeed and gives its standard output.
    pub fn ok(&self, line: &str) -> String {
        let run = self.run(line);
        assert_eq!(
            (run.status, run.err.as_str()),
            (Some(0), ""),
            "{line}\n{}",
            run.out
        );
        run.out
    }

    /// Runs a command line with `--json` that must succeed and gives the value it printed.
    pub fn json(&self, line: &str) -> serde_json::Value {
        let out = self.ok(&format!("{line} --json"));
        serde_json::from_str(&out).unwrap_or_else(|error| panic!("{line}: {error}\n{out}"))
    }

    /// Runs a command line that must fail with a status and say nothing on standard output; gives its
    /// standard error.
    pub fn fails(&self, line: &str, status: i32) -> String {
        let run = self.run(line);
        assert_eq!(
            (run.status, run.out.as_str()),
            (Some(status), ""),
            "{line}\n{}",
            run.err
        );
        run.err
    }
}

/// Runs a command to its end.
pub fn finish(command: &mut Command) -> Run {
    let output = command.output().expect("the program can be started");
    Run {
        status: output.status.code(),
        out: String::from_utf8(output.stdout).expect("standard output is UTF-8"),
        err: String::from_utf8(output.stderr).expect("standard error is UTF-8"),
    }
}

/// Splits a command line at blanks, quotes holding words together.
pub fn split(line: &str) -> Vec<String> {
    let (mut words, mut word, mut open, mut quote) = (Vec::new(), String::new(), false, None);
    for c in line.chars() {
        match (quote, c) {
            (Some(q), c) if c == q => quote = None,
            (None, '\'' | '"') => (quote, open) = (Some(c), true),
            (None, ' ') => {
                if open {
                    words.push(std::mem::take(&mut word));
                }
                open = false;
            }
            (_, c) => {
                word.push(c);
                open = true;
            }
        }
    }
    if open {
        words.push(word);
    }
    words
}

/// Runs a command that may remark on what it records but must succeed; gives its answer.
pub fn answered(bench: &Bench, line: &str) -> String {
    let run = bench.run(line);
    assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    run.out
}

/// Runs a command that may warn but must succeed; gives what it says on standard error.
pub fn record(bench: &Bench, line: &str) -> String {
    let run = bench.run(line);
    assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    flat(&run.err)
}

/// A number of an answer must be a reference value to nine digits, near nothing to a trillionth, of large ones to a billionth.
#[track_caller]
pub fn close(value: &serde_json::Value, theirs: f64) {
    let ours = value.as_f64().unwrap_or(f64::NAN);
    assert!(
        (ours - theirs).abs() <= 1e-9 * theirs.abs().clamp(1e-3, 1.0),
        "{ours}, reference {theirs}"
    );
}

/// Text with every run of blanks and line feeds as one blank, for sentences that are wrapped.
pub fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
