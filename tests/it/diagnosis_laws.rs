//! Laws of the diagnosis: probabilities are probabilities, names do not matter, and large or extreme batches stay
//! numbers. Invented trays throughout; what is checked is the mathematics.

use locule::diagnosis::answer::{BatchAnswer, SeedlingAnswer, Verdict};
use locule::records::day::Day;
use locule::records::entry::{Assume, Entry, NewTrait, ScoreWhat};
use locule::records::rows::PlantKind;
use proptest::prelude::*;

use super::kinds::bench::{Bench, Care, count, look};

const CAREFUL: Care = Care {
    wiped: false,
    covered: false,
};

fn day(text: &str) -> Day {
    text.parse().expect("a date")
}

/// How things are called, and in which order seedlings are read.
struct Names {
    locus: [&'static str; 2],
    marked: &'static str,
    plain: &'static str,
    marked_first: bool,
}

const USUAL: Names = Names {
    locus: ["Q", "q"],
    marked: "spotted",
    plain: "clear",
    marked_first: true,
};

/// A season of two crosses sown together, scored for a trait of its own; the first tray's readings are given.
fn season(names: &Names, marked: i64, plain: i64, misread: &str) -> Bench {
    let [dominant, recessive] = names.locus;
    let mut bench = Bench::new(day("2026-06-20"));
    let mut classes = vec![names.marked.to_owned(), names.plain.to_owned()];
    if !names.marked_first {
        classes.reverse();
    }
    bench.record(&Entry::Trait(NewTrait {
        code: "specks".parse().expect("a code"),
        name: None,
        classes,
        rules: vec![
            format!("{dominant}/_ => {}", names.marked),
            format!("else => {}", names.plain),
        ],
        one_gene: None,
        late: vec![format!("{} after {}", names.marked, names.plain)],
        median_days: Some("15".to_owned()),
        spread: Some("0.3".to_owned()),
        ceiling: Some("0.999".to_owned()),
        misread: Some(misread.to_owned()),
        class_misread: Vec::new(),
        organ: Some("petiole".to_owned()),
        stage: Some("seedling".to_owned()),
    }));
    let founded = day("2025-11-01");
    let pure = |allele: &str| format!("{allele}/{allele}");
    bench.parent(
        "MO",
        "Moth Orchard",
        PlantKind::Line,
        &pure(recessive),
        founded,
    );
    bench.parent("FA", "Far Anvil", PlantKind::Line, &pure(dominant), founded);
    bench.parent(
        "DO",
        "Dove Oven",
        PlantKind::Packet,
        &format!("{dominant}/{recessive}"),
        founded,
    );
    let crossed = day("2026-01-10");
    bench.pollinate("X1", ("DO", Some("FA")), "brush", CAREFUL, crossed);
    bench.pollinate("X2", ("MO", Some("FA")), "brush", CAREFUL, crossed);
    for (cross, tray, seeds) in [("X2", "T1", marked + plain), ("X1", "T2", 8)] {
        bench.sow(cross, tray, seeds, "tent", day("2026-04-20"));
        bench.up(tray, seeds, day("2026-05-02"));
    }
    let tally = [(marked, names.marked), (plain, names.plain)];
    let tally: Vec<_> = tally
        .iter()
        .filter(|(n, _)| *n > 0)
        .map(|(n, class)| (count(*n), look(&[class])))
        .collect();
    bench.score("T1", ScoreWhat::Tally(tally), day("2026-06-01"));
    bench.score(
        "T2",
        ScoreWhat::Tally(vec![(count(8), look(&[names.marked]))]),
        day("2026-06-02"),
    );
    bench
}

fn tray<'a>(batches: &'a [BatchAnswer], code: &str) -> &'a BatchAnswer {
    batches
        .iter()
        .find(|batch| batch.tray == code)
        .expect("the tray")
}

fn is_probability(p: f64) -> bool {
    (-1e-12..=1.0 + 1e-9).contains(&p)
}

