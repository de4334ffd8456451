//! `pick` by its command line: which seedlings it keeps, pulls and spares, what it says of each, and that its own words to
//! type do what it said.

use serde_json::{Value, json};

use crate::support::{Bench, flat};

/// Purple is what CW x NL must show; three green ones are too old to be true, one may be.
fn season(looks: &[&str]) -> Bench {
    let mut bench = Bench::new();
    for (day, line) in [
        ("2026-01-02", "init"),
        (
            "2026-01-02",
            "trait add felt --classes felted,bald --rule 'Q/Q => felted' --rule 'else => bald'",
        ),
        (
            "2026-01-02",
            "parent add NL 'Night Lantern' --genotype 'A/A Q/q'",
        ),
        ("2026-01-02", "parent add CW --genotype 'a/a Q/q'"),
        ("2026-01-02", "cross CW NL --flowers 3"),
        ("2026-02-02", "sow X1 --seeds 12"),
        ("2026-02-12", "up T1 --cells 1-12"),
    ] {
        bench.on(day).ok(line);
    }
    bench.on("2026-04-01");
    record(&bench, looks);
    bench
}

/// Records, whatever is remarked.
fn record(bench: &Bench, lines: &[&str]) {
    for line in lines {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "{line}: {}", run.err);
    }
}

fn list<'v>(told: &'v Value, act: &str) -> &'v Vec<Value> {
    told["crosses"][0][act].as_array().unwrap()
}

fn names(told: &Value, act: &str) -> Vec<String> {
    let lines = list(told, act).iter();
    lines
        .map(|line| line["seedling"].as_str().unwrap_or("-").to_owned())
        .collect()
}

const LOOKS: &str = "score T1 1-5=purple 6-8=green 9=maybe-green 10=early";

