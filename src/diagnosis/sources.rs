//! What can have gone wrong with a batch, before anything was seen: candidate sources and their priors.
//!
//! From the records of pollination (day, order, tool, wipe, cover), of flowering and of sowing. The numbers
//! are starting beliefs that the ledger can change.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::Mutex;

use crate::records::assumptions::Assumptions;
use crate::records::code::fold;
use crate::records::day::Day;
use crate::records::descent::makes_no_pollen;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, InFlowerRow, LotRow, PollinationRow, Thing};
use crate::records::species::{Crossing, all_self_times};

use super::answer::{Named, Source};

/// What was sown: a cross of the ledger, or a parent's packet, which counts as a self of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Stock {
    /// A cross or self.
    Cross(i64),
    /// A packet of a parent.
    Packet(i64),
}

/// Where the two gametes of a seed come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seed {
    /// The label's mother and father.
    Labelled,
    /// The label's mother twice.
    SelfOfMother,
    /// The label's mother, and this plant as father.
    PollenOf(i64),
    /// The label's mother, and grains at the allele shares.
    UnknownPollen,
    /// These two plants.
    OfCross {
        /// The mother.
        mother: i64,
        /// The father.
        father: i64,
    },
    /// Two independent grains at the allele shares.
    UnknownSeed,
    /// Two plants of unknown genotype, the same for the whole batch.
    OutsideCross,
    /// Drawn seed by seed from the other partial sources.
    Mixed,
}

/// How much of a batch a source brings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Share {
    /// None of it: all as labelled.
    Nothing,
    /// A share with this Beta distribution.
    Beta(f64, f64),
    /// All of it.
    Everything,
}

/// One candidate source.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// Its name in the answer.
    pub source: Source,
    /// Its prior probability.
    pub prior: f64,
    /// Its share of the batch.
    pub share: Share,
    /// The seed it brings.
    pub seed: Seed,
    /// Its weight when several sources are mixed; 0 for those that never are.
    pub weight: f64,
}

/// A dated pollination as the search for donors needs it.
#[derive(Debug, Clone)]
pub(super) struct Handling {
    pub(super) id: i64,
    pub(super) mother: i64,
    pub(super) father: i64,
    pub(super) tool: String,
    pub(super) wiped: bool,
}

/// How the flowers of a stock were treated: which column of the starting beliefs holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Technique {
    /// A cross whose anthers were left in.
    NotEmasculated,
    /// A cross, anthers taken out.
    Emasculated,
    /// A cross, anthers taken out and flower covered.
    Covered,
    /// A self left open, or a packet.
    SelfOpen,
    /// A covered self.
    SelfCovered,
}

/// Everything about pollinations, flowering and sowing that candidate sources are drawn from.
#[derive(Debug)]
pub struct SourceBook<'a> {
    facts: &'a Facts,
    pub(super) by_day: BTreeMap<Day, Vec<Handling>>,
    pub(super) in_flower: Vec<&'a InFlowerRow>,
    pollinations: HashMap<i64, Vec<&'a PollinationRow>>,
    /// The lots that a batch was sown from.
    lots: HashMap<i64, Vec<&'a LotRow>>,
    sown: HashMap<Day, BTreeSet<Stock>>,
    /// When each plant was sown that grew in a batch and was about at some pollination.
    pub(super) sown_on: HashMap<i64, Day>,
    /// Whether a plant asked about makes no pollen, worked out once.
    pollenless: Mutex<HashMap<i64, bool>>,
}

/// The stock of a batch.
#[must_use]
pub fn stock_of(batch: &BatchRow) -> Stock {
    match (batch.cross_id, batch.plant_id) {
        (Some(cross), _) => Stock::Cross(cross),
        (None, plant) => Stock::Packet(plant.unwrap_or_default()),
    }
}

