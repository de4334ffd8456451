//! Rules of the gate one by one: what is refused, what is doubted, and what the answer says of the rest.

use crate::support::{Bench, answered, finish, flat};

/// A bench on 1 June 2026 with two parents, a cross and a tray of which nine are up.
fn season() -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-06-01");
    for line in [
        "init",
        "parent add NL 'Night Lantern' --genotype A/A --on 2026-01-05",
        "parent add CW 'Cloud Walker' --genotype a/a --on 2026-01-05",
        "cross CW NL --flowers 3 --on 1mar",
        "harvest X1 --pods 2 --seeds 40 --on 20apr",
        "sow X1 --seeds 12 --on 25apr",
        "up T1 9 --on 5may",
    ] {
        bench.ok(line);
    }
    bench
}

/// A line that must fail with status 1 and say each piece.
fn refused(bench: &Bench, line: &str, wanted: &[&str]) {
    failing(bench, line, 1, wanted);
}

fn failing(bench: &Bench, line: &str, status: i32, wanted: &[&str]) {
    let err = flat(&bench.fails(line, status));
    for piece in wanted {
        assert!(err.contains(piece), "{line}\n{err}\nwanted: {piece}");
    }
}

/// A line that must succeed, saying each piece on standard output.
fn says(bench: &Bench, line: &str, wanted: &[&str]) {
    let out = flat(&answered(bench, line));
    for piece in wanted {
        assert!(out.contains(piece), "{line}\n{out}\nwanted: {piece}");
    }
}

/// A line that is refused as implausible, and recorded with `--even-so`.
fn doubted(bench: &Bench, line: &str, doubt: &str) {
    refused(bench, line, &[doubt, "--even-so"]);
    let run = bench.run(&format!("{line} --even-so"));
    assert_eq!(run.status, Some(0), "{line}\n{}", run.err);
    assert!(flat(&run.err).contains(doubt), "{line}\n{}", run.err);
}

/// The share of jj among founders in Hardy-Weinberg proportions is the square of the allele's: by a founder
/// of unknown genotype crossed with j/j, the chance of a j gamete is the allele's share itself.
#[test]
fn the_share_of_any_allele_counts() {
    let bench = season();
    bench.ok("locus set J --alleles J,j");
    let expect = "expect --mother A/a --father j/j --rule 'J/_ => tall' --rule 'else => low'";
    let low = |bench: &Bench| {
        let value = bench.json(expect);
        let classes = value["classes"].as_array().expect("a list").clone();
        let low = classes.into_iter().find(|class| class["class"] == "low");
        low.expect("a class")["p"].as_f64().expect("a number")
    };
    assert!((low(&bench) - 0.5).abs() < 1e-12);
    bench.ok("locus set J --share j=0.1");
    assert!((low(&bench) - 0.1).abs() < 1e-12);
    refused(
        &bench,
        "locus set J --share J=0.95",
        &[
            "the shares of locus J add up to 1.05, not 1: J 0.95, j 0.1",
            "try: locule locus set J --share J=0.500 --share j=0.500",
        ],
    );
    bench.ok("locus set J --share J=0.75 --share j=0.25");
    assert!((low(&bench) - 0.25).abs() < 1e-12);
    bench.ok("locus set K --alleles K,k1,k2 --share k2=0.4 --share K=0.4");
    refused(
        &bench,
        "locus set K --share k1=0.1",
        &["the shares of locus K add up to 0.9"],
    );
}

/// A late class is late whatever the case and composition of its letters.
#[test]
fn a_late_class_is_late_in_any_spelling() {
    let bench = season();
    bench.ok(
        "trait add rim --classes Grün,matt --rule 'E/_ => matt' --rule 'else => Grün' --late 'matt after GRU\u{308}N' --median-days 10 --misread 1e-300",
    );
    says(
        &bench,
        "trait show rim",
        &["matt after Grün", "matt 1e-300"],
    );
    let value = bench.json("expect --mother E/E --father E/E --trait rim --age 10");
    let classes = value["classes"].as_array().expect("a list").clone();
    let late = classes.into_iter().find(|class| class["class"] == "matt");
    let shown = late.expect("a class")["p"].as_f64().expect("a number");
    assert!(shown < 0.6, "half have turned at the median age: {shown}");
}

