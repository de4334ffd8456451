//! Where files lie unless said otherwise.

use std::path::{Path, PathBuf};

use etcetera::BaseStrategy;

use super::failure::Failure;

/// The ledger of a run: the flag or `LOCULE_LEDGER`, else `locule/ledger.db` under the platform's data folder.
///
/// # Errors
/// A [`Failure`] where nothing was said and the platform has no such folder.
pub fn ledger(said: Option<PathBuf>) -> Result<PathBuf, Failure> {
    if let Some(path) = said {
        if path.as_os_str().is_empty() {
            return Err(Failure::usage("--ledger was given an empty path")
                .try_typing("locule --ledger season.db history"));
        }
        return Ok(path);
    }
    usual()
}

fn usual() -> Result<PathBuf, Failure> {
    Ok(base()?.data_dir().join("locule").join("ledger.db"))
}

fn base() -> Result<impl BaseStrategy, Failure> {
    etcetera::choose_base_strategy().map_err(|error| {
        Failure::refused("no place for the ledger: this account has no home folder")
            .because(error.to_string())
            .try_typing("LOCULE_STATE=state locule --ledger season.db history")
    })
}

/// The state folder of a run: `LOCULE_STATE`, else `locule` under the platform's folder for state, or for data
/// where it has none.
///
/// # Errors
/// A [`Failure`] where nothing was said and the platform has no such folder.
pub fn state(said: Option<PathBuf>) -> Result<PathBuf, Failure> {
    if let Some(path) = said {
        return std::path::absolute(&path).map_err(|error| {
            Failure::refused(format!(
                "LOCULE_STATE names no folder: '{}'",
                path.display()
            ))
            .because(error.to_string())
            .try_typing("locule history")
        });
    }
    let base = base()?;
    let folder = base.state_dir().unwrap_or_else(|| base.data_dir());
    Ok(folder.join("locule"))
}

/// Makes the folder of a new ledger.
///
/// # Errors
/// A [`Failure`] where the system refuses.
pub fn make_room(path: &Path) -> Result<(), Failure> {
    let Some(folder) = path.parent() else {
        return Ok(());
    };
    std::fs::create_dir_all(folder).map_err(|error| {
        Failure::refused(format!("the folder '{}' cannot be made", folder.display()))
            .because(error.to_string())
            .try_elsewhere("season.db")
    })
}

/// Says plainly that there is no ledger yet where even the folder of the usual place is not there.
///
/// # Errors
/// A [`Failure`] that names `init`.
pub fn expect_begun(path: &Path) -> Result<(), Failure> {
    let folder_there = path.parent().is_some_and(Path::is_dir);
    if !folder_there && usual().is_ok_and(|usual| usual == path) {
        return Err(
            Failure::refused(format!("there is no ledger yet at {}", path.display()))
                .try_typing("locule init"),
        );
    }
    Ok(())
}
