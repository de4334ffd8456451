//! What all seed of a sowing shares - its parents' phase, its F1 plants, its tray's mishaps - is a case of its own, and
//! questions that took long are answered at once.
//!
//! Expected values by exact enumeration, as the comment beside each says: over the phases, over the F1 plants, over what can
//! have gone wrong with a tray (NumPy 2.4.6, SciPy 1.17.1, 400-point Gauss rules).

use serde_json::Value;

use locule::planning::seeds::Sowing;
use locule::stats::begun::{Begun, Case};
use locule::stats::reach::Outcome;

use crate::support::{Bench, flat};

fn near(found: &Value, wanted: f64, within: f64) {
    let found = found.as_f64().unwrap();
    assert!((found - wanted).abs() < within, "{found}, {wanted} by hand");
}

/// Exact enumeration over the phases: of two plants A/a B/b the phases are both coupling, one, or neither, 1/4, 1/2, 1/4,
/// with (0.44)^2, 0.44 x 0.06 and (0.06)^2 of the seed a/a b/b at r = 0.12; of a testcross coupling or repulsion.
#[test]
fn a_plant_has_one_phase_and_all_its_seed_has_it() {
    let bench = Bench::new();
    let chance = |shares: &[(f64, f64)], n: i32| -> f64 {
        let of = |(weight, share): &(f64, f64)| weight * (1.0 - (1.0 - share).powi(n));
        shares.iter().map(of).sum()
    };
    let two = [(0.25, 0.1936), (0.5, 0.0264), (0.25, 0.0036)];
    let line = "plan seeds --mother 'A/a B/b' --father 'A/a B/b' --genotype 'a/a b/b' --recombines A,B=0.12";
    let found = bench.json(line);
    assert_eq!(found["seeds"], 447);
    near(&found["probability"], chance(&two, 447), 1e-12);
    assert!(chance(&two, 446) < 0.95 && chance(&two, 47) < 0.65);
    near(&found["targets"][0]["p"], 0.0625, 1e-12);
    near(&found["targets"][0]["p_range"][0], 0.0036, 1e-12);
    near(&found["targets"][0]["p_range"][1], 0.1936, 1e-12);
    let said = flat(&bench.ok(line));
    assert!(
        said.contains(
            "6.2 % of true seed on average, 0.4 % to 19 % by what is open of the parents"
        ) && said.contains("either way is as likely, the same for all seed"),
        "{said}"
    );
    let test = [(0.5, 0.5 * (1.0 - 0.1067)), (0.5, 0.5 * 0.1067)];
    let found = bench.json(
        "plan seeds --mother 'A/a H/h' --father 'a/a h/h' --genotype 'a/a h/h' --recombines A,H=0.1067",
    );
    assert_eq!(found["seeds"], 42);
    near(&found["probability"], chance(&test, 42), 1e-12);
    // Never parted: in repulsion it cannot come.
    let never =
        "plan seeds --mother 'A/a B/b' --father 'a/a b/b' --genotype 'a/a b/b' --recombines A,B=0";
    let said = flat(&bench.fails(never, 1));
    assert!(
        said.contains("with 50 % the parents are such that none can")
            && said.contains("write it with a bar, 'A|a B|b'"),
        "{said}"
    );
}

