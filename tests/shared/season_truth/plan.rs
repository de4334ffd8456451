//! What the grower does in a season: who is crossed with whom, when and how, and what is sown where.
//!
//! Chosen by what is stated of the plants, never by what they really are.

use super::dice::Dice;
use super::genes::{LEAF, Stated};
use super::plants::{HYBRID, PURPLE, Plant};
use super::world::{Dim, World};

/// One pollination; selfs have the mother for father.
#[derive(Debug, Clone)]
pub struct Pollination {
    /// The cross, from 0.
    pub cross: usize,
    /// The mother.
    pub mother: usize,
    /// The father.
    pub father: usize,
    /// The day of the season.
    pub day: i64,
    /// Whether the one brush was used, or nothing.
    pub brush: bool,
    /// Whether it was cleaned before.
    pub wiped: bool,
    /// Whether the anthers were taken out.
    pub emasculated: bool,
    /// Whether the flower was covered.
    pub covered: bool,
}

/// What is sown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stock {
    /// A cross.
    Cross(usize),
    /// A packet of a parent's own seed.
    Packet(usize),
}

/// How the flowers of a tray's seed were treated; of several pollinations the least careful counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Care {
    /// A cross, anthers left in.
    LeftIn,
    /// A cross, anthers taken out.
    TakenOut,
    /// A cross, anthers taken out and flower covered.
    Covered,
    /// A self left open, or a packet.
    SelfOpen,
    /// A covered self.
    SelfCovered,
}

/// One sowing.
#[derive(Debug, Clone)]
pub struct Sowing {
    /// The number of the tray, or of the tray that a pot stands beside.
    pub number: u64,
    /// Its tray's code.
    pub code: String,
    /// What is sown.
    pub stock: Stock,
    /// The day of the season.
    pub day: i64,
    /// How many seeds, one a cell.
    pub seeds: i64,
    /// Where it stands.
    pub place: String,
    /// Whether the stem is read as well.
    pub stem: bool,
    /// Whether emergence is counted cell by cell.
    pub by_cell: bool,
    /// Whether it is a control pot.
    pub pot: bool,
}

/// A season as the grower goes about it.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The pollinations, in order.
    pub pollinations: Vec<Pollination>,
    /// Plants that stood in flower: which, from and until when.
    pub in_flower: Vec<(usize, i64, i64)>,
    /// The sowings.
    pub sowings: Vec<Sowing>,
}

/// The days of pollination; some plants are still about from one to the next.
const DAYS: [i64; 3] = [0, 2, 10];
/// Pollinations a season.
const POLLINATIONS: usize = 9;
/// Days until seed is ripe and the first is sown.
pub const SOWN: i64 = 100;
/// Days between the two sowings: looks at both fall on one grid.
const APART: i64 = 14;
/// Trays a season, and how many of them are sown first.
const TRAYS: (usize, usize) = (10, 7);

impl Plan {
    /// The plan of a season.
    pub fn new(world: &World, plants: &[Plant], key: &[u64]) -> Self {
        let dice = &mut Dice::of(&[key, &[2]].concat());
        let pollinations = pollinate(plants, dice);
        let crosses = pollinations
            .iter()
            .map(|one| one.cross)
            .max()
            .map_or(0, |last| last + 1);
        let flower = |dice: &mut Dice| {
            let from = dice.between(-3, 9);
            (dice.below(plants.len()), from, from + dice.between(0, 4))
        };
        let in_flower = vec![flower(dice), flower(dice)];
        Self {
            sowings: sow(world, crosses, plants.len(), key),
            pollinations,
            in_flower,
        }
    }

    /// How the flowers of what is sown were treated.
    pub fn care(&self, stock: Stock) -> Care {
        let of_stock = |one: &&Pollination| stock == Stock::Cross(one.cross);
        let each = self.pollinations.iter().filter(of_stock);
        let care =
            |one: &Pollination| match (one.mother == one.father, one.emasculated, one.covered) {
                (true, _, false) => Care::SelfOpen,
                (true, _, true) => Care::SelfCovered,
                (false, false, _) => Care::LeftIn,
                (false, true, false) => Care::TakenOut,
                (false, true, true) => Care::Covered,
            };
        each.map(care).min().unwrap_or(Care::SelfOpen)
    }

