//! The answers of `backup`, `restore` and `check-ledger --rebuild`.

use std::iter;

use serde::Serialize;

use super::numbers::several;
use super::table::Table;
use super::text::{listed, shown, wrapped};
use super::{Answer, Page};

/// How many entries a sentence names.
const NAMED: usize = 20;

/// An entry by its number and command.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct EntryName {
    /// Its number.
    pub entry: i64,
    /// What was typed.
    pub command: String,
}

impl EntryName {
    fn words(&self) -> String {
        format!("{} ({})", self.entry, shown(&self.command))
    }
}

/// What `backup` did.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BackupAnswer {
    /// The copy.
    pub file: String,
    /// Its last entry.
    pub entries: i64,
    /// Its fingerprint.
    pub fingerprint: String,
    /// How many bytes it has.
    pub bytes: u64,
    /// Whether it was written now; else it was there already.
    pub is_new: bool,
}

impl Answer for BackupAnswer {
    fn words(&self, page: Page) -> String {
        let of = format!(
            "{}, {}",
            state(self.entries, &self.fingerprint),
            size(self.bytes)
        );
        let file = shown(&self.file);
        let said = if self.is_new {
            format!("Copied to {file}: {of}. The copy was checked in full.")
        } else {
            format!("{file} is that very copy already: {of}; nothing was written.")
        };
        wrapped(&said, page.width, "")
    }
}

/// A copy that was kept by itself.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CopyLine {
    /// The file.
    pub file: String,
    /// The day it was made.
    pub day: String,
    /// Its last entry.
    pub entries: i64,
    /// Its fingerprint.
    pub fingerprint: String,
    /// How many bytes it has.
    pub bytes: u64,
}

/// The copies that were kept of a ledger by themselves.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CopiesAnswer {
    /// The ledger.
    pub ledger: String,
    /// The copies, oldest first.
    pub copies: Vec<CopyLine>,
    /// The last entry known to this computer, where neither the ledger nor any copy holds it.
    pub lost: Option<i64>,
    /// Whether that is so and no copy holds more than the ledger as it stands.
    pub is_ledger_best: bool,
}

impl CopiesAnswer {
    /// What helps where no copy holds all that is known.
    fn advice(&self) -> Option<String> {
        let lost = self.lost?;
        let accept = match self.is_ledger_best {
            true => format!(" No copy holds more than the ledger as it stands. {ACCEPT}"),
            false => String::new(),
        };
        Some(format!(
            "Entry {lost}, the last that this computer knew, is neither in the ledger nor in a copy kept here. {OWN}{accept}"
        ))
    }
}

/// Where to look for what no copy holds.
const OWN: &str = "Look for a backup of your own: 'locule restore FILE' puts it back.";
/// What is left where there is none.
const ACCEPT: &str = "'locule accept' takes it so.";

impl Answer for CopiesAnswer {
    fn words(&self, page: Page) -> String {
        let Some(last) = self.copies.last() else {
            let said = format!(
                "No copy of {} was kept by itself yet. 'locule backup' makes one.",
                shown(&self.ledger)
            );
            let said: Vec<String> = iter::once(said).chain(self.advice()).collect();
            return sentences(&said, page);
        };
        let mut table = Table::new(&["day", ">entries", "fingerprint", ">size", "file"]);
        for copy in &self.copies {
            let name = copy.file.rsplit(['/', '\\']).next().unwrap_or_default();
            table.row([
                copy.day.clone(),
                copy.entries.to_string(),
                copy.fingerprint.clone(),
                size(copy.bytes),
                name.to_owned(),
            ]);
        }
        let name = last.file.rsplit(['/', '\\']).next().unwrap_or_default();
        let folder = last.file.strip_suffix(name).unwrap_or(&last.file);
        let latest = match self.is_ledger_best {
            true => "",
            false => "; 'locule restore --latest' puts the newest back",
        };
        let said = format!("They lie in {}{latest}.", shown(folder));
        let said: Vec<String> = iter::once(said).chain(self.advice()).collect();
        format!("{}\n\n{}", table.text(page), sentences(&said, page))
    }
}

/// What `restore` did.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RestoreAnswer {
    /// The ledger.
    pub ledger: String,
    /// The copy.
    pub copy: String,
    /// The ledger's last entry.
    pub entries: i64,
    /// The ledger's fingerprint.
    pub fingerprint: String,
    /// The folder in which the file that stood there lies now.
    pub aside: Option<String>,
    /// The entries that were in that file alone.
    pub dropped: Vec<EntryName>,
    /// Whether all of that file could be read.
    pub all_read: bool,
    /// Whether anything was changed.
    pub is_changed: bool,
    /// The last entry that this computer knew.
    pub known: Option<i64>,
    /// The entries known to this computer that are neither in the copy nor among those dropped.
    pub missing: Vec<i64>,
}

impl RestoreAnswer {
    /// What this computer knew beyond the copy.
    fn lacking(&self) -> Option<String> {
        let known = self.known.filter(|_| !self.missing.is_empty())?;
        let is = if self.missing.len() == 1 { "is" } else { "are" };
        Some(format!(
            "This computer knew entries up to {known}; {} {is} not in this copy.",
            runs(&self.missing)
        ))
    }
}

/// Numbers in order, three and more that follow each other as `5 to 9`.
fn runs(numbers: &[i64]) -> String {
    let words: Vec<String> = numbers
        .chunk_by(|one, next| one + 1 == *next)
        .flat_map(|run| match run {
            [first, .., last] if run.len() > 2 => vec![format!("{first} to {last}")],
            few => few.iter().map(i64::to_string).collect(),
        })
        .collect();
    listed(&words, "and")
}

