//! The sentences and lists of a pick.
//!
//! Made from its answer alone; called by that.

use super::next_trait::advice;
use super::numbers::{percent, several};
use super::paper::{Block, beside_each_other, escaped};
use super::pick::{PickAnswer, PickCross, PickLine, Told, Unscored};
use super::pick_summary::{foot, summary};
use super::reasons::why;
use super::text::{shown, wrapped};
use crate::diagnosis::answer::{BatchAnswer, SeedlingAnswer};
use crate::planning::pick::{Act, Because, Chance, Line, Rests, Wanted};

/// Why those that were not scored come first.
const NOT_SCORED: &str = "Nothing is known of them by themselves. Score them before you pull, so that counts stay whole.";

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
        Because::NotSmall => "Others that are as good are far smaller than their tray.".to_owned(),
        Because::Settled => "Others are as good, but a later look may speak against them.".to_owned(),
        Because::OtherTray => {
            "Others are as good; this one stands in another tray, so that not all go wrong together."
                .to_owned()
        }
        Because::OtherCell => {
            "Others are as good; this one stands in another cell, so that not all are lost together."
                .to_owned()
        }
        Because::Larger => "Others are as good, but smaller.".to_owned(),
        Because::Alike(n) if one.seedling.is_none() && n <= one.count - line.count => {
            match one.cell {
                Some(_) => "All of them are as good: any will do.".to_owned(),
                None => "All of them are as good: any will do, best from different cells.".to_owned(),
            }
        }
        Because::Alike(1) => "One other is as good: either will do.".to_owned(),
        Because::Alike(others) => format!("{others} others are as good: any will do."),
        Because::AllAlike => "All that are as good are kept.".to_owned(),
        Because::MayTurn => may_turn(line),
        Because::Unsettled => unsettled(line, one, batch),
        Because::OffType => why(one, batch),
        Because::LessLikely => "Less likely the cross than those with a place.".to_owned(),
        Because::WorthLess => "Worth less by your goals than those with a place.".to_owned(),
        Because::Small => "Far smaller than its tray.".to_owned(),
        Because::Enough => format!("As good as those with a place, but {enough}."),
        Because::NoPlace => "No place is left for another of its cross.".to_owned(),
    }
}

fn may_turn(line: Line) -> String {
    match (held(line), line.count) {
        (Some(held), _) => format!("Look once more on that day; {held} until then."),
        (None, 1) => "Look once more on that day before you pull it.".to_owned(),
        (None, _) => "Look once more on that day before you pull them.".to_owned(),
    }
}

/// Of some that no verdict fits: whether a place is held, and what may settle them.
fn unsettled(line: Line, one: &SeedlingAnswer, batch: &BatchAnswer) -> String {
    let place = match held(line) {
        Some(held) => format!("None better is left, so {held}."),
        None => "Its cross is short of better ones, so leave it for now.".to_owned(),
    };
    let settling = match &one.settling {
        Some(telling) => format!("To settle it, {}.", advice(telling, batch)),
        None => "No later look is likely to settle it; 'locule why' says what may.".to_owned(),
    };
    format!("{place} {settling}")
}

/// For how many of some a place is held: `a place is held for it`.
fn held(line: Line) -> Option<String> {
    let of = |n: i64| match (n == line.count, n) {
        (true, 1) => "a place is held for it".to_owned(),
        (true, _) => "places are held for them".to_owned(),
        (false, 1) => "a place is held for one of them".to_owned(),
        (false, n) => format!("places are held for {n} of them"),
    };
    match (line.holds, line.holds_in_reserve) {
        (0, 0) => None,
        (holds, 0) => Some(of(holds)),
        (0, reserve) => Some(of(reserve).replacen("held", "held in reserve", 1)),
        (holds, reserve) => Some(format!("{}, and in reserve for {reserve}", of(holds))),
    }
}

/// How many keep a place and how likely one of them is true.
pub(super) fn chance_words(cross: &PickCross) -> Vec<String> {
    let placed = cross.placed();
    let mut said = vec![match cross.chance {
        _ if placed == 0 => none_placed(cross).to_owned(),
        None => "How likely one of those with a place is true cannot be worked out.".to_owned(),
        Some(chance) => chance_of(cross, placed, chance),
    }];
    if let Some(worth) = cross.goals_of_best.filter(|_| placed > 0) {
        said.push(format!(
            "Its best true one is worth {worth:.0} of 100 by your goals, on average."
        ));
    }
    if (1..cross.wanted).contains(&cross.places) || (cross.places < cross.wanted && placed > 0) {
        let why = match cross.more {
            0 => "it has no other seedling to choose",
            _ => "no more places are left",
        };
        let places = match cross.places {
            0 => "no further place".to_owned(),
            n => several(n as u64, "place", "places"),
        };
        said.push(format!(
            "It gets {places} of {} wanted: {why}.",
            cross.wanted
        ));
    }
    said.extend(all_in_one_cell(cross));
    said
}

