//! What is remarked on while things are recorded: records that do not go together, words that are nearly others, and
//! answers that name what comes first.

use crate::support::{Bench, flat};

fn bench_of(lines: &[&str]) -> Bench {
    Bench::with("2026-05-20", lines)
}

/// What was recorded, with what was remarked on it.
fn told(bench: &Bench, line: &str) -> String {
    let run = bench.run(line);
    assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    flat(&format!("{} {}", run.out, run.err))
}

/// A green mother and a purple father; twelve up on 28 March.
const TRAY: [&str; 5] = [
    "parent add CW --genotype a/a",
    "parent add NL --genotype A/A",
    "cross CW NL --on 2026-01-10",
    "sow X1 --seeds 12 --on 2026-03-14",
    "up T1 12 --on 2026-03-28",
];

fn tray(more: &[&str]) -> Bench {
    bench_of(&[&TRAY, more].concat())
}

#[test]
fn a_late_colour_that_went_between_two_counts_is_named() {
    let bench = tray(&["score T1 12 purple --on 2026-04-20"]);
    let said = told(&bench, "score T1 8 purple 4 green --on 2026-05-10");
    assert!(
        said.contains("T1 had 12 purple on 20 April, and has 8 now"),
        "{said}"
    );
    // Four that went in between may have been purple.
    let bench = tray(&[
        "score T1 12 purple --on 2026-04-20",
        "cull T1 4 --on 2026-04-25",
    ]);
    let said = told(&bench, "score T1 8 purple --on 2026-05-10");
    assert!(!said.contains("has 8 now"), "{said}");
    // A count of another trait says nothing of the colour.
    let bench = tray(&["score T1 12 purple --on 2026-04-20"]);
    let said = told(&bench, "score T1 stem-hair:hairy=12 --on 2026-05-10");
    assert!(!said.contains("purple on"), "{said}");
}

#[test]
fn a_second_count_of_a_day_is_said_to_count_in_place_of_the_first() {
    let bench = tray(&["score T1 8 purple 4 green --on 2026-05-10"]);
    let said = told(&bench, "score T1 9 purple 3 green --on 2026-05-10");
    assert!(
        said.contains("T1 was counted on 10 May already, 8 purple, 4 green; both are kept, and the newer counts"),
        "{said}"
    );
    told(&bench, "score T1 9 purple 3 maybe-green --on 2026-05-12");
    let said = told(&bench, "score T1 9 purple 3 green --on 2026-05-12");
    assert!(said.contains("already, 9 purple, 3 maybe green;"), "{said}");
    let said = told(&bench, "score T1 9 purple 3 green --on 2026-05-13");
    assert!(!said.contains("already"), "{said}");
}

#[test]
fn more_pods_than_set_are_doubted() {
    let bench = tray(&["set X1 --pods 0 --on 2026-01-20"]);
    let run = bench.run("harvest X1 --seeds 10 --on 2026-03-10");
    assert_eq!(run.status, Some(1));
    let said = flat(&run.err);
    assert!(
        said.contains("X1: seed harvested, but no pod set by what is recorded"),
        "{said}"
    );
    assert!(said.contains("locule set X1 --pods 1"), "{said}");
    bench.ok("set X1 --pods 2 --on 2026-01-21");
    let run = bench.run("harvest X1 --pods 3 --on 2026-03-10");
    assert!(flat(&run.err).contains("3 pods harvested, but 2 pods set"));
    bench.ok("harvest X1 --pods 2 --on 2026-03-10");
    told(&bench, "harvest X1 --pods 1 --on 2026-03-11 --even-so");
}

#[test]
fn the_same_pair_and_nearly_the_same_tool_are_named() {
    let bench = bench_of(&[
        TRAY[0],
        TRAY[1],
        "cross CW NL --tool tweezers --on 2026-01-10",
    ]);
    let said = told(&bench, "cross CW NL --tool tweezer --on 2026-01-12");
    assert!(said.contains("if it is 'tweezers'"), "{said}");
    assert!(
        said.contains("X1 is the same pair; to make this a further pollination of it"),
        "{said}"
    );
    let said = told(
        &bench,
        "cross CW NL --tool tweezers --code X1 --on 2026-01-13",
    );
    assert!(!said.contains("same pair"), "{said}");
    let said = told(
        &bench,
        "cross CW NL --tool tweezers --code X1 --on 2026-01-13",
    );
    assert!(
        said.contains("X1 is the same pair, on 13 January already"),
        "{said}"
    );
    // The other way round is another cross.
    let said = told(&bench, "cross NL CW --tool tweezers --on 2026-01-12");
    assert!(!said.contains("same pair"), "{said}");
}

