//! Records that cannot all be right: said with both of them, and kept out of the sums only where that is said.
//!
//! What is kept out is proven by a ledger in which it was never written down: the two must agree in every number.

use serde_json::Value;

use crate::support::{Bench, flat};

fn bench(lines: &[&str]) -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-06-01");
    bench.ok("init");
    for line in lines {
        record(&bench, line);
    }
    bench
}

/// Runs a command that may warn but must succeed; gives what it says on standard error.
fn record(bench: &Bench, line: &str) -> String {
    let run = bench.run(line);
    assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    flat(&run.err)
}

/// What `suspects` says of a tray, but for its remarks.
fn sums(bench: &Bench, tray: &str) -> Value {
    let mut answer = bench.json(&format!("suspects {tray}"))["batches"][0].clone();
    answer.as_object_mut().unwrap().remove("notes");
    answer
}

fn says(bench: &Bench, question: &str, words: &str) {
    let said = flat(&bench.ok(question));
    assert!(said.contains(words), "{question}: {said}");
}

const TRAY: [&str; 5] = [
    "parent add MO --genotype a/a",
    "parent add FA --genotype A/A",
    "cross MO FA --on 2026-01-10",
    "sow X1 --seeds 12 --place tent --on 2026-03-01",
    "up T1 12 --on 2026-03-12",
];

fn tray(then: &[&str]) -> Bench {
    bench(&[&TRAY[..], then].concat())
}

#[test]
fn of_two_classes_on_one_day_the_newest_counts_and_both_are_named() {
    let first = "score T1 1-9=purple 10-12=green --on 2026-05-01";
    let bench = tray(&[first]);
    let noted = record(&bench, "score T1 10-11=purple 12=green --on 2026-05-01");
    assert_eq!(
        noted,
        "note: T1-10 and T1-11 were read green on 1 May already; both are kept, and purple, the newer, counts"
    );
    let single = record(&bench, "score T1-09 green --on 2026-05-01");
    assert!(
        single.contains("T1-09 was read purple on 1 May already"),
        "{single}"
    );
    let words = "T1-10 and T1-11 were read green and purple on 1 May: purple, recorded last, counts; green is kept and stays \
                 out of the sums.";
    for question in ["suspects T1", "why T1-10", "late-colour fit"] {
        says(&bench, question, words);
        says(
            &bench,
            question,
            "T1-09 was read purple and green on 1 May: green, recorded last, counts",
        );
    }
    let right = tray(&["score T1 1-8=purple 9=green 10-11=purple 12=green --on 2026-05-01"]);
    assert_eq!(sums(&bench, "T1"), sums(&right, "T1"));
    // A doubtful second thought, a second trait and another day are no contradiction.
    let calm = tray(&[first]);
    for line in [
        "score T1-01 maybe-green --on 2026-05-01",
        "score T1-02 smooth --on 2026-05-01",
        "score T1-12 purple --on 2026-05-02",
        "score T1-03 purple --on 2026-05-01",
    ] {
        assert_eq!(record(&calm, line), "", "{line}");
    }
    assert!(!flat(&calm.ok("suspects T1")).contains("recorded last"));
}

#[test]
fn a_reading_from_after_its_death_is_doubted_kept_and_left_out() {
    let lines = [
        "score T1 1-10=purple 11-12=green --on 2026-04-20",
        "died T1-12 --on 2026-05-03",
    ];
    let bench = tray(&lines);
    let err = flat(&bench.fails("score T1-12 purple --on 2026-05-10", 1));
    assert!(
        err.contains("T1-12 is to be scored on 2026-05-10, but it died on 2026-05-03"),
        "{err}"
    );
    let noted = record(&bench, "score T1-12 purple --on 2026-05-10 --even-so");
    assert!(
        noted.contains("T1-12: a reading from after it went is kept and stays out of the sums"),
        "{noted}"
    );
    let words = "T1-12 was read purple on 10 May, but died on 3 May: that reading is kept and stays out of the sums. One of \
                 the two records is wrong.";
    for question in ["suspects T1", "why T1-11", "late-colour fit"] {
        says(&bench, question, words);
    }
    assert_eq!(sums(&bench, "T1"), sums(&tray(&lines), "T1"));
    // What was seen on the day itself, or before, counts.
    let same_day = tray(&[lines[0], "score T1-12 purple --on 2026-05-03", lines[1]]);
    assert!(!flat(&same_day.ok("suspects T1")).contains("stays out of the sums"));
    assert_ne!(sums(&same_day, "T1"), sums(&tray(&lines), "T1"));
    // Taken back, it counts again.
    bench.ok("undo");
    assert!(!flat(&bench.ok("suspects T1")).contains("One of the two records"));
}

/// A second cross, on 20 March, while a seedling of the first, sown on 1 March, is said to be in flower.
const SECOND: [&str; 4] = [
    "cross MO FA --code X2 --on 2026-03-20",
    "sow X2 --seeds 8 --on 2026-04-01",
    "up T2 8 --on 2026-04-12",
    "score T2 1-6=purple 7-8=green --on 2026-05-25",
];