impl<'a> SourceBook<'a> {
    /// Sorts the facts.
    #[must_use]
    pub fn new(facts: &'a Facts) -> Self {
        let mut by_day: BTreeMap<Day, Vec<Handling>> = BTreeMap::new();
        let mut pollinations: HashMap<i64, Vec<&'a PollinationRow>> = HashMap::new();
        for row in &facts.pollination {
            pollinations.entry(row.cross_id).or_default().push(row);
            if let (Some(day), Some(cross)) = (row.day, facts.cross.get(row.cross_id)) {
                by_day.entry(day).or_default().push(Handling {
                    id: row.id,
                    mother: cross.mother_id,
                    father: cross.father_id,
                    tool: fold(row.tool.trim()),
                    wiped: row.wiped,
                });
            }
        }
        let mut lots: HashMap<i64, Vec<&'a LotRow>> = HashMap::new();
        for drawn in &facts.batch_seed {
            let lot = facts.lot.get(drawn.lot_id);
            lots.entry(drawn.batch_id).or_default().extend(lot);
        }
        let mut sown: HashMap<Day, BTreeSet<Stock>> = HashMap::new();
        for batch in &facts.batch {
            sown.entry(batch.day).or_default().insert(stock_of(batch));
        }
        let handled = by_day.values().flatten();
        let handled = handled.flat_map(|one| [one.mother, one.father]);
        let about = handled.chain(facts.in_flower.iter().map(|row| row.plant_id));
        let sown_on = about.filter_map(|plant| {
            let batch = facts.plant.get(plant)?.batch_id?;
            Some((plant, facts.batch.get(batch)?.day))
        });
        Self {
            facts,
            sown_on: sown_on.collect(),
            by_day,
            in_flower: facts.in_flower.iter().collect(),
            pollinations,
            lots,
            sown,
            pollenless: Mutex::default(),
        }
    }

    /// Mother and father of a stock; a packet's parent is both.
    #[must_use]
    pub fn parents(&self, stock: Stock) -> (i64, i64) {
        match stock {
            Stock::Cross(id) => self
                .facts
                .cross
                .get(id)
                .map_or((0, 0), |cross| (cross.mother_id, cross.father_id)),
            Stock::Packet(plant) => (plant, plant),
        }
    }

    /// A stock as an answer names it.
    #[must_use]
    pub fn name_stock(&self, stock: Stock) -> Named {
        match stock {
            Stock::Cross(id) => Named {
                id,
                code: self
                    .facts
                    .code_of(Thing::Cross, id)
                    .unwrap_or_default()
                    .into(),
            },
            Stock::Packet(id) => self.name_plant(id),
        }
    }

    fn name_plant(&self, id: i64) -> Named {
        let code = self.facts.label_of_plant(id).into();
        Named { id, code }
    }

    /// Which column of the starting beliefs holds for a batch: that of the least careful pollination it can come from.
    #[must_use]
    pub fn technique(&self, batch: &BatchRow) -> Technique {
        self.technique_of(stock_of(batch), &self.pollinations_of(batch))
    }

