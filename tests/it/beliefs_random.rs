//! `genotype` on random ledgers of up to seven plants, against sums over every genotype of all of them at once.
//!
//! The other side is `oracle::enumeration`; what the ledgers hold stands in `random_ledger`.

use std::collections::BTreeMap;

use serde_json::Value;

use super::oracle::enumeration::{Ledger, Origin};
use super::oracle::genes::Genes;
use super::oracle::season::{Kind, iso};
use super::random_ledger::{Of, draft, parent};
use super::support::Bench;

/// How far a probability may be from the enumeration.
const TOLERANCE: f64 = 1e-10;

/// Ledgers compared; `ORACLE_SEASONS` asks for more.
const LEDGERS: u64 = 12;

/// The same with two linked loci.
const LINKED: u64 = 4;

/// The same with two loci that few plants tie together.
const APART: u64 = 6;

fn differences(seed: u64, of: Of) -> Vec<String> {
    let mut draft = draft(seed, of);
    let mut bench = Bench::new();
    bench.on(&iso(draft.ledger.season.today));
    for line in &draft.lines {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "ledger {seed}: {line}: {}", run.err);
    }
    let together = bench.json("genotype --all");
    let mut answers: Vec<Value> = together["plants"].as_array().unwrap().clone();
    let newest = draft.code(draft.plants() - 1);
    let alone = bench.json(&format!("genotype {newest}"));
    answers.push(alone);
    let traits: Vec<usize> = (0..draft.ledger.season.traits.len()).collect();
    let mut found = compare(seed, &draft.ledger, &traits, &answers);
    // A seedling that nobody kept is asked by its place.
    let read = &draft.ledger.seedlings[0];
    let last = read.len() - 1;
    let is_kept = |origin: &Origin| matches!(origin, Origin::Kept { batch: 0, seedling } if *seedling == last);
    if !read[last].is_empty() && !draft.ledger.origins.iter().any(is_kept) {
        let place = format!("{}-{:02}", draft.ledger.season.batches[0].tray, last + 1);
        let mut answer = bench.json(&format!("genotype {place}"));
        answer["plant"] = place.clone().into();
        draft
            .ledger
            .season
            .parents
            .push(parent(&place, Kind::Plant, Vec::new()));
        draft.ledger.origins.push(Origin::Kept {
            batch: 0,
            seedling: last,
        });
        found.extend(compare(seed, &draft.ledger, &traits, &[answer]));
    }
    found
}

fn compare(seed: u64, ledger: &Ledger, traits: &[usize], answers: &[Value]) -> Vec<String> {
    let expected = ledger.marginals(traits);
    let season = &ledger.season;
    let genes = Genes::new(season, traits);
    let mut found = Vec::new();
    for answer in answers {
        let code = answer["plant"].as_str().unwrap();
        let plant = season.parents.iter().position(|p| p.code == code).unwrap();
        if genes.ordered {
            let far = compare_strands(ledger, &genes, &expected[plant], answer);
            found.extend(far.into_iter().map(|far| format!("ledger {seed}: {far}")));
        }
        for (at, locus) in season.loci.iter().enumerate() {
            let named = |list: &Value, key: &str, name: &str| {
                let own = list.as_array().unwrap().iter().find(|one| one[key] == name);
                own.cloned()
                    .unwrap_or_else(|| panic!("ledger {seed}: {code} says nothing of {name}"))
            };
            let told = named(&answer["loci"], "locus", &locus.symbol);
            for pair in super::oracle::genes::pairs(2) {
                let name = format!(
                    "{}/{}",
                    locus.alleles[usize::from(pair.0)],
                    locus.alleles[usize::from(pair.1)]
                );
                let got = named(&told["genotypes"], "genotype", &name)["p"]
                    .as_f64()
                    .unwrap();
                let own = genes.all.iter().zip(&expected[plant]);
                let is_pair = |(x, y): (u8, u8)| (x.min(y), x.max(y)) == pair;
                let wanted: f64 = own.filter(|(g, _)| is_pair(g[at])).map(|(_, p)| p).sum();
                if (got - wanted).abs() > TOLERANCE {
                    found.push(format!(
                        "ledger {seed}: {code} {name}: {got}, enumeration {wanted}"
                    ));
                }
            }
        }
    }
    found
}

