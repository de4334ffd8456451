//! `amend`: an older entry corrected by the words it should have had.

use std::collections::BTreeSet;

use clap::Args;

use super::adopt::{with_odds, worked_out};
use super::renamed::{by_new_names, renamed};
use crate::cli::args::{self, Everywhere, Reader};
use crate::cli::consequences::consequences;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::remedy::joined;
use crate::cli::story::{Book, Reading, Unread, day_typed};
use crate::cli::world::World;
use crate::records::about::facts_at;
use crate::records::admit::{Order, Refusal};
use crate::records::entry::Entry;
use crate::records::facts::Facts;
use crate::records::retell::{Amendment, Contradiction, Names, Telling, Unamendable, amend};
use crate::report::amended::{AmendedAnswer, LaterEntry};
use crate::report::recorded::changed::{fields, said, tag};
use crate::report::recorded::noted;
use crate::store::{EntryKind, HistoryEntry};

/// Shown under the help.
pub const EXAMPLES: &str = "Examples (the whole command anew; only a flag of it; what it was to be in the first place):\n  locule amend 14 harvest X1 --pods 2 --seeds 13\n  locule amend 14 --seeds 13\n  locule amend 9 score T1 8 purple 3 green --on 2026-03-14";

/// Correct an older entry: its number in 'locule history', then the command as it should have been typed.
///
/// The words are read as if they had been typed on the day of the entry: without --on it happened on that day.
/// Flags alone are put in the place of those of the entry. What was recorded since is told again after the
/// corrected entry; where a later entry contradicts it, nothing is changed and that entry is named. The answer
/// says what changes in today's answers; 'locule undo' takes the amendment back.
#[derive(Debug, Args)]
pub struct AmendArgs {
    /// The entry's number in 'locule history'
    #[arg(value_name = "ENTRY", value_parser = crate::cli::ask::history::entry_number)]
    entry: i64,
    /// The command that it should have been, or flags of it
    #[arg(
        trailing_var_arg = true,
        allow_hyphen_values = true,
        value_name = "COMMAND"
    )]
    words: Vec<String>,
}

impl AmendArgs {
    /// Takes `--ledger` and `--json` out of the words: they belong to the run, not to the entry.
    pub fn give_back(&mut self, everywhere: &mut Everywhere) {
        let mut kept = Vec::new();
        let mut rest = std::mem::take(&mut self.words).into_iter();
        while let Some(word) = rest.next() {
            if word == "--" {
                kept.push(word);
                kept.extend(rest.by_ref());
            } else if word == "--json" {
                everywhere.json = true;
            } else if word == "--ledger" {
                everywhere.ledger = rest.next().map(Into::into);
            } else if let Some(file) = word.strip_prefix("--ledger=") {
                everywhere.ledger = Some(file.into());
            } else {
                kept.push(word);
            }
        }
        self.words = kept;
    }

