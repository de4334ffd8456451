//! When late classes show: against SciPy, against the oracle's sums over subsets, on simulated pots, and by laws.

use locule::diagnosis::context::Context;
use locule::diagnosis::index::Index;
use locule::diagnosis::late_colour::{OnsetFit, Split, TraitFit, Wanted, fit_traits};
use locule::diagnosis::late_colour_batches::{WhyNot, lessons, ln_likelihood, models_read};
use locule::diagnosis::looks::{Looks, Onset};
use locule::diagnosis::posterior::Rules;
use locule::records::assumptions::Assumptions;
use locule::records::facts::Facts;
use locule::store::{Ledger, State};

use super::bench::{Book, Dice, Tray, looks};
use crate::oracle::onset::{BATCH_SHIFT, State as PaceState};
use crate::oracle::season::{
    Batch, Event, Kind, Parent, Pollination, Season, Seedling, Seen, Sown, What,
};
use crate::oracle::world::World;
use crate::support::Bench;

const TOGETHER: Wanted = Wanted {
    split: Split::Together,
    ceiling: false,
    uncounted: false,
};

fn fit_of(facts: &Facts, wanted: Wanted) -> TraitFit {
    let looks = Looks::of(facts).unwrap();
    let of = looks
        .traits
        .iter()
        .position(|look| look.code == "foliage")
        .unwrap();
    fit_traits(facts, &looks, &[of], wanted).unwrap().remove(0)
}

/// Log likelihood of the batches that teach, at an onset.
fn likelihood_at(facts: &Facts, onset: Onset) -> f64 {
    let known = Looks::of(facts).unwrap();
    let of = known
        .traits
        .iter()
        .position(|look| look.code == "foliage")
        .unwrap();
    let (beliefs, index, rules) = (Assumptions::of(facts), Index::new(facts), Rules::default());
    let context = Context::new(&known, &index, &beliefs).unwrap();
    let models = models_read(&context, of);
    let (_, teaching) = lessons(&context, &models, &rules, of, false);
    let all: Vec<_> = teaching.iter().collect();
    ln_likelihood(&context, &all, &rules, of, onset)
}

const fn onset(median_days: f64, spread: f64) -> Onset {
    Onset {
        median_days,
        spread,
        ceiling: 0.9999,
    }
}

/// Nothing can go wrong with a tray, nothing is in doubt about the parent, no tray is dim.
const CERTAIN: [(&str, &str); 4] = [
    ("none.self-open", "1"),
    ("whole-batch", "0"),
    ("trust.proven", "1"),
    ("dim", "0"),
];

/// Three pots of eight seedlings: the age at which each was first seen purple, 99 for never.
const TURNED: [[i64; 8]; 3] = [
    [6, 10, 10, 10, 14, 14, 20, 10],
    [10, 14, 14, 14, 20, 20, 99, 14],
    [6, 6, 10, 10, 10, 14, 10, 14],
];

const AGES: [i64; 4] = [6, 10, 14, 20];

fn three_pots() -> Book {
    let mut book = Book::new();
    book.parent("NL", "A/A");
    book.assume(&CERTAIN);
    for pot in TURNED {
        let seen = |turned: &i64| {
            let class = |age: &i64| if age >= turned { "purple" } else { "green" };
            AGES.iter().map(class).collect()
        };
        book.tray(&Tray {
            of: "NL",
            place: "",
            seedlings: pot.iter().map(seen).collect(),
            ages: &AGES,
        });
    }
    book
}

