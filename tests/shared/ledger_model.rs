//! Random commands with undo, redo, undo of one entry and amend, against a plain model in memory.
//!
//! The model knows nothing of files, history rows or row numbers. It keeps what was typed, in order, each with
//! the words that hold by now, and tells all of it from the beginning whenever it is asked what the ledger
//! should hold. So after an amendment the tables must be what they would be had the entry been typed rightly
//! in the first place. Rows are compared by content, what they refer to by its name; numbers that nothing but
//! the file sees are left out.
//!
//! This file stands by itself, so that another binary can include it and run it for longer.

use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsString;
use std::path::PathBuf;

use locule::cli::args::{self, Command};
use locule::cli::exit::Exit;
use locule::cli::remedy::Typed;
use locule::cli::world::{Fixed, World};
use locule::records::admit::{Admitted, Bench, Identity, Kind, Refusal, admit};
use locule::records::day::Day;
use locule::records::entry::Entry;
use locule::records::facts::Facts;
use locule::records::references::of;
use locule::records::rows::{Row, Table, Thing};
use locule::records::value::Value;
use locule::store::{Ledger, State, StoreError};

/// How many commands a ledger gets before the next one is begun.
const SEASON: u64 = 40;

/// What a run met, so that a caller can see that it met enough.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Met {
    /// Commands in all.
    pub steps: u64,
    /// Commands recorded.
    pub recorded: u64,
    /// Amendments recorded.
    pub amended: u64,
    /// Amendments refused, as the model foresaw.
    pub refused: u64,
    /// Amendments refused since what an undo left does not follow from the words alone.
    pub untold: u64,
    /// Entries taken back, of any age.
    pub undone: u64,
    /// Undos taken back.
    pub redone: u64,
    /// Seasons cut short since the words alone no longer say what an undo left.
    pub cut: u64,
}

/// Runs so many random commands, from a seed; the first mismatch ends it.
///
/// # Errors
/// What the ledger and the model did not agree on, with the commands that led there.
pub fn run(steps: u64, seed: u64) -> Result<Met, String> {
    let folder = tempfile::tempdir().map_err(|error| error.to_string())?;
    let mut met = Met::default();
    let mut season: u64 = 0;
    while met.steps < steps {
        season += 1;
        let file = folder.path().join(format!("{season}.db"));
        let dice = Dice(
            seed.wrapping_mul(0x2545_f491_4f6c_dd1d) ^ season.wrapping_mul(0x9e37_79b9_7f4a_7c15),
        );
        let mut play = Play::begin(file.clone(), dice, season.is_multiple_of(2))?;
        let outcome = play.season(SEASON.min(steps - met.steps), &mut met);
        outcome
            .map_err(|what| format!("seed {seed}, season {season}: {what}\n{}", play.script()))?;
        std::fs::remove_file(&file).map_err(|error| error.to_string())?;
    }
    Ok(met)
}

/// SplitMix64 (Steele, Lea and Flood 2014): small, seeded, the same everywhere.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, n: usize) -> usize {
        usize::try_from(self.next() % n.max(1) as u64).expect("below a small number")
    }

    fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }

    fn pick<'l, T>(&mut self, list: &'l [T]) -> Option<&'l T> {
        let at = self.below(list.len());
        list.get(at)
    }
}

/// What was typed, with the words that hold by now.
#[derive(Debug, Clone)]
struct Deed {
    /// Its number in the history.
    number: i64,
    today: Day,
    /// The words as typed, then as amended, with the number of the amendment.
    words: Vec<(i64, Vec<String>)>,
    undone: bool,
    /// The number that it took of each automatic series, once and for all.
    series: BTreeMap<String, i64>,
}

/// What a deed took of series, whether it was tolerated, which lots it draws on.
type ByDeed = (BTreeMap<String, i64>, bool, Vec<String>);

/// What the deeds in force come to.
struct Told {
    facts: Facts,
    /// Numbers that series have not given yet.
    next: BTreeMap<String, i64>,
    /// Deed by deed.
    by_deed: BTreeMap<i64, ByDeed>,
}

