//! The rows of `tests/data/expectations.json` that a grower asks for with the flags of `expect`, typed as they would
//! be, in exact fractions.

use std::collections::BTreeMap;

use serde_json::Value;

use crate::genetics_look::{Fraction, Look, Shares, assert_exact, data, fraction, shares};
use crate::genetics_reference::INTERACTIONS;
use crate::support::Bench;

const GENOTYPES: &str = "--rule 'A/A => AA' --rule 'A/a => Aa' --rule 'else => aa'";

const LOOKS: &str = "--rule 'A/_ => dominant' --rule 'else => recessive'";

/// The shares of the classes that can come, as typed out by `--json`.
fn asked(bench: &Bench, line: &str) -> Shares {
    let value = bench.json(line);
    let classes = value["classes"].as_array().unwrap().iter();
    let share = |class: &Value| {
        let exactly = class["fraction"].as_str().expect("it is exact");
        (
            class["class"].as_str().unwrap().to_owned(),
            fraction(exactly),
        )
    };
    classes.map(share).filter(|(_, (n, _))| *n > 0).collect()
}

fn share_of(row: &Value, key: &str) -> Fraction {
    fraction(row[key].as_str().expect("a fraction"))
}

fn is(bench: &Bench, line: &str, wanted: &[(&str, Fraction)]) {
    let wanted = wanted
        .iter()
        .map(|(class, share)| ((*class).to_owned(), *share));
    assert_exact(&asked(bench, line), &wanted.collect(), line);
}

/// Pollen without the allele wins by 1 : w, eggs 1 : 1 (certation; textbook).
#[test]
fn weak_pollen() {
    let bench = Bench::new();
    let section = data("pollen_fitness_F2");
    for (key, w) in [
        ("w=1/2", "1/2"),
        ("w=1/4", "1/4"),
        ("w=0 (no a pollen)", "0"),
    ] {
        let line = format!(
            "expect --mother a/a --father A/A --generation F2 --weak-pollen a={w} {GENOTYPES}"
        );
        assert_exact(&asked(&bench, &line), &shares(&section[key]), key);
        let selfed = format!("expect --mother A/a --father A/a --weak-pollen a={w} {GENOTYPES}");
        assert_exact(&asked(&bench, &selfed), &shares(&section[key]), key);
    }
    // By hand: the F2 of w = 1/2 is 2:3:1, each plant gives as much seed, and pollen competes within its plant.
    let f3 =
        format!("expect --mother a/a --father A/A --generation F3 --weak-pollen a=1/2 {GENOTYPES}");
    is(
        &bench,
        &f3,
        &[("AA", (1, 2)), ("Aa", (1, 4)), ("aa", (1, 4))],
    );
    // A hybrid that is the mother lets its eggs have their share.
    let back = format!("expect --mother A/a --father A/A --weak-pollen a=1/2 {GENOTYPES}");
    is(&bench, &back, &[("AA", (1, 2)), ("Aa", (1, 2))]);
    let none = bench.fails(
        &back.replace(
            "--mother A/a --father A/A --weak-pollen a=1/2",
            "--mother A/A --father a/a --weak-pollen a=0",
        ),
        1,
    );
    assert!(none.contains("never fertilises"), "{none}");
}

/// A gene beside a weak one goes with it: eggs 1 : 1, pollen A 2 : a 1, B on the strand of A but for r = 1/10.
/// By hand: pollen B = (2 (9/10) + 1/10)/3 = 19/30, so b/b = 1/2 x 11/30.
#[test]
fn weak_pollen_drags_its_neighbours() {
    let line = "expect --mother 'A|a B|b' --father 'A|a B|b' --weak-pollen a=1/2 --recombines A,B=0.1 --rule 'b/b => short' --rule 'else => tall'";
    is(
        &Bench::new(),
        line,
        &[("short", (11, 60)), ("tall", (49, 60))],
    );
}

