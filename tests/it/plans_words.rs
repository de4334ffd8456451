//! Plans in the real program: the number first, what it rests on below, and what cannot be refused with the reason.

use crate::support::{Bench, flat};

#[test]
fn the_answer_begins_with_the_number_and_says_what_it_rests_on() {
    let bench = Bench::new();
    let said = flat(&bench.ok("plan seeds --want 3 --chance 1/16 --germination 41:50"));
    assert!(
        said.starts_with("Sow 124 seeds: 95.0 % that at least 3 are of the kind wanted."),
        "{said}"
    );
    for part in [
        "of the kind wanted: 1/16 of true seed (6.2 %)",
        "comes up: 41 of 50; how few those are is reckoned with",
        "not of the label: none is counted in",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let genes = "--mother 'A/a Pun1/pun1 pAMT/pAMT' --father 'A/a Pun1/pun1 pAMT/pAMT'";
    let staged = flat(&bench.ok(&format!(
        "plan seeds {genes} --class green/not-hot --marker green"
    )));
    assert!(
        staged.starts_with(
            "Sow 47 seeds, pot the 12 or so that show green, judge those: 95.2 % that at least one is green/not-hot. \
             Or save seed and find it next year:"
        ),
        "{staged}"
    );
    let cramped = flat(&bench.ok(&format!(
        "plan seeds {genes} --class green/not-hot --marker green --pots 5"
    )));
    assert!(
        cramped.starts_with(
            "5 pots are too few to find it this year: even with all of them filled it is 76 % that at least one is \
             green/not-hot; 11 would do. Save seed and find it next year:"
        ),
        "{cramped}"
    );
}

#[test]
fn linked_loci_are_planned_for_as_they_are_handed_on() {
    let bench = Bench::new();
    let line = "plan seeds --mother 'A|a B|b' --father 'A|a B|b' --recombines A,B=0.1 --genotype 'a/a b/b'";
    let found = bench.json(line);
    // Both gametes a-b: (0.9/2)^2.
    assert_eq!(found["targets"][0]["fraction"], "81/400");
    assert_eq!(
        found["seeds"], 14,
        "1 - (1 - 81/400)^13 = 0.947, of 14 0.958"
    );
}

#[test]
fn what_cannot_be_is_refused_with_the_reason() {
    let bench = Bench::new();
    for (line, status, parts) in [
        (
            "plan seeds --mother 'A/A B/b' --father 'A/a B/b' --genotype 'a/a b/b'",
            1,
            &[
                "A makes it impossible",
                "A: the mother is A/A, the father A/a",
                "--generation F2",
            ][..],
        ),
        (
            "plan seeds --mother A/A --father A/A --class green",
            1,
            &[
                "A makes it impossible",
                "A: the mother is A/A, the father A/A",
                "expect --help",
            ],
        ),
        (
            "plan seeds --mother A/a --father A/_ --class green",
            1,
            &[
                "with 33 % the parents are such that none can",
                "not stated: the father at A",
            ],
        ),
        (
            "plan seeds --mother A/a --father A/a --class green --marker purple",
            1,
            &["no seedling that is green shows purple"],
        ),
        (
            "plan seeds --chance 0",
            2,
            &["0 is no chance; it lies above 0, up to 1"],
        ),
        ("plan seeds --chance -0.1", 2, &["-0.1 is no share"]),
        ("plan seeds --chance -1/16", 2, &["-1/16 is no share"]),
        (
            "plan seeds --chance 1/4 --germination -1",
            2,
            &["-1 is no share"],
        ),
        (
            "plan seeds --chance 1/4 --off-share -0.1",
            2,
            &["-0.1 is no share"],
        ),
        (
            "plan seeds --chance 1/4 --want -3",
            2,
            &["a whole number from 1 to 10000"],
        ),
        (
            "plan space --pots 9 --losses -0.1 a=1/4",
            2,
            &["-0.1 is no share"],
        ),
        (
            "plan space --pots -3 a=1/4",
            2,
            &["a whole number from 0 to"],
        ),
        (
            "plan space --area -1x1m --spacing 30cm a=1/4",
            2,
            &["--area: ", "-1m"],
        ),
        (
            "plan space --pots 9 --reserve 2 --losses 0.1 a=1/4",
            2,
            &[
                "together they would count twice",
                "try: locule plan space --pots 9 --losses 0.1 a=1/4",
                "try: locule plan space --pots 9 --reserve 2 a=1/4",
            ],
        ),
        (
            "plan space --pots 9 a=1/4,want=2 A=1/4",
            2,
            &[
                "A=1/4 stands there twice, and a plant counts once: ask for 3 of it at once",
                "try: locule plan space --pots 9 A=1/4,want=3",
            ],
        ),
        (
            "plan seeds --mother 'A/a B/b C/c' --father 'A/a B/b C/c' --genotype 'A/A B/B=300' --genotype 'A/A C/C=300' --genotype 'A/A=300'",
            1,
            &["counts to be kept apart"],
        ),
        (
            "plan seeds --chance 1/16 --germination 0:0",
            2,
            &["of no seeds sown nothing is known", "41:50"],
        ),
        (
            "plan seeds --chance 1/16=2 --want 3",
            2,
            &["--want 3 and 1/16=2: how many is said twice"],
        ),
        (
            "plan seeds --mother A/a --father A/a --class purple=2 --class purple=3",
            2,
            &["purple is asked for twice", "ask for it once, purple=3"],
        ),
        (
            "plan enough 27:9:9:9:3:3:3:1 1:1:1:1:1:1:1:1",
            1,
            &["with 8 classes the exact sum is too long"],
        ),
        (
            "plan space --area 10x10cm --spacing 30cm a=1/4",
            1,
            &["holds no plant", "--spacing 10cm"],
        ),
        ("plan seeds --chance 17/16", 2, &["17/16 is no share"]),
        (
            "plan seeds --chance 1/2 --chance 3/4",
            2,
            &["add up to more than 1"],
        ),
        (
            "plan seeds --chance 1/16 --confidence 1",
            2,
            &["no number of seeds makes it certain"],
        ),
        (
            "plan seeds --chance 1/16 --confidence 0",
            2,
            &["it lies above 0"],
        ),
        (
            "plan seeds --chance 1/16 --germination 0",
            2,
            &["0 is no chance"],
        ),
        (
            "plan seeds --chance 1/16 --germination 51:50",
            2,
            &["51 up of 50 cannot be"],
        ),
        (
            "plan seeds --chance 1/16 --off-share 1",
            2,
            &["were all seed off-type"],
        ),
        (
            "plan seeds --chance 1/4 --marker-chance 1/8",
            2,
            &["less than --chance"],
        ),
        (
            "plan seeds --chance 1/4 --pots 3",
            2,
            &["name the look with --marker"],
        ),
        ("plan seeds --want 2", 2, &["what is wanted?"]),
        ("plan seeds --class green", 2, &["of which seed?"]),
        (
            "plan seeds --mother A/a --father A/a --class gren",
            1,
            &["the nearest: green"],
        ),
        ("plan enough 3:1 6:2", 1, &["the same ratio"]),
        (
            "plan enough 3:1 9:3:4",
            2,
            &["3:1 has 2 classes and 9:3:4 has 3"],
        ),
        (
            "plan enough 27:37 3375:4621",
            1,
            &["so near to one another"],
        ),
        (
            "plan space --area 0x1m --spacing 30cm a=1/4",
            2,
            &["no length to plant in"],
        ),
        (
            "plan space --area 1x1ft --spacing 30cm a=1/4",
            2,
            &["no unit that is known"],
        ),
        (
            "plan space --area 1x1m --spacing 2m a=1/4",
            1,
            &["holds no plant"],
        ),
        (
            "plan space --pots 4 --reserve 4 a=1/4",
            1,
            &["no place is left"],
        ),
        ("plan space --pots 4 a=0", 2, &["0 is no chance"]),
        (
            "plan space --pots 4 a=1/4,weight=0",
            2,
            &["weight is a number above 0"],
        ),
        (
            "plan space --pots 4 a=1/4,wont=2",
            2,
            &["is none of want=N"],
        ),
    ] {
        let said = flat(&bench.fails(line, status));
        for part in parts {
            assert!(said.contains(part), "{line}: {part}\n{said}");
        }
    }
}

#[test]
fn places_say_how_they_were_counted() {
    let bench = Bench::new();
    let line = "plan space --area 1x1m --spacing 10cm --packing staggered a=1/2,want=2 b=1/16";
    let found = bench.json(line);
    assert_eq!(
        (&found["places"], &found["area"]["places_otherwise"]),
        (&105.into(), &100.into())
    );
    let said = flat(
        &bench.ok("plan space --area 1.2x0.6m --spacing 30cm --losses 0.1 a=1/4 b=1/4,want=3"),
    );
    assert!(
        said.contains("places: 8 on 1.2x0.6m at 30cm in rows and columns, each plant with half the spacing to the edge; staggered rows hold 7"),
        "{said}"
    );
    assert!(
        said.starts_with(
            "Give 8 to a: 0.87 of 2 targets reached on average, 0.68 if shared evenly."
        ),
        "{said}"
    );
}

#[test]
fn what_is_said_of_places_and_of_sums_not_made() {
    let bench = Bench::new();
    let kept = flat(&bench.ok("plan space --pots 9 --reserve 2 a=1/4 b=1/8"));
    assert!(
        kept.contains("kept in reserve: 2, from which every plant that is lost is replaced")
            && !kept.contains("--losses"),
        "{kept}"
    );
    let twice = flat(&bench.ok("plan space --pots 9 a=1/4 a=1/8"));
    assert!(
        twice.contains("a plant of a counts for the target that its place was given to")
            && twice.starts_with("Give 5 to a (1/4) and 4 to a (1/8)"),
        "{twice}"
    );
    let once = flat(&bench.ok("plan space --pots 9 a=1/4 b=1/8"));
    assert!(!once.contains("counts for the target"), "{once}");
    let short = flat(&bench.ok("plan enough 9:3:3:1 1:1:1:1"));
    assert!(
        short.starts_with("Count 33 plants to tell 9:3:3:1 from 1:1:1:1")
            && short.contains("were tried: the sums grow too long"),
        "{short}"
    );
    let one = flat(&bench.ok("plan enough 1:0 0:1"));
    assert!(
        one.starts_with("Count 1 plant to tell 1:0 from 0:1"),
        "{one}"
    );
    let whole = flat(&bench.ok("plan enough 3:1 1:1"));
    assert!(!whole.contains("sums grow"), "{whole}");
}
