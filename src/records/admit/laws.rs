//! Laws that hold after any sequence of entries: numbers are given once, changes fit the rows they meet and
//! can be taken back, counts add up.

use std::collections::HashSet;

use proptest::prelude::*;

use super::{Bench, admit};
use crate::records::cells::{CellRange, Spot};
use crate::records::count::Count;
use crate::records::day::Day;
use crate::records::entry::*;
use crate::records::facts::Facts;
use crate::records::rows::{FateKind, GoalKind, PlantKind, Table, TasteMethod};
use crate::records::target::Target;
use crate::records::tray::{Tray, stock};

/// What one random entry is made of.
type Dice = (u8, usize, usize, i64, i64, bool);

fn today() -> Day {
    "2026-06-01".parse().unwrap()
}

fn pick<'a>(words: &[&'a str], at: usize) -> &'a str {
    words[at % words.len()]
}

fn count(n: i64) -> Count {
    Count::new(n).unwrap()
}

fn class(word: &str) -> Seen {
    Seen {
        of: None,
        what: SeenWhat::Class(word.to_owned()),
    }
}

fn goal_look(at: usize) -> Seen {
    class(pick(&["purple", "hairy", "green", "heat"], at))
}

fn look(at: usize) -> Look {
    match at % 6 {
        0 => vec![class("purple")],
        1 => vec![class("green")],
        2 => vec![Seen {
            of: None,
            what: SeenWhat::Maybe("green".to_owned()),
        }],
        3 => vec![Seen {
            of: None,
            what: SeenWhat::Early,
        }],
        4 => vec![class("purple"), class("hairy")],
        _ => vec![class("hairy")],
    }
}

fn target(at: usize) -> Target {
    pick(
        &[
            "T1", "T2", "T1-01", "T1-02", "T1-02a", "T2-01", "T2-03", "NL", "K1",
        ],
        at,
    )
    .parse()
    .unwrap()
}

fn spot(cell: i64) -> Spot {
    Spot {
        cell,
        part: String::new(),
    }
}