/// What stands at a number of the history.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Step {
    Deed,
    Amend(i64),
    Undo(i64),
    Redo(i64),
}

/// A ledger and its model, command after command.
struct Play {
    file: PathBuf,
    dice: Dice,
    /// Whether any entry is undone, in words that name everything; else only the newest, in any words.
    any_undo: bool,
    today: Day,
    begun: Facts,
    next: BTreeMap<String, i64>,
    deeds: Vec<Deed>,
    steps: BTreeMap<i64, Step>,
    /// Undos that redo can take back, the last one last.
    open: Vec<i64>,
    typed: Vec<String>,
}

impl Play {
    fn begin(file: PathBuf, dice: Dice, any_undo: bool) -> Result<Self, String> {
        let today: Day = "2026-01-01".parse().expect("a day");
        let mut begun = Facts::default();
        let bench = Bench {
            today,
            even_so: false,
        };
        let admitted = admit(&begun, &Entry::Init, &bench).map_err(|error| error.to_string())?;
        follow(&mut begun, &admitted);
        let mut play = Self {
            file,
            dice,
            any_undo,
            today,
            next: BTreeMap::new(),
            begun,
            deeds: Vec::new(),
            steps: BTreeMap::new(),
            open: Vec::new(),
            typed: Vec::new(),
        };
        match play.type_in(&["init".to_owned()])? {
            (Exit::Done, _) => Ok(play),
            (_, said) => Err(said),
        }
    }

    /// The commands typed so far, as a script.
    fn script(&self) -> String {
        self.typed.join("\n")
    }

    /// Types a command; gives how it ended and what it said.
    fn type_in(&mut self, words: &[String]) -> Result<(Exit, String), String> {
        self.typed
            .push(format!("{}  {}", self.today, words.join(" ")));
        let mut typed: Vec<OsString> = vec!["locule".into(), "--ledger".into()];
        typed.push(self.file.clone().into());
        typed.extend(words.iter().map(OsString::from));
        let fixed = Fixed {
            today: Some(self.today.to_string()),
            seed: Some("1".to_owned()),
            state: Some(self.state_folder()),
        };
        let args = match args::read(typed.clone()) {
            Ok(args) => args,
            Err(outcome) => return Ok((outcome.exit, outcome.err)),
        };
        let typed = Typed::of(&typed);
        let world = World::begin(args.everywhere, &typed, fixed);
        let done = world.and_then(|world| args.command.run(&world));
        let outcome = done.unwrap_or_else(|failure| failure.outcome(&typed));
        match outcome.exit {
            Exit::Done | Exit::Refused | Exit::Usage => Ok((outcome.exit, outcome.err)),
            _ => Err(format!("'{}' failed: {}", words.join(" "), outcome.err)),
        }
    }

    fn season(&mut self, steps: u64, met: &mut Met) -> Result<(), String> {
        for _ in 0..steps {
            met.steps += 1;
            if self.dice.one_in(2) {
                self.today = self
                    .today
                    .forward(i64::try_from(self.dice.below(9)).unwrap_or(0));
            }
            let can_redo = !self.open.is_empty();
            let goes_on = match self.dice.below(12) {
                0..=5 if can_redo => self.redo(met)?,
                0 | 1 => self.undo(met)?,
                2 => self.redo(met)?,
                3..=5 => self.amend(met)?,
                _ => self.record(met)?,
            };
            if !goes_on {
                met.cut += 1;
                break;
            }
        }
        let ledger = self.open().map_err(|error| error.to_string())?;
        match ledger.check().first() {
            None => Ok(()),
            Some(finding) => Err(format!("the check found {finding}")),
        }
    }

    fn state_folder(&self) -> PathBuf {
        self.file.with_file_name("state")
    }

    fn open(&self) -> Result<Ledger, StoreError> {
        Ledger::open_to_ask(&self.file, &State::at(self.state_folder()))
    }

    fn ledger(&self) -> Result<(Facts, i64), String> {
        let ledger = self.open();
        let read = ledger.and_then(|mut ledger| Ok((ledger.facts()?, ledger.last_entry())));
        read.map_err(|error| error.to_string())
    }

