//! Clocks: every time zone, every day that a ledger takes, and a clock that goes back.

use std::fs;
use std::path::Path;

use locule::records::day::Day;

use super::run::{Batch, Plan, Threat};
use super::scene;
use super::stage::{self, Run};

/// The threat.
pub const THREAT: Threat = Threat {
    name: "clocks",
    short: Plan {
        batches: 2,
        rounds: 0,
    },
    long: Plan {
        batches: 16,
        rounds: 0,
    },
    play,
};

const ZONES: &str = "/usr/share/zoneinfo";

/// Zones as POSIX writes them (IEEE Std 1003.1, Base Definitions, 8.3 "TZ").
const POSIX: &[&str] = &[
    "XXX-13:37",
    "XXX+11:01",
    "<-03>3",
    "<+0545>-5:45",
    "EST5EDT,M3.2.0,M11.1.0",
    "UTC0",
    "XXX-14",
    "XXX12",
    "NZST-12NZDT,M9.5.0,M4.1.0/3",
    "IST-5:30",
];

fn play(batch: &mut Batch) {
    scene::season(batch.stage);
    let mut zones = Vec::new();
    gather(Path::new(ZONES), &mut zones);
    if zones.is_empty() {
        batch.count("skipped: no zones on this machine", 1);
    }
    zones.sort();
    zones.extend(POSIX.iter().map(|zone| (*zone).to_owned()));
    let (number, of) = (batch.number as usize, batch.of as usize);
    for zone in zones.into_iter().skip(number).step_by(of) {
        batch.round();
        in_zone(batch, &zone);
    }
    days(batch);
    leap_days(batch);
    set_back(batch);
}

fn gather(folder: &Path, zones: &mut Vec<String>) {
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        let name = path
            .strip_prefix(ZONES)
            .expect("below it")
            .to_string_lossy()
            .into_owned();
        if path.is_dir() {
            if !matches!(name.as_str(), "posix" | "right") {
                gather(&path, zones);
            }
        } else if fs::read(&path).is_ok_and(|bytes| bytes.starts_with(b"TZif"))
            && name != "localtime"
        {
            zones.push(name);
        }
    }
}

/// Runs a line on the real clock in a zone.
fn run_in(batch: &Batch, zone: &str, line: &str) -> Run {
    let mut command = batch.stage.command(line);
    stage::finish(command.env_remove("LOCULE_TODAY").env("TZ", zone))
}

/// What the system's own `date` says.
fn date_in(batch: &Batch, zone: &str) -> String {
    let mut command = batch.stage.program("date");
    stage::finish(command.args(["+%F %:z"]).env("TZ", zone))
        .out
        .trim()
        .replace("-00:00", "+00:00")
}

/// An entry carries the day and the offset that the zone has now.
fn in_zone(batch: &mut Batch, zone: &str) {
    let before = date_in(batch, zone);
    let wrote = run_in(batch, zone, "note NL 'what day is it'");
    let after = date_in(batch, zone);
    let asked = run_in(batch, zone, "history --json");
    let shown: serde_json::Value = serde_json::from_str(&asked.out).unwrap_or_default();
    let entry = shown["entries"]
        .as_array()
        .and_then(|entries| entries.last().cloned())
        .unwrap_or_default();
    let day = entry["at"]
        .as_str()
        .and_then(|at| at.split(' ').next())
        .unwrap_or("")
        .to_owned();
    let found = format!("{day} {}", entry["utc_offset"].as_str().unwrap_or(""));
    if !wrote.ok() || !asked.ok() || (found != before && found != after) {
        batch.fault(
            "wrong day",
            format!(
                "TZ={zone}: '{found}', by date '{before}'; {}",
                wrote.words()
            ),
        );
    }
}

/// The days of a year by the Gregorian rule.
const fn days_in(year: i32, month: u32) -> u32 {
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    match month {
        2 if leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

/// Every day from 1900 to 2199 is read, written and kept; no other is.
fn days(batch: &mut Batch) {
    let connection = rusqlite::Connection::open_in_memory().expect("memory");
    let mut same = connection
        .prepare("SELECT date(?1) IS ?1")
        .expect("plain SQL");
    let (number, of) = (batch.number as i32, batch.of as i32);
    for year in (1900..2200).filter(|year| year % of == number) {
        for (month, day) in (1..=12).flat_map(|month| (1..=31).map(move |day| (month, day))) {
            let text = format!("{year:04}-{month:02}-{day:02}");
            let read: Option<String> = text.parse::<Day>().ok().map(|day| day.to_string());
            let is_day = day <= days_in(year, month);
            batch.count("days", u64::from(is_day));
            let kept: bool = same
                .query_row([&text], |row| row.get(0))
                .expect("an answer");
            if read != is_day.then(|| text.clone()) || kept != is_day {
                batch.fault("wrong day", format!("{text}: {read:?}"));
            }
        }
    }
}

/// Every 29 February, as today and with `--on`.
fn leap_days(batch: &mut Batch) {
    let (number, of) = (batch.number as i32, batch.of as i32);
    for year in (1904..2200).filter(|year| days_in(*year, 2) == 29 && year / 4 % of == number) {
        let day = format!("{year}-02-29");
        let mut command = batch.stage.command("note NL leap");
        let wrote = stage::finish(command.env("LOCULE_TODAY", &day));
        let mut command = batch.stage.command(&format!("note NL leap --on {day}"));
        let later = stage::finish(command.env("LOCULE_TODAY", "2199-12-31"));
        let days = super::judge::column(&batch.stage.ledger(), "remark", "day")
            .expect("the ledger can be read");
        let kept = days.iter().filter(|kept| **kept == day).count();
        batch.count("leap days", 1);
        if !wrote.ok() || !later.ok() || kept != 2 {
            batch.fault(
                "wrong day",
                format!(
                    "{day} kept {kept} times: {}; {}",
                    wrote.words(),
                    later.words()
                ),
            );
        }
    }
}

/// The clock goes back ten years between two commands: all can be read, and recorded on.
fn set_back(batch: &mut Batch) {
    for (today, lines) in [
        (
            "2016-06-01",
            &[
                "history",
                "list",
                "show NL",
                "show T1",
                "suspects",
                "sheet",
                "check-ledger",
            ][..],
        ),
        (
            "2016-06-01",
            &[
                "note NL 'with the clock set back'",
                "history",
                "show NL",
                "undo",
                "redo",
            ],
        ),
        (
            "2026-06-02",
            &["note NL 'and right again'", "suspects", "check-ledger"],
        ),
    ] {
        for line in lines {
            let mut command = batch.stage.command(line);
            let run = stage::finish(command.env("LOCULE_TODAY", today));
            batch.count("commands with the clock set back", 1);
            if !run.ok() {
                batch.fault("refused", format!("{line} on {today}: {}", run.words()));
            }
        }
    }
}
