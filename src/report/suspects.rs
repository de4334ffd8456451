//! The answer of `suspects`: which seedlings look like contaminants, why, and whose pollen it was.

use std::collections::BTreeMap;

use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

use super::adopted::{KeptJson, kept_words};
use super::next_trait::{TellingJson, advice};
use super::numbers::percent;
use super::reasons::{
    anything_scored, changed_words, comes_first, culling_words, is_declined, label_of, legend,
    note_words, readings_words, source_words, sources_line, visibility_words, why,
};
use super::remark_json::RemarkJson;
use super::supposing::{TrialJson, unless_words};
use super::table::Table;
use super::text::{capital, wrapped};
use super::{Answer, Page};
use crate::diagnosis::answer::{
    BatchAnswer, Doubt, EvidenceNote, SeedlingAnswer, Seen, Source, SourceShare, Suspects, Verdict,
};
use crate::records::rows::Sureness;

/// The verdicts in the order in which they are listed.
pub const LISTED: [Verdict; 5] = [
    Verdict::Cull,
    Verdict::Wait,
    Verdict::Keep,
    Verdict::Unproven,
    Verdict::Undecided,
];

/// The diagnosis, to be shown.
#[derive(Debug, Clone, Copy)]
pub struct SuspectsAnswer<'a>(pub &'a Suspects);

/// A source with its probability, as JSON has it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ShareJson<'a>(&'a Source, f64);

impl Serialize for ShareJson<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("source", self.0.word())?;
        match (self.0, self.0.named()) {
            (_, Some(named)) => map.serialize_entry("code", &*named.code)?,
            (Source::Swapped(None), None) => map.serialize_entry("code", &None::<String>)?,
            _ => {}
        }
        map.serialize_entry("p", &self.1)?;
        map.end()
    }
}

/// Readings by trait, as JSON has them.
pub(super) struct ReadingJson<'a>(pub(super) &'a [Seen]);

impl Serialize for ReadingJson<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.0.len()))?;
        for seen in self.0 {
            let doubtful = if seen.sureness == Sureness::Doubtful {
                "maybe-"
            } else {
                ""
            };
            map.serialize_entry(&seen.trait_code, &format!("{doubtful}{}", seen.class))?;
        }
        map.end()
    }
}

#[derive(Serialize)]
pub(super) struct SeedlingJson<'a> {
    seedling: Option<&'a str>,
    cell: Option<i64>,
    reading: ReadingJson<'a>,
    read_on: String,
    count: i64,
    p_off: f64,
    verdict: &'static str,
    look_again: Option<String>,
    kept_as: Option<KeptJson<'a>>,
    why: String,
    times_as_likely_off: f64,
    sources: Vec<ShareJson<'a>>,
    if_otherwise: Vec<TrialJson<'a>>,
    next_trait: Option<TellingJson<'a>>,
    settling: Option<TellingJson<'a>>,
}

#[derive(Serialize)]
struct BatchJson<'a> {
    tray: &'a str,
    cross: &'a str,
    packet: bool,
    mother: &'a str,
    father: &'a str,
    sown: String,
    n: i64,
    unscored: i64,
    not_scored: &'a [String],
    p_off_unscored: f64,
    visibility: f64,
    sources: Vec<ShareJson<'a>>,
    visible: Vec<ShareJson<'a>>,
    seedlings: Vec<SeedlingJson<'a>>,
    true_lost_by_culling: f64,
    off_left_by_keeping: f64,
    parents_doubted: Vec<DoubtJson<'a>>,
    notes: Vec<String>,
    remarks: Vec<RemarkJson<'a>>,
}

/// How far a stated parent is doubted, as JSON has it.
#[derive(Serialize)]
struct DoubtJson<'a> {
    plant: &'a str,
    stated: &'a str,
    p: f64,
}

impl<'a> From<&'a Doubt> for DoubtJson<'a> {
    fn from(doubt: &'a Doubt) -> Self {
        Self {
            plant: &doubt.plant,
            stated: &doubt.stated,
            p: doubt.p,
        }
    }
}

#[derive(Serialize)]
struct SuspectsJson<'a> {
    today: String,
    changed_beliefs: BTreeMap<&'static str, f64>,
    batches: Vec<BatchJson<'a>>,
}

