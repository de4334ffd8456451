//! A season as a grower lived it: parents, pollinations, sowings, counts and readings, in the order written down.

/// Days since 1970-01-01.
pub type Day = i64;

/// An allele by its place in the locus's order (0 is dominant or wild type); `None` is the unknown `_`.
pub type Slot = Option<u8>;

/// A locus with its alleles in order and, where set, the share of the first of two.
#[derive(Clone, Debug)]
pub struct Locus {
    pub symbol: String,
    pub alleles: Vec<String>,
    pub share: Option<f64>,
}

/// Two loci of one chromosome, one after the other, and how often they are parted in eggs and in pollen.
#[derive(Clone, Copy, Debug)]
pub struct Step {
    pub from: usize,
    pub to: usize,
    pub r: [f64; 2],
}

/// One rule of a gene model: per named locus a pair, then the class; no locus at all is `else`.
#[derive(Clone, Debug)]
pub struct Rule {
    pub pattern: Vec<(usize, [Slot; 2])>,
    pub class: usize,
}

/// A class that shows only some days after emergence.
#[derive(Clone, Debug)]
pub struct Late {
    pub class: usize,
    pub after: usize,
    pub median: f64,
    pub spread: f64,
    pub ceiling: f64,
}

/// What the eye scores and the gene model in use.
#[derive(Clone, Debug)]
pub struct Trait {
    pub code: String,
    pub classes: Vec<String>,
    pub rules: Vec<Rule>,
    pub late: Option<Late>,
    pub misread: f64,
    pub built_in: bool,
}

/// What kind of founder a parent is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    Line,
    Packet,
    Plant,
}

/// A parent plant of the ledger.
#[derive(Clone, Debug)]
pub struct Parent {
    pub code: String,
    pub kind: Kind,
    /// Stated pairs per locus.
    pub stated: Vec<(usize, [Slot; 2])>,
    /// Whether the pairs say which allele came from the mother (the first) and which from the father.
    pub phased: bool,
    pub proven: bool,
    pub looks: Vec<(usize, usize)>,
    /// Looks recorded later with `score`: day, trait, class.
    pub scores: Vec<(Day, usize, usize)>,
    pub species: Option<String>,
    pub sterile: bool,
}

/// A plant's pollen was about from one day to another.
#[derive(Clone, Debug)]
pub struct InFlower {
    pub plant: usize,
    pub from: Day,
    pub until: Day,
}

/// One hand-made pollination; mother and father are equal for a self.
#[derive(Clone, Debug)]
pub struct Pollination {
    pub cross: String,
    pub mother: usize,
    pub father: usize,
    pub day: Day,
    pub tool: Option<String>,
    pub wiped: bool,
    pub covered: bool,
    pub emasculated: bool,
}

/// Seed that came from elsewhere, sown by its parent's code.
#[derive(Clone, Debug)]
pub struct Packet {
    pub plant: usize,
    pub seeds: usize,
    pub day: Day,
}

/// One harvest of a cross.
#[derive(Clone, Debug)]
pub struct Lot {
    pub cross: String,
    pub pods: usize,
    pub seeds: usize,
    pub day: Day,
}

/// What was sown: seed of a cross (or self) or of a packet.
#[derive(Clone, Debug)]
pub enum Sown {
    Cross(String),
    Packet(usize),
}

/// One sowing.
#[derive(Clone, Debug)]
pub struct Batch {
    pub tray: String,
    pub sown: Sown,
    pub day: Day,
    pub seeds: usize,
    pub cells: Option<usize>,
    pub place: Option<String>,
}

/// A seedling: cell, and its letter where several stand in one cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Seedling {
    pub cell: usize,
    pub part: Option<char>,
}

/// What was seen at a look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seen {
    Firm(usize),
    Doubtful(usize),
    Early,
}

/// The classes of one look: trait and class, in the order named.
pub type Look = Vec<(usize, usize)>;

/// An event of the bench, with its tray and day.
#[derive(Clone, Debug)]
pub struct Event {
    pub batch: usize,
    pub day: Day,
    pub what: What,
}

/// What happened.
#[derive(Clone, Debug)]
pub enum What {
    UpCount(usize),
    UpCells(Vec<usize>),
    UpInCell(usize, usize),
    Score(Seedling, usize, Seen),
    Tally(Option<usize>, Vec<(Look, usize)>),
    Cull(Seedling),
}

