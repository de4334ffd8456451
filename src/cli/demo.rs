//! `demo`: an invented season, played from the script in `demo/season.sh` by the commands themselves.
//!
//! Nothing here knows what the season holds: the script is read line by line, each command line goes the way of
//! one that was typed, on the day that the script fixes, and what the last one answers is printed.

use std::ffi::OsString;
use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::args;
use super::exit::Outcome;
use super::failure::Failure;
use super::remedy::Typed;
use super::world::{Fixed, World, quoted};

/// The script; a shell can run it too.
const SEASON: &str = include_str!("../../demo/season.sh");

/// How the script's comments begin that hold a command to type afterwards.
const AFTERWARDS: &str = "# Try: ";

/// The name of the ledger in its folder.
const LEDGER: &str = "ledger.db";

/// Plays an invented season of crosses and prints its cull and keep list.
///
/// Five parents and a hybrid, nine crosses, ten trays and pots; among them what goes wrong at a bench. The
/// commands stand in demo/season.sh, to be read. The ledger stays where the last lines say.
#[derive(Debug, Args)]
pub struct DemoArgs {
    /// The folder for the season's ledger; without it a new temporary one
    #[arg(value_name = "FOLDER")]
    folder: Option<PathBuf>,
}

/// The answer as JSON.
#[derive(Debug, Serialize)]
struct Played {
    ledger: String,
    today: Option<String>,
    commands: usize,
    sheet: serde_json::Value,
    next: Vec<String>,
}

impl DemoArgs {
    /// Plays the season in a new ledger.
    ///
    /// # Errors
    /// [`Failure`] where the folder cannot be made or holds a ledger, or a command of the script fails.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let ledger = new_ledger(self.folder)?;
        let mut script = Script::read(SEASON);
        script.fixed.state = Some(ledger.with_file_name("state"));
        let mut sheet = String::new();
        for (at, words) in script.commands.iter().enumerate() {
            let last = at + 1 == script.commands.len();
            sheet = play(words, &ledger, &script.fixed, world.json && last)?;
        }
        let next: Vec<String> = script
            .afterwards
            .iter()
            .map(|words| typeable(words, &ledger))
            .collect();
        if !world.json {
            let lines: String = next.iter().map(|line| format!("\n  {line}")).collect();
            return Ok(Outcome::said(format!(
                "{sheet}\nEvery plant above is invented. What to try next, with this season's ledger:{lines}"
            )));
        }
        let played = Played {
            ledger: ledger.display().to_string(),
            today: script.fixed.today,
            commands: script.commands.len(),
            sheet: serde_json::from_str(&sheet).expect("an answer asked for as JSON is JSON"),
            next,
        };
        let json = serde_json::to_string(&played).expect("only text, numbers and lists");
        Ok(Outcome::said(json))
    }
}

/// Carries one command line out, as if it were typed; gives what it answers.
fn play(words: &[String], ledger: &Path, fixed: &Fixed, json: bool) -> Result<String, Failure> {
    let line = words.join(" ");
    let mut typed: Vec<OsString> = words.iter().map(OsString::from).collect();
    typed.extend(["--ledger".into(), ledger.into()]);
    if json {
        typed.push("--json".into());
    }
    let args = args::read(typed.clone())
        .unwrap_or_else(|wrong| panic!("the demo's line '{line}' is wrong: {}", wrong.err));
    let world = World::begin(args.everywhere, &Typed::of(&typed), fixed.clone())?;
    let outcome = args.command.run(&world);
    Ok(outcome
        .map_err(|failure| failure.because(format!("met while playing: {line}")))?
        .out)
}

/// A command line of the script as it can be typed now, with this program's and the ledger's real paths.
fn typeable(words: &[String], ledger: &Path) -> String {
    let program = std::env::args()
        .next()
        .unwrap_or_else(|| "locule".to_owned());
    let ledger = ledger.display().to_string();
    let rest = words.iter().skip(1).map(|word| quoted(word));
    let head = [quoted(&program), "--ledger".to_owned(), quoted(&ledger)];
    head.into_iter().chain(rest).collect::<Vec<_>>().join(" ")
}

