//! What follows from `adopt`: seedlings of the adopted one, the cull list, what is refused, its JSON.

use serde_json::Value;

use crate::adopting::{recorded, refused, season};
use crate::support::{Bench, flat};

/// NT, adopted or not, selfed; sixteen of its seedlings, twelve of them purple.
fn with_offspring(keep: &str) -> Bench {
    let mut bench = season();
    recorded(&bench, keep);
    bench.on("2026-10-01");
    for line in [
        "self NT --on 2026-05-08",
        "sow X4 --seeds 16 --on 2026-08-01",
        "up T3 16 --on 2026-08-12",
    ] {
        recorded(&bench, line);
    }
    recorded(&bench, "score T3 1-12=purple 13-16=green");
    bench
}

fn p_of_class(answer: &Value, class: &str) -> f64 {
    let classes = answer["classes"].as_array().unwrap();
    let one = classes.iter().find(|one| one["class"] == class).unwrap();
    one["p"].as_f64().unwrap()
}

#[test]
fn its_seedlings_are_judged_by_its_adopted_parents() {
    let bench = with_offspring("adopt T1-10 NT");
    let expected = bench.json("expect X4");
    assert_eq!(expected["ratio"], "3:1", "{expected}");
    let ratio = bench.json("ratio X4");
    assert_ne!(ratio["batches"][0]["decides"], "impossible", "{ratio}");
    let genotype = bench.json("genotype NT");
    assert_eq!(genotype["clashes"], Value::Array(Vec::new()), "{genotype}");
    let found = bench.json("suspects T3");
    let batch = &found["batches"][0];
    for one in batch["seedlings"].as_array().unwrap() {
        let why = one["why"].as_str().unwrap();
        assert!(!why.contains("not explained"), "{why}");
        assert!(one["p_off"].as_f64().unwrap() < 0.2, "{one}");
    }
    // By its label all of it would be green.
    let bench = with_offspring("parent add NT --from T1-10");
    let by_label = bench.json("expect X4");
    assert!((p_of_class(&by_label, "green") - 1.0).abs() < 1e-12);
    assert_eq!(
        bench.json("ratio X4")["batches"][0]["decides"],
        "impossible"
    );
    // What is known of its genotype, and of its seedlings', is the same either way.
    assert_eq!(bench.json("genotype NT")["loci"], genotype["loci"]);
    let plain = bench.json("suspects T3");
    let off = |answer: &Value| -> Vec<f64> {
        let seedlings = answer["batches"][0]["seedlings"].as_array().unwrap();
        let off = seedlings.iter().map(|one| one["p_off"].as_f64().unwrap());
        off.collect()
    };
    assert_eq!(off(&plain).len(), off(&found).len());
    let pairs = off(&plain).into_iter().zip(off(&found));
    assert!(
        pairs
            .into_iter()
            .all(|(one, other)| (one - other).abs() < 1e-12)
    );
}

/// Of unknown pollen it is A/a with the strangers' share s of A: NL at 0.99 A/A and the rest even over its other genotypes,
/// CW and GF at 0.999 a/a likewise, and the even share of the locus, mean of the four. Selfed, 3/4 of s is purple.
#[test]
fn a_parent_that_is_not_of_the_ledger_is_a_stranger() {
    let bench = season();
    recorded(&bench, "adopt T1-10 NT --as unknown-pollen");
    recorded(&bench, "self NT --on 2026-03-21");
    let s = (0.9925 + 2.0 * 0.00075 + 0.5) / 4.0;
    let answer = bench.json("expect X4");
    assert!(
        (p_of_class(&answer, "purple") - 0.75 * s).abs() < 1e-9,
        "{answer}"
    );
}

#[test]
fn a_statement_is_held_against_the_adopted_parents() {
    let bench = season();
    recorded(&bench, "parent add NT --from T1-10 --genotype A/a");
    let clash = bench.json("genotype NT")["clashes"].clone();
    assert_eq!(
        clash[0]["record"]["plants"],
        serde_json::json!(["CW", "GF"]),
        "{clash}"
    );
    recorded(&bench, "adopt NT");
    assert_eq!(
        bench.json("genotype NT")["clashes"],
        Value::Array(Vec::new())
    );
}

#[test]
fn it_is_left_out_of_the_culls() {
    let bench = season();
    let before = bench.json("sheet T1");
    assert_eq!(before["trays"][0]["groups"][0]["verdict"], "cull");
    assert!(before["trays"][0]["true_lost_by_culling"].as_f64().unwrap() > 0.0);
    recorded(&bench, "adopt T1-10 NT");
    let sheet = bench.json("sheet T1");
    let groups = sheet["trays"][0]["groups"].as_array().unwrap();
    assert!(groups.iter().all(|group| group["verdict"] != "cull"));
    let kept = groups.iter().find(|group| group["verdict"] == "kept");
    assert_eq!(kept.unwrap()["lines"][0]["whom"], "T1-10");
    assert_eq!(sheet["trays"][0]["true_lost_by_culling"], 0.0);
    let words = flat(&bench.ok("sheet T1"));
    assert!(
        words.contains(
            "KEPT T1-10 purple 20 Mar; off-type 99.5 %. Kept as NT, CW x NL, an accident."
        ),
        "{words}"
    );
    assert!(!words.contains("CULL"), "{words}");
    let why = bench.json("why T1-10");
    assert_eq!(why["seedling"]["kept_as"]["code"], "NT");
    assert_eq!(why["seedling"]["kept_as"]["father"], "NL");
    assert_eq!(
        why["what_next"],
        "nothing to pull; it is kept as NT, CW x NL, an accident."
    );
    let words = flat(&bench.ok("why T1-10"));
    assert!(
        words.contains("kept as NT, CW x NL, an accident") && !words.contains("pull it, and"),
        "{words}"
    );
    let words = flat(&bench.ok("suspects T1"));
    assert!(!words.contains("Where the cull"), "{words}");
    let run = bench.run("cull T1-10");
    assert_eq!(run.status, Some(0), "{}", run.err);
    assert_eq!(
        flat(&run.err),
        "note: T1-10 was kept as NT, CW x NL, an accident; if it still stands, 'locule undo' takes this back"
    );
    let undone = bench.json("undo");
    let seedlings = &undone["answers"]["trays"][0]["seedlings"];
    assert_eq!(seedlings[0]["after"]["verdict"], "kept", "{undone}");
}