/// Reference: SciPy 1.17.1 in a throw-away environment. Log likelihood of the three pots written out by hand with
/// `scipy.special.ndtr` and `roots_hermitenorm(150)` (misreading 0.005, pace 0.25, ceiling 0.9999); its top by
/// `scipy.optimize.minimize(method="Nelder-Mead", xatol=1e-12)`: 9.7483908854, 0.3469804040, at -32.4339716180; standard
/// errors of the logs by inverting `scipy.differentiate.hessian`: 0.1634045, 0.18956606; log likelihood at
/// (12, 0.35) -33.2436719715 and at (9, 0.5) -34.0948496706.
#[test]
fn optimum_and_standard_errors_are_those_of_scipy() {
    let book = three_pots();
    for (at, theirs) in [
        (onset(12.0, 0.35), -33.243_671_971_5),
        (onset(9.0, 0.5), -34.094_849_670_6),
    ] {
        let ours = likelihood_at(&book.facts, at);
        assert!((ours - theirs).abs() < 1e-5, "{ours} {theirs}");
    }
    let fit = fit_of(&book.facts, TOGETHER).fit.unwrap();
    let (median, spread) = (fit.median_days.unwrap(), fit.spread.unwrap());
    assert!((median.value - 9.748_390_885_4).abs() < 1e-4, "{median:?}");
    assert!((spread.value - 0.346_980_404_0).abs() < 2e-5, "{spread:?}");
    assert!((fit.ln_likelihood + 32.433_971_618_0).abs() < 1e-5);
    assert!((median.se_scaled - 0.163_404_50).abs() < 1e-4, "{median:?}");
    assert!((spread.se_scaled - 0.189_566_06).abs() < 1e-4, "{spread:?}");
    assert!((median.se - median.value * median.se_scaled).abs() < 1e-12);
    let [low, high] = median.interval;
    assert!((low * high - median.value.powi(2)).abs() < 1e-9);
}

/// A control pot and a cross beside it, on a day when other plants were handled too, and one seedling that stays green.
fn oracle_season() -> Season {
    const FIRST: i64 = 20_500;
    let mut season = Season::new(FIRST + 120);
    let parent = |code: &str, allele: u8| Parent {
        code: code.into(),
        kind: Kind::Line,
        stated: vec![(0, [Some(allele), Some(allele)])],
        phased: false,
        proven: false,
        looks: Vec::new(),
        scores: Vec::new(),
        species: None,
        sterile: false,
    };
    season.parents = vec![parent("NL", 0), parent("CW", 1), parent("GR", 1)];
    let pollination = |cross: &str, mother, father| Pollination {
        cross: cross.into(),
        mother,
        father,
        day: FIRST,
        tool: Some("brush".into()),
        wiped: false,
        covered: false,
        emasculated: true,
    };
    season.pollinations = vec![
        pollination("X1", 2, 0),
        pollination("X2", 1, 0),
        pollination("X3", 0, 0),
    ];
    let batch = |tray: &str, cross: &str| Batch {
        tray: tray.into(),
        sown: Sown::Cross(cross.into()),
        day: FIRST + 60,
        seeds: 4,
        cells: None,
        place: None,
    };
    season.batches = vec![batch("T1", "X2"), batch("T2", "X3")];
    let up = |batch| Event {
        batch,
        day: FIRST + 70,
        what: What::UpCount(4),
    };
    season.events = vec![up(0), up(1)];
    let turned = [[8, 13, 13, 99], [8, 8, 13, 13]];
    for age in [8, 13, 21] {
        for (batch, turned) in turned.iter().enumerate() {
            for (cell, at) in turned.iter().enumerate() {
                let seedling = Seedling {
                    cell: cell + 1,
                    part: None,
                };
                let class = usize::from(age < *at);
                season.events.push(Event {
                    batch,
                    day: FIRST + 70 + age,
                    what: What::Score(seedling, 0, Seen::Firm(class)),
                });
            }
        }
    }
    season
}

/// Puts a fine even grid of paces in the place of the oracle's nine nodes, which leave a ripple.
fn lay_out_paces(world: &mut World<'_>) {
    let nodes: Vec<f64> = (-300..=300).map(|at| f64::from(at) / 50.0).collect();
    let total: f64 = nodes.iter().map(|z| (-0.5 * z * z).exp()).sum();
    for (batch, factor) in world.batches.iter_mut().zip(&mut world.factors) {
        let dim = batch.states.iter().find(|state| state.shift.is_none());
        let dim = dim.map_or(0.0, |state| state.weight);
        let lit = |z: &f64| PaceState {
            weight: (1.0 - dim) * (-0.5 * z * z).exp() / total,
            shift: Some(BATCH_SHIFT * z),
        };
        let dark = PaceState {
            weight: dim,
            shift: None,
        };
        batch.states = nodes.iter().map(lit).chain([dark]).collect();
        let units = batch.evidence.units.iter();
        batch.likelihood = units
            .map(|unit| batch.likelihoods(&unit.readings, unit))
            .collect();
        *factor = batch.factor(&world.beliefs);
    }
}

