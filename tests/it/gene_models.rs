//! `ratio --models` on trays and crosses, `trait show --look` and `trait add --dominant`.

use crate::support::{Bench, flat};
use serde_json::Value;

fn near(value: &Value, wanted: f64) {
    let found = value.as_f64().unwrap_or(f64::NAN);
    assert!((found - wanted).abs() <= 1e-9, "{found} is not {wanted}");
}

/// Two trays of an F2 and one of its backcross, tallied for heat.
fn peppers() -> Bench {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add SL --line --genotype 'pun1/pun1 pamt/pamt'",
        "parent add F1 --plant --genotype 'Pun1/pun1 pAMT/pamt'",
        "self F1 --code X1 --on 2025-06-01",
        "cross SL F1 --code X2 --on 2025-06-01",
        "sow X1 --seeds 60 --on 2025-08-01",
        "sow X1 --seeds 60 --on 2025-08-01",
        "sow X2 --seeds 40 --on 2025-08-01",
        "up T1 60 --on 2025-08-20",
        "up T2 60 --on 2025-08-20",
        "up T3 40 --on 2025-08-20",
        "score T1 pungency:hot=28 pungency:not-hot=20 --on 2025-12-01",
        "score T2 pungency:hot=31 pungency:not-hot=25 --on 2025-12-01",
        "score T3 pungency:hot=9 pungency:not-hot=26 --on 2025-12-01",
    ] {
        bench.ok(line);
    }
    bench
}

fn model<'v>(value: &'v Value, name: &str) -> &'v Value {
    let models = value["models"].as_array().expect("a list");
    let found = models.iter().find(|model| model["model"] == name);
    found.unwrap_or_else(|| panic!("no {name} in {value}"))
}

/// The weights by Bayes' rule in plain Python: hot with 9/16 and 1/4 under both genes (genotypes as stated), 3/4 and
/// 1/2 under Pun1 alone; under Pun3 and CaKR1 alone the nine pairs of genotypes of SL (a line, 0.4875, 0.025, 0.4875)
/// and F1 (a plant, 1/4, 1/2, 1/4) each with its share of hot, added up by their starting beliefs, one and the same
/// F1 in all trays; a plant is misread with 0.005.
#[test]
fn rival_models_are_weighed_on_all_counts_of_the_ledger() {
    let bench = peppers();
    let value = bench.json("ratio --models --trait pungency");
    assert_eq!(value["n"], 139);
    near(
        &model(&value, "two-locus")["posterior"],
        0.999_992_980_132_297_5,
    );
    near(
        &model(&value, "pun1")["posterior"],
        4.719_238_734_460_441e-6,
    );
    near(
        &model(&value, "pun3")["posterior"],
        1.150_314_483_999_264_4e-6,
    );
    near(
        &model(&value, "kr1")["posterior"],
        1.150_314_483_999_264_4e-6,
    );
    assert_eq!(value["models"][0]["model"], "two-locus");
    assert_eq!(value["models"][0]["in_use"], true);
    let parents = |name: &str| -> Vec<String> {
        let lines = model(&value, name)["parents"].as_array().expect("a list");
        let word = |line: &Value| format!("{} {}", line["plant"], line["genotype"]);
        lines.iter().map(word).collect()
    };
    assert_eq!(
        parents("pun3"),
        ["\"SL\" \"pun3/pun3\"", "\"F1\" \"Pun3/pun3\""]
    );
    assert_eq!(model(&value, "pun1")["parents"][0]["settled"], true);
    assert_eq!(model(&value, "pun3")["parents"][0]["settled"], false);
}

