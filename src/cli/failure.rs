//! How a command fails: what, why, and a command to type next.
//!
//! Every error of a lower room becomes a [`Failure`] here or beside the command that met it.

use super::exit::{Exit, Kept, Outcome};
use super::remedy::Typed;
use super::world::page_width;
use crate::diagnosis::DiagnosisError;
use crate::records::admit::{Kind, Refusal, Remedy};
use crate::records::day::DayError;
use crate::records::genes::UnreadableRow;
use crate::report::text::{columns, shown, wrapped};

/// A failure in words: what failed with the value and the place, the causes, and what to try.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failure {
    exit: Exit,
    what: String,
    causes: Vec<String>,
    tries: Vec<Try>,
}

/// What to try: a command, or what becomes one beside the command that was typed.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Try {
    Remedy(Remedy),
    Elsewhere(&'static str),
}

impl Failure {
    /// A failure of a kind, with what failed.
    #[must_use]
    pub fn new(exit: Exit, what: impl AsRef<str>) -> Self {
        Self {
            exit,
            what: shown(what.as_ref()),
            causes: Vec::new(),
            tries: Vec::new(),
        }
    }

    /// The request can't be carried out; nothing was written.
    #[must_use]
    pub fn refused(what: impl AsRef<str>) -> Self {
        Self::new(Exit::Refused, what)
    }

    /// The command line is wrong by itself.
    #[must_use]
    pub fn usage(what: impl AsRef<str>) -> Self {
        Self::new(Exit::Usage, what)
    }

    /// The system failed.
    #[must_use]
    pub fn system(what: impl AsRef<str>) -> Self {
        Self::new(Exit::System, what)
    }

    /// Adds a cause.
    #[must_use]
    pub fn because(mut self, cause: impl AsRef<str>) -> Self {
        self.causes.push(shown(cause.as_ref()));
        self
    }

    /// Adds a command to try.
    #[must_use]
    pub fn try_typing(mut self, command: impl AsRef<str>) -> Self {
        let command = Remedy::Command(command.as_ref().to_owned());
        self.tries.push(Try::Remedy(command));
        self
    }

    /// Adds a command to try before all others.
    #[must_use]
    pub fn try_first(mut self, command: impl AsRef<str>) -> Self {
        let command = Remedy::Command(command.as_ref().to_owned());
        self.tries.insert(0, Try::Remedy(command));
        self
    }

    /// Puts a remedy in place of all that was to be tried.
    #[must_use]
    pub fn only_try(mut self, remedy: Remedy) -> Self {
        self.tries.clear();
        self.try_remedy(remedy)
    }

    /// Adds a remedy, to be put into the command that was typed.
    #[must_use]
    pub fn try_remedy(mut self, remedy: Remedy) -> Self {
        self.tries.push(Try::Remedy(remedy));
        self
    }

    /// Adds the same command with a flag set.
    #[must_use]
    pub fn try_flag(self, flag: &'static str, value: impl Into<String>) -> Self {
        self.try_remedy(Remedy::Flags(vec![(flag, value.into())]))
    }

    /// Adds the same command on another ledger.
    #[must_use]
    pub fn try_elsewhere(mut self, file: &'static str) -> Self {
        self.tries.push(Try::Elsewhere(file));
        self
    }

    /// Adds a command to try where none is named yet.
    #[must_use]
    pub fn or_try(self, command: impl AsRef<str>) -> Self {
        if self.tries.is_empty() {
            self.try_typing(command)
        } else {
            self
        }
    }

    /// The exit status it leads to.
    #[must_use]
    pub const fn exit(&self) -> Exit {
        self.exit
    }

