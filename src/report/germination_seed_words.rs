//! What is to be said of the seed itself: old, fresh or unripe, what may wake it, and trays that nobody counted.

use super::germination::{GerminationAnswer, TrayLine};
use super::numbers::several;
use super::text::listed;

/// Over this age seed is said to lose vigour: up to 4 years best (a study of Plovdiv, read).
const OLD_DAYS: i64 = 4 * 365;

/// Seed of pods picked before so many days after pollination may be unripe: none of green fruit at 30 days, best from 50
/// (Sánchez 1993, read).
const RIPE_DAYS: i64 = 50;

/// Age in words: days up to two months, months up to two years, years from then on.
fn age(days: i64) -> String {
    match days {
        0..=60 => several(days.unsigned_abs(), "day", "days"),
        61..=730 => format!("{:.0} months", days as f64 / 30.44),
        _ => format!("{:.1} years", days as f64 / 365.25),
    }
}

/// What is to be said of the seed itself: old, fresh, or picked unripe.
pub(super) fn seed_words(answer: &GerminationAnswer) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for tray in answer.trays.iter().chain(&answer.uncounted) {
        for lot in &tray.lots {
            let least = if lot.packet { "at least " } else { "" };
            let poor = tray.slow;
            if lot.age_days > OLD_DAYS {
                lines.push(format!(
                    "{} was {least}{} old when sown in {}: seed is best up to 4 years, then slower before it is dead.",
                    lot.lot,
                    age(lot.age_days),
                    tray.tray
                ));
            } else if poor && !lot.packet && (0..42).contains(&lot.age_days) {
                lines.push(format!(
                    "{} was {} old when sown in {}: it may sleep still; about 6 weeks in the warm wake fresh seed.",
                    lot.lot,
                    age(lot.age_days),
                    tray.tray
                ));
            }
            if let Some(ripened) = lot.ripened_days.filter(|days| poor && *days < RIPE_DAYS) {
                lines.push(format!(
                    "{} was picked {ripened} days after pollination: seed of green fruit at 30 days did not come up, \
                     red from 50 days best.",
                    lot.lot
                ));
            }
        }
    }
    lines.dedup();
    lines
}

pub(super) fn remedies(answer: &GerminationAnswer) -> Vec<String> {
    if answer.remedies.is_empty() {
        return Vec::new();
    }
    let mut lines =
        vec!["Before it is given up, what may wake it (on part of the seed):".to_owned()];
    lines.extend(answer.remedies.iter().map(|remedy| {
        let whose = match remedy.species {
            "" => String::new(),
            species => format!("{species}: "),
        };
        format!(
            "  - {whose}{}; {} [{}; {}]",
            remedy.what, remedy.caution, remedy.source, remedy.standing
        )
    }));
    lines
}

/// Trays that nobody counted, each named once, and until when they are waited for.
pub(super) fn uncounted(answer: &GerminationAnswer) -> Vec<String> {
    let (scored, unseen): (Vec<&TrayLine>, Vec<_>) =
        answer.uncounted.iter().partition(|tray| tray.scored > 0);
    let mut lines: Vec<String> = scored
        .iter()
        .map(|tray| {
            format!(
                "{}: nobody counted what came up of {} seeds. {} were scored. 'locule up {} {} --on DAY' says it.",
                tray.tray, tray.sown, tray.scored, tray.tray, tray.scored
            )
        })
        .collect();
    let named = |tray: &&TrayLine| {
        let seeds = several(tray.sown, "seed", "seeds");
        let wait = match tray.outlook {
            "not-dead-yet" => format!("to wait for until {}", tray.until.spoken()),
            _ => "the wait is over".to_owned(),
        };
        format!("{} ({seeds}, {wait})", tray.tray)
    };
    let named: Vec<String> = unseen.iter().map(named).collect();
    if let Some(first) = unseen.first() {
        lines.push(format!(
            "Nobody counted what came up of {}. 'locule up {} N --on DAY' says it.",
            listed(&named, "and"),
            first.tray
        ));
    }
    lines
}
