//! What the gate turns away: the value, the record and the remedy are named, nothing is written.

use crate::support::{Bench, answered};

fn season() -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-06-01");
    for line in [
        "init",
        "parent add NL 'Night Lantern' --genotype A/A --on 2026-01-05",
        "parent add CW 'Cloud Walker' --genotype a/a --on 2026-01-05",
        "parent add MS Drone --cytoplasm sterile --on 2026-01-05",
        "cross CW NL --flowers 3 --on 1mar",
        "harvest X1 --pods 2 --seeds 40 --on 20apr",
        "sow X1 --seeds 12 --on 25apr",
        "up T1 9 --on 5may",
        "score T1 purple=7 green=2 --on 10may",
        "sow X1 --seeds 6 --cells 6 --tray P1 --on 25apr",
        "up P1 --cells 1-4 --on 5may",
        "score P1 1-2=green --on 10may",
        "cull P1-01 --on 12may",
    ] {
        bench.ok(line);
    }
    bench
}

/// Each line must fail with its status, say each wanted piece, and leave the ledger byte for byte.
fn refuses(bench: &Bench, lines: &[(&str, i32, &[&str])]) {
    let before = std::fs::read(bench.ledger()).expect("the ledger can be read");
    for (line, status, wanted) in lines {
        let err = crate::support::flat(&bench.fails(line, *status));
        for piece in *wanted {
            assert!(err.contains(piece), "{line}\n{err}\nwanted: {piece}");
        }
    }
    let after = std::fs::read(bench.ledger()).expect("the ledger can be read");
    assert!(before == after, "a refusal writes nothing");
}

#[test]
fn names_unknown_taken_or_of_another_kind() {
    refuses(
        &season(),
        &[
            (
                "cross CW NK",
                1,
                &[
                    "no parent or seedling 'NK'",
                    "the nearest known: NL",
                    "try: locule show NL",
                ],
            ),
            ("score T9-01 green", 1, &["no tray 'T9'", "T1"]),
            (
                "harvest Q7 --seeds 3",
                1,
                &["no cross 'Q7'", "try: locule cross"],
            ),
            ("trait off folage", 1, &["no trait 'folage'", "foliage"]),
            (
                "parent add nl Other",
                1,
                &["the code NL is taken by a plant: Night Lantern"],
            ),
            (
                "parent add foliage Other",
                1,
                &["foliage is taken by a trait: Foliage colour"],
            ),
            (
                "sow X1 --seeds 2 --tray T1",
                1,
                &["T1 is taken by a tray: 12 seeds sown on 2026-04-25"],
            ),
            (
                "cross CW NL --code NL",
                1,
                &["the code NL is taken by a plant"],
            ),
            (
                "cross NL CW --code X1",
                1,
                &["X1 is CW x NL; a further pollination has the same parents"],
            ),
            (
                "cross CW X1",
                1,
                &["X1 is a cross, and a parent or seedling is needed here"],
            ),
            ("up X1 3", 1, &["X1 is a cross, and a tray is needed here"]),
            (
                "sow T1 --seeds 3",
                1,
                &["T1 is a tray, and a cross or parent is needed here"],
            ),
            ("score T1 green", 1, &["T1 is a whole tray", "T1-01"]),
            (
                "score NL purple=3",
                1,
                &["NL is one plant, and only a tray or cell can be counted"],
            ),
            (
                "cull NL",
                1,
                &["NL is a parent, and a seedling of a tray is meant"],
            ),
            (
                "score T1-13 green",
                1,
                &["T1 has no cell 13; its cells run from 1 to 12"],
            ),
            ("up T1 --cells 11-14", 1, &["T1 has no cell 13"]),
            ("sow X1/7 --seeds 2", 1, &["no lot X1/7; recorded: X1/1"]),
            ("note NL/1 x", 1, &["no lot NL/1; recorded: none"]),
            (
                "harvest X1 --seeds 2 --pollinated 2mar",
                1,
                &["X1 was not pollinated on 2026-03-02; recorded: 2026-03-01"],
            ),
            ("assume dimm 0.1", 1, &["no starting belief 'dimm'"]),
            (
                "locus set A --recombines Hh=0.1",
                1,
                &["no locus 'Hh'", "H"],
            ),
            (
                "trait model use foliage two",
                1,
                &["foliage has no model 'two'; it has one-locus"],
            ),
        ],
    );
}

