//! `expect`, of two genotypes without a ledger and of crosses in one.

use crate::support::{Bench, flat};

fn shares(value: &serde_json::Value) -> Vec<(String, f64)> {
    let classes = value["classes"].as_array().expect("a list of classes");
    let share = |class: &serde_json::Value| {
        let name = class["class"].as_str().expect("a name").to_owned();
        (name, class["p"].as_f64().expect("a number"))
    };
    classes.iter().map(share).collect()
}

/// Bateson and Punnett's complementary genes: 9 with both dominants, 7 without, by counting the 16 squares.
#[test]
fn two_genotypes_and_rules_need_no_ledger() {
    let bench = Bench::new();
    let line = "expect --mother 'A/a B/b' --father 'A/a B/b' --rule 'A/_ B/_ => purple' --rule 'else => white'";
    let value = bench.json(line);
    assert_eq!(value["ratio"], "9:7");
    assert_eq!(
        shares(&value),
        [("purple".to_owned(), 0.5625), ("white".to_owned(), 0.4375)]
    );
    assert_eq!(
        (
            value["classes"][0]["parts"].as_u64(),
            value["classes"][1]["parts"].as_u64()
        ),
        (Some(9), Some(7))
    );
    assert!(bench.ok(line).contains("Ratio 9:7"));
    assert!(!bench.ledger().exists());
}

#[test]
fn built_in_traits_join_their_classes() {
    let bench = Bench::new();
    let value =
        bench.json("expect --mother 'A/a' --father 'a/a' --trait foliage --trait unripe-purple");
    let names: Vec<String> = shares(&value).into_iter().map(|(name, _)| name).collect();
    assert!(
        names.iter().all(|name| name.split('/').count() == 2),
        "{names:?}"
    );
    let sum: f64 = shares(&value).iter().map(|(_, p)| p).sum();
    assert!((sum - 1.0).abs() < 1e-12);
}

/// At the median age, 12 days, half of the purple ones have turned (times the ceiling, 0.9999).
#[test]
fn age_delays_late_classes_and_leaves_the_ratio() {
    let value = Bench::new().json("expect --mother A/a --father A/a --age 12");
    assert_eq!(value["ratio"], "3:1");
    assert!((shares(&value)[0].1 - 0.75 * 0.5 * 0.9999).abs() < 1e-12);
    assert_eq!(value["classes"][0]["final_p"], 0.75);
}

#[test]
fn a_cross_is_taken_at_its_word() {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add NL --genotype A/A",
        "parent add CW",
        "cross NL CW",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let value = bench.json("expect x1");
    assert_eq!(
        (value["cross"].as_str(), value["ratio"].as_str()),
        (Some("X1"), Some("1"))
    );
    assert_eq!(value["not_stated"], serde_json::json!(["CW at A"]));
    let out = flat(&bench.ok("expect X1"));
    assert!(out.contains("All purple. Not stated: CW at A"), "{out}");
    let err = bench.fails("expect X2", 1);
    assert!(err.contains("'X2'") && err.contains("X1"), "{err}");
}

#[test]
fn what_cannot_be_read_is_pointed_at() {
    let bench = Bench::new();
    let err = bench.fails("expect --mother 'A/a B' --father 'A/a'", 2);
    assert!(err.contains("A/a B\n      ^\n"), "{err}");
    for (line, word) in [
        ("expect --mother A/a --father A/a --trait foliag", "foliage"),
        ("expect --mother A/a --father A/a --age -3", "-3"),
        (
            "expect --mother A/a --father A/a --rule 'A/_ purple'",
            "arrow",
        ),
        (
            "expect --mother A/a --father A/a --rule 'A/_ => purple'",
            "no class",
        ),
        ("expect --mother Q/q --father q/q", "--rule"),
    ] {
        let run = bench.run(line);
        assert!(
            matches!(run.status, Some(1 | 2)) && run.out.is_empty(),
            "{line}: {run:?}"
        );
        assert!(
            run.err.contains(word) && run.err.contains("\ntry: "),
            "{line}: {}",
            run.err
        );
    }
}

#[test]
fn a_locus_that_no_trait_reads_is_said_to_make_no_difference() {
    let bench = Bench::new();
    let line = "expect --mother 'A/a B/b' --father 'A/a B/b'";
    assert!(
        bench
            .ok(line)
            .contains("\nB/b makes no difference here: foliage does not read it.\n")
    );
    assert_eq!(bench.json(line)["ignored"], serde_json::json!(["B/b"]));
    assert!(
        !bench
            .ok("expect --mother A/a --father a/a")
            .contains("difference")
    );
}

const FOUR: &str =
    "--rule 'A/_ B/_ => both' --rule 'A/_ => first' --rule 'B/_ => second' --rule 'else => none'";