fn entry((kind, a, b, n, d, flag): Dice) -> Entry {
    let day = today().back(d);
    let plant = |at: usize| -> Target { pick(&["NL", "CW", "K1", "T1-01"], at).parse().unwrap() };
    let cross = pick(&["X1", "X2", "X3"], a).parse().unwrap();
    let batch = pick(&["T1", "T2", "T3"], a).parse().unwrap();
    match kind {
        0 => Entry::Parent(NewParent {
            code: pick(&["NL", "CW", "K1"], a).parse().unwrap(),
            name: None,
            species: flag.then(|| "annuum".to_owned()),
            kind: PlantKind::Line,
            genotype: Some(pick(&["A/A", "a/a", "A/a Q/q"], b).to_owned()),
            proven: flag,
            looks: if flag {
                vec![look(b).remove(0)]
            } else {
                Vec::new()
            },
            cytoplasm: None,
            from: (b % 3 == 0).then(|| target(a + 2)),
            pedigree: (n % 4 == 0)
                .then(|| pick(&["NL/CW//K1", "K1*2/Old Bell", "T1-01/NL"], b).to_owned()),
            day,
        }),
        1 => Entry::Pollination(NewPollination {
            mother: plant(a),
            father: flag.then(|| plant(b)),
            code: (n % 3 == 0).then(|| "X1".parse().unwrap()),
            flowers: Some(count(n)),
            tool: String::new(),
            wiped: flag,
            emasculated: true,
            covered: flag,
            day: (b % 5 != 0).then_some(day),
        }),
        2 => Entry::PodSet(PodSet {
            cross,
            pods: Some(count(n / 2)),
            dropped: flag.then(|| count(1)),
            pollinated: None,
            nth: (b % 2 == 0).then(|| count(1)),
            day,
        }),
        3 => Entry::Harvest(Harvest {
            cross,
            pods: flag.then(|| count(1)),
            seeds: Some(count(n)),
            about: flag,
            pollinated: None,
            kept: String::new(),
            day,
        }),
        4 => Entry::Packet(Packet {
            plant: plant(a),
            seeds: Some(count(n)),
            label: String::new(),
            giver: String::new(),
            claim: flag.then_some(Claim::Open),
            kept: String::new(),
            day,
        }),
        5 => Entry::Sowing(Sowing {
            source: pick(&["X1", "X2", "NL", "X1/1", "CW"], a).parse().unwrap(),
            lot: None,
            seeds: count(n),
            tray: (b % 4 == 0).then(|| "T2".parse().unwrap()),
            cells: flag.then(|| count(n / 2)),
            place: "tent".to_owned(),
            medium: String::new(),
            light: String::new(),
            warmth: None,
            day,
        }),
        6 => Entry::Up(UpCount {
            batch,
            what: match b % 3 {
                0 => UpWhat::Batch(count(n)),
                1 => UpWhat::Cells(CellRange::from(vec![1, 2, n.max(1)])),
                _ => UpWhat::Cell(n.max(1), count(n)),
            },
            day,
        }),
        7 => Entry::Score(Score {
            target: if b % 3 == 2 {
                Target::Code(batch)
            } else {
                target(a)
            },
            what: match b % 3 {
                0 => ScoreWhat::Plant(look(a)),
                1 => ScoreWhat::Tally(vec![(count(n), look(a)), (count(1), look(a + 1))]),
                _ => ScoreWhat::Spots(vec![(
                    vec![
                        Spot {
                            cell: n.max(1),
                            part: String::new(),
                        },
                        Spot {
                            cell: 1,
                            part: "b".to_owned(),
                        },
                    ],
                    look(a),
                )]),
            },
            of: None,
            leaves: None,
            day,
        }),
        8 => Entry::Fate(Fates {
            kind: FateKind::ALL[a % 4],
            whom: vec![match b % 5 {
                3 => FateWhom::LookIn(batch, vec![spot(n.max(1)), spot(1)], look(n as usize)),
                4 => FateWhom::Read(batch, vec![spot(n.max(1)), spot(2)], look(n as usize)),
                0 => FateWhom::Plant(target(a)),
                1 => FateWhom::Count(target(a), count(n)),
                _ => FateWhom::Look(target(a), look(n as usize), flag.then(|| count(1))),
            }],
            of: None,
            blind: flag,
            why: String::new(),
            day,
        }),
        9 => Entry::Trait(NewTrait {
            code: pick(&["edge", "foliage"], a).parse().unwrap(),
            name: None,
            classes: if flag {
                Vec::new()
            } else {
                vec!["wavy".to_owned(), "flat".to_owned()]
            },
            rules: if flag {
                Vec::new()
            } else {
                vec!["E/_ => wavy".to_owned(), "else => flat".to_owned()]
            },
            one_gene: flag.then(|| OneGene {
                dominant: "wavy".to_owned(),
                recessive: "flat".to_owned(),
                between: (n % 2 == 0).then(|| "waved".to_owned()),
            }),
            late: Vec::new(),
            median_days: None,
            spread: None,
            ceiling: None,
            misread: None,
            class_misread: Vec::new(),
            organ: None,
            stage: None,
        }),
        10 => Entry::Locus(LocusFacts {
            symbol: pick(&["A", "Z", "Q"], a).to_owned(),
            alleles: flag.then(|| {
                let symbol = pick(&["A", "Z", "Q"], a);
                vec![
                    symbol.to_owned(),
                    symbol.to_lowercase(),
                    format!("{}2", symbol.to_lowercase()),
                ]
            }),
            chromosome: Some("10".to_owned()),
            at: Some(n.to_string()),
            shares: Vec::new(),
            recombines: vec![(pick(&["A", "H"], b).to_owned(), "0.1".to_owned())],
        }),
        11 => Entry::Assume(Assume {
            key: "dim".to_owned(),
            value: flag.then(|| "0.1".to_owned()),
        }),
        14 => Entry::LateColour(LateColour {
            of: pick(&["foliage", "stem-hair", "edge"], a).parse().unwrap(),
            median_days: Some(n.to_string()),
            spread: flag.then(|| "0.3".to_owned()),
            ceiling: None,
        }),
        15 => Entry::AssumeAll(vec![
            Assume {
                key: "dim".to_owned(),
                value: Some(format!("0.0{n}")),
            },
            Assume {
                key: "share.self.a".to_owned(),
                value: flag.then(|| n.to_string()),
            },
        ]),
        16 => Entry::Species(SpeciesSaid {
            mother: pick(&["annuum", "C. chinense", "eximium"], a).to_owned(),
            father: pick(&["annuum", "baccatum"], b).to_owned(),
            crossing: Some(pick(&["hard", "default", "usual"], a).to_owned()),
            fertility: flag.then(|| "partial".to_owned()),
        }),
        17 => Entry::Adoption(Adoption {
            seedling: target(2 + a % 4),
            code: (b % 5 == 0).then(|| "K2".parse().unwrap()),
            name: None,
            chosen: (n % 3 == 0).then(|| pick(&["CW", "X2", "T2-01"], b).parse().unwrap()),
            odds: vec![
                "self=0.6".parse().unwrap(),
                "unknown-seed=0.3".parse().unwrap(),
            ],
            day: today(),
        }),
        18 => Entry::GradedTrait(NewGradedTrait {
            code: pick(&["heat", "crunch"], a).parse().unwrap(),
            name: None,
            grades: pick(&["0-5", "soft, firm, hard"], a).to_owned(),
            organ: None,
        }),
        19 => Entry::Grade(Grades {
            target: target(a),
            grades: vec![
                ("heat".to_owned(), (n % 6).to_string()),
                ("crunch".to_owned(), pick(&["soft", "hard"], b).to_owned()),
            ]
            .split_off(b % 2),
            pod: flag.then(|| count(1 + n % 3)),
            taster: pick(&["", "Ada", "Bo"], b).to_owned(),
            day,
        }),
        20 => Entry::Goal(NewGoal {
            look: goal_look(a),
            kind: [GoalKind::Must, GoalKind::Want, GoalKind::Avoid][b % 3],
            weight: (b % 3 == 1 && flag).then(|| n.to_string()),
            less: a % 4 == 3 && flag,
        }),
        21 => Entry::DropGoal(goal_look(a)),
        22 => Entry::Tasted(Tasted {
            score: Score {
                target: target(a),
                what: ScoreWhat::Plant(vec![class(pick(&["hot", "not-hot"], b))]),
                of: None,
                leaves: None,
                day,
            },
            method: [TasteMethod::Tip, TasteMethod::Wall, TasteMethod::Placenta][b % 3],
        }),
        12 => Entry::BenchTrait(pick(&["foliage", "stem-hair"], a).parse().unwrap()),
        13 => Entry::SwitchTrait(SwitchTrait {
            of: pick(&["foliage", "stem-hair", "edge"], a).parse().unwrap(),
            on: flag,
        }),
        _ => Entry::Note(Note {
            target: target(a),
            text: "leans".to_owned(),
            day,
        }),
    }
}

