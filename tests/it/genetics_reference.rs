//! Crosses held against exact fractions computed elsewhere.

use locule::genetics::{
    AtLocus, Breeding, Cytoplasm, Diploid, LinkageMap, LocusIx, Parent, Selection, breed,
};

use crate::genetics_look::{
    Look, assert_close, assert_exact, data, expect_exact, expect_mixture, expect_selfed, rows,
    selfed, shares,
};

pub const INTERACTIONS: [(&str, &[(&str, &str)]); 8] = [
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
pub fn two_locus_interactions() {
    for (case, (name, rules)) in rows("two_locus_interactions").zip(INTERACTIONS) {
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
        let found = look.bred("DH", "A/A B/B", "a/a b/b", &LinkageMap::default());
        assert_exact(
            &found,
            &shares(&case["DH"]["prob"]),
            &format!("{name}, doubled haploids"),
        );
    }
}

#[test]
pub fn trihybrid_and_tetrahybrid() {
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

/// The two lines whose F1 carries two haplotypes written `ABc/abC`.
fn lines(haplotypes: &str) -> [String; 2] {
    let (one, other) = haplotypes.split_once('/').expect("two haplotypes");
    [one, other].map(|alleles| {
        let pair = |c: char| format!("{c}/{c}");
        alleles.chars().map(pair).collect::<Vec<_>>().join(" ")
    })
}

#[test]
pub fn three_linked_loci() {
    let loci = ["A", "B", "C"];
    let (mut looks, mut genotypes) = (Look::phenotypes(&loci), Look::genotypes(&loci));
    for case in rows("three_linked_loci") {
        let parent = case["parent"].as_str().expect("haplotypes");
        let [one, other] = lines(parent);
        let r = |key: &str| case[key].as_str().expect("a fraction");
        let map = looks.map(&[("A", "B", r("r_AB")), ("B", "C", r("r_BC"))]);
        for (key, generation) in [
            ("F2_phenotypes", "F2"),
            ("F2_genotypes", "F2"),
            ("DH", "DH"),
        ] {
            let look = match key {
                "F2_phenotypes" => &mut looks,
                _ => &mut genotypes,
            };
            if !case[key].is_null() {
                let found = look.bred(generation, &one, &other, &map);
                assert_exact(&found, &shares(&case[key]), &format!("{parent}, {key}"));
            }
        }
        let phased: Vec<String> = (0..3)
            .map(|at| {
                let allele = |line: &str| line.split(' ').nth(at).expect("a locus")[..1].to_owned();
                format!("{}|{}", allele(&one), allele(&other))
            })
            .collect();
        let (f1, tester) = (looks.parent(&phased.join(" ")), looks.parent("a/a b/b c/c"));
        for (mother, father) in [(&f1, &tester), (&tester, &f1)] {
            let breeding = Breeding {
                mother,
                father,
                descent: &locule::genetics::Descent::first_cross(),
                arrangement: &looks.arranged(&map),
                selection: &[],
            };
            let found = looks.exact_shares(&breed(&breeding, &looks.models()).unwrap());
            assert_exact(&found, &shares(&case["testcross"]), parent);
        }
    }
}

#[test]
pub fn unequal_recombination_in_the_sexes() {
    let mut looks = Look::phenotypes(&["A", "B"]);
    for case in rows("two_linked_unequal_sexes") {
        let side = |key: &str| case[key].as_str().expect("a fraction").to_owned();
        let r = format!("{}:{}", side("r_female"), side("r_male"));
        let map = looks.map(&[("A", "B", &r)]);
        let [one, other] = match case["phase"].as_str().expect("a phase") {
            "coupling" => ["A/A B/B", "a/a b/b"],
            _ => ["A/A b/b", "a/a B/B"],
        };
        assert_exact(
            &looks.bred("F2", one, other, &map),
            &shares(&case["F2"]),
            &r,
        );
    }
}

#[test]
pub fn recessive_lethals() {
    let look = Look::genotypes(&["A"]);
    let het = Parent {
        loci: [(LocusIx(0), AtLocus::Known(Diploid::new(0, 1)))].into(),
        cytoplasm: Cytoplasm::Unknown,
    };
    let found = |descent: &locule::genetics::Descent| {
        let breeding = Breeding {
            mother: &het,
            father: &het,
            descent,
            arrangement: &look.arranged(&LinkageMap::default()),
            selection: &[Selection::Dies(LocusIx(0), Diploid::new(0, 0))],
        };
        look.exact_shares(&breed(&breeding, &look.models()).unwrap())
    };
    let selfed = locule::genetics::Descent::self_of_mother();
    let wanted = shares(&data("recessive_lethal_AA_F2"));
    assert_exact(&found(&selfed), &wanted, "F2");
    // Of the living 2 Aa : 1 aa, selfed: 2(1:2:1) + 1(0:0:4), AA dead: 4 Aa to 6 aa.
    let again = locule::genetics::Descent::Selfed(Box::new(selfed));
    let wanted = [("Aa".to_owned(), (4, 10)), ("aa".to_owned(), (6, 10))].into();
    assert_exact(&found(&again), &wanted, "F3");
}

/// What the F3 families of F2 plants with both dominant looks are, by the plant's genotype.
#[test]
pub fn families_of_dominant_plants() {
    let (mut looks, mut genotypes) = (Look::phenotypes(&["A", "B"]), Look::genotypes(&["A", "B"]));
    let f2 = genotypes.cross("A/a B/b", "A/a B/b");
    let mut found = std::collections::BTreeMap::new();
    for (genotype, (n, _)) in f2 {
        let written: Vec<String> = genotype
            .split(' ')
            .map(|pair| format!("{}/{}", &pair[..1], &pair[1..]))
            .collect();
        let family = looks.cross(&written.join(" "), &written.join(" "));
        if written
            .iter()
            .any(|pair| ["a/a", "b/b"].contains(&pair.as_str()))
        {
            continue;
        }
        let words: Vec<String> = family
            .iter()
            .map(|(class, (n, _))| format!("{class}={n}"))
            .collect();
        let sum = found.entry(words.join(" ")).or_insert((0, 9));
        sum.0 += n;
    }
    assert_exact(
        &found,
        &shares(&data("F3_family_types_of_A_B_")),
        "families",
    );
}

fn numbered_alleles(alleles: &[&str], rules: &[(&str, &str)]) -> Look {
    let mut look = Look::new("/");
    look.book.declare("Series", alleles).expect("good symbols");
    look.with(rules)
}

#[test]
pub fn three_way_and_double_crosses() {
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
pub fn an_allelic_series() {
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
pub fn sterile_cytoplasm_and_restorers() {
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
}