    fn record(&mut self, met: &mut Met) -> Result<bool, String> {
        let told = self
            .told(&self.deeds, true)?
            .ok_or("what stood is refused")?;
        let words = line(&mut self.dice, &told.facts, self.any_undo);
        let (exit, said) = self.type_in(&words)?;
        let number = self.last_number() + 1;
        let mut deeds = self.deeds.clone();
        deeds.push(Deed {
            number,
            today: self.today,
            words: vec![(number, words.clone())],
            undone: false,
            series: BTreeMap::new(),
        });
        let wanted = self.told(&deeds, false)?;
        match (exit, wanted) {
            (Exit::Done, Some(told)) => {
                met.recorded += 1;
                self.take(deeds, &told);
                self.steps.insert(number, Step::Deed);
                self.open.clear();
                self.compare(&told.facts, number)?;
            }
            (Exit::Done, None) => return Err("recorded, but the model refuses it".to_owned()),
            (_, Some(_)) => return Err(format!("refused, but the model records it: {said}")),
            (_, None) => self.compare(&told.facts, number - 1)?,
        }
        Ok(true)
    }

    fn amend(&mut self, met: &mut Met) -> Result<bool, String> {
        let standing: Vec<usize> = (0..self.deeds.len())
            .filter(|at| !self.deeds[*at].undone)
            .collect();
        let Some(at) = self.dice.pick(&standing).copied() else {
            return Ok(true);
        };
        let was = self
            .told(&self.deeds, true)?
            .ok_or("what stood is refused")?;
        let old = self.deeds[at].words.last().map(|(_, words)| words.clone());
        let words = mistyped(&mut self.dice, &was.facts, old.unwrap_or_default());
        let mut typed = vec!["amend".to_owned(), self.deeds[at].number.to_string()];
        typed.extend(words.iter().cloned());
        let (exit, said) = self.type_in(&typed)?;
        let number = self.last_number() + 1;
        let mut deeds = self.deeds.clone();
        deeds[at].words.push((number, words));
        let wanted = self.told_beside(&deeds, at, &was)?;
        match (exit, wanted) {
            (Exit::Done, Some(told)) => {
                met.amended += 1;
                self.steps
                    .insert(number, Step::Amend(self.deeds[at].number));
                self.take(deeds, &told);
                self.open.clear();
                self.compare(&told.facts, number)?;
            }
            (Exit::Done, None) => return Err("amended, but the model refuses it".to_owned()),
            (_, Some(_)) if self.any_undo && said.contains("told again") => {
                met.untold += 1;
                self.compare(&was.facts, number - 1)?;
            }
            (_, Some(_)) => return Err(format!("refused, but the model amends it: {said}")),
            (_, None) => {
                met.refused += 1;
                self.compare(&was.facts, number - 1)?;
            }
        }
        Ok(true)
    }

    fn undo(&mut self, met: &mut Met) -> Result<bool, String> {
        let standing = self.standing();
        let chosen = if self.any_undo && self.dice.one_in(2) {
            self.dice.pick(&standing).copied()
        } else {
            None
        };
        let mut typed = vec!["undo".to_owned()];
        typed.extend(chosen.map(|number| number.to_string()));
        let was = self
            .told(&self.deeds, true)?
            .ok_or("what stood is refused")?;
        let (exit, said) = self.type_in(&typed)?;
        let number = self.last_number() + 1;
        let Some(target) = chosen.or(standing.last().copied()) else {
            return match exit {
                Exit::Refused => Ok(true),
                _ => Err("undid what is not there".to_owned()),
            };
        };
        if exit != Exit::Done {
            self.compare(&was.facts, number - 1)?;
            return match chosen {
                Some(_) => Ok(true),
                None => Err(format!("the newest entry cannot be undone: {said}")),
            };
        }
        met.undone += 1;
        self.turn(target, true);
        self.steps.insert(number, Step::Undo(target));
        self.open.push(number);
        self.follow_up(number)
    }