pub(super) fn shares(list: &[SourceShare]) -> Vec<ShareJson<'_>> {
    list.iter()
        .map(|share| ShareJson(&share.source, share.p))
        .collect()
}

/// A seedling as JSON has it, with the sentence that says why.
pub(super) fn seedling_json(one: &SeedlingAnswer, why: String) -> SeedlingJson<'_> {
    SeedlingJson {
        seedling: one.seedling.as_deref(),
        cell: one.cell,
        reading: ReadingJson(&one.readings),
        read_on: one.reason.loudest.day.to_string(),
        count: one.count,
        p_off: one.p_off,
        verdict: one.verdict.word(),
        look_again: one.look_again.map(|day| day.to_string()),
        kept_as: one.kept.as_ref().map(KeptJson::of),
        why,
        times_as_likely_off: one.reason.times_as_likely_off,
        sources: one
            .sources
            .iter()
            .map(|share| ShareJson(share.source, share.p))
            .collect(),
        if_otherwise: one.trials.iter().map(TrialJson::of).collect(),
        next_trait: one.next_trait.as_ref().map(TellingJson::of),
        settling: one.settling.as_ref().map(TellingJson::of),
    }
}

fn batch_json(batch: &BatchAnswer) -> BatchJson<'_> {
    BatchJson {
        tray: &batch.tray,
        cross: &batch.cross,
        packet: batch.packet,
        mother: &batch.label.0,
        father: &batch.label.1,
        sown: batch.sown.to_string(),
        n: batch.n,
        unscored: batch.unscored,
        not_scored: &batch.known_unscored,
        p_off_unscored: batch.p_off_unscored,
        visibility: batch.visibility,
        sources: shares(&batch.sources),
        visible: shares(&batch.visible),
        seedlings: batch
            .seedlings
            .iter()
            .map(|one| seedling_json(one, why(one, batch)))
            .collect(),
        // An empty sum may be a negative zero.
        true_lost_by_culling: batch.true_lost_by_culling + 0.0,
        off_left_by_keeping: batch.off_left_by_keeping + 0.0,
        parents_doubted: batch.doubts.iter().map(DoubtJson::from).collect(),
        notes: batch.notes.iter().map(note_words).collect(),
        remarks: RemarkJson::all(&batch.notes),
    }
}

impl Serialize for SuspectsAnswer<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let today = self.0.today.to_string();
        SuspectsJson {
            today,
            changed_beliefs: self.0.changed_beliefs.iter().copied().collect(),
            batches: self.0.batches.iter().map(batch_json).collect(),
        }
        .serialize(serializer)
    }
}

/// Seedlings of one batch with the same verdict for the same reason: one line of a list.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// The verdict.
    pub verdict: Verdict,
    /// Which seedlings: `T1-07`, `T1-01 to 06, 09`, `2 in T1-03`, `2 anywhere in T1`.
    pub whom: String,
    /// How many.
    pub count: i64,
    /// The newest readings.
    pub looks: String,
    /// The chance of being off-type, in words.
    pub p_off: String,
    /// The same as a number, of the likeliest of them.
    pub chance: f64,
    /// When to look again.
    pub look_again: Option<crate::records::day::Day>,
    /// Why, and what would make a cull none.
    pub why: String,
    /// What would make a cull none, alone.
    pub unless: Option<String>,
    /// Each seedling, or each tallied look, it is about: name, cell, how many.
    pub members: Vec<(Option<String>, Option<i64>, i64)>,
    /// Whether they were adopted: they are not pulled, whatever the verdict on their label.
    pub kept: bool,
}

impl Line {
    /// What is done with them: the verdict, or that they are kept as something else.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        if self.kept { KEPT } else { self.verdict.word() }
    }
}

/// What stands in the place of a verdict on a seedling that was adopted.
pub const KEPT: &str = "kept";

