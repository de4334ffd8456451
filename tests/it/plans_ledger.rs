//! Plans over a ledger: germination by its own counts, off-types by its own mishaps, parents at their word or as known.

use serde_json::Value;

use crate::support::{Bench, flat};

/// A cross sown and counted, one of its seedlings kept and selfed.
fn season() -> Bench {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add NL 'Night Lantern' --species chinense --genotype 'A/A Pun1/Pun1 pAMT/pAMT'",
        "parent add CW 'Chalk Wren' --species annuum --genotype 'a/a pun1/pun1 pAMT/pAMT'",
        "cross CW NL --tool tweezers --on 2025-07-01",
        "harvest X1 --seeds 60 --on 2025-09-01",
        "sow X1 --seeds 20 --on 2025-12-01",
        "up T1 17 --on 2025-12-20",
        "score T1 1-17=purple --on 2026-01-20",
        "parent add H1 --from T1-02",
        "self H1 --covered --on 2026-02-01",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    bench
}

fn germination(bench: &Bench, line: &str) -> (Value, Value, Value) {
    let found = bench.json(line)["germination"].clone();
    (
        found["from"].clone(),
        found["up"].clone(),
        found["sown"].clone(),
    )
}

#[test]
fn germination_is_counted_by_the_nearest_circle() {
    let mut bench = season();
    let own = germination(&bench, "plan seeds X1 --class purple");
    assert_eq!(own, ("cross".into(), 17.into(), 20.into()));
    let wider = germination(&bench, "plan seeds X2 --class green");
    assert_eq!(wider, ("ledger".into(), 17.into(), 20.into()));
    let later = germination(&bench, "plan seeds X1 --class green --generation F2");
    // Another plant than the mother bears that seed.
    assert_eq!(later, ("species".into(), 17.into(), 20.into()));
    let stated = germination(&bench, "plan seeds X1 --class purple --germination 0.5");
    assert_eq!(stated, ("stated".into(), Value::Null, Value::Null));
    // Sown a week ago: what is not up yet may still come.
    bench.ok("sow X1 --seeds 20 --on 2026-02-22");
    bench.ok("up T2 1 --on 2026-02-28");
    let young = germination(&bench, "plan seeds X1 --class purple");
    assert_eq!(young, ("cross".into(), 17.into(), 20.into()));
    // The window of 42 days is over, and nobody counted in its last quarter.
    bench.on("2026-04-10");
    let line = "plan seeds X1 --class purple";
    assert_eq!(
        germination(&bench, line),
        ("cross".into(), 17.into(), 20.into())
    );
    assert_eq!(
        bench.json(line)["germination"]["counted_early"],
        serde_json::json!(["T2"])
    );
    assert!(flat(&bench.ok(line)).contains(
        "left out: T2, last counted long before the wait was over; count again, with 'locule up T2 N'"
    ));
    // So few that the older tray is no guide: the newest goes by itself.
    bench.ok("up T2 1 --on 2026-04-01");
    assert_eq!(
        germination(&bench, line),
        ("cross".into(), 1.into(), 20.into())
    );
    assert_eq!(bench.json(line)["germination"]["older_up"], 17);
}

/// Beta(18, 4) germination and an off share of its own, against the beta-binomial sum written out.
#[test]
fn a_cross_is_planned_by_its_own_counts_and_mishaps() {
    let bench = season();
    let found = bench.json("plan seeds X1 --class purple --want 4");
    let off = found["off_share"]["share"].as_f64().unwrap();
    assert!(
        found["off_share"]["from"] == "mishaps" && (0.01..0.2).contains(&off),
        "{found}"
    );
    let n = found["seeds"].as_u64().unwrap();
    let p = found["probability"].as_f64().unwrap();
    assert!(
        (p - at_least(4, n, [18.0, 4.0], 1.0 - off)).abs() < 1e-9,
        "{found}"
    );
    assert!(at_least(4, n - 1, [18.0, 4.0], 1.0 - off) < 0.95);
    let whole = found["off_share"]["all_off"].as_f64().unwrap();
    assert!(0.0 < whole && whole < off, "{found}");
    let said = flat(&bench.ok("plan seeds X1 --class purple --want 4"));
    assert!(
        said.contains("of sowings are wholly something else, and then no number of seeds helps"),
        "{said}"
    );
    let sure = bench.json("plan seeds X1 --class purple --want 4 --off-share 0");
    assert!(sure["seeds"].as_u64().unwrap() <= n);
}

