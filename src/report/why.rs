//! The answer of `why`: the whole argument for one seedling on one screen, plain words first, the numbers below.

use super::adopted::kept_words;
use super::next_trait::{advice, chances_words, says_words};
use super::numbers::{percent, several, share};
use super::onset_picture::picture;
use super::reasons::{
    asked_on, class_seen, comes_first, is_stale, label_of, lagging_pot, likely_doubt, note_words,
    readings_words, short_day, source_words, what_would, why, why_gone,
};
use super::remarks::{parent_words, pot_or_testcross};
use super::supposing::{supposing_words, trials_words};
use super::suspects::name_members;
use super::table::Table;
use super::text::{columns, listed, wrapped};
use super::{Answer, Page};
use crate::diagnosis::answer::{BatchAnswer, EvidenceNote, Source, SourceShare, Verdict};
use crate::diagnosis::telling_trait::{NextTraits, Telling, WORTH_SCORING, When, by_origin};
use crate::diagnosis::why::{Curve, Marked, SourceLine, Step, Why, Without};
use crate::records::day::Day;
use crate::records::rows::FateKind;

/// Sources less likely than this, before and now, are left to the JSON.
const HARDLY: f64 = 0.005;

/// A source that was at least this likely beforehand is listed whatever became of it.
const LIKELY_ONCE: f64 = 0.05;

/// Most sources that are listed.
const MOST_LISTED: usize = 5;

/// What moves the answer by less is left to the JSON.
const WORTH_A_ROW: f64 = 0.005;

/// Most traits that are listed.
const MOST_TRAITS: usize = 3;

/// The answer of `why`.
#[derive(Debug, Clone, PartialEq)]
pub struct WhyAnswer(pub Why);

pub(super) fn without_words(without: &Without) -> String {
    match without {
        Without::Tray(tray) => format!("without what {tray} says of the plants"),
        Without::OtherTrays(count) => {
            format!("without all {count} other trays of these plants")
        }
        Without::LightProof => "if the light were not known to be good".to_owned(),
        Without::LightDoubt => "if a control pot beside it had coloured".to_owned(),
    }
}

/// What became of a seedling, in a word.
pub(super) const fn fate_word(fate: FateKind) -> &'static str {
    match fate {
        FateKind::Culled => "culled",
        FateKind::Thinned => "thinned",
        FateKind::Died => "died",
        FateKind::PottedUp => "potted up",
    }
}

/// How many of a hundred, never rounded to none or all.
fn of_a_hundred(p: f64) -> String {
    match (100.0 * p).round() {
        0.0 => "fewer than one".to_owned(),
        100.0 => "all but a few".to_owned(),
        1.0 => "about one".to_owned(),
        count => format!("about {count:.0}"),
    }
}

impl WhyAnswer {
    /// The seedling by its place, or a look as it is counted; with what became of it.
    fn name(&self) -> String {
        let one = &self.0.one;
        let fate = self.0.fate.map_or("gone", fate_word);
        match (&one.seedling, self.0.is_gone) {
            (Some(name), false) => name.clone(),
            (Some(name), true) => format!("{name} ({fate})"),
            (None, false) => name_members(&self.0.batch.tray, &[(None, one.cell, one.count)]),
            (None, true) => {
                let tray = &self.0.batch.tray;
                let place = one
                    .cell
                    .map_or_else(|| tray.clone(), |cell| format!("{tray}-{cell:02}"));
                format!("Was in {place} ({}, {fate})", one.count)
            }
        }
    }

    pub(super) fn step_words(&self, step: &Step) -> String {
        match step {
            Step::Before => "before anything was read".to_owned(),
            Step::Others { count } => {
                let others = several((*count).unsigned_abs(), "other seedling", "other seedlings");
                format!("after the {others} of {}", self.0.batch.tray)
            }
            Step::Own(seen) => format!(
                "after its {} of {}",
                class_seen(seen),
                short_day(seen.day, asked_on(&self.0.one))
            ),
        }
    }

    /// How sure, in a sentence.
    fn how_sure(&self) -> String {
        let (one, label) = (&self.0.one, label_of(&self.0.batch));
        let p = one.p_off;
        if p >= 0.5 {
            format!(
                "The chance that it is not {label} is {}: of a hundred such seedlings {} would be true.",
                percent(p),
                of_a_hundred(1.0 - p)
            )
        } else {
            format!(
                "The chance that it is not {label} is {}: of a hundred such seedlings {} would be something else.",
                percent(p),
                of_a_hundred(p)
            )
        }
    }

