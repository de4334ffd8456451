//! What really went wrong with a tray, drawn from the program's own starting beliefs.
//!
//! Written from `docs/method.md` sections 6 and 8 alone, not from the program: a disagreement between the two shows as
//! miscalibration.

use std::collections::BTreeMap;

use locule::diagnosis::answer::Source;

use super::dice::Dice;
use super::ledger::cross_code;
use super::plan::{Care, Plan, Sowing, Stock};
use super::world::World;

/// Where seed that is not as labelled comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// Nothing went wrong.
    Nothing,
    /// The mother's own pollen.
    OwnPollen,
    /// Pollen of a plant.
    PollenOf(usize),
    /// Pollen from elsewhere.
    UnknownPollen,
    /// Seed of something else sown that day.
    StraySeed(Stock),
    /// Seed from elsewhere.
    UnknownSeed,
    /// Several of the above, seed by seed.
    Mixed,
    /// The whole tray is selfed.
    AllOwn,
    /// The whole tray has this father.
    AllPollenOf(usize),
    /// The whole tray is something else sown that day, or from elsewhere.
    Swapped(Option<Stock>),
}

impl Cause {
    /// The word of the program's answers.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Nothing => "none",
            Self::OwnPollen => "self",
            Self::PollenOf(_) => "pollen",
            Self::UnknownPollen => "unknown-pollen",
            Self::StraySeed(_) => "stray-seed",
            Self::UnknownSeed => "unknown-seed",
            Self::Mixed => "mixed",
            Self::AllOwn => "all-self",
            Self::AllPollenOf(_) => "all-pollen",
            Self::Swapped(_) => "swapped",
        }
    }

    /// The second number of the Beta distribution of its share of a tray, whose first is 1; nothing where it is all.
    const fn share(self) -> Option<f64> {
        match self {
            Self::OwnPollen | Self::Mixed => Some(1.0),
            Self::PollenOf(_) | Self::UnknownPollen => Some(4.0),
            Self::StraySeed(_) | Self::UnknownSeed => Some(19.0),
            _ => None,
        }
    }
}

/// What went wrong with a tray: sources with the share of the tray that each takes from what the one before left.
#[derive(Debug, Clone)]
pub struct Trouble {
    /// The sources; none where nothing went wrong.
    pub parts: Vec<(Cause, f64)>,
    /// What `mixed` draws from.
    pub mixture: Vec<(Cause, f64)>,
}

impl Trouble {
    /// Draws what went wrong.
    pub fn draw(world: &World, plan: &Plan, sowing: &Sowing, dice: &mut Dice) -> Self {
        let odds = Odds::of(world, plan, sowing);
        let drawn = odds.all[dice.weighted(odds.all.iter().map(|(_, p)| *p))].0;
        let mut causes = vec![drawn];
        if world.two_sources && drawn.share().is_some() {
            causes = two_of(&odds.partial, drawn, dice);
        }
        let part = |cause: Cause| match cause.share() {
            Some(_) if world.whole_pods && cause == Cause::OwnPollen => (cause, 1.0),
            Some(b) => (cause, dice.beta_of_one(b)),
            None => (cause, 1.0),
        };
        let parts = causes
            .into_iter()
            .filter(|cause| *cause != Cause::Nothing)
            .map(part)
            .collect();
        Self {
            parts,
            mixture: odds.partial,
        }
    }

    /// Whether a source of the program's answer is what really went wrong. Of two, either is, and so is `mixed`.
    pub fn is_so(&self, source: &Source) -> bool {
        let named = |cause: Cause| {
            let code = source.named().map(|named| named.code.as_ref());
            cause.word() == source.word() && cause_code(cause).as_deref() == code
        };
        match self.parts.as_slice() {
            [] => named(Cause::Nothing),
            [(cause, _)] => named(*cause),
            several => named(Cause::Mixed) || several.iter().any(|(cause, _)| named(*cause)),
        }
    }

    /// Where one seed comes from; nothing where it is as labelled.
    pub fn of_seed(&self, dice: &mut Dice) -> Option<Cause> {
        let chosen = self.parts.iter().find(|(_, share)| dice.chance(*share));
        match chosen?.0 {
            Cause::Mixed => {
                let at = dice.weighted(self.mixture.iter().map(|(_, weight)| *weight));
                Some(self.mixture[at].0)
            }
            cause => Some(cause),
        }
    }
}

/// The code that the program names a cause with.
fn cause_code(cause: Cause) -> Option<String> {
    match cause {
        Cause::PollenOf(plant) | Cause::AllPollenOf(plant) => Some(format!("P{}", plant + 1)),
        Cause::StraySeed(stock) | Cause::Swapped(Some(stock)) => Some(match stock {
            Stock::Cross(cross) => cross_code(cross),
            Stock::Packet(plant) => format!("P{}", plant + 1),
        }),
        _ => None,
    }
}

