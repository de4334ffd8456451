//! The documents say what is so: every `console` block of README.md and `docs/` is run and must print what stands
//! there, and the tables that repeat the code agree with it.
//!
//! The blocks of one file share one ledger, in order. A line `$ locule ...` is a command (a backslash at its end carries
//! it on to the next line), the lines up to the next `$` are what it prints: standard output, then standard error. A
//! status other than 0 must be shown by `$ echo $?`. `<!-- today: 2026-05-20 -->` sets the day from there on. With
//! `UPDATE_DOCS=1` in the environment the blocks are written anew instead, for a person to read through.

use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

use locule::cli::exit::Exit;
use locule::genetics::catalogue;
use locule::records::assumptions::ASSUMPTIONS;
use locule::records::rows::Table;

use crate::support::{Bench, Run, finish, flat, split};

/// What a path inside the bench's folder is shown as.
const HOME: &str = "/home/you";

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn read(name: &str) -> String {
    fs::read_to_string(root().join(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

/// README.md, DEVELOPERS.md and every page of `docs/`.
fn pages() -> Vec<PathBuf> {
    let folder = fs::read_dir(root().join("docs")).expect("there is a folder docs");
    let mut pages: Vec<PathBuf> = folder
        .map(|entry| entry.expect("it can be listed").path())
        .collect();
    pages.retain(|path| path.extension().is_some_and(|ending| ending == "md"));
    pages.extend(["README.md", "DEVELOPERS.md"].map(|name| root().join(name)));
    pages.sort();
    pages
}

/// A terminal in which a page's commands are run one after another.
struct Console {
    bench: Bench,
    status: Option<i32>,
}

impl Console {
    fn new() -> Self {
        Self {
            bench: Bench::new(),
            status: None,
        }
    }

    /// What a line after `$ ` prints. A failure nobody asked about by `echo $?` is shown, so that it differs.
    fn run(&mut self, line: &str, asked: bool) -> String {
        if line == "echo $?" {
            return format!(
                "{}\n",
                self.status.expect("a command stands before 'echo $?'")
            );
        }
        let words = split(line);
        assert_eq!(
            words.first().map(String::as_str),
            Some("locule"),
            "only locule is run: {line}"
        );
        let Run { status, out, err } =
            finish(self.bench.command(&words[1..]).env_remove("LOCULE_LEDGER"));
        self.status = status;
        let mut printed = format!("{out}{err}");
        if status != Some(0) && !asked {
            let _ = writeln!(printed, "[status {status:?}]");
        }
        let folder = fs::canonicalize(self.bench.folder()).expect("the bench has a folder");
        for path in [folder.as_path(), self.bench.folder()] {
            printed = printed.replace(&path.display().to_string(), HOME);
        }
        printed
    }
}

/// A command of a block: as it is written, on one line, and what stands under it.
#[derive(Default)]
struct Typed {
    written: String,
    joined: String,
    expected: String,
}

/// The commands of a block.
fn commands(block: &[&str]) -> Vec<Typed> {
    let mut commands: Vec<Typed> = Vec::new();
    let mut carried = false;
    for line in block {
        let begins = line.strip_prefix("$ ");
        if begins.is_some() {
            commands.push(Typed::default());
        }
        let typed = commands
            .last_mut()
            .expect("a console block begins with '$ '");
        if begins.is_none() && !carried {
            let _ = writeln!(typed.expected, "{line}");
            continue;
        }
        let _ = writeln!(typed.written, "{line}");
        let part = begins.unwrap_or(line.trim_start());
        carried = part.ends_with('\\');
        typed
            .joined
            .push_str(part.strip_suffix('\\').unwrap_or(part));
    }
    commands
}

/// A block as it must read: its commands with what they print. Where a path of the computer is named, lines may be
/// broken elsewhere.
fn play(console: &mut Console, block: &[&str]) -> String {
    let commands = commands(block);
    let mut text = String::new();
    for (at, typed) in commands.iter().enumerate() {
        let asked = commands
            .get(at + 1)
            .is_some_and(|next| next.joined == "echo $?");
        let printed = console.run(&typed.joined, asked);
        let same_but_for_breaks = printed.contains(HOME) && flat(&printed) == flat(&typed.expected);
        text.push_str(&typed.written);
        text.push_str(if same_but_for_breaks {
            &typed.expected
        } else {
            &printed
        });
    }
    text
}

/// A page with every console block as it must read, and how many there are.
fn replay(page: &str) -> (String, usize) {
    let mut console = Console::new();
    let (mut text, mut blocks) = (String::new(), 0);
    let mut open: Option<Vec<&str>> = None;
    for line in page.lines() {
        match (&mut open, line) {
            (None, "```console") => open = Some(Vec::new()),
            (Some(block), "```") => {
                text.push_str(&play(&mut console, block));
                (open, blocks) = (None, blocks + 1);
            }
            (Some(block), line) => {
                block.push(line);
                continue;
            }
            (None, line) => {
                if let Some(day) = line
                    .strip_prefix("<!-- today: ")
                    .and_then(|rest| rest.strip_suffix(" -->"))
                {
                    console.bench.on(day);
                }
            }
        }
        let _ = writeln!(text, "{line}");
    }
    assert!(open.is_none(), "a console block is not closed");
    (text, blocks)
}

/// The first line in which two texts differ, with its number.
fn difference(written: &str, played: &str) -> String {
    let lines = |text: &str| {
        text.lines()
            .map(str::to_owned)
            .chain(std::iter::repeat_n("(end)".to_owned(), 1))
            .collect::<Vec<_>>()
    };
    let (written, played) = (lines(written), lines(played));
    let at = written
        .iter()
        .zip(&played)
        .take_while(|(one, other)| one == other)
        .count();
    let line = |text: &[String]| text.get(at).cloned().unwrap_or_default();
    format!(
        "line {}: it says\n  {}\nlocule says\n  {}",
        at + 1,
        line(&written),
        line(&played)
    )
}

#[test]
fn every_console_block_prints_what_it_says() {
    let update = std::env::var_os("UPDATE_DOCS").is_some();
    let (mut blocks, mut wrong) = (0, Vec::new());
    for path in pages() {
        let page = fs::read_to_string(&path).expect("a page can be read");
        let (played, count) = replay(&page);
        blocks += count;
        if played == page {
            continue;
        }
        if update {
            fs::write(&path, &played).expect("a page can be written");
        }
        wrong.push(format!(
            "{}, {}",
            path.display(),
            difference(&page, &played)
        ));
    }
    assert!(blocks > 0, "no page has a console block");
    assert!(update || wrong.is_empty(), "{}", wrong.join("\n\n"));
}

#[test]
fn a_block_that_says_something_else_is_seen() {
    let right = replay("```console\n$ locule ratio 88 30 --to 3:1\n```\n").0;
    assert!(right.lines().count() > 4, "{right}");
    assert_eq!(replay(&right).0, right);
    assert_ne!(
        replay(&right.replacen("30", "31", 1)).0,
        right.replacen("30", "31", 1)
    );
    let failing = replay("```console\n$ locule ratio\n```\n").0;
    assert!(failing.contains("[status Some(2)]"), "{failing}");
    let asked = replay("```console\n$ locule ratio\n$ echo $?\n```\n").0;
    assert!(asked.contains("$ echo $?\n2\n"), "{asked}");
}

#[test]
fn links_between_pages_lead_somewhere() {
    for path in pages() {
        let page = fs::read_to_string(&path).expect("a page can be read");
        for target in page
            .split("](")
            .skip(1)
            .filter_map(|rest| rest.split(')').next())
        {
            let (file, anchor) = target.split_once('#').unwrap_or((target, ""));
            if file.starts_with("http") {
                continue;
            }
            let folder = path.parent().expect("a page lies in a folder");
            let to = if file.is_empty() {
                path.clone()
            } else {
                folder.join(file)
            };
            let text = fs::read_to_string(&to)
                .unwrap_or_else(|error| panic!("{}: {target}: {error}", path.display()));
            let found = anchor.is_empty()
                || text
                    .lines()
                    .any(|line| anchor_of(line) == Some(anchor.to_owned()));
            assert!(found, "{}: no heading for {target}", path.display());
        }
    }
}

/// The anchor of a heading: lower case, blanks as hyphens, other signs left out.
fn anchor_of(line: &str) -> Option<String> {
    let title = line
        .strip_prefix('#')?
        .trim_start_matches('#')
        .trim()
        .to_lowercase();
    let kept = title
        .chars()
        .filter(|c| c.is_alphanumeric() || matches!(c, ' ' | '-' | '_'));
    Some(kept.map(|c| if c == ' ' { '-' } else { c }).collect())
}

#[test]
fn the_method_lists_every_starting_belief_as_it_is() {
    let page = read("docs/method.md");
    for belief in ASSUMPTIONS {
        let standing = belief.standing.word().split(',').next().unwrap_or_default();
        let row = format!(
            "| `{}` | {} | {} | {} |",
            belief.key, belief.default, standing, belief.meaning
        );
        assert!(page.contains(&row), "docs/method.md lacks: {row}");
    }
    let section = page
        .split("## 8. Starting beliefs")
        .nth(1)
        .and_then(|rest| rest.split("\n## ").next());
    let rows = section
        .expect("section 8 is there")
        .lines()
        .filter(|line| line.starts_with("| `"))
        .count();
    assert_eq!(
        rows,
        ASSUMPTIONS.len(),
        "docs/method.md lists a belief that is no more"
    );
}

/// The table of built-in genes.
fn gene_table() -> String {
    let mut table = "| gene | alleles | chromosome | what it does | source | standing |\n|---|---|---|---|---|---|\n".to_owned();
    for locus in catalogue::loci() {
        let chromosome = locus
            .chromosome
            .map_or_else(|| "not known".to_owned(), |number| number.to_string());
        let alleles = locus.alleles.join(", ");
        let _ = writeln!(
            table,
            "| `{}` | {alleles} | {chromosome} | {} | {} | {} |",
            locus.symbol, locus.effect, locus.source, locus.standing
        );
    }
    table
}

/// The table of built-in traits and their gene models.
fn trait_table() -> String {
    let mut table =
        "| trait | organ | stage | gene model | rules, the first that fits | source | standing |\n|---|---|---|---|---|---|---|\n"
            .to_owned();
    for spec in catalogue::traits() {
        let off = if spec.on { "" } else { ", off at first" };
        for model in &spec.models {
            let rules: Vec<String> = model
                .rules
                .iter()
                .map(|(pattern, class)| format!("`{pattern} => {class}`"))
                .collect();
            let used = if model.in_use { "in use" } else { "rival" };
            let _ = writeln!(
                table,
                "| `{}` | {} | {}{off} | {}, {used} | {} | {} | {} |",
                spec.code,
                spec.organ,
                spec.stage,
                model.name,
                rules.join("; "),
                model.source,
                model.standing
            );
        }
    }
    table
}

/// What to know when scoring each built-in trait.
fn trait_notes() -> String {
    let mut table = "| trait | what to know when scoring it |\n|---|---|\n".to_owned();
    for spec in catalogue::traits() {
        let late = spec.onset.map_or_else(String::new, |onset| {
            format!(
                " Late: median {} days, spread {}, ceiling {}.",
                onset.median_days, onset.spread, onset.ceiling
            )
        });
        let _ = writeln!(table, "| `{}` | {}{late} |", spec.code, spec.note);
    }
    table
}

#[test]
fn the_gene_catalogue_is_listed_as_it_is() {
    let path = root().join("docs/genes.md");
    let page = read("docs/genes.md");
    let mut right = String::new();
    let mut rest = page.as_str();
    for (mark, table) in [
        ("genes", gene_table()),
        ("traits", trait_table()),
        ("notes", trait_notes()),
    ] {
        let (open, close) = (
            format!("<!-- {mark} -->\n\n"),
            format!("\n<!-- end of {mark} -->"),
        );
        let (before, from) = rest
            .split_once(&open)
            .unwrap_or_else(|| panic!("docs/genes.md lacks {open}"));
        let (_, after) = from
            .split_once(&close)
            .unwrap_or_else(|| panic!("docs/genes.md lacks {close}"));
        let _ = write!(right, "{before}{open}{table}{close}");
        rest = after;
    }
    right.push_str(rest);
    if std::env::var_os("UPDATE_DOCS").is_some() {
        fs::write(path, &right).expect("a page can be written");
    } else {
        assert!(
            page == right,
            "docs/genes.md, {}",
            difference(&page, &right)
        );
    }
}

#[test]
fn the_file_format_lists_every_table_and_column() {
    let page = read("docs/ledger-file.md");
    let sections: Vec<&str> = page.split("\n### ").skip(1).collect();
    for table in Table::ALL {
        let head = format!("`{}`\n", table.name());
        let section = sections.iter().find(|section| section.starts_with(&head));
        let section =
            section.unwrap_or_else(|| panic!("docs/ledger-file.md lacks {}", table.name()));
        let listed: Vec<&str> = section
            .lines()
            .filter_map(|line| line.strip_prefix("| `")?.split('`').next())
            .collect();
        assert_eq!(listed, table.columns(), "columns of {}", table.name());
    }
}

#[test]
fn the_exit_codes_are_those_of_the_program() {
    let page = read("docs/exit-codes.md");
    let all = [
        Exit::Done,
        Exit::Refused,
        Exit::Usage,
        Exit::Busy,
        Exit::Damaged,
        Exit::System,
        Exit::Bug,
    ];
    for exit in all {
        assert!(
            page.contains(&format!("\n| {} |", exit.code())),
            "{exit:?} is not listed"
        );
    }
}

#[test]
fn every_dependency_has_its_line() {
    let (page, manifest) = (read("docs/dependencies.md"), read("Cargo.toml"));
    let mut listed = 0;
    let mut inside = false;
    for line in manifest.lines() {
        if line.starts_with('[') {
            inside = line.ends_with("dependencies]");
        } else if let Some((name, _)) = line.split_once(" = ").filter(|_| inside) {
            listed += 1;
            let named = |row: &str| {
                let first = row.split('|').nth(1).unwrap_or_default();
                first.split([',', '(']).any(|word| word.trim() == name)
            };
            assert!(
                page.lines().any(named),
                "docs/dependencies.md has no line for {name}"
            );
        }
    }
    assert!(listed > 10, "Cargo.toml lists dependencies");
}