    fn redo(&mut self, met: &mut Met) -> Result<bool, String> {
        let was = self
            .told(&self.deeds, true)?
            .ok_or("what stood is refused")?;
        let (exit, said) = self.type_in(&["redo".to_owned()])?;
        let number = self.last_number() + 1;
        match (exit, self.open.last().copied()) {
            (Exit::Done, Some(undo)) => {
                met.redone += 1;
                self.open.pop();
                let Some(Step::Undo(target)) = self.steps.get(&undo).copied() else {
                    return Err("redid what is no undo".to_owned());
                };
                self.turn(target, false);
                self.steps.insert(number, Step::Redo(undo));
                self.follow_up(number)
            }
            (Exit::Done, None) => Err("redid what is not there".to_owned()),
            (_, Some(_)) if !self.any_undo => Err(format!("redo was refused: {said}")),
            _ => self.compare(&was.facts, number - 1).map(|()| true),
        }
    }

    /// Compares after an undo or a redo, where the words still say what the ledger holds.
    fn follow_up(&mut self, number: i64) -> Result<bool, String> {
        let Some(told) = self.told(&self.deeds, true)? else {
            return Ok(false);
        };
        self.compare(&told.facts, number)?;
        Ok(true)
    }

    /// The entries that undo could take back, oldest first.
    fn standing(&self) -> Vec<i64> {
        let stands = |(number, step): (&i64, &Step)| {
            let deed = match step {
                Step::Deed => *number,
                Step::Amend(deed) => *deed,
                Step::Undo(_) | Step::Redo(_) => return None,
            };
            let deed = self.deeds.iter().find(|one| one.number == deed)?;
            let in_force = match step {
                Step::Deed => !deed.undone,
                _ => deed.words.iter().any(|(by, _)| by == number),
            };
            in_force.then_some(*number)
        };
        self.steps.iter().filter_map(stands).collect()
    }

    /// Takes an entry back or brings it back.
    fn turn(&mut self, target: i64, back: bool) {
        let step = self.steps.get(&target).copied();
        let of = match step {
            Some(Step::Amend(deed)) => deed,
            _ => target,
        };
        let typed = self.typed_words(target);
        let Some(deed) = self.deeds.iter_mut().find(|one| one.number == of) else {
            return;
        };
        match (step, back) {
            (Some(Step::Amend(_)), true) => deed.words.retain(|(by, _)| *by != target),
            (Some(Step::Amend(_)), false) => deed.words.push((target, typed)),
            _ => deed.undone = back,
        }
    }

    /// The words of an amendment, from the ledger's history: they are what was typed.
    fn typed_words(&self, number: i64) -> Vec<String> {
        let history = self.open().and_then(|ledger| ledger.history());
        let command = history.ok().and_then(|entries| {
            let found = entries.into_iter().find(|one| one.entry == number)?;
            Some(found.command)
        });
        let words = split(&command.unwrap_or_default());
        words.into_iter().skip(2).collect()
    }

    fn last_number(&self) -> i64 {
        self.steps.keys().next_back().copied().unwrap_or(1)
    }

    fn take(&mut self, deeds: Vec<Deed>, told: &Told) {
        self.deeds = deeds;
        self.next.clone_from(&told.next);
        for deed in &mut self.deeds {
            if let Some((series, ..)) = told.by_deed.get(&deed.number) {
                deed.series.clone_from(series);
            }
        }
    }

    /// Tells every deed in force from the beginning; nothing where the gate refuses one.
    fn told(&self, deeds: &[Deed], tolerant: bool) -> Result<Option<Told>, String> {
        let newest = deeds.last().map(|deed| deed.number);
        self.tell(deeds, |deed| tolerant || Some(deed.number) != newest)
    }

