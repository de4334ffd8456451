//! What a batch's readings now mean, in one sentence, for the answer that follows a recording.
//!
//! Made from the diagnosis alone; the long form is the answer of `suspects`.

use super::numbers::percent;
use super::reasons::label_of;
use super::text::listed;
use crate::diagnosis::answer::{BatchAnswer, SeedlingAnswer, Verdict};
use crate::records::day::Day;

/// A class that the label ends in less often than this is not said to be one of its own.
const WORTH_NAMING: f64 = 0.05;

/// Seedlings of one look and verdict.
struct Alike<'a> {
    count: i64,
    likeliest_off: f64,
    look_again: Option<Day>,
    one: &'a SeedlingAnswer,
}

/// What the readings of a batch now mean; nothing where nothing was read.
#[must_use]
pub fn meaning(batch: &BatchAnswer) -> Option<String> {
    let groups = alike(batch);
    let phrases: Vec<String> = groups.iter().map(|group| phrase(group, batch)).collect();
    (!phrases.is_empty()).then(|| format!("{}.", phrases.join("; ")))
}

/// The seedlings by look and verdict, what needs doing first.
fn alike(batch: &BatchAnswer) -> Vec<Alike<'_>> {
    let mut groups: Vec<Alike<'_>> = Vec::new();
    for one in &batch.seedlings {
        let same = |group: &&mut Alike<'_>| {
            group.one.verdict == one.verdict
                && group.one.reason.loudest.class == one.reason.loudest.class
        };
        match groups.iter_mut().find(same) {
            Some(group) => {
                group.count += one.count;
                group.likeliest_off = group.likeliest_off.max(one.p_off);
                group.look_again = group.look_again.max(one.look_again);
            }
            None => groups.push(Alike {
                count: one.count,
                likeliest_off: one.p_off,
                look_again: one.look_again,
                one,
            }),
        }
    }
    groups.sort_by_key(|group| group.one.verdict);
    groups
}

fn phrase(group: &Alike<'_>, batch: &BatchAnswer) -> String {
    let reason = &group.one.reason;
    let seen = format!("{} {}", group.count, reason.loudest.class);
    let own = reason.label_ends_in_it >= WORTH_NAMING;
    let against = if own {
        String::new()
    } else {
        format!(" where the label allows only {}", allowed(group.one))
    };
    match group.one.verdict {
        Verdict::Cull => format!(
            "{seen}{against}: {} not {} (up to {}), cull",
            if group.count == 1 {
                "almost surely"
            } else {
                "almost surely all"
            },
            label_of(batch),
            percent(group.likeliest_off)
        ),
        Verdict::Wait => {
            let until = reason.rare_from.filter(|day| {
                reason.may_still_turn && group.look_again.is_some_and(|again| *day >= again)
            });
            let possible = match (until, reason.may_still_turn) {
                (Some(day), _) => format!("still possible until about {}, ", day.spoken()),
                (None, true) => "still possible, ".to_owned(),
                (None, false) => String::new(),
            };
            let again = group.look_again.map_or_else(String::new, |day| {
                format!("look again from {}", day.spoken())
            });
            format!("{seen}{against}; {possible}{again}")
        }
        Verdict::Keep => format!("{seen}, as the label promises: keep"),
        Verdict::Unproven => format!(
            "{seen}: nothing speaks against {}, and nothing could have",
            them(group.count)
        ),
        Verdict::Undecided => format!(
            "{seen}{against}: a further look will not settle {} ('locule suspects {}' says what would)",
            them(group.count),
            batch.tray
        ),
    }
}

const fn them(count: i64) -> &'static str {
    if count == 1 { "it" } else { "them" }
}

/// The classes that the label ends in, joined.
fn allowed(one: &SeedlingAnswer) -> String {
    let names: Vec<String> = one
        .reason
        .label_ends_in
        .iter()
        .filter(|(_, p)| *p >= WORTH_NAMING)
        .map(|(name, _)| name.clone())
        .collect();
    listed(&names, "or")
}
