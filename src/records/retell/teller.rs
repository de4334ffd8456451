//! One telling: entries pass the gate one after another, and the facts follow.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::fmt;

use super::names::Names;
use super::settle::{self, Fresh};
use super::{Chapter, Story, Telling, says_so_already};
use crate::records::admit::{Admitted, Bench, Kind, Notice, Refusal, admit};
use crate::records::change::RowChange;
use crate::records::coherence::doubles;
use crate::records::entry::Entry;
use crate::records::facts::Facts;
use crate::records::genes::locus_named;
use crate::records::rows::{Row, Table};

/// Why an entry is not told.
pub(super) enum Away {
    /// The gate turns it away.
    Gate(Refusal),
    /// The rows that it changed are not there.
    Gone,
    /// What it brought would have a name or a place that something else has.
    Taken(String),
}

impl Away {
    pub(super) fn is_implausible(&self) -> bool {
        matches!(self, Self::Gate(refusal) if refusal.kind() == Kind::Implausible)
    }
}

impl fmt::Display for Away {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Gate(refusal) => refusal.fmt(f),
            Self::Gone => f.write_str("what it changed would not be there"),
            Self::Taken(what) => f.write_str(what),
        }
    }
}

/// What an entry came to.
pub(super) struct Told {
    pub(super) changes: Vec<RowChange>,
    pub(super) notices: Vec<Notice>,
    /// Whether the gate let it pass only because it stands already.
    pub(super) tolerated: bool,
    /// How it was told.
    pub(super) telling: Telling,
}

impl Told {
    fn of(changes: Vec<RowChange>, telling: &Telling) -> Self {
        Self {
            changes,
            notices: Vec::new(),
            tolerated: false,
            telling: telling.clone(),
        }
    }
}

/// One telling.
pub(super) struct Teller<'s> {
    present: &'s Facts,
    names: &'s Names,
    pub(super) facts: Facts,
    /// The numbers that nothing has yet, by table and series.
    fresh: BTreeMap<String, i64>,
    given: Fresh,
    spots: HashMap<settle::Spot, i64>,
    /// The rows that the entries made when they were recorded.
    claimed: BTreeSet<(Table, i64)>,
    /// Entry and changes, as told so far.
    pub(super) told: Vec<(i64, Vec<RowChange>)>,
}

impl<'s> Teller<'s> {
    pub(super) fn new(story: &'s Story<'s>) -> Self {
        Self {
            present: story.present,
            names: &story.names,
            facts: story.before.clone(),
            fresh: story.present.counters().clone(),
            given: Fresh::default(),
            spots: settle::spots(story.present),
            claimed: story.chapters.iter().flat_map(recorded_rows).collect(),
            told: Vec::new(),
        }
    }

    /// Tells an entry that stands: what was recorded even so, or is implausible since, is not doubted again.
    pub(super) fn tell_as_it_stands(&mut self, chapter: &Chapter) -> Result<Told, Away> {
        match self.tell(chapter, &chapter.telling, false) {
            Err(away) if away.is_implausible() => {
                let told = self.tell(chapter, &chapter.telling, true)?;
                Ok(Told {
                    tolerated: true,
                    ..told
                })
            }
            Err(_) => self.tell(chapter, &Telling::Kept(chapter.kept.clone()), false),
            told => told,
        }
    }

    /// Tells an entry; a refusal leaves everything as it was.
    pub(super) fn tell(
        &mut self,
        chapter: &Chapter,
        telling: &Telling,
        even_so: bool,
    ) -> Result<Told, Away> {
        let told = match telling {
            Telling::Kept(changes) => Told::of(self.as_kept(changes)?, telling),
            Telling::Typed {
                entry,
                today,
                even_so: typed,
            } => {
                self.facts.count_by(self.counters(chapter));
                let bench = Bench {
                    today: *today,
                    even_so: *typed || even_so,
                };
                match self.admit(chapter.worded, entry, &bench) {
                    Ok(admitted) => {
                        self.take_series(chapter, &admitted.counters);
                        let changes = self.settle(chapter, admitted.changes);
                        if let Some(what) = code_taken(&self.facts, &changes) {
                            return Err(Away::Taken(what));
                        }
                        Told {
                            notices: admitted.notices,
                            ..Told::of(changes, telling)
                        }
                    }
                    // A later entry may by now say what the ledger says already.
                    Err(refusal) if says_so_already(&refusal) && *telling == chapter.telling => {
                        Told::of(Vec::new(), telling)
                    }
                    Err(refusal) => return Err(Away::Gate(refusal)),
                }
            }
        };
        self.keep(&told.changes);
        self.told.push((chapter.number, told.changes.clone()));
        Ok(told)
    }