#[test]
fn a_kept_seedling_is_named_once_and_several_pollinations_told_apart() {
    let bench = season();
    bench.ok("parent add K1 --from P1-03");
    bench.ok("cross CW NL --code X1 --on 2mar");
    refuses(
        &bench,
        &[
            (
                "parent add K2 --from P1-03",
                1,
                &["P1-03 has a code already: K1"],
            ),
            (
                "set X1 --pods 1",
                1,
                &[
                    "more than once: 2026-03-01 and 2026-03-02",
                    "--pollinated 2026-03-02",
                ],
            ),
            ("trait on foliage", 1, &["the ledger says so already"]),
            ("assume dim default", 1, &["the ledger says so already"]),
            ("trait off foliage", 1, &["foliage is the bench trait"]),
            (
                "trait bench yellow-bud",
                1,
                &[
                    "yellow-bud is switched off",
                    "try: locule trait on yellow-bud",
                ],
            ),
        ],
    );
}

#[test]
fn days_in_an_order_that_cannot_be() {
    refuses(
        &season(),
        &[
            (
                "note NL x --on 2026-06-02",
                1,
                &[
                    "2026-06-02 is in the future; today is 2026-06-01",
                    "--even-so",
                ],
            ),
            (
                "harvest X1 --seeds 2 --on 1feb",
                1,
                &["X1 harvested on 2026-02-01, but X1 was pollinated on 2026-03-01"],
            ),
            (
                "set X1 --pods 1 --on 1feb",
                1,
                &["X1 set pods on 2026-02-01"],
            ),
            (
                "sow X1 --seeds 2 --on 1apr",
                1,
                &["X1/1 sown on 2026-04-01, but X1/1 was harvested on 2026-04-20"],
            ),
            (
                "sow X1 --seeds 2 --on 1feb",
                1,
                &["X1 sown on 2026-02-01, but X1 was pollinated on 2026-03-01"],
            ),
            (
                "up T1 3 --on 1apr",
                1,
                &["seedlings up on 2026-04-01, but T1 was sown on 2026-04-25"],
            ),
            (
                "score T1 purple=2 --on 1apr",
                1,
                &["seedlings scored on 2026-04-01, but T1 was sown on 2026-04-25"],
            ),
            (
                "score T1 purple=2 --on 1may",
                1,
                &["T1 scored on 2026-05-01, but the first of T1 was up on 2026-05-05"],
            ),
            (
                "score P1-02 green --on 1apr",
                1,
                &["P1-02 scored on 2026-04-01, but P1-02 was sown on 2026-04-25"],
            ),
            (
                "thin T1 1 --on 1apr",
                1,
                &["seedlings removed on 2026-04-01"],
            ),
            (
                "score P1-01 green",
                1,
                &["P1-01 is to be scored on 2026-06-01, but it was culled on 2026-05-12"],
            ),
            (
                "cull P1-01",
                1,
                &["P1-01 is to be culled", "was culled on 2026-05-12"],
            ),
            ("cross P1-01 NL", 1, &["P1-01 is to be pollinated"]),
            (
                "cross CW P1-02 --on 1apr",
                1,
                &["P1-02 used as a father on 2026-04-01, but P1-02 was sown on 2026-04-25"],
            ),
            (
                "parent in-flower NL --on 10may --until 1may",
                1,
                &["ends on 2026-05-01, before it begins on 2026-05-10"],
            ),
        ],
    );
}

