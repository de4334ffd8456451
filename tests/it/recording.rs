//! Every recording command in all its forms: what it answers, and what the ledger then holds.

use crate::support::{Bench, answered};

/// A bench on 1 June 2026 with two parents and one cross, harvested.
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

/// Runs lines that must succeed, whatever is remarked on them, each with the start of its answer.
fn answers(bench: &Bench, lines: &[(&str, &str)]) {
    for (line, wanted) in lines {
        let out = crate::support::flat(&answered(bench, line));
        assert!(out.starts_with(wanted), "{line}\n{out}\nwanted: {wanted}");
    }
}

/// Runs a line that must succeed with a remark on standard error.
fn remarks(bench: &Bench, line: &str, wanted: &str) {
    let run = bench.run(line);
    assert_eq!(run.status, Some(0), "{line}\n{}", run.err);
    let err = crate::support::flat(&run.err);
    assert!(err.contains(wanted), "{line}\n{err}");
}

/// The answer in JSON of a command that may remark on what it records.
fn answered_json(bench: &Bench, line: &str) -> serde_json::Value {
    serde_json::from_str(&answered(bench, &format!("{line} --json"))).expect("it is JSON")
}

#[test]
fn parents_are_entered_in_all_their_forms() {
    let bench = season();
    answers(
        &bench,
        &[
            (
                "parent add RC 'Red Comet' --species chinense --packet --genotype 'A/a Q/q' --proven --looks purple,red",
                "RC: Red Comet; a packet of chinense; genotype A/a Q/q (proven); looks purple (foliage), red (ripe-colour); first met: Q.",
            ),
            (
                "parent add SP --plant --cytoplasm sterile",
                "SP: a single plant; cytoplasm sterile.",
            ),
            (
                "parent add K1 Keeper --from T1-2",
                "K1: Keeper; the seedling T1-02.",
            ),
            (
                "parent in-flower NL --on 25feb --until 10mar",
                "NL: in flower from 25 February 2026 to 10 March 2026.",
            ),
            ("score k1 deep", "K1: deep (foliage-grade)."),
        ],
    );
    remarks(
        &bench,
        "parent add WW 'Wild One' --species galapagoense",
        "'galapagoense' is none of",
    );
}

#[test]
fn pollinations_give_codes_and_tags() {
    let bench = season();
    let day = "1 March 2026; anthers taken out";
    answers(
        &bench,
        &[
            (
                "cross NL CW --on 1mar",
                &format!("X2: NL x CW on {day}. Tag: X2 NL x CW 2026-03-01"),
            ),
            (
                "CROSS cw nl --code x1 --on 2mar --covered",
                "X1: CW x NL, pollination 2 on 2 March 2026; anthers taken out, covered.",
            ),
            (
                "cross NL CW --not-emasculated --on unknown",
                "X3: NL x CW on an unknown day; anthers left in. Tag: X3 NL x CW",
            ),
            (
                "self NL --on 1mar",
                "X4: NL selfed on 1 March 2026; anthers left in.",
            ),
            ("cross NL CW --code fancy --on 3mar", "fancy: NL x CW"),
            ("set X2 --pods 2 --dropped 1", "X2: 2 pods set, 1 dropped"),
            (
                "set X1 --pods 1 --pollinated 1mar",
                "X1: of 3 flowers 1 pod set; 2 still open, pollinated on 1 March 2026.",
            ),
        ],
    );
    let tag = answered_json(&bench, "cross NL CW --on 4mar")["tag"].clone();
    assert_eq!(tag, "X5 NL x CW 2026-03-04");
}