    /// Tells the deeds with one amended: what was not tolerated before may not need it now.
    fn told_beside(&self, deeds: &[Deed], at: usize, was: &Told) -> Result<Option<Told>, String> {
        let amended = deeds[at].number;
        let tolerated = |deed: &Deed| {
            deed.number != amended && was.by_deed.get(&deed.number).is_some_and(|one| one.1)
        };
        let even_so = has_even_so(deeds[at].words.last().map_or(&[], |(_, words)| words));
        let told = self.tell(deeds, |deed| {
            tolerated(deed) || (even_so && deed.number > amended)
        })?;
        let Some(told) = told else { return Ok(None) };
        let same_lots = |(number, (.., lots)): (&i64, &(_, bool, Vec<String>))| {
            *number == amended || told.by_deed.get(number).is_some_and(|one| one.2 == *lots)
        };
        let changes = content(&told.facts) != content(&was.facts);
        Ok((changes && was.by_deed.iter().all(same_lots)).then_some(told))
    }

    fn tell(
        &self,
        deeds: &[Deed],
        tolerates: impl Fn(&Deed) -> bool,
    ) -> Result<Option<Told>, String> {
        let mut told = Told {
            facts: self.begun.clone(),
            next: self.next.clone(),
            by_deed: BTreeMap::new(),
        };
        for deed in deeds.iter().filter(|deed| !deed.undone) {
            if !self.tell_one(&mut told, deed, &tolerates)? {
                return Ok(None);
            }
        }
        Ok(Some(told))
    }

    fn tell_one(
        &self,
        told: &mut Told,
        deed: &Deed,
        tolerates: &impl Fn(&Deed) -> bool,
    ) -> Result<bool, String> {
        let (by, words) = deed.words.last().ok_or("a deed without words")?;
        let Some(entry) = self.read(words, deed.today)? else {
            return Ok(false);
        };
        let mut counters = told.facts.counters().clone();
        counters.retain(|name, _| Table::named(name).is_some());
        counters.extend(told.next.clone());
        counters.extend(deed.series.clone());
        told.facts.count_by(counters);
        let mut bench = Bench {
            today: deed.today,
            even_so: has_even_so(words),
        };
        let mut outcome = admit(&told.facts, &entry, &bench);
        let doubted = |outcome: &Result<Admitted, Refusal>| matches!(outcome, Err(refusal) if refusal.kind() == Kind::Implausible);
        let mut tolerated = false;
        if doubted(&outcome) && tolerates(deed) {
            (bench.even_so, tolerated) = (true, true);
            outcome = admit(&told.facts, &entry, &bench);
        }
        let admitted = match outcome {
            Ok(admitted) => admitted,
            // By now it says what an amended entry says already.
            Err(Refusal::Identity(Identity::Unchanged)) if *by < self.last_number() + 1 => {
                told.by_deed
                    .insert(deed.number, (deed.series.clone(), tolerated, Vec::new()));
                return Ok(true);
            }
            Err(_) => return Ok(false),
        };
        let mut series = deed.series.clone();
        for (name, next) in &admitted.counters {
            if Table::named(name).is_none() && !series.contains_key(name) {
                series.insert(name.clone(), *next - 1);
                told.next.insert(name.clone(), *next);
            }
        }
        follow(&mut told.facts, &admitted);
        let lots = admitted
            .changes
            .iter()
            .filter_map(|change| match &change.after {
                Some(Row::BatchSeed(draw)) => Some(told.facts.lot_label(draw.lot_id)),
                _ => None,
            });
        let lots = lots.collect();
        told.by_deed.insert(deed.number, (series, tolerated, lots));
        Ok(true)
    }

    /// The entry that words make on a day; nothing where they make none.
    fn read(&self, words: &[String], today: Day) -> Result<Option<Entry>, String> {
        let mut typed: Vec<OsString> = vec!["locule".into(), "--ledger".into()];
        typed.push(self.file.clone().into());
        typed.extend(words.iter().map(OsString::from));
        let Ok(args) = args::read(typed.clone()) else {
            return Ok(None);
        };
        let fixed = Fixed {
            today: Some(today.to_string()),
            seed: None,
            state: Some(self.state_folder()),
        };
        let world = World::begin(args.everywhere, &Typed::of(&typed), fixed);
        let world = world.map_err(|failure| failure.words(&Typed::of(&typed), 80))?;
        match args.command {
            Command::Record(command) => Ok(command.entry(&world).ok().flatten()),
            _ => Ok(None),
        }
    }