#[test]
fn a_species_nearly_known_and_fewer_leaves_are_named() {
    let bench = tray(&[]);
    let said = told(&bench, "parent add BL --species bacatum");
    assert!(said.contains("if it is baccatum"), "{said}");
    bench.ok("score T1-01 green --leaves 4 --on 2026-04-20");
    let said = told(&bench, "score T1-01 green --leaves 2 --on 2026-04-25");
    assert!(said.contains("T1-01 had 4 leaves on 20 April"), "{said}");
    let said = told(&bench, "score T1-01 green --leaves 6 --on 2026-04-30");
    assert!(!said.contains("leaves on"), "{said}");
}

#[test]
fn a_class_word_that_another_trait_has_is_named() {
    let bench = tray(&[]);
    let said = told(
        &bench,
        "trait add vein --classes purple,pale --rule 'V/_ => purple' --rule 'else => pale'",
    );
    assert!(
        said.contains("foliage has purple too, so write vein:purple"),
        "{said}"
    );
    let said = flat(&told(
        &bench,
        "trait add rim --classes wavy,flat --rule 'W/_ => wavy' --rule 'else => flat'",
    ));
    assert!(!said.contains("too, so write"), "{said}");
}

#[test]
fn dates_with_full_stops_are_answered_in_the_form_that_is_read() {
    let bench = tray(&[]);
    let run = bench.run("up T1 12 --on 10.4.2026");
    assert_eq!(run.status, Some(2));
    let said = flat(&run.err);
    assert!(
        said.contains("could be read two ways, 2026-04-10 or 2026-10-04"),
        "{said}"
    );
    assert!(
        said.contains("try: locule up T1 12 --on 2026-04-10"),
        "{said}"
    );
}

#[test]
fn a_seedling_that_nobody_scored_is_answered_by_its_tray() {
    let bench = tray(&["score T1 1-8=purple 9=green"]);
    let said = flat(&bench.ok("why T1-12"));
    assert!(said.contains("T1-12: not scored"), "{said}");
    assert!(said.contains("locule score T1-12 CLASS"), "{said}");
    let why = bench.json("why T1-12");
    let tray = bench.json("suspects T1");
    assert_eq!(why["p_off"], tray["batches"][0]["p_off_unscored"]);
    assert!(why["p_off"].as_f64().unwrap() > 0.0);
    // A cell that is not there is no seedling.
    assert_eq!(bench.run("why T1-13").status, Some(1));
    // One that was only too early to score is answered alike.
    bench.ok("score T1-11 early");
    assert!(flat(&bench.ok("why T1-11")).contains("T1-11: not scored, or not so that it tells"));
}

#[test]
fn a_parent_read_as_what_it_cannot_be_is_named() {
    let bench = tray(&["score T1 1-8=purple 9=green"]);
    assert!(!flat(&bench.ok("suspects T1")).contains("is stated of it"));
    told(&bench, "score NL green");
    let said = flat(&bench.ok("suspects T1"));
    assert!(
        said.contains("NL was read green on 20 May, but A/A is stated of it"),
        "{said}"
    );
    told(&bench, "score NL purple --on 2026-05-20");
    assert!(!flat(&bench.ok("suspects T1")).contains("is stated of it"));
}

#[test]
fn several_trays_begin_with_what_they_ask_for() {
    let bench = tray(&[
        "score T1 1-10=purple 11=green --on 2026-05-20",
        "sow X1 --seeds 4 --on 2026-05-01",
        "up T2 4 --on 2026-05-12",
    ]);
    let said = bench.ok("suspects");
    let first = said.lines().next().unwrap();
    assert_eq!(first, "Look again: T1 from 25 May.", "{said}");
    assert!(said.contains("Not scored: 1 in T1, 4 in T2."), "{said}");
    assert!(!bench.ok("suspects T1").starts_with("Look again"));
}

