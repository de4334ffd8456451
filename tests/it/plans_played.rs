//! Plans played with seeded dice: seed sown in one stage, places with losses, and F1 plants that differ.

use crate::plan_cross::bench_of;
use crate::plans::{Dice, TRIES, agrees};
use crate::support::Bench;

/// A germination drawn as it is believed after so many up of so many: Beta(1 + up, 1 + not up) is the (1 + up)-th smallest
/// of sown + 1 uniform numbers (order statistics, textbook).
fn drawn(dice: &mut Dice, up: usize, sown: usize) -> f64 {
    let mut rolls: Vec<f64> = (0..=sown).map(|_| dice.roll()).collect();
    rolls.sort_by(f64::total_cmp);
    rolls[up]
}

const HET: [bool; 2] = [true, false];
const GREEN: [bool; 2] = [false; 2];

/// Of an F2, germination known from 13 of 16, off-types never as wanted.
#[test]
fn seed_sown_in_one_stage_comes_true() {
    let bench = Bench::new();
    let found = bench.json(
        "plan seeds --mother A/a --father A/a --class green=2 --class purple=3 --germination 13:16 \
         --off-share 0.1 --confidence 0.9",
    );
    let seeds = found["seeds"].as_u64().unwrap();
    let (mut dice, mut hits) = (Dice(0x051e_57a9), 0);
    let tries = TRIES / 4;
    for _ in 0..tries {
        let germination = drawn(&mut dice, 13, 16);
        let (mut green, mut purple) = (0, 0);
        for _ in 0..seeds {
            let plant = dice.seed(HET, HET);
            if !dice.says(germination) || dice.says(0.1) {
                continue;
            }
            match plant == GREEN {
                true => green += 1,
                false => purple += 1,
            }
        }
        hits += u32::from(green >= 2 && purple >= 3);
    }
    agrees(tries, hits, found["probability"].as_f64().unwrap());
}

/// Of the places that each cross gets some plants die and some are off-types.
#[test]
fn places_come_true_with_losses_and_off_types() {
    let bench = Bench::new();
    let found = bench.json(
        "plan space --pots 30 --losses 0.2 --off-share 0.1 X1=1/4,want=2 X2=1/2,want=3,weight=2",
    );
    let crosses = found["crosses"].as_array().unwrap();
    let mut dice = Dice(0x0ace_0ace);
    for (cross, (share, want)) in crosses.iter().zip([(0.25, 2), (0.5, 3)]) {
        let places = cross["places"].as_u64().unwrap();
        let mut hits = 0;
        for _ in 0..TRIES / 2 {
            let as_wanted = |dice: &mut Dice| {
                let (lives, is_true) = (!dice.says(0.2), !dice.says(0.1));
                lives && is_true && dice.says(share)
            };
            let n = (0..places).filter(|_| as_wanted(&mut dice)).count();
            hits += u32::from(n >= want);
        }
        agrees(TRIES / 2, hits, cross["probability"].as_f64().unwrap());
    }
}

/// A/a by a/a, the F1 selfed: seed of a mixture of many F1 plants, half of them A/a. Purple is 3/8 of it.
#[test]
fn seed_of_f1_plants_that_differ_comes_true() {
    let bench = bench_of(&[
        ("DT", [[1, 0], [1, 1], [1, 1], [1, 1]]),
        ("RB", [[0, 0], [0, 0], [1, 1], [0, 0]]),
    ]);
    let line = "plan cross --want purple,not-hot --top 50 --germination 0.8 --off-share 0.1";
    let found = bench.json(line);
    let mut plans = found["plans"].as_array().unwrap().iter();
    let plan = plans.find(|plan| plan["seasons"] == 2).unwrap();
    let is_back = plan["scheme"] != "F2";
    let seeds = plan["seeds"].as_u64().unwrap();
    let comes = if is_back { 0.8 * 0.9 } else { 0.8 };
    let (mut dice, mut hits, mut first) = (Dice(0x0f1f_0f1f), 0, 0);
    let tries = TRIES / 4;
    for _ in 0..tries {
        let mut any = false;
        for _ in 0..seeds {
            let hybrid = [dice.seed(HET, GREEN), HET];
            let plant = hybrid.map(|own| match is_back {
                true => dice.seed(own, GREEN),
                false => dice.seed(own, own),
            });
            any |= dice.says(comes) && plant[0] != GREEN && plant[1] == GREEN;
        }
        hits += u32::from(any);
        let f1 = (0..plan["f1_seeds"].as_u64().unwrap())
            .any(|_| dice.says(0.8 * 0.9) && dice.seed(HET, GREEN) != GREEN);
        first += u32::from(f1);
    }
    agrees(tries, hits, plan["probability"].as_f64().unwrap());
    agrees(tries, first, plan["f1_probability"].as_f64().unwrap());
}

/// Each plan begins with its number, then what it rests on, and fits the width.
#[test]
fn every_screen_begins_with_its_number_and_fits() {
    let bench = bench_of(&[
        ("NL", [[1, 1], [1, 1], [1, 1], [1, 1]]),
        ("CW", [[0, 0], [0, 0], [1, 1], [0, 0]]),
        ("DT", [[1, 0], [1, 0], [1, 1], [1, 0]]),
    ]);
    crate::support::record(&bench, "cross CW NL --on 2025-07-01");
    for (line, begins) in [
        ("plan seeds --chance 1/16 --germination 41:50", "Sow "),
        (
            "plan seeds X1 --generation F2 --class green/not-hot --marker green",
            "Sow ",
        ),
        (
            "plan space --pots 40 mild=1/16,want=2,weight=3 erect=1/4",
            "Give 34 ",
        ),
        ("plan which-mother CW NL", "Take CW "),
        ("plan line X1 --class purple/not-hot/erect", "In 3 seasons"),
        (
            "plan line X1 --class purple/erect --recurrent CW --backcrosses 2",
            "In ",
        ),
        ("plan line DT --believed --class purple", "In 2 seasons"),
        ("plan enough 9:3:4 9:6:1", "Count "),
        ("plan cross --want purple,not-hot,erect", "Sow "),
        (
            "plan cross --want purple,not-hot,erect --fixed --top 20",
            "Sow ",
        ),
        (
            "plan calendar --ripe-seed 1nov --generations 3",
            "For F3 seed",
        ),
        (
            "plan calendar --sow 1feb --generations 3",
            "Sown on 1 February 2027",
        ),
    ] {
        let said = bench.ok(line);
        assert!(said.starts_with(begins), "{line}: {said}");
        let rests = said.find("What it rests on:");
        assert!(rests.is_some_and(|at| at > 60), "{line}: {said}");
        let wide = said.lines().find(|row| row.chars().count() > 80);
        assert_eq!(wide, None, "{line}");
    }
}
