//! `lost-label`: against fractions worked out by hand, against the independent enumeration, and its words.

use serde_json::Value;

use crate::oracle::commands::seedling_code;
use crate::oracle::sanity::{GREEN, PURPLE, SOWN, firm, parent, pollination, sowing};
use crate::oracle::season::{Event, Season, Seedling, Slot, What, iso};
use crate::oracle::world::World;
use crate::support::{Bench, flat};

/// Nothing goes wrong and genotypes are certain: what is left are Mendel's shares, one slip in fifty, and numbers.
const CERTAIN: [&str; 6] = [
    "assume none.emasculated 1",
    "assume none.self-open 1",
    "assume whole-batch 0",
    "assume trust.stated 1",
    "assume trust.proven 1",
    "trait add felt --classes felted,bald --rule 'Q/_ => felted' --rule 'else => bald' --misread 0.02",
];

/// Three trays: X1 all felted, X2 all bald, X3 three in four felted; 4, 6 and 8 are up. T1 stands in the tent and came up
/// on the 10th, the others on the sill on the 20th.
fn trays(beliefs: &[&str]) -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-03-01");
    bench.ok("init");
    for line in CERTAIN.iter().chain(beliefs) {
        bench.ok(line);
    }
    for line in [
        "parent add QA --genotype Q/Q",
        "parent add QB --genotype q/q",
        "parent add QC --plant --genotype Q/q",
        "cross QA QB --on 2026-01-02",
        "self QB --on 2026-01-02",
        "self QC --on 2026-01-02",
        "sow X1 --seeds 4 --place tent --on 2026-02-01",
        "sow X2 --seeds 6 --place sill --on 2026-02-01",
        "sow X3 --seeds 9 --place sill --on 2026-02-01",
        "up T1 4 --on 2026-02-10",
        "up T2 6 --on 2026-02-20",
        "up T3 8 --on 2026-02-20",
    ] {
        bench.ok(line);
    }
    bench
}

const ONLY_TRAYS: [&str; 2] = ["assume lost.stranger 0", "assume lost.unrecorded 0"];

fn p_of(answer: &Value, code: &str) -> f64 {
    let list = answer["candidates"].as_array().unwrap();
    let one = list.iter().find(|one| one["code"] == code);
    one.unwrap_or_else(|| panic!("no {code}: {answer}"))["p"]
        .as_f64()
        .unwrap()
}

fn check(answer: &Value, weights: &[(&str, f64)], elsewhere: f64) {
    let total: f64 = weights.iter().map(|(_, weight)| weight).sum::<f64>() + elsewhere;
    for (code, weight) in weights {
        let (found, wanted) = (p_of(answer, code), weight / total);
        assert!(
            (found - wanted).abs() < 1e-12,
            "{code}: {found}, by hand {wanted}"
        );
    }
    let found = answer["elsewhere"].as_f64().unwrap();
    assert!((found - elsewhere / total).abs() < 1e-12, "{found}");
}

/// P(felted is read): of felted seed 49/50, of bald 1/50, of three in four 3/4 x 49/50 + 1/4 x 1/50 = 148/200.
const FELTED: [f64; 3] = [49.0 / 50.0, 1.0 / 50.0, 148.0 / 200.0];

#[test]
fn numbers_and_shares_come_out_as_fractions() {
    let bench = trays(&ONLY_TRAYS);
    // 4 x 196/200 : 6 x 4/200 : 8 x 148/200 = 784 : 24 : 1184 of 1992.
    let answer = bench.json("lost-label --looks felted");
    check(&answer, &[("X1", 784.0), ("X2", 24.0), ("X3", 1184.0)], 0.0);
    let before = answer["candidates"][0]["before"].as_f64().unwrap();
    assert!((before - 8.0 / 18.0).abs() < 1e-12, "{answer}");
    // Bald: 4 x 4 : 6 x 196 : 8 x 52.
    let answer = bench.json("lost-label --looks bald");
    check(&answer, &[("X1", 16.0), ("X2", 1176.0), ("X3", 416.0)], 0.0);
    // A doubtful look is wrong one time in ten: felted of bald seed 1/10, of three in four 7/10.
    let answer = bench.json("lost-label --looks maybe-felted");
    check(
        &answer,
        &[("X1", 4.0 * 0.9), ("X2", 6.0 * 0.1), ("X3", 8.0 * 0.7)],
        0.0,
    );
}

