//! The answer of `why` for a seedling of which nothing telling was read: what its tray says of it, and to score it.

use serde::Serialize;

use super::numbers::percent;
use super::reasons::{comes_first, label_of, note_words, source_words};
use super::text::wrapped;
use super::{Answer, Page};
use crate::diagnosis::answer::{BatchAnswer, Source};

/// A source has to be at least this likely to be named.
const WORTH_NAMING: f64 = 0.05;

/// A seedling of which nothing telling was read, and its tray.
#[derive(Debug, Clone, PartialEq)]
pub struct WhyUnscored {
    /// The seedling, by its place.
    pub seedling: String,
    /// What is said of its tray.
    pub batch: BatchAnswer,
}

#[derive(Serialize)]
struct Json<'a> {
    seedling: &'a str,
    tray: &'a str,
    cross: &'a str,
    p_off: f64,
    verdict: Option<&'a str>,
    notes: Vec<String>,
}

impl Serialize for WhyUnscored {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        Json {
            seedling: &self.seedling,
            tray: &self.batch.tray,
            cross: &self.batch.cross,
            p_off: self.batch.p_off_unscored,
            verdict: None,
            notes: self.batch.notes.iter().map(note_words).collect(),
        }
        .serialize(to)
    }
}

impl WhyUnscored {
    /// What may have gone wrong with the tray, the likeliest first.
    fn mishaps(&self) -> Option<String> {
        let worth = |share: &&crate::diagnosis::answer::SourceShare| {
            share.source != Source::None && share.p >= WORTH_NAMING
        };
        let mut likely: Vec<_> = self.batch.sources.iter().filter(worth).collect();
        likely.sort_by(|one, other| other.p.total_cmp(&one.p));
        let named = likely.iter().take(3).map(|share| {
            let source = source_words(&share.source, &self.batch);
            format!("{source} ({})", percent(share.p))
        });
        let named: Vec<String> = named.collect();
        (!named.is_empty()).then(|| {
            format!(
                "What may have happened in {}: {}.",
                self.batch.tray,
                named.join("; ")
            )
        })
    }
}

impl Answer for WhyUnscored {
    fn words(&self, page: Page) -> String {
        let (seedling, batch) = (&self.seedling, &self.batch);
        let rests = match batch.n {
            0 => "by how its flowers were treated alone".to_owned(),
            _ => format!(
                "by how its flowers were treated and what was read of the rest of {}",
                batch.tray
            ),
        };
        let mut said = vec![
            format!(
                "{seedling}: not scored, or not so that it tells anything. The chance that it is not {} is {}, {rests}.",
                label_of(batch),
                percent(batch.p_off_unscored)
            ),
            format!("Next: look at it, and say what is seen: locule score {seedling} CLASS"),
        ];
        said.extend(self.mishaps());
        let first = batch.notes.iter().filter(|note| comes_first(note));
        said.extend(first.map(note_words));
        let lines: Vec<String> = said
            .iter()
            .map(|line| wrapped(line, page.width, "  "))
            .collect();
        lines.join("\n")
    }
}
