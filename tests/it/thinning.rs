//! Thinning by look or by count, blind or not, before or after counting: what `ratio` makes of it.
//!
//! A self of Q/q gives felted and bald as 3 : 1 at any age, so chi-squares are worked out by hand.

use serde_json::{Value, json};

use crate::support::{Bench, close, flat};

/// Trays of 40 seedlings, sown on 1 March and up.
fn sown(trays: &[&str], more: &str) -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-02-01");
    for line in [
        "init",
        "trait add felt --classes felted,bald --rule 'Q/_ => felted' --rule 'else => bald'",
        "trait add sheen --classes satin,matt --rule 'J/_ => satin' --rule 'else => matt'",
        "parent add PP --plant --genotype 'Q/q J/j'",
        "self PP",
    ] {
        bench.ok(line);
    }
    bench.on("2026-05-30");
    for tray in trays {
        bench.ok(&format!(
            "sow X1 --seeds 40 --tray {tray} {more} --on 2026-03-01"
        ));
        bench.ok(&format!("up {tray} 40 --on 2026-03-15"));
    }
    bench
}

/// One tray of them, with what is then recorded on days of April.
fn tray(lines: &[(u32, &str)]) -> Bench {
    let bench = sown(&["T1"], "");
    record(&bench, lines);
    bench
}