#[test]
fn counts_that_do_not_add_up() {
    refuses(
        &season(),
        &[
            ("up T1 13", 1, &["T1: 13 up of 12 sown", "--even-so"]),
            ("up T1-02 13", 1, &["T1: 13 up of 12 sown"]),
            (
                "sow X1 --seeds 23",
                1,
                &["23 seeds to sow, but X1/1 has 22 left of 40"],
            ),
            ("sow X1 --seeds 2 --cells 5", 1, &["5 cells for 2 seeds"]),
            (
                "score T1 purple=8 green=2",
                1,
                &["T1: 10 scored, but 9 up by 2026-06-01"],
            ),
            (
                "score T1 1-10=purple",
                1,
                &["T1: 10 scored, but 9 up by 2026-06-01"],
            ),
            (
                "score P1-05 purple",
                1,
                &[
                    "P1-05 is scored, but it is not among the 4 up by 2026-06-01",
                    "try: locule up P1-05 1",
                ],
            ),
            ("score P1-04 3 purple", 1, &["P1-04: 3 scored, but 1 up"]),
            (
                "cull T1 10",
                1,
                &["T1: 10 culled, but 9 seedlings stand there"],
            ),
            (
                "cull T1 green 3",
                1,
                &["T1: 3 culled, but only 2 green are left there"],
            ),
            (
                "set X1 --pods 3 --dropped 1",
                1,
                &["X1: 3 pods and 1 dropped, but 3 flowers pollinated"],
            ),
            (
                "harvest X1 --pods 2 --seeds 9",
                1,
                &["X1: 4 pods harvested, but 3 flowers pollinated"],
            ),
            (
                "cross CW MS",
                1,
                &["MS is male-sterile and makes no pollen"],
            ),
            (
                "cross NL NL",
                1,
                &["NL is named as mother and as father", "try: locule self NL"],
            ),
            (
                "sow X1 --seeds 0",
                1,
                &["0 seeds: there is nothing to record"],
            ),
            (
                "score T1 purple=0",
                1,
                &["0 scored: there is nothing to record"],
            ),
            (
                "sow NL --seeds 20000",
                1,
                &["20000 cells are more than the 10000"],
            ),
        ],
    );
}

#[test]
fn more_scored_than_sown_where_nothing_was_counted() {
    let bench = season();
    bench.ok("sow X1 --seeds 3 --on 1may");
    refuses(
        &bench,
        &[("score T2 purple=4", 1, &["T2: 4 scored, but 3 sown"])],
    );
    bench.ok("up T2 3 --on 9may");
    bench.ok("score T2 1a=purple 1b=purple 2=purple");
    refuses(
        &bench,
        &[(
            "score T2-03 green",
            1,
            &["T2-03 would be the 4th seedling told apart in T2, of 3 sown"],
        )],
    );
}

#[test]
fn a_score_before_a_seedling_can_be_up() {
    let bench = season();
    bench.ok("sow X1 --seeds 3 --on 1may");
    refuses(
        &bench,
        &[
            (
                "score T2 purple=1 --on 1may",
                1,
                &[
                    "T2 scored on 2026-05-01, the day T2 was sown; no seedling is up so soon",
                    "--even-so",
                ],
            ),
            (
                "score T2-01 purple --on 3may",
                1,
                &["T2 scored on 2026-05-03, 2 days after T2 was sown"],
            ),
        ],
    );
}

