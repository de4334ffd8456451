//! How seed came up, in a grower's words: the shares, the curve, the comparisons, what is not dead yet.

use super::Page;
use super::germination::{GerminationAnswer, GroupLine, MINIMA, Share, TrayLine};
use super::germination_compared::ComparisonLine;
use super::germination_picture::{SIGNS, picture};
use super::germination_seed_words::{remedies, seed_words, uncounted};
use super::numbers::{in_a_column, p_value, several, share};
use super::table::Table;
use super::text::{columns, listed, one_under_another, wrapped};
use crate::records::warmth::SEED_COMES_UP;

/// From this p on nothing is called a difference.
const LEVEL: f64 = 0.05;

pub(super) fn words(answer: &GerminationAnswer, page: Page) -> String {
    let mut parts: Vec<String> = Vec::new();
    match answer.groups.as_slice() {
        [] => {}
        [one] => parts.push(wrapped(&headline(answer, one), page.width, "  ")),
        several => parts.push(table(several, page)),
    }
    parts.extend(curves(answer, page));
    let mut say = |lines: Vec<String>| parts.extend(one_under_another(&lines, page.width));
    say(comparisons(answer));
    say(doubts(answer));
    say(outlooks(answer));
    say(beside(answer));
    say(seed_words(answer));
    say(remedies(answer));
    say(uncounted(answer));
    parts.push(wrapped(&footnote(answer), page.width, ""));
    parts.join("\n\n")
}

fn range(share_: &Share) -> String {
    let [low, high] = share_.wilson.map(share);
    format!("{} to {high}", low.trim_end_matches(" %"))
}

/// A day after sowing, to one decimal.
fn day(days: Option<f64>) -> String {
    days.map_or_else(|| "-".to_owned(), |days| format!("{days:.1}"))
}

/// Where the mean lies between bounds more than this many days apart, both are said.
const LOOSE_DAYS: f64 = 2.0;

/// The mean by the days of the counts, or what it lies between where counts were far apart.
fn mean_words(group: &GroupLine) -> String {
    match group.timing.mean_between {
        Some([from, to]) if to - from > LOOSE_DAYS => format!("between {from:.1} and {to:.1}"),
        _ => day(group.timing.mean_days),
    }
}

fn headline(answer: &GerminationAnswer, group: &GroupLine) -> String {
    let up = group.share;
    let single = match answer.trays.as_slice() {
        [tray] if answer.by == "tray" => {
            let of = tray.pair.as_ref().filter(|pair| **pair != tray.of);
            let of = of.map_or_else(|| tray.of.clone(), |pair| format!("{}, {pair}", tray.of));
            format!(" ({of}, sown {})", tray.sown_on)
        }
        _ => String::new(),
    };
    let mut text = format!(
        "{}{single}: {} of {} up so far, {} ({}).",
        group.group,
        up.up,
        up.sown,
        share(up.share),
        range(&up)
    );
    if group.standing < up.up {
        text.push_str(&format!(" {} standing now.", group.standing));
    }
    if let (Some(median), Some(first)) = (group.timing.median_days, first_count(group)) {
        text.push_str(&format!(
            " Half of those that came were up {}; mean {} days.",
            match first {
                FirstCount::Before(_) => format!("by day {median:.1}"),
                FirstCount::AtIt(day) =>
                    format!("at the first count, on day {day:.0}, or before it"),
            },
            mean_words(group)
        ));
    }
    text
}

/// Whether half of what came up was up at the first count already, so that nobody knows when it was.
enum FirstCount {
    /// It was not: half came after it, by this day.
    Before(f64),
    /// It was, on this day.
    AtIt(f64),
}

fn first_count(group: &GroupLine) -> Option<FirstCount> {
    let (median, [from, to]) = group.timing.median_days.zip(group.timing.median_between)?;
    Some(match from > 0.0 {
        true => FirstCount::Before(median),
        false => FirstCount::AtIt(to),
    })
}

/// The column of the interval.
const RANGE_AT: usize = 4;

/// What stands over it.
const INTERVAL: &str = "95 % interval";

/// Beside names that are no longer the heading of the interval stands in one line.
const SHORT_NAME: usize = 12;