    /// Whether the ledger holds what the model says, and no more entries than it should.
    fn compare(&self, wanted: &Facts, entries: i64) -> Result<(), String> {
        let (facts, last) = self.ledger()?;
        if last != entries {
            return Err(format!(
                "the ledger has {last} entries, the model {entries}"
            ));
        }
        let (found, wanted) = (content(&facts), content(wanted));
        if found == wanted {
            return Ok(());
        }
        let (only, missing) = (without(&found, &wanted), without(&wanted, &found));
        Err(format!(
            "only in the ledger:\n  {}\nonly in the model:\n  {}",
            only.join("\n  "),
            missing.join("\n  ")
        ))
    }
}

fn follow(facts: &mut Facts, admitted: &Admitted) {
    for change in &admitted.changes {
        facts.apply(change);
    }
    for (series, next) in &admitted.counters {
        if Table::named(series).is_some() {
            facts.advance_counter(series, *next);
        }
    }
}

fn has_even_so(words: &[String]) -> bool {
    words.iter().any(|word| word == "--even-so")
}

fn without(one: &[String], other: &[String]) -> Vec<String> {
    let mut rest = other.to_vec();
    let mut left = one.to_vec();
    left.retain(|line| match rest.iter().position(|known| known == line) {
        Some(at) => {
            rest.swap_remove(at);
            false
        }
        None => true,
    });
    if left.is_empty() && !one.is_empty() {
        left.push("(the same rows in another order within a day)".to_owned());
    }
    left
}

/// What a ledger holds, a line for each row, without row numbers. Rows whose turn within a day matters stand in the
/// order of their numbers, all others by content.
fn content(facts: &Facts) -> Vec<String> {
    let in_turn = [Table::Statement, Table::Reading, Table::Tally, Table::Fate];
    let parts = [Table::TallyLook, Table::TallyClass, Table::FateClass];
    let mut lines = Vec::new();
    for table in Table::ALL.iter().filter(|table| !parts.contains(table)) {
        let rows = facts.all(*table);
        let mut of_table: Vec<String> = rows.iter().map(|row| told_row(facts, row)).collect();
        if in_turn.contains(table) {
            // A stable sort: within a day the order of the numbers stays.
            of_table.sort_by_key(|line| day_in(line));
        } else {
            of_table.sort();
        }
        lines.extend(of_table);
    }
    lines
}

fn day_in(line: &str) -> String {
    let day = line.split(' ').find_map(|field| field.strip_prefix("day="));
    day.unwrap_or_default().to_owned()
}

fn told_row(facts: &Facts, row: &Row) -> String {
    let columns = row.table().columns().iter();
    let mut refers = of(row).into_iter();
    let mut line = row.table().name().to_owned();
    for (column, value) in columns.zip(row.values()) {
        let refers_here = column.ends_with("_id") || column.starts_with("locus_");
        let said = match value {
            Value::Null => "-".to_owned(),
            Value::Int(_) if refers_here => {
                let place = refers.next();
                place.map_or_else(String::new, |(table, id)| name(facts, table, id))
            }
            Value::Int(number) => number.to_string(),
            Value::Text(text) => text,
        };
        line.push_str(&format!(" {column}={said}"));
    }
    line + &parts(facts, row)
}

/// What hangs on a row and has no name of its own.
fn parts(facts: &Facts, row: &Row) -> String {
    let (table, id) = (row.table(), row.id());
    let hanging = match table {
        Table::Tally => Table::TallyLook,
        Table::TallyLook => Table::TallyClass,
        Table::Fate => Table::FateClass,
        _ => return String::new(),
    };
    let rows = facts.all(hanging);
    let mine = rows.iter().filter(|part| of(part).contains(&(table, id)));
    let mut told: Vec<String> = mine
        .map(|part| {
            let fields = part.values();
            let refers = of(part).into_iter().filter(|place| *place != (table, id));
            let names: Vec<String> = refers.map(|(table, id)| name(facts, table, id)).collect();
            let plain: Vec<&Value> = fields
                .iter()
                .filter(|value| !matches!(value, Value::Int(_)))
                .collect();
            let count = match part {
                Row::TallyLook(look) => format!("{}x at {}", look.count, look.ord),
                _ => String::new(),
            };
            format!("[{count} {names:?} {plain:?}{}]", parts(facts, part))
        })
        .collect();
    told.sort();
    told.concat()
}