#[test]
fn class_words_unknown_ambiguous_or_twice() {
    refuses(
        &season(),
        &[
            (
                "score T1-03 pruple",
                1,
                &["no trait has a class 'pruple'", "purple"],
            ),
            (
                "score T1-03 foliage:blue",
                1,
                &["foliage has no class 'blue'; its classes are purple, green"],
            ),
            (
                "score T1-03 hairy --trait foliage",
                1,
                &["foliage has no class 'hairy'"],
            ),
            ("score T1-03 hot", 1, &["'hot' could be pungency:hot"]),
            (
                "score T1-03 yellow",
                1,
                &["'yellow' could be yellow-bud:yellow"],
            ),
            (
                "score T1-03 purple/green",
                1,
                &["one look names foliage twice: purple and green"],
            ),
            (
                "score T1 purple=3 purple=2",
                1,
                &["the look purple is counted twice"],
            ),
            (
                "score T1 purple=3 hairy=2",
                1,
                &["one look names foliage and another stem-hair"],
            ),
            ("score T1 1-3=purple 3=green", 1, &["T1-03 is named twice"]),
            ("cull T1-02 T1-02", 1, &["T1-02 is named twice"]),
            (
                "cull T1 hairy",
                1,
                &["nothing standing in T1 was scored hairy"],
            ),
            (
                "cull P1 green 2",
                1,
                &["2 of P1 are meant, but 1 of the look green stand there: P1-02"],
            ),
            (
                "cull T1 early",
                1,
                &["'early' says that nothing could be seen"],
            ),
        ],
    );
}

#[test]
fn the_bench_trait_missing_makes_words_ambiguous() {
    let bench = season();
    answered(
        &bench,
        "trait add edge --classes purple,flat --rule 'E/_ => purple' --rule 'else => flat'",
    );
    bench.ok("trait bench stem-hair");
    refuses(
        &bench,
        &[(
            "score T1-03 purple",
            1,
            &["'purple' could be foliage:purple or hypocotyl-colour:purple or edge:purple"],
        )],
    );
}

#[test]
fn loci_genotypes_and_traits() {
    let bench = season();
    let edge = "trait add edge --classes wavy,flat";
    refuses(
        &bench,
        &[
            (
                "parent add ZZ --genotype 'H/h A/b'",
                1,
                &[
                    "unknown allele b of locus A (it has A, a)",
                    "H/h A/b ^",
                    "locus set A",
                ],
            ),
            (
                "locus set A --alleles a,A",
                1,
                &["locus A is used by the genotype of NL", "A,a"],
            ),
            (
                "locus set H --alleles H,x",
                1,
                &["locus H is used by the trait stem-hair"],
            ),
            ("locus set Z --alleles Z,a", 1, &["a belongs to locus A"]),
            ("locus set A", 1, &["nothing is said of locus A"]),
            (
                "locus set A --share A=1.5",
                1,
                &["the share of A takes a share from 0 to 1, not '1.5'"],
            ),
            ("locus set A --share A=0.7 --share a=0.7", 1, &["add up to"]),
            (
                "locus set A --share q=0.7",
                1,
                &["locus A has no allele 'q'"],
            ),
            (
                "locus set A --recombines H=0.6",
                1,
                &["a fraction from 0 to 0.5"],
            ),
            (
                "locus set A --recombines A=0.1",
                1,
                &["does not recombine with itself"],
            ),
            ("locus set Z --at 3", 1, &["needs its chromosome too"]),
            ("locus set A/b", 1, &["cannot be a locus"]),
            (
                &format!("{edge} --rule 'E/_ => wavy'"),
                1,
                &["e/e has no class", "else"],
            ),
            (
                &format!("{edge} --rule 'E/_ => curly' --rule 'else => flat'"),
                1,
                &["curly"],
            ),
            (&format!("{edge} --rule 'E/_ wavy'"), 1, &["has no arrow"]),
            (
                &format!("{edge} --rule 'A/x => wavy' --rule 'else => flat'"),
                1,
                &["unknown allele x of locus A"],
            ),
            (
                &format!("{edge} --rule 'E/_ => wavy' --rule 'else => flat' --misread 2"),
                1,
                &["between 0 and 1"],
            ),
            (
                &format!("{edge} --rule 'E/_ => wavy' --rule 'else => flat' --stage leafy"),
                1,
                &["--stage takes"],
            ),
            (
                "trait add edge --classes early,flat --rule 'E/_ => early' --rule 'else => flat'",
                1,
                &["early"],
            ),
            (
                "trait add foliage --classes purple,green --rule 'A/_ => purple' --rule 'else => green'",
                1,
                &["foliage has been scored"],
            ),
            (
                "trait model add foliage one-locus --rule 'A/_ => purple' --rule 'else => green'",
                1,
                &["has a model 'one-locus' already"],
            ),
            (
                "assume dim 1.5",
                1,
                &["'dim' takes a probability from 0 to 1, not '1.5'"],
            ),
            ("assume dim inf", 1, &["not 'inf'"]),
            (
                "measure T1-03 height=1.2.3mm",
                1,
                &["height takes a plain number"],
            ),
        ],
    );
}

