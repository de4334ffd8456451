//! What an error of the store leaves behind and what helps against it: lines to read, and a command to type.
//!
//! No word that a person typed becomes part of a command here; entries are named by number. The command line
//! shows both.

use super::error::{SHOWN, StoreError, list};

impl StoreError {
    /// What else there is to know, a line each: what became of the ledger, and what to do.
    #[must_use]
    pub fn causes(&self) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        if let Self::Place(place) = self {
            return place.causes();
        }
        if let Self::Discord { leaves, .. } = self {
            lines.extend(leaves.iter().take(SHOWN).cloned());
        }
        if let Self::JournalUnfit { aside, .. } = self {
            lines.push(format!("copies of both lie in {}", aside.display()));
        }
        if let Self::WouldLose {
            present_only,
            copy_only,
            ..
        } = self
        {
            lines.push(format!("only in the ledger: {}", list(present_only)));
            if !copy_only.is_empty() {
                lines.push(format!("only in the copy: {}", list(copy_only)));
            }
        }
        if let Self::Merge { refusal, .. } = self {
            lines.extend(refusal.causes());
        }
        lines.extend(self.left_as_it_is().map(str::to_owned));
        lines.extend(self.remedy().map(str::to_owned));
        lines.extend(std::error::Error::source(self).map(ToString::to_string));
        lines
    }

    /// What became of the ledger, where the first line does not say so.
    const fn left_as_it_is(&self) -> Option<&'static str> {
        match self {
            Self::Missing { .. }
            | Self::Exists { .. }
            | Self::Place(_)
            | Self::State { .. }
            | Self::FolderMissing { .. }
            | Self::NothingToUndo { .. }
            | Self::Recorded { .. }
            | Self::NotRecorded { .. }
            | Self::Unknown { .. } => None,
            Self::Empty { .. }
            | Self::NotADatabase { .. }
            | Self::Truncated { .. }
            | Self::Damaged { .. }
            | Self::BeyondCheck { .. }
            | Self::Foreign { .. }
            | Self::JournalUnfit { .. }
            | Self::Newer { .. }
            | Self::Older { .. }
            | Self::NotUpgraded { .. } => Some("it was left as it is"),
            Self::ImportLine { .. } => Some("nothing was imported"),
            _ => Some("nothing was changed"),
        }
    }

    /// What to do, in words.
    const fn remedy(&self) -> Option<&'static str> {
        Some(match self {
            Self::Exists { .. } => "another file can be named with --ledger",
            Self::FolderMissing { .. } => {
                "bring the folder back (is its disk there?), or name another file with --ledger"
            }
            Self::State { .. } => {
                "make it writable, with room on its disk, or name another with LOCULE_STATE"
            }
            Self::Permission { .. } => "change its permissions, or name another file with --ledger",
            Self::ReadOnly { .. } => {
                "make both writable, or copy the ledger elsewhere and name the copy with --ledger"
            }
            Self::InterruptedWrite { .. } => "make both writable and repeat the command",
            Self::WouldLose { .. } => {
                "--force puts the copy in its place all the same; the ledger as it is now is then kept in the state folder"
            }
            Self::NotReplaced { .. } => {
                "--force puts the copy in its place all the same; what is there now is then kept in the state folder"
            }
            Self::Itself { .. } | Self::BiggerCopy { .. } => "name another file",
            Self::NoCopy { .. } => {
                "make room in the state folder, or name another with LOCULE_STATE"
            }
            Self::Busy { .. } => "wait for it to end and repeat the command",
            Self::Stale { .. } => "repeat the command",
            Self::Full { .. } => "free some space and repeat the command",
            Self::Empty { .. } => "let the sync finish, or put a copy back: see which there are",
            Self::NotADatabase { .. } | Self::Foreign { .. } => {
                "name the ledger with --ledger, or make a new one beside it"
            }
            Self::Newer { .. } => "use a newer locule for it, or make a new ledger beside it",
            Self::BeyondCheck { .. } => {
                "put a copy back, or build it anew from what can be read of its history"
            }
            Self::Truncated { .. } | Self::NotUpgraded { .. } => {
                "put a copy back, or an export as a new ledger: see which copies there are"
            }
            Self::Damaged { .. } => "see all of it, then put a copy back or build it anew",
            Self::JournalUnfit { .. } => "put a whole copy of the ledger in its place",
            Self::AtOdds { copy: None, .. } => {
                "questions are answered; no copy kept here holds what it lacks: to record again, put a backup of your own in its place ('locule restore FILE'), or take this one as it stands"
            }
            Self::AtOdds { .. } => {
                "questions are answered; to record again, put the newer file in its place, or take this one as it stands"
            }
            Self::Sibling { .. } => {
                "close that program; move the file away only when you know what it is"
            }
            Self::Links { .. } => "copy it to a file of its own and name that with --ledger",
            Self::BuiltUpon { .. } => "undo those first, the last one first",
            Self::Discord { .. } => "see what was recorded since",
            Self::CodeTaken { .. } => "undo that entry first, or choose another code",
            Self::ImportLine { .. } => "export it again where it came from",
            Self::OtherState { .. } => {
                "copies of one ledger are not brought together; look at it in a new file"
            }
            Self::AlreadyImported { .. } => {
                "to bring in another state of it, undo that entry first"
            }
            Self::SharedRecords { .. } => "they would stand twice",
            Self::Older { .. } => "the next command that records upgrades it",
            Self::Recorded { .. } => "do not repeat the command; look after the disk",
            Self::NotRecorded { .. } | Self::Io { .. } => {
                "look after the disk, then repeat the command"
            }
            Self::Unknown { .. } => "look whether it is there before repeating the command",
            _ => return None,
        })
    }

    /// A command that helps, as it can be typed; nothing where the same command is to be repeated.
    #[must_use]
    pub fn hint(&self) -> Option<String> {
        let command = match self {
            Self::Busy { .. }
            | Self::Stale { .. }
            | Self::Full { .. }
            | Self::State { .. }
            | Self::NoCopy { .. } => return None,
            Self::Missing { .. } => "locule init",
            Self::AlreadyUndone { .. } => "locule redo",
            Self::AtOdds { .. } => "locule accept",
            Self::JournalUnfit { .. } => "locule restore",
            Self::BuiltUpon { later, .. } => {
                return later
                    .last()
                    .map(|last| format!("locule undo {}", last.entry));
            }
            Self::CodeTaken { holder, .. } => return Some(format!("locule undo {}", holder.entry)),
            Self::Exists { .. }
            | Self::FolderMissing { .. }
            | Self::NotADatabase { .. }
            | Self::Foreign { .. }
            | Self::Newer { .. } => "locule --ledger other.db init",
            Self::Permission { .. }
            | Self::ReadOnly { .. }
            | Self::InterruptedWrite { .. }
            | Self::Links { .. }
            | Self::Sibling { .. } => "locule --ledger copy.db check-ledger",
            Self::Empty { .. }
            | Self::Truncated { .. }
            | Self::BeyondCheck { .. }
            | Self::NotUpgraded { .. } => "locule restore",
            Self::OtherState { .. } | Self::SharedRecords { .. } => {
                "locule --ledger new.db import season.jsonl"
            }
            Self::AlreadyImported { entry, .. } => {
                return Some(format!("locule undo {}", entry.entry));
            }
            Self::ImportLine { .. } => "locule export season.jsonl",
            Self::Moved { .. }
            | Self::Damaged { .. }
            | Self::NotRecorded { .. }
            | Self::Io { .. }
            | Self::Sqlite { .. } => "locule check-ledger",
            _ => "locule history",
        };
        Some(command.to_owned())
    }
}
