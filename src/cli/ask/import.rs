//! `import`: an export becomes a ledger, or its records come into one that holds others.

use std::fs::{self, File};
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};

use clap::Args;

use crate::cli::consequences::consequences;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::places;
use crate::cli::world::{World, quoted};
use crate::records::facts::Facts;
use crate::records::merge::MergeRefusal;
use crate::report::consequences::Consequences;
use crate::report::ledger::Moved;
use crate::report::merge::{MergeAnswer, Stage};
use crate::store::{
    EntryKind, EntryNote, Export, Imported, Ledger, Merged, Request, StoreError, import_new,
};

/// How every ledger's file begins, whatever it holds.
/// Source: SQLite, "Database File Format", section 1.3.1, "Magic Header String".
const LEDGER: &[u8] = b"SQLite format 3\0";

/// Brings an export in: as a new ledger, or with its records into a ledger that holds others.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples (the first makes a new ledger, the others look, and bring a friend's records in):\n  \
    locule --ledger new.db import season.jsonl\n  \
    locule import friend.jsonl --dry-run\n  \
    locule import friend.jsonl --prefix B."
)]
pub struct ImportArgs {
    /// The export; '-' for standard input
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Put this before every code that comes: B. makes X1 B.X1
    #[arg(long, value_name = "PREFIX")]
    prefix: Option<String>,
    /// Only show what would come
    #[arg(long)]
    dry_run: bool,
}

