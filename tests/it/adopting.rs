//! `adopt`: a seedling kept as what it probably is, in its pedigree and nowhere else.

use std::fs;

use serde_json::Value;

use crate::support::{Bench, finish, flat};

/// A tray of CW x GF, green by green, in which one seedling turned purple; NL's pollen was on the brush before. CW x NL was
/// made on purpose a day later. The adoption is entry 15.
pub fn season() -> Bench {
    let mut bench = Bench::new();
    for (day, line) in [
        ("2026-01-02", "init"),
        ("2026-01-02", "parent add NL 'Night Lantern' --genotype A/A"),
        ("2026-01-02", "parent add CW --genotype a/a --proven"),
        ("2026-01-02", "parent add GF --genotype a/a --proven"),
        ("2026-01-02", "cross GF NL --tool brush"),
        ("2026-01-02", "cross CW GF --tool brush"),
        ("2026-01-03", "cross CW NL --tool brush"),
        ("2026-02-02", "sow X2 --seeds 12"),
        ("2026-02-09", "sow X1 --seeds 8"),
        ("2026-02-12", "up T1 11"),
        ("2026-02-19", "up T2 8"),
        ("2026-03-14", "score T1 1-9=green 10=purple"),
        ("2026-03-14", "score T2 1-8=purple"),
        ("2026-03-20", "score T1 10=purple"),
    ] {
        let run = bench.on(day).run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    bench.on("2026-03-21");
    bench
}

fn records(bench: &Bench) -> Vec<String> {
    let export = bench.ok("export");
    let lines = export.lines().filter(|line| line.starts_with("{\"table\""));
    lines.map(str::to_owned).collect()
}

/// A command that is recorded, whatever is noted beside it; what it answers.
pub fn recorded(bench: &Bench, line: &str) -> String {
    let run = bench.run(line);
    assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    run.out
}

/// A command that must be refused, with nothing changed.
pub fn refused(bench: &Bench, line: &str) -> String {
    let before = bench.ok("export");
    let err = flat(&bench.fails(line, 1));
    assert_eq!(bench.ok("export"), before, "{line}");
    err
}

/// P(CW x NL), P(CW x unknown pollen), P(seed from elsewhere) and P(label) of T1-10, added up from what `suspects` says
/// source by source.
fn by_parents(bench: &Bench) -> [f64; 4] {
    let found = bench.json("suspects T1");
    let seedlings = found["batches"][0]["seedlings"].as_array().unwrap();
    let own = seedlings.iter().find(|one| one["seedling"] == "T1-10");
    let own = own.unwrap();
    let sources = own["sources"].as_array().unwrap();
    let of = |words: &[&str], code: Option<&str>| -> f64 {
        let mine = sources.iter().filter(|one| {
            words.iter().any(|word| one["source"] == *word)
                && code.is_none_or(|code| one["code"] == code)
        });
        mine.map(|one| one["p"].as_f64().unwrap()).sum()
    };
    [
        of(&["pollen", "all-pollen"], Some("NL")),
        of(&["unknown-pollen"], None),
        of(&["unknown-seed"], None)
            + sources
                .iter()
                .filter(|one| one["source"] == "swapped" && one["code"].is_null())
                .map(|one| one["p"].as_f64().unwrap())
                .sum::<f64>(),
        1.0 - own["p_off"].as_f64().unwrap(),
    ]
}

#[test]
fn a_seedling_is_kept_as_its_likeliest_parents_make_it() {
    let bench = season();
    let [with_nl, strange, elsewhere, label] = by_parents(&bench);
    let run = bench.run("adopt T1-10 NT 'Night Twin'");
    assert_eq!(run.status, Some(0), "{}", run.err);
    assert_eq!(
        flat(&run.out),
        "NT: Night Twin; the seedling T1-10; kept as CW x NL (an accident, 60 % sure). Now: it may also be CW x unknown \
         pollen 33 %, seed from elsewhere 6.1 % or CW x GF 0.5 %."
    );
    assert_eq!(
        flat(&run.err),
        "note: X3 is the same cross, CW x NL, made on purpose; T1-10 is an accident beside it, so keep their tags and \
         seed apart"
    );
    let history = bench.json("history");
    let typed = history["entries"][14]["command"].as_str().unwrap();
    assert_eq!(
        typed,
        format!(
            "adopt T1-10 NT 'Night Twin' --odds CW/NL={with_nl:.4},CW/_={strange:.4},unknown-seed={elsewhere:.4},\
             CW/GF={label:.4}"
        )
    );
    assert!((with_nl + strange + elsewhere + label - 1.0).abs() < 1e-3);
    let shown = bench.ok("show NT");
    assert!(
        shown.contains("kept as   CW x NL, an accident, 60 % sure when adopted on 2026-03-21"),
        "{shown}"
    );
    assert!(
        bench
            .ok("list parents")
            .contains("NT is kept as CW x NL, an accident, 60 % sure")
    );
    let genotype = flat(&bench.ok("genotype NT"));
    assert!(
        genotype.contains(
            "Kept as CW x NL, an accident, 60 % sure when adopted on 2026-03-21. What stands here weighs everything that \
             it may be."
        ),
        "{genotype}"
    );
}

/// Line CW x line NL with inbreeding 0.95 each: kinship of their child with NL is half of NL's with itself,
/// (1 + 0.95)/2/2 = 0.4875; with GF, the father on its label, none.
#[test]
fn the_pedigree_follows_the_likely_parents() {
    let bench = season();
    let before = bench.json("pedigree T1-10 NL GF");
    let kinship = |answer: &Value, one: &str, other: &str| {
        let lines = answer["kinship"].as_array().unwrap();
        let line = lines
            .iter()
            .find(|line| line["one"] == one && line["other"] == other);
        line.unwrap()["kinship"].as_f64().unwrap()
    };
    assert!(kinship(&before, "NL", "T1-10").abs() < 1e-12);
    assert!((kinship(&before, "GF", "T1-10") - 0.4875).abs() < 1e-12);
    recorded(&bench, "adopt T1-10 NT");
    let after = bench.json("pedigree NT NL GF");
    assert!((kinship(&after, "NL", "NT") - 0.4875).abs() < 1e-12);
    assert!(kinship(&after, "GF", "NT").abs() < 1e-12);
    let own = &after["plants"][0];
    assert_eq!(
        (&own["pedigree"], &own["generation"]),
        (&"CW/NL".into(), &"F1".into())
    );
    let accident = &own["ancestors"].as_array().unwrap().last().unwrap()["accidental"];
    assert_eq!(accident["label"], "X2 (CW x GF)");
    assert_eq!(
        (&accident["mother"], &accident["father"]),
        (&"CW".into(), &"NL".into())
    );
    assert!(
        (accident["chance"].as_f64().unwrap() - 0.6036).abs() < 1e-9,
        "{accident}"
    );
    let said = flat(&bench.ok("pedigree NT"));
    assert!(
        said.contains(
            "Kept as CW x NL, an accident, 60 % sure when adopted on 2026-03-21. Its label says X2 (CW x GF)."
        ),
        "{said}"
    );
    // Its own seedlings have that pedigree too.
    bench.ok("cross NT CW");
    assert_eq!(
        bench.json("pedigree X4")["plants"][0]["pedigree"],
        "CW/NL//CW"
    );
}

#[test]
fn of_unknown_pollen_the_mother_alone_is_known() {
    let bench = season();
    recorded(&bench, "adopt T1-10 NT --as unknown-pollen");
    let said = bench.json("pedigree NT");
    let own = &said["plants"][0];
    assert_eq!(own["pedigree"], "CW/unknown");
    let founders = own["founders"].as_array().unwrap();
    let share =
        |name: &str| founders.iter().find(|one| one["founder"] == name).unwrap()["share"].clone();
    assert_eq!((share("CW"), share("unknown")), (0.5.into(), 0.5.into()));
    assert!(
        bench
            .ok("show NT")
            .contains("kept as   CW x unknown pollen, an accident, 33 % sure")
    );
    bench.ok("amend 15 --as unknown-seed");
    let own = &bench.json("pedigree NT")["plants"][0];
    assert!(
        own["pedigree"].is_null() && own["founders"].as_array().unwrap().len() == 1,
        "{own}"
    );
    assert!(
        bench
            .ok("show NT")
            .contains("kept as  seed from elsewhere, an accident, 6.1 % sure")
    );
}

/// An answer without what it says of seedlings that were adopted, and without the sums over culls that leave them out.
fn beside_adoption(mut answer: Value) -> Value {
    match &mut answer {
        Value::Object(fields) => {
            for name in [
                "kept_as",
                "what_next",
                "true_lost_by_culling",
                "off_left_by_keeping",
            ] {
                fields.remove(name);
            }
            fields
                .values_mut()
                .for_each(|value| *value = beside_adoption(value.take()));
        }
        Value::Array(list) => list
            .iter_mut()
            .for_each(|value| *value = beside_adoption(value.take())),
        _ => {}
    }
    answer
}

/// The belief goes on weighing the seedling in its tray: adopting it is no further evidence.
#[test]
fn adopting_moves_no_answer_of_the_diagnosis() {
    let bench = season();
    let ask = || {
        let mut said: Vec<Value> = [
            "suspects T1",
            "suspects",
            "genotype --all",
            "why T1-10",
            "expect X3",
        ]
        .iter()
        .map(|line| beside_adoption(bench.json(line)))
        .collect();
        let mut own = bench.json("genotype T1-10");
        own.as_object_mut().unwrap().remove("accidental");
        said.push(own);
        said
    };
    let before = ask();
    let out = flat(&recorded(&bench, "adopt T1-10"));
    assert!(
        out.starts_with("T1-10: kept as CW x NL (an accident, 60 % sure)."),
        "{out}"
    );
    assert_eq!(ask(), before);
}

#[test]
fn what_cannot_be_adopted_is_refused_with_what_to_do() {
    let mut bench = season();
    for (line, said) in [
        (
            "adopt T1-11 N2",
            "nothing was read of T1-11 that speaks against its label; 'parent add' keeps it as labelled try: locule parent \
             add N2 --from T1-11",
        ),
        (
            "adopt T1-03 N2",
            "T1-03 most likely is what its label says, CW x GF (91.5 %); 'parent add' keeps it so, and --as names other \
             parents if you know better try: locule parent add N2 --from T1-03",
        ),
        (
            "adopt T1-10 --as CW/GF",
            "CW/GF is its label; by its readings 0.5 %; T1-10 is adopted only as something else try: locule adopt T1-10 CODE",
        ),
        (
            "adopt NL N2",
            "NL is a parent, and a seedling of a tray is meant",
        ),
        ("adopt T1 N2", "T1 is a whole tray, and one plant is meant"),
        ("adopt T1-10 NL", "the code NL is taken"),
        ("adopt T1-10 X9", "the code X9 is kept free"),
        ("adopt T1-10 --as NX", "there is no parent or seedling 'NX'"),
        ("adopt T1-10 --as foliage", "foliage is a trait"),
    ] {
        let err = refused(&bench, line);
        assert!(err.contains(said), "{line}: {err}");
    }
    for line in [
        "adopt T1-10 --as CW/",
        "adopt T1-10 --odds NL=2",
        "adopt T1-10 --odds NL",
    ] {
        bench.fails(line, 2);
    }
    recorded(&bench, "adopt T1-10 NT");
    let err = refused(&bench, "adopt NT N2");
    assert!(err.contains("NT is kept already, as CW x NL"), "{err}");
    let err = refused(&bench, "parent add N2 --from T1-10");
    assert!(err.contains("T1-10 has a code already: NT"), "{err}");
    bench.ok("parent add K3 --from T1-03");
    let err = refused(&bench, "adopt T1-03 N3 --as self");
    assert!(err.contains("T1-03 has a code already: K3"), "{err}");
    bench.ok("died T1-04");
    bench.on("2026-03-22");
    let err = refused(&bench, "adopt T1-04 N4 --as self");
    assert!(err.contains("T1-04") && err.contains("died"), "{err}");
}

#[test]
fn no_seedling_comes_from_its_own_offspring() {
    let mut bench = season();
    bench.ok("self T1-10 --on 2026-03-21");
    bench.on("2026-05-21").ok("sow X4 --seeds 4");
    recorded(&bench, "score T3-01 purple --even-so");
    let err = refused(&bench, "adopt T1-10 NT --as T3-01");
    assert!(err.contains("T1-10 would be its own ancestor"), "{err}");
    // Nor does a plant enter a pedigree that would close the ring.
    recorded(&bench, "adopt T3-01 N3 --as CW --odds CW=0.1");
    assert!(bench.ok("check-ledger").contains("All is well"));
}

#[test]
fn it_is_taken_back_and_brought_back() {
    let bench = season();
    let before = records(&bench);
    recorded(&bench, "adopt T1-10 NT 'Night Twin'");
    let adopted = records(&bench);
    assert!(bench.ok("show T1-10 --at 14").contains("T1-10"));
    assert!(!bench.ok("show T1-10 --at 14").contains("kept as"));
    assert!(bench.ok("history NT").contains("adopt T1-10 NT"));
    bench.ok("undo");
    assert_eq!(records(&bench), before);
    bench.ok("redo");
    assert_eq!(records(&bench), adopted);
    // What names it as a parent stands on the seedling, whatever that is.
    bench.ok("cross NT CW");
    recorded(&bench, "undo 15");
    assert_eq!(
        bench.json("pedigree X4")["plants"][0]["pedigree"],
        "CW/GF//CW"
    );
    assert!(bench.ok("check-ledger").contains("All is well"));
}

#[test]
fn an_adoption_is_amended() {
    let bench = season();
    recorded(&bench, "adopt T1-10 NT");
    let answer = bench.json("amend 15 --as self");
    assert_eq!(
        answer["changed"][0],
        "NT: father NL -> CW, chance 0.6036 -> 0"
    );
    let answer = bench.json("amend 15 --as NL");
    assert_eq!(
        answer["changed"][0],
        "NT: father CW -> NL, chance 0 -> 0.6036"
    );
    // The whole command: what it may be is worked out anew, as things stood when it was adopted.
    bench.ok("score T1-10 green --on 2026-03-21");
    let answer = bench.json("amend 15 adopt T1-10 NT --as unknown-pollen");
    assert_eq!(
        answer["changed"][0],
        "NT: father NL -> none, chance 0.6036 -> 0.3301"
    );
    let command = answer["command"].as_str().unwrap();
    assert!(
        command.starts_with("adopt T1-10 NT --as unknown-pollen --odds CW/NL=0.6036,"),
        "{command}"
    );
    // A parent's code corrected since is found in the odds.
    recorded(
        &bench,
        "amend 2 parent add NLN 'Night Lantern' --genotype A/A",
    );
    let answer = bench.json("amend 15 --as NLN");
    assert_eq!(
        answer["changed"][0],
        "NT: father none -> NLN, chance 0.3301 -> 0.6036"
    );
    // Without its readings nothing would speak against its label.
    recorded(&bench, "amend 14 score T1 9=purple");
    let err = refused(&bench, "amend 12 score T1 1-9=green");
    assert!(
        err.contains("later entries contradict it") && err.contains("nothing was read of T1-10"),
        "{err}"
    );
    assert!(bench.ok("check-ledger").contains("All is well"));
}

#[test]
fn it_goes_with_the_ledger() {
    let bench = season();
    recorded(&bench, "adopt T1-10 NT 'Night Twin'");
    let export = bench.ok("export");
    fs::write(bench.folder().join("season.jsonl"), &export).unwrap();
    recorded(&bench, "--ledger copy.db import season.jsonl");
    assert_eq!(bench.ok("--ledger copy.db export"), export);
    assert!(
        bench
            .ok("--ledger copy.db pedigree NT")
            .contains("an accident, 60 % sure")
    );
    // Beside the records of another ledger, under a prefix.
    let run = finish(
        bench
            .command(&["--ledger", "other.db", "init"])
            .env("LOCULE_SEED", "another"),
    );
    assert_eq!(run.status, Some(0), "{}", run.err);
    bench.ok("--ledger other.db parent add NL 'Another Lantern'");
    recorded(&bench, "--ledger other.db import season.jsonl --prefix B.");
    let own = &bench.json("--ledger other.db pedigree B.NT")["plants"][0];
    assert_eq!(own["pedigree"], "B.CW/B.NL");
    assert!(
        bench
            .ok("--ledger other.db check-ledger")
            .contains("All is well")
    );
}
