//! What bringing another ledger's records in would do, as a person is shown it beforehand.

use crate::records::code::CodeError;
use crate::records::rows::{Table, Thing};

/// What would come, what both have, what clashes and what stays as it is here.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Outlook {
    /// How many rows of each table come.
    pub coming: Vec<(Table, usize)>,
    /// How many rows of each table are taken as rows that are here.
    pub same: Vec<(Table, usize)>,
    /// The codes that come, with the names they get.
    pub names: Vec<NewName>,
    /// Codes that come and would be those of something here.
    pub clashes: Vec<Clash>,
    /// Codes that would be none any more.
    pub unfit: Vec<Unfit>,
    /// What loci and traits that both have gain, in words.
    pub gains: Vec<String>,
    /// What differs and stays as it is here.
    pub differing: Vec<Differing>,
    /// What cannot both be so.
    pub contradictions: Vec<Contradiction>,
}

impl Outlook {
    /// Whether all of it can come.
    #[must_use]
    pub const fn fits(&self) -> bool {
        self.clashes.is_empty() && self.unfit.is_empty() && self.contradictions.is_empty()
    }

    /// How many rows of a table come.
    #[must_use]
    pub fn coming_of(&self, table: Table) -> usize {
        count(&self.coming, table)
    }

    /// How many rows of a table are in both.
    #[must_use]
    pub fn same_of(&self, table: Table) -> usize {
        count(&self.same, table)
    }
}

fn count(list: &[(Table, usize)], table: Table) -> usize {
    let found = list.iter().find(|(of, _)| *of == table);
    found.map_or(0, |(_, n)| *n)
}

/// A code that comes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewName {
    /// What it names.
    pub thing: Thing,
    /// What it is there.
    pub there: String,
    /// What it becomes here.
    pub here: String,
}

/// A code that is taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Clash {
    /// The code, as it would be here.
    pub code: String,
    /// What it names there.
    pub there: Thing,
    /// What it names here.
    pub here: Thing,
}

/// A code that is none with the prefix before it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unfit {
    /// What it is there.
    pub there: String,
    /// What is wrong with the new one.
    pub why: CodeError,
}

/// Something both say differently, without harm: what is here stays.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Differing {
    /// What.
    pub what: String,
    /// What is said here.
    pub here: String,
    /// What is said there.
    pub there: String,
}

/// Something that cannot be as both say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contradiction {
    /// What.
    pub what: String,
    /// What is said here.
    pub here: String,
    /// What is said there.
    pub there: String,
}
