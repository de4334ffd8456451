//! Purdy's notation and kinship held against published strings, exact fractions and a count of every way in which alleles can be handed on.

use std::collections::BTreeMap;
use std::str::FromStr;

use locule::genetics::kinship::{Descent, Member};
use locule::genetics::purdy::{MOST_DOSES, Pedigree, Purdy};
use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::ToPrimitive;
use proptest::prelude::*;
use serde_json::Value;

use crate::genetics_look::{data, rows};

/// Text, the crosses as nested pairs, the shares of the founders in eighths.
type Example = (&'static str, &'static str, &'static [(&'static str, u32)]);

/// Number 1 is the published example of Purdy et al. 1968, Crop Science 8:405-406; slash order and star as described
/// there in a slightly modified form,
/// the place of the doses from memory; expansions and shares by hand. Number 13 is invented.
const EXAMPLES: [Example; 13] = [
    (
        "Nebred/2/Hope/Turkey Red/3/Cheyenne/Ponca",
        "((Nebred (Hope Turkey Red)) (Cheyenne Ponca))",
        &[
            ("Nebred", 2),
            ("Hope", 1),
            ("Turkey Red", 1),
            ("Cheyenne", 2),
            ("Ponca", 2),
        ],
    ),
    ("A/B", "(A B)", &[("A", 4), ("B", 4)]),
    ("A/B//C", "((A B) C)", &[("A", 2), ("B", 2), ("C", 4)]),
    ("C//A/B", "(C (A B))", &[("C", 4), ("A", 2), ("B", 2)]),
    (
        "A/B//C/D",
        "((A B) (C D))",
        &[("A", 2), ("B", 2), ("C", 2), ("D", 2)],
    ),
    (
        "A/B//C/3/D",
        "(((A B) C) D)",
        &[("A", 1), ("B", 1), ("C", 2), ("D", 4)],
    ),
    (
        "D/3/A/B//C",
        "(D ((A B) C))",
        &[("D", 4), ("A", 1), ("B", 1), ("C", 2)],
    ),
    (
        "A/B//C/D/3/E/F",
        "(((A B) (C D)) (E F))",
        &[("A", 1), ("B", 1), ("C", 1), ("D", 1), ("E", 2), ("F", 2)],
    ),
    ("A*2/B", "(A (A B))", &[("A", 6), ("B", 2)]),
    ("B/3*A", "(((B A) A) A)", &[("B", 1), ("A", 7)]),
    ("A/B//A", "((A B) A)", &[("A", 6), ("B", 2)]),
    (
        "A/B/3/C//D/E",
        "((A B) (C (D E)))",
        &[("A", 2), ("B", 2), ("C", 2), ("D", 1), ("E", 1)],
    ),
    (
        "Sweet Green/Hot Purple//Sweet Green",
        "((Sweet Green Hot Purple) Sweet Green)",
        &[("Sweet Green", 6), ("Hot Purple", 2)],
    ),
];

fn nested(pedigree: &Pedigree) -> String {
    match pedigree {
        Pedigree::Named(name) => name.clone(),
        Pedigree::Cross(pair) => format!("({} {})", nested(&pair[0]), nested(&pair[1])),
    }
}

#[test]
fn the_examples_are_read_and_shared_out() {
    for (text, wanted, shares) in EXAMPLES {
        let read: Purdy = text.parse().unwrap();
        assert_eq!(nested(&read.pedigree), wanted, "{text}");
        let wanted: Vec<(&str, f64)> = shares
            .iter()
            .map(|(name, eighths)| (*name, f64::from(*eighths) / 8.0))
            .collect();
        assert_eq!(read.pedigree.shares(), wanted, "{text}");
        assert_eq!(read.doubts, [], "{text}");
    }
}

#[test]
fn the_examples_are_written_as_they_were_read() {
    for (text, ..) in &EXAMPLES[1..] {
        let read: Purdy = text.parse().unwrap();
        assert_eq!(read.to_string(), *text);
    }
    let first: Purdy = EXAMPLES[0].0.parse().unwrap();
    assert_eq!(
        first.to_string(),
        "Nebred//Hope/Turkey Red/3/Cheyenne/Ponca"
    );
}

fn pedigree() -> impl Strategy<Value = Pedigree> {
    let name = prop_oneof![
        Just("A"),
        Just("B"),
        Just("Night Lantern"),
        Just("7"),
        Just("T1-03"),
        Just("a/b"),
        Just("x*"),
        Just("Reed -2"),
        Just("'s"),
        Just("P × Q")
    ];
    let leaf = name.prop_map(Pedigree::named);
    leaf.prop_recursive(5, 24, 2, |inner| {
        prop_oneof![
            3 => (inner.clone(), inner.clone()).prop_map(|(m, f)| Pedigree::cross(m, f)),
            1 => (inner, any::<bool>(), 2..4_u32).prop_map(|(other, mother, doses)| {
                (0..doses).fold(other, |other, _| {
                    let recurrent = Pedigree::named("A");
                    if mother {
                        Pedigree::cross(recurrent, other)
                    } else {
                        Pedigree::cross(other, recurrent)
                    }
                })
            }),
        ]
    })
}

