//! How a run ends: its exit status and what it leaves to be said.

/// The exit statuses; `docs/exit-codes.md` lists them for users.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Done.
    Done,
    /// The request can't be carried out; nothing was written.
    Refused,
    /// The command line is wrong by itself.
    Usage,
    /// Another process is writing.
    Busy,
    /// The ledger is damaged, foreign or newer, or a check found something.
    Damaged,
    /// The system failed: disk full, input or output error.
    System,
    /// A bug in locule.
    Bug,
}

impl Exit {
    /// The number the shell sees.
    #[must_use]
    pub const fn code(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::Refused => 1,
            Self::Usage => 2,
            Self::Busy => 3,
            Self::Damaged => 4,
            Self::System => 5,
            Self::Bug => 70,
        }
    }
}

/// Whether the run changed the ledger, in case its answer cannot be shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kept {
    /// Nothing was recorded.
    Nothing,
    /// Nothing was recorded, but files were put in their place or the mark was written anew.
    Done,
    /// Recorded under this number of the history.
    Entry(i64),
}

/// What a run leaves to be said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outcome {
    /// For standard output.
    pub out: String,
    /// For standard error.
    pub err: String,
    /// The exit status.
    pub exit: Exit,
    /// Whether anything was recorded.
    pub kept: Kept,
    /// Whether `out` is JSON, which escapes strange characters its own way.
    pub json: bool,
}

impl Outcome {
    /// An answer in words for standard output, all well.
    #[must_use]
    pub fn said(out: impl Into<String>) -> Self {
        let mut out = out.into();
        if !out.is_empty() && !out.ends_with('\n') {
            out.push('\n');
        }
        Self {
            out,
            err: String::new(),
            exit: Exit::Done,
            kept: Kept::Nothing,
            json: false,
        }
    }

    /// The same outcome, as of an entry of the history.
    #[must_use]
    pub const fn kept(mut self, entry: i64) -> Self {
        self.kept = Kept::Entry(entry);
        self
    }

    /// The same outcome, as of something done beside the history.
    #[must_use]
    pub const fn done(mut self) -> Self {
        self.kept = Kept::Done;
        self
    }

    /// The same outcome with another exit status.
    #[must_use]
    pub const fn ending(mut self, exit: Exit) -> Self {
        self.exit = exit;
        self
    }

    /// The same outcome with something said before it on standard error.
    #[must_use]
    pub fn after(mut self, said: &str) -> Self {
        self.err.insert_str(0, said);
        self
    }
}