fn hold_laws(batch: &BatchAnswer) {
    let total: f64 = batch.sources.iter().map(|share| share.p).sum();
    assert!(
        (total - 1.0).abs() < 1e-9,
        "{}: sources sum to {total}",
        batch.tray
    );
    for share in batch.sources.iter().chain(&batch.visible) {
        assert!(is_probability(share.p), "{}: {share:?}", batch.tray);
    }
    assert!(is_probability(batch.visibility) && is_probability(batch.p_off_unscored));
    for one in &batch.seedlings {
        let split: f64 = one.sources.iter().map(|share| share.p).sum();
        assert!(
            (split - one.p_off).abs() < 1e-9,
            "{}: {split} of {}",
            batch.tray,
            one.p_off
        );
        assert!(
            is_probability(one.p_off) && one.sources.iter().all(|share| is_probability(share.p))
        );
        assert_eq!(one.look_again.is_some(), one.verdict == Verdict::Wait);
    }
}

fn of_class<'a>(batch: &'a BatchAnswer, class: &str) -> Option<&'a SeedlingAnswer> {
    batch
        .seedlings
        .iter()
        .find(|one| one.reason.loudest.class == class)
}

fn same_answer(one: &BatchAnswer, one_names: &Names, other: &BatchAnswer, other_names: &Names) {
    assert!((one.visibility - other.visibility).abs() < 1e-9);
    for share in &one.sources {
        let twin = other
            .sources
            .iter()
            .find(|twin| twin.source == share.source)
            .expect("the same sources");
        assert!((share.p - twin.p).abs() < 1e-9, "{share:?} {twin:?}");
    }
    for (class, twin_class) in [
        (one_names.marked, other_names.marked),
        (one_names.plain, other_names.plain),
    ] {
        match (of_class(one, class), of_class(other, twin_class)) {
            (Some(a), Some(b)) => {
                assert!((a.p_off - b.p_off).abs() < 1e-9);
                assert_eq!(
                    (a.verdict, a.look_again, a.count),
                    (b.verdict, b.look_again, b.count)
                );
            }
            (a, b) => assert_eq!(a.is_some(), b.is_some()),
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn probabilities_sum_to_one(marked in 0i64..14, plain in 0i64..14) {
        prop_assume!(marked + plain > 0);
        for batch in &season(&USUAL, marked, plain, "0.005").diagnosis().batches {
            hold_laws(batch);
        }
    }

    #[test]
    fn names_of_loci_and_classes_and_their_order_change_nothing(marked in 0i64..10, plain in 0i64..10) {
        prop_assume!(marked + plain > 0);
        let renamed = Names { locus: ["Zed1", "zed1"], marked: "alpha", plain: "omega", marked_first: false };
        let one = season(&USUAL, marked, plain, "0.005").diagnosis();
        let other = season(&renamed, marked, plain, "0.005").diagnosis();
        for code in ["T1", "T2"] {
            same_answer(tray(&one.batches, code), &USUAL, tray(&other.batches, code), &renamed);
        }
    }

    #[test]
    fn which_cell_a_seedling_stands_in_changes_nothing(mask in 1u32..255) {
        let answer = |flip: bool| {
            let mut bench = season(&USUAL, 4, 4, "0.005");
            let spots: Vec<_> = (0..8)
                .map(|at| {
                    let marked = mask >> (if flip { 7 - at } else { at }) & 1 == 1;
                    let spot = format!("{}", at + 1).parse().expect("a cell");
                    (vec![spot], look(&[if marked { USUAL.marked } else { USUAL.plain }]))
                })
                .collect();
            bench.score("T1", ScoreWhat::Spots(spots), day("2026-06-05"));
            bench.diagnosis()
        };
        let (one, other) = (answer(false), answer(true));
        same_answer(tray(&one.batches, "T1"), &USUAL, tray(&other.batches, "T1"), &USUAL);
    }
}

#[test]
fn two_thousand_seedlings_and_chances_of_1e_300_stay_numbers() {
    for misread in ["0.005", "1e-300", "0"] {
        for (marked, plain) in [(1990, 10), (10, 1990), (2000, 0), (0, 2000)] {
            for batch in &season(&USUAL, marked, plain, misread).diagnosis().batches {
                hold_laws(batch);
            }
        }
    }
}

#[test]
fn a_hundred_contradictory_readings_of_one_seedling_stay_numbers() {
    let mut bench = season(&USUAL, 4, 4, "1e-6");
    for back in 0..60 {
        let class = if back % 2 == 0 {
            USUAL.marked
        } else {
            USUAL.plain
        };
        let spot = "1".parse().expect("a cell");
        let what = ScoreWhat::Spots(vec![(vec![spot], look(&[class]))]);
        bench.score("T1", what, day("2026-06-20").back(47 - back.min(47)));
    }
    for batch in &bench.diagnosis().batches {
        hold_laws(batch);
    }
}

#[test]
fn what_is_assumed_moves_the_answer() {
    let mut bench = season(&USUAL, 10, 2, "0.005");
    let before = bench.diagnosis();
    let value = Some("0.999".to_owned());
    bench.record(&Entry::Assume(Assume {
        key: "none.emasculated".to_owned(),
        value,
    }));
    let after = bench.diagnosis();
    let none = |batches: &[BatchAnswer]| tray(batches, "T1").sources[0].p;
    assert!(none(&after.batches) > none(&before.batches) + 0.01);
}

/// Two traits of one locus, read against each other again and again.
fn contradicted(misread: &str, times: i64) -> Bench {
    let mut bench = season(&USUAL, 4, 4, misread);
    bench.record(&Entry::Trait(NewTrait {
        code: "veins".parse().expect("a code"),
        name: None,
        classes: vec!["dark".to_owned(), "light".to_owned()],
        rules: vec!["Q/_ => dark".to_owned(), "else => light".to_owned()],
        one_gene: None,
        late: Vec::new(),
        median_days: None,
        spread: None,
        ceiling: None,
        misread: Some(misread.to_owned()),
        class_misread: Vec::new(),
        organ: Some("vein".to_owned()),
        stage: Some("seedling".to_owned()),
    }));
    for back in 0..times {
        let spot = "1".parse().expect("a cell");
        let what = ScoreWhat::Spots(vec![(vec![spot], look(&[USUAL.marked, "light"]))]);
        bench.score("T1", what, day("2026-06-20").back(back));
    }
    let others = (2..=8).map(|cell| {
        (
            vec![cell.to_string().parse().expect("a cell")],
            look(&[USUAL.marked]),
        )
    });
    bench.score("T1", ScoreWhat::Spots(others.collect()), day("2026-06-20"));
    bench
}

#[test]
fn readings_that_contradict_each_other_do_not_pull_the_tray_down() {
    // 1e-90 four times over is under the smallest number a computer holds; 0 is a flat contradiction.
    for (misread, times) in [
        ("0.005", 3),
        ("1e-6", 10),
        ("1e-90", 4),
        ("1e-150", 6),
        ("0", 1),
    ] {
        let diagnosis = contradicted(misread, times).diagnosis();
        let batch = tray(&diagnosis.batches, "T1");
        hold_laws(batch);
        let first = batch
            .seedlings
            .iter()
            .find(|one| one.seedling.as_deref() == Some("T1-01"));
        let first = first.expect("the contradicted seedling is in the answer");
        assert!(
            !matches!(first.verdict, Verdict::Cull) || first.p_off >= 0.95,
            "{misread}: {first:?}"
        );
        let clean = batch
            .seedlings
            .iter()
            .find(|one| one.seedling.as_deref() == Some("T1-02"));
        assert_eq!(
            clean.map(|one| one.verdict),
            Some(Verdict::Keep),
            "{misread}"
        );
        if misread == "0" {
            assert_eq!(first.verdict, Verdict::Undecided);
        }
    }
}

#[test]
fn every_starting_belief_at_its_edge_gives_numbers() {
    for (key, value) in [
        ("dim", "1"),
        ("dim", "0"),
        ("whole-batch", "0"),
        ("whole-batch", "1"),
        ("batch-spread", "0"),
        ("none.emasculated", "1"),
        ("none.emasculated", "0"),
        ("trust.stated", "1"),
        ("inbreeding.line", "1"),
        ("doubtful", "0"),
    ] {
        let mut bench = season(&USUAL, 8, 3, "0.005");
        bench.record(&Entry::Assume(Assume {
            key: key.to_owned(),
            value: Some(value.to_owned()),
        }));
        for batch in &bench.diagnosis().batches {
            hold_laws(batch);
            let finite = batch
                .seedlings
                .iter()
                .all(|one| one.reason.times_as_likely_off.is_finite());
            assert!(finite, "{key} {value}");
        }
    }
}