/// The first drawn and another, or two where it was a mixture.
fn two_of(partial: &[(Cause, f64)], drawn: Cause, dice: &mut Dice) -> Vec<Cause> {
    let mut causes = Vec::new();
    if drawn != Cause::Mixed {
        causes.push(drawn);
    }
    while causes.len() < 2 && causes.len() < partial.len() {
        let cause = partial[dice.weighted(partial.iter().map(|(_, weight)| *weight))].0;
        if !causes.contains(&cause) {
            causes.push(cause);
        }
    }
    causes
}

/// Everything that can have gone wrong with a tray, with its probability.
struct Odds {
    all: Vec<(Cause, f64)>,
    /// Sources of part of a tray, but for `mixed`, by weight.
    partial: Vec<(Cause, f64)>,
}

impl Odds {
    fn of(world: &World, plan: &Plan, sowing: &Sowing) -> Self {
        let (mother, father) = plan.parents(sowing.stock);
        let selfed = mother == father;
        let (clean, own, mixed) = column(plan.care(sowing.stock));
        let donors = donors(plan, sowing.stock);
        let mut others: Vec<Stock> = plan
            .sowings
            .iter()
            .filter(|other| other.day == sowing.day && other.stock != sowing.stock)
            .map(|other| other.stock)
            .collect();
        others.sort_unstable();
        others.dedup();
        let mut partial = Vec::new();
        if !selfed {
            partial.push((Cause::OwnPollen, own));
        }
        partial.extend(
            donors
                .iter()
                .map(|(plant, weight)| (Cause::PollenOf(*plant), *weight)),
        );
        partial.push((Cause::UnknownPollen, 2.0));
        partial.extend(others.iter().map(|stock| (Cause::StraySeed(*stock), 0.5)));
        partial.push((Cause::UnknownSeed, 0.5));

        let whole = 0.01 * world.trouble;
        let clean = clean / (clean + world.trouble * (1.0 - clean));
        let mut all = vec![(Cause::Nothing, (1.0 - whole) * clean)];
        let total: f64 = partial.iter().map(|(_, weight)| weight).sum::<f64>() + mixed;
        let rest = (1.0 - whole) * (1.0 - clean) / total;
        all.extend(
            partial
                .iter()
                .map(|(cause, weight)| (*cause, rest * weight)),
        );
        all.push((Cause::Mixed, rest * mixed));
        all.extend(whole_tray(selfed, &donors, &others, whole));
        Self { all, partial }
    }
}

/// Whole-tray errors: a third each, a third without candidates going to the others.
fn whole_tray(
    selfed: bool,
    donors: &[(usize, f64)],
    others: &[Stock],
    whole: f64,
) -> Vec<(Cause, f64)> {
    let kinds = 1.0 + f64::from(u8::from(!selfed)) + f64::from(u8::from(!donors.is_empty()));
    let each = whole / kinds;
    let mut list = Vec::new();
    if !selfed {
        list.push((Cause::AllOwn, each));
    }
    let total: f64 = donors.iter().map(|(_, weight)| weight).sum();
    list.extend(
        donors
            .iter()
            .map(|(plant, w)| (Cause::AllPollenOf(*plant), each * w / total)),
    );
    let swap = each / (others.len() as f64 + 1.0);
    list.extend(
        others
            .iter()
            .map(|stock| (Cause::Swapped(Some(*stock)), swap)),
    );
    list.push((Cause::Swapped(None), swap));
    list
}

/// P(nothing), the weight of own pollen and that of a mixture.
const fn column(care: Care) -> (f64, f64, f64) {
    match care {
        Care::LeftIn => (0.1, 20.0, 8.0),
        Care::TakenOut => (0.7, 4.0, 1.0),
        Care::Covered => (0.85, 4.0, 1.0),
        Care::SelfOpen => (0.9, 0.0, 1.0),
        Care::SelfCovered => (0.98, 0.0, 1.0),
    }
}

/// Plants whose pollen may have come along, each with its highest weight.
fn donors(plan: &Plan, stock: Stock) -> Vec<(usize, f64)> {
    let (mother, father) = plan.parents(stock);
    let mut weights: BTreeMap<usize, f64> = BTreeMap::new();
    let mut raise = |plant: usize, weight: f64| {
        let slot = weights.entry(plant).or_default();
        *slot = slot.max(weight);
    };
    for (at, one) in plan.pollinations.iter().enumerate() {
        if stock != Stock::Cross(one.cross) {
            continue;
        }
        let mut clean = !one.brush || one.wiped;
        for earlier in plan.pollinations[..at].iter().rev() {
            if earlier.day == one.day && earlier.brush && !clean {
                raise(earlier.mother, 4.0);
                raise(earlier.father, 4.0);
                clean = earlier.wiped;
            }
        }
        for (days, weight) in [(0, 1.0), (3, 0.5)] {
            let near = |day: i64| (day - one.day).abs() <= days;
            for other in plan.pollinations.iter().filter(|other| near(other.day)) {
                raise(other.mother, weight);
                raise(other.father, weight);
            }
            for (plant, from, until) in &plan.in_flower {
                if *from <= one.day + days && *until >= one.day - days {
                    raise(*plant, weight);
                }
            }
        }
    }
    weights
        .into_iter()
        .filter(|(plant, _)| *plant != mother && *plant != father)
        .collect()
}