proptest! {
    #[test]
    fn what_is_written_is_read_back(pedigree in pedigree()) {
        prop_assume!(matches!(pedigree, Pedigree::Cross(_)));
        let text = pedigree.to_string();
        let read = Purdy::from_str(&text);
        prop_assert!(read.is_ok(), "{text}: {read:?}");
        let read = read.unwrap();
        prop_assert_eq!(&read.pedigree, &pedigree, "{}", text);
        prop_assert_eq!(read.doubts, vec![], "{}", text);
    }

    #[test]
    fn any_text_is_read_or_pointed_at(text in "[AB3/*' -]{0,14}") {
        match Purdy::from_str(&text) {
            Ok(read) => {
                let total: f64 = read.pedigree.shares().iter().map(|(_, share)| share).sum();
                prop_assert!((total - 1.0).abs() < 1e-12);
                prop_assert_eq!(Purdy::from_str(&read.to_string()).unwrap().pedigree, read.pedigree);
            }
            Err(error) => {
                prop_assert!(error.at <= text.chars().count());
                prop_assert!(error.pointed(&text).ends_with('^') && !error.hint().is_empty());
            }
        }
    }
}

#[test]
fn the_most_doses_are_read_and_written() {
    let text = format!("A*{MOST_DOSES}/B");
    assert_eq!(text.parse::<Purdy>().unwrap().to_string(), text);
}

/// Probabilities are whole numbers over this: every choice halves them, at most thirty times.
const WHOLE: u64 = 1 << 40;

/// Which of two alleles is handed on, and whether the plant was selfed to purity after: every combination, with
/// its probability. A founder has the alleles `2 p` and `2 p + 1` of its place p, or one of them twice.
fn each_way(members: &[Member], visit: &mut impl FnMut(&[[usize; 2]], u64)) {
    fn go(
        members: &[Member],
        alleles: &mut Vec<[usize; 2]>,
        p: u64,
        visit: &mut impl FnMut(&[[usize; 2]], u64),
    ) {
        let place = alleles.len();
        let Some(member) = members.get(place) else {
            visit(alleles, p);
            return;
        };
        let pairs: Vec<([usize; 2], u64)> = match member.parents {
            None => vec![([2 * place, 2 * place + 1], p)],
            Some((mother, father)) => [(0, 0), (0, 1), (1, 0), (1, 1)]
                .map(|(m, f)| ([alleles[mother][m], alleles[father][f]], p / 4))
                .to_vec(),
        };
        // Fixed with a chance of none, half or all.
        let halves = (2.0 * member.fixed) as u64;
        for (pair, p) in pairs {
            let ways = [
                (pair, p / 2 * (2 - halves)),
                ([pair[0]; 2], p / 4 * halves),
                ([pair[1]; 2], p / 4 * halves),
            ];
            for (pair, p) in ways.into_iter().filter(|(_, p)| *p > 0) {
                alleles.push(pair);
                go(members, alleles, p, visit);
                alleles.pop();
            }
        }
    }
    go(members, &mut Vec::new(), WHOLE, visit);
}