/// The oracle sums over every subset of off-type seedlings, every source and every genotype of all plants, written from
/// the method alone.
#[test]
fn the_likelihood_is_the_oracles_at_several_onsets() {
    let season = oracle_season();
    let mut bench = Bench::new();
    bench.on(&crate::oracle::season::iso(season.today));
    for line in season.commands() {
        let run = bench.run_words(&line);
        assert_eq!(run.status, Some(0), "{line:?}: {}", run.err);
    }
    let state = State::at(bench.state().to_owned());
    let facts = Ledger::open_to_ask(&bench.ledger(), &state)
        .and_then(|mut ledger| ledger.facts())
        .unwrap();
    for (median, spread) in [(12.0, 0.35), (8.0, 0.35), (15.0, 0.6), (10.5, 0.2)] {
        let mut other = season.clone();
        let late = other.traits[0].late.as_mut().unwrap();
        (late.median, late.spread) = (median, spread);
        let mut world = World::new(&other);
        lay_out_paces(&mut world);
        let kinds = world.genes.all.len();
        let of_batch = |(model, factor): (&crate::oracle::model::Model<'_>, &Vec<f64>)| {
            let own = &world.beliefs.own;
            let mut sum = 0.0;
            for mother in 0..kinds {
                for father in 0..kinds {
                    let weight = match (model.mother == model.father, mother == father) {
                        (true, true) => own[model.mother][mother],
                        (true, false) => 0.0,
                        _ => own[model.mother][mother] * own[model.father][father],
                    };
                    sum += weight * factor[mother * kinds + father];
                }
            }
            sum.ln()
        };
        let theirs: f64 = world.batches.iter().zip(&world.factors).map(of_batch).sum();
        let ours = likelihood_at(&facts, onset(median, spread));
        assert!(
            (ours - theirs).abs() < 1e-6,
            "{median} {spread}: {ours} {theirs}"
        );
    }
}

/// Pots of selfed seed with a pace of their own each; the truth is given.
fn pots(seed: u64, pots: usize, truth: (f64, f64)) -> Book {
    let mut dice = Dice::new(seed);
    let mut book = Book::new();
    book.parent("NL", "A/A");
    for _ in 0..pots {
        let pace = 0.25 * dice.normal();
        let mut one = || {
            let turns = (truth.0.ln() + pace + truth.1 * dice.normal()).exp();
            looks(&mut dice, Some(turns), &AGES, 0.005)
        };
        let seedlings = (0..10).map(|_| one()).collect();
        book.tray(&Tray {
            of: "NL",
            place: "",
            seedlings,
            ages: &AGES,
        });
    }
    book
}

fn within(fit: &OnsetFit, truth: (f64, f64), errors: f64) -> bool {
    let off = |value: f64, truth: f64, se: f64| ((value / truth).ln() / se).abs() <= errors;
    let (median, spread) = (fit.median_days.unwrap(), fit.spread.unwrap());
    off(median.value, truth.0, median.se_scaled) && off(spread.value, truth.1, spread.se_scaled)
}

#[test]
fn known_onsets_are_found_again() {
    for (seed, truth) in [(1, (9.0, 0.45)), (2, (14.0, 0.3)), (3, (11.0, 0.5))] {
        let few = fit_of(&pots(seed, 8, truth).facts, TOGETHER).fit.unwrap();
        let many = fit_of(&pots(seed, 32, truth).facts, TOGETHER).fit.unwrap();
        // Three standard errors: missed by chance once in about 370 times.
        assert!(within(&few, truth, 3.0), "{seed}: {few:?}");
        assert!(within(&many, truth, 3.0), "{seed}: {many:?}");
        let width = |fit: &OnsetFit| fit.median_days.unwrap().se_scaled;
        // Four times the pots halve the standard error, about.
        assert!(width(&many) < 0.75 * width(&few), "{few:?} {many:?}");
        assert!(many.is_settled());
        // The default is told from the truth.
        assert!(many.ln_likelihood > many.ln_before + 2.0, "{many:?}");
    }
}

