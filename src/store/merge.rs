//! The export of another ledger brought into one that holds records, as one entry.
//!
//! What becomes of each record is decided in [`crate::records::merge`]; here the other ledger is verified as a
//! whole, known ones are turned away, and the entry is recorded. A copy of the ledger is made before.

use super::copies::{self, Occasion};
use super::error::{NamedEntry, StoreError};
use super::fault::Fault;
use super::history::EntryNote;
use super::import::Export;
use super::ledger::Ledger;
use super::place::Over;
use super::state::State;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::merge::{Guest, Merge, Outlook, Survey};
use crate::records::rows::{ImportedLedgerRow, Table};

/// How an export is to be brought in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Request {
    /// What is put before every code that comes, or empty.
    pub prefix: String,
    /// The day.
    pub day: Day,
    /// What is written down of the entry.
    pub note: EntryNote,
}

/// What was brought in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Merged {
    /// The entry.
    pub entry: i64,
    /// What came.
    pub outlook: Outlook,
}

/// What an import would do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Foresight {
    /// What would come, clash and stay.
    pub outlook: Outlook,
    /// A prefix under which nothing clashes.
    pub free_prefix: Option<String>,
}

impl Ledger {
    /// What bringing an export in would do; nothing is changed.
    ///
    /// # Errors
    /// [`StoreError`] where its records were brought in before, or would not agree with those here.
    pub fn foresee(&mut self, export: &Export, how: &Request) -> Result<Foresight, StoreError> {
        let ours = self.facts()?;
        let theirs = export.facts();
        self.refuse_known(export, &ours, &theirs)?;
        let survey = Survey::new(&ours, &theirs, &how.prefix);
        if survey.outlook().fits() {
            self.settle(&survey, export, how)?;
        }
        Ok(Foresight {
            outlook: survey.outlook().clone(),
            free_prefix: survey.free_prefix(),
        })
    }

    /// Brings an export in beside the records that are here.
    pub(super) fn merge(
        mut self,
        export: &Export,
        how: &Request,
        state: &State,
    ) -> Result<Merged, StoreError> {
        let ours = self.facts()?;
        let theirs = export.facts();
        self.refuse_known(export, &ours, &theirs)?;
        let survey = Survey::new(&ours, &theirs, &how.prefix);
        let merge = self.settle(&survey, export, how)?;
        // As a ledger of its own it must pass every check; it is gone again afterwards.
        drop(export.build_beside(self.path(), Over::Whatever)?);
        copies::before(state, self.path(), Occasion::Import)?;
        let entry = self.record(&how.note, &merge.changes, &merge.counters)?;
        Ok(Merged {
            entry,
            outlook: survey.outlook().clone(),
        })
    }

    fn settle(
        &self,
        survey: &Survey<'_>,
        export: &Export,
        how: &Request,
    ) -> Result<Merge, StoreError> {
        let guest = Guest {
            ledger: export.ledger().to_owned(),
            head: export.head().to_owned(),
            entries: export.entries(),
            sum: export.sum().to_owned(),
            day: how.day,
        };
        survey.settle(&guest).map_err(|refusal| StoreError::Merge {
            file: self.path().to_owned(),
            refusal,
        })
    }

    /// Turns away what is here already, in this or another state.
    fn refuse_known(
        &self,
        export: &Export,
        ours: &Facts,
        theirs: &Facts,
    ) -> Result<(), StoreError> {
        let file = self.path().to_owned();
        if export.ledger() == self.id() {
            let what = self.own_state(export)?;
            return Err(StoreError::OtherState { file, what });
        }
        let mut known = ours.imported_ledger.iter();
        if let Some(row) = known.find(|row| row.ledger == export.ledger()) {
            let entry = self.bringer(row).map_err(|fault| fault.at(&file))?;
            let what = state_of(export, row);
            return Err(StoreError::AlreadyImported { file, entry, what });
        }
        let here =
            |id: &str| id == self.id() || ours.imported_ledger.iter().any(|row| row.ledger == id);
        let ids = theirs.imported_ledger.iter().map(|row| row.ledger.as_str());
        match ids.into_iter().find(|id| here(id)) {
            None => Ok(()),
            Some(id) => Err(StoreError::SharedRecords {
                file,
                ledger: id.chars().take(8).collect(),
            }),
        }
    }

    /// How an export of this very ledger stands to it.
    fn own_state(&self, export: &Export) -> Result<&'static str, StoreError> {
        if export.went_through(&self.head().hash) {
            return Ok("at a later entry");
        }
        let mut earlier = false;
        super::chain::each_after(self.connection(), 0, |link| {
            earlier |= link.hash == export.head();
            Ok(())
        })
        .map_err(|fault| fault.at(self.path()))?;
        Ok(if earlier {
            "at an earlier entry, and everything in it is in the history here"
        } else {
            "as it went on elsewhere: the two have gone apart"
        })
    }

    /// The entry that brought another ledger in.
    fn bringer(&self, row: &ImportedLedgerRow) -> Result<NamedEntry, Fault> {
        let entries = self.entries()?;
        let brought = self.changes_where(|link| {
            link.entity == Table::ImportedLedger.name()
                && link.entity_id == row.id
                && link.after.is_some()
        })?;
        // Undone and redone it keeps its number, and the entry that gave it counts again.
        let first = brought.keys().next().copied();
        let named = entries.iter().find(|entry| Some(entry.entry) == first);
        named
            .map(super::history::HistoryEntry::named)
            .ok_or_else(|| Fault::Damage(format!("no entry brought the ledger {}", row.ledger)))
    }
}

/// How an export stands to the state in which its ledger was brought in.
fn state_of(export: &Export, row: &ImportedLedgerRow) -> &'static str {
    if export.head() == row.head {
        "the same state of it"
    } else if export.went_through(&row.head) {
        "a later state of it"
    } else if export.entries() <= row.entries {
        "an earlier state of it"
    } else {
        "a state of it that went on otherwise"
    }
}