#[test]
fn place_and_age_weigh_too() {
    let bench = trays(&ONLY_TRAYS);
    // Two places: left where it stood with 4/5, moved to the other with 1/5.
    let answer = bench.json("lost-label --looks felted --place SILL");
    check(
        &answer,
        &[
            ("X1", 4.0 * FELTED[0] / 5.0),
            ("X2", 6.0 * FELTED[1] * 0.8),
            ("X3", 8.0 * FELTED[2] * 0.8),
        ],
        0.0,
    );
    // A third place, where no tray stands: as likely from either of the two others.
    let answer = bench.json("lost-label --looks felted --place shed");
    check(&answer, &[("X1", 784.0), ("X2", 24.0), ("X3", 1184.0)], 0.0);
    // T1 is 19 days old, the others 9; the age is stated to three days.
    let answer = bench.json("lost-label --looks felted --age 18");
    let density = |z: f64| (-z * z / 2.0).exp();
    check(
        &answer,
        &[
            ("X1", 4.0 * FELTED[0] * density(1.0 / 3.0)),
            ("X2", 6.0 * FELTED[1] * density(9.0 / 3.0)),
            ("X3", 8.0 * FELTED[2] * density(9.0 / 3.0)),
        ],
        0.0,
    );
    let age = answer["candidates"][0]["trays"][0]["age"].as_f64().unwrap();
    assert!((age - 19.0).abs() < 1e-12, "{answer}");
}

#[test]
fn seed_in_the_box_and_a_stranger_count_at_their_share() {
    let bench = trays(&[]);
    bench.ok("cross QA QC --code X4 --on 2025-12-02");
    bench.ok("harvest X4 --seeds 50 --on 2026-01-20");
    // A seed in the box stands for 1/100 of a seedling; of X1 to X3 nobody counted any: ten each. A stranger is a tenth
    // of one, felted with the mean share of Q over QA, QB, QC and an even one, 1/2, so 3/4 of strangers are.
    let answer = bench.json("lost-label --looks felted");
    check(
        &answer,
        &[
            ("X1", 4.1 * FELTED[0]),
            ("X2", 6.1 * FELTED[1]),
            ("X3", 8.1 * FELTED[2]),
            ("X4", 0.5 * FELTED[0]),
        ],
        0.1 * FELTED[2],
    );
    let x4 = answer["candidates"]
        .as_array()
        .unwrap()
        .iter()
        .find(|one| one["code"] == "X4");
    let x4 = x4.unwrap();
    assert_eq!(
        (&x4["seeds"]["seeds"], &x4["trays"]),
        (&50.into(), &Value::Array(Vec::new()))
    );
}

#[test]
fn a_seedling_that_was_read_before_is_less_likely_to_look_otherwise() {
    let bench = trays(&ONLY_TRAYS);
    bench.ok("score T3-01 bald --on 2026-02-28");
    // P(felted and bald)/P(bald): (3/4 x 49/50 x 1/50 + 1/4 x 1/50 x 49/50) / (52/200) = 49/650.
    let answer = bench.json("lost-label --looks felted");
    check(
        &answer,
        &[
            ("X1", 4.0 * FELTED[0]),
            ("X2", 6.0 * FELTED[1]),
            ("X3", 7.0 * FELTED[2] + 49.0 / 650.0),
        ],
        0.0,
    );
    // Seen with its label on the day itself, it is not the pot.
    bench.ok("score T3-01 bald");
    let answer = bench.json("lost-label --looks felted");
    check(
        &answer,
        &[
            ("X1", 4.0 * FELTED[0]),
            ("X2", 6.0 * FELTED[1]),
            ("X3", 7.0 * FELTED[2]),
        ],
        0.0,
    );
    // One that was culled is none either.
    bench.ok("cull T1-01");
    let answer = bench.json("lost-label --looks felted");
    check(
        &answer,
        &[
            ("X1", 3.0 * FELTED[0]),
            ("X2", 6.0 * FELTED[1]),
            ("X3", 7.0 * FELTED[2]),
        ],
        0.0,
    );
}

#[test]
fn a_seedling_whose_label_is_not_trusted_goes_by_what_was_read_of_it() {
    let bench = trays(&ONLY_TRAYS);
    bench.ok("score T2-04 felted --on 2026-02-27");
    let answer = bench.json("lost-label T2-04");
    assert_eq!(answer["seedling"], "T2-04");
    assert_eq!(answer["place"], "sill");
    // By the day asked about it is 9 days old, give or take three, as T3 is; T1 is 19. Its own reading says nothing for or
    // against its own tray twice, and T2 still has six.
    assert_eq!(answer["age"]["days"], 9.0);
    let density = |z: f64| (-z * z / 2.0).exp();
    check(
        &answer,
        &[
            ("X1", 4.0 * FELTED[0] / 5.0 * density(10.0 / 3.0)),
            ("X2", 6.0 * FELTED[1] * 0.8),
            ("X3", 8.0 * FELTED[2] * 0.8),
        ],
        0.0,
    );
}

