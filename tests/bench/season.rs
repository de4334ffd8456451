//! How fast a large season is diagnosed: 100,000 seedlings, read one by one, in 5,000 trays, 40 candidate donors each.
//! `cargo bench --bench season`; fails where a stated limit is passed by more than the slack for a busy machine. With
//! arguments such as `625` or `625:3` it only shows seasons of so many trays, read for so many traits; with
//! `625:2:FILE` it only writes such a season to a new ledger.

#![expect(clippy::print_stdout, reason = "a benchmark prints its times")]

#[path = "invented.rs"]
mod invented;
#[path = "kept.rs"]
mod kept;

use std::time::{Duration, Instant};

use invented::{Ledger, code, count, day, peak_memory, target};
use locule::diagnosis::suspects::suspects;
use locule::records::entry::{
    Entry, InFlower, Look, NewPollination, Score, ScoreWhat, Seen, SeenWhat, Sowing, SwitchTrait,
    UpCount, UpWhat,
};

/// How much slower than stated a busy machine may be before the benchmark fails.
const SLACK: f64 = 2.0;

/// Parents, all in flower throughout: each tray's own two apart, every one may have given pollen.
const PARENTS: usize = 42;

/// Crosses made: each parent with its neighbour, both ways.
const CROSSES: usize = 2 * PARENTS;

/// Days on which was sown.
const SOWING_DAYS: usize = 28;

/// Seedlings of a tray.
const SEEDLINGS: u32 = 20;

/// The most that a season of 100,000 seedlings may take; the aim is 2 s.
const MOST_TIME: Duration = Duration::from_secs(4);

/// The most memory, in MB; the aim is 300 MB.
const MOST_MEMORY: f64 = 400.0;

/// An invented season: purple and green, hairy and smooth lines, crossed both ways; trays read twice.
fn season(trays: usize, traits: usize) -> Ledger {
    let mut ledger = Ledger::new("2026-06-20");
    ledger.enter(Entry::SwitchTrait(SwitchTrait {
        of: code("yellow-bud"),
        on: true,
    }));
    for at in 0..PARENTS {
        let pick = |bit: usize, one: &'static str, other: &'static str| match at >> bit & 1 {
            0 => one,
            _ => other,
        };
        let genotype = [
            pick(0, "A/A", "a/a"),
            pick(1, "H/H", "h/h"),
            pick(2, "Yb/Yb", "yb/yb"),
        ]
        .join(" ");
        ledger.line(&format!("P{at}"), &genotype);
        ledger.enter(Entry::InFlower(InFlower {
            plant: target(&format!("P{at}")),
            from: day("2026-01-01"),
            until: Some(day("2026-03-01")),
        }));
    }
    for at in 0..CROSSES {
        let pair = [at / 2, (at / 2 + 1) % PARENTS];
        ledger.enter(Entry::Pollination(NewPollination {
            mother: target(&format!("P{}", pair[at % 2])),
            father: Some(target(&format!("P{}", pair[1 - at % 2]))),
            code: Some(code(&format!("X{at}"))),
            flowers: None,
            tool: "brush".to_owned(),
            wiped: at.is_multiple_of(3),
            emasculated: !at.is_multiple_of(5),
            covered: at.is_multiple_of(2),
            day: Some(day("2026-01-05").forward((at % 40) as i64)),
        }));
    }
    for at in 0..trays {
        sow_and_read(&mut ledger, at, traits);
    }
    ledger
}

fn sow_and_read(ledger: &mut Ledger, at: usize, traits: usize) {
    let cross = at % CROSSES;
    let sown = day("2026-03-20").forward((cross % SOWING_DAYS) as i64);
    let tray = code(&format!("T{at}"));
    ledger.enter(Entry::Sowing(Sowing {
        source: target(&format!("X{cross}")),
        lot: None,
        seeds: count(SEEDLINGS),
        tray: Some(tray.clone()),
        cells: None,
        place: format!("shelf{}", at % 12),
        medium: String::new(),
        light: String::new(),
        warmth: None,
        day: sown,
    }));
    for (after, up) in [(9, SEEDLINGS / 2), (13, SEEDLINGS)] {
        ledger.enter(Entry::Up(UpCount {
            batch: tray.clone(),
            what: UpWhat::Batch(count(up)),
            day: sown.forward(after),
        }));
    }
    for (nth, after) in [26, 40].into_iter().enumerate() {
        let green = 1 + (at * 7 + nth * 3) % 5;
        let classes = |purple: bool| {
            let all = [
                ("foliage", if purple { "purple" } else { "green" }),
                (
                    "stem-hair",
                    if at.is_multiple_of(3) {
                        "smooth"
                    } else {
                        "hairy"
                    },
                ),
                ("yellow-bud", "green"),
            ];
            looks(&all[..traits])
        };
        let spots = |from: usize, to: usize| {
            let cell = |cell: usize| format!("{cell:02}").parse().expect("a cell");
            (from..=to).map(cell).collect()
        };
        ledger.enter(Entry::Score(Score {
            target: target(tray.as_str()),
            what: ScoreWhat::Spots(vec![
                (spots(1, green), classes(false)),
                (spots(green + 1, SEEDLINGS as usize), classes(true)),
            ]),
            of: None,
            leaves: None,
            day: sown.forward(after),
        }));
    }
}

