//! Which two parents to cross, against every genotype one by one in whole numbers, and against played sowings.

use std::collections::BTreeSet;

use num_bigint::BigInt;
use num_traits::One;
use serde_json::Value;

use crate::support::{Bench, flat, record};

/// A genotype at A, Pun1, pAMT and Up: 1 is the dominant allele.
type Plant = [[u8; 2]; 4];

const PARENTS: [(&str, Plant); 6] = [
    ("P1", [[1, 1], [1, 1], [1, 1], [1, 1]]),
    ("P2", [[0, 0], [0, 0], [1, 1], [1, 1]]),
    ("P3", [[0, 0], [1, 1], [1, 1], [0, 0]]),
    ("P4", [[1, 0], [1, 0], [1, 1], [1, 1]]),
    ("P5", [[1, 1], [1, 1], [0, 0], [1, 0]]),
    ("P6", [[0, 0], [1, 0], [1, 0], [1, 0]]),
];

const SYMBOLS: [[&str; 2]; 4] = [["a", "A"], ["pun1", "Pun1"], ["pamt", "pAMT"], ["up", "Up"]];

fn bench_of(parents: &[(&str, Plant)]) -> Bench {
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
        assert!(expected.len() > 12, "{expected:?}");
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
        (&plan["fraction"], &plan["scheme"]),
        (&"3/64".into(), &"F2".into())
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

/// A plant of unknown origin that is purple is A/A with 1/3: no number of seeds makes green sure, and 5 of a testcross
/// or 11 selfed show which it is (the smallest n with 2^-n and (3/4)^n below 0.05).
#[test]
fn what_is_not_settled_is_weighed_and_named() {
    let bench = Bench::new();
    bench.ok("init");
    record(
        &bench,
        "parent add DT 'Dusk Thimble' --plant --genotype A/_",
    );
    record(&bench, "parent add NL 'Night Lantern' --genotype A/A");
    let found = bench.json("plan cross --want green");
    let plan = &found["plans"][0];
    assert_eq!(
        (&plan["scheme"], &plan["seeds"]),
        (&"self".into(), &Value::Null)
    );
    // Trusted with 0.99, so that A/a is 0.66 and a/a the hundredth that is left.
    let hope = plan["hope"].as_f64().unwrap();
    assert!((hope - (0.66 + 0.01)).abs() < 1e-9, "{hope}");
    assert_eq!(found["unsettled"][0]["settle"], "self");
    assert_eq!(found["unsettled"][0]["seedlings"], 11);
    let said = flat(&bench.ok("plan cross --want green"));
    assert!(
        said.starts_with(
            "No plan is sure enough yet: of DT selfed it is 67 % that any seed can be green."
        ),
        "{said}"
    );
    // With 60 % asked for, the sum over both that it may be decides: 0.66 (1 - (3/4)^n) + 0.01 >= 0.6, n = 8.
    let sure = bench.json("plan cross --want green --confidence 0.6");
    assert_eq!(sure["plans"][0]["seeds"], 8);
    record(&bench, "parent add CW 'Chalk Wren' --genotype 'a/a Up/Up'");
    record(&bench, "parent add RB 'River Bell' --genotype 'A/A up/up'");
    record(
        &bench,
        "parent add BP 'Bent Pipe' --plant --genotype 'A/_ Up/Up'",
    );
    let tested = bench.json("plan cross --want green,erect --top 20");
    let of_bp = |one: &&Value| one["plant"] == "BP";
    let line = tested["unsettled"]
        .as_array()
        .unwrap()
        .iter()
        .find(of_bp)
        .cloned();
    assert_eq!(
        line,
        Some(serde_json::json!({
            "plant": "BP", "loci": ["A"], "settle": "testcross", "seedlings": 5, "command": "locule cross CW BP"
        }))
    );
}

#[test]
fn parents_that_have_it_need_no_cross() {
    let bench = bench_of(&PARENTS);
    let said = flat(&bench.ok("plan cross --want purple,not-hot"));
    assert!(
        said.starts_with("No cross is needed: P5 is purple and not-hot already."),
        "{said}"
    );
    let found = bench.json("plan cross --want green,not-hot,pendant --fixed");
    assert_eq!(found["have"], serde_json::json!(["P2"]));
}

/// ln(0.05)/ln(7/8) = 22.4.
#[test]
fn the_answer_begins_with_the_number_and_gives_its_reasons() {
    let bench = bench_of(&[
        ("NL", [[1, 1], [1, 1], [1, 1], [1, 1]]),
        ("CW", [[0, 0], [0, 0], [1, 1], [0, 0]]),
        ("NK", [[1, 1], [1, 1], [1, 1], [1, 1]]),
    ]);
    record(&bench, "cross CW NL --on 2025-07-01");
    let said = flat(&bench.ok("plan cross --want 'purple, not-hot, erect'"));
    for part in [
        "Sow 23 seeds of the BC1 of CW x NL to CW: 95.4 % that at least one is purple, not-hot and erect; 2 seasons. \
         CW brings not-hot (pun1/pun1 pAMT/pAMT) and erect (up/up); NL brings purple (A/A). \
         Every F1 plant is purple, hot and pendant; of the BC1 1 in 8 is as wanted. X1 is that cross already.",
        "NK would do in the place of NL.",
        "which is better: locule plan which-mother CW NL",
        "comes up: every seed",
    ] {
        assert!(said.contains(part), "{part}\n{said}");
    }
    let found = bench.json("plan cross --want purple,not-hot,erect");
    assert_eq!(found["plans"][0]["made_as"], serde_json::json!(["X1"]));
    let poor = bench.json("plan cross --want purple,not-hot,erect --germination 0.5");
    // ln(0.05)/ln(15/16) = 46.4
    assert_eq!(poor["plans"][0]["seeds"], 47);
    let one = bench.json("plan cross --want mid");
    assert_eq!(
        (
            &one["plans"][0]["scheme"],
            &one["plans"][0]["seeds"],
            &one["plans"][0]["probability"]
        ),
        (&"F1".into(), &1.into(), &1.0.into())
    );
}

#[test]
fn hard_crosses_stand_behind_and_say_so() {
    let bench = Bench::new();
    bench.ok("init");
    for line in [
        "parent add NL 'Night Lantern' --species annuum --genotype 'A/A Up/Up'",
        "parent add BB 'Bright Bell' --species baccatum --genotype 'a/a up/up'",
        "parent add CW 'Chalk Wren' --species annuum --plant --genotype 'a/a Up/up'",
    ] {
        record(&bench, line);
    }
    let found = bench.json("plan cross --want purple,erect");
    let told = |at: usize| {
        let plan = &found["plans"][at];
        ["mother", "father", "crossability", "fraction"].map(|key| plan[key].as_str().unwrap())
    };
    // F2 of NL x CW: 3/4 and 1/8. NL x BB back to BB: 1/4, fewer seeds, and behind all the same.
    assert_eq!(told(0), ["NL", "CW", "same-species", "3/32"]);
    assert_eq!(told(1), ["BB", "NL", "very-hard", "1/4"]);
    let said = flat(&bench.ok("plan cross --want purple,erect"));
    assert!(
        said.contains("BB x NL, baccatum by annuum: rarely a seed is to be expected"),
        "{said}"
    );
}

#[test]
fn plants_without_pollen_are_no_fathers_and_the_dead_no_parents() {
    let bench = Bench::new();
    bench.ok("init");
    for line in [
        "parent add MS 'Mute Sparrow' --genotype 'A/A ms3/ms3 Up/Up'",
        "parent add CW 'Chalk Wren' --genotype 'a/a Ms3/Ms3 up/up'",
        "cross MS CW --on 2025-07-01",
        "sow X1 --seeds 4 --on 2025-09-01",
        "up T1 4 --on 2025-09-20",
        "parent add H1 --from T1-02",
    ] {
        record(&bench, line);
    }
    let before = bench.json("plan cross --want purple,erect");
    let of_h1 = |found: &Value| {
        let plans = found["plans"].as_array().unwrap().clone();
        plans
            .iter()
            .any(|plan| plan["mother"] == "H1" || plan["father"] == "H1")
    };
    assert!(of_h1(&before), "{before}");
    record(&bench, "died T1-02 --on 2026-02-01");
    let found = bench.json("plan cross --want purple,erect --top 20");
    assert!(!of_h1(&found), "{found}");
    assert_eq!(found["gone"], serde_json::json!(["H1"]));
    for plan in found["plans"].as_array().unwrap() {
        assert_ne!(plan["father"], "MS", "{plan}");
        assert_eq!(plan["turned"], "no-pollen");
    }
    let said = flat(&bench.ok("plan cross --want deep,erect --top 20"));
    assert!(
        said.contains("CW x MS cannot be, for want of pollen."),
        "{said}"
    );
    // In sterile cytoplasm without a restorer the F1 makes no pollen either: it can only be crossed back.
    record(
        &bench,
        "parent add SC 'Silent Comet' --cytoplasm sterile --genotype 'A/A up/up Pun1/Pun1'",
    );
    record(
        &bench,
        "parent add OK 'Oak Kite' --plant --genotype 'a/a Up/up pun1/pun1 pAMT/pAMT'",
    );
    let found = bench.json("plan cross --want purple,erect,not-hot --top 100");
    let plans = found["plans"].as_array().unwrap();
    assert!(plans.iter().any(|plan| plan["mother"] == "SC"), "{found}");
    for plan in plans {
        let scheme = plan["scheme"].as_str().unwrap();
        assert!(
            plan["mother"] != "SC" || scheme == "F1" || scheme == "BC1-to-father",
            "{plan}"
        );
    }
}

#[test]
fn what_cannot_be_is_refused_with_the_reason() {
    let bench = bench_of(&[
        ("NL", [[1, 1], [1, 1], [1, 1], [1, 1]]),
        ("CW", [[0, 0], [0, 0], [1, 1], [1, 1]]),
        ("RB", [[0, 0], [1, 1], [1, 1], [0, 0]]),
    ]);
    for (line, status, parts) in [
        (
            "plan cross --want purple,gren",
            1,
            &["no trait has a class 'gren'", "the nearest: green"][..],
        ),
        (
            "plan cross --want purple,white",
            1,
            &["'white' is a class of several traits"],
        ),
        (
            "plan cross --want purple,green,erect",
            2,
            &[
                "no plant is both purple and green, two classes of foliage",
                "--want purple,erect",
            ],
        ),
        (
            "plan cross --want purple,hot,erect,cluster,smooth",
            2,
            &["5 traits are wanted at once, and up to 4 are planned for"],
        ),
        ("plan cross --want ,", 2, &["no look is named"]),
        ("plan cross", 2, &["--want"]),
        (
            "plan cross --want purple --confidence 1",
            2,
            &["it lies below 1"],
        ),
        (
            "plan cross --want purple --germination 0",
            2,
            &["0 is no chance"],
        ),
        (
            "plan cross --want green,deep",
            1,
            &[
                "no plant is green and deep at once",
                "foliage by A; foliage-grade by A",
            ],
        ),
        (
            "plan cross --want mid --fixed",
            1,
            &[
                "no plant that is mid breeds true",
                "try: locule plan cross --want mid",
            ],
        ),
        (
            "plan cross --want purple,not-hot,erect",
            1,
            &[
                "no single cross of the ledger's parents brings purple, not-hot and erect together",
                "purple comes from NL",
                "not-hot comes from CW",
                "erect comes from RB",
                "--want purple,not-hot",
            ],
        ),
    ] {
        let said = flat(&bench.fails(line, status));
        for part in parts {
            assert!(said.contains(part), "{line}: {part}\n{said}");
        }
    }
    let hot = bench_of(&[
        ("NL", [[1, 1], [1, 1], [1, 1], [1, 1]]),
        ("CW", [[0, 0], [1, 1], [1, 1], [1, 1]]),
    ]);
    let said = flat(&hot.fails("plan cross --want purple,not-hot,erect", 1));
    for part in [
        "no parent in the ledger can give not-hot or erect",
        "not-hot: Pun1 makes it impossible, for no parent carries pun1",
        "not-hot: pAMT makes it impossible, for no parent carries pamt",
        "erect: Up makes it impossible, for no parent carries up",
    ] {
        assert!(said.contains(part), "{part}\n{said}");
    }
    let empty = Bench::new();
    empty.ok("init");
    let said = flat(&empty.fails("plan cross --want purple", 1));
    assert!(
        said.contains("there is no living parent in the ledger to cross"),
        "{said}"
    );
}