/// The bits that a second trait tells about which of two it is, by another form than the program's: H(class) less the mean
/// of H(class) within each (Cover & Thomas, Elements of Information Theory, equation 2.40, from memory).
#[test]
fn the_look_that_tells_the_best_two_apart_is_named() {
    let bench = trays(&ONLY_TRAYS);
    for line in [
        "trait add sheen --classes shiny,matt --rule 'S/_ => shiny' --rule 'else => matt' --misread 0.01",
        "amend 10 parent add QA --genotype 'Q/Q S/S'",
        "amend 11 parent add QB --genotype 'q/q s/s'",
        "amend 12 parent add QC --plant --genotype 'Q/q s/s'",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    let answer = bench.json("lost-label --looks felted");
    check(&answer, &[("X1", 784.0), ("X2", 24.0), ("X3", 1184.0)], 0.0);
    // X3 is matt, X1 shiny.
    let (x3, x1) = (1184.0 / 1968.0, 784.0 / 1968.0);
    let h = |p: f64| -p * p.log2() - (1.0 - p) * (1.0 - p).log2();
    let shiny = x3 * 0.01 + x1 * 0.99;
    let wanted = h(shiny) - h(0.01);
    assert_eq!(answer["next"]["trait"], "sheen", "{answer}");
    assert!(
        (answer["next"]["bits"].as_f64().unwrap() - wanted).abs() < 1e-12,
        "{answer}"
    );
    let first = answer["next"]["classes"][0]["p_first"].as_f64().unwrap();
    assert!((first - x3 * 0.01 / shiny).abs() < 1e-12, "{answer}");
    let said = flat(&bench.ok("lost-label --looks felted"));
    assert!(
        said.contains("To tell X3 from X1, score sheen on 1 March: shiny speaks for X1 (98.5 %), matt speaks for X3 (99.3 %)."),
        "{said}"
    );
}

/// Leaf colour that comes late, everything that can go wrong, beliefs about parents: of one more seedling of a tray
/// P(look) is P(the tray and that look)/P(the tray), both summed subset by subset by the independent diagnosis.
#[test]
fn it_agrees_with_the_independent_sums() {
    let het: [Slot; 2] = [Some(0), Some(1)];
    for (asked_on, class) in [(24, 0), (24, 1), (40, 0), (40, 1)] {
        let mut season = Season::new(SOWN + asked_on);
        season.parents = vec![
            parent("NL", Some(GREEN)),
            parent("CW", Some(PURPLE)),
            parent("ED", Some(het)),
        ];
        season.pollinations = vec![
            pollination("X1", 0, 1),
            pollination("X2", 0, 2),
            pollination("X3", 0, 0),
        ];
        season.batches = vec![
            sowing("T1", "X1", 5),
            sowing("T2", "X2", 4),
            sowing("T3", "X3", 4),
        ];
        let up = |batch: usize, day: i64, count: usize| Event {
            batch,
            day: SOWN + day,
            what: What::UpCount(count),
        };
        season.events = vec![
            up(0, 9, 2),
            up(0, 13, 4),
            up(1, 11, 4),
            up(2, 12, 3),
            firm(0, 1, 20, 0),
            firm(0, 2, 20, 1),
            firm(1, 1, 22, 1),
            firm(1, 2, 22, 0),
            firm(2, 1, 22, 1),
        ];
        let ups = [4, 4, 3];
        let pot = |batch: usize, cell: usize| {
            let mut with = season.clone();
            with.events.push(firm(batch, cell, asked_on, class));
            World::new(&with).diagnose(batch).evidence
        };
        let by_tray: Vec<(Vec<(usize, f64)>, f64)> = (0..3)
            .map(|batch| {
                let plain = World::new(&season).diagnose(batch).evidence;
                let read: Vec<usize> = season
                    .events
                    .iter()
                    .filter_map(|event| match (&event.what, event.batch == batch) {
                        (What::Score(seedling, ..), true) => Some(seedling.cell),
                        _ => None,
                    })
                    .collect();
                let unread = (ups[batch] - read.len()) as f64 * pot(batch, 4) / plain;
                let of_read = read.iter().map(|cell| (*cell, pot(batch, *cell) / plain));
                (of_read.collect(), unread)
            })
            .collect();
        let whole = |(read, unread): &(Vec<(usize, f64)>, f64)| {
            read.iter().map(|(_, weight)| weight).sum::<f64>() + unread
        };
        let weights: Vec<f64> = by_tray.iter().map(whole).collect();
        let mut bench = Bench::new();
        bench.on(&iso(season.today));
        for line in season.commands() {
            let run = bench.run_words(&line);
            assert_eq!(run.status, Some(0), "{line:?}: {}", run.err);
        }
        ONLY_TRAYS.iter().for_each(|line| {
            bench.ok(line);
        });
        let word = ["purple", "green"][class];
        let answer = bench.json(&format!("lost-label --looks {word}"));
        let total: f64 = weights.iter().sum();
        for (code, weight) in ["X1", "X2", "X3"].iter().zip(&weights) {
            let (found, wanted) = (p_of(&answer, code), weight / total);
            assert!(
                (found - wanted).abs() < 1e-9,
                "{word} on day {asked_on}, {code}: {found}, oracle {wanted}"
            );
        }
        // The one of a tray that was told apart and has at least half of the tray's part is named, and no other.
        for (place, tray) in by_tray.iter().enumerate() {
            let best = tray.0.iter().copied();
            let best = best.max_by(|one, other| one.1.total_cmp(&other.1)).unwrap();
            let half = best.1 / whole(tray);
            assert!((half - 0.5).abs() > 1e-6, "a tie tells nothing");
            let code = seedling_code(
                &format!("T{}", place + 1),
                Seedling {
                    cell: best.0,
                    part: None,
                },
            );
            let wanted = if half >= 0.5 {
                Value::from(code)
            } else {
                Value::Null
            };
            let list = answer["candidates"].as_array().unwrap();
            let own = list
                .iter()
                .find(|one| one["code"] == format!("X{}", place + 1));
            assert_eq!(
                own.unwrap()["trays"][0]["likeliest"],
                wanted,
                "{word} on day {asked_on}"
            );
        }
    }
}

fn sum_of(answer: &Value) -> f64 {
    let list = answer["candidates"].as_array().unwrap();
    let candidates: f64 = list.iter().map(|one| one["p"].as_f64().unwrap()).sum();
    candidates + answer["elsewhere"].as_f64().unwrap()
}

#[test]
fn of_an_age_that_no_tray_has_it_comes_from_elsewhere() {
    let bench = trays(&["assume lost.unrecorded 0"]);
    for (age, near) in [
        (9, true),
        (18, true),
        (27, true),
        (55, false),
        (400, false),
        (3650, false),
    ] {
        let answer = bench.json(&format!("lost-label --looks felted --age {age}"));
        assert!((sum_of(&answer) - 1.0).abs() < 1e-12, "{age}: {answer}");
        assert_eq!(answer["no_tray_of_that_age"], !near, "{age}: {answer}");
        if !near {
            assert!(
                answer["elsewhere"].as_f64().unwrap() > 0.999,
                "{age}: {answer}"
            );
            let said = flat(&bench.ok(&format!("lost-label --looks felted --age {age}")));
            assert!(
                said.starts_with(
                    "The pot most likely is of none of your crosses: from elsewhere over 99.9 %."
                ) && said.contains("No tray is of that age.")
                    && said.contains("X1, QA x QB: under 0.1 %"),
                "{said}"
            );
        }
    }
    // T1 is 19 days old, the others 9; a stranger came up on any of 366 days alike.
    let answer = bench.json("lost-label --looks felted --age 18");
    let density = |z: f64| (-z * z / 2.0).exp();
    let stranger: f64 = (0..=365)
        .map(|age| density((f64::from(age) - 18.0) / 3.0) / 366.0)
        .sum();
    check(
        &answer,
        &[
            ("X1", 4.0 * FELTED[0] * density(1.0 / 3.0)),
            ("X2", 6.0 * FELTED[1] * density(3.0)),
            ("X3", 8.0 * FELTED[2] * density(3.0)),
        ],
        0.1 * FELTED[2] * stranger,
    );
    // With seed in the box too.
    let bench = trays(&[]);
    for age in [0, 9, 55, 400] {
        let answer = bench.json(&format!("lost-label --looks bald --age {age}"));
        assert!((sum_of(&answer) - 1.0).abs() < 1e-12, "{age}: {answer}");
    }
    // Where strangers are ruled out and no seed was sown, the nearest tray is left, and no tray is of that age.
    let bench = trays(&ONLY_TRAYS);
    let answer = bench.json("lost-label --looks felted --age 400");
    assert!((sum_of(&answer) - 1.0).abs() < 1e-12, "{answer}");
    assert_eq!(answer["no_tray_of_that_age"], true);
}

/// Ages 1 to 8 with 1 to 4 leaves make a clock that is surer than anybody who states an age.
#[test]
fn leaves_tell_an_age_only_as_far_as_they_were_seen() {
    let bench = trays(&ONLY_TRAYS);
    for cell in 1..=8 {
        let line = format!(
            "score T3-0{cell} felted --leaves {} --on 2026-02-{}",
            (cell + 1) / 2,
            20 + cell
        );
        bench.ok(&line);
    }
    let answer = bench.json("lost-label --looks felted --leaves 3");
    assert_eq!(answer["age"]["deviation"], 3.0, "{answer}");
    for leaves in [0, 5, 60] {
        let line = format!("lost-label --looks felted --leaves {leaves}");
        let err = flat(&bench.fails(&line, 1));
        assert!(
            err.contains(&format!("{leaves} leaves are beyond what the ledger knows"))
                && err.contains("seedlings with 1 to 4 leaves")
                && err.contains("try: locule lost-label --looks felted --age 30"),
            "{err}"
        );
    }
}

#[test]
fn that_its_own_label_is_set_aside_is_said() {
    let bench = trays(&ONLY_TRAYS);
    bench.ok("score T2-04 felted --on 2026-02-27");
    let said = flat(&bench.ok("lost-label T2-04"));
    assert!(
        said.contains("Its own label, X2, is set aside here on purpose; 'locule why T2-04' weighs it as X2. X3"),
        "{said}"
    );
    bench.ok("died T2-04 --on 2026-02-28");
    let answer = bench.json("lost-label T2-04");
    assert_eq!(answer["label_set_aside"], "X2");
    assert_eq!(answer["gone"]["on"], "2026-02-28");
    assert!(
        flat(&bench.ok("lost-label T2-04")).contains("weighs it as X2. It died on 28 February.")
    );
    let answer = bench.json("lost-label --looks felted");
    assert_eq!(
        (&answer["place"], &answer["gone"]),
        (&Value::Null, &Value::Null)
    );
}

#[test]
fn it_says_why_in_words() {
    let bench = trays(&ONLY_TRAYS);
    let said = bench.ok("lost-label --looks felted --place sill");
    assert_eq!(
        said,
        "The pot most likely is X3, QC selfed: 84 %.\n\
         Going by: felted; in sill.\n\
         \n\
         X3, QC selfed: 84 %\n\
         \x20 Most of its seedlings would be read felted by then (74 %).\n\
         \x20 T3 (sill), 9 days old: 8 seedlings without account; 84 %.\n\
         \n\
         X1, QA x QB: 14 %\n\
         \x20 Nearly all of its seedlings would be read felted by then (98.0 %).\n\
         \x20 T1 (tent), 19 days old: 4 seedlings without account; 14 %.\n\
         \n\
         1 other: 1.7 %. From elsewhere: 0 %.\n\
         No look that the ledger knows of would tell X3 from X1: write both on its label,\n\
         \x20 or let it go.\n\
         Counted are all seedlings of the year that stand without account; seed in the\n\
         \x20 box and seedlings from elsewhere at a small share ('locule assume' says\n\
         \x20 which).\n"
    );
}

#[test]
fn what_cannot_be_asked_is_refused_with_what_to_do() {
    let mut bench = trays(&[]);
    for (line, status, said) in [
        ("lost-label", 2, "required"),
        ("lost-label --looks plaid", 1, "plaid"),
        (
            "lost-label --looks early",
            1,
            "nothing was seen of it that tells anything",
        ),
        (
            "lost-label T1-01",
            1,
            "nothing was recorded of T1-01 by itself",
        ),
        (
            "lost-label T1",
            1,
            "T1 is a whole tray, and one seedling is meant",
        ),
        ("lost-label QA", 1, "QA is no seedling of a tray"),
        ("lost-label X1", 1, "X1 is a cross, and a seedling is meant"),
        (
            "lost-label --looks felted --leaves 6",
            1,
            "too little of your leaves by age",
        ),
        (
            "lost-label --looks felted --leaves 6 --age 20",
            2,
            "cannot be used with",
        ),
        ("lost-label T1-01 --looks felted", 2, "cannot be used with"),
    ] {
        let err = flat(&bench.fails(line, status));
        assert!(err.contains(said) && err.contains("try: "), "{line}: {err}");
    }
    bench.on("2028-03-01");
    bench.ok("assume lost.unrecorded 0");
    let err = flat(&bench.fails("lost-label --looks felted", 1));
    assert!(
        err.contains("nothing that was sown within a year stands without account"),
        "{err}"
    );
}
