//! Linked loci in the diagnosis: examples by hand in fractions, and where linkage must make no difference.

use super::support::{Bench, flat};

/// Two traits of a gene each, seen at once and never misread; statements and records are certain, and the mother's own
/// pollen is all that can go wrong.
fn certain_bench() -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-05-01");
    bench.ok("init");
    for (code, classes, allele) in [("sheen", "satin,matt", "J"), ("felt", "felted,bald", "Q")] {
        let [shown, other] = classes.split(',').collect::<Vec<_>>()[..] else {
            panic!("two classes");
        };
        bench.ok(&format!(
            "trait add {code} --classes {classes} --misread 0 --rule '{allele}/_ => {shown}' --rule 'else => {other}'"
        ));
    }
    for belief in [
        "trust.stated 1",
        "trust.proven 1",
        "whole-batch 0",
        "weight.unknown-pollen 0",
        "weight.unknown-seed 0",
        "weight.stray-seed 0",
        "mixed.emasculated 0",
        "mixed.self-open 0",
        "none.self-open 1",
    ] {
        bench.ok(&format!("assume {belief}"));
    }
    bench
}

/// A testcross of a mother by a double recessive, one seedling of it that is matt and bald.
fn one_matt_and_bald(bench: &Bench, mother: &str) -> f64 {
    bench.ok(&format!("parent add M --plant --genotype '{mother}'"));
    bench.ok("parent add F --plant --genotype 'j/j q/q'");
    bench.ok("cross M F --on 2026-01-10");
    bench.ok("sow X1 --seeds 1 --on 2026-04-01");
    bench.ok("up T1 1 --on 2026-04-10");
    bench.ok("score T1 1=matt/bald --on 2026-04-20");
    p_off(bench, 0)
}

fn p_off(bench: &Bench, seedling: usize) -> f64 {
    let answer = bench.json("suspects");
    answer["batches"][0]["seedlings"][seedling]["p_off"]
        .as_f64()
        .unwrap()
}

fn near(got: f64, wanted: f64) {
    assert!((got - wanted).abs() < 1e-12, "{got}, by hand {wanted}");
}

/// By hand: with a the share of double recessives in the testcross and b that in a self, P(none) = 7/10 and a share of
/// selfs uniform on 0 to 1, P(off-type) = (3/10 b/2) / (7/10 a + 3/10 (a + b)/2) = 3b / (17a + 3b). Coupling at r = 1/10:
/// a = 9/20, b = a^2. Repulsion: a = 1/20, b = a^2. Independent: a = 1/4, b = 1/16.
#[test]
fn a_double_recessive_says_self_by_how_the_mother_lies() {
    for (linkage, mother, wanted) in [
        ("--recombines J=0.1", "J|j Q|q", 27.0 / 367.0),
        ("--recombines J=0.1", "J|j q|Q", 3.0 / 343.0),
        ("--recombines J=0.5", "J|j Q|q", 3.0 / 71.0),
        ("--chromosome 4", "J|j Q|q", 3.0 / 71.0),
    ] {
        let bench = certain_bench();
        bench.ok(&format!("locus set Q {linkage}"));
        near(one_matt_and_bald(&bench, mother), wanted);
    }
}

/// Unphased, both ways of lying are equally likely: 1/2 each of coupling and repulsion in likelihood and in what is off.
#[test]
fn without_a_phase_both_ways_of_lying_are_averaged() {
    let bench = certain_bench();
    bench.ok("locus set Q --recombines J=0.1");
    let (a, b) = ([9.0 / 20.0, 1.0 / 20.0], [81.0 / 400.0, 1.0 / 400.0]);
    let (a, b) = (f64::midpoint(a[0], a[1]), f64::midpoint(b[0], b[1]));
    near(
        one_matt_and_bald(&bench, "J/j Q/q"),
        3.0 * b / (17.0 * a + 3.0 * b),
    );
}

