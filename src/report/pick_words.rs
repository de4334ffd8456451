//! The sentences and lists of a pick.
//!
//! Made from its answer alone; called by that.

use super::numbers::{percent, several};
use super::paper::{Block, beside_each_other, escaped};
use super::pick::{CrossToTell, PickAnswer, PickCross, PickLine, Told};
use super::reasons::why;
use super::text::{listed, shown, wrapped};
use crate::diagnosis::answer::{BatchAnswer, EvidenceNote, SeedlingAnswer};
use crate::planning::pick::{Act, Because, Line, Rests, Wanted};

/// Most tick boxes of one look; more are a number.
const MOST_BOXES: i64 = 12;

/// Why some seedlings are kept, spared or pulled, in a sentence.
pub(super) fn said_of(
    line: Line,
    (one, batch): (&SeedlingAnswer, &BatchAnswer),
    told: &Told,
    wanted: Wanted,
) -> String {
    let enough = match wanted.per_cross {
        1 => "one of a cross is enough".to_owned(),
        n => format!("{n} of a cross are enough"),
    };
    match line.because {
        Because::KeptBefore => match (&told.code, one.kept.is_some()) {
            (Some(code), true) => format!("Kept as {code} before, which is not its label."),
            (Some(code), false) => format!("Kept as {code} before; it takes no place here."),
            (None, _) => "Kept before.".to_owned(),
        },
        Because::OnlyOne => "No other can be chosen.".to_owned(),
        Because::Likeliest => "None of the others is as likely the cross.".to_owned(),
        Because::Goals => "Worth more by your goals than others as likely the cross.".to_owned(),
        Because::NotSmall => "The others are far smaller than their tray.".to_owned(),
        Because::OtherTray => {
            "Others are as good; this one stands in another tray, so that not all go wrong together."
                .to_owned()
        }
        Because::OtherCell => {
            "Others are as good; this one stands in another cell, so that not all are lost together."
                .to_owned()
        }
        Because::Larger => "Others are as good, but smaller.".to_owned(),
        Because::Alike(n) if one.seedling.is_none() && n <= one.count => {
            match one.cell {
                Some(_) => "All of them are as good: any will do.".to_owned(),
                None => "All of them are as good: any will do, best from different cells.".to_owned(),
            }
        }
        Because::Alike(n) => match n - 1 {
            1 => "One other is as good: either will do.".to_owned(),
            others => format!("{others} others are as good: any will do."),
        },
        Because::AllAlike => "All that are as good are kept.".to_owned(),
        Because::MayTurn if line.holds > 0 => {
            "Look once more on that day; a place is held for it until then.".to_owned()
        }
        Because::MayTurn => "Look once more on that day before you pull it.".to_owned(),
        Because::Unsettled => {
            let name = one.seedling.as_deref();
            let name = name.map_or_else(|| batch.tray.clone(), str::to_owned);
            format!(
                "No later look at it is likely to settle it, and its cross is short: see 'locule why {name}'."
            )
        }
        Because::OffType => why(one, batch),
        Because::LessLikely => "Less likely the cross than those kept.".to_owned(),
        Because::WorthLess => "Worth less by your goals than those kept.".to_owned(),
        Because::Small => "Far smaller than its tray.".to_owned(),
        Because::Enough => format!("As good as those kept, but {enough}."),
        Because::NoPlace => "No place is left for another of its cross.".to_owned(),
    }
}

