//! Invented ledgers for the benchmarks, made by the entries that commands make, without a file.

use locule::records::admit::{Bench, admit};
use locule::records::code::Code;
use locule::records::count::Count;
use locule::records::day::Day;
use locule::records::entry::{Entry, NewParent};
use locule::records::facts::Facts;
use locule::records::rows::PlantKind;
use locule::records::target::Target;

/// A ledger in memory.
pub struct Ledger {
    /// What is recorded.
    pub facts: Facts,
    /// The day on which it is asked.
    pub today: Day,
}

impl Ledger {
    /// What `init` makes.
    pub fn new(today: &str) -> Self {
        let mut ledger = Self {
            facts: Facts::default(),
            today: day(today),
        };
        ledger.enter(Entry::Init);
        ledger
    }

    /// Records an entry.
    pub fn enter(&mut self, entry: Entry) {
        let bench = Bench {
            today: self.today,
            even_so: false,
        };
        let admitted = admit(&self.facts, &entry, &bench).expect("the invented ledger is sound");
        for change in &admitted.changes {
            self.facts.apply(change);
        }
        for (series, next) in &admitted.counters {
            self.facts.advance_counter(series, *next);
        }
    }

    /// Records a line with its genotype.
    pub fn line(&mut self, code: &str, genotype: &str) {
        self.enter(Entry::Parent(NewParent {
            code: self::code(code),
            name: None,
            species: None,
            kind: PlantKind::Line,
            genotype: Some(genotype.to_owned()),
            proven: false,
            looks: Vec::new(),
            cytoplasm: None,
            from: None,
            pedigree: None,
            day: day("2025-11-01"),
        }));
    }
}

/// A day, as written.
pub fn day(text: &str) -> Day {
    text.parse().expect("a date")
}

/// A code, as typed.
pub fn code(text: &str) -> Code {
    text.parse().expect("a code")
}

/// A target, as typed.
pub fn target(text: &str) -> Target {
    text.parse().expect("a target")
}

/// A count.
pub fn count(n: u32) -> Count {
    n.to_string().parse().expect("a count")
}

/// Most memory this process ever held, in megabytes, where the system tells.
pub fn peak_memory() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes / 1024.0)
}
