//! A ledger in memory, entered through the gate, and a seeded generator of trays with the truth known.

use locule::records::admit::{Bench, admit};
use locule::records::assumptions::Assumptions;
use locule::records::cells::CellRange;
use locule::records::code::Code;
use locule::records::day::Day;
use locule::records::entry::{
    Assume, Entry, LateColour, Look, NewParent, NewPollination, Score, ScoreWhat, Seen, SeenWhat,
    Sowing, UpCount, UpWhat,
};
use locule::records::facts::Facts;
use locule::records::rows::PlantKind;

/// A ledger in memory.
pub struct Book {
    pub facts: Facts,
    today: Day,
    trays: usize,
}

/// What one tray is: how it was sown, and its seedlings as sequences of looks.
pub struct Tray<'a> {
    /// The cross or parent sown.
    pub of: &'a str,
    /// Where it stands.
    pub place: &'a str,
    /// For each seedling its class at each of the ages.
    pub seedlings: Vec<Vec<&'a str>>,
    /// Ages of the looks, in days from emergence.
    pub ages: &'a [i64],
}

pub fn day(text: &str) -> Day {
    text.parse().unwrap()
}

fn look(class: &str) -> Look {
    vec![Seen {
        of: None,
        what: SeenWhat::Class(class.to_owned()),
    }]
}

impl Book {
    pub fn new() -> Self {
        let mut book = Self {
            facts: Facts::default(),
            today: day("2027-12-31"),
            trays: 0,
        };
        book.enter(&Entry::Init);
        book
    }

    pub fn enter(&mut self, entry: &Entry) {
        let bench = Bench {
            today: self.today,
            even_so: true,
        };
        let admitted =
            admit(&self.facts, entry, &bench).unwrap_or_else(|no| panic!("{entry:?}: {no}"));
        for change in &admitted.changes {
            self.facts.apply(change);
        }
        for (series, next) in &admitted.counters {
            self.facts.advance_counter(series, *next);
        }
    }

    pub fn parent(&mut self, code: &str, genotype: &str) {
        self.enter(&Entry::Parent(NewParent {
            code: code.parse().unwrap(),
            name: None,
            species: None,
            kind: PlantKind::Line,
            genotype: Some(genotype.to_owned()),
            proven: true,
            looks: Vec::new(),
            cytoplasm: None,
            from: None,
            pedigree: None,
            day: day("2026-01-01"),
        }));
    }

    /// A cross of a day of its own, emasculated, with a tool.
    pub fn cross(&mut self, code: &str, mother: &str, father: &str, on: Day, covered: bool) {
        self.enter(&Entry::Pollination(NewPollination {
            mother: mother.parse().unwrap(),
            father: Some(father.parse().unwrap()),
            code: Some(code.parse().unwrap()),
            flowers: None,
            tool: "brush".to_owned(),
            wiped: false,
            emasculated: true,
            covered,
            day: Some(on),
        }));
    }

    pub fn assume(&mut self, pairs: &[(&str, &str)]) {
        for (key, value) in pairs {
            if Assumptions::of(&self.facts).get(key) == value.parse().ok() {
                continue;
            }
            self.enter(&Entry::Assume(Assume {
                key: (*key).to_owned(),
                value: Some((*value).to_owned()),
            }));
        }
    }

    pub fn set_late(&mut self, of: &str, median: f64, spread: f64) {
        self.enter(&Entry::LateColour(LateColour {
            of: of.parse().unwrap(),
            median_days: Some(median.to_string()),
            spread: Some(spread.to_string()),
            ceiling: None,
        }));
    }

    /// Enters a tray; gives its code.
    pub fn tray(&mut self, tray: &Tray<'_>) -> String {
        self.trays += 1;
        let code = format!("B{}", self.trays);
        let sown = day("2026-03-01").forward(self.trays as i64);
        let up = sown.forward(9);
        let count = |n: usize| n.to_string().parse().unwrap();
        self.enter(&Entry::Sowing(Sowing {
            source: tray.of.parse().unwrap(),
            lot: None,
            seeds: count(tray.seedlings.len()),
            tray: Some(code.parse::<Code>().unwrap()),
            cells: None,
            place: tray.place.to_owned(),
            medium: String::new(),
            light: String::new(),
            warmth: None,
            day: sown,
        }));
        let cells = format!("1-{}", tray.seedlings.len());
        self.enter(&Entry::Up(UpCount {
            batch: code.parse().unwrap(),
            what: UpWhat::Cells(cells.parse::<CellRange>().unwrap()),
            day: up,
        }));
        for (at, seen) in tray.seedlings.iter().enumerate() {
            for (age, class) in tray.ages.iter().zip(seen) {
                self.enter(&Entry::Score(Score {
                    target: format!("{code}-{}", at + 1).parse().unwrap(),
                    what: ScoreWhat::Plant(look(class)),
                    of: None,
                    leaves: None,
                    day: up.forward(*age),
                }));
            }
        }
        code
    }
}

/// A small generator: a 64-bit congruential generator with Knuth's MMIX constants, its high bits (Knuth, The Art of
/// Computer Programming 2, 3.3.4; from memory).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        let mut dice = Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x1234_5678);
        for _ in 0..8 {
            dice.share();
        }
        dice
    }

    /// From 0 to 1, neither included.
    pub fn share(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    /// Standard normal, by Box & Muller 1958, Annals of Mathematical Statistics 29:610-611.
    pub fn normal(&mut self) -> f64 {
        let (u, v) = (self.share(), self.share());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }
}

/// Looks at one seedling that turns at an age; misread now and then.
pub fn looks(dice: &mut Dice, turns: Option<f64>, ages: &[i64], misread: f64) -> Vec<&'static str> {
    let look = |age: &i64| {
        let shown = turns.is_some_and(|turns| *age as f64 >= turns);
        let seen = shown != (dice.share() < misread);
        if seen { "purple" } else { "green" }
    };
    ages.iter().map(look).collect()
}
