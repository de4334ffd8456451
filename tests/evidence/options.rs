//! What was asked for.

use std::path::PathBuf;

use super::season_truth::world::{World, own, worlds};

/// How it is called.
pub const USAGE: &str = "\
cargo bench --bench evidence -- [WORLD]... [OPTION]...
  --seasons N     so many seasons of ten trays each; 30 where not said
  --seed S        what all chance is drawn from; 1 where not said
  --results FILE  write the counts there, one line a world
  --show K        play season K of the world alone, and print what was so and what was said
  --write-docs    play every world at length; write tests/evidence/results.jsonl, docs/evidence.md and its picture
  --page          write the page and its picture from the results; nothing is played";

/// Seasons of the program's own world that the page is made of, and of every other.
pub const AT_LENGTH: (u64, u64) = (500, 150);

/// The options.
pub struct Options {
    /// The worlds named; the program's own where none is.
    pub worlds: Vec<World>,
    /// How many seasons.
    pub seasons: Option<u64>,
    /// The seed.
    pub seed: u64,
    /// Where counts are written to.
    pub results: Option<PathBuf>,
    /// One season to be shown.
    pub show: Option<u64>,
    /// Play all and write the page.
    pub write_docs: bool,
    /// Write the page alone.
    pub page: bool,
}

impl Options {
    /// Reads the command line; `--bench` is what cargo adds.
    pub fn read(words: impl Iterator<Item = String>) -> Result<Self, String> {
        let mut options = Self {
            worlds: Vec::new(),
            seasons: None,
            seed: 1,
            results: None,
            show: None,
            write_docs: false,
            page: false,
        };
        let mut words = words.filter(|word| word != "--bench");
        while let Some(word) = words.next() {
            let mut value = || words.next().ok_or(format!("{word} needs a value"));
            match word.as_str() {
                "--seasons" => options.seasons = Some(number(&value()?)?),
                "--seed" => options.seed = number(&value()?)?,
                "--results" => options.results = Some(value()?.into()),
                "--show" => options.show = Some(number(&value()?)?),
                "--write-docs" => options.write_docs = true,
                "--page" => options.page = true,
                name => {
                    let world = worlds().into_iter().find(|world| world.name == name);
                    options
                        .worlds
                        .push(world.ok_or(format!("unknown: {name}"))?);
                }
            }
        }
        if options.worlds.is_empty() {
            options.worlds = if options.write_docs {
                worlds()
            } else {
                vec![own()]
            };
        }
        Ok(options)
    }

    /// How many seasons of a world are to be played.
    pub fn seasons_of(&self, world: &World) -> u64 {
        let (own_seasons, others) = AT_LENGTH;
        match self.seasons {
            Some(seasons) => seasons,
            None if !self.write_docs => 30,
            None if world.name == own().name => own_seasons,
            None => others,
        }
    }
}

fn number(text: &str) -> Result<u64, String> {
    text.parse().map_err(|_| format!("no whole number: {text}"))
}
