//! Which two parents to cross, against every genotype one by one in whole numbers, and against played sowings.

use std::collections::BTreeSet;

use num_bigint::BigInt;
use num_traits::One;
use serde_json::Value;

use crate::plans::{Dice, TRIES, agrees};
use crate::support::{Bench, flat, record};

/// A genotype at A, Pun1, pAMT and Up: 1 is the dominant allele.
pub type Plant = [[u8; 2]; 4];

pub const PARENTS: [(&str, Plant); 6] = [
    ("P1", [[1, 1], [1, 1], [1, 1], [1, 1]]),
    ("P2", [[0, 0], [0, 0], [1, 1], [1, 1]]),
    ("P3", [[0, 0], [1, 1], [1, 1], [0, 0]]),
    ("P4", [[1, 0], [1, 0], [1, 1], [1, 1]]),
    ("P5", [[1, 1], [1, 1], [0, 0], [1, 0]]),
    ("P6", [[0, 0], [1, 0], [1, 0], [1, 0]]),
];

const SYMBOLS: [[&str; 2]; 4] = [["a", "A"], ["pun1", "Pun1"], ["pamt", "pAMT"], ["up", "Up"]];

pub fn bench_of(parents: &[(&str, Plant)]) -> Bench {
    let bench = Bench::new();
    bench.ok("init");
    for (code, plant) in parents {
        let at = |locus: usize| {
            let [one, other] = plant[locus].map(|allele| SYMBOLS[locus][usize::from(allele)]);
            format!("{one}/{other}")
        };
        let genotype: Vec<String> = (0..4).map(at).collect();
        record(
            &bench,
            &format!(
                "parent add {code} 'Bed {code}' --plant --genotype '{}'",
                genotype.join(" ")
            ),
        );
    }
    bench
}

/// Purple, not hot, erect: written out, not read from a gene model.
fn looks_wanted(plant: &Plant) -> bool {
    let shows = |locus: usize| plant[locus].contains(&1);
    shows(0) && !(shows(1) && shows(2)) && !shows(3)
}

/// All its selfed seed looks as wanted too.
fn is_true(plant: &Plant) -> bool {
    looks_wanted(plant) && seed(&[*plant], &[*plant]).iter().all(looks_wanted)
}

/// Every gamete of a plant, each of the sixteen ways once.
fn gametes(plant: &Plant) -> Vec<[u8; 4]> {
    (0..16_usize)
        .map(|way| [0, 1, 2, 3].map(|locus| plant[locus][way >> locus & 1]))
        .collect()
}

/// Every seed of every mother by every father, as often as it comes.
fn seed(mothers: &[Plant], fathers: &[Plant]) -> Vec<Plant> {
    let mut found = Vec::new();
    for (mother, father) in mothers
        .iter()
        .flat_map(|m| fathers.iter().map(move |f| (m, f)))
    {
        for egg in gametes(mother) {
            for grain in gametes(father) {
                found.push([0, 1, 2, 3].map(|locus| [egg[locus], grain[locus]]));
            }
        }
    }
    found
}

/// The kinds of plant among some, and how many of each.
fn kinds(plants: &[Plant]) -> Vec<(Plant, u64)> {
    let sorted = |plant: &Plant| plant.map(|[one, other]| [one.max(other), one.min(other)]);
    let mut counts = std::collections::BTreeMap::new();
    for plant in plants {
        *counts.entry(sorted(plant)).or_insert(0) += 1;
    }
    counts.into_iter().collect()
}

/// What is sown, and the wanted of how many.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Sown {
    Selfed,
    First,
    Second,
    Back,
}

fn share(sown: Sown, mother: &Plant, father: &Plant, wanted: fn(&Plant) -> bool) -> (u64, u64) {
    let hybrids = match sown {
        Sown::Selfed => seed(&[*mother], &[*mother]),
        _ => seed(&[*mother], &[*father]),
    };
    let (mut hits, mut all) = (0, 0);
    for (hybrid, count) in kinds(&hybrids) {
        let last = match sown {
            Sown::Selfed | Sown::First => vec![hybrid],
            Sown::Second => seed(&[hybrid], &[hybrid]),
            Sown::Back => seed(&[hybrid], &[*mother]),
        };
        for (plant, often) in kinds(&last) {
            all += count * often;
            hits += if wanted(&plant) { count * often } else { 0 };
        }
    }
    (hits, all)
}