/// Loci that are never parted are one locus: reading both says what reading one says.
#[test]
fn loci_never_parted_say_what_one_of_them_says() {
    let bench = certain_bench();
    bench.ok("locus set Q --recombines J=0");
    let together = one_matt_and_bald(&bench, "J|j Q|q");
    near(together, 3.0 / 37.0);
    bench.ok("trait off felt");
    near(p_off(&bench, 0), together);
}

/// Four seedlings of a testcross, all parental: coupling is (9/10 over 1/10)^4 times as likely as repulsion.
#[test]
fn the_phase_is_learnt_from_the_progeny() {
    let bench = certain_bench();
    bench.ok("assume none.emasculated 1");
    bench.ok("locus set Q --recombines J=0.1");
    bench.ok("parent add M --plant --genotype 'J/j Q/q'");
    bench.ok("parent add F --plant --genotype 'j/j q/q'");
    bench.ok("cross M F --on 2026-01-10");
    bench.ok("sow X1 --seeds 4 --on 2026-04-01");
    bench.ok("up T1 4 --on 2026-04-10");
    bench.ok("score T1 1=satin/felted 2=satin/felted 3=matt/bald 4=matt/bald --on 2026-04-20");
    let group = bench.json("genotype M")["groups"][0].clone();
    assert_eq!(group["loci"], serde_json::json!(["J", "Q"]));
    let coupling = 6561.0 / 6562.0;
    assert_eq!(group["genotypes"][0]["genotype"], "J-Q/j-q");
    near(group["genotypes"][0]["p"].as_f64().unwrap(), coupling);
    assert_eq!(group["genotypes"][1]["genotype"], "J-q/j-Q");
    let out = bench.ok("genotype M");
    assert!(
        out.contains("  J and Q by strand: J-Q/j-q over 99.9 %"),
        "{out}"
    );
    assert!(
        flat(&out).contains("2 satin and 2 matt of 4; 2 felted and 2 bald of 4 by"),
        "the tray moved nothing but the phase, and is told:\n{out}"
    );
    let stated = bench.json("expect X1 --trait sheen --trait felt");
    near(stated["classes"][0]["p"].as_f64().unwrap(), 0.25);
    let believed = bench.json("expect X1 --trait sheen --trait felt --believed");
    let share = believed["classes"][0]["p"].as_f64().unwrap();
    near(share, coupling * 0.45 + (1.0 - coupling) * 0.05);
}

/// The phase is settled by the plant's own parents.
#[test]
fn parents_settle_the_phase() {
    let bench = certain_bench();
    bench.ok("locus set Q --recombines J=0.1");
    bench.ok("parent add M --plant --genotype 'J/J q/q'");
    bench.ok("parent add F --plant --genotype 'j/j Q/Q'");
    bench.ok("parent add H --plant --pedigree M/F");
    let group = &bench.json("genotype H")["groups"][0];
    assert_eq!(
        group["genotypes"],
        serde_json::json!([{"genotype": "J-q/j-Q", "p": 1.0}])
    );
}

/// Loci on one chromosome at a distance that nobody stated are taken as independent, and the answer says so.
#[test]
fn an_unknown_distance_is_said() {
    let bench = certain_bench();
    bench.ok("locus set J --chromosome 4");
    bench.ok("locus set Q --chromosome 4");
    near(one_matt_and_bald(&bench, "J|j Q|q"), 3.0 / 71.0);
    let remark =
        "J and Q stand on one chromosome, how far apart nobody has stated; taken as independent";
    assert!(flat(&bench.ok("suspects")).contains(remark));
    bench.ok("locus set Q --recombines J=0.1");
    assert!(!bench.ok("suspects").contains("stand on one chromosome"));
    near(p_off(&bench, 0), 27.0 / 367.0);
}