#[test]
fn a_number_is_kept_as_it_was_typed() {
    let bench = season();
    let rules = "--rule 'E/_ => wavy' --rule 'else => flat'";
    bench.ok(&format!(
        "trait add edge --classes wavy,flat {rules} --misread 1e-300 --misread flat=0.0100"
    ));
    let export = bench.ok("export");
    assert!(export.contains("\"1e-300\"") && export.contains("\"0.0100\""));
    let long = "0".repeat(60);
    refused(
        &bench,
        &format!("trait add rim --classes wavy,flat {rules} --misread 0.{long}1"),
        &["--misread takes a plain number"],
    );
}

#[test]
fn a_father_without_pollen_is_doubted() {
    let bench = season();
    bench.ok("parent add MS Drone --cytoplasm sterile");
    bench.ok("parent add RS Restored --cytoplasm sterile --genotype Rf/rf");
    bench.ok("parent add M3 Third --genotype ms3/ms3");
    bench.ok("parent add HT Half --genotype Ms3/ms3");
    bench.ok("cross CW RS");
    bench.ok("cross CW HT");
    doubted(
        &bench,
        "cross CW MS",
        "MS is male-sterile and makes no pollen: its cytoplasm",
    );
    doubted(
        &bench,
        "cross CW M3",
        "M3 is male-sterile and makes no pollen: it is stated to be ms3/ms3",
    );
    doubted(&bench, "self M3", "M3 is male-sterile");
    bench.ok("cross M3 CW");
    bench.ok("sow M3 --seeds 2 --tray P1");
    bench.ok("up P1 --cells 1,2");
}

#[test]
fn what_never_came_up_cannot_be_removed() {
    let bench = season();
    bench.ok("sow X1 --seeds 6 --tray P1 --on 25apr");
    bench.ok("up P1 --cells 1-2 --on 5may");
    doubted(
        &bench,
        "cull P1-05",
        "P1-05 is culled, but it is not among the 2 up by 2026-06-01",
    );
    let bench = season();
    bench.ok("sow X1 --seeds 6 --tray P1 --on 25apr");
    bench.ok("up P1 2 --on 5may");
    bench.ok("thin P1 2 --blind --on 10may");
    doubted(
        &bench,
        "died P1-03",
        "P1: 1 recorded as dead, but 0 seedlings stand there",
    );
    let bench = season();
    bench.ok("sow X1 --seeds 6 --tray P1 --on 25apr");
    bench.ok("up P1 2 --on 5may");
    doubted(
        &bench,
        "cull P1-01 P1-02 P1-03",
        "P1: 1 culled, but 0 seedlings stand there",
    );
    refused(
        &bench,
        "cull T1",
        &["T1 is a whole tray", "try: locule cull T1 3"],
    );
    refused(
        &bench,
        "thin T1 --blind",
        &["T1 is a whole tray", "try: locule thin T1 3"],
    );
}

#[test]
fn a_pollination_of_an_unknown_day_is_named() {
    let bench = season();
    bench.ok("cross NL CW --flowers 3 --on unknown");
    bench.ok("cross NL CW --code X2 --flowers 5 --on 2mar");
    refused(
        &bench,
        "set X2 --pods 1",
        &["an unknown day and 2026-03-02; say which"],
    );
    says(
        &bench,
        "set X2 --pods 2 --pollinated unknown",
        &["X2: of 3 flowers 2 pods set"],
    );
    says(
        &bench,
        "harvest X2 --seeds 9 --pollinated UNKNOWN",
        &["X2/1: 9 seeds"],
    );
    refused(
        &bench,
        "set X1 --pods 1 --pollinated unknown",
        &["X1 was not pollinated on an unknown day; recorded: 2026-03-01"],
    );
    bench.ok("cross CW NL --code X5 --on unknown");
    refused(
        &bench,
        "set X5 --pods 1 --pollinated 2mar",
        &[
            "but X2 was; recorded of X5: an unknown day",
            "--pollinated unknown",
        ],
    );
}