impl ImportArgs {
    /// Imports, or shows what an import would do.
    ///
    /// # Errors
    /// [`Failure`] naming the line that is cut or edited, or what does not go together.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let export = self.read()?;
        if fs::symlink_metadata(&world.ledger).is_err() {
            self.expect_no_prefix(world)?;
            return self.make(world, &export);
        }
        if self.dry_run {
            return self.look(world, &export);
        }
        let mut ledger = world.open_to_write()?;
        let before = ledger.facts()?;
        if !ledger.holds_records() {
            self.expect_no_prefix(world)?;
        }
        let request = self.request(world);
        let path = ledger.path().to_owned();
        let imported = ledger
            .import(&export, &request, &world.state)
            .map_err(explained)?;
        match imported {
            Imported::Unchanged => Ok(world.answer(&moved("unchanged", &export, &path))),
            Imported::Replaced => Ok(world
                .answer(&moved("replaced", &export, &path))
                .kept(export.entries())),
            Imported::Merged(merged) => self.merged(world, &export, *merged, &before),
        }
    }

    fn request(&self, world: &World) -> Request {
        Request {
            prefix: self.prefix.clone().unwrap_or_default(),
            day: world.today,
            note: EntryNote {
                at_utc: world.stamp.at_utc.clone(),
                utc_offset: world.stamp.utc_offset.clone(),
                command: world.command.clone(),
                kind: EntryKind::Record,
            },
        }
    }

    fn read(&self) -> Result<Export, Failure> {
        if self.file.as_os_str() == "-" {
            return Ok(Export::read(std::io::stdin().lock())?);
        }
        let file = File::open(&self.file).map_err(|error| {
            Failure::refused(format!("'{}' cannot be read", self.file.display()))
                .because(error.to_string())
                .try_typing("locule import season.jsonl")
        })?;
        let mut file = BufReader::new(file);
        if file.fill_buf().is_ok_and(|bytes| bytes.starts_with(LEDGER)) {
            return Err(self.a_ledger());
        }
        Ok(Export::read(file)?)
    }

    /// A ledger's file is named where its export is meant.
    fn a_ledger(&self) -> Failure {
        let export = self.file.with_extension("jsonl");
        let named = |file: &Path| quoted(&file.display().to_string());
        Failure::refused(format!(
            "'{}' is a ledger's file, and an export of it is needed",
            self.file.display()
        ))
        .because("nothing was imported; export it, then import that")
        .try_typing(format!(
            "locule --ledger {} export {}",
            named(&self.file),
            named(&export)
        ))
    }

    /// A prefix is for codes that meet others.
    fn expect_no_prefix(&self, world: &World) -> Result<(), Failure> {
        match &self.prefix {
            None => Ok(()),
            Some(_) => Err(Failure::refused(format!(
                "{} holds no records, so no code has to give way",
                world.ledger.display()
            ))
            .because("an export becomes a ledger of its own as it is")
            .try_typing(self.command(None))),
        }
    }

    fn make(&self, world: &World, export: &Export) -> Result<Outcome, Failure> {
        if self.dry_run {
            let answer = moved("would be made", export, &world.ledger);
            return Ok(world.answer(&answer));
        }
        places::make_room(&world.ledger)?;
        import_new(&world.ledger, &world.state, export)?;
        // By now it is there: a failure to read must not say otherwise.
        let opened = Ledger::open_to_ask(&world.ledger, &world.state);
        let ledger = opened.map_err(|error| StoreError::Recorded {
            file: world.ledger.clone(),
            entry: export.entries(),
            cause: error.to_string(),
        })?;
        let answer = moved("made", export, ledger.path());
        Ok(world.answer(&answer).kept(export.entries()))
    }

    fn look(&self, world: &World, export: &Export) -> Result<Outcome, Failure> {
        let mut ledger = world.open_to_ask()?;
        let path = ledger.path().to_owned();
        if ledger.id() == export.ledger() && ledger.fingerprint() == export.head()[..8] {
            return Ok(world.answer(&moved("unchanged", export, &path)));
        }
        if !ledger.holds_records() {
            self.expect_no_prefix(world)?;
            return Ok(world.answer(&moved("would be replaced", export, &path)));
        }
        let request = self.request(world);
        let foresight = ledger.foresee(export, &request).map_err(explained)?;
        let fits = foresight.outlook.fits();
        let next = match (fits, foresight.free_prefix) {
            (true, _) => Some(self.command(self.prefix.as_deref())),
            (false, Some(free)) if foresight.outlook.contradictions.is_empty() => {
                Some(self.command(Some(&free)))
            }
            _ => None,
        };
        Ok(world.answer(&MergeAnswer::new(
            Stage::Foreseen { next },
            export.ledger(),
            export.entries(),
            &request.prefix,
            &foresight.outlook,
        )))
    }

    fn merged(
        &self,
        world: &World,
        export: &Export,
        merged: Merged,
        before: &Facts,
    ) -> Result<Outcome, Failure> {
        // By now it is recorded: a failure to read must not say otherwise.
        let after = Ledger::open_to_ask(&world.ledger, &world.state).and_then(|mut l| l.facts());
        let answers = match after {
            Ok(after) => consequences(world, before, &after),
            Err(error) => Consequences::unknown(error.to_string()),
        };
        let prefix = self.prefix.as_deref().unwrap_or_default();
        let answer = MergeAnswer::new(
            Stage::Done {
                entry: merged.entry,
            },
            export.ledger(),
            export.entries(),
            prefix,
            &merged.outlook,
        )
        .with(answers);
        Ok(world.answer(&answer).kept(merged.entry))
    }

    /// This command with another prefix.
    fn command(&self, prefix: Option<&str>) -> String {
        let file = quoted(&self.file.display().to_string());
        match prefix {
            Some(prefix) => format!("locule import {file} --prefix {}", quoted(prefix)),
            None => format!("locule import {file}"),
        }
    }
}

/// Codes that clash give way under another prefix; what contradicts can only stand in a ledger of its own.
fn explained(error: StoreError) -> Failure {
    if let StoreError::OtherState { file, .. } = &error {
        let free = |name: &&str| !file.with_file_name(name).exists() && !Path::new(name).exists();
        let beside = ["new.db", "other.db", "another.db"].into_iter().find(free);
        let causes = error.causes().into_iter();
        return causes
            .fold(Failure::refused(error.to_string()), Failure::because)
            .try_elsewhere(beside.unwrap_or("beside.db"));
    }
    let StoreError::Merge { refusal, .. } = &error else {
        return error.into();
    };
    let free = match refusal {
        MergeRefusal::Clashes { free, .. } | MergeRefusal::Unfit { free, .. } => free.clone(),
        MergeRefusal::Contradictions { .. } | MergeRefusal::Discords { .. } => None,
    };
    let mut failure = Failure::refused(error.to_string());
    for cause in error.causes() {
        failure = failure.because(cause);
    }
    match free {
        Some(prefix) => failure.try_flag("--prefix", prefix),
        None => failure.try_elsewhere("new.db"),
    }
}

fn moved(done: &'static str, export: &Export, path: &std::path::Path) -> Moved {
    Moved {
        done,
        file: path.display().to_string(),
        entries: export.entries(),
        fingerprint: export.head()[..8].to_owned(),
    }
}
