//! A ledger in memory: entries pass the gate, and the facts follow.

use locule::diagnosis::answer::Suspects;
use locule::diagnosis::suspects::suspects;
use locule::records::admit::{Bench as Now, admit};
use locule::records::count::Count;
use locule::records::day::Day;
use locule::records::entry::{
    Entry, Harvest, Look, NewParent, NewPollination, Packet, Score, ScoreWhat, Seen, SeenWhat,
    Sowing, UpCount, UpWhat,
};
use locule::records::facts::Facts;
use locule::records::rows::PlantKind;

use super::view::View;

/// A ledger in memory.
pub struct Bench {
    facts: Facts,
    today: Day,
}

/// A count of the bench.
pub fn count(number: i64) -> Count {
    Count::new(number).expect("a bench count")
}

/// One class of a look, of whichever trait has it.
pub fn seen(class: &str) -> Seen {
    Seen {
        of: None,
        what: SeenWhat::Class(class.to_owned()),
    }
}

impl Bench {
    /// A new ledger on a day.
    pub fn new(today: Day) -> Self {
        let mut bench = Self {
            facts: Facts::default(),
            today,
        };
        bench.record(&Entry::Init);
        bench
    }

    /// Records an entry; nothing here is implausible, so every one must be admitted.
    pub fn record(&mut self, entry: &Entry) {
        let now = Now {
            today: self.today,
            even_so: false,
        };
        let admitted = admit(&self.facts, entry, &now)
            .unwrap_or_else(|refusal| panic!("{entry:?}: {refusal}"));
        for change in &admitted.changes {
            self.facts.apply(change);
        }
        for (series, next) in &admitted.counters {
            self.facts.advance_counter(series, *next);
        }
    }

    /// Enters a parent with its stated genotype.
    pub fn parent(&mut self, code: &str, name: &str, kind: PlantKind, genotype: &str, day: Day) {
        self.record(&Entry::Parent(NewParent {
            code: code.parse().expect("a code"),
            name: Some(name.to_owned()),
            species: Some("annuum".to_owned()),
            kind,
            genotype: Some(genotype.to_owned()),
            proven: false,
            looks: Vec::new(),
            cytoplasm: None,
            from: None,
            pedigree: None,
            day,
        }));
    }

    /// Enters a pollination of a cross, or of a self where there is no father.
    pub fn pollinate(
        &mut self,
        cross: &str,
        parents: (&str, Option<&str>),
        tool: &str,
        care: Care,
        day: Day,
    ) {
        let target = |code: &str| code.parse().expect("a code");
        self.record(&Entry::Pollination(NewPollination {
            mother: target(parents.0),
            father: parents.1.map(target),
            code: Some(cross.parse().expect("a code")),
            flowers: None,
            tool: tool.to_owned(),
            wiped: care.wiped,
            emasculated: true,
            covered: care.covered,
            day: Some(day),
        }));
    }

    /// Enters a harvest.
    pub fn harvest(&mut self, cross: &str, seeds: i64, day: Day) {
        self.record(&Entry::Harvest(Harvest {
            cross: cross.parse().expect("a code"),
            pods: None,
            seeds: Some(count(seeds)),
            about: false,
            pollinated: None,
            kept: String::new(),
            day,
        }));
    }

    /// Enters a packet of a parent's own seed.
    pub fn packet(&mut self, plant: &str, seeds: i64, day: Day) {
        self.record(&Entry::Packet(Packet {
            plant: plant.parse().expect("a code"),
            seeds: Some(count(seeds)),
            label: String::new(),
            giver: String::new(),
            claim: None,
            kept: String::new(),
            day,
        }));
    }

    /// Enters a sowing.
    pub fn sow(&mut self, source: &str, tray: &str, seeds: i64, place: &str, day: Day) {
        self.record(&Entry::Sowing(Sowing {
            source: source.parse().expect("a code"),
            lot: None,
            seeds: count(seeds),
            tray: Some(tray.parse().expect("a code")),
            cells: None,
            place: place.to_owned(),
            medium: String::new(),
            light: String::new(),
            warmth: None,
            day,
        }));
    }

    /// Enters how many are up so far.
    pub fn up(&mut self, tray: &str, up: i64, day: Day) {
        let batch = tray.parse().expect("a code");
        self.record(&Entry::Up(UpCount {
            batch,
            what: UpWhat::Batch(count(up)),
            day,
        }));
    }

    /// Enters readings: a tally of the tray, or seedling by seedling.
    pub fn score(&mut self, tray: &str, what: ScoreWhat, day: Day) {
        let target = tray.parse().expect("a code");
        self.record(&Entry::Score(Score {
            target,
            what,
            of: None,
            leaves: None,
            day,
        }));
    }

    /// The whole diagnosis of every tray.
    pub fn diagnosis(&self) -> Suspects {
        suspects(&self.facts, self.today, None).expect("a season of this size has an exact answer")
    }

    /// What `suspects` says of every tray.
    pub fn suspects(&self) -> Vec<View> {
        self.diagnosis().batches.iter().map(View::of).collect()
    }
}

/// How careful a pollination was.
#[derive(Debug, Clone, Copy)]
pub struct Care {
    /// Whether the tool was cleaned before it.
    pub wiped: bool,
    /// Whether the flower was covered.
    pub covered: bool,
}

/// A look of classes, of whichever traits have them.
pub fn look(classes: &[&str]) -> Look {
    classes.iter().map(|class| seen(class)).collect()
}
