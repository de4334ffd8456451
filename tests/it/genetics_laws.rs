//! Laws that every expectation obeys, over random gene models and parents.

use std::collections::BTreeMap;

use locule::genetics::expect::{Classes, founder_genotypes, loci_read};
use locule::genetics::{
    AtLocus, Cytoplasm, Diploid, GeneModel, Genotype, LocusBook, LocusIx, Parent,
};
use proptest::prelude::*;

use crate::genetics_look::{expect_exact, expect_mixture, expect_selfed};

const CLASSES: usize = 3;
const LOCI: usize = 4;

/// Per rule a pattern of the four loci (0: not named; 1-5: one of five statements) and a class.
type Rules = Vec<([usize; LOCI], usize)>;

#[derive(Clone, Debug)]
struct Case {
    rules: Rules,
    last: usize,
    mother: [u8; LOCI],
    father: [u8; LOCI],
}

fn case() -> impl Strategy<Value = Case> {
    let rule = (prop::array::uniform4(0..6_usize), 0..CLASSES);
    let rules = prop::collection::vec(rule, 0..4);
    let genotype = || prop::array::uniform4(0..3_u8);
    (rules, 0..CLASSES, genotype(), genotype()).prop_map(|(rules, last, mother, father)| Case {
        rules,
        last,
        mother,
        father,
    })
}

/// How loci, alleles and classes are called.
struct Names {
    loci: [&'static str; LOCI],
    swapped: bool,
    classes: [&'static str; CLASSES],
}

const PLAIN: Names = Names {
    loci: ["A", "B", "C", "D"],
    swapped: false,
    classes: ["x", "y", "z"],
};

impl Names {
    fn book(&self) -> LocusBook {
        let mut book = LocusBook::new();
        let mut symbols = self.loci;
        symbols.sort_unstable();
        for symbol in symbols {
            let lower = symbol.to_lowercase();
            let alleles = if self.swapped {
                [&lower, symbol]
            } else {
                [symbol, &lower]
            };
            book.declare(symbol, &alleles).expect("good symbols");
        }
        book
    }

    fn model(&self, case: &Case, book: &mut LocusBook) -> Option<GeneModel> {
        let mut rules: Vec<(String, &str)> = Vec::new();
        for (statements, class) in &case.rules {
            let named = statements.iter().zip(self.loci).filter(|(s, _)| **s > 0);
            let pieces: Vec<String> = named
                .map(|(statement, up)| {
                    let low = up.to_lowercase();
                    match statement {
                        1 => format!("{up}/{up}"),
                        2 => format!("{up}/{low}"),
                        3 => format!("{low}/{low}"),
                        4 => format!("{up}/_"),
                        _ => format!("_/{low}"),
                    }
                })
                .collect();
            rules.push((pieces.join(" "), self.classes[*class]));
        }
        rules.push(("else".to_owned(), self.classes[case.last]));
        let classes: Vec<String> = PLAIN.classes.iter().map(|c| (*c).to_owned()).collect();
        GeneModel::build("m", &classes, &rules, book).ok()
    }

    fn parent(&self, genotype: [u8; LOCI], book: &LocusBook) -> Parent {
        let place = |(symbol, copies): (&str, u8)| {
            let locus = book.find(symbol).expect("a locus of the book");
            let pair = match (copies, self.swapped) {
                (1, _) => Diploid::new(0, 1),
                (0, false) | (2, true) => Diploid::new(0, 0),
                _ => Diploid::new(1, 1),
            };
            (locus, AtLocus::Known(pair))
        };
        let loci = self.loci.into_iter().zip(genotype).map(place).collect();
        Parent {
            loci,
            cytoplasm: Cytoplasm::Unknown,
        }
    }

    /// Class shares by the plain name of the class, each as numerator over 4^4.
    fn shares(&self, case: &Case) -> Option<BTreeMap<&'static str, u128>> {
        let mut book = self.book();
        let model = self.model(case, &mut book)?;
        let mother = self.parent(case.mother, &book);
        let father = self.parent(case.father, &book);
        let exact = expect_exact(&mother, &father, &[&model]).expect("known genotypes");
        let plain = |class: usize| {
            let word = PLAIN.classes[class];
            let meant = self
                .classes
                .iter()
                .position(|c| *c == word)
                .expect("a class");
            PLAIN.classes[meant]
        };
        let scaled = |n: u128| n * 256 / exact.denominator;
        Some(
            exact
                .classes
                .iter()
                .map(|(c, n)| (plain(c[0]), scaled(*n)))
                .collect(),
        )
    }
}

/// The same by listing every pair of gametes, each of one allele per locus.
fn by_listing(case: &Case) -> Option<BTreeMap<&'static str, u128>> {
    let mut book = PLAIN.book();
    let model = PLAIN.model(case, &mut book)?;
    let mut shares = BTreeMap::new();
    for draw in 0..256_usize {
        let allele = |copies: u8, second: bool| match copies {
            1 => u8::from(second),
            _ => copies / 2,
        };
        let genotypes: Vec<Diploid> = model
            .loci()
            .iter()
            .map(|locus| {
                let i = locus.0;
                let from_mother = allele(case.mother[i], draw >> (2 * i) & 1 == 1);
                let from_father = allele(case.father[i], draw >> (2 * i + 1) & 1 == 1);
                Diploid::new(from_mother, from_father)
            })
            .collect();
        let class = PLAIN.classes[model.class_of(&genotypes, Cytoplasm::Unknown)];
        *shares.entry(class).or_insert(0) += 1;
    }
    Some(shares)
}

