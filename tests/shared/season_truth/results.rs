//! The results file: one JSON line for every world that was played.

use std::fs;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::counts::Counts;

/// What one world gave.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Line {
    /// The world's name.
    pub world: String,
    /// The seed.
    pub seed: u64,
    /// What was counted.
    pub counts: Counts,
}

/// The results that the page in `docs/` is made of.
pub fn kept() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/evidence/results.jsonl")
}

/// Reads a results file.
pub fn read(path: &Path) -> Result<Vec<Line>, String> {
    let wrong = |error: &dyn std::fmt::Display| format!("{}: {error}", path.display());
    let text = fs::read_to_string(path).map_err(|error| wrong(&error))?;
    let line = |line: &str| serde_json::from_str(line).map_err(|error| wrong(&error));
    text.lines().map(line).collect()
}