    fn all_pollinations(&self, stock: Stock) -> Vec<&'a PollinationRow> {
        match stock {
            Stock::Cross(id) => self.pollinations.get(&id).cloned().unwrap_or_default(),
            Stock::Packet(_) => Vec::new(),
        }
    }

    /// The pollinations that the seed of a batch can come from: those of the days that its lots were harvested of, where
    /// that was said of every lot sown; else all of the cross.
    #[must_use]
    pub fn pollinations_of(&self, batch: &BatchRow) -> Vec<&'a PollinationRow> {
        let all = self.all_pollinations(stock_of(batch));
        let lots = self.lots_of(batch);
        let days: Option<Vec<Day>> = lots.iter().map(|lot| lot.pollinated).collect();
        let Some(days) = days.filter(|days| !days.is_empty()) else {
            return all;
        };
        let of_days = |row: &&&PollinationRow| row.day.is_some_and(|day| days.contains(&day));
        let own: Vec<&PollinationRow> = all.iter().filter(of_days).copied().collect();
        if own.is_empty() { all } else { own }
    }

    /// The lots that a batch was sown from.
    #[must_use]
    pub fn lots_of(&self, batch: &BatchRow) -> &[&'a LotRow] {
        self.lots.get(&batch.id).map_or(&[], Vec::as_slice)
    }

    fn technique_of(&self, stock: Stock, rows: &[&PollinationRow]) -> Technique {
        let (mother, father) = self.parents(stock);
        let of = |row: &&PollinationRow| match (mother == father, row.emasculated, row.covered) {
            (true, _, true) => Technique::SelfCovered,
            (true, _, false) => Technique::SelfOpen,
            (false, false, _) => Technique::NotEmasculated,
            (false, true, false) => Technique::Emasculated,
            (false, true, true) => Technique::Covered,
        };
        let fallback = if mother == father {
            Technique::SelfOpen
        } else {
            Technique::NotEmasculated
        };
        rows.iter().map(of).min().unwrap_or(fallback)
    }

    /// The candidate sources of a batch with their priors; those of prior 0 are left out.
    #[must_use]
    pub fn candidates(&self, batch: &BatchRow, beliefs: &Assumptions) -> Vec<Candidate> {
        let stock = stock_of(batch);
        let (mother, father) = self.parents(stock);
        let pollinations = self.pollinations_of(batch);
        let technique = self.technique_of(stock, &pollinations);
        let donors = self.donors(stock, &pollinations, beliefs);
        let others: Vec<Stock> = self
            .sown
            .get(&batch.day)
            .into_iter()
            .flatten()
            .copied()
            .filter(|other| *other != stock)
            .collect();
        let selfable = mother != father && !self.is_pollenless(mother);
        let column = Column::of(technique, beliefs);
        let mut list = Vec::new();
        let partial = self.partial_sources(&column, selfable, &donors, &others, beliefs);
        let whole = self.whole_sources(selfable, &donors, &others, beliefs.whole_batch);
        let whole_mass: f64 = whole.iter().map(|candidate| candidate.prior).sum();
        let rest = 1.0 - whole_mass;
        let total: f64 = partial.iter().map(|(_, odds)| odds).sum();
        let none = if total > 0.0 { column.none } else { 1.0 };
        list.push(Candidate {
            source: Source::None,
            prior: rest * none,
            share: Share::Nothing,
            seed: Seed::Labelled,
            weight: 0.0,
        });
        for (candidate, odds) in partial {
            list.push(Candidate {
                prior: rest * (1.0 - none) * odds / total.max(f64::MIN_POSITIVE),
                ..candidate
            });
        }
        list.extend(whole);
        let crossing = Crossing::of_plants(self.facts, mother, father);
        let times = all_self_times(crossing.crossability, beliefs);
        raise_all_self(&mut list, times);
        list.retain(|candidate| candidate.prior > 0.0);
        list
    }

    /// Partial sources with their weight in the prior.
    fn partial_sources(
        &self,
        column: &Column,
        selfable: bool,
        donors: &[(i64, f64)],
        others: &[Stock],
        beliefs: &Assumptions,
    ) -> Vec<(Candidate, f64)> {
        let selfed = Share::Beta(beliefs.share_self_a, beliefs.share_self_b);
        let pollen = Share::Beta(beliefs.share_pollen_a, beliefs.share_pollen_b);
        let seeds = Share::Beta(beliefs.share_seed_a, beliefs.share_seed_b);
        let self_weight = if selfable { column.self_weight } else { 0.0 };
        let mut list = vec![partial(
            Source::SelfPollen,
            selfed,
            Seed::SelfOfMother,
            self_weight,
        )];
        for (donor, weight) in donors {
            let source = Source::Pollen(self.name_plant(*donor));
            list.push(partial(source, pollen, Seed::PollenOf(*donor), *weight));
        }
        list.push(partial(
            Source::UnknownPollen,
            pollen,
            Seed::UnknownPollen,
            beliefs.unknown_pollen,
        ));
        for other in others {
            let (mother, father) = self.parents(*other);
            let source = Source::StraySeed(self.name_stock(*other));
            list.push(partial(
                source,
                seeds,
                Seed::OfCross { mother, father },
                beliefs.stray_seed,
            ));
        }
        list.push(partial(
            Source::UnknownSeed,
            seeds,
            Seed::UnknownSeed,
            beliefs.unknown_seed,
        ));
        let mixable = list.iter().any(|(candidate, _)| candidate.weight > 0.0);
        let mixed = Candidate {
            source: Source::Mixed,
            prior: 0.0,
            share: selfed,
            seed: Seed::Mixed,
            weight: 0.0,
        };
        list.push((mixed, if mixable { column.mixed_weight } else { 0.0 }));
        list
    }

    /// Whole-batch errors with their priors.
    fn whole_sources(
        &self,
        selfable: bool,
        donors: &[(i64, f64)],
        others: &[Stock],
        mass: f64,
    ) -> Vec<Candidate> {
        let donor_total: f64 = donors.iter().map(|(_, weight)| weight).sum();
        let kinds = 1.0 + f64::from(u8::from(selfable)) + f64::from(u8::from(donor_total > 0.0));
        let each = mass / kinds;
        let whole = |source: Source, prior: f64, seed: Seed| Candidate {
            source,
            prior,
            share: Share::Everything,
            seed,
            weight: 0.0,
        };
        let mut list = Vec::new();
        if selfable {
            list.push(whole(Source::AllSelf, each, Seed::SelfOfMother));
        }
        if donor_total > 0.0 {
            for (donor, weight) in donors {
                let source = Source::AllPollen(self.name_plant(*donor));
                list.push(whole(
                    source,
                    each * weight / donor_total,
                    Seed::PollenOf(*donor),
                ));
            }
        }
        let swap = each / (others.len() + 1) as f64;
        for other in others {
            let (mother, father) = self.parents(*other);
            let source = Source::Swapped(Some(self.name_stock(*other)));
            list.push(whole(source, swap, Seed::OfCross { mother, father }));
        }
        list.push(whole(Source::Swapped(None), swap, Seed::OutsideCross));
        list
    }

    /// Whether a plant makes no pollen by what is recorded of it.
    pub(super) fn is_pollenless(&self, plant: i64) -> bool {
        let mut known = self
            .pollenless
            .lock()
            .expect("no thread panics while it asks about pollen");
        *known
            .entry(plant)
            .or_insert_with(|| makes_no_pollen(self.facts, plant))
    }
}