fn without_zeros(mut shares: BTreeMap<&'static str, u128>) -> BTreeMap<&'static str, u128> {
    shares.retain(|_, n| *n > 0);
    shares
}

fn total(classes: &[(Classes, f64)]) -> f64 {
    classes.iter().map(|(_, p)| p).sum()
}

fn weighting() -> impl Strategy<Value = AtLocus> {
    prop::array::uniform3(0.01..1.0_f64).prop_map(|weights| {
        let sum: f64 = weights.iter().sum();
        let pairs = Diploid::all(2).into_iter().zip(weights);
        AtLocus::Weighted(pairs.map(|(pair, w)| (pair, w / sum)).collect())
    })
}

fn believed(loci: Vec<AtLocus>) -> Parent {
    let loci = loci
        .into_iter()
        .enumerate()
        .map(|(i, at)| (LocusIx(i), at))
        .collect();
    Parent {
        loci,
        cytoplasm: Cytoplasm::Unknown,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    #[test]
    fn expectation_is_the_count_over_all_gametes(case in case()) {
        let Some(found) = PLAIN.shares(&case) else { return Ok(()) };
        prop_assert_eq!(found.values().sum::<u128>(), 256);
        prop_assert_eq!(Some(without_zeros(found)), by_listing(&case));
    }

    #[test]
    fn reciprocal_crosses_give_the_same(case in case()) {
        let turned = Case { mother: case.father, father: case.mother, ..case.clone() };
        prop_assert_eq!(PLAIN.shares(&case), PLAIN.shares(&turned));
    }

    #[test]
    fn names_change_nothing(
        case in case(),
        loci in Just(PLAIN.loci).prop_shuffle(),
        classes in Just(PLAIN.classes).prop_shuffle(),
        swapped in any::<bool>(),
    ) {
        let other = Names { loci, swapped, classes };
        prop_assert_eq!(PLAIN.shares(&case), other.shares(&case));
    }

    #[test]
    fn probabilities_sum_to_one(
        case in case(),
        mother in prop::collection::vec(weighting(), LOCI),
        father in prop::collection::vec(weighting(), LOCI),
    ) {
        let mut book = PLAIN.book();
        let Some(model) = PLAIN.model(&case, &mut book) else { return Ok(()) };
        let (mother, father) = (believed(mother), believed(father));
        let there = expect_mixture(&mother, &father, &[&model]).unwrap();
        let back = expect_mixture(&father, &mother, &[&model]).unwrap();
        prop_assert!((total(&there) - 1.0).abs() < 1e-12);
        prop_assert!((total(&expect_selfed(&mother, &[&model]).unwrap()) - 1.0).abs() < 1e-12);
        for ((class, p), (same, q)) in there.iter().zip(&back) {
            prop_assert_eq!(class, same);
            prop_assert!((p - q).abs() < 1e-12);
        }
    }

    /// A belief is the mean over what is believed: a mixture equals the weighted sum of exact crosses.
    #[test]
    fn a_mixture_is_a_weighted_sum(case in case(), at in weighting()) {
        let mut book = PLAIN.book();
        let Some(model) = PLAIN.model(&case, &mut book) else { return Ok(()) };
        let father = PLAIN.parent(case.father, &book);
        let mut mother = PLAIN.parent(case.mother, &book);
        mother.loci.insert(LocusIx(0), at.clone());
        let mixed = expect_mixture(&mother, &father, &[&model]).unwrap();
        let mut summed = vec![0.0; mixed.len()];
        for (pair, weight) in at.weights() {
            mother.loci.insert(LocusIx(0), AtLocus::Known(pair));
            let exact = expect_exact(&mother, &father, &[&model]).unwrap().probabilities();
            for (sum, (_, p)) in summed.iter_mut().zip(exact) {
                *sum += weight * p;
            }
        }
        for ((_, p), q) in mixed.iter().zip(summed) {
            prop_assert!((p - q).abs() < 1e-12);
        }
    }

    #[test]
    fn founders_sum_to_one(shares in prop::collection::vec(0.0..1.0_f64, 2..6), f in 0.0..=1.0_f64) {
        let sum: f64 = shares.iter().sum();
        prop_assume!(sum > 0.0);
        let shares: Vec<f64> = shares.iter().map(|p| p / sum).collect();
        let founders = founder_genotypes(&shares, f);
        prop_assert!((founders.iter().map(|(_, p)| p).sum::<f64>() - 1.0).abs() < 1e-12);
        let first: f64 = founders.iter().map(|(pair, p)| pair.gamete(0) * p).sum();
        prop_assert!((first - shares[0]).abs() < 1e-12, "inbreeding keeps allele shares");
    }
}

#[test]
fn a_parent_is_asked_for_every_locus() {
    let mut book = PLAIN.book();
    let case = Case {
        rules: vec![([4, 4, 0, 0], 0)],
        last: 1,
        mother: [0; 4],
        father: [0; 4],
    };
    let model = PLAIN.model(&case, &mut book).unwrap();
    assert_eq!(loci_read(&[&model]), [LocusIx(0), LocusIx(1)]);
    let mut mother = PLAIN.parent(case.mother, &book);
    let father = PLAIN.parent(case.father, &book);
    mother.loci.remove(&LocusIx(1));
    assert!(expect_mixture(&mother, &father, &[&model]).is_err());
    assert_eq!(expect_exact(&mother, &father, &[&model]), None);
}

/// A parent is taken at its word, and what it leaves open is filled in proportion to the prior.
#[test]
fn what_is_not_stated_is_believed() {
    let mut book = PLAIN.book();
    let genotype = Genotype::parse("A/_ B/b", &mut book).unwrap();
    let [a, b, c] = [LocusIx(0), LocusIx(1), LocusIx(2)];
    let [dom, het, rec] = [Diploid::new(0, 0), Diploid::new(0, 1), Diploid::new(1, 1)];
    let prior = |_| founder_genotypes(&[0.5, 0.5], 0.0);
    let parent = Parent::stated(&genotype, &[a, b, c], prior);
    let thirds = vec![(dom, 1.0 / 3.0), (het, 2.0 / 3.0)];
    assert_eq!(parent.at(a), Some(&AtLocus::Weighted(thirds)));
    assert_eq!(parent.at(b), Some(&AtLocus::Known(het)));
    assert_eq!(parent.at(c), Some(&AtLocus::Weighted(prior(c))));
    // A prior that rules out what is stated gives way to the statement.
    let against = Parent::stated(&genotype, &[a], |_| {
        vec![(dom, 0.0), (het, 0.0), (rec, 1.0)]
    });
    let halves = vec![(dom, 0.5), (het, 0.5)];
    assert_eq!(against.at(a), Some(&AtLocus::Weighted(halves)));
}

/// One trait of many loci is quick, and beyond 63 loci the whole numbers are given up, not wrong.
#[test]
fn many_loci_stay_quick_and_exact() {
    for (k, exact) in [(12, true), (30, true), (63, true), (64, false)] {
        let mut book = LocusBook::new();
        let pattern: Vec<String> = (0..k).map(|i| format!("Q{i}/_")).collect();
        let rules = [(pattern.join(" "), "all"), ("else".to_owned(), "not")];
        let classes = ["all".to_owned(), "not".to_owned()];
        let model = GeneModel::build("m", &classes, &rules, &mut book).unwrap();
        let het = book
            .iter()
            .map(|(locus, _)| (locus, AtLocus::Known(Diploid::new(0, 1))));
        let f1 = Parent {
            loci: het.collect(),
            cytoplasm: Cytoplasm::Unknown,
        };
        let found = expect_exact(&f1, &f1, &[&model]);
        assert_eq!(found.is_some(), exact, "{k} loci");
        if let Some(found) = found {
            assert_eq!(found.classes[0].1, 3_u128.pow(k));
            assert_eq!(found.denominator, 4_u128.pow(k));
        }
        let mixed = expect_mixture(&f1, &f1, &[&model]).unwrap();
        let wanted = 0.75_f64.powi(i32::try_from(k).unwrap());
        assert!((mixed[0].1 - wanted).abs() < 1e-12 * wanted);
    }
}