#[test]
fn what_would_settle_an_undecided_seedling_is_named_beside_it() {
    let bench = bench_of(&[
        "parent add GF --genotype 'a/a H/H'",
        "parent add NP --genotype A/A",
        "cross GF NP --on 2026-01-10",
        "sow X1 --seeds 10 --on 2026-02-28",
        "up T1 10 --on 2026-03-14",
        "score T1 1-8=purple/hairy 9-10=green/hairy --on 2026-05-06",
    ]);
    let answer = bench.json("suspects T1");
    let seedlings = answer["batches"][0]["seedlings"].as_array().unwrap();
    let green = seedlings
        .iter()
        .find(|one| one["seedling"] == "T1-09")
        .unwrap();
    assert_eq!(green["verdict"], "undecided");
    assert_eq!(green["settling"]["trait"], "foliage");
    for command in ["suspects T1", "sheet T1"] {
        let said = flat(&bench.ok(command));
        assert!(
            said.contains("To settle the undecided ones") && said.contains("look at foliage again"),
            "{command}: {said}"
        );
    }
}

/// Up is what came up ever: fewer than were scored by then cannot be; more may come later.
#[test]
fn fewer_up_than_were_scored_are_refused() {
    let bench = bench_of(&[
        "parent add CW --genotype a/a",
        "parent add NL --genotype A/A",
        "cross CW NL --on 2026-01-10",
        "sow X1 --seeds 12 --on 2026-03-14",
    ]);
    told(&bench, "score T1 9 purple 2 green --on 2026-04-20");
    for (line, of) in [
        ("up T1 0", "11 scored, but 0 up"),
        ("up T1 8", "11 scored, but 8 up"),
    ] {
        let said = flat(&bench.fails(&format!("{line} --on 2026-04-25"), 1));
        assert!(
            said.contains(of) && said.contains("--even-so records it all the same"),
            "{line}: {said}"
        );
    }
    told(&bench, "up T1 8 --on 2026-04-01");
    told(&bench, "up T1 12 --on 2026-04-25");
    told(&bench, "score T1-03 purple --on 2026-04-26");
    let said = flat(&bench.fails("up T1-03 0 --on 2026-04-27", 1));
    assert!(said.contains("T1-03: 1 scored, but 0 up"), "{said}");
}

/// `care T1 feed` means `care feed T1`; where neither is known it is refused as before.
#[test]
fn care_is_understood_either_way_round() {
    let bench = tray(&[]);
    assert_eq!(told(&bench, "care feed T1"), told(&bench, "care T1 feed"));
    assert!(told(&bench, "care T1-03 X1 gnats").starts_with("gnats for T1-03 and X1"));
    let said = flat(&bench.fails("care feed T9", 1));
    assert!(said.contains("T9"), "{said}");
}

/// A slip in number or unit stands out beside the tray: five times its middle.
#[test]
fn a_measure_far_off_its_tray_is_remarked_on() {
    let bench = tray(&[
        "measure T1-01 height=40mm --on 2026-05-18",
        "measure T1-02 height=5cm --on 2026-05-18",
    ]);
    assert!(!told(&bench, "measure T1-03 height=520mm").contains("in the middle"));
    told(&bench, "measure T1-03 height=60mm");
    let said = told(&bench, "measure T1-04 height=520mm");
    assert!(
        said.contains("height 520 mm: the 3 others of the tray have 50 mm in the middle; if that is a slip, 'locule undo'"),
        "{said}"
    );
    for line in [
        "measure T1-05 height=5mm",
        "measure T1-06 height=200mm",
        "measure T1-07 width=2mm",
        "measure NL height=900mm",
    ] {
        assert!(!told(&bench, line).contains("in the middle"), "{line}");
    }
}

/// A look of last year is not taken for one of this spring.
#[test]
fn a_day_of_another_year_has_its_year() {
    let mut bench = tray(&["score T1 1-11=purple 12=green --on 2026-05-10"]);
    let said = flat(&bench.ok("suspects T1"));
    assert!(
        said.contains("purple 10 May") && !said.contains("10 May 2026"),
        "{said}"
    );
    bench.on("2027-01-15");
    for ask in ["suspects T1", "why T1-12"] {
        let said = flat(&bench.ok(ask));
        assert!(said.contains("10 May 2026"), "{ask}: {said}");
    }
}