fn table(groups: &[GroupLine], page: Page) -> String {
    let mut table = Table::new(&[
        "",
        ">sown",
        ">up",
        ">share",
        &format!(">{INTERVAL}"),
        ">half by",
        ">mean",
        ">stand",
    ]);
    for group in groups {
        table.row([
            group.group.clone(),
            group.share.sown.to_string(),
            group.share.up.to_string(),
            share(group.share.share),
            range(&group.share),
            match first_count(group) {
                Some(FirstCount::Before(days)) => format!("{days:.1} d"),
                Some(FirstCount::AtIt(days)) => format!("{days:.0} d or less"),
                None => "-".to_owned(),
            },
            match group.timing.mean_days {
                Some(days) => format!("{days:.1} d"),
                None => "-".to_owned(),
            },
            group.standing.to_string(),
        ]);
    }
    // Where names are long the heading gives way, and no interval is torn.
    let names = groups.iter().map(|group| columns(&group.group)).max();
    let ranges = groups.iter().map(|group| in_a_column(&range(&group.share)));
    if let Some(longest) = ranges.max_by_key(|range| columns(range)) {
        let is_short = names.is_some_and(|longest| longest <= SHORT_NAME);
        table.keep_whole(RANGE_AT, if is_short { INTERVAL } else { &longest });
    }
    table.text(page)
}

fn curves(answer: &GerminationAnswer, page: Page) -> Option<String> {
    if answer.curves.len() > SIGNS.len() {
        return Some("Curves are drawn of up to four: name them.".to_owned());
    }
    let curves: Vec<_> = answer.curves.iter().collect();
    let mut lines = picture(&curves, page.width);
    if lines.is_empty() {
        return None;
    }
    if answer.groups.len() > 1 {
        let named: Vec<String> = answer
            .groups
            .iter()
            .zip(SIGNS)
            .map(|(group, sign)| format!("{sign} {}", group.group))
            .collect();
        let legend = format!("{}, # where they meet", named.join(", "));
        lines.push(wrapped(&format!("         {legend}"), page.width, ""));
    }
    Some(lines.join("\n"))
}

/// With more pairs than this those without a difference are named in one line.
const PAIRS_TOLD: usize = 6;

fn comparisons(answer: &GerminationAnswer) -> Vec<String> {
    let differs = |one: &&ComparisonLine| {
        one.p_fisher_holm.is_some_and(|p| p < LEVEL) || one.p_timing_holm.is_some_and(|p| p < LEVEL)
    };
    if answer.comparisons.len() <= PAIRS_TOLD {
        let all = answer.comparisons.iter();
        return all.flat_map(|one| compared(answer, one)).collect();
    }
    let (told, alike): (Vec<_>, Vec<_>) = answer.comparisons.iter().partition(differs);
    let mut lines: Vec<String> = told.iter().flat_map(|one| compared(answer, one)).collect();
    if !alike.is_empty() {
        let pairs: Vec<String> = alike
            .iter()
            .map(|one| format!("{} and {}", one.one, one.other))
            .collect();
        lines.push(format!(
            "No proven difference, in how many came up or when, between the two directions of {} pairs (by Holm): {}.",
            alike.len(),
            pairs.join("; ")
        ));
    }
    lines
}

/// The p that is judged: adjusted where several pairs are compared.
fn judged(answer: &GerminationAnswer, own: f64, adjusted: f64) -> (f64, String) {
    if answer.comparisons.len() > 1 {
        (adjusted, format!("p = {} by Holm", p_value(adjusted)))
    } else {
        (own, format!("p = {}", p_value(own)))
    }
}

fn compared(answer: &GerminationAnswer, one: &ComparisonLine) -> Vec<String> {
    let mut lines = vec![how_many(answer, one), when(answer, one)];
    let is_proven = |p: Option<f64>| p.is_some_and(|p| p < LEVEL);
    if one.reciprocal && (is_proven(one.p_fisher_holm) || is_proven(one.p_timing_holm)) {
        lines.push(whose_it_is(answer, one));
    }
    lines
}