/// The fewest n with 20 (1 - hits/all)^n <= 1, in whole numbers.
fn fewest(hits: u64, all: u64) -> u64 {
    let (miss, whole) = (BigInt::from(all - hits), BigInt::from(all));
    let (mut one, mut other, mut n) = (BigInt::one(), BigInt::one(), 0);
    while BigInt::from(20) * &one > other {
        one *= &miss;
        other *= &whole;
        n += 1;
    }
    n
}

/// Seeds, seasons, what is sown, mother and father (of a backcross the mother is gone back to), hits and all.
type Scheme = (u64, u64, Sown, [usize; 2], [u64; 2]);

/// Every scheme with every pair; of one pair and its selfs none that another beats in both.
fn every_scheme(wanted: fn(&Plant) -> bool) -> Vec<Scheme> {
    let mut all: Vec<Scheme> = Vec::new();
    let mut add = |sown: Sown, pair: [usize; 2]| {
        let [mother, father] = pair.map(|at| PARENTS[at].1);
        let (hits, of) = share(sown, &mother, &father, wanted);
        let seasons = if sown <= Sown::First { 1 } else { 2 };
        if hits > 0 {
            all.push((fewest(hits, of), seasons, sown, pair, [hits, of]));
        }
    };
    for one in 0..PARENTS.len() {
        add(Sown::Selfed, [one, one]);
        for other in 0..PARENTS.len() {
            if one < other {
                add(Sown::First, [one, other]);
                add(Sown::Second, [one, other]);
            }
            if one != other {
                add(Sown::Back, [one, other]);
            }
        }
    }
    all.sort_unstable();
    let mut kept: Vec<Scheme> = Vec::new();
    for scheme in all {
        let beats = |known: &Scheme| {
            let of_same = scheme.3.contains(&known.3[0]) && scheme.3.contains(&known.3[1]);
            of_same && known.0 <= scheme.0 && known.1 <= scheme.1
        };
        if !kept.iter().any(beats) {
            kept.push(scheme);
        }
    }
    kept
}

/// A plan of the answer in the oracle's form: its fraction as text.
fn told(plan: &Value) -> (u64, u64, Sown, BTreeSet<String>, Option<String>, String) {
    let text = |key: &str| plan[key].as_str().unwrap().to_owned();
    let (sown, back) = match plan["scheme"].as_str().unwrap() {
        "self" => (Sown::Selfed, None),
        "F1" => (Sown::First, None),
        "F2" => (Sown::Second, None),
        "BC1-to-mother" => (Sown::Back, Some(text("mother"))),
        "BC1-to-father" => (Sown::Back, Some(text("father"))),
        other => panic!("{other}"),
    };
    (
        plan["seeds"].as_u64().unwrap(),
        plan["seasons"].as_u64().unwrap(),
        sown,
        [text("mother"), text("father")].into(),
        back,
        text("fraction"),
    )
}

fn lowest([hits, all]: [u64; 2]) -> String {
    let (mut a, mut b) = (hits, all);
    while b > 0 {
        (a, b) = (b, a % b);
    }
    match all / a {
        1 => "1".to_owned(),
        of => format!("{}/{of}", hits / a),
    }
}

/// The whole list of plans, in its order, against every scheme with every pair in whole numbers.
#[test]
fn the_plans_are_those_of_going_through_all() {
    let bench = bench_of(&PARENTS);
    for (flag, wanted) in [
        ("", looks_wanted as fn(&Plant) -> bool),
        (" --fixed", is_true),
    ] {
        let line =
            format!("plan cross --want 'purple, not-hot, erect' --top 100 --off-share 0{flag}");
        let answer = bench.json(&line);
        let plans: Vec<_> = answer["plans"]
            .as_array()
            .unwrap()
            .iter()
            .map(told)
            .collect();
        let code = |at: usize| PARENTS[at].0.to_owned();
        let expected: Vec<_> = every_scheme(wanted)
            .into_iter()
            .map(|(seeds, seasons, sown, pair, parts)| {
                let back = (sown == Sown::Back).then(|| code(pair[0]));
                (
                    seeds,
                    seasons,
                    sown,
                    pair.map(code).into(),
                    back,
                    lowest(parts),
                )
            })
            .collect();
        assert!(expected.len() > 3, "{expected:?}");
        assert_eq!(plans, expected, "{flag}");
        assert_eq!(answer["have"], Value::Array(Vec::new()));
    }
}