/// How many keep a place and how likely one of them is true.
pub(super) fn chance_words(cross: &PickCross) -> Vec<String> {
    let placed = cross.placed();
    let Some(chance) = cross.chance.filter(|_| placed > 0) else {
        return vec![match (cross.wanted, cross.places) {
            (0, _) => "All of them were kept before.".to_owned(),
            _ if cross.unscored > 0 => {
                "None can be chosen yet: score the seedlings first.".to_owned()
            }
            _ => "None of its seedlings gets a place.".to_owned(),
        }];
    };
    let who = match placed {
        1 => "The one with a place is what the label says".to_owned(),
        2 => "At least one of the two with a place is what the label says".to_owned(),
        n => format!("At least one of the {n} with a place is what the label says"),
    };
    let p = percent(chance.p);
    let mut said = vec![match chance.rests {
        Rests::OneTray => format!("{who}: {p}."),
        Rests::Parents => format!("{who}: about {p}, at least {}.", percent(chance.low)),
        Rests::Bound => format!("{who}: at least {p}."),
    }];
    if cross.places < cross.wanted {
        let short = several(cross.wanted as u64, "was wanted", "were wanted");
        said.push(match cross.places {
            0 => format!("It gets no further place; {short}."),
            n => format!("It gets {}; {short}.", several(n as u64, "place", "places")),
        });
    }
    said
}

/// The lists of a cross: its title, and lines under it.
fn lists(cross: &PickCross) -> Vec<(String, Vec<&PickLine>)> {
    let mut found: Vec<(String, Vec<&PickLine>)> = Vec::new();
    let all = [
        ("stays", &cross.stays),
        ("keep", &cross.keep),
        ("in reserve", &cross.reserve),
        ("spare", &cross.spare),
        ("leave until settled", &cross.settle),
        ("pull", &cross.pull),
    ];
    for (title, lines) in all {
        for line in lines {
            let title = match &line.until {
                Some(day) => format!("{title} until {day}"),
                None => title.to_owned(),
            };
            match found.iter_mut().find(|(known, _)| *known == title) {
                Some((_, own)) => own.push(line),
                None => found.push((title, vec![line])),
            }
        }
    }
    found
}

/// What is said under tick boxes: looks, chance, goals, size, and why.
fn remark(line: &PickLine) -> String {
    let looks = (line.seedling.is_some()).then(|| line.looks.clone());
    let goals = line.goals.map(|goals| format!("goals {goals:.0} of 100"));
    let facts = [
        looks,
        Some(format!("off-type {}", percent(line.p_off))),
        goals,
        line.measure.clone(),
    ];
    let facts: Vec<String> = facts.into_iter().flatten().collect();
    format!("{}. {}", facts.join("; "), line.why)
}

/// Remarks, each with all the tick boxes that it is about.
fn with_one_remark(lines: &[&PickLine]) -> Vec<(String, Vec<String>)> {
    let mut found: Vec<(String, Vec<String>)> = Vec::new();
    for line in lines {
        let (text, tick) = (remark(line), boxes(line));
        match found.iter_mut().find(|(known, _)| *known == text) {
            Some((_, ticks)) => ticks.push(tick),
            None => found.push((text, vec![tick])),
        }
    }
    found
}

/// What to tick: a seedling, or some of a look in a cell or tray.
fn boxes(line: &PickLine) -> String {
    match (&line.seedling, line.act) {
        (Some(name), Act::Stays) => name.clone(),
        (Some(name), _) => format!("[ ] {name}"),
        (None, _) => {
            let ticks = match line.count {
                few @ 1..=MOST_BOXES => "[ ]".repeat(usize::try_from(few).unwrap_or(1)),
                many => format!("{many} x [ ]"),
            };
            let place = match line.cell {
                Some(cell) => format!("{}-{cell:02}", line.tray),
                None => line.tray.clone(),
            };
            format!("{ticks} {}", of_look(line, &place))
        }
    }
}

/// Some of a look: `any 2 of the 5 purple 20 May in T1-03`.
fn of_look(line: &PickLine, place: &str) -> String {
    match line.count == line.of {
        true if line.of == 1 => format!("the one {} in {place}", line.looks),
        true => format!("all {} {} in {place}", line.of, line.looks),
        false => format!(
            "any {} of the {} {} in {place}",
            line.count, line.of, line.looks
        ),
    }
}

