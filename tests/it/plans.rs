//! Plans against exact fractions, published tables, SciPy, every possibility one by one, and played sowings.
//!
//! SciPy 1.17.1 and NumPy 2.4.6; the call that gave a number stands beside it.

use locule::planning::next_year::{Family, Passing, next_year};
use locule::planning::seeds::{Marker, NoPlan, Sowing, two_stages};
use locule::planning::space::{Wish, share};
use locule::stats::begun::{Begun, Case};
use locule::stats::exact_power::{Demand, enough};
use locule::stats::reach::Outcome;
use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{One, ToPrimitive, Zero};
use proptest::prelude::*;

use crate::support::Bench;

fn kinds(shares: &[f64]) -> Vec<Case> {
    let outcome = |(at, p): (usize, &f64)| Outcome {
        p: *p,
        counts_for: vec![at],
    };
    vec![Case {
        weight: 1.0,
        outcomes: shares.iter().enumerate().map(outcome).collect(),
    }]
}

fn sowing(germination: Begun, off_share: f64) -> Sowing {
    Sowing {
        germination,
        off_share,
    }
}

/// Every seed comes up and is of the label.
const SURE: Sowing = Sowing {
    germination: Begun::Known(1.0),
    off_share: 0.0,
};

fn fraction(text: &str) -> f64 {
    let (n, of) = text.split_once('/').unwrap();
    n.parse::<f64>().unwrap() / of.parse::<f64>().unwrap()
}

/// `tests/data/plants_needed.csv`, by the walk over counts (two cases that say the same keep it from the closed form).
#[test]
fn the_walk_needs_as_many_plants_as_exact_binomial_sums() {
    let mut reader = csv::Reader::from_reader(include_str!("../data/plants_needed.csv").as_bytes());
    let mut compared = 0;
    for row in reader.records() {
        let row = row.unwrap();
        let case = Case {
            weight: 0.5,
            ..kinds(&[fraction(&row[1])]).remove(0)
        };
        let want = row[2].parse().unwrap();
        let found = SURE
            .seeds(&[want], &[case.clone(), case], fraction(&row[0]))
            .unwrap();
        assert_eq!(found.n, row[3].parse::<u64>().unwrap(), "{row:?}");
        let p: f64 = row[4].parse().unwrap();
        assert!(
            (found.probability - p).abs() < 1e-12,
            "{row:?}: {}",
            found.probability
        );
        compared += 1;
    }
    assert_eq!(compared, 720);
}

/// The contract, and "plants for at least one" at 90, 95 and 99 % by `ln(1 - confidence)/ln(1 - p)` rounded up.
#[test]
fn the_command_gives_the_numbers_of_the_tables() {
    let bench = Bench::new();
    let bare = bench.json("plan seeds --want 3 --chance 1/16 --confidence 0.95");
    assert_eq!(bare["seeds"], 99);
    assert_eq!(
        format!("{:.4}", bare["probability"].as_f64().unwrap()),
        "0.9510"
    );
    let sown = bench.json("plan seeds --want 3 --chance 1/16 --germination 0.8 --off-share 0.03");
    assert_eq!(sown["seeds"], 128);
    for (chance, seeds) in [
        ("1/2", [4, 5, 7]),
        ("1/4", [9, 11, 17]),
        ("3/16", [12, 15, 23]),
        ("1/8", [18, 23, 35]),
        ("1/16", [36, 47, 72]),
        ("1/64", [147, 191, 293]),
    ] {
        let row = &bench.json(&format!("plan seeds --chance {chance}"))["table"][0];
        let found = ["90", "95", "99"].map(|c| row[format!("seeds_for_{c}")].as_u64().unwrap());
        assert_eq!(found, seeds, "{chance}");
    }
}

