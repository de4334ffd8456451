//! Trays whose truth is known: what each seed really was, when it came up, what it showed and what was written down.

use std::collections::BTreeMap;

use locule::records::cells::Spot;
use locule::records::day::Day;
use locule::records::entry::ScoreWhat;

use super::bench::{Bench, count, look};
use super::dice::Dice;
use super::view::Seedling;

/// P(a slip of the pen), per reading.
const SLIP: f64 = 0.005;
/// Median age in days at which purple shows, spread of its log, and spread of the log from tray to tray.
const ONSET: (f64, f64, f64) = (12.0, 0.35, 0.25);

/// Two alleles at each of two loci, `true` the dominant one: purple leaves, hairy stem.
pub type Genes = [(bool, bool); 2];

/// A plant that breeds true.
pub const fn line(purple: bool, hairy: bool) -> Genes {
    [(purple, purple), (hairy, hairy)]
}

fn child(dice: &mut Dice, mother: Genes, father: Genes) -> Genes {
    let mut grain = |alleles: (bool, bool)| {
        if dice.chance(0.5) {
            alleles.0
        } else {
            alleles.1
        }
    };
    std::array::from_fn(|locus| (grain(mother[locus]), grain(father[locus])))
}

/// One seedling as it really is, and as it was last written down.
#[derive(Debug, Clone)]
pub struct Grown {
    cell: i64,
    genes: Genes,
    /// Whether it is not the cross on the label.
    pub off: bool,
    up_after: i64,
    onset: f64,
    /// The classes last written down.
    pub looks: Vec<&'static str>,
    /// Whether it was ever written down as purple.
    pub purple_once: bool,
    /// Whether it was ever written down as it did not look.
    pub slipped: bool,
}

impl Grown {
    fn carries(&self, locus: usize) -> bool {
        self.genes[locus].0 || self.genes[locus].1
    }

    fn write(&mut self, dice: &mut Dice, truth: bool, classes: [&'static str; 2]) -> &'static str {
        let slip = dice.chance(SLIP);
        self.slipped |= slip;
        classes[usize::from(truth == slip)]
    }
}

/// A tray to be sown.
pub struct Plan<'a> {
    /// Its code.
    pub code: &'a str,
    /// The cross on the label, or the parent whose packet is sown.
    pub source: &'a str,
    /// The parents on the label.
    pub label: (Genes, Genes),
    /// What some of the seeds really are.
    pub accident: Option<(Genes, Genes)>,
    /// How many of those there are; all of them where it is more than are sown.
    pub strays: i64,
    /// How many seeds.
    pub seeds: i64,
    /// The day of sowing.
    pub day: Day,
    /// Where it stands.
    pub place: &'a str,
    /// Whether nothing colours there for want of light.
    pub dim: bool,
    /// Whether the stem is read as well as the leaves.
    pub both: bool,
    /// The days on which it is read, ascending.
    pub reads: &'a [Day],
}

impl<'a> Plan<'a> {
    /// A tray without an accident, in good light, its leaves read: twelve seeds.
    pub const fn new(
        code: &'a str,
        source: &'a str,
        label: (Genes, Genes),
        day: Day,
        reads: &'a [Day],
    ) -> Self {
        Self {
            code,
            source,
            label,
            accident: None,
            strays: 0,
            seeds: 12,
            day,
            place: "",
            dim: false,
            both: false,
            reads,
        }
    }
}

/// A tray as it really was.
#[derive(Debug)]
pub struct Tray {
    /// Its code.
    pub code: String,
    /// Its seedlings.
    pub grown: Vec<Grown>,
}

impl Tray {
    /// Sows, waits, counts and reads a tray, writing it all down.
    pub fn grow(bench: &mut Bench, dice: &mut Dice, plan: &Plan) -> Self {
        bench.sow(plan.source, plan.code, plan.seeds, plan.place, plan.day);
        let mut tray = Self {
            code: plan.code.to_owned(),
            grown: germinate(dice, plan),
        };
        tray.count_up(bench, plan);
        let one_by_one = dice.chance(0.5);
        for day in plan.reads {
            tray.read(dice, plan, *day);
            bench.score(plan.code, tray.written(one_by_one), *day);
        }
        tray
    }