/// P(at least k wanted) by the integral over the germination, on a fine grid (midpoints).
fn at_least(k: u64, n: u64, [a, b]: [f64; 2], share: f64) -> f64 {
    let steps = 20_000;
    let (mut sum, mut all) = (0.0, 0.0);
    for step in 0..steps {
        let g = (f64::from(step) + 0.5) / f64::from(steps);
        let weight = g.powf(a - 1.0) * (1.0 - g).powf(b - 1.0);
        let p = g * share;
        let (mut term, mut fewer) = ((1.0 - p).powi(n as i32), 0.0);
        for j in 0..k {
            fewer += term;
            term *= (n - j) as f64 / (j + 1) as f64 * p / (1.0 - p);
        }
        sum += weight * (1.0 - fewer);
        all += weight;
    }
    sum / all
}

#[test]
fn classes_and_stages_are_asked_of_a_cross() {
    let bench = season();
    let found =
        bench.json("plan seeds X2 --class green/not-hot --want 2 --germination 1 --off-share 0");
    assert_eq!(
        (&found["seeds"], &found["targets"][0]["fraction"]),
        (&75.into(), &"1/16".into())
    );
    let staged = bench
        .json("plan seeds X2 --class green/not-hot --marker green --germination 1 --off-share 0");
    assert_eq!(
        (&staged["seeds"], &staged["stages"]["pass_share"]),
        (&47.into(), &0.25.into())
    );
    assert!(staged["next_year"]["probability"].as_f64().unwrap() >= 0.95);
    let said = flat(&bench.fails("plan seeds X1 --class green", 1));
    assert!(
        said.contains("no seed of X1: CW x NL can be green: A makes it impossible"),
        "{said}"
    );
    assert!(
        said.contains("A: CW is a/a, NL A/A") && said.contains("--generation F2"),
        "{said}"
    );
    let strange = flat(&bench.fails("plan seeds X1 --genotype z/z", 1));
    assert!(
        strange.contains("there is no locus Z in the ledger"),
        "{strange}"
    );
    let unknown = flat(&bench.fails("plan seeds X7 --class green", 1));
    assert!(unknown.contains("'X7' is not in the ledger"), "{unknown}");
}

/// 12 places among the plants that pass are 1/4 each: 1 - (3/4)^12.
#[test]
fn places_are_shared_over_crosses_of_the_ledger() {
    let bench = season();
    let line = "plan space --pots 20 --reserve 2 --off-share 0 X2=green/not-hot,marker=green X1=purple,want=6";
    let found = bench.json(line);
    let places = |at: usize| found["crosses"][at]["places"].as_u64().unwrap();
    assert_eq!((places(0), places(1)), (12, 6));
    let chance = found["crosses"][0]["probability"].as_f64().unwrap();
    assert!((chance - (1.0 - 0.75_f64.powi(12))).abs() < 1e-12);
    let learnt = bench.json(&line.replace(" --off-share 0", ""));
    assert!(learnt["crosses"][1]["off_share"].as_f64().unwrap() > 0.0);
    let off = flat(&bench.fails("plan space --pots 9 X2=green,marker=purple", 1));
    assert!(
        off.contains("no seedling that is green shows purple"),
        "{off}"
    );
}

