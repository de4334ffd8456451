//! What a correction changes in today's answers: the diagnosis before and after, compared.
//!
//! One comparer for every way of mending the past (`amend`, `undo`, `redo`). It takes two answers that were
//! worked out elsewhere and says where they differ as far as an answer would show it.

use serde::Serialize;

use super::numbers::{percent, share};
use super::suspects::{KEPT, name_members};
use super::text::{listed, wrapped};
use crate::diagnosis::answer::{BatchAnswer, SeedlingAnswer, Source, SourceShare, Suspects};
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::tray::Tray;

/// Chances that differ by less are the same to a grower.
const TELLING: f64 = 0.005;

/// Whether a chance moved by as much as a grower would see.
fn moved(before: f64, after: f64, written: fn(f64) -> String) -> bool {
    (before - after).abs() >= TELLING && written(before) != written(after)
}

/// More groups of seedlings than this of one tray are counted, not named.
const NAMED: usize = 6;

/// More sources of one tray than this are left to the JSON.
const LOUDEST: usize = 3;

/// What changes in today's answers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Consequences {
    /// Tray by tray; none where nothing changes.
    pub trays: Vec<TrayChange>,
    /// Why the answers cannot be compared, where they cannot.
    pub unknown: Option<String>,
}

/// What changes for one tray.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TrayChange {
    /// The tray; by its new code where that changes.
    pub tray: String,
    /// `new` or `gone`, where it was not there before or is no more.
    pub tray_is: Option<&'static str>,
    /// Its label, counts and days: what, before, after.
    pub facts: Vec<FactChange>,
    /// Its seedlings and tallied looks.
    pub seedlings: Vec<SeedlingChange>,
    /// Where its seed came from, what changes most first.
    pub sources: Vec<SourceChange>,
}

/// One fact that changes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FactChange {
    /// Which: `code`, `label`, `sown_on`, `sown`, `up`, `read`, `unscored`.
    pub what: &'static str,
    /// As it was; nothing where not known.
    pub before: Option<String>,
    /// As it is.
    pub after: Option<String>,
}

/// The answer for one seedling or tallied look.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SeedlingChange {
    /// The seedling, or the look of a tally.
    pub seedling: String,
    /// As it was; nothing where there was none.
    pub before: Option<Judged>,
    /// As it is; nothing where there is none any more.
    pub after: Option<Judged>,
}

/// What the diagnosis says of a seedling.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Judged {
    /// How many seedlings.
    pub count: i64,
    /// The verdict; `kept` for one that was adopted, which nobody pulls.
    pub verdict: &'static str,
    /// P(not the cross on the label).
    pub p_off: f64,
    /// When to look again.
    pub look_again: Option<String>,
}

/// How likely a source of a tray's seed is.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SourceChange {
    /// The source.
    pub source: &'static str,
    /// The plant or cross it names.
    pub code: Option<String>,
    /// Probability before.
    pub before: f64,
    /// Probability after.
    pub after: f64,
}

impl Consequences {
    /// The differences of two answers, each with the facts it was made from.
    #[must_use]
    pub fn between(before: (&Facts, &Suspects), after: (&Facts, &Suspects)) -> Self {
        let find = |answers: &'_ Suspects, id: i64| {
            answers.batches.iter().position(|one| one.batch_id == id)
        };
        let (then, today) = ((before.0, before.1.today), (after.0, after.1.today));
        let mut trays = Vec::new();
        for now in &after.1.batches {
            let was = find(before.1, now.batch_id).map(|at| &before.1.batches[at]);
            trays.extend(tray_change(then, today, was, Some(now)));
        }
        for was in &before.1.batches {
            if find(after.1, was.batch_id).is_none() {
                trays.extend(tray_change(then, today, Some(was), None));
            }
        }
        Self {
            trays,
            unknown: None,
        }
    }

    /// That the answers cannot be compared.
    #[must_use]
    pub fn unknown(why: impl Into<String>) -> Self {
        Self {
            trays: Vec::new(),
            unknown: Some(why.into()),
        }
    }

    /// In words, a line for each tray.
    #[must_use]
    pub fn words(&self, width: usize) -> String {
        if let Some(why) = &self.unknown {
            return wrapped(
                &format!("What that changes in today's answers is not known: {why}."),
                width,
                "  ",
            );
        }
        if self.trays.is_empty() {
            return "Nothing in today's answers changes.".to_owned();
        }
        let mut lines = vec!["In today's answers:".to_owned()];
        lines.extend(self.trays.iter().map(|tray| {
            wrapped(
                &format!("  {}: {}", tray.tray, tray.phrases().join("; ")),
                width,
                "  ",
            )
        }));
        lines.join("\n")
    }
}

