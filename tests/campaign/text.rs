//! Every Unicode scalar in every text: stored as typed or refused, and never raw on a terminal where it could command one.

use std::fs;

use locule::records::code::{Code, fold};
use unicode_normalization::UnicodeNormalization;

use super::judge;
use super::run::{Batch, Plan, Threat, has_program};
use super::scene;
use super::stage::{self, Run};

/// The threat: the rounds are scalars in every field but the remark, which takes all in both forms.
pub const THREAT: Threat = Threat {
    name: "text",
    short: Plan {
        batches: 4,
        rounds: 90,
    },
    long: Plan {
        batches: 64,
        rounds: u64::MAX,
    },
    play,
};

/// Every field that takes a text: the line, with `{}` for the text and `#` for a number.
const FIELDS: &[&str] = &[
    "parent add K# '{}'",
    "parent add K# --species '{}'",
    "cross NL PH --tool '{}' --on 2026-01-12 --even-so",
    "sow X1 --seeds 1 --place '{}' --even-so",
    "sow X1 --seeds 1 --medium '{}' --even-so",
    "sow X1 --seeds 1 --light '{}' --even-so",
    "packet NL --seeds 2 --label '{}'",
    "packet NL --seeds 2 --giver '{}'",
    "packet NL --seeds 2 --kept '{}'",
    "care '{}' NL",
    "care feed NL --product '{}'",
    "care feed NL --dose '{}'",
    "care feed NL --note '{}'",
];

/// Longest text of a remark; of the shortest field.
const LONG: usize = 3900;
const SHORT: usize = 90;

