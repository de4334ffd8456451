//! A tray's answer as the statements look at it, whether it came from the library or from `suspects --json`.

use std::collections::BTreeMap;
use std::fmt;

use locule::diagnosis::answer::{BatchAnswer, SourceShare};
use serde_json::Value;

/// A source's word, with the code it names where it names one.
pub type Origin = (String, Option<String>);

/// A tray's answer.
#[derive(Debug, Clone)]
pub struct View {
    /// The tray.
    pub tray: String,
    /// Living seedlings with a telling reading.
    pub n: i64,
    /// How much of what can go wrong the marker could show.
    pub visibility: f64,
    /// P(source | everything recorded).
    pub sources: Vec<(Origin, f64)>,
    /// Seedlings and tallied looks.
    pub seedlings: Vec<Seedling>,
}

/// The answer for one seedling or one tallied look.
#[derive(Debug, Clone)]
pub struct Seedling {
    /// Its code; nothing for a tallied look.
    pub code: Option<String>,
    /// The newest class of each trait read.
    pub looks: BTreeMap<String, String>,
    /// How many seedlings.
    pub count: i64,
    /// P(not the cross on the label).
    pub p_off: f64,
    /// The verdict's word.
    pub verdict: String,
    /// The day to look again.
    pub look_again: Option<String>,
    /// P(off) by source.
    pub sources: Vec<(Origin, f64)>,
}

impl View {
    /// The view of the library's answer.
    pub fn of(answer: &BatchAnswer) -> Self {
        let shares = |list: &[SourceShare]| list.iter().map(|one| (origin(one), one.p)).collect();
        let seedlings = answer.seedlings.iter().map(|one| Seedling {
            code: one.seedling.clone(),
            looks: one
                .readings
                .iter()
                .map(|seen| (seen.trait_code.clone(), seen.class.clone()))
                .collect(),
            count: one.count,
            p_off: one.p_off,
            verdict: one.verdict.word().to_owned(),
            look_again: one.look_again.map(|day| day.to_string()),
            sources: shares(&one.sources.list()),
        });
        Self {
            tray: answer.tray.clone(),
            n: answer.n,
            visibility: answer.visibility,
            sources: shares(&answer.sources),
            seedlings: seedlings.collect(),
        }
    }

    /// The view of one of the `batches` of `suspects --json`; `looks` gives the class of each trait of a seedling
    /// that stands there by its code alone.
    pub fn read(batch: &Value) -> Self {
        let text = |value: &Value, key: &str| value[key].as_str().map(str::to_owned);
        let number = |value: &Value, key: &str| value[key].as_f64().expect("a number");
        let shares = |value: &Value| -> Vec<(Origin, f64)> {
            let list = value["sources"]
                .as_array()
                .expect("sources are a list")
                .iter();
            list.map(|one| {
                (
                    (
                        text(one, "source").expect("a source has a word"),
                        text(one, "code"),
                    ),
                    number(one, "p"),
                )
            })
            .collect()
        };
        let seedlings = batch["seedlings"]
            .as_array()
            .expect("seedlings are a list")
            .iter();
        let seedling = |one: &Value| {
            let reading = one["reading"]
                .as_object()
                .expect("a seedling has its newest reading");
            Seedling {
                code: text(one, "seedling"),
                looks: reading
                    .iter()
                    .map(|(of, class)| {
                        (
                            of.clone(),
                            class.as_str().expect("a class is a word").to_owned(),
                        )
                    })
                    .collect(),
                count: one["count"].as_i64().unwrap_or(1),
                p_off: number(one, "p_off"),
                verdict: text(one, "verdict").expect("a seedling has a verdict"),
                look_again: text(one, "look_again"),
                sources: shares(one),
            }
        };
        Self {
            tray: text(batch, "tray").expect("a batch has its tray"),
            n: batch["n"].as_i64().expect("a count"),
            visibility: number(batch, "visibility"),
            sources: shares(batch),
            seedlings: seedlings.map(seedling).collect(),
        }
    }

    /// P(a source), summed over the words given.
    pub fn p(&self, words: &[&str], code: Option<&str>) -> f64 {
        let meant = |((word, named), _): &&(Origin, f64)| {
            words.contains(&word.as_str()) && named.as_deref() == code
        };
        self.sources.iter().filter(meant).map(|(_, p)| p).sum()
    }

    /// How many seedlings have a verdict.
    pub fn with_verdict(&self, verdict: &str) -> i64 {
        self.seedlings
            .iter()
            .filter(|one| one.verdict == verdict)
            .map(|one| one.count)
            .sum()
    }

    /// Seedlings whose newest classes hold all of these.
    pub fn looking(&self, classes: &[&str]) -> impl Iterator<Item = &Seedling> {
        let classes: Vec<String> = classes.iter().map(|class| (*class).to_owned()).collect();
        let fits = move |one: &&Seedling| {
            classes
                .iter()
                .all(|class| one.looks.values().any(|seen| seen == class))
        };
        self.seedlings.iter().filter(fits)
    }
}

/// A short page for a statement that fails.
impl fmt::Display for View {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "{}: {} read, visibility {:.3}",
            self.tray, self.n, self.visibility
        )?;
        let shares = |list: &[(Origin, f64)]| {
            let telling = list.iter().filter(|(_, p)| *p >= 0.001);
            let words = telling.map(|((word, code), p)| {
                format!("{word} {} {p:.3}", code.as_deref().unwrap_or(""))
            });
            words.collect::<Vec<_>>().join("; ")
        };
        writeln!(f, "  {}", shares(&self.sources))?;
        for one in &self.seedlings {
            let looks: Vec<&str> = one.looks.values().map(String::as_str).collect();
            let place = one.code.as_deref().unwrap_or("tally");
            writeln!(
                f,
                "  {place} x{} {}: {:.4} {} {:?}; {}",
                one.count,
                looks.join("/"),
                one.p_off,
                one.verdict,
                one.look_again,
                shares(&one.sources)
            )?;
        }
        Ok(())
    }
}

impl Seedling {
    /// The likeliest source of an off-type.
    pub fn likeliest(&self) -> Option<&Origin> {
        likeliest(&self.sources)
    }
}

/// The likeliest of some sources.
pub fn likeliest(sources: &[(Origin, f64)]) -> Option<&Origin> {
    sources
        .iter()
        .max_by(|one, other| one.1.total_cmp(&other.1))
        .map(|(origin, _)| origin)
}

fn origin(share: &SourceShare) -> Origin {
    (
        share.source.word().to_owned(),
        share.source.named().map(|named| named.code.to_string()),
    )
}