    /// The whole message, wrapped at a width, with commands to try that are made from the one typed; what is to be typed
    /// or pointed at stays in one line, and a command never tries itself.
    #[must_use]
    pub fn words(&self, typed: &Typed, width: usize) -> String {
        let (mut causes, mut commands) = (self.causes.clone(), Vec::new());
        for to_try in &self.tries {
            let (advice, command) = match to_try {
                Try::Remedy(remedy) => typed.remedied(remedy),
                Try::Elsewhere(file) => (None, typed.elsewhere(file)),
            };
            causes.extend(advice.map(|advice| shown(&advice)));
            let is_again = *to_try == Try::Remedy(Remedy::Again);
            if is_again || command != format!("locule {}", typed.text()) {
                commands.push(shown(&typed.on_ledger(&command)));
            }
        }
        let mut words = wrapped(&format!("error: {}", self.what), width, "  ");
        words.push('\n');
        for (at, cause) in causes.iter().enumerate() {
            let pointer = |line: &String| line.trim().chars().all(|c| c == '^');
            let pointed_at = causes.get(at + 1).is_some_and(pointer);
            let line = format!("  {cause}");
            if pointed_at || columns(&line) <= width {
                words.push_str(&line);
            } else {
                words.push_str(&wrapped(&line, width, "  "));
            }
            words.push('\n');
        }
        for command in commands {
            words.push_str(&format!("try: {command}\n"));
        }
        words
    }

    /// The outcome of the command typed.
    #[must_use]
    pub fn outcome(&self, typed: &Typed) -> Outcome {
        Outcome {
            out: String::new(),
            err: self.words(typed, page_width()),
            exit: self.exit,
            kept: Kept::Nothing,
            json: false,
        }
    }
}

impl Failure {
    /// A day that cannot be read, typed with a flag.
    #[must_use]
    pub fn of_day(flag: &'static str, error: &DayError) -> Self {
        let mut failure = Self::usage(error.to_string());
        match error {
            DayError::Numbers { readings, .. } if !readings.is_empty() => {
                for day in readings {
                    failure = failure.try_flag(flag, day.to_string());
                }
                failure
            }
            DayError::NoSuchDay {
                last: Some(last), ..
            } => failure.try_flag(flag, last.to_string()),
            _ if flag == "--ripe-seed" => failure.try_flag(flag, "1nov"),
            _ => failure.try_flag(flag, "yesterday"),
        }
    }
}

impl From<Refusal> for Failure {
    fn from(refusal: Refusal) -> Self {
        let words = refusal.to_string();
        let mut lines = words.lines();
        let first = lines.next().unwrap_or_default();
        let mut failure = match refusal.kind() {
            Kind::Contrary => Self::usage(first),
            _ => Self::refused(first),
        };
        for line in lines {
            failure = failure.because(line);
        }
        if refusal.kind() == Kind::Implausible {
            failure = failure.because("--even-so records it all the same");
        }
        failure.try_remedy(refusal.remedy())
    }
}

impl From<DiagnosisError> for Failure {
    fn from(error: DiagnosisError) -> Self {
        let DiagnosisError::Unreadable { .. } = &error;
        Self::new(Exit::Damaged, error.to_string())
            .because("the ledger holds what no command of this program writes")
            .try_typing("locule check-ledger")
    }
}

impl From<UnreadableRow> for Failure {
    fn from(row: UnreadableRow) -> Self {
        DiagnosisError::from(row).into()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lines_are_wrapped_but_not_what_is_typed_or_pointed_at() {
        let genotype = "A/a ".repeat(12);
        let failure = Failure::refused("what went wrong here ".repeat(3).trim())
            .because(&genotype)
            .because("      ^")
            .try_typing(format!("locule expect --mother '{genotype}'"));
        let lines: Vec<String> = failure
            .words(&Typed::default(), 40)
            .lines()
            .map(str::to_owned)
            .collect();
        assert_eq!(lines[0], "error: what went wrong here what went");
        assert_eq!(lines[1], "  wrong here what went wrong here");
        assert_eq!(lines[2], format!("  {genotype}"));
        assert_eq!(lines.len(), 5);
    }
}