    /// Mother and father of what is sown.
    pub fn parents(&self, stock: Stock) -> (usize, usize) {
        match stock {
            Stock::Packet(plant) => (plant, plant),
            Stock::Cross(cross) => {
                let mut all = self.pollinations.iter();
                let one = all
                    .find(|one| one.cross == cross)
                    .expect("every cross was made");
                (one.mother, one.father)
            }
        }
    }
}

fn pollinate(plants: &[Plant], dice: &mut Dice) -> Vec<Pollination> {
    let mut list: Vec<Pollination> = Vec::new();
    let mut crosses = 0;
    for at in 0..POLLINATIONS {
        let again = (at >= 3 && dice.chance(0.12)).then(|| dice.below(list.len()));
        let (cross, mother, father) = match again {
            Some(old) => (list[old].cross, list[old].mother, list[old].father),
            None => {
                let (mother, father) = choose_pair(plants, dice);
                crosses += 1;
                (crosses - 1, mother, father)
            }
        };
        let brush = dice.chance(0.7);
        list.push(Pollination {
            cross,
            mother,
            father,
            day: DAYS[at * DAYS.len() / POLLINATIONS],
            brush,
            wiped: dice.chance(0.35) && brush,
            emasculated: dice.chance(0.8) || mother == father,
            covered: dice.chance(0.45),
        });
    }
    list
}

/// Mostly a green mother and a purple father, where the leaves tell a self; the rest is all sorts.
fn choose_pair(plants: &[Plant], dice: &mut Dice) -> (usize, usize) {
    let stated = |leaf: Stated| -> Vec<usize> {
        (0..plants.len())
            .filter(|at| plants[*at].stated[LEAF] == leaf)
            .collect()
    };
    let (green, purple) = (stated(Stated::Copies(2)), stated(Stated::Copies(0)));
    let one_of = |list: &[usize], dice: &mut Dice| list[dice.below(list.len())];
    match dice.unit() {
        u if u < 0.55 => (one_of(&green, dice), one_of(&purple, dice)),
        u if u < 0.65 => (one_of(&purple, dice), one_of(&green, dice)),
        u if u < 0.73 => (HYBRID, HYBRID),
        _ => {
            let mother = dice.below(plants.len());
            let other = dice.below(plants.len() - 1);
            (mother, if other < mother { other } else { other + 1 })
        }
    }
}

fn sow(world: &World, crosses: usize, plants: usize, key: &[u64]) -> Vec<Sowing> {
    let mut list = Vec::new();
    for at in 0..TRAYS.0 {
        let day = SOWN + if at < TRAYS.1 { 0 } else { APART };
        let lot = if world.shared_lots { at - at % 2 } else { at };
        let choice = &mut Dice::of(&[key, &[3, lot as u64]].concat());
        let stock = if choice.chance(0.06) {
            Stock::Packet(choice.below(plants))
        } else {
            Stock::Cross(choice.below(crosses))
        };
        let dice = &mut Dice::of(&[key, &[4, at as u64]].concat());
        let code = format!("T{}", at + 1);
        let place = match world.dim_by {
            Dim::Tray => format!("stand {}", at + 1),
            Dim::Shelf => format!("shelf {day}"),
        };
        list.push(Sowing {
            number: at as u64,
            code,
            stock,
            day,
            seeds: dice.between(6, 24),
            place: place.clone(),
            stem: dice.chance(world.hair.share()),
            by_cell: dice.chance(0.5),
            pot: false,
        });
        if world.pot {
            list.push(control_pot(at, day, place));
        }
    }
    list
}

/// Five seeds of the purple line's own, sown a day before the tray they stand beside.
fn control_pot(at: usize, day: i64, place: String) -> Sowing {
    Sowing {
        number: at as u64,
        code: format!("C{}", at + 1),
        stock: Stock::Packet(PURPLE),
        day: day - 1,
        seeds: 5,
        place,
        stem: false,
        by_cell: false,
        pot: true,
    }
}