    /// Amends.
    ///
    /// # Errors
    /// [`Failure`] naming the later entries in the way; then nothing was changed.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let mut ledger = world.open_to_write()?;
        let present = ledger.facts()?;
        let book = Book::read(&ledger)?;
        let mut reader = Reader::default();
        let entry = amendable(&book, self.entry, &self.words)?;
        let stands = book.telling(world, &mut reader, entry);
        let Telling::Typed { entry: old, .. } = &stands else {
            return Err(no_command(entry));
        };
        let mut words = self.words_for(&book, &reader, entry, &present, world);
        if words.is_empty() {
            return Err(Failure::usage(format!(
                "say what entry {} should have been",
                named(entry)
            ))
            .try_typing(as_it_stands(&book, entry)));
        }
        if !words[0].starts_with('-') && verbs(&words).is_empty() {
            return Err(no_verb(&book, entry, &words));
        }
        let mut read = match book.reading(world, &mut reader, entry, &words) {
            Ok(read) => read,
            Err(Unread::Line(outcome)) => return Ok(outcome),
            Err(Unread::Words(failure)) => return Err(failure),
            Err(Unread::NoRecord) => return Err(no_record(&book, entry, &words)),
        };
        if let Entry::Adoption(adoption) = &mut read.entry
            && adoption.odds.is_empty()
        {
            let then = facts_at(&book.changes, entry.entry - 1);
            adoption.odds = worked_out(&then, &present, adoption.day, &adoption.seedling)?;
            words = with_odds(words, &adoption.odds);
        }
        if !old.is_kind_of(&read.entry) {
            return Err(other_kind(&book, entry, &words));
        }
        let story = book.story(world, &mut reader, &present, entry.entry);
        let amendment = amend(&story, entry.entry, &typed(entry, &read), read.even_so)
            .map_err(|refused| explained(&book, entry, &words, refused))?;
        let command = format!("amend {} {}", entry.entry, joined(&words));
        let number = ledger.amend(
            entry.entry,
            command,
            &amendment.changes,
            &amendment.counters,
            &world.stamp,
        )?;
        let answer = answer(
            world,
            &book,
            &present,
            (number, entry.entry),
            &words,
            amendment,
        );
        let outcome = world.answer(&answer).kept(number);
        if !world.json {
            for note in &answer.notes {
                world.remark(format!("note: {note}"));
            }
        }
        Ok(outcome)
    }

    /// The whole command that the entry is to be.
    fn words_for(
        &self,
        book: &Book,
        reader: &Reader,
        entry: &HistoryEntry,
        present: &Facts,
        world: &World,
    ) -> Vec<String> {
        let mut typed = self.words.clone();
        let early: Vec<String> = world
            .on_typed()
            .map(|on| format!("--on={on}"))
            .into_iter()
            .collect();
        let early = early
            .into_iter()
            .chain(world.even_so.then(|| "--even-so".to_owned()));
        let is_partial = match typed.first() {
            Some(word) => word.starts_with('-'),
            None => world.on_typed().is_some() || world.even_so,
        };
        if is_partial {
            typed.extend(early);
            let worded = entry.amended_by.last().copied().unwrap_or(entry.entry);
            let names = Names::of(&book.changes).since(present, worded);
            let words = by_new_names(book.words(entry).unwrap_or_default(), &names);
            return with_flags(reader, words, typed);
        }
        let at = typed.iter().position(|word| word == "--");
        let at = at.unwrap_or(typed.len());
        typed.splice(at..at, early);
        typed
    }
}

/// A command with flags in the place of those it has.
fn with_flags(reader: &Reader, words: Vec<String>, flags: Vec<String>) -> Vec<String> {
    let name = |word: &str| word.split('=').next().unwrap_or(word).to_owned();
    let is_flag = |word: &str| word.starts_with("--") && word != "--";
    let named: BTreeSet<String> = flags
        .iter()
        .filter(|word| is_flag(word))
        .map(|word| name(word))
        .collect();
    let (mut kept, mut rest) = (Vec::new(), words.clone().into_iter());
    let mut text = Vec::new();
    while let Some(word) = rest.next() {
        if word == "--" {
            text.push(word);
            text.extend(rest.by_ref());
        } else if is_flag(&word) && named.contains(&name(&word)) {
            let has_value = !word.contains('=');
            if has_value && reader.takes_value(&words, &word) == Some(true) {
                rest.next();
            }
        } else {
            kept.push(word);
        }
    }
    kept.into_iter().chain(flags).chain(text).collect()
}

fn typed(entry: &HistoryEntry, read: &Reading) -> Telling {
    Telling::Typed {
        entry: Box::new(read.entry.clone()),
        today: day_typed(entry).expect("its words were read as on that day"),
        even_so: read.even_so,
    }
}