/// Every self of a/a is green where the label gives purple alone; of A/A none shows. Strangers are purple by
/// `1 - q^2` and `p`, with `p` the share of A among NL, CW and the extra founder: 1/2.
#[test]
fn the_mother_whose_selfs_show_is_named() {
    let bench = season();
    let found = bench.json("plan which-mother NL CW");
    assert_eq!(found["mother"], "CW");
    let of = |mother: &str, key: &str| {
        let directions = found["directions"].as_array().unwrap();
        let line = directions
            .iter()
            .find(|line| line["mother"] == mother)
            .unwrap();
        let traits = line["traits"].as_array().unwrap();
        let foliage = traits.iter().find(|one| one["trait"] == "foliage").unwrap();
        foliage[key].as_f64().unwrap()
    };
    for (mother, key, share) in [
        ("CW", "selfs", 1.0),
        ("CW", "pollen", 0.5),
        ("CW", "seed", 0.25),
        ("NL", "selfs", 0.0),
        ("NL", "pollen", 0.0),
        ("NL", "seed", 0.25),
    ] {
        assert!(
            (of(mother, key) - share).abs() < 0.01,
            "{mother} {key}: {}",
            of(mother, key)
        );
    }
    // Weights 4, 2 and 1/2.
    assert!((of("CW", "all") - (4.0 + 1.0 + 0.125) / 6.5).abs() < 0.01);
    let said = flat(&bench.ok("plan which-mother NL CW"));
    assert!(
        said.starts_with("Take CW as mother: the markers then reveal 100 % of its selfs"),
        "{said}"
    );
    assert!(
        said.contains("chinense by annuum: it usually sets"),
        "{said}"
    );
    let same = flat(&bench.fails("plan which-mother NL nl", 1));
    assert!(same.contains("NL and nl are one plant"), "{same}");
    let tray = flat(&bench.fails("plan which-mother NL T1", 1));
    assert!(tray.contains("and a plant is meant"), "{tray}");
}

/// Parents of four species, and what is said of either way between two of them.
#[test]
fn how_readily_two_species_set_goes_with_the_mother() {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add PU --species pubescens --genotype a/a",
        "parent add AB --species annuum --genotype A/A",
        "parent add AA --species annuum --genotype a/a",
        "parent add FR --species frutescens --genotype A/A",
        "parent add FG --species frutescens --genotype a/a",
        "parent add EX --species eximium",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let asked = |line: &str| (bench.json(line)["mother"].clone(), flat(&bench.ok(line)));
    let (mother, said) = asked("plan which-mother PU AB");
    assert!(mother.is_null(), "{mother}");
    assert!(
        said.starts_with(
            "No seed is expected of PU x AB or AB x PU without embryo culture. If you rescue embryos, take PU as mother: \
             the markers then reveal 100 % of its selfs"
        ),
        "{said}"
    );
    // The table says of each pair how fertile its F1 is.
    let (_, said) = asked("plan which-mother PU EX");
    assert!(
        said.contains("pubescens by eximium: it usually sets, and its F1 is fertile"),
        "{said}"
    );
    // The markers speak for frutescens as mother, the species for annuum.
    let (mother, said) = asked("plan which-mother FG AB");
    assert_eq!(mother, "FG");
    assert!(
        said.starts_with("Take FG as mother: the markers then reveal 100 % of its selfs")
            && said.contains(
                "Mind that of FG x AB few pods and few seeds are to be expected, while AB x FG usually sets."
            )
            && said.contains("FG x AB: F1 seedlings may look dwarf or virus-sick (Manzur 2015"),
        "{said}"
    );
    // The markers are level: the easier way.
    let (mother, said) = asked("plan which-mother FR AB");
    assert_eq!(mother, "AB");
    assert!(
        said.starts_with(
            "Take AB as mother: AB x FR usually sets, of FR x AB few pods and few seeds are to be expected"
        ),
        "{said}"
    );
}

/// P(at least k of n) for a binomial share, summed from 0 up.
fn binomial_at_least(k: u64, n: u64, p: f64) -> f64 {
    if p >= 1.0 {
        return f64::from(u8::from(n >= k));
    }
    let (mut term, mut fewer) = ((1.0 - p).powi(n as i32), 0.0);
    for j in 0..k.min(n + 1) {
        fewer += term;
        term *= (n - j) as f64 / (j + 1) as f64 * p / (1.0 - p);
    }
    1.0 - fewer
}