#[test]
fn command_lines_that_are_wrong_by_themselves() {
    refuses(
        &season(),
        &[
            ("sow X1 --seeds -3", 2, &["'-3' is below zero"]),
            (
                "sow X1 --seeds 100001",
                2,
                &["'100001' is more than 100000"],
            ),
            ("sow X1 --seeds 3.5", 2, &["'3.5' is no count"]),
            ("up T1 -3", 2, &["'-3' is below zero"]),
            (
                "cull T1 03",
                2,
                &[
                    "'03' could be the seedling T1-03 or a count",
                    "try: locule cull T1-03",
                    "try: locule cull T1 3",
                ],
            ),
            ("score T1 purple=-3", 2, &["'-3' is below zero"]),
            ("score T1 purple green", 2, &["'purple green' is no score"]),
            ("up T1 7 --cells 1-3", 2, &["does not say how many are up"]),
            ("up T1 --cells 5-3", 2, &["runs backwards"]),
            ("score T1-0 green", 2, &["counted from 1"]),
            ("parent add 1X One", 2, &["begins with '1'"]),
            (
                "parent add abcdefghijklmnopqrstuvwxy One",
                2,
                &["25 characters; a code has at most 24"],
            ),
            (
                "cross CW NL --on 01/03/2026",
                2,
                &[
                    "could be read two ways, 2026-03-01 or 2026-01-03",
                    "also takes --on unknown",
                    "try: locule cross CW NL --on 2026-03-01",
                    "try: locule cross CW NL --on 2026-01-03",
                ],
            ),
            (
                "cross CW NL --on 2026-02-30",
                2,
                &[
                    "February 2026 has 28 days",
                    "try: locule cross CW NL --on 2026-02-28",
                ],
            ),
            ("up TA twelve", 2, &["try: locule up TA 7"]),
            (
                "score T1-10=green T1-11=purple",
                2,
                &["try: locule score T1 10=green 11=purple"],
            ),
            ("ratio T1 3", 2, &["'3' is no tray", "try: locule ratio T1"]),
            (
                "score T1 3=maybe-early",
                2,
                &[
                    "'maybe-early' says nothing more",
                    "try: locule score T1 3=early",
                ],
            ),
            (
                "score T1 8=dead",
                2,
                &["'8=dead' is no look", "try: locule died T1-8"],
            ),
            (
                "undo abc",
                2,
                &["an entry is a number from 'locule history'"],
            ),
            ("history --last x", 2, &["how many entries to show"]),
            (
                "measure T1-03 height=1,000mm",
                2,
                &[
                    "could be 1.000 or 1000",
                    "try: locule measure T1-03 height=1000mm",
                ],
            ),
            ("cross CW NL --on 31feb", 2, &["not in the calendar"]),
            (
                "harvest X1 --seeds 3 --on unknown",
                2,
                &["'unknown' is not a date"],
            ),
            ("sow X1/1 --lot 2 --seeds 3", 2, &["name two lots"]),
            (
                "score T1 purple=3 --leaves 4",
                2,
                &["--leaves is of single seedlings"],
            ),
            ("measure T1-03 height=tall", 2, &["holds no number"]),
            ("parent add ZZ --proven", 2, &["--genotype"]),
            ("parent add ZZ --line --packet", 2, &["--packet"]),
            (
                "photo T1 nowhere.jpg",
                1,
                &["the picture nowhere.jpg cannot be read"],
            ),
        ],
    );
}