/// A seed coat is its mother plant's; the embryo in it is a generation ahead.
#[test]
fn maternal_looks() {
    let bench = Bench::new();
    let section = data("maternal_effect_seed_coat");
    let of = |generation: &str, more: &str| {
        format!(
            "expect --mother A/A --father a/a --generation {generation} {more} --rule 'A/_ => {{d}}' --rule 'else => {{r}}'"
        )
    };
    let coats = |line: String| {
        line.replace("{d}", "dominant coat")
            .replace("{r}", "recessive coat")
    };
    let on_f1 = coats(of("F2", "--maternal"));
    is(&bench, &on_f1, &[("dominant coat", (1, 1))]);
    assert!(
        section["on_F1_plants"]
            .as_str()
            .unwrap()
            .starts_with("all dominant")
    );
    let on_f2 = coats(of("F3", "--maternal"));
    assert_exact(
        &asked(&bench, &on_f2),
        &shares(&section["on_F2_plants"]),
        "F2 plants",
    );
    let embryo = of("F2", "").replace("{d}", "A_").replace("{r}", "aa");
    assert_exact(
        &asked(&bench, &embryo),
        &shares(&section["embryo_in_F2_seed"]),
        "embryo",
    );
    // The pods of a cross are the mother's, whatever the pollen.
    is(
        &bench,
        &format!("expect --mother a/a --father A/A --maternal {LOOKS}"),
        &[("recessive", (1, 1))],
    );
    is(
        &bench,
        &coats(of("BC1", "--maternal")),
        &[("dominant coat", (1, 1))],
    );
    assert!(bench.ok(&on_f2).contains("F2 plants"));
    bench.fails(&coats(of("DH", "--maternal")), 2);
}

#[test]
fn misread_classes() {
    let bench = Bench::new();
    let rows = data("misclassification_3_1");
    let rows = rows.as_array().unwrap();
    assert_eq!(rows.len(), 9);
    for row in rows {
        let e = |key: &str| row[key].as_str().unwrap();
        let line = format!(
            "expect --mother A/a --father A/a {LOOKS} --misread dominant,recessive={} --misread recessive,dominant={}",
            e("e_dom_to_rec"),
            e("e_rec_to_dom")
        );
        let (n, d) = share_of(row, "P_scored_dominant");
        is(
            &bench,
            &line,
            &[("dominant", (n, d)), ("recessive", (d - n, d))],
        );
    }
    // By hand: two traits, each misread by itself; 9:3:3:1 with 1 in 10 of b/b called B.
    let two = "expect --mother 'A/a B/b' --father 'A/a B/b' --rule 'A/_ B/_ => both' --rule 'A/_ => one' --rule 'B/_ => other' --rule 'else => none' --misread one,both=1/10 --misread none,other=1/10";
    is(
        &bench,
        two,
        &[
            ("both", (93, 160)),
            ("one", (27, 160)),
            ("other", (31, 160)),
            ("none", (9, 160)),
        ],
    );
    for bad in [
        "dominant,recessive=1.1",
        "dominant,dominant=0.1",
        "dominant=0.1",
    ] {
        bench.fails(
            &format!("expect --mother A/a --father A/a {LOOKS} --misread {bad}"),
            2,
        );
    }
    let unknown = bench.fails(
        &format!("expect --mother A/a --father A/a {LOOKS} --misread dominant,purple=0.1"),
        1,
    );
    assert!(unknown.contains("dominant and recessive"), "{unknown}");
}

#[test]
fn outcrossed_lines() {
    let bench = Bench::new();
    let rows = data("outcrossing_of_recessive_line");
    let rows = rows.as_array().unwrap();
    assert_eq!(rows.len(), 3);
    for row in rows {
        let (t, of) = share_of(row, "t");
        for (key, pollen) in [
            ("P_dominant_offspring_pollen_AA", "A/A"),
            ("P_dominant_offspring_pollen_Aa", "A/a"),
        ] {
            let line = format!(
                "expect --mother a/a --father {pollen} --selfed {}/{of} {LOOKS}",
                of - t
            );
            let (n, d) = share_of(row, key);
            is(
                &bench,
                &line,
                &[("dominant", (n, d)), ("recessive", (d - n, d))],
            );
        }
    }
    bench.fails(
        &format!("expect --mother a/a --father A/A --selfed 1.5 {LOOKS}"),
        2,
    );
    bench.fails(
        &format!("expect --mother a/a --father A/A --selfed 0.1 --generation F2 {LOOKS}"),
        2,
    );
}