/// The entry of a number, if it can be amended at all.
fn amendable<'b>(
    book: &'b Book,
    number: i64,
    typed: &[String],
) -> Result<&'b HistoryEntry, Failure> {
    let Some(entry) = book.entry(number) else {
        return Err(Failure::refused(format!("there is no entry {number}"))
            .because("nothing was changed")
            .try_typing("locule history"));
    };
    let (what, command) = match entry.kind {
        EntryKind::Record => match entry.undone_by {
            None => return Ok(entry),
            Some(by) => {
                return Err(Failure::refused(format!(
                    "entry {} was undone by entry {by}, so there is nothing to amend",
                    named(entry)
                ))
                .because("nothing was changed; type it anew as it should be")
                .try_typing(format!("locule {}", entry.command)));
            }
        },
        EntryKind::Init => ("the beginning of the ledger", "locule history".to_owned()),
        EntryKind::Undo(_) => ("an undo, which redo takes back", "locule redo".to_owned()),
        EntryKind::Redo(_) => ("a redo, which undo takes back", "locule undo".to_owned()),
        EntryKind::Amend(amended) => {
            let words = book.entry(amended).and_then(|entry| book.words(entry));
            let words = match typed {
                [] => joined(&words.unwrap_or_default()),
                typed => joined(typed),
            };
            (
                "an amendment; amend the entry that it corrects",
                format!("locule amend {amended} {words}"),
            )
        }
    };
    Err(
        Failure::refused(format!("entry {} is {what}", named(entry)))
            .because("nothing was changed")
            .try_typing(command),
    )
}

fn named(entry: &HistoryEntry) -> String {
    format!("{} ({})", entry.entry, entry.command)
}

fn no_command(entry: &HistoryEntry) -> Failure {
    Failure::refused(format!(
        "entry {} has no words that could be put right; it stands or goes as a whole",
        named(entry)
    ))
    .because("nothing was changed; undo it, and do it anew as it should be")
    .try_typing(format!("locule undo {}", entry.entry))
}

/// The entry's own words, to be corrected.
fn as_it_stands(book: &Book, entry: &HistoryEntry) -> String {
    let words = book.words(entry).unwrap_or_default();
    format!("locule amend {} {}", entry.entry, joined(&words))
}

fn no_record(book: &Book, entry: &HistoryEntry, words: &[String]) -> Failure {
    Failure::usage(format!("'{}' records nothing", joined(words)))
        .because("an entry is amended by the command that it should have been")
        .try_typing(as_it_stands(book, entry))
}

fn no_verb(book: &Book, entry: &HistoryEntry, words: &[String]) -> Failure {
    Failure::usage(format!(
        "'{}' begins with no command that records",
        joined(words)
    ))
    .because("an entry is amended by the whole command that it should have been, or by flags alone")
    .try_typing(as_it_stands(book, entry))
}

fn verbs(words: &[String]) -> String {
    let typed = std::iter::once("locule".into()).chain(words.iter().map(Into::into));
    args::verbs(&typed.collect::<Vec<_>>()).join(" ")
}

fn other_kind(book: &Book, entry: &HistoryEntry, words: &[String]) -> Failure {
    let was = verbs(&book.words(entry).unwrap_or_default());
    Failure::refused(format!(
        "entry {} was made by '{was}' and cannot become '{}'",
        named(entry),
        verbs(words)
    ))
    .because("nothing was changed; to put another record in its place, undo it and record that")
    .try_typing(format!("locule undo {}", entry.entry))
}

/// How many entries a refusal names.
const SHOWN: usize = 5;

fn explained(book: &Book, entry: &HistoryEntry, words: &[String], why: Unamendable) -> Failure {
    let names = |entries: &[i64]| {
        let known = entries.iter().filter_map(|number| book.entry(*number));
        known.take(SHOWN).map(named).collect::<Vec<_>>().join(", ")
    };
    let of = entry.entry;
    match why {
        Unamendable::Refused(refusal) => {
            let is_future = matches!(refusal, Refusal::Order(Order::Future { .. }));
            let failure = Failure::from(refusal);
            let failure = match day_typed(entry).filter(|_| is_future) {
                Some(day) => failure.because(format!(
                    "entry {of} was typed on {day}, and what had not happened then could not be recorded"
                )),
                None => failure,
            };
            failure.because("nothing was changed")
        }
        Unamendable::Contradicted(later) => contradicted(book, entry, words, &later),
        Unamendable::Unchanged(later) if later.is_empty() => {
            Failure::refused(format!("that changes nothing: entry {of} says so already"))
                .try_typing("locule history")
        }
        Unamendable::Unchanged(later) => {
            let failure = Failure::refused(format!(
                "that changes nothing: later entries have the last word on what entry {of} says: {}",
                names(&later)
            ));
            let last = later.last().and_then(|number| book.entry(*number));
            failure.try_typing(as_it_stands(book, last.unwrap_or(entry)))
        }
        Unamendable::Otherwise(entries) => {
            let entries = if entries.is_empty() {
                vec![of]
            } else {
                entries
            };
            let blamed = names(&entries);
            let last = entries.last().copied().unwrap_or(of);
            Failure::refused(format!(
                "entry {of} cannot be amended: told again, these entries do not come out as they stand: {blamed}"
            ))
            .because("they were understood by an entry that was taken back since, or by other rules")
            .because("nothing was changed; undo them, the last one first, and type them anew")
            .try_typing(format!("locule undo {last}"))
        }
        Unamendable::Discord(lines) => {
            let failure = Failure::refused(format!(
                "amending entry {of} so would leave records that do not agree"
            ));
            let lines = lines.iter().take(SHOWN);
            lines
                .fold(failure, |failure, line| failure.because(line))
                .because("nothing was changed")
                .try_typing("locule history")
        }
    }
}