    /// What to do next, and when.
    pub(super) fn what_next(&self) -> String {
        let (answer, one) = (&self.0, &self.0.one);
        if answer.is_gone {
            return "it stands no more; what was read of it still counts.".to_owned();
        }
        if let Some(kept) = &one.kept {
            return format!("nothing to pull; it is {}.", kept_words(kept));
        }
        let also = |text: &str, telling: Option<&Telling>| match telling {
            Some(telling) => format!("{text}; {}.", advice(telling, &answer.batch)),
            None => format!("{text}."),
        };
        let best = answer.next.best();
        let now = best.filter(|telling| telling.when != When::AtItsStage);
        match one.verdict {
            Verdict::Cull => format!("pull it, and say so: locule cull {}.", self.as_typed()),
            Verdict::Wait if is_stale(one) => also("look now, if it still stands", now),
            Verdict::Wait => match one.look_again {
                Some(day) => also(&format!("look again from {}", day.spoken()), now),
                None => also("look again later", now),
            },
            Verdict::Keep => "keep it.".to_owned(),
            Verdict::Unproven => also(
                "keep it, but do not call it proven",
                answer.next.best_for_verdict(),
            ),
            Verdict::Undecided => self.what_decides(),
        }
    }

    /// The seedling, or the whole look of a count, as a command takes it.
    fn as_typed(&self) -> String {
        let one = &self.0.one;
        if let Some(seedling) = &one.seedling {
            return seedling.clone();
        }
        let cell = one
            .cell
            .map_or_else(String::new, |cell| format!("-{cell:02}"));
        format!("{}{cell} {}", self.0.batch.tray, self.0.typed.join("/"))
    }

    /// What would settle an undecided seedling: the light first, then a parent that is likely not what is stated, then
    /// the look that tells most.
    fn what_decides(&self) -> String {
        let batch = &self.0.batch;
        if let Some(pot) = lagging_pot(batch) {
            return format!(
                "give it and the control pot {pot} more light, then look at both again."
            );
        }
        if let Some(look) = self.look_at_a_parent() {
            return look;
        }
        match self.0.next.best_for_verdict() {
            Some(telling) => format!("{}.", advice(telling, batch)),
            None => format!(
                "{} tell; a further look at this one would not.",
                what_would(batch)
            ),
        }
    }

    /// A look at the parent that is more likely not what is stated than that.
    fn look_at_a_parent(&self) -> Option<String> {
        let batch = &self.0.batch;
        let misfit = batch.notes.iter().find_map(|note| match note {
            EvidenceNote::LabelFitsBadly {
                plant,
                likelier,
                would_show,
                has_pot,
                ..
            } => Some(match would_show {
                Some(class) => {
                    format!("look at {plant} itself: {class} would mean {likelier}.")
                }
                None => format!(
                    "{}: looking at {plant} cannot tell.",
                    pot_or_testcross(*has_pot).replacen("its", &format!("{plant}'s"), 1)
                ),
            }),
            _ => None,
        });
        misfit.or_else(|| Some(format!("{}.", parent_words(likely_doubt(batch)?))))
    }

    /// The first lines: what a grower wants to know.
    fn plain(&self) -> Vec<String> {
        let (answer, one) = (&self.0, &self.0.one);
        let verdict = match &one.kept {
            _ if answer.is_gone => String::new(),
            Some(kept) => format!(": {}", kept_words(kept)),
            None => format!(": {}", one.verdict.word()),
        };
        let mut said = vec![format!(
            "{}, {}{verdict}. {}",
            self.name(),
            readings_words(one),
            self.how_sure()
        )];
        said.push(format!("Because: {}", self.because()));
        said.push(format!("Next: {}", self.what_next()));
        if self.is_to_be_pulled() {
            said.extend(trials_words(&answer.trials));
        }
        let first = answer.batch.notes.iter().filter(|note| comes_first(note));
        said.extend(first.map(note_words));
        said
    }