#[test]
fn automatic_codes_are_never_given_twice() {
    let bench = season();
    bench.ok("cross NL CW --code X2 --on 1mar");
    answered(&bench, "cross NL CW --on 1mar");
    bench.ok("undo");
    let code = answered_json(&bench, "cross NL CW --on 1mar")["code"].clone();
    assert_eq!(code, "X4", "X2 is taken, X3 was given and undone");
    bench.ok("harvest X1 --seeds 5 --on 21apr");
    bench.ok("undo");
    assert_eq!(
        bench.json("harvest X1 --seeds 5 --on 21apr")["code"],
        "X1/3"
    );
    bench.ok("sow X1/1 --seeds 2");
    bench.ok("undo");
    assert_eq!(bench.json("sow X1 --seeds 2")["code"], "T3");
}

#[test]
fn seed_is_harvested_and_drawn_on_by_lot() {
    let bench = season();
    answers(
        &bench,
        &[
            (
                "harvest X1 --seeds 10 --about --kept 'jar 4' --on 21apr",
                "X1/2: about 10 seeds, kept in jar 4. X1 has about 38 seeds in store.",
            ),
            (
                "sow X1 --seeds 20 --lot 1 --on 1may",
                "T2: 20 seeds of X1 (CW x NL) in 20 cells on 1 May 2026, from X1/1 (8 left).",
            ),
            (
                "sow X1/2 --seeds 9 --on 1may",
                "T3: 9 seeds of X1 (CW x NL) in 9 cells on 1 May 2026, from X1/2 (1 left).",
            ),
            (
                "sow X1 --seeds 9 --cells 3 --on 1may",
                "T4: 9 seeds of X1 (CW x NL) in 3 cells on 1 May 2026, from X1/1 (0 left) and X1/2 (0 left).",
            ),
            (
                "packet NL --seeds 12 --label 'by hand' --giver Ann --claim f2 --on 1may",
                "NL/1: a packet, 12 seeds, labelled by hand, from Ann, said to be F2. NL has 12 seeds in store.",
            ),
            (
                "sow nl/1 --seeds 4 --tray pot1 --place tent",
                "pot1: 4 seeds of NL in 4 cells on 1 June 2026, tent, from NL/1 (8 left).",
            ),
            (
                "sow CW --seeds 3",
                "T5: 3 seeds of CW in 3 cells on 1 June 2026, of no recorded lot.",
            ),
        ],
    );
}

#[test]
fn the_lot_taken_of_several_is_named() {
    let bench = season();
    bench.ok("harvest X1 --seeds 10 --on 21apr");
    remarks(
        &bench,
        "sow X1 --seeds 5 --on 1may",
        "the seed is taken from X1/1, the oldest lot with enough; --lot takes another (X1/2)",
    );
    bench.ok("sow X1 --seeds 5 --lot 2 --on 1may");
}

#[test]
fn looks_that_the_stated_genotype_cannot_give_are_remarked_on() {
    let bench = season();
    remarks(
        &bench,
        "parent add HW --genotype A/A --looks green",
        "HW is said to look green (foliage), but its stated genotype A/A gives purple",
    );
    remarks(
        &bench,
        "score CW purple",
        "CW is said to look purple (foliage), but its stated genotype a/a gives green",
    );
    // Unsure, the look says nothing against the statement; only that it stands in the place of the firm one is told.
    let unsure = bench.run("score CW maybe-purple");
    assert_eq!(unsure.status, Some(0));
    assert!(
        unsure.err.starts_with("note: CW was read purple on")
            && !unsure.err.contains("is said to look"),
        "{}",
        unsure.err
    );
    bench.ok("parent add HX --genotype A/_ --looks purple");
    bench.ok("parent add HY --genotype Y/Y --looks green");
}

#[test]
fn what_is_up_is_counted_whole_and_by_cell() {
    let bench = season();
    answers(
        &bench,
        &[
            ("up T1 10", "T1: 10 of 12 up, 83 %."),
            (
                "up t1 --cells 1-9,11,12",
                "T1: up in cells 1-9,11-12; 11 of 12 up, 92 %.",
            ),
            ("sow X1 --seeds 9 --cells 3 --on 1may", "T2:"),
            ("up T2-02 3", "T2: 3 up in cell 2; 3 of 9 up, 33 %."),
            ("up T2-1", "T2: 1 up in cell 1; 4 of 9 up, 44 %."),
        ],
    );
    let err = bench.fails("up T1 --cells 1-3", 1);
    assert!(err.contains("the ledger says so already"), "{err}");
    remarks(&bench, "up T1 8", "fewer than the 11 counted before");
    assert!(bench.run("up T1 10").out.contains("11 of 12 up"));
    bench.ok("score T1 purple=11");
}

