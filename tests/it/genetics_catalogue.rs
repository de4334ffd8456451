//! The built-in traits: each passes its own gate, and gives the ratios that its sources or plain
//! arithmetic ask for.

use std::collections::BTreeSet;

use locule::genetics::catalogue::{book, loci, traits};
use locule::genetics::{
    BENCH_TRAIT, Cytoplasm, GeneModel, Genotype, LocusBook, LocusIx, Parent, Stage, TraitSpec,
};

use crate::genetics_look::expect_exact;

fn spec(code: &str) -> TraitSpec {
    traits()
        .into_iter()
        .find(|spec| spec.code == code)
        .expect("a built-in trait")
}

fn model(code: &str, name: &str, book: &mut LocusBook) -> GeneModel {
    let models = spec(code).check(book).expect("the catalogue is sound");
    models
        .into_iter()
        .find(|m| m.name() == name)
        .expect("a built-in model")
}

fn parent(text: &str, book: &mut LocusBook) -> Parent {
    let genotype = Genotype::parse(text, book).expect("a good genotype");
    let loci: Vec<LocusIx> = genotype.loci.iter().map(|stated| stated.locus).collect();
    Parent::stated(&genotype, &loci, |_| Vec::new())
}

/// Classes and parts of a cross, as `9 red : 3 brown`.
fn cross(code: &str, name: &str, mother: &str, father: &str, cytoplasm: Cytoplasm) -> String {
    let mut book = book();
    let model = model(code, name, &mut book);
    let mother = Parent {
        cytoplasm,
        ..parent(mother, &mut book)
    };
    let father = parent(father, &mut book);
    let exact = expect_exact(&mother, &father, &[&model]).expect("all genotypes are known");
    let parts = exact.parts(256).expect("a small ratio");
    let named = exact.classes.iter().zip(parts).filter(|(_, n)| *n > 0);
    let named = named.map(|((c, _), n)| format!("{n} {}", model.classes()[c[0]]));
    named.collect::<Vec<_>>().join(" : ")
}

fn f2(code: &str, name: &str, f1: &str) -> String {
    cross(code, name, f1, f1, Cytoplasm::Unknown)
}

#[test]
fn every_built_in_trait_passes_and_names_no_new_locus() {
    let mut book = book();
    let before = book.len();
    for spec in traits() {
        let models = spec
            .check(&mut book)
            .unwrap_or_else(|e| panic!("{}: {e}", spec.code));
        assert_eq!(models.len(), spec.models.len());
        assert_eq!(spec.model_in_use(), Some(0), "{}", spec.code);
        assert!(
            spec.models.iter().all(|m| !m.source.is_empty()),
            "{}",
            spec.code
        );
    }
    let new: Vec<&str> = book.since(before).map(|(_, l)| l.symbol.as_str()).collect();
    assert!(
        new.is_empty(),
        "rules name loci that the catalogue lacks: {new:?}"
    );
}

#[test]
fn thirty_gene_models_of_twenty_two_traits() {
    let all = traits();
    assert_eq!(all.len(), 22);
    assert_eq!(all.iter().map(|spec| spec.models.len()).sum::<usize>(), 30);
    let codes: BTreeSet<&str> = all.iter().map(|spec| spec.code.as_str()).collect();
    assert_eq!(codes.len(), all.len());
    for code in codes {
        let signs: Vec<char> = code.chars().collect();
        let plain = |c: &char| c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | '-');
        assert!(
            signs[0].is_ascii_alphabetic() && signs.iter().all(plain),
            "{code}"
        );
        let hyphens = signs.iter().enumerate().filter(|(_, c)| **c == '-');
        for (i, _) in hyphens {
            assert!(
                signs.get(i + 1).is_some_and(char::is_ascii_alphabetic),
                "{code}"
            );
        }
        assert!(signs.len() <= 24, "{code}");
    }
}

