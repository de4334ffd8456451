//! The answer of `pick`: keep these, pull those, spare this one until a day; cross by cross.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::numbers::several;
use super::paper::{Block, PAGE_COLUMNS, on_paper};
use super::pick_words::{chance_words, cross_blocks, foot, markdown, said_of};
use super::reasons::{comes_first, label_of, note_words, readings_words};
use super::sheet::Style;
use super::text::wrapped;
use super::{Answer, Page};
use crate::diagnosis::answer::{BatchAnswer, EvidenceNote, SeedlingAnswer, Seen, Suspects};
use crate::planning::pick::{Act, Because, Chance, Field, Line, Pick, Picked, Rests, Wanted};
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
    /// Of how many a place is held until then.
    pub holds: i64,
    /// Why, in a sentence.
    pub why: String,
    #[serde(skip)]
    pub(super) act: Act,
    #[serde(skip)]
    pub(super) off_type: bool,
    #[serde(skip)]
    pub(super) word: String,
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
    /// Cross by cross.
    pub crosses: Vec<PickCross>,
    /// How many crosses have a true one on average.
    pub crosses_true: f64,
    /// What it rests on beside the diagnosis.
    pub rests_on: Rest,
    /// The fingerprint of the ledger.
    pub fingerprint: String,
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
        Self {
            today: found.today.to_string(),
            per_cross: wanted.per_cross,
            places: wanted.places,
            places_left: pick.places_left,
            reserve: wanted.reserve,
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

    fn sum(&self, of: impl Fn(&PickCross) -> &[PickLine]) -> i64 {
        let lines = self.crosses.iter().flat_map(|cross| of(cross).iter());
        lines.map(|line| line.count).sum()
    }

    /// What to do tomorrow, in one sentence.
    pub(super) fn headline(&self) -> String {
        let acts = [
            ("pull ", self.sum(|cross| &cross.pull), ""),
            ("keep ", self.sum(|cross| &cross.reserve), " in reserve"),
            ("spare ", self.sum(|cross| &cross.spare), " for now"),
            ("leave ", self.sum(|cross| &cross.settle), " until settled"),
        ];
        let unscored: i64 = self.crosses.iter().map(|cross| cross.unscored).sum();
        let mut said = vec![format!(
            "Keep {}",
            several(
                self.sum(|cross| &cross.keep).unsigned_abs(),
                "seedling",
                "seedlings"
            )
        )];
        let some = acts.iter().filter(|(_, count, _)| *count > 0);
        said.extend(some.map(|(act, count, how)| format!("{act}{count}{how}")));
        if unscored > 0 {
            said.push(format!("score {unscored} first"));
        }
        format!("{}.", said.join(", "))
    }

    pub(super) fn summary(&self) -> Vec<String> {
        let mut said = vec![self.headline()];
        let asked = self.crosses.iter().filter(|one| one.chance.is_some());
        if asked.clone().count() > 1 {
            said.push(format!(
                "Of {} crosses {:.2} have a true one on average.",
                asked.count(),
                self.crosses_true
            ));
        }
        if let Some(left) = self.places_left.filter(|left| *left > 0) {
            let left = several(left as u64, "place is", "places are");
            said.push(format!("{left} left: nothing more is wanted for them."));
        }
        said
    }
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
        let first_notes =
            notes.filter(|note| comes_first(note) || matches!(note, EvidenceNote::TooLarge { .. }));
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
            p_at_least_one_true: chance.map(|chance| chance.p),
            p_at_least_one_true_low: chance.map(|chance| chance.low),
            p_at_least_one_true_high: chance.map(|chance| chance.high),
            exact: chance.map(|chance| chance.rests == Rests::OneTray),
            expected_true: picked.expected_true,
            goals_left_out: cross.goals_left_out,
            commands: super::pick_words::commands(cross, &lines),
            chance,
            wide: cross.told.iter().any(|told| told.wide),
            sized: cross.told.iter().any(|told| told.measure.is_some()),
        }
    }

    /// Those that get a place or have one.
    pub(super) fn placed(&self) -> i64 {
        let held = self.spare.iter().map(|line| line.holds);
        let kept = self.keep.iter().chain(&self.stays).map(|line| line.count);
        held.chain(kept).sum()
    }
}

impl PickLine {
    fn new(cross: &CrossToTell<'_>, line: Line, wanted: Wanted) -> Self {
        let stand = &cross.field.stands[line.stand];
        let batch = cross.batches[stand.tray];
        let one = &batch.seedlings[stand.at];
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
            until: (one.look_again.filter(|_| line.act == Act::Spare)).map(|day| day.to_string()),
            holds: line.holds,
            why: said_of(line, (one, batch), &cross.told[line.stand], wanted),
            act: line.act,
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
        let mut blocks = vec![alone(self.summary().iter().flat_map(lines).collect())];
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
