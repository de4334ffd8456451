//! A ledger in memory: what is written down passes the gate as every command does, and the program's own diagnosis is
//! asked.

use locule::diagnosis::answer::BatchAnswer;
use locule::diagnosis::suspects::suspects;
use locule::records::admit::{Bench, admit};
use locule::records::cells::Spot;
use locule::records::count::Count;
use locule::records::day::Day;
use locule::records::entry::{
    Assume, Entry, FateWhom, Fates, Harvest, InFlower, Look, NewParent, NewPollination, Packet,
    Score, ScoreWhat, Seen, SeenWhat, Sowing, UpCount, UpWhat,
};
use locule::records::facts::Facts;
use locule::records::rows::FateKind;
use locule::records::target::Target;

use super::plan::{self, Plan, Pollination, Stock};
use super::plants::Plant;
use super::world::World;

/// A ledger in memory.
pub struct Ledger {
    /// All of it.
    pub facts: Facts,
    first: Day,
}

/// A count of the bench.
pub fn count(number: i64) -> Count {
    Count::new(number).expect("a bench count")
}

fn target(code: &str) -> Target {
    code.parse().expect("a code")
}

/// The code of a cross.
pub fn cross_code(cross: usize) -> String {
    format!("X{}", cross + 1)
}

/// A cell that holds one seedling.
pub fn spot(cell: i64) -> Spot {
    Spot {
        cell,
        part: String::new(),
    }
}

impl Ledger {
    /// A ledger that holds the parents and all that was done to them up to the sowing.
    pub fn of(world: &World, plan: &Plan, plants: &[Plant]) -> Self {
        let first = Day::new(2026, 1, 10).expect("in the calendar");
        let facts = Facts::default();
        let mut ledger = Self { facts, first };
        ledger.record(0, &Entry::Init);
        for (key, value) in world.assumes {
            let (key, value) = ((*key).to_owned(), Some((*value).to_owned()));
            ledger.record(0, &Entry::Assume(Assume { key, value }));
        }
        for plant in plants {
            ledger.parent(plant);
        }
        for one in &plan.pollinations {
            ledger.pollinate(one, plants);
        }
        for (plant, from, until) in &plan.in_flower {
            let entry = InFlower {
                plant: target(&plants[*plant].code),
                from: ledger.day(*from),
                until: Some(ledger.day(*until)),
            };
            ledger.record(*until, &Entry::InFlower(entry));
        }
        let mut lots: Vec<Stock> = plan.sowings.iter().map(|sowing| sowing.stock).collect();
        lots.sort_unstable();
        lots.dedup();
        for stock in lots {
            ledger.store(stock, plants);
        }
        for sowing in &plan.sowings {
            ledger.sow(sowing, plants);
        }
        ledger
    }

    /// The date of a day of the season.
    pub fn day(&self, day: i64) -> Day {
        self.first.forward(day)
    }

    /// Records an entry on a day; nothing here is implausible, so every one must be admitted.
    fn record(&mut self, day: i64, entry: &Entry) {
        let bench = Bench {
            today: self.day(day),
            even_so: false,
        };
        let admitted = admit(&self.facts, entry, &bench)
            .unwrap_or_else(|refusal| panic!("{entry:?}: {refusal}"));
        for change in &admitted.changes {
            self.facts.apply(change);
        }
        for (series, next) in &admitted.counters {
            self.facts.advance_counter(series, *next);
        }
    }

    fn parent(&mut self, plant: &Plant) {
        let look = |purple: bool| vec![class(if purple { "purple" } else { "green" })];
        let entry = NewParent {
            code: plant.code.parse().expect("a code"),
            name: None,
            species: Some("annuum".to_owned()),
            kind: plant.kind,
            genotype: plant.genotype(),
            proven: plant.proven && plant.genotype().is_some(),
            looks: plant.look.map_or_else(Vec::new, look),
            cytoplasm: None,
            from: None,
            pedigree: None,
            day: self.first,
        };
        self.record(0, &Entry::Parent(entry));
    }