    /// How many seedlings are not the cross on the label.
    pub fn off(&self) -> i64 {
        i64::try_from(self.grown.iter().filter(|one| one.off).count()).expect("a tray")
    }

    /// Whether the newest reading of every seedling is what it will look like for good.
    pub fn read_true(&self) -> bool {
        let true_to = |one: &Grown| !one.slipped && one.carries(0) == (one.looks[0] == "purple");
        self.grown.iter().all(true_to)
    }

    /// Whether any seedling was ever written down as purple.
    pub fn purple_once(&self) -> bool {
        self.grown.iter().any(|one| one.purple_once)
    }

    /// How many seedlings were read.
    pub fn scored(&self) -> i64 {
        i64::try_from(self.grown.len()).expect("a tray")
    }

    /// The seedlings that an answer is about: one, or all of a tallied look.
    pub fn meant<'t>(&'t self, answer: &'t Seedling) -> impl Iterator<Item = &'t Grown> {
        self.grown.iter().filter(|one| match &answer.code {
            Some(code) => *code == format!("{}-{:02}", self.code, one.cell),
            None => one
                .looks
                .iter()
                .all(|class| answer.looks.values().any(|seen| seen == class)),
        })
    }

    /// Two counts: when about half are up, and when all are.
    fn count_up(&self, bench: &mut Bench, plan: &Plan) {
        let last = self.grown.iter().map(|one| one.up_after).max().unwrap_or(0);
        for after in [9, last.max(10)] {
            let up = self
                .grown
                .iter()
                .filter(|one| one.up_after <= after)
                .count();
            bench.up(
                plan.code,
                i64::try_from(up).expect("a tray"),
                plan.day.forward(after),
            );
        }
    }

    fn read(&mut self, dice: &mut Dice, plan: &Plan, day: Day) {
        for one in &mut self.grown {
            let age = day.since(plan.day) - one.up_after;
            let shows = one.carries(0) && !plan.dim && age as f64 >= one.onset;
            one.looks = vec![one.write(dice, shows, ["purple", "green"])];
            one.purple_once |= one.looks == ["purple"];
            if plan.both {
                let hairy = one.carries(1);
                let stem = one.write(dice, hairy, ["hairy", "smooth"]);
                one.looks.push(stem);
            }
        }
    }

    fn written(&self, one_by_one: bool) -> ScoreWhat {
        if one_by_one {
            let spot = |cell: i64| {
                vec![Spot {
                    cell,
                    part: String::new(),
                }]
            };
            return ScoreWhat::Spots(
                self.grown
                    .iter()
                    .map(|one| (spot(one.cell), look(&one.looks)))
                    .collect(),
            );
        }
        let mut counts: BTreeMap<&[&str], i64> = BTreeMap::new();
        for one in &self.grown {
            *counts.entry(&one.looks).or_default() += 1;
        }
        ScoreWhat::Tally(
            counts
                .into_iter()
                .map(|(classes, n)| (count(n), look(classes)))
                .collect(),
        )
    }
}

/// Five seeds in six come up, between 7 and 14 days after sowing; at least four.
fn germinate(dice: &mut Dice, plan: &Plan) -> Vec<Grown> {
    let mut cells: Vec<i64> = (1..=plan.seeds).collect();
    dice.shuffle(&mut cells);
    let mut up: Vec<i64> = cells
        .iter()
        .enumerate()
        .filter(|(at, _)| *at < 4 || dice.chance(0.8))
        .map(|(_, c)| *c)
        .collect();
    let shift = ONSET.2 * dice.normal();
    let mut left = plan.strays;
    let mut grown: Vec<Grown> = Vec::new();
    for cell in up.drain(..) {
        let stray = plan.accident.filter(|_| left > 0);
        left -= 1;
        let (mother, father) = stray.unwrap_or(plan.label);
        grown.push(Grown {
            cell,
            genes: child(dice, mother, father),
            off: stray.is_some(),
            up_after: dice.between(7, 14),
            onset: ONSET.0 * (shift + ONSET.1 * dice.normal()).exp(),
            looks: Vec::new(),
            purple_once: false,
            slipped: false,
        });
    }
    grown
}