/// `sum(betabinom.pmf(u, n, a, b)*binom.sf(k-1, u, q))` over `u = 0..n`, the first `n` with 0.95 or more.
#[test]
fn counted_germination_is_beta_binomial() {
    let counts = Begun::Counted { a: 42.0, b: 10.0 };
    for (germination, off, p, want, n, probability) in [
        (counts, 0.03, 0.0625, 1, 61, 0.9521720442552325),
        (counts, 0.03, 0.0625, 3, 128, 0.9504772215496902),
        (
            Begun::Counted { a: 1.0, b: 6.0 },
            0.0,
            0.25,
            2,
            929,
            0.9500127774888332,
        ),
    ] {
        let found = sowing(germination, off)
            .seeds(&[want], &kinds(&[p]), 0.95)
            .unwrap();
        assert_eq!(found.n, n);
        assert!(
            (found.probability - probability).abs() < 1e-9,
            "{}",
            found.probability
        );
    }
}

fn binomial(n: u64, k: u64) -> BigInt {
    (0..k).fold(BigInt::one(), |all, i| all * (n - i) / (i + 1))
}

fn power(of: &BigRational, n: u64) -> BigRational {
    num_traits::pow(of.clone(), n as usize)
}

/// P(at least `wants` of two kinds among `n`) by the multinomial sum over every pair of counts, in exact fractions.
fn both(shares: [(i64, i64); 2], wants: [u64; 2], n: u64) -> BigRational {
    let [p, q] = shares.map(|(n, of)| BigRational::new(n.into(), of.into()));
    let rest = BigRational::one() - &p - &q;
    let mut sum = BigRational::zero();
    for i in wants[0]..=n {
        for j in wants[1]..=n.saturating_sub(i) {
            let ways = binomial(n, i) * binomial(n - i, j);
            sum += BigRational::from(ways) * power(&p, i) * power(&q, j) * power(&rest, n - i - j);
        }
    }
    sum
}

/// The numbers are those of the same sum in Python's `fractions`: 99, 18 and (germination 4/5, off 3/100) 47.
#[test]
fn several_targets_at_once_are_multinomial() {
    let bench = Bench::new();
    for (shares, wants, thin, flags, confidence, n) in [
        ([(1, 16), (3, 16)], [3, 2], (1, 1), "", "0.95", 99),
        ([(1, 4), (3, 4)], [2, 3], (1, 1), "", "0.95", 18),
        (
            [(1, 16), (3, 16)],
            [1, 1],
            (776, 1000),
            "--germination 0.8 --off-share 0.03",
            "0.9",
            47,
        ),
    ] {
        let [(a, b), (c, d)] = shares;
        let line = format!(
            "plan seeds --chance {a}/{b}={} --chance {c}/{d}={} --confidence {confidence} {flags}",
            wants[0], wants[1]
        );
        let found = bench.json(line.trim());
        assert_eq!(found["seeds"], n, "{line}");
        let thinned = shares.map(|(n, of)| (n * thin.0, of * thin.1));
        let [here, before] = [n, n - 1].map(|n| both(thinned, wants, n).to_f64().unwrap());
        let asked: f64 = confidence.parse().unwrap();
        assert!(here >= asked && before < asked);
        assert!(
            (found["probability"].as_f64().unwrap() - here).abs() < 1e-12,
            "{line}"
        );
    }
}

proptest! {
    /// Seeds that are enough stay enough with one more, and one fewer is not.
    #[test]
    fn a_plan_is_the_smallest_that_does(
        p in 0.02..0.6_f64, q in 0.02..0.39_f64, j in 1..4_u64, k in 1..4_u64,
        up in 1..20_u64, more in 0..20_u64, confidence in 0.5..0.97_f64,
    ) {
        let germination = Begun::Counted { a: 1.0 + up as f64, b: 1.0 + more as f64 };
        let plan = sowing(germination, 0.1);
        let found = plan.seeds(&[j, k], &kinds(&[p, q]), confidence).unwrap();
        prop_assert!(found.probability >= confidence - 1e-9);
        let higher = plan.seeds(&[j, k], &kinds(&[p, q]), found.probability - 1e-9).unwrap();
        prop_assert_eq!(higher.n, found.n);
        let sure = plan.seeds(&[j, k], &kinds(&[p, q]), (found.probability + 1.0) / 2.0).unwrap();
        prop_assert!(sure.n > found.n);
        let one = plan.seeds(&[j], &kinds(&[p]), confidence).unwrap();
        prop_assert!(one.n <= found.n);
    }
}