/// The place of the season's ledger: in the folder named, or in a new temporary one.
fn new_ledger(folder: Option<PathBuf>) -> Result<PathBuf, Failure> {
    let folder = match folder {
        Some(folder) => folder,
        None => temporary()?,
    };
    let there = folder.join(LEDGER);
    if there.symlink_metadata().is_ok() {
        return Err(
            Failure::refused(format!("'{}' is there already", there.display()))
                .because("the demo makes a ledger of its own and touches no other")
                .try_typing("locule demo")
                .try_typing("locule demo another-folder"),
        );
    }
    let made = std::fs::create_dir_all(&folder).and_then(|()| folder.canonicalize());
    let folder = made.map_err(|error| {
        Failure::refused(format!("the folder '{}' cannot be made", folder.display()))
            .because(error.to_string())
            .try_typing("locule demo")
    })?;
    Ok(folder.join(LEDGER))
}

fn temporary() -> Result<PathBuf, Failure> {
    let mut chance = [0; 4];
    getrandom::fill(&mut chance).map_err(|error| {
        Failure::system("no random number for the name of a temporary folder")
            .because(error.to_string())
            .try_typing("locule demo season")
    })?;
    let name = format!("locule-demo-{:08x}", u32::from_ne_bytes(chance));
    Ok(std::env::temp_dir().join(name))
}

/// A script as it is played: what it fixes, its command lines, and those to type afterwards.
#[derive(Debug, Default, PartialEq, Eq)]
struct Script {
    fixed: Fixed,
    commands: Vec<Vec<String>>,
    afterwards: Vec<Vec<String>>,
}

impl Script {
    /// Reads a script of comments, `set -e`, exports and command lines of this program; the script is part of the
    /// program, so a line of another kind is a bug.
    fn read(text: &str) -> Self {
        let mut script = Self::default();
        for line in text.lines() {
            if let Some(command) = line.strip_prefix(AFTERWARDS) {
                script.afterwards.push(split_words(command));
                continue;
            }
            let words = split_words(line);
            let head: Vec<&str> = words.iter().map(String::as_str).collect();
            match head[..] {
                [] | ["set", "-e"] => {}
                ["export", setting] => script.fix(setting),
                ["locule", ..] => script.commands.push(words),
                _ => panic!("the script holds a line that only a shell can play: '{line}'"),
            }
        }
        script
    }

    fn fix(&mut self, setting: &str) {
        match setting.split_once('=') {
            Some(("LOCULE_TODAY", day)) => self.fixed.today = Some(day.to_owned()),
            Some(("LOCULE_SEED", seed)) => self.fixed.seed = Some(seed.to_owned()),
            _ => panic!("the script fixes something unknown: '{setting}'"),
        }
    }
}

/// The words of a line as a shell splits it: at blanks, quotes holding words together, `#` beginning a comment.
fn split_words(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut word: Option<String> = None;
    let mut quote = None;
    for c in line.chars() {
        match (quote, c) {
            (Some(open), c) if c == open => quote = None,
            (Some(_), c) => word.get_or_insert_default().push(c),
            (None, '"' | '\'') => {
                quote = Some(c);
                word.get_or_insert_default();
            }
            (None, '#') if word.is_none() => break,
            (None, c) if c.is_whitespace() => words.extend(word.take()),
            (None, c) => word.get_or_insert_default().push(c),
        }
    }
    words.extend(word);
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_split_as_a_shell_does() {
        assert_eq!(split_words("  # nothing"), Vec::<String>::new());
        assert_eq!(
            split_words("a  'b c' \"d'e\" f#g '' # h"),
            ["a", "b c", "d'e", "f#g", ""]
        );
    }

    #[test]
    fn the_script_is_of_lines_that_can_be_played() {
        let script = Script::read(SEASON);
        assert!(script.fixed.today.is_some() && script.fixed.seed.is_some());
        assert_eq!(script.afterwards.len(), 8);
        for words in script.commands.iter().chain(&script.afterwards) {
            let typed = words.iter().map(OsString::from).collect();
            assert!(args::read(typed).is_ok(), "{words:?}");
        }
        assert_eq!(
            script.commands.last().map(|last| last.join(" ")).as_deref(),
            Some("locule sheet")
        );
    }

    #[cfg(unix)]
    #[test]
    fn a_shell_splits_the_script_into_the_same_words() {
        let functions =
            "locule() { for word in \"$@\"; do printf '%s\\n' \"$word\"; done; echo; }\n";
        let shell = std::process::Command::new("sh")
            .arg("-c")
            .arg(format!("{functions}{SEASON}"))
            .output();
        let said = String::from_utf8(shell.expect("there is a shell").stdout).expect("text");
        let played: String = Script::read(SEASON)
            .commands
            .iter()
            .map(|words| {
                words[1..]
                    .iter()
                    .map(|word| format!("{word}\n"))
                    .collect::<String>()
                    + "\n"
            })
            .collect();
        assert_eq!(said, played);
    }
}
