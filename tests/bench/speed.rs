//! How fast the program answers, printed as times and ratios. `cargo bench --bench speed`; fails where a stated limit is
//! passed by more than the slack for a busy machine.

#![expect(clippy::print_stdout, reason = "a benchmark prints its times")]

#[path = "invented.rs"]
mod invented;
#[path = "planned.rs"]
mod planned;

use std::collections::BTreeMap;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use invented::{Ledger, code, count, day, peak_memory, target};
use locule::diagnosis::genotypes::genotypes_of_all;
use locule::diagnosis::late_colour::{Split, Wanted, fit_traits, late_traits};
use locule::diagnosis::looks::Looks;
use locule::diagnosis::mishaps::{Grouping, learn};
use locule::diagnosis::suspects::suspects;
use locule::genetics::{
    AtLocus, Breeding, Diploid, ExpectError, GeneModel, Generation, LinkageMap, LocusBook, LocusIx,
    Parent, Recombination, Recurrent, breed,
};
use locule::records::change::RowChange;
use locule::records::day::Day;
use locule::records::entry::{
    Entry, Look, NewParent, NewPollination, Score, ScoreWhat, Seen, SeenWhat, Sowing, UpCount,
    UpWhat,
};
use locule::records::rows::{PlantKind, SettingRow};
use locule::records::target::Target;
use locule::store::{self, EntryKind, EntryNote, Identity, State};

/// How much slower than stated a busy machine may be before the benchmark fails.
const SLACK: f64 = 2.0;

/// Parents of the invented ledger.
const PARENTS: usize = 10;

impl Ledger {
    /// Gives a seedling a code.
    fn kept(&mut self, code: &str, place: Target, day: Day) {
        self.enter(Entry::Parent(NewParent {
            code: self::code(code),
            name: None,
            species: None,
            kind: PlantKind::Line,
            genotype: None,
            proven: false,
            looks: Vec::new(),
            cytoplasm: None,
            from: Some(place),
            pedigree: None,
            day,
        }));
    }

    fn cross(&mut self, at: usize, mother: &str, father: &str) {
        self.enter(Entry::Pollination(NewPollination {
            mother: target(mother),
            father: Some(target(father)),
            code: Some(code(&format!("X{at}"))),
            flowers: None,
            tool: "brush".to_owned(),
            wiped: at.is_multiple_of(3),
            emasculated: true,
            covered: at.is_multiple_of(2),
            day: Some(day("2026-01-10").forward((at % 40) as i64)),
        }));
    }

    fn tray(&mut self, at: usize, cross: usize, seeds: u32) {
        let sown = day("2026-04-01").forward((at % 30) as i64);
        let tray = code(&format!("T{at}"));
        self.enter(Entry::Sowing(Sowing {
            source: target(&format!("X{cross}")),
            lot: None,
            seeds: count(seeds),
            tray: Some(tray.clone()),
            cells: None,
            place: format!("shelf{}", at % 5),
            medium: String::new(),
            light: String::new(),
            warmth: None,
            day: sown,
        }));
        for (after, up) in [(9, seeds / 2), (12, seeds)] {
            let what = UpWhat::Batch(count(up));
            self.enter(Entry::Up(UpCount {
                batch: tray.clone(),
                what,
                day: sown.forward(after),
            }));
        }
        let green = u32::try_from(at % 3).expect("small");
        let looks = vec![
            (count(seeds - green), look("purple")),
            (count(green), look("green")),
        ];
        let what = ScoreWhat::Tally(looks.into_iter().filter(|(n, _)| n.get() > 0).collect());
        let target = target(&format!("T{at}"));
        self.enter(Entry::Score(Score {
            target,
            what,
            of: None,
            leaves: None,
            day: sown.forward(36),
        }));
    }
}

