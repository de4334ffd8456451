//! Linked loci against plain enumeration of every gamete, and against arithmetic done by hand.

use std::collections::BTreeMap;
use std::time::Instant;

use locule::genetics::{
    Breeding, Descent, ExpectError, Generation, LinkageError, LinkageMap, LocusBook, Place, Rate,
    Recombination, Recurrent, breed,
};
use proptest::prelude::*;
use serde_json::Value;

use crate::genetics_look::{Look, assert_exact, fraction};

const LOCI: [&str; 3] = ["A", "B", "C"];

/// The two strands of a plant; an allele is 0 (dominant) or 1.
type Strands = [[u8; 3]; 2];

/// Per locus the alleles from mother and father, and whether the phase is stated.
#[derive(Clone, Debug)]
struct Plant {
    alleles: [[u8; 2]; 3],
    phased: [bool; 3],
}

impl Plant {
    fn written(&self) -> String {
        let one = |at: usize| {
            let symbol = |allele: u8| match allele {
                0 => LOCI[at].to_owned(),
                _ => LOCI[at].to_lowercase(),
            };
            let [m, f] = self.alleles[at];
            let sign = if self.phased[at] { '|' } else { '/' };
            format!("{}{sign}{}", symbol(m), symbol(f))
        };
        (0..3).map(one).collect::<Vec<_>>().join(" ")
    }

    /// Every way the alleles can lie, each as likely as the next.
    fn lyings(&self) -> Vec<(Strands, f64)> {
        let open: Vec<usize> = (0..3).filter(|at| !self.phased[*at]).collect();
        let ways = 1 << open.len();
        let lay = |way: usize| {
            let allele = |at: usize, strand: usize| {
                let here = open.iter().position(|o| *o == at);
                let turned = here.map_or(0, |i| way >> i & 1);
                self.alleles[at][strand ^ turned]
            };
            let strands = [0, 1].map(|strand| [0, 1, 2].map(|at| allele(at, strand)));
            (strands, 1.0 / f64::from(ways))
        };
        (0..usize::try_from(ways).unwrap()).map(lay).collect()
    }
}

/// All eight paths along the two strands: half for the start, then r or 1 - r at each step.
fn gametes(plant: &Strands, steps: [f64; 2]) -> Vec<([u8; 3], f64)> {
    let path = |bits: usize| {
        let strand = |at: usize| bits >> at & 1;
        let gamete = [0, 1, 2].map(|at| plant[strand(at)][at]);
        let step = |at: usize| {
            if strand(at) == strand(at + 1) {
                1.0 - steps[at]
            } else {
                steps[at]
            }
        };
        (gamete, 0.5 * step(0) * step(1))
    };
    (0..8).map(path).collect()
}

type Seedlings = Vec<(Strands, f64)>;

fn crossed(mother: &Strands, father: &Strands, r: &[[f64; 2]; 2], p: f64, into: &mut Seedlings) {
    for (egg, q) in gametes(mother, r[0]) {
        for (grain, s) in gametes(father, r[1]) {
            into.push(([egg, grain], p * q * s));
        }
    }
}

fn named(seedlings: &Seedlings) -> BTreeMap<String, f64> {
    let mut sums = BTreeMap::new();
    for (strands, p) in seedlings {
        let word = |at: usize| match strands[0][at] + strands[1][at] {
            0 => format!("{0}{0}", LOCI[at]),
            1 => format!("{}{}", LOCI[at], LOCI[at].to_lowercase()),
            _ => format!("{0}{0}", LOCI[at].to_lowercase()),
        };
        let name = (0..3).map(word).collect::<Vec<_>>().join(" ");
        *sums.entry(name).or_insert(0.0) += p;
    }
    sums.retain(|_, p: &mut f64| *p > 0.0);
    sums
}

fn plant() -> impl Strategy<Value = Plant> {
    let alleles = prop::array::uniform3(prop::array::uniform2(0..2_u8));
    (alleles, prop::array::uniform3(any::<bool>()))
        .prop_map(|(alleles, phased)| Plant { alleles, phased })
}

