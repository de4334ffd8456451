//! The history played again from its beginning: what the tables and counters must hold.
//!
//! Used to check a ledger and to judge an export; it works on the stored texts and touches no file.

use std::collections::BTreeMap;

use super::chain::{self, Head, Link};
use super::history::{COUNTER, EntryKind};
use super::payload;
use crate::records::facts::Facts;
use crate::records::rows::{Row, Rows, Table};

/// The state that the changes seen so far lead to.
#[derive(Debug)]
pub(super) struct Replay {
    /// The end of the chain so far.
    pub(super) head: Head,
    /// The rows that stand, as the history writes them.
    pub(super) rows: BTreeMap<(Table, i64), String>,
    /// The counters.
    pub(super) counters: BTreeMap<String, i64>,
    last: Option<Link>,
}

impl Replay {
    /// Before the first change of a ledger.
    pub(super) fn new(ledger_id: &str) -> Self {
        Self {
            head: chain::origin(ledger_id),
            rows: BTreeMap::new(),
            counters: BTreeMap::new(),
            last: None,
        }
    }

    /// Takes the next change, and says everything that is wrong with it.
    pub(super) fn step(&mut self, link: Link) -> Vec<String> {
        let mut wrong = Vec::new();
        if link.hash != link.hash_after(&self.head.hash) {
            wrong.push("its hash does not fit its content and what came before".to_owned());
        }
        self.judge_numbers(&link, &mut wrong);
        self.judge_entry(&link, &mut wrong);
        let outcome = if link.entity == COUNTER {
            self.move_counters(&link)
        } else {
            self.change_row(&link)
        };
        wrong.extend(outcome.err());
        self.head = Head {
            seq: link.seq,
            txn: link.txn,
            hash: link.hash.clone(),
        };
        self.last = Some(link);
        wrong
    }

    fn judge_numbers(&self, link: &Link, wrong: &mut Vec<String>) {
        if link.seq != self.head.seq + 1 {
            wrong.push(format!("it follows change {}", self.head.seq));
        }
        let begins = link.txn == self.head.txn + 1;
        let goes_on = link.txn == self.head.txn && self.last.is_some();
        if !begins && !goes_on {
            wrong.push(format!(
                "its entry {} follows entry {}",
                link.txn, self.head.txn
            ));
        }
    }

    fn judge_entry(&self, link: &Link, wrong: &mut Vec<String>) {
        match link.kind.parse::<EntryKind>() {
            Ok(EntryKind::Init) if link.txn != 1 => {
                wrong.push("a beginning stands in the middle".to_owned());
            }
            Ok(EntryKind::Undo(entry) | EntryKind::Redo(entry)) if entry >= link.txn => {
                wrong.push(format!(
                    "it takes back entry {entry}, which is not before it"
                ));
            }
            Ok(EntryKind::Amend(entry)) if entry >= link.txn => {
                wrong.push(format!("it corrects entry {entry}, which is not before it"));
            }
            Ok(_) => {}
            Err(what) => wrong.push(what),
        }
        if link.command.contains('\0') {
            wrong.push("its text holds a NUL character".to_owned());
        }
        if let Some(last) = self.last.as_ref().filter(|last| last.txn == link.txn) {
            let of = |link: &Link| {
                [&link.at_utc, &link.utc_offset, &link.command, &link.kind].map(String::clone)
            };
            if of(last) != of(link) {
                wrong
                    .push("it differs from the rest of its entry in time, text or kind".to_owned());
            }
        }
    }

    fn change_row(&mut self, link: &Link) -> Result<(), String> {
        let table = Table::named(&link.entity)
            .ok_or_else(|| format!("it names a table '{}' that is unknown", link.entity))?;
        let key = (table, link.entity_id);
        let stood = self.rows.get(&key) == link.before.as_ref();
        match &link.after {
            None => {
                self.rows.remove(&key);
            }
            Some(text) => {
                payload::from_text(table, link.entity_id, text)
                    .map_err(|_| "its row cannot be read".to_owned())?;
                self.rows.insert(key, text.clone());
                let next = self.counters.entry(link.entity.clone()).or_insert(1);
                *next = (*next).max(link.entity_id.saturating_add(1));
            }
        }
        if stood {
            Ok(())
        } else {
            Err("what it says was there before was not".to_owned())
        }
    }

    fn move_counters(&mut self, link: &Link) -> Result<(), String> {
        let read = |text: &Option<String>| -> Option<BTreeMap<String, i64>> {
            serde_json::from_str(text.as_ref()?).ok()
        };
        let (Some(before), Some(after)) = (read(&link.before), read(&link.after)) else {
            return Err("its counters cannot be read".to_owned());
        };
        let fits = link.entity_id == 0
            && before.keys().eq(after.keys())
            && after.iter().all(|(name, next)| *next > before[name])
            && before.iter().all(|(name, next)| {
                Table::named(name).is_none() && self.counters.get(name).unwrap_or(&1) == next
            });
        self.counters.extend(after);
        if fits {
            Ok(())
        } else {
            Err("its counters do not follow from those before".to_owned())
        }
    }

    /// What was typed for the change taken last.
    pub(super) fn command(&self) -> &str {
        self.last.as_ref().map_or("", |link| &link.command)
    }

    /// What the changes seen so far lead to, typed.
    pub(super) fn facts(&self) -> Facts {
        let mut rows = Rows::default();
        self.typed_rows().for_each(|row| rows.put(row));
        Facts::new(rows, self.counters.clone())
    }

    /// The rows that stand, typed.
    pub(super) fn typed_rows(&self) -> impl Iterator<Item = Row> + '_ {
        self.rows.iter().map(|((table, id), text)| {
            payload::from_text(*table, *id, text).expect("every row was read when it was taken in")
        })
    }
}