/// Four linked loci have 16 haplotypes and 136 genotypes, and two parents 18,496 pairs of them: more than is weighed.
#[test]
fn too_many_linked_loci_are_declined_by_name() {
    let bench = certain_bench();
    for (code, classes, allele) in [("veins", "dark,pale", "W"), ("rim", "wavy,even", "Z")] {
        let [shown, other] = classes.split(',').collect::<Vec<_>>()[..] else {
            panic!("two classes");
        };
        bench.ok(&format!(
            "trait add {code} --classes {classes} --rule '{allele}/_ => {shown}' --rule 'else => {other}'"
        ));
    }
    for (at, locus) in ["J", "Q", "W", "Z"].iter().enumerate() {
        bench.ok(&format!(
            "locus set {locus} --chromosome 4 --at {}",
            10 * at
        ));
    }
    bench.ok("parent add M --plant --genotype 'J/j Q/q W/w Z/z'");
    bench.ok("parent add F --plant --genotype 'j/j q/q w/w z/z'");
    bench.ok("cross M F --on 2026-01-10");
    bench.ok("sow X1 --seeds 4 --on 2026-04-01");
    bench.ok("up T1 4 --on 2026-04-10");
    bench.ok("score T1 1=matt/bald 2=satin/felted --on 2026-04-20");
    assert!(bench.json("suspects")["batches"][0]["seedlings"][0]["p_off"].is_number());
    bench.ok("score T1 1=pale/even 2=dark/wavy --on 2026-04-21");
    let said = "rim of T1-01 and T1-02 is left out: with it the sums would need 18 thousand cells.";
    for line in ["suspects", "genotype M"] {
        let answer = flat(&bench.ok(line));
        assert!(answer.contains(said), "{line}: {answer}");
    }
    bench.ok("sow X1 --seeds 4 --tray T2 --on 2026-04-01");
    bench.ok("trait add all --classes most,least --rule 'J/_ Q/_ W/_ Z/_ => most' --rule 'else => least'");
    bench.ok("up T2 4 --on 2026-04-10");
    bench.ok("score T2 1=most --on 2026-04-21");
    let declined = "needs 18 thousand cells, 10 thousand are allowed; linked loci are weighed as one: J, Q, W and Z";
    let answer = flat(&bench.ok("suspects T2"));
    assert!(answer.contains(declined), "{answer}");
}

/// Three loci in a row, J and W at 1/10, W and Q at 1/5. A tray that reads J and Q alone is weighed by what parts these,
/// r = 1/10 + 1/5 - 2/50 = 13/50: a = 37/100. One that reads W too: a = (9/10)(4/5)/2 = 9/25. Then 3a / (17 + 3a).
#[test]
fn a_locus_between_counts_whether_it_is_read_or_not() {
    let bench = certain_bench();
    bench.ok(
        "trait add veins --classes dark,pale --misread 0 --rule 'W/_ => dark' --rule 'else => pale'",
    );
    bench.ok("locus set W --recombines J=0.1");
    bench.ok("locus set Q --recombines W=0.2");
    bench.ok("parent add M --plant --genotype 'J|j W|w Q|q'");
    bench.ok("parent add F --plant --genotype 'j/j w/w q/q'");
    bench.ok("cross M F --on 2026-01-10");
    bench.ok("sow X1 --seeds 1 --on 2026-04-01");
    bench.ok("up T1 1 --on 2026-04-10");
    bench.ok("score T1 1=matt/bald --on 2026-04-20");
    near(p_off(&bench, 0), 111.0 / 1811.0);
    let strands = |plant: &str| bench.json(&format!("genotype {plant}"))["groups"][0].clone();
    assert_eq!(strands("M")["genotypes"][0]["genotype"], "J-W-Q/j-w-q");
    bench.ok("score T1 1=pale --on 2026-04-21");
    near(p_off(&bench, 0), 27.0 / 452.0);
    // What the seedling is at W was read; as labelled it is all recessive, and a self gives nothing else that looks so.
    near(strands("T1-01")["genotypes"][0]["p"].as_f64().unwrap(), 1.0);
}