/// Whose the difference of two directions is: the mother's, unless seed of one direction differs likewise.
fn whose_it_is(answer: &GerminationAnswer, one: &ComparisonLine) -> String {
    let pair_of = |at: usize| {
        let first = answer.groups[at].trays.first();
        let tray = first.and_then(|code| answer.trays.iter().find(|tray| tray.tray == *code));
        tray.and_then(|tray| tray.pair.clone())
    };
    let is_proven = |p: Option<f64>| p.is_some_and(|p| p < LEVEL);
    let own: Vec<String> = one.at.iter().filter_map(|at| pair_of(*at)).collect();
    let of_one_direction = answer.comparisons.iter().any(|other| {
        let [first, second] = other.at.map(pair_of);
        first.is_some_and(|pair| Some(&pair) == second.as_ref() && own.contains(&pair))
            && (is_proven(other.p_fisher_holm) || is_proven(other.p_timing_holm))
    });
    let mut groups = one.at.iter().map(|at| &answer.groups[*at]);
    let within = groups.any(|group| is_proven(group.agreement.map(|found| found.p)));
    match of_one_direction || within {
        true => "Seed of one and the same direction differs likewise here, so nothing says that this is the mother's: it \
                 may be the lot's or the tray's, by its day and place."
            .to_owned(),
        false => "If both are as labelled they carry the same genes but for the cytoplasm, so such a difference is the \
                  mother's (her seed coat, how ripe the pod was and where she stood) or the tray's, by its day and place."
            .to_owned(),
    }
}

/// How many came up of two groups; while more may come, by the last day by which both were counted.
fn how_many(answer: &GerminationAnswer, one: &ComparisonLine) -> String {
    let [a, b] = [&one.one, &one.other];
    let tested = one.p_fisher.zip(one.p_fisher_holm).zip(one.shares);
    let Some((((own, adjusted), shares), between)) = tested.zip(one.difference_between) else {
        return format!(
            "How many came up of {a} and {b} cannot be compared yet: more may come of {}, and they were not all \
             counted on the same day after sowing.",
            listed(&one.unsettled, "and")
        );
    };
    let (p, shown) = judged(answer, own, adjusted);
    // The difference of the shares in the order in which they are named.
    let [low, high] = match p < LEVEL && shares[0] <= shares[1] {
        true => [-100.0 * between[1], -100.0 * between[0]],
        false => between.map(|end| 100.0 * end),
    };
    let which = match answer.comparisons.len() > 1 {
        true => "the difference, by itself and not adjusted,",
        false => "the difference",
    };
    let between = format!("{which} lies between {low:+.0} and {high:+.0} points");
    let proof = format!("({shown}, Fisher's exact test; {between})");
    let more_may_come = more_may_come(answer, one);
    let of = shares.map(share);
    let (more, less, most, least) = match shares[0] > shares[1] {
        true => (a, b, &of[0], &of[1]),
        false => (b, a, &of[1], &of[0]),
    };
    match (one.by_day, p < LEVEL) {
        (None, true) => {
            format!("More came up of {more} than of {less}: {most} against {least} {proof}.")
        }
        (None, false) => format!(
            "How many came up of {a} and {b} is no proven difference: {} against {} {proof}.",
            of[0], of[1]
        ),
        (Some(day), true) => format!(
            "By day {day:.0} more had come up of {more} than of {less}: {most} against {least} {proof}. \
             {more_may_come}"
        ),
        (Some(day), false) => format!(
            "How many had come up of {a} and {b} by day {day:.0} is no proven difference: {} against {} {proof}. \
             {more_may_come}",
            of[0], of[1]
        ),
    }
}

/// That it is early, or, where the wait is over, that the last count was.
fn more_may_come(answer: &GerminationAnswer, one: &ComparisonLine) -> String {
    let of = listed(&one.unsettled, "and");
    let waited = answer
        .trays
        .iter()
        .filter(|tray| one.unsettled.contains(&tray.tray));
    match waited
        .into_iter()
        .all(|tray| tray.outlook == "counted-early")
    {
        true => format!("Nobody counted {of} near the end of the wait: more may have come since."),
        false => format!("It is early: more may come of {of}."),
    }
}