/// As above for the F2 alone and for its first tray. p of 59 and 45 against 9:7: chi-square 0.25/58.5 + 0.25/45.5
/// by hand, its p by `math.erfc(sqrt(chi2/2))` in Python.
#[test]
fn each_tray_has_its_say_and_all_together() {
    let bench = peppers();
    let value = bench.json("ratio X1 --models");
    let both = model(&value, "two-locus");
    near(&both["posterior"], 0.999_300_328_096_604_5);
    near(&both["batches"][0]["posterior"], 0.911_813_034_937_110_6);
    near(
        &model(&value, "kr1")["batches"][0]["posterior"],
        0.022_046_741_265_722_293,
    );
    assert_eq!(both["batches"][0]["tray"], "T1");
    assert_eq!(both["batches"][0]["ratio"], "9:7");
    near(&both["crosses"][0]["chi2"], 0.25 / 58.5 + 0.25 / 45.5);
    near(&both["p"], 0.921_270_674_220_896_6);
    assert_eq!(value["usual"][0]["models"][0]["ratio"], "9:7");
    assert_eq!(value["usual"][0]["classes"][0], "hot");
    let out = flat(&bench.ok("ratio X1 --models"));
    for said in [
        "Only two-locus fits the counts.",
        "Of X1: two-locus and pun1, the likeliest two, are told apart",
        "Pun1 and pAMT are taken as independent.",
        "Several ratios fit: 9:7 and 1:1. These counts cannot say which is right",
        "more plants would tell 9:7 and 1:1",
    ] {
        assert!(out.contains(said), "{said}\n{out}");
    }
}

/// pun1 and pun3 with nothing stated are the same question: equal weights, and no number of plants tells.
#[test]
fn models_that_expect_the_same_are_never_told_apart() {
    let bench = Bench::new();
    for line in [
        "init",
        "trait add edge --classes wavy,flat --rule 'E/_ => wavy' --rule 'else => flat'",
        "trait model add edge other --rule 'K/_ => wavy' --rule 'else => flat'",
        "parent add F1 --plant",
        "self F1 --code X1 --on 2026-01-01",
        "sow X1 --seeds 20 --on 2026-01-05",
        "up T1 20 --on 2026-01-15",
        "score T1 wavy=12 flat=8 --on 2026-02-20",
    ] {
        bench.ok(line);
    }
    let value = bench.json("ratio X1 --models");
    near(&value["models"][0]["posterior"], 0.5);
    assert_eq!(value["more"][0]["more"], Value::Null);
    let out = flat(&bench.ok("ratio X1 --models"));
    assert!(
        out.contains("Several gene models fit: own and other."),
        "{out}"
    );
    assert!(
        out.contains("no number of plants tells the two apart"),
        "{out}"
    );
}

/// A class that a model cannot give is said to be impossible, and weighs by misreading alone: with 3 of 12 white the
/// model of a/a x a/a has 0.005 for each purple. Weights by Bayes' rule: 3:1 as stated v all white.
#[test]
fn an_impossible_class_is_named() {
    let bench = Bench::new();
    for line in [
        "init",
        "trait add edge --classes wavy,flat --rule 'E/_ => wavy' --rule 'else => flat'",
        "trait model add edge other --rule 'K/_ => wavy' --rule 'else => flat'",
        "parent add F1 --plant --genotype 'E/e k/k'",
        "self F1 --code X1 --on 2026-01-01",
        "sow X1 --seeds 4 --on 2026-01-05",
        "up T1 4 --on 2026-01-15",
        "score T1 wavy=1 flat=3 --on 2026-02-20",
    ] {
        bench.ok(line);
    }
    let value = bench.json("ratio X1 --models");
    let (wavy, flat_) = (0.75 * 0.995 + 0.25 * 0.005, 0.25 * 0.995 + 0.75 * 0.005);
    let own: f64 = f64::powi(flat_, 3) * wavy;
    let other: f64 = 0.995_f64.powi(3) * 0.005;
    near(&model(&value, "own")["posterior"], own / (own + other));
    assert_eq!(model(&value, "other")["p"], Value::Null);
    let out = flat(&bench.ok("ratio X1 --models"));
    assert!(
        out.contains("Under other no 1 wavy can come of X1, unless misread or not of this cross."),
        "{out}"
    );
}

