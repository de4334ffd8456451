//! How often something goes wrong: against SciPy, against the diagnosis itself by another way of integrating, on
//! simulated crosses, and by laws.

use locule::diagnosis::answer::Source;
use locule::diagnosis::context::Context;
use locule::diagnosis::index::Index;
use locule::diagnosis::looks::Looks;
use locule::diagnosis::mishaps::{Grouping, Mishaps, fit, learn};
use locule::diagnosis::mishaps_batches::{KINDS, Told, ln_integral, ln_moments, tell};
use locule::diagnosis::sources::Technique;
use locule::diagnosis::suspects::suspects;
use locule::records::assumptions::Assumptions;
use locule::records::entry::{Entry, NewTrait};
use locule::records::facts::Facts;

use super::bench::{Book, Dice, Tray, day, looks};

fn told_of(facts: &Facts) -> Vec<Told> {
    let (known, beliefs, index) = (
        Looks::of(facts).unwrap(),
        Assumptions::of(facts),
        Index::new(facts),
    );
    let context = Context::new(&known, &index, &beliefs).unwrap();
    tell(&context).0
}

/// Trays of crosses of green mothers with purple fathers: seedlings, and those that stayed green to the age of 40 days.
fn trays(dice: &mut Dice, list: &[(usize, usize)]) -> Book {
    let mut book = Book::new();
    book.parent("NL", "A/A");
    for (at, (n, green)) in list.iter().enumerate() {
        let (mother, cross) = (format!("M{at}"), format!("K{at}"));
        book.parent(&mother, "a/a");
        let on = day("2026-01-02").forward(at as i64);
        book.cross(&cross, &mother, "NL", on, at % 3 == 2);
        let seen = |seedling: usize| looks(dice, (seedling >= *green).then_some(8.0), &[40], 0.0);
        book.tray(&Tray {
            of: &cross,
            place: "",
            seedlings: (0..*n).map(seen).collect(),
            ages: &[40],
        });
    }
    book
}

/// A trait that shows at once, and crosses in which nothing but selfs can go wrong.
fn selfs_only(list: &[(usize, usize)]) -> Book {
    let mut book = Book::new();
    book.assume(&[
        ("trust.proven", "1"),
        ("whole-batch", "0"),
        ("weight.unknown-pollen", "0"),
        ("weight.unknown-seed", "0"),
        ("mixed.emasculated", "0"),
        ("donor.same-day", "0"),
        ("donor.near-day", "0"),
        ("donor.same-tool", "0"),
        ("weight.stray-seed", "0"),
    ]);
    book.enter(&Entry::Trait(NewTrait {
        code: "rim".parse().unwrap(),
        name: None,
        classes: vec!["rimmed".into(), "bare".into()],
        rules: vec!["R/_ => rimmed".into(), "else => bare".into()],
        one_gene: None,
        late: Vec::new(),
        median_days: None,
        spread: None,
        ceiling: None,
        misread: Some("0.005".into()),
        class_misread: Vec::new(),
        organ: None,
        stage: None,
    }));
    book.parent("RR", "R/R");
    book.parent("RB", "r/r");
    for (at, (n, bare)) in list.iter().enumerate() {
        let cross = format!("K{at}");
        book.cross(
            &cross,
            "RB",
            "RR",
            day("2026-01-02").forward(at as i64),
            false,
        );
        let seen = |seedling: usize| vec![if seedling < *bare { "bare" } else { "rimmed" }];
        book.tray(&Tray {
            of: &cross,
            place: "",
            seedlings: (0..*n).map(seen).collect(),
            ages: &[30],
        });
    }
    book
}

/// Reference: SciPy 1.17.1 in a throw-away environment, the penalised likelihood written out by hand for eight trays of
/// which only selfs can be wrong (misreading 0.005): the integral over the share by `scipy.integrate.quad` over the
/// quantiles `scipy.stats.beta.ppf`, the top by `scipy.optimize.minimize` (L-BFGS-B within 2 <= a + b <= 50, then
/// Nelder-Mead): P(none) 0.63274837, a 1.025073, b 0.974927; standard errors of the log odds of P(none) and of the mean
/// share by central differences: 0.51732037, 0.32230058.
#[test]
fn optimum_and_standard_errors_are_those_of_scipy() {
    let list = [
        (10, 0),
        (12, 0),
        (8, 3),
        (10, 10),
        (12, 1),
        (9, 0),
        (10, 5),
        (11, 0),
    ];
    let book = selfs_only(&list);
    let mishaps = learn(&book.facts, Grouping::ByTechnique).unwrap();
    let [group] = mishaps.groups.as_slice() else {
        panic!("{mishaps:?}");
    };
    assert_eq!(group.technique, Some(Technique::Emasculated));
    assert!((group.none.value - 0.632_748_37).abs() < 1e-5, "{group:?}");
    let scaled = group.none.se / (group.none.value * (1.0 - group.none.value));
    assert!((scaled - 0.517_320_37).abs() < 1e-3, "{scaled}");
    let share = &mishaps.shares[0];
    assert!((share.beta[0] - 1.025_073).abs() < 1e-4, "{share:?}");
    assert!((share.beta[1] - 0.974_927).abs() < 1e-4, "{share:?}");
    let scaled = share.mean.se / (share.mean.value * (1.0 - share.mean.value));
    assert!((scaled - 0.322_300_58).abs() < 1e-3, "{scaled}");
}