/// Pots of twelve selfed seedlings of a purple line, each looked at four times while it turns.
fn pots(count_of: usize) -> Ledger {
    let mut ledger = Ledger::new("2026-06-20");
    ledger.line("NL", "A/A");
    for at in 0..count_of {
        let sown = day("2026-03-01").forward((at % 30) as i64);
        let tray = code(&format!("T{at}"));
        ledger.enter(Entry::Sowing(Sowing {
            source: target("NL"),
            lot: None,
            seeds: count(12),
            tray: Some(tray.clone()),
            cells: None,
            place: String::new(),
            medium: String::new(),
            light: String::new(),
            warmth: None,
            day: sown,
        }));
        ledger.enter(Entry::Up(UpCount {
            batch: tray,
            what: UpWhat::Batch(count(12)),
            day: sown.forward(9),
        }));
        for age in [7, 11, 16, 24] {
            for seedling in 1..=12 {
                let turns = 6 + (seedling * 7 + at * 5) % 17;
                let class = if age >= turns { "purple" } else { "green" };
                ledger.enter(Entry::Score(Score {
                    target: target(&format!("T{at}-{seedling}")),
                    what: ScoreWhat::Plant(look(class)),
                    of: None,
                    leaves: None,
                    day: sown.forward(9 + age as i64),
                }));
            }
        }
    }
    ledger
}

/// The fits of a ledger's own trays.
fn learning() -> bool {
    let pots = pots(200);
    let looks = Looks::of(&pots.facts).expect("traits");
    let wanted = Wanted {
        split: Split::Together,
        ceiling: false,
        uncounted: false,
    };
    let took = best_of(1, || {
        let traits = late_traits(&looks);
        let fits = fit_traits(&pots.facts, &looks, &traits, wanted).expect("an answer");
        assert!(fits.iter().any(|fit| fit.fit.is_some()));
    });
    let mut good = report(
        "late-colour fit over 200 pots of 12 seedlings, four looks each",
        took,
        Duration::from_secs(3),
    );
    let season = invented(10, 200, 12);
    let took = best_of(1, || {
        learn(&season.facts, Grouping::ByTechnique).expect("an answer");
    });
    good &= report(
        "mishaps over 200 trays of 12 seedlings",
        took,
        Duration::from_secs(3),
    );
    good
}

fn look(class: &str) -> Look {
    vec![Seen {
        of: None,
        what: SeenWhat::Class(class.to_owned()),
    }]
}

/// An invented ledger: ten parents, a ring of crosses, trays of each.
fn invented(crosses: usize, trays: usize, seeds: u32) -> Ledger {
    let mut ledger = Ledger::new("2026-06-20");
    for at in 0..PARENTS {
        ledger.line(
            &format!("P{at}"),
            if at.is_multiple_of(2) { "a/a" } else { "A/A" },
        );
    }
    for at in 0..crosses {
        let step = 1 + 2 * (at / PARENTS % 2);
        ledger.cross(
            at,
            &format!("P{}", at % PARENTS),
            &format!("P{}", (at + step) % PARENTS),
        );
    }
    for at in 0..trays {
        ledger.tray(at, at % crosses, seeds);
    }
    ledger
}

/// Runs a command that must succeed, giving the time it took.
fn timed(command: &mut Command) -> Duration {
    let start = Instant::now();
    let done = command
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    let took = start.elapsed();
    assert!(
        done.expect("the program can be started").success(),
        "{command:?}"
    );
    took
}

/// When a `score` is typed.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Typed {
    /// On a day on which something was recorded before.
    Later,
    /// As the first write of a day: a copy of the ledger is kept before it.
    First,
}