fn chance_of(cross: &PickCross, placed: i64, chance: Chance) -> String {
    let with = match cross.stays.iter().any(|line| line.by_label) {
        true => "kept before or with a place",
        false => "with a place",
    };
    let who = match placed {
        1 => format!("The one {with} is what the label says"),
        2 => format!("At least one of the two {with} is what the label says"),
        n => format!("At least one of the {n} {with} is what the label says"),
    };
    let p = percent(chance.p);
    match chance.rests {
        Rests::OneTray => format!("{who}: {p}."),
        Rests::Parents => format!("{who}: about {p}, at least {}.", percent(chance.low)),
        Rests::Bound => format!("{who}: at least {p}."),
    }
}

/// That all with a place stand in one cell, and who stands elsewhere.
fn all_in_one_cell(cross: &PickCross) -> Option<String> {
    let placed: Vec<&PickLine> = cross.lines().filter(|line| line.places() > 0).collect();
    let cell = |line: &PickLine| Some((line.tray.clone(), line.cell?));
    let first = cell(placed.first()?)?;
    let is_elsewhere = |line: &&&PickLine| cell(line).as_ref() != Some(&first);
    if cross.placed() < 2 || placed.iter().any(|line| is_elsewhere(&line)) {
        return None;
    }
    let elsewhere = cross
        .pull
        .iter()
        .filter(|line| !line.off_type && line.p_off < 0.5 && cell(line).as_ref() != Some(&first));
    let likeliest = elsewhere.min_by(|one, other| one.p_off.total_cmp(&other.p_off))?;
    let (tray, cell) = first;
    let of_it = match &likeliest.seedling {
        Some(name) => name.clone(),
        None => format!("one {} in {}", likeliest.looks, place_of(likeliest)),
    };
    Some(format!(
        "They all stand in {tray}-{cell:02} and can be lost together; the likeliest elsewhere is {of_it}, off-type {}.",
        percent(likeliest.p_off)
    ))
}

/// Why a cross has nothing with a place.
fn none_placed(cross: &PickCross) -> &'static str {
    let is_scored = cross.lines().next().is_some();
    match (is_scored, cross.unscored > 0) {
        _ if cross.goes_without => "It gets no place: none is left for it.",
        _ if !cross.reserve.is_empty() => "It gets no place but in reserve.",
        (true, false) => "None of them can be kept.",
        (true, true) => "None of those scored can be kept: score the others.",
        (false, true) => "None can be chosen yet: score its seedlings first.",
        (false, false) => "Nothing of it stands to be chosen.",
    }
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

/// What is said under tick boxes: looks, chance, goals, and why.
fn remark(line: &PickLine) -> String {
    let looks = (line.seedling.is_some()).then(|| line.looks.clone());
    let goals = line.goals.map(|goals| format!("goals {goals:.0} of 100"));
    let facts = [
        looks,
        Some(format!("off-type {}", percent(line.p_off))),
        goals,
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
    let size = line.measure.iter().map(|size| format!(" ({size})"));
    let size: String = size.collect();
    match (&line.seedling, line.act) {
        (Some(name), Act::Stays) => format!("{name}{size}"),
        (Some(name), _) => format!("[ ] {name}{size}"),
        (None, _) => {
            let ticks = match line.count {
                few @ 1..=MOST_BOXES => "[ ]".repeat(usize::try_from(few).unwrap_or(1)),
                many => format!("{many} x [ ]"),
            };
            format!("{ticks} {}", of_look(line, &place_of(line)))
        }
    }
}

/// The cell, or else the tray.
pub(super) fn place_of(line: &PickLine) -> String {
    match line.cell {
        Some(cell) => format!("{}-{cell:02}", line.tray),
        None => line.tray.clone(),
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
    for tray in &cross.unscored_in {
        let named = tray.seedlings.iter().map(|name| format!("[ ] {name}"));
        let more = others_in(tray).map(|others| format!("[ ] {others}"));
        let ticks: Vec<String> = named.chain(more).collect();
        block.extend(beside_each_other(&ticks, width));
    }
    block.extend(
        wrapped(&format!("      {NOT_SCORED}"), width, "")
            .lines()
            .map(str::to_owned),
    );
    block
}

/// Those of a tray that were not scored and have no name: `3 more in T2`.
fn others_in(tray: &Unscored) -> Option<String> {
    let more = tray.count - i64::try_from(tray.seedlings.len()).unwrap_or(0);
    match (more > 0, tray.seedlings.is_empty()) {
        (false, _) => None,
        (true, true) => {
            let seedlings = several(more.unsigned_abs(), "seedling", "seedlings");
            Some(format!("{seedlings} in {}", tray.tray))
        }
        (true, false) => Some(format!("{more} more in {}", tray.tray)),
    }
}

/// The pick as Markdown.
pub(super) fn markdown(answer: &PickAnswer) -> String {
    let mut out = format!("# Pick, {}\n", answer.today);
    for said in summary(answer) {
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
            out.push_str("\n### score first\n\n");
            for tray in &cross.unscored_in {
                for whom in tray.seedlings.iter().cloned().chain(others_in(tray)) {
                    out.push_str(&format!("- [ ] {}\n", escaped(&whom)));
                }
            }
            out.push_str(&format!("\n{NOT_SCORED}\n"));
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
