//! The oracle held against closed forms, published values and laws, so that it can be trusted as one.

use super::answer::{BatchAnswer, SeedlingAnswer};
use super::season::{
    Batch, Day, Event, Kind, Parent, Pollination, Season, Seedling, Seen, Slot, Sown, What, iso,
};
use super::verdict::{Outlook, Verdict};
use super::visibility::at_their_word;
use super::world::World;

/// The day of the first sowing.
pub const SOWN: Day = 20_500;
/// Alleles A and a.
pub const PURPLE: [Slot; 2] = [Some(0), Some(0)];
pub const GREEN: [Slot; 2] = [Some(1), Some(1)];

pub fn parent(code: &str, stated: Option<[Slot; 2]>) -> Parent {
    Parent {
        code: code.into(),
        kind: Kind::Line,
        stated: stated.map(|s| (0, s)).into_iter().collect(),
        phased: false,
        proven: false,
        looks: Vec::new(),
        scores: Vec::new(),
        species: None,
        sterile: false,
    }
}

pub fn pollination(cross: &str, mother: usize, father: usize) -> Pollination {
    Pollination {
        cross: cross.into(),
        mother,
        father,
        day: SOWN - 80,
        tool: None,
        wiped: false,
        covered: false,
        emasculated: true,
    }
}

pub fn sowing(tray: &str, cross: &str, seeds: usize) -> Batch {
    Batch {
        tray: tray.into(),
        sown: Sown::Cross(cross.into()),
        day: SOWN,
        seeds,
        cells: None,
        place: None,
    }
}

pub fn firm(batch: usize, cell: usize, day: Day, class: usize) -> Event {
    Event {
        batch,
        day: SOWN + day,
        what: What::Score(Seedling { cell, part: None }, 0, Seen::Firm(class)),
    }
}

/// Green mother by purple father, both lines, one tray of twelve; `greens` of them green on day 74 (age 60).
pub fn one_tray(greens: usize) -> Season {
    let mut season = Season::new(SOWN + 75);
    season.parents = vec![parent("NL", Some(GREEN)), parent("CW", Some(PURPLE))];
    season.pollinations = vec![pollination("X1", 0, 1)];
    season.batches = vec![sowing("T1", "X1", 12)];
    season.events = (1..=12)
        .map(|c| firm(0, c, 74, usize::from(c <= greens)))
        .collect();
    season
}

fn only(season: &Season) -> BatchAnswer {
    let mut answers = season.diagnose(season.today);
    assert_eq!(answers.len(), 1);
    answers.remove(0)
}

pub fn near(x: f64, y: f64, tolerance: f64) {
    assert!((x - y).abs() <= tolerance, "{x} against {y}");
}

#[test]
fn days_are_calendar_days() {
    // 2000-02-29 is day 11016 (common knowledge of Unix time; `date -d 2000-02-29 +%s` / 86400).
    assert_eq!(iso(11_016), "2000-02-29");
    assert_eq!(iso(0), "1970-01-01");
    assert_eq!(iso(20_453), "2025-12-31");
}

/// What each kind of seedling ends in: the table "what a seedling marker can and cannot prove" (shares of purple;
/// one locus, true seedlings, selfs of the mother, strays without and with A; derived from Mendel's rules).
#[test]
fn a_marker_shows_what_the_table_says() {
    let (aa, ab, bb) = (PURPLE, [Some(0), Some(1)], GREEN);
    let rows = [
        (bb, aa, 1.0, 0.0, 0.0, 1.0),
        (bb, ab, 0.5, 0.0, 0.0, 1.0),
        (ab, aa, 1.0, 0.75, 0.5, 1.0),
        (ab, bb, 0.5, 0.75, 0.5, 1.0),
        (aa, bb, 1.0, 1.0, 1.0, 1.0),
        (aa, aa, 1.0, 1.0, 1.0, 1.0),
        (bb, bb, 0.0, 0.0, 0.0, 1.0),
    ];
    for (mother, father, own, selfed, without, with) in rows {
        let mut season = one_tray(0);
        season.parents = vec![parent("NL", Some(mother)), parent("CW", Some(father))];
        season
            .parents
            .extend([parent("GR", Some(GREEN)), parent("PU", Some(PURPLE))]);
        for (code, father) in [("X2", 2), ("X3", 3)] {
            season.pollinations.push(pollination(code, 0, father));
        }
        let world = World::new(&season);
        let word = at_their_word(&world, 0);
        near(word.label[0], own, 1e-15);
        let share = |name: &str, code: Option<&str>| {
            let named = |s: &&(super::sources::Source, f64, Vec<f64>)| {
                s.0.name(&season) == (name_of(name), code.map(String::from))
            };
            word.sources
                .iter()
                .find(named)
                .expect("the source is a candidate")
                .2[0]
        };
        near(share("self", None), selfed, 1e-15);
        near(share("pollen", Some("GR")), without, 1e-15);
        near(share("pollen", Some("PU")), with, 1e-15);
    }
}

