//! What a batch's readings now mean, in one sentence, for the answer that follows a recording.
//!
//! Made from the diagnosis alone; the long form is the answer of `suspects`.

use super::adopted::kept_words;
use super::numbers::percent;
use super::reasons::{is_stale, label_of, lagging_pot, light_is_proven, likely_doubt, overdue};
use super::remarks::{parent_words, remark};
use super::text::listed;
use crate::diagnosis::answer::{BatchAnswer, EvidenceNote, SeedlingAnswer, Verdict};
use crate::records::day::Day;

/// A class that the label ends in less often than this is not said to be one of its own.
const WORTH_NAMING: f64 = 0.05;

/// Seedlings of one look and verdict.
struct Alike<'a> {
    count: i64,
    least_off: f64,
    look_again: Option<Day>,
    one: &'a SeedlingAnswer,
}

/// What the readings of a batch now mean; nothing where nothing was read.
#[must_use]
pub fn meaning(batch: &BatchAnswer) -> Option<String> {
    let groups = alike(batch);
    let mut phrases: Vec<(Vec<String>, i64, String)> = Vec::new();
    for group in &groups {
        let seen = format!("{} {}", group.count, look_of(group.one));
        let for_many = phrase(group, batch, 2);
        match phrases.iter_mut().find(|(_, _, known)| *known == for_many) {
            Some((looks, count, _)) => {
                looks.push(seen);
                *count += group.count;
            }
            None => phrases.push((vec![seen], group.count, for_many)),
        }
    }
    // Said of one seedling or of several: the number is known only now.
    let said = |(looks, count, for_many): &(Vec<String>, i64, String)| {
        let group = groups
            .iter()
            .find(|group| phrase(group, batch, 2) == *for_many)
            .expect("every phrase is of some group");
        format!("{}{}", listed(looks, "and"), phrase(group, batch, *count))
    };
    let phrases: Vec<String> = phrases.iter().map(said).collect();
    let left_out = |note: &&EvidenceNote| {
        matches!(
            note,
            EvidenceNote::TraitLeftOut { .. } | EvidenceNote::TooLarge { .. }
        )
    };
    let left_out = batch.notes.iter().filter(left_out).filter_map(remark);
    let now = (!phrases.is_empty()).then(|| format!("{}.", phrases.join("; ")));
    let said: Vec<String> = left_out.chain(now).collect();
    (!said.is_empty()).then(|| said.join(" "))
}

/// What a seedling looks like, in every trait read of it: `purple/hairy`.
fn look_of(one: &SeedlingAnswer) -> String {
    let mut seen: Vec<(&str, &str)> = one
        .readings
        .iter()
        .map(|seen| (seen.trait_code.as_str(), seen.class.as_str()))
        .collect();
    seen.sort_unstable();
    let classes: Vec<&str> = seen.into_iter().map(|(_, class)| class).collect();
    classes.join("/")
}

/// The seedlings by look and verdict, what needs doing first.
fn alike(batch: &BatchAnswer) -> Vec<Alike<'_>> {
    let mut groups: Vec<Alike<'_>> = Vec::new();
    for one in &batch.seedlings {
        let same = |group: &&mut Alike<'_>| {
            group.one.kept == one.kept
                && group.one.verdict == one.verdict
                && look_of(group.one) == look_of(one)
        };
        match groups.iter_mut().find(same) {
            Some(group) => {
                group.count += one.count;
                group.least_off = group.least_off.min(one.p_off);
                group.look_again = group.look_again.min(one.look_again);
            }
            None => groups.push(Alike {
                count: one.count,
                least_off: one.p_off,
                look_again: one.look_again,
                one,
            }),
        }
    }
    groups.sort_by_key(|group| group.one.verdict);
    groups
}

/// What is said of the looks of a group, `count` seedlings in all.
fn phrase(group: &Alike<'_>, batch: &BatchAnswer, count: i64) -> String {
    if let Some(kept) = &group.one.kept {
        return format!(": {}", kept_words(kept));
    }
    let reason = &group.one.reason;
    let own = reason.label_ends_in_it >= WORTH_NAMING;
    let open = batch.notes.iter().find_map(|note| match note {
        EvidenceNote::OpenParent {
            plant,
            likelier,
            class,
            p,
            ..
        } if *class == reason.loudest.class => Some((plant, likelier, p)),
        _ => None,
    });
    let against = if own {
        String::new()
    } else if let Some(before) = &reason.turned_before {
        format!(
            ", though {} {} before, which does not turn back",
            if count == 1 { "it was" } else { "they were" },
            before.class
        )
    } else if let Some((plant, likelier, p)) = open {
        let p = percent(*p);
        format!(", as the label gives too if {plant} is {likelier} ({p})")
    } else {
        format!(" where the label allows only {}", allowed(group.one))
    };
    match group.one.verdict {
        Verdict::Cull => format!(
            "{against}: {} not {} ({} or more), cull",
            if count == 1 {
                "almost surely"
            } else {
                "almost surely all"
            },
            label_of(batch),
            percent(group.least_off)
        ),
        Verdict::Wait => {
            let until = reason.rare_from.filter(|day| {
                reason.may_still_turn && group.look_again.is_some_and(|again| *day >= again)
            });
            let possible = match (until, reason.may_still_turn) {
                _ if reason.turned_before.is_some() => String::new(),
                _ if overdue(group.one) => "late by now, ".to_owned(),
                (Some(day), _) => format!("still possible until about {}, ", day.spoken()),
                (None, true) => "still possible, ".to_owned(),
                (None, false) => String::new(),
            };
            let again = group.look_again.map_or_else(String::new, |day| {
                if is_stale(group.one) {
                    return format!(
                        "last seen {}: look now, if it still stands",
                        reason.loudest.day
                    );
                }
                format!("look again from {}", day.spoken())
            });
            format!("{against}; {possible}{again}")
        }
        Verdict::Keep => ", as the label promises: keep".to_owned(),
        Verdict::Unproven if open.is_some() && !own => format!(
            "{against}: nothing speaks against {0}, and nothing proves {0}",
            them(count)
        ),
        Verdict::Unproven if overdue(group.one) && !own => overdue_words(&against, batch),
        Verdict::Unproven => format!(
            ": nothing speaks against {}, and nothing could have",
            them(count)
        ),
        Verdict::Undecided => format!(
            "{against}: the same look at {} once more would not settle {} ('locule suspects {}' says what may)",
            reason.newest_trait,
            them(count),
            batch.tray
        ),
    }
}

/// What to do with a seedling that should have turned and may yet: no parent is set against the light while a control pot
/// beside it lags too.
fn overdue_words(against: &str, batch: &BatchAnswer) -> String {
    match (lagging_pot(batch), likely_doubt(batch)) {
        (Some(pot), _) => format!(
            "{against}: the control pot {pot} beside it has not turned either; give both more light, then look again"
        ),
        (None, Some(doubt)) => format!(
            "{against}: {} is more likely not {} ({}); {}",
            doubt.plant,
            doubt.stated,
            percent(doubt.p),
            parent_words(doubt)
        ),
        (None, None) if light_is_proven(batch) => {
            format!("{against}, though the light there is good: look again")
        }
        (None, None) => {
            format!("{against}: more likely the light than the seed; give light, then look again")
        }
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
