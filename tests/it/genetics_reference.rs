//! Crosses held against exact fractions computed elsewhere.

use locule::genetics::expect::{believed_classes, exact_classes};
use locule::genetics::{
    AtLocus, Cytoplasm, Diploid, LocusIx, Parent, Segregation, expect_exact, expect_mixture,
    expect_selfed,
};

use crate::genetics_look::{Look, assert_close, assert_exact, data, selfed, shares};

const INTERACTIONS: [(&str, &[(&str, &str)]); 8] = [
    (
        "9:3:3:1 no interaction",
        &[
            ("A/_ B/_", "A_B_"),
            ("A/_", "A_bb"),
            ("B/_", "aaB_"),
            ("else", "aabb"),
        ],
    ),
    (
        "12:3:1 dominant epistasis",
        &[("A/_", "white"), ("B/_", "yellow"), ("else", "green")],
    ),
    (
        "9:3:4 recessive epistasis",
        &[("A/_ B/_", "black"), ("A/_", "brown"), ("else", "white")],
    ),
    (
        "9:7 complementary (duplicate recessive)",
        &[("A/_ B/_", "purple"), ("else", "white")],
    ),
    (
        "15:1 duplicate dominant",
        &[
            ("A/_", "triangular"),
            ("B/_", "triangular"),
            ("else", "ovoid"),
        ],
    ),
    (
        "13:3 dominant suppression",
        &[("a/a B/_", "coloured"), ("else", "white")],
    ),
    (
        "9:6:1 duplicate with cumulative effect",
        &[("A/_ B/_", "disc"), ("a/a b/b", "long"), ("else", "sphere")],
    ),
    (
        "10:3:3",
        &[("A/_ b/b", "y"), ("a/a B/_", "z"), ("else", "x")],
    ),
];

#[test]
fn two_locus_interactions() {
    let section = data("two_locus_interactions");
    let cases = section.as_array().expect("a list");
    assert_eq!(cases.len(), INTERACTIONS.len());
    for (case, (name, rules)) in cases.iter().zip(INTERACTIONS) {
        assert_eq!(case["interaction"], name);
        let mut look = Look::new("/").with(rules);
        let f1 = "A/a B/b";
        for (key, father) in [
            ("F2", f1),
            ("testcross_F1_x_aabb", "a/a b/b"),
            ("BC_F1_x_AABB", "A/A B/B"),
            ("BC_F1_x_AAbb", "A/A b/b"),
            ("BC_F1_x_aaBB", "a/a B/B"),
        ] {
            let found = look.cross(f1, father);
            let what = format!("{name}, {key}");
            assert_exact(&found, &shares(&case[key]["prob"]), &what);
            assert_exact(&found, &shares(&case[key]["ratio"]), &what);
        }
        let f2 = selfed(&look.parent(f1));
        let f3 = expect_selfed(&f2, &look.models()).unwrap();
        assert_close(
            &look.named_shares(f3),
            &shares(&case["F3_bulk"]["prob"]),
            name,
        );
        let doubled = look.book.iter().map(|(locus, _)| Segregation {
            loci: vec![locus],
            outcomes: vec![(vec![Diploid::new(0, 0)], 1), (vec![Diploid::new(1, 1)], 1)],
        });
        let doubled: Vec<Segregation<u128>> = doubled.collect();
        let exact = exact_classes(&doubled, &look.models(), Cytoplasm::Normal).unwrap();
        let classes = exact.classes.iter().filter(|(_, n)| *n > 0);
        let found = classes
            .map(|(c, n)| (look.named(c), (*n, exact.denominator)))
            .collect();
        assert_exact(
            &found,
            &shares(&case["DH"]["prob"]),
            &format!("{name}, doubled haploids"),
        );
    }
}

