//! What can have gone wrong with a batch, and how likely that was before anything was seen.

use std::collections::BTreeMap;

use super::choices::PACKETS_ARE_CROSSES;
use super::season::{Pollination, Season, Sown};

/// A source of a batch's seed; plants by index, crosses by code.
#[derive(Clone, Debug, PartialEq)]
pub enum Source {
    None,
    SelfPollen,
    Pollen(usize),
    UnknownPollen,
    StraySeed(String),
    UnknownSeed,
    Mixed,
    AllSelf,
    AllPollen(usize),
    Swapped(Option<String>),
}

/// How the share of off-types is distributed under a source.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Share {
    Zero,
    /// Beta(1, s).
    Beta(u32),
    One,
}

impl Source {
    /// The share of off-type seedlings that goes with the source.
    pub fn share(&self) -> Share {
        match self {
            Source::None => Share::Zero,
            Source::SelfPollen | Source::Mixed => Share::Beta(1),
            Source::Pollen(_) | Source::UnknownPollen => Share::Beta(4),
            Source::StraySeed(_) | Source::UnknownSeed => Share::Beta(19),
            Source::AllSelf | Source::AllPollen(_) | Source::Swapped(_) => Share::One,
        }
    }

    /// The source's name and code in an answer.
    pub fn name(&self, season: &Season) -> (&'static str, Option<String>) {
        let plant = |p: &usize| Some(season.parents[*p].code.clone());
        match self {
            Source::None => ("none", None),
            Source::SelfPollen => ("self", None),
            Source::Pollen(d) => ("pollen", plant(d)),
            Source::UnknownPollen => ("unknown-pollen", None),
            Source::StraySeed(c) => ("stray-seed", Some(c.clone())),
            Source::UnknownSeed => ("unknown-seed", None),
            Source::Mixed => ("mixed", None),
            Source::AllSelf => ("all-self", None),
            Source::AllPollen(d) => ("all-pollen", plant(d)),
            Source::Swapped(c) => ("swapped", c.clone()),
        }
    }
}

/// A batch's sources with their starting beliefs.
#[derive(Clone, Debug)]
pub struct Candidates {
    pub sources: Vec<(Source, f64)>,
    /// What `mixed` draws: source and probability.
    pub drawn: Vec<(Source, f64)>,
}

/// The least careful technique of a cross's pollinations.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Technique {
    Packet,
    SelfOpen,
    SelfCovered,
    NotEmasculated,
    Emasculated,
    EmasculatedCovered,
}

/// Everything that can have gone wrong with a batch, with prior probabilities that sum to one.
pub fn candidates(season: &Season, batch: usize) -> Candidates {
    let technique = technique(season, batch);
    let (clean, own, several) = starting_beliefs(technique);
    let mother = season.parents_of(batch).0;
    let own = if season.parents[mother].sterile {
        0.0
    } else {
        own
    };
    let donors = donors(season, batch);
    let strays = sown_beside(season, batch);
    let mut partial = vec![(Source::SelfPollen, own)];
    partial.extend(donors.iter().map(|&(d, w)| (Source::Pollen(d), w)));
    partial.push((Source::UnknownPollen, 2.0));
    partial.extend(strays.iter().map(|c| (Source::StraySeed(c.clone()), 0.5)));
    partial.push((Source::UnknownSeed, 0.5));
    partial.retain(|p| p.1 > 0.0);
    let drawn = shares(&partial);
    partial.push((Source::Mixed, several));
    let left = 1.0 - 0.01;
    let mut sources = vec![(Source::None, left * clean)];
    sources.extend(
        shares(&partial)
            .into_iter()
            .map(|(s, w)| (s, left * (1.0 - clean) * w)),
    );
    sources.extend(whole_batch(season, technique, mother, &donors, &strays));
    let times = times_all_self(season, batch);
    let weigh = |(s, p): (Source, f64)| {
        let times = if s == Source::AllSelf { times } else { 1.0 };
        (s, p * times)
    };
    let sources: Vec<_> = sources.into_iter().map(weigh).collect();
    let sources = match times {
        1.0 => sources,
        _ => shares(&sources),
    };
    Candidates { sources, drawn }
}

/// How many times the odds of a tray of selfs are those within a species (docs/method.md, "Wide crosses").
pub fn times_all_self(season: &Season, batch: usize) -> f64 {
    let (mother, father) = season.parents_of(batch);
    let species = |p: usize| season.parents[p].species.as_deref();
    let (Some(mother), Some(father)) = (species(mother), species(father)) else {
        return 1.0;
    };
    match (mother, father) {
        _ if mother == father => 1.0,
        ("pubescens", _) | (_, "pubescens") => 70.0,
        ("annuum", "baccatum") | ("baccatum", "annuum") => 7.0,
        ("baccatum", _) | (_, "baccatum") | ("frutescens", "annuum") => 4.0,
        _ => 1.0,
    }
}

