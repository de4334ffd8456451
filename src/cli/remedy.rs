//! Puts a remedy into a command to type, from the command that was typed.
//!
//! The gate knows what is wrong with a word or flag, not the line it stood in; [`Typed`] is that line, and
//! [`super::failure::Failure`] asks it for the whole command to try.

use std::ffi::OsString;

use super::args;
use super::world::quoted;
use crate::records::admit::Remedy;
use crate::records::code::fold;
use crate::records::target::Target;
use crate::records::text::is_unshowable;

/// The command as typed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Typed {
    /// The words after the program's name, without `--ledger` and `--json`.
    words: Vec<String>,
    /// The verbs among them: `parent add`.
    verbs: Vec<String>,
    /// The ledger, where it was typed.
    ledger: Option<String>,
}

impl Typed {
    /// Reads a command line.
    #[must_use]
    pub fn of(typed: &[OsString]) -> Self {
        let mut this = Self {
            verbs: args::verbs(typed),
            ..Self::default()
        };
        let mut rest = typed.iter().skip(1).map(|word| word.to_string_lossy());
        while let Some(word) = rest.next() {
            if word == "--" {
                // What follows is text, whatever it looks like.
                this.words.push(word.into_owned());
                this.words
                    .extend(rest.by_ref().map(|word| word.into_owned()));
            } else if word == "--ledger" {
                this.ledger = rest.next().map(|file| file.into_owned());
            } else if let Some(file) = word.strip_prefix("--ledger=") {
                this.ledger = Some(file.to_owned());
            } else if word != "--json" {
                this.words.push(word.into_owned());
            }
        }
        this
    }

    /// The command as a person could type it again: without the program, `--ledger` and `--json`.
    #[must_use]
    pub fn text(&self) -> String {
        joined(&self.words)
    }

    /// What to say beside the remedy, and the whole command to try.
    #[must_use]
    pub fn remedied(&self, remedy: &Remedy) -> (Option<String>, String) {
        let again = |words: &[String]| format!("locule {}", joined(words));
        match remedy {
            Remedy::Command(command) => (None, command.clone()),
            Remedy::Flags(flags) => {
                let set = |words, (flag, value): &(&str, String)| with_flag(words, flag, value);
                (None, again(&flags.iter().fold(self.words.clone(), set)))
            }
            Remedy::Without(flag) => (None, again(&without_flag(self.words.clone(), flag))),
            Remedy::Word {
                typed,
                by,
                otherwise,
            } => match with_word(&self.words, typed, by) {
                Some(words) => (None, again(&words)),
                None => (Some(format!("{by} in place of {typed}")), otherwise.clone()),
            },
            Remedy::Plain => (None, again(&plain(&self.words))),
            Remedy::WithoutBlanks => {
                let said = self.words.iter().filter(|word| !word.trim().is_empty());
                (None, again(&said.cloned().collect::<Vec<_>>()))
            }
            Remedy::Again => (None, again(&self.words)),
            Remedy::Advice(text) => match text.split_once(": locule ") {
                Some((advice, command)) => (Some(advice.to_owned()), format!("locule {command}")),
                None => (Some(text.clone()), self.help()),
            },
            Remedy::Help => (None, self.help()),
        }
    }

    /// The help of the command.
    fn help(&self) -> String {
        format!("locule {} --help", self.verbs.join(" ")).replace("  ", " ")
    }

    /// A command to try on the ledger that was typed; one that names a ledger stays as it is.
    #[must_use]
    pub fn on_ledger(&self, command: &str) -> String {
        match (&self.ledger, command.strip_prefix("locule ")) {
            (Some(file), Some(rest)) if !rest.contains("--ledger") && !rest.ends_with("--help") => {
                format!("locule --ledger {} {rest}", quoted(file))
            }
            _ => command.to_owned(),
        }
    }

    /// The same command on another ledger.
    #[must_use]
    pub fn elsewhere(&self, file: &str) -> String {
        format!("locule --ledger {} {}", quoted(file), self.text())
    }
}

/// Words as a shell takes them for a command line.
pub(super) fn joined(words: &[String]) -> String {
    let words: Vec<String> = words.iter().map(|word| quoted(word)).collect();
    words.join(" ")
}

/// Flags that are taken out of a command and have no value.
const SWITCHES: [&str; 5] = [
    "--believed",
    "--blind",
    "--even-so",
    "--fixed",
    "--maternal",
];

