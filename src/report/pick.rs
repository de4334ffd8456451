//! The answer of `pick`: keep these, pull those, spare this one until a day; cross by cross.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::paper::{Block, PAGE_COLUMNS, on_paper};
use super::pick_commands::commands;
use super::pick_summary::{foot, summary};
use super::pick_words::{chance_words, cross_blocks, markdown, said_of};
use super::reasons::{comes_first, label_of, note_words, readings_words};
use super::sheet::Style;
use super::text::wrapped;
use super::{Answer, Page};
use crate::diagnosis::answer::{BatchAnswer, EvidenceNote, SeedlingAnswer, Seen, Suspects};
use crate::planning::pick::{
    Act, AsKept, Because, Chance, Field, Line, Pick, Picked, Rests, Wanted,
};
use crate::records::day::Day;
use crate::records::rows::Sureness;

/// The seedlings of a cross as they are chosen from, with what is only said of them.
#[derive(Debug, Clone)]
pub struct CrossToTell<'s> {
    /// Its trays' answers, in the order of the field's trays.
    pub batches: Vec<&'s BatchAnswer>,
    /// What is chosen from.
    pub field: Field,
    /// What is said of each stand.
    pub told: Vec<Told>,
    /// Whether goals do not count, since some of its seedlings were only counted.
    pub goals_left_out: bool,
}

/// What is said of a stand beside its looks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// Its code of its own, where it was kept.
    pub code: Option<String>,
    /// Its newest measure: `height 42 mm`.
    pub measure: Option<String>,
    /// Whether it is of a cross between species, where size does not count.
    pub wide: bool,
}

/// What the pick rests on beside the diagnosis.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Rest {
    /// Whether goals are set.
    pub goals: bool,
    /// Why they do not count, where they cannot.
    pub goals_declined: Option<String>,
    /// The measures, where several were recorded and none was chosen.
    pub several_measures: Vec<String>,
}

/// Some seedlings with one thing to do.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PickLine {
    /// The seedling, or nothing for a tallied look.
    pub seedling: Option<String>,
    /// The tray.
    pub tray: String,
    /// The cell, where known.
    pub cell: Option<i64>,
    /// The newest readings, in words.
    pub looks: String,
    /// The same by trait.
    pub reading: BTreeMap<String, String>,
    /// How many of them.
    pub count: i64,
    /// Of how many that look so there.
    pub of: i64,
    /// P(off-type).
    pub p_off: f64,
    /// The verdict on it.
    pub verdict: &'static str,
    /// What it is worth by the goals, 0 to 100.
    pub goals: Option<f64>,
    /// Its newest measure.
    pub measure: Option<String>,
    /// Until when, for one that is spared.
    pub until: Option<String>,
    /// Of how many a place is held until then, or until they are settled.
    pub holds: i64,
    /// The same of places in reserve.
    pub holds_in_reserve: i64,
    /// Why, in a sentence.
    pub why: String,
    #[serde(skip)]
    pub(super) act: Act,
    #[serde(skip)]
    pub(super) day: Option<Day>,
    #[serde(skip)]
    pub(super) by_label: bool,
    #[serde(skip)]
    pub(super) off_type: bool,
    #[serde(skip)]
    pub(super) word: String,
}

/// The seedlings of a tray that were not scored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Unscored {
    /// The tray.
    pub tray: String,
    /// Those that have a name.
    pub seedlings: Vec<String>,
    /// How many there are, those without a name too.
    pub count: i64,
}