#[test]
fn bred_from_one_look_only() {
    let bench = Bench::new();
    let section = data("F3_bulk_from_dominant_F2_only");
    let f3 = format!("expect --mother A/A --father a/a --generation F3 --kept A/_ {GENOTYPES}");
    assert_exact(
        &asked(&bench, &f3),
        &shares(&section["genotypes"]),
        "genotypes",
    );
    let looks = bench.json(&f3.replace(GENOTYPES, LOOKS));
    assert_eq!(looks["ratio"], section["ratio"]);
    assert_eq!(looks["classes"][0]["fraction"], section["dominant"]);
    // By hand: of BC1 to a/a only A/a was bred from, so BC2 is 1:1 whatever went before.
    is(
        &bench,
        &format!(
            "expect --mother A/A --father a/a --recurrent father --generation BC5 --kept A/a {LOOKS}"
        ),
        &[("dominant", (1, 2)), ("recessive", (1, 2))],
    );
    let none = bench.fails(
        &format!("expect --mother A/A --father a/a --generation F3 --kept a/a {LOOKS}"),
        1,
    );
    assert!(none.contains("bred from"), "{none}");
    bench.fails(
        &format!("expect --mother A/A --father a/a --generation F1 --kept A/_ {LOOKS}"),
        2,
    );
    bench.fails(
        &format!("expect --mother A/A --father a/a --kept A/_ {LOOKS}"),
        2,
    );
}

/// With the marker kept through n backcrosses a gene beside it stays with it: (1 - r)^n (textbook; linkage drag).
#[test]
fn a_kept_marker_drags_its_neighbour() {
    let line = "expect --mother 'A/A B/B' --father 'a/a b/b' --recurrent father --generation BC4 --kept A/a --recombines A,B=0.1 --rule 'A/a B/b => dragged' --rule 'A/a => clean' --rule 'else => lost'";
    let (dragged, kept) = (9_u128.pow(4), 10_u128.pow(4));
    is(
        &Bench::new(),
        line,
        &[
            ("dragged", (dragged, 2 * kept)),
            ("clean", (kept - dragged, 2 * kept)),
            ("lost", (1, 2)),
        ],
    );
}

#[test]
fn peppers() {
    let bench = Bench::new();
    let rules = "--rule 'Pun1/_ pAMT/_ => capsaicinoid' --rule 'Pun1/_ => capsinoid' --rule 'else => neither'";
    let f1 = "Pun1/pun1 pAMT/pamt";
    let line = format!("expect --mother '{f1}' --father '{f1}' {rules}");
    assert_exact(
        &asked(&bench, &line),
        &shares(&data("pepper_pun1_pamt_F2")),
        "own rules",
    );
    let built_in = bench.json(&format!(
        "expect --mother '{f1}' --father '{f1}' --trait pungency-kind"
    ));
    assert_eq!(built_in["ratio"], "9:3:4");
    let rules = "--rule 'A/A => dark purple' --rule 'A/a => light purple' --rule 'else => green'";
    let line = format!("expect --mother A/A --father a/a --generation F2 {rules}");
    assert_exact(
        &asked(&bench, &line),
        &shares(&data("pepper_A_incomplete_dominance_F2")),
        "A",
    );
}

/// The F2 of every interaction with its two genes linked.
#[test]
fn linked_interactions() {
    let section = data("two_locus_interactions");
    let cases = section.as_array().unwrap();
    let mut seen = 0;
    for (case, (name, rules)) in cases.iter().zip(INTERACTIONS) {
        let mut look = Look::new("/").with(rules);
        for (key, wanted) in case.as_object().unwrap() {
            let Some(linked) = key.strip_prefix("F2_linked_r=") else {
                continue;
            };
            let (r, phase) = linked.split_once('_').unwrap();
            let map = look.map(&[("A", "B", r)]);
            let [one, other] = match phase {
                "coupling" => ["A/A B/B", "a/a b/b"],
                _ => ["A/A b/b", "a/a B/B"],
            };
            assert_exact(
                &look.bred("F2", one, other, &map),
                &shares(wanted),
                &format!("{name}, {key}"),
            );
            seen += 1;
        }
    }
    assert_eq!(seen, 32);
}

/// Every section of the file has a test; one that is new must get one.
#[test]
fn every_section_is_tested() {
    let text = include_str!("../data/expectations.json");
    let all: BTreeMap<String, Value> = serde_json::from_str(text).unwrap();
    let tests = [
        include_str!("expectation_rows.rs"),
        include_str!("genetics_reference.rs"),
        include_str!("genetics_generations.rs"),
        include_str!("genetics_pedigree.rs"),
    ];
    for section in all.keys() {
        let asked = format!("data(\"{section}\")");
        assert!(tests.iter().any(|test| test.contains(&asked)), "{section}");
    }
}