/// Of two lines the backcross to the recessive one shows it in 1 of 8, the F2 in 3 of 64; 4,000 sowings are played.
#[test]
fn played_sowings_come_true_as_often_as_said() {
    let bench = bench_of(&[
        ("NL", [[1, 1], [1, 1], [1, 1], [1, 1]]),
        ("CW", [[0, 0], [0, 0], [1, 1], [0, 0]]),
    ]);
    let found = bench.json("plan cross --want purple,not-hot,erect --off-share 0");
    let plan = &found["plans"][0];
    assert_eq!(
        (&plan["fraction"], &plan["scheme"], &plan["mother"]),
        (&"1/8".into(), &"BC1-to-mother".into(), &"CW".into())
    );
    let (seeds, said) = (
        plan["seeds"].as_u64().unwrap(),
        plan["probability"].as_f64().unwrap(),
    );
    let mut state = 20_260_301_u64;
    let mut coin = || {
        // Knuth's multiplier for linear congruences, the top bit alone.
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 63) as u8
    };
    let rounds = 4_000;
    let mut reached = 0;
    for _ in 0..rounds {
        let mut any = false;
        for _ in 0..seeds {
            // The F1 is heterozygous at A, Pun1 and Up, and CW gives it nothing but recessive grains.
            let mut at = || [coin(), 0];
            let plant = [at(), at(), [1, 1], at()];
            any |= looks_wanted(&plant);
        }
        reached += u32::from(any);
    }
    let rate = f64::from(reached) / f64::from(rounds);
    let error = (said * (1.0 - said) / f64::from(rounds)).sqrt();
    assert!((rate - said).abs() < 4.0 * error, "{rate} of {said}");
}

/// Coupling: both gametes a-h, (0.9/2)^2, and up/up 1/4. Repulsion: (0.1/2)^2 of the F2.
#[test]
fn linked_looks_come_as_their_phase_has_it() {
    let lines = |one: &str, other: &str| {
        let bench = Bench::new();
        bench.ok("init");
        record(&bench, "locus set A --recombines H=0.1");
        record(&bench, &format!("parent add P1 'Bed 1' --genotype '{one}'"));
        record(
            &bench,
            &format!("parent add P2 'Bed 2' --genotype '{other}'"),
        );
        bench
    };
    let coupled = lines("A/A H/H up/up", "a/a h/h Up/Up");
    let found = coupled.json("plan cross --want green,smooth,erect");
    let plan = &found["plans"][0];
    let p = plan["p"].as_f64().unwrap();
    assert!((p - 0.45 * 0.45 / 4.0).abs() < 1e-12, "{plan}");
    assert_eq!(plan["linked"][0]["from_one"], true);
    let apart = lines("A/A h/h", "a/a H/H");
    let found = apart.json("plan cross --want green,smooth --off-share 0");
    let plan = &found["plans"][0];
    let p = plan["p"].as_f64().unwrap();
    assert!((p - 0.05 * 0.05).abs() < 1e-12, "{plan}");
    // ln(0.05)/ln(1 - 0.0025) = 1196.8
    assert_eq!(plan["seeds"], 1197);
    let said = flat(&apart.ok("plan cross --want green,smooth"));
    assert!(
        said.contains(
            "green and smooth lie on one chromosome (A and H at 0.1) and come from two parents"
        ),
        "{said}"
    );
}

/// Of a selfed A/a 3 in 4 look purple and 1 in 4 breeds true. Of the others each seed that is up is green with 1/4, so that
/// 11 seeds of each show 1 - (3/4)^11 of them; of seed that comes up with 0.85 it takes 13, 1 - (1 - 0.85/4)^13. Played.
#[test]
fn the_test_of_what_breeds_true_tells_as_often_as_said() {
    let bench = bench_of(&[("DT", [[1, 0], [1, 1], [1, 1], [1, 1]])]);
    let sure = bench.json("plan cross --want purple --fixed");
    let test = &sure["plans"][0]["test"];
    assert_eq!(test["seeds_each"], 11);
    assert!((test["told"].as_f64().unwrap() - (1.0 - 0.75_f64.powi(11))).abs() < 1e-12);
    assert_eq!(test["plants"], 0.75 * 11.0, "of 11 seeds, 1 - (3/4)^11");
    let found = bench.json("plan cross --want purple --fixed --germination 0.85");
    let plan = &found["plans"][0];
    let seeds = plan["seeds"].as_u64().unwrap();
    let each = plan["test"]["seeds_each"].as_u64().unwrap();
    assert_eq!(each, 13);
    let mut dice = Dice(0x7e57_7e57);
    let (mut any, mut plants, mut split, mut told) = (0, 0, 0, 0);
    for _ in 0..TRIES / 4 {
        let mut is_there = false;
        for _ in 0..seeds {
            let plant = dice.seed([true, false], [true, false]);
            if !dice.says(0.85) || plant == [false; 2] {
                continue;
            }
            plants += 1;
            if plant == [true; 2] {
                is_there = true;
                continue;
            }
            split += 1;
            let mut shows = false;
            for _ in 0..each {
                let seed = dice.seed(plant, plant);
                shows |= dice.says(0.85) && seed == [false; 2];
            }
            told += u32::from(shows);
        }
        any += u32::from(is_there);
    }
    agrees(TRIES / 4, any, plan["probability"].as_f64().unwrap());
    agrees(split, told, plan["test"]["told"].as_f64().unwrap());
    let mean = f64::from(plants) / f64::from(TRIES / 4);
    assert!((mean - plan["test"]["plants"].as_f64().unwrap()).abs() < 0.1);
}