fn tray_change(
    before: (&Facts, Day),
    after: (&Facts, Day),
    was: Option<&BatchAnswer>,
    now: Option<&BatchAnswer>,
) -> Option<TrayChange> {
    let tray = now.or(was)?.tray.clone();
    let tray_is = match (was, now) {
        (None, _) => Some("new"),
        (_, None) => Some("gone"),
        _ => None,
    };
    let change = TrayChange {
        tray,
        tray_is,
        facts: fact_changes(was.map(|one| (before, one)), now.map(|one| (after, one))),
        seedlings: seedling_changes(was, now),
        sources: match was.zip(now) {
            Some((was, now)) => source_changes(&was.sources, &now.sources),
            None => Vec::new(),
        },
    };
    let nothing = change.tray_is.is_none()
        && change.facts.is_empty()
        && change.seedlings.is_empty()
        && change.sources.is_empty();
    (!nothing).then_some(change)
}

/// A tray's facts by name, in the order in which they are told.
fn facts_of(
    (facts, today): (&Facts, Day),
    answer: &BatchAnswer,
) -> Vec<(&'static str, Option<String>)> {
    let tray = Tray::of(facts, answer.batch_id);
    let up = tray.and_then(|tray| tray.up_by(today));
    let label = match answer.packet {
        true => answer.cross.clone(),
        false => format!("{} ({} x {})", answer.cross, answer.label.0, answer.label.1),
    };
    vec![
        ("code", Some(answer.tray.clone())),
        ("label", Some(label)),
        ("sown_on", Some(answer.sown.to_string())),
        ("sown", tray.map(|tray| tray.batch.seeds.to_string())),
        ("up", up.map(|up| up.to_string())),
        ("read", Some(answer.n.to_string())),
        ("unscored", Some(answer.unscored.to_string())),
    ]
}