/// What is done with the seedlings of one cross.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PickCross {
    /// The cross, or the parent whose packet was sown.
    pub cross: String,
    /// The pair on its label.
    pub label: String,
    /// Its trays.
    pub trays: Vec<String>,
    /// What has to be read before anything is pulled.
    pub cautions: Vec<String>,
    /// How many of it were asked for, those kept before taken off.
    pub wanted: usize,
    /// The places it gets.
    pub places: usize,
    /// How many more of its seedlings could have a place.
    pub more: usize,
    /// Whether it gets none for want of places, though it has seedlings for one and none was kept before.
    pub goes_without: bool,
    /// Of those pulled, though not almost surely off-type, how many are likelier true than not.
    pub likely_lost: i64,
    /// Kept before: they stay, and take no place.
    pub stays: Vec<PickLine>,
    /// These get a place.
    pub keep: Vec<PickLine>,
    /// These step in where one is lost.
    pub reserve: Vec<PickLine>,
    /// These stand until their day.
    pub spare: Vec<PickLine>,
    /// These are settled by no further look, and may be needed.
    pub settle: Vec<PickLine>,
    /// These are pulled.
    pub pull: Vec<PickLine>,
    /// Seedlings that were not scored, by name.
    pub score_first: Vec<String>,
    /// How many were not scored, those without a name too.
    pub unscored: i64,
    /// The same tray by tray, those with none left out.
    pub unscored_in: Vec<Unscored>,
    /// The chance that at least one of those with a place, or kept before, is true.
    pub p_at_least_one_true: Option<f64>,
    /// The least that it can be, whatever its trays have in common.
    pub p_at_least_one_true_low: Option<f64>,
    /// The most that it can be.
    pub p_at_least_one_true_high: Option<f64>,
    /// Whether that chance is exact: of one tray.
    pub exact: Option<bool>,
    /// How many of them are true on average.
    pub expected_true: f64,
    /// What the best true one of them is worth by the goals on average, 0 to 100; nothing where goals do not count in it.
    pub goals_of_best: Option<f64>,
    /// Whether goals were left out, since some of its seedlings were only counted.
    pub goals_left_out: bool,
    /// What to type once it is done.
    pub commands: Vec<String>,
    #[serde(skip)]
    pub(super) chance: Option<Chance>,
    #[serde(skip)]
    pub(super) wide: bool,
    #[serde(skip)]
    pub(super) sized: bool,
    #[serde(skip)]
    pub(super) code: String,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PickAnswer {
    /// The day.
    pub today: String,
    /// How many of each cross.
    pub per_cross: usize,
    /// How many places in all, where that was said.
    pub places: Option<usize>,
    /// How many are left.
    pub places_left: Option<usize>,
    /// Seedlings in reserve that were asked for.
    pub reserve: usize,
    /// How many places in reserve are left.
    pub reserve_left: usize,
    /// Where a cross goes without a place: how many places in all would give every cross one.
    pub places_for_each: Option<usize>,
    /// Whether goals decide between crosses too.
    pub goals_share_places: bool,
    /// Cross by cross.
    pub crosses: Vec<PickCross>,
    /// How many crosses have a true one on average.
    pub crosses_true: f64,
    /// What it rests on beside the diagnosis.
    pub rests_on: Rest,
    /// The fingerprint of the ledger.
    pub fingerprint: String,
    #[serde(skip)]
    pub(super) mothers_shared: bool,
    #[serde(skip)]
    style: Option<Style>,
}

