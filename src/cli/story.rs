//! The history as a story that can be told again: what was typed, read back into entries.
//!
//! An entry's words are read as they were on the day they were typed; an amended entry's are those of its
//! last amendment. What is no command that records (an import) is told by the rows it changed. Which numbers
//! follow is the business of [`crate::records::retell`].

use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsString;

use super::args::{Command, Reader};
use super::exit::Outcome;
use super::failure::Failure;
use super::world::{World, unquoted};
use crate::records::about::facts_at;
use crate::records::change::RowChange;
use crate::records::day::Day;
use crate::records::entry::Entry;
use crate::records::facts::Facts;
use crate::records::retell::{Chapter, Names, Story, Telling};
use crate::records::rows::{Row, Table};
use crate::store::{EntryKind, HistoryEntry, Ledger, StoreError};

/// The history, read whole.
#[derive(Debug)]
pub struct Book {
    /// Every entry, oldest first.
    pub entries: Vec<HistoryEntry>,
    /// The row changes of each.
    pub changes: BTreeMap<i64, Vec<RowChange>>,
    series: BTreeMap<i64, BTreeMap<String, i64>>,
}

/// Why words could not be read as an entry.
pub enum Unread {
    /// The command line is wrong, or asked for help.
    Line(Outcome),
    /// They are read, but say what cannot be.
    Words(Failure),
    /// They are no command that records.
    NoRecord,
}

/// The form of an entry and what goes with it.
pub struct Reading {
    /// The entry.
    pub entry: Entry,
    /// Whether the implausible is to be recorded.
    pub even_so: bool,
}

impl Book {
    /// Reads the history.
    ///
    /// # Errors
    /// [`StoreError`] where the file cannot be read or contradicts itself.
    pub fn read(ledger: &Ledger) -> Result<Self, StoreError> {
        Ok(Self {
            entries: ledger.history()?,
            changes: ledger.changes()?,
            series: ledger.series_taken()?,
        })
    }

    /// The entry of a number.
    #[must_use]
    pub fn entry(&self, number: i64) -> Option<&HistoryEntry> {
        let at = self.entries.binary_search_by_key(&number, |one| one.entry);
        at.ok().map(|at| &self.entries[at])
    }

    /// What an entry says by now, as it could be typed again.
    #[must_use]
    pub fn words(&self, entry: &HistoryEntry) -> Option<Vec<String>> {
        match entry.amended_by.last().and_then(|by| self.entry(*by)) {
            // An amendment is kept as `amend`, the number, and the whole command.
            Some(by) => unquoted(&by.command).map(|words| words.into_iter().skip(2).collect()),
            None => unquoted(&entry.command),
        }
    }

    /// How an entry is told as it stands.
    #[must_use]
    pub fn telling(&self, world: &World, reader: &mut Reader, entry: &HistoryEntry) -> Telling {
        let read = self.words(entry).and_then(|words| {
            let read = self.reading(world, reader, entry, &words).ok()?;
            Some((read, day_typed(entry)?))
        });
        match read {
            Some((read, today)) => Telling::Typed {
                entry: Box::new(read.entry),
                today,
                even_so: read.even_so,
            },
            None => Telling::Kept(self.changes.get(&entry.entry).cloned().unwrap_or_default()),
        }
    }

    /// Words read as if they were typed in the place of an entry, on its day.
    ///
    /// # Errors
    /// [`Unread`] where they are no such words.
    pub fn reading(
        &self,
        world: &World,
        reader: &mut Reader,
        entry: &HistoryEntry,
        words: &[String],
    ) -> Result<Reading, Unread> {
        let typed = std::iter::once("locule").chain(words.iter().map(String::as_str));
        let args = reader.read(typed.map(OsString::from).collect());
        let args = args.map_err(Unread::Line)?;
        let today = day_typed(entry).ok_or(Unread::NoRecord)?;
        let world = world.as_on(today, &args.everywhere, self.pictures(entry.entry));
        let Command::Record(command) = args.command else {
            return Err(Unread::NoRecord);
        };
        let even_so = args.everywhere.even_so;
        match command.entry(&world).map_err(Unread::Words)? {
            Some(entry) => Ok(Reading { entry, even_so }),
            None => Err(Unread::NoRecord),
        }
    }

    /// Path and checksum of the pictures that an entry and its amendments recorded.
    fn pictures(&self, entry: i64) -> BTreeMap<String, String> {
        let changes = self.own(entry).flat_map(|(_, changes)| changes);
        let picture = |change: &RowChange| match &change.after {
            Some(Row::Photo(photo)) => Some((photo.path.clone(), photo.sha256.clone())),
            _ => None,
        };
        changes.filter_map(picture).collect()
    }