/// A row by its name.
fn name(facts: &Facts, table: Table, id: i64) -> String {
    let code = |thing| facts.code_of(thing, id).map(str::to_owned);
    let named = match table {
        Table::Plant => facts.plant.get(id).map(|row| facts.plant_label(row)),
        Table::Cross => code(Thing::Cross),
        Table::Batch => code(Thing::Batch),
        Table::Trait => code(Thing::Trait),
        Table::Lot => Some(facts.lot_label(id)),
        Table::Locus => facts.locus.get(id).map(|row| row.symbol.clone()),
        _ => facts.find(table, id).map(|row| told_row(facts, &row)),
    };
    format!("<{}>", named.unwrap_or_else(|| "missing".to_owned()))
}

/// A command as it was kept, word by word.
fn split(line: &str) -> Vec<String> {
    let (mut words, mut word, mut within) = (Vec::new(), String::new(), false);
    for c in line.chars() {
        match c {
            '\'' => within = !within,
            ' ' if !within => words.push(std::mem::take(&mut word)),
            c => word.push(c),
        }
    }
    words.push(word);
    words
}

/// A random command that mostly makes sense in this ledger.
fn line(dice: &mut Dice, facts: &Facts, explicit: bool) -> Vec<String> {
    let of = |thing: Thing| -> Vec<String> {
        let codes = facts.code.iter().filter(|code| code.thing == thing);
        codes.map(|code| code.typed.clone()).collect()
    };
    let (plants, crosses, trays) = (of(Thing::Plant), of(Thing::Cross), of(Thing::Batch));
    let plant = dice
        .pick(&plants)
        .cloned()
        .unwrap_or_else(|| "NL".to_owned());
    let other = dice
        .pick(&plants)
        .cloned()
        .unwrap_or_else(|| "CW".to_owned());
    let cross = dice
        .pick(&crosses)
        .cloned()
        .unwrap_or_else(|| "X1".to_owned());
    let tray = dice
        .pick(&trays)
        .cloned()
        .unwrap_or_else(|| "T1".to_owned());
    let n = dice.below(12);
    let m = dice.below(5) + 1;
    let look = ["purple", "green", "maybe-green", "early"][dice.below(4)];
    // Growers begin with plants; later they mostly count and look.
    let kinds = if plants.len() < 2 {
        1
    } else if crosses.is_empty() {
        5
    } else if trays.is_empty() {
        10
    } else {
        41
    };
    let text = match dice.below(kinds) {
        0 => {
            let code = ["NL", "CW", "NT", "CS", "KP"][dice.below(5)];
            let genes = ["A/A", "a/a", "A/a B/b"][dice.below(3)];
            format!("parent add {code} --genotype '{genes}'")
        }
        1 => format!("cross {plant} {other} --flowers {m}"),
        2 => format!("cross {plant} {other} --tool tweezers --wiped"),
        3 => format!("self {plant} --flowers {m}"),
        4 => format!("parent in-flower {plant}"),
        5 => format!("harvest {cross} --pods {m} --seeds {}", n + 8),
        6 if explicit => format!("sow {cross} --seeds {} --lot {m}", n + 2),
        6 | 7 => format!("sow {cross} --seeds {}", n + 2),
        8 => format!("set {cross} --pods {m}"),
        9 => format!("packet {plant} --seeds {}", n + 3),
        10 => format!("sow {plant} --seeds {m} --place tent"),
        11..=13 => format!("up {tray} {n}"),
        14 => format!("up {tray} --cells 1-{m}"),
        15 | 16 => format!("score {tray} {n} purple {m} green"),
        17 => format!("score {tray} 1-{m}={look}"),
        18 | 19 => format!("score {tray}-0{m} {look}"),
        20 => format!("score {plant} purple"),
        21 | 22 if !explicit => format!("cull {tray} green"),
        21 => format!("cull {tray}-0{m}"),
        22 => format!("died {tray}-0{m} --why damping"),
        23 => format!("thin {tray} {m} --blind"),
        24 => format!("pot-up {tray} 1-{m}"),
        25 => format!("care feed {tray} --every {m}"),
        26 => format!("measure {tray}-0{m} height={n}mm"),
        27 => format!("note {tray} 'stands well {n}'"),
        28 => format!("note {plant} leggy"),
        29 if n < 6 => format!("assume dim 0.0{m}"),
        29 => format!(
            "species annuum baccatum {}",
            ["hard", "usual", "default"][n % 3]
        ),
        30 => format!("parent add S{n} --from {tray}-0{m}"),
        31 => format!("locus set A --share A=0.{m}"),
        32 => format!("score {tray}-0{m} 2 purple 1 green"),
        33 => format!("adopt {tray}-0{m} D{n} --odds {plant}/{other}=0.{m}"),
        34 => format!("adopt {tray}-0{m} --as {plant} --odds self=0.{m},{plant}/_=0.1"),
        35 => format!("goal add {} --want {m}", ["purple", "green"][dice.below(2)]),
        36 => ["goal add purple --must", "goal remove purple"][dice.below(2)].to_owned(),
        37 => ["trait add heat --grades 0-5", "goal add heat --want 2"][dice.below(2)].to_owned(),
        38 => format!("grade {tray}-0{m} heat={m} --by Ann"),
        39 => format!(
            "score {plant} not-hot --tasted {}",
            ["tip", "wall"][dice.below(2)]
        ),
        _ if explicit => format!("note {tray} again"),
        _ => format!("trait off {}", ["foliage", "anther-color"][dice.below(2)]),
    };
    let mut words = split(&text);
    if dice.one_in(3) {
        words.push("--even-so".to_owned());
    }
    words
}