#[test]
fn what_is_implausible_of_harvests_and_ages() {
    refuses(
        &season(),
        &[
            (
                "harvest X1 --seeds 9 --on 15mar",
                1,
                &[
                    "X1 harvested on 2026-03-15, 14 days after X1 was pollinated",
                    "--even-so",
                ],
            ),
            (
                "harvest X1 --pods 1 --seeds 1001",
                1,
                &[
                    "X1: 1001 seeds of 1 pods, more than 1000 in each",
                    "--even-so",
                ],
            ),
            (
                "score T1-03 purple --leaves 61",
                1,
                &["T1-03: 61 leaves", "try: locule score T1-03 purple"],
            ),
            (
                "measure T1-03 height=-3mm",
                1,
                &["height takes a number from 0 up, not '-3'"],
            ),
            ("measure T1-03 4height=3mm", 1, &["begins with a letter"]),
            (
                "measure T1-03 height=3m!m",
                1,
                &["the unit 'm!m' is not a unit of letters"],
            ),
        ],
    );
}

#[test]
fn remedies_are_whole_commands_in_the_growers_own_words() {
    let bench = season();
    bench.ok("sow X1 --seeds 9 --cells 3 --tray T4 --on 25apr");
    bench.ok("up T4-01 3 --on 5may");
    refuses(
        &bench,
        &[
            ("score T1-03 pruple", 1, &["try: locule score T1-03 purple"]),
            (
                "score T1-03 probably-green",
                1,
                &["try: locule score T1-03 maybe-green"],
            ),
            (
                "score T1 1-3=early-green",
                1,
                &["try: locule score T1 1-3=maybe-green"],
            ),
            (
                "score T1 purple,hairy=5",
                1,
                &["try: locule score T1 purple/hairy=5"],
            ),
            ("died T1 all", 1, &["try: locule died T1 1-12"]),
            ("score T4 1=purple", 1, &["try: locule show T4"]),
            ("score T4-1 purple", 1, &["try: locule score T4-01a purple"]),
            (
                "set X1 --pods 1 --pollinated 2mar",
                1,
                &["try: locule set X1 --pods 1 --pollinated 2026-03-01"],
            ),
            (
                "parent add NL Other",
                1,
                &[
                    "to correct what entry 2 says",
                    "try: locule amend 2 parent add",
                ],
            ),
            (
                "parent add X7",
                1,
                &["X7 is kept free", "try: locule parent add PX7"],
            ),
            (
                "trait add t3 --classes a,b --rule 'E/_ => a' --rule 'else => b'",
                1,
                &["t3 is kept free"],
            ),
            (
                "parent add ZZ --genotype L/L",
                1,
                &[
                    "write two of the alleles of L, such as L4/l",
                    "try: locule parent add --help",
                ],
            ),
            (
                "parent add ZZ --genotype 'H/h A/b'",
                1,
                &["try: locule locus set A --alleles A,a,b"],
            ),
            ("parent add ZZ ''", 1, &["try: locule parent add ZZ"]),
        ],
    );
}

#[test]
fn text_that_cannot_be_shown_stops_at_the_door() {
    let bench = season();
    let before = std::fs::read(bench.ledger()).expect("the ledger can be read");
    let long_name = "n".repeat(101);
    let long_note = "n".repeat(4001);
    let cases: [(&[&str], &str); 9] = [
        (&["parent", "add", "ZZ", "a\u{1b}[31mb"], "U+001B"),
        (&["parent", "add", "ZZ", "a\u{202e}b"], "U+202E"),
        (&["parent", "add", "ZZ", ""], "the name is empty"),
        (
            &["parent", "add", "ZZ", &long_name],
            "101 characters; it may have 100",
        ),
        (
            &["note", "NL", &long_note],
            "4001 characters; it may have 4000",
        ),
        (&["note", "NL", "a\u{7}b"], "U+0007"),
        (&["parent", "add", "Z\u{7}Z", "Name"], "U+0007"),
        (&["score", "T1-03", "gr\u{1b}een"], "no trait has a class"),
        (
            &["harvest", "X1", "--seeds", "3", "--kept", "a\u{9b}b"],
            "U+009B",
        ),
    ];
    for (words, wanted) in cases {
        let run = bench.run_words(words);
        assert!(matches!(run.status, Some(1 | 2)), "{words:?}");
        assert!(
            crate::support::flat(&run.err).contains(wanted),
            "{words:?}\n{}",
            run.err
        );
        let raw = |c: char| c != '\n' && (c.is_control() || c == '\u{202e}');
        assert!(!run.err.contains(raw), "{words:?}\n{:?}", run.err);
    }
    let after = std::fs::read(bench.ledger()).expect("the ledger can be read");
    assert!(before == after, "a refusal writes nothing");
}