#[test]
fn scores_are_read_in_every_form() {
    let bench = season();
    answers(
        &bench,
        &[
            (
                "score T1 purple=7 green=2 --on 8may",
                "T1: 7 purple, 2 green of 9 up (foliage).",
            ),
            (
                "score T1 7 Purple 2 GREEN --on 9may",
                "T1: 7 purple, 2 green of 9 up (foliage).",
            ),
            (
                "score T1 purple/hairy=5 green/smooth=3 early=1 --on 10may",
                "T1: 5 purple/hairy, 3 green/smooth, 1 too early to score of 9 up (foliage and stem-hair).",
            ),
            ("score NL purple", "NL: purple (foliage)."),
            ("score CW orange", "CW: orange (ripe-colour)."),
            ("sow X1 --seeds 9 --cells 3 --on 1may", "T2:"),
            ("up T2-02 4 --on 9may", "T2:"),
            (
                "score T2-02 3 purple 1 green --on 10may",
                "T2-02: 3 purple, 1 green of 4 up (foliage).",
            ),
        ],
    );
    remarks(
        &bench,
        "score T1-03 maybe-green --on 11may",
        "earlier tallies of T1 are kept but are no evidence",
    );
    answers(
        &bench,
        &[
            (
                "score T1 1-2,4=purple 7=maybe-green 8=early --on 12may",
                "T1: 3 purple, 1 maybe-green, 1 too early to score (foliage); 6 seedlings of 9 up scored one by one.",
            ),
            (
                "score T1-03 stem-hair:dim --on 12may",
                "T1-03: too dim to score (stem-hair).",
            ),
            (
                "score T1-03 deep --trait foliage-grade --leaves 4 --on 12may",
                "T1-03: deep (foliage-grade).",
            ),
            (
                "score T1-03 yellow-bud:green --on 12may",
                "T1-03: green (yellow-bud).",
            ),
        ],
    );
    remarks(
        &bench,
        "score T1 purple=7 --on 13may",
        "this tally of T1 is kept but is no evidence",
    );
    remarks(
        &bench,
        "score T2-02a green --on 13may",
        "earlier tallies of T2-02 are kept but are no evidence",
    );
}

#[test]
fn the_bench_trait_takes_bare_words_first() {
    let bench = season();
    answers(
        &bench,
        &[
            (
                "trait bench hypocotyl-colour",
                "hypocotyl-colour: the bench trait;",
            ),
            (
                "score T1 purple=3 --on 10may",
                "T1: 3 purple of 9 up (hypocotyl-colour).",
            ),
            (
                "score T1 foliage:purple=3 --on 10may",
                "T1: 3 purple of 9 up (foliage).",
            ),
            (
                "score T1 hairy=3 dim=1 --on 10may",
                "T1: 3 hairy, 1 too dim to score of 9 up (stem-hair).",
            ),
        ],
    );
}