/// A small generator with a fixed start (xorshift, Marsaglia 2003, Journal of Statistical Software 8(14), from memory).
pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    pub(crate) fn roll(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(crate) fn says(&mut self, p: f64) -> bool {
        self.roll() < p
    }

    fn grain(&mut self, pair: [bool; 2]) -> bool {
        pair[usize::from(self.says(0.5))]
    }

    pub(crate) fn seed(&mut self, mother: [bool; 2], father: [bool; 2]) -> [bool; 2] {
        [self.grain(mother), self.grain(father)]
    }
}

/// How often, with four standard deviations of the mean of so many tries.
pub(crate) fn agrees(tries: u32, hits: u32, chance: f64) {
    let found = f64::from(hits) / f64::from(tries);
    let sd = (chance * (1.0 - chance) / f64::from(tries)).sqrt();
    assert!(
        (found - chance).abs() < 4.0 * sd,
        "{found} played, {chance} said"
    );
}

pub(crate) const TRIES: u32 = 20_000;

/// An F2 sown as planned, gene by gene: green is a/a, mild is b/b, off-types pass and are never wanted.
#[test]
fn two_stages_come_true_when_they_are_played() {
    let plan = sowing(Begun::Known(0.85), 0.05);
    let marker = Marker {
        weight: 1.0,
        pass: 0.25,
        wanted: 0.25,
    };
    for (pots, want) in [(None, 1), (Some(14), 1), (Some(25), 2)] {
        let found = two_stages(&plan, &[marker], want, pots, 0.95).unwrap();
        let (mut dice, mut hits, mut held) = (Dice(0x5eed_1e55), 0, 0);
        for _ in 0..TRIES {
            let (mut potted, mut passed, mut mild) = (0, 0, 0);
            for _ in 0..found.seeds.n {
                if !dice.says(0.85) {
                    continue;
                }
                let (color, taste) = (
                    dice.seed([true, false], [true, false]),
                    dice.seed([true, false], [true, false]),
                );
                let is_off = dice.says(0.05);
                if color != [false; 2] {
                    continue;
                }
                passed += 1;
                if pots.is_none_or(|pots| potted < pots) {
                    potted += 1;
                    mild += u64::from(taste == [false; 2] && !is_off);
                }
            }
            hits += u32::from(mild >= want);
            held += u32::from(passed <= found.pots);
        }
        agrees(TRIES, hits, found.seeds.probability);
        assert!(pots.is_some() || f64::from(held) >= 0.945 * f64::from(TRIES));
    }
}

/// `sum(binom.pmf(y, N, 1/4)*binom.sf(0, min(y, 12), 1/4))`: 0.94576 of 47 seeds, 0.94812 of 48, 0.95027 of 49.
#[test]
fn pots_that_run_out_cost_seeds() {
    let marker = Marker {
        weight: 1.0,
        pass: 0.25,
        wanted: 0.25,
    };
    let found = two_stages(&SURE, &[marker], 1, Some(12), 0.95).unwrap();
    assert_eq!(found.seeds.n, 49);
    assert!((found.seeds.probability - 0.950267665631606).abs() < 1e-12);
    let free = two_stages(&SURE, &[marker], 1, None, 0.95).unwrap();
    assert_eq!((free.seeds.n, free.pass.round()), (47, 12.0));
    // 1 - (3/4)^10 = 0.944, 1 - (3/4)^11 = 0.958.
    let few = two_stages(&SURE, &[marker], 1, Some(10), 0.95);
    assert!(
        matches!(
            few,
            Err(NoPlan::TooFewPots {
                needed: Some(11),
                ..
            })
        ),
        "{few:?}"
    );
}