/// Controls (general category Cc) but the line's end, and the property `Bidi_Control` (Unicode 16, PropList.txt).
const fn commands_a_terminal(c: char) -> bool {
    matches!(c, '\0'..='\x1f' | '\x7f'..='\u{9f}' | '\u{61c}' | '\u{200e}' | '\u{200f}'
        | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

fn play(batch: &mut Batch) {
    scene::season(batch.stage);
    let all: Vec<char> = ('\u{1}'..=char::MAX).filter(|c| *c != '\'').collect();
    let share = all.len().div_ceil(batch.of as usize);
    let own: Vec<char> = all
        .into_iter()
        .skip(share * batch.number as usize)
        .take(share)
        .collect();
    let mut taken = Vec::new();
    for piece in own.chunks(LONG) {
        enter(batch, "note NL '{}'", piece, &mut taken);
    }
    batch.count(
        "scalars in remarks",
        taken
            .iter()
            .map(|text: &String| text.chars().count() as u64 - 2)
            .sum(),
    );
    let stored = stored(batch, "remark", "text");
    for text in &taken {
        if !stored.contains(text) {
            batch.fault(
                "altered",
                format!("a remark from {:?}", text.chars().nth(1)),
            );
        }
    }
    on_a_terminal(batch, &["show NL", "history"]);
    exported(batch, &taken);
    fields(batch, &own);
    twins(batch, &own);
}

/// Types a text with some scalars; where it is refused, halves it until the scalars that are refused stand alone.
fn enter(batch: &mut Batch, field: &str, scalars: &[char], taken: &mut Vec<String>) {
    let text: String = format!("x{}x", scalars.iter().collect::<String>());
    let number = batch.counts.get("texts").copied().unwrap_or(0);
    let run = batch
        .stage
        .run(&field.replace('#', &number.to_string()).replace("{}", &text));
    batch.count("texts", 1);
    harmless(batch, field, &run.out);
    harmless(batch, field, &run.err);
    if run.ok() {
        taken.push(text);
    } else if scalars.len() > 1 {
        let (left, right) = scalars.split_at(scalars.len() / 2);
        enter(batch, field, left, taken);
        enter(batch, field, right, taken);
    } else {
        refused(batch, field, scalars, &run);
    }
}

fn refused(batch: &mut Batch, field: &str, scalars: &[char], run: &Run) {
    batch.count("scalars refused", 1);
    let letter = scalars.iter().any(|c| c.is_alphanumeric());
    if run.status != Some(1) || letter {
        batch.fault(
            "refused",
            format!("{field} with {scalars:?}: {}", run.words()),
        );
    }
}

fn harmless(batch: &mut Batch, place: &str, text: &str) {
    if let Some(c) = text
        .chars()
        .find(|c| commands_a_terminal(*c) && !matches!(c, '\n' | '\r'))
    {
        batch.fault(
            "raw",
            format!("U+{:04X} in what {place} prints", u32::from(c)),
        );
    }
}

fn stored(batch: &Batch, table: &str, column: &str) -> std::collections::HashSet<String> {
    let found = judge::column(&batch.stage.ledger(), table, column);
    found.expect("the ledger can be read").into_iter().collect()
}

/// What some questions print through a pseudo-terminal.
fn on_a_terminal(batch: &mut Batch, lines: &[&str]) {
    if !has_program("script") {
        batch.count("skipped: script is missing", 1);
        return;
    }
    for line in lines {
        let mut command = batch.stage.program("script");
        command.args([
            "-qec",
            &format!("'{}' {line}", stage::binary()),
            "/dev/null",
        ]);
        let run = stage::finish(&mut command);
        batch.count("bytes on a terminal", run.out.len() as u64);
        if !run.ok() || run.out.len() < 100 {
            batch.fault(
                "refused",
                format!("{line} on a terminal: {}", run.status.unwrap_or(-1)),
            );
        }
        harmless(batch, &format!("{line} on a terminal"), &run.out);
    }
}

/// The export holds every text as typed.
fn exported(batch: &mut Batch, taken: &[String]) {
    batch.stage.ok("export out.jsonl");
    let export =
        fs::read_to_string(batch.stage.folder().join("out.jsonl")).expect("the export is text");
    let texts: std::collections::HashSet<String> = export
        .lines()
        .filter_map(|line| serde_json::from_str::<serde_json::Value>(line).ok())
        .filter(|line| line["table"] == "remark")
        .filter_map(|line| line["row"]["text"].as_str().map(str::to_owned))
        .collect();
    for text in taken.iter().filter(|text| !texts.contains(*text)) {
        batch.fault(
            "altered",
            format!("an exported remark from {:?}", text.chars().nth(1)),
        );
    }
    harmless(batch, "the export", &batch.stage.ok("export").out.clone());
}

/// The other fields: every scalar in the long form, some and all that command a terminal in the short one.
fn fields(batch: &mut Batch, own: &[char]) {
    let mut some: Vec<char> = own.to_vec();
    if !batch.long {
        some = (0..batch.rounds)
            .map(|_| *batch.chance.one_of(own))
            .collect();
        let strange: Vec<char> = ('\u{1}'..='\u{2069}')
            .filter(|c| commands_a_terminal(*c))
            .collect();
        let number = batch.number as usize;
        some.extend(strange.into_iter().skip(number).step_by(batch.of as usize));
    }
    for field in FIELDS {
        let mut taken = Vec::new();
        for piece in some.chunks(SHORT) {
            enter(batch, field, piece, &mut taken);
        }
        let kept = judge::everything_typed(&batch.stage.ledger()).expect("the ledger can be read");
        for text in taken {
            batch.count("rounds", text.chars().count() as u64 - 2);
            if !kept.contains(&text) {
                batch.fault("altered", format!("{field}: {text:?}"));
            }
        }
    }
    on_a_terminal(batch, &["list", "show NL", "show X1"]);
}

/// A name typed as one scalar and typed as letter and mark is one name.
fn twins(batch: &mut Batch, own: &[char]) {
    let decomposed = |c: &char| c.to_string().nfd().ne(std::iter::once(*c));
    let mut typed = Vec::new();
    for c in own.iter().filter(|c| decomposed(c)) {
        let (one, other) = (format!("K{c}"), format!("K{c}").nfd().collect::<String>());
        let (Ok(_), Ok(_)) = (one.parse::<Code>(), other.parse::<Code>()) else {
            continue;
        };
        batch.count("twins", 1);
        if fold(&one) != fold(&other) {
            batch.fault("twins", format!("{one} and {other}"));
        }
        typed.push((one, other));
    }
    for _ in 0..typed.len().min(10) {
        let (one, other) = batch.chance.one_of(&typed).clone();
        let first = batch.stage.run(&format!("parent add '{one}'"));
        let second = batch.stage.run(&format!("parent add '{other}'"));
        if second.status != Some(1) {
            batch.fault(
                "twins",
                format!("{one} and {other}: {}; {}", first.words(), second.words()),
            );
        }
    }
}