fn record(bench: &Bench, lines: &[(u32, &str)]) {
    for (day, line) in lines {
        let run = bench.run(&format!("{line} --on 2026-04-{day:02}"));
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
}

/// Felted and bald counted, whether biased, and the tray's line.
fn counted(bench: &Bench, what: &str) -> (u64, u64, bool, Value) {
    let told = bench.json(&format!("ratio {what} --trait felt"));
    let line = told["batches"][0].clone();
    let of = |at: usize| line["classes"][at]["observed"].as_u64().unwrap();
    (of(0), of(1), line["pulled_before"].as_bool().unwrap(), line)
}

fn words(bench: &Bench) -> String {
    flat(&bench.ok("ratio T1 --trait felt"))
}

#[test]
fn what_is_picked_by_its_look_is_not_blind() {
    let bench = tray(&[(1, "score T1 felted=30 bald=10")]);
    for line in ["thin T1 3 bald", "thin T1 1-3 bald", "thin T1 1-3=bald"] {
        let said = flat(&bench.fails(&format!("{line} --blind --on 2026-04-05"), 2));
        assert!(
            said.contains("seedlings chosen by a look are not chosen blindly")
                && said.ends_with(&format!("try: locule {line} --on 2026-04-05")),
            "{said}"
        );
    }
    let bench = tray(&[(5, "thin T1 3 --blind")]);
    let thinned = bench.json("history")["entries"]
        .as_array()
        .unwrap()
        .last()
        .unwrap()["entry"]
        .clone();
    let said = flat(&bench.fails(&format!("amend {thinned} thin T1 3 bald --blind"), 2));
    assert!(said.contains("not chosen blindly"), "{said}");
}

#[test]
fn blind_thinning_biases_nothing_before_or_after_the_count() {
    let after = tray(&[(1, "score T1 felted=30 bald=10"), (5, "thin T1 3 --blind")]);
    let before = tray(&[(1, "thin T1 4 --blind"), (5, "score T1 felted=27 bald=9")]);
    for (bench, felted, bald, thinned) in [(after, 30, 10, "3"), (before, 27, 9, "4")] {
        let (own_felted, own_bald, biased, line) = counted(&bench, "T1");
        assert_eq!((own_felted, own_bald, biased), (felted, bald, false));
        close(&line["chi2"], 0.0);
        let said = words(&bench);
        assert!(
            said.contains(&format!(
                "{thinned} seedlings were thinned without regard to looks, which does not bias the count."
            )),
            "{said}"
        );
        assert!(!said.contains("so its ratio is biased"), "{said}");
    }
}

/// By count and with an eye on them: nobody said which, so how far the count is biased cannot be told.
#[test]
fn thinning_by_count_before_counting_biases() {
    let bench = tray(&[(1, "thin T1 4"), (5, "score T1 felted=30 bald=6")]);
    let (felted, bald, biased, line) = counted(&bench, "T1");
    assert_eq!((felted, bald, biased), (30, 6, true));
    assert_eq!(line["pulling"]["unsaid"], 4);
    assert_eq!(line["pulling"]["with_pulled"], Value::Null);
    let said = words(&bench);
    assert!(
        said.contains("4 seedlings were pulled for their looks before this count, first on 2026-04-01, so its ratio is biased.")
            && said.contains("Of 4 nobody said the look: any class may be short of so many."),
        "{said}"
    );
}

/// By look: the count is short of just those.
#[test]
fn thinning_by_look_before_counting_says_what_is_missing() {
    let bench = tray(&[(1, "thin T1 4 bald"), (5, "score T1 felted=32 bald=4")]);
    let (felted, bald, biased, line) = counted(&bench, "T1");
    assert_eq!((felted, bald, biased), (32, 4, true));
    let pulling = &line["pulling"];
    assert_eq!(
        pulling["short"],
        json!([{"class": "bald", "count": 4, "may_turn": false}])
    );
    assert_eq!(pulling["with_pulled"]["observed"], json!([32, 8]));
    // 32 : 8 against 30 : 10: 4/30 + 4/10 = 8/15; its p as of bare counts.
    let bare = bench.json("ratio 32 8 --to 3:1");
    close(&bare["chi2"], 8.0 / 15.0);
    assert_eq!(pulling["with_pulled"]["p"], bare["p"]);
    let said = words(&bench);
    assert!(
        said.contains("It is short of 4 bald. With them it is 32 felted and 8 bald, p = "),
        "{said}"
    );
}

/// What was counted before the pulling stays what is counted, whatever is counted later.
#[test]
fn the_count_before_the_pulling_is_frozen() {
    let later = "score T1 felted=30";
    for pulled in ["thin T1 10 bald", "thin T1 10", "cull T1 bald"] {
        let bench = tray(&[(1, "score T1 felted=30 bald=10"), (5, pulled), (20, later)]);
        let (felted, bald, biased, line) = counted(&bench, "T1");
        assert_eq!((felted, bald, biased), (30, 10, false), "{pulled}");
        assert_eq!(line["pulling"]["counted_before"], "2026-04-05");
        assert_eq!(line["pulling"]["left_out"], 30);
        let said = words(&bench);
        assert!(
            said.contains("This is the count from before seedlings were pulled for their looks, first on 2026-04-05. The later one, of 30 seedlings, is left out, since it would be biased."),
            "{said}"
        );
    }
    let bench = tray(&[(1, "score T1 felted=30 bald=10"), (5, "thin T1 10 bald")]);
    let said = words(&bench);
    assert!(
        said.contains("10 seedlings were pulled for their looks, but counted before: this is not biased by it."),
        "{said}"
    );
}

/// Seedlings followed one by one after a thinning do not take the place of the count before it.
#[test]
fn readings_after_the_pulling_do_not_replace_the_count_before_it() {
    let bench = tray(&[
        (1, "score T1 felted=30 bald=10"),
        (5, "thin T1 1-10"),
        (20, "score T1 11-40=felted"),
    ]);
    let (felted, bald, biased, line) = counted(&bench, "T1");
    assert_eq!((felted, bald, biased), (30, 10, false));
    assert_eq!(line["pulling"]["left_out"], 30);
}

/// Seedlings read one by one keep their readings when they are pulled, so pulling them biases nothing; others pulled unread
/// do, unless they were chosen blindly.
#[test]
fn seedlings_read_before_they_are_pulled_stay_in_the_count() {
    let bench = tray(&[
        (1, "score T1 1-30=felted 31-40=bald"),
        (5, "thin T1 1-6"),
        (6, "cull T1 31-40"),
    ]);
    let (felted, bald, biased, line) = counted(&bench, "T1");
    assert_eq!((felted, bald, biased), (30, 10, false));
    assert_eq!(line["pulling"]["counted_in"], 16);
    let unread = |how: &str| {
        tray(&[
            (1, &format!("thin T1 1-6 {how}")),
            (5, "score T1 7-31=felted 32-40=bald"),
        ])
    };
    assert!(counted(&unread(""), "T1").2);
    assert!(!counted(&unread("--blind"), "T1").2);
}

/// Pots with several seedlings: what is pulled in one pot freezes the count of that pot alone.
#[test]
fn a_pot_is_frozen_by_itself() {
    let bench = sown(&["T1"], "--cells 4");
    record(
        &bench,
        &[
            (1, "score T1-01 8 felted 2 bald"),
            (1, "score T1-02 7 felted 3 bald"),
            (5, "thin T1-02 bald"),
            (20, "score T1-01 7 felted 3 bald"),
            (20, "score T1-02 7 felted"),
        ],
    );
    let (felted, bald, biased, line) = counted(&bench, "T1");
    assert_eq!((felted, bald, biased), (14, 6, false));
    assert_eq!(line["pulling"]["left_out"], 7);
}

/// On one day the numbers say which came first: nine counted of twelve with three thinned are those left; twelve are all.
#[test]
fn a_count_of_the_day_of_a_pulling_is_placed_by_its_numbers() {
    for (lines, biased) in [
        (["thin T1 4", "score T1 felted=30 bald=6"], true),
        (["score T1 felted=30 bald=10", "thin T1 4"], false),
        (["thin T1 4 bald", "score T1 felted=20 bald=2"], true),
    ] {
        let bench = tray(&lines.map(|line| (5, line)));
        assert_eq!(counted(&bench, "T1").2, biased, "{lines:?}");
        assert!(
            !words(&bench).contains("taken as made before it"),
            "{lines:?}"
        );
    }
    let bench = tray(&[(5, "score T1 felted=20 bald=6"), (5, "thin T1 4")]);
    assert!(!counted(&bench, "T1").2);
    assert!(
        words(&bench).contains("taken as made before it"),
        "{}",
        words(&bench)
    );
}

/// A pulling for one trait's look biases no other's count, and an earlier count of another trait replaces none of this.
#[test]
fn traits_are_counted_apart() {
    let bench = tray(&[(1, "thin T1 4 matt"), (5, "score T1 felted=27 bald=9")]);
    assert!(!counted(&bench, "T1").2);
    let bench = tray(&[
        (1, "score T1 satin=30 matt=10"),
        (5, "thin T1 10"),
        (20, "score T1 felted=24 bald=6"),
    ]);
    let (felted, bald, biased, _) = counted(&bench, "T1");
    assert_eq!((felted, bald, biased), (24, 6, true));
    let sheen = bench.json("ratio T1 --trait sheen");
    assert_eq!(sheen["batches"][0]["n"], 40);
    assert_eq!(sheen["batches"][0]["pulled_before"], false);
}

/// Three trays, 30 : 10, 30 : 10 and a third. Frozen they agree: heterogeneity 0. Thinned by look before it was counted, the
/// third is biased and so is the sum: the other two alone have a chi-square of 0, p = 1.
#[test]
fn several_trays_agree_by_the_counts_before_the_pulling() {
    let bench = sown(&["T1", "T2", "T3"], "");
    record(
        &bench,
        &[
            (1, "score T1 felted=30 bald=10"),
            (1, "score T2 felted=30 bald=10"),
            (1, "score T3 felted=30 bald=10"),
            (5, "thin T3 bald"),
            (20, "score T3 felted=30"),
        ],
    );
    let told = bench.json("ratio X1 --trait felt");
    close(&told["heterogeneity"]["chi2"], 0.0);
    assert_eq!(told["heterogeneity"]["df"], 2);
    assert_eq!(told["crosses"][0]["biased"], json!([]));
    let bench = sown(&["T1", "T2", "T3"], "");
    record(
        &bench,
        &[
            (1, "score T1 felted=30 bald=10"),
            (1, "score T2 felted=30 bald=10"),
            (1, "thin T3 bald 8"),
            (5, "score T3 felted=30 bald=2"),
        ],
    );
    let told = bench.json("ratio X1 --trait felt");
    // By hand: T3 against 24 : 8 has 36/24 + 36/8 = 6; all, 90 : 22 against 84 : 28, 36/84 + 36/28; the rest is heterogeneity.
    close(
        &told["heterogeneity"]["chi2"],
        6.0 - 36.0 / 84.0 - 36.0 / 28.0,
    );
    assert_eq!(told["crosses"][0]["biased"], json!(["T3"]));
    close(&told["crosses"][0]["p_of_others"], 1.0);
    let said = flat(&bench.ok("ratio X1 --trait felt"));
    assert!(
        said.contains("The count of T3 is biased by pulling, and so is the sum; trays may differ for that alone. Without T3 p = 1."),
        "{said}"
    );
}

/// Cells and a look mean those among them that were read so; with nothing read there both readings are told.
#[test]
fn a_look_in_some_cells_means_those_of_the_look_there() {
    let bench = tray(&[(1, "score T1 1-6=felted 7-9=bald")]);
    let said = flat(&bench.ok("thin T1 6-8 bald --on 2026-04-05"));
    assert!(
        said.starts_with("T1: T1-07 and T1-08 thinned; 38"),
        "{said}"
    );
    let before = bench.json("history");
    let said = flat(&bench.fails("thin T1 20-22 bald --on 2026-04-05", 1));
    assert!(
        said.contains("nothing standing in T1 20-22 was scored bald")
            && said.contains("try: locule thin T1 20-22=bald"),
        "{said}"
    );
    let said = flat(&bench.fails("thin T1-20 bald --on 2026-04-05", 1));
    assert!(said.contains("try: locule thin T1 20=bald"), "{said}");
    assert_eq!(bench.json("history"), before, "nothing was written");
    let twice = flat(&bench.fails("thin T1 9,9 bald --on 2026-04-06", 1));
    assert!(twice.contains("T1-09 is named twice"), "{twice}");
    let mixed = flat(&bench.fails("thin T1 bald 1-3 9", 2));
    assert!(mixed.contains("names no seedlings of T1"), "{mixed}");
}

/// The look of seedlings that nobody had read is recorded as they go: they are in the count, or can be added to it.
#[test]
fn the_look_of_unread_seedlings_is_recorded_as_they_are_pulled() {
    let bench = tray(&[
        (1, "thin T1 11-13=bald"),
        (1, "cull T1-14=bald T1-15=bald"),
        (5, "score T1 1-10,16-35=felted 36-40=bald"),
    ]);
    let (felted, bald, biased, line) = counted(&bench, "T1");
    assert_eq!((felted, bald, biased), (30, 5, true));
    assert_eq!(line["pulling"]["with_pulled"]["observed"], json!([30, 10]));
    let followed = tray(&[
        (1, "score T1 1-10,16-35=felted 36-40=bald"),
        (5, "thin T1 11-15=bald"),
    ]);
    let (felted, bald, biased, line) = counted(&followed, "T1");
    assert_eq!((felted, bald, biased), (30, 10, false));
    assert_eq!(line["pulling"]["counted_in"], 5);
    let unseen = tray(&[
        (1, "thin T1 11-15"),
        (5, "score T1 1-10,16-35=felted 36-40=bald"),
    ]);
    assert!(counted(&unseen, "T1").2);
}

/// Where a tally has counted them, a reading would take its place: the class alone is kept, and the tally stays.
#[test]
fn the_look_of_tallied_seedlings_does_not_overrule_their_tally() {
    let bench = tray(&[(1, "score T1 felted=30 bald=10")]);
    let run = bench.run("thin T1 11-14=bald --on 2026-04-05");
    assert_eq!(
        flat(&run.out),
        "T1: T1-11 (bald), T1-12 (bald), T1-13 (bald) and T1-14 (bald) thinned; 36 of T1 still standing."
    );
    assert!(
        flat(&run.err).contains("the count of T1 of 1 April stays what counts"),
        "{}",
        run.err
    );
    let (felted, bald, biased, line) = counted(&bench, "T1");
    assert_eq!((felted, bald, biased), (30, 10, false));
    assert_eq!(line["pulling"]["counted_in"], 4);
    let said = flat(&bench.fails("thin T1 7 bald --on 2026-04-06", 1));
    assert!(
        said.contains("T1: 7 thinned, but only 6 bald are left there"),
        "{said}"
    );
}

/// What is pulled beyond what was counted of a look is refused, in one entry too; recorded even so, the count missed it.
#[test]
fn more_pulled_of_a_look_than_counted() {
    let bench = tray(&[(1, "score T1 felted=30 bald=10")]);
    for line in [
        "thin T1 11 bald",
        "thin T1 6 bald 5 bald",
        "thin T1 1-11=bald",
    ] {
        let said = flat(&bench.fails(&format!("{line} --on 2026-04-05"), 1));
        assert!(
            said.contains("bald are left there") && said.contains("--even-so records it"),
            "{line}: {said}"
        );
    }
    record(&bench, &[(5, "thin T1 13 bald --even-so")]);
    let (felted, bald, biased, line) = counted(&bench, "T1");
    assert_eq!((felted, bald, biased), (30, 10, true));
    let pulling = &line["pulling"];
    assert_eq!(
        (&pulling["counted_in"], &pulling["uncounted"]),
        (&json!(10), &json!(3))
    );
    assert_eq!(pulling["with_pulled"]["observed"], json!([30, 13]));
    let said = words(&bench);
    assert!(
        said.contains("3 more were pulled for a look than were counted of it, so the count missed them and its ratio is biased. It is short of 3 bald.")
            && !said.contains("but counted before"),
        "{said}"
    );
}

/// Thinned, counted and culled on one day: `ratio` and `suspects` place the count alike. Forty up, 36 counted: four went
/// before it; thirty stand in the end: six after it.
#[test]
fn the_order_of_one_day_is_the_same_for_every_question() {
    let bench = tray(&[
        (5, "thin T1 4 bald"),
        (5, "score T1 felted=30 bald=6"),
        (5, "cull T1 bald"),
    ]);
    let (felted, bald, biased, line) = counted(&bench, "T1");
    assert_eq!((felted, bald, biased), (30, 6, true));
    assert_eq!(line["pulling"]["short"][0]["count"], 4);
    assert_eq!(line["pulling"]["counted_in"], 6);
    let told = bench.json("suspects T1");
    assert_eq!(told["batches"][0]["n"], 30);
    let before = tray(&[(5, "thin T1 4"), (5, "score T1 felted=36")]);
    assert!(counted(&before, "T1").2);
    assert_eq!(before.json("suspects T1")["batches"][0]["n"], 36);
}

/// What went before a tally is not taken off it, where nobody counted what came up.
#[test]
fn a_tally_after_the_pulling_counts_those_that_stand() {
    let mut bench = sown(&[], "");
    bench.ok("sow X1 --seeds 40 --tray T1 --on 2026-03-01");
    record(
        &bench,
        &[(1, "thin T1 30"), (5, "score T1 felted=8 bald=2")],
    );
    bench.on("2026-04-10");
    assert_eq!(bench.json("suspects T1")["batches"][0]["n"], 10);
    let said = flat(&bench.ok("thin T1 3 felted"));
    assert!(said.contains("7 of T1 still standing"), "{said}");
    assert_eq!(bench.json("suspects T1")["batches"][0]["n"], 7);
}

/// A count after the pulling is what `suspects` goes by, and it says what that forgets; `ratio` says what it leaves out.
#[test]
fn suspects_says_what_its_count_forgets() {
    let bench = tray(&[
        (1, "score T1 felted=30 bald=10"),
        (5, "thin T1 bald"),
        (20, "score T1 felted=30"),
    ]);
    let said = flat(&bench.ok("suspects T1"));
    assert!(
        said.contains("10 bald were pulled before the count of 20 April, the newest, by which this goes: what they looked like is not weighed here. 'locule ratio' goes by the count of 1 April."),
        "{said}"
    );
    let odd = tray(&[(1, "score T1 felted=30 bald=10"), (3, "score T1-20 felted")]);
    let aside =
        "The tray's count of 1 April is set aside, since its cells have readings of their own.";
    for ask in ["suspects T1", "ratio T1 --trait felt"] {
        let said = flat(&odd.ok(ask));
        assert!(said.contains(aside), "{ask}: {said}");
    }
}

/// Two traits at once are held by the count before the pulling too, or it is said that there is none.
#[test]
fn linkage_goes_by_the_count_before_the_pulling() {
    let both = "score T1 felted/satin=22 felted/matt=8 bald/satin=7 bald/matt=3";
    let left = "score T1 felted/satin=22 felted/matt=8";
    let bench = tray(&[(1, both), (5, "thin T1 bald"), (20, left)]);
    let told = bench.json("linkage X1 --traits felt,sheen");
    assert_eq!(told["n"], 40);
    let said = flat(&bench.ok("linkage X1 --traits felt,sheen"));
    assert!(
        said.contains("T1 goes by its count from before seedlings were pulled for their looks, first on 2026-04-05; the later one, of 30 seedlings, is left out."),
        "{said}"
    );
    let bench = tray(&[
        (1, "thin T1 5 bald"),
        (
            5,
            "score T1 felted/satin=22 felted/matt=8 bald/satin=4 bald/matt=1",
        ),
    ]);
    let said = flat(&bench.ok("linkage X1 --traits felt,sheen"));
    assert!(
        said.contains(
            "The count of T1 lacks 5 seedlings, pulled for looks before it, so this is biased."
        ),
        "{said}"
    );
}

/// A green seedling may still turn: what was pulled as green might not have stayed so, and the answer says it.
#[test]
fn pulled_before_they_could_turn() {
    let bench = Bench::new();
    for line in [
        "init --on 2026-02-01",
        "parent add PP --plant --genotype A/a --on 2026-02-01",
        "self PP --on 2026-02-01",
        "sow X1 --seeds 40 --tray T1 --on 2026-03-01 --even-so",
        "up T1 40 --on 2026-03-11 --even-so",
        "thin T1 10 green --on 2026-03-14 --even-so",
        "score T1 purple=28 green=2 --on 2026-04-20 --even-so",
    ] {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
    let mut bench = bench;
    let said = flat(&bench.on("2026-05-01").ok("ratio T1"));
    assert!(
        said.contains("Some of those pulled as green might have turned yet."),
        "{said}"
    );
}

/// Looks said as seedlings of an unread tray are pulled must not take the place of the count that comes after.
#[test]
fn looks_of_the_pulled_stand_beside_a_later_count() {
    let mut bench = Bench::new();
    bench.on("2026-05-28");
    for line in [
        "init",
        "parent add RK --plant --genotype A/a",
        "self RK --on 2026-01-10",
        "sow X1 --seeds 40 --on 2026-04-03",
        "up T1 30 --on 2026-04-16",
        "thin T1 21-24=green --on 2026-05-20",
        "score T1 purple=20 green=6",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let tray = bench.json("ratio T1")["batches"][0].clone();
    assert_eq!(tray["n"], 26, "{tray}");
    let pulled = &tray["pulling"];
    assert_eq!(pulled["short"][0]["count"], 4, "{pulled}");
    assert_eq!(
        pulled["with_pulled"]["observed"],
        serde_json::json!([20, 10]),
        "{pulled}"
    );
    assert_eq!(bench.json("suspects T1")["batches"][0]["n"], 26);
}

/// What nobody had read and was thinned later is missing from no earlier count.
#[test]
fn a_thinning_after_all_readings_biases_none_of_them() {
    let mut bench = Bench::new();
    bench.on("2026-06-20");
    for line in [
        "init",
        "parent add CW --genotype a/a",
        "parent add NL --genotype A/A",
        "cross CW NL --on 2026-01-10",
        "sow X1 --seeds 12 --on 2026-03-01",
        "up T1 --cells 1-12 --on 2026-03-20",
        "score T1 1-8=purple --on 2026-05-01",
        "thin T1 9-12 --on 2026-06-01",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    let tray = bench.json("ratio T1")["batches"][0].clone();
    assert_eq!(tray["pulled_before"], false, "{tray}");
    assert_eq!(tray["pulling"]["unsaid"], 0, "{tray}");
}

/// Of seedlings read one by one some went and nobody said which: every list says so.
#[test]
fn lists_say_that_some_of_those_listed_are_gone() {
    let mut bench = Bench::new();
    bench.on("2026-05-28");
    for line in [
        "init",
        "parent add CW --genotype a/a",
        "parent add NL --genotype A/A",
        "cross CW NL --on 2026-01-10",
        "sow X1 --seeds 20 --on 2026-04-03",
        "up T1 20 --on 2026-04-16",
        "score T1 1-20=purple",
        "thin T1 19",
    ] {
        assert_eq!(bench.run(line).status, Some(0), "{line}");
    }
    for line in ["pick", "sheet", "suspects"] {
        let said = crate::support::flat(&bench.ok(line));
        assert!(
            said.contains("19 of them were removed without a word on which"),
            "{line}: {said}"
        );
    }
}

/// A cell of one seed holds one seedling, whatever was counted as up in the tray.
#[test]
fn no_more_is_taken_from_a_cell_than_was_sown_there() {
    let bench = tray(&[(1, "thin T1-01 1")]);
    for line in ["thin T1-01 1", "thin T1-02 2"] {
        let said = bench.fails(&format!("{line} --on 2026-04-02"), 1);
        assert!(flat(&said).contains("--even-so"), "{said}");
    }
    assert_eq!(bench.run("thin T1-02 1 --on 2026-04-02").status, Some(0));
}
