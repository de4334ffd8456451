//! `check-ledger`, `export` and `import`: the ledger itself.

use std::fs::File;
use std::io::{BufReader, Write};
use std::path::{Path, PathBuf};

use clap::Args;

use crate::cli::exit::{Exit, Outcome};
use crate::cli::failure::Failure;
use crate::cli::places;
use crate::cli::world::{World, quoted};
use crate::report::ledger::{CheckAnswer, FindingLine, Moved};
use crate::report::text::shown;
use crate::store::{Imported, Ledger, import_new};

/// Verifies the ledger: the file, the chain of changes, and every record against it.
#[derive(Debug, Args)]
pub struct CheckArgs {}

impl CheckArgs {
    /// Answers; ends with 4 where something was found.
    ///
    /// # Errors
    /// [`Failure`] where the file is no ledger that can be opened.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        places::expect_begun(&world.ledger)?;
        let ledger = Ledger::open_to_check(&world.ledger, &world.state)?;
        let findings: Vec<FindingLine> = ledger
            .check()
            .into_iter()
            .map(|finding| FindingLine {
                place: finding.place,
                what: finding.what,
            })
            .collect();
        let sound = findings.is_empty();
        let answer = CheckAnswer {
            ledger: ledger.path().display().to_string(),
            ledger_id: ledger.id().to_owned(),
            fingerprint: ledger.fingerprint(),
            entries: ledger.last_entry(),
            sound,
            findings,
        };
        let exit = if sound { Exit::Done } else { Exit::Damaged };
        let mut outcome = world.answer(&answer).ending(exit);
        for copy in ledger.copies_beside() {
            let copy = shown(&copy.display().to_string());
            outcome = outcome.remarking(&format!(
                "note: {copy} looks like another copy of this ledger, left by a sync program or by hand; it was not read"
            ));
        }
        Ok(outcome)
    }
}

/// Writes the whole ledger, its history included, as lines of JSON.
#[derive(Debug, Args)]
pub struct ExportArgs {
    /// The file; without it, or with '-', standard output
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
    /// Write over a file that is there already
    #[arg(long, requires = "file")]
    force: bool,
}

impl ExportArgs {
    /// Exports.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read or the file cannot be written.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let ledger = world.open_to_ask()?;
        let mut text = Vec::new();
        ledger.export(&mut text)?;
        let file = self.file.as_ref().filter(|file| file.as_os_str() != "-");
        let Some(file) = file else {
            let text = String::from_utf8(text).expect("JSON is written as UTF-8");
            return Ok(Outcome {
                json: true,
                ..Outcome::said(text)
            });
        };
        if same_file(file, ledger.path()) {
            return Err(
                Failure::refused(format!("'{}' is the ledger itself", file.display()))
                    .because("an export never replaces the ledger it is made from")
                    .try_typing("locule export season.jsonl"),
            );
        }
        write_for_user(file, &text, self.force)?;
        Ok(world.answer(&Moved {
            done: "exported",
            file: file.display().to_string(),
            entries: ledger.last_entry(),
            fingerprint: ledger.fingerprint(),
        }))
    }
}

fn same_file(one: &Path, other: &Path) -> bool {
    match (one.canonicalize(), other.canonicalize()) {
        (Ok(one), Ok(other)) => one == other,
        _ => false,
    }
}

/// Writes a file for the user: beside its place, flushed, then renamed; over an existing one only if forced.
///
/// # Errors
/// [`Failure`] where there is one already, or the system fails; then nothing was left behind.
pub fn write_for_user(file: &Path, text: &[u8], force: bool) -> Result<(), Failure> {
    let place = file.display();
    if file.is_dir() {
        return Err(Failure::refused(format!("'{place}' is a folder"))
            .because("name a file in it")
            .try_typing(format!(
                "locule export '{}'",
                file.join("season.jsonl").display()
            )));
    }
    let failed = |error: std::io::Error| {
        let failure = match error.kind() {
            std::io::ErrorKind::NotFound | std::io::ErrorKind::PermissionDenied => Failure::refused,
            _ => Failure::system,
        };
        let folder = match file.parent() {
            Some(folder) if folder != Path::new("") => folder.display().to_string(),
            _ => ".".to_owned(),
        };
        let what = match error.kind() {
            std::io::ErrorKind::NotFound => format!("the folder '{folder}' is not there"),
            std::io::ErrorKind::PermissionDenied | std::io::ErrorKind::ReadOnlyFilesystem => {
                format!("no file can be made in the folder '{folder}'")
            }
            _ => format!("'{place}' could not be written"),
        };
        let name = Path::new(file.file_name().unwrap_or_default());
        let home = etcetera::home_dir().unwrap_or_default();
        let other = if folder == "." {
            home.join(name)
        } else {
            name.to_owned()
        };
        failure(&what)
            .because(format!("{error}; nothing was left there"))
            .try_typing(format!(
                "locule export {}",
                quoted(&other.display().to_string())
            ))
    };
    if !force {
        // Taking the name first leaves no moment in which another program could put a file there.
        File::create_new(file).map_err(|error| match error.kind() {
            std::io::ErrorKind::AlreadyExists => {
                Failure::refused(format!("'{place}' is there already and was left as it is"))
                    .try_typing(format!("locule export '{place}' --force"))
            }
            _ => failed(error),
        })?;
    }
    let mut name = file.as_os_str().to_owned();
    name.push(format!(".part-{}", std::process::id()));
    let beside = PathBuf::from(name);
    put(&beside, file, text).map_err(|error| {
        let _ = std::fs::remove_file(&beside);
        if !force {
            let _ = std::fs::remove_file(file);
        }
        failed(error)
    })
}

fn put(beside: &Path, file: &Path, text: &[u8]) -> std::io::Result<()> {
    let mut part = File::create_new(beside)?;
    part.write_all(text)?;
    part.sync_all()?;
    drop(part);
    std::fs::rename(beside, file)
}

/// Brings an export in, as a new ledger or in place of one that holds nothing but its beginning.
#[derive(Debug, Args)]
pub struct ImportArgs {
    /// The export; '-' for standard input
    #[arg(value_name = "FILE")]
    file: PathBuf,
}

impl ImportArgs {
    /// Imports.
    ///
    /// # Errors
    /// [`Failure`] naming the line that is cut or edited, or the ledger that is not empty.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let imported = if self.file.as_os_str() == "-" {
            places::make_room(&world.ledger)?;
            import_new(&world.ledger, &world.state, std::io::stdin().lock())?
        } else {
            let place = self.file.display().to_string();
            let unreadable = |error: std::io::Error| {
                Failure::refused(format!("'{place}' cannot be read"))
                    .because(error.to_string())
                    .try_typing("locule import season.jsonl")
            };
            let file = File::open(&self.file).map_err(unreadable)?;
            places::make_room(&world.ledger)?;
            import_new(&world.ledger, &world.state, BufReader::new(file))?
        };
        let ledger = Ledger::open_to_ask(&world.ledger, &world.state)?;
        let done = match imported {
            Imported::Made => "made",
            Imported::Replaced => "replaced",
            Imported::Unchanged => "unchanged",
        };
        let outcome = world.answer(&Moved {
            done,
            file: ledger.path().display().to_string(),
            entries: ledger.last_entry(),
            fingerprint: ledger.fingerprint(),
        });
        Ok(if imported == Imported::Unchanged {
            outcome
        } else {
            outcome.kept(ledger.last_entry())
        })
    }
}