#[test]
fn fates_of_seedlings_looks_and_counts() {
    let bench = season();
    answers(
        &bench,
        &[
            ("score T1 purple=6 green=3 --on 10may", "T1:"),
            (
                "cull T1 green 1 --why 'still green' --on 11may",
                "T1: 1 green culled; 8 of T1 still standing.",
            ),
            (
                "cull T1 green --on 11may",
                "T1: 2 green culled; 6 of T1 still standing.",
            ),
            (
                "thin T1 2 --blind --on 11may",
                "T1: 2 seedlings thinned blind; 4 of T1 still standing.",
            ),
            ("sow X1 --seeds 9 --cells 3 --on 1may", "T2:"),
            ("up T2-02 4 --on 9may", "T2:"),
            ("score T2-02 3 purple 1 green --on 10may", "T2-02:"),
            (
                "cull T2-02 green --on 11may",
                "T2: 1 green in T2-02 culled; 3 of T2 still standing.",
            ),
            (
                "thin T2-02 2 --on 11may",
                "T2: 2 seedlings in T2-02 thinned; 1 of T2 still standing.",
            ),
            (
                "pot-up T2-02 --on 12may",
                "T2: T2-02 potted up; 1 of T2 still standing.",
            ),
            ("up T2-03 2 --on 12may", "T2:"),
            (
                "died T2-03a T2-03b --on 13may",
                "T2: T2-03a and T2-03b died; 1 of T2 still standing.",
            ),
            ("sow X1 --seeds 6 --on 1may", "T3:"),
            ("up T3 6 --on 9may", "T3:"),
            ("score T3 1-3=green 4=maybe-green --on 12may", "T3:"),
            (
                "cull T3 green --on 12may",
                "T3: T3-01, T3-02, T3-03 and T3-04 culled; 2 of T3 still standing.",
            ),
        ],
    );
    remarks(
        &bench,
        "thin T3 1 --on 12may",
        "1 seedling, not seedling 01: for that one write T3-01; 'locule undo' takes this back",
    );
}

#[test]
fn what_is_left_of_a_look_is_counted_down() {
    let bench = season();
    bench.ok("score T1 purple=7 green=2 --on 10may");
    bench.ok("cull T1 green --on 11may");
    let gone = "T1: 2 culled, but only 0 green are left there";
    for line in [
        "cull T1 2 green --on 12may",
        "cull T1-04 2 green --on 12may",
    ] {
        let err = bench.fails(line, 1).replace("T1-04:", "T1:");
        assert!(
            err.contains(gone) && err.contains("--even-so"),
            "{line}\n{err}"
        );
    }
    remarks(&bench, "cull T1 2 green --on 12may --even-so", gone);
    bench.ok("sow X1 --seeds 6 --on 1may");
    bench.ok("up T2 6 --on 9may");
    bench.ok("cull T2 2 green --on 12may");
    bench.ok("score T2 2-4=purple 5=green --on 13may");
    bench.ok("cull T2 green --on 13may");
    let err = bench.fails("cull T2 1 green --on 13may", 1);
    assert!(err.contains("only 0 green are left there"), "{err}");
}

#[test]
fn the_first_score_of_an_uncounted_tray_asks_for_the_count() {
    let bench = season();
    bench.ok("sow X1 --seeds 6 --on 1may");
    let asks = "nobody counted what came up in T2; 'locule up T2 N --on DAY' makes the ages right";
    remarks(&bench, "score T2 purple=3 --on 10may", asks);
    bench.ok("score T2 purple=4 --on 11may");
    bench.ok("up T2 4 --on 8may");
    bench.ok("undo 9");
    bench.ok("undo 10");
    bench.ok("score T2 purple=4 --on 12may");
}

#[test]
fn a_cells_number_is_the_last_one_left() {
    let bench = season();
    bench.ok("sow X1 --seeds 9 --cells 3 --on 1may");
    bench.ok("up T2 9 --on 9may");
    bench.ok("score T2 1a=green 1b=purple --on 12may");
    let err = bench.fails("score T2-01 purple", 1);
    assert!(
        err.contains("2 seedlings stand in T2-01; say which (told apart: T2-01a and T2-01b)"),
        "{err}"
    );
    bench.ok("cull T2-01a --on 13may");
    answers(
        &bench,
        &[("score T2-01 purple --on 14may", "T2-01b: purple (foliage).")],
    );
}