fn when(answer: &GerminationAnswer, one: &ComparisonLine) -> String {
    let [first, second] = one.at.map(|at| &answer.groups[at]);
    let test = match one.timing_decides {
        "log-rank" => "log-rank test",
        _ => "log-rank test on the days between counts",
    };
    let Some((own, adjusted)) = one.p_timing.zip(one.p_timing_holm) else {
        return match one.at_one_count {
            true => "When they came up cannot be compared: all of it was first counted on one day.",
            false => "When they came up cannot be compared: too few did.",
        }
        .to_owned();
    };
    let (p, shown) = judged(answer, own, adjusted);
    let half = |group: &GroupLine| match first_count(group) {
        Some(FirstCount::Before(days)) => format!("{days:.1}"),
        Some(FirstCount::AtIt(days)) => format!("{days:.0} or before"),
        None => "none".to_owned(),
    };
    let ahead = match (one.timing_decides, one.log_rank, one.interval_log_rank) {
        ("log-rank", Some(test), _) => test.observed > test.expected,
        (_, _, Some(test)) => test.score > 0.0,
        _ => false,
    };
    if p < LEVEL {
        let (soon, late) = if ahead {
            (first, second)
        } else {
            (second, first)
        };
        format!(
            "{} came sooner, or more of it by any day: half of what came was up by day {}, of {} by day {} ({shown}, \
             {test}).",
            soon.group,
            half(soon),
            late.group,
            half(late)
        )
    } else {
        format!("When they came up is no proven difference either way ({shown}, {test}).")
    }
}

/// Trays that differ among themselves, and counts that cannot be.
fn doubts(answer: &GerminationAnswer) -> Vec<String> {
    let mut lines = Vec::new();
    for group in &answer.groups {
        if let Some(found) = group.agreement.filter(|found| found.p < LEVEL) {
            lines.push(format!(
                "The trays of {} differ more than chance has it (p = {}): its interval is too narrow, and a comparison \
                 with it too sure.",
                group.group,
                p_value(found.p)
            ));
        }
        let first = group.timing.curve.first();
        let early =
            first.filter(|first| 2.0 * first.up > group.share.up as f64 && group.share.up > 1);
        if let Some(first) = early
            && group.trays.len() == 1
        {
            lines.push(format!(
                "{}: more than half of those that came were up at the first count, on day {:.0}; when is a guess between sowing and then. \
                 A count every day or two tells it.",
                group.group, first.days
            ));
        }
    }
    let many = answer.trays.iter().filter(|tray| tray.more_than_sown);
    lines.extend(many.map(|tray| {
        format!(
            "{}: more were counted than sown; all {} count as up.",
            tray.tray, tray.sown
        )
    }));
    lines
}

fn outlooks(answer: &GerminationAnswer) -> Vec<String> {
    let warm = |tray: &TrayLine| warm(answer, tray);
    let all = answer.trays.iter();
    let told: Vec<&TrayLine> = all.filter(|tray| tray.missing > 0).collect();
    let with = |outlook: &str| -> Vec<&TrayLine> {
        let fits = told.iter().copied();
        fits.filter(|tray| tray.outlook == outlook).collect()
    };
    let (open, over) = (with("not-dead-yet"), with("past-hope"));
    let missing = |tray: &TrayLine| format!("{} not up", several(tray.missing, "seed", "seeds"));
    let mut lines: Vec<String> = open
        .iter()
        .map(|tray| {
            format!(
                "{}: {}, and not dead yet: {} wait until {} ({} days after sowing).",
                tray.tray,
                missing(tray),
                warm(tray),
                tray.until.spoken(),
                tray.window_days
            )
        })
        .collect();
    lines.extend(with("counted-early").into_iter().filter_map(|tray| {
        let days = tray.last_seen_days?;
        Some(format!(
            "{}: last counted on day {days} of the {} that seed is waited for, {} of {} not up then: count again, with \
             'locule up {} N'.",
            tray.tray, tray.window_days, tray.missing, tray.sown, tray.tray
        ))
    }));
    let mut alike: Vec<(String, Vec<String>)> = Vec::new();
    for tray in over {
        let named = format!("{} ({} of {} not up)", tray.tray, tray.missing, tray.sown);
        let own = warm(tray);
        match alike.iter_mut().find(|(known, _)| *known == own) {
            Some((_, all)) => all.push(named),
            None => alike.push((own, vec![named])),
        }
    }
    lines.extend(
        alike
            .into_iter()
            .map(|(warm, named)| format!("The wait {warm} is over for {}.", listed(&named, "and"))),
    );
    let uncounted = answer.uncounted.iter().filter(|tray| tray.scored == 0);
    let told = told.into_iter().chain(uncounted);
    lines.extend(told.filter_map(|tray| outside(answer, tray)));
    lines
}

/// In which warmth a tray is waited for, and who says so.
fn warm(answer: &GerminationAnswer, tray: &TrayLine) -> String {
    let soil = tray
        .soil
        .filter(|soil| SEED_COMES_UP.contains(&soil.celsius));
    match (answer.warmth, soil) {
        (Some(asked), _) => format!("at {asked} °C, as asked,"),
        (None, Some(soil)) => {
            let (celsius, since) = (soil.celsius, soil.since.spoken());
            format!("at {celsius} °C, recorded on {since},")
        }
        (None, None) => "at 25 to 28 °C".to_owned(),
    }
}