/// Selfs of a green mother stay green for good: they must not pass for very late purple seedlings.
#[test]
fn selfs_among_the_seedlings_do_not_delay_the_onset() {
    let truth = (10.0, 0.35);
    let mut dice = Dice::new(5);
    let mut book = Book::new();
    book.parent("NL", "A/A");
    book.parent("CW", "a/a");
    for at in 0..16 {
        let cross = format!("K{at}");
        let on = super::bench::day("2026-01-02").forward(at);
        book.cross(&cross, "CW", "NL", on, false);
        let pace = 0.25 * dice.normal();
        let mut seedlings = Vec::new();
        for seedling in 0..10 {
            let turns = (f64::ln(truth.0) + pace + truth.1 * dice.normal()).exp();
            let selfed = at % 2 == 0 && seedling < 4;
            let turns = (!selfed).then_some(turns);
            seedlings.push(looks(&mut dice, turns, &[6, 10, 14, 20, 40], 0.005));
        }
        book.tray(&Tray {
            of: &cross,
            place: "",
            seedlings,
            ages: &[6, 10, 14, 20, 40],
        });
    }
    let fit = fit_of(&book.facts, TOGETHER).fit.unwrap();
    assert!(within(&fit, truth, 3.0), "{fit:?}");
}

#[test]
fn the_order_of_pots_changes_nothing_and_a_stored_fit_stays() {
    let truth = (9.0, 0.4);
    let book = pots(7, 6, truth);
    let fit = fit_of(&book.facts, TOGETHER).fit.unwrap();
    let mut turned = Book::new();
    turned.parent("NL", "A/A");
    let mut dice = Dice::new(7);
    let mut all = Vec::new();
    for _ in 0..6 {
        let pace = 0.25 * dice.normal();
        let mut one = || {
            let turns = (f64::ln(truth.0) + pace + truth.1 * dice.normal()).exp();
            looks(&mut dice, Some(turns), &AGES, 0.005)
        };
        all.push((0..10).map(|_| one()).collect::<Vec<_>>());
    }
    for seedlings in all.into_iter().rev() {
        turned.tray(&Tray {
            of: "NL",
            place: "",
            seedlings,
            ages: &AGES,
        });
    }
    let other = fit_of(&turned.facts, TOGETHER).fit.unwrap();
    assert!((fit.ln_likelihood - other.ln_likelihood).abs() < 1e-8);
    assert!((fit.onset.median_days / other.onset.median_days - 1.0).abs() < 1e-5);
    let mut stored = book;
    stored.set_late("foliage", fit.onset.median_days, fit.onset.spread);
    let again = fit_of(&stored.facts, TOGETHER);
    assert_eq!(again.before.median_days, fit.onset.median_days);
    let again = again.fit.unwrap();
    assert!((again.onset.median_days / fit.onset.median_days - 1.0).abs() < 1e-4);
    assert!((again.onset.spread / fit.onset.spread - 1.0).abs() < 1e-3);
    assert!(again.ln_likelihood - again.ln_before < 1e-6);
}

#[test]
fn places_are_told_apart_where_they_differ() {
    let mut dice = Dice::new(11);
    let mut book = Book::new();
    book.parent("NL", "A/A");
    for at in 0..20 {
        let (place, median) = if at % 2 == 0 {
            ("Tent", 7.0_f64)
        } else {
            ("sill", 15.0)
        };
        // A place is the same however it is typed.
        let place = if at % 4 == 0 { "tent " } else { place };
        let pace = 0.25 * dice.normal();
        let mut one = || {
            let turns = (median.ln() + pace + 0.35 * dice.normal()).exp();
            looks(&mut dice, Some(turns), &AGES, 0.005)
        };
        let seedlings = (0..8).map(|_| one()).collect();
        book.tray(&Tray {
            of: "NL",
            place,
            seedlings,
            ages: &AGES,
        });
    }
    let wanted = Wanted {
        split: Split::ByPlace,
        ..TOGETHER
    };
    let fit = fit_of(&book.facts, wanted);
    assert_eq!(fit.parts.len(), 2);
    for (part, median) in fit.parts.iter().zip([7.0, 15.0]) {
        let own = part.fit.as_ref().unwrap();
        assert!(within(own, (median, 0.35), 3.0), "{part:?}");
    }
    let difference = fit.difference.unwrap();
    assert!(difference.df == 2 && difference.p < 1e-4, "{difference:?}");
}