/// Green plants of an F2, each selfed, whatever else they carry; found is b/b.
#[test]
fn seed_saved_comes_true_when_it_is_played() {
    let plan = sowing(Begun::Known(0.9), 0.0);
    let family = |share, wanted| Family {
        share,
        wanted,
        pass: 1.0,
    };
    let passing = [Passing {
        weight: 1.0,
        pass: 0.25,
        families: vec![family(0.25, 0.0), family(0.5, 0.25), family(0.25, 1.0)],
    }];
    for (want, most) in [(1, 4), (1, 24), (3, 6)] {
        let found = next_year(&passing, &plan, want, most, 0.9).unwrap();
        assert!(found.plants <= most && found.chance >= 0.9);
        let (mut dice, mut hits) = (Dice(0xcafe_f00d), 0);
        for _ in 0..TRIES {
            let het = [true, false];
            let mut kept = Vec::new();
            for _ in 0..found.seeds {
                let (color, taste) = (dice.seed(het, het), dice.seed(het, het));
                let passes = dice.says(0.9) && color == [false; 2];
                if passes && (kept.len() as u64) < found.plants {
                    kept.push(taste);
                }
            }
            if (kept.len() as u64) < found.plants {
                continue;
            }
            let mut mild = 0;
            for plant in kept {
                for _ in 0..found.seeds_each {
                    let seed = dice.seed(plant, plant);
                    mild += u64::from(dice.says(0.9) && seed == [false; 2]);
                }
            }
            hits += u32::from(mild >= want);
        }
        agrees(TRIES, hits, found.chance);
    }
}

/// `rej = [x for x in range(n+1) if binomtest(x, n, p0).pvalue <= 0.05]`, `sum(binom.pmf(x, n, p1) for x in rej)`, for
/// `n` up to 139.
#[test]
fn enough_agrees_with_binomial_tests_one_by_one() {
    let demand = Demand {
        power: 0.95,
        size: 0.05,
    };
    for (one, other, n, first, powers, sizes) in [
        (
            [3.0, 1.0],
            [1.0, 1.0],
            54,
            49,
            [0.9620476467147705, 0.9666017969200057],
            [0.04096878134732239, 0.04022356409571664],
        ),
        (
            [9.0, 7.0],
            [3.0, 1.0],
            88,
            83,
            [0.9645017336392842, 0.9583138557089684],
            [0.041643427021717916, 0.04905725600310401],
        ),
    ] {
        let found = enough(&one, &other, demand).unwrap();
        assert_eq!((found.n, found.first), (n, first));
        let does = found.performance;
        let ours = [
            does.power_against_first,
            does.power_against_second,
            does.size_of_first,
            does.size_of_second,
        ];
        for (ours, theirs) in ours.into_iter().zip(powers.into_iter().chain(sizes)) {
            assert!((ours - theirs).abs() < 1e-12, "{ours} {theirs}");
        }
        let swapped = enough(&other, &one, demand).unwrap();
        assert_eq!((swapped.n, swapped.first), (n, first));
    }
}

/// Places shared by the plan reach their targets as often as it says, when they are planted.
#[test]
fn shared_places_come_true_when_they_are_planted() {
    let wish = |chance, want, weight| Wish {
        cases: vec![(1.0, chance)],
        want,
        weight,
    };
    let wishes = [wish(0.25, 2, 1.0), wish(0.0625, 1, 2.0), wish(0.5, 4, 1.5)];
    let (found, _) = share(&wishes, 30);
    let mut dice = Dice(0xbead_5eed);
    for (at, wish) in wishes.iter().enumerate() {
        let mut hits = 0;
        for _ in 0..TRIES {
            let wanted = (0..found.places[at])
                .filter(|_| dice.says(wish.cases[0].1))
                .count();
            hits += u32::from(wanted as u64 >= wish.want);
        }
        agrees(TRIES, hits, found.chances[at]);
    }
}

