//! Records that cannot all be right: said with both of them, and kept out of the sums only where that is said.
//!
//! What is kept out is proven by a ledger in which it was never written down: the two must agree in every number.

use serde_json::Value;

use crate::support::{Bench, flat, record};

fn bench(lines: &[&str]) -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-06-01");
    bench.ok("init");
    for line in lines {
        record(&bench, line);
    }
    bench
}

/// What `suspects` says of a tray, but for its remarks.
fn sums(bench: &Bench, tray: &str) -> Value {
    let mut answer = bench.json(&format!("suspects {tray}"))["batches"][0].clone();
    for said in ["notes", "remarks"] {
        answer.as_object_mut().unwrap().remove(said);
    }
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
    // A second trait, another day and the same class again are no contradiction.
    let calm = tray(&[first]);
    for line in [
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

#[test]
fn a_firm_class_is_not_outvoted_without_a_word_whatever_is_read_next() {
    for (second, look, counted) in [
        ("maybe-green", "maybe green", "maybe-green"),
        ("maybe-purple", "maybe purple", "maybe-purple"),
        ("early", "early", "early"),
    ] {
        let bench = tray(&["score T1 1-9=purple 10-12=green --on 2026-05-01"]);
        let noted = record(&bench, &format!("score T1-01 {second} --on 2026-05-01"));
        assert_eq!(
            noted,
            format!(
                "note: T1-01 was read purple on 1 May already; both are kept, and {look}, the newer, counts"
            )
        );
        let words = format!(
            "T1-01 was read purple and {look} on 1 May: {look}, recorded last, counts; purple is kept and stays out of the sums."
        );
        for question in ["suspects T1", "why T1-10"] {
            says(&bench, question, &words);
        }
        let shown = flat(&bench.ok("show T1-01"));
        assert!(
            shown.contains("2026-05-01: purple (a newer one of that day counts)")
                && shown.contains(&format!("2026-05-01: {counted}"))
                && shown.matches("newer one").count() == 1,
            "{shown}"
        );
        assert!(flat(&bench.ok("show T1")).contains("purple (a newer one of that day counts)"));
        let right = tray(&[
            "score T1 2-9=purple 10-12=green --on 2026-05-01",
            &format!("score T1-01 {second} --on 2026-05-01"),
        ]);
        assert_eq!(sums(&bench, "T1"), sums(&right, "T1"), "{second}");
        // A further look finds nothing firm to outvote.
        assert_eq!(
            record(&bench, "score T1-01 maybe-green --on 2026-05-01"),
            ""
        );
    }
}

#[test]
fn a_parent_read_two_ways_on_one_day_is_named_where_it_counts() {
    let bench = tray(&[
        "score T1 1-9=purple 10-12=green --on 2026-05-01",
        "score FA purple --on 2026-05-01",
    ]);
    let noted = record(&bench, "score FA green --on 2026-05-01");
    assert!(
        noted.contains("FA was read purple on 1 May already"),
        "{noted}"
    );
    let words = "FA was read purple and green on 1 May: green, recorded last, counts";
    for question in ["genotype FA", "suspects T1", "sheet T1", "why T1-10"] {
        says(&bench, question, words);
    }
    assert!(!flat(&bench.ok("genotype MO")).contains("recorded last"));
    for question in ["genotype FA", "why T1-10"] {
        let remark = bench.json(question)["remarks"][0].clone();
        assert_eq!(remark["kind"], "read-twice", "{question}");
        assert_eq!(
            (&remark["whose"][0], &remark["trait"], &remark["day"]),
            (&"FA".into(), &"foliage".into(), &"2026-05-01".into())
        );
        assert_eq!(
            (&remark["set_aside"], &remark["counted"]),
            (&"purple".into(), &"green".into())
        );
    }
}

#[test]
fn the_sheet_and_the_ratio_say_which_records_cannot_be_right() {
    let bench = tray(&[
        "score T1 1-9=purple 10-12=green --on 2026-04-10",
        "score T1-01 green --on 2026-04-10",
        "score T1-01 hairy --on 2026-04-10",
        "score T1-01 smooth --on 2026-04-10",
        "died T1-12 --on 2026-04-12",
        "score T1-12 purple --on 2026-04-15 --even-so",
        "parent in-flower T1-02 --on 2026-01-09 --until 2026-01-12 --even-so",
        "sow FA --seeds 4 --place sill --on 2026-03-02",
        "up T2 4 --on 2026-03-13",
        "score T2 4 green --on 2026-04-10",
    ]);
    let twice = "T1-01 was read purple and green on 10 April: green, recorded last, counts";
    let gone = "T1-12 was read purple on 15 April, but died on 12 April: that reading is kept and stays out of the sums.";
    let pot = "T2, seed of FA, has not turned either, but is no control pot for T1";
    let cautions = bench.json("sheet T1")["trays"][0]["cautions"].to_string();
    for words in [twice, gone, pot] {
        says(&bench, "sheet T1", words);
        assert!(cautions.contains(words), "{cautions}");
    }
    // Whose pollen it was is no business of the one who pulls.
    assert!(!cautions.contains("cannot have given pollen"), "{cautions}");
    let kinds: Vec<String> = bench.json("suspects T1")["batches"][0]["remarks"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["kind"].as_str().unwrap().to_owned())
        .collect();
    for kind in [
        "read-twice",
        "read-when-gone",
        "donor-sown-later",
        "no-control",
    ] {
        assert!(kinds.iter().any(|one| one == kind), "{kind}: {kinds:?}");
    }
    says(&bench, "ratio T1", twice);
    says(&bench, "ratio T1", gone);
    let said = flat(&bench.ok("ratio T1"));
    assert!(
        !said.contains("hairy and smooth"),
        "another trait's: {said}"
    );
    assert_eq!(
        bench.json("ratio T1")["batches"][0]["left_out"]
            .as_array()
            .unwrap()
            .len(),
        2
    );
    // A seedling that was read twice and is gone since is none to be pulled.
    record(&bench, "died T1-01 --on 2026-04-16");
    assert!(!flat(&bench.ok("sheet T1")).contains("was read purple and green"));
}

#[test]
fn a_plant_sown_on_the_day_of_the_cross_is_refused_as_one_sown_later() {
    let bench = tray(&[]);
    for (line, act) in [
        ("cross MO T1-02 --on 2026-03-01", "used as a father"),
        ("cross T1-02 MO --on 2026-03-01", "pollinated"),
        ("parent in-flower T1-02 --on 2026-03-01", "in flower"),
    ] {
        let err = flat(&bench.fails(line, 1));
        let words =
            format!("T1-02 {act} on 2026-03-01, the day T1-02 was sown; a seed does not flower");
        assert!(err.contains(&words), "{line}: {err}");
        let noted = record(&bench, &format!("{line} --even-so"));
        assert!(noted.contains("recorded even so"), "{noted}");
        assert!(!noted.contains("hardly in flower"), "{noted}");
    }
    let noted = record(&bench, "cross MO T1-03 --on 2026-03-02");
    assert!(
        noted.contains("was sown 1 day before: hardly in flower yet"),
        "{noted}"
    );
}

#[test]
fn a_green_pot_beside_the_tray_is_not_taken_for_its_control() {
    let read = "score T1 9 purple 3 green --on 2026-04-10";
    let pot = |plant: &str, place: &str, looked: &str| {
        let sown = format!("sow {plant} --seeds 4 --place {place} --on 2026-03-02");
        let seen = format!("score T2 4 green --on {looked}");
        let lines = [
            "parent add PU --genotype A/A",
            read,
            &sown,
            "up T2 4 --on 2026-03-13",
            &seen,
        ];
        flat(&tray(&lines).ok("suspects T1"))
    };
    let of_mother = pot("MO", "tent", "2026-04-10");
    assert!(
        of_mother.contains(
            "T2, seed of MO, has not turned either, but is no control pot for T1: by what is known of MO (stated a/a) none of \
             its seedlings has to turn."
        ),
        "{of_mother}"
    );
    let old = pot("PU", "tent", "2026-05-01");
    assert!(
        old.contains(
            "T2, seed of PU, has not turned either, but is no control pot for T1: it was last looked at on 1 May"
        ),
        "{old}"
    );
    // Elsewhere nobody takes them for one.
    for (plant, looked) in [("MO", "2026-04-10"), ("PU", "2026-05-01")] {
        let said = pot(plant, "sill", looked);
        assert!(!said.contains("no control pot"), "{plant}: {said}");
    }
}