/// A plant selfed has one phase and not two: of DD, A/a H/h twelve centimorgans apart, r = (1 - e^-0.24)/2 and the shares are
/// ((1 - r)/2)^2 and (r/2)^2, each with 1/2 (exact enumeration over the phases).
#[test]
fn a_selfed_plant_has_one_phase() {
    let bench = Bench::new();
    for line in [
        "init",
        "locus set A --chromosome 10 --at 33",
        "locus set H --chromosome 10 --at 45",
        "parent add DD --genotype 'A/a H/h'",
        "self DD",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let r = 0.5 * (1.0 - (-0.24_f64).exp());
    let shares = [0.25 * (1.0 - r) * (1.0 - r), 0.25 * r * r];
    let chance = |n: i32| 1.0 - shares.iter().map(|p| 0.5 * (1.0 - p).powi(n)).sum::<f64>();
    let line = "plan seeds X1 --genotype 'a/a h/h' --germination 1 --off-share 0";
    let found = bench.json(line);
    let n = i32::try_from(found["seeds"].as_u64().unwrap()).unwrap();
    assert!(chance(n) >= 0.95 && chance(n - 1) < 0.95 && n > 700, "{n}");
    near(&found["probability"], chance(n), 1e-9);
    let line = "plan space --pots 47 X1=green/smooth --off-share 0";
    let shared = bench.json(line);
    near(&shared["crosses"][0]["probability"], chance(47), 1e-9);
    assert!(
        flat(&bench.ok(line)).contains("which alleles lie together is not stated of DD at A and H")
    );
}

/// X1 = CW x NL, emasculated, 17 of 20 up: trays are clean with 0.693, have U(0, 1) of selfs or a mixture with 0.198, Beta(1,
/// 4) with 0.0792, Beta(1, 19) with 0.0198, and are wholly off with 0.01; germination Beta(18, 4).
fn one_cross() -> Bench {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add NL --species chinense --genotype A/A",
        "parent add CW --species annuum --genotype a/a",
        "cross CW NL --on 2025-07-01",
        "sow X1 --seeds 20 --on 2025-12-01",
        "up T1 17 --on 2026-01-10",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    bench
}

/// Exact enumeration over what can have gone wrong: 0.9166 of 3 seeds for one, 6 for 95 %; of four 0.8767 and 24; of ten
/// 0.8552 of 20 seeds and 61; of fifty 0.8257 and 306.
#[test]
fn mishaps_strike_whole_trays() {
    let bench = one_cross();
    for (want, seeds, chance, even_so) in [
        (1, 3, 0.916_633_534_726, 6),
        (4, 9, 0.876_749_782_416, 24),
        (10, 20, 0.855_202_774_962, 61),
        (50, 88, 0.825_691_109_602, 306),
    ] {
        let line = format!("plan seeds X1 --class purple --want {want}");
        let found = bench.json(&line);
        assert_eq!(found["seeds"], seeds, "{want}");
        near(&found["by_tray"]["probability"], chance, 1e-9);
        assert_eq!(found["by_tray"]["seeds"], even_so, "{want}");
        near(&found["by_tray"]["never"], 0.01, 1e-9);
    }
    let said = flat(&bench.ok("plan seeds X1 --class purple --want 4"));
    assert!(
        said.starts_with("Sow 9 seeds: 96.8 % that at least 4 are purple. That takes 13 % of every tray to be off-types. But mishaps strike one tray and spare the next: counting that, 9 seeds give 88 %, and 24 seeds would give 95.0 % even so."),
        "{said}"
    );
    let sure = flat(&bench.ok("plan seeds X1 --class purple --confidence 0.99"));
    assert!(
        sure.contains("no number worth sowing gives 99.0 %: in 1.0 % of sowings none does at all"),
        "{sure}"
    );
    let typed = bench.json("plan seeds X1 --class purple --off-share 0.13");
    assert!(typed["by_tray"].is_null(), "{typed}");
    // Of places, every one with a seedling: trays of the same kinds, 1 - 0.01 - 0.198 int s^3 ds ...
    let shared = bench.json("plan space --pots 3 X1=purple");
    let missed = 0.01
        + 0.198 / 4.0
        + 0.0792 * 4.0 / (4.0 * 5.0 * 6.0 * 7.0) * 6.0
        + 0.0198 * 6.0 / (20.0 * 21.0 * 22.0);
    near(
        &shared["crosses"][0]["probability_by_tray"],
        1.0 - missed,
        1e-6,
    );
    let said = flat(&bench.ok("plan space --pots 30 X1=purple"));
    assert!(
        said.contains("Fewer places do for 99 %: 3 for X1.")
            && said.contains("1.0 % of sowings are wholly something else"),
        "{said}"
    );
}

/// A backcross is made by hand as the cross was; selfed seed is not.
#[test]
fn a_backcross_has_the_off_types_of_its_cross() {
    let bench = one_cross();
    let off = |line: &str| bench.json(line)["off_share"]["share"].as_f64().unwrap();
    let own = off("plan seeds X1 --class purple");
    assert!(own > 0.1);
    let back = "plan seeds X1 --class green --generation BC1 --recurrent mother --want 4";
    assert!((off(back) - own).abs() < 1e-12);
    // 17 seeds without off-types.
    assert_eq!(bench.json(back)["seeds"], 20);
    assert_eq!(off("plan seeds X1 --class green --generation F2"), 0.0);
    assert_eq!(off("plan seeds X1 --class green --generation BC1F2"), 0.0);
    assert!((off("plan seeds X1 --class purple --generation F1") - own).abs() < 1e-12);
}

/// F1 of A/a by a/a, exact enumeration over the F1 plants: half are a/a. Seven seeds of one give purple with 50 %, of many
/// with 96.3 %.
#[test]
fn f1_plants_that_differ_are_said() {
    let bench = Bench::new();
    let line = "plan seeds --mother A/a --father a/a --class purple --generation F2";
    let found = bench.json(line);
    assert_eq!(found["seeds"], 7);
    near(
        &found["f1_plants"]["probability_with_one"],
        0.5 * (1.0 - 0.25_f64.powi(7)),
        1e-12,
    );
    let said = flat(&bench.ok(line));
    assert!(
        said.contains("F1 plants are not alike: the seed is taken as of many, a seed or so of each; all of one F1 plant it would be 50 %; --f1-plants 3 reckons with so many"),
        "{said}"
    );
    // Of five j are A/a, with C(5, j)/32, and (1 - 3j/20) of the seed is green.
    let chance = |n: i32| -> f64 {
        let ways = [1.0, 5.0, 10.0, 10.0, 5.0, 1.0];
        let green = |j: usize| ways[j] / 32.0 * (1.0 - 0.15 * j as f64).powi(n);
        1.0 - (0..6).map(green).sum::<f64>()
    };
    assert!((chance(7) - 0.888).abs() < 5e-4);
    let five = bench.json(&format!("{line} --f1-plants 5"));
    assert_eq!(five["seeds"], 14);
    assert!(chance(14) >= 0.95 && chance(13) < 0.95);
    near(&five["probability"], chance(14), 1e-11);
    assert!(
        bench
            .ok(&format!("{line} --f1-plants 5"))
            .starts_with("Sow 14 seeds of 5 F1 plants: ")
    );
    let few = flat(&bench.fails(&format!("{line} --f1-plants 3"), 1));
    assert!(
        few.contains(
            "no number of seeds of 3 F1 plants gives 95.0 %: with 12 % no seed of any can be purple"
        ) && few.contains("--f1-plants 5"),
        "{few}"
    );
    // Alike: nothing to say, and any number does as well.
    let alike = "plan seeds --mother A/A --father a/a --class purple --generation F2";
    assert!(bench.json(alike)["f1_plants"].is_null());
    assert_eq!(
        bench.json(&format!("{alike} --f1-plants 1"))["seeds"],
        bench.json(alike)["seeds"]
    );
    // Backcross to a/a: of an A/a half is purple, of an a/a none; 1 - (1/2 + 2^-5/2) of five seeds of one.
    let back = bench.json(
        "plan seeds --mother A/a --father a/a --class purple --generation BC1 --recurrent father",
    );
    let n = i32::try_from(back["seeds"].as_u64().unwrap()).unwrap();
    near(
        &back["f1_plants"]["probability_with_one"],
        0.5 - 0.5 * 0.5_f64.powi(n),
        1e-12,
    );
    let twice = flat(&bench.fails(&format!("{line} --class green --f1-plants 2"), 2));
    assert!(
        twice.contains("one kind of plant is planned for"),
        "{twice}"
    );
}

/// Exact enumeration over the F1 plants of `A|a b|B` by a/a b/b, in repulsion at r = 0.1: one in twenty is A B | a b, the others
/// never give A/A B/B.
#[test]
fn f1_plants_keep_the_phase_they_are_made_with() {
    let bench = Bench::new();
    let line = "plan seeds --mother 'A|a b|B' --father 'a/a b/b' --recombines A,B=0.1 --genotype 'A/A B/B' --generation F2 --confidence 0.04";
    let found = bench.json(line);
    // Of an F1 plant A B | a b selfed A/A B/B is (0.9/2)^2 = 81/400; no other F1 plant has both; they are 0.05 of all.
    near(&found["targets"][0]["p"], 0.05 * 81.0 / 400.0, 1e-12);
    let n = i32::try_from(found["seeds"].as_u64().unwrap()).unwrap();
    near(
        &found["f1_plants"]["probability_with_one"],
        0.05 * (1.0 - (1.0 - 81.0 / 400.0_f64).powi(n)),
        1e-12,
    );
}

/// Off-types are potted as often as true seedlings, so m plants that pass are true with 1 - o each: one plant alone
/// never gives 95 % where o = 0.13.
#[test]
fn off_types_among_saved_plants_are_reckoned_with() {
    let bench = Bench::new();
    let found = bench.json(
        "plan seeds --mother a/a --father A/a --class green --want 4 --marker green --pots 8 --off-share 0.13 --germination 0.8",
    );
    let plan = &found["next_year"];
    let (m, each) = (
        plan["plants"].as_u64().unwrap(),
        plan["seeds_each"].as_u64().unwrap(),
    );
    // Every green plant of the label is a/a and throws only green: exact enumeration over how many are true.
    let binomial = |k: u64, n: u64, p: f64| -> f64 {
        let ways = (0..k).fold(1.0, |all, i| all * (n - i) as f64 / (i + 1) as f64);
        ways * p.powi(k as i32) * (1.0 - p).powi((n - k) as i32)
    };
    let at_least = |k: u64, n: u64, p: f64| (k..=n).map(|j| binomial(j, n, p)).sum::<f64>();
    let there = at_least(m, plan["seeds"].as_u64().unwrap(), 0.8 * 0.5);
    let found: f64 = (0..=m)
        .map(|t| binomial(t, m, 0.87) * at_least(4, t * each, 0.8))
        .sum();
    assert!(m > 1);
    near(&plan["probability"], there * found, 1e-10);
    assert!(there * found >= 0.95);
}

/// NumPy: the multinomial walked in a cube of 11 x 11 x 11 counts, `sum(betabinom.pmf(u, n, 2, 12)*reached(u))`: 0.9499890 of
/// 4,611 seeds, 0.9500083070 of 4,612.
#[test]
fn kinds_apart_are_summed_and_not_walked() {
    let kinds: Vec<Outcome> = (0..3)
        .map(|at| Outcome {
            p: 0.1,
            counts_for: vec![at],
        })
        .collect();
    let case = Case {
        weight: 1.0,
        outcomes: kinds,
    };
    let sowing = Sowing {
        germination: Begun::Counted { a: 2.0, b: 12.0 },
        off_share: 0.0,
    };
    let found = sowing.seeds(&[10, 10, 10], &[case], 0.95).unwrap();
    assert_eq!(found.n, 4612);
    assert!((found.probability - 0.950_008_307_009_575_6).abs() < 1e-10);
}

/// 34,312, 21,639 and 15,869 seeds took half a minute to two and a half; SciPy's beta-binomial sums give the same numbers.
#[test]
fn a_germination_from_few_counts_is_answered_at_once() {
    let bench = Bench::new();
    let begun = std::time::Instant::now();
    for (line, seeds) in [
        (
            "--chance 1/16 --marker-chance 1/4 --want 10 --germination 0:10",
            34_312,
        ),
        (
            "--chance 1/256 --marker-chance 1/4 --want 5 --germination 2:12",
            21_639,
        ),
        (
            "--chance 1/64 --marker-chance 1/4 --germination 0:12",
            15_869,
        ),
    ] {
        assert_eq!(
            bench.json(&format!("plan seeds {line}"))["seeds"],
            seeds,
            "{line}"
        );
    }
    // So many pots never bind.
    let wide = "plan seeds --chance 1/16 --marker-chance 1/4 --want 500";
    assert_eq!(
        bench.json(&format!("{wide} --pots 10000"))["seeds"],
        bench.json(wide)["seeds"]
    );
    assert!(begun.elapsed().as_secs() < 30, "{:?}", begun.elapsed());
}

/// 37 of 40, 27 of 40, 14 of 40 in successive years: Fisher's p is 0.007 between the last two, so the newest holds.
#[test]
fn seed_that_ages_comes_up_as_it_did_last() {
    let mut bench = Bench::new();
    for line in [
        "init",
        "parent add NL --species annuum --genotype A/A",
        "parent add CW --species annuum --genotype a/a",
        "cross CW NL --on 2022-07-01",
        "sow X1 --seeds 40 --on 2023-02-01",
        "up T1 37 --on 2023-03-14",
        "sow X1 --seeds 40 --on 2024-02-01",
        "up T2 27 --on 2024-03-13",
    ] {
        assert_eq!(bench.on("2024-06-01").run(line).status, Some(0), "{line}");
    }
    let line = "plan seeds X1 --class purple --off-share 0";
    // 37 and 27 of 40: p 0.01.
    let found = bench.json(line);
    assert_eq!(
        (
            &found["germination"]["up"],
            &found["germination"]["older_up"]
        ),
        (&27.into(), &37.into())
    );
    for line in [
        "sow X1 --seeds 40 --on 2025-02-01",
        "up T3 14 --on 2025-03-14",
    ] {
        assert_eq!(bench.on("2025-06-01").run(line).status, Some(0), "{line}");
    }
    let found = bench.json(line);
    let germination = &found["germination"];
    assert_eq!(
        (&germination["up"], &germination["sown"]),
        (&14.into(), &40.into())
    );
    assert_eq!(
        (&germination["older_up"], &germination["older_sown"]),
        (&64.into(), &80.into())
    );
    let said = flat(&bench.ok(line));
    assert!(
        said.contains("14 of 40 of this cross, 1 sowing;")
            && said
                .contains("older sowings came up otherwise, 64 of 80 together, and are left out"),
        "{said}"
    );
    // Sowings that agree stay together.
    for line in [
        "sow X1 --seeds 40 --on 2025-04-01",
        "up T4 17 --on 2025-05-13",
    ] {
        assert_eq!(bench.on("2025-06-01").run(line).status, Some(0), "{line}");
    }
    assert_eq!(bench.json(line)["germination"]["up"], 31);
}