#[test]
fn thresholds_stay_in_their_order() {
    let bench = season();
    bench.ok("assume verdict.keep 0.3");
    refused(
        &bench,
        "assume verdict.cull 0.1",
        &["verdict.keep 0.3 must lie below verdict.cull 0.1"],
    );
    refused(
        &bench,
        "assume verdict.keep 95%",
        &["verdict.keep 0.95 must lie below verdict.cull 0.95"],
    );
    bench.ok("assume verdict.keep 0.1");
    bench.ok("assume verdict.cull 0.15");
    refused(
        &bench,
        "assume verdict.keep default",
        &["verdict.keep 0.2 must lie below verdict.cull 0.15"],
    );
}

#[test]
fn beliefs_are_typed_as_percentages_and_found_by_a_part_of_their_key() {
    let bench = season();
    says(
        &bench,
        "assume dim 20%",
        &["dim: 0.2 (was 0.02, the default)"],
    );
    refused(&bench, "assume dim 120%", &["not '1.2'"]);
    refused(&bench, "assume batch-spread 20%", &["not '20%'"]);
    refused(
        &bench,
        "assume dimm 0.1",
        &["the nearest: dim", "try: locule assume dim"],
    );
    refused(&bench, "assume keep", &["the nearest: verdict.keep"]);
}

#[test]
fn linked_loci_are_reckoned_with_where_stated() {
    let bench = season();
    let two = "expect --mother 'A/a B/b' --father 'A/a B/b' --rule 'A/_ B/_ => purple' --rule 'else => white'";
    let coupled = two.replace("A/a B/b", "A|a B|b");
    let value = bench.json(&format!("{coupled} --recombines A,B=0.1"));
    assert_eq!(value["classes"][0]["fraction"], "281/400");
    refused(
        &bench,
        "expect X1 --recombines A,Hh=0.1",
        &["no locus 'Hh'", "the nearest: H"],
    );
    assert_eq!(
        bench.json(&format!("{two} --recombines A,B=0.5"))["ratio"],
        "9:7"
    );
    failing(
        &bench,
        &format!("{two} --recombines A,B=0.6"),
        2,
        &["no recombination fraction"],
    );
    failing(
        &bench,
        &format!("{two} --recombines AB=0.1"),
        2,
        &["A,B=0.12"],
    );
    failing(
        &bench,
        &format!("{two} --recombines A,A=0.1"),
        2,
        &["two loci"],
    );
    assert_eq!(bench.json(two)["linked"], serde_json::json!([]));
    says(
        &bench,
        "locus set B --alleles B,b --recombines A=0.12",
        &["recombines with A at 0.12. Expectations, suspects and genotype reckon with it."],
    );
    says(&bench, two, &["Parted per meiosis: A and B at 0.12."]);
    let out = bench.ok("expect X1");
    assert!(!out.contains("linked"), "foliage reads one locus:\n{out}");
    says(
        &bench,
        "locus set Q --alleles Q,q --chromosome 3 --at 10",
        &["at 10 cM."],
    );
    says(
        &bench,
        "locus set R --alleles R,r --chromosome 3 --at 22",
        &["at 22 cM. Expectations, suspects and genotype reckon with it."],
    );
}

#[test]
fn a_built_in_trait_is_not_replaced_unawares() {
    let bench = season();
    let rules = "--classes purple,green --rule 'A/_ => purple' --rule 'else => green'";
    doubted(
        &bench,
        &format!("trait add foliage {rules}"),
        "the trait foliage is built in",
    );
    answered(&bench, &format!("trait add edge {rules}"));
    bench.ok("trait model add edge two --rule 'A/A => purple' --rule 'else => green'");
    let run = bench.run(&format!("trait add edge {rules}"));
    assert_eq!(run.status, Some(0), "{}", run.err);
    assert!(flat(&run.err).contains("the gene model two of edge goes with its old definition"));
    bench.ok("score T1-01 edge:purple");
    refused(
        &bench,
        &format!("trait add edge {rules}"),
        &["edge has been scored once"],
    );
}