#[test]
fn it_keeps_pulls_spares_and_says_what_to_score() {
    let bench = season(&[LOOKS]);
    let told = bench.json("pick T1");
    let suspects = bench.json("suspects T1");
    assert_eq!(names(&told, "keep"), ["T1-01", "T1-02"]);
    assert_eq!(names(&told, "spare"), ["T1-09"]);
    assert_eq!(
        names(&told, "pull"),
        ["T1-03", "T1-04", "T1-05", "T1-06", "T1-07", "T1-08"]
    );
    let seedlings = suspects["batches"][0]["seedlings"].as_array().unwrap();
    let nine = seedlings
        .iter()
        .find(|one| one["seedling"] == "T1-09")
        .unwrap();
    assert_eq!(list(&told, "spare")[0]["until"], nine["look_again"]);
    assert_eq!(
        told["crosses"][0]["score_first"],
        json!(["T1-10", "T1-11", "T1-12"])
    );
    let said = bench.ok("pick T1");
    assert!(
        said.lines().all(|line| line.chars().count() <= 80),
        "{said}"
    );
    let said = flat(&said);
    for words in [
        "Keep 2 seedlings, pull 6, spare 1 until ",
        "At least one of the two with a place is what the label says:",
        "3 others are as good: any will do.",
        "As good as those with a place, but 2 of a cross are enough.",
        "Look once more on that day before you pull it.",
        "locule cull T1 6-8 locule thin T1 3-5",
        "No goal is set",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
}

/// The words to type pull what was to be pulled, and then there is nothing more to pull.
#[test]
fn its_words_to_type_do_what_it_says() {
    for looks in [
        &[LOOKS][..],
        &["score T1 purple=8 green=2"],
        &[
            "score T1-02 purple=1",
            "score T1 1=purple 3-4=green 5-9=purple",
        ],
    ] {
        let bench = season(looks);
        let told = bench.json("pick T1");
        let commands = told["crosses"][0]["commands"].as_array().unwrap();
        assert!(!commands.is_empty());
        for command in commands {
            let typed = command.as_str().unwrap().strip_prefix("locule ").unwrap();
            let run = bench.run(typed);
            assert_eq!(run.status, Some(0), "{typed}: {}", run.err);
        }
        let after = bench.json("pick T1");
        assert_eq!(list(&after, "pull"), &Vec::<Value>::new(), "{looks:?}");
        let kept = |told: &Value| -> i64 {
            list(told, "keep")
                .iter()
                .map(|line| line["count"].as_i64().unwrap())
                .sum()
        };
        assert_eq!(kept(&after), kept(&told), "{looks:?}");
    }
}

/// Seedlings that were only counted have no names: any of a look in a pot will do.
#[test]
fn of_a_count_any_of_a_look_will_do() {
    let bench = season(&[]);
    bench.ok("sow X1 --seeds 12 --cells 3 --tray P1 --on 2026-02-02");
    record(&bench, &["score P1-03 5 purple 2 green"]);
    let told = bench.json("pick P1");
    let keep = &list(&told, "keep")[0];
    assert_eq!(keep["seedling"], Value::Null);
    assert_eq!(
        (&keep["cell"], &keep["count"], &keep["of"]),
        (&json!(3), &json!(2), &json!(5))
    );
    assert_eq!(keep["reading"], json!({"foliage": "purple"}));
    let said = flat(&bench.ok("pick P1"));
    for words in [
        "[ ][ ] any 2 of the 5 purple 1 Apr in P1-03",
        "All of them are as good: any will do.",
        "[ ][ ][ ] any 3 of the 5 purple 1 Apr in P1-03",
        "locule thin P1-03 3 foliage:purple",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
}

/// Keepers come from several pots where they can: the second from the pot that has none yet.
#[test]
fn not_all_keepers_come_from_one_pot() {
    let bench = season(&[]);
    bench.ok("sow X1 --seeds 12 --cells 3 --tray P1 --on 2026-02-02");
    record(&bench, &["score P1 1a=purple 1b=purple 2a=purple"]);
    let told = bench.json("pick P1");
    assert_eq!(names(&told, "keep"), ["P1-01a", "P1-02a"]);
    assert!(flat(&bench.ok("pick P1")).contains("this one stands in another cell"));
    // A second tray of the same cross is another place still.
    bench.ok("score T1 1-3=purple");
    let told = bench.json("pick X1");
    assert_eq!(names(&told, "keep"), ["T1-01", "P1-01a"]);
    let cross = &told["crosses"][0];
    assert_eq!(cross["exact"], false);
    let of = |name: &str| cross[name].as_f64().unwrap();
    let (low, p, high) = (
        of("p_at_least_one_true_low"),
        of("p_at_least_one_true"),
        of("p_at_least_one_true_high"),
    );
    assert!(low < p && p <= high, "{low} {p} {high}");
    let alone = bench.json("pick T1 --per-cross 1");
    let alone = alone["crosses"][0]["p_at_least_one_true"].as_f64().unwrap();
    assert!(p > alone, "{p} {alone}");
}

#[test]
fn places_are_shared_and_some_kept_in_reserve() {
    let mut bench = season(&["score T1 1-6=purple 7-8=green"]);
    bench.ok("cross NL CW --code X2 --on 2026-01-02");
    bench.ok("sow X2 --seeds 12 --tray T2 --on 2026-02-02");
    bench.ok("up T2 --cells 1-4 --on 2026-02-12");
    bench.on("2026-04-02").ok("score T2 1-4=purple");
    let places = |line: &str| -> Vec<u64> {
        let told = bench.json(line);
        let crosses = told["crosses"].as_array().unwrap().iter();
        crosses
            .map(|cross| cross["places"].as_u64().unwrap())
            .collect()
    };
    assert_eq!(places("pick"), [2, 2]);
    assert_eq!(places("pick --places 2"), [1, 1]);
    assert_eq!(places("pick --places 4 --reserve 2"), [1, 1]);
    assert_eq!(places("pick --places 9 --per-cross 3"), [3, 3]);
    let told = bench.json("pick --places 9 --per-cross 3 --reserve 1");
    assert_eq!(told["places_left"], 2);
    let reserve: usize = (told["crosses"].as_array().unwrap().iter())
        .map(|cross| cross["reserve"].as_array().unwrap().len())
        .sum();
    assert_eq!(reserve, 1);
    let said = flat(&bench.ok("pick --places 1"));
    assert!(
        said.contains("It gets no place: none is left for it.")
            && said.contains("No place is left for another of its cross."),
        "{said}"
    );
}

/// Of seedlings as likely the cross the goals choose, then what was measured; what was only counted is not ranked.
#[test]
fn goals_and_size_choose_among_the_likely() {
    let mut bench = season(&["score T1 1-8=purple"]);
    for (at, height) in (1..=8).zip([40, 41, 39, 40, 52, 41, 39, 20]) {
        bench.ok(&format!("measure T1-{at:02} height={height}mm"));
    }
    let told = bench.json("pick T1 --per-cross 1");
    assert_eq!(names(&told, "keep"), ["T1-05"]);
    let said = flat(&bench.ok("pick T1 --per-cross 1"));
    assert!(
        said.contains("[ ] T1-05 (height 52 mm) purple 1 Apr; off-type 0.8 %. Others are as good, but smaller."),
        "{said}"
    );
    assert!(
        said.contains(
            "[ ] T1-08 (height 20 mm) purple 1 Apr; off-type 0.8 %. Far smaller than its tray."
        ),
        "{said}"
    );
    record(
        &bench,
        &[
            "goal add felted --must",
            "score T1 2=felted 1=bald 3-8=bald",
        ],
    );
    let told = bench.json("pick T1 --per-cross 1");
    assert_eq!(names(&told, "keep"), ["T1-02"], "{told}");
    assert!(flat(&bench.ok("pick T1 --per-cross 1")).contains("Worth more by your goals"));
    bench.on("2026-04-02").ok("measure T1-01 leaves=9");
    assert!(flat(&bench.ok("pick T1")).contains("--size height takes one"));
    assert!(!flat(&bench.ok("pick T1 --size height")).contains("--size"));
}

/// Between species the smallest may be the one true hybrid: size neither keeps nor pulls.
#[test]
fn between_species_size_does_not_count() {
    let mut bench = Bench::new();
    for line in [
        "init",
        "parent add NL --genotype A/A --species annuum",
        "parent add CW --genotype a/a --species baccatum",
        "cross CW NL",
    ] {
        record(bench.on("2026-01-02"), &[line]);
    }
    bench
        .on("2026-04-01")
        .ok("sow X1 --seeds 8 --on 2026-02-02");
    bench.ok("up T1 --cells 1-8 --on 2026-02-12");
    bench.ok("score T1 1-8=purple");
    for (at, height) in (1..=8).zip([20, 41, 39, 40, 52, 41, 39, 40]) {
        bench.ok(&format!("measure T1-{at:02} height={height}mm"));
    }
    let told = bench.json("pick T1");
    assert_eq!(names(&told, "keep"), ["T1-01", "T1-02"]);
    assert!(flat(&bench.ok("pick T1")).contains("a runt may be the true hybrid"));
}

/// What was kept already stays where it is and takes no place.
#[test]
fn what_has_a_code_of_its_own_stays() {
    let bench = season(&["score T1 1-5=purple", "parent add K1 --from T1-04"]);
    let told = bench.json("pick T1");
    assert_eq!(
        (names(&told, "stays"), names(&told, "keep")),
        (vec!["T1-04".into()], vec!["T1-01".into()])
    );
    assert!(!told["crosses"][0]["commands"].to_string().contains('4'));
    assert!(flat(&bench.ok("pick T1")).contains("Kept as K1 before; it takes no place here."));
}

/// A cross of which only off-types are left is named, beside the others.
#[test]
fn a_cross_of_off_types_alone_is_named() {
    let mut bench = season(&["score T1 1-5=purple 6-8=green"]);
    for at in 1..=5 {
        bench.ok(&format!("died T1-{at:02}"));
    }
    bench.ok("cross NL CW --code X2 --on 2026-01-02");
    bench.ok("sow X2 --seeds 12 --tray T2 --on 2026-02-02");
    bench.ok("up T2 --cells 1-4 --on 2026-02-12");
    bench.on("2026-04-02").ok("score T2 1-4=purple");
    let said = flat(&bench.ok("pick --places 1"));
    for words in [
        "Of X1 nothing that was scored can be kept as labelled.",
        "None of those scored can be kept: score the others.",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    let told = bench.json("pick --places 1");
    assert_eq!(told["crosses"][0]["goes_without"], false);
    assert_eq!(told["places_for_each"], Value::Null);
    let said = flat(&bench.ok("pick X2 --places 3 --reserve 2"));
    assert!(
        said.contains("Keep 1 seedling, pull 1, keep 2 in reserve."),
        "{said}"
    );
}

/// As on a day: what was seen later is left out.
#[test]
fn it_can_be_asked_as_of_a_day() {
    let mut bench = season(&["score T1 1-4=purple"]);
    bench.on("2026-04-20").ok("score T1 5-8=purple");
    assert_eq!(list(&bench.json("pick T1"), "pull").len(), 6);
    let before = bench.json("pick T1 --on 2026-04-01");
    assert_eq!(list(&before, "pull").len(), 2);
}

#[test]
fn it_is_laid_out_for_paper() {
    let bench = season(&[LOOKS]);
    let paper = bench.ok("pick --paper");
    assert!(paper.starts_with("Pick "), "{paper}");
    assert!(paper.lines().all(|line| line.chars().count() <= 80));
    assert!(paper.trim_end().ends_with("page 1 of 1"), "{paper}");
    let markdown = bench.ok("pick --markdown");
    assert!(
        markdown.contains("# Pick") && markdown.contains("- [ ] T1-01"),
        "{markdown}"
    );
}

#[test]
fn what_cannot_be_asked_is_refused() {
    let bench = season(&[LOOKS]);
    for (line, status, said) in [
        ("pick T1 --per-cross 0", 2, "--per-cross"),
        ("pick T1 --places 0", 2, "--places"),
        (
            "pick T1 --places 2 --reserve 3",
            2,
            "3 are to be kept in reserve, but there are 2 places, so nothing could be",
        ),
        ("pick T9", 1, "T9"),
        (
            "pick T1 --size girth",
            1,
            "no seedling of these was measured",
        ),
    ] {
        let err = bench.fails(line, status);
        assert!(err.contains(said), "{line}: {err}");
    }
    bench.ok("measure T1-01 height=40mm");
    assert!(
        bench
            .fails("pick T1 --size girth", 1)
            .contains("nothing called girth")
    );
    let nothing = Bench::new();
    nothing.ok("init");
    assert_eq!(nothing.ok("pick").trim(), "Nothing was sown yet.");
}
