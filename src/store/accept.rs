//! Accepting a ledger as it stands: what this computer knew of it gives way to what the file says.
//!
//! Nothing is recorded; only the mark is written anew, after a full verification. What is lost by it is told: from a
//! copy that holds it, where there is one, else by number.

use std::path::{Path, PathBuf};

use super::chain;
use super::copies;
use super::error::{NamedEntry, StoreError};
use super::fault::Fault;
use super::ledger::Ledger;
use super::looks;
use super::mark::Mark;
use super::opening::{self, Aim};
use super::settings::Purpose;
use super::standing::{Odds, Standing};
use super::state::State;

/// What was accepted, and what that leaves behind.
#[derive(Debug)]
pub struct Accepted {
    /// The ledger, open for questions.
    pub ledger: Ledger,
    /// How it stood to what this computer knew before.
    pub before: Standing,
    /// Where a copy shows what is lost and what is new.
    pub tails: Option<Tails>,
}

/// Two ledgers from where they part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tails {
    /// The copy.
    pub copy: PathBuf,
    /// Entries of the copy that are not in the file, oldest first.
    pub lost: Vec<NamedEntry>,
    /// Entries of the file that are not in the copy, oldest first.
    pub new: Vec<NamedEntry>,
}

impl Ledger {
    /// Takes a ledger as it stands for the truth of this computer.
    ///
    /// # Errors
    /// [`StoreError`] where it is not whole, or the mark cannot be written; then nothing was changed.
    pub fn accept(path: &Path, state: &State) -> Result<Accepted, StoreError> {
        let (ledger, mark, content) = opening::open(path, state, Aim::Accept)?;
        let before = ledger.standing().clone();
        let tails = match (before.odds(), &mark) {
            (Some(Odds::Behind { .. } | Odds::Diverged { .. }), Some(mark)) => {
                best_tails(&ledger, mark, state)
            }
            _ => None,
        };
        let mark = Mark::new(ledger.id(), ledger.path(), ledger.head(), content);
        state.keep_mark(ledger.path(), &mark)?;
        Ok(Accepted {
            ledger,
            before,
            tails,
        })
    }
}

/// The last entry that this computer knew of a ledger and that nothing kept here holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unkept {
    /// Its number.
    pub entry: i64,
    /// Whether the ledger stands there and no copy holds more of what it lacks.
    pub is_ledger_best: bool,
}

/// What this computer knew of the ledger of a path, where neither that file nor a copy kept by itself holds it.
#[must_use]
pub fn unkept(state: &State, ledger: &Path) -> Option<Unkept> {
    let path = looks::resolve(ledger).or_else(|_| looks::resolve_new(ledger));
    let path = path.ok()?;
    let mark = state.mark_of(&path)?;
    if holds(&path, &mark) || copy_holding(&mark, state).is_some() {
        return None;
    }
    let stands = Ledger::open(&path, Purpose::Ask).ok();
    let best = |ledger: Ledger| copy_to_restore(&ledger, &mark, state).is_none();
    Some(Unkept {
        entry: mark.entry,
        is_ledger_best: stands.is_some_and(best),
    })
}

/// Whether a file holds all that is known.
fn holds(file: &Path, mark: &Mark) -> bool {
    let hash = |ledger: Ledger| chain::hash_at(ledger.connection(), mark.seq).ok();
    let ledger = Ledger::open(file, Purpose::Ask).ok();
    ledger.and_then(hash).flatten().as_ref() == Some(&mark.head)
}

/// The end of a history entry by entry: number, what was typed, last hash.
type Chain = Vec<(NamedEntry, String)>;

fn chain_of(ledger: &Ledger) -> Result<Chain, Fault> {
    let mut entries: Chain = Vec::new();
    chain::each_after(ledger.connection(), 0, |link| {
        match entries
            .last_mut()
            .filter(|(last, _)| last.entry == link.txn)
        {
            Some((_, hash)) => *hash = link.hash,
            None => {
                let entry = NamedEntry {
                    entry: link.txn,
                    command: link.command,
                };
                entries.push((entry, link.hash));
            }
        }
        Ok(())
    })?;
    Ok(entries)
}

/// The copy to put back where a ledger is at odds with its mark: one that holds everything known, else the one that
/// holds most of it.
pub(super) fn copy_to_restore(ledger: &Ledger, mark: &Mark, state: &State) -> Option<PathBuf> {
    let most = || match mark.ledger == ledger.id() {
        true => best_tails(ledger, mark, state).map(|tails| tails.copy),
        false => copies::files_of(state, &mark.ledger).pop(),
    };
    copy_holding(mark, state).or_else(most)
}

/// The newest copy that holds everything known of a ledger.
fn copy_holding(mark: &Mark, state: &State) -> Option<PathBuf> {
    copies::files_of(state, &mark.ledger)
        .into_iter()
        .rfind(|copy| holds(copy, mark))
}

/// Both tails by the copy that holds all that is known, else by the one that holds most of what is lost.
fn best_tails(ledger: &Ledger, mark: &Mark, state: &State) -> Option<Tails> {
    let file = chain_of(ledger).ok()?;
    let tails = |copy: PathBuf| {
        let other = Ledger::open(&copy, Purpose::Ask).ok()?;
        let other = chain_of(&other).ok()?;
        let same = |(one, other): &(&(NamedEntry, String), &(NamedEntry, String))| one.1 == other.1;
        let shared = file.iter().zip(&other).take_while(same).count();
        let tail = |chain: &Chain| {
            let entries = chain.iter().skip(shared);
            entries.map(|(entry, _)| entry.clone()).collect()
        };
        Some(Tails {
            lost: tail(&other),
            new: tail(&file),
            copy,
        })
    };
    if let Some(copy) = copy_holding(mark, state) {
        return tails(copy);
    }
    let all = copies::files_of(state, ledger.id())
        .into_iter()
        .filter_map(tails);
    let holding = all.filter(|tails| !tails.lost.is_empty());
    holding.max_by_key(|tails| tails.lost.len())
}
