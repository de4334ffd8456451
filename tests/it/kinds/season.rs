//! A random season of all kinds of tray, its truth known.

use std::collections::HashSet;

use locule::records::day::Day;
use locule::records::rows::PlantKind;

use super::bench::{Bench, Care};
use super::dice::Dice;
use super::grow::{Genes, Plan, Tray, line};
use super::view::View;

/// The hybrid that is selfed: one copy of purple.
const HYBRID: Genes = [(true, false), (false, false)];

/// The trays of a season, by kind.
pub struct Trays {
    /// Green mother, purple father, read early.
    pub late: Tray,
    /// Purple mother, green father: nothing can show.
    pub clean: Tray,
    /// Pollen of the hairy plant came along.
    pub stray: Tray,
    /// The mother's own pollen was there first.
    pub failed: Tray,
    /// Two trays whose labels were exchanged.
    pub swapped: (Tray, Tray),
    /// No light, nothing colours.
    pub dim: Tray,
    /// Selfed purple seed at the same place.
    pub control: Tray,
    /// A self of the hybrid.
    pub f2: Tray,
}

/// A season.
pub struct Season {
    /// What was written down.
    pub bench: Bench,
    /// Today.
    pub today: Day,
    /// The code of the plant whose pollen came along.
    pub donor: String,
    /// The codes of the two crosses whose labels were exchanged.
    pub swapped: (String, String),
    /// What really was.
    pub trays: Trays,
}

/// Unused codes and names, in random order.
struct Labels {
    given: HashSet<String>,
}

impl Labels {
    fn code(&mut self, dice: &mut Dice) -> String {
        loop {
            let letters = dice.between(2, 4);
            let mut code: String = (0..letters)
                .map(|_| char::from(dice.pick(b"BCDFGHJKLMNPRSVWZ")))
                .collect();
            if dice.chance(0.3) {
                code.push_str(&dice.between(1, 99).to_string());
            }
            if self.given.insert(code.clone()) {
                return code;
            }
        }
    }
}

fn name(dice: &mut Dice) -> String {
    let first = dice.pick(&[
        "Slow", "Paper", "Copper", "Winter", "Blind", "Seven", "Salt", "Quiet", "Crooked",
    ]);
    let second = dice.pick(&[
        "Thistle", "Anvil", "Marble", "Sparrow", "Ladder", "Kettle", "Pond", "Button", "Ember",
    ]);
    format!("{first} {second}")
}

/// A plant of the season.
struct Plant {
    code: String,
    genes: Genes,
}

/// The plants by their part in the season.
struct Plants {
    purple: [Plant; 2],
    green: [Plant; 2],
    hairy: Plant,
    hybrid: Plant,
}

impl Plants {
    fn enter(bench: &mut Bench, dice: &mut Dice, labels: &mut Labels, day: Day) -> Self {
        let mut enter = |kind: PlantKind, genes: Genes, genotype: &str| {
            let code = labels.code(dice);
            bench.parent(&code, &name(dice), kind, genotype, day);
            Plant { code, genes }
        };
        Self {
            purple: std::array::from_fn(|_| enter(PlantKind::Line, line(true, false), "A/A h/h")),
            green: std::array::from_fn(|_| enter(PlantKind::Line, line(false, false), "a/a h/h")),
            hairy: enter(PlantKind::Line, line(false, true), "a/a H/H"),
            hybrid: enter(PlantKind::Single, HYBRID, "A/a h/h"),
        }
    }
}

/// The crosses, by the trays they are sown in.
struct Crosses {
    late: String,
    clean: String,
    stray: String,
    failed: String,
    swapped: (String, String),
    dim: String,
    f2: String,
}

/// The days of a season, each after the one it depends on.
struct Days {
    first: Day,
    ripe: Day,
    read: Day,
    today: Day,
}

impl Season {
    /// The season of a seed.
    pub fn new(seed: u64) -> Self {
        let dice = &mut Dice::new(seed);
        let labels = &mut Labels {
            given: HashSet::new(),
        };
        let days = choose_days(dice);
        let mut bench = Bench::new(days.today);
        let entered = days.first.back(dice.between(0, 30));
        let plants = Plants::enter(&mut bench, dice, labels, entered);
        let crosses = pollinate(&mut bench, dice, labels, &plants, &days);
        let trays = sow(&mut bench, dice, labels, (&plants, &crosses), &days);
        Self {
            bench,
            today: days.today,
            donor: plants.hairy.code,
            swapped: crosses.swapped,
            trays,
        }
    }

    /// What `suspects` says of a tray.
    pub fn view<'v>(&self, views: &'v [View], tray: &Tray) -> &'v View {
        views
            .iter()
            .find(|view| view.tray == tray.code)
            .expect("every tray is answered")
    }
}

fn choose_days(dice: &mut Dice) -> Days {
    let first = Day::new(2025, 9, 1)
        .expect("in the calendar")
        .forward(dice.between(0, 180));
    let ripe = first.forward(dice.between(70, 75));
    let read = ripe.forward(dice.between(68, 80));
    Days {
        first,
        ripe,
        read,
        today: read.forward(dice.between(0, 3)),
    }
}