impl PickAnswer {
    /// The answer of a pick.
    #[must_use]
    pub fn new(
        found: &Suspects,
        crosses: &[CrossToTell<'_>],
        pick: &Pick,
        wanted: Wanted,
        rests_on: Rest,
    ) -> Self {
        let pairs = crosses.iter().zip(&pick.crosses);
        let mothers: BTreeSet<i64> = crosses.iter().map(|cross| cross.field.mother).collect();
        Self {
            today: found.today.to_string(),
            per_cross: wanted.per_cross,
            places: wanted.places,
            places_left: pick.places_left,
            reserve: wanted.reserve,
            reserve_left: pick.reserve_left,
            places_for_each: pick.enough_for_each,
            goals_share_places: pick.by_goals,
            mothers_shared: mothers.len() < crosses.len(),
            crosses: pairs
                .map(|(cross, picked)| PickCross::new(cross, picked, wanted))
                .collect(),
            crosses_true: pick.crosses_true,
            rests_on,
            fingerprint: String::new(),
            style: None,
        }
    }

    /// The same to be written out for paper or as Markdown, with the fingerprint of the ledger.
    #[must_use]
    pub fn laid_out(mut self, style: Option<Style>, fingerprint: String) -> Self {
        self.style = style;
        self.fingerprint = fingerprint;
        self
    }
}

/// Whether a remark on a tray has to be known before its seedlings are picked.
const fn is_of_the_pick(note: &EvidenceNote) -> bool {
    matches!(
        note,
        EvidenceNote::TooLarge { .. } | EvidenceNote::RemovedUnseen { .. }
    )
}

impl PickCross {
    fn new(cross: &CrossToTell<'_>, picked: &Picked, wanted: Wanted) -> Self {
        let first = cross.batches[0];
        let lines: Vec<PickLine> = (picked.lines.iter())
            .map(|line| PickLine::new(cross, *line, wanted))
            .collect();
        let of = |act: Act| -> Vec<PickLine> {
            let own = lines.iter().filter(|line| line.act == act);
            own.cloned().collect()
        };
        let notes = cross.batches.iter().flat_map(|batch| &batch.notes);
        let first_notes = notes.filter(|note| comes_first(note) || is_of_the_pick(note));
        let mut cautions: Vec<String> = first_notes.map(note_words).collect();
        let mut seen = BTreeSet::new();
        cautions.retain(|note| seen.insert(note.clone()));
        let chance = picked.chance;
        Self {
            cross: match first.packet {
                true => format!("packet of {}", first.cross),
                false => first.cross.clone(),
            },
            code: first.cross.clone(),
            label: label_of(first),
            trays: cross.batches.iter().map(|one| one.tray.clone()).collect(),
            cautions,
            wanted: picked.wanted,
            places: picked.places,
            more: picked.more,
            goes_without: picked.goes_without,
            likely_lost: (lines.iter())
                .filter(|line| line.act == Act::Pull && !line.off_type && line.p_off < 0.5)
                .map(|line| line.count)
                .sum(),
            stays: of(Act::Stays),
            keep: of(Act::Keep),
            reserve: of(Act::Reserve),
            spare: of(Act::Spare),
            settle: of(Act::Settle),
            pull: of(Act::Pull),
            score_first: (cross.batches.iter())
                .flat_map(|batch| batch.known_unscored.clone())
                .collect(),
            unscored: cross.batches.iter().map(|batch| batch.unscored).sum(),
            unscored_in: (cross.batches.iter())
                .filter(|batch| batch.unscored > 0)
                .map(|batch| Unscored::of(batch))
                .collect(),
            p_at_least_one_true: chance.map(|chance| chance.p),
            p_at_least_one_true_low: chance.map(|chance| chance.low),
            p_at_least_one_true_high: chance.map(|chance| chance.high),
            exact: chance.map(|chance| chance.rests == Rests::OneTray),
            expected_true: picked.expected_true,
            goals_of_best: picked.best_worth.map(|worth| 100.0 * worth),
            goals_left_out: cross.goals_left_out,
            commands: commands(cross, &lines),
            chance,
            wide: cross.told.iter().any(|told| told.wide),
            sized: cross.told.iter().any(|told| told.measure.is_some()),
        }
    }

    /// What is done with its seedlings, list by list.
    pub(super) fn lines(&self) -> impl Iterator<Item = &PickLine> {
        let chosen = self.stays.iter().chain(&self.keep).chain(&self.reserve);
        chosen
            .chain(&self.spare)
            .chain(&self.settle)
            .chain(&self.pull)
    }