/// Facts: capsanthin or C2 may be lost; the counts of fitting genotypes by hand (Y/_ is 2 of 3 at Y, C1/_ 2 of 3 at
/// C1, c2/c2 1 of 3 at C2).
#[test]
fn a_look_answers_with_all_genotypes_that_fit() {
    let bench = Bench::new();
    bench.ok("init");
    let value = bench.json("trait show ripe-colour --look Orange");
    assert_eq!(value["look"], "orange");
    let eight = model(&value, "eight");
    assert_eq!(eight["patterns"][0], "Y/_ C1/_ c2/c2");
    assert_eq!(eight["count"], 4);
    assert_eq!(eight["genotypes"][3], "Y/y C1/c1 c2/c2");
    assert_eq!(model(&value, "brown")["count"], 0);
    let out = flat(&bench.ok("trait show pollen --look sterile"));
    assert!(
        out.contains("rf, sterile cytoplasm: rf/rf; 1 genotype."),
        "{out}"
    );
    assert!(
        out.contains("rf, normal cytoplasm: no genotype gives it."),
        "{out}"
    );
    let out = flat(&bench.ok("trait show foliage --look green"));
    assert!(
        out.contains("one-locus (in use): a/a; 1 genotype."),
        "{out}"
    );
    assert!(
        out.contains("A young plant that will be purple shows green too, until it turns."),
        "{out}"
    );
    let err = bench.fails("trait show foliage --look purpel", 1);
    assert!(err.contains("foliage has no class 'purpel'"), "{err}");
    assert!(
        err.contains("try: locule trait show foliage --look purple"),
        "{err}"
    );
}

#[test]
fn a_trait_is_added_in_growers_words() {
    let bench = Bench::new();
    bench.ok("init");
    let run = bench.run("trait add hair --dominant hairy --recessive bald");
    let said = flat(&format!("{}{}", run.out, run.err));
    assert_eq!(run.status, Some(0), "{said}");
    assert!(
        said.contains("the new gene is called Hair: Hair/_ is hairy, hair/hair bald;"),
        "{said}"
    );
    let shown = bench.json("trait show hair");
    assert_eq!(shown["models"][0]["rules"][0], "Hair/_ => hairy");
    bench.ok("parent add P1 --genotype Hair/hair");
    bench.ok("self P1 --code X1");
    assert_eq!(bench.json("expect X1 --trait hair")["ratio"], "3:1");
}

/// Symbols that are taken, in any case, get a number; said once more, a trait keeps its gene.
#[test]
fn an_invented_symbol_is_free() {
    let bench = Bench::new();
    bench.ok("init");
    let run = bench.run("trait add a --dominant striped --recessive clear --between freckled");
    assert_eq!(run.status, Some(0));
    let said = flat(&run.err);
    assert!(
        said.contains("A2/A2 is striped, A2/a2 freckled, a2/a2 clear"),
        "{said}"
    );
    let shown = bench.json("trait show a");
    assert_eq!(
        shown["models"][0]["rules"],
        serde_json::json!(["A2/A2 => striped", "A2/a2 => freckled", "else => clear"])
    );
    let run = bench.run("trait add a --dominant striped --recessive clear");
    assert_eq!(run.status, Some(0), "{}", run.err);
    assert_eq!(
        bench.json("trait show a")["models"][0]["rules"],
        serde_json::json!(["A2/_ => striped", "else => clear"])
    );
    bench.ok("parent add P1 --plant --genotype A2/a2");
    bench.ok("self P1 --code X1");
    assert_eq!(bench.json("expect X1 --trait a")["ratio"], "3:1");
}

/// The entry put right keeps the symbol that its first telling found.
#[test]
fn growers_words_can_be_amended() {
    let bench = Bench::new();
    bench.ok("init");
    let run = bench.run("trait add hair --dominant hairy --recessive bald");
    assert_eq!(run.status, Some(0), "{}", run.err);
    bench.ok("parent add P1 --plant --genotype Hair/hair");
    let run = bench.run("amend 2 --between downy");
    assert_eq!(run.status, Some(0), "{}", run.err);
    assert_eq!(
        bench.json("trait show hair")["models"][0]["rules"],
        serde_json::json!(["Hair/Hair => hairy", "Hair/hair => downy", "else => bald"])
    );
    let genotype = bench.json("show P1")["known"].to_string();
    assert!(genotype.contains("Hair/hair"), "{genotype}");
}