#[test]
fn every_locus_is_read_by_a_trait_and_has_an_id() {
    let mut book = book();
    let mut read: BTreeSet<LocusIx> = BTreeSet::new();
    for spec in traits() {
        for model in spec.check(&mut book).unwrap() {
            read.extend(model.loci());
        }
    }
    assert_eq!(read.len(), loci().len());
    for locus in loci() {
        assert_eq!(locus.id, format!("capsicum:{}", locus.symbol));
        assert!(
            !locus.source.is_empty() && !locus.effect.is_empty(),
            "{}",
            locus.id
        );
        assert!(
            locus.chromosome.is_none_or(|c| (1..=12).contains(&c)),
            "{}",
            locus.id
        );
    }
}

#[test]
fn foliage_is_the_bench_trait() {
    let spec = spec(BENCH_TRAIT);
    assert_eq!(spec.class_names(), ["purple", "green"]);
    assert_eq!(
        (spec.organ.as_str(), spec.stage, spec.on),
        ("leaf", Stage::Seedling, true)
    );
    assert_eq!((spec.earlier(0), spec.earlier(1)), (Some(1), None));
    let onset = spec.onset.unwrap();
    assert_eq!(
        (onset.median_days, onset.spread, onset.ceiling),
        (12.0, 0.35, 0.9999)
    );
    let grade = self::spec("foliage-grade");
    assert_eq!(grade.class_names(), ["deep", "mid", "green"]);
    assert_eq!(
        (grade.earlier(0), grade.earlier(1), grade.earlier(2)),
        (Some(2), Some(2), None)
    );
    assert_eq!(grade.onset, Some(onset));
}

#[test]
fn what_is_off_is_off() {
    let off: Vec<String> = traits()
        .into_iter()
        .filter(|t| !t.on)
        .map(|t| t.code)
        .collect();
    let wanted = [
        "pungency-kind",
        "yellow-bud",
        "pollen",
        "wide-cross-dwarf",
        "tobamovirus",
        "tswv",
        "bacterial-spot",
    ];
    assert_eq!(off, wanted);
}

/// The eight-colour model of Hurtado-Hernandez & Smith 1985 (from memory), all three loci segregating.
#[test]
fn eight_ripe_colours() {
    let wanted = "27 red : 9 light-red : 9 orange : 3 pale-orange : 9 orange-yellow : \
                  3 pale-orange-yellow : 3 lemon-yellow : 1 white";
    assert_eq!(f2("ripe-colour", "eight", "Y/y C1/c1 C2/c2"), wanted);
    let two = f2("ripe-colour", "eight", "Y/y C1/C1 C2/c2");
    assert_eq!(two, "9 red : 3 orange : 3 orange-yellow : 1 lemon-yellow");
}

#[test]
fn f2_ratios_of_the_interactions() {
    // Y x Cl: Efrati et al. 2005, Genome 48:347-351. Up x Fa: Srivastava et al. 2019, Indian J. Hort.
    // A, graded: Ben Chaim et al. 2003, Genome 46:1-9. The others are arithmetic from the models.
    let f2_of = |code, name, f1, wanted| assert_eq!(f2(code, name, f1), wanted, "{code} {name}");
    f2_of(
        "ripe-colour",
        "brown",
        "Y/y Cl/cl",
        "9 red : 3 orange-yellow : 3 brown : 1 green",
    );
    f2_of(
        "ripe-colour",
        "red-yellow",
        "Y/y",
        "3 red : 1 orange-yellow",
    );
    f2_of(
        "foliage-grade",
        "one-locus",
        "A/a",
        "1 deep : 2 mid : 1 green",
    );
    f2_of("foliage", "one-locus", "A/a", "3 purple : 1 green");
    f2_of(
        "hypocotyl-colour",
        "one-locus",
        "Al/al",
        "3 purple : 1 green",
    );
    f2_of(
        "pungency",
        "two-locus",
        "Pun1/pun1 pAMT/pamt",
        "9 hot : 7 not-hot",
    );
    f2_of("pungency", "pun1", "Pun1/pun1", "3 hot : 1 not-hot");
    let kinds = "9 capsaicinoid : 3 capsinoid : 4 none";
    f2_of("pungency-kind", "two-locus", "Pun1/pun1 pAMT/pamt", kinds);
    let bearing = "9 single-pendant : 3 single-erect : 3 cluster-pendant : 1 cluster-erect";
    f2_of("bearing-attitude", "two-locus", "Up/up Fa/fa", bearing);
    f2_of(
        "wide-cross-dwarf",
        "two-locus",
        "Dwa/dwa Dwb/dwb",
        "9 dwarf : 7 normal",
    );
    f2_of("tobamovirus", "allelic-series", "L3/L1", "3 P0-P1.2 : 1 P0");
}