/// Linked loci together, strand by strand.
fn compare_strands(ledger: &Ledger, genes: &Genes, plant: &[f64], answer: &Value) -> Vec<String> {
    let loci = &ledger.season.loci;
    let written = |strand: &[u8]| -> String {
        let symbols = loci.iter().zip(strand);
        let symbols = symbols.map(|(locus, at)| locus.alleles[usize::from(*at)].as_str());
        symbols.collect::<Vec<_>>().join("-")
    };
    let mut wanted: BTreeMap<String, f64> = BTreeMap::new();
    for (genotype, p) in genes.all.iter().zip(plant) {
        let mut strands = [0, 1]
            .map(|on| -> Vec<u8> { genotype.iter().map(|pair| [pair.0, pair.1][on]).collect() });
        strands.sort();
        let name = format!("{}/{}", written(&strands[0]), written(&strands[1]));
        *wanted.entry(name).or_default() += p;
    }
    let group = &answer["groups"][0];
    let symbols: Vec<&str> = loci.iter().map(|locus| locus.symbol.as_str()).collect();
    assert_eq!(group["loci"], serde_json::json!(symbols));
    let told = group["genotypes"].as_array().unwrap();
    let of = |name: &str| -> f64 {
        let own = told.iter().find(|one| one["genotype"] == name);
        own.map_or(0.0, |one| one["p"].as_f64().unwrap())
    };
    let far = wanted
        .iter()
        .filter(|(name, p)| (of(name) - **p).abs() > TOLERANCE);
    far.map(|(name, p)| format!("{} {name}: {}, enumeration {p}", answer["plant"], of(name)))
        .collect()
}

fn agree(of: Of, seeds: impl Iterator<Item = u64>) {
    let found: Vec<String> = seeds.flat_map(|seed| differences(seed, of)).collect();
    assert!(found.is_empty(), "{}", found.join("\n"));
}

fn ledgers() -> u64 {
    let asked = std::env::var("ORACLE_SEASONS").ok();
    asked.map_or(LEDGERS, |n| {
        n.parse().expect("ORACLE_SEASONS is a number of ledgers")
    })
}

#[test]
fn random_ledgers_agree_with_the_enumeration_even() {
    agree(Of::Unlinked, (0..ledgers()).filter(|seed| seed % 2 == 0));
}

#[test]
fn random_ledgers_agree_with_the_enumeration_odd() {
    agree(Of::Unlinked, (0..ledgers()).filter(|seed| seed % 2 == 1));
}

#[test]
fn two_linked_loci_agree_with_the_enumeration_even() {
    let of = ledgers() * LINKED / LEDGERS;
    agree(Of::Linked, (0..of).filter(|seed| seed % 2 == 0));
}

#[test]
fn two_linked_loci_agree_with_the_enumeration_odd() {
    let of = ledgers() * LINKED / LEDGERS;
    agree(Of::Linked, (0..of).filter(|seed| seed % 2 == 1));
}

/// Loci that hang together by the origin of a plant or two alone.
#[test]
fn loci_that_few_plants_tie_agree_with_the_enumeration_even() {
    let of = ledgers() * APART / LEDGERS;
    agree(Of::Apart, (0..of).filter(|seed| seed % 2 == 0));
}

#[test]
fn loci_that_few_plants_tie_agree_with_the_enumeration_odd() {
    let of = ledgers() * APART / LEDGERS;
    agree(Of::Apart, (0..of).filter(|seed| seed % 2 == 1));
}