/// A cross as blocks of lines that belong together.
pub(super) fn cross_blocks(cross: &PickCross, width: usize) -> Vec<Block> {
    let lines = |text: &str, indent: &str| -> Vec<String> {
        let text = wrapped(&shown(text), width, indent);
        text.lines().map(str::to_owned).collect()
    };
    let mut head = vec![String::new(), String::new()];
    for said in cross.heading() {
        head.extend(lines(&said, "  "));
    }
    for caution in &cross.cautions {
        head.extend(lines(&format!("  {caution}"), ""));
    }
    let goes_on = format!("{}, continued", cross.cross);
    let mut blocks = vec![Block::new(String::new(), head)];
    for (title, own) in lists(cross) {
        let title = title.to_uppercase();
        let mut block = vec![String::new(), format!("  {title}")];
        let mut above = goes_on.clone();
        for (remark, ticks) in with_one_remark(&own) {
            block.extend(beside_each_other(&ticks, width));
            block.extend(lines(&format!("      {remark}"), ""));
            blocks.push(Block::new(above, std::mem::take(&mut block)));
            above = format!("{goes_on}: {title}");
        }
    }
    if cross.unscored > 0 {
        blocks.push(Block::new(goes_on.clone(), not_scored(cross, width)));
    }
    if !cross.commands.is_empty() {
        let mut block = vec![String::new(), "  When it is done, type:".to_owned()];
        block.extend(cross.commands.iter().map(|line| format!("    {line}")));
        blocks.push(Block::new(goes_on, block));
    }
    let first = blocks.remove(0);
    match blocks.first_mut() {
        Some(next) => {
            next.lines.splice(0..0, first.lines).for_each(drop);
            next.goes_on.clear();
        }
        None => blocks.push(first),
    }
    blocks
}

fn not_scored(cross: &PickCross, width: usize) -> Vec<String> {
    let mut block = vec![String::new(), "  SCORE FIRST".to_owned()];
    let named = &cross.score_first;
    if !named.is_empty() {
        let ticks: Vec<String> = named.iter().map(|name| format!("[ ] {name}")).collect();
        block.extend(beside_each_other(&ticks, width));
    }
    let more = cross.unscored - i64::try_from(named.len()).unwrap_or(0);
    if more > 0 {
        let more = match named.is_empty() {
            true => several(more.unsigned_abs(), "seedling", "seedlings"),
            false => format!("{more} more"),
        };
        block.push(format!("  [ ] {more} in {}", listed(&cross.trays, "and")));
    }
    let why = "      Nothing is known of them by themselves. Score them before you pull, so that counts stay whole.";
    block.extend(wrapped(why, width, "").lines().map(str::to_owned));
    block
}

/// What stands under everything.
pub(super) fn foot(answer: &PickAnswer) -> Vec<String> {
    let rest = &answer.rests_on;
    let mut said = Vec::new();
    match (&rest.goals_declined, rest.goals) {
        (Some(why), _) => said.push(format!("Goals do not count here: {why}.")),
        (None, false) => {
            said.push("No goal is set ('locule goal add'), so none decides here.".to_owned())
        }
        (None, true) => {}
    }
    let counted = answer.crosses.iter().filter(|cross| cross.goals_left_out);
    let counted: Vec<&str> = counted.map(|cross| cross.cross.as_str()).collect();
    if !counted.is_empty() {
        said.push(format!(
            "Goals do not count in {}: seedlings that were only counted cannot be ranked.",
            listed(&counted, "and")
        ));
    }
    if !rest.several_measures.is_empty() {
        said.push(format!(
            "Size does not count: {} were measured; --size {} takes one.",
            listed(&rest.several_measures, "and"),
            rest.several_measures[0]
        ));
    }
    if answer.crosses.iter().any(|cross| cross.wide && cross.sized) {
        said.push("Between species size does not count: a runt may be the true hybrid.".to_owned());
    }
    if answer.crosses.iter().any(|cross| cross.trays.len() > 1) {
        said.push(
            "Over several trays a chance is reckoned by what they share, their parents; 'at least' holds whatever else they share."
                .to_owned(),
        );
    }
    said
}