impl Answer for RestoreAnswer {
    fn words(&self, page: Page) -> String {
        let of = state(self.entries, &self.fingerprint);
        let (ledger, copy) = (shown(&self.ledger), shown(&self.copy));
        if !self.is_changed {
            let said = format!("{ledger} is that very copy already ({of}); nothing was changed.");
            let lacking = self.lacking();
            let helps = lacking.is_some().then(|| format!("{OWN} {ACCEPT}"));
            let said: Vec<String> = iter::once(said).chain(lacking).chain(helps).collect();
            return paragraphs(&said, page);
        }
        let mut said = vec![format!("{ledger} is now as in {copy}: {of}.")];
        if let Some(aside) = &self.aside {
            let aside = shown(aside);
            said.push(format!("What stood there before lies in {aside}."));
        }
        if !self.dropped.is_empty() {
            let dropped = named(&self.dropped);
            said.push(format!(
                "Only there, and no longer in the ledger: {dropped}."
            ));
        }
        if !self.all_read {
            said.push("Not all of it could be read, so it may have held more.".to_owned());
        }
        said.extend(self.lacking());
        paragraphs(&said, page)
    }
}

/// What `check-ledger --rebuild` did.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RebuildAnswer {
    /// The ledger whose history was played again.
    pub ledger: String,
    /// The new ledger.
    pub file: String,
    /// Its last entry.
    pub entries: i64,
    /// Its fingerprint.
    pub fingerprint: String,
    /// Where the history breaks; nothing where all of it held.
    pub broken: Option<String>,
    /// The entries from there on that can still be read.
    pub lost: Vec<EntryName>,
}

impl Answer for RebuildAnswer {
    fn words(&self, page: Page) -> String {
        let mut said = vec![format!(
            "Built {} from the history of {}: {}.",
            shown(&self.file),
            shown(&self.ledger),
            state(self.entries, &self.fingerprint)
        )];
        match &self.broken {
            None => said.push("All of the history holds: no entry is missing.".to_owned()),
            Some(broken) => {
                said.push(format!(
                    "The history breaks after entry {}: {}.",
                    self.entries,
                    shown(broken)
                ));
                said.push(if self.lost.is_empty() {
                    "No entry after it can be read.".to_owned()
                } else {
                    let all: Vec<String> = self.lost.iter().map(EntryName::words).collect();
                    format!(
                        "Still to be read, and to be typed again: {}.",
                        listed(&all, "and")
                    )
                });
            }
        }
        paragraphs(&said, page)
    }
}

fn sentences(said: &[String], page: Page) -> String {
    let lines: Vec<String> = said
        .iter()
        .map(|line| wrapped(line, page.width, ""))
        .collect();
    lines.join("\n")
}

fn paragraphs(said: &[String], page: Page) -> String {
    let lines: Vec<String> = said
        .iter()
        .map(|line| wrapped(line, page.width, "  "))
        .collect();
    lines.join("\n")
}

fn state(entries: i64, fingerprint: &str) -> String {
    let entries = several(entries.unsigned_abs(), "entry", "entries");
    format!("{entries}, fingerprint {fingerprint}")
}

/// The first entries by number and command, and how many more there are.
fn named(entries: &[EntryName]) -> String {
    let few = &entries[..entries.len().min(NAMED)];
    let mut words: Vec<String> = few.iter().map(EntryName::words).collect();
    if entries.len() > NAMED {
        words.push(format!("{} more", entries.len() - NAMED));
    }
    listed(&words, "and")
}

/// Bytes as a person reads them: thousands to a kB.
fn size(bytes: u64) -> String {
    match bytes {
        0..1_000 => format!("{bytes} bytes"),
        1_000..1_000_000 => format!("{} kB", bytes.div_ceil(1_000)),
        _ => {
            let tenths = bytes.div_ceil(100_000);
            format!("{}.{} MB", tenths / 10, tenths % 10)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_that_follow_each_other_are_said_in_one() {
        assert_eq!(runs(&[65]), "65");
        assert_eq!(runs(&[65, 66]), "65 and 66");
        assert_eq!(runs(&[5, 7, 8, 9, 12]), "5, 7 to 9 and 12");
    }

    #[test]
    fn what_is_to_be_typed_again_is_listed_to_the_end() {
        let lost = (5..=44).map(|entry| EntryName {
            entry,
            command: format!("note NL 'day {entry}'"),
        });
        let answer = RebuildAnswer {
            ledger: "ledger.db".to_owned(),
            file: "built.db".to_owned(),
            entries: 4,
            fingerprint: "38e9996b".to_owned(),
            broken: Some("change 9: its hash does not hold".to_owned()),
            lost: lost.collect(),
        };
        let words = answer.words(Page { width: 500 });
        let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
        for entry in 5..=44 {
            assert!(words.contains(&format!("{entry} (note NL 'day {entry}')")));
        }
        assert!(!words.contains("more"), "{words}");
    }

    #[test]
    fn sizes_are_rounded_up_to_what_a_person_reads() {
        for (bytes, words) in [
            (999, "999 bytes"),
            (1_000, "1 kB"),
            (159_744, "160 kB"),
            (999_999, "1000 kB"),
            (1_000_000, "1.0 MB"),
            (2_949_121, "3.0 MB"),
        ] {
            assert_eq!(size(bytes), words);
        }
    }
}
