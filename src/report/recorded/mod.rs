//! The answer of a recording command: one line of what was recorded and what it now means.
//!
//! Made from the gate's [`Admitted`] and the facts as they are afterwards; the command line shows it.

mod bench;
pub mod changed;
mod goals;
mod notes;
mod plants;
mod trays;

use serde::Serialize;

use super::text::wrapped;
use super::{Answer, Page};
use crate::records::admit::{Admitted, Notice, Subject};
use crate::records::facts::Facts;

/// What was recorded.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RecordedAnswer {
    /// The entry's number in the history.
    pub entry: i64,
    /// The code, place or lot that it is about, where it is about one.
    pub code: Option<String>,
    /// What was recorded, in words, and what it now means.
    pub recorded: String,
    /// What the batch's readings now mean, after some were recorded.
    pub meaning: Option<String>,
    /// What to write on the tag, after a pollination.
    pub tag: Option<String>,
    /// What the grower should know beside it.
    pub notes: Vec<String>,
}

/// A code and what is said of it.
struct Said {
    code: Option<String>,
    words: String,
    tag: Option<String>,
}

impl Said {
    fn of(code: impl Into<String>, words: impl Into<String>) -> Self {
        Self {
            code: Some(code.into()),
            words: words.into(),
            tag: None,
        }
    }

    fn bare(words: impl Into<String>) -> Self {
        Self {
            code: None,
            words: words.into(),
            tag: None,
        }
    }
}

impl RecordedAnswer {
    /// The answer to an entry, from the facts as they are afterwards.
    #[must_use]
    pub fn new(entry: i64, facts: &Facts, admitted: &Admitted) -> Self {
        let said = say(facts, &admitted.subject);
        let recorded = match &said.code {
            Some(code) => format!("{code}: {}", said.words),
            None => said.words,
        };
        let notes = admitted.notices.iter().map(notes::note).collect();
        Self {
            entry,
            code: said.code,
            recorded,
            meaning: None,
            tag: said.tag,
            notes,
        }
    }

    /// The same answer with what the readings now mean.
    #[must_use]
    pub fn meaning(self, meaning: Option<String>) -> Self {
        Self { meaning, ..self }
    }
}

impl Answer for RecordedAnswer {
    fn words(&self, page: Page) -> String {
        let mut words = self.recorded.clone();
        if let Some(meaning) = &self.meaning {
            words.push_str(&format!(" Now: {meaning}"));
        }
        if let Some(tag) = &self.tag {
            words.push_str(&format!(" Tag: {tag}"));
        }
        wrapped(&words, page.width, "  ")
    }
}

fn say(facts: &Facts, subject: &Subject) -> Said {
    match subject {
        Subject::Ledger { traits, loci } => {
            Said::bare(format!("a new ledger with {traits} traits and {loci} loci"))
        }
        Subject::Parent { plant, new_loci } => plants::parent(facts, *plant, new_loci),
        Subject::Adoption { adoption, .. } => plants::adoption(facts, *adoption),
        Subject::InFlower { in_flower } => plants::in_flower(facts, *in_flower),
        Subject::Locus { locus, new } => bench::locus(facts, *locus, *new),
        Subject::Trait { of, done, new_loci } => bench::trait_done(facts, *of, *done, new_loci),
        Subject::Goal { goal, before } => goals::goal(facts, *goal, before.as_ref()),
        Subject::GoalGone { goal } => goals::gone(facts, goal),
        Subject::Pollination {
            pollination,
            number,
        } => plants::pollination(facts, *pollination, *number),
        Subject::PodSet { pollination } => plants::pod_set(facts, *pollination),
        Subject::Lot { lot } => plants::lot(facts, *lot),
        Subject::Sowing { batch } => trays::sowing(facts, *batch),
        Subject::Up { batch, cells, day } => trays::up(facts, *batch, cells, *day),
        Subject::Tally { tally } => trays::tally(facts, *tally),
        Subject::Readings { readings } => trays::readings(facts, readings),
        Subject::Fate {
            batch,
            kind,
            fates,
            day,
        } => trays::fates(facts, *batch, *kind, fates, *day),
        Subject::Grades { grades } => goals::grades(facts, grades),
        Subject::Care { care } => bench::care(facts, *care),
        Subject::Measures { measures } => bench::measures(facts, measures),
        Subject::Remark { remark } => bench::remark(facts, *remark),
        Subject::Photos { photos } => bench::photos(facts, photos),
        Subject::SpeciesPair { mother, father } => bench::species_pair(facts, mother, father),
        Subject::Assumptions { changed } => bench::assumptions(facts, changed),
        Subject::Assumption { key, before } => bench::assumption(facts, key, before.as_deref()),
    }
}

/// A notice in words.
#[must_use]
pub fn noted(notice: &Notice) -> String {
    notes::note(notice)
}

/// `1 seed`, `3 seeds`.
fn several(n: i64, one: &str) -> String {
    let n = u64::try_from(n).unwrap_or(0);
    super::numbers::several(n, one, &format!("{one}s"))
}