fn fractions(value: &serde_json::Value) -> Vec<String> {
    let classes = value["classes"].as_array().expect("a list of classes");
    let fraction =
        |class: &serde_json::Value| class["fraction"].as_str().expect("exact").to_owned();
    classes.iter().map(fraction).collect()
}

/// theta = 0.81 in coupling: (2 + 0.81)/4 and so on (Fisher, Statistical Methods for Research Workers).
#[test]
fn linked_loci_are_exact() {
    let bench = Bench::new();
    let line = format!("expect --mother 'A|a B|b' --father 'A|a B|b' {FOUR} --recombines A,B=0.1");
    let value = bench.json(&line);
    assert_eq!(fractions(&value), ["281/400", "19/400", "19/400", "81/400"]);
    assert_eq!(value["linked"], serde_json::json!(["A and B at 0.1"]));
    assert!(flat(&bench.ok(&line)).contains("281/400"));
    let open = line.replace('|', "/");
    assert_eq!(bench.json(&open)["ratio"], "9:3:3:1");
    let words = flat(&bench.ok(&open));
    assert!(
        words.contains("The phase of the mother at A and B"),
        "{words}"
    );
    let sexes = format!(
        "expect --mother 'A/A B/B' --father 'a/a b/b' --generation F2 {FOUR} --recombines A,B=0.1:0.3"
    );
    let value = bench.json(&sexes);
    assert_eq!(fractions(&value), ["263/400", "37/400", "37/400", "63/400"]);
}

/// By hand: BC1 to the recessive parent carries A/a at half, so 1/2 x 3/4 at one locus selfed; 9/64 at two.
#[test]
fn generations_of_two_parents() {
    let bench = Bench::new();
    let line = format!(
        "expect --mother 'A/A B/B' --father 'a/a b/b' --generation BC1F2 --recurrent father {FOUR}"
    );
    let value = bench.json(&format!("{line} --plants 64"));
    assert_eq!(value["ratio"], "9:15:15:25");
    assert_eq!(value["generation"], "BC1F2 (back to the father)");
    assert_eq!(value["classes"][0]["expected"], 9.0);
    let some = 1.0 - (55.0_f64 / 64.0).powi(64);
    assert!((value["classes"][0]["at_least_one"].as_f64().unwrap() - some).abs() < 1e-12);
    let f8 = "expect --mother A/A --father a/a --generation F8 --rule 'A/a => het' --rule 'else => fixed'";
    assert_eq!(fractions(&bench.json(f8)), ["1/128", "127/128"]);
    for bad in ["F0", "S1", "BC", "F99"] {
        let err = bench.fails(&f8.replace("F8", bad), 2);
        assert!(err.contains("BC1F2"), "{err}");
    }
    bench.fails(&format!("{f8} --recurrent father"), 2);
}

/// A crossed with A, the dominant homozygote dead: 2 to 1 (Cuénot's yellow mice, textbook).
#[test]
fn lethal_genotypes_are_not_seen() {
    let bench = Bench::new();
    let line = "expect --mother Y/y --father Y/y --lethal Y/Y --rule 'Y/_ => yellow' --rule 'else => grey'";
    assert_eq!(bench.json(line)["ratio"], "2:1");
    let dead = bench.fails(&line.replacen("Y/y", "Y/Y", 1), 1);
    assert!(dead.contains("the mother is Y/Y"), "{dead}");
    let none = bench.fails(
        &line
            .replace("--lethal Y/Y", "--lethal Y/_ --lethal y/y")
            .replace("Y/y", "Y/_"),
        1,
    );
    assert!(none.contains("no seedling"), "{none}");
    bench.fails(&line.replace("--lethal Y/Y", "--lethal 'Y/Y Z/Z'"), 2);
}

#[test]
fn cytoplasm_comes_from_the_mother() {
    let bench = Bench::new();
    let rules =
        "--rule 'cytoplasm:normal => fertile' --rule 'Rf/_ => fertile' --rule 'else => sterile'";
    let line = |mother: &str, father: &str| {
        format!("expect --mother '{mother}' --father '{father}' --generation F2 {rules}")
    };
    let sterile = bench.json(&line("rf/rf cytoplasm:sterile", "Rf/Rf"));
    assert_eq!(sterile["ratio"], "3:1");
    let normal = bench.json(&line("rf/rf", "Rf/Rf cytoplasm:sterile"));
    assert_eq!(normal["ratio"], "1");
    let err = bench.fails(&line("rf/rf cytoplasm:strange", "Rf/Rf"), 2);
    assert!(err.contains("strange"), "{err}");
}

