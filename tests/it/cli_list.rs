//! `list`, `show` of loci and cells, and what `assume` and a scoring say, on a small invented season.

use unicode_width::UnicodeWidthStr;

use crate::support::{Bench, flat};

/// Two parents, their cross with seed, one tray of it with cells counted and one cell tallied.
fn season() -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-05-12");
    for line in [
        "init",
        "parent add NL 'Night Lantern' --species annuum --genotype A/A --proven",
        "parent add CW 'Chalk Window' --genotype a/a",
        "cross CW NL --on 2026-01-10",
        "set X1 --pods 2",
        "harvest X1 --seeds 31 --on 2026-02-20",
        "sow X1 --seeds 12 --cells 8 --on 2026-03-01",
        "up T1 --cells 1-3,5 --on 2026-03-11",
        "up T1-07 3 --on 2026-03-11",
        "score T1 1-2=purple --on 2026-05-01",
        "score T1-01 green --on 2026-05-01 --even-so",
        "note T1-02 'leaf torn'",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    bench
}

#[test]
fn list_says_what_is_there() {
    let bench = season();
    let value = bench.json("list");
    assert_eq!(value["parents"][0]["code"], "NL");
    assert_eq!(value["parents"][1]["genotype"], "a/a");
    let cross = &value["crosses"][0];
    assert_eq!(
        (&cross["mother"], &cross["pollinations"], &cross["pods"]),
        (&"CW".into(), &1.into(), &2.into())
    );
    assert_eq!(cross["seeds"], 19);
    assert_eq!(
        (&value["seed"][0]["lot"], &value["seed"][0]["left"]),
        (&"X1/1".into(), &19.into())
    );
    let tray = &value["trays"][0];
    assert_eq!(
        (&tray["of"], &tray["up"], &tray["standing"], &tray["read"]),
        (&"X1".into(), &7.into(), &7.into(), &"2026-05-01".into())
    );
    let loci = value["loci"].as_array().expect("a list");
    assert!(
        loci.iter().any(
            |locus| locus["symbol"] == "A" && locus["alleles"] == serde_json::json!(["A", "a"])
        )
    );
    assert!(bench.json("list trays")["parents"].is_null());
    for line in ["list", "list loci", "list parents", "list seed"] {
        let out = bench.ok(line);
        assert!(out.lines().all(|line| line.width() <= 80), "{out}");
    }
    assert!(bench.ok("list crosses").contains("CW x NL"));
}

#[test]
fn show_knows_loci_cells_and_trays_in_words() {
    let bench = season();
    let locus = bench.ok("show A");
    assert!(
        locus.starts_with("A (locus)\n") && locus.contains("alleles     A, a\n"),
        "{locus}"
    );
    let cell = bench.ok("show T1-07");
    assert!(
        cell.starts_with("T1-07 (cell)\n") && cell.contains("2026-03-11: 3\n"),
        "{cell}"
    );
    let tray = bench.ok("show T1");
    assert!(
        tray.starts_with("T1 (tray)\n")
            && tray.contains("2026-03-11: 3 in cell 07; cells 1-3, 5\n")
            && tray.contains("T1-01: 2026-05-01: purple (a newer one of that day counts);")
            && tray.contains("2026-05-01: green\n")
            && tray.contains("leaf torn"),
        "{tray}"
    );
    assert!(bench.fails("show T1-08", 1).contains("T1-08"));
}

#[test]
fn looks_of_one_verdict_are_said_together() {
    let bench = season();
    for line in [
        "parent add H1 --plant --genotype A/a --proven",
        "self H1 --covered --on 2026-01-10",
        "sow X2 --seeds 40 --on 2026-03-02",
        "up T2 40 --on 2026-03-12",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let run = bench.run("score T2 purple=30 green=10");
    let said = flat(&run.out);
    assert_eq!(
        said.matches("nothing speaks against them").count(),
        1,
        "{said}"
    );
    assert!(said.contains("30 purple and 10 green: "), "{said}");
}

#[test]
fn assume_begins_with_what_a_grower_may_want_to_change() {
    let out = season().ok("assume");
    let head: Vec<&str> = out.lines().take(6).collect();
    assert_eq!(head[0], "What you may want to change:");
    assert!(
        head[5].is_empty()
            && head[1..5]
                .iter()
                .any(|line| line.starts_with("  dim 0.02: ")),
        "{out}"
    );
    assert!(!season().ok("assume dim").contains("may want to change"));
}