/// The chance of every tray to be wholly as labelled, by sums over the number of off-types, is what the diagnosis gives
/// by Gauss-Jacobi quadrature; under other shares and chances too.
#[test]
fn each_tray_is_weighed_as_the_diagnosis_does() {
    let mut book = trays(
        &mut Dice::new(1),
        &[(10, 0), (12, 3), (8, 8), (6, 1), (1, 0)],
    );
    let others: [&[(&str, &str)]; 3] = [
        &[],
        &[
            ("share.self.a", "2.5"),
            ("share.self.b", "1.2"),
            ("none.emasculated", "0.35"),
        ],
        &[
            ("share.pollen.a", "3"),
            ("share.seed.b", "4"),
            ("share.seed.a", "0.7"),
            ("dim", "0.3"),
        ],
    ];
    for assumed in others {
        book.assume(assumed);
        let beliefs = Assumptions::of(&book.facts);
        let answer = suspects(&book.facts, day("2027-12-31"), None).unwrap();
        let told = told_of(&book.facts);
        assert_eq!(told.len(), answer.batches.len());
        for (one, batch) in told.iter().zip(&answer.batches) {
            let none = match one.technique {
                Technique::Covered => beliefs.none_covered,
                _ => beliefs.none_emasculated,
            };
            let betas = [
                (beliefs.share_self_a, beliefs.share_self_b),
                (beliefs.share_pollen_a, beliefs.share_pollen_b),
                (beliefs.share_seed_a, beliefs.share_seed_b),
            ];
            let partial: f64 = KINDS
                .iter()
                .enumerate()
                .map(|(at, _)| {
                    let n = usize::try_from(one.seedlings).unwrap();
                    let (a, b) = betas[at];
                    ln_integral(&one.ln_partial[at], &ln_moments(n, a, b)).exp()
                })
                .sum();
            let clean = none * one.ln_none.exp();
            let all = clean + (1.0 - none) * partial + one.ln_whole.exp();
            let theirs = batch
                .sources
                .iter()
                .find(|share| share.source == Source::None);
            let theirs = theirs.unwrap().p;
            assert!(
                (clean / all - theirs).abs() < 1e-10,
                "{}: {} {theirs}",
                one.tray,
                clean / all
            );
        }
    }
}

/// Crosses of which a known share had selfs, in known shares.
fn simulated(seed: u64, crosses: usize, none: f64) -> Book {
    let mut dice = Dice::new(seed);
    let list: Vec<(usize, usize)> = (0..crosses)
        .map(|_| {
            let share = if dice.share() < none {
                0.0
            } else {
                dice.share()
            };
            (10, (0..10).filter(|_| dice.share() < share).count())
        })
        .collect();
    trays(&mut dice, &list)
}

fn emasculated(mishaps: &Mishaps) -> &locule::diagnosis::mishaps::Group {
    let mut groups = mishaps.groups.iter();
    groups
        .find(|group| group.technique == Some(Technique::Emasculated))
        .unwrap()
}

#[test]
fn known_chances_are_found_again() {
    for (seed, none) in [(1, 0.4), (2, 0.85)] {
        let many = learn(&simulated(seed, 90, none).facts, Grouping::ByTechnique).unwrap();
        let few = learn(&simulated(seed, 15, none).facts, Grouping::ByTechnique).unwrap();
        let group = emasculated(&many);
        // The starting belief counts as 10 batches beside 60: by that much the fit may be drawn to it.
        let drawn = 10.0 / 70.0 * (group.default - none);
        let off = (group.none.value - none - drawn).abs();
        assert!(off < 3.0 * group.none.se, "{seed}: {group:?}");
        let width = |mishaps: &Mishaps| {
            let [low, high] = emasculated(mishaps).none.interval;
            high - low
        };
        assert!(width(&many) < width(&few), "{seed}");
        let clean = (group.clean / group.batches as f64 - none).abs();
        assert!(clean < 0.15, "{seed}: {group:?}");
    }
}

