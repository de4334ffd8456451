//! The tree of commands and the flags they share.
//!
//! Verbs forgive case; clap does not, so they are folded before it sees them.

use std::ffi::OsString;
use std::path::PathBuf;

use clap::error::{ContextKind, ContextValue, ErrorKind};
use clap::{Args as ClapArgs, CommandFactory, FromArgMatches, Parser, Subcommand};

use super::ask::Ask;
use super::demo::DemoArgs;
use super::exit::{Exit, Kept, Outcome};
use super::failure::Failure;
use super::record::Record;
use super::remedy::joined;
use super::world::{World, page_width};
use crate::report::text::wrapped;

/// A breeding ledger for hand-made pepper crosses: log crosses, sowings and what the seedlings look like;
/// ask which seedlings are not the cross on the label, and how sure that is.
#[derive(Debug, Parser)]
#[command(
    name = "locule",
    version,
    term_width = 80,
    arg_required_else_help = true,
    disable_help_flag = true
)]
pub struct Args {
    /// Flags that every command takes.
    #[command(flatten)]
    pub everywhere: Everywhere,
    /// The command.
    #[command(subcommand)]
    pub command: Command,
}

/// Flags that every command takes.
#[derive(Debug, Clone, Default, ClapArgs)]
pub struct Everywhere {
    /// The ledger; without it the file that the environment variable LOCULE_LEDGER names, else
    /// `locule/ledger.db` under the platform's data folder
    #[arg(long, global = true, help_heading = "Everywhere", value_name = "FILE")]
    pub ledger: Option<PathBuf>,
    /// The day it happened: 2026-03-01, 14 July 2025, today, yesterday, 3d (days ago), sun (the last one),
    /// 12mar; for `cross` and `self` also unknown
    #[arg(long, global = true, help_heading = "Everywhere", value_name = "DATE")]
    pub on: Option<String>,
    /// Record it although it looks implausible
    #[arg(long, global = true, help_heading = "Everywhere")]
    pub even_so: bool,
    /// Answer in JSON
    #[arg(long, global = true, help_heading = "Everywhere")]
    pub json: bool,
    /// Show this help
    #[arg(
        long,
        short,
        global = true,
        help_heading = "Everywhere",
        action = clap::ArgAction::Help
    )]
    pub help: Option<bool>,
}

/// A command: one that records, or one that asks.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Commands that record.
    #[command(flatten)]
    Record(Record),
    /// Commands that ask.
    #[command(flatten)]
    Ask(Ask),
    /// Show an invented season and its cull and keep list
    #[command(display_order = 35)]
    Demo(DemoArgs),
}

impl Command {
    /// Carries the command out.
    ///
    /// # Errors
    /// [`Failure`] in words, with its exit status.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        match self {
            Self::Record(command) => command.run(world),
            Self::Ask(command) => command.run(world),
            Self::Demo(command) => command.run(world),
        }
    }
}

/// Reads a command line.
///
/// # Errors
/// The [`Outcome`] to end with at once: help, the version, or what is wrong with the command line.
pub fn read(typed: Vec<OsString>) -> Result<Args, Outcome> {
    let mut args = Reader::default().read(typed)?;
    if let Command::Record(Record::Amend(amend)) = &mut args.command {
        amend.give_back(&mut args.everywhere);
    }
    Ok(args)
}

/// Reads command lines, one after another, by one tree of commands.
#[derive(Debug, Clone)]
pub struct Reader {
    tree: clap::Command,
}

impl Default for Reader {
    fn default() -> Self {
        Self {
            tree: Args::command(),
        }
    }
}

impl Reader {
    /// Reads a command line.
    ///
    /// # Errors
    /// As [`read`].
    pub fn read(&mut self, typed: Vec<OsString>) -> Result<Args, Outcome> {
        let folded = without_times(fold_verbs(&self.tree, typed));
        self.tree
            .try_get_matches_from_mut(&folded)
            .and_then(|mut matches| Args::from_arg_matches_mut(&mut matches))
            .map_err(|error| early(&error, &folded))
    }

    /// Whether a flag takes a value, of the command that words begin with; nothing where it has no such flag.
    #[must_use]
    pub fn takes_value(&self, words: &[String], flag: &str) -> Option<bool> {
        let typed: Vec<OsString> = std::iter::once("locule")
            .chain(words.iter().map(String::as_str))
            .map(OsString::from)
            .collect();
        let mut here = &self.tree;
        for (_, verb) in find_verbs(&self.tree, &typed) {
            here = here.find_subcommand(verb)?;
        }
        let own = here.get_arguments().chain(self.tree.get_arguments());
        let mut named = own.filter(|arg| arg.get_long() == flag.strip_prefix("--"));
        named.next().map(|arg| arg.get_action().takes_values())
    }
}

