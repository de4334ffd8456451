//! Genotypes as they are written: what is read, what is refused and where the pointer stands.

use locule::genetics::{Diploid, Genotype, LocusBook, NotationError, NotationFault};
use proptest::prelude::*;

fn known() -> LocusBook {
    let mut book = LocusBook::new();
    for (symbol, alleles) in [
        ("A", &["A", "a"][..]),
        ("B", &["B", "b"]),
        ("L", &["L4", "L3", "l"]),
        ("pAMT", &["pAMT", "pamt"]),
    ] {
        book.declare(symbol, alleles).expect("good symbols");
    }
    book
}

fn reread(text: &str) -> String {
    let mut book = known();
    Genotype::parse(text, &mut book)
        .expect("a good genotype")
        .written(&book)
}

fn refusal(text: &str) -> NotationError {
    let mut book = known();
    let error = Genotype::parse(text, &mut book).expect_err("a bad genotype");
    assert_eq!(book, known(), "a refused genotype leaves no locus behind");
    error
}

#[test]
fn genotypes_are_read() {
    assert_eq!(reread("A/a"), "A/a");
    assert_eq!(reread("a/A"), "A/a");
    assert_eq!(reread("  b/B \t A/_  "), "B/b A/_");
    assert_eq!(reread("_/a"), "a/_");
    assert_eq!(reread("a|A"), "a|A");
    assert_eq!(reread("_|a"), "_|a");
    assert_eq!(reread("l/L4 pamt/pAMT"), "L4/l pAMT/pamt");
}

#[test]
fn new_loci_come_with_the_alleles_written_or_the_case_twin() {
    let alleles_of = |text: &str| {
        let mut book = known();
        let before = book.len();
        Genotype::parse(text, &mut book).expect("a good genotype");
        let new = book
            .since(before)
            .map(|(_, l)| (l.symbol.clone(), l.alleles.clone()));
        new.collect::<Vec<_>>()
    };
    let one = |symbol: &str, alleles: [&str; 2]| {
        vec![(symbol.to_owned(), alleles.map(str::to_owned).to_vec())]
    };
    assert_eq!(alleles_of("Q/Q"), one("Q", ["Q", "q"]));
    assert_eq!(alleles_of("q/_"), one("Q", ["Q", "q"]));
    assert_eq!(alleles_of("_|pun9"), one("Pun9", ["Pun9", "pun9"]));
    assert_eq!(alleles_of("xy/xY"), one("xY", ["xY", "xy"]));
    assert_eq!(alleles_of("vg/vg+"), one("vg+", ["vg+", "vg"]));
    assert_eq!(alleles_of("pun1²/pun1³"), one("pun1²", ["pun1²", "pun1³"]));
    assert_eq!(alleles_of("A/a"), []);
}

#[test]
fn statements_match_genotypes() {
    let mut book = known();
    let genotype = Genotype::parse("A/_ L3/l", &mut book).unwrap();
    let [a, l] = [genotype.loci[0], genotype.loci[1]];
    assert_eq!(
        a.compatible(&book),
        [Diploid::new(0, 0), Diploid::new(0, 1)]
    );
    assert_eq!(l.compatible(&book), [Diploid::new(1, 2)]);
    assert_eq!((a.diploid(), l.diploid()), (None, Some(Diploid::new(1, 2))));
    let b = book.find("B").unwrap();
    assert!(
        genotype.matches(b, Diploid::new(1, 1)),
        "a locus not named is unknown"
    );
    assert!(!genotype.matches(a.locus, Diploid::new(1, 1)));
}

/// A text, the place of the pointer, the piece that is meant, and the fault.
type FaultCase = (
    &'static str,
    usize,
    &'static str,
    fn(&NotationFault) -> bool,
);

#[test]
fn faults_are_named_and_pointed_at() {
    use NotationFault as F;
    let cases: [FaultCase; 19] = [
        ("", 0, "", |f| matches!(f, F::Empty)),
        ("  ", 0, "", |f| matches!(f, F::Empty)),
        (
            "A/a B/x",
            6,
            "B/x",
            |f| matches!(f, F::UnknownAllele { locus, .. } if locus == "B"),
        ),
        ("x/A", 0, "x/A", |f| matches!(f, F::UnknownAllele { .. })),
        ("A/b", 2, "A/b", |f| matches!(f, F::MixedLoci(_))),
        ("Aa", 0, "Aa", |f| matches!(f, F::MissingSlash)),
        ("A,b", 1, "A,b", |f| matches!(f, F::Symbol(_))),
        ("Q/q A/x", 6, "A/x", |f| {
            matches!(f, F::UnknownAllele { .. })
        }),
        ("B/b A", 4, "A", |f| matches!(f, F::MissingSlash)),
        ("A/", 2, "A/", |f| matches!(f, F::MissingAllele)),
        ("A / a", 0, "A", |f| matches!(f, F::MissingSlash)),
        ("/a", 0, "/a", |f| matches!(f, F::MissingAllele)),
        ("A/a/a", 3, "A/a/a", |f| matches!(f, F::TooManyAlleles)),
        ("_/_", 0, "_/_", |f| matches!(f, F::NoAllele)),
        ("A/a B/b a/a", 8, "a/a", |f| {
            matches!(f, F::LocusTwice { .. })
        }),
        ("A/a,B/b", 5, "A/a,B/b", |f| matches!(f, F::TooManyAlleles)),
        ("A/a, B/b", 3, "A/a,", |f| matches!(f, F::Symbol(_))),
        ("A/a_", 3, "A/a_", |f| matches!(f, F::Symbol(_))),
        ("12/12", 0, "12/12", |f| matches!(f, F::NoTwin { .. })),
    ];
    for (text, at, piece, fits) in cases {
        let error = refusal(text);
        assert!(fits(&error.fault), "{text}: {error}");
        assert_eq!(
            (error.at, error.piece.as_str()),
            (at, piece),
            "{text}: {error}"
        );
        assert!(!error.hint().is_empty());
    }
    let long = format!("A/{}", "x".repeat(25));
    assert!(matches!(refusal(&long).fault, NotationFault::Symbol(_)));
}