/// An F1 of A/a by a/a is A/a with 1/2, and only then leads to purple: 5 seeds (1 - 2^-5 = 0.969), and 7 of seed of
/// which 0.8 x 0.9 comes up and is of the label (1 - 0.64^7 = 0.956, of 6 0.931).
#[test]
fn the_seed_of_the_f1_is_named_beside() {
    let bench = bench_of(&[
        ("DT", [[1, 0], [1, 1], [1, 1], [0, 0]]),
        ("RB", [[0, 0], [0, 0], [1, 1], [0, 0]]),
    ]);
    let back = bench.json("plan cross --want purple,not-hot --off-share 0");
    let back = &back["plans"][0];
    assert!(
        back["scheme"].as_str().unwrap().starts_with("BC1"),
        "{back}"
    );
    assert_eq!(
        (&back["f1_seeds"], &back["f1_probability"]),
        (&5.into(), &0.96875.into())
    );
    let thin = bench.json("plan cross --want purple,not-hot --germination 0.8 --off-share 0.1");
    assert_eq!(thin["plans"][0]["f1_seeds"], 7);
    let said = flat(&bench.ok("plan cross --want purple,not-hot --off-share 0"));
    assert!(
        said.contains(
            "Before that sow 5 seeds for the F1: 96.9 % that a plant that leads to it is up."
        ),
        "{said}"
    );
    let all = back["seeds"].as_u64().unwrap() + 5;
    assert!(
        said.contains(&format!("All of it together: {all} seeds.")),
        "{said}"
    );
}

/// The numbers of `plan seeds`, whose sum goes over every count that may be up: of the share of each plan, with counts as
/// typed, as the ledger has them, and off-types in seed crossed by hand alone.
#[test]
fn seed_comes_up_as_in_plan_seeds() {
    let bench = bench_of(&[
        ("NL", [[1, 1], [1, 1], [1, 1], [1, 1]]),
        ("CW", [[0, 0], [0, 0], [1, 1], [0, 0]]),
    ]);
    let plans = |flags: &str| {
        let found = bench.json(&format!(
            "plan cross --want purple,not-hot,erect --top 9{flags}"
        ));
        found["plans"].as_array().unwrap().clone()
    };
    let seeds = |fraction: &str, flags: &str| {
        bench.json(&format!("plan seeds --chance {fraction} {flags}"))["seeds"].clone()
    };
    for plan in plans(" --germination 41:50 --off-share 0.1") {
        let off = if plan["scheme"] == "F2" { "0" } else { "0.1" };
        let flags = format!("--germination 41:50 --off-share {off}");
        let fraction = plan["fraction"].as_str().unwrap();
        assert_eq!(plan["seeds"], seeds(fraction, &flags), "{plan}");
    }
    record(&bench, "self CW --on 2025-03-01");
    record(&bench, "sow X1 --seeds 50 --on 2025-06-01");
    record(&bench, "up T1 41 --on 2025-07-20");
    let found = plans(" --off-share 0");
    assert!(!found.is_empty());
    for plan in found {
        assert_eq!(plan["germination"]["up"], 41, "{plan}");
        let fraction = plan["fraction"].as_str().unwrap();
        assert_eq!(
            plan["seeds"],
            seeds(fraction, "--germination 41:50"),
            "{plan}"
        );
    }
    let said = flat(&bench.ok("plan cross --want purple,not-hot,erect"));
    for part in [
        "comes up: 41 of 50 of",
        "how few those are is reckoned with",
        "not of the label, of seed crossed by hand:",
        "of emasculated flowers",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
}
