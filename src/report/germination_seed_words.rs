//! What is to be said of the seed itself: old, fresh or unripe, what may wake it, and trays that nobody counted.

use super::germination::{GerminationAnswer, TrayLine};
use super::numbers::several;

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

pub(super) fn uncounted(answer: &GerminationAnswer) -> Vec<String> {
    let one = |tray: &TrayLine| {
        let seen = if tray.scored > 0 {
            format!(" {} were scored.", tray.scored)
        } else {
            String::new()
        };
        let up = if tray.scored > 0 {
            tray.scored.to_string()
        } else {
            "N".to_owned()
        };
        format!(
            "{}: nobody counted what came up of {} seeds.{seen} 'locule up {} {up} --on DAY' says it.",
            tray.tray, tray.sown, tray.tray
        )
    };
    answer.uncounted.iter().map(one).collect()
}