/// No distance between the two is published, so none is made up: 9:3:3:1 beside what complete linkage gives, here in
/// repulsion 2:1:1:0.
#[test]
fn an_unknown_distance_is_shown_both_ways() {
    let bench = Bench::new();
    let line = "expect --mother 'A/A h/h' --father 'a/a H/H' --generation F2 --trait foliage --trait stem-hair";
    let value = bench.json(line);
    assert_eq!(value["ratio"], "9:3:3:1");
    let tight: Vec<f64> = value["classes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|class| class["p_if_tight"].as_f64().unwrap())
        .collect();
    assert_eq!(tight, [0.5, 0.25, 0.25, 0.0]);
    assert_eq!(value["distance_open"], serde_json::json!(["A and H"]));
    let words = flat(&bench.ok(line));
    assert!(
        words.contains("if tightly linked") && words.contains("nobody has stated"),
        "{words}"
    );
    let stated = bench.json(&format!("{line} --recombines A,H=0.5"));
    assert!(stated["classes"][0]["p_if_tight"].is_null());
}

/// Both parents unphased: complete linkage in coupling and in repulsion, each as likely, mixes to 9:3:3:1 again, and the
/// answer says why no column stands beside it.
#[test]
fn an_unknown_phase_hides_an_unknown_distance() {
    let bench = Bench::new();
    let line = "expect --mother 'A/a H/h' --father 'A/a H/h' --trait foliage --trait stem-hair";
    let value = bench.json(line);
    assert_eq!(value["ratio"], "9:3:3:1");
    assert!(value["classes"][0]["p_if_tight"].is_null());
    assert_eq!(value["distance_open"], serde_json::json!(["A and H"]));
    let words = flat(&bench.ok(line));
    assert!(
        words.contains("The phase of the mother at A and H")
            && words.contains("With the phase open too"),
        "{words}"
    );
    let fixed = bench.json(
        &line
            .replacen("A/a H/h", "A/a h/h", 1)
            .replacen("A/a H/h", "A/A H/h", 1),
    );
    assert_eq!(fixed["distance_open"], serde_json::json!([]));
}

#[test]
fn what_linkage_cannot_be_is_refused() {
    let bench = Bench::new();
    let base = "expect --mother 'A/a B/b C/c' --father 'A/a B/b C/c' --rule 'A/_ B/_ C/_ => all' --rule 'else => not'";
    for (more, status, word) in [
        ("--recombines A,B=0.6", 2, "0 (never parted) to 0.5"),
        ("--recombines A,B=-0.1", 2, "0 (never parted) to 0.5"),
        ("--recombines A,B=x", 2, "0.12, 12% or 3/25"),
        ("--recombines A,A=0.1", 2, "two loci"),
        ("--recombines A,Q=0.1", 1, "no locus 'Q'"),
        (
            "--recombines A,B=0.1 --recombines B,C=0.1 --recombines A,C=0.3",
            1,
            "at most 0.2",
        ),
    ] {
        let err = bench.fails(&format!("{base} {more}"), status);
        assert!(
            flat(&err).contains(word) && err.contains("\ntry: "),
            "{more}: {err}"
        );
    }
    let apart = bench.fails("expect --mother 'A/a Pun1/pun1' --father 'A/a Pun1/pun1' --trait foliage --trait pungency --recombines A,Pun1=0.1", 1);
    assert!(
        apart.contains("chromosome 10") && apart.contains("2"),
        "{apart}"
    );
    let phase = bench.fails(
        "expect --mother 'A|a Pun1|pun1' --father 'a/a pun1/pun1' --trait foliage",
        1,
    );
    assert!(flat(&phase).contains("have no phase"), "{phase}");
    let mixed = bench.fails("expect --mother 'A/pun1' --father 'a/a' --trait foliage", 2);
    assert!(
        mixed.contains("alleles of two loci") && mixed.contains("    ^"),
        "{mixed}"
    );
}

/// A cross of the ledger reckons with the recombination on record, and takes the phase of an F1 from its parents.
#[test]
fn the_ledgers_linkage_counts() {
    let bench = Bench::new();
    for line in [
        "init",
        "locus set A --recombines H=0.1",
        "parent add NL --genotype 'A/A H/H'",
        "parent add CW --genotype 'a/a h/h'",
        "parent add HY --genotype 'A|a H|h'",
        "self HY --code S1",
        "cross NL CW --code X1",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let wanted = ["281/400", "19/400", "19/400", "81/400"];
    let looks = "--trait foliage --trait stem-hair";
    assert_eq!(
        fractions(&bench.json(&format!("expect S1 {looks}"))),
        wanted
    );
    let f2 = bench.json(&format!("expect X1 --generation F2 {looks}"));
    assert_eq!(fractions(&f2), wanted);
    let free = bench.json(&format!("expect S1 --recombines A,H=0.5 {looks}"));
    assert_eq!(free["ratio"], "9:3:3:1");
    bench.fails(&format!("expect S1 --generation F2 {looks}"), 1);
    let phase = bench.fails("parent add ZZ --genotype 'A|a Pun1|pun1'", 1);
    assert!(flat(&phase).contains("have no phase"), "{phase}");
}