/// A whole season and the day on which the question is asked.
#[derive(Clone, Debug)]
pub struct Season {
    pub today: Day,
    pub loci: Vec<Locus>,
    /// The steps from locus to locus along one chromosome; loci in none of them are independent.
    pub chromosome: Vec<Step>,
    pub traits: Vec<Trait>,
    pub parents: Vec<Parent>,
    pub in_flower: Vec<InFlower>,
    pub pollinations: Vec<Pollination>,
    pub packets: Vec<Packet>,
    pub lots: Vec<Lot>,
    pub batches: Vec<Batch>,
    pub events: Vec<Event>,
}

impl Locus {
    /// A locus of two alleles, the dominant one first.
    pub fn pair(symbol: &str, recessive: &str) -> Locus {
        Locus {
            symbol: symbol.into(),
            alleles: vec![symbol.into(), recessive.into()],
            share: None,
        }
    }
}

impl Trait {
    /// The built-in leaf colour on the locus of the given index.
    pub fn foliage(locus: usize) -> Trait {
        let late = Late {
            class: 0,
            after: 1,
            median: 12.0,
            spread: 0.35,
            ceiling: 0.9999,
        };
        Trait {
            late: Some(late),
            built_in: true,
            ..Trait::dominant("foliage", ["purple", "green"], &[locus])
        }
    }

    /// The first class where every named locus carries its first allele, else the second; visible at once.
    pub fn dominant(code: &str, classes: [&str; 2], loci: &[usize]) -> Trait {
        let pattern = loci.iter().map(|&l| (l, [Some(0), None])).collect();
        let first = Rule { pattern, class: 0 };
        let other = Rule {
            pattern: Vec::new(),
            class: 1,
        };
        Trait {
            code: code.into(),
            classes: classes.map(String::from).to_vec(),
            rules: vec![first, other],
            late: None,
            misread: 0.005,
            built_in: false,
        }
    }
}

impl Season {
    /// An empty season with the built-in leaf colour.
    pub fn new(today: Day) -> Season {
        Season {
            today,
            loci: vec![Locus::pair("A", "a")],
            chromosome: Vec::new(),
            traits: vec![Trait::foliage(0)],
            parents: Vec::new(),
            in_flower: Vec::new(),
            pollinations: Vec::new(),
            packets: Vec::new(),
            lots: Vec::new(),
            batches: Vec::new(),
            events: Vec::new(),
        }
    }

    /// Mother and father of what a batch was sown from.
    pub fn parents_of(&self, batch: usize) -> (usize, usize) {
        match &self.batches[batch].sown {
            Sown::Packet(p) => (*p, *p),
            Sown::Cross(code) => self.parents_of_cross(code),
        }
    }

    /// Mother and father of a cross by its code (a packet goes by its parent's code).
    pub fn parents_of_cross(&self, code: &str) -> (usize, usize) {
        if let Some(p) = self.pollinations.iter().find(|p| p.cross == code) {
            return (p.mother, p.father);
        }
        let plant = self.parents.iter().position(|p| p.code == code);
        let plant = plant.expect("a batch is sown from a cross or from a parent's packet");
        (plant, plant)
    }

    /// The code under which a batch's seed goes.
    pub fn cross_code(&self, batch: usize) -> String {
        match &self.batches[batch].sown {
            Sown::Packet(p) => self.parents[*p].code.clone(),
            Sown::Cross(code) => code.clone(),
        }
    }
}

/// A day as `YYYY-MM-DD` (proleptic Gregorian calendar, civil-from-days by eras of 400 years).
pub fn iso(day: Day) -> String {
    let z = day + 719_468;
    let era = z.div_euclid(146_097);
    let doe = z.rem_euclid(146_097);
    let yoe = (doe - doe / 1460 + doe / 36_524 - doe / 146_096) / 365;
    let doy = doe - (365 * yoe + yoe / 4 - yoe / 100);
    let mp = (5 * doy + 2) / 153;
    let month = if mp < 10 { mp + 3 } else { mp - 9 };
    let year = yoe + era * 400 + i64::from(month <= 2);
    format!("{year:04}-{month:02}-{:02}", doy - (153 * mp + 2) / 5 + 1)
}