/// Admits an entry and, where it passes, checks its changes and applies them.
fn play(facts: &mut Facts, entry: &Entry, even_so: bool) {
    let Ok(admitted) = admit(
        facts,
        entry,
        &Bench {
            today: today(),
            even_so,
        },
    ) else {
        return;
    };
    assert!(!admitted.changes.is_empty());
    let before = facts.clone();
    let mut met = HashSet::new();
    for change in &admitted.changes {
        assert_eq!(
            facts.find(change.table, change.id),
            change.before,
            "{change:?}"
        );
        assert!(
            met.insert((change.table, change.id)),
            "one row changes once: {change:?}"
        );
        if change.before.is_none() {
            assert!(
                change.id >= before.next_id(change.table),
                "a number is given once: {change:?}"
            );
        }
        facts.apply(change);
    }
    let mut back = facts.clone();
    for change in admitted.changes.iter().rev() {
        back.apply(&change.reversed());
    }
    assert_eq!(*back, *before, "changes reversed restore every row");
    for (series, next) in &admitted.counters {
        assert!(
            *next > before.next_number(series),
            "counters move on: {series}"
        );
        facts.advance_counter(series, *next);
    }
    for table in Table::ALL {
        let last = facts.all(*table).last().map_or(0, |row| row.id());
        assert!(last < facts.next_id(*table), "{}", table.name());
    }
}

fn begun() -> Facts {
    let mut facts = Facts::default();
    play(&mut facts, &Entry::Init, false);
    for dice in [
        (0, 0, 1, 1, 100, false),
        (0, 1, 1, 1, 100, false),
        (1, 0, 1, 4, 90, true),
        (3, 0, 0, 20, 60, false),
    ] {
        play(&mut facts, &entry(dice), false);
    }
    assert_eq!(
        (facts.plant.len(), facts.cross.len(), facts.lot.len()),
        (2, 1, 1)
    );
    facts
}

/// What the gate promises of a ledger in which nothing was recorded even so.
fn check_counts(facts: &Facts) {
    for lot in &facts.lot {
        assert!(
            stock(facts, lot.id).is_none_or(|left| left >= 0),
            "more sown than there is"
        );
    }
    for batch in &facts.batch {
        let tray = Tray::of(facts, batch.id).unwrap();
        assert!(
            tray.up_by(today()).is_none_or(|up| up <= batch.seeds),
            "more up than sown"
        );
        assert!(
            tray.seedlings().len() as i64 <= batch.seeds,
            "more told apart than sown"
        );
        assert!(
            tray.seedlings()
                .iter()
                .all(|plant| plant.cell.is_some_and(|cell| cell <= batch.cells))
        );
    }
    let codes: HashSet<_> = facts.code.iter().map(|code| &code.key).collect();
    assert_eq!(codes.len(), facts.code.len(), "a code names one thing");
}

fn dice() -> impl Strategy<Value = Dice> {
    (
        0u8..24,
        0usize..60,
        0usize..60,
        0i64..14,
        0i64..50,
        any::<bool>(),
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn any_sequence_of_entries_keeps_the_books(throws in prop::collection::vec(dice(), 1..40)) {
        let mut facts = begun();
        for throw in throws {
            play(&mut facts, &entry(throw), false);
        }
        check_counts(&facts);
    }

    #[test]
    fn even_so_keeps_numbers_and_changes_sound(throws in prop::collection::vec(dice(), 1..40)) {
        let mut facts = begun();
        for throw in throws {
            play(&mut facts, &entry(throw), true);
        }
    }
}

/// The dice reach every kind of entry: a law that nothing is put to would always hold.
#[test]
fn the_dice_are_admitted_often_enough() {
    let mut facts = begun();
    let mut admitted = [0; 23];
    for at in 0..4000usize {
        let throw = (
            (at % 23) as u8,
            at * 7 % 59,
            at * 11 % 53,
            (at * 5 % 13) as i64,
            (50 - at / 80) as i64,
            at % 2 == 0,
        );
        let before = facts.clone();
        play(&mut facts, &entry(throw), false);
        if *before != *facts {
            admitted[at % 23] += 1;
        }
    }
    assert!(admitted.iter().all(|n| *n > 0), "{admitted:?}");
}
