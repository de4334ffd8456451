//! `photo`: a picture's path, checksum and date.

use std::fs::File;
use std::io::{self, BufRead, BufReader};
use std::path::{Path, PathBuf};

use clap::Args;
use sha2::{Digest, Sha256};

use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::entry::{Entry, Photos};
use crate::records::target::Target;

/// Record pictures: their paths and checksums; the files stay where they are
#[derive(Debug, Args)]
pub struct PhotoArgs {
    /// What they show: a parent, cross, tray, seedling, trait, or a lot (X1/1)
    target: Target,
    /// The files
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
}

impl PhotoArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where a file cannot be read.
    pub fn entry(self, world: &World) -> Result<Entry, Failure> {
        let files: Result<_, _> = {
            let checked = |file: &PathBuf| match file.to_str().zip(on_record(world, file)) {
                Some((path, sha256)) => Ok((path.to_owned(), sha256)),
                None => checked(&self.target, file),
            };
            self.files.iter().map(checked).collect()
        };
        Ok(Entry::Photo(Photos {
            target: self.target,
            files: files?,
            day: world.day()?,
        }))
    }
}

/// The checksum of a picture that is on record; it is not read again, and may be gone by now.
fn on_record(world: &World, file: &Path) -> Option<String> {
    world.pictures.get(file.to_str()?).cloned()
}

/// A file's path as typed and the SHA-256 of its content.
fn checked(target: &Target, file: &Path) -> Result<(String, String), Failure> {
    let path = file.to_str().ok_or_else(|| {
        Failure::refused(format!("the path {} is not plain text", file.display()))
            .because("a path is kept as text; nothing was recorded")
            .try_typing(format!("locule photo {target} FOLDER/PICTURE.jpg"))
    })?;
    let digest = digest(file).map_err(|error| {
        Failure::refused(format!("the picture {path} cannot be read"))
            .because(error.to_string())
            .because("nothing was recorded")
            .try_typing(format!("locule photo {target} FOLDER/PICTURE.jpg"))
    })?;
    Ok((path.to_owned(), digest))
}

fn digest(file: &Path) -> io::Result<String> {
    let mut reader = BufReader::new(File::open(file)?);
    let mut hasher = Sha256::new();
    loop {
        let piece = reader.fill_buf()?;
        if piece.is_empty() {
            break;
        }
        hasher.update(piece);
        let used = piece.len();
        reader.consume(used);
    }
    Ok(hasher
        .finalize()
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect())
}