fn fact_changes(
    was: Option<((&Facts, Day), &BatchAnswer)>,
    now: Option<((&Facts, Day), &BatchAnswer)>,
) -> Vec<FactChange> {
    let (Some((before, was)), Some((after, now))) = (was, now) else {
        return Vec::new();
    };
    let pairs = facts_of(before, was).into_iter().zip(facts_of(after, now));
    let change = |((what, before), (_, after)): ((&'static str, _), (_, _))| FactChange {
        what,
        before,
        after,
    };
    let changes = pairs.map(change);
    changes
        .filter(|change| change.before != change.after)
        .collect()
}

fn name(one: &SeedlingAnswer) -> String {
    let looks: Vec<String> = one.readings.iter().map(|seen| seen.class.clone()).collect();
    match (&one.seedling, one.cell) {
        (Some(seedling), _) => seedling.clone(),
        (None, Some(cell)) => format!("{} in cell {cell}", looks.join("/")),
        (None, None) => looks.join("/"),
    }
}

fn judged(one: &SeedlingAnswer) -> Judged {
    Judged {
        count: one.count,
        verdict: match one.kept {
            Some(_) => KEPT,
            None => one.verdict.word(),
        },
        p_off: one.p_off,
        look_again: one
            .look_again
            .filter(|_| one.kept.is_none())
            .map(|day| day.to_string()),
    }
}

fn seedling_changes(was: Option<&BatchAnswer>, now: Option<&BatchAnswer>) -> Vec<SeedlingChange> {
    let of = |answer: Option<&BatchAnswer>| -> Vec<(String, Judged)> {
        let seedlings = answer.map(|answer| answer.seedlings.as_slice());
        let seedlings = seedlings.unwrap_or_default().iter();
        seedlings.map(|one| (name(one), judged(one))).collect()
    };
    let (mut old, new) = (of(was), of(now));
    let mut changes = Vec::new();
    for (seedling, after) in new {
        let before = old.iter().position(|(known, _)| *known == seedling);
        let before = before.map(|at| old.remove(at).1);
        if before.as_ref().is_none_or(|before| before.differs(&after)) {
            changes.push(SeedlingChange {
                seedling,
                before,
                after: Some(after),
            });
        }
    }
    changes.extend(old.into_iter().map(|(seedling, before)| SeedlingChange {
        seedling,
        before: Some(before),
        after: None,
    }));
    changes
}

fn source_changes(was: &[SourceShare], now: &[SourceShare]) -> Vec<SourceChange> {
    let p = |list: &[SourceShare], source: &Source| {
        let found = list.iter().find(|share| share.source == *source);
        found.map_or(0.0, |share| share.p)
    };
    let mut all: Vec<&Source> = now.iter().map(|share| &share.source).collect();
    all.extend(was.iter().map(|share| &share.source));
    let mut changes: Vec<SourceChange> = Vec::new();
    for (at, source) in all.iter().enumerate() {
        let (before, after) = (p(was, source), p(now, source));
        if !all[..at].contains(source) && moved(before, after, share) {
            changes.push(SourceChange {
                source: source.word(),
                code: source.named().map(|named| named.code.to_string()),
                before,
                after,
            });
        }
    }
    changes.sort_by(|one, other| other.moves_by().total_cmp(&one.moves_by()));
    changes
}

impl SourceChange {
    fn moves_by(&self) -> f64 {
        (self.before - self.after).abs()
    }

    /// `some selfed 25 % -> 41 %`.
    fn phrase(&self) -> String {
        let code = self.code.as_deref().unwrap_or_default();
        let source = match self.source {
            "none" => "as labelled".to_owned(),
            "self" => "some selfed".to_owned(),
            "all-self" => "all selfed".to_owned(),
            "pollen" => format!("some with pollen of {code}"),
            "all-pollen" => format!("all with pollen of {code}"),
            "stray-seed" => format!("stray seed of {code}"),
            "swapped" if code.is_empty() => "swapped for seed from elsewhere".to_owned(),
            "swapped" => format!("swapped for {code}"),
            "mixed" => "several things at once".to_owned(),
            other => other.replace('-', " "),
        };
        let (was, now) = (share(self.before), share(self.after));
        format!("{source} {was} -> {now}")
    }
}

impl Judged {
    fn differs(&self, other: &Self) -> bool {
        self.verdict != other.verdict
            || self.count != other.count
            || self.look_again != other.look_again
            || moved(self.p_off, other.p_off, percent)
    }
}

impl SeedlingChange {
    fn turns(&self) -> bool {
        let verdict = |judged: &Option<Judged>| judged.as_ref().map(|judged| judged.verdict);
        verdict(&self.before) != verdict(&self.after)
    }

    /// What is said of it after its name: `wait -> cull, off 61 % -> 97 %`.
    fn phrase(&self) -> String {
        match (&self.before, &self.after) {
            (Some(before), Some(after)) => before.turned_into(after),
            (None, Some(after)) => {
                format!("now {}, off {}", after.verdict, percent(after.p_off))
            }
            (Some(before), None) => format!("no longer judged ({})", before.verdict),
            (None, None) => String::new(),
        }
    }
}

impl Judged {
    fn turned_into(&self, after: &Self) -> String {
        let mut parts = Vec::new();
        if self.count != after.count {
            parts.push(format!("{} -> {}", self.count, after.count));
        }
        if self.verdict != after.verdict {
            parts.push(format!("{} -> {}", self.verdict, after.verdict));
        }
        if moved(self.p_off, after.p_off, percent) {
            let (was, now) = (percent(self.p_off), percent(after.p_off));
            parts.push(format!("off {was} -> {now}"));
        }
        if parts.is_empty() {
            let day = |judged: &Self| judged.look_again.clone().unwrap_or("no day".to_owned());
            parts.push(format!("look again {} -> {}", day(self), day(after)));
        }
        parts.join(", ")
    }
}

/// What is said of seedlings, those of whom the same is said together, verdicts that turn first.
fn seedling_phrases(tray: &str, changes: &[SeedlingChange]) -> Vec<String> {
    let mut groups: Vec<(String, Vec<String>)> = Vec::new();
    let (turned, moved): (Vec<_>, Vec<_>) = changes.iter().partition(|one| one.turns());
    for one in turned.into_iter().chain(moved) {
        let phrase = one.phrase();
        match groups.iter_mut().find(|(known, _)| *known == phrase) {
            Some((_, names)) => names.push(one.seedling.clone()),
            None => groups.push((phrase, vec![one.seedling.clone()])),
        }
    }
    let more: usize = groups
        .iter()
        .skip(NAMED)
        .map(|(_, names)| names.len())
        .sum();
    let said = |(phrase, names): &(String, Vec<String>)| {
        let cell = |name: &str| name.strip_prefix(tray)?.strip_prefix('-')?.parse().ok();
        let members = names.iter().map(|name| (Some(name.clone()), cell(name), 1));
        format!(
            "{} {phrase}",
            name_members(tray, &members.collect::<Vec<_>>())
        )
    };
    let mut phrases: Vec<String> = groups.iter().take(NAMED).map(said).collect();
    if more > 0 {
        phrases.push(format!("{more} more judged otherwise"));
    }
    phrases
}

impl TrayChange {
    fn phrases(&self) -> Vec<String> {
        let mut phrases: Vec<String> = Vec::new();
        match self.tray_is {
            Some("new") => phrases.push("now in the ledger".to_owned()),
            Some(_) => phrases.push("no longer in the ledger".to_owned()),
            None => {}
        }
        phrases.extend(self.facts.iter().map(|fact| {
            let said =
                |value: &Option<String>| value.clone().unwrap_or_else(|| "unknown".to_owned());
            let what = fact.what.replace('_', " ");
            format!("{what} {} -> {}", said(&fact.before), said(&fact.after))
        }));
        if self.tray_is.is_none() {
            phrases.extend(seedling_phrases(&self.tray, &self.seedlings));
        }
        let loudest = self.sources.iter().take(LOUDEST);
        let sources: Vec<String> = loudest.map(SourceChange::phrase).collect();
        if !sources.is_empty() {
            phrases.push(format!(
                "where the seed came from: {}",
                listed(&sources, "and")
            ));
        }
        phrases
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chance_moves_where_what_is_shown_of_it_does() {
        for (before, after, wanted) in [
            (0.2365, 0.2436, false),
            (0.2436, 0.2365, false),
            (0.2365, 0.2490, true),
            // Shown with more digits, yet the same to a grower.
            (0.031, 0.034, false),
            (0.0, 0.015, true),
        ] {
            assert_eq!(moved(before, after, percent), wanted, "{before} {after}");
        }
    }
}