/// Hundredths, for mothers and fathers at the two steps.
fn steps() -> impl Strategy<Value = [[u32; 2]; 2]> {
    prop::array::uniform2(prop::array::uniform2(0..=50_u32))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn every_gamete_listed(
        mother in plant(),
        father in plant(),
        r in steps(),
        descent in 0..4_usize,
    ) {
        let rates = r.map(|sex| sex.map(|n| f64::from(n) / 100.0));
        let mut wanted = Seedlings::new();
        let (mothers, fathers) = (mother.lyings(), father.lyings());
        match descent {
            0 => for (m, p) in &mothers {
                for (f, q) in &fathers {
                    crossed(m, f, &rates, p * q, &mut wanted);
                }
            },
            1 => for (m, p) in &mothers {
                crossed(m, m, &rates, *p, &mut wanted);
            },
            _ => for (m, p) in &mothers {
                for (f, q) in &fathers {
                    let mut f1 = Seedlings::new();
                    crossed(m, f, &rates, p * q, &mut f1);
                    for (hybrid, s) in f1.iter().filter(|(_, s)| *s > 0.0) {
                        let back = if descent == 2 { hybrid } else { m };
                        crossed(hybrid, back, &rates, *s, &mut wanted);
                    }
                }
            },
        }
        let by_name = |name: &str| name.parse::<Generation>().unwrap().descent(Recurrent::Mother);
        let way = match descent {
            0 => Descent::first_cross(),
            1 => Descent::self_of_mother(),
            2 => by_name("F2"),
            _ => by_name("BC1"),
        };
        let mut look = Look::genotypes(&LOCI);
        let (one, other) = (look.parent(&mother.written()), look.parent(&father.written()));
        let text = |at: usize| format!("{}/100:{}/100", r[0][at], r[1][at]);
        let map = look.map(&[("A", "B", &text(0)), ("B", "C", &text(1))]);
        let breeding = Breeding {
            mother: &one,
            father: &other,
            descent: &way,
            arrangement: &look.arranged(&map),
            selection: &[],
        };
        let shares = breed(&breeding, &look.models()).unwrap();
        prop_assert!(shares.exact.is_some());
        let found = look.named_shares(shares.classes);
        let wanted = named(&wanted);
        prop_assert_eq!(found.keys().collect::<Vec<_>>(), wanted.keys().collect::<Vec<_>>());
        for (name, p) in found {
            prop_assert!((p - wanted[&name]).abs() < 1e-12, "{} is {}, not {}", name, p, wanted[&name]);
        }
    }
}

/// The F2 classes by theta = (1 - rf)(1 - rm) in coupling, rf rm in repulsion (Fisher, Statistical Methods for
/// Research Workers), every row in whole numbers.
#[test]
fn expected_f2_classes() {
    let text = include_str!("../data/recombination.json");
    let all: Value = serde_json::from_str(text).unwrap();
    let rows = all["expected_f2"].as_array().unwrap();
    assert_eq!(rows.len(), 18);
    let mut look = Look::phenotypes(&["A", "B"]);
    for row in rows {
        let text = |key: &str| row[key].as_str().unwrap();
        let r = format!("{}:{}", text("r_female"), text("r_male"));
        let map = look.map(&[("A", "B", &r)]);
        let [one, other] = match text("phase") {
            "coupling" => ["A/A B/B", "a/a b/b"],
            _ => ["A/A b/b", "a/a B/B"],
        };
        let classes = ["A_B_", "A_bb", "aaB_", "aabb"];
        let wanted = classes.map(|class| (class.to_owned(), fraction(text(class))));
        let wanted = wanted.into_iter().filter(|(_, (n, _))| *n > 0).collect();
        assert_exact(
            &look.bred("F2", one, other, &map),
            &wanted,
            &format!("{row}"),
        );
    }
}

fn book() -> LocusBook {
    let mut book = LocusBook::new();
    for symbol in ["A", "B", "C", "D"] {
        book.declare(symbol, &[symbol, &symbol.to_lowercase()])
            .unwrap();
    }
    book
}

#[test]
fn places_become_fractions_by_haldane() {
    let book = book();
    let [a, b, c, d] = ["A", "B", "C", "D"].map(|s| book.find(s).unwrap());
    let mut map = LinkageMap::default();
    for (locus, chromosome, at) in [
        (a, "10", Some(40.0)),
        (b, "10", Some(10.0)),
        (c, "10", None),
        (d, "2", Some(10.0)),
    ] {
        let chromosome = chromosome.to_owned();
        map.place(locus, Place { chromosome, at });
    }
    let found = map.arrange(&[a, b, c, d], false, &book).unwrap();
    assert_eq!(found.chromosomes[0].loci, [b, a]);
    // (1 - exp(-0.6))/2
    assert!((found.chromosomes[0].steps[0].mean() - 0.225_594_181_952_986_8).abs() < 1e-15);
    assert_eq!(found.open, [(a, c), (b, c)]);
    let tight = map.arrange(&[a, b, c, d], true, &book).unwrap();
    assert_eq!(
        tight
            .chromosomes
            .iter()
            .map(|c| c.loci.len())
            .collect::<Vec<_>>(),
        [3, 1]
    );
    // What was measured goes before what the places give.
    let measured = Recombination::both(Rate::parse("0.3").unwrap());
    map.measure(a, b, measured, &book).unwrap();
    let found = map.arrange(&[a, b], false, &book).unwrap();
    assert_eq!(found.chromosomes[0].steps, [measured]);
    let refused = map.measure(a, d, measured, &book).unwrap_err();
    assert!(matches!(refused, LinkageError::Apart { .. }), "{refused}");
    let free = Recombination::both(Rate::FREE);
    map.measure(a, d, free, &book).unwrap();
}