    /// Why, in a sentence.
    pub(super) fn because(&self) -> String {
        let answer = &self.0;
        if answer.is_gone {
            why_gone(&answer.one, &answer.batch)
        } else {
            why(&answer.one, &answer.batch)
        }
    }

    /// Whether it is a cull that still stands.
    fn is_to_be_pulled(&self) -> bool {
        self.0.one.verdict == Verdict::Cull && self.0.one.kept.is_none() && !self.0.is_gone
    }

    fn numbers(&self, page: Page) -> String {
        let mut table = Table::new(&["what was known", ">off-type"]);
        table.wrap_first(columns(" >99.9 % "));
        table.keep_whole(1, ">99.9 %");
        for (step, p_off) in &self.0.steps {
            table.row([self.step_words(step), percent(*p_off)]);
        }
        let moved = |p_off: f64| (p_off - self.0.one.p_off).abs() >= WORTH_A_ROW;
        for (without, p_off) in self.0.without.iter().filter(|(_, p)| moved(*p)) {
            table.row([without_words(without), percent(*p_off)]);
        }
        if !self.is_to_be_pulled() {
            for trial in self.0.trials.iter().filter(|trial| moved(trial.p_off)) {
                let words = supposing_words(&trial.supposing);
                table.row([format!("if {words}"), percent(trial.p_off)]);
            }
        }
        table.text(page)
    }

    /// Where it may come from: those that were or are likely, of the tray or of this one.
    fn sources(&self, page: Page) -> String {
        let batch = &self.0.batch;
        let telling = |line: &&SourceLine| {
            let likely =
                line.now >= HARDLY || line.seedling >= HARDLY || line.before >= LIKELY_ONCE;
            line.source == Source::None || likely && line.predicts.is_some()
        };
        let mut lines: Vec<&SourceLine> = self.0.sources.iter().filter(telling).collect();
        lines.sort_by(|one, other| other.seedling.total_cmp(&one.seedling));
        lines.truncate(MOST_LISTED);
        let mut table = Table::new(&[
            "where it may come from",
            ">before",
            ">tray",
            ">look",
            ">this one",
        ]);
        for column in 1..=4 {
            table.keep_whole(column, ">99.9 %");
        }
        table.wrap_first(4 * columns(">99.9 %  "));
        for line in lines {
            let predicts = line.predicts.map_or_else(|| "-".to_owned(), share);
            table.row([
                short_source(&line.source, batch),
                tight(&share(line.before)),
                tight(&share(line.now)),
                tight(&predicts),
                tight(&percent(line.seedling)),
            ]);
        }
        let key = "  (before, tray: chance of such seed there, for the label that there is no other; look: chance that it is read so)";
        format!("{}\n{}", table.text(page), wrapped(key, page.width, "  "))
    }

    /// What to score next.
    fn traits(&self, page: Page) -> String {
        let next = &self.0.next;
        let worth = next
            .telling
            .iter()
            .filter(|telling| telling.bits() >= WORTH_SCORING);
        let mut lines: Vec<String> = worth
            .take(MOST_TRAITS)
            .map(|telling| self.trait_line(telling))
            .collect();
        if lines.is_empty() {
            lines.push(
                "No trait of which anything is known of the plants would tell more.".to_owned(),
            );
        } else {
            let head = format!(
                "What to score next (bits: true or not / whose pollen; missing {} / {}):",
                bits(next.verdict_bits),
                bits(next.origin_bits)
            );
            lines.insert(0, head);
        }
        lines.extend(unknown_words(next));
        let wrap = |line: &String| wrapped(line, page.width, "  ");
        lines.iter().map(wrap).collect::<Vec<_>>().join("\n")
    }

    fn trait_line(&self, telling: &Telling) -> String {
        let says = says_words(telling, &self.0.batch).unwrap_or_else(|| chances_words(telling));
        format!(
            "  {}, {}: {} / {}; {says}",
            named(telling),
            when(telling, asked_on(&self.0.one)),
            bits(telling.verdict_bits),
            bits(telling.origin_bits)
        )
    }
}