fn contradicted(
    book: &Book,
    entry: &HistoryEntry,
    words: &[String],
    later: &[Contradiction],
) -> Failure {
    let mut failure = Failure::refused(format!(
        "entry {} cannot be amended so, for later entries contradict it",
        entry.entry
    ));
    for one in later.iter().take(SHOWN) {
        let name = book.entry(one.entry).map(named).unwrap_or_default();
        failure = failure.because(format!("entry {name}: {}", one.why));
    }
    if later.len() > SHOWN {
        failure = failure.because(format!("and {} more", later.len() - SHOWN));
    }
    failure =
        failure.because("nothing was changed; correct or undo those first, the last one first");
    if later.iter().all(|one| one.implausible) {
        failure = failure
            .because("--even-so records it all the same")
            .try_typing(format!(
                "locule amend {} {} --even-so",
                entry.entry,
                joined(words)
            ));
    }
    let last = later.last().map_or(entry.entry, |one| one.entry);
    failure.try_typing(format!("locule undo {last}"))
}

fn answer(
    world: &World,
    book: &Book,
    present: &Facts,
    (number, amends): (i64, i64),
    words: &[String],
    amendment: Amendment,
) -> AmendedAnswer {
    let own = amendment.differing.iter().find(|one| one.entry == amends);
    let tags = own.map(|one| {
        let written = |(facts, changes): &(_, Vec<_>)| tag(facts, changes);
        (written(&one.stands), written(&one.corrected))
    });
    let mut told = amendment.differing.iter().map(|one| {
        let entry = book.entry(one.entry);
        LaterEntry {
            entry: one.entry,
            command: entry
                .and_then(|one| book.words(one))
                .map_or_else(String::new, |w| joined(&w)),
            was: said(&one.stands.0, &one.stands.1),
            now: said(&one.corrected.0, &one.corrected.1),
        }
    });
    let own = told.next();
    let later: Vec<LaterEntry> = told.collect();
    let (was, now) = own.map_or((None, None), |own| (own.was, own.now));
    AmendedAnswer {
        entry: number,
        amends,
        command: joined(words),
        was,
        now,
        changed: fields(present, &amendment.facts, &amendment.changes),
        later,
        renamed: renamed(book, present, &amendment.facts, amends),
        tag: tags.and_then(|(was, is)| is.filter(|is| was.as_ref() != Some(is))),
        notes: amendment.notices.iter().map(noted).collect(),
        answers: consequences(world, present, &amendment.facts),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flags_take_the_place_of_those_there() {
        let words = |line: &str| -> Vec<String> { line.split(' ').map(str::to_owned).collect() };
        let reader = Reader::default();
        let put =
            |line: &str, flags: &str| with_flags(&reader, words(line), words(flags)).join(" ");
        assert_eq!(
            put("harvest X1 --seeds 31 --pods 2", "--seeds 13"),
            "harvest X1 --pods 2 --seeds 13"
        );
        assert_eq!(
            put(
                "harvest X1 --seeds=31 --about --pods 2",
                "--seeds=13 --about"
            ),
            "harvest X1 --pods 2 --seeds=13 --about"
        );
        assert_eq!(
            put("note NL -- --on sale", "--on 2026-03-01"),
            "note NL --on 2026-03-01 -- --on sale"
        );
    }
}