/// The lines of a batch, by verdict in the order listed, then by how suspect they are.
#[must_use]
pub fn lines_of(batch: &BatchAnswer) -> Vec<Line> {
    let mut sorted: Vec<&SeedlingAnswer> = batch.seedlings.iter().collect();
    let rank = |one: &SeedlingAnswer| LISTED.iter().position(|verdict| *verdict == one.verdict);
    sorted.sort_by(|one, other| {
        let is_kept = |one: &SeedlingAnswer| one.kept.is_some();
        is_kept(one)
            .cmp(&is_kept(other))
            .then(rank(one).cmp(&rank(other)))
            .then(one.look_again.cmp(&other.look_again))
            .then(other.p_off.total_cmp(&one.p_off))
            .then(one.cell.cmp(&other.cell))
            .then(one.seedling.cmp(&other.seedling))
    });
    let mut lines: Vec<Line> = Vec::new();
    for one in sorted {
        let line = Line {
            verdict: one.verdict,
            whom: String::new(),
            count: one.count,
            looks: readings_words(one),
            p_off: percent(one.p_off),
            chance: one.p_off,
            look_again: one.look_again.filter(|_| one.kept.is_none()),
            why: why_and_unless(one, batch),
            unless: unless_words(one).filter(|_| one.kept.is_none()),
            kept: one.kept.is_some(),
            members: vec![(one.seedling.clone(), one.cell, one.count)],
        };
        let same = lines.iter_mut().find(|known| {
            (known.word(), &known.looks, &known.p_off, &known.why)
                == (line.word(), &line.looks, &line.p_off, &line.why)
        });
        match same {
            Some(known) => {
                known.count += line.count;
                known.members.extend(line.members);
            }
            None => lines.push(line),
        }
    }
    let mut lines = same_reason_together(lines);
    for line in &mut lines {
        line.members
            .sort_by(|one, other| one.1.cmp(&other.1).then(one.0.cmp(&other.0)));
        line.whom = name_members(&batch.tray, &line.members);
    }
    lines
}

/// Why the verdict fell as it did, and what would make a cull none.
fn why_and_unless(one: &SeedlingAnswer, batch: &BatchAnswer) -> String {
    if let Some(kept) = &one.kept {
        return format!("{}.", capital(&kept_words(kept)));
    }
    match unless_words(one) {
        Some(unless) => format!("{} {unless}", why(one, batch)),
        None => why(one, batch),
    }
}

/// Lines of one verdict, day and reason brought together, otherwise in their order.
fn same_reason_together(lines: Vec<Line>) -> Vec<Line> {
    let mut sorted: Vec<Line> = Vec::with_capacity(lines.len());
    for line in lines {
        let same = |known: &Line| {
            (known.verdict, known.look_again, &known.why)
                == (line.verdict, line.look_again, &line.why)
        };
        match sorted.iter().rposition(same) {
            Some(at) => sorted.insert(at + 1, line),
            None => sorted.push(line),
        }
    }
    sorted
}

/// Names seedlings, those of neighbouring cells as a range.
/// Seedlings by their names, cells that follow one another as one: `T1-01 to 06, T1-09`.
pub(super) fn name_members(tray: &str, members: &[(Option<String>, Option<i64>, i64)]) -> String {
    let mut names: Vec<String> = Vec::new();
    let mut run: Vec<i64> = Vec::new();
    let plain = |name: &str, cell: i64| name == format!("{tray}-{cell:02}");
    for (name, cell, count) in members {
        match (name, cell) {
            (Some(name), Some(cell)) if plain(name, *cell) => {
                if run.last().is_some_and(|last| last + 1 != *cell) {
                    names.push(name_run(tray, &std::mem::take(&mut run)));
                }
                run.push(*cell);
                continue;
            }
            _ => {}
        }
        if !run.is_empty() {
            names.push(name_run(tray, &std::mem::take(&mut run)));
        }
        names.push(match (name, cell) {
            (Some(name), _) => name.clone(),
            (None, Some(cell)) => format!("{count} in {tray}-{cell:02}"),
            (None, None) => format!("{count} in {tray}"),
        });
    }
    if !run.is_empty() {
        names.push(name_run(tray, &run));
    }
    names.join(", ")
}

fn name_run(tray: &str, cells: &[i64]) -> String {
    match cells {
        [one] => format!("{tray}-{one:02}"),
        [first, .., last] => format!("{tray}-{first:02} to {last:02}"),
        [] => String::new(),
    }
}