#[test]
fn without_data_what_is_in_use_stays() {
    let mut book = Book::new();
    book.parent("NL", "A/A");
    let nothing = fit_of(&book.facts, TOGETHER);
    assert_eq!((nothing.fit.clone(), nothing.batches.len()), (None, 0));
    assert_eq!(nothing.before.median_days, 12.0);
    let more = nothing.more.unwrap();
    assert!(more.pots >= 3, "{more:?}");
    // Every look after all had turned: the median could be anything below.
    book.tray(&Tray {
        of: "NL",
        place: "",
        seedlings: vec![vec!["purple"]; 12],
        ages: &[30],
    });
    assert_eq!(fit_of(&book.facts, TOGETHER).fit, None);
}

#[test]
fn a_cross_whose_seedlings_split_teaches_nothing() {
    let mut book = three_pots();
    book.parent("CW", "A/a");
    book.tray(&Tray {
        of: "CW",
        place: "",
        seedlings: vec![vec!["green"], vec!["purple"]],
        ages: &[30],
    });
    let fit = fit_of(&book.facts, TOGETHER);
    let left_out: Vec<_> = fit.batches.iter().filter_map(|by| by.left_out).collect();
    assert_eq!(left_out, [WhyNot::NotPromised]);
    let own = fit.fit.unwrap();
    let theirs = fit_of(&three_pots().facts, TOGETHER).fit.unwrap();
    assert!((own.onset.median_days - theirs.onset.median_days).abs() < 1e-4);
}

#[test]
fn a_ceiling_is_found_where_old_seedlings_stay_green() {
    let ages = [6, 10, 14, 20, 40];
    let mut dice = Dice::new(21);
    let mut book = Book::new();
    book.parent("NL", "A/A");
    book.assume(&CERTAIN);
    for _ in 0..20 {
        let pace = 0.25 * dice.normal();
        let mut seedlings = Vec::new();
        for _ in 0..10 {
            let turns = (10.0_f64.ln() + pace + 0.35 * dice.normal()).exp();
            let ever = dice.share() < 0.8;
            seedlings.push(looks(&mut dice, ever.then_some(turns), &ages, 0.005));
        }
        book.tray(&Tray {
            of: "NL",
            place: "",
            seedlings,
            ages: &ages,
        });
    }
    let wanted = Wanted {
        ceiling: true,
        ..TOGETHER
    };
    let fit = fit_of(&book.facts, wanted).fit.unwrap();
    let ceiling = fit.ceiling.unwrap();
    assert!(
        (ceiling.value - 0.8).abs() < 3.0 * ceiling.se,
        "{ceiling:?}"
    );
    assert!(within(&fit, (10.0, 0.35), 3.0), "{fit:?}");
    // Where all turn there is no ceiling to be told, and the other two are fitted all the same.
    let all = fit_of(&three_pots().facts, wanted).fit.unwrap();
    assert!(all.median_days.is_some());
}

/// A parent of which only `A/_` is stated may split: green seedlings of it are no late ones.
#[test]
fn a_parent_that_may_split_teaches_nothing() {
    let mut book = three_pots();
    book.parent("CW", "A/_");
    for _ in 0..2 {
        book.tray(&Tray {
            of: "CW",
            place: "",
            seedlings: vec![vec!["green"], vec!["purple"], vec!["purple"]],
            ages: &[30],
        });
    }
    let fit = fit_of(&book.facts, TOGETHER);
    let left_out: Vec<_> = fit.batches.iter().filter_map(|by| by.left_out).collect();
    assert_eq!(left_out, [WhyNot::NotPromised; 2]);
}
