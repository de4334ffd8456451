//! The program killed at random moments of one command after another, the parent keeping what was acknowledged.

use std::collections::VecDeque;
use std::time::{Duration, Instant};

use super::judge::{self, Entry, Found};
use super::run::{Batch, Plan, Threat};
use super::scene;
use super::stage::{self, Run};

/// The threat.
pub const THREAT: Threat = Threat {
    name: "kills",
    short: Plan {
        batches: 4,
        rounds: 250,
    },
    long: Plan {
        batches: 100,
        rounds: 1000,
    },
    play,
};

/// After how many kills the ledger is begun anew, so that it stays as small as a season's.
const FRESH_AFTER: u64 = 250;

/// When to kill: anywhere in a run, or near the moments at which a write was met.
struct Aim {
    run: Duration,
    met: VecDeque<Duration>,
}

impl Aim {
    fn delay(&self, batch: &mut Batch) -> Duration {
        if self.met.is_empty() || batch.chance.once_in(2) {
            return self.run.mul_f64(1.2 * batch.chance.share());
        }
        let at = batch.chance.below(self.met.len());
        self.met[at].mul_f64(0.85 + 0.3 * batch.chance.share())
    }

    fn learn(&mut self, delay: Duration) {
        self.met.push_back(delay);
        if self.met.len() > 30 {
            self.met.pop_front();
        }
    }
}

fn play(batch: &mut Batch) {
    let mut known: Vec<Entry> = Vec::new();
    let mut aim = Aim {
        run: Duration::ZERO,
        met: VecDeque::new(),
    };
    for number in 0..batch.rounds {
        if number % FRESH_AFTER == 0 {
            batch.stage.clear();
            scene::season(batch.stage);
            let (_, took) = stage::timed(|| batch.stage.ok("note NL 'how long does it take'"));
            aim.run = took;
            known = judge::look(batch.stage).entries().to_vec();
        }
        let line = scene::any_line(&mut batch.chance, number);
        let delay = aim.delay(batch);
        let (run, killed) = run_and_kill(batch, &line, delay);
        batch.round();
        batch.count("kills", u64::from(killed));
        if killed && batch.stage.journal().exists() {
            batch.count("kills within the write", 1);
            aim.learn(delay);
        }
        if let Some(entries) = judge_kill(batch, &line, &run, &known) {
            let grown = entries.len() > known.len();
            batch.count("kills after the write", u64::from(killed && grown));
            known = entries;
        }
    }
}

fn run_and_kill(batch: &Batch, line: &str, delay: Duration) -> (Run, bool) {
    let begun = Instant::now();
    let mut child = batch
        .stage
        .command(line)
        .spawn()
        .expect("the program can be started");
    while begun.elapsed() < delay {
        if delay.saturating_sub(begun.elapsed()) > Duration::from_millis(1) {
            std::thread::sleep(Duration::from_micros(200));
        }
    }
    // A child that has ended by itself is no failure here: its status tells.
    let _ = child.kill();
    let run = stage::collect(child);
    let killed = run.signal == Some(9);
    (run, killed)
}

/// Judges what a killed or finished command left; the entries, unless they are past judging.
fn judge_kill(batch: &mut Batch, line: &str, run: &Run, known: &[Entry]) -> Option<Vec<Entry>> {
    let entries = match judge::look(batch.stage) {
        Found::Sound(entries) => entries,
        Found::Nothing => {
            batch.fault("lost", format!("{line}: the ledger is gone"));
            return None;
        }
        Found::Damaged(words) => {
            batch.fault("damaged", format!("{line}: {words}"));
            return None;
        }
    };
    if !entries.starts_with(known) {
        batch.fault(
            "lost",
            format!("{line}: an entry from before is gone or altered"),
        );
    }
    let new = entries.len().saturating_sub(known.len());
    let acknowledged = run.ok() || run.out.contains('\n');
    batch.count("acknowledged", u64::from(acknowledged));
    if acknowledged && new == 0 {
        batch.fault(
            "lost",
            format!("{line}: acknowledged and not there; {}", run.words()),
        );
    }
    if !run.ok() && run.status.is_some() && new > 0 {
        batch.fault(
            "false word",
            format!("{line}: refused and there; {}", run.words()),
        );
    }
    if new > 1 {
        batch.fault(
            "stranger",
            format!("{line}: {new} new entries of one command"),
        );
    }
    if run.status.is_some_and(|status| status > 5) {
        batch.fault("status", format!("{line}: {}", run.words()));
    }
    Some(entries)
}