/// P(none), weight of `self`, weight of `mixed`.
fn starting_beliefs(technique: Technique) -> (f64, f64, f64) {
    match technique {
        Technique::NotEmasculated => (0.10, 20.0, 8.0),
        Technique::Emasculated => (0.70, 4.0, 1.0),
        Technique::EmasculatedCovered => (0.85, 4.0, 1.0),
        Technique::SelfOpen | Technique::Packet => (0.90, 0.0, 1.0),
        Technique::SelfCovered => (0.98, 0.0, 1.0),
    }
}

fn whole_batch(
    season: &Season,
    technique: Technique,
    mother: usize,
    donors: &[(usize, f64)],
    strays: &[String],
) -> Vec<(Source, f64)> {
    let selfing = matches!(
        technique,
        Technique::SelfOpen | Technique::SelfCovered | Technique::Packet
    );
    let mut thirds = Vec::new();
    if !selfing && !season.parents[mother].sterile {
        thirds.push(vec![(Source::AllSelf, 1.0)]);
    }
    if !donors.is_empty() {
        thirds.push(
            donors
                .iter()
                .map(|&(d, w)| (Source::AllPollen(d), w))
                .collect(),
        );
    }
    let mut swapped: Vec<_> = strays
        .iter()
        .map(|c| (Source::Swapped(Some(c.clone())), 1.0))
        .collect();
    swapped.push((Source::Swapped(None), 1.0));
    thirds.push(swapped);
    let each = 0.01 / thirds.len() as f64;
    thirds
        .iter()
        .flat_map(|t| shares(t))
        .map(|(s, w)| (s, each * w))
        .collect()
}

fn shares(weighted: &[(Source, f64)]) -> Vec<(Source, f64)> {
    let total: f64 = weighted.iter().map(|w| w.1).sum();
    weighted
        .iter()
        .map(|(s, w)| (s.clone(), w / total))
        .collect()
}

fn pollinations(season: &Season, batch: usize) -> Vec<(usize, &Pollination)> {
    let Sown::Cross(code) = &season.batches[batch].sown else {
        return Vec::new();
    };
    season
        .pollinations
        .iter()
        .enumerate()
        .filter(|(_, p)| p.cross == *code)
        .collect()
}

fn technique(season: &Season, batch: usize) -> Technique {
    let own = pollinations(season, batch);
    let covered = own.iter().all(|p| p.1.covered);
    let Some((_, first)) = own.first() else {
        return Technique::Packet;
    };
    if first.mother == first.father {
        return if covered {
            Technique::SelfCovered
        } else {
            Technique::SelfOpen
        };
    }
    match own.iter().all(|p| p.1.emasculated) {
        false => Technique::NotEmasculated,
        true if covered => Technique::EmasculatedCovered,
        true => Technique::Emasculated,
    }
}

/// Plants whose pollen was about, each with its highest weight over the cross's pollinations.
fn donors(season: &Season, batch: usize) -> Vec<(usize, f64)> {
    let mut best: BTreeMap<usize, f64> = BTreeMap::new();
    for (at, _) in pollinations(season, batch) {
        for plant in 0..season.parents.len() {
            let weight = donor_weight(season, at, plant);
            let held = best.entry(plant).or_insert(0.0);
            *held = held.max(weight);
        }
    }
    let (mother, father) = season.parents_of(batch);
    let possible = |&(p, w): &(usize, f64)| {
        w > 0.0 && p != mother && p != father && !season.parents[p].sterile
    };
    best.into_iter().filter(possible).collect()
}

fn donor_weight(season: &Season, at: usize, plant: usize) -> f64 {
    let own = &season.pollinations[at];
    let handled = |p: &Pollination| p.mother == plant || p.father == plant;
    let shared = (0..at).any(|i| handled(&season.pollinations[i]) && tool_carries(season, i, at));
    let about = |reach: i64| {
        let (from, until) = (own.day - reach, own.day + reach);
        let by_hand = season
            .pollinations
            .iter()
            .any(|p| handled(p) && p.day >= from && p.day <= until);
        by_hand
            || season
                .in_flower
                .iter()
                .any(|f| f.plant == plant && f.from <= until && f.until >= from)
    };
    match (shared, about(0), about(3)) {
        (true, _, _) => 4.0,
        (_, true, _) => 1.0,
        (_, _, true) => 0.5,
        _ => 0.0,
    }
}

/// Whether a tool went from one pollination to a later one of the day without a wipe between.
fn tool_carries(season: &Season, from: usize, to: usize) -> bool {
    let (first, last) = (&season.pollinations[from], &season.pollinations[to]);
    let same = last.tool.is_some() && first.tool == last.tool && first.day == last.day;
    let wiped = |p: &Pollination| p.wiped && p.tool == last.tool && p.day == last.day;
    same && !season.pollinations[from + 1..=to].iter().any(wiped)
}

/// The other crosses sown on the same day, each once.
fn sown_beside(season: &Season, batch: usize) -> Vec<String> {
    let own = season.cross_code(batch);
    let mut codes = Vec::new();
    for (b, other) in season.batches.iter().enumerate() {
        let code = season.cross_code(b);
        let counts = PACKETS_ARE_CROSSES || matches!(other.sown, Sown::Cross(_));
        if other.day == season.batches[batch].day && counts && code != own && !codes.contains(&code)
        {
            codes.push(code);
        }
    }
    codes
}