/// A cold `score` against the `sqlite3` shell doing one insert with the same care for the disk, pair by pair in one
/// folder: the median of the ratios.
fn score_against_shell(pairs: usize, typed: Typed) -> Option<f64> {
    Command::new("sqlite3")
        .arg("--version")
        .stdout(Stdio::null())
        .status()
        .ok()?;
    let folder = tempfile::tempdir().expect("a folder");
    let locule = |after: usize, words: &[&str]| {
        let today = day("2026-06-20").forward(after as i64);
        let mut command = Command::new(env!("CARGO_BIN_EXE_locule"));
        command
            .env("LOCULE_LEDGER", folder.path().join("ledger.db"))
            .env("LOCULE_STATE", folder.path().join("state"))
            .env("LOCULE_TODAY", today.to_string())
            .args(words);
        command
    };
    for line in [
        "init",
        "parent add MO --genotype a/a",
        "parent add FA --genotype A/A",
        "cross MO FA --on 2026-01-10",
        "sow X1 --seeds 12 --on 2026-04-20",
        "up T1 12 --on 2026-05-02",
    ] {
        timed(&mut locule(0, &line.split(' ').collect::<Vec<_>>()));
    }
    let shell = |statement: &str| {
        let mut command = Command::new("sqlite3");
        command
            .arg(folder.path().join("plain.db"))
            .arg(format!("PRAGMA synchronous = EXTRA; {statement}"));
        command
    };
    timed(&mut shell(
        "CREATE TABLE reading (id INTEGER PRIMARY KEY, look TEXT)",
    ));
    let mut ratios: Vec<f64> = (0..pairs)
        .map(|at| {
            let cell = format!("T1-{:02}", at % 12 + 1);
            let day = day("2026-05-20").forward((at / 12) as i64).to_string();
            let after = if typed == Typed::First { at + 1 } else { 0 };
            let ours = timed(&mut locule(
                after,
                &["score", &cell, "purple", "--on", &day],
            ));
            let theirs = timed(&mut shell("INSERT INTO reading (look) VALUES ('purple')"));
            ours.as_secs_f64() / theirs.as_secs_f64()
        })
        .collect();
    ratios.sort_by(f64::total_cmp);
    Some(ratios[ratios.len() / 2])
}

/// A ledger file of so many settings, in entries of a thousand.
fn filled(file: &std::path::Path, records: i64) {
    let state = State::at(file.with_extension("made"));
    let identity = Identity {
        ledger_id: "speed".to_owned(),
    };
    let mut ledger = store::Ledger::create(file, &identity, &state).expect("a ledger");
    for from in (1..=records).step_by(1000) {
        let rows = (from..from + 1000).map(|id| SettingRow {
            id,
            key: format!("key {id}"),
            value: "a value of some length".to_owned(),
        });
        let changes: Vec<RowChange> = rows.map(RowChange::insert).collect();
        let kind = if from == 1 {
            EntryKind::Init
        } else {
            EntryKind::Record
        };
        let note = EntryNote {
            at_utc: "2026-03-01T12:00:00Z".to_owned(),
            utc_offset: "+00:00".to_owned(),
            command: "speed".to_owned(),
            kind,
        };
        let recorded = ledger.record(&note, &changes, &BTreeMap::new());
        recorded.expect("it is recorded");
    }
}

/// Opening a ledger of 10,000 records: verified in full, and known byte for byte.
fn opening() -> (Duration, Duration) {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("ledger.db");
    filled(&file, 10_000);
    let mut at = 0;
    let full = best_of(3, || {
        at += 1;
        let state = State::at(folder.path().join(at.to_string()));
        store::Ledger::open_to_ask(&file, &state).expect("it is whole");
    });
    let state = State::at(folder.path().join("1"));
    let known = best_of(3, || {
        store::Ledger::open_to_ask(&file, &state).expect("it is whole");
    });
    (full, known)
}

fn best_of(runs: usize, mut work: impl FnMut()) -> Duration {
    (0..runs)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed()
        })
        .min()
        .expect("at least one run")
}