    fn pollinate(&mut self, one: &Pollination, plants: &[Plant]) {
        let father = (one.father != one.mother).then(|| target(&plants[one.father].code));
        let entry = NewPollination {
            mother: target(&plants[one.mother].code),
            father,
            code: Some(cross_code(one.cross).parse().expect("a code")),
            flowers: None,
            tool: if one.brush { "brush" } else { "" }.to_owned(),
            wiped: one.wiped,
            emasculated: one.emasculated,
            covered: one.covered,
            day: Some(self.day(one.day)),
        };
        self.record(one.day, &Entry::Pollination(entry));
    }

    /// Seed enough for all that is sown of it.
    fn store(&mut self, stock: Stock, plants: &[Plant]) {
        let day = self.day(plan::SOWN - 5);
        let entry = match stock {
            Stock::Cross(cross) => Entry::Harvest(Harvest {
                cross: cross_code(cross).parse().expect("a code"),
                pods: None,
                seeds: Some(count(300)),
                about: true,
                pollinated: None,
                kept: String::new(),
                day,
            }),
            Stock::Packet(plant) => Entry::Packet(Packet {
                plant: target(&plants[plant].code),
                seeds: Some(count(300)),
                label: String::new(),
                giver: String::new(),
                claim: None,
                kept: String::new(),
                day,
            }),
        };
        self.record(plan::SOWN - 5, &entry);
    }

    fn sow(&mut self, sowing: &plan::Sowing, plants: &[Plant]) {
        let source = match sowing.stock {
            Stock::Cross(cross) => target(&cross_code(cross)),
            Stock::Packet(plant) => target(&plants[plant].code),
        };
        let entry = Sowing {
            source,
            lot: None,
            seeds: count(sowing.seeds),
            tray: Some(sowing.code.parse().expect("a code")),
            cells: None,
            place: sowing.place.clone(),
            medium: String::new(),
            light: String::new(),
            warmth: None,
            day: self.day(sowing.day),
        };
        self.record(sowing.day, &Entry::Sowing(entry));
    }

    /// Writes down how many are up, and where.
    pub fn up(&mut self, tray: &str, what: UpWhat, day: i64) {
        let batch = tray.parse().expect("a code");
        let entry = UpCount {
            batch,
            what,
            day: self.day(day),
        };
        self.record(day, &Entry::Up(entry));
    }

    /// Writes down a look at a tray.
    pub fn score(&mut self, tray: &str, what: ScoreWhat, day: i64) {
        let entry = Score {
            target: target(tray),
            what,
            of: None,
            leaves: None,
            day: self.day(day),
        };
        self.record(day, &Entry::Score(entry));
    }

    /// Writes down what was pulled.
    pub fn cull(&mut self, whom: Vec<FateWhom>, day: i64) {
        let entry = Fates {
            kind: FateKind::Culled,
            whom,
            of: None,
            blind: false,
            why: String::new(),
            day: self.day(day),
        };
        self.record(day, &Entry::Fate(entry));
    }

    /// What the program says of some trays on a day.
    pub fn ask(&self, trays: &[&str], day: i64) -> Vec<BatchAnswer> {
        let id = |tray: &&str| self.facts.code_named(tray).expect("it was sown").thing_id;
        let ids: Vec<i64> = trays.iter().map(id).collect();
        suspects(&self.facts, self.day(day), Some(&ids))
            .expect("a season of this size has an exact answer")
            .batches
    }
}

/// A class seen plainly.
pub fn class(word: &str) -> Seen {
    seen(SeenWhat::Class(word.to_owned()))
}

/// What was seen of the trait that it belongs to.
pub const fn seen(what: SeenWhat) -> Seen {
    Seen { of: None, what }
}

/// What is pulled: seedlings by their cells.
pub fn at_cells(tray: &str, cells: &[i64]) -> FateWhom {
    let spots = cells.iter().map(|cell| spot(*cell)).collect();
    FateWhom::Spots(tray.parse().expect("a code"), spots)
}

/// What is pulled: all of a look.
pub fn of_look(tray: &str, look: Look) -> FateWhom {
    FateWhom::Look(target(tray), look, None)
}