#[test]
fn trihybrid_and_tetrahybrid() {
    let three = data("trihybrid");
    let loci = ["A", "B", "C"];
    let f1 = "A/a B/b C/c";
    let mut looks = Look::phenotypes(&loci);
    assert_exact(&looks.cross(f1, f1), &shares(&three["F2_phenotypes"]), "F2");
    assert_exact(
        &looks.cross(f1, "a/a b/b c/c"),
        &shares(&three["testcross"]),
        "testcross",
    );
    let f3 = expect_selfed(&selfed(&looks.parent(f1)), &looks.models()).unwrap();
    assert_close(
        &looks.named_shares(f3),
        &shares(&three["F3_bulk_phenotypes"]),
        "F3",
    );
    let genotypes = Look::genotypes(&loci).cross(f1, f1);
    assert_exact(&genotypes, &shares(&three["F2_genotypes"]), "F2 genotypes");

    let f1 = "A/a B/b C/c D/d";
    let four = Look::phenotypes(&["A", "B", "C", "D"]).cross(f1, f1);
    assert_exact(
        &four,
        &shares(&data("tetrahybrid_F2_phenotypes")),
        "tetrahybrid",
    );
}

/// A group of linked loci enters as one segregation; the gametes are given with the check values.
#[test]
fn a_group_of_linked_loci_enters_as_one_segregation() {
    for case in data("three_linked_loci").as_array().expect("a list") {
        let look = Look::phenotypes(&["A", "B", "C"]);
        let gametes = shares(&case["gametes"]);
        let scale = 1000_u128;
        let allele = |sign: char| u8::from(sign.is_lowercase());
        let mut outcomes = Vec::new();
        for (one, (n, d)) in &gametes {
            for (other, (m, e)) in &gametes {
                let pairs = one.chars().zip(other.chars());
                let pairs: Vec<Diploid> = pairs
                    .map(|(x, y)| Diploid::new(allele(x), allele(y)))
                    .collect();
                outcomes.push((pairs, (n * scale / d) * (m * scale / e)));
            }
        }
        let loci = look.book.iter().map(|(locus, _)| locus).collect();
        let group = Segregation { loci, outcomes };
        let exact = exact_classes(&[group], &look.models(), Cytoplasm::Normal).unwrap();
        let classes = exact.classes.iter().filter(|(_, n)| *n > 0);
        let found = classes
            .map(|(c, n)| (look.named(c), (*n, exact.denominator)))
            .collect();
        assert_exact(
            &found,
            &shares(&case["F2_phenotypes"]),
            &case["parent"].to_string(),
        );
    }
}

fn numbered_alleles(alleles: &[&str], rules: &[(&str, &str)]) -> Look {
    let mut look = Look::new("/");
    look.book.declare("Series", alleles).expect("good symbols");
    look.with(rules)
}

#[test]
fn three_way_and_double_crosses() {
    let pairs = |k: usize| {
        let alleles: Vec<String> = (1..=k).map(|i| i.to_string()).collect();
        let alleles: Vec<&str> = alleles.iter().map(String::as_str).collect();
        let all: Vec<String> = Diploid::all(k)
            .into_iter()
            .map(|pair| format!("{}/{}", pair.a() + 1, pair.b() + 1))
            .collect();
        let rules: Vec<(&str, &str)> = all.iter().map(|p| (p.as_str(), p.as_str())).collect();
        numbered_alleles(&alleles, &rules)
    };
    let mut three = pairs(3);
    assert_exact(
        &three.cross("1/2", "3/3"),
        &shares(&data("three_way_(1x2)x3")),
        "three-way",
    );
    let found = three.named_shares(expect_selfed(&three_way(), &three.models()).unwrap());
    assert_close(
        &found,
        &shares(&data("three_way_selfed")),
        "three-way selfed",
    );
    let found = pairs(4).cross("1/2", "3/4");
    assert_exact(
        &found,
        &shares(&data("double_cross_(1x2)x(3x4)")),
        "double cross",
    );
}