fn name_of(name: &str) -> &'static str {
    if name == "self" { "self" } else { "pollen" }
}

/// A green line by a stated A/a: k greens and no purple have probability (1/2)^k under the label.
#[test]
fn k_greens_under_the_label_follow_one_half_to_the_k() {
    for k in 1..=7 {
        let mut season = one_tray(0);
        season.traits[0].misread = 0.0;
        season.traits[0].late = None;
        season.parents[1].stated = vec![(0, [Some(0), Some(1)])];
        season.events = (1..=k).map(|c| firm(0, c, 74, 1)).collect();
        let world = World::new(&season);
        let model = &world.batches[0];
        let terms = model.terms(&model.product_weights(&world.beliefs.word, true), false);
        let none: Vec<_> = terms
            .iter()
            .filter(|t| t.source == 0 && t.weight > 0.0)
            .collect();
        assert_eq!(none.len(), 1);
        let label: f64 = model
            .likelihood
            .iter()
            .map(|u| {
                none[0]
                    .label
                    .iter()
                    .zip(&u[4])
                    .map(|(p, l)| p * l)
                    .sum::<f64>()
            })
            .product();
        near(label, 0.5_f64.powi(i32::try_from(k).expect("small")), 1e-15);
    }
}

/// P(mother is A/A | n purple progeny by a green plant) for a founder A/_ whose trust and prior are known:
/// Bayes' rule with prior odds and (1/2)^n, when nothing but the label is possible (checked on the factor's ratio).
#[test]
fn a_clean_progeny_test_halves_the_heterozygote_with_each_plant() {
    let mut season = one_tray(0);
    season.traits[0].misread = 0.0;
    season.traits[0].late = None;
    season.parents = vec![
        parent("NL", Some([Some(0), None])),
        parent("CW", Some(GREEN)),
    ];
    season.events = (1..=7).map(|c| firm(0, c, 74, 0)).collect();
    let world = World::new(&season);
    let model = &world.batches[0];
    let terms = model.terms(&model.product_weights(&world.beliefs.own, false), true);
    let of = |m: usize| {
        let none = terms
            .iter()
            .find(|t| t.source == 0 && t.parents == (m, 2))
            .expect("label with these parents");
        model
            .likelihood
            .iter()
            .map(|u| {
                none.label
                    .iter()
                    .zip(&u[4])
                    .map(|(p, l)| p * l)
                    .sum::<f64>()
            })
            .product::<f64>()
    };
    // 64/65 for prior 1/3 after seven (progeny test: 2^n / (2^n + 2), exact fractions).
    near(of(0) / (of(0) + 2.0 * of(1)), 64.0 / 65.0, 1e-15);
}

#[test]
fn everything_sums_to_one() {
    for greens in [0, 1, 3, 12] {
        let answer = only(&one_tray(greens));
        near(answer.sources.iter().map(|s| s.2).sum(), 1.0, 1e-12);
        for seedling in &answer.seedlings {
            near(
                seedling.sources.iter().map(|s| s.2).sum(),
                seedling.p_off,
                1e-12,
            );
        }
    }
}

