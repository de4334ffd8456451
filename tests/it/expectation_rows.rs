//! The rows of `tests/data/expectations.json` that a grower asks for with the flags of `expect`, typed as they would
//! be, in exact fractions.

use serde_json::Value;

use crate::genetics_look::{
    Fraction, Look, Shares, assert_exact, data, fraction, read_so_far, rows, sections, shares,
};
use crate::genetics_reference::INTERACTIONS;
use crate::support::Bench;
use crate::{genetics_generations, genetics_pedigree, genetics_reference};

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

/// Which alleles came together is not known: the mean of both ways, each with its pollen competing within its plant.
/// By hand and by enumeration of the haplotypes (Python 3.11, `fractions`).
#[test]
fn weak_pollen_where_the_phase_is_open() {
    let bench = Bench::new();
    let of = |parents: &str, weak: &str, rule: &str| {
        format!(
            "expect {parents} {weak} --recombines A,B=0.1 --rule '{rule} => one' --rule 'else => rest'"
        )
    };
    let father = |phase: &str| format!("--mother 'a/a b/b' --father '{phase}'");
    let halves = "--weak-pollen a=1/2 --weak-pollen b=1/2";
    for (phase, (n, d)) in [
        ("A|a B|b", (36, 49)),
        ("A|a b|B", (4, 41)),
        // (36/49 + 4/41)/2
        ("A/a B/b", (836, 2009)),
    ] {
        let line = of(&father(phase), halves, "A/a B/b");
        is(&bench, &line, &[("one", (n, d)), ("rest", (d - n, d))]);
    }
    let both = "--mother 'A/a B/b' --father 'A/a B/b'";
    let line = of(both, "--weak-pollen a=1/2 --weak-pollen b=1/3", "A/A b/b");
    is(
        &bench,
        &line,
        &[("one", (83, 1768)), ("rest", (1685, 1768))],
    );
    bench.fails(
        &of(both, "--weak-pollen a=1/2 --weak-pollen a=1/5", "A/A"),
        2,
    );
}

/// Each plant that a parent may be is one real plant, however much of its seed lives. By hand: A/_ is A/A once in
/// three times and gives 1/2, else A/a, of which 1/3 of what lives is A/A: (1/3)(1/2) + (2/3)(1/3) = 7/18. Both phases
/// by enumeration (Python 3.11, `fractions`): 81/281, 9/209 twice and 1/201 are A/A B/B.
#[test]
fn parents_count_alike_whatever_lives_of_their_seed() {
    let bench = Bench::new();
    let line = format!("expect --mother A/_ --father A/a --lethal a/a {GENOTYPES}");
    let classes = bench.json(&line);
    let p = classes["classes"][0]["p"].as_f64().unwrap();
    assert!((p - 7.0 / 18.0).abs() < 1e-12, "{p}");
    let open = "expect --mother 'A/a B/b' --father 'A/a B/b' --lethal a/a --lethal b/b --recombines A,B=0.1 --rule 'A/A B/B => pure' --rule 'else => rest'";
    let (n, d) = (1_119_529, 11_804_529);
    is(&bench, open, &[("pure", (n, d)), ("rest", (d - n, d))]);
}

/// What is mixed is seed as it was set; what dies is taken out of all of it. By hand: of A/a x A/A half selfed there are
/// A/A 1/8 + 1/4 and A/a 1/4 + 1/4 of 1, and 1/8 dies.
#[test]
fn dead_seedlings_are_taken_out_of_all_lots_together() {
    let bench = Bench::new();
    let half = format!("expect --mother A/a --father A/A --selfed 0.5 --lethal a/a {GENOTYPES}");
    is(&bench, &half, &[("AA", (3, 7)), ("Aa", (4, 7))]);
    // With A/a as the father too, and its pollen weak: AA 1/3, Aa 1/2 and aa 1/6 of either lot.
    let weak = half.replace("--father A/A", "--father A/a --weak-pollen a=1/2");
    is(&bench, &weak, &[("AA", (2, 5)), ("Aa", (3, 5))]);
    // Another gene, unlinked: of the selfs b/b 1/4 x 3/4, of the rest 1/2 x 1, over 1/3 x 3/4 + 2/3.
    let other = "expect --mother 'A/a B/b' --father 'A/A b/b' --selfed 1/3 --lethal a/a --rule 'b/b => low' --rule 'else => high'";
    is(&bench, other, &[("low", (19, 44)), ("high", (25, 44))]);
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
    for row in rows("misclassification_3_1") {
        let e = |key: &str| row[key].as_str().unwrap();
        let line = format!(
            "expect --mother A/a --father A/a {LOOKS} --misread dominant,recessive={} --misread recessive,dominant={}",
            e("e_dom_to_rec"),
            e("e_rec_to_dom")
        );
        let (n, d) = share_of(&row, "P_scored_dominant");
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
    for row in rows("outcrossing_of_recessive_line") {
        let (t, of) = share_of(&row, "t");
        for (key, pollen) in [
            ("P_dominant_offspring_pollen_AA", "A/A"),
            ("P_dominant_offspring_pollen_Aa", "A/a"),
        ] {
            let line = format!(
                "expect --mother a/a --father {pollen} --selfed {}/{of} {LOOKS}",
                of - t
            );
            let (n, d) = share_of(&row, key);
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
    let mut seen = 0;
    for (case, (name, rules)) in rows("two_locus_interactions").zip(INTERACTIONS) {
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

/// Every section of the file has a test, and every row of a list is gone through: the tests are run here once more,
/// and what they asked for is held against the file.
#[test]
fn every_section_is_tested() {
    let tests: [fn(); 20] = [
        genetics_reference::two_locus_interactions,
        genetics_reference::trihybrid_and_tetrahybrid,
        genetics_reference::three_linked_loci,
        genetics_reference::unequal_recombination_in_the_sexes,
        genetics_reference::recessive_lethals,
        genetics_reference::families_of_dominant_plants,
        genetics_reference::three_way_and_double_crosses,
        genetics_reference::an_allelic_series,
        genetics_reference::sterile_cytoplasm_and_restorers,
        genetics_generations::backcrosses,
        genetics_generations::generations_of_selfing,
        genetics_generations::many_loci_at_once,
        genetics_pedigree::inbreeding_of_known_pedigrees,
        genetics_pedigree::inbreeding_over_generations,
        weak_pollen,
        maternal_looks,
        misread_classes,
        outcrossed_lines,
        bred_from_one_look_only,
        peppers,
    ];
    for test in tests {
        test();
    }
    let read = read_so_far();
    for (section, value) in sections() {
        let rows = value.as_array().map_or(0, Vec::len);
        assert_eq!(read.get(&section), Some(&rows), "{section}");
    }
}