/// The time that a generation takes of two lines that differ at groups of linked loci, each group read by a rule of
/// its own that asks for every dominant allele.
fn expectation(groups: usize, loci: usize, generation: &str) -> Result<Duration, ExpectError> {
    let mut book = LocusBook::new();
    let mut map = LinkageMap::default();
    let symbol = |group: usize, at: usize| format!("Q{group}x{at}");
    let model = |group: usize| {
        let pattern: Vec<String> = (0..loci)
            .map(|at| format!("{}/_", symbol(group, at)))
            .collect();
        let rules = [(pattern.join(" "), "all"), ("else".to_owned(), "not")];
        GeneModel::build(
            "m",
            &["all".to_owned(), "not".to_owned()],
            &rules,
            &mut book,
        )
        .expect("good rules")
    };
    let models: Vec<GeneModel> = (0..groups).map(model).collect();
    let all: Vec<LocusIx> = book.iter().map(|(locus, _)| locus).collect();
    let r = Recombination::parse("0.12").expect("a fraction");
    for group in all.chunks(loci) {
        for pair in group.windows(2) {
            map.state(pair[0], pair[1], r);
        }
    }
    let line = |allele: u8| Parent {
        loci: all
            .iter()
            .map(|locus| (*locus, AtLocus::Known(Diploid::new(allele, allele))))
            .collect(),
        ..Parent::default()
    };
    let generation: Generation = generation.parse().expect("a generation");
    let (mother, father) = (line(0), line(1));
    let models: Vec<&GeneModel> = models.iter().collect();
    let mut answered = Ok(());
    let took = best_of(3, || {
        let arrangement = map.arrange(&all, false, &book).expect("chains");
        let breeding = Breeding {
            mother: &mother,
            father: &father,
            descent: &generation.descent(Recurrent::Mother),
            arrangement: &arrangement,
            selection: &[],
        };
        answered = breed(&breeding, &models).map(|_| ());
    });
    answered.map(|()| took)
}

/// Prints how time and memory of an expectation grow with loci and generations, and holds twelve loci in four groups
/// against their limit.
fn expectations() -> bool {
    let print = |what: String, took: Result<Duration, ExpectError>| match took {
        Ok(took) => {
            let peak =
                peak_memory().map_or_else(String::new, |peak| format!(", memory {peak:.0} MB"));
            println!("{what}: {:.2} ms{peak}", took.as_secs_f64() * 1e3);
        }
        Err(refused) => println!("{what}: {refused}"),
    };
    let took = expectation(4, 3, "F2").expect("small enough");
    let good = report(
        "F2 of 12 loci on 4 chromosomes",
        took,
        Duration::from_millis(100),
    );
    for groups in [8, 16, 32] {
        print(
            format!("F2 of {} loci on {groups} chromosomes", 3 * groups),
            expectation(groups, 3, "F2"),
        );
    }
    for loci in [2, 4, 8, 16, 32, 64] {
        print(
            format!("F2 of {loci} loci on one chromosome"),
            expectation(1, loci, "F2"),
        );
    }
    for generation in ["F2", "F4", "F8", "F16", "BC1", "BC3", "BC3F3"] {
        print(
            format!("{generation} of 4 loci on one chromosome"),
            expectation(1, 4, generation),
        );
    }
    for loci in [2, 4, 6, 8, 9, 10] {
        print(
            format!("F20 of {loci} loci on one chromosome"),
            expectation(1, loci, "F20"),
        );
    }
    good
}

fn report(what: &str, took: Duration, limit: Duration) -> bool {
    let ratio = took.as_secs_f64() / limit.as_secs_f64();
    println!(
        "{what}: {:.1} ms, {ratio:.2} of the {} ms allowed",
        took.as_secs_f64() * 1e3,
        limit.as_millis()
    );
    ratio <= SLACK
}

