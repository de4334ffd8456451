//! Notation that cannot be read is pointed at, and what cannot be is refused with its reason; each time there is a
//! command to type, and nothing is written.

use crate::support::{Bench, flat};

/// The character above the caret, nothing where it stands behind the text; `None` where there is no caret.
fn pointed_at(err: &str) -> Option<String> {
    let lines: Vec<&str> = err.lines().collect();
    let at = lines.iter().position(|line| line.trim() == "^")?;
    let column = lines[at].chars().take_while(|c| *c == ' ').count();
    Some(lines[at - 1].chars().skip(column).take(1).collect())
}

fn bench() -> Bench {
    let bench = Bench::new();
    for line in [
        "init",
        "parent add NL --genotype A/A",
        "parent add CW --genotype a/a",
        "parent add P1 --pedigree NL/CW",
        "locus set Q --chromosome 10 --at 30",
        "locus set R --chromosome 2 --at 30",
        "locus set V --recombines Q=0.1",
    ] {
        bench.ok(line);
    }
    bench
}

/// Line, status, the character pointed at (empty for behind the end), what the reason says.
type Pointed = (&'static str, i32, &'static str, &'static str);

const POINTED: &[Pointed] = &[
    // genotypes
    (
        "expect --mother 'A/a B' --father A/a",
        2,
        "B",
        "a slash is missing",
    ),
    (
        "expect --mother 'A//a' --father A/a",
        2,
        "/",
        "a locus has two alleles",
    ),
    (
        "expect --mother 'A/' --father A/a",
        2,
        "",
        "an allele is missing",
    ),
    (
        "expect --mother 'A/a A/A' --father A/a",
        2,
        "A",
        "stated twice",
    ),
    (
        "expect --mother 'A,a' --father A/a",
        2,
        ",",
        "may not stand",
    ),
    (
        "expect --mother '_/_' --father A/a",
        2,
        "_",
        "both alleles are unknown",
    ),
    (
        "expect --mother 'A/x' --father A/a",
        2,
        "x",
        "unknown allele x of locus A",
    ),
    (
        "expect --mother 'A/pun1' --father A/a",
        2,
        "p",
        "alleles of two loci are mixed",
    ),
    (
        "expect --mother A/a --father 'a/Pun1'",
        2,
        "P",
        "alleles of two loci are mixed",
    ),
    (
        "expect --mother A/a --father A/a --lethal a",
        2,
        "a",
        "a slash is missing",
    ),
    (
        "expect --mother A/A --father a/a --generation F3 --kept A/",
        2,
        "",
        "an allele is missing",
    ),
    (
        "parent add ZZ --genotype 'A/a B'",
        1,
        "B",
        "a slash is missing",
    ),
    (
        "parent add ZZ --genotype 'A/pun1'",
        1,
        "p",
        "alleles of two loci are mixed",
    ),
    // rules
    (
        "expect --mother A/a --father A/a --rule 'A/_ -> p'",
        2,
        "-",
        "has no arrow",
    ),
    (
        "expect --mother A/a --father A/a --rule 'A/_ p'",
        2,
        "",
        "has no arrow",
    ),
    (
        "expect --mother A/a --father A/a --rule '=> p'",
        2,
        "=",
        "lacks its pattern",
    ),
    (
        "expect --mother A/a --father A/a --rule 'A/_ =>'",
        2,
        "",
        "lacks its class",
    ),
    (
        "expect --mother A/a --father A/a --rule 'A/ => p'",
        2,
        "",
        "an allele is missing",
    ),
    (
        "expect --mother A/a --father A/a --rule 'A|a => p' --rule 'else => q'",
        2,
        "|",
        "does not ask which parent",
    ),
    (
        "expect --mother A/a --father A/a --rule 'A/pun1 => p' --rule 'else => q'",
        2,
        "p",
        "alleles of two loci",
    ),
    (
        "expect --mother A/a --father A/a --rule 'cytoplasm:odd A/_ => p' --rule 'else => q'",
        2,
        "o",
        "normal or sterile",
    ),
    (
        "expect --mother A/a --father A/a --rule 'cytoplasm:normal cytoplasm:sterile => p' --rule 'else => q'",
        2,
        "c",
        "twice",
    ),
    (
        "trait add hue --classes p,q --rule 'A/_ -> p' --rule 'else => q'",
        1,
        "-",
        "has no arrow",
    ),
    (
        "trait add hue --classes p,q --rule 'A/ => p' --rule 'else => q'",
        1,
        "",
        "an allele is missing",
    ),
    (
        "trait add hue --classes p,q --rule 'A/_ => z' --rule 'else => q'",
        1,
        "z",
        "no class \"z\"",
    ),
    // generations
    (
        "expect --mother A/A --father a/a --generation F0",
        2,
        "0",
        "no generation",
    ),
    (
        "expect --mother A/A --father a/a --generation F",
        2,
        "",
        "no generation",
    ),
    (
        "expect --mother A/A --father a/a --generation F99",
        2,
        "9",
        "up to 20",
    ),
    (
        "expect --mother A/A --father a/a --generation S1",
        2,
        "S",
        "no generation",
    ),
    (
        "expect --mother A/A --father a/a --generation BCF2",
        2,
        "F",
        "no generation",
    ),
    (
        "expect --mother A/A --father a/a --generation BC1x",
        2,
        "x",
        "no generation",
    ),
    (
        "expect --mother A/A --father a/a --generation F2:3",
        2,
        ":",
        "the generation is F3",
    ),
    // counts and ratios
    ("ratio 88 3o --to 3:1", 2, "o", "no count"),
    ("ratio 8.5 3 --to 3:1", 2, ".", "no count"),
    ("ratio 88 -3 --to 3:1", 2, "-", "from 0 up"),
    ("ratio 88 30 --to 3:", 2, "", "no ratio"),
    ("ratio 88 30 --to 3-1", 2, "-", "no ratio"),
    ("ratio 88 30 --to 9:3:x:1", 2, "x", "no ratio"),
    ("linkage 284 21 21 5x", 2, "x", "no count"),
    (
        "linkage 284 21 21 55 --phase coupling --with '226 95 9z 1'",
        2,
        "z",
        "no count",
    ),
    // pedigrees
    ("parent add ZZ --pedigree 'A//B//C'", 1, "/", "stands twice"),
    (
        "parent add ZZ --pedigree 'A/'",
        1,
        "/",
        "a parent is missing",
    ),
    ("parent add ZZ --pedigree 'A/B/0/C'", 1, "/", "no /0/"),
    (
        "parent add ZZ --pedigree 'A*1/B'",
        1,
        "1",
        "a dose counts the first cross",
    ),
    (
        "parent add ZZ --pedigree 'A*/B'",
        1,
        "*",
        "a star stands between",
    ),
    ("parent add ZZ --pedigree '12/B'", 1, "1", "only digits"),
    ("parent add ZZ --pedigree '\"A/B'", 1, "\"", "never closed"),
    ("parent add ZZ --pedigree 'A*2/B*2'", 1, "B", "both parents"),
    (
        "parent add ZZ --pedigree A",
        1,
        "A",
        "two parents with a slash",
    ),
];

#[test]
fn notation_is_pointed_at() {
    let bench = bench();
    let before = std::fs::read(bench.ledger()).unwrap();
    for (line, status, character, reason) in POINTED {
        let err = bench.fails(line, *status);
        assert!(flat(&err).contains(reason), "{line}: {err}");
        assert_eq!(
            pointed_at(&err).as_deref(),
            Some(*character),
            "{line}: {err}"
        );
        assert!(err.contains("\ntry: locule "), "{line}: {err}");
        let long = err
            .lines()
            .find(|l| !l.starts_with("try: ") && l.chars().count() > 80);
        assert_eq!(long, None, "{line}: {err}");
    }
    assert!(
        before == std::fs::read(bench.ledger()).unwrap(),
        "nothing is written"
    );
}

/// Line, status, reason, command to type.
type Refused = (&'static str, i32, &'static str, &'static str);

const REFUSED: &[Refused] = &[
    (
        "locus set A --recombines H=0.6",
        1,
        "from 0 to 0.5, not '0.6'",
        "locule locus set A --recombines H=0.12",
    ),
    (
        "locus set A --recombines H=-0.1",
        1,
        "from 0 to 0.5, not '-0.1'",
        "locule locus set A --recombines H=0.12",
    ),
    (
        "locus set A --recombines H=often",
        1,
        "not 'often'",
        "locule locus set A --recombines H=0.12",
    ),
    (
        "locus set A --recombines A=0.1",
        1,
        "with itself",
        "locule locus set A --recombines",
    ),
    (
        "locus set Q --recombines R=0.1",
        1,
        "Q is on chromosome 10 and R on 2",
        "locule locus set R --chromosome 10",
    ),
    (
        "locus set V --chromosome 2",
        1,
        "V cannot be on chromosome 2: Q is on 10, and the two were recorded to recombine at 0.1",
        "locule locus set V --chromosome 2 --recombines Q=0.5",
    ),
    (
        "locus set Q --at -3",
        1,
        "centimorgans from 0 to 1000, not '-3'",
        "locule locus set Q --at 33",
    ),
    (
        "locus set Q --at 2000",
        1,
        "centimorgans from 0 to 1000",
        "locule locus set Q --at 33",
    ),
    (
        "locus set Z --at 3",
        1,
        "needs its chromosome",
        "locule locus set Z --chromosome",
    ),
    (
        "expect --mother A/a --father a/a --recombines A,H=0.6",
        2,
        "0 (never parted) to 0.5",
        "locule expect",
    ),
    (
        "expect --mother A/a --father a/a --recombines A,H=-0.1",
        2,
        "0 (never parted) to 0.5",
        "locule expect",
    ),
    (
        "expect --mother A/a --father a/a --recombines A,A=0.1",
        2,
        "two loci",
        "locule expect",
    ),
    (
        "expect --mother A/a --father a/a --recombines Q,R=0.1",
        1,
        "chromosome 10 and R on 2",
        "locule expect",
    ),
    (
        "expect --mother 'A|a Pun1|pun1' --father 'a/a pun1/pun1'",
        1,
        "have no phase",
        "locule expect",
    ),
    (
        "parent add ZZ --genotype 'A|a Pun1|pun1'",
        1,
        "have no phase",
        "locule parent add",
    ),
    (
        "parent add CX --pedigree P1/CX",
        1,
        "its own ancestor",
        "locule parent add",
    ),
    ("cross NL NL", 1, "that is a self", "locule self NL"),
    (
        "expect --mother A/a --father a/a --weak-pollen z=0.5",
        1,
        "no allele 'z'",
        "locule expect",
    ),
    (
        "expect --mother A/a --father a/a --weak-pollen a=0.5 --weak-pollen a=0.2",
        2,
        "names the allele a more than once",
        "locule expect --mother A/a --father a/a --weak-pollen a=0.2",
    ),
    (
        "expect --mother A/A --father a/a --generation F2:zzz",
        2,
        "is no generation F2:zzz ^ write F1, F2",
        "locule expect",
    ),
    (
        "expect --mother A/a --father a/a --weak-pollen a=2",
        2,
        "from 0 (none) to 1 (all)",
        "locule expect",
    ),
    (
        "expect --mother A/a --father a/a --selfed -1",
        2,
        "from 0 (none) to 1 (all)",
        "locule expect",
    ),
];

#[test]
fn what_cannot_be_is_refused() {
    let bench = bench();
    let before = std::fs::read(bench.ledger()).unwrap();
    for (line, status, reason, to_type) in REFUSED {
        let err = bench.fails(line, *status);
        assert!(flat(&err).contains(reason), "{line}: {err}");
        let tried = err.lines().filter_map(|l| l.strip_prefix("try: "));
        assert!(
            tried.clone().any(|l| l.starts_with(to_type)),
            "{line}: {err}"
        );
    }
    assert!(
        before == std::fs::read(bench.ledger()).unwrap(),
        "nothing is written"
    );
}