    /// The changes of an entry, then of its amendments.
    fn own(&self, entry: i64) -> impl Iterator<Item = (i64, &Vec<RowChange>)> {
        let amended = self.entry(entry).map(|one| one.amended_by.as_slice());
        let amended = amended.unwrap_or_default().iter().copied();
        let all = std::iter::once(entry).chain(amended);
        all.filter_map(|number| Some((number, self.changes.get(&number)?)))
    }

    /// The story as it must be told again to know what follows if an entry were another.
    #[must_use]
    pub fn story<'f>(
        &self,
        world: &World,
        reader: &mut Reader,
        present: &'f Facts,
        entry: i64,
    ) -> Story<'f> {
        let from = self.told_as_it_stands(entry);
        let later = self.entries.iter().filter(|one| {
            one.entry > from && one.kind == EntryKind::Record && one.undone_by.is_none()
        });
        let chapter = |one: &HistoryEntry| Chapter {
            number: one.entry,
            worded: one.amended_by.last().copied().unwrap_or(one.entry),
            telling: self.telling(world, reader, one),
            kept: self.changes.get(&one.entry).cloned().unwrap_or_default(),
            made: self.made(one.entry),
            series: self.series_of(one.entry),
        };
        Story {
            before: facts_at(&self.changes, from),
            present,
            names: Names::of(&self.changes),
            chapters: later.map(chapter).collect(),
        }
    }

    fn made(&self, entry: i64) -> Vec<(Table, i64)> {
        let changes = self.own(entry).flat_map(|(_, changes)| changes);
        let made: BTreeSet<(Table, i64)> = changes
            .filter(|change| change.before.is_none())
            .map(|change| (change.table, change.id))
            .collect();
        made.into_iter().collect()
    }

    fn series_of(&self, entry: i64) -> BTreeMap<String, i64> {
        let numbers = self.own(entry).filter_map(|(by, _)| self.series.get(&by));
        let numbers = numbers.flat_map(|series| series.iter());
        numbers
            .map(|(name, number)| (name.clone(), *number))
            .collect()
    }

    /// The last entry before one up to which nothing was taken back, brought back or corrected later on.
    fn told_as_it_stands(&self, entry: i64) -> i64 {
        let mut standing = Standing::default();
        for one in &self.entries {
            standing.follow(one, self);
        }
        let mut from = entry - 1;
        let mut bent: Vec<(i64, i64)> = standing.bent();
        bent.sort_unstable();
        while let Some((since, _)) = bent
            .iter()
            .find(|(since, until)| (*since..*until).contains(&from))
        {
            from = since - 1;
        }
        from.max(1)
    }
}

/// Which entries stood when, and in which words.
#[derive(Default)]
struct Standing {
    /// For each entry, from which entry of the history on its words were those of which entry; none while it was undone.
    states: BTreeMap<i64, Vec<(i64, Option<i64>)>>,
    undone: BTreeSet<i64>,
    amended: BTreeMap<i64, BTreeSet<i64>>,
}

impl Standing {
    fn follow(&mut self, one: &HistoryEntry, book: &Book) {
        let concerns = match one.kind {
            EntryKind::Init | EntryKind::Record => one.entry,
            EntryKind::Amend(entry) => {
                self.amended.entry(entry).or_default().insert(one.entry);
                entry
            }
            EntryKind::Undo(entry) => self.turn(book, entry, true),
            EntryKind::Redo(undo) => match book.entry(undo).and_then(|undo| undo.reverts) {
                Some(entry) => self.turn(book, entry, false),
                None => return,
            },
        };
        let words = self
            .amended
            .get(&concerns)
            .and_then(|by| by.last().copied());
        let words = words.or(Some(concerns));
        let state = words.filter(|_| !self.undone.contains(&concerns));
        let states = self.states.entry(concerns).or_default();
        states.push((one.entry, state));
    }

    /// Takes an entry back or brings it back; gives the entry that this concerns.
    fn turn(&mut self, book: &Book, entry: i64, back: bool) -> i64 {
        let kind = book.entry(entry).map(|one| one.kind);
        let Some(EntryKind::Amend(amended)) = kind else {
            if back {
                self.undone.insert(entry);
            } else {
                self.undone.remove(&entry);
            }
            return entry;
        };
        let by = self.amended.entry(amended).or_default();
        if back {
            by.remove(&entry);
        } else {
            by.insert(entry);
        }
        amended
    }

    /// From which entry on, and until which, the ledger was not yet what it is by now.
    fn bent(&self) -> Vec<(i64, i64)> {
        let mut bent = Vec::new();
        for states in self.states.values() {
            let now = states.last().and_then(|(_, state)| *state);
            for pair in states.windows(2) {
                if pair[0].1 != now {
                    bent.push((pair[0].0, pair[1].0));
                }
            }
        }
        bent
    }
}

/// The day on which an entry was typed, where it was typed.
#[must_use]
pub fn day_typed(entry: &HistoryEntry) -> Option<Day> {
    let at = super::ask::history::on_the_wall(&entry.at_utc, &entry.utc_offset);
    at.get(..10)?.parse().ok()
}