#[test]
fn an_old_green_seedling_is_a_self_and_a_clean_tray_is_kept() {
    // Green once may be a slip of the pen: looked at again, it is culled.
    let season = one_tray(1);
    let answer = only(&season);
    assert_eq!(answer.seedlings[0].decision.verdict, Verdict::Wait);
    assert_eq!(
        answer.seedlings[0].decision.look_again,
        Some(season.today + 1)
    );
    let mut season = one_tray(4);
    season.events.extend((1..=4).map(|c| firm(0, c, 75, 1)));
    let answer = only(&season);
    let sources = &answer.seedlings[0].sources;
    let likeliest = sources.iter().max_by(|x, y| x.2.total_cmp(&y.2));
    assert_eq!(likeliest.expect("there are sources").0, "self");
    let verdict = |i: usize| answer.seedlings[i].decision.verdict;
    assert!((0..4).all(|i| verdict(i) == Verdict::Cull));
    assert!((4..12).all(|i| verdict(i) == Verdict::Keep));
    // The other way round the same marker reveals no self, and all stay unproven.
    let mut reversed = one_tray(0);
    reversed.pollinations[0] = pollination("X1", 1, 0);
    let answer = only(&reversed);
    assert!(answer.visibility < 0.05, "{}", answer.visibility);
    assert!(
        answer
            .seedlings
            .iter()
            .all(|s| s.decision.verdict == Verdict::Unproven)
    );
}

#[test]
fn green_before_its_time_waits() {
    let mut season = one_tray(0);
    season.today = SOWN + 27;
    season.events = (1..=12)
        .map(|c| firm(0, c, 26, usize::from(c <= 6)))
        .collect();
    let answer = only(&season);
    assert_eq!(
        answer.seedlings[0].decision.verdict,
        Verdict::Wait,
        "{:?}",
        answer.seedlings[0]
    );
    assert!(answer.seedlings[0].decision.look_again > Some(season.today));
}

/// One seedling read once, one trait without onset, no misreading and known plants: the posterior by hand.
#[test]
fn a_tiny_case_has_its_closed_form() {
    let mut season = one_tray(0);
    season.traits[0].misread = 0.0;
    season.traits[0].late = None;
    season.events = vec![firm(0, 1, 74, 1)];
    season.parents[0].proven = true;
    season.parents[1].proven = true;
    let answer = only(&season);
    // Trust 0.999 each, the rest evenly over the two other genotypes.
    let m = [0.0005, 0.0005, 0.999];
    let f = [0.999, 0.0005, 0.0005];
    let green = |x: usize, y: usize| [0.0, 0.5, 1.0][x] * [0.0, 0.5, 1.0][y];
    let mean = |h: &dyn Fn(usize, usize) -> f64| -> f64 {
        (0..3)
            .flat_map(|x| (0..3).map(move |y| (x, y)))
            .map(|(x, y)| m[x] * f[y] * h(x, y))
            .sum()
    };
    // Share of a: mother (0.999 + 0.00025), father (0.0005 + 0.00025), one more founder at one half.
    let a = (0.999_25 + 0.000_75 + 0.5) / 3.0;
    let label = mean(&green);
    let own = mean(&|x, _| green(x, x));
    let pollen = mean(&|x, _| [0.0, 0.5, 1.0][x] * a);
    let seed = a * a;
    let total_weight = 4.0 + 2.0 + 0.5 + 1.0;
    let partial = |weight: f64| 0.99 * 0.30 * weight / total_weight;
    let mixed = (4.0 * own + 2.0 * pollen + 0.5 * seed) / 6.5;
    let whole = 0.01 / 2.0;
    let parts = [
        (0.99 * 0.70, label, 0.0, label),
        (partial(4.0), label, 0.5, own),
        (partial(2.0), label, 0.2, pollen),
        (partial(0.5), label, 0.05, seed),
        (partial(1.0), label, 0.5, mixed),
        (whole, 0.0, 1.0, own),
        (whole, 0.0, 1.0, seed),
    ];
    let evidence: f64 = parts
        .iter()
        .map(|(w, on, share, off)| w * ((1.0 - share) * on + share * off))
        .sum();
    let off: f64 = parts.iter().map(|(w, _, share, off)| w * share * off).sum();
    near(answer.seedlings[0].p_off, off / evidence, 1e-13);
    near(answer.sources[0].2, 0.99 * 0.70 * label / evidence, 1e-13);
}