    /// Passes an entry through the gate while things are called as they were when its words were typed.
    fn admit(&mut self, worded: i64, entry: &Entry, bench: &Bench) -> Result<Admitted, Refusal> {
        let back = self.names.turned_back(&self.facts, worded);
        self.keep(&back);
        let admitted = admit(&self.facts, entry, bench);
        for change in back.iter().rev() {
            self.facts.apply(&change.reversed());
        }
        admitted
    }

    /// The rows of an entry that is not told by the gate, if what they change is there and what they bring can stand
    /// beside the rest.
    fn as_kept(&self, changes: &[RowChange]) -> Result<Vec<RowChange>, Away> {
        let mut then = self.facts.clone();
        for change in changes {
            if let Some(what) = taken(&then, change) {
                return Err(Away::Taken(what));
            }
            if then.find(change.table, change.id) != change.before {
                return Err(Away::Gone);
            }
            then.apply(change);
        }
        let found = doubles(&then);
        let old = if found.is_empty() {
            found.clone()
        } else {
            doubles(&self.facts)
        };
        match found.iter().find(|double| !old.contains(double)) {
            Some(double) => Err(Away::Taken(double.to_string())),
            None => Ok(changes.to_vec()),
        }
    }

    pub(super) fn keep(&mut self, changes: &[RowChange]) {
        for change in changes {
            self.facts.apply(change);
        }
    }

    /// The numbers an entry goes by: those it took of series, else those that nothing has yet.
    fn counters(&self, chapter: &Chapter) -> BTreeMap<String, i64> {
        let mut counters = self.fresh.clone();
        counters.extend(
            chapter
                .series
                .iter()
                .map(|(name, number)| (name.clone(), *number)),
        );
        counters
    }

    fn take_series(&mut self, chapter: &Chapter, moved: &BTreeMap<String, i64>) {
        for (name, next) in moved {
            if Table::named(name).is_none() && !chapter.series.contains_key(name) {
                self.fresh.insert(name.clone(), *next);
            }
        }
    }

    fn settle(&mut self, chapter: &Chapter, changes: Vec<RowChange>) -> Vec<RowChange> {
        let mut desk = settle::Desk {
            present: self.present,
            facts: &self.facts,
            spots: &self.spots,
            fresh: &mut self.fresh,
            given: &mut self.given,
            claimed: &self.claimed,
        };
        desk.settle(&chapter.made, changes)
    }

    /// Next numbers of series that this telling took anew.
    pub(super) fn series_given(&self) -> BTreeMap<String, i64> {
        let series = self.fresh.iter();
        series
            .filter(|(name, next)| {
                Table::named(name).is_none() && **next > self.present.next_number(name)
            })
            .map(|(name, next)| (name.clone(), *next))
            .collect()
    }
}

/// In words, where an entry gives a code that another thing has by then.
fn code_taken(facts: &Facts, changes: &[RowChange]) -> Option<String> {
    let holder = |change: &RowChange| match &change.after {
        Some(Row::Code(code)) => {
            let holder = facts.code_named(&code.typed)?;
            (holder.id != code.id).then(|| code.typed.clone())
        }
        _ => None,
    };
    let typed = changes.iter().find_map(holder)?;
    Some(format!("the code '{typed}' that it gave would be taken"))
}

/// The rows that an entry made when it was recorded.
fn recorded_rows(chapter: &Chapter) -> impl Iterator<Item = (Table, i64)> + '_ {
    let made = chapter.kept.iter().filter(|change| change.before.is_none());
    made.map(|change| (change.table, change.id))
}

/// In words, where a change would bring what has the code, symbol or number of something that is there by then.
fn taken(facts: &Facts, change: &RowChange) -> Option<String> {
    let holder = match &change.after {
        Some(Row::Code(code)) => facts.code_named(&code.typed).map(|holder| holder.id),
        Some(Row::Locus(locus)) => locus_named(facts, &locus.symbol).map(|holder| holder.id),
        _ => None,
    };
    let known = change.before.is_none() && facts.find(change.table, change.id).is_some();
    if !known && holder.is_none_or(|id| id == change.id) {
        return None;
    }
    Some(match &change.after {
        Some(Row::Code(code)) => format!("the code '{}' that it gave would be taken", code.typed),
        Some(Row::Locus(row)) => format!("the locus {} would be there before it", row.symbol),
        _ => "what it brought would be there before it".to_owned(),
    })
}