fn without_flag(words: Vec<String>, flag: &str) -> Vec<String> {
    let glued = format!("{flag}=");
    let mut kept = Vec::new();
    let mut rest = words.into_iter();
    while let Some(word) = rest.next() {
        if word == flag {
            if !SWITCHES.contains(&flag) {
                rest.next();
            }
        } else if !word.starts_with(&glued) {
            kept.push(word);
        }
    }
    kept
}

fn with_flag(words: Vec<String>, flag: &str, value: &str) -> Vec<String> {
    let mut words = without_flag(words, flag);
    words.push(flag.to_owned());
    if !SWITCHES.contains(&flag) {
        words.push(value.to_owned());
    }
    words
}

/// The words with another in the place of one; nothing where it does not stand there by itself.
fn with_word(words: &[String], typed: &str, by: &str) -> Option<Vec<String>> {
    let wanted = fold(typed);
    let is_whole = |word: &&String| {
        fold(word) == wanted
            || word
                .parse::<Target>()
                .is_ok_and(|target| fold(&target.to_string()) == wanted)
    };
    let mut words = words.to_vec();
    if let Some(at) = words.iter().position(|word| is_whole(&word)) {
        by.clone_into(&mut words[at]);
        return Some(words);
    }
    let pieces = |word: &str| -> Option<String> {
        let is_joint = |c: char| matches!(c, '=' | '/' | ':' | ',' | ' ');
        let at = fold(word).find(&wanted)?;
        let end = at + wanted.len();
        let (before, piece, after) = (word.get(..at)?, word.get(at..end)?, word.get(end..)?);
        let apart = before.is_empty() || before.ends_with(is_joint) || before.ends_with("maybe-");
        let ends = after.is_empty() || after.starts_with(is_joint);
        (apart && ends && fold(piece) == wanted).then(|| format!("{before}{by}{after}"))
    };
    let at = words.iter().position(|word| pieces(word).is_some())?;
    words[at] = pieces(&words[at])?;
    Some(words)
}

fn plain(words: &[String]) -> Vec<String> {
    let blank = |c: char| if c.is_whitespace() { ' ' } else { c };
    let clean = |word: &String| -> String {
        let kept = word.chars().map(blank).filter(|c| !is_unshowable(*c));
        kept.collect::<String>().trim().to_owned()
    };
    words.iter().map(clean).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(line: &str) -> Typed {
        let words = line.split(' ').map(OsString::from);
        Typed::of(
            &std::iter::once("locule".into())
                .chain(words)
                .collect::<Vec<_>>(),
        )
    }

    fn word(line: &str, from: &str, by: &str) -> String {
        let remedy = Remedy::Word {
            typed: from.to_owned(),
            by: by.to_owned(),
            otherwise: "locule history".to_owned(),
        };
        typed(line).remedied(&remedy).1
    }

    #[test]
    fn words_are_replaced_where_they_stand_by_themselves() {
        assert_eq!(
            word("score T1-3 Pruple", "pruple", "purple"),
            "locule score T1-3 purple"
        );
        assert_eq!(
            word("score T1 1-3=pruple/hairy", "pruple", "purple"),
            "locule score T1 1-3=purple/hairy"
        );
        assert_eq!(word("cull T1-2", "T1-02", "T1-02a"), "locule cull T1-02a");
        assert_eq!(word("score T1 purple", "ur", "x"), "locule history");
    }

    #[test]
    fn flags_are_set_in_place_of_those_typed() {
        let flags = Remedy::Flags(vec![("--on", "2026-03-01".to_owned())]);
        for line in ["up T1 3 --on 1/3/2026", "up T1 3 --on=1/3/2026", "up T1 3"] {
            assert_eq!(
                typed(line).remedied(&flags).1,
                "locule up T1 3 --on 2026-03-01"
            );
        }
        assert_eq!(
            typed("set X1 --pollinated 1mar --pods 2")
                .remedied(&Remedy::Without("--pollinated"))
                .1,
            "locule set X1 --pods 2"
        );
    }

    #[test]
    fn the_ledger_typed_goes_along() {
        let typed = typed("--ledger s.db parent add NL --json");
        assert_eq!(typed.text(), "parent add NL");
        assert_eq!(
            typed.on_ledger("locule history"),
            "locule --ledger s.db history"
        );
        assert_eq!(typed.remedied(&Remedy::Help).1, "locule parent add --help");
    }
}