#[test]
fn what_else_is_written_down() {
    let bench = season();
    std::fs::write(bench.folder().join("t1.jpg"), b"abc").expect("the folder can be written");
    answers(
        &bench,
        &[
            (
                "care feed T1 --product kelp --dose '2 ml/l' --every 14",
                "feed for T1 on 1 June 2026, kelp, 2 ml/l; due again on 15 June 2026.",
            ),
            ("care gnats", "gnats for the whole bench on 1 June 2026."),
            (
                "measure T1-03 height=42mm leaves=6",
                "T1-03: height 42 mm, leaves 6 on 1 June 2026.",
            ),
            (
                "measure T1-03 height=4,2cm",
                "T1-03: height 4.2 cm on 1 June 2026.",
            ),
            (
                "measure T1-03 chill=-3°C",
                "T1-03: chill -3 °C on 1 June 2026.",
            ),
            ("note X1/1 kept dry", "X1/1: noted: kept dry"),
            (
                "note foliage 'best by daylight'",
                "foliage: noted: best by daylight",
            ),
            ("photo T1 t1.jpg", "T1: t1.jpg of 1 June 2026."),
            ("assume dim 0.05", "dim: 0.05 (was 0.02, the default):"),
            (
                "assume dim default",
                "dim: 0.02 again, the default (was 0.05):",
            ),
        ],
    );
    // SHA-256 of "abc": FIPS 180-2, appendix B.1.
    let exported = std::fs::read(bench.ledger()).expect("the ledger can be read");
    let digest = b"ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    assert!(exported.windows(digest.len()).any(|piece| piece == digest));
    let all = bench.json("assume");
    let list = all["assumptions"].as_array().expect("a list");
    assert!(
        list.iter()
            .any(|line| line["key"] == "dim" && line["value"] == 0.02)
    );
}

#[test]
fn loci_and_traits_are_set() {
    let bench = season();
    answers(
        &bench,
        &[
            (
                "locus set A --chromosome 10 --at 33 --share A=0.3",
                "A: alleles A (share 0.3), a; chromosome 10 at 33 cM.",
            ),
            (
                "locus set Z --alleles Z1,Z2,z --recombines A=0.12",
                "Z: a new locus; alleles Z1, Z2, z; recombines with A at 0.12.",
            ),
            (
                "locus set A --alleles A,a,a2",
                "A: alleles A (share 0.3), a, a2; chromosome 10 at 33 cM",
            ),
            (
                "trait add edge --classes wavy,flat --rule 'E/_ => wavy' --rule 'else => flat' --late 'wavy after flat' --median-days 20 --misread 0.01 --misread flat=0.02",
                "edge: a new seedling trait with classes wavy, flat; loci first met: E.",
            ),
            (
                "trait add edge --classes wavy,flat --rule 'F/_ => wavy' --rule 'else => flat'",
                "edge: defined anew with classes wavy, flat; loci first met: F.",
            ),
            (
                "trait model add edge two --rule 'E/_ F/_ => wavy' --rule 'else => flat'",
                "edge: rival model two; own stays in use.",
            ),
            ("trait model use edge TWO", "edge: model two is in use."),
            ("trait off edge", "edge: no longer offered for scoring."),
            ("trait on edge", "edge: offered for scoring"),
        ],
    );
}

#[test]
fn the_implausible_is_recorded_even_so() {
    let bench = season();
    for (line, doubt) in [
        ("up T1 13", "T1: 13 up of 12 sown"),
        (
            "score T1 purple=14",
            "T1: 14 scored, but 13 up by 2026-06-01",
        ),
        (
            "sow X1 --seeds 50",
            "50 seeds to sow, but X1/1 has 28 left of 40",
        ),
        (
            "score T1-01 green --on 1apr",
            "T1-01 seen on 2026-04-01, but T1 was sown on 2026-04-25",
        ),
        (
            "cross CW NL --on 2026-07-01",
            "2026-07-01 is in the future; today is 2026-06-01",
        ),
    ] {
        let err = bench.fails(line, 1);
        assert!(
            err.contains(doubt) && err.contains("--even-so"),
            "{line}\n{err}"
        );
        remarks(
            &bench,
            &format!("{line} --even-so"),
            &format!("recorded even so: {doubt}"),
        );
    }
}