/// Two sweet parents of different causes: every F1 plant is hot.
#[test]
fn sweet_by_sweet_may_be_hot() {
    let (mother, father) = ("Pun1/Pun1 pamt/pamt", "pun1/pun1 pAMT/pAMT");
    let found = cross("pungency", "two-locus", mother, father, Cytoplasm::Unknown);
    assert_eq!(found, "1 hot");
}

#[test]
fn dwarfs_of_a_wide_cross() {
    let code = ("wide-cross-dwarf", "two-locus");
    let found = |father| {
        cross(
            code.0,
            code.1,
            "Dwa/dwa Dwb/dwb",
            father,
            Cytoplasm::Unknown,
        )
    };
    assert_eq!(found("dwa/dwa dwb/dwb"), "1 dwarf : 3 normal");
    assert_eq!(found("Dwa/Dwa dwb/dwb"), "1 dwarf : 1 normal");
}

/// Ms/ms x ms/ms: 1 fertile : 1 sterile (Naresh et al. 2018, Front. Plant Sci. 9:1343). The restorer
/// counts in sterile cytoplasm only.
#[test]
fn male_sterility() {
    let cross_of =
        |name, mother, father, cytoplasm| cross("pollen", name, mother, father, cytoplasm);
    let unknown = Cytoplasm::Unknown;
    assert_eq!(
        cross_of("ms3", "Ms3/ms3", "ms3/ms3", unknown),
        "1 fertile : 1 sterile"
    );
    assert_eq!(
        cross_of("rf", "Rf/rf", "Rf/rf", Cytoplasm::Sterile),
        "3 fertile : 1 sterile"
    );
    assert_eq!(
        cross_of("rf", "rf/rf", "rf/rf", Cytoplasm::Normal),
        "1 fertile"
    );
    assert_eq!(cross_of("rf", "rf/rf", "rf/rf", unknown), "1 fertile");
}

/// Purple needs A, and is not hot without Pun1: 3/16 of the F2 (loci on two chromosomes).
#[test]
fn several_traits_at_once() {
    let mut book = book();
    let foliage = model("foliage", "one-locus", &mut book);
    let pungency = model("pungency", "pun1", &mut book);
    let grade = model("foliage-grade", "one-locus", &mut book);
    let f1 = parent("A/a Pun1/pun1", &mut book);
    let exact = expect_exact(&f1, &f1, &[&foliage, &pungency]).unwrap();
    let wanted = [
        (vec![0, 0], 9),
        (vec![0, 1], 3),
        (vec![1, 0], 3),
        (vec![1, 1], 1),
    ];
    assert_eq!(
        (exact.classes.as_slice(), exact.denominator),
        (wanted.as_slice(), 16)
    );
    assert_eq!(exact.ratio(256).unwrap().to_string(), "9:3:3:1");
    // Two traits of one locus are one look: purple and green never come together.
    let exact = expect_exact(&f1, &f1, &[&foliage, &grade]).unwrap();
    let wanted = [(vec![0, 0], 1), (vec![0, 1], 2), (vec![1, 2], 1)];
    assert_eq!(
        (exact.classes.as_slice(), exact.denominator),
        (wanted.as_slice(), 4)
    );
}

/// What a cross cannot give stays in the list with 0, and out of the ratio.
#[test]
fn impossible_classes_are_kept_as_zero() {
    let mut book = book();
    let colour = model("ripe-colour", "brown", &mut book);
    let mother = parent("Y/y Cl/Cl", &mut book);
    let exact = expect_exact(&mother, &mother, &[&colour]).unwrap();
    let red_yellow_brown_green = [0, 4, 8, 9];
    let places: Vec<usize> = exact.classes.iter().map(|(c, _)| c[0]).collect();
    assert_eq!(places, red_yellow_brown_green);
    assert_eq!(exact.parts(256), Some(vec![3, 1, 0, 0]));
    assert_eq!(exact.ratio(256).unwrap().to_string(), "3:1");
}
