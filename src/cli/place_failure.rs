//! How a file that can't be put where it was wanted fails a command: the store's words, and the command again with
//! a place that takes it.

use std::path::Path;

use super::exit::Exit;
use super::failure::Failure;
use super::world::quoted;
use crate::store::{Class, PlaceError, StoreError};

/// The failure, with the command that `again` makes of another file's name.
#[must_use]
pub fn unplaced(error: &PlaceError, again: impl Fn(&str) -> String) -> Failure {
    let exit = match error.class() {
        Class::System => Exit::System,
        _ => Exit::Refused,
    };
    let mut failure = Failure::new(exit, error.to_string());
    for cause in error.causes() {
        failure = failure.because(cause);
    }
    let at = |file: &Path| again(&quoted(&file.display().to_string()));
    match error {
        PlaceError::Exists { file } => failure.try_typing(format!("{} --force", at(file))),
        PlaceError::Folder { file } => failure
            .because("name a file in it")
            .try_typing(at(&file.join("season.jsonl"))),
        PlaceError::Sibling { .. } => failure
            .because("move it away only when you know what it is")
            .try_typing(again("other.db")),
        PlaceError::Reserved { .. } => failure.try_typing(again("season.jsonl")),
        PlaceError::Device { file }
        | PlaceError::FolderMissing { file, .. }
        | PlaceError::Denied { file, .. }
        | PlaceError::Full { file }
        | PlaceError::Failed { file, .. } => failure.try_typing(at(&elsewhere(file))),
        _ => failure
            .because("look after the disk")
            .try_typing("locule check-ledger"),
    }
}

/// As [`unplaced`], for what the store says; everything else as it always fails.
#[must_use]
pub fn not_stored(error: StoreError, again: impl Fn(&str) -> String) -> Failure {
    match error {
        StoreError::Place(error) => unplaced(&error, again),
        other => other.into(),
    }
}

/// The same name in the current folder, or in the home folder where it was to go there.
fn elsewhere(file: &Path) -> std::path::PathBuf {
    let name = Path::new(file.file_name().unwrap_or_default());
    let here = std::env::current_dir().ok();
    let folder = std::path::absolute(file).ok();
    let is_here = folder.as_deref().and_then(Path::parent) == here.as_deref();
    if is_here {
        etcetera::home_dir().unwrap_or_default().join(name)
    } else {
        name.to_owned()
    }
}