/// A slip in case is not a new locus.
#[test]
fn case_slips_are_not_new_loci() {
    for (text, meant) in [
        ("PAMT/pamt", "pAMT"),
        ("PAMT/_", "pAMT"),
        ("Pamt/Pamt", "pAMT"),
        ("l4/_", "L4"),
    ] {
        let error = refusal(text);
        assert!(
            matches!(error.fault, NotationFault::UnknownAllele { .. }),
            "{text}: {error}"
        );
        assert!(
            error.hint().contains(&format!("did you mean {meant}?")),
            "{}",
            error.hint()
        );
    }
    assert!(matches!(
        refusal("L/l").fault,
        NotationFault::UnknownAllele { .. }
    ));
}

#[test]
fn errors_read_well() {
    let text = "A/a B/x";
    let error = refusal(text);
    assert_eq!(
        error.to_string(),
        "\"B/x\": unknown allele x of locus B (it has B, b)"
    );
    assert_eq!(
        error.hint(),
        "if it is a further allele: locule locus set B --alleles B,b,x"
    );
    assert_eq!(error.pointed(text), "A/a B/x\n      ^");
    let error = refusal("A/b");
    let said = "\"A/b\": alleles of two loci are mixed: A is of locus A and b is of locus B";
    assert_eq!(error.to_string(), said);
    assert_eq!(error.hint(), "state them apart: A/_ b/_");
    assert_eq!(refusal("Aa").hint(), "write A/a");
}

/// Control characters never reach a terminal raw, and wide letters keep the pointer in its column.
#[test]
fn pointers_are_harmless() {
    let text = "A/\u{1b}[2J";
    let error = refusal(text);
    assert_eq!(error.at, 2);
    let shown = format!("{error}{}{}", error.pointed(text), error.hint());
    assert!(
        !shown.chars().any(|c| c.is_control() && c != '\n'),
        "{shown:?}"
    );
    let text = "紫/紫 B/x";
    assert_eq!(refusal("A/a 紫/b").at, 4);
    let mut book = known();
    book.declare("M", &["紫", "緑"]).unwrap();
    let error = Genotype::parse(text, &mut book).unwrap_err();
    assert_eq!(error.at, 6);
    assert_eq!(error.pointed(text), format!("{text}\n{}^", " ".repeat(8)));
}

fn symbol() -> impl Strategy<Value = String> {
    "[A-Za-z][a-z0-9+.'²³-]{0,4}"
}

proptest! {
    /// Whatever is read is written so that it reads the same, and written the same again.
    #[test]
    fn notation_round_trips(
        symbols in prop::collection::vec(symbol(), 1..6),
        signs in prop::collection::vec((0..6_usize, any::<bool>()), 6),
    ) {
        let pieces: Vec<String> = symbols.iter().zip(signs).map(|(s, (form, phased))| {
            let twin = locule::genetics::allele::case_twin(s).expect("the symbol has a letter");
            let sign = if phased { '|' } else { '/' };
            let (one, other) = match form {
                0 => (s.as_str(), s.as_str()),
                1 => (s.as_str(), twin.as_str()),
                2 => (twin.as_str(), s.as_str()),
                3 => (s.as_str(), "_"),
                4 => ("_", s.as_str()),
                _ => ("_", twin.as_str()),
            };
            format!("{one}{sign}{other}")
        }).collect();
        let mut book = LocusBook::new();
        let read = Genotype::parse(&pieces.join(" "), &mut book);
        prop_assume!(read.is_ok());
        let genotype = read.expect("assumed");
        let written = genotype.written(&book);
        let loci = book.len();
        let again = Genotype::parse(&written, &mut book);
        prop_assert_eq!(again.as_ref(), Ok(&genotype));
        prop_assert_eq!(genotype.written(&book), written);
        prop_assert_eq!(book.len(), loci);
    }

    /// Any text is read or refused, with the pointer inside the text.
    #[test]
    fn any_text_is_read_or_refused(text in "\\PC{0,12}|[AaBb/|_ ,]{0,12}") {
        let mut book = known();
        if let Err(error) = Genotype::parse(&text, &mut book) {
            prop_assert!(error.at <= text.chars().count());
            prop_assert_eq!(book, known());
            prop_assert_eq!(error.pointed(&text).lines().last().map(|l| l.ends_with('^')), Some(true));
        }
    }
}
