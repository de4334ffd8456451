//! `plan calendar` in the real program: the days counted by hand on a calendar, own records, and what is refused.

use crate::support::{Bench, flat};

/// From 1 November 2026: 7 to 14 days of drying, 55 to 65 from pollination, and from sowing to the first flower 8 to 15
/// days of emergence and 50 to 80 after it, by common practice.
#[test]
fn days_are_counted_back_from_ripe_seed() {
    let bench = Bench::new();
    let said = flat(&bench.ok("plan calendar --ripe-seed 1nov --species annuum"));
    assert!(
        said.starts_with("For F1 seed dry on 1 November: sow annuum by 11 May."),
        "{said}"
    );
    assert!(
        said.contains("annuum parents 2026-05-11 2026-07-04 2026-08-14 2026-08-31"),
        "{said}"
    );
    for part in [
        "sowing to up: 8 to 15 days, by the starting beliefs",
        "sowing to first flower: 58 to 95 days",
        "pollination to ripe seed: 55 to 65 days, common practice",
        "common practice has no published source",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let found = bench.json("plan calendar --ripe-seed 2026-11-01 --species annuum");
    let first = &found["species"][0]["generations"][0];
    assert_eq!(
        first["sow"],
        serde_json::json!({"from": "2026-05-11", "until": "2026-07-04"})
    );
    assert_eq!(
        first["cross"],
        serde_json::json!({"from": "2026-08-14", "until": "2026-08-31"})
    );
    assert_eq!(found["ripe_seed"], "2026-11-01");
    assert_eq!(found["species"][0]["past"], "no");
}

/// Without a ledger the five cultivated species, what has to be sown first standing first.
#[test]
fn every_species_has_its_days() {
    let bench = Bench::new();
    let found = bench.json("plan calendar --ripe-seed 1nov");
    let species: Vec<&str> = found["species"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["species"].as_str().unwrap())
        .collect();
    assert_eq!(species.len(), 5);
    assert_eq!((species[0], species[4]), ("pubescens", "annuum"));
}

#[test]
fn sowing_today_says_when_seed_is_dry_at_the_earliest() {
    let bench = Bench::new();
    let said = flat(&bench.ok("plan calendar --sow today --species annuum"));
    // 1 March and 58 + 55 + 7 days; and 95 + 65 + 14.
    assert!(
        said.starts_with("Sown on 1 March, F1 seed is dry: annuum between 29 June and 22 August."),
        "{said}"
    );
    let two = bench.json("plan calendar --sow 2026-03-01 --generations 2 --species annuum");
    let generations = two["species"][0]["generations"].as_array().unwrap();
    assert_eq!(generations.len(), 2);
    assert_eq!(generations[1]["grown"], "F1");
    assert_eq!(generations[0]["dry"], generations[1]["sow"]);
    assert_eq!(
        generations[1]["dry"]["from"], "2026-10-27",
        "240 days after 1 March"
    );
}

#[test]
fn what_is_already_past_is_said() {
    let bench = Bench::new();
    let late = flat(&bench.ok("plan calendar --ripe-seed 1nov --species annuum --on 2026-08-01"));
    assert!(
        late.contains(
            "too late to sow annuum, but plants that stand already may be crossed until 31 August"
        ),
        "{late}"
    );
    assert!(
        late.contains("already past, even if all goes fast"),
        "{late}"
    );
    assert!(late.contains("2026-07-04 (past)"), "{late}");
    // 1 August and 120 or 174 days.
    assert!(
        late.contains("sown on 1 August its seed is dry between 29 November and 22 January 2027"),
        "{late}"
    );
    let over = flat(&bench.ok("plan calendar --ripe-seed 1nov --species annuum --on 2026-09-10"));
    assert!(over.contains("too late for annuum."), "{over}");
    let soon = flat(&bench.ok("plan calendar --ripe-seed 1nov --species annuum --on 2026-06-01"));
    assert!(
        soon.contains("sow annuum at once, 4 July at the latest"),
        "{soon}"
    );
    assert!(soon.contains("already past if all goes slowly"), "{soon}");
    let gone = flat(&bench.ok("plan calendar --ripe-seed 2025-11-01 --species annuum"));
    assert!(
        gone.contains("1 November 2025, a day already past"),
        "{gone}"
    );
    // A day without a year is the next one.
    let next = bench.json("plan calendar --ripe-seed 1feb --species annuum");
    assert_eq!(next["ripe_seed"], "2027-02-01");
}

/// Three harvests 50, 58 and 61 days after their pollination, three trays, and three seedlings crossed.
#[test]
fn the_growers_own_numbers_go_first() {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add CW 'Chalk Wren' --species annuum",
        "parent add NL 'Night Lantern' --species chinense",
        "cross CW NL --code XA --on 2025-07-01",
        "cross CW NL --code XB --on 2025-07-01",
        "self CW --code XC --on 2025-07-01",
        "harvest XA --pods 1 --seeds 60 --on 2025-08-20",
        "harvest XB --pods 1 --seeds 60 --on 2025-08-28",
    ] {
        bench.ok(line);
    }
    let pace = |what: &str| {
        let found = bench.json("plan calendar --ripe-seed 1nov");
        let all = found["species"].as_array().unwrap().clone();
        assert_eq!(all.len(), 2, "those of the ledger");
        let annuum = all.iter().find(|one| one["species"] == "annuum").unwrap();
        annuum[what].clone()
    };
    assert_eq!(
        pace("to_ripe")["from"],
        "practice",
        "two harvests are too few"
    );
    bench.ok("harvest XC --pods 1 --seeds 60 --on 2025-08-31");
    assert_eq!(
        pace("to_ripe"),
        serde_json::json!({"fewest": 50, "most": 61, "from": "own", "records": 3})
    );
    for (tray, day) in [
        ("T1", "2025-10-13"),
        ("T2", "2025-10-15"),
        ("T3", "2025-10-18"),
    ] {
        bench.ok("sow XC --seeds 10 --on 2025-10-01");
        bench.ok(&format!("up {tray} 0 --on 2025-10-05"));
        bench.ok(&format!("up {tray} 8 --on {day}"));
    }
    let up = pace("to_up");
    assert_eq!((&up["from"], &up["records"]), (&"own".into(), &3.into()));
    for (tray, code, day) in [
        ("T1", "K1", "2025-12-30"),
        ("T2", "K2", "2026-01-09"),
        ("T3", "K3", "2026-01-14"),
    ] {
        bench.ok(&format!("score {tray}-01 purple --on 2025-11-10"));
        bench.ok(&format!(
            "parent add {code} --from {tray}-01 --on 2025-11-11"
        ));
        bench.ok(&format!("self {code} --on {day}"));
    }
    assert_eq!(
        pace("to_flower"),
        serde_json::json!({"fewest": 90, "most": 105, "from": "own", "records": 3})
    );
    let said = flat(&bench.ok("plan calendar --ripe-seed 1nov --species annuum"));
    assert!(
        said.contains("sowing to first flower: 90 to 105 days, by 3 records of your own"),
        "{said}"
    );
    let stated =
        bench.json("plan calendar --ripe-seed 1nov --species annuum --to-ripe 8-9w --drying 7");
    assert_eq!(
        stated["species"][0]["to_ripe"],
        serde_json::json!({"fewest": 56, "most": 63, "from": "stated", "records": null})
    );
}