/// The heading of a batch: tray, cross, sowing, how many were scored.
#[must_use]
pub fn heading(batch: &BatchAnswer) -> String {
    let what = if batch.packet { "packet of" } else { "cross" };
    let waiting = if batch.unscored > 0 {
        format!(", {} not yet", batch.unscored)
    } else {
        String::new()
    };
    let pair = if batch.packet {
        String::new()
    } else {
        format!(", {}", label_of(batch))
    };
    format!(
        "{}: {what} {}{pair}, sown {}; {} scored{waiting}",
        batch.tray, batch.cross, batch.sown, batch.n
    )
}

/// The lines as a table, the reason under the last line that it is about.
fn table_of(lines: &[Line], page: Page) -> String {
    let mut table = Table::new(&["verdict", "seedlings", "looks", ">off-type"]);
    for (at, line) in lines.iter().enumerate() {
        table.row([line.word(), &line.whom, &line.looks, &line.p_off]);
        if ends_its_reason(lines, at) {
            table.remark(&line.why);
        }
    }
    table.text(page)
}

/// Whether the next line has another reason.
fn ends_its_reason(lines: &[Line], at: usize) -> bool {
    lines.get(at + 1).is_none_or(|next| {
        (next.verdict, next.look_again, &next.why)
            != (lines[at].verdict, lines[at].look_again, &lines[at].why)
    })
}

/// What stands under everything: what the verdicts mean, which beliefs are not the usual ones.
fn foot(found: &Suspects, page: Page) -> Option<String> {
    let mut said = legend(&found.batches);
    said.extend(changed_words(&found.changed_beliefs));
    let wrap = |line: &String| wrapped(line, page.width, "  ");
    (!said.is_empty()).then(|| said.iter().map(wrap).collect::<Vec<_>>().join("\n"))
}

fn batch_words(batch: &BatchAnswer, page: Page) -> String {
    let mut parts = vec![wrapped(&heading(batch), page.width, "  ")];
    for note in batch.notes.iter().filter(|note| comes_first(note)) {
        parts.push(wrapped(&note_words(note), page.width, ""));
    }
    let lines = lines_of(batch);
    if !lines.is_empty() {
        parts.push(table_of(&lines, page));
    }
    let mut said = Vec::new();
    let is_weighed = !is_declined(batch);
    if is_weighed && anything_scored(batch) {
        said.push(format!(
            "How likely each story is: {}.",
            sources_line(batch)
        ));
    }
    said.extend(whose(batch));
    said.extend(what_would_tell(batch));
    said.extend(what_would_settle(batch));
    if is_weighed {
        said.push(visibility_words(batch));
    }
    if lines
        .iter()
        .any(|line| line.verdict == Verdict::Cull && !line.kept)
    {
        said.push(culling_words(
            batch.true_lost_by_culling,
            batch.off_left_by_keeping,
        ));
    }
    said.extend(
        batch
            .notes
            .iter()
            .filter(|note| !comes_first(note) && **note != EvidenceNote::NothingReads)
            .map(note_words),
    );
    parts.push(
        said.iter()
            .map(|line| wrapped(line, page.width, "  "))
            .collect::<Vec<_>>()
            .join("\n"),
    );
    parts.join("\n\n")
}

/// Whose pollen or seed the culls are, over all of them.
fn whose(batch: &BatchAnswer) -> Option<String> {
    let culls: Vec<&SeedlingAnswer> = batch
        .seedlings
        .iter()
        .filter(|one| one.verdict == Verdict::Cull && one.kept.is_none())
        .collect();
    let count: i64 = culls.iter().map(|one| one.count).sum();
    if count == 0 {
        return None;
    }
    let mut sums: Vec<(&Source, f64)> = Vec::new();
    for one in &culls {
        for share in one.sources.iter() {
            let p = share.p * one.count as f64 / count as f64;
            match sums.iter_mut().find(|(source, _)| *source == share.source) {
                Some((_, sum)) => *sum += p,
                None => sums.push((share.source, p)),
            }
        }
    }
    sums.sort_by(|one, other| other.1.total_cmp(&one.1));
    let words: Vec<String> = sums
        .iter()
        .filter(|(_, p)| *p >= 0.01)
        .take(4)
        .map(|(source, p)| format!("{} {}", source_words(source, batch), percent(*p)))
        .collect();
    let culls = match count {
        1 => "the cull comes".to_owned(),
        many => format!("the {many} culls come"),
    };
    Some(format!("Where {culls} from: {}.", words.join("; ")))
}