#[test]
fn a_number_too_large_is_no_measure() {
    let bench = season();
    refused(
        &bench,
        "measure T1-05 height=1e400",
        &["height takes a plain number, not '1e400'"],
    );
    says(
        &bench,
        "measure T1-05 weight=1.5e-3kg",
        &["weight 1.5e-3 kg"],
    );
}

#[test]
fn answers_say_all_that_was_recorded() {
    let bench = season();
    says(
        &bench,
        "cross CW NL --code X1 --tool tweezers --wiped --covered --on 2mar",
        &["anthers taken out, covered; tool tweezers, wiped before."],
    );
    says(
        &bench,
        "self NL --wiped --on 2mar",
        &["anthers left in; tool wiped before."],
    );
    says(
        &bench,
        "cross CW NL --tool brush --on 2mar",
        &["; tool brush."],
    );
    says(
        &bench,
        "harvest X1 --seeds 10 --about",
        &["X1 has about 38 seeds in store."],
    );
    let run = bench.run("up T1 13 --even-so");
    assert!(run.out.contains("13 of 12 up, 108 %"), "{}", run.out);
    says(&bench, "pot-up T1-03", &["T1-03 potted up"]);
    says(&bench, "show T1-03", &["potted up"]);
}

#[test]
fn refusals_name_the_code_and_a_remedy() {
    let bench = season();
    refused(
        &bench,
        "harvest X1 --pods 0",
        &["X1: 0 pods: there is nothing to record"],
    );
    refused(&bench, "sow X1 --seeds 0", &["X1: 0 seeds"]);
    refused(&bench, "packet NL --seeds 0", &["NL: 0 seeds"]);
    refused(
        &bench,
        "photo T1 gone.jpg",
        &["gone.jpg cannot be read", "try: locule photo T1"],
    );
    let classes = ["no trait has a class 'zzzzzz'", "foliage: purple, green"];
    refused(&bench, "score T1-03 zzzzzz", &classes);
    let edge = "trait add edge --classes wavy,flat --rule 'E/_ => wavy' --rule 'else => flat'";
    let stages = "seedling, plant, flower, fruit, chemistry, inoculation, not 'foo'";
    refused(
        &bench,
        &format!("{edge} --stage foo"),
        &["--stage takes seedling", stages],
    );
    let hint = "try: locule locus set J --alleles J,j";
    refused(
        &bench,
        "locus set J --alleles J",
        &["given 1 alleles", hint],
    );
    refused(
        &bench,
        "locus set 12",
        &["try: locule locus set SYMBOL --alleles DOMINANT,RECESSIVE"],
    );
    refused(
        &bench,
        "locus set J --alleles Ä,A",
        &["allele A belongs to locus A"],
    );
    refused(
        &bench,
        "parent add ZZ --genotype A/ä",
        &["unknown allele ä of locus A"],
    );
}

#[test]
fn a_trait_without_name_or_organ_is_shown_without_gaps() {
    let bench = season();
    bench.ok("trait add uu --classes wavy,flat --rule 'E/_ => wavy' --rule 'else => flat' --late 'wavy after flat' --median-days 1");
    says(
        &bench,
        "trait show uu",
        &[
            "uu: seedling, offered for scoring.",
            "by 1 day after coming up",
        ],
    );
    says(&bench, "trait show foliage", &["foliage: Foliage colour;"]);
}

#[test]
fn a_dash_is_standard_output() {
    let bench = season();
    assert_eq!(bench.ok("export -"), bench.ok("export"));
    assert!(!bench.folder().join("-").exists());
}

#[test]
fn an_empty_ledger_variable_is_unset() {
    let bench = Bench::new();
    let run = finish(bench.command(&["init"]).env("LOCULE_LEDGER", ""));
    assert_eq!(run.status, Some(0), "{}", run.err);
    let run = finish(bench.command(&["history"]).env("LOCULE_LEDGER", ""));
    assert_eq!(run.status, Some(0), "{}", run.err);
    failing(
        &bench,
        "history --ledger ''",
        2,
        &["a value is required for '--ledger <FILE>'"],
    );
}
