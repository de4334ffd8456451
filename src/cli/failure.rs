//! How a command fails: what, why, and a command to type next.
//!
//! Every error of a lower room becomes a [`Failure`] here or beside the command that met it.

use super::exit::{Exit, Kept, Outcome};
use crate::report::text::shown;

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

    /// The whole message.
    #[must_use]
    pub fn words(&self) -> String {
        let mut words = format!("error: {}\n", self.what);
        for cause in &self.causes {
            words.push_str(&format!("  {cause}\n"));
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
            err: failure.words(),
            exit: failure.exit,
            kept: Kept::Nothing,
            json: false,
        }
    }
}

impl From<crate::records::day::DayError> for Failure {
    fn from(error: crate::records::day::DayError) -> Self {
        let failure = Self::usage(error.to_string());
        match error {
            crate::records::day::DayError::Slashes { example, .. } => {
                failure.try_typing(format!("--on {example}"))
            }
            _ => failure.try_typing("--on yesterday"),
        }
    }
}
