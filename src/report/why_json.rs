//! The argument for one seedling as JSON has it: all of it, nothing rounded or left out.

use serde::{Serialize, Serializer};

use super::next_trait::TellingJson;
use super::reasons::{class_seen, label_of, note_words};
use super::remark_json::RemarkJson;
use super::supposing::TrialJson;
use super::suspects::{SeedlingJson, ShareJson, seedling_json, shares};
use super::why::{WhyAnswer, fate_word, without_words};
use crate::diagnosis::telling_trait::by_origin;
use crate::diagnosis::why::{Curve, Marked, Step, Without};

#[derive(Serialize)]
struct MarkedJson<'a> {
    class: String,
    on: String,
    age: f64,
    shown_by_then: f64,
    #[serde(rename = "trait")]
    of: &'a str,
}

#[derive(Serialize)]
struct CurveJson<'a> {
    #[serde(rename = "trait")]
    of: &'a str,
    late: &'a [String],
    median_days: f64,
    spread: f64,
    ceiling: f64,
    readings: Vec<MarkedJson<'a>>,
}

#[derive(Serialize)]
struct SourceJson<'a> {
    source: &'static str,
    code: Option<&'a str>,
    before: f64,
    now: f64,
    predicts: Option<f64>,
    seedling: f64,
}

#[derive(Serialize)]
struct StepJson {
    step: &'static str,
    what: String,
    p_off: f64,
}

#[derive(Serialize)]
struct NextJson<'a> {
    missing_verdict_bits: f64,
    missing_origin_bits: f64,
    traits: Vec<TellingJson<'a>>,
    nothing_known: &'a [String],
    too_large: &'a [String],
}

#[derive(Serialize)]
struct WhyJson<'a> {
    today: String,
    tray: &'a str,
    label: String,
    seedling: SeedlingJson<'a>,
    gone: bool,
    fate: Option<&'static str>,
    what_next: String,
    thresholds: [f64; 2],
    origins: Vec<ShareJson<'a>>,
    curve: Option<CurveJson<'a>>,
    sources: Vec<SourceJson<'a>>,
    steps: Vec<StepJson>,
    without: Vec<StepJson>,
    if_otherwise: Vec<TrialJson<'a>>,
    next: NextJson<'a>,
    notes: Vec<String>,
    remarks: Vec<RemarkJson<'a>>,
}

fn curve_json(curve: &Curve) -> CurveJson<'_> {
    let mark = |marked: &'_ Marked| MarkedJson {
        class: class_seen(&marked.seen),
        on: marked.seen.day.to_string(),
        age: marked.age,
        shown_by_then: marked.shown,
        of: &curve.trait_code,
    };
    CurveJson {
        of: &curve.trait_code,
        late: &curve.late,
        median_days: curve.onset.median_days,
        spread: curve.onset.spread,
        ceiling: curve.onset.ceiling,
        readings: curve.readings.iter().map(mark).collect(),
    }
}

impl Serialize for WhyAnswer {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let answer = &self.0;
        let origins = by_origin(&answer.one.sources.list());
        let sources = answer.sources.iter().map(|line| SourceJson {
            source: line.source.word(),
            code: line.source.named().map(|named| &*named.code),
            before: line.before,
            now: line.now,
            predicts: line.predicts,
            seedling: line.seedling,
        });
        let step = |(step, p_off): &(Step, f64)| StepJson {
            step: match step {
                Step::Before => "before",
                Step::Others { .. } => "others",
                Step::Own(_) => "own",
            },
            what: self.step_words(step),
            p_off: *p_off,
        };
        let without = |(without, p_off): &(Without, f64)| StepJson {
            step: match without {
                Without::Tray(_) => "without-tray",
                Without::OtherTrays(_) => "without-other-trays",
                Without::LightProof => "without-light-proof",
                Without::LightDoubt => "light-good",
            },
            what: without_words(without),
            p_off: *p_off,
        };
        WhyJson {
            today: answer.today.to_string(),
            tray: &answer.batch.tray,
            label: label_of(&answer.batch),
            seedling: seedling_json(&answer.one, self.because()),
            gone: answer.is_gone,
            fate: answer.fate.map(fate_word),
            what_next: self.what_next(),
            thresholds: [answer.thresholds.0, answer.thresholds.1],
            origins: shares(&origins),
            curve: answer.curve.as_ref().map(curve_json),
            sources: sources.collect(),
            steps: answer.steps.iter().map(step).collect(),
            without: answer.without.iter().map(without).collect(),
            if_otherwise: answer.trials.iter().map(TrialJson::of).collect(),
            next: NextJson {
                missing_verdict_bits: answer.next.verdict_bits,
                missing_origin_bits: answer.next.origin_bits,
                traits: answer.next.telling.iter().map(TellingJson::of).collect(),
                nothing_known: &answer.next.silent,
                too_large: &answer.next.declined,
            },
            notes: answer.batch.notes.iter().map(note_words).collect(),
            remarks: RemarkJson::all(&answer.batch.notes),
        }
        .serialize(serializer)
    }
}
