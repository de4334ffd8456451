//! Batches of rounds, played on every core, counted, and kept.

use std::collections::{BTreeMap, VecDeque};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use super::chance::Chance;
use super::options::Options;
use super::results::{self, Line};
use super::stage::Stage;

/// How much of a threat a form takes: batches, and rounds in each.
#[derive(Debug, Clone, Copy)]
pub struct Plan {
    /// How many batches.
    pub batches: u64,
    /// How many rounds in each.
    pub rounds: u64,
}

/// A threat.
#[derive(Debug)]
pub struct Threat {
    /// Its name on the command line.
    pub name: &'static str,
    /// The short form.
    pub short: Plan,
    /// The long form.
    pub long: Plan,
    /// Plays a batch.
    pub play: fn(&mut Batch),
}

/// One batch: where it is played, what it draws from, and what it counts.
#[derive(Debug)]
pub struct Batch<'a> {
    /// Its number within the threat, from 0.
    pub number: u64,
    /// How many batches there are.
    pub of: u64,
    /// How many rounds to play.
    pub rounds: u64,
    /// Whether it belongs to the long form.
    pub long: bool,
    /// The folder it has to itself.
    pub stage: &'a Stage,
    /// Its draws.
    pub chance: Chance,
    /// What was counted.
    pub counts: BTreeMap<String, u64>,
    /// What should not be.
    pub faults: BTreeMap<String, u64>,
    /// The first faults in words.
    pub words: Vec<String>,
}

/// How many faults of a kind a batch describes.
const DESCRIBED: u64 = 2;

impl Batch<'_> {
    /// Counts something.
    pub fn count(&mut self, what: &str, times: u64) {
        *self.counts.entry(what.to_owned()).or_default() += times;
    }

    /// Counts a round.
    pub fn round(&mut self) {
        self.count("rounds", 1);
    }

    /// Notes a fault.
    pub fn fault(&mut self, kind: &str, words: impl Into<String>) {
        let times = self.faults.entry(kind.to_owned()).or_default();
        *times += 1;
        if *times <= DESCRIBED {
            self.words.push(format!("{kind}: {}", words.into()));
        }
    }
}

/// A batch that waits for its turn.
#[derive(Debug, Clone, Copy)]
struct Job<'a> {
    threat: &'a Threat,
    plan: Plan,
    number: u64,
}

/// Plays the threats; whether no fault was found.
pub fn run(threats: &[&Threat], options: &Options) -> Result<bool, String> {
    let begun = Instant::now();
    let done = if options.keep {
        results::read(&options.results)?
    } else {
        Vec::new()
    };
    let seed = options
        .seed
        .or_else(|| results::seed_of(&done, options.long));
    let seed = seed.unwrap_or_else(fresh_seed);
    println!("seed {seed:016x}");
    let jobs = Mutex::new(plan(threats, options, &done));
    let sum = Mutex::new(Vec::<Line>::new());
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        let play_all = || -> Result<(), String> {
            let stage = Stage::new()?;
            loop {
                let late = options.until.is_some_and(|until| begun.elapsed() > until);
                let next = jobs.lock().expect("no player panics with it").pop_front();
                let Some(job) = next.filter(|_| !late) else {
                    return Ok(());
                };
                let line = play(&job, &stage, seed, options.long);
                if options.keep {
                    results::append(&options.results, &line)?;
                }
                sum.lock().expect("no player panics with it").push(line);
            }
        };
        let players: Vec<_> = (0..cores).map(|_| scope.spawn(play_all)).collect();
        players
            .into_iter()
            .try_for_each(|player| player.join().map_err(|_| "a player panicked".to_owned())?)
    })?;
    let lines = sum.into_inner().expect("every player has ended");
    tell(threats, &lines, begun.elapsed());
    Ok(lines.iter().all(|line| line.faults.is_empty()) && !lines.is_empty())
}

/// The batches to play, the threats that take longest side by side.
fn plan<'a>(threats: &[&'a Threat], options: &Options, done: &[Line]) -> VecDeque<Job<'a>> {
    let mut jobs = Vec::new();
    for threat in threats {
        let plan = if options.long {
            threat.long
        } else {
            threat.short
        };
        for number in 0..plan.batches {
            let played = options.long && results::has(done, threat.name, number);
            if options.batch.is_none_or(|one| one == number) && !played {
                jobs.push(Job {
                    threat,
                    plan,
                    number,
                });
            }
        }
    }
    jobs.sort_by_key(|job| job.number);
    jobs.into()
}

fn play(job: &Job, stage: &Stage, seed: u64, long: bool) -> Line {
    let begun = Instant::now();
    stage.clear();
    let mut batch = Batch {
        number: job.number,
        of: job.plan.batches,
        rounds: job.plan.rounds,
        long,
        stage,
        chance: Chance::of(seed, job.threat.name, job.number),
        counts: BTreeMap::new(),
        faults: BTreeMap::new(),
        words: Vec::new(),
    };
    let played = catch_unwind(AssertUnwindSafe(|| (job.threat.play)(&mut batch)));
    if played.is_err() {
        batch.fault("broken off", "the batch could not be played to its end");
    }
    let form = if long { " --long" } else { "" };
    for words in &batch.words {
        println!(
            "FAULT {words}\n  again: cargo bench --bench campaign -- {}{form} --seed {seed:016x} --batch {}",
            job.threat.name, job.number
        );
    }
    Line {
        threat: job.threat.name.to_owned(),
        long,
        seed: format!("{seed:016x}"),
        batch: job.number,
        counts: batch.counts,
        faults: batch.faults,
        seconds: begun.elapsed().as_secs(),
    }
}

fn fresh_seed() -> u64 {
    let mut bytes = [0; 8];
    getrandom::fill(&mut bytes).expect("the system has random numbers");
    u64::from_le_bytes(bytes)
}

fn tell(threats: &[&Threat], lines: &[Line], took: Duration) {
    for threat in threats {
        let sums = results::sums(lines.iter().filter(|line| line.threat == threat.name));
        let words = |map: &BTreeMap<String, u64>| {
            let each: Vec<String> = map.iter().map(|(what, n)| format!("{n} {what}")).collect();
            each.join(", ")
        };
        let faults = match sums.faults.is_empty() {
            true => "no fault".to_owned(),
            false => format!("FAULTS: {}", words(&sums.faults)),
        };
        println!(
            "{}: {}; {faults} ({} s)",
            threat.name,
            words(&sums.counts),
            sums.seconds
        );
    }
    println!("took {} s", took.as_secs());
}

/// Whether a program of the system is there.
pub fn has_program(name: &str) -> bool {
    std::env::var_os("PATH").is_some_and(|path| {
        std::env::split_paths(&path).any(|folder| Path::new(&folder).join(name).is_file())
    })
}