fn early(error: &clap::Error, typed: &[OsString]) -> Outcome {
    let text = error.render().to_string();
    if !error.use_stderr() {
        return Outcome::said(text);
    }
    // Help is laid out already.
    let is_help = error.kind() == ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand;
    let text = match is_help {
        true => text,
        false => wrapped(&text, page_width(), "  "),
    };
    let pointer = "For more information, try '--help'.";
    let command = with_flag_named(error, typed);
    let help = format!(
        "try: {}",
        command.unwrap_or_else(|| format!("{} --help", verbs_of(typed)))
    );
    let err = if text.contains(pointer) {
        text.replace(pointer, &help)
    } else {
        format!("{}\n\n{help}\n", text.trim_end())
    };
    Outcome {
        out: String::new(),
        err,
        exit: Exit::Usage,
        kept: Kept::Nothing,
        json: false,
    }
}

/// Where in a command line the verbs stand, with the names they mean.
fn find_verbs(tree: &clap::Command, typed: &[OsString]) -> Vec<(usize, String)> {
    let takes_value = |word: &str| {
        tree.get_arguments().any(|arg| {
            arg.get_action().takes_values()
                && arg
                    .get_long()
                    .is_some_and(|long| word.strip_prefix("--") == Some(long))
        })
    };
    let mut found = Vec::new();
    let mut here = tree;
    let mut at = 1;
    while at < typed.len() && here.has_subcommands() {
        let word = typed[at].to_string_lossy();
        if word == "--" {
            break;
        }
        if word.starts_with('-') {
            at += if takes_value(&word) { 2 } else { 1 };
            continue;
        }
        let meant = here.get_subcommands().find(|command| {
            command.get_name().eq_ignore_ascii_case(&word)
                || command
                    .get_all_aliases()
                    .any(|alias| alias.eq_ignore_ascii_case(&word))
        });
        let Some(command) = meant else { break };
        found.push((at, command.get_name().to_owned()));
        here = command;
        at += 1;
    }
    found
}

fn fold_verbs(tree: &clap::Command, mut typed: Vec<OsString>) -> Vec<OsString> {
    for (at, verb) in find_verbs(tree, &typed) {
        typed[at] = verb.into();
    }
    typed
}

/// A pair as a tag prints it, `PF x DM`, without the sign between the two.
fn without_times(mut typed: Vec<OsString>) -> Vec<OsString> {
    let is_pair = |window: &[OsString]| {
        let word = |at: usize| window[at].to_string_lossy();
        matches!(&*word(1), "x" | "X" | "\u{d7}")
            && !word(0).starts_with('-')
            && !word(2).starts_with('-')
    };
    let first = match typed.get(1).map(|word| word.to_string_lossy()).as_deref() {
        Some("cross") => 2,
        Some("plan") if typed.get(2).is_some_and(|word| word == "which-mother") => 3,
        _ => return typed,
    };
    if typed.get(first..first + 3).is_some_and(is_pair) {
        typed.remove(first + 1);
    }
    typed
}

/// The flag that a bare word lacked, by command.
const WANTED_FLAGS: [(&str, &str); 9] = [
    ("set", "--pods"),
    ("harvest", "--pods"),
    ("packet", "--seeds"),
    ("sow", "--seeds"),
    ("plan calendar", "--ripe-seed"),
    ("plan cross", "--want"),
    ("plan seeds", "--class"),
    ("plan space", "--pots"),
    ("cross", "--flowers"),
];

/// The command with the flag put before a word that stood there bare; nothing where the command has no such flag.
fn with_flag_named(error: &clap::Error, typed: &[OsString]) -> Option<String> {
    if error.kind() != ErrorKind::UnknownArgument {
        return None;
    }
    let Some(ContextValue::String(bare)) = error.get(ContextKind::InvalidArg) else {
        return None;
    };
    let verbs = verbs(typed).join(" ");
    let (_, flag) = WANTED_FLAGS.iter().find(|(own, _)| *own == verbs)?;
    if bare.starts_with('-') || typed.iter().any(|word| word == flag) {
        return None;
    }
    let words = typed.iter().skip(1).map(|word| word.to_string_lossy());
    let named = words.flat_map(|word| match word == bare.as_str() {
        true => vec![(*flag).to_owned(), word.into_owned()],
        false => vec![word.into_owned()],
    });
    Some(format!("locule {}", joined(&named.collect::<Vec<_>>())))
}

fn verbs_of(typed: &[OsString]) -> String {
    std::iter::once("locule".to_owned())
        .chain(verbs(typed))
        .collect::<Vec<_>>()
        .join(" ")
}

/// The verbs of a command line: `parent add`.
#[must_use]
pub fn verbs(typed: &[OsString]) -> Vec<String> {
    let found = find_verbs(&Args::command(), typed);
    found.into_iter().map(|(_, verb)| verb).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tree_is_sound() {
        Args::command().debug_assert();
    }
}
