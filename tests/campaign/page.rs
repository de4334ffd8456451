//! The page `docs/reliability.md`: its figures come from the results file and from nowhere else.

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;

use super::options;
use super::results::{self, Line};

const BEGIN: &str = "<!-- figures: cargo bench --bench campaign -- --write-docs -->\n";
const END: &str = "<!-- end of figures -->";

/// A row: the threat's name, its title, and the counts with their words.
type Row = (
    &'static str,
    &'static str,
    &'static [(&'static str, &'static str)],
);

/// What the table shows.
const ROWS: &[Row] = &[
    (
        "kills",
        "a killed program",
        &[
            ("kills", "kills"),
            ("kills within the write", "of them within the write"),
            ("kills after the write", "after it and before the word"),
            ("acknowledged", "entries acknowledged"),
        ],
    ),
    (
        "calls",
        "a call of the system that fails",
        &[
            ("commands", "commands"),
            ("commands at every call", "of them at every call"),
            ("calls", "calls"),
            ("kills", "kills"),
            ("failures", "failures"),
        ],
    ),
    (
        "power",
        "a power cut",
        &[
            ("rounds", "cuts"),
            ("moments", "moments"),
            ("different states opened", "different disks opened"),
            (
                "cuts after which an entry was recorded",
                "of them recorded on",
            ),
        ],
    ),
    (
        "full",
        "no room",
        &[
            ("full disks", "full disks"),
            ("limits on the size of files", "limits on the size of files"),
            ("full outputs", "full outputs"),
        ],
    ),
    (
        "damage",
        "a file altered by others",
        &[
            ("lengths", "lengths"),
            ("rounds", "flipped bits"),
            ("pages", "pages"),
            ("stray journals", "stray journals"),
            ("older files put back", "older files put back"),
        ],
    ),
    (
        "writers",
        "two at once",
        &[
            ("rounds", "entries"),
            ("holders for ten seconds", "holders for ten seconds"),
        ],
    ),
    (
        "amend",
        "undo, redo and amend",
        &[
            ("rounds", "commands"),
            ("amended", "amendments"),
            ("undone", "taken back"),
            ("redone", "brought back"),
        ],
    ),
    (
        "text",
        "any text",
        &[
            ("scalars in remarks", "scalars in remarks"),
            ("rounds", "in other fields"),
            ("scalars refused", "refused"),
            ("bytes on a terminal", "bytes on a terminal"),
            ("twins", "twins"),
        ],
    ),
    (
        "clocks",
        "any clock",
        &[
            ("rounds", "time zones"),
            ("days", "days"),
            ("leap days", "leap days"),
            (
                "commands with the clock set back",
                "commands with the clock set back",
            ),
        ],
    ),
];

fn path() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("docs/reliability.md")
}

/// Writes the figures of some results into the page.
pub fn write(lines: &[Line]) -> Result<(), String> {
    let page = fs::read_to_string(path()).map_err(|error| format!("the page: {error}"))?;
    let text = with_figures(&page, lines)?;
    fs::write(path(), text).map_err(|error| format!("the page: {error}"))
}

/// Whether the page says what the kept results say.
pub fn agrees() -> Result<(), String> {
    let page = fs::read_to_string(path()).map_err(|error| format!("the page: {error}"))?;
    let lines = results::read(&options::kept_results())?;
    if with_figures(&page, &lines)? == page {
        return Ok(());
    }
    Err(
        "docs/reliability.md has other figures than tests/campaign/results.jsonl: \
        cargo bench --bench campaign -- --write-docs"
            .to_owned(),
    )
}

fn with_figures(page: &str, lines: &[Line]) -> Result<String, String> {
    let cut = |mark: &str| page.find(mark).ok_or(format!("the page lacks: {mark}"));
    let (from, to) = (cut(BEGIN)? + BEGIN.len(), cut(END)?);
    Ok(format!(
        "{}\n{}\n{}",
        &page[..from],
        table(lines),
        &page[to..]
    ))
}

fn table(lines: &[Line]) -> String {
    let mut text =
        "| threat | name | short form | by hand, at length | faults |\n|---|---|---|---|---|\n"
            .to_owned();
    for (name, title, counts) in ROWS {
        let (short, long) = (newest_short(lines, name), all_long(lines, name));
        let mut faults: BTreeMap<&String, u64> = BTreeMap::new();
        for (fault, times) in short.iter().chain(&long).flat_map(|sum| &sum.faults) {
            *faults.entry(fault).or_default() += times;
        }
        let faults: Vec<String> = faults
            .iter()
            .map(|(fault, times)| format!("{times} {fault}"))
            .collect();
        let faults = if faults.is_empty() {
            "none".to_owned()
        } else {
            faults.join(", ")
        };
        text.push_str(&format!(
            "| {title} | `{name}` | {} | {} | {faults} |\n",
            figures(short.as_ref(), counts),
            figures(long.as_ref(), counts)
        ));
    }
    text
}

fn figures(sum: Option<&Line>, counts: &[(&str, &str)]) -> String {
    let Some(sum) = sum else {
        return "not run".to_owned();
    };
    let mut words: Vec<String> = counts
        .iter()
        .filter_map(|(count, words)| Some(format!("{} {words}", spaced(*sum.counts.get(*count)?))))
        .collect();
    words.extend(
        sum.counts
            .keys()
            .filter(|count| count.starts_with("skipped"))
            .cloned(),
    );
    words.join(", ")
}

/// A number with its thousands set apart.
fn spaced(number: u64) -> String {
    let digits = number.to_string();
    let mut text = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// The last short run of a threat: the lines of its seed.
fn newest_short(lines: &[Line], name: &str) -> Option<Line> {
    let of = |line: &&Line| !line.long && line.threat == name;
    let seed = &lines.iter().rfind(of)?.seed;
    Some(results::sums(
        lines.iter().filter(|line| of(line) && line.seed == *seed),
    ))
}

/// All batches of the long form, each once.
fn all_long(lines: &[Line], name: &str) -> Option<Line> {
    let of = lines.iter().filter(|line| line.long && line.threat == name);
    let batches: BTreeMap<u64, &Line> = of.map(|line| (line.batch, line)).collect();
    (!batches.is_empty()).then(|| results::sums(batches.into_values()))
}