/// An invented ledger of 1,000 plants: ten founders, then generations of fifty seedlings of five crosses, read one by
/// one and kept with a code, ten of each the parents of the next.
fn pedigreed(generations: usize) -> Ledger {
    let mut ledger = Ledger::new("2026-06-20");
    ledger.today = day("2060-01-01");
    for at in 0..PARENTS {
        let genotype = if at.is_multiple_of(2) { "a/a" } else { "A/A" };
        ledger.line(&format!("K0p{at}"), genotype);
    }
    for generation in 1..generations {
        let start = day("2025-01-01").forward(365 * generation as i64);
        for cross in 0..PARENTS / 2 {
            // Pairs change from generation to generation, so that kin meet again.
            let partner = (2 * cross + 2 * (generation % 4) + 1) % PARENTS;
            let parent = |at: usize| format!("K{}p{at}", generation - 1);
            let name = format!("X{generation}c{cross}");
            let tray = format!("T{generation}c{cross}");
            ledger.enter(Entry::Pollination(NewPollination {
                mother: target(&parent(2 * cross)),
                father: Some(target(&parent(partner))),
                code: Some(code(&name)),
                flowers: None,
                tool: String::new(),
                wiped: false,
                emasculated: true,
                covered: true,
                day: Some(start.forward(7 * cross as i64)),
            }));
            let sown = start.forward(150 + 7 * cross as i64);
            ledger.enter(Entry::Sowing(Sowing {
                source: target(&name),
                lot: None,
                seeds: count(10),
                tray: Some(code(&tray)),
                cells: None,
                place: String::new(),
                medium: String::new(),
                light: String::new(),
                warmth: None,
                day: sown,
            }));
            ledger.enter(Entry::Up(UpCount {
                batch: code(&tray),
                what: UpWhat::Batch(count(10)),
                day: sown.forward(10),
            }));
            for cell in 1..=10 {
                let place = target(&format!("{tray}-{cell:02}"));
                let class = if (cell + cross + generation).is_multiple_of(4) {
                    "green"
                } else {
                    "purple"
                };
                ledger.enter(Entry::Score(Score {
                    target: place.clone(),
                    what: ScoreWhat::Plant(look(class)),
                    of: None,
                    leaves: None,
                    day: sown.forward(50),
                }));
                let number = 2 * cross + cell - 1;
                let kept = if cell <= 2 {
                    format!("K{generation}p{number}")
                } else {
                    format!("S{generation}c{cross}n{cell}")
                };
                ledger.kept(&kept, place, sown.forward(60));
            }
        }
    }
    ledger
}

fn main() {
    let mut good = true;
    let season = invented(10, 1000, 12);
    let took = best_of(3, || {
        suspects(&season.facts, season.today, None).expect("an answer");
    });
    good &= report(
        "suspects over 1,000 trays of 12 seedlings",
        took,
        Duration::from_secs(1),
    );
    let large = invented(1, 1, 1000);
    let took = best_of(3, || {
        suspects(&large.facts, large.today, None).expect("an answer");
    });
    good &= report(
        "suspects over one tray of 1,000 seedlings",
        took,
        Duration::from_millis(200),
    );
    good &= learning();
    good &= planned::plans(&invented(10, 60, 12).facts, "60 trays of 12 seedlings");
    good &= planned::crosses(invented(10, 60, 12));
    if let Some(peak) = peak_memory() {
        println!(
            "memory at most: {peak:.0} MB, {:.2} of the 100 MB allowed",
            peak / 100.0
        );
        good &= peak <= 100.0;
    }
    let kin = pedigreed(20);
    let took = best_of(3, || {
        let plants = genotypes_of_all(&kin.facts).expect("an answer");
        assert!(plants.len() > 900, "{} plants", plants.len());
    });
    good &= report(
        "genotypes of 960 plants over 20 generations, ten parents each",
        took,
        Duration::from_secs(1),
    );
    if let Some(peak) = peak_memory() {
        println!("memory at most, with those: {peak:.0} MB");
    }
    good &= expectations();
    let (full, known) = opening();
    good &= report(
        "opening 10,000 records, verified in full",
        full,
        Duration::from_millis(100),
    );
    good &= report(
        "opening 10,000 records, known by the mark",
        known,
        Duration::from_millis(20),
    );
    if let Some(ratio) = score_against_shell(40, Typed::First) {
        println!(
            "a cold score as the first write of a day: {ratio:.2} times the sqlite3 shell's insert"
        );
    }
    match score_against_shell(40, Typed::Later) {
        Some(ratio) => {
            println!(
                "a cold score: {ratio:.2} times the sqlite3 shell's insert, {:.2} of the 3 times allowed",
                ratio / 3.0
            );
            good &= ratio <= 3.0 * SLACK;
        }
        None => println!("a cold score: not measured, the sqlite3 shell is missing"),
    }
    assert!(good, "a stated limit was passed by more than {SLACK} times");
}
