//! The answers of the commands that keep the ledger itself: `check-ledger`, `export`, `import`.

use serde::Serialize;

use super::numbers::several;
use super::text::{shown, wrapped};
use super::{Answer, Page};

/// Something that is not as it was written.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FindingLine {
    /// Where.
    pub place: String,
    /// What is wrong there.
    pub what: String,
}

/// What helps where something was found.
const MENDS: &str = "Put a copy back with 'locule restore', or build the tables anew from the history with \
                     'locule check-ledger --rebuild new.db'.";

/// What helps where the file is whole and only at odds with what this computer knows.
const CHOICES: &str = "Nothing in it is damaged. Put a copy that holds what is known back with 'locule restore FILE', \
                       or take the file as it stands with 'locule accept'.";

/// How many findings are told in words.
const SHOWN: usize = 20;

/// What `check-ledger` found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CheckAnswer {
    /// The file.
    pub ledger: String,
    /// Its id.
    pub ledger_id: String,
    /// Its fingerprint.
    pub fingerprint: String,
    /// How many entries the history has.
    pub entries: i64,
    /// How the file stands to what this computer knows of it: `as-written`, `new`, `same`, `grown`, `behind`,
    /// `diverged`, `another-ledger`, `copy` where a copy was checked in its place, `none` where no mark could be made.
    pub mark: &'static str,
    /// Whether nothing was found.
    pub sound: bool,
    /// What was found.
    pub findings: Vec<FindingLine>,
}

impl Answer for CheckAnswer {
    fn words(&self, page: Page) -> String {
        let of = format!(
            "{}: {}, fingerprint {}.",
            shown(&self.ledger),
            several(self.entries.unsigned_abs(), "entry", "entries"),
            self.fingerprint
        );
        let mut said = vec![wrapped(&of, page.width, "")];
        if self.sound {
            said.push("All is well: the file, the history and every record agree.".to_owned());
            said.push(wrapped(self.mark_in_words(), page.width, ""));
        } else {
            said.push(format!(
                "Found: {}.",
                several(self.findings.len() as u64, "fault", "faults")
            ));
        }
        for finding in self.findings.iter().take(SHOWN) {
            let line = format!("  {}: {}", shown(&finding.place), shown(&finding.what));
            said.push(wrapped(&line, page.width, "  "));
        }
        if self.findings.len() > SHOWN {
            let more = self.findings.len() - SHOWN;
            said.push(format!("  and {more} more; 'check-ledger --json' has all."));
        }
        if !self.sound {
            let helps = if self.is_whole() { CHOICES } else { MENDS };
            said.push(wrapped(helps, page.width, "  "));
        }
        said.join("\n")
    }
}

impl CheckAnswer {
    /// Whether all that was found is that it contradicts what this computer knows.
    fn is_whole(&self) -> bool {
        let at_odds = matches!(self.mark, "behind" | "diverged" | "another-ledger");
        at_odds && self.findings.len() == 1
    }

    fn mark_in_words(&self) -> &'static str {
        match self.mark {
            "as-written" => "It is as this computer last left it, byte for byte.",
            "same" => "It holds what this computer knows of it, but was written anew elsewhere.",
            "grown" => "It holds what this computer knows of it, and has grown elsewhere since.",
            "copy" => {
                "What was checked is a copy: the file itself is of an older version, or could not be put in order."
            }
            "none" => {
                "This computer has no mark of it and could not make one: the state folder cannot be written."
            }
            _ => "This computer had no mark of it, and has one now.",
        }
    }
}

/// What `export` wrote to a file, or `import` brought in.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Moved {
    /// What was done: `exported`, `made`, `replaced`, `unchanged`, `would be made`, `would be replaced`.
    pub done: &'static str,
    /// The file written, or the ledger imported into.
    pub file: String,
    /// How many entries.
    pub entries: i64,
    /// The fingerprint of the ledger.
    pub fingerprint: String,
}

impl Answer for Moved {
    fn words(&self, page: Page) -> String {
        let entries = several(self.entries.unsigned_abs(), "entry", "entries");
        let file = shown(&self.file);
        let of = format!("{entries}, fingerprint {}", self.fingerprint);
        let said = match self.done {
            "exported" => format!("Exported to {file}: {of}."),
            "unchanged" => {
                format!("{file} is that very ledger already ({of}); nothing was changed.")
            }
            "would be made" => format!("{file} would be made: {of}. Nothing was changed."),
            "would be replaced" => format!(
                "{file} holds nothing but its beginning and would become this one: {of}. Nothing was changed."
            ),
            _ => format!("Imported into {file}: {of}."),
        };
        wrapped(&said, page.width, "")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(mark: &'static str, count: usize) -> String {
        let finding = |number| FindingLine {
            place: format!("page {number}"),
            what: "it is spoilt".to_owned(),
        };
        let answer = CheckAnswer {
            ledger: "ledger.db".to_owned(),
            ledger_id: "00ff".to_owned(),
            fingerprint: "38e9996b".to_owned(),
            entries: 63,
            mark,
            sound: false,
            findings: (1..=count).map(finding).collect(),
        };
        answer.words(Page { width: 80 })
    }

    #[test]
    fn of_many_findings_the_first_are_told_and_the_rest_counted() {
        let many = found("same", 100);
        assert!(many.contains("Found: 100 faults.") && many.contains("  page 20: it is spoilt"));
        assert!(
            !many.contains("page 21") && many.contains("  and 80 more; "),
            "{many}"
        );
        assert!(!found("same", 20).contains("more;"));
    }

    #[test]
    fn a_whole_file_at_odds_is_not_to_be_built_anew() {
        for mark in ["behind", "diverged", "another-ledger"] {
            let said = found(mark, 1);
            assert!(
                !said.contains("--rebuild") && said.contains("'locule accept'"),
                "{said}"
            );
        }
        assert!(found("behind", 2).contains("--rebuild"));
    }
}
