//! A new ledger from the history of a damaged one: the changes are played again, up to the first that does not
//! hold, and nothing else of the old file is trusted.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::backup;
use super::chain::{self, Link};
use super::copies;
use super::error::{NamedEntry, StoreError};
use super::fault::Fault;
use super::journal::Scratch;
use super::ledger::{self, Identity, Ledger};
use super::looks;
use super::payload;
use super::place::{Draft, Over};
use super::replay::Replay;
use super::salvage::{Readable, entries_of};
use super::state::{Share, State};
use crate::records::rows::Row;

/// A ledger that was built anew.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rebuilt {
    /// The new file.
    pub file: PathBuf,
    /// Its last entry.
    pub entries: i64,
    /// Its fingerprint.
    pub fingerprint: String,
    /// Where the history breaks, and how; nothing where all of it held.
    pub broken: Option<String>,
    /// The entries from the break on that can still be read; others may have gone unseen.
    pub lost: Vec<NamedEntry>,
}

/// Builds a new ledger of the same id and the same chain from the history of a ledger.
///
/// # Errors
/// [`StoreError::BeyondCheck`] where not even the first entry holds; otherwise as [`Ledger::backup`].
pub fn rebuild(
    ledger: &Path,
    place: &Path,
    over: Over,
    state: &State,
) -> Result<Rebuilt, StoreError> {
    let ledger = looks::resolve(ledger)?;
    let _lock = state.lock(&ledger, Share::Askers)?;
    if looks::look_beside(&ledger)? == looks::Beside::Journal {
        return Err(StoreError::InterruptedWrite { file: ledger });
    }
    backup::guard(&ledger, place, over)?;
    let found = read(&ledger, state)?;
    let history = Sound::of(&found, &copies::ids_known(state, &ledger));
    let history = history.map_err(|what| StoreError::BeyondCheck {
        file: ledger.clone(),
        what,
    })?;
    let draft = Draft::unmade(place, over)?;
    history.build(draft.path())?;
    let file = draft.place().to_owned();
    draft.put()?;
    let head = &history.replay.head;
    let lost = found.links().filter(|link| link.txn > head.txn);
    Ok(Rebuilt {
        file,
        entries: head.txn,
        fingerprint: head.hash[..8].to_owned(),
        lost: entries_of(lost),
        broken: history.broken,
    })
}

/// Reads what can be read of the history; of a file in write-ahead mode from a copy, since SQLite would put files
/// beside it.
fn read(ledger: &Path, state: &State) -> Result<Readable, StoreError> {
    if !looks::is_write_ahead(ledger) {
        return Ok(Readable::of(ledger));
    }
    let copy = Scratch::of(ledger, state)?;
    Ok(Readable::of_copy(&copy.ledger()))
}

/// The part of a history that holds.
struct Sound<'a> {
    id: String,
    links: &'a [Link],
    replay: Replay,
    broken: Option<String>,
}

impl<'a> Sound<'a> {
    /// The whole entries before the first change that does not hold.
    fn of(found: &'a Readable, known: &[String]) -> Result<Self, String> {
        let first = found.front.first();
        let first = first.ok_or("nothing of its history can be read")?;
        let begins = |id: &&String| first.hash == first.hash_after(&chain::origin(id).hash);
        let id = found.id.iter().chain(known).find(begins);
        let id = id
            .ok_or("its history does not begin as that of its id")?
            .clone();
        let mut replay = Replay::new(&id);
        let mut broken = None;
        for link in &found.front {
            let what = replay.step(link.clone()).into_iter().next();
            if let Some(what) = what {
                broken = Some((link.txn, format!("change {}: {what}", link.seq)));
                break;
            }
        }
        if let (None, true, Some(last)) = (&broken, found.is_broken, found.front.last()) {
            // Whether the entry that was read last is whole cannot be seen.
            let what = format!("what follows change {} cannot be read", last.seq);
            broken = Some((last.txn, what));
        }
        let (ends_before, broken) =
            broken.map_or((i64::MAX, None), |(txn, what)| (txn, Some(what)));
        let whole = found.front.partition_point(|link| link.txn < ends_before);
        let links = &found.front[..whole];
        if links.is_empty() {
            return Err("its first entry is damaged".to_owned());
        }
        let mut replay = Replay::new(&id);
        for link in links {
            replay.step(link.clone());
        }
        Ok(Self {
            id,
            links,
            replay,
            broken,
        })
    }

    /// Makes a ledger of it, and checks it.
    fn build(&self, file: &Path) -> Result<(), StoreError> {
        let identity = Identity {
            ledger_id: self.id.clone(),
        };
        let ledger = Ledger::make(file, &identity)?;
        fill(
            &ledger,
            self.replay.typed_rows(),
            self.links,
            &self.replay.counters,
        )
        .map_err(|fault| fault.at(file))?;
        match ledger.check().first() {
            None => Ok(()),
            Some(finding) => {
                let what = format!("what was built did not pass its check ({finding})");
                Err(Fault::Rule(what).at(file))
            }
        }
    }
}

/// Fills a new ledger with rows, the history that led to them, and the counters, in one transaction.
pub(super) fn fill(
    ledger: &Ledger,
    rows: impl Iterator<Item = Row>,
    links: &[Link],
    counters: &BTreeMap<String, i64>,
) -> Result<(), Fault> {
    let moment = ledger.connection().unchecked_transaction()?;
    for row in rows {
        payload::insert(&moment, &row)?;
    }
    for link in links {
        chain::append(&moment, link)?;
    }
    for (name, next) in counters {
        ledger::set_counter(&moment, name, *next)?;
    }
    Ok(moment.commit()?)
}
