//! Entries told again in their order: what the tables would hold had one of them been typed rightly.
//!
//! Two tellings go side by side, one of the entries as they stand and one with the corrected entry in its
//! place; every later entry passes the gate in both. The first must give the ledger as it is, or nothing
//! can be said. What the second gives otherwise is the amendment. Rows keep their numbers where the same
//! entry makes them again, so that nothing that refers to them has to move. Words find things by the codes that
//! these had when the words were typed. What was typed comes in as
//! entries; where it is kept and how it was read is not known here. The command line calls it.

mod names;
mod settle;
mod teller;

use std::collections::{BTreeMap, BTreeSet};

use super::admit::{Identity, Notice, Refusal};
use super::change::RowChange;
use super::coherence::discords;
use super::day::Day;
use super::entry::Entry;
use super::facts::Facts;
use super::rows::{Row, Table};
use super::value::Value;
pub use names::Names;
use teller::{Away, Teller};

/// How an entry is told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Telling {
    /// By what was typed, through the gate.
    Typed {
        /// What was typed.
        entry: Box<Entry>,
        /// The day on which it was typed.
        today: Day,
        /// Whether the implausible was to be recorded.
        even_so: bool,
    },
    /// By the rows it changed, where what was typed is no entry of the gate.
    Kept(Vec<RowChange>),
}

/// An entry in force.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Chapter {
    /// Its number in the history.
    pub number: i64,
    /// The entry by which its words came: itself, or its last amendment.
    pub worded: i64,
    /// How it is told.
    pub telling: Telling,
    /// The rows it changed when it was recorded: it is told by them where its words have lost their meaning, as when what
    /// they name has another code by now.
    pub kept: Vec<RowChange>,
    /// The rows that it and its amendments made, oldest first.
    pub made: Vec<(Table, i64)>,
    /// The number that it took of each automatic series.
    pub series: BTreeMap<String, i64>,
}

/// The entries in force, from some point on.
#[derive(Debug, Clone)]
pub struct Story<'f> {
    /// The ledger before the first chapter.
    pub before: Facts,
    /// The ledger as it is.
    pub present: &'f Facts,
    /// What things were called when words were typed.
    pub names: Names,
    /// The entries, oldest first.
    pub chapters: Vec<Chapter>,
}

/// An entry that says something else once another is corrected, with the ledger after it in both tellings.
#[derive(Debug, Clone)]
pub struct Differing {
    /// The entry.
    pub entry: i64,
    /// The ledger after it, and what it changed, as things stand.
    pub stands: (Facts, Vec<RowChange>),
    /// The same with the correction.
    pub corrected: (Facts, Vec<RowChange>),
}

/// What an amendment changes.
#[derive(Debug, Clone)]
pub struct Amendment {
    /// The rows, those that go first.
    pub changes: Vec<RowChange>,
    /// Next numbers of automatic series that moved.
    pub counters: BTreeMap<String, i64>,
    /// The amended entry, then every later one that now says something else.
    pub differing: Vec<Differing>,
    /// What the grower should know beside the answer.
    pub notices: Vec<Notice>,
    /// The ledger afterwards.
    pub facts: Facts,
}

/// A later entry that cannot stand beside the corrected one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contradiction {
    /// The entry.
    pub entry: i64,
    /// Why, in words.
    pub why: String,
    /// Whether it is merely implausible.
    pub implausible: bool,
}

/// Why an entry cannot be amended so.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unamendable {
    /// The gate turns the corrected entry away.
    Refused(Refusal),
    /// Later entries contradict it.
    Contradicted(Vec<Contradiction>),
    /// It would change nothing; the later entries that have the last word on the same rows.
    Unchanged(Vec<i64>),
    /// These entries do not come out as they stand when they are told again.
    Otherwise(Vec<i64>),
    /// Records would no longer agree, in these ways.
    Discord(Vec<String>),
}

/// Works out what it means that an entry was typed wrongly.
///
/// # Errors
/// [`Unamendable`], naming the later entries in the way.
pub fn amend(
    story: &Story<'_>,
    number: i64,
    corrected: &Telling,
    even_so: bool,
) -> Result<Amendment, Unamendable> {
    let mut both = Both {
        stands: Teller::new(story),
        corrected: Teller::new(story),
        even_so,
        differing: Vec::new(),
        contradictions: Vec::new(),
        notices: Vec::new(),
    };
    for chapter in &story.chapters {
        if chapter.number == number {
            both.correct(chapter, corrected)?;
        } else {
            both.go_on(chapter)?;
        }
    }
    let strange = differences(&both.stands.facts, story.present);
    if !strange.is_empty() {
        return Err(Unamendable::Otherwise(story.makers(&strange)));
    }
    if !both.contradictions.is_empty() {
        return Err(Unamendable::Contradicted(both.contradictions));
    }
    let changes = differences(story.present, &both.corrected.facts);
    if changes.is_empty() {
        return Err(Unamendable::Unchanged(both.overrulers(number)));
    }
    let left = new_discords(story.present, &both.corrected.facts);
    if !left.is_empty() {
        return Err(Unamendable::Discord(left));
    }
    Ok(Amendment {
        changes,
        counters: both.corrected.series_given(),
        differing: both.differing,
        notices: both.notices,
        facts: both.corrected.facts,
    })
}

