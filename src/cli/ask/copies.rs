//! `backup`, `restore` and `check-ledger --rebuild`: copies of the ledger, out and back in.

use std::path::{Path, PathBuf};

use clap::Args;

use crate::cli::exit::{Exit, Outcome};
use crate::cli::failure::Failure;
use crate::cli::place_failure::not_stored;
use crate::cli::world::{World, quoted};
use crate::records::admit::Remedy;
use crate::report::copies::{
    BackupAnswer, CopiesAnswer, CopyLine, EntryName, RebuildAnswer, RestoreAnswer,
};
use crate::store::{
    self, Class, Ledger, NamedEntry, Over, Restored, StoreError, automatic_copies, copy_name,
};

/// Keeps a copy of the ledger, verified before it gets its name.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples (the first beside the ledger, with the day in its name):\n  locule backup\n  locule backup /media/stick/season.db\n  locule backup --list"
)]
pub struct BackupArgs {
    /// The copy; without it a file beside the ledger with the day in its name
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
    /// Write over a file that is there already, unless that holds more of this ledger
    #[arg(long, requires = "file")]
    force: bool,
    /// Show the copies that were kept by themselves
    #[arg(long, conflicts_with = "file")]
    list: bool,
}

impl BackupArgs {
    /// Copies, or lists copies.
    ///
    /// # Errors
    /// [`Failure`] where the ledger can't be read, the copy can't be written or would replace one that holds more.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        if self.list {
            return Ok(list(world));
        }
        let ledger = world.open_to_ask()?;
        let made = match &self.file {
            Some(file) => ledger.backup(file, Over::forced(self.force)),
            None => ledger.backup_beside(world.today),
        };
        let again = |file: &str| format!("locule backup {file}");
        let copy = made.map_err(|error| not_backed_up(error, ledger.path(), world, again))?;
        let answer = BackupAnswer {
            file: copy.file.display().to_string(),
            entries: copy.entries,
            fingerprint: copy.fingerprint,
            bytes: copy.bytes,
            is_new: copy.is_new,
        };
        Ok(world.answer(&answer).done())
    }
}

/// A copy that was not made: tried again under a name that nothing has.
fn not_backed_up(
    error: StoreError,
    ledger: &Path,
    world: &World,
    again: impl Fn(&str) -> String,
) -> Failure {
    let name = quoted(&copy_name(ledger, world.today, 1));
    let folder = match &error {
        StoreError::Place(store::PlaceError::Folder { file }) => Some(file.join(&name)),
        _ => None,
    };
    let elsewhere = matches!(
        error,
        StoreError::Itself { .. } | StoreError::BiggerCopy { .. } | StoreError::OtherLedger { .. }
    );
    match folder {
        Some(file) => Failure::refused(error.to_string())
            .because("name a file in it")
            .try_typing(again(&quoted(&file.display().to_string()))),
        None if elsewhere => {
            let failure = Failure::refused(error.to_string());
            let causes = error.causes();
            let told = causes.iter().fold(failure, Failure::because);
            told.try_typing(again(&name))
        }
        None => not_stored(error, again),
    }
}

fn list(world: &World) -> Outcome {
    let copies = automatic_copies(&world.state, &world.ledger);
    let line = |copy: store::AutomaticCopy| CopyLine {
        file: copy.file.display().to_string(),
        day: copy.day,
        entries: copy.entries,
        fingerprint: copy.fingerprint,
        bytes: copy.bytes,
    };
    let unkept = store::unkept(&world.state, &world.ledger);
    world.answer(&CopiesAnswer {
        lost: unkept.map(|unkept| unkept.entry),
        is_ledger_best: unkept.is_some_and(|unkept| unkept.is_ledger_best),
        ledger: world.ledger.display().to_string(),
        copies: copies.into_iter().map(line).collect(),
    })
}

/// Puts a copy back in place of the ledger. The file that stands there is kept in the state folder, with its
/// journal.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples (the first shows the copies that were kept by themselves):\n  locule restore\n  locule restore --latest\n  locule restore ledger-2026-03-01.db"
)]
pub struct RestoreArgs {
    /// The copy
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
    /// The newest sound copy that was kept by itself
    #[arg(long, conflicts_with = "file")]
    latest: bool,
    /// Even where entries go out of the ledger by it, or where another ledger or none stands there
    #[arg(long)]
    force: bool,
}

impl RestoreArgs {
    /// Restores, or lists the copies there are.
    ///
    /// # Errors
    /// [`Failure`] where the copy is not sound, or something would be lost.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        match &self.file {
            Some(file) => self.put_back(world, file),
            None if self.latest => self.put_latest_back(world),
            None => Ok(list(world)),
        }
    }

    fn put_back(&self, world: &World, file: &Path) -> Result<Outcome, Failure> {
        if !file.exists() {
            let what = format!("there is no copy at '{}'", file.display());
            return Err(Failure::refused(what)
                .because("nothing was changed")
                .try_typing("locule backup --list"));
        }
        let restored = self.restore(world, file);
        restored
            .map(|restored| world.answer(&restore_answer(restored)).done())
            .map_err(|error| not_restored(error, file))
    }

    fn put_latest_back(&self, world: &World) -> Result<Outcome, Failure> {
        let mut unsound: Vec<String> = Vec::new();
        for copy in automatic_copies(&world.state, &world.ledger).iter().rev() {
            match self.restore(world, &copy.file) {
                Ok(restored) => {
                    for what in &unsound {
                        world.remark(format!("note: passed over, not sound: {what}"));
                    }
                    return Ok(world.answer(&restore_answer(restored)).done());
                }
                Err(error) if error.class() == Class::Damaged => unsound.push(error.to_string()),
                Err(error) => return Err(not_restored(error, &copy.file)),
            }
        }
        let what = format!("no sound copy of {} was kept", world.ledger.display());
        let failure = unsound
            .iter()
            .fold(Failure::refused(what), Failure::because);
        Err(failure
            .because("nothing was changed")
            .try_typing("locule import season.jsonl --ledger new.db"))
    }

    fn restore(&self, world: &World, file: &Path) -> Result<Restored, StoreError> {
        if let Some(folder) = world.ledger.parent() {
            // Where it can't be made, the store says what is missing.
            let _ = std::fs::create_dir_all(folder);
        }
        store::restore(&world.ledger, file, self.force, &world.state)
    }
}