/// Makes the odds of a tray of selfs against each other source so many times what they were.
fn raise_all_self(list: &mut [Candidate], times: f64) {
    let all_self = |candidate: &Candidate| candidate.source == Source::AllSelf;
    let before = list.iter().find(|candidate| all_self(candidate));
    // Nothing moves, not even in the last digit, where the species give no reason to.
    let Some(before) = before.map(|one| one.prior).filter(|_| times != 1.0) else {
        return;
    };
    let total = 1.0 - before + times * before;
    for candidate in list {
        let times = if all_self(candidate) { times } else { 1.0 };
        candidate.prior *= times / total;
    }
}

fn partial(source: Source, share: Share, seed: Seed, weight: f64) -> (Candidate, f64) {
    (
        Candidate {
            source,
            prior: 0.0,
            share,
            seed,
            weight,
        },
        weight,
    )
}

/// One column of the starting beliefs.
struct Column {
    none: f64,
    self_weight: f64,
    mixed_weight: f64,
}

impl Column {
    fn of(technique: Technique, b: &Assumptions) -> Self {
        let (none, self_weight, mixed_weight) = match technique {
            Technique::NotEmasculated => (
                b.none_not_emasculated,
                b.self_not_emasculated,
                b.mixed_not_emasculated,
            ),
            Technique::Emasculated => (b.none_emasculated, b.self_emasculated, b.mixed_emasculated),
            Technique::Covered => (b.none_covered, b.self_covered, b.mixed_covered),
            Technique::SelfOpen => (b.none_self_open, 0.0, b.mixed_self_open),
            Technique::SelfCovered => (b.none_self_covered, 0.0, b.mixed_self_covered),
        };
        Self {
            none,
            self_weight,
            mixed_weight,
        }
    }
}
