//! Seed from the flower to the store in the real program: pods picked young, counts that fall, seed that is not there.

use crate::support::{Bench, flat};

fn bench() -> Bench {
    Bench::with(
        "2026-04-20",
        &[
            "parent add PF --species annuum --genotype a/a",
            "parent add DM --species annuum --genotype A/A",
            "parent add HB --species chinense",
        ],
    )
}

/// The note that a line is recorded with.
fn note(bench: &Bench, line: &str) -> String {
    let run = bench.run(line);
    assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    flat(&run.err)
}

#[test]
fn pods_picked_young_are_remarked_on() {
    let bench = bench();
    for (mother, code, day) in [
        ("PF", "C1", "28mar"),
        ("PF", "C2", "20mar"),
        ("PF", "C3", "7mar"),
        ("HB", "C4", "7mar"),
        ("HB", "C5", "1mar"),
    ] {
        assert_eq!(
            bench
                .run(&format!("cross {mother} DM --on {day} --code {code}"))
                .status,
            Some(0)
        );
    }
    let of_23 = note(&bench, "harvest C1 --pods 1");
    assert!(
        of_23.contains(
            "a pod of 23 days: the youngest pods whose seed germinated were 28 days old in one study; seed kept 14 days in \
             the picked fruit does better"
        ),
        "{of_23}"
    );
    let of_31 = note(&bench, "harvest C2 --pods 1");
    assert!(
        of_31.contains("a pod of 31 days: seed was best of pods of 44"),
        "{of_31}"
    );
    assert_eq!(note(&bench, "harvest C3 --pods 1"), "", "44 days");
    let slow = note(&bench, "harvest C4 --pods 1");
    assert!(
        slow.contains("those of chinense are seldom ripe before 50 days (common practice)"),
        "{slow}"
    );
    assert_eq!(note(&bench, "harvest C5 --pods 1"), "", "50 days");
}

/// 23 and 46 days without seed; 50 to 61 days with seed alone make the grower's own days.
#[test]
fn pods_without_seed_or_picked_young_are_no_own_days() {
    let bench = bench();
    let own = || {
        bench.json("plan calendar --ripe-seed 1nov --species annuum")["species"][0]["to_ripe"]
            .clone()
    };
    for (code, day, seeds) in [
        ("C1", "28mar", 12),
        ("C2", "5mar", 0),
        ("C3", "1mar", 0),
        ("C4", "1mar", 30),
        ("C5", "27feb", 30),
    ] {
        bench.run(&format!("cross PF DM --on {day} --code {code}"));
        note(&bench, &format!("harvest {code} --pods 1 --seeds {seeds}"));
    }
    assert_eq!(own()["from"], "practice");
    bench.run("cross PF DM --on 18feb --code C6");
    note(&bench, "harvest C6 --pods 1 --seeds 9");
    assert_eq!(
        own(),
        serde_json::json!({"fewest": 50, "most": 61, "from": "own", "records": 3})
    );
}

#[test]
fn counts_of_pods_that_fall_are_remarked_on() {
    let bench = bench();
    bench.ok("cross PF DM --flowers 8 --on 1mar");
    assert_eq!(note(&bench, "set X1 --pods 3 --dropped 1"), "");
    let fewer = note(&bench, "set X1 --pods 1 --dropped 0");
    assert!(
        fewer.contains(
            "3 pods and 1 dropped were recorded of X1 before; this replaces them, for counts are of all flowers so far. If \
             these are further ones, 'locule set X1 --pods 4 --dropped 1'"
        ),
        "{fewer}"
    );
    assert_eq!(note(&bench, "set X1 --pods 4 --dropped 1"), "");
    assert_eq!(
        note(&bench, "set X1 --pods 3 --dropped 2"),
        "",
        "a pod may drop"
    );
    assert!(note(&bench, "set X1 --dropped 1").contains("3 pods and 2 dropped"));
    let help = flat(&bench.ok("set --help"));
    assert!(
        help.contains("How many became pods, in all so far"),
        "{help}"
    );
}

#[test]
fn seed_that_is_not_there_is_remarked_on() {
    let bench = bench();
    bench.ok("cross PF DM --flowers 4 --on 1feb");
    bench.ok("set X1 --pods 0 --dropped 4");
    let sown = note(&bench, "sow X1 --seeds 5");
    assert!(
        sown.contains("no flower of X1 set by what is recorded, so where is the seed from?"),
        "{sown}"
    );
    let said = flat(&bench.ok("plan seeds X1 --class purple"));
    assert!(
        said.contains("No seed of it is in store by what is recorded."),
        "{said}"
    );
    let space = flat(&bench.ok("plan space --pots 9 X1=purple"));
    assert!(
        space.contains("Too little seed for that is in store or sown: only 5 seeds of X1."),
        "{space}"
    );
    bench.ok("self DM --flowers 2 --on 1feb");
    bench.ok("harvest X2 --pods 1 --seeds 40");
    assert!(
        bench
            .fails("sow X2 --seeds 41", 1)
            .contains("41 seeds to sow, but X2/1 has 40 left of 40")
    );
    let line = "plan seeds X2 --class purple --want";
    let many = flat(&bench.ok(&format!("{line} 60")));
    assert!(many.contains("Only 40 seeds of it are in store."), "{many}");
    assert!(!bench.ok(&format!("{line} 10")).contains("in store"));
    bench.ok("cross HB DM --flowers 2 --on 1feb");
    bench.ok("harvest X3 --pods 1 --seeds 4");
    let line = "plan seeds X3 --class purple --want 60";
    assert!(flat(&bench.ok(line)).contains("Only 4 seeds of it are in store."));
    assert!(
        !bench
            .ok(&format!("{line} --generation F2"))
            .contains("in store"),
        "that seed is of other plants"
    );
}
