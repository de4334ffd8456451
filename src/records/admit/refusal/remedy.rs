//! What to type next after a refusal, as far as the gate can know: the command line itself is the caller's.

/// What to type next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Remedy {
    /// A whole command.
    Command(String),
    /// The same command with these flags set.
    Flags(Vec<(&'static str, String)>),
    /// The same command without a flag and its value.
    Without(&'static str),
    /// The same command with another word in the place of one typed.
    Word {
        /// As typed, or as messages name it.
        typed: String,
        /// The word to put in its place.
        by: String,
        /// The command to try where the word does not stand in the command by itself.
        otherwise: String,
    },
    /// The same command without the characters that cannot be shown.
    Plain,
    /// The same command without its empty words.
    WithoutBlanks,
    /// The same command again.
    Again,
    /// Advice in words, with a command after a colon, or else the help of the same command.
    Advice(String),
    /// The help of the same command.
    Help,
}

impl Remedy {
    /// Another word, else the sight of a thing.
    pub(in crate::records::admit) fn word(typed: &str, by: &str, otherwise: String) -> Self {
        Self::Word {
            typed: typed.to_owned(),
            by: by.to_owned(),
            otherwise,
        }
    }

    /// The sight of a thing; of a tray where one of its cells is named.
    pub(in crate::records::admit) fn show(named: &str) -> Self {
        Self::Command(show(named))
    }
}

/// The command that shows a thing; of a cell its tray, for a cell may have nothing of its own.
pub(in crate::records::admit) fn show(named: &str) -> String {
    let tray = named
        .rsplit_once('-')
        .filter(|(_, cell)| cell.starts_with(|c: char| c.is_ascii_digit()));
    format!("locule show {}", tray.map_or(named, |(tray, _)| tray))
}