/// Diagnoses a season, giving the time it took.
fn diagnosed(ledger: &Ledger) -> Duration {
    let started = Instant::now();
    let answer = suspects(&ledger.facts, ledger.today, None).expect("an answer");
    let took = started.elapsed();
    let judged: usize = answer.batches.iter().map(|one| one.seedlings.len()).sum();
    assert_eq!(
        judged,
        answer.batches.len() * SEEDLINGS as usize,
        "every seedling has its verdict"
    );
    took
}

/// A look of the classes named, each with its trait.
fn looks(classes: &[(&str, &str)]) -> Look {
    let seen = |(of, class): &(&str, &str)| Seen {
        of: Some((*of).to_owned()),
        what: SeenWhat::Class((*class).to_owned()),
    };
    classes.iter().map(seen).collect()
}

/// A season asked for: numbers of trays and of traits read, and the file it is to be written to.
type Asked = (usize, usize, Option<String>);

/// What is asked for: `625`, `625:3` or `625:3:FILE`.
fn seasons_asked() -> Vec<Asked> {
    let of = |text: String| {
        let mut parts = text.splitn(3, ':');
        let trays = parts.next()?.parse().ok()?;
        let traits = parts.next().map_or(Some(2), |traits| traits.parse().ok())?;
        Some((trays, traits, parts.next().map(str::to_owned)))
    };
    std::env::args().skip(1).filter_map(of).collect()
}

/// Seconds of processor this process has used, all threads together, where the system tells: unlike the time on the clock
/// they hardly hang on what else runs.
fn processor_time() -> Option<f64> {
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    let after_name = stat.rsplit_once(')')?.1;
    let mut fields = after_name.split_whitespace().skip(11);
    let ticks: [f64; 2] = [fields.next()?.parse().ok()?, fields.next()?.parse().ok()?];
    // A hundred a second on every Linux (proc(5), sysconf(3)).
    Some((ticks[0] + ticks[1]) / 100.0)
}

/// Prints one line: how long a season takes, how much of the processors' time, and the most memory held so far.
fn show(trays: usize, traits: usize) -> (Duration, f64) {
    let ledger = season(trays, traits);
    let before = peak_memory().unwrap_or(0.0);
    let started = processor_time();
    let took = diagnosed(&ledger).min(diagnosed(&ledger));
    let used = processor_time().zip(started);
    let processor = used.map_or(0.0, |(after, before)| (after - before) / 2.0);
    let memory = peak_memory().unwrap_or(0.0);
    println!(
        "| {trays} | {traits} | {:.0} ms | {:.0} ms | {before:.0} MB | {memory:.0} MB |",
        took.as_secs_f64() * 1e3,
        processor * 1e3
    );
    (took, memory)
}

fn main() {
    println!("| trays | traits read | suspects | processor | memory before | memory at most |");
    println!("|---|---|---|---|---|---|");
    let asked = seasons_asked();
    for (trays, traits, file) in &asked {
        match file {
            Some(file) => kept::keep(&season(*trays, *traits).facts, file.as_ref()),
            None => {
                show(*trays, *traits);
            }
        }
    }
    if !asked.is_empty() {
        return;
    }
    for trays in [500, 1000, 2000] {
        show(trays, 2);
    }
    let (took, memory) = show(5000, 2);
    show(500, 3);
    assert!(
        took.as_secs_f64() <= MOST_TIME.as_secs_f64() * SLACK,
        "100,000 seedlings took more than {SLACK} times the stated time"
    );
    assert!(memory <= MOST_MEMORY, "more than {MOST_MEMORY} MB");
}