/// 1 February is past on 1 March: the next is taken, and it is said so; a day with its year is taken as it stands.
#[test]
fn the_year_that_is_taken_is_said() {
    let bench = Bench::new();
    let said = flat(&bench.ok("plan calendar --sow 1feb --species annuum"));
    assert!(said.starts_with("Sown on 1 February 2027,"), "{said}");
    assert!(
        said.contains(
            "no year was named: 1 February 2027 is the next one, for the last is past; that is --sow 2026-02-01"
        ),
        "{said}"
    );
    let found = bench.json("plan calendar --sow 1feb --species annuum");
    assert_eq!(found["same_day_this_year"], "2026-02-01");
    for line in ["--sow 2026-02-01", "--sow 1apr", "--sow today"] {
        let found = bench.json(&format!("plan calendar {line} --species annuum"));
        assert_eq!(
            found["same_day_this_year"],
            serde_json::Value::Null,
            "{line}"
        );
    }
    let sown = flat(&bench.ok("plan calendar --sow 2026-02-01 --species annuum"));
    assert!(sown.starts_with("Sown on 1 February,"), "{sown}");
}

/// Seed can be sown undried.
#[test]
fn seed_need_not_be_dried() {
    let bench = Bench::new();
    let found = bench.json("plan calendar --sow today --species annuum --drying 0");
    let first = &found["species"][0]["generations"][0];
    assert_eq!(first["ripe"], first["dry"]);
}

#[test]
fn what_cannot_be_read_is_refused() {
    let bench = Bench::new();
    for (line, status, part) in [
        ("plan calendar", 2, "--ripe-seed"),
        (
            "plan calendar --ripe-seed 1nov --sow today",
            2,
            "cannot be used with",
        ),
        (
            "plan calendar --ripe-seed 1/11/2026",
            2,
            "could be read two ways",
        ),
        ("plan calendar --ripe-seed 31nov", 2, "not in the calendar"),
        (
            "plan calendar --ripe-seed 1nov --species anuum",
            1,
            "nothing is known of a species 'anuum'",
        ),
        (
            "plan calendar --ripe-seed 1nov --to-ripe 2months",
            2,
            "'months' is no unit of time",
        ),
        (
            "plan calendar --ripe-seed 1nov --to-ripe 65-55",
            2,
            "the fewest days come first",
        ),
        (
            "plan calendar --ripe-seed 1nov --to-ripe x",
            2,
            "'x' is no unit",
        ),
        (
            "plan calendar --ripe-seed 1nov --to-up 20 --to-flower 10",
            2,
            "no plant flowers before it is up",
        ),
        (
            "plan calendar --ripe-seed 1nov --generations 0",
            2,
            "a whole number from 1 to 8",
        ),
        (
            "plan calendar --ripe-seed 1nov --generations -1",
            2,
            "a whole number from 1 to 8",
        ),
        (
            "plan calendar --ripe-seed 1nov --to-up -3",
            2,
            "no stretch is shorter than nothing",
        ),
        (
            "plan calendar --ripe-seed 1nov --to-up 0-10",
            2,
            "--to-up: no seed is up on the day it is sown",
        ),
        (
            "plan calendar --ripe-seed 1nov --to-flower 0",
            2,
            "--to-flower: no plant flowers on the day it is sown",
        ),
        (
            "plan calendar --ripe-seed 1nov --to-ripe 0-60",
            2,
            "--to-ripe: no pod is ripe on the day of its pollination",
        ),
        // Until seed of annuum is up it takes 8 to 15 days by the starting beliefs.
        (
            "plan calendar --ripe-seed 1nov --species annuum --to-flower 5",
            2,
            "annuum is up 8 to 15 days after sowing and would flower 5 days after it",
        ),
        (
            "plan calendar --ripe-seed 1nov --to-ripe 99999999999999999w",
            2,
            "none are more than 730",
        ),
    ] {
        let said = flat(&bench.fails(line, status));
        assert!(said.contains(part), "{line}: {said}");
    }
}
