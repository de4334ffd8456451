//! The results file: one JSON line for every batch that was played.

use std::collections::BTreeMap;
use std::fs::{self, OpenOptions};
use std::io::{ErrorKind, Write};
use std::path::Path;

/// What one batch, or a sum of batches, gave.
#[derive(Debug, Clone, Default, serde::Serialize, serde::Deserialize)]
pub struct Line {
    /// The threat.
    pub threat: String,
    /// Whether it belongs to the long form.
    pub long: bool,
    /// What it drew from.
    pub seed: String,
    /// The batch's number.
    pub batch: u64,
    /// What was counted.
    pub counts: BTreeMap<String, u64>,
    /// What should not be.
    pub faults: BTreeMap<String, u64>,
    /// How long it took.
    pub seconds: u64,
}

/// Reads a results file; a missing one is empty, and a last line cut off by a stop is left out.
pub fn read(path: &Path) -> Result<Vec<Line>, String> {
    let text = match fs::read_to_string(path) {
        Ok(text) => text,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
        Err(error) => return Err(format!("{}: {error}", path.display())),
    };
    let whole = text.rfind('\n').map_or("", |end| &text[..=end]);
    whole
        .lines()
        .filter(|line| !line.trim().is_empty())
        .map(|line| serde_json::from_str(line).map_err(|e| format!("{}: {e}", path.display())))
        .collect()
}

/// Appends a line; what a stop left unfinished is ended first.
pub fn append(path: &Path, line: &Line) -> Result<(), String> {
    let wrong = |error: std::io::Error| format!("{}: {error}", path.display());
    let unended = fs::read(path).is_ok_and(|bytes| bytes.last().is_some_and(|byte| *byte != b'\n'));
    if unended {
        let text = fs::read_to_string(path).map_err(wrong)?;
        fs::write(path, text.rfind('\n').map_or("", |end| &text[..=end])).map_err(wrong)?;
    }
    let mut text = serde_json::to_string(line).expect("names and numbers can be written as JSON");
    text.push('\n');
    let file = OpenOptions::new().create(true).append(true).open(path);
    file.and_then(|mut file| file.write_all(text.as_bytes()))
        .map_err(wrong)
}

/// The seed that a long form goes on with.
pub fn seed_of(lines: &[Line], long: bool) -> Option<u64> {
    let line = lines.iter().rfind(|line| long && line.long)?;
    u64::from_str_radix(&line.seed, 16).ok()
}

/// Whether a batch of the long form was played.
pub fn has(lines: &[Line], threat: &str, batch: u64) -> bool {
    let same = |line: &&Line| line.long && line.threat == threat && line.batch == batch;
    lines.iter().any(|line| same(&line))
}

/// The sum of some lines.
pub fn sums<'a>(lines: impl Iterator<Item = &'a Line>) -> Line {
    let mut sum = Line::default();
    for line in lines {
        let maps = [
            (&mut sum.counts, &line.counts),
            (&mut sum.faults, &line.faults),
        ];
        for (into, from) in maps {
            for (what, times) in from {
                *into.entry(what.clone()).or_default() += times;
            }
        }
        sum.seconds += line.seconds;
    }
    sum
}