/// The words of a command with something in them otherwise.
fn mistyped(dice: &mut Dice, facts: &Facts, mut words: Vec<String>) -> Vec<String> {
    let codes: Vec<String> = facts.code.iter().map(|code| code.typed.clone()).collect();
    for _ in 0..=dice.below(2) {
        let at = 1 + dice.below(words.len().saturating_sub(1));
        let digits = |word: &str| word.chars().all(|c| c.is_ascii_digit());
        let word = words.get(at).cloned().unwrap_or_default();
        let swapped = match word.as_str() {
            "purple" => "green".to_owned(),
            "green" => "purple".to_owned(),
            "A/A" => "a/a".to_owned(),
            "a/a" => "A/A".to_owned(),
            word if digits(word) => dice.below(12).to_string(),
            word if word.ends_with("=purple") => word.replace("purple", "green"),
            word if word.contains("-0") => word.replace("-0", "-1"),
            word if codes.iter().any(|code| code == word) && !dice.one_in(4) => {
                dice.pick(&codes).cloned().unwrap_or_default()
            }
            _ => {
                words.extend(match dice.below(3) {
                    0 => vec!["--even-so".to_owned()],
                    1 => vec!["--on".to_owned(), "2026-01-05".to_owned()],
                    _ => vec!["--on".to_owned(), format!("2026-02-0{}", dice.below(9) + 1)],
                });
                continue;
            }
        };
        if let Some(place) = words.get_mut(at) {
            *place = swapped;
        }
    }
    // A flag typed twice is a slip that the command line refuses anyway.
    let mut seen = BTreeSet::new();
    let mut kept = Vec::new();
    let mut rest = words.into_iter().peekable();
    while let Some(word) = rest.next() {
        let flag = word.starts_with("--");
        if flag && !seen.insert(word.clone()) {
            if word == "--on" {
                rest.next();
            }
            continue;
        }
        kept.push(word);
    }
    kept
}