/// What to score next to tell the donors of the suspects apart, each trait once.
fn what_would_tell(batch: &BatchAnswer) -> Vec<String> {
    let suspects = batch.seedlings.iter();
    let told = suspects.filter_map(|one| one.next_trait.as_ref());
    let mut traits: Vec<&str> = Vec::new();
    let mut said = Vec::new();
    for telling in told {
        if !traits.contains(&telling.trait_code.as_str()) {
            traits.push(&telling.trait_code);
            said.push(format!(
                "To tell whose pollen it was, {}.",
                advice(telling, batch)
            ));
        }
    }
    said
}

/// What several trays ask for, in a few lines: which hold culls, which are to be looked at again and when, which are
/// undecided or not scored.
fn to_do(batches: &[BatchAnswer]) -> Vec<String> {
    let count = |batch: &BatchAnswer, verdict: Verdict| -> i64 {
        let stands = |one: &&SeedlingAnswer| one.verdict == verdict && one.kept.is_none();
        batch
            .seedlings
            .iter()
            .filter(stands)
            .map(|one| one.count)
            .sum()
    };
    let of = |verdict: Verdict| -> Vec<String> {
        let counted = batches
            .iter()
            .map(|batch| (count(batch, verdict), &batch.tray));
        let some = counted.filter(|(count, _)| *count > 0);
        some.map(|(count, tray)| format!("{count} in {tray}"))
            .collect()
    };
    let waiting = |batch: &BatchAnswer| {
        let seedlings = batch.seedlings.iter().filter(|one| one.kept.is_none());
        let first = seedlings.filter_map(|one| one.look_again).min()?;
        Some(format!("{} from {}", batch.tray, first.spoken()))
    };
    let unscored = batches.iter().filter(|batch| batch.unscored > 0);
    let unscored = unscored.map(|batch| format!("{} in {}", batch.unscored, batch.tray));
    let lines = [
        ("Pull", of(Verdict::Cull)),
        ("Look again", batches.iter().filter_map(waiting).collect()),
        ("Undecided", of(Verdict::Undecided)),
        ("Not scored", unscored.collect()),
    ];
    let said: Vec<String> = lines
        .into_iter()
        .filter(|(_, trays)| !trays.is_empty())
        .map(|(what, trays)| format!("{what}: {}.", trays.join(", ")))
        .collect();
    match said.is_empty() {
        true => vec!["Nothing to pull and nothing to look at again.".to_owned()],
        false => said,
    }
}

/// The look that would settle most of those that are undecided, for each look that they have.
#[must_use]
pub fn what_would_settle(batch: &BatchAnswer) -> Vec<String> {
    let mut said: Vec<(String, Vec<String>)> = Vec::new();
    for one in &batch.seedlings {
        let Some(telling) = &one.settling else {
            continue;
        };
        let (advice, looks) = (advice(telling, batch), readings_words(one));
        match said.iter_mut().find(|(known, _)| *known == advice) {
            Some((_, of)) if of.contains(&looks) => {}
            Some((_, of)) => of.push(looks),
            None => said.push((advice, vec![looks])),
        }
    }
    let sentence = |(advice, of): (String, Vec<String>)| {
        format!(
            "To settle the undecided ones ({}), {advice}.",
            of.join("; ")
        )
    };
    said.into_iter().map(sentence).collect()
}

impl Answer for SuspectsAnswer<'_> {
    fn words(&self, page: Page) -> String {
        if self.0.batches.is_empty() {
            return "Nothing was sown yet.".to_owned();
        }
        let batches = &self.0.batches;
        let mut parts: Vec<String> = Vec::new();
        if batches.len() > 1 {
            let lines = to_do(batches).into_iter();
            let lines: Vec<String> = lines.map(|line| wrapped(&line, page.width, "  ")).collect();
            parts.push(lines.join("\n"));
        }
        parts.extend(batches.iter().map(|batch| batch_words(batch, page)));
        parts.extend(foot(self.0, page));
        parts.join("\n\n\n")
    }
}
