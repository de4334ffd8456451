//! Two at once: processes that record side by side, and one that holds the ledger for ten seconds.

use std::collections::BTreeMap;
use std::time::Duration;

use super::judge;
use super::run::{Batch, Plan, Threat, has_program};
use super::scene;
use super::stage::{self, Stage};

/// The threat: the rounds are entries that each of two writers makes.
pub const THREAT: Threat = Threat {
    name: "writers",
    short: Plan {
        batches: 2,
        rounds: 60,
    },
    long: Plan {
        batches: 20,
        rounds: 500,
    },
    play,
};

fn play(batch: &mut Batch) {
    scene::season(batch.stage);
    if batch.number.is_multiple_of(2) {
        side_by_side(batch);
    } else {
        while_one_holds(batch);
    }
}

/// Records until it is acknowledged; how often another was writing.
fn insist(stage: &Stage, line: &str) -> Result<u64, String> {
    for busy in 0..1000 {
        let run = stage.run(line);
        match run.status {
            Some(0) => return Ok(busy),
            Some(3) if run.err.contains("another process") => {}
            _ => return Err(format!("{line}: {}", run.words())),
        }
    }
    Err(format!(
        "{line}: another process was writing, a thousand times"
    ))
}

fn side_by_side(batch: &mut Batch) {
    let (stage, rounds) = (batch.stage, batch.rounds);
    let write = |who: &'static str| {
        let each = move |n| insist(stage, &format!("note NL '{who} {n}'"));
        (0..rounds).map(each).collect::<Vec<_>>()
    };
    let outcomes = std::thread::scope(|scope| {
        let other = scope.spawn(|| write("left"));
        let mut outcomes = write("right");
        outcomes.extend(other.join().expect("a writer does not panic"));
        outcomes
    });
    for outcome in outcomes {
        batch.round();
        match outcome {
            Ok(busy) => batch.count("busy, said and tried again", busy),
            Err(words) => batch.fault("unclear", words),
        }
    }
    let mut times: BTreeMap<String, u64> = BTreeMap::new();
    for entry in judge::look(stage).entries() {
        *times.entry(entry.command.clone()).or_default() += 1;
    }
    for who in ["left", "right"] {
        for number in 0..rounds {
            match times.get(&format!("note NL '{who} {number}'")) {
                Some(1) => {}
                None => batch.fault("lost", format!("{who} {number}")),
                Some(_) => batch.fault("double", format!("{who} {number}")),
            }
        }
    }
}

/// One process stands still within its write, as on a disk that takes ten seconds for a flush.
fn while_one_holds(batch: &mut Batch) {
    if !has_program("strace") {
        batch.count("skipped: strace is missing", 1);
        return;
    }
    let stage = batch.stage;
    let mut command = stage.program("strace");
    command.args([
        "-f",
        "-qq",
        "-e",
        "trace=fsync",
        "-e",
        "inject=fsync:delay_enter=10000000:when=1",
        "-o",
    ]);
    command
        .arg(stage.log())
        .arg(stage::binary())
        .args(["note", "NL", "held"]);
    let holder = command.spawn().expect("strace can be started");
    let begun = std::time::Instant::now();
    while !stage.journal().exists() {
        assert!(
            begun.elapsed() < Duration::from_secs(20),
            "the holder does not come to its write"
        );
        std::thread::sleep(Duration::from_millis(5));
    }
    let (run, took) = stage::timed(|| stage.run("note NL 'refused'"));
    batch.round();
    if run.status != Some(3)
        || !run.err.contains("another process")
        || !run.err.contains("nothing was changed")
    {
        batch.fault("unclear", run.words());
    }
    if took > Duration::from_secs(9) {
        batch.fault("slow", format!("busy was said after {} s", took.as_secs()));
    }
    let held = stage::collect(holder);
    let after = insist(stage, "note NL 'afterwards'");
    let entries = judge::look(stage);
    let has = |text: &str| {
        let command = |entry: &&judge::Entry| entry.command.contains(text);
        entries.entries().iter().filter(command).count()
    };
    let found = (has("held"), has("refused"), has("afterwards"));
    if !held.ok() || after.is_err() || found != (1, 0, 1) {
        batch.fault("lost", format!("{found:?}; {after:?}; {}", held.words()));
    }
    batch.count("holders for ten seconds", 1);
}
