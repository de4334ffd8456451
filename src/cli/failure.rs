//! How a command fails: what, why, and a command to type next.
//!
//! Every error of a lower room becomes a [`Failure`] here or beside the command that met it.

use super::exit::{Exit, Kept, Outcome};
use super::session::page_width;
use crate::diagnosis::DiagnosisError;
use crate::records::admit::{Kind, Refusal};
use crate::records::day::DayError;
use crate::records::genes::UnreadableRow;
use crate::report::text::{columns, shown, wrapped};
use crate::store::{Class, StoreError};

/// A failure in words: what failed with the value and the place, the causes, and what to try.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failure {
    exit: Exit,
    what: String,
    causes: Vec<String>,
    tries: Vec<String>,
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
        self.tries.push(shown(command.as_ref()));
        self
    }

    /// The exit status it leads to.
    #[must_use]
    pub const fn exit(&self) -> Exit {
        self.exit
    }

    /// The whole message, wrapped at a width; what is to be typed or pointed at stays in one line.
    #[must_use]
    pub fn words(&self, width: usize) -> String {
        let mut words = wrapped(&format!("error: {}", self.what), width, "  ");
        words.push('\n');
        for (at, cause) in self.causes.iter().enumerate() {
            let pointer = |line: &String| line.trim().chars().all(|c| c == '^');
            let pointed_at = self.causes.get(at + 1).is_some_and(pointer);
            let line = format!("  {cause}");
            if pointed_at || columns(&line) <= width {
                words.push_str(&line);
            } else {
                words.push_str(&wrapped(&line, width, "  "));
            }
            words.push('\n');
        }
        for command in &self.tries {
            words.push_str(&format!("try: {command}\n"));
        }
        words
    }
}

impl From<Failure> for Outcome {
    fn from(failure: Failure) -> Self {
        Self {
            out: String::new(),
            err: failure.words(page_width()),
            exit: failure.exit,
            kept: Kept::Nothing,
            json: false,
        }
    }
}

impl From<DayError> for Failure {
    fn from(error: DayError) -> Self {
        let failure = Self::usage(error.to_string());
        match error {
            DayError::Slashes { example, .. } => failure.try_typing(format!("--on {example}")),
            _ => failure.try_typing("--on yesterday"),
        }
    }
}

impl From<Refusal> for Failure {
    fn from(refusal: Refusal) -> Self {
        let words = refusal.to_string();
        let mut lines = words.lines();
        let mut failure = Self::refused(lines.next().unwrap_or_default());
        for line in lines {
            failure = failure.because(line);
        }
        if refusal.kind() == Kind::Implausible {
            failure = failure.because("--even-so records it all the same");
        }
        failure.try_typing(refusal.hint())
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

impl From<StoreError> for Failure {
    fn from(error: StoreError) -> Self {
        let exit = match error.class() {
            Class::Refused => Exit::Refused,
            Class::Busy => Exit::Busy,
            Class::Damaged => Exit::Damaged,
            Class::System => Exit::System,
        };
        let mut failure = Self::new(exit, error.to_string());
        for cause in error.causes() {
            failure = failure.because(cause);
        }
        match error.hint() {
            Some(command) => failure.try_typing(command),
            None => failure,
        }
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
        let lines: Vec<String> = failure.words(40).lines().map(str::to_owned).collect();
        assert_eq!(lines[0], "error: what went wrong here what went");
        assert_eq!(lines[1], "  wrong here what went wrong here");
        assert_eq!(lines[2], format!("  {genotype}"));
        assert_eq!(lines.len(), 5);
    }
}