fn pollinate(
    bench: &mut Bench,
    dice: &mut Dice,
    labels: &mut Labels,
    plants: &Plants,
    days: &Days,
) -> Crosses {
    let tool = dice.pick(&["brush", "tweezers", "cotton bud", "toothpick", "finger"]);
    let Plants {
        purple,
        green,
        hairy,
        hybrid,
    } = plants;
    let mut cross = |bench: &mut Bench,
                     parents: (&Plant, &Plant),
                     tool: &str,
                     wiped: bool,
                     covered: bool,
                     day: Day| {
        let code = labels.code(dice);
        let selfed = parents.0.code == parents.1.code;
        let father = (!selfed).then_some(parents.1.code.as_str());
        bench.pollinate(
            &code,
            (&parents.0.code, father),
            tool,
            Care { wiped, covered },
            day,
        );
        code
    };
    let (first, second, third) = (days.first, days.first.forward(1), days.first.forward(4));
    // The stray pollen: the hairy plant was handled just before, with the same tool, and nothing was wiped.
    let failed = cross(bench, (hairy, &purple[0]), tool, false, false, first);
    let stray = cross(bench, (&green[1], &purple[1]), tool, false, false, first);
    let clean = cross(bench, (&purple[0], &green[0]), tool, true, false, first);
    let swapped = (
        cross(bench, (hairy, &green[1]), tool, true, true, second),
        cross(bench, (&purple[0], &green[1]), tool, true, true, second),
    );
    let late = cross(bench, (&green[0], &purple[0]), tool, true, true, third);
    let dim = cross(bench, (&green[0], &purple[1]), tool, true, true, third);
    let f2 = cross(bench, (hybrid, hybrid), "", false, true, third);
    let crosses = Crosses {
        late,
        clean,
        stray,
        failed,
        swapped,
        dim,
        f2,
    };
    let all = [
        &crosses.late,
        &crosses.clean,
        &crosses.stray,
        &crosses.failed,
        &crosses.dim,
        &crosses.f2,
    ];
    for code in all
        .into_iter()
        .chain([&crosses.swapped.0, &crosses.swapped.1])
    {
        bench.harvest(code, dice.between(60, 120), days.ripe);
    }
    crosses
}

fn sow(
    bench: &mut Bench,
    dice: &mut Dice,
    labels: &mut Labels,
    of: (&Plants, &Crosses),
    days: &Days,
) -> Trays {
    let (
        Plants {
            purple,
            green,
            hairy,
            hybrid,
        },
        crosses,
    ) = of;
    // Sown early and read when every purple has long shown; the pair of the exchanged labels on a day of its own.
    let early = days.ripe.forward(dice.between(0, 8));
    let pair = early.forward(dice.between(1, 4));
    let late = days.read.back(14 + dice.between(9, 15));
    let shelf = days.read.back(14 + dice.between(9, 40));
    let ripe = [days.read.back(dice.between(0, 4))];
    let reads = [days.read.back(dice.between(2, 5)), days.read];
    let codes: [String; 9] = std::array::from_fn(|_| labels.code(dice));
    bench.packet(&purple[1].code, 12, days.ripe);
    let mut grow = |plan: Plan| Tray::grow(bench, dice, &plan);
    let plan = |code: usize, source, mother: &Plant, father: &Plant, day| {
        Plan::new(
            &codes[code],
            source,
            (mother.genes, father.genes),
            day,
            &ripe,
        )
    };
    let both = |plan| Plan { both: true, ..plan };
    let mistaken = |plan, mother: &Plant, father: &Plant, strays| Plan {
        accident: Some((mother.genes, father.genes)),
        strays,
        both: true,
        ..plan
    };
    let shelved = |plan| Plan {
        place: "back shelf",
        dim: true,
        reads: &reads,
        ..plan
    };
    Trays {
        late: grow(Plan {
            reads: &reads,
            ..plan(0, &crosses.late, &green[0], &purple[0], late)
        }),
        clean: grow(plan(1, &crosses.clean, &purple[0], &green[0], early)),
        stray: grow(mistaken(
            plan(2, &crosses.stray, &green[1], &purple[1], early),
            &green[1],
            hairy,
            2,
        )),
        failed: grow(mistaken(
            plan(3, &crosses.failed, hairy, &purple[0], early),
            hairy,
            hairy,
            6,
        )),
        swapped: (
            grow(mistaken(
                plan(4, &crosses.swapped.0, hairy, &green[1], pair),
                &purple[0],
                &green[1],
                i64::MAX,
            )),
            grow(mistaken(
                plan(5, &crosses.swapped.1, &purple[0], &green[1], pair),
                hairy,
                &green[1],
                i64::MAX,
            )),
        ),
        dim: grow(shelved(plan(6, &crosses.dim, &green[0], &purple[1], shelf))),
        control: grow(Plan {
            seeds: 5,
            ..shelved(plan(7, &purple[1].code, &purple[1], &purple[1], shelf))
        }),
        f2: grow(both(Plan {
            seeds: 40,
            ..plan(8, &crosses.f2, hybrid, hybrid, early)
        })),
    }
}
