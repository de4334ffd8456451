//! Which two parents to cross, against every genotype one by one in whole numbers, and against played sowings.

use std::collections::BTreeSet;

use num_bigint::BigInt;
use num_traits::One;
use serde_json::Value;

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
        let line = format!("plan cross --want 'purple, not-hot, erect' --top 100{flag}");
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
    let found = bench.json("plan cross --want purple,not-hot,erect");
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
    let found = apart.json("plan cross --want green,smooth");
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
