//! How warm the soil of trays is, as a record: with the sowing, of a tray, of the whole bench; what `germination` makes of
//! it.

use serde_json::Value;

use crate::support::{Bench, flat};

/// Two trays sown on 1 March and not counted to the end, on 20 March.
fn sown() -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-03-20");
    for line in ["init", "parent add NL --species annuum"] {
        bench.ok(line);
    }
    // The first warmth says what to mind.
    assert_eq!(
        bench
            .run("sow NL --seeds 12 --on 2026-03-01 --warmth 20")
            .status,
        Some(0)
    );
    for line in [
        "sow NL --seeds 12 --on 2026-03-01",
        "up T1 3 --on 2026-03-12",
        "up T2 3 --on 2026-03-12",
    ] {
        bench.ok(line);
    }
    bench
}

fn tray(bench: &Bench, line: &str) -> Value {
    bench.json(line)["trays"][0].clone()
}

/// Windows of 28 days times days(warmth)/8.16, from 25 °C on unchanged: days to emergence 12.5 at 20 °C and 8.16 at 26.5
/// (Harrington and Minges 1954, as tabulated by Knott).
#[test]
fn a_tray_is_waited_for_as_warm_as_it_was_recorded() {
    let bench = sown();
    let one = tray(&bench, "germination T1");
    assert_eq!(one["window_days"], 43, "28 x 12.5 / 8.16");
    assert_eq!(one["warmth_recorded"], 20.0);
    assert_eq!(one["warmth_since"], "2026-03-01");
    let said = flat(&bench.ok("germination T1"));
    let wanted =
        "not dead yet: at 20 °C, recorded on 1 March, wait until 13 April (43 days after sowing).";
    assert!(said.contains(wanted), "{said}");
    let other = tray(&bench, "germination T2");
    assert_eq!(
        (&other["window_days"], &other["warmth_recorded"]),
        (&28.into(), &Value::Null)
    );
    // The newest counts, of the tray or of all; a later day is not looked at before it has come.
    bench.ok("care warmth T2 --at 77F --on 2026-03-10");
    assert_eq!(
        tray(&bench, "germination T2")["window_days"],
        28,
        "the windows are those of 25 to 28 °C"
    );
    bench.ok("care warmth --at 30 --on 2026-03-15");
    for code in ["T1", "T2"] {
        let own = tray(&bench, &format!("germination {code}"));
        assert_eq!(own["window_days"], 28, "no shorter where it is warmer");
    }
    bench.ok("care warmth T2 --at 20 --on 2026-03-16");
    let then = tray(&bench, "germination T2 --on 2026-03-14");
    assert_eq!(then["warmth_recorded"], 25.0);
    assert_eq!(tray(&bench, "germination T2")["window_days"], 43);
    // What is asked goes before what is recorded.
    let asked = flat(&bench.ok("germination T1 --warmth 20"));
    assert!(
        asked.contains("at 20 °C, as asked, wait until 13 April"),
        "{asked}"
    );
}

#[test]
fn the_warmth_of_a_sowing_is_shown_and_amended_with_it() {
    let bench = sown();
    assert!(bench.ok("show T1").contains("2026-03-01: warmth, 20 °C"));
    let amended = bench.run("amend 3 sow NL --seeds 12 --on 2026-03-01 --warmth 25");
    assert_eq!(amended.status, Some(0), "{}", amended.err);
    assert_eq!(tray(&bench, "germination T1")["warmth_recorded"], 25.0);
    bench.ok("amend 3 sow NL --seeds 12 --on 2026-03-01");
    assert_eq!(
        tray(&bench, "germination T1")["warmth_recorded"],
        Value::Null
    );
}

#[test]
fn the_first_warmth_says_what_to_mind_of_water_and_current() {
    let bench = Bench::new();
    bench.ok("init");
    bench.ok("parent add NL");
    let first = bench.run("sow NL --seeds 12 --warmth 25");
    assert!(
        flat(&first.err).contains("pull the plug before you water"),
        "{}",
        first.err
    );
    let second = bench.run("care warmth T1 --at 24");
    assert_eq!((second.status, second.err.as_str()), (Some(0), ""));
}

#[test]
fn a_warmth_that_cannot_be_is_refused() {
    let bench = sown();
    for (line, status, wanted) in [
        (
            "care warmth T1 --at 75",
            1,
            "'75' is not the degrees of soil, 0 to 50 °C",
        ),
        ("care warmth T1", 1, "the degrees of soil"),
        (
            "sow NL --seeds 3 --warmth hot",
            1,
            "'hot' is not the degrees of soil",
        ),
        (
            "care warmth NL --at 24",
            1,
            "NL is a plant, and a tray is needed here",
        ),
        (
            "care warmth T1-03 --at 24",
            1,
            "T1-03 is a plant, and a tray is needed here",
        ),
        ("care feed T1 --at 24", 2, "--at says how warm it is"),
        (
            "care warmth T1 --at 12",
            1,
            "outside 15 to 35 °C, where pepper seed comes up",
        ),
    ] {
        let said = flat(&bench.fails(line, status));
        assert!(said.contains(wanted), "{line}\n{said}");
    }
    assert_eq!(
        bench.run("care warmth T1 --at 12 --even-so").status,
        Some(0)
    );
    assert_eq!(tray(&bench, "germination T1")["window_days"], 28);
    let said = flat(&bench.ok("germination T1"));
    assert!(
        said.contains(
            "T1: 12 °C was recorded on 20 March; outside 15 to 35 °C next to nothing comes up"
        ),
        "{said}"
    );
}