fn random_members() -> impl Strategy<Value = Vec<Member>> {
    let plant = (any::<bool>(), 0..100_usize, 0..100_usize, 0..3_usize);
    prop::collection::vec(plant, 2..7).prop_map(|plants| {
        plants
            .into_iter()
            .enumerate()
            .map(|(place, (crossed, mother, father, fixed))| Member {
                parents: (place > 0 && crossed).then(|| (mother % place, father % place)),
                fixed: [0.0, 0.5, 1.0][if place < 4 { fixed } else { 0 }],
            })
            .collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]
    /// Kinship by its definition: two alleles drawn at random are copies of one.
    #[test]
    fn kinship_is_what_dropping_genes_gives(members in random_members()) {
        let mut descent = Descent::default();
        for member in &members {
            descent.push(*member).unwrap();
        }
        let kinship = descent.kinship().unwrap();
        let size = members.len();
        let mut counted = vec![0_u64; size * size];
        let mut carried = vec![0_u64; size * size];
        each_way(&members, &mut |alleles, p| {
            for one in 0..size {
                for other in 0..size {
                    // Of a plant with itself the two draws may take the same allele.
                    let alike = alleles[one].iter().flat_map(|a| alleles[other].iter().map(move |b| a == b));
                    let alike = alike.filter(|same| *same).count() as u64;
                    counted[one * size + other] += p / 4 * alike;
                    let from = alleles[one].iter().filter(|allele| **allele / 2 == other).count() as u64;
                    carried[one * size + other] += p / 2 * from;
                }
            }
        });
        let share = |p: u64| p as f64 / WHOLE as f64;
        for one in 0..size {
            for other in 0..size {
                prop_assert_eq!(kinship.of(one, other), share(counted[one * size + other]));
            }
            let shares: BTreeMap<usize, f64> = descent.founder_shares(one).into_iter().collect();
            for founder in 0..size {
                let found = shares.get(&founder).copied().unwrap_or(0.0);
                prop_assert_eq!(found, share(carried[one * size + founder]));
            }
        }
    }
}

pub fn fraction(text: &Value) -> f64 {
    let text = text.as_str().expect("a fraction");
    let exact: Ratio<BigInt> = text.parse().expect("a fraction");
    exact.to_f64().expect("it fits")
}

/// The pedigrees of `expectations.json`, worked out there by the tabular method in exact fractions.
#[test]
pub fn inbreeding_of_known_pedigrees() {
    for case in rows("inbreeding") {
        let individuals = case["individuals"].as_object().expect("plants");
        let mut places: BTreeMap<&str, usize> = BTreeMap::new();
        let mut descent = Descent::default();
        // JSON objects come sorted by name here, and no plant of the file sorts before its parents.
        for (name, parents) in individuals {
            let place = |at: usize| places[parents[at].as_str().expect("a name")];
            let member = Member {
                parents: parents.is_array().then(|| (place(0), place(1))),
                fixed: 0.0,
            };
            places.insert(name, descent.push(member).unwrap());
        }
        let kinship = descent.kinship().unwrap();
        for (name, wanted) in case["F"].as_object().expect("coefficients") {
            let found = kinship.inbreeding(places[name.as_str()]);
            assert_eq!(found, fraction(wanted), "{} {name}", case["pedigree"]);
        }
        for (pair, wanted) in case["kinship"].as_object().into_iter().flatten() {
            let (one, other) = pair.split_once(',').expect("two names");
            let found = kinship.of(places[one], places[other]);
            assert_eq!(found, fraction(wanted), "{} {pair}", case["pedigree"]);
        }
        if case.get("kinship_G_H").is_some() {
            let found = kinship.of(places["G"], places["H"]);
            assert_eq!(found, fraction(&case["kinship_G_H"]));
        }
    }
}

fn series(name: &str) -> Vec<f64> {
    let section = data("inbreeding_series");
    let list = section[name].as_array().expect("a series");
    list.iter().map(fraction).collect()
}

fn open(parents: Option<(usize, usize)>) -> Member {
    Member {
        parents,
        fixed: 0.0,
    }
}

/// Selfing 1 - (1/2)^n, sib mating and backcrossing to one plant, generation by generation.
#[test]
pub fn inbreeding_over_generations() {
    let mut selfed = Descent::default();
    selfed.push(open(None)).unwrap();
    let mut sibs = Descent::default();
    let mut backcross = Descent::default();
    for descent in [&mut sibs, &mut backcross] {
        descent.push(open(None)).unwrap();
        descent.push(open(None)).unwrap();
    }
    for n in 0..12 {
        selfed.push(open(Some((n, n)))).unwrap();
        sibs.push(open(Some((2 * n, 2 * n + 1)))).unwrap();
        sibs.push(open(Some((2 * n, 2 * n + 1)))).unwrap();
        backcross.push(open(Some((0, n + 1)))).unwrap();
    }
    let kinship = selfed.kinship().unwrap();
    let wanted = series("selfing, F after n generations");
    for (n, wanted) in wanted.iter().enumerate() {
        assert_eq!(kinship.inbreeding(n + 1), *wanted);
    }
    let kinship = sibs.kinship().unwrap();
    let wanted =
        series("full-sib mating, F of offspring of generation n parents (n=1 founders unrelated)");
    for (n, wanted) in wanted.iter().enumerate() {
        assert_eq!(kinship.inbreeding(2 * n + 2), *wanted);
    }
    let kinship = backcross.kinship().unwrap();
    let wanted = series("repeated backcross to one non-inbred parent");
    for (n, wanted) in wanted.iter().enumerate() {
        assert_eq!(kinship.inbreeding(n + 2), *wanted);
    }

    // One male by many females who are half sisters of each other and of him, each of another mother.
    let wanted = series("half-sib mating recursion (1+6F(t-1)+F(t-2))/8");
    let mut half_sibs = Descent::default();
    let mut here: Vec<usize> = (0..2 * wanted.len() + 4)
        .map(|_| half_sibs.push(open(None)).unwrap())
        .collect();
    let mut first_of = Vec::new();
    while here.len() > 1 {
        let (male, females) = (here[0], &here[1..]);
        let young = females
            .iter()
            .map(|female| half_sibs.push(open(Some((*female, male)))));
        here = young.collect::<Result<_, _>>().unwrap();
        first_of.push(here[0]);
    }
    let kinship = half_sibs.kinship().unwrap();
    for (n, wanted) in wanted.iter().enumerate() {
        assert_eq!(kinship.inbreeding(first_of[n + 1]), *wanted, "{n}");
    }
}