#[test]
fn it_is_adopted_where_its_label_is_less_likely_than_not() {
    let bench = season();
    for (odds, said) in [
        (
            "CW/GF=0.41,self=0.4,CW/_=0.17",
            "what T1-10 is cannot be told: CW x GF 41 %, CW selfed 40 %, CW x unknown pollen 17 %; say with --as which you \
             believe in try: locule adopt T1-10 N2 --as CW/CW",
        ),
        (
            "self=0.5,NL=0.5",
            "what T1-10 is cannot be told: CW selfed 50 %, CW x NL 50 %",
        ),
        (
            "CW/GF=0.51,self=0.49",
            "T1-10 most likely is what its label says, CW x GF (51 %)",
        ),
        ("self=0.3,CW/CW=0.3", "--odds names CW selfed twice"),
        (
            "self=0.6,unknown-seed=0.7",
            "the chances of --odds come to 1.300, and together they are at most 1",
        ),
    ] {
        let err = refused(&bench, &format!("adopt T1-10 N2 --odds {odds}"));
        assert!(err.contains(said), "{odds}: {err}");
    }
    // Chances rounded up by half of the last digit each are still no more than 1.
    let out = recorded(&bench, "adopt T1-10 N2 --odds self=0.5400,CW/GF=0.4601");
    assert_eq!(
        flat(&out),
        "N2: the seedling T1-10; kept as CW selfed (an accident, 54 % sure). Now: it may also be CW x GF 46 %."
    );
}

#[test]
fn what_the_records_speak_against_is_said_to_be_so() {
    let bench = season();
    let run = bench.run("adopt T1-10 NT --as self");
    assert_eq!(run.status, Some(0), "{}", run.err);
    assert!(
        flat(&run.err)
            .contains("note: the records speak against CW selfed for T1-10 (under 0.1 %)"),
        "{}",
        run.err
    );
    assert!(
        flat(&run.out).contains(
            "kept as CW selfed (an accident; the records speak against it (under 0.1 %))"
        ),
        "{}",
        run.out
    );
    assert!(
        flat(&bench.ok("pedigree NT")).contains(
            "Kept as CW selfed, an accident; the records speak against it (under 0.1 %) when adopted on 2026-03-21."
        )
    );
}

#[test]
fn one_that_was_kept_before_is_adopted_under_its_code() {
    let bench = season();
    recorded(&bench, "parent add K9 'Ninth' --from T1-10");
    let err = refused(&bench, "adopt T1-10 N2");
    assert!(
        err.contains("T1-10 has a code already: K9; it is adopted under that try: locule adopt K9"),
        "{err}"
    );
    assert_eq!(
        flat(&recorded(&bench, "adopt K9")),
        "K9: Ninth; the seedling T1-10; kept as CW x NL (an accident, 60 % sure). Now: it may also be CW x unknown pollen \
         33 %, seed from elsewhere 6.1 % or CW x GF 0.5 %."
    );
    assert_eq!(bench.json("pedigree K9")["plants"][0]["pedigree"], "CW/NL");
    // The other way round its second code is told with what it is kept as.
    let bench = season();
    recorded(&bench, "adopt T1-10");
    assert!(
        flat(&recorded(&bench, "parent add NT --from T1-10"))
            .starts_with("NT: the seedling T1-10; kept as CW x NL (an accident, 60 % sure)"),
    );
}

#[test]
fn what_was_not_read_by_itself_by_then_is_refused() {
    let bench = season();
    let err = refused(&bench, "adopt T1-10 NT --on 2026-03-01");
    assert!(
        err.contains(
            "nothing was read of T1-10 by 2026-03-01; it was first read on 2026-03-14 try: locule adopt T1-10 NT --on \
             2026-03-14"
        ),
        "{err}"
    );
    recorded(&bench, "sow X2 --seeds 6 --on 2026-02-20");
    recorded(&bench, "up T3 6 --on 2026-03-01");
    recorded(&bench, "score T3 purple=1 green=5");
    let err = refused(&bench, "adopt T3-01 NT");
    assert!(
        err.contains(
            "T3-01 was only counted among others, and which of them it is nobody said; score it by itself first try: locule \
             score T3-01 purple"
        ),
        "{err}"
    );
}

#[test]
fn its_parents_and_odds_are_fields_of_its_own() {
    let bench = season();
    let answer = bench.json("adopt T1-10 NT");
    assert_eq!(
        (&answer["code"], &answer["mother"], &answer["father"]),
        (&"NT".into(), &"CW".into(), &"NL".into())
    );
    assert_eq!(answer["label"], "X2 (CW x GF)");
    assert_eq!(answer["chance"], 0.6036);
    let odds = answer["odds"].as_array().unwrap();
    assert_eq!(odds.len(), 4, "{answer}");
    assert_eq!(odds[0]["p"], answer["chance"]);
    assert_eq!(odds[1]["father"], Value::Null);
    assert_eq!(odds[3]["father"], "GF");
    assert!(answer["notes"][0].as_str().unwrap().contains("X3"));
}