    /// How many get a place, have one held, or were kept before by their label.
    pub(super) fn placed(&self) -> i64 {
        self.lines().map(PickLine::places).sum()
    }
}

impl Unscored {
    fn of(batch: &BatchAnswer) -> Self {
        Self {
            tray: batch.tray.clone(),
            seedlings: batch.known_unscored.clone(),
            count: batch.unscored,
        }
    }
}

impl PickLine {
    /// How many of them get a place, have one held, or were kept before by their label.
    pub(super) const fn places(&self) -> i64 {
        match self.act {
            Act::Keep => self.count,
            Act::Stays if self.by_label => self.count,
            _ => self.holds,
        }
    }

    fn new(cross: &CrossToTell<'_>, line: Line, wanted: Wanted) -> Self {
        let stand = &cross.field.stands[line.stand];
        let batch = cross.batches[stand.tray];
        let one = &batch.seedlings[stand.at];
        let day = one.look_again.filter(|_| line.act == Act::Spare);
        Self {
            seedling: one.seedling.clone(),
            tray: batch.tray.clone(),
            cell: one.cell,
            looks: readings_words(one),
            reading: (one.readings.iter())
                .map(|seen| (seen.trait_code.clone(), class_typed(seen)))
                .collect(),
            count: line.count,
            of: one.count,
            p_off: one.p_off,
            verdict: one.verdict.word(),
            goals: stand.merit.map(|merit| 100.0 * merit),
            measure: cross.told[line.stand].measure.clone(),
            until: day.map(|day| day.to_string()),
            holds: line.holds,
            holds_in_reserve: line.holds_in_reserve,
            why: said_of(line, (one, batch), &cross.told[line.stand], wanted),
            act: line.act,
            day,
            by_label: stand.kept == Some(AsKept::Label),
            off_type: line.because == Because::OffType,
            word: look_typed(one),
        }
    }
}

/// The look as it is typed, its trait named.
fn look_typed(one: &SeedlingAnswer) -> String {
    let typed = one.readings.iter();
    let typed = typed.map(|seen| format!("{}:{}", seen.trait_code, class_typed(seen)));
    typed.collect::<Vec<_>>().join("/")
}

fn class_typed(seen: &Seen) -> String {
    match seen.sureness {
        Sureness::Doubtful => format!("maybe-{}", seen.class),
        _ => seen.class.clone(),
    }
}

impl Answer for PickAnswer {
    fn words(&self, page: Page) -> String {
        if self.crosses.is_empty() {
            return "Nothing was sown yet.".to_owned();
        }
        match self.style {
            None => {
                let blocks = self.plain(page.width).into_iter();
                blocks
                    .flat_map(|block| block.lines)
                    .collect::<Vec<_>>()
                    .join("\n")
            }
            Some(Style::Plain) => {
                let width = page.width.min(PAGE_COLUMNS);
                let below = format!("ledger {}, {}", self.fingerprint, self.today);
                on_paper("Pick", &self.today, &below, self.plain(width), width)
            }
            Some(Style::Markdown) => markdown(self),
        }
    }
}

impl PickAnswer {
    /// Blocks of lines that belong together.
    fn plain(&self, width: usize) -> Vec<Block> {
        let lines = |text: &String| -> Vec<String> {
            let text = wrapped(text, width, "  ");
            text.lines().map(str::to_owned).collect()
        };
        let alone = |lines: Vec<String>| Block::new(String::new(), lines);
        let mut blocks = vec![alone(summary(self).iter().flat_map(lines).collect())];
        for cross in &self.crosses {
            blocks.extend(cross_blocks(cross, width));
        }
        let below: Vec<String> = foot(self).iter().flat_map(lines).collect();
        if !below.is_empty() {
            blocks.push(alone([vec![String::new(), String::new()], below].concat()));
        }
        blocks
    }
}

impl PickCross {
    /// What stands over its lists: what was sown, how many keep a place, and the chance.
    pub(super) fn heading(&self) -> Vec<String> {
        let trays = super::text::listed(&self.trays, "and");
        let pair = match self.cross == self.code {
            true => format!(", {}", self.label),
            false => String::new(),
        };
        let mut said = vec![format!("{}{pair}, in {trays}", self.cross)];
        said.extend(chance_words(self));
        said
    }
}