/// Two genotypes at once, one within the other: a plant counts for both.
#[test]
fn targets_may_overlap() {
    let bench = Bench::new();
    let genes = "plan seeds --mother A/a --father A/a";
    let alone = bench.json(&format!("{genes} --genotype A/A=2"))["seeds"].as_u64();
    let both = bench.json(&format!("{genes} --genotype A/A=2 --genotype A/_=1"))["seeds"].as_u64();
    assert_eq!((alone, both), (Some(18), Some(18)));
    let apart = bench.json(&format!("{genes} --genotype A/A=2 --genotype a/a=2"));
    let exact = both_of_quarter(apart["seeds"].as_u64().unwrap());
    assert!((apart["probability"].as_f64().unwrap() - exact).abs() < 1e-12);
}

fn both_of_quarter(n: u64) -> f64 {
    both([(1, 4), (1, 4)], [2, 2], n).to_f64().unwrap()
}

/// The exact sums of all outcomes by scipy.stats.multinomial.pmf, rejected from the least probable up: powers with 32 plants
/// 0.97651 and 0.94776, with 33 0.97955 and 0.95519, and from there on above 0.95 up to 40 (SciPy 1.17.1).
#[test]
fn ratios_of_four_classes_are_told_apart_by_the_same_sums() {
    let demand = Demand {
        power: 0.95,
        size: 0.05,
    };
    let found = enough(&[9.0, 3.0, 3.0, 1.0], &[1.0, 1.0, 1.0, 1.0], demand).unwrap();
    assert_eq!((found.n, found.first), (33, 33));
    let does = found.performance;
    assert!((does.power_against_first - 0.9795454990891537).abs() < 1e-9);
    assert!((does.power_against_second - 0.9551872324643627).abs() < 1e-9);
    assert!((does.size_of_first - 0.04969366503572048).abs() < 1e-9);
    assert!((does.size_of_second - 0.0492935813371571).abs() < 1e-9);
    // Every number up to 60 at least is tried; the answer says how far.
    assert!(found.tried >= 60, "{found:?}");
    for other in [[3.0, 1.0, 3.0, 1.0], [9.0, 3.0, 4.0, 0.0]] {
        let found = enough(&[9.0, 3.0, 3.0, 1.0], &other, demand).unwrap();
        assert!(found.performance.power() >= 0.95 && found.tried >= found.n);
    }
}

/// `sum(betabinom.pmf(u, n, 34, 8)*reached(u))`, the multinomial walked in numpy: 600 seeds do with 0.95060, fewer do not
/// (SciPy 1.17.1, NumPy 2.4.6).
#[test]
fn several_large_targets_are_worked_out() {
    let counted = Begun::Counted { a: 34.0, b: 8.0 };
    let shares = [1.0 / 16.0, 1.0 / 16.0, 0.125];
    let found = sowing(counted, 0.0)
        .seeds(&[20, 20, 20], &kinds(&shares), 0.95)
        .unwrap();
    assert_eq!(found.n, 600);
    assert!((found.probability - 0.9506009043749435).abs() < 1e-9);
    // Kinds within one another are walked: too large a one says so, and not that no number would do.
    let within = |p: f64, counts_for: &[usize]| Outcome {
        p,
        counts_for: counts_for.to_vec(),
    };
    let large = Case {
        weight: 1.0,
        outcomes: vec![
            within(1.0 / 640.0, &[0, 1]),
            within(1.0 / 160.0, &[1, 2]),
            within(0.0125, &[2]),
        ],
    };
    let refused = SURE.seeds(&[40, 60, 70], &[large], 0.95).unwrap_err();
    assert!(matches!(refused, NoPlan::TooLarge(_)), "{refused}");
}