fn by_code(answer: &BatchAnswer) -> Vec<SeedlingAnswer> {
    let mut seedlings = answer.seedlings.clone();
    seedlings.sort_by(|x, y| x.p_off.total_cmp(&y.p_off));
    seedlings
}

#[test]
fn renumbering_seedlings_and_plants_changes_nothing() {
    let season = one_tray(3);
    let mut turned = season.clone();
    for event in &mut turned.events {
        if let What::Score(s, _, _) = &mut event.what {
            s.cell = 13 - s.cell;
        }
    }
    turned.events.reverse();
    // Plants listed the other way round.
    turned.parents.reverse();
    turned.pollinations[0].mother = 1;
    turned.pollinations[0].father = 0;
    let (x, y) = (only(&season), only(&turned));
    for (s, t) in by_code(&x).iter().zip(by_code(&y)) {
        near(s.p_off, t.p_off, 1e-13);
        assert_eq!(s.decision.verdict, t.decision.verdict);
    }
    for (s, t) in x.sources.iter().zip(&y.sources) {
        near(s.2, t.2, 1e-13);
    }
}

#[test]
fn a_tally_equals_its_seedlings_one_by_one() {
    let season = one_tray(3);
    let mut tallied = season.clone();
    let looks = vec![(vec![(0, 0)], 9), (vec![(0, 1)], 3)];
    tallied.events = vec![Event {
        batch: 0,
        day: SOWN + 74,
        what: What::Tally(None, looks),
    }];
    let (x, y) = (only(&season), only(&tallied));
    near(x.seedlings[11].p_off, y.seedlings[0].p_off, 1e-13);
    near(x.seedlings[0].p_off, y.seedlings[1].p_off, 1e-13);
    assert_eq!(x.n, y.n);
    near(x.true_lost + x.off_left, y.true_lost + y.off_left, 1e-12);
}

/// The chances of a further reading use coefficients of the posterior; here the posterior is worked out anew.
#[test]
fn one_more_reading_weighs_as_much_as_a_new_diagnosis() {
    let mut season = one_tray(0);
    season.today = SOWN + 27;
    season.events = (1..=6)
        .map(|c| firm(0, c, 26, usize::from(c <= 3)))
        .collect();
    let world = World::new(&season);
    let posterior = world.diagnose(0);
    let word = at_their_word(&world, 0);
    let outlook = Outlook {
        season: &season,
        model: &world.batches[0],
        unit: &world.batches[0].evidence.units[0],
        posterior: &posterior.units[0],
        word: &word,
    };
    for (day, class) in [(1, 0), (1, 1), (14, 0), (30, 1), (60, 1)] {
        let readings = outlook.with(&outlook.unit.readings, 0, class, season.today + day);
        let (on, off) = outlook.weigh(&readings);
        let mut later = season.clone();
        later.events.push(firm(0, 1, 27 + day, class));
        let anew = World::new(&later).diagnose(0);
        near(off / (on + off), anew.units[0].off, 1e-12);
    }
}

#[test]
fn another_batch_of_the_parents_moves_the_belief() {
    // All twelve purple from a green line by an unstated plant: a second tray's greens are hardly accidents then.
    let mut season = one_tray(6);
    season.parents[1] = parent("CW", None);
    season.parents[1].kind = Kind::Plant;
    let alone = only(&season);
    season.batches.push(sowing("T2", "X1", 12));
    season.batches[1].day = SOWN - 30;
    season.events.extend((1..=12).map(|c| firm(1, c, 60, 0)));
    let both = season.diagnose(season.today);
    assert!(
        both[0].seedlings[0].p_off > alone.seedlings[0].p_off + 0.3,
        "{} {}",
        both[0].seedlings[0].p_off,
        alone.seedlings[0].p_off
    );
}