#[test]
fn without_trays_the_starting_beliefs_come_back() {
    let beliefs = Assumptions::default();
    let nothing = fit(&[], &beliefs, Grouping::ByTechnique);
    assert!(nothing.groups.is_empty() && nothing.batches == 0);
    for share in &nothing.shares {
        assert_eq!(share.beta, share.default);
    }
    // A tray that cannot have shown anything changes nothing either.
    let blind = Told {
        pollinations: vec![1],
        lots: Vec::new(),
        batch_id: 1,
        tray: "T1".to_owned(),
        technique: Technique::Emasculated,
        tool: None,
        seedlings: 3,
        ln_none: 0.0,
        ln_partial: [3.0_f64, 2.0, 1.0].map(|weight| {
            // Every number of off-types equally good: the whole integral is the weight.
            [1.0, 3.0, 3.0, 1.0]
                .map(|ways: f64| (weight / 6.0 * ways).ln())
                .to_vec()
        }),
        ln_whole: f64::NEG_INFINITY,
    };
    let blind = fit(&[blind], &beliefs, Grouping::ByTechnique);
    assert_eq!(blind.blind, 1);
    assert!((blind.groups[0].none.value - 0.7).abs() < 1e-9);
    for share in &blind.shares {
        assert!((share.beta[0] - share.default[0]).abs() < 1e-3, "{share:?}");
    }
}

#[test]
fn the_order_of_trays_changes_nothing_and_stored_figures_stay() {
    let book = simulated(4, 30, 0.6);
    let beliefs = Assumptions::of(&book.facts);
    let mut told = told_of(&book.facts);
    let one = fit(&told, &beliefs, Grouping::ByTechnique);
    told.reverse();
    let other = fit(&told, &beliefs, Grouping::ByTechnique);
    for (a, b) in one.fitted().iter().zip(other.fitted()) {
        assert_eq!(a.0, b.0);
        assert!((a.1 - b.1).abs() < 1e-3 * (1.0 + a.1), "{a:?} {b:?}");
    }
    let mut stored = simulated(4, 30, 0.6);
    let fitted: Vec<(&str, String)> = one
        .fitted()
        .into_iter()
        .map(|(key, value)| (key, value.to_string()))
        .collect();
    for (key, value) in &fitted {
        stored.assume(&[(key, value)]);
    }
    let again = learn(&stored.facts, Grouping::ByTechnique).unwrap();
    for (a, b) in one.fitted().iter().zip(again.fitted()) {
        assert!((a.1 - b.1).abs() < 0.02 * (1.0 + a.1), "{a:?} {b:?}");
    }
}

#[test]
fn more_care_never_costs() {
    let mut book = trays(&mut Dice::new(9), &[(10, 2), (10, 0), (10, 1)]);
    // A second cross of one day with the same brush: pollen can have come along.
    book.parent("ZZ", "a/a");
    book.cross("KA", "ZZ", "NL", day("2026-02-20"), false);
    book.cross("KB", "M0", "NL", day("2026-02-20"), false);
    for cross in ["KA", "KB"] {
        book.tray(&Tray {
            of: cross,
            place: "",
            seedlings: vec![vec!["purple"]; 6],
            ages: &[40],
        });
    }
    let off = learn(&book.facts, Grouping::ByTechnique)
        .unwrap()
        .off_types
        .unwrap();
    assert!(off.covered < off.now && off.wiped < off.now, "{off:?}");
    assert!(off.both < off.covered && off.both < off.wiped, "{off:?}");
    assert_eq!((off.not_covered, off.not_wiped), (4, 1));
    let by_tool = learn(&book.facts, Grouping::ByTool).unwrap();
    let tools: Vec<_> = by_tool
        .groups
        .iter()
        .map(|group| group.tool.as_deref())
        .collect();
    assert_eq!(tools, [Some("brush, not wiped")]);
    assert_eq!(by_tool.batches, 5);
}

/// Wiping takes from donors what the unwiped tool gave them and gives it to nobody, so it never makes a tray worse: not
/// where selfs, whose shares are larger, are what is left.
#[test]
fn wiping_never_costs_where_selfs_are_likely() {
    let mut book = trays(&mut Dice::new(9), &[]);
    book.parent("ZZ", "a/a");
    book.parent("YY", "a/a");
    book.cross("KA", "ZZ", "NL", day("2026-02-20"), false);
    book.cross("KB", "YY", "NL", day("2026-02-20"), false);
    book.tray(&Tray {
        of: "KB",
        place: "",
        seedlings: vec![vec!["green"]; 6],
        ages: &[40],
    });
    book.assume(&[("none.emasculated", "0.1"), ("self.emasculated", "20")]);
    let off = learn(&book.facts, Grouping::ByTechnique)
        .unwrap()
        .off_types
        .unwrap();
    assert!(off.wiped < off.now && off.both < off.covered, "{off:?}");
}