/// What dirty hands type: names in the place of codes, fates among looks, flags left out.
#[test]
fn a_near_miss_gets_the_command_that_was_meant() {
    refuses(
        &season(),
        &[
            ("cross Cloud NL", 1, &["the nearest known: CW"]),
            (
                "plan which-mother 'Cloud Walker' NL",
                2,
                &[
                    "'Cloud Walker' is CW",
                    "try: locule plan which-mother CW NL",
                ],
            ),
            (
                "score P1 1=purple 2=maybe-green 4=dead",
                2,
                &["'4=dead' is no look", "try: locule died P1-4"],
            ),
            ("score T1 2 dead", 2, &["try: locule died T1 2"]),
            ("score T1 dead=2", 2, &["try: locule died T1 2"]),
            (
                "score NL purple pendant",
                2,
                &[
                    "'purple pendant' is no score",
                    "try: locule score NL purple/pendant",
                ],
            ),
            (
                "score P1 1=purple green 2=green",
                2,
                &["'green 2=green' is no score"],
            ),
            ("set X1 3", 2, &["try: locule set X1 --pods 3"]),
            ("sow X1 12", 2, &["try: locule sow X1 --seeds 12"]),
            (
                "plan calendar 1nov",
                2,
                &["try: locule plan calendar --ripe-seed 1nov"],
            ),
            (
                "genotype NL --all",
                2,
                &["either one plant or all of them", "try: locule genotype NL"],
            ),
            (
                "ratio T1 --to 3-1",
                2,
                &["is no ratio", "try: locule ratio T1 --to 3:1"],
            ),
            (
                "plan seeds --chance 1/16 --confidence 95",
                2,
                &["95 is no share", "from 0% to 100%"],
            ),
        ],
    );
}

#[test]
fn a_pair_may_be_typed_as_its_tag_prints_it_and_shares_as_they_are_shown() {
    let bench = season();
    assert!(bench.ok("cross NL x CW --on 1mar").contains("NL x CW"));
    assert_eq!(
        bench.ok("plan which-mother CW x NL"),
        bench.ok("plan which-mother CW NL")
    );
    assert_eq!(
        bench.json(
            "plan seeds --want 3 --chance 1/16 --confidence 95% --germination 80% --off-share 3%"
        ),
        bench.json(
            "plan seeds --want 3 --chance 1/16 --confidence 0.95 --germination 0.8 --off-share 0.03"
        )
    );
    let sheet = bench.json("sheet T1");
    let line = &sheet["trays"][0]["groups"][0]["lines"][0];
    assert!(
        line["p_off"].is_f64() && line["off_type"].is_string(),
        "{sheet}"
    );
}

/// Two looks of one day are spoken of until a later look settles it.
#[test]
fn a_reading_of_one_day_that_a_newer_replaced_is_told_until_a_later_look() {
    let mut bench = season();
    assert_eq!(bench.run("score P1-02 purple --on 10may").status, Some(0));
    assert!(bench.ok("suspects P1").contains("was read green and"));
    bench.on("2026-06-10");
    assert_eq!(bench.run("score P1-02 purple --on 9jun").status, Some(0));
    assert!(!bench.ok("suspects P1").contains("was read green and"));
}