fn unknown_words(next: &NextTraits) -> Option<String> {
    let mut said = Vec::new();
    if !next.silent.is_empty() {
        const NAMED: usize = 4;
        let mut names: Vec<String> = next.silent.iter().take(NAMED).cloned().collect();
        if next.silent.len() > NAMED {
            names.push(format!("{} more", next.silent.len() - NAMED));
        }
        said.push(format!(
            "Nothing is known of these plants for {}: score the parents first.",
            listed(&names, "and")
        ));
    }
    if !next.declined.is_empty() {
        said.push(format!(
            "Too large to weigh here: {}.",
            listed(&next.declined, "and")
        ));
    }
    (!said.is_empty()).then(|| said.join(" "))
}

/// A source in few words, for a column.
fn short_source(source: &Source, batch: &BatchAnswer) -> String {
    let mother = &batch.label.0;
    match source {
        Source::UnknownPollen => "pollen of a stranger".to_owned(),
        Source::AllSelf => format!("all of it selfed {mother}"),
        Source::AllPollen(plant) => format!("all of it by {}", plant.code),
        Source::Swapped(Some(cross)) => format!("labels swapped: {}", cross.code),
        Source::Swapped(None) => "labels swapped, not known".to_owned(),
        other => source_words(other, batch),
    }
}

/// A percentage for a narrow column.
fn tight(percentage: &str) -> String {
    percentage.replace("under ", "<").replace("over ", ">")
}

fn named(telling: &Telling) -> String {
    match (telling.again, telling.switched_on) {
        (true, _) => format!("{} again", telling.trait_code),
        (false, true) => telling.trait_code.clone(),
        (false, false) => format!("{} (off)", telling.trait_code),
    }
}

fn when(telling: &Telling, today: Day) -> String {
    match telling.when {
        When::On(day) if telling.again => short_day(day, today),
        When::On(_) => "now".to_owned(),
        When::AtItsStage => format!("at {}", telling.stage),
    }
}

fn bits(bits: f64) -> String {
    match bits {
        nothing if nothing < 0.005 => "0".to_owned(),
        some => format!("{some:.2}"),
    }
}

/// The readings on the curve, one line each.
fn marks(curve: &Curve, today: Day) -> Vec<String> {
    let late = listed(&curve.late, "or");
    let numbered = curve.readings.iter().enumerate();
    let mark = |(at, marked): (usize, &Marked)| {
        format!(
            "  {}  {} {}, day {:.0}: {} of those that turn {late} have by then",
            at + 1,
            class_seen(&marked.seen),
            short_day(marked.seen.day, today),
            marked.age,
            share(marked.shown)
        )
    };
    numbered.map(mark).collect()
}

/// The pollen parents of an off-type with their probabilities, in a sentence.
fn whose(answer: &Why) -> Option<String> {
    let origins = by_origin(&answer.one.sources.list());
    let named: Vec<&SourceShare> = origins.iter().filter(|share| share.p >= HARDLY).collect();
    let words: Vec<String> = named
        .iter()
        .take(MOST_LISTED)
        .map(|share| {
            format!(
                "{} {}",
                source_words(&share.source, &answer.batch),
                percent(share.p)
            )
        })
        .collect();
    (!words.is_empty()).then(|| format!("If it is off: {}.", words.join("; ")))
}

impl Answer for WhyAnswer {
    fn words(&self, page: Page) -> String {
        let answer = &self.0;
        let wrap = |text: &String| wrapped(text, page.width, "  ");
        let mut plain = self.plain();
        if answer.one.p_off > answer.thresholds.1 {
            plain.extend(whose(answer));
        }
        let mut parts = vec![plain.iter().map(wrap).collect::<Vec<_>>().join("\n")];
        if let Some(curve) = &answer.curve {
            let mut lines = picture(curve, page.width);
            lines.extend(
                marks(curve, asked_on(&answer.one))
                    .iter()
                    .map(|line| wrapped(line, page.width, "     ")),
            );
            parts.push(lines.join("\n"));
        }
        parts.push(self.numbers(page));
        parts.push(self.sources(page));
        if !answer.is_gone {
            parts.push(self.traits(page));
        }
        let notes = answer.batch.notes.iter();
        let notes = notes.filter(|note| !comes_first(note) && **note != EvidenceNote::NothingReads);
        let notes: Vec<String> = notes.map(|note| wrap(&note_words(note))).collect();
        if !notes.is_empty() {
            parts.push(notes.join("\n"));
        }
        parts.join("\n\n")
    }
}
