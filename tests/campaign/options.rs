//! What the campaign was asked for.

use std::path::PathBuf;
use std::time::Duration;

/// How it is called.
pub const USAGE: &str = "\
cargo bench --bench campaign -- [THREAT]... [OPTION]...
  --long            the long form
  --results FILE    append a line for every batch; a long form goes on behind the lines that are there
  --minutes N       begin no batch after N minutes
  --seed S          the seed that all batches draw from (hexadecimal); without it chance
  --batch B         this batch alone
  --write-docs      write the figures of the results into docs/reliability.md; nothing is run
threats: kills calls power full damage writers amend text clocks";

/// The results that the page in `docs/` is made of.
pub fn kept_results() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/campaign/results.jsonl")
}

/// The options.
#[derive(Debug, Clone)]
pub struct Options {
    /// The threats named; all where none is.
    pub names: Vec<String>,
    /// The long form.
    pub long: bool,
    /// Where results are appended to.
    pub results: PathBuf,
    /// Whether that was asked for.
    pub keep: bool,
    /// When to begin no further batch.
    pub until: Option<Duration>,
    /// What all batches draw from.
    pub seed: Option<u64>,
    /// One batch alone.
    pub batch: Option<u64>,
    /// Write the page.
    pub write_docs: bool,
}

impl Options {
    /// Reads the command line; `--bench` is what cargo adds.
    pub fn read(words: impl Iterator<Item = String>) -> Result<Self, String> {
        let mut options = Self {
            names: Vec::new(),
            long: false,
            results: kept_results(),
            keep: false,
            until: None,
            seed: None,
            batch: None,
            write_docs: false,
        };
        let mut words = words.filter(|word| word != "--bench");
        while let Some(word) = words.next() {
            let mut value = || words.next().ok_or(format!("{word} needs a value"));
            match word.as_str() {
                "--long" => options.long = true,
                "--write-docs" => options.write_docs = true,
                "--results" => (options.results, options.keep) = (value()?.into(), true),
                "--minutes" => options.until = Some(Duration::from_secs(60 * number(&value()?)?)),
                "--seed" => {
                    let text = value()?;
                    let seed = u64::from_str_radix(&text, 16);
                    options.seed = Some(seed.map_err(|_| format!("no seed: {text}"))?);
                }
                "--batch" => options.batch = Some(number(&value()?)?),
                name if super::THREATS.iter().any(|threat| threat.name == name) => {
                    options.names.push(word);
                }
                _ => return Err(format!("unknown: {word}")),
            }
        }
        Ok(options)
    }
}

fn number(text: &str) -> Result<u64, String> {
    text.parse().map_err(|_| format!("no whole number: {text}"))
}