#[test]
fn growers_words_that_do_not_fit_are_refused() {
    let bench = Bench::new();
    bench.ok("init");
    let usage = [
        "trait add rim --dominant wavy",
        "trait add rim --recessive flat",
        "trait add rim --between waved --classes wavy,flat --rule 'E/_ => wavy' --rule 'else => flat'",
        "trait add rim --dominant wavy --recessive flat --rule 'E/_ => wavy'",
        "trait add rim --dominant wavy --recessive flat --classes wavy,flat",
        "trait add rim",
    ];
    for line in usage {
        bench.fails(line, 2);
    }
    for (line, word) in [
        (
            "trait add rim --dominant wavy --recessive WAVY",
            "named twice",
        ),
        (
            "trait add rim --dominant wavy --recessive flat --between flat",
            "named twice",
        ),
        ("trait add rim --dominant early --recessive flat", "early"),
        (
            "trait add rim --dominant '' --recessive flat",
            "cannot name a class",
        ),
    ] {
        let err = bench.fails(line, 1);
        assert!(
            err.contains(word) && err.contains("try: locule"),
            "{line}: {err}"
        );
    }
}

/// Loci on one chromosome with no distance, with a recorded one, and on different chromosomes.
#[test]
fn ratio_says_how_linked_loci_were_taken() {
    let bench = Bench::new();
    for line in [
        "init",
        "trait add mix --classes both,none --rule 'Y/_ Fa/_ => both' --rule 'else => none' --stage seedling",
        "parent add F1 --plant --genotype 'Y|y Fa|fa'",
        "self F1 --code X1 --on 2026-01-01",
        "sow X1 --seeds 20 --on 2026-01-05",
        "up T1 20 --on 2026-01-15",
        "score T1 both=14 none=6 --on 2026-02-20",
    ] {
        bench.ok(line);
    }
    let out = flat(&bench.ok("ratio X1"));
    assert!(
        out.contains("On one chromosome, but taken as independent, since nobody has stated how far apart: Y and Fa"),
        "{out}"
    );
    bench.ok("locus set Y --recombines Fa=0.1");
    let out = flat(&bench.ok("ratio X1"));
    assert!(
        out.contains("Linkage as recorded is in what is expected: Y and Fa at 0.1."),
        "{out}"
    );
    // Coupling: P(both) = 1/2 + (1 - r)^2/4 with r = 0.1 (any textbook: 3/4 - [1 - (1-r)^2]/4).
    let value = bench.json("ratio X1");
    near(
        &value["batches"][0]["classes"][0]["expected"],
        20.0 * (0.5 + 0.81 / 4.0),
    );
    assert_eq!(value["linkage"]["used"][0], "Y and Fa at 0.1");
}

/// Two traits that read one locus are one proof: a second look through A moves no verdict by itself.
#[test]
fn two_looks_through_one_locus_are_one_proof() {
    let p_off = |second: Option<&str>| {
        let bench = Bench::new();
        for line in [
            "init",
            "trait add stripe --classes striped,plain --rule 'A/_ => striped' --rule 'else => plain' --misread 0.000001",
            "parent add NL --line --genotype a/a --proven",
            "parent add CW --line --genotype A/a --proven",
            "cross NL CW --code X1 --on 2026-01-01 --not-emasculated",
            "sow X1 --seeds 4 --on 2026-01-05",
            "up T1 4 --on 2026-01-15",
            "score T1-01 stripe:plain --on 2026-02-20",
        ] {
            bench.ok(line);
        }
        if let Some(line) = second {
            bench.ok("trait add rim --classes rimmed,bare --rule 'A/_ => rimmed' --rule 'else => bare' --misread 0.000001");
            bench.ok(line);
        }
        let value = bench.json("suspects T1");
        let seedlings = value["batches"][0]["seedlings"]
            .as_array()
            .expect("a list")
            .clone();
        let first = seedlings.iter().find(|one| one["seedling"] == "T1-01");
        first.expect("it was scored")["p_off"]
            .as_f64()
            .expect("a number")
    };
    let once = p_off(None);
    let twice = p_off(Some("score T1-01 rim:bare --on 2026-02-20"));
    assert!((once - twice).abs() < 1e-5, "{once} and {twice}");
    assert!(once > 0.05, "{once}");
}