fn restore_answer(restored: Restored) -> RestoreAnswer {
    RestoreAnswer {
        known: restored.known,
        missing: restored.missing(),
        ledger: restored.file.display().to_string(),
        copy: restored.copy.display().to_string(),
        entries: restored.entries,
        fingerprint: restored.fingerprint,
        aside: restored.aside.map(|aside| aside.display().to_string()),
        dropped: names(restored.present_only),
        all_read: !restored.is_part_unread,
        is_changed: restored.is_changed,
    }
}

fn names(entries: Vec<NamedEntry>) -> Vec<EntryName> {
    let name = |named: NamedEntry| EntryName {
        entry: named.entry,
        command: named.command,
    };
    entries.into_iter().map(name).collect()
}

/// A copy that was not put back: forced, another copy, or an export brought in.
fn not_restored(error: StoreError, file: &Path) -> Failure {
    let name = quoted(&file.display().to_string());
    let exit = match error.class() {
        Class::Damaged => Exit::Damaged,
        Class::System => Exit::System,
        Class::Busy => Exit::Busy,
        Class::Refused => Exit::Refused,
    };
    let told = |error: &StoreError| {
        let causes = error.causes();
        causes
            .iter()
            .fold(Failure::new(exit, error.to_string()), Failure::because)
    };
    match &error {
        StoreError::WouldLose { .. } | StoreError::NotReplaced { .. } => {
            told(&error).try_typing(format!("locule restore {name} --force"))
        }
        StoreError::OtherLedger { .. } => told(&error)
            .because("--force puts the copy in its place all the same")
            .try_typing(format!("locule restore {name} --force")),
        StoreError::NotADatabase { .. } if is_text(file) => Failure::new(exit, error.to_string())
            .because("nothing was changed")
            .because("an export is brought in as a new ledger")
            .try_typing(format!("locule --ledger new.db import {name}")),
        StoreError::Newer { .. } => told(&error).try_typing("locule backup --list"),
        error if exit == Exit::Damaged => Failure::new(exit, error.to_string())
            .because("nothing was changed")
            .because("another copy may be whole")
            .try_typing("locule backup --list"),
        StoreError::Itself { .. } => told(&error).try_typing("locule backup --list"),
        StoreError::Place(place) if !matches!(place, store::PlaceError::Unflushed { .. }) => {
            told(&error)
                .because(
                    "the ledger was not changed; make its folder writable, with room for the copy",
                )
                .try_remedy(Remedy::Again)
        }
        _ => not_stored(error, |_| format!("locule restore {name}")),
    }
}

/// Whether a file begins as an export does.
fn is_text(file: &Path) -> bool {
    use std::io::Read;
    let mut start = [0; 9];
    // A pipe is not opened: nobody might ever write to it.
    if !file.is_file() {
        return false;
    }
    let read = std::fs::File::open(file).and_then(|mut file| file.read_exact(&mut start));
    read.is_ok() && &start == b"{\"format\""
}

/// Builds a new ledger from the history of the present one; ends with 4 where entries are missing from it.
///
/// # Errors
/// [`Failure`] where nothing can be built, or the file can't be written.
pub fn rebuild(world: &World, file: &Path, force: bool) -> Result<Outcome, Failure> {
    // Opening takes back a write that was interrupted; how it stands with the rest is seen below.
    if let Err(error @ (StoreError::JournalUnfit { .. } | StoreError::Busy { .. })) =
        Ledger::open_to_check(&world.ledger, &world.state)
    {
        return Err(world.unopened(error));
    }
    let again = |file: &str| format!("locule check-ledger --rebuild {file}");
    let built = store::rebuild(&world.ledger, file, Over::forced(force), &world.state);
    let built = built.map_err(|error| match error {
        StoreError::BeyondCheck { .. } => {
            let failure = Failure::new(Exit::Damaged, error.to_string());
            failure
                .because("nothing was written")
                .because("a copy may be whole")
                .try_typing("locule backup --list")
        }
        other => not_backed_up(other, &world.ledger, world, again),
    })?;
    let exit = if built.broken.is_none() {
        Exit::Done
    } else {
        Exit::Damaged
    };
    let answer = RebuildAnswer {
        ledger: world.ledger.display().to_string(),
        file: built.file.display().to_string(),
        entries: built.entries,
        fingerprint: built.fingerprint,
        broken: built.broken,
        lost: names(built.lost),
    };
    Ok(world.answer(&answer).ending(exit).done())
}