#[test]
fn a_plant_hardly_in_flower_is_asked_about_and_is_a_donor_all_the_same() {
    let bench = tray(&["parent add K1 --from T1-01 --on 2026-03-15"]);
    let noted = record(&bench, "parent in-flower K1 --on 2026-03-19");
    assert_eq!(
        noted,
        "note: K1 was sown 18 days before: hardly in flower yet; is it the right plant?"
    );
    for line in SECOND {
        record(&bench, line);
    }
    let sources = bench.json("suspects T2")["batches"][0]["sources"].clone();
    let donors = sources
        .as_array()
        .unwrap()
        .iter()
        .filter(|one| one["code"] == "K1");
    assert_eq!(
        donors.count(),
        2,
        "pollen of K1 and all of it by K1: {sources}"
    );
}

#[test]
fn a_plant_sown_after_the_cross_is_refused_and_never_a_donor() {
    let early = "parent in-flower T1-02 --on 2026-01-09 --until 2026-01-12";
    let bench = tray(&["score T1 1-9=purple 10-12=green --on 2026-05-01"]);
    let err = flat(&bench.fails(early, 1));
    assert!(
        err.contains("2026-01-09, but T1-02 was sown on 2026-03-01"),
        "{err}"
    );
    let before = sums(&bench, "T1");
    let noted = record(&bench, &format!("{early} --even-so"));
    assert!(noted.contains("recorded even so"), "{noted}");
    says(
        &bench,
        "suspects T1",
        "T1-02 was sown on 1 March, after the cross of 10 January: it cannot have given pollen, and stays out of the donors.",
    );
    says(
        &bench,
        "why T1-10",
        "T1-02 was sown on 1 March, after the cross of 10 January",
    );
    assert_eq!(sums(&bench, "T1"), before);
}

/// A tray still green at 29 days, and a pot of its father's seed, green too.
fn with_pot(father: &str, place: &str, looked: &str) -> (Bench, Bench) {
    let tray = [
        "parent add MO --genotype a/a",
        father,
        "cross MO FA --on 2026-01-10",
        "sow X1 --seeds 12 --place tent --on 2026-03-01",
        "up T1 12 --on 2026-03-12",
        "score T1 9 purple 3 green --on 2026-04-10",
    ];
    let sown = format!("sow FA --seeds 4 {place} --on 2026-03-01");
    let read = format!("score T2 4 green --on {looked}");
    let pot = [sown.as_str(), "up T2 4 --on 2026-03-12", read.as_str()];
    let none = [
        "sow FA --seeds 4 --on 2026-03-01",
        "up T2 4 --on 2026-03-12",
        read.as_str(),
    ];
    (
        bench(&[&tray[..], &pot].concat()),
        bench(&[&tray[..], &none].concat()),
    )
}

#[test]
fn a_pot_that_is_no_control_is_named_with_the_reason() {
    let line = "parent add FA --genotype A/A";
    for (father, place, looked, why) in [
        (
            line,
            "--place sill",
            "2026-04-10",
            "it stands at 'sill', the tray at 'tent'",
        ),
        (
            line,
            "",
            "2026-04-10",
            "it stands at no named place, the tray at 'tent'",
        ),
        (
            line,
            "--place tent",
            "2026-05-01",
            "it was last looked at on 1 May, the tray on 10 April, more than 7 days apart",
        ),
        (line, "--place tent", "2026-04-16", ""),
        (
            "parent add FA --genotype A/a",
            "--place tent",
            "2026-04-10",
            "by what is known of FA (stated A/a) only 75 % of its seedlings have to turn",
        ),
    ] {
        let (bench, _) = with_pot(father, place, looked);
        let said = flat(&bench.ok("suspects T1"));
        if why.is_empty() {
            assert!(
                said.contains(
                    "The control pot T2 at the place 'tent' has to turn and has not, though others coloured there"
                ),
                "{said}"
            );
            assert!(!said.contains("no control pot"), "{said}");
        } else {
            let words = format!(
                "T2, seed of FA, has not turned either, but is no control pot for T1: {why}. It says nothing of the light \
                 there; as seed of FA it counts."
            );
            assert!(said.contains(&words), "{why}: {said}");
            assert!(!said.contains("has to turn and has not"), "{said}");
        }
    }
    // The place alone moves no number: it was never in the sums.
    let (elsewhere, nowhere) = with_pot(line, "--place sill", "2026-04-10");
    assert_eq!(sums(&elsewhere, "T1"), sums(&nowhere, "T1"));
}

#[test]
fn a_pot_too_young_to_have_turned_is_no_control() {
    let bench = tray(&[
        "score T1 9 purple 3 green --on 2026-04-10",
        "sow FA --seeds 4 --place tent --on 2026-03-28",
        "up T2 4 --on 2026-04-06",
        "score T2 4 green --on 2026-04-10",
    ]);
    says(
        &bench,
        "suspects T1",
        "T2, seed of FA, has not turned either, but is no control pot for T1: at its age half of it need not have turned yet.",
    );
}