/// The two tellings, side by side.
struct Both<'s> {
    stands: Teller<'s>,
    corrected: Teller<'s>,
    even_so: bool,
    differing: Vec<Differing>,
    contradictions: Vec<Contradiction>,
    notices: Vec<Notice>,
}

impl Both<'_> {
    /// Tells the entry that is amended: as it stands, and corrected.
    fn correct(&mut self, chapter: &Chapter, corrected: &Telling) -> Result<(), Unamendable> {
        let was = self.stand(chapter)?;
        // Its words are typed only now.
        let chapter = &Chapter {
            worded: i64::MAX,
            ..chapter.clone()
        };
        let told = self.corrected.tell(chapter, corrected, false);
        let told = told.map_err(|away| match away {
            Away::Gate(refusal) => Unamendable::Refused(refusal),
            Away::Gone | Away::Taken(_) => Unamendable::Otherwise(vec![chapter.number]),
        })?;
        self.notices.extend(told.notices);
        self.differ(chapter.number, was.changes, told.changes);
        Ok(())
    }

    /// Tells an entry as it stands in both.
    fn go_on(&mut self, chapter: &Chapter) -> Result<(), Unamendable> {
        let was = self.stand(chapter)?;
        let even_so = was.tolerated || self.even_so;
        match self.corrected.tell(chapter, &was.telling, even_so) {
            Ok(told) => {
                let new = told.notices.into_iter();
                let new =
                    new.filter(|n| matches!(n, Notice::EvenSo(_)) && !was.notices.contains(n));
                self.notices.extend(new);
                if let Some(lots) = other_lots(&self.corrected.facts, &was.changes, &told.changes) {
                    self.contradict(chapter.number, lots, false);
                } else if gist(&was.changes) != gist(&told.changes) {
                    self.differ(chapter.number, was.changes, told.changes);
                }
            }
            Err(away) => {
                self.contradict(chapter.number, away.to_string(), away.is_implausible());
                // What follows is judged as if it stood all the same.
                self.corrected.keep(&was.changes);
            }
        }
        Ok(())
    }

    fn stand(&mut self, chapter: &Chapter) -> Result<teller::Told, Unamendable> {
        let lost = |_| Unamendable::Otherwise(vec![chapter.number]);
        self.stands.tell_as_it_stands(chapter).map_err(lost)
    }

    fn contradict(&mut self, entry: i64, why: String, implausible: bool) {
        let why = why.lines().next().unwrap_or_default().to_owned();
        self.contradictions.push(Contradiction {
            entry,
            why,
            implausible,
        });
    }

    fn differ(&mut self, entry: i64, stands: Vec<RowChange>, corrected: Vec<RowChange>) {
        self.differing.push(Differing {
            entry,
            stands: (self.stands.facts.clone(), stands),
            corrected: (self.corrected.facts.clone(), corrected),
        });
    }

    /// The later entries that have the last word on what the amended one changes.
    fn overrulers(&self, number: i64) -> Vec<i64> {
        let Some(amended) = self.differing.iter().find(|one| one.entry == number) else {
            return Vec::new();
        };
        if gist(&amended.stands.1) == gist(&amended.corrected.1) {
            return Vec::new();
        }
        let rows: BTreeSet<(Table, i64)> = touched(&amended.stands.1);
        let later = self.stands.told.iter().filter(|(entry, changes)| {
            *entry > number && touched(changes).iter().any(|row| rows.contains(row))
        });
        later.map(|(entry, _)| *entry).collect()
    }
}

impl Story<'_> {
    /// The entries that made these rows.
    fn makers(&self, changes: &[RowChange]) -> Vec<i64> {
        let rows = touched(changes);
        let makes = |chapter: &&Chapter| chapter.made.iter().any(|row| rows.contains(row));
        let makers = self.chapters.iter().filter(makes);
        makers.map(|chapter| chapter.number).collect()
    }
}

