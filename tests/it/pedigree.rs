//! `pedigree` and `parent add --pedigree` in the real program, on small invented seasons.

use serde_json::Value;
use unicode_width::UnicodeWidthStr;

use crate::support::{Bench, flat};

/// Two lines, and their descent over three generations of selfing, one plant kept of each.
pub fn season() -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-05-20");
    for line in [
        "init",
        "parent add NL 'Night Lantern' --genotype A/A",
        "parent add CW 'Chalk Wren' --genotype a/a",
        "cross NL CW --on 2024-06-01",
        "harvest X1 --seeds 20 --on 2024-08-01",
        "sow X1 --seeds 4 --on 2025-01-01",
        "parent add H1 --from T1-01",
        "self H1 --on 2025-05-01",
        "sow X2 --seeds 20 --on 2025-08-01",
        "up T2 20 --on 2025-08-12",
        "score T2 3=purple --on 2025-10-01",
        "parent add H2 --from T2-03",
        "self H2 --covered --on 2025-12-01",
        "sow X3 --seeds 12 --on 2026-03-01",
        "up T3 12 --on 2026-03-12",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    bench
}

fn generation(bench: &Bench, code: &str) -> Value {
    bench.json(&format!("pedigree {code}"))["plants"][0]["generation"].clone()
}

#[test]
fn a_seed_lot_is_one_ahead_of_its_plant() {
    let bench = season();
    for (code, wanted) in [
        ("X1", "F1"),
        ("X1/1", "F1"),
        ("T1", "F1"),
        ("T1-02", "F1"),
        ("H1", "F1"),
        ("X2", "F2"),
        ("T2-03", "F2"),
        ("H2", "F2"),
        ("X3", "F3"),
        ("T3", "F3"),
    ] {
        assert_eq!(generation(&bench, code), wanted, "{code}");
    }
    assert_eq!(generation(&bench, "NL"), Value::Null);
    let tray = &bench.json("pedigree T3")["plants"][0];
    assert_eq!(
        (&tray["family"], &tray["of"]),
        (&"F2:3".into(), &"seed".into())
    );
    assert_eq!(tray["inbreeding"], 0.75, "two selfings of an F1");
    let plant = &bench.json("pedigree H2")["plants"][0];
    assert_eq!(
        (&plant["selfed_seed"], &plant["family"]),
        (&"F3".into(), &Value::Null)
    );
    for code in ["NL", "X1", "H1", "H2", "T3"] {
        let said = bench.ok(&format!("pedigree {code}"));
        let rival = ["S0", "S1", "S2"].iter().any(|name| said.contains(name));
        assert!(!rival, "S0 and S1 have two rival meanings: {said}");
    }
}