#[test]
fn measured_pairs_are_put_in_order() {
    let book = book();
    let [a, b, c, d] = ["A", "B", "C", "D"].map(|s| book.find(s).unwrap());
    let order = |pairs: &[(locule::genetics::LocusIx, locule::genetics::LocusIx, &str)]| {
        let mut map = LinkageMap::default();
        for (one, other, r) in pairs {
            map.measure(*one, *other, Recombination::parse(r).unwrap(), &book)
                .unwrap();
        }
        map.arrange(&[a, b, c, d], false, &book)
    };
    // A chain of neighbours.
    let found = order(&[(a, c, "0.1"), (b, c, "0.2"), (b, d, "0.05")]).unwrap();
    assert_eq!(found.chromosomes[0].loci, [a, c, b, d]);
    // All three pairs: the widest is the outer one, and is overruled by its steps where it does not agree.
    let found = order(&[(a, b, "0.1"), (b, c, "0.2"), (a, c, "0.25")]).unwrap();
    assert_eq!(found.chromosomes[0].loci, [a, b, c]);
    assert_eq!(found.overruled.len(), 1);
    assert!((found.overruled[0].3 - 0.26).abs() < 1e-15);
    let exact = order(&[(a, b, "0.1"), (b, c, "0.2"), (a, c, "0.26")]).unwrap();
    assert!(exact.overruled.is_empty());
    let star = order(&[(a, b, "0.1"), (a, c, "0.2"), (a, d, "0.3")]).unwrap_err();
    assert!(matches!(star, LinkageError::Order(_)), "{star}");
    let far = order(&[(a, b, "0.1"), (b, c, "0.1"), (a, c, "0.3")]).unwrap_err();
    assert!(matches!(far, LinkageError::TooFar { .. }), "{far}");
}

/// Twelve heterozygous loci in four groups, rules that read the groups apart: exact, and quick even unoptimised.
#[test]
fn twelve_loci_in_four_groups() {
    let symbols: Vec<String> = ('A'..='L').map(String::from).collect();
    let rules: Vec<Vec<(String, &str)>> = symbols
        .chunks(3)
        .map(|group| {
            let pattern: Vec<String> = group.iter().map(|s| format!("{s}/_")).collect();
            vec![(pattern.join(" "), "all"), ("else".to_owned(), "not")]
        })
        .collect();
    let mut look = Look::new("");
    for group in &rules {
        let group: Vec<(&str, &str)> = group.iter().map(|(p, c)| (&**p, *c)).collect();
        look = look.with(&group);
    }
    let pairs: Vec<(&str, &str, &str)> = symbols
        .chunks(3)
        .flat_map(|g| [(&*g[0], &*g[1], "0.12"), (&*g[1], &*g[2], "0.07")])
        .collect();
    let map = look.map(&pairs);
    let line = |f: fn(&str) -> String| symbols.iter().map(|s| f(s)).collect::<Vec<_>>().join(" ");
    let (one, other) = (
        line(|s| format!("{s}/{s}")),
        line(|s| {
            let s = s.to_lowercase();
            format!("{s}/{s}")
        }),
    );
    let start = Instant::now();
    let found = look.bred("F2", &one, &other, &map);
    let took = start.elapsed();
    // P(no recessive homozygote in a group) = 1 - 3/4 + 2 P(two) - P(three), by inclusion and exclusion.
    let (r, s): (f64, f64) = (0.12, 0.07);
    let both = |r: f64| (1.0 - r).powi(2) / 4.0;
    let ac = r + s - 2.0 * r * s;
    let three = ((1.0 - r) * (1.0 - s)).powi(2) / 4.0;
    let all = 1.0 - 0.75 + both(r) + both(s) + both(ac) - three;
    let (n, d) = found["allallallall"];
    assert!((n as f64 / d as f64 - all.powi(4)).abs() < 1e-14);
    assert!(took.as_millis() < 2_000, "{took:?}");
}

#[test]
fn what_is_too_large_says_what_it_needs() {
    let symbols: Vec<String> = (0..16).map(|n| format!("Q{n}")).collect();
    let mut look = Look::new(" ");
    for s in &symbols {
        let low = s.to_lowercase();
        look = look.with(&[
            (&format!("{s}/{s}"), "AA"),
            (&format!("{s}/{low}"), "Aa"),
            ("else", "aa"),
        ]);
    }
    let f1 = symbols.iter().map(|s| format!("{s}/{}", s.to_lowercase()));
    let f1 = look.parent(&f1.collect::<Vec<_>>().join(" "));
    let breeding = Breeding {
        mother: &f1,
        father: &f1,
        descent: &Descent::self_of_mother(),
        arrangement: &look.arranged(&LinkageMap::default()),
        selection: &[],
    };
    let refused = breed(&breeding, &look.models()).unwrap_err();
    assert!(matches!(refused, ExpectError::TooLarge { .. }), "{refused}");
    assert!(refused.to_string().contains("MB"), "{refused}");
}