fn touched(changes: &[RowChange]) -> BTreeSet<(Table, i64)> {
    changes
        .iter()
        .map(|change| (change.table, change.id))
        .collect()
}

/// What leads from one ledger to another: rows that go, then rows that change, then rows that come.
///
/// In tables where two rows may not be alike, rows that change go first and come back, since two of them could
/// exchange what must not be alike.
fn differences(from: &Facts, to: &Facts) -> Vec<RowChange> {
    let (mut go, mut change, mut come) = (Vec::new(), Vec::new(), Vec::new());
    for table in Table::ALL {
        let mut old: BTreeMap<i64, Row> = by_number(from, *table);
        let mut changed = Vec::new();
        for row in to.all(*table) {
            match old.remove(&row.id()) {
                None => come.push(RowChange::insert(row)),
                Some(before) if before != row => changed.push((before, row)),
                Some(_) => {}
            }
        }
        go.extend(old.into_values().map(RowChange::delete));
        if changed.len() > 1 && UNALIKE.contains(table) {
            for (before, row) in changed {
                go.push(RowChange::delete(before));
                come.push(RowChange::insert(row));
            }
        } else {
            let update = |(before, row): (Row, Row)| RowChange::update(before, row);
            change.extend(changed.into_iter().map(update));
        }
    }
    go.into_iter().chain(change).chain(come).collect()
}

/// Tables with keys that only one row may have.
const UNALIKE: [Table; 8] = [
    Table::Setting,
    Table::Code,
    Table::Locus,
    Table::Allele,
    Table::Recombination,
    Table::TraitClass,
    Table::Plant,
    Table::Tasting,
];

fn by_number(facts: &Facts, table: Table) -> BTreeMap<i64, Row> {
    facts
        .all(table)
        .into_iter()
        .map(|row| (row.id(), row))
        .collect()
}

fn new_discords(present: &Facts, then: &Facts) -> Vec<String> {
    let mut found = discords(then);
    if !found.is_empty() {
        let old = discords(present);
        found.retain(|discord| !old.contains(discord));
    }
    found.iter().map(ToString::to_string).collect()
}

/// One thing that an entry says: of which row, and which field of it is set to what; nothing where the row goes.
type Said = (Table, i64, Option<(usize, GistValue)>);

/// What an entry says by itself: the rows it makes, the fields it sets, the rows it takes away. A seedling's own row is
/// left out, for whichever entry names it first makes it.
fn gist(changes: &[RowChange]) -> BTreeSet<Said> {
    let mut found = BTreeSet::new();
    for change in changes {
        let (table, id) = (change.table, change.id);
        let values = |row: &Option<Row>| row.as_ref().map(Row::values).unwrap_or_default();
        if matches!(&change.after, Some(Row::Plant(plant)) if plant.batch_id.is_some()) {
            continue;
        }
        let (before, after) = (values(&change.before), values(&change.after));
        if after.is_empty() {
            found.insert((table, id, None));
        }
        let set = after.iter().enumerate();
        let set = set.filter(|(at, value)| before.get(*at) != Some(*value));
        found.extend(set.map(|(at, value)| (table, id, Some((at, GistValue::from(value))))));
    }
    found
}

/// A value that can be put in order.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum GistValue {
    Null,
    Int(i64),
    Text(String),
}

impl From<&Value> for GistValue {
    fn from(value: &Value) -> Self {
        match value {
            Value::Null => Self::Null,
            Value::Int(number) => Self::Int(*number),
            Value::Text(text) => Self::Text(text.clone()),
        }
    }
}

/// Where a sowing draws on another lot than it did: the seed came out of one jar, whatever is corrected since.
fn other_lots(facts: &Facts, was: &[RowChange], is: &[RowChange]) -> Option<String> {
    let drawn = |changes: &[RowChange]| -> Vec<i64> {
        let lot = |change: &RowChange| match (&change.before, &change.after) {
            (None, Some(Row::BatchSeed(draw))) => Some(draw.lot_id),
            _ => None,
        };
        changes.iter().filter_map(lot).collect()
    };
    let (was, is) = (drawn(was), drawn(is));
    if was == is {
        return None;
    }
    let lots = |lots: &[i64]| {
        let names: Vec<String> = lots.iter().map(|lot| facts.lot_label(*lot)).collect();
        if names.is_empty() {
            "no lot".to_owned()
        } else {
            names.join(" and ")
        }
    };
    Some(format!(
        "it drew on {}, and would now draw on {}",
        lots(&was),
        lots(&is)
    ))
}

/// Whether a refusal says no more than that the ledger says so already.
fn says_so_already(refusal: &Refusal) -> bool {
    matches!(refusal, Refusal::Identity(Identity::Unchanged))
}