/// That the soil of a tray is too cold or too hot for a window of its own.
fn outside(answer: &GerminationAnswer, tray: &TrayLine) -> Option<String> {
    let soil = tray.soil.filter(|_| answer.warmth.is_none())?;
    if SEED_COMES_UP.contains(&soil.celsius) {
        return None;
    }
    let (celsius, since) = (soil.celsius, soil.since.spoken());
    Some(format!(
        "{}: {celsius} °C was recorded on {since}; outside 15 to 35 °C next to nothing comes up, and no window is known. \
         Warm it, and say so: locule care warmth {} --at 24",
        tray.tray, tray.tray
    ))
}

/// Beside the minima of certified seed, and beside last year.
fn beside(answer: &GerminationAnswer) -> Vec<String> {
    // Groups that fare alike are named together.
    let mut alike: Vec<(Vec<&str>, Vec<&str>)> = Vec::new();
    for group in &answer.groups {
        let verdicts: Vec<&str> = group.minima.iter().map(|one| one.verdict).collect();
        match alike.iter_mut().find(|(known, _)| *known == verdicts) {
            Some((_, names)) => names.push(&group.group),
            None => alike.push((verdicts, vec![&group.group])),
        }
    }
    let is_short = |verdicts: &Vec<&str>| verdicts.iter().any(|verdict| *verdict != "above");
    let any_short = alike.iter().any(|(verdicts, _)| is_short(verdicts));
    let short: Vec<String> = alike
        .iter()
        .filter(|_| any_short)
        .map(|(verdicts, names)| {
            let one = names.len() == 1;
            let said: Vec<String> = verdicts
                .iter()
                .zip(MINIMA)
                .map(|(verdict, (_, minimum, _))| {
                    let verb = match (*verdict, one) {
                        ("above", true) => "passes",
                        ("above", false) => "pass",
                        ("below", true) => "misses",
                        ("below", false) => "miss",
                        ("not-yet", _) => "may yet pass",
                        _ => "may pass",
                    };
                    format!("{verb} {}", share(minimum))
                })
                .collect();
            format!("{} {}", listed(names, "and"), listed(&said, "and"))
        })
        .collect();
    let mut lines = Vec::new();
    if !short.is_empty() {
        lines.push(format!(
            "Beside what certified seed must bring: {}.",
            short.join("; ")
        ));
    }
    for (group, last) in answer
        .groups
        .iter()
        .filter_map(|group| Some((group, group.last_year.as_ref()?)))
    {
        let differs = match last.p {
            Some(p) if p < LEVEL => format!("a difference (p = {})", p_value(p)),
            Some(p) => format!("no proven difference (p = {})", p_value(p)),
            None => "not to be compared while more may come".to_owned(),
        };
        let whose = if answer.by == "tray" {
            let tray = answer.trays.iter().find(|tray| tray.tray == group.group);
            tray.map_or(&group.group, |tray| &tray.of)
        } else {
            &group.group
        };
        lines.push(format!(
            "{whose} in {}: {} of {} up, {}; in {} {} of {}, {}: {differs}.",
            last.year - 1,
            last.before.up,
            last.before.sown,
            share(last.before.share),
            last.year,
            last.now.up,
            last.now.sown,
            share(last.now.share)
        ));
    }
    lines
}

fn footnote(answer: &GerminationAnswer) -> String {
    if answer.groups.is_empty() {
        return "Counts of what is up, every day or two, are all it takes: locule up T1 7"
            .to_owned();
    }
    let days = answer
        .groups
        .first()
        .and_then(|group| group.timing.mean_between);
    let mean = match (answer.groups.len(), days) {
        (1, Some([from, to])) => format!(
            " Since nobody saw them between counts the mean lies between {from:.1} and {to:.1} days."
        ),
        _ => String::new(),
    };
    let [us, nm] = MINIMA.map(|(_, minimum, _)| share(minimum));
    format!(
        "Days are days after sowing; a seedling counts from the day it was first counted.{mean} Intervals are 95 %, by \
         Wilson. The minima of certified seed ({us}, {nm}) are for tests of 400 seeds on paper; a tray is not one."
    )
}
