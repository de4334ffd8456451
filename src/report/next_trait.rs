//! The trait to score next, in words: what each class would say.

use serde::Serialize;

use super::numbers::percent;
use super::reasons::{label_of, source_words};
use super::tasting::CRUMB;
use crate::diagnosis::answer::{BatchAnswer, Source};
use crate::diagnosis::telling_trait::{Says, Telling, When};
use crate::records::taste::HOT;

/// A class read less often than this is left out of the words.
const HARDLY: f64 = 0.02;

/// What a class would say, as JSON has it.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct SaysJson<'a> {
    class: &'a str,
    p: f64,
    p_off: f64,
    origins: Vec<super::suspects::ShareJson<'a>>,
}

/// What a trait would tell, as JSON has it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TellingJson<'a> {
    #[serde(rename = "trait")]
    of: &'a str,
    stage: &'a str,
    switched_on: bool,
    again: bool,
    on: Option<String>,
    verdict_bits: f64,
    origin_bits: f64,
    says: Vec<SaysJson<'a>>,
}

impl<'a> TellingJson<'a> {
    /// A trait as JSON has it.
    #[must_use]
    pub fn of(telling: &'a Telling) -> Self {
        let says = |one: &'a Says| SaysJson {
            class: &one.class,
            p: one.p,
            p_off: one.p_off,
            origins: super::suspects::shares(&one.origins),
        };
        Self {
            of: &telling.trait_code,
            stage: &telling.stage,
            switched_on: telling.switched_on,
            again: telling.again,
            on: match telling.when {
                When::On(day) => Some(day.to_string()),
                When::AtItsStage => None,
            },
            verdict_bits: telling.verdict_bits,
            origin_bits: telling.origin_bits,
            says: telling.says.iter().map(says).collect(),
        }
    }
}

/// The likeliest story of a seedling that shows a class.
fn story(one: &Says) -> Source {
    let off = one.origins.first();
    match off {
        Some(share) if one.p_off * share.p > 1.0 - one.p_off => share.source.clone(),
        _ => Source::None,
    }
}

/// What each class would speak for: `hairy for pollen of WH, smooth for a self of MB`; nothing where all classes speak
/// for the same.
#[must_use]
pub fn says_words(telling: &Telling, batch: &BatchAnswer) -> Option<String> {
    let likely: Vec<&Says> = telling.says.iter().filter(|one| one.p >= HARDLY).collect();
    let stories: Vec<Source> = likely.iter().map(|one| story(one)).collect();
    if stories.windows(2).all(|two| two[0] == two[1]) {
        return None;
    }
    let word = |(one, story): (&&Says, &Source)| {
        let what = match story {
            Source::None => label_of(batch),
            other => source_words(other, batch),
        };
        format!("{} for {what}", one.class)
    };
    let words: Vec<String> = likely.iter().zip(&stories).map(word).collect();
    Some(words.join(", "))
}

/// What each class would say of "true or not": `purple: 1.2 % off-type, green: 12 %`.
#[must_use]
pub fn chances_words(telling: &Telling) -> String {
    let likely = telling.says.iter().filter(|one| one.p >= HARDLY);
    let words: Vec<String> = likely
        .map(|one| format!("{}: off-type {}", one.class, percent(one.p_off)))
        .collect();
    words.join(", ")
}

/// The advice in a sentence, for a list: `score stem-hair too: hairy would speak for ...`; of what was read already
/// `look at foliage again from 27 May: ...`.
#[must_use]
pub fn advice(telling: &Telling, batch: &BatchAnswer) -> String {
    let (when, on) = (
        match telling.when {
            When::On(_) => "too".to_owned(),
            When::AtItsStage => format!("at {}", telling.stage),
        },
        match telling.switched_on {
            true => String::new(),
            false => format!(" ('locule trait on {}' first)", telling.trait_code),
        },
    );
    let says = says_words(telling, batch).map_or_else(
        || chances_words(telling),
        |words| words.replacen(" for ", " would speak for ", 1),
    );
    let care = match telling.says.iter().any(|one| one.class == HOT) {
        true => format!(" ({CRUMB})"),
        false => String::new(),
    };
    match telling.when {
        When::On(day) if telling.again => format!(
            "look at {} again from {}{on}: {says}{care}",
            telling.trait_code,
            day.spoken()
        ),
        _ => format!("score {} {when}{on}: {says}{care}", telling.trait_code),
    }
}