/// DW is stated `A/_`, and 6 of 22 of its selfed seed are green.
fn open_parent() -> Bench {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add DW 'Dusk Wren' --species annuum --genotype A/_",
        "parent add CW 'Chalk Wren' --species annuum --genotype a/a",
        "parent add EW 'Ember Wren' --species annuum --genotype A/_",
        "self DW --on 2025-06-01",
        "self EW --on 2025-06-02",
        "cross CW DW --on 2025-06-03",
        "sow X1 --seeds 22 --on 2025-12-01",
        "up T1 22 --on 2025-12-20",
        "score T1 purple=16 green=6",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    bench
}

/// The share of each genotype at A that `genotype` gives, and what a selfed plant of it gives of green.
fn belief(bench: &Bench, plant: &str) -> Vec<(f64, f64)> {
    let found = bench.json(&format!("genotype {plant}"));
    let loci = found["loci"].as_array().unwrap();
    let at_a = loci.iter().find(|locus| locus["locus"] == "A").unwrap();
    let share = |one: &Value| {
        let green = match one["genotype"].as_str().unwrap() {
            "A/A" => 0.0,
            "A/a" => 0.25,
            _ => 1.0,
        };
        (one["p"].as_f64().unwrap(), green)
    };
    let all = at_a["genotypes"].as_array().unwrap();
    all.iter().map(share).collect()
}

/// By belief the chance is the mean over what DW may be of a binomial tail each, all seed having the same parent.
#[test]
fn parents_can_be_planned_by_what_is_known_of_them() {
    let bench = open_parent();
    let line = "plan seeds X1 --class green --want 4 --germination 1 --off-share 0";
    let said = flat(&bench.fails(line, 1));
    assert!(
        said.contains("not stated: DW at A but the ledger knows more: DW is A/a with 9")
            && said.contains(&format!("try: locule {line} --believed")),
        "{said}"
    );
    let found = bench.json(&format!("{line} --believed"));
    let known = belief(&bench, "DW");
    let chance = |n: u64| -> f64 {
        let of = |(p, green): &(f64, f64)| p * binomial_at_least(4, n, *green);
        known.iter().map(of).sum()
    };
    let n = found["seeds"].as_u64().unwrap();
    let p = found["probability"].as_f64().unwrap();
    assert!((p - chance(n)).abs() < 1e-6, "{p} {}", chance(n));
    assert!(chance(n) >= 0.95 && chance(n - 1) < 0.95, "{n}");
    let said = flat(&bench.ok(&format!("{line} --believed")));
    assert!(
        said.contains("the parents: what they may be by everything recorded"),
        "{said}"
    );
    // At their word the answer says that more is known, and by which switch; where nothing more is, it does not.
    let word = flat(&bench.ok("plan seeds X1 --class purple"));
    assert!(
        word.contains("The ledger knows more than is stated: DW is A/a with 9")
            && word.contains("Plan by it with --believed."),
        "{word}"
    );
    // Of a plant that may be A/A by its word fewer seeds would do than of the A/a that it is.
    let both = bench.json("plan seeds X3 --class purple --want 4 --germination 1 --off-share 0");
    let known = bench
        .json("plan seeds X3 --class purple --want 4 --germination 1 --off-share 0 --believed");
    assert_eq!(both["by_everything"]["seeds"], known["seeds"]);
    assert!(known["seeds"].as_u64() > both["seeds"].as_u64(), "{both}");
    let first =
        flat(&bench.ok("plan seeds X3 --class purple --want 4 --germination 1 --off-share 0"));
    let head = format!(
        "Sow {} seeds, or {} by all that the ledger knows of the parents: ",
        both["seeds"], known["seeds"]
    );
    assert!(first.starts_with(&head), "{first}");
    let silent = flat(&bench.ok("plan seeds X2 --class purple"));
    assert!(!silent.contains("knows more"), "{silent}");
    let open = flat(&bench.fails("plan seeds X2 --class green", 1));
    assert!(
        open.contains("not stated: EW at A nothing recorded tells more of it")
            && open.contains("locule amend ENTRY --genotype A/a")
            && open.contains("try: locule history EW"),
        "{open}"
    );
}