/// What to type once it is done: what was almost surely off-type as culled, the rest as thinned. Nothing of a tray that most
/// likely stands under a wrong label: that is to be looked for first.
pub(super) fn commands(cross: &CrossToTell<'_>, lines: &[PickLine]) -> Vec<String> {
    let mut found = Vec::new();
    for (verb, off_type) in [("cull", true), ("thin", false)] {
        for batch in cross.batches.iter().filter(|batch| !is_swapped(batch)) {
            let own: Vec<&PickLine> = (lines.iter())
                .filter(|line| line.act == Act::Pull && line.off_type == off_type)
                .filter(|line| line.tray == batch.tray)
                .collect();
            found.extend(pulled_singly(verb, &batch.tray, &own));
            let counted = own.iter().filter(|line| line.seedling.is_none());
            found.extend(counted.map(|line| {
                let place = match line.cell {
                    Some(cell) => format!("{}-{cell:02}", line.tray),
                    None => line.tray.clone(),
                };
                format!("locule {verb} {place} {} {}", line.count, line.word)
            }));
        }
    }
    found
}

fn is_swapped(batch: &BatchAnswer) -> bool {
    let mut notes = batch.notes.iter();
    notes.any(|note| matches!(note, EvidenceNote::LabelsSwapped { .. }))
}

/// `locule thin T1 1-3,5`.
fn pulled_singly(verb: &str, tray: &str, lines: &[&PickLine]) -> Option<String> {
    let plain = |line: &&&PickLine| {
        let cell = line.cell?;
        let name = line.seedling.as_ref()?;
        let part = name.strip_prefix(&format!("{tray}-{cell:02}"))?;
        Some((cell, part.to_owned()))
    };
    let mut spots: Vec<(i64, String)> = lines.iter().filter_map(|line| plain(&line)).collect();
    spots.sort();
    let mut words: Vec<String> = Vec::new();
    for run in
        spots.chunk_by(|one, next| one.1.is_empty() && next.1.is_empty() && next.0 == one.0 + 1)
    {
        words.push(match run {
            [(cell, part)] => format!("{cell}{part}"),
            [(first, _), .., (last, _)] => format!("{first}-{last}"),
            [] => String::new(),
        });
    }
    (!words.is_empty()).then(|| format!("locule {verb} {tray} {}", words.join(",")))
}

/// The pick as Markdown.
pub(super) fn markdown(answer: &PickAnswer) -> String {
    let mut out = format!("# Pick, {}\n", answer.today);
    for said in answer.summary() {
        out.push_str(&format!("\n{}\n", escaped(&said)));
    }
    for cross in &answer.crosses {
        let heading = cross.heading();
        out.push_str(&format!("\n## {}\n", escaped(&heading[0])));
        for said in heading[1..].iter().chain(&cross.cautions) {
            out.push_str(&format!("\n{}\n", escaped(said)));
        }
        for (title, lines) in lists(cross) {
            out.push_str(&format!("\n### {title}\n\n"));
            for line in lines {
                let whom = boxes(line);
                let (tick, whom) = match whom.split_once("] ") {
                    Some((_, whom)) => ("[ ] ", whom),
                    None => ("", whom.as_str()),
                };
                out.push_str(&format!(
                    "- {tick}{}: {}\n",
                    escaped(whom),
                    escaped(&remark(line))
                ));
            }
        }
        if cross.unscored > 0 {
            out.push_str(&format!(
                "\n### score first\n\n{} not scored\n",
                cross.unscored
            ));
        }
        for command in &cross.commands {
            out.push_str(&format!("\n`{command}`\n"));
        }
    }
    for said in foot(answer) {
        out.push_str(&format!("\n{}\n", escaped(&said)));
    }
    format!("{out}\nledger {}, {}", answer.fingerprint, answer.today)
}