fn three_way() -> Parent {
    let weights = vec![(Diploid::new(0, 2), 0.5), (Diploid::new(1, 2), 0.5)];
    Parent {
        loci: [(LocusIx(0), AtLocus::Weighted(weights))].into(),
        cytoplasm: Cytoplasm::Unknown,
    }
}

#[test]
fn an_allelic_series() {
    let rules = [("1/_", "first"), ("2/_", "second"), ("else", "third")];
    let mut look = numbered_alleles(&["1", "2", "3"], &rules);
    let section = data("allelic_series_1>2>3");
    assert_exact(
        &look.cross("1/2", "3/3"),
        &shares(&section["three_way"]),
        "three-way",
    );
    let found = look.named_shares(expect_selfed(&three_way(), &look.models()).unwrap());
    assert_close(
        &found,
        &shares(&section["three_way_selfed"]),
        "three-way selfed",
    );
    let found = look.cross("1/3", "2/3");
    assert_exact(
        &found,
        &shares(&section["double_cross_1_3_x_2_3"]),
        "double cross",
    );
}

/// Name, rules, the mother's cytoplasm, mother and father.
type RestorerCase<'c> = (
    &'c str,
    &'c [(&'c str, &'c str)],
    Cytoplasm,
    &'c str,
    &'c str,
);

#[test]
fn sterile_cytoplasm_and_restorers() {
    let section = data("CMS_one_restorer");
    let normal = ("cytoplasm:normal", "fertile");
    let one = [normal, ("Rf/_", "fertile"), ("else", "sterile")];
    let complementary = [normal, ("Rfa/_ Rfb/_", "fertile"), ("else", "sterile")];
    let duplicate = [
        normal,
        ("Rfa/_", "fertile"),
        ("Rfb/_", "fertile"),
        ("else", "sterile"),
    ];
    let (s, n) = (Cytoplasm::Sterile, Cytoplasm::Normal);
    let two = "Rfa/rfa Rfb/rfb";
    let cases: [RestorerCase<'_>; 7] = [
        ("S rfrf x N RfRf -> F1", &one, s, "rf/rf", "Rf/Rf"),
        ("F1 selfed (S)", &one, s, "Rf/rf", "Rf/rf"),
        ("S rfrf x N rfrf (maintainer)", &one, s, "rf/rf", "rf/rf"),
        ("S rfrf x N Rfrf", &one, s, "rf/rf", "Rf/rf"),
        ("N Rfrf (seed parent) x S Rfrf", &one, n, "Rf/rf", "Rf/rf"),
        (
            "two complementary restorers, F1 selfed (S)",
            &complementary,
            s,
            two,
            two,
        ),
        (
            "two duplicate restorers, F1 selfed (S)",
            &duplicate,
            s,
            two,
            two,
        ),
    ];
    assert_eq!(
        section.as_object().expect("cases by name").len(),
        cases.len()
    );
    for (name, rules, cytoplasm, mother, father) in cases {
        let mut look = Look::new("/").with(rules);
        let mother = Parent {
            cytoplasm,
            ..look.parent(mother)
        };
        let father = look.parent(father);
        assert_exact(
            &look.cross_of(&mother, &father),
            &shares(&section[name]),
            name,
        );
    }
}

/// Probabilities and whole numbers come out of the same walk; here of the same parents.
#[test]
fn known_genotypes_give_the_same_either_way() {
    let mut look = Look::phenotypes(&["A", "B", "C"]);
    let (mother, father) = (look.parent("A/a B/b C/C"), look.parent("A/a b/b C/c"));
    let models = look.models();
    let exact = expect_exact(&mother, &father, &models)
        .unwrap()
        .probabilities();
    assert_eq!(expect_mixture(&mother, &father, &models).unwrap(), exact);
    assert_eq!(
        believed_classes(&[], &[], Cytoplasm::Unknown),
        [(vec![], 1.0)]
    );
}