#[test]
fn a_parent_without_a_genotype_is_taken_as_it_looks() {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add CW --species annuum",
        "parent add NL --species annuum --genotype A/A",
        "score CW green",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let found = bench.json("plan which-mother NL CW");
    assert_eq!(found["mother"], "CW");
    let selfs = found["directions"][1]["selfs"].as_f64().unwrap();
    assert!(selfs > 0.9, "{found}");
    assert!(
        flat(&bench.ok("plan which-mother NL CW")).contains(
            "not stated: CW at A; there the looks they were scored with and the starting beliefs stand in"
        )
    );
}

#[test]
fn places_are_shared_by_what_is_known_of_parents() {
    let bench = open_parent();
    let line = "plan space --pots 20 --off-share 0 X1=green,want=4 X2=purple,want=2";
    let word = flat(&bench.ok(line));
    assert!(
        word.contains("The ledger knows more than is stated: DW is A/a with 9")
            && word.contains("not stated: DW at A and EW at A"),
        "{word}"
    );
    let found = bench.json(&format!("{line} --believed"));
    let wanted: f64 = belief(&bench, "DW")
        .iter()
        .map(|(p, green)| p * green)
        .sum();
    let chance = found["crosses"][0]["chance"].as_f64().unwrap();
    assert!((chance - wanted).abs() < 1e-6, "{chance} {wanted}");
    assert_eq!(found["better_known"], serde_json::json!([]));
    assert!(found["crosses"][0]["probability"].as_f64().unwrap() > 0.5);
    bench.ok("parent add AA --genotype A/A");
    bench.ok("cross CW AA --on 2025-06-04");
    let impossible = flat(&bench.fails("plan space --pots 9 X4=green,want=2 X1=purple", 1));
    assert!(
        impossible
            .contains("try: locule plan space --pots 9 X4=green,generation=F2,want=2 X1=purple"),
        "{impossible}"
    );
}

/// What was not crossed yet is planned by the plants' codes: as the cross would be, by her species' seed.
#[test]
fn two_plants_are_planned_by_their_codes_before_they_are_crossed() {
    let bench = season();
    let f2 = "--class green --generation F2 --germination 1";
    let coded = bench.json(&format!("plan seeds --mother CW --father NL {f2}"));
    let crossed = bench.json(&format!("plan seeds X1 {f2}"));
    assert_eq!(coded["seeds"], crossed["seeds"]);
    assert_eq!(
        (&coded["sown"], &crossed["sown"]),
        (&"F2 of CW x NL".into(), &"F2 of X1: CW x NL".into())
    );
    // Before anything is crossed the flowers are taken to be emasculated.
    let first = bench.json("plan seeds --mother CW --father NL --class purple");
    assert_eq!(first["germination"]["from"], "mother");
    assert_eq!(first["off_share"]["technique"], "emasculated flowers");
    let off = first["off_share"]["share"].as_f64().unwrap();
    assert!((0.01..0.2).contains(&off), "{off}");
    let back = germination(&bench, "plan seeds --mother NL --father CW --class purple");
    assert_eq!(back, ("ledger".into(), 17.into(), 20.into()));
    for (line, part) in [
        (
            "plan seeds --mother NL --father a/a --class green",
            "NL is a plant of the ledger, and a/a is none",
        ),
        (
            "plan seeds --mother NL --father CW --class purple --rule 'else => purple'",
            "--rule goes with two genotypes",
        ),
        (
            "plan seeds --mother A/a --father a/a --class green --believed",
            "of a genotype as typed nothing more is known",
        ),
    ] {
        let said = flat(&bench.fails(line, 2));
        assert!(said.contains(part), "{line}: {said}");
    }
    let unknown = flat(&bench.fails("plan seeds --mother NL --father CQ --class purple", 1));
    assert!(unknown.contains("'CQ' is not in the ledger"), "{unknown}");
}
