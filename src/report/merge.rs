//! The answer of an `import` into a ledger that holds records: what came, or would come.

use serde::Serialize;

use super::consequences::Consequences;
use super::numbers::several;
use super::text::{shown, wrapped};
use super::{Answer, Page};
use crate::records::merge::Outlook;
use crate::records::rows::Table;

/// Names of one list that are shown at most; JSON has all.
const SHOWN: usize = 12;

/// The tables a grower counts, and what their rows are called.
const COUNTED: [(Table, &str, &str); 15] = [
    (Table::Plant, "plant", "plants"),
    (Table::Cross, "cross", "crosses"),
    (Table::Pollination, "pollination", "pollinations"),
    (Table::Lot, "lot", "lots"),
    (Table::Batch, "tray", "trays"),
    (Table::Reading, "reading", "readings"),
    (Table::Tally, "tally", "tallies"),
    (Table::Grade, "grade", "grades"),
    (Table::Fate, "fate", "fates"),
    (Table::Care, "treatment", "treatments"),
    (Table::Measure, "measure", "measures"),
    (Table::Remark, "remark", "remarks"),
    (Table::Photo, "picture", "pictures"),
    (Table::Trait, "trait", "traits"),
    (Table::Locus, "locus", "loci"),
];

/// Whether it was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Stage {
    /// It was only looked at.
    Foreseen {
        /// The command that would bring it in.
        next: Option<String>,
    },
    /// It was recorded.
    Done {
        /// The entry.
        entry: i64,
    },
}

/// How many rows of a table.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
struct Count {
    table: &'static str,
    rows: usize,
}

/// A code there and here.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
struct Renamed {
    thing: &'static str,
    there: String,
    here: String,
}

/// What the two ledgers say of one thing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
struct Both {
    what: String,
    here: String,
    there: String,
}

/// What an import into a ledger that holds records did, or would do.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MergeAnswer {
    /// Whether it was recorded.
    merged: bool,
    /// The entry, where it was.
    entry: Option<i64>,
    /// The id of the other ledger.
    from: String,
    /// How many entries that one has.
    their_entries: i64,
    prefix: String,
    coming: Vec<Count>,
    same: Vec<Count>,
    codes: Vec<Renamed>,
    clashes: Vec<String>,
    unfit: Vec<String>,
    gains: Vec<String>,
    stays: Vec<Both>,
    contradictions: Vec<Both>,
    next: Option<String>,
    /// What changes in today's answers, where it was recorded.
    answers: Option<Consequences>,
}

impl MergeAnswer {
    /// The same answer with what changes in today's answers.
    #[must_use]
    pub fn with(self, answers: Consequences) -> Self {
        Self {
            answers: Some(answers),
            ..self
        }
    }

    /// From what was seen of both.
    #[must_use]
    pub fn new(stage: Stage, from: &str, entries: i64, prefix: &str, outlook: &Outlook) -> Self {
        let counts = |list: &[(Table, usize)]| -> Vec<Count> {
            let count = |(table, rows): &(Table, usize)| Count {
                table: table.name(),
                rows: *rows,
            };
            list.iter().map(count).collect()
        };
        let both = |what: &str, here: &str, there: &str| Both {
            what: what.to_owned(),
            here: here.to_owned(),
            there: there.to_owned(),
        };
        let renamed = outlook.names.iter().map(|name| Renamed {
            thing: name.thing.word(),
            there: name.there.clone(),
            here: name.here.clone(),
        });
        let (entry, next) = match stage {
            Stage::Foreseen { next } => (None, next),
            Stage::Done { entry } => (Some(entry), None),
        };
        Self {
            merged: entry.is_some(),
            entry,
            from: from.to_owned(),
            their_entries: entries,
            prefix: prefix.to_owned(),
            coming: counts(&outlook.coming),
            same: counts(&outlook.same),
            codes: renamed.collect(),
            clashes: outlook
                .clashes
                .iter()
                .map(|clash| clash.code.clone())
                .collect(),
            unfit: outlook
                .unfit
                .iter()
                .map(|unfit| unfit.why.to_string())
                .collect(),
            gains: outlook.gains.clone(),
            stays: (outlook.differing.iter())
                .map(|it| both(&it.what, &it.here, &it.there))
                .collect(),
            contradictions: (outlook.contradictions.iter())
                .map(|it| both(&it.what, &it.here, &it.there))
                .collect(),
            next,
            answers: None,
        }
    }

    fn first_line(&self) -> String {
        let of = ledger_words(&self.from, self.their_entries);
        match self.entry {
            Some(entry) => format!("Entry {entry}: the records of {of} were brought in."),
            None => format!("Of {of} this would come; nothing was changed."),
        }
    }

    fn codes_line(&self) -> String {
        let names = self.codes.iter().filter(|name| name.there != name.here);
        listed(names.map(|name| format!("{} as {}", name.there, name.here)))
    }

    fn lines(&self) -> Vec<(&'static str, String)> {
        let differ = |both: &Both| format!("{}: {} ({} there)", both.what, both.here, both.there);
        let contradict =
            |both: &Both| format!("{} - here {}; there {}", both.what, both.here, both.there);
        vec![
            ("comes", counted(|table| rows_of(&self.coming, table))),
            ("in both", counted(|table| rows_of(&self.same, table))),
            ("is called", self.codes_line()),
            ("gains", listed(self.gains.iter().cloned())),
            ("stays", listed(self.stays.iter().map(differ))),
            ("clashes", listed(self.clashes.iter().cloned())),
            ("no code", listed(self.unfit.iter().cloned())),
            (
                "contradicts",
                listed(self.contradictions.iter().map(contradict)),
            ),
        ]
    }
}

/// `the ledger 1f2e3d4c (10 entries)`.
pub(super) fn ledger_words(id: &str, entries: i64) -> String {
    let id: String = id.chars().take(8).collect();
    let entries = several(entries.unsigned_abs(), "entry", "entries");
    format!("the ledger {id} ({entries})")
}

fn rows_of(counts: &[Count], table: Table) -> usize {
    let count = counts.iter().find(|count| count.table == table.name());
    count.map_or(0, |count| count.rows)
}

/// `11 plants, 3 crosses`; nothing for tables that nobody counts.
pub(super) fn counted(rows: impl Fn(Table) -> usize) -> String {
    let words = COUNTED
        .iter()
        .filter_map(|(table, one, many)| match rows(*table) {
            0 => None,
            n => Some(several(n as u64, one, many)),
        });
    words.collect::<Vec<_>>().join(", ")
}

fn listed(words: impl Iterator<Item = String>) -> String {
    let words: Vec<String> = words.collect();
    let mut said = words[..words.len().min(SHOWN)].join(", ");
    if words.len() > SHOWN {
        said.push_str(&format!(" and {} more", words.len() - SHOWN));
    }
    said
}

impl Answer for MergeAnswer {
    fn words(&self, page: Page) -> String {
        let mut said = vec![wrapped(&self.first_line(), page.width, "")];
        for (head, line) in self.lines() {
            if !line.is_empty() {
                let room = page.width.saturating_sub(15).max(20);
                let body = wrapped(&shown(&line), room, "").replace('\n', "\n               ");
                said.push(format!("  {head:11}  {body}"));
            }
        }
        if let Some(answers) = &self.answers {
            said.push(answers.words(page.width));
        }
        if let Some(next) = &self.next {
            said.push(format!("Next: {}", shown(next)));
        }
        if let Some(entry) = self.entry {
            said.push(format!("'locule undo {entry}' takes all of it back."));
        }
        said.join("\n")
    }
}