#[test]
fn backcrosses_and_crosses_of_hybrids_have_their_names() {
    let bench = season();
    for line in [
        "parent add RB 'River Bell' --packet",
        "parent add SM 'Small Moon'",
        "cross NL H1 --code B1 --on 2025-05-02",
        "sow B1 --seeds 4 --tray TB --on 2025-08-01",
        "parent add K1 --from TB-01",
        "self K1 --on 2025-12-01",
        "cross K1 NL --code B2 --on 2025-12-01",
        "cross H1 RB --code W3 --on 2025-12-01",
        "cross RB SM --code X7 --on 2025-05-02",
        "sow X7 --seeds 4 --tray T7 --on 2025-08-01",
        "parent add K7 --from T7-01",
        "cross H1 K7 --code W4 --on 2025-12-01",
        "sow X1 --seeds 4 --tray T9 --on 2025-01-02",
        "parent add H9 --from T9-02",
        "cross H1 H9 --code S2 --on 2025-05-02",
        "cross K1 H2 --code Q1 --on 2025-12-02",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    for (code, wanted, pedigree) in [
        ("B1", "BC1", "NL*2/CW"),
        ("X4", "BC1F2", "NL*2/CW"),
        ("B2", "BC2", "NL*2/CW//NL"),
        ("W3", "three-way cross", "NL/CW//RB"),
        ("W4", "four-way cross", "NL/CW//RB/SM"),
        ("S2", "F2", "NL/CW//NL/CW"),
    ] {
        let found = &bench.json(&format!("pedigree {code}"))["plants"][0];
        assert_eq!(found["generation"], wanted, "{code}");
        assert_eq!(found["pedigree"], pedigree, "{code}");
    }
    assert_eq!(generation(&bench, "Q1"), Value::Null);
    assert!(
        bench
            .ok("pedigree Q1")
            .starts_with("Q1 (seed): a generation without a usual name\n")
    );
    let back = bench.json("pedigree B2");
    assert_eq!(
        back["plants"][0]["recurrent"],
        serde_json::json!({"parent": "NL", "backcrosses": 2, "share": 0.875})
    );
    assert!(
        bench
            .ok("pedigree B2")
            .contains("Expected share of NL, crossed back twice: 87.5 %.")
    );
    let uniform = flat(&bench.ok("pedigree X7"));
    assert!(
        uniform.contains(
            "An F1 is uniform only if both parents breed true: RB (a packet) may not and SM (a line) is taken to."
        ),
        "{uniform}"
    );
}

#[test]
fn the_tree_fits_the_page() {
    let mut bench = season();
    let tree = "H2 (a seedling): F2
  Pedigree: NL/CW
  By name: Night Lantern/Chalk Wren
  Its selfed seed is F3.
  Inbreeding 0.5, where 0 is none and 1 wholly fixed.
  Expected from the founders: NL 50 %, CW 50 %.

  H2, F2
  `- selfed: H1, F1
     |- mother: NL, Night Lantern, a line
     `- father: CW, Chalk Wren, a line
";
    assert_eq!(bench.ok("pedigree H2"), tree);
    let long = "Bell of the long river that never ends and never begins";
    let line = format!(
        "parent add ZZ --plant --pedigree \"{long} A/{long} B//{long} C/3/{long} D/4/{long} E/5/NL\""
    );
    assert_eq!(bench.run(&line).status, Some(0));
    for width in [80, 120] {
        bench.wide(width);
        let said = bench.ok("pedigree ZZ");
        assert!(said.lines().all(|line| line.width() <= width), "{said}");
        assert!(
            said.contains("|- mother: ") && said.contains("`- father: NL"),
            "{said}"
        );
    }
    // Thirty generations of selfing are cut where no room is left, and say so.
    for at in 0..30 {
        let from = if at == 0 {
            "H2".to_owned()
        } else {
            format!("S.{}", at - 1)
        };
        let pedigree = format!("parent add S.{at} --plant --pedigree \"{from}/CW\"");
        assert_eq!(bench.run(&pedigree).status, Some(0));
    }
    bench.wide(80);
    let said = bench.ok("pedigree S.29");
    assert!(said.lines().all(|line| line.width() <= 80), "{said}");
    let ends = said.contains("S.12") && !said.contains("S.11");
    assert!(ends && said.contains("and so on"), "{said}");
}

#[test]
fn several_plants_have_a_kinship() {
    let bench = season();
    let said = bench.ok("pedigree H1 NL CW");
    let table = " kinship       H1      NL      CW
----------------------------------
 H1           0.5
 NL        0.4875   0.975
 CW        0.4875       0   0.975
";
    assert!(said.contains(table), "{said}");
    let value = bench.json("pedigree H1 NL");
    assert_eq!(
        value["kinship"],
        serde_json::json!([
            {"one": "H1", "other": "H1", "kinship": 0.5},
            {"one": "NL", "other": "H1", "kinship": 0.4875},
            {"one": "NL", "other": "NL", "kinship": 0.975},
        ])
    );
    let sibs = bench.json("pedigree X2 T2-07");
    assert_eq!(sibs["kinship"][0]["kinship"], 0.75, "a seed with itself");
    assert_eq!(
        sibs["kinship"][1]["kinship"], 0.5,
        "two seeds of one selfed F1"
    );
    bench.ok("assume inbreeding.line 1");
    let value = bench.json("pedigree H1 NL");
    assert_eq!(
        value["kinship"][1]["kinship"], 0.5,
        "an F1 has half of a pure line"
    );
    assert!(
        bench.json("pedigree NL")["kinship"]
            .as_array()
            .is_some_and(Vec::is_empty)
    );
}

/// Every example of the notation, typed in and printed again (see `tests/it/genetics_pedigree.rs` for its source).
#[test]
fn pedigrees_are_taken_and_given_back() {
    let bench = Bench::new();
    bench.ok("init");
    for (at, (typed, generation)) in [
        ("Nebred//Hope/Turkey Red/3/Cheyenne/Ponca", Value::Null),
        ("A/B", "F1".into()),
        ("A/B//C", "three-way cross".into()),
        ("C//A/B", "three-way cross".into()),
        ("A/B//C/D", "four-way cross".into()),
        ("A/B//C/3/D", Value::Null),
        ("D/3/A/B//C", Value::Null),
        ("A/B//C/D/3/E/F", Value::Null),
        ("A*2/B", "BC1".into()),
        ("B/3*A", "BC2".into()),
        ("A/B//A", "BC1".into()),
        ("A/B/3/C//D/E", Value::Null),
        ("Sweet Green/Hot Purple//Sweet Green", "BC1".into()),
    ]
    .into_iter()
    .enumerate()
    {
        let run = bench.run(&format!("parent add P{at} --plant --pedigree \"{typed}\""));
        assert_eq!(run.status, Some(0), "{}", run.err);
        let found = &bench.json(&format!("pedigree P{at}"))["plants"][0];
        assert_eq!(found["pedigree"], typed);
        assert_eq!(found["generation"], generation, "{typed}");
    }
    let first = &bench.json("pedigree P0")["plants"][0]["founders"];
    assert_eq!(
        first[0],
        serde_json::json!({"founder": "Nebred", "share": 0.25})
    );
    let parents = bench.json("list parents")["parents"].clone();
    assert_eq!(
        parents.as_array().map(Vec::len),
        Some(13),
        "ancestors are no parents: {parents}"
    );
    assert!(bench.ok("check-ledger").contains("All is well"));
}

/// The backcross in full: foliage 1 A/a : 1 a/a, heat 1 hot : 1 not, four classes 1:1:1:1.
#[test]
fn the_invented_example_has_its_ratios() {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add SG 'Sweet Green' --genotype 'a/a pun1/pun1'",
        "parent add HP 'Hot Purple' --genotype 'A/A Pun1/Pun1'",
        "parent add F1 --plant --pedigree 'Sweet Green/Hot Purple' --genotype 'A/a Pun1/pun1'",
        "cross F1 SG --on 2025-05-01",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    let found = &bench.json("pedigree X1")["plants"][0];
    assert_eq!(
        (
            &found["generation"],
            &found["pedigree"],
            &found["pedigree_by_name"]
        ),
        (
            &"BC1".into(),
            &"SG/HP//SG".into(),
            &"Sweet Green/Hot Purple//Sweet Green".into()
        )
    );
    assert_eq!(
        found["founders"][0],
        serde_json::json!({"founder": "SG", "share": 0.75})
    );
    assert_eq!(bench.json("expect X1 --trait foliage")["ratio"], "1:1");
    let both = "expect --mother 'A/a Pun1/pun1' --father 'a/a pun1/pun1' --rule 'A/_ Pun1/_ => purple-hot' \
                --rule 'A/_ => purple-sweet' --rule 'Pun1/_ => green-hot' --rule 'else => green-sweet'";
    assert_eq!(bench.json(both)["ratio"], "1:1:1:1");
}

#[test]
fn names_become_plants_or_ancestors() {
    let bench = season();
    let run = bench.run("parent add RB --pedigree 'Night Lantern/Old Bell//t1-02 -12-3'");
    assert_eq!(
        (run.status, run.out.as_str(), run.err.as_str()),
        (
            Some(0),
            "RB: a line out of NL/Old Bell/3/NL/CW.\n"
                .replace("/3/", "//")
                .as_str(),
            "note: Old Bell is no plant of the ledger; entered as an ancestor\n"
        )
    );
    assert!(bench.ok("show RB").contains("selection history 12-3"));
    let slip = bench.run("parent add RC --pedigree 'Chalk Wern/NL'");
    assert!(
        flat(&slip.err).contains("if Chalk Wern is Chalk Wren, 'locule undo' and write Chalk Wren"),
        "{}",
        slip.err
    );
    let later = bench.run("parent add OB 'old bell' --packet");
    assert_eq!(
        flat(&later.err),
        "note: Old Bell stood in pedigrees as an ancestor; this is the same plant from now on"
    );
    assert_eq!(
        bench.json("pedigree RB")["plants"][0]["pedigree"],
        "NL/OB//NL/CW"
    );
    bench.ok("undo");
    assert_eq!(
        bench.json("pedigree RB")["plants"][0]["pedigree"],
        "NL/Old Bell//NL/CW"
    );
    for (typed, wanted) in [
        ("A//B", "// stands in the pedigree where / would do"),
        ("A/B/3/C", "/3/ stands in the pedigree where // would do"),
        ("B/A*3", "read as B/3*A"),
    ] {
        let code = typed.len();
        let run = bench.run(&format!("parent add Q.{code} --pedigree \"{typed}\""));
        assert_eq!(run.status, Some(0));
        assert!(flat(&run.err).contains(wanted), "{}", run.err);
    }
}

#[test]
fn what_is_malformed_or_impossible_is_refused() {
    let bench = season();
    assert_eq!(
        bench.fails("parent add RB --pedigree 'A//B//C'", 1),
        "error: the pedigree cannot be read: // stands twice here and is the highest
  slash, so it is open which cross was made last
  A//B//C
      ^
  give the last cross the highest slash: A/B//C is (A x B) x C, A/B//C/3/D goes
    on
try: locule parent add --help
"
    );
    for (line, wanted) in [
        (
            "parent add RB --pedigree 'RB/NL'",
            "RB would be its own ancestor: its pedigree names RB itself",
        ),
        (
            "parent add RB 'River Bell' --pedigree 'river bell/NL'",
            "its pedigree names river bell itself",
        ),
        (
            "parent add RB --pedigree 'X1/NL'",
            "X1 is a cross, and a parent or seedling is needed here",
        ),
        (
            "parent add RB --pedigree 'X9/NL'",
            "there is no parent or seedling 'X9'",
        ),
        ("parent add RB --pedigree 'T3/NL'", "T3 is a tray"),
        ("parent add RB --pedigree 'T3-40/NL'", "T3 has no cell 40"),
        ("parent add RB --pedigree ' '", "the pedigree is empty"),
        (
            "pedigree foliage",
            "foliage is a trait, and that has no pedigree",
        ),
        ("pedigree ZZ", "'ZZ' is not in the ledger"),
        ("stable X1", "X1 is a cross, and one plant is meant"),
        ("stable NL --trait nope", "'nope' is not in the ledger"),
    ] {
        let err = flat(&bench.fails(line, 1));
        assert!(err.contains(wanted), "{line}: {err}");
    }
    bench.fails("parent add RB --from T3-01 --pedigree 'NL/CW'", 2);
    bench.fails("stable NL --alike 3", 2);
    bench.fails("stable", 2);
    bench.fails("stable --alike 3 --pure 2", 2);
    assert!(
        bench.json("list parents")["parents"]
            .as_array()
            .is_some_and(|all| all.len() == 4)
    );
}

#[test]
fn no_plant_is_its_own_ancestor() {
    let bench = season();
    for line in [
        "parent add RB --pedigree 'NL/Old Bell//CW'",
        "cross RB H2 --code Q1 --on 2026-01-01",
        "sow Q1 --seeds 4 --tray TQ --on 2026-02-01",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    let wanted = "Old Bell would be its own ancestor; the ledger says that RB comes from (NL x Old Bell) x CW";
    for line in [
        "parent add OB 'Old Bell' --pedigree 'CW/RB'",
        "parent add OB 'Old Bell' --pedigree 'CW/New Bell//RB/NL'",
        "parent add OB 'Old Bell' --pedigree 'TQ-02/CW'",
    ] {
        let err = flat(&bench.fails(line, 1));
        assert!(err.contains(wanted), "{line}: {err}");
        assert!(err.ends_with("try: locule pedigree RB"), "{err}");
    }
    assert_eq!(
        bench
            .run("parent add OB 'Old Bell' --pedigree 'CW/NL'")
            .status,
        Some(0)
    );
    assert_eq!(
        bench.json("pedigree RB")["plants"][0]["pedigree"],
        "NL/OB//CW"
    );
    assert!(bench.ok("check-ledger").contains("All is well"));
}

#[test]
fn a_name_that_several_plants_have_is_settled_by_a_code() {
    let bench = season();
    assert_eq!(
        bench.run("parent add N2 'night lantern' --packet").status,
        Some(0)
    );
    let err = bench.fails("parent add RB --pedigree 'Night Lantern/CW'", 1);
    assert_eq!(
        flat(&err),
        "error: several plants are named 'Night Lantern': NL and N2 try: locule parent add RB --pedigree NL/CW"
    );
}
